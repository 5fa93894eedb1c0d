/* A hand-made kitchen for tests that need no daemon: a plan, a snapshot and a moment. The
 * snapshot is as the engine might leave it at SAMPLE_NOW_MS; a test changes what it is about
 * and calls snapshot_tell again. */
#ifndef SUPPORT_SAMPLE_KITCHEN_H
#define SUPPORT_SAMPLE_KITCHEN_H

#include "trivet/snapshot.h"

/* 2026-03-03T13:44:00Z, a Tuesday; Europe/London shows the same. */
#define SAMPLE_NOW_MS INT64_C(1772545440000)
#define MINUTES       INT64_C(60000)

enum { SAMPLE_ROAST_CORE = 1, SAMPLE_FILLING_CORE, SAMPLE_WALK_IN_AIR, SAMPLE_CUPBOARD_AIR };

struct sample_kitchen {
    struct plan plan;
    struct plan_person people[3];
    struct plan_bus buses[2];
    struct plan_probe probes[4];
    struct plan_place places[3]; /* walk-in, hot-cupboard, oven (no probe) */
    struct plan_product products[2];
    struct plan_handheld handhelds[1];
    struct plan_reference references[3];
};

/* Fills the plan. kitchen must outlive every snapshot made from it. */
void sample_kitchen_init(struct sample_kitchen *kitchen);

/* Batch 7, a roast cooking, and batch 8, a filling in its first cooling stage; three places; no
 * deviation. With its sentences. The caller releases it. */
struct snapshot *sample_snapshot(struct sample_kitchen *kitchen);

/* The same with one deviation, number 4: the walk-in too warm for too long. */
struct snapshot *sample_snapshot_with_deviation(struct sample_kitchen *kitchen);

/* The first with thermometers to check, every 30 days, in every state: the roast's core good
 * and corrected by 0.4 at a raw 0.0, the filling's never checked, the walk-in's overdue, the
 * cupboard's due soon, a hand-held pen found wrong. Of three references one has run out, one
 * will, one is good. */
struct snapshot *sample_snapshot_with_checks(struct sample_kitchen *kitchen);

/* Sets the last and last good reading of a probe. */
void sample_reading(struct snapshot *snapshot, uint16_t probe, int64_t at_ms, int32_t temp_mC);

#endif
