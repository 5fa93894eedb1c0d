/* Several RTU units on one pseudo-terminal.
 *
 * libmodbus answers for the one unit of its context and, having heard another's request, takes
 * the next one for that unit's reply. So each unit has a context of its own at the end of a
 * socket pair, and hears its own requests only. */
#define _GNU_SOURCE /* posix_openpt, ptsname_r, cfmakeraw */

#include "tests/kitchen/serve.h"

#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <sys/stat.h>
#include <termios.h>
#include <unistd.h>

/* Requests of functions 1 to 6: unit, function, two words, check sum. */
#define SHORT_REQUEST_BYTES 8

static bool
open_line(struct rtu_server *server)
{
    struct termios raw;
    server->line_fd = posix_openpt(O_RDWR | O_NOCTTY | O_CLOEXEC);
    if (server->line_fd < 0 || grantpt(server->line_fd) != 0 ||
        unlockpt(server->line_fd) != 0 ||
        ptsname_r(server->line_fd, server->device, sizeof server->device) != 0)
        return false;
    server->other_fd = open(server->device, O_RDWR | O_NOCTTY | O_CLOEXEC);
    if (server->other_fd < 0 || tcgetattr(server->other_fd, &raw) != 0)
        return false;
    cfmakeraw(&raw);
    return tcsetattr(server->other_fd, TCSANOW, &raw) == 0;
}

static bool
open_stations(struct rtu_server *server)
{
    for (size_t i = 0; i < SERVE_UNITS; i++) {
        int pair[2];
        if (socketpair(AF_UNIX, SOCK_STREAM | SOCK_CLOEXEC, 0, pair) != 0)
            return false;
        server->stations[i].near_fd = pair[0];
        server->stations[i].far_fd = pair[1];
        /* The settings do not matter: the context is given an open descriptor. */
        modbus_t *context = modbus_new_rtu(server->device, 19200, 'E', 8, 1);
        server->stations[i].context = context;
        if (context == NULL || modbus_set_slave(context, server->units[i].id) != 0 ||
            modbus_set_socket(context, pair[1]) != 0 ||
            modbus_set_indication_timeout(context, 0, 100000) != 0)
            return false;
    }
    return true;
}

static bool
make_link(struct rtu_server *server, const char *link, char *why, size_t why_size)
{
    struct stat status;
    if (strlen(link) >= sizeof server->link) {
        (void)snprintf(why, why_size, "the name given with --rtu-link is too long");
        return false;
    }
    if (lstat(link, &status) == 0 && !S_ISLNK(status.st_mode)) {
        (void)snprintf(why, why_size, "%s exists and is no symbolic link; choose another name",
                       link);
        return false;
    }
    (void)unlink(link); /* left by a kitchen that was killed, or not there */
    if (symlink(server->device, link) != 0) {
        (void)snprintf(why, why_size,
                       "cannot make %s (%s); does its directory exist and is it ours?", link,
                       strerror(errno));
        return false;
    }
    memcpy(server->link, link, strlen(link) + 1);
    return true;
}

bool
rtu_open(struct rtu_server *server, const struct unit *units, const char *link, char *why,
         size_t why_size)
{
    *server = (struct rtu_server){.units = units, .line_fd = -1, .other_fd = -1};
    for (size_t i = 0; i < SERVE_UNITS; i++)
        server->stations[i].near_fd = server->stations[i].far_fd = -1;
    if (!open_line(server) || !open_stations(server)) {
        (void)snprintf(why, why_size, "no pseudo-terminal (%s); is /dev/pts mounted?",
                       strerror(errno));
        return false;
    }
    return make_link(server, link, why, why_size);
}

static void
close_fd(int *fd)
{
    if (*fd >= 0)
        (void)close(*fd);
    *fd = -1;
}

void
rtu_close(struct rtu_server *server)
{
    char target[sizeof server->device];
    if (server->link[0] != '\0') {
        const ssize_t len = readlink(server->link, target, sizeof target);
        /* Only while it is still ours. */
        if (len == (ssize_t)strlen(server->device) &&
            memcmp(target, server->device, (size_t)len) == 0)
            (void)unlink(server->link);
    }
    for (size_t i = 0; i < SERVE_UNITS; i++) {
        modbus_free(server->stations[i].context); /* accepts NULL */
        close_fd(&server->stations[i].near_fd);
        close_fd(&server->stations[i].far_fd);
    }
    close_fd(&server->other_fd);
    close_fd(&server->line_fd);
}

/* Silent towards what is damaged or meant for another unit, as a device on a line must be. */
static void
answer(struct rtu_server *server, size_t station)
{
    uint8_t request[MODBUS_RTU_MAX_ADU_LENGTH], reply[MODBUS_RTU_MAX_ADU_LENGTH];
    modbus_t *context = server->stations[station].context;
    const int near_fd = server->stations[station].near_fd;
    if (write(near_fd, server->bytes, server->len) != (ssize_t)server->len)
        return;
    const int len = modbus_receive(context, request);
    if (len > 0)
        (void)modbus_reply(context, request, len, server->units[station].map);
    /* What was damaged may have left bytes behind. */
    while (recv(server->stations[station].far_fd, request, sizeof request, MSG_DONTWAIT) > 0)
        continue;
    const ssize_t reply_len = recv(near_fd, reply, sizeof reply, MSG_DONTWAIT);
    if (reply_len > 0)
        (void)!write(server->line_fd, reply,
                     (size_t)reply_len); /* nobody listening: as on a line */
}

static void
deliver(struct rtu_server *server)
{
    for (size_t i = 0; i < SERVE_UNITS; i++)
        if (server->bytes[0] == server->units[i].id)
            answer(server, i);
    server->len = 0;
}

bool
rtu_readable(struct rtu_server *server)
{
    const ssize_t got =
        read(server->line_fd, server->bytes + server->len, sizeof server->bytes - server->len);
    if (got <= 0)
        return false;
    server->len += (size_t)got;
    if (server->len == sizeof server->bytes ||
        (server->len == SHORT_REQUEST_BYTES && server->bytes[1] >= 1 && server->bytes[1] <= 6))
        deliver(server);
    return server->len > 0;
}

void
rtu_pause(struct rtu_server *server)
{
    if (server->len > 0)
        deliver(server);
}
