// SPDX-License-Identifier: GPL-3.0-or-later
// How a walk stands: what is open and why, what is listed, which names stand. It never says more than what is recorded.

#include "slowmatch/walk.h"

#include <ctype.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

// Of each kind of reason, no more than this are listed one by one.
#define LISTED_MAX 40

typedef struct judge {
    sm_walk *walk;
    const sm_walk_past *past;
    const sm_walk_facts *facts;
    size_t reason_room, note_room;
    bool no_memory;
} judge;

static const char *say(judge *j, const char *format, ...) SM_PRINTF(2, 3);
static const char *say(judge *j, const char *format, ...) {
    sm_text text = {0};
    va_list args;
    va_start(args, format);
    sm_text_vprintf(&text, format, args);
    va_end(args);
    const char *kept = text.failed ? NULL : sm_arena_text(j->walk->arena, sm_text_get(&text), text.length);
    sm_text_deinit(&text);
    j->no_memory = j->no_memory || !kept;
    return kept ? kept : "";
}

static void put(judge *j, const char ***list, size_t *count, size_t *room, const char *text) {
    if (*count == *room) {
        size_t grown_room = *room > 0 ? *room * 2 : 16;
        const char **grown = sm_arena_resize(j->walk->arena, *list, grown_room * sizeof *grown);
        if (!grown) {
            j->no_memory = true;
            return;
        }
        *list = grown;
        *room = grown_room;
    }
    (*list)[(*count)++] = text;
}

static void reason(judge *j, const char *text) {
    put(j, &j->walk->reasons, &j->walk->reason_count, &j->reason_room, text);
}

static void note(judge *j, const char *text) {
    put(j, &j->walk->notes, &j->walk->note_count, &j->note_room, text);
}

// ---- names -----------------------------------------------------------------------------

// Takes two names out of BY: "K and M", "K, M", "K + M".
static void two_names(judge *j, const char *by, const char **first, const char **last) {
    static const char *const between[] = {" and ", ",", "+", "&", ";"};
    *first = *last = "";
    for (size_t i = 0; i < sizeof between / sizeof between[0]; i++) {
        const char *at = strcasestr(by, between[i]);
        if (!at)
            continue;
        size_t length = (size_t)(at - by);
        const char *second = at + strlen(between[i]);
        while (length > 0 && isspace((unsigned char)by[length - 1]))
            length--;
        second += strspn(second, " \t");
        *first = say(j, "%.*s", (int)length, by);
        *last = say(j, "%s", second);
        return;
    }
}

// ---- items --------------------------------------------------------------------------------

static const char *why_measured(judge *j, const sm_walk_item *item, const sm_walk_tick *tick) {
    double value;
    if (!item->measured)
        return NULL;
    if (sm_measure_read(item->quantity, tick->value, strlen(tick->value), &value) != SM_OK)
        return "no measured value";
    const char *unit = item->quantity == SM_QUANTITY_LENGTH ? "m" : sm_quantity_units(item->quantity);
    if (isfinite(item->least) && value < item->least)
        return say(j, "measured %g %s, less than the %.1f %s used", value, unit, item->least, unit);
    return NULL;
}

static const char *why_na(judge *j, const sm_walk_item *item, sm_walk_standing *standing) {
    if (!item->hold)
        return NULL;
    two_names(j, standing->tick.by, &standing->first, &standing->last);
    if (standing->tick.note[0] == '\0')
        return "na on a hold needs a reason";
    if (standing->first[0] == '\0' || standing->last[0] == '\0' ||
        sm_person_same(standing->first, standing->last))
        return "na on a hold needs two different names";
    return NULL;
}

// A plain yes says nothing of slots that nobody has read; one with a note says how it is known.
static const char *why_unread(judge *j, const sm_walk_item *item, const sm_walk_tick *tick) {
    const sm_show *show = j->walk->list->show;
    const sm_verdict *verdicts = j->facts->verdicts ? j->facts->verdicts : j->walk->list->verdicts;
    if (item->kind != SM_WALK_READINGS || tick->note[0] != '\0')
        return NULL;
    const sm_rail *rail = &show->rails[item->index];
    unsigned programmed = 0, unread = 0;
    for (uint32_t slot = rail->slot_base; slot < rail->slot_base + (uint32_t)rail->slots; slot++) {
        bool fires = show->slot_firings[slot] != SM_NONE;
        programmed += fires;
        unread += fires && (verdicts[slot] == SM_VERDICT_UNREAD || verdicts[slot] == SM_VERDICT_UNPLUGGED);
    }
    return unread > 0 ? say(j, "yes, and %u of %u slots not read: measure them, or note how it is known",
                            unread, programmed)
                      : NULL;
}

// The repair at a slot of the rail whose readings ITEM is about, after WHEN_US; NULL: none.
static const char *repair_since(const judge *j, const sm_walk_item *item, sm_unix_us when_us) {
    const sm_show *show = j->walk->list->show;
    const size_t tail = strlen(SM_WALK_REPAIRED);
    for (size_t i = 0; item->kind == SM_WALK_READINGS && i < j->past->change_count; i++) {
        const sm_walk_change *change = &j->past->changes[i];
        const size_t length = strlen(change->what);
        uint32_t slot;
        if (change->when_us > when_us && length > tail &&
            strcmp(change->what + length - tail, SM_WALK_REPAIRED) == 0 &&
            sm_slot_find(show, change->what, length - tail, &slot) == SM_OK &&
            show->slot_rails[slot] == item->index)
            return change->what;
    }
    return NULL;
}

// Why ITEM is open; NULL where it is not.
static const char *why_open(judge *j, const sm_walk_item *item, sm_walk_standing *standing) {
    const sm_walk_tick *tick = &standing->tick;
    if (tick->answer == SM_WALK_UNANSWERED)
        return "not answered";
    const char *repair = repair_since(j, item, tick->when_us);
    if (repair)
        return say(j, "%s since it was answered: read the rail again", repair);
    if (standing->changed)
        return "changed since it was answered";
    if (tick->answer == SM_WALK_LATER)
        return "left for later";
    if (tick->answer == SM_WALK_NA)
        return why_na(j, item, standing);
    bool expects_no = strcmp(item->expect, "no") == 0;
    if ((tick->answer == SM_WALK_NO) != expects_no)
        return say(j, "answered %s", sm_walk_answer_text(tick->answer));
    const char *unread = why_unread(j, item, tick);
    return unread ? unread : why_measured(j, item, tick);
}

// A slot of the rail that ITEM is about was read after WHEN_US.
static bool read_since(const judge *j, const sm_walk_item *item, sm_unix_us when_us) {
    if (item->kind != SM_WALK_READINGS || !j->facts->read_us)
        return false;
    const sm_rail *rail = &j->walk->list->show->rails[item->index];
    for (uint32_t slot = rail->slot_base; slot < rail->slot_base + (uint32_t)rail->slots; slot++)
        if (j->facts->read_us[slot] != SM_UNSET_US && j->facts->read_us[slot] > when_us)
            return true;
    return false;
}

static void take_ticks(judge *j) {
    const sm_walk_list *list = j->walk->list;
    for (size_t i = 0; i < j->past->tick_count; i++) {
        const sm_walk_tick *tick = &j->past->ticks[i];
        uint32_t item = sm_walk_item_find(list, tick->item);
        if (item == SM_NONE)
            continue;
        j->walk->standings[item].tick = *tick;
        j->walk->standings[item].changed =
            (tick->hash.hex[0] != '\0' && !sm_walk_hash_equal(&tick->hash, &list->items[item].hash)) ||
            read_since(j, &list->items[item], tick->when_us) ||
            repair_since(j, &list->items[item], tick->when_us) != NULL;
    }
}

static void judge_items(judge *j) {
    const sm_walk_list *list = j->walk->list;
    for (uint32_t i = 0; i < list->count; i++) {
        sm_walk_standing *standing = &j->walk->standings[i];
        const sm_walk_item *item = &list->items[i];
        standing->first = standing->last = "";
        standing->why = why_open(j, item, standing);
        standing->open = standing->why != NULL;
        if (standing->open && item->hold)
            reason(j, say(j, "%s: %s", item->id, standing->why));
    }
    for (uint32_t i = 0; i < list->count; i++) {
        const sm_walk_standing *standing = &j->walk->standings[i];
        const sm_walk_item *item = &list->items[i];
        if (standing->open && !item->hold)
            note(j, say(j, "%s: %s (no hold)", item->id, standing->why));
        else if (standing->tick.answer == SM_WALK_NA && item->hold && !standing->open)
            note(j, say(j, "%s: not applicable, by %s and %s: %s", item->id, standing->first, standing->last,
                        standing->tick.note));
    }
}

// ---- readings ---------------------------------------------------------------------------------

static bool names_slot(const char *text, const char *slot) {
    size_t length = strlen(slot);
    for (const char *at = text; (at = strstr(at, slot)); at += length)
        if ((at == text || !isalnum((unsigned char)at[-1])) && !isalnum((unsigned char)at[length]))
            return true;
    return false;
}

static bool is_waived(const judge *j, const char *slot) {
    for (size_t i = 0; i < j->facts->waiver_count; i++)
        if (names_slot(j->facts->waivers[i], slot))
            return true;
    return false;
}

static void judge_readings(judge *j) {
    const sm_walk_list *list = j->walk->list;
    const sm_verdict *verdicts = j->facts->verdicts ? j->facts->verdicts : list->verdicts;
    unsigned unread = 0, listed = 0, more = 0;
    for (uint32_t slot = 0; slot < list->show->slot_count; slot++) {
        char name[48];
        if (list->show->slot_firings[slot] == SM_NONE)
            continue;
        unread += verdicts[slot] == SM_VERDICT_UNREAD;
        sm_slot_format(list->show, slot, name);
        if (!sm_verdict_refuses(verdicts[slot]) || is_waived(j, name))
            continue;
        if (listed++ < LISTED_MAX)
            reason(j, say(j, "reading %s: %s", name, sm_verdict_text(verdicts[slot])));
        else
            more++;
    }
    if (more > 0)
        reason(j, say(j, "readings: %u more slots", more));
    if (unread > 0)
        note(j, say(j, "%u programmed slots were not read", unread));
}

// ---- check, waivers, weather --------------------------------------------------------------------

static void judge_check(judge *j) {
    const sm_findings *findings = j->facts->findings;
    size_t listed = 0, errors = findings ? sm_findings_count_of(findings, SM_ERROR) : 0;
    if (!findings)
        note(j, "the show was not checked here");
    for (size_t i = 0; findings && i < sm_findings_count(findings) && listed < LISTED_MAX; i++) {
        const sm_finding *finding = sm_findings_at(findings, i);
        if (finding->severity != SM_ERROR)
            continue;
        sm_text text = {0};
        sm_finding_format(&text, NULL, finding);
        reason(j, say(j, "check: %s", sm_text_get(&text)));
        sm_text_deinit(&text);
        listed++;
    }
    if (errors > listed)
        reason(j, say(j, "check: %zu more errors", errors - listed));
}

static bool wind_is_over(const judge *j) {
    return j->facts->wind_known && j->facts->wind_m_s > j->walk->list->show->settings.wind_limit_m_s;
}

static void judge_weather(judge *j) {
    double limit = j->walk->list->show->settings.wind_limit_m_s;
    if (wind_is_over(j))
        reason(j, say(j, "wind %.1f m/s, over the limit of %.1f m/s", j->facts->wind_m_s, limit));
    if (j->facts->storm)
        reason(j, "storm");
    if (isnan(limit))
        note(j, "wind limit NOT SET");
    else if (!j->facts->wind_known)
        note(j, "wind not measured");
}

static void list_waivers(judge *j) {
    for (size_t i = 0; i < j->facts->waiver_count; i++)
        note(j, say(j, "waived, recorded and not approved: %s", j->facts->waivers[i]));
}

// ---- signatures -------------------------------------------------------------------------------------

static const char *void_by_change(judge *j, const sm_walk_sign *sign) {
    for (size_t i = 0; i < j->past->change_count; i++) {
        char when[24];
        const sm_walk_change *change = &j->past->changes[i];
        if (change->when_us > sign->when_us)
            return say(j, "%s at %s", change->what, sm_walk_when_format(when, change->when_us));
    }
    return NULL;
}

static const char *void_by(judge *j, const sm_walk_sign *sign) {
    const sm_walk_list *list = j->walk->list;
    if (sign->void_by)
        return sign->void_by;
    if (sign->when_us > j->facts->now_us)
        return "dated later than now";
    if (j->facts->now_us - sign->when_us >= SM_WALK_SIGN_LASTS_US)
        return "4 h have passed";
    if (list->content.hex[0] != '\0' && !sm_walk_hash_equal(&sign->content, &list->content))
        return "the show changed";
    const char *change = void_by_change(j, sign);
    if (change)
        return change;
    if (!sm_walk_hash_equal(&sign->items, &list->hash))
        return "an item or a reading changed";
    if (wind_is_over(j))
        return "wind over the limit";
    if (j->facts->storm)
        return "storm";
    return j->walk->reason_count > 0 ? "a reason for NO-GO stands" : NULL;
}

static bool counted_before(const sm_walk *walk, size_t index) {
    for (size_t i = 0; i < index; i++)
        if (!walk->names[i].void_by && sm_person_same(walk->names[i].sign.who, walk->names[index].sign.who))
            return true;
    return false;
}

static void judge_names(judge *j) {
    sm_walk *walk = j->walk;
    size_t count = j->past->sign_count;
    walk->names = sm_arena_alloc(walk->arena, count * sizeof *walk->names);
    if (!walk->names) {
        j->no_memory = true;
        return;
    }
    for (size_t i = 0; i < count; i++) {
        sm_walk_name *name = &walk->names[i];
        *name = (sm_walk_name){j->past->signs[i], void_by(j, &j->past->signs[i]), false};
        name->waits = !name->void_by && walk->list->content.hex[0] == '\0';
        walk->name_count = i + 1;
        walk->signed_by += !name->void_by && !name->waits && !counted_before(walk, i);
    }
}

// ---- all of it ------------------------------------------------------------------------------------------

static void judge_all(judge *j) {
    take_ticks(j);
    judge_items(j);
    judge_readings(j);
    judge_check(j);
    judge_weather(j);
    list_waivers(j);
    judge_names(j);
}

sm_result sm_walk_create(const sm_walk_list *list, const sm_walk_past *past, const sm_walk_facts *facts,
                         sm_walk **out) {
    sm_walk *walk = calloc(1, sizeof *walk);
    if (!walk)
        return SM_NO_MEMORY;
    walk->list = list;
    walk->arena = sm_arena_create();
    if (walk->arena)
        walk->standings = sm_arena_alloc(walk->arena, list->count * sizeof *walk->standings);
    judge j = {.walk = walk, .past = past, .facts = facts, .no_memory = !walk->standings};
    if (!j.no_memory)
        judge_all(&j);
    if (j.no_memory) {
        sm_walk_destroy(walk);
        return SM_NO_MEMORY;
    }
    *out = walk;
    return SM_OK;
}

void sm_walk_destroy(sm_walk *walk) {
    if (!walk)
        return;
    sm_arena_destroy(walk->arena);
    free(walk);
}
