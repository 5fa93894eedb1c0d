/* Of as many probes as a batch can have the last counts like the others: docs/engine.md E9,
 * E17, E60, E100, E102, E159, E163, E167. */
#include "tests/support/check.h"

#include <stdio.h>

#include "tests/support/engine_rig.h"

#define PROBES 8

_Static_assert(PROBES == ENTRY_PROBES_MAX, "as many as a batch can have");

/* A kitchen with eight food probes and one product with one step. */
static struct rig *
kitchen(const char *limit, const char *life)
{
    static char text[4000];
    size_t n = (size_t)snprintf(
        text, sizeof text,
        "site: {name: Harbour Lane Kitchen, time_zone: UTC}\n"
        "people: [{initials: AB, name: Ana Brandt, role: cook}, {initials: SB, name: Sara "
        "Berg, role: verifier}]\n"
        "buses: [{id: rack, driver: modbus-tcp, host: 127.0.0.1, port: 1502}]\n"
        "thermometers: [{id: pen, name: Pen}]\n"
        "probes:\n");
    for (int i = 1; i <= PROBES; i++)
        n += (size_t)snprintf(text + n, sizeof text - n,
                              "  - {id: p%d, name: P%d, kind: food, bus: rack, unit: 1, "
                              "function: 4, register: %d, type: int16, scale: 0.1 °C, "
                              "plausible: [-40 °C, 300 °C], every: 10 s}\n",
                              i, i, i);
    n += (size_t)snprintf(text + n, sizeof text - n,
                          "products:\n  - id: dish\n    name: Dish\n%s%s%s    steps:\n"
                          "      - {id: first, name: First, limit: %s}\n",
                          life ? "    limit: " : "", life ? life : "", life ? "\n" : "", limit);
    assert_true(n < sizeof text);
    return rig_of(text);
}

/* The eight at one instant: seven at one temperature, the last at its own. */
static void
read_all(struct rig *rig, const char *at, const char *seven, const char *last)
{
    char line[120];
    (void)snprintf(line, sizeof line, "%s p1,p2,p3,p4,p5,p6,p7 %s\n%s p8 %s\n", at, seven, at,
                   last);
    rig_play(rig, line);
}

#define BEGIN "0:00:00 begin dish p1 p2 p3 p4 p5 p6 p7 p8\n"

/* What the last has earned governs, and an outage shorter than the spacing earns it nothing. */
static void
test_last_of_eight_earns_nothing_in_an_outage(void **state)
{
    (void)state;
    static const struct {
        const char *limit, *seven, *last;
    } cases[] = {
        {"{kind: lethality, applies_to: food, reference: 70 °C, z: 7.5 °C, for: 2 min, "
         "validated_by: test}",
         "80.0", "70.0"},
        {"{kind: added_table, applies_to: food, validated_by: Study 7, rows: [{at_least: 60 "
         "°C, "
         "for: 12 min}, {at_least: 70 °C, for: 0 s}]}",
         "71.0", "60.0"},
    };
    for (size_t i = 0; i < COUNT_OF(cases); i++) {
        struct rig *rig = kitchen(cases[i].limit, NULL);
        rig_play(rig, BEGIN);
        read_all(rig, "0:00:10", cases[i].seven, cases[i].last);
        read_all(rig, "0:00:20", cases[i].seven, cases[i].last);
        assert_int_equal(rig_batch(rig).credited_ms, 10000);
        rig_play(rig, "0:00:25 restart 0:00:22\n");
        read_all(rig, "0:00:30", cases[i].seven, cases[i].last);
        assert_int_equal(rig_batch(rig).credited_ms, 10000);
        read_all(rig, "0:00:40", cases[i].seven, cases[i].last);
        assert_int_equal(rig_batch(rig).credited_ms, 20000);
        rig_free(rig);
    }
}

/* E17, E60: the last is read five seconds after the others, and its time begins with that. */
static void
test_last_of_eight_begins_its_row_anew_after_an_outage(void **state)
{
    (void)state;
    struct rig *rig = kitchen(
        "{kind: cook_table, applies_to: food, rows: [{at_least: 60 °C, for: 15 s}]}", NULL);
    rig_play(rig, BEGIN "0:00:10 p1,p2,p3,p4,p5,p6,p7 61.0\n0:00:11 p8 61.0\n"
                        "0:00:13 restart 0:00:12\n"
                        "0:00:20 p1,p2,p3,p4,p5,p6,p7 61.0\n0:00:25 p8 61.0\n"
                        "0:00:30 p1,p2,p3,p4,p5,p6,p7 61.0\n0:00:35 p8 61.0\n"
                        "0:00:40 p1,p2,p3,p4,p5,p6,p7 61.0\n0:00:45 p8 61.0\n");
    rig_expect(rig, "0:00:45 limit-met held p1 61.0 since 0:00:25 found 0:00:15\n");
    rig_free(rig);
}

/* E163: what the last showed before an outage makes no dark of the time after it. */
static void
test_last_of_eight_is_seen_anew_after_an_outage(void **state)
{
    (void)state;
    struct rig *rig = kitchen("{kind: none}", "{kind: danger_zone, applies_to: food, "
                                              "cold_at_most: 5 °C, hot_at_least: 60 °C, "
                                              "within: 4 h}");
    rig_play(rig, BEGIN);
    read_all(rig, "0:00:10", "4.0", "4.0");
    rig_play(rig, "0:02:10 restart 0:00:10\n");
    read_all(rig, "0:02:20", "4.0", "4.0");
    assert_int_equal(rig_batch(rig).zone_unknown_ms, 120000);
    assert_int_equal(rig_batch(rig).zone_ms, 0);
    rig_free(rig);
}

int
main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_last_of_eight_earns_nothing_in_an_outage),
        cmocka_unit_test(test_last_of_eight_begins_its_row_anew_after_an_outage),
        cmocka_unit_test(test_last_of_eight_is_seen_anew_after_an_outage),
    };
    return cmocka_run_group_tests_name("engine eight probes", tests, NULL, NULL);
}
