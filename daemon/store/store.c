/* Opening and closing the store: the lock, the connection, where the chain ends.
 *
 * The recorder's thread owns everything here. It must not read a clock, log, or end the
 * process. */
#include "trivet/store.h"

#include <assert.h>
#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <sys/file.h>
#include <sys/stat.h>
#include <unistd.h>

#include "head.h"
#include "own.h"

static const char *const statement_sql[STATEMENT_COUNT] = {
    [STATEMENT_BEGIN] = "BEGIN IMMEDIATE",
    [STATEMENT_COMMIT] = "COMMIT",
    [STATEMENT_READING] =
        "INSERT INTO reading(probe, at_ms, temp_mC, quality) VALUES (?1, ?2, ?3, ?4)",
    [STATEMENT_RECORD] =
        "INSERT INTO record(seq, at_ms, kind, body, hash) VALUES (?1, ?2, ?3, ?4, ?5)",
    [STATEMENT_CACHE_PUT] = "REPLACE INTO cache(key, blob) VALUES (?1, ?2)",
    [STATEMENT_CACHE_GET] = "SELECT blob FROM cache WHERE key = ?1",
};

/* ---- the lock (S13) ---- */

static enum store_status
held_by_another(int fd, const char *directory, struct store_error *reterr)
{
    char pid[24];
    ssize_t len = pread(fd, pid, sizeof(pid) - 1, 0);
    long number;

    pid[len > 0 ? len : 0] = '\0';
    number = strtol(pid, NULL, 10);
    if (number > 0)
        return db_error(
            reterr, STORE_IN_USE,
            "the store in '%s' is held by another daemon (process %ld); stop that one, "
            "or name another directory",
            directory, number);
    return db_error(
        reterr, STORE_IN_USE,
        "the store in '%s' is held by another daemon; stop that one, or name another "
        "directory",
        directory);
}

static enum store_status
write_pid(int fd, const char *path, struct store_error *reterr)
{
    char pid[24];
    int len = snprintf(pid, sizeof(pid), "%ld\n", (long)getpid());

    if (ftruncate(fd, 0) != 0 || pwrite(fd, pid, (size_t)len, 0) != len)
        return db_system_failed(errno, path, "taking the store's lock", reterr);
    return STORE_OK;
}

static enum store_status
take_lock(struct store *store, const char *directory, struct store_error *reterr)
{
    char path[DB_PATH_MAX];
    int len = snprintf(path, sizeof(path), "%s/lock", directory);

    if (len < 0 || (size_t)len >= sizeof(path))
        return db_error(
            reterr, STORE_NO_DIRECTORY,
            "opening the store: the path of its directory is too long; use a shorter "
            "one");
    store->lock_fd = open(path, O_RDWR | O_CREAT | O_CLOEXEC | O_NOFOLLOW, 0640);
    if (store->lock_fd < 0)
        return db_system_failed(errno, path, "opening the store", reterr);
    if (flock(store->lock_fd, LOCK_EX | LOCK_NB) != 0) {
        if (errno == EWOULDBLOCK)
            return held_by_another(store->lock_fd, directory, reterr);
        return db_system_failed(errno, path, "taking the store's lock", reterr);
    }
    return write_pid(store->lock_fd, path, reterr);
}

static enum store_status
check_directory(const char *directory, struct store_error *reterr)
{
    struct stat info;

    if (stat(directory, &info) != 0)
        return db_system_failed(errno, directory, "opening the store", reterr);
    if (!S_ISDIR(info.st_mode))
        return db_system_failed(ENOTDIR, directory, "opening the store", reterr);
    return STORE_OK;
}

/* ---- open and close ---- */

static enum store_status
set_up(struct store *store, const char *directory, const struct store_options *options,
       struct store_error *reterr)
{
    enum store_status status;
    struct head_more more;

    store->body = malloc(RECORD_BODY_MAX + 1);
    if (!store->body)
        return db_error(reterr, STORE_IO, "opening the store: out of memory");
    if ((status = check_directory(directory, reterr)) != STORE_OK ||
        (status = take_lock(store, directory, reterr)) != STORE_OK ||
        (status = db_open_writer(&store->db, directory, options, reterr)) != STORE_OK ||
        (status = head_read(&store->db, &store->committed, &more, reterr)) != STORE_OK)
        return status;
    store->head = store->committed;
    store->record_ms = store->committed_record_ms = more.record_ms;
    store->probes = more.probes;
    store->probes_room = more.probes.count;
    for (size_t i = 0; i < STATEMENT_COUNT; i++)
        if ((status = db_prepare(&store->db, statement_sql[i], &store->statements[i],
                                 reterr)) != STORE_OK)
            return status;
    return STORE_OK;
}

struct store *
store_open(const char *directory, const struct store_options *options,
           struct store_error *reterr)
{
    struct store *store = calloc(1, sizeof(*store));

    assert(directory);
    if (!store) {
        (void)db_error(reterr, STORE_IO, "opening the store: out of memory");
        return NULL;
    }
    store->lock_fd = -1;
    if (set_up(store, directory, options, reterr) != STORE_OK) {
        store_close(store);
        return NULL;
    }
    return store;
}

void
store_close(struct store *store)
{
    if (!store)
        return;
    if (store->in_transaction)
        (void)store_undo(store, STORE_OK); /* uncommitted: nobody was told that it is kept */
    for (size_t i = 0; i < STATEMENT_COUNT; i++)
        sqlite3_finalize(store->statements[i]);
    db_close(&store->db);
    if (store->lock_fd >= 0)
        (void)close(store->lock_fd); /* drops the lock; its text is only for people */
    free(store->probes.probes);
    free(store->body);
    free(store);
}

const struct store_head *
store_head(const struct store *store)
{
    return &store->head;
}

bool
store_dirty(const struct store *store)
{
    return store->in_transaction;
}
