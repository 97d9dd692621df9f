// SPDX-License-Identifier: GPL-3.0-or-later
#include "tell/seats.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

// Who says nothing for so long is lost. Nobody takes their place without the lead's word.
#define LOST_US (3 * SM_US_PER_S)
// A line of somebody who had heard no beat for so long was said into another moment than this.
#define LATE_US (2 * SM_US_PER_S)
#define AGAIN_US (SM_US_PER_S / 2)

static seat_row *find(seat_table *seats, const char *name) {
    for (uint32_t i = 0; i < seats->count; i++)
        if (strcmp(seats->at[i].seat.name, name) == 0)
            return &seats->at[i];
    return NULL;
}

void seats_grant(seat_table *seats, const char *names) {
    while (names && *names && seats->count < TELL_SEATS_MAX) {
        size_t length = strcspn(names, ",");
        if (length > 0 && length < SM_SEAT_NAME)
            memcpy(seats->at[seats->count++].seat.name, names, length);
        names += length + (names[length] == ',');
    }
}

static void forget_words(seat_row *row) {
    for (seat_words *words = row->first, *next; words; words = next) {
        next = words->next;
        free(words);
    }
    row->first = NULL;
}

void seats_deinit(seat_table *seats) {
    for (uint32_t i = 0; i < seats->count; i++)
        forget_words(&seats->at[i]);
}

static void stand_up(seat_row *row) {
    tell_seat free_seat = {0};
    memcpy(free_seat.name, row->seat.name, sizeof free_seat.name);
    if (row->seat.id[0])
        row->last = row->seat;
    row->seat = free_seat;
    forget_words(row);
}

// Copies FROM, which somebody else wrote.
static void copy_plain(char *to, size_t room, const char *from) {
    snprintf(to, room, "%s", from);
    sm_text_blank_harm(to, strlen(to));
}

// False: somebody else sits there, or they were sent away.
static bool sit_down(seat_row *row, const tell_seat_message *message, int64_t now_us) {
    bool same = strcmp(row->seat.id, message->id) == 0;
    if (!same && (row->seat.id[0] || strcmp(row->out_id, message->id) == 0)) {
        row->asked_us = now_us;
        return false;
    }
    if (!same)
        memcpy(row->seat.id, message->id, sizeof row->seat.id);
    if (!same && strcmp(row->last.id, message->id) == 0) { // what they said before they left is not said anew
        row->seat.holds = row->last.holds;
        row->seat.lines = row->last.lines;
    }
    copy_plain(row->seat.who, sizeof row->seat.who, message->who);
    row->heard_us = now_us;
    row->seat.sits = SM_SITS_THERE;
    return true;
}

// A hold that was counted already is not called again.
static void call_hold(seat_row *row, const tell_seat_message *message, sm_session *session, int64_t now_us) {
    char line[SM_SESSION_LINE], why[sizeof message->why], when[48] = "";
    int64_t ago_us = message->held_mono_us > 0 ? now_us - message->held_mono_us : 0;
    copy_plain(why, sizeof why, message->why);
    if (ago_us > SM_US_PER_S)
        snprintf(when, sizeof when, "called %lld s ago: ", (long long)(ago_us / SM_US_PER_S));
    snprintf(line, sizeof line, "hold %s %s%s", row->seat.name, when,
             why[strspn(why, " ")] ? why : "no reason given");
    if (message->holds > row->seat.holds && sm_session_act_from(session, row->seat.name, line))
        row->seat.holds = message->holds;
}

bool tell_is_stop(const char *line) {
    static const char *const stops[] = {"safe", "pause", "hold", SM_NO_DRILL};
    for (size_t i = 0; i < sizeof stops / sizeof stops[0]; i++)
        if (strncmp(line, stops[i], strlen(stops[i])) == 0)
            return true;
    return false;
}

// What was said into a moment that is over is not done now: a clear above all. A stop is.
static void take_line(seat_table *seats, seat_row *row, const tell_line *said, bool late,
                      sm_session *session) {
    char line[sizeof said->line], answer[sizeof said->line + 40];
    copy_plain(line, sizeof line, said->line);
    if (late && !tell_is_stop(line)) {
        snprintf(answer, sizeof answer, "TOO LATE, not done: %s", line);
        row->seat.lines = said->n;
        seats_say(seats, row->seat.name, SM_SEAT_ANSWERED, answer);
    } else if (sm_session_act_from(session, row->seat.name, line)) {
        row->seat.lines = said->n;
    }
}

static void hear(seat_row *row, int64_t heard) {
    while (row->first && row->first->n <= heard) {
        seat_words *words = row->first;
        row->first = words->next;
        free(words);
    }
}

bool seats_take(seat_table *seats, const char *name, const tell_seat_message *message, sm_session *session,
                int64_t now_us) {
    seat_row *row = find(seats, name);
    if (!row || !message->id[0] || !sit_down(row, message, now_us))
        return false;
    hear(row, message->heard);
    call_hold(row, message, session, now_us);
    for (uint32_t i = 0; i < message->line_count; i++)
        if (message->lines[i].n > row->seat.lines)
            take_line(seats, row, &message->lines[i], now_us - message->beat_us > LATE_US, session);
    if (message->leaves)
        stand_up(row);
    return true;
}

void seats_look(seat_table *seats, int64_t now_us) {
    for (uint32_t i = 0; i < seats->count; i++) {
        seat_row *row = &seats->at[i];
        if (row->seat.sits == SM_SITS_THERE && now_us - row->heard_us > LOST_US)
            row->seat.sits = SM_SITS_LOST;
        row->seat.asked = row->asked_us > 0 && now_us - row->asked_us < LOST_US;
    }
}

void seats_free(seat_table *seats, const char *name) {
    seat_row *row = find(seats, name);
    if (!row)
        return;
    memcpy(row->out_id, row->seat.id, sizeof row->out_id); // "" where nobody sat: then anybody may
    row->asked_us = 0;
    stand_up(row);
}

bool seats_say(seat_table *seats, const char *name, sm_seat_word word, const char *text) {
    seat_row *row = find(seats, name);
    seat_words **last = row ? &row->first : NULL;
    size_t length = strlen(text);
    if (!row || !row->seat.id[0] || length == 0)
        return false;
    seat_words *words = calloc(1, sizeof *words + length + 1);
    if (!words)
        return false;
    words->n = ++row->words_n;
    words->word = word;
    memcpy(words->text, text, length + 1);
    while (*last)
        last = &(*last)->next;
    *last = words;
    row->told_us = 0;
    return true;
}

bool seats_write(seat_table *seats, uint32_t i, int64_t now_us, sm_text *out) {
    seat_row *row = &seats->at[i];
    tell_told_message message = {.mono_us = now_us};
    if (!row->first || now_us - row->told_us < AGAIN_US)
        return false;
    memcpy(message.id, row->seat.id, sizeof message.id);
    for (const seat_words *words = row->first; words && message.said_count < TELL_SAID_MAX;
         words = words->next)
        message.said[message.said_count++] =
            (tell_said){.n = words->n, .word = (int32_t)words->word, .text = words->text};
    row->told_us = now_us;
    tell_write(out, TELL_TOLD, &message, NULL, NULL);
    return !out->failed;
}
