/* What no single key shows of switches: a bus on which they can be read, units, addresses. Each
 * check is silent about values already found wrong. */
#include "daemon/plan/schema.h"

static void
check_switch(struct walk *walk, const struct plan *plan, const struct plan_switch *of,
             const yaml_node_t *node)
{
    const struct plan_bus *bus = &plan->buses[of->bus];
    const yaml_node_t *unit = plan_walk_good(walk, node, "unit");
    if (bus->driver != BUS_MODBUS_TCP && bus->driver != BUS_MODBUS_RTU &&
        bus->driver != BUS_MODBUS_RTU_TCP) {
        plan_walk_fault(walk, plan_walk_good(walk, node, "bus"),
                        "bus '%s' is no Modbus one, and a switch is a coil or an input of a "
                        "Modbus device; name another bus",
                        bus->id);
        return;
    }
    if (unit)
        plan_check_unit(walk, bus, of->unit, unit);
}

static bool
is_same(const struct plan_switch *a, const struct plan_switch *b)
{
    return a->bus == b->bus && a->unit == b->unit && a->function == b->function &&
           a->address == b->address;
}

static void
check_address(struct walk *walk, const struct plan *plan, const yaml_node_t *switches, size_t i)
{
    static const char *const keys[] = {"bus", "unit", "function", "address"};
    for (size_t before = 0; before <= i; before++) {
        const yaml_node_t *node = plan_tree_item(walk->tree, switches, before);
        for (size_t k = 0; k < sizeof(keys) / sizeof(keys[0]); k++)
            if (!plan_walk_good(walk, node, keys[k]))
                return;
        if (before == i || !is_same(&plan->switches[before], &plan->switches[i]))
            continue;
        plan_walk_fault(
            walk, plan_walk_good(walk, plan_tree_item(walk->tree, switches, i), "address"),
            "switch '%s' is at this address already; look it up in the device's manual",
            plan->switches[before].id);
        return;
    }
}

void
plan_check_switches(struct walk *walk, const struct plan *plan)
{
    const yaml_node_t *root = plan_tree_root(walk->tree);
    const yaml_node_t *switches = plan_tree_child(walk->tree, root, "switches");
    const yaml_node_t *buses = plan_tree_child(walk->tree, root, "buses");
    for (size_t i = 0; i < plan->switch_count; i++) {
        const yaml_node_t *node = plan_tree_item(walk->tree, switches, i);
        if (!plan_walk_good(walk, node, "bus"))
            continue;
        const yaml_node_t *bus_node = plan_tree_item(walk->tree, buses, plan->switches[i].bus);
        if (plan_walk_good(walk, bus_node, "driver"))
            check_switch(walk, plan, &plan->switches[i], node);
        check_address(walk, plan, switches, i);
    }
}
