/* One or two plain sentences for each batch, place and deviation: how it is and what comes
 * next. Pure. */
#ifndef STATUS_SENTENCE_H
#define STATUS_SENTENCE_H

#include "text.h"
#include "trivet/snapshot.h"

void tell_batch(const struct snapshot *snapshot, struct snapshot_batch *batch);
/* After tell_batch: a forecast may raise the concern, never lower it. */
void tell_ahead(const struct snapshot *snapshot, struct snapshot_batch *batch);
void tell_place(const struct snapshot *snapshot, struct snapshot_place *place);
void tell_deviation(const struct snapshot *snapshot, struct snapshot_deviation *deviation);
/* By when it asks something of people, and whether that is overdue (duties.c). */
void tell_due(const struct snapshot *snapshot, struct snapshot_deviation *deviation);

/* How its alarm stands (alarms.c). */
void tell_alarm(const struct snapshot *snapshot, struct snapshot_deviation *deviation);
/* "shelved until 15:00 by AB (engineer is here)" */
void add_shelf(struct text *text, const struct snapshot *snapshot,
               const struct engine_shelf *shelf);

/* Which business days wait for their review (duties.c). */
void tell_reviews(struct snapshot *snapshot, const struct engine *engine);

/* Doors and buttons (switches.c), before their places; then what to say beside a place. */
void tell_switches(struct snapshot *snapshot);
void add_switches(struct text *text, const struct snapshot *snapshot,
                  struct snapshot_place *place);

/* ---- shared by the two files of sentences ---- */

/* "at least 63.0 °C", "above 63.0 °C" (strict), "at most 5.0 °C", "below 5.0 °C". */
void add_bound(struct text *text, const struct plan_limit *limit);
/* "by 14:32 (in 48 min as of the last reading)" or "by 14:32, which has passed"; read_ms is the
 * last good reading. */
void add_deadline(struct text *text, const struct snapshot *snapshot, int64_t deadline_ms,
                  int64_t read_ms);
/* The same with another word than " by". */
void add_deadline_word(struct text *text, const struct snapshot *snapshot, const char *word,
                       int64_t deadline_ms, int64_t read_ms);
/* "No good reading since 14:05 (no reply in time); the last was 48.3 °C." */
void add_silence(struct text *text, const struct snapshot *snapshot,
                 const struct engine_probe_view *probe, struct limit_temp against);
/* "Deviation 4 is open: record what was done." and its later states. */
void add_deviation_state(struct text *text, const struct snapshot *snapshot, uint32_t number);
/* Whether the probe's value must not be taken for the present one. NULL is stale. */
bool probe_is_stale(const struct snapshot *snapshot, const struct engine_probe_view *probe);
/* "Too warm for 12 min: 6.4 °C, limit 5.0 °C" */
void add_excursion(struct text *text, const struct plan_limit *limit, int32_t temp_mC,
                   int64_t outside_ms);
/* Its name as the plan has it, else its number. */
void add_probe_name(struct text *text, const struct snapshot *snapshot, uint16_t number);

/* How long food may still be kept; nothing when it has no date. */
void add_mark(struct text *text, const struct engine_mark_view *mark);

#endif
