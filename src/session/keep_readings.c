// SPDX-License-Identifier: GPL-3.0-or-later
// Readings that people entered by hand are added to the file that the show's readings come from, by the one writer of tables: what
// stands there stays, and the file before is kept aside. What was only measured in the simulated field never gets there.
#include "session/inside.h"

#include "slowmatch/tables.h"

#include <assert.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

static void put_when(sm_unix_us at, char when[24]) {
    time_t seconds = (time_t)(at / SM_US_PER_S);
    struct tm tm;
    when[0] = '\0';
    if (gmtime_r(&seconds, &tm))
        strftime(when, 24, "%Y-%m-%dT%H:%M:%SZ", &tm);
}

static void put_row(const sm_snapshot *now, uint32_t slot, sm_unix_us launched, const char *who,
                    sm_reading_row *row) {
    const sm_rail *rail = &now->show->rails[now->show->slot_rails[slot]];
    const sm_slot_view *view = &now->slots[slot];
    assert(slot >= rail->slot_base && slot - rail->slot_base < (uint32_t)rail->slots);
    snprintf(row->rail, sizeof row->rail, "%s", rail->name);
    snprintf(row->slot, sizeof row->slot, "%u", slot - rail->slot_base + 1);
    if (view->reading.kind == SM_READ_OHMS)
        snprintf(row->reading, sizeof row->reading, "%.6g", view->reading.ohms);
    else
        sm_read_value_format(row->reading, view->reading);
    put_when(launched + view->read_at.us, row->when);
    snprintf(row->by, sizeof row->by, "%s", who);
}

sm_result sm_session_ask_to_keep(sm_session *session, const char *who) {
    sm_snapshot *now = NULL;
    sm_reading_row *rows = calloc(session->show->slot_count + 1u, sizeof *rows);
    if (!rows || sm_snapshot_create(session->show, &now) != SM_OK) {
        free(rows);
        return SM_NO_MEMORY;
    }
    size_t count = 0;
    sm_unix_us launched = sm_unix_now_us() - sm_session_clock(session).us;
    sm_rehearsal_snapshot(session->rehearsal, session->now, now);
    for (uint32_t slot = 0; slot < session->show->slot_count; slot++)
        if (now->slots[slot].by_hand && now->slots[slot].read_at.us > session->kept_until.us)
            put_row(now, slot, launched, who, &rows[count++]);
    sm_snapshot_destroy(now);
    free(session->keep_rows);
    session->keep_rows = rows;
    session->keep_count = count;
    return SM_OK;
}

void sm_session_write_readings(sm_job *job) {
    static const char *const columns[] = {"rail", "slot", "reading", "when", "by"};
    const size_t each = sizeof columns / sizeof columns[0];
    char *backups = sm_table_backups_path();
    const char **cells = calloc(job->row_count * each + 1, sizeof *cells);
    assert(job->kind == SM_JOB_KEEP);
    job->result = SM_NO_MEMORY;
    for (size_t i = 0; i < job->row_count && cells; i++) {
        const sm_reading_row *row = &job->rows[i];
        const char *const texts[] = {row->rail, row->slot, row->reading, row->when, row->by};
        memcpy(&cells[i * each], texts, sizeof texts);
    }
    const sm_table_edit edit = {.columns = columns,
                                .column_count = each,
                                .cells = cells,
                                .row_count = job->row_count,
                                .free_text = "by"};
    if (cells && backups && job->path)
        job->result = job->row_count > 0 ? sm_table_change(job->path, &edit, backups, &job->said) : SM_OK;
    free(cells);
    free(backups);
}

void sm_session_tell_kept(sm_session *session, const sm_job *job) {
    if (job->result != SM_OK) {
        sm_session_tell(session, SM_OUTCOME_WRONG, "no reading was kept: %s",
                        job->said.length > 0 ? sm_text_get(&job->said) : sm_result_text(job->result));
        return;
    }
    session->kept_until = job->kept_at;
    if (job->row_count == 0)
        sm_session_tell(session, SM_OUTCOME_TOLD, "no reading was entered by hand since the latest keeping");
    else
        sm_session_tell(session, SM_OUTCOME_TOLD, "%zu reading%s added to %s", job->row_count,
                        job->row_count == 1 ? "" : "s", job->path);
}
