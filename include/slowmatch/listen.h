// SPDX-License-Identifier: GPL-3.0-or-later
// Timecode in: linear timecode (SMPTE ST 12-1) from a sound input, read, judged, and turned into the show's time.
//
// A listener has a sound process of its own (it can be killed, and can hang: nobody waits for it) and a thread that reads what that
// hears. Sound that is lost is timecode that is lost, at once.
//
// Threads: all functions may be called from any thread while the object lives, and none blocks for longer than a short lock, but open
// and close.
#ifndef SLOWMATCH_LISTEN_H
#define SLOWMATCH_LISTEN_H

#include "slowmatch/audio.h"

// Outside of these speeds it is not believed: no tape machine runs so.
#define SM_LISTEN_SLOWEST 0.8
#define SM_LISTEN_FASTEST 1.25
// Why nothing is believed, or what is wrong with it; the gravest.
typedef enum sm_timecode_trouble {
    SM_TIMECODE_FINE,
    SM_TIMECODE_NO_INPUT, // no device gives sound; `reason` says why
    SM_TIMECODE_NO_SOUND, // nothing is heard at all
    SM_TIMECODE_QUIET,    // too little is heard to be read
    SM_TIMECODE_NO_CODE,  // there is sound, and no timecode in it
    SM_TIMECODE_NOISE,    // frames are read, and never five in a row
    SM_TIMECODE_SPEED,    // too slow or too fast
    SM_TIMECODE_BACKWARD, // it runs backward
    SM_TIMECODE_NO_RATE,  // its rate is not known before a second ends
    SM_TIMECODE_TROUBLE_COUNT
} sm_timecode_trouble;
// "no sound", "sound, but no timecode in it"...; static.
const char *sm_timecode_trouble_text(sm_timecode_trouble trouble);

typedef struct sm_listener sm_listener;

typedef struct sm_listener_options {
    int channel;                // of the input: 1 left, 2 right
    const char *device;         // name of an input device, or a part of it; NULL: the system's default
    const sm_moment_base *show; // what it is held against; NULL: the place counts from 00:00:00:00
    sm_us free_run_us;          // the gap that is bridged
} sm_listener_options;

// What is heard and believed at one moment.
typedef struct sm_timecode_heard {
    bool listens;      // a device gives sound
    char device[128];  // that one, or the latest; "" before any
    char reason[192];  // why there is none; "" while it gives sound
    double level_dbfs; // of late; -120 for nothing
    sm_timecode_state state;
    sm_timecode_trouble trouble;
    // The rest while locked or free-running.
    sm_timecode_rate rate;
    bool drop;
    bool sure;                          // the end of a second was seen: the rate is no mere guess
    bool differs;                       // and is not the show's
    int hours, minutes, seconds, frame; // now
    int64_t mono_ns;                    // CLOCK_MONOTONIC of now
    double show_us;                     // the show's time then
    double speed;                       // show seconds a second
    double drift_us;                    // how far it has come off our clock since it was locked
    int64_t locked_ns;                  // CLOCK_MONOTONIC of that
    // Counted since the beginning.
    uint64_t read, strays; // frames; of these so many that were passed over
    uint64_t jumps;
    sm_show_time jumped_from, jumped_to; // the latest
} sm_timecode_heard;

// SM_OUT_OF_RANGE: the channel. SM_NO_MEMORY (memory or threads ran out). Trouble with the device is no failure: `heard` tells.
SM_MUST_CHECK sm_result sm_listener_open(const sm_listener_options *options, sm_listener **out);
// Takes up to some 0.1 s. NULL is allowed.
void sm_listener_close(sm_listener *listener);
// What is heard now.
void sm_listener_look(sm_listener *listener, sm_timecode_heard *out);
// The input devices found when the sound process last looked, into OUT (room for ROOM). Returns how many; -1: it has not looked yet, and
// `heard` may say what keeps it.
int sm_listener_devices(sm_listener *listener, sm_audio_device *out, int room);
// It is held against SHOW from now on, and a gap of FREE_RUN_US is bridged.
void sm_listener_show(sm_listener *listener, const sm_moment_base *show, sm_us free_run_us);

#endif
