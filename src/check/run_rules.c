// SPDX-License-Identifier: GPL-3.0-or-later
// A run: every rule of the table once, then all that they put is placed.
#include "check/rule.h"

// What the show and the options have of what rules may need.
static unsigned what_is_there(const sm_check *check) {
    const sm_show *show = check->show;
    unsigned there = check->options.audio_looked_for ? CHECK_NEEDS_AUDIO : 0;
    there |= show->cue_count > 0 ? CHECK_NEEDS_CUES : 0;
    there |= show->firing_count > 0 ? CHECK_NEEDS_FIRINGS : 0;
    there |= show->module_count > 0 ? CHECK_NEEDS_MODULES : 0;
    there |= show->rail_count > 0 ? CHECK_NEEDS_RAILS : 0;
    there |= show->fixture_count > 0 ? CHECK_NEEDS_FIXTURES : 0;
    there |= show->feed_count > 0 ? CHECK_NEEDS_FEEDS : 0;
    there |= show->line_count > 0 ? CHECK_NEEDS_LINES : 0;
    there |= show->position_count > 0 ? CHECK_NEEDS_POSITIONS : 0;
    return there;
}

// Rules that one function judges together stand together in the table: it runs once for them.
static sm_result run_rules(sm_check *check) {
    const unsigned there = what_is_there(check);
    sm_result (*last)(sm_check *) = NULL;
    sm_result result = SM_OK;
    const sm_check_rule *rule;
    size_t count = 0;
    while (sm_check_rule_at(count))
        count++;
    sm_progress_expect(check->options.progress, count);
    for (size_t i = 0; result == SM_OK && (rule = sm_check_rule_at(i)); i++) {
        const bool fits = (rule->needs & ~there & ~(unsigned)CHECK_TELLS_EACH) == 0;
        if (rule->run && rule->run != last && fits) {
            last = rule->run;
            result = rule->run(check);
        }
        (void)sm_progress_count(check->options.progress, 1);
    }
    return result == SM_OK && check->no_memory ? SM_NO_MEMORY : result;
}

sm_result sm_check_run(const sm_show *show, const sm_check_options *options, sm_findings *findings) {
    sm_check check = {.show = show, .find_rule = sm_check_rule_find, .arena = sm_arena_create()};
    if (!check.arena)
        return SM_NO_MEMORY;
    if (options)
        check.options = *options;
    sm_result result = run_rules(&check);
    if (result == SM_OK)
        result = check_place_pending(&check, findings);
    check_free_flames(&check);
    sm_arena_destroy(check.arena);
    return result;
}
