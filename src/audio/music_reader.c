// SPDX-License-Identifier: GPL-3.0-or-later
#include "audio/music_reader.h"

#include <math.h>
#include <string.h>

// File frames fed before the place sought, so that the converter's filter is full when it comes there. The
// longest filter of the quality used reaches some 50 file frames to each side at most ratios, more when going
// down.
#define LEAD_FRAMES 512

void sm_reader_init(sm_reader *reader, const sm_music *music, int rate_hz) {
    memset(reader, 0, sizeof *reader);
    reader->music = music;
    reader->rate_hz = rate_hz;
}

void sm_reader_deinit(sm_reader *reader) {
    if (reader->converter)
        src_delete(reader->converter);
    reader->converter = NULL;
}

bool sm_reader_seek(sm_reader *reader, int64_t place) {
    reader->place = place;
    reader->fed = reader->used = 0;
    reader->file_hz = reader->music ? sm_music_rate(reader->music) : 0;
    if (reader->file_hz == 0 || reader->file_hz == reader->rate_hz)
        return true;
    int error = 0;
    if (!reader->converter)
        reader->converter = src_new(SRC_SINC_MEDIUM_QUALITY, 2, &error);
    if (!reader->converter)
        return false;
    src_reset(reader->converter);
    double ratio = (double)reader->rate_hz / reader->file_hz;
    src_set_ratio(reader->converter, ratio);
    double file_place = (double)place / ratio;
    reader->file_place = (int64_t)floor(file_place) - LEAD_FRAMES;
    reader->drop = llround((file_place - (double)reader->file_place) * ratio);
    return true;
}

static size_t convert(sm_reader *reader, float (*out)[2], size_t frames) {
    if (reader->used == reader->fed) {
        sm_music_copy(reader->music, reader->file_place, reader->block, SM_READER_BLOCK);
        reader->file_place += SM_READER_BLOCK;
        reader->fed = SM_READER_BLOCK;
        reader->used = 0;
    }
    SRC_DATA data = {
        .data_in = reader->block[reader->used],
        .input_frames = (long)(reader->fed - reader->used),
        .data_out = out[0],
        .output_frames = (long)frames,
        .src_ratio = (double)reader->rate_hz / reader->file_hz,
    };
    if (src_process(reader->converter, &data) != 0) {
        memset(out, 0, frames * sizeof *out);
        return frames;
    }
    reader->used += (size_t)data.input_frames_used;
    return (size_t)data.output_frames_gen;
}

static void read_converted(sm_reader *reader, float (*out)[2], size_t frames) {
    while (reader->drop > 0) {
        float waste[256][2];
        size_t most = reader->drop < 256 ? (size_t)reader->drop : 256;
        reader->drop -= (int64_t)convert(reader, waste, most);
    }
    for (size_t done = 0; done < frames;)
        done += convert(reader, out + done, frames - done);
}

void sm_reader_read(sm_reader *reader, float (*out)[2], size_t frames) {
    // A file whose rate became known since the seek is sought again, now that it can be.
    if (reader->file_hz == 0 && reader->music && sm_music_rate(reader->music) != 0)
        sm_reader_seek(reader, reader->place);
    if (reader->file_hz == 0 || (reader->file_hz != reader->rate_hz && !reader->converter))
        memset(out, 0, frames * sizeof *out);
    else if (reader->file_hz == reader->rate_hz)
        sm_music_copy(reader->music, reader->place, out, frames);
    else
        read_converted(reader, out, frames);
    reader->place += (int64_t)frames;
}
