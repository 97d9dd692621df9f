// SPDX-License-Identifier: GPL-3.0-or-later
#include "tell/sitter.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define SAY_US SM_US_PER_S
// While something was not received it is said more often.
#define SAY_AGAIN_US (SM_US_PER_S / 4)
#define NOT_DELIVERED_US SM_US_PER_S
// A line that was not received by then is given up: it would come into another moment. A stop is tried on.
#define GIVEN_UP_US (2 * SM_US_PER_S)

void sitter_init(sitter *own, const char *seat, const char *who, const char *id) {
    own->last = &own->first;
    if (!seat)
        return;
    snprintf(own->seat, sizeof own->seat, "%s", seat);
    snprintf(own->said.who, sizeof own->said.who, "%s", who ? who : "");
    snprintf(own->said.id, sizeof own->said.id, "%s", id);
    own->standing = SM_SEAT_UNHEARD;
}

void sitter_deinit(sitter *own) {
    for (seat_words *words = own->first, *next; words; words = next) {
        next = words->next;
        free(words);
    }
    free(own->told);
    free(own->debrief);
}

// ---- what comes -------------------------------------------------------------------------------

static void take_seat(sitter *own, const tell_seat *seat) {
    bool ours = strcmp(seat->id, own->said.id) == 0;
    if (strcmp(seat->name, own->seat) != 0)
        return;
    // Where nobody sits yet, the asking is on its way.
    own->standing = ours ? SM_SEAT_TAKEN : seat->id[0] || seat->asked ? SM_SEAT_REFUSED : SM_SEAT_UNHEARD;
    if (!ours)
        return;
    own->holds_received = seat->holds;
    own->lines_received = seat->lines > own->lines_received ? seat->lines : own->lines_received;
}

void sitter_take_beat(sitter *own, const tell_beat_message *beat) {
    own->seats.count = beat->seat_count;
    own->drill = beat->drill;
    if (own->seat[0])
        own->standing = SM_SEAT_UNKNOWN;
    for (uint32_t i = 0; i < beat->seat_count; i++) {
        const tell_seat *seat = &beat->seats[i];
        sm_seat_view *out = &own->seats.at[i];
        memcpy(out->name, seat->name, sizeof out->name);
        memcpy(out->who, seat->who, sizeof out->who);
        out->sits = (sm_sits)seat->sits;
        out->asked = seat->asked;
        if (own->seat[0])
            take_seat(own, seat);
    }
}

static void keep_words(sitter *own, const tell_said *said) {
    size_t length = strlen(said->text);
    seat_words *words = calloc(1, sizeof *words + length + 1);
    char *debrief = said->word == SM_SEAT_DEBRIEFED ? strdup(said->text) : NULL;
    if (!words || (said->word == SM_SEAT_DEBRIEFED && !debrief)) {
        free(words);
        free(debrief);
        return; // it is said again
    }
    if (debrief) {
        free(own->debrief);
        own->debrief = debrief;
    }
    words->n = said->n;
    words->word = (sm_seat_word)said->word;
    memcpy(words->text, said->text, length + 1);
    *own->last = words;
    own->last = &words->next;
    own->said.heard = said->n;
    own->due_us = 0; // heard, at once
}

bool sitter_take_told(sitter *own, const void *bytes, size_t length) {
    tell_told_message message = {0};
    tell_document *document = tell_read(TELL_TOLD, bytes, length, NULL, &message);
    bool ours = document && strcmp(message.id, own->said.id) == 0;
    for (uint32_t i = 0; ours && i < message.said_count; i++)
        if (message.said[i].n > own->said.heard)
            keep_words(own, &message.said[i]);
    tell_document_free(document);
    return document != NULL;
}

const char *sitter_told(sitter *own, sm_seat_word *word) {
    free(own->told);
    own->told = own->first;
    if (!own->told)
        return NULL;
    own->first = own->told->next;
    if (!own->first)
        own->last = &own->first;
    *word = own->told->word;
    return own->told->text;
}

// ---- what they say ----------------------------------------------------------------------------

static void drop_line(sitter *own, uint32_t i) {
    tell_seat_message *said = &own->said;
    said->line_count--;
    memmove(&said->lines[i], &said->lines[i + 1], (said->line_count - i) * sizeof said->lines[0]);
    memmove(&own->line_us[i], &own->line_us[i + 1], (said->line_count - i) * sizeof own->line_us[0]);
}

static void drop_lines(sitter *own, int64_t now_us) {
    for (uint32_t i = own->said.line_count; i-- > 0;) {
        const tell_line *line = &own->said.lines[i];
        bool given_up = now_us - own->line_us[i] > GIVEN_UP_US && !tell_is_stop(line->line);
        if (line->n <= own->lines_received || given_up)
            drop_line(own, i);
    }
}

static bool is_unheard(const sitter *own) {
    return own->said.holds > own->holds_received || own->said.line_count > 0;
}

void sitter_look(sitter *own, inbox *in, const char *run, int64_t now_us, int64_t beat_us) {
    if (!own->seat[0])
        return;
    drop_lines(own, now_us);
    if (now_us < own->due_us)
        return;
    own->said.sent_us = now_us;
    own->said.beat_us = beat_us;
    inbox_sit(in, run, own->seat, &own->said);
    own->due_us = now_us + (is_unheard(own) ? SAY_AGAIN_US : SAY_US);
}

bool sitter_hold(sitter *own, const char *why, int64_t now_us) {
    if (!own->seat[0])
        return false;
    if (own->said.holds <=
        own->holds_received) // else that one is on its way, and counts from its own beginning
        own->held_us = now_us;
    own->said.holds++;
    snprintf(own->said.why, sizeof own->said.why, "%s", why);
    own->due_us = 0;
    return true;
}

bool sitter_say(sitter *own, const char *line, int64_t now_us) {
    tell_seat_message *said = &own->said;
    if (!own->seat[0] || strlen(line) >= sizeof said->lines[0].line || said->line_count == TELL_LINES_MAX)
        return false;
    tell_line *out = &said->lines[said->line_count];
    out->n = ++own->last_n;
    snprintf(out->line, sizeof out->line, "%s", line);
    own->line_us[said->line_count++] = own->last_us = now_us;
    own->due_us = 0;
    return true;
}

void sitter_leave(sitter *own, inbox *in, const char *run, int64_t now_us) {
    if (!own->seat[0] || own->standing != SM_SEAT_TAKEN)
        return;
    own->said.sent_us = now_us;
    own->said.leaves = true;
    inbox_sit(in, run, own->seat, &own->said);
}

sm_follow_hold sitter_hold_now(const sitter *own, int64_t now_us) {
    if (own->said.holds == 0)
        return SM_HOLD_NONE;
    if (own->said.holds <= own->holds_received)
        return SM_HOLD_RECEIVED;
    return now_us - own->held_us < NOT_DELIVERED_US ? SM_HOLD_ON_ITS_WAY : SM_HOLD_NOT_DELIVERED;
}

sm_follow_said sitter_said_now(const sitter *own, int64_t now_us) {
    if (own->last_n == 0)
        return SM_SAID_NOTHING;
    if (own->last_n <= own->lines_received)
        return SM_SAID_RECEIVED;
    return now_us - own->last_us < NOT_DELIVERED_US ? SM_SAID_ON_ITS_WAY : SM_SAID_NOT_DELIVERED;
}
