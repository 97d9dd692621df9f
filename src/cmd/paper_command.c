// SPDX-License-Identifier: GPL-3.0-or-later
// slowmatch paper SHOW: what the crew carries into the field.
#include "cmd/cmd.h"

#include "slowmatch/clock.h"
#include "slowmatch/logbook.h"
#include "slowmatch/paper.h"
#include "slowmatch/walk.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

typedef struct paper_call {
    const char *folder, *out, *sheets, *number, *logbook;
    bool words, json, after;
} paper_call;

// ---- which sheets ------------------------------------------------------------------------

// Takes the sheets called WORD, or of the kind WORD. False: there are none.
static bool choose(const sm_paper *paper, const char *word, bool *chosen) {
    const uint32_t one = sm_paper_find(paper, word);
    bool found = one != SM_NONE;
    if (found)
        chosen[one] = true;
    for (uint32_t i = 0; i < paper->count; i++)
        if (strcasecmp(word, sm_paper_kind_text(paper->sheets[i].kind)) == 0)
            chosen[i] = found = true;
    return found;
}

static const char *sheet_name_at(const void *context, size_t index) {
    return ((const sm_paper *)context)->sheets[index].name;
}

// CHOSEN gets what LIST ("LOAD,LINE-pars") names.
static int choose_all(const sm_paper *paper, const char *list, bool *chosen) {
    while (*list != '\0') {
        char word[64];
        const size_t length = strcspn(list, ",");
        snprintf(word, sizeof word, "%.*s", (int)(length < sizeof word ? length : sizeof word - 1), list);
        if (!choose(paper, word, chosen)) {
            const char *near = sm_nearest_name(word, paper->count, sheet_name_at, paper);
            cmd_complain("no sheet '%s'; %s%s", word, near ? "did you mean " : "--words lists them",
                         near ? near : "");
            return CMD_UNUSABLE;
        }
        list += length + (list[length] == ',');
    }
    return CMD_GOOD;
}

// ---- the file ----------------------------------------------------------------------------

// "lantern-quay.html" for "shows/lantern-quay/".
static void name_after_show(const char *folder, sm_text *out) {
    char *whole = realpath(folder, NULL);
    const char *slash = whole ? strrchr(whole, '/') : NULL;
    sm_text_printf(out, "%s.html", slash && slash[1] != '\0' ? slash + 1 : "paper");
    free(whole);
}

static int write_file(const sm_paper *paper, const bool *chosen, const char *when, const char *path) {
    const sm_result result = sm_paper_write(paper, chosen, when, path);
    uint32_t first = 0; // in the file
    while (chosen && first + 1 < paper->count && !chosen[first])
        first++;
    if (result == SM_OK)
        cmd_say("%s: print it at full size; the words of %s: %s\n", path, paper->sheets[first].name,
                paper->sheets[first].words);
    else if (result == SM_REFUSED)
        cmd_complain("%s was not written by slowmatch paper and stays as it is; --out FILE names another",
                     path);
    else
        cmd_failed(path, result);
    return result == SM_OK ? CMD_GOOD : CMD_UNUSABLE;
}

static int put(const paper_call *call, const sm_paper *paper, const bool *chosen) {
    char when[24];
    sm_text text = {0}, path = {0};
    const bool is_list = call->words || call->json;
    sm_walk_when_format(when, sm_unix_now_us());
    if (call->out)
        sm_text_printf(&path, "%s", call->out);
    else
        name_after_show(call->folder, &path);
    const bool is_printed = is_list || (!path.failed && strcmp(path.bytes, "-") == 0);
    if (is_list)
        sm_paper_print_words(paper, chosen, call->json, &text);
    else if (is_printed)
        sm_paper_html(paper, chosen, when, &text);
    int status;
    if (text.failed || path.failed)
        status = cmd_failed(call->folder, SM_NO_MEMORY);
    else
        status = is_printed ? cmd_print(&text, CMD_GOOD) : write_file(paper, chosen, when, path.bytes);
    sm_text_deinit(&text);
    sm_text_deinit(&path);
    return status;
}

// ---- after a rehearsal ----------------------------------------------------------------------

static int read_fates(const paper_call *call, const sm_show *show, sm_arena *arena, sm_logbook_fates *out) {
    const long long number = call->number ? strtoll(call->number, NULL, 10) : 0;
    sm_logbook *logbook = cmd_logbook_open(call->logbook, false);
    if (!logbook)
        return CMD_UNUSABLE;
    const sm_result result = sm_logbook_fates_of(logbook, show->settings.title, number, arena, out);
    int status = result == SM_OK ? CMD_GOOD : CMD_UNUSABLE;
    if (result == SM_NO_MEMORY)
        status = cmd_failed("the logbook", result);
    else if (result != SM_OK)
        cmd_complain("the logbook: %s", sm_logbook_problem(logbook));
    sm_logbook_close(logbook);
    return status;
}

static int make_paper(const paper_call *call, const sm_show *show, const sm_logbook_fates *fates) {
    sm_paper *paper = NULL;
    const sm_result result = sm_paper_create(show, fates, &paper);
    bool *chosen = result == SM_OK ? calloc(paper->count, sizeof *chosen) : NULL;
    int status = CMD_UNUSABLE;
    if (!chosen)
        cmd_failed(call->folder, result == SM_OK ? SM_NO_MEMORY : result);
    else
        status = call->sheets ? choose_all(paper, call->sheets, chosen) : CMD_GOOD;
    if (status == CMD_GOOD)
        status = put(call, paper, call->sheets ? chosen : NULL);
    free(chosen);
    sm_paper_destroy(paper);
    return status;
}

static int print_paper(const paper_call *call) {
    sm_show *show = cmd_show_open_for_console(call->folder, NULL);
    sm_arena *arena = sm_arena_create();
    sm_logbook_fates fates;
    int status = show && arena ? CMD_GOOD : CMD_UNUSABLE;
    if (!arena)
        cmd_failed(call->folder, SM_NO_MEMORY);
    if (status == CMD_GOOD && call->after)
        status = read_fates(call, show, arena, &fates);
    if (status == CMD_GOOD)
        status = make_paper(call, show, call->after ? &fates : NULL);
    sm_arena_destroy(arena);
    sm_show_destroy(show);
    return status;
}

int cmd_paper(const cmd_command *self, int argc, char **argv) {
    paper_call call = {0};
    const cmd_option options[] = {
        {"out", "FILE", "write FILE in place of SHOW.html here; -: standard output", NULL, &call.out},
        {"sheets", "LIST", "only these, commas between: LOAD,LINE-pars", NULL, &call.sheets},
        {"words", NULL, "no file, only the sheets and the words that must stand on them", &call.words, NULL},
        {"json", NULL, "the same, one object a line", &call.json, NULL},
        {"after", "[N]", "fill AFTER and OHMS from rehearsal N of the logbook; without N the newest",
         &call.after, &call.number},
        {"logbook", "FILE", "the logbook FILE in place of the user's own", NULL, &call.logbook},
    };
    int count;
    const int status = cmd_options_read(self, options, sizeof options / sizeof options[0], argc, argv, 1, 1,
                                        &call.folder, &count);
    return status >= 0 ? status : print_paper(&call);
}
