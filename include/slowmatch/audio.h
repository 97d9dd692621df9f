// SPDX-License-Identifier: GPL-3.0-or-later
// Sound and the rehearsal clock: music in step with the show, a clock that never steps, with a sound card or
// without.
//
// The rehearsal clock (sm_wall_time) runs from 0 at sm_audio_open. With a sound card it follows the frames
// that the card has really put out; without one, or while it is lost, it goes on from the same point at the
// rate it had. The caller tells the transport ("from rehearsal time W on: show time S, this speed, playing or
// not") and every frame carries the music of its own rehearsal time, so sound is in step by construction.
//
// Threads: unless a function says otherwise, all may be called from any thread while the object lives, and
// none blocks for longer than a short lock.
#ifndef SLOWMATCH_AUDIO_H
#define SLOWMATCH_AUDIO_H

#include "slowmatch/base.h"
#include "slowmatch/progress.h"

// Speeds are parts per million of the show's own pace: 1000000 is 1.0.
#define SM_SPEED_ONE 1000000
#define SM_SPEED_MIN 100000
#define SM_SPEED_MAX 2000000

// The first argument with which the program starts itself as the sound process: main() hands over to
// sm_audio_process_main when argv[1] is this, before it does anything else.
#define SM_AUDIO_PROCESS_ARGUMENT "--sound-process"

typedef struct sm_audio sm_audio;

typedef struct sm_audio_options {
    const char *path;     // the music file; NULL: a show without music
    sm_us audio_start_us; // show time at which the file's first frame sounds
    const char
        *device; // name of an output device, or a part of it (case ignored); NULL: the system's default
    bool silent; // no device is opened and no process started
    sm_us sound_offset_us; // how much later than the device says its sound reaches the ear (within +/- 2 s):
                           // the music is played that much earlier
    const char *cache_folder; // where the music's shape is kept for the next time; NULL: nowhere
} sm_audio_options;

// Appends the user's own folder for that (XDG_CACHE_HOME, else HOME/.cache). SM_NOT_FOUND: neither is set.
// SM_NO_MEMORY.
SM_MUST_CHECK sm_result sm_audio_cache_folder(sm_text *out);

// Starts the clock at 0, decoding in a thread of its own and, unless silent, the sound thread that keeps the
// sound process. Copies what OPTIONS points to. Trouble with the file or the device is no failure:
// sm_audio_status and the events tell. SM_NO_MEMORY (memory or threads ran out), SM_OUT_OF_RANGE (sound
// offset). The caller closes.
SM_MUST_CHECK sm_result sm_audio_open(const sm_audio_options *options, sm_audio **out);

// Ends the sound process and the threads; takes up to some 0.2 s. NULL is allowed. No other thread may be
// inside a function of this object.
void sm_audio_close(sm_audio *audio);

// ---- the clock ---------------------------------------------------------------

// Now, in rehearsal time. Never goes back, in whatever thread it is read, and never steps forward.
sm_wall_time sm_audio_now(sm_audio *audio);

// The CLOCK_MONOTONIC moment, in nanoseconds, at which rehearsal time WALL comes at the present rate: what a
// thread sleeps until. The rate is corrected many times a second by parts in a thousand at most, so look
// again on waking.
int64_t sm_audio_monotonic_ns(sm_audio *audio, sm_wall_time wall);

// ---- the transport -----------------------------------------------------------

// From rehearsal time FROM on, show time is SHOW and goes on at SPEED_PPM (SM_SPEED_MIN to SM_SPEED_MAX), if
// PLAYING; else the show stands still and is silent. A FROM in the past acts as soon as it can, in step; one
// in the future (a planned jump, a repeat) is met to the frame. Changes planned for FROM or later are
// forgotten. SM_OUT_OF_RANGE: the speed; nothing changes.
SM_MUST_CHECK sm_result sm_audio_transport(sm_audio *audio, sm_wall_time from, sm_show_time show,
                                           int32_t speed_ppm, bool playing);

// The same for music that is only tried out while the show stands: no timecode goes out with it, and of the tones only ticks.
SM_MUST_CHECK sm_result sm_audio_preview(sm_audio *audio, sm_wall_time from, sm_show_time show,
                                         int32_t speed_ppm);

// Music volume, 0 to 100 per cent (clamped); 100 (the start) leaves the samples untouched, the amplitude is
// (per cent / 100) squared. Ramped over 10 ms.
void sm_audio_volume(sm_audio *audio, int percent);
// Music silenced or not. Ramped as volume is.
void sm_audio_mute(sm_audio *audio, bool muted);

// Drills: from now on the music is LATE_US later than the show asks (negative: earlier; within +/- 1 h, clamped).
// Timecode and tones stay.
void sm_audio_music_off(sm_audio *audio, sm_us late_us);

// ---- tones -------------------------------------------------------------------------

typedef enum sm_tone {
    SM_TONE_THREE, // the count before a firing
    SM_TONE_TWO,
    SM_TONE_ONE,
    SM_TONE_GO,
    SM_TONE_TICK,    // short and sharp, to check by ear that sound and show agree
    SM_TONE_ARMING,  // three pulses
    SM_TONE_WARNING, // an alert: five quick pulses; lower ones are calls and cautions
    SM_TONE_CAUTION, // an alert: two slow and low pulses
    SM_TONE_COUNT
} sm_tone;

typedef struct sm_audio_call {
    sm_show_time show; // the tone begins here
    sm_tone tone;
} sm_audio_call;

// The tones that sound at moments of the show while it plays, in place of those set before; sorted by show time,
// copied. COUNT 0: none (the start). At any speed a tone has its own pitch and length. SM_NO_MEMORY: nothing changes.
// SM_INVALID: not sorted.
SM_MUST_CHECK sm_result sm_audio_calls(sm_audio *audio, const sm_audio_call *calls, size_t count);
// Sounds TONE once, as soon as can be (some 0.1 s). The music's volume and mute do not touch tones.
void sm_audio_tone(sm_audio *audio, sm_tone tone);

// ---- timecode ------------------------------------------------------------------------

typedef struct sm_audio_timecode {
    sm_timecode_rate rate;
    bool drop;            // only at SM_TC_29_97
    int64_t start_frames; // timecode at show time 0
    int channel;          // of the output: 1 left, 2 right
} sm_audio_timecode;

// Sends linear timecode (SMPTE ST 12-1) on one channel, and both sides of the music on the other, while the show plays
// at speed 1; at other speeds and while it stands, that channel is silent. NULL: none (the start). Volume and mute do
// not touch it. SM_OUT_OF_RANGE: a channel, or drop at another rate; nothing changes.
SM_MUST_CHECK sm_result sm_audio_timecode_out(sm_audio *audio, const sm_audio_timecode *timecode);

// The same from a show's settings (BASE) on CHANNEL; channel 0: none.
SM_MUST_CHECK sm_result sm_audio_timecode_send(sm_audio *audio, const sm_moment_base *base, int channel);
// Channel 1 is "left", 2 is "right"; NULL for any other. Static.
const char *sm_audio_side_text(int channel);
// "1", "left", "2", "right". SM_INVALID.
SM_MUST_CHECK sm_result sm_audio_side_read(const char *text, int *channel);

// Writes the timecode of show time 0 to LENGTH_US (over 0, at most 24 h), and a little over a second more, into the
// WAV file PATH: mono, 16 bit, RATE_HZ (8000 to 192000). SM_OUT_OF_RANGE; SM_NO_MEMORY; SM_UNREADABLE when it cannot
// be written (what was written stays); errno EEXIST: a file is there that this did not write.
SM_MUST_CHECK sm_result sm_audio_timecode_write(const char *path, const sm_audio_timecode *timecode,
                                                sm_us length_us, int rate_hz);

// ---- status, events, devices -----------------------------------------------------

typedef enum sm_audio_state {
    SM_AUDIO_SILENT,   // no device was asked for, or none was ever found
    SM_AUDIO_STARTING, // a device is being opened for the first time
    SM_AUDIO_SOUNDING, // the clock follows a device
    SM_AUDIO_LOST,     // there was a device; the clock runs on without it
    SM_AUDIO_STATE_COUNT
} sm_audio_state;

typedef struct sm_audio_status {
    sm_audio_state state;
    char device[128]; // while sounding, or the one that was lost; "" before any
    char reason[192]; // why it is silent or lost; "" while sounding
    int rate_hz;      // of the device; 0 while there is none
    uint64_t
        gap_frames; // frames that the card played as silence because none were ready, since the last start
    int volume_percent;
    bool muted;
    bool has_music;    // a file was named and could be opened (so far as is known)
    int progress;      // decoding, 0 to 100 per cent
    bool decoded;      // decoding has ended
    sm_us length_us;   // of the music decoded so far; exact once decoded
    char format[64];   // "FLAC, 44100 Hz, 2 channels"; "" while unknown
    char problem[256]; // what is wrong with the file, one clear line; "" for nothing known
} sm_audio_status;

void sm_audio_status_get(sm_audio *audio, sm_audio_status *out);

typedef enum sm_audio_event_kind {
    SM_AUDIO_EVENT_DEVICE, // sound comes out of a device for the first time; text: its name
    SM_AUDIO_EVENT_SILENT, // there is no sound; text: why
    SM_AUDIO_EVENT_LOST,   // the device is gone; text: why
    SM_AUDIO_EVENT_BACK    // sound comes again; text: the device's name
} sm_audio_event_kind;

typedef struct sm_audio_event {
    sm_audio_event_kind kind;
    sm_wall_time wall; // when it was noticed
    char text[192];
} sm_audio_event;

// Takes the oldest event not yet taken; false if there is none. Up to 64 wait; then the oldest are forgotten.
bool sm_audio_next_event(sm_audio *audio, sm_audio_event *out);

#define SM_AUDIO_DEVICES_MAX 32

typedef struct sm_audio_device {
    char name[128];
    char host[32]; // the sound system it belongs to: "ALSA", "JACK Audio Connection Kit"
    int channels;  // most of the side in question
    int rate_hz;   // its own rate
    bool is_default;
} sm_audio_device;

// The output devices found when the sound process last looked, into OUT (room for ROOM). Returns how many; 0
// before the first look and when silent.
size_t sm_audio_devices(sm_audio *audio, sm_audio_device *out, size_t room);

// Asks the sound system for its outputs, or INPUTS, into OUT, in a sound process that opens none of them. Waits for the answer, some
// 4 s at most. Returns how many; -1: WHY says what keeps them back.
#define SM_AUDIO_WHY 192
int sm_audio_ask_devices(bool inputs, sm_audio_device out[SM_AUDIO_DEVICES_MAX], char why[SM_AUDIO_WHY]);

// Goes over to device NAME (as in the options; NULL: the default). The clock runs on.
void sm_audio_choose(sm_audio *audio, const char *name);

// ---- the music's shape -------------------------------------------------------------

// One column of the waveform: least and greatest sample, and root mean square, of both channels.
typedef struct sm_audio_peak {
    float low, high, rms;
} sm_audio_peak;

// The waveform between show times FROM and TO in COLUMNS columns into OUT. Columns outside the music or not
// decoded yet are 0. Returns how many leading columns are final.
size_t sm_audio_overview(sm_audio *audio, sm_show_time from, sm_show_time to, size_t columns,
                         sm_audio_peak *out);

// The accent of the music, where a note or a beat begins, nearest to show time NEAR and at most WITHIN (1 s) away. Takes some
// milliseconds. False: there is none, or it is not decoded yet; *OUT is unchanged.
bool sm_audio_accent(sm_audio *audio, sm_show_time near, sm_us within, sm_show_time *out);

typedef struct sm_audio_info {
    sm_us length_us; // of what can be decoded, to the nearest
    int64_t frames;
    int rate_hz, channels;
    char format[64];
    char problem[256]; // "" or what is wrong with the file, one clear line
} sm_audio_info;

// Reads the file PATH through as far as is needed to know its exact length (a header is believed where the
// last frame it names can be read; MP3, Vorbis and Opus are decoded whole, some 0.1 to 0.6 s a 100 s of
// music, unless the cache of waveforms has that very file from an earlier decoding to its end). Blocks. SM_OK also for a broken file of which a part can be played (problem says). SM_UNREADABLE:
// nothing of it can be; only OUT->problem is set then.
// PROGRESS counts the show time that was decoded (us); NULL: nobody looks.
SM_MUST_CHECK sm_result sm_audio_probe(const char *path, sm_progress *progress, sm_audio_info *out);

// Appends the names and versions of the libraries that sound goes through.
void sm_audio_libraries(sm_text *out);

// ---- the sound process ---------------------------------------------------------------

// The sound process's main; never returns to the caller's own work: return its value from main().
int sm_audio_process_main(int argc, char **argv);

#endif
