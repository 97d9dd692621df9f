// SPDX-License-Identifier: GPL-3.0-or-later
// A take: music played through the audio part into a recording sound server, with the clock noted all the while, so
// that what was heard can be held against what the clock said.
#ifndef TAKE_H
#define TAKE_H

#include "sound_rig.h"

#include "slowmatch/audio.h"

#define TAKE_RATE 48000
#define TAKE_NUMBERS 30000 // the right channel counts frames from 1 to this, over and over
#define TAKE_HERTZ 440
#define TAKE_NOTES_MAX 400000 // over ten minutes

typedef struct take {
    sound_rig rig;
    char music[96];
    sm_audio *audio;
    struct take_note {
        double mono_s;
        int64_t wall_us;
    } notes[TAKE_NOTES_MAX];
    size_t note_count;
    bool went_back;
    double most_ahead_s; // the most that the clock went beyond true pace between two notes
} take;

typedef enum take_music {
    TAKE_NUMBERED, // left noise, right the frame's number: every frame is known
    TAKE_CLICKS,   // a click of 1 ms at each half second
    TAKE_TONE,     // a sine of TAKE_HERTZ
} take_music;

// True for `make soak`: the long runs, on a machine that does nothing else.
bool take_soaks(void);
// A program's main: hands over to the sound process where that is asked for, else runs TESTS (cmocka's group) and
// returns its status. Where the sound server, the recorder or this program were kept waiting for longer than the stream's
// buffer lasts (both are measured), a take is spoilt whatever the program under test does: a run that failed so is made
// again, up to three times, and the last one counts. A run that failed without such an excuse, or in a soak, counts at once.
int take_main(int argc, char **argv, int (*tests)(void));
// A test's set-up and tear-down: *state is a take at TAKE_RATE; where a program for the sound server is missing it is
// NULL, and take_of skips the test.
int take_setup(void **state);
int take_teardown(void **state);
take *take_of(void **state);
// NULL: failed, or *MISSING: a program for the sound server is missing. Free by take_destroy.
take *take_create(int rate_hz, bool *missing);
// Writes SECONDS of music at RATE_HZ and opens the audio part on it; returns once it sounds (within 10 s).
bool take_open(take *own, take_music music, int seconds, int rate_hz, sm_audio_options options);
void take_close(take *own);
// Lets SECONDS of rehearsal time go by, noting the clock all the while.
void take_wait(take *own, double seconds);
// Waits for an event of KIND, noting the clock, passing others over; false after SECONDS.
bool take_event(take *own, sm_audio_event_kind kind, double seconds, sm_audio_event *out);
// Rehearsal time at monotonic time MONO_S, from the notes. NAN outside.
double take_wall_s(const take *own, double mono_s);
void take_destroy(take *own);

// The number of the music's frame nearest to NEAR that a recorded frame can be; -1 if it carries no number.
int64_t take_numbered(const int16_t frame[2], double near);

// Lets the music run IN_S from now on, from show time FROM_S; returns when. Fails the test if refused.
sm_wall_time take_play(take *own, double in_s, double from_s, int32_t speed_ppm);
void take_stand(take *own);
// Rehearsal seconds at which recorded frame I was audible; NAN where the clock was not noted.
double take_heard_s(const take *own, const sound_recording *heard, size_t i);
// Which frame of the music is heard at rehearsal time WALL_S; -1 for silence, -2 for what carries no number.
int64_t take_heard_at(const take *own, const sound_recording *heard, double wall_s, double near_s);
// Fails the test unless the music's second MUSIC_S is heard at WALL_S to within 15 ms: with the machine busy; idle, it
// was seen within 1 ms.
void take_assert_heard(const take *own, const sound_recording *heard, double wall_s, double music_s);
#define TAKE_TOLERANCE_S 0.015

typedef struct take_clicks {
    int count;
    double mean_s, least_s, most_s;
} take_clicks;

// How far each click between rehearsal times BEGIN_S and END_S lay from its half second, in music time. The music ran
// from FROM on, at show time FROM_S and SPEED.
take_clicks take_clicks_find(const take *own, const sound_recording *heard, double begin_s, double end_s,
                             sm_wall_time from, double from_s, double speed);

#endif
