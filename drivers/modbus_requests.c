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

/* What a probe or a switch asks for: registers or bits first to end - 1. */
struct piece {
    uint32_t first, end;
    int32_t every_ms;
    uint16_t index; /* in the plan */
    uint8_t unit, function;
};

/* By unit, function, period, first register; what is equal stays in the order of the plan. */
static bool
comes_before(const struct piece *a, const struct piece *b)
{
    if (a->unit != b->unit)
        return a->unit < b->unit;
    if (a->function != b->function)
        return a->function < b->function;
    if (a->every_ms != b->every_ms)
        return a->every_ms < b->every_ms;
    return a->first < b->first;
}

/* Insertion sort: at most 1024 of a bus, once at start. */
static void
sort_in(struct piece *pieces, size_t count, const struct piece *piece)
{
    size_t at = count;
    for (; at > 0 && comes_before(piece, &pieces[at - 1]); at--)
        pieces[at] = pieces[at - 1];
    pieces[at] = *piece;
}

/* Takes the piece into the request when it belongs there. Two probes may read one register; of
 * switches each has a bit of its own. */
static bool
joined(struct driver_request *request, const struct piece *piece)
{
    const uint32_t end = (uint32_t)request->first_reg + request->reg_count;
    const uint32_t new_end = piece->end > end ? piece->end : end;
    if (request->unit != piece->unit || request->function != piece->function ||
        request->every_ms != piece->every_ms || piece->first > end ||
        (request->is_switches && piece->first != end) ||
        request->count == DRIVER_REQUEST_PROBES_MAX ||
        new_end - request->first_reg > MBUS_REGISTERS_MAX)
        return false;
    request->reg_count = (uint16_t)(new_end - request->first_reg);
    request->probes[request->count++] = piece->index;
    return true;
}

static size_t
join(const struct piece *pieces, size_t piece_count, bool are_switches,
     struct driver_request *ret, size_t max)
{
    size_t count = 0;
    for (size_t i = 0; i < piece_count; i++) {
        const struct piece *piece = &pieces[i];
        if (count > 0 && joined(&ret[count - 1], piece))
            continue;
        if (count == max)
            break;
        ret[count] = (struct driver_request){
            .probes = {piece->index},
            .count = 1,
            .is_switches = are_switches,
            .unit = piece->unit,
            .function = piece->function,
            .first_reg = (uint16_t)piece->first,
            .reg_count = (uint16_t)(piece->end - piece->first),
            .every_ms = piece->every_ms,
        };
        count++;
    }
    return count;
}

static size_t
probe_requests(const struct plan *plan, uint16_t bus, struct driver_request *ret, size_t max)
{
    struct piece pieces[PLAN_PROBES_MAX];
    size_t count = 0;
    for (size_t i = 0; i < plan->probe_count && count < PLAN_PROBES_MAX; i++) {
        const struct plan_probe *probe = &plan->probes[i];
        const struct mbus_span span = mbus_span_of(probe);
        const struct piece piece = {.first = span.first,
                                    .end = span.end,
                                    .every_ms = probe->every_ms,
                                    .index = (uint16_t)i,
                                    .unit = probe->unit,
                                    .function = probe->function};
        if (probe->bus == bus)
            sort_in(pieces, count++, &piece);
    }
    return join(pieces, count, false, ret, max);
}

static size_t
switch_requests(const struct plan *plan, uint16_t bus, struct driver_request *ret, size_t max)
{
    struct piece pieces[PLAN_SWITCHES_MAX];
    size_t count = 0;
    for (size_t i = 0; i < plan->switch_count && count < PLAN_SWITCHES_MAX; i++) {
        const struct plan_switch *of = &plan->switches[i];
        const struct piece piece = {.first = of->address,
                                    .end = of->address + 1U,
                                    .every_ms = of->every_ms,
                                    .index = (uint16_t)i,
                                    .unit = of->unit,
                                    .function = of->function};
        if (of->bus == bus)
            sort_in(pieces, count++, &piece);
    }
    return join(pieces, count, true, ret, max);
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
