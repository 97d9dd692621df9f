// SPDX-License-Identifier: GPL-3.0-or-later
#include "sounds.h"

#include <sndfile.h>
#include <sys/stat.h>
#include <unistd.h>

bool sounds_write(const char *path, int format, int rate_hz, int channels, const int16_t *samples,
                  size_t frames) {
    SF_INFO info = {.samplerate = rate_hz, .channels = channels, .format = format};
    SNDFILE *file = sf_open(path, SFM_WRITE, &info);
    if (!file)
        return false;
    sf_command(file, SFC_SET_SCALE_INT_FLOAT_WRITE, NULL, SF_TRUE);
    // In pieces: one long write makes some encoders keep more on the stack than there is.
    size_t done = 0;
    while (done < frames) {
        size_t part = frames - done < 4096 ? frames - done : 4096;
        if (sf_writef_short(file, samples + done * (size_t)channels, (sf_count_t)part) != (sf_count_t)part)
            break;
        done += part;
    }
    return sf_close(file) == 0 && done == frames;
}

bool sounds_cut(const char *path, long bytes) {
    return truncate(path, bytes) == 0;
}

long sounds_size(const char *path) {
    struct stat status;
    return stat(path, &status) == 0 ? (long)status.st_size : -1;
}

int16_t sounds_noise(uint32_t number) {
    uint32_t x = number * 2654435761u;
    x ^= x >> 15;
    x *= 2246822519u;
    x ^= x >> 13;
    int16_t value = (int16_t)((int32_t)(x % 24001) - 12000);
    return value ? value : 1;
}
