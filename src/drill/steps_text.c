// SPDX-License-Identifier: GPL-3.0-or-later
// Steps for people: what happened beside what was done. And for programs.
#include "slowmatch/drill.h"
#include "slowmatch/json.h"

#include <stdio.h>
#include <string.h>

#define TIME 11 // "1:02:03.456"
// Below this the two sides stand one below the other.
#define TWO_COLUMNS 60

// The next row of *TEXT in COLUMNS characters, filled up with blanks where PADDED.
static void put_cell(sm_text *out, const char **text, size_t columns, bool padded) {
    size_t next, length = strlen(*text);
    size_t bytes = sm_text_break(*text, length, columns, &next);
    sm_text_append(out, *text, bytes);
    size_t used = sm_utf8_count(*text, bytes);
    if (padded && used < columns)
        sm_text_printf(out, "%*s", (int)(columns - used), "");
    *text += next;
}

static void put_beside(const char *clock, const char *left, const char *right, size_t columns, sm_text *out) {
    size_t width = (columns - TIME - 4) / 2;
    do {
        sm_text_printf(out, "%*s ", TIME, clock);
        put_cell(out, &left, width, right[0] != '\0');
        if (right[0] != '\0') {
            sm_text_printf(out, " | ");
            put_cell(out, &right, width, false);
        }
        sm_text_append(out, "\n", 1);
        clock = "";
    } while (left[0] != '\0' || right[0] != '\0');
}

static void put_below(const char *clock, const char *text, bool own, size_t columns, sm_text *out) {
    sm_text line = {0};
    sm_text_printf(&line, "%s %s%s\n", clock, own ? "you: " : "", text);
    sm_text_append_wrapped(out, sm_text_get(&line), columns);
    out->failed |= line.failed;
    sm_text_deinit(&line);
}

void sm_drill_steps_text(const sm_drill_step *steps, uint32_t count, size_t columns, sm_text *out) {
    columns = columns < 40 ? 40 : columns;
    if (columns >= TWO_COLUMNS)
        put_beside("", "what happened", "what you did", columns, out);
    for (uint32_t i = 0; i < count; i++) {
        const sm_drill_step *step = &steps[i];
        char clock[24];
        bool own = sm_step_is_own(step->kind);
        sm_clock_format(clock, step->at_us);
        if (columns < TWO_COLUMNS)
            put_below(clock, step->text, own, columns, out);
        else
            put_beside(clock, own ? "" : step->text, own ? step->text : "", columns, out);
    }
}

void sm_debrief_text(const sm_debrief *debrief, size_t columns, sm_text *out) {
    columns = columns < 40 ? 40 : columns;
    sm_text_append_wrapped(out, debrief->head, columns);
    sm_text_printf(out, "\nWhat happened (since the drill began)\n");
    sm_drill_steps_text(debrief->steps, debrief->step_count, columns, out);
    sm_text_append_wrapped(out, debrief->tail, columns);
}

void sm_drill_step_json(const sm_drill_step *step, sm_text *out) {
    bool both = step->within_us != SM_UNSET_US && step->took_us != SM_UNSET_US;
    sm_us late = both && step->took_us > step->within_us ? step->took_us - step->within_us : 0;
    sm_json line = sm_json_line_open(out);
    sm_json_seconds(&line, "at", step->at_us);
    sm_json_text(&line, "kind", sm_step_kind_text(step->kind));
    sm_json_text(&line, "name", step->name);
    sm_json_text(&line, "text", step->text);
    sm_json_seconds(&line, "within", step->within_us);
    sm_json_seconds(&line, "took", step->took_us);
    sm_json_seconds(&line, "late", both ? late : SM_UNSET_US);
    sm_json_text(&line, "state", sm_state_text(step->state));
    sm_json_bool(&line, "key", step->key);
    sm_json_line_close(&line);
}
