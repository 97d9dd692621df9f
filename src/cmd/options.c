// SPDX-License-Identifier: GPL-3.0-or-later
#include "cmd/cmd.h"

#include "slowmatch/audio.h"
#include "slowmatch/clock.h"
#include "slowmatch/import.h"
#include "slowmatch/logbook.h"
#include "slowmatch/tell.h"

#include <stdio.h>
#include <string.h>

// SM_VERSION is what the package's changelog begins with; the Makefile hands it over, without quotes.
#define TEXT(word) #word
#define TEXT_OF(word) TEXT(word)
#define VERSION TEXT_OF(SM_VERSION)

const char *cmd_version(void) {
    return VERSION;
}

static void print_version(void) {
    sm_text libraries = {0};
    sm_audio_libraries(&libraries);
    sm_text_printf(&libraries, ", ");
    sm_import_libraries(&libraries);
    sm_text_printf(&libraries, ", SQLite %s, ", sm_logbook_library());
    sm_tell_libraries(&libraries);
    char why[SM_HURRY_WHY];
    const bool hurries = sm_thread_hurry(why);
    cmd_say("slowmatch " VERSION "\n"
            "A rehearsal console. It simulates; it has no way to fire anything. GPL-3.0-or-later.\n"
            "With %s.\n%s%s%s.\n",
            sm_text_get(&libraries),
            hurries ? "A rehearsal runs here ahead of other work"
                    : "A busy computer makes a rehearsal late here: ",
            why, hurries ? "" : "; see TIMING in slowmatch(1)");
    sm_text_deinit(&libraries);
}

static void print_help(const cmd_command *command, const cmd_option *options, size_t count) {
    cmd_say("slowmatch %s\n  %s\n\n", command->form, command->help);
    for (size_t i = 0; i < count; i++) {
        char left[40];
        if (!options[i].flag && !options[i].text)
            continue;
        snprintf(left, sizeof left, "--%s%s%s", options[i].name, options[i].argument ? " " : "",
                 options[i].argument ? options[i].argument : "");
        cmd_say("  %-24s %s\n", left, options[i].help);
    }
    cmd_say("  %-24s %s\n  %-24s %s\n", "--help", "this text", "--version", "the version");
}

typedef struct option_names {
    const cmd_option *options;
    size_t count;
} option_names;

static const char *option_name_at(const void *context, size_t index) {
    const option_names *names = context;
    return index < names->count ? names->options[index].name : index == names->count ? "help" : "version";
}

static int complain_unknown(const char *given, const option_names *names) {
    const char *near = sm_nearest_name(given, names->count + 2, option_name_at, names);
    if (near)
        cmd_complain("no option --%s; did you mean --%s?", given, near);
    else
        cmd_complain("no option --%s; --help lists them", given);
    return CMD_UNUSABLE;
}

static bool is_number(const char *text) {
    return text[0] != '\0' && strspn(text, "0123456789") == strlen(text);
}

// Reads the option at argv[*at] ("--name", "--name=value", "--name value"). -1 to go on.
static int read_option(const option_names *names, int argc, char **argv, int *at) {
    const char *given = argv[*at] + 2;
    const char *equals = strchr(given, '=');
    size_t length = equals ? (size_t)(equals - given) : strlen(given);
    for (size_t i = 0; i < names->count; i++) {
        const cmd_option *option = &names->options[i];
        if (strlen(option->name) != length || memcmp(option->name, given, length) != 0)
            continue;
        if (!option->flag && !option->text) {
            cmd_complain("--%s: %s", option->name, option->help);
            return CMD_UNUSABLE;
        }
        if (option->flag && !equals) {
            *option->flag = true;
            if (option->text && *at + 1 < argc && is_number(argv[*at + 1]))
                *option->text = argv[++*at];
            return -1;
        }
        if (option->flag && option->text) {
            *option->flag = true;
            if (!is_number(equals + 1)) {
                cmd_complain("--%s takes a number, or nothing", option->name);
                return CMD_UNUSABLE;
            }
        } else if (option->flag) {
            cmd_complain("--%s takes no value", option->name);
            return CMD_UNUSABLE;
        }
        if (!equals && *at + 1 >= argc) {
            cmd_complain("--%s needs a value: --%s %s", option->name, option->name, option->argument);
            return CMD_UNUSABLE;
        }
        *option->text = equals ? equals + 1 : argv[++*at];
        return -1;
    }
    char name[64];
    snprintf(name, sizeof name, "%.*s", (int)(length < 60 ? length : 60), given);
    return complain_unknown(name, names);
}

int cmd_options_read(const cmd_command *command, const cmd_option *options, size_t option_count, int argc,
                     char **argv, int least, int most, const char *words[], int *word_count) {
    const option_names names = {options, option_count};
    bool only_words = false;
    *word_count = 0;
    for (int i = 1; i < argc; i++) {
        if (!only_words && strcmp(argv[i], "--") == 0) {
            only_words = true;
        } else if (!only_words && strcmp(argv[i], "--help") == 0) {
            print_help(command, options, option_count);
            return CMD_GOOD;
        } else if (!only_words && strcmp(argv[i], "--version") == 0) {
            print_version();
            return CMD_GOOD;
        } else if (!only_words && argv[i][0] == '-' && argv[i][1] != '\0' && argv[i][1] != '-') {
            cmd_complain("no option %s; options begin with two dashes, --help lists them", argv[i]);
            return CMD_UNUSABLE;
        } else if (!only_words && argv[i][0] == '-' && argv[i][1] == '-') {
            int status = read_option(&names, argc, argv, &i);
            if (status >= 0)
                return status;
        } else if (*word_count == most) {
            cmd_complain("'%s' is too much: slowmatch %s", argv[i], command->form);
            return CMD_UNUSABLE;
        } else {
            words[(*word_count)++] = argv[i];
        }
    }
    if (*word_count < least) {
        cmd_complain("%s is missing: slowmatch %s", least == 1 ? "the show's folder" : "a word",
                     command->form);
        return CMD_UNUSABLE;
    }
    return -1;
}
