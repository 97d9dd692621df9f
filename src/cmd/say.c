// SPDX-License-Identifier: GPL-3.0-or-later
// The one way out beside the screen: nothing else writes to standard output or standard error. What is said holds names, notes and
// words of others, so all of it is made harmless here.
#include "cmd/cmd.h"

#include <errno.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

#define KEPT "\n\t"

static bool put(FILE *to, const char *bytes, size_t length, const char *kept) {
    if (sm_text_harmless(bytes, length, kept) == length)
        return fwrite(bytes, 1, length, to) == length;
    sm_text shown = {0};
    sm_text_append_shown(&shown, bytes, length, kept);
    if (shown.failed)
        errno = ENOMEM;
    const bool written = !shown.failed && fwrite(shown.bytes, 1, shown.length, to) == shown.length;
    sm_text_deinit(&shown);
    return written;
}

bool cmd_put(FILE *to, const char *bytes, size_t length) {
    return put(to, bytes, length, KEPT);
}

static void say(FILE *to, const char *before, const char *format, va_list args, const char *after)
    SM_PRINTF(3, 0);
static void say(FILE *to, const char *before, const char *format, va_list args, const char *after) {
    char room[512] = "";
    sm_text text = SM_TEXT_IN(room);
    sm_text_printf(&text, "%s", before);
    sm_text_vprintf(&text, format, args);
    sm_text_printf(&text, "%s", after);
    cmd_put(to, sm_text_get(&text), text.length); // an error stays with the stream: cmd_end tells
    sm_text_deinit(&text);
}

void cmd_say(const char *format, ...) {
    va_list args;
    va_start(args, format);
    say(stdout, "", format, args, "");
    va_end(args);
}

void cmd_complain(const char *format, ...) {
    va_list args;
    va_start(args, format);
    say(cmd_stderr(), "slowmatch: ", format, args, "\n");
    va_end(args);
}

// Written past the streams: another thread draws while the program says something.
size_t cmd_put_over(int terminal, const char *line, size_t used, size_t columns) {
    char room[512] = "";
    sm_text text = SM_TEXT_IN(room), shown = {0};
    sm_text_append_shown(&shown, line, strlen(line), "");
    const size_t length =
        shown.length < columns ? shown.length : columns - 1; // the last column would go on to the next line
    sm_text_printf(&text, "\r%.*s", (int)length, sm_text_get(&shown));
    for (size_t i = length; i < used; i++)
        sm_text_append(&text, " ", 1);
    for (size_t i = length; i < used; i++)
        sm_text_append(&text, "\b", 1);
    if (length == 0)
        sm_text_append(&text, "\r", 1);
    if (!text.failed && !shown.failed)
        (void)!write(terminal, sm_text_get(&text), text.length); // a terminal that is gone shows nothing
    sm_text_deinit(&text);
    sm_text_deinit(&shown);
    return length;
}

int cmd_failed(const char *about, sm_result result) {
    const char *why = result == SM_UNREADABLE ? sm_file_why(errno) : sm_result_text(result);
    cmd_complain("%s%s%s", about ? about : "", about ? ": " : "", why);
    return CMD_UNUSABLE;
}

static int print(sm_text *text, int status, const char *kept) {
    if (text->failed)
        status = cmd_failed(NULL, SM_NO_MEMORY);
    else if (!put(stdout, sm_text_get(text), text->length, kept) || fflush(stdout) != 0)
        status = cmd_failed("standard output", SM_UNREADABLE);
    sm_text_deinit(text);
    return status;
}

int cmd_print(sm_text *text, int status) {
    return print(text, status, KEPT);
}

int cmd_print_coloured(sm_text *text, int status) {
    return print(text, status, KEPT "\033");
}

int cmd_end(int status) {
    const bool is_told = status == CMD_UNUSABLE;
    errno = 0;
    if (fflush(stdout) == 0 && !ferror(stdout))
        return status;
    if (!is_told)
        cmd_complain("standard output: %s", errno != 0 ? strerror(errno) : "could not be written");
    return CMD_UNUSABLE;
}
