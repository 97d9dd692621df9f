// SPDX-License-Identifier: GPL-3.0-or-later
// The memory that the program and its sound process share.
#ifndef SM_AUDIO_SHARED_H
#define SM_AUDIO_SHARED_H

#include "audio/ring.h"

#include "slowmatch/audio.h"

#include <sys/types.h>

#define SM_SHARED_FD 3 // where the sound process finds it
#define SM_SHARED_MAGIC 0x534d4155u
#define SM_READINGS 256u
#define SM_RATES_MAX 4

// What the callback saw: the card's frame number FRAME sounds (of an input: came in) at stream time dac_s, and it was then stream
// time current_s and the two system clocks' times. PortAudio does not say which clock the stream's is.
typedef struct sm_clock_reading {
    uint64_t frame;
    int64_t mono_ns, real_ns;
    double current_s, dac_s;
} sm_clock_reading;

typedef enum sm_child_phase {
    SM_CHILD_STARTING, // before the device list is known
    SM_CHILD_LISTED,   // devices are set
    SM_CHILD_OPEN,     // rate, name are set; the callback may come at any time
    SM_CHILD_FAILED,   // why is set; the process ends
} sm_child_phase;

typedef struct sm_shared {
    // Set by the program before the sound process begins.
    uint32_t magic;
    pid_t parent;
    int rates[SM_RATES_MAX]; // to try in this order, 0 ends the list; then the device's own
    char wanted[128];        // "": the default device
    bool listens;            // to an input; else it plays to an output
    bool lists;              // which devices there are, and opens none
    // Set by the sound process before it stores the phase that says so.
    _Atomic int phase;
    int rate_hz, channels;
    char name[128];
    char why[192];
    int device_count;
    sm_audio_device devices[SM_AUDIO_DEVICES_MAX];
    // The callback's.
    _Alignas(64) _Atomic uint64_t beats;
    _Atomic uint64_t readings_put;
    _Atomic int64_t
        longest_wait_ns; // between two callbacks, the stream's first second apart, which is uneven
    int64_t called_ns;   // when the last one began
    sm_clock_reading readings[SM_READINGS];
    // The program's.
    _Alignas(64) _Atomic uint64_t readings_taken;
    sm_ring ring;
} sm_shared;

// What the callback does, with the card's frames to fill and PortAudio's two times. No lock, no allocation,
// no system call (the clocks are read through the kernel's shared page).
void sm_shared_callback(sm_shared *shared, float *out, size_t frames, double current_s, double dac_s);
// The system's two clocks as the callback began.
typedef struct sm_stamp {
    int64_t mono_ns, real_ns;
} sm_stamp;
// The same once the clocks have been read: nothing but memory and arithmetic.
void sm_shared_fill(sm_shared *shared, float *out, size_t frames, double current_s, double dac_s,
                    sm_stamp now);

// What the callback of an input does, with the card's FRAMES frames; the program takes them by sm_ring_hear. As bound as the other.
void sm_shared_hear(sm_shared *shared, const float *in, size_t frames, double current_s, double adc_s,
                    sm_stamp now);

// Takes the oldest reading; false if there is none.
bool sm_shared_reading(sm_shared *shared, sm_clock_reading *out);

// The CLOCK_MONOTONIC moment at which the reading's frame sounds.
int64_t sm_clock_reading_sounds_ns(const sm_clock_reading *reading);

#endif
