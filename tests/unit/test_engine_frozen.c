/* Dates of frozen food: what a freezer in order spares it, and one that is broken, silent or
 * that nobody watched does not; docs/engine.md E229 and E230. Figures: FDA Food Code 2022,
 * 3-501.18(A), time frozen is not counted. */
#include "tests/support/check.h"

#include <stdio.h>
#include <string.h>

#include "tests/support/mark_rig.h"

/* FC22-DISP: frozen days do not count, the days of freezing and of thawing do. */
static void
test_mark_frozen_days_do_not_count(void **state)
{
    (void)state;
    struct rig *rig = mark_rig(MARK("7"), NULL, FREEZER);
    mark_rig_day(rig, "0:00:00", "2026-03-01");
    rig_play(rig, "0:00:10 begin dish\n");
    mark_rig_day(rig, "0:00:20", "2026-03-03");
    rig_play(rig, "0:00:30 end stored\n");
    mark_rig_carry(rig, "0:00:40", "fridge"); /* three days used */
    assert_true(mark_rig_stored(rig).frozen);
    mark_rig_day(rig, "0:00:50", "2026-05-01");
    assert_int_equal(mark_rig_stored(rig).used, 3);
    assert_string_equal(mark_rig_stored(rig).day, "2026-05-04"); /* thawed today: four more */
    rig_expect(rig, "0:00:10 date-marked entered 2026-03-07 found 24:00:00\n");
    mark_rig_carry(rig, "0:01:00", "shelf");
    assert_int_equal(mark_rig_stored(rig).used, 4);
    rig_expect(rig, "0:01:00 date-marked entered 2026-05-04 found 96:00:00\n");
    mark_rig_day(rig, "0:01:10", "2026-05-04");
    assert_false(mark_rig_stored(rig).passed);
    mark_rig_day(rig, "0:01:20", "2026-05-05");
    assert_true(mark_rig_stored(rig).passed);
    rig_play(rig, "0:01:30 end discarded\n");
    rig_expect(rig, "0:01:20 deviation-opened date-passed #1 2026-05-04 found 192:00:00\n"
                    "0:01:30 deviation-ended batch-ended #1 2026-05-04 found 192:00:00\n");
    rig_free(rig);
}

/* A freezer that is broken keeps nothing frozen for certain. */
static void
test_mark_broken_freezer_counts(void **state)
{
    (void)state;
    struct rig *rig = mark_rig(MARK("7"), PLACE_FRIDGE, FREEZER_LIMIT);
    mark_rig_day(rig, "0:00:00", "2026-03-01");
    rig_play(rig, "0:00:00-0:00:10 a1 -20.0\n0:00:10 begin dish\n");
    mark_rig_day(rig, "0:00:20", "2026-03-05");
    assert_int_equal(rig_batch(rig).mark.used, 1);
    rig_play(rig, "0:00:20 a1 -18.0\n");
    assert_int_equal(rig_batch(rig).mark.used, 1);
    rig_play(rig, "0:00:30 a1 -17.999\n");
    assert_int_equal(rig_batch(rig).mark.used, 2);
    mark_rig_day(rig, "0:00:40", "2026-03-06");
    assert_int_equal(rig_batch(rig).mark.used, 3);
    rig_free(rig);
}

/* A batch in the freezer on the 1st, the freezer as the readings show on the 5th; nobody
 * watches from then to 0:40:00. FDA Food Code 2022, 3-501.18(A)(1): time that it is frozen is
 * not counted. Only what is known to be is. */
static struct rig *
unwatched_of(const char *limit, const char *readings)
{
    struct rig *rig = mark_rig(MARK("7"), PLACE_FRIDGE, limit);
    mark_rig_day(rig, "0:00:00", "2026-03-01");
    rig_play(rig, "0:00:00-0:00:10 a1 -20.0\n0:00:10 begin dish\n");
    mark_rig_day(rig, "0:00:20", "2026-03-05");
    assert_int_equal(rig_batch(rig).mark.used, 1);
    rig_play(rig, readings);
    rig_reload(rig);
    rig_play(rig, "0:40:00 restart 0:01:00\n");
    rig_reload(rig);
    return rig;
}

static struct rig *
unwatched(const char *readings)
{
    return unwatched_of(FREEZER_LIMIT, readings);
}

/* The 5th, on which it broke, and each day of the outage, the last included. */
static void
test_mark_outage_that_begins_in_a_broken_freezer_counts_each_day(void **state)
{
    (void)state;
    struct rig *rig = unwatched("0:00:20 a1 -20.0\n0:00:30 a1 -10.0\n");
    assert_int_equal(rig_batch(rig).mark.used, 2);
    mark_rig_day(rig, "0:40:00", "2026-03-09");
    assert_int_equal(rig_batch(rig).mark.used, 6);
    rig_play(rig, "0:40:10-1:40:00 a1 -20.0\n");
    assert_non_null(strstr(rig->log, "deviation-ended back-inside"));
    mark_rig_day(rig, "1:40:10", "2026-03-10"); /* frozen again */
    assert_int_equal(rig_batch(rig).mark.used, 6);
    rig_free(rig);
    rig = unwatched("0:00:20 a1 -20.0\n0:00:30 a1 -10.0\n");
    mark_rig_day(rig, "0:40:00", "2026-03-11"); /* six more than two: not on the eighth day */
    assert_true(rig_batch(rig).mark.passed);
    rig_free(rig);
}

/* The clock could not be trusted at once: no day is on record until the freezer is cold again.
 */
static void
test_mark_outage_in_a_broken_freezer_that_is_heard_of_late(void **state)
{
    (void)state;
    struct rig *rig = unwatched("0:00:20 a1 -20.0\n0:00:30 a1 -10.0\n");
    rig_play(rig, "0:40:10-1:40:00 a1 -20.0\n");
    assert_non_null(strstr(rig->log, "deviation-ended back-inside"));
    rig_reload(rig);
    mark_rig_day(rig, "1:40:10", "2026-03-09");
    assert_int_equal(rig_batch(rig).mark.used, 6);
    rig_free(rig);
}

/* Outside for less than the tolerance when last seen is outside throughout (E62). */
static void
test_mark_outage_that_begins_within_the_tolerance(void **state)
{
    (void)state;
    struct rig *rig = unwatched_of(
        "{kind: hold_cold, applies_to: air, at_most: -18 °C, tolerance: 20 min}, freezer: yes",
        "0:00:20 a1 -20.0\n0:00:30 a1 -10.0\n");
    assert_non_null(strstr(rig->log, "0:40:00 deviation-opened outage"));
    rig_play(rig, "0:40:10-1:40:00 a1 -20.0\n");
    assert_non_null(strstr(rig->log, "deviation-ended back-inside"));
    mark_rig_day(rig, "1:40:10", "2026-03-09");
    assert_int_equal(rig_batch(rig).mark.used, 6);
    rig_free(rig);
}

/* A silence is a deviation of its own: nobody sees the freezer before the outage either. */
static void
test_mark_outage_that_begins_in_a_silence_counts_each_day(void **state)
{
    (void)state;
    struct rig *rig = mark_rig(MARK("7"), PLACE_FRIDGE, FREEZER_LIMIT);
    mark_rig_day(rig, "0:00:00", "2026-03-01");
    rig_play(rig, "0:00:00-0:00:10 a1 -20.0\n0:00:10 begin dish\n0:30:00 wait\n"
                  "0:40:00 restart 0:30:00\n");
    assert_non_null(strstr(rig->log, "gap-opened"));
    mark_rig_day(rig, "0:40:00", "2026-03-05");
    assert_int_equal(rig_batch(rig).mark.used, 5);
    rig_free(rig);
}

/* In order before and after: it was in a freezer throughout. The day that begins while the
 * probe has not been heard again counts. */
static void
test_mark_outage_of_a_freezer_in_order(void **state)
{
    (void)state;
    struct rig *rig = unwatched("0:00:20-0:01:00 a1 -20.0\n");
    mark_rig_day(rig, "0:40:00", "2026-03-09");
    assert_int_equal(rig_batch(rig).mark.used, 2);
    rig_play(rig,
             "0:40:10 a1 -20.0\n0:40:20 a1 -10.0\n"); /* broken now, on a day that counts */
    assert_int_equal(rig_batch(rig).mark.used, 2);
    rig_free(rig);
}

/* Broken in a later outage of the same day: the earlier days were frozen ones. */
static void
test_mark_second_outage_does_not_count_the_days_of_the_first(void **state)
{
    (void)state;
    struct rig *rig = unwatched("0:00:20-0:01:00 a1 -20.0\n");
    mark_rig_day(rig, "0:40:00", "2026-03-09");
    rig_play(rig, "0:40:10-1:00:00 a1 -20.0\n2:00:00 restart 1:00:00\n2:00:10 a1 -10.0\n");
    assert_int_equal(rig_batch(rig).mark.used, 2);
    rig_free(rig);
}

/* In order before and broken after: nobody knows since when. */
static void
test_mark_outage_after_which_the_freezer_is_broken(void **state)
{
    (void)state;
    struct rig *rig = unwatched("0:00:20-0:01:00 a1 -20.0\n");
    mark_rig_day(rig, "0:40:00", "2026-03-09");
    rig_reload(rig);
    rig_play(rig, "0:40:10 a1 -10.0\n");
    assert_int_equal(rig_batch(rig).mark.used, 5); /* the 1st, and the 6th to the 9th */
    rig_free(rig);
}

/* Brought from a freezer that is in order to one that is not. */
static void
test_mark_frozen_food_into_a_broken_freezer_counts(void **state)
{
    (void)state;
    rig_place_more = "  - {id: chest, name: Chest, freezer: yes, limit: {kind: none}}\n";
    struct rig *rig = mark_rig(MARK("7"), NULL, FREEZER_LIMIT);
    rig_place_more = NULL;
    mark_rig_day(rig, "0:00:00", "2026-03-01");
    rig_play(rig, "0:00:00 a1 -20.0\n0:00:10 begin dish\n0:00:10 end stored\n");
    mark_rig_carry(rig, "0:00:10", "chest");
    mark_rig_day(rig, "0:00:20", "2026-03-05");
    rig_play(rig, "0:00:30 a1 -10.0\n");
    assert_int_equal(mark_rig_stored(rig).used, 1);
    mark_rig_carry(rig, "0:00:40", "fridge");
    assert_int_equal(mark_rig_stored(rig).used, 2);
    rig_free(rig);
}

/* E228: told as soon as it is over, not when the next day begins. */
static void
test_mark_that_a_thawing_or_a_broken_freezer_ends_is_told_at_once(void **state)
{
    (void)state;
    struct rig *rig = mark_rig(MARK("1"), PLACE_FRIDGE, FREEZER_LIMIT);
    mark_rig_day(rig, "0:00:00", "2026-03-01");
    rig_play(rig, "0:00:00-0:00:10 a1 -20.0\n0:00:10 begin dish\n");
    mark_rig_day(rig, "0:00:20", "2026-03-05");
    rig_expect(rig, "");
    rig_play(rig, "0:00:30 a1 -17.0\n");
    rig_expect(rig, "0:00:30 deviation-opened out-too-long #1 fridge p4 -17.0 since 0:00:30\n"
                    "0:00:30 deviation-opened date-passed #2 2026-03-04 found 48:00:00\n");
    rig_free(rig);
    rig = mark_rig(MARK("1"), PLACE_FRIDGE, FREEZER);
    mark_rig_day(rig, "0:00:00", "2026-03-01");
    rig_play(rig, "0:00:10 begin dish\n");
    mark_rig_day(rig, "0:00:20", "2026-03-05");
    rig_play(rig, "0:00:30 move after place=shelf\n");
    rig_expect(rig, "0:00:30 deviation-opened date-passed #1 2026-03-04 found 48:00:00\n");
    rig_free(rig);
}

/* E230: of everything in the freezer, batches and food in store. */
static void
test_mark_broken_freezer_counts_for_all_food_in_it(void **state)
{
    (void)state;
    struct rig *rig = mark_rig(MARK("7"), PLACE_FRIDGE, FREEZER_LIMIT);
    struct engine_stored_view kept[2];
    struct engine_batch_view open[2];
    mark_rig_day(rig, "0:00:00", "2026-03-01");
    rig_play(rig, "0:00:00-0:00:10 a1 -20.0\n0:00:10 begin dish\n0:00:10 begin dish\n0:00:10 "
                  "begin dish\n0:00:10 begin dish\n0:00:11 end stored batch=1\n0:00:12 end "
                  "stored batch=2\n");
    mark_rig_day(rig, "0:00:20", "2026-03-05");
    rig_play(rig, "0:00:30 a1 -17.0\n");
    rig_play(rig, "0:40:00 restart 0:01:00\n");
    mark_rig_day(rig, "0:40:00", "2026-03-07"); /* the 5th, 6th and 7th after the 1st */
    assert_int_equal(engine_view_stored(rig->engine, kept, 2), 2);
    assert_int_equal(engine_view_batches(rig->engine, open, 2), 2);
    for (size_t i = 0; i < 2; i++) {
        assert_int_equal(kept[i].mark.used, 4);
        assert_int_equal(open[i].mark.used, 4);
    }
    rig_free(rig);
}

/* E229: stored into a freezer it is frozen from then on. */
static void
test_mark_of_food_stored_into_a_freezer(void **state)
{
    (void)state;
    struct rig *rig = mark_rig(MARK("7"), NULL, FREEZER);
    mark_rig_day(rig, "0:00:00", "2026-03-01");
    rig_play(rig, "0:00:10 begin dish\n0:00:20 end stored place=fridge\n");
    assert_true(mark_rig_stored(rig).frozen);
    mark_rig_day(rig, "0:00:30", "2026-03-05");
    assert_int_equal(mark_rig_stored(rig).used, 1);
    rig_free(rig);
}

/* E229: from one freezer that is in order to another it stays frozen. */
static void
test_mark_of_food_that_is_carried_from_freezer_to_freezer(void **state)
{
    (void)state;
    rig_place_more = "  - {id: chest, name: Chest, limit: {kind: none}, freezer: yes}\n";
    struct rig *rig = mark_rig(MARK("7"), PLACE_FRIDGE, FREEZER);
    rig_place_more = NULL;
    mark_rig_day(rig, "0:00:00", "2026-03-01");
    rig_play(rig, "0:00:10 begin dish\n0:00:10 end stored\n");
    mark_rig_day(rig, "0:00:20", "2026-03-05");
    mark_rig_carry(rig, "0:00:30", "chest");
    assert_int_equal(mark_rig_stored(rig).used, 1);
    assert_true(mark_rig_stored(rig).frozen);
    rig_free(rig);
}

/* E230: brought into a freezer whose probe is silent it is as frozen as before; a day that
 * begins there counts. */
static void
test_mark_frozen_food_into_a_silent_freezer(void **state)
{
    (void)state;
    rig_place_more = "  - {id: chest, name: Chest, freezer: yes, limit: {kind: none}}\n";
    struct rig *rig = mark_rig(MARK("7"), NULL, FREEZER_LIMIT);
    rig_place_more = NULL;
    mark_rig_day(rig, "0:00:00", "2026-03-01");
    rig_play(rig, "0:00:00 a1 -20.0\n0:00:10 begin dish\n0:00:10 end stored\n");
    mark_rig_carry(rig, "0:00:10", "chest");
    mark_rig_day(rig, "0:00:20", "2026-03-05");
    rig_play(rig, "0:06:00 wait\n");
    mark_rig_carry(rig, "0:06:10", "fridge");
    assert_int_equal(mark_rig_stored(rig).used, 1);
    mark_rig_day(rig, "0:06:20", "2026-03-06");
    assert_int_equal(mark_rig_stored(rig).used, 2);
    rig_free(rig);
}

/* Whatever else is wrong in the kitchen, and was told before. */
static void
test_mark_broken_freezer_counts_behind_other_deviations(void **state)
{
    (void)state;
    struct rig *rig = mark_rig(MARK("7"), PLACE_FRIDGE, FREEZER_LIMIT);
    mark_rig_day(rig, "0:00:00", "2026-03-01");
    rig_play(rig, "0:00:00 begin dish p1\n0:00:10-0:06:00 a1 -20.0\n0:06:10 a1 -10.0\n");
    assert_non_null(strstr(rig->log, "gap-opened no-good-reading #1"));
    mark_rig_day(rig, "0:06:20", "2026-03-02");
    assert_int_equal(rig_batch(rig).mark.used, 2);
    rig_free(rig);
}

/* Food that left the freezer within its tolerance is concerned, and may be gone already. */
static void
test_mark_of_food_that_is_gone_when_the_freezer_is_broken(void **state)
{
    (void)state;
    struct rig *rig =
        mark_rig(MARK("7"), PLACE_FRIDGE,
                 "{kind: hold_cold, applies_to: air, at_most: -18 °C, tolerance: 4 "
                 "min}, freezer: yes");
    mark_rig_day(rig, "0:00:00", "2026-03-01");
    rig_play(rig, "0:00:00 a1 -20.0\n0:00:10 begin dish\n0:00:10 begin dish\n");
    mark_rig_day(rig, "0:00:20", "2026-03-05");
    rig_play(rig, "0:00:30 a1 -10.0\n0:01:00 end served\n0:04:31 wait\n");
    rig_expect(rig, "0:04:30 deviation-opened out-too-long #1 fridge p4 -10.0 since 0:00:30 "
                    "found 0:04:00\n");
    assert_int_equal(rig_batch(rig).number, 2);
    assert_int_equal(rig_batch(rig).mark.used, 2);
    rig_free(rig);
}

/* Two batches and two in store, in order before the outage and broken after it: of all of them
 * nobody knows since when. */
static void
test_mark_outage_concerns_all_food_in_the_freezer(void **state)
{
    (void)state;
    struct engine_batch_view batches[3];
    struct engine_stored_view kept[3];
    static const struct {
        const char *after;
        int used;
    } cases[] = {
        {"0:40:10 a1 -10.0\n", 5},                           /* the 1st, and 6th to 9th */
        {"0:40:00 a1 -20.0\n0:40:10-0:40:30 a1 -10.0\n", 2}, /* and the 9th */
        /* Broken in a second outage of that day. */
        {"0:40:10-1:00:00 a1 -20.0\n2:00:00 restart 1:00:00\n2:00:10 a1 -10.0\n", 2},
    };
    for (size_t c = 0; c < COUNT_OF(cases); c++) {
        struct rig *rig = mark_rig(MARK("30"), PLACE_FRIDGE, FREEZER_LIMIT);
        mark_rig_day(rig, "0:00:00", "2026-03-01");
        rig_play(rig, "0:00:00-0:00:10 a1 -20.0\n0:00:10 begin dish\n0:00:10 begin dish\n"
                      "0:00:10 begin dish\n0:00:10 begin dish\n0:00:11 end stored batch=1\n"
                      "0:00:11 end stored batch=2\n");
        mark_rig_day(rig, "0:00:20", "2026-03-05");
        rig_play(rig, "0:00:20-0:01:00 a1 -20.0\n0:40:00 restart 0:01:00\n");
        mark_rig_day(rig, "0:40:00", "2026-03-09");
        rig_play(rig, cases[c].after);
        assert_int_equal(engine_view_batches(rig->engine, batches, 3), 2);
        assert_int_equal(engine_view_stored(rig->engine, kept, 3), 2);
        for (size_t i = 0; i < 2; i++) {
            assert_int_equal(batches[i].mark.used, cases[c].used);
            assert_int_equal(kept[i].mark.used, cases[c].used);
        }
        rig_free(rig);
    }
}

/* It broke and was mended on the first day: the outage came over a freezer in order. */
static void
test_mark_outage_after_a_deviation_that_was_over(void **state)
{
    (void)state;
    struct rig *rig = mark_rig(MARK("30"), PLACE_FRIDGE, FREEZER_LIMIT);
    mark_rig_day(rig, "0:00:00", "2026-03-01");
    rig_play(rig, "0:00:00-0:00:10 a1 -20.0\n0:00:10 begin dish\n0:00:20-0:01:00 a1 -10.0\n"
                  "0:01:10-0:30:00 a1 -20.0\n");
    assert_non_null(strstr(rig->log, "deviation-ended back-inside"));
    rig_play(rig, "0:40:00 restart 0:30:00\n0:40:10 a1 -20.0\n");
    mark_rig_day(rig, "0:40:20", "2026-03-05");
    assert_int_equal(rig_batch(rig).mark.used, 1);
    rig_free(rig);
}

/* An outage over midnight that began in a broken freezer, mended when the day is heard of: one
 * midnight has no day between, two have one. */
static void
test_mark_days_between_that_begin_in_a_broken_freezer(void **state)
{
    (void)state;
    static const struct {
        const char *heard;
        int used;
    } cases[] = {{"2026-03-06", 2}, {"2026-03-07", 4}};
    for (size_t i = 0; i < COUNT_OF(cases); i++) {
        struct rig *rig = unwatched("0:00:20 a1 -20.0\n0:00:30 a1 -10.0\n");
        rig_play(rig, "0:40:10-1:40:00 a1 -20.0\n");
        mark_rig_day(rig, "1:40:10", cases[i].heard);
        assert_int_equal(rig_batch(rig).mark.used, cases[i].used);
        rig_free(rig);
    }
}

/* The days of an outage are of the food that was there: once it thaws they are forgotten, and
 * what breaks later counts its own day. */
static void
test_mark_unseen_days_end_with_the_day(void **state)
{
    (void)state;
    struct rig *rig = mark_rig(MARK("30"), PLACE_FRIDGE, FREEZER_LIMIT);
    mark_rig_day(rig, "0:00:00", "2026-03-01");
    rig_play(rig, "0:00:00-0:00:10 a1 -20.0\n0:00:10 begin dish\n0:00:10 end stored\n"
                  "0:40:00 restart 0:00:10\n");
    mark_rig_day(rig, "0:40:00", "2026-03-05"); /* it counts: the probe is silent */
    assert_int_equal(mark_rig_stored(rig).used, 2);
    mark_rig_carry(rig, "0:40:10", "shelf");
    mark_rig_day(rig, "0:40:20", "2026-03-06");
    assert_int_equal(mark_rig_stored(rig).used, 3);
    mark_rig_carry(rig, "0:40:30", "fridge");
    rig_play(rig, "0:40:40 a1 -10.0\n");
    assert_non_null(strstr(rig->log, "0:40:40 deviation-opened"));
    assert_int_equal(mark_rig_stored(rig).used, 3);
    rig_free(rig);
}

/* Counted once, whatever breaks after it on the same day. */
static void
test_mark_unseen_days_count_once(void **state)
{
    (void)state;
    struct rig *rig = mark_rig(MARK("30"), PLACE_FRIDGE, FREEZER_LIMIT);
    mark_rig_day(rig, "0:00:00", "2026-03-01");
    rig_play(rig, "0:00:00-0:00:10 a1 -20.0\n0:00:10 begin dish\n0:01:00 restart 0:00:10\n");
    mark_rig_day(rig, "0:01:00", "2026-03-05");
    rig_play(rig, "0:01:10 a1 -10.0\n");
    assert_int_equal(rig_batch(rig).mark.used, 5);
    rig_play(rig, "0:20:00 wait\n");
    assert_non_null(strstr(rig->log, "gap-opened no-good-reading"));
    assert_int_equal(rig_batch(rig).mark.used, 5);
    rig_free(rig);
}

/* Frozen food that waits for its packing: none of the days before it counts. */
static void
test_mark_unseen_days_before_the_count_begins(void **state)
{
    (void)state;
    rig_life = MARK("30");
    struct rig *rig = rig_new(PLACE_FRIDGE "}\n      - {id: pack, name: Packing, starts_date: "
                                           "yes, limit: {kind: none}",
                              FREEZER_LIMIT);
    rig_life = NULL;
    mark_rig_day(rig, "0:00:00", "2026-03-01");
    rig_play(rig, "0:00:00-0:00:10 a1 -20.0\n0:00:10 begin dish\n0:40:00 restart 0:00:10\n");
    mark_rig_day(rig, "0:40:00", "2026-03-05");
    rig_play(rig, "0:40:05 move\n0:40:10 a1 -10.0\n");
    assert_int_equal(rig_batch(rig).mark.used, 1);
    rig_free(rig);
}

/* It broke, and was mended in the second outage: all that was in it is doubted. */
static void
test_mark_second_outage_in_a_broken_freezer_counts_for_all_food(void **state)
{
    (void)state;
    struct engine_batch_view batches[3];
    struct engine_stored_view kept[3];
    struct rig *rig = mark_rig(MARK("30"), PLACE_FRIDGE, FREEZER_LIMIT);
    mark_rig_day(rig, "0:00:00", "2026-03-01");
    rig_play(rig, "0:00:00-0:00:10 a1 -20.0\n0:00:10 begin dish\n0:00:10 begin dish\n"
                  "0:00:10 begin dish\n0:00:10 begin dish\n0:00:11 end stored batch=1\n"
                  "0:00:11 end stored batch=2\n0:00:20-0:01:00 a1 -10.0\n");
    rig_play(rig, "0:40:00 restart 0:01:00\n0:40:10-1:40:00 a1 -20.0\n");
    mark_rig_day(rig, "1:40:10", "2026-03-05");
    assert_int_equal(engine_view_batches(rig->engine, batches, 3), 2);
    assert_int_equal(engine_view_stored(rig->engine, kept, 3), 2);
    for (size_t i = 0; i < 2; i++) {
        assert_int_equal(batches[i].mark.used, 5);
        assert_int_equal(kept[i].mark.used, 5);
    }
    rig_free(rig);
}

/* Two freezers under one probe; the food is carried from the one that broke to the other, which
 * then breaks as well. The days of the outage count once. */
static void
test_mark_unseen_days_count_once_in_two_freezers(void **state)
{
    (void)state;
    rig_place_more = "  - {id: chest, name: Chest, probe: a1, freezer: yes, limit: {kind: "
                     "hold_cold, applies_to: air, at_most: -18 °C, tolerance: 5 min}}\n";
    struct rig *rig = mark_rig(MARK("30"), PLACE_FRIDGE, FREEZER_LIMIT);
    rig_place_more = NULL;
    mark_rig_day(rig, "0:00:00", "2026-03-01");
    rig_play(rig, "0:00:00-0:00:10 a1 -20.0\n0:00:10 begin dish\n0:00:10 end stored\n"
                  "0:40:00 restart 0:00:10\n");
    mark_rig_day(rig, "0:40:00", "2026-03-05");
    rig_play(rig, "0:40:10 a1 -10.0\n");
    assert_int_equal(mark_rig_stored(rig).used, 5);
    mark_rig_carry(rig, "0:40:15", "chest");
    rig_play(rig, "0:40:20-0:46:00 a1 -10.0\n");
    assert_non_null(strstr(rig->log, "deviation-opened out-too-long #3 of #2 silent chest"));
    assert_int_equal(mark_rig_stored(rig).used, 5);
    rig_free(rig);
}

static void
test_mark_day_that_is_heard_twice_of_a_broken_freezer(void **state)
{
    (void)state;
    struct rig *rig = mark_rig(MARK("30"), PLACE_FRIDGE, FREEZER_LIMIT);
    mark_rig_day(rig, "0:00:00", "2026-03-01");
    rig_play(rig, "0:00:00 a1 -20.0\n0:00:10 begin dish\n0:00:20 a1 -10.0\n");
    mark_rig_day(rig, "0:00:20", "2026-03-02");
    mark_rig_day(rig, "0:00:20", "2026-03-02");
    assert_int_equal(rig_batch(rig).mark.used, 2);
    rig_free(rig);
}

int
main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_mark_frozen_days_do_not_count),
        cmocka_unit_test(test_mark_broken_freezer_counts),
        cmocka_unit_test(test_mark_outage_that_begins_in_a_broken_freezer_counts_each_day),
        cmocka_unit_test(test_mark_outage_in_a_broken_freezer_that_is_heard_of_late),
        cmocka_unit_test(test_mark_outage_that_begins_within_the_tolerance),
        cmocka_unit_test(test_mark_outage_that_begins_in_a_silence_counts_each_day),
        cmocka_unit_test(test_mark_outage_of_a_freezer_in_order),
        cmocka_unit_test(test_mark_second_outage_does_not_count_the_days_of_the_first),
        cmocka_unit_test(test_mark_outage_after_which_the_freezer_is_broken),
        cmocka_unit_test(test_mark_frozen_food_into_a_broken_freezer_counts),
        cmocka_unit_test(test_mark_that_a_thawing_or_a_broken_freezer_ends_is_told_at_once),
        cmocka_unit_test(test_mark_broken_freezer_counts_for_all_food_in_it),
        cmocka_unit_test(test_mark_of_food_stored_into_a_freezer),
        cmocka_unit_test(test_mark_of_food_that_is_carried_from_freezer_to_freezer),
        cmocka_unit_test(test_mark_frozen_food_into_a_silent_freezer),
        cmocka_unit_test(test_mark_broken_freezer_counts_behind_other_deviations),
        cmocka_unit_test(test_mark_of_food_that_is_gone_when_the_freezer_is_broken),
        cmocka_unit_test(test_mark_outage_concerns_all_food_in_the_freezer),
        cmocka_unit_test(test_mark_outage_after_a_deviation_that_was_over),
        cmocka_unit_test(test_mark_days_between_that_begin_in_a_broken_freezer),
        cmocka_unit_test(test_mark_unseen_days_end_with_the_day),
        cmocka_unit_test(test_mark_unseen_days_count_once),
        cmocka_unit_test(test_mark_unseen_days_before_the_count_begins),
        cmocka_unit_test(test_mark_second_outage_in_a_broken_freezer_counts_for_all_food),
        cmocka_unit_test(test_mark_unseen_days_count_once_in_two_freezers),
        cmocka_unit_test(test_mark_day_that_is_heard_twice_of_a_broken_freezer),
    };
    return cmocka_run_group_tests_name("engine frozen", tests, NULL, NULL);
}
