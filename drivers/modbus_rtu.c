/* A serial Modbus line.
 *
 * libmodbus opens the device and sets it up; the exchange is ours, because an RTU reply carries
 * nothing that ties it to its request. What libmodbus 3.1.6 does there would let a late reply
 * pass for the next one, reports a short frame as silence, and waits with select(). The rules
 * instead:
 *  - a frame ends with 3.5 characters of silence; more bytes within it spoil the exchange;
 *  - bytes nobody asked for, found before a request, and every failure but an exception, leave
 * the line unsettled: the next request waits until nothing was heard for max_late_ms, counted
 * from the end of the time-out where the reply itself has not come;
 *  - a reply that equals, byte for byte, one of the last max_late_ms may be a second copy of
 * it: the question is put again after the same quiet;
 *  - a line on which it never gets quiet is reported gone, as is one whose device has vanished.
 */
#include "drivers/modbus_parts.h"

#include <errno.h>
#include <poll.h>
#include <string.h>
#include <termios.h>
#include <unistd.h>

#include "drivers/serial_port.h"
#include "trivet/reading.h"

/* Longest the line is given to become quiet, beyond the quiet itself. */
#define DRAIN_MAX_MS 2000

/* ---- opening ---- */

static bool
set_up(struct mbus_line *line, speed_t speed, struct driver_error *reterr)
{
    const struct plan_bus *bus = line->bus;
    const int parity = serial_port_is_pseudo(line->lock_fd) ? 'N' : bus->parity;
    struct termios settings;
    line->context =
        modbus_new_rtu(bus->device, (int)bus->baud_bps, (char)parity, 8, bus->stop_bits);
    if (line->context == NULL || modbus_connect(line->context) != 0) {
        serial_port_say_not_open(bus, errno, reterr);
        return false;
    }
    line->fd = modbus_get_socket(line->context);
    /* tcsetattr() is content when it could set anything at all. */
    if (tcgetattr(line->fd, &settings) != 0 || cfgetospeed(&settings) != speed) {
        mbus_say(reterr, "bus '%s': %s cannot do %u baud; choose a rate that the adapter knows",
                 bus->id, bus->device, (unsigned)bus->baud_bps);
        return false;
    }
    return true;
}

bool
mbus_rtu_open(struct mbus_line *line, struct driver_error *reterr)
{
    speed_t speed;
    line->fd = line->lock_fd = -1;
    if (!serial_port_speed(line->bus->baud_bps, &speed)) {
        mbus_say(reterr, "bus '%s': %u baud is no rate of a Modbus line; use 9600 or 19200",
                 line->bus->id, (unsigned)line->bus->baud_bps);
        return false;
    }
    if (!mbus_descriptors_left(line->bus, reterr))
        return false;
    line->lock_fd = serial_port_open(line->bus, reterr);
    if (line->lock_fd < 0 || !set_up(line, speed, reterr)) {
        mbus_rtu_close(line);
        return false;
    }
    line->exclusive = serial_port_keep_out(line->fd);
    if (!serial_port_direct(line->fd, line->bus, reterr)) {
        mbus_rtu_close(line);
        return false;
    }
    (void)modbus_flush(line->context); /* what is left is found before the first request */
    /* A request of whoever had the line before us may still be answered. */
    mbus_unsettle(line);
    return true;
}

void
mbus_rtu_close(struct mbus_line *line)
{
    if (line->exclusive)
        serial_port_let_in(line->fd);
    if (line->context != NULL) {
        if (line->fd >= 0)
            modbus_close(line->context);
        modbus_free(line->context);
    }
    if (line->lock_fd >= 0)
        (void)close(line->lock_fd);
    line->context = NULL;
    line->fd = line->lock_fd = -1;
    line->exclusive = false;
}

/* ---- one exchange ---- */

static int64_t
now_ms(const struct mbus_line *line)
{
    return clock_mono_ms(line->clock);
}

/* On TCP the speed of the line behind the gateway is not known: the plan's timeout covers it.
 */
static bool
is_serial(const struct plan_bus *bus)
{
    return bus->driver == BUS_MODBUS_RTU;
}

static const char *
port_of(const struct plan_bus *bus)
{
    return is_serial(bus) ? bus->device : bus->host;
}

int64_t
mbus_silence_us(const struct plan_bus *bus)
{
    return !is_serial(bus) || bus->baud_bps > 19200 ? 1750
                                                    : 38500000 / (int64_t)bus->baud_bps + 1;
}

/* How long bytes take on the wire: start, 8 data, parity and stop bits. */
static int64_t
wire_ms(const struct plan_bus *bus, size_t bytes)
{
    if (!is_serial(bus))
        return 0;
    const int64_t bits = 1 + 8 + (bus->parity == 'N' ? 0 : 1) + bus->stop_bits;
    return (int64_t)bytes * bits * 1000 / (int64_t)bus->baud_bps + 1;
}

static bool
gone(struct mbus_line *line, struct mbus_reply *ret, struct driver_error *reterr)
{
    ret->quality = BAD_LINK;
    mbus_say(reterr, "bus '%s': %.100s has stopped working; was the %s unplugged?",
             line->bus->id, port_of(line->bus), is_serial(line->bus) ? "adapter" : "gateway");
    return false;
}

/* Reads what is there into the frame's rest. READY when anything came, else LATE. */
static enum mbus_wait
take_bytes(struct mbus_line *line, int64_t wait_us)
{
    const enum mbus_wait wait = mbus_wait(line->fd, POLLIN, wait_us);
    if (wait != MBUS_READY)
        return wait;
    const ssize_t got =
        read(line->fd, line->frame + line->frame_len, sizeof line->frame - line->frame_len);
    if (got > 0) {
        line->frame_len += (size_t)got;
        return MBUS_READY;
    }
    /* Readable without a byte: the other end is closing. A real silence is never readable. */
    return got < 0 && (errno == EAGAIN || errno == EINTR) ? MBUS_LATE : MBUS_GONE;
}

/* An exchange has ended without its reply, which may still be under way: the device has its
 * time-out, and may be late beyond that. */
static void
unsettle_until_due(struct mbus_line *line)
{
    mbus_unsettle(line);
    if (line->unsettled_ms < line->reply_until_ms)
        line->unsettled_ms = line->reply_until_ms;
}

/* Throws away what is there, and waits out the quiet that is owed. */
static enum mbus_wait
settle(struct mbus_line *line)
{
    const int64_t began_ms = now_ms(line);
    const int64_t quiet_ms = mbus_past_ms(line->bus);
    /* Of a reply that is still in time. */
    const int64_t due_ms =
        line->reply_until_ms > began_ms ? line->reply_until_ms - began_ms : 0;
    for (;;) {
        const int64_t at_ms = now_ms(line);
        const int64_t left_ms = line->unsettled ? line->unsettled_ms + quiet_ms - at_ms : 0;
        line->frame_len = 0;
        /* Until then at least, if nothing comes: not when this thread gets to run again. */
        line->quiet_ms = at_ms + (left_ms > 0 ? left_ms : 0);
        const enum mbus_wait got = take_bytes(line, left_ms * 1000);
        if (got == MBUS_GONE)
            return MBUS_GONE;
        if (got == MBUS_READY)
            unsettle_until_due(line);
        else if (left_ms <= 0 || now_ms(line) - line->unsettled_ms >= quiet_ms)
            break;
        if (now_ms(line) - began_ms > due_ms + quiet_ms + DRAIN_MAX_MS)
            return MBUS_LATE;
    }
    line->unsettled = false;
    return MBUS_READY;
}

/* Collects bytes until the reply is whole, cannot become one and has ended, or is late. */
static enum mbus_wait
receive(struct mbus_line *line, const struct driver_request *request, int64_t deadline_ms)
{
    line->frame_len = 0;
    for (;;) {
        int64_t wait_us = (deadline_ms - now_ms(line)) * 1000;
        if (!mbus_rtu_reply_fits(request, line->frame, line->frame_len)) {
            const int64_t pause_us = MBUS_ADAPTER_PAUSE_US + mbus_silence_us(line->bus);
            wait_us = wait_us < pause_us ? wait_us : pause_us;
        } else {
            const size_t whole = mbus_rtu_reply_length(line->frame, line->frame_len);
            if (whole != 0 && line->frame_len >= whole)
                return MBUS_READY;
        }
        if (line->frame_len == sizeof line->frame || wait_us <= 0)
            return MBUS_READY;
        const enum mbus_wait got = take_bytes(line, wait_us);
        if (got != MBUS_READY)
            return got == MBUS_LATE ? MBUS_READY : got;
    }
}

/* The silence that ends the frame; it also separates this exchange from the next. */
static enum mbus_wait
listen_for_end(struct mbus_line *line)
{
    if (line->frame_len == 0 || line->frame_len == sizeof line->frame)
        return MBUS_READY;
    return take_bytes(line, mbus_silence_us(line->bus)) == MBUS_GONE ? MBUS_GONE : MBUS_READY;
}

/* Sends the request and judges what comes back. False when the line is gone. */
static bool
ask(struct mbus_line *line, const struct driver_request *request, struct mbus_reply *ret,
    struct driver_error *reterr)
{
    uint8_t sent[8];
    const enum mbus_wait settled = settle(line);
    if (settled == MBUS_LATE) {
        ret->quality = BAD_LINK;
        mbus_say(
            reterr,
            "bus '%s': the line on %.80s is never quiet; look for a second master, a device "
            "that talks by "
            "itself, or missing bias",
            line->bus->id, port_of(line->bus));
        return false;
    }
    if (settled == MBUS_GONE)
        return gone(line, ret, reterr);
    const size_t sent_len = mbus_rtu_request(request, sent);
    const int64_t deadline_ms =
        now_ms(line) + line->bus->timeout_ms +
        wire_ms(line->bus, sent_len + 5U + mbus_reply_data_bytes(request));
    line->reply_until_ms = deadline_ms;
    const enum mbus_wait sending = mbus_send(line, sent, sent_len, deadline_ms);
    if (sending == MBUS_GONE)
        return gone(line, ret, reterr);
    line->frame_len = 0;
    if (sending == MBUS_READY &&
        (receive(line, request, deadline_ms) == MBUS_GONE || listen_for_end(line) == MBUS_GONE))
        return gone(line, ret, reterr);
    mbus_rtu_judge(request, line->frame, line->frame_len, ret);
    if (ret->quality != READING_GOOD && ret->quality != BAD_EXCEPTION)
        unsettle_until_due(line);
    return true;
}

/* The device has answered: with values, or with a refusal. */
static bool
is_answer(const struct mbus_reply *reply)
{
    return reply->quality == READING_GOOD || reply->quality == BAD_EXCEPTION;
}

static bool
may_be_copy(const struct mbus_line *line, const struct mbus_reply *reply)
{
    return is_answer(reply) && mbus_copies_may_be(&line->copies, line->frame, line->frame_len,
                                                  line->quiet_ms, mbus_past_ms(line->bus));
}

bool
mbus_rtu_exchange(struct mbus_line *line, const struct driver_request *request,
                  struct mbus_reply *ret, struct driver_error *reterr)
{
    memset(ret, 0, sizeof *ret);
    if (!ask(line, request, ret, reterr))
        return false;
    if (may_be_copy(line, ret)) {
        unsettle_until_due(line); /* after that no copy is under way any more, nor a reply */
        if (!ask(line, request, ret, reterr))
            return false;
        if (may_be_copy(line, ret)) { /* the clock stood */
            ret->quality = BAD_FRAME;
            unsettle_until_due(line);
        }
    }
    if (is_answer(ret) && !mbus_copies_keep(&line->copies, line->frame, line->frame_len,
                                            now_ms(line), mbus_past_ms(line->bus)))
        mbus_unsettle(line);
    if (ret->quality != READING_GOOD)
        mbus_say_failed(line->bus, request, ret, reterr);
    return true;
}
