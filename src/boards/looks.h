// SPDX-License-Identifier: GPL-3.0-or-later
// What the looks of the screen kit stand for in a show.
#ifndef SLOWMATCH_BOARDS_LOOKS_H
#define SLOWMATCH_BOARDS_LOOKS_H

#include "screen/cells.h"

#define SM_LOOK_STATE SM_LOOK_BADGE             // the state word while the rehearsed module is safe or arming
#define SM_LOOK_STATE_ARMED SM_LOOK_BADGE_ALERT // ... while it is armed, running, paused or ended
#define SM_LOOK_FLAME SM_LOOK_KIND_A
#define SM_LOOK_PYRO SM_LOOK_KIND_B
#define SM_LOOK_LIGHT SM_LOOK_KIND_C
#define SM_LOOK_MUSIC SM_LOOK_SHAPE
#define SM_LOOK_MUSIC_PAST SM_LOOK_SHAPE_PAST

#endif
