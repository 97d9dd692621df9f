// SPDX-License-Identifier: GPL-3.0-or-later
// Sound files made for tests.
#ifndef SOUNDS_H
#define SOUNDS_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

// Writes FRAMES frames of CHANNELS interleaved 16-bit samples as FORMAT (libsndfile's). False if this libsndfile
// cannot write that format.
bool sounds_write(const char *path, int format, int rate_hz, int channels, const int16_t *samples,
                  size_t frames);
// Cuts FILE to its first BYTES bytes.
bool sounds_cut(const char *path, long bytes);
long sounds_size(const char *path);
// A repeatable noise without long runs, never 0: a sample's value from its number.
int16_t sounds_noise(uint32_t number);

#endif
