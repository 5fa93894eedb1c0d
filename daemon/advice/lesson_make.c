/* What an earlier batch teaches: read from its record, or made from its readings. See
 * trivet/earlier.h. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "daemon/advice/earlier_curve.h"

bool
earlier_teaches(const struct earlier_batch *batch)
{
    return batch->done_ms != TIME_NONE && !batch->doubted;
}

/* ---- from its record ---- */

struct found {
    struct earlier_lesson *ret;
    bool good;
};

static bool
see_lesson(void *arg, const struct store_record *record)
{
    struct found *found = arg;
    found->good = earlier_lesson_read(record->data, record->data_len, found->ret);
    return false;
}

/* ---- from its readings ---- */

static int
compare(const void *a, const void *b)
{
    double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

/* What the oven was at, as its air probe told once it was hot: the median of the last air spans
 * of the lesson. */
static double
hot_air_C(const struct lesson *lesson)
{
    double sorted[LESSON_AIRS];
    size_t count = 0;
    for (int k = LESSON_AIRS / 4; k < LESSON_AIRS; k++)
        if (!isnan(lesson->air_C[k]))
            sorted[count++] = lesson->air_C[k];
    if (isnan(lesson->air_until_s) || count == 0)
        return NAN;
    qsort(sorted, count, sizeof *sorted, compare);
    return sorted[count / 2];
}

static struct forecast_reading
reading_at(const struct earlier_curve *curve, size_t bin)
{
    return (struct forecast_reading){(double)(bin * EARLIER_BIN_S), curve->core_C[bin],
                                     curve->air_C[bin],
                                     bin == curve->out ? FORECAST_REMOVED : FORECAST_NO_EVENT};
}

static bool
take_lesson(const struct earlier_batch *batch, const struct earlier_curve *curve,
            struct lesson *ret)
{
    struct lesson_taker *taker = malloc(sizeof *taker);
    struct dish dish = {.mass_g = batch->mass_g > 0 ? (double)batch->mass_g : (double)NAN,
                        .thickness_mm =
                            batch->thickness_mm > 0 ? (double)batch->thickness_mm : (double)NAN,
                        .start_C = NAN,
                        .oven_C = NAN,
                        .target_C = earlier_C(batch->limit)};
    if (taker == NULL)
        return false;
    lesson_begin(taker, &dish, 0);
    for (size_t i = 0; i < curve->count; i++) {
        struct forecast_reading reading = reading_at(curve, i);
        lesson_feed(taker, &reading);
    }
    bool taken = lesson_taken(taker, ret);
    free(taker);
    if (taken)
        ret->dish.oven_C = hot_air_C(ret);
    return taken;
}

static void
set_up(const struct earlier *of, const struct earlier_batch *batch, struct forecast_setup *ret)
{
    *ret = (struct forecast_setup){
        .kind = of->kind, .clock_from_C = NAN, .oven_C = NAN, .room_C = NAN};
    if (of->kind == FORECAST_COOK) {
        ret->limit[ret->limits++].temp_C = earlier_C(batch->limit);
        return;
    }
    if (batch->clock == COOL_CLOCK_FALL)
        ret->clock_from_C = earlier_C(batch->from);
    for (uint8_t i = 0; i < batch->stage_count && ret->limits < FORECAST_LIMITS; i++)
        ret->limit[ret->limits++].temp_C = earlier_C(batch->stages[i].to);
}

/* The forecaster's own way from the first reading to the last, with nothing known before. */
static bool
take_fit(const struct earlier *of, const struct earlier_batch *batch,
         const struct earlier_curve *curve, struct forecast_prior *ret)
{
    struct forecast_setup setup;
    const char *reason;
    struct forecaster *forecaster = malloc(sizeof *forecaster);
    set_up(of, batch, &setup);
    bool good = forecaster != NULL && forecaster_init(forecaster, &setup, &reason);
    for (size_t i = 0; good && i < curve->out && i < curve->count; i++) {
        struct forecast_reading reading = reading_at(curve, i);
        (void)forecaster_feed(forecaster, &reading);
    }
    good = good && forecaster_learned(forecaster, ret);
    free(forecaster);
    return good;
}

static enum store_status
digest(struct store_reader *reader, const struct earlier_batch *batch,
       struct earlier_lesson *ret, struct store_error *reterr)
{
    uint16_t probes[ENTRY_PROBES_MAX + 1];
    size_t count = 0;
    for (size_t i = 0; i < batch->core_count + (batch->air != 0 ? 1U : 0U); i++) {
        uint16_t probe = i < batch->core_count ? batch->cores[i] : batch->air;
        size_t at = count++;
        for (; at > 0 && probes[at - 1] > probe; at--)
            probes[at] = probes[at - 1];
        probes[at] = probe;
    }
    return store_readings_digest(reader, probes, count, batch->put_in_ms - 1, ret->until_ms,
                                 ret->digest, &ret->readings, reterr);
}

static enum store_status
make(struct store_reader *reader, const struct earlier *of, const struct earlier_batch *batch,
     bool with_fit, struct earlier_lesson *ret, struct store_error *reterr)
{
    struct earlier_curve curve;
    *ret = (struct earlier_lesson){
        .batch = batch->number,
        .kind = of->kind,
        .mass_g = batch->mass_g,
        .thickness_mm = batch->thickness_mm,
        .put_in_ms = batch->put_in_ms,
        .taken_out_ms = batch->taken_out_ms,
        .until_ms = earlier_curve_end_ms(of, batch, batch->done_ms),
    };
    memcpy(ret->product, of->product, sizeof ret->product);
    memcpy(ret->step, batch->step, sizeof ret->step);
    enum store_status status = earlier_curve_read(reader, of, batch, &curve, reterr);
    if (status == STORE_OK) {
        ret->has_lesson = of->kind == FORECAST_COOK && take_lesson(batch, &curve, &ret->lesson);
        ret->has_fit = with_fit && take_fit(of, batch, &curve, &ret->fit);
        status = digest(reader, batch, ret, reterr);
    }
    earlier_curve_free(&curve);
    return status;
}

enum store_status
earlier_lesson_of(struct store_reader *reader, const struct earlier *of,
                  const struct earlier_batch *batch, bool with_fit, struct earlier_lesson *ret,
                  bool *ret_recorded, struct store_error *reterr)
{
    struct found found = {ret, false};
    if (batch->lesson_seq != 0) {
        enum store_status status = store_each_record(
            reader, batch->lesson_seq - 1, batch->lesson_seq, NULL, see_lesson, &found, reterr);
        if (status != STORE_OK)
            return status;
    }
    *ret_recorded = found.good;
    return found.good ? STORE_OK : make(reader, of, batch, with_fit, ret, reterr);
}

/* ---- for the next batch ---- */

bool
earlier_lesson_like(const struct earlier_lesson *from, const struct dish *like,
                    struct lesson *ret)
{
    bool thick = !isnan(like->thickness_mm);
    if (!from->has_lesson || (thick ? from->thickness_mm : from->mass_g) == 0)
        return false;
    *ret = from->lesson;
    struct dish *dish = &ret->dish;
    dish->mass_g = thick ? (double)NAN : from->mass_g;
    dish->thickness_mm = thick ? from->thickness_mm : (double)NAN;
    if (isnan(dish->oven_C))
        dish->oven_C = like->oven_C;
    dish->cold_oven = false; /* as measured; without a probe nobody knows */
    dish->shape = like->shape;
    dish->wrap = like->wrap;
    dish->oven = like->oven;
    return true;
}

double
earlier_size_ratio(const struct earlier_lesson *from, int32_t mass_g, int32_t thickness_mm)
{
    if (thickness_mm > 0 && from->thickness_mm > 0)
        return (double)thickness_mm / from->thickness_mm;
    if (mass_g > 0 && from->mass_g > 0)
        return cbrt((double)mass_g / from->mass_g);
    return NAN;
}
