/* The control socket's thread: it accepts operators, takes their lines one by one, answers
 * questions from the board and hands entries to the recorder.
 *
 * Owns the socket, its connections and the text being written. It never blocks but in poll,
 * never touches the engine or the store, and nothing another side does (slow, silent, gone,
 * hostile) can hold up anybody else. */
#include "trivet/control.h"

#include <errno.h>
#include <poll.h>
#include <pthread.h>
#include <signal.h>
#include <stdatomic.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <unistd.h>

#include <sodium.h>

#include "daemon/control/answer.h"
#include "daemon/control/connection.h"
#include "daemon/control/handback.h"
#include "daemon/control/identity.h"
#include "daemon/control/request.h"
#include "daemon/control/serve.h"
#include "daemon/control/socket.h"
#include "trivet/clock.h"
#include "trivet/log.h"

#define AREA "control"

/* Longest answer: the largest plan that loads, told in full by "lists", stays below half of it.
 */
#define ANSWER_MAX ((size_t)8 << 20)
/* New connections taken in one round, so that a flood of them cannot starve those already here.
 */
#define ACCEPTS_PER_ROUND 32
/* How long no connection is accepted after the system had no descriptor left. */
#define PAUSE_MS 500

const struct control_bounds control_usual_bounds = {
    .connections = CONTROL_CONNECTIONS_MAX,
    .idle_ms = 60000,
    .answer_ms = 10000,
    .write_ms = 30000,
};

struct control {
    struct control_options options;
    struct control_bounds bounds;
    struct queue *queue;
    struct board *board;
    struct clock clock;
    struct control_socket socket;
    struct handback *handback;
    pthread_t thread;
    atomic_bool stopping;
    uint64_t last_ticket;
    int64_t paused_until_ms;
    bool told_busy;
    struct identity identity;
    char *text; /* ANSWER_MAX bytes; pages never written to cost nothing */
    struct connection connections[CONTROL_CONNECTIONS_MAX];
};

/* ---- answering one line ---- */

static bool
say_words(struct control *control, struct connection *to, int code, const char *say,
          int64_t now_ms)
{
    size_t len = control_answer_words(control->text, ANSWER_MAX, code, say);
    return connection_say(to, control->text, len, now_ms);
}

/* To the recorder, or to whoever reads the plan again. */
static bool
post(struct control *control, enum request_kind kind, struct entry_request *given,
     int64_t now_ms)
{
    struct message message = {.kind = MESSAGE_ENTRY, .born_ms = now_ms, .is.entry = given};
    if (kind == REQUEST_RELOAD)
        return control->options.reload != NULL &&
               control->options.reload(control->options.reload_arg, given);
    return queue_post(control->queue, &message);
}

/* True when handed over: the connection then waits. */
static bool
hand_over(struct control *control, struct connection *from, struct request *request,
          int64_t now_ms)
{
    request->entry.peer_uid = from->uid;
    struct entry_request *given =
        handback_request(control->handback, ++control->last_ticket, &request->entry);
    if (given == NULL)
        return false;
    if (!post(control, request->kind, given, now_ms)) {
        handback_cancel(given);
        return false;
    }
    from->ticket = control->last_ticket;
    from->state = CONNECTION_WAITING;
    from->since_ms = now_ms;
    return true;
}

static bool
answer_question(struct control *control, struct connection *to, enum request_kind kind,
                int64_t now_ms)
{
    struct snapshot *snapshot = board_take(control->board);
    int64_t at_ms = board_now_ms(control->board);
    size_t len = 0;
    switch (kind) {
    case REQUEST_NOW:
        len = control_answer_now(control->text, ANSWER_MAX, snapshot, at_ms);
        break;
    case REQUEST_LISTS:
        len = control_answer_lists(control->text, ANSWER_MAX, snapshot, at_ms);
        break;
    case REQUEST_WHERE:
        len = control_answer_where(control->text, ANSWER_MAX, &control->options, snapshot);
        break;
    case REQUEST_ENTRY:
    case REQUEST_RELOAD:
    case REQUEST_PIN:
        break;
    }
    snapshot_release(snapshot);
    if (len == 0)
        return say_words(control, to, 500,
                         "the answer is longer than can be sent: look at the page", now_ms);
    return connection_say(to, control->text, len, now_ms);
}

static int
who_is_it(struct control *control, const struct connection *from, const struct request *request,
          int64_t now_ms, char ret_hash[PIN_HASH_MAX], char *reterr, size_t err_size)
{
    struct snapshot *snapshot = board_take(control->board);
    int code = identity_check(&control->identity, snapshot == NULL ? NULL : snapshot->plan,
                              request, from->uid, now_ms, ret_hash, reterr, err_size);
    snapshot_release(snapshot);
    return code;
}

static bool
answer_line(struct control *control, struct connection *from, const char *line, size_t len,
            int64_t now_ms)
{
    struct request request;
    char wrong[500];
    bool good = control_request_read(line, len, &request, wrong, sizeof wrong);
    sodium_memzero((char *)(uintptr_t)line, len); /* the line's own buffer: it may hold a PIN */
    if (!good)
        return say_words(control, from, 400, wrong, now_ms);
    char hash[PIN_HASH_MAX] = "";
    bool entered = request.kind == REQUEST_ENTRY || request.kind == REQUEST_PIN;
    int code =
        entered ? who_is_it(control, from, &request, now_ms, hash, wrong, sizeof wrong) : 200;
    sodium_memzero(request.pin, sizeof request.pin);
    sodium_memzero(request.new_pin, sizeof request.new_pin);
    sodium_memzero(request.by_pin, sizeof request.by_pin);
    if (code != 200)
        return say_words(control, from, code, wrong, now_ms);
    if (!entered && request.kind != REQUEST_RELOAD)
        return answer_question(control, from, request.kind, now_ms);
    uint64_t ticket = control->last_ticket + 1; /* that hand_over will give it */
    bool handed = (request.kind != REQUEST_PIN ||
                   identity_wait(&control->identity, ticket, request.entry.who, hash)) &&
                  hand_over(control, from, &request, now_ms);
    sodium_memzero(hash, sizeof hash);
    if (handed)
        return true;
    identity_answered(&control->identity, ticket, &(struct entry_answer){.code = 503});
    return say_words(control, from, 503,
                     "too much is waiting to be recorded just now: this was not recorded; try "
                     "again in a moment",
                     now_ms);
}

/* ---- one connection, one round ---- */

/* Takes at most one line, so that everybody gets a turn. False when the connection is done
 * with. */
static bool
take_turn(struct control *control, struct connection *connection, int64_t now_ms)
{
    char *line;
    size_t len;
    switch (line_take(&connection->in, &line, &len)) {
    case LINE_TAKEN:
        return answer_line(control, connection, line, len, now_ms);
    case LINE_TOO_LONG:
        connection->last_words = true;
        return say_words(control, connection, 413,
                         "a line may have at most 65536 bytes: nothing of it was recorded, and "
                         "this connection is closed",
                         now_ms);
    case LINE_NONE:
        break;
    }
    if (!connection->ended)
        return true;
    if (!line_cut_short(&connection->in))
        return false;
    connection->last_words = true;
    return say_words(
        control, connection, 400,
        "the last line has no end: nothing of it was recorded; end each line with a "
        "newline",
        now_ms);
}

static bool
serve_connection(struct control *control, struct connection *connection, short events,
                 int64_t now_ms)
{
    if (connection->state == CONNECTION_WRITING && (events & (POLLOUT | POLLERR | POLLHUP)) &&
        !connection_write(connection, now_ms))
        return false;
    /* Nobody is left to hear the answer; the entry itself goes its way. */
    if (connection->state == CONNECTION_WAITING && (events & (POLLERR | POLLHUP)))
        return false;
    if (connection->state != CONNECTION_READING)
        return true;
    if ((events & (POLLIN | POLLERR | POLLHUP)) && !connection->ended &&
        !line_waiting(&connection->in) && !connection_read(connection))
        return false;
    return take_turn(control, connection, now_ms);
}

/* When the connection's patience ends. */
static int64_t
deadline_ms(const struct control *control, const struct connection *connection)
{
    switch (connection->state) {
    case CONNECTION_READING:
        return connection->since_ms + control->bounds.idle_ms;
    case CONNECTION_WAITING:
        return connection->since_ms + control->bounds.answer_ms;
    case CONNECTION_WRITING:
        return connection->since_ms + control->bounds.write_ms;
    case CONNECTION_FREE:
        break;
    }
    return TIME_NEVER;
}

/* False when it is to be closed. */
static bool
lose_patience(struct control *control, struct connection *connection, int64_t now_ms)
{
    connection->last_words = true;
    if (connection->state == CONNECTION_WAITING) {
        connection->ticket = 0;
        return say_words(control, connection, 504,
                         "it is not known whether this was recorded: the recorder has not "
                         "answered; look with `trivet now` before entering it again",
                         now_ms);
    }
    if (connection->state == CONNECTION_READING)
        return say_words(control, connection, 408,
                         "nothing was asked for a while: this connection is closed", now_ms);
    return false;
}

/* ---- all connections ---- */

static void
deliver_answers(struct control *control, int64_t now_ms)
{
    struct handback_slip *slip = handback_take(control->handback);
    while (slip != NULL) {
        struct handback_slip *next = slip->next;
        identity_answered(&control->identity, slip->ticket, &slip->answer);
        for (size_t i = 0; i < control->bounds.connections; i++) {
            struct connection *to = &control->connections[i];
            if (to->state != CONNECTION_WAITING || to->ticket != slip->ticket)
                continue;
            size_t len = control_answer_entry(control->text, ANSWER_MAX, &slip->answer);
            if (!connection_say(to, control->text, len, now_ms))
                connection_close(to);
            break;
        }
        free(slip);
        slip = next;
    }
}

static struct connection *
free_connection(struct control *control)
{
    for (size_t i = 0; i < control->bounds.connections; i++) {
        if (control->connections[i].state == CONNECTION_FREE)
            return &control->connections[i];
    }
    return NULL;
}

/* Says "busy" to one too many. What does not fit into its empty socket at once is not said. */
static void
turn_away(struct control *control, int fd)
{
    if (!control->told_busy)
        log_line(LOG_WARN, AREA,
                 "all %zu connections are in use, turning further ones away until one is free",
                 control->bounds.connections);
    control->told_busy = true;
    size_t len =
        control_answer_words(control->text, ANSWER_MAX, 503,
                             "busy: too many are connected just now; try again in a moment");
    ssize_t sent = send(fd, control->text, len, MSG_NOSIGNAL);
    (void)sent;
    (void)close(fd);
}

/* False when no further one is waiting or can be had. */
static bool
accept_one(struct control *control, int64_t now_ms)
{
    int64_t uid;
    int fd = control_socket_accept(&control->socket, &uid);
    if (fd < 0) {
        if (errno == EMFILE || errno == ENFILE || errno == ENOBUFS || errno == ENOMEM) {
            log_line(LOG_WARN, AREA, "cannot take a connection (%s), trying again in %d ms",
                     strerror(errno), PAUSE_MS);
            control->paused_until_ms = now_ms + PAUSE_MS;
        }
        return errno == EINTR || errno == ECONNABORTED;
    }
    struct connection *connection = free_connection(control);
    if (connection == NULL) {
        turn_away(control, fd);
        return true;
    }
    control->told_busy = false;
    connection_open(connection, fd, uid, now_ms);
    size_t len = control_answer_greeting(control->text, ANSWER_MAX, control->options.version);
    if (!connection_say(connection, control->text, len, now_ms))
        connection_close(connection);
    return true;
}

static void
accept_some(struct control *control, int64_t now_ms)
{
    for (int i = 0; i < ACCEPTS_PER_ROUND; i++) {
        if (!accept_one(control, now_ms))
            return;
    }
}

/* ---- the loop ---- */

enum { POLL_WAKE, POLL_LISTEN, POLL_FIRST };

static short
wanted_events(const struct connection *connection)
{
    switch (connection->state) {
    case CONNECTION_READING:
        return connection->ended ? 0 : POLLIN;
    case CONNECTION_WRITING:
        return POLLOUT;
    case CONNECTION_WAITING:
    case CONNECTION_FREE:
        break;
    }
    return 0; /* hang-ups are told unasked */
}

/* True when there is work that no event will announce: a line already read, or an end already
 * seen. */
static bool
has_turn_waiting(struct connection *connection)
{
    return connection->state == CONNECTION_READING &&
           (connection->ended || line_waiting(&connection->in));
}

/* Fills the poll list, returns how long to wait. */
static int
prepare(struct control *control, struct pollfd *fds, int64_t now_ms)
{
    int64_t until_ms = TIME_NEVER;
    bool paused = now_ms < control->paused_until_ms;
    fds[POLL_WAKE] = (struct pollfd){.fd = handback_fd(control->handback), .events = POLLIN};
    fds[POLL_LISTEN] =
        (struct pollfd){.fd = paused ? -1 : control->socket.fd, .events = POLLIN};
    if (paused)
        until_ms = control->paused_until_ms;
    for (size_t i = 0; i < control->bounds.connections; i++) {
        struct connection *connection = &control->connections[i];
        bool in_use = connection->state != CONNECTION_FREE;
        fds[POLL_FIRST + i] = (struct pollfd){.fd = in_use ? connection->fd : -1,
                                              .events = wanted_events(connection)};
        int64_t due_ms =
            has_turn_waiting(connection) ? now_ms : deadline_ms(control, connection);
        if (due_ms < until_ms)
            until_ms = due_ms;
    }
    if (until_ms == TIME_NEVER)
        return -1;
    if (until_ms <= now_ms)
        return 0;
    return until_ms - now_ms > 60000 ? 60000 : (int)(until_ms - now_ms);
}

static void
serve_all(struct control *control, const struct pollfd *fds, int64_t now_ms)
{
    for (size_t i = 0; i < control->bounds.connections; i++) {
        struct connection *connection = &control->connections[i];
        /* A slot that was closed since poll, or opened in this round, has no events of its own.
         */
        if (connection->state == CONNECTION_FREE || fds[POLL_FIRST + i].fd != connection->fd)
            continue;
        if (!serve_connection(control, connection, fds[POLL_FIRST + i].revents, now_ms) ||
            (now_ms >= deadline_ms(control, connection) &&
             !lose_patience(control, connection, now_ms)))
            connection_close(connection);
    }
}

static void *
run(void *arg)
{
    struct control *control = arg;
    struct pollfd fds[POLL_FIRST + CONTROL_CONNECTIONS_MAX];
    nfds_t count = POLL_FIRST + control->bounds.connections;
    while (!atomic_load(&control->stopping)) {
        int wait_ms = prepare(control, fds, clock_mono_ms(&control->clock));
        if (poll(fds, count, wait_ms) < 0)
            continue; /* interrupted, or short of memory: both pass */
        int64_t now_ms = clock_mono_ms(&control->clock);
        if (fds[POLL_WAKE].revents != 0)
            deliver_answers(control, now_ms);
        serve_all(control, fds, now_ms);
        if (fds[POLL_LISTEN].revents != 0)
            accept_some(control, now_ms);
    }
    return NULL;
}

/* ---- start and stop ---- */

/* The program's signals belong to its main thread. */
static bool
start_thread(struct control *control)
{
    sigset_t all, before;
    (void)sigfillset(&all);
    if (pthread_sigmask(SIG_SETMASK, &all, &before) != 0)
        return false;
    bool started = pthread_create(&control->thread, NULL, run, control) == 0;
    (void)pthread_sigmask(SIG_SETMASK, &before, NULL); /* what was in force is valid */
    return started;
}

static void
free_control(struct control *control)
{
    handback_close(control->handback);
    free(control->text);
    free(control);
}

struct control *
control_start_bounded(const struct control_options *options,
                      const struct control_bounds *bounds, struct queue *queue,
                      struct board *board, char *reterr, size_t err_size)
{
    struct control *control = calloc(1, sizeof *control);
    if (control == NULL) {
        snprintf(reterr, err_size, "no memory for the control socket");
        return NULL;
    }
    control->options = *options;
    control->bounds = *bounds;
    control->queue = queue;
    control->board = board;
    control->clock = clock_machine();
    atomic_init(&control->stopping, false);
    control->text = malloc(ANSWER_MAX);
    control->handback = handback_new();
    if (!identity_init(&control->identity,
                       options->directory == NULL ? "." : options->directory,
                       (int64_t)geteuid())) {
        snprintf(reterr, err_size, "the path of the records' directory is too long");
        free_control(control);
        return NULL;
    }
    if (control->text == NULL || control->handback == NULL) {
        snprintf(reterr, err_size, "no memory or descriptor for the control socket");
        free_control(control);
        return NULL;
    }
    if (control_socket_open(&control->socket, options->path, options->group, reterr,
                            err_size) != 0) {
        free_control(control);
        return NULL;
    }
    if (!start_thread(control)) {
        snprintf(reterr, err_size, "no thread for the control socket: the system gives none");
        control_socket_close(&control->socket);
        free_control(control);
        return NULL;
    }
    return control;
}

struct control *
control_start(const struct control_options *options, struct queue *queue, struct board *board,
              char *reterr, size_t err_size)
{
    return control_start_bounded(options, &control_usual_bounds, queue, board, reterr,
                                 err_size);
}

void
control_stop(struct control *control)
{
    if (control == NULL)
        return;
    atomic_store(&control->stopping, true);
    handback_wake(control->handback);
    (void)pthread_join(control->thread, NULL); /* ours, joined once */
    for (size_t i = 0; i < control->bounds.connections; i++)
        connection_close(&control->connections[i]);
    control_socket_close(&control->socket);
    free_control(control);
}
