// SPDX-License-Identifier: GPL-3.0-or-later
// Music files: every frame in its place, lengths exact, broken files played as far as they go.
#include "audio/cache.h"
#include "audio/decoded_music.h"
#include "audio/decoder.h"
#include "audio/downmix.h"
#include "support/sounds.h"

#include "slowmatch/audio.h"

#include <dirent.h>
#include <math.h>
#include <setjmp.h>
#include <sndfile.h>
#include <stdarg.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>
#include <unistd.h>

#include <cmocka.h>

#define RATE 44100
#define FRAMES 150000 // more than one chunk

typedef struct fixture {
    char folder[64], path[96];
    int16_t (*noise)[2];
} fixture;

static int setup(void **state) {
    fixture *own = calloc(1, sizeof *own);
    if (!own)
        return -1;
    snprintf(own->folder, sizeof own->folder, "/tmp/slowmatch-decode.XXXXXX");
    own->noise = calloc(FRAMES, sizeof *own->noise);
    if (!mkdtemp(own->folder) || !own->noise)
        return -1;
    snprintf(own->path, sizeof own->path, "%s/music", own->folder);
    for (uint32_t i = 0; i < FRAMES; i++) {
        own->noise[i][0] = sounds_noise(2 * i);
        own->noise[i][1] = sounds_noise(2 * i + 1);
    }
    *state = own;
    return 0;
}

static int teardown(void **state) {
    fixture *own = *state;
    unlink(own->path);
    rmdir(own->folder);
    free(own->noise);
    free(own);
    return 0;
}

static sm_music *decode(const char *path, sm_music_state *end) {
    sm_music *music = NULL;
    assert_int_equal(sm_music_create(path, NULL, &music), SM_OK);
    const struct timespec pause = {.tv_nsec = 1000000};
    do {
        nanosleep(&pause, NULL);
        sm_music_state_get(music, end);
    } while (end->phase < SM_MUSIC_DONE);
    return music;
}

static void lossless_files_come_out_to_the_sample(void **state) {
    fixture *own = *state;
    const int formats[] = {
        SF_FORMAT_WAV | SF_FORMAT_PCM_16,  SF_FORMAT_WAV | SF_FORMAT_PCM_24,  SF_FORMAT_WAV | SF_FORMAT_FLOAT,
        SF_FORMAT_FLAC | SF_FORMAT_PCM_16, SF_FORMAT_AIFF | SF_FORMAT_PCM_16,
    };
    float(*got)[2] = calloc(FRAMES + 20, sizeof *got);
    assert_non_null(got);
    for (size_t f = 0; f < sizeof formats / sizeof *formats; f++) {
        assert_true(sounds_write(own->path, formats[f], RATE, 2, own->noise[0], FRAMES));
        sm_music_state end;
        sm_music *music = decode(own->path, &end);
        assert_int_equal(end.phase, SM_MUSIC_DONE);
        assert_string_equal(end.problem, "");
        assert_int_equal(end.frames, FRAMES);
        assert_int_equal(end.rate_hz, RATE);
        sm_music_copy(music, -10, got, FRAMES + 20);
        for (size_t i = 0; i < 10; i++)
            assert_true(got[i][0] == 0 && got[FRAMES + 10 + i][1] == 0);
        size_t wrong = 0;
        for (size_t i = 0; i < FRAMES; i++)
            for (int side = 0; side < 2; side++)
                wrong += got[i + 10][side] != (float)own->noise[i][side] / 32768;
        assert_int_equal(wrong, 0);
        sm_audio_info info;
        assert_int_equal(sm_audio_probe(own->path, NULL, &info), SM_OK);
        assert_int_equal(info.frames, FRAMES);
        assert_int_equal(info.length_us, 3401361); // 150000 / 44100 s
        assert_string_equal(info.problem, "");
        sm_music_destroy(music);
    }
    free(got);
}

// The frame in which a click of a lossy file is loudest.
static int64_t loudest(const sm_music *music, int64_t from, int64_t to) {
    float pair[1][2], most = 0;
    int64_t found = -1;
    for (int64_t i = from; i < to; i++) {
        sm_music_copy(music, i, pair, 1);
        if (fabsf(pair[0][0]) > most) {
            most = fabsf(pair[0][0]);
            found = i;
        }
    }
    return found;
}

static void lossy_files_keep_their_places(void **state) {
    fixture *own = *state;
    static const struct {
        int format, rate_hz;
        const char *name;
    } ROWS[] = {
        {SF_FORMAT_OGG | SF_FORMAT_VORBIS, 44100, "Vorbis"},
        {SF_FORMAT_OGG | SF_FORMAT_OPUS, 48000, "Opus"},
        {SM_SNDFILE_MPEG | SM_SNDFILE_MPEG_LAYER_III, 44100, "MPEG"},
    };
    enum { LENGTH = 96000, STEP = 12000 };
    int16_t *clicks = calloc(LENGTH, sizeof *clicks);
    assert_non_null(clicks);
    // A rounded click of 1 ms, loudest at its middle.
    for (int at = STEP / 2; at < LENGTH; at += STEP)
        for (int i = -24; i <= 24; i++)
            clicks[at + i] = (int16_t)(20000 * (0.5 + 0.5 * cos(i * M_PI / 25)));
    int tried = 0;
    for (size_t r = 0; r < sizeof ROWS / sizeof *ROWS; r++) {
        if (!sounds_write(own->path, ROWS[r].format, ROWS[r].rate_hz, 1, clicks, LENGTH)) {
            print_message("this libsndfile writes no %s: not tried\n", ROWS[r].name);
            continue;
        }
        tried++;
        sm_music_state end;
        sm_music *music = decode(own->path, &end);
        assert_string_equal(end.problem, "");
        assert_non_null(strstr(end.format, ROWS[r].name));
        assert_int_equal(end.frames, LENGTH);
        for (int at = STEP / 2; at < LENGTH; at += STEP)
            assert_in_range(loudest(music, at - STEP / 2, at + STEP / 2), at - 5, at + 5);
        sm_audio_info info;
        assert_int_equal(sm_audio_probe(own->path, NULL, &info), SM_OK);
        assert_int_equal(info.frames, end.frames);
        sm_music_destroy(music);
    }
    free(clicks);
    if (tried == 0)
        skip();
}

// Frames that the file itself says it has, as libsndfile reads it.
static int64_t said_frames(const char *path) {
    SF_INFO info = {0};
    SNDFILE *file = sf_open(path, SFM_READ, &info);
    assert_non_null(file);
    sf_close(file);
    return info.frames;
}

static void cut_files_play_what_is_there_and_say_so(void **state) {
    fixture *own = *state;
    const int formats[] = {SF_FORMAT_FLAC | SF_FORMAT_PCM_16, SM_SNDFILE_MPEG | SM_SNDFILE_MPEG_LAYER_III,
                           SF_FORMAT_OGG | SF_FORMAT_VORBIS};
    for (size_t f = 0; f < sizeof formats / sizeof *formats; f++) {
        if (!sounds_write(own->path, formats[f], RATE, 2, own->noise[0], FRAMES))
            continue;
        assert_true(sounds_cut(own->path, sounds_size(own->path) * 42 / 100));
        sm_music_state end;
        sm_music *music = decode(own->path, &end);
        assert_int_equal(end.phase, SM_MUSIC_DONE);
        assert_in_range(end.frames, FRAMES / 4, FRAMES * 55 / 100);
        // Newer versions of the library count what is there: then nobody can tell that there was more.
        if (said_frames(own->path) > end.frames)
            assert_non_null(strstr(end.problem, "cut off"));
        float last[1][2], beyond[1][2];
        sm_music_copy(music, end.frames, beyond, 1);
        sm_music_copy(music, end.frames - 1, last, 1);
        assert_true(beyond[0][0] == 0);
        sm_audio_info info;
        assert_int_equal(sm_audio_probe(own->path, NULL, &info), SM_OK);
        assert_int_equal(info.frames, end.frames);
        assert_string_equal(info.problem, end.problem);
        sm_music_destroy(music);
    }
}

static void write_bytes(const char *path, const void *bytes, size_t length) {
    FILE *file = fopen(path, "wb");
    assert_non_null(file);
    assert_int_equal(fwrite(bytes, 1, length, file), length);
    fclose(file);
}

static void what_cannot_be_read_is_named(void **state) {
    fixture *own = *state;
    static const struct {
        const char *bytes;
        size_t length;
        const char *says;
    } ROWS[] = {
        {"\0\0\0\040ftypM4A \0\0\0\0M4A mp42", 24, "M4A"},
        {"\x1A\x45\xDF\xA3 matroska", 13, "WebM"},
        {"\x30\x26\xB2\x75 wma", 8, "WMA"},
        {"\x0B\x77 ac3", 6, "AC-3"},
        {"\xFF\xF1\x50\x80", 4, "AAC"},
        {"just some text, no sound", 24, "WAV, AIFF, FLAC, Ogg Vorbis, Opus or MP3"},
        {"", 0, "WAV, AIFF, FLAC, Ogg Vorbis, Opus or MP3"},
    };
    for (size_t r = 0; r < sizeof ROWS / sizeof *ROWS; r++) {
        write_bytes(own->path, ROWS[r].bytes, ROWS[r].length);
        sm_audio_info info = {.frames = -1};
        assert_int_equal(sm_audio_probe(own->path, NULL, &info), SM_UNREADABLE);
        assert_non_null(strstr(info.problem, ROWS[r].says));
        assert_int_equal(info.frames, -1);
        sm_music_state end;
        sm_music *music = decode(own->path, &end);
        assert_int_equal(end.phase, SM_MUSIC_FAILED);
        assert_string_equal(end.problem, info.problem);
        sm_music_destroy(music);
    }
    sm_audio_info info;
    assert_int_equal(sm_audio_probe("/nonexistent/music", NULL, &info), SM_UNREADABLE);
    assert_string_equal(info.problem, "cannot be opened: No such file or directory");
    assert_int_equal(sm_audio_probe(own->folder, NULL, &info), SM_UNREADABLE);
    assert_non_null(strstr(info.problem, "directory"));
}

static void every_sample_rate_and_channel_count_opens(void **state) {
    fixture *own = *state;
    const int rates[] = {8000, 11025, 22050, 32000, 96000, 192000};
    for (int channels = 1; channels <= 8; channels++) {
        int rate_hz = rates[channels % 6];
        assert_true(sounds_write(own->path, SF_FORMAT_WAV | SF_FORMAT_PCM_16, rate_hz, channels,
                                 own->noise[0], 2000));
        sm_audio_info info;
        assert_int_equal(sm_audio_probe(own->path, NULL, &info), SM_OK);
        assert_int_equal(info.channels, channels);
        assert_int_equal(info.rate_hz, rate_hz);
        assert_int_equal(info.frames, 2000);
    }
}

// Outside of what can be played a file is refused, in one line that says what can be.
static void a_sample_rate_out_of_reach_is_refused(void **state) {
    fixture *own = *state;
    static const struct {
        int rate_hz;
        bool plays;
    } ROWS[] = {{7999, false}, {8000, true}, {96000, true}, {192000, true}, {192001, false}, {384000, false}};
    for (size_t i = 0; i < sizeof ROWS / sizeof *ROWS; i++) {
        sm_audio_info info;
        char said[80];
        assert_true(sounds_write(own->path, SF_FORMAT_WAV | SF_FORMAT_PCM_16, ROWS[i].rate_hz, 2,
                                 own->noise[0], 2000));
        assert_int_equal(sm_audio_probe(own->path, NULL, &info), ROWS[i].plays ? SM_OK : SM_UNREADABLE);
        snprintf(said, sizeof said, "has a sample rate of %d Hz; 8000 to 192000 can be played",
                 ROWS[i].rate_hz);
        assert_string_equal(info.problem, ROWS[i].plays ? "" : said);
    }
}

static void down_mixing_is_fair(void **state) {
    (void)state;
    sm_downmix mix;
    float out[1][2];
    // WAVE order of 5.1: left, right, centre, low frequency effects, back left, back right.
    sm_downmix_init(&mix, 6, NULL);
    const float all[6] = {1, 1, 1, 1, 1, 1};
    sm_downmix_apply(&mix, all, out, 1);
    assert_float_equal(out[0][0], 1, 1e-6); // full scale everywhere is full scale, not more
    assert_float_equal(out[0][1], 1, 1e-6);
    const float left[6] = {1, 0, 0, 0, 0, 0}, centre[6] = {0, 0, 1, 0, 0, 0}, deep[6] = {0, 0, 0, 1, 0, 0};
    sm_downmix_apply(&mix, left, out, 1);
    float front = out[0][0];
    assert_float_equal(out[0][1], 0, 0);
    sm_downmix_apply(&mix, centre, out, 1);
    // Recommendation ITU-R BS.775, second-hand: centre and surround at -3 dB (0.7071) of the fronts.
    assert_float_equal(out[0][0] / front, 0.70710678, 1e-6);
    assert_float_equal(out[0][1] / front, 0.70710678, 1e-6);
    sm_downmix_apply(&mix, deep, out, 1);
    assert_float_equal(out[0][0], 0, 0);
    // A map that says where the channels are wins over the usual order.
    const int map[3] = {SF_CHANNEL_MAP_CENTER, SF_CHANNEL_MAP_LEFT, SF_CHANNEL_MAP_RIGHT};
    sm_downmix_init(&mix, 3, map);
    const float second[3] = {0, 1, 0};
    sm_downmix_apply(&mix, second, out, 1);
    assert_true(out[0][0] > 0.5f && out[0][1] == 0);
}

// A file of 20 s: 1 s quiet, then a square of rising level, 1 s each step.
static void the_overview_shows_the_shape(void **state) {
    fixture *own = *state;
    enum { LOW_RATE = 8000, SECONDS = 20 };
    int16_t *samples = calloc(LOW_RATE * SECONDS, sizeof *samples);
    assert_non_null(samples);
    for (int i = 0; i < LOW_RATE * SECONDS; i++)
        samples[i] = (int16_t)(i / LOW_RATE * 1000 * (i % 2 ? -1 : 1));
    assert_true(
        sounds_write(own->path, SF_FORMAT_WAV | SF_FORMAT_PCM_16, LOW_RATE, 1, samples, LOW_RATE * SECONDS));
    free(samples);
    sm_audio *audio = NULL;
    sm_audio_options options = {.path = own->path, .silent = true, .audio_start_us = 2 * SM_US_PER_S};
    assert_int_equal(sm_audio_open(&options, &audio), SM_OK);
    sm_audio_status status;
    const struct timespec pause = {.tv_nsec = 1000000};
    do {
        nanosleep(&pause, NULL);
        sm_audio_status_get(audio, &status);
    } while (!status.decoded);
    assert_int_equal(status.progress, 100);
    assert_int_equal(status.length_us, SECONDS * SM_US_PER_S);
    assert_true(status.has_music);
    sm_audio_peak peaks[24];
    assert_int_equal(sm_audio_overview(audio, (sm_show_time){0}, (sm_show_time){24 * SM_US_PER_S}, 24, peaks),
                     24);
    for (int i = 0; i < 24; i++) {
        float level = i < 2 || i >= 22 ? 0 : (float)(i - 2) * 1000 / 32768;
        // A column may show a part of the next second: peaks are kept for stretches of 1024 frames.
        float next = i < 2 || i >= 21 ? level : (float)(i - 1) * 1000 / 32768;
        assert_true(peaks[i].high >= level - 1e-6f && peaks[i].high <= next + 1e-6f);
        assert_float_equal(peaks[i].low, -peaks[i].high, 1e-6);
        assert_true(peaks[i].rms >= level * 0.85f && peaks[i].rms <= next + 1e-6f);
    }
    sm_audio_close(audio);
}

static void overview_of(const char *music, const char *folder, bool whole, sm_audio_peak peaks[40]) {
    sm_audio *audio = NULL;
    sm_audio_options options = {.path = music, .silent = true, .cache_folder = folder};
    assert_int_equal(sm_audio_open(&options, &audio), SM_OK);
    sm_audio_status status;
    const struct timespec pause = {.tv_nsec = 1000000};
    do {
        nanosleep(&pause, NULL);
        sm_audio_status_get(audio, &status);
    } while (!status.decoded);
    assert_int_equal(status.problem[0] == 0, whole);
    assert_int_equal(sm_audio_overview(audio, (sm_show_time){0}, (sm_show_time){3500000}, 40, peaks), 40);
    sm_audio_close(audio);
}

// The one file of FOLDER; its name into PATH.
static void only_file(const char *folder, char path[400]) {
    DIR *list = opendir(folder);
    assert_non_null(list);
    int count = 0;
    for (const struct dirent *entry; (entry = readdir(list));)
        if (entry->d_name[0] != '.') {
            snprintf(path, 400, "%s/%s", folder, entry->d_name);
            count++;
        }
    closedir(list);
    assert_int_equal(count, 1);
}

static void the_shape_is_kept_for_the_next_time(void **state) {
    fixture *own = *state;
    char folder[80], deep[96], kept[400];
    snprintf(folder, sizeof folder, "%s/cache", own->folder);
    snprintf(deep, sizeof deep, "%s/waves", folder);
    assert_true(sounds_write(own->path, SF_FORMAT_FLAC | SF_FORMAT_PCM_16, RATE, 2, own->noise[0], FRAMES));
    sm_audio_peak first[40], again[40];
    overview_of(own->path, deep, true, first);
    only_file(deep, kept);
    // Marked, to tell what comes from the cache: one bin of the file made loud beyond all music.
    FILE *file = fopen(kept, "r+b");
    assert_non_null(file);
    const float loud = 9;
    assert_int_equal(fseek(file, -8, SEEK_END), 0); // low, HIGH, rms of the last bin
    assert_int_equal(fwrite(&loud, sizeof loud, 1, file), 1);
    fclose(file);
    overview_of(own->path, deep, true, again);
    assert_memory_equal(first, again, 38 * sizeof *first);
    assert_float_equal(again[38].high, loud, 0); // the music's end, at 3.4 s
    // Cut off: computed again, and kept again.
    assert_true(sounds_cut(kept, sounds_size(kept) - 1));
    overview_of(own->path, deep, true, again);
    assert_memory_equal(first, again, sizeof first);
    // Another content is another key, whatever the name.
    own->noise[0][0] = (int16_t)(own->noise[0][0] + 1);
    assert_true(sounds_write(own->path, SF_FORMAT_FLAC | SF_FORMAT_PCM_16, RATE, 2, own->noise[0], FRAMES));
    sm_cache_key key, other;
    assert_true(sm_cache_key_of(own->path, NULL, &key));
    assert_true(sm_cache_key_of(kept, NULL, &other));
    sm_cache_shape shape;
    assert_false(sm_cache_load(deep, &key, 1024, &shape));
    assert_false(sm_cache_key_of("/nonexistent/music", NULL, &key));
    only_file(deep, kept);
    unlink(kept);
    rmdir(deep);
    rmdir(folder);
}

static void the_cache_stays_small_and_its_folder_is_the_users(void **state) {
    fixture *own = *state;
    sm_audio_peak bin = {-1, 1, 0.5f};
    for (uint64_t i = 0; i < SM_CACHE_FILES_MAX + 5; i++)
        sm_cache_store(own->folder, &(sm_cache_key){i, i}, 1024, &(sm_cache_shape){&bin, 1, 1000});
    int left = 0;
    for (uint64_t i = 0; i < SM_CACHE_FILES_MAX + 5; i++) {
        sm_cache_shape shape = {0};
        left += sm_cache_load(own->folder, &(sm_cache_key){i, i}, 1024, &shape);
        free(shape.bins);
        char path[128];
        snprintf(path, sizeof path, "%s/%016llx-%llx.wave", own->folder, (unsigned long long)i,
                 (unsigned long long)i);
        unlink(path);
    }
    assert_int_equal(left, SM_CACHE_FILES_MAX);
    sm_text folder = {0};
    setenv("XDG_CACHE_HOME", "/somewhere", 1);
    assert_int_equal(sm_audio_cache_folder(&folder), SM_OK);
    assert_string_equal(sm_text_get(&folder), "/somewhere/slowmatch");
    sm_text_clear(&folder);
    setenv("XDG_CACHE_HOME", "relative", 1); // the specification: to be ignored
    setenv("HOME", "/home/crew", 1);
    assert_int_equal(sm_audio_cache_folder(&folder), SM_OK);
    assert_string_equal(sm_text_get(&folder), "/home/crew/.cache/slowmatch");
    unsetenv("HOME");
    assert_int_equal(sm_audio_cache_folder(&folder), SM_NOT_FOUND);
    sm_text_deinit(&folder);
}

// A file of floats may hold what is no sample at all: full scale is the most that is handed on, silence what is no number.
static void what_no_device_can_play_is_held_to_full_scale(void **state) {
    fixture *own = *state;
    static const float kept[] = {NAN, INFINITY, -INFINITY, 3.0e38F, -1.5F, 0.25F, -1, 1};
    static const float heard[] = {0, 1, -1, 1, -1, 0.25F, -1, 1};
    enum { COUNT = sizeof kept / sizeof kept[0] };
    SF_INFO info = {.samplerate = RATE, .channels = 1, .format = SF_FORMAT_WAV | SF_FORMAT_FLOAT};
    SNDFILE *file = sf_open(own->path, SFM_WRITE, &info);
    assert_non_null(file);
    assert_int_equal(sf_writef_float(file, kept, COUNT), COUNT);
    assert_int_equal(sf_close(file), 0);
    sm_decoder_facts facts;
    char problem[256];
    float out[COUNT][2];
    sm_decoder *decoder = sm_decoder_open(own->path, &facts, problem, sizeof problem);
    assert_non_null(decoder);
    assert_int_equal(sm_decoder_read(decoder, out, COUNT), COUNT);
    for (size_t i = 0; i < COUNT; i++)
        assert_true(out[i][0] == heard[i] && out[i][1] == heard[i]);
    sm_decoder_close(decoder);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(lossless_files_come_out_to_the_sample, setup, teardown),
        cmocka_unit_test_setup_teardown(lossy_files_keep_their_places, setup, teardown),
        cmocka_unit_test_setup_teardown(cut_files_play_what_is_there_and_say_so, setup, teardown),
        cmocka_unit_test_setup_teardown(what_cannot_be_read_is_named, setup, teardown),
        cmocka_unit_test_setup_teardown(every_sample_rate_and_channel_count_opens, setup, teardown),
        cmocka_unit_test_setup_teardown(a_sample_rate_out_of_reach_is_refused, setup, teardown),
        cmocka_unit_test_setup_teardown(what_no_device_can_play_is_held_to_full_scale, setup, teardown),
        cmocka_unit_test(down_mixing_is_fair),
        cmocka_unit_test_setup_teardown(the_shape_is_kept_for_the_next_time, setup, teardown),
        cmocka_unit_test_setup_teardown(the_cache_stays_small_and_its_folder_is_the_users, setup, teardown),
        cmocka_unit_test_setup_teardown(the_overview_shows_the_shape, setup, teardown),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
