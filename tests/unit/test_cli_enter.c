/* From a command line, or from a person's answers, to the entry that is sent; and the overview
 * on a terminal. The daemon is played by its lists, the person by a text. */
#include "tests/support/check.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <jansson.h>

#include "daemon/cli/enter.h"
#include "daemon/cli/now.h"

/* 2026-03-03 14:05:00 in London; the records' own time is 7 s behind what is shown. */
static const char lists_text[] =
    "{\"site\":\"Harbour Lane Kitchen\",\"time_zone\":\"Europe/London\",\"demo\":true,"
    "\"now_ms\":1772546693000,\"offset_ms\":7000,"
    "\"people\":[{\"id\":\"AB\",\"name\":\"Ana Brandt\",\"role\":\"cook\"},"
    "{\"id\":\"CD\",\"name\":\"Cem Dogan\",\"role\":\"supervisor\"}],"
    "\"products\":[{\"id\":\"pork-loin\",\"name\":\"Rolled pork loin\",\"steps\":["
    "{\"id\":\"cook\",\"name\":\"Cook\",\"limit\":\"at least 63\"},"
    "{\"id\":\"rest\",\"name\":\"Rest\",\"limit\":\"none\"},"
    "{\"id\":\"cool\",\"name\":\"Cool\",\"limit\":\"two stages\"}]},"
    "{\"id\":\"leek-filling\",\"name\":\"Leek filling\",\"steps\":["
    "{\"id\":\"cool\",\"name\":\"Cool\",\"limit\":\"two stages\"}]}],"
    "\"places\":[{\"id\":\"walk-in\",\"name\":\"Walk-in\"},"
    "{\"id\":\"hot-cupboard\",\"name\":\"Hot cupboard\"}],"
    "\"probes\":[{\"id\":\"core-1\",\"name\":\"Core 1\",\"kind\":\"food\",\"temp_mC\":61249},"
    "{\"id\":\"core-2\",\"name\":\"Core 2\",\"kind\":\"food\",\"batch\":4},"
    "{\"id\":\"core-3\",\"name\":\"Core 3\",\"kind\":\"food\"},"
    "{\"id\":\"walk-in-air\",\"name\":\"Air\",\"kind\":\"air\",\"watches_place\":true}],"
    "\"thermometers\":[{\"id\":\"red-pen\",\"name\":\"Red pen\"}],"
    "\"batches\":[{\"number\":4,\"product\":\"pork-loin\",\"name\":\"Rolled pork loin\","
    "\"step\":\"cook\",\"step_name\":\"Cook\",\"next_step\":\"rest\","
    "\"steps\":[{\"id\":\"cook\",\"name\":\"Cook\"},{\"id\":\"rest\",\"name\":\"Rest\"},"
    "{\"id\":\"cool\",\"name\":\"Cool\"}]},"
    "{\"number\":7,\"product\":\"leek-filling\",\"name\":\"Leek filling\",\"step\":\"cool\","
    "\"step_name\":\"Cool\","
    "\"steps\":[{\"id\":\"cool\",\"name\":\"Cool\"}]}],"
    "\"deviations\":[{\"number\":1,\"state\":\"verify\",\"sentence\":\"Walk-in too warm.\","
    "\"food\":[{\"number\":3,\"name\":\"Leek filling\"},{\"number\":4,\"name\":\"\"}],"
    "\"prepared\":[{\"name\":\"Door left open\",\"found\":\"door ajar\",\"done\":\"shut it\","
    "\"disposition\":\"use\"},{\"name\":\"Compressor\",\"done\":\"food moved out\"}]},"
    "{\"number\":2,\"state\":\"action\",\"sentence\":\"Leek filling cooled too slowly.\"}],"
    /* Batch 3 has ended; its verdict still waits. */
    "\"undecided\":[{\"batch\":3,\"sentence\":\"Batch 3: cooling cannot be judged.\"}]}";

struct scene {
    json_t *lists, *request;
    char *said; /* what the person saw */
    size_t said_len;
    int code;
};

/* Runs one verb. answers NULL: nobody is there. given ends with a NULL name. */
struct given {
    const char *name, *value;
};

static void
play(struct scene *scene, const char *verb_name, const struct given *given, const char *answers,
     const char *station)
{
    const struct enter_verb *verb = enter_verb(verb_name);
    assert_non_null(verb);
    const char *values[ENTER_FIELDS_MAX] = {0};
    for (; given->name != NULL; given++) {
        size_t i = 0;
        while (verb->fields[i].key != NULL && strcmp(verb->fields[i].key, given->name) != 0)
            i++;
        assert_non_null(verb->fields[i].key);
        values[i] = given->value;
    }
    scene->lists = json_loads(lists_text, JSON_REJECT_DUPLICATES, NULL);
    scene->request = json_object();
    assert_non_null(scene->lists);
    char nothing[] = "\n";
    char *script = answers == NULL || answers[0] == '\0' ? nothing : strdup(answers);
    struct cli cli = {.verb = verb_name, .may_ask = answers != NULL, .who = station};
    cli.in = fmemopen(script, strlen(script), "r");
    cli.err = open_memstream(&scene->said, &scene->said_len);
    cli.out = cli.err;
    assert_non_null(cli.in);
    assert_non_null(cli.err);
    if (script == nothing)
        (void)getc(cli.in); /* an input that has ended */
    scene->code = enter_fill(&cli, verb, values, scene->lists, scene->request);
    (void)fclose(cli.in);
    (void)fclose(cli.err);
    if (script != nothing)
        free(script);
}

static void
end(struct scene *scene)
{
    json_decref(scene->lists);
    json_decref(scene->request);
    free(scene->said);
}

/* Plays and compares what would be sent. */
static void
assert_sends(const char *verb, const struct given *given, const char *answers,
             const char *expected)
{
    struct scene scene;
    play(&scene, verb, given, answers, NULL);
    if (scene.code != CLI_DONE)
        fail_msg("%s ended with %d: %s", verb, scene.code, scene.said);
    json_t *wanted = json_loads(expected, 0, NULL);
    assert_non_null(wanted);
    if (!json_equal(scene.request, wanted)) {
        char *found = json_dumps(scene.request, JSON_COMPACT);
        fail_msg("%s sends %s, not %s", verb, found, expected);
    }
    json_decref(wanted);
    end(&scene);
}

/* Plays and looks for words in what the person saw. */
static void
assert_says(const char *verb, const struct given *given, const char *answers, int code,
            const char *says)
{
    struct scene scene;
    play(&scene, verb, given, answers, NULL);
    if (scene.code != code || strstr(scene.said, says) == NULL)
        fail_msg("%s ended with %d, saying: %s", verb, scene.code, scene.said);
    end(&scene);
}

#define GIVEN(...) ((const struct given[]){__VA_ARGS__, {NULL, NULL}})
#define NOTHING    ((const struct given[]){{NULL, NULL}})

/* ---- all on the command line ---- */

static void
test_complete_commands_ask_nothing_and_send_what_was_said(void **state)
{
    (void)state;
    assert_sends(
        "begin",
        GIVEN({"product", "pork-loin"}, {"probes", "core-1,core-3"}, {"mass", "2.4kg"},
              {"thickness", "9cm"}, {"who", "ab"}, {"step", "rest"}, {"place", "walk-in"}),
        NULL,
        "{\"do\":\"begin\",\"product\":\"pork-loin\",\"probes\":[\"core-1\",\"core-3\"],"
        "\"mass_g\":2400,\"thickness_mm\":90,\"who\":\"AB\",\"step\":\"rest\","
        "\"place\":\"walk-in\"}");
    assert_sends("next", GIVEN({"batch", "4"}, {"who", "AB"}), NULL,
                 "{\"do\":\"move\",\"batch\":4,\"who\":\"AB\"}");
    assert_sends("next", GIVEN({"batch", "4"}, {"step", "cool"}, {"who", "AB"}), NULL,
                 "{\"do\":\"move\",\"batch\":4,\"step\":\"cool\",\"who\":\"AB\"}");
    assert_sends("end", GIVEN({"batch", "7"}, {"outcome", "served"}, {"who", "AB"}), NULL,
                 "{\"do\":\"end\",\"batch\":7,\"outcome\":\"served\",\"who\":\"AB\"}");
    assert_sends(
        "take",
        GIVEN({"temp", "145F"}, {"thermometer", "red-pen"}, {"batch", "4"}, {"who", "AB"}),
        NULL,
        "{\"do\":\"hand\",\"temp_mC\":62778,\"thermometer\":\"red-pen\",\"batch\":4,"
        "\"who\":\"AB\"}");
    assert_sends(
        "take",
        GIVEN({"temp", " -18.5"}, {"thermometer", "red"}, {"place", "walk-in"}, {"who", "AB"}),
        NULL,
        "{\"do\":\"hand\",\"temp_mC\":-18500,\"thermometer\":\"red-pen\","
        "\"place\":\"walk-in\",\"who\":\"AB\"}");
    assert_sends("verify", GIVEN({"deviation", "1"}, {"who", "CD"}), NULL,
                 "{\"do\":\"verify\",\"deviation\":1,\"who\":\"CD\"}");
    assert_sends(
        "decide",
        GIVEN({"batch", "7"}, {"accept", "reject"}, {"reason", "probe was out"}, {"who", "CD"}),
        NULL,
        "{\"do\":\"decide\",\"batch\":7,\"accept\":false,\"reason\":\"probe was "
        "out\",\"who\":\"CD\"}");
    assert_sends(
        "correct",
        GIVEN({"record", "812"}, {"temp", "64.3"}, {"reason", "misread"}, {"who", "AB"}), NULL,
        "{\"do\":\"correct\",\"refers\":812,\"temp_mC\":64300,\"reason\":\"misread\","
        "\"who\":\"AB\"}");
}

/* What began by itself has neither temperature nor text, and nobody is asked for them. */
static void
test_correction_of_what_began_by_itself(void **state)
{
    (void)state;
    /* Shown 13:55:00 = 1772546100000; the records count 7 s less. */
    assert_sends(
        "correct",
        GIVEN({"record", "812"}, {"at", "13:55"}, {"reason", "taken off late"}, {"who", "AB"}),
        NULL,
        "{\"do\":\"correct\",\"refers\":812,\"given_ms\":1772546093000,\"reason\":\"taken off "
        "late\",\"who\":\"AB\"}");
    assert_sends("correct",
                 GIVEN({"record", "812"}, {"withdraw", "yes"}, {"reason", "washing up"}),
                 "AB\n",
                 "{\"do\":\"correct\",\"refers\":812,\"withdraw\":true,\"reason\":\"washing "
                 "up\",\"who\":\"AB\"}");
    assert_sends("confirm", GIVEN({"batch", "7"}, {"accept", "accept"}, {"who", "CD"}), NULL,
                 "{\"do\":\"confirm\",\"batch\":7,\"accept\":true,\"who\":\"CD\"}");
    assert_sends(
        "decide",
        GIVEN({"probe", "core-1"}, {"accept", "reject"}, {"reason", "washing up"},
              {"who", "CD"}),
        NULL,
        "{\"do\":\"decide\",\"probe\":\"core-1\",\"accept\":false,\"reason\":\"washing "
        "up\",\"who\":\"CD\"}");
    assert_says("confirm", GIVEN({"batch", "7"}, {"who", "CD"}), NULL, CLI_USAGE,
                "--accept is missing");
}

static void
test_number_that_is_not_in_the_lists_is_left_to_the_daemon(void **state)
{
    (void)state;
    assert_sends("next", GIVEN({"batch", "5"}, {"step", "cool"}, {"who", "AB"}), NULL,
                 "{\"do\":\"move\",\"batch\":5,\"step\":\"cool\",\"who\":\"AB\"}");
    assert_sends("verify", GIVEN({"deviation", "99"}, {"who", "CD"}), NULL,
                 "{\"do\":\"verify\",\"deviation\":99,\"who\":\"CD\"}");
}

static void
test_time_given_is_sent_on_the_records_time_line(void **state)
{
    (void)state;
    /* Shown 13:55:00 = 1772546100000; the records count 7 s less. */
    assert_sends("cooked", GIVEN({"batch", "7"}, {"at", "13:55"}, {"who", "AB"}), NULL,
                 "{\"do\":\"cooked\",\"batch\":7,\"given_ms\":1772546093000,\"who\":\"AB\"}");
    assert_sends("cooked", GIVEN({"batch", "7"}, {"at", "10 min ago"}, {"who", "AB"}), NULL,
                 "{\"do\":\"cooked\",\"batch\":7,\"given_ms\":1772546093000,\"who\":\"AB\"}");
}

static void
test_missing_argument_without_a_person_is_named_with_choices_and_example(void **state)
{
    (void)state;
    assert_says("begin", NOTHING, NULL, CLI_USAGE, "--product is missing");
    assert_says("begin", NOTHING, NULL, CLI_USAGE, "pork-loin, leek-filling");
    assert_says("begin", NOTHING, NULL, CLI_USAGE, "for example: trivet begin");
    assert_says("next", GIVEN({"batch", "4"}), NULL, CLI_USAGE, "--who is missing");
    assert_says("take", GIVEN({"temp", "63"}, {"thermometer", "red-pen"}, {"who", "AB"}), NULL,
                CLI_USAGE, "unless --batch");
    assert_says("correct", GIVEN({"record", "8"}, {"reason", "x"}, {"who", "AB"}), NULL,
                CLI_USAGE, "unless --temp");
}

static void
test_wrong_argument_is_named_with_what_to_write(void **state)
{
    (void)state;
    assert_says("begin", GIVEN({"product", "soup"}, {"who", "AB"}), NULL, CLI_USAGE,
                "--product: 'soup' is none of these: pork-loin, leek-filling");
    assert_says("next", GIVEN({"batch", "roast"}, {"who", "AB"}), NULL, CLI_USAGE,
                "a whole number");
    assert_says(
        "take",
        GIVEN({"temp", "63,4"}, {"thermometer", "red-pen"}, {"batch", "4"}, {"who", "AB"}),
        NULL, CLI_USAGE, "not a comma");
    assert_says("note", GIVEN({"text", "bell \a"}, {"who", "AB"}), NULL, CLI_USAGE,
                "plain text");
    assert_says("begin", GIVEN({"product", "pork-loin"}, {"probes", "core-9"}, {"who", "AB"}),
                NULL, CLI_USAGE, "core-1");
    /* A batch's step is one of its product's. */
    assert_says("next", GIVEN({"batch", "7"}, {"step", "cook"}, {"who", "AB"}), NULL, CLI_USAGE,
                "none of these: cool");
}

static void
test_station_initials_stand_in_for_who(void **state)
{
    (void)state;
    struct scene scene;
    play(&scene, "next", GIVEN({"batch", "4"}), NULL, "CD");
    assert_int_equal(scene.code, CLI_DONE);
    assert_string_equal(json_string_value(json_object_get(scene.request, "who")), "CD");
    end(&scene);
}

/* ---- asked ---- */

static void
test_person_is_asked_for_everything_a_batch_needs(void **state)
{
    (void)state;
    assert_sends(
        "begin", NOTHING, "1\n1, 2\n2.4kg\n\n1\n",
        "{\"do\":\"begin\",\"product\":\"pork-loin\",\"probes\":[\"core-1\",\"core-3\"],"
        "\"mass_g\":2400,\"who\":\"AB\"}");
    /* By name, probes left out, wrong answers in between. */
    assert_sends("begin", NOTHING, "soup\nleek\n\n800\n800 g\n5 cm\nzz\nCD\n",
                 "{\"do\":\"begin\",\"product\":\"leek-filling\",\"mass_g\":800,"
                 "\"thickness_mm\":50,\"who\":\"CD\"}");
}

static void
test_only_free_food_probes_are_offered(void **state)
{
    (void)state;
    struct scene scene;
    play(&scene, "begin", GIVEN({"product", "pork-loin"}), "\n\n\n1\n", NULL);
    assert_int_equal(scene.code, CLI_DONE);
    assert_non_null(strstr(scene.said, "core-1"));
    assert_non_null(strstr(scene.said, "last 61.2 \xc2\xb0"
                                       "C")); /* 61.249 */
    assert_non_null(strstr(scene.said, "core-3"));
    assert_null(strstr(scene.said, "core-2"));      /* in batch 4 */
    assert_null(strstr(scene.said, "walk-in-air")); /* watches the walk-in */
    end(&scene);
}

static void
test_enter_takes_what_stands_in_brackets(void **state)
{
    (void)state;
    /* The next step of batch 4 is to rest. */
    assert_sends("next", NOTHING, "4\n\nAB\n",
                 "{\"do\":\"move\",\"batch\":4,\"step\":\"rest\",\"who\":\"AB\"}");
    /* One thermometer is taken by Enter; the reading is of no batch, so of a place. */
    assert_sends("take", NOTHING, "3.4\n\n\nwalk\nAB\n",
                 "{\"do\":\"hand\",\"temp_mC\":3400,\"thermometer\":\"red-pen\","
                 "\"place\":\"walk-in\",\"who\":\"AB\"}");
    /* With a station's initials, Enter is enough for who. */
    struct scene scene;
    play(&scene, "note", NOTHING, "oven door was open\n\n", "CD");
    assert_int_equal(scene.code, CLI_DONE);
    assert_string_equal(json_string_value(json_object_get(scene.request, "who")), "CD");
    end(&scene);
}

static void
test_questions_follow_what_was_answered(void **state)
{
    (void)state;
    assert_sends("end", NOTHING, "4\nstored\n1\nAB\n",
                 "{\"do\":\"end\",\"batch\":4,\"outcome\":\"stored\",\"place\":\"walk-in\","
                 "\"who\":\"AB\"}");
    assert_sends("end", NOTHING, "4\n3\nburnt\nAB\n",
                 "{\"do\":\"end\",\"batch\":4,\"outcome\":\"discarded\",\"text\":\"burnt\","
                 "\"who\":\"AB\"}");
    assert_sends("end", NOTHING, "4\nserved\nAB\n",
                 "{\"do\":\"end\",\"batch\":4,\"outcome\":\"served\",\"who\":\"AB\"}");
    assert_sends(
        "act", NOTHING,
        "2\npot too deep\nshallow pans\n\ndiscard\n4 kg\npans laid out\nnone left\nAB\n",
        "{\"do\":\"action\",\"deviation\":2,\"found\":\"pot too deep\","
        "\"done\":\"shallow pans\",\"disposition\":\"discard\",\"quantity\":\"4 kg\","
        "\"prevent\":\"pans laid out\",\"safe\":\"none left\",\"who\":\"AB\"}");
    assert_sends(
        "correct", NOTHING, "812\n\nsecond tray\nwrong tray\nAB\n",
        "{\"do\":\"correct\",\"refers\":812,\"text\":\"second tray\",\"reason\":\"wrong "
        "tray\",\"who\":\"AB\"}");
}

/* Several batches were in it: each is asked for. An action that the plan has ready says the
 * rest. */
static void
test_food_is_asked_for_by_batch_and_a_prepared_action_is_picked(void **state)
{
    (void)state;
    assert_sends(
        "act", NOTHING, "1\n2\nfan broken\n\ndiscard\n4 kg\nuse\n\n\n\nAB\n",
        "{\"do\":\"action\",\"deviation\":1,\"found\":\"fan broken\","
        "\"done\":\"food moved out\",\"food\":[{\"batch\":3,\"disposition\":\"discard\","
        "\"quantity\":\"4 kg\"},{\"batch\":4,\"disposition\":\"use\"}],\"who\":\"AB\"}");
}

static void
test_food_by_batch_is_read_from_one_line(void **state)
{
    (void)state;
    assert_sends("act",
                 GIVEN({"deviation", "1"}, {"prepared", "1"}, {"done", "shut, waited"},
                       {"food", "3 discard 4 kg, 4 use"}, {"who", "AB"}),
                 NULL,
                 "{\"do\":\"action\",\"deviation\":1,\"found\":\"door ajar\","
                 "\"done\":\"shut, waited\",\"food\":[{\"batch\":3,\"disposition\":\"discard\","
                 "\"quantity\":\"4 kg\"},{\"batch\":4,\"disposition\":\"use\"}],"
                 "\"disposition\":\"use\",\"who\":\"AB\"}");
    static const char *const wrong[] = {"",
                                        ",",
                                        "3",
                                        "x use",
                                        "3 eat",
                                        "0 use",
                                        "3 use 0123456789012345678901234567890123456789"};
    for (size_t i = 0; i < sizeof wrong / sizeof *wrong; i++) {
        struct scene scene;
        play(&scene, "act",
             GIVEN({"deviation", "1"}, {"found", "a"}, {"done", "b"}, {"food", wrong[i]},
                   {"who", "AB"}),
             NULL, NULL);
        assert_int_equal(scene.code, CLI_USAGE);
        assert_non_null(strstr(scene.said, "--food"));
        end(&scene);
    }
    struct scene scene;
    play(&scene, "act", GIVEN({"deviation", "2"}, {"prepared", "1"}, {"who", "AB"}), NULL,
         NULL);
    assert_int_equal(scene.code, CLI_USAGE);
    assert_non_null(strstr(scene.said, "no action ready"));
    end(&scene);
}

static void
test_only_undecided_batches_are_offered_for_a_decision(void **state)
{
    (void)state;
    struct scene scene;
    play(&scene, "decide", NOTHING, "\naccept\nhand reading 4.1 C\nCD\n", NULL);
    assert_int_equal(scene.code, CLI_DONE);
    assert_int_equal(json_integer_value(json_object_get(scene.request, "batch")), 3);
    assert_true(json_is_true(json_object_get(scene.request, "accept")));
    end(&scene);
}

static void
test_likely_deviation_comes_first(void **state)
{
    (void)state;
    struct scene scene;
    play(&scene, "act", NOTHING, "", NULL);
    const char *two = strstr(scene.said, "cooled too slowly");
    const char *one = strstr(scene.said, "Walk-in too warm");
    assert_non_null(one);
    assert_non_null(two);
    assert_true(two < one);
    end(&scene);
}

static void
test_input_that_ends_records_nothing(void **state)
{
    (void)state;
    assert_says("begin", NOTHING, "", CLI_USAGE, "nothing was recorded");
    assert_says("begin", NOTHING, "1\n\n2.4kg\n", CLI_USAGE, "nothing was recorded");
}

static void
test_answer_too_long_is_asked_for_again(void **state)
{
    (void)state;
    char *script = malloc(3000);
    assert_non_null(script);
    memset(script, 'x', 2000);
    (void)snprintf(script + 2000, 1000, "\nshort\nAB\n");
    assert_sends("note", NOTHING, script,
                 "{\"do\":\"note\",\"text\":\"short\",\"who\":\"AB\"}");
    free(script);
}

/* Every verb's table has to be within what the code around it expects. */
static void
test_every_verb_is_well_formed(void **state)
{
    (void)state;
    for (size_t v = 0; v < enter_verb_count(); v++) {
        const struct enter_verb *verb = enter_verb_at(v);
        size_t count = 0;
        bool who = false;
        for (; count < ENTER_FIELDS_MAX && verb->fields[count].key != NULL; count++) {
            const struct enter_field *field = &verb->fields[count];
            assert_non_null(field->question);
            assert_non_null(field->help);
            who = who || field->kind == ENTER_WHO;
            for (size_t other = 0; other < count; other++) {
                assert_string_not_equal(field->key, verb->fields[other].key);
                assert_true(field->letter != verb->fields[other].letter);
            }
            assert_true(field->letter != 'h');
        }
        assert_true(who);
        assert_true(verb->positional <= count);
        assert_int_equal(strncmp(verb->example, "trivet ", 7), 0);
        assert_ptr_equal(enter_verb(verb->name), verb);
    }
}

/* ---- the overview ---- */

static const char now_text[] =
    "{\"clock\":\"2026-03-03 14:05:07\",\"time_zone\":\"Europe/London\",\"site\":\"Harbour "
    "Lane "
    "Kitchen\",\"demo\":true,\"unrecorded\":true,\"unrecorded_why\":\"the disk is full: make "
    "room on /srv/records, then everything that waits is written\",\"late\":false,"
    "\"clock_trusted\":true,\"age_s\":1,\"deviations\":[{\"number\":2,\"sentence\":\"Leek "
    "filling "
    "cooled too slowly: it was still at 24.3 \xc2\xb0"
    "C when it had to be below 21.0 \xc2\xb0"
    "C, two hours after it fell through 60.0 \xc2\xb0"
    "C.\",\"action_seq\":0,\"verified_seq\":0},"
    "{\"number\":1,\"sentence\":\"Walk-in too warm.\",\"action_seq\":7,\"verified_seq\":0}],"
    "\"batches\":[{\"number\":4,\"product_name\":\"Rolled pork loin\",\"step_name\":\"Cook\","
    "\"sentence\":\"Rising; no limit is met yet.\",\"concern\":\"watch\",\"temp\":\"61.2\","
    "\"age_s\":3,\"stale\":false}],"
    "\"places\":[{\"name\":\"Walk-in\",\"sentence\":\"As it should be.\",\"concern\":\"none\","
    "\"watched\":true,\"temp\":\"3.4\",\"age_s\":900,\"stale\":true},"
    "{\"name\":\"Oven \\u001b[2J\",\"sentence\":\"\",\"concern\":\"none\",\"watched\":false}],"
    "\"buses\":[{\"id\":\"oven-line\",\"up\":false,\"trouble\":\"no reply in time\"}]}";

static char *
show(bool colour)
{
    char *text = NULL;
    size_t len = 0;
    struct cli cli = {.verb = "now", .colour = colour};
    cli.out = open_memstream(&text, &len);
    json_t *now = json_loads(now_text, 0, NULL);
    assert_non_null(cli.out);
    assert_non_null(now);
    now_show(&cli, now);
    (void)fclose(cli.out);
    json_decref(now);
    return text;
}

static void
test_overview_says_what_matters_and_fits_the_terminal(void **state)
{
    (void)state;
    char *text = show(false);
    static const char *const says[] = {
        "Harbour Lane Kitchen",
        "DEMO DATA",
        "!! NOT RECORDED: the disk is full",
        "!! NO READINGS: bus oven-line is down: no reply in time",
        "Open deviations",
        "record it with: trivet act 2",
        "with: trivet verify 1",
        "4 Rolled pork loin, Cook: 61.2",
        "3 s ago",
        "15 min ago, TOO OLD",
        "not watched"};
    for (size_t i = 0; i < COUNT_OF(says); i++)
        if (strstr(text, says[i]) == NULL)
            fail_msg("the overview does not say \"%s\":\n%s", says[i], text);
    assert_null(strchr(text, '\x1b'));
    for (char *line = strtok(text, "\n"); line != NULL; line = strtok(NULL, "\n")) {
        size_t columns = 0;
        for (const char *at = line; *at != '\0'; at++)
            columns += ((unsigned char)*at & 0xC0) != 0x80;
        if (columns > 80)
            fail_msg("%zu columns: %s", columns, line);
    }
    free(text);
}

static void
test_overview_in_colour_says_the_same(void **state)
{
    (void)state;
    char *plain = show(false), *coloured = show(true);
    assert_non_null(strchr(coloured, '\x1b'));
    char *to = coloured;
    for (const char *at = coloured; *at != '\0';) {
        if (*at == '\x1b')
            at += strcspn(at, "m") + 1;
        else
            *to++ = *at++;
    }
    *to = '\0';
    assert_string_equal(coloured, plain);
    free(plain);
    free(coloured);
}

int
main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_complete_commands_ask_nothing_and_send_what_was_said),
        cmocka_unit_test(test_correction_of_what_began_by_itself),
        cmocka_unit_test(test_number_that_is_not_in_the_lists_is_left_to_the_daemon),
        cmocka_unit_test(test_time_given_is_sent_on_the_records_time_line),
        cmocka_unit_test(
            test_missing_argument_without_a_person_is_named_with_choices_and_example),
        cmocka_unit_test(test_wrong_argument_is_named_with_what_to_write),
        cmocka_unit_test(test_station_initials_stand_in_for_who),
        cmocka_unit_test(test_person_is_asked_for_everything_a_batch_needs),
        cmocka_unit_test(test_only_free_food_probes_are_offered),
        cmocka_unit_test(test_enter_takes_what_stands_in_brackets),
        cmocka_unit_test(test_questions_follow_what_was_answered),
        cmocka_unit_test(test_food_is_asked_for_by_batch_and_a_prepared_action_is_picked),
        cmocka_unit_test(test_food_by_batch_is_read_from_one_line),
        cmocka_unit_test(test_only_undecided_batches_are_offered_for_a_decision),
        cmocka_unit_test(test_likely_deviation_comes_first),
        cmocka_unit_test(test_input_that_ends_records_nothing),
        cmocka_unit_test(test_answer_too_long_is_asked_for_again),
        cmocka_unit_test(test_every_verb_is_well_formed),
        cmocka_unit_test(test_overview_says_what_matters_and_fits_the_terminal),
        cmocka_unit_test(test_overview_in_colour_says_the_same),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
