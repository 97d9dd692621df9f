// SPDX-License-Identifier: GPL-3.0-or-later
// Lights of a new show: what has channel=level pairs and is no slot. A list does not tell a lamp from a flame unit, so it is asked.
#include "import/work.h"

#include <stdio.h>
#include <string.h>

static bool is_name(const char *text) {
    const size_t length = strlen(text);
    return length > 0 && length <= 31 &&
           strspn(text, "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789-_") == length;
}

// NULL: memory ran out.
static import_light *enter(import_work *work, const char *name, uint32_t line) {
    void *lights = work->lights;
    for (uint32_t i = 0; i < work->light_count; i++)
        if (strcmp(work->lights[i].name, name) == 0)
            return &work->lights[i];
    const bool has_room =
        import_reserve(work, &lights, work->light_count, &work->light_capacity, sizeof *work->lights);
    work->lights = lights;
    if (!has_room)
        return NULL;
    work->lights[work->light_count] =
        (import_light){.name = import_keep(work, name), .channels = "", .first_line = line};
    return &work->lights[work->light_count++];
}

static bool has_channel(const char *channels, const char *channel, size_t length) {
    while (*channels != '\0') {
        const size_t each = strcspn(channels, " ");
        if (each == length && memcmp(channels, channel, length) == 0)
            return true;
        channels += each + strspn(channels + each, " ");
    }
    return false;
}

// Adds the channels of LEVELS that LIGHT has not yet.
static void add_channels(import_work *work, import_light *light, const char *levels) {
    while (*levels != '\0') {
        const size_t pair = strcspn(levels, " "), channel = strcspn(levels, "=");
        if (!has_channel(light->channels, levels, channel)) {
            sm_text both = {0};
            sm_text_printf(&both, "%s%s%.*s", light->channels, light->channels[0] != '\0' ? " " : "",
                           (int)channel, levels);
            work->no_memory = work->no_memory || both.failed;
            light->channels = import_keep(work, sm_text_get(&both));
            sm_text_deinit(&both);
        }
        levels += pair + strspn(levels + pair, " ");
    }
}

typedef enum answer { OPEN, LIGHT, LEFT_OUT } answer;

static answer answer_for(const import_work *work, const char *name) {
    const char *const own = import_map_value(&work->map, IMPORT_KEY_LIGHT, name);
    const char *const told = own ? own : import_map_value(&work->map, IMPORT_KEY_LIGHT, "*");
    return !told ? OPEN : strcmp(told, "light") == 0 ? LIGHT : LEFT_OUT;
}

const char *import_lights_read(import_work *work, const char *target, const char *levels, uint32_t line) {
    sm_text out = {0};
    bool is_good = true;
    for (size_t length; *target != '\0'; target += length + strspn(target + length, " ,;+&\n")) {
        char name[40];
        length = strcspn(target, " ,;+&\n");
        snprintf(name, sizeof name, "%.*s", length < 39 ? (int)length : 39, target);
        if (!is_name(name)) {
            import_tell(work, SM_ERROR, line, work->columns[IMPORT_TARGET], "import-address",
                        "\"%s\" is no name for a light: letters, digits, - and _, at most 31", name);
            is_good = false;
            continue;
        }
        const answer answered = answer_for(work, name);
        import_light *const light = answered != LEFT_OUT ? enter(work, name, line) : NULL;
        if (light)
            add_channels(work, light, levels);
        is_good = is_good && answered != OPEN;
        if (answered == LIGHT)
            sm_text_printf(&out, "%s%s", out.length > 0 ? " " : "", name);
    }
    work->no_memory = work->no_memory || out.failed;
    const char *const kept = is_good ? import_keep(work, sm_text_get(&out)) : NULL;
    sm_text_deinit(&out);
    return kept;
}

void import_lights_ask(import_work *work) {
    const import_answer answers[] = {{"*", "light"}, {"*", "ignore"}};
    sm_text names = {0};
    uint32_t count = 0, line = 0;
    for (uint32_t i = 0; i < work->light_count; i++) {
        if (answer_for(work, work->lights[i].name) != OPEN)
            continue;
        if (count++ < 4)
            sm_text_printf(&names, "%s\"%s\" (%s)", count > 1 ? ", " : "", work->lights[i].name,
                           work->lights[i].channels);
        line = line > 0 ? line : work->lights[i].first_line;
    }
    if (count > 4)
        sm_text_printf(&names, " and %u more", (unsigned)(count - 4));
    if (count > 0)
        import_ask(work, line, UINT32_MAX, IMPORT_KEY_LIGHT, answers, 2,
                   "%s %s set by levels: plain lights? A flame unit is none: give it a line of its own, NAME "
                   "= ignore.",
                   sm_text_get(&names), count == 1 ? "is" : "are");
    work->no_memory = work->no_memory || names.failed;
    sm_text_deinit(&names);
}
