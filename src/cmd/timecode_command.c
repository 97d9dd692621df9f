// SPDX-License-Identifier: GPL-3.0-or-later
// slowmatch timecode SHOW FILE.wav: the show's linear timecode as sound, for a recorder or a desk that chases it;
// and, with --listen, what comes in.
#include "cmd/cmd.h"
#include "cmd/timecode_listen.h"

#include "slowmatch/audio.h"
#include "slowmatch/show.h"

#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>
#include <sys/stat.h>

#define RATE_HZ 48000

static bool is_the_music(const sm_show *show, const char *file) {
    char *music = sm_music_path(show);
    struct stat one, other;
    bool same = music && stat(music, &one) == 0 && stat(file, &other) == 0 && one.st_dev == other.st_dev &&
                one.st_ino == other.st_ino;
    free(music);
    return same;
}

static bool may_write(const sm_show *show, const char *file) {
    size_t length = strlen(file);
    if (length < 5 || strcasecmp(file + length - 4, ".wav") != 0)
        cmd_complain("%s: the file to write is called something.wav", file);
    else if (is_the_music(show, file))
        cmd_complain("%s: is the show's own music; give another name", file);
    else
        return true;
    return false;
}

static int write_file(const sm_show *show, const char *file) {
    const sm_moment_base *base = &show->settings.timecode;
    const sm_audio_timecode timecode = {
        .rate = base->rate, .drop = base->drop, .start_frames = base->start_frames};
    if (show->length_us <= 0) {
        cmd_complain("%s: the show has no length: it has neither music nor events", show->folder);
        return CMD_UNUSABLE;
    }
    errno = 0;
    sm_result result = sm_audio_timecode_write(file, &timecode, show->length_us, RATE_HZ);
    if (result != SM_OK) {
        cmd_complain("%s: %s", file,
                     result != SM_UNREADABLE || errno == 0 ? sm_result_text(result)
                     : errno == EEXIST ? "it is there and no timecode of slowmatch; give another name"
                                       : strerror(errno));
        return CMD_UNUSABLE;
    }
    int hours, minutes, seconds, frame;
    char length[24];
    sm_timecode_from_frames(base->rate, base->drop, base->start_frames, &hours, &minutes, &seconds, &frame);
    cmd_say("%s: %s frames a second%s from %02d:%02d:%02d%c%02d, %s of show and a second more, mono, %d Hz\n",
            file, sm_timecode_rate_text(base->rate), base->drop ? ", drop-frame," : "", hours, minutes,
            seconds, base->drop ? ';' : ':', frame, sm_clock_format(length, show->length_us), RATE_HZ);
    return CMD_GOOD;
}

static int write_or_listen(const char *folder, const char *file, const char *input) {
    if (!folder)
        return cmd_timecode_listen(NULL, SM_US_PER_S, input);
    sm_show *show = cmd_show_open(folder, NULL);
    if (!show)
        return CMD_UNUSABLE;
    int status = CMD_UNUSABLE;
    if (input)
        status = cmd_timecode_listen(&show->settings.timecode, show->settings.timecode_gap_us, input);
    else if (may_write(show, file))
        status = write_file(show, file);
    sm_show_destroy(show);
    return status;
}

int cmd_timecode(const cmd_command *self, int argc, char **argv) {
    const char *words[2] = {0}, *input = NULL;
    const cmd_option options[] = {
        {"listen", "SIDE[:DEVICE]",
         "write nothing: show what comes in on the left or right channel of an input, "
         "to set up a cable",
         NULL, &input}};
    int count;
    int status = cmd_options_read(self, options, 1, argc, argv, 0, 2, words, &count);
    if (status >= 0)
        return status;
    if (input ? count > 1 : count < 2) {
        cmd_complain(input ? "--listen writes no file: slowmatch timecode [SHOW] --listen %s"
                           : "what is to be done? slowmatch %s",
                     input ? input : self->form);
        return CMD_UNUSABLE;
    }
    return write_or_listen(words[0], words[1], input);
}
