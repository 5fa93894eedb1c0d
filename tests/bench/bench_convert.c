/* Speed of the sensor conversions, in conversions a second on one core, by processor time; each
 * from the signal to the temperature has the aim. Beside them a raw loop that only evaluates
 * the published inverse polynomial of type K (0..500 degC): what a conversion good to 0.05 degC
 * would cost on the same machine in the same run.
 *
 *   bench_convert [rounds] [repeats] */
#include <math.h>

#include "tests/bench/bench.h"
#include "trivet/convert.h"
#include "trivet/sensor.h"

#define VALUES 4096
#define AIM    10.0 /* million a second */

static int64_t rounds;
static int repeats;
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
    bench_give_up("%s refused a value of its own range", what);
}

/* The expression in x over all values, many times; its row, and its median in per_s. */
#define MEASURE(what, aim, expression)                                                         \
    do {                                                                                       \
        double speeds[BENCH_REPEATS_MAX], sum = 0.0;                                           \
        for (int repeat = 0; repeat < repeats; repeat++) {                                     \
            const double began_s = now_s();                                                    \
            for (int64_t round = 0; round < rounds; round++)                                   \
                for (int i = 0; i < VALUES; i++) {                                             \
                    double x = values[i];                                                      \
                    sum += (expression);                                                       \
                }                                                                              \
            speeds[repeat] = (double)rounds * VALUES / (now_s() - began_s) / 1e6;              \
        }                                                                                      \
        sink = sum;                                                                            \
        bench_row((what), speeds, repeats, "million/s",                                        \
                  (aim) > 0.0 ? BENCH_LEAST : BENCH_NO_AIM, (aim));                            \
    } while (0)

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

/* Microohms or nV to thousandths of a degree, as a driver asks for it. */
static double
sensor_mC(const struct sensor *sensor, enum signal_unit unit, double micro)
{
    int32_t temp_mC;
    return sensor_temp(sensor, (int64_t)micro, unit, 23500, &temp_mC) == CONVERT_OK
               ? (double)temp_mC
               : fail(sensor->name);
}

static void
bench_thermocouples(void)
{
    static const char *const names = "KTJEN";
    char what[80];
    for (int k = 0; k < CONVERT_TC_COUNT; k++) {
        enum convert_tc type = (enum convert_tc)k;
        struct convert_range range = convert_tc_range(type);
        const struct {
            const char *where;
            double min_C, max_C;
        } parts[] = {
            {"-50 to 300 °C", -50.0, 300.0},
            {"-200 °C to its top", fmax(-200.0, range.temp_min_C), range.temp_max_C},
            {"below -200 °C", range.temp_min_C, -200.0},
        };
        for (size_t part = 0; part < sizeof(parts) / sizeof(parts[0]); part++) {
            spread(tc_emf(type, parts[part].min_C), tc_emf(type, parts[part].max_C));
            (void)snprintf(what, sizeof(what), "conversion, type %c to °C, %s", names[k],
                           parts[part].where);
            MEASURE(what, AIM, tc_temp(type, x));
        }
        spread(-50.0, 300.0);
        (void)snprintf(what, sizeof(what), "conversion, type %c to mV", names[k]);
        MEASURE(what, 0.0, tc_emf(type, x));
    }
}

static void
bench_sensors(void)
{
    struct sensor sensor;
    struct sensor_refusal why = {{0}};
    if (!sensor_parse("tc-k", &sensor, &why))
        bench_give_up("%s", why.text);
    spread(-2e6, 12e6);
    MEASURE("conversion, type K with its cold junction, as a driver asks", AIM,
            sensor_mC(&sensor, SIGNAL_MV, x));
    if (!sensor_parse("pt100", &sensor, &why))
        bench_give_up("%s", why.text);
    spread(80e6, 212e6);
    MEASURE("conversion, Pt100, as a driver asks", AIM, sensor_mC(&sensor, SIGNAL_OHM, x));
}

int
main(int argc, char **argv)
{
    struct convert_thermistor th;
    rounds = bench_argument(argc, argv, 1, 200);
    repeats = (int)bench_argument(argc, argv, 2, 5);
    if (repeats > BENCH_REPEATS_MAX)
        bench_give_up("at most %d repeats", BENCH_REPEATS_MAX);
    spread(0.0, 20.644);
    MEASURE("bare inverse polynomial of type K, good to 0.05 °C", 0.0, inverse_polynomial(x));
    bench_thermocouples();
    bench_sensors();

    spread(18.6, 99.9);
    MEASURE("conversion, Pt100 to °C, below 0", AIM, rtd_temp(x));
    spread(100.0, 390.0);
    MEASURE("conversion, Pt100 to °C, 0 and up", AIM, rtd_temp(x));

    if (convert_thermistor_by_coefficients(1.129148e-3, 2.34125e-4, 8.76741e-8, &th) !=
        CONVERT_OK)
        (void)fail("thermistor");
    spread(500.0, 300000.0);
    MEASURE("conversion, thermistor to °C", AIM, ntc_temp(&th, x));
    spread(-40.0, 150.0);
    MEASURE("conversion, thermistor to ohm", 0.0, ntc_ohm(&th, x));

    spread(60.0, 105.0);
    MEASURE("conversion, boiling point from pressure", 0.0, boiling(x));
    return 0;
}
