// SPDX-License-Identifier: GPL-3.0-or-later
// Linear timecode, read back by a decoder.
#include "support/check_folder.h"
#include "support/folder.h"
#include "support/ltc_reader.h"
#include "support/ltc_writer.h"
#include "support/published.h"
#include "support/take.h"

#include "slowmatch/audio.h"

#include <ltc.h>
#include <math.h>
#include <setjmp.h>
#include <sndfile.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/wait.h>
#include <unistd.h>

#include <cmocka.h>

typedef struct code {
    int hours, minutes, seconds, frame;
    bool drop;
    int64_t starts; // sample
    uint8_t bytes[10];
} code;

// All that a decoder finds in SAMPLES; returns how many.
static size_t read_code(const float *samples, size_t count, int apart, int per_frame, code *out,
                        size_t room) {
    LTCDecoder *decoder = ltc_decoder_create(per_frame, 64);
    assert_non_null(decoder);
    size_t found = 0;
    for (size_t at = 0; at < count; at += 256) {
        float block[256];
        size_t part = count - at < 256 ? count - at : 256;
        for (size_t i = 0; i < part; i++)
            block[i] = samples[(at + i) * (size_t)apart];
        ltc_decoder_write_float(decoder, block, part, (ltc_off_t)at);
        LTCFrameExt got;
        while (ltc_decoder_read(decoder, &got) == 1 && found < room) {
            SMPTETimecode time;
            ltc_frame_to_time(&time, &got.ltc, 0);
            code *entry = &out[found++];
            *entry = (code){time.hours, time.mins, time.secs, time.frame, got.ltc.dfbit, got.off_start, {0}};
            memcpy(entry->bytes, &got.ltc, 10);
        }
    }
    ltc_decoder_free(decoder);
    return found;
}

static void a_file_reads_back_frame_for_frame(void **state) {
    (void)state;
    static const struct {
        sm_audio_timecode timecode;
        int rate_hz;
        double fps;
    } ROWS[] = {
        {{SM_TC_24, false, 86400, 0}, 48000, 24},
        {{SM_TC_25, false, 90000, 0}, 44100, 25},
        {{SM_TC_30, false, 0, 0}, 48000, 30},
        {{SM_TC_29_97, false, 1790, 0}, 48000, 30000.0 / 1001},
        {{SM_TC_29_97, true, 1790, 0}, 48000, 30000.0 / 1001},
        {{SM_TC_29_97, true, 17970, 0}, 44100, 30000.0 / 1001}, // over the tenth minute: nothing is dropped
        {{SM_TC_25, false, 2159950, 0}, 48000, 25},             // over midnight
    };
    enum { SECONDS = 6 };
    char path[] = "/tmp/slowmatch-code.XXXXXX";
    assert_true(close(mkstemp(path)) == 0);
    for (size_t r = 0; r < sizeof ROWS / sizeof *ROWS; r++) {
        const sm_audio_timecode *timecode = &ROWS[r].timecode;
        assert_int_equal(sm_audio_timecode_write(path, timecode, SECONDS * SM_US_PER_S, ROWS[r].rate_hz),
                         SM_OK);
        SF_INFO info = {0};
        SNDFILE *file = sf_open(path, SFM_READ, &info);
        assert_non_null(file);
        assert_int_equal(info.samplerate, ROWS[r].rate_hz);
        float *samples = calloc((size_t)info.frames, sizeof *samples);
        assert_non_null(samples);
        assert_int_equal(sf_readf_float(file, samples, info.frames), info.frames);
        sf_close(file);
        static code found[400];
        size_t count =
            read_code(samples, (size_t)info.frames, 1, (int)(ROWS[r].rate_hz / ROWS[r].fps), found, 400);
        free(samples);
        size_t wanted = (size_t)(SECONDS * ROWS[r].fps); // and the second beyond
        assert_true(count >= wanted);
        // The decoder may want a frame to find its feet.
        int64_t first = llround((double)found[0].starts * ROWS[r].fps / ROWS[r].rate_hz);
        assert_in_range(first, 0, 1);
        for (size_t i = 0; i < wanted; i++) {
            int hours, minutes, seconds, frame;
            sm_timecode_from_frames(timecode->rate, timecode->drop,
                                    timecode->start_frames + first + (int64_t)i, &hours, &minutes, &seconds,
                                    &frame);
            assert_int_equal(found[i].hours, hours);
            assert_int_equal(found[i].minutes, minutes);
            assert_int_equal(found[i].seconds, seconds);
            assert_int_equal(found[i].frame, frame);
            assert_int_equal(found[i].drop, timecode->drop);
            double starts = (double)(first + (int64_t)i) / ROWS[r].fps * ROWS[r].rate_hz;
            assert_true(fabs((double)found[i].starts - starts) <= 3);
        }
    }
    unlink(path);
}

static float *read_file(const char *path, size_t *count, int *rate_hz) {
    SF_INFO info = {0};
    SNDFILE *file = sf_open(path, SFM_READ, &info);
    assert_non_null(file);
    float *samples = calloc((size_t)info.frames, sizeof *samples);
    assert_non_null(samples);
    assert_int_equal(sf_readf_float(file, samples, info.frames), info.frames);
    sf_close(file);
    *count = (size_t)info.frames;
    *rate_hz = info.samplerate;
    return samples;
}

// Files read by a reader of the tests' own: from show time 0 to the very end of a length with a fraction, and a second more,
// every frame is there, in its place, and none twice.
static void a_reader_of_its_own_finds_every_frame(void **state) {
    (void)state;
    static const struct {
        sm_audio_timecode timecode;
        int rate_hz, fps;
        double real_fps;
        sm_us length_us;
        ltc_frame first;
    } rows[] = {
        {{SM_TC_24, false, 86400, 0}, 48000, 24, 24, 6370000, {.hours = 1}},
        {{SM_TC_25, false, 90000, 0}, 48000, 25, 25, 999000, {.hours = 1}},
        {{SM_TC_25, false, 90000, 0}, 44100, 25, 25, 12040001, {.hours = 1}},
        {{SM_TC_30, false, 0, 0}, 48000, 30, 30, 3999999, {.hours = 0}},
        {{SM_TC_29_97, false, 1790, 0}, 48000, 30, 30000.0 / 1001, 5500000, {.seconds = 59, .frame = 20}},
        {{SM_TC_29_97, true, 1790, 0},
         48000,
         30,
         30000.0 / 1001,
         5500000,
         {.seconds = 59, .frame = 20, .drop = true}},
        {{SM_TC_29_97, true, 17970, 0},
         96000,
         30,
         30000.0 / 1001,
         2750000,
         {.minutes = 9, .seconds = 59, .frame = 18, .drop = true}},
    };
    published frames = {.family = "linear timecode",
                        .source =
                            "SMPTE ST 12-1's bit tables (second-hand), read by zero crossings in the test; "
                            "deviations as shares of a frame"};
    char path[] = "/tmp/slowmatch-code.XXXXXX";
    assert_true(close(mkstemp(path)) == 0);
    for (size_t r = 0; r < sizeof rows / sizeof *rows; r++) {
        size_t count;
        int rate_hz;
        static ltc_frame found[600];
        assert_int_equal(sm_audio_timecode_write(path, &rows[r].timecode, rows[r].length_us, rows[r].rate_hz),
                         SM_OK);
        float *samples = read_file(path, &count, &rate_hz);
        assert_int_equal(rate_hz, rows[r].rate_hz);
        const double seconds = (double)rows[r].length_us / 1e6 + 1.0;
        assert_true((double)count >= seconds * rate_hz);
        const size_t got = ltc_reader_read(samples, count, rate_hz, rows[r].real_fps, found, 600);
        free(samples);
        assert_true(got >= (size_t)(seconds * rows[r].real_fps)); // the promised second, whole
        ltc_frame expected = rows[r].first;
        for (size_t i = 0; i < got; i++) {
            assert_int_equal(found[i].hours, expected.hours);
            assert_int_equal(found[i].minutes, expected.minutes);
            assert_int_equal(found[i].seconds, expected.seconds);
            assert_int_equal(found[i].frame, expected.frame);
            assert_int_equal(found[i].drop, expected.drop);
            assert_true(found[i].even_zeros);
            published_hold(&frames, found[i].starts / rate_hz * rows[r].real_fps - (double)i, 0, 0.003);
            ltc_count_on(&expected, rows[r].fps);
        }
    }
    unlink(path);
    published_print(&frames);
}

// The ten bytes of three frames, least significant bit first, user bits 0: recomputed from the bit tables of
// SMPTE ST 12-1 / IEC 60461 (two public tables, second-hand).
static void the_bits_are_those_of_the_standard(void **state) {
    (void)state;
    static const struct {
        sm_audio_timecode timecode;
        int time[4];
        uint8_t bytes[10];
    } ROWS[] = {
        {{SM_TC_25, false, 93075 - 1, 0}, {1, 2, 3, 0}, {0, 0, 3, 0, 2, 0, 1, 0, 0xFC, 0xBF}},
        {{SM_TC_30, false, 111694 - 1, 0}, {1, 2, 3, 4}, {4, 0, 3, 0, 2, 0, 1, 0, 0xFC, 0xBF}},
        {{SM_TC_29_97, true, 2589407 - 1, 0}, {23, 59, 59, 29}, {9, 6, 9, 5, 9, 5, 3, 2, 0xFC, 0xBF}},
        {{SM_TC_29_97, true, 1800 - 1, 0}, {0, 1, 0, 2}, {2, 4, 0, 0, 1, 0, 0, 0, 0xFC, 0xBF}},
    };
    char path[] = "/tmp/slowmatch-code.XXXXXX";
    assert_true(close(mkstemp(path)) == 0);
    for (size_t r = 0; r < sizeof ROWS / sizeof *ROWS; r++) {
        assert_int_equal(sm_audio_timecode_write(path, &ROWS[r].timecode, SM_US_PER_S / 5, 48000), SM_OK);
        SF_INFO info = {0};
        SNDFILE *file = sf_open(path, SFM_READ, &info);
        assert_non_null(file);
        static float samples[96000];
        size_t frames = (size_t)sf_readf_float(file, samples, 96000);
        sf_close(file);
        static code found[60];
        size_t count = read_code(samples, frames, 1, 1600, found, 60);
        bool seen = false;
        for (size_t i = 0; i < count; i++) {
            const int *time = ROWS[r].time;
            if (found[i].hours != time[0] || found[i].minutes != time[1] || found[i].seconds != time[2] ||
                found[i].frame != time[3])
                continue;
            seen = true;
            // The polarity bit (27, or 59 at 25 frames) makes the number of zeros even.
            uint8_t bytes[10];
            memcpy(bytes, found[i].bytes, 10);
            int ones = 0;
            for (int bit = 0; bit < 80; bit++)
                ones += bytes[bit / 8] >> (bit % 8) & 1;
            assert_int_equal(ones % 2, 0);
            bytes[3] &= (uint8_t)~0x08;
            bytes[7] &= (uint8_t)~0x08;
            assert_memory_equal(bytes, ROWS[r].bytes, 10);
        }
        assert_true(seen);
    }
    unlink(path);
}

static int run_command(const char *show, const char *file) {
    const char *build = getenv("SLOWMATCH_BUILD");
    char command[512];
    snprintf(command, sizeof command, "%s/slowmatch timecode %s %s >/dev/null 2>&1", build ? build : "build",
             show, file);
    int status = system(command); // NOLINT(cert-env33-c): the shell's redirection is wanted
    return WIFEXITED(status) ? WEXITSTATUS(status) : -1;
}

// The demo is 92 s long, at 25 frames from 01:00:00:00.
static void the_command_writes_the_whole_show(void **state) {
    (void)state;
    char folder[] = "/tmp/slowmatch-code.XXXXXX", path[64], wrong[64];
    assert_non_null(mkdtemp(folder));
    snprintf(path, sizeof path, "%s/code.wav", folder);
    snprintf(wrong, sizeof wrong, "%s/code.mp3", folder);
    assert_int_equal(run_command("demo-shows/lantern-quay", wrong), 2);
    assert_int_equal(run_command("demo-shows/no-such-show", path), 2);
    assert_int_equal(run_command("demo-shows/lantern-quay", path), 0);
    SF_INFO info = {0};
    SNDFILE *file = sf_open(path, SFM_READ, &info);
    assert_non_null(file);
    float *samples = calloc((size_t)info.frames, sizeof *samples);
    assert_non_null(samples);
    assert_int_equal(sf_readf_float(file, samples, info.frames), info.frames);
    sf_close(file);
    static code found[3000];
    size_t count = read_code(samples, (size_t)info.frames, 1, 48000 / 25, found, 3000);
    free(samples);
    unlink(path);
    rmdir(folder);
    assert_in_range(count, 92 * 25, 94 * 25);
    for (size_t i = 0; i < count; i++) {
        int64_t frames = llround((double)found[i].starts / (48000 / 25.0));
        int64_t said =
            (found[i].hours * 60 + found[i].minutes) * 1500 + found[i].seconds * 25 + found[i].frame;
        assert_int_equal(said, 90000 + frames);
    }
}

// Of a length with a fraction every frame to its end is there and a second more (tests/data/worst); a whole length, just
// inside, never lost any. An engineer who starts a camera on it counts on that second.
static void a_length_with_a_fraction_keeps_its_second(void **state) {
    (void)state;
    static const struct {
        const char *side;
        double seconds;
    } rows[] = {{"found", 60.370}, {"inside", 60.0}};
    for (size_t r = 0; r < sizeof rows / sizeof *rows; r++) {
        check_folder folder;
        char overlay[64], path[256];
        size_t count;
        int rate_hz;
        static ltc_frame found[1700];
        snprintf(overlay, sizeof overlay, "tests/data/worst/timecode/%s", rows[r].side);
        check_folder_init(&folder, "tests/data/check/base");
        check_folder_overlay(&folder, overlay);
        assert_int_equal(run_command(folder.path, folder_path(path, folder.path, "code.wav")), 0);
        float *samples = read_file(path, &count, &rate_hz);
        const size_t got = ltc_reader_read(samples, count, rate_hz, 25, found, 1700);
        free(samples);
        check_folder_deinit(&folder);
        assert_true((double)count / rate_hz >= rows[r].seconds + 1.0);
        assert_true(got >= (size_t)ceil((rows[r].seconds + 1.0) * 25) - 1);
    }
}

static void wrong_wishes_are_refused(void **state) {
    (void)state;
    sm_audio_timecode timecode = {SM_TC_25, false, 0, 1};
    assert_int_equal(sm_audio_timecode_write("/tmp/never", &timecode, 0, 48000), SM_OUT_OF_RANGE);
    assert_int_equal(sm_audio_timecode_write("/tmp/never", &timecode, SM_US_PER_S, 4000), SM_OUT_OF_RANGE);
    assert_int_equal(sm_audio_timecode_write("/nonexistent/file", &timecode, SM_US_PER_S, 48000),
                     SM_UNREADABLE);
    sm_audio *audio = NULL;
    assert_int_equal(sm_audio_open(&(sm_audio_options){.silent = true}, &audio), SM_OK);
    assert_int_equal(sm_audio_timecode_out(audio, &timecode), SM_OK);
    timecode.channel = 3;
    assert_int_equal(sm_audio_timecode_out(audio, &timecode), SM_OUT_OF_RANGE);
    timecode = (sm_audio_timecode){SM_TC_25, true, 0, 1};
    assert_int_equal(sm_audio_timecode_out(audio, &timecode), SM_OUT_OF_RANGE);
    assert_int_equal(sm_audio_timecode_out(audio, NULL), SM_OK);
    sm_audio_close(audio);
}

// Every frame found between BEGIN_S and END_S is the show's, which ran from FROM on at FROM_S; returns how many.
static int follow(const take *own, const sound_recording *heard, const code *found, size_t count,
                  double begin_s, double end_s, sm_wall_time from, double from_s) {
    int seen = 0;
    for (size_t i = 0; i < count; i++) {
        double at_s = take_heard_s(own, heard, (size_t)found[i].starts);
        if (isnan(at_s) || at_s < begin_s || at_s > end_s)
            continue;
        double show_s = at_s - (double)from.us / 1e6 + from_s;
        double said_s =
            found[i].hours * 3600 + found[i].minutes * 60 + found[i].seconds + found[i].frame / 25.0;
        assert_true(fabs(show_s + 3600 - said_s) < TAKE_TOLERANCE_S);
        seen++;
    }
    return seen;
}

static void the_output_follows_a_jump_and_a_pause(void **state) {
    take *own = take_of(state);
    assert_true(sound_rig_record(&own->rig));
    assert_true(take_open(own, TAKE_NUMBERED, 20, TAKE_RATE, (sm_audio_options){0}));
    sm_audio_timecode timecode = {SM_TC_25, false, 90000, 2};
    assert_int_equal(sm_audio_timecode_out(own->audio, &timecode), SM_OK);
    sm_audio_mute(own->audio, true);
    sm_wall_time first = take_play(own, 0.1, 3.003, SM_SPEED_ONE);
    take_wait(own, 1.1);
    sm_wall_time second = take_play(own, 0, 9.51, SM_SPEED_ONE);
    take_wait(own, 1);
    take_stand(own);
    double still_s = (double)sm_audio_now(own->audio).us / 1e6;
    take_wait(own, 0.8);
    sound_recording heard;
    assert_true(sound_rig_recorded(&own->rig, &heard));
    float *samples = calloc(heard.count, sizeof *samples);
    assert_non_null(samples);
    for (size_t i = 0; i < heard.count; i++)
        samples[i] = (float)heard.frames[i][1] / 32768;
    static code found[400];
    size_t count = read_code(samples, heard.count, 1, TAKE_RATE / 25, found, 400);
    double first_s = (double)first.us / 1e6, second_s = (double)second.us / 1e6;
    // A reader needs a frame to find its feet, and a frame is known by the next one's start.
    assert_in_range(follow(own, &heard, found, count, first_s, second_s + 0.02, first, 3.003), 22, 25);
    assert_in_range(follow(own, &heard, found, count, second_s + 0.15, still_s, second, 9.51), 17, 24);
    assert_int_equal(follow(own, &heard, found, count, still_s + 0.15, still_s + 0.8, first, 0), 0);
    for (size_t i = 0; i < heard.count; i++)
        assert_int_equal(heard.frames[i][0], 0); // the music is muted, and timecode keeps to its channel
    free(samples);
    sound_recording_deinit(&heard);
}

static int all(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_file_reads_back_frame_for_frame),
        cmocka_unit_test(a_reader_of_its_own_finds_every_frame),
        cmocka_unit_test(the_bits_are_those_of_the_standard),
        cmocka_unit_test(the_command_writes_the_whole_show),
        cmocka_unit_test(a_length_with_a_fraction_keeps_its_second),
        cmocka_unit_test(wrong_wishes_are_refused),
        cmocka_unit_test_setup_teardown(the_output_follows_a_jump_and_a_pause, take_setup, take_teardown),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

int main(int argc, char **argv) {
    return take_main(argc, argv, all);
}
