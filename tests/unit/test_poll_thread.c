/* Bus threads with a driver and a queue that the test plays. Everything is awaited, nothing
 * timed: runs under TSan too. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>
#include <errno.h>
#include <pthread.h>
#include <string.h>
#include <time.h>

#include "daemon/poll/poll_room.h"
#include "trivet/reading.h"
#include "trivet/units.h"

#define MESSAGES_MAX 4000
/* Longest that anything here may take on a loaded machine. */
#define PATIENCE_S 60

/* What the fake device of a bus does; guarded by lock. */
struct fake_bus {
    bool openable, gone, active;
    uint16_t quality;
    int opened, closed, read;
};

static struct {
    pthread_mutex_t lock;
    pthread_cond_t changed;
    struct message messages[MESSAGES_MAX];
    size_t count;
    bool full; /* post refuses */
    size_t refused;
    struct fake_bus fakes[2];
    struct plan plan;
    struct plan_bus buses[2];
    struct plan_probe probes[4];
    struct plan_switch switches[1];
    struct clock clock;
    struct poll *poll;
} rig = {.lock = PTHREAD_MUTEX_INITIALIZER, .changed = PTHREAD_COND_INITIALIZER};

/* ---- the fake driver ---- */

static size_t
fake_requests(const struct plan *plan, uint16_t bus, struct driver_request *ret, size_t max)
{
    size_t count = 0;
    for (uint16_t i = 0; i < plan->switch_count && count < max; i++)
        if (plan->switches[i].bus == bus)
            ret[count++] = (struct driver_request){.probes = {i},
                                                   .count = 1,
                                                   .is_switches = true,
                                                   .unit = plan->switches[i].unit,
                                                   .every_ms = plan->switches[i].every_ms};
    for (uint16_t i = 0; i < plan->probe_count && count < max; i++) {
        if (plan->probes[i].bus != bus)
            continue;
        if (count > 0 && ret[count - 1].unit == plan->probes[i].unit) {
            ret[count - 1].probes[ret[count - 1].count++] = i;
            continue;
        }
        ret[count++] = (struct driver_request){.probes = {i},
                                               .count = 1,
                                               .unit = plan->probes[i].unit,
                                               .every_ms = plan->probes[i].every_ms};
    }
    return count;
}

static bool
fake_open(const struct plan *plan, uint16_t bus, const struct clock *clock, void **ret_state,
          struct driver_error *reterr)
{
    (void)plan;
    (void)clock;
    (void)pthread_mutex_lock(&rig.lock);
    struct fake_bus *fake = &rig.fakes[bus];
    const bool done = fake->openable;
    fake->opened += done;
    (void)pthread_cond_broadcast(&rig.changed);
    (void)pthread_mutex_unlock(&rig.lock);
    if (done)
        *ret_state = fake;
    else
        (void)strcpy(reterr->text, "the adapter is not plugged in");
    return done;
}

static bool
fake_read(void *state, const struct driver_request *request, struct driver_sample *ret_samples,
          struct driver_error *reterr)
{
    struct fake_bus *fake = state;
    (void)pthread_mutex_lock(&rig.lock);
    const bool gone = fake->gone;
    const uint16_t quality = gone ? BAD_LINK : fake->quality;
    fake->read++;
    for (uint16_t i = 0; i < request->count; i++)
        ret_samples[i] = (struct driver_sample){
            .temp_mC =
                quality == READING_GOOD ? 1000 * request->probes[i] + fake->read : TEMP_NONE,
            .quality = quality,
            .is_active = request->is_switches && quality == READING_GOOD && fake->active};
    (void)pthread_mutex_unlock(&rig.lock);
    if (gone)
        (void)strcpy(reterr->text, "the adapter was unplugged");
    return !gone;
}

static void
fake_close(void *state)
{
    struct fake_bus *fake = state;
    if (fake == NULL)
        return;
    (void)pthread_mutex_lock(&rig.lock);
    fake->closed++;
    (void)pthread_mutex_unlock(&rig.lock);
}

static const struct probe_driver fake_driver = {.name = "fake",
                                                .requests = fake_requests,
                                                .open = fake_open,
                                                .read = fake_read,
                                                .close = fake_close};

static const struct probe_driver *
fake_driver_for(enum bus_driver kind)
{
    (void)kind;
    return &fake_driver;
}

static bool
take_post(void *arg, const struct message *message)
{
    (void)arg;
    (void)pthread_mutex_lock(&rig.lock);
    const bool taken = !rig.full && rig.count < MESSAGES_MAX;
    if (taken)
        rig.messages[rig.count++] = *message;
    else
        rig.refused++;
    (void)pthread_cond_broadcast(&rig.changed);
    (void)pthread_mutex_unlock(&rig.lock);
    return taken;
}

/* ---- the clock ---- */

static int64_t
running_ms(void *arg)
{
    (void)arg;
    struct timespec now;
    (void)clock_gettime(CLOCK_MONOTONIC, &now);
    return (int64_t)now.tv_sec * 1000 + now.tv_nsec / 1000000;
}

/* ---- waiting for what the threads do ---- */

/* Under the lock: waits until seen(arg) is true; fails the test when it never is. */
static void
await(bool (*seen)(size_t arg), size_t arg)
{
    struct timespec deadline;
    (void)clock_gettime(CLOCK_REALTIME, &deadline);
    deadline.tv_sec += PATIENCE_S;
    (void)pthread_mutex_lock(&rig.lock);
    int waited = 0;
    while (!seen(arg) && waited != ETIMEDOUT)
        waited = pthread_cond_timedwait(&rig.changed, &rig.lock, &deadline);
    const bool done = seen(arg);
    (void)pthread_mutex_unlock(&rig.lock);
    assert_true(done);
}

static bool
messages_reach(size_t count)
{
    return rig.count >= count;
}

static size_t
count_bus_messages(uint16_t bus, bool up)
{
    size_t count = 0;
    for (size_t i = 0; i < rig.count; i++)
        count += rig.messages[i].kind == MESSAGE_BUS && rig.messages[i].is.bus.bus == bus &&
                 rig.messages[i].is.bus.up == up;
    return count;
}

static bool
bus_0_is_down(size_t times)
{
    return count_bus_messages(0, false) >= times;
}

static bool
bus_0_is_up(size_t times)
{
    return count_bus_messages(0, true) >= times;
}

static bool
bad_readings_reach(size_t count)
{
    size_t seen = 0;
    for (size_t i = 0; i < rig.count; i++)
        seen += rig.messages[i].kind == MESSAGE_READING &&
                rig.messages[i].is.reading.quality == BAD_LINK;
    return seen >= count;
}

static bool
refusals_reach(size_t count)
{
    return rig.refused >= count;
}

static int
set_up(void **state)
{
    (void)state;
    rig.count = rig.refused = 0;
    rig.full = false;
    for (int i = 0; i < 2; i++)
        rig.fakes[i] = (struct fake_bus){.openable = true, .quality = READING_GOOD};
    /* Probes 0, 1 share a request on bus 0; 2 is a request of its own; 3 is on bus 1. */
    for (uint16_t i = 0; i < 4; i++)
        rig.probes[i] = (struct plan_probe){.number = (uint16_t)(10 + i),
                                            .bus = i == 3,
                                            .unit = (uint8_t)(i < 2 ? 1 : i),
                                            .every_ms = 20};
    rig.plan = (struct plan){
        .buses = rig.buses, .bus_count = 2, .probes = rig.probes, .probe_count = 4};
    rig.clock = (struct clock){.mono_ms = running_ms, .wall_ms = running_ms};
    return 0;
}

static void
start(void)
{
    const struct poll_doors doors = {.driver_for = fake_driver_for, .post = take_post};
    struct driver_error error;
    rig.poll = poll_start_through(&rig.plan, &doors, &rig.clock, &error);
    assert_non_null(rig.poll);
}

static void
stop(void)
{
    poll_stop(rig.poll);
    rig.poll = NULL;
    for (int i = 0; i < 2; i++)
        assert_int_equal(rig.fakes[i].opened, rig.fakes[i].closed);
}

static int
tear_down(void **state)
{
    (void)state;
    poll_stop(rig.poll);
    rig.poll = NULL;
    return 0;
}

static void
set_fake(int bus, bool openable, bool gone, uint16_t quality)
{
    (void)pthread_mutex_lock(&rig.lock);
    rig.fakes[bus].openable = openable;
    rig.fakes[bus].gone = gone;
    rig.fakes[bus].quality = quality;
    (void)pthread_mutex_unlock(&rig.lock);
}

/* ---- tests ---- */

static void
test_every_probe_is_posted_under_its_stored_number(void **state)
{
    (void)state;
    start();
    await(messages_reach, 40);
    stop();
    int seen[4] = {0};
    for (size_t i = 0; i < rig.count; i++) {
        assert_int_equal(rig.messages[i].kind, MESSAGE_READING);
        assert_int_equal(rig.messages[i].is.reading.quality, READING_GOOD);
        assert_in_range(rig.messages[i].is.reading.probe, 10, 13);
        const int index = rig.messages[i].is.reading.probe - 10;
        assert_int_equal(rig.messages[i].is.reading.temp_mC / 1000, index);
        seen[index]++;
    }
    for (int i = 0; i < 4; i++)
        assert_true(seen[i] >= 2);
}

static void
test_samples_of_one_request_carry_the_same_stamp(void **state)
{
    (void)state;
    start();
    await(messages_reach, 40);
    stop();
    int pairs = 0;
    int64_t last_ms = 0;
    for (size_t i = 0; i < rig.count; i++) {
        if (rig.messages[i].is.reading.probe != 10)
            continue;
        assert_true(rig.messages[i].born_ms > last_ms);
        last_ms = rig.messages[i].born_ms;
        for (size_t k = i + 1; k < rig.count; k++)
            if (rig.messages[k].is.reading.probe ==
                11) { /* its pair is the next of the other */
                assert_int_equal(rig.messages[k].born_ms, last_ms);
                pairs++;
                break;
            }
    }
    assert_true(pairs >= 2);
}

static void
test_line_that_cannot_be_opened_is_told_once_and_its_probes_stay_bad(void **state)
{
    (void)state;
    set_fake(0, false, false, READING_GOOD);
    start();
    await(bad_readings_reach, 30);
    stop();
    assert_int_equal(count_bus_messages(0, false), 1);
    assert_int_equal(count_bus_messages(0, true), 0);
    assert_int_equal(count_bus_messages(1, false), 0);
    size_t i = 0;
    while (rig.messages[i].kind != MESSAGE_BUS)
        i++;
    assert_string_equal(rig.messages[i].is.bus.trouble, "the adapter is not plugged in");
    for (i = 0; i < rig.count; i++)
        if (rig.messages[i].kind == MESSAGE_READING && rig.messages[i].is.reading.probe != 13) {
            assert_int_equal(rig.messages[i].is.reading.quality, BAD_LINK);
            assert_int_equal(rig.messages[i].is.reading.temp_mC, TEMP_NONE);
        }
}

static void
test_lost_line_goes_down_and_comes_back_each_told_once(void **state)
{
    (void)state;
    start();
    await(messages_reach, 8);
    set_fake(0, false, true, READING_GOOD);
    await(bus_0_is_down, 1);
    await(bad_readings_reach, 20);
    set_fake(0, true, false, READING_GOOD);
    await(bus_0_is_up, 1);
    stop();
    assert_int_equal(count_bus_messages(0, false), 1);
    assert_int_equal(count_bus_messages(0, true), 1);
    assert_int_equal(count_bus_messages(1, false) + count_bus_messages(1, true), 0);
    assert_int_equal(rig.fakes[0].opened, 2);
    assert_int_equal(rig.fakes[1].opened, 1);
}

static void
test_change_of_a_line_survives_a_full_queue(void **state)
{
    (void)state;
    set_fake(0, false, false, READING_GOOD);
    (void)pthread_mutex_lock(&rig.lock);
    rig.full = true;
    (void)pthread_mutex_unlock(&rig.lock);
    start();
    await(refusals_reach, 20); /* readings are lost, and polling goes on */
    (void)pthread_mutex_lock(&rig.lock);
    rig.full = false;
    (void)pthread_mutex_unlock(&rig.lock);
    await(bus_0_is_down, 1);
    stop();
    assert_int_equal(count_bus_messages(0, false), 1);
}

static void
test_unit_that_does_not_answer_still_has_readings_but_few_exchanges(void **state)
{
    (void)state;
    set_fake(1, true, false, BAD_TIMEOUT);
    start();
    await(messages_reach, 120); /* about 30 periods of 20 ms */
    stop();
    int bad = 0;
    for (size_t i = 0; i < rig.count; i++)
        if (rig.messages[i].is.reading.probe == 13) {
            assert_int_equal(rig.messages[i].is.reading.quality, BAD_TIMEOUT);
            bad++;
        }
    assert_true(bad > rig.fakes[1].read);
}

static void
test_stop_does_not_wait_for_a_long_period(void **state)
{
    (void)state;
    for (int i = 0; i < 4; i++)
        rig.probes[i].every_ms = 3600000;
    start();
    await(messages_reach, 4);
    stop();
    assert_int_equal(rig.count, 4);
}

/* Bus 0 has two requests: of probes 0 and 1, and of probe 2, which is at the terminals of
 * probe 0. */
static void
test_cold_junction_is_read_before_what_needs_it(void **state)
{
    (void)state;
    rig.probes[0].sensor = "tc-k";
    rig.probes[0].cold_probe = 2;
    start();
    await(messages_reach, 40);
    stop();
    for (size_t i = 0; i < rig.count; i++)
        if (rig.messages[i].is.reading.probe == 12)
            return; /* the first of bus 0 */
        else
            assert_int_equal(rig.messages[i].is.reading.probe, 13); /* bus 1 */
    fail();
}

/* Probes 0 and 1 come with one reply, and 1 is at the terminals of 0: what it is worth has to
 * be known when the other is judged (docs/engine.md, E250). */
static void
test_cold_junction_of_the_same_reply_is_told_before_what_needs_it(void **state)
{
    (void)state;
    rig.probes[0].sensor = "tc-k";
    rig.probes[0].cold_probe = 1;
    start();
    await(messages_reach, 40);
    stop();
    int pairs = 0;
    uint16_t last = 0;
    for (size_t i = 0; i < rig.count; i++) {
        const uint16_t probe = rig.messages[i].is.reading.probe;
        if (probe != 10 && probe != 11)
            continue;
        assert_int_equal(probe, last == 11 ? 10 : 11);
        last = probe;
        pairs += probe == 10;
    }
    assert_true(pairs >= 2);
}

/* A broken sensor is a matter of its probe: the unit is asked again at its time. */
static void
test_signal_of_no_sensor_does_not_hold_the_unit_back(void **state)
{
    (void)state;
    static const uint16_t qualities[] = {BAD_SIGNAL, BAD_COLD_JUNCTION};
    for (size_t k = 0; k < 2; k++) {
        set_fake(0, true, false, qualities[k]);
        rig.count = 0;
        rig.fakes[0].read = 0;
        start();
        await(messages_reach, 60);
        stop();
        size_t bad = 0;
        for (size_t i = 0; i < rig.count; i++)
            bad += rig.messages[i].is.reading.quality == qualities[k];
        assert_true(bad >= 20);
        assert_true(rig.fakes[0].read >= 10);
    }
}

static void
test_bus_without_probes_is_left_alone(void **state)
{
    (void)state;
    rig.plan.probe_count = 3;
    start();
    await(messages_reach, 6);
    stop();
    assert_int_equal(rig.fakes[1].opened, 0);
    rig.plan.probe_count = 0;
    start();
    stop();
    assert_int_equal(rig.fakes[0].opened, 1);
}

/* ---- switches ---- */

static bool
switch_messages_reach(size_t count)
{
    size_t seen = 0;
    for (size_t i = 0; i < rig.count; i++)
        seen += rig.messages[i].kind == MESSAGE_SWITCH;
    return seen >= count;
}

static void
set_active(bool active)
{
    (void)pthread_mutex_lock(&rig.lock);
    rig.fakes[1].active = active;
    (void)pthread_mutex_unlock(&rig.lock);
}

/* A bus with a switch alone is polled; changes alone are told, each once, a full queue or not.
 */
static void
test_switch_is_told_when_it_changes_and_only_then(void **state)
{
    (void)state;
    static const struct {
        enum switch_state state;
        uint16_t cause;
    } wanted[] = {{SWITCH_RESTS, READING_GOOD},
                  {SWITCH_ACTIVE, READING_GOOD},
                  {SWITCH_UNKNOWN, BAD_TIMEOUT},
                  {SWITCH_ACTIVE, READING_GOOD}};
    rig.plan.probe_count = 3;
    rig.switches[0] = (struct plan_switch){.bus = 1, .unit = 9, .every_ms = 5};
    rig.plan.switches = rig.switches;
    rig.plan.switch_count = 1;
    start();
    await(switch_messages_reach, 1);
    (void)pthread_mutex_lock(&rig.lock);
    rig.full = true;
    (void)pthread_mutex_unlock(&rig.lock);
    set_active(true);
    await(refusals_reach, 20);
    (void)pthread_mutex_lock(&rig.lock);
    rig.full = false;
    (void)pthread_mutex_unlock(&rig.lock);
    await(switch_messages_reach, 2);
    set_fake(1, true, false, BAD_TIMEOUT);
    await(switch_messages_reach, 3);
    set_fake(1, true, false, READING_GOOD);
    await(switch_messages_reach, 4);
    (void)pthread_mutex_lock(&rig.lock);
    const size_t until = rig.count + 20;
    (void)pthread_mutex_unlock(&rig.lock);
    await(messages_reach, until);
    stop();
    size_t seen = 0;
    for (size_t i = 0; i < rig.count; i++) {
        const struct message *message = &rig.messages[i];
        assert_false(message->kind == MESSAGE_READING && message->is.reading.probe == 13);
        if (message->kind != MESSAGE_SWITCH)
            continue;
        assert_true(seen < 4);
        assert_int_equal(message->is.contact.index, 0);
        assert_int_equal(message->is.contact.state, wanted[seen].state);
        assert_int_equal(message->is.contact.cause, wanted[seen].cause);
        assert_ptr_equal(message->is.contact.plan, &rig.plan);
        seen++;
    }
    assert_int_equal(seen, 4);
}

#define WITH(test) cmocka_unit_test_setup_teardown(test, set_up, tear_down)

int
main(void)
{
    const struct CMUnitTest tests[] = {
        WITH(test_every_probe_is_posted_under_its_stored_number),
        WITH(test_samples_of_one_request_carry_the_same_stamp),
        WITH(test_line_that_cannot_be_opened_is_told_once_and_its_probes_stay_bad),
        WITH(test_lost_line_goes_down_and_comes_back_each_told_once),
        WITH(test_change_of_a_line_survives_a_full_queue),
        WITH(test_unit_that_does_not_answer_still_has_readings_but_few_exchanges),
        WITH(test_stop_does_not_wait_for_a_long_period),
        WITH(test_cold_junction_is_read_before_what_needs_it),
        WITH(test_cold_junction_of_the_same_reply_is_told_before_what_needs_it),
        WITH(test_signal_of_no_sensor_does_not_hold_the_unit_back),
        WITH(test_bus_without_probes_is_left_alone),
        WITH(test_switch_is_told_when_it_changes_and_only_then),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
