/* Sentences for batches, one function per kind of limit. Pure, like sentence.c. */
#include <string.h>

#include "sentence.h"

#define DURATION_MAX 32

/* What the functions below look at. */
struct telling {
    const struct snapshot *snapshot;
    const struct engine_batch_view *view;
    const struct plan_step *step;
    const struct engine_probe_view
        *probe; /* the governing one, else of those heard of last; NULL = none */
    bool stale;
    bool fresh_step; /* its first reading may still be on its way */
    struct text *text;
};

static const char *
subject_word(const struct plan_limit *limit)
{
    return limit->subject == SUBJECT_AIR ? "Air" : "Core";
}

static void
add_next(struct telling *t)
{
    const struct plan_product *product = t->view->product;
    if (t->view->step + 1 < product->step_count)
        text_add(t->text, " Next: %s.", product->steps[t->view->step + 1].name);
    else
        text_add(t->text, " Next: end the batch (served, stored or discarded).");
}

static void
add_none_now(struct telling *t, struct limit_temp against)
{
    bool held = limit_kind_heats(t->step->limit.kind) && t->step->limit.hold_ms > 0;
    if (t->view->probe_count == 0)
        text_add(t->text, held ? "No probe is in it, and only a probe can show the time held."
                               : "No probe is in it: take readings by hand.");
    else if (t->fresh_step)
        text_add(t->text, "The first reading of this step is on its way.");
    else
        add_silence(t->text, t->snapshot, t->probe, against);
}

static void
add_now(struct telling *t, struct limit_temp against)
{
    char degrees[DEGREES_MAX];
    if (t->stale)
        add_none_now(t, against);
    else
        text_add(t->text, "%s %s", subject_word(&t->step->limit),
                 degrees_text(degrees, t->view->governing_mC, against));
}

static int64_t
last_good_ms(const struct telling *t)
{
    return t->probe == NULL ? TIME_NONE : t->probe->last_good.at_ms;
}

static void
add_requirement(struct telling *t)
{
    char held[DURATION_MAX];
    const struct plan_limit *limit = &t->step->limit;
    add_bound(t->text, limit);
    if (limit->hold_ms > 0)
        text_add(t->text, " for %s", duration_text(held, sizeof held, limit->hold_ms));
    if (limit->row_count > 1)
        text_add(t->text, ", or another row of its table");
}

/* ---- one per kind ---- */

static void
tell_no_limit(struct telling *t)
{
    struct limit_temp nothing = {.milli = 0, .unit = TEMP_C};
    if (t->view->probe_count > 0) {
        add_now(t, nothing);
        text_add(t->text, t->stale ? " No limit in this step." : "; no limit in this step.");
    } else {
        text_add(t->text, "No limit in this step.");
    }
    add_next(t);
}

static void
tell_heating(struct telling *t)
{
    const struct plan_limit *limit = &t->step->limit;
    char held[DURATION_MAX], needed[DURATION_MAX];
    if (t->view->verdict == VERDICT_MET) {
        text_add(t->text, "Limit met: ");
        add_requirement(t);
        text_add(t->text, ".");
        add_next(t);
        return;
    }
    if (limit->subject == SUBJECT_SURFACE) {
        text_add(t->text, "Surface: top %s, bottom %s; measure by hand, needs ",
                 t->view->top_shown ? "shown" : "not shown",
                 t->view->bottom_shown ? "shown" : "not shown");
        add_requirement(t);
        text_add(t->text, ".");
        return;
    }
    add_now(t, limit->temp);
    if (limit->stand_ms > 0 && t->view->stands_until_ms != TIME_NONE) {
        text_add(t->text, t->stale ? " Reached; it stands" : "; reached; it stands");
        add_deadline_word(t->text, t->snapshot, " until", t->view->stands_until_ms,
                          last_good_ms(t));
        text_add(t->text, ".");
        return;
    }
    bool above = !t->stale &&
                 temp_compare(t->view->governing_mC, limit->temp) >= (limit->strict ? 1 : 0);
    if (!t->stale && above && limit->hold_ms > 0) {
        text_add(t->text, "; held for %s of %s, ",
                 duration_text(held, sizeof held, t->view->credited_ms),
                 duration_text(needed, sizeof needed, limit->hold_ms));
        add_bound(t->text, limit);
        if (limit->row_count > 1)
            text_add(t->text, ", or another row of its table");
    } else {
        text_add(t->text, t->stale ? " Needs " : "; needs ");
        add_requirement(t);
    }
    if (t->view->deadline_ms != TIME_NONE)
        add_deadline(t->text, t->snapshot, t->view->deadline_ms, last_good_ms(t));
    text_add(t->text, ".");
}

static void
tell_lethality(struct telling *t)
{
    const struct plan_limit *limit = &t->step->limit;
    char earned[DURATION_MAX], needed[DURATION_MAX], reference[32];
    bool met = t->view->verdict == VERDICT_MET;
    if (met)
        text_add(t->text, "Limit met: ");
    else
        add_now(t, limit->temp);
    text_add(t->text, "%searned %s of %s at %s",
             met        ? ""
             : t->stale ? " It has "
                        : "; ",
             duration_text(earned, sizeof earned, t->view->credited_ms),
             duration_text(needed, sizeof needed, limit->hold_ms),
             limit_temp_text(reference, sizeof reference, limit->temp));
    text_add(t->text, ".");
    if (met)
        add_next(t);
}

static void
tell_holding(struct telling *t)
{
    const struct plan_limit *limit = &t->step->limit;
    char opens[DURATION_MAX], lasted[DURATION_MAX];
    if (!t->stale && t->view->outside) {
        add_excursion(t->text, limit, t->view->governing_mC, t->view->outside_ms);
        if (t->view->deviation == 0)
            text_add(
                t->text, "; a deviation opens after %s%s",
                duration_text(opens, sizeof opens,
                              limit->period_ms > 0 ? limit->period_ms : limit->tolerance_ms),
                limit->period_ms > 0 ? ", and it may be so once only" : "");
        text_add(t->text, ".");
        return;
    }
    add_now(t, limit->temp);
    text_add(t->text, t->stale ? " Hold " : "; hold ");
    add_bound(t->text, limit);
    if (!t->stale && t->view->outside_ms > 0)
        text_add(t->text, ". Back inside; %s outside still count",
                 duration_text(lasted, sizeof lasted, t->view->outside_ms));
    text_add(t->text, ".");
    if (t->view->period_over)
        text_add(t->text, " It has been outside once already and may not be again.");
}

static void
tell_cooling(struct telling *t)
{
    static const char *const ordinals[PLAN_STAGES_MAX] = {"first", "second", "third", "fourth"};
    const struct plan_limit *limit = &t->step->limit;
    const struct engine_batch_view *view = t->view;
    char degrees[DEGREES_MAX], target[32];
    if (view->verdict == VERDICT_MET || view->stage > limit->stage_count) {
        text_add(t->text, view->verdict == VERDICT_NOT_MET ? "Cooled, but not in time. "
                                                           : "Cooled in time. ");
        add_now(t, limit->stages[limit->stage_count - 1].to);
        text_add(t->text, t->stale ? "" : ".");
        add_next(t);
    } else if (view->clock_start_ms == TIME_NONE || view->stage == 0) {
        add_now(t, limit->start);
        text_add(t->text, "%s the cooling clock starts when the core falls through %s.",
                 t->stale ? " Then" : ";",
                 limit_temp_text(target, sizeof target, limit->start));
    } else {
        const struct plan_stage *stage = &limit->stages[view->stage - 1];
        text_add(t->text, "Cooling");
        if (limit->stage_count > 1)
            text_add(t->text, ", %s stage", ordinals[view->stage - 1]);
        text_add(t->text, ": ");
        if (t->stale)
            add_none_now(t, stage->to);
        else
            text_add(t->text, "%s", degrees_text(degrees, view->governing_mC, stage->to));
        text_add(t->text, "%s must be %s %s", t->stale ? " It" : ",",
                 limit->strict ? "below" : "at",
                 limit_temp_text(target, sizeof target, stage->to));
        bool own_clock = stage->counts_from == STAGE_FROM_STAGE_BEFORE;
        int64_t deadline_ms =
            own_clock ? view->deadline_ms : view->clock_start_ms + stage->within_ms;
        if (deadline_ms != TIME_NONE)
            add_deadline(t->text, t->snapshot, deadline_ms, last_good_ms(t));
        text_add(t->text, ".");
    }
}

static void
tell_time_control(struct telling *t)
{
    const struct plan_limit *limit = &t->step->limit;
    char target[32];
    if (t->view->probe_count > 0) {
        add_now(t, limit->has_ceiling ? limit->ceiling : limit->temp);
        text_add(t->text, t->stale ? " " : "; ");
    }
    text_add(t->text, "%sithout temperature control: serve, cook or throw away",
             t->view->probe_count > 0 && !t->stale ? "w" : "W");
    add_deadline(t->text, t->snapshot, t->view->deadline_ms, last_good_ms(t));
    if (limit->has_ceiling)
        text_add(t->text, "; throw away if ever %s %s",
                 limit->strict ? "as warm as" : "warmer than",
                 limit_temp_text(target, sizeof target, limit->ceiling));
    text_add(t->text, ".");
}

/* How long it has been between two temperatures, of how long it may. */
static void
add_zone(struct telling *t, const struct plan_limit *limit)
{
    char spent[DURATION_MAX], most[DURATION_MAX], unseen[DURATION_MAX], cold[32], hot[32];
    text_add(t->text, "%s of %s %s %s and %s",
             duration_text(spent, sizeof spent, t->view->zone_ms),
             duration_text(most, sizeof most, limit->within_ms),
             t->view->in_zone ? "used up, now between" : "used up between",
             limit_temp_text(cold, sizeof cold, limit->temp),
             limit_temp_text(hot, sizeof hot, limit->hot));
    if (t->view->zone_unknown_ms > 0)
        text_add(t->text, ", and %s unseen",
                 duration_text(unseen, sizeof unseen, t->view->zone_unknown_ms));
    text_add(t->text, ".");
    if (limit->use_at_once_ms > 0 && t->view->zone_ms >= limit->use_at_once_ms)
        text_add(t->text, " Use it at once: no more chilling or keeping hot.");
}

static void
tell_zone(struct telling *t)
{
    add_now(t, t->step->limit.temp);
    text_add(t->text, t->stale ? " " : "; ");
    add_zone(t, &t->step->limit);
}

static void
add_life(struct telling *t)
{
    const struct plan_limit *life = &t->view->product->life;
    if (life->kind != LIMIT_ZONE)
        return;
    text_add(t->text, " In all ");
    add_zone(t, life);
    if (t->view->life_deviation != 0 && t->view->deviation != t->view->life_deviation)
        add_deviation_state(t->text, t->snapshot, t->view->life_deviation);
}

void
add_mark(struct text *text, const struct engine_mark_view *mark)
{
    if (mark->days == 0)
        return;
    if (mark->passed)
        text_add(text, " Its last day is over: throw it away.");
    else if (mark->day[0] == '\0')
        text_add(text, " Its last day is not known yet.");
    else if (mark->frozen)
        text_add(text, " Frozen after %d of %d days; thawed today its last day is %s.",
                 (int)mark->used, (int)mark->days, mark->day);
    else
        text_add(text, " Day %d of %d: use it by the end of %s or throw it away.",
                 (int)mark->used, (int)mark->days, mark->day);
}

/* The oven that it is in, as long as something is asked of it. */
static void
add_oven(struct telling *t)
{
    const struct engine_batch_view *view = t->view;
    char degrees[DEGREES_MAX], lasted[DURATION_MAX];
    if (view->oven == NULL || view->oven_over)
        return;
    text_add(t->text, " Oven: ");
    if (!view->oven_watched)
        text_add(t->text, "not measured");
    else if (view->oven_mC == TEMP_NONE)
        text_add(t->text, "no good reading");
    else
        text_add(t->text, "%s", degrees_text(degrees, view->oven_mC, view->oven->temp));
    text_add(t->text, "; it has to be ");
    add_bound(t->text, view->oven);
    if (view->oven_outside_ms > 0)
        text_add(t->text, ", and has not been for %s",
                 duration_text(lasted, sizeof lasted, view->oven_outside_ms));
    text_add(t->text, view->oven_watched ? "." : ": look at it, you will be asked.");
}

static void
tell_by_kind(struct telling *t)
{
    switch (t->step->limit.kind) {
    case LIMIT_NONE:
        tell_no_limit(t);
        break;
    case LIMIT_COOK:
    case LIMIT_REHEAT:
    case LIMIT_COOK_TABLE:
        tell_heating(t);
        break;
    case LIMIT_LETHALITY:
    case LIMIT_SUM: /* as time at its coldest row */
        tell_lethality(t);
        break;
    case LIMIT_HOLD_HOT:
    case LIMIT_HOLD_COLD:
        tell_holding(t);
        break;
    case LIMIT_COOL:
        tell_cooling(t);
        break;
    case LIMIT_ZONE:
    case LIMIT_RISE:
        tell_zone(t);
        break;
    case LIMIT_TIME:
        tell_time_control(t);
        break;
    case LIMIT_OVEN: /* beside a step, never its own */
    case LIMIT_MOIST_OVEN:
    case LIMIT_DAYS: /* likewise */
        break;
    }
}

/* ---- what may follow ---- */

static void
add_suspects(struct telling *t)
{
    for (size_t i = 0; i < t->view->probe_count; i++) {
        const struct engine_probe_view *probe = snapshot_probe(t->snapshot, t->view->probes[i]);
        if (probe == NULL || probe->last.at_ms == TIME_NONE ||
            !reading_is_suspect(probe->last.quality))
            continue;
        text_add(t->text, " Check ");
        add_probe_name(t->text, t->snapshot, probe->number);
        text_add(t->text, ": %s.", reading_quality_phrase(probe->last.quality));
        return; /* one is enough to send somebody */
    }
}

static enum concern
concern_of(const struct telling *t)
{
    const struct engine_batch_view *view = t->view;
    if (view->deviation != 0 || view->inconclusive || view->verdict == VERDICT_NOT_MET ||
        view->life_deviation != 0 || view->mark.passed || view->bar == DISPOSITION_DISCARD)
        return CONCERN_ACT;
    bool limited = t->step->limit.kind != LIMIT_NONE;
    if ((t->stale && !t->fresh_step && limited && view->verdict != VERDICT_MET) ||
        view->outside)
        return CONCERN_WATCH;
    for (size_t i = 0; i < view->probe_count; i++) {
        const struct engine_probe_view *probe = snapshot_probe(t->snapshot, view->probes[i]);
        if (probe != NULL && probe->last.at_ms != TIME_NONE &&
            reading_is_suspect(probe->last.quality))
            return CONCERN_WATCH;
    }
    return CONCERN_NONE;
}

void
tell_batch(const struct snapshot *snapshot, struct snapshot_batch *batch)
{
    const struct engine_batch_view *view = &batch->view;
    struct text text;
    text_start(&text, batch->sentence, sizeof batch->sentence);
    batch->concern = CONCERN_NONE;
    if (view->product == NULL || view->step >= view->product->step_count)
        return;
    struct telling telling = {
        .snapshot = snapshot,
        .view = view,
        .step = &view->product->steps[view->step],
        .probe = snapshot_batch_probe(snapshot, view),
        .text = &text,
    };
    telling.stale = view->governing_mC == TEMP_NONE || probe_is_stale(snapshot, telling.probe);
    telling.fresh_step = telling.stale && telling.probe != NULL &&
                         snapshot->at_ms - view->step_begun_ms <=
                             snapshot_stale_after_ms(snapshot, telling.probe->number);
    batch->concern = concern_of(&telling);
    if (view->inconclusive)
        text_add(&text,
                 "Waits for a person: the limit cannot be judged (%s); decide, with a reason. ",
                 decision_phrase(&(struct decision){.reason = view->inconclusive_reason}));
    tell_by_kind(&telling);
    if (view->deviation != 0)
        add_deviation_state(&text, snapshot, view->deviation);
    else if (view->verdict == VERDICT_NOT_MET)
        text_add(&text, " The limit was not met.");
    if (view->auto_seq != 0)
        text_add(&text, " This step began by itself (record %llu).",
                 (unsigned long long)view->auto_seq);
    if (view->bar == DISPOSITION_DISCARD)
        text_add(&text, " To be thrown away, says a corrective action.");
    else if (view->bar == DISPOSITION_HOLD)
        text_add(&text, " On hold, says a corrective action: not to be served.");
    add_oven(&telling);
    add_mark(&text, &view->mark);
    add_life(&telling);
    add_suspects(&telling);
}
