/* What no single key shows of signals: a bus on which they can be set, a coil for each. Each
 * check is silent about values already found wrong. */
#include "daemon/plan/schema.h"

static bool
is_modbus(enum bus_driver driver)
{
    return driver == BUS_MODBUS_RTU || driver == BUS_MODBUS_TCP || driver == BUS_MODBUS_RTU_TCP;
}

static bool
is_read_as_switch(const struct plan *plan, const struct plan_signal *signal)
{
    for (size_t i = 0; i < plan->switch_count; i++) {
        const struct plan_switch *of = &plan->switches[i];
        if (of->bus == signal->bus && of->unit == signal->unit && of->function == 1 &&
            of->address == signal->coil)
            return true;
    }
    return false;
}

static bool
is_taken(const struct plan *plan, size_t index)
{
    const struct plan_signal *signal = &plan->signals[index];
    for (size_t i = 0; i < index; i++)
        if (plan->signals[i].bus == signal->bus && plan->signals[i].unit == signal->unit &&
            plan->signals[i].coil == signal->coil)
            return true;
    return false;
}

void
plan_check_signals(struct walk *walk, const struct plan *plan)
{
    const yaml_node_t *root = plan_tree_root(walk->tree);
    const yaml_node_t *signals = plan_tree_child(walk->tree, root, "signals");
    for (size_t i = 0; i < plan->signal_count; i++) {
        const struct plan_signal *signal = &plan->signals[i];
        const yaml_node_t *node = plan_tree_item(walk->tree, signals, i);
        const yaml_node_t *bus = plan_walk_good(walk, node, "bus"),
                          *unit = plan_walk_good(walk, node, "unit"),
                          *coil = plan_walk_good(walk, node, "coil"),
                          *toggles = plan_walk_good(walk, node, "toggles");
        if (bus && !is_modbus(plan->buses[signal->bus].driver)) {
            plan_walk_fault(walk, bus,
                            "bus '%s' is no Modbus one, and a signal is a coil of a Modbus "
                            "device; name another bus",
                            plan->buses[signal->bus].id);
            continue;
        }
        if (bus && unit)
            plan_check_unit(walk, &plan->buses[signal->bus], signal->unit, unit);
        if (bus && unit && coil && is_taken(plan, i))
            plan_walk_fault(walk, coil,
                            "another signal has this coil already; give each its own");
        else if (bus && unit && coil && is_read_as_switch(plan, signal))
            plan_walk_fault(walk, coil,
                            "a switch is read from this coil; a coil that Trivet sets tells "
                            "nothing of a door or button");
        if (toggles && signal->toggles && signal->shows != SHOWS_ALIVE)
            plan_walk_fault(walk, toggles,
                            "only a signal that shows: alive can toggle; write no, or a signal "
                            "of its own for it");
    }
}
