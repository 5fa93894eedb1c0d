/* Checks of thermometers: whether one was right when somebody looked, since when that is known,
 * and the correction of a probe from then on. Pure. */
#include "daemon/engine/calibrate.h"

#include <string.h>

#include "daemon/engine/probes.h"

void
check_state_clear(struct check_state *check)
{
    memset(check, 0, sizeof *check);
    check->checked_ms = check->good_ms = TIME_NONE;
}

const struct plan_checking *
calibration_rules(const struct plan *plan, const struct entry *entry)
{
    const struct plan_handheld *held =
        entry->thermometer[0] ? plan_handheld(plan, entry->thermometer) : NULL;
    int index = plan_probe_index(plan, entry->probe);
    if (entry->probe[0] && entry->thermometer[0])
        return NULL;
    if (index >= 0)
        return &plan->probes[index].checking;
    return held ? &held->checking : NULL;
}

static struct held_state *
held_find(struct engine *engine, const char *id)
{
    for (size_t i = 0; i < engine->state.counts.held; i++)
        if (strcmp(engine->state.held[i].id, id) == 0)
            return &engine->state.held[i];
    return NULL;
}

struct check_state *
calibration_state(struct engine *engine, const struct plan *plan, const struct entry *entry)
{
    int index = plan_probe_index(plan, entry->probe);
    struct probe_state *probe =
        index >= 0 ? probe_find(engine, plan->probes[index].number) : NULL;
    struct held_state *held = probe ? NULL : held_find(engine, entry->thermometer);
    if (probe)
        return &probe->check;
    return held ? &held->check : NULL;
}

/* ---- deviations ---- */

static size_t
failed_checks(const struct engine *engine)
{
    size_t count = 0;
    for (size_t i = 0; i < engine->state.counts.probes; i++)
        count += engine->state.probes[i].check.deviation != 0;
    for (size_t i = 0; i < engine->state.counts.held; i++)
        count += engine->state.held[i].check.deviation != 0;
    return count;
}

static struct decision *
say_check(struct engine *engine, struct engine_output *out, int64_t at_ms,
          enum decision_kind kind, enum decision_reason reason, uint16_t probe,
          const char *thermometer)
{
    struct decision *said = say(engine, out, at_ms, kind, reason);
    said->probe = probe;
    keep_word(said->thermometer, sizeof said->thermometer, probe ? "" : thermometer);
    return said;
}

static void
end_deviation(struct engine *engine, struct engine_output *out, int64_t at_ms,
              struct check_state *check, enum decision_reason reason, uint16_t probe,
              const char *thermometer)
{
    if (check->deviation == 0)
        return;
    struct decision *said =
        say_check(engine, out, at_ms, DECISION_DEVIATION_ENDED, reason, probe, thermometer);
    said->deviation = check->deviation;
    deviation_end(engine, check->deviation, at_ms);
    check->deviation = 0;
}

/* E125: what it showed since its last good check is in doubt. */
static void
open_deviation(struct engine *engine, struct engine_output *out, int64_t at_ms,
               struct check_state *check, const struct entry *entry, uint16_t probe)
{
    const struct calibration_point *worst =
        &entry->points[correction_worst(&check->correction, entry->points, entry->point_count)];
    if (check->deviation != 0)
        return; /* it goes on */
    bool room = failed_checks(engine) < FAILED_CHECKS_MAX;
    struct decision *said = say_check(engine, out, at_ms, DECISION_DEVIATION_OPENED,
                                      REASON_FAILED_CHECK, probe, entry->thermometer);
    said->since_ms = check->good_ms;
    said->temp_mC = correction_apply(&check->correction, worst->found_mC);
    said->reference_mC = worst->reference_mC;
    check->deviation = deviation_open(engine, said);
    if (!room)
        end_deviation(engine, out, at_ms, check, REASON_ENTERED, probe, entry->thermometer);
}

/* E216: what a probe shows is suspect as long as its last check left it outside. */
static void
tell_doubt(struct engine *engine, struct engine_output *out, int64_t at_ms, bool was_bad,
           bool is_bad, uint16_t probe)
{
    if (probe == 0 || was_bad == is_bad)
        return;
    (void)say_check(engine, out, at_ms,
                    is_bad ? DECISION_SUSPECT_BEGUN : DECISION_SUSPECT_ENDED,
                    is_bad ? REASON_FAILED_CHECK : REASON_GOOD_CHECK, probe, "");
}

/* ---- a check ---- */

/* E122: the points last measured: as left where it was adjusted, else as found. */
static const struct calibration_point *
last_measured(const struct entry *entry, size_t *ret_count)
{
    *ret_count = entry->left_count > 0 ? entry->left_count : entry->point_count;
    return entry->left_count > 0 ? entry->left : entry->points;
}

static void
choose_correction(struct check_state *check, const struct entry *entry,
                  const struct plan_checking *rules)
{
    size_t count;
    const struct calibration_point *points = last_measured(entry, &count);
    if (entry->correction == CORRECTION_ADOPT)
        (void)correction_from_points(points, count, rules->largest_mK, &check->correction);
    else if (entry->correction == CORRECTION_DROP)
        memset(&check->correction, 0, sizeof check->correction);
}

bool
calibration_is_doubted(struct engine *engine, const struct entry *entry)
{
    const struct held_state *held = held_find(engine, entry->thermometer);
    return held && held->check.left_bad;
}

void
calibration_take(struct engine *engine, struct engine_output *out,
                 const struct engine_input *input)
{
    const struct entry *entry = input->is.entry;
    const struct plan *plan = engine_plan(engine);
    const struct plan_checking *rules = plan ? calibration_rules(plan, entry) : NULL;
    struct check_state *check = rules ? calibration_state(engine, plan, entry) : NULL;
    if (!check || entry->point_count == 0)
        return;
    int index = plan_probe_index(plan, entry->probe);
    uint16_t probe = index >= 0 ? plan->probes[index].number : 0;
    size_t count;
    const struct calibration_point *left = last_measured(entry, &count);
    if (correction_within(&check->correction, entry->points, entry->point_count,
                          rules->tolerance_mK)) /* E120 */
        check->good_ms = input->at_ms;
    else
        open_deviation(engine, out, input->at_ms, check, entry, probe);
    choose_correction(check, entry, rules);
    check->checked_ms = input->at_ms;
    const bool was_bad = check->left_bad;
    check->left_bad =
        !correction_within(&check->correction, left, count, rules->tolerance_mK); /* E121 */
    tell_doubt(engine, out, input->at_ms, was_bad, check->left_bad, probe);
    if (check->left_bad)
        return;
    check->good_ms = input->at_ms;
    end_deviation(engine, out, input->at_ms, check, REASON_GOOD_CHECK, probe,
                  entry->thermometer); /* E126 */
}

/* ---- a plan comes into force ---- */

/* NULL and "" are the same to somebody who compares wires. */
static bool
same_text(const char *a, const char *b)
{
    return strcmp(a ? a : "", b ? b : "") == 0;
}

/* Whether both plans take this probe's number from the same place and read it the same way: the
 * tolerances, the name and how often may differ. */
static bool
same_number(const struct plan *was, const struct plan_probe *a, const struct plan *plan,
            const struct plan_probe *b)
{
    return strcmp(was->buses[a->bus].id, plan->buses[b->bus].id) == 0 &&
           was->buses[a->bus].driver == plan->buses[b->bus].driver && a->unit == b->unit &&
           a->function == b->function && a->reg == b->reg && a->type == b->type &&
           a->order == b->order && a->reads == b->reads && a->scale_micro == b->scale_micro &&
           a->offset_micro == b->offset_micro && a->column == b->column &&
           same_text(a->channel, b->channel) && same_text(a->address, b->address) &&
           same_text(a->node, b->node) && same_text(a->sensor, b->sensor) &&
           a->signal == b->signal;
}

static const struct plan_probe *
terminals_of(const struct plan *plan, const struct plan_probe *probe)
{
    return probe->cold_probe < 0 ? NULL : &plan->probes[probe->cold_probe];
}

/* And, of a thermocouple, with its terminals where they were; a probe there is none itself. */
static bool
same_source(const struct plan *was, const struct plan_probe *a, const struct plan *plan,
            const struct plan_probe *b)
{
    const struct plan_probe *cold_a = terminals_of(was, a), *cold_b = terminals_of(plan, b);
    if (!same_number(was, a, plan, b))
        return false;
    if (cold_a == NULL || cold_b == NULL)
        return cold_a == cold_b && a->cold_mC == b->cold_mC;
    return strcmp(cold_a->id, cold_b->id) == 0 && same_number(was, cold_a, plan, cold_b);
}

static bool
goes_on(const struct plan *was, const struct plan *plan, uint16_t number)
{
    int before = plan_probe_by_number(was, number), now = plan_probe_by_number(plan, number);
    return before >= 0 && now >= 0 &&
           same_source(was, &was->probes[before], plan, &plan->probes[now]);
}

/* Before the first plan there is no probe. */
static void
probes_follow(struct engine *engine, struct engine_output *out, int64_t at_ms,
              const struct plan *was, const struct plan *plan)
{
    for (size_t i = 0; i < engine->state.counts.probes; i++) {
        struct probe_state *probe = &engine->state.probes[i];
        if (goes_on(was, plan, probe->number))
            continue;
        if (probe->check.correction.count > 0)
            (void)say_check(engine, out, at_ms, DECISION_CORRECTION_ENDED, REASON_ENTERED,
                            probe->number, "");
        end_deviation(engine, out, at_ms, &probe->check, REASON_ENTERED, probe->number, "");
        check_state_clear(&probe->check);
    }
}

/* Those that the new plan no longer names are dropped. */
static void
held_leave(struct engine *engine, struct engine_output *out, int64_t at_ms,
           const struct plan *plan)
{
    struct engine_state *state = &engine->state;
    size_t kept = 0;
    for (size_t i = 0; i < state->counts.held; i++) {
        struct held_state *held = &state->held[i];
        if (!plan_handheld(plan, held->id))
            end_deviation(engine, out, at_ms, &held->check, REASON_ENTERED, 0, held->id);
        else
            memmove(&state->held[kept++], held, sizeof *held);
    }
    state->counts.held = (uint32_t)kept;
}

/* As many as the plan names, those it names already among them. */
static void
held_follow(struct engine *engine, struct engine_output *out, int64_t at_ms,
            const struct plan *plan)
{
    struct engine_state *state = &engine->state;
    held_leave(engine, out, at_ms, plan);
    for (size_t i = 0; i < plan->handheld_count; i++) {
        if (held_find(engine, plan->handhelds[i].id))
            continue;
        struct held_state *held = &state->held[state->counts.held++];
        keep_word(held->id, sizeof held->id, plan->handhelds[i].id);
        check_state_clear(&held->check);
    }
}

void
calibration_follows(struct engine *engine, struct engine_output *out, int64_t at_ms,
                    const struct plan *was, const struct plan *plan)
{
    probes_follow(engine, out, at_ms, was, plan);
    held_follow(engine, out, at_ms, plan);
}
