// SPDX-License-Identifier: GPL-3.0-or-later
#include "audio/ltc.h"

#include <assert.h>
#include <errno.h>
#include <fcntl.h>
#include <math.h>
#include <sndfile.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#define MADE_BY "slowmatch timecode"
#define LEVEL_DBFS (-6.0) // what timecode inputs expect: well below full scale, far above noise

static const struct {
    double fps;
    int64_t frames, seconds; // so many frames in so many seconds, exactly
    enum LTC_TV_STANDARD standard;
} RATES[] = {
    [SM_TC_24] = {24.0, 24, 1, LTC_TV_FILM_24},
    [SM_TC_25] = {25.0, 25, 1, LTC_TV_625_50},
    [SM_TC_29_97] = {30000.0 / 1001.0, 30000, 1001, LTC_TV_525_60},
    [SM_TC_30] = {30.0, 30, 1, LTC_TV_1125_60},
};
static_assert(sizeof RATES / sizeof RATES[0] == SM_TC_COUNT, "a row for each rate");

bool sm_ltc_init(sm_ltc *ltc, const sm_audio_timecode *timecode, int rate_hz) {
    memset(ltc, 0, sizeof *ltc);
    ltc->timecode = *timecode;
    ltc->rate_hz = rate_hz;
    ltc->encoder = ltc_encoder_create(rate_hz, RATES[timecode->rate].fps, RATES[timecode->rate].standard, 0);
    if (!ltc->encoder)
        return false;
    ltc_encoder_set_volume(ltc->encoder, LEVEL_DBFS);
    return true;
}

void sm_ltc_deinit(sm_ltc *ltc) {
    if (ltc->encoder)
        ltc_encoder_free(ltc->encoder);
    ltc->encoder = NULL;
}

uint64_t sm_ltc_seek(sm_ltc *ltc, int64_t show_ns) {
    const long double second = 1000000000.0L;
    int64_t frames = RATES[ltc->timecode.rate].frames, seconds = RATES[ltc->timecode.rate].seconds;
    long double place = (long double)show_ns * frames / (seconds * second);
    ltc->next = (int64_t)ceill(place - 0.00001L); // a whole nanosecond is no lateness
    ltc->made = ltc->used = 0;
    ltc_encoder_reset(ltc->encoder);
    ltc_encoder_buffer_flush(ltc->encoder);
    long double wait = ((long double)ltc->next - place) * seconds / frames;
    return wait > 0 ? (uint64_t)llroundl(wait * ltc->rate_hz) : 0;
}

// The samples that ENCODER has made, and forgets; they stay its own.
static int take_samples(LTCEncoder *encoder, ltcsnd_sample_t **samples) {
#if LIBLTC_CUR >= 13
    return ltc_encoder_get_bufferptr(encoder, samples, 1);
#else // libltc before 1.3.2, as Ubuntu 22.04 has it
    int count = 0;
    *samples = ltc_encoder_get_bufptr(encoder, &count, 1);
    return count;
#endif
}

static void encode(sm_ltc *ltc) {
    int hours, minutes, seconds, frame;
    const sm_audio_timecode *timecode = &ltc->timecode;
    sm_timecode_from_frames(timecode->rate, timecode->drop, timecode->start_frames + ltc->next++, &hours,
                            &minutes, &seconds, &frame);
    SMPTETimecode time = {.hours = (unsigned char)hours,
                          .mins = (unsigned char)minutes,
                          .secs = (unsigned char)seconds,
                          .frame = (unsigned char)frame};
    ltc_encoder_set_timecode(ltc->encoder, &time);
    LTCFrame bits;
    ltc_encoder_get_frame(ltc->encoder, &bits);
    bits.dfbit = timecode->drop; // the library sets it for every 29.97
    ltc_frame_set_parity(&bits, RATES[timecode->rate].standard);
    ltc_encoder_set_frame(ltc->encoder, &bits);
    ltc_encoder_encode_frame(ltc->encoder);
    ltcsnd_sample_t *samples;
    int count = take_samples(ltc->encoder, &samples);
    ltc->made = count < SM_LTC_ROOM ? (size_t)count : SM_LTC_ROOM;
    ltc->used = 0;
    for (size_t i = 0; i < ltc->made; i++)
        ltc->room[i] = (float)(samples[i] - 128) / 128;
}

void sm_ltc_read(sm_ltc *ltc, float *out, size_t frames) {
    while (frames > 0) {
        if (ltc->used == ltc->made)
            encode(ltc);
        size_t part = ltc->made - ltc->used;
        if (part == 0)
            break;
        part = part < frames ? part : frames;
        memcpy(out, ltc->room + ltc->used, part * sizeof *out);
        ltc->used += part;
        out += part;
        frames -= part;
    }
}

// Said in the file, so that the next one may take its place.
static bool is_ours(int descriptor) {
    SF_INFO info = {0};
    const int copy = dup(descriptor);
    SNDFILE *file = copy >= 0 ? sf_open_fd(copy, SFM_READ, &info, SF_TRUE) : NULL;
    const char *by = file ? sf_get_string(file, SF_STR_SOFTWARE) : NULL;
    const bool ours = by && strncmp(by, MADE_BY, strlen(MADE_BY)) == 0;
    if (file)
        sf_close(file);
    return ours;
}

// A new file, or an earlier one of ours, emptied. -1: errno, EEXIST: it is another's.
static int open_own(const char *path) {
    struct stat found;
    const int file = open(path, O_RDWR | O_CREAT | O_NONBLOCK | O_CLOEXEC | O_NOCTTY, 0666);
    if (file < 0)
        return -1;
    int why = fstat(file, &found) != 0                                   ? errno
              : !S_ISREG(found.st_mode)                                  ? EMEDIUMTYPE
              : found.st_size > 0 && !is_ours(file)                      ? EEXIST
              : ftruncate(file, 0) != 0 || lseek(file, 0, SEEK_SET) != 0 ? errno
                                                                         : 0;
    if (why == 0)
        return file;
    close(file);
    errno = why;
    return -1;
}

sm_result sm_audio_timecode_write(const char *path, const sm_audio_timecode *timecode, sm_us length_us,
                                  int rate_hz) {
    if (length_us <= 0 || length_us > 86400 * SM_US_PER_S || rate_hz < 8000 || rate_hz > 192000 ||
        timecode->rate >= SM_TC_COUNT)
        return SM_OUT_OF_RANGE;
    sm_ltc *ltc = malloc(sizeof *ltc);
    if (!ltc || !sm_ltc_init(ltc, timecode, rate_hz)) {
        free(ltc);
        return SM_NO_MEMORY;
    }
    SF_INFO info = {.samplerate = rate_hz, .channels = 1, .format = SF_FORMAT_WAV | SF_FORMAT_PCM_16};
    const int descriptor = open_own(path);
    SNDFILE *file = descriptor >= 0 ? sf_open_fd(descriptor, SFM_WRITE, &info, SF_TRUE) : NULL;
    bool good = file != NULL && sf_set_string(file, SF_STR_SOFTWARE, MADE_BY) == 0;
    // The whole length and the second beyond it; then three timecode frames and more, as a reader knows a frame by the
    // next one's start.
    int64_t frames = (length_us * rate_hz + SM_US_PER_S - 1) / SM_US_PER_S + rate_hz + (int64_t)rate_hz / 8;
    sm_ltc_seek(ltc, 0);
    while (good && frames > 0) {
        float block[1024];
        size_t part = frames < 1024 ? (size_t)frames : 1024;
        sm_ltc_read(ltc, block, part);
        good = sf_writef_float(file, block, (sf_count_t)part) == (sf_count_t)part;
        frames -= (int64_t)part;
    }
    if (file && sf_close(file) != 0)
        good = false;
    sm_ltc_deinit(ltc);
    free(ltc);
    return good ? SM_OK : SM_UNREADABLE;
}
