/* A lesson as it stands on record: whole numbers, in thousandths. See docs/storage.md. */
#include <math.h>
#include <string.h>

#include <jansson.h>

#include "trivet/earlier.h"

static const char *
kind_word(enum forecast_kind kind)
{
    return kind == FORECAST_COOK ? "heating" : "cooling";
}

/* ---- writing ---- */

static void
put(struct json_out *out, const char *key, double value)
{
    if (isfinite(value))
        out_int(out, key, llround(value * 1000));
}

static void
put_all(struct json_out *out, const char *key, const double *value, int count)
{
    out_array(out, key);
    for (int i = 0; i < count; i++) {
        if (isfinite(value[i]))
            out_int(out, NULL, llround(value[i] * 1000));
        else
            out_null(out, NULL);
    }
    out_array_end(out);
}

bool
earlier_lesson_write(const struct earlier_lesson *of, char *buf, size_t size)
{
    struct json_out out;
    const struct lesson *l = &of->lesson;
    out_start(&out, buf, size, true);
    out_object(&out, NULL);
    if (of->has_lesson && isfinite(l->air_until_s)) {
        put_all(&out, "air_mC", l->air_C, LESSON_AIRS);
        put(&out, "air_until_ms", l->air_until_s);
    }
    out_int(&out, "batch", of->batch);
    out_text(&out, "digest", of->digest);
    if (of->has_fit)
        put_all(&out, "fit_milli", of->fit.mean, FORECAST_UNKNOWNS);
    out_text(&out, "kind", kind_word(of->kind));
    if (of->mass_g > 0)
        out_int(&out, "mass_g", of->mass_g);
    out_int(&out, "method", LESSON_METHOD);
    if (of->has_lesson) {
        put(&out, "oven_mC", l->dish.oven_C);
        put_all(&out, "passed_mC", l->passed_C, LESSON_PASSED);
        put_all(&out, "passed_ms", l->passed_s, LESSON_PASSED);
        put(&out, "peak_after_ms", l->peak_s);
        put(&out, "peak_mC", l->peak_C);
    }
    out_text(&out, "product", of->product);
    out_int(&out, "put_in_ms", of->put_in_ms);
    out_int(&out, "readings", (int64_t)of->readings);
    if (of->has_lesson) {
        put(&out, "removed_after_ms", l->removed_s);
        put(&out, "removed_mC", l->removed_C);
    }
    if (of->has_fit)
        put_all(&out, "spread_milli", of->fit.spread, FORECAST_UNKNOWNS);
    if (of->has_lesson)
        put(&out, "start_mC", l->dish.start_C);
    out_text(&out, "step", of->step);
    out_int(&out, "taken_out_ms", of->taken_out_ms);
    if (of->has_lesson)
        put(&out, "target_mC", l->dish.target_C);
    if (of->thickness_mm > 0)
        out_int(&out, "thickness_mm", of->thickness_mm);
    out_int(&out, "until_ms", of->until_ms);
    out_text(&out, "version", TRIVET_VERSION);
    out_object_end(&out);
    return out_done(&out);
}

/* ---- reading ---- */

static double
get(const json_t *data, const char *key)
{
    const json_t *value = json_object_get(data, key);
    return json_is_integer(value) ? (double)json_integer_value(value) / 1000 : (double)NAN;
}

static int64_t
get_int(const json_t *data, const char *key)
{
    return json_integer_value(json_object_get(data, key));
}

/* False when it is not there or of another length. */
static bool
get_all(const json_t *data, const char *key, double *ret, size_t count)
{
    const json_t *list = json_object_get(data, key);
    if (json_array_size(list) != count)
        return false;
    for (size_t i = 0; i < count; i++) {
        const json_t *value = json_array_get(list, i);
        ret[i] =
            json_is_integer(value) ? (double)json_integer_value(value) / 1000 : (double)NAN;
    }
    return true;
}

static bool
get_text(const json_t *data, const char *key, char *ret, size_t size)
{
    const char *text = json_string_value(json_object_get(data, key));
    if (text == NULL || strlen(text) >= size)
        return false;
    memcpy(ret, text, strlen(text) + 1);
    return true;
}

static bool
get_lesson(const json_t *data, struct lesson *ret)
{
    *ret = (struct lesson){
        .dish = {.mass_g = NAN,
                 .thickness_mm = NAN,
                 .start_C = get(data, "start_mC"),
                 .oven_C = get(data, "oven_mC"),
                 .target_C = get(data, "target_mC")},
        .air_until_s = get(data, "air_until_ms"),
        .removed_s = get(data, "removed_after_ms"),
        .removed_C = get(data, "removed_mC"),
        .peak_C = get(data, "peak_mC"),
        .peak_s = get(data, "peak_after_ms"),
    };
    if (!get_all(data, "air_mC", ret->air_C, LESSON_AIRS)) {
        ret->air_until_s = NAN;
        for (int k = 0; k < LESSON_AIRS; k++)
            ret->air_C[k] = NAN;
    }
    return isfinite(ret->dish.start_C) && isfinite(ret->dish.target_C) &&
           get_all(data, "passed_mC", ret->passed_C, LESSON_PASSED) &&
           get_all(data, "passed_ms", ret->passed_s, LESSON_PASSED);
}

static bool
get_fit(const json_t *data, struct forecast_prior *ret)
{
    bool good = get_all(data, "fit_milli", ret->mean, FORECAST_UNKNOWNS) &&
                get_all(data, "spread_milli", ret->spread, FORECAST_UNKNOWNS);
    for (int k = 0; good && k < FORECAST_UNKNOWNS; k++)
        good = isfinite(ret->mean[k]) && ret->spread[k] > 0;
    return good;
}

bool
earlier_lesson_read(const char *data, size_t len, struct earlier_lesson *ret)
{
    json_t *object = json_loadb(data, len, JSON_REJECT_DUPLICATES, NULL);
    char kind[16];
    *ret = (struct earlier_lesson){
        .batch = (uint32_t)get_int(object, "batch"),
        .mass_g = (int32_t)get_int(object, "mass_g"),
        .thickness_mm = (int32_t)get_int(object, "thickness_mm"),
        .put_in_ms = get_int(object, "put_in_ms"),
        .taken_out_ms = get_int(object, "taken_out_ms"),
        .until_ms = get_int(object, "until_ms"),
        .readings = (uint64_t)get_int(object, "readings"),
    };
    bool good = get_int(object, "method") == LESSON_METHOD && ret->batch != 0 &&
                get_text(object, "product", ret->product, sizeof ret->product) &&
                get_text(object, "step", ret->step, sizeof ret->step) &&
                get_text(object, "digest", ret->digest, sizeof ret->digest) &&
                get_text(object, "kind", kind, sizeof kind);
    if (good) {
        ret->kind = strcmp(kind, "cooling") == 0 ? FORECAST_COOLING : FORECAST_COOK;
        ret->has_lesson = ret->kind == FORECAST_COOK && get_lesson(object, &ret->lesson);
        ret->has_fit = get_fit(object, &ret->fit);
    }
    json_decref(object);
    return good;
}
