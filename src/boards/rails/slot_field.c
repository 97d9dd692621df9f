// SPDX-License-Identifier: GPL-3.0-or-later
#include "boards/rails/rails.h"

#include "slowmatch/time_of_day.h"

#include <assert.h>
#include <stdio.h>
#include <string.h>

static sm_rails_field reading_field(const sm_slot_view *slot) {
    static const struct {
        const char *word;
        sm_look look;
    } words[] = {
        [SM_VERDICT_OPEN] = {"OPEN", SM_LOOK_WARN},     [SM_VERDICT_SHORT] = {"SHORT", SM_LOOK_WARN},
        [SM_VERDICT_LOW] = {"LOW", SM_LOOK_WARN},       [SM_VERDICT_HIGH] = {"HIGH", SM_LOOK_WARN},
        [SM_VERDICT_UNSURE] = {"UNSUR", SM_LOOK_WARN},  [SM_VERDICT_STRAY] = {"STRAY", SM_LOOK_WARN},
        [SM_VERDICT_SPARE] = {"spare", SM_LOOK_DIM},    [SM_VERDICT_UNREAD] = {"--", SM_LOOK_PLAIN},
        [SM_VERDICT_UNPLUGGED] = {"out", SM_LOOK_WARN},
    };
    static_assert(sizeof words / sizeof words[0] == SM_VERDICT_COUNT, "a word for each verdict");
    sm_rails_field f = {"", SM_LOOK_PLAIN};
    if (slot->verdict == SM_VERDICT_GOOD) {
        char ohms[24];
        sm_read_value_format(ohms, slot->reading);
        snprintf(f.text, sizeof f.text, "%.5s", ohms);
    } else {
        snprintf(f.text, sizeof f.text, "%s", words[slot->verdict].word);
        f.look = words[slot->verdict].look;
    }
    return f;
}

sm_rails_field sm_rails_field_of(const sm_snapshot *snapshot, uint32_t slot) {
    const sm_slot_view *view = &snapshot->slots[slot];
    sm_rails_field f = {"", SM_LOOK_PYRO};
    char span[24];
    switch (view->phase) {
    case SM_SLOT_FLYING:
        snprintf(f.text, sizeof f.text, "fly");
        return f;
    case SM_SLOT_BURNING:
        sm_countdown_format(view->until.us - snapshot->wall.us, span);
        span[strcspn(span, " ")] = '\0';
        snprintf(f.text, sizeof f.text, "*%.4s", span);
        return f;
    case SM_SLOT_SPENT:
        return (sm_rails_field){"spent", SM_LOOK_DIM};
    case SM_SLOT_MISFIRED:
        return (sm_rails_field){"MISF", SM_LOOK_WARN};
    case SM_SLOT_PASSED:
        return (sm_rails_field){"OVER", SM_LOOK_WARN};
    case SM_SLOT_HELD:
        return (sm_rails_field){"HELD", SM_LOOK_WARN};
    default:
        break;
    }
    if (view->tipped)
        return (sm_rails_field){"TIP", SM_LOOK_WARN};
    if (view->inhibited && view->verdict != SM_VERDICT_STRAY) // nothing holds back what no cue fires
        return (sm_rails_field){"INHIB", SM_LOOK_WARN};
    return reading_field(view);
}
