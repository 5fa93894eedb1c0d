/* Where a store ends, read in a time that does not grow with its history. */
#ifndef STORE_HEAD_H
#define STORE_HEAD_H

#include "db.h"
#include "merge.h"

/* What the writer keeps beside the head. */
struct head_more {
    struct probe_list probes; /* returned: free(probes.probes) */
    int64_t record_ms;        /* at_ms of the last record; TIME_NONE when there is none */
};

/* Reads the head in one transaction, and checks that the last record chains to the one before
 * (S4). ret_more may be NULL. */
enum store_status head_read(const struct db *db, struct store_head *ret,
                            struct head_more *ret_more, struct store_error *reterr);

#endif
