/* Tells the service manager how we are: ready, alive, stopping.
 *
 * The datagrams of sd_notify(3), written by hand because they are all we would use of its
 * library. Without a service manager (NOTIFY_SOCKET unset) everything here does nothing. The
 * main thread's. Knows no clock: the service manager counts the time. */
#ifndef TRIVET_NOTIFY_H
#define TRIVET_NOTIFY_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <sys/socket.h>
#include <sys/un.h>

struct notify {
    int fd; /* -1: nobody to tell */
    struct sockaddr_un address;
    socklen_t address_size;
    int64_t watchdog_ms; /* how long we may stay silent; 0 = nobody minds */
    uint64_t last_beat;
};

/* Reads NOTIFY_SOCKET, WATCHDOG_USEC and WATCHDOG_PID and takes them out of the environment, so
 * that no child speaks in our name: call before any thread starts. False with reterr when they
 * are set but cannot be used; notify then does nothing. */
bool notify_open(struct notify *notify, char *reterr, size_t err_size);
void notify_close(struct notify *notify);

/* Sends a state such as "READY=1" and a sentence for people (NULL = none), whose control
 * characters become blanks. True when it went out. */
bool notify_say(const struct notify *notify, const char *state, const char *status);

/* How long to wait between two calls of notify_alive, -1 = for ever: what poll(2) takes. */
int notify_pause_ms(const struct notify *notify);

/* Tells that we are alive, but only when what does the work has moved since the last call: beat
 * is its count. False when it stands still. */
bool notify_alive(struct notify *notify, uint64_t beat);

#endif
