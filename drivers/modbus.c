/* The Modbus driver: RTU on a serial line, and TCP, behind the contract of probe_driver.h.
 *
 * Owns one line per state, used by one thread. The frame is judged in modbus_frame.c, the value
 * in modbus_decode.c; only what passes both is good. Must not log, read a clock of its own, or
 * know of limits. docs/modbus.md tells users. */
#include "drivers/modbus_parts.h"

#include <assert.h>
#include <stdlib.h>

#include "drivers/modbus.h"
#include "trivet/reading.h"
#include "trivet/units.h"

struct modbus_state {
    const struct plan *plan;
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
    if (!(is_rtu(state) ? mbus_rtu_open : mbus_tcp_open)(&state->line, reterr)) {
        free(state);
        return false;
    }
    *ret_state = state;
    return true;
}

static bool
exchange(struct modbus_state *state, const struct driver_request *request,
         struct mbus_reply *ret, struct driver_error *reterr)
{
    if (is_rtu(state))
        return mbus_rtu_exchange(&state->line, request, ret, reterr);
    return mbus_tcp_exchange(&state->line, request, ret, reterr);
}

static bool
modbus_read(void *state_arg, const struct driver_request *request,
            struct driver_sample *ret_samples, struct driver_error *reterr)
{
    struct modbus_state *state = state_arg;
    struct mbus_reply reply;
    assert(request->reg_count >= 1 && request->reg_count <= MBUS_REGISTERS_MAX);
    const bool there = exchange(state, request, &reply, reterr);
    for (uint16_t i = 0; i < request->count; i++) {
        const struct plan_probe *probe = &state->plan->probes[request->probes[i]];
        struct driver_sample *sample = &ret_samples[i];
        sample->temp_mC = TEMP_NONE;
        sample->quality = reply.quality;
        if (reply.quality != READING_GOOD)
            continue;
        assert(probe->reg >= request->first_reg &&
               probe->reg + mbus_type_registers(probe->type) <=
                   request->first_reg + request->reg_count);
        sample->quality = mbus_decode(probe, &reply.registers[probe->reg - request->first_reg],
                                      &sample->temp_mC);
    }
    return there;
}

static void
modbus_close_line(void *state_arg)
{
    struct modbus_state *state = state_arg;
    if (state == NULL)
        return;
    (is_rtu(state) ? mbus_rtu_close : mbus_tcp_close)(&state->line);
    free(state);
}

const struct probe_driver driver_modbus = {
    .name = "modbus",
    .requests = mbus_requests,
    .open = modbus_open,
    .read = modbus_read,
    .close = modbus_close_line,
};
