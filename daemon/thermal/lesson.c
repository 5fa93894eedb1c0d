/* Readings of a cook condensed into a lesson.  See trivet/lesson.h.  Pure; owns nothing. */
#include "daemon/thermal/taker.h"

#include <assert.h>
#include <math.h>
#include <string.h>

static const double SPAN_FIRST_S = 30;
static const double STARTS_WITHIN_S = 90;
static const double LEAST_RISE_K = 3;
/* The peak is past once the core has fallen so far, or risen no more than that of late. */
static const double PEAK_SURE_K = 0.15;
static const double PEAK_LATE_S = 300;

_Static_assert(sizeof(struct taker) <= LESSON_TAKER_BYTES, "the taker fits its room");

static struct taker *
taker_of(struct lesson_taker *taker)
{
    return (struct taker *)(void *)taker->room.bytes;
}

const struct taker *
taker_in(const struct lesson_taker *taker)
{
    return (const struct taker *)(const void *)taker->room.bytes;
}

void
lesson_begin(struct lesson_taker *taker, const struct dish *dish, double put_in_s)
{
    struct taker *t = taker_of(taker);
    memset(t, 0, sizeof *t);
    t->dish = *dish;
    t->put_in_s = put_in_s;
    t->span_s = SPAN_FIRST_S;
    t->start_C = t->removed_s = t->removed_C = t->last_C = NAN;
}

static float
mean_of(float a, float b)
{
    return isnan(a) ? b : isnan(b) ? a : 0.5F * (a + b);
}

static void
make_room(struct taker *t)
{
    for (size_t i = 0; i < TAKER_SPANS / 2; i++) {
        t->core_C[i] = mean_of(t->core_C[2 * i], t->core_C[2 * i + 1]);
        t->air_C[i] = mean_of(t->air_C[2 * i], t->air_C[2 * i + 1]);
    }
    t->spans = TAKER_SPANS / 2;
    t->span_s *= 2;
}

/* Closes spans up to the one that `at_s` lies in; a silent span holds NAN. */
static void
close_spans(struct taker *t, double at_s)
{
    while (at_s >= (t->spans + 1) * t->span_s) {
        if (t->spans == TAKER_SPANS)
            make_room(t);
        t->core_C[t->spans] = t->cores > 0 ? (float)(t->core_sum_C / t->cores) : NAN;
        t->air_C[t->spans] = t->airs > 0 ? (float)(t->air_sum_C / t->airs) : NAN;
        t->spans++;
        t->cores = t->airs = 0;
        t->core_sum_C = t->air_sum_C = 0;
    }
}

static void
note_start(struct taker *t, double at_s, double core_C)
{
    if (at_s <= STARTS_WITHIN_S || isnan(t->start_C)) {
        t->start_sum_C += core_C;
        t->starts++;
        t->start_C = t->start_sum_C / t->starts;
    }
}

void
lesson_feed(struct lesson_taker *taker, const struct forecast_reading *reading)
{
    struct taker *t = taker_of(taker);
    double at_s = reading->time_s - t->put_in_s;
    if (!isfinite(reading->time_s) || at_s < t->last_s || at_s > TAKER_LONGEST_S)
        return;
    close_spans(t, at_s);
    t->last_s = at_s;
    if (!isnan(reading->core_C)) {
        t->core_sum_C += reading->core_C;
        t->cores++;
        t->last_C = reading->core_C;
        note_start(t, at_s, reading->core_C);
    }
    if (!isnan(reading->air_C) && isnan(t->removed_s)) {
        t->air_sum_C += reading->air_C;
        t->airs++;
    }
    if (reading->event == FORECAST_REMOVED && isnan(t->removed_s)) {
        t->removed_s = at_s;
        t->removed_C = t->last_C;
    }
}

/* Mean of the core around a span, or NAN. */
static double
smooth(const struct taker *t, int span)
{
    double sum = 0;
    int count = 0;
    for (int i = span > 1 ? span - 1 : 0; i <= span + 1 && i < t->spans; i++)
        if (!isnan(t->core_C[i])) {
            sum += (double)t->core_C[i];
            count++;
        }
    return count > 0 ? sum / count : NAN;
}

double
taker_core_C(const struct taker *t, double at_s)
{
    double place = at_s / t->span_s - 0.5;
    int before = place < 0 ? 0 : (int)place;
    if (before + 1 >= t->spans)
        before = t->spans > 1 ? t->spans - 2 : 0;
    double a = smooth(t, before), b = smooth(t, before + 1 < t->spans ? before + 1 : before);
    return isnan(a) ? b : isnan(b) ? a : a + (b - a) * (place - before);
}

double
taker_passed_s(const struct taker *t, double level_C)
{
    double before_C = NAN, before_s = 0;
    double end_s = isnan(t->removed_s) ? INFINITY : t->removed_s + t->span_s;
    for (int i = 0; i < t->spans; i++) {
        double mid_s = (i + 0.5) * t->span_s;
        double now_C = smooth(t, i);
        if (mid_s > end_s)
            break;
        if (isnan(now_C))
            continue;
        if (now_C >= level_C)
            return isnan(before_C) || now_C <= before_C
                       ? mid_s
                       : before_s +
                             (mid_s - before_s) * (level_C - before_C) / (now_C - before_C);
        before_C = now_C;
        before_s = mid_s;
    }
    return NAN;
}

/* Equal spans of the measured air until `until_s`. */
bool
taker_air(const struct taker *t, double until_s, double ret_air_C[LESSON_AIRS])
{
    bool any = false;
    for (int k = 0; k < LESSON_AIRS; k++) {
        double sum = 0;
        int count = 0;
        int first = (int)(until_s * k / LESSON_AIRS / t->span_s);
        int last = (int)(until_s * (k + 1) / LESSON_AIRS / t->span_s);
        for (int i = first; i < t->spans && (i < last || i == first); i++)
            if (!isnan(t->air_C[i])) {
                sum += (double)t->air_C[i];
                count++;
            }
        ret_air_C[k] = count > 0 ? sum / count : NAN;
        any = any || count > 0;
    }
    return any;
}

static void
find_peak(const struct taker *t, struct lesson *lesson)
{
    lesson->peak_C = lesson->peak_s = NAN;
    if (isnan(t->removed_s))
        return;
    double peak_C = -INFINITY, peak_s = 0, last_C = NAN;
    for (int i = (int)(t->removed_s / t->span_s); i < t->spans; i++) {
        last_C = smooth(t, i);
        if (!isnan(last_C) && last_C > peak_C) {
            peak_C = last_C;
            peak_s = (i + 0.5) * t->span_s - t->removed_s;
        }
    }
    double late_C = smooth(t, t->spans - 1 - (int)(PEAK_LATE_S / t->span_s));
    bool late = t->last_s > t->removed_s + 2 * PEAK_LATE_S && late_C > peak_C - PEAK_SURE_K;
    if (isfinite(peak_C) && (late || last_C < peak_C - PEAK_SURE_K)) {
        lesson->peak_C = peak_C;
        lesson->peak_s = fmax(peak_s, 0);
    }
}

bool
lesson_taken(const struct lesson_taker *taker, struct lesson *ret_lesson)
{
    static const double SHARE[LESSON_PASSED] = {0.12, 0.28, 0.5, 0.75, 1};
    const struct taker *t = taker_in(taker);
    if (t->spans < 2 || isnan(t->start_C))
        return false;
    struct lesson l = {.dish = t->dish, .removed_s = t->removed_s, .removed_C = t->removed_C};
    l.dish.start_C = t->start_C;
    double end_s = isnan(t->removed_s) ? t->last_s : t->removed_s;
    double end_C = taker_core_C(t, end_s);
    if (!(end_C - t->start_C > LEAST_RISE_K))
        return false;
    /* A little below the last one, so that the last mean cannot miss it. */
    double reached_C = t->start_C + 0.98 * (end_C - t->start_C);
    double top_C = fmax(end_C, t->removed_C) >= l.dish.target_C ? l.dish.target_C : reached_C;
    for (int k = 0; k < LESSON_PASSED; k++) {
        l.passed_C[k] = t->start_C + SHARE[k] * (top_C - t->start_C);
        l.passed_s[k] = taker_passed_s(t, l.passed_C[k]);
    }
    /* Taken out right at the target: the means stay just below it. */
    if (isnan(l.passed_s[LESSON_PASSED - 1]) && top_C > reached_C)
        l.passed_s[LESSON_PASSED - 1] = end_s;
    l.air_until_s =
        isnan(l.passed_s[LESSON_PASSED - 1]) ? end_s : l.passed_s[LESSON_PASSED - 1];
    if (!taker_air(t, l.air_until_s, l.air_C))
        l.air_until_s = NAN;
    find_peak(t, &l);
    *ret_lesson = l;
    return true;
}
