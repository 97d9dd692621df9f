// SPDX-License-Identifier: GPL-3.0-or-later
// Records of the log: how a row is written, and its words read back.
#include "support/engine_run.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

#define COUNT(array) (sizeof(array) / sizeof *(array))

// RFC 4180: a field with a comma, a quote or a line break is quoted, quotes doubled.
static void a_record_of_the_log(void **state) {
    (void)state;
    static const struct {
        sm_log_row row;
        const char *record;
    } records[] = {
        {{.wall = {0},
          .source = SM_SOURCE_SCRIPT,
          .kind = {.act = SM_ACT_ARM},
          .cue = "",
          .target = "",
          .detail = ""},
         "0.000000,,script,arm,,,,0\n"},
        {{.wall = {8123456},
          .has_show = true,
          .show = {-1500000},
          .source = SM_SOURCE_ENGINE,
          .kind = {.what = SM_LOG_FIRE},
          .cue = "7",
          .target = "A-05",
          .detail = "gold comet",
          .late_us = 1234},
         "8.123456,-1.500000,engine,fire,7,A-05,gold comet,1234\n"},
        {{.wall = {3600000001},
          .has_show = true,
          .show = {-1},
          .source = SM_SOURCE_REMOTE,
          .kind = {.act = SM_ACT_NOTE},
          .cue = "",
          .target = "he said \"hold\", twice",
          .detail = "x"},
         "3600.000001,-0.000001,remote,note,,\"he said \"\"hold\"\", twice\",x,0\n"},
        {{.wall = {1},
          .source = SM_SOURCE_DRILL,
          .kind = {.what = SM_LOG_EVENT},
          .cue = "",
          .target = "a",
          .detail = "b\nc"},
         "0.000001,,drill,event,,a,\"b\nc\",0\n"},
        {{.wall = {1},
          .source = SM_SOURCE_INSTRUCTOR,
          .kind = {.act = SM_ACT_MARK},
          .cue = "",
          .target = "",
          .detail = "NOT MET, why"},
         "0.000001,,instructor,mark,,,\"NOT MET, why\",0\n"},
    };
    for (size_t i = 0; i < COUNT(records); i++) {
        sm_text out = {0};
        sm_log_row_format(&out, &records[i].row);
        assert_string_equal(sm_text_get(&out), records[i].record);
        sm_text_deinit(&out);
    }
    assert_string_equal(SM_LOG_HEADER, "wall,show,source,what,cue,target,detail,late_us");
}

// format.md, "Rehearsal log": the words of `what`; an action's own is its first word.
static void words_of_the_log_are_read_back(void **state) {
    (void)state;
    static const char *const words[] = {"refused", "unpaired", "state",     "guard",   "fire",
                                        "passed",  "spent",    "inhibited", "misfire", "out",
                                        "set",     "home",     "sound",     "event",   "mark"};
    for (size_t i = 0; i < COUNT(words); i++) {
        sm_log_kind kind = sm_log_kind_read(SM_SOURCE_DRILL, words[i], "safe");
        assert_true(kind.what != SM_LOG_ACTION && kind.what != SM_LOG_UNKNOWN);
        assert_string_equal(sm_log_word(kind), words[i]);
    }
    assert_int_equal(sm_log_kind_read(SM_SOURCE_ENGINE, "state", "running").state, SM_STATE_RUNNING);
    assert_int_equal(sm_log_kind_read(SM_SOURCE_ENGINE, "state", "on fire").what, SM_LOG_UNKNOWN);
    assert_int_equal(sm_log_kind_read(SM_SOURCE_SCRIPT, "refused", "reload").act, SM_ACT_RELOAD);
    assert_int_equal(sm_log_kind_read(SM_SOURCE_ENGINE, "hatch", "").what, SM_LOG_UNKNOWN);
    for (int act = 0; act < SM_ACT_COUNT; act++) {
        const char *name = sm_action_row_of((sm_act)act)->name;
        char word[32], target[32] = "";
        assert_true(sscanf(name, "%31s %31s", word, target) >= 1);
        assert_string_equal(sm_act_word((sm_act)act), word);
        assert_true(sm_log_is_act(sm_log_kind_read(SM_SOURCE_SCRIPT, word, target), (sm_act)act));
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_record_of_the_log),
        cmocka_unit_test(words_of_the_log_are_read_back),
    };
    return cmocka_run_group_tests_name("log of the engine", tests, NULL, NULL);
}
