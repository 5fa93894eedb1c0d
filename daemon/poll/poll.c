/* Starts and ends the bus threads. Owned by whoever called poll_start; see trivet/poll.h. */
#define _DEFAULT_SOURCE /* eventfd */

#include "trivet/poll.h"

#include <errno.h>
#include <pthread.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/eventfd.h>
#include <unistd.h>

#include "daemon/poll/poll_room.h"

/* What a bus thread needs at most is a few kilobytes; libc's resolver asks for more. */
#define STACK_BYTES ((size_t)256 * 1024)

struct poll {
    struct poll_doors doors;
    int stop_fd;
    size_t running; /* threads started: the first so many of buses */
    size_t prepared;
    struct poll_bus buses[];
};

static void
say(struct driver_error *reterr, const char *what, int error)
{
    (void)snprintf(
        reterr->text, sizeof reterr->text,
        "polling cannot start: %s (%s); check memory, open files and the limit of tasks", what,
        strerror(error));
}

/* Signals are the main thread's. */
static int
start_thread(struct poll_bus *bus)
{
    pthread_attr_t attributes;
    sigset_t all, before;
    int error = pthread_attr_init(&attributes);
    if (error != 0)
        return error;
    (void)sigfillset(&all);
    error = pthread_attr_setstacksize(&attributes, STACK_BYTES);
    if (error == 0)
        error = pthread_sigmask(SIG_SETMASK, &all, &before);
    if (error == 0) {
        error = pthread_create(&bus->thread, &attributes, poll_bus_run, bus);
        (void)pthread_sigmask(SIG_SETMASK, &before, NULL); /* what worked before works again */
    }
    (void)pthread_attr_destroy(&attributes);
    return error;
}

static bool
prepare(struct poll *poll, const struct plan *plan, const struct clock *clock)
{
    for (size_t i = 0; i < plan->bus_count; i++) {
        if (poll_bus_load(plan, i) == 0)
            continue;
        if (!poll_bus_init(&poll->buses[poll->prepared++], plan, (uint16_t)i, &poll->doors,
                           clock, poll->stop_fd))
            return false;
    }
    return true;
}

struct poll *
poll_start_through(const struct plan *plan, const struct poll_doors *doors,
                   const struct clock *clock, struct driver_error *reterr)
{
    struct poll *poll = calloc(1, sizeof *poll + plan->bus_count * sizeof *poll->buses);
    if (poll == NULL) {
        say(reterr, "out of memory", ENOMEM);
        return NULL;
    }
    poll->doors = *doors;
    poll->stop_fd = eventfd(0, EFD_CLOEXEC);
    if (poll->stop_fd < 0) {
        say(reterr, "no event descriptor", errno);
        goto out;
    }
    if (!prepare(poll, plan, clock)) {
        say(reterr, "out of memory", ENOMEM);
        goto out;
    }
    for (; poll->running < poll->prepared; poll->running++) {
        const int error = start_thread(&poll->buses[poll->running]);
        if (error != 0) {
            say(reterr, "no thread for a bus", error);
            goto out;
        }
    }
    return poll;
out:
    poll_stop(poll);
    return NULL;
}

static bool
post_to_queue(void *queue, const struct message *message)
{
    return queue_post(queue, message);
}

struct poll *
poll_start(const struct plan *plan, struct queue *queue, const struct clock *clock,
           poll_needed *needed, void *arg, struct driver_error *reterr)
{
    const struct poll_doors doors = {.driver_for = probe_driver_for,
                                     .post = post_to_queue,
                                     .arg = queue,
                                     .needed = needed,
                                     .needed_arg = arg};
    return poll_start_through(plan, &doors, clock, reterr);
}

void
poll_stop(struct poll *poll)
{
    static const uint64_t one = 1;
    if (poll == NULL)
        return;
    if (poll->running > 0)
        (void)!write(poll->stop_fd, &one, sizeof one); /* a counter at 0 takes it */
    for (size_t i = 0; i < poll->running; i++)
        (void)pthread_join(poll->buses[i].thread, NULL); /* ours, joined once */
    for (size_t i = 0; i < poll->prepared; i++)
        poll_bus_done(&poll->buses[i]);
    if (poll->stop_fd >= 0)
        (void)close(poll->stop_fd);
    free(poll);
}
