/* A Modbus line with a device that can do everything wrong, and the driver that reads it. */
#ifndef SUPPORT_MODBUS_RIG_H
#define SUPPORT_MODBUS_RIG_H

#include "tests/support/check.h"

#include "tests/support/modbus_peer.h"
#include "trivet/clock.h"
#include "trivet/probe_driver.h"
#include "trivet/reading.h"
#include "trivet/sensor.h"
#include "trivet/units.h"

#define TIMEOUT_MS  25
#define MAX_LATE_MS 60
/* Where no reply is late: more than a loaded machine needs. */
#define PATIENT_MS 400

/* Units 5 and 6 with two pairs of registers each: replies to all four requests look alike but
 * for unit and value. */
struct modbus_rig {
    struct peer *peer;
    struct plan plan;
    struct plan_bus bus;
    struct plan_probe probes[8];
    struct driver_request requests[8];
    size_t request_count;
    struct clock clock;
    const struct probe_driver *driver;
    void *state;
    struct driver_error error;
    struct driver_sample samples[DRIVER_REQUEST_PROBES_MAX];
};

extern struct modbus_rig rig; /* of the running test; one thread */

/* Every fault by itself and the quality it must get, on a serial line and on TCP; 0 good, 1 not
 * on this line. */
#define MODBUS_RIG_CAUSES 17
extern const struct modbus_rig_cause {
    enum peer_fault fault;
    uint16_t rtu, tcp;
} modbus_rig_causes[MODBUS_RIG_CAUSES];

int modbus_rig_rtu(void **state); /* cmocka's; the line is open */
int modbus_rig_tcp(void **state);
int modbus_rig_rtu_tcp(void **state);
int modbus_rig_done(void **state);
void modbus_rig_open(void);

/* One exchange with a fault. Returns its quality; a good one must be true. */
uint16_t modbus_rig_exchange(size_t request, enum peer_fault fault, int64_t late_ms);

/* The same until it has the wanted outcome, a few times at most: a loaded machine may let a
 * reply be late that is not meant to be. Values are checked every time. */
void modbus_rig_wants(uint16_t wanted, size_t request, enum peer_fault fault);

#endif
