// SPDX-License-Identifier: GPL-3.0-or-later
#include "ran.h"

#include <setjmp.h>
#include <signal.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>

#include <cmocka.h>

#define DEADLINE_S 60

static void become(const char *const words[], FILE *in, FILE *out, FILE *err) {
    const char *build = getenv("SLOWMATCH_BUILD");
    char name[] = "slowmatch", *argv[RAN_WORDS + 2] = {name};
    char path[512];
    snprintf(path, sizeof path, "%s/slowmatch", build ? build : "build");
    for (size_t i = 0; i < RAN_WORDS && words[i]; i++)
        argv[i + 1] = strdup(words[i]);
    if (dup2(fileno(in), 0) >= 0 && dup2(fileno(out), 1) >= 0 && dup2(fileno(err), 2) >= 0)
        execv(path, argv);
    _exit(127);
}

static void read_back(FILE *file, sm_text *text) {
    char block[4096];
    rewind(file);
    for (size_t n; (n = fread(block, 1, sizeof block, file)) > 0;)
        sm_text_append(text, block, n);
    fclose(file);
}

static int wait_for(pid_t pid) {
    int status;
    for (int waited_ms = 0; waitpid(pid, &status, WNOHANG) == 0; waited_ms += 5) {
        nanosleep(&(struct timespec){.tv_nsec = 5000000}, NULL);
        if (waited_ms > DEADLINE_S * 1000) {
            kill(pid, SIGKILL);
            waitpid(pid, &status, 0);
            return -SIGKILL;
        }
    }
    return WIFEXITED(status) ? WEXITSTATUS(status) : -WTERMSIG(status);
}

ran ran_slowmatch(const char *const words[], const char *typed) {
    FILE *in = tmpfile(), *out = tmpfile(), *err = tmpfile();
    assert_true(in && out && err);
    assert_true(!typed || fputs(typed, in) >= 0);
    rewind(in);
    fflush(NULL);
    const pid_t pid = fork();
    assert_true(pid >= 0);
    if (pid == 0)
        become(words, in, out, err);
    ran r = {.status = wait_for(pid)};
    fclose(in);
    read_back(out, &r.out);
    read_back(err, &r.err);
    if (r.status == -SIGKILL)
        fail_msg("slowmatch %s %s: still running after %d s", words[0], words[1], DEADLINE_S);
    return r;
}

void ran_free(ran *r) {
    sm_text_deinit(&r->out);
    sm_text_deinit(&r->err);
}

int ran_line(const char *folder, const char *line, sm_text *said) {
    const char *build = getenv("SLOWMATCH_BUILD");
    sm_text command = {0};
    sm_text_printf(
        &command,
        "S=$(realpath '%s')/slowmatch; DEMOS=$(realpath demo-shows); cd %s && { %s; } 2>&1 </dev/null",
        build ? build : "build", folder, line);
    FILE *pipe = popen(sm_text_get(&command), "r");
    assert_non_null(pipe);
    sm_text_clear(said);
    char bytes[4096];
    for (size_t got; (got = fread(bytes, 1, sizeof bytes, pipe)) > 0;)
        sm_text_append(said, bytes, got);
    const int ended = pclose(pipe);
    sm_text_deinit(&command);
    assert_true(WIFEXITED(ended));
    return WEXITSTATUS(ended);
}

void ran_expect(const sm_text *said, const char *part) {
    if (!strstr(sm_text_get(said), part))
        fail_msg("\"%s\" is not in:\n%s", part, sm_text_get(said));
}
