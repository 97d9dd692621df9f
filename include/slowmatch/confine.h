// SPDX-License-Identifier: GPL-3.0-or-later
// Processes of the program's own give up what they do not need, for good, before anything from outside reaches them.
#ifndef SLOWMATCH_CONFINE_H
#define SLOWMATCH_CONFINE_H

#include <stdbool.h>

typedef enum sm_confinement {
    // No program is started, and nothing is asked of other processes, of the machine's set-up or of its clock. For what must call libraries
    // of which nobody knows the needs.
    SM_CONFINE_STARTS_NOTHING,
    // Files are read, memory, threads and internet sockets are had; nothing is opened for writing, made, removed, renamed or started.
    SM_CONFINE_READS_AND_SENDS,
    SM_CONFINEMENT_COUNT
} sm_confinement;

// From here on this thread, and those that it makes, may do no more than HOW, and gain no rights. What is forbidden fails with EPERM, what
// is unknown with ENOSYS, so that the C library goes another way. False: this system has no such filter; the process gains no rights all the same.
bool sm_confine(sm_confinement how);

#endif
