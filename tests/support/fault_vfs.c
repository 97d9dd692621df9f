// SPDX-License-Identifier: GPL-3.0-or-later
#include "fault_vfs.h"

#include <sqlite3.h>
#include <stdatomic.h>
#include <stddef.h>
#include <string.h>

typedef struct faults {
    sqlite3_vfs *real;
    fault_kind kind;
    unsigned at, count;
    atomic_uint flushed; // by any thread
    bool lasting;
    const char *spared;
} faults;

typedef struct file {
    sqlite3_file base;
    sqlite3_file *real; // behind it in the same block
    bool spared;
} file;

static faults the_faults; // SQLite's callbacks on files carry no context of ours

static bool fails(sqlite3_file *f) {
    if (((file *)f)->spared)
        return false;
    the_faults.count++;
    return the_faults.at != 0 &&
           (the_faults.lasting ? the_faults.count >= the_faults.at : the_faults.count == the_faults.at);
}

static sqlite3_file *real_of(sqlite3_file *f) {
    return ((file *)f)->real;
}

static int write_at(sqlite3_file *f, const void *bytes, int length, sqlite3_int64 offset) {
    sqlite3_file *real = real_of(f);
    if (!fails(f))
        return real->pMethods->xWrite(real, bytes, length, offset);
    if (the_faults.kind == FAULT_SHORT)
        real->pMethods->xWrite(real, bytes, length / 2, offset);
    return the_faults.kind == FAULT_IO ? SQLITE_IOERR_WRITE : SQLITE_FULL;
}

static int truncate_to(sqlite3_file *f, sqlite3_int64 size) {
    return fails(f) ? SQLITE_IOERR_TRUNCATE : real_of(f)->pMethods->xTruncate(real_of(f), size);
}

static int flush(sqlite3_file *f, int flags) {
    (void)flags;
    the_faults.flushed++;
    return fails(f) ? SQLITE_IOERR_FSYNC : SQLITE_OK;
}

static int close_file(sqlite3_file *f) {
    return real_of(f)->pMethods->xClose(real_of(f));
}

static int read_at(sqlite3_file *f, void *bytes, int length, sqlite3_int64 offset) {
    return real_of(f)->pMethods->xRead(real_of(f), bytes, length, offset);
}

static int size_of(sqlite3_file *f, sqlite3_int64 *size) {
    return real_of(f)->pMethods->xFileSize(real_of(f), size);
}

static int lock(sqlite3_file *f, int level) {
    return real_of(f)->pMethods->xLock(real_of(f), level);
}

static int unlock(sqlite3_file *f, int level) {
    return real_of(f)->pMethods->xUnlock(real_of(f), level);
}

static int check_lock(sqlite3_file *f, int *out) {
    return real_of(f)->pMethods->xCheckReservedLock(real_of(f), out);
}

static int control(sqlite3_file *f, int op, void *argument) {
    return real_of(f)->pMethods->xFileControl(real_of(f), op, argument);
}

static int sector(sqlite3_file *f) {
    return real_of(f)->pMethods->xSectorSize(real_of(f));
}

static int character(sqlite3_file *f) {
    return real_of(f)->pMethods->xDeviceCharacteristics(real_of(f));
}

static int shm_map(sqlite3_file *f, int page, int size, int extend, void volatile **out) {
    return real_of(f)->pMethods->xShmMap(real_of(f), page, size, extend, out);
}

static int shm_lock(sqlite3_file *f, int offset, int n, int flags) {
    return real_of(f)->pMethods->xShmLock(real_of(f), offset, n, flags);
}

static void shm_barrier(sqlite3_file *f) {
    real_of(f)->pMethods->xShmBarrier(real_of(f));
}

static int shm_unmap(sqlite3_file *f, int remove) {
    return real_of(f)->pMethods->xShmUnmap(real_of(f), remove);
}

static const sqlite3_io_methods methods = {.iVersion = 2,
                                           .xClose = close_file,
                                           .xRead = read_at,
                                           .xWrite = write_at,
                                           .xTruncate = truncate_to,
                                           .xSync = flush,
                                           .xFileSize = size_of,
                                           .xLock = lock,
                                           .xUnlock = unlock,
                                           .xCheckReservedLock = check_lock,
                                           .xFileControl = control,
                                           .xSectorSize = sector,
                                           .xDeviceCharacteristics = character,
                                           .xShmMap = shm_map,
                                           .xShmLock = shm_lock,
                                           .xShmBarrier = shm_barrier,
                                           .xShmUnmap = shm_unmap};

static int open_file(sqlite3_vfs *vfs, const char *name, sqlite3_file *f, int flags, int *out_flags) {
    (void)vfs;
    file *opened = (file *)f;
    opened->real = (sqlite3_file *)(opened + 1);
    memset(opened->real, 0, (size_t)the_faults.real->szOsFile);
    int code = the_faults.real->xOpen(the_faults.real, name, opened->real, flags, out_flags);
    opened->spared = name && the_faults.spared && strstr(name, the_faults.spared);
    opened->base.pMethods = opened->real->pMethods ? &methods : NULL;
    return code;
}

void fault_vfs_install(const char *spared) {
    static sqlite3_vfs layer;
    the_faults.spared = spared;
    the_faults.real = sqlite3_vfs_find(NULL);
    layer = *the_faults.real;
    layer.zName = "faults";
    layer.pNext = NULL;
    layer.szOsFile = (int)sizeof(file) + the_faults.real->szOsFile;
    layer.xOpen = open_file;
    sqlite3_vfs_register(&layer, 1);
}

void fault_vfs_arm(fault_kind kind, unsigned at, bool lasting) {
    the_faults.kind = kind;
    the_faults.at = at;
    the_faults.lasting = lasting;
    the_faults.count = 0;
}

void fault_vfs_spare(const char *spared) {
    the_faults.spared = spared;
}

unsigned fault_vfs_count(void) {
    return the_faults.count;
}

unsigned fault_vfs_flushed(void) {
    return the_faults.flushed;
}
