/* A Modbus TCP connection.
 *
 * libmodbus connects; the exchange is ours, because libmodbus 3.1.6 does not compare the unit
 * id of a reply, and stays one reply behind for ever once one came late. The rules instead:
 *  - every request has a new transaction number, also across connections; replies with another
 * number are passed over;
 *  - protocol, length, unit, function and count are compared;
 *  - after silence nothing is sent for max_late_ms, for the sake of serial lines behind a
 * gateway, but the connection stays: a unit that is away costs its neighbours no new one;
 *  - after OWED_MAX silences in a row, any other failure but an exception, or bytes nobody
 * asked for, it is closed, and made anew for the next request; likewise not before max_late_ms.
 */
#include "drivers/modbus_parts.h"

#include <errno.h>
#include <poll.h>
#include <stdio.h>
#include <string.h>
#include <sys/socket.h>
#include <unistd.h>

#include "trivet/reading.h"

#define HEADER_BYTES 6 /* transaction, protocol, length; the unit id counts as body here */
#define BODY_MAX     254
/* Replies to other requests that are passed over in one exchange. */
#define STRANGERS_MAX 16
/* Silences in a row after which the connection itself is doubted: a device that lost its power
 * says nothing either, and the kernel would go on trying for a quarter of an hour. */
#define OWED_MAX 3

static int64_t
now_ms(const struct mbus_line *line)
{
    return clock_mono_ms(line->clock);
}

static void
disconnect(struct mbus_line *line)
{
    if (line->fd >= 0)
        modbus_close(line->context);
    line->fd = -1;
}

static void
say_not_connected(const struct plan_bus *bus, int error, struct driver_error *reterr)
{
    if (error == ECONNREFUSED)
        mbus_say(reterr,
                 "bus '%s': %.80s, port %d, refuses the connection or is no known name; is the "
                 "device on, "
                 "and are host and port right?",
                 bus->id, bus->host, bus->port);
    else if (error == EINPROGRESS || error == ETIMEDOUT)
        mbus_say(reterr,
                 "bus '%s': %.80s, port %d, does not answer within %d ms; is the device "
                 "powered and on this "
                 "network?",
                 bus->id, bus->host, bus->port, (int)bus->timeout_ms);
    else
        mbus_say(
            reterr,
            "bus '%s': no connection to %.80s, port %d (%s); check cable, address and network",
            bus->id, bus->host, bus->port, strerror(error));
}

static bool
reconnect(struct mbus_line *line, struct driver_error *reterr)
{
    if (!mbus_descriptors_left(line->bus, reterr))
        return false;
    if (modbus_connect(line->context) != 0) {
        say_not_connected(line->bus, errno, reterr);
        line->fd = -1;
        return false;
    }
    line->fd = modbus_get_socket(line->context);
    line->owed = 0;
    return true;
}

bool
mbus_tcp_open(struct mbus_line *line, struct driver_error *reterr)
{
    const struct plan_bus *bus = line->bus;
    char service[8];
    (void)snprintf(service, sizeof service, "%u", (unsigned)bus->port);
    line->fd = line->lock_fd = -1;
    line->context = modbus_new_tcp_pi(bus->host, service);
    if (line->context == NULL ||
        modbus_set_response_timeout(line->context, (uint32_t)(bus->timeout_ms / 1000),
                                    (uint32_t)(bus->timeout_ms % 1000 * 1000)) != 0) {
        mbus_say(reterr, "bus '%s': host '%.80s' cannot be used; write a name or an address",
                 bus->id, bus->host);
        mbus_tcp_close(line);
        return false;
    }
    if (reconnect(line, reterr))
        return true;
    mbus_tcp_close(line);
    return false;
}

void
mbus_tcp_close(struct mbus_line *line)
{
    disconnect(line);
    modbus_free(line->context); /* accepts NULL */
    line->context = NULL;
}

/* Waits until a late reply behind a gateway can no longer meet the next request. */
static void
settle(struct mbus_line *line)
{
    const int64_t left_ms =
        line->unsettled ? line->unsettled_ms + line->bus->max_late_ms - now_ms(line) : 0;
    if (left_ms > 0)
        (void)poll(
            NULL, 0,
            (int)
                left_ms); /* plan-bounded; cut short it only costs certainty of a bad gateway */
    line->unsettled = false;
}

/* Exactly len bytes, before the deadline. *ret_got counts what came. */
static enum mbus_wait
take(struct mbus_line *line, size_t len, int64_t deadline_ms)
{
    for (const size_t end = line->frame_len + len; line->frame_len < end;) {
        const enum mbus_wait wait =
            mbus_wait(line->fd, POLLIN, (deadline_ms - now_ms(line)) * 1000);
        if (wait != MBUS_READY)
            return wait;
        const ssize_t got =
            recv(line->fd, line->frame + line->frame_len, end - line->frame_len, 0);
        if (got > 0)
            line->frame_len += (size_t)got;
        else if (got == 0 || (errno != EAGAIN && errno != EINTR))
            return MBUS_GONE;
    }
    return MBUS_READY;
}

static uint16_t
word(const uint8_t *at)
{
    return (uint16_t)(at[0] << 8 | at[1]);
}

/* One whole frame of whatever transaction. Returns READING_GOOD or the cause. */
static uint16_t
take_frame(struct mbus_line *line, int64_t deadline_ms)
{
    line->frame_len = 0;
    enum mbus_wait got = take(line, HEADER_BYTES, deadline_ms);
    if (got == MBUS_READY) {
        const uint16_t body_len = word(line->frame + 4);
        if (word(line->frame + 2) != 0 || body_len < 3 || body_len > BODY_MAX)
            return BAD_FRAME;
        got = take(line, body_len, deadline_ms);
    }
    if (got == MBUS_GONE)
        return BAD_LINK;
    if (got == MBUS_LATE)
        return line->frame_len == 0 ? BAD_TIMEOUT : BAD_FRAME;
    return READING_GOOD;
}

static void
receive(struct mbus_line *line, const struct driver_request *request, int64_t deadline_ms,
        struct mbus_reply *ret)
{
    for (int strangers = 0; strangers <= STRANGERS_MAX; strangers++) {
        ret->quality = take_frame(line, deadline_ms);
        if (ret->quality == BAD_TIMEOUT && strangers > 0)
            ret->quality = BAD_WRONG_UNIT;
        if (ret->quality != READING_GOOD)
            return;
        if (word(line->frame) == line->transaction) {
            mbus_tcp_judge(request, line->frame + HEADER_BYTES, line->frame_len - HEADER_BYTES,
                           ret);
            return;
        }
    }
    ret->quality = BAD_WRONG_UNIT;
}

/* Whether the other end has closed; bytes that wait are no reason. */
static bool
is_closed(const struct mbus_line *line)
{
    uint8_t byte;
    const enum mbus_wait wait = mbus_wait(line->fd, POLLIN, 0);
    if (wait != MBUS_READY)
        return wait == MBUS_GONE;
    const ssize_t got = recv(line->fd, &byte, 1, MSG_PEEK | MSG_DONTWAIT);
    return got == 0 || (got < 0 && errno != EAGAIN && errno != EINTR);
}

/* Throws away the late replies that wait. False when anything else does: where the next frame
 * begins is then unknown. */
static bool
take_late(struct mbus_line *line)
{
    size_t at = 0;
    const ssize_t got = recv(line->fd, line->frame, sizeof line->frame, MSG_DONTWAIT);
    if (got < 0)
        return errno == EAGAIN || errno == EINTR; /* nothing waits */
    while (at + HEADER_BYTES <= (size_t)got && word(line->frame + at + 2) == 0 &&
           word(line->frame + at + 4) >= 3 && word(line->frame + at + 4) <= BODY_MAX)
        at += HEADER_BYTES + word(line->frame + at + 4);
    return got > 0 && at == (size_t)got; /* 0: closed */
}

/* Closes a connection that the device closed while idle, or on which something waits that
 * nobody asked for. */
static void
drop_spoilt(struct mbus_line *line)
{
    if (line->fd < 0)
        return;
    const bool is_good =
        line->owed > 0 ? take_late(line) : mbus_wait(line->fd, POLLIN, 0) == MBUS_LATE;
    if (!is_good)
        disconnect(line);
}

/* After a failed exchange, when a whole frame or nothing was read. */
static void
note_silence(struct mbus_line *line)
{
    mbus_unsettle(line);
    if (++line->owed >= OWED_MAX)
        disconnect(line);
}

bool
mbus_rtu_tcp_exchange(struct mbus_line *line, const struct driver_request *request,
                      struct mbus_reply *ret, struct driver_error *reterr)
{
    memset(ret, 0, sizeof *ret);
    if (line->fd >= 0 && is_closed(line))
        disconnect(line);
    if (line->fd < 0) {
        if (!reconnect(line, reterr)) {
            ret->quality = BAD_LINK;
            return false;
        }
        mbus_unsettle(line); /* a reply may be owed to whoever was connected before */
    }
    const bool there = mbus_rtu_exchange(line, request, ret, reterr);
    if (ret->quality == BAD_TIMEOUT)
        note_silence(line);
    else
        line->owed = 0;
    return there;
}

bool
mbus_tcp_exchange(struct mbus_line *line, const struct driver_request *request,
                  struct mbus_reply *ret, struct driver_error *reterr)
{
    uint8_t sent[12];
    memset(ret, 0, sizeof *ret);
    settle(line);
    drop_spoilt(line);
    if (line->fd < 0 && !reconnect(line, reterr)) {
        ret->quality = BAD_LINK;
        return false;
    }
    line->transaction++;
    const size_t sent_len = mbus_tcp_request(request, line->transaction, sent);
    const int64_t deadline_ms = now_ms(line) + line->bus->timeout_ms;
    const enum mbus_wait sending = mbus_send(line, sent, sent_len, deadline_ms);
    if (sending == MBUS_READY)
        receive(line, request, deadline_ms, ret);
    else
        ret->quality = sending == MBUS_GONE ? BAD_LINK : BAD_TIMEOUT;
    if (ret->quality == READING_GOOD || ret->quality == BAD_EXCEPTION)
        line->owed = 0;
    if (ret->quality == READING_GOOD)
        return true;
    mbus_say_failed(line->bus, request, ret, reterr);
    if (ret->quality == BAD_TIMEOUT && sending == MBUS_READY) {
        note_silence(line);
    } else if (ret->quality != BAD_EXCEPTION) {
        disconnect(line);
        mbus_unsettle(line);
    }
    return true;
}
