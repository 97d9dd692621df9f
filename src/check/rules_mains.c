// SPDX-License-Identifier: GPL-3.0-or-later
// Mains: feeds, breakers, cords.
#include "check/rule.h"

#include <math.h>

// NEC 210.20(A) read: a breaker carries continuous load up to 80 % of its rating.
#define BREAKER_PART 0.8
// NEC 210.19(A) Informational Note 4, 215.2(A)(1) Note 2 (second-hand): 3 % branch, 5 % in all.
// IEC 60364-5-52 table G.52.1 (read): of a public supply 3 % lighting and 5 % other, of a private one 6 and 8 %.
static const struct {
    const char *name;
    double warning_percent, error_percent;
} drops[] = {{"public", 3.0, 5.0}, {"private", 6.0, 8.0}};
// IEC 60898 type B (from memory): trips at once from 3 times its rating.
#define INRUSH_TIMES 3.0
// Room for binary fractions: 3 % that is exactly 3 % is not over it.
#define ROOM (1.0 + 1e-12)

// Marks the loop that FEED leads into; returns the row of it that stands last in the table, SM_NONE where it is told
// already. SEEN[f] is one more than the feed from which f was first reached.
static uint32_t last_of_loop(const sm_show *show, uint32_t feed, uint32_t *seen) {
    uint32_t at = feed;
    while (at != SM_NONE && seen[at] == 0) {
        seen[at] = feed + 1;
        at = show->feeds[at].from;
    }
    if (at == SM_NONE || seen[at] != feed + 1)
        return SM_NONE;
    uint32_t last = at;
    for (uint32_t f = show->feeds[at].from; f != at; f = show->feeds[f].from)
        last = f > last ? f : last;
    return last;
}

static sm_result judge_loops(sm_check *check, const sm_site_feed *feeds) {
    const sm_show *show = check->show;
    uint32_t *seen = sm_arena_alloc(check->arena, ((size_t)show->feed_count + 1) * sizeof *seen);
    if (!seen)
        return SM_NO_MEMORY;
    for (uint32_t f = 0; f < show->feed_count; f++) {
        const uint32_t last = feeds[f].in_loop ? last_of_loop(show, f, seen) : SM_NONE;
        if (last == SM_NONE)
            continue;
        const sm_feed *feed = &show->feeds[last];
        check_put(check, "feed-loop", (check_place){"feeds.csv", feed->line, "from"}, check_no_figures(),
                  "%s hangs on %s, and by way of it on itself: no way back to the supply", feed->name,
                  show->feeds[feed->from].name);
    }
    return SM_OK;
}

static void judge_breaker(sm_check *check, const sm_feed *feed, const sm_site_feed *site) {
    if (isnan(feed->breaker_amps) || !(site->amps > feed->breaker_amps * BREAKER_PART * ROOM))
        return;
    const bool over = site->amps > feed->breaker_amps * ROOM;
    const double limit = over ? feed->breaker_amps : feed->breaker_amps * BREAKER_PART;
    check_put_as(check, over ? SM_ERROR : SM_WARNING, "breaker-over",
                 (check_place){"feeds.csv", feed->line, "breaker"},
                 (check_figures){FIGURE_AMPS, site->amps, limit, NULL},
                 "%s carries %s (%.0f VA at %.0f V); %s %s%s", feed->name, AMPS(site->amps), site->va,
                 feed->volts, over ? "its breaker is" : "80 % of its breaker is", AMPS(limit),
                 over ? ""
                      : ", the most for what burns three hours and more; the cues alone are no such load");
}

static void judge_inrush(sm_check *check, const sm_feed *feed, const sm_site_feed *site) {
    const double most = feed->breaker_amps * INRUSH_TIMES;
    if (!(site->inrush_amps > most * ROOM)) // false where either is not told
        return;
    check_put(check, "inrush-over", (check_place){"feeds.csv", feed->line, "breaker"},
              (check_figures){FIGURE_AMPS, site->inrush_amps, most, NULL},
              "%s: what hangs on it takes %s when it is switched on at one moment; a breaker of type B may "
              "trip from "
              "%s on (3 times its %.4g A)",
              feed->name, AMPS(site->inrush_amps), AMPS(most), feed->breaker_amps);
}

// Decimals of FOUND, which is over LIMIT: one, or as many as it takes to be read as more.
static int decimals_over(double found, double limit) {
    int decimals = 1;
    double unit = 0.1;
    while (decimals < 6 && round(found / unit) * unit <= limit + unit / 2) {
        decimals++;
        unit /= 10;
    }
    return decimals;
}

static void judge_drop(sm_check *check, const sm_feed *feed, const sm_site_feed *site) {
    const double warning = drops[site->is_private].warning_percent;
    if (!(site->chain_percent > warning * ROOM))
        return;
    const bool error = site->chain_percent > drops[site->is_private].error_percent * ROOM;
    const double limit = error ? drops[site->is_private].error_percent : warning;
    check_put_as(check, error ? SM_ERROR : SM_WARNING, "cord-drop",
                 (check_place){"feeds.csv", feed->line, "cord_length"},
                 (check_figures){FIGURE_PLAIN, site->chain_percent, limit, "%"},
                 "%s: %.3f V over all cords back to the supply, %.*f %% of %.0f V (%s over %s of %s); should "
                 "be at most %.0f %% on a %s supply",
                 feed->name, site->chain_volts, decimals_over(site->chain_percent, limit),
                 site->chain_percent, feed->volts, AMPS(site->amps), FOUND_M(feed->cord_m), feed->cord.text,
                 limit, drops[site->is_private].name);
}

static void judge_heat(sm_check *check, const sm_feed *feed, const sm_site_feed *site) {
    const double rating = sm_site_cord_rating_amps(&feed->cord);
    const check_place place = {"feeds.csv", feed->line, "cord_gauge"};
    if (feed->cord_m <= 0.0 || !(site->amps > 0.0))
        return;
    if (isnan(rating))
        check_put(check, "cord-hot", place, (check_figures){FIGURE_AMPS, site->amps, (double)NAN, NULL},
                  "%s carries %s over %s: thinner than any cord that is rated (0.5 mm2, 18 AWG)", feed->name,
                  AMPS(site->amps), feed->cord.text);
    else if (site->amps > rating * ROOM)
        check_put(check, "cord-hot", place, (check_figures){FIGURE_AMPS, site->amps, rating, NULL},
                  "%s carries %s over %s, rated %s (%s)", feed->name, AMPS(site->amps), feed->cord.text,
                  AMPS(rating), feed->cord.is_awg ? "NEC 400.5 column B" : "BS 7671 4F3A");
}

static void judge_protection(sm_check *check, const sm_feed *feed, const sm_site_feed *site) {
    const double rating = sm_site_cord_rating_amps(&feed->cord);
    if (feed->cord_m <= 0.0 || !(site->breaker_amps > rating * ROOM)) // false where either is not known
        return;
    check_put(check, "cord-breaker", (check_place){"feeds.csv", feed->line, "cord_gauge"},
              (check_figures){FIGURE_AMPS, site->breaker_amps, rating, NULL},
              "%s: its cord of %s is rated %s (%s) and stands behind a breaker of %s: it burns before the "
              "breaker opens",
              feed->name, feed->cord.text, AMPS(rating),
              feed->cord.is_awg ? "NEC 400.5 column B" : "BS 7671 4F3A", AMPS(site->breaker_amps));
}

sm_result check_feeds(sm_check *check) {
    const sm_show *show = check->show;
    sm_site_feed *feeds = sm_arena_alloc(check->arena, ((size_t)show->feed_count + 1) * sizeof *feeds);
    if (!feeds)
        return SM_NO_MEMORY;
    sm_result result = sm_site_feeds(show, feeds);
    if (result == SM_OK)
        result = judge_loops(check, feeds);
    for (uint32_t f = 0; result == SM_OK && f < show->feed_count; f++) {
        if (feeds[f].in_loop)
            continue;
        judge_breaker(check, &show->feeds[f], &feeds[f]);
        judge_inrush(check, &show->feeds[f], &feeds[f]);
        judge_drop(check, &show->feeds[f], &feeds[f]);
        judge_heat(check, &show->feeds[f], &feeds[f]);
        judge_protection(check, &show->feeds[f], &feeds[f]);
    }
    return result;
}

sm_result check_feed_missing(sm_check *check) {
    const sm_show *show = check->show;
    for (uint32_t f = 0; f < show->fixture_count; f++) {
        const sm_fixture *fixture = &show->fixtures[f];
        const check_place place = {"fixtures.csv", fixture->line, "feed"};
        const sm_profile *profile = fixture->profile != SM_NONE ? &show->profiles[fixture->profile] : NULL;
        const double watts = !profile ? 0.0 : isnan(profile->watts) ? profile->va : profile->watts;
        if (fixture->feed != SM_NONE)
            continue;
        if (fixture->feed_name && fixture->feed_name[0] != '\0')
            check_put(check, "feed-missing", place, check_no_figures(),
                      "%s: there is no feed \"%s\" in feeds.csv", fixture->name, fixture->feed_name);
        else if (watts > 0.0)
            check_put_as(check, SM_WARNING, "feed-missing", place,
                         (check_figures){FIGURE_PLAIN, watts, (double)NAN, "W"},
                         "%s takes %.0f W and names no feed: no feed's amps count it", fixture->name, watts);
    }
    return SM_OK;
}
