/* `trivet convert`: what a probe's voltage or resistance means in degC, and back.
 *
 * Purpose: arguments in, one answer out, or a refusal that says what to write instead.
 * Owns:    nothing beyond its own stack; called once, from the command's only thread.
 * Must not: compute physics itself: that is drivers/convert/, by way of
 * include/trivet/convert.h. */
#include "daemon/cli/convert.h"

#include <stdarg.h>
#include <stdbool.h>
#include <stdio.h>
#include <string.h>

#include "trivet/convert.h"
#include "trivet/json_out.h"
#include "trivet/log.h"
#include "trivet/sensor.h"
#include "trivet/typed.h"

#define EXIT_DONE      0
#define EXIT_NO_OUTPUT 1
#define EXIT_REFUSED   2

#define TEMP_DECIMALS       4
#define VOLTAGE_DECIMALS    6
#define RESISTANCE_DECIMALS 4
#define NUMBER_TEXT_SIZE    32

static const char usage[] =
    "usage: trivet convert KIND VALUE [--cold-junction DEGC] [--json]\n"
    "\n"
    "Turns what a probe gives into degrees Celsius, or degrees into what the probe\n"
    "should give. Give the VALUE with its unit; the unit says which way.\n"
    "\n"
    "  trivet convert tc-k 4.096mV                      what my type K probe means\n"
    "  trivet convert tc-k 3.1mV --cold-junction 23.5   terminals at 23.5 degC\n"
    "  trivet convert tc-t -18C                         what it should give at that\n"
    "  trivet convert pt100 109.73ohm\n"
    "  trivet convert ntc-beta:10kohm@25C,3950 32.65kohm\n"
    "\n"
    "KIND\n"
    "  tc-k tc-t tc-j tc-e tc-n   thermocouple of that type\n"
    "  pt100 pt1000               platinum probe\n"
    "  rtd:R0                     platinum probe of another resistance at 0 degC:\n"
    "                             rtd:500ohm\n"
    "  ntc-beta:R@T,BETA          thermistor from its label: ntc-beta:10kohm@25C,3950\n"
    "  ntc-sh:A,B,C               thermistor from its Steinhart-Hart coefficients (R\n"
    "                             in ohm)\n"
    "  ntc-3pt:R@T,R@T,R@T        thermistor from three points of its table:\n"
    "                             ntc-3pt:25kohm@5C,10kohm@25C,4kohm@45C\n"
    "\n"
    "VALUE   a number with a point for decimals, and its unit, nothing between: mV,\n"
    "        uV, V for a thermocouple; ohm, kohm for the others; C for the way back\n"
    "\n"
    "  --cold-junction DEGC   temperature where a thermocouple's wires end, at the\n"
    "                         instrument. Without it they count as being at 0 degC:\n"
    "                         right for an ice bath, or when the instrument has\n"
    "                         compensated already\n"
    "  --json                 one line of JSON instead\n";

struct convert_args {
    const char *kind, *value, *cold; /* borrowed from argv; NULL when not given */
    bool json, help;
};

/* The two sides of one conversion; output is in mV or ohm. */
struct conversion {
    double output, temp_C, cold_C;
    bool gives_temp;
};

TRIVET_PRINTF(1, 2)
static int
refuse(const char *format, ...)
{
    fputs("trivet convert: ", stderr);
    va_list args;
    va_start(args, format);
    vfprintf(stderr, format, args);
    fputs("\n", stderr);
    va_end(args);
    return EXIT_REFUSED;
}

static bool
is_option(const char *arg)
{
    return arg[0] == '-' && arg[1] != '\0' && strchr(".,0123456789", arg[1]) == NULL;
}

static int
take_option(int argc, char **argv, int *at, struct convert_args *args)
{
    static const char cold[] = "--cold-junction";
    const char *arg = argv[*at];
    char shown[48];
    if (strcmp(arg, "--json") == 0) {
        args->json = true;
    } else if (strcmp(arg, "--help") == 0 || strcmp(arg, "-h") == 0) {
        args->help = true;
    } else if (strncmp(arg, "--cold-junction=", sizeof(cold)) == 0) {
        args->cold = arg + sizeof(cold);
    } else if (strcmp(arg, cold) == 0) {
        if (*at + 1 >= argc)
            return refuse(
                "--cold-junction needs a temperature after it, as --cold-junction 23.5");
        args->cold = argv[++*at];
    } else {
        return refuse("no option '%s': there are --cold-junction DEGC, --json and --help",
                      typed_shown(shown, sizeof(shown), arg));
    }
    return EXIT_DONE;
}

static int
parse_args(int argc, char **argv, struct convert_args *ret_args)
{
    struct convert_args args = {0};
    for (int i = 1; i < argc; i++) {
        if (is_option(argv[i])) {
            int code = take_option(argc, argv, &i, &args);
            if (code != EXIT_DONE)
                return code;
        } else if (args.kind == NULL) {
            args.kind = argv[i];
        } else if (args.value == NULL) {
            args.value = argv[i];
        } else {
            char shown[48];
            return refuse(
                "'%s' is one word too many: write the value and its unit together, as 4.096mV",
                typed_shown(shown, sizeof(shown), argv[i]));
        }
    }
    if (!args.help && args.kind == NULL)
        return refuse("which sensor, and what value? As: trivet convert tc-k 4.096mV "
                      "(trivet convert --help lists the sensors)");
    if (!args.help && args.value == NULL)
        return refuse(
            "the value is missing: write it with its unit after the sensor, as 4.096mV, "
            "109.73ohm or 100C");
    *ret_args = args;
    return EXIT_DONE;
}

static const char *
output_unit(const struct sensor *sensor)
{
    return sensor->family == SENSOR_THERMOCOUPLE ? "mV" : "ohm";
}

static int
output_decimals(const struct sensor *sensor)
{
    return sensor->family == SENSOR_THERMOCOUPLE ? VOLTAGE_DECIMALS : RESISTANCE_DECIMALS;
}

static int
parse_value(const struct sensor *sensor, const char *text, struct conversion *conversion)
{
    bool thermocouple = sensor->family == SENSOR_THERMOCOUPLE;
    const char *example = thermocouple ? "4.096mV" : "109.73ohm";
    struct typed typed;
    struct typed_refusal why = {{0}};
    char shown[TYPED_TEXT_MAX + 1];
    typed_shown(shown, sizeof(shown), text);
    if (!typed_parse(text, &typed, &why))
        return refuse("VALUE '%s' %s", shown, why.text);
    if (typed.kind == TYPED_PLAIN)
        return refuse(
            "VALUE '%s' has no unit: write %s%s for the probe's side, or %sC for degrees "
            "Celsius",
            shown, shown, output_unit(sensor), shown);
    conversion->gives_temp = typed.kind != TYPED_TEMP_C;
    if (!conversion->gives_temp)
        conversion->temp_C = typed.value;
    else if (typed.kind == (thermocouple ? TYPED_VOLTAGE_MV : TYPED_RESISTANCE_OHM))
        conversion->output = typed.value;
    else
        return refuse(
            "VALUE '%s' has the wrong unit: a %s gives %s, so write it as %s, or degrees "
            "Celsius as 100C",
            shown, sensor->name, output_unit(sensor), example);
    return EXIT_DONE;
}

static int
parse_cold(const struct sensor *sensor, const char *text, struct conversion *conversion)
{
    conversion->cold_C = 0.0;
    if (text == NULL)
        return EXIT_DONE;
    if (sensor->family != SENSOR_THERMOCOUPLE)
        return refuse(
            "--cold-junction is for thermocouples: leave it out, a %s has no cold junction",
            sensor->name);
    struct typed typed;
    struct typed_refusal why = {{0}};
    char shown[TYPED_TEXT_MAX + 1];
    typed_shown(shown, sizeof(shown), text);
    if (!typed_parse(text, &typed, &why))
        return refuse("--cold-junction '%s' %s", shown, why.text);
    if (typed.kind != TYPED_PLAIN && typed.kind != TYPED_TEMP_C)
        return refuse("--cold-junction '%s' is no temperature: write degrees Celsius, as 23.5",
                      shown);
    conversion->cold_C = typed.value;
    return EXIT_DONE;
}

static enum convert_status
run(const struct sensor *sensor, struct conversion *c)
{
    switch (sensor->family) {
    case SENSOR_THERMOCOUPLE:
        return c->gives_temp
                   ? convert_tc_hot_temp(sensor->tc, c->output, c->cold_C, &c->temp_C)
                   : convert_tc_measured(sensor->tc, c->temp_C, c->cold_C, &c->output);
    case SENSOR_RTD:
        return c->gives_temp ? convert_rtd_temp(sensor->r0_ohm, c->output, &c->temp_C)
                             : convert_rtd_resistance(sensor->r0_ohm, c->temp_C, &c->output);
    case SENSOR_THERMISTOR:
        return c->gives_temp
                   ? convert_thermistor_temp(&sensor->thermistor, c->output, &c->temp_C)
                   : convert_thermistor_resistance(&sensor->thermistor, c->temp_C, &c->output);
    }
    return CONVERT_BAD_SENSOR;
}

static int
refuse_thermistor(enum convert_status status, const struct conversion *c, const char *shown)
{
    bool low = status == CONVERT_TOO_LOW;
    if (!c->gives_temp)
        return refuse(
            "VALUE '%s' is too %s for this thermistor: it is taken within -100 to 300 degC and "
            "1 ohm to 100 Mohm",
            shown, low ? "cold" : "warm");
    return refuse(
        "VALUE '%s' is too %s for this thermistor, which would be outside -100 to 300 degC: "
        "check the unit (ohm or kohm), and the probe for a %s",
        shown, low ? "little" : "much", low ? "short circuit" : "broken wire");
}

/* The range at the terminals, so with the cold junction where it is. */
static bool
terminal_range(const struct sensor *sensor, const struct conversion *c,
               struct convert_range *ret_range)
{
    if (sensor->family != SENSOR_THERMOCOUPLE)
        return convert_rtd_range(sensor->r0_ohm, ret_range) == CONVERT_OK;
    *ret_range = convert_tc_range(sensor->tc);
    double cold_mV;
    if (convert_tc_emf(sensor->tc, c->cold_C, &cold_mV) == CONVERT_OK) {
        ret_range->output_min -= cold_mV;
        ret_range->output_max -= cold_mV;
    }
    return true;
}

static int
refuse_range(const struct sensor *sensor, enum convert_status status,
             const struct conversion *c, const char *shown)
{
    struct convert_range range;
    if (!terminal_range(sensor, c, &range))
        return refuse("a %s is no sensor", sensor->name);
    char min_C[NUMBER_TEXT_SIZE], max_C[NUMBER_TEXT_SIZE];
    char min[NUMBER_TEXT_SIZE], max[NUMBER_TEXT_SIZE];
    typed_fixed(min_C, sizeof(min_C), range.temp_min_C, 0);
    typed_fixed(max_C, sizeof(max_C), range.temp_max_C, 0);
    typed_fixed(min, sizeof(min), range.output_min, 3);
    typed_fixed(max, sizeof(max), range.output_max, 3);
    bool low = status == CONVERT_TOO_LOW;
    if (status == CONVERT_COLD_JUNCTION)
        return refuse("--cold-junction is outside the range of a %s, %s to %s degC: write the "
                      "temperature where its wires end, as 23.5",
                      sensor->name, min_C, max_C);
    if (!c->gives_temp)
        return refuse("VALUE '%s' is too %s for a %s: it is defined from %s to %s degC", shown,
                      low ? "cold" : "warm", sensor->name, min_C, max_C);
    return refuse("VALUE '%s' is too %s for a %s%s: it gives %s to %s %s, at %s to %s degC. "
                  "Check the unit "
                  "and the kind of sensor",
                  shown, low ? "low" : "high", sensor->name,
                  c->cold_C != 0.0 ? " with that cold junction" : "", min, max,
                  output_unit(sensor), min_C, max_C);
}

static const char *const class_names[] = {"AA", "A", "B", "C"};

/* Tolerance of a new wire-wound element, as text; false where its class does not hold. */
static bool
class_tolerance(int class_index, double temp_C, char *buf, size_t size)
{
    enum convert_rtd_class class_name = (enum convert_rtd_class)class_index;
    double tolerance_C;
    if (!convert_rtd_class_holds(class_name, CONVERT_RTD_WIRE, temp_C) ||
        convert_rtd_tolerance(class_name, temp_C, &tolerance_C) != CONVERT_OK)
        return false;
    typed_fixed(buf, size, tolerance_C, 2);
    return true;
}

static void
print_tolerances(double temp_C)
{
    char text[NUMBER_TEXT_SIZE];
    const char *before = "a new wire-wound element may be off by, in degC: ";
    for (int k = 0; k <= CONVERT_RTD_C; k++) {
        if (!class_tolerance(k, temp_C, text, sizeof(text)))
            continue;
        printf("%s%s %s", before, class_names[k], text);
        before = ", ";
    }
    printf("%s", before[0] == ',' ? " (classes of IEC 60751)\n" : "");
}

static void
print_text(const struct sensor *sensor, const struct conversion *c, bool cold_given)
{
    char temp[NUMBER_TEXT_SIZE], output[NUMBER_TEXT_SIZE], cold[NUMBER_TEXT_SIZE];
    typed_fixed(temp, sizeof(temp), c->temp_C, TEMP_DECIMALS);
    typed_fixed(output, sizeof(output), c->output, output_decimals(sensor));
    if (c->gives_temp)
        printf("%s degC\n%s giving %s %s", temp, sensor->name, output, output_unit(sensor));
    else
        printf("%s %s\n%s at %s degC", output, output_unit(sensor), sensor->name, temp);
    if (sensor->family == SENSOR_THERMOCOUPLE)
        printf(", cold junction at %s degC%s",
               typed_fixed(cold, sizeof(cold), c->cold_C, TEMP_DECIMALS),
               cold_given ? "" : " (--cold-junction not given)");
    printf("\n");
    if (sensor->family == SENSOR_RTD)
        print_tolerances(c->temp_C);
}

static void
print_json(const struct sensor *sensor, const struct conversion *c, const char *kind)
{
    char buf[2048], number[NUMBER_TEXT_SIZE];
    bool thermocouple = sensor->family == SENSOR_THERMOCOUPLE;
    const char *output_key = thermocouple ? "measured_mV" : "resistance_ohm";
    struct json_out out;
    out_start(&out, buf, sizeof(buf), false);
    out_object(&out, NULL);
    out_text(&out, "kind", kind);
    out_text(&out, "result", c->gives_temp ? "temp_C" : output_key);
    out_raw(&out, "temp_C", typed_fixed(number, sizeof(number), c->temp_C, TEMP_DECIMALS));
    out_raw(&out, output_key,
            typed_fixed(number, sizeof(number), c->output, output_decimals(sensor)));
    if (thermocouple)
        out_raw(&out, "cold_junction_C",
                typed_fixed(number, sizeof(number), c->cold_C, TEMP_DECIMALS));
    if (sensor->family == SENSOR_RTD) {
        out_object(&out, "wire_tolerance_C");
        for (int k = 0; k <= CONVERT_RTD_C; k++)
            if (class_tolerance(k, c->temp_C, number, sizeof(number)))
                out_raw(&out, class_names[k], number);
        out_object_end(&out);
    }
    out_object_end(&out);
    if (out_done(&out)) /* KIND is at most 200 bytes, so it fits */
        printf("%s\n", buf);
}

static int
finish(void)
{
    if (fflush(stdout) == 0 && !ferror(stdout))
        return EXIT_DONE;
    fputs("trivet convert: the answer could not be written: is the disk full, or the reader of "
          "the pipe "
          "gone?\n",
          stderr);
    return EXIT_NO_OUTPUT;
}

int
cli_convert(int argc, char **argv)
{
    struct convert_args args = {0};
    int code = parse_args(argc, argv, &args);
    if (code != EXIT_DONE)
        return code;
    if (args.help) {
        fputs(usage, stdout);
        return finish();
    }
    struct sensor sensor;
    struct sensor_refusal why = {{0}};
    char shown[TYPED_TEXT_MAX + 1];
    if (!sensor_parse(args.kind, &sensor, &why))
        return refuse("KIND '%s': %s", typed_shown(shown, sizeof(shown), args.kind), why.text);
    struct conversion conversion = {0};
    code = parse_value(&sensor, args.value, &conversion);
    if (code == EXIT_DONE)
        code = parse_cold(&sensor, args.cold, &conversion);
    if (code != EXIT_DONE)
        return code;
    enum convert_status status = run(&sensor, &conversion);
    typed_shown(shown, sizeof(shown), args.value);
    if (status != CONVERT_OK)
        return sensor.family == SENSOR_THERMISTOR
                   ? refuse_thermistor(status, &conversion, shown)
                   : refuse_range(&sensor, status, &conversion, shown);
    if (args.json)
        print_json(&sensor, &conversion, args.kind);
    else
        print_text(&sensor, &conversion, args.cold != NULL);
    return finish();
}
