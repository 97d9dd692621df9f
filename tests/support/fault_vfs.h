// SPDX-License-Identifier: GPL-3.0-or-later
// SQLite's view of a disk that fails: a layer over the system's files, in which a chosen write fails.
#ifndef SLOWMATCH_TESTS_FAULT_VFS_H
#define SLOWMATCH_TESTS_FAULT_VFS_H

#include <stdbool.h>

typedef enum fault_kind {
    FAULT_FULL,  // ENOSPC: nothing of it is written
    FAULT_IO,    // EIO: nothing of it is written
    FAULT_SHORT, // half of it is written, then the disk is full
    FAULT_KINDS
} fault_kind;

// Puts the layer under every file that SQLite opens from now on, but for those whose path holds SPARED (NULL: none): they lie on
// another disk. Flushing to the disk is counted and left out: no power fails here.
void fault_vfs_install(const char *spared);
// The write number AT from now (1: the next; 0: none) fails, and with LASTING all after it. Writes, truncations and flushes count.
void fault_vfs_arm(fault_kind kind, unsigned at, bool lasting);
// From now on files that are opened are spared by this; NULL: none.
void fault_vfs_spare(const char *spared);
// Writes since the last arming.
unsigned fault_vfs_count(void);
// How often a file was to be flushed to the disk, since ever.
unsigned fault_vfs_flushed(void);

#endif
