/* The control socket's file and peers. See socket.h. The control thread's, except for open and
 * close. */
/* accept4, struct ucred: there is no portable way to learn who is at the other end. */
#define _GNU_SOURCE
#include "daemon/control/socket.h"

#include <errno.h>
#include <grp.h>
#include <stdbool.h>
#include <stdio.h>
#include <string.h>
#include <sys/socket.h>
#include <sys/un.h>
#include <unistd.h>

#define BACKLOG 64

static bool
make_address(struct sockaddr_un *ret, const char *path, char *reterr, size_t err_size)
{
    memset(ret, 0, sizeof *ret);
    ret->sun_family = AF_UNIX;
    size_t len = strlen(path);
    if (len == 0 || len >= sizeof ret->sun_path) {
        snprintf(
            reterr, err_size,
            "control socket '%.200s': the path has %zu bytes, a socket's may have 1 to %zu; "
            "name a shorter one in the plan (records: socket)",
            path, len, sizeof ret->sun_path - 1);
        return false;
    }
    memcpy(ret->sun_path, path, len + 1);
    return true;
}

/* 1 when somebody answers, 0 when nobody does, -1 when that cannot be told (errno). */
static int
somebody_answers(const struct sockaddr_un *address)
{
    int fd = socket(AF_UNIX, SOCK_STREAM | SOCK_NONBLOCK | SOCK_CLOEXEC, 0);
    if (fd < 0)
        return -1;
    int outcome = connect(fd, (const struct sockaddr *)address, sizeof *address);
    int why = errno;
    (void)close(fd); /* nothing was written */
    if (outcome == 0 ||
        why == EAGAIN) /* EAGAIN: alive, its list of waiting connections is full */
        return 1;
    if (why == ECONNREFUSED || why == ENOENT)
        return 0;
    errno = why;
    return -1;
}

/* Two daemons that start at the same instant could both find the old socket stale; the lock of
 * the store keeps the second one from coming this far. */
static bool
clear_the_way(const struct sockaddr_un *address, char *reterr, size_t err_size)
{
    const char *path = address->sun_path;
    struct stat found;
    if (lstat(path, &found) != 0) {
        if (errno == ENOENT)
            return true;
        snprintf(reterr, err_size, "control socket '%s': %s; check its directory", path,
                 strerror(errno));
        return false;
    }
    if (!S_ISSOCK(found.st_mode)) {
        snprintf(
            reterr, err_size,
            "control socket '%s': a file that is not a socket is in the way; move it or name "
            "another path in the plan (records: socket)",
            path);
        return false;
    }
    int answers = somebody_answers(address);
    if (answers > 0) {
        snprintf(reterr, err_size,
                 "control socket '%s': another trivetd answers there; stop it first, or name "
                 "another path in the plan (records: socket)",
                 path);
        return false;
    }
    if (answers < 0 || unlink(path) != 0) {
        snprintf(reterr, err_size,
                 "control socket '%s': an old socket is in the way and cannot be replaced: %s; "
                 "remove it when no trivetd runs",
                 path, strerror(errno));
        return false;
    }
    return true;
}

static bool
give_to_group(const char *path, const char *group, char *reterr, size_t err_size)
{
    struct group entry, *found = NULL;
    char names[16384];
    if (getgrnam_r(group, &entry, names, sizeof names, &found) != 0 || found == NULL) {
        snprintf(reterr, err_size,
                 "control socket '%s': there is no group '%s' on this machine; make it with "
                 "`groupadd --system %s`",
                 path, group, group);
        return false;
    }
    if (lchown(path, (uid_t)-1, found->gr_gid) != 0) {
        snprintf(
            reterr, err_size,
            "control socket '%s': cannot be given to the group '%s': %s; the daemon's user "
            "has to be a member of it",
            path, group, strerror(errno));
        return false;
    }
    return true;
}

/* From bind to chmod only the daemon's own user can connect: the umask sees to it. */
static bool
bind_tight(struct control_socket *ctl, const struct sockaddr_un *address, const char *group,
           char *reterr, size_t err_size)
{
    mode_t before = umask(0177);
    int bound = bind(ctl->fd, (const struct sockaddr *)address, sizeof *address);
    int why = errno;
    (void)umask(before); /* cannot fail */
    if (bound != 0) {
        snprintf(reterr, err_size,
                 "control socket '%s': cannot be made: %s; check that its directory exists and "
                 "that the daemon's user may write there",
                 address->sun_path, strerror(why));
        return false;
    }
    memcpy(ctl->path, address->sun_path, sizeof ctl->path);
    struct stat made;
    if (lstat(ctl->path, &made) == 0) {
        ctl->device = made.st_dev;
        ctl->inode = made.st_ino;
    }
    if (group != NULL && !give_to_group(ctl->path, group, reterr, err_size))
        return false;
    if (chmod(ctl->path, 0660) != 0 || listen(ctl->fd, BACKLOG) != 0) {
        snprintf(reterr, err_size, "control socket '%s': cannot be opened to its group: %s",
                 ctl->path, strerror(errno));
        return false;
    }
    return true;
}

int
control_socket_open(struct control_socket *ctl, const char *path, const char *group,
                    char *reterr, size_t err_size)
{
    memset(ctl, 0, sizeof *ctl);
    ctl->fd = -1;
    struct sockaddr_un address;
    if (!make_address(&address, path, reterr, err_size) ||
        !clear_the_way(&address, reterr, err_size))
        return -1;
    ctl->fd = socket(AF_UNIX, SOCK_STREAM | SOCK_NONBLOCK | SOCK_CLOEXEC, 0);
    if (ctl->fd < 0) {
        snprintf(reterr, err_size, "control socket '%s': the system gives no socket: %s", path,
                 strerror(errno));
        return -1;
    }
    if (bind_tight(ctl, &address, group, reterr, err_size))
        return 0;
    control_socket_close(ctl);
    return -1;
}

void
control_socket_close(struct control_socket *ctl)
{
    if (ctl->fd >= 0)
        (void)close(ctl->fd); /* a listening socket has nothing left to lose */
    ctl->fd = -1;
    struct stat found;
    if (ctl->path[0] != '\0' && lstat(ctl->path, &found) == 0 && found.st_dev == ctl->device &&
        found.st_ino == ctl->inode)
        (void)unlink(ctl->path); /* a socket left behind is replaced at the next start */
    ctl->path[0] = '\0';
}

int
control_socket_accept(const struct control_socket *ctl, int64_t *ret_uid)
{
    int fd = accept4(ctl->fd, NULL, NULL, SOCK_NONBLOCK | SOCK_CLOEXEC);
    if (fd < 0)
        return -1;
    struct ucred peer;
    socklen_t size = sizeof peer;
    if (getsockopt(fd, SOL_SOCKET, SO_PEERCRED, &peer, &size) == 0 && size == sizeof peer)
        *ret_uid = (int64_t)peer.uid;
    else
        *ret_uid = -1;
    return fd;
}
