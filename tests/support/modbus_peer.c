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

/* Bytes to be sent at their time. */
struct piece {
    uint32_t exchange;
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
    enum peer_fault fault;
    int64_t late_ms, most_late_ms, after_ms;
    uint32_t heard, connections;

    /* the thread's own */
    uint32_t answering;
    size_t in_len, last_len;
    uint8_t in[PIECE_MAX], last[PIECE_MAX];
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
                            .due_ms = due_ms,
                            .last_ms = last_ms,
                            .len = len,
                            .then_drop = then_drop};
    memcpy(piece->bytes, bytes, len);
}

/* The reply to a request of unit + PDU; header_len bytes of TCP header precede it. */
static size_t
build_reply(const struct peer *peer, const uint8_t *request, enum peer_fault fault,
            uint32_t heard, uint8_t *ret)
{
    const size_t head = has_header(peer) ? 6 : 0;
    const uint8_t *body = request + head;
    const uint16_t first = (uint16_t)(body[2] << 8 | body[3]);
    const uint16_t count =
        (uint16_t)((body[4] << 8 | body[5]) + (fault == PEER_WRONG_LENGTH ? 1 : 0));
    uint8_t *out = ret + head;
    out[0] = (uint8_t)(body[0] + (fault == PEER_WRONG_UNIT ? 1 : 0));
    out[1] = (uint8_t)(fault == PEER_WRONG_FUNCTION ? 7 - body[1] : body[1]);
    out[2] = (uint8_t)(2 * count);
    for (uint16_t i = 0; i < count; i++) {
        const int32_t value = value_at(heard, (uint16_t)(first + i));
        out[3 + 2 * i] = (uint8_t)(value >> 8);
        out[4 + 2 * i] = (uint8_t)(value & 0xff);
    }
    size_t len = 3U + 2U * count;
    if (fault == PEER_EXCEPTION) {
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

static void
answer(struct peer *peer, const uint8_t *request)
{
    static const uint8_t noise[] = {0x00, 0xff, 0x55};
    (void)pthread_mutex_lock(&peer->lock);
    const enum peer_fault fault = peer->fault;
    const int64_t came_ms = now_ms();
    const int64_t last_ms = came_ms + peer->most_late_ms;
    const int64_t late_ms = peer->late_ms;
    const uint32_t heard = ++peer->heard;
    peer->answering = peer->exchange;
    (void)pthread_cond_broadcast(&peer->heard_more);
    (void)pthread_mutex_unlock(&peer->lock);

    uint8_t reply[PIECE_MAX];
    const size_t len = build_reply(peer, request, fault, heard, reply);
    if (fault == PEER_BIT_FLIPPED)
        reply[3 + heard % (len - 5)] ^= (uint8_t)(1U << heard % 8);
    switch (fault) {
    case PEER_SILENT:
        break;
    case PEER_LATE:
        later(peer, came_ms + late_ms, last_ms, reply, len, false);
        break;
    case PEER_STUCK:
    case PEER_DROPPED:
        later(peer, came_ms, last_ms, reply, len / 2, fault == PEER_DROPPED);
        break;
    case PEER_TRICKLE:
        for (size_t i = 0; i < len; i++)
            later(peer, came_ms + (int64_t)i / 2, last_ms, reply + i, 1, false);
        break;
    case PEER_NOISE_BEFORE:
        later(peer, came_ms, last_ms, noise, sizeof noise, false);
        later(peer, came_ms, last_ms, reply, len, false);
        break;
    case PEER_NOISE_AFTER:
        memcpy(reply + len, noise, sizeof noise);
        later(peer, came_ms, last_ms, reply, len + sizeof noise, false);
        break;
    case PEER_TWICE:
        memcpy(reply + len, reply, len);
        later(peer, came_ms, last_ms, reply, 2 * len, false);
        break;
    case PEER_REPEATED:
        later(peer, came_ms, last_ms, peer->last, peer->last_len, false);
        later(peer, came_ms, last_ms, reply, len, false);
        break;
    case PEER_CLEAN:
    case PEER_BIT_FLIPPED:
    case PEER_WRONG_UNIT:
    case PEER_WRONG_FUNCTION:
    case PEER_WRONG_LENGTH:
    case PEER_EXCEPTION:
    case PEER_FAULTS:
        later(peer, came_ms, last_ms, reply, len, false);
        break;
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
    if (peer->tcp)
        peer->piece_count = 0; /* what was under way is lost with the connection */
}

static int64_t
no_later_ms(struct peer *peer, const struct piece *piece)
{
    (void)pthread_mutex_lock(&peer->lock);
    const int64_t bound_ms = peer->no_later_ms[piece->exchange % EXCHANGES];
    (void)pthread_mutex_unlock(&peer->lock);
    return bound_ms;
}

/* Sends what is due; returns how long until the next piece, -1 when there is none. */
static int
send_due(struct peer *peer)
{
    size_t kept = 0;
    int64_t next_ms = INT64_MAX;
    bool drop = false;
    for (size_t i = 0; i < peer->piece_count; i++) {
        const struct piece *piece = &peer->pieces[i];
        const int64_t at_ms = now_ms();
        if (piece->due_ms > at_ms) {
            next_ms = piece->due_ms < next_ms ? piece->due_ms : next_ms;
            if (kept != i)
                peer->pieces[kept] = *piece;
            kept++;
            continue;
        }
        if (peer->line_fd >= 0 && at_ms <= piece->last_ms && at_ms <= no_later_ms(peer, piece))
            (void)!write(peer->line_fd, piece->bytes,
                         piece->len); /* the other end may be gone */
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
        if (poll(fds, 3, wait_ms) <= 0)
            continue;
        uint64_t woken;
        if ((fds[0].revents & POLLIN) != 0)
            (void)!read(peer->wake_fd, &woken, sizeof woken);
        if ((fds[1].revents & (POLLIN | POLLERR | POLLHUP)) != 0)
            hear(peer);
        if ((fds[2].revents & POLLIN) != 0)
            take_connection(peer);
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
peer_set(struct peer *peer, enum peer_fault fault, int64_t late_ms, int64_t most_late_ms,
         int64_t after_ms)
{
    (void)pthread_mutex_lock(&peer->lock);
    peer->exchange++;
    peer->no_later_ms[peer->exchange % EXCHANGES] = INT64_MAX;
    peer->fault = fault;
    peer->late_ms = late_ms;
    peer->most_late_ms = most_late_ms;
    peer->after_ms = after_ms;
    (void)pthread_mutex_unlock(&peer->lock);
}

void
peer_over(struct peer *peer, uint32_t heard)
{
    struct timespec deadline;
    (void)clock_gettime(CLOCK_REALTIME, &deadline);
    deadline.tv_sec += 10;
    (void)pthread_mutex_lock(&peer->lock);
    peer->no_later_ms[peer->exchange % EXCHANGES] = now_ms() + peer->after_ms;
    while (!peer->tcp && peer->heard < heard &&
           pthread_cond_timedwait(&peer->heard_more, &peer->lock, &deadline) == 0)
        continue;
    (void)pthread_mutex_unlock(&peer->lock);
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
