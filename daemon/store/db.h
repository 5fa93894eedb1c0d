/* One SQLite connection to a store: where it lies, how it is opened, what its tables are, and
 * how a failure is told to a person.
 *
 * The writer's connection is the only one that commits or checkpoints (docs/storage.md, S14);
 * all others are read-only and cannot. Used by the thread that owns the connection. */
#ifndef STORE_DB_H
#define STORE_DB_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include <sqlite3.h>

#include "trivet/store.h"

#define DB_APPLICATION_ID 0x54525654 /* "TRVT"; PRAGMA application_id */
#define DB_PATH_MAX       4096

struct db {
    sqlite3 *sql;
    char path[DB_PATH_MAX]; /* of trivet.db */
};

/* Fill in reterr and return status, so that a caller can `return db_error(...)`. */
enum store_status db_error(struct store_error *reterr, enum store_status status,
                           const char *format, ...) TRIVET_PRINTF(3, 4);

/* The same for what SQLite last said on this connection; doing is a phrase: "storing a
 * reading". */
enum store_status db_failed(const struct db *db, const char *doing, struct store_error *reterr);

/* The same for errno after a system call on path. */
enum store_status db_system_failed(int error, const char *path, const char *doing,
                                   struct store_error *reterr);

/* Opens for writing, and creates the file and its tables when there are none. The caller holds
 * the lock. */
enum store_status db_open_writer(struct db *db, const char *directory,
                                 const struct store_options *options,
                                 struct store_error *reterr);
/* Opens an existing store read-only. Needs no right to write, neither to the files nor the
 * directory. */
enum store_status db_open_reader(struct db *db, const char *directory,
                                 struct store_error *reterr);
void db_close(struct db *db); /* accepts one that is not open */

enum store_status db_run(const struct db *db, const char *sql, const char *doing,
                         struct store_error *reterr);
enum store_status db_prepare(const struct db *db, const char *sql, sqlite3_stmt **ret,
                             struct store_error *reterr);

#endif
