/* Date marks: docs/engine.md E226 to E233. Figures: FDA Food Code 2022, 3-501.17(A) and (B),
 * "the day of preparation shall be counted as Day 1", 7 days; 3-501.18(A), time frozen is not
 * counted; France, arrete du 21 decembre 2009, Annex IV(4): 3 days after the day of making. */
#include "tests/support/check.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "tests/support/mark_rig.h"
#include "tests/support/plan_text.h"

/* FC22-DM-A, FC22-DM-B: the last day is that of preparation, or opening, and six more. */
static void
test_mark_seven_days_the_first_included(void **state)
{
    (void)state;
    struct rig *rig = mark_rig(MARK("7"), NULL, NULL);
    mark_rig_day(rig, "0:00:00", "2026-02-25");
    rig_play(rig, "0:00:10 begin dish\n");
    assert_string_equal(rig_batch(rig).mark.day, "2026-03-03");
    assert_int_equal(rig_batch(rig).mark.used, 1);
    rig_expect(rig, "0:00:10 date-marked entered 2026-03-03 found 24:00:00\n");
    static const char *const days[] = {"2026-02-26", "2026-02-27", "2026-02-28",
                                       "2026-03-01", "2026-03-02", "2026-03-03"};
    for (size_t i = 0; i < COUNT_OF(days); i++)
        mark_rig_day(rig, "0:00:20", days[i]);
    assert_int_equal(rig_batch(rig).mark.used, 7);
    assert_false(rig_batch(rig).mark.passed);
    rig_expect(rig, "");
    mark_rig_day(rig, "0:00:30", "2026-03-04");
    assert_true(rig_batch(rig).mark.passed);
    rig_expect(rig, "0:00:30 deviation-opened date-passed #1 2026-03-03 found 192:00:00\n");
    mark_rig_day(rig, "0:00:40", "2026-03-05"); /* once */
    rig_play(rig, "0:00:50 end discarded\n");
    rig_expect(rig, "0:00:50 deviation-ended batch-ended #1 2026-03-03 found 192:00:00\n");
    rig_free(rig);
}

/* A day that nobody saw begin counts all the same. */
static void
test_mark_days_of_an_outage_count(void **state)
{
    (void)state;
    struct rig *rig = mark_rig(MARK("7"), NULL, NULL);
    mark_rig_day(rig, "0:00:00", "2026-02-25");
    rig_play(rig, "0:00:10 begin dish\n");
    mark_rig_day(rig, "0:00:20", "2026-03-03");
    assert_false(rig_batch(rig).mark.passed);
    mark_rig_day(rig, "0:00:30", "2026-03-09");
    assert_true(rig_batch(rig).mark.passed);
    rig_free(rig);
    rig = mark_rig(MARK("7"), NULL, NULL);
    mark_rig_day(rig, "0:00:00", "2026-02-25");
    rig_play(rig, "0:00:10 begin dish\n");
    mark_rig_day(rig, "0:00:20", "2026-03-04");
    assert_true(rig_batch(rig).mark.passed);
    rig_free(rig);
}

/* Two run and two are in store, one from each day; and one whose room is free again. */
static void
test_mark_days_are_counted_of_every_food_there_is(void **state)
{
    (void)state;
    struct rig *rig = mark_rig(MARK("3"), NULL, NULL);
    struct engine_batch_view batches[4];
    struct engine_stored_view kept[4];
    mark_rig_day(rig, "0:00:00", "2026-02-25");
    rig_play(rig,
             "0:00:10 begin dish\n0:00:10 begin dish\n0:00:10 begin dish\n0:00:11 end stored "
             "batch=1\n0:00:12 end stored batch=2\n0:00:13 begin dish\n0:00:14 end discarded "
             "batch=4\n");
    mark_rig_day(rig, "0:00:20", "2026-02-26");
    rig_play(rig, "0:00:30 begin dish\n");
    mark_rig_day(rig, "0:00:40", "2026-02-27");
    assert_int_equal(engine_view_batches(rig->engine, batches, 4), 2);
    assert_int_equal(batches[0].mark.used, 3);
    assert_int_equal(batches[1].mark.used, 2);
    assert_int_equal(engine_view_stored(rig->engine, kept, 1), 1);
    assert_int_equal(engine_view_stored(rig->engine, kept, 4), 2);
    assert_int_equal(kept[0].mark.used, 3);
    assert_int_equal(kept[1].mark.used, 3);
    rig->log_len = 0;
    mark_rig_day(rig, "0:00:50", "2026-02-28");
    rig_expect(rig,
               "0:00:50 deviation-opened date-passed #1 batch 3 2026-02-27 found 96:00:00\n"
               "0:00:50 deviation-opened date-passed #2 2026-02-27 found 96:00:00\n"
               "0:00:50 deviation-opened date-passed #3 batch 2 2026-02-27 found 96:00:00\n");
    rig_reload(rig);
    rig_free(rig);
}

/* FR-3: the day after making is the first. */
static void
test_mark_first_day_next(void **state)
{
    (void)state;
    struct rig *rig = mark_rig(MARK("3, first_day: next"), NULL, NULL);
    mark_rig_day(rig, "0:00:00", "2026-12-30");
    rig_play(rig, "0:00:10 begin dish\n");
    assert_string_equal(rig_batch(rig).mark.day, "2027-01-02");
    mark_rig_day(rig, "0:00:20", "2027-01-02");
    assert_false(rig_batch(rig).mark.passed);
    mark_rig_day(rig, "0:00:30", "2027-01-03");
    assert_true(rig_batch(rig).mark.passed);
    rig_free(rig);
}

/* In and out on one day is one day; out again on a later one is another. */
static void
test_mark_a_day_counts_once(void **state)
{
    (void)state;
    struct rig *rig = mark_rig(MARK("7"), NULL, FREEZER);
    mark_rig_day(rig, "0:00:00", "2026-03-01");
    rig_play(rig, "0:00:10 begin dish\n0:00:20 end stored\n");
    mark_rig_carry(rig, "0:00:30", "fridge");
    mark_rig_carry(rig, "0:00:40", "shelf");
    mark_rig_carry(rig, "0:00:50", "fridge");
    assert_int_equal(mark_rig_stored(rig).used, 1);
    mark_rig_day(rig, "0:01:00", "2026-03-05");
    mark_rig_carry(rig, "0:01:10", "shelf");
    mark_rig_carry(rig, "0:01:20", "fridge");
    mark_rig_carry(rig, "0:01:30", "shelf");
    assert_int_equal(mark_rig_stored(rig).used, 2);
    rig_free(rig);
}

/* FC22-DM-C: what is made with dated food keeps the earliest date. */
static void
test_mark_made_on_another_day(void **state)
{
    (void)state;
    struct rig *rig = mark_rig(MARK("7"), NULL, NULL);
    struct entry entry = mark_rig_beginning();
    char why[300];
    mark_rig_day(rig, "0:00:00", "2026-03-05");
    memcpy(entry.made, "2026-03-01", 11);
    mark_rig_feed(rig, "0:00:10", &entry);
    assert_string_equal(rig_batch(rig).mark.day, "2026-03-07");
    memcpy(entry.made, "2026-02-26", 11); /* seven days ago: over already */
    mark_rig_feed(rig, "0:00:20", &entry);
    rig_expect(rig, "0:00:10 date-marked entered 2026-03-07 found 120:00:00\n"
                    "0:00:20 deviation-opened date-passed #1 batch 2 2026-03-04 found "
                    "192:00:00\n");
    memcpy(entry.made, "2026-03-05", 11);
    assert_true(engine_check(rig->engine, &entry, why, sizeof why));
    memcpy(entry.made, "2026-03-06", 11);
    assert_false(engine_check(rig->engine, &entry, why, sizeof why));
    assert_non_null(strstr(why, "still to come"));
    memcpy(entry.made, "2026-02-29", 11);
    assert_false(engine_check(rig->engine, &entry, why, sizeof why));
    assert_non_null(strstr(why, "no such day"));
    rig_free(rig);
}

/* FC22-DM-B: not later than the maker's own date. */
static void
test_mark_makers_own_last_day(void **state)
{
    (void)state;
    struct rig *rig = mark_rig(MARK("7"), NULL, NULL);
    struct entry entry = mark_rig_beginning();
    mark_rig_day(rig, "0:00:00", "2026-03-01");
    memcpy(entry.until, "2026-03-04", 11);
    mark_rig_feed(rig, "0:00:10", &entry);
    assert_string_equal(rig_batch(rig).mark.day, "2026-03-04");
    mark_rig_day(rig, "0:00:20", "2026-03-04");
    assert_false(rig_batch(rig).mark.passed);
    mark_rig_day(rig, "0:00:30", "2026-03-05");
    assert_true(rig_batch(rig).mark.passed);
    rig_free(rig);
    rig = mark_rig(MARK("7"), NULL, NULL);
    mark_rig_day(rig, "0:00:00", "2026-03-01");
    memcpy(entry.until, "2026-03-20", 11);
    mark_rig_feed(rig, "0:00:10", &entry);
    assert_string_equal(rig_batch(rig).mark.day, "2026-03-07");
    rig_free(rig);
}

static void
test_mark_counts_from_a_step(void **state)
{
    (void)state;
    struct rig *rig = mark_rig(MARK("2"), NULL, NULL);
    rig_free(rig);
    rig_life = MARK("2");
    rig = rig_new(
        "{kind: none}}\n      - {id: pack, name: Packing, starts_date: yes, limit: {kind: "
        "none}",
        NULL);
    rig_life = NULL;
    mark_rig_day(rig, "0:00:00", "2026-03-01");
    rig_play(rig, "0:00:10 begin dish\n");
    assert_string_equal(rig_batch(rig).mark.day, "");
    mark_rig_day(rig, "0:00:20", "2026-03-09");
    assert_false(rig_batch(rig).mark.passed);
    rig_play(rig, "0:00:30 move\n");
    assert_string_equal(rig_batch(rig).mark.day, "2026-03-10");
    rig_play(rig, "0:00:40 move\n");
    mark_rig_day(rig, "0:00:50", "2026-03-10");
    assert_false(rig_batch(rig).mark.passed);
    mark_rig_day(rig, "0:01:00", "2026-03-11");
    assert_true(rig_batch(rig).mark.passed);
    rig_free(rig);
}

/* No day has been heard of: the first that is counts as the first. A day that was, never again.
 */
static void
test_mark_day_unknown_and_day_set_back(void **state)
{
    (void)state;
    struct rig *rig = mark_rig(MARK("2"), NULL, NULL);
    assert_true(engine_wants_day(rig->engine));
    assert_false(engine_day_passed(rig->engine, "2026-03-01"));
    rig_play(rig, "0:00:10 begin dish\n");
    assert_string_equal(rig_batch(rig).mark.day, "");
    mark_rig_day(rig, "0:00:20", "2026-03-01");
    assert_string_equal(rig_batch(rig).mark.day, "2026-03-02");
    assert_true(engine_day_passed(rig->engine, "2026-03-01"));
    assert_false(engine_day_passed(rig->engine, "2026-03-02"));
    mark_rig_day(rig, "0:00:30", "2026-02-27");
    mark_rig_day(rig, "0:00:40", "2026-03-01");
    assert_int_equal(rig_batch(rig).mark.used, 1);
    rig_free(rig);
    rig = rig_new(NULL, NULL);
    assert_false(engine_wants_day(rig->engine));
    rig_free(rig);
}

/* Nobody enters a day, and a product without a date has none. */
static void
test_mark_refusals(void **state)
{
    (void)state;
    struct rig *rig = rig_new(NULL, NULL);
    struct entry entry = mark_rig_beginning();
    char why[300];
    memcpy(entry.made, "2026-03-01", 11);
    assert_false(engine_check(rig->engine, &entry, why, sizeof why));
    assert_non_null(strstr(why, "has no date mark in the plan"));
    entry_clear(&entry, ENTRY_DAY);
    memcpy(entry.who, "AB", 3);
    memcpy(entry.day, "2026-03-01", 11);
    assert_false(engine_check(rig->engine, &entry, why, sizeof why));
    assert_non_null(strstr(why, "nobody enters it"));
    rig_free(rig);
}

static void
test_mark_state_is_saved(void **state)
{
    (void)state;
    struct rig *rig = mark_rig(MARK("2"), NULL, FREEZER);
    mark_rig_day(rig, "0:00:00", "2026-03-01");
    rig_play(rig, "0:00:10 begin dish\n");
    rig_reload(rig);
    rig_play(rig, "0:00:20 end stored\n");
    rig_reload(rig);
    mark_rig_day(rig, "0:00:30", "2026-03-02");
    assert_false(mark_rig_stored(rig).passed);
    rig_reload(rig);
    mark_rig_day(rig, "0:00:40", "2026-03-03");
    assert_true(mark_rig_stored(rig).passed);
    rig_free(rig);
}

/* Each published date, begun on 2026-03-01; the last days are counted here from the words of
 * each source. */
static void
test_mark_published_days(void **state)
{
    (void)state;
    static const struct {
        const char *row, *rule, *last, *over;
    } rows[] = {
        /* FDA Food Code 2022, 3-501.17(A), (B): day 1 and six more */
        {"FC22-DM-A", "food-code-2022/date-mark-prepared", "2026-03-07", "2026-03-08"},
        {"FC22-DM-B", "food-code-2022/date-mark-opened", "2026-03-07", "2026-03-08"},
        /* 3-502.12(B)(3)-(4): 30 days; (D)(2)(e)(ii): 7 days; (F): 48 h, as two days */
        {"FC22-ROP-30", "food-code-2022/date-reduced-oxygen-30", "2026-03-30", "2026-03-31"},
        {"FC22-ROP-7", "food-code-2022/date-reduced-oxygen-7", "2026-03-07", "2026-03-08"},
        {"FC22-ROP-48H", "food-code-2022/date-reduced-oxygen-48h", "2026-03-02", "2026-03-03"},
        /* UK FSA guidance on VP/MAP chilled foods (2020): 10 days from packing */
        {"UK-VP-10", "england-wales-ni/date-vacuum-packed", "2026-03-10", "2026-03-11"},
        /* UK Department of Health (1989), from memory: 5 days, that of cooking included */
        {"UK-DOH-5", "uk-cook-chill/date", "2026-03-05", "2026-03-06"},
        /* FSAI Guidance Note 15 (2018): 5 days */
        {"IE-GN15-5", "ireland-gn15-2018/date", "2026-03-05", "2026-03-06"},
        /* Arrete du 21 decembre 2009, Annex IV(4): 3 days after the day of making */
        {"FR-3", "france-2009/date-prepared", "2026-03-04", "2026-03-05"},
        /* UK FSA, Cooking your food: 2 days; USDA FSIS: 3 to 4 days */
        {"UK-LEFT-48", "england-wales-ni/date-leftovers", "2026-03-02", "2026-03-03"},
        {"US-LEFT", "us-consumer-advice/date-leftovers", "2026-03-04", "2026-03-05"},
    };
    assert_int_equal(setenv("TRIVET_PROFILES", "config/profiles", 1), 0);
    for (size_t i = 0; i < COUNT_OF(rows); i++) {
        char life[200];
        struct rig *rig = rig_new(NULL, NULL);
        (void)snprintf(life, sizeof life, "{kind: none}\n    date_mark: {profile: %s}",
                       rows[i].rule);
        rig_life = life;
        rig->next_plan = rig_plan(NULL, NULL, "{largest_spacing: 3}\naccept_unverified: true");
        rig_life = NULL;
        rig_play(rig, "0:00:00 plan\n");
        mark_rig_day(rig, "0:00:00", "2026-03-01");
        rig_play(rig, "0:00:10 begin dish\n");
        assert_string_equal(rig_batch(rig).mark.day, rows[i].last);
        mark_rig_day(rig, "0:00:20", rows[i].last);
        assert_false(rig_batch(rig).mark.passed);
        mark_rig_day(rig, "0:00:30", rows[i].over);
        assert_true(rig_batch(rig).mark.passed);
        rig_free(rig);
    }
    assert_int_equal(unsetenv("TRIVET_PROFILES"), 0);
}

/* Whoever is told of a date is told where the food is. */
static void
test_mark_says_where_the_food_is(void **state)
{
    (void)state;
    struct rig *rig = mark_rig(MARK("7"), PLACE_FRIDGE, "{kind: none}");
    mark_rig_day(rig, "0:00:00", "2026-02-25");
    rig_play(rig, "0:00:10 begin dish\n");
    const struct decision *said = &rig->out.decisions[rig->out.count - 1];
    assert_int_equal(said->kind, DECISION_DATE_MARKED);
    assert_string_equal(said->place, "fridge");
    rig_free(rig);
}

/* A plan without dates still counts those that are on food already, in a batch or in store. */
static void
test_mark_is_counted_under_a_plan_without_dates(void **state)
{
    (void)state;
    struct rig *rig = mark_rig(MARK("1"), NULL, NULL);
    mark_rig_day(rig, "0:00:00", "2026-03-01");
    rig->next_plan = rig_plan(NULL, NULL, NULL);
    rig_play(rig, "0:00:10 begin dish\n0:00:20 plan\n");
    assert_true(engine_wants_day(rig->engine));
    rig_play(rig, "0:00:30 end stored\n");
    assert_true(engine_wants_day(rig->engine));
    mark_rig_carry(rig, "0:00:40", "fridge");
    rig_play(rig, "0:00:50 end discarded\n");
    assert_false(engine_wants_day(rig->engine));
    rig_play(rig, "0:01:00 begin dish\n0:01:10 end stored batch=2\n"); /* that has none */
    assert_false(engine_wants_day(rig->engine));
    rig_free(rig);
}

/* Of a figure that nobody has verified every decision says so; UK-DOH-5 is from memory,
 * FC22-DM-A is not. */
static void
test_mark_by_an_unverified_figure_says_so(void **state)
{
    (void)state;
    static const struct {
        const char *rule;
        bool unverified;
    } rows[] = {{"uk-cook-chill/date", true}, {"food-code-2022/date-mark-prepared", false}};
    assert_int_equal(setenv("TRIVET_PROFILES", "config/profiles", 1), 0);
    for (size_t i = 0; i < COUNT_OF(rows); i++) {
        char life[200];
        struct rig *rig = rig_new(NULL, NULL);
        (void)snprintf(life, sizeof life, "{kind: none}\n    date_mark: {profile: %s}",
                       rows[i].rule);
        rig_life = life;
        rig->next_plan = rig_plan(NULL, NULL, "{largest_spacing: 3}\naccept_unverified: true");
        rig_life = NULL;
        rig_play(rig, "0:00:00 plan\n");
        mark_rig_day(rig, "0:00:00", "2026-03-01");
        rig_play(rig, "0:00:10 begin dish\n");
        const struct decision *said = &rig->out.decisions[rig->out.count - 1];
        assert_int_equal(said->kind, DECISION_DATE_MARKED);
        assert_int_equal(said->limit, LIMIT_DAYS);
        assert_int_equal(said->unverified, rows[i].unverified);
        rig_free(rig);
    }
    assert_int_equal(unsetenv("TRIVET_PROFILES"), 0);
}

/* One batch has no date and the other has: days are counted. */
static void
test_mark_of_the_last_batch_wants_days(void **state)
{
    (void)state;
    struct rig *rig = mark_rig(NULL, NULL, NULL);
    rig_play(rig, "0:00:00 begin dish\n");
    assert_false(engine_wants_day(rig->engine));
    rig_life = MARK("7");
    rig->next_plan = rig_plan(NULL, NULL, NULL);
    rig_life = NULL;
    rig_play(rig, "0:00:05 plan\n0:00:10 begin dish\n");
    rig->next_plan = rig_plan(NULL, NULL, NULL);
    rig_play(rig, "0:00:15 plan\n");
    assert_true(engine_wants_day(rig->engine));
    rig_free(rig);
}

/* E231: what makes room for more has no date, and its deviation is over. */
static void
test_mark_of_food_that_makes_room_is_over(void **state)
{
    (void)state;
    char line[80];
    struct rig *rig = mark_rig(MARK("1"), NULL, NULL);
    mark_rig_day(rig, "0:00:00", "2026-03-01");
    rig_play(rig, "0:00:01 begin dish\n0:00:01 end stored\n");
    mark_rig_day(rig, "0:00:02", "2026-03-02");
    rig->log_len = 0;
    for (int i = 2; i <= ENGINE_STORED_MAX + 1; i++) {
        (void)snprintf(line, sizeof line,
                       "0:10:%02d begin dish\n0:10:%02d end stored batch=%d\n", i / 6, i / 6,
                       i);
        rig_play(rig, line);
    }
    rig->log[rig->log_len] = '\0';
    assert_non_null(strstr(rig->log, "0:10:42 deviation-ended entered #1 2026-03-01"));
    rig_free(rig);
}

/* E228: nobody saw the days begin after which it was over, or it was over when it was made. */
static void
test_mark_that_is_long_over_says_its_own_last_day(void **state)
{
    (void)state;
    struct rig *rig = mark_rig(MARK("7"), NULL, NULL);
    struct entry entry = mark_rig_beginning();
    mark_rig_day(rig, "0:00:00", "2026-02-25");
    rig_play(rig, "0:00:10 begin dish\n");
    memcpy(entry.until, "2026-02-28", 11);
    mark_rig_feed(rig, "0:00:10", &entry);
    memcpy(entry.until, "2026-03-10", 11);
    mark_rig_feed(rig, "0:00:10", &entry);
    rig->log_len = 0;
    mark_rig_day(rig, "0:00:20", "2026-03-10");
    rig_expect(rig, "0:00:20 deviation-opened date-passed #1 2026-03-03 found 336:00:00\n"
                    "0:00:20 deviation-opened date-passed #2 batch 2 2026-02-28 found "
                    "336:00:00\n"
                    "0:00:20 deviation-opened date-passed #3 batch 3 2026-03-03 found "
                    "336:00:00\n");
    entry = mark_rig_beginning();
    memcpy(entry.made, "2026-02-20", 11);
    mark_rig_feed(rig, "0:00:30", &entry);
    rig_expect(rig, "0:00:30 deviation-opened date-passed #4 batch 4 2026-02-26 found "
                    "456:00:00\n");
    rig_free(rig);
}

/* A maker's last day passes while the count waits for a step. */
static void
test_mark_makers_last_day_passes_before_the_count_begins(void **state)
{
    (void)state;
    rig_life = MARK("3");
    struct rig *rig = rig_new("{kind: none}}\n      - {id: pack, name: Packing, starts_date: "
                              "yes, limit: {kind: none}",
                              NULL);
    rig_life = NULL;
    struct entry entry = mark_rig_beginning();
    mark_rig_day(rig, "0:00:00", "2026-03-01");
    memcpy(entry.until, "2026-03-02", 11);
    mark_rig_feed(rig, "0:00:10", &entry);
    mark_rig_day(rig, "0:00:20", "2026-03-02");
    rig_expect(rig, "");
    mark_rig_day(rig, "0:00:30", "2026-03-03");
    rig_expect(rig, "0:00:30 deviation-opened date-passed #1 2026-03-02\n");
    rig_free(rig);
}

static void
test_mark_deviation_says_step_and_days(void **state)
{
    (void)state;
    struct engine_deviation_view view;
    struct rig *rig = mark_rig(MARK("2"), NULL, NULL);
    mark_rig_day(rig, "0:00:00", "2026-03-01");
    rig_play(rig, "0:00:10 begin dish\n");
    mark_rig_day(rig, "0:00:20", "2026-03-03");
    assert_int_equal(engine_view_deviations(rig->engine, &view, 1), 1);
    assert_string_equal(view.opened.step, "first");
    assert_int_equal(view.opened.limit, LIMIT_DAYS);
    assert_int_equal(view.opened.required_ms, 2 * INT64_C(86400000));
    rig_free(rig);
}

static void
test_mark_of_one_day(void **state)
{
    (void)state;
    struct rig *rig = mark_rig(MARK("1"), NULL, NULL);
    mark_rig_day(rig, "0:00:00", "2026-03-01");
    rig_play(rig, "0:00:10 begin dish\n");
    rig_expect(rig, "0:00:10 date-marked entered 2026-03-01 found 24:00:00\n");
    mark_rig_day(rig, "0:00:20", "2026-03-02");
    rig_expect(rig, "0:00:20 deviation-opened date-passed #1 2026-03-01 found 48:00:00\n");
    rig_free(rig);
}

/* No day is known yet: food that thaws has no last day that could be said. */
static void
test_mark_of_what_thaws_before_any_day_is_known(void **state)
{
    (void)state;
    struct rig *rig = mark_rig(MARK("7"), PLACE_FRIDGE, FREEZER);
    rig_play(rig, "0:00:10 begin dish\n0:00:20 end stored\n");
    mark_rig_carry(rig, "0:00:30", "shelf");
    rig_expect(rig, "");
    mark_rig_day(rig, "0:00:40", "2026-03-01");
    rig_expect(rig, "0:00:40 date-marked entered 2026-03-07 found 24:00:00\n");
    rig_free(rig);
}

static void
test_mark_moved_on_counts_on(void **state)
{
    (void)state;
    struct rig *rig = mark_rig(MARK("7"), NULL, NULL);
    mark_rig_day(rig, "0:00:00", "2026-03-01");
    rig_play(rig, "0:00:10 begin dish\n");
    mark_rig_day(rig, "0:00:20", "2026-03-03");
    rig->log_len = 0;
    rig_play(rig, "0:00:30 move\n");
    rig_expect(rig, "");
    assert_int_equal(rig_batch(rig).mark.used, 3);
    assert_string_equal(rig_batch(rig).mark.day, "2026-03-07");
    rig_free(rig);
}

/* E226: the packing is passed over, or was before the batch began: it has a date all the same.
 */
static void
test_mark_counts_from_where_the_step_is_passed_over(void **state)
{
    (void)state;
    rig_life = MARK("2");
    struct rig *rig = rig_new("{kind: none}}\n"
                              "      - {id: pack, name: Packing, starts_date: yes, limit: "
                              "{kind: none}}\n"
                              "      - {id: label, name: Label, limit: {kind: none}",
                              NULL);
    rig_life = NULL;
    mark_rig_day(rig, "0:00:00", "2026-03-01");
    rig_play(rig, "0:00:10 begin dish\n0:00:20 begin dish step=label\n");
    rig_expect(rig, "0:00:20 date-marked entered batch 2 2026-03-02 found 24:00:00\n");
    rig_play(rig, "0:00:30 move label\n");
    rig_expect(rig, "0:00:30 date-marked entered 2026-03-02 found 24:00:00\n");
    rig_play(rig, "0:00:40 begin dish\n0:00:50 end stored batch=3\n");
    rig_expect(rig, "0:00:50 date-marked entered batch 3 2026-03-02 found 24:00:00\n");
    rig_free(rig);
}

#define TEA                                                                                    \
    PLAN_HEAD PLAN_PROBE("p1", "food", "rack", "0", "10 s") "products:\n"                      \
                                                            "  - {id: tea, name: Tea, steps: " \
                                                            "[{id: brew, name: Brew, limit: "  \
                                                            "{kind: none}}]}\n"

/* Days are asked for when any product has dates, or any food in store. */
static void
test_mark_of_the_last_product_or_food_in_store_wants_days(void **state)
{
    (void)state;
    struct rig *rig = rig_of(TEA "  - {id: pie, name: Pie, date_mark: {kind: date_mark, "
                                 "applies_to: food, days: 2}, steps: [{id: bake, name: Bake, "
                                 "limit: {kind: none}}]}\n");
    assert_true(engine_wants_day(rig->engine));
    rig->next_plan = rig_plan_of(TEA);
    rig_play(rig, "0:00:10 begin tea\n0:00:10 end stored\n0:00:20 begin pie\n"
                  "0:00:20 end stored batch=2\n0:00:30 plan\n");
    assert_true(engine_wants_day(rig->engine));
    rig_play(rig, "0:00:40 end discarded batch=2\n");
    assert_false(engine_wants_day(rig->engine));
    rig_free(rig);
}

static void
test_mark_counts_from_the_last_step(void **state)
{
    (void)state;
    struct rig *rig =
        rig_of(TEA "  - {id: pie, name: Pie, date_mark: {kind: date_mark, applies_to: food, "
                   "days: 2}, steps: [{id: bake, name: Bake, limit: {kind: none}}, {id: pack, "
                   "name: Packing, starts_date: yes, limit: {kind: none}}]}\n");
    mark_rig_day(rig, "0:00:00", "2026-03-01");
    rig_play(rig, "0:00:10 begin pie\n");
    rig_expect(rig, "");
    rig_play(rig, "0:00:20 move\n");
    rig_expect(rig, "0:00:20 date-marked entered 2026-03-02 found 24:00:00\n");
    rig_free(rig);
}

int
main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_mark_seven_days_the_first_included),
        cmocka_unit_test(test_mark_days_of_an_outage_count),
        cmocka_unit_test(test_mark_days_are_counted_of_every_food_there_is),
        cmocka_unit_test(test_mark_first_day_next),
        cmocka_unit_test(test_mark_a_day_counts_once),
        cmocka_unit_test(test_mark_made_on_another_day),
        cmocka_unit_test(test_mark_makers_own_last_day),
        cmocka_unit_test(test_mark_counts_from_a_step),
        cmocka_unit_test(test_mark_day_unknown_and_day_set_back),
        cmocka_unit_test(test_mark_refusals),
        cmocka_unit_test(test_mark_state_is_saved),
        cmocka_unit_test(test_mark_published_days),
        cmocka_unit_test(test_mark_says_where_the_food_is),
        cmocka_unit_test(test_mark_is_counted_under_a_plan_without_dates),
        cmocka_unit_test(test_mark_by_an_unverified_figure_says_so),
        cmocka_unit_test(test_mark_of_the_last_batch_wants_days),
        cmocka_unit_test(test_mark_of_food_that_makes_room_is_over),
        cmocka_unit_test(test_mark_that_is_long_over_says_its_own_last_day),
        cmocka_unit_test(test_mark_makers_last_day_passes_before_the_count_begins),
        cmocka_unit_test(test_mark_deviation_says_step_and_days),
        cmocka_unit_test(test_mark_of_one_day),
        cmocka_unit_test(test_mark_of_what_thaws_before_any_day_is_known),
        cmocka_unit_test(test_mark_moved_on_counts_on),
        cmocka_unit_test(test_mark_counts_from_where_the_step_is_passed_over),
        cmocka_unit_test(test_mark_of_the_last_product_or_food_in_store_wants_days),
        cmocka_unit_test(test_mark_counts_from_the_last_step),
    };
    return cmocka_run_group_tests_name("engine marks", tests, NULL, NULL);
}
