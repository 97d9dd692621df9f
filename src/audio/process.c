// SPDX-License-Identifier: GPL-3.0-or-later
// The sound process: owns PortAudio, and nothing else of the program.
//
// PortAudio and what lies below it can hang for good, abort, or write without end to stderr when a sound
// server goes away. So it all happens here: the program kills this process and starts another when it has to.
// It is started by exec, finds the shared memory at descriptor SM_SHARED_FD, keeps no other descriptor, and
// dies with the program.
#include "audio/decoder.h"
#include "audio/mono.h"
#include "audio/shared.h"

#include "slowmatch/audio.h"
#include "slowmatch/confine.h"

#include <dirent.h>
#include <fcntl.h>
#include <portaudio.h>
#include <sched.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>
#include <sys/mman.h>
#include <sys/prctl.h>
#include <sys/resource.h>
#include <unistd.h>

// Measured as free of gaps with two cores busy; the devices' own "low latency" is not.
#define BUFFERS_A_SECOND 100
#define LATENCY_S 0.040

static int callback(const void *in, void *out, unsigned long frames, const PaStreamCallbackTimeInfo *info,
                    PaStreamCallbackFlags flags, void *user) {
    (void)in;
    (void)flags;
    sm_shared_callback(user, out, frames, info->currentTime, info->outputBufferDacTime);
    return paContinue;
}

static int hear(const void *in, void *out, unsigned long frames, const PaStreamCallbackTimeInfo *info,
                PaStreamCallbackFlags flags, void *user) {
    (void)out;
    (void)flags;
    if (in)
        sm_shared_hear(user, in, frames, info->currentTime, info->inputBufferAdcTime,
                       (sm_stamp){.mono_ns = sm_mono_ns(), .real_ns = sm_clock_ns(CLOCK_REALTIME)});
    return paContinue;
}

static void phase_set(sm_shared *shared, sm_child_phase phase) {
    atomic_store_explicit(&shared->phase, (int)phase, memory_order_release);
}

static void fail(sm_shared *shared, const char *what, PaError error) {
    const char *detail = error == paNoError ? "" : Pa_GetErrorText(error);
    const PaHostErrorInfo *host = error == paUnanticipatedHostError ? Pa_GetLastHostErrorInfo() : NULL;
    if (host && host->errorText && *host->errorText)
        detail = host->errorText;
    snprintf(shared->why, sizeof shared->why, "%s%s%s", what, *detail ? ": " : "", detail);
    phase_set(shared, SM_CHILD_FAILED);
}

// Channels that the process can use of a device.
static int channels_of(const sm_shared *shared, const PaDeviceInfo *info) {
    return shared->listens ? info->maxInputChannels : info->maxOutputChannels;
}

static PaDeviceIndex default_of(const sm_shared *shared) {
    return shared->listens ? Pa_GetDefaultInputDevice() : Pa_GetDefaultOutputDevice();
}

static void list_devices(sm_shared *shared) {
    PaDeviceIndex count = Pa_GetDeviceCount();
    int found = 0;
    for (PaDeviceIndex i = 0; i < count && found < SM_AUDIO_DEVICES_MAX; i++) {
        const PaDeviceInfo *info = Pa_GetDeviceInfo(i);
        if (!info || channels_of(shared, info) < 1)
            continue;
        const PaHostApiInfo *host = Pa_GetHostApiInfo(info->hostApi);
        sm_audio_device *device = &shared->devices[found++];
        snprintf(device->name, sizeof device->name, "%s", info->name ? info->name : "");
        snprintf(device->host, sizeof device->host, "%s", host && host->name ? host->name : "");
        device->channels = channels_of(shared, info);
        device->rate_hz = (int)info->defaultSampleRate;
        device->is_default = i == default_of(shared);
    }
    shared->device_count = found;
    phase_set(shared, SM_CHILD_LISTED);
}

// The device by its whole name, else the first that has what is wanted in its name.
static PaDeviceIndex find_device(const sm_shared *shared) {
    const char *wanted = shared->wanted;
    PaDeviceIndex count = Pa_GetDeviceCount(), partial = paNoDevice;
    if (!*wanted)
        return default_of(shared);
    for (PaDeviceIndex i = 0; i < count; i++) {
        const PaDeviceInfo *info = Pa_GetDeviceInfo(i);
        if (!info || channels_of(shared, info) < 1 || !info->name)
            continue;
        if (strcasecmp(info->name, wanted) == 0)
            return i;
        if (partial == paNoDevice && strcasestr(info->name, wanted))
            partial = i;
    }
    return partial;
}

static PaError open_at(sm_shared *shared, PaDeviceIndex device, int rate_hz, PaStream **stream) {
    PaStreamParameters side = {
        .device = device,
        .channelCount = shared->channels,
        .sampleFormat = paFloat32,
        .suggestedLatency = LATENCY_S,
    };
    return Pa_OpenStream(stream, shared->listens ? &side : NULL, shared->listens ? NULL : &side, rate_hz,
                         (unsigned long)(rate_hz / BUFFERS_A_SECOND), paDitherOff,
                         shared->listens ? hear : callback, shared);
}

static PaStream *open_stream(sm_shared *shared) {
    PaDeviceIndex device = find_device(shared);
    const PaDeviceInfo *info = device == paNoDevice ? NULL : Pa_GetDeviceInfo(device);
    if (!info) {
        char what[192];
        const char *kind = shared->listens ? "input" : "output";
        if (*shared->wanted)
            snprintf(what, sizeof what, "no %s device is called \"%s\"", kind, shared->wanted);
        else
            snprintf(what, sizeof what, "no %s device", kind);
        fail(shared, what, paNoError);
        return NULL;
    }
    snprintf(shared->name, sizeof shared->name, "%s", info->name ? info->name : "unnamed");
    shared->channels = channels_of(shared, info) < 2 ? 1 : 2;
    int rates[SM_RATES_MAX + 1] = {0};
    memcpy(rates, shared->rates, sizeof shared->rates);
    int count = 0;
    while (count < SM_RATES_MAX && rates[count])
        count++;
    if (info->defaultSampleRate <= SM_DECODER_RATE_MAX)
        rates[count++] = (int)info->defaultSampleRate;
    PaError error = paInvalidSampleRate;
    PaStream *stream = NULL;
    for (int i = 0; i < count; i++) {
        shared->rate_hz = rates[i];
        error = open_at(shared, device, rates[i], &stream);
        if (error == paNoError)
            return stream;
    }
    char what[192];
    snprintf(what, sizeof what, "%.120s cannot be opened", shared->name);
    fail(shared, what, error);
    return NULL;
}

// Nothing of the program but the shared memory stays open, and nothing that a library says reaches a
// terminal.
static sm_shared *enter(void) {
    int null = open("/dev/null", O_RDWR);
    if (null < 0)
        return NULL;
    for (int fd = 0; fd < 3; fd++)
        dup2(null, fd);
    close_range(SM_SHARED_FD + 1, ~0u, 0);
    sm_shared *shared = mmap(NULL, sizeof *shared, PROT_READ | PROT_WRITE, MAP_SHARED, SM_SHARED_FD, 0);
    if (shared == MAP_FAILED || shared->magic != SM_SHARED_MAGIC)
        return NULL;
    close(SM_SHARED_FD);
    setrlimit(RLIMIT_CORE, &(struct rlimit){0}); // a library that aborts leaves no file behind
    prctl(PR_SET_PDEATHSIG, SIGKILL);
    prctl(PR_SET_NAME, "slowmatch-sound");
    setenv("JACK_NO_START_SERVER", "1", 0); // a rehearsal starts no sound server
    (void)sm_confine(SM_CONFINE_STARTS_NOTHING);
    return shared;
}

// Asks that all its threads are run ahead of ordinary work, as sound servers are. Not needed, and where it is refused nothing
// is said. A library that spins instead of waiting is ended by the kernel after a fifth of a second.
static void hurry(void) {
    const rlim_t most_us = 200000;
    DIR *tasks = opendir("/proc/self/task");
    if (tasks && setrlimit(RLIMIT_RTTIME, &(struct rlimit){most_us, most_us}) == 0)
        for (struct dirent *entry; (entry = readdir(tasks));)
            if (entry->d_name[0] != '.')
                (void)sched_setscheduler((pid_t)strtol(entry->d_name, NULL, 10), SCHED_RR,
                                         &(struct sched_param){.sched_priority = 5});
    if (tasks)
        closedir(tasks);
}

// Callbacks come two at a time, some 21 ms apart (99 in 100 where nothing else runs); beyond 40 ms there is a hole. So the
// process hurries from the first time on that it was kept waiting for noticeably longer: on a quiet machine it costs less
// without (a fifth of its share of a core).
#define LATE_NS (27 * SM_NS_PER_MS)

static bool was_late(sm_shared *shared) {
    return atomic_load_explicit(&shared->longest_wait_ns, memory_order_relaxed) > LATE_NS;
}

static void watch(sm_shared *shared, PaStream *stream) {
    const struct timespec pause = {.tv_nsec = 100 * SM_NS_PER_MS}; // the beats tell sooner
    bool hurried = false;
    while (getppid() == shared->parent) {
        if (was_late(shared) && !hurried) {
            hurry();
            hurried = true;
        }
        if (Pa_IsStreamActive(stream) != 1) {
            fail(shared, "the sound system ended the stream", paNoError);
            return;
        }
        nanosleep(&pause, NULL);
    }
}

int sm_audio_process_main(int argc, char **argv) {
    (void)argc;
    (void)argv;
    sm_shared *shared = enter();
    if (!shared)
        return 2;
    PaError error = Pa_Initialize();
    if (error != paNoError) {
        fail(shared, "the sound system does not start", error);
        _exit(1);
    }
    list_devices(shared);
    if (shared->lists)
        _exit(0);
    PaStream *stream = open_stream(shared);
    if (stream) {
        phase_set(shared, SM_CHILD_OPEN);
        error = Pa_StartStream(stream);
        if (error == paNoError)
            watch(shared, stream);
        else
            fail(shared, "the stream does not start", error);
    }
    // Stopping, closing or terminating PortAudio may never return: the kernel tidies up.
    _exit(1);
}
