// SPDX-License-Identifier: GPL-3.0-or-later
// Holding back in two keys, and letting go again: typed in full, and read back.
#include "console/ui.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

// ---- holding back ------------------------------------------------------------------------------------

typedef struct pick {
    int key;
    const char *says;
    sm_zone zone;       // SM_ZONE_NONE: not by zone
    bool rails, flames; // all of them, one by one
} pick;

static const pick picks[] = {
    {'a', "all aerials", SM_ZONE_AERIAL, false, false}, {'g', "ground", SM_ZONE_GROUND, false, false},
    {'n', "near", SM_ZONE_NEAR, false, false},          {'f', "all flames", SM_ZONE_NONE, false, true},
    {'p', "all pyro", SM_ZONE_NONE, true, false},
};
#define PICKS (sizeof picks / sizeof picks[0])

// The names of the format's targets that PICK means, one at a time from *at on; NULL: no more.
static const char *next_name(const sm_show *show, const pick *p, uint32_t *at) {
    if (p->zone != SM_ZONE_NONE) {
        for (uint32_t i = 0; *at == 0 && i < show->effect_count; i++) {
            if (show->effects[i].zone == p->zone) {
                *at = 1;
                return sm_zone_text(p->zone);
            }
        }
        return NULL;
    }
    while (p->rails && *at < show->rail_count) {
        uint32_t rail = (*at)++;
        if (sm_rail_in_use(show, rail))
            return show->rails[rail].name;
    }
    while (p->flames && *at < show->fixture_count) {
        const sm_fixture *fixture = &show->fixtures[(*at)++];
        if (show->profiles[fixture->profile].flame)
            return fixture->name;
    }
    return NULL;
}

static bool is_there(const sm_show *show, const pick *p) {
    uint32_t at = 0;
    return next_name(show, p, &at) != NULL;
}

void sm_ui_ask_inhibit(sm_ui *ui) {
    for (size_t i = 0; i < PICKS; i++) {
        if (is_there(ui->view.show, &picks[i])) {
            ui->mode = SM_UI_INHIBIT;
            return;
        }
    }
    sm_ui_say(ui, SM_OUTCOME_TOLD, "nothing in this show can be held back");
}

void sm_inhibit_describe(const sm_view *view, sm_text *out) {
    sm_text_printf(out, "HOLD BACK which?");
    for (size_t i = 0; i < PICKS; i++)
        if (is_there(view->show, &picks[i]))
            sm_text_printf(out, "  %c %s", picks[i].key, picks[i].says);
    sm_text_printf(out, "  (any other key leaves it; i names one thing)");
}

void sm_ui_press_inhibit(sm_ui *ui, int key) {
    ui->mode = SM_UI_BOARD;
    for (size_t i = 0; i < PICKS; i++) {
        if (picks[i].key != key || !is_there(ui->view.show, &picks[i]))
            continue;
        uint32_t at = 0;
        for (const char *name = next_name(ui->view.show, &picks[i], &at); name;
             name = next_name(ui->view.show, &picks[i], &at)) {
            char line[128];
            snprintf(line, sizeof line, "%s %s", sm_action_row_of(SM_ACT_INHIBIT)->name, name);
            sm_ui_do(ui, line);
        }
        return;
    }
    sm_ui_say(ui, SM_OUTCOME_TOLD, "left: nothing more is held back than before");
}

// ---- letting go ----------------------------------------------------------------------------------------

static bool is_held_by(const sm_snapshot *now, const char *name) {
    for (uint32_t i = 0; i < now->inhibit_count; i++)
        if (strcmp(now->inhibits[i], name) == 0)
            return true;
    return false;
}

typedef struct marks {
    bool *slots, *fixtures;
} marks;

static bool marks_init(marks *m, const sm_show *show) {
    m->slots = calloc(show->slot_count + 1u, sizeof *m->slots);
    m->fixtures = calloc(show->fixture_count + 1u, sizeof *m->fixtures);
    return m->slots && m->fixtures;
}

static void marks_deinit(marks *m) {
    free(m->slots);
    free(m->fixtures);
}

static void add_name(sm_text *out, uint32_t *count, const char *name) {
    if (*count < 4)
        sm_text_printf(out, "%s%s", *count > 0 ? ", " : "", name);
    (*count)++;
}

// Says what of LET (what the name holds) is held by no other name, KEPT, and so goes again.
static void describe_let(const sm_snapshot *now, const marks *let, const marks *kept, sm_text *out) {
    const sm_show *show = now->show;
    uint32_t slots = 0, fixtures = 0, stay = 0;
    char name[48];
    sm_text units = {0};
    for (uint32_t slot = 0; slot < show->slot_count; slot++) {
        sm_slot_phase phase = now->slots[slot].phase;
        if (let->slots[slot] && phase != SM_SLOT_SPARE && phase != SM_SLOT_SPENT) {
            stay += kept->slots[slot];
            if (!kept->slots[slot])
                add_name(out, &slots, sm_slot_format(show, slot, name));
        }
    }
    for (uint32_t fixture = 0; fixture < show->fixture_count; fixture++) {
        stay += let->fixtures[fixture] && kept->fixtures[fixture];
        if (let->fixtures[fixture] && !kept->fixtures[fixture])
            add_name(&units, &fixtures, show->fixtures[fixture].name);
    }
    sm_text_printf(out, "%s (%u slot%s) FIRE AGAIN",
                   slots > 4    ? ", ..."
                   : slots == 0 ? "nothing"
                                : "",
                   slots, slots == 1 ? "" : "s");
    if (fixtures > 0) {
        sm_text_printf(out, "; %s%s (%u fixture%s) move and burn again", sm_text_get(&units),
                       fixtures > 4 ? ", ..." : "", fixtures, fixtures == 1 ? "" : "s");
    }
    if (stay > 0)
        sm_text_printf(out, "; %u stay held back by another name", stay);
    sm_text_printf(out, ".");
    sm_text_deinit(&units);
}

static void say_not_held(sm_ui *ui, const char *name) {
    const sm_snapshot *now = ui->view.snapshot;
    sm_text text = {0};
    sm_text_printf(&text, "%s holds nothing back; what does:", name);
    for (uint32_t i = 0; i < now->inhibit_count; i++)
        sm_text_printf(&text, "%s %s", i > 0 ? "," : "", now->inhibits[i]);
    sm_text_printf(&text, "%s", now->inhibit_count == 0 ? " nothing" : "");
    sm_ui_say(ui, SM_OUTCOME_WRONG, sm_text_get(&text));
    sm_text_deinit(&text);
}

void sm_ui_read_back_allow(sm_ui *ui, const char *name) {
    const sm_snapshot *now = ui->view.snapshot;
    sm_text says = {0}, line = {0};
    sm_text_printf(&line, "%s %s", sm_action_row_of(SM_ACT_ALLOW)->name, name);
    if (!(sm_action_row_of(SM_ACT_ALLOW)->states & 1u << now->state)) {
        ui->mode = SM_UI_BOARD;
        sm_ui_do(ui, sm_text_get(&line)); // refused, and the engine says why
    } else if (!is_held_by(now, name)) {
        say_not_held(ui, name);
    } else {
        marks let = {0}, kept = {0};
        sm_text_printf(&says, "ALLOW %s: ", name);
        if (marks_init(&let, now->show) && marks_init(&kept, now->show)) {
            sm_inhibit_mark(now->show, name, let.slots, let.fixtures);
            for (uint32_t i = 0; i < now->inhibit_count; i++)
                if (strcmp(now->inhibits[i], name) != 0)
                    sm_inhibit_mark(now->show, now->inhibits[i], kept.slots, kept.fixtures);
            describe_let(now, &let, &kept, &says);
            sm_ui_confirm(ui, SM_ACT_ALLOW, sm_text_get(&line), sm_text_get(&says));
        } else {
            sm_ui_say(ui, SM_OUTCOME_WRONG, "memory ran out: nothing was done");
        }
        marks_deinit(&let);
        marks_deinit(&kept);
    }
    sm_text_deinit(&says);
    sm_text_deinit(&line);
}
