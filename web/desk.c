/* A desk: a thread, a line of requests, a read-only connection to the store.
 *
 * While a request is in the line its connection is suspended, so that the server cannot end it;
 * the desk marks it answered and resumes it, exactly once, and does not touch it afterwards. */
#include "desk.h"

#include <pthread.h>
#include <stdio.h>
#include <stdlib.h>

struct desk {
    pthread_t thread;
    pthread_mutex_t lock; /* everything below but the reader */
    pthread_cond_t arrived;
    struct request *first, **end;
    size_t waiting, waiting_max;
    bool closed;
    struct store_reader *reader; /* the desk's thread */
    const char *directory;
};

static struct answer
do_work(struct desk *desk, struct request *request)
{
    struct store_error error = {.text = ""};
    request->reader_error[0] = '\0';
    if (desk->reader == NULL)
        desk->reader = store_reader_open(desk->directory, &error);
    if (desk->reader == NULL)
        (void)snprintf(request->reader_error, sizeof request->reader_error, "%s", error.text);
    struct answer answer = request->work(request, desk->reader);
    if (answer.status >= 500) {
        /* Whatever ailed it, the next request gets a fresh connection. */
        store_reader_close(desk->reader);
        desk->reader = NULL;
    }
    return answer;
}

static struct request *
next_request(struct desk *desk)
{
    (void)pthread_mutex_lock(&desk->lock);
    while (desk->first == NULL && !desk->closed)
        (void)pthread_cond_wait(&desk->arrived, &desk->lock);
    struct request *request = desk->first;
    if (request != NULL) {
        desk->first = request->next;
        if (desk->first == NULL)
            desk->end = &desk->first;
        desk->waiting--;
    }
    (void)pthread_mutex_unlock(&desk->lock);
    return request;
}

static void *
desk_run(void *arg)
{
    struct desk *desk = arg;
    struct request *request;
    while ((request = next_request(desk)) != NULL) {
        request->answer = atomic_load(&request->web->stopping)
                              ? answer_words(request->web, MHD_HTTP_SERVICE_UNAVAILABLE,
                                             "Stopping", "Trivet is being stopped.")
                              : do_work(desk, request);
        request->answered = true;
        MHD_resume_connection(request->connection);
    }
    store_reader_close(desk->reader);
    desk->reader = NULL;
    return NULL;
}

struct desk *
desk_new(const char *directory, size_t waiting_max)
{
    struct desk *desk = calloc(1, sizeof *desk);
    if (desk == NULL)
        return NULL;
    desk->directory = directory;
    desk->waiting_max = waiting_max;
    desk->end = &desk->first;
    if (pthread_mutex_init(&desk->lock, NULL) != 0)
        goto no_lock;
    if (pthread_cond_init(&desk->arrived, NULL) != 0)
        goto no_cond;
    if (pthread_create(&desk->thread, NULL, desk_run, desk) != 0)
        goto no_thread;
    return desk;
no_thread:
    (void)pthread_cond_destroy(&desk->arrived);
no_cond:
    (void)pthread_mutex_destroy(&desk->lock);
no_lock:
    free(desk);
    return NULL;
}

bool
desk_take(struct desk *desk, struct request *request)
{
    (void)pthread_mutex_lock(&desk->lock);
    bool taken = !desk->closed && desk->waiting < desk->waiting_max;
    if (taken) {
        MHD_suspend_connection(request->connection);
        request->next = NULL;
        *desk->end = request;
        desk->end = &request->next;
        desk->waiting++;
        (void)pthread_cond_signal(&desk->arrived);
    }
    (void)pthread_mutex_unlock(&desk->lock);
    return taken;
}

void
desk_close(struct desk *desk)
{
    (void)pthread_mutex_lock(&desk->lock);
    desk->closed = true;
    (void)pthread_cond_signal(&desk->arrived);
    (void)pthread_mutex_unlock(&desk->lock);
    (void)pthread_join(desk->thread, NULL);
}

void
desk_free(struct desk *desk)
{
    if (desk == NULL)
        return;
    (void)pthread_cond_destroy(&desk->arrived);
    (void)pthread_mutex_destroy(&desk->lock);
    free(desk);
}
