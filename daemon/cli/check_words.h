/* What `trivet check` finds, as lines of words: what is well, or what is wrong and what to do
 * about it. Private to the cli room. Pure: everything looked at is handed in. */
#ifndef CLI_CHECK_WORDS_H
#define CLI_CHECK_WORDS_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include <jansson.h>

#include "trivet/log.h"
#include "trivet/plan.h"
#include "trivet/store.h"

#define CHECK_NAME_MAX 16
#define CHECK_TEXT_MAX 900

struct check_line {
    bool well;
    char name[CHECK_NAME_MAX]; /* what was looked at: "plan", "buses", ... */
    char text[CHECK_TEXT_MAX];
};

struct checks {
    struct check_line *line;
    size_t count, room;
    size_t wrong; /* lines that are not well */
    bool lost;    /* memory ran out: lines are missing */
};

void checks_init(struct checks *checks);
void checks_done(struct checks *checks);
/* A text that is too long ends early, after a whole character. */
void checks_add(struct checks *checks, bool well, const char *name, const char *format, ...)
    TRIVET_PRINTF(4, 5);

/* ---- arithmetic ---- */

/* What a reading costs on the disk, seals included: docs/benchmarks.md measures 20.6 to 24.0.
 */
#define CHECK_READING_BYTES 25
/* Below these somebody has to make room: time to notice and to act. */
#define CHECK_DAYS_LEAST 30
#define CHECK_MB_LEAST   100

/* Readings a day when every probe answers every time. */
uint64_t check_readings_a_day(const struct plan *plan);
/* Whole days until so many bytes are full; UINT64_MAX when nothing is read. */
uint64_t check_days_left(uint64_t free_bytes, uint64_t readings_a_day);
/* More readings than this without a seal mean that sealing does not keep up: those of three
 * sealing intervals, and a hundred. */
uint64_t check_unsealed_most(const struct plan *plan);

/* ---- each adds its lines; now is the daemon's "now" object (docs/page.md) ---- */

/* The plan file against the plan in force. file is NULL when it could not be loaded; faults
 * then says why. */
void check_plan(struct checks *checks, const json_t *now, const struct plan *file,
                const struct plan_faults *faults);
void check_signals(struct checks *checks, const json_t *now);
void check_buses(struct checks *checks, const json_t *now);
void check_probes(struct checks *checks, const json_t *now);
void check_thermometers(struct checks *checks, const json_t *now);
void check_recording(struct checks *checks, const json_t *now);
/* kernel_synced: the kernel says that a time source keeps its clock. */
void check_clock(struct checks *checks, const json_t *now, bool kernel_synced);
void check_open(struct checks *checks, const json_t *now);

/* plan NULL: the rate is not known. */
void check_disk(struct checks *checks, const char *directory, uint64_t free_bytes,
                const struct plan *plan);
void check_chain(struct checks *checks, const struct store_verdict *verdict,
                 const struct plan *plan);

#endif
