// SPDX-License-Identifier: GPL-3.0-or-later
// The state of channels: the rules of cues.csv one by one, then random cue lists against a simulation that
// plays each microsecond. Shows are made by hand here, so that this part is tested without any table being
// read.
#include "slowmatch/dmx.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

enum { CHANNELS = 3, FIXTURES = 2, WIDE = CHANNELS * FIXTURES, MAX_CUES = 40 };

// One row of a cue table for one fixture: the channels in `mask` are told `levels`.
typedef struct row {
    sm_us time_us;
    uint32_t fade_us, lasts_us;
    uint32_t fixture;
    unsigned mask;
    uint8_t levels[CHANNELS];
} row;

typedef struct made_show {
    sm_show show;
    sm_profile profile;
    sm_fixture fixtures[FIXTURES];
    sm_cue cues[MAX_CUES];
    sm_event events[MAX_CUES];
    sm_level levels[MAX_CUES * CHANNELS];
    uint32_t order[MAX_CUES];
} made_show;

static const char *const channel_names[CHANNELS] = {"dim", "red", "green"};
static uint8_t homes[CHANNELS] = {0, 7, 255};

static void add_row(made_show *made, const row *r) {
    sm_show *show = &made->show;
    sm_cue *cue = &made->cues[show->cue_count];
    *cue = (sm_cue){.time_us = r->time_us,
                    .fade_us = r->fade_us,
                    .lasts_us = r->lasts_us,
                    .first_event = show->event_count,
                    .levels = show->level_count,
                    .kind = SM_CUE_SET};
    for (unsigned c = 0; c < CHANNELS; c++)
        if ((r->mask >> c & 1) != 0) {
            made->levels[show->level_count++] = (sm_level){.channel = (uint8_t)c, .level = r->levels[c]};
            cue->level_count++;
        }
    made->events[show->event_count++] = (sm_event){.cue = show->cue_count++, .target = r->fixture};
    // Due order: a stable insertion by time.
    uint32_t at = show->event_count - 1;
    while (at > 0 && made->cues[made->events[made->order[at - 1]].cue].time_us > r->time_us) {
        made->order[at] = made->order[at - 1];
        at--;
    }
    made->order[at] = show->event_count - 1;
}

static made_show *make_show(const row *rows, size_t count) {
    made_show *made = calloc(1, sizeof *made);
    assert_non_null(made);
    assert_true(count <= MAX_CUES);
    static const char *names[CHANNELS];
    memcpy(names, channel_names, sizeof names);
    made->profile = (sm_profile){.channels = names, .home = homes, .channel_count = CHANNELS};
    for (uint32_t f = 0; f < FIXTURES; f++)
        made->fixtures[f] = (sm_fixture){.profile = 0, .channel_base = f * CHANNELS};
    made->show = (sm_show){.profiles = &made->profile,
                           .profile_count = 1,
                           .fixtures = made->fixtures,
                           .fixture_count = FIXTURES,
                           .cues = made->cues,
                           .events = made->events,
                           .levels = made->levels,
                           .order = made->order,
                           .channel_count = WIDE};
    for (size_t i = 0; i < count; i++)
        add_row(made, &rows[i]);
    return made;
}

// ---- the rules one by one, on channel 0 of fixture 0 (home 0)
// ---------------------------------------------------

typedef struct point {
    sm_us at_us;
    uint8_t level; // with what is due at that moment
} point;

static void check_points(const row *rows, size_t row_count, uint32_t channel, const point *points,
                         size_t count) {
    made_show *made = make_show(rows, row_count);
    sm_dmx_timeline *timeline = NULL;
    assert_int_equal(sm_dmx_timeline_create(&made->show, &timeline), SM_OK);
    for (size_t i = 0; i < count; i++) {
        sm_show_time at = {points[i].at_us};
        sm_dmx_channel now = sm_dmx_channel_at(timeline, channel, at, true);
        assert_int_equal(sm_dmx_channel_level(&now, at), points[i].level);
    }
    sm_dmx_timeline_destroy(timeline);
    free(made);
}
#define CHECK_POINTS(rows, channel, points)                                                                  \
    check_points(rows, sizeof(rows) / sizeof *(rows), channel, points, sizeof(points) / sizeof *(points))

static void a_fade_starts_from_the_level_of_that_moment(void **state) {
    (void)state;
    static const row rows[] = {{0, 100, 0, 0, 1, {200}}, {50, 100, 0, 0, 1, {0}}};
    static const point points[] = {{-1, 0}, {0, 0}, {25, 50}, {50, 100}, {100, 50}, {150, 0}, {1000, 0}};
    CHECK_POINTS(rows, 0, points);
}

static void a_later_cue_ends_a_fade_and_cancels_the_return(void **state) {
    (void)state;
    static const row rows[] = {{0, 100, 120, 0, 1, {200}}, {50, 0, 0, 0, 1, {10}}};
    static const point points[] = {{49, 98}, {50, 10}, {100, 10}, {120, 10}, {121, 10}, {5000, 10}};
    CHECK_POINTS(rows, 0, points);
}

static void a_return_is_at_once(void **state) {
    (void)state;
    static const row rows[] = {{0, 10, 100, 0, 3, {200, 200}}};
    static const point dim[] = {{10, 200}, {99, 200}, {100, 0}, {101, 0}};
    static const point red[] = {{-1, 7}, {10, 200}, {99, 200}, {100, 7}, {101, 7}};
    static const point green[] = {{-1, 255}, {50, 255}, {100, 255}};
    CHECK_POINTS(rows, 0, dim);
    CHECK_POINTS(rows, 1, red);
    CHECK_POINTS(rows, 2, green);
}

static void a_return_due_as_the_next_cue_begins_comes_first(void **state) {
    (void)state;
    static const row rows[] = {{0, 0, 100, 0, 1, {200}}, {100, 100, 0, 0, 1, {100}}};
    static const point points[] = {{99, 200}, {100, 0}, {150, 50}, {200, 100}};
    CHECK_POINTS(rows, 0, points);
}

static void lasts_shorter_than_fade_cuts_the_fade(void **state) {
    (void)state;
    static const row rows[] = {{0, 100, 50, 0, 1, {200}}};
    static const point points[] = {{49, 98}, {50, 0}, {100, 0}};
    CHECK_POINTS(rows, 0, points);
}

static void cues_of_one_moment_act_in_table_order(void **state) {
    (void)state;
    static const row rows[] = {
        {100, 0, 0, 0, 1, {40}}, {0, 0, 0, 0, 1, {200}}, {100, 10, 0, 0, 1, {80}}, {100, 10, 0, 1, 1, {9}}};
    static const point points[] = {{99, 200}, {100, 40}, {105, 60}, {110, 80}};
    CHECK_POINTS(rows, 0, points);
}

static void what_is_due_at_the_moment_counts_only_when_asked(void **state) {
    (void)state;
    static const row rows[] = {{0, 0, 100, 0, 1, {200}}};
    made_show *made = make_show(rows, 1);
    sm_dmx_timeline *timeline = NULL;
    assert_int_equal(sm_dmx_timeline_create(&made->show, &timeline), SM_OK);
    sm_show_time begin = {0}, end = {100};
    sm_dmx_channel before = sm_dmx_channel_at(timeline, 0, begin, false);
    assert_true(before.event == SM_NONE && !before.return_pending);
    sm_dmx_channel lit = sm_dmx_channel_at(timeline, 0, end, false);
    assert_int_equal(sm_dmx_channel_level(&lit, end), 200);
    assert_true(lit.event == 0 && lit.return_pending && lit.return_at.us == 100);
    sm_dmx_channel home = sm_dmx_channel_at(timeline, 0, end, true);
    assert_int_equal(sm_dmx_channel_level(&home, end), 0);
    assert_true(home.event == 0 && !home.return_pending && home.from == 0 && home.to == 0);
    sm_dmx_timeline_destroy(timeline);
    free(made);
}

static void firings_and_lost_profiles_are_no_steps(void **state) {
    (void)state;
    static const row rows[] = {{0, 0, 0, 0, 1, {200}}, {10, 0, 0, 0, 1, {100}}};
    made_show *made = make_show(rows, 2);
    made->cues[0].kind = SM_CUE_FIRE; // its target is then a firing, not a fixture
    made->cues[0].level_count = 0;
    made->events[0].target = 4000000000; // far outside the fixtures
    made->fixtures[1].profile = SM_NONE; // as a show kept in spite of errors has it
    sm_dmx_timeline *timeline = NULL;
    assert_int_equal(sm_dmx_timeline_create(&made->show, &timeline), SM_OK);
    size_t count = 0;
    const sm_dmx_step *steps = sm_dmx_steps(timeline, 0, &count);
    assert_int_equal(count, 1);
    assert_true(steps[0].event == 1 && steps[0].from == 0 && steps[0].to == 100);
    sm_dmx_timeline_destroy(timeline);
    free(made);
}

static void a_show_without_fixtures_has_an_empty_timeline(void **state) {
    (void)state;
    sm_show show = {0};
    sm_dmx_timeline *timeline = NULL;
    assert_int_equal(sm_dmx_timeline_create(&show, &timeline), SM_OK);
    assert_non_null(timeline);
    sm_dmx_timeline_destroy(timeline);
    sm_dmx_timeline_destroy(NULL);
}

// ---- random lists against a simulation
// ----------------------------------------------------------------------------

// xorshift64 (Marsaglia 2003); any mixing would do, it only has to be the same everywhere.
static uint32_t draw(uint64_t *seed, uint32_t below) {
    *seed ^= *seed << 13;
    *seed ^= *seed >> 7;
    *seed ^= *seed << 17;
    return (uint32_t)(*seed >> 33) % below;
}

// One channel as the rules of cues.csv play it, microsecond after microsecond.
typedef struct player {
    double from, to;
    sm_us began_us, fade_us, return_us;
    bool returns;
    uint32_t told_by;
    uint8_t told_from;
    size_t steps;
} player;

static int player_level(const player *p, sm_us now_us) {
    if (now_us - p->began_us >= p->fade_us)
        return (int)p->to;
    double way = p->from + (p->to - p->from) * (double)(now_us - p->began_us) / (double)p->fade_us;
    return (int)(way + 0.5);
}

static void player_rest(player *p, double level, sm_us now_us) {
    p->from = p->to = level;
    p->began_us = now_us;
    p->fade_us = 0;
    p->returns = false;
}

static void player_tell(player *p, const row *r, uint8_t level, uint32_t event) {
    p->from = player_level(p, r->time_us);
    p->to = level;
    p->began_us = r->time_us;
    p->fade_us = r->fade_us;
    p->returns = r->lasts_us > 0;
    p->return_us = r->time_us + r->lasts_us;
    p->told_by = event;
    p->told_from = (uint8_t)p->from;
    p->steps++;
}

static void check_channel(const sm_dmx_timeline *timeline, uint32_t channel, const player *p, sm_us now_us,
                          bool including) {
    sm_show_time at = {now_us};
    sm_dmx_channel got = sm_dmx_channel_at(timeline, channel, at, including);
    assert_int_equal(sm_dmx_channel_level(&got, at), player_level(p, now_us));
    assert_int_equal(got.event, p->told_by);
    assert_int_equal(got.return_pending, p->returns);
    if (p->returns)
        assert_int_equal(got.return_at.us, p->return_us);
    assert_int_equal(sm_dmx_steps_before(timeline, channel, at, including), p->steps);
    if (including && p->steps > 0) {
        size_t count;
        const sm_dmx_step *step = &sm_dmx_steps(timeline, channel, &count)[p->steps - 1];
        assert_int_equal(step->event, p->told_by);
        assert_int_equal(step->from, p->told_from);
    }
}

// Plays ROWS from -30 to 300 us, and at each microsecond holds all channels against the timeline, before and
// after what is due then.
static void play_and_compare(const row *rows, uint32_t count, const sm_dmx_timeline *timeline) {
    player players[WIDE];
    for (uint32_t c = 0; c < WIDE; c++) {
        players[c] = (player){.told_by = SM_NONE};
        player_rest(&players[c], homes[c % CHANNELS], -1000);
    }
    for (sm_us now_us = -30; now_us <= 300; now_us++) {
        for (uint32_t c = 0; c < WIDE; c++)
            check_channel(timeline, c, &players[c], now_us, false);
        for (uint32_t c = 0; c < WIDE; c++)
            if (players[c].returns && players[c].return_us == now_us)
                player_rest(&players[c], homes[c % CHANNELS], now_us);
        for (uint32_t r = 0; r < count; r++)
            for (uint32_t c = 0; c < CHANNELS && rows[r].time_us == now_us; c++)
                if ((rows[r].mask >> c & 1) != 0)
                    player_tell(&players[rows[r].fixture * CHANNELS + c], &rows[r], rows[r].levels[c], r);
        for (uint32_t c = 0; c < WIDE; c++)
            check_channel(timeline, c, &players[c], now_us, true);
    }
    for (uint32_t c = 0; c < WIDE; c++) {
        size_t step_count;
        sm_dmx_steps(timeline, c, &step_count);
        assert_int_equal(step_count, players[c].steps);
    }
}

// The states of CHANNEL one by one join without a gap, and say of each microsecond what the timeline says; the part of one that is
// in a range is where it is sampled to be.
static void compare_segments(const sm_dmx_timeline *timeline, uint32_t channel, sm_range range) {
    sm_dmx_segments segments = sm_dmx_segments_of(timeline, channel);
    sm_dmx_channel state;
    sm_show_time end, now = {-30}, from, to;
    bool first = true;
    while (sm_dmx_segments_next(&segments, &state, &end)) {
        bool in = sm_dmx_channel_within(&state, range, end, &from, &to);
        assert_true(first ? state.event == SM_NONE : state.began.us == now.us);
        first = false;
        for (; now.us < end.us && now.us <= 300; now.us++) {
            sm_dmx_channel expected = sm_dmx_channel_at(timeline, channel, now, true);
            uint8_t level = sm_dmx_channel_level(&expected, now);
            assert_int_equal(sm_dmx_channel_level(&state, now), level);
            assert_int_equal(state.event, expected.event);
            assert_int_equal(in && now.us >= from.us && now.us < to.us,
                             level >= range.low && level <= range.high);
        }
        if (now.us > 300)
            return;
    }
    fail_msg("the states end at %lld us", (long long)now.us);
}

// Times are few, so that returns, ends of fades and beginnings meet often.
static uint32_t draw_rows(uint64_t *seed, row *rows) {
    uint32_t count = draw(seed, MAX_CUES + 1);
    for (uint32_t r = 0; r < count; r++) {
        uint32_t spacing = draw(seed, 2) == 0 ? 10 : 1;
        rows[r] = (row){.time_us = (sm_us)(draw(seed, 220 / spacing) * spacing) - 20,
                        .fade_us = draw(seed, 3) == 0 ? 0 : draw(seed, 60 / spacing) * spacing,
                        .lasts_us = draw(seed, 3) == 0 ? 0 : draw(seed, 60 / spacing) * spacing,
                        .fixture = draw(seed, FIXTURES),
                        .mask = 1 + draw(seed, (1U << CHANNELS) - 1)};
        for (int c = 0; c < CHANNELS; c++)
            rows[r].levels[c] = (uint8_t)draw(seed, 256);
    }
    return count;
}

static void random_lists_equal_a_simulation(void **state) {
    (void)state;
    int lists = getenv("SLOWMATCH_SOAK") ? 20000 : 200;
    for (int i = 0; i < lists; i++) {
        uint64_t seed = 0x9E3779B97F4A7C15U * (uint64_t)(i + 1);
        row rows[MAX_CUES];
        uint32_t count = draw_rows(&seed, rows);
        made_show *made = make_show(rows, count);
        sm_dmx_timeline *timeline = NULL;
        assert_int_equal(sm_dmx_timeline_create(&made->show, &timeline), SM_OK);
        play_and_compare(rows, count, timeline);
        for (uint32_t c = 0; c < WIDE; c++) {
            uint8_t low = (uint8_t)draw(&seed, 256), high = (uint8_t)(low + draw(&seed, 256u - low));
            compare_segments(timeline, c, (sm_range){low, high});
        }
        sm_dmx_timeline_destroy(timeline);
        free(made);
    }
}

int main(void) {
    static const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_fade_starts_from_the_level_of_that_moment),
        cmocka_unit_test(a_later_cue_ends_a_fade_and_cancels_the_return),
        cmocka_unit_test(a_return_is_at_once),
        cmocka_unit_test(a_return_due_as_the_next_cue_begins_comes_first),
        cmocka_unit_test(lasts_shorter_than_fade_cuts_the_fade),
        cmocka_unit_test(cues_of_one_moment_act_in_table_order),
        cmocka_unit_test(what_is_due_at_the_moment_counts_only_when_asked),
        cmocka_unit_test(firings_and_lost_profiles_are_no_steps),
        cmocka_unit_test(a_show_without_fixtures_has_an_empty_timeline),
        cmocka_unit_test(random_lists_equal_a_simulation),
    };
    return cmocka_run_group_tests_name("dmx_timeline", tests, NULL, NULL);
}
