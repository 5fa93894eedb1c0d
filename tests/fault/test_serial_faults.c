/* The serial line driver against a thermometer whose lines get lost, cut, doubled, flipped and
 * mixed with noise, by a seeded generator: every good reading is one the device truly sent in
 * that exchange, and a sound line after a spoilt one is heard.
 *
 * Left out is what no receiver can tell: a check sum that was repaired, and a digit changed on
 * a line without one. Rounds and seed: TRIVET_ROUNDS, TRIVET_SEED. */
#define _GNU_SOURCE /* ptsname_r */

#include "tests/support/check.h"

#include <fcntl.h>
#include <poll.h>
#include <pthread.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/eventfd.h>
#include <unistd.h>

#include "trivet/clock.h"
#include "trivet/probe_driver.h"
#include "trivet/units.h"

#define ROUNDS     300
#define TIMEOUT_MS 60
/* Values of the last few lines may be in flight as an exchange ends. */
#define SENT_MAX 4096

enum fault { CLEAN, FLIPPED, CUT, LOST_END, DOUBLED, NOISE, ENDLESS, MERGED, FAULTS };

static struct {
    int master, stop_fd;
    char device[100];
    pthread_t thread;
    struct plan plan;
    struct plan_bus bus;
    struct plan_probe probe;
    struct clock clock;
    void *state;
    bool asked;

    pthread_cond_t sent_more;
    pthread_mutex_t lock; /* guards what follows */
    bool faulty;
    uint64_t seed;
    int32_t sent_mC[SENT_MAX]; /* values of the lines of this exchange */
    size_t sent_count;
    int32_t next_mC;
} rig;

static uint32_t
drawn(uint32_t below)
{
    rig.seed = rig.seed * 6364136223846793005ULL + 1442695040888963407ULL;
    return (uint32_t)((rig.seed >> 33) % below);
}

/* "T=12.345*hh\r\n", the sum of what stands before the asterisk. An exclusive or would not see
 * two equal digits too many. */
static size_t
sound_line(char ret[64], int32_t temp_mC)
{
    unsigned sum = 0;
    const int len = snprintf(ret, 40, "T=%d.%03d", temp_mC / 1000, temp_mC % 1000);
    for (int i = 0; i < len; i++)
        sum += (unsigned char)ret[i];
    return (size_t)len + (size_t)snprintf(ret + len, 10, "*%02X\r\n", sum & 0xff);
}

static size_t
spoil(char bytes[2000], size_t len, enum fault fault)
{
    switch (fault) {
    case FLIPPED: /* one bit of the line, not of its end */
        bytes[drawn((uint32_t)len - 2)] ^= (char)(1 << drawn(8));
        return len;
    case CUT:
        return drawn((uint32_t)len);
    case LOST_END:
        return len - 2;
    case DOUBLED:
        memcpy(bytes + len, bytes, len);
        return 2 * len;
    case NOISE:
        for (size_t i = 0; i < 5; i++)
            bytes[len + i] = (char)drawn(256);
        return len + 5;
    case ENDLESS:
        memset(bytes, '7', 900);
        return 900;
    case MERGED: /* the beginning of one, then the rest of another */
        memmove(bytes + 4, bytes + 2, len - 2);
        return len + 2;
    case CLEAN:
    case FAULTS:
        break;
    }
    return len;
}

static void
send_line(void)
{
    char bytes[2000];
    (void)pthread_mutex_lock(&rig.lock);
    rig.next_mC =
        10000 + (rig.next_mC + 7919) % 90000; /* 7919 is a prime: no value twice soon */
    size_t len = sound_line(bytes, rig.next_mC);
    rig.sent_mC[rig.sent_count++ % SENT_MAX] = rig.next_mC;
    (void)pthread_cond_broadcast(&rig.sent_more);
    const enum fault fault = rig.faulty && drawn(3) > 0 ? (enum fault)drawn(FAULTS) : CLEAN;
    len = spoil(bytes, len, fault);
    (void)pthread_mutex_unlock(&rig.lock);
    (void)!write(rig.master, bytes, len); /* full: lost, as on a real line */
}

static void *
play(void *arg)
{
    (void)arg;
    for (;;) {
        struct pollfd fds[] = {{.fd = rig.stop_fd, .events = POLLIN},
                               {.fd = rig.asked ? rig.master : -1, .events = POLLIN}};
        char question[64];
        const int ready = poll(fds, 2, rig.asked ? -1 : 2);
        if (fds[0].revents != 0)
            return NULL;
        if (ready > 0 && rig.asked && read(rig.master, question, sizeof question) <= 0)
            return NULL;
        send_line();
    }
}

static void
set_up(bool asked)
{
    const char *seed = getenv("TRIVET_SEED");
    memset(&rig, 0, sizeof rig);
    rig.asked = asked;
    rig.seed = seed != NULL && *seed != '\0' ? strtoull(seed, NULL, 10) : 20260301;
    rig.clock = clock_machine();
    (void)pthread_mutex_init(&rig.lock, NULL);
    (void)pthread_cond_init(&rig.sent_more, NULL);
    rig.stop_fd = eventfd(0, EFD_CLOEXEC);
    rig.master = posix_openpt(O_RDWR | O_NOCTTY | O_CLOEXEC | O_NONBLOCK);
    assert_true(rig.master >= 0 && grantpt(rig.master) == 0 && unlockpt(rig.master) == 0);
    assert_int_equal(ptsname_r(rig.master, rig.device, sizeof rig.device), 0);
    rig.bus = (struct plan_bus){.id = "line",
                                .driver = BUS_SERIAL_LINE,
                                .device = rig.device,
                                .baud_bps = 115200,
                                .parity = 'N',
                                .stop_bits = 1,
                                .data_bits = 8,
                                .pattern = "T={value}{to}*{sum8}",
                                .poll = asked ? "?\\r" : NULL,
                                .timeout_ms = TIMEOUT_MS,
                                .max_late_ms = 20};
    rig.probe = (struct plan_probe){.scale_micro = 1000000,
                                    .plausible_min_mC = -40000,
                                    .plausible_max_mC = 300000,
                                    .every_ms = 1000};
    rig.plan = (struct plan){
        .buses = &rig.bus, .bus_count = 1, .probes = &rig.probe, .probe_count = 1};
    struct driver_error error;
    if (!probe_driver_for(BUS_SERIAL_LINE)->open(&rig.plan, 0, &rig.clock, &rig.state, &error))
        fail_msg("%s", error.text);
    assert_int_equal(pthread_create(&rig.thread, NULL, play, NULL), 0);
}

static void
tear_down(void)
{
    static const uint64_t one = 1;
    assert_int_equal(write(rig.stop_fd, &one, sizeof one), sizeof one);
    assert_int_equal(pthread_join(rig.thread, NULL), 0);
    probe_driver_for(BUS_SERIAL_LINE)->close(rig.state);
    (void)close(rig.master);
    (void)close(rig.stop_fd);
    (void)pthread_cond_destroy(&rig.sent_more);
    (void)pthread_mutex_destroy(&rig.lock);
}

static bool
was_sent(int32_t temp_mC)
{
    bool found = false;
    (void)pthread_mutex_lock(&rig.lock);
    const size_t count = rig.sent_count < SENT_MAX ? rig.sent_count : SENT_MAX;
    for (size_t i = 0; i < count; i++)
        found = found || rig.sent_mC[i] == temp_mC;
    (void)pthread_mutex_unlock(&rig.lock);
    return found;
}

/* One exchange; a good value must have been sent in it. */
static uint16_t
exchange(bool faulty)
{
    const struct driver_request request = {.count = 1};
    struct driver_sample sample;
    struct driver_error error;
    (void)pthread_mutex_lock(&rig.lock);
    rig.faulty = faulty;
    /* As between two polls: lines that nobody reads become old. */
    for (const size_t from = rig.sent_count; !rig.asked && rig.sent_count < from + 5;)
        (void)pthread_cond_wait(&rig.sent_more, &rig.lock);
    /* What was sent before is old; the line that is under way just now is the device's own. */
    const int32_t under_way = rig.next_mC;
    rig.sent_count = 0;
    (void)pthread_mutex_unlock(&rig.lock);
    assert_true(probe_driver_for(BUS_SERIAL_LINE)->read(rig.state, &request, &sample, &error));
    if (sample.quality == READING_GOOD) {
        if (!was_sent(sample.temp_mC) && sample.temp_mC != under_way)
            fail_msg("%d mC was never sent", sample.temp_mC);
    } else {
        assert_int_equal(sample.temp_mC, TEMP_NONE);
        assert_true(sample.quality == BAD_TIMEOUT || sample.quality == BAD_CRC ||
                    sample.quality == BAD_FRAME);
    }
    return sample.quality;
}

static void
rounds(bool asked)
{
    const char *text = getenv("TRIVET_ROUNDS");
    const long count = text != NULL && *text != '\0' ? strtol(text, NULL, 10) : ROUNDS;
    long good = 0, clean_good = 0, clean = 0;
    set_up(asked);
    print_message("seed %llu, %ld rounds\n", (unsigned long long)rig.seed, count);
    for (long i = 0; i < count; i++) {
        const bool faulty = i % 4 != 3;
        const uint16_t quality = exchange(faulty);
        good += quality == READING_GOOD;
        clean += !faulty;
        clean_good += !faulty && quality == READING_GOOD;
    }
    print_message("%ld good, %ld of %ld undisturbed exchanges among them\n", good, clean_good,
                  clean);
    tear_down();
    /* A loaded machine may be late itself; but faults must not spoil what comes after them. */
    assert_true(clean_good * 100 >= clean * 90);
}

static void
test_lines_that_come_by_themselves_never_give_a_wrong_value(void **state)
{
    (void)state;
    rounds(false);
}

static void
test_lines_on_question_never_give_a_wrong_value(void **state)
{
    (void)state;
    rounds(true);
}

int
main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_lines_that_come_by_themselves_never_give_a_wrong_value),
        cmocka_unit_test(test_lines_on_question_never_give_a_wrong_value),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
