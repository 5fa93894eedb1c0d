/* Thermometers that print lines of text on a serial port, by themselves or when asked.
 *
 * A value is published only from a line that was heard whole in this exchange, from the end of
 * the line before it (or from the question) to its own end. What lay in the kernel's buffer may
 * be minutes old and is thrown away. A line with a byte that did not arrive soundly, with a
 * long pause within it, over-long, or not of the plan's pattern is none; reading goes on at the
 * next.
 *
 * Owns one port per state, used by one thread. Must not log, read a clock of its own, or know
 * of limits. docs/serial-line.md tells users. */
#define _GNU_SOURCE /* ppoll, CRTSCTS */

#include "drivers/serial_line.h"

#include <assert.h>
#include <errno.h>
#include <poll.h>
#include <stdlib.h>
#include <string.h>
#include <termios.h>
#include <time.h>
#include <unistd.h>

#include "drivers/parts.h"
#include "drivers/sensors.h"
#include "drivers/serial_port.h"
#include "trivet/line_pattern.h"
#include "trivet/reading.h"
#include "trivet/units.h"

/* Longest pause within a line. A device that stops in one and starts anew (a plug that slips)
 * must not have the two pieces read as one number. Our choice: ample for anything that prints
 * a line at once, even through a USB adapter that hands over every 16 ms. */
#define PAUSE_MAX_MS 500
/* Shortest quiet that counts as one, for the same adapters; longest wait for it beyond itself.
 */
#define QUIET_MIN_MS 20
#define DRAIN_MAX_MS 2000
/* More than a kernel's buffer (4096): a line that is never empty ends the drain all the same.
 */
#define DRAIN_READS_MAX 64

struct line_state {
    const struct plan *plan;
    const struct plan_bus *bus;
    const struct clock *clock;
    int fd;
    bool exclusive;
    struct line_pattern pattern;
    struct line_poll poll;
    struct driver_sensors *sensors;
    bool unsettled;       /* asked lines: something went wrong, a late reply may still come */
    int64_t unsettled_ms; /* since when nothing has been heard */
    /* The line that is arriving. */
    bool is_begun; /* where it begins was heard */
    bool is_long;
    uint8_t last; /* byte */
    size_t len;
    uint8_t bytes[LINE_BYTES_MAX];
};

/* What an exchange has heard. */
struct heard {
    const struct driver_request *request;
    struct driver_sample *samples;
    struct driver_signal signals[DRIVER_REQUEST_PROBES_MAX];
    bool is_done[DRIVER_REQUEST_PROBES_MAX];
    uint16_t done_count;
    bool any_byte, any_line, other_form, bad_sum, other_channel;
};

enum line_wait { LINE_READY, LINE_LATE, LINE_GONE };

static int64_t
now_ms(const struct line_state *state)
{
    return clock_mono_ms(state->clock);
}

/* ---- opening ---- */

static bool
set_up(const struct line_state *state, struct driver_error *reterr)
{
    const struct plan_bus *bus = state->bus;
    const bool pseudo = serial_port_is_pseudo(state->fd);
    const bool has_parity = !pseudo && bus->parity != 'N';
    struct termios settings;
    speed_t speed;
    if (!serial_port_speed(bus->baud_bps, &speed) || tcgetattr(state->fd, &settings) != 0) {
        driver_say(reterr, "bus '%s': %s cannot be set up; is the adapter working?", bus->id,
                   bus->device);
        return false;
    }
    /* INPCK: a byte with wrong parity or framing arrives as NUL, which no line has. */
    settings.c_iflag = INPCK;
    settings.c_oflag = 0;
    settings.c_lflag = 0;
    settings.c_cflag = CREAD | CLOCAL;
    settings.c_cflag |= bus->data_bits == 7 && !pseudo ? CS7 : CS8;
    settings.c_cflag |= has_parity ? PARENB : 0;
    settings.c_cflag |= has_parity && bus->parity == 'O' ? PARODD : 0;
    settings.c_cflag |= bus->stop_bits == 2 ? CSTOPB : 0;
    settings.c_cc[VMIN] = 1; /* else an empty port would look like one that was hung up */
    settings.c_cc[VTIME] = 0;
    if (cfsetispeed(&settings, speed) != 0 || cfsetospeed(&settings, speed) != 0 ||
        tcsetattr(state->fd, TCSANOW, &settings) != 0 ||
        /* tcsetattr() is content when it could set anything at all. */
        tcgetattr(state->fd, &settings) != 0 || cfgetospeed(&settings) != speed) {
        driver_say(reterr,
                   "bus '%s': %s cannot do %u baud; choose a rate that the adapter knows",
                   bus->id, bus->device, (unsigned)bus->baud_bps);
        return false;
    }
    return true;
}

static void
line_close(void *state_arg)
{
    struct line_state *state = state_arg;
    if (state == NULL)
        return;
    if (state->exclusive)
        serial_port_let_in(state->fd);
    if (state->fd >= 0)
        (void)close(state->fd); /* what was sent, was sent */
    driver_sensors_free(state->sensors);
    free(state);
}

static bool
line_open(const struct plan *plan, uint16_t bus_index, const struct clock *clock,
          void **ret_state, struct driver_error *reterr)
{
    struct line_fault fault;
    assert(bus_index < plan->bus_count);
    const struct plan_bus *bus = &plan->buses[bus_index];
    struct line_state *state = calloc(1, sizeof *state);
    if (state == NULL) {
        driver_say(reterr, "bus '%s': out of memory", bus->id);
        return false;
    }
    *state = (struct line_state){.plan = plan, .bus = bus, .clock = clock, .fd = -1};
    if (!line_pattern_compile(bus->pattern, &state->pattern, &fault) ||
        (bus->poll != NULL && !line_poll_compile(bus->poll, &state->poll, &fault))) {
        driver_say(reterr, "bus '%s': pattern or poll cannot be used: %s", bus->id, fault.text);
        line_close(state);
        return false;
    }
    state->sensors = driver_sensors_new(plan, bus_index, reterr);
    if (state->sensors != NULL)
        state->fd = serial_port_open(bus, reterr);
    if (state->fd < 0 || !set_up(state, reterr) ||
        !serial_port_direct(state->fd, bus, reterr)) {
        line_close(state);
        return false;
    }
    state->exclusive = serial_port_keep_out(state->fd);
    /* A question of whoever had the line before us may still be answered. */
    state->unsettled = true;
    state->unsettled_ms = now_ms(state);
    *ret_state = state;
    return true;
}

/* ---- bytes ---- */

static enum line_wait
wait_for(const struct line_state *state, short events, int64_t wait_ms)
{
    struct pollfd port = {.fd = state->fd, .events = events};
    const int64_t ms = wait_ms < 0 ? 0 : wait_ms;
    const struct timespec wait = {.tv_sec = ms / 1000, .tv_nsec = ms % 1000 * 1000000};
    int ready;
    do
        ready = ppoll(&port, 1, &wait, NULL);
    while (ready < 0 && errno == EINTR);
    if (ready == 0)
        return LINE_LATE;
    return ready < 0 || (port.revents & (POLLERR | POLLHUP | POLLNVAL)) != 0 ? LINE_GONE
                                                                             : LINE_READY;
}

/* READY with at least one byte, LATE without any. */
static enum line_wait
take_bytes(const struct line_state *state, int64_t wait_ms, uint8_t *ret, size_t size,
           size_t *ret_len)
{
    const enum line_wait wait = wait_for(state, POLLIN, wait_ms);
    if (wait != LINE_READY)
        return wait;
    const ssize_t got = read(state->fd, ret, size);
    if (got > 0) {
        *ret_len = (size_t)got;
        return LINE_READY;
    }
    return got < 0 && (errno == EAGAIN || errno == EINTR) ? LINE_LATE : LINE_GONE;
}

/* Throws away what is there. A line that talks by itself is heard from its next end on. */
static enum line_wait
drain(const struct line_state *state)
{
    uint8_t bytes[LINE_BYTES_MAX];
    size_t len;
    enum line_wait got = LINE_READY;
    for (int i = 0; i < DRAIN_READS_MAX && got == LINE_READY; i++)
        got = take_bytes(state, 0, bytes, sizeof bytes, &len);
    return got == LINE_GONE ? LINE_GONE : LINE_READY;
}

/* Throws away what is there, and waits out the quiet that is owed before a question. */
static enum line_wait
settle(struct line_state *state)
{
    const int64_t began_ms = now_ms(state);
    const int64_t quiet_ms =
        state->bus->max_late_ms > QUIET_MIN_MS ? state->bus->max_late_ms : QUIET_MIN_MS;
    for (;;) {
        uint8_t bytes[LINE_BYTES_MAX];
        size_t len;
        const int64_t left_ms =
            state->unsettled ? state->unsettled_ms + quiet_ms - now_ms(state) : 0;
        const enum line_wait got = take_bytes(state, left_ms, bytes, sizeof bytes, &len);
        if (got == LINE_GONE)
            return LINE_GONE;
        if (got == LINE_READY) {
            state->unsettled = true;
            state->unsettled_ms = now_ms(state);
        } else if (!state->unsettled || now_ms(state) - state->unsettled_ms >= quiet_ms) {
            break;
        }
        if (now_ms(state) - began_ms > quiet_ms + DRAIN_MAX_MS)
            return LINE_LATE;
    }
    state->unsettled = false;
    return LINE_READY;
}

static enum line_wait
send_all(const struct line_state *state, const uint8_t *bytes, size_t len, int64_t deadline_ms)
{
    for (size_t sent = 0; sent < len;) {
        const enum line_wait wait = wait_for(state, POLLOUT, deadline_ms - now_ms(state));
        if (wait != LINE_READY)
            return wait;
        const ssize_t done = write(state->fd, bytes + sent, len - sent);
        if (done > 0)
            sent += (size_t)done;
        else if (done < 0 && errno != EAGAIN && errno != EINTR)
            return LINE_GONE;
    }
    return LINE_READY;
}

/* The question, with the channel of the request's only probe in its place. */
static enum line_wait
ask(const struct line_state *state, const struct driver_request *request, int64_t deadline_ms)
{
    const struct line_poll *poll = &state->poll;
    uint8_t bytes[LINE_PATTERN_BYTES_MAX + PLAN_ID_MAX];
    size_t len = 0;
    const char *channel = state->plan->probes[request->probes[0]].channel;
    const size_t channel_len = poll->has_channel ? strnlen(channel, PLAN_ID_MAX) : 0;
    const size_t before = poll->has_channel ? poll->channel_at : poll->len;
    memcpy(bytes, poll->bytes, before);
    len = before;
    if (channel_len > 0)
        memcpy(bytes + len, channel, channel_len);
    len += channel_len;
    memcpy(bytes + len, poll->bytes + before, poll->len - before);
    return send_all(state, bytes, len + poll->len - before, deadline_ms);
}

/* ---- lines ---- */

static bool
is_text(const struct line_state *state, struct line_slice slice, const char *text)
{
    return strlen(text) == slice.len && memcmp(state->bytes + slice.at, text, slice.len) == 0;
}

static bool
is_good_status(const struct line_state *state, struct line_slice status)
{
    if (!state->pattern.has_status)
        return true;
    for (const char *const *good = state->bus->good_status; *good != NULL; good++)
        if (is_text(state, status, *good))
            return true;
    return false;
}

/* C or F, in either case, a degree sign before it or none (UTF-8, Latin-1, or "deg"). */
static bool
read_unit(const struct line_state *state, struct line_slice slice, enum temp_unit *ret)
{
    static const char *const before[] = {"", "\xc2\xb0", "\xb0", "deg"};
    if (slice.len == 0)
        return false;
    const uint8_t letter = state->bytes[slice.at + slice.len - 1];
    if (letter != 'C' && letter != 'c' && letter != 'F' && letter != 'f')
        return false;
    slice.len--;
    for (size_t i = 0; i < sizeof before / sizeof *before; i++)
        if (is_text(state, slice, before[i])) {
            *ret = letter == 'F' || letter == 'f' ? TEMP_F : TEMP_C;
            return true;
        }
    return false;
}

/* As a plan writes them; what a meter prints, in capitals and with signs for micro and ohm, is
 * taken too. */
static bool
read_signal_unit(const struct line_state *state, struct line_slice slice,
                 struct driver_signal *ret, int64_t *ret_factor)
{
    static const struct {
        const char *word;
        enum signal_unit unit;
        int64_t factor;
    } units[] = {
        {"mV", SIGNAL_MV, 1},          {"uV", SIGNAL_UV, 1},
        {"\u00b5V", SIGNAL_UV, 1},     {"\u03bcV", SIGNAL_UV, 1},
        {"V", SIGNAL_MV, 1000},        {"ohm", SIGNAL_OHM, 1},
        {"Ohm", SIGNAL_OHM, 1},        {"OHM", SIGNAL_OHM, 1},
        {"\u03a9", SIGNAL_OHM, 1},     {"\u2126", SIGNAL_OHM, 1},
        {"kohm", SIGNAL_OHM, 1000},    {"kOhm", SIGNAL_OHM, 1000},
        {"k\u03a9", SIGNAL_OHM, 1000}, {"k\u2126", SIGNAL_OHM, 1000},
    };
    for (size_t i = 0; i < sizeof units / sizeof *units; i++)
        if (is_text(state, slice, units[i].word)) {
            ret->unit = units[i].unit;
            *ret_factor = units[i].factor;
            return true;
        }
    return false;
}

/* Millionths of the unit, rounded once: number * scale + offset, or as the line says itself. */
static uint16_t
signal_of(const struct line_state *state, const struct plan_probe *probe,
          const struct line_match *match, struct line_number number, struct driver_signal *ret)
{
    const int64_t power = driver_power_of_ten(number.decimals);
    int64_t factor = 1, micro;
    ret->unit = probe->signal;
    if (state->pattern.has_unit && !read_signal_unit(state, match->unit, ret, &factor))
        return BAD_CONVERSION;
    const int64_t scale_micro = state->pattern.has_unit ? factor * 1000000 : probe->scale_micro;
    if (!driver_times(number.mantissa, scale_micro, &micro))
        return BAD_CONVERSION;
    ret->micro = driver_rounded(micro, power);
    return driver_plus(ret->micro, probe->offset_micro, &ret->micro) ? READING_GOOD
                                                                     : BAD_CONVERSION;
}

/* number * scale + offset, exactly, with one rounding at the end. */
static struct driver_sample
sample_of(const struct plan_probe *probe, struct line_number number, enum temp_unit unit)
{
    const int64_t power = driver_power_of_ten(number.decimals);
    int64_t micro; /* times power */
    if (!driver_times(number.mantissa, probe->scale_micro, &micro) ||
        !driver_plus(micro, probe->offset_micro * power, &micro) ||
        /* (x - 32) * 5/9 in thousandths is (micro - 32000000) / 1800. */
        (unit == TEMP_F && !driver_plus(micro, -INT64_C(32000000) * power, &micro)))
        return driver_bad(BAD_CONVERSION);
    return driver_sample_of(probe,
                            driver_rounded(micro, (unit == TEMP_F ? 1800 : 1000) * power));
}

/* A probe with a sensor is judged further when the exchange is over (drivers/sensors.h). */
static struct driver_sample
judge_value(const struct line_state *state, const struct plan_probe *probe,
            const struct line_match *match, struct line_slice value,
            struct driver_signal *ret_signal)
{
    struct line_number number;
    enum temp_unit unit = probe->reads;
    if (!is_good_status(state, match->status))
        return driver_bad(BAD_FAULT_VALUE);
    if (!line_number(state->bytes + value.at, value.len, &number))
        return driver_bad(BAD_CONVERSION);
    if (probe->sensor != NULL)
        return (struct driver_sample){.temp_mC = TEMP_NONE,
                                      .quality =
                                          signal_of(state, probe, match, number, ret_signal)};
    if (state->pattern.has_unit && !read_unit(state, match->unit, &unit))
        return driver_bad(BAD_CONVERSION);
    return sample_of(probe, number, unit);
}

/* The value of a line that is the probe's; NULL when none is. */
static const struct line_slice *
value_for(const struct line_state *state, const struct plan_probe *probe,
          const struct line_match *match)
{
    const struct line_pattern *pattern = &state->pattern;
    size_t value = 0;
    if (pattern->has_channel)
        return is_text(state, match->channel, probe->channel) ? &match->values[0] : NULL;
    if (!pattern->has_names)
        return &match->values[0];
    for (size_t i = 0; i < pattern->part_count; i++) {
        const struct line_part *part = &pattern->parts[i];
        if (part->kind != LINE_VALUE)
            continue;
        if (strlen(probe->channel) == part->text.len &&
            memcmp(pattern->bytes + part->text.at, probe->channel, part->text.len) == 0)
            return &match->values[value];
        value++;
    }
    return NULL;
}

/* Gives the line's values to the probes of the request that have none yet. */
static void
judge_line(const struct line_state *state, struct heard *heard)
{
    struct line_match match;
    if (state->len == 0 && !state->is_long)
        return;
    heard->any_line = true;
    if (state->is_long || memchr(state->bytes, '\0', state->len) != NULL) {
        heard->other_form = true;
        return;
    }
    switch (line_pattern_match(&state->pattern, state->bytes, state->len, &match)) {
    case LINE_DIFFERS:
        heard->other_form = true;
        return;
    case LINE_BAD_SUM:
        heard->bad_sum = true;
        return;
    case LINE_MATCHES:
        break;
    }
    bool is_wanted = false;
    for (uint16_t i = 0; i < heard->request->count; i++) {
        const struct plan_probe *probe = &state->plan->probes[heard->request->probes[i]];
        const struct line_slice *value = value_for(state, probe, &match);
        is_wanted = is_wanted || value != NULL;
        if (value == NULL || heard->is_done[i])
            continue;
        heard->samples[i] = judge_value(state, probe, &match, *value, &heard->signals[i]);
        heard->is_done[i] = true;
        heard->done_count++;
    }
    heard->other_channel = heard->other_channel || !is_wanted;
}

/* Whether the byte ends a line; for CR LF it is the second of the two. */
static bool
is_line_end(const struct line_state *state, uint8_t byte)
{
    switch (state->bus->line_end) {
    case LINE_END_CRLF:
        return byte == '\n' && state->last == '\r';
    case LINE_END_CR:
        return byte == '\r';
    case LINE_END_LF:
        return byte == '\n';
    }
    return false;
}

static void
begin_line(struct line_state *state, bool is_begun)
{
    state->is_begun = is_begun;
    state->is_long = false;
    state->len = 0;
    state->last = 0;
}

static void
feed(struct line_state *state, uint8_t byte, struct heard *heard)
{
    heard->any_byte = true;
    if (is_line_end(state, byte)) {
        if (state->bus->line_end == LINE_END_CRLF && state->len > 0 && !state->is_long)
            state->len--; /* the CR */
        if (state->is_begun)
            judge_line(state, heard);
        begin_line(state, true);
        return;
    }
    state->last = byte;
    if (!state->is_begun)
        return;
    if (state->len == sizeof state->bytes)
        state->is_long = true;
    else
        state->bytes[state->len++] = byte;
}

/* Hears lines until every probe of the request has its value, or time is up. */
static enum line_wait
listen(struct line_state *state, int64_t deadline_ms, struct heard *heard)
{
    while (heard->done_count < heard->request->count) {
        uint8_t bytes[LINE_BYTES_MAX];
        size_t len = 0;
        const int64_t left_ms = deadline_ms - now_ms(state);
        if (left_ms <= 0)
            return LINE_LATE;
        const bool is_within = state->is_begun && (state->len > 0 || state->is_long);
        const bool is_pause = is_within && left_ms > PAUSE_MAX_MS;
        const enum line_wait got =
            take_bytes(state, is_pause ? PAUSE_MAX_MS : left_ms, bytes, sizeof bytes, &len);
        if (got == LINE_GONE)
            return LINE_GONE;
        if (got == LINE_LATE && is_pause)
            begin_line(state, false);
        for (size_t i = 0; i < len && heard->done_count < heard->request->count; i++)
            feed(state, bytes[i], heard);
    }
    return LINE_READY;
}

/* ---- one exchange ---- */

static bool
gone(const struct line_state *state, const struct driver_request *request,
     struct driver_sample *ret_samples, struct driver_error *reterr)
{
    driver_fail(request, BAD_LINK, ret_samples);
    driver_say(reterr, "bus '%s': %s has stopped working; was the adapter unplugged?",
               state->bus->id, state->bus->device);
    return false;
}

static uint16_t
cause_of(const struct line_state *state, const struct heard *heard)
{
    if (heard->bad_sum)
        return BAD_CRC;
    if (heard->other_form || (heard->any_byte && !heard->any_line))
        return BAD_FRAME;
    return heard->other_channel && state->bus->poll != NULL ? BAD_WRONG_UNIT : BAD_TIMEOUT;
}

static void
say_failed(const struct line_state *state, uint16_t cause, struct driver_error *reterr)
{
    const struct plan_bus *bus = state->bus;
    if (cause == BAD_CRC)
        driver_say(
            reterr,
            "bus '%s': lines with a wrong check sum; check the cable, and what the check "
            "sum of the pattern covers",
            bus->id);
    else if (cause == BAD_FRAME)
        driver_say(reterr,
                   "bus '%s': no line of the plan's pattern; check baud, parity, data_bits, "
                   "line_end and pattern against what the device prints",
                   bus->id);
    else if (cause == BAD_WRONG_UNIT)
        driver_say(reterr,
                   "bus '%s': only lines of other channels came; check channel and poll",
                   bus->id);
    else if (bus->poll != NULL)
        driver_say(reterr, "bus '%s': no reply within %d ms; check power, cable, baud and poll",
                   bus->id, (int)bus->timeout_ms);
    else
        driver_say(reterr,
                   "bus '%s': no line within %d ms; check power and cable, and that timeout is "
                   "more than twice the time from one line to the next",
                   bus->id, (int)bus->timeout_ms);
}

static enum line_wait
prepare(struct line_state *state)
{
    begin_line(state, state->bus->poll != NULL);
    return state->bus->poll != NULL ? settle(state) : drain(state);
}

static bool
line_read(void *state_arg, const struct driver_request *request,
          struct driver_sample *ret_samples, struct driver_error *reterr)
{
    struct line_state *state = state_arg;
    struct heard heard = {.request = request, .samples = ret_samples};
    const enum line_wait prepared = prepare(state);
    if (prepared == LINE_GONE)
        return gone(state, request, ret_samples, reterr);
    if (prepared == LINE_LATE) {
        driver_fail(request, BAD_LINK, ret_samples);
        driver_say(
            reterr,
            "bus '%s': the line on %s is never quiet; if the thermometer talks by itself, "
            "delete poll",
            state->bus->id, state->bus->device);
        return false;
    }
    const int64_t deadline_ms = now_ms(state) + state->bus->timeout_ms;
    enum line_wait got = LINE_READY;
    if (state->bus->poll != NULL)
        got = ask(state, request, deadline_ms);
    if (got == LINE_READY)
        got = listen(state, deadline_ms, &heard);
    if (got == LINE_GONE)
        return gone(state, request, ret_samples, reterr);
    const uint16_t cause = cause_of(state, &heard);
    for (uint16_t i = 0; i < request->count; i++)
        if (!heard.is_done[i])
            ret_samples[i] = driver_bad(cause);
    driver_sensors_apply(state->sensors, request, heard.signals, now_ms(state), ret_samples);
    if (heard.done_count == request->count)
        return true;
    say_failed(state, cause, reterr);
    state->unsettled = true;
    state->unsettled_ms = now_ms(state);
    return true;
}

/* A question with a channel in it asks for one probe. */
static size_t
line_requests(const struct plan *plan, uint16_t bus, struct driver_request *ret, size_t max)
{
    struct line_poll poll;
    struct line_fault fault;
    const char *text = plan->buses[bus].poll;
    const bool is_alone =
        text != NULL && line_poll_compile(text, &poll, &fault) && poll.has_channel;
    return (is_alone ? driver_requests_alone : driver_requests_together)(plan, bus, ret, max);
}

const struct probe_driver driver_serial_line = {
    .name = "serial-line",
    .requests = line_requests,
    .open = line_open,
    .read = line_read,
    .close = line_close,
};
