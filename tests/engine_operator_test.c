// SPDX-License-Identifier: GPL-3.0-or-later
// The operator: how a script is read, when its lines act, when a run is over, and the built-in sequence.
#include "support/engine_run.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

#define COUNT(array) (sizeof(array) / sizeof *(array))
#define LAPSED ",,engine,guard,,clear,NOT MET, lapsed: made safe\n"
#define RUNNING                                                                                              \
    "0,,script,call-clear,,J,\n0,,script,key,,on,\n0,,script,arm,,,\n0,,engine,state,,arming,safe\n"         \
    "1,,engine,state,,armed,arming\n1,,script,start,,,\n1,-2,engine,state,,running,armed\n"

static const engine_case moments[] = {
    {"wall seconds, seconds after the line before acted, moments of the show", "",
     ENGINE_START
     "+0.5 note a\n2 note b\n+1 note c\n@0:02.5 note d\n+0 note e\n@01:00:03:00 note f\n6.25 safe\n",
     RUNNING "1.5,-1.5,script,note,,a,\n"
             "2,-1,script,note,,b,\n"
             "3,0,script,note,,c,\n"
             "5.5,2.5,script,note,,d,\n"
             "5.5,2.5,script,note,,e,\n"
             "6,3,script,note,,f,\n"
             "6.25,3.25,script,safe,,,\n"
             "6.25,,engine,state,,safe,running\n"
             "6.25" LAPSED},
    {"none before the line above it", "", "2 note a\n1 note b\n+0 note c\n",
     "2,,script,note,,a,\n2,,script,note,,b,\n2,,script,note,,c,\n"},
    {"a moment of the countdown, one that is past: at once", "",
     ENGINE_START "@-1.5 note a\n@-1.75 note b\n@-9 note c\n2 safe\n",
     RUNNING "1.5,-1.5,script,note,,a,\n"
             "1.5,-1.5,script,note,,b,\n"
             "1.5,-1.5,script,note,,c,\n"
             "2,-1,script,safe,,,\n"
             "2,,engine,state,,safe,running\n"
             "2" LAPSED},
    {"it waits through arming; at half speed; over a jump", "",
     ENGINE_ARM "1 speed 0.5\n1 start\n@-1 note a\n@0 seek 10\n@9 note b\n@11 note c\n@11 safe\n",
     "0,,script,call-clear,,J,\n0,,script,key,,on,\n0,,script,arm,,,\n0,,engine,state,,arming,safe\n"
     "1,,engine,state,,armed,arming\n"
     "1,,script,speed,,0.5,\n"
     "1,,script,start,,,\n"
     "1,-2,engine,state,,running,armed\n"
     "3,-1,script,note,,a,\n"
     "5,0,script,seek,,10,\n"
     "5,10,script,note,,b,\n"
     "7,11,script,note,,c,\n"
     "7,11,script,safe,,,\n"
     "7,,engine,state,,safe,running\n"
     "7" LAPSED},
    {"comments, empty lines, blanks, CRLF, a byte order mark", "",
     "\xEF\xBB\xBF# first\r\n\r\n   0   note a \t# last of a line\r\n\t# only\r\n+1 note b#c\r\n1 note d",
     "0,,script,note,,a,\n1,,script,note,,b#c,\n1,,script,note,,d,\n"},
    {"nothing but a byte order mark", "", "\xEF\xBB\xBF", ""},
    {"quit ends it, whatever follows", "", ENGINE_START "2 quit\n3 note a\n",
     RUNNING "2,-1,script,quit,,,\n"
             "2,,engine,state,,safe,running\n"
             "2,,engine,guard,,clear,NOT MET, lapsed: quit\n"},
    {"quit in safe", "", "0 quit\n", "0,,script,quit,,,\n"},
    {"what is refused is logged, and the next line acts", "", "0 start\n0 resume\n0 note a\n",
     "0,,script,refused,,start,not while safe; allowed in: armed\n"
     "0,,script,refused,,resume,not while safe; allowed in: paused\n"
     "0,,script,note,,a,\n"},
    {"lines left act after the end, too", "",
     ENGINE_START "1 note look\n@60 note a\n70 safe\n+600 report A-01\n",
     "63,60,script,note,,a,\n"
     "63,60,engine,state,,ended,running\n"
     "70,60,script,safe,,,\n"
     "70,,engine,state,,safe,ended\n"
     "70" LAPSED "670,,script,report,,A-01,\n"},
    {"over in safe, though something burns", "1,A-01,fountain,,\n", ENGINE_START "1 note look\n5 safe\n",
     "4,1,engine,fire,1,A-01,fountain\n5,2,script,safe,,,\n5,,engine,state,,safe,running\n5" LAPSED},
    {"over in armed and in paused", "", ENGINE_ARM,
     "0,,script,call-clear,,J,\n0,,script,key,,on,\n0,,script,arm,,,\n"
     "0,,engine,state,,arming,safe\n1,,engine,state,,armed,arming\n"},
    {"not over in ended while something burns", "58,A-01,fountain,,\n", ENGINE_START "1 note look\n",
     "61,58,engine,fire,1,A-01,fountain\n63,60,engine,state,,ended,running\n71,60,engine,out,1,A-01,"
     "fountain\n"},
};

static void lines_act_at_their_moments(void **state) {
    (void)state;
    engine_run_cases(moments, COUNT(moments));
}

static const struct {
    const char *script;
    sm_operator_word word;
    uint32_t line;
} ends[] = {
    {"", SM_OPERATOR_OUT, 0},
    {"# nothing\n", SM_OPERATOR_OUT, 0},
    {ENGINE_START "@60 note a\n", SM_OPERATOR_OUT, 0},
    {ENGINE_START "@60.001 note a\n", SM_OPERATOR_NEVER, 5},
    {"@0 note a\n", SM_OPERATOR_NEVER, 1},
    {ENGINE_ARM "@0 note a\n", SM_OPERATOR_NEVER, 4},
    {ENGINE_START "@5 pause\n@6 note a\n", SM_OPERATOR_NEVER, 6},
    {ENGINE_START "@5 safe\n@4 note a\n", SM_OPERATOR_NEVER, 6},
    {ENGINE_START "@5 pause\n+1 resume\n@6 note a\n", SM_OPERATOR_OUT, 0},
    {ENGINE_START "@0 repeat 1 3\n@3 note a\n", SM_OPERATOR_NEVER, 6},
    {ENGINE_START "@0 repeat 1 3\n@2.9 note a\n", SM_OPERATOR_OUT, 0},
    {ENGINE_START "@0 repeat 1 3\n+20 repeat off\n@40 note a\n", SM_OPERATOR_OUT, 0},
    {"0 call-clear\n0 arm\n@1 note a\n", SM_OPERATOR_NEVER, 3},
};

static void a_moment_never_reached_is_known(void **state) {
    (void)state;
    sm_show *show = engine_show("", NULL);
    for (size_t i = 0; i < COUNT(ends); i++) {
        engine_run run;
        engine_run_init(&run, show, NULL);
        if (engine_play(&run, ends[i].script) != ends[i].word)
            fail_msg("%s", ends[i].script);
        assert_int_equal(sm_operator_line(run.operator_), ends[i].line);
        engine_run_deinit(&run);
    }
    sm_show_destroy(show);
}

static void what_is_wrong_with_a_script_is_said_all_at_once(void **state) {
    (void)state;
    static const char script[] =
        "0 key on\nsoon arm\n-1 arm\n  1 arn\n2 seek later!\n@x safe\n# soon\n+ arm\n3\n\xC3\xA4 key up\n"
        "4 instructor arm\n5 instructor trigger 1\n";
    static const struct {
        uint32_t line, column;
        const char *begins;
    } said[] = {
        {2, 1,
         "'soon' is no moment; write seconds since launch (2.5), seconds after the line before (+3) or a "
         "moment"},
        {3, 1, "'-1' is no moment"},
        {4, 5, "no action 'arn'; did you mean arm?"},
        {5, 8, "'later!' is no moment"},
        {6, 1, "'@x' is no moment"},
        {8, 1, "'+' is no moment"},
        {9, 2, "an action is missing"},
        {10, 1, "'\xC3\xA4' is no moment"},
        {10, 3, "write key on or key off"},
        {11, 14, "an instructor does not do this; there are trigger"},
    };
    sm_show *show = engine_show("", NULL);
    sm_findings *findings = sm_findings_create();
    sm_operator *operator_ = NULL;
    assert_int_equal(sm_operator_read(show, "a/script", script, strlen(script), findings, &operator_),
                     SM_INVALID);
    assert_null(operator_);
    assert_int_equal(sm_findings_count(findings), COUNT(said));
    for (size_t i = 0; i < COUNT(said); i++) {
        const sm_finding *finding = sm_findings_at(findings, i);
        assert_string_equal(finding->file, "a/script");
        assert_int_equal(finding->line, said[i].line);
        assert_int_equal(finding->column, said[i].column);
        if (strncmp(finding->message, said[i].begins, strlen(said[i].begins)) != 0)
            fail_msg("%s, not %s", finding->message, said[i].begins);
    }
    sm_findings_destroy(findings);
    sm_show_destroy(show);
}

#define NOT_JUDGED                                                                                           \
    "0,,engine,guard,,readings,NOT CHECKED, not judged in the built-in sequence: bad slots misfire\n"

// Wall 0: call-clear, key on, arm; show 0 at arm-time plus countdown (1 s and 2 s here).
static void the_builtin_sequence(void **state) {
    (void)state;
    static const engine_file changes[] = {{"readings.csv", "rail,slot,reading\nA,1,open\n"}, {NULL, NULL}};
    sm_show *show = engine_show("0,L1,dim=1,,\n1,A-01,mine,,\n", changes);
    engine_run run;
    engine_run_init(&run, show, &(sm_rehearsal_options){.readings_not_judged = true});
    assert_int_equal(engine_play(&run, NULL), SM_OPERATOR_OUT);
    engine_expect(&run, NOT_JUDGED "0,,script,call-clear,,,\n"
                                   "0,,script,key,,on,\n"
                                   "0,,script,arm,,,\n"
                                   "0,,engine,state,,arming,safe\n"
                                   "1,,engine,state,,armed,arming\n"
                                   "1,,script,start,,,\n"
                                   "1,-2,engine,state,,running,armed\n"
                                   "3,0,engine,set,1,L1,dim=1\n"
                                   "3.8,0.8,engine,misfire,2,A-01,mine open\n"
                                   "63,60,engine,state,,ended,running\n");
    engine_run_deinit(&run);
    sm_show_destroy(show);
}

static void the_builtin_sequence_is_refused_over_bare_rails(void **state) {
    (void)state;
    sm_show *show = engine_show("1,A-01,mine,,\n", NULL);
    engine_run run;
    engine_run_init(&run, show, &(sm_rehearsal_options){.bare = true, .readings_not_judged = true});
    assert_int_equal(engine_play(&run, NULL), SM_OPERATOR_NEVER);
    engine_expect(&run,
                  NOT_JUDGED "0,,script,call-clear,,,\n0,,script,key,,on,\n0,,script,refused,,arm,rails\n");
    engine_run_deinit(&run);
    sm_show_destroy(show);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(lines_act_at_their_moments),
        cmocka_unit_test(a_moment_never_reached_is_known),
        cmocka_unit_test(what_is_wrong_with_a_script_is_said_all_at_once),
        cmocka_unit_test(the_builtin_sequence),
        cmocka_unit_test(the_builtin_sequence_is_refused_over_bare_rails),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
