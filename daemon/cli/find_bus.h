/* The bus side of `trivet find`: at which speed and parity units answer, which registers they
 * have, and what these hold, round by round.
 *
 * Owns the line between find_bus_open_* and find_bus_close; one thread. Reads only, one
 * question at a time, never faster than the pace asked for. Must not decide what registers mean
 * (find_guess.h) or speak to a person other than to tell how far it is. */
#ifndef CLI_FIND_BUS_H
#define CLI_FIND_BUS_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>

#include "daemon/cli/find_guess.h"
#include "trivet/clock.h"
#include "trivet/log.h"
#include "trivet/plan.h"
#include "trivet/probe_driver.h"
#include "trivet/register_reader.h"

#define FIND_UNITS_MAX     256
#define FIND_BAUDS_MAX     13
#define FIND_PARITIES_MAX  3
#define FIND_RANGES_MAX    8
#define FIND_REGISTERS_MAX 1024 /* asked for of one unit by one function */
#define FIND_HOST_MAX      255
#define FIND_PATH_MAX      255

struct find_range {
    uint16_t first, last;
};

/* What to search. Texts of bus point into text. */
struct find_setup {
    struct plan_bus bus; /* baud and parity are those in use at the moment */
    char device[FIND_PATH_MAX + 1], host[FIND_HOST_MAX + 1];
    uint8_t units[FIND_UNITS_MAX];
    size_t unit_count;
    uint32_t bauds[FIND_BAUDS_MAX];
    size_t baud_count;
    char parities[FIND_PARITIES_MAX];
    size_t parity_count;
    struct find_range ranges[FIND_RANGES_MAX];
    size_t range_count;
    uint8_t functions[2];
    size_t function_count;
    int64_t pause_ms; /* from one question to the next, at least */
};

struct find_blocks {
    struct find_block *block;
    size_t count, room;
};

struct find_bus {
    struct find_setup *setup; /* borrowed */
    struct clock clock;
    FILE *tell; /* borrowed; NULL = silent */
    struct register_reader *reader;
    int64_t asked_ms; /* when the last question went out */
    uint64_t questions;
    bool garbled, echo;            /* while searching: something came that was no reply */
    uint8_t units[FIND_UNITS_MAX]; /* that answer */
    size_t unit_count;
};

enum find_status {
    FIND_DONE,
    FIND_NOTHING, /* nobody answers */
    FIND_HELD,    /* another program has the line */
    FIND_LOST,    /* the line cannot be opened, or is gone */
    FIND_NO_MEMORY
};

/* Longest time that a search can take when nobody answers. */
int64_t find_bus_longest_ms(const struct find_setup *setup);

/* Opens the line setting by setting until units answer; bus->units are those that do, and the
 * setup's bus has the setting. Anything but FIND_DONE: reterr, and the line is closed. */
TRIVET_MUST_USE enum find_status find_bus_search(struct find_bus *bus,
                                                 struct driver_error *reterr);

/* Opens the line as setup->bus has it: for the second of two runs. */
TRIVET_MUST_USE enum find_status find_bus_open(struct find_bus *bus,
                                               struct driver_error *reterr);

/* Which registers the units have: adds blocks without rounds. */
TRIVET_MUST_USE enum find_status find_bus_list(struct find_bus *bus, struct find_blocks *blocks,
                                               struct driver_error *reterr);

/* Reads the blocks again and again for that long, three times at least. Rounds of the phase
 * begin anew. FIND_NOTHING: no block answered even once. */
TRIVET_MUST_USE enum find_status find_bus_watch(struct find_bus *bus,
                                                struct find_blocks *blocks,
                                                enum find_phase phase, int64_t for_ms,
                                                struct driver_error *reterr);

void find_bus_wait(const struct find_bus *bus, int64_t until_mono_ms);
void find_bus_close(struct find_bus *bus);

/* A block without rounds, NULL when out of memory. */
struct find_block *find_blocks_add(struct find_blocks *blocks);
void find_blocks_done(struct find_blocks *blocks);

#endif
