/* See the header. One global switch, as befits a broken disk. */
#include "tests/support/failing_vfs.h"

#include <sqlite3.h>
#include <stdatomic.h>
#include <stddef.h>
#include <string.h>

static atomic_int result = SQLITE_OK;

struct failing_file {
    sqlite3_file base;
    sqlite3_file *real; /* stands right behind */
};

static sqlite3_file *
real_of(sqlite3_file *file)
{
    return ((struct failing_file *)file)->real;
}

static int
fail_close(sqlite3_file *file)
{
    return real_of(file)->pMethods->xClose(real_of(file));
}

static int
fail_read(sqlite3_file *file, void *to, int amount, sqlite3_int64 at)
{
    return real_of(file)->pMethods->xRead(real_of(file), to, amount, at);
}

static int
fail_write(sqlite3_file *file, const void *from, int amount, sqlite3_int64 at)
{
    int set = atomic_load(&result);
    return set != SQLITE_OK ? set
                            : real_of(file)->pMethods->xWrite(real_of(file), from, amount, at);
}

static int
fail_truncate(sqlite3_file *file, sqlite3_int64 size)
{
    int set = atomic_load(&result);
    return set != SQLITE_OK ? set : real_of(file)->pMethods->xTruncate(real_of(file), size);
}

static int
fail_sync(sqlite3_file *file, int flags)
{
    int set = atomic_load(&result);
    return set != SQLITE_OK ? set : real_of(file)->pMethods->xSync(real_of(file), flags);
}

static int
fail_size(sqlite3_file *file, sqlite3_int64 *size)
{
    return real_of(file)->pMethods->xFileSize(real_of(file), size);
}

static int
fail_lock(sqlite3_file *file, int level)
{
    return real_of(file)->pMethods->xLock(real_of(file), level);
}

static int
fail_unlock(sqlite3_file *file, int level)
{
    return real_of(file)->pMethods->xUnlock(real_of(file), level);
}

static int
fail_reserved(sqlite3_file *file, int *reserved)
{
    return real_of(file)->pMethods->xCheckReservedLock(real_of(file), reserved);
}

static int
fail_control(sqlite3_file *file, int op, void *arg)
{
    return real_of(file)->pMethods->xFileControl(real_of(file), op, arg);
}

static int
fail_sector(sqlite3_file *file)
{
    return real_of(file)->pMethods->xSectorSize(real_of(file));
}

static int
fail_traits(sqlite3_file *file)
{
    return real_of(file)->pMethods->xDeviceCharacteristics(real_of(file));
}

static int
fail_shm_map(sqlite3_file *file, int page, int size, int extend, void volatile **memory)
{
    return real_of(file)->pMethods->xShmMap(real_of(file), page, size, extend, memory);
}

static int
fail_shm_lock(sqlite3_file *file, int offset, int n, int flags)
{
    return real_of(file)->pMethods->xShmLock(real_of(file), offset, n, flags);
}

static void
fail_shm_barrier(sqlite3_file *file)
{
    real_of(file)->pMethods->xShmBarrier(real_of(file));
}

static int
fail_shm_unmap(sqlite3_file *file, int remove)
{
    return real_of(file)->pMethods->xShmUnmap(real_of(file), remove);
}

static const sqlite3_io_methods methods = {
    .iVersion = 2,
    .xClose = fail_close,
    .xRead = fail_read,
    .xWrite = fail_write,
    .xTruncate = fail_truncate,
    .xSync = fail_sync,
    .xFileSize = fail_size,
    .xLock = fail_lock,
    .xUnlock = fail_unlock,
    .xCheckReservedLock = fail_reserved,
    .xFileControl = fail_control,
    .xSectorSize = fail_sector,
    .xDeviceCharacteristics = fail_traits,
    .xShmMap = fail_shm_map,
    .xShmLock = fail_shm_lock,
    .xShmBarrier = fail_shm_barrier,
    .xShmUnmap = fail_shm_unmap,
};

static int
fail_open(sqlite3_vfs *vfs, const char *name, sqlite3_file *file, int flags, int *out_flags)
{
    sqlite3_vfs *real = vfs->pAppData;
    struct failing_file *ours = (struct failing_file *)file;
    memset(ours, 0, sizeof *ours);
    ours->real = (sqlite3_file *)(void *)(ours + 1);
    int opened = real->xOpen(real, name, ours->real, flags, out_flags);
    ours->base.pMethods = opened == SQLITE_OK ? &methods : NULL;
    return opened;
}

void
failing_vfs_register(void)
{
    static sqlite3_vfs ours;
    sqlite3_vfs *real = sqlite3_vfs_find(NULL);
    ours = *real; /* everything but opening a file is the real one's */
    ours.szOsFile = (int)sizeof(struct failing_file) + real->szOsFile;
    ours.zName = FAILING_VFS;
    ours.pAppData = real;
    ours.pNext = NULL;
    ours.xOpen = fail_open;
    (void)sqlite3_vfs_register(&ours, 0);
}

void
failing_vfs_set(int set)
{
    atomic_store(&result, set);
}
