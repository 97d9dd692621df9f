// SPDX-License-Identifier: GPL-3.0-or-later
#include "slowmatch/call_tones.h"

#include "session/inside.h"

#include "slowmatch/targets.h"

#include <assert.h>
#include <stdlib.h>
#include <string.h>

#define COUNT_FROM 3

bool sm_call_tones_know(const sm_show *show, const char *name) {
    sm_named named = sm_named_look(show, name);
    return strcmp(name, "pyro") == 0 || sm_named_known(&named);
}

// ---- the tones of a show -------------------------------------------------------------------

typedef struct list {
    sm_audio_call *calls;
    size_t count;
    bool failed;
} list;

static void put(list *to, sm_us show_us, sm_tone tone) {
    sm_audio_call *more = sm_array_grow(to->calls, to->count, sizeof *more);
    to->failed = to->failed || !more;
    if (!more)
        return;
    to->calls = more;
    to->calls[to->count++] = (sm_audio_call){{show_us}, tone};
}

static bool is_called(const sm_snapshot *snapshot, const sm_named *named, bool pyro, uint32_t event) {
    const sm_show *show = snapshot->show;
    const sm_event *e = &show->events[event];
    if (show->cues[e->cue].kind == SM_CUE_FIRE) {
        return (pyro || sm_named_has_firing(show, named, e->target)) &&
               !snapshot->slots[show->firings[e->target].slot].inhibited;
    }
    return !pyro && sm_named_has_fixture(show, named, e->target) && !snapshot->fixture_inhibited[e->target];
}

// Events come in order of what the module does, so what is called comes in order too.
static void put_counts(const sm_snapshot *snapshot, const char *calls, list *to) {
    static const sm_tone tones[COUNT_FROM + 1] = {SM_TONE_GO, SM_TONE_ONE, SM_TONE_TWO, SM_TONE_THREE};
    sm_named named = sm_named_look(snapshot->show, calls);
    bool pyro = strcmp(calls, "pyro") == 0;
    sm_us before = INT64_MIN;
    for (uint32_t i = 0; i < snapshot->show->event_count; i++) {
        uint32_t event = snapshot->show->order[i];
        sm_us due = sm_event_due_us(snapshot->show, event);
        if (due == before || !is_called(snapshot, &named, pyro, event))
            continue;
        for (int left = COUNT_FROM; left >= 0; left--)
            if (due - left * SM_US_PER_S > before)
                put(to, due - left * SM_US_PER_S, tones[left]);
        before = due;
    }
}

static void put_ticks(const sm_show *show, list *to) {
    for (uint32_t cue = 0; cue < show->cue_count; cue++)
        if (cue == 0 || show->cues[cue].time_us != show->cues[cue - 1].time_us)
            put(to, show->cues[cue].time_us, SM_TONE_TICK);
}

static int compare(const void *a, const void *b) {
    const sm_audio_call *left = a, *right = b;
    if (left->show.us != right->show.us)
        return left->show.us < right->show.us ? -1 : 1;
    return (int)left->tone - (int)right->tone;
}

// The same tone twice at one moment would only be louder.
static void sort(list *all) {
    if (all->count == 0)
        return;
    qsort(all->calls, all->count, sizeof *all->calls, compare);
    size_t kept = 1;
    for (size_t i = 1; i < all->count; i++)
        if (compare(&all->calls[i], &all->calls[kept - 1]) != 0)
            all->calls[kept++] = all->calls[i];
    all->count = kept;
}

sm_result sm_call_tones_make(const sm_snapshot *snapshot, const char *calls, bool ticks, sm_audio_call **out,
                             size_t *count) {
    list all = {0};
    if (snapshot->preview.on)
        put(&all, snapshot->preview.tick.us, SM_TONE_TICK);
    else if (calls[0])
        put_counts(snapshot, calls, &all);
    if (ticks && !snapshot->preview.on)
        put_ticks(snapshot->show, &all);
    if (all.failed) {
        free(all.calls);
        return SM_NO_MEMORY;
    }
    sort(&all);
    *out = all.calls;
    *count = all.count;
    return SM_OK;
}

// ---- telling the sound part ------------------------------------------------------------------

static bool is_told(const sm_call_tones *was, const sm_snapshot *now, const sm_calls_wanted *wanted) {
    return was->told && was->preview == now->preview.on && was->tick.us == now->preview.tick.us &&
           was->tones == wanted->tones && was->ticks == wanted->ticks &&
           was->lost == now->incidents.sound_lost && was->show == now->show &&
           strcmp(was->calls, wanted->calls) == 0 && was->inhibit_count == now->inhibit_count &&
           memcmp(was->inhibits, now->inhibits, now->inhibit_count * sizeof now->inhibits[0]) == 0;
}

bool sm_call_tones_follow(sm_call_tones *was, sm_session *session, const sm_snapshot *now,
                          const sm_calls_wanted *wanted) {
    assert(strlen(wanted->calls) < SM_CALLS_BYTES && now->inhibit_count <= SM_INHIBITS_MAX);
    if (!session || !session->audio || is_told(was, now, wanted))
        return true;
    bool heard = wanted->tones && !now->incidents.sound_lost;
    sm_audio_call *calls = NULL;
    size_t count = 0;
    sm_result result = SM_OK;
    if (heard)
        result = sm_call_tones_make(now, wanted->calls, wanted->ticks, &calls, &count);
    if (result == SM_OK)
        result = sm_audio_calls(session->audio, calls, count);
    free(calls);
    if (result != SM_OK)
        return false;
    *was = (sm_call_tones){.told = true,
                           .tones = wanted->tones,
                           .ticks = wanted->ticks,
                           .lost = now->incidents.sound_lost,
                           .show = now->show,
                           .preview = now->preview.on,
                           .tick = now->preview.tick,
                           .inhibit_count = now->inhibit_count};
    memcpy(was->calls, wanted->calls, strlen(wanted->calls) + 1);
    memcpy(was->inhibits, now->inhibits, sizeof was->inhibits);
    return true;
}
