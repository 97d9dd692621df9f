// SPDX-License-Identifier: GPL-3.0-or-later
#include "tell/mirror.h"

#include "slowmatch/show.h"

#include <assert.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

static void free_coming(mirror *own) {
    sm_snapshot_destroy(own->coming_now);
    sm_snapshot_destroy(own->coming_spare);
    sm_show_destroy(own->coming);
    own->coming = NULL;
    own->coming_now = own->coming_spare = NULL;
}

static void free_current(mirror *own) {
    sm_snapshot_destroy(own->now);
    sm_snapshot_destroy(own->spare);
    sm_show_destroy(own->show);
}

void mirror_deinit(mirror *own) {
    free_coming(own);
    free_current(own);
    free(own->show_rest);
}

bool mirror_is_behind(const mirror *own) {
    return !own->has_state || own->seen > own->seq || own->told_show > own->show_number;
}

bool mirror_lacks_show(const mirror *own) {
    const int32_t known = own->coming ? own->coming_number : own->show_number;
    return known == 0 || own->told_show > known;
}

void mirror_take_beat(mirror *own, const tell_beat_message *beat) {
    own->told_show = beat->show;
    if (beat->seq > own->seen)
        own->seen = beat->seq;
    if (own->show && beat->show == own->show_number)
        sm_show_set_audio_end(own->show, beat->length_us);
}

// ---- the show ---------------------------------------------------------------------------------
// Read by the one reader of shows, from a folder that exists for that long.

static bool is_table(const char *name) {
    size_t count;
    const sm_table_schema *tables = sm_show_schema(&count);
    for (size_t i = 0; i < count; i++)
        if (strcmp(tables[i].file, name) == 0)
            return true;
    return false;
}

static bool write_file(const char *folder, const tell_file *file) {
    char path[128];
    snprintf(path, sizeof path, "%s/%s", folder, file->name);
    FILE *out = is_table(file->name) ? fopen(path, "wx") : NULL;
    bool written = out && fputs(file->text, out) >= 0;
    return (out && fclose(out) == 0) && written;
}

static void remove_files(const char *folder, const tell_show_message *message) {
    for (uint32_t i = 0; i < message->file_count; i++) {
        char path[128];
        snprintf(path, sizeof path, "%s/%s", folder, message->files[i].name);
        if (is_table(message->files[i].name))
            unlink(path);
    }
    rmdir(folder);
}

static sm_show *load(const tell_show_message *message) {
    const char *passing = getenv("TMPDIR");
    char folder[64];
    sm_show *show = NULL;
    sm_findings *findings = sm_findings_create();
    snprintf(folder, sizeof folder, "%s/slowmatch-follow-XXXXXX",
             passing && passing[0] == '/' && strlen(passing) < 32 ? passing : "/tmp");
    bool whole = findings && mkdtemp(folder);
    if (!whole) {
        sm_findings_destroy(findings);
        return NULL;
    }
    for (uint32_t i = 0; i < message->file_count; i++)
        whole = whole && write_file(folder, &message->files[i]);
    if (whole && sm_show_load(folder, &(sm_show_load_options){0}, findings, &show) == SM_OK)
        sm_show_set_audio_end(show, message->length_us);
    remove_files(folder, message);
    sm_findings_destroy(findings);
    return show;
}

static bool is_the_same(const sm_show *show, const tell_show_message *message) {
    return show->slot_count == (uint32_t)message->slots &&
           show->channel_count == (uint32_t)message->channels && show->cue_count == (uint32_t)message->cues &&
           show->event_count == (uint32_t)message->events;
}

// Returns false where the message cannot be used.
static bool put_show(mirror *own, const tell_show_message *message) {
    sm_snapshot *now = NULL, *spare = NULL;
    sm_show *show = load(message);
    if (!show || !is_the_same(show, message) || sm_snapshot_create(show, &now) != SM_OK ||
        sm_snapshot_create(show, &spare) != SM_OK) {
        sm_snapshot_destroy(now);
        sm_show_destroy(show);
        return false;
    }
    free_coming(own);
    own->coming = show;
    own->coming_number = message->show;
    own->coming_now = now;
    own->coming_spare = spare;
    return true;
}

// Where the rest of "{"mono_us":N,..." begins, N in *MONO_US; LENGTH: it is written in another way.
static size_t skip_mono(const char *bytes, size_t length, int64_t *mono_us) {
    static const char head[] = "{\"mono_us\":";
    size_t at = sizeof head - 1;
    *mono_us = 0;
    if (length <= at || memcmp(bytes, head, at) != 0)
        return length;
    for (; at < length && bytes[at] >= '0' && bytes[at] <= '9' && *mono_us < TELL_MONO_MAX / 10; at++)
        *mono_us = *mono_us * 10 + (bytes[at] - '0');
    return at < length && bytes[at] == ',' ? at : length;
}

// A show is told again and again for those who come late. One that is known to the letter is not read again: it may be large.
static bool is_same_show(mirror *own, const char *bytes, size_t length) {
    int64_t mono_us;
    size_t at = skip_mono(bytes, length, &mono_us);
    bool same = own->show_rest && length - at == own->show_rest_length &&
                memcmp(bytes + at, own->show_rest, length - at) == 0;
    if (same && mono_us > own->show_mono_us)
        own->show_mono_us = mono_us;
    return same;
}

static void keep_rest(mirror *own, const char *bytes, size_t length) {
    int64_t mono_us;
    size_t at = skip_mono(bytes, length, &mono_us);
    free(own->show_rest);
    own->show_rest = at < length ? malloc(length - at) : NULL; // without memory it is read again
    own->show_rest_length = length - at;
    if (own->show_rest)
        memcpy(own->show_rest, bytes + at, length - at);
}

static bool take_show(mirror *own, const void *bytes, size_t length) {
    if (is_same_show(own, bytes, length))
        return true;
    tell_show_message *message = calloc(1, sizeof *message);
    tell_document *document = message ? tell_read(TELL_SHOW, bytes, length, NULL, message) : NULL;
    bool good = document != NULL;
    if (good && message->mono_us > own->show_mono_us) {
        sm_show *known = own->coming && message->show == own->coming_number ? own->coming
                         : message->show == own->show_number                ? own->show
                                                                            : NULL;
        if (known)
            sm_show_set_audio_end(known, message->length_us);
        else
            good = message->show > own->show_number && put_show(own, message);
        own->day.launch_us = good ? message->launch_us : own->day.launch_us;
        own->show_mono_us = good ? message->mono_us : own->show_mono_us;
        if (good)
            keep_rest(own, bytes, length);
    }
    tell_document_free(document);
    free(message);
    return good;
}

// ---- the state and the events ---------------------------------------------------------------------

static void swap(mirror *own) {
    sm_snapshot *now = own->spare;
    own->spare = own->now;
    own->now = now;
}

static void put_state_numbers(mirror *own, const tell_state_message *message) {
    own->has_state = true;
    own->state_mono_us = message->mono_us;
    own->seq = message->seq;
    own->seen = own->seen > own->seq ? own->seen : own->seq;
}

// The first state of a show that was told: from now on it is the one.
static bool take_first_state(mirror *own, const void *bytes, size_t length) {
    const tell_sizes sizes = tell_sizes_of(own->coming);
    tell_state_message message = {.now = own->coming_now};
    tell_document *document = tell_read(TELL_STATE, bytes, length, &sizes, &message);
    bool good = document && message.show == own->coming_number && tell_snapshot_is_sound(own->coming_now);
    tell_document_free(document);
    if (!good)
        return false;
    free_current(own);
    own->show = own->coming;
    own->show_number = own->coming_number;
    own->now = own->coming_now;
    own->spare = own->coming_spare;
    own->sizes = sizes;
    own->coming = NULL;
    own->coming_now = own->coming_spare = NULL;
    put_state_numbers(own, &message);
    return true;
}

static bool take_state(mirror *own, const void *bytes, size_t length) {
    tell_state_message message = {.now = own->spare};
    tell_document *document = tell_read(TELL_STATE, bytes, length, &own->sizes, &message);
    bool good = document && message.show == own->show_number && tell_snapshot_is_sound(own->spare);
    bool older = good && own->has_state && (message.seq < own->seq || message.mono_us < own->state_mono_us);
    tell_document_free(document);
    if (!good || older)
        return good;
    swap(own);
    put_state_numbers(own, &message);
    return true;
}

static void put_rows(mirror *own, const tell_event_message *message) {
    for (uint32_t i = 0; i < message->row_count; i++) {
        const tell_row *told = &message->rows[i];
        sm_log_kind kind = sm_log_kind_read(told->row.source, told->what, told->row.target);
        kind.rank = told->row.kind.rank;
        const sm_log_row row = {.wall = told->row.wall,
                                .has_show = told->show_us != SM_UNSET_US,
                                .show = {told->show_us},
                                .source = told->row.source,
                                .seat = told->row.seat,
                                .kind = kind,
                                .cue = told->row.cue,
                                .target = told->row.target,
                                .detail = told->row.detail};
        sm_recent_put(&own->recent, &row);
    }
}

// The next one changes the state; one that came before it or after a gap does not.
static void put_event(mirror *own, const tell_event_message *message) {
    bool next = own->has_state && message->seq == own->seq + 1;
    if (message->seq <= own->seen && !next)
        return;
    if (message->seq > own->seen) {
        own->missed += own->has_state ? (uint64_t)(message->seq - own->seen - 1) : 0;
        own->seen = message->seq;
        put_rows(own, message);
    }
    if (next) {
        swap(own);
        own->seq = message->seq;
    }
}

static bool take_event(mirror *own, const void *bytes, size_t length) {
    tell_event_message *message = calloc(1, sizeof *message);
    bool good = false;
    if (message) {
        tell_snapshot_copy(own->spare, own->now);
        message->change = own->spare;
        tell_document *document = tell_read(TELL_EVENT, bytes, length, &own->sizes, message);
        good = document && message->show == own->show_number && tell_snapshot_is_sound(own->spare);
        if (good)
            put_event(own, message);
        good |= own->told_show > own->show_number; // another show's, whose state comes first
        tell_document_free(document);
    }
    free(message);
    return good;
}

void mirror_take(mirror *own, tell_topic topic, const void *bytes, size_t length) {
    if (topic == TELL_SHOW)
        own->refused += !take_show(own, bytes, length);
    else if (topic == TELL_STATE && own->coming && take_first_state(own, bytes, length))
        return;
    else if (own->show && topic == TELL_STATE)
        own->refused += !take_state(own, bytes, length);
    else if (own->show && topic == TELL_EVENT)
        own->refused += !take_event(own, bytes, length);
}
