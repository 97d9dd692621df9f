// SPDX-License-Identifier: GPL-3.0-or-later
#include "engine/act_call.h"

void sm_act_log(const sm_act_call *c) {
    sm_log_action(c->r, c->action, c->source, NULL);
}

sm_result sm_act_refuse(const sm_act_call *c, const char *format, ...) {
    char why_room[SM_WORDS_ROOM] = "";
    sm_text why = SM_TEXT_IN(why_room);
    va_list args;
    va_start(args, format);
    sm_text_vprintf(&why, format, args);
    va_end(args);
    sm_copy_cut(c->r->refusal, sizeof c->r->refusal, sm_text_get(&why));
    sm_log_refused(c->r, c->action, c->source, sm_row_words(c->r, &why));
    sm_text_deinit(&why);
    return SM_REFUSED;
}
