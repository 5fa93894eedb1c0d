/* Reads the KIND of `trivet convert`.
 *
 * Purpose: sensor names and thermistor specifications, with a refusal that says which part is
 * wrong. Owns:    nothing; pure functions, any thread. Must not: do I/O. */
#include "trivet/sensor.h"

#include <stdarg.h>
#include <stdio.h>
#include <string.h>
#include <strings.h>

#include "trivet/typed.h"

#define SPEC_MAX 200
#define PARTS    3

/* The command's own limits: what is sold as a nominal resistance, generously. */
#define R0_MIN_OHM 1.0
#define R0_MAX_OHM 1e6

TRIVET_PRINTF(2, 3)
static bool
refuse(struct sensor_refusal *reterr_why, const char *format, ...)
{
    va_list args;
    va_start(args, format);
    (void)vsnprintf(reterr_why->text, sizeof(reterr_why->text), format,
                    args); /* a hint may be cut */
    va_end(args);
    return false;
}

/* Reads one part of a specification, which has to be a number of one of two kinds of unit. */
static bool
part_parse(const char *what, const char *example, const char *text, enum typed_kind kind,
           enum typed_kind or_kind, double *ret_value, struct sensor_refusal *reterr_why)
{
    struct typed typed;
    struct typed_refusal why = {{0}};
    char shown[64];
    typed_shown(shown, sizeof(shown), text);
    if (!typed_parse(text, &typed, &why))
        return refuse(reterr_why, "%s '%s' %s", what, shown, why.text);
    if (typed.kind != kind && typed.kind != or_kind)
        return refuse(reterr_why, "%s '%s' has %s: write it as %s", what, shown,
                      typed.kind == TYPED_PLAIN ? "no unit" : "the wrong unit", example);
    *ret_value = typed.value;
    return true;
}

/* Splits text at commas in place. False unless there are exactly wanted parts. */
static bool
split(char *text, size_t wanted, char *ret_parts[PARTS], size_t *ret_count)
{
    size_t count = 0;
    for (char *at = text; at != NULL; count++) {
        char *comma = strchr(at, ',');
        if (count < wanted)
            ret_parts[count] = at;
        if (comma != NULL)
            *comma++ = '\0';
        at = comma;
    }
    *ret_count = count;
    return count == wanted;
}

static bool
point_parse(char *text, struct convert_point *ret_point, struct sensor_refusal *reterr_why)
{
    char shown[64];
    typed_shown(shown, sizeof(shown), text);
    char *at = strchr(text, '@');
    if (at == NULL)
        return refuse(reterr_why,
                      "'%s' is not a point of the thermistor: write resistance@temperature, as "
                      "10kohm@25C",
                      shown);
    *at = '\0';
    struct convert_point point = {0};
    if (!part_parse("resistance", "10kohm", text, TYPED_RESISTANCE_OHM, TYPED_RESISTANCE_OHM,
                    &point.resistance_ohm, reterr_why) ||
        !part_parse("temperature", "25C", at + 1, TYPED_TEMP_C, TYPED_TEMP_C, &point.temp_C,
                    reterr_why))
        return false;
    *ret_point = point;
    return true;
}

static bool
refuse_count(size_t found, const char *form, struct sensor_refusal *reterr_why)
{
    return refuse(
        reterr_why,
        "after the colon there are %zu parts between commas: write %s (inside a number "
        "write a point, not a comma)",
        found, form);
}

static bool
rtd_parse(char *spec, struct sensor *ret_sensor, struct sensor_refusal *reterr_why)
{
    struct sensor sensor = {.family = SENSOR_RTD};
    char shown[64];
    typed_shown(shown, sizeof(shown), spec);
    if (!part_parse("nominal resistance", "rtd:100ohm", spec, TYPED_RESISTANCE_OHM,
                    TYPED_RESISTANCE_OHM, &sensor.r0_ohm, reterr_why))
        return false;
    if (!(sensor.r0_ohm >= R0_MIN_OHM && sensor.r0_ohm <= R0_MAX_OHM))
        return refuse(
            reterr_why,
            "nominal resistance '%s' is not one of a probe: write the resistance at 0 "
            "degC, 1 ohm to 1 Mohm, as rtd:100ohm",
            shown);
    char ohm[32];
    (void)snprintf(sensor.name, sizeof(sensor.name), "platinum RTD of %s ohm",
                   typed_fixed(ohm, sizeof(ohm), sensor.r0_ohm, 2));
    *ret_sensor = sensor;
    return true;
}

static bool
ntc_beta_parse(char *spec, struct sensor *ret_sensor, struct sensor_refusal *reterr_why)
{
    struct sensor sensor = {.family = SENSOR_THERMISTOR, .name = "thermistor by beta"};
    char *parts[PARTS];
    size_t count;
    if (!split(spec, 2, parts, &count))
        return refuse_count(count, "ntc-beta:R@T,BETA, as ntc-beta:10kohm@25C,3950",
                            reterr_why);
    struct convert_point nominal = {0};
    double beta_K = 0.0;
    if (!point_parse(parts[0], &nominal, reterr_why) ||
        !part_parse("beta", "3950", parts[1], TYPED_PLAIN, TYPED_TEMP_K, &beta_K, reterr_why))
        return false;
    if (convert_thermistor_by_beta(nominal, beta_K, &sensor.thermistor) != CONVERT_OK)
        return refuse(reterr_why,
                      "these numbers describe no NTC thermistor: write a resistance of 1 ohm "
                      "to 100 Mohm at -100 to 300 degC, and a beta above zero, usually "
                      "2000 to 5000");
    *ret_sensor = sensor;
    return true;
}

static bool
ntc_sh_parse(char *spec, struct sensor *ret_sensor, struct sensor_refusal *reterr_why)
{
    static const char *const names[PARTS] = {"coefficient A", "coefficient B", "coefficient C"};
    struct sensor sensor = {.family = SENSOR_THERMISTOR,
                            .name = "thermistor by Steinhart-Hart"};
    char *parts[PARTS];
    size_t count;
    double c[PARTS] = {0.0};
    if (!split(spec, PARTS, parts, &count))
        return refuse_count(count, "ntc-sh:A,B,C, as ntc-sh:1.129148e-3,2.34125e-4,8.76741e-8",
                            reterr_why);
    for (size_t i = 0; i < PARTS; i++)
        if (!part_parse(names[i], "a bare number, as 2.34125e-4", parts[i], TYPED_PLAIN,
                        TYPED_PLAIN, &c[i], reterr_why))
            return false;
    if (convert_thermistor_by_coefficients(c[0], c[1], c[2], &sensor.thermistor) != CONVERT_OK)
        return refuse(
            reterr_why,
            "these coefficients describe no NTC thermistor, whose resistance falls as it gets "
            "warmer, all the way from 100 Mohm to 1 ohm: write A,B,C of 1/T = A + B ln R + C "
            "(ln R)^3, R in ohm, in that order, and check their exponents");
    *ret_sensor = sensor;
    return true;
}

static bool
ntc_3pt_parse(char *spec, struct sensor *ret_sensor, struct sensor_refusal *reterr_why)
{
    struct sensor sensor = {.family = SENSOR_THERMISTOR, .name = "thermistor by three points"};
    char *parts[PARTS];
    size_t count;
    struct convert_point points[PARTS] = {{0}};
    if (!split(spec, PARTS, parts, &count))
        return refuse_count(count,
                            "ntc-3pt:R@T,R@T,R@T, as ntc-3pt:25kohm@5C,10kohm@25C,4kohm@45C",
                            reterr_why);
    for (size_t i = 0; i < PARTS; i++)
        if (!point_parse(parts[i], &points[i], reterr_why))
            return false;
    if (convert_thermistor_by_points(points, &sensor.thermistor) != CONVERT_OK)
        return refuse(
            reterr_why,
            "no thermistor curve goes through these three points: write them at three "
            "different temperatures within -100 to 300 degC, the resistance falling as it gets "
            "warmer");
    *ret_sensor = sensor;
    return true;
}

static bool
refuse_unknown(struct sensor_refusal *reterr_why)
{
    return refuse(
        reterr_why,
        "no sensor of that name: write tc-k, tc-t, tc-j, tc-e or tc-n (thermocouples), pt100, "
        "pt1000 or rtd:100ohm (platinum), or a thermistor as ntc-beta:10kohm@25C,3950 or "
        "ntc-sh:A,B,C or ntc-3pt:R@T,R@T,R@T");
}

static bool
fixed_name_parse(const char *kind, struct sensor *ret_sensor)
{
    static const struct {
        const char *kind;
        struct sensor sensor;
    } fixed[] = {
        {"tc-k", {SENSOR_THERMOCOUPLE, .tc = CONVERT_TC_K, .name = "type K thermocouple"}},
        {"tc-t", {SENSOR_THERMOCOUPLE, .tc = CONVERT_TC_T, .name = "type T thermocouple"}},
        {"tc-j", {SENSOR_THERMOCOUPLE, .tc = CONVERT_TC_J, .name = "type J thermocouple"}},
        {"tc-e", {SENSOR_THERMOCOUPLE, .tc = CONVERT_TC_E, .name = "type E thermocouple"}},
        {"tc-n", {SENSOR_THERMOCOUPLE, .tc = CONVERT_TC_N, .name = "type N thermocouple"}},
        {"pt100", {SENSOR_RTD, .r0_ohm = 100.0, .name = "Pt100"}},
        {"pt1000", {SENSOR_RTD, .r0_ohm = 1000.0, .name = "Pt1000"}},
    };
    for (size_t i = 0; i < sizeof(fixed) / sizeof(fixed[0]); i++)
        if (strcasecmp(fixed[i].kind, kind) == 0) {
            *ret_sensor = fixed[i].sensor;
            return true;
        }
    return false;
}

bool
sensor_parse(const char *kind, struct sensor *ret_sensor, struct sensor_refusal *reterr_why)
{
    static const struct {
        const char *prefix;
        bool (*parse)(char *, struct sensor *, struct sensor_refusal *);
    } families[] = {
        {"rtd:", rtd_parse},
        {"ntc-beta:", ntc_beta_parse},
        {"ntc-sh:", ntc_sh_parse},
        {"ntc-3pt:", ntc_3pt_parse},
    };
    if (strlen(kind) > SPEC_MAX)
        return refuse(reterr_why, "too long for a sensor: at most %d characters", SPEC_MAX);
    if (fixed_name_parse(kind, ret_sensor))
        return true;
    for (size_t i = 0; i < sizeof(families) / sizeof(families[0]); i++) {
        size_t len = strlen(families[i].prefix);
        if (strncasecmp(kind, families[i].prefix, len) != 0)
            continue;
        char spec[SPEC_MAX + 1];
        (void)snprintf(spec, sizeof(spec), "%s", kind + len); /* its length was checked */
        return families[i].parse(spec, ret_sensor, reterr_why);
    }
    return refuse_unknown(reterr_why);
}
