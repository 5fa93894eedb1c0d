/* Thermocouples whose cold junction is another probe (E250, E251). */
#ifndef ENGINE_TERMINALS_H
#define ENGINE_TERMINALS_H

#include "daemon/engine/state.h"
#include "trivet/engine.h"

/* A plan comes into force: which probe is at whose terminals. After probes_follow. */
void terminals_follow(struct engine *engine, const struct plan *plan);
/* What a reading, as judged, says of the probe to the thermocouples at whose terminals it is.
 */
void terminals_note(struct probe_state *probe, uint16_t quality);
/* The quality of a reading that is otherwise good; tells the beginning and the end. */
uint16_t terminals_judge(struct engine *engine, struct engine_output *out,
                         const struct reading *reading, struct probe_state *probe);

#endif
