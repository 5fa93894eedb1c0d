/* What `trivet find` found. See find_report.h. */
#include "daemon/cli/find_report.h"

#include <inttypes.h>
#include <jansson.h>
#include <stdlib.h>
#include <string.h>

#include "trivet/register_reader.h"
#include "trivet/units.h"

#define SENTENCE_MAX 400
#define NUMBER_MAX   32
#define OTHERS_MAX   6 /* more confuse */
#define MOVES_SHOWN  8

void
find_result_of(const struct find_blocks *blocks, struct find_result *ret)
{
    ret->guess_count = find_guesses(blocks->block, blocks->count, ret->guess, FIND_GUESSES_MAX);
    ret->move_count = find_moves(blocks->block, blocks->count, ret->move, FIND_MOVES_MAX);
    ret->sure = find_sure(ret->guess, ret->guess_count);
}

/* The guesses worth a sentence beside the best: the first of each kind of tie, those that
 * matter only when they come near. Returns their number. */
static size_t
others(const struct find_result *result, const struct find_guess *ret[OTHERS_MAX])
{
    bool told[FIND_TIES] = {false};
    size_t count = 0;
    for (size_t i = 1; i < result->guess_count && count < OTHERS_MAX; i++) {
        const struct find_guess *other = &result->guess[i];
        const enum find_tie tie = find_tie(&result->guess[0], other);
        if (told[tie] || (find_tie_matters(tie) && !find_tie_close(&result->guess[0], other)))
            continue;
        told[tie] = true;
        ret[count++] = other;
    }
    return count;
}

/* ---- for machines ---- */

static json_t *
guess_json(const struct find_guess *guess)
{
    char scale[NUMBER_MAX], offset[NUMBER_MAX];
    const char *degree = guess->sensor != NULL ? "ohm" : guess->reads == TEMP_F ? "F" : "C";
    json_t *object = json_pack(
        "{s:i, s:i, s:i, s:s, s:s, s:s, s:s, s:I, s:I, s:I}", "unit", guess->unit, "function",
        guess->function, "register", guess->reg, "type", find_words_type(guess->type), "scale",
        find_words_micro(scale, sizeof scale, guess->scale_micro), "offset",
        find_words_micro(offset, sizeof offset, guess->offset_micro), "degrees", degree,
        "hand_mC", (json_int_t)guess->hand_mC, "ice_mC", (json_int_t)guess->ice_mC, "doubt",
        (json_int_t)guess->doubt);
    if (guess->sensor != NULL)
        (void)json_object_set_new(object, "sensor", json_string(guess->sensor));
    if (register_type_count(guess->type) > 1)
        (void)json_object_set_new(object, "byte_order",
                                  json_string(find_words_order(guess->order)));
    return object;
}

static json_t *
others_json(const struct find_result *result)
{
    const struct find_guess *other[OTHERS_MAX];
    const size_t count = result->guess_count > 0 ? others(result, other) : 0;
    json_t *list = json_array();
    for (size_t i = 0; i < count; i++) {
        char say[SENTENCE_MAX];
        json_t *item = guess_json(other[i]);
        const enum find_tie tie = find_tie(&result->guess[0], other[i]);
        (void)json_object_set_new(item, "tie", json_string(find_words_tie_word(tie)));
        (void)json_object_set_new(
            item, "say",
            json_string(find_words_tie(say, sizeof say, &result->guess[0], other[i])));
        (void)json_array_append_new(list, item);
    }
    return list;
}

static json_t *
moves_json(const struct find_result *result)
{
    json_t *list = json_array();
    for (size_t i = 0; i < result->move_count; i++) {
        const struct find_move *move = &result->move[i];
        (void)json_array_append_new(list,
                                    json_pack("{s:i, s:i, s:i, s:i, s:i}", "unit", move->unit,
                                              "function", move->function, "register", move->reg,
                                              "hand", move->hand, "ice", move->ice));
    }
    return list;
}

static json_t *
line_json(const struct plan_bus *bus)
{
    const char *driver = find_words_driver(bus->driver);
    if (bus->driver != BUS_MODBUS_RTU)
        return json_pack("{s:s, s:s, s:i}", "driver", driver, "host", bus->host, "port",
                         bus->port);
    return json_pack("{s:s, s:s, s:i, s:s, s:i}", "driver", driver, "device", bus->device,
                     "baud", (int)bus->baud_bps, "parity", find_words_parity(bus->parity),
                     "stop_bits", bus->stop_bits);
}

static char *
plan_text(const struct plan_bus *bus, const struct find_guess *guess,
          const struct find_naming *naming)
{
    char *text = NULL;
    size_t len = 0;
    FILE *to = open_memstream(&text, &len);
    if (to == NULL)
        return NULL;
    find_words_plan(to, bus, guess, naming);
    if (fclose(to) == 0)
        return text;
    free(text);
    return NULL;
}

static int
print_object(const struct cli *cli, json_t *object, int code)
{
    if (object == NULL)
        return cli_fail(cli, CLI_NO, "no memory for the answer");
    (void)json_dumpf(object, cli->out, JSON_COMPACT); /* cli_finish sees a failure */
    (void)fputc('\n', cli->out);
    json_decref(object);
    return cli_finish(cli, code);
}

static int
report_json(const struct cli *cli, const struct plan_bus *bus, const struct find_result *result,
            const struct find_naming *naming)
{
    const bool found = result->guess_count > 0;
    json_t *object = json_pack("{s:b, s:b}", "found", found, "sure", result->sure);
    if (object == NULL)
        return print_object(cli, NULL, CLI_NO);
    (void)json_object_set_new(object, "line", line_json(bus));
    if (found) {
        char *plan = plan_text(bus, &result->guess[0], naming);
        (void)json_object_set_new(object, "probe", guess_json(&result->guess[0]));
        (void)json_object_set_new(object, "plan", json_string(plan == NULL ? "" : plan));
        free(plan);
    }
    (void)json_object_set_new(object, "others", others_json(result));
    (void)json_object_set_new(object, "moved", moves_json(result));
    return print_object(cli, object, found ? CLI_DONE : CLI_NO);
}

/* ---- for people ---- */

static void
comment(FILE *to, const char *text)
{
    (void)fputs("# ", to);
    cli_print_clean(to, text);
    (void)fputc('\n', to);
}

static void
comment_guess(const struct cli *cli, const struct find_result *result)
{
    const struct find_guess *best = &result->guess[0];
    char hand[NUMBER_MAX], ice[NUMBER_MAX], decoding[120], text[SENTENCE_MAX];
    (void)snprintf(text, sizeof text, "Found: unit %d, function %d, register %d, %s.",
                   best->unit, best->function, best->reg,
                   find_words_decoding(decoding, sizeof decoding, best));
    comment(cli->out, text);
    (void)snprintf(text, sizeof text, "In the hand %s °C, in ice water %s °C.",
                   temp_text(hand, sizeof hand, best->hand_mC),
                   temp_text(ice, sizeof ice, best->ice_mC));
    comment(cli->out, text);
}

static void
comment_others(const struct cli *cli, const struct find_result *result)
{
    const struct find_guess *other[OTHERS_MAX];
    const size_t count = others(result, other);
    if (!result->sure)
        comment(cli->out, "NOT SURE: more than one reading of the registers fits.");
    for (size_t i = 0; i < count; i++) {
        char say[SENTENCE_MAX], text[SENTENCE_MAX + 20];
        find_words_tie(say, sizeof say, &result->guess[0], other[i]);
        (void)snprintf(text, sizeof text, "  also: %s", say);
        comment(cli->out, text);
    }
}

static int
report_found(const struct cli *cli, const struct plan_bus *bus,
             const struct find_result *result, const struct find_naming *naming)
{
    comment_guess(cli, result);
    comment_others(cli, result);
    comment(cli->out, "A guess until a person has compared it with a thermometer they trust, "
                      "cold and hot.");
    comment(cli->out, "Narrow `plausible` to what the place can reach; the device's manual "
                      "knows its fault_values.");
    if (bus->driver == BUS_MODBUS_RTU && (strncmp(bus->device, "/dev/ttyUSB", 11) == 0 ||
                                          strncmp(bus->device, "/dev/ttyACM", 11) == 0))
        comment(cli->out, "The device's name can change with the next start: ls -l "
                          "/dev/serial/by-id shows one that stays.");
    find_words_plan(cli->out, bus, &result->guess[0], naming);
    return cli_finish(cli, CLI_DONE);
}

static int
report_nothing(const struct cli *cli, const struct find_result *result)
{
    (void)fputs("No register became a temperature between hand and ice water.\n", cli->err);
    for (size_t i = 0; i < result->move_count && i < MOVES_SHOWN; i++) {
        const struct find_move *move = &result->move[i];
        (void)fprintf(cli->err, "  moved: unit %d, function %d, register %d, from %d to %d\n",
                      move->unit, move->function, move->reg, move->hand, move->ice);
    }
    if (result->move_count > MOVES_SHOWN)
        (void)fprintf(cli->err, "  and %zu more\n", result->move_count - MOVES_SHOWN);
    return cli_fail(
        cli, CLI_NO, "%s",
        result->move_count > 0
            ? "none of what moved fits a way of reading known here; hold the probe longer, "
              "stir "
              "the ice water, and if it stays so, look up these registers in the device's "
              "manual"
            : "nothing moved at all; is it this probe, and is it plugged in? Look up the "
              "registers in the device's manual and give them with --registers");
}

int
find_report(const struct cli *cli, const struct plan_bus *bus, const struct find_result *result,
            const struct find_naming *naming)
{
    if (cli->json)
        return report_json(cli, bus, result, naming);
    if (result->guess_count == 0)
        return report_nothing(cli, result);
    return report_found(cli, bus, result, naming);
}

int
find_report_refused(const struct cli *cli, const char *why)
{
    if (cli->json)
        return print_object(cli, json_pack("{s:b, s:s}", "found", false, "say", why),
                            CLI_REFUSED);
    return cli_fail(cli, CLI_REFUSED, "%s", why);
}

int
find_report_hand(const struct cli *cli, const struct find_bus *bus,
                 const struct find_blocks *blocks, const char *kept)
{
    json_t *units = json_array();
    for (size_t i = 0; i < bus->unit_count; i++)
        (void)json_array_append_new(units, json_integer(bus->units[i]));
    if (cli->json)
        return print_object(cli,
                            json_pack("{s:o, s:o, s:I, s:s}", "line",
                                      line_json(&bus->setup->bus), "units", units, "blocks",
                                      (json_int_t)blocks->count, "kept", kept),
                            CLI_DONE);
    json_decref(units);
    if (!cli->quiet)
        (void)fprintf(cli->out,
                      "Written: %s\nNow put the probe into ice water and stir; then: trivet "
                      "find --phase ice --keep %s\n",
                      kept, kept);
    return cli_finish(cli, CLI_DONE);
}
