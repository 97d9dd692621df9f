// SPDX-License-Identifier: GPL-3.0-or-later
// slowmatch demo [NAME]: a demo show is copied to where the user can change it, and opened.
#include "cmd/cmd.h"
#include "cmd/shows_found.h"

#include "slowmatch/files.h"

#include <dirent.h>
#include <errno.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#define FIRST_DEMO "lantern-quay"

static bool complain(const char *path, sm_result result) {
    cmd_failed(path, result);
    return false;
}

// The generators of the demo shows lie beside their tables in the source tree.
static bool is_source(const char *name) {
    const char *dot = strrchr(name, '.');
    return dot && (strcmp(dot, ".c") == 0 || strcmp(dot, ".h") == 0);
}

static bool copy_file(const char *from, const char *to) {
    char *bytes;
    size_t length;
    sm_result result = sm_file_read(from, &bytes, &length);
    if (result != SM_OK)
        return complain(from, result);
    result = sm_folder_make_above(to, 0777);
    if (result == SM_OK)
        result = sm_file_replace(
            to, &(sm_file_new){.bytes = bytes, .length = length, .mode = 0666, .if_same = true});
    free(bytes);
    return result == SM_OK || complain(to, result);
}

static bool copy_folder(const char *from, const char *to);

static bool copy_entry(const char *from, const char *to, const char *name) {
    sm_text source = {0}, target = {0};
    struct stat is;
    sm_text_printf(&source, "%s/%s", from, name);
    sm_text_printf(&target, "%s/%s", to, name);
    bool copied = !source.failed && !target.failed;
    if (!copied)
        complain(name, SM_NO_MEMORY);
    else if (stat(source.bytes, &is) != 0)
        copied = complain(source.bytes, SM_UNREADABLE);
    else if (S_ISDIR(is.st_mode))
        copied = copy_folder(source.bytes, target.bytes);
    else if (S_ISREG(is.st_mode) && !is_source(name) && strcmp(name, "show.ini") != 0)
        copied = copy_file(source.bytes, target.bytes);
    sm_text_deinit(&source);
    sm_text_deinit(&target);
    return copied;
}

static bool copy_folder(const char *from, const char *to) {
    DIR *listing = opendir(from);
    bool copied = listing != NULL || complain(from, SM_UNREADABLE);
    for (const struct dirent *entry; copied && (entry = readdir(listing));)
        if (entry->d_name[0] != '.')
            copied = copy_entry(from, to, entry->d_name);
    if (listing)
        closedir(listing);
    return copied;
}

// show.ini comes last: without it what was copied by half is no show.
static bool copy_show(const char *from, const char *to) {
    char source[PATH_MAX + 300], target[PATH_MAX];
    snprintf(source, sizeof source, "%s/show.ini", from);
    snprintf(target, sizeof target, "%s/show.ini", to);
    return copy_folder(from, to) && copy_file(source, target);
}

// As if its name had been typed.
static int open_show(const char *folder) {
    execl("/proc/self/exe", "slowmatch", folder, (char *)NULL);
    return cmd_failed(folder, SM_UNREADABLE);
}

int cmd_demo(const cmd_command *self, int argc, char **argv) {
    bool only_copy = false;
    const cmd_option options[] = {{"copy", NULL, "only copy it; do not open it", &only_copy, NULL}};
    const char *name = FIRST_DEMO;
    int count;
    int status = cmd_options_read(self, options, 1, argc, argv, 0, 1, &name, &count);
    if (status >= 0)
        return status;
    char place[PATH_MAX], from[PATH_MAX + 256];
    bool came = cmd_demo_shows(place);
    snprintf(from, sizeof from, "%s/%.250s", came ? place : "", name);
    if (!came || strchr(name, '/') || !cmd_is_show(from)) {
        cmd_complain("there is no demo show '%s'; slowmatch alone lists those that there are", name);
        return CMD_UNUSABLE;
    }
    struct stat is;
    bool was_there = lstat(name, &is) == 0;
    if (was_there && !cmd_is_show(name)) {
        cmd_complain("%s: is there and is no show; remove it, or go to another folder", name);
        return CMD_UNUSABLE;
    }
    if (!was_there && !copy_show(from, name))
        return CMD_UNUSABLE;
    cmd_say(was_there ? "%s: was here already, and is left as it is\n"
                      : "%s: copied here; change what you like\n",
            name);
    if (only_copy || isatty(STDIN_FILENO) == 0 || isatty(STDOUT_FILENO) == 0) {
        cmd_say("  slowmatch %s\n      rehearse it\n  slowmatch check %s\n      what would go wrong in the "
                "field\n",
                name, name);
        return CMD_GOOD;
    }
    return open_show(name);
}
