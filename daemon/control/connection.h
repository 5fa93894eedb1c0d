/* One client of the control socket: its bytes in and out and what it waits for. The control
 * thread's. */
#ifndef CONTROL_CONNECTION_H
#define CONTROL_CONNECTION_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "daemon/control/line.h"

enum connection_state {
    CONNECTION_FREE,
    CONNECTION_READING, /* for a line */
    CONNECTION_WAITING, /* for the recorder's answer to its entry; reads nothing meanwhile */
    CONNECTION_WRITING, /* an answer the other side has not taken yet; reads nothing meanwhile
                         */
};

struct connection {
    enum connection_state state;
    int fd;
    int64_t uid;
    int64_t since_ms; /* monotonic: when it entered its state */
    uint64_t ticket;  /* of its entry while WAITING */
    bool ended;       /* the other side has said all it will say */
    bool last_words;  /* to be closed as soon as the answer is out */
    char *out;        /* WRITING: owned */
    size_t out_len, out_sent;
    struct line_buffer in;
};

void connection_open(struct connection *connection, int fd, int64_t uid, int64_t now_ms);
void connection_close(struct connection *connection);

/* Reads what is there. False when the connection is broken. */
bool connection_read(struct connection *connection);

/* Sends text, keeps a copy of what does not go out at once. False when it is broken (or closed
 * after its last words). */
bool connection_say(struct connection *connection, const char *text, size_t len,
                    int64_t now_ms);
/* Goes on sending. False likewise. */
bool connection_write(struct connection *connection, int64_t now_ms);

#endif
