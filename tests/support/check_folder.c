// SPDX-License-Identifier: GPL-3.0-or-later
#include "check_folder.h"

#include <dirent.h>
#include <errno.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include <cmocka.h>

static void path_of(char path[512], const char *folder, const char *file) {
    assert_true(snprintf(path, 512, "%s/%s", folder, file) < 512);
}

static char *read_whole(const char *folder, const char *file) {
    char path[512], *bytes;
    size_t length;
    path_of(path, folder, file);
    assert_int_equal(sm_file_read(path, &bytes, &length), SM_OK);
    return bytes;
}

void check_folder_write(const check_folder *folder, const char *file, const char *text) {
    char path[512];
    path_of(path, folder->path, file);
    FILE *out = fopen(path, "wb");
    assert_non_null(out);
    assert_int_equal(fwrite(text, 1, strlen(text), out), strlen(text));
    assert_int_equal(fclose(out), 0);
}

// Calls DO_IT for each plain file of PATH.
static void each_file(const char *path, const check_folder *folder,
                      void (*do_it)(const char *path, const char *file, const check_folder *folder)) {
    DIR *listing = opendir(path);
    assert_non_null(listing);
    const struct dirent *entry;
    while ((entry = readdir(listing)))
        if (entry->d_name[0] != '.')
            do_it(path, entry->d_name, folder);
    closedir(listing);
}

static void copy_file(const char *path, const char *file, const check_folder *folder) {
    char *bytes = read_whole(path, file);
    check_folder_write(folder, file, bytes);
    free(bytes);
}

static bool is_folder(const char *path, const char *file) {
    char whole[512];
    struct stat status;
    path_of(whole, path, file);
    return stat(whole, &status) == 0 && S_ISDIR(status.st_mode);
}

static void copy_any(const char *path, const char *file, const check_folder *folder) {
    if (!is_folder(path, file)) {
        copy_file(path, file, folder);
        return;
    }
    char from[512];
    check_folder below;
    path_of(from, path, file);
    assert_true(snprintf(below.path, sizeof below.path, "%s/%s", folder->path, file) <
                (int)sizeof below.path);
    assert_true(mkdir(below.path, 0700) == 0 || errno == EEXIST);
    each_file(from, &below, copy_file);
}

static void remove_any(const char *path, const char *file, const check_folder *folder) {
    if (!is_folder(path, file)) {
        check_folder_remove(folder, file);
        return;
    }
    check_folder below;
    assert_true(snprintf(below.path, sizeof below.path, "%s/%s", folder->path, file) <
                (int)sizeof below.path);
    check_folder_deinit(&below);
}

void check_folder_init(check_folder *folder, const char *base) {
    // Where it is memory: tens of thousands of small files are written.
    const char *place = access("/dev/shm", W_OK) == 0 ? "/dev/shm" : "/tmp";
    snprintf(folder->path, sizeof folder->path, "%s/slowmatch-check-XXXXXX", place);
    assert_non_null(mkdtemp(folder->path));
    if (base)
        each_file(base, folder, copy_any);
}

void check_folder_overlay(const check_folder *folder, const char *path) {
    each_file(path, folder, copy_any);
}

void check_folder_deinit(check_folder *folder) {
    each_file(folder->path, folder, remove_any);
    rmdir(folder->path);
}

void check_folder_remove(const check_folder *folder, const char *file) {
    char path[512];
    path_of(path, folder->path, file);
    assert_int_equal(unlink(path), 0);
}

void check_folder_edit(const check_folder *folder, const char *file, const char *from, const char *to) {
    char *text = read_whole(folder->path, file);
    char *at = strstr(text, from);
    if (!at || strstr(at + 1, from))
        fail_msg("\"%s\" is %s in %s", from, !at ? "not" : "twice", file);
    sm_text changed = {0};
    sm_text_printf(&changed, "%.*s%s%s", (int)(at - text), text, to, at + strlen(from));
    check_folder_write(folder, file, sm_text_get(&changed));
    sm_text_deinit(&changed);
    free(text);
}

void check_case_init(check_case *test, const check_folder *folder, const sm_check_options *options) {
    *test = (check_case){0};
    sm_findings *loaded = sm_findings_create();
    assert_non_null(loaded);
    const sm_result result =
        sm_show_load(folder->path, &(sm_show_load_options){.keep_invalid = true}, loaded, &test->show);
    assert_true(result == SM_OK || result == SM_INVALID || result == SM_UNREADABLE);
    assert_int_equal(sm_check_report_create(test->show, folder->path, loaded, options, &test->report), SM_OK);
    sm_findings_destroy(loaded);
}

void check_case_deinit(check_case *test) {
    sm_check_report_destroy(test->report);
    sm_show_destroy(test->show);
}

void check_case_print(const check_case *test) {
    sm_text text = {0};
    sm_check_format_text(&text, test->report, false);
    fputs(sm_text_get(&text), stderr);
    sm_text_deinit(&text);
}

size_t check_case_count(const check_case *test, const char *rule) {
    size_t count = 0;
    for (size_t i = 0; i < sm_findings_count(test->report->findings); i++)
        count += strcmp(sm_findings_at(test->report->findings, i)->rule, rule) == 0;
    return count;
}

uint64_t check_case_rows(const check_case *test, const char *rule) {
    uint64_t rows = 0;
    for (size_t i = 0; i < sm_findings_count(test->report->findings); i++) {
        const sm_finding *finding = sm_findings_at(test->report->findings, i);
        if (strcmp(finding->rule, rule) == 0)
            rows |= UINT64_C(1) << (finding->line - 2);
    }
    return rows;
}

static uint32_t column_of(const char *line, uint32_t field) {
    const char *at = line;
    for (; field > 0; field--)
        at += strcspn(at, ",\n") + 1;
    return (uint32_t)(at - line) + 1;
}

uint32_t check_folder_line(const check_folder *folder, const char *file, const char *start, uint32_t field,
                           uint32_t *column) {
    char *text = read_whole(folder->path, file);
    uint32_t number = 1;
    const char *line = text;
    while (line && strncmp(line, start, strlen(start)) != 0) {
        line = strchr(line, '\n');
        line = line ? line + 1 : NULL;
        number++;
    }
    *column = line ? column_of(line, field) : 0;
    free(text);
    return line ? number : 0;
}

uint32_t check_folder_field(const check_folder *folder, const char *file, const char *name) {
    char *text = read_whole(folder->path, file);
    const char *at = text;
    uint32_t field = 0;
    while (strncmp(at, name, strlen(name)) != 0 || !strchr(",\r\n", at[strlen(name)])) {
        at += strcspn(at, ",\n") + 1;
        assert_true(*at != '\0');
        field++;
    }
    free(text);
    return field;
}
