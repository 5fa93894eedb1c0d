/* `trivet calibrate`: a thermometer checked in ice, in boiling water or beside a reference.
 *
 * Purpose: options, the conversation, watching until the reading has settled, and the entry
 * that comes of it. The arithmetic of points is calibrate_points.c's, settling settle.c's. One
 * thread. Must not judge: pass or fail is the daemon's word. */
#include "daemon/cli/calibrate.h"

#include <inttypes.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "daemon/cli/amount.h"
#include "daemon/cli/ask.h"
#include "daemon/cli/calibrate_points.h"
#include "daemon/cli/client.h"
#include "daemon/cli/find_setup.h"
#include "daemon/cli/help.h"
#include "daemon/cli/lists.h"
#include "daemon/cli/options.h"
#include "daemon/cli/settle.h"
#include "trivet/clock.h"

enum {
    OPTION_REFERENCE,
    OPTION_PRESSURE,
    OPTION_ALTITUDE,
    OPTION_LEFT,
    OPTION_CORRECTION,
    OPTION_SETTLE,
    OPTION_WAIT,
    OPTION_TEXT,
    OPTION_WHO,
    OPTION_COUNT
};

static const struct option_spec options[OPTION_COUNT] = {
    [OPTION_REFERENCE] = {"reference", 'r'},
    [OPTION_PRESSURE] = {"pressure-kpa", 'p'},
    [OPTION_ALTITUDE] = {"altitude-m", 'a'},
    [OPTION_LEFT] = {"left", 'l'},
    [OPTION_CORRECTION] = {"correction", 'c'},
    [OPTION_SETTLE] = {"settle-for", 's'},
    [OPTION_WAIT] = {"wait-for", 't'},
    [OPTION_TEXT] = {"text", 'n'},
    [OPTION_WHO] = {"who", 'w'},
};

#define SETTLE_USUAL_MS 30000
#define WAIT_USUAL_MS   900000
#define LOOK_EVERY_MS   500

struct run {
    struct cli *cli;
    struct options_read read;
    json_t *lists_answer, *now_answer; /* the daemon's, as they were at the beginning */
    const json_t *lists, *now;
    bool talks; /* asks a person for what is missing */
    bool both_used;
    char id[CHOICE_KEY_MAX];
    bool is_probe;
    char reference[CHOICE_KEY_MAX]; /* "" = none */
    int32_t reference_mK;
    struct check_boiling boiling;
    struct check_points found, left;
    char correction[CHOICE_KEY_MAX];
    char who[CHOICE_KEY_MAX];
    char text[ASK_ANSWER_MAX];
    int64_t settle_ms, wait_ms;
};

static struct asker
asker_of(const struct run *run)
{
    return (struct asker){run->cli->in, run->cli->err};
}

static int
gone(const struct run *run)
{
    return cli_fail(run->cli, CLI_USAGE, "nothing was recorded");
}

static int
refuse_option(const struct run *run, int option, const char *why)
{
    return cli_fail(run->cli, CLI_USAGE, "--%s: %s", options[option].name, why);
}

/* ---- which thermometer ---- */

static bool
list_thermometers(const struct run *run, struct choices *ret)
{
    return lists_probes(run->lists, ret) && lists_thermometers(run->lists, ret);
}

static int
choose_thermometer(struct run *run)
{
    struct choices choices;
    char why[500];
    size_t index = 0;
    int code = CLI_DONE;
    const struct asker asker = asker_of(run);
    choices_init(&choices);
    if (!list_thermometers(run, &choices))
        code = cli_fail(run->cli, CLI_USAGE, "no memory to ask");
    else if (choices.count == 0)
        code =
            cli_fail(run->cli, CLI_USAGE, "the plan names no thermometer: add one there first");
    else if (run->read.word_count > 0 &&
             !choices_find(&choices, run->read.word[0], false, &index, why, sizeof why))
        code = cli_fail(run->cli, CLI_USAGE, "%s", why);
    else if (run->read.word_count == 0 && !run->talks)
        code = cli_fail(run->cli, CLI_USAGE,
                        "which thermometer? There are %s; for example: trivet calibrate %s ice",
                        choices_text(&choices, why, sizeof why), choices.item[0].key);
    else if (run->read.word_count == 0 &&
             ask_choice(&asker, "Which thermometer is checked?", &choices, choices.count, false,
                        &index) != ASK_ANSWERED)
        code = gone(run);
    if (code == CLI_DONE)
        memcpy(run->id, choices.item[index].key, sizeof run->id);
    choices_done(&choices);
    run->is_probe = lists_by_text(json_object_get(run->lists, "probes"), "id", run->id) != NULL;
    return code;
}

/* What a person should know before the probe is taken out of where it is. */
static int
warn_of_use(const struct run *run)
{
    const json_t *probe = lists_by_text(json_object_get(run->lists, "probes"), "id", run->id);
    if (!run->is_probe)
        return CLI_DONE;
    if (lists_int(probe, "batch") != 0)
        return cli_fail(run->cli, CLI_REFUSED,
                        "probe '%s' is in batch %" PRId64
                        ": put another into that food, or end "
                        "it, before this one is checked",
                        run->id, lists_int(probe, "batch"));
    if (json_is_true(json_object_get(probe, "watches_place")) && !run->cli->json)
        (void)fprintf(run->cli->err,
                      "It watches a place, whose limit is judged all the while: if it is taken "
                      "out,\nsay so first with `trivet quiet`.\n");
    return CLI_DONE;
}

/* ---- references ---- */

static int
set_reference(struct run *run, const char *id)
{
    const json_t *all = json_object_get(run->now, "references");
    const json_t *one = lists_by_text(all, "id", id);
    if (one == NULL)
        return cli_fail(run->cli, CLI_USAGE,
                        "--reference: the plan lists no '%.31s' under references", id);
    (void)snprintf(run->reference, sizeof run->reference, "%s", lists_text(one, "id"));
    run->reference_mK = (int32_t)lists_int(one, "uncertainty_mK");
    if (!run->cli->json && strcmp(lists_text(one, "state"), "due-soon") == 0)
        (void)fprintf(run->cli->err, "Its certificate holds until %s: have it renewed.\n",
                      lists_text(one, "due"));
    return CLI_DONE;
}

static int
read_references(struct run *run)
{
    char why[POINTS_WHY_MAX];
    const char *pressure = run->read.value[OPTION_PRESSURE],
               *altitude = run->read.value[OPTION_ALTITUDE];
    check_boiling_of_plan(run->now, &run->boiling);
    if (pressure != NULL && altitude != NULL)
        return cli_fail(run->cli, CLI_USAGE,
                        "--pressure-kpa and --altitude-m both say where water boils: give the "
                        "pressure alone");
    if (pressure != NULL && !check_boiling_of_pressure(pressure, &run->boiling, why))
        return refuse_option(run, OPTION_PRESSURE, why);
    if (altitude != NULL && !check_boiling_of_altitude(altitude, &run->boiling, why))
        return refuse_option(run, OPTION_ALTITUDE, why);
    return run->read.value[OPTION_REFERENCE] == NULL
               ? CLI_DONE
               : set_reference(run, run->read.value[OPTION_REFERENCE]);
}

/* ---- points on the command line ---- */

static int
read_points(struct run *run)
{
    char why[POINTS_WHY_MAX], words[ASK_ANSWER_MAX];
    for (size_t i = 1; i < run->read.word_count; i++)
        if (!check_points_add(&run->found, run->read.word[i], run->both_used, &run->boiling,
                              run->reference_mK, why))
            return cli_fail(run->cli, CLI_USAGE, "%s", why);
    const char *left = run->read.value[OPTION_LEFT];
    (void)snprintf(words, sizeof words, "%s", left == NULL ? "" : left);
    char *rest = NULL;
    for (char *word = strtok_r(words, " ", &rest); word != NULL;
         word = strtok_r(NULL, " ", &rest))
        if (!check_points_add(&run->left, word, run->both_used, &run->boiling,
                              run->reference_mK, why))
            return refuse_option(run, OPTION_LEFT, why);
    return CLI_DONE;
}

static int
read_options(struct run *run)
{
    char why[FIND_WHY_MAX];
    const char *correction = run->read.value[OPTION_CORRECTION];
    run->settle_ms = SETTLE_USUAL_MS;
    run->wait_ms = WAIT_USUAL_MS;
    if (run->read.value[OPTION_SETTLE] != NULL &&
        !find_duration(run->read.value[OPTION_SETTLE], 1000, 600000, &run->settle_ms, why))
        return refuse_option(run, OPTION_SETTLE, why);
    if (run->read.value[OPTION_WAIT] != NULL &&
        !find_duration(run->read.value[OPTION_WAIT], 1000, 3600000, &run->wait_ms, why))
        return refuse_option(run, OPTION_WAIT, why);
    if (correction != NULL && correction_choice_from_word(correction) == CORRECTION_UNSAID)
        return refuse_option(run, OPTION_CORRECTION, "write keep, adopt or drop");
    (void)snprintf(run->correction, sizeof run->correction, "%s",
                   correction == NULL ? "" : correction);
    if (run->read.value[OPTION_TEXT] != NULL)
        (void)snprintf(run->text, sizeof run->text, "%s", run->read.value[OPTION_TEXT]);
    return CLI_DONE;
}

/* ---- watching ---- */

static void
pause_ms(int64_t ms)
{
    struct timespec span = {.tv_sec = ms / 1000, .tv_nsec = ms % 1000 * 1000000};
    (void)nanosleep(&span, NULL); /* woken early, it only looks earlier */
}

static void
say_reading(const struct run *run, const struct settle *settle, enum settle_state state,
            const struct settle_found *found)
{
    char temp[AMOUNT_TEMP_MAX], drift[24];
    (void)fprintf(run->cli->err, "  %s",
                  amount_temp_text(temp, settle->temp_mC[settle->count - 1], run->both_used));
    if (state == SETTLE_MOVING)
        (void)fprintf(run->cli->err, "  still moving: %s degrees in that time",
                      temp_text(drift, sizeof drift, found->drift_mK));
    (void)fputs(state == SETTLE_STEADY ? "  settled\n" : "\n", run->cli->err);
}

/* Takes the probe's newest reading; true when there was one. */
static bool
take_newest(const struct run *run, const json_t *now, struct settle *settle)
{
    const json_t *probe = lists_by_text(json_object_get(now, "probes"), "id", run->id);
    size_t count = settle->count;
    int64_t last_ms = count == 0 ? 0 : settle->at_ms[count - 1];
    /* A probe that failed its last check gives suspect readings (E216), and has to be checked
     * all the same. */
    const bool is_failed = strcmp(lists_text(probe, "quality"), "failed-check") == 0;
    const char *raw = is_failed ? "last_raw_mC" : "raw_mC";
    int64_t at_ms = lists_int(probe, is_failed ? "last_ms" : "last_good_ms");
    if (!json_is_integer(json_object_get(probe, raw)) || at_ms == 0)
        return false;
    /* A reading that is not the last one is old: the last was bad. */
    if (lists_int(probe, "last_ms") != at_ms) {
        settle_break(settle);
        return false;
    }
    if (at_ms <= last_ms)
        return false;
    settle_add(settle, at_ms, (int32_t)lists_int(probe, raw));
    return true;
}

/* Watches the probe until it has settled; CLI_DONE with what it showed, raw. */
static int
watch(const struct run *run, int32_t *ret_mC)
{
    struct settle settle = {.count = 0};
    struct settle_found found;
    struct clock clock = clock_machine();
    int64_t from_ms = clock_mono_ms(&clock);
    while (clock_mono_ms(&clock) - from_ms < run->wait_ms) {
        json_t *answer = NULL;
        int code = client_question(run->cli, "now", &answer);
        if (code != CLI_DONE)
            return code;
        bool fresh = take_newest(run, json_object_get(answer, "now"), &settle);
        json_decref(answer);
        enum settle_state state = settle_look(&settle, run->settle_ms, &found);
        if (fresh && !run->cli->json)
            say_reading(run, &settle, state, &found);
        if (fresh && state == SETTLE_STEADY) {
            *ret_mC = found.mean_mC;
            return CLI_DONE;
        }
        pause_ms(LOOK_EVERY_MS);
    }
    return cli_fail(run->cli, CLI_NO,
                    "it has not settled; nothing was recorded. Stir, see that the whole tip is "
                    "covered, and try again, or say what it showed, as ice=0.4C");
}

/* ---- the conversation ---- */

/* "What does it show?" */
static int
ask_temp(const struct run *run, const char *question, int32_t *ret_mC)
{
    const struct asker asker = asker_of(run);
    for (;;) {
        char text[ASK_ANSWER_MAX], why[300];
        if (ask_text(&asker, question, NULL, false, text) != ASK_ANSWERED)
            return gone(run);
        if (amount_temp(text, run->both_used, ret_mC, why, sizeof why))
            return CLI_DONE;
        ask_complain(&asker, why);
    }
}

static const char *
how_to(enum calibration_method method)
{
    switch (method) {
    case CALIBRATION_ICE:
        return "Crushed ice with a little clean water, stirred; the tip in the middle, off the "
               "glass.";
    case CALIBRATION_BOILING:
        return "Water in a rolling boil; the tip well covered, off the bottom.";
    case CALIBRATION_REFERENCE:
        return "Both tips close together, in water that is stirred, or in the same air.";
    case CALIBRATION_NONE:
        break;
    }
    return "";
}

/* What the thermometer shows at this point, if it is not given. */
static int
measure(struct run *run, struct check_point *point)
{
    const struct asker asker = asker_of(run);
    char text[ASK_ANSWER_MAX];
    if (point->found)
        return CLI_DONE;
    if (!run->is_probe && !run->talks)
        return cli_fail(run->cli, CLI_USAGE,
                        "what '%s' shows has to be said: write it after the point, as ice=0.4C",
                        run->id);
    if (run->talks)
        (void)fprintf(run->cli->err, "%s\n", how_to(point->point.method));
    int code = CLI_DONE;
    if (!run->is_probe) {
        code = ask_temp(run, "What does it show?", &point->point.found_mC);
    } else {
        if (run->talks && ask_text(&asker, "Is it in? (Enter)", "yes", false, text) == ASK_LEFT)
            return gone(run);
        if (!run->cli->json)
            (void)fprintf(run->cli->err, "Watching %s %s:\n", run->id,
                          check_method_phrase(point->point.method));
        code = watch(run, &point->point.found_mC);
    }
    if (code == CLI_DONE && run->talks && run->is_probe &&
        point->point.method == CALIBRATION_REFERENCE)
        code = ask_temp(run, "What does the reference show now?", &point->point.reference_mC);
    point->found = code == CLI_DONE;
    return code;
}

static int
measure_all(struct run *run, struct check_points *points)
{
    int code = CLI_DONE;
    for (size_t i = 0; code == CLI_DONE && i < points->count; i++)
        code = measure(run, &points->at[i]);
    return code;
}

static int
ask_pressure(struct run *run)
{
    const struct asker asker = asker_of(run);
    bool known = run->boiling.pressure_Pa != 0;
    for (;;) {
        char text[ASK_ANSWER_MAX], why[POINTS_WHY_MAX];
        enum ask_status status = ask_text(
            &asker,
            known
                ? "What does a barometer in the kitchen show? (1008hPa; without one, what the "
                  "plan says is taken)"
                : "What does a barometer in the kitchen show? (1008hPa)",
            NULL, known, text);
        if (status == ASK_LEFT)
            return gone(run);
        if (status == ASK_SKIPPED || check_boiling_of_pressure(text, &run->boiling, why))
            return CLI_DONE;
        ask_complain(&asker, why);
    }
}

static int
ask_reference(struct run *run)
{
    const struct asker asker = asker_of(run);
    const json_t *all = json_object_get(run->now, "references");
    struct choices choices;
    size_t index;
    int code = CLI_DONE;
    choices_init(&choices);
    for (size_t i = 0; i < json_array_size(all); i++) {
        const json_t *one = json_array_get(all, i);
        char label[CHOICE_LABEL_MAX];
        (void)snprintf(label, sizeof label, "%.120s  (%.31s), certificate until %.10s",
                       lists_text(one, "name"), lists_text(one, "id"), lists_text(one, "due"));
        if (!choices_add(&choices, lists_text(one, "id"), lists_text(one, "name"), label))
            code = cli_fail(run->cli, CLI_USAGE, "no memory to ask");
    }
    if (code == CLI_DONE && choices.count == 0)
        code = cli_fail(run->cli, CLI_USAGE,
                        "the plan lists no reference: add one there, with its certificate, "
                        "under references");
    if (code == CLI_DONE &&
        ask_choice(&asker, "Which reference?", &choices, choices.count == 1 ? 0 : choices.count,
                   false, &index) != ASK_ANSWERED)
        code = gone(run);
    if (code == CLI_DONE)
        code = set_reference(run, choices.item[index].key);
    choices_done(&choices);
    return code;
}

/* One more point from a person; *ret_more false when there is to be none. */
static int
ask_point(struct run *run, bool *ret_more)
{
    static const struct {
        const char *key, *label;
    } methods[] = {{"ice", "ice: melting ice, 0 degrees"},
                   {"boiling", "boiling: boiling water"},
                   {"reference", "reference: beside a thermometer with a certificate"}};
    const struct asker asker = asker_of(run);
    struct choices choices;
    size_t index = 0;
    bool first = run->found.count == 0;
    *ret_more = false;
    choices_init(&choices);
    for (size_t i = 0; i < sizeof methods / sizeof *methods; i++)
        if (!choices_add(&choices, methods[i].key, "", methods[i].label))
            break; /* fewer to choose from */
    enum ask_status status = ask_choice(&asker, first ? "Checked in what?" : "Another point?",
                                        &choices, choices.count, !first, &index);
    choices_done(&choices);
    if (status != ASK_ANSWERED)
        return status == ASK_SKIPPED ? CLI_DONE : gone(run);
    int code = CLI_DONE;
    if (index == 1 && run->read.value[OPTION_PRESSURE] == NULL)
        code = ask_pressure(run);
    if (index == 2 && run->reference[0] == '\0')
        code = ask_reference(run);
    if (code != CLI_DONE)
        return code;
    char why[POINTS_WHY_MAX];
    /* What the reference shows is asked beside the thermometer. */
    if (!check_points_add(&run->found, index == 2 ? "0C" : methods[index].key, false,
                          &run->boiling, run->reference_mK, why))
        return cli_fail(run->cli, CLI_USAGE, "%s", why);
    struct check_point *point = &run->found.at[run->found.count - 1];
    if (index == 2 && !run->is_probe)
        code = ask_temp(run, "What does the reference show?", &point->point.reference_mC);
    *ret_more = run->found.count < CALIBRATION_POINTS_MAX;
    return code == CLI_DONE ? measure(run, point) : code;
}

/* As left: the same points once more, where it was adjusted. */
static int
ask_left(struct run *run)
{
    const struct asker asker = asker_of(run);
    char text[ASK_ANSWER_MAX];
    if (ask_text(&asker, "If you adjust it now, write yes when that is done (Enter: no)", "no",
                 false, text) == ASK_LEFT)
        return gone(run);
    if (strcmp(text, "yes") != 0 && strcmp(text, "y") != 0)
        return CLI_DONE;
    run->left = run->found;
    for (size_t i = 0; i < run->left.count; i++) {
        run->left.at[i].found = false;
        if (run->left.at[i].point.method == CALIBRATION_REFERENCE && !run->is_probe) {
            int code = ask_temp(run, "What does the reference show now?",
                                &run->left.at[i].point.reference_mC);
            if (code != CLI_DONE)
                return code;
        }
    }
    return measure_all(run, &run->left);
}

static int
ask_correction(struct run *run)
{
    static const char *const labels[][2] = {
        {"keep", "keep: leave it as it is"},
        {"adopt", "adopt: correct its readings from now on by what was found"},
        {"drop", "drop: no correction from now on"},
    };
    const struct asker asker = asker_of(run);
    struct choices choices;
    size_t index = 0;
    choices_init(&choices);
    for (size_t i = 0; i < 3; i++)
        if (!choices_add(&choices, labels[i][0], "", labels[i][1]))
            break;
    enum ask_status status =
        ask_choice(&asker, "What becomes of its correction?", &choices, 0, false, &index);
    choices_done(&choices);
    if (status != ASK_ANSWERED)
        return gone(run);
    (void)snprintf(run->correction, sizeof run->correction, "%s", labels[index][0]);
    return CLI_DONE;
}

static int
choose_person(struct run *run)
{
    const struct asker asker = asker_of(run);
    const char *given = run->read.value[OPTION_WHO];
    struct choices choices;
    char why[500] = "no memory to ask";
    size_t index = 0;
    int code = CLI_DONE;
    if (given == NULL)
        given = run->cli->who;
    choices_init(&choices);
    if (!lists_people(run->lists, &choices))
        code = cli_fail(run->cli, CLI_USAGE, "%s", why);
    else if (given != NULL && !choices_find(&choices, given, false, &index, why, sizeof why))
        code = cli_fail(run->cli, CLI_USAGE, "--who: %s", why);
    else if (given == NULL && !run->talks)
        code = cli_fail(run->cli, CLI_USAGE, "--who is missing (your initials); there are %s",
                        choices_text(&choices, why, sizeof why));
    else if (given == NULL && ask_choice(&asker, "Who are you?", &choices, choices.count, false,
                                         &index) != ASK_ANSWERED)
        code = gone(run);
    if (code == CLI_DONE)
        memcpy(run->who, choices.item[index].key, sizeof run->who);
    choices_done(&choices);
    return code;
}

/* What a person is asked for beyond what the command line says. */
static int
converse(struct run *run)
{
    bool asked = run->talks && run->found.count == 0;
    int code = measure_all(run, &run->found);
    for (bool more = asked; code == CLI_DONE && more;)
        code = ask_point(run, &more);
    if (code == CLI_DONE && run->found.count == 0)
        code = cli_fail(run->cli, CLI_USAGE,
                        "what it is checked against is missing: ice, boiling, or what a "
                        "reference shows; for example: trivet calibrate %s ice --who AB",
                        run->id);
    if (code == CLI_DONE)
        code = run->left.count > 0 || !asked ? measure_all(run, &run->left) : ask_left(run);
    if (code == CLI_DONE && asked && run->is_probe && run->correction[0] == '\0')
        code = ask_correction(run);
    return code == CLI_DONE ? choose_person(run) : code;
}

/* ---- the entry ---- */

static bool
has_method(const struct check_points *points, enum calibration_method method)
{
    for (size_t i = 0; i < points->count; i++)
        if (points->at[i].point.method == method)
            return true;
    return false;
}

static json_t *
request_of(const struct run *run)
{
    json_t *request =
        json_pack("{s:s, s:s, s:s, s:s, s:o}", "do", "calibrate",
                  run->is_probe ? "probe" : "thermometer", run->id, "who", run->who,
                  "correction", run->correction[0] == '\0' ? "keep" : run->correction, "points",
                  check_points_json(&run->found));
    if (request == NULL)
        return NULL;
    int bad = 0;
    if (run->left.count > 0)
        bad |= json_object_set_new(request, "left", check_points_json(&run->left));
    if (has_method(&run->found, CALIBRATION_BOILING) ||
        has_method(&run->left, CALIBRATION_BOILING)) {
        bad |=
            json_object_set_new(request, "pressure_Pa", json_integer(run->boiling.pressure_Pa));
        bad |= json_object_set_new(request, "basis", json_string(run->boiling.basis));
    }
    if (has_method(&run->found, CALIBRATION_REFERENCE) ||
        has_method(&run->left, CALIBRATION_REFERENCE))
        bad |= json_object_set_new(request, "reference", json_string(run->reference));
    if (run->text[0] != '\0')
        bad |= json_object_set_new(request, "text", json_string(run->text));
    if (bad == 0)
        return request;
    json_decref(request);
    return NULL;
}

static int
send_check(const struct run *run)
{
    json_t *request = request_of(run), *answer = NULL;
    int code = request == NULL
                   ? cli_fail(run->cli, CLI_USAGE, "a text is no clean UTF-8, or no memory")
                   : client_ask_or_fail(run->cli, request, &answer);
    json_decref(request);
    if (code != CLI_DONE)
        return code;
    if (run->cli->json) {
        (void)json_dumpf(answer, run->cli->out, JSON_COMPACT);
        (void)fputc('\n', run->cli->out);
    } else {
        cli_print_wrapped(run->cli->out, client_say(answer), 0, 0);
        (void)fprintf(run->cli->out, "On record as number %" PRId64 ".\n",
                      lists_int(answer, "seq"));
    }
    json_decref(answer);
    return cli_finish(run->cli, CLI_DONE);
}

static int
run_all(struct run *run)
{
    int code = read_options(run);
    if (code == CLI_DONE)
        code = client_question(run->cli, "lists", &run->lists_answer);
    if (code == CLI_DONE)
        code = client_question(run->cli, "now", &run->now_answer);
    if (code != CLI_DONE)
        return code;
    run->lists = json_object_get(run->lists_answer, "lists");
    run->now = json_object_get(run->now_answer, "now");
    run->both_used = lists_both_units(run->lists);
    code = choose_thermometer(run);
    if (code == CLI_DONE)
        code = warn_of_use(run);
    if (code == CLI_DONE)
        code = read_references(run);
    if (code == CLI_DONE)
        code = read_points(run);
    if (code == CLI_DONE)
        code = converse(run);
    return code == CLI_DONE ? send_check(run) : code;
}

int
cli_calibrate(struct cli *cli, int argc, char **argv)
{
    struct run run = {.cli = cli, .talks = cli->may_ask};
    int code = options_read(cli, argc, argv, options, OPTION_COUNT, &run.read);
    if (code != CLI_DONE)
        return code;
    if (run.read.help)
        return help_verb(cli, argv[0]);
    code = run_all(&run);
    json_decref(run.lists_answer);
    json_decref(run.now_answer);
    return code;
}
