#include "tests/support/powercut_vfs.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <sqlite3.h>

#define SECTOR    512
#define FILES_MAX 8
#define NAME_MAX_ 400

/* One write, or a truncation (bytes NULL) to `at`. */
struct change {
    sqlite3_int64 at;
    int len;
    unsigned char *bytes;
};

/* A file and what is not synced of it; outlives its handles, as the page cache does. */
struct disk_file {
    char name[NAME_MAX_];
    struct change *changes;
    size_t count, room;
};

struct handle {
    sqlite3_file base;
    sqlite3_file *real;
    struct disk_file *disk;
};

static sqlite3_vfs *under;
static sqlite3_vfs vfs;
static struct disk_file files[FILES_MAX];
static uint64_t random_state, countdown;
static bool struck, full;

/* xorshift64*: repeatable anywhere. */
static uint64_t
next_random(void)
{
    random_state ^= random_state >> 12;
    random_state ^= random_state << 25;
    random_state ^= random_state >> 27;
    return random_state * UINT64_C(2685821657736338717);
}

/* Counts an operation; false when the machine is already down. */
static bool
alive(void)
{
    if (countdown > 0)
        countdown--;
    else
        struck = true;
    return !struck;
}

static void
forget(struct disk_file *disk)
{
    for (size_t i = 0; i < disk->count; i++)
        free(disk->changes[i].bytes);
    disk->count = 0;
}

static struct disk_file *
find(const char *name, bool make)
{
    struct disk_file *spare = NULL;

    for (size_t i = 0; i < FILES_MAX; i++) {
        if (strcmp(files[i].name, name) == 0)
            return &files[i];
        if (files[i].name[0] == '\0' && !spare)
            spare = &files[i];
    }
    if (!make || !spare || strlen(name) >= NAME_MAX_)
        return NULL;
    (void)strcpy(spare->name, name);
    return spare;
}

static bool
remember(struct disk_file *disk, sqlite3_int64 at, const void *bytes, int len)
{
    unsigned char *copy = NULL;

    if (disk->count == disk->room) {
        size_t room = disk->room == 0 ? 256 : disk->room * 2;
        struct change *grown = realloc(disk->changes, room * sizeof(*grown));
        if (!grown)
            return false;
        disk->changes = grown;
        disk->room = room;
    }
    if (bytes) {
        copy = malloc((size_t)len);
        if (!copy)
            return false;
        memcpy(copy, bytes, (size_t)len);
    }
    disk->changes[disk->count++] = (struct change){at, len, copy};
    return true;
}

/* ---- a file's methods ---- */

#define HANDLE(file) ((struct handle *)(void *)(file))
#define REAL(file)   (HANDLE(file)->real)

static int
vfs_close(sqlite3_file *file)
{
    struct handle *handle = HANDLE(file);
    int code =
        handle->real->pMethods ? handle->real->pMethods->xClose(handle->real) : SQLITE_OK;

    free(handle->real);
    handle->real = NULL;
    return code;
}

static int
vfs_file_size(sqlite3_file *file, sqlite3_int64 *ret)
{
    const struct disk_file *disk = HANDLE(file)->disk;
    int code = REAL(file)->pMethods->xFileSize(REAL(file), ret);

    for (size_t i = 0; disk && code == SQLITE_OK && i < disk->count; i++) {
        const struct change *change = &disk->changes[i];
        if (!change->bytes)
            *ret = change->at;
        else if (change->at + change->len > *ret)
            *ret = change->at + change->len;
    }
    return code;
}

/* Lays one change over what was read from `at`. */
static void
lay_over(unsigned char *buf, int len, sqlite3_int64 at, const struct change *change)
{
    sqlite3_int64 from = change->at > at ? change->at : at, to = at + len;

    if (!change->bytes) {
        if (change->at < to)
            memset(buf + (from - at), 0, (size_t)(to - from));
        return;
    }
    if (change->at + change->len < to)
        to = change->at + change->len;
    if (from < to)
        memcpy(buf + (from - at), change->bytes + (from - change->at), (size_t)(to - from));
}

static int
vfs_read(sqlite3_file *file, void *buf, int len, sqlite3_int64 at)
{
    const struct disk_file *disk = HANDLE(file)->disk;
    sqlite3_int64 size;
    int code;

    if (struck)
        return SQLITE_IOERR_READ;
    code = REAL(file)->pMethods->xRead(REAL(file), buf, len, at);
    if (!disk || disk->count == 0 || (code != SQLITE_OK && code != SQLITE_IOERR_SHORT_READ))
        return code;
    for (size_t i = 0; i < disk->count; i++)
        lay_over(buf, len, at, &disk->changes[i]);
    code = vfs_file_size(file, &size);
    if (code != SQLITE_OK)
        return code;
    return at + len <= size ? SQLITE_OK : SQLITE_IOERR_SHORT_READ;
}

static int
vfs_write(sqlite3_file *file, const void *buf, int len, sqlite3_int64 at)
{
    struct handle *handle = HANDLE(file);

    if (!alive())
        return SQLITE_IOERR_WRITE;
    if (full)
        return SQLITE_FULL;
    if (!handle->disk)
        return handle->real->pMethods->xWrite(handle->real, buf, len, at);
    return remember(handle->disk, at, buf, len) ? SQLITE_OK : SQLITE_NOMEM;
}

static int
vfs_truncate(sqlite3_file *file, sqlite3_int64 size)
{
    struct handle *handle = HANDLE(file);

    if (!alive())
        return SQLITE_IOERR_TRUNCATE;
    if (!handle->disk)
        return handle->real->pMethods->xTruncate(handle->real, size);
    return remember(handle->disk, size, NULL, 0) ? SQLITE_OK : SQLITE_NOMEM;
}

/* Brings the changes into the real file. */
static int
apply(sqlite3_file *real, const struct change *change)
{
    if (!change->bytes)
        return real->pMethods->xTruncate(real, change->at);
    return real->pMethods->xWrite(real, change->bytes, change->len, change->at);
}

static int
vfs_sync(sqlite3_file *file, int flags)
{
    struct handle *handle = HANDLE(file);
    int code = SQLITE_OK;

    (void)flags; /* the real files need not survive this machine's own power cut */
    if (!alive())
        return SQLITE_IOERR_FSYNC;
    for (size_t i = 0; handle->disk && code == SQLITE_OK && i < handle->disk->count; i++)
        code = apply(handle->real, &handle->disk->changes[i]);
    if (handle->disk && code == SQLITE_OK)
        forget(handle->disk);
    return code;
}

static int
vfs_lock(sqlite3_file *file, int lock)
{
    return REAL(file)->pMethods->xLock(REAL(file), lock);
}

static int
vfs_unlock(sqlite3_file *file, int lock)
{
    return REAL(file)->pMethods->xUnlock(REAL(file), lock);
}

static int
vfs_check_lock(sqlite3_file *file, int *ret)
{
    return REAL(file)->pMethods->xCheckReservedLock(REAL(file), ret);
}

static int
vfs_control(sqlite3_file *file, int op, void *arg)
{
    /* These would write past us. */
    if (op == SQLITE_FCNTL_SIZE_HINT || op == SQLITE_FCNTL_CHUNK_SIZE)
        return SQLITE_OK;
    return REAL(file)->pMethods->xFileControl(REAL(file), op, arg);
}

static int
vfs_sector_size(sqlite3_file *file)
{
    (void)file;
    return SECTOR;
}

static int
vfs_characteristics(sqlite3_file *file)
{
    (void)file;
    return 0; /* the least that a disk can promise: no atomic writes, no order, overwriting may
                 spoil a sector */
}

static int
vfs_shm_map(sqlite3_file *file, int page, int size, int extend, void volatile **ret)
{
    return REAL(file)->pMethods->xShmMap(REAL(file), page, size, extend, ret);
}

static int
vfs_shm_lock(sqlite3_file *file, int offset, int n, int flags)
{
    return REAL(file)->pMethods->xShmLock(REAL(file), offset, n, flags);
}

static void
vfs_shm_barrier(sqlite3_file *file)
{
    REAL(file)->pMethods->xShmBarrier(REAL(file));
}

static int
vfs_shm_unmap(sqlite3_file *file, int delete)
{
    return REAL(file)->pMethods->xShmUnmap(REAL(file), delete);
}

static const sqlite3_io_methods methods = {
    .iVersion = 2, /* no memory-mapped reads: they would not see the changes */
    .xClose = vfs_close,
    .xRead = vfs_read,
    .xWrite = vfs_write,
    .xTruncate = vfs_truncate,
    .xSync = vfs_sync,
    .xFileSize = vfs_file_size,
    .xLock = vfs_lock,
    .xUnlock = vfs_unlock,
    .xCheckReservedLock = vfs_check_lock,
    .xFileControl = vfs_control,
    .xSectorSize = vfs_sector_size,
    .xDeviceCharacteristics = vfs_characteristics,
    .xShmMap = vfs_shm_map,
    .xShmLock = vfs_shm_lock,
    .xShmBarrier = vfs_shm_barrier,
    .xShmUnmap = vfs_shm_unmap,
};

/* ---- the VFS's own ---- */

static int
vfs_open(sqlite3_vfs *self, const char *name, sqlite3_file *file, int flags, int *ret_flags)
{
    struct handle *handle = HANDLE(file);
    int code;

    (void)self;
    handle->base.pMethods = NULL;
    handle->disk = NULL;
    if (struck)
        return SQLITE_CANTOPEN;
    handle->real = calloc(1, (size_t)under->szOsFile);
    if (!handle->real)
        return SQLITE_NOMEM;
    code = under->xOpen(under, name, handle->real, flags, ret_flags);
    if (code != SQLITE_OK) {
        free(handle->real);
        return code;
    }
    if (name) {
        handle->disk = find(name, true);
        if (!handle->disk)
            abort(); /* a test that opens more files than this shim was made for */
    }
    handle->base.pMethods = &methods;
    return SQLITE_OK;
}

static int
vfs_delete(sqlite3_vfs *self, const char *name, int sync_directory)
{
    struct disk_file *disk = find(name, false);

    (void)self;
    if (!alive())
        return SQLITE_IOERR_DELETE;
    if (disk)
        forget(disk);
    return under->xDelete(under, name, sync_directory);
}

void
powercut_register(void)
{
    if (under)
        return;
    under = sqlite3_vfs_find(NULL);
    vfs = *under;
    vfs.szOsFile = sizeof(struct handle);
    vfs.zName = POWERCUT_VFS;
    vfs.pNext = NULL;
    vfs.xOpen = vfs_open;
    vfs.xDelete = vfs_delete;
    if (sqlite3_vfs_register(&vfs, 0) != SQLITE_OK)
        abort();
}

void
powercut_arm(uint64_t seed, uint64_t operations)
{
    for (size_t i = 0; i < FILES_MAX; i++) {
        forget(&files[i]);
        free(files[i].changes);
        files[i] = (struct disk_file){.name = ""};
    }
    random_state = seed * UINT64_C(2654435761) + 88172645463325252;
    countdown = operations;
    struck = full = false;
}

void
powercut_fill(bool full_now)
{
    full = full_now;
}

bool
powercut_struck(void)
{
    return struck;
}

/* The part of one change that reaches the disk. Returns the bytes that do not. */
static size_t
apply_part(FILE *file, const struct change *change, enum powercut_loss loss, bool torn)
{
    size_t lost = 0;

    for (int at = 0; at < change->len;) {
        int len = SECTOR - (int)((change->at + at) % SECTOR);
        if (len > change->len - at)
            len = change->len - at;
        bool keep = loss == POWERCUT_KEEP_SOME_SECTORS || torn ? next_random() % 2 == 0 : true;
        if (!keep)
            lost += (size_t)len;
        else if (fseek(file, (long)(change->at + at), SEEK_SET) != 0 ||
                 fwrite(change->bytes + at, 1, (size_t)len, file) != (size_t)len)
            abort();
        at += len;
    }
    return lost;
}

static size_t
settle_file(const struct disk_file *disk, enum powercut_loss loss)
{
    size_t kept = loss == POWERCUT_LOSE_ALL            ? 0
                  : loss == POWERCUT_KEEP_FIRST_WRITES ? next_random() % (disk->count + 1)
                                                       : disk->count;
    size_t lost = 0;
    FILE *file = disk->count > 0 ? fopen(disk->name, "r+") : NULL;

    for (size_t i = 0; i < disk->count; i++) {
        const struct change *change = &disk->changes[i];
        bool torn = loss == POWERCUT_KEEP_FIRST_WRITES && i + 1 == kept;
        if (i >= kept || !file || !change->bytes) /* a truncation not synced is lost */
            lost += (size_t)change->len;
        else
            lost += apply_part(file, change, loss, torn);
    }
    if (file && fclose(file) != 0)
        abort();
    return lost;
}

size_t
powercut_settle(enum powercut_loss loss)
{
    size_t lost = 0;

    struck = true;
    for (size_t i = 0; i < FILES_MAX; i++) {
        char shm[NAME_MAX_ + 8];
        if (files[i].name[0] == '\0')
            continue;
        lost += settle_file(&files[i], loss);
        forget(&files[i]);
        (void)snprintf(shm, sizeof(shm), "%.*s-shm", NAME_MAX_ - 1, files[i].name);
        (void)remove(shm); /* shared memory; most files have none */
    }
    return lost;
}
