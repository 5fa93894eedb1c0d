/* The Modbus driver against a hostile device, on a pseudo-terminal and on TCP: every fault by
 * itself with the cause it must get, and a unit that is away.
 *
 * Whatever happens, a good sample equals what the device held in that very exchange. Late and
 * second replies: test_modbus_late.c. The line itself: test_modbus_line.c. All faults in
 * combination, many times: test_modbus_campaign.c. */
#include "tests/support/modbus_rig.h"

#include <signal.h>
#include <string.h>
#include <sys/stat.h>

/* ---- each fault by itself ---- */

static void
check_causes(bool tcp)
{
    modbus_rig_wants(READING_GOOD, 0, PEER_CLEAN);
    for (size_t i = 0; i < MODBUS_RIG_CAUSES; i++) {
        const uint16_t wanted = tcp ? modbus_rig_causes[i].tcp : modbus_rig_causes[i].rtu;
        if (wanted == 1)
            continue;
        modbus_rig_wants(wanted, 0, modbus_rig_causes[i].fault);
        if (wanted != READING_GOOD && wanted != BAD_IMPLAUSIBLE)
            assert_non_null(strstr(rig.error.text, "bus 'line-a', unit 5"));
        /* The next exchange, of a request whose reply looks the same, is none the worse for it.
         */
        modbus_rig_wants(READING_GOOD, 1, PEER_CLEAN);
    }
}

static void
test_rtu_every_fault_gets_its_cause_and_the_next_reply_is_good(void **state)
{
    (void)state;
    check_causes(false);
}

/* Serial frames through a gateway: the rules of the serial line, and the same causes. */
static void
test_rtu_over_tcp_every_fault_gets_its_cause_and_the_next_reply_is_good(void **state)
{
    (void)state;
    check_causes(false);
}

static void
test_tcp_every_fault_gets_its_cause_and_the_next_reply_is_good(void **state)
{
    (void)state;
    check_causes(true);
}

static void
test_exchange_costs_no_more_than_time_out_and_quiet(void **state)
{
    (void)state;
    (void)modbus_rig_exchange(0, PEER_SILENT, 0); /* also waits out the quiet after opening */
    int64_t least_ms = INT64_MAX;
    for (int i = 0; i < 5; i++) {
        const int64_t began_ms = clock_mono_ms(&rig.clock);
        (void)modbus_rig_exchange(0, PEER_STUCK, 0);
        const int64_t took_ms = clock_mono_ms(&rig.clock) - began_ms;
        least_ms = took_ms < least_ms ? took_ms : least_ms;
    }
    /* A loaded machine only adds; the best of five shows the rule. */
    assert_in_range(least_ms, TIMEOUT_MS, TIMEOUT_MS + MAX_LATE_MS + 15);
}

/* ---- a unit that is away, and its neighbours ---- */

/* A silence, or a reply that comes too late, costs no new connection; the third in a row does.
 */
static void
silences_keep_the_connection(void)
{
    modbus_rig_wants(READING_GOOD, 0, PEER_CLEAN);
    uint32_t before = peer_connections(rig.peer);
    for (int i = 0; i < 6; i++) {
        (void)modbus_rig_exchange(0, i % 2 == 0 ? PEER_SILENT : PEER_LATE, TIMEOUT_MS + 5);
        modbus_rig_wants(READING_GOOD, 2, PEER_CLEAN); /* of the other unit */
    }
    assert_int_equal(peer_connections(rig.peer), before);
    for (int i = 0; i < 3; i++)
        modbus_rig_wants(BAD_TIMEOUT, 0, PEER_SILENT);
    modbus_rig_wants(READING_GOOD, 2, PEER_CLEAN);
    assert_int_equal(peer_connections(rig.peer), before + 1);
}

static void
test_tcp_silence_of_one_unit_costs_no_connection(void **state)
{
    (void)state;
    silences_keep_the_connection();
}

static void
test_rtu_over_tcp_silence_of_one_unit_costs_no_connection(void **state)
{
    (void)state;
    silences_keep_the_connection();
}

static void
test_pause_separates_requests_to_one_unit_only(void **state)
{
    (void)state;
    modbus_rig_wants(READING_GOOD, 0, PEER_CLEAN);
    rig.bus.pause_ms = 150;
    modbus_rig_wants(READING_GOOD, 0, PEER_CLEAN);
    const int64_t began_ms = clock_mono_ms(&rig.clock);
    modbus_rig_wants(READING_GOOD, 0, PEER_CLEAN);
    assert_true(clock_mono_ms(&rig.clock) - began_ms >= 149); /* whole milliseconds */
    int64_t least_ms = INT64_MAX;
    for (int i = 0; i < 5; i++) { /* a loaded machine only adds */
        modbus_rig_wants(READING_GOOD, 0, PEER_CLEAN);
        const int64_t from_ms = clock_mono_ms(&rig.clock);
        (void)modbus_rig_exchange(2, PEER_CLEAN, 0);
        const int64_t took_ms = clock_mono_ms(&rig.clock) - from_ms;
        least_ms = took_ms < least_ms ? took_ms : least_ms;
    }
    assert_true(least_ms < 150);
}

#define WITH(test, up) cmocka_unit_test_setup_teardown(test, up, modbus_rig_done)

int
main(void)
{
    const struct CMUnitTest tests[] = {
        WITH(test_rtu_every_fault_gets_its_cause_and_the_next_reply_is_good, modbus_rig_rtu),
        WITH(test_tcp_every_fault_gets_its_cause_and_the_next_reply_is_good, modbus_rig_tcp),
        WITH(test_rtu_over_tcp_every_fault_gets_its_cause_and_the_next_reply_is_good,
             modbus_rig_rtu_tcp),
        WITH(test_tcp_silence_of_one_unit_costs_no_connection, modbus_rig_tcp),
        WITH(test_rtu_over_tcp_silence_of_one_unit_costs_no_connection, modbus_rig_rtu_tcp),
        WITH(test_pause_separates_requests_to_one_unit_only, modbus_rig_tcp),
        WITH(test_exchange_costs_no_more_than_time_out_and_quiet, modbus_rig_rtu),
    };
    (void)signal(SIGPIPE, SIG_IGN); /* as the daemon's main does */
    return cmocka_run_group_tests(tests, NULL, NULL);
}
