// SPDX-License-Identifier: GPL-3.0-or-later
// The shows that are here, and the demo shows that came with the program.
#include "cmd/shows_found.h"

#include "cmd/cmd.h"

#include <dirent.h>
#include <limits.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

bool cmd_is_show(const char *folder) {
    char path[PATH_MAX];
    struct stat is;
    int length = snprintf(path, sizeof path, "%s/show.ini", folder);
    return length > 0 && (size_t)length < sizeof path && stat(path, &is) == 0 && S_ISREG(is.st_mode);
}

bool cmd_demo_shows(char out[PATH_MAX]) {
    // Installed, and as the tree is built.
    static const char *const places[] = {"../share/slowmatch/demo-shows", "../demo-shows"};
    char program[PATH_MAX], path[PATH_MAX + 64];
    ssize_t length = readlink("/proc/self/exe", program, sizeof program - 1);
    if (length <= 0)
        return false;
    program[length] = '\0';
    *strrchr(program, '/') = '\0';
    for (size_t i = 0; i < sizeof places / sizeof places[0]; i++) {
        snprintf(path, sizeof path, "%s/%s", program, places[i]);
        if (realpath(path, out))
            return true;
    }
    return false;
}

// ---- listed -----------------------------------------------------------------------------------------

// The value of `title` in the show.ini of FOLDER; empty where there is none.
static void read_title(const char *folder, sm_text *out) {
    sm_text path = {0};
    char *bytes = NULL;
    size_t length = 0;
    sm_text_printf(&path, "%s/show.ini", folder);
    if (sm_file_read(sm_text_get(&path), &bytes, &length) != SM_OK)
        length = 0;
    for (const char *at = bytes, *end = bytes + length; length > 0 && at < end;) {
        const char *stop = memchr(at, '\n', (size_t)(end - at));
        stop = stop ? stop : end;
        const char *equals = memchr(at, '=', (size_t)(stop - at));
        if (equals && strncmp(at, "title", 5) == 0 && strspn(at + 5, " \t") == (size_t)(equals - at - 5)) {
            const char *value = equals + 1 + strspn(equals + 1, " \t");
            if (value < stop)
                sm_text_append(out, value, strcspn(value, "\r\n;"));
            break;
        }
        at = stop + 1;
    }
    free(bytes);
    sm_text_deinit(&path);
}

static int is_name(const struct dirent *entry) {
    return entry->d_name[0] != '.';
}

// One line a show in PLACE, each with the command that opens it: BEFORE and its name. Returns how many.
static int list_in(const char *place, const char *before, const char *headline) {
    struct dirent **names;
    int shows = 0, count = scandir(place, &names, is_name, alphasort);
    for (int i = 0; i < count; i++) {
        sm_text folder = {0}, title = {0}, command = {0};
        sm_text_printf(&folder, "%s/%s", place, names[i]->d_name);
        if (!folder.failed && cmd_is_show(folder.bytes)) {
            read_title(folder.bytes, &title);
            sm_text_printf(&command, "slowmatch %s%s", before, names[i]->d_name);
            cmd_say("%s  %-36s  %s\n", shows++ == 0 ? headline : "", sm_text_get(&command),
                    sm_text_get(&title));
        }
        sm_text_deinit(&folder);
        sm_text_deinit(&title);
        sm_text_deinit(&command);
        free(names[i]);
    }
    if (count >= 0)
        free(names);
    return shows;
}

void cmd_list_shows(void) {
    char installed[PATH_MAX], here[PATH_MAX];
    bool came = cmd_demo_shows(installed);
    bool is_tree = came && realpath("demo-shows", here) && strcmp(here, installed) == 0;
    int shows = cmd_is_show(".") ? 1 : 0;
    if (shows > 0)
        cmd_say("This folder is a show:\n  slowmatch .\n");
    shows += list_in(".", "", "Shows here:\n");
    if (is_tree)
        shows += list_in("demo-shows", "demo-shows/", shows > 0 ? "" : "Shows here:\n");
    if (shows == 0)
        cmd_say("No show is in this folder.\n");
    if (came)
        list_in(installed, "demo ", "\nDemo shows, opened in a copy that you can change:\n");
}
