/* Which food a deviation concerns, food in store, and what becomes of it: docs/engine.md E190
 * to E196. What a corrective action has to state is that of 21 CFR 117.150(a)(2) and 9 CFR
 * 417.3(a); from memory, in our words. */
#include "tests/support/check.h"

#include <stdio.h>
#include <string.h>

#include "tests/support/engine_rig.h"
#include "trivet/snapshot.h"

#define NONE "{kind: none}"
#define FRIDGE                                                                                 \
    "{kind: hold_cold, applies_to: air, at_most: 5 °C, tolerance: 10 min, back_for: 1 min}"
#define REHEAT_ONCE "{kind: reheat, applies_to: food, at_least: 74 °C, within: 2 h, once: yes}"

/* An entry as a person makes it, some seconds after the rig's last input; false when refused.
 */
static bool
enter(struct rig *rig, const char *at, struct entry *entry)
{
    if (!entry->who[0])
        (void)strcpy(entry->who, "AB");
    struct engine_input input = {.kind = ENGINE_TICK, .at_ms = rig_time(at)};
    rig_feed(rig, &input);
    rig->refusal[0] = '\0';
    if (!engine_check(rig->engine, entry, rig->refusal, sizeof rig->refusal))
        return false;
    engine_complete(rig->engine, entry);
    input = (struct engine_input){
        .kind = ENGINE_ENTRY, .at_ms = rig_time(at), .seq = ++rig->seq, .is.entry = entry};
    rig_feed(rig, &input);
    return true;
}

static bool
put(struct rig *rig, const char *at, enum entry_kind kind, uint32_t batch, const char *place,
    enum batch_outcome outcome)
{
    struct entry entry;
    entry_clear(&entry, kind);
    entry.batch = batch;
    entry.outcome = outcome;
    if (kind == ENTRY_BEGIN)
        (void)strcpy(entry.product, "dish");
    (void)snprintf(entry.place, sizeof entry.place, "%s", place);
    return enter(rig, at, &entry);
}

static struct entry
action_on(uint32_t deviation, enum disposition disposition)
{
    struct entry entry;
    entry_clear(&entry, ENTRY_ACTION);
    entry.deviation = deviation;
    entry.disposition = disposition;
    (void)strcpy(entry.found, "door ajar");
    (void)strcpy(entry.done, "shut it");
    return entry;
}

/* "1 2 5", with "+" when there is more. */
static char *
food_of(const struct rig *rig, uint32_t number, char *buf, size_t size)
{
    static struct engine_deviation_view views[ENGINE_DEVIATIONS_MAX];
    size_t count = engine_view_deviations(rig->engine, views, ENGINE_DEVIATIONS_MAX), len = 0;
    (void)snprintf(buf, size, "none such");
    for (size_t i = 0; i < count; i++) {
        if (views[i].number != number)
            continue;
        buf[0] = '\0';
        for (size_t k = 0; k < views[i].food_count; k++)
            len += (size_t)snprintf(buf + len, size - len, "%s%u", k == 0 ? "" : " ",
                                    views[i].food[k]);
        (void)snprintf(buf + len, size - len, "%s", views[i].food_more ? "+" : "");
    }
    return buf;
}

/* A fridge with batches 1 (stays), 2 (stored there), 3 (leaves within the tolerance, after the
 * first breach), 4 (comes during the deviation), 5 (left before), 6 (elsewhere). */
static struct rig *
warm_fridge(void)
{
    struct rig *rig = rig_new(NONE, FRIDGE);
    for (uint32_t i = 0; i < 6; i++)
        assert_true(put(rig, "0:00:00", ENTRY_BEGIN, 0, i < 3 || i == 4 ? "fridge" : "", 0));
    assert_true(put(rig, "0:00:20", ENTRY_END, 2, "", OUTCOME_STORED));
    assert_true(put(rig, "0:00:30", ENTRY_END, 5, "", OUTCOME_SERVED));
    rig_play(rig, "0:00:40 a1 4.0\n0:01:00-0:05:00 a1 8.0\n");
    assert_true(put(rig, "0:05:05", ENTRY_END, 3, "", OUTCOME_SERVED));
    rig_play(rig, "0:05:10-0:12:00 a1 8.0\n");
    assert_true(put(rig, "0:12:05", ENTRY_END, 4, "fridge", OUTCOME_STORED));
    return rig;
}

static void
test_a_deviation_of_a_place_lists_all_food_in_it_meanwhile(void **state)
{
    char food[200];
    (void)state;
    struct rig *rig = warm_fridge();
    assert_string_equal(food_of(rig, 1, food, sizeof food), "3 1 2 4");
    rig_reload(rig); /* saved and loaded it is the same */
    assert_string_equal(food_of(rig, 1, food, sizeof food), "3 1 2 4");
    /* What comes after its end is not concerned. */
    rig_play(rig, "0:12:10-0:13:20 a1 4.0\n");
    assert_true(put(rig, "0:13:30", ENTRY_END, 6, "fridge", OUTCOME_STORED));
    assert_string_equal(food_of(rig, 1, food, sizeof food), "3 1 2 4");
    rig_free(rig);
}

static void
test_food_in_store_is_moved_and_taken_out(void **state)
{
    char food[200];
    static struct engine_stored_view stored[ENGINE_STORED_MAX];
    (void)state;
    struct rig *rig = rig_new(NONE, FRIDGE);
    assert_true(put(rig, "0:00:00", ENTRY_BEGIN, 0, "", 0));
    assert_true(put(rig, "0:00:10", ENTRY_END, 1, "", OUTCOME_STORED));
    assert_int_equal(engine_view_stored(rig->engine, stored, ENGINE_STORED_MAX), 1);
    assert_string_equal(stored[0].place, "");
    assert_false(put(rig, "0:00:11", ENTRY_MOVE, 1, "", 0));
    assert_non_null(strstr(rig->refusal, "name the place"));
    assert_false(put(rig, "0:00:12", ENTRY_MOVE, 1, "attic", 0));
    assert_non_null(strstr(rig->refusal, "no place 'attic'"));
    assert_false(put(rig, "0:00:13", ENTRY_END, 1, "", OUTCOME_STORED));
    assert_non_null(strstr(rig->refusal, "in store already"));
    rig_play(rig, "0:01:00-0:11:10 a1 8.0\n");
    assert_true(put(rig, "0:11:20", ENTRY_MOVE, 1, "fridge", 0));
    assert_string_equal(food_of(rig, 1, food, sizeof food), "1");
    assert_true(put(rig, "0:11:30", ENTRY_END, 1, "", OUTCOME_DISCARDED));
    assert_int_equal(engine_view_stored(rig->engine, stored, ENGINE_STORED_MAX), 0);
    assert_false(put(rig, "0:11:40", ENTRY_END, 1, "", OUTCOME_DISCARDED));
    assert_non_null(strstr(rig->refusal, "not open"));
    rig_free(rig);
}

/* Food that is stored, but not there, is not concerned; what left and came back is listed once.
 */
static void
test_food_elsewhere_is_not_listed_and_no_food_twice(void **state)
{
    char food[200];
    (void)state;
    struct rig *rig = rig_new(NONE, FRIDGE);
    for (uint32_t i = 0; i < 4; i++)
        assert_true(put(rig, "0:00:00", ENTRY_BEGIN, 0, i == 0 ? "" : "fridge", 0));
    assert_true(put(rig, "0:00:10", ENTRY_END, 1, "", OUTCOME_STORED));
    rig_play(rig, "0:00:40 a1 4.0\n0:01:00-0:05:00 a1 8.0\n");
    assert_true(put(rig, "0:05:01", ENTRY_END, 3, "", OUTCOME_SERVED));
    assert_true(put(rig, "0:05:02", ENTRY_END, 4, "", OUTCOME_SERVED));
    rig_play(rig, "0:05:10-0:12:00 a1 8.0\n");
    assert_string_equal(food_of(rig, 1, food, sizeof food), "3 4 2");
    /* Batch 2 is listed; its being stored where it is adds nothing, what comes in does. */
    assert_true(put(rig, "0:12:05", ENTRY_END, 2, "fridge", OUTCOME_STORED));
    assert_true(put(rig, "0:12:06", ENTRY_MOVE, 1, "fridge", 0));
    assert_string_equal(food_of(rig, 1, food, sizeof food), "3 4 2 1");
    rig_free(rig);
}

static void
test_food_taken_out_of_store_leaves_the_rest_as_it_was(void **state)
{
    char food[200];
    static struct engine_stored_view stored[ENGINE_STORED_MAX];
    (void)state;
    struct rig *rig = rig_new(NONE, FRIDGE);
    for (uint32_t i = 1; i <= 4; i++) {
        assert_true(put(rig, "0:00:00", ENTRY_BEGIN, 0, "fridge", 0));
        assert_true(put(rig, "0:00:00", ENTRY_END, i, "", OUTCOME_STORED));
    }
    assert_true(put(rig, "0:00:10", ENTRY_END, 2, "", OUTCOME_SERVED));
    assert_int_equal(engine_view_stored(rig->engine, stored, ENGINE_STORED_MAX), 3);
    for (size_t i = 0; i < 3; i++) {
        assert_int_equal(stored[i].number, i == 0 ? 1 : i + 2);
        assert_string_equal(stored[i].place, "fridge");
        assert_string_equal(stored[i].product, "dish");
    }
    rig_play(rig, "0:01:00-0:11:10 a1 8.0\n");
    assert_string_equal(food_of(rig, 1, food, sizeof food), "1 3 4");
    rig_free(rig);
}

/* What leaves the place within its tolerance was in it: moved elsewhere, or taken out. */
static void
test_food_in_store_that_leaves_a_warm_place_is_concerned(void **state)
{
    char food[200];
    static struct engine_stored_view stored[ENGINE_STORED_MAX];
    (void)state;
    struct rig *rig = rig_new(NONE, FRIDGE);
    for (uint32_t i = 1; i <= 4; i++) {
        assert_true(put(rig, "0:00:00", ENTRY_BEGIN, 0, "fridge", 0));
        assert_true(put(rig, "0:00:00", ENTRY_END, i, "", OUTCOME_STORED));
    }
    assert_true(put(rig, "0:00:10", ENTRY_MOVE, 4, "shelf", 0));
    rig_play(rig, "0:00:40 a1 4.0\n0:01:00-0:05:00 a1 8.0\n");
    assert_true(put(rig, "0:05:01", ENTRY_MOVE, 3, "shelf", 0));
    assert_true(put(rig, "0:05:02", ENTRY_END, 1, "", OUTCOME_SERVED));
    rig_play(rig, "0:05:10-0:12:00 a1 8.0\n");
    assert_string_equal(food_of(rig, 1, food, sizeof food), "3 1 2");
    assert_int_equal(engine_view_stored(rig->engine, stored, ENGINE_STORED_MAX), 3);
    assert_string_equal(stored[0].place, "fridge");
    assert_string_equal(stored[1].place, "shelf");
    assert_string_equal(stored[2].place, "shelf");
    rig_free(rig);
}

/* More than can be listed is said to be more. */
static void
test_more_food_than_can_be_listed_is_said(void **state)
{
    static char food[ENGINE_AFFECTED_MAX * 12];
    (void)state;
    for (uint32_t extra = 0; extra < 2; extra++) {
        struct rig *rig = rig_new(NONE, FRIDGE);
        for (uint32_t i = 1; i <= ENGINE_AFFECTED_MAX + extra; i++) {
            assert_true(put(rig, "0:00:00", ENTRY_BEGIN, 0, "fridge", 0));
            assert_true(put(rig, "0:00:00", ENTRY_END, i, "", OUTCOME_STORED));
        }
        rig_play(rig, "0:01:00-0:11:10 a1 8.0\n");
        (void)food_of(rig, 1, food, sizeof food);
        assert_int_equal(strchr(food, '+') != NULL, extra == 1);
        assert_non_null(strstr(food, " 64"));
        assert_null(strstr(food, " 65"));
        rig_free(rig);
    }
}

static void
test_each_affected_batch_has_its_disposition(void **state)
{
    (void)state;
    struct rig *rig = warm_fridge();
    struct entry act = action_on(1, DISPOSITION_NONE);
    assert_false(enter(rig, "0:13:00", &act));
    assert_non_null(strstr(rig->refusal, "what becomes of batch 3"));
    act.food[act.food_count++] = (struct entry_food){3, DISPOSITION_DISCARD, "2 kg"};
    assert_false(enter(rig, "0:13:01", &act));
    assert_non_null(strstr(rig->refusal, "what becomes of batch 1"));
    act.food[act.food_count++] = (struct entry_food){6, DISPOSITION_USE, ""};
    assert_false(enter(rig, "0:13:02", &act));
    assert_non_null(strstr(rig->refusal, "did not affect batch 6"));
    struct entry first = action_on(1, DISPOSITION_USE);
    first.food[first.food_count++] = (struct entry_food){6, DISPOSITION_USE, ""};
    assert_false(enter(rig, "0:13:02", &first));
    assert_non_null(strstr(rig->refusal, "did not affect batch 6"));
    act.food[1].batch = 3;
    assert_false(enter(rig, "0:13:03", &act));
    assert_non_null(strstr(rig->refusal, "named twice"));
    act.food_count = 1;
    act.disposition = DISPOSITION_NO_FOOD;
    assert_false(enter(rig, "0:13:04", &act));
    assert_non_null(strstr(rig->refusal, "no-food cannot be"));
    act.disposition = DISPOSITION_USE; /* of the rest */
    assert_true(enter(rig, "0:13:05", &act));
    /* On record each stands by itself. */
    assert_int_equal(act.food_count, 4);
    assert_int_equal(act.food[0].disposition, DISPOSITION_DISCARD);
    assert_int_equal(act.food[3].batch, 4);
    assert_int_equal(act.food[3].disposition, DISPOSITION_USE);
    rig_free(rig);
}

static void
test_a_second_reheating_is_refused_where_the_plan_lets_it_be_once(void **state)
{
    (void)state;
    struct rig *rig = rig_new(REHEAT_ONCE, NULL);
    rig_play(rig, "0:00:00 begin dish p1\n0:00:10-2:00:10 p1 40.0\n");
    struct entry act = action_on(1, DISPOSITION_REHEAT);
    assert_false(enter(rig, "2:00:20", &act));
    assert_non_null(strstr(rig->refusal, "reheated already"));
    act.disposition = DISPOSITION_HOLD;
    assert_true(enter(rig, "2:00:21", &act));
    rig_play(rig, "2:00:30 move after\n2:00:31 move first\n");
    assert_non_null(strstr(rig->refusal, "reheated already"));
    /* Food in store remembers it. */
    assert_true(put(rig, "2:00:40", ENTRY_END, 1, "", OUTCOME_STORED));
    act = action_on(1, DISPOSITION_REHEAT);
    assert_false(enter(rig, "2:00:41", &act));
    assert_non_null(strstr(rig->refusal, "reheated already"));
    rig_free(rig);
    /* Without `once` nobody forbids it; nor a first one. */
    rig = rig_new("{kind: reheat, applies_to: food, at_least: 74 °C, within: 2 h}", NULL);
    rig_play(rig, "0:00:00 begin dish p1\n0:00:10-2:00:10 p1 40.0\n");
    act = action_on(1, DISPOSITION_REHEAT);
    assert_true(enter(rig, "2:00:20", &act));
    rig_free(rig);
}

/* The same of a cooling, in the batch and in store. */
static void
test_food_cooled_once_may_not_be_cooled_again(void **state)
{
    static const char *const limits[] = {
        "{kind: cool, applies_to: food, from: 57 °C, stages: [{to: 21 °C, within: 2 h}], once: "
        "yes}",
        "{kind: cool, applies_to: food, from: 57 °C, stages: [{to: 21 °C, within: 2 h}]}",
    };
    (void)state;
    for (size_t i = 0; i < COUNT_OF(limits); i++) {
        struct rig *rig = rig_new(limits[i], NULL);
        rig_play(rig,
                 "0:00:00 begin dish p1\n0:00:10-0:01:00 p1 60.0\n0:01:10-2:10:00 p1 40.0\n");
        struct entry act = action_on(1, DISPOSITION_COOL_AGAIN);
        assert_int_equal(enter(rig, "2:10:20", &act), i == 1);
        if (i == 0)
            assert_non_null(strstr(rig->refusal, "cooled"));
        assert_true(put(rig, "2:10:40", ENTRY_END, 1, "", OUTCOME_STORED));
        act = action_on(1, DISPOSITION_COOL_AGAIN);
        assert_int_equal(enter(rig, "2:10:41", &act), i == 1);
        rig_free(rig);
    }
}

static void
test_the_plan_can_ask_for_every_element(void **state)
{
    (void)state;
    struct rig *rig = rig_new(NONE, FRIDGE);
    rig->plans[0]->duties.full_actions = true;
    rig_play(rig, "0:01:00-0:12:00 a1 8.0\n");
    struct entry act = action_on(1, DISPOSITION_NO_FOOD);
    static const char *const asked[] = {"--control", "--prevent", "--safe"};
    char *const texts[] = {act.control, act.prevent, act.safe};
    for (size_t i = 0; i < 3; i++) {
        assert_false(enter(rig, "0:12:10", &act));
        assert_non_null(strstr(rig->refusal, asked[i]));
        (void)strcpy(texts[i], "said");
    }
    assert_true(enter(rig, "0:12:20", &act));
    rig_free(rig);
}

/* The store keeps the last 256; the one stored longest ago makes room. */
static void
test_the_store_is_bounded(void **state)
{
    static struct engine_stored_view stored[ENGINE_STORED_MAX];
    char at[16];
    (void)state;
    struct rig *rig = rig_new(NONE, NULL);
    for (uint32_t i = 0; i <= 256; i++) {
        (void)snprintf(at, sizeof at, "0:%02u:%02u", i / 60, i % 60);
        assert_true(put(rig, at, ENTRY_BEGIN, 0, "", 0));
        assert_true(put(rig, at, ENTRY_END, i + 1, "", OUTCOME_STORED));
    }
    assert_int_equal(engine_view_stored(rig->engine, stored, ENGINE_STORED_MAX), 256);
    assert_int_equal(stored[0].number, 2);
    assert_int_equal(stored[255].number, 257);
    rig_reload(rig);
    assert_int_equal(engine_view_stored(rig->engine, stored, ENGINE_STORED_MAX), 256);
    rig_free(rig);
}

/* ---- reviews ---- */

static bool
review(struct rig *rig, const char *at, const char *who, const char *day)
{
    struct entry entry;
    entry_clear(&entry, ENTRY_REVIEW);
    (void)strcpy(entry.who, who);
    (void)strcpy(entry.day, day);
    return enter(rig, at, &entry);
}

static void
test_a_day_is_reviewed_once_and_not_by_a_cook(void **state)
{
    (void)state;
    struct rig *rig = rig_new(NONE, NULL);
    assert_false(review(rig, "0:00:01", "AB", "2026-03-01"));
    assert_non_null(strstr(rig->refusal, "AB is a cook"));
    assert_false(review(rig, "0:00:02", "SB", ""));
    assert_non_null(strstr(rig->refusal, "day is missing"));
    assert_true(review(rig, "0:00:03", "SB", "2026-03-01"));
    rig_reload(rig);
    assert_false(review(rig, "0:00:04", "SB", "2026-03-01"));
    assert_non_null(strstr(rig->refusal, "reviewed already"));
    assert_true(review(rig, "0:00:05", "SB", "2026-03-02"));
    rig_free(rig);
}

/* The rig begins on Tuesday 3 March 2026, 09:26:40 UTC. */
static void
test_days_wait_for_their_review_and_become_overdue(void **state)
{
    (void)state;
    static const struct {
        int days; /* after the beginning */
        unsigned waiting, overdue;
        const char *oldest;
    } cases[] = {
        {0, 0, 0, ""},
        {1, 1, 0, "2026-03-03"},
        /* Tuesday's seventh working day is Thursday the 12th: due by its end. */
        {9, 9, 0, "2026-03-03"},
        {10, 10, 1, "2026-03-03"},
        {100, 60, 50, "2026-04-12"}, /* 60 are looked at */
    };
    struct rig *rig = rig_new(NONE, NULL);
    for (size_t i = 0; i < COUNT_OF(cases); i++) {
        struct snapshot *snapshot = snapshot_build(
            rig->engine, NULL, RIG_BASE_MS + cases[i].days * INT64_C(86400000), 0);
        assert_non_null(snapshot);
        assert_int_equal(snapshot->reviews_waiting, cases[i].waiting);
        if (cases[i].days < 100)
            assert_int_equal(snapshot->reviews_overdue, cases[i].overdue);
        assert_string_equal(snapshot->review_oldest, cases[i].oldest);
        snapshot_release(snapshot);
    }
    assert_true(review(rig, "0:00:05", "SB", "2026-03-03"));
    struct snapshot *snapshot =
        snapshot_build(rig->engine, NULL, RIG_BASE_MS + 10 * INT64_C(86400000), 0);
    assert_int_equal(snapshot->reviews_waiting, 9);
    assert_int_equal(snapshot->reviews_overdue, 0);
    assert_string_equal(snapshot->review_oldest, "2026-03-04");
    snapshot_release(snapshot);
    rig_free(rig);
}

/* What left within the tolerance and came back is listed once, also when it is the first. */
static void
test_food_that_left_and_came_back_is_listed_once(void **state)
{
    char food[200];
    (void)state;
    struct rig *rig = rig_new(NONE, FRIDGE);
    assert_true(put(rig, "0:00:00", ENTRY_BEGIN, 0, "fridge", 0));
    assert_true(put(rig, "0:00:10", ENTRY_END, 1, "", OUTCOME_STORED));
    rig_play(rig, "0:00:40 a1 4.0\n0:01:00-0:05:00 a1 8.0\n");
    assert_true(put(rig, "0:05:01", ENTRY_MOVE, 1, "shelf", 0));
    assert_true(put(rig, "0:05:02", ENTRY_MOVE, 1, "fridge", 0));
    rig_play(rig, "0:05:10-0:12:00 a1 8.0\n");
    assert_string_equal(food_of(rig, 1, food, sizeof food), "1");
    rig_free(rig);
}

/* Food that is gone can have been heated or cooled before it was served. */
static void
test_food_that_is_gone_may_have_been_reheated(void **state)
{
    (void)state;
    struct rig *rig = warm_fridge();
    struct entry act = action_on(1, DISPOSITION_USE);
    act.food[act.food_count++] = (struct entry_food){3, DISPOSITION_REHEAT, ""};
    assert_true(enter(rig, "0:13:00", &act));
    act = action_on(1, DISPOSITION_USE);
    act.food[act.food_count++] = (struct entry_food){3, DISPOSITION_COOL_AGAIN, ""};
    assert_true(enter(rig, "0:13:01", &act));
    rig_free(rig);
}

/* ---- what food is not to be any more: E238 ---- */

/* A fridge in deviation 1 with batch 1 running and batch 2 in store there. */
static struct rig *
two_in_a_warm_fridge(void)
{
    struct rig *rig = rig_new(NONE, FRIDGE);
    assert_true(put(rig, "0:00:00", ENTRY_BEGIN, 0, "fridge", 0));
    assert_true(put(rig, "0:00:00", ENTRY_BEGIN, 0, "fridge", 0));
    assert_true(put(rig, "0:00:10", ENTRY_END, 2, "", OUTCOME_STORED));
    rig_play(rig, "0:01:00-0:11:10 a1 8.0\n");
    return rig;
}

static void
act(struct rig *rig, const char *at, uint32_t deviation, enum disposition disposition,
    const char *quantity)
{
    struct entry entry = action_on(deviation, DISPOSITION_NONE);
    for (uint32_t i = 0; i < 2; i++) {
        entry.food[i].batch = i + 1;
        entry.food[i].disposition = disposition;
        (void)snprintf(entry.food[i].quantity, sizeof entry.food[i].quantity, "%s", quantity);
    }
    entry.food_count = 2;
    assert_true(enter(rig, at, &entry));
}

static void
verified(struct rig *rig, const char *at, uint32_t deviation)
{
    struct entry entry;
    entry_clear(&entry, ENTRY_VERIFY);
    entry.deviation = deviation;
    (void)strcpy(entry.who, "VK");
    assert_true(enter(rig, at, &entry));
}

static void
refused(struct rig *rig, const char *at, uint32_t batch, enum batch_outcome outcome,
        const char *says)
{
    assert_false(put(rig, at, ENTRY_END, batch, "", outcome));
    if (!strstr(rig->refusal, says))
        print_error("refused: %s\n", rig->refusal);
    assert_non_null(strstr(rig->refusal, says));
}

static void
test_food_to_be_thrown_away_is_neither_served_nor_kept(void **state)
{
    (void)state;
    struct rig *rig = two_in_a_warm_fridge();
    act(rig, "0:12:00", 1, DISPOSITION_DISCARD, "");
    rig_reload(rig); /* saved and loaded it is the same */
    for (uint32_t batch = 1; batch <= 2; batch++)
        refused(rig, "0:12:10", batch, OUTCOME_SERVED, "corrective action on deviation 1");
    refused(rig, "0:12:20", 1, OUTCOME_STORED, "end it as discarded");
    assert_true(put(rig, "0:12:25", ENTRY_MOVE, 2, "shelf", 0)); /* towards the bin */
    rig_play(rig, "0:12:30-0:14:00 a1 4.0\n");
    verified(rig, "0:14:10", 1); /* closed: nobody can act on it any more */
    for (uint32_t batch = 1; batch <= 2; batch++) {
        refused(rig, "0:14:20", batch, OUTCOME_SERVED, "end it as discarded");
        assert_null(strstr(rig->refusal, "deviation"));
    }
    assert_true(put(rig, "0:14:30", ENTRY_END, 1, "", OUTCOME_DISCARDED));
    assert_true(put(rig, "0:14:30", ENTRY_END, 2, "", OUTCOME_DISCARDED));
    rig_free(rig);
}

static void
test_food_is_freed_by_another_action_on_the_same_deviation(void **state)
{
    (void)state;
    struct rig *rig = two_in_a_warm_fridge();
    act(rig, "0:12:00", 1, DISPOSITION_DISCARD, "");
    act(rig, "0:12:10", 1, DISPOSITION_USE, "");
    assert_true(put(rig, "0:12:20", ENTRY_END, 1, "", OUTCOME_SERVED));
    assert_true(put(rig, "0:12:30", ENTRY_END, 2, "", OUTCOME_SERVED));
    rig_free(rig);
    /* A part of it was thrown away: the rest may be used. */
    rig = two_in_a_warm_fridge();
    act(rig, "0:12:00", 1, DISPOSITION_DISCARD, "2 kg");
    assert_true(put(rig, "0:12:20", ENTRY_END, 1, "", OUTCOME_SERVED));
    rig_free(rig);
}

/* Deviation 2 is of the same fridge, with the same food. */
static void
test_food_that_two_deviations_condemn_is_not_freed_by_one(void **state)
{
    (void)state;
    for (int other = 0; other < 3; other++) {
        struct rig *rig = two_in_a_warm_fridge();
        act(rig, "0:12:00", 1, DISPOSITION_DISCARD, "");
        rig_play(rig, "0:12:30-0:14:00 a1 4.0\n0:14:10-0:24:20 a1 8.0\n");
        act(rig, "0:24:30", 2, other == 0 ? DISPOSITION_DISCARD : DISPOSITION_HOLD, "");
        act(rig, "0:24:40", other == 2 ? 2 : 1, DISPOSITION_USE, "");
        if (other == 1) { /* what was on hold as well, is it no more */
            assert_true(put(rig, "0:24:50", ENTRY_END, 1, "", OUTCOME_SERVED));
        } else {
            refused(rig, "0:24:50", 1, OUTCOME_SERVED, "end it as discarded");
            assert_true(put(rig, "0:24:55", ENTRY_END, 1, "", OUTCOME_DISCARDED));
        }
        rig_free(rig);
    }
}

static void
test_food_on_hold_is_not_served_while_its_deviation_is_listed(void **state)
{
    (void)state;
    struct rig *rig = two_in_a_warm_fridge();
    act(rig, "0:12:00", 1, DISPOSITION_HOLD, "3 kg");
    assert_true(
        put(rig, "0:12:05", ENTRY_END, 1, "", OUTCOME_STORED)); /* on hold in the fridge */
    for (uint32_t batch = 1; batch <= 2; batch++)
        refused(rig, "0:12:10", batch, OUTCOME_SERVED,
                "on hold, says the corrective action on deviation 1");
    rig_play(rig, "0:12:30-0:14:00 a1 4.0\n");
    refused(rig, "0:14:10", 2, OUTCOME_SERVED, "on hold");
    verified(rig, "0:14:20", 1);
    assert_true(put(rig, "0:14:30", ENTRY_END, 2, "", OUTCOME_SERVED));
    rig_free(rig);
}

/* E179, E238: a deviation that by a corrected clock there was not condemns no food. */
static void
test_food_condemned_by_a_deviation_that_was_none_is_free(void **state)
{
    (void)state;
    struct rig *rig =
        rig_new("{kind: cook, applies_to: food, at_least: 74 °C}}\n"
                "      - {id: cool, name: Cool, begins: by_itself, begins_on: [p1], limit:\n"
                "          {kind: cool, applies_to: food, from: 57 °C, stages: [{to: 21 °C, "
                "within: 2 h}]}",
                NULL);
    rig_play(rig,
             "0:00:00 begin dish p1\n0:00:10-0:05:50 p1 60.0 76.0\n0:06:00-0:30:00 p1 76.0 "
             "80.0\n0:30:10-1:00:00 p1 79.9 57.2\n1:00:10-3:00:10 p1 56.9 23.0\n");
    struct entry entry = action_on(1, DISPOSITION_NONE);
    entry.food[0].batch = 1;
    entry.food[0].disposition = DISPOSITION_DISCARD;
    entry.food_count = 1;
    assert_true(enter(rig, "3:00:11", &entry));
    refused(rig, "3:00:12", 1, OUTCOME_SERVED, "corrective action on deviation 1");
    rig_play(rig, "3:00:15 correct 4 at 1:10:00\n3:00:16 confirm yes SB\n");
    assert_true(put(rig, "3:00:20", ENTRY_END, 1, "", OUTCOME_SERVED));
    rig_free(rig);
}

static void
condemn(struct rig *rig, const char *at, uint32_t deviation, enum disposition disposition)
{
    struct entry entry = action_on(deviation, DISPOSITION_NONE);
    entry.food[0].batch = 1;
    entry.food[0].disposition = disposition;
    entry.food_count = 1;
    assert_true(enter(rig, at, &entry));
}

/* Two deviations say that it is to be thrown away; that one of them says otherwise does not
 * free it. */
static void
test_food_condemned_by_two_deviations_is_not_freed_by_one(void **state)
{
    (void)state;
    for (uint32_t freed = 1; freed <= 2; freed++) {
        struct rig *rig = rig_new(
            "{kind: hold_cold, applies_to: food, at_most: 5 °C, tolerance: 1 min}", FRIDGE);
        rig_play(rig, "0:00:00 begin dish p1 place=fridge\n0:00:10-0:11:10 p1 8.0\n"
                      "0:11:20-0:22:20 a1 8.0\n");
        condemn(rig, "0:22:30", 1, DISPOSITION_DISCARD);
        condemn(rig, "0:22:40", 2, DISPOSITION_DISCARD);
        condemn(rig, "0:22:50", freed, DISPOSITION_USE);
        refused(rig, "0:23:00", 1, OUTCOME_SERVED, "corrective action");
        rig_free(rig);
    }
}

/* A cooling's deviation is withdrawn; what the fridge's says of the same food, and what it says
 * of another, stands. */
static void
test_food_condemned_by_another_deviation_stays_so_when_one_was_none(void **state)
{
    (void)state;
    struct rig *rig = rig_new("{kind: cook, applies_to: food, at_least: 74 °C}}\n"
                              "      - {id: cool, name: Cool, begins: by_itself, begins_on: "
                              "[p1], place: fridge, limit:\n"
                              "          {kind: cool, applies_to: food, from: 57 °C, stages: "
                              "[{to: 21 °C, within: 2 h}]}",
                              FRIDGE);
    rig_play(rig,
             "0:00:00 begin dish p1\n0:00:10-0:05:50 p1 60.0 76.0\n0:06:00-0:30:00 p1 76.0 "
             "80.0\n0:30:10-1:00:00 p1 79.9 57.2\n1:00:10-1:30:00 p1 56.9 40.0\n"
             "1:30:01-1:42:01 a1 8.0\n1:42:10-3:00:10 p1 39.0 23.0\n");
    struct engine_deviation_view views[4];
    size_t count = engine_view_deviations(rig->engine, views, 4);
    uint32_t fridge = 0;
    for (size_t i = 0; i < count; i++)
        if (views[i].opened.limit == LIMIT_HOLD_COLD)
            fridge = views[i].number;
    assert_int_not_equal(fridge, 0);
    condemn(rig, "3:00:11", fridge, DISPOSITION_DISCARD);
    rig_play(rig, "3:00:15 correct 4 at 1:20:00\n3:00:16 confirm yes SB\n");
    rig->log[rig->log_len] = '\0';
    assert_non_null(strstr(rig->log, "deviation-withdrawn"));
    refused(rig, "3:00:20", 1, OUTCOME_SERVED, "corrective action");
    rig_free(rig);
}

int
main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_food_to_be_thrown_away_is_neither_served_nor_kept),
        cmocka_unit_test(test_food_is_freed_by_another_action_on_the_same_deviation),
        cmocka_unit_test(test_food_that_two_deviations_condemn_is_not_freed_by_one),
        cmocka_unit_test(test_food_on_hold_is_not_served_while_its_deviation_is_listed),
        cmocka_unit_test(test_a_deviation_of_a_place_lists_all_food_in_it_meanwhile),
        cmocka_unit_test(test_food_in_store_is_moved_and_taken_out),
        cmocka_unit_test(test_food_elsewhere_is_not_listed_and_no_food_twice),
        cmocka_unit_test(test_food_taken_out_of_store_leaves_the_rest_as_it_was),
        cmocka_unit_test(test_food_in_store_that_leaves_a_warm_place_is_concerned),
        cmocka_unit_test(test_more_food_than_can_be_listed_is_said),
        cmocka_unit_test(test_each_affected_batch_has_its_disposition),
        cmocka_unit_test(test_a_second_reheating_is_refused_where_the_plan_lets_it_be_once),
        cmocka_unit_test(test_food_cooled_once_may_not_be_cooled_again),
        cmocka_unit_test(test_the_plan_can_ask_for_every_element),
        cmocka_unit_test(test_the_store_is_bounded),
        cmocka_unit_test(test_a_day_is_reviewed_once_and_not_by_a_cook),
        cmocka_unit_test(test_days_wait_for_their_review_and_become_overdue),
        cmocka_unit_test(test_food_that_left_and_came_back_is_listed_once),
        cmocka_unit_test(test_food_that_is_gone_may_have_been_reheated),
        cmocka_unit_test(test_food_condemned_by_a_deviation_that_was_none_is_free),
        cmocka_unit_test(test_food_condemned_by_two_deviations_is_not_freed_by_one),
        cmocka_unit_test(test_food_condemned_by_another_deviation_stays_so_when_one_was_none),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
