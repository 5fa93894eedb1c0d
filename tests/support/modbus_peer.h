/* A hostile Modbus device for tests: raw bytes on a pseudo-terminal or a TCP connection, with a
 * fault chosen for each request.
 *
 * Every exchange has its own truth: the device's registers change with each request it hears,
 * so that a reply to any other request is told by its value. The peer has a thread of its own;
 * all functions may be called from another one. */
#ifndef SUPPORT_MODBUS_PEER_H
#define SUPPORT_MODBUS_PEER_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

enum peer_fault {
    PEER_CLEAN,
    PEER_TRICKLE, /* byte by byte, in time */
    PEER_SILENT,
    PEER_LATE,           /* the right reply, after late_ms */
    PEER_STUCK,          /* half the reply, and then nothing */
    PEER_BIT_FLIPPED,    /* RTU only: TCP has no check sum of its own */
    PEER_WRONG_UNIT,     /* well-formed, with its check sum */
    PEER_WRONG_FUNCTION, /* likewise */
    PEER_WRONG_LENGTH,   /* likewise: one register more */
    PEER_EXCEPTION,
    PEER_NOISE_BEFORE,
    PEER_NOISE_AFTER,
    PEER_TWICE,    /* the reply, and at once again */
    PEER_DROPPED,  /* TCP only: half the reply, then the connection is closed */
    PEER_REPEATED, /* TCP only: the reply to the previous request, then the right one */
    PEER_FAULTS,
};

struct peer;

/* The line is at peer_path(), or at 127.0.0.1 and peer_port(). NULL when it cannot be made. */
struct peer *peer_new_rtu(void);
struct peer *peer_new_tcp(void);
struct peer *peer_new_rtu_tcp(void); /* serial frames on a TCP connection */
void peer_free(struct peer *peer);
const char *peer_path(const struct peer *peer);
uint16_t peer_port(const struct peer *peer);

/* For the next request. A reply that could only be sent later than most_late_ms after its
 * request, or than after_ms after its exchange was given up (peer_over), is not sent at all: a
 * machine that stalls must not make the device later than it claims to be. */
void peer_set(struct peer *peer, enum peer_fault fault, int64_t late_ms, int64_t most_late_ms,
              int64_t after_ms);
/* The exchange of the latest peer_set has ended. Then waits until its request was heard, at
 * most 10 s on a serial line, where none is lost; on TCP one may vanish with its connection,
 * and nothing is awaited. */
void peer_over(struct peer *peer, uint32_t heard);
/* Writes noise from now on, until peer_free. */
void peer_babble(struct peer *peer);
/* Unplugs: the line hangs up, or the server and its connection close. */
void peer_unplug(struct peer *peer);

/* Requests heard so far, and what a register held in the latest exchange. */
uint32_t peer_heard(struct peer *peer);
/* TCP: connections taken so far. */
uint32_t peer_connections(struct peer *peer);
int32_t peer_truth(struct peer *peer, uint16_t reg);

#endif
