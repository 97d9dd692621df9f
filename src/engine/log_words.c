// SPDX-License-Identifier: GPL-3.0-or-later
// Rows of the log as words, out and in. The only file that knows the words of `what`.
#include "slowmatch/engine.h"

#include <assert.h>
#include <string.h>

static const char *const words[] = {
    [SM_LOG_ACTION] = "",         [SM_LOG_REFUSED] = "refused",     [SM_LOG_UNPAIRED] = "unpaired",
    [SM_LOG_STATE] = "state",     [SM_LOG_GUARD] = "guard",         [SM_LOG_FIRE] = "fire",
    [SM_LOG_MISFIRE] = "misfire", [SM_LOG_PASSED] = "passed",       [SM_LOG_SPENT] = "spent",
    [SM_LOG_OUT] = "out",         [SM_LOG_INHIBITED] = "inhibited", [SM_LOG_SET] = "set",
    [SM_LOG_HOME] = "home",       [SM_LOG_SOUND] = "sound",         [SM_LOG_EVENT] = "event",
    [SM_LOG_ALERT] = "alert",     [SM_LOG_MARK] = "mark",           [SM_LOG_UNKNOWN] = "unknown",
    [SM_LOG_LIGHTS] = "lights",   [SM_LOG_TIMECODE] = "timecode",
};
static_assert(sizeof words / sizeof words[0] == SM_LOG_COUNT, "a word for each kind of row");

const char *sm_log_word(sm_log_kind kind) {
    assert((unsigned)kind.what < SM_LOG_COUNT);
    return kind.what == SM_LOG_ACTION ? sm_act_word(kind.act) : words[kind.what];
}

bool sm_log_is_act(sm_log_kind kind, sm_act act) {
    return kind.what == SM_LOG_ACTION && kind.act == act;
}

// SM_ACT_COUNT: no action begins with WORD. A second word of its name stands in TARGET.
static sm_act act_of(const char *word, const char *target) {
    sm_act found = SM_ACT_COUNT;
    for (int i = SM_ACT_COUNT - 1; i >= 0; i--) {
        const char *second = strchr(sm_action_row_of((sm_act)i)->name, ' ');
        if (strcmp(sm_act_word((sm_act)i), word) != 0)
            continue;
        found = (sm_act)i;
        if (second && strcmp(second + 1, target) == 0)
            break;
    }
    return found;
}

sm_log_kind sm_log_kind_read(sm_source source, const char *word, const char *target) {
    sm_log_kind kind = {.what = SM_LOG_REFUSED};
    while (kind.what < SM_LOG_UNKNOWN && strcmp(words[kind.what], word) != 0)
        kind.what++;
    if (kind.what == SM_LOG_UNKNOWN || (kind.what == SM_LOG_MARK && source != SM_SOURCE_DRILL) ||
        (kind.what == SM_LOG_LIGHTS && source != SM_SOURCE_ENGINE)) {
        kind.act = act_of(word, target);
        kind.what = kind.act < SM_ACT_COUNT ? SM_LOG_ACTION : SM_LOG_UNKNOWN;
    } else if (kind.what == SM_LOG_REFUSED || kind.what == SM_LOG_UNPAIRED) {
        kind.act = act_of(target, "");
    } else if (kind.what == SM_LOG_STATE) {
        kind.state = sm_state_named(target);
        kind.what = kind.state < SM_STATE_COUNT ? SM_LOG_STATE : SM_LOG_UNKNOWN;
    }
    return kind;
}

void sm_log_row_format(sm_text *out, const sm_log_row *row) {
    char wall[24], show[24], source[SM_SEAT_NAME + 8];
    sm_text_printf(out, "%s,%s,%s,", sm_us_format(wall, row->wall.us),
                   row->has_show ? sm_us_format(show, row->show.us) : "",
                   sm_source_put(source, row->source, row->seat));
    const char *const fields[] = {sm_log_word(row->kind), row->cue, row->target, row->detail};
    for (size_t i = 0; i < sizeof fields / sizeof fields[0]; i++) {
        sm_text_append_csv_shown(out, fields[i]);
        sm_text_append(out, ",", 1);
    }
    sm_text_printf(out, "%lld\n", (long long)row->late_us);
}
