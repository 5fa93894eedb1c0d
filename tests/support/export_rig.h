/* A store in a temporary directory for tests of exports: a day is written into it, and each
 * kind of CSV is compared cell for cell. */
#ifndef SUPPORT_EXPORT_RIG_H
#define SUPPORT_EXPORT_RIG_H

#include "tests/support/check.h"

#include "tests/support/put_records.h"
#include "tests/support/temp_dir.h"
#include "trivet/export.h"
#include "trivet/units.h"

/* 2026-03-03T10:00:00Z */
#define MORNING_MS INT64_C(1772532000000)
#define MINUTE_MS  INT64_C(60000)

struct export_rig {
    struct temp_dir dir;
    struct store *store;
    bool zone_known; /* a plan is on record that can be read */
};

extern struct export_rig xr; /* of the running test; one thread */

int xr_set_up(void **state); /* cmocka's */
int xr_tear_down(void **state);

/* ---- writing the day ---- */

int64_t xr_minute(int64_t minutes); /* of the morning */
uint64_t xr_put_record(const char *kind, int64_t at_ms, const char *data);
void xr_put_reading(uint16_t probe, int64_t at_ms, int32_t temp_mC, uint16_t quality);
uint64_t xr_put_entry(int64_t at_ms, const struct entry *entry);
void xr_put_decision(struct decision decision);
void xr_commit(void);
struct entry xr_entry_by(enum entry_kind kind, const char *who);
struct decision xr_of_batch(struct decision decision, uint32_t batch, const char *step);
void xr_end_batch(uint32_t number, int64_t at_ms, const char *text);

/* ---- reading the export ---- */

struct xr_text {
    char *chars; /* the caller frees */
    size_t len, calls, stop_after, largest;
};

bool xr_collect(void *arg, const char *bytes, size_t len); /* arg: struct xr_text */
struct xr_text xr_export(enum export_kind kind, int64_t from_ms, int64_t to_ms);
/* expected has no local times: they are added. */
void xr_expect(enum export_kind kind, int64_t from_ms, int64_t to_ms, const char *expected);

#define EXPORT_TEST(name) cmocka_unit_test_setup_teardown(name, xr_set_up, xr_tear_down)

#endif
