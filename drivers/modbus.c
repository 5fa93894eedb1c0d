/* The Modbus driver: RTU on a serial line, and TCP, behind the contract of probe_driver.h.
 *
 * Owns one line per state, used by one thread. The frame is judged in modbus_frame.c, the value
 * in modbus_decode.c; only what passes both is good. Must not log, read a clock of its own, or
 * know of limits. docs/modbus.md tells users. */
#include "drivers/modbus_parts.h"

#include <assert.h>
#include <poll.h>
#include <stdlib.h>

#include "drivers/modbus.h"
#include "drivers/sensors.h"
#include "trivet/reading.h"
#include "trivet/units.h"

struct modbus_state {
    const struct plan *plan;
    struct driver_sensors *sensors;
    struct mbus_line line;
};

static bool
is_rtu(const struct modbus_state *state)
{
    return state->line.bus->driver == BUS_MODBUS_RTU;
}

static bool
modbus_open(const struct plan *plan, uint16_t bus, const struct clock *clock, void **ret_state,
            struct driver_error *reterr)
{
    assert(bus < plan->bus_count);
    struct modbus_state *state = calloc(1, sizeof *state);
    if (state == NULL) {
        mbus_say(reterr, "bus '%s': out of memory", plan->buses[bus].id);
        return false;
    }
    state->plan = plan;
    state->line.bus = &plan->buses[bus];
    state->line.clock = clock;
    for (size_t i = 0; i < sizeof state->line.unit_ms / sizeof *state->line.unit_ms; i++)
        state->line.unit_ms[i] = TIME_NONE;
    state->sensors = driver_sensors_new(plan, bus, reterr);
    if (state->sensors == NULL ||
        !(is_rtu(state) ? mbus_rtu_open : mbus_tcp_open)(&state->line, reterr)) {
        driver_sensors_free(state->sensors);
        free(state);
        return false;
    }
    if (state->line.bus->driver == BUS_MODBUS_RTU_TCP)
        mbus_unsettle(&state->line); /* a reply may be owed to whoever was connected before */
    *ret_state = state;
    return true;
}

/* Some devices need a rest between two requests. */
static void
pause_for_unit(const struct mbus_line *line, uint8_t unit)
{
    if (line->bus->pause_ms <= 0 || line->unit_ms[unit] == TIME_NONE)
        return;
    const int64_t left_ms =
        line->unit_ms[unit] + line->bus->pause_ms - clock_mono_ms(line->clock);
    if (left_ms > 0)
        (void)poll(NULL, 0, (int)left_ms); /* at most a second; cut short it is only shorter */
}

static bool
exchange(struct modbus_state *state, const struct driver_request *request,
         struct mbus_reply *ret, struct driver_error *reterr)
{
    struct mbus_line *line = &state->line;
    bool there;
    pause_for_unit(line, request->unit);
    if (is_rtu(state))
        there = mbus_rtu_exchange(line, request, ret, reterr);
    else if (line->bus->driver == BUS_MODBUS_RTU_TCP)
        there = mbus_rtu_tcp_exchange(line, request, ret, reterr);
    else
        there = mbus_tcp_exchange(line, request, ret, reterr);
    line->unit_ms[request->unit] = clock_mono_ms(line->clock);
    return there;
}

static bool
is_within(const struct driver_request *request, uint32_t reg, uint16_t count)
{
    return reg >= request->first_reg &&
           reg + count <= (uint32_t)request->first_reg + request->reg_count;
}

/* Takes back what a status register says is bad. It is read after the values, so that a fault
 * that was there with them is still seen; where it does not lie beside one, by a request of its
 * own. False when the line is gone. */
static bool
check_status(struct modbus_state *state, const struct driver_request *request,
             const struct mbus_reply *values, struct driver_sample *ret_samples,
             struct driver_error *reterr)
{
    struct mbus_reply status = {.quality = BAD_LINK};
    struct driver_request ask = *request;
    bool there = true, is_read = false;
    for (uint16_t i = 0; i < request->count; i++) {
        const struct plan_probe *probe = &state->plan->probes[request->probes[i]];
        uint16_t quality = READING_GOOD, bits;
        if (!probe->has_status)
            continue;
        if (is_within(request, probe->status_reg, 1)) {
            bits = values->registers[probe->status_reg - request->first_reg];
        } else {
            /* After a failure the line is not asked again in this exchange. */
            const bool is_same = is_read && (ask.first_reg == probe->status_reg ||
                                             status.quality != READING_GOOD);
            ask.first_reg = probe->status_reg;
            ask.reg_count = 1;
            if (!is_same)
                there = exchange(state, &ask, &status, reterr);
            is_read = true;
            quality = status.quality;
            bits = status.registers[0];
        }
        if (quality == READING_GOOD && !mbus_status_good(probe, bits))
            quality = BAD_FAULT_VALUE;
        if (quality != READING_GOOD)
            ret_samples[i] = (struct driver_sample){.temp_mC = TEMP_NONE, .quality = quality};
    }
    return there;
}

/* What the registers say: a temperature, or a signal that has to become one. */
static void
decode(const struct plan_probe *probe, const uint16_t *registers,
       struct driver_signal *ret_signal, struct driver_sample *ret_sample)
{
    *ret_signal = (struct driver_signal){.unit = probe->signal};
    ret_sample->quality = probe->sensor != NULL
                              ? mbus_decode_signal(probe, registers, &ret_signal->micro)
                              : mbus_decode(probe, registers, &ret_sample->temp_mC);
}

/* Each switch of the request is one bit, in the order of the addresses. */
static void
take_switches(const struct plan *plan, const struct driver_request *request,
              const struct mbus_reply *reply, struct driver_sample *ret_samples)
{
    assert(request->reg_count == request->count);
    for (uint16_t i = 0; i < request->count; i++)
        ret_samples[i] = (struct driver_sample){
            .temp_mC = TEMP_NONE,
            .quality = reply->quality,
            .is_active = reply->quality == READING_GOOD &&
                         reply->registers[i] == plan->switches[request->probes[i]].active,
        };
}

static bool
modbus_read(void *state_arg, const struct driver_request *request,
            struct driver_sample *ret_samples, struct driver_error *reterr)
{
    struct modbus_state *state = state_arg;
    struct mbus_reply reply;
    struct driver_signal signals[DRIVER_REQUEST_PROBES_MAX] = {{0}};
    assert(request->reg_count >= 1 && request->reg_count <= MBUS_REGISTERS_MAX);
    const bool there = exchange(state, request, &reply, reterr);
    if (request->is_switches) {
        take_switches(state->plan, request, &reply, ret_samples);
        return there;
    }
    for (uint16_t i = 0; i < request->count; i++) {
        const struct plan_probe *probe = &state->plan->probes[request->probes[i]];
        struct driver_sample *sample = &ret_samples[i];
        sample->temp_mC = TEMP_NONE;
        sample->quality = reply.quality;
        if (reply.quality != READING_GOOD)
            continue;
        assert(is_within(request, probe->reg, mbus_type_registers(probe->type)));
        decode(probe, &reply.registers[probe->reg - request->first_reg], &signals[i], sample);
    }
    if (!there || reply.quality != READING_GOOD)
        return there;
    if (check_status(state, request, &reply, ret_samples, reterr)) {
        driver_sensors_apply(state->sensors, request, signals, clock_mono_ms(state->line.clock),
                             ret_samples);
        return true;
    }
    /* The line went away between values and status: nothing of this exchange counts. */
    for (uint16_t i = 0; i < request->count; i++)
        ret_samples[i] = (struct driver_sample){.temp_mC = TEMP_NONE, .quality = BAD_LINK};
    return false;
}

/* The only write there is: function 05, to a coil that the plan names as a signal, and what
 * function 01 then says of it. */
static bool
modbus_set(void *state_arg, const struct plan_signal *signal, bool on, struct driver_coil *ret,
           struct driver_error *reterr)
{
    struct modbus_state *state = state_arg;
    struct mbus_reply reply;
    const struct plan *plan = state->plan;
    assert(signal >= plan->signals && signal < plan->signals + plan->signal_count);
    assert(&plan->buses[signal->bus] == state->line.bus);
    struct driver_request request = {.unit = signal->unit,
                                     .function = MODBUS_FC_WRITE_SINGLE_COIL,
                                     .first_reg = signal->coil,
                                     .reg_count = 1,
                                     .is_signal = true,
                                     .is_on = on};
    bool there = exchange(state, &request, &reply, reterr);
    if (there && reply.quality == READING_GOOD) {
        request.function = MODBUS_FC_READ_COILS;
        there = exchange(state, &request, &reply, reterr);
    }
    *ret =
        (struct driver_coil){.quality = reply.quality,
                             .is_on = reply.quality == READING_GOOD && reply.registers[0] != 0};
    return there;
}

static void
modbus_close_line(void *state_arg)
{
    struct modbus_state *state = state_arg;
    if (state == NULL)
        return;
    (is_rtu(state) ? mbus_rtu_close : mbus_tcp_close)(&state->line);
    driver_sensors_free(state->sensors);
    free(state);
}

const struct probe_driver driver_modbus = {
    .name = "modbus",
    .requests = mbus_requests,
    .open = modbus_open,
    .read = modbus_read,
    .close = modbus_close_line,
    .set = modbus_set,
};
