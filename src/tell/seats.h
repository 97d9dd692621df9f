// SPDX-License-Identifier: GPL-3.0-or-later
// Seats that the lead granted: who sits there, what they said, what they are still to be told. Whoever uses it holds the post's lock.
#ifndef SLOWMATCH_TELL_SEATS_H
#define SLOWMATCH_TELL_SEATS_H

#include "tell/broker.h"
#include "tell/contract.h"

typedef struct seat_words {
    struct seat_words *next;
    int64_t n;
    sm_seat_word word;
    char text[];
} seat_words;

typedef struct seat_row {
    tell_seat seat;
    char out_id[TELL_ID]; // of whom the lead let go, "": nobody
    tell_seat last;       // as the latest one who sat there left it
    int64_t heard_us, asked_us;
    int64_t words_n, told_us; // words ever; when they were told last
    seat_words *first;        // not heard yet, the oldest first
} seat_row;

// {0}: none.
typedef struct seat_table {
    seat_row at[TELL_SEATS_MAX];
    uint32_t count;
} seat_table;

// NAMES with commas between; NULL: none.
void seats_grant(seat_table *seats, const char *names);
void seats_deinit(seat_table *seats);
// MESSAGE came for the seat NAME: what it asks for is acted in SESSION. False: nobody may say that there.
bool seats_take(seat_table *seats, const char *name, const tell_seat_message *message, sm_session *session,
                int64_t now_us);
// Who is lost, and who still asks.
void seats_look(seat_table *seats, int64_t now_us);
// The lead's word that NAME is free.
void seats_free(seat_table *seats, const char *name);
// TEXT is for whoever sits at NAME. False: memory ran out, or nobody sits there.
bool seats_say(seat_table *seats, const char *name, sm_seat_word word, const char *text);
// Writes what seat I is to be told now. False: nothing.
bool seats_write(seat_table *seats, uint32_t i, int64_t now_us, sm_text *out);

#endif
