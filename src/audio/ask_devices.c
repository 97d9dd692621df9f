// SPDX-License-Identifier: GPL-3.0-or-later
// Which devices there are, asked by a command that plays nothing.
#include "audio/mono.h"
#include "audio/process_handle.h"

#include "slowmatch/audio.h"

#include <errno.h>
#include <stdio.h>
#include <string.h>
#include <time.h>

#define LOOK_NS (5 * SM_NS_PER_MS)
// As long as the sound of a rehearsal is waited for before it is begun anew.
#define PATIENCE_NS (4 * SM_NS_PER_S)

// True: it has ended, or its time is up.
static bool wait_for_answer(sm_child *child) {
    const struct timespec look = {.tv_nsec = LOOK_NS};
    while (sm_child_runs(child)) {
        if (sm_mono_ns() - child->begun_ns > PATIENCE_NS)
            return false;
        nanosleep(&look, NULL);
    }
    return true;
}

static int take_answer(const sm_shared *shared, bool ended, sm_audio_device out[SM_AUDIO_DEVICES_MAX],
                       char why[SM_AUDIO_WHY]) {
    const int phase = atomic_load_explicit(&shared->phase, memory_order_acquire);
    if (phase == SM_CHILD_LISTED) {
        memcpy(out, shared->devices, sizeof shared->devices);
        return shared->device_count;
    }
    if (phase == SM_CHILD_FAILED)
        snprintf(why, SM_AUDIO_WHY, "%.191s", shared->why);
    else
        snprintf(why, SM_AUDIO_WHY, "%s",
                 ended ? "the sound process ended" : "the sound system does not answer");
    return -1;
}

int sm_audio_ask_devices(bool inputs, sm_audio_device out[SM_AUDIO_DEVICES_MAX], char why[SM_AUDIO_WHY]) {
    sm_child child = {0};
    const sm_result result =
        sm_child_start(&child, inputs ? SM_CHILD_LISTS_INPUTS : SM_CHILD_LISTS_OUTPUTS, "", NULL, 0);
    if (result != SM_OK) {
        snprintf(why, SM_AUDIO_WHY, "%s", result == SM_UNREADABLE ? strerror(errno) : sm_result_text(result));
        return -1;
    }
    const bool ended = wait_for_answer(&child);
    const int count = take_answer(child.shared, ended, out, why);
    sm_child_end(&child);
    (void)sm_child_reap(&child); // what hangs is killed, and the system collects it after this program
    return count;
}
