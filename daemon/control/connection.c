/* One client of the control socket. See connection.h. Never blocks. */
#include "daemon/control/connection.h"

#include <assert.h>
#include <errno.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <unistd.h>

void
connection_open(struct connection *connection, int fd, int64_t uid, int64_t now_ms)
{
    assert(connection->state == CONNECTION_FREE);
    connection->state = CONNECTION_READING;
    connection->fd = fd;
    connection->uid = uid;
    connection->since_ms = now_ms;
    connection->ticket = 0;
    connection->ended = false;
    connection->last_words = false;
    connection->out = NULL;
    connection->out_len = 0;
    connection->out_sent = 0;
    line_clear(&connection->in);
}

void
connection_close(struct connection *connection)
{
    if (connection->state == CONNECTION_FREE)
        return;
    (void)close(connection->fd); /* what the other side has not taken is its own loss */
    free(connection->out);
    connection->out = NULL;
    connection->fd = -1;
    connection->state = CONNECTION_FREE;
}

bool
connection_read(struct connection *connection)
{
    char *at;
    size_t room = line_room(&connection->in, &at);
    if (room == 0)
        return true; /* a line is waiting to be taken first */
    ssize_t got = recv(connection->fd, at, room, 0);
    if (got < 0)
        return errno == EAGAIN || errno == EINTR;
    if (got == 0)
        connection->ended = true;
    else
        line_added(&connection->in, (size_t)got);
    return true;
}

/* Bytes sent, 0 when the other side takes none just now, -1 when it is gone. */
static ssize_t
send_some(const struct connection *connection, const char *text, size_t len)
{
    ssize_t sent = send(connection->fd, text, len, MSG_NOSIGNAL);
    if (sent < 0 && (errno == EAGAIN || errno == EINTR))
        return 0;
    return sent;
}

bool
connection_say(struct connection *connection, const char *text, size_t len, int64_t now_ms)
{
    assert(connection->out == NULL);
    connection->since_ms = now_ms;
    connection->state = CONNECTION_READING;
    ssize_t sent = send_some(connection, text, len);
    if (sent < 0)
        return false;
    if ((size_t)sent == len)
        return !connection->last_words;
    connection->out_len = len - (size_t)sent;
    connection->out_sent = 0;
    connection->out = malloc(connection->out_len);
    if (connection->out == NULL)
        return false;
    memcpy(connection->out, text + sent, connection->out_len);
    connection->state = CONNECTION_WRITING;
    return true;
}

bool
connection_write(struct connection *connection, int64_t now_ms)
{
    assert(connection->state == CONNECTION_WRITING);
    ssize_t sent = send_some(connection, connection->out + connection->out_sent,
                             connection->out_len - connection->out_sent);
    if (sent < 0)
        return false;
    connection->out_sent += (size_t)sent;
    if (connection->out_sent < connection->out_len)
        return true;
    free(connection->out);
    connection->out = NULL;
    connection->state = CONNECTION_READING;
    connection->since_ms = now_ms;
    return !connection->last_words;
}
