// SPDX-License-Identifier: GPL-3.0-or-later
// Checking a show on paper: rules as rows of one table, run over a loaded show; what they found, a summary of the
// show's totals, and both as text for people, JSON lines and SARIF.
// A check that finds nothing says just that: no rule found anything. It is no statement that the show may be fired.
#ifndef SLOWMATCH_CHECK_H
#define SLOWMATCH_CHECK_H

#include "slowmatch/json.h"
#include "slowmatch/show.h"
#include "slowmatch/site.h"

// ---- rules ----------------------------------------------------------------------

typedef enum sm_check_family {
    SM_CHECK_FILES, // the files themselves
    SM_CHECK_TIME,
    SM_CHECK_SLOTS,
    SM_CHECK_FIRING_LINE,
    SM_CHECK_DMX,
    SM_CHECK_FLAME,
    SM_CHECK_MAINS,
    SM_CHECK_GROUND,
    SM_CHECK_FAMILY_COUNT
} sm_check_family;
// "files" ... "ground"; static.
const char *sm_check_family_text(sm_check_family family);

struct sm_check;

// One rule. `run` is private to the part; NULL for a rule that the reading of the files applies.
typedef struct sm_check_rule {
    const char *id;
    sm_check_family family;
    sm_severity severity; // as a rule; where `meaning` names two, the graver
    unsigned needs;       // private: bits, see sm_check_rule_needs
    sm_result (*run)(struct sm_check *check);
    const char *meaning; // one line
    const char *source;  // where its figures are from, with how that was known
    const char *explain; // what to do about it
} sm_check_rule;

// All rules, by family. Static.
const sm_check_rule *sm_check_rule_at(size_t index); // NULL past the last
// NULL when there is no such rule.
const sm_check_rule *sm_check_rule_find(const char *id);
// What the rule needs, as words ("cues, feeds"), appended to OUT; "-" where it needs nothing.
void sm_check_rule_needs(const sm_check_rule *rule, sm_text *out);

// ---- running ----------------------------------------------------------------------

// What this part cannot know by itself.
typedef struct sm_check_options {
    bool audio_looked_for;   // false: the rules about audio are not run
    bool audio_exists;       // the file that `audio` names could be opened and decoded
    const char *audio_error; // why not, or what is wrong with a part of it, one line; "" or NULL for nothing
    sm_us audio_end_us;      // show time at which it ends; SM_UNSET_US where not known
    // What loading found, NULL where nothing: rows with errors are not in the show, so that totals, and what is missing
    // in a table with errors, are not judged. sm_check_report_create fills it in.
    const sm_findings *loaded;
    sm_together *together; // hands to lend, which a show of many fixture events is worth; NULL: none
    sm_progress *progress; // of the rules; NULL: nobody looks
} sm_check_options;

// Runs every rule over SHOW (as loaded, also with keep_invalid) and adds what they find to FINDINGS, unsorted. OPTIONS
// may be NULL. The files are read again to find the columns of cells, only where something was found. SM_NO_MEMORY:
// FINDINGS holds some of them. Any thread; the show is only read.
SM_MUST_CHECK sm_result sm_check_run(const sm_show *show, const sm_check_options *options,
                                     sm_findings *findings);

// ---- the summary --------------------------------------------------------------------

typedef struct sm_check_share {
    const char *name; // of a module, rail, effect; NULL where it is a universe
    int32_t universe;
    uint32_t events;            // firings, or fixture events
    uint32_t slots_used, slots; // of a module or rail; 0 of others
} sm_check_share;

// From one moment of the show to another.
typedef struct sm_check_burn {
    sm_us begin_us, end_us;
} sm_check_burn;

typedef struct sm_check_unit {
    const char *name;           // of a flame fixture
    uint32_t fixture;           // its row
    const sm_check_burn *burns; // in order, apart from one another
    uint32_t burn_count;
    double burn_s;         // seconds with flame told and enabled
    double used_ml;        // NAN where the profile gives no burn
    double fuel_ml;        // NAN where not given
    double used_g, fuel_g; // the same of a gas
} sm_check_unit;

typedef struct sm_check_supply {
    const char *name;                 // of a feed
    double watts, va, amps;           // NAN in a loop
    double inrush_amps, breaker_amps; // NAN where not given
} sm_check_supply;

// When sound from the loudspeaker arrives at a position.
typedef struct sm_check_sound {
    const char *name;
    double seconds;
} sm_check_sound;

// What the day uses up or must have there: an effect, an igniter, extra wire (metres by gauge), a cable or cord (by length
// and gauge), a terminator, fuel (ml of a unit, without any reserve). Spares are the crew's own figure.
typedef struct sm_check_stock {
    const char *kind, *name;
    const char *unit; // "" where it is counted
    double amount;
} sm_check_stock;

typedef struct sm_check_summary {
    uint32_t events, pyro, fixture;
    bool any;                // false: no event at all, first and last mean nothing
    sm_us first_us, last_us; // when the first and the last event are due
    sm_us length_us;
    uint32_t slots_used, slots;                            // of all rails
    sm_check_share *modules, *rails, *effects, *universes; // universes in rising order
    uint32_t module_count, rail_count, effect_count, universe_count;
    sm_check_unit *units;
    uint32_t unit_count;
    sm_check_supply *supplies;
    uint32_t supply_count;
    double propane_bar;      // vapour pressure at the show's air, absolute; NAN where no unit burns gas
    double sound_to_front_s; // NAN where the loudspeaker is not told; then there are no sounds
    sm_check_sound *sounds;  // of every position
    uint32_t sound_count;
    sm_check_stock *stock;
    uint32_t stock_count;
    sm_arena *arena; // owns the arrays; names belong to the show
} sm_check_summary;

// The caller destroys it; the show must outlive it. SM_NO_MEMORY.
SM_MUST_CHECK sm_result sm_check_summary_create(const sm_show *show, sm_check_summary **out);
void sm_check_summary_destroy(sm_check_summary *summary);

// ---- the report ------------------------------------------------------------------------

typedef struct sm_check_report {
    const char *folder;
    const sm_show *show;       // NULL where it could not be read
    sm_findings *findings;     // what stands, sorted
    sm_findings *allowed;      // warnings that an `# allow RULE: reason` lets pass, sorted
    const char **reasons;      // one for each of `allowed`
    sm_check_summary *summary; // NULL where the show could not be read
    sm_arena *arena;
} sm_check_report;

// Runs the rules over SHOW (NULL: it could not be read, LOADED tells why), joins what they find with LOADED (the
// findings of loading), takes out what the show's allow comments let pass. The show and FOLDER must outlive the report;
// the caller destroys it. SM_NO_MEMORY: *out unchanged.
SM_MUST_CHECK sm_result sm_check_report_create(const sm_show *show, const char *folder,
                                               const sm_findings *loaded, const sm_check_options *options,
                                               sm_check_report **out);
void sm_check_report_destroy(sm_check_report *report);

// Row of show->cues at which FINDING stands, SM_NONE where it stands elsewhere. O(log n).
uint32_t sm_check_finding_cue(const sm_show *show, const sm_finding *finding);

// ---- what the walk asks on every site ------------------------------------------------------

// What a show must have for an item to be asked.
typedef enum sm_check_item_needs {
    SM_CHECK_ITEM_NEEDS_NOTHING,
    SM_CHECK_ITEM_NEEDS_PYRO,
    SM_CHECK_ITEM_NEEDS_FLAME
} sm_check_item_needs;
typedef struct sm_check_site_item {
    const char *id, *ask;
    bool hold;
    bool last; // asked after the places, else before them
    sm_check_item_needs needs;
} sm_check_site_item;
const sm_check_site_item *sm_check_site_items(size_t *count);
bool sm_check_site_item_asked(const sm_show *show, const sm_check_site_item *item);
// True where ROW of walk.csv stands in place of the item ID, in whose name blanks are dashes.
bool sm_check_is_site_item(const sm_walk_row *row, const char *id);

// ---- as text -----------------------------------------------------------------------------

// For people: grouped by file, each finding with its line of the file and a mark under the cell; then what is
// allowed, the summary, and what a clean check means. COLOUR adds terminal colours to what words say already.
void sm_check_format_text(sm_text *out, const sm_check_report *report, bool colour);
// FINDING as a member NAME of an object, as the next one has it.
void sm_check_finding_json(sm_json *json, const char *name, const sm_finding *finding);
// One object a line: a finding each, then {"summary": ...}.
void sm_check_format_json(sm_text *out, const sm_check_report *report);
// SARIF 2.1.0 (OASIS), one log with one run. VERSION is the program's.
void sm_check_format_sarif(sm_text *out, const sm_check_report *report, const char *version);
// The summary alone, for people.
void sm_check_format_summary(sm_text *out, const sm_check_summary *summary);
// The list of rules: id, severity, meaning, source.
void sm_check_format_rules(sm_text *out);
// The same, one JSON object a line.
void sm_check_format_rules_json(sm_text *out);
// Everything about one rule.
void sm_check_format_rule(sm_text *out, const sm_check_rule *rule);

#endif
