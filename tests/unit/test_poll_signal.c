/* When a light's coil is written, and when it counts as one that cannot be relied on. */
#include "tests/support/check.h"

#include <string.h>

#include "daemon/poll/poll_signal.h"

static const struct plan_signal light = {.on_when_well = true, .heartbeat_ms = 5000},
                                siren = {.on_when_well = false, .heartbeat_ms = 5000},
                                pulse = {.on_when_well = true,
                                         .heartbeat_ms = 5000,
                                         .toggles = true};

static void
test_coil_is_on_while_all_is_well_or_in_alarm_as_the_plan_says(void **state)
{
    (void)state;
    struct poll_signal of;
    bool on;
    poll_signal_init(&of);
    assert_true(poll_signal_wants(&of, &light, false, 0, &on));
    assert_true(on);
    assert_true(poll_signal_wants(&of, &light, true, 0, &on));
    assert_false(on);
    assert_true(poll_signal_wants(&of, &siren, false, 0, &on));
    assert_false(on);
    assert_true(poll_signal_wants(&of, &siren, true, 0, &on));
    assert_true(on);
}

static void
test_coil_is_written_at_a_change_and_at_each_heartbeat(void **state)
{
    (void)state;
    struct poll_signal of;
    bool on;
    poll_signal_init(&of);
    poll_signal_done(&of, true, 1000);
    assert_false(poll_signal_wants(&of, &light, false, 5999, &on));
    assert_true(poll_signal_wants(&of, &light, false, 6000, &on));
    assert_true(on);
    assert_true(poll_signal_wants(&of, &light, true, 1001, &on));
    assert_false(on);
}

static void
test_pulse_turns_over_and_stops_when_nobody_watches(void **state)
{
    (void)state;
    struct poll_signal of;
    bool on;
    poll_signal_init(&of);
    assert_true(poll_signal_wants(&of, &pulse, false, 0, &on));
    assert_true(on);
    poll_signal_done(&of, on, 0);
    assert_false(poll_signal_wants(&of, &pulse, false, 4999, &on));
    assert_true(poll_signal_wants(&of, &pulse, false, 5000, &on));
    assert_false(on);
    assert_false(poll_signal_wants(&of, &pulse, true, 60000, &on));
}

static void
test_three_failures_in_a_row_are_told_with_what_began_them(void **state)
{
    (void)state;
    struct poll_signal of;
    bool on;
    poll_signal_init(&of);
    poll_signal_done(&of, true, 0);
    poll_signal_failed(&of, "no reply within 300 ms", 1000);
    assert_true(poll_signal_wants(&of, &light, false, 1001, &on)); /* tried again at once */
    poll_signal_failed(&of, "held", 2000);
    assert_true(of.is_told);
    poll_signal_done(&of, true, 2500);
    poll_signal_failed(&of, "a reply with a wrong check sum", 3000);
    poll_signal_failed(&of, "held", 4000);
    assert_false(of.faulty);
    poll_signal_failed(&of, "held", 5000);
    assert_true(of.faulty);
    assert_false(of.is_told);
    assert_int_equal(of.since_ms, 5000);
    assert_string_equal(of.trouble, "a reply with a wrong check sum");
    of.is_told = true;
    poll_signal_failed(&of, "held", 6000);
    assert_true(of.is_told); /* once */
    poll_signal_done(&of, true, 7000);
    assert_false(of.faulty);
    assert_false(of.is_told);
    assert_string_equal(of.trouble, "");
}

static void
test_fault_that_nobody_was_told_of_needs_no_end(void **state)
{
    (void)state;
    struct poll_signal of;
    poll_signal_init(&of);
    for (int i = 0; i < POLL_SIGNAL_FAILS; i++)
        poll_signal_failed(&of, "no reply", i);
    assert_false(of.is_told);
    poll_signal_done(&of, true, 10);
    assert_true(of.is_told);
}

int
main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_coil_is_on_while_all_is_well_or_in_alarm_as_the_plan_says),
        cmocka_unit_test(test_coil_is_written_at_a_change_and_at_each_heartbeat),
        cmocka_unit_test(test_pulse_turns_over_and_stops_when_nobody_watches),
        cmocka_unit_test(test_three_failures_in_a_row_are_told_with_what_began_them),
        cmocka_unit_test(test_fault_that_nobody_was_told_of_needs_no_end),
    };
    return cmocka_run_group_tests_name("signals", tests, NULL, NULL);
}
