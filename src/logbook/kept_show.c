// SPDX-License-Identifier: GPL-3.0-or-later
// A show as entries: its files as they are, but for the music, of which the hash alone is kept.
#include "logbook/kept_show.h"

#include "logbook/entry.h"

#include <assert.h>
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

const sm_walk_hash sm_logbook_unread = {"not read"};

static sm_result read_and_put(sm_logbook_load *load, const char *path, sm_walk_hash *hash) {
    char *bytes;
    size_t length;
    sm_result result = sm_file_read(path, &bytes, &length);
    if (result != SM_OK)
        return result;
    *hash = sm_walk_hash_bytes(bytes, length);
    SM_ENTRY_PUT(&load->entries, SM_ENTRY_FILE, sm_value_text(hash->hex), sm_value_number((int64_t)length),
                 sm_value_bytes(bytes, length));
    free(bytes);
    return SM_OK;
}

static void put_member(sm_logbook_load *load, const char *name, const sm_walk_hash *hash) {
    sm_text_printf(&load->members, "%s %s\n", name, hash->hex);
    sm_text_append(&load->names, name, strlen(name) + 1);
    sm_text_append(&load->names, hash->hex, strlen(hash->hex) + 1);
}

// A table, with its bytes. A file that is not there is no part of the load.
static sm_result take_file(sm_logbook_load *load, const sm_show *show, const char *elsewhere,
                           const char *name) {
    sm_text path = {0};
    sm_walk_hash hash = {""};
    if (elsewhere)
        sm_text_printf(&path, "%s", elsewhere);
    else
        sm_text_printf(&path, "%s/%s", show->folder, name);
    sm_result result = path.failed ? SM_NO_MEMORY : read_and_put(load, path.bytes, &hash);
    int why = errno;
    const bool other = !path.failed && !sm_show_file_is_same_at(show, name, path.bytes);
    sm_text_deinit(&path);
    errno = why;
    const bool none = result == SM_UNREADABLE && sm_file_is_none(why);
    if (other && (result == SM_OK || none))
        return SM_REFUSED; // what is rehearsed is what was loaded: nothing else may be kept for it
    if (result != SM_OK && !none)
        return result;
    if (!none)
        put_member(load, name, &hash);
    if (sm_walk_file_counts(name))
        sm_walk_put_content(&load->content_lines, name, &hash);
    return SM_OK;
}

static sm_result take_files(sm_logbook_load *load, const sm_show *show, const char *readings_file) {
    size_t count;
    const sm_table_schema *schema = sm_show_schema(&count);
    sm_result result = SM_OK;
    for (size_t i = 0; i < count && result == SM_OK; i++) {
        const bool elsewhere = readings_file && strcmp(schema[i].file, "readings.csv") == 0;
        result = take_file(load, show, elsewhere ? readings_file : NULL, schema[i].file);
    }
    return result;
}

static void put_readings(sm_logbook_load *load, const sm_show *show) {
    for (uint32_t i = 0; i < show->reading_count; i++) {
        const sm_reading *reading = &show->readings[i];
        char slot[48], text[24], ohms[32];
        sm_unix_us taken_us = SM_UNSET_US;
        if (sm_walk_when_read(reading->when, strlen(reading->when), &taken_us) != SM_OK)
            taken_us = SM_UNSET_US;
        SM_ENTRY_PUT(&load->entries, SM_ENTRY_READING, sm_value_text(load->title),
                     sm_value_text(sm_slot_format(show, reading->slot, slot)),
                     sm_value_text(sm_read_value_format(text, reading->value)),
                     sm_value_ohms(ohms, reading->value), sm_value_text(reading->when), sm_value_us(taken_us),
                     sm_value_text(reading->by), sm_value_text("file"));
    }
}

// With the music's hash the load has its own, by which its entries are known.
void sm_logbook_load_music(sm_logbook_load *load, const sm_walk_hash *music) {
    assert(load->hash.hex[0] == '\0');
    if (load->music[0] != '\0')
        sm_walk_put_content(&load->content_lines, load->music, music);
    if (music->hex[0] != '\0')
        put_member(load, load->music, music);
    sm_text_printf(&load->members, "length %lld\n", (long long)load->length_us);
    if (load->members.failed || load->names.failed || load->content_lines.failed) {
        load->entries.failed = true;
        return;
    }
    load->hash = sm_walk_hash_bytes(load->members.bytes, load->members.length);
    load->content = load->list->content =
        sm_walk_hash_bytes(load->content_lines.bytes, load->content_lines.length);
    SM_ENTRY_PUT(&load->entries, SM_ENTRY_LOAD, sm_value_text(load->hash.hex), sm_value_text(load->title),
                 sm_value_text(load->content.hex), sm_value_number(load->length_us));
    const char *end = load->names.bytes + load->names.length;
    for (const char *name = load->names.bytes; name < end;) {
        const char *hash = name + strlen(name) + 1;
        SM_ENTRY_PUT(&load->entries, SM_ENTRY_MEMBER, sm_value_text(load->hash.hex), sm_value_text(name),
                     sm_value_text(hash));
        name = hash + strlen(hash) + 1;
    }
}

sm_walk_hash sm_logbook_load_content(const sm_logbook_load *load) {
    return load->content;
}

static sm_result fill(sm_logbook_load *load, const sm_show *show, const char *readings_file,
                      const sm_walk_hash *music) {
    static const sm_walk_hash none = {""};
    sm_result result = sm_walk_list_create(show, NULL, &load->list);
    if (result == SM_OK)
        result = take_files(load, show, readings_file);
    if (result != SM_OK)
        return result;
    put_readings(load, show);
    if (music || load->music[0] == '\0')
        sm_logbook_load_music(load, music ? music : &none);
    return load->entries.failed ? SM_NO_MEMORY : SM_OK;
}

sm_result sm_logbook_load_create(const sm_show *show, const char *readings_file, const sm_walk_hash *music,
                                 sm_logbook_load **out) {
    sm_logbook_load *load = calloc(1, sizeof *load);
    if (!load)
        return SM_NO_MEMORY;
    load->wind_limit_m_s = show->settings.wind_limit_m_s;
    load->length_us = show->length_us;
    load->title = strdup(show->settings.title);
    load->music = strdup(show->settings.audio);
    sm_result result = load->title && load->music ? fill(load, show, readings_file, music) : SM_NO_MEMORY;
    int why = errno;
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
    sm_text_deinit(&load->content_lines);
    sm_text_deinit(&load->members);
    sm_text_deinit(&load->names);
    sm_text_deinit(&load->entries);
    free(load->title);
    free(load->music);
    free(load);
}
