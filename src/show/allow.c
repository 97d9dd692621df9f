// SPDX-License-Identifier: GPL-3.0-or-later
// Comments of the form "# allow RULE: reason".
#include "show/load.h"

#include <string.h>

static const char *skip_blanks(const char *text) {
    return text + strspn(text, " \t");
}

bool sm_allow_read(sm_loader *loader, const char *file, uint32_t line, const char *text) {
    static const char word[] = "allow";
    const char *const verb = skip_blanks(text + strspn(text, "#;"));
    if (strncmp(verb, word, sizeof word - 1) != 0 ||
        (verb[sizeof word - 1] != ' ' && verb[sizeof word - 1] != '\t'))
        return false;
    const char *const rule = skip_blanks(verb + sizeof word - 1);
    const size_t rule_length = strcspn(rule, ": \t");
    const char *reason = skip_blanks(rule + rule_length);
    if (rule_length == 0)
        return false;
    if (*reason == ':')
        reason = skip_blanks(reason + 1);
    sm_show *const show = loader->show;
    if (!sm_load_reserve(loader, (void **)(void *)&show->allows, show->allow_count, &loader->allow_capacity,
                         sizeof *show->allows))
        return false;
    const sm_allow allow = {
        .file = sm_load_keep(loader, file, strlen(file)),
        .line = line,
        .rule = sm_load_keep(loader, rule, rule_length),
        .reason = sm_load_keep(loader, reason, strlen(reason)),
    };
    if (loader->no_memory)
        return false;
    show->allows[show->allow_count++] = allow;
    return true;
}
