/* Speed of the sensor conversions, in conversions a second on one core, and as a ratio against
 * a raw loop that only evaluates the published inverse polynomial of type K (0..500 degC): what
 * a conversion good to 0.05 degC would cost on the same machine in the same run. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <time.h>

#include "trivet/convert.h"

#define VALUES 4096
#define ROUNDS 400

static double values[VALUES];
static volatile double sink;

/* Type K, 0 to 20.644 mV. NIST SRD 60. */
static double
inverse_polynomial(double emf_mV)
{
    static const double d[10] = {0.0,         2.508355e1,   7.860106e-2, -2.503131e-1,
                                 8.315270e-2, -1.228034e-2, 9.804036e-4, -4.413030e-5,
                                 1.057734e-6, -1.052755e-8};
    double temp_C = 0.0;
    for (int i = 9; i >= 0; i--)
        temp_C = temp_C * emf_mV + d[i];
    return temp_C;
}

static double
now_s(void)
{
    struct timespec now;
    clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &now); /* what else runs is no matter */
    return (double)now.tv_sec + 1e-9 * (double)now.tv_nsec;
}

/* In no order, so that branches are not learnt from a ramp. */
static void
spread(double min, double max)
{
    unsigned seed = 1;
    for (int i = 0; i < VALUES; i++) {
        seed = seed * 1664525u + 1013904223u;
        values[i] = min + (max - min) * (double)(seed >> 8) / 16777216.0;
    }
}

static double
fail(const char *what)
{
    fprintf(stderr, "bench_convert: %s refused a value of its own range\n", what);
    exit(1);
}

#define MEASURE(expression)                                                                    \
    do {                                                                                       \
        double sum = 0.0, began_s = now_s();                                                   \
        for (int round = 0; round < ROUNDS; round++)                                           \
            for (int i = 0; i < VALUES; i++) {                                                 \
                double x = values[i];                                                          \
                sum += (expression);                                                           \
            }                                                                                  \
        sink = sum;                                                                            \
        per_s = (double)ROUNDS * VALUES / (now_s() - began_s);                                 \
    } while (0)

static void
show(const char *what, double per_s, double raw_per_s)
{
    printf("%-34s %7.1f million/s   %5.2f x the time of the polynomial\n", what, per_s / 1e6,
           raw_per_s / per_s);
}

static double
tc_emf(enum convert_tc type, double temp_C)
{
    double emf_mV;
    return convert_tc_emf(type, temp_C, &emf_mV) == CONVERT_OK ? emf_mV : fail("thermocouple");
}

static double
tc_temp(enum convert_tc type, double emf_mV)
{
    double temp_C;
    return convert_tc_temp(type, emf_mV, &temp_C) == CONVERT_OK ? temp_C : fail("thermocouple");
}

static double
rtd_temp(double ohm)
{
    double temp_C;
    return convert_rtd_temp(100.0, ohm, &temp_C) == CONVERT_OK ? temp_C : fail("Pt100");
}

static double
ntc_temp(const struct convert_thermistor *th, double ohm)
{
    double temp_C;
    return convert_thermistor_temp(th, ohm, &temp_C) == CONVERT_OK ? temp_C
                                                                   : fail("thermistor");
}

static double
ntc_ohm(const struct convert_thermistor *th, double temp_C)
{
    double ohm;
    return convert_thermistor_resistance(th, temp_C, &ohm) == CONVERT_OK ? ohm
                                                                         : fail("thermistor");
}

static double
boiling(double kPa)
{
    double temp_C;
    return convert_boiling_temp(kPa, &temp_C) == CONVERT_OK ? temp_C : fail("water");
}

static void
bench_thermocouples(double raw_per_s)
{
    static const char *const names = "KTJEN";
    double per_s;
    char what[64];
    for (int k = 0; k < CONVERT_TC_COUNT; k++) {
        enum convert_tc type = (enum convert_tc)k;
        struct convert_range range = convert_tc_range(type);
        double cold_C = fmax(-200.0, range.temp_min_C);
        const struct {
            const char *where;
            double min_C, max_C;
        } parts[] = {
            {"kitchen, -50..300", -50.0, 300.0},
            {"-200 and up", cold_C, range.temp_max_C},
            {"deep cold", range.temp_min_C, -200.0},
        };
        for (size_t part = 0; part < sizeof(parts) / sizeof(parts[0]); part++) {
            spread(tc_emf(type, parts[part].min_C), tc_emf(type, parts[part].max_C));
            MEASURE(tc_temp(type, x));
            snprintf(what, sizeof(what), "type %c to degC, %s", names[k], parts[part].where);
            show(what, per_s, raw_per_s);
        }
        spread(-50.0, 300.0);
        MEASURE(tc_emf(type, x));
        snprintf(what, sizeof(what), "type %c to mV", names[k]);
        show(what, per_s, raw_per_s);
    }
}

int
main(void)
{
    double per_s, raw_per_s;
    spread(0.0, 20.644);
    MEASURE(inverse_polynomial(x)); /* once to warm up */
    MEASURE(inverse_polynomial(x));
    raw_per_s = per_s;
    show("raw inverse polynomial, type K", raw_per_s, raw_per_s);
    bench_thermocouples(raw_per_s);

    spread(18.6, 99.9);
    MEASURE(rtd_temp(x));
    show("Pt100 to degC, below 0", per_s, raw_per_s);
    spread(100.0, 390.0);
    MEASURE(rtd_temp(x));
    show("Pt100 to degC, 0 and up", per_s, raw_per_s);

    struct convert_thermistor th;
    if (convert_thermistor_by_coefficients(1.129148e-3, 2.34125e-4, 8.76741e-8, &th) !=
        CONVERT_OK)
        fail("thermistor");
    spread(500.0, 300000.0);
    MEASURE(ntc_temp(&th, x));
    show("thermistor to degC", per_s, raw_per_s);
    spread(-40.0, 150.0);
    MEASURE(ntc_ohm(&th, x));
    show("thermistor to ohm", per_s, raw_per_s);

    spread(60.0, 105.0);
    MEASURE(boiling(x));
    show("boiling point from pressure", per_s, raw_per_s);
    return 0;
}
