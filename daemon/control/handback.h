/* The way back from the recorder's thread to the control thread: a list of answers and a
 * descriptor to wake it.
 *
 * It outlives whoever is gone first: it is freed when the control thread and every entry still
 * out have let go. */
#ifndef CONTROL_HANDBACK_H
#define CONTROL_HANDBACK_H

#include <stdbool.h>
#include <stdint.h>

#include "trivet/queue.h"

struct handback;

/* One entry on its way. */
struct handback_slip {
    struct handback *home;
    struct handback_slip *next;
    uint64_t ticket; /* the connection's name for it; never used twice */
    struct entry_answer answer;
};

struct handback *handback_new(void); /* NULL when the system gives no memory or descriptor */
/* The control thread lets go; answers that come later are dropped. Accepts NULL. */
void handback_close(struct handback *handback);

/* Becomes readable when an answer is there. */
int handback_fd(const struct handback *handback);
/* Wakes the control thread without an answer. Any thread. */
void handback_wake(struct handback *handback);

/* A request for the queue whose answer will come back under this ticket; NULL when out of
 * memory. */
struct entry_request *handback_request(struct handback *handback, uint64_t ticket,
                                       const struct entry *entry);
/* For a request that the queue did not take. */
void handback_cancel(struct entry_request *request);

/* Takes all answers there are and empties the descriptor; the caller frees each slip with
 * free(). */
struct handback_slip *handback_take(struct handback *handback);

#endif
