// SPDX-License-Identifier: GPL-3.0-or-later
// Opening a show for a command that has to run it.
#include "cmd/cmd.h"
#include "cmd/progress_line.h"

#include "slowmatch/audio.h"
#include "slowmatch/show.h"
#include "slowmatch/workers.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

void cmd_print_findings(int fd, const char *folder, sm_findings *findings) {
    sm_text text = {0};
    sm_findings_sort(findings);
    for (size_t i = 0; i < sm_findings_count(findings); i++) {
        sm_finding_format(&text, folder, sm_findings_at(findings, i));
        sm_text_append(&text, "\n", 1);
    }
    if (sm_findings_failed(findings))
        sm_text_printf(&text, "slowmatch: memory ran out; not all findings are listed\n");
    FILE *stream = fd == STDERR_FILENO ? cmd_stderr() : stdout;
    cmd_put(stream, sm_text_get(&text), text.length);
    fflush(stream);
    sm_text_deinit(&text);
}

void cmd_music_look(const sm_show *show, sm_audio_info *info, sm_check_options *out) {
    cmd_progress *const line = cmd_progress_begin();
    cmd_music_ask(show, cmd_progress_of(line, "reading the music", CMD_PROGRESS_MUSIC), info, out);
    cmd_progress_end(line);
}

// The show's length depends on its music. Without it the show is rehearsed in silence, and that is said.
static void ask_audio(sm_show *show) {
    sm_audio_info info;
    sm_check_options music;
    if (!show->settings.audio[0])
        return;
    cmd_music_look(show, &info, &music);
    if (music.audio_exists)
        sm_show_set_audio_end(show, music.audio_end_us);
    if (info.problem[0] != '\0')
        cmd_complain("%s/%s: %s", show->folder, show->settings.audio, info.problem);
}

bool cmd_readings_find(const char *folder, const char **path, char buffer[CMD_PATH]) {
    if (!*path || (*path)[0] == '/' || access(*path, F_OK) == 0)
        return true;
    const int length = snprintf(buffer, CMD_PATH, "%s/%s", folder, *path);
    if (length < 0 || length >= CMD_PATH || access(buffer, F_OK) != 0) {
        cmd_complain("--readings %s: there is no such file, neither here nor in %s", *path, folder);
        return false;
    }
    *path = buffer;
    return true;
}

// Readings from elsewhere are named in full, since what stands in the show is named from its folder. False: memory ran out.
static bool full_path(const char *file, sm_text *out) {
    char here[4096];
    if (file[0] != '/' && getcwd(here, sizeof here))
        sm_text_printf(out, "%s/", here);
    sm_text_printf(out, "%s", file);
    return !out->failed;
}

static sm_show *load_show(const char *folder, const char *readings_file, bool cues_may_miss) {
    sm_findings *findings = sm_findings_create();
    sm_show *show = NULL;
    sm_text readings = {0};
    cmd_progress *const line = cmd_progress_begin();
    const bool named = !readings_file || full_path(readings_file, &readings);
    const sm_show_load_options options = {.readings_file = readings_file ? sm_text_get(&readings) : NULL,
                                          .cues_may_miss = cues_may_miss,
                                          .together = sm_workers,
                                          .progress =
                                              cmd_progress_of(line, "reading cues.csv", CMD_PROGRESS_BYTES)};
    sm_result result = SM_NO_MEMORY;
    if (findings && named)
        result = sm_show_load(folder, &options, findings, &show);
    cmd_progress_end(line);
    sm_text_deinit(&readings);
    if (findings)
        cmd_print_findings(STDERR_FILENO, folder, findings);
    if (result != SM_OK && (!findings || sm_findings_count(findings) == 0))
        cmd_failed(folder, result);
    sm_findings_destroy(findings);
    return result == SM_OK ? show : NULL;
}

sm_show *cmd_show_open(const char *folder, const char *readings_file) {
    sm_show *show = load_show(folder, readings_file, false);
    if (show)
        ask_audio(show);
    return show;
}

sm_show *cmd_show_open_without_cues(const char *folder) {
    sm_show *show = load_show(folder, NULL, true);
    if (show)
        ask_audio(show);
    return show;
}

sm_show *cmd_show_open_for_console(const char *folder, const char *readings_file) {
    sm_show *show = load_show(folder, readings_file, false);
    if (show && show->settings.length_given_us == SM_UNSET_US)
        ask_audio(show);
    return show;
}
