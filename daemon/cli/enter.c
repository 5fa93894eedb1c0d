/* From arguments and answers to an entry. See enter.h. */
#include "daemon/cli/enter.h"

#include <stdlib.h>
#include <string.h>

#include "daemon/cli/ask.h"
#include "daemon/cli/client.h"
#include "daemon/cli/enter_words.h"
#include "daemon/cli/filling.h"
#include "daemon/cli/foods.h"
#include "daemon/cli/help.h"
#include "daemon/cli/lists.h"
#include "daemon/cli/options.h"
#include "daemon/cli/recent.h"
#include "trivet/clock.h"

static enum enter_need
need_of(const struct filling *filling, const struct enter_field *field)
{
    if (field->when_key != NULL &&
        strcmp(filling_chosen(filling, field->when_key), field->when_value) != 0)
        return ENTER_SILENT;
    /* A step that began by itself has no temperature and no text to correct. */
    bool by_itself = filling->verb->kind == ENTRY_CORRECT &&
                     (filling_chosen(filling, "at")[0] != '\0' ||
                      filling_chosen(filling, "withdraw")[0] != '\0');
    if (by_itself && (field->kind == ENTER_TEMP || strcmp(field->key, "text") == 0))
        return ENTER_SILENT;
    return field->need;
}

/* ---- choices ---- */

static bool
is_choice(enum enter_kind kind)
{
    return kind <= ENTER_ACCEPT;
}

static const json_t *
chosen_deviation(const struct filling *filling)
{
    return lists_by_number(json_object_get(filling->lists, "deviations"),
                           strtoll(filling_chosen(filling, "deviation"), NULL, 10));
}

static bool
choices_for(const struct filling *filling, const struct enter_field *field, bool asked,
            struct choices *ret)
{
    const json_t *lists = filling->lists;
    switch (field->kind) {
    case ENTER_WHO:
        return lists_people(lists, ret);
    case ENTER_PRODUCT:
        return lists_products(lists, ret);
    case ENTER_STEP:
        return lists_steps(filling_steps(filling), ret);
    case ENTER_PROBES:
        /* Asked, only those that are free are offered; named, the daemon says what is wrong
         * with it. */
        return asked ? lists_free_probes(lists, ret) : lists_probes(lists, ret);
    case ENTER_PLACE:
        return lists_places(lists, ret);
    case ENTER_BATCH:
        return asked && filling->verb->kind == ENTRY_DECIDE ? lists_undecided(lists, ret)
                                                            : lists_batches(lists, ret);
    case ENTER_DEVIATION:
        return filling->verb->kind == ENTRY_HEARD
                   ? lists_sounding(lists, ret)
                   : lists_deviations(
                         lists, filling->verb->kind == ENTRY_VERIFY ? "verify" : "action", ret);
    case ENTER_THERMOMETER:
        return lists_thermometers(lists, ret);
    case ENTER_PREPARED:
        return lists_prepared(chosen_deviation(filling), ret);
    default:
        return words_choices(field->kind, ret);
    }
}

/* What Enter takes; choices->count = nothing. */
static size_t
usual_of(const struct filling *filling, const struct enter_field *field,
         const struct choices *choices)
{
    char why[FILLING_WHY_MAX];
    size_t index = choices->count;
    if (field->kind == ENTER_WHO && filling->cli->who != NULL &&
        choices_find(choices, filling->cli->who, false, &index, why, sizeof why))
        return index;
    if (field->kind == ENTER_STEP &&
        choices_find(choices, lists_text(filling_steps(filling), "next_step"), false, &index,
                     why, sizeof why))
        return index;
    bool only_one = choices->count == 1 && field->need == ENTER_NEEDED;
    return only_one ? 0 : choices->count;
}

static const char *
nothing_there(enum enter_kind kind)
{
    switch (kind) {
    case ENTER_BATCH:
        return "no batch is running that this could be about; `trivet begin` begins one";
    case ENTER_DEVIATION:
        return "no deviation is open";
    case ENTER_THERMOMETER:
        return "the plan names no hand-held thermometer: add it there first";
    case ENTER_PREPARED:
        return "the plan has no action ready for this deviation: say what was found and done";
    case ENTER_PLACE:
        return "the plan names no place: add it there first";
    case ENTER_PRODUCT:
        return "the plan names no product: add it there first";
    default:
        return "the plan names none: add it there first";
    }
}

/* ---- from the command line ---- */

static bool
find_probes(const struct choices *choices, const char *text, bool *picked, char *why)
{
    char words[ASK_ANSWER_MAX];
    if (strlen(text) >= sizeof words) {
        (void)snprintf(why, FILLING_WHY_MAX, "that are too many probes");
        return false;
    }
    memcpy(words, text, strlen(text) + 1);
    size_t count = 0;
    char *rest = NULL;
    for (char *word = strtok_r(words, ", ", &rest); word != NULL;
         word = strtok_r(NULL, ", ", &rest)) {
        size_t index;
        if (!choices_find(choices, word, false, &index, why, FILLING_WHY_MAX))
            return false;
        picked[index] = true;
        count++;
    }
    if (count >= 1 && count <= ENTRY_PROBES_MAX)
        return true;
    (void)snprintf(why, FILLING_WHY_MAX, "name 1 to %d probes", ENTRY_PROBES_MAX);
    return false;
}

static bool
take_given_choice(struct filling *filling, const struct enter_field *field, const char *text,
                  const struct choices *choices, char *why)
{
    if (choices->count == 0) {
        (void)snprintf(why, FILLING_WHY_MAX, "%s", nothing_there(field->kind));
        return false;
    }
    if (field->kind == ENTER_PROBES) {
        bool *picked = calloc(choices->count, sizeof *picked);
        bool good = picked != NULL && find_probes(choices, text, picked, why) &&
                    filling_put_probes(filling, field, choices, picked, why);
        free(picked);
        return good;
    }
    size_t index;
    return choices_find(choices, text, false, &index, why, FILLING_WHY_MAX) &&
           filling_put_choice(filling, field, &choices->item[index], why);
}

/* Of a batch that is not running the steps are not known here. */
static bool
is_beyond_lists(const struct filling *filling, const struct enter_field *field)
{
    return field->kind == ENTER_STEP && filling_steps(filling) == NULL;
}

static int
take_given(struct filling *filling, const struct enter_field *field, const char *text)
{
    char why[FILLING_WHY_MAX] = "no memory to read this";
    bool good = false;
    if (field->kind == ENTER_BATCH || field->kind == ENTER_DEVIATION) {
        good = filling_put_number(filling, field, text, why);
    } else if (is_beyond_lists(filling, field)) {
        good = filling_put_text(filling, field, text, why);
    } else if (is_choice(field->kind)) {
        struct choices choices;
        choices_init(&choices);
        good = choices_for(filling, field, false, &choices) &&
               take_given_choice(filling, field, text, &choices, why);
        choices_done(&choices);
    } else {
        good = filling_put_typed(filling, field, text, why);
    }
    return good ? CLI_DONE : cli_fail(filling->cli, CLI_USAGE, "--%s: %s", field->key, why);
}

/* ---- from a person ---- */

static int
left(const struct filling *filling)
{
    return cli_fail(filling->cli, CLI_USAGE, "nothing was recorded");
}

static enum ask_status
ask_probes(struct filling *filling, const struct asker *asker, const struct enter_field *field,
           const struct choices *choices, char *why, bool *ret_good)
{
    bool *picked = calloc(choices->count, sizeof *picked);
    if (picked == NULL) {
        *ret_good = false;
        return ASK_ANSWERED;
    }
    enum ask_status status =
        ask_choices(asker, field->question, choices, ENTRY_PROBES_MAX, picked);
    if (status == ASK_ANSWERED)
        *ret_good = filling_put_probes(filling, field, choices, picked, why);
    free(picked);
    return status;
}

static int
ask_from_list(struct filling *filling, const struct enter_field *field,
              const struct choices *choices)
{
    const struct asker asker = {filling->cli->in, filling->cli->err};
    char why[FILLING_WHY_MAX] = "no memory to ask this";
    if (choices->count == 0 && need_of(filling, field) != ENTER_NEEDED) {
        if (field->kind == ENTER_PROBES)
            (void)fputs("No probe is free: readings have to be taken by hand.\n",
                        filling->cli->err);
        return CLI_DONE;
    }
    if (choices->count == 0)
        return cli_fail(filling->cli, CLI_USAGE, "%s", nothing_there(field->kind));
    bool good = true;
    enum ask_status status;
    if (field->kind == ENTER_PROBES) {
        status = ask_probes(filling, &asker, field, choices, why, &good);
    } else {
        size_t index;
        status = ask_choice(&asker, field->question, choices, usual_of(filling, field, choices),
                            need_of(filling, field) != ENTER_NEEDED, &index);
        if (status == ASK_ANSWERED)
            good = filling_put_choice(filling, field, &choices->item[index], why);
    }
    if (status == ASK_LEFT)
        return left(filling);
    return good ? CLI_DONE : cli_fail(filling->cli, CLI_USAGE, "%s", why);
}

static int
ask_typed(struct filling *filling, const struct enter_field *field)
{
    const struct asker asker = {filling->cli->in, filling->cli->err};
    for (;;) {
        char text[ASK_ANSWER_MAX], why[FILLING_WHY_MAX];
        switch (ask_text(&asker, field->question, NULL, need_of(filling, field) != ENTER_NEEDED,
                         text)) {
        case ASK_LEFT:
            return left(filling);
        case ASK_SKIPPED:
            return CLI_DONE;
        case ASK_ANSWERED:
            if (filling_put_typed(filling, field, text, why))
                return CLI_DONE;
            ask_complain(&asker, why);
        }
    }
}

static int
ask_field(struct filling *filling, const struct enter_field *field)
{
    if (field->kind == ENTER_FOODS)
        return foods_ask(filling, field);
    if (!is_choice(field->kind))
        return ask_typed(filling, field);
    struct choices choices;
    choices_init(&choices);
    int code = choices_for(filling, field, true, &choices)
                   ? ask_from_list(filling, field, &choices)
                   : cli_fail(filling->cli, CLI_USAGE, "no memory to ask");
    choices_done(&choices);
    return code;
}

/* Nobody is there to be asked: the error names what is missing, what there is to choose from,
 * and an example. */
static int
say_missing(const struct filling *filling, const struct enter_field *field)
{
    char all[300] = "";
    if (is_choice(field->kind)) {
        struct choices choices;
        choices_init(&choices);
        if (choices_for(filling, field, true, &choices) && choices.count > 0)
            (void)choices_text(&choices, all, sizeof all);
        choices_done(&choices);
    }
    return cli_fail(filling->cli, CLI_USAGE, "--%s is missing (%s)%s%s; for example: %s",
                    field->key, field->help, all[0] == '\0' ? "" : "; there are ", all,
                    filling->verb->example);
}

/* ---- the whole ---- */

static int
fill_field(struct filling *filling, const struct enter_field *field, const char *given)
{
    if (given == NULL && field->kind == ENTER_WHO && !filling->dialog)
        given = filling->cli->who;
    if (given != NULL)
        return take_given(filling, field, given);
    enum enter_need need = need_of(filling, field);
    if (need == ENTER_SILENT || (need == ENTER_OFFERED && !filling->dialog))
        return CLI_DONE;
    /* A condition can make a field needed that nothing was missing without. */
    return filling->cli->may_ask ? ask_field(filling, field) : say_missing(filling, field);
}

static bool
is_missing(const struct filling *filling, const struct enter_field *field, const char *given)
{
    bool from_station = field->kind == ENTER_WHO && filling->cli->who != NULL;
    return given == NULL && !from_station && need_of(filling, field) == ENTER_NEEDED;
}

/* What the plan has ready for it is given, where the person says nothing else. */
static void
take_prepared(const struct filling *filling, const char **given)
{
    const json_t *ready = json_object_get(chosen_deviation(filling), "prepared");
    long long number = strtoll(filling_chosen(filling, "prepared"), NULL, 10);
    const json_t *picked = number < 1 ? NULL : json_array_get(ready, (size_t)(number - 1));
    for (size_t i = 0; i < ENTER_FIELDS_MAX && filling->verb->fields[i].key != NULL; i++) {
        const char *text = lists_text(picked, filling->verb->fields[i].key);
        if (given[i] == NULL && text[0] != '\0')
            given[i] = text;
    }
}

/* Whoever is asked what comes next sees how the batch stands: Enter moves it on, be its limit
 * met or not. */
static void
tell_batch(const struct filling *filling)
{
    const json_t *batch = lists_by_number(json_object_get(filling->lists, "batches"),
                                          strtoll(filling_chosen(filling, "batch"), NULL, 10));
    enum entry_kind kind = filling->verb->kind;
    if (filling->dialog && batch != NULL && (kind == ENTRY_MOVE || kind == ENTRY_END))
        cli_print_wrapped(filling->cli->err, lists_text(batch, "sentence"), 0, 0);
}

int
enter_fill(const struct cli *cli, const struct enter_verb *verb, const char *const *from_line,
           const json_t *lists, json_t *request)
{
    const char *given[ENTER_FIELDS_MAX];
    memcpy(given, from_line, sizeof given);
    struct filling filling = {.cli = cli, .verb = verb, .lists = lists, .request = request};
    char why[FILLING_WHY_MAX];
    if (!filling_put(&filling, "do", json_string(entry_kind_word(verb->kind)), why))
        return cli_fail(cli, CLI_USAGE, "%s", why);
    /* Conditions look at other fields, also at those that come later. */
    for (size_t i = 0; i < ENTER_FIELDS_MAX && verb->fields[i].key != NULL; i++)
        if (given[i] != NULL)
            (void)snprintf(filling.chosen[i], CHOICE_KEY_MAX, "%.*s", CHOICE_KEY_MAX - 1,
                           given[i]);
    for (size_t i = 0; i < ENTER_FIELDS_MAX && verb->fields[i].key != NULL; i++)
        if (is_missing(&filling, &verb->fields[i], given[i]))
            filling.dialog = cli->may_ask;
    int code = CLI_DONE;
    for (size_t i = 0; code == CLI_DONE && i < ENTER_FIELDS_MAX && verb->fields[i].key != NULL;
         i++) {
        code = fill_field(&filling, &verb->fields[i], given[i]);
        if (verb->fields[i].kind == ENTER_PREPARED)
            take_prepared(&filling, given);
        if (code == CLI_DONE && verb->fields[i].kind == ENTER_BATCH)
            tell_batch(&filling);
        if (code == CLI_DONE && verb->fields[i].kind == ENTER_DEVIATION && filling.dialog &&
            verb->kind == ENTRY_VERIFY)
            recent_show_action(cli, strtoll(filling_chosen(&filling, "deviation"), NULL, 10));
    }
    return code;
}

static int
read_given(struct cli *cli, const struct enter_verb *verb, int argc, char **argv,
           const char **ret_given, bool *ret_help)
{
    struct option_spec specs[ENTER_FIELDS_MAX];
    size_t count = 0;
    for (; count < ENTER_FIELDS_MAX && verb->fields[count].key != NULL; count++)
        specs[count] =
            (struct option_spec){verb->fields[count].key, verb->fields[count].letter};
    struct options_read read;
    int code = options_read(cli, argc, argv, specs, count, &read);
    if (code != CLI_DONE)
        return code;
    *ret_help = read.help;
    for (size_t i = 0; i < count; i++)
        ret_given[i] = read.value[i];
    for (size_t i = 0; i < read.word_count; i++) {
        if (i >= verb->positional)
            return cli_fail(
                cli, CLI_USAGE,
                "there is a word too many; texts of several words go in quotes, for "
                "example: %s",
                verb->example);
        if (ret_given[i] != NULL)
            return cli_fail(cli, CLI_USAGE, "--%s is given twice: give it once", specs[i].name);
        ret_given[i] = read.word[i];
    }
    return CLI_DONE;
}

static int
send_entry(const struct cli *cli, const struct enter_verb *verb, const json_t *request,
           const json_t *lists)
{
    json_t *answer = NULL;
    int code = client_ask_or_fail(cli, request, &answer);
    if (code != CLI_DONE)
        return code;
    if (cli->json) {
        (void)json_dumpf(answer, cli->out, JSON_COMPACT);
        (void)fputc('\n', cli->out);
    } else {
        enter_echo(cli, verb, request, lists, answer);
    }
    json_decref(answer);
    return cli_finish(cli, CLI_DONE);
}

int
enter_run(struct cli *cli, const struct enter_verb *verb, int argc, char **argv)
{
    static char end[] = "--end=yes", withdraw[] = "--withdraw=yes"; /* without a value */
    for (int i = 1; i < argc; i++) {
        if ((verb->kind == ENTRY_QUIET || verb->kind == ENTRY_SHELVE) &&
            strcmp(argv[i], "--end") == 0)
            argv[i] = end;
        if (verb->kind == ENTRY_CORRECT && strcmp(argv[i], "--withdraw") == 0)
            argv[i] = withdraw;
    }
    const char *given[ENTER_FIELDS_MAX] = {0};
    bool help = false;
    int code = read_given(cli, verb, argc, argv, given, &help);
    if (code != CLI_DONE)
        return code;
    if (help)
        return help_verb(cli, verb->name);
    json_t *answer = NULL;
    code = client_question(cli, "lists", &answer);
    if (code != CLI_DONE)
        return code;
    struct clock clock = clock_machine();
    cli->lists_mono_ms = clock_mono_ms(&clock);
    const json_t *lists = json_object_get(answer, "lists");
    if (verb->kind == ENTRY_CORRECT && cli->may_ask && given[0] == NULL)
        recent_show(cli, lists);
    json_t *request = json_object();
    code = request == NULL ? cli_fail(cli, CLI_USAGE, "no memory to write this down")
                           : enter_fill(cli, verb, given, lists, request);
    if (code == CLI_DONE)
        code = send_entry(cli, verb, request, lists);
    json_decref(request);
    json_decref(answer);
    return code;
}
