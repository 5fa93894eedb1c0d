/* The Unix-domain socket as the system sees it: path, mode, group, peers. Nothing of the
 * protocol. */
#ifndef CONTROL_SOCKET_H
#define CONTROL_SOCKET_H

#include <stddef.h>
#include <stdint.h>
#include <sys/stat.h>

struct control_socket {
    int fd;         /* listening, non-blocking, close-on-exec */
    char path[108]; /* as bound */
    dev_t device;   /* the file that was made: only that one is removed */
    ino_t inode;
};

/* Binds and listens; mode 0660, of the group when it is not NULL. A socket nobody answers on is
 * replaced, one that answers and any other file is refused. Sets the process's umask for a
 * moment: call it before other threads make files. Returns 0, or -1 with reterr. */
int control_socket_open(struct control_socket *socket, const char *path, const char *group,
                        char *reterr, size_t err_size);
void control_socket_close(struct control_socket *socket);

/* A waiting connection, non-blocking, and the user it comes from (-1 = unknown); -1 with errno
 * when there is none. */
int control_socket_accept(const struct control_socket *socket, int64_t *ret_uid);

#endif
