// SPDX-License-Identifier: GPL-3.0-or-later
#include "boards/words/planted.h"

#include <stdio.h>
#include <string.h>

typedef struct pieces {
    sm_text *out;
    const char *but; // said already: what stands in it is left out
    bool any;
} pieces;

static void add(pieces *p, const char *format, ...) SM_PRINTF(2, 3);
static void add(pieces *p, const char *format, ...) {
    sm_text piece = {0};
    va_list args;
    va_start(args, format);
    sm_text_vprintf(&piece, format, args);
    va_end(args);
    if (!strstr(p->but, sm_text_get(&piece))) {
        sm_text_printf(p->out, "%s%s", p->any ? ", " : "", sm_text_get(&piece));
        p->any = true;
    }
    sm_text_deinit(&piece);
}

static void add_field(pieces *p, const sm_snapshot *now) {
    const sm_show *show = now->show;
    char name[48];
    for (uint32_t i = 0; i < show->position_count; i++)
        if (now->fire_at[i])
            add(p, "FIRE at %s", show->positions[i].name);
    for (uint32_t i = 0; i < show->slot_count; i++)
        if (now->slots[i].tipped)
            add(p, "%s has tipped over", sm_slot_format(show, i, name));
    for (uint32_t i = 0; i < show->fixture_count; i++) {
        if (now->flame_faults[i] != SM_FLAME_AS_TOLD) {
            add(p, now->flame_faults[i] == SM_FLAME_STUCK ? "%s burns on" : "%s does not light",
                show->fixtures[i].name);
        }
    }
    for (uint32_t i = 0; i < show->feed_count; i++)
        if (now->feed_lost[i])
            add(p, "feed %s is dead", show->feeds[i].name);
}

static void add_module(pieces *p, const sm_snapshot *now) {
    const sm_incidents *incidents = &now->incidents;
    if (incidents->link_lost)
        add(p, "link lost: treat as armed");
    for (uint32_t i = 0; i < now->show->module_count; i++)
        if (now->module_refuses[i])
            add(p, "module %s says not ready", now->show->modules[i].name);
    for (uint32_t i = 0; i < incidents->remote_count; i++) {
        if (incidents->remotes[i].unpaired_heard)
            add(p, "remote %d heard, not paired", incidents->remotes[i].number);
        if (incidents->remotes[i].weak)
            add(p, "remote %d battery low", incidents->remotes[i].number);
    }
}

static bool describe(const sm_snapshot *now, const char *but, sm_text *out) {
    pieces p = {.out = out, .but = but};
    add_field(&p, now);
    add_module(&p, now);
    if (now->incidents.storm)
        add(&p, "thunder");
    if (now->incidents.sound_lost)
        add(&p, "the music has stopped");
    return p.any;
}

bool sm_planted_describe(const sm_snapshot *snapshot, sm_text *out) {
    return describe(snapshot, "", out);
}

bool sm_planted_describe_older(const sm_snapshot *snapshot, sm_text *out) {
    return describe(snapshot, snapshot->incidents.latest, out);
}

bool sm_planted_describe_at_rail(const sm_snapshot *snapshot, uint32_t rail, sm_text *out) {
    const sm_rail *row = &snapshot->show->rails[rail];
    unsigned tipped = 0;
    for (int32_t n = 0; n < row->slots; n++)
        tipped += snapshot->slots[row->slot_base + (uint32_t)n].tipped;
    bool fire = row->position != SM_NONE && snapshot->fire_at[row->position];
    if (fire)
        sm_text_printf(out, "FIRE HERE");
    if (tipped > 0)
        sm_text_printf(out, "%s%u TIPPED OVER", fire ? ", " : "", tipped);
    return fire || tipped > 0;
}
