// SPDX-License-Identifier: GPL-3.0-or-later
// The manual page names every action, command, option and alert that the program has, and the README every command.
#include "slowmatch/alerts.h"
#include "slowmatch/check.h"
#include "slowmatch/engine.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

static char *read_file(const char *path) {
    char *text = NULL;
    size_t length;
    assert_int_equal(sm_file_read(path, &text, &length), SM_OK);
    return text;
}

// The page without roff's escapes: "\-" is a dash, font changes are nothing.
static char *plain_page(void) {
    char *page = read_file("man/slowmatch.1");
    char *out = page;
    for (const char *at = page; *at != '\0'; at++) {
        if (at[0] == '\\' && at[1] == '-')
            continue;
        if (at[0] == '\\' && at[1] == 'f') {
            at += 2;
            continue;
        }
        *out++ = *at;
    }
    *out = '\0';
    return page;
}

// WORD stands in TEXT as a word of its own.
static bool has_word(const char *text, const char *word) {
    size_t length = strlen(word);
    for (const char *at = strstr(text, word); at; at = strstr(at + 1, word)) {
        char before = at == text ? ' ' : at[-1], after = at[length];
        if (strchr(" \n\",.(", before) && strchr(" \n\",.:;)[", after))
            return true;
    }
    return false;
}

static void every_action_is_in_the_manual(void **state) {
    (void)state;
    char *page = plain_page();
    const char *actions = strstr(page, ".SH ACTIONS");
    assert_non_null(actions);
    for (int act = 0; act < SM_ACT_COUNT; act++) {
        const char *name = sm_action_row_of((sm_act)act)->name;
        if (!has_word(actions, name))
            fail_msg("man/slowmatch.1 does not name the action '%s'", name);
    }
    free(page);
}

static char *run_program(const char *arguments) {
    const char *build = getenv("SLOWMATCH_BUILD");
    char command[512];
    snprintf(command, sizeof command, "%s/slowmatch %s", build ? build : "build", arguments);
    FILE *pipe = popen(command, "r");
    assert_non_null(pipe);
    sm_text text = {0};
    char block[4096];
    for (size_t n; (n = fread(block, 1, sizeof block, pipe)) > 0;)
        sm_text_append(&text, block, n);
    assert_int_equal(pclose(pipe), 0);
    assert_false(text.failed);
    return text.bytes;
}

static void every_option_of(const char *page, const char *command) {
    char arguments[64];
    snprintf(arguments, sizeof arguments, "%s --help", command);
    char *help = run_program(arguments);
    unsigned found = 0;
    for (char *at = strstr(help, "  --"); at; at = strstr(at + 1, "  --")) {
        char option[64];
        size_t length = strcspn(at + 2, " \n");
        snprintf(option, sizeof option, "%.*s", (int)length, at + 2);
        found++;
        if (!has_word(page, option))
            fail_msg("man/slowmatch.1 does not name %s of '%s'", option, command);
    }
    assert_true(found >= 2); // --help and --version at least
    free(help);
}

// COMMAND has a line of SYNOPSIS and one of the README's list; rehearse needs no name.
static void is_listed(const char *page, const char *readme, const char *command) {
    char line[64], row[64];
    snprintf(line, sizeof line, "\n.B slowmatch %s\n", command);
    snprintf(row, sizeof row, "\n    slowmatch %s ", command);
    const char *synopsis = strstr(page, line);
    if (strcmp(command, "rehearse") == 0)
        return;
    if (!synopsis || synopsis > strstr(page, ".SH DESCRIPTION"))
        fail_msg("man/slowmatch.1 has no line of SYNOPSIS for '%s'", command);
    if (!strstr(readme, row))
        fail_msg("README.md does not list '%s'", command);
}

static void every_command_and_option_is_in_the_manual(void **state) {
    (void)state;
    char *page = plain_page(), *readme = read_file("README.md"), *overview = run_program("--help");
    unsigned found = 0;
    for (char *at = strstr(overview, "\n  slowmatch "); at; at = strstr(at + 1, "\n  slowmatch ")) {
        const char *word = at + strlen("\n  slowmatch ");
        word += *word == '[';
        char command[32];
        snprintf(command, sizeof command, "%.*s", (int)strcspn(word, " ]\n"), word);
        found++;
        if (!has_word(page, command))
            fail_msg("man/slowmatch.1 does not name the command '%s'", command);
        is_listed(page, readme, command);
        every_option_of(page, command);
    }
    assert_true(found >= 1);
    free(page);
    free(readme);
    free(overview);
}

// ALERTS has a paragraph for each, in the order of urgency, which says the table's own words.
static void every_alert_is_in_the_manual(void **state) {
    (void)state;
    char *page = plain_page();
    const char *at = strstr(page, ".SH ALERTS");
    for (int id = 0; at && id < SM_ALERT_COUNT; id++) {
        const sm_alert_row *row = sm_alert_row_of((sm_alert_id)id);
        char paragraph[400];
        const char *rank = sm_alert_rank_text(row->rank);
        int length = snprintf(paragraph, sizeof paragraph, "\n.B %s\n%c", row->name, rank[0]);
        for (const char *letter = rank + 1; *letter != '\0'; letter++)
            length += snprintf(paragraph + length, sizeof paragraph - (size_t)length, "%c", *letter | 32);
        snprintf(paragraph + length, sizeof paragraph - (size_t)length, ": %s. To do (%s): %s.\n", row->when,
                 row->who, row->to_do);
        at = strstr(at, paragraph);
        if (!at)
            fail_msg("man/slowmatch.1 has not in its place:%s", paragraph);
    }
    assert_non_null(at);
    free(page);
}

// The rules, the board of the ground and the manual say one and the same of where a distance is from.
static void every_source_of_a_distance_is_in_the_manual(void **state) {
    (void)state;
    char *page = plain_page();
    for (int id = 0; id < SM_SITE_FIGURE_COUNT; id++) {
        const char *source = sm_site_figure_at((sm_site_figure_id)id)->source;
        if (!strstr(page, source))
            fail_msg("man/slowmatch.1 does not say: %s", source);
        if (!strstr(sm_check_rule_find("distance-short")->source, source))
            fail_msg("distance-short does not say: %s", source);
    }
    free(page);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_action_is_in_the_manual),
        cmocka_unit_test(every_command_and_option_is_in_the_manual),
        cmocka_unit_test(every_alert_is_in_the_manual),
        cmocka_unit_test(every_source_of_a_distance_is_in_the_manual),
    };
    return cmocka_run_group_tests_name("manual", tests, NULL, NULL);
}
