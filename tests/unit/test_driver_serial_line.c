/* The serial line driver against a thermometer that is played on a pseudo-terminal: lines of
 * its own accord and on question, garbage, old lines, pauses, wrong check sums. */
#define _GNU_SOURCE /* ptsname_r, ppoll */

#include "tests/support/check.h"

#include <errno.h>
#include <fcntl.h>
#include <poll.h>
#include <pthread.h>
#include <stdlib.h>
#include <string.h>
#include <sys/eventfd.h>
#include <sys/file.h>
#include <termios.h>
#include <unistd.h>

#include "trivet/clock.h"
#include "trivet/probe_driver.h"
#include "trivet/units.h"

/* What the thermometer does: plays pieces round and round, or answers a question with one. */
struct piece {
    const char *bytes;
    const char *question; /* answered with it; NULL: sent by itself */
    int pause_ms;         /* before it */
    size_t len;           /* 0: to its NUL */
};

#define SAYS(text, wait_ms)                                                                    \
    {                                                                                          \
        .bytes = (text), .pause_ms = (wait_ms)                                                 \
    }
#define REPLIES(text, to, wait_ms)                                                             \
    {                                                                                          \
        .bytes = (text), .question = (to), .pause_ms = (wait_ms)                               \
    }

static struct {
    int master, stop_fd;
    char device[100];
    pthread_t thread;
    const struct piece *pieces;
    size_t piece_count;
    struct plan plan;
    struct plan_bus bus;
    struct plan_probe probes[4];
    struct clock clock;
    void *state;
    struct driver_error error;
    struct driver_sample samples[DRIVER_REQUEST_PROBES_MAX];
} rig;

static bool
stopped_within(int wait_ms)
{
    struct pollfd stop = {.fd = rig.stop_fd, .events = POLLIN};
    return poll(&stop, 1, wait_ms) > 0;
}

/* Until the test ends it: nobody may be reading any more. */
static void
put(const char *bytes, size_t len)
{
    size_t left = len > 0 ? len : strlen(bytes);
    while (left > 0) {
        struct pollfd fds[] = {{.fd = rig.stop_fd, .events = POLLIN},
                               {.fd = rig.master, .events = POLLOUT}};
        (void)poll(fds, 2, -1);
        if (fds[0].revents != 0)
            return;
        const ssize_t done = write(rig.master, bytes, left);
        if (done < 0 && errno == EAGAIN)
            continue;
        if (done <= 0)
            return;
        bytes += done;
        left -= (size_t)done;
    }
}

static void
talk(void)
{
    for (size_t i = 0;; i = (i + 1) % rig.piece_count) {
        if (stopped_within(rig.pieces[i].pause_ms))
            return;
        put(rig.pieces[i].bytes, rig.pieces[i].len);
    }
}

/* Collects a question until it is one of those known. */
static void
answer(void)
{
    char question[200];
    size_t len = 0;
    for (;;) {
        struct pollfd fds[] = {{.fd = rig.stop_fd, .events = POLLIN},
                               {.fd = rig.master, .events = POLLIN}};
        (void)poll(fds, 2, -1);
        if (fds[0].revents != 0)
            return;
        const ssize_t got = read(rig.master, question + len, sizeof question - 1 - len);
        if (got <= 0)
            return;
        len += (size_t)got;
        question[len] = '\0';
        for (size_t i = 0; i < rig.piece_count; i++)
            if (strcmp(rig.pieces[i].question, question) == 0) {
                if (rig.pieces[i].pause_ms > 0 && stopped_within(rig.pieces[i].pause_ms))
                    return;
                put(rig.pieces[i].bytes, rig.pieces[i].len);
                len = 0;
            }
    }
}

static void *
play(void *arg)
{
    (void)arg;
    if (rig.pieces[0].question != NULL)
        answer();
    else
        talk();
    return NULL;
}

static void
start(const struct piece *pieces, size_t count)
{
    rig.pieces = pieces;
    rig.piece_count = count;
    assert_int_equal(pthread_create(&rig.thread, NULL, play, NULL), 0);
}

static void
stop(void)
{
    uint64_t one = 1;
    assert_int_equal(write(rig.stop_fd, &one, sizeof one), sizeof one);
    assert_int_equal(pthread_join(rig.thread, NULL), 0);
    assert_int_equal(read(rig.stop_fd, &one, sizeof one), sizeof one);
}

static int
set_up(void **state)
{
    (void)state;
    memset(&rig, 0, sizeof rig);
    rig.master = posix_openpt(O_RDWR | O_NOCTTY | O_CLOEXEC | O_NONBLOCK);
    assert_true(rig.master >= 0);
    assert_int_equal(grantpt(rig.master), 0);
    assert_int_equal(unlockpt(rig.master), 0);
    assert_int_equal(ptsname_r(rig.master, rig.device, sizeof rig.device), 0);
    rig.stop_fd = eventfd(0, EFD_CLOEXEC);
    rig.clock = clock_machine();
    rig.bus = (struct plan_bus){.id = "line",
                                .driver = BUS_SERIAL_LINE,
                                .device = rig.device,
                                .baud_bps = 9600,
                                .parity = 'N',
                                .stop_bits = 1,
                                .data_bits = 8,
                                .line_end = LINE_END_CRLF,
                                .pattern = "T={value} {unit}",
                                .timeout_ms = 400,
                                .max_late_ms = 50};
    for (size_t i = 0; i < COUNT_OF(rig.probes); i++)
        rig.probes[i] = (struct plan_probe){.scale_micro = 1000000,
                                            .plausible_min_mC = -40000,
                                            .plausible_max_mC = 300000,
                                            .every_ms = 1000};
    rig.plan = (struct plan){
        .buses = &rig.bus, .bus_count = 1, .probes = rig.probes, .probe_count = 1};
    return 0;
}

static int
tear_down(void **state)
{
    (void)state;
    probe_driver_for(BUS_SERIAL_LINE)->close(rig.state);
    (void)close(rig.stop_fd);
    if (rig.master >= 0)
        (void)close(rig.master);
    return 0;
}

static void
open_line(void)
{
    if (!probe_driver_for(BUS_SERIAL_LINE)
             ->open(&rig.plan, 0, &rig.clock, &rig.state, &rig.error))
        fail_msg("%s", rig.error.text);
}

/* Reads the index-th request of the bus. */
static bool
read_request(size_t index)
{
    struct driver_request requests[4];
    const struct probe_driver *driver = probe_driver_for(BUS_SERIAL_LINE);
    const size_t count = driver->requests(&rig.plan, 0, requests, COUNT_OF(requests));
    assert_true(index < count);
    memset(&rig.error, 0, sizeof rig.error);
    return driver->read(rig.state, &requests[index], rig.samples, &rig.error);
}

static void
expect_good(size_t i, int32_t temp_mC)
{
    if (rig.samples[i].quality != READING_GOOD)
        fail_msg("quality %d: %s", rig.samples[i].quality, rig.error.text);
    assert_int_equal(rig.samples[i].temp_mC, temp_mC);
}

static void
expect_bad(size_t i, uint16_t cause)
{
    assert_int_equal(rig.samples[i].quality, cause);
    assert_int_equal(rig.samples[i].temp_mC, TEMP_NONE);
}

/* One exchange with what talks by itself. */
static void
hear(const struct piece *pieces, size_t count)
{
    open_line();
    start(pieces, count);
    assert_true(read_request(0));
    stop();
}

#define HEAR(...)                                                                              \
    do {                                                                                       \
        static const struct piece pieces[] = {__VA_ARGS__};                                    \
        hear(pieces, COUNT_OF(pieces));                                                        \
    } while (0)

static void
test_thermometer_that_talks_by_itself_is_heard(void **state)
{
    (void)state;
    HEAR(SAYS("T=63.25 C\r\n", 5));
    expect_good(0, 63250);
}

static void
test_fahrenheit_line_is_converted_exactly(void **state)
{
    (void)state;
    HEAR(SAYS("T=145.0 \xc2\xb0"
              "F\r\n",
              5));
    expect_good(0, 62778); /* 145 °F = 62.777... °C */
}

static void
test_line_without_unit_takes_that_of_scale(void **state)
{
    (void)state;
    rig.bus.pattern = "{value}";
    rig.probes[0].scale_micro = 100000;
    rig.probes[0].offset_micro = -40000000;
    HEAR(SAYS("1030\r\n", 5)); /* 1030 * 0.1 - 40 */
    expect_good(0, 63000);
}

static void
test_old_lines_in_the_buffer_are_thrown_away(void **state)
{
    (void)state;
    open_line();
    put("T=10.0 C\r\nT=11.0 C\r\nT=1", 0);
    static const struct piece pieces[] = {SAYS("T=63.0 C\r\n", 5)};
    start(pieces, 1);
    assert_true(read_request(0));
    stop();
    expect_good(0, 63000);
}

static void
test_nothing_but_old_lines_is_a_timeout(void **state)
{
    (void)state;
    open_line();
    put("T=10.0 C\r\nT=11.0 C\r\n", 0);
    assert_true(read_request(0));
    expect_bad(0, BAD_TIMEOUT);
    assert_non_null(strstr(rig.error.text, "twice"));
}

/* The tail "3.5" of a line that began before we listened is no reading. */
static void
test_tail_of_a_line_is_none(void **state)
{
    (void)state;
    rig.bus.pattern = "{value}";
    open_line();
    put("2", 0);
    static const struct piece pieces[] = {SAYS("3.5\r\n", 50), SAYS("24.5\r\n2", 20)};
    start(pieces, 2);
    assert_true(read_request(0));
    stop();
    /* The device goes round: 23.5 is said whole too, and is the first line heard whole when the
     * device was so far ahead that "3.5" fell to the drain and "24.5" to the line whose
     * beginning was not heard. The tail, 3.5, must never come. */
    assert_int_equal(rig.samples[0].quality, READING_GOOD);
    assert_true(rig.samples[0].temp_mC == 24500 || rig.samples[0].temp_mC == 23500);
}

static void
test_garbage_before_and_between_is_passed_over(void **state)
{
    (void)state;
    HEAR(SAYS("\xff\xfe\x01rubbish\r\n\r\n", 5), SAYS("T=6\r\n", 0), SAYS("T=T=63.0\r\n", 0),
         SAYS("T=63.0 C\r\n", 0));
    expect_good(0, 63000);
}

static void
test_only_garbage_is_a_bad_frame(void **state)
{
    (void)state;
    HEAR(SAYS("hello\r\n", 5));
    expect_bad(0, BAD_FRAME);
    assert_non_null(strstr(rig.error.text, "pattern"));
}

static void
test_wrong_line_end_is_a_bad_frame(void **state)
{
    (void)state;
    HEAR(SAYS("T=63.0 C\n", 5));
    expect_bad(0, BAD_FRAME);
}

static void
test_endless_line_is_a_bad_frame_and_the_next_is_heard(void **state)
{
    (void)state;
    static char long_line[2000];
    memset(long_line, '5', sizeof long_line - 1);
    static struct piece pieces[] = {SAYS("\r\n", 5), SAYS(long_line, 0), SAYS("\r\n", 0)};
    hear(pieces, 3);
    expect_bad(0, BAD_FRAME);
    pieces[2].bytes = "\r\nT=63.0 C\r\n";
    start(pieces, 3);
    assert_true(read_request(0));
    stop();
    expect_good(0, 63000);
}

/* So a byte with wrong parity arrives. */
static void
test_nul_within_a_line_spoils_it(void **state)
{
    (void)state;
    static const char line[] = "T=6\0003.0 C\r\n";
    HEAR({.bytes = line, .pause_ms = 5, .len = sizeof line - 1});
    expect_bad(0, BAD_FRAME);
}

/* Two pieces of different lines, with the time of a plug that slipped between them. */
static void
test_line_with_a_long_pause_within_is_none(void **state)
{
    (void)state;
    rig.bus.pattern = "{value}";
    rig.bus.timeout_ms = 3000;
    HEAR(SAYS("\r\n2", 5), SAYS("4.5\r\n", 700), SAYS("63.0\r\n", 0));
    expect_good(0, 63000);
}

static void
test_other_line_ends_are_those_of_the_plan(void **state)
{
    (void)state;
    rig.bus.line_end = LINE_END_CR;
    HEAR(SAYS("T=63.0 C\r", 5));
    expect_good(0, 63000);
    probe_driver_for(BUS_SERIAL_LINE)->close(rig.state);
    rig.bus.line_end = LINE_END_LF;
    HEAR(SAYS("T=64.0 C\n", 5));
    expect_good(0, 64000);
}

static void
test_status_that_is_not_good_is_a_fault_value(void **state)
{
    (void)state;
    rig.bus.pattern = "{value} {status}";
    rig.bus.good_status[0] = "OK";
    rig.bus.good_status[1] = "LOWBAT";
    HEAR(SAYS("63.0 OPEN\r\n", 5));
    expect_bad(0, BAD_FAULT_VALUE);
    probe_driver_for(BUS_SERIAL_LINE)->close(rig.state);
    HEAR(SAYS("63.0 LOWBAT\r\n", 5));
    expect_good(0, 63000);
}

static void
test_unit_or_number_unknown_is_a_conversion(void **state)
{
    (void)state;
    HEAR(SAYS("T=63.0 K\r\n", 5));
    expect_bad(0, BAD_CONVERSION);
    probe_driver_for(BUS_SERIAL_LINE)->close(rig.state);
    HEAR(SAYS("T=---- C\r\n", 5));
    expect_bad(0, BAD_CONVERSION);
}

static void
test_implausible_value_is_never_published(void **state)
{
    (void)state;
    HEAR(SAYS("T=300.1 C\r\n", 5));
    expect_bad(0, BAD_IMPLAUSIBLE);
    probe_driver_for(BUS_SERIAL_LINE)->close(rig.state);
    HEAR(SAYS("T=300.0 C\r\n", 5));
    expect_good(0, 300000);
}

static void
test_wrong_check_sum_is_told_and_the_next_line_is_heard(void **state)
{
    (void)state;
    rig.bus.pattern = "{value}{sum8}";
    HEAR(SAYS("23.5C7\r\n", 5));
    expect_bad(0, BAD_CRC);
    probe_driver_for(BUS_SERIAL_LINE)->close(rig.state);
    HEAR(SAYS("23.5C7\r\n", 5), SAYS("23.5C8\r\n", 0));
    expect_good(0, 23500);
}

static void
test_channels_of_one_line_go_to_their_probes(void **state)
{
    (void)state;
    rig.bus.pattern = "{value:1},{value:2},{value:3}";
    rig.plan.probe_count = 3;
    rig.probes[0].channel = "3";
    rig.probes[1].channel = "1";
    rig.probes[2].channel = "2";
    HEAR(SAYS("180.5,ERR,21.25\r\n", 5));
    expect_good(0, 21250);
    expect_good(1, 180500);
    expect_bad(2, BAD_CONVERSION);
}

static void
test_channels_of_several_lines_are_gathered(void **state)
{
    (void)state;
    rig.bus.pattern = "{channel}:{value}";
    rig.plan.probe_count = 3;
    rig.probes[0].channel = "a";
    rig.probes[1].channel = "b";
    rig.probes[2].channel = "gone";
    HEAR(SAYS("a:1.5\r\n", 5), SAYS("b:2.5\r\n", 5), SAYS("c:3.5\r\n", 5));
    expect_good(0, 1500);
    expect_good(1, 2500);
    expect_bad(2, BAD_TIMEOUT);
}

static void
test_question_is_asked_for_each_channel(void **state)
{
    (void)state;
    static const struct piece pieces[] = {REPLIES("63.0\r\n", "R1\r", 0),
                                          REPLIES("4.5\r\n", "R2\r", 0)};
    rig.bus.pattern = "{value}";
    rig.bus.poll = "R{channel}\\r";
    rig.plan.probe_count = 2;
    rig.probes[0].channel = "1";
    rig.probes[1].channel = "2";
    open_line();
    start(pieces, 2);
    assert_true(read_request(0));
    expect_good(0, 63000);
    assert_true(read_request(1));
    expect_good(0, 4500);
    stop();
}

static void
test_device_that_echoes_the_question_is_understood(void **state)
{
    (void)state;
    static const struct piece pieces[] = {REPLIES("READ\r\nT=63.0 C\r\n", "READ\r\n", 0)};
    rig.bus.poll = "READ\\r\\n";
    open_line();
    start(pieces, 1);
    assert_true(read_request(0));
    stop();
    expect_good(0, 63000);
}

static void
test_reply_of_another_channel_only_is_told(void **state)
{
    (void)state;
    static const struct piece pieces[] = {REPLIES("T2=63.0\r\n", "R1\r", 0)};
    rig.bus.pattern = "T{channel}={value}";
    rig.bus.poll = "R{channel}\\r";
    rig.probes[0].channel = "1";
    open_line();
    start(pieces, 1);
    assert_true(read_request(0));
    stop();
    expect_bad(0, BAD_WRONG_UNIT);
}

/* A reply that comes after the time-out must not become that of the next question. */
static void
test_late_reply_is_not_taken_for_the_next(void **state)
{
    (void)state;
    static const struct piece pieces[] = {REPLIES("63.0\r\n", "R1\r", 150),
                                          REPLIES("4.5\r\n", "R2\r", 0)};
    rig.bus.pattern = "{value}";
    rig.bus.poll = "R{channel}\\r";
    rig.bus.timeout_ms = 60;
    rig.bus.max_late_ms = 300;
    rig.plan.probe_count = 2;
    rig.probes[0].channel = "1";
    rig.probes[1].channel = "2";
    open_line();
    start(pieces, 2);
    assert_true(read_request(0));
    expect_bad(0, BAD_TIMEOUT);
    assert_true(read_request(1));
    expect_good(0, 4500);
    stop();
}

static void
test_line_that_is_never_quiet_cannot_be_asked(void **state)
{
    (void)state;
    static const struct piece pieces[] = {SAYS("T=63.0 C\r\n", 2)};
    rig.bus.poll = "READ\\r";
    open_line();
    start(pieces, 1);
    assert_false(read_request(0));
    stop();
    expect_bad(0, BAD_LINK);
    assert_non_null(strstr(rig.error.text, "never quiet"));
}

/* As an adapter hands it over: a short pause within a line is none. */
static void
test_line_in_pieces_is_one(void **state)
{
    (void)state;
    rig.bus.timeout_ms = 3000;
    HEAR(SAYS("\r\nT=6", 5), SAYS("3.0", 60), SAYS(" C\r\n", 60));
    expect_good(0, 63000);
}

/* The whole time-out is the device's. */
static void
test_reply_late_in_the_time_out_is_taken(void **state)
{
    (void)state;
    static const struct piece pieces[] = {REPLIES("T=63.0 C\r\n", "R\r", 1200)};
    rig.bus.poll = "R\\r";
    rig.bus.timeout_ms = 2000;
    open_line();
    start(pieces, 1);
    assert_true(read_request(0));
    stop();
    expect_good(0, 63000);
}

static int64_t
now_ms(void)
{
    return clock_mono_ms(&rig.clock);
}

#define SILENT_MS 20

/* The shortest time, of some, for a question that is not answered in SILENT_MS and the one
 * after it, which is answered at once: a loaded machine only adds. */
static int64_t
asked_after_silence(void)
{
    /* It hears the first question of two and answers the second. */
    static const struct piece pieces[] = {REPLIES("T=63.0 C\r\n", "R\rR\r", 0)};
    int64_t least_ms = INT64_MAX;
    rig.bus.poll = "R\\r";
    open_line();
    start(pieces, 1);
    for (int i = 0; i < 8; i++) {
        const int64_t from_ms = now_ms();
        rig.bus.timeout_ms = SILENT_MS;
        assert_true(read_request(0));
        expect_bad(0, BAD_TIMEOUT);
        rig.bus.timeout_ms = 3000;
        assert_true(read_request(0));
        expect_good(0, 63000);
        least_ms = now_ms() - from_ms < least_ms ? now_ms() - from_ms : least_ms;
    }
    stop();
    return least_ms;
}

static void
test_after_a_silence_the_line_is_left_alone_for_the_longest_delay(void **state)
{
    (void)state;
    rig.bus.max_late_ms = 100;
    assert_true(asked_after_silence() >= SILENT_MS + 99); /* whole milliseconds */
}

/* What a USB adapter may hold back, also where the plan says that no device is ever late. */
static void
test_after_a_silence_the_line_is_left_alone_for_20_ms_at_least(void **state)
{
    (void)state;
    rig.bus.max_late_ms = 0;
    assert_true(asked_after_silence() >= SILENT_MS + 19);
}

/* A loaded machine only adds; the best of some shows the rule. */
static void
test_after_a_good_reply_the_next_question_is_asked_at_once(void **state)
{
    (void)state;
    static const struct piece pieces[] = {REPLIES("T=63.0 C\r\n", "R\r", 0)};
    int64_t least_ms = INT64_MAX;
    rig.bus.poll = "R\\r";
    rig.bus.timeout_ms = 3000;
    rig.bus.max_late_ms = 400;
    open_line();
    start(pieces, 1);
    assert_true(read_request(0)); /* waits out the quiet after opening */
    for (int i = 0; i < 5 && least_ms >= 400; i++) {
        const int64_t from_ms = now_ms();
        assert_true(read_request(0));
        expect_good(0, 63000);
        least_ms = now_ms() - from_ms < least_ms ? now_ms() - from_ms : least_ms;
    }
    stop();
    assert_true(least_ms < 400);
}

/* The end of something is under way as its beginning is found: it is no reply. */
static void
test_bytes_nobody_asked_for_are_waited_out_before_the_question(void **state)
{
    (void)state;
    static const struct piece pieces[] = {REPLIES("63.0 C\r\n", "R\r", 0)};
    static const struct piece rest[] = {SAYS("1.5 C\r\n", 40), SAYS("", 60000)};
    rig.bus.pattern = "{value} {unit}";
    rig.bus.poll = "R\\r";
    rig.bus.timeout_ms = 3000;
    rig.bus.max_late_ms = 500;
    open_line();
    start(pieces, 1);
    assert_true(read_request(0));
    stop();
    put("noise ", 0);
    start(rest, 2); /* comes while the line is being left alone; nobody answers a question */
    rig.bus.timeout_ms = 100;
    assert_true(read_request(0));
    stop();
    expect_bad(0, BAD_TIMEOUT);
}

/* A port that takes nothing more, as one whose other end has stopped it. */
static void
test_question_that_cannot_be_sent_is_given_up_in_time(void **state)
{
    (void)state;
    rig.bus.poll = "R\\r";
    rig.bus.timeout_ms = 60;
    open_line();
    const int other = open(rig.device, O_RDWR | O_NOCTTY | O_CLOEXEC);
    assert_true(other >= 0);
    assert_int_equal(tcflow(other, TCOOFF), 0);
    assert_true(read_request(0)); /* returns at all */
    expect_bad(0, BAD_TIMEOUT);
    assert_int_equal(tcflow(other, TCOON), 0);
    assert_int_equal(close(other), 0);
}

static void
test_unplugged_adapter_is_a_lost_line(void **state)
{
    (void)state;
    open_line();
    assert_int_equal(close(rig.master), 0);
    rig.master = -1;
    assert_false(read_request(0));
    expect_bad(0, BAD_LINK);
    assert_non_null(strstr(rig.error.text, "unplugged"));
}

/* A pseudo-terminal has neither parity nor seven bits, whatever it is asked for. */
static void
test_port_set_up_before_is_opened_again(void **state)
{
    static const struct piece pieces[] = {{.bytes = "T=71.3 C\r\n", .pause_ms = 1}};
    (void)state;
    rig.bus.parity = 'E';
    rig.bus.data_bits = 7;
    open_line();
    probe_driver_for(BUS_SERIAL_LINE)->close(rig.state);
    rig.state = NULL;
    hear(pieces, 1);
    expect_good(0, 71300);
}

static void
test_device_in_use_or_missing_is_told(void **state)
{
    (void)state;
    void *other = NULL;
    open_line();
    assert_false(
        probe_driver_for(BUS_SERIAL_LINE)->open(&rig.plan, 0, &rig.clock, &other, &rig.error));
    assert_non_null(strstr(rig.error.text, "in use"));
    rig.bus.device = "/dev/no-such-port";
    assert_false(
        probe_driver_for(BUS_SERIAL_LINE)->open(&rig.plan, 0, &rig.clock, &other, &rig.error));
    assert_non_null(strstr(rig.error.text, "does not exist"));
    rig.bus.device = "/dev/null";
    assert_false(
        probe_driver_for(BUS_SERIAL_LINE)->open(&rig.plan, 0, &rig.clock, &other, &rig.error));
    assert_non_null(strstr(rig.error.text, "not a serial line"));
    assert_null(other);
}

/* ---- sensors ---- */

static void
thermocouple_with_terminals(void)
{
    rig.plan.probe_count = 2;
    rig.plan.tolerances.spacing_polls = 3;
    rig.probes[0].sensor = "tc-k";
    rig.probes[0].signal = SIGNAL_MV;
    rig.probes[0].channel = "tip";
    rig.probes[0].cold_probe = 1;
    rig.probes[1].channel = "box";
}

/* 2.11941 mV of a type K with its terminals at 23.5 °C is 75 °C: worked from ITS-90 by another
 * program. */
static void
test_line_of_millivolts_is_compensated_by_its_own_cold_junction(void **state)
{
    (void)state;
    rig.bus.pattern = "{value:tip},{value:box}";
    thermocouple_with_terminals();
    rig.probes[0].scale_micro = 10; /* ten nV */
    HEAR(SAYS("211941,23.5\r\n", 5));
    expect_good(0, 75000);
    expect_good(1, 23500);
}

static void
test_line_that_says_its_unit_has_it_in_what_the_sensor_gives(void **state)
{
    (void)state;
    rig.bus.pattern = "{channel}={value} {unit}";
    thermocouple_with_terminals();
    HEAR(SAYS("tip=2119.41 uV\r\n", 5), SAYS("box=74.3 F\r\n", 5));
    expect_good(0, 75000);
    expect_good(1, 23500);
}

static void
test_unit_that_is_none_of_the_sensor_is_no_reading(void **state)
{
    (void)state;
    rig.bus.pattern = "{channel}={value} {unit}";
    thermocouple_with_terminals();
    HEAR(SAYS("tip=2119.41 kohm\r\n", 5), SAYS("box=23.5 mV\r\n", 5));
    expect_bad(0, BAD_COLD_JUNCTION);
    expect_bad(1, BAD_CONVERSION);
}

static void
test_signal_of_an_open_wire_is_no_reading(void **state)
{
    (void)state;
    rig.bus.pattern = "{value}";
    rig.probes[0].sensor = "pt1000";
    rig.probes[0].signal = SIGNAL_OHM;
    HEAR(SAYS("9999.9\r\n", 5));
    expect_bad(0, BAD_SIGNAL);
}

static void
test_thermocouple_without_its_cold_junction_is_no_reading(void **state)
{
    (void)state;
    rig.bus.pattern = "{channel}={value}";
    thermocouple_with_terminals();
    HEAR(SAYS("tip=2.11941\r\n", 5));
    expect_bad(0, BAD_COLD_JUNCTION);
    expect_bad(1, BAD_TIMEOUT);
}

#define TEST(name) cmocka_unit_test_setup_teardown(name, set_up, tear_down)

int
main(void)
{
    const struct CMUnitTest tests[] = {
        TEST(test_thermometer_that_talks_by_itself_is_heard),
        TEST(test_fahrenheit_line_is_converted_exactly),
        TEST(test_line_without_unit_takes_that_of_scale),
        TEST(test_old_lines_in_the_buffer_are_thrown_away),
        TEST(test_nothing_but_old_lines_is_a_timeout),
        TEST(test_tail_of_a_line_is_none),
        TEST(test_garbage_before_and_between_is_passed_over),
        TEST(test_only_garbage_is_a_bad_frame),
        TEST(test_wrong_line_end_is_a_bad_frame),
        TEST(test_endless_line_is_a_bad_frame_and_the_next_is_heard),
        TEST(test_nul_within_a_line_spoils_it),
        TEST(test_line_with_a_long_pause_within_is_none),
        TEST(test_other_line_ends_are_those_of_the_plan),
        TEST(test_status_that_is_not_good_is_a_fault_value),
        TEST(test_unit_or_number_unknown_is_a_conversion),
        TEST(test_implausible_value_is_never_published),
        TEST(test_line_of_millivolts_is_compensated_by_its_own_cold_junction),
        TEST(test_line_that_says_its_unit_has_it_in_what_the_sensor_gives),
        TEST(test_unit_that_is_none_of_the_sensor_is_no_reading),
        TEST(test_signal_of_an_open_wire_is_no_reading),
        TEST(test_thermocouple_without_its_cold_junction_is_no_reading),
        TEST(test_wrong_check_sum_is_told_and_the_next_line_is_heard),
        TEST(test_channels_of_one_line_go_to_their_probes),
        TEST(test_channels_of_several_lines_are_gathered),
        TEST(test_question_is_asked_for_each_channel),
        TEST(test_device_that_echoes_the_question_is_understood),
        TEST(test_reply_of_another_channel_only_is_told),
        TEST(test_late_reply_is_not_taken_for_the_next),
        TEST(test_line_that_is_never_quiet_cannot_be_asked),
        TEST(test_line_in_pieces_is_one),
        TEST(test_reply_late_in_the_time_out_is_taken),
        TEST(test_after_a_silence_the_line_is_left_alone_for_the_longest_delay),
        TEST(test_after_a_silence_the_line_is_left_alone_for_20_ms_at_least),
        TEST(test_after_a_good_reply_the_next_question_is_asked_at_once),
        TEST(test_bytes_nobody_asked_for_are_waited_out_before_the_question),
        TEST(test_question_that_cannot_be_sent_is_given_up_in_time),
        TEST(test_unplugged_adapter_is_a_lost_line),
        TEST(test_port_set_up_before_is_opened_again),
        TEST(test_device_in_use_or_missing_is_told),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
