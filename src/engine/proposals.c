// SPDX-License-Identifier: GPL-3.0-or-later
#include "engine/proposals.h"

#include <assert.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

sm_us sm_proposed_us(const sm_show *show, const sm_proposal *proposals, uint32_t count, uint32_t cue) {
    sm_us at_us = show->cues[cue].time_us;
    for (uint32_t i = 0; i < count; i++)
        if (proposals[i].cue == cue ||
            (proposals[i].onwards && show->cues[cue].time_us >= show->cues[proposals[i].cue].time_us))
            at_us += proposals[i].by_us;
    return at_us;
}

uint32_t sm_cue_find(const sm_show *show, const char *id, size_t length) {
    char buffer[12];
    for (uint32_t i = 0; i < show->cue_count; i++) {
        const char *own = sm_cue_id(show, i, buffer);
        if (strlen(own) == length && memcmp(own, id, length) == 0)
            return i;
    }
    return SM_NONE;
}

uint32_t sm_rehearsal_proposals(const sm_rehearsal *r, sm_proposal out[SM_PROPOSALS_MAX]) {
    assert(r->proposal_count <= SM_PROPOSALS_MAX);
    memcpy(out, r->proposals, r->proposal_count * sizeof *out);
    return r->proposal_count;
}

// ---- reading ------------------------------------------------------------------------------

// "+0.05 s", "-1 f", "+0.1".
static bool read_step(const sm_show *show, sm_word word, sm_us *out) {
    const char *text = word.text + 1;
    size_t length = word.length - 1;
    int32_t frames;
    const bool is_back = word.text[0] == '-';
    if (length > 1 && text[length - 1] == 'f') {
        for (length--; length > 0 && text[length - 1] == ' '; length--) {
        }
        if (sm_integer_read(text, length, &frames) != SM_OK || frames < 0)
            return false;
        *out = sm_timecode_frames_us(show->settings.timecode.rate, frames);
    } else if (sm_span_read(text, length, SM_US_PER_S, out) != SM_OK) {
        return false;
    }
    *out = is_back ? -*out : *out;
    return true;
}

bool sm_propose_read(const sm_show *show, sm_word word, sm_action *out) {
    static const char on[] = " on";
    const size_t tail = sizeof on - 1;
    if (word.length > tail && memcmp(word.text + word.length - tail, on, tail) == 0) {
        out->onwards = true;
        for (word.length -= tail; word.length > 0 && word.text[word.length - 1] == ' '; word.length--) {
        }
    }
    out->beat = sm_word_is(word, "beat");
    if (out->beat)
        return true;
    if (word.length > 1 && (word.text[0] == '+' || word.text[0] == '-'))
        return read_step(show, word, &out->end_us);
    return sm_moment_read(word.text, word.length, &show->settings.timecode, &out->moment_us) == SM_OK;
}

uint32_t sm_nearest_beat(const sm_rehearsal *r, sm_us at_us, uint32_t other) {
    static const char beat[] = "beat-"; // a mark that was tapped: beat-3
    uint32_t nearest = SM_NONE;
    for (uint32_t i = 0; i < r->mark_count; i++) {
        const bool nearer =
            nearest == SM_NONE || llabs(r->marks[i].at.us - at_us) < llabs(r->marks[nearest].at.us - at_us);
        if (i != other && nearer && strncmp(r->marks[i].name, beat, sizeof beat - 1) == 0)
            nearest = i;
    }
    return nearest;
}

static sm_us beat_us(const sm_rehearsal *r, sm_us at_us) {
    const uint32_t beat = sm_nearest_beat(r, at_us, SM_NONE);
    return beat == SM_NONE ? SM_UNSET_US : r->marks[beat].at.us;
}

// ---- acting ---------------------------------------------------------------------------------

bool sm_propose(sm_rehearsal *r, const sm_action *action, char why[160]) {
    char length[24];
    const sm_us at_us = sm_proposed_us(r->show, r->proposals, r->proposal_count, action->index);
    const sm_us to_us = action->beat                       ? beat_us(r, at_us)
                        : action->moment_us != SM_UNSET_US ? action->moment_us
                                                           : at_us + action->end_us;
    if (r->apply_asked)
        snprintf(why, 160, "what is proposed is being written");
    else if (to_us == SM_UNSET_US)
        snprintf(why, 160, "no beat was tapped: mark beat-1 (B taps) marks one");
    else if (to_us == at_us)
        snprintf(why, 160, "cue %.40s is there already", action->target);
    else if (to_us < 0 || to_us > r->show->length_us)
        snprintf(why, 160, "that is outside the show: 0 to %s", sm_clock_format(length, r->show->length_us));
    else if (r->proposal_count == SM_PROPOSALS_MAX)
        snprintf(why, 160, "%d proposals are the most: apply them, or undo", SM_PROPOSALS_MAX);
    else {
        r->proposals[r->proposal_count++] = (sm_proposal){action->index, to_us - at_us, action->onwards};
        sm_undo_remember(r, (sm_undo){.act = SM_ACT_PROPOSE});
        return true;
    }
    return false;
}

bool sm_apply_ask(sm_rehearsal *r, sm_source source, char why[160]) {
    char slot[48];
    if (r->key)
        snprintf(why, 160, "the key is on: tables are written in safe with the key off");
    else if (r->reload_asked)
        snprintf(why, 160, "the folder is being read: try again");
    else if (r->proposal_count == 0)
        snprintf(why, 160, "nothing is proposed");
    else if (r->burning_count > 0)
        snprintf(why, 160, "%s still burns: apply when it is out",
                 sm_slot_format(r->show, r->burning[0].slot, slot));
    else {
        r->reload_asked = r->apply_asked = true;
        r->reload_source = source;
        return true;
    }
    return false;
}

void sm_proposals_carry(sm_rehearsal *r, const sm_show *old) {
    uint32_t kept = 0;
    assert(r->undo_count == 0); // what was to be taken back was of the old show
    for (uint32_t i = 0; i < r->proposal_count && !r->apply_asked; i++) {
        char buffer[12];
        sm_proposal proposal = r->proposals[i];
        const char *id = sm_cue_id(old, proposal.cue, buffer);
        proposal.cue = sm_cue_find(r->show, id, strlen(id));
        if (proposal.cue == SM_NONE)
            continue;
        r->proposals[kept++] = proposal;
        sm_undo_remember(r, (sm_undo){.act = SM_ACT_PROPOSE});
    }
    r->proposal_count = kept;
}
