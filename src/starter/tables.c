// SPDX-License-Identifier: GPL-3.0-or-later
// The tables of a new show. Figures are invented and of a plausible kind; the maker's data goes first.
#include "starter/plan.h"

#include <string.h>

// 25 m of 22 AWG, there and back (52.96 mohm/m, ASTM B258, from memory), 2 m of leads of 24 AWG (84.2 mohm/m), a bridge.
#define SLOT_OHMS (2 * 25 * 0.05296 + 2 * 2 * 0.0842 + 1.6)
#define IN_SERIES_OHMS (2 * 2 * 0.0842 + 1.6)

// ---- comments ----------------------------------------------------------------------------------

static const sm_table_schema *table_of(const char *file) {
    size_t count;
    const sm_table_schema *tables = sm_show_schema(&count);
    for (size_t i = 0; i < count; i++)
        if (strcmp(tables[i].file, file) == 0)
            return &tables[i];
    return NULL;
}

static void put_help(sm_text *out, const char *before, const char *file, const char *section,
                     const char *name, size_t length) {
    const sm_table_schema *table = table_of(file);
    for (size_t i = 0; table && i < table->column_count; i++) {
        const sm_column *column = &table->columns[i];
        if (strlen(column->name) == length && strncmp(column->name, name, length) == 0 &&
            (!section || strcmp(column->section, section) == 0))
            sm_text_printf(out, "%s %s: %s\n", before, column->name, column->help);
    }
}

void starter_head(sm_text *out, const char *file, const char *change, const char *columns) {
    const sm_table_schema *table = table_of(file);
    sm_text_printf(out, "# SPDX-License-Identifier: GPL-3.0-or-later\n# %s. Change first:\n",
                   table ? table->help : "items of the walk before the show");
    for (const char *at = change; *at != '\0'; at += strspn(at, " ")) {
        const size_t length = strcspn(at, " ");
        put_help(out, "#  ", file, NULL, at, length);
        at += length;
    }
    sm_text_printf(out, "%s\n", columns);
}

void starter_key_help(sm_text *out, const char *section, const char *key) {
    put_help(out, ";", "show.ini", section, key, strlen(key));
}

// ---- where things stand ------------------------------------------------------------------------

// X of thing I of COUNT in a row that is centred, APART half metres from one another.
static double x_m(uint32_t i, uint32_t count, int apart) {
    return ((double)i - ((double)count - 1) / 2) * apart / 2;
}

void starter_put_positions(plan *p, sm_text *out) {
    const sm_starter_options *o = p->options;
    const uint32_t poles = (o->lights + 1) / 2;
    starter_head(out, "positions.csv", "x y", "name,x,y,note");
    for (uint32_t i = 0; i < o->rails; i++)
        sm_text_printf(out, "spot-%u,%g m,50 m,a rail\n", i + 1, x_m(i, o->rails, 20));
    for (uint32_t i = 0; i < poles; i++)
        sm_text_printf(out, "pole-%u,%g m,5 m,lamps\n", i + 1, x_m(i, poles, 8));
    for (uint32_t i = 0; i < o->flames; i++)
        sm_text_printf(out, "wall-%u,%g m,20 m,a flame unit\n", i + 1, x_m(i, o->flames, 12));
}

// ---- what fires --------------------------------------------------------------------------------

void starter_put_modules(plan *p, sm_text *out) {
    starter_head(out, "modules.csv", "slots volts_low pulse at_once",
                 "name,slots,volts,volts_low,source_ohms,pulse,gap,at_once,test_current,link");
    for (uint32_t i = 0; i < p->modules; i++)
        sm_text_printf(out, "module-%u,%u,18 V,15 V,0.5 ohm,40 ms,10 ms,6,10 mA,hold\n", i + 1,
                       PLAN_RAILS_A_MODULE * p->options->slots);
}

void starter_put_rails(plan *p, sm_text *out) {
    const uint32_t slots = p->options->slots;
    char name[8];
    starter_head(out, "rails.csv", "first slots cable_length cable_gauge",
                 "name,module,first,slots,cable_length,cable_gauge,position");
    for (uint32_t i = 0; i < p->options->rails; i++)
        sm_text_printf(out, "%s,module-%u,%u,%u,25 m,22 AWG,spot-%u\n", plan_rail_name(i, name),
                       i / PLAN_RAILS_A_MODULE + 1, i % PLAN_RAILS_A_MODULE * slots + 1, slots, i + 1);
}

// Firing 1 reads open and the last one short, where there are so many.
void starter_put_readings(plan *p, sm_text *out) {
    const uint32_t rails = p->options->rails;
    char name[8];
    starter_head(out, "readings.csv", "reading", "rail,slot,reading,by");
    for (uint32_t rail = 0; rail < rails; rail++)
        for (uint32_t slot = 0; slot < p->options->slots; slot++) {
            const uint32_t firing = slot * rails + rail;
            sm_text_printf(out, "%s,%u,", plan_rail_name(rail, name), slot + 1);
            if (slot >= plan_slots_used(p, rail) || firing == 1)
                sm_text_printf(out, "open,K\n");
            else if (firing > 1 && firing == p->firings - 1 && firing != p->series_at)
                sm_text_printf(out, "short,K\n");
            else
                sm_text_printf(out, "%.2f,K\n",
                               SLOT_OHMS + (firing == p->series_at ? IN_SERIES_OHMS : 0) +
                                   ((double)(firing * 7 % 13) - 6) / 100);
        }
}

// ---- what shines and burns ---------------------------------------------------------------------

void starter_put_profiles(plan *p, sm_text *out) {
    starter_head(out, "profiles.csv", "channels enable fire longest clear",
                 "name,channels,home,hazard,enable,fire,longest,recover,burn,watts,clear,wire");
    if (p->options->lights > 0)
        sm_text_printf(out, "par,dimmer red green blue white strobe,0 0 0 0 0 0,none,,,,,,100 W,,light\n");
    if (p->options->flames > 0)
        sm_text_printf(
            out, "jet,permit flame,0 0,flame,permit 128-255,flame 1-255,2 s,1 s,8 ml/s,80 W,10 m,never\n");
}

void starter_put_fixtures(plan *p, sm_text *out) {
    starter_head(out, "fixtures.csv", "universe address feed",
                 "name,profile,universe,address,position,feed,fuel,aim");
    for (uint32_t i = 0; i < p->options->lights; i++)
        sm_text_printf(out, "par-%u,par,%u,%u,pole-%u,feed-%u,,the trees\n", i + 1, i / PLAN_UNITS_A_LINE + 1,
                       i % PLAN_UNITS_A_LINE * PLAN_LAMP_ADDRESSES + 1, i / 2 + 1, i / PLAN_UNITS_A_LINE + 1);
    for (uint32_t i = 0; i < p->options->flames; i++)
        sm_text_printf(out, "jet-%u,jet,%u,%u,wall-%u,feed-%u,250 ml,straight up\n", i + 1,
                       p->light_lines + i / PLAN_UNITS_A_LINE + 1,
                       i % PLAN_UNITS_A_LINE * PLAN_JET_ADDRESSES + 1, i + 1,
                       p->light_lines + i / PLAN_UNITS_A_LINE + 1);
}

static void put_group(sm_text *out, const char *group, const char *unit, uint32_t from, uint32_t to,
                      uint32_t step) {
    if (from > to)
        return;
    sm_text_printf(out, "%s,", group);
    for (uint32_t i = from; i <= to; i += step)
        sm_text_printf(out, "%s%s-%u", i > from ? " " : "", unit, i);
    sm_text_printf(out, "\n");
}

void starter_put_groups(plan *p, sm_text *out) {
    starter_head(out, "groups.csv", "members", "name,members");
    if (p->options->lights > 0) {
        put_group(out, "lamps", "par", 1, p->options->lights, 1);
        put_group(out, "odds", "par", 1, p->options->lights, 2);
        put_group(out, "evens", "par", 2, p->options->lights, 2);
    }
    if (p->options->flames > 0)
        put_group(out, "jets", "jet", 1, p->options->flames, 1);
}

// Lines of the units UNIT-1 to UNIT-COUNT, each from the place where its first unit stands.
static void put_lines(sm_text *out, uint32_t before, const char *unit, uint32_t count, const char *place,
                      uint32_t units_a_place, int apart_m) {
    for (uint32_t from = 0; from < count; from += PLAN_UNITS_A_LINE) {
        const uint32_t number = before + from / PLAN_UNITS_A_LINE + 1,
                       to = from + PLAN_UNITS_A_LINE < count ? from + PLAN_UNITS_A_LINE : count;
        sm_text_printf(out, "line-%u,%u,%s-%u,", number, number, place, from / units_a_place + 1);
        for (uint32_t i = from; i < to; i++)
            sm_text_printf(out, "%s%s-%u", i > from ? " " : "", unit, i + 1);
        sm_text_printf(out, ",");
        for (uint32_t i = from; i < to; i++)
            sm_text_printf(out, "%s%dm", i > from ? " " : "",
                           i > from && i % units_a_place == 0 ? apart_m : 3);
        sm_text_printf(out, ",1 m\n");
    }
}

void starter_put_lines(plan *p, sm_text *out) {
    starter_head(out, "lines.csv", "chain cables", "name,universe,source,chain,cables,slack");
    put_lines(out, 0, "par", p->options->lights, "pole", 2, 6);
    put_lines(out, p->light_lines, "jet", p->options->flames, "wall", 1, 8);
}

void starter_put_feeds(plan *p, sm_text *out) {
    starter_head(out, "feeds.csv", "breaker cord_length cord_gauge",
                 "name,from,volts,breaker,cord_length,cord_gauge");
    for (uint32_t i = 0; i < p->light_lines + p->flame_lines; i++)
        sm_text_printf(out, "feed-%u,,230 V,16 A,20 m,2.5 mm2\n", i + 1);
}
