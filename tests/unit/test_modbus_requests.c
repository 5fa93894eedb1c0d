/* Grouping of probes into requests. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>
#include <string.h>

#include "drivers/modbus_parts.h"

#define PROBES 300

struct bench {
    struct plan plan;
    struct plan_bus buses[2];
    struct plan_probe probes[PROBES];
    struct driver_request requests[PROBES];
};

static struct bench bench;

static int
set_up(void **state)
{
    (void)state;
    memset(&bench, 0, sizeof bench);
    bench.plan.buses = bench.buses;
    bench.plan.bus_count = 2;
    bench.plan.probes = bench.probes;
    return 0;
}

static struct plan_probe *
add(uint8_t unit, uint16_t reg, enum register_type type)
{
    struct plan_probe *probe = &bench.probes[bench.plan.probe_count++];
    *probe = (struct plan_probe){
        .unit = unit, .function = 4, .reg = reg, .type = type, .every_ms = 1000};
    return probe;
}

/* Every probe of the bus is in exactly one request, within its registers. */
static size_t
requests_checked(uint16_t bus)
{
    const size_t count =
        probe_driver_for(BUS_MODBUS_RTU)->requests(&bench.plan, bus, bench.requests, PROBES);
    int seen[PROBES] = {0};
    for (size_t i = 0; i < count; i++) {
        const struct driver_request *request = &bench.requests[i];
        assert_in_range(request->count, 1, DRIVER_REQUEST_PROBES_MAX);
        assert_in_range(request->reg_count, 1, MBUS_REGISTERS_MAX);
        for (uint16_t k = 0; k < request->count; k++) {
            const struct plan_probe *probe = &bench.probes[request->probes[k]];
            seen[request->probes[k]]++;
            assert_int_equal(probe->bus, bus);
            assert_int_equal(probe->unit, request->unit);
            assert_int_equal(probe->function, request->function);
            assert_int_equal(probe->every_ms, request->every_ms);
            assert_true(probe->reg >= request->first_reg);
            assert_true(probe->reg + mbus_type_registers(probe->type) <=
                        request->first_reg + request->reg_count);
        }
    }
    for (size_t i = 0; i < bench.plan.probe_count; i++)
        assert_int_equal(seen[i], bench.probes[i].bus == bus ? 1 : 0);
    return count;
}

static void
test_neighbours_in_any_order_are_one_request(void **state)
{
    (void)state;
    (void)add(11, 2, REGISTER_INT16);
    (void)add(11, 0, REGISTER_INT16);
    (void)add(11, 3, REGISTER_FLOAT32);
    (void)add(11, 1, REGISTER_INT16);
    assert_int_equal(requests_checked(0), 1);
    assert_int_equal(bench.requests[0].first_reg, 0);
    assert_int_equal(bench.requests[0].reg_count, 5);
    assert_int_equal(bench.requests[0].probes[0], 1);
}

static void
test_gap_is_not_read_across(void **state)
{
    (void)state;
    (void)add(1, 0, REGISTER_FLOAT32);
    (void)add(1, 3, REGISTER_INT16); /* register 2 may not exist */
    assert_int_equal(requests_checked(0), 2);
}

static void
test_same_register_twice_is_read_once(void **state)
{
    (void)state;
    (void)add(1, 0, REGISTER_FLOAT32);
    (void)add(1, 0, REGISTER_INT16);
    (void)add(1, 1, REGISTER_INT16);
    assert_int_equal(requests_checked(0), 1);
    assert_int_equal(bench.requests[0].reg_count, 2);
}

static void
test_unit_function_period_and_bus_separate(void **state)
{
    (void)state;
    (void)add(1, 0, REGISTER_INT16);
    (void)add(2, 1, REGISTER_INT16);
    add(1, 1, REGISTER_INT16)->function = 3;
    add(1, 1, REGISTER_INT16)->every_ms = 5000;
    add(1, 1, REGISTER_INT16)->bus = 1;
    assert_int_equal(requests_checked(0), 4);
    assert_int_equal(requests_checked(1), 1);
}

static void
test_long_row_is_cut_where_a_request_is_full(void **state)
{
    (void)state;
    for (uint16_t i = 0; i < 200; i++)
        (void)add(1, (uint16_t)(2 * i), REGISTER_FLOAT32);
    assert_int_equal(requests_checked(0), 7); /* 200 probes, 32 in a request */
    assert_int_equal(bench.requests[0].reg_count, 64);
    assert_int_equal(bench.requests[6].count, 8);
}

static void
test_last_register_of_all_is_reachable(void **state)
{
    (void)state;
    (void)add(247, 65534, REGISTER_INT16);
    (void)add(247, 65535, REGISTER_INT16);
    assert_int_equal(requests_checked(0), 1);
    assert_int_equal(bench.requests[0].first_reg, 65534);
    assert_int_equal(bench.requests[0].reg_count, 2);
}

static void
test_bus_without_probes_has_no_request(void **state)
{
    (void)state;
    (void)add(1, 0, REGISTER_INT16);
    assert_int_equal(requests_checked(1), 0);
}

static void
test_status_beside_the_value_joins_its_request(void **state)
{
    (void)state;
    struct plan_probe *behind = add(11, 10, REGISTER_FLOAT64);
    struct plan_probe *before = add(11, 16, REGISTER_INT16);
    struct plan_probe *apart = add(11, 30, REGISTER_INT16);
    behind->has_status = before->has_status = apart->has_status = true;
    behind->status_reg = 14;
    before->status_reg = 15;
    apart->status_reg = 32; /* one register lies between */
    assert_int_equal(requests_checked(0), 2);
    assert_int_equal(bench.requests[0].first_reg, 10);
    assert_int_equal(bench.requests[0].reg_count, 7); /* 10 to 16 */
    assert_int_equal(bench.requests[1].first_reg, 30);
    assert_int_equal(bench.requests[1].reg_count, 1);
}

static struct plan_switch switches[70];

static void
add_switch(uint8_t unit, uint8_t function, uint16_t address)
{
    bench.plan.switches = switches;
    switches[bench.plan.switch_count++] = (struct plan_switch){
        .unit = unit, .function = function, .address = address, .every_ms = 1000};
}

static void
test_switches_at_neighbouring_addresses_are_one_request_of_their_own(void **state)
{
    (void)state;
    (void)add(11, 0, REGISTER_INT16);
    add_switch(11, 2, 4);
    add_switch(11, 2, 3);
    add_switch(11, 2, 6); /* one address lies between */
    add_switch(11, 1, 5);
    add_switch(12, 2, 5);
    const size_t count =
        probe_driver_for(BUS_MODBUS_RTU)->requests(&bench.plan, 0, bench.requests, PROBES);
    assert_int_equal(count, 5);
    assert_false(bench.requests[0].is_switches);
    static const struct {
        uint8_t unit, function;
        uint16_t first, bits;
    } wanted[] = {{11, 1, 5, 1}, {11, 2, 3, 2}, {11, 2, 6, 1}, {12, 2, 5, 1}};
    for (size_t i = 0; i < 4; i++) {
        const struct driver_request *request = &bench.requests[i + 1];
        assert_true(request->is_switches);
        assert_int_equal(request->unit, wanted[i].unit);
        assert_int_equal(request->function, wanted[i].function);
        assert_int_equal(request->first_reg, wanted[i].first);
        assert_int_equal(request->reg_count, wanted[i].bits);
        assert_int_equal(request->count, wanted[i].bits);
    }
    assert_int_equal(bench.requests[2].probes[0], 1); /* by address */
    assert_int_equal(bench.requests[2].probes[1], 0);
    bench.plan.switch_count = 0;
    for (uint16_t i = 0; i < 40; i++)
        add_switch(11, 2, i);
    assert_int_equal(
        probe_driver_for(BUS_MODBUS_RTU)->requests(&bench.plan, 0, bench.requests, PROBES), 3);
    assert_int_equal(bench.requests[1].reg_count, DRIVER_REQUEST_PROBES_MAX);
    assert_int_equal(bench.requests[2].first_reg, DRIVER_REQUEST_PROBES_MAX);
}

/* A copy comes for longest_delay at most, and a USB adapter may hold bytes back for 20 ms. */
static void
test_serial_frames_rest_between_two_requests_of_the_same(void **state)
{
    (void)state;
    static const struct {
        enum bus_driver driver;
        int32_t max_late_ms, apart_ms;
    } cases[] = {{BUS_MODBUS_RTU, 500, 501},  {BUS_MODBUS_RTU, 21, 22},
                 {BUS_MODBUS_RTU, 19, 21},    {BUS_MODBUS_RTU, 0, 21},
                 {BUS_MODBUS_RTU_TCP, 0, 21}, {BUS_MODBUS_RTU_TCP, 700, 701},
                 {BUS_MODBUS_TCP, 500, 0}};
    (void)add(11, 0, REGISTER_INT16);
    add_switch(11, 2, 4);
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        bench.buses[0].driver = cases[i].driver;
        bench.buses[0].max_late_ms = cases[i].max_late_ms;
        assert_int_equal(
            probe_driver_for(BUS_MODBUS_RTU)->requests(&bench.plan, 0, bench.requests, PROBES),
            2);
        assert_int_equal(bench.requests[0].apart_ms, cases[i].apart_ms);
        assert_int_equal(bench.requests[1].apart_ms, cases[i].apart_ms);
    }
}

int
main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup(test_status_beside_the_value_joins_its_request, set_up),
        cmocka_unit_test_setup(test_neighbours_in_any_order_are_one_request, set_up),
        cmocka_unit_test_setup(test_gap_is_not_read_across, set_up),
        cmocka_unit_test_setup(test_same_register_twice_is_read_once, set_up),
        cmocka_unit_test_setup(test_unit_function_period_and_bus_separate, set_up),
        cmocka_unit_test_setup(test_long_row_is_cut_where_a_request_is_full, set_up),
        cmocka_unit_test_setup(test_last_register_of_all_is_reachable, set_up),
        cmocka_unit_test_setup(
            test_switches_at_neighbouring_addresses_are_one_request_of_their_own, set_up),
        cmocka_unit_test_setup(test_serial_frames_rest_between_two_requests_of_the_same,
                               set_up),
        cmocka_unit_test_setup(test_bus_without_probes_has_no_request, set_up),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
