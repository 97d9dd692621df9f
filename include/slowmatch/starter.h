// SPDX-License-Identifier: GPL-3.0-or-later
// The files of a new show, for `slowmatch new`: small, whole, without a finding, with comments from the schema that say what to
// change first. Pure: the same options give the same bytes; whoever calls writes them.
#ifndef SLOWMATCH_STARTER_H
#define SLOWMATCH_STARTER_H

#include "slowmatch/show.h"

// The largest numbers for which the show has no finding; the least are 0, but 1 of slots.
#define SM_STARTER_RAILS_MOST 100
#define SM_STARTER_SLOTS_MOST 200
#define SM_STARTER_LIGHTS_MOST 400
#define SM_STARTER_FLAMES_MOST 100
// Of the length: what is shown needs the one, and nobody begins with more than the other.
#define SM_STARTER_LENGTH_LEAST_US (20 * SM_US_PER_S)
#define SM_STARTER_LENGTH_MOST_US (3600 * SM_US_PER_S)
// In bytes: a line of show.ini holds no more.
#define SM_STARTER_TITLE_MOST 150

typedef struct sm_starter_options {
    const char *title; // UTF-8 without control characters, not blank, no semicolon behind a blank
    const char *music; // name of the file in the folder; NULL: a click track is made
    uint32_t rails, slots, lights, flames;
    sm_us length_us; // kept to the millisecond
} sm_starter_options;

// What is wrong with OPTIONS, one clear line; NULL: nothing.
const char *sm_starter_problem(const sm_starter_options *options);

// Takes the file NAME ("cues.csv", "drills/first-evening.ini"). Whatever it returns but SM_OK ends the work.
typedef sm_result sm_starter_put(void *context, const char *name, const char *bytes, size_t length);
// Gives every file of the show to PUT. OPTIONS have no problem. SM_NO_MEMORY, or what PUT returned.
SM_MUST_CHECK sm_result sm_starter_make(const sm_starter_options *options, sm_starter_put *put,
                                        void *context);

#endif
