/* Series that no working probe shows (E130 to E135). */
#ifndef ENGINE_DOUBT_H
#define ENGINE_DOUBT_H

#include "daemon/engine/state.h"
#include "trivet/engine.h"

/* A probe that has shown a step this small shows small changes: for one with coarser steps an
 * unchanged value means nothing. Common devices: tenths of a degree; common practice, no
 * source. */
#define STUCK_STEP_MAX_mC 200

/* With air or other food this far away heat flows, and a core has to change (E131). */
#define STUCK_APART_mC 30000

/* The quality of a reading with a temperature that is otherwise good; tells the beginning and
 * the end of a probe's being stuck. */
uint16_t doubt_judge(struct engine *engine, struct engine_output *out,
                     const struct reading *reading, struct probe_state *probe);

/* A person has looked at the probe, or handed it to other food: it starts from nothing. Tells
 * the end of its being stuck. out NULL: nobody is told. */
void doubt_clear(struct engine *engine, struct engine_output *out, struct probe_state *probe,
                 int64_t at_ms, enum decision_reason reason);

#endif
