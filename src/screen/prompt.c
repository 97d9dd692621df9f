// SPDX-License-Identifier: GPL-3.0-or-later
#include "screen/prompt.h"

#include <stdio.h>
#include <string.h>

void sm_prompt_begin(sm_prompt *prompt, const char *label, const char *initial) {
    snprintf(prompt->label, sizeof prompt->label, "%s", label);
    snprintf(prompt->text, sizeof prompt->text, "%s", initial);
    prompt->length = prompt->cursor = strlen(prompt->text);
    prompt->offer[0] = '\0';
}

void sm_prompt_offer(sm_prompt *prompt, const char *text) {
    snprintf(prompt->offer, sizeof prompt->offer, "%s", text);
}

bool sm_prompt_offers(const sm_prompt *prompt) {
    return prompt->cursor == prompt->length && strlen(prompt->offer) > prompt->length &&
           strncmp(prompt->offer, prompt->text, prompt->length) == 0;
}

bool sm_prompt_take(sm_prompt *prompt) {
    if (!sm_prompt_offers(prompt))
        return false;
    memcpy(prompt->text, prompt->offer, sizeof prompt->text);
    prompt->length = prompt->cursor = strlen(prompt->text);
    return true;
}

bool sm_prompt_replace(sm_prompt *prompt, size_t from, const char *text) {
    size_t length = strlen(text), taken = prompt->cursor - from;
    if (prompt->length - taken + length >= sizeof prompt->text)
        return false;
    memmove(prompt->text + from + length, prompt->text + prompt->cursor, prompt->length - prompt->cursor + 1);
    memcpy(prompt->text + from, text, length);
    prompt->length += length - taken;
    prompt->cursor = from + length;
    return true;
}

static size_t before(const sm_prompt *prompt, size_t at) {
    if (at > 0) {
        at--;
        while (at > 0 && ((unsigned char)prompt->text[at] & 0xC0) == 0x80)
            at--;
    }
    return at;
}

static size_t after(const sm_prompt *prompt, size_t at) {
    if (at < prompt->length) {
        at++;
        while (at < prompt->length && ((unsigned char)prompt->text[at] & 0xC0) == 0x80)
            at++;
    }
    return at;
}

static void cut(sm_prompt *prompt, size_t from, size_t to) {
    memmove(prompt->text + from, prompt->text + to, prompt->length - to + 1);
    prompt->length -= to - from;
    prompt->cursor = from;
}

static size_t encode(int key, char out[4]) {
    unsigned code = (unsigned)key;
    if (code < 0x80) {
        out[0] = (char)code;
        return 1;
    }
    size_t length = code < 0x800 ? 2 : code < 0x10000 ? 3 : 4;
    static const unsigned char lead[] = {0, 0, 0xC0, 0xE0, 0xF0};
    for (size_t i = length - 1; i > 0; i--) {
        out[i] = (char)(0x80 | (code & 0x3F));
        code >>= 6;
    }
    out[0] = (char)(lead[length] | code);
    return length;
}

static void insert(sm_prompt *prompt, int key) {
    char bytes[4];
    size_t length = encode(key, bytes);
    if (prompt->length + length >= sizeof prompt->text)
        return;
    memmove(prompt->text + prompt->cursor + length, prompt->text + prompt->cursor,
            prompt->length - prompt->cursor + 1);
    memcpy(prompt->text + prompt->cursor, bytes, length);
    prompt->length += length;
    prompt->cursor += length;
}

bool sm_prompt_put(sm_prompt *prompt, const int *characters, size_t count) {
    sm_prompt changed = *prompt;
    for (size_t i = 0; i < count; i++) {
        size_t length = changed.length;
        insert(&changed, characters[i]);
        if (changed.length == length)
            return false;
    }
    *prompt = changed;
    return true;
}

sm_prompt_word sm_prompt_press(sm_prompt *prompt, int key) {
    switch (key) {
    case SM_KEY_ENTER:
        return SM_PROMPT_DONE;
    case SM_KEY_ESCAPE:
        return SM_PROMPT_LEFT;
    case SM_KEY_BACKSPACE:
        cut(prompt, before(prompt, prompt->cursor), prompt->cursor);
        break;
    case SM_KEY_DELETE:
        cut(prompt, prompt->cursor, after(prompt, prompt->cursor));
        break;
    case SM_KEY_ERASE_LINE:
        cut(prompt, 0, prompt->cursor);
        break;
    case SM_KEY_LEFT:
        prompt->cursor = before(prompt, prompt->cursor);
        break;
    case SM_KEY_RIGHT:
        prompt->cursor = after(prompt, prompt->cursor);
        break;
    case SM_KEY_HOME:
        prompt->cursor = 0;
        break;
    case SM_KEY_END:
        prompt->cursor = prompt->length;
        break;
    default:
        if (key >= 0x20 && key < SM_KEY_SPECIAL && key != 0x7F)
            insert(prompt, key);
        break;
    }
    return SM_PROMPT_GOES_ON;
}

void sm_prompt_draw(const sm_prompt *prompt, sm_area area, int *cursor_x) {
    int x = sm_area_text(area, 0, 0, SM_LOOK_NOW, prompt->label);
    x += sm_area_text(area, x, 0, SM_LOOK_NOW, " ");
    sm_text left = {0};
    sm_text_append(&left, prompt->text, prompt->cursor);
    int columns = sm_text_columns(sm_text_get(&left)), room = area.columns - x - 1;
    int skipped = columns > room ? columns - room : 0;
    sm_text_deinit(&left);
    sm_area part = sm_area_part(area, x, 0, area.columns - x, 1);
    int end = -skipped + sm_area_text(part, -skipped, 0, SM_LOOK_PLAIN, prompt->text);
    if (sm_prompt_offers(prompt))
        sm_area_field(part, end, 0, part.columns - end, SM_LOOK_DIM, prompt->offer + prompt->length);
    int at = x + columns - skipped;
    *cursor_x = at < 0 ? 0 : at >= area.columns ? area.columns - 1 : at;
}

// ---- what a word may go on with -----------------------------------------------------------

void sm_candidates_put(sm_candidates *to, const char *word, size_t length, const char *name) {
    if (strncmp(name, word, length) != 0 || strlen(name) >= SM_CANDIDATE_BYTES)
        return;
    if (to->count++ == 0)
        snprintf(to->common, sizeof to->common, "%s", name);
    size_t same = 0;
    while (to->common[same] != '\0' && to->common[same] == name[same])
        same++;
    while (same > 0 && ((unsigned char)to->common[same] & 0xC0) == 0x80) // in no character
        same--;
    to->common[same] = '\0';
    if (to->kept < SM_CANDIDATES)
        snprintf(to->names[to->kept++], SM_CANDIDATE_BYTES, "%s", name);
}

static bool step(sm_prompt *prompt, sm_candidates *all, bool forward) {
    size_t at = all->chosen == 0 ? (forward ? 0 : all->kept - 1)
                : forward        ? all->chosen % all->kept
                                 : (all->chosen + all->kept - 2) % all->kept;
    if (!sm_prompt_replace(prompt, all->start, all->names[at]))
        return false;
    all->chosen = at + 1;
    return true;
}

sm_completed sm_prompt_complete(sm_prompt *prompt, sm_candidates *all, bool forward) {
    if (all->count == 0)
        return SM_COMPLETED_NOTHING;
    if (all->count == 1) {
        (void)sm_prompt_replace(prompt, all->start, all->names[0]);
        return SM_COMPLETED_WHOLE;
    }
    if (all->chosen == 0 && strlen(all->common) > prompt->cursor - all->start) {
        (void)sm_prompt_replace(prompt, all->start, all->common);
        return SM_COMPLETED_PART;
    }
    return step(prompt, all, forward) ? SM_COMPLETED_STEP : SM_COMPLETED_NOTHING;
}

// ---- lines typed before ---------------------------------------------------------------------

void sm_history_keep(sm_history *history, const char *line) {
    history->back = 0;
    const char *latest = history->count > 0 ? history->lines[(history->count - 1) % SM_HISTORY] : "";
    if (line[0] && strcmp(line, latest) != 0)
        snprintf(history->lines[history->count++ % SM_HISTORY], SM_PROMPT_BYTES, "%s", line);
}

const char *sm_history_look(sm_history *history, int by, const char *typed) {
    size_t most = history->count < SM_HISTORY ? history->count : SM_HISTORY;
    if ((by > 0 && history->back == most) || (by < 0 && history->back == 0))
        return NULL;
    if (history->back == 0)
        snprintf(history->typed, sizeof history->typed, "%s", typed);
    history->back = by > 0 ? history->back + 1 : history->back - 1;
    return history->back == 0 ? history->typed
                              : history->lines[(history->count - history->back) % SM_HISTORY];
}
