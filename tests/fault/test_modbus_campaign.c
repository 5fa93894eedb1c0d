/* The Modbus driver against a hostile device, many times: seeded exchanges with every fault of
 * modbus_peer.h, singly and in combination, on a pseudo-terminal, on TCP, and with serial
 * frames on TCP.
 *
 * Every good sample must equal what the device held in that very exchange, and every other one
 * has the cause that its faults allow. What no receiver can tell is injected as well and
 * counted by itself. Most of the time is waiting, so many lines run at once, each a process of
 * its own. TRIVET_EXCHANGES sets how many exchanges there are on all lines together,
 * TRIVET_SEED the seed.
 */
#define _DEFAULT_SOURCE /* MAP_ANONYMOUS */

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>
#include <poll.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/mman.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>

#include "tests/support/modbus_peer.h"
#include "trivet/clock.h"
#include "trivet/probe_driver.h"
#include "trivet/reading.h"
#include "trivet/units.h"

#define TIMEOUT_MS  25
#define MAX_LATE_MS 75
/* What is declared longest, less what a loaded machine may need to bring it. */
#define AFTER_MS  (MAX_LATE_MS - 20)
#define LATEST_MS (TIMEOUT_MS + AFTER_MS)
#define EXCHANGES 20000
#define LINES     18
#define REQUESTS  4

enum count {
    COUNT_EXCHANGES,
    COUNT_CLEAN,
    COUNT_CLEAN_GOOD,
    COUNT_GOOD,
    COUNT_COMBINED,   /* exchanges with two faults and more */
    COUNT_REFUSED,    /* refusals of which a second copy came */
    COUNT_STALLED,    /* a cause that only a machine that stalls explains */
    COUNT_REPAIRED,   /* undetectable, injected */
    COUNT_OTHER,      /* likewise */
    COUNT_TOO_LATE,   /* likewise */
    COUNT_WRONG_SENT, /* good samples that were as wrong as what was sent: of the first two */
    COUNT_WRONG_LATE, /* good samples of an exchange later than the declared longest */
    COUNT_FAULT_0,    /* how often each fault was injected */
    COUNTS = COUNT_FAULT_0 + PEER_FAULTS
};

/* One line and what is known of it. */
struct line {
    enum bus_driver kind;
    int number;
    struct peer *peer;
    struct plan plan;
    struct plan_bus bus;
    struct plan_probe probes[8];
    struct driver_request requests[REQUESTS];
    struct clock machine, clock; /* ours, and the same as the driver sees it */
    int64_t looks_ms[2];         /* its last look at it, and the one before */
    const struct probe_driver *driver;
    void *state;
    uint64_t seed;
    int64_t stale_until_ms; /* until when something that was sent before may arrive */
    uint32_t stale_faults;  /* of what */
    bool is_stale;          /* as the exchange began */
    uint32_t slow;          /* exchanges to come whose replies take their time */
    int64_t drop_until_ms;  /* until when a connection may be closed by an earlier fault */
    uint32_t
        displaced[8]; /* requests whose place was taken by something later than the longest */
    size_t displaced_count;
    uint64_t *counts; /* shared with the parent */
    struct driver_error error;
};

static void
die(const struct line *line, const char *what, uint32_t faults, int got)
{
    (void)fprintf(stderr, "line %d, driver %d, exchange %llu: %s: faults 0x%x, got %d (%s)\n",
                  line->number, (int)line->kind,
                  (unsigned long long)line->counts[COUNT_EXCHANGES], what, (unsigned)faults,
                  got, line->error.text);
    _exit(1);
}

static uint32_t
drawn(struct line *line, uint32_t below)
{
    line->seed = line->seed * 6364136223846793005ULL + 1442695040888963407ULL;
    return (uint32_t)((line->seed >> 33) % below);
}

static void
open_line(struct line *line)
{
    for (int i = 0; i < 50; i++)
        if (line->driver->open(&line->plan, 0, &line->clock, &line->state, &line->error))
            return;
    die(line, "cannot be opened", 0, 0);
}

static int64_t
look_mono(void *arg)
{
    struct line *line = arg;
    line->looks_ms[1] = line->looks_ms[0];
    line->looks_ms[0] = clock_mono_ms(&line->machine);
    return line->looks_ms[0];
}

static int64_t
look_wall(void *arg)
{
    const struct line *line = arg;
    return clock_wall_ms(&line->machine);
}

/* When the driver took the exchange for ended: its last look is at what it does afterwards. */
static int64_t
ended_ms(const struct line *line)
{
    struct timespec now;
    (void)clock_gettime(CLOCK_MONOTONIC, &now);
    const int64_t mono_ms = (int64_t)now.tv_sec * 1000 + now.tv_nsec / 1000000;
    return mono_ms - (clock_mono_ms(&line->machine) - line->looks_ms[1]) - 1;
}

/* Units 5 and 6 with two pairs of registers each: replies to all four requests look alike but
 * for unit and value. */
static void
make_line(struct line *line)
{
    line->machine = clock_machine();
    line->clock = (struct clock){.mono_ms = look_mono, .wall_ms = look_wall, .arg = line};
    line->driver = probe_driver_for(line->kind);
    line->peer = line->kind == BUS_MODBUS_RTU   ? peer_new_rtu()
                 : line->kind == BUS_MODBUS_TCP ? peer_new_tcp()
                                                : peer_new_rtu_tcp();
    if (line->peer == NULL)
        die(line, "no device", 0, 0);
    line->bus = (struct plan_bus){
        .id = "line-a",
        .driver = line->kind,
        .device = line->kind == BUS_MODBUS_RTU ? peer_path(line->peer) : NULL,
        .baud_bps = 115200,
        .parity = 'N',
        .stop_bits = 1,
        .host = "127.0.0.1",
        .port = peer_port(line->peer),
        .timeout_ms = TIMEOUT_MS,
        .max_late_ms = MAX_LATE_MS,
    };
    line->plan = (struct plan){
        .buses = &line->bus, .bus_count = 1, .probes = line->probes, .probe_count = 8};
    for (uint16_t i = 0; i < 8; i++)
        line->probes[i] = (struct plan_probe){
            .unit = (uint8_t)(5 + i / 4),
            .function = 4,
            .reg = (uint16_t)(i % 4 / 2 * 10 + i % 2),
            .type = REGISTER_INT16,
            .scale_micro = 1000000,
            .plausible_min_mC = -20000000,
            .plausible_max_mC = 20000000,
            .every_ms = 1000,
        };
    if (line->driver->requests(&line->plan, 0, line->requests, REQUESTS) != REQUESTS)
        die(line, "requests", 0, 0);
    open_line(line);
}

/* ---- what is injected ---- */

static const uint32_t everywhere = PEER_TRICKLE | PEER_SILENT | PEER_LATE | PEER_STUCK |
                                   PEER_BIT_FLIPPED | PEER_WRONG_UNIT | PEER_WRONG_FUNCTION |
                                   PEER_WRONG_LENGTH | PEER_EXCEPTION | PEER_NOISE_BEFORE |
                                   PEER_NOISE_AFTER | PEER_TWICE | PEER_COPIED | PEER_ABSURD |
                                   PEER_REPAIRED | PEER_OTHER | PEER_TOO_LATE;

static uint32_t
faults_on(enum bus_driver kind)
{
    switch (kind) {
    case BUS_MODBUS_TCP:
        return everywhere | PEER_DROPPED | PEER_REPEATED | PEER_HELD;
    case BUS_MODBUS_RTU_TCP:
        return everywhere | PEER_DROPPED;
    default:
        return everywhere;
    }
}

/* Three exchanges of four are clean, so that faults meet good ones before and behind them. Of
 * the others half have one fault, the rest two or three. One in forty is a refusal that comes
 * twice, followed by some whose replies are under way when the copy comes. */
static uint32_t
drawn_faults(struct line *line)
{
    if (line->slow > 0) {
        line->slow--;
        return PEER_LATE;
    }
    if (drawn(line, 40) == 0) {
        line->slow = 3;
        return PEER_EXCEPTION | PEER_COPIED;
    }
    if (drawn(line, 4) != 0)
        return PEER_CLEAN;
    const uint32_t kind = drawn(line, 4);
    uint32_t left = kind < 2 ? 1 : kind, faults = 0;
    while (left > 0) {
        const uint32_t fault = 1U << drawn(line, PEER_FAULTS);
        if ((faults_on(line->kind) & fault) == 0 || (faults & fault) != 0)
            continue;
        faults |= fault;
        left--;
    }
    /* The rule under test is that a copy comes no later than a device can be late; a second
     * copy of what is late beyond that proves nothing. */
    if ((faults & PEER_TOO_LATE) != 0)
        faults &= ~(uint32_t)(PEER_COPIED | PEER_LATE);
    return faults;
}

/* ---- what may come of it ---- */

#define IN(quality)                                                                            \
    (1U << ((quality) == READING_GOOD ? 31 : (quality)-BAD_TIMEOUT)) /* a set of qualities */

/* Of the frame as it arrives on a serial line, in time and whole. */
static uint32_t
serial_causes(uint32_t faults)
{
    const uint32_t other = PEER_WRONG_UNIT | PEER_WRONG_FUNCTION |
                           ((faults & PEER_EXCEPTION) == 0 ? PEER_WRONG_LENGTH : 0);
    if ((faults & (PEER_NOISE_BEFORE | PEER_STUCK)) != 0)
        /* Noise and half an exception are five bytes, and look like one with a wrong sum. */
        return IN(BAD_FRAME) | ((faults & PEER_EXCEPTION) != 0 ? IN(BAD_CRC) : 0);
    if ((faults & PEER_BIT_FLIPPED) != 0)
        return IN(BAD_CRC) | IN(BAD_FRAME);
    if ((faults & other) != 0)
        return IN(BAD_WRONG_UNIT);
    if ((faults & (PEER_NOISE_AFTER | PEER_TWICE)) != 0)
        return IN(BAD_FRAME);
    if ((faults & PEER_EXCEPTION) != 0)
        return IN(BAD_EXCEPTION);
    return (faults & PEER_ABSURD) != 0 ? IN(BAD_IMPLAUSIBLE) : IN(READING_GOOD);
}

/* A TCP reply says where it ends: what follows it is not its own. */
static uint32_t
tcp_causes(uint32_t faults)
{
    const uint32_t other = PEER_WRONG_UNIT | PEER_WRONG_FUNCTION |
                           ((faults & PEER_EXCEPTION) == 0 ? PEER_WRONG_LENGTH : 0);
    if ((faults & (PEER_NOISE_BEFORE | PEER_STUCK)) != 0)
        return IN(BAD_FRAME);
    if ((faults & PEER_BIT_FLIPPED) != 0)
        return IN(BAD_FRAME) | IN(BAD_WRONG_UNIT);
    if ((faults & other) != 0)
        return IN(BAD_WRONG_UNIT);
    if ((faults & PEER_EXCEPTION) != 0)
        return IN(BAD_EXCEPTION);
    return (faults & PEER_ABSURD) != 0 ? IN(BAD_IMPLAUSIBLE) : IN(READING_GOOD);
}

static uint32_t
causes_of(enum bus_driver kind, uint32_t faults)
{
    uint32_t causes = kind == BUS_MODBUS_TCP ? tcp_causes(faults) : serial_causes(faults);
    if ((faults & (PEER_SILENT | PEER_HELD | PEER_TOO_LATE)) != 0)
        return IN(BAD_TIMEOUT);
    if ((faults & PEER_DROPPED) != 0) /* unless what came before shows more */
        causes = IN(BAD_LINK) | (causes & ~IN(READING_GOOD));
    if ((faults & PEER_LATE) != 0) /* around the time-out: on either side of it */
        causes |= IN(BAD_TIMEOUT);
    if ((faults & PEER_LATE) != 0 && (faults & PEER_TRICKLE) != 0)
        causes |= IN(BAD_FRAME);
    if ((faults & PEER_REPEATED) != 0) /* the other reply alone came in time */
        causes |= IN(BAD_WRONG_UNIT);
    return causes;
}

/* What something sent in an earlier exchange may make of a later one. It costs that one, and is
 * no value of it. */
static uint32_t
stale_causes(const struct line *line)
{
    uint32_t causes = IN(BAD_FRAME) | IN(BAD_WRONG_UNIT) | IN(BAD_CRC) | IN(BAD_TIMEOUT);
    if ((line->stale_faults & PEER_EXCEPTION) != 0)
        causes |= IN(BAD_EXCEPTION);
    if ((line->stale_faults & PEER_ABSURD) != 0)
        causes |= IN(BAD_IMPLAUSIBLE);
    return causes;
}

/* ---- what came of it ---- */

/* Its own reply comes after what took its place, when nobody waits for it any more. */
static bool
is_displaced(const struct line *line, uint32_t heard)
{
    for (size_t i = 0; i < 8; i++)
        if (line->displaced[i] == heard && heard != 0)
            return true;
    return false;
}

/* Whether the values are those of an exchange whose reply left the device later than the
 * declared longest. */
static bool
are_late(struct line *line, const struct driver_sample *samples)
{
    const uint32_t heard = peer_heard(line->peer);
    for (uint32_t back = 0; back < 200 && back < heard; back++)
        for (uint16_t first = 0; first <= 10; first += 10) {
            const uint32_t then = heard - back;
            if ((peer_was_late(line->peer, then) || is_displaced(line, then)) &&
                /* Its content may have had a fault besides. */
                (samples[0].temp_mC == peer_truth_at(then, first) * 1000 ||
                 samples[1].temp_mC == peer_truth_at(then, (uint16_t)(first + 1)) * 1000 ||
                 samples[0].temp_mC == peer_truth_at(then + 8192, first) * 1000 ||
                 samples[1].temp_mC ==
                     peer_truth_at(then + 8192, (uint16_t)(first + 1)) * 1000))
                return true;
        }
    return false;
}

/* The device's thread notes after sending; it may not have got to it yet. */
static bool
proves_late(struct line *line, const struct driver_sample *samples)
{
    for (int i = 0; i < 100; i++) {
        if (are_late(line, samples))
            return true;
        (void)poll(NULL, 0, 10);
    }
    return false;
}

static bool
are_true(struct line *line, size_t request, const struct driver_sample *samples)
{
    for (uint16_t i = 0; i < 2; i++) {
        const struct plan_probe *probe = &line->probes[line->requests[request].probes[i]];
        if (samples[i].temp_mC != peer_truth(line->peer, probe->reg) * 1000)
            return false;
    }
    return true;
}

/* A good sample is true, or one of those that no receiver can tell. */
static void
judge_good(struct line *line, size_t request, uint32_t faults, bool is_allowed,
           const struct driver_sample *samples)
{
    /* A trailing fault that this machine delivered apart from a reply that was whole. */
    const bool is_apart = (faults & PEER_TRICKLE) != 0 &&
                          (serial_causes(faults & ~(uint32_t)(PEER_NOISE_AFTER | PEER_TWICE)) &
                           IN(READING_GOOD)) != 0;
    if ((is_allowed || is_apart) && are_true(line, request, samples))
        return;
    if (is_allowed && (faults & (PEER_REPAIRED | PEER_OTHER)) != 0) {
        line->counts[COUNT_WRONG_SENT]++;
        return;
    }
    if (!proves_late(line, samples))
        die(line, "a good sample that is not true", faults, (int)samples[0].temp_mC);
    line->counts[COUNT_WRONG_LATE]++;
    line->displaced[line->displaced_count++ % 8] = peer_heard(line->peer);
}

static void
judge(struct line *line, size_t request, uint32_t faults, const struct driver_sample *samples)
{
    const uint16_t quality = samples[0].quality;
    for (uint16_t i = 0; i < 2; i++) {
        if (samples[i].quality != quality)
            die(line, "samples of one reply differ", faults, samples[i].quality);
        if (quality != READING_GOOD && samples[i].temp_mC != TEMP_NONE)
            die(line, "a bad sample with a value", faults, (int)samples[i].temp_mC);
    }
    line->counts[COUNT_EXCHANGES]++;
    line->counts[COUNT_GOOD] += quality == READING_GOOD;
    line->counts[COUNT_CLEAN] += faults == PEER_CLEAN;
    line->counts[COUNT_CLEAN_GOOD] += faults == PEER_CLEAN && quality == READING_GOOD;
    uint32_t allowed = causes_of(line->kind, faults);
    if (line->is_stale)
        allowed |= stale_causes(line);
    if (clock_mono_ms(&line->machine) < line->drop_until_ms)
        allowed |= IN(BAD_LINK);
    const bool is_allowed = (allowed & IN(quality)) != 0;
    /* Something later than the longest ended it: its own reply is still to come. */
    if (((quality == BAD_EXCEPTION && (faults & PEER_EXCEPTION) == 0) ||
         (quality == BAD_IMPLAUSIBLE && (faults & PEER_ABSURD) == 0)) &&
        line->is_stale && (line->stale_faults & PEER_TOO_LATE) != 0)
        line->displaced[line->displaced_count++ % 8] = peer_heard(line->peer);
    if (quality == READING_GOOD) {
        judge_good(line, request, faults, is_allowed, samples);
    } else if (!is_allowed) {
        line->counts[COUNT_STALLED]++; /* late by this machine's doing, or in pieces */
    }
}

/* ---- a line's exchanges ---- */

static void
note_injected(struct line *line, uint32_t faults, int64_t until_ms)
{
    int many = 0;
    for (int i = 0; i < PEER_FAULTS; i++) {
        line->counts[COUNT_FAULT_0 + i] += faults >> i & 1U;
        many += (int)(faults >> i & 1U);
    }
    line->counts[COUNT_COMBINED] += many > 1;
    line->counts[COUNT_REFUSED] +=
        (faults & PEER_EXCEPTION) != 0 && (faults & PEER_COPIED) != 0;
    line->counts[COUNT_REPAIRED] += (faults & PEER_REPAIRED) != 0;
    line->counts[COUNT_OTHER] += (faults & PEER_OTHER) != 0;
    line->counts[COUNT_TOO_LATE] += (faults & PEER_TOO_LATE) != 0;
    if ((faults & PEER_DROPPED) != 0)
        line->drop_until_ms = clock_mono_ms(&line->machine) + 1000;
    if ((faults & (PEER_COPIED | PEER_TOO_LATE)) == 0)
        return;
    const bool still = clock_mono_ms(&line->machine) < line->stale_until_ms;
    line->stale_faults = (still ? line->stale_faults : 0) | faults;
    line->stale_until_ms = until_ms;
}

static void
one_exchange(struct line *line)
{
    struct driver_sample samples[DRIVER_REQUEST_PROBES_MAX];
    const bool is_slow = line->slow > 0;
    const uint32_t faults = drawn_faults(line);
    /* Also the same again at once, as no plan has it: a copy of its own last reply may come. */
    const size_t request = drawn(line, REQUESTS);
    line->is_stale = clock_mono_ms(&line->machine) < line->stale_until_ms;
    int64_t late_ms = TIMEOUT_MS - 5 + (int64_t)drawn(line, AFTER_MS);
    if ((faults & PEER_TOO_LATE) != 0)
        late_ms = TIMEOUT_MS + MAX_LATE_MS + 5 + (int64_t)drawn(line, 40);
    else if (is_slow)
        late_ms = TIMEOUT_MS - 10;
    else if ((faults & PEER_COPIED) != 0 && (faults & PEER_LATE) == 0)
        late_ms = drawn(line, AFTER_MS);
    peer_set(line->peer, faults, late_ms, LATEST_MS, AFTER_MS);
    const uint32_t heard = peer_heard(line->peer);
    const bool there =
        line->driver->read(line->state, &line->requests[request], samples, &line->error);
    peer_over_since(line->peer, heard + 1, ended_ms(line));
    if (!there && samples[0].quality != BAD_LINK)
        die(line, "a line gone without its cause", faults, samples[0].quality);
    judge(line, request, faults, samples);
    note_injected(line, faults, clock_mono_ms(&line->machine) + LATEST_MS + 60);
    if (there)
        return;
    line->driver->close(line->state);
    open_line(line);
}

static void
run_line(struct line *line, uint64_t exchanges)
{
    make_line(line);
    while (exchanges-- > 0)
        one_exchange(line);
    line->driver->close(line->state);
    peer_free(line->peer);
}

/* ---- all lines ---- */

static uint64_t
number_from(const char *name, uint64_t otherwise)
{
    const char *text = getenv(name);
    return text != NULL && *text != '\0' ? strtoull(text, NULL, 10) : otherwise;
}

static const char *const fault_words[PEER_FAULTS] = {
    "trickle",    "silent",       "late",         "truncated",     "bits flipped",
    "other unit", "function",     "length",       "exception",     "noise before",
    "after",      "twice",        "copied",       "absurd",        "disconnected",
    "repeated",   "out of order", "crc repaired", "other content", "beyond longest"};

static void
tell(const uint64_t *sums)
{
    print_message(
        "%llu exchanges, %llu good, %llu of %llu undisturbed ones among them; %llu with "
        "several faults, %llu of them refusals that came twice\n",
        (unsigned long long)sums[COUNT_EXCHANGES], (unsigned long long)sums[COUNT_GOOD],
        (unsigned long long)sums[COUNT_CLEAN_GOOD], (unsigned long long)sums[COUNT_CLEAN],
        (unsigned long long)sums[COUNT_COMBINED], (unsigned long long)sums[COUNT_REFUSED]);
    for (int i = 0; i < PEER_FAULTS; i++)
        print_message("%s %llu%s", fault_words[i], (unsigned long long)sums[COUNT_FAULT_0 + i],
                      i + 1 < PEER_FAULTS ? ", " : "\n");
    print_message(
        "no receiver can tell: %llu wrong samples of repaired and other content, %llu "
        "of lateness beyond the longest; %llu causes are this machine's stalling\n",
        (unsigned long long)sums[COUNT_WRONG_SENT], (unsigned long long)sums[COUNT_WRONG_LATE],
        (unsigned long long)sums[COUNT_STALLED]);
}

static void
test_no_fault_and_no_combination_gives_a_wrong_value(void **state)
{
    (void)state;
    static const enum bus_driver kinds[] = {BUS_MODBUS_RTU, BUS_MODBUS_TCP, BUS_MODBUS_RTU_TCP};
    const uint64_t seed = number_from("TRIVET_SEED", 20260301);
    const uint64_t exchanges = number_from("TRIVET_EXCHANGES", EXCHANGES);
    const uint64_t per_line = (exchanges + LINES - 1) / LINES;
    uint64_t(*counts)[COUNTS] = mmap(NULL, sizeof *counts * LINES, PROT_READ | PROT_WRITE,
                                     MAP_SHARED | MAP_ANONYMOUS, -1, 0);
    pid_t children[LINES];
    uint64_t sums[COUNTS] = {0};
    bool well = true;
    assert_true(counts != MAP_FAILED);
    print_message("seed %llu\n", (unsigned long long)seed);
    for (int i = 0; i < LINES; i++) {
        children[i] = fork();
        assert_true(children[i] >= 0);
        if (children[i] != 0)
            continue;
        static struct line line;
        line.kind = kinds[i % 3];
        line.number = i;
        line.seed = seed + (uint64_t)i;
        line.counts = counts[i];
        run_line(&line, per_line);
        _exit(0);
    }
    for (int i = 0; i < LINES; i++) {
        int status = 0;
        assert_int_equal(waitpid(children[i], &status, 0), children[i]);
        well = well && WIFEXITED(status) && WEXITSTATUS(status) == 0;
        for (int k = 0; k < COUNTS; k++)
            sums[k] += counts[i][k];
    }
    tell(sums);
    assert_true(well);
    assert_true(sums[COUNT_EXCHANGES] >= exchanges);
    /* The campaign has to have done what it says. */
    for (int i = 0; i < PEER_FAULTS; i++)
        assert_true(sums[COUNT_FAULT_0 + i] * 400 > exchanges / 3);
    assert_true(sums[COUNT_COMBINED] > exchanges / 16);
    assert_true(sums[COUNT_REFUSED] > exchanges / 80);
    /* Faults must not spoil what comes after them, nor may the machine be an excuse for all. */
    assert_true(sums[COUNT_CLEAN_GOOD] * 100 >= sums[COUNT_CLEAN] * 90);
    /* Of each fault there are two in a hundred: one that always got a wrong cause would show.
     */
    assert_true(sums[COUNT_STALLED] * 100 <= exchanges);
    (void)munmap(counts, sizeof *counts * LINES);
}

int
main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_no_fault_and_no_combination_gives_a_wrong_value),
    };
    (void)signal(SIGPIPE, SIG_IGN); /* as the daemon's main does */
    return cmocka_run_group_tests(tests, NULL, NULL);
}
