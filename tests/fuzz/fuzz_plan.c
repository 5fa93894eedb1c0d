/* Any bytes as a plan: either a plan whose every index and range holds, or faults in order of
 * lines, each in clean text that a terminal can show. Corpus: tests/fuzz/corpus/plan. */
#include <assert.h>
#include <stdint.h>
#include <string.h>

#include "trivet/json_out.h"
#include "trivet/line_pattern.h"
#include "trivet/plan.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

static void
check_faults(const struct plan_faults *faults)
{
    static char text[64000];
    assert(faults->count > 0 && faults->count <= PLAN_FAULTS_TOLD_MAX);
    for (size_t i = 0; i < faults->count; i++) {
        const struct plan_fault *fault = &faults->fault[i];
        assert(fault->line >= 0 && fault->column >= 0);
        assert((fault->line == 0) == (fault->column == 0));
        assert(fault->text[0] && text_is_clean(fault->text, sizeof(fault->text) - 1, false));
        assert(i == 0 || faults->fault[i - 1].line <= fault->line);
    }
    size_t len = plan_faults_text(faults, "plan", text, sizeof(text));
    assert(len == strlen(text) && text[len - 1] == '\n');
}

static void
check_limit(const struct plan_limit *limit)
{
    char text[400];
    plan_limit_text(text, sizeof(text), limit);
    assert(text[0] && text_is_clean(text, sizeof(text), false));
    assert(limit->stage_count <= PLAN_STAGES_MAX);
    assert((limit->kind == LIMIT_COOL) == (limit->stage_count > 0));
    assert(limit->kind != LIMIT_REHEAT || limit->within_ms > 0);
    assert(limit->kind != LIMIT_TIME || limit->within_ms > 0);
    assert(limit->kind != LIMIT_RISE);
    assert(!limit->rise || (limit->rise->kind == LIMIT_RISE && limit->rise->within_ms > 0));
    assert(!limit->has_ceiling || limit->kind == LIMIT_TIME || limit->kind == LIMIT_HOLD_COLD);
    assert(limit->period_ms == 0 || limit->tolerance_ms == 0);
    assert((limit->kind == LIMIT_COOK_TABLE || limit->kind == LIMIT_SUM) ==
           (limit->row_count > 0));
    assert(limit->kind != LIMIT_SUM || limit->validated_by);
    for (size_t i = 1; i < limit->row_count; i++)
        assert(limit->rows[i].hold_ms <= limit->rows[i - 1].hold_ms);
    assert((limit->kind == LIMIT_LETHALITY) == (limit->rates != NULL));
    assert(limit->kind != LIMIT_LETHALITY || (limit->hold_ms > 0 && limit->validated_by));
    assert(limit->start_within_ms == 0 || limit->clock == COOL_CLOCK_STEP);
    assert(!limit->source || text_is_clean(limit->source, PLAN_NAME_MAX, false));
}

static void
check_bus(const struct plan_bus *bus, const struct plan *plan)
{
    struct line_pattern pattern;
    struct line_fault fault;
    switch (bus->driver) {
    case BUS_MODBUS_RTU:
        assert(bus->device);
        return;
    case BUS_MODBUS_TCP:
    case BUS_MODBUS_RTU_TCP:
        assert(bus->host);
        return;
    case BUS_SERIAL_LINE:
        assert(bus->device && line_pattern_compile(bus->pattern, &pattern, &fault));
        assert(pattern.has_status == (bus->good_status[0] != NULL));
        return;
    case BUS_ONEWIRE:
    case BUS_IIO:
        return;
    case BUS_TRACE:
        assert(bus->file && bus->speed > 0 && plan->demo);
        return;
    }
    assert(false);
}

static void
check_probe(const struct plan_bus *bus, const struct plan_probe *probe)
{
    switch (bus->driver) {
    case BUS_MODBUS_RTU:
    case BUS_MODBUS_TCP:
    case BUS_MODBUS_RTU_TCP:
    case BUS_SERIAL_LINE:
        assert(probe->scale_micro > 0);
        return;
    case BUS_ONEWIRE:
        assert(probe->address && strlen(probe->address) == 15);
        return;
    case BUS_IIO:
        assert(probe->node && probe->channel);
        return;
    case BUS_TRACE:
        return;
    }
}

static void
check_plan(const struct plan *plan, size_t size)
{
    assert(plan->text_len == size && strlen(plan->digest) == 64);
    assert(text_is_clean(plan->site_name, PLAN_NAME_MAX, false));
    assert(plan->person_count > 0 && plan->time_zone && plan->records.socket);
    for (size_t i = 0; i < plan->bus_count; i++)
        check_bus(&plan->buses[i], plan);
    for (size_t i = 0; i < plan->probe_count; i++) {
        const struct plan_probe *probe = &plan->probes[i];
        assert(probe->bus < plan->bus_count && probe->every_ms > 0);
        check_probe(&plan->buses[probe->bus], probe);
        assert(probe->plausible_min_mC < probe->plausible_max_mC);
        assert(plan_probe_index(plan, probe->id) == (int)i);
    }
    for (size_t i = 0; i < plan->switch_count; i++) {
        const struct plan_switch *of = &plan->switches[i];
        assert(of->place >= 0 && (size_t)of->place < plan->place_count);
        assert(of->bus < plan->bus_count && plan->buses[of->bus].driver <= BUS_MODBUS_RTU_TCP);
        assert(of->function == 1 || of->function == 2);
        assert(of->active <= 1 && of->every_ms >= 100);
        assert(of->kind == SWITCH_DOOR || of->open_max_ms == 0);
    }
    for (size_t i = 0; i < plan->place_count; i++) {
        const struct plan_place *place = &plan->places[i];
        assert(place->probe >= -1 && place->probe < (int)plan->probe_count);
        assert(place->limit.kind == LIMIT_NONE || place->probe >= 0);
        assert(plan_place_index(plan, place->id) == (int)i);
        check_limit(&place->limit);
    }
    for (size_t i = 0; i < plan->product_count; i++) {
        const struct plan_product *product = &plan->products[i];
        assert(product->step_count > 0 && plan_product(plan, product->id) == product);
        for (int k = 0; k < product->step_count; k++) {
            assert(plan_step_index(product, product->steps[k].id) == k);
            assert(product->steps[k].place < (int)plan->place_count);
            check_limit(&product->steps[k].limit);
        }
    }
}

int
LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    static struct plan_faults faults;
    struct plan *plan =
        plan_load_text("/etc/trivet/plan.yaml", (const char *)data, size, &faults);
    if (plan)
        check_plan(plan, size);
    else
        check_faults(&faults);
    plan_free(plan);
    return 0;
}
