/* A recorder with its store in a temporary directory, on a virtual clock, for tests: readings,
 * entries and plans are handed to it as the daemon's threads would. */
#ifndef SUPPORT_RECORDER_RIG_H
#define SUPPORT_RECORDER_RIG_H

#include "tests/support/check.h"

#include "trivet/recorder.h"

/* Probe 1 "core" (food), probe 2 "fridge" (air, watches the place "fridge": at most 5 °C, 1 min
 * tolerated); the product "roast" with the steps "cook" (63 °C for 30 s) and "rest". */
extern const char rr_plan_text[];

#define RR_WALL_START INT64_C(1772373600000) /* 2026-03-01T14:00:00Z */

struct recorder_rig {
    char directory[64];
    int64_t mono_ms, wall_ms;
    const char *text; /* of the plan at the next start; NULL = rr_plan_text */
    struct plan *plan;
    struct store *store;
    struct board *board;
    struct hook *hook; /* the test's; NULL = nobody is told */
    struct recorder *recorder;
    struct entry_answer answer; /* the last one given */
    int answers;
    bool was_on_record;                       /* at the moment of the answer */
    char refused_when_told[PLAN_REFUSED_MAX]; /* what the board showed then */
    uint64_t shown_seq;
    size_t shown_batches;
    const struct plan *decided; /* what the last plan request was told */
};

int rr_set_up(void **state); /* cmocka's; *state is the rig, started */
int rr_tear_down(void **state);

void rr_start(struct recorder_rig *rig);
/* Ends without a word, as a crash does: what is not committed is gone. */
void rr_crash(struct recorder_rig *rig);
void rr_pass(struct recorder_rig *rig, int64_t ms);
void rr_read(struct recorder_rig *rig, uint16_t probe, int32_t temp_mC);
/* Both probes every five seconds. */
void rr_read_for(struct recorder_rig *rig, int64_t for_ms, int32_t core_mC, int32_t fridge_mC);
int rr_enter(struct recorder_rig *rig, const struct entry *entry); /* the answer's code */
/* Hands a plan text to the recorder as a reload does; the answer's code. */
int rr_reload(struct recorder_rig *rig, const char *text);

/* How many records of that kind (NULL = any) whose body holds the text (NULL = any), with that
 * number (0 = any). */
size_t rr_records(const struct recorder_rig *rig, const char *kind, const char *holds,
                  uint64_t seq);
size_t rr_readings(const struct recorder_rig *rig);
struct entry rr_begin_roast(void);
struct entry rr_note(const char *text);
void rr_check_chain_and_replay(const struct recorder_rig *rig);

#endif
