// SPDX-License-Identifier: GPL-3.0-or-later
// slowmatch lights SHOW, under a filter that ends the program at its first socket; and where lights on a wire cannot be asked for at all.
#include "support/folder.h"

#include <linux/filter.h>
#include <linux/seccomp.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/prctl.h>
#include <sys/socket.h>
#include <sys/syscall.h>
#include <sys/wait.h>
#include <unistd.h>

#include <cmocka.h>

#define DEMO "demo-shows/lantern-quay"

// From here on a socket of any kind ends the process. False: no such filters here.
static bool forbid_sockets(void) {
    struct sock_filter filter[] = {
        BPF_STMT(BPF_LD | BPF_W | BPF_ABS, offsetof(struct seccomp_data, nr)),
        BPF_JUMP(BPF_JMP | BPF_JEQ | BPF_K, SYS_socket, 1, 0),
        BPF_STMT(BPF_RET | BPF_K, SECCOMP_RET_ALLOW),
        BPF_STMT(BPF_RET | BPF_K, SECCOMP_RET_KILL_PROCESS),
    };
    const struct sock_fprog program = {.len = sizeof filter / sizeof filter[0], .filter = filter};
    return prctl(PR_SET_NO_NEW_PRIVS, 1, 0, 0, 0) == 0 &&
           prctl(PR_SET_SECCOMP, SECCOMP_MODE_FILTER, &program) == 0;
}

// Runs the program with ARGV; what it says into SAID. The status as waitpid has it. FORBIDDEN: under the filter.
static int run(const char *const *argv, bool forbidden, char said[8000]) {
    const char *build = getenv("SLOWMATCH_BUILD");
    char program[512];
    int out[2], status;
    size_t length = 0;
    snprintf(program, sizeof program, "%s/slowmatch", build ? build : "build");
    assert_int_equal(pipe(out), 0);
    const pid_t pid = fork();
    assert_true(pid >= 0);
    if (pid == 0) {
        dup2(out[1], 1);
        dup2(out[1], 2);
        if (forbidden && !forbid_sockets())
            dprintf(2, "no filters here: sockets were not forbidden\n");
        execv(program, (char *const *)(uintptr_t)argv);
        _exit(127);
    }
    close(out[1]);
    for (ssize_t n; length < 7999 && (n = read(out[0], said + length, 7999 - length)) > 0;)
        length += (size_t)n;
    said[length] = '\0';
    close(out[0]);
    assert_int_equal(waitpid(pid, &status, 0), pid);
    return status;
}

#define RUN(said, ...) run((const char *const[]){"slowmatch", __VA_ARGS__, NULL}, true, said)

// The filter is one: a socket under it is the end.
static void the_filter_ends_whoever_opens_a_socket(void **state) {
    (void)state;
    int status;
    const pid_t pid = fork();
    assert_true(pid >= 0);
    if (pid == 0)
        _exit(forbid_sockets() ? socket(AF_INET, SOCK_DGRAM, 0) : 77);
    assert_int_equal(waitpid(pid, &status, 0), pid);
    if (WIFEXITED(status) && WEXITSTATUS(status) == 77)
        skip();
    assert_true(WIFSIGNALED(status));
}

static void it_says_what_would_go_where_and_opens_no_socket(void **state) {
    (void)state;
    char said[8000];
    assert_int_equal(RUN(said, "lights", DEMO), 0);
    assert_non_null(strstr(said, "universe 1 may be sent: par-1 (1 to 6), par-2 (9 to 14), "));
    assert_non_null(strstr(said, " and 2 more\n"));
    assert_non_null(strstr(said, "\n  1/9 to 1/14 par-2 (par)\n")); // and then each of them
    assert_non_null(strstr(said, "universe 2 NEVER SENT: jet-1 (jet) is a flame unit\n"));
    assert_non_null(strstr(said, "\n  2/11 to 2/12 jet-2 (jet) is a flame unit\n")); // not only the first
    assert_non_null(strstr(said, "nothing is sent"));
    assert_int_equal(RUN(said, "lights", DEMO, "--lights", "lo", "--lights-to", "7=127.0.0.1,multicast"), 0);
    assert_non_null(strstr(said, "interface lo, priority 10"));
    assert_non_null(strstr(said, "universe 1 to 239.255.0.1 (multicast): par-1"));
    assert_non_null(
        strstr(said, "NEVER USED, the destination 7=127.0.0.1: nothing is patched in universe 7\n"));
    assert_int_equal(RUN(said, "lights", DEMO, "--lights", "lo", "--lights-to", "2=127.0.0.1"), 0);
    assert_non_null(strstr(said, "universe 1 NOT SENT, no destination is for it: par-1"));
    assert_non_null(strstr(said, "NEVER USED, the destination 2=127.0.0.1: jet-1 (jet) is a flame unit\n"));
}

static void wrong_options_are_refused_before_anything(void **state) {
    (void)state;
    static const struct {
        const char *argv[10], *says;
    } rows[] = {
        {{"slowmatch", DEMO, "--lines", "--silent", "--lights", "lo"}, "--lights needs --lights-to"},
        {{"slowmatch", DEMO, "--lines", "--silent", "--lights-to", "127.0.0.1"}, "need --lights INTERFACE"},
        {{"slowmatch", DEMO, "--lines", "--silent", "--lights", "lo", "--lights-to", "224.0.0.1"},
         "is no destination"},
        {{"slowmatch", DEMO, "--lines", "--silent", "--lights", "lo", "--lights-to", "127.0.0.1",
          "--lights-priority=100"},
         "priority 100 is outside 1 to 99"},
        {{"slowmatch", DEMO, "--headless", "--lights", "lo", "--lights-to", "127.0.0.1"},
         "a script states nothing"},
        {{"slowmatch", DEMO, "--headless", "--fast", "--lights", "lo", "--lights-to", "127.0.0.1"},
         "a script states"},
        {{"slowmatch", "drill", DEMO, "--lights", "lo", "--lights-to", "127.0.0.1"}, "--lights"},
        {{"slowmatch", "walk", DEMO, "--lights", "lo", "--lights-to", "127.0.0.1"}, "--lights"},
    };
    char said[8000];
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        const int status = run(rows[i].argv, true, said);
        if (!WIFEXITED(status) || WEXITSTATUS(status) != 2 || !strstr(said, rows[i].says))
            fail_msg("row %zu: %d, %s", i, status, said);
    }
}

// Not first when the key is pressed: what is not there, and what no interface of its kind can reach, is told before the show begins.
static void a_wire_that_is_not_there_is_refused_at_the_start(void **state) {
    (void)state;
    static const struct {
        const char *interface, *to, *says;
    } rows[] = {
        {"nope0", "10.9.0.2", "slowmatch: --lights: interface nope0: there is none; `ip link` lists them\n"},
        {"lo", "10.9.0.2",
         "slowmatch: --lights: interface lo: 10.9.0.2 is no other machine on its own network\n"},
    };
    char said[8000];
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        const int status = run((const char *const[]){"slowmatch", DEMO, "--lines", "--silent", "--lights",
                                                     rows[i].interface, "--lights-to", rows[i].to, NULL},
                               false, said);
        assert_true(WIFEXITED(status));
        assert_int_equal(WEXITSTATUS(status), 2);
        assert_string_equal(said, rows[i].says);
    }
}

// A script asks for lights, the console never named a wire: refused, and in the log.
static void a_script_cannot_ask_for_them(void **state) {
    (void)state;
    char folder[64], script[256], said[8000];
    folder_make(folder);
    folder_write(folder, "script", "0 lights on\n0 lights answer 1 J\n1 lights off\n2 quit\n");
    folder_path(script, folder, "script");
    RUN(said, DEMO, "--script", script, "--fast");
    assert_non_null(strstr(said, "script,refused,,lights,no wire was named"));
    assert_null(strstr(said, "engine,lights"));
    folder_remove(folder);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_filter_ends_whoever_opens_a_socket),
        cmocka_unit_test(it_says_what_would_go_where_and_opens_no_socket),
        cmocka_unit_test(wrong_options_are_refused_before_anything),
        cmocka_unit_test(a_wire_that_is_not_there_is_refused_at_the_start),
        cmocka_unit_test(a_script_cannot_ask_for_them),
    };
    return cmocka_run_group_tests_name("slowmatch lights", tests, NULL, NULL);
}
