// SPDX-License-Identifier: GPL-3.0-or-later
// What it costs to listen to timecode: processor time for reading ten minutes of it, as a share of these ten minutes.
#include "../support/ltc_writer.h"
#include "audio/code_reader.h"

#include <stdio.h>
#include <time.h>

enum { RATE_HZ = 48000, BLOCK = 480, SECONDS = 600 };

static double cpu_s(void) {
    struct timespec now;
    clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &now);
    return (double)now.tv_sec + (double)now.tv_nsec / 1e9;
}

int main(void) {
    static float second[RATE_HZ];
    static sm_code_reader reader;
    const sm_moment_base show = {.rate = SM_TC_25, .start_frames = 90000};
    ltc_writer writer;
    double spent_s = 0;
    if (!sm_code_reader_init(&reader, RATE_HZ, &show, SM_US_PER_S))
        return 1;
    ltc_writer_init(&writer, RATE_HZ, 25, 25, (ltc_frame){.hours = 1});
    for (int s = 0; s < SECONDS; s++) {
        ltc_writer_write(&writer, second, RATE_HZ, 1);
        const double before_s = cpu_s();
        for (int i = 0; i < RATE_HZ; i += BLOCK)
            sm_code_reader_take(&reader, reader.samples, second + i, BLOCK);
        spent_s += cpu_s() - before_s;
    }
    printf("reading timecode: %.3f %% of a core (%.0f ms for %d s of sound at 48 kHz), %s\n",
           100 * spent_s / SECONDS, spent_s * 1e3, SECONDS,
           reader.belief.state == SM_TIMECODE_LOCKED ? "locked to its end" : "NOT LOCKED");
    sm_code_reader_deinit(&reader);
    return reader.belief.state == SM_TIMECODE_LOCKED ? 0 : 1;
}
