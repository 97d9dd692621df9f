// SPDX-License-Identifier: GPL-3.0-or-later
#include "slowmatch/session.h"

#include <assert.h>
#include <string.h>

// Cut at a whole character.
static void copy_text(char *to, size_t room, const char *from) {
    size_t length = strlen(from);
    if (length >= room) {
        length = room - 1;
        while (length > 0 && ((unsigned char)from[length] & 0xC0) == 0x80)
            length--;
    }
    memcpy(to, from, length);
    to[length] = '\0';
}

void sm_recent_put(sm_recent *recent, const sm_log_row *row) {
    sm_recent_row *to = &recent->rows[recent->count % SM_RECENT_ROWS];
    to->wall = row->wall;
    to->has_show = row->has_show;
    to->show = row->show;
    to->source = row->source;
    copy_text(to->seat, sizeof to->seat, row->seat ? row->seat : "");
    to->kind = row->kind;
    copy_text(to->cue, sizeof to->cue, row->cue);
    copy_text(to->target, sizeof to->target, row->target);
    copy_text(to->detail, sizeof to->detail, row->detail);
    recent->count++;
}

void sm_recent_follow(sm_recent *to, const sm_recent *from) {
    assert(to->count <= from->count);
    uint64_t first = to->count;
    if (from->count > first + SM_RECENT_ROWS)
        first = from->count - SM_RECENT_ROWS;
    for (uint64_t n = first; n < from->count; n++)
        to->rows[n % SM_RECENT_ROWS] = from->rows[n % SM_RECENT_ROWS];
    to->count = from->count;
}

const sm_recent_row *sm_recent_at(const sm_recent *recent, uint64_t age) {
    if (age >= recent->count || age >= SM_RECENT_ROWS)
        return NULL;
    return &recent->rows[(recent->count - 1 - age) % SM_RECENT_ROWS];
}
