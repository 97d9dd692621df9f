// SPDX-License-Identifier: GPL-3.0-or-later
// slowmatch new FOLDER: a small show that runs at once, to be changed into one's own.
#include "cmd/cmd.h"
#include "cmd/progress_line.h"

#include "slowmatch/audio.h"
#include "slowmatch/files.h"
#include "slowmatch/starter.h"

#include <ctype.h>
#include <dirent.h>
#include <errno.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

typedef struct new_call {
    const char *folder, *title, *music, *rails, *slots, *lights, *flames, *length;
} new_call;

static int complain(const char *about, const char *why) {
    cmd_complain("%s: %s", about, why);
    return CMD_UNUSABLE;
}

// ---- what was asked for --------------------------------------------------------------------------

static bool read_count(const char *name, const char *text, uint32_t *out) {
    if (!text)
        return true;
    char *end;
    errno = 0;
    const unsigned long number = strtoul(text, &end, 10);
    if (!isdigit((unsigned char)text[0]) || *end != '\0' || errno != 0 || number > UINT32_MAX) {
        cmd_complain("--%s %s: a whole number is wanted", name, text);
        return false;
    }
    *out = (uint32_t)number;
    return true;
}

static bool read_length(const char *text, sm_us *out) {
    static const sm_moment_base base = {.rate = SM_TC_25};
    sm_us us;
    if (!text)
        return true;
    if (sm_moment_read(text, strlen(text), &base, &us) != SM_OK) {
        cmd_complain("--length %s: a time is wanted, such as 90 or 3:30", text);
        return false;
    }
    *out = us;
    return true;
}

// The music's length where no other is given; false after a message.
static bool look_at_music(const new_call *call, sm_us *length_us) {
    sm_audio_info info;
    if (!call->music)
        return true;
    cmd_progress *const line = cmd_progress_begin();
    cmd_muffle();
    const sm_result result =
        sm_audio_probe(call->music, cmd_progress_of(line, "reading the music", CMD_PROGRESS_MUSIC), &info);
    cmd_unmuffle();
    cmd_progress_end(line);
    if (result != SM_OK) {
        cmd_complain("%s: %s", call->music, result == SM_UNREADABLE ? info.problem : sm_result_text(result));
        return false;
    }
    if (!call->length)
        *length_us = info.length_us;
    if (*length_us <= info.length_us)
        return true;
    char ends[24];
    cmd_complain("--length %s: %s ends at %s; leave --length out, or give music that is as long",
                 call->length, call->music, sm_clock_format(ends, info.length_us));
    return false;
}

// "evening" of "shows/evening/".
static void name_of_folder(const char *folder, sm_text *out) {
    size_t end = strlen(folder);
    while (end > 1 && folder[end - 1] == '/')
        end--;
    size_t begin = end;
    while (begin > 0 && folder[begin - 1] != '/')
        begin--;
    sm_text_append(out, folder + begin, end - begin);
}

// "music.ogg" for a file of any name: that name stands in show.ini.
static void name_music(const char *path, sm_text *out) {
    const char *slash = strrchr(path, '/'), *dot = strrchr(slash ? slash : path, '.');
    bool is_plain = dot && dot[1] != '\0';
    for (const char *at = dot ? dot + 1 : ""; *at != '\0'; at++)
        is_plain = is_plain && isalnum((unsigned char)*at);
    sm_text_printf(out, "music%s", is_plain ? dot : "");
}

// ---- writing ------------------------------------------------------------------------------------

static bool is_empty(const char *folder) {
    DIR *listing = opendir(folder);
    bool empty = listing != NULL;
    for (const struct dirent *entry; empty && (entry = readdir(listing));)
        empty = strcmp(entry->d_name, ".") == 0 || strcmp(entry->d_name, "..") == 0;
    if (listing)
        closedir(listing);
    return empty;
}

typedef struct written {
    const char *folder;
    uint32_t files;
    sm_text names; // with a zero behind each, for when it cannot be done to the end
} written;

// A folder that holds half a show would be refused the next time; an empty one is not.
static void take_back(written *w) {
    char *name = w->names.bytes;
    for (size_t left = w->names.length; left > 0; left -= strlen(name) + 1, name += strlen(name) + 1) {
        unlink(name);
        char *slash = strrchr(name, '/');
        *slash = '\0';
        if (strlen(name) > strlen(w->folder))
            rmdir(name); // the folder of drills
        *slash = '/';
    }
}

// A sm_starter_put.
static sm_result write_file(void *context, const char *name, const char *bytes, size_t length) {
    written *w = context;
    sm_text path = {0};
    sm_text_printf(&path, "%s/%s", w->folder, name);
    sm_result result = path.failed ? SM_NO_MEMORY : sm_folder_make_above(path.bytes, 0777);
    if (result == SM_OK)
        result = sm_file_replace(
            path.bytes, &(sm_file_new){.bytes = bytes, .length = length, .mode = 0666, .if_same = true});
    if (result != SM_OK)
        complain(path.failed ? w->folder : path.bytes,
                 result == SM_NO_MEMORY ? sm_result_text(result) : sm_file_why(errno));
    else
        sm_text_append(&w->names, path.bytes, path.length + 1);
    w->files += result == SM_OK;
    sm_text_deinit(&path);
    return result;
}

static sm_result copy_music(written *w, const char *path, const char *name) {
    char *bytes;
    size_t length;
    const sm_result read = sm_file_read(path, &bytes, &length);
    if (read != SM_OK) {
        complain(path, read == SM_UNREADABLE ? sm_file_why(errno) : sm_result_text(read));
        return read;
    }
    const sm_result result = write_file(w, name, bytes, length);
    free(bytes);
    return result;
}

// As a shell takes it back for the same word.
static void quote(const char *word, sm_text *out) {
    if (word[strspn(word, "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789_./-+=@,")] ==
        '\0') {
        sm_text_printf(out, "%s", word);
        return;
    }
    sm_text_printf(out, "'");
    for (; *word != '\0'; word++)
        sm_text_printf(out, *word == '\'' ? "'\\''" : "%c", *word);
    sm_text_printf(out, "'");
}

static void print_next(const char *folder, const sm_starter_options *options, uint32_t files) {
    sm_text name = {0};
    quote(folder, &name);
    const char *shown = sm_text_get(&name);
    cmd_say("%s: %u files. Next:\n", shown, files);
    cmd_say("  slowmatch %s\n      rehearse it\n", shown);
    cmd_say("  slowmatch check %s\n      what would go wrong in the field; nothing, so far\n", shown);
    if (options->rails > 0)
        cmd_say(
            "  slowmatch readings %s %s/readings-first.csv\n      a first measuring; find the faults in it\n",
            shown, shown);
    cmd_say("  slowmatch drill %s first-evening\n      things go wrong on purpose\n", shown);
    cmd_say("  slowmatch paper %s\n      what the crew carries\n", shown);
    sm_text_deinit(&name);
}

static int write_show(const new_call *call, const sm_starter_options *options) {
    written w = {.folder = call->folder};
    sm_result result = sm_folder_make(call->folder, 0777);
    if (result != SM_OK)
        return complain(call->folder, result == SM_UNREADABLE ? sm_file_why(errno) : sm_result_text(result));
    if (!is_empty(call->folder))
        return complain(call->folder, "is not empty; name a new folder");
    if (call->music)
        result = copy_music(&w, call->music, options->music);
    if (result == SM_OK)
        result = sm_starter_make(options, write_file, &w);
    if (result == SM_OK)
        print_next(call->folder, options, w.files);
    else
        take_back(&w);
    sm_text_deinit(&w.names);
    return result == SM_OK ? CMD_GOOD : CMD_UNUSABLE;
}

static int make_show(const new_call *call) {
    sm_text title = {0}, music = {0};
    sm_starter_options options = {
        .rails = 2, .slots = 8, .lights = 4, .flames = 2, .length_us = 60 * SM_US_PER_S};
    name_of_folder(call->folder, &title);
    if (call->music)
        name_music(call->music, &music);
    options.title = call->title ? call->title : sm_text_get(&title);
    options.music = call->music ? sm_text_get(&music) : NULL;
    int status = CMD_UNUSABLE;
    const bool is_read = read_count("rails", call->rails, &options.rails) &&
                         read_count("slots", call->slots, &options.slots) &&
                         read_count("lights", call->lights, &options.lights) &&
                         read_count("flames", call->flames, &options.flames) &&
                         read_length(call->length, &options.length_us) &&
                         look_at_music(call, &options.length_us);
    const char *problem = is_read ? sm_starter_problem(&options) : NULL;
    if (problem)
        cmd_complain("%s", problem);
    else if (is_read)
        status = write_show(call, &options);
    sm_text_deinit(&title);
    sm_text_deinit(&music);
    return status;
}

int cmd_new(const cmd_command *self, int argc, char **argv) {
    new_call call = {0};
    const cmd_option options[] = {
        {"title", "TITLE", "the show's name; else the folder's", NULL, &call.title},
        {"music", "FILE", "copied into the folder; without it a click track is made", NULL, &call.music},
        {"rails", "N", "how many rails, 2", NULL, &call.rails},
        {"slots", "N", "slots on each rail, 8", NULL, &call.slots},
        {"lights", "N", "how many lamps, 4", NULL, &call.lights},
        {"flames", "N", "how many flame units, 2", NULL, &call.flames},
        {"length", "T", "such as 90 or 3:30; else the music's, or 1:00", NULL, &call.length},
    };
    int count;
    const int status = cmd_options_read(self, options, sizeof options / sizeof options[0], argc, argv, 1, 1,
                                        &call.folder, &count);
    return status >= 0 ? status : make_show(&call);
}
