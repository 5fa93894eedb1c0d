/* What people read of a record: each kind of decision and of entry in its words, on the page
 * and as the answer to whoever entered it. The words were read and written down here by hand.
 */
#include "tests/support/check.h"

#include <assert.h>
#include <stdio.h>
#include <string.h>

#include "daemon/recorder/inside.h"
#include "tests/support/sample_kitchen.h"
#include "web/history.h"

static struct sample_kitchen kitchen;
static struct view view;

static int
set_up(void **state)
{
    (void)state;
    sample_kitchen_init(&kitchen);
    view = (struct view){.snapshot = sample_snapshot(&kitchen),
                         .viewed_ms = SAMPLE_NOW_MS,
                         .zone = zone_shared("UTC")};
    return 0;
}

static int
tear_down(void **state)
{
    (void)state;
    snapshot_release(view.snapshot);
    return 0;
}

/* What keeps a line whole on the page is left out: it is tested with the page (test_web). */
static void
without(char *text, const char *mark, const char *instead)
{
    for (char *at = text; (at = strstr(at, mark)) != NULL;) {
        size_t len = strlen(instead);
        memcpy(at, instead, len);
        memmove(at + len, at + strlen(mark), strlen(at + strlen(mark)) + 1);
    }
}

static char *
told(const struct past *past)
{
    static char text[2000];
    struct html html;
    html_init(&html);
    past_tell(&html, &view, past);
    assert_false(html.failed);
    (void)snprintf(text, sizeof text, "%s", html.bytes == NULL ? "" : html.bytes);
    html_done(&html);
    without(text, "&nbsp;", " ");
    without(text, "<span class=\"whole\">", "");
    without(text, "</span>", "");
    return text;
}

static void
test_each_decision_has_its_words(void **state)
{
    static const char *const expected[] = {
        "Step begun: cook",
        "The cooling clock counts from 12:44 (a person entered it)",
        "<strong>Limit met</strong>, stage 2 (a person entered it)",
        "<strong>Deviation 3 opened</strong> (a person entered it)",
        "Deviation 3 ended (a person entered it)",
        "No good readings from here on (a person entered it)",
        "Good readings again (a person entered it)",
        "Readings are suspect from here on (a person entered it)",
        "Readings are believed again (a person entered it)",
        "<strong>The limit cannot be judged</strong>: a person must decide (a person entered "
        "it)",
        "Accepted by a person (a person entered it)",
        "Batch ended",
        "<strong>Quiet</strong>: the limit is suspended until 13:14 (a person entered it)",
        "The limit holds again (a person entered it)",
        "The correction ended: readings are taken as the probe gives them",
        "<strong>A person is asked</strong> of which batch and step this is (a person entered "
        "it)",
        "The question has its answer (a person entered it)",
        "<strong>Door left open</strong> since 12:44",
        "The door is no longer left open (a person entered it)",
        "<strong>Marked</strong> with the button bell",
        "<strong>A correction waits</strong> for a second person (a person entered it)",
        "The correction that waited was dropped (a person entered it)",
        "Corrected: the cooling clock counts from 12:44 (a person entered it)",
        "Withdrawn: this step did not begin (a person entered it)",
        "Deviation 3 withdrawn (a person entered it)",
        "No longer shelved (a person entered it)",
        "<strong>The alarm of deviation 3 sounds again</strong> (a person entered it)",
        "<strong>Deviation 3 told to the next</strong>, level 1 (a person entered it)",
        "<strong>Met no longer</strong>, stage 2 (a person entered it)",
        "To be used by the end of 2026-03-07",
    };
    (void)state;
    static_assert(COUNT_OF(expected) == DECISION_KIND_LAST + 1, "one for each kind");
    for (int kind = 0; kind <= DECISION_KIND_LAST; kind++) {
        struct past past = {.is_decision = true};
        past.decision = (struct decision){.kind = (enum decision_kind)kind,
                                          .reason = REASON_ENTERED,
                                          .deviation = 3,
                                          .stage = 2,
                                          .level = 1,
                                          .accepted = true,
                                          .since_ms = SAMPLE_NOW_MS - 60 * MINUTES,
                                          .required_ms = 30 * MINUTES,
                                          .temp_mC = TEMP_NONE,
                                          .worst_mC = TEMP_NONE};
        (void)strcpy(past.decision.step, "cook");
        (void)strcpy(past.decision.contact, "bell");
        if (kind == DECISION_DATE_MARKED)
            (void)strcpy(past.decision.day, "2026-03-07");
        assert_string_equal(told(&past), expected[kind]);
        if (kind != DECISION_RESOLVED)
            continue;
        past.decision.accepted = false;
        assert_string_equal(told(&past), "Not accepted by a person (a person entered it)");
    }
}

static void
test_what_was_found_stands_behind_the_reason(void **state)
{
    (void)state;
    struct past past = {.is_decision = true};
    past.decision = (struct decision){.kind = DECISION_DEVIATION_ENDED,
                                      .reason = REASON_BACK_INSIDE,
                                      .deviation = 3,
                                      .limit = LIMIT_HOLD_COLD,
                                      .required = {5000, TEMP_C},
                                      .unverified = true,
                                      .temp_mC = 4900,
                                      .worst_mC = 9100};
    assert_string_equal(told(&past),
                        "Deviation 3 ended (back inside the limit) [the limit's figures are "
                        "not verified], found 4.9 °C, limit 5.0 °C, worst 9.1 °C");
    past.decision.kind = DECISION_STEP_BEGUN;
    past.decision.reason = REASON_BY_ITSELF;
    assert_string_equal(told(&past), "Step begun: , by itself");
}

/* The page: who did it and what; and the answer that this person gets. */
static void
test_each_entry_has_its_words(void **state)
{
    static const struct {
        const char *kind, *fields;
        bool in_store;
        const char *page, *say;
    } rows[] = {
        {"begin", "\"batch\":7,\"product\":\"pork-loin\"", false, "began the batch",
         "Batch 7, pork-loin, begun by Ana Brandt."},
        {"move", "\"batch\":7,\"step\":\"cool\",\"place\":\"walk-in\"", false,
         "moved the batch on: cool, to walk-in", "Batch 7 moved to cool by Ana Brandt."},
        {"move", "\"batch\":7", false, "moved the batch on: next step",
         "Batch 7 moved to its next step by Ana Brandt."},
        {"move", "\"batch\":7,\"place\":\"walk-in\"", true,
         "moved the batch on: next step, to walk-in",
         "Batch 7, in store, moved to walk-in by Ana Brandt."},
        {"end", "\"batch\":7,\"outcome\":\"served\"", false, "ended the batch: served",
         "Batch 7 ended by Ana Brandt: served."},
        {"end", "\"batch\":7,\"outcome\":\"discarded\"", true, "ended the batch: discarded",
         "Batch 7, in store, taken out by Ana Brandt: discarded."},
        {"hand", "\"batch\":7,\"temp_mC\":63400,\"thermometer\":\"red-pen\"", false,
         "measured by hand 63.4 °C with red-pen",
         "63.4 °C in batch 7 with red-pen, read by Ana Brandt."},
        {"hand", "\"place\":\"walk-in\",\"temp_mC\":-500,\"thermometer\":\"red-pen\"", false,
         "measured by hand -0.5 °C with red-pen",
         "-0.5 °C in walk-in with red-pen, read by Ana Brandt."},
        {"cooked", "\"batch\":7,\"given_ms\":1772544840000", false,
         "gave the end of cooking: 13:34", "End of cooking of batch 7 noted by Ana Brandt."},
        {"note", "\"text\":\"door ajar\"", false, "noted. door ajar",
         "Note on the kitchen by Ana Brandt."},
        {"note", "\"text\":\"dry\",\"place\":\"walk-in\"", false, "noted. dry",
         "Note on walk-in by Ana Brandt."},
        {"correct", "\"refers\":12,\"reason\":\"misread\",\"temp_mC\":63400", false,
         "corrected record 12: 63.4 °C. Reason: misread",
         "Record 12 corrected by Ana Brandt; the old one stays."},
        {"correct", "\"refers\":12,\"reason\":\"lid\",\"given_ms\":1772544840000", false,
         "corrected record 12: counts from 13:34. Reason: lid",
         "Record 12 corrected by Ana Brandt; the old one stays."},
        {"correct", "\"refers\":12,\"reason\":\"lid\",\"withdraw\":true", false,
         "corrected record 12: it did not begin. Reason: lid",
         "Record 12 corrected by Ana Brandt; the old one stays."},
        {"action",
         "\"deviation\":3,\"found\":\"ajar\",\"done\":\"shut\",\"disposition\":\"discard\"",
         false,
         "recorded the corrective action on deviation 3. Found: ajar. Done: shut. The food: "
         "thrown away",
         "Corrective action on deviation 3 by Ana Brandt. Another person has to verify it."},
        {"verify", "\"deviation\":3", false, "verified the action on deviation 3",
         "Corrective action on deviation 3 verified by Ana Brandt."},
        {"decide", "\"batch\":7,\"accept\":true,\"reason\":\"seen\"", false,
         "decided: accepted. Reason: seen", "Batch 7 accepted by Ana Brandt."},
        {"decide", "\"batch\":7,\"accept\":false,\"reason\":\"seen\"", false,
         "decided: not accepted. Reason: seen", "Batch 7 not accepted by Ana Brandt."},
        {"decide", "\"probe\":\"core\",\"accept\":false,\"reason\":\"sink\"", false,
         "decided: not accepted. Reason: sink",
         "Hot food on probe core is none, says Ana Brandt."},
        {"quiet", "\"place\":\"walk-in\",\"for_ms\":1800000,\"why\":\"cleaning\"", false,
         ": quiet in walk-in, its limit suspended for 30 min (cleaning)",
         "The limit of walk-in is suspended for 30 min (cleaning), says Ana Brandt."},
        {"quiet", "\"place\":\"walk-in\",\"end\":true", false,
         ": the limit holds again in walk-in",
         "The limit of walk-in holds again, says Ana Brandt."},
        {"review", "\"day\":\"2026-03-01\"", false, "reviewed the records of 2026-03-01",
         "The records of 2026-03-01 reviewed by Ana Brandt."},
        {"confirm", "\"batch\":7,\"accept\":true", false, "confirmed the correction",
         "Correction of batch 7 confirmed by Ana Brandt."},
        {"confirm", "\"batch\":7,\"accept\":false", false, "declined the correction",
         "Correction of batch 7 declined by Ana Brandt."},
        {"heard", "\"batch\":7", false, "has heard the warning",
         "Ana Brandt has heard the warning about batch 7."},
        {"heard", "\"deviation\":3", false, "has heard the alarm of deviation 3",
         "Ana Brandt has heard the alarm of deviation 3. It stays open: act, then record what "
         "was done."},
        {"shelve", "\"place\":\"walk-in\",\"for_ms\":1800000,\"reason\":\"engineer\"", false,
         "shelved the alarm of walk-in for 30 min. Reason: engineer",
         "Alarms of walk-in: not told for 30 min, says Ana Brandt. Judging goes on."},
        {"shelve", "\"deviation\":3,\"end\":true", false,
         ": told again, the alarm of deviation 3",
         "The alarm of deviation 3: told again from now on, says Ana Brandt."},
        {"day", "\"day\":\"2026-03-01\"", false, ": the business day begins: 2026-03-01", ""},
        {"pin", "", false, "set a PIN", "The PIN of Ana Brandt is set."},
        {"pin", "\"by\":\"JO\"", false, "set a PIN beside JO", "The PIN of Ana Brandt is set."},
    };
    bool seen[ENTRY_KIND_LAST + 1] = {[ENTRY_NONE] = true, [ENTRY_CALIBRATE] = true};
    (void)state;
    for (size_t i = 0; i < COUNT_OF(rows); i++) {
        struct past past = {.is_decision = false};
        struct entry_answer answer = {0};
        char data[400], why[300], page[600];
        enum entry_kind kind = entry_kind_from_word(rows[i].kind);
        int len = snprintf(data, sizeof data, "{%s%s\"who\":\"AB\"}", rows[i].fields,
                           rows[i].fields[0] == '\0' ? "" : ",");
        if (!entry_read(kind, data, (size_t)len, &past.entry, why, sizeof why))
            fail_msg("row %zu: %s", i, why);
        (void)snprintf(page, sizeof page, "Ana Brandt (AB)%s%s",
                       rows[i].page[0] == ':' ? "" : " ", rows[i].page);
        assert_string_equal(told(&past), page);
        entry_say(&kitchen.plan, &past.entry, rows[i].in_store, &answer);
        assert_string_equal(answer.say, rows[i].say);
        seen[kind] = true;
    }
    for (size_t kind = 0; kind <= ENTRY_KIND_LAST; kind++)
        if (!seen[kind])
            fail_msg("no row for '%s'", entry_kind_word((enum entry_kind)kind));
}

static void
test_check_of_a_thermometer_names_it_once(void **state)
{
    (void)state;
    struct past past = {.is_decision = false};
    struct entry_answer answer = {0};
    entry_clear(&past.entry, ENTRY_CALIBRATE);
    (void)strcpy(past.entry.who, "AB");
    (void)strcpy(past.entry.thermometer, "red-pen");
    assert_string_equal(told(&past), "Ana Brandt (AB) checked red-pen");
    entry_say(&kitchen.plan, &past.entry, false, &answer);
    assert_string_equal(answer.say, "red-pen checked by Ana Brandt.");
}

/* A step left early, and beside it an oven that was as it has to be: of two limits the food's
 * is not the one that is met. */
static void
test_answer_tells_the_limit_of_the_oven_from_the_food_s(void **state)
{
    (void)state;
    struct entry_answer answer = {0};
    const struct decision decisions[] = {
        {.kind = DECISION_DEVIATION_OPENED,
         .reason = REASON_LEFT_EARLY,
         .deviation = 6,
         .limit = LIMIT_COOK},
        {.kind = DECISION_LIMIT_MET, .reason = REASON_HELD, .limit = LIMIT_MOIST_OVEN},
    };
    entry_say_decisions(decisions, COUNT_OF(decisions), &answer);
    assert_string_equal(answer.say,
                        " Deviation 6: the step was left before its limit was met. Act on it, "
                        "then record what was done. Its oven was as it has to be.");
    answer.say[0] = '\0';
    const struct decision met = {.kind = DECISION_LIMIT_MET, .limit = LIMIT_COOK};
    entry_say_decisions(&met, 1, &answer);
    assert_string_equal(answer.say, " Its limit is met.");
}

/* Nobody's entries say whose they are. */
static void
test_entry_of_nobody_says_what_made_it(void **state)
{
    (void)state;
    struct past past = {.is_decision = false};
    entry_clear(&past.entry, ENTRY_MOVE);
    (void)strcpy(past.entry.probe, "core");
    (void)strcpy(past.entry.step, "cool");
    assert_string_equal(told(&past),
                        "By itself (not a person), probe core moved the batch on: cool");
    entry_clear(&past.entry, ENTRY_QUIET);
    (void)strcpy(past.entry.place, "walk-in");
    past.entry.end = true;
    assert_string_equal(told(&past), "The plan's schedule: the limit holds again in walk-in");
}

#define TEST(name) cmocka_unit_test_setup_teardown(name, set_up, tear_down)

int
main(void)
{
    const struct CMUnitTest tests[] = {
        TEST(test_each_decision_has_its_words),
        TEST(test_what_was_found_stands_behind_the_reason),
        TEST(test_answer_tells_the_limit_of_the_oven_from_the_food_s),
        TEST(test_each_entry_has_its_words),
        TEST(test_check_of_a_thermometer_names_it_once),
        TEST(test_entry_of_nobody_says_what_made_it),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
