/* Server-sent events. Each client keeps the last version it saw, never a queue: a slow one
 * skips snapshots.
 *
 * Threads: the reader callback runs in the server's thread; the board calls `hear` in the
 * recorder's; `beat_run` is a thread of ours that wakes all streams every 15 s, because a
 * client that left is noticed only by writing to it. Under the one lock a stream is marked and
 * suspended, or unmarked and resumed: resuming one that is not suspended is undefined, and
 * stopping the server with one suspended aborts the process. The texts belong to the server's
 * thread alone. */
#include "events.h"

#include <errno.h>
#include <inttypes.h>
#include <poll.h>
#include <pthread.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/eventfd.h>
#include <unistd.h>

#define BEAT_MS        15000
#define JSON_BYTES_MAX ((size_t)4 * 1024 * 1024)

/* One event, shared by all streams that are sending it. */
struct event_text {
    unsigned references;
    uint64_t version;
    size_t len;
    char bytes[];
};

struct stream {
    struct events *events;
    struct MHD_Connection *connection;
    struct stream *next, **link;
    bool suspended;
    uint64_t seen;
    unsigned beats;
    struct event_text *text; /* being sent; NULL */
    const char *small;       /* a fixed text being sent; NULL */
    size_t sent;             /* of either */
};

struct events {
    struct board *board;
    pthread_mutex_t lock; /* streams and their marks, count, version, beats, closed */
    struct stream *streams;
    size_t count;
    uint64_t version;
    unsigned beats;
    bool closed;
    pthread_t beat_thread;
    int beat_end;              /* eventfd */
    struct event_text *newest; /* server thread */
    int64_t newest_second;
};

/* ---- texts: server thread ---- */

static void
text_drop(struct event_text *text)
{
    if (text != NULL && --text->references == 0)
        free(text);
}

static struct event_text *
text_build(const struct snapshot *snapshot, int64_t viewed_ms)
{
    for (size_t size = 16384; size <= JSON_BYTES_MAX; size *= 2) {
        struct event_text *text = malloc(sizeof *text + size);
        if (text == NULL)
            return NULL;
        int head = snprintf(text->bytes, size,
                            "id: %" PRIu64 "\nevent: now\ndata: ", snapshot->version);
        if (snapshot_json(snapshot, viewed_ms, text->bytes + head, size - (size_t)head - 2)) {
            text->len = strlen(text->bytes);
            text->bytes[text->len++] = '\n'; /* over the NUL: an event is no string */
            text->bytes[text->len++] = '\n';
            text->version = snapshot->version;
            text->references = 1;
            return text;
        }
        free(text);
    }
    return NULL;
}

/* The newest snapshot as an event, held for the caller; NULL when there is none or memory is
 * short. */
static struct event_text *
text_now(struct events *events)
{
    struct snapshot *snapshot = board_take(events->board);
    if (snapshot == NULL)
        return NULL;
    int64_t viewed_ms = board_now_ms(events->board), second = viewed_ms / 1000;
    if (events->newest == NULL || events->newest->version != snapshot->version ||
        events->newest_second != second) {
        text_drop(events->newest);
        events->newest = text_build(snapshot, viewed_ms);
        events->newest_second = second;
    }
    snapshot_release(snapshot);
    if (events->newest != NULL)
        events->newest->references++;
    return events->newest;
}

/* ---- a stream ---- */

static ssize_t
send_some(struct stream *stream, char *buf, size_t max)
{
    const char *bytes = stream->small != NULL ? stream->small : stream->text->bytes;
    size_t len = stream->small != NULL ? strlen(stream->small) : stream->text->len;
    size_t part = len - stream->sent < max ? len - stream->sent : max;
    memcpy(buf, bytes + stream->sent, part);
    stream->sent += part;
    if (stream->sent == len) {
        text_drop(stream->text);
        stream->text = NULL;
        stream->small = NULL;
        stream->sent = 0;
    }
    return (ssize_t)part;
}

enum next_step { STEP_END, STEP_EVENT, STEP_BEAT, STEP_WAIT };

static enum next_step
next_step(struct stream *stream)
{
    struct events *events = stream->events;
    enum next_step step = STEP_WAIT;
    (void)pthread_mutex_lock(&events->lock);
    if (events->closed) {
        step = STEP_END;
    } else if (events->version != stream->seen) {
        step = STEP_EVENT;
    } else if (events->beats != stream->beats) {
        stream->beats = events->beats;
        step = STEP_BEAT;
    } else {
        stream->suspended = true;
        MHD_suspend_connection(stream->connection);
    }
    (void)pthread_mutex_unlock(&events->lock);
    return step;
}

static ssize_t
stream_read(void *arg, uint64_t pos, char *buf, size_t max)
{
    struct stream *stream = arg;
    (void)pos;
    if (stream->text != NULL || stream->small != NULL)
        return send_some(stream, buf, max);
    switch (next_step(stream)) {
    case STEP_END:
        return MHD_CONTENT_READER_END_OF_STREAM;
    case STEP_WAIT:
        return 0;
    case STEP_BEAT:
        stream->small = ": still here\n\n";
        return send_some(stream, buf, max);
    case STEP_EVENT:
        break;
    }
    stream->text = text_now(stream->events);
    if (stream->text == NULL)
        return MHD_CONTENT_READER_END_WITH_ERROR;
    stream->seen = stream->text->version;
    (void)pthread_mutex_lock(&stream->events->lock);
    if (stream->events->version <
        stream->seen) /* published, but its call has not reached us yet */
        stream->events->version = stream->seen;
    (void)pthread_mutex_unlock(&stream->events->lock);
    return send_some(stream, buf, max);
}

static void
stream_free(void *arg)
{
    struct stream *stream = arg;
    (void)pthread_mutex_lock(&stream->events->lock);
    *stream->link = stream->next;
    if (stream->next != NULL)
        stream->next->link = stream->link;
    stream->events->count--;
    (void)pthread_mutex_unlock(&stream->events->lock);
    text_drop(stream->text);
    free(stream);
}

static bool
stream_join(struct events *events, struct stream *stream)
{
    (void)pthread_mutex_lock(&events->lock);
    bool joined = !events->closed && events->count < STREAMS_MAX;
    if (joined) {
        stream->beats = events->beats;
        stream->next = events->streams;
        stream->link = &events->streams;
        if (stream->next != NULL)
            stream->next->link = &stream->next;
        events->streams = stream;
        events->count++;
    }
    (void)pthread_mutex_unlock(&events->lock);
    return joined;
}

struct answer
events_open(struct events *events, struct MHD_Connection *connection, const char *last_id)
{
    struct answer none = {0};
    struct stream *stream = calloc(1, sizeof *stream);
    if (stream == NULL)
        return none;
    stream->events = events;
    stream->connection = connection;
    stream->small = "retry: 2000\n\n";
    uint32_t seen;
    if (last_id != NULL && query_number(last_id, UINT32_MAX, &seen))
        stream->seen = seen;
    if (!stream_join(events, stream)) {
        free(stream);
        none.status = MHD_HTTP_SERVICE_UNAVAILABLE; /* the caller finds the words */
        return none;
    }
    struct answer answer = {.status = MHD_HTTP_OK,
                            .response = MHD_create_response_from_callback(
                                MHD_SIZE_UNKNOWN, 2048, stream_read, stream, stream_free)};
    if (answer.response == NULL)
        stream_free(stream);
    else
        answer_dress(answer.response, "text/event-stream; charset=utf-8", "no-store");
    return answer;
}

/* ---- those who wake streams ---- */

static void
resume_all(struct events *events)
{
    for (struct stream *stream = events->streams; stream != NULL; stream = stream->next)
        if (stream->suspended) {
            stream->suspended = false;
            MHD_resume_connection(stream->connection);
        }
}

static void
hear(void *arg, uint64_t version)
{
    struct events *events = arg;
    (void)pthread_mutex_lock(&events->lock);
    events->version = version;
    resume_all(events);
    (void)pthread_mutex_unlock(&events->lock);
}

static void *
beat_run(void *arg)
{
    struct events *events = arg;
    struct pollfd end = {.fd = events->beat_end, .events = POLLIN};
    for (;;) {
        int ready = poll(&end, 1, BEAT_MS);
        if (ready > 0)
            return NULL;
        if (ready < 0)
            continue; /* a signal; the wait begins anew */
        (void)pthread_mutex_lock(&events->lock);
        events->beats++;
        resume_all(events);
        (void)pthread_mutex_unlock(&events->lock);
    }
}

struct events *
events_new(struct board *board)
{
    struct events *events = calloc(1, sizeof *events);
    if (events == NULL)
        return NULL;
    events->board = board;
    struct snapshot *snapshot = board_take(board);
    events->version = snapshot == NULL ? 0 : snapshot->version;
    snapshot_release(snapshot);
    events->beat_end = eventfd(0, EFD_CLOEXEC);
    if (events->beat_end < 0)
        goto no_eventfd;
    if (pthread_mutex_init(&events->lock, NULL) != 0)
        goto no_lock;
    if (pthread_create(&events->beat_thread, NULL, beat_run, events) != 0)
        goto no_thread;
    board_listen(board, hear, events);
    return events;
no_thread:
    (void)pthread_mutex_destroy(&events->lock);
no_lock:
    (void)close(events->beat_end);
no_eventfd:
    free(events);
    return NULL;
}

void
events_close(struct events *events)
{
    board_unlisten(events->board, hear, events);
    uint64_t one = 1;
    while (write(events->beat_end, &one, sizeof one) < 0 && errno == EINTR)
        continue;
    (void)pthread_join(events->beat_thread, NULL);
    (void)pthread_mutex_lock(&events->lock);
    events->closed = true;
    resume_all(events);
    (void)pthread_mutex_unlock(&events->lock);
}

void
events_free(struct events *events)
{
    if (events == NULL)
        return;
    text_drop(events->newest);
    (void)pthread_mutex_destroy(&events->lock);
    (void)close(events->beat_end);
    free(events);
}
