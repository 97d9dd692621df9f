// SPDX-License-Identifier: GPL-3.0-or-later
#include "console/modes/hold_back.h"

#include "console/modes/mode.h"
#include "console/tell.h"

#include <stdio.h>

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

static void question(const sm_ui *ui, int columns, sm_text *out) {
    (void)columns;
    sm_text_printf(out, "HOLD BACK which?");
    for (size_t i = 0; i < PICKS; i++)
        if (is_there(ui->view.show, &picks[i]))
            sm_text_printf(out, "  %c %s", picks[i].key, picks[i].says);
    sm_text_printf(out, "  (any other %s leaves it; i names one thing)", ui->view.as_lines ? "line" : "key");
}

static void press(sm_ui *ui, int key) {
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

const sm_mode sm_mode_inhibit = {.asks = true, .press = press, .question = question};
