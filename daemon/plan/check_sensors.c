/* What no single key shows of probes whose device gives what a sensor gives, in mV or ohm, in
 * place of degrees: that unit and sensor fit, and where a thermocouple's cold junction is. Each
 * check is silent about values already found wrong. */
#include <string.h>
#include <strings.h>

#include "daemon/plan/schema.h"
#include "trivet/sensor.h"

/* A probe while it is checked. */
struct wired {
    struct walk *walk;
    struct plan *plan;
    struct plan_probe *probe;
    const yaml_node_t *node;
    struct sensor sensor;
};

static const yaml_node_t *
key_of(const struct wired *wired, const char *key)
{
    return plan_tree_child(wired->walk->tree, wired->node, key);
}

static const yaml_node_t *
good_of(const struct wired *wired, const char *key)
{
    return plan_walk_good(wired->walk, wired->node, key);
}

static const char *
units_of(const struct sensor *sensor)
{
    return sensor->family == SENSOR_THERMOCOUPLE ? "mV, uV or V" : "ohm or kohm";
}

/* ---- in which unit the number is ---- */

/* The kernel's voltages are mV and its resistances ohm: Linux,
 * Documentation/ABI/testing/sysfs-bus-iio and hwmon/sysfs-interface. */
static void
check_kernel_unit(struct wired *wired)
{
    if (!good_of(wired, "channel"))
        return;
    const bool is_ohm = strncmp(wired->probe->channel, "in_resistance", 13) == 0;
    wired->probe->signal = is_ohm ? SIGNAL_OHM : SIGNAL_MV;
    if (!sensor_gives(&wired->sensor, wired->probe->signal))
        plan_walk_fault(wired->walk, key_of(wired, "sensor"),
                        "the channel gives %s and a %s %s; write scale: %s: what one %s of it "
                        "means, or another channel",
                        is_ohm ? "ohm" : "mV", wired->sensor.name, is_ohm ? "mV" : "ohm",
                        is_ohm ? "1 mV" : "1 ohm", is_ohm ? "ohm" : "mV");
}

/* Whether each line says its unit itself; then scale was refused already. */
static bool
says_unit(const struct plan_bus *bus)
{
    return bus->driver == BUS_SERIAL_LINE && bus->pattern && strstr(bus->pattern, "{unit}");
}

static void
check_unit_of(struct wired *wired)
{
    const yaml_node_t *scale = good_of(wired, "scale");
    const struct plan_bus *bus = &wired->plan->buses[wired->probe->bus];
    if (scale && !sensor_gives(&wired->sensor, wired->probe->signal))
        plan_walk_fault(wired->walk, scale,
                        "scale is in a unit that a %s does not give; write it in %s",
                        wired->sensor.name, units_of(&wired->sensor));
    if (key_of(wired, "scale") || says_unit(bus))
        return;
    if (bus->driver == BUS_IIO)
        check_kernel_unit(wired);
    else
        plan_walk_fault(wired->walk, wired->node,
                        "a probe with a sensor lacks 'scale'; write scale: %s: what one count "
                        "of the device is",
                        wired->sensor.family == SENSOR_THERMOCOUPLE ? "0.01 mV" : "0.1 ohm");
}

/* ---- where a thermocouple's wires end ---- */

/* A thermocouple there would need a cold junction of its own, and so on. */
static bool
is_thermocouple(const struct plan_probe *probe)
{
    return probe->sensor && strncasecmp(probe->sensor, "tc-", 3) == 0;
}

static void
check_cold_probe(const struct wired *wired, const yaml_node_t *cold)
{
    const struct plan_probe *other = &wired->plan->probes[wired->probe->cold_probe];
    if (other == wired->probe)
        plan_walk_fault(wired->walk, cold,
                        "cold_junction: a thermocouple is not its own cold junction; write the "
                        "id of the probe at the terminals where its wires end");
    else if (other->bus != wired->probe->bus)
        plan_walk_fault(wired->walk, cold,
                        "cold_junction: probe '%s' is on another bus; write the id of one on "
                        "bus '%s', or the temperature of the terminals",
                        other->id, wired->plan->buses[wired->probe->bus].id);
    else if (is_thermocouple(other))
        plan_walk_fault(wired->walk, cold,
                        "cold_junction: probe '%s' is a thermocouple itself; write the id of "
                        "the sensor inside the device, or the temperature of the terminals",
                        other->id);
}

static void
check_cold_junction(const struct wired *wired)
{
    const yaml_node_t *cold = good_of(wired, "cold_junction");
    if (wired->sensor.family != SENSOR_THERMOCOUPLE) {
        if (cold)
            plan_walk_fault(wired->walk, cold,
                            "cold_junction: a %s has none; delete it, or write sensor: tc-k",
                            wired->sensor.name);
    } else if (!key_of(wired, "cold_junction")) {
        plan_walk_fault(wired->walk, wired->node,
                        "a thermocouple lacks 'cold_junction'; write cold_junction: and the id "
                        "of the probe at the terminals where its wires end, or their "
                        "temperature, such as 0 °C in an ice bath");
    } else if (cold && wired->probe->cold_probe >= 0) {
        check_cold_probe(wired, cold);
    }
}

/* ---- probes ---- */

static void
check_plain(const struct wired *wired)
{
    const yaml_node_t *scale = good_of(wired, "scale");
    const yaml_node_t *cold = good_of(wired, "cold_junction");
    const bool is_kernel =
        good_of(wired, "bus") && wired->plan->buses[wired->probe->bus].driver == BUS_IIO;
    const yaml_node_t *offset = good_of(wired, "offset");
    if (cold)
        plan_walk_fault(wired->walk, cold,
                        "cold_junction has no meaning without a sensor; write sensor: tc-k, or "
                        "delete it");
    if (is_kernel && (scale || offset))
        plan_walk_fault(wired->walk, scale ? scale : offset,
                        "the kernel's temperatures are degrees already; delete it, or write "
                        "sensor: and what is measured");
    else if (scale && wired->probe->signal != SIGNAL_TEMP)
        plan_walk_fault(wired->walk, scale,
                        "scale is in %s, and nothing says what that means; write sensor: %s, "
                        "or a scale in °C or °F",
                        wired->probe->signal == SIGNAL_OHM ? "ohm" : "mV",
                        wired->probe->signal == SIGNAL_OHM ? "pt100" : "tc-k");
}

void
plan_check_sensors(struct walk *walk, struct plan *plan)
{
    const yaml_node_t *probes =
        plan_tree_child(walk->tree, plan_tree_root(walk->tree), "probes");
    for (size_t i = 0; i < plan->probe_count; i++) {
        struct wired wired = {.walk = walk,
                              .plan = plan,
                              .probe = &plan->probes[i],
                              .node = plan_tree_item(walk->tree, probes, i)};
        struct sensor_refusal why = {{0}};
        if (!plan->probes[i].sensor) {
            if (!key_of(&wired, "sensor"))
                check_plain(&wired);
            continue;
        }
        if (!good_of(&wired, "bus") ||
            !sensor_parse(plan->probes[i].sensor, &wired.sensor, &why))
            continue; /* told already */
        check_unit_of(&wired);
        check_cold_junction(&wired);
    }
}
