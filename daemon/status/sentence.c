/* Sentences for places and deviations, and the turns of phrase that batches share with them.
 *
 * Pure; run by whoever builds a snapshot. States only what was measured and what the plan asks:
 * no forecast, and no ages, which belong to the moment of viewing. A number is never rounded
 * across its limit. */
#include "sentence.h"

#include "thermometers.h"

#include <stdio.h>
#include <string.h>

#define DURATION_MAX 32
#define CLOCK_MAX    32

/* ---- turns of phrase ---- */

static bool
is_upper_bound(enum limit_kind kind)
{
    return kind == LIMIT_HOLD_COLD || kind == LIMIT_COOL || kind == LIMIT_MOIST_OVEN;
}

static void
add_bound_of(struct text *text, enum limit_kind kind, bool strict, struct limit_temp temp)
{
    char limit[32];
    const char *words =
        is_upper_bound(kind) ? (strict ? "below" : "at most") : (strict ? "above" : "at least");
    text_add(text, "%s %s", words, limit_temp_text(limit, sizeof limit, temp));
}

void
add_bound(struct text *text, const struct plan_limit *limit)
{
    add_bound_of(text, limit->kind, limit->strict, limit->temp);
}

void
add_deadline(struct text *text, const struct snapshot *snapshot, int64_t deadline_ms,
             int64_t read_ms)
{
    add_deadline_word(text, snapshot, " by", deadline_ms, read_ms);
}

void
add_deadline_word(struct text *text, const struct snapshot *snapshot, const char *word,
                  int64_t deadline_ms, int64_t read_ms)
{
    char clock[CLOCK_MAX], left[DURATION_MAX];
    text_add(text, "%s %s", word,
             snapshot_clock_text(snapshot, deadline_ms, clock, sizeof clock));
    if (deadline_ms < snapshot->at_ms)
        text_add(text, ", which has passed");
    else if (read_ms != TIME_NONE && read_ms <= deadline_ms)
        text_add(text, " (in %s as of the last reading)",
                 duration_text(left, sizeof left, deadline_ms - read_ms));
}

bool
probe_is_stale(const struct snapshot *snapshot, const struct engine_probe_view *probe)
{
    return probe == NULL || probe->gap || probe->last_good.at_ms == TIME_NONE ||
           snapshot->at_ms - probe->last_good.at_ms >
               snapshot_stale_after_ms(snapshot, probe->number);
}

void
add_probe_name(struct text *text, const struct snapshot *snapshot, uint16_t number)
{
    int index = snapshot->plan == NULL ? -1 : plan_probe_by_number(snapshot->plan, number);
    if (index < 0)
        text_add(text, "probe number %u", (unsigned)number);
    else
        text_add(text, "%s", snapshot->plan->probes[index].name);
}

void
add_silence(struct text *text, const struct snapshot *snapshot,
            const struct engine_probe_view *probe, struct limit_temp against)
{
    char clock[CLOCK_MAX], degrees[DEGREES_MAX];
    if (probe == NULL || probe->last_good.at_ms == TIME_NONE)
        text_add(text, "No good reading yet");
    else
        text_add(text, "No good reading since %s",
                 snapshot_clock_text(snapshot, probe->last_good.at_ms, clock, sizeof clock));
    if (probe != NULL && probe->last.at_ms != TIME_NONE &&
        !reading_is_good(probe->last.quality))
        text_add(text, " (%s)", reading_quality_phrase(probe->last.quality));
    if (probe != NULL && probe->last_good.at_ms != TIME_NONE)
        text_add(text, "; the last was %s",
                 degrees_text(degrees, probe->last_good.temp_mC, against));
    text_add(text, ".");
}

void
add_excursion(struct text *text, const struct plan_limit *limit, int32_t temp_mC,
              int64_t outside_ms)
{
    char degrees[DEGREES_MAX], printed[32], lasted[DURATION_MAX];
    text_add(text, "%s for %s: %s, limit %s",
             is_upper_bound(limit->kind) ? "Too warm" : "Too cold",
             duration_text(lasted, sizeof lasted, outside_ms),
             degrees_text(degrees, temp_mC, limit->temp),
             limit_temp_text(printed, sizeof printed, limit->temp));
}

static const struct engine_deviation_view *
find_deviation(const struct snapshot *snapshot, uint32_t number)
{
    for (size_t i = 0; i < snapshot->deviation_count; i++)
        if (snapshot->deviations[i].view.number == number)
            return &snapshot->deviations[i].view;
    return NULL;
}

void
add_deviation_state(struct text *text, const struct snapshot *snapshot, uint32_t number)
{
    const struct engine_deviation_view *view = find_deviation(snapshot, number);
    if (view == NULL || view->action_seq == 0)
        text_add(text, " Deviation %u is open: act, and record what was done.",
                 (unsigned)number);
    else if (view->verified_seq == 0)
        text_add(text, " Deviation %u goes on; action by %s recorded, not yet verified.",
                 (unsigned)number, view->action_by);
    else
        text_add(text, " Deviation %u goes on; its action is verified.", (unsigned)number);
}

/* ---- places ---- */

static void
tell_watched_place(const struct snapshot *snapshot, struct snapshot_place *place,
                   const struct plan_place *plan, struct text *text)
{
    const struct engine_place_view *view = &place->view;
    const struct plan_limit *limit = &plan->limit;
    uint16_t number = snapshot->plan->probes[plan->probe].number;
    const struct engine_probe_view *probe = snapshot_probe(snapshot, number);
    char degrees[DEGREES_MAX], opens[DURATION_MAX];
    bool stale = view->temp_mC == TEMP_NONE || probe_is_stale(snapshot, probe);
    place->concern = view->deviation != 0     ? CONCERN_ACT
                     : stale || view->outside ? CONCERN_WATCH
                                              : CONCERN_NONE;
    if (stale) {
        add_silence(text, snapshot, probe, limit->temp);
        if (limit->kind != LIMIT_NONE) {
            text_add(text, " Limit: ");
            add_bound(text, limit);
            text_add(text, ".");
        }
    } else if (limit->kind == LIMIT_NONE) {
        text_add(text, "%s; no limit.", degrees_text(degrees, view->temp_mC, limit->temp));
    } else if (view->outside) {
        add_excursion(text, limit, view->temp_mC, view->outside_ms);
        if (view->deviation == 0)
            text_add(text, "; a deviation opens after %s",
                     duration_text(opens, sizeof opens, limit->tolerance_ms));
        text_add(text, ".");
    } else {
        text_add(text, "%s: %s, limit ",
                 is_upper_bound(limit->kind) ? "Cold enough" : "Hot enough",
                 degrees_text(degrees, view->temp_mC, limit->temp));
        add_bound(text, limit);
        text_add(text, ".");
    }
    if (view->deviation != 0)
        add_deviation_state(text, snapshot, view->deviation);
}

/* Its limit is suspended: said whether or not a probe watches. */
static void
tell_quiet(const struct snapshot *snapshot, struct snapshot_place *place,
           const struct plan_place *plan, struct text *text)
{
    const struct engine_place_view *view = &place->view;
    char clock[CLOCK_MAX], degrees[DEGREES_MAX];
    place->concern = CONCERN_WATCH;
    text_add(text, "Quiet until %s (%s): its limit is suspended, ",
             snapshot_clock_text(snapshot, place->quiet.until_ms, clock, sizeof clock),
             quiet_why_word(place->quiet.why));
    add_bound(text, &plan->limit);
    text_add(text, " again after that.");
    if (view->temp_mC != TEMP_NONE)
        text_add(text, " The last reading was %s.",
                 degrees_text(degrees, view->temp_mC, plan->limit.temp));
}

void
tell_place(const struct snapshot *snapshot, struct snapshot_place *place)
{
    struct text text;
    text_start(&text, place->sentence, sizeof place->sentence);
    place->concern = CONCERN_NONE;
    if (snapshot->plan == NULL || place->view.place >= snapshot->plan->place_count)
        return;
    const struct plan_place *plan = &snapshot->plan->places[place->view.place];
    if (place->quiet.why != QUIET_NONE)
        tell_quiet(snapshot, place, plan, &text);
    else if (plan->probe < 0)
        text_add(&text, "No probe watches this place.");
    else
        tell_watched_place(snapshot, place, plan, &text);
    add_switches(&text, snapshot, place);
    if (place->shelf.until_ms == TIME_NONE)
        return;
    if (place->concern == CONCERN_NONE)
        place->concern = CONCERN_WATCH;
    text_add(&text, " Its alarms are ");
    add_shelf(&text, snapshot, &place->shelf);
    text_add(&text, "; judging goes on.");
}

/* ---- deviations, and what waits for a person ---- */

static const char *
limit_kind_phrase(enum limit_kind kind)
{
    switch (kind) {
    case LIMIT_COOK:
    case LIMIT_COOK_TABLE:
    case LIMIT_LETHALITY:
    case LIMIT_SUM:
        return "cooking";
    case LIMIT_HOLD_HOT:
        return "hot holding";
    case LIMIT_HOLD_COLD:
        return "cold holding";
    case LIMIT_COOL:
        return "cooling";
    case LIMIT_REHEAT:
        return "reheating";
    case LIMIT_TIME:
        return "time without temperature control";
    case LIMIT_ZONE:
        return "time between cold and hot";
    case LIMIT_RISE:
        return "come-up time";
    case LIMIT_OVEN:
    case LIMIT_MOIST_OVEN:
        return "the oven's temperature";
    case LIMIT_DAYS:
        return "date mark";
    case LIMIT_NONE:
        break;
    }
    return "the step";
}

static void
add_where(struct text *text, const struct snapshot *snapshot, const struct decision *opened)
{
    int place = snapshot->plan == NULL || opened->place[0] == '\0'
                    ? -1
                    : plan_place_index(snapshot->plan, opened->place);
    if (opened->batch != 0) {
        const char *product = NULL;
        for (size_t i = 0; i < snapshot->batch_count; i++)
            if (snapshot->batches[i].view.number == opened->batch)
                product = snapshot->batches[i].view.product->name;
        text_add(text, "Batch %u", (unsigned)opened->batch);
        if (product != NULL)
            text_add(text, " (%s)", product);
    } else if (place >= 0) {
        text_add(text, "%s", snapshot->plan->places[place].name);
    } else if (opened->place[0] != '\0') {
        text_add(text, "%s", opened->place);
    } else if (opened->thermometer[0] != '\0') {
        const struct plan_handheld *held =
            snapshot->plan == NULL ? NULL : plan_handheld(snapshot->plan, opened->thermometer);
        text_add(text, "%s", held == NULL ? opened->thermometer : held->name);
    } else {
        add_probe_name(text, snapshot, opened->probe);
    }
    text_add(text, ": ");
}

/* Whether exactly at the limit was outside, as the plan says; a decision does not carry it. */
static bool
was_strict(const struct snapshot *snapshot, const struct decision *opened)
{
    if (opened->batch == 0) {
        int place =
            snapshot->plan == NULL ? -1 : plan_place_index(snapshot->plan, opened->place);
        return place >= 0 && snapshot->plan->places[place].limit.strict;
    }
    for (size_t i = 0; i < snapshot->batch_count; i++) {
        const struct engine_batch_view *view = &snapshot->batches[i].view;
        int step =
            view->number == opened->batch ? plan_step_index(view->product, opened->step) : -1;
        if (step >= 0)
            return view->product->steps[step].limit.strict;
    }
    return false;
}

static void
add_found(struct text *text, const struct snapshot *snapshot, const struct decision *opened)
{
    char degrees[DEGREES_MAX], limit[32];
    if (opened->temp_mC != TEMP_NONE)
        text_add(text, "%s, ", degrees_text(degrees, opened->temp_mC, opened->required));
    text_add(text, "limit ");
    if (opened->limit == LIMIT_TIME) /* which side it is on, the reason has said */
        text_add(text, "%s", limit_temp_text(limit, sizeof limit, opened->required));
    else
        add_bound_of(text, opened->limit, was_strict(snapshot, opened), opened->required);
}

/* E125: what it showed since it was last right is in doubt. */
static void
add_failed_check(struct text *text, const struct snapshot *snapshot,
                 const struct decision *opened)
{
    char shown[32], right[32], clock[CLOCK_MAX];
    text_add(text, "it showed %s °C where %s °C was right, outside its tolerance, at %s.",
             temp_text(shown, sizeof shown, opened->temp_mC),
             temp_text(right, sizeof right, opened->reference_mC),
             snapshot_clock_text(snapshot, opened->at_ms, clock, sizeof clock));
    if (opened->since_ms == TIME_NONE)
        text_add(text, " All it has shown until then is in doubt: it was never found right.");
    else
        text_add(text, " What it showed since %s is in doubt.",
                 snapshot_clock_text(snapshot, opened->since_ms, clock, sizeof clock));
}

static bool
is_excursion(enum decision_reason reason)
{
    return reason == REASON_OUT_TOO_LONG || reason == REASON_PERIOD_LONG ||
           reason == REASON_OUT_AGAIN || reason == REASON_ABOVE_CEILING;
}

static void
add_what_happened(struct text *text, const struct snapshot *snapshot,
                  const struct decision *opened)
{
    char clock[CLOCK_MAX], lasted[DURATION_MAX];
    bool limited = opened->limit != LIMIT_NONE;
    if (opened->reason == REASON_FAILED_CHECK) {
        add_failed_check(text, snapshot, opened);
        return;
    }
    if (opened->reason == REASON_DATE_PASSED) {
        text_add(text, "its last day was %s: throw it away.", opened->day);
        return;
    }
    if (opened->reason == REASON_NO_GOOD_READING) {
        text_add(text, "no good reading from ");
        add_probe_name(text, snapshot, opened->probe);
    } else if (opened->limit == LIMIT_ZONE || opened->limit == LIMIT_RISE) {
        text_add(text, "%s between cold and hot, in all longer than %s",
                 opened->limit == LIMIT_RISE ? "too long on its way up" : "too long",
                 duration_text(lasted, sizeof lasted, opened->required_ms));
    } else if (is_excursion(opened->reason) && opened->reason != REASON_OUT_AGAIN &&
               opened->reason != REASON_ABOVE_CEILING && limited) {
        text_add(text, "%s, ",
                 is_upper_bound(opened->limit) ? "too warm for too long"
                                               : "too cold for too long");
        add_found(text, snapshot, opened);
    } else if (opened->reason == REASON_TIME_UP && limited) {
        text_add(text, "%s without temperature control are over: throw it away",
                 duration_text(lasted, sizeof lasted, opened->required_ms));
    } else if (opened->reason == REASON_TOO_LATE && limited) {
        text_add(text, "not shown in time%s, ", opened->stage > 1 ? " in a later stage" : "");
        add_found(text, snapshot, opened);
        if (opened->required_ms > 0)
            text_add(text, " within %s",
                     duration_text(lasted, sizeof lasted, opened->required_ms));
    } else {
        text_add(text, "%s", decision_phrase(opened));
        if (limited) {
            text_add(text, ", ");
            add_found(text, snapshot, opened);
        }
    }
    int64_t since_ms = opened->since_ms != TIME_NONE ? opened->since_ms : opened->at_ms;
    if (opened->reason == REASON_NO_GOOD_READING || is_excursion(opened->reason))
        text_add(text, ", since %s",
                 snapshot_clock_text(snapshot, since_ms, clock, sizeof clock));
    else
        text_add(text, ", at %s",
                 snapshot_clock_text(snapshot, opened->at_ms, clock, sizeof clock));
    text_add(text, ".");
}

/* Of a place: the food that was in it. Of a batch it has been said already. */
#define FOOD_TOLD 6

static void
add_food(struct text *text, const struct engine_deviation_view *view)
{
    if (view->opened.batch != 0 || view->food_count == 0)
        return;
    text_add(text, view->food_count == 1 ? " Food in it: batch" : " Food in it: batches");
    for (size_t i = 0; i < view->food_count && i < FOOD_TOLD; i++)
        text_add(text, "%s %u", i == 0 ? "" : ",", (unsigned)view->food[i]);
    if (view->food_more || view->food_count > FOOD_TOLD)
        text_add(text, " and more");
    text_add(text, ".");
}

void
tell_deviation(const struct snapshot *snapshot, struct snapshot_deviation *deviation)
{
    const struct engine_deviation_view *view = &deviation->view;
    struct text text;
    char clock[CLOCK_MAX];
    text_start(&text, deviation->sentence, sizeof deviation->sentence);
    add_where(&text, snapshot, &view->opened);
    add_what_happened(&text, snapshot, &view->opened);
    if (view->ended_ms == TIME_NONE)
        text_add(&text, " It goes on.");
    else
        text_add(&text, " It ended at %s.",
                 snapshot_clock_text(snapshot, view->ended_ms, clock, sizeof clock));
    add_food(&text, view);
    tell_due(snapshot, deviation);
    if (deviation->overdue)
        text_add(&text, " OVERDUE since %s.",
                 snapshot_clock_text(snapshot, deviation->due_ms, clock, sizeof clock));
    if (view->action_seq == 0)
        text_add(&text, " To do: act, then record what was found, what was done and what "
                        "became of the food.");
    else if (view->verified_seq == 0)
        text_add(&text, " Action by %s. To do: verification%s.", view->action_by,
                 snapshot->plan != NULL && snapshot->plan->sole_operator != NULL
                     ? ""
                     : " by another person");
    else
        text_add(&text, " Action by %s, verified.", view->action_by);
}

/* E181 */
static void
tell_amend(const struct snapshot *snapshot, const struct engine_undecided_view *view,
           struct text *text)
{
    char clock[CLOCK_MAX];
    if (view->said.since_ms == TIME_NONE)
        text_add(text, "%s says that this step, which began by itself, did not begin.",
                 view->who);
    else
        text_add(text, "%s says that its cooling, which began by itself, counts from %s.",
                 view->who,
                 snapshot_clock_text(snapshot, view->said.since_ms, clock, sizeof clock));
    text_add(text, " Nothing is changed yet. To do: another person confirms or declines it.");
}

/* E175: which food is it? The clock does not wait for the answer. */
static void
tell_asked(const struct snapshot *snapshot, const struct decision *said, struct text *text)
{
    char clock[CLOCK_MAX];
    const char *since = snapshot_clock_text(snapshot, said->since_ms, clock, sizeof clock);
    int probe = snapshot->plan == NULL ? -1 : plan_probe_by_number(snapshot->plan, said->probe);
    if (said->batch != 0)
        text_add(text,
                 "It was last above the start of its cooling at %s, and its limit is not met. "
                 "Is it cooling? To do: move it to its next step, or heat it on. Its clock "
                 "counts from then.",
                 since);
    else
        text_add(text,
                 "%s shows hot food and is in no batch. To do: begin the batch with this "
                 "probe, or decide that it is none. The clock of its cooling counts from when "
                 "it was last above the start (%s).",
                 probe < 0 ? "A probe" : snapshot->plan->probes[probe].name, since);
}

/* A verdict that only a person can give, also after its batch has moved on or ended. */
static void
tell_undecided(const struct snapshot *snapshot, struct snapshot_undecided *undecided)
{
    const struct decision *said = &undecided->view.said;
    struct text text;
    char clock[CLOCK_MAX];
    text_start(&text, undecided->sentence, sizeof undecided->sentence);
    add_where(&text, snapshot, said);
    if (said->kind == DECISION_CORRECTION_WAITS) {
        tell_amend(snapshot, &undecided->view, &text);
        return;
    }
    if (said->kind == DECISION_ASKED) {
        tell_asked(snapshot, said, &text);
        return;
    }
    text_add(&text, "%s", limit_kind_phrase(said->limit));
    if (said->stage != 0)
        text_add(&text, ", stage %u,", said->stage);
    text_add(&text, " cannot be judged since %s: %s. To do: decide, with a reason.",
             snapshot_clock_text(snapshot, said->at_ms, clock, sizeof clock),
             decision_phrase(said));
}

void
snapshot_tell(struct snapshot *snapshot)
{
    for (size_t i = 0; i < snapshot->batch_count; i++) {
        tell_batch(snapshot, &snapshot->batches[i]);
        tell_ahead(snapshot, &snapshot->batches[i]);
    }
    tell_switches(snapshot);
    for (size_t i = 0; i < snapshot->place_count; i++)
        tell_place(snapshot, &snapshot->places[i]);
    for (size_t i = 0; i < snapshot->deviation_count; i++) {
        tell_deviation(snapshot, &snapshot->deviations[i]);
        tell_alarm(snapshot, &snapshot->deviations[i]);
    }
    for (size_t i = 0; i < snapshot->undecided_count; i++)
        tell_undecided(snapshot, &snapshot->undecided[i]);
    tell_checks(snapshot);
}
