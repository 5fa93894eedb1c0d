/* Replies that come late or twice and fit the next request: none is ever taken for another. */
#include "tests/support/modbus_rig.h"

#include <signal.h>
#include <string.h>

#include <modbus/modbus.h>

/* ---- the late reply that fits ---- */

static void
test_rtu_late_reply_at_any_moment_is_never_taken_for_the_next(void **state)
{
    (void)state;
    for (int64_t late_ms = TIMEOUT_MS - 4; late_ms < TIMEOUT_MS + MAX_LATE_MS - 5;
         late_ms += 2) {
        (void)modbus_rig_exchange(0, PEER_LATE, late_ms);
        modbus_rig_wants(READING_GOOD, 1, PEER_CLEAN);
    }
}

static void
test_rtu_over_tcp_late_reply_is_never_taken_for_the_next(void **state)
{
    (void)state;
    for (int64_t late_ms = TIMEOUT_MS - 4; late_ms < TIMEOUT_MS + MAX_LATE_MS - 5;
         late_ms += 6) {
        (void)modbus_rig_exchange(0, PEER_LATE, late_ms);
        modbus_rig_wants(READING_GOOD, 1, PEER_CLEAN);
    }
}

static void
test_rtu_reply_owed_to_whoever_had_the_line_before_is_not_taken(void **state)
{
    (void)state;
    for (int i = 0; i < 5; i++) {
        (void)modbus_rig_exchange(0, PEER_LATE, TIMEOUT_MS + 30);
        rig.driver->close(rig.state); /* as after a crash: nothing is remembered */
        modbus_rig_open();
        modbus_rig_wants(READING_GOOD, 1, PEER_CLEAN);
    }
}

/* ---- the second copy that fits ---- */

/* The copy of a reply comes while the next request, of another register of the same unit, waits
 * for an answer that takes its time. */
static void
copy_is_never_taken_for_the_next(void)
{
    for (int64_t copy_ms = 2; copy_ms < MAX_LATE_MS - 5; copy_ms += 2) {
        (void)modbus_rig_exchange(0, PEER_COPIED, copy_ms);
        modbus_rig_wants(READING_GOOD, 2, PEER_CLEAN); /* another unit comes between */
        (void)modbus_rig_exchange(1, PEER_LATE, TIMEOUT_MS - 8);
        (void)modbus_rig_exchange(3, PEER_CLEAN, 0);
        const int64_t until_ms = clock_mono_ms(&rig.clock) + MAX_LATE_MS;
        while (clock_mono_ms(&rig.clock) < until_ms) /* other requests fill the time */
            (void)modbus_rig_exchange(2 + (size_t)(copy_ms & 1), PEER_CLEAN, 0);
    }
}

static void
test_rtu_second_copy_at_any_moment_is_never_taken_for_the_next(void **state)
{
    (void)state;
    copy_is_never_taken_for_the_next();
}

static void
test_rtu_over_tcp_second_copy_is_never_taken_for_the_next(void **state)
{
    (void)state;
    copy_is_never_taken_for_the_next();
}

/* The copy of a reply comes while the very same registers are asked again. It is their own
 * number of the exchange before, and what they hold now is still under way. */
static void
own_copy_is_never_taken_again(void)
{
    int good = 0, asked_again = 0;
    for (int64_t copy_ms = 2; copy_ms < MAX_LATE_MS - 5; copy_ms += 3) {
        (void)modbus_rig_exchange(0, PEER_COPIED, copy_ms);
        const int64_t until_ms = clock_mono_ms(&rig.clock) + MAX_LATE_MS;
        while (clock_mono_ms(&rig.clock) < until_ms) {
            const uint32_t heard = peer_heard(rig.peer);
            good += modbus_rig_exchange(0, PEER_LATE, TIMEOUT_MS - 8) == READING_GOOD;
            asked_again += peer_heard(rig.peer) == heard + 2;
        }
    }
    assert_true(good > 5 && asked_again > 3); /* it is not that nothing came of it */
}

static void
test_rtu_second_copy_is_never_taken_for_a_new_reading_of_its_own_register(void **state)
{
    (void)state;
    own_copy_is_never_taken_again();
}

static void
test_rtu_over_tcp_second_copy_is_never_taken_for_a_new_reading_of_its_own_register(void **state)
{
    (void)state;
    own_copy_is_never_taken_again();
}

/* Two registers of a unit that truly hold the same number, or one that still does: asked once
 * more, after the quiet, and good. */
static void
test_rtu_equal_replies_of_a_unit_cost_a_quiet_and_are_good(void **state)
{
    (void)state;
    rig.bus.timeout_ms = PATIENT_MS;
    for (int i = 0; i < 5; i++) {
        modbus_rig_wants(READING_GOOD, 0, PEER_EQUAL);
        const uint32_t heard = peer_heard(rig.peer);
        const int64_t began_ms = clock_mono_ms(&rig.clock);
        assert_int_equal(modbus_rig_exchange(2, PEER_EQUAL, 0),
                         READING_GOOD); /* another unit: at once */
        assert_int_equal(peer_heard(rig.peer), heard + 1);
        assert_int_equal(modbus_rig_exchange(1, PEER_EQUAL, 0), READING_GOOD);
        assert_int_equal(peer_heard(rig.peer), heard + 3);
        assert_true(clock_mono_ms(&rig.clock) - began_ms >= MAX_LATE_MS);
        assert_int_equal(modbus_rig_exchange(1, PEER_EQUAL, 0), READING_GOOD);
        assert_int_equal(peer_heard(rig.peer), heard + 5);
        const int64_t until_ms = clock_mono_ms(&rig.clock) + MAX_LATE_MS + 1;
        while (clock_mono_ms(&rig.clock) < until_ms) /* another unit meanwhile */
            (void)modbus_rig_exchange(2, PEER_CLEAN, 0);
        const uint32_t then = peer_heard(rig.peer);
        modbus_rig_wants(READING_GOOD, 1, PEER_EQUAL); /* no copy can come any more: at once */
        assert_int_equal(peer_heard(rig.peer), then + 1);
        while (clock_mono_ms(&rig.clock) < until_ms + MAX_LATE_MS)
            (void)modbus_rig_exchange(2, PEER_CLEAN, 0);
    }
}

/* The copy of a refusal comes while another question to the same unit waits for an answer that
 * takes its time. Taken, it would end that exchange early, and the answer would meet the next
 * question. */
static void
copied_refusal_lets_no_reply_meet_another_request(void)
{
    int late = 0;
    for (int64_t copy_ms = 2; copy_ms < MAX_LATE_MS - 5; copy_ms += 3) {
        (void)modbus_rig_exchange(0, PEER_EXCEPTION | PEER_COPIED, copy_ms);
        const int64_t until_ms = clock_mono_ms(&rig.clock) + MAX_LATE_MS;
        for (size_t i = 1; clock_mono_ms(&rig.clock) < until_ms; i++)
            late += modbus_rig_exchange(i % 2, PEER_LATE, TIMEOUT_MS - 8) == READING_GOOD;
    }
    assert_true(late > 5); /* it is not that nothing was taken */
}

static void
test_rtu_second_copy_of_a_refusal_lets_no_reply_meet_another_request(void **state)
{
    (void)state;
    copied_refusal_lets_no_reply_meet_another_request();
}

static void
test_rtu_over_tcp_second_copy_of_a_refusal_lets_no_reply_meet_another_request(void **state)
{
    (void)state;
    copied_refusal_lets_no_reply_meet_another_request();
}

/* A device that takes longer for a reply than longest_delay: the reply to the question whose
 * place a copy took is still under way when the quiet would be over. */
static void
copy_before_a_slow_reply_spoils_nothing(size_t first, uint32_t fault)
{
    int good = 0;
    rig.bus.timeout_ms = 300;
    rig.bus.max_late_ms = 40;
    for (int i = 0; i < 4; i++) {
        const size_t order[] = {first, 1, 0, 1};
        for (size_t k = 0; k < 4; k++) {
            const struct driver_request *request = &rig.requests[order[k]];
            /* The copy comes 15 ms after the first reply; the others take 120 ms. */
            peer_set(rig.peer, k == 0 ? fault | PEER_COPIED : PEER_LATE, k == 0 ? 15 : 120, 300,
                     300);
            const uint32_t heard = peer_heard(rig.peer);
            assert_true(rig.driver->read(rig.state, request, rig.samples, &rig.error));
            peer_over(rig.peer, heard + 1);
            if (rig.samples[0].quality != READING_GOOD)
                continue;
            const uint16_t reg = rig.probes[request->probes[0]].reg;
            assert_int_equal(rig.samples[0].temp_mC, peer_truth(rig.peer, reg) * 1000);
            good++;
        }
    }
    assert_true(good >= 6); /* of 12 or 16, on a loaded machine */
}

static void
test_rtu_second_copy_before_a_slow_reply_spoils_nothing(void **state)
{
    (void)state;
    copy_before_a_slow_reply_spoils_nothing(0, PEER_CLEAN);
    copy_before_a_slow_reply_spoils_nothing(2, PEER_CLEAN); /* of another unit */
    copy_before_a_slow_reply_spoils_nothing(0, PEER_BIT_FLIPPED);
}

static void
test_rtu_second_copy_of_a_refusal_before_a_slow_reply_spoils_nothing(void **state)
{
    (void)state;
    copy_before_a_slow_reply_spoils_nothing(0, PEER_EXCEPTION);
}

/* A device that truly refuses again is asked once more, after the quiet, and its refusal is the
 * cause. */
static void
test_rtu_second_refusal_of_a_unit_costs_a_quiet_and_keeps_its_cause(void **state)
{
    (void)state;
    rig.bus.timeout_ms = PATIENT_MS;
    for (int i = 0; i < 5; i++) {
        modbus_rig_wants(BAD_EXCEPTION, 0, PEER_EXCEPTION);
        const uint32_t heard = peer_heard(rig.peer);
        const int64_t began_ms = clock_mono_ms(&rig.clock);
        assert_int_equal(modbus_rig_exchange(2, PEER_EXCEPTION, 0),
                         BAD_EXCEPTION); /* another: at once */
        assert_int_equal(peer_heard(rig.peer), heard + 1);
        assert_int_equal(modbus_rig_exchange(i % 2 == 0, PEER_EXCEPTION, 0), BAD_EXCEPTION);
        assert_non_null(strstr(rig.error.text, "exception 4"));
        assert_int_equal(peer_heard(rig.peer), heard + 3);
        assert_true(clock_mono_ms(&rig.clock) - began_ms >= MAX_LATE_MS);
        const int64_t until_ms = clock_mono_ms(&rig.clock) + MAX_LATE_MS + 1;
        while (clock_mono_ms(&rig.clock) < until_ms)
            (void)modbus_rig_exchange(3, PEER_CLEAN, 0);
    }
}

/* What happens without the quiet: the same device, read with the library alone. Were nothing
 * wrong here, the tests above would prove nothing. */
static void
test_rtu_plain_library_takes_late_replies_for_the_next(void **state)
{
    (void)state;
    rig.driver->close(rig.state);
    rig.state = NULL;
    modbus_t *plain = modbus_new_rtu(peer_path(rig.peer), 115200, 'N', 8, 1);
    assert_non_null(plain);
    assert_int_equal(modbus_set_response_timeout(plain, 0, TIMEOUT_MS * 1000), 0);
    assert_int_equal(modbus_set_byte_timeout(plain, 0, 0), 0);
    assert_int_equal(modbus_set_slave(plain, 5), 0);
    assert_int_equal(modbus_connect(plain), 0);
    int good = 0, wrong = 0;
    for (int i = 0; i < 40; i++) {
        uint16_t registers[2];
        const uint16_t first = (uint16_t)(i % 2 * 10);
        peer_set(rig.peer, i % 5 == 0 ? PEER_LATE : PEER_CLEAN, TIMEOUT_MS + 5, INT32_MAX,
                 INT32_MAX);
        const int got = modbus_read_input_registers(plain, first, 2, registers);
        if (got != 2)
            continue;
        if (registers[0] == peer_truth(rig.peer, first))
            good++;
        else
            wrong++;
    }
    modbus_close(plain);
    modbus_free(plain);
    print_message("plain library: %d good, %d wrong of 40\n", good, wrong);
    assert_true(wrong > 0);
}

/* Two probes behind one unit, a reply in ten late by up to 150 ms, a time-out of 20 ms.
 * Measured so with libmodbus 3.1.6 by a program of its own, of 1000 polls: flushing alone took
 * 72 wrong values, draining until 50 ms of quiet 96, draining and alternating the count 0 with
 * 874 good, quiet for 150 ms 0 with 917 good. */
static void
test_rtu_one_reply_in_ten_late_costs_its_own_poll_only(void **state)
{
    (void)state;
    enum { POLLS = 200, LATE_MS = 150 };
    int good = 0, wrong = 0;
    rig.driver->close(rig.state);
    rig.bus.timeout_ms = 20;
    rig.bus.max_late_ms = LATE_MS;
    modbus_rig_open();
    for (int i = 0; i < POLLS; i++) {
        const size_t request = (size_t)i % 2;
        const int64_t late_ms = 20 + (i * 37) % (LATE_MS - 5);
        peer_set(rig.peer, i % 10 == 9 ? PEER_LATE : PEER_CLEAN, late_ms, 20 + LATE_MS - 3,
                 LATE_MS - 3);
        const uint32_t heard = peer_heard(rig.peer);
        assert_true(
            rig.driver->read(rig.state, &rig.requests[request], rig.samples, &rig.error));
        peer_over(rig.peer, heard + 1);
        if (rig.samples[0].quality != READING_GOOD)
            continue;
        const uint16_t reg = rig.probes[rig.requests[request].probes[0]].reg;
        good++;
        wrong += rig.samples[0].temp_mC != peer_truth(rig.peer, reg) * 1000;
    }
    print_message("%d of %d polls good, %d wrong\n", good - wrong, POLLS, wrong);
    assert_int_equal(wrong, 0);
    assert_true(good * 100 >= POLLS * 80); /* a loaded machine loses some */
}

#define WITH(test, up) cmocka_unit_test_setup_teardown(test, up, modbus_rig_done)

int
main(void)
{
    const struct CMUnitTest tests[] = {
        WITH(test_rtu_late_reply_at_any_moment_is_never_taken_for_the_next, modbus_rig_rtu),
        WITH(test_rtu_reply_owed_to_whoever_had_the_line_before_is_not_taken, modbus_rig_rtu),
        WITH(test_rtu_second_copy_at_any_moment_is_never_taken_for_the_next, modbus_rig_rtu),
        WITH(test_rtu_over_tcp_second_copy_is_never_taken_for_the_next, modbus_rig_rtu_tcp),
        WITH(test_rtu_second_copy_is_never_taken_for_a_new_reading_of_its_own_register,
             modbus_rig_rtu),
        WITH(test_rtu_over_tcp_second_copy_is_never_taken_for_a_new_reading_of_its_own_register,
             modbus_rig_rtu_tcp),
        WITH(test_rtu_second_copy_of_a_refusal_lets_no_reply_meet_another_request,
             modbus_rig_rtu),
        WITH(test_rtu_over_tcp_second_copy_of_a_refusal_lets_no_reply_meet_another_request,
             modbus_rig_rtu_tcp),
        WITH(test_rtu_second_copy_before_a_slow_reply_spoils_nothing, modbus_rig_rtu),
        WITH(test_rtu_second_copy_of_a_refusal_before_a_slow_reply_spoils_nothing,
             modbus_rig_rtu),
        WITH(test_rtu_second_refusal_of_a_unit_costs_a_quiet_and_keeps_its_cause,
             modbus_rig_rtu),
        WITH(test_rtu_equal_replies_of_a_unit_cost_a_quiet_and_are_good, modbus_rig_rtu),
        WITH(test_rtu_one_reply_in_ten_late_costs_its_own_poll_only, modbus_rig_rtu),
        WITH(test_rtu_plain_library_takes_late_replies_for_the_next, modbus_rig_rtu),
        WITH(test_rtu_over_tcp_late_reply_is_never_taken_for_the_next, modbus_rig_rtu_tcp),
    };
    (void)signal(SIGPIPE, SIG_IGN); /* as the daemon's main does */
    return cmocka_run_group_tests(tests, NULL, NULL);
}
