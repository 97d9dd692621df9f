// SPDX-License-Identifier: GPL-3.0-or-later
// Stock: what the day uses up, and what must be carried there, counted from the tables as the cues use them.
#include "check/rules_stock.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

typedef struct counting {
    sm_check_summary *s;
    bool no_memory;
} counting;

static sm_check_stock *row_of(counting *c, const char *kind, const char *name, const char *unit) {
    sm_check_summary *s = c->s;
    for (uint32_t i = 0; i < s->stock_count; i++)
        if (strcmp(s->stock[i].kind, kind) == 0 && strcmp(s->stock[i].name, name) == 0)
            return &s->stock[i];
    sm_check_stock *grown = sm_arena_resize(s->arena, s->stock, (s->stock_count + 1) * sizeof *grown);
    const char *kept = grown ? sm_arena_text(s->arena, name, strlen(name)) : NULL;
    if (grown)
        s->stock = grown;
    if (!kept) {
        c->no_memory = true;
        return NULL;
    }
    s->stock[s->stock_count] = (sm_check_stock){.kind = kind, .name = kept, .unit = unit};
    return &s->stock[s->stock_count++];
}

static void count(counting *c, const char *kind, const char *name, const char *unit, double amount) {
    sm_check_stock *row = amount > 0.0 && !c->no_memory ? row_of(c, kind, name, unit) : NULL;
    if (row)
        row->amount += amount;
}

static void count_length(counting *c, const char *kind, double length_m, const char *of) {
    char name[64];
    snprintf(name, sizeof name, "%.10g m %s", length_m, of);
    count(c, kind, name, "", length_m > 0.0 ? 1.0 : 0.0);
}

static void count_fired(counting *c, const sm_show *show) {
    for (uint32_t i = 0; i < show->firing_count; i++) {
        const sm_firing *firing = &show->firings[i];
        if (firing->effect == SM_NONE)
            continue;
        const sm_effect *effect = &show->effects[firing->effect];
        const char *igniter = show->igniters[effect->igniter].name;
        count(c, "effect", effect->name, "", 1.0);
        count(c, "igniter", igniter[0] != '\0' ? igniter : "(built in)", "", firing->igniters);
        count(c, "wire", firing->wire.text, "m", firing->wire_m);
    }
}

static void count_lines(counting *c, const sm_show *show) {
    for (uint32_t l = 0; l < show->line_count; l++) {
        for (uint32_t cable = 0; cable < show->lines[l].cable_count; cable++)
            count_length(c, "cable", show->lines[l].cables_m[cable], "DMX");
        count(c, "terminator", "DMX", "", show->lines[l].chain_count > 0 ? 1.0 : 0.0);
    }
}

sm_result check_count_stock(const sm_show *show, sm_check_summary *summary) {
    counting c = {.s = summary};
    count_fired(&c, show);
    for (uint32_t r = 0; r < show->rail_count; r++)
        if (sm_rail_in_use(show, r))
            count_length(&c, "cable", show->rails[r].cable_m, show->rails[r].cable.text);
    count_lines(&c, show);
    for (uint32_t f = 0; f < show->feed_count; f++)
        count_length(&c, "cord", show->feeds[f].cord_m, show->feeds[f].cord.text);
    for (uint32_t u = 0; u < summary->unit_count; u++)
        count(&c, "fuel", summary->units[u].name, isnan(summary->units[u].used_g) ? "ml" : "g",
              isnan(summary->units[u].used_g) ? summary->units[u].used_ml : summary->units[u].used_g);
    return c.no_memory ? SM_NO_MEMORY : SM_OK;
}
