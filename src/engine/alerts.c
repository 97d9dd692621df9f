// SPDX-License-Identifier: GPL-3.0-or-later
// The list of what stands, kept from look to look. The conditions and their words are rows of the table in alert_table.c.
#include "engine/alert_table.h"
#include "engine/rehearsal.h"

#include <assert.h>
#include <string.h>

const char *sm_alert_rank_text(sm_alert_rank rank) {
    static const char *const words[] = {
        [SM_ALERT_WARNING] = "WARNING", [SM_ALERT_CAUTION] = "CAUTION", [SM_ALERT_ADVISORY] = "ADVISORY"};
    assert(rank >= SM_ALERT_WARNING && rank <= SM_ALERT_ADVISORY);
    return words[rank];
}

static sm_alert *find(sm_alerts *alerts, sm_alert_id id) {
    for (uint32_t i = 0; i < alerts->count; i++)
        if (alerts->at[i].id == id)
            return &alerts->at[i];
    return NULL;
}

// Fills ALERT where the row of ID stands.
static bool look(sm_alert_id id, const sm_snapshot *now, const sm_alert_facts *facts, sm_alert *alert) {
    char room[2 * SM_ALERT_WORDS] = ""; // an alert needs no memory
    sm_text words = SM_TEXT_IN(room);
    uint32_t essential = 0;
    bool stands = sm_alert_row_of(id)->stands(now, facts, &words, &essential);
    if (stands) {
        *alert = (sm_alert){.id = id, .since = now->wall};
        sm_copy_cut(alert->words, sizeof alert->words, sm_text_get(&words));
        uint32_t length = (uint32_t)strlen(alert->words);
        alert->essential = essential < length ? essential : length;
    }
    sm_text_deinit(&words);
    return stands;
}

void sm_alerts_look(sm_alerts *alerts, const sm_snapshot *now, const sm_alert_facts *facts,
                    sm_alert_news news, void *context) {
    sm_alerts before = *alerts;
    alerts->count = 0;
    for (int id = 0; id < SM_ALERT_COUNT; id++) {
        sm_alert *alert = &alerts->at[alerts->count];
        const sm_alert *old = find(&before, (sm_alert_id)id);
        if (look((sm_alert_id)id, now, facts, alert)) {
            alert->since = old ? old->since : alert->since;
            alert->acknowledged = old && old->acknowledged;
            alerts->count++;
        } else if (old && news) {
            news(context, old, false);
        }
    }
    for (uint32_t i = 0; i < alerts->count && news; i++)
        if (!find(&before, alerts->at[i].id))
            news(context, &alerts->at[i], true);
}

const sm_alert *sm_alerts_find(const sm_alerts *alerts, sm_alert_id id) {
    for (uint32_t i = 0; i < alerts->count; i++)
        if (alerts->at[i].id == id)
            return &alerts->at[i];
    return NULL;
}

void sm_alerts_acknowledge(sm_alerts *alerts, sm_alert_id id) {
    sm_alert *alert = find(alerts, id);
    if (alert)
        alert->acknowledged = true;
}

sm_alert_rank sm_alerts_calls(const sm_alerts *alerts) {
    for (uint32_t i = 0; i < alerts->count; i++) // in the order of their ranks
        if (!alerts->at[i].acknowledged)
            return sm_alert_row_of(alerts->at[i].id)->rank;
    return (sm_alert_rank)0;
}
