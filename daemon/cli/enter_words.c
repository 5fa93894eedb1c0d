/* The fixed words of entries, and the echo of what was recorded. See enter_words.h. */
#include "daemon/cli/enter_words.h"

#include <inttypes.h>
#include <string.h>

#include "daemon/cli/amount.h"
#include "daemon/cli/client.h"
#include "daemon/cli/foods.h"
#include "daemon/cli/lists.h"
#include "trivet/units.h"
#include "trivet/zone.h"

struct word {
    const char *key, *label;
};

static const struct word outcomes[] = {
    {"served", "served: eaten or gone out"},
    {"stored", "stored: put away to be used later"},
    {"discarded", "discarded: thrown away"},
    {NULL, NULL},
};

static const struct word dispositions[] = {
    {"use", "use: it is safe to use as it is"},
    {"use-at-once", "use-at-once: only now, not kept"},
    {"cook-on", "cook-on: cooked further"},
    {"reheat", "reheat: reheated"},
    {"cool-again", "cool-again: cooled again, faster"},
    {"hold", "hold: set aside until somebody decides"},
    {"divert", "divert: to a use in which it can do no harm"},
    {"discard", "discard: thrown away"},
    {"no-food", "no-food: no food was affected"},
    {NULL, NULL},
};

static const struct word whys[] = {
    {"off", "off: it is switched off"},
    {"empty", "empty: there is nothing in it"},
    {"defrosting", "defrosting: it is being defrosted"},
    {"cleaning", "cleaning: it is being cleaned"},
    {NULL, NULL},
};

static const struct word answers[] = {
    {"accept", "accept: yes, the limit was met"},
    {"reject", "reject: no, it was not"},
    {NULL, NULL},
};

bool
words_choices(enum enter_kind kind, struct choices *ret)
{
    const struct word *word = kind == ENTER_OUTCOME       ? outcomes
                              : kind == ENTER_DISPOSITION ? dispositions
                              : kind == ENTER_WHY         ? whys
                                                          : answers;
    for (; word->key != NULL; word++)
        if (!choices_add(ret, word->key, "", word->label))
            return false;
    return true;
}

static void
echo_temp(const struct cli *cli, const json_t *request, const json_t *lists)
{
    char text[AMOUNT_TEMP_MAX];
    (void)fprintf(cli->out, ", %s",
                  amount_temp_text(text, (int32_t)lists_int(request, "temp_mC"),
                                   lists_both_units(lists)));
}

static void
echo_when(const struct cli *cli, const json_t *request, const json_t *lists)
{
    char text[40];
    int64_t offset_ms = lists_int(lists, "offset_ms");
    (void)fprintf(cli->out, ", at %s",
                  zone_clock_text(zone_shared(lists_text(lists, "time_zone")),
                                  lists_int(request, "given_ms") + offset_ms,
                                  lists_int(lists, "now_ms") + offset_ms, text, sizeof text));
}

static void
echo_probes(const struct cli *cli, const json_t *request, const char *key)
{
    const json_t *ids = json_object_get(request, key);
    for (size_t i = 0; i < json_array_size(ids); i++)
        (void)fprintf(cli->out, "%s %s", i == 0 ? ", probe" : " and",
                      json_string_value(json_array_get(ids, i)));
}

static void
echo_value(const struct cli *cli, const char *label, const json_t *value)
{
    if (json_is_integer(value)) {
        (void)fprintf(cli->out, ", %s %" JSON_INTEGER_FORMAT, label, json_integer_value(value));
    } else if (json_is_boolean(value)) {
        (void)fputs(json_is_true(value) ? ", accepted" : ", rejected", cli->out);
    } else if (json_is_string(value)) {
        (void)fprintf(cli->out, ", %s ", label);
        cli_print_clean(cli->out, json_string_value(value));
    }
}

static void
echo_field(const struct cli *cli, const struct enter_field *field, const json_t *request,
           const json_t *lists)
{
    switch (field->kind) {
    case ENTER_TEMP:
        if (json_object_get(request, "temp_mC") != NULL)
            echo_temp(cli, request, lists);
        break;
    case ENTER_WHEN:
        if (json_object_get(request, "given_ms") != NULL)
            echo_when(cli, request, lists);
        break;
    case ENTER_PROBES:
        echo_probes(cli, request, field->key);
        break;
    case ENTER_MASS:
        if (json_object_get(request, "mass_g") != NULL)
            (void)fprintf(cli->out, ", %" PRId64 " g", lists_int(request, "mass_g"));
        break;
    case ENTER_LENGTH:
        if (json_object_get(request, "thickness_mm") != NULL)
            (void)fprintf(cli->out, ", %" PRId64 " mm thick",
                          lists_int(request, "thickness_mm"));
        break;
    case ENTER_SPAN:
        if (json_object_get(request, "for_ms") != NULL) {
            char text[40];
            (void)fprintf(cli->out, ", for %s",
                          duration_text(text, sizeof text, lists_int(request, "for_ms")));
        }
        break;
    case ENTER_FLAG:
        if (json_is_true(json_object_get(request, field->key)))
            (void)fputs(strcmp(field->key, "withdraw") == 0 ? ", withdrawn" : ", ended",
                        cli->out);
        break;
    case ENTER_FOODS:
        foods_echo(cli, json_object_get(request, field->key));
        break;
    case ENTER_NUMBER:
        echo_value(cli, "record", json_object_get(request, "refers"));
        break;
    case ENTER_WHO:
        echo_value(cli, "by", json_object_get(request, field->key));
        break;
    default:
        echo_value(cli, field->key, json_object_get(request, field->key));
        break;
    }
}

void
enter_echo(const struct cli *cli, const struct enter_verb *verb, const json_t *request,
           const json_t *lists, const json_t *answer)
{
    cli_print_clean(cli->out, client_say(answer));
    (void)fprintf(cli->out, "\nOn record as number %" PRId64 ": %s", lists_int(answer, "seq"),
                  verb->name);
    for (size_t i = 0; i < ENTER_FIELDS_MAX && verb->fields[i].key != NULL; i++)
        echo_field(cli, &verb->fields[i], request, lists);
    (void)fputs(".\n", cli->out);
}
