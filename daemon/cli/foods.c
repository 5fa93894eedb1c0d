/* Food by batch. See foods.h. */
#include "daemon/cli/foods.h"

#include <inttypes.h>
#include <stdlib.h>
#include <string.h>

#include "daemon/cli/amount.h"
#include "daemon/cli/ask.h"
#include "daemon/cli/enter_words.h"
#include "daemon/cli/lists.h"
#include "trivet/entry.h"

static json_t *
food_of(uint64_t batch, const char *disposition, const char *quantity)
{
    json_t *food =
        json_pack("{s:I,s:s}", "batch", (json_int_t)batch, "disposition", disposition);
    if (food != NULL && quantity[0] != '\0')
        (void)json_object_set_new(food, "quantity", json_string(quantity));
    return food;
}

static bool
quantity_good(const char *quantity, char *why)
{
    if (text_is_clean(quantity, ENTRY_AMOUNT_MAX, false))
        return true;
    (void)snprintf(why, FILLING_WHY_MAX,
                   "the quantity is longer than %d bytes or has characters that cannot be "
                   "kept: write for example 4 kg",
                   ENTRY_AMOUNT_MAX);
    return false;
}

/* One "3 discard 4 kg"; words is cut up. */
static json_t *
read_one(char *words, char *why)
{
    uint64_t batch = 0;
    char *rest = NULL, *number = strtok_r(words, " ", &rest),
         *word = strtok_r(NULL, " ", &rest);
    const char *quantity = rest == NULL ? "" : rest + strspn(rest, " ");
    if (number == NULL || word == NULL) {
        (void)snprintf(why, FILLING_WHY_MAX,
                       "each batch wants its number and what becomes of it: write for example "
                       "\"3 discard 4 kg, 5 use\"");
        return NULL;
    }
    if (!amount_number(number, UINT32_MAX, &batch, why, FILLING_WHY_MAX))
        return NULL;
    struct choices choices;
    choices_init(&choices);
    size_t index = 0;
    bool good = words_choices(ENTER_DISPOSITION, &choices) &&
                choices_find(&choices, word, false, &index, why, FILLING_WHY_MAX) &&
                quantity_good(quantity, why);
    json_t *food = good ? food_of(batch, choices.item[index].key, quantity) : NULL;
    choices_done(&choices);
    return food;
}

bool
foods_put(struct filling *filling, const struct enter_field *field, const char *text, char *why)
{
    char words[ASK_ANSWER_MAX];
    if (strlen(text) >= sizeof words) {
        (void)snprintf(why, FILLING_WHY_MAX, "that is too long: name fewer batches");
        return false;
    }
    memcpy(words, text, strlen(text) + 1);
    json_t *foods = json_array();
    char *rest = NULL;
    (void)snprintf(why, FILLING_WHY_MAX, "no batch is named: write for example \"3 discard\"");
    for (char *one = strtok_r(words, ",", &rest); one != NULL;
         one = strtok_r(NULL, ",", &rest)) {
        json_t *food = read_one(one, why);
        if (food == NULL || json_array_append_new(foods, food) != 0) {
            json_decref(foods);
            return false;
        }
    }
    if (json_array_size(foods) == 0) {
        json_decref(foods);
        return false;
    }
    (void)snprintf(filling->chosen[field - filling->verb->fields], CHOICE_KEY_MAX, "some");
    return filling_put(filling, field->key, foods, why);
}

/* ---- from a person ---- */

static enum ask_status
ask_batch(const struct asker *asker, const json_t *batch, const struct choices *choices,
          json_t *foods)
{
    char question[CHOICE_LABEL_MAX], quantity[ASK_ANSWER_MAX] = "", why[FILLING_WHY_MAX];
    const char *name = lists_text(batch, "name");
    size_t index = 0;
    (void)snprintf(question, sizeof question, "What becomes of batch %" PRId64 "%s%.200s%s?",
                   lists_int(batch, "number"), name[0] == '\0' ? "" : ", ", name,
                   name[0] == '\0' ? "" : ",");
    enum ask_status status =
        ask_choice(asker, question, choices, choices->count, false, &index);
    while (status == ASK_ANSWERED) {
        enum ask_status how_much = ask_text(asker, "How much of it?", NULL, true, quantity);
        if (how_much == ASK_LEFT)
            return how_much;
        if (how_much == ASK_SKIPPED)
            quantity[0] = '\0';
        if (quantity_good(quantity, why))
            break;
        ask_complain(asker, why);
    }
    if (status == ASK_ANSWERED)
        (void)json_array_append_new(foods, food_of((uint64_t)lists_int(batch, "number"),
                                                   choices->item[index].key, quantity));
    return status;
}

int
foods_ask(struct filling *filling, const struct enter_field *field)
{
    const struct asker asker = {filling->cli->in, filling->cli->err};
    const json_t *deviation =
        lists_by_number(json_object_get(filling->lists, "deviations"),
                        strtoll(filling_chosen(filling, "deviation"), NULL, 10));
    const json_t *batches = json_object_get(deviation, "food");
    if (json_array_size(batches) < 2)
        return CLI_DONE;
    struct choices choices;
    choices_init(&choices);
    char why[FILLING_WHY_MAX] = "no memory to ask this";
    json_t *foods = json_array();
    enum ask_status status =
        words_choices(ENTER_DISPOSITION, &choices) ? ASK_ANSWERED : ASK_LEFT;
    for (size_t i = 0; status == ASK_ANSWERED && i < json_array_size(batches); i++)
        status = ask_batch(&asker, json_array_get(batches, i), &choices, foods);
    choices_done(&choices);
    if (status == ASK_LEFT) {
        json_decref(foods);
        return cli_fail(filling->cli, CLI_USAGE, "nothing was recorded");
    }
    (void)snprintf(filling->chosen[field - filling->verb->fields], CHOICE_KEY_MAX, "some");
    return filling_put(filling, field->key, foods, why)
               ? CLI_DONE
               : cli_fail(filling->cli, CLI_USAGE, "%s", why);
}

void
foods_echo(const struct cli *cli, const json_t *foods)
{
    for (size_t i = 0; i < json_array_size(foods); i++) {
        const json_t *food = json_array_get(foods, i);
        (void)fprintf(cli->out, ", batch %" PRId64 " %s", lists_int(food, "batch"),
                      lists_text(food, "disposition"));
        if (lists_text(food, "quantity")[0] != '\0') {
            (void)fputc(' ', cli->out);
            cli_print_clean(cli->out, lists_text(food, "quantity"));
        }
    }
}
