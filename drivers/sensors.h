/* What the drivers share of probes with a sensor: their device gives mV or ohm, and we make
 * degrees of it.
 *
 * A driver reads a probe's number as a signal, judges everything that may be wrong with it, and
 * hands the whole request over. Probes whose device gives degrees pass as they are; those at
 * the terminals of a thermocouple are remembered. Owned by one driver state, used by its
 * thread; no I/O, no clock. */
#ifndef DRIVERS_SENSORS_H
#define DRIVERS_SENSORS_H

#include <stdbool.h>
#include <stdint.h>

#include "trivet/plan.h"
#include "trivet/probe_driver.h"

struct driver_sensors;

/* What a device gave for a probe. */
struct driver_signal {
    int64_t micro;         /* millionths of the unit */
    enum signal_unit unit; /* SIGNAL_TEMP: the sample is final already */
};

/* NULL with reterr when memory is short or a sensor of the bus cannot be used. Freed by
 * driver_sensors_free, which accepts NULL. */
struct driver_sensors *driver_sensors_new(const struct plan *plan, uint16_t bus,
                                          struct driver_error *reterr);
void driver_sensors_free(struct driver_sensors *sensors);

/* Turns the signals of the request's good samples into temperatures. A thermocouple gets its
 * cold junction from this exchange or, at now_ms no older than its probe is trusted (the
 * plan's largest spacing of two readings), from an earlier one; without it there is no reading.
 * What is bad already stays as it is. */
void driver_sensors_apply(struct driver_sensors *sensors, const struct driver_request *request,
                          const struct driver_signal *signals, int64_t now_ms,
                          struct driver_sample *samples);

#endif
