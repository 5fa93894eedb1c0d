/* Groups the probes and switches of a bus into as few requests as is safe.
 *
 * Registers are joined only when nothing lies between them: a device may answer a request that
 * touches one register it does not have with an exception, and every probe of the request would
 * be lost with it. Pure; owns nothing. */
#include "drivers/modbus_parts.h"

struct mbus_span
mbus_span_of(const struct plan_probe *probe)
{
    struct mbus_span span = {.first = probe->reg,
                             .end = (uint32_t)probe->reg + mbus_type_registers(probe->type)};
    if (probe->has_status && probe->status_reg == span.end)
        span.end++;
    else if (probe->has_status && probe->status_reg + 1U == span.first)
        span.first--;
    return span;
}

/* By unit, function, period, register, place in the plan. */
static int
probe_order(const struct plan_probe *a, const struct plan_probe *b)
{
    if (a->unit != b->unit)
        return a->unit < b->unit ? -1 : 1;
    if (a->function != b->function)
        return a->function < b->function ? -1 : 1;
    if (a->every_ms != b->every_ms)
        return a->every_ms < b->every_ms ? -1 : 1;
    const uint32_t a_first = mbus_span_of(a).first, b_first = mbus_span_of(b).first;
    if (a_first != b_first)
        return a_first < b_first ? -1 : 1;
    return 0;
}

/* Insertion sort: at most 1024 probes a bus, once at start. Returns how many the bus has. */
static size_t
sorted_probes(const struct plan *plan, uint16_t bus, uint16_t *ret)
{
    size_t count = 0;
    for (size_t i = 0; i < plan->probe_count && count < PLAN_PROBES_MAX; i++) {
        if (plan->probes[i].bus != bus)
            continue;
        size_t at = count++;
        for (; at > 0 && probe_order(&plan->probes[ret[at - 1]], &plan->probes[i]) > 0; at--)
            ret[at] = ret[at - 1];
        ret[at] = (uint16_t)i;
    }
    return count;
}

/* Takes the probe into the request when it belongs there. */
static bool
joined(struct driver_request *request, const struct plan_probe *probe, uint16_t index)
{
    const uint32_t end = (uint32_t)request->first_reg + request->reg_count;
    const struct mbus_span span = mbus_span_of(probe);
    const uint32_t new_end = span.end > end ? span.end : end;
    if (request->unit != probe->unit || request->function != probe->function ||
        request->every_ms != probe->every_ms || span.first > end ||
        request->count == DRIVER_REQUEST_PROBES_MAX ||
        new_end - request->first_reg > MBUS_REGISTERS_MAX)
        return false;
    request->reg_count = (uint16_t)(new_end - request->first_reg);
    request->probes[request->count++] = index;
    return true;
}

static size_t
probe_requests(const struct plan *plan, uint16_t bus, struct driver_request *ret, size_t max)
{
    uint16_t order[PLAN_PROBES_MAX];
    const size_t probe_count = sorted_probes(plan, bus, order);
    size_t count = 0;
    for (size_t i = 0; i < probe_count; i++) {
        const struct plan_probe *probe = &plan->probes[order[i]];
        if (count > 0 && joined(&ret[count - 1], probe, order[i]))
            continue;
        if (count == max)
            break;
        const struct mbus_span span = mbus_span_of(probe);
        ret[count] = (struct driver_request){
            .probes = {order[i]},
            .count = 1,
            .unit = probe->unit,
            .function = probe->function,
            .first_reg = (uint16_t)span.first,
            .reg_count = (uint16_t)(span.end - span.first),
            .every_ms = probe->every_ms,
        };
        count++;
    }
    return count;
}

/* ---- switches ---- */

/* By unit, function, period, address, place in the plan. */
static int
switch_order(const struct plan_switch *a, const struct plan_switch *b)
{
    if (a->unit != b->unit)
        return a->unit < b->unit ? -1 : 1;
    if (a->function != b->function)
        return a->function < b->function ? -1 : 1;
    if (a->every_ms != b->every_ms)
        return a->every_ms < b->every_ms ? -1 : 1;
    if (a->address != b->address)
        return a->address < b->address ? -1 : 1;
    return 0;
}

static size_t
sorted_switches(const struct plan *plan, uint16_t bus, uint16_t *ret)
{
    size_t count = 0;
    for (size_t i = 0; i < plan->switch_count && count < PLAN_SWITCHES_MAX; i++) {
        if (plan->switches[i].bus != bus)
            continue;
        size_t at = count++;
        for (; at > 0 && switch_order(&plan->switches[ret[at - 1]], &plan->switches[i]) > 0;
             at--)
            ret[at] = ret[at - 1];
        ret[at] = (uint16_t)i;
    }
    return count;
}

static bool
switch_joined(struct driver_request *request, const struct plan_switch *of, uint16_t index)
{
    if (request->unit != of->unit || request->function != of->function ||
        request->every_ms != of->every_ms ||
        of->address != (uint32_t)request->first_reg + request->reg_count ||
        request->count == DRIVER_REQUEST_PROBES_MAX)
        return false;
    request->reg_count++;
    request->probes[request->count++] = index;
    return true;
}

static size_t
switch_requests(const struct plan *plan, uint16_t bus, struct driver_request *ret, size_t max)
{
    uint16_t order[PLAN_SWITCHES_MAX];
    const size_t switch_count = sorted_switches(plan, bus, order);
    size_t count = 0;
    for (size_t i = 0; i < switch_count; i++) {
        const struct plan_switch *of = &plan->switches[order[i]];
        if (count > 0 && switch_joined(&ret[count - 1], of, order[i]))
            continue;
        if (count == max)
            break;
        ret[count++] = (struct driver_request){
            .probes = {order[i]},
            .count = 1,
            .is_switches = true,
            .unit = of->unit,
            .function = of->function,
            .first_reg = of->address,
            .reg_count = 1,
            .every_ms = of->every_ms,
        };
    }
    return count;
}

/* ---- all of a bus ---- */

/* On serial lines a reply equal to one that can still come again is asked for twice. */
static int32_t
apart_ms(const struct plan_bus *bus)
{
    return bus->driver == BUS_MODBUS_TCP ? 0 : (int32_t)mbus_past_ms(bus) + 1;
}

size_t
mbus_requests(const struct plan *plan, uint16_t bus, struct driver_request *ret, size_t max)
{
    size_t count = probe_requests(plan, bus, ret, max);
    count += switch_requests(plan, bus, ret + count, max - count);
    for (size_t i = 0; i < count; i++)
        ret[i].apart_ms = apart_ms(&plan->buses[bus]);
    return count;
}
