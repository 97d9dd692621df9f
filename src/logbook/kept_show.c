// SPDX-License-Identifier: GPL-3.0-or-later
// A show as entries: its files as they are, but for the music, of which the hash alone is kept.
#include "logbook/kept_show.h"

#include "logbook/entry.h"

#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

sm_value sm_value_ohms(char buffer[32], sm_read_value value) {
    if (value.kind != SM_READ_OHMS)
        return (sm_value){.kind = SM_VALUE_NOTHING};
    snprintf(buffer, 32, "%.9g", value.ohms);
    return sm_value_text(buffer);
}

typedef struct loader {
    const sm_show *show;
    const char *readings_file;
    sm_text members; // one line a file: what the load's hash is made of
    sm_text names;   // "name\0hash\0", for the entries that must come after the load's own
    sm_text *entries;
} loader;

static sm_result read_and_put(loader *l, const char *path, sm_walk_hash *hash) {
    char *bytes;
    size_t length;
    sm_result result = sm_file_read(path, &bytes, &length);
    if (result != SM_OK)
        return result;
    *hash = sm_walk_hash_bytes(bytes, length);
    SM_ENTRY_PUT(l->entries, SM_ENTRY_FILE, sm_value_text(hash->hex), sm_value_number((int64_t)length),
                 sm_value_bytes(bytes, length));
    free(bytes);
    return SM_OK;
}

static void put_member(loader *l, const char *name, const sm_walk_hash *hash) {
    sm_text_printf(&l->members, "%s %s\n", name, hash->hex);
    sm_text_append(&l->names, name, strlen(name) + 1);
    sm_text_append(&l->names, hash->hex, sizeof hash->hex);
}

// A table, with its bytes. A file that is not there is no part of the load.
static sm_result take_file(loader *l, const char *name) {
    sm_text path = {0};
    sm_walk_hash hash;
    bool elsewhere = l->readings_file && strcmp(name, "readings.csv") == 0;
    if (elsewhere)
        sm_text_printf(&path, "%s", l->readings_file);
    else
        sm_text_printf(&path, "%s/%s", l->show->folder, name);
    sm_result result = path.failed ? SM_NO_MEMORY : read_and_put(l, path.bytes, &hash);
    int why = errno;
    const bool other = !path.failed && !sm_show_file_is_same_at(l->show, name, path.bytes);
    sm_text_deinit(&path);
    errno = why;
    if (other && (result == SM_OK || sm_file_is_none(why)))
        return SM_REFUSED; // what is rehearsed is what was loaded: nothing else may be kept for it
    if (result != SM_OK)
        return result == SM_UNREADABLE && sm_file_is_none(why) ? SM_OK : result;
    put_member(l, name, &hash);
    return SM_OK;
}

// MUSIC was read for the walk's list already: it may be large, and is not read again.
static sm_result take_files(loader *l, const sm_walk_hash *music) {
    size_t count;
    const sm_table_schema *schema = sm_show_schema(&count);
    sm_result result = SM_OK;
    for (size_t i = 0; i < count && result == SM_OK; i++)
        result = take_file(l, schema[i].file);
    if (music->hex[0] != '\0')
        put_member(l, l->show->settings.audio, music);
    sm_text_printf(&l->members, "length %lld\n", (long long)l->show->length_us);
    return result == SM_OK && (l->members.failed || l->names.failed) ? SM_NO_MEMORY : result;
}

static void put_load(loader *l, const sm_logbook_load *load) {
    SM_ENTRY_PUT(l->entries, SM_ENTRY_LOAD, sm_value_text(load->hash.hex), sm_value_text(load->title),
                 sm_value_text(load->list->content.hex), sm_value_number(l->show->length_us));
    const char *end = l->names.bytes + l->names.length;
    for (const char *name = l->names.bytes; name < end;) {
        const char *hash = name + strlen(name) + 1;
        SM_ENTRY_PUT(l->entries, SM_ENTRY_MEMBER, sm_value_text(load->hash.hex), sm_value_text(name),
                     sm_value_text(hash));
        name = hash + strlen(hash) + 1;
    }
}

static void put_readings(loader *l, const sm_logbook_load *load) {
    const sm_show *show = l->show;
    for (uint32_t i = 0; i < show->reading_count; i++) {
        const sm_reading *reading = &show->readings[i];
        char slot[48], text[24], ohms[32];
        sm_unix_us taken_us = SM_UNSET_US;
        if (sm_walk_when_read(reading->when, strlen(reading->when), &taken_us) != SM_OK)
            taken_us = SM_UNSET_US;
        SM_ENTRY_PUT(l->entries, SM_ENTRY_READING, sm_value_text(load->title),
                     sm_value_text(sm_slot_format(show, reading->slot, slot)),
                     sm_value_text(sm_read_value_format(text, reading->value)),
                     sm_value_ohms(ohms, reading->value), sm_value_text(reading->when), sm_value_us(taken_us),
                     sm_value_text(reading->by), sm_value_text("file"));
    }
}

static sm_result fill(loader *l, sm_logbook_load *load) {
    sm_result result = sm_walk_list_create(l->show, &load->list);
    if (result == SM_OK)
        result = take_files(l, &load->list->music);
    if (result != SM_OK)
        return result;
    load->hash = sm_walk_hash_bytes(l->members.bytes, l->members.length);
    put_load(l, load);
    put_readings(l, load);
    return l->entries->failed ? SM_NO_MEMORY : SM_OK;
}

sm_result sm_logbook_load_create(const sm_show *show, const char *readings_file, sm_logbook_load **out) {
    sm_logbook_load *load = calloc(1, sizeof *load);
    if (!load)
        return SM_NO_MEMORY;
    loader l = {.show = show, .readings_file = readings_file, .entries = &load->entries};
    load->wind_limit_m_s = show->settings.wind_limit_m_s;
    load->title = strdup(show->settings.title);
    sm_result result = load->title ? fill(&l, load) : SM_NO_MEMORY;
    int why = errno;
    sm_text_deinit(&l.members);
    sm_text_deinit(&l.names);
    if (result == SM_OK)
        *out = load;
    else
        sm_logbook_load_destroy(load);
    errno = why;
    return result;
}

void sm_logbook_load_destroy(sm_logbook_load *load) {
    if (!load)
        return;
    sm_walk_list_destroy(load->list);
    sm_text_deinit(&load->entries);
    free(load->title);
    free(load);
}
