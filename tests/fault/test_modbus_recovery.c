/* How soon readings are good again after a fault: the real bus threads with the real driver,
 * against hostile devices, one bus for each fault and kind of line, all at once.
 *
 * The fault holds until it was noticed once, or, for a unit that is away, for some seconds. A
 * unit in back-off is asked again within half a minute: test_poll_schedule.c, by a virtual
 * clock.
 */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>
#include <pthread.h>
#include <signal.h>
#include <stdio.h>
#include <string.h>
#include <time.h>

#include "daemon/poll/poll_room.h"
#include "tests/support/modbus_peer.h"
#include "trivet/reading.h"

#define TIMEOUT_MS  200 /* ample for a loaded machine: what is clean shall be good */
#define MAX_LATE_MS 200
#define EVERY_MS    1000
#define AWAY_MS     4000
#define LINES_MAX   64
/* Longest that anything here may take on a loaded machine. */
#define PATIENCE_S 120

enum phase { PHASE_FAULT, PHASE_CLEAN, PHASE_GOOD };

struct line {
    struct peer *peer;
    uint32_t faults;
    bool is_away; /* the fault holds for AWAY_MS */
    enum phase phase;
    int64_t began_ms, ended_ms, good_ms; /* of the fault; and when a reading was good again */
    uint16_t cause;
};

static struct {
    pthread_mutex_t lock;
    pthread_cond_t changed;
    struct line lines[LINES_MAX];
    size_t count, good;
    struct plan plan;
    struct plan_bus buses[LINES_MAX];
    struct plan_probe probes[LINES_MAX];
    struct clock clock;
} rig = {.lock = PTHREAD_MUTEX_INITIALIZER, .changed = PTHREAD_COND_INITIALIZER};

static void
clean_from_now(struct line *line)
{
    peer_set(line->peer, PEER_CLEAN, 0, INT32_MAX, INT32_MAX);
    line->ended_ms = clock_mono_ms(&rig.clock);
    line->phase = PHASE_CLEAN;
}

static bool
take_reading(void *arg, const struct message *message)
{
    (void)arg;
    if (message->kind != MESSAGE_READING)
        return true;
    struct line *line = &rig.lines[message->is.reading.probe - 1];
    const uint16_t quality = message->is.reading.quality;
    (void)pthread_mutex_lock(&rig.lock);
    switch (line->phase) {
    case PHASE_FAULT:
        line->cause = quality;
        if (quality != READING_GOOD &&
            (!line->is_away || message->born_ms - line->began_ms >= AWAY_MS))
            clean_from_now(line);
        break;
    case PHASE_CLEAN:
        if (quality != READING_GOOD)
            break;
        line->good_ms = message->born_ms;
        line->phase = PHASE_GOOD;
        rig.good++;
        (void)pthread_cond_broadcast(&rig.changed);
        break;
    case PHASE_GOOD:
        break;
    }
    (void)pthread_mutex_unlock(&rig.lock);
    return true;
}

static void
add_line(enum bus_driver kind, uint32_t faults, bool is_away)
{
    const size_t i = rig.count++;
    struct line *line = &rig.lines[i];
    assert_true(i < LINES_MAX);
    line->peer = kind == BUS_MODBUS_RTU   ? peer_new_rtu()
                 : kind == BUS_MODBUS_TCP ? peer_new_tcp()
                                          : peer_new_rtu_tcp();
    assert_non_null(line->peer);
    line->faults = faults;
    line->is_away = is_away;
    line->began_ms = clock_mono_ms(&rig.clock);
    peer_set(line->peer, faults, TIMEOUT_MS + 10, INT32_MAX, INT32_MAX);
    rig.buses[i] = (struct plan_bus){
        .driver = kind,
        .device = kind == BUS_MODBUS_RTU ? peer_path(line->peer) : NULL,
        .baud_bps = 115200,
        .parity = 'N',
        .stop_bits = 1,
        .host = "127.0.0.1",
        .port = peer_port(line->peer),
        .timeout_ms = TIMEOUT_MS,
        .max_late_ms = MAX_LATE_MS,
    };
    (void)snprintf(rig.buses[i].id, sizeof rig.buses[i].id, "line-%u", (unsigned)i);
    rig.probes[i] = (struct plan_probe){
        .number = (uint16_t)(i + 1),
        .bus = (uint16_t)i,
        .unit = 5,
        .function = 4,
        .type = REGISTER_INT16,
        .scale_micro = 1000000,
        .plausible_min_mC = -20000000,
        .plausible_max_mC = 20000000,
        .every_ms = EVERY_MS,
    };
}

static const uint32_t on_all[] = {
    PEER_SILENT,
    PEER_LATE,
    PEER_STUCK,
    PEER_WRONG_UNIT,
    PEER_WRONG_FUNCTION,
    PEER_WRONG_LENGTH,
    PEER_EXCEPTION,
    PEER_NOISE_BEFORE,
    PEER_ABSURD,
    PEER_BIT_FLIPPED,
    PEER_LATE | PEER_NOISE_AFTER,
};
static const uint32_t on_serial[] = {PEER_NOISE_AFTER, PEER_TWICE,
                                     PEER_COPIED | PEER_BIT_FLIPPED};

static void
add_lines(void)
{
    static const enum bus_driver kinds[] = {BUS_MODBUS_RTU, BUS_MODBUS_RTU_TCP, BUS_MODBUS_TCP};
    for (size_t k = 0; k < 3; k++) {
        for (size_t i = 0; i < sizeof on_all / sizeof *on_all; i++)
            add_line(kinds[k], on_all[i], false);
        for (size_t i = 0; k < 2 && i < sizeof on_serial / sizeof *on_serial; i++)
            add_line(kinds[k], on_serial[i], false);
        if (k > 0)
            add_line(kinds[k], PEER_DROPPED, false);
        add_line(kinds[k], PEER_SILENT, true);
    }
    add_line(BUS_MODBUS_TCP, PEER_HELD, false);
}

static void
await_good(void)
{
    struct timespec deadline;
    (void)clock_gettime(CLOCK_REALTIME, &deadline);
    deadline.tv_sec += PATIENCE_S;
    (void)pthread_mutex_lock(&rig.lock);
    int late = 0;
    while (rig.good < rig.count && late == 0)
        late = pthread_cond_timedwait(&rig.changed, &rig.lock, &deadline);
    (void)pthread_mutex_unlock(&rig.lock);
}

static void
test_readings_are_good_within_two_periods_of_a_fault(void **state)
{
    (void)state;
    struct driver_error error;
    int64_t worst_ms = 0;
    rig.clock = clock_machine();
    add_lines();
    rig.plan = (struct plan){.buses = rig.buses,
                             .bus_count = rig.count,
                             .probes = rig.probes,
                             .probe_count = rig.count};
    const struct poll_doors doors = {.driver_for = probe_driver_for, .post = take_reading};
    struct poll *poll = poll_start_through(&rig.plan, &doors, &rig.clock, &error);
    if (poll == NULL)
        fail_msg("%s", error.text);
    await_good();
    poll_stop(poll);
    for (size_t i = 0; i < rig.count; i++) {
        const struct line *line = &rig.lines[i];
        const int64_t took_ms = line->good_ms - line->ended_ms;
        peer_free(line->peer);
        if (line->phase != PHASE_GOOD)
            fail_msg("driver %d, faults 0x%x: never good again (%d)", (int)rig.buses[i].driver,
                     (unsigned)line->faults, (int)line->cause);
        /* A unit that was away is in back-off: a minute at most. */
        const int64_t most_ms = line->is_away ? 60000 : 2 * EVERY_MS + TIMEOUT_MS + MAX_LATE_MS;
        if (took_ms > most_ms)
            fail_msg("driver %d, faults 0x%x: good after %lld ms", (int)rig.buses[i].driver,
                     (unsigned)line->faults, (long long)took_ms);
        if (!line->is_away && took_ms > worst_ms)
            worst_ms = took_ms;
    }
    print_message("%u lines, the slowest good again after %lld ms at a period of %d ms\n",
                  (unsigned)rig.count, (long long)worst_ms, EVERY_MS);
}

int
main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_readings_are_good_within_two_periods_of_a_fault),
    };
    (void)signal(SIGPIPE, SIG_IGN); /* as the daemon's main does */
    return cmocka_run_group_tests(tests, NULL, NULL);
}
