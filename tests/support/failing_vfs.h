/* An SQLite VFS over the default one whose writes and syncs fail on demand: a full disk, for
 * tests. */
#ifndef SUPPORT_FAILING_VFS_H
#define SUPPORT_FAILING_VFS_H

#define FAILING_VFS "trivet-failing"

/* Registers it; call once before use. */
void failing_vfs_register(void);
/* From now on every write, truncation and sync ends with the SQLite result (SQLITE_FULL,
 * SQLITE_IOERR, ...); SQLITE_OK heals the disk. */
void failing_vfs_set(int result);

#endif
