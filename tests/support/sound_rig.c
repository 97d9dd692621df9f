// SPDX-License-Identifier: GPL-3.0-or-later
#include "sound_rig.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/wait.h>
#include <unistd.h>

// The tests' files lie in the source tree; tests run at its top, or anywhere with the tree's name in SLOWMATCH_SOURCE.
static void find_file(const char *name, char *path, size_t size) {
    const char *top = getenv("SLOWMATCH_SOURCE");
    snprintf(path, size, "%s/tests/support/%s", top ? top : ".", name);
}

static int run(const sound_rig *rig, const char *command, const char *argument) {
    pid_t pid = fork();
    if (pid == 0) {
        execl(rig->script, "sound-rig", rig->folder, command, argument, (char *)NULL);
        _exit(126);
    }
    int status = 0;
    if (pid < 0 || waitpid(pid, &status, 0) != pid || !WIFEXITED(status))
        return -1;
    return WEXITSTATUS(status);
}

static bool take_environment(const sound_rig *rig) {
    char path[128], line[256];
    snprintf(path, sizeof path, "%s/env", rig->folder);
    FILE *file = fopen(path, "r");
    if (!file)
        return false;
    while (fgets(line, sizeof line, file)) {
        line[strcspn(line, "\n")] = 0;
        char *value = strchr(line, '=');
        if (!value)
            continue;
        *value++ = 0;
        setenv(line, value, 1);
    }
    fclose(file);
    return true;
}

int sound_rig_start(sound_rig *rig, int rate_hz) {
    char rate[16];
    find_file("sound-rig", rig->script, sizeof rig->script);
    rig->rate_hz = rate_hz;
    snprintf(rig->folder, sizeof rig->folder, "/tmp/sound-rig.XXXXXX");
    if (!mkdtemp(rig->folder))
        return 1;
    snprintf(rate, sizeof rate, "%d", rate_hz);
    int code = run(rig, "start", rate);
    if (code == 0 && take_environment(rig))
        return 0;
    sound_rig_stop(rig);
    return code == 77 ? 77 : 1;
}

bool sound_rig_do(const sound_rig *rig, const char *command) {
    return run(rig, command, NULL) == 0;
}

bool sound_rig_record(const sound_rig *rig) {
    char path[128];
    snprintf(path, sizeof path, "%s/recorded", rig->folder);
    return run(rig, "record", path) == 0;
}

static bool read_marks(const char *path, sound_recording *out) {
    FILE *file = fopen(path, "r");
    if (!file)
        return false;
    size_t room = 0;
    double frame, mono_s;
    while (fscanf(file, "%lf %lf", &frame, &mono_s) == 2) {
        if (out->mark_count == room) {
            room = room ? room * 2 : 64;
            void *grown = realloc(out->marks, room * sizeof *out->marks);
            if (!grown)
                break;
            out->marks = grown;
        }
        out->marks[out->mark_count].frame = frame;
        out->marks[out->mark_count++].mono_s = mono_s;
    }
    fclose(file);
    return out->mark_count > 0;
}

static bool read_frames(const char *path, sound_recording *out) {
    FILE *file = fopen(path, "rb");
    if (!file || fseek(file, 0, SEEK_END) != 0)
        return false;
    long bytes = ftell(file);
    rewind(file);
    out->count = (size_t)bytes / sizeof *out->frames;
    out->frames = calloc(out->count + 1, sizeof *out->frames);
    bool good = out->frames && fread(out->frames, sizeof *out->frames, out->count, file) == out->count;
    fclose(file);
    return good;
}

bool sound_rig_recorded(const sound_rig *rig, sound_recording *out) {
    char path[128], marks[160];
    memset(out, 0, sizeof *out);
    out->rate_hz = rig->rate_hz;
    snprintf(path, sizeof path, "%s/recorded", rig->folder);
    snprintf(marks, sizeof marks, "%s.clock", path);
    return run(rig, "endrecord", NULL) == 0 && read_frames(path, out) && read_marks(marks, out);
}

void sound_rig_stop(sound_rig *rig) {
    if (!*rig->folder)
        return;
    run(rig, "stop", NULL);
    pid_t pid = fork();
    if (pid == 0) {
        execlp("rm", "rm", "-rf", "--", rig->folder, (char *)NULL);
        _exit(126);
    }
    if (pid > 0)
        waitpid(pid, NULL, 0);
    *rig->folder = 0;
}

void sound_rig_no_device(void) {
    char path[512];
    find_file("no-device.conf", path, sizeof path);
    setenv("ALSA_CONFIG_PATH", path, 1);
    setenv("PULSE_SERVER", "unix:/nonexistent", 1);
    setenv("JACK_NO_START_SERVER", "1", 1);
    setenv("JACK_DEFAULT_SERVER", "none", 1);
}

void sound_recording_deinit(sound_recording *recording) {
    free(recording->frames);
    free(recording->marks);
    memset(recording, 0, sizeof *recording);
}

static int compare(const void *a, const void *b) {
    double left = *(const double *)a, right = *(const double *)b;
    return left < right ? -1 : left > right;
}

double sound_recording_mono_s(const sound_recording *recording, double frame) {
    double offsets[32];
    size_t count = 0;
    for (size_t i = 0; i < recording->mark_count && count < 32; i++)
        if (fabs(recording->marks[i].frame - frame) < recording->rate_hz)
            offsets[count++] = recording->marks[i].mono_s - recording->marks[i].frame / recording->rate_hz;
    if (count == 0)
        return NAN;
    qsort(offsets, count, sizeof *offsets, compare);
    return offsets[count / 2] + frame / recording->rate_hz;
}
