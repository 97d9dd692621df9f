// SPDX-License-Identifier: GPL-3.0-or-later
#include "piped.h"

#include <fcntl.h>
#include <poll.h>
#include <setjmp.h>
#include <signal.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/wait.h>
#include <unistd.h>

#include <cmocka.h>

void piped_start_with(piped *p, piped_closed which) {
    const char *build = getenv("SLOWMATCH_BUILD");
    int in[2], out[2];
    memset(p, 0, sizeof *p);
    snprintf(p->program, sizeof p->program, "%s/slowmatch", build ? build : "build");
    short_show_make(&p->show, "12 s");
    snprintf(p->log, sizeof p->log, "%s", short_show_path(&p->show, "log.out"));
    char book[384];
    snprintf(book, sizeof book, "%s", short_show_path(&p->show, "book.db"));
    char rehearse[] = "rehearse", lines[] = "--lines", silent[] = "--silent", log[] = "--log",
         logbook[] = "--logbook";
    char *argv[] = {p->program, rehearse, p->show.folder, lines, silent, log, p->log, logbook, book, NULL};
    assert_int_equal(pipe2(in, O_CLOEXEC), 0);
    assert_int_equal(pipe2(out, O_CLOEXEC), 0);
    p->pid = fork();
    assert_true(p->pid >= 0);
    if (p->pid == 0) {
        dup2(in[0], STDIN_FILENO);
        dup2(out[1], STDOUT_FILENO);
        if (which == STDIN_CLOSED)
            close(STDIN_FILENO);
        if (which == STDOUT_CLOSED)
            close(STDOUT_FILENO);
        setenv("TZ", "UTC", 1);
        execv(p->program, argv);
        _exit(127);
    }
    close(in[0]);
    close(out[1]);
    p->in = in[1];
    p->out = out[0];
    signal(SIGPIPE, SIG_IGN);
}

void piped_start(piped *p) {
    piped_start_with(p, NOTHING_CLOSED);
}

// Reads what comes within MS. False: nothing did, or no more will.
bool piped_hear(piped *p, int ms) {
    struct pollfd out = {p->out, POLLIN, 0};
    if (poll(&out, 1, ms) <= 0 || p->length + 1 >= sizeof p->text)
        return false;
    ssize_t count = read(p->out, p->text + p->length, sizeof p->text - 1 - p->length);
    if (count > 0)
        p->length += (size_t)count;
    p->text[p->length] = '\0';
    return count > 0;
}

// TEXT comes, behind what was expected before.
void piped_expect_at(piped *p, const char *text, int line) {
    for (;;) {
        char *found = strstr(p->text + p->read_to, text);
        if (found) {
            p->read_to = (size_t)(found - p->text) + strlen(text);
            return;
        }
        if (!piped_hear(p, PATIENCE_MS)) {
            fprintf(stderr, "line %d: never came: %s\n%s\n", line, text, p->text);
            fail();
        }
    }
}
#define piped_expect(p, text) piped_expect_at(p, text, __LINE__)

// The first next step that is named behind what was expected is this one.
void piped_expect_next_at(piped *p, const char *text, int line) {
    piped_expect_at(p, "NEXT: ", line);
    while (!strchr(p->text + p->read_to, '\n') && piped_hear(p, PATIENCE_MS))
        ;
    if (strncmp(p->text + p->read_to, text, strlen(text)) != 0)
        fail_msg("line %d: not %s:\n%s", line, text, p->text);
}

void piped_type(piped *p, const char *text) {
    assert_int_equal(write(p->in, text, strlen(text)), (ssize_t)strlen(text));
}

// The end of the program, within patience; its output is read meanwhile if READS.
int piped_ended(piped *p, bool reads) {
    int status;
    for (int i = 0; i < PATIENCE_MS / 20; i++) {
        if (waitpid(p->pid, &status, WNOHANG) == p->pid) {
            while (reads && piped_hear(p, 0))
                ;
            return status;
        }
        if (!reads || !piped_hear(p, 20))
            usleep(20000);
    }
    kill(p->pid, SIGKILL);
    waitpid(p->pid, &status, 0);
    fail_msg("the program hangs; it said:\n%s", p->text);
    return -1;
}

void piped_finish(piped *p) {
    if (p->in >= 0)
        close(p->in);
    close(p->out);
    short_show_remove(&p->show);
}

void piped_expect_ended(piped *p, int with) {
    int status = piped_ended(p, true);
    assert_true(WIFEXITED(status));
    assert_int_equal(WEXITSTATUS(status), with);
}

// TEXTS stand in the log in this order; NULL at the end.
void piped_expect_log(piped *p, const char *const *texts) {
    char *log = short_show_read(&p->show, "log.out");
    const char *at = log;
    for (; *texts; texts++) {
        const char *found = strstr(at, *texts);
        if (!found)
            fail_msg("not in the log, or not there: %s\n%s", *texts, log);
        at = found + strlen(*texts);
    }
    free(log);
}

// Up to the answer of the first question.
void piped_begin(piped *p) {
    piped_start(p);
    piped_expect(p, "REHEARSAL of Short Evening, as lines");
    piped_expect(p, "It has no way to fire anything");
    piped_expect(p, "> ");
    piped_type(p, "n\n");
    piped_expect(p, "tones on");
    piped_expect(p, "REHEARSAL SAFE key OFF");
    piped_expect(p, "NEXT: ");
    piped_expect(p, "> ");
}

void piped_arm(piped *p) {
    piped_type(p, "call-clear J\n");
    piped_expect(p, "call-clear J");
    piped_type(p, "key on\n");
    piped_expect(p, "REHEARSAL SAFE key ON");
    piped_type(p, "arm\n");
    piped_expect(p, "ARM the rehearsed module");
    piped_expect(p, "> ");
    piped_type(p, "\n");
    piped_expect(p, "state arming");
    piped_expect(p, "state armed");
    piped_expect(p, "REHEARSAL ARMED");
}
