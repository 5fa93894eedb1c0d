/* The one way in: bounded queue from bus threads, the control socket and the hook's runner to
 * the recorder.
 *
 * Readings that find the queue full are dropped and counted per probe (the recorder turns the
 * count into a record); entries that find it full are refused at once, so that the person is
 * told. Any thread may post; one thread takes. */
#ifndef TRIVET_QUEUE_H
#define TRIVET_QUEUE_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "trivet/advice.h"
#include "trivet/entry.h"
#include "trivet/plan.h"
#include "trivet/reading.h"
#include "trivet/switch_event.h"

enum message_kind {
    MESSAGE_READING,
    MESSAGE_BUS,    /* a bus went down or came back */
    MESSAGE_SWITCH, /* a door or button did something */
    MESSAGE_SIGNAL, /* a light or relay cannot be relied on, or can again */
    MESSAGE_ENTRY,
    MESSAGE_TOLD,   /* the hook has run for a record */
    MESSAGE_PLAN,   /* the plan file was read again */
    MESSAGE_ADVICE, /* the adviser has looked */
    MESSAGE_STOP,
};

/* How the recorder answers an entry. Called in the recorder's thread, after the commit. */
struct entry_answer {
    int code; /* 200 done; 400 the entry is wrong; 404 what it names is not there; 409 not now;
                 503 cannot be recorded */
    uint64_t seq;       /* of the record, when 200 */
    uint32_t batch;     /* concerned, 0 = none */
    uint32_t deviation; /* concerned, or opened by it; 0 = none */
    char say[400];      /* plain sentences: what was understood, and what follows from it */
};

struct entry_request {
    struct entry entry;
    void (*answer)(void *arg, const struct entry_answer *answer);
    void *arg;
};

/* A plan read from its file at run time, or why it could not be. */
struct plan_request {
    struct plan *plan; /* given; NULL when it has faults */
    char faults[2000]; /* "file:line:column: what; what to write\n" for each, when plan is NULL
                        */
    /* Told in the recorder's thread once it is decided: the plan in force when it is another
     * one than before (it lives as long as the recorder), else NULL. May be NULL. */
    void (*decided)(void *arg, const struct plan *plan);
    void *arg;
    struct entry_request
        *asked; /* who asked for it on the control socket; given; may be NULL */
};

struct message {
    enum message_kind kind;
    int64_t born_ms; /* monotonic, when it happened */
    union {
        struct {
            uint16_t probe; /* stored number */
            uint16_t quality;
            int32_t temp_mC;
        } reading;
        struct {
            uint16_t bus; /* index */
            bool up;
            const struct plan *plan; /* whose bus it is; NULL = the plan polled now */
            char trouble[240];
        } bus;
        struct {
            uint16_t index; /* in the plan's switches */
            uint16_t cause; /* of an unknown state */
            enum switch_state state;
            const struct plan *plan; /* whose switch it is; NULL = the plan polled now */
        } contact;
        struct {
            uint16_t index; /* in the plan's signals */
            bool faulty;
            const struct plan *plan; /* as above */
            char trouble[240];       /* "" when well */
        } signal;
        struct entry_request *entry; /* given: the recorder frees it after answering */
        struct plan_request *plan;   /* likewise */
        struct advice_list *advice;  /* given: the recorder's from then on */
        struct {
            uint64_t seq; /* of the decision's record */
            bool done;    /* the command ended with 0 in time */
            char how[120];
        } told;
    } is;
};

struct queue;
struct queue *queue_new(size_t capacity);
void queue_free(struct queue *queue);
/* False when full. */
bool queue_post(struct queue *queue, const struct message *message);
/* Takes up to max messages, waiting at most wait_ms for the first. */
size_t queue_take(struct queue *queue, struct message *ret, size_t max, int64_t wait_ms);
/* Readings dropped since the last call, in total. */
uint64_t queue_dropped(struct queue *queue);

#endif
