/* The bounded queue into the recorder: a ring under one mutex. Any thread posts, the recorder
 * takes. */
#include "trivet/queue.h"

#include <pthread.h>
#include <stdlib.h>
#include <time.h>

struct queue {
    pthread_mutex_t lock;
    pthread_cond_t filled;
    size_t capacity, first, count;
    uint64_t dropped;
    struct message *ring;
};

struct queue *
queue_new(size_t capacity)
{
    struct queue *queue = calloc(1, sizeof *queue);
    if (queue == NULL)
        return NULL;
    queue->ring = calloc(capacity, sizeof *queue->ring);
    if (queue->ring == NULL) {
        free(queue);
        return NULL;
    }
    queue->capacity = capacity;
    (void)pthread_mutex_init(&queue->lock, NULL);
    pthread_condattr_t attr;
    (void)pthread_condattr_init(&attr);
    (void)pthread_condattr_setclock(&attr, CLOCK_MONOTONIC);
    (void)pthread_cond_init(&queue->filled, &attr);
    (void)pthread_condattr_destroy(&attr);
    return queue;
}

void
queue_free(struct queue *queue)
{
    if (queue == NULL)
        return;
    (void)pthread_cond_destroy(&queue->filled);
    (void)pthread_mutex_destroy(&queue->lock);
    free(queue->ring);
    free(queue);
}

bool
queue_post(struct queue *queue, const struct message *message)
{
    (void)pthread_mutex_lock(&queue->lock);
    /* The last place is kept for the one message that must always get through. */
    size_t room = message->kind == MESSAGE_STOP ? queue->capacity : queue->capacity - 1;
    bool fits = queue->count < room;
    if (fits) {
        queue->ring[(queue->first + queue->count) % queue->capacity] = *message;
        queue->count++;
        (void)pthread_cond_signal(&queue->filled);
    } else if (message->kind == MESSAGE_READING) {
        queue->dropped++;
    }
    (void)pthread_mutex_unlock(&queue->lock);
    return fits;
}

/* Waiting is the one place outside clock.c that names a clock: the wait ends by the machine's
 * own, whatever clock the program was handed. */
static struct timespec
deadline(int64_t wait_ms)
{
    struct timespec at;
    (void)clock_gettime(CLOCK_MONOTONIC, &at);
    at.tv_sec += (time_t)(wait_ms / 1000);
    at.tv_nsec += (long)(wait_ms % 1000) * 1000000;
    if (at.tv_nsec >= 1000000000) {
        at.tv_nsec -= 1000000000;
        at.tv_sec++;
    }
    return at;
}

size_t
queue_take(struct queue *queue, struct message *ret, size_t max, int64_t wait_ms)
{
    (void)pthread_mutex_lock(&queue->lock);
    if (queue->count == 0 && wait_ms > 0) {
        struct timespec until = deadline(wait_ms);
        int late = 0;
        while (queue->count == 0 && late == 0)
            late = pthread_cond_timedwait(&queue->filled, &queue->lock, &until);
    }
    size_t taken = 0;
    for (; taken < max && queue->count > 0; taken++) {
        ret[taken] = queue->ring[queue->first];
        queue->first = (queue->first + 1) % queue->capacity;
        queue->count--;
    }
    (void)pthread_mutex_unlock(&queue->lock);
    return taken;
}

uint64_t
queue_dropped(struct queue *queue)
{
    (void)pthread_mutex_lock(&queue->lock);
    uint64_t dropped = queue->dropped;
    queue->dropped = 0;
    (void)pthread_mutex_unlock(&queue->lock);
    return dropped;
}
