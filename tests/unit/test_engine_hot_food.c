/* Hot food on probes of no batch, in a kitchen with several products and probes: docs/engine.md
 * E174 to E178. 135 °F is 57.22 °C and 134 °F is 56.67 °C. */
#include "tests/support/check.h"

#include <stdio.h>
#include <string.h>

#include "tests/support/engine_rig.h"
#include "tests/support/plan_text.h"

#define HEAD                                                                                   \
    PLAN_HEAD PLAN_PROBE("p1", "food", "rack", "0", "10 s")                                    \
        PLAN_PROBE("p2", "food", "rack", "1", "10 s")                                          \
            PLAN_PROBE("p3", "food", "rack", "2", "10 s") "places:\n"                          \
                                                          "  - {id: shelf, name: Shelf, "      \
                                                          "limit: {kind: none}}\n"             \
                                                          "products:\n"
#define PRODUCT(id, begins, from)                                                               \
    "  - id: " id "\n"                                                                          \
    "    name: " id "\n"                                                                        \
    "    steps:\n"                                                                              \
    "      - {id: heat, name: Heat, limit: {kind: cook, applies_to: food, at_least: 74 °C}}\n" \
    "      - {id: chill, name: Chill, " begins "limit: {kind: cool, applies_to: food, from: "   \
    "" from ", stages: [{to: 21 °C, within: 2 h}]}}\n"
#define ON(probes) "begins: by_itself, begins_on: [" probes "], "

static const char one_each[] =
    HEAD PRODUCT("pie", ON("p1"), "57 °C") PRODUCT("soup", ON("p3, p2"), "63 °C");
static const char same_probe_higher[] =
    HEAD PRODUCT("pie", ON("p1"), "57 °C") PRODUCT("soup", ON("p1"), "135 °F");
static const char same_probe_lower[] =
    HEAD PRODUCT("pie", ON("p1"), "57 °C") PRODUCT("soup", ON("p1"), "134 °F");
static const char same_last_probe[] =
    HEAD PRODUCT("pie", ON("p3"), "57 °C") PRODUCT("soup", ON("p3"), "63 °C");
static const char none_begins[] = HEAD PRODUCT("pie", "", "57 °C") PRODUCT("soup", "", "63 °C");
static const char soup_begins[] =
    HEAD PRODUCT("pie", "", "57 °C") PRODUCT("soup", ON("p2"), "63 °C");

static const char one_pan[] = HEAD PRODUCT("pie", ON("p1"), "57 °C")
    PRODUCT("soup", ON("p3, p2") "begins_together: yes, ", "57 °C");

static size_t
waiting(const struct rig *rig, struct engine_undecided_view ret[4])
{
    return engine_view_undecided(rig->engine, ret, 4);
}

/* Cold, then hot for a minute: food has come. */
#define FOOD_COMES(probe) "0:00:00-0:05:00 " probe " 20.0\n0:05:10-0:06:20 " probe " 80.0\n"

static void
test_hot_food_begins_the_step_that_names_its_probe(void **state)
{
    (void)state;
    static const struct {
        const char *script, *product;
    } cases[] = {
        {FOOD_COMES("p1"), "pie"}, {FOOD_COMES("p2"), "soup"}, {FOOD_COMES("p3"), "soup"}};
    for (size_t i = 0; i < COUNT_OF(cases); i++) {
        struct rig *rig = rig_of(one_each);
        rig_play(rig, cases[i].script);
        struct engine_batch_view batch = rig_batch(rig);
        assert_string_equal(batch.product->id, cases[i].product);
        assert_string_equal(batch.product->steps[batch.step].id, "chill");
        assert_int_equal(batch.probe_count, 1);
        assert_int_equal(batch.probes[0], i + 1);
        assert_int_equal(batch.auto_seq, 3);
        assert_string_equal(batch.who, "");
        rig_free(rig);
    }
}

static void
test_what_begins_by_itself_is_an_entry_of_nobodys_with_its_probe(void **state)
{
    (void)state;
    struct rig *rig = rig_of(one_each);
    struct entry entry;
    rig_play(rig, "0:00:00 begin pie p3\n0:00:10-0:05:00 p2 20.0\n0:05:10-0:06:10 p2 80.0\n");
    rig_play(rig, "0:06:20 end discarded batch=2\n0:06:30 p2 20.0\n");
    /* What was wanted of a probe that watches nothing that begins, or a batch that is over. */
    assert_false(engine_want_entry(rig->engine, &(struct engine_want){0, 0}, &entry));
    assert_false(engine_want_entry(rig->engine, &(struct engine_want){99, 0}, &entry));
    assert_false(engine_want_entry(rig->engine, &(struct engine_want){2, 2}, &entry));
    assert_true(engine_want_entry(rig->engine, &(struct engine_want){2, 0}, &entry));
    assert_int_equal(entry.kind, ENTRY_BEGIN);
    assert_int_equal(entry.batch, 3); /* the number it will have */
    assert_string_equal(entry.who, "");
    assert_string_equal(entry.product, "soup");
    assert_string_equal(entry.step, "chill");
    assert_string_equal(entry.probe, "p2");
    assert_int_equal(entry.probe_count, 1);
    assert_string_equal(entry.probes[0], "p2");
    assert_true(engine_want_entry(rig->engine, &(struct engine_want){3, 1}, &entry));
    assert_int_equal(entry.kind, ENTRY_MOVE);
    assert_int_equal(entry.batch, 1);
    assert_string_equal(entry.who, "");
    assert_string_equal(entry.product, "");
    assert_string_equal(entry.step, "chill");
    assert_string_equal(entry.probe, "p3");
    assert_int_equal(entry.probe_count, 0);
    /* In its cooling it has no step to come. */
    rig_play(rig, "0:06:40 move\n");
    assert_false(engine_want_entry(rig->engine, &(struct engine_want){3, 1}, &entry));
    rig_free(rig);
}

/* E174: at no more than 100 °C. */
static void
test_boiling_food_is_food(void **state)
{
    (void)state;
    struct rig *rig = rig_of(one_each);
    rig_play(rig, "0:00:00-0:05:00 p1 20.0\n0:05:10-0:06:10 p1 100.0\n");
    rig_expect(rig, "0:06:10.001 step-begun by-itself p1 100.0\n");
    rig_free(rig);
}

/* E176: the highest start counts until a person has said which step it is, whatever unit it is
 * printed in. */
static void
test_highest_of_two_starts_counts_until_a_person_has_said_which(void **state)
{
    (void)state;
    static const struct {
        const char *plan, *since;
    } cases[] = {
        {same_probe_higher, "0:10:00"}, /* 57.3: the last above 57.22 */
        {same_probe_lower, "0:10:30"},  /* 57.05: the last above 57.0 */
    };
    for (size_t i = 0; i < COUNT_OF(cases); i++) {
        struct rig *rig = rig_of(cases[i].plan);
        struct engine_undecided_view views[4];
        rig_play(rig, FOOD_COMES("p1") "0:06:30-0:10:00 p1 80.0 57.3\n0:10:10 p1 57.2\n0:10:20 "
                                       "p1 57.1\n0:10:30 p1 57.05\n0:10:40 p1 56.9\n0:10:50 p1 "
                                       "56.7\n0:11:00-0:12:00 p1 56.6\n");
        rig_expect(rig, "0:06:10 asked ambiguous p1 80.0 since 0:06:10\n");
        assert_int_equal(waiting(rig, views), 1);
        assert_int_equal(views[0].said.kind, DECISION_ASKED);
        assert_int_equal(views[0].said.reason, REASON_AMBIGUOUS);
        assert_int_equal(views[0].said.probe, 1);
        assert_int_equal(views[0].said.batch, 0);
        assert_int_equal(views[0].said.since_ms, rig_time(cases[i].since));
        assert_int_equal(views[0].said.temp_mC, TEMP_NONE);
        rig_free(rig);
    }
}

/* The food fell through; then somebody stirred it, and a part of it was warmer again. */
static void
test_later_rise_of_food_that_is_asked_about_is_no_later_start(void **state)
{
    (void)state;
    struct rig *rig = rig_of(same_probe_higher);
    struct engine_undecided_view views[4];
    rig_play(rig, FOOD_COMES("p1") "0:06:30-0:10:00 p1 80.0 57.3\n0:10:10-0:12:00 p1 "
                                   "56.0\n0:12:10-0:14:00 p1 58.0\n");
    assert_int_equal(waiting(rig, views), 1);
    assert_int_equal(views[0].said.since_ms, rig_time("0:10:00"));
    rig_play(rig, "0:14:05 begin pie step=chill p1\n");
    rig_expect(rig, "0:06:10 asked ambiguous p1 80.0 since 0:06:10\n"
                    "0:14:05 answered entered p1\n");
    /* 57 °C is the start of that one: the food is above it still, so its clock waits. */
    assert_int_equal(rig_batch(rig).clock_start_ms, TIME_NONE);
    rig_free(rig);
}

/* Of two probes the one that was above the start last says from when. */
static void
test_clock_of_food_with_two_hot_probes_counts_from_the_later(void **state)
{
    (void)state;
    static const char two[] =
        HEAD PRODUCT("pie", ON("p1, p2"), "57 °C") PRODUCT("soup", ON("p1, p2"), "57 °C");
    for (int swapped = 0; swapped < 2; swapped++) {
        struct rig *rig = rig_of(two);
        rig_play(rig, "0:00:00-0:05:00 p1,p2 20.0\n0:05:10-0:06:20 p1,p2 80.0\n");
        rig_play(rig, swapped
                          ? "0:06:30-0:10:00 p1,p2 80.0 57.5\n0:10:10 p2 57.1\n0:10:10-0:11:00 "
                            "p1 56.0\n0:11:10 p2 56.0\n"
                          : "0:06:30-0:10:00 p1,p2 80.0 57.5\n0:10:10 p1 57.1\n0:10:10-0:11:00 "
                            "p2 56.0\n0:11:10 p1 56.0\n");
        rig->log_len = 0;
        rig_play(rig, "0:11:20 begin pie step=chill p1 p2\n");
        assert_int_equal(rig_batch(rig).clock_start_ms, rig_time("0:10:10"));
        rig_free(rig);
    }
}

/* The second probe was in no hot food before: nothing is known of the part that it is in. */
static void
test_clock_waits_where_one_of_two_probes_was_not_in_the_food(void **state)
{
    (void)state;
    struct rig *rig = rig_of(same_probe_higher);
    rig_play(rig, FOOD_COMES("p1") "0:06:30-0:10:00 p1 80.0 57.3\n0:10:10-0:12:00 p1 56.0\n"
                                   "0:12:05 begin pie step=chill p1 p2\n");
    assert_int_equal(rig_batch(rig).clock_start_ms, TIME_NONE);
    rig_free(rig);
}

/* E175: there is no room for another batch, and a person has to end one. */
static void
test_hot_food_beyond_the_most_batches_is_a_question(void **state)
{
    (void)state;
    struct rig *rig = rig_of(one_each);
    for (int i = 0; i < ENGINE_BATCHES_MAX; i++)
        rig_play(rig, "0:00:00 begin soup\n");
    rig_play(rig, FOOD_COMES("p1"));
    rig_expect(rig, "0:06:10 asked ambiguous p1 80.0 since 0:06:10\n");
    rig_free(rig);
    rig = rig_of(one_each);
    for (int i = 0; i + 1 < ENGINE_BATCHES_MAX; i++)
        rig_play(rig, "0:00:00 begin soup\n");
    rig_play(rig, FOOD_COMES("p1"));
    rig_expect(rig, "0:06:10.001 step-begun by-itself batch 64 p1 80.0\n");
    rig_free(rig);
}

/* ---- a new plan ---- */

static void
test_question_ends_with_the_steps_that_it_was_about(void **state)
{
    (void)state;
    struct engine_undecided_view views[4];
    struct rig *rig = rig_of(same_probe_higher);
    rig_play(rig, FOOD_COMES("p1"));
    rig->next_plan = rig_plan_of(none_begins);
    rig_play(rig, "0:07:00 plan new\n0:07:10-0:10:00 p1 80.0\n");
    rig_expect(rig, "0:06:10 asked ambiguous p1 80.0 since 0:06:10\n0:07:00 answered entered "
                    "p1\n");
    assert_int_equal(waiting(rig, views), 0);
    rig_free(rig);
}

static void
test_question_goes_on_under_a_plan_with_such_steps(void **state)
{
    (void)state;
    struct engine_undecided_view views[4];
    struct rig *rig = rig_of(same_probe_higher);
    rig_play(rig, FOOD_COMES("p1"));
    rig->next_plan = rig_plan_of(same_probe_lower);
    rig_play(rig, "0:07:00 plan new\n0:07:10-0:10:00 p1 80.0\n");
    rig_expect(rig, "0:06:10 asked ambiguous p1 80.0 since 0:06:10\n");
    assert_int_equal(waiting(rig, views), 1);
    rig_free(rig);
}

static void
test_question_about_the_last_probe_of_the_list_ends_likewise(void **state)
{
    (void)state;
    struct rig *rig = rig_of(same_last_probe);
    struct engine_undecided_view views[4];
    rig_play(rig, FOOD_COMES("p3"));
    assert_int_equal(engine_view_undecided(rig->engine, views, 1),
                     1); /* no more is asked for */
    assert_int_equal(views[0].said.probe, 3);
    rig->next_plan = rig_plan_of(none_begins);
    rig_play(rig, "0:07:00 plan new\n");
    rig_expect(rig, "0:06:10 asked ambiguous p3 80.0 since 0:06:10\n0:07:00 answered entered "
                    "p3\n");
    rig_free(rig);
}

/* Only the new plan counts for what its probes can begin. */
static void
test_new_plan_says_anew_what_hot_food_begins(void **state)
{
    (void)state;
    struct rig *rig = rig_of(one_each);
    rig->next_plan = rig_plan_of(one_each);
    rig_play(rig, "0:00:00 plan again\n" FOOD_COMES("p1"));
    rig_expect(rig, "0:06:10.001 step-begun by-itself p1 80.0\n"); /* one step, no question */
    rig_free(rig);
    rig = rig_of(one_each); /* nor on the last probe of the list */
    rig->next_plan = rig_plan_of(one_each);
    rig_play(rig, "0:00:00 plan again\n" FOOD_COMES("p3"));
    rig_expect(rig, "0:06:10.001 step-begun by-itself p3 80.0\n");
    rig_free(rig);
    rig = rig_of(same_probe_higher);
    rig->next_plan = rig_plan_of(soup_begins);
    rig_play(rig, "0:00:00 plan new\n0:00:00-0:05:00 p1,p2 20.0\n0:05:10-0:06:00 p1 "
                  "80.0\n0:06:10-0:07:10 p2 80.0\n");
    rig_expect(rig, "0:07:10.001 step-begun by-itself p2 80.0\n");
    rig_free(rig);
    /* Cold under the one plan is cold under the next. */
    rig = rig_of(one_each);
    rig_play(rig, "0:00:00-0:05:00 p2 20.0\n");
    rig->next_plan = rig_plan_of(soup_begins);
    rig_play(rig, "0:05:05 plan new\n0:05:10-0:06:10 p2 80.0\n");
    rig_expect(rig, "0:06:10.001 step-begun by-itself p2 80.0\n");
    rig_free(rig);
}

/* ---- two probes with hot food: E236 ---- */

/* Every 10 s both probes, the first named first, each from one temperature to another. */
static void
read_both(struct rig *rig, const char *const who[2], int from_s, int to_s,
          const double temps[2][2])
{
    for (int at_s = from_s; at_s <= to_s; at_s += 10)
        for (size_t i = 0; i < 2; i++) {
            double part = to_s > from_s ? (double)(at_s - from_s) / (to_s - from_s) : 0.0;
            char line[64];
            (void)snprintf(line, sizeof line, "%d:%02d:%02d.%zu00 %s %.1f\n", at_s / 3600,
                           at_s / 60 % 60, at_s % 60, i, who[i],
                           temps[i][0] + part * (temps[i][1] - temps[i][0]));
            rig_play(rig, line);
        }
}

static const char *const orders[2][2] = {{"p2", "p3"}, {"p3", "p2"}};

/* Two pans of the same food are two batches, each judged by its own probe. */
static void
test_second_probe_with_hot_food_begins_a_batch_of_its_own(void **state)
{
    (void)state;
    struct engine_batch_view views[3];
    struct rig *rig = rig_of(one_each);
    read_both(rig, orders[0], 0, 300, (const double[2][2]){{20.0, 20.0}, {20.0, 20.0}});
    read_both(rig, orders[0], 310, 390, (const double[2][2]){{80.0, 80.0}, {80.0, 80.0}});
    assert_int_equal(engine_view_batches(rig->engine, views, 3), 2);
    for (size_t i = 0; i < 2; i++) {
        assert_string_equal(views[i].product->id, "soup");
        assert_int_equal(views[i].probe_count, 1);
    }
    assert_int_not_equal(views[0].probes[0], views[1].probes[0]);
    rig_free(rig);
}

/* Where the plan says that they are of one pan, they are one batch, with one record, and the
 * warmest governs; whichever of them is read first. 21 °C in 2 h: the Food Code's. */
static void
test_probes_of_one_pan_begin_one_batch(void **state)
{
    (void)state;
    for (size_t i = 0; i < 2; i++) {
        struct engine_batch_view views[3];
        struct rig *rig = rig_of(one_pan);
        read_both(rig, orders[i], 0, 300, (const double[2][2]){{20.0, 20.0}, {20.0, 20.0}});
        read_both(rig, orders[i], 310, 390, (const double[2][2]){{80.0, 80.0}, {80.0, 80.0}});
        read_both(rig, orders[i], 400, 1200, (const double[2][2]){{80.0, 57.1}, {80.0, 57.1}});
        assert_int_equal(engine_view_batches(rig->engine, views, 3), 1);
        assert_int_equal(views[0].probe_count, 2);
        assert_int_equal(views[0].clock_start_ms, TIME_NONE);
        /* The one is cold in time, the other is not. */
        read_both(rig, orders[i], 1210, 4800, (const double[2][2]){{56.9, 20.0}, {57.0, 21.1}});
        read_both(rig, orders[i], 4810, 8400, (const double[2][2]){{20.0, 20.0}, {21.1, 21.1}});
        rig_play(rig, "2:20:11 wait\n");
        assert_int_equal(engine_view_batches(rig->engine, views, 3), 1);
        assert_int_equal(views[0].clock_start_ms, rig_time("0:20:00.100"));
        assert_int_equal(views[0].verdict, VERDICT_NOT_MET);
        rig_reload(rig);
        rig_free(rig);
    }
}

/* The other probe still hangs in the air: it starts no clock, and is believed as it is put in
 * minutes later. */
static void
test_probe_of_the_pan_that_is_not_in_it_yet_excuses_nothing(void **state)
{
    (void)state;
    for (size_t i = 0; i < 2; i++) {
        bool first = i == 0; /* whether the one that is in the food is read first */
        struct rig *rig = rig_of(one_pan);
        double temps[2][2] = {{4.0, 4.0}, {4.0, 4.0}};
        read_both(rig, orders[0], 0, 300, (const double(*)[2])temps);
        temps[!first][0] = temps[!first][1] = 80.0;
        read_both(rig, orders[0], 310, 500, (const double(*)[2])temps);
        assert_int_equal(rig_batch(rig).probe_count, 2);
        assert_int_equal(rig_batch(rig).clock_start_ms, TIME_NONE);
        read_both(rig, orders[0], 510, 600, (const double[2][2]){{79.0, 79.0}, {79.0, 79.0}});
        assert_int_equal(rig_batch(rig).clock_start_ms, TIME_NONE);
        assert_null(strstr(rig->log, "suspect"));
        assert_null(strstr(rig->log, "clock-started"));
        rig_free(rig);
    }
}

/* One that is in another food stays there. */
static void
test_probe_of_another_batch_is_not_taken_into_the_pan(void **state)
{
    (void)state;
    struct engine_batch_view views[3];
    struct rig *rig = rig_of(one_pan);
    rig_play(rig, "0:00:00 begin pie p3\n0:00:10-0:05:00 p2 20.0\n0:05:10-0:06:20 p2 80.0\n");
    assert_int_equal(engine_view_batches(rig->engine, views, 3), 2);
    assert_int_equal(views[1].probe_count, 1);
    assert_int_equal(views[1].probes[0], 2);
    rig_free(rig);
}

/* The probe that showed the hot food is in it, and what it shows later is no putting in; the
 * other one may still be put in, for the five minutes of a hand-over (E43, E178). */
static void
test_other_probe_of_the_pan_may_be_put_in_after_the_clock_began(void **state)
{
    (void)state;
    for (size_t i = 0; i < 2; i++) {
        struct rig *rig = rig_of(one_pan);
        read_both(rig, orders[i], 0, 300, (const double[2][2]){{4.0, 4.0}, {4.0, 4.0}});
        read_both(rig, orders[i], 310, 390, (const double[2][2]){{63.5, 63.5}, {4.0, 4.0}});
        assert_int_equal(rig_batch(rig).probe_count, 2);
        read_both(rig, orders[i], 400, 600, (const double[2][2]){{63.0, 56.5}, {4.0, 4.0}});
        assert_int_not_equal(rig_batch(rig).clock_start_ms, TIME_NONE);
        read_both(rig, orders[i], 610, 620, (const double[2][2]){{56.5, 56.5}, {56.0, 56.0}});
        rig->log[rig->log_len] = '\0';
        assert_null(strstr(rig->log, "suspect-begun"));
        read_both(rig, orders[i], 630, 640, (const double[2][2]){{66.0, 66.0}, {56.0, 56.0}});
        rig->log[rig->log_len] = '\0';
        assert_non_null(strstr(rig->log, "suspect-begun"));
        rig_free(rig);
    }
}

/* A step that a person begins has the clock of what is read in it (E36); the hot food that the
 * probe showed before may have been another. */
static void
test_step_that_only_a_person_begins_has_no_clock_of_before(void **state)
{
    (void)state;
    struct rig *rig = rig_of(HEAD PRODUCT("pie", ON("p1"), "57 °C") PRODUCT(
        "soup", ON("p1"), "63 °C") PRODUCT("stew", "", "57 °C"));
    rig_play(rig, FOOD_COMES("p1") "0:06:30-0:10:00 p1 80.0 57.3\n0:10:10 p1 56.0\n"
                                   "0:10:15 begin stew step=chill p1\n0:10:20 p1 56.0\n");
    rig_expect(rig,
               "0:06:10 asked ambiguous p1 80.0 since 0:06:10\n0:10:15 answered entered p1\n"
               "0:10:20 inconclusive probe-late p1 56.0\n");
    rig_free(rig);
}

/* Food that waits for no step of that kind is given a probe that was in hot food. */
static void
test_probe_from_hot_food_brings_no_clock_where_none_begins_by_itself(void **state)
{
    (void)state;
    struct rig *rig = rig_of(HEAD PRODUCT("pie", ON("p1"), "57 °C") PRODUCT(
        "soup", ON("p1"), "63 °C") PRODUCT("stew", "", "57 °C"));
    rig_play(rig, "0:00:00 begin stew p2\n" FOOD_COMES(
                      "p1") "0:06:30-0:10:00 p1 80.0 57.3\n"
                            "0:10:10 p1 56.0\n0:10:15 move chill p1\n0:10:20 p1 56.0\n");
    rig->log[rig->log_len] = '\0';
    assert_null(strstr(rig->log, "clock-started"));
    assert_non_null(strstr(rig->log, "0:10:20 inconclusive probe-late p1 56.0"));
    rig_free(rig);
}

/* E31, E236: the other one was above the start when last seen, no longer ago than the spacing,
 * and it governs until it is read again. */
static void
test_other_probe_of_the_pan_is_in_hot_food_before_it_is_read_again(void **state)
{
    (void)state;
    static const struct {
        const char *last; /* the batch begins at 0:06:10.001 */
        int32_t governing_mC;
        bool starts;
    } cases[] = {
        {"0:06:05", 59000, false}, {"0:05:40.001", 59000, false}, {"0:05:40", 58500, true}};
    for (size_t i = 0; i < COUNT_OF(cases); i++) {
        struct rig *rig = rig_of(one_pan);
        char script[400];
        (void)snprintf(script, sizeof script,
                       "0:00:00-0:05:00 p2,p3 20.0\n0:05:10-0:05:30 p2 58.5\n0:05:35 p3 59.0\n"
                       "%s p3 59.0\n",
                       cases[i].last);
        if (i == 0)
            (void)snprintf(script, sizeof script,
                           "0:00:00-0:05:00 p2,p3 20.0\n0:05:10-0:06:00 p2 58.5\n%s p3 59.0\n",
                           cases[i].last);
        rig_play(rig, script);
        rig_play(rig, i == 0 ? "0:06:10 p2 58.5\n" : "0:05:50-0:06:10 p2 58.5\n");
        assert_int_equal(rig_batch(rig).probe_count, 2);
        assert_int_equal(rig_batch(rig).governing_mC, cases[i].governing_mC);
        rig_play(rig, "0:06:10.500 p2 56.9\n");
        assert_int_equal(rig_batch(rig).clock_start_ms,
                         cases[i].starts ? rig_time("0:06:10") : TIME_NONE);
        rig_free(rig);
    }
}

/* E174: the step may be the first of its product. */
static const char chilled_only[] = HEAD "  - id: pie\n"
                                        "    name: Pie\n"
                                        "    steps:\n"
                                        "      - {id: chill, name: Chill, begins: by_itself, "
                                        "begins_on: [p1], limit: {kind: cool, applies_to: "
                                        "food, from: 57 °C, stages: [{to: 21 °C, within: 2 "
                                        "h}]}}\n";

static void
test_hot_food_begins_the_first_step_of_its_product(void **state)
{
    (void)state;
    struct rig *rig = rig_of(chilled_only);
    rig_play(rig, FOOD_COMES("p1"));
    rig_expect(rig, "0:06:10.001 step-begun by-itself p1 80.0\n");
    rig_free(rig);
}

/* E236: also when the other probe of the pan is the first of the plan. */
static void
test_first_probe_of_the_plan_comes_with_the_others_of_its_pan(void **state)
{
    (void)state;
    struct rig *rig =
        rig_of(HEAD PRODUCT("pie", ON("p1, p2") "begins_together: yes, ", "57 °C"));
    rig_play(rig, FOOD_COMES("p2"));
    struct engine_batch_view batch = rig_batch(rig);
    assert_int_equal(batch.probe_count, 2);
    assert_int_equal(batch.probes[0], 2);
    assert_int_equal(batch.probes[1], 1);
    rig_free(rig);
}

/* A probe that has no stored number yet is none that could be read. */
static void
test_probe_without_a_number_begins_nothing(void **state)
{
    (void)state;
    struct rig *rig = rig_of(none_begins);
    struct entry entry;
    rig->next_plan = rig_plan_of(one_each);
    rig->next_plan->probes[0].number = 0;
    rig_play(rig, "0:00:00 plan new\n" FOOD_COMES("p3"));
    assert_string_equal(rig_batch(rig).product->id, "soup");
    assert_false(engine_want_entry(rig->engine, &(struct engine_want){0, 0}, &entry));
    rig_free(rig);
}

/* E176: 140.001 °F is 60.000 56 °C, and the higher of the two. */
static void
test_starts_that_hardly_differ_are_told_apart(void **state)
{
    (void)state;
    struct rig *rig =
        rig_of(HEAD PRODUCT("pie", ON("p1"), "60 °C") PRODUCT("soup", ON("p1"), "140.001 °F"));
    rig_play(rig, "0:00:00-0:05:00 p1 20.0\n0:05:10-0:07:00 p1 61.001\n");
    rig_expect(rig, "");
    rig_play(rig, "0:07:10-0:08:10 p1 61.002\n");
    rig_expect(rig, "0:08:10 asked ambiguous p1 61.002 since 0:08:10\n");
    rig_free(rig);
}

/* E176, E32: its beginning could not be put on record, so a person enters it.
 */
static void
test_food_whose_beginning_was_lost_counts_from_its_first_fall(void **state)
{
    (void)state;
    static const int32_t lost_mC[] = {80000, 80000, 80000, 80000, 80000, 80000, 80000, 80000,
                                      50000, 70000, 70000, 70000, 70000, 70000, 70000, 70000};
    struct rig *rig = rig_of(one_each);
    rig_play(rig, "0:00:00-0:05:00 p1 20.0\n");
    for (size_t i = 0; i < COUNT_OF(lost_mC); i++) { /* 0:05:10 to 0:07:40 */
        int64_t at_ms = rig_time("0:05:10") + (int64_t)i * 10000;
        struct engine_input input = {.kind = ENGINE_READING, .at_ms = at_ms};
        input.is.reading = (struct reading){at_ms, lost_mC[i], 1, READING_GOOD};
        engine_step(rig->engine, &input, &rig->out);
        assert_int_equal(rig->out.want.probe, i == 6 || i == 7 || i == 15);
    }
    rig_play(rig, "0:07:50 p1 55.0\n0:08:00 begin pie step=chill p1\n");
    rig_expect(rig, "0:08:00 clock-started fell-through-start since 0:06:20\n");
    rig_free(rig);
}

/* A record may name a probe that nothing is known of: nothing is said of what it showed. */
static void
test_record_of_a_probe_that_is_gone_is_taken(void **state)
{
    (void)state;
    struct rig *rig = rig_of(one_each);
    rig_play(rig, "0:00:00 begin pie p1\n");
    rig->next_plan = rig_plan_of(one_each);
    rig->next_plan->probes[2].number = 0;
    rig_play(rig, "0:00:10 plan new\n");
    struct entry entry;
    entry_clear(&entry, ENTRY_MOVE);
    entry.batch = 1;
    (void)strcpy(entry.step, "chill");
    (void)strcpy(entry.probe, "p3");
    struct engine_input input = {.kind = ENGINE_ENTRY,
                                 .at_ms = rig_time("0:00:20"),
                                 .seq = ++rig->seq,
                                 .is.entry = &entry};
    rig->log_len = 0;
    rig_feed(rig, &input);
    rig->log[rig->log_len] = '\0';
    assert_non_null(strstr(rig->log, "0:00:20 step-begun by-itself p3\n"));
    rig_free(rig);
}

int
main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_hot_food_begins_the_step_that_names_its_probe),
        cmocka_unit_test(test_what_begins_by_itself_is_an_entry_of_nobodys_with_its_probe),
        cmocka_unit_test(test_boiling_food_is_food),
        cmocka_unit_test(test_highest_of_two_starts_counts_until_a_person_has_said_which),
        cmocka_unit_test(test_later_rise_of_food_that_is_asked_about_is_no_later_start),
        cmocka_unit_test(test_clock_of_food_with_two_hot_probes_counts_from_the_later),
        cmocka_unit_test(test_clock_waits_where_one_of_two_probes_was_not_in_the_food),
        cmocka_unit_test(test_hot_food_beyond_the_most_batches_is_a_question),
        cmocka_unit_test(test_question_ends_with_the_steps_that_it_was_about),
        cmocka_unit_test(test_question_about_the_last_probe_of_the_list_ends_likewise),
        cmocka_unit_test(test_question_goes_on_under_a_plan_with_such_steps),
        cmocka_unit_test(test_new_plan_says_anew_what_hot_food_begins),
        cmocka_unit_test(test_second_probe_with_hot_food_begins_a_batch_of_its_own),
        cmocka_unit_test(test_probes_of_one_pan_begin_one_batch),
        cmocka_unit_test(test_probe_of_the_pan_that_is_not_in_it_yet_excuses_nothing),
        cmocka_unit_test(test_probe_of_another_batch_is_not_taken_into_the_pan),
        cmocka_unit_test(test_other_probe_of_the_pan_may_be_put_in_after_the_clock_began),
        cmocka_unit_test(test_step_that_only_a_person_begins_has_no_clock_of_before),
        cmocka_unit_test(test_probe_from_hot_food_brings_no_clock_where_none_begins_by_itself),
        cmocka_unit_test(test_other_probe_of_the_pan_is_in_hot_food_before_it_is_read_again),
        cmocka_unit_test(test_hot_food_begins_the_first_step_of_its_product),
        cmocka_unit_test(test_first_probe_of_the_plan_comes_with_the_others_of_its_pan),
        cmocka_unit_test(test_probe_without_a_number_begins_nothing),
        cmocka_unit_test(test_starts_that_hardly_differ_are_told_apart),
        cmocka_unit_test(test_food_whose_beginning_was_lost_counts_from_its_first_fall),
        cmocka_unit_test(test_record_of_a_probe_that_is_gone_is_taken),
    };
    return cmocka_run_group_tests_name("engine hot food", tests, NULL, NULL);
}
