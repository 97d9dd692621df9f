// SPDX-License-Identifier: GPL-3.0-or-later
#include "session/given_lines.h"

#include <assert.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define ROOM_AT_FIRST 64

// Skips blanks, then one word, which is put into WORD (cut where longer).
static const char *next_word(const char *at, char word[16]) {
    at += strspn(at, " \t");
    size_t length = strcspn(at, " \t"), kept = length < 15 ? length : 15;
    memcpy(word, at, kept);
    word[kept] = '\0';
    return at + length;
}

static sm_stop stop_of(const char *text) {
    char word[16];
    text = next_word(text, word);
    if (strcmp(word, "remote") == 0) {
        text = next_word(text, word); // its number
        text = next_word(text, word);
    }
    if (strcmp(word, "key") == 0) {
        next_word(text, word);
        return strcmp(word, "off") == 0 ? SM_STOP_SAFE : SM_STOP_NONE;
    }
    if (strcmp(word, "safe") == 0 || strcmp(word, "quit") == 0 || strcmp(word, "NO") == 0) // NO DRILL
        return SM_STOP_SAFE;
    return strcmp(word, "pause") == 0 || strcmp(word, "hold") == 0 ? SM_STOP_PAUSE : SM_STOP_NONE;
}

static sm_given_line *newest(sm_given_lines *lines) {
    return &lines->ring[(lines->first + lines->count - 1) % lines->room];
}

sm_result sm_given_init(sm_given_lines *lines) {
    lines->ring = calloc(ROOM_AT_FIRST, sizeof *lines->ring);
    lines->room = lines->ring ? ROOM_AT_FIRST : 0;
    return lines->ring ? SM_OK : SM_NO_MEMORY;
}

void sm_given_deinit(sm_given_lines *lines) {
    free(lines->ring);
}

static bool grow(sm_given_lines *lines) {
    sm_given_line *grown = calloc(2 * lines->room, sizeof *grown);
    if (!grown)
        return false;
    for (size_t i = 0; i < lines->count; i++)
        grown[i] = lines->ring[(lines->first + i) % lines->room];
    free(lines->ring);
    lines->ring = grown;
    lines->first = 0;
    lines->room *= 2;
    return true;
}

bool sm_given_put(sm_given_lines *lines, sm_source source, const char *seat, const char *text) {
    assert(lines->count <= lines->room && lines->room > SM_LINES_FOR_STOPS);
    size_t length = strlen(text);
    sm_stop stop = stop_of(text);
    bool only_stops = lines->count >= lines->room - SM_LINES_FOR_STOPS;
    if (length >= SM_SESSION_LINE || (stop == SM_STOP_NONE && only_stops && !grow(lines)))
        return false;
    if (lines->count < lines->room) {
        lines->count++;
        lines->given++;
    } else if (stop < newest(lines)->stop) {
        return true;
    }
    sm_given_line *line = newest(lines);
    line->source = source;
    snprintf(line->seat, sizeof line->seat, "%s", seat);
    line->stop = stop;
    memcpy(line->text, text, length + 1);
    return true;
}

bool sm_given_take(sm_given_lines *lines, sm_given_line *out) {
    if (lines->count == 0)
        return false;
    assert(lines->first < lines->room && lines->done < lines->given);
    *out = lines->ring[lines->first];
    lines->first = (lines->first + 1) % lines->room;
    lines->count--;
    return true;
}

size_t sm_given_to_last_stop(const sm_given_lines *lines) {
    for (size_t count = lines->count; count > 0; count--)
        if (lines->ring[(lines->first + count - 1) % lines->room].stop != SM_STOP_NONE)
            return count;
    return 0;
}
