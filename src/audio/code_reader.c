// SPDX-License-Identifier: GPL-3.0-or-later
#include "audio/code_reader.h"

#include <assert.h>
#include <string.h>

#define BLOCK 256
#define QUEUE 32
#define QUIET_DBFS (-72.0)   // it is read down to some -66
#define SILENT_DBFS (-100.0) // no sound card's own noise is so low

bool sm_code_reader_init(sm_code_reader *reader, int rate_hz, const sm_moment_base *show, sm_us free_run_us) {
    memset(reader, 0, sizeof *reader);
    const int numbers = show ? sm_timecode_numbers(show->rate) : 25;
    reader->decoder =
        ltc_decoder_create(rate_hz / numbers, QUEUE); // only where it begins to look for the pace
    reader->read_at = -1;
    sm_code_sound_init(&reader->sound, rate_hz);
    sm_code_belief_init(&reader->belief, rate_hz, show, free_run_us);
    return reader->decoder != NULL;
}

void sm_code_reader_deinit(sm_code_reader *reader) {
    if (reader->decoder)
        ltc_decoder_free(reader->decoder);
    reader->decoder = NULL;
}

static void take_frame(sm_code_reader *reader, const LTCFrameExt *got) {
    SMPTETimecode time;
    LTCFrame bits = got->ltc;
    ltc_frame_to_time(&time, &bits, 0);
    const sm_code_frame frame = {.hours = time.hours,
                                 .minutes = time.mins,
                                 .seconds = time.secs,
                                 .frame = time.frame,
                                 .drop = bits.dfbit != 0,
                                 .ends = (double)got->off_end + 1};
    reader->read_at = (double)reader->samples;
    if (!got->reverse)
        sm_code_belief_take(&reader->belief, &frame);
    else if (reader->belief.now.count == 0)
        reader->belief.trouble = SM_TIMECODE_BACKWARD;
}

// Where no frame has been read for a while, what is heard says why.
static void look_for_trouble(sm_code_reader *reader) {
    sm_code_belief *belief = &reader->belief;
    const bool reads =
        reader->read_at >= 0 && (double)reader->samples - reader->read_at < (double)belief->rate_hz;
    if (belief->now.count > 0 || reads)
        return;
    const double level_dbfs = sm_code_sound_level_dbfs(&reader->sound);
    belief->trouble = level_dbfs < SILENT_DBFS  ? SM_TIMECODE_NO_SOUND
                      : level_dbfs < QUIET_DBFS ? SM_TIMECODE_QUIET
                                                : SM_TIMECODE_NO_CODE;
}

void sm_code_reader_take(sm_code_reader *reader, uint64_t at, const float *samples, size_t count) {
    reader->samples = at;
    while (count > 0) {
        float block[BLOCK];
        const size_t part = count < BLOCK ? count : BLOCK;
        LTCFrameExt got;
        sm_code_sound_pass(&reader->sound, samples, block, part);
        ltc_decoder_write_float(reader->decoder, block, part, (ltc_off_t)reader->samples);
        reader->samples += part;
        while (ltc_decoder_read(reader->decoder, &got) == 1)
            take_frame(reader, &got);
        samples += part;
        count -= part;
    }
    sm_code_belief_pass(&reader->belief, (double)reader->samples);
    look_for_trouble(reader);
}

const char *sm_timecode_trouble_text(sm_timecode_trouble trouble) {
    static const char *const texts[] = {
        [SM_TIMECODE_FINE] = "read",
        [SM_TIMECODE_NO_INPUT] = "no input",
        [SM_TIMECODE_NO_SOUND] = "no sound",
        [SM_TIMECODE_QUIET] = "level too low, or nothing is sent",
        [SM_TIMECODE_NO_CODE] = "sound, but no timecode in it",
        [SM_TIMECODE_NOISE] = "frames do not follow each other: noise, jumps, or a bad cable",
        [SM_TIMECODE_SPEED] = "its speed is outside 0.8 to 1.25: not followed",
        [SM_TIMECODE_BACKWARD] = "it runs backward: not followed",
        [SM_TIMECODE_NO_RATE] = "its rate is not the show's, and known when a second of it ends",
    };
    static_assert(sizeof texts / sizeof texts[0] == SM_TIMECODE_TROUBLE_COUNT, "a sentence for each");
    return texts[trouble];
}
