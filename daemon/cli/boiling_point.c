/* `trivet boiling-point`: the temperature a thermometer should show in boiling water, here and
 * today.
 *
 * Purpose: the reference of a boiling-point check, from the pressure or, less surely, from the
 * height. Owns:    nothing beyond its own stack; called once, from the command's only thread.
 * Must not: compute physics itself: that is drivers/convert/, by way of
 * include/trivet/convert.h. */
#include <stdarg.h>
#include <stdbool.h>
#include <stdio.h>
#include <string.h>

#include "daemon/cli/boil.h"
#include "daemon/cli/convert.h"
#include "trivet/convert.h"
#include "trivet/json_out.h"
#include "trivet/log.h"
#include "trivet/typed.h"

#define EXIT_DONE      0
#define EXIT_NO_OUTPUT 1
#define EXIT_REFUSED   2

#define DECIMALS         4
#define NUMBER_TEXT_SIZE 32

/* Weather and inhabited heights together stay within this. Common practice, no source; beyond
 * it the answer is still right, but a mistyped unit is likelier than a pressure cooker. */
#define WEATHER_MIN_KPA 50.0
#define WEATHER_MAX_KPA 110.0

static const char usage[] =
    "usage: trivet boiling-point --pressure-kpa N | --altitude-m N  [--json]\n"
    "\n"
    "The temperature of boiling water: what a good thermometer shows in a rolling\n"
    "boil.\n"
    "\n"
    "  trivet boiling-point --pressure-kpa 101.3   from a barometer in the kitchen:\n"
    "                                              the better way\n"
    "  trivet boiling-point --pressure-kpa 1013hPa the same, as most of them show it\n"
    "  trivet boiling-point --altitude-m 650       from the height above sea level\n"
    "                                              alone\n"
    "\n"
    "Use the pressure at the kitchen itself. The figure of a weather report is\n"
    "usually reduced to sea level, and wrong for a kitchen on a hill. From the height\n"
    "alone the answer can be off by nearly a degree, because the weather moves the\n"
    "pressure by about 3 kPa either way.\n"
    "\n"
    "  --json   one line of JSON instead\n";

struct boiling_args {
    const char *pressure, *height; /* borrowed from argv; NULL when not given */
    bool json, help;
};

struct boiling {
    double height_m, pressure_kPa, temp_C, weather_C;
    bool by_height;
};

TRIVET_PRINTF(1, 2)
static int
refuse(const char *format, ...)
{
    fputs("trivet boiling-point: ", stderr);
    va_list args;
    va_start(args, format);
    vfprintf(stderr, format, args);
    fputs("\n", stderr);
    va_end(args);
    return EXIT_REFUSED;
}

/* True when argv[*at] is "name VALUE" or "name=VALUE"; the value is NULL when it is missing.
 * Steps over a value of its own word. */
static bool
takes_option(int argc, char **argv, int *at, const char *name, const char **ret_value)
{
    size_t len = strlen(name);
    const char *word = argv[*at];
    if (strncmp(word, name, len) != 0 || (word[len] != '\0' && word[len] != '='))
        return false;
    if (word[len] == '=')
        *ret_value = word + len + 1;
    else
        *ret_value = *at + 1 < argc ? argv[++*at] : NULL;
    return true;
}

static int
take_word(int argc, char **argv, int *at, struct boiling_args *args)
{
    const char *value, *option = argv[*at];
    const char **slot;
    char shown[48];
    if (takes_option(argc, argv, at, "--pressure-kpa", &value))
        slot = &args->pressure;
    else if (takes_option(argc, argv, at, "--altitude-m", &value))
        slot = &args->height;
    else
        return refuse("'%s' is not understood: write --pressure-kpa N or --altitude-m N, as "
                      "--pressure-kpa 101.3",
                      typed_shown(shown, sizeof(shown), option));
    if (value == NULL)
        return refuse("%s needs a number after it", option);
    if (*slot != NULL)
        return refuse("'%s' comes twice: write it once",
                      typed_shown(shown, sizeof(shown), option));
    *slot = value;
    return EXIT_DONE;
}

static int
parse_args(int argc, char **argv, struct boiling_args *ret_args)
{
    struct boiling_args args = {0};
    int code = EXIT_DONE;
    for (int i = 1; i < argc && code == EXIT_DONE; i++) {
        if (strcmp(argv[i], "--json") == 0)
            args.json = true;
        else if (strcmp(argv[i], "--help") == 0 || strcmp(argv[i], "-h") == 0)
            args.help = true;
        else
            code = take_word(argc, argv, &i, &args);
    }
    if (code != EXIT_DONE)
        return code;
    if (!args.help && (args.pressure == NULL) == (args.height == NULL))
        return refuse(
            "give %s: the pressure, as --pressure-kpa 101.3, or the height above sea level, as "
            "--altitude-m 650",
            args.pressure == NULL ? "one of the two" : "only one of the two");
    *ret_args = args;
    return EXIT_DONE;
}

static int
parse_number(const char *option, const char *text, enum typed_kind kind, const char *example,
             double *ret_value)
{
    struct typed typed;
    struct typed_refusal why = {{0}};
    char shown[TYPED_TEXT_MAX + 1];
    typed_shown(shown, sizeof(shown), text);
    if (!typed_parse(text, &typed, &why))
        return refuse("%s '%s' %s", option, shown, why.text);
    if (typed.kind != TYPED_PLAIN && typed.kind != kind)
        return refuse("%s '%s' has the wrong unit: write %s", option, shown, example);
    *ret_value = typed.value;
    return EXIT_DONE;
}

static int
from_height(const char *text, struct boiling *b)
{
    int code =
        parse_number("--altitude-m", text, TYPED_HEIGHT_M, "metres, as 650", &b->height_m);
    if (code != EXIT_DONE)
        return code;
    b->by_height = true;
    enum convert_status status = convert_air_pressure(b->height_m, &b->pressure_kPa);
    char shown[TYPED_TEXT_MAX + 1];
    if (status != CONVERT_OK)
        return refuse(
            "--altitude-m '%s' is too %s: the standard atmosphere is taken from about -4996 to "
            "11019 m; write the height above sea level in metres",
            typed_shown(shown, sizeof(shown), text),
            status == CONVERT_TOO_LOW ? "low" : "high");
    return EXIT_DONE;
}

static int
boil(const char *pressure_text, struct boiling *b)
{
    enum convert_status status = convert_boiling_temp(b->pressure_kPa, &b->temp_C);
    char shown[TYPED_TEXT_MAX + 1];
    if (status != CONVERT_OK)
        return refuse(
            "--pressure-kpa '%s' is too %s for boiling water: 0.611213 to 22064 kPa; in a "
            "kitchen at sea level it is about 101.3",
            typed_shown(shown, sizeof(shown), pressure_text == NULL ? "" : pressure_text),
            status == CONVERT_TOO_LOW ? "low" : "high");
    struct boil by_weather;
    if (!b->by_height)
        return EXIT_DONE;
    if (boil_at(b->pressure_kPa, &by_weather) != CONVERT_OK)
        return refuse("at that height there is too little air to allow for the weather");
    b->weather_C = by_weather.weather_C;
    return EXIT_DONE;
}

static void
print_text(const struct boiling *b)
{
    char temp[NUMBER_TEXT_SIZE], kPa[NUMBER_TEXT_SIZE], text[NUMBER_TEXT_SIZE];
    typed_fixed(temp, sizeof(temp), b->temp_C, DECIMALS);
    typed_fixed(kPa, sizeof(kPa), b->pressure_kPa, DECIMALS);
    printf("%s degC\n", temp);
    if (b->by_height) {
        printf("boiling point of water at %s m in the standard atmosphere, %s kPa\n",
               typed_fixed(text, sizeof(text), b->height_m, 1), kPa);
        printf("From the height alone this is less certain: weather moves the pressure by "
               "about 3 kPa, and "
               "that moves it by about %s degC either way. Read a barometer and use "
               "--pressure-kpa to do "
               "better.\n",
               typed_fixed(text, sizeof(text), b->weather_C, 1));
        return;
    }
    printf("boiling point of water at %s kPa\n", kPa);
    if (b->pressure_kPa >= WEATHER_MIN_KPA && b->pressure_kPa <= WEATHER_MAX_KPA)
        printf("Use the pressure at the kitchen itself, not a weather report's reduced to sea "
               "level.\n");
    else
        printf("No weather gives such a pressure: if this is not a closed vessel, check the "
               "unit. A "
               "barometer that shows 1013 shows hPa: write 1013hPa.\n");
}

static void
print_json(const struct boiling *b)
{
    char buf[512], number[NUMBER_TEXT_SIZE];
    struct json_out out;
    out_start(&out, buf, sizeof(buf), false);
    out_object(&out, NULL);
    if (b->by_height)
        out_raw(&out, "altitude_m", typed_fixed(number, sizeof(number), b->height_m, DECIMALS));
    out_raw(&out, "pressure_kPa",
            typed_fixed(number, sizeof(number), b->pressure_kPa, DECIMALS));
    out_raw(&out, "boiling_C", typed_fixed(number, sizeof(number), b->temp_C, DECIMALS));
    if (b->by_height) {
        out_raw(&out, "weather_kPa", typed_fixed(number, sizeof(number), BOIL_WEATHER_KPA, 1));
        out_raw(&out, "weather_C", typed_fixed(number, sizeof(number), b->weather_C, 2));
    }
    out_object_end(&out);
    if (out_done(&out)) /* five numbers fit */
        printf("%s\n", buf);
}

static int
finish(void)
{
    if (fflush(stdout) == 0 && !ferror(stdout))
        return EXIT_DONE;
    fputs("trivet boiling-point: the answer could not be written: is the disk full, or the "
          "reader of the "
          "pipe gone?\n",
          stderr);
    return EXIT_NO_OUTPUT;
}

int
cli_boiling_point(int argc, char **argv)
{
    struct boiling_args args = {0};
    int code = parse_args(argc, argv, &args);
    if (code != EXIT_DONE)
        return code;
    if (args.help) {
        fputs(usage, stdout);
        return finish();
    }
    struct boiling boiling = {0};
    if (args.height != NULL)
        code = from_height(args.height, &boiling);
    else
        code = parse_number("--pressure-kpa", args.pressure, TYPED_PRESSURE_KPA,
                            "kPa, as 101.3, or hPa with its unit, as 1013hPa",
                            &boiling.pressure_kPa);
    if (code == EXIT_DONE)
        code = boil(args.pressure, &boiling);
    if (code != EXIT_DONE)
        return code;
    if (args.json)
        print_json(&boiling);
    else
        print_text(&boiling);
    return finish();
}
