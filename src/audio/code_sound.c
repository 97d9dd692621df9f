// SPDX-License-Identifier: GPL-3.0-or-later
#include "audio/code_sound.h"

#include <math.h>
#include <string.h>

#define HIGH_PASS_HZ 200.0 // the slowest timecode that is believed has its lowest tone at 768 Hz,
#define LOW_PASS_HZ 6000.0 // the fastest its highest at 3 kHz
#define GAIN_S 0.10        // the gain follows a level that falls
#define SHOWN_S 0.15       // the level that is shown
#define LEAST 1.8e-4f      // -75 dBFS: below it the gain rises no more
#define WANTED 0.7f        // peak given to the decoder
#define NOTHING_DBFS -120.0

// Butterworth filters by the bilinear transform (R. Bristow-Johnson's audio EQ cookbook, second-hand). SIGN 1: a low-pass, -1: a high-pass.
static void filter_init(sm_code_filter *filter, double hz, int rate_hz, int sign) {
    const double omega = 2 * M_PI * hz / rate_hz, alpha = sin(omega) * M_SQRT1_2, over = 1 + alpha;
    filter->forward[1] = (sign - cos(omega)) / over;
    filter->forward[0] = filter->forward[2] = sign * filter->forward[1] / 2;
    filter->back[0] = -2 * cos(omega) / over;
    filter->back[1] = (1 - alpha) / over;
}

void sm_code_sound_init(sm_code_sound *sound, int rate_hz) {
    memset(sound, 0, sizeof *sound);
    filter_init(&sound->high_pass, HIGH_PASS_HZ, rate_hz, -1);
    filter_init(&sound->low_pass, fmin(LOW_PASS_HZ, rate_hz / 3.0), rate_hz, 1);
    sound->envelope_falls = (float)exp(-1 / (GAIN_S * rate_hz));
    sound->follows = 1 - exp(-1 / (SHOWN_S * rate_hz));
}

static double filter_pass(sm_code_filter *f, double in) {
    const double out = f->forward[0] * in + f->forward[1] * f->in[0] + f->forward[2] * f->in[1] -
                       f->back[0] * f->out[0] - f->back[1] * f->out[1];
    f->in[1] = f->in[0];
    f->in[0] = in;
    f->out[1] = f->out[0];
    f->out[0] = fabs(out) < 1e-12 ? 0 : out; // no denormal numbers in silence
    return out;
}

void sm_code_sound_pass(sm_code_sound *sound, const float *in, float *out, size_t count) {
    for (size_t i = 0; i < count; i++) {
        const float passed = (float)filter_pass(&sound->low_pass,
                                                filter_pass(&sound->high_pass, isfinite(in[i]) ? in[i] : 0)),
                    size = fabsf(passed);
        sound->envelope = fmaxf(size, sound->envelope * sound->envelope_falls);
        sound->mean_square += sound->follows * ((double)size * (double)size - sound->mean_square);
        out[i] = passed * (WANTED / fmaxf(sound->envelope, LEAST));
    }
}

double sm_code_sound_level_dbfs(const sm_code_sound *sound) {
    return sound->mean_square > 1e-12 ? 10 * log10(sound->mean_square) : NOTHING_DBFS;
}
