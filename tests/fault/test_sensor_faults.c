/* Thermocouples through the Modbus driver against a hostile device: registers of a tip in uV
 * and of its terminals in degrees, asked apart, with seeded faults on either. Each good
 * temperature has to be what the tip's register held in that very exchange means with the
 * terminals as they were last read well; where those are not known, there is none.
 *
 * What mV and ohm mean is checked elsewhere against published tables; here the same function
 * says it. */
#include "tests/support/check.h"

#include <stdio.h>
#include <string.h>

#include "tests/support/modbus_peer.h"
#include "trivet/clock.h"
#include "trivet/probe_driver.h"
#include "trivet/reading.h"
#include "trivet/sensor.h"
#include "trivet/units.h"

#define EXCHANGES   400
#define TIMEOUT_MS  200 /* ample for a loaded machine: what is clean shall be good */
#define MAX_LATE_MS 20
#define TIP         0
#define TERMINALS   1

static struct {
    struct peer *peer;
    struct plan plan;
    struct plan_bus bus;
    struct plan_probe probes[2];
    struct driver_request requests[2];
    struct clock clock;
    const struct probe_driver *driver;
    void *state;
    struct driver_error error;
    struct sensor sensor;
    uint64_t seed;
    int opened;
} rig;

static int
set_up(enum bus_driver kind)
{
    struct sensor_refusal why;
    memset(&rig, 0, sizeof rig);
    rig.seed = 20260301;
    rig.clock = clock_machine();
    rig.driver = probe_driver_for(kind);
    rig.peer = kind == BUS_MODBUS_RTU ? peer_new_rtu() : peer_new_tcp();
    assert_non_null(rig.peer);
    assert_true(sensor_parse("tc-k", &rig.sensor, &why));
    rig.bus = (struct plan_bus){.id = "line-a",
                                .driver = kind,
                                .device = kind == BUS_MODBUS_RTU ? peer_path(rig.peer) : NULL,
                                .baud_bps = 115200,
                                .parity = 'N',
                                .stop_bits = 1,
                                .host = "127.0.0.1",
                                .port = peer_port(rig.peer),
                                .timeout_ms = TIMEOUT_MS,
                                .max_late_ms = MAX_LATE_MS};
    /* Registers hold 0 to 16383, and 30000 for an absurd value: 0 to 16.383 mV, and 30 mV,
     * which is above 700 °C; 0 to 65.532 °C, and 120 °C. */
    rig.probes[TIP] = (struct plan_probe){.id = "tip",
                                          .unit = 5,
                                          .function = 4,
                                          .reg = 0,
                                          .type = REGISTER_INT16,
                                          .sensor = "tc-k",
                                          .signal = SIGNAL_UV,
                                          .scale_micro = 1000000,
                                          .cold_probe = TERMINALS,
                                          .cold_mC = TEMP_NONE,
                                          .plausible_min_mC = -20000,
                                          .plausible_max_mC = 500000,
                                          .every_ms = 1000};
    rig.probes[TERMINALS] = (struct plan_probe){.id = "terminals",
                                                .unit = 5,
                                                .function = 4,
                                                .reg = 10,
                                                .type = REGISTER_INT16,
                                                .scale_micro = 4000,
                                                .cold_probe = -1,
                                                .cold_mC = TEMP_NONE,
                                                .plausible_min_mC = 0,
                                                .plausible_max_mC = 70000,
                                                .every_ms = 3600000};
    rig.plan = (struct plan){.buses = &rig.bus,
                             .bus_count = 1,
                             .probes = rig.probes,
                             .probe_count = 2,
                             .tolerances = {.spacing_polls = 3}};
    assert_int_equal(rig.driver->requests(&rig.plan, 0, rig.requests, 2), 2);
    if (!rig.driver->open(&rig.plan, 0, &rig.clock, &rig.state, &rig.error))
        fail_msg("%s", rig.error.text);
    return 0;
}

static int
set_up_rtu(void **state)
{
    (void)state;
    return set_up(BUS_MODBUS_RTU);
}

static int
set_up_tcp(void **state)
{
    (void)state;
    return set_up(BUS_MODBUS_TCP);
}

static int
tear_down(void **state)
{
    (void)state;
    rig.driver->close(rig.state);
    peer_free(rig.peer);
    return 0;
}

static uint32_t
drawn(uint32_t below)
{
    rig.seed = rig.seed * 6364136223846793005ULL + 1442695040888963407ULL;
    return (uint32_t)((rig.seed >> 33) % below);
}

static uint32_t
drawn_faults(void)
{
    static const uint32_t faults[] = {PEER_SILENT,     PEER_STUCK,          PEER_BIT_FLIPPED,
                                      PEER_WRONG_UNIT, PEER_WRONG_FUNCTION, PEER_WRONG_LENGTH,
                                      PEER_EXCEPTION,  PEER_NOISE_BEFORE,   PEER_ABSURD};
    return drawn(3) != 0 ? PEER_CLEAN : faults[drawn(COUNT_OF(faults))];
}

static struct driver_sample
read_one(size_t probe, uint32_t faults)
{
    struct driver_sample samples[DRIVER_REQUEST_PROBES_MAX];
    const size_t request = rig.requests[0].probes[0] == probe ? 0 : 1;
    const uint32_t heard = peer_heard(rig.peer);
    peer_set(rig.peer, faults, 0, INT32_MAX, INT32_MAX);
    if (!rig.driver->read(rig.state, &rig.requests[request], samples, &rig.error)) {
        rig.driver->close(rig.state);
        rig.state = NULL;
        rig.opened++;
        assert_true(rig.driver->open(&rig.plan, 0, &rig.clock, &rig.state, &rig.error));
    }
    peer_over(rig.peer, heard + 1);
    return samples[0];
}

static void
play(void)
{
    int32_t cold_mC = TEMP_NONE;
    size_t good = 0, unknown = 0, other = 0;
    for (int i = 0; i < EXCHANGES; i++) {
        const size_t probe = drawn(3) == 0 ? TERMINALS : TIP;
        const uint32_t faults = drawn_faults();
        const int before = rig.opened;
        const struct driver_sample got = read_one(probe, faults);
        if (got.quality != READING_GOOD)
            assert_int_equal(got.temp_mC, TEMP_NONE);
        if (rig.opened != before)
            cold_mC = TEMP_NONE; /* a new line knows nothing of the terminals */
        if (probe == TERMINALS) {
            if (got.quality == READING_GOOD) {
                assert_int_equal(got.temp_mC, peer_truth(rig.peer, 10) * 4);
                cold_mC = got.temp_mC;
            } else if (got.quality == BAD_IMPLAUSIBLE) {
                cold_mC = TEMP_NONE;
            }
        } else if (got.quality == READING_GOOD) {
            int32_t wanted_mC = TEMP_NONE;
            assert_int_not_equal(cold_mC, TEMP_NONE);
            assert_int_equal(sensor_temp(&rig.sensor,
                                         peer_truth(rig.peer, 0) * INT64_C(1000000), SIGNAL_UV,
                                         cold_mC, &wanted_mC),
                             CONVERT_OK);
            assert_int_equal(got.temp_mC, wanted_mC);
            good++;
        } else if (got.quality == BAD_COLD_JUNCTION) {
            assert_int_equal(cold_mC, TEMP_NONE);
            unknown++;
        } else {
            assert_int_not_equal(faults, PEER_CLEAN);
            other++;
        }
    }
    print_message("good %zu, without cold junction %zu, other faults %zu\n", good, unknown,
                  other);
    assert_true(good > 80 && unknown > 2 && other > 40);
}

static void
test_rtu_thermocouple_is_what_tip_and_terminals_held(void **state)
{
    (void)state;
    play();
}

static void
test_tcp_thermocouple_is_what_tip_and_terminals_held(void **state)
{
    (void)state;
    play();
}

int
main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(test_rtu_thermocouple_is_what_tip_and_terminals_held,
                                        set_up_rtu, tear_down),
        cmocka_unit_test_setup_teardown(test_tcp_thermocouple_is_what_tip_and_terminals_held,
                                        set_up_tcp, tear_down),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
