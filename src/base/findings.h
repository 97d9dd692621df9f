// SPDX-License-Identifier: GPL-3.0-or-later
#ifndef SLOWMATCH_BASE_FINDINGS_H
#define SLOWMATCH_BASE_FINDINGS_H

#include "slowmatch/base.h"

// The arena that holds the texts of FINDINGS, so that a test can fail each of its allocations in turn.
sm_arena *sm_findings_arena(sm_findings *findings);

#endif
