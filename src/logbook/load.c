// SPDX-License-Identifier: GPL-3.0-or-later
// A show as records: its files as they are, but for the music, of which the hash alone is kept.
#include "logbook/load.h"

#include "logbook/record.h"

#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <zlib.h>

typedef struct loader {
    const sm_show *show;
    const char *readings_file;
    sm_text members; // one line a file: what the load's hash is made of
    sm_text names;   // "name\0hash\0", for the records that must come after the load's own
    sm_text *records;
} loader;

static sm_result deflate_bytes(const char *bytes, size_t length, char **out, size_t *out_length) {
    uLongf room = compressBound(length);
    char *packed = malloc(room);
    if (!packed || compress2((Bytef *)packed, &room, (const Bytef *)bytes, length, Z_BEST_SPEED) != Z_OK) {
        free(packed);
        return SM_NO_MEMORY;
    }
    *out = packed;
    *out_length = room;
    return SM_OK;
}

static sm_result put_file(loader *l, const sm_walk_hash *hash, const char *bytes, size_t length) {
    char *packed, size[24];
    size_t packed_length;
    sm_result result = deflate_bytes(bytes, length, &packed, &packed_length);
    if (result != SM_OK)
        return result;
    const sm_record record = {
        SM_RECORD_FILE,
        3,
        {sm_field_text(hash->hex), sm_field_integer(size, (int64_t)length), {packed, packed_length}}};
    bool put = sm_record_put(l->records, &record);
    free(packed);
    return put ? SM_OK : SM_NO_MEMORY;
}

static sm_result read_and_put(loader *l, const char *path, sm_walk_hash *hash) {
    char *bytes;
    size_t length;
    sm_result result = sm_file_read(path, &bytes, &length);
    if (result != SM_OK)
        return result;
    *hash = sm_walk_hash_bytes(bytes, length);
    result = put_file(l, hash, bytes, length);
    free(bytes);
    return result;
}

// KEEP: with its bytes. A file that is not there is no part of the load.
static sm_result take_file(loader *l, const char *name, bool keep) {
    sm_text path = {0};
    sm_walk_hash hash;
    bool elsewhere = l->readings_file && strcmp(name, "readings.csv") == 0;
    if (elsewhere)
        sm_text_printf(&path, "%s", l->readings_file);
    else
        sm_text_printf(&path, "%s/%s", l->show->folder, name);
    sm_result result = SM_NO_MEMORY;
    if (!path.failed)
        result = keep ? read_and_put(l, path.bytes, &hash) : sm_walk_hash_file(path.bytes, &hash);
    int why = errno;
    sm_text_deinit(&path);
    errno = why;
    if (result != SM_OK)
        return result == SM_UNREADABLE && (why == ENOENT || why == ENOTDIR) ? SM_OK : result;
    sm_text_printf(&l->members, "%s %s\n", name, hash.hex);
    sm_text_append(&l->names, name, strlen(name) + 1);
    sm_text_append(&l->names, hash.hex, sizeof hash.hex);
    return SM_OK;
}

static sm_result take_files(loader *l) {
    size_t count;
    const sm_table_schema *schema = sm_show_schema(&count);
    sm_result result = SM_OK;
    for (size_t i = 0; i < count && result == SM_OK; i++)
        result = take_file(l, schema[i].file, true);
    if (result == SM_OK && l->show->settings.audio[0] != '\0')
        result = take_file(l, l->show->settings.audio, false);
    sm_text_printf(&l->members, "length %lld\n", (long long)l->show->length_us);
    return result == SM_OK && (l->members.failed || l->names.failed) ? SM_NO_MEMORY : result;
}

static bool put_load(loader *l, const sm_logbook_load *load) {
    char length[24];
    const sm_record record = {SM_RECORD_LOAD,
                              4,
                              {sm_field_text(load->hash.hex), sm_field_text(load->title),
                               sm_field_text(load->list->content.hex),
                               sm_field_integer(length, l->show->length_us)}};
    bool put = sm_record_put(l->records, &record);
    const char *end = l->names.bytes + l->names.length;
    for (const char *name = l->names.bytes; put && name < end;) {
        const char *hash = name + strlen(name) + 1;
        const sm_record member = {
            SM_RECORD_MEMBER, 3, {sm_field_text(load->hash.hex), sm_field_text(name), sm_field_text(hash)}};
        put = sm_record_put(l->records, &member);
        name = hash + strlen(hash) + 1;
    }
    return put;
}

static bool put_readings(loader *l, const sm_logbook_load *load) {
    const sm_show *show = l->show;
    bool put = true;
    for (uint32_t i = 0; i < show->reading_count && put; i++) {
        const sm_reading *reading = &show->readings[i];
        char slot[48], value[24], ohms[32] = "", taken[24];
        sm_unix_us taken_us = SM_UNSET_US;
        if (reading->value.kind == SM_READ_OHMS)
            snprintf(ohms, sizeof ohms, "%.9g", reading->value.ohms);
        if (sm_walk_when_read(reading->when, strlen(reading->when), &taken_us) != SM_OK)
            taken_us = SM_UNSET_US;
        const sm_record record = {
            SM_RECORD_READING,
            8,
            {sm_field_text(load->title), sm_field_text(sm_slot_format(show, reading->slot, slot)),
             sm_field_text(sm_read_value_format(value, reading->value)), sm_field_text(ohms),
             sm_field_text(reading->when), sm_field_us(taken, taken_us), sm_field_text(reading->by),
             sm_field_text("file")}};
        put = sm_record_put(l->records, &record);
    }
    return put;
}

static sm_result fill(loader *l, sm_logbook_load *load) {
    sm_result result = sm_walk_list_create(l->show, &load->list);
    if (result == SM_OK)
        result = take_files(l);
    if (result != SM_OK)
        return result;
    load->hash = sm_walk_hash_bytes(l->members.bytes, l->members.length);
    return put_load(l, load) && put_readings(l, load) ? SM_OK : SM_NO_MEMORY;
}

sm_result sm_logbook_load_create(const sm_show *show, const char *readings_file, sm_logbook_load **out) {
    sm_logbook_load *load = calloc(1, sizeof *load);
    if (!load)
        return SM_NO_MEMORY;
    loader l = {.show = show, .readings_file = readings_file, .records = &load->records};
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
    sm_text_deinit(&load->records);
    free(load->title);
    free(load);
}
