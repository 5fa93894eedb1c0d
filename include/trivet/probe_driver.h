/* One way of reaching probes. Several probes share a line, so what is opened is the bus.
 *
 * Contract, in words: a driver's functions return within the bus's time-out plus its quiet
 * time, twice that where a question has to be put again, or, where the kernel itself talks to
 * the device, when the kernel's driver does; they never exit, log, retry for ever, read a clock
 * other than the one handed in, or allocate after open. They know nothing of limits. A reading
 * is published only after every check of the frame and the value passed; a failure says which.
 * The poll room owns the thread, the schedule, the stamps, back-off and reopening; one driver
 * state belongs to one thread. A program's main passes drivers to the poll room through the
 * table below. */
#ifndef TRIVET_PROBE_DRIVER_H
#define TRIVET_PROBE_DRIVER_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "trivet/clock.h"
#include "trivet/plan.h"
#include "trivet/reading.h"

/* Probes, or switches, that one exchange with a device reads. */
#define DRIVER_REQUEST_PROBES_MAX 32

struct driver_request {
    uint16_t probes[DRIVER_REQUEST_PROBES_MAX]; /* indices into plan->probes, or switches */
    uint16_t count;
    bool is_switches; /* probes[] are switches; first_reg and reg_count count bits */
    bool is_signal;   /* probes[0] is a signal to be set, count is 0: for `set`, not `read` */
    bool is_on;       /* what its coil is to be */
    uint8_t unit;
    uint8_t function;
    uint16_t first_reg, reg_count;
    int32_t every_ms; /* all probes of a request share it */
    int32_t apart_ms; /* from its end to its next beginning; sooner costs the line more */
};

struct driver_sample {
    int32_t temp_mC; /* TEMP_NONE unless quality is READING_GOOD, and of switches */
    uint16_t quality;
    bool is_active; /* of a switch, when quality is READING_GOOD: open, or pressed */
};

/* What became of a coil that was set. */
struct driver_coil {
    uint16_t quality; /* of the exchanges: READING_GOOD or the cause */
    bool is_on;       /* read back, when quality is READING_GOOD */
};

struct driver_error {
    char text[240]; /* what, where (bus, address), what to check */
};

struct probe_driver {
    const char *name;

    /* Groups the bus's probes and switches into as few exchanges as the device allows; returns
     * the count (<= max), each of them in exactly one. Pure. */
    size_t (*requests)(const struct plan *plan, uint16_t bus, struct driver_request *ret,
                       size_t max);

    /* Opens the line. *ret_state is the driver's, until close. False with reterr when it cannot
     * be opened; nothing is left open then. */
    bool (*open)(const struct plan *plan, uint16_t bus, const struct clock *clock,
                 void **ret_state, struct driver_error *reterr);

    /* One exchange: fills ret_samples[0..request->count). Returns false when the line itself is
     * gone and must be closed and opened again (samples are then all bad with the cause, and
     * reterr says why). After a failed exchange on a line that is still there reterr says why
     * as well. */
    bool (*read)(void *state, const struct driver_request *request,
                 struct driver_sample *ret_samples, struct driver_error *reterr);

    void (*close)(void *state); /* accepts NULL */

    /* Sets the coil of a signal of the plan and reads it back: the one thing that is written to
     * a device. Returns and fails as `read` does; a coil that reads back otherwise is no
     * failure of the exchange. NULL: there are no coils on such a bus. */
    bool (*set)(void *state, const struct plan_signal *signal, bool on, struct driver_coil *ret,
                struct driver_error *reterr);
};

/* The driver of a bus. */
const struct probe_driver *probe_driver_for(enum bus_driver kind);

#endif
