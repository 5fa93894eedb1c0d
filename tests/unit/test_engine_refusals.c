/* What an entry is refused for: one thing is wrong with an entry that is taken otherwise, and
 * what is said names it and what to do. The kitchen's plan is below; the words are ours. */
#include "tests/support/check.h"

#include <stdio.h>
#include <string.h>

#include "tests/support/engine_rig.h"
#include "tests/support/plan_text.h"

static const char kitchen[] = PLAN_HEAD PLAN_PROBE("p1", "food", "rack", "0", "10 s")
    PLAN_PROBE("p2", "food", "rack", "1", "10 s") PLAN_PROBE("p3", "food", "rack", "2", "10 s")
        PLAN_PROBE("cold", "air", "rack", "3",
                   "10 s") "thermometers:\n"
                           "  - {id: pen, name: Pen}\n"
                           "  - {id: stick, name: Stick}\n"
                           "places:\n"
                           "  - {id: fridge, name: Fridge, probe: cold, limit: {kind: "
                           "hold_cold, applies_to: air,\n"
                           "     at_most: 5 °C, tolerance: 10 min, back_for: 1 min}}\n"
                           "  - {id: shelf, name: Shelf, limit: {kind: none}}\n"
                           "products:\n"
                           "  - id: pie\n"
                           "    name: Pie\n"
                           "    steps:\n"
                           "      - {id: bake, name: Bake, limit: {kind: cook, applies_to: "
                           "food, at_least: 70 °C}}\n"
                           "      - {id: cool, name: Cool, limit: {kind: cool, applies_to: "
                           "food, from: 57 °C, stages: "
                           "[{to: 21 °C, within: 2 h}, {to: 5 °C, within: 6 h}]}}\n"
                           "  - id: bowl\n"
                           "    name: Bowl\n"
                           "    steps:\n"
                           "      - {id: serve, name: Serve, limit: {kind: time_control, "
                           "applies_to: food, "
                           "left_at_most: 5 °C, within: 4 h}}\n"
                           "  - id: roll\n"
                           "    name: Roll\n"
                           "    steps:\n"
                           "      - {id: chill, name: Chill, limit: {kind: cool, applies_to: "
                           "food, clock: step, from: "
                           "57 °C, start_within: 30 min, stages: [{to: 5 °C, within: 2 h}]}}\n"
                           "  - id: stew\n"
                           "    name: Stew\n"
                           "    steps:\n"
                           "      - {id: chill, name: Chill, limit: {kind: cool, applies_to: "
                           "food, from: 57 °C, once: "
                           "yes, stages: [{to: 5 °C, within: 4 h}]}}\n"
                           "      - {id: warm, name: Warm, limit: {kind: reheat, applies_to: "
                           "food, at_least: 74 °C, "
                           "within: 2 h, once: yes}}\n"
                           "duties: {full_actions: yes}\n";

/* Batch 1: pie that bakes with p1, in the fridge; 2: a bowl; 3: a roll; 4: in store; 5: a pie
 * that cools with p2, from when nobody knows. Deviation 1 of the fridge goes on. */
static struct rig *
busy(void)
{
    struct rig *rig = rig_of(kitchen);
    rig_play(rig, "0:00:00 begin pie p1 place=fridge\n0:00:00 begin bowl\n0:00:00 begin "
                  "roll\n0:00:00 begin bowl place=shelf\n0:00:00 begin pie step=cool p2\n"
                  "0:00:10 end stored batch=4\n0:00:10-0:20:00 cold,p1,p2 9.0\n");
    rig->log_len = 0;
    return rig;
}

static struct entry
entry_of(enum entry_kind kind)
{
    struct entry entry;
    entry_clear(&entry, kind);
    (void)strcpy(entry.who, "AB");
    return entry;
}

static void
taken(const struct rig *rig, const struct entry *entry)
{
    char told[600] = "";
    if (!engine_check(rig->engine, entry, told, sizeof told))
        fail_msg("%s: refused: %s", entry_kind_word(entry->kind), told);
}

static void
refused(const struct rig *rig, const struct entry *entry, const char *expected)
{
    char told[600] = "taken";
    assert_false(engine_check(rig->engine, entry, told, sizeof told));
    assert_string_equal(told, expected);
}

#define PUT(field, word) (void)snprintf(entry.field, sizeof entry.field, "%s", word)

static void
test_who_has_to_be_somebody_of_the_plan(void **state)
{
    (void)state;
    struct rig *rig = busy();
    struct entry entry = entry_of(ENTRY_NOTE);
    PUT(text, "delivery late");
    taken(rig, &entry);
    PUT(who, "");
    refused(rig, &entry, "nobody is named; give the initials of who does this");
    PUT(who, "XY");
    refused(rig, &entry, "nobody with the initials 'XY' is in the plan; known are: AB, SB, VK");
    rig_free(rig);
}

static void
test_beginning_names_what_the_plan_has(void **state)
{
    (void)state;
    struct rig *rig = busy();
    struct entry entry = entry_of(ENTRY_BEGIN);
    PUT(product, "pie");
    PUT(step, "cool");
    PUT(place, "shelf");
    PUT(probes[0], "p3");
    entry.probe_count = 1;
    taken(rig, &entry);
    PUT(product, "pye");
    refused(rig, &entry,
            "there is no product 'pye' in the plan; known are: pie, bowl, roll, stew");
    PUT(product, "pie");
    PUT(step, "serve");
    refused(rig, &entry, "'pie' has no step 'serve'; its steps are: bake, cool");
    PUT(step, "");
    taken(rig, &entry);
    PUT(place, "attic");
    refused(rig, &entry, "there is no place 'attic' in the plan; known are: fridge, shelf");
    PUT(place, "");
    taken(rig, &entry);
    PUT(probes[1], "p3");
    entry.probe_count = 2;
    refused(rig, &entry, "probe 'p3' is named twice; name it once");
    PUT(probes[1], "cold");
    refused(rig, &entry, "probe 'cold' measures air; name a probe that is put into food");
    PUT(probes[1], "p9");
    refused(rig, &entry, "there is no probe 'p9' in the plan; food probes are: p1, p2, p3");
    PUT(probes[1], "p2");
    refused(rig, &entry,
            "probe 'p2' is in batch 5; name another, or end or move that batch first");
    entry.probe_count = 1;
    PUT(probe, "p3");
    refused(rig, &entry,
            "\"probe\" is for steps that begin by themselves; name the probes in "
            "the food as \"probes\"");
    PUT(probe, "");
    rig->plans[0]->probes[2].number = 0;
    refused(rig, &entry, "probe 'p3' has no stored number yet; restart trivetd with this plan");
    rig_free(rig);
}

static void
test_moving_names_an_open_batch_and_a_step_of_its_product(void **state)
{
    (void)state;
    struct rig *rig = busy();
    struct entry entry = entry_of(ENTRY_MOVE);
    entry.batch = 1;
    PUT(probes[0], "p3");
    PUT(probes[1], "p1"); /* its own */
    entry.probe_count = 2;
    taken(rig, &entry);
    entry.batch = 0;
    refused(rig, &entry, "no batch is named; open are: 1, 2, 3, 5");
    entry.batch = 6;
    refused(rig, &entry, "batch 6 is not open; open are: 1, 2, 3, 5");
    entry.batch = 1;
    PUT(probes[1], "p2");
    refused(rig, &entry,
            "probe 'p2' is in batch 5; name another, or end or move that batch first");
    entry.probe_count = 0;
    PUT(step, "serve");
    refused(rig, &entry, "'pie' has no step 'serve'; its steps are: bake, cool");
    PUT(step, "");
    PUT(place, "attic");
    refused(rig, &entry, "there is no place 'attic' in the plan; known are: fridge, shelf");
    PUT(place, "");
    PUT(probe, "p1");
    refused(rig, &entry,
            "\"probe\" is for steps that begin by themselves; name the probes in "
            "the food as \"probes\"");
    PUT(probe, "");
    entry.batch = 2;
    refused(rig, &entry,
            "batch 2 is in its last step, 'serve'; end it, or name a step to go back to");
    PUT(step, "serve");
    taken(rig, &entry);
    rig_free(rig);
}

static void
test_food_in_store_has_a_place_and_nothing_else(void **state)
{
    (void)state;
    struct rig *rig = busy();
    struct entry entry = entry_of(ENTRY_MOVE);
    entry.batch = 4;
    PUT(place, "fridge");
    taken(rig, &entry);
    PUT(step, "serve");
    refused(rig, &entry,
            "batch 4 has ended and is in store: it has no steps and no probes; "
            "name only the place it goes to, or begin a batch with it");
    PUT(step, "");
    PUT(probes[0], "p3");
    entry.probe_count = 1;
    refused(rig, &entry,
            "batch 4 has ended and is in store: it has no steps and no probes; "
            "name only the place it goes to, or begin a batch with it");
    entry.probe_count = 0;
    PUT(place, "attic");
    refused(rig, &entry, "there is no place 'attic' in the plan; known are: fridge, shelf");
    PUT(place, "");
    refused(rig, &entry, "batch 4 is in store; name the place it goes to with --place");
    entry = entry_of(ENTRY_END);
    entry.batch = 4;
    refused(rig, &entry, "what became of the batch is missing; say served or discarded");
    entry.outcome = OUTCOME_SERVED;
    taken(rig, &entry);
    entry.outcome = OUTCOME_STORED;
    refused(rig, &entry,
            "batch 4 is in store already; move it with `trivet next 4 --place`, "
            "or say served or discarded");
    rig_free(rig);
}

static void
test_ending_says_what_became_of_an_open_batch(void **state)
{
    (void)state;
    struct rig *rig = busy();
    struct entry entry = entry_of(ENTRY_END);
    entry.batch = 2;
    entry.outcome = OUTCOME_STORED;
    PUT(place, "shelf");
    taken(rig, &entry);
    PUT(place, "attic");
    refused(rig, &entry, "there is no place 'attic' in the plan; known are: fridge, shelf");
    PUT(place, "");
    entry.outcome = OUTCOME_NONE;
    refused(rig, &entry,
            "what became of the batch is missing; say served, stored or "
            "discarded");
    entry.batch = 9;
    refused(rig, &entry, "batch 9 is not open; open are: 1, 2, 3, 5");
    rig_free(rig);
}

static void
test_hand_reading_has_a_thermometer_a_temperature_and_something_measured(void **state)
{
    (void)state;
    struct rig *rig = busy();
    struct entry entry = entry_of(ENTRY_HAND);
    entry.batch = 1;
    entry.has_temp = true;
    entry.temp_mC = 60000;
    PUT(thermometer, "stick");
    taken(rig, &entry);
    entry.has_temp = false;
    refused(rig, &entry, "the temperature is missing; give what the thermometer shows");
    entry.has_temp = true;
    PUT(thermometer, "finger");
    refused(rig, &entry, "there is no thermometer 'finger' in the plan; known are: pen, stick");
    PUT(thermometer, "pen");
    entry.batch = 9;
    refused(rig, &entry, "batch 9 is not open; open are: 1, 2, 3, 5");
    entry.batch = 0;
    refused(rig, &entry, "what was measured is missing; name a batch or a place");
    PUT(place, "attic");
    refused(rig, &entry, "there is no place 'attic' in the plan; known are: fridge, shelf");
    PUT(place, "shelf");
    taken(rig, &entry);
    rig_free(rig);
}

static void
test_end_of_cooking_is_said_once_of_a_cooling_that_lacks_it(void **state)
{
    (void)state;
    struct rig *rig = busy();
    struct entry entry = entry_of(ENTRY_COOKED);
    entry.batch = 5;
    entry.given_ms = rig_time("0:21:00"); /* a minute ahead of the last reading */
    taken(rig, &entry);
    entry.given_ms++;
    refused(rig, &entry, "that time is still to come; give when cooking ended");
    entry.given_ms = TIME_NONE;
    refused(rig, &entry, "the time is missing; give when cooking ended");
    entry.given_ms = rig_time("0:00:00");
    entry.batch = 1;
    refused(rig, &entry,
            "batch 1 is in step 'bake', which is no cooling; move it to its "
            "cooling first");
    entry.batch = 9;
    refused(rig, &entry, "batch 9 is not open; open are: 1, 2, 3, 5");
    rig_play(rig, "0:20:05 cooked 0:10:00 batch=5\n");
    entry.batch = 5;
    refused(rig, &entry,
            "the cooling of batch 5 has its clock already, from what its probe saw "
            "or a time given before; add a note if that is wrong");
    /* Seen hot, and not yet fallen through the start. */
    rig_play(rig, "0:20:06 end discarded batch=5\n0:20:07 begin pie step=cool p2\n"
                  "0:20:10-0:22:00 p2,cold 70.0\n");
    entry.batch = 6;
    refused(rig, &entry,
            "a probe has seen batch 6 hot, so its cooling clock starts by itself "
            "when it falls through the start");
    rig_free(rig);
}

static void
test_delay_before_the_chiller_is_said_once(void **state)
{
    (void)state;
    struct rig *rig = busy();
    struct entry entry = entry_of(ENTRY_COOKED);
    entry.batch = 3;
    entry.given_ms = rig_time("0:00:00");
    taken(rig, &entry);
    entry.given_ms = TIME_NONE;
    refused(rig, &entry, "the time is missing; give when cooking ended");
    rig_play(rig, "0:20:05 cooked 0:00:00 batch=3\n");
    entry.given_ms = rig_time("0:00:00");
    refused(rig, &entry,
            "when cooking of batch 3 ended has been said already; add a note if "
            "that is wrong");
    rig_free(rig);
}

static void
test_time_without_control_can_only_be_said_to_be_longer(void **state)
{
    (void)state;
    struct rig *rig = busy();
    struct entry entry = entry_of(ENTRY_COOKED);
    entry.batch = 2;
    entry.given_ms = rig_time("0:00:00") - 1;
    taken(rig, &entry);
    entry.given_ms++;
    refused(rig, &entry,
            "the time of batch 2 counts from no later than that already; give an "
            "earlier time, or add a note");
    entry.given_ms = TIME_NONE;
    refused(rig, &entry, "the time is missing; give when it left temperature control");
    rig_free(rig);
}

static void
test_correction_says_of_what_to_what_and_why(void **state)
{
    (void)state;
    struct rig *rig = busy();
    struct entry entry = entry_of(ENTRY_CORRECT);
    entry.refers = 3;
    PUT(reason, "misread");
    entry.has_temp = true;
    taken(rig, &entry);
    entry.has_temp = false;
    refused(rig, &entry, "what it should read is missing; give a temperature or a text");
    PUT(text, "it was the other pie");
    taken(rig, &entry);
    PUT(reason, "");
    refused(rig, &entry, "the reason is missing; say why the entry has to be corrected");
    PUT(reason, "misread");
    entry.refers = 0;
    refused(rig, &entry, "which record to correct is missing; give its number");
    rig_free(rig);
}

static void
test_decision_is_about_something_that_waits(void **state)
{
    (void)state;
    struct rig *rig = busy();
    struct entry entry = entry_of(ENTRY_DECIDE);
    entry.batch = 5; /* its clock is unknown: probe-late */
    PUT(reason, "seen by two people");
    taken(rig, &entry);
    entry.batch = 1;
    refused(rig, &entry, "nothing about batch 1 waits for a decision; batches that do: 4, 5");
    entry.batch = 0;
    refused(rig, &entry, "nothing about batch 0 waits for a decision; batches that do: 4, 5");
    entry.batch = 5;
    PUT(reason, "");
    refused(rig, &entry, "the reason is missing; say what the decision rests on");
    PUT(reason, "seen by two people");
    PUT(probe, "p1");
    refused(rig, &entry, "decide about a batch or about a probe, not both at once");
    entry.batch = 0;
    refused(rig, &entry, "nothing about probe 'p1' waits for a decision");
    PUT(probe, "p9");
    refused(rig, &entry, "nothing about probe 'p9' waits for a decision");
    rig_free(rig);
}

static void
test_note_has_a_text_and_a_place_that_there_is(void **state)
{
    (void)state;
    struct rig *rig = busy();
    struct entry entry = entry_of(ENTRY_NOTE);
    entry.batch = 77; /* of a batch that has ended long ago */
    refused(rig, &entry, "the note is empty; write what to remember");
    PUT(text, "floor wet");
    PUT(place, "attic");
    refused(rig, &entry, "there is no place 'attic' in the plan; known are: fridge, shelf");
    PUT(place, "shelf");
    taken(rig, &entry);
    rig_free(rig);
}

static void
test_quiet_is_said_for_a_while_of_a_place_with_a_limit(void **state)
{
    (void)state;
    struct rig *rig = busy();
    struct entry entry = entry_of(ENTRY_QUIET);
    int64_t most_ms = rig->plans[0]->tolerances.quiet_max_ms;
    PUT(place, "fridge");
    entry.why = QUIET_CLEANING;
    entry.for_ms = most_ms;
    taken(rig, &entry);
    entry.for_ms = 1;
    taken(rig, &entry);
    entry.for_ms = 0;
    char told[120];
    (void)snprintf(told, sizeof told,
                   "for how long has to be said, at most %d min (tolerances: quiet_at_most)",
                   (int)(most_ms / 60000));
    refused(rig, &entry, told);
    entry.for_ms = most_ms + 1;
    refused(rig, &entry, told);
    entry.for_ms = 60000;
    entry.why = QUIET_NONE;
    refused(rig, &entry, "why is missing; say off, empty, defrosting or cleaning");
    entry.why = QUIET_CLEANING;
    PUT(place, "");
    refused(rig, &entry, "the place is missing; name the place that is quiet");
    PUT(place, "attic");
    refused(rig, &entry, "there is no place 'attic' in the plan; known are: fridge, shelf");
    PUT(place, "shelf");
    refused(rig, &entry, "place 'shelf' has no limit that could be suspended");
    PUT(place, "fridge");
    entry.end = true;
    refused(rig, &entry, "place 'fridge' is not quiet: its limit holds already");
    rig_play(rig, "0:20:05 quiet fridge 0:30:00\n");
    taken(rig, &entry);
    entry.end = false;
    refused(rig, &entry, "place 'fridge' is quiet already; end that first, then say it anew");
    rig_free(rig);
}

static void
test_first_pin_is_vouched_for_by_another_supervisor(void **state)
{
    (void)state;
    struct rig *rig = busy();
    struct entry entry = entry_of(ENTRY_PIN);
    taken(rig, &entry); /* the administrator's */
    PUT(by, "SB");
    taken(rig, &entry);
    static const char *const others[] = {"VK", "AB", "XY"};
    for (size_t i = 0; i < COUNT_OF(others); i++) {
        PUT(by, others[i]);
        refused(rig, &entry, "only another person, a supervisor, vouches for a first PIN");
    }
    PUT(who, "SB");
    PUT(by, "SB");
    refused(rig, &entry, "only another person, a supervisor, vouches for a first PIN");
    rig_free(rig);
}

static void
test_corrective_action_says_all_that_the_plan_asks_for(void **state)
{
    (void)state;
    struct rig *rig = busy(); /* the fridge holds batch 1 */
    struct entry entry = entry_of(ENTRY_ACTION);
    entry.deviation = 1;
    entry.disposition = DISPOSITION_DISCARD;
    PUT(found, "door ajar");
    PUT(done, "shut it");
    PUT(control, "4 °C again");
    PUT(prevent, "new seal");
    PUT(safe, "none was served");
    taken(rig, &entry);
    PUT(found, "");
    refused(rig, &entry, "what was found is missing; say what went wrong and why");
    PUT(found, "door ajar");
    PUT(done, "");
    refused(rig, &entry, "what was done is missing; say how it was put right");
    PUT(done, "shut it");
    PUT(control, "");
    refused(rig, &entry,
            "how control was restored is missing; the plan asks for it (--control)");
    PUT(control, "4 °C again");
    PUT(prevent, "");
    refused(rig, &entry,
            "what keeps it from happening again is missing; the plan asks for it "
            "(--prevent)");
    PUT(prevent, "new seal");
    PUT(safe, "");
    refused(rig, &entry,
            "how you know that no unsafe food was served is missing; the plan "
            "asks for it (--safe)");
    PUT(safe, "none was served");
    entry.disposition = DISPOSITION_NO_FOOD;
    refused(rig, &entry,
            "batch 1 was affected, so no-food cannot be; say what becomes of it, "
            "such as use when it is safe");
    entry.disposition = DISPOSITION_NONE;
    refused(rig, &entry,
            "what becomes of batch 1 is missing; say so for each batch, or for "
            "all of them");
    entry.food[0] = (struct entry_food){.batch = 1, .disposition = DISPOSITION_USE};
    entry.food_count = 1;
    taken(rig, &entry);
    entry.food[1] = entry.food[0];
    entry.food_count = 2;
    refused(rig, &entry, "batch 1 is named twice; say once what becomes of it");
    entry.food[1].batch = 2;
    refused(rig, &entry, "deviation 1 did not affect batch 2; affected are: 1");
    entry.food_count = 1;
    entry.deviation = 9;
    refused(rig, &entry, "there is no deviation 9; not closed are: 1");
    rig_free(rig);
}

/* E193: each batch concerned by itself, and the others together. */
static void
test_action_on_several_batches_says_what_becomes_of_each(void **state)
{
    (void)state;
    struct rig *rig = rig_of(kitchen);
    rig_play(rig, "0:00:00 begin pie place=fridge\n0:00:00 begin pie place=fridge\n0:00:00 "
                  "begin pie place=fridge\n0:00:10-0:11:00 cold 9.0\n");
    struct entry entry = entry_of(ENTRY_ACTION);
    entry.deviation = 1;
    PUT(found, "door ajar");
    PUT(done, "shut it");
    PUT(control, "4 °C again");
    PUT(prevent, "new seal");
    PUT(safe, "none was served");
    for (uint32_t i = 0; i < 3; i++)
        entry.food[i] = (struct entry_food){.batch = 3 - i, .disposition = DISPOSITION_DISCARD};
    entry.food_count = 3;
    taken(rig, &entry);
    entry.food[2].batch = 4;
    refused(rig, &entry, "deviation 1 did not affect batch 4; affected are: 1, 2, 3");
    entry.food_count = 2;
    refused(rig, &entry,
            "what becomes of batch 1 is missing; say so for each batch, or for all "
            "of them");
    engine_complete(rig->engine, &entry); /* nobody has said what becomes of batch 1 */
    assert_int_equal(entry.food_count, 2);
    entry.disposition = DISPOSITION_USE;
    taken(rig, &entry);
    engine_complete(rig->engine, &entry); /* on record each stands by itself */
    assert_int_equal(entry.food_count, 3);
    assert_int_equal(entry.food[2].batch, 1);
    assert_int_equal(entry.food[2].disposition, DISPOSITION_USE);
    assert_int_equal(entry.food[0].disposition, DISPOSITION_DISCARD);
    rig_free(rig);
}

static void
test_action_on_a_deviation_without_food_says_so(void **state)
{
    (void)state;
    struct rig *rig = rig_of(kitchen);
    rig_play(rig, "0:00:10-0:20:00 cold 9.0\n");
    struct entry entry = entry_of(ENTRY_ACTION);
    entry.deviation = 1;
    PUT(found, "door ajar");
    PUT(done, "shut it");
    PUT(control, "4 °C again");
    PUT(prevent, "new seal");
    PUT(safe, "none was in it");
    refused(rig, &entry,
            "what becomes of the food is missing; say so, or that no food was "
            "affected");
    entry.disposition = DISPOSITION_NO_FOOD;
    taken(rig, &entry);
    rig_free(rig);
}

/* E194: neither by moving it there again, nor as what becomes of it. */
static void
test_food_is_given_nothing_that_it_may_have_once_and_has_had(void **state)
{
    (void)state;
    struct rig *rig = rig_of(kitchen);
    rig_play(rig, "0:00:00 begin stew step=warm p1\n0:00:00 begin stew p2\n0:00:10-2:00:10 "
                  "cold,p1 4.0\n");
    struct entry entry = entry_of(ENTRY_ACTION);
    struct engine_deviation_view views[4];
    size_t count = engine_view_deviations(rig->engine, views, 4), late = 0;
    while (late < count && views[late].opened.reason != REASON_TOO_LATE)
        late++;
    assert_true(late < count);
    entry.deviation = views[late].number;
    PUT(found, "oven off");
    PUT(done, "switched on");
    PUT(control, "hot again");
    PUT(prevent, "a lamp");
    PUT(safe, "none was served");
    entry.disposition = DISPOSITION_REHEAT;
    refused(rig, &entry,
            "batch 1 has been reheated already, and the plan lets it be reheated "
            "once only (once: yes); say what else becomes of it");
    entry.disposition = DISPOSITION_COOL_AGAIN;
    taken(rig, &entry); /* it has not been cooled */
    entry = entry_of(ENTRY_MOVE);
    entry.batch = 1;
    PUT(step, "warm");
    refused(rig, &entry,
            "batch 1 has been reheated already, and the plan lets it be reheated "
            "once only (once: yes); say what else becomes of it");
    PUT(step, "chill");
    taken(rig, &entry);
    entry.batch = 2;
    refused(rig, &entry,
            "batch 2 has been cooled already, and the plan lets it be cooled once "
            "only (once: yes); say what else becomes of it");
    PUT(step, "warm");
    taken(rig, &entry);
    rig_free(rig);
}

static void
test_deviation_named_is_one_that_is_not_closed(void **state)
{
    (void)state;
    struct rig *rig = busy();
    struct entry entry = entry_of(ENTRY_HEARD);
    entry.deviation = 1;
    taken(rig, &entry);
    entry.deviation = 0;
    refused(rig, &entry, "no deviation is named; not closed are: 1");
    entry.deviation = engine_next_deviation(rig->engine);
    refused(rig, &entry, "there is no deviation 2; not closed are: 1");
    rig_play(rig, "0:20:10-0:22:00 cold,p1,p2 4.0\n");
    entry = entry_of(ENTRY_ACTION);
    entry.deviation = 1;
    entry.disposition = DISPOSITION_USE;
    PUT(found, "door ajar");
    PUT(done, "shut it");
    PUT(control, "4 °C again");
    PUT(prevent, "new seal");
    PUT(safe, "none was served");
    taken(rig, &entry);
    struct engine_input input = {.kind = ENGINE_ENTRY,
                                 .at_ms = rig_time("0:22:05"),
                                 .seq = ++rig->seq,
                                 .is.entry = &entry};
    rig_feed(rig, &input);
    rig_play(rig, "0:22:06 verify 1 SB\n");
    entry = entry_of(ENTRY_HEARD);
    entry.deviation = 1;
    refused(rig, &entry, "deviation 1 is closed; not closed are: none");
    rig_free(rig);
}

static void
test_verification_is_another_persons_who_may(void **state)
{
    (void)state;
    struct rig *rig = rig_new(NULL, "{kind: hold_cold, applies_to: air, at_most: 5 °C, "
                                    "tolerance: 10 min, back_for: 1 min}");
    rig_play(rig, "0:00:10-0:20:00 a1 9.0\n");
    struct entry entry = entry_of(ENTRY_VERIFY);
    entry.deviation = 1;
    PUT(who, "SB");
    refused(rig, &entry, "deviation 1 has no corrective action yet; record that first");
    rig_play(rig, "0:20:05 action 1 SB\n");
    refused(rig, &entry, "SB recorded this action and cannot verify it; another person has to");
    PUT(who, "AB");
    refused(rig, &entry,
            "AB is a cook in the plan and cannot verify; a supervisor or verifier "
            "can: SB, VK");
    PUT(who, "VK");
    taken(rig, &entry);
    entry.deviation = 0;
    refused(rig, &entry, "no deviation is named; not closed are: 1");
    rig_free(rig);
}

static void
test_review_is_of_a_day_and_not_by_a_cook(void **state)
{
    (void)state;
    struct rig *rig = busy();
    struct entry entry = entry_of(ENTRY_REVIEW);
    PUT(who, "SB");
    PUT(day, "2026-03-01");
    taken(rig, &entry);
    PUT(day, "");
    refused(rig, &entry, "the day is missing; name the business day, such as 2026-03-01");
    PUT(day, "2026-03-01");
    PUT(who, "AB");
    refused(rig, &entry,
            "AB is a cook in the plan and cannot review records; a supervisor or "
            "verifier can");
    PUT(who, "VK");
    struct engine_input input = {.kind = ENGINE_ENTRY,
                                 .at_ms = rig_time("0:20:05"),
                                 .seq = ++rig->seq,
                                 .is.entry = &entry};
    rig_feed(rig, &input);
    refused(rig, &entry,
            "the records of 2026-03-01 have been reviewed already; add a note if "
            "there is more to say");
    rig_free(rig);
}

static void
test_most_batches_there_can_be_are_all_named(void **state)
{
    (void)state;
    struct rig *rig = rig_of(kitchen);
    for (int i = 0; i < ENGINE_BATCHES_MAX; i++)
        rig_play(rig, "0:00:00 begin bowl\n");
    struct entry entry = entry_of(ENTRY_END);
    char told[600];
    entry.batch = 99;
    assert_false(engine_check(rig->engine, &entry, told, sizeof told));
    assert_memory_equal(told, "batch 99 is not open; open are: 1, 2, 3, 4, 5, 6, ", 50);
    assert_string_equal(strstr(told, ", 63"), ", 63, 64");
    entry = entry_of(ENTRY_BEGIN);
    PUT(product, "bowl");
    refused(rig, &entry, "64 batches are open, which is the most there can be; end one first");
    rig_free(rig);
}

/* A hundred products do not fit into a line. */
static void
test_long_list_of_what_is_known_is_cut_and_says_so(void **state)
{
    (void)state;
    static char text[20000];
    size_t len = (size_t)snprintf(text, sizeof text, "%splaces: []\nproducts:\n",
                                  PLAN_HEAD PLAN_PROBE("p1", "food", "rack", "0", "10 s"));
    for (int i = 0; i < 60; i++)
        len += (size_t)snprintf(text + len, sizeof text - len,
                                "  - {id: summer-soup-%02d, name: Soup %d, steps: [{id: serve, "
                                "name: Serve, limit: {kind: none}}]}\n",
                                i, i);
    struct rig *rig = rig_of(text);
    struct entry entry = entry_of(ENTRY_BEGIN);
    char told[600];
    PUT(product, "stew");
    assert_false(engine_check(rig->engine, &entry, told, sizeof told));
    assert_memory_equal(told,
                        "there is no product 'stew' in the plan; known are: "
                        "summer-soup-00, summer-soup-01, summer-soup-02, ",
                        99);
    const char *more = strstr(told, ", ...");
    assert_non_null(more);
    assert_string_equal(more, ", ...");                 /* at its end, and once */
    assert_memory_equal(more - 14, "summer-soup-", 12); /* behind a whole word */
    rig_free(rig);
}

static void
test_no_kind_of_entry_is_none(void **state)
{
    (void)state;
    struct rig *rig = busy();
    struct entry entry = entry_of(ENTRY_NONE);
    refused(rig, &entry, "that is no kind of entry; see `trivet help`");
    rig_free(rig);
}

/* Whatever is named last is looked at as the first is. */
static void
test_each_of_several_is_looked_at(void **state)
{
    (void)state;
    struct rig *rig = busy();
    struct entry entry = entry_of(ENTRY_BEGIN);
    rig_play(rig, "0:20:05 end discarded batch=5\n");
    PUT(product, "pie");
    PUT(probes[0], "p2");
    PUT(probes[1], "p3");
    PUT(probes[2], "p3");
    entry.probe_count = 3;
    refused(rig, &entry, "probe 'p3' is named twice; name it once");
    rig_play(rig, "0:20:10 move cool\n"); /* left early: deviation 2 */
    entry = entry_of(ENTRY_HEARD);
    entry.deviation = 9;
    refused(rig, &entry, "there is no deviation 9; not closed are: 1, 2");
    entry = entry_of(ENTRY_HAND);
    PUT(thermometer, "pen");
    entry.has_temp = true;
    entry.temp_mC = 4000;
    PUT(place, "fridge");
    taken(rig, &entry);
    PUT(side, "top");
    refused(rig, &entry, "a side is one of the food; name the batch, or leave the side out");
    rig_free(rig);
}

/* A shelf is for what can alarm. */
static void
test_shelf_is_of_something_that_there_is(void **state)
{
    (void)state;
    struct rig *rig = busy();
    struct entry entry = entry_of(ENTRY_SHELVE);
    entry.for_ms = 600000;
    PUT(reason, "engineer is here");
    PUT(place, "attic");
    refused(rig, &entry, "there is no place 'attic' in the plan; known are: fridge, shelf");
    entry.place[0] = '\0';
    entry.deviation = 9;
    refused(rig, &entry, "there is no deviation 9; not closed are: 1");
    entry.deviation = 1;
    taken(rig, &entry);
    rig_free(rig);
}

static void
test_shelf_is_for_any_time_up_to_the_most(void **state)
{
    (void)state;
    struct rig *rig = busy();
    struct entry entry = entry_of(ENTRY_SHELVE);
    int64_t most_ms = rig->plans[0]->duties.shelve_max_ms;
    entry.deviation = 1;
    PUT(reason, "engineer is here");
    entry.for_ms = 1;
    taken(rig, &entry);
    entry.for_ms = most_ms;
    taken(rig, &entry);
    char told[120];
    (void)snprintf(told, sizeof told,
                   "for how long has to be said, at most %d min (duties: shelve_at_most)",
                   (int)(most_ms / 60000));
    entry.for_ms = 0;
    refused(rig, &entry, told);
    entry.for_ms = most_ms + 1;
    refused(rig, &entry, told);
    rig_free(rig);
}

static void
test_first_of_the_plan_is_named_among_those_who_can_verify(void **state)
{
    (void)state;
    struct rig *rig = rig_new(NULL, "{kind: hold_cold, applies_to: air, at_most: 5 °C, "
                                    "tolerance: 10 min, back_for: 1 min}");
    rig->plans[0]->people[0].role = ROLE_SUPERVISOR;
    rig->plans[0]->people[1].role = ROLE_COOK;
    rig_play(rig, "0:00:10-0:20:00 a1 9.0\n0:20:05 action 1 VK\n");
    struct entry entry = entry_of(ENTRY_VERIFY);
    entry.deviation = 1;
    PUT(who, "SB");
    refused(rig, &entry,
            "SB is a cook in the plan and cannot verify; a supervisor or verifier "
            "can: AB, VK");
    rig_free(rig);
}

int
main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_who_has_to_be_somebody_of_the_plan),
        cmocka_unit_test(test_beginning_names_what_the_plan_has),
        cmocka_unit_test(test_moving_names_an_open_batch_and_a_step_of_its_product),
        cmocka_unit_test(test_food_in_store_has_a_place_and_nothing_else),
        cmocka_unit_test(test_ending_says_what_became_of_an_open_batch),
        cmocka_unit_test(
            test_hand_reading_has_a_thermometer_a_temperature_and_something_measured),
        cmocka_unit_test(test_end_of_cooking_is_said_once_of_a_cooling_that_lacks_it),
        cmocka_unit_test(test_delay_before_the_chiller_is_said_once),
        cmocka_unit_test(test_time_without_control_can_only_be_said_to_be_longer),
        cmocka_unit_test(test_correction_says_of_what_to_what_and_why),
        cmocka_unit_test(test_decision_is_about_something_that_waits),
        cmocka_unit_test(test_note_has_a_text_and_a_place_that_there_is),
        cmocka_unit_test(test_quiet_is_said_for_a_while_of_a_place_with_a_limit),
        cmocka_unit_test(test_first_pin_is_vouched_for_by_another_supervisor),
        cmocka_unit_test(test_corrective_action_says_all_that_the_plan_asks_for),
        cmocka_unit_test(test_action_on_several_batches_says_what_becomes_of_each),
        cmocka_unit_test(test_action_on_a_deviation_without_food_says_so),
        cmocka_unit_test(test_food_is_given_nothing_that_it_may_have_once_and_has_had),
        cmocka_unit_test(test_deviation_named_is_one_that_is_not_closed),
        cmocka_unit_test(test_verification_is_another_persons_who_may),
        cmocka_unit_test(test_review_is_of_a_day_and_not_by_a_cook),
        cmocka_unit_test(test_most_batches_there_can_be_are_all_named),
        cmocka_unit_test(test_long_list_of_what_is_known_is_cut_and_says_so),
        cmocka_unit_test(test_no_kind_of_entry_is_none),
        cmocka_unit_test(test_each_of_several_is_looked_at),
        cmocka_unit_test(test_shelf_is_of_something_that_there_is),
        cmocka_unit_test(test_shelf_is_for_any_time_up_to_the_most),
        cmocka_unit_test(test_first_of_the_plan_is_named_among_those_who_can_verify),
    };
    return cmocka_run_group_tests_name("engine refusals", tests, NULL, NULL);
}
