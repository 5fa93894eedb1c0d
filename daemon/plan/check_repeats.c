/* What no single key shows of how often a probe or switch is read, and a signal written: on
 * lines of serial frames a second copy of a reply may come for as long as longest_delay, and
 * must find nobody who waits for the same again (docs/modbus.md). Silent about values already
 * found wrong. */
#include "daemon/plan/quantity.h"
#include "daemon/plan/schema.h"

static void
check_every(struct walk *walk, const struct plan_bus *bus, const char *key, int32_t every_ms,
            const yaml_node_t *node)
{
    char text[QUANTITY_DURATION_MAX];
    const yaml_node_t *every = plan_walk_good(walk, node, key);
    if (every_ms > bus->max_late_ms || (!every && plan_tree_child(walk->tree, node, key)))
        return;
    plan_walk_fault(
        walk, every ? every : node,
        "%s%s has to be longer than longest_delay of bus '%s', %s; write a longer time, or a "
        "shorter longest_delay",
        every ? "" : "the default of ", key, bus->id,
        quantity_duration_text(text, bus->max_late_ms));
}

/* The bus that the entry names, when it is one of serial frames whose longest_delay is known.
 */
static const struct plan_bus *
repeating_bus(struct walk *walk, const struct plan *plan, uint16_t bus, const yaml_node_t *node)
{
    const yaml_node_t *buses = plan_tree_child(walk->tree, plan_tree_root(walk->tree), "buses");
    if (!plan_walk_good(walk, node, "bus"))
        return NULL;
    const yaml_node_t *bus_node = plan_tree_item(walk->tree, buses, bus);
    const enum bus_driver driver = plan->buses[bus].driver;
    if (!plan_walk_good(walk, bus_node, "driver") ||
        (driver != BUS_MODBUS_RTU && driver != BUS_MODBUS_RTU_TCP) ||
        (plan_tree_child(walk->tree, bus_node, "longest_delay") &&
         !plan_walk_good(walk, bus_node, "longest_delay")))
        return NULL;
    return &plan->buses[bus];
}

void
plan_check_repeats(struct walk *walk, const struct plan *plan)
{
    const yaml_node_t *root = plan_tree_root(walk->tree);
    const yaml_node_t *probes = plan_tree_child(walk->tree, root, "probes");
    const yaml_node_t *switches = plan_tree_child(walk->tree, root, "switches");
    const yaml_node_t *signals = plan_tree_child(walk->tree, root, "signals");
    for (size_t i = 0; i < plan->probe_count; i++) {
        const yaml_node_t *node = plan_tree_item(walk->tree, probes, i);
        const struct plan_bus *bus = repeating_bus(walk, plan, plan->probes[i].bus, node);
        if (bus)
            check_every(walk, bus, "every", plan->probes[i].every_ms, node);
    }
    for (size_t i = 0; i < plan->switch_count; i++) {
        const yaml_node_t *node = plan_tree_item(walk->tree, switches, i);
        const struct plan_bus *bus = repeating_bus(walk, plan, plan->switches[i].bus, node);
        if (bus)
            check_every(walk, bus, "every", plan->switches[i].every_ms, node);
    }
    for (size_t i = 0; i < plan->signal_count; i++) {
        const yaml_node_t *node = plan_tree_item(walk->tree, signals, i);
        const struct plan_bus *bus = repeating_bus(walk, plan, plan->signals[i].bus, node);
        if (bus)
            check_every(walk, bus, "heartbeat", plan->signals[i].heartbeat_ms, node);
    }
}
