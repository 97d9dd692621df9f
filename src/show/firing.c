// SPDX-License-Identifier: GPL-3.0-or-later
// The cells of a cue that fires slots: effect, igniters, extra wire.
#include "show/load.h"

#include <string.h>

static bool read_effect(const sm_table_record *from, uint32_t *out) {
    size_t length;
    char shown[SM_CLIP_BYTES];
    const char *const text = sm_table_cell(from, SM_CUES_DO, &length, NULL);
    const sm_spot spot = sm_table_spot(from, SM_CUES_DO);
    if (memchr(text, '=', length)) {
        sm_load_error(from->loader, &spot, "effect-unknown",
                      "\"%s\" is what a fixture does; a slot does an effect of effects.csv",
                      sm_load_clip(shown, text, length));
        return false;
    }
    *out = sm_load_refer(from->loader, &spot, SM_SCHEMA_EFFECTS, "effect-unknown", text, length);
    return *out != SM_NONE;
}

// "1", "2s", "3p".
static bool read_igniters(const sm_table_record *from, sm_firing_cells *out) {
    size_t length;
    char shown[SM_CLIP_BYTES];
    const char *const text = sm_table_cell(from, SM_CUES_IGNITERS, &length, NULL);
    const sm_spot spot = sm_table_spot(from, SM_CUES_IGNITERS);
    const char kind = text[length - 1];
    const bool has_kind = kind == 's' || kind == 'p';
    out->load = kind == 's' ? SM_LOAD_SERIES : kind == 'p' ? SM_LOAD_PARALLEL : SM_LOAD_ONE;
    if (sm_integer_read(text, has_kind ? length - 1 : length, &out->igniters) != SM_OK ||
        (!has_kind && out->igniters != 1)) {
        sm_load_error(from->loader, &spot, "value",
                      "\"%s\" is not 1, nor a number with s (in series) or p (in parallel), such as 2s",
                      sm_load_clip(shown, text, length));
        return false;
    }
    if (out->igniters == 1)
        out->load = SM_LOAD_ONE;
    return sm_cell_in_range(from->loader, &spot, &sm_cues_columns[SM_CUES_IGNITERS], out->igniters);
}

// A length, and a gauge behind it where one is given.
static bool split_wire(const char *text, size_t length, sm_firing_cells *out) {
    static const char plain[] = "22 AWG";
    if (sm_measure_read(SM_QUANTITY_LENGTH, text, length, &out->wire_m) == SM_OK)
        return sm_gauge_read(plain, sizeof plain - 1, &out->wire) == SM_OK;
    // The blank between them may be any of those in the cell, and there may be more than one.
    for (size_t at = 1, rest; at < length; at++) {
        for (rest = at; rest < length && (text[rest] == ' ' || text[rest] == '\t');)
            rest++;
        if (rest > at && sm_measure_read(SM_QUANTITY_LENGTH, text, at, &out->wire_m) == SM_OK &&
            sm_gauge_read(text + rest, length - rest, &out->wire) == SM_OK)
            return true;
    }
    return false;
}

static bool read_wire(const sm_table_record *from, sm_firing_cells *out) {
    enum { WIRE_MAX_BYTES = 64 };
    size_t length;
    bool is_given;
    char shown[SM_CLIP_BYTES];
    const char *const text = sm_table_cell(from, SM_CUES_WIRE, &length, &is_given);
    const sm_spot spot = sm_table_spot(from, SM_CUES_WIRE);
    out->wire_m = 0;
    if (!is_given)
        return split_wire("0", 1, out);
    if (length <= WIRE_MAX_BYTES && sm_load_tell_comma(from->loader, &spot, text, length))
        return false;
    if (length > WIRE_MAX_BYTES || !split_wire(text, length, out)) {
        sm_load_error(from->loader, &spot, "value",
                      "\"%s\" is not a length and a wire, such as \"12 m 22 AWG\"",
                      sm_load_clip(shown, text, length));
        return false;
    }
    return sm_cell_in_range(from->loader, &spot, &sm_cues_columns[SM_CUES_WIRE], out->wire_m);
}

bool sm_firing_read(const sm_table_record *from, sm_us lasts_us, sm_firing_cells *out) {
    const bool has_effect = read_effect(from, &out->effect);
    const bool has_igniters = read_igniters(from, out);
    const bool has_wire = read_wire(from, out);
    if (has_effect)
        out->lasts_us =
            lasts_us != SM_UNSET_US ? lasts_us : from->loader->show->effects[out->effect].lasts_us;
    return has_effect && has_igniters && has_wire;
}
