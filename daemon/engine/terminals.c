/* A thermocouple measures the difference between its tip and its terminals: what it shows is as
 * good as the temperature of the terminals. Where that is a probe's and suspect, so is what was
 * made with it. Pure. */
#include "daemon/engine/terminals.h"

#include "daemon/engine/judge.h"
#include "daemon/engine/probes.h"
#include "trivet/reading.h"

void
terminals_follow(struct engine *engine, const struct plan *plan)
{
    struct engine_state *state = &engine->state;
    for (size_t i = 0; i < state->counts.probes; i++)
        state->probes[i].terminals = 0;
    for (size_t i = 0; i < plan->probe_count; i++) {
        const struct plan_probe *named = &plan->probes[i];
        struct probe_state *probe = probe_find(engine, named->number);
        if (probe && named->sensor && named->cold_probe >= 0)
            probe->terminals = plan->probes[named->cold_probe].number;
    }
}

void
terminals_note(struct probe_state *probe, uint16_t quality)
{
    if (!reading_is_bad(quality)) /* the driver goes on with the temperature before it */
        probe->doubted = reading_is_suspect(quality);
}

static void
tell(struct engine *engine, struct engine_output *out, const struct reading *reading,
     const struct probe_state *probe, enum decision_kind kind, enum decision_reason reason)
{
    const struct engine_state *state = &engine->state;
    struct decision *said = say(engine, out, reading->at_ms, kind, reason);
    said->probe = probe->number;
    said->temp_mC = reading->temp_mC;
    if (probe->batch != 0)
        said->batch = state->batches[probe->batch - 1].number;
    if (probe->first_place >= 0)
        keep_word(said->place, sizeof said->place, state->places[probe->first_place].id);
}

uint16_t
terminals_judge(struct engine *engine, struct engine_output *out, const struct reading *reading,
                struct probe_state *probe)
{
    const struct probe_state *at =
        probe->terminals ? probe_find(engine, probe->terminals) : NULL;
    const bool is_doubted = at && (at->doubted || at->check.left_bad);
    if (is_doubted && !probe->by_terminals)
        tell(engine, out, reading, probe, DECISION_SUSPECT_BEGUN,
             REASON_COLD_JUNCTION); /* E250 */
    if (!is_doubted && probe->by_terminals)
        tell(engine, out, reading, probe, DECISION_SUSPECT_ENDED, REASON_GOOD_AGAIN); /* E251 */
    probe->by_terminals = is_doubted;
    return is_doubted ? SUSPECT_COLD_JUNCTION : READING_GOOD;
}
