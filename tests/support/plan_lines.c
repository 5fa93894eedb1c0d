/* See plan_lines.h. */
#include "tests/support/plan_lines.h"

#include <stdio.h>
#include <string.h>

#include "tests/support/check.h"

static const char *const base[] = {
    /*  1 */ "site:",
    /*  2 */ "  name: Test kitchen",
    /*  3 */ "  time_zone: UTC",
    /*  4 */ "people:",
    /*  5 */ "  - {initials: AB, name: Ana Brandt, role: cook}",
    /*  6 */ "  - {initials: RS, name: Ruth Sandoval, role: verifier}",
    /*  7 */ "buses:",
    /*  8 */ "  - {id: line, driver: modbus-rtu, device: /dev/ttyS0}",
    /*  9 */ "  - {id: rack, driver: modbus-tcp, host: 192.0.2.10}",
    /* 10 */ "probes:",
    /* 11 */ "  - id: core",
    /* 12 */ "    name: Core",
    /* 13 */ "    kind: food",
    /* 14 */ "    bus: line",
    /* 15 */ "    unit: 11",
    /* 16 */ "    function: 4",
    /* 17 */ "    register: 0",
    /* 18 */ "    type: int16",
    /* 19 */ "    plausible: [-20 °C, 150 °C]",
    /* 20 */ "    scale: 0.1 °C",
    /* 21 */ "    offset: 0 °C",
    /* 22 */ "    fault_values: [32767]",
    /* 23 */ "    every: 5 s",
    /* 24 */
    ("  - {id: air, name: Air, kind: air, bus: rack, unit: 1, function: 3, register: 10, "
     "type: float32, plausible: [-40 °C, 60 °C]}"),
    /* 25 */ "thermometers:",
    /* 26 */ "  - {id: pen, name: Pen}",
    /* 27 */ "places:",
    /* 28 */ "  - id: walk-in",
    /* 29 */ "    name: Walk-in",
    /* 30 */ "    probe: air",
    /* 31 */ "    limit:",
    /* 32 */ "      kind: hold_cold",
    /* 33 */ "      applies_to: air",
    /* 34 */ "      at_most: 5 °C",
    /* 35 */ "      tolerance: 20 min",
    /* 36 */ "      back_for: 5 min",
    /* 37 */ "products:",
    /* 38 */ "  - id: roast",
    /* 39 */ "    name: Roast",
    /* 40 */ "    steps:",
    /* 41 */ "      - id: cook",
    /* 42 */ "        name: Cooking",
    /* 43 */ "        limit: {kind: cook, applies_to: food, at_least: 63 °C, for: 3 min}",
    /* 44 */ "      - id: cool",
    /* 45 */ "        name: Cooling",
    /* 46 */ "        limit:",
    /* 47 */ "          kind: cool",
    /* 48 */ "          applies_to: food",
    /* 49 */ "          from: 57 °C",
    /* 50 */ "          stages:",
    /* 51 */ "            - {to: 21 °C, within: 2 h}",
    /* 52 */ "            - {to: 5 °C, within: 6 h}",
    /* 53 */ "      - id: reheat",
    /* 54 */ "        name: Reheating",
    /* 55 */ "        limit: {kind: reheat, applies_to: food, at_least: 165 °F, within: 2 h}",
    /* 56 */ "tolerances: {silent_for: 5 min}",
    /* 57 */ "alarm: {command: [/bin/true], timeout: 10 s}",
    /* 58 */ "web: {port: 8470}",
    /* 59 */ "records: {directory: /var/lib/trivet}",
};

/* The plan with one line replaced (0: none; NULL: left out). */
size_t
plan_lines_write(char *buf, size_t size, size_t line, const char *text)
{
    size_t len = 0;
    for (size_t i = 0; i < COUNT_OF(base); i++) {
        const char *one = i + 1 == line ? text : base[i];
        if (one)
            len += (size_t)snprintf(buf + len, size - len, "%s\n", one);
    }
    assert_true(len < size);
    return len;
}

struct plan *
load_with(size_t line, const char *text, struct plan_faults *ret_faults)
{
    char buf[8192];
    size_t len = plan_lines_write(buf, sizeof(buf), line, text);
    return plan_load_text("/etc/trivet/plan.yaml", buf, len, ret_faults);
}

char *
all_faults(const struct plan_faults *faults)
{
    static char buf[40000];
    plan_faults_text(faults, "plan", buf, sizeof(buf));
    return buf;
}

struct plan *
load_good(size_t line, const char *text)
{
    struct plan_faults faults;
    struct plan *plan = load_with(line, text, &faults);
    if (!plan)
        fail_msg("line %zu \"%s\" should load:\n%s", line, text ? text : "",
                 all_faults(&faults));
    return plan;
}

void
check_one_fault(const struct fault_case *one)
{
    struct plan_faults faults;
    struct plan *plan = load_with(one->line, one->text, &faults);
    const char *text = one->text ? one->text : "(left out)";
    if (plan)
        fail_msg("line %zu \"%s\" was accepted", one->line, text);
    if (faults.count != 1 || faults.more)
        fail_msg("line %zu \"%s\": one fault expected:\n%s", one->line, text,
                 all_faults(&faults));
    if (faults.fault[0].line != one->at_line || faults.fault[0].column != one->at_column ||
        !strstr(faults.fault[0].text, one->told))
        fail_msg("line %zu \"%s\": %d:%d %s expected:\n%s", one->line, text, one->at_line,
                 one->at_column, one->told, all_faults(&faults));
}
