/* The service manager's datagrams. See notify.h. */
#include "trivet/notify.h"

#include <errno.h>
#include <fcntl.h>
#include <limits.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/time.h>
#include <unistd.h>

/* Pings a watchdog's time: one that comes late or finds a slow disk leaves others in time. */
#define PINGS_A_WATCH 4
#define MESSAGE_MAX   512

/* sd_watchdog_enabled(3): whole microseconds, and the process they are meant for. */
static int64_t
read_watchdog_ms(const char *usec, const char *pid)
{
    char *end;
    if (usec == NULL || usec[0] < '0' || usec[0] > '9')
        return 0;
    if (pid != NULL && strtoll(pid, NULL, 10) != (long long)getpid())
        return 0;
    errno = 0;
    long long value = strtoll(usec, &end, 10);
    return errno == 0 && *end == '\0' ? value / 1000 : 0;
}

/* A path, or '@' and an abstract name, which begins with a zero byte instead. */
static bool
read_address(struct notify *notify, const char *name)
{
    size_t len = strlen(name);
    if ((name[0] != '/' && name[0] != '@') || len < 2 || len > sizeof notify->address.sun_path)
        return false;
    notify->address.sun_family = AF_UNIX;
    memcpy(notify->address.sun_path, name, len);
    if (name[0] == '@')
        notify->address.sun_path[0] = '\0';
    notify->address_size = (socklen_t)(offsetof(struct sockaddr_un, sun_path) + len);
    return true;
}

/* A service manager that does not read may hold us up for a second, not for ever. */
static int
open_socket(void)
{
    struct timeval longest = {.tv_sec = 1};
    int fd = socket(AF_UNIX, SOCK_DGRAM, 0);
    if (fd < 0)
        return -1;
    (void)fcntl(fd, F_SETFD, FD_CLOEXEC);
    (void)setsockopt(fd, SOL_SOCKET, SO_SNDTIMEO, &longest, sizeof longest);
    return fd;
}

bool
notify_open(struct notify *notify, char *reterr, size_t err_size)
{
    *notify = (struct notify){.fd = -1};
    const char *name = getenv("NOTIFY_SOCKET");
    if (name == NULL || name[0] == '\0')
        return true;
    if (!read_address(notify, name))
        (void)snprintf(reterr, err_size,
                       "NOTIFY_SOCKET '%.120s' is neither a path from / nor an abstract name "
                       "with @; the service manager is not told how we are",
                       name);
    else if ((notify->fd = open_socket()) < 0)
        (void)snprintf(reterr, err_size,
                       "the system gives no socket to reach the service manager: %s; it is "
                       "not told how we are",
                       strerror(errno));
    else
        notify->watchdog_ms = read_watchdog_ms(getenv("WATCHDOG_USEC"), getenv("WATCHDOG_PID"));
    (void)unsetenv("NOTIFY_SOCKET");
    (void)unsetenv("WATCHDOG_USEC");
    (void)unsetenv("WATCHDOG_PID");
    return notify->fd >= 0;
}

void
notify_close(struct notify *notify)
{
    if (notify->fd >= 0)
        (void)close(notify->fd);
    notify->fd = -1;
}

bool
notify_say(const struct notify *notify, const char *state, const char *status)
{
    char text[MESSAGE_MAX];
    if (notify->fd < 0)
        return false;
    int len = status == NULL ? snprintf(text, sizeof text, "%s", state)
                             : snprintf(text, sizeof text, "%s\nSTATUS=%s", state, status);
    if (len < 0)
        return false;
    size_t size = (size_t)len < sizeof text ? (size_t)len : sizeof text - 1;
    /* Fields are lines: a sentence with a line break in it could say anything. */
    for (size_t i = strlen(state) + 1; i < size; i++)
        if ((unsigned char)text[i] < 0x20)
            text[i] = ' ';
    return sendto(notify->fd, text, size, MSG_NOSIGNAL,
                  (const struct sockaddr *)&notify->address,
                  notify->address_size) == (ssize_t)size;
}

int
notify_pause_ms(const struct notify *notify)
{
    if (notify->fd < 0 || notify->watchdog_ms <= 0)
        return -1;
    int64_t pause_ms = notify->watchdog_ms / PINGS_A_WATCH;
    return pause_ms > INT_MAX ? INT_MAX : pause_ms < 1 ? 1 : (int)pause_ms;
}

bool
notify_alive(struct notify *notify, uint64_t beat)
{
    if (beat == notify->last_beat)
        return false;
    notify->last_beat = beat;
    if (notify->watchdog_ms > 0)
        (void)notify_say(notify, "WATCHDOG=1", NULL); /* the next one is soon */
    return true;
}
