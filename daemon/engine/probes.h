/* The probes an engine knows, by their stored numbers, and their silence. */
#ifndef ENGINE_PROBES_H
#define ENGINE_PROBES_H

#include "daemon/engine/judge.h"

/* The probe's state; NULL when the number is unknown. */
struct probe_state *probe_find(struct engine *engine, uint16_t number);
/* Finds it or takes a free slot for it. */
struct probe_state *probe_take(struct engine *engine, uint16_t number);
size_t probe_slot(const struct engine *engine, const struct probe_state *probe);
/* Frees the slots of probes that are neither in the plan in force nor on a batch. */
void probes_sweep(struct engine *engine);
/* Sets what is due for it: the end of the plan's patience with its silence (E55 to E58). */
void probe_due_again(struct engine *engine, struct probe_state *probe);
/* E57: whose silence matters: of air probes always, of food probes while they watch something.
 */
bool probe_matters(const struct probe_state *probe);
/* Begins to count its silence, if it was not being watched. */
void probe_watched_from(struct probe_state *probe, int64_t at_ms);
void probe_due(struct engine *engine, struct engine_output *out, struct probe_state *probe,
               int64_t at_ms);
/* Notes a reading as judged, and what it was before its correction. */
void probe_note(struct engine *engine, struct engine_output *out, struct probe_state *probe,
                const struct reading *reading, int32_t raw_mC);
/* Fills slot_of, empty so far, after a load. */
void probes_index(struct engine *engine);

#endif
