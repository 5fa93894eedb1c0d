/* See the header. Owned by the main thread; the control thread asks, the recorder's thread
 * decides. Must not judge a plan itself: that is the recorder's. */
#include "daemon/reload.h"

#include <pthread.h>
#include <stdatomic.h>
#include <stdio.h>
#include <stdlib.h>
#include <sys/eventfd.h>
#include <unistd.h>

#include "trivet/log.h"

#define ASKED_MAX 8 /* at once; the control socket tells a further one to wait */

struct reload {
    const char *file;
    struct queue *queue;
    struct clock clock;
    int fd;
    pthread_mutex_t lock;
    struct entry_request *asked[ASKED_MAX];
    size_t asked_count;
    _Atomic(const struct plan *) taken;
};

struct reload *
reload_new(const char *file, struct queue *queue, const struct clock *clock)
{
    struct reload *reload = calloc(1, sizeof *reload);
    if (reload == NULL)
        return NULL;
    reload->file = file;
    reload->queue = queue;
    reload->clock = *clock;
    reload->fd = eventfd(0, EFD_NONBLOCK | EFD_CLOEXEC);
    if (reload->fd < 0) {
        free(reload);
        return NULL;
    }
    (void)pthread_mutex_init(&reload->lock, NULL); /* a plain one cannot fail here */
    atomic_init(&reload->taken, NULL);
    return reload;
}

static void
answer(struct entry_request *asked, int code, const char *say)
{
    struct entry_answer no = {.code = code};
    (void)snprintf(no.say, sizeof no.say, "%s", say);
    if (asked != NULL && asked->answer != NULL)
        asked->answer(asked->arg, &no);
    free(asked);
}

void
reload_free(struct reload *reload)
{
    if (reload == NULL)
        return;
    for (size_t i = 0; i < reload->asked_count; i++)
        answer(reload->asked[i], 503, "Trivet is ending: the plan was not read again.");
    (void)close(reload->fd);
    (void)pthread_mutex_destroy(&reload->lock);
    free(reload);
}

int
reload_fd(const struct reload *reload)
{
    return reload->fd;
}

static void
ring(struct reload *reload)
{
    static const uint64_t one = 1;
    (void)!write(reload->fd, &one, sizeof one); /* fails only when it rings already */
}

bool
reload_ask(void *arg, struct entry_request *asked)
{
    struct reload *reload = arg;
    (void)pthread_mutex_lock(&reload->lock);
    bool room = reload->asked_count < ASKED_MAX;
    if (room)
        reload->asked[reload->asked_count++] = asked;
    (void)pthread_mutex_unlock(&reload->lock);
    if (room)
        ring(reload);
    return room;
}

static struct entry_request *
next_asked(struct reload *reload)
{
    struct entry_request *first = NULL;
    (void)pthread_mutex_lock(&reload->lock);
    if (reload->asked_count > 0) {
        first = reload->asked[0];
        reload->asked_count--;
        for (size_t i = 0; i < reload->asked_count; i++)
            reload->asked[i] = reload->asked[i + 1];
    }
    (void)pthread_mutex_unlock(&reload->lock);
    return first;
}

/* The recorder's thread. Several plans may be decided before the main thread looks: the last
 * counts.
 */
static void
decided(void *arg, const struct plan *plan)
{
    struct reload *reload = arg;
    if (plan == NULL)
        return;
    atomic_store(&reload->taken, plan);
    ring(reload);
}

static void
read_again(struct reload *reload, struct entry_request *asked)
{
    struct plan_request *request = calloc(1, sizeof *request);
    struct plan_faults *faults = calloc(1, sizeof *faults);
    if (request == NULL || faults == NULL) {
        log_line(LOG_ERROR, "plan", "out of memory: the plan was not read again");
        answer(asked, 503,
               "Memory is short: the plan was not read again. Try again in a moment.");
        free(request);
        free(faults);
        return;
    }
    request->plan = plan_load(reload->file, faults);
    if (request->plan == NULL)
        (void)plan_faults_text(faults, reload->file, request->faults, sizeof request->faults);
    free(faults);
    request->decided = decided;
    request->arg = reload;
    request->asked = asked;
    struct message message = {
        .kind = MESSAGE_PLAN, .born_ms = clock_mono_ms(&reload->clock), .is.plan = request};
    if (queue_post(reload->queue, &message))
        return; /* NOLINT(clang-analyzer-unix.Malloc): the recorder has the request now */
    log_line(LOG_ERROR, "plan", "too much waits to be recorded: the plan was not read again");
    answer(
        asked, 503,
        "Too much waits to be recorded: the plan was not read again. Try again in a moment.");
    plan_free(request->plan);
    free(request);
}

void
reload_run(struct reload *reload, bool by_signal)
{
    uint64_t rung;
    (void)!read(reload->fd, &rung, sizeof rung); /* nothing to read is as good as read */
    if (by_signal)
        read_again(reload, NULL);
    for (struct entry_request *asked; (asked = next_asked(reload)) != NULL;)
        read_again(reload, asked);
}

const struct plan *
reload_taken(struct reload *reload)
{
    return atomic_exchange(&reload->taken, NULL);
}
