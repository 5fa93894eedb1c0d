/* Answers from the recorder's thread to the control thread. See handback.h. Any thread. */
#include "daemon/control/handback.h"

#include <pthread.h>
#include <stdlib.h>
#include <sys/eventfd.h>
#include <unistd.h>

struct handback {
    pthread_mutex_t lock;
    unsigned holders; /* the control thread and every slip that is out */
    bool closed;
    int fd;
    struct handback_slip *first, **last;
};

struct handback *
handback_new(void)
{
    struct handback *handback = calloc(1, sizeof *handback);
    if (handback == NULL)
        return NULL;
    handback->fd = eventfd(0, EFD_NONBLOCK | EFD_CLOEXEC);
    if (handback->fd < 0) {
        free(handback);
        return NULL;
    }
    (void)pthread_mutex_init(&handback->lock, NULL); /* a plain one cannot fail here */
    handback->holders = 1;
    handback->last = &handback->first;
    return handback;
}

/* Called with the lock held; releases it, and everything when the caller was the last holder.
 */
static void
let_go(struct handback *handback)
{
    bool was_last = --handback->holders == 0;
    (void)pthread_mutex_unlock(&handback->lock);
    if (!was_last)
        return;
    (void)close(handback->fd); /* an eventfd holds nothing that could be lost */
    (void)pthread_mutex_destroy(&handback->lock);
    free(handback);
}

static void
free_slips(struct handback_slip *slip)
{
    while (slip != NULL) {
        struct handback_slip *next = slip->next;
        free(slip);
        slip = next;
    }
}

void
handback_close(struct handback *handback)
{
    if (handback == NULL)
        return;
    free_slips(handback_take(handback));
    (void)pthread_mutex_lock(&handback->lock);
    handback->closed = true;
    /* What came in between the two locks. */
    struct handback_slip *late = handback->first;
    handback->first = NULL;
    handback->last = &handback->first;
    let_go(handback);
    free_slips(late);
}

int
handback_fd(const struct handback *handback)
{
    return handback->fd;
}

void
handback_wake(struct handback *handback)
{
    uint64_t one = 1;
    ssize_t written = write(handback->fd, &one, sizeof one);
    (void)written; /* it fails only when the counter is full, and then the descriptor is
                      readable */
}

/* entry_request.answer: in the recorder's thread, so it only puts the answer down and rings. */
static void
take_answer(void *arg, const struct entry_answer *answer)
{
    struct handback_slip *slip = arg;
    struct handback *home = slip->home;
    slip->answer = *answer;
    (void)pthread_mutex_lock(&home->lock);
    if (home->closed) {
        free(slip);
    } else {
        *home->last = slip;
        home->last = &slip->next;
        handback_wake(home);
    }
    let_go(home);
}

struct entry_request *
handback_request(struct handback *handback, uint64_t ticket, const struct entry *entry)
{
    struct entry_request *request = malloc(sizeof *request);
    struct handback_slip *slip = calloc(1, sizeof *slip);
    if (request == NULL || slip == NULL) {
        free(request);
        free(slip);
        return NULL;
    }
    slip->home = handback;
    slip->ticket = ticket;
    *request = (struct entry_request){.entry = *entry, .answer = take_answer, .arg = slip};
    (void)pthread_mutex_lock(&handback->lock);
    handback->holders++;
    (void)pthread_mutex_unlock(&handback->lock);
    return request;
}

void
handback_cancel(struct entry_request *request)
{
    struct handback_slip *slip = request->arg;
    struct handback *home = slip->home;
    free(slip);
    free(request);
    (void)pthread_mutex_lock(&home->lock);
    let_go(home);
}

struct handback_slip *
handback_take(struct handback *handback)
{
    uint64_t rung;
    ssize_t got = read(handback->fd, &rung, sizeof rung);
    (void)got; /* nothing to read is as good as read: the list is what counts */
    (void)pthread_mutex_lock(&handback->lock);
    struct handback_slip *slips = handback->first;
    handback->first = NULL;
    handback->last = &handback->first;
    (void)pthread_mutex_unlock(&handback->lock);
    return slips;
}
