/* The board: one reference to the newest snapshot, and who wants to hear of a new one.
 *
 * The pointer's lock is held for a few instructions only; listeners are called under their own
 * lock, so that board_unlisten can promise that none is still running. Listeners must not call
 * board_listen or board_unlisten. */
#include <assert.h>
#include <pthread.h>
#include <stdlib.h>

#include "trivet/snapshot.h"

#define LISTENERS_MAX 8

struct board {
    pthread_mutex_t lock; /* newest, now, now_arg */
    struct snapshot *newest;
    int64_t (*now_ms)(void *arg);
    void *now_arg;

    pthread_mutex_t listeners_lock;
    struct {
        board_listener *call;
        void *arg;
    } listeners[LISTENERS_MAX];
    size_t listener_count;
};

struct board *
board_new(void)
{
    struct board *board = calloc(1, sizeof *board);
    if (board == NULL)
        return NULL;
    if (pthread_mutex_init(&board->lock, NULL) != 0) {
        free(board);
        return NULL;
    }
    if (pthread_mutex_init(&board->listeners_lock, NULL) != 0) {
        (void)pthread_mutex_destroy(&board->lock);
        free(board);
        return NULL;
    }
    return board;
}

void
board_free(struct board *board)
{
    if (board == NULL)
        return;
    snapshot_release(board->newest);
    (void)pthread_mutex_destroy(&board->listeners_lock);
    (void)pthread_mutex_destroy(&board->lock);
    free(board);
}

void
board_publish(struct board *board, struct snapshot *snapshot)
{
    assert(snapshot != NULL);
    uint64_t version = snapshot->version;
    (void)pthread_mutex_lock(&board->lock);
    struct snapshot *before = board->newest;
    board->newest = snapshot;
    (void)pthread_mutex_unlock(&board->lock);
    snapshot_release(before);

    (void)pthread_mutex_lock(&board->listeners_lock);
    for (size_t i = 0; i < board->listener_count; i++)
        board->listeners[i].call(board->listeners[i].arg, version);
    (void)pthread_mutex_unlock(&board->listeners_lock);
}

struct snapshot *
board_take(struct board *board)
{
    (void)pthread_mutex_lock(&board->lock);
    struct snapshot *newest = board->newest;
    if (newest != NULL)
        snapshot_hold(newest);
    (void)pthread_mutex_unlock(&board->lock);
    return newest;
}

void
board_listen(struct board *board, board_listener *listener, void *arg)
{
    (void)pthread_mutex_lock(&board->listeners_lock);
    assert(board->listener_count < LISTENERS_MAX);
    board->listeners[board->listener_count].call = listener;
    board->listeners[board->listener_count++].arg = arg;
    (void)pthread_mutex_unlock(&board->listeners_lock);
}

void
board_unlisten(struct board *board, board_listener *listener, void *arg)
{
    (void)pthread_mutex_lock(&board->listeners_lock);
    for (size_t i = 0; i < board->listener_count; i++)
        if (board->listeners[i].call == listener && board->listeners[i].arg == arg) {
            board->listeners[i] = board->listeners[--board->listener_count];
            break;
        }
    (void)pthread_mutex_unlock(&board->listeners_lock);
}

void
board_set_now(struct board *board, int64_t (*now_ms)(void *arg), void *arg)
{
    (void)pthread_mutex_lock(&board->lock);
    board->now_ms = now_ms;
    board->now_arg = arg;
    (void)pthread_mutex_unlock(&board->lock);
}

int64_t
board_now_ms(const struct board *board)
{
    /* The lock is no part of what the caller sees as unchanged. */
    pthread_mutex_t *lock = (pthread_mutex_t *)&board->lock;
    (void)pthread_mutex_lock(lock);
    int64_t (*now_ms)(void *) = board->now_ms;
    void *arg = board->now_arg;
    int64_t published_ms = board->newest == NULL ? 0 : board->newest->at_ms;
    (void)pthread_mutex_unlock(lock);
    if (now_ms == NULL)
        return published_ms;
    int64_t now = now_ms(arg);
    return now < published_ms ? published_ms : now;
}
