/* See modbus_peer.h. It shares no code with the driver: frames and check sum are built here
 * once more. */
#define _GNU_SOURCE /* posix_openpt, ptsname_r, cfmakeraw */

#include "tests/support/modbus_peer.h"

#include <arpa/inet.h>
#include <fcntl.h>
#include <netinet/in.h>
#include <netinet/tcp.h>
#include <poll.h>
#include <pthread.h>
#include <stdlib.h>
#include <string.h>
#include <sys/eventfd.h>
#include <sys/socket.h>
#include <termios.h>
#include <time.h>
#include <unistd.h>

#define PIECES_MAX 128
#define PIECE_MAX  300

/* Exchanges whose replies may still be under way. */
#define EXCHANGES 64
#define LATE_KEPT 256
/* This thread looks around this often at least; when it got to run so much later, a request it
 * then hears may be an old one, which was given up and whose exchange is over. */
#define LOOK_MS  10
#define STALL_MS 20

/* Bytes to be sent at their time. */
struct piece {
    uint32_t exchange, heard;
    bool is_unbound; /* may go out later than its bounds */
    bool has_more;   /* of its frame, in the pieces behind it */
    uint32_t frame;
    int64_t due_ms, last_ms; /* not after last_ms */
    size_t len;
    bool then_drop;
    uint8_t bytes[PIECE_MAX];
};

struct peer {
    bool tcp;  /* the line is a connection */
    bool bare; /* with serial frames on it */
    char path[64];
    uint16_t port;
    int line_fd;  /* pty master, or the connection; -1 */
    int extra_fd; /* pty slave, kept open so that the line outlives its user; or the listening
                     socket */
    int wake_fd;
    pthread_t thread;

    pthread_cond_t heard_more;
    pthread_mutex_t lock; /* guards what follows */
    uint32_t exchange;    /* counts peer_set */
    int64_t no_later_ms[EXCHANGES];
    bool end, unplug, babble;
    uint32_t faults;
    uint32_t was_late[LATE_KEPT]; /* the number of the request, by its remainder */
    int64_t late_ms, most_late_ms, after_ms;
    uint32_t heard, connections;

    /* the thread's own */
    uint32_t answering, answering_heard, answering_faults;
    int64_t looked_ms; /* when it last looked around, before this time */
    uint32_t frames;   /* so far */
    uint32_t sending;  /* Modbus TCP: the frame under way, which no other may cut; 0 */
    size_t in_len, last_len, held_len;
    uint8_t in[PIECE_MAX], last[PIECE_MAX], held[PIECE_MAX];
    size_t piece_count;
    struct piece pieces[PIECES_MAX];
};

/* Whether frames are those of Modbus TCP. */
static bool
has_header(const struct peer *peer)
{
    return peer->tcp && !peer->bare;
}

static int64_t
now_ms(void)
{
    struct timespec now;
    (void)clock_gettime(CLOCK_MONOTONIC, &now);
    return (int64_t)now.tv_sec * 1000 + now.tv_nsec / 1000000;
}

/* 31 has an inverse modulo 2^14: 16384 exchanges in a row have different values. */
static int32_t
value_at(uint32_t heard, uint16_t reg)
{
    return (int32_t)((heard * 31U + reg * 7U) & 0x3fffU);
}

/* CRC-16/MODBUS, by the textbook. */
static size_t
with_crc(uint8_t *frame, size_t len)
{
    unsigned crc = 0xffff;
    for (size_t i = 0; i < len; i++) {
        crc ^= frame[i];
        for (int bit = 0; bit < 8; bit++)
            crc = (crc & 1U) != 0 ? crc >> 1 ^ 0xa001U : crc >> 1;
    }
    frame[len] = (uint8_t)(crc & 0xff);
    frame[len + 1] = (uint8_t)(crc >> 8);
    return len + 2;
}

static void
later(struct peer *peer, int64_t due_ms, int64_t last_ms, const uint8_t *bytes, size_t len,
      bool then_drop)
{
    if (peer->piece_count == PIECES_MAX)
        return;
    struct piece *piece = &peer->pieces[peer->piece_count++];
    *piece = (struct piece){.exchange = peer->answering,
                            .heard = peer->answering_heard,
                            .frame = peer->frames,
                            .is_unbound = (peer->answering_faults & PEER_TOO_LATE) != 0,
                            .due_ms = due_ms,
                            .last_ms = last_ms,
                            .len = len,
                            .then_drop = then_drop};
    memcpy(piece->bytes, bytes, len);
}

static bool
has(uint32_t faults, enum peer_fault fault)
{
    return (faults & (uint32_t)fault) != 0;
}

/* The registers of a reply, as the faults have them. */
static void
put_registers(uint32_t faults, uint32_t heard, uint16_t first, uint16_t count, uint8_t *ret)
{
    for (uint16_t i = 0; i < count; i++) {
        int32_t value =
            value_at(has(faults, PEER_OTHER) ? heard + 8192U : heard, (uint16_t)(first + i));
        if (has(faults, PEER_ABSURD))
            value = PEER_ABSURD_VALUE;
        if (has(faults, PEER_EQUAL))
            value = PEER_EQUAL_VALUE;
        if (has(faults, PEER_REPAIRED) && i == 0)
            value ^= 1 << heard % 13;
        ret[2 * i] = (uint8_t)(value >> 8);
        ret[2 * i + 1] = (uint8_t)(value & 0xff);
    }
}

static bool
bit_at(uint32_t heard, uint16_t address)
{
    return (value_at(heard, address) >> 5 & 1) != 0;
}

/* Coils or inputs; returns how many bytes. */
static uint8_t
put_bits(uint32_t faults, uint32_t heard, uint16_t first, uint16_t count, uint8_t *ret)
{
    const uint8_t bytes = (uint8_t)((count + 7) / 8);
    memset(ret, 0, bytes);
    for (uint16_t i = 0; i < count; i++) {
        const bool is_set =
            has(faults, PEER_EQUAL) ||
            bit_at(has(faults, PEER_OTHER) ? heard + 8192U : heard, (uint16_t)(first + i));
        ret[i / 8] = (uint8_t)(ret[i / 8] | is_set << i % 8);
    }
    return bytes;
}

/* The reply to a request of unit + PDU; 6 bytes of TCP header precede it where there is one. */
static size_t
build_reply(const struct peer *peer, const uint8_t *request, uint32_t faults, uint32_t heard,
            uint8_t *ret)
{
    const size_t head = has_header(peer) ? 6 : 0;
    const uint8_t *body = request + head;
    const uint16_t first = (uint16_t)(body[2] << 8 | body[3]);
    const bool of_bits = body[1] <= 2;
    const uint16_t more = has(faults, PEER_WRONG_LENGTH) ? (of_bits ? 8 : 1) : 0;
    const uint16_t count = (uint16_t)((body[4] << 8 | body[5]) + more);
    uint8_t *out = ret + head;
    out[0] = (uint8_t)(body[0] + (has(faults, PEER_WRONG_UNIT) ? 1 : 0));
    out[1] =
        (uint8_t)(has(faults, PEER_WRONG_FUNCTION) ? (of_bits ? 3 : 7) - body[1] : body[1]);
    out[2] = (uint8_t)(2 * count);
    if (of_bits)
        out[2] = put_bits(faults, heard, first, count, out + 3);
    else
        put_registers(faults, heard, first, count, out + 3);
    size_t len = 3U + out[2];
    if (has(faults, PEER_EXCEPTION)) {
        out[1] |= 0x80;
        out[2] = 4;
        len = 3;
    }
    if (!has_header(peer))
        return with_crc(out, len);
    memcpy(ret, request, 4);
    ret[4] = (uint8_t)(len >> 8);
    ret[5] = (uint8_t)(len & 0xff);
    return head + len;
}

/* One to three different bits from byte `from` on. A changed transaction number would be that
 * of another request: TCP's own check sum is there to catch it. */
static void
flip_bits(uint32_t heard, size_t from, size_t bytes, uint8_t *frame)
{
    for (uint32_t i = 0; i <= heard % 3; i++) {
        const size_t bit = from * 8 + (heard * 7U + i * 11U) % (bytes * 8);
        frame[bit / 8] ^= (uint8_t)(1U << bit % 8);
    }
}

/* The whole of what goes out for one reply, noise and second copy with it. */
static size_t
frame_reply(uint32_t faults, const uint8_t *reply, size_t len, uint8_t *ret)
{
    static const uint8_t noise[] = {0x00, 0xff, 0x55};
    size_t total = 0;
    if (has(faults, PEER_NOISE_BEFORE)) {
        memcpy(ret, noise, sizeof noise);
        total = sizeof noise;
    }
    const bool cut = has(faults, PEER_STUCK) || has(faults, PEER_DROPPED);
    memcpy(ret + total, reply, cut ? len / 2 : len);
    total += cut ? len / 2 : len;
    if (!cut && has(faults, PEER_TWICE)) {
        memcpy(ret + total, reply, len);
        total += len;
    }
    if (!cut && has(faults, PEER_NOISE_AFTER)) {
        memcpy(ret + total, noise, sizeof noise);
        total += sizeof noise;
    }
    return total;
}

static void
answer(struct peer *peer, const uint8_t *request)
{
    (void)pthread_mutex_lock(&peer->lock);
    const uint32_t faults = peer->faults;
    const int64_t came_ms = now_ms();
    const bool unbound = has(faults, PEER_TOO_LATE);
    const int64_t last_ms = unbound ? INT64_MAX : came_ms + peer->most_late_ms;
    const int64_t late_ms = peer->late_ms;
    const uint32_t heard = ++peer->heard;
    peer->answering = peer->exchange;
    peer->answering_heard = heard;
    peer->answering_faults = faults;
    /* The reply cannot be bounded by when it was asked for. */
    if (came_ms - peer->looked_ms > STALL_MS)
        peer->was_late[heard % LATE_KEPT] = heard;
    (void)pthread_cond_broadcast(&peer->heard_more);
    (void)pthread_mutex_unlock(&peer->lock);

    uint8_t reply[PIECE_MAX], framed[2 * PIECE_MAX];
    const size_t len = build_reply(peer, request, faults, heard, reply);
    if (has(faults, PEER_BIT_FLIPPED))
        flip_bits(heard, has_header(peer) ? 2 : 0, has_header(peer) ? 6 : len, reply);
    const size_t framed_len = frame_reply(faults, reply, len, framed);
    const int64_t at_ms = has(faults, PEER_LATE) || unbound ? came_ms + late_ms : came_ms;
    const bool drop = has(faults, PEER_DROPPED);
    if (has(faults, PEER_HELD)) {
        memcpy(peer->held, reply, len);
        peer->held_len = len;
    } else if (!has(faults, PEER_SILENT)) {
        if (has(faults, PEER_REPEATED))
            later(peer, at_ms, last_ms, peer->last, peer->last_len, false);
        peer->frames++;
        if (has(faults, PEER_TRICKLE))
            for (size_t i = 0; i < framed_len; i++) {
                later(peer, at_ms + (int64_t)i / 2, last_ms, framed + i, 1,
                      drop && i + 1 == framed_len);
                peer->pieces[peer->piece_count - 1].has_more = i + 1 < framed_len;
            }
        else
            later(peer, at_ms, last_ms, framed, framed_len, drop);
        peer->frames++;
        if (has(faults, PEER_COPIED) && !drop)
            later(peer, at_ms + late_ms, last_ms, reply, len, false);
        if (peer->held_len > 0)
            later(peer, at_ms, last_ms, peer->held, peer->held_len, false);
        peer->frames++;
        peer->held_len = 0;
    }
    memcpy(peer->last, reply, len);
    peer->last_len = len;
}

static void
drop_line(struct peer *peer)
{
    if (peer->line_fd >= 0)
        (void)close(peer->line_fd);
    peer->line_fd = -1;
    peer->in_len = 0;
    if (peer->tcp) { /* what was under way is lost with the connection */
        peer->piece_count = peer->held_len = 0;
        peer->sending = 0;
    }
}

static int64_t
no_later_ms(struct peer *peer, const struct piece *piece)
{
    (void)pthread_mutex_lock(&peer->lock);
    const int64_t bound_ms = peer->no_later_ms[piece->exchange % EXCHANGES];
    (void)pthread_mutex_unlock(&peer->lock);
    return bound_ms;
}

/* After sending: this thread may have been stopped between looking at the time and sending. */
static void
note_lateness(struct peer *peer, const struct piece *piece)
{
    const int64_t at_ms = now_ms();
    (void)pthread_mutex_lock(&peer->lock);
    if (piece->is_unbound || at_ms > piece->last_ms ||
        at_ms > peer->no_later_ms[piece->exchange % EXCHANGES])
        peer->was_late[piece->heard % LATE_KEPT] = piece->heard;
    (void)pthread_mutex_unlock(&peer->lock);
}

/* Sends what is due; returns how long until the next piece, -1 when there is none. */
static int
send_due(struct peer *peer)
{
    size_t kept = 0;
    int64_t next_ms = INT64_MAX;
    const int64_t due_ms = now_ms(); /* for all, or a piece could overtake the one before it */
    bool drop = false;
    for (size_t i = 0; i < peer->piece_count; i++) {
        const struct piece *piece = &peer->pieces[i];
        const int64_t at_ms = now_ms();
        const bool is_cutting =
            has_header(peer) && peer->sending != 0 && peer->sending != piece->frame;
        if (piece->due_ms > due_ms || is_cutting) {
            next_ms = piece->due_ms < next_ms ? piece->due_ms : next_ms;
            if (kept != i)
                peer->pieces[kept] = *piece;
            kept++;
            continue;
        }
        if (peer->line_fd >= 0 && (piece->is_unbound || (at_ms <= piece->last_ms &&
                                                         at_ms <= no_later_ms(peer, piece)))) {
            (void)!write(peer->line_fd, piece->bytes,
                         piece->len); /* the other end may be gone */
            note_lateness(peer, piece);
        }
        peer->sending = piece->has_more ? piece->frame : 0;
        drop = drop || piece->then_drop;
    }
    peer->piece_count = kept;
    if (drop)
        drop_line(peer);
    if (peer->piece_count == 0)
        return -1;
    const int64_t left_ms = next_ms - now_ms();
    return left_ms < 0 ? 0 : (int)left_ms;
}

static void
hear(struct peer *peer)
{
    const size_t whole = has_header(peer) ? 12 : 8;
    const ssize_t got =
        read(peer->line_fd, peer->in + peer->in_len, sizeof peer->in - peer->in_len);
    if (got <= 0) {
        if (peer->tcp)
            drop_line(peer);
        return;
    }
    peer->in_len += (size_t)got;
    while (peer->in_len >= whole) {
        answer(peer, peer->in);
        peer->in_len -= whole;
        memmove(peer->in, peer->in + whole, peer->in_len);
    }
}

static void
take_connection(struct peer *peer)
{
    static const int at_once =
        1; /* or single bytes would wait for each other's acknowledgement */
    peer->line_fd = accept4(peer->extra_fd, NULL, NULL, SOCK_CLOEXEC);
    (void)setsockopt(peer->line_fd, IPPROTO_TCP, TCP_NODELAY, &at_once, sizeof at_once);
    (void)pthread_mutex_lock(&peer->lock);
    peer->connections++;
    (void)pthread_mutex_unlock(&peer->lock);
}

static void *
run(void *arg)
{
    struct peer *peer = arg;
    for (;;) {
        (void)pthread_mutex_lock(&peer->lock);
        const bool end = peer->end, unplug = peer->unplug, babble = peer->babble;
        (void)pthread_mutex_unlock(&peer->lock);
        if (end)
            return NULL;
        if (unplug) {
            drop_line(peer);
            if (peer->extra_fd >= 0)
                (void)close(peer->extra_fd);
            peer->extra_fd = -1;
        }
        int wait_ms = send_due(peer);
        if (babble) {
            (void)!write(peer->line_fd, "\x55", 1); /* full: enough noise already */
            wait_ms = 3;
        }
        struct pollfd fds[] = {
            {.fd = peer->wake_fd, .events = POLLIN},
            {.fd = peer->line_fd, .events = POLLIN},
            {.fd = peer->tcp && peer->line_fd < 0 ? peer->extra_fd : -1, .events = POLLIN},
        };
        const int ready = poll(fds, 3, wait_ms < 0 || wait_ms > LOOK_MS ? LOOK_MS : wait_ms);
        const int64_t at_ms = now_ms();
        if (ready <= 0) {
            peer->looked_ms = at_ms;
            continue;
        }
        uint64_t woken;
        if ((fds[0].revents & POLLIN) != 0)
            (void)!read(peer->wake_fd, &woken, sizeof woken);
        if ((fds[1].revents & (POLLIN | POLLERR | POLLHUP)) != 0)
            hear(peer);
        if ((fds[2].revents & POLLIN) != 0)
            take_connection(peer);
        peer->looked_ms = at_ms;
    }
}

static bool
open_pty(struct peer *peer)
{
    struct termios raw;
    peer->line_fd = posix_openpt(O_RDWR | O_NOCTTY | O_CLOEXEC | O_NONBLOCK);
    if (peer->line_fd < 0 || grantpt(peer->line_fd) != 0 || unlockpt(peer->line_fd) != 0 ||
        ptsname_r(peer->line_fd, peer->path, sizeof peer->path) != 0)
        return false;
    peer->extra_fd = open(peer->path, O_RDWR | O_NOCTTY | O_CLOEXEC);
    if (peer->extra_fd < 0 || tcgetattr(peer->extra_fd, &raw) != 0)
        return false;
    cfmakeraw(&raw);
    return tcsetattr(peer->extra_fd, TCSANOW, &raw) == 0;
}

static bool
open_listener(struct peer *peer)
{
    struct sockaddr_in address = {.sin_family = AF_INET,
                                  .sin_addr.s_addr = htonl(INADDR_LOOPBACK)};
    socklen_t len = sizeof address;
    peer->extra_fd = socket(AF_INET, SOCK_STREAM | SOCK_CLOEXEC, 0);
    if (peer->extra_fd < 0 ||
        bind(peer->extra_fd, (const struct sockaddr *)&address, sizeof address) != 0 ||
        listen(peer->extra_fd, 8) != 0 ||
        getsockname(peer->extra_fd, (struct sockaddr *)&address, &len) != 0)
        return false;
    peer->port = ntohs(address.sin_port);
    return true;
}

static struct peer *
peer_new(bool tcp, bool bare)
{
    struct peer *peer = calloc(1, sizeof *peer);
    if (peer == NULL)
        return NULL;
    peer->tcp = tcp;
    peer->bare = bare;
    peer->line_fd = peer->extra_fd = -1;
    peer->most_late_ms = INT32_MAX;
    peer->looked_ms = now_ms();
    for (size_t i = 0; i < EXCHANGES; i++)
        peer->no_later_ms[i] = INT64_MAX;
    (void)pthread_cond_init(&peer->heard_more, NULL);
    (void)pthread_mutex_init(&peer->lock, NULL);
    peer->wake_fd = eventfd(0, EFD_CLOEXEC);
    if (peer->wake_fd >= 0 && (tcp ? open_listener : open_pty)(peer) &&
        pthread_create(&peer->thread, NULL, run, peer) == 0)
        return peer;
    free(peer);
    return NULL;
}

struct peer *
peer_new_rtu(void)
{
    return peer_new(false, false);
}

struct peer *
peer_new_tcp(void)
{
    return peer_new(true, false);
}

struct peer *
peer_new_rtu_tcp(void)
{
    return peer_new(true, true);
}

static void
wake(struct peer *peer)
{
    static const uint64_t one = 1;
    (void)!write(peer->wake_fd, &one, sizeof one);
}

void
peer_free(struct peer *peer)
{
    if (peer == NULL)
        return;
    (void)pthread_mutex_lock(&peer->lock);
    peer->end = true;
    (void)pthread_mutex_unlock(&peer->lock);
    wake(peer);
    (void)pthread_join(peer->thread, NULL);
    if (peer->line_fd >= 0)
        (void)close(peer->line_fd);
    if (peer->extra_fd >= 0)
        (void)close(peer->extra_fd);
    (void)close(peer->wake_fd);
    (void)pthread_cond_destroy(&peer->heard_more);
    (void)pthread_mutex_destroy(&peer->lock);
    free(peer);
}

const char *
peer_path(const struct peer *peer)
{
    return peer->path;
}

uint16_t
peer_port(const struct peer *peer)
{
    return peer->port;
}

void
peer_set(struct peer *peer, uint32_t faults, int64_t late_ms, int64_t most_late_ms,
         int64_t after_ms)
{
    (void)pthread_mutex_lock(&peer->lock);
    peer->exchange++;
    peer->no_later_ms[peer->exchange % EXCHANGES] = INT64_MAX;
    peer->faults = faults;
    peer->late_ms = late_ms;
    peer->most_late_ms = most_late_ms;
    peer->after_ms = after_ms;
    (void)pthread_mutex_unlock(&peer->lock);
}

void
peer_over_since(struct peer *peer, uint32_t heard, int64_t ended_ms)
{
    struct timespec deadline;
    (void)clock_gettime(CLOCK_REALTIME, &deadline);
    deadline.tv_sec += 10;
    (void)pthread_mutex_lock(&peer->lock);
    peer->no_later_ms[peer->exchange % EXCHANGES] = ended_ms + peer->after_ms;
    while (!peer->tcp && peer->heard < heard &&
           pthread_cond_timedwait(&peer->heard_more, &peer->lock, &deadline) == 0)
        continue;
    (void)pthread_mutex_unlock(&peer->lock);
}

void
peer_over(struct peer *peer, uint32_t heard)
{
    peer_over_since(peer, heard, now_ms());
}

void
peer_babble(struct peer *peer)
{
    (void)pthread_mutex_lock(&peer->lock);
    peer->babble = true;
    (void)pthread_mutex_unlock(&peer->lock);
    wake(peer);
}

void
peer_unplug(struct peer *peer)
{
    (void)pthread_mutex_lock(&peer->lock);
    peer->unplug = true;
    (void)pthread_mutex_unlock(&peer->lock);
    wake(peer);
}

uint32_t
peer_connections(struct peer *peer)
{
    (void)pthread_mutex_lock(&peer->lock);
    const uint32_t connections = peer->connections;
    (void)pthread_mutex_unlock(&peer->lock);
    return connections;
}

uint32_t
peer_heard(struct peer *peer)
{
    (void)pthread_mutex_lock(&peer->lock);
    const uint32_t heard = peer->heard;
    (void)pthread_mutex_unlock(&peer->lock);
    return heard;
}

int32_t
peer_truth(struct peer *peer, uint16_t reg)
{
    return value_at(peer_heard(peer), reg);
}

bool
peer_bit(struct peer *peer, uint16_t address)
{
    return bit_at(peer_heard(peer), address);
}

int32_t
peer_truth_at(uint32_t heard, uint16_t reg)
{
    return value_at(heard, reg);
}

bool
peer_was_late(struct peer *peer, uint32_t heard)
{
    (void)pthread_mutex_lock(&peer->lock);
    const bool late = heard != 0 && peer->was_late[heard % LATE_KEPT] == heard;
    (void)pthread_mutex_unlock(&peer->lock);
    return late;
}
