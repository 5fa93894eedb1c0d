/* Asks the devices on a Modbus bus for registers, one question at a time and without a plan:
 * how `trivet find` looks for a probe. Implemented in drivers/, with the exchange and the
 * arithmetic that the daemon uses, so that what was found is what will be read.
 *
 * Reads only: functions 3 and 4. One reader belongs to one thread. Nothing here logs, retries
 * or keeps a pace: that is the caller's. */
#ifndef TRIVET_REGISTER_READER_H
#define TRIVET_REGISTER_READER_H

#include <stdbool.h>
#include <stdint.h>

#include "trivet/clock.h"
#include "trivet/log.h" /* TRIVET_MUST_USE */
#include "trivet/plan.h"
#include "trivet/probe_driver.h"

/* MODBUS Application Protocol V1.1b3, 6.3 and 6.4. */
#define REGISTER_READ_MAX 125

struct register_reader;

enum register_line {
    REGISTER_LINE_OPEN,
    REGISTER_LINE_HELD,  /* a serial line that another program has: the daemon, as a rule */
    REGISTER_LINE_FAILED /* it cannot be opened or connected to */
};

struct register_question {
    uint8_t unit;
    uint8_t function; /* 3 or 4 */
    uint16_t first;   /* protocol address, from 0 */
    uint16_t count;   /* 1 to REGISTER_READ_MAX */
};

struct register_answer {
    uint16_t quality;  /* READING_GOOD, BAD_EXCEPTION or another cause (reading.h) */
    uint8_t exception; /* its code, with BAD_EXCEPTION */
    bool echo;         /* our own question came back */
    uint16_t registers[REGISTER_READ_MAX];
};

/* bus: of one of the three Modbus drivers. bus, clock: borrowed until close; bus->id names the
 * bus in messages. Not open: *ret is untouched and reterr says why. Opening a held line sends
 * nothing and disturbs nobody. */
TRIVET_MUST_USE enum register_line register_reader_open(const struct plan_bus *bus,
                                                        const struct clock *clock,
                                                        struct register_reader **ret,
                                                        struct driver_error *reterr);

/* Returns within the bus's time-out plus its quiet time. False when the line itself is gone:
 * close it. reterr is written whenever the quality is not good. */
TRIVET_MUST_USE bool register_reader_read(struct register_reader *reader,
                                          const struct register_question *question,
                                          struct register_answer *ret,
                                          struct driver_error *reterr);

void register_reader_close(struct register_reader *reader); /* accepts NULL */

/* ---- pure ---- */

/* Registers that a value of the type takes. */
uint16_t register_type_count(enum register_type type);

/* What the daemon makes of these registers of a probe: a quality and, when that is good,
 * thousandths of a degree Celsius. */
uint16_t register_decode(const struct plan_probe *probe, const uint16_t *registers,
                         int32_t *ret_temp_mC);

#endif
