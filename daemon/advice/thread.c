/* The adviser's thread: looks every few seconds at what the board shows and hands its advice to
 * the recorder. Slow or stuck, it delays nobody: the watch goes on without it. */
#include <poll.h>
#include <pthread.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/eventfd.h>
#include <unistd.h>

#include "trivet/advice.h"
#include "trivet/log.h"
#include "trivet/queue.h"
#include "trivet/snapshot.h"

#define LOOK_EVERY_MS 5000
#define LOOK_AGAIN_MS 250 /* while somebody waits for lessons that are still to be made */

struct advice_thread {
    struct adviser *adviser;
    struct board *board;
    struct queue *queue;
    int stop_fd;
    pthread_t thread;
    bool behind;       /* after the newest look, lessons are missing still */
    char trouble[300]; /* told last, so that it is told once */
};

/* True when asked to end. */
static bool
wait_or_stop(const struct advice_thread *thread)
{
    struct pollfd fd = {.fd = thread->stop_fd, .events = POLLIN};
    return poll(&fd, 1, thread->behind ? LOOK_AGAIN_MS : LOOK_EVERY_MS) > 0;
}

static void
tell_trouble(struct advice_thread *thread, const char *why)
{
    if (strcmp(thread->trouble, why) == 0)
        return;
    log_line(LOG_WARN, "advice", "%s; the watch goes on without", why);
    (void)snprintf(thread->trouble, sizeof thread->trouble, "%s", why);
}

static void
look(struct advice_thread *thread, const struct snapshot *snapshot)
{
    char why[300];
    struct advice_list *list = adviser_look(thread->adviser, snapshot, why, sizeof why);
    thread->behind = list != NULL && list->behind;
    if (list == NULL) {
        tell_trouble(thread, why);
        return;
    }
    thread->trouble[0] = '\0';
    struct message message = {.kind = MESSAGE_ADVICE, .is.advice = list};
    if (!queue_post(thread->queue, &message))
        free(list); /* full: readings matter more */
}

static void *
run(void *arg)
{
    struct advice_thread *thread = arg;
    uint64_t seen = 0;
    do {
        struct snapshot *snapshot = board_take(thread->board);
        if (snapshot != NULL && snapshot->plan != NULL && snapshot->version != seen) {
            seen = snapshot->version;
            look(thread, snapshot);
        }
        snapshot_release(snapshot);
    } while (!wait_or_stop(thread));
    return NULL;
}

static bool
start(struct advice_thread *thread)
{
    sigset_t all, before; /* signals are the main thread's */
    (void)sigfillset(&all);
    if (pthread_sigmask(SIG_SETMASK, &all, &before) != 0)
        return false;
    bool started = pthread_create(&thread->thread, NULL, run, thread) == 0;
    (void)pthread_sigmask(SIG_SETMASK, &before, NULL);
    return started;
}

static void
drop(struct advice_thread *thread)
{
    adviser_free(thread->adviser);
    if (thread->stop_fd >= 0)
        (void)close(thread->stop_fd);
    free(thread);
}

struct advice_thread *
advice_start(const char *directory, struct board *board, struct queue *queue, char *reterr,
             size_t err_size)
{
    struct advice_thread *thread = calloc(1, sizeof *thread);
    if (thread == NULL) {
        (void)snprintf(reterr, err_size,
                       "out of memory for forecasts; free some and try again");
        return NULL;
    }
    thread->board = board;
    thread->queue = queue;
    thread->stop_fd = eventfd(0, EFD_CLOEXEC | EFD_NONBLOCK);
    thread->adviser = adviser_new(directory, reterr, err_size);
    if (thread->adviser == NULL) {
        drop(thread);
        return NULL;
    }
    if (thread->stop_fd < 0 || !start(thread)) {
        (void)snprintf(reterr, err_size,
                       "the thread for forecasts cannot be started; free some memory or open "
                       "files and try again");
        drop(thread);
        return NULL;
    }
    return thread;
}

void
advice_stop(struct advice_thread *thread)
{
    if (thread == NULL)
        return;
    (void)eventfd_write(thread->stop_fd, 1);
    (void)pthread_join(thread->thread, NULL);
    drop(thread);
}
