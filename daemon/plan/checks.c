/* What no single key of a plan can show: people who can verify, lines and registers that do not
 * collide, places that can be watched. Each check is silent about values already found wrong.
 */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "daemon/plan/faults.h"
#include "daemon/plan/quantity.h"
#include "daemon/plan/schema.h"

/* Fits struct sockaddr_un's sun_path with its NUL on Linux. */
#define SOCKET_PATH_BYTES 107

static yaml_node_t *
child(struct walk *walk, const yaml_node_t *mapping, const char *key)
{
    return plan_tree_child(walk->tree, mapping, key);
}

/* ---- people ---- */

static void
check_people(struct walk *walk, const struct plan *plan, const yaml_node_t *root)
{
    const yaml_node_t *people = plan_walk_good(walk, root, "people");
    if (!people || plan->person_count == 0 || child(walk, root, "sole_operator"))
        return;
    for (size_t i = 0; i < plan->person_count; i++) {
        const yaml_node_t *person = plan_tree_item(walk->tree, people, i);
        if (!plan_walk_good(walk, person, "role") || plan->people[i].role != ROLE_COOK) {
            if (plan->person_count > 1)
                return;
        }
    }
    if (plan->person_count > 1)
        plan_walk_fault(
            walk, people,
            "nobody could verify a record: no one is supervisor or verifier; give one "
            "person role: verifier");
    else
        plan_walk_fault(
            walk, people,
            "nobody could verify what the only person does; add a second person with role: "
            "verifier, or write sole_operator: and how records get verified");
}

/* A cook approves nothing, unless one person works alone. */
static void
check_approval(struct walk *walk, const struct plan *plan, const yaml_node_t *root)
{
    const yaml_node_t *people = plan_walk_good(walk, root, "people");
    const yaml_node_t *by = plan_walk_good(walk, plan_walk_good(walk, root, "approved"), "by");
    if (!people || !by)
        return;
    for (size_t i = 0; i < plan->person_count; i++) {
        if (strcmp(plan->people[i].initials, plan->approved.by) != 0)
            continue;
        const yaml_node_t *person = plan_tree_item(walk->tree, people, i);
        if (plan_walk_good(walk, person, "role") && plan->people[i].role == ROLE_COOK &&
            !child(walk, root, "sole_operator"))
            plan_walk_fault(walk, by,
                            "'%s' is a cook and cannot approve limits; write the initials of a "
                            "supervisor or verifier",
                            plan->approved.by);
        return;
    }
    plan_walk_fault(
        walk, by,
        "nobody among the people has the initials '%s'; write those of a supervisor "
        "or verifier",
        plan->approved.by);
}

/* ---- buses ---- */

static void
check_buses(struct walk *walk, const struct plan *plan, const yaml_node_t *root)
{
    const yaml_node_t *buses = child(walk, root, "buses");
    for (size_t i = 0; i < plan->bus_count; i++) {
        const yaml_node_t *device =
            plan_walk_good(walk, plan_tree_item(walk->tree, buses, i), "device");
        for (size_t j = 0; device && j < i && plan->buses[i].device; j++)
            if (plan->buses[j].device &&
                strcmp(plan->buses[i].device, plan->buses[j].device) == 0) {
                plan_walk_fault(
                    walk, device,
                    "bus '%s' already uses this device; put all units of one line on one bus",
                    plan->buses[j].id);
                break;
            }
    }
}

/* ---- probes ---- */

/* Registers have a meaning on Modbus only; on other buses they were refused already. */
static bool
is_modbus(struct walk *walk, const struct plan *plan, const struct plan_probe *probe,
          const yaml_node_t *node)
{
    if (!plan_walk_good(walk, node, "bus"))
        return true;
    const enum bus_driver driver = plan->buses[probe->bus].driver;
    return driver == BUS_MODBUS_RTU || driver == BUS_MODBUS_TCP || driver == BUS_MODBUS_RTU_TCP;
}

static uint32_t
registers_of(enum register_type type)
{
    switch (type) {
    case REGISTER_INT16:
    case REGISTER_UINT16:
        return 1;
    case REGISTER_INT32:
    case REGISTER_UINT32:
    case REGISTER_FLOAT32:
        return 2;
    case REGISTER_INT64:
    case REGISTER_UINT64:
    case REGISTER_FLOAT64:
        break;
    }
    return 4;
}

/* Bits without their register, or bits that cannot be both. */
static void
check_status(struct walk *walk, struct plan_probe *probe, const yaml_node_t *node)
{
    static const char *const keys[] = {"bad_bits", "good_bits"};
    const bool has_register = child(walk, node, "status_register");
    probe->has_status = has_register;
    for (size_t i = 0; i < 2 && !has_register; i++) {
        const yaml_node_t *bits = plan_walk_good(walk, node, keys[i]);
        if (bits)
            plan_walk_fault(walk, bits,
                            "%s has no meaning without status_register; write that too, or "
                            "delete it",
                            keys[i]);
    }
    for (size_t i = 0; i < probe->bad_bit_count; i++)
        for (size_t k = 0; k < probe->good_bit_count; k++) {
            const yaml_node_t *good = plan_walk_good(walk, node, "good_bits");
            if (good && probe->bad_bits[i] == probe->good_bits[k])
                plan_walk_fault(
                    walk, good,
                    "bit %d is in bad_bits as well, so no value could be good; write "
                    "it in one of them",
                    (int)probe->good_bits[k]);
        }
}

/* Unit ids of serial lines are 1 to 247 (MODBUS over Serial Line V1.02, 2.2). On TCP a device
 * that is no gateway may use 0 or 255 (MODBUS Messaging on TCP/IP V1.0b, 3.1.3.2). */
void
plan_check_unit(struct walk *walk, const struct plan_bus *bus, uint8_t unit,
                const yaml_node_t *node)
{
    /* Serial frames keep the rules of the serial line, whatever carries them. */
    bool is_tcp = bus->driver == BUS_MODBUS_TCP;
    if (unit >= 1 && unit <= 247)
        return;
    if (!is_tcp)
        plan_walk_fault(walk, node,
                        "unit: %d is no unit of a serial line; write something from 1 to 247",
                        unit);
    else if (unit != 0 && unit != 255)
        plan_walk_fault(walk, node,
                        "unit: %d is reserved; write something from 0 to 247, or 255", unit);
}

static void
check_unit(struct walk *walk, const struct plan *plan, const struct plan_probe *probe,
           const yaml_node_t *node)
{
    const yaml_node_t *unit = plan_walk_good(walk, node, "unit");
    if (unit && plan_walk_good(walk, node, "bus"))
        plan_check_unit(walk, &plan->buses[probe->bus], probe->unit, unit);
}

static void
check_fault_values(struct walk *walk, const struct plan_probe *probe, const yaml_node_t *node)
{
    static const int64_t ranges[][2] = {
        [REGISTER_INT16] = {INT16_MIN, INT16_MAX},
        [REGISTER_UINT16] = {0, UINT16_MAX},
        [REGISTER_INT32] = {INT32_MIN, INT32_MAX},
        [REGISTER_UINT32] = {0, UINT32_MAX},
        [REGISTER_FLOAT32] = {-(1 << 24), 1 << 24}, /* whole numbers that a float32 holds
                                                       exactly */
        /* As far as the key's own range goes. */
        [REGISTER_INT64] = {INT32_MIN, UINT32_MAX},
        [REGISTER_UINT64] = {0, UINT32_MAX},
        [REGISTER_FLOAT64] = {INT32_MIN, UINT32_MAX},
    };
    const yaml_node_t *list = plan_walk_good(walk, node, "fault_values");
    const yaml_node_t *type = plan_walk_good(walk, node, "type");
    for (size_t i = 0; list && type && i < plan_tree_items(list); i++) {
        const yaml_node_t *item = plan_tree_item(walk->tree, list, i);
        int64_t value;
        if (item->type == YAML_SCALAR_NODE &&
            quantity_whole((const char *)item->data.scalar.value, item->data.scalar.length,
                           &value) == QUANTITY_OK &&
            (value < ranges[probe->type][0] || value > ranges[probe->type][1]))
            plan_walk_fault(
                walk, item,
                "fault_values: no %s register can hold this; write something from %lld to %lld",
                (const char *)type->data.scalar.value, (long long)ranges[probe->type][0],
                (long long)ranges[probe->type][1]);
    }
}

static void
check_scale(struct walk *walk, const struct plan_probe *probe, const yaml_node_t *node)
{
    const yaml_node_t *offset = plan_walk_good(walk, node, "offset");
    const yaml_node_t *scale = child(walk, node, "scale");
    int64_t micro;
    enum signal_unit signal;
    enum temp_unit unit = TEMP_C;
    if (!offset || (scale && !plan_walk_good(walk, node, "scale")) ||
        quantity_signal((const char *)offset->data.scalar.value, offset->data.scalar.length,
                        &micro, &signal, &unit) != QUANTITY_OK)
        return;
    if (signal != probe->signal || (signal == SIGNAL_TEMP && unit != probe->reads))
        plan_walk_fault(
            walk, offset, "offset is in another unit than scale%s; write both in %s",
            scale ? "" : " (which is 1 °C by default)",
            scale && probe->signal == SIGNAL_TEMP && probe->reads == TEMP_F ? "°F"
                                                                            : "the same unit");
}

static void
check_probe(struct walk *walk, const struct plan *plan, struct plan_probe *probe,
            const yaml_node_t *node)
{
    const yaml_node_t *plausible = plan_walk_good(walk, node, "plausible");
    const yaml_node_t *reg = plan_walk_good(walk, node, "register");
    const yaml_node_t *every = plan_walk_good(walk, node, "every");
    if (is_modbus(walk, plan, probe, node)) {
        check_status(walk, probe, node);
        check_unit(walk, plan, probe, node);
        check_fault_values(walk, probe, node);
    } else {
        reg = NULL;
    }
    check_scale(walk, probe, node);
    if (plausible && probe->plausible_min_mC >= probe->plausible_max_mC)
        plan_walk_fault(
            walk, plausible,
            "plausible has its lowest not below its highest; write [-40 °C, 300 °C]");
    if (reg && plan_walk_good(walk, node, "type") &&
        probe->reg + registers_of(probe->type) > 65536)
        plan_walk_fault(
            walk, reg, "register: a value of %u registers cannot begin at %d; write at most %u",
            (unsigned)registers_of(probe->type), probe->reg,
            (unsigned)(65536 - registers_of(probe->type)));
    if ((every || !child(walk, node, "every")) && probe->every_ms > plan->tolerances.silent_ms)
        plan_walk_fault(
            walk, every ? every : node,
            "%severy is longer than tolerances: silent_for, so this probe would always "
            "count as silent; write a shorter time",
            every ? "" : "the default of ");
}

/* ---- registers ---- */

struct span {
    const struct plan_probe *probe;
    const yaml_node_t *reg; /* where a fault is told */
};

static int
compare_spans(const void *left, const void *right)
{
    const struct span *x = left, *y = right;
    const struct plan_probe *a = x->probe, *b = y->probe;
    if (a->bus != b->bus)
        return a->bus < b->bus ? -1 : 1;
    if (a->unit != b->unit)
        return a->unit < b->unit ? -1 : 1;
    if (a->function != b->function)
        return a->function < b->function ? -1 : 1;
    if (a->reg != b->reg)
        return a->reg < b->reg ? -1 : 1;
    return a < b ? -1 : a > b;
}

static uint32_t
end_of(const struct plan_probe *probe)
{
    return probe->reg + registers_of(probe->type);
}

/* Two probes may read the very same value; anything else that overlaps is a slip. */
static void
check_pair(struct walk *walk, const struct span *first, const struct span *second)
{
    const struct plan_probe *a = first->probe, *b = second->probe;
    if (a->bus != b->bus || a->unit != b->unit || a->function != b->function ||
        b->reg >= end_of(a) || (a->reg == b->reg && a->type == b->type && a->order == b->order))
        return;
    /* Told at the one that stands later in the file. */
    const struct span *later = first->probe > second->probe ? first : second;
    const struct span *earlier = later == first ? second : first;
    plan_walk_fault(
        walk, later->reg,
        "register %d overlaps register %d of probe '%s' (line %d) with another type or byte "
        "order; check both against the device's manual",
        later->probe->reg, earlier->probe->reg, earlier->probe->id,
        plan_node_line(earlier->reg));
}

static void
check_registers(struct walk *walk, const struct plan *plan, const yaml_node_t *probes)
{
    static const char *const keys[] = {"bus", "unit", "function", "register", "type"};
    struct span *spans = plan_arena_take(walk->arena, plan->probe_count, sizeof(*spans));
    size_t count = 0;
    for (size_t i = 0; spans && i < plan->probe_count; i++) {
        const yaml_node_t *node = plan_tree_item(walk->tree, probes, i);
        bool good = is_modbus(walk, plan, &plan->probes[i], node);
        for (size_t k = 0; k < sizeof(keys) / sizeof(keys[0]); k++)
            good = good && plan_walk_good(walk, node, keys[k]);
        if (good)
            spans[count++] = (struct span){&plan->probes[i], child(walk, node, "register")};
    }
    if (count > 1)
        qsort(spans, count, sizeof(*spans), compare_spans);
    /* A span is at most four registers long, so the overlapping ones are close neighbours;
     * several at one register are looked at one by one. */
    for (size_t i = 0; i < count; i++)
        for (size_t j = i + 1; j < count && spans[j].probe->reg < end_of(spans[i].probe) &&
                               spans[j].probe->unit == spans[i].probe->unit;
             j++)
            check_pair(walk, &spans[i], &spans[j]);
}

/* ---- places and steps ---- */

static bool
is_hold(const struct plan_limit *limit)
{
    return limit->kind == LIMIT_HOLD_HOT || limit->kind == LIMIT_HOLD_COLD;
}

/* A limit that its probe could never show to be kept or broken. */
static void
check_limit_and_probe(struct walk *walk, const struct plan *plan,
                      const struct plan_place *place, const yaml_node_t *limit)
{
    const struct plan_probe *probe = &plan->probes[place->probe];
    const yaml_node_t *subject = plan_walk_good(walk, limit, "applies_to");
    const yaml_node_t *temp = plan_walk_good(
        walk, limit, place->limit.kind == LIMIT_HOLD_HOT ? "at_least" : "at_most");
    const yaml_node_t *probes = child(walk, plan_tree_root(walk->tree), "probes");
    const yaml_node_t *node = plan_tree_item(walk->tree, probes, (size_t)place->probe);
    if (subject && plan_walk_good(walk, node, "kind") &&
        (place->limit.subject == SUBJECT_AIR) != (probe->kind == PROBE_AIR))
        plan_walk_fault(
            walk, subject,
            "the limit applies to %s but probe '%s' measures %s; write applies_to: %s",
            place->limit.subject == SUBJECT_AIR ? "air" : "food", probe->id,
            probe->kind == PROBE_AIR ? "air" : "food",
            probe->kind == PROBE_AIR ? "air" : "food");
    if (temp && plan_walk_good(walk, node, "plausible") &&
        (temp_compare(probe->plausible_min_mC, place->limit.temp) > 0 ||
         temp_compare(probe->plausible_max_mC, place->limit.temp) < 0))
        plan_walk_fault(
            walk, temp,
            "the limit lies outside what probe '%s' can plausibly show; correct the limit or "
            "the probe's plausible range",
            probe->id);
}

static void
check_quiets(struct walk *walk, const struct plan *plan, const struct plan_place *place,
             const yaml_node_t *node)
{
    const yaml_node_t *quiets = plan_walk_good(walk, node, "quiet");
    const yaml_node_t *limit = child(walk, node, "limit");
    char longest[QUANTITY_DURATION_MAX];
    if (quiets && plan_walk_good(walk, limit, "kind") && place->limit.kind == LIMIT_NONE)
        plan_walk_fault(walk, quiets,
                        "this place has no limit that could be suspended; leave quiet out");
    for (size_t i = 0; quiets && i < place->quiet_count; i++) {
        const yaml_node_t *lasts =
            plan_walk_good(walk, plan_tree_item(walk->tree, quiets, i), "lasts");
        if (lasts && place->quiets[i].for_ms > plan->tolerances.quiet_max_ms)
            plan_walk_fault(
                walk, lasts,
                "lasts is longer than tolerances: quiet_at_most allows; write at most "
                "%s",
                quantity_duration_text(longest, plan->tolerances.quiet_max_ms));
    }
}

static void
check_places(struct walk *walk, struct plan *plan, const yaml_node_t *places)
{
    for (size_t i = 0; i < plan->place_count; i++) {
        struct plan_place *place = &plan->places[i];
        const yaml_node_t *node = plan_tree_item(walk->tree, places, i);
        check_quiets(walk, plan, place, node);
        const yaml_node_t *limit = child(walk, node, "limit");
        const yaml_node_t *kind = plan_walk_good(walk, limit, "kind");
        if (!kind)
            continue;
        plan_check_limit(walk, &place->limit, limit);
        if (place->limit.kind == LIMIT_NONE)
            continue;
        const yaml_node_t *period = plan_walk_good(walk, limit, "one_period");
        if (period)
            plan_walk_fault(
                walk, period,
                "one_period is a time of a batch, and a place has none; write it in "
                "a product's step, or tolerance: here");
        if (!is_hold(&place->limit))
            plan_walk_fault(walk, kind,
                            "a place cannot have a limit of this kind; write hold_hot, "
                            "hold_cold or none, and put the rest into a product's steps");
        else if (plan_walk_good(walk, node, "probe") && place->probe >= 0)
            check_limit_and_probe(walk, plan, place, limit);
        else if (!child(walk, node, "probe"))
            plan_walk_fault(walk, kind,
                            "nothing watches this limit; write probe: and the id of the probe "
                            "in this place, or kind: none");
    }
}

/* Probes of one pan (E236). */
static void
check_together(struct walk *walk, const struct plan_step *step, const yaml_node_t *node)
{
    const yaml_node_t *together = plan_walk_good(walk, node, "begins_together");
    size_t count = 0;
    while (step->begins_on[count])
        count++;
    if (together && step->begins_together && count < 2)
        plan_walk_fault(walk, together,
                        "begins_together is for the probes of one pan; name two or more with "
                        "begins_on, or take the line out");
}

/* A cooling can begin by itself: by a core that falls through its start, or by hot food that
 * comes to a probe (E173, E242). */
static void
check_begins(struct walk *walk, const struct plan *plan, const struct plan_step *step,
             const yaml_node_t *node)
{
    const yaml_node_t *begins = plan_walk_good(walk, node, "begins");
    const yaml_node_t *on = plan_walk_good(walk, node, "begins_on");
    bool by_itself = step->begins == BEGINS_BY_ITSELF;
    if (begins && by_itself && step->limit.kind != LIMIT_COOL)
        plan_walk_fault(walk, begins,
                        "only a cooling can begin by itself; write by_hand, or take the line "
                        "out");
    else if (begins && by_itself && !on && step->limit.clock == COOL_CLOCK_STEP)
        plan_walk_fault(walk, begins,
                        "a cooling with clock: step begins by itself as hot food comes to a "
                        "probe; name the probes where it is cooled with begins_on");
    if (on && !by_itself)
        plan_walk_fault(walk, on,
                        "begins_on is for a step that begins by itself; write begins: "
                        "by_itself as well, or take the line out");
    check_together(walk, step, node);
    for (size_t i = 0; on && step->begins_on[i]; i++) {
        int probe = plan_probe_index(plan, step->begins_on[i]);
        if (probe < 0 || plan->probes[probe].kind != PROBE_FOOD)
            plan_walk_fault(walk, plan_tree_item(walk->tree, on, i),
                            "'%s' is no food probe of this plan; write the id of a probe with "
                            "kind: food",
                            step->begins_on[i]);
    }
}

/* A step's air limit is watched by the probe of its place. */
static void
check_step(struct walk *walk, const struct plan *plan, struct plan_step *step,
           const yaml_node_t *node)
{
    const yaml_node_t *limit = child(walk, node, "limit");
    const yaml_node_t *aim = plan_walk_good(walk, node, "aim");
    const yaml_node_t *subject = plan_walk_good(walk, limit, "applies_to");
    if (!plan_walk_good(walk, limit, "kind"))
        return;
    plan_check_limit(walk, &step->limit, limit);
    check_begins(walk, plan, step, node);
    if (step->limit.kind == LIMIT_DAYS)
        plan_walk_fault(walk, child(walk, limit, "kind"),
                        "a date is one of the product, over all its steps; write it as the "
                        "product's date_mark");
    if (aim && !limit_kind_heats(step->limit.kind))
        plan_walk_fault(walk, aim,
                        "an aim is for a step that heats (kind: cook, cook_table, lethality or "
                        "reheat); take the line out");
    if (!subject || step->limit.kind == LIMIT_NONE || step->limit.subject != SUBJECT_AIR)
        return;
    if (!is_hold(&step->limit))
        plan_walk_fault(walk, subject,
                        "a limit of this kind is one for the core of the food; write "
                        "applies_to: food, and put an oven's own limit under places");
    else if (!child(walk, node, "place"))
        plan_walk_fault(
            walk, subject,
            "a limit for air needs a place whose probe measures it; write place: and its id");
    else if (plan_walk_good(walk, node, "place") && step->place >= 0 &&
             !child(walk,
                    plan_tree_item(walk->tree,
                                   child(walk, plan_tree_root(walk->tree), "places"),
                                   (size_t)step->place),
                    "probe"))
        plan_walk_fault(walk, subject,
                        "a limit for air needs a place with a probe, and '%s' has none; give "
                        "it one, or write applies_to: food",
                        plan->places[step->place].id);
}

/* A limit over all steps. */
static void
check_life(struct walk *walk, struct plan_product *product, const yaml_node_t *node)
{
    const yaml_node_t *limit = child(walk, node, "limit");
    const yaml_node_t *kind = plan_walk_good(walk, limit, "kind");
    const yaml_node_t *subject = plan_walk_good(walk, limit, "applies_to");
    if (!kind)
        return;
    plan_check_limit(walk, &product->life, limit);
    if (product->life.kind != LIMIT_ZONE && product->life.kind != LIMIT_NONE)
        plan_walk_fault(
            walk, kind,
            "a product's own limit, over all its steps, is a danger_zone; write the "
            "rest into its steps");
    else if (subject && product->life.subject == SUBJECT_AIR)
        plan_walk_fault(walk, subject,
                        "a danger_zone is one of the food; write applies_to: food");
}

/* A date belongs to the food, wherever it is. */
static void
check_mark(struct walk *walk, struct plan_product *product, const yaml_node_t *node)
{
    const yaml_node_t *limit = child(walk, node, "date_mark");
    const yaml_node_t *kind = plan_walk_good(walk, limit, "kind");
    const yaml_node_t *subject = plan_walk_good(walk, limit, "applies_to");
    if (!kind)
        return;
    plan_check_limit(walk, &product->mark, limit);
    if (product->mark.kind != LIMIT_DAYS && product->mark.kind != LIMIT_NONE)
        plan_walk_fault(walk, kind,
                        "date_mark counts days; write kind: date_mark, and other limits into "
                        "the product's steps");
    else if (subject && product->mark.subject == SUBJECT_AIR)
        plan_walk_fault(walk, subject, "a date is one of the food; write applies_to: food");
}

static void
check_products(struct walk *walk, const struct plan *plan, const yaml_node_t *products)
{
    for (size_t i = 0; i < plan->product_count; i++) {
        const yaml_node_t *steps =
            child(walk, plan_tree_item(walk->tree, products, i), "steps");
        check_life(walk, &plan->products[i], plan_tree_item(walk->tree, products, i));
        check_mark(walk, &plan->products[i], plan_tree_item(walk->tree, products, i));
        for (size_t k = 0; k < plan->products[i].step_count; k++)
            check_step(walk, plan, &plan->products[i].steps[k],
                       plan_tree_item(walk->tree, steps, k));
    }
}

/* ---- settings ---- */

static void
check_alarm(struct walk *walk, const yaml_node_t *alarm)
{
    const yaml_node_t *program =
        plan_tree_item(walk->tree, plan_walk_good(walk, alarm, "command"), 0);
    if (program && program->type == YAML_SCALAR_NODE && program->data.scalar.length > 0 &&
        program->data.scalar.value[0] != '/')
        plan_walk_fault(walk, program,
                        "the program is named without its place; write its whole path, such as "
                        "/usr/bin/logger");
}

static bool
is_role(const char *word)
{
    return strcmp(word, "cook") == 0 || strcmp(word, "supervisor") == 0 ||
           strcmp(word, "verifier") == 0;
}

/* Each level is told later than the one before, to somebody there is. */
static void
check_escalation(struct walk *walk, const struct plan *plan, const yaml_node_t *levels)
{
    for (size_t i = 0; levels && i < plan->escalation_count; i++) {
        const struct plan_escalation *level = &plan->escalation[i];
        const yaml_node_t *node = plan_tree_item(walk->tree, levels, i);
        const yaml_node_t *tell = plan_walk_good(walk, node, "tell"),
                          *after = plan_walk_good(walk, node, "after");
        check_alarm(walk, node);
        if (tell && !is_role(level->tell) && !plan_person(plan, level->tell))
            plan_walk_fault(walk, tell,
                            "'%s' is neither a role nor one of the people; write cook, "
                            "supervisor, verifier or initials",
                            level->tell);
        if (after && i > 0 && level->after_ms < plan->escalation[i - 1].after_ms)
            plan_walk_fault(walk, after,
                            "this level comes before the one above it; write them in order, "
                            "the soonest first");
    }
}

static void
check_duties(struct walk *walk, const struct plan *plan, const yaml_node_t *duties)
{
    const yaml_node_t *roles = plan_walk_good(walk, duties, "pins");
    for (size_t i = 0; roles && plan->duties.pins[i]; i++)
        if (!is_role(plan->duties.pins[i]))
            plan_walk_fault(walk, plan_tree_item(walk->tree, roles, i),
                            "'%s' is no role; write cook, supervisor or verifier",
                            plan->duties.pins[i]);
    static const char days[] = "mon tue wed thu fri sat sun";
    const yaml_node_t *list = plan_walk_good(walk, duties, "working_days");
    for (size_t i = 0; list && plan->duties.working_days[i]; i++) {
        const char *day = plan->duties.working_days[i];
        const char *found = strlen(day) == 3 ? strstr(days, day) : NULL;
        bool twice = false;
        for (size_t k = 0; k < i; k++)
            twice = twice || strcmp(plan->duties.working_days[k], day) == 0;
        if (!found || (found - days) % 4 != 0)
            plan_walk_fault(walk, plan_tree_item(walk->tree, list, i),
                            "'%s' is not a day of the week; write mon, tue, wed, thu, fri, sat "
                            "or sun",
                            day);
        else if (twice)
            plan_walk_fault(walk, plan_tree_item(walk->tree, list, i),
                            "'%s' is given twice; write each day once", day);
    }
}

/* The default socket lies in the directory; a socket's path has to fit the kernel's. */
static void
finish_records(struct walk *walk, struct plan *plan, const yaml_node_t *records)
{
    const yaml_node_t *directory = child(walk, records, "directory");
    const yaml_node_t *socket = child(walk, records, "socket");
    if (!plan->records.directory || (socket && !plan->records.socket))
        return;
    if (!socket) {
        size_t len = strlen(plan->records.directory);
        char *path = plan_arena_take(walk->arena, len + sizeof("/control"), 1);
        if (!path)
            return;
        (void)snprintf(path, len + sizeof("/control"), "%s/control",
                       plan->records.directory); /* fits */
        plan->records.socket = path;
    }
    if (strlen(plan->records.socket) <= SOCKET_PATH_BYTES)
        return;
    const yaml_node_t *at = socket      ? socket
                            : directory ? directory
                                        : plan_tree_root(walk->tree);
    plan_walk_fault(walk, at,
                    "the path of the socket is %zu bytes long and %d is the most; write "
                    "records: socket: with a shorter one, such as /run/trivet/control",
                    strlen(plan->records.socket), SOCKET_PATH_BYTES);
}

void
plan_check(struct walk *walk, struct plan *plan)
{
    const yaml_node_t *root = plan_tree_root(walk->tree);
    if (!root || root->type != YAML_MAPPING_NODE)
        return;
    const yaml_node_t *probes = child(walk, root, "probes");
    check_people(walk, plan, root);
    check_approval(walk, plan, root);
    check_buses(walk, plan, root);
    for (size_t i = 0; i < plan->probe_count; i++)
        check_probe(walk, plan, &plan->probes[i], plan_tree_item(walk->tree, probes, i));
    check_registers(walk, plan, probes);
    plan_check_lines(walk, plan);
    plan_check_sensors(walk, plan);
    check_places(walk, plan, child(walk, root, "places"));
    plan_check_switches(walk, plan);
    plan_check_signals(walk, plan);
    check_products(walk, plan, child(walk, root, "products"));
    plan_check_calibration(walk, plan);
    check_duties(walk, plan, child(walk, root, "duties"));
    plan_check_uncertainty(walk, plan);
    check_alarm(walk, child(walk, root, "alarm"));
    check_escalation(walk, plan, child(walk, root, "escalation"));
    finish_records(walk, plan, child(walk, root, "records"));
}
