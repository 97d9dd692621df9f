// SPDX-License-Identifier: GPL-3.0-or-later
// Proposals for cue times: what they change of a rehearsal (nothing), and what of cues.csv, by the program, from a script and from a list.
// The times expected are written down by hand; timecodes by SMPTE ST 12-1 (25 frames of 40 ms, counted from memory).
#include "support/engine_run.h"
#include "support/folder.h"

#include "slowmatch/tables.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>

#include <cmocka.h>

static char folder[64], data[256];

static const char cues[] = "# kept\n"
                           "time,target,do,id,note\n"
                           "0:01.000 ,lamp,red=255,one,\"a, b\"\r\n"
                           "\"2.5\",lamp,red=0,two,\n"
                           "01:00:04:00,lamp,red=10,three,# no comment\n"
                           "0:04,lamp,red=20,,\n";

static int begin(void **state) {
    (void)state;
    folder_make(folder);
    folder_path(data, folder, "data");
    setenv("XDG_DATA_HOME", data, 1);
    folder_write(folder, "show.ini", "[show]\ntitle = Tune\nlength = 10\n");
    folder_write(folder, "profiles.csv", "name,channels\nlamp,red\n");
    folder_write(folder, "fixtures.csv", "name,profile,address\nlamp,lamp,1\n");
    folder_write(folder, "cues.csv", cues);
    return 0;
}

static int end(void **state) {
    (void)state;
    folder_remove(folder);
    return 0;
}

static int run(const char *arguments, char *out, size_t size) {
    char command[700];
    snprintf(command, sizeof command, "cd %s && %s/slowmatch %s 2>&1", folder, getenv("SLOWMATCH_BUILD"),
             arguments);
    FILE *const from = popen(command, "r");
    assert_non_null(from);
    out[fread(out, 1, size - 1, from)] = '\0';
    const int status = pclose(from);
    return WIFEXITED(status) ? WEXITSTATUS(status) : -1;
}

static void assert_cues(const char *expected) {
    char path[256], *bytes;
    size_t length;
    assert_int_equal(sm_file_read(folder_path(path, folder, "cues.csv"), &bytes, &length), SM_OK);
    assert_string_equal(bytes, expected);
    free(bytes);
}

static void assert_says(const char *out, const char *part) {
    if (!strstr(out, part))
        fail_msg("\"%s\" is not in\n%s", part, out);
}

static void a_list_moves_cells_and_nothing_else(void **state) {
    (void)state;
    char out[4000];
    folder_write(folder, "list", "# of the evening\npropose one +0.05 s\n\ntwo 0:02.75\r\n  three +1 f on\n");
    assert_int_equal(run("tune . --try list", out, sizeof out), 0);
    assert_cues(cues);
    assert_int_equal(run("tune . --apply list", out, sizeof out), 0);
    assert_cues("# kept\n"
                "time,target,do,id,note\n"
                "0:01.050 ,lamp,red=255,one,\"a, b\"\r\n"
                "\"2.75\",lamp,red=0,two,\n"
                "01:00:04:01,lamp,red=10,three,# no comment\n"
                "0:04.04,lamp,red=20,,\n");
    assert_says(out, "4 cues of cues.csv would change\n");
    assert_says(out, "  cue three: 01:00:04:01, was 01:00:04:00\n");
    assert_says(out, "check would find nothing new\n");
    assert_says(out, "written; what was is kept in ");
    // Half a frame and less is no frame.
    folder_write(folder, "list", "three +0.019 s\n");
    assert_int_equal(run("tune . --apply list", out, sizeof out), 0);
    assert_says(out, "0 cues of cues.csv would change\n");
}

static void what_check_would_newly_find_is_said_before(void **state) {
    (void)state;
    char out[4000];
    folder_write(folder, "list", "one 0:03\n");
    assert_int_equal(run("tune . --try list", out, sizeof out), 0);
    assert_says(out, "check would newly find\n  cues.csv:4:1: note: at 2.5 s, earlier than the cue above it");
    assert_cues(cues);
}

static void each_change_is_an_object_for_a_script(void **state) {
    (void)state;
    char out[4000];
    folder_write(folder, "list", "one 0:03\n");
    assert_int_equal(run("tune . --try list --json", out, sizeof out), 0);
    assert_says(out, "{\"kind\": \"change\", \"file\": \"cues.csv\", \"line\": 3, \"cue\": \"one\", \"was\": "
                     "\"0:01.000\", \"now\": \"0:03.000\"}\n"
                     "{\"kind\": \"found\", \"finding\": {\"file\": \"cues.csv\", \"line\": 4,");
    assert_says(out, "{\"changes\": 1, \"errors\": 0, \"written\": false, \"kept\": null}\n");
    assert_cues(cues);
    assert_int_equal(run("tune . --apply list --json", out, sizeof out), 0);
    assert_says(out, "{\"changes\": 1, \"errors\": 0, \"written\": true, \"kept\": \"/");
}

static void a_wrong_list_is_said_by_line_and_column(void **state) {
    (void)state;
    char out[4000];
    folder_write(folder, "list", "one +0.05 s\ntwo soon\nfour +1 s\none 0:20\none beat\n4 0:04\n");
    assert_int_equal(run("tune . --apply list", out, sizeof out), 2);
    assert_says(out, "list:2:5: error: 'soon' is no moment and no step");
    assert_says(out, "list:4:1: error: that is outside the show: 0 to 0:10.000");
    assert_says(out, "list:5:1: error: no beat was tapped");
    assert_says(out, "list:6:1: error: cue 4 is there already");
    assert_says(out, "list:3:1: error: no cue 'four'");
    assert_cues(cues);
    assert_int_equal(run("tune . --apply list --try list", out, sizeof out), 2);
    assert_int_equal(run("tune .", out, sizeof out), 2);
    assert_int_equal(run("tune . --apply nowhere", out, sizeof out), 2);
}

static void a_script_proposes_and_applies(void **state) {
    (void)state;
    char out[8000];
    folder_write(folder, "script",
                 "0 propose one +0.05 s\n0 propose two +1 s\n0 undo\n1 key on\n1 apply\n2 key off\n2 apply\n"
                 "2 undo\n2 apply\n3 propose one 0:01\n3 call-clear\n3 key on\n3 arm\n+4 start\n@0:02 "
                 "propose two +1 f\n");
    assert_int_equal(run(". --headless --fast --script script --logbook book.db", out, sizeof out), 0);
    assert_says(out, "script,propose,,one,'+0.05 s,0\n");
    assert_says(out, "script,undo,,,propose,0\n");
    assert_says(out, "script,refused,,apply,the key is on: tables are written in safe with the key off,0\n");
    assert_says(out,
                "2.000000,,script,apply,,,,0\n"
                "2.000000,,script,refused,,undo,\"no reading, mark, tick, note or proposal to take back\",0\n"
                "2.000000,,script,refused,,apply,nothing is proposed,0\n");
    assert_says(
        out,
        "1 cue of cues.csv would change\n  cue one: 0:01.050, was 0:01.000\ncheck would find nothing new\n");
    assert_says(out, "script,propose,,two,'+1 f,0\n"); // running, and changes nothing:
    assert_says(out, ",1.050000,engine,set,one,lamp,red=255,0\n");
    assert_says(out, ",2.500000,engine,set,two,lamp,red=0,0\n");
    assert_cues("# kept\n"
                "time,target,do,id,note\n"
                "0:01.050 ,lamp,red=255,one,\"a, b\"\r\n"
                "\"2.5\",lamp,red=0,two,\n"
                "01:00:04:00,lamp,red=10,three,# no comment\n"
                "0:04,lamp,red=20,,\n");
    assert_int_equal(run("logbook --logbook book.db replay 1", out, sizeof out), 0);
    assert_says(out, "rows the same, none differs");
}

static void what_others_saved_is_not_overwritten(void **state) {
    (void)state;
    sm_text why = {0};
    sm_tuning *tuning = NULL;
    const sm_proposal proposal = {.cue = 1, .by_us = 250000};
    sm_show *const show = folder_load(folder);
    assert_int_equal(sm_tuning_create(show, &proposal, 1, NULL, &why, &tuning), SM_OK);
    assert_int_equal(sm_tuning_count(tuning), 1);
    folder_write(folder, "cues.csv", "time,target,do\n1,lamp,red=1\n");
    assert_int_equal(sm_tuning_save(tuning, data, &why), SM_REFUSED);
    assert_says(why.bytes, "somebody else saved it meanwhile");
    sm_tuning_destroy(tuning);
    sm_text_clear(&why);
    assert_int_equal(sm_tuning_create(show, &proposal, 1, NULL, &why, &tuning), SM_REFUSED);
    assert_says(why.bytes, "somebody else saved it meanwhile");
    assert_cues("time,target,do\n1,lamp,red=1\n");
    sm_show_destroy(show);
    sm_text_deinit(&why);
}

static void act(sm_rehearsal *rehearsal, const sm_show *show, const char *line, sm_result expected) {
    sm_action action;
    char why[200];
    size_t at;
    assert_int_equal(sm_action_read(show, line, strlen(line), &action, why, &at), SM_OK);
    assert_int_equal(sm_rehearsal_act(rehearsal, &action, SM_SOURCE_CONSOLE, (sm_wall_time){0}), expected);
}

static sm_us proposed(const sm_rehearsal *rehearsal, const sm_show *show, uint32_t cue) {
    sm_proposal proposals[SM_PROPOSALS_MAX];
    return sm_proposed_us(show, proposals, sm_rehearsal_proposals(rehearsal, proposals), cue);
}

// Cues 1 to 4 at 1, 2.5, 4 and 4 s.
static void proposals_add_up_and_stay_by_id(void **state) {
    (void)state;
    sm_rehearsal *rehearsal;
    const sm_rehearsal_options options = {0};
    sm_show *const show = folder_load(folder);
    assert_int_equal(sm_rehearsal_create(show, &options, &rehearsal), SM_OK);
    act(rehearsal, show, "propose two +0.5 s on", SM_OK);
    act(rehearsal, show, "propose 4 -1 f", SM_OK);
    act(rehearsal, show, "propose three 0:05", SM_OK);
    assert_int_equal(proposed(rehearsal, show, 0), 1000000);
    assert_int_equal(proposed(rehearsal, show, 1), 3000000);
    assert_int_equal(proposed(rehearsal, show, 2), 5000000);
    assert_int_equal(proposed(rehearsal, show, 3), 4460000);
    act(rehearsal, show, "undo", SM_OK);
    assert_int_equal(proposed(rehearsal, show, 2), 4500000);
    act(rehearsal, show, "propose one -1.5 s", SM_REFUSED); // before the show
    act(rehearsal, show, "propose one beat", SM_REFUSED);   // none was tapped
    act(rehearsal, show, "seek 1.2", SM_OK);
    act(rehearsal, show, "mark beat-1", SM_OK);
    act(rehearsal, show, "seek 9", SM_OK);
    act(rehearsal, show, "mark beat-2", SM_OK);
    act(rehearsal, show, "propose one beat", SM_OK);
    assert_int_equal(proposed(rehearsal, show, 0), 1200000);
    act(rehearsal, show, "undo", SM_OK);
    folder_write(folder, "cues.csv", "time,target,do,id\n0.5,lamp,red=1,new\n2.5,lamp,red=0,two\n");
    sm_show *const again = folder_load(folder);
    act(rehearsal, show, "reload", SM_OK);
    assert_int_equal(sm_rehearsal_replace_show(rehearsal, again), SM_OK);
    assert_int_equal(proposed(rehearsal, again, 0), 500000);
    assert_int_equal(proposed(rehearsal, again, 1), 3000000);
    act(rehearsal, again, "undo", SM_OK);
    assert_int_equal(proposed(rehearsal, again, 1), 2500000);
    for (int i = 0; i < SM_PROPOSALS_MAX; i++)
        act(rehearsal, again, i % 2 == 0 ? "propose two +1 f" : "propose two -1 f", SM_OK);
    act(rehearsal, again, "propose two +1 f", SM_REFUSED);
    sm_rehearsal_destroy(rehearsal);
    sm_show_destroy(show);
    sm_show_destroy(again);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(a_list_moves_cells_and_nothing_else, begin, end),
        cmocka_unit_test_setup_teardown(what_check_would_newly_find_is_said_before, begin, end),
        cmocka_unit_test_setup_teardown(each_change_is_an_object_for_a_script, begin, end),
        cmocka_unit_test_setup_teardown(a_wrong_list_is_said_by_line_and_column, begin, end),
        cmocka_unit_test_setup_teardown(a_script_proposes_and_applies, begin, end),
        cmocka_unit_test_setup_teardown(what_others_saved_is_not_overwritten, begin, end),
        cmocka_unit_test_setup_teardown(proposals_add_up_and_stay_by_id, begin, end),
    };
    return cmocka_run_group_tests_name("tables tune", tests, NULL, NULL);
}
