// SPDX-License-Identifier: GPL-3.0-or-later
#include "logbook/keeper.h"

#include "logbook/in_use.h"
#include "logbook/merge.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

static bool has_spilled(const sm_keeper *keeper) {
    return keeper->spill.path || keeper->spill.left || keeper->held.length > 0;
}

static void note_problem(sm_keeper *keeper, const char *spill_why) {
    const char *where = keeper->lost ? "; memory for it ran out, what came last is lost"
                        : spill_why  ? "; held in memory, the spill file cannot be written either: "
                                     : "; kept aside in ";
    const char *what = keeper->lost ? "" : spill_why ? spill_why : keeper->spill.path;
    snprintf(keeper->problem, sizeof keeper->problem, "%.80s: %.120s%s%.130s", keeper->path,
             keeper->store.why, where, what);
}

static void open_logbook(sm_keeper *keeper, int64_t now_us) {
    keeper->open = sm_store_open(&keeper->store, keeper->path, true) == SM_OK;
    keeper->retry_us = now_us + SM_KEEPER_RETRY_US;
}

// Tried again with each batch: a prune may have been at it.
static void mark_in_use(sm_keeper *keeper) {
    bool busy;
    if (keeper->open && keeper->in_use < 0)
        keeper->in_use = sm_in_use_lock(&keeper->store, SM_IN_USE_AMONG_OTHERS, &busy);
}

sm_result sm_keeper_init(sm_keeper *keeper, const char *path, int64_t now_us) {
    *keeper = (sm_keeper){.path = strdup(path), .in_use = -1};
    if (!keeper->path)
        return SM_NO_MEMORY;
    open_logbook(keeper, now_us);
    mark_in_use(keeper);
    if (!keeper->open)
        snprintf(keeper->problem, sizeof keeper->problem, "%.120s: %.250s", path, keeper->store.why);
    // What cannot be taken in stays where it is for another time.
    char why[SM_STORE_WHY];
    return keeper->open && sm_spills_take(keeper->path, why) == SM_NO_MEMORY ? SM_NO_MEMORY : SM_OK;
}

// Puts aside what the logbook did not take.
static void put_aside(sm_keeper *keeper, const char *bytes, size_t length) {
    if (length > SM_KEEPER_MEMORY - keeper->held.length)
        keeper->lost = true;
    else
        sm_text_append(&keeper->held, bytes, length);
    if (keeper->held.failed) {
        keeper->held.failed = false;
        keeper->lost = true;
    }
    bool spilled = sm_spill_write(&keeper->spill, keeper->path, &keeper->begun, sm_text_get(&keeper->held),
                                  keeper->held.length);
    if (spilled)
        sm_text_clear(&keeper->held);
    note_problem(keeper, spilled ? NULL : keeper->spill.store.why);
}

// Puts into the logbook what was put aside, oldest first.
static bool catch_up(sm_keeper *keeper) {
    if (keeper->spill.path) {
        if (sm_merge(&keeper->spill.store, 0, keeper->path, NULL) != SM_OK) {
            memcpy(keeper->store.why, keeper->spill.store.why, sizeof keeper->store.why);
            return false;
        }
        sm_spill_end(&keeper->spill, true);
        keeper->spill.next_folder = 0;
    }
    if (keeper->spill.left && sm_spills_take(keeper->path, keeper->store.why) != SM_OK)
        return false;
    keeper->spill.left = false;
    if (keeper->held.length > 0) {
        if (sm_store_put(&keeper->store, keeper->held.bytes, keeper->held.length, true) != SM_OK)
            return false;
        sm_text_clear(&keeper->held);
    }
    if (!keeper->lost)
        keeper->problem[0] = '\0';
    return true;
}

static void close_after_failure(sm_keeper *keeper, int64_t now_us) {
    sm_store_close(&keeper->store);
    keeper->open = false;
    keeper->retry_us = now_us + SM_KEEPER_RETRY_US;
}

static bool ready(sm_keeper *keeper, int64_t now_us) {
    if (!keeper->open && now_us >= keeper->retry_us)
        open_logbook(keeper, now_us);
    if (keeper->open && !catch_up(keeper))
        close_after_failure(keeper, now_us);
    return keeper->open;
}

// Where memory for it runs out a spill cannot begin: what comes then is held.
static void remember_begun(sm_keeper *keeper, const char *bytes, size_t length) {
    sm_entry entry;
    for (const char *at = bytes, *end = bytes + length; sm_entry_next(&at, end, &entry);)
        if (entry.kind == SM_ENTRY_LOAD || entry.kind == SM_ENTRY_MEMBER || entry.kind == SM_ENTRY_REHEARSAL)
            sm_entry_put(&keeper->begun, entry.kind, entry.values, sm_entry_values(entry.kind));
}

void sm_keeper_take(sm_keeper *keeper, const char *bytes, size_t length, bool durable, int64_t now_us) {
    remember_begun(keeper, bytes, length);
    if (ready(keeper, now_us)) {
        mark_in_use(keeper);
        if (sm_store_put(&keeper->store, bytes, length, durable) == SM_OK)
            return;
        close_after_failure(keeper, now_us);
    }
    put_aside(keeper, bytes, length);
}

bool sm_keeper_finish(sm_keeper *keeper) {
    if (has_spilled(keeper))
        ready(keeper, keeper->retry_us);
    return !has_spilled(keeper) && !keeper->lost;
}

void sm_keeper_deinit(sm_keeper *keeper) {
    sm_store_close(&keeper->store);
    sm_spill_end(&keeper->spill, false);
    sm_text_deinit(&keeper->begun);
    sm_text_deinit(&keeper->held);
    if (keeper->in_use >= 0)
        close(keeper->in_use);
    keeper->in_use = -1;
    free(keeper->path);
    keeper->path = NULL;
}
