// SPDX-License-Identifier: GPL-3.0-or-later
#ifndef SLOWMATCH_LIGHTS_CID_H
#define SLOWMATCH_LIGHTS_CID_H

#include "slowmatch/lights.h"

// The component identifier of this user, kept in the user's data folder, made where there is none. It is this process's alone until that
// ends: two senders with one identifier starve each other. False: WHY.
bool lights_cid_take(uint8_t cid[SM_SACN_CID_BYTES], char why[SM_LIGHTS_WHY]);

#endif
