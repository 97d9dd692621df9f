// SPDX-License-Identifier: GPL-3.0-or-later
// slowmatch compare OLD NEW: what is different between two shows, and what must be done again.
#include "cmd/cmd.h"

#include "slowmatch/show.h"
#include "slowmatch/tables.h"

#include <stdio.h>
#include <string.h>

static int print_comparison(const sm_show *old, const sm_show *now, bool json) {
    sm_compare *comparison = NULL;
    sm_text text = {0};
    const sm_result result = sm_compare_create(old, now, &comparison);
    if (result != SM_OK)
        return cmd_failed(NULL, result);
    if (json)
        sm_compare_json(comparison, &text);
    else
        sm_compare_text(comparison, &text);
    int status = cmd_print(&text, sm_compare_count(comparison) > 0 ? CMD_FINDINGS : CMD_GOOD);
    sm_compare_destroy(comparison);
    return status;
}

int cmd_compare(const cmd_command *self, int argc, char **argv) {
    bool json = false;
    int count;
    const char *words[2];
    const cmd_option options[] = {
        {"json", NULL, "one JSON object a line: differences, what must be done again, the summary", &json,
         NULL}};
    int status = cmd_options_read(self, options, 1, argc, argv, 2, 2, words, &count);
    if (status >= 0)
        return status;
    sm_show *old = cmd_show_open_for_console(words[0], NULL);
    sm_show *now = old ? cmd_show_open_for_console(words[1], NULL) : NULL;
    status = now ? print_comparison(old, now, json) : CMD_UNUSABLE;
    sm_show_destroy(old);
    sm_show_destroy(now);
    return status;
}
