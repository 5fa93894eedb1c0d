/* A search in two runs. See find_keep.h.
 *
 * One JSON object: the line with its setting, and the blocks with what they held in the hand.
 * What is read back is checked as anything from outside. */
#include "daemon/cli/find_keep.h"

#include <jansson.h>
#include <stdio.h>
#include <string.h>

#include "daemon/cli/find_setup.h"
#include "daemon/cli/find_words.h"
#include "daemon/cli/outfile.h"

#define FORMAT     1
#define BLOCKS_MAX 100000

/* ---- writing ---- */

static json_t *
rounds_json(const struct find_block *block)
{
    json_t *rounds = json_array();
    for (size_t i = 0; i < block->rounds[FIND_HAND]; i++) {
        json_t *round = json_array();
        for (size_t at = 0; at < block->count; at++)
            (void)json_array_append_new(round, json_integer(block->word[FIND_HAND][i][at]));
        (void)json_array_append_new(rounds, round);
    }
    return rounds;
}

static json_t *
line_json(const struct plan_bus *bus)
{
    json_t *line = json_pack("{s:s, s:s, s:i, s:i}", "id", bus->id, "driver",
                             find_words_driver(bus->driver), "timeout_ms", bus->timeout_ms,
                             "longest_delay_ms", bus->max_late_ms);
    json_t *more =
        bus->driver == BUS_MODBUS_RTU
            ? json_pack("{s:b, s:s, s:i, s:s, s:i}", "kernel_direction", bus->kernel_direction,
                        "device", bus->device, "baud", (int)bus->baud_bps, "parity",
                        find_words_parity(bus->parity), "stop_bits", bus->stop_bits)
            : json_pack("{s:s, s:i}", "host", bus->host, "port", bus->port);
    (void)json_object_update(line, more);
    json_decref(more);
    return line;
}

static json_t *
whole_json(const struct find_setup *setup, const struct find_blocks *blocks)
{
    json_t *list = json_array();
    for (size_t i = 0; i < blocks->count; i++) {
        const struct find_block *block = &blocks->block[i];
        json_t *item = json_pack("{s:i, s:i, s:i, s:i, s:b}", "unit", block->unit, "function",
                                 block->function, "first", block->first, "count", block->count,
                                 "seam", block->seam);
        (void)json_object_set_new(item, "hand", rounds_json(block));
        (void)json_array_append_new(list, item);
    }
    json_t *whole =
        json_pack("{s:i, s:I}", "trivet_find", FORMAT, "pause_ms", (json_int_t)setup->pause_ms);
    (void)json_object_set_new(whole, "line", line_json(&setup->bus));
    (void)json_object_set_new(whole, "blocks", list);
    return whole;
}

bool
find_keep_write(const char *path, const struct find_setup *setup,
                const struct find_blocks *blocks, char *reterr, size_t err_size)
{
    struct outfile file;
    json_t *whole = whole_json(setup, blocks);
    if (whole == NULL) {
        (void)snprintf(reterr, err_size, "no memory for what was found");
        return false;
    }
    bool kept = outfile_open(&file, path, reterr, err_size);
    if (kept && (json_dumpf(whole, file.to, JSON_COMPACT) != 0 || fputc('\n', file.to) < 0)) {
        outfile_drop(&file);
        (void)snprintf(reterr, err_size, "%s could not be written: is its disk full?", path);
        kept = false;
    } else if (kept) {
        kept = outfile_keep(&file, reterr, err_size);
    }
    json_decref(whole);
    return kept;
}

/* ---- reading ---- */

static bool
number(const json_t *object, const char *key, json_int_t least, json_int_t most,
       json_int_t *ret)
{
    const json_t *value = json_object_get(object, key);
    *ret = json_integer_value(value);
    return json_is_integer(value) && *ret >= least && *ret <= most;
}

static const char *
text(const json_t *object, const char *key)
{
    const char *value = json_string_value(json_object_get(object, key));
    return value == NULL ? "" : value;
}

static bool
read_serial(const json_t *line, struct find_setup *setup)
{
    char why[FIND_WHY_MAX], baud[16];
    json_int_t baud_bps, stop_bits;
    if (!number(line, "baud", 1, 1000000, &baud_bps) ||
        !number(line, "stop_bits", 1, 2, &stop_bits))
        return false;
    (void)snprintf(baud, sizeof baud, "%d", (int)baud_bps);
    if (!find_setup_device(setup, text(line, "device"), why) ||
        !find_setup_bauds(setup, baud, why) ||
        !find_setup_parities(setup, text(line, "parity"), why))
        return false;
    setup->bus.baud_bps = setup->bauds[0];
    setup->bus.parity = setup->parities[0];
    setup->bus.stop_bits = (uint8_t)stop_bits;
    setup->bus.kernel_direction = json_is_true(json_object_get(line, "kernel_direction"));
    return true;
}

static bool
read_line(const json_t *line, struct find_setup *setup)
{
    char why[FIND_WHY_MAX];
    json_int_t timeout_ms, late_ms, port;
    if (!find_id_good(text(line, "id")) ||
        !number(line, "timeout_ms", 20, 10000, &timeout_ms) ||
        !number(line, "longest_delay_ms", 0, 10000, &late_ms))
        return false;
    (void)snprintf(setup->bus.id, sizeof setup->bus.id, "%s", text(line, "id"));
    setup->bus.timeout_ms = (int32_t)timeout_ms;
    setup->bus.max_late_ms = (int32_t)late_ms;
    if (strcmp(text(line, "driver"), find_words_driver(BUS_MODBUS_RTU)) == 0)
        return read_serial(line, setup);
    if (!number(line, "port", 1, 65535, &port) ||
        !find_setup_host(setup, text(line, "host"), why))
        return false;
    setup->bus.port = (uint16_t)port;
    if (strcmp(text(line, "driver"), find_words_driver(BUS_MODBUS_RTU_TCP)) == 0)
        setup->bus.driver = BUS_MODBUS_RTU_TCP;
    return true;
}

static bool
read_rounds(const json_t *rounds, struct find_block *block)
{
    if (!json_is_array(rounds) || json_array_size(rounds) > FIND_ROUNDS_MAX)
        return false;
    block->rounds[FIND_HAND] = json_array_size(rounds);
    for (size_t i = 0; i < block->rounds[FIND_HAND]; i++) {
        const json_t *round = json_array_get(rounds, i);
        if (json_array_size(round) != block->count)
            return false;
        for (size_t at = 0; at < block->count; at++) {
            const json_t *word = json_array_get(round, at);
            if (!json_is_integer(word) || json_integer_value(word) < 0 ||
                json_integer_value(word) > 65535)
                return false;
            block->word[FIND_HAND][i][at] = (uint16_t)json_integer_value(word);
        }
    }
    return true;
}

static bool
read_block(const json_t *item, struct find_blocks *blocks)
{
    json_int_t unit, function, first, count;
    if (!number(item, "unit", 0, 255, &unit) || !number(item, "function", 3, 4, &function) ||
        !number(item, "first", 0, 65535, &first) ||
        !number(item, "count", 1, FIND_BLOCK_MAX, &count) || first + count > 65536)
        return false;
    struct find_block *block = find_blocks_add(blocks);
    if (block == NULL)
        return false;
    block->unit = (uint8_t)unit;
    block->function = (uint8_t)function;
    block->first = (uint16_t)first;
    block->count = (uint16_t)count;
    block->seam = json_is_true(json_object_get(item, "seam"));
    return read_rounds(json_object_get(item, "hand"), block);
}

static bool
read_whole(const json_t *whole, struct find_setup *setup, struct find_blocks *blocks)
{
    const json_t *list = json_object_get(whole, "blocks");
    json_int_t format, pause_ms;
    if (!number(whole, "trivet_find", FORMAT, FORMAT, &format) ||
        !number(whole, "pause_ms", 20, 10000, &pause_ms) ||
        !read_line(json_object_get(whole, "line"), setup) || json_array_size(list) == 0 ||
        json_array_size(list) > BLOCKS_MAX)
        return false;
    setup->pause_ms = pause_ms;
    for (size_t i = 0; i < json_array_size(list); i++)
        if (!read_block(json_array_get(list, i), blocks))
            return false;
    return true;
}

bool
find_keep_read(const char *path, struct find_setup *setup, struct find_blocks *blocks,
               char *reterr, size_t err_size)
{
    json_error_t where;
    json_t *whole = json_load_file(path, JSON_REJECT_DUPLICATES, &where);
    if (whole == NULL) {
        (void)snprintf(reterr, err_size,
                       "%.200s cannot be read (%.80s): it is what `trivet find --phase hand "
                       "--keep FILE` writes",
                       path, where.text);
        return false;
    }
    const bool good = read_whole(whole, setup, blocks);
    json_decref(whole);
    if (!good)
        (void)snprintf(reterr, err_size,
                       "%.200s is not what `trivet find --phase hand --keep FILE` of this "
                       "version writes: do that run again",
                       path);
    return good;
}
