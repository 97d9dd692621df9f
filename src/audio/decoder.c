// SPDX-License-Identifier: GPL-3.0-or-later
#include "audio/decoder.h"

#include "audio/downmix.h"

#include <errno.h>
#include <inttypes.h>
#include <math.h>
#include <sndfile.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

// A header that claims more (over three years at 96 kHz) says nothing: so does an Ogg file whose end is missing.
#define FRAMES_MAX INT64_C(9000000000000)

struct sm_decoder {
    SNDFILE *file;
    sm_decoder_facts facts;
    sm_downmix downmix;
    float samples[SM_DECODER_BLOCK * SM_DECODER_CHANNELS_MAX];
};

// Formats that libsndfile does not read, by their first bytes.
static const struct {
    size_t at, length;
    const char *bytes;
    const char *name;
} FOREIGN[] = {
    {4, 4, "ftyp", "an MPEG-4 file (M4A, AAC, ALAC)"},
    {0, 4, "\x30\x26\xB2\x75", "an ASF file (WMA)"},
    {0, 4, "\x1A\x45\xDF\xA3", "a Matroska or WebM file"},
    {0, 2, "\x0B\x77", "an AC-3 file"},
    {0, 2, "\xFF\xF1", "a raw AAC file"},
    {0, 2, "\xFF\xF9", "a raw AAC file"},
    {0, 4, "ADIF", "a raw AAC file"},
    {0, 4, "MAC ", "an APE file"},
    {0, 4, "wvpk", "a WavPack file"},
};

static const char *foreign_name(int descriptor) {
    char head[16] = {0};
    ssize_t got = pread(descriptor, head, sizeof head, 0);
    size_t length = got > 0 ? (size_t)got : 0;
    for (size_t i = 0; i < sizeof FOREIGN / sizeof *FOREIGN; i++)
        if (length >= FOREIGN[i].at + FOREIGN[i].length &&
            memcmp(head + FOREIGN[i].at, FOREIGN[i].bytes, FOREIGN[i].length) == 0)
            return FOREIGN[i].name;
    return NULL;
}

static void say_why_not(const char *name, char *problem, size_t size) {
    if (name)
        snprintf(problem, size, "%s is not read here; convert it to FLAC or WAV (48 kHz, 16 bit)", name);
    else
        snprintf(problem, size,
                 "is no sound file that can be read: %s; give WAV, AIFF, FLAC, Ogg Vorbis, Opus or MP3",
                 sf_strerror(NULL));
}

static void describe(const SF_INFO *info, sm_decoder_facts *facts) {
    SF_FORMAT_INFO name = {.format = info->format & SF_FORMAT_TYPEMASK};
    int subtype = info->format & SF_FORMAT_SUBMASK;
    if (subtype == SF_FORMAT_VORBIS || subtype == SF_FORMAT_OPUS)
        name.format = subtype;
    if (sf_command(NULL, SFC_GET_FORMAT_INFO, &name, sizeof name) != 0 || !name.name)
        name.name = "sound";
    int length = (int)strcspn(name.name, "(/");
    while (length > 1 && name.name[length - 1] == ' ')
        length--;
    facts->rate_hz = info->samplerate;
    facts->channels = info->channels;
    facts->said_frames = info->frames < FRAMES_MAX ? info->frames : 0;
    bool mpeg = subtype == SM_SNDFILE_MPEG_LAYER_I || subtype == SM_SNDFILE_MPEG_LAYER_II ||
                subtype == SM_SNDFILE_MPEG_LAYER_III;
    facts->header_is_exact = !mpeg && subtype != SF_FORMAT_VORBIS && subtype != SF_FORMAT_OPUS;
    snprintf(facts->format, sizeof facts->format, "%.*s, %d Hz, %d channel%s", length, name.name,
             info->samplerate, info->channels, info->channels == 1 ? "" : "s");
}

static bool within_reach(const SF_INFO *info, char *problem, size_t size) {
    if (info->channels < 1 || info->channels > SM_DECODER_CHANNELS_MAX)
        snprintf(problem, size, "has %d channels; 1 to %d can be played", info->channels,
                 SM_DECODER_CHANNELS_MAX);
    else if (info->samplerate < SM_DECODER_RATE_MIN || info->samplerate > SM_DECODER_RATE_MAX)
        snprintf(problem, size, "has a sample rate of %d Hz; %d to %d can be played", info->samplerate,
                 SM_DECODER_RATE_MIN, SM_DECODER_RATE_MAX);
    else
        return true;
    return false;
}

sm_decoder *sm_decoder_open(const char *path, sm_decoder_facts *facts, char *problem, size_t size) {
    int descriptor = sm_file_open(path);
    sm_decoder *decoder = descriptor < 0 ? NULL : calloc(1, sizeof *decoder);
    if (!decoder) {
        snprintf(problem, size, "cannot be opened: %s", sm_file_why(descriptor < 0 ? errno : ENOMEM));
        if (descriptor >= 0)
            close(descriptor);
        return NULL;
    }
    SF_INFO info = {0};
    const char *const foreign = foreign_name(descriptor);
    decoder->file = sf_open_fd(descriptor, SFM_READ, &info, SF_TRUE); // which closes it, too, where it fails
    if (!decoder->file) {
        say_why_not(foreign, problem, size);
        sm_decoder_close(decoder);
        return NULL;
    }
    if (!within_reach(&info, problem, size)) {
        sm_decoder_close(decoder);
        return NULL;
    }
    describe(&info, &decoder->facts);
    int map[SM_DECODER_CHANNELS_MAX] = {0};
    bool mapped =
        sf_command(decoder->file, SFC_GET_CHANNEL_MAP_INFO, map, info.channels * (int)sizeof *map) == SF_TRUE;
    sm_downmix_init(&decoder->downmix, info.channels, mapped ? map : NULL);
    *facts = decoder->facts;
    return decoder;
}

void sm_decoder_close(sm_decoder *decoder) {
    if (!decoder)
        return;
    if (decoder->file)
        sf_close(decoder->file);
    free(decoder);
}

// A file of floats may hold anything; what no device can play must not reach one.
static float within_full_scale(float sample) {
    return sample >= -1 && sample <= 1 ? sample : sample > 1 ? 1.0F : sample < -1 ? -1.0F : 0;
}

size_t sm_decoder_read(sm_decoder *decoder, float (*out)[2], size_t frames) {
    if (frames > SM_DECODER_BLOCK)
        frames = SM_DECODER_BLOCK;
    sf_count_t got = sf_readf_float(decoder->file, decoder->samples, (sf_count_t)frames);
    if (got <= 0)
        return 0;
    for (sf_count_t i = 0; i < got * decoder->facts.channels; i++)
        decoder->samples[i] = within_full_scale(decoder->samples[i]);
    sm_downmix_apply(&decoder->downmix, decoder->samples, out, (size_t)got);
    return (size_t)got;
}

bool sm_decoder_reaches(sm_decoder *decoder, int64_t frame) {
    float pair[1][2];
    return frame >= 0 && sf_seek(decoder->file, frame, SEEK_SET) == frame &&
           sm_decoder_read(decoder, pair, 1) == 1;
}

void sm_decoder_verdict(const sm_decoder *decoder, int64_t decoded, char *problem, size_t size) {
    const sm_decoder_facts *facts = &decoder->facts;
    int64_t missing = facts->said_frames - decoded;
    // An MP3 without the encoder's own header only guesses its length, high by some 0.15 % as measured.
    int64_t slack = facts->header_is_exact ? 0 : facts->said_frames / 200 + facts->rate_hz / 10;
    char got[24], said[24];
    sm_clock_format(got, sm_frames_us(decoded, facts->rate_hz));
    sm_clock_format(said, sm_frames_us(facts->said_frames, facts->rate_hz));
    if (decoded == 0)
        snprintf(problem, size, "holds no sound that can be decoded");
    else if (facts->said_frames == 0)
        snprintf(problem, size, "has no proper end and may be cut off: %s can be played; export it again",
                 got);
    else if (missing > slack)
        snprintf(
            problem, size,
            "is cut off or broken: %s of the %s it claims can be played, the rest is silent; export it again",
            got, said);
    else if (sf_error(decoder->file) != SF_ERR_NO_ERROR)
        snprintf(problem, size, "is broken after %s: %s; the rest is silent", got,
                 sf_strerror(decoder->file));
    else
        snprintf(problem, size, "%s", "");
}

sm_us sm_frames_us(int64_t frames, int rate_hz) {
    int64_t seconds = frames / rate_hz, rest = frames % rate_hz;
    return seconds * SM_US_PER_S + (rest * SM_US_PER_S + rate_hz / 2) / rate_hz;
}
