// SPDX-License-Identifier: GPL-3.0-or-later
#include "console/let_go.h"

#include "console/modes/second_key.h"
#include "console/tell.h"

#include <stdlib.h>
#include <string.h>

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

// LET is what this name holds back, KEPT what other names hold back. Says what is in LET alone, which would fire again.
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

void sm_ui_let_go(sm_ui *ui, const char *name) {
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
