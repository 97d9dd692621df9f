// SPDX-License-Identifier: GPL-3.0-or-later
#include "engine_run.h"

static void put_places(sm_text *out, const sm_snapshot *s) {
    sm_text_printf(out, "state %s since %lld", sm_state_text(s->state), (long long)s->state_since.us);
    if (s->state == SM_STATE_ARMING)
        sm_text_printf(out, " ends %lld", (long long)s->arming_ends.us);
    sm_text_printf(out, "\nshow %d %lld speed %d counting %d place %lld made safe '%s'\n", s->has_show,
                   (long long)s->at.us, s->speed_ppm, s->counting_down, (long long)s->place.us,
                   s->made_safe_at);
    sm_text_printf(out, "cursor %u next %u wait %d %lld\n", s->cursor, s->next_firing, s->wait_runs,
                   (long long)s->wait_since.us);
    sm_text_printf(out, "repeat %d", s->repeat_on);
    if (s->repeat_on)
        sm_text_printf(out, " %d %lld %lld", s->repeat_rerig, (long long)s->repeat_from.us,
                       (long long)s->repeat_to.us);
    sm_text_printf(out, "\nvolume %g muted %d\n", s->volume, s->muted);
    sm_text_printf(out, "starts %lld cancelled '%s'\n", (long long)s->starts_at.us, s->start_cancelled);
}

static void put_people(sm_text *out, const sm_snapshot *s) {
    for (int guard = 0; guard < SM_GUARD_COUNT; guard++)
        sm_text_printf(out, "guard %s %s %s\n", sm_guard_text((sm_guard)guard),
                       sm_guard_word_text(s->guards[guard].word), s->guards[guard].why);
    sm_text_printf(out, "key %d clear %d '%s' '%s' %lld\n", s->key, s->clear_called, s->clear_who,
                   s->clear_lapse, (long long)s->clear_at.us);
    sm_text_printf(out, "wind %d %g %lld\n", s->wind_known, s->wind_m_s, (long long)s->wind_at.us);
    for (uint32_t i = 0; i < s->people_count; i++)
        sm_text_printf(out, "in field %s %lld\n", s->people[i].name, (long long)s->people[i].since.us);
    for (uint32_t i = 0; i < s->mark_count; i++)
        sm_text_printf(out, "mark %s %lld\n", s->marks[i].name, (long long)s->marks[i].at.us);
    for (uint32_t i = 0; i < s->proposal_count; i++)
        sm_text_printf(out, "proposed %u %lld %d\n", s->proposals[i].cue, (long long)s->proposals[i].by_us,
                       s->proposals[i].onwards);
    if (s->preview.on)
        sm_text_printf(out, "hears %u %lld to %lld, tick %lld, since %lld\n", s->preview.cue,
                       (long long)s->preview.from.us, (long long)s->preview.to.us,
                       (long long)s->preview.tick.us, (long long)s->preview.since.us);
    for (uint32_t i = 0; i < s->inhibit_count; i++)
        sm_text_printf(out, "inhibit %s\n", s->inhibits[i]);
}

static void put_field(sm_text *out, const sm_snapshot *s) {
    sm_text_printf(out, "flying %u burning %u misfired %u passed %u\n", s->flying, s->burning_count,
                   s->misfired, s->passed);
    for (uint32_t i = 0; i < s->flying + s->burning_count; i++)
        sm_text_printf(out, "burns %u %u %lld %lld\n", s->burning[i].event, s->burning[i].slot,
                       (long long)s->burning[i].seen_at.us, (long long)s->burning[i].out_at.us);
    for (uint32_t i = 0; i < s->show->slot_count; i++) {
        const sm_slot_view *v = &s->slots[i];
        sm_text_printf(out, "slot %u phase %d reading %d %g verdict %d inhibited %d reported %d read %lld\n",
                       i, v->phase, v->reading.kind, v->reading.ohms, v->verdict, v->inhibited, v->reported,
                       (long long)v->read_at.us);
    }
    for (uint32_t i = 0; i < s->show->rail_count; i++)
        sm_text_printf(out, "rail %u %d\n", i, s->rail_plugged[i]);
    for (uint32_t i = 0; i < s->show->channel_count; i++)
        sm_text_printf(out, "level %u %u\n", i, s->levels[i]);
    for (uint32_t i = 0; i < s->show->fixture_count; i++)
        sm_text_printf(out, "fixture %u %d\n", i, s->fixture_inhibited[i]);
}

void engine_snapshot_text(sm_text *out, const sm_snapshot *snapshot) {
    put_places(out, snapshot);
    put_people(out, snapshot);
    put_field(out, snapshot);
}
