/* An SQLite VFS whose disk forgets: what was written and not synced is kept apart, and at a
 * power cut only a seeded random part of it reaches the files, torn at sectors of 512 bytes.
 *
 * It lies over the default VFS and real files, so that after the cut anything may open them.
 * What a sync has confirmed is in the real file; reads see the unsynced writes too. After the
 * cut has struck every further operation fails, as for a process on a machine that is going
 * down. Deleting a file is taken as immediate: the store syncs its directory before it
 * acknowledges anything. One thread. */
#ifndef SUPPORT_POWERCUT_VFS_H
#define SUPPORT_POWERCUT_VFS_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#define POWERCUT_VFS "powercut"

/* What becomes of unsynced writes. */
enum powercut_loss {
    POWERCUT_LOSE_ALL,
    POWERCUT_KEEP_SOME_SECTORS, /* each sector of each write on its own: reordered and torn */
    POWERCUT_KEEP_FIRST_WRITES, /* in order up to some write, which is torn */
};

/* Registers the VFS, once. */
void powercut_register(void);

/* Forgets everything about files, and strikes when `operations` writes, truncations and syncs
 * have been asked for. */
void powercut_arm(uint64_t seed, uint64_t operations);
bool powercut_struck(void);

/* From now on, or no longer, the disk is full: every write fails for want of space. */
void powercut_fill(bool full);

/* Lets the cut happen now (struck or not): decides what of the unsynced writes reaches the real
 * files. Every connection must be closed. Returns how many bytes were lost. */
size_t powercut_settle(enum powercut_loss loss);

#endif
