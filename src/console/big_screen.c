// SPDX-License-Identifier: GPL-3.0-or-later
#include "console/big_screen.h"

#include "boards/words/state_line.h"
#include "screen/big_figures.h"

#include <ctype.h>
#include <stdio.h>
#include <string.h>

// Tenths of a second are shown only so short before something: they are what costs bytes.
#define TENTHS_BELOW_US (3 * SM_US_PER_S)

typedef struct figure {
    char label[96], text[24];
} figure;

static void put_clock(sm_us us, char text[24]) {
    sm_us seconds = us >= 0 ? us / SM_US_PER_S : (-us + SM_US_PER_S - 1) / SM_US_PER_S;
    const char *sign = us < 0 ? "-" : "";
    if (seconds >= 3600) {
        snprintf(text, 24, "%s%lld:%02lld:%02lld", sign, (long long)(seconds / 3600),
                 (long long)(seconds / 60 % 60), (long long)(seconds % 60));
    } else {
        snprintf(text, 24, "%s%lld:%02lld", sign, (long long)(seconds / 60), (long long)(seconds % 60));
    }
}

// Rounded up, so that 0 means now.
static void put_countdown(sm_us span, char text[24]) {
    span = span > 0 ? span : 0;
    if (span < TENTHS_BELOW_US) {
        sm_us tenths = (span + SM_US_PER_S / 10 - 1) / (SM_US_PER_S / 10);
        snprintf(text, 24, "%lld.%lld", (long long)(tenths / 10), (long long)(tenths % 10));
    } else if (span < 100 * SM_US_PER_S) {
        snprintf(text, 24, "%lld", (long long)((span + SM_US_PER_S - 1) / SM_US_PER_S));
    } else {
        put_clock(span + SM_US_PER_S - 1, text);
    }
}

// The next firing, or where none is to come the next cue of lights.
static void next_cue(const sm_snapshot *now, figure *out) {
    const sm_show *show = now->show;
    char name[48];
    if (now->next_firing != SM_NONE) {
        const sm_firing *firing = &show->firings[show->events[now->next_firing].target];
        snprintf(out->label, sizeof out->label, "next %.40s %.40s in",
                 sm_slot_format(show, firing->slot, name), show->effects[firing->effect].name);
        put_countdown(sm_snapshot_until_event(now, now->next_firing), out->text);
    } else if (now->cursor < show->event_count) {
        uint32_t event = show->order[now->cursor];
        bool fires = show->cues[show->events[event].cue].kind == SM_CUE_FIRE;
        snprintf(out->label, sizeof out->label, "next cue%s in", fires ? ", not fired," : " of lights");
        put_countdown(sm_snapshot_until_event(now, event), out->text);
    } else {
        snprintf(out->label, sizeof out->label, "no cue to come");
    }
}

static figure second_figure(const sm_snapshot *now) {
    figure out = {"", ""};
    switch (now->state) {
    case SM_STATE_ARMING:
        snprintf(out.label, sizeof out.label, "armed in");
        put_countdown(now->arming_ends.us - now->wall.us, out.text);
        break;
    case SM_STATE_ARMED:
        if (now->starts_at.us != SM_UNSET_US) {
            snprintf(out.label, sizeof out.label, "starts by itself in");
            put_countdown(now->starts_at.us - now->wall.us, out.text);
        }
        break;
    case SM_STATE_RUNNING:
    case SM_STATE_PAUSED:
        next_cue(now, &out);
        break;
    default: {
        sm_text wait = {0};
        (void)sm_wait_describe(now, &wait);
        snprintf(out.label, sizeof out.label, "%.90s", sm_text_get(&wait));
        if (now->wait_runs && now->wait_since.us != SM_UNSET_US)
            put_clock(now->wall.us - now->wait_since.us, out.text);
        sm_text_deinit(&wait);
        break;
    }
    }
    return out;
}

// The word in capitals, and whether it is one of the armed conditions, as the state line has them.
static bool state_word(const sm_view *view, char word[24]) {
    char room[1024] = ""; // as in the frame, the state stands without memory too
    sm_text line = SM_TEXT_IN(room);
    sm_state_line found = sm_state_line_look(view, &line);
    snprintf(word, 24, "%.*s", (int)found.word_length, sm_text_get(&line) + found.word_at);
    sm_text_deinit(&line);
    return found.armed;
}

static void draw_figures(const sm_view *view, sm_area area, int scale) {
    const sm_snapshot *now = view->snapshot;
    figure first = {"show time", ""}, second = second_figure(now);
    if (now->preview.on)
        snprintf(first.label, sizeof first.label, "PREVIEW, heard alone");
    put_clock(now->preview.on ? sm_preview_place(&now->preview, now->wall).us : now->at.us, first.text);
    int half = area.columns / 2;
    const struct {
        const figure *figure;
        sm_look look;
        int x;
    } both[] = {{&first, SM_LOOK_PLAIN, 0}, {&second, SM_LOOK_NOW, half}};
    for (size_t i = 0; i < 2; i++) {
        sm_area part = sm_area_part(area, both[i].x, 0, half - 1, area.rows);
        sm_area_field(part, 0, 0, part.columns, SM_LOOK_DIM, both[i].figure->label);
        sm_figures_draw(sm_area_part(part, 0, 1, part.columns, part.rows - 1), scale, both[i].look,
                        both[i].figure->text);
    }
}

// What is wrong in capitals: of the words that are never cut, as many as there is room for; where there is none, the rank.
static void put_warning(const sm_alert *alert, int columns, char text[SM_ALERT_ESSENTIAL + 1]) {
    uint32_t length = alert->essential < SM_ALERT_ESSENTIAL ? alert->essential : SM_ALERT_ESSENTIAL;
    for (uint32_t i = 0; i < length; i++)
        text[i] = (char)toupper((unsigned char)alert->words[i]);
    text[length] = '\0';
    while (length > 0 && !sm_figures_fit(text, columns)) {
        while (length > 0 && text[length - 1] != ' ')
            length--;
        while (length > 0 && strchr(" ,:", text[length - 1]))
            length--;
        text[length] = '\0';
    }
    if (length == 0)
        snprintf(text, SM_ALERT_ESSENTIAL + 1, "%s", sm_alert_rank_text(sm_alert_row_of(alert->id)->rank));
}

void sm_big_screen_draw(const sm_view *view, sm_area area) {
    char word[24];
    sm_look look = state_word(view, word) ? SM_LOOK_WARN : SM_LOOK_TITLE;
    area = sm_area_part(area, 1, 0, area.columns - 2, area.rows);
    // REHEARSAL, a gap, the state, a row of labels, the figures.
    int scale = (area.rows - 2) / (3 * SM_FIGURE_ROWS);
    bool whole = scale >= 1;
    scale = whole ? scale : 1;
    int above = whole ? SM_FIGURE_ROWS * scale + 1 : 1;
    const sm_alerts *alerts = view->alerts;
    const bool warns = alerts->count > 0 && sm_alert_row_of(alerts->at[0].id)->rank == SM_ALERT_WARNING;
    char warning[SM_ALERT_ESSENTIAL + 1] = "";
    if (warns)
        put_warning(&alerts->at[0], area.columns, warning);
    if (whole)
        sm_figures_draw(sm_area_part(area, 0, 0, area.columns, above - 1), scale,
                        warns ? SM_LOOK_WARN : SM_LOOK_TITLE, warns ? warning : "REHEARSAL");
    else
        sm_area_text(area, 0, 0, SM_LOOK_TITLE, "R E H E A R S A L");
    sm_figures_draw(sm_area_part(area, 0, above, area.columns, SM_FIGURE_ROWS * scale), scale, look, word);
    int y = above + SM_FIGURE_ROWS * scale;
    draw_figures(view, sm_area_part(area, 0, y, area.columns, area.rows - y), scale);
}
