/* The poll room's own header: a bus thread, and the doors through which it reaches the rest of
 * the house, so that tests can stand in for driver and queue. */
#ifndef POLL_POLL_ROOM_H
#define POLL_POLL_ROOM_H

#include <pthread.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "daemon/poll/poll_schedule.h"
#include "daemon/poll/poll_signal.h"
#include "daemon/poll/poll_switch.h"
#include "trivet/clock.h"
#include "trivet/plan.h"
#include "trivet/poll.h"
#include "trivet/probe_driver.h"
#include "trivet/queue.h"

struct poll_doors {
    const struct probe_driver *(*driver_for)(enum bus_driver kind);
    bool (*post)(void *arg,
                 const struct message *message); /* from any thread; false when full */
    void *arg;
    poll_needed *needed; /* what signals show; NULL: there is never anything */
    void *needed_arg;
};

struct poll_bus {
    const struct plan *plan;
    const struct clock *clock;
    const struct poll_doors *doors;
    const struct probe_driver *driver;
    uint16_t bus;
    int stop_fd; /* borrowed: readable when it is time to end */
    pthread_t thread;

    /* The thread's own from here on. */
    void *state; /* of the driver; NULL: not open */
    bool up, told_up;
    char trouble[240];
    struct driver_request *requests;
    size_t request_count;
    struct poll_slot *slots;
    struct poll_schedule schedule;
    struct driver_sample samples[DRIVER_REQUEST_PROBES_MAX];
    struct poll_switch *switches; /* as in plan->switches; those of other buses are idle */
    struct poll_signal signals[PLAN_SIGNALS_MAX]; /* as in plan->signals; likewise */
};

/* Probes, switches and signals of a bus of the plan. */
size_t poll_bus_load(const struct plan *plan, size_t bus);
/* Prepares a bus; false when memory is short. Undone by poll_bus_done in either case. */
bool poll_bus_init(struct poll_bus *bus, const struct plan *plan, uint16_t index,
                   const struct poll_doors *doors, const struct clock *clock, int stop_fd);
void poll_bus_done(struct poll_bus *bus);
/* The thread's function; arg is the struct poll_bus. */
void *poll_bus_run(void *arg);

/* poll_start with other doors; doors is copied, its arg is borrowed until poll_stop. */
struct poll *poll_start_through(const struct plan *plan, const struct poll_doors *doors,
                                const struct clock *clock, struct driver_error *reterr);

#endif
