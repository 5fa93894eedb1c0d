#include "db.h"

#include <errno.h>
#include <fcntl.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#define CHECKPOINT_PAGES 1000
#define WAL_LIMIT_BYTES                                                                        \
    16777216         /* what the log is cut back to after a reader had pinned it               \
                      */
#define BUSY_MS 2000 /* only a foreign program can hold the write lock */

struct schema_part {
    const char *type, *name, *sql;
};

/* S1. Ordered by name, as the check reads them. The text is compared: a trigger, a view in
 * place of a table or a column with a changed meaning is not this schema. */
static const struct schema_part schema[] = {
    {"table", "cache", "CREATE TABLE cache(key TEXT PRIMARY KEY, blob BLOB)"},
    {"table", "reading",
     "CREATE TABLE reading(probe INTEGER NOT NULL, at_ms INTEGER NOT NULL, temp_mC INTEGER, "
     "quality INTEGER NOT NULL, PRIMARY KEY (probe, at_ms)) STRICT, WITHOUT ROWID"},
    {"table", "record",
     "CREATE TABLE record(seq INTEGER PRIMARY KEY, at_ms INTEGER NOT NULL, kind TEXT NOT NULL, "
     "body TEXT NOT NULL, hash BLOB NOT NULL) STRICT"},
    {"index", "record_kind", "CREATE INDEX record_kind ON record(kind)"},
    {"index", "sqlite_autoindex_cache_1", NULL},
};

#define SCHEMA_PARTS (sizeof(schema) / sizeof(schema[0]))

/* ---- failures ---- */

enum store_status
db_error(struct store_error *reterr, enum store_status status, const char *format, ...)
{
    va_list args;

    if (!reterr)
        return status;
    reterr->status = status;
    va_start(args, format);
    (void)vsnprintf(reterr->text, sizeof(reterr->text), format,
                    args); /* cut text is still text */
    va_end(args);
    return status;
}

enum store_status
db_system_failed(int error, const char *path, const char *doing, struct store_error *reterr)
{
    switch (error) {
    case ENOENT:
    case ENOTDIR:
        return db_error(reterr, STORE_NO_DIRECTORY,
                        "%s: '%s' does not exist; create the directory or correct the path",
                        doing, path);
    case EACCES:
    case EPERM:
    case EROFS:
        return db_error(
            reterr, STORE_NO_DIRECTORY,
            "%s: no permission to write '%s' (%s); give this user the directory, or "
            "correct the path",
            doing, path, strerror(error));
    case ENOSPC:
    case EDQUOT:
        return db_error(reterr, STORE_FULL,
                        "%s: no space left for '%s'; free some space on that disk", doing,
                        path);
    default:
        return db_error(reterr, STORE_IO, "%s: '%s': %s; check that disk", doing, path,
                        strerror(error));
    }
}

enum store_status
db_failed(const struct db *db, const char *doing, struct store_error *reterr)
{
    int code = db->sql ? sqlite3_errcode(db->sql) & 0xff : SQLITE_NOMEM;
    int error = db->sql ? sqlite3_system_errno(db->sql) : 0;
    const char *said = db->sql ? sqlite3_errmsg(db->sql) : "out of memory";

    switch (code) {
    case SQLITE_FULL:
        return db_system_failed(ENOSPC, db->path, doing, reterr);
    case SQLITE_CORRUPT:
    case SQLITE_NOTADB:
        return db_error(
            reterr, STORE_CORRUPT,
            "%s: '%s' is damaged (%s); keep a copy of the directory, then restore a "
            "backup or start an empty directory",
            doing, db->path, said);
    case SQLITE_CANTOPEN:
    case SQLITE_READONLY:
    case SQLITE_PERM:
        if (error == ENOSPC || error == EDQUOT)
            return db_system_failed(error, db->path, doing, reterr);
        return db_error(reterr, STORE_NO_DIRECTORY,
                        "%s: '%s' cannot be opened (%s); check its permissions, and that "
                        "trivet.db-wal and trivet.db-shm lie beside it",
                        doing, db->path, said);
    case SQLITE_BUSY:
    case SQLITE_LOCKED:
        return db_error(
            reterr, STORE_IO,
            "%s: another program has locked '%s'; close it (only the daemon may write "
            "there)",
            doing, db->path);
    case SQLITE_IOERR:
        if (error == ENOSPC || error == EDQUOT)
            return db_system_failed(error, db->path, doing, reterr);
        return db_error(reterr, STORE_IO, "%s: '%s': %s (%s); check that disk", doing, db->path,
                        said, error != 0 ? strerror(error) : "no further cause");
    default:
        return db_error(reterr, STORE_IO, "%s: '%s': %s; check that disk and its memory", doing,
                        db->path, said);
    }
}

/* ---- small steps ---- */

enum store_status
db_run(const struct db *db, const char *sql, const char *doing, struct store_error *reterr)
{
    if (sqlite3_exec(db->sql, sql, NULL, NULL, NULL) != SQLITE_OK)
        return db_failed(db, doing, reterr);
    return STORE_OK;
}

enum store_status
db_prepare(const struct db *db, const char *sql, sqlite3_stmt **ret, struct store_error *reterr)
{
    if (sqlite3_prepare_v3(db->sql, sql, -1, SQLITE_PREPARE_PERSISTENT, ret, NULL) != SQLITE_OK)
        return db_failed(db, "preparing a statement", reterr);
    return STORE_OK;
}

static enum store_status
query_int(const struct db *db, const char *sql, int64_t *ret, struct store_error *reterr)
{
    sqlite3_stmt *stmt = NULL;

    if (sqlite3_prepare_v2(db->sql, sql, -1, &stmt, NULL) != SQLITE_OK ||
        sqlite3_step(stmt) != SQLITE_ROW) {
        enum store_status status = db_failed(db, "opening the store", reterr);
        sqlite3_finalize(stmt);
        return status;
    }
    *ret = sqlite3_column_int64(stmt, 0);
    sqlite3_finalize(stmt);
    return STORE_OK;
}

static enum store_status
set_path(struct db *db, const char *directory, struct store_error *reterr)
{
    int len = snprintf(db->path, sizeof(db->path), "%s/trivet.db", directory);

    /* Room for what SQLite appends: "-journal". */
    if (len < 0 || (size_t)len + 16 > sizeof(db->path))
        return db_error(
            reterr, STORE_NO_DIRECTORY,
            "opening the store: the path of its directory is too long; use a shorter "
            "one");
    return STORE_OK;
}

/* ---- what the file is ---- */

static bool
same_text(const unsigned char *column, const char *expected)
{
    if (!column || !expected)
        return !column && !expected;
    return strcmp((const char *)column, expected) == 0;
}

static enum store_status
check_schema(const struct db *db, struct store_error *reterr)
{
    sqlite3_stmt *stmt = NULL;
    enum store_status status = STORE_OK;
    size_t i = 0;
    int code;

    if (sqlite3_prepare_v2(db->sql, "SELECT type, name, sql FROM sqlite_master ORDER BY name",
                           -1, &stmt, NULL) != SQLITE_OK)
        return db_failed(db, "opening the store", reterr);
    while ((code = sqlite3_step(stmt)) == SQLITE_ROW) {
        if (i >= SCHEMA_PARTS || !same_text(sqlite3_column_text(stmt, 0), schema[i].type) ||
            !same_text(sqlite3_column_text(stmt, 1), schema[i].name) ||
            !same_text(sqlite3_column_text(stmt, 2), schema[i].sql))
            break;
        i++;
    }
    if (code != SQLITE_ROW && code != SQLITE_DONE)
        status = db_failed(db, "opening the store", reterr);
    else if (code == SQLITE_ROW || i != SCHEMA_PARTS)
        status =
            db_error(reterr, STORE_CORRUPT,
                     "opening the store: the tables in '%s' are not those this program makes; "
                     "somebody has changed the file: keep it, and restore a backup or start "
                     "an empty directory",
                     db->path);
    sqlite3_finalize(stmt);
    return status;
}

/* S1, S2: ours, of a version we can read. ret_empty when the file has no pages yet; NULL when
 * it must have. */
static enum store_status
check_identity(const struct db *db, bool *ret_empty, struct store_error *reterr)
{
    int64_t pages = 0, application = 0, version = 0;
    enum store_status status = query_int(db, "PRAGMA page_count", &pages, reterr);

    if (status != STORE_OK)
        return status;
    if (ret_empty)
        *ret_empty = pages == 0;
    if (pages == 0 && ret_empty)
        return STORE_OK;
    if (pages == 0)
        return db_error(reterr, STORE_NO_DIRECTORY,
                        "opening the store: '%s' is still empty; start the daemon first",
                        db->path);
    if ((status = query_int(db, "PRAGMA application_id", &application, reterr)) != STORE_OK ||
        (status = query_int(db, "PRAGMA user_version", &version, reterr)) != STORE_OK)
        return status;
    if (application != DB_APPLICATION_ID)
        return db_error(
            reterr, STORE_CORRUPT,
            "opening the store: '%s' is a database of another program; move it away "
            "or name another directory",
            db->path);
    if (version > STORE_SCHEMA)
        return db_error(
            reterr, STORE_NEWER,
            "opening the store: '%s' was written by a newer version (schema %lld, this "
            "version knows %d); install that version again",
            db->path, (long long)version, STORE_SCHEMA);
    if (version < 1)
        return db_error(
            reterr, STORE_CORRUPT,
            "opening the store: '%s' says schema %lld, which never existed; restore a "
            "backup",
            db->path, (long long)version);
    return check_schema(db, reterr);
}

static enum store_status
create_tables(const struct db *db, struct store_error *reterr)
{
    char sql[120];
    enum store_status status = db_run(db, "BEGIN IMMEDIATE", "creating the store", reterr);

    for (size_t i = 0; i < SCHEMA_PARTS && status == STORE_OK; i++)
        if (schema[i].sql)
            status = db_run(db, schema[i].sql, "creating the store", reterr);
    if (status != STORE_OK)
        return status;
    (void)snprintf(sql, sizeof(sql),
                   "PRAGMA application_id = %d; PRAGMA user_version = %d; COMMIT",
                   DB_APPLICATION_ID, STORE_SCHEMA);
    return db_run(db, sql, "creating the store", reterr);
}

/* ---- opening ---- */

/* what: the path, or with SQLITE_OPEN_URI a name that begins with "file:". */
static enum store_status
open_sqlite(struct db *db, const char *what, int flags, const char *vfs,
            struct store_error *reterr)
{
    flags |= SQLITE_OPEN_NOMUTEX | SQLITE_OPEN_EXRESCODE;
    if (sqlite3_open_v2(what, &db->sql, flags, vfs) != SQLITE_OK)
        return db_failed(db, "opening the store", reterr);
    (void)sqlite3_busy_timeout(db->sql, BUSY_MS);
    /* Nothing the file says may run anything, and its own damage is looked for early. Known
     * options: these calls cannot fail. */
    (void)sqlite3_db_config(db->sql, SQLITE_DBCONFIG_TRUSTED_SCHEMA, 0, NULL);
    (void)sqlite3_db_config(db->sql, SQLITE_DBCONFIG_DEFENSIVE, 1, NULL);
    return db_run(db, "PRAGMA cell_size_check = ON", "opening the store", reterr);
}

/* Creates the file with our own mode: SQLite gives the same to -wal and -shm. Never opens an
 * existing one (closing it again would drop the locks that other connections of this process
 * hold). */
static enum store_status
create_file(const struct db *db, struct store_error *reterr)
{
    int fd = open(db->path, O_RDWR | O_CREAT | O_EXCL | O_CLOEXEC, 0640);

    if (fd < 0 && errno == EEXIST)
        return STORE_OK;
    if (fd < 0)
        return db_system_failed(errno, db->path, "creating the store", reterr);
    if (fchmod(fd, 0640) != 0) {
        int error = errno;
        (void)close(fd); /* empty: nothing to lose */
        return db_system_failed(error, db->path, "creating the store", reterr);
    }
    if (close(fd) != 0)
        return db_system_failed(errno, db->path, "creating the store", reterr);
    return STORE_OK;
}

/* SQLite deletes a log that lies beside an empty database: say so instead. */
static enum store_status
refuse_lost_database(const struct db *db, struct store_error *reterr)
{
    char wal[DB_PATH_MAX + 8];
    struct stat database, log;

    (void)snprintf(wal, sizeof(wal), "%s-wal", db->path);
    if (stat(db->path, &database) != 0 || database.st_size > 0 || stat(wal, &log) != 0 ||
        log.st_size == 0)
        return STORE_OK;
    return db_error(
        reterr, STORE_CORRUPT,
        "opening the store: '%s' is empty but its log is not: it was cut; keep a copy "
        "of the directory, then restore a backup or start an empty directory",
        db->path);
}

static enum store_status
sync_directory(const char *directory, struct store_error *reterr)
{
    int fd = open(directory, O_RDONLY | O_DIRECTORY | O_CLOEXEC);
    int error = 0;

    if (fd < 0)
        return db_system_failed(errno, directory, "creating the store", reterr);
    if (fsync(fd) != 0)
        error = errno;
    (void)close(fd); /* opened for reading */
    if (error != 0)
        return db_system_failed(error, directory, "creating the store", reterr);
    return STORE_OK;
}

static enum store_status
set_up_writer(const struct db *db, const struct store_options *options,
              struct store_error *reterr)
{
    char sql[200];
    int persist = 1;

    (void)snprintf(sql, sizeof(sql),
                   "PRAGMA synchronous = %s; PRAGMA wal_autocheckpoint = %d; "
                   "PRAGMA journal_size_limit = %d; PRAGMA cache_size = -4000",
                   options && options->synchronous_off ? "OFF" : "FULL", CHECKPOINT_PAGES,
                   WAL_LIMIT_BYTES);
    /* The log stays after a clean end: without it nobody could read in a directory he may not
     * write. */
    if (sqlite3_file_control(db->sql, "main", SQLITE_FCNTL_PERSIST_WAL, &persist) != SQLITE_OK)
        return db_failed(db, "opening the store", reterr);
    return db_run(db, sql, "opening the store", reterr);
}

enum store_status
db_open_writer(struct db *db, const char *directory, const struct store_options *options,
               struct store_error *reterr)
{
    bool empty = false;
    enum store_status status;

    db->sql = NULL;
    if ((status = set_path(db, directory, reterr)) != STORE_OK ||
        (status = create_file(db, reterr)) != STORE_OK ||
        (status = refuse_lost_database(db, reterr)) != STORE_OK ||
        (status = open_sqlite(db, db->path, SQLITE_OPEN_READWRITE,
                              options ? options->vfs : NULL, reterr)) != STORE_OK)
        return status;
    if (sqlite3_db_readonly(db->sql, "main") == 1)
        return db_system_failed(EACCES, db->path, "opening the store", reterr);
    if ((status = check_identity(db, &empty, reterr)) != STORE_OK ||
        (status = set_up_writer(db, options, reterr)) != STORE_OK ||
        (empty && (status = create_tables(db, reterr)) != STORE_OK) ||
        (status = db_run(db, "PRAGMA journal_mode = WAL", "opening the store", reterr)) !=
            STORE_OK)
        return status;
    /* Also makes the end of the creating transaction's journal last (S15). */
    return empty ? sync_directory(directory, reterr) : STORE_OK;
}

static enum store_status
not_in_wal_mode(const struct db *db, struct store_error *reterr)
{
    return db_error(reterr, STORE_CORRUPT,
                    "opening the store: '%s' is no longer in write-ahead mode: somebody has "
                    "changed the file; keep it, and restore a backup",
                    db->path);
}

/* A database that was taken out of WAL mode is read without its log, as if the last commits had
 * never been. */
static enum store_status
check_wal_mode(const struct db *db, struct store_error *reterr)
{
    sqlite3_stmt *stmt = NULL;
    enum store_status status = STORE_OK;

    if (sqlite3_prepare_v2(db->sql, "PRAGMA journal_mode", -1, &stmt, NULL) != SQLITE_OK ||
        sqlite3_step(stmt) != SQLITE_ROW)
        status = db_failed(db, "opening the store", reterr);
    else if (!same_text(sqlite3_column_text(stmt, 0), "wal"))
        status = not_in_wal_mode(db, reterr);
    sqlite3_finalize(stmt);
    return status;
}

/* ---- a copy on a stick ---- */

/* A copy that SQLite made (.backup) has no log, and where nobody may write none can be made:
 * SQLite then has to be told that nobody writes. Where the daemon has been there is a log
 * (S16); where there is none, and we may not write, it is a copy. */
static bool
is_lone_copy(const struct db *db, const char *directory)
{
    char wal[DB_PATH_MAX + 8];
    struct stat info;

    (void)snprintf(wal, sizeof(wal), "%s-wal", db->path);
    return stat(wal, &info) != 0 && errno == ENOENT && access(directory, W_OK) != 0;
}

/* "file:" and the path, with what means something in such a name written as %41. */
static void
copy_name(const struct db *db, char *ret, size_t size)
{
    size_t len = (size_t)snprintf(ret, size, "file:");

    for (const char *at = db->path; *at != '\0' && len + 24 < size; at++)
        len += (size_t)snprintf(ret + len, size - len, strchr("?#%", *at) ? "%%%02X" : "%c",
                                (unsigned char)*at);
    (void)snprintf(ret + len, size - len, "?immutable=1");
}

/* The mode of a copy stands in the file's header alone (SQLite's file format, 1.3: bytes 18 and
 * 19 are 2 in write-ahead mode). */
static enum store_status
check_copy_mode(const struct db *db, struct store_error *reterr)
{
    unsigned char modes[2] = {0, 0};
    int fd = open(db->path, O_RDONLY | O_CLOEXEC);
    ssize_t len = fd < 0 ? -1 : pread(fd, modes, sizeof(modes), 18);
    int error = errno;

    if (fd >= 0)
        (void)close(fd); /* opened for reading; whoever has locks on it may write there */
    if (len < 0)
        return db_system_failed(error, db->path, "opening the store", reterr);
    return modes[0] == 2 && modes[1] == 2 ? STORE_OK : not_in_wal_mode(db, reterr);
}

static enum store_status
open_copy(struct db *db, struct store_error *reterr)
{
    char name[3 * DB_PATH_MAX + 32];
    enum store_status status;

    copy_name(db, name, sizeof(name));
    if ((status = open_sqlite(db, name, SQLITE_OPEN_READONLY | SQLITE_OPEN_URI, NULL,
                              reterr)) != STORE_OK ||
        (status = check_identity(db, NULL, reterr)) != STORE_OK)
        return status;
    return check_copy_mode(db, reterr);
}

enum store_status
db_open_reader(struct db *db, const char *directory, struct store_error *reterr)
{
    struct stat info;
    enum store_status status;

    db->sql = NULL;
    if ((status = set_path(db, directory, reterr)) != STORE_OK)
        return status;
    if (stat(db->path, &info) != 0)
        return db_system_failed(errno, db->path, "opening the store", reterr);
    if (is_lone_copy(db, directory))
        return open_copy(db, reterr);
    if ((status = open_sqlite(db, db->path, SQLITE_OPEN_READONLY, NULL, reterr)) != STORE_OK)
        return status;
    (void)sqlite3_db_config(db->sql, SQLITE_DBCONFIG_NO_CKPT_ON_CLOSE, 1, NULL);
    if ((status = check_identity(db, NULL, reterr)) != STORE_OK)
        return status;
    return check_wal_mode(db, reterr);
}

void
db_close(struct db *db)
{
    if (db->sql)
        (void)sqlite3_close_v2(db->sql); /* statements are finalized by their owners */
    db->sql = NULL;
}
