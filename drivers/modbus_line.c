/* What serial and TCP lines have in common: waiting, sending, the quiet that is owed after a
 * failure, and words.
 *
 * Descriptors are waited for with ppoll(), never select(): the latter ends the process at
 * descriptor 1024. */
#define _GNU_SOURCE /* ppoll */

#include "drivers/modbus_parts.h"

#include <errno.h>
#include <fcntl.h>
#include <poll.h>
#include <stdarg.h>
#include <stdio.h>
#include <sys/socket.h>
#include <time.h>
#include <unistd.h>

#include "trivet/reading.h"

/* libmodbus waits with select() while it connects. The rest is for what other threads open
 * meanwhile. */
#define DESCRIPTORS_MAX 1000

enum mbus_wait
mbus_wait(int fd, short events, int64_t wait_us)
{
    struct pollfd poll_fd = {.fd = fd, .events = events};
    const int64_t us = wait_us < 0 ? 0 : wait_us;
    const struct timespec wait = {.tv_sec = us / 1000000, .tv_nsec = us % 1000000 * 1000};
    int ready;
    do
        ready = ppoll(&poll_fd, 1, &wait, NULL);
    while (ready < 0 && errno == EINTR);
    if (ready == 0)
        return MBUS_LATE;
    if (ready < 0 || (poll_fd.revents & (POLLERR | POLLHUP | POLLNVAL)) != 0)
        return MBUS_GONE;
    return MBUS_READY;
}

enum mbus_wait
mbus_send(struct mbus_line *line, const uint8_t *bytes, size_t len, int64_t deadline_ms)
{
    for (size_t sent = 0; sent < len;) {
        const int64_t left_ms = deadline_ms - clock_mono_ms(line->clock);
        const enum mbus_wait wait = mbus_wait(line->fd, POLLOUT, left_ms * 1000);
        if (wait != MBUS_READY)
            return wait;
        const ssize_t done = line->bus->driver != BUS_MODBUS_RTU
                                 ? send(line->fd, bytes + sent, len - sent, MSG_NOSIGNAL)
                                 : write(line->fd, bytes + sent, len - sent);
        if (done > 0)
            sent += (size_t)done;
        else if (done < 0 && errno != EAGAIN && errno != EINTR)
            return MBUS_GONE;
    }
    return MBUS_READY;
}

int64_t
mbus_past_ms(const struct plan_bus *bus)
{
    const int64_t adapter_ms = MBUS_ADAPTER_PAUSE_US / 1000;
    return bus->max_late_ms > adapter_ms ? bus->max_late_ms : adapter_ms;
}

void
mbus_unsettle(struct mbus_line *line)
{
    line->unsettled = true;
    line->unsettled_ms = clock_mono_ms(line->clock);
}

bool
mbus_descriptors_left(const struct plan_bus *bus, struct driver_error *reterr)
{
    const int lowest = open("/dev/null", O_RDONLY | O_CLOEXEC);
    if (lowest >= 0)
        (void)close(lowest); /* nothing was written */
    if (lowest >= 0 && lowest < DESCRIPTORS_MAX)
        return true;
    mbus_say(reterr,
             "bus '%s': this process has too many files open (%d are usable for buses); look "
             "for what "
             "holds them with: ls -l /proc/%d/fd",
             bus->id, DESCRIPTORS_MAX, (int)getpid());
    return false;
}

void
mbus_say(struct driver_error *reterr, const char *format, ...)
{
    va_list args;
    va_start(args, format);
    (void)vsnprintf(reterr->text, sizeof reterr->text, format, args); /* cut when too long */
    va_end(args);
}

/* MODBUS Application Protocol V1.1b3, section 7. */
static const char *
exception_words(uint8_t code, bool of_switches)
{
    switch (code) {
    case MODBUS_EXCEPTION_ILLEGAL_FUNCTION:
        return of_switches
                   ? "it does not know this function: try function 1 instead of 2, or 2 "
                     "instead of 1"
                   : "it does not know this function: try function 3 instead of 4, or 4 "
                     "instead of 3";
    case MODBUS_EXCEPTION_ILLEGAL_DATA_ADDRESS:
        return of_switches
                   ? "it has no such input: compare the plan with the device's list, "
                     "which may count from 1"
                   : "it has no such register: compare the plan with the device's list, "
                     "which may count from 1";
    case MODBUS_EXCEPTION_ILLEGAL_DATA_VALUE:
        return of_switches ? "it cannot give that many inputs at once"
                           : "it cannot give that many registers at once";
    case MODBUS_EXCEPTION_SLAVE_OR_SERVER_FAILURE:
        return "the device itself has failed";
    case MODBUS_EXCEPTION_ACKNOWLEDGE:
    case MODBUS_EXCEPTION_SLAVE_OR_SERVER_BUSY:
        return "the device is busy";
    case MODBUS_EXCEPTION_GATEWAY_PATH:
        return "the gateway has no way to this unit: check its settings";
    case MODBUS_EXCEPTION_GATEWAY_TARGET:
        return "the gateway gets no answer from this unit: check its wiring, power and unit id";
    default:
        return "see the device's manual";
    }
}

void
mbus_say_failed(const struct plan_bus *bus, const struct driver_request *request,
                const struct mbus_reply *reply, struct driver_error *reterr)
{
    char where[120];
    (void)snprintf(where, sizeof where, "bus '%s', unit %d, function %d, %s %d to %d", bus->id,
                   request->unit, request->function,
                   request->is_signal     ? "coils"
                   : request->is_switches ? "inputs"
                                          : "registers",
                   request->first_reg, request->first_reg + request->reg_count - 1);
    if (reply->quality == BAD_EXCEPTION)
        mbus_say(
            reterr, "%s: exception %d; %s", where, reply->exception,
            request->is_signal && reply->exception <= MODBUS_EXCEPTION_ILLEGAL_DATA_VALUE
                ? "it has no such coil, or none that can be set: compare the plan with the "
                  "device's list"
                : exception_words(reply->exception, request->is_switches));
    else if (reply->echo)
        mbus_say(reterr,
                 "%s: our own request came back; switch off the echo of the adapter, or check "
                 "whether two wires touch",
                 where);
    else if (reply->quality == BAD_TIMEOUT)
        mbus_say(reterr, "%s: no reply within %d ms; check power, wiring, unit id%s", where,
                 (int)bus->timeout_ms,
                 bus->driver == BUS_MODBUS_RTU ? ", baud rate and parity" : " and timeout_ms");
    else
        mbus_say(reterr, "%s: %s; check wiring, termination, and that no unit id is used twice",
                 where,
                 reply->quality == BAD_CRC ? "a reply with a wrong check sum"
                 : reply->quality == BAD_WRONG_UNIT
                     ? "a reply of another unit or to another request"
                 : reply->quality == BAD_LINK ? "the connection was dropped"
                                              : "a malformed reply");
}
