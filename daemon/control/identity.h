/* Whether people are who their entries say, and how they come by the PIN that shows it. The
 * control thread's. */
#ifndef CONTROL_IDENTITY_H
#define CONTROL_IDENTITY_H

#include <stddef.h>
#include <stdint.h>

#include "daemon/control/pins.h"
#include "daemon/control/request.h"
#include "daemon/control/serve.h"
#include "trivet/queue.h"

/* PINs that were allowed and whose record is on its way: kept once it is committed, so that no
 * PIN is ever changed without a trace. By ticket, for the connection may be gone by then. */
struct identity_waiting {
    uint64_t ticket; /* 0 = free */
    char who[PLAN_INITIALS_MAX + 1];
    char hash[PIN_HASH_MAX];
};

struct identity {
    struct pins pins;
    int64_t own_uid; /* the user that the daemon runs as */
    struct identity_waiting waiting[CONTROL_CONNECTIONS_MAX];
};

/* False when the directory's path is too long or the library of hashes does not start. */
bool identity_init(struct identity *identity, const char *directory, int64_t own_uid);

/* Whether an entry or a new PIN comes from whom it says, as far as the plan asks for that; plan
 * may be NULL, peer_uid -1. 200, or another code (as pins_check, 404 for nobody of the plan)
 * with why. A new PIN that is allowed is hashed into ret_hash, which other requests leave
 * alone. */
int identity_check(struct identity *identity, const struct plan *plan,
                   const struct request *request, int64_t peer_uid, int64_t now_ms,
                   char ret_hash[PIN_HASH_MAX], char *reterr, size_t err_size);

/* Remembers a PIN until its record is answered. False when too many wait. */
bool identity_wait(struct identity *identity, uint64_t ticket, const char *who,
                   const char *hash);
/* The record of this ticket has been answered, or was not taken: keeps its PIN if it was
 * committed, and says in the answer if that failed. Other tickets are none of its business. */
void identity_answered(struct identity *identity, uint64_t ticket, struct entry_answer *answer);

#endif
