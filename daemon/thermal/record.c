/* The condensed record of one batch.  See record.h.  Pure; owns nothing. */
#include "daemon/thermal/record.h"

#include <math.h>
#include <string.h>

static const double SPAN_COOK_S = 60;
static const double SPAN_COOLING_S = 30;  /* a stir must show */
static const double GAP_S = 150;          /* longer silences get stretches of their own */
static const double AIR_HELD_S = 900;     /* a lost air probe is believed for so long */
static const double PROBE_SETTLES_S = 90; /* cooling: a cold probe put into hot food */
static const double AIR_SLOW_S = 600;
static const double FIRST_AIR_S = 420;
static const double LOAD_SETTLES_S = 1500; /* a place's air after warm food came into it */
static const double LOAD_SD = 0.03;
static const double LOAD_MOST = 0.15;
static const double LOAD_NOISE_K2 = 1;

void
record_begin(struct record *record, enum forecast_kind kind, double clock_from_C)
{
    memset(record, 0, sizeof *record);
    record->kind = kind;
    record->span_min_s = kind == FORECAST_COOK ? SPAN_COOK_S : SPAN_COOLING_S;
    record->place = kind == FORECAST_COOK ? 0 : FOOD_PLACES;
    record->core_C = record->air_C = record->air_slow_C = record->first_air_C = NAN;
    record->clock_from_C = clock_from_C;
    record->clock_began_s = NAN;
    record->highest_C = -INFINITY;
    record->last_stir_s = record->first_stir_s = NAN;
    for (int i = 0; i < 3; i++)
        record->recent_core_C[i] = NAN;
}

struct food_stretch
record_stretch(const struct record *record, int index, double begin_s)
{
    const struct record_entry *e = &record->entry[index];
    return (struct food_stretch){
        .begin_s = begin_s,
        .span_s = (double)e->span_s,
        .core_C = (double)e->core_C,
        .medium_C = (double)e->medium_C,
        .place = e->place,
        .stir = e->stir != 0,
    };
}

/* Two neighbours that agree on where the food was become one; their means are weighted by their
 * spans. */
static struct record_entry
merged(const struct record_entry *a, const struct record_entry *b)
{
    struct record_entry m = *b;
    m.span_s = a->span_s + b->span_s;
    float part = a->span_s / (m.span_s > 0 ? m.span_s : 1);
    if (isnan(b->core_C))
        m.core_C = a->core_C;
    else if (!isnan(a->core_C))
        m.core_C = part * a->core_C + (1 - part) * b->core_C;
    if (isnan(b->medium_C))
        m.medium_C = a->medium_C;
    else if (!isnan(a->medium_C))
        m.medium_C = part * a->medium_C + (1 - part) * b->medium_C;
    return m;
}

static void
make_room(struct record *record)
{
    int kept = 0;
    int i = 0;
    while (i < record->count) {
        struct record_entry *a = &record->entry[i];
        struct record_entry *b = i + 1 < record->count ? a + 1 : a;
        bool alike = a != b && a->place == b->place && !a->stir && !b->stir &&
                     isnan(a->core_C) == isnan(b->core_C);
        record->entry[kept++] = alike ? merged(a, b) : *a;
        i += alike ? 2 : 1;
    }
    record->count = kept;
    record->span_min_s *= 2;
}

static void
follow_air(struct record *record, double medium_C, double span_s, double since_start_s)
{
    if (isnan(medium_C))
        return;
    record->air_seen = true;
    if (since_start_s <= FIRST_AIR_S) {
        double settled =
            since_start_s > 100 ? 0.3 : 1; /* the probe itself comes from the warm */
        record->first_air_C =
            isnan(record->first_air_C)
                ? medium_C
                : record->first_air_C + settled * (medium_C - record->first_air_C);
    }
    if (isnan(record->air_slow_C))
        record->air_slow_C = medium_C;
    bool dropped = record->kind == FORECAST_COOLING && record->air_slow_C > 13 &&
                   medium_C < record->air_slow_C - 5;
    record->cold_stretches = dropped ? record->cold_stretches + 1 : 0;
    if (record->cold_stretches >= 2 && record->place != 1) {
        record->place = 1;
        record->place_since_s = record->end_s;
        record->air_slow_C = medium_C;
    }
    if (!dropped)
        record->air_slow_C += (medium_C - record->air_slow_C) * (1 - exp(-span_s / AIR_SLOW_S));
}

/* A fall much faster than the food's own trend means it was stirred or turned over. */
static bool
jumped_down(const struct record *record, double core_C, double before_C, double span_s)
{
    if (record->kind != FORECAST_COOLING || isnan(before_C) || isnan(core_C) ||
        record->core_count < 4)
        return false;
    double usual = fabs(record->trend_K_s) * span_s;
    return before_C - core_C > 0.8 + 3 * usual;
}

static double
last_core(const struct record *record)
{
    for (int i = record->count - 1; i >= 0 && i >= record->count - 4; i--)
        if (!isnan(record->entry[i].core_C))
            return (double)record->entry[i].core_C;
    return NAN;
}

static void
forget_cores(struct record *record)
{
    for (int i = 0; i < record->count; i++)
        record->entry[i].core_C = NAN;
    record->core_count = 0;
    record->trend_K_s = 0;
}

/* Closes the open stretch at `end_s`.  True when the probe turns out to have gone in only now.
 */
static bool
close_stretch(struct record *record, double end_s)
{
    if (record->count == RECORD_MAX)
        make_room(record);
    double span_s = end_s - record->end_s;
    double since_start_s = end_s - record->origin_s;
    struct record_sum *sum = &record->open;
    double core_C = sum->cores > 0 ? sum->core_C / sum->cores : NAN;
    double medium_C = sum->mediums > 0 ? sum->medium_C / sum->mediums : NAN;
    if (isnan(medium_C) && record->air_seen && end_s - record->air_at_s < AIR_HELD_S &&
        record->air_at_s > record->place_since_s)
        medium_C = record->air_C;
    if (record->kind == FORECAST_COOK && record->place == 1 && medium_C > 60)
        medium_C = NAN; /* the oven's probe was left behind, or has not cooled down yet */
    if (record->kind == FORECAST_COOLING && since_start_s <= PROBE_SETTLES_S)
        core_C = NAN;
    double before_C = last_core(record);
    bool restart = core_C - before_C > (record->kind == FORECAST_COOK ? 8 : 5);
    bool stir = !restart && jumped_down(record, core_C, before_C, span_s);
    if (restart)
        forget_cores(record);
    if (stir) {
        if (isnan(record->last_stir_s) || end_s - record->last_stir_s > 300)
            record->stirs++;
        if (isnan(record->first_stir_s))
            record->first_stir_s = end_s;
        record->last_stir_s = end_s;
    } else if (!restart && !isnan(core_C) && !isnan(before_C) && span_s > 0) {
        record->trend_K_s += 0.2 * ((core_C - before_C) / span_s - record->trend_K_s);
    }
    follow_air(record, medium_C, span_s, since_start_s);
    record->entry[record->count++] = (struct record_entry){
        .span_s = (float)span_s,
        .core_C = (float)core_C,
        .medium_C = (float)medium_C,
        .place = (uint8_t)record->place,
        .stir = stir,
    };
    if (!isnan(core_C))
        record->core_count++;
    record->end_s = end_s;
    *sum = (struct record_sum){0};
    return restart;
}

static void
change_place(struct record *record, enum forecast_event event, double at_s)
{
    bool removed = record->kind == FORECAST_COOK && event == FORECAST_REMOVED;
    bool moved = record->kind == FORECAST_COOLING && event == FORECAST_MOVED;
    if ((removed || moved) && record->place != 1) {
        record->place = 1;
        record->place_since_s = at_s;
        record->air_slow_C = NAN;
        if (removed)
            record->highest_C = -INFINITY;
    }
}

static void
note_values(struct record *record, const struct forecast_reading *reading)
{
    if (!isnan(reading->core_C)) {
        record->open.core_C += reading->core_C;
        record->open.cores++;
        record->core_C = reading->core_C;
        record->core_at_s = reading->time_s;
        record->recent_core_C[2] = record->recent_core_C[1];
        record->recent_core_C[1] = record->recent_core_C[0];
        record->recent_core_C[0] = reading->core_C;
        double core_C = record_core_C(record);
        record->highest_C = fmax(record->highest_C, core_C);
        if (isnan(record->clock_began_s) &&
            (isnan(record->clock_from_C) || record->highest_C > record->clock_from_C) &&
            (isnan(record->clock_from_C) || core_C <= record->clock_from_C))
            record->clock_began_s = reading->time_s;
    }
    if (!isnan(reading->air_C)) {
        record->open.medium_C += reading->air_C;
        record->open.mediums++;
        record->air_C = reading->air_C;
        record->air_at_s = reading->time_s;
    }
}

enum record_news
record_take(struct record *record, const struct forecast_reading *reading, int *ret_first)
{
    enum record_news news = RECORD_OPEN;
    if (!record->begun) {
        record->begun = true;
        record->origin_s = record->end_s = record->last_s = record->place_since_s =
            reading->time_s;
    }
    *ret_first = record->count;
    int before = record->count;
    if (reading->time_s - record->last_s > GAP_S && reading->time_s - record->end_s > GAP_S) {
        if (close_stretch(record, fmax(record->last_s, record->end_s)))
            news = RECORD_RESTART;
        (void)close_stretch(record, reading->time_s - 5); /* the silence, without readings */
    }
    note_values(record, reading);
    record->last_s = reading->time_s;
    bool moved = reading->event == FORECAST_REMOVED || reading->event == FORECAST_MOVED;
    if (reading->time_s - record->end_s >= record->span_min_s ||
        (moved && reading->time_s > record->end_s))
        if (close_stretch(record, reading->time_s))
            news = RECORD_RESTART;
    change_place(record, reading->event, reading->time_s);
    if (record->count < before) /* merged: the newest one is still the only new one */
        *ret_first = record->count - 1;
    if (news == RECORD_OPEN && record->count != before)
        news = RECORD_STRETCH;
    return news;
}

double
record_core_C(const struct record *record)
{
    const double *v = record->recent_core_C;
    if (isnan(v[1]) || isnan(v[2]))
        return v[0];
    return fmax(fmin(v[0], v[1]), fmin(fmax(v[0], v[1]), v[2]));
}

/* Mean of the measured air between two ages, and how many stretches it rests on. */
static double
air_between(const struct record *record, double from_age_s, double to_age_s, int *ret_count)
{
    double sum = 0, span = 0, age = 0;
    *ret_count = 0;
    for (int i = record->count - 1; i >= 0 && age < to_age_s; i--) {
        const struct record_entry *e = &record->entry[i];
        if (e->place != record->place)
            break;
        age += (double)e->span_s;
        if (age <= from_age_s || isnan(e->medium_C))
            continue;
        sum += (double)e->span_s * (double)e->medium_C;
        span += (double)e->span_s;
        ++*ret_count;
    }
    return span > 0 ? sum / span : NAN;
}

/* How far the air of a cold place has followed the core: the slope of a line through both, and
 * how much it counts against what is usual.  Air wanders with thermostats and doors for some
 * ten minutes at a time, so that one reading in a score says something new. */
static void
find_load(const struct record *record, double mean_air_C, struct record_level *level,
          double *ret_mean_core_C)
{
    double n = 0, x = 0, y = 0, xx = 0, xy = 0, age = 0, recent = 0, recent_n = 0;
    double settled_s = record->place_since_s + LOAD_SETTLES_S;
    for (int i = record->count - 1; i >= 0; i--) {
        const struct record_entry *e = &record->entry[i];
        age += (double)e->span_s;
        if (e->place != record->place || record->end_s - age < settled_s)
            break;
        if (isnan(e->core_C) || isnan(e->medium_C))
            continue;
        double weight = (double)e->span_s / 600;
        double core_C = (double)e->core_C, air_C = (double)e->medium_C - mean_air_C;
        n += weight;
        x += weight * core_C;
        y += weight * air_C;
        xx += weight * core_C * core_C;
        xy += weight * core_C * air_C;
        if (age <= 1800) {
            recent += weight * core_C;
            recent_n += weight;
        }
    }
    *ret_mean_core_C = recent_n > 0 ? recent / recent_n : NAN;
    double across = n > 0 ? xx - x * x / n : 0, along = n > 0 ? xy - x * y / n : 0;
    level->load = across > 0 ? fmin(fmax(along / across, 0), LOAD_MOST) : 0;
    level->load_known = across / (across + LOAD_NOISE_K2 / (LOAD_SD * LOAD_SD));
}

/* Thermostats swing with periods of some minutes: half an hour evens that out.  After a change
 * of set point the old level means nothing any more: then only what is new counts. */
struct record_level
record_level(const struct record *record)
{
    struct record_level l = {NAN, 0, 0, 0};
    if (record->count == 0)
        return l;
    int fresh, older, all;
    bool cook = record->kind == FORECAST_COOK;
    double now_C = air_between(record, 0, 360, &fresh);
    double old_C = air_between(record, 360, 1800, &older);
    double mean_C = air_between(record, 0, 1800, &all);
    if (all == 0)
        return l;
    l.level_C = mean_C;
    double jump_K = cook ? 12 : 4;
    if (fresh > 2 && older > 2 && fabs(now_C - old_C) > jump_K) {
        double before_C = air_between(record, 180, 360, &older);
        double newest_C = air_between(record, 0, 180, &fresh);
        double step_K = fresh > 0 && older > 0 ? newest_C - before_C : 0;
        l.level_C = newest_C + fmin(fmax(1.0 * step_K, -25), 25);
        l.sd_K = 0.5 * fabs(step_K);
        return l;
    }
    if (!cook && l.level_C < 14) {
        double mean_core_C;
        find_load(record, mean_C, &l, &mean_core_C);
        double load = l.load_known * l.load + (1 - l.load_known) * FOOD_LOAD_USUAL;
        if (!isnan(mean_core_C)) /* the mean is as old as the readings it is of */
            l.level_C += load * (record_core_C(record) - mean_core_C);
    }
    return l;
}
