// SPDX-License-Identifier: GPL-3.0-or-later
// Whoever follows at a seat: what they say until it is received, and what they are told. It knows no network but through its inbox.
#ifndef SLOWMATCH_TELL_SITTER_H
#define SLOWMATCH_TELL_SITTER_H

#include "tell/inbox.h"
#include "tell/seats.h"

// {0}: no seat.
typedef struct sitter {
    char seat[SM_SEAT_NAME];                // "": none
    tell_seat_message said;                 // as said again and again
    int64_t line_us[TELL_LINES_MAX];        // our clock, when each of its lines was said first
    int64_t due_us, held_us, last_us;       // our clock; when hold was called last, and the latest line
    int64_t last_n;                         // lines ever
    int64_t holds_received, lines_received; // by the lead's console
    seat_words *first, **last, *told;       // not taken yet; taken last
    char *debrief;
    sm_follow_seat standing;
    sm_seats_view seats;
    bool drill; // one is taken
} sitter;

void sitter_init(sitter *own, const char *seat, const char *who, const char *id);
void sitter_deinit(sitter *own);
void sitter_take_beat(sitter *own, const tell_beat_message *beat);
// False: it is no such message.
bool sitter_take_told(sitter *own, const void *bytes, size_t length);
// Says what is due to RUN, and gives up what was not received for long. BEAT_US: as sent, of the latest beat.
void sitter_look(sitter *own, inbox *in, const char *run, int64_t now_us, int64_t beat_us);
bool sitter_hold(sitter *own, const char *why, int64_t now_us);
bool sitter_say(sitter *own, const char *line, int64_t now_us);
void sitter_leave(sitter *own, inbox *in, const char *run, int64_t now_us);
sm_follow_hold sitter_hold_now(const sitter *own, int64_t now_us);
sm_follow_said sitter_said_now(const sitter *own, int64_t now_us);
const char *sitter_told(sitter *own, sm_seat_word *word);

#endif
