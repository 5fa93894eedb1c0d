/* What is read beside values, under the same faults: status registers and switches. */
#include "tests/support/modbus_rig.h"

#include <signal.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

/* ---- status registers ---- */

/* The peer's registers are different in each exchange, so a bit of one is as often 0 as 1. */
static void
test_status_beside_a_value_decides_over_it(void **state)
{
    (void)state;
    rig.bus.timeout_ms = PATIENT_MS;
    int good = 0, bad = 0;
    rig.plan.probe_count = 1;
    rig.probes[0].has_status = true;
    rig.probes[0].status_reg = (uint16_t)(rig.probes[0].reg + 1);
    rig.probes[0].bad_bits[0] = 0;
    rig.probes[0].bad_bit_count = 1;
    assert_int_equal(rig.driver->requests(&rig.plan, 0, rig.requests, 8), 1);
    assert_int_equal(rig.requests[0].reg_count, 2);
    for (int i = 0; i < 40; i++) {
        peer_set(rig.peer, PEER_CLEAN, 0, INT32_MAX, INT32_MAX);
        assert_true(rig.driver->read(rig.state, &rig.requests[0], rig.samples, &rig.error));
        const struct driver_sample *sample = &rig.samples[0];
        if (sample->quality == BAD_TIMEOUT) /* a loaded machine */
            continue;
        const bool is_bad = (peer_truth(rig.peer, rig.probes[0].status_reg) & 1) != 0;
        assert_int_equal(sample->quality, is_bad ? BAD_FAULT_VALUE : READING_GOOD);
        assert_int_equal(sample->temp_mC == TEMP_NONE, is_bad);
        good += !is_bad;
        bad += is_bad;
    }
    assert_true(good > 5 && bad > 5);
}

/* A Pt100 in hundredths of an ohm, which begins at 18.52 (IEC 60751); registers hold 0 to
 * 16383.
 */
static void
test_status_beside_a_signal_decides_over_it(void **state)
{
    (void)state;
    int good = 0, bad = 0, short_circuits = 0;
    const struct sensor pt100 = {.family = SENSOR_RTD, .r0_ohm = 100.0};
    rig.plan.probe_count = 1;
    rig.probes[0].sensor = "pt100";
    rig.probes[0].signal = SIGNAL_OHM;
    rig.probes[0].scale_micro = 10000;
    rig.probes[0].has_status = true;
    rig.probes[0].status_reg = (uint16_t)(rig.probes[0].reg + 1);
    rig.probes[0].bad_bits[0] = 0;
    rig.probes[0].bad_bit_count = 1;
    rig.driver->close(rig.state);
    modbus_rig_open();
    assert_int_equal(rig.driver->requests(&rig.plan, 0, rig.requests, 8), 1);
    for (int i = 0; i < 80; i++) {
        peer_set(rig.peer, PEER_CLEAN, 0, INT32_MAX, INT32_MAX);
        assert_true(rig.driver->read(rig.state, &rig.requests[0], rig.samples, &rig.error));
        const struct driver_sample *sample = &rig.samples[0];
        if (sample->quality == BAD_TIMEOUT) /* a loaded machine */
            continue;
        const bool is_bad = (peer_truth(rig.peer, rig.probes[0].status_reg) & 1) != 0;
        const int64_t held = peer_truth(rig.peer, rig.probes[0].reg);
        int32_t temp_mC = TEMP_NONE;
        if (is_bad) {
            assert_int_equal(sample->quality, BAD_FAULT_VALUE);
            bad++;
        } else if (held < 1852) {
            assert_int_equal(sample->quality, BAD_SIGNAL);
            short_circuits++;
        } else {
            assert_int_equal(sensor_temp(&pt100, held * 10000, SIGNAL_OHM, TEMP_NONE, &temp_mC),
                             CONVERT_OK);
            assert_int_equal(sample->quality, READING_GOOD);
            good++;
        }
        assert_int_equal(sample->temp_mC, temp_mC);
    }
    print_message("good %d, bad %d, short circuits %d\n", good, bad, short_circuits);
    assert_true(good > 5 && bad > 5);
}

static void
test_status_elsewhere_is_read_by_itself_after_the_values(void **state)
{
    (void)state;
    rig.bus.timeout_ms = PATIENT_MS;
    int good = 0, bad = 0;
    rig.plan.probe_count = 2; /* neighbours with one status register far away */
    for (uint16_t i = 0; i < 2; i++) {
        rig.probes[i].has_status = true;
        rig.probes[i].status_reg = 500;
    }
    rig.probes[0].good_bits[0] = 1;
    rig.probes[0].good_bit_count = 1;
    rig.probes[1].bad_bits[0] = 1;
    rig.probes[1].bad_bit_count = 1;
    assert_int_equal(rig.driver->requests(&rig.plan, 0, rig.requests, 8), 1);
    for (int i = 0; i < 40; i++) {
        const uint32_t heard = peer_heard(rig.peer);
        peer_set(rig.peer, PEER_CLEAN, 0, INT32_MAX, INT32_MAX);
        assert_true(rig.driver->read(rig.state, &rig.requests[0], rig.samples, &rig.error));
        if (rig.samples[0].quality == BAD_TIMEOUT) /* a loaded machine */
            continue;
        assert_int_equal(peer_heard(rig.peer) - heard, 2); /* once for both probes */
        const bool is_set = (peer_truth(rig.peer, 500) & 2) != 0;
        assert_int_equal(rig.samples[0].quality, is_set ? READING_GOOD : BAD_FAULT_VALUE);
        assert_int_equal(rig.samples[1].quality, is_set ? BAD_FAULT_VALUE : READING_GOOD);
        good += is_set;
        bad += !is_set;
    }
    assert_true(good > 5 && bad > 5);
}

/* ---- switches ---- */

/* Two neighbouring inputs of unit 5; the second is active when its bit is 0. */
static struct plan_switch switches[] = {
    {.unit = 5, .function = 2, .address = 4, .active = 1, .every_ms = 1000},
    {.unit = 5, .function = 2, .address = 5, .active = 0, .every_ms = 1000},
};

static uint16_t
switch_exchange(uint32_t fault)
{
    peer_set(rig.peer, fault, TIMEOUT_MS + 10, TIMEOUT_MS + MAX_LATE_MS - 3, MAX_LATE_MS - 3);
    const uint32_t heard = peer_heard(rig.peer);
    assert_true(rig.driver->read(rig.state, &rig.requests[0], rig.samples, &rig.error));
    peer_over(rig.peer, heard + 1);
    for (uint16_t i = 0; i < 2; i++) {
        const struct driver_sample *sample = &rig.samples[i];
        assert_int_equal(sample->quality, rig.samples[0].quality);
        assert_int_equal(sample->temp_mC, TEMP_NONE);
        if (sample->quality != READING_GOOD)
            assert_false(sample->is_active);
        else
            assert_int_equal(sample->is_active, peer_bit(rig.peer, switches[i].address) ==
                                                    (switches[i].active == 1));
    }
    return rig.samples[0].quality;
}

static void
check_switches(bool tcp)
{
    int active = 0, good = 0;
    rig.plan.probe_count = 0;
    rig.plan.switches = switches;
    rig.plan.switch_count = 2;
    assert_int_equal(rig.driver->requests(&rig.plan, 0, rig.requests, 8), 1);
    for (size_t i = 0; i < MODBUS_RIG_CAUSES; i++) {
        /* A bit has no absurd value. */
        const uint16_t wanted = modbus_rig_causes[i].fault == PEER_ABSURD ? READING_GOOD
                                : tcp ? modbus_rig_causes[i].tcp
                                      : modbus_rig_causes[i].rtu;
        if (wanted == 1)
            continue;
        uint16_t got = 1;
        for (int tries = 0; tries < 6 && got != wanted; tries++) /* a loaded machine */
            got = switch_exchange(modbus_rig_causes[i].fault);
        if (got != wanted)
            fail_msg("fault %d gave %d, not %d", modbus_rig_causes[i].fault, got, wanted);
        if (wanted != READING_GOOD)
            assert_non_null(strstr(rig.error.text, "unit 5, function 2, inputs 4 to 5"));
    }
    for (int i = 0; i < 60; i++)
        if (switch_exchange(PEER_CLEAN) == READING_GOOD) {
            good++;
            active += rig.samples[0].is_active;
        }
    assert_true(good > 30 && active > 5 && active < good - 5);
}

static void
test_rtu_switches_are_read_with_the_same_care(void **state)
{
    (void)state;
    check_switches(false);
}

static void
test_rtu_over_tcp_switches_are_read_with_the_same_care(void **state)
{
    (void)state;
    check_switches(false);
}

static void
test_tcp_switches_are_read_with_the_same_care(void **state)
{
    (void)state;
    check_switches(true);
}

#define WITH(test, up) cmocka_unit_test_setup_teardown(test, up, modbus_rig_done)

int
main(void)
{
    const struct CMUnitTest tests[] = {
        WITH(test_status_beside_a_value_decides_over_it, modbus_rig_rtu),
        WITH(test_status_beside_a_signal_decides_over_it, modbus_rig_rtu),
        WITH(test_status_elsewhere_is_read_by_itself_after_the_values, modbus_rig_rtu),
        WITH(test_rtu_switches_are_read_with_the_same_care, modbus_rig_rtu),
        WITH(test_rtu_over_tcp_switches_are_read_with_the_same_care, modbus_rig_rtu_tcp),
        WITH(test_tcp_switches_are_read_with_the_same_care, modbus_rig_tcp),
    };
    (void)signal(SIGPIPE, SIG_IGN); /* as the daemon's main does */
    return cmocka_run_group_tests(tests, NULL, NULL);
}
