/* The Modbus driver against a hostile device, on a pseudo-terminal and on TCP.
 *
 * Every fault by itself with the cause it must get, and the line itself. Whatever happens, a
 * good sample equals what the device held in that very exchange. All of them in combination,
 * many times: test_modbus_campaign.c. */
#define _DEFAULT_SOURCE /* seteuid, setrlimit */

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>
#include <errno.h>
#include <fcntl.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>

#include <modbus/modbus.h>

#include "tests/support/modbus_peer.h"
#include "trivet/clock.h"
#include "trivet/probe_driver.h"
#include "trivet/reading.h"
#include "trivet/sensor.h"
#include "trivet/units.h"

#define TIMEOUT_MS  25
#define MAX_LATE_MS 60
/* Where no reply is late: more than a loaded machine needs. */
#define PATIENT_MS 400

/* Units 5 and 6 with two pairs of registers each: replies to all four requests look alike but
 * for unit and value. */
struct rig {
    struct peer *peer;
    struct plan plan;
    struct plan_bus bus;
    struct plan_probe probes[8];
    struct driver_request requests[8];
    size_t request_count;
    struct clock clock;
    const struct probe_driver *driver;
    void *state;
    struct driver_error error;
    struct driver_sample samples[DRIVER_REQUEST_PROBES_MAX];
};

static struct rig rig;

static void
make_plan(enum bus_driver kind)
{
    rig.bus = (struct plan_bus){
        .id = "line-a",
        .driver = kind,
        .device = kind == BUS_MODBUS_RTU ? peer_path(rig.peer) : NULL,
        .baud_bps = 115200,
        .parity = 'N',
        .stop_bits = 1,
        .host = "127.0.0.1",
        .port = peer_port(rig.peer),
        .timeout_ms = TIMEOUT_MS,
        .max_late_ms = MAX_LATE_MS,
    };
    rig.plan.buses = &rig.bus;
    rig.plan.bus_count = 1;
    rig.plan.probes = rig.probes;
    rig.plan.probe_count = 8;
    for (uint16_t i = 0; i < 8; i++)
        rig.probes[i] = (struct plan_probe){
            .unit = (uint8_t)(5 + i / 4),
            .function = 4,
            .reg = (uint16_t)(i % 4 / 2 * 10 + i % 2),
            .type = REGISTER_INT16,
            .scale_micro = 1000000,
            .plausible_min_mC = -20000000,
            .plausible_max_mC = 20000000,
            .every_ms = 1000,
        };
    rig.request_count = rig.driver->requests(&rig.plan, 0, rig.requests, 8);
    assert_int_equal(rig.request_count, 4);
}

static void
open_line(void)
{
    if (!rig.driver->open(&rig.plan, 0, &rig.clock, &rig.state, &rig.error))
        fail_msg("%s", rig.error.text);
}

static int
set_up(enum bus_driver kind)
{
    memset(&rig, 0, sizeof rig);
    rig.clock = clock_machine();
    rig.driver = probe_driver_for(kind);
    rig.peer = kind == BUS_MODBUS_RTU   ? peer_new_rtu()
               : kind == BUS_MODBUS_TCP ? peer_new_tcp()
                                        : peer_new_rtu_tcp();
    assert_non_null(rig.peer);
    make_plan(kind);
    return 0;
}

static int
set_up_rtu(void **state)
{
    (void)state;
    (void)set_up(BUS_MODBUS_RTU);
    open_line();
    return 0;
}

static int
set_up_tcp(void **state)
{
    (void)state;
    (void)set_up(BUS_MODBUS_TCP);
    open_line();
    return 0;
}

static int
set_up_rtu_tcp(void **state)
{
    (void)state;
    (void)set_up(BUS_MODBUS_RTU_TCP);
    open_line();
    return 0;
}

static int
tear_down(void **state)
{
    (void)state;
    rig.driver->close(rig.state);
    peer_free(rig.peer);
    return 0;
}

/* One exchange with a fault. Returns its quality; a good one must be true. */
static uint16_t
exchange(size_t request, enum peer_fault fault, int64_t late_ms)
{
    peer_set(rig.peer, fault, late_ms, TIMEOUT_MS + MAX_LATE_MS - 3, MAX_LATE_MS - 3);
    const uint32_t heard = peer_heard(rig.peer);
    assert_true(rig.driver->read(rig.state, &rig.requests[request], rig.samples, &rig.error));
    peer_over(rig.peer, heard + 1);
    for (uint16_t i = 0; i < 2; i++) {
        const struct driver_sample *sample = &rig.samples[i];
        assert_int_equal(sample->quality, rig.samples[0].quality);
        if (sample->quality != READING_GOOD) {
            assert_int_equal(sample->temp_mC, TEMP_NONE);
            continue;
        }
        const uint16_t reg = rig.probes[rig.requests[request].probes[i]].reg;
        assert_int_equal(sample->temp_mC, fault == PEER_EQUAL
                                              ? PEER_EQUAL_VALUE * 1000
                                              : peer_truth(rig.peer, reg) * 1000);
    }
    return rig.samples[0].quality;
}

/* The same until it has the wanted outcome, a few times at most: a loaded machine may let a
 * reply be late that is not meant to be. Values are checked every time. */
static void
exchange_wanting(uint16_t wanted, size_t request, enum peer_fault fault)
{
    uint16_t got = exchange(request, fault, TIMEOUT_MS + 10);
    for (int i = 0; i < 5 && got != wanted; i++)
        got = exchange(request, fault, TIMEOUT_MS + 10);
    if (got != wanted)
        fail_msg("fault %d gave %d, not %d", fault, got, wanted);
}

/* ---- each fault by itself ---- */

static const struct {
    enum peer_fault fault;
    uint16_t rtu, tcp; /* 0 good, 1 not on this line */
} causes[] = {
    {PEER_CLEAN, READING_GOOD, READING_GOOD},
    {PEER_TRICKLE, READING_GOOD, READING_GOOD},
    {PEER_SILENT, BAD_TIMEOUT, BAD_TIMEOUT},
    {PEER_LATE, BAD_TIMEOUT, BAD_TIMEOUT},
    {PEER_STUCK, BAD_FRAME, BAD_FRAME},
    {PEER_BIT_FLIPPED, BAD_CRC, 1},
    {PEER_WRONG_UNIT, BAD_WRONG_UNIT, BAD_WRONG_UNIT},
    {PEER_WRONG_FUNCTION, BAD_WRONG_UNIT, BAD_WRONG_UNIT},
    {PEER_WRONG_LENGTH, BAD_WRONG_UNIT, BAD_WRONG_UNIT},
    {PEER_EXCEPTION, BAD_EXCEPTION, BAD_EXCEPTION},
    {PEER_NOISE_BEFORE, BAD_FRAME, BAD_FRAME},
    {PEER_NOISE_AFTER, BAD_FRAME, READING_GOOD}, /* a TCP reply says where it ends */
    {PEER_TWICE, BAD_FRAME, READING_GOOD},
    {PEER_ABSURD, BAD_IMPLAUSIBLE, BAD_IMPLAUSIBLE},
    {PEER_DROPPED, 1, BAD_LINK},
    {PEER_REPEATED, 1, READING_GOOD},
    {PEER_HELD, 1, BAD_TIMEOUT},
};

static void
check_causes(bool tcp)
{
    exchange_wanting(READING_GOOD, 0, PEER_CLEAN);
    for (size_t i = 0; i < sizeof causes / sizeof *causes; i++) {
        const uint16_t wanted = tcp ? causes[i].tcp : causes[i].rtu;
        if (wanted == 1)
            continue;
        exchange_wanting(wanted, 0, causes[i].fault);
        if (wanted != READING_GOOD && wanted != BAD_IMPLAUSIBLE)
            assert_non_null(strstr(rig.error.text, "bus 'line-a', unit 5"));
        /* The next exchange, of a request whose reply looks the same, is none the worse for it.
         */
        exchange_wanting(READING_GOOD, 1, PEER_CLEAN);
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

/* ---- the late reply that fits ---- */

static void
test_rtu_late_reply_at_any_moment_is_never_taken_for_the_next(void **state)
{
    (void)state;
    for (int64_t late_ms = TIMEOUT_MS - 4; late_ms < TIMEOUT_MS + MAX_LATE_MS - 5;
         late_ms += 2) {
        (void)exchange(0, PEER_LATE, late_ms);
        exchange_wanting(READING_GOOD, 1, PEER_CLEAN);
    }
}

static void
test_rtu_over_tcp_late_reply_is_never_taken_for_the_next(void **state)
{
    (void)state;
    for (int64_t late_ms = TIMEOUT_MS - 4; late_ms < TIMEOUT_MS + MAX_LATE_MS - 5;
         late_ms += 6) {
        (void)exchange(0, PEER_LATE, late_ms);
        exchange_wanting(READING_GOOD, 1, PEER_CLEAN);
    }
}

static void
test_rtu_reply_owed_to_whoever_had_the_line_before_is_not_taken(void **state)
{
    (void)state;
    for (int i = 0; i < 5; i++) {
        (void)exchange(0, PEER_LATE, TIMEOUT_MS + 30);
        rig.driver->close(rig.state); /* as after a crash: nothing is remembered */
        open_line();
        exchange_wanting(READING_GOOD, 1, PEER_CLEAN);
    }
}

/* ---- the second copy that fits ---- */

/* The copy of a reply comes while the next request, of another register of the same unit, waits
 * for an answer that takes its time. */
static void
copy_is_never_taken_for_the_next(void)
{
    for (int64_t copy_ms = 2; copy_ms < MAX_LATE_MS - 5; copy_ms += 2) {
        (void)exchange(0, PEER_COPIED, copy_ms);
        exchange_wanting(READING_GOOD, 2, PEER_CLEAN); /* another unit comes between */
        (void)exchange(1, PEER_LATE, TIMEOUT_MS - 8);
        (void)exchange(3, PEER_CLEAN, 0);
        const int64_t until_ms = clock_mono_ms(&rig.clock) + MAX_LATE_MS;
        while (clock_mono_ms(&rig.clock) < until_ms) /* other requests fill the time */
            (void)exchange(2 + (size_t)(copy_ms & 1), PEER_CLEAN, 0);
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
        (void)exchange(0, PEER_COPIED, copy_ms);
        const int64_t until_ms = clock_mono_ms(&rig.clock) + MAX_LATE_MS;
        while (clock_mono_ms(&rig.clock) < until_ms) {
            const uint32_t heard = peer_heard(rig.peer);
            good += exchange(0, PEER_LATE, TIMEOUT_MS - 8) == READING_GOOD;
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
        exchange_wanting(READING_GOOD, 0, PEER_EQUAL);
        const uint32_t heard = peer_heard(rig.peer);
        const int64_t began_ms = clock_mono_ms(&rig.clock);
        assert_int_equal(exchange(2, PEER_EQUAL, 0), READING_GOOD); /* another unit: at once */
        assert_int_equal(peer_heard(rig.peer), heard + 1);
        assert_int_equal(exchange(1, PEER_EQUAL, 0), READING_GOOD);
        assert_int_equal(peer_heard(rig.peer), heard + 3);
        assert_true(clock_mono_ms(&rig.clock) - began_ms >= MAX_LATE_MS);
        assert_int_equal(exchange(1, PEER_EQUAL, 0), READING_GOOD);
        assert_int_equal(peer_heard(rig.peer), heard + 5);
        const int64_t until_ms = clock_mono_ms(&rig.clock) + MAX_LATE_MS + 1;
        while (clock_mono_ms(&rig.clock) < until_ms) /* another unit meanwhile */
            (void)exchange(2, PEER_CLEAN, 0);
        const uint32_t then = peer_heard(rig.peer);
        exchange_wanting(READING_GOOD, 1, PEER_EQUAL); /* no copy can come any more: at once */
        assert_int_equal(peer_heard(rig.peer), then + 1);
        while (clock_mono_ms(&rig.clock) < until_ms + MAX_LATE_MS)
            (void)exchange(2, PEER_CLEAN, 0);
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
        (void)exchange(0, PEER_EXCEPTION | PEER_COPIED, copy_ms);
        const int64_t until_ms = clock_mono_ms(&rig.clock) + MAX_LATE_MS;
        for (size_t i = 1; clock_mono_ms(&rig.clock) < until_ms; i++)
            late += exchange(i % 2, PEER_LATE, TIMEOUT_MS - 8) == READING_GOOD;
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
        exchange_wanting(BAD_EXCEPTION, 0, PEER_EXCEPTION);
        const uint32_t heard = peer_heard(rig.peer);
        const int64_t began_ms = clock_mono_ms(&rig.clock);
        assert_int_equal(exchange(2, PEER_EXCEPTION, 0), BAD_EXCEPTION); /* another: at once */
        assert_int_equal(peer_heard(rig.peer), heard + 1);
        assert_int_equal(exchange(i % 2 == 0, PEER_EXCEPTION, 0), BAD_EXCEPTION);
        assert_non_null(strstr(rig.error.text, "exception 4"));
        assert_int_equal(peer_heard(rig.peer), heard + 3);
        assert_true(clock_mono_ms(&rig.clock) - began_ms >= MAX_LATE_MS);
        const int64_t until_ms = clock_mono_ms(&rig.clock) + MAX_LATE_MS + 1;
        while (clock_mono_ms(&rig.clock) < until_ms)
            (void)exchange(3, PEER_CLEAN, 0);
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
    open_line();
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

/* ---- a unit that is away, and its neighbours ---- */

/* A silence, or a reply that comes too late, costs no new connection; the third in a row does.
 */
static void
silences_keep_the_connection(void)
{
    exchange_wanting(READING_GOOD, 0, PEER_CLEAN);
    uint32_t before = peer_connections(rig.peer);
    for (int i = 0; i < 6; i++) {
        (void)exchange(0, i % 2 == 0 ? PEER_SILENT : PEER_LATE, TIMEOUT_MS + 5);
        exchange_wanting(READING_GOOD, 2, PEER_CLEAN); /* of the other unit */
    }
    assert_int_equal(peer_connections(rig.peer), before);
    for (int i = 0; i < 3; i++)
        exchange_wanting(BAD_TIMEOUT, 0, PEER_SILENT);
    exchange_wanting(READING_GOOD, 2, PEER_CLEAN);
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
    exchange_wanting(READING_GOOD, 0, PEER_CLEAN);
    rig.bus.pause_ms = 150;
    exchange_wanting(READING_GOOD, 0, PEER_CLEAN);
    const int64_t began_ms = clock_mono_ms(&rig.clock);
    exchange_wanting(READING_GOOD, 0, PEER_CLEAN);
    assert_true(clock_mono_ms(&rig.clock) - began_ms >= 149); /* whole milliseconds */
    int64_t least_ms = INT64_MAX;
    for (int i = 0; i < 5; i++) { /* a loaded machine only adds */
        exchange_wanting(READING_GOOD, 0, PEER_CLEAN);
        const int64_t from_ms = clock_mono_ms(&rig.clock);
        (void)exchange(2, PEER_CLEAN, 0);
        const int64_t took_ms = clock_mono_ms(&rig.clock) - from_ms;
        least_ms = took_ms < least_ms ? took_ms : least_ms;
    }
    assert_true(least_ms < 150);
}

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
    open_line();
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
    for (size_t i = 0; i < sizeof causes / sizeof *causes; i++) {
        /* A bit has no absurd value. */
        const uint16_t wanted = causes[i].fault == PEER_ABSURD ? READING_GOOD
                                : tcp                          ? causes[i].tcp
                                                               : causes[i].rtu;
        if (wanted == 1)
            continue;
        uint16_t got = 1;
        for (int tries = 0; tries < 6 && got != wanted; tries++) /* a loaded machine */
            got = switch_exchange(causes[i].fault);
        if (got != wanted)
            fail_msg("fault %d gave %d, not %d", causes[i].fault, got, wanted);
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

/* ---- the line itself ---- */

static void
assert_line_gone(size_t request, const char *words)
{
    assert_false(rig.driver->read(rig.state, &rig.requests[request], rig.samples, &rig.error));
    for (uint16_t i = 0; i < 2; i++) {
        assert_int_equal(rig.samples[i].quality, BAD_LINK);
        assert_int_equal(rig.samples[i].temp_mC, TEMP_NONE);
    }
    assert_non_null(strstr(rig.error.text, words));
}

static void
assert_not_opened(const char *words)
{
    void *state = NULL;
    assert_false(rig.driver->open(&rig.plan, 0, &rig.clock, &state, &rig.error));
    if (strstr(rig.error.text, words) == NULL || strstr(rig.error.text, "bus 'line-a'") == NULL)
        fail_msg("says: %s", rig.error.text);
}

static void
test_direction_by_the_kernel_is_refused_where_it_cannot(void **state)
{
    (void)state;
    rig.driver->close(rig.state);
    rig.state = NULL;
    rig.bus.kernel_direction = true; /* a pseudo-terminal has no direction */
    assert_not_opened("cannot switch the direction");
    rig.bus.kernel_direction = false;
    open_line(); /* and nothing was left open */
}

static void
test_rtu_unplugged_adapter_is_reported_at_once(void **state)
{
    (void)state;
    exchange_wanting(READING_GOOD, 0, PEER_CLEAN);
    peer_unplug(rig.peer);
    /* Until the kernel has hung up, a request may still go nowhere. */
    bool there = true;
    for (int i = 0; i < 50 && there; i++)
        there = rig.driver->read(rig.state, &rig.requests[0], rig.samples, &rig.error);
    assert_false(there);
    assert_line_gone(1, "unplugged");
    rig.driver->close(rig.state);
    rig.state = NULL;
    assert_not_opened("does not exist");
}

static void
test_rtu_line_that_is_never_quiet_is_given_up(void **state)
{
    (void)state;
    exchange_wanting(READING_GOOD, 0, PEER_CLEAN);
    peer_babble(rig.peer);
    const int64_t began_ms = clock_mono_ms(&rig.clock);
    bool there = true;
    for (int i = 0; i < 3 && there; i++)
        there = rig.driver->read(rig.state, &rig.requests[0], rig.samples, &rig.error);
    assert_false(there);
    assert_non_null(strstr(rig.error.text, "never quiet"));
    assert_in_range(clock_mono_ms(&rig.clock) - began_ms, 2000, 10000); /* bounded */
}

static void
test_rtu_second_owner_of_a_line_is_refused(void **state)
{
    (void)state;
    assert_not_opened("in use by another program");
    exchange_wanting(READING_GOOD, 0, PEER_CLEAN); /* the first is not disturbed */
    rig.driver->close(rig.state);
    open_line();
    exchange_wanting(READING_GOOD, 0, PEER_CLEAN);
}

/* Linux drops the parity of a pseudo-terminal, and the C library's tcsetattr() calls settings
 * invalid when nothing but that was asked for: all else was left set by whoever was killed. */
static void
test_rtu_line_left_by_a_killed_daemon_is_opened(void **state)
{
    (void)state;
    int status;
    rig.driver->close(rig.state);
    rig.state = NULL;
    rig.bus.parity = 'E';
    const pid_t killed = fork();
    if (killed == 0) {
        void *opened = NULL;
        _exit(!rig.driver->open(&rig.plan, 0, &rig.clock, &opened, &rig.error)); /* no close */
    }
    assert_int_equal(waitpid(killed, &status, 0), killed);
    assert_int_equal(status, 0);
    open_line();
    exchange_wanting(READING_GOOD, 0, PEER_CLEAN);
}

static void
test_rtu_wrong_settings_are_named(void **state)
{
    (void)state;
    rig.driver->close(rig.state);
    rig.state = NULL;
    rig.bus.baud_bps = 14400; /* libmodbus would take 9600 instead */
    assert_not_opened("14400 baud");
    rig.bus.baud_bps = 19200;
    rig.bus.device = "/nowhere/ttyUSB0";
    assert_not_opened("does not exist");
    rig.bus.device = "/dev/null";
    assert_not_opened("is not a serial line");
}

static void
test_rtu_missing_permission_names_owner_and_group(void **state)
{
    (void)state;
    rig.driver->close(rig.state);
    rig.state = NULL;
    const uid_t us = geteuid();
    assert_int_equal(chmod(rig.bus.device, 0000), 0);
    if (us == 0)
        assert_int_equal(seteuid(65534), 0); /* nobody */
    void *opened = NULL;
    const bool done = rig.driver->open(&rig.plan, 0, &rig.clock, &opened, &rig.error);
    if (us == 0)
        assert_int_equal(seteuid(us), 0);
    assert_false(done);
    assert_non_null(strstr(rig.error.text, "no permission"));
    assert_non_null(strstr(rig.error.text, "add that user to the group"));
}

static void
test_full_table_of_descriptors_is_refused_and_not_fatal(void **state)
{
    (void)state;
    static int held[1100];
    struct rlimit before, more;
    rig.driver->close(rig.state);
    rig.state = NULL;
    assert_int_equal(getrlimit(RLIMIT_NOFILE, &before), 0);
    more = before;
    if (more.rlim_cur < 2048)
        more.rlim_cur = more.rlim_max < 2048 ? more.rlim_max : 2048;
    assert_int_equal(setrlimit(RLIMIT_NOFILE, &more), 0);
    size_t count = 0;
    while (count < sizeof held / sizeof *held &&
           (held[count] = open("/dev/null", O_RDONLY | O_CLOEXEC)) >= 0)
        count++;
    void *opened = NULL;
    const bool done = rig.driver->open(&rig.plan, 0, &rig.clock, &opened, &rig.error);
    while (count > 0)
        (void)close(held[--count]);
    assert_int_equal(setrlimit(RLIMIT_NOFILE, &before), 0);
    assert_false(done);
    assert_non_null(strstr(rig.error.text, "too many files open"));
}

static void
test_tcp_closed_server_is_reported_and_its_port_named(void **state)
{
    (void)state;
    exchange_wanting(READING_GOOD, 0, PEER_CLEAN);
    peer_unplug(rig.peer);
    bool there = true;
    for (int i = 0; i < 50 && there; i++)
        there = rig.driver->read(rig.state, &rig.requests[0], rig.samples, &rig.error);
    assert_false(there);
    assert_line_gone(1, "refuses the connection");
    rig.driver->close(rig.state);
    rig.state = NULL;
    assert_not_opened("refuses the connection");
}

static void
test_exchange_costs_no_more_than_time_out_and_quiet(void **state)
{
    (void)state;
    (void)exchange(0, PEER_SILENT, 0); /* also waits out the quiet after opening */
    int64_t least_ms = INT64_MAX;
    for (int i = 0; i < 5; i++) {
        const int64_t began_ms = clock_mono_ms(&rig.clock);
        (void)exchange(0, PEER_STUCK, 0);
        const int64_t took_ms = clock_mono_ms(&rig.clock) - began_ms;
        least_ms = took_ms < least_ms ? took_ms : least_ms;
    }
    /* A loaded machine only adds; the best of five shows the rule. */
    assert_in_range(least_ms, TIMEOUT_MS, TIMEOUT_MS + MAX_LATE_MS + 15);
}

#define WITH(test, up) cmocka_unit_test_setup_teardown(test, up, tear_down)

int
main(void)
{
    const struct CMUnitTest tests[] = {
        WITH(test_rtu_every_fault_gets_its_cause_and_the_next_reply_is_good, set_up_rtu),
        WITH(test_tcp_every_fault_gets_its_cause_and_the_next_reply_is_good, set_up_tcp),
        WITH(test_rtu_late_reply_at_any_moment_is_never_taken_for_the_next, set_up_rtu),
        WITH(test_rtu_reply_owed_to_whoever_had_the_line_before_is_not_taken, set_up_rtu),
        WITH(test_rtu_second_copy_at_any_moment_is_never_taken_for_the_next, set_up_rtu),
        WITH(test_rtu_over_tcp_second_copy_is_never_taken_for_the_next, set_up_rtu_tcp),
        WITH(test_rtu_second_copy_is_never_taken_for_a_new_reading_of_its_own_register,
             set_up_rtu),
        WITH(test_rtu_over_tcp_second_copy_is_never_taken_for_a_new_reading_of_its_own_register,
             set_up_rtu_tcp),
        WITH(test_rtu_second_copy_of_a_refusal_lets_no_reply_meet_another_request, set_up_rtu),
        WITH(test_rtu_over_tcp_second_copy_of_a_refusal_lets_no_reply_meet_another_request,
             set_up_rtu_tcp),
        WITH(test_rtu_second_copy_before_a_slow_reply_spoils_nothing, set_up_rtu),
        WITH(test_rtu_second_copy_of_a_refusal_before_a_slow_reply_spoils_nothing, set_up_rtu),
        WITH(test_rtu_second_refusal_of_a_unit_costs_a_quiet_and_keeps_its_cause, set_up_rtu),
        WITH(test_rtu_equal_replies_of_a_unit_cost_a_quiet_and_are_good, set_up_rtu),
        WITH(test_rtu_one_reply_in_ten_late_costs_its_own_poll_only, set_up_rtu),
        WITH(test_rtu_plain_library_takes_late_replies_for_the_next, set_up_rtu),
        WITH(test_rtu_over_tcp_every_fault_gets_its_cause_and_the_next_reply_is_good,
             set_up_rtu_tcp),
        WITH(test_rtu_over_tcp_late_reply_is_never_taken_for_the_next, set_up_rtu_tcp),
        WITH(test_tcp_silence_of_one_unit_costs_no_connection, set_up_tcp),
        WITH(test_rtu_over_tcp_silence_of_one_unit_costs_no_connection, set_up_rtu_tcp),
        WITH(test_pause_separates_requests_to_one_unit_only, set_up_tcp),
        WITH(test_status_beside_a_value_decides_over_it, set_up_rtu),
        WITH(test_status_beside_a_signal_decides_over_it, set_up_rtu),
        WITH(test_status_elsewhere_is_read_by_itself_after_the_values, set_up_rtu),
        WITH(test_rtu_switches_are_read_with_the_same_care, set_up_rtu),
        WITH(test_rtu_over_tcp_switches_are_read_with_the_same_care, set_up_rtu_tcp),
        WITH(test_tcp_switches_are_read_with_the_same_care, set_up_tcp),
        WITH(test_direction_by_the_kernel_is_refused_where_it_cannot, set_up_rtu),
        WITH(test_rtu_unplugged_adapter_is_reported_at_once, set_up_rtu),
        WITH(test_rtu_line_that_is_never_quiet_is_given_up, set_up_rtu),
        WITH(test_rtu_second_owner_of_a_line_is_refused, set_up_rtu),
        WITH(test_rtu_line_left_by_a_killed_daemon_is_opened, set_up_rtu),
        WITH(test_rtu_wrong_settings_are_named, set_up_rtu),
        WITH(test_rtu_missing_permission_names_owner_and_group, set_up_rtu),
        WITH(test_full_table_of_descriptors_is_refused_and_not_fatal, set_up_tcp),
        WITH(test_tcp_closed_server_is_reported_and_its_port_named, set_up_tcp),
        WITH(test_exchange_costs_no_more_than_time_out_and_quiet, set_up_rtu),
    };
    (void)signal(SIGPIPE, SIG_IGN); /* as the daemon's main does */
    return cmocka_run_group_tests(tests, NULL, NULL);
}
