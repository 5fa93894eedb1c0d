/* The bus side of `trivet find`. See find_bus.h. */
#include "daemon/cli/find_bus.h"

#include <assert.h>
#include <poll.h>
#include <stdarg.h>
#include <stdlib.h>
#include <string.h>

#include "trivet/reading.h"

/* MODBUS Application Protocol V1.1b3, section 7: a gateway speaks for a unit that is not there.
 */
#define EXCEPTION_NO_FUNCTION    1
#define EXCEPTION_GATEWAY_PATH   10
#define EXCEPTION_GATEWAY_TARGET 11

/* A unit that stays silent this often in a row when asked for registers has no more of them. */
#define SILENCES_MAX 8

#define WATCH_ROUNDS       10
#define WATCH_ROUNDS_LEAST 3

TRIVET_PRINTF(2, 3)
static void
tell(const struct find_bus *bus, const char *format, ...)
{
    if (bus->tell == NULL)
        return;
    va_list args;
    va_start(args, format);
    (void)vfprintf(bus->tell, format, args);
    va_end(args);
    (void)fflush(bus->tell);
}

void
find_bus_wait(const struct find_bus *bus, int64_t until_mono_ms)
{
    int64_t left_ms;
    while ((left_ms = until_mono_ms - clock_mono_ms(&bus->clock)) > 0)
        (void)poll(NULL, 0, left_ms > 1000 ? 1000 : (int)left_ms); /* a signal: looks again */
}

/* ---- one question ---- */

/* Every question goes out here, so that none is faster than the pace. False: the line is gone.
 */
static bool
ask(struct find_bus *bus, const struct register_question *question, struct register_answer *ret,
    struct driver_error *reterr)
{
    if (bus->questions > 0)
        find_bus_wait(bus, bus->asked_ms + bus->setup->pause_ms);
    bus->asked_ms = clock_mono_ms(&bus->clock);
    bus->questions++;
    return register_reader_read(bus->reader, question, ret, reterr);
}

static bool
is_there(const struct register_answer *answer)
{
    return answer->quality == READING_GOOD ||
           (answer->quality == BAD_EXCEPTION && answer->exception != EXCEPTION_GATEWAY_PATH &&
            answer->exception != EXCEPTION_GATEWAY_TARGET);
}

static bool
is_garbage(const struct register_answer *answer)
{
    return answer->quality == BAD_CRC || answer->quality == BAD_FRAME ||
           answer->quality == BAD_WRONG_UNIT;
}

/* A piece of noise gets a second chance. */
static bool
unit_answers(struct find_bus *bus, uint8_t unit, uint8_t function, bool *ret_answers,
             struct driver_error *reterr)
{
    const struct register_question question = {
        .unit = unit, .function = function, .first = bus->setup->ranges[0].first, .count = 1};
    struct register_answer answer;
    bool line = ask(bus, &question, &answer, reterr);
    if (line && is_garbage(&answer))
        line = ask(bus, &question, &answer, reterr);
    bus->garbled = bus->garbled || (line && is_garbage(&answer));
    bus->echo = bus->echo || (line && answer.echo);
    *ret_answers = line && is_there(&answer);
    return line;
}

/* ---- settings and units ---- */

enum find_status
find_bus_open(struct find_bus *bus, struct driver_error *reterr)
{
    switch (register_reader_open(&bus->setup->bus, &bus->clock, &bus->reader, reterr)) {
    case REGISTER_LINE_OPEN:
        return FIND_DONE;
    case REGISTER_LINE_HELD:
        return FIND_HELD;
    case REGISTER_LINE_FAILED:
        return FIND_LOST;
    }
    return FIND_LOST;
}

void
find_bus_close(struct find_bus *bus)
{
    register_reader_close(bus->reader);
    bus->reader = NULL;
}

static size_t
settings_of(const struct find_setup *setup)
{
    return setup->bus.driver == BUS_MODBUS_RTU ? setup->baud_count * setup->parity_count : 1;
}

int64_t
find_bus_longest_ms(const struct find_setup *setup)
{
    int64_t each_ms = setup->bus.timeout_ms + setup->bus.max_late_ms;
    each_ms = each_ms < setup->pause_ms ? setup->pause_ms : each_ms;
    return (int64_t)(settings_of(setup) * setup->unit_count * setup->function_count) * each_ms;
}

static const char *
parity_word(char parity)
{
    return parity == 'E' ? "even" : parity == 'O' ? "odd" : "none";
}

static void
tell_setting(const struct find_bus *bus, uint8_t function)
{
    const struct plan_bus *line = &bus->setup->bus;
    if (line->driver == BUS_MODBUS_RTU)
        tell(bus, "Asking %zu unit number%s at %u baud, parity %s (function %d)\n",
             bus->setup->unit_count, bus->setup->unit_count == 1 ? "" : "s",
             (unsigned)line->baud_bps, parity_word(line->parity), function);
    else
        tell(bus, "Asking %zu unit number%s at %s, port %d (function %d)\n",
             bus->setup->unit_count, bus->setup->unit_count == 1 ? "" : "s", line->host,
             line->port, function);
}

static enum find_status
ask_units(struct find_bus *bus, uint8_t function, struct driver_error *reterr)
{
    tell_setting(bus, function);
    for (size_t i = 0; i < bus->setup->unit_count; i++) {
        bool answers;
        if (!unit_answers(bus, bus->setup->units[i], function, &answers, reterr))
            return FIND_LOST;
        if (!answers)
            continue;
        tell(bus, "  unit %d answers\n", bus->setup->units[i]);
        bus->units[bus->unit_count++] = bus->setup->units[i];
    }
    return bus->unit_count > 0 ? FIND_DONE : FIND_NOTHING;
}

/* The highest unit number that nobody asked for; 0 when all were. */
static uint8_t
unasked(const struct find_setup *setup)
{
    for (int unit = 247; unit > 0; unit--)
        if (memchr(setup->units, unit, setup->unit_count) == NULL)
            return (uint8_t)unit;
    return 0;
}

/* Many a device on TCP answers to whatever unit number it is called by: it is one device. */
static enum find_status
keep_one_of_all(struct find_bus *bus, uint8_t function, struct driver_error *reterr)
{
    const uint8_t other = unasked(bus->setup);
    bool answers = false;
    if (bus->setup->bus.driver != BUS_MODBUS_TCP || bus->unit_count < 2 ||
        bus->unit_count < bus->setup->unit_count || other == 0)
        return FIND_DONE;
    if (!unit_answers(bus, other, function, &answers, reterr))
        return FIND_LOST;
    if (answers) {
        bus->unit_count = 1;
        tell(bus, "It answers to every unit number, so it is one device; taking %d.\n",
             bus->units[0]);
    }
    return FIND_DONE;
}

static enum find_status
try_setting(struct find_bus *bus, uint8_t function, struct driver_error *reterr)
{
    enum find_status status = find_bus_open(bus, reterr);
    if (status != FIND_DONE)
        return status;
    status = ask_units(bus, function, reterr);
    if (status == FIND_DONE)
        status = keep_one_of_all(bus, function, reterr);
    if (status != FIND_DONE)
        find_bus_close(bus);
    return status;
}

static void
say_nothing(const struct find_bus *bus, struct driver_error *reterr)
{
    const bool serial = bus->setup->bus.driver == BUS_MODBUS_RTU;
    const char *why =
        "check power, address and unit numbers; a plain serial gateway wants --framing rtu";
    if (bus->echo)
        why = "our own questions came back: switch off the echo of the adapter, or check "
              "whether two wires touch";
    else if (bus->garbled)
        why = "something came that was no reply: try other --bauds and --parities, check "
              "termination, and that no unit number is used twice";
    else if (serial)
        why = "check power, swap the two data wires, try more --units, --bauds and --parities";
    (void)snprintf(reterr->text, sizeof reterr->text, "nobody answers; %s", why);
}

enum find_status
find_bus_search(struct find_bus *bus, struct driver_error *reterr)
{
    struct find_setup *setup = bus->setup;
    const size_t settings = settings_of(setup);
    for (size_t f = 0; f < setup->function_count; f++)
        for (size_t i = 0; i < settings; i++) {
            if (setup->bus.driver == BUS_MODBUS_RTU) {
                setup->bus.baud_bps = setup->bauds[i / setup->parity_count];
                setup->bus.parity = setup->parities[i % setup->parity_count];
            }
            const enum find_status status = try_setting(bus, setup->functions[f], reterr);
            if (status != FIND_NOTHING)
                return status;
        }
    say_nothing(bus, reterr);
    return FIND_NOTHING;
}

/* ---- registers ---- */

struct find_block *
find_blocks_add(struct find_blocks *blocks)
{
    if (blocks->count == blocks->room) {
        const size_t room = blocks->room == 0 ? 16 : blocks->room * 2;
        struct find_block *bigger = realloc(blocks->block, room * sizeof *bigger);
        if (bigger == NULL)
            return NULL;
        blocks->block = bigger;
        blocks->room = room;
    }
    struct find_block *block = &blocks->block[blocks->count++];
    memset(block, 0, sizeof *block);
    return block;
}

void
find_blocks_done(struct find_blocks *blocks)
{
    free(blocks->block);
    *blocks = (struct find_blocks){0};
}

/* Registers still to be asked for, the next on top. A block and its halves, its halves' halves,
 * ... : never more than one of each size waits beside the one in hand. */
struct spans {
    struct {
        uint32_t first, count;
    } span[8];
    size_t count;
};

static void
push(struct spans *spans, uint32_t first, uint32_t count)
{
    assert(spans->count < sizeof spans->span / sizeof *spans->span);
    spans->span[spans->count].first = first;
    spans->span[spans->count++].count = count;
}

struct listing {
    struct find_bus *bus;
    struct find_blocks *blocks;
    uint8_t unit, function;
    int silences; /* in a row */
    bool no_more; /* of this unit by this function */
    size_t from;  /* its first block */
};

static enum find_status
note_block(struct listing *listing, uint32_t first, uint32_t count, bool seam)
{
    struct find_block *block = find_blocks_add(listing->blocks);
    if (block == NULL)
        return FIND_NO_MEMORY;
    block->unit = listing->unit;
    block->function = listing->function;
    block->first = (uint16_t)first;
    block->count = (uint16_t)count;
    block->seam = seam;
    return FIND_DONE;
}

static enum find_status
ask_span(struct listing *listing, uint32_t first, uint32_t count, bool *ret_has,
         struct driver_error *reterr)
{
    const struct register_question question = {.unit = listing->unit,
                                               .function = listing->function,
                                               .first = (uint16_t)first,
                                               .count = (uint16_t)count};
    struct register_answer answer;
    *ret_has = false;
    if (!ask(listing->bus, &question, &answer, reterr))
        return FIND_LOST;
    if (is_garbage(&answer) && !ask(listing->bus, &question, &answer, reterr))
        return FIND_LOST;
    const bool answered = answer.quality == READING_GOOD || answer.quality == BAD_EXCEPTION;
    listing->silences = answered ? 0 : listing->silences + 1;
    listing->no_more =
        listing->silences >= SILENCES_MAX ||
        (answer.quality == BAD_EXCEPTION && answer.exception == EXCEPTION_NO_FUNCTION);
    *ret_has = answer.quality == READING_GOOD;
    return FIND_DONE;
}

/* One block of the range; a device refuses the whole of it for one register that it has not. */
static enum find_status
list_block(struct listing *listing, uint32_t first, uint32_t count, struct driver_error *reterr)
{
    struct spans spans = {.count = 0};
    push(&spans, first, count);
    while (spans.count > 0 && !listing->no_more) {
        spans.count--;
        const uint32_t at = spans.span[spans.count].first;
        const uint32_t asked = spans.span[spans.count].count;
        bool has;
        enum find_status status = ask_span(listing, at, asked, &has, reterr);
        if (status == FIND_DONE && has)
            status = note_block(listing, at, asked, false);
        if (status != FIND_DONE)
            return status;
        if (!has && asked > 1) {
            push(&spans, at + asked / 2, asked - asked / 2);
            push(&spans, at, asked / 2);
        }
    }
    return FIND_DONE;
}

/* A value of two registers may lie across the border of two blocks. */
static enum find_status
list_seams(struct listing *listing, struct driver_error *reterr)
{
    const size_t to = listing->blocks->count;
    listing->no_more = false;
    for (size_t i = listing->from; i + 1 < to && !listing->no_more; i++) {
        const struct find_block *a = &listing->blocks->block[i];
        const uint32_t border = (uint32_t)a->first + a->count;
        bool has;
        if (border != listing->blocks->block[i + 1].first)
            continue;
        enum find_status status = ask_span(listing, border - 1, 2, &has, reterr);
        if (status == FIND_DONE && has)
            status = note_block(listing, border - 1, 2, true);
        if (status != FIND_DONE)
            return status;
    }
    return FIND_DONE;
}

static enum find_status
list_unit(struct listing *listing, struct driver_error *reterr)
{
    const struct find_setup *setup = listing->bus->setup;
    enum find_status status = FIND_DONE;
    listing->silences = 0;
    listing->no_more = false;
    listing->from = listing->blocks->count;
    for (size_t r = 0; r < setup->range_count && status == FIND_DONE; r++)
        for (uint32_t at = setup->ranges[r].first;
             at <= setup->ranges[r].last && status == FIND_DONE && !listing->no_more;
             at += FIND_BLOCK_MAX) {
            const uint32_t left = setup->ranges[r].last - at + 1U;
            status =
                list_block(listing, at, left < FIND_BLOCK_MAX ? left : FIND_BLOCK_MAX, reterr);
        }
    if (status == FIND_DONE)
        status = list_seams(listing, reterr);
    return status;
}

static size_t
registers_since(const struct find_blocks *blocks, size_t from)
{
    size_t registers = 0;
    for (size_t i = from; i < blocks->count; i++)
        registers += blocks->block[i].seam ? 0 : blocks->block[i].count;
    return registers;
}

enum find_status
find_bus_list(struct find_bus *bus, struct find_blocks *blocks, struct driver_error *reterr)
{
    for (size_t u = 0; u < bus->unit_count; u++)
        for (size_t f = 0; f < bus->setup->function_count; f++) {
            struct listing listing = {.bus = bus,
                                      .blocks = blocks,
                                      .unit = bus->units[u],
                                      .function = bus->setup->functions[f]};
            const enum find_status status = list_unit(&listing, reterr);
            if (status != FIND_DONE)
                return status;
            tell(bus, "  unit %d, function %d: %zu registers\n", listing.unit, listing.function,
                 registers_since(blocks, listing.from));
        }
    if (blocks->count > 0)
        return FIND_DONE;
    (void)snprintf(reterr->text, sizeof reterr->text,
                   "what answers has none of these registers; look up the registers in the "
                   "device's manual and give them with --registers, as --registers 256-287");
    return FIND_NOTHING;
}

/* ---- rounds ---- */

static bool
read_block(struct find_bus *bus, struct find_block *block, enum find_phase phase,
           struct driver_error *reterr)
{
    const struct register_question question = {.unit = block->unit,
                                               .function = block->function,
                                               .first = block->first,
                                               .count = block->count};
    struct register_answer answer;
    if (!ask(bus, &question, &answer, reterr))
        return false;
    if (answer.quality == READING_GOOD)
        memcpy(block->word[phase][block->rounds[phase]++], answer.registers,
               block->count * sizeof *answer.registers);
    return true;
}

enum find_status
find_bus_watch(struct find_bus *bus, struct find_blocks *blocks, enum find_phase phase,
               int64_t for_ms, struct driver_error *reterr)
{
    const int64_t began_ms = clock_mono_ms(&bus->clock);
    const int64_t each_ms = for_ms / WATCH_ROUNDS;
    size_t answered = 0;
    for (size_t i = 0; i < blocks->count; i++)
        blocks->block[i].rounds[phase] = 0;
    for (int64_t round = 0; round < WATCH_ROUNDS; round++) {
        find_bus_wait(bus, began_ms + round * each_ms);
        if (round >= WATCH_ROUNDS_LEAST && clock_mono_ms(&bus->clock) - began_ms > for_ms)
            break;
        for (size_t i = 0; i < blocks->count; i++)
            if (!read_block(bus, &blocks->block[i], phase, reterr))
                return FIND_LOST;
    }
    for (size_t i = 0; i < blocks->count; i++)
        answered += blocks->block[i].rounds[phase];
    if (answered > 0)
        return FIND_DONE;
    (void)snprintf(reterr->text, sizeof reterr->text,
                   "the units that answered before do not answer any more; check their power "
                   "and wiring");
    return FIND_NOTHING;
}
