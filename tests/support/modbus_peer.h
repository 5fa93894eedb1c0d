/* A hostile Modbus device for tests: raw bytes on a pseudo-terminal or a TCP connection, with a
 * fault chosen for each request.
 *
 * It answers for registers (functions 3 and 4) and for bits (1 and 2).
 *
 * Every exchange has its own truth: the device's registers change with each request it hears,
 * so that a reply to any other request is told by its value. The peer has a thread of its own;
 * all functions may be called from another one. */
#ifndef SUPPORT_MODBUS_PEER_H
#define SUPPORT_MODBUS_PEER_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* Bits: several may hold for one request. Content first, then framing, then delivery, is how
 * they are put together. */
enum peer_fault {
    PEER_CLEAN = 0,
    PEER_TRICKLE = 1 << 0, /* byte by byte, in time */
    PEER_SILENT = 1 << 1,
    PEER_LATE = 1 << 2,        /* the right reply, after late_ms */
    PEER_STUCK = 1 << 3,       /* half the reply, and then nothing */
    PEER_BIT_FLIPPED = 1 << 4, /* one to three bits; on TCP, which has no check sum of its own,
                                  of header, unit and function only */
    PEER_WRONG_UNIT = 1 << 5,  /* well-formed, with its check sum */
    PEER_WRONG_FUNCTION = 1 << 6, /* likewise */
    PEER_WRONG_LENGTH = 1 << 7,   /* likewise: one register more */
    PEER_EXCEPTION = 1 << 8,
    PEER_NOISE_BEFORE = 1 << 9,
    PEER_NOISE_AFTER = 1 << 10,
    PEER_TWICE = 1 << 11,    /* the reply, and at once again */
    PEER_COPIED = 1 << 12,   /* the reply, and late_ms after it again */
    PEER_ABSURD = 1 << 13,   /* well-formed: every register is PEER_ABSURD_VALUE */
    PEER_DROPPED = 1 << 14,  /* TCP only: half the reply, then the connection is closed */
    PEER_REPEATED = 1 << 15, /* Modbus TCP only: the reply to the previous request, then the
                                right one */
    PEER_HELD = 1 << 16, /* Modbus TCP only: the reply comes behind that to the next request */
    /* What no receiver can tell. */
    PEER_REPAIRED =
        1 << 17,          /* a bit of the first register flipped, the check sum made to fit */
    PEER_OTHER = 1 << 18, /* well-formed, with the content of an exchange that never was */
    PEER_TOO_LATE = 1 << 19, /* after late_ms, however late that is */
    PEER_FAULTS = 20,        /* bits */
    /* No fault: every register is PEER_EQUAL_VALUE. */
    PEER_EQUAL = 1 << 20,
};

#define PEER_EQUAL_VALUE 4711
/* No register ever holds it. */
#define PEER_ABSURD_VALUE 30000

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
void peer_set(struct peer *peer, uint32_t faults, int64_t late_ms, int64_t most_late_ms,
              int64_t after_ms);
/* The exchange of the latest peer_set has ended. Then waits until its request was heard, at
 * most 10 s on a serial line, where none is lost; on TCP one may vanish with its connection,
 * and nothing is awaited. */
void peer_over(struct peer *peer, uint32_t heard);
/* The same where it is known when the exchange ended, in ms of CLOCK_MONOTONIC: a caller that
 * was stopped since must not make the device late. */
void peer_over_since(struct peer *peer, uint32_t heard, int64_t ended_ms);
/* Writes noise from now on, until peer_free. */
void peer_babble(struct peer *peer);
/* Unplugs: the line hangs up, or the server and its connection close. */
void peer_unplug(struct peer *peer);

/* True when bytes of the reply to the request that was heard as that number left us after their
 * bounds, or may have: by PEER_TOO_LATE, or because this machine stalled in the act of sending
 * or before the request was heard. Known for the latest 256. */
bool peer_was_late(struct peer *peer, uint32_t heard);
/* What a register held in some exchange. */
int32_t peer_truth_at(uint32_t heard, uint16_t reg);
/* Requests heard so far, and what a register held in the latest exchange. */
uint32_t peer_heard(struct peer *peer);
/* TCP: connections taken so far. */
uint32_t peer_connections(struct peer *peer);
/* The same of a coil or discrete input. */
bool peer_bit(struct peer *peer, uint16_t address);
int32_t peer_truth(struct peer *peer, uint16_t reg);

#endif
