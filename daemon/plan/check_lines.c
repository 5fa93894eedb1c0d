/* What no single key shows of buses and probes that are no Modbus ones: the pattern of a serial
 * line and what its probes need, 1-Wire addresses, the kernel's file names, recordings. Each
 * check is silent about values already found wrong. */
#include <string.h>

#include "daemon/plan/schema.h"
#include "trivet/line_pattern.h"

/* Of a serial line, as far as it could be compiled. */
struct line {
    struct line_pattern pattern;
    struct line_poll poll;
    bool is_known;
};

static yaml_node_t *
item_of(struct walk *walk, const char *list, size_t i)
{
    return plan_tree_item(walk->tree,
                          plan_tree_child(walk->tree, plan_tree_root(walk->tree), list), i);
}

/* ---- serial lines ---- */

static void
compile_line(struct walk *walk, const struct plan_bus *bus, const yaml_node_t *node,
             bool is_tell, struct line *ret)
{
    struct line_fault fault;
    const yaml_node_t *pattern = plan_walk_good(walk, node, "pattern");
    const yaml_node_t *poll = plan_walk_good(walk, node, "poll");
    *ret = (struct line){.is_known = pattern && bus->pattern && (!bus->poll || poll)};
    if (ret->is_known && !line_pattern_compile(bus->pattern, &ret->pattern, &fault)) {
        ret->is_known = false;
        if (is_tell)
            plan_walk_fault_within(walk, pattern, fault.at, "pattern: %s", fault.text);
    }
    if (poll && bus->poll && !line_poll_compile(bus->poll, &ret->poll, &fault)) {
        ret->is_known = false;
        if (is_tell)
            plan_walk_fault_within(walk, poll, fault.at, "poll: %s", fault.text);
    }
}

static void
check_line(struct walk *walk, const struct plan_bus *bus, const yaml_node_t *node)
{
    struct line line;
    compile_line(walk, bus, node, true, &line);
    const yaml_node_t *status = plan_walk_good(walk, node, "good_status");
    const bool has_status = plan_tree_child(walk->tree, node, "good_status");
    if (!line.is_known)
        return;
    if (line.pattern.has_status && !has_status)
        plan_walk_fault(walk, plan_tree_child(walk->tree, node, "pattern"),
                        "the pattern has a {status}, and nothing says which is good; write "
                        "good_status: [OK], or {skip} in its place");
    else if (status && !line.pattern.has_status)
        plan_walk_fault(walk, status,
                        "the pattern has no {status}; write one where it stands, or delete "
                        "good_status");
}

static void
check_line_probe(struct walk *walk, const struct plan_bus *bus, const yaml_node_t *bus_node,
                 const struct plan_probe *probe, const yaml_node_t *node)
{
    static const char *const in_degrees[] = {"scale", "offset"};
    struct line line;
    compile_line(walk, bus, bus_node, false, &line);
    const yaml_node_t *channel = plan_walk_good(walk, node, "channel");
    const bool has_channel = plan_tree_child(walk->tree, node, "channel");
    if (!line.is_known)
        return;
    const bool needs =
        line.pattern.has_channel || line.pattern.has_names || line.poll.has_channel;
    if (needs && !has_channel)
        plan_walk_fault(walk, node,
                        "a probe lacks 'channel', and bus '%s' has several; write channel: and "
                        "the name that the line gives it",
                        bus->id);
    else if (channel && !needs)
        plan_walk_fault(
            walk, channel,
            "neither the pattern nor the poll of bus '%s' has a channel; delete it, "
            "or write {channel} there",
            bus->id);
    else if (channel && line.pattern.has_names &&
             !line_pattern_names(&line.pattern, probe->channel))
        plan_walk_fault(walk, channel,
                        "the pattern of bus '%s' has no value of this channel; write the name "
                        "behind {value: there",
                        bus->id);
    for (size_t i = 0; line.pattern.has_unit && i < 2; i++) {
        const yaml_node_t *value = plan_walk_good(walk, node, in_degrees[i]);
        if (value)
            plan_walk_fault(
                walk, value,
                "the line says its unit itself ({unit} in the pattern of bus '%s'); "
                "delete %s, or write {skip} there",
                bus->id, in_degrees[i]);
    }
}

/* ---- 1-Wire ---- */

static bool
are_hex(const char *text, size_t len)
{
    return strspn(text, "0123456789abcdef") >= len;
}

/* Linux, drivers/w1: directories are named "%02x-%012llx". The families of thermometers are
 * those of w1_therm. */
static void
check_address(struct walk *walk, const struct plan_probe *probe, const yaml_node_t *node)
{
    static const char *const families[] = {"10", "22", "28", "3b", "42"};
    const yaml_node_t *address = plan_walk_good(walk, node, "address");
    if (!address)
        return;
    if (strlen(probe->address) != 15 || !are_hex(probe->address, 2) ||
        probe->address[2] != '-' || !are_hex(probe->address + 3, 12)) {
        plan_walk_fault(walk, address,
                        "address: this is no 1-Wire id; write one as ls /sys/bus/w1/devices "
                        "shows it, such as 28-0316a2794aff");
        return;
    }
    for (size_t i = 0; i < sizeof(families) / sizeof(families[0]); i++)
        if (strncmp(probe->address, families[i], 2) == 0)
            return;
    plan_walk_fault(walk, address,
                    "address: family %.2s is no thermometer that the kernel reads; write one "
                    "that begins with 10, 22, 28, 3b or 42",
                    probe->address);
}

/* ---- IIO and hwmon ---- */

#define FILE_CHARACTERS "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789_.:-"

/* Linux, Documentation/ABI/testing/sysfs-bus-iio: in_temp..., in_tempX..., in_voltageX-voltageY
 * and in_resistanceX...; hwmon/sysfs-interface: tempX and inX. */
static bool
is_node_channel(const char *channel, bool has_sensor)
{
    static const char *const of_iio[] = {"in_temp", "in_voltage", "in_resistance"};
    for (size_t i = has_sensor; i < (has_sensor ? 3U : 1U); i++)
        if (strncmp(channel, of_iio[i], strlen(of_iio[i])) == 0)
            return strspn(channel, i == 1 ? "abcdefghijklmnopqrstuvwxyz0123456789_-"
                                          : "abcdefghijklmnopqrstuvwxyz0123456789_") ==
                   strlen(channel);
    const char *of_hwmon = has_sensor ? "in" : "temp";
    const size_t len = strlen(of_hwmon);
    const size_t digits =
        strncmp(channel, of_hwmon, len) == 0 ? strspn(channel + len, "0123456789") : 0;
    return digits > 0 && channel[len + digits] == '\0';
}

static void
check_node(struct walk *walk, const struct plan_probe *probe, const yaml_node_t *node)
{
    const yaml_node_t *name = plan_walk_good(walk, node, "node");
    const yaml_node_t *channel = plan_walk_good(walk, node, "channel");
    const bool has_sensor = plan_tree_child(walk->tree, node, "sensor");
    if (name &&
        (strspn(probe->node, FILE_CHARACTERS) != strlen(probe->node) || probe->node[0] == '.'))
        plan_walk_fault(
            walk, name,
            "node: no device is named so; write what its file `name` holds, such as "
            "max31856, or its directory, such as hwmon2");
    if (!plan_tree_child(walk->tree, node, "channel"))
        plan_walk_fault(
            walk, node,
            "a probe lacks 'channel'; write channel: in_temp, or what stands before "
            "_raw or _input in the device's directory");
    else if (channel && !is_node_channel(probe->channel, has_sensor))
        plan_walk_fault(
            walk, channel,
            has_sensor ? "channel: the kernel gives neither a voltage nor a resistance by this "
                         "name; write in_voltage0, in_resistance0 or in1, what stands before "
                         "_raw or _input in the device's directory"
                       : "channel: this is no temperature of the kernel; write in_temp or "
                         "temp1, what stands before _raw or _input in the device's directory");
}

/* ---- recordings ---- */

/* Invented or past temperatures among a kitchen's own would be a false record. */
static void
check_recording(struct walk *walk, const struct plan *plan, const yaml_node_t *node)
{
    const yaml_node_t *driver = plan_walk_good(walk, node, "driver");
    const yaml_node_t *site = plan_tree_child(walk->tree, plan_tree_root(walk->tree), "site");
    const bool is_known =
        !plan_tree_child(walk->tree, site, "demo") || plan_walk_good(walk, site, "demo");
    if (driver && is_known && !plan->demo)
        plan_walk_fault(walk, driver,
                        "a recording is no measurement of this kitchen; write demo: yes under "
                        "site, so that everything shown is labelled, or another driver");
}

void
plan_check_lines(struct walk *walk, const struct plan *plan)
{
    for (size_t i = 0; i < plan->bus_count; i++) {
        const yaml_node_t *node = item_of(walk, "buses", i);
        if (!plan_walk_good(walk, node, "driver"))
            continue;
        if (plan->buses[i].driver == BUS_SERIAL_LINE)
            check_line(walk, &plan->buses[i], node);
        if (plan->buses[i].driver == BUS_TRACE)
            check_recording(walk, plan, node);
    }
    for (size_t i = 0; i < plan->probe_count; i++) {
        const struct plan_probe *probe = &plan->probes[i];
        const yaml_node_t *node = item_of(walk, "probes", i);
        if (!plan_walk_good(walk, node, "bus"))
            continue;
        const struct plan_bus *bus = &plan->buses[probe->bus];
        const yaml_node_t *bus_node = item_of(walk, "buses", probe->bus);
        if (!plan_walk_good(walk, bus_node, "driver"))
            continue;
        if (bus->driver == BUS_SERIAL_LINE)
            check_line_probe(walk, bus, bus_node, probe, node);
        else if (bus->driver == BUS_ONEWIRE)
            check_address(walk, probe, node);
        else if (bus->driver == BUS_IIO)
            check_node(walk, probe, node);
    }
}
