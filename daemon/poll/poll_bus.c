/* The life of one bus thread: does what the schedule says, posts what came of it.
 *
 * Owns the driver's state. Must not judge readings, log, or hold up other buses. A reading that
 * finds the queue full is lost (the queue counts it); a change of the line is offered again
 * until it is taken. */
#include "daemon/poll/poll_room.h"

#include <assert.h>
#include <limits.h>
#include <poll.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/prctl.h>

#include "trivet/reading.h"
#include "trivet/units.h"

size_t
poll_bus_load(const struct plan *plan, size_t bus)
{
    size_t count = 0;
    for (size_t i = 0; i < plan->probe_count; i++)
        count += plan->probes[i].bus == bus;
    for (size_t i = 0; i < plan->switch_count; i++)
        count += plan->switches[i].bus == bus;
    for (size_t i = 0; i < plan->signal_count; i++)
        count += plan->signals[i].bus == bus;
    return count;
}

static bool
is_cold_junction(const struct plan *plan, uint16_t probe)
{
    for (size_t i = 0; i < plan->probe_count; i++)
        if (plan->probes[i].sensor != NULL && plan->probes[i].cold_probe == probe)
            return true;
    return false;
}

/* Moves the probes at terminals to the front of the request; returns how many there are. */
static uint16_t
terminals_to_front(const struct plan *plan, struct driver_request *request)
{
    uint16_t front = 0;
    for (uint16_t i = 0; !request->is_switches && i < request->count; i++) {
        const uint16_t probe = request->probes[i];
        if (!is_cold_junction(plan, probe))
            continue;
        memmove(&request->probes[front + 1], &request->probes[front],
                (size_t)(i - front) * sizeof *request->probes);
        request->probes[front++] = probe;
    }
    return front;
}

/* What is due at the same time is asked in this order: a thermocouple finds the temperature of
 * its terminals from its first reading on. What comes with one reply is told in this order: it
 * is known what the terminals are worth when what was made with them is judged (E250). */
static void
cold_junctions_first(struct poll_bus *bus)
{
    size_t front = 0;
    for (size_t i = 0; i < bus->request_count; i++) {
        struct driver_request request = bus->requests[i];
        if (terminals_to_front(bus->plan, &request) == 0)
            continue;
        memmove(&bus->requests[front + 1], &bus->requests[front],
                (i - front) * sizeof *bus->requests);
        bus->requests[front++] = request;
    }
}

/* Each signal is looked at by itself, after what is read. */
static void
add_signals(struct poll_bus *bus)
{
    for (uint16_t i = 0; i < bus->plan->signal_count; i++) {
        poll_signal_init(&bus->signals[i]);
        if (bus->plan->signals[i].bus == bus->bus)
            bus->requests[bus->request_count++] =
                (struct driver_request){.probes = {i},
                                        .is_signal = true,
                                        .unit = bus->plan->signals[i].unit,
                                        .every_ms = POLL_SIGNAL_LOOK_MS};
    }
}

bool
poll_bus_init(struct poll_bus *bus, const struct plan *plan, uint16_t index,
              const struct poll_doors *doors, const struct clock *clock, int stop_fd)
{
    memset(bus, 0, sizeof *bus);
    bus->plan = plan;
    bus->clock = clock;
    bus->doors = doors;
    bus->bus = index;
    bus->stop_fd = stop_fd;
    bus->driver = doors->driver_for(plan->buses[index].driver);
    bus->up = bus->told_up = true; /* a line is presumed well until it is not */
    /* Requests: each has a probe or switch of its own. */
    const size_t most = poll_bus_load(plan, index);
    assert(most > 0); /* others are left alone */
    bus->requests = calloc(most, sizeof *bus->requests);
    bus->slots = calloc(most, sizeof *bus->slots);
    bus->switches = calloc(plan->switch_count + 1, sizeof *bus->switches);
    if (bus->driver == NULL || bus->requests == NULL || bus->slots == NULL ||
        bus->switches == NULL)
        return false;
    for (size_t i = 0; i < plan->switch_count; i++)
        poll_switch_init(&bus->switches[i]);
    bus->request_count = bus->driver->requests(plan, index, bus->requests, most);
    cold_junctions_first(bus);
    add_signals(bus);
    return true;
}

void
poll_bus_done(struct poll_bus *bus)
{
    free(bus->requests);
    free(bus->slots);
    free(bus->switches);
    bus->switches = NULL;
    bus->requests = NULL;
    bus->slots = NULL;
}

static int64_t
now_ms(const struct poll_bus *bus)
{
    return clock_mono_ms(bus->clock);
}

static enum switch_state
seen_state(const struct driver_sample *sample)
{
    if (!reading_is_good(sample->quality))
        return SWITCH_UNKNOWN;
    return sample->is_active ? SWITCH_ACTIVE : SWITCH_RESTS;
}

/* Only changes are told; see post_switches. */
static void
take_switches(struct poll_bus *bus, const struct driver_request *request, int64_t born_ms)
{
    for (uint16_t i = 0; i < request->count; i++)
        poll_switch_take(&bus->switches[request->probes[i]], seen_state(&bus->samples[i]),
                         bus->samples[i].quality, born_ms);
}

static void
post_readings(struct poll_bus *bus, const struct driver_request *request, int64_t born_ms)
{
    if (request->is_switches) {
        take_switches(bus, request, born_ms);
        return;
    }
    struct message message = {.kind = MESSAGE_READING, .born_ms = born_ms};
    for (uint16_t i = 0; i < request->count; i++) {
        message.is.reading.probe = bus->plan->probes[request->probes[i]].number;
        message.is.reading.quality = bus->samples[i].quality;
        message.is.reading.temp_mC = bus->samples[i].temp_mC;
        (void)bus->doors->post(bus->doors->arg, &message); /* full: the queue counts the loss */
    }
}

static void
post_held(struct poll_bus *bus, const struct driver_request *request, uint16_t cause)
{
    if (request->is_signal) {
        poll_signal_failed(&bus->signals[request->probes[0]],
                           bus->up ? reading_quality_phrase(cause) : bus->trouble, now_ms(bus));
        return;
    }
    for (uint16_t i = 0; i < request->count; i++)
        bus->samples[i] = (struct driver_sample){.temp_mC = TEMP_NONE, .quality = cause};
    post_readings(bus, request, now_ms(bus));
}

/* Tells of a change once; again later when the queue was full. */
static void
post_change(struct poll_bus *bus)
{
    if (bus->up == bus->told_up)
        return;
    struct message message = {.kind = MESSAGE_BUS, .born_ms = now_ms(bus)};
    message.is.bus.bus = bus->bus;
    message.is.bus.up = bus->up;
    message.is.bus.plan = bus->plan;
    if (!bus->up)
        memcpy(message.is.bus.trouble, bus->trouble, sizeof message.is.bus.trouble);
    if (bus->doors->post(bus->doors->arg, &message))
        bus->told_up = bus->up;
}

/* What a switch did is told once; again later when the queue was full. */
static void
post_switches(struct poll_bus *bus)
{
    for (size_t i = 0; i < bus->plan->switch_count; i++) {
        struct poll_switch *of = &bus->switches[i];
        if (of->is_told)
            continue;
        struct message message = {.kind = MESSAGE_SWITCH, .born_ms = of->since_ms};
        message.is.contact.index = (uint16_t)i;
        message.is.contact.state = of->state;
        message.is.contact.cause = of->cause;
        message.is.contact.plan = bus->plan;
        of->is_told = bus->doors->post(bus->doors->arg, &message);
    }
}

/* Likewise whether a signal can be relied on. */
static void
post_signals(struct poll_bus *bus)
{
    for (size_t i = 0; i < bus->plan->signal_count; i++) {
        struct poll_signal *of = &bus->signals[i];
        if (of->is_told)
            continue;
        struct message message = {.kind = MESSAGE_SIGNAL, .born_ms = of->since_ms};
        message.is.signal.index = (uint16_t)i;
        message.is.signal.faulty = of->faulty;
        message.is.signal.plan = bus->plan;
        static_assert(sizeof message.is.signal.trouble == sizeof of->trouble, "words fit");
        memcpy(message.is.signal.trouble, of->trouble, sizeof of->trouble);
        of->is_told = bus->doors->post(bus->doors->arg, &message);
    }
}

static void
note_trouble(struct poll_bus *bus, const struct driver_error *error)
{
    static_assert(sizeof bus->trouble == sizeof error->text,
                  "a driver's words fit the message");
    bus->up = false;
    memcpy(bus->trouble, error->text, sizeof bus->trouble);
    bus->trouble[sizeof bus->trouble - 1] = '\0';
}

static void
open_line(struct poll_bus *bus)
{
    struct driver_error error = {{0}};
    const bool done = bus->driver->open(bus->plan, bus->bus, bus->clock, &bus->state, &error);
    if (!done) {
        bus->state = NULL;
        note_trouble(bus, &error);
    }
    poll_schedule_opened(&bus->schedule, done, now_ms(bus));
}

static void
close_line(struct poll_bus *bus)
{
    bus->driver->close(bus->state);
    bus->state = NULL;
}

static bool
bad_exchange(uint16_t quality)
{
    return reading_is_bad(quality) && quality != BAD_FAULT_VALUE &&
           quality != BAD_IMPLAUSIBLE && quality != BAD_CONVERSION &&
           quality != BAD_COLD_JUNCTION && quality != BAD_SIGNAL;
}

/* All samples of a failed exchange carry its cause; a probe's own fault is no failure of the
 * unit. */
static uint16_t
exchange_quality(const struct poll_bus *bus, const struct driver_request *request)
{
    for (uint16_t i = 0; i < request->count; i++)
        if (!bad_exchange(bus->samples[i].quality))
            return READING_GOOD;
    return request->count > 0 ? bus->samples[0].quality : READING_GOOD;
}

static bool
signal_wants(const struct poll_bus *bus, uint16_t index, bool *ret_on)
{
    const struct plan_signal *plan = &bus->plan->signals[index];
    const bool needed =
        bus->doors->needed != NULL && bus->doors->needed(bus->doors->needed_arg, plan->shows);
    return poll_signal_wants(&bus->signals[index], plan, needed, now_ms(bus), ret_on);
}

/* Writes a coil and compares what is read back. False when the line is gone. */
static bool
set_signal(struct poll_bus *bus, uint16_t index, bool on, struct driver_coil *ret,
           struct driver_error *reterr)
{
    const struct plan_signal *plan = &bus->plan->signals[index];
    struct poll_signal *of = &bus->signals[index];
    *ret = (struct driver_coil){.quality = BAD_LINK};
    if (bus->driver->set == NULL || bus->state == NULL)
        return true;
    const bool there = bus->driver->set(bus->state, plan, on, ret, reterr);
    if (ret->quality == READING_GOOD && ret->is_on == on) {
        poll_signal_done(of, on, now_ms(bus));
        return there;
    }
    if (ret->quality == READING_GOOD)
        (void)snprintf(
            reterr->text, sizeof reterr->text,
            "bus '%s', unit %d, coil %d: set %s, it reads back %s; look at the module "
            "and whether something else sets this coil",
            bus->plan->buses[bus->bus].id, plan->unit, plan->coil, on ? "on" : "off",
            on ? "off" : "on");
    poll_signal_failed(of, reterr->text, now_ms(bus));
    return there;
}

static void
signal_slot(struct poll_bus *bus, uint16_t slot)
{
    const uint16_t index = bus->requests[slot].probes[0];
    struct driver_error error = {{0}};
    struct driver_coil coil;
    bool on;
    if (!signal_wants(bus, index, &on))
        return;
    if (set_signal(bus, index, on, &coil, &error)) {
        bus->up = true;
        poll_schedule_done(&bus->schedule, slot, coil.quality, now_ms(bus));
        return;
    }
    note_trouble(bus, &error);
    close_line(bus);
    poll_schedule_lost(&bus->schedule, now_ms(bus));
}

/* The last word of this thread. */
static void
leave_signals(struct poll_bus *bus)
{
    struct driver_error error = {{0}};
    struct driver_coil coil;
    bool on, there = bus->state != NULL;
    for (uint16_t i = 0; there && i < bus->plan->signal_count; i++)
        if (bus->plan->signals[i].bus == bus->bus && !bus->plan->signals[i].toggles &&
            signal_wants(bus, i, &on) && on != bus->signals[i].is_on)
            there = set_signal(bus, i, on, &coil, &error);
}

static void
read_slot(struct poll_bus *bus, uint16_t slot)
{
    const struct driver_request *request = &bus->requests[slot];
    struct driver_error error = {{0}};
    if (request->is_signal) {
        signal_slot(bus, slot);
        return;
    }
    const bool there = bus->driver->read(bus->state, request, bus->samples, &error);
    const int64_t born_ms = now_ms(bus);
    post_readings(bus, request, born_ms);
    if (there) {
        bus->up = true;
        poll_schedule_done(&bus->schedule, slot, exchange_quality(bus, request), born_ms);
        return;
    }
    note_trouble(bus, &error);
    close_line(bus);
    poll_schedule_lost(&bus->schedule, now_ms(bus));
}

/* True when it is time to end. */
static bool
wait_until(const struct poll_bus *bus, int64_t due_ms)
{
    struct pollfd stop = {.fd = bus->stop_fd, .events = POLLIN};
    const int64_t left_ms = due_ms == TIME_NEVER ? INT_MAX : due_ms - now_ms(bus);
    const int wait_ms = left_ms < 0 ? 0 : left_ms > INT_MAX ? INT_MAX : (int)left_ms;
    return poll(&stop, 1, wait_ms) > 0;
}

void *
poll_bus_run(void *arg)
{
    struct poll_bus *bus = arg;
    (void)prctl(PR_SET_NAME, bus->plan->buses[bus->bus].id); /* for top -H; cut at 15 bytes */
    poll_schedule_init(&bus->schedule, bus->slots, bus->requests, bus->request_count,
                       now_ms(bus));
    for (;;) {
        const struct poll_next next = poll_schedule_next(&bus->schedule, now_ms(bus));
        /* Also between two exchanges: a bus with more to do than time must still end. */
        if (wait_until(bus, next.due_ms))
            break;
        switch (next.what) {
        case POLL_WAIT:
            break;
        case POLL_OPEN:
            open_line(bus);
            break;
        case POLL_READ:
            read_slot(bus, next.slot);
            break;
        case POLL_HOLD:
            post_held(bus, &bus->requests[next.slot], next.cause);
            break;
        }
        post_change(bus);
        post_switches(bus);
        post_signals(bus);
    }
    leave_signals(bus);
    close_line(bus);
    return NULL;
}
