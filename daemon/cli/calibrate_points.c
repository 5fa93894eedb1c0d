/* See calibrate_points.h. */
#include "daemon/cli/calibrate_points.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "daemon/cli/amount.h"
#include "daemon/cli/boil.h"
#include "trivet/log.h"
#include "trivet/typed.h"
#include "trivet/units.h"

TRIVET_PRINTF(2, 3)
static bool
no(char *reterr, const char *format, ...)
{
    va_list args;
    va_start(args, format);
    (void)vsnprintf(reterr, POINTS_WHY_MAX, format, args); /* cut is still told */
    va_end(args);
    return false;
}

/* ---- boiling water ---- */

/* The pressure is kept in whole pascals, and the reference is what follows from those. */
static bool
set_boiling(double kPa, bool usual, struct check_boiling *ret)
{
    struct boil boil;
    int32_t pressure_Pa = (int32_t)lround(kPa * 1000);
    if (kPa < 30 || kPa > 120 || boil_at(pressure_Pa / 1000.0, &boil) != CONVERT_OK)
        return false;
    ret->pressure_Pa = pressure_Pa;
    ret->usual = usual;
    ret->reference_mC = (int32_t)lround(boil.temp_C * 1000);
    /* Independent of each other: their squares add (ISO/IEC Guide 98-3, 5.1). Rounded up. */
    double weather_mK = usual ? boil.weather_C * 1000 : 0;
    ret->uncertainty_mK = (int32_t)ceil(hypot(POINTS_BOILING_mK, weather_mK));
    return true;
}

void
check_boiling_of_plan(const json_t *now, struct check_boiling *ret)
{
    const json_t *hPa = json_object_get(now, "pressure_hPa"),
                 *m = json_object_get(now, "altitude_m");
    double kPa;
    memset(ret, 0, sizeof *ret);
    if (json_is_integer(hPa) && set_boiling((double)json_integer_value(hPa) / 10, true, ret))
        (void)snprintf(ret->basis, sizeof ret->basis,
                       "usual pressure of the plan, %lld hPa, give or take the weather",
                       (long long)json_integer_value(hPa));
    else if (json_is_integer(m) &&
             convert_air_pressure((double)json_integer_value(m), &kPa) == CONVERT_OK &&
             set_boiling(kPa, true, ret))
        (void)snprintf(ret->basis, sizeof ret->basis,
                       "altitude %lld m, standard atmosphere, give or take the weather",
                       (long long)json_integer_value(m));
}

/* The number of a text whose unit is the one given, or none. */
static bool
number_of(const char *text, enum typed_kind kind, const char *write, double *ret, char *reterr)
{
    struct typed typed;
    struct typed_refusal why = {{0}};
    char shown[60];
    if (!typed_parse(text, &typed, &why))
        return no(reterr, "'%s' %s", typed_shown(shown, sizeof shown, text), why.text);
    if (typed.kind != TYPED_PLAIN && typed.kind != kind)
        return no(reterr, "'%s' has another unit: write it as %s",
                  typed_shown(shown, sizeof shown, text), write);
    *ret = typed.value;
    return true;
}

bool
check_boiling_of_pressure(const char *text, struct check_boiling *ret, char *reterr)
{
    double kPa = 0;
    char hPa[32];
    memset(ret, 0, sizeof *ret);
    if (!number_of(text, TYPED_PRESSURE_KPA, "1008hPa or 100.8kPa", &kPa, reterr))
        return false;
    if (!set_boiling(kPa, false, ret))
        return no(reterr,
                  "no kitchen has such an air pressure: write what a barometer shows, as "
                  "1008hPa or 100.8kPa");
    (void)snprintf(ret->basis, sizeof ret->basis, "barometer in the kitchen, %s hPa",
                   typed_fixed(hPa, sizeof hPa, kPa * 10, 1));
    return true;
}

bool
check_boiling_of_altitude(const char *text, struct check_boiling *ret, char *reterr)
{
    double height_m = 0, kPa;
    char metres[32];
    memset(ret, 0, sizeof *ret);
    if (!number_of(text, TYPED_HEIGHT_M, "650m", &height_m, reterr))
        return false;
    if (convert_air_pressure(height_m, &kPa) != CONVERT_OK || !set_boiling(kPa, true, ret))
        return no(reterr,
                  "no kitchen is at such a height: write metres above sea level, as 650");
    (void)snprintf(ret->basis, sizeof ret->basis,
                   "altitude %s m, standard atmosphere, give or take the weather",
                   typed_fixed(metres, sizeof metres, height_m, 0));
    return true;
}

/* ---- points ---- */

static bool
set_reference(const char *word, size_t len, bool both_used, const struct check_boiling *boiling,
              int32_t reference_mK, struct calibration_point *ret, char *reterr)
{
    char text[40], why[200];
    if (len >= sizeof text)
        return no(reterr, "a point is ice, boiling or what the reference shows, as 63.1C");
    memcpy(text, word, len);
    text[len] = '\0';
    if (strcmp(text, "ice") == 0) {
        *ret = (struct calibration_point){.method = CALIBRATION_ICE,
                                          .uncertainty_mK = POINTS_ICE_mK};
        return true;
    }
    if (strcmp(text, "boiling") == 0) {
        if (boiling->pressure_Pa == 0)
            return no(reterr,
                      "where water boils here is not known: say --pressure-kpa, or write "
                      "calibration: altitude_m into the plan");
        *ret = (struct calibration_point){.method = CALIBRATION_BOILING,
                                          .reference_mC = boiling->reference_mC,
                                          .uncertainty_mK = boiling->uncertainty_mK};
        return true;
    }
    ret->method = CALIBRATION_REFERENCE;
    ret->uncertainty_mK = reference_mK;
    if (!amount_temp(text, both_used, &ret->reference_mC, why, sizeof why))
        return no(reterr, "a point is ice, boiling or what the reference shows: %s", why);
    if (reference_mK == 0)
        return no(reterr, "which reference showed that? Say --reference with its id; the plan "
                          "lists them under references");
    return true;
}

bool
check_points_add(struct check_points *points, const char *word, bool both_used,
                 const struct check_boiling *boiling, int32_t reference_mK, char *reterr)
{
    char why[200];
    struct check_point *next = &points->at[points->count];
    const char *found = strchr(word, '=');
    size_t len = found ? (size_t)(found - word) : strlen(word);
    if (points->count == CALIBRATION_POINTS_MAX)
        return no(reterr, "a check has at most %d points", CALIBRATION_POINTS_MAX);
    memset(next, 0, sizeof *next);
    if (!set_reference(word, len, both_used, boiling, reference_mK, &next->point, reterr))
        return false;
    next->found = found != NULL;
    if (found && !amount_temp(found + 1, both_used, &next->point.found_mC, why, sizeof why))
        return no(reterr, "what it showed, after the =: %s", why);
    points->count++;
    return true;
}

json_t *
check_points_json(const struct check_points *points)
{
    json_t *list = json_array();
    for (size_t i = 0; list != NULL && i < points->count; i++) {
        const struct calibration_point *point = &points->at[i].point;
        json_t *item =
            json_pack("{s:i, s:s, s:i, s:i}", "found_mC", (int)point->found_mC, "method",
                      calibration_method_word(point->method), "reference_mC",
                      (int)point->reference_mC, "uncertainty_mK", (int)point->uncertainty_mK);
        if (json_array_append_new(list, item) != 0) {
            json_decref(list);
            return NULL;
        }
    }
    return list;
}

const char *
check_method_phrase(enum calibration_method method)
{
    return method == CALIBRATION_ICE       ? "in melting ice"
           : method == CALIBRATION_BOILING ? "in boiling water"
                                           : "beside the reference";
}
