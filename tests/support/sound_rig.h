// SPDX-License-Identifier: GPL-3.0-or-later
// A private headless sound server for tests (the script sound-rig beside this file), and what its sink
// played.
#ifndef SOUND_RIG_H
#define SOUND_RIG_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

typedef struct sound_rig {
    char folder[64];
    char script[512];
    int rate_hz;
} sound_rig;

// What the sink played, 16 bit, from the start of the recording.
typedef struct sound_recording {
    int16_t (*frames)[2];
    size_t count;
    int rate_hz;
    // Of each mark: so many frames, and the CLOCK_MONOTONIC seconds at which the next was audible.
    struct sound_mark {
        double frame, mono_s;
    } * marks;
    size_t mark_count;
} sound_recording;

// Starts a server at RATE_HZ and sets this process's environment so that its sound processes see that sink
// alone. 0 done, 77 a program is missing (skip the test), else failed.
int sound_rig_start(sound_rig *rig, int rate_hz);
// Runs one of the script's commands: "kill", "freeze", "thaw", "restart". True if it worked.
bool sound_rig_do(const sound_rig *rig, const char *command);
bool sound_rig_record(const sound_rig *rig);
// Ends the recording and reads it. The caller frees it by sound_recording_deinit.
bool sound_rig_recorded(const sound_rig *rig, sound_recording *out);
// Ends the server and removes its folder.
void sound_rig_stop(sound_rig *rig);
// No device at all: what a machine without a sound card shows.
void sound_rig_no_device(void);

void sound_recording_deinit(sound_recording *recording);
// When frame FRAME was audible, CLOCK_MONOTONIC seconds: the median of what the marks within a second say.
double sound_recording_mono_s(const sound_recording *recording, double frame);

#endif
