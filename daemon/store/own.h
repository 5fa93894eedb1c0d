/* The writer's state, shared by the files that open, write and seal. The recorder's thread
 * only. */
#ifndef STORE_OWN_H
#define STORE_OWN_H

#include "db.h"
#include "merge.h"

enum store_statement {
    STATEMENT_BEGIN,
    STATEMENT_COMMIT,
    STATEMENT_READING,
    STATEMENT_RECORD,
    STATEMENT_CACHE_PUT,
    STATEMENT_CACHE_GET,
    STATEMENT_COUNT,
};

struct store {
    struct db db;
    int lock_fd;
    sqlite3_stmt *statements[STATEMENT_COUNT];
    struct store_head head;                 /* with what the open transaction holds */
    struct store_head committed;            /* as it stood at the last commit */
    int64_t record_ms, committed_record_ms; /* at_ms of the last record, likewise */
    bool in_transaction;
    struct probe_list probes; /* every probe that has, or had before a rollback, a reading */
    size_t probes_room;
    char *body; /* RECORD_BODY_MAX + 1 bytes */
};

/* Begins the transaction when none is open. */
enum store_status store_begin(struct store *store, struct store_error *reterr);
/* Rolls back and sets the head back to the last commit. Returns status. */
enum store_status store_undo(struct store *store, enum store_status status);

#endif
