// SPDX-License-Identifier: GPL-3.0-or-later
// The rules. A new one is a row here and a function in its family's file. Rules that one function judges together stand
// together: it then runs once. Sources say how they are known: read (in the text itself), second-hand (in a public text
// that quotes it), from memory, common practice, the product's own.
#include "check/rule.h"

#include <assert.h>
#include <string.h>

#define OWN "slowmatch's own rule"
#define CAUTION " Local law, the maker's data and the licensed operator go first."

static const sm_check_rule rules[] = {
    // ---- files
    {"allow-unused", SM_CHECK_FILES, SM_NOTE, 0, NULL, "an allow comment lets nothing pass", OWN,
     "`# allow RULE: reason` stands in a comment record right above the row that the warning is about. "
     "Errors and notes "
     "are not let pass. Told with the report, once all else is known."},

    // ---- time
    {"before-start", SM_CHECK_TIME, SM_ERROR, CHECK_NEEDS_CUES, check_time,
     "a cue would have to be fired or set before the countdown begins", OWN,
     "The module counts down from minus `countdown`. A fire time is the cue's time less the effect's lead; "
     "one before "
     "that moment is passed over. Move the cue, or lengthen the countdown."},
    {"past-end", SM_CHECK_TIME, SM_ERROR, CHECK_NEEDS_CUES, check_time,
     "a cue stands after the show's length", OWN,
     "The show ends at `length`, after all that is due then. What burns past it is no finding. Move the cue, "
     "or give "
     "the show a later end."},
    {"out-of-order", SM_CHECK_TIME, SM_NOTE, CHECK_NEEDS_CUES, check_time,
     "a cue is earlier than the row above it", OWN,
     "Cues run by time, whatever their order in the table. Often it is a mistyped minute."},
    {"audio-missing", SM_CHECK_TIME, SM_ERROR, CHECK_NEEDS_AUDIO, check_audio,
     "show.ini names an audio file that cannot be played", OWN,
     "The file must lie in the show's folder and be of a kind that can be decoded. A show without `audio` is "
     "a silent "
     "show, and no finding."},
    {"audio-short", SM_CHECK_TIME, SM_WARNING, CHECK_NEEDS_AUDIO, check_audio,
     "the audio ends before the last event", OWN,
     "Perhaps the wrong cut of the music, or `audio-start` is wrong."},
    {"audio-damaged", SM_CHECK_TIME, SM_NOTE, CHECK_NEEDS_AUDIO, check_audio,
     "only a part of the audio file can be played", OWN,
     "The file can be opened, and something is wrong with it; the message says what. Make it again from its "
     "source."},
    {"lead-unknown", SM_CHECK_TIME, SM_WARNING, CHECK_NEEDS_FIRINGS, check_lead,
     "an aerial that is fired has no lead",
     "common practice: comets and mines are seen 0.1 to 0.3 s after firing, shells 1.5 to 4 s (from memory)",
     "Without a lead the module fires at the cue's time, and the audience sees it late. Ask the maker; 0 s "
     "is a lead "
     "too."},
    {"expect-differs", SM_CHECK_TIME, SM_WARNING, 0, check_expect,
     "a total is not the one that [expect] states", OWN,
     "[expect] holds the folder against totals that you wrote down elsewhere. One of the two is not the show "
     "you mean."},

    {"misfire-wait-short", SM_CHECK_TIME, SM_WARNING, 0, check_waits,
     "misfire-wait is shorter than reentry-wait", OWN,
     "With a misfire not reported the longer of the two holds, everywhere. A misfire-wait under the other is "
     "never what "
     "you wait." CAUTION},

    // ---- slots
    {"slot-reused", SM_CHECK_SLOTS, SM_ERROR, CHECK_NEEDS_FIRINGS, check_slot_reuse, "a slot is fired twice",
     OWN,
     "An igniter fires once. The second firing would be logged as spent. Give the later cue a slot of its "
     "own."},
    {"rail-overlap", SM_CHECK_SLOTS, SM_ERROR, CHECK_NEEDS_RAILS | CHECK_NEEDS_MODULES, check_rails,
     "two rails take the same output of a module", OWN,
     "Rail `first` and `slots` say which outputs it takes. Firing that output would fire both."},
    {"rail-past-module", SM_CHECK_SLOTS, SM_ERROR, CHECK_NEEDS_RAILS | CHECK_NEEDS_MODULES, check_rails,
     "a rail takes outputs that its module does not have", OWN,
     "Move the rail, shorten it, or correct the module's slots."},
    {"gap-short", SM_CHECK_SLOTS, SM_ERROR, CHECK_NEEDS_FIRINGS, check_firing_times,
     "two firings of a module are nearer than its gap, and not at one instant",
     "the module's `gap`: its maker's figure",
     "Judged by fire time, not by cue time: different leads bring firings together. Bring them to one "
     "instant, or apart."},
    {"too-many-at-once", SM_CHECK_SLOTS, SM_ERROR, CHECK_NEEDS_FIRINGS | CHECK_TELLS_EACH, check_firing_times,
     "a module fires more than at_once slots within one pulse", "the module's `at_once`: its maker's figure",
     "Counted in any half-open window of one pulse, by fire time. Spread them, or move some to another "
     "module."},

    // ---- firing line
    {"current-low", SM_CHECK_FIRING_LINE, SM_ERROR, CHECK_NEEDS_FIRINGS, check_current,
     "an igniter gets too little current at worst: error under what it needs, warning under 1.5 times",
     "Ohm's law at each node; copper by IEC 60028 (second-hand), AWG by ASTM B258 (second-hand), stranded by "
     "ASTM "
     "B496 (read), mm2 by the IEC 60228 class 5 maximum (second-hand); 20 mohm a joint and 1.5 are common "
     "practice",
     "Worst case: volts_low, hot copper as poor as its standard allows, every joint, the upper tolerance, "
     "and in "
     "parallel the others at their lower, as is all that fires in the same pulse. Thicker or shorter cable, "
     "fewer "
     "at once, fewer in series or parallel." CAUTION},
    {"pulse-short", SM_CHECK_FIRING_LINE, SM_ERROR, CHECK_NEEDS_FIRINGS, check_current,
     "the pulse gives an igniter too little impulse at worst: error against its own figure, warning against "
     "the one taken",
     "impulse: the maker's data; else all_fire held for 20 ms (a trade article says 5 to 20 ms, second-hand; "
     "EN 13763-1 "
     "class I 0.5 to 8 mJ/ohm, from memory); capacitor: textbook RC",
     "Worst current squared times the pulse; of a module with a capacitance, what its capacitor gives in the "
     "pulse, "
     "drained by the firings before and charged between through charge_ohms. A longer pulse, fewer at once, "
     "more time "
     "between." CAUTION},
    {"charge-unknown", SM_CHECK_FIRING_LINE, SM_WARNING, CHECK_NEEDS_MODULES, check_charge,
     "a module has a capacitance and no charge_ohms, or the other way round", OWN,
     "Without the resistance through which it is charged, nobody knows how full the capacitor is at the next "
     "firing."},
    {"test-current-high", SM_CHECK_FIRING_LINE, SM_ERROR, CHECK_NEEDS_MODULES, check_test_current,
     "a module's test current is above the lesser of 50 mA and a tenth of no_fire",
     "common practice; NASA-STD-8719.24 annex 13.8.1.1.1 (read) gives 50 mA or a tenth of the no-fire energy",
     "A continuity test passes current through live igniters. Only a tester made for it, and nobody at "
     "product." CAUTION},
    {"cable-unknown", SM_CHECK_FIRING_LINE, SM_WARNING, CHECK_NEEDS_RAILS | CHECK_NEEDS_FIRINGS, check_cable,
     "a rail in use has 0 m of cable", OWN,
     "Without its length, what the rail should read and the firing current are guesses."},

    // ---- DMX
    {"address-range", SM_CHECK_DMX, SM_ERROR, CHECK_NEEDS_FIXTURES, check_addresses,
     "a fixture's channels are not all within addresses 1 to 512",
     "ANSI E1.11 (second-hand): 512 slots a universe",
     "The first address and as many as the profile has channels. Give it a lower address or another "
     "universe."},
    {"address-overlap", SM_CHECK_DMX, SM_ERROR, CHECK_NEEDS_FIXTURES, check_addresses,
     "two fixtures share an address of a universe", OWN,
     "A lamp patched over a flame unit drives the flame. Even lamps that should do the same get an address "
     "each here, so "
     "that a flame unit can never hide among them."},
    {"addresses-exchanged", SM_CHECK_DMX, SM_NOTE, CHECK_NEEDS_LINES, check_address_order,
     "two units of one kind have each other's address, by the order of their line", OWN,
     "All units of a profile on a line rise from the source on, but for two that stand in each other's "
     "place: one would "
     "light where the other is meant."},
    {"too-brief", SM_CHECK_DMX, SM_WARNING, CHECK_NEEDS_FIXTURES | CHECK_NEEDS_CUES, check_fixture_times,
     "a level or a flame holds for less than two refreshes of the sender",
     "[dmx] refresh: the sender's figure (real senders run 20 to 44 Hz, common practice); never faster than "
     "all 512 slots, "
     "104 + 44 x 513 us (ANSI E1.11, second-hand)",
     "DMX is sampled, and slowly: what comes and goes between two packets is never seen. Two refreshes make "
     "sure of one "
     "whole one, if the sender keeps to its figure: E1.11 lets it take up to a second."},
    {"two-at-once", SM_CHECK_DMX, SM_WARNING, CHECK_NEEDS_FIXTURES | CHECK_NEEDS_CUES, check_fixture_times,
     "a channel is told two things at one moment, or while a fade runs", OWN,
     "The later row of the table wins at one moment; a cue ends a fade that runs. Also told when both say "
     "the same level: "
     "change one and forget the other, and it shows."},
    {"line-loads", SM_CHECK_DMX, SM_WARNING, CHECK_NEEDS_LINES, check_lines, "a line has over 32 fixtures",
     "EIA-485 by way of E1.11 (second-hand): 32 unit loads a segment", "Put a repeater, or make two lines."},
    {"line-length", SM_CHECK_DMX, SM_ERROR, CHECK_NEEDS_LINES, check_lines,
     "a line is long: warning over 300 m, error over 500 m",
     "common practice (second-hand; public texts disagree)",
     "Lengths of `cables` in all. Put a repeater, or take a shorter way."},
    {"line-cable-short", SM_CHECK_DMX, SM_WARNING, CHECK_NEEDS_LINES | CHECK_NEEDS_POSITIONS, check_lines,
     "a cable is shorter than the distance on the ground with slack", OWN,
     "The straight line between the two positions and the line's `slack`. Cables that go round or up need "
     "more."},
    {"universe-mixed", SM_CHECK_DMX, SM_WARNING, CHECK_NEEDS_LINES, check_lines,
     "a fixture stands on a line of another universe", OWN, "It would listen to what was meant for others."},
    {"line-missing", SM_CHECK_DMX, SM_WARNING, CHECK_NEEDS_FIXTURES, check_line_members,
     "a fixture is on no line (one note for all where there is no lines.csv)", OWN,
     "A fixture that no cable reaches does nothing; or the line is not in the file, and nobody has counted "
     "its loads."},
    {"line-twice", SM_CHECK_DMX, SM_NOTE, CHECK_NEEDS_FIXTURES, check_line_members,
     "a fixture is on two lines, or twice on one", OWN,
     "A fixture has one input. One of the two is a mistake."},

    // ---- flame. Judged from the spans that the DMX rules above found.
    {"hazard-unmarked", SM_CHECK_FLAME, SM_ERROR, CHECK_NEEDS_FIXTURES, check_hazard_marks,
     "a profile has a channel that sounds like flame and no hazard mark", OWN,
     "Without the mark its unit is a lamp to every rule, every inhibit and every pause here. Mark it "
     "`flame`, with enable "
     "and fire; or call the channel by what it does." CAUTION},
    {"wire-withheld", SM_CHECK_FLAME, SM_NOTE, CHECK_NEEDS_FIXTURES | CHECK_TELLS_EACH, check_wire,
     "a universe with lights that --lights never sends", OWN,
     "A universe is sent only where lights alone are patched in it (`wire` light in profiles.csv), none past "
     "address 512, no two on "
     "one address, none on a line of another universe. Patch whatever else there is in a universe of its "
     "own, on a line of its own: "
     "home levels protect nobody where another source sends too, only not sending does."},
    {"flame-not-enabled", SM_CHECK_FLAME, SM_ERROR, CHECK_NEEDS_FIXTURES | CHECK_NEEDS_CUES,
     check_flame_times, "flame is told while the enable channel is out of its range",
     "the profile's ranges: the maker's data",
     "The unit makes no flame then, or a shorter one than the cue says. Open the enable first, close it "
     "after."},
    {"enable-left-open", SM_CHECK_FLAME, SM_WARNING, CHECK_NEEDS_FIXTURES | CHECK_NEEDS_CUES,
     check_flame_times, "an enable stays open for over 10 s without flame", OWN " (10 s is its own figure)",
     "From its opening, or from the last flame, to the next flame or the closing. An open enable is one "
     "wrong level away "
     "from a flame. Open it shortly before, close it after." CAUTION},
    {"flame-too-long", SM_CHECK_FLAME, SM_ERROR, CHECK_NEEDS_FIXTURES | CHECK_NEEDS_CUES, check_flame_times,
     "a flame is longer than its unit allows", "the profile's `longest`: the maker's data",
     "Flames that follow without a gap count as one."},
    {"recover-short", SM_CHECK_FLAME, SM_ERROR, CHECK_NEEDS_FIXTURES | CHECK_NEEDS_CUES, check_flame_times,
     "a flame follows sooner than its unit recovers", "the profile's `recover`: the maker's data",
     "From the end of a flame to the beginning of the next."},
    {"fuel-short", SM_CHECK_FLAME, SM_ERROR, CHECK_NEEDS_FIXTURES | CHECK_NEEDS_CUES, check_flame_times,
     "a unit burns more fuel than it carries", "the profile's `burn`: the maker's data",
     "Seconds of flame times burn, against the fixture's fuel; of a gas, mass against mass. Nothing is added "
     "for tests, cold "
     "or age: a cold cylinder gives less than it holds."},
    {"fuel-mixed", SM_CHECK_FLAME, SM_ERROR, CHECK_NEEDS_FIXTURES | CHECK_NEEDS_CUES, check_flame_times,
     "a unit burns gas by mass and its fuel is told by volume, or the other way round", OWN,
     "What is drawn of a gas is mass: burn in g/s, and fuel what the cylinder holds, in g."},
    {"clear-short", SM_CHECK_FLAME, SM_ERROR, CHECK_NEEDS_FIXTURES | CHECK_NEEDS_POSITIONS, check_flame_clear,
     "a unit stands nearer to the audience front, or to people, than its maker allows",
     "the profile's `clear`: the maker's data",
     "The position's y less `audience`, and the way to positions that hold people or a hospital. There is no "
     "fixed table of distances for flame (NFPA 160, "
     "second-hand): the maker's "
     "figure and the approved plan hold. Not shorter than the figure used is no assurance; measure on "
     "site." CAUTION},

    // ---- mains
    {"feed-loop", SM_CHECK_MAINS, SM_ERROR, CHECK_NEEDS_FEEDS, check_feeds, "a feed hangs on itself", OWN,
     "Follow `from` back: it must end at the supply."},
    {"breaker-over", SM_CHECK_MAINS, SM_ERROR, CHECK_NEEDS_FEEDS, check_feeds,
     "a feed carries too much: error above its breaker, warning above 80 % of it",
     "NEC 210.20(A) (read): 80 % of the breaker for continuous load (three hours and more, from memory)",
     "Volt-amperes of its own and all downstream, over its volts (a profile's va, else its watts). What "
     "burns all "
     "evening, also before and after the show, is continuous; the cues alone are not." CAUTION},
    {"inrush-over", SM_CHECK_MAINS, SM_WARNING, CHECK_NEEDS_FEEDS, check_feeds,
     "what a feed's units take when they are switched on at one moment may trip its breaker",
     "IEC 60898 type B (from memory): trips at once from 3 to 5 times its rating",
     "The profiles' `inrush` of its own and all downstream, against 3 times the breaker. Switch them on one "
     "after the "
     "other, or ask for a breaker of type C."},
    {"cord-drop", SM_CHECK_MAINS, SM_ERROR, CHECK_NEEDS_FEEDS, check_feeds,
     "volts lost over the cords back to the supply: of a public supply warning over 3 %, error over 5 %; of "
     "a private one "
     "6 and 8 %",
     "IEC 60364-5-52 Annex G and its table G.52.1 (read; 0.0225 ohm mm2/m and 0.08 mohm/m from memory); 3 "
     "and 5 % also "
     "NEC 210.19(A) Note 4 (second-hand)",
     "2 L (0.0225 cos phi / S + 0.08 mohm/m sin phi) I for each cord, summed; cos phi is watts over va. The "
     "lower figure "
     "is for lighting, the higher for other loads; `supply` of the first feed says whose it is. What the "
     "table allows "
     "beyond 100 m is not taken. Units that reset when everything fires at once often hang on a long thin "
     "cord."},
    {"cord-hot", SM_CHECK_MAINS, SM_ERROR, CHECK_NEEDS_FEEDS, check_feeds,
     "a cord carries more than it is rated for",
     "BS 7671 table 4F3A for mm2 (1.25 second-hand, others from memory); NEC table 400.5(A)(1) column B for "
     "AWG (second-hand)",
     "The next smaller listed size counts. Coiled up, bundled or in the sun it carries less." CAUTION},
    {"cord-breaker", SM_CHECK_MAINS, SM_ERROR, CHECK_NEEDS_FEEDS, check_feeds,
     "the breaker that protects a cord is above what the cord may carry",
     "BS 7671 table 4F3A for mm2 (1.25 second-hand, others from memory); NEC table 400.5(A)(1) column B for "
     "AWG (second-hand)",
     "Its own breaker, else the next one back to the supply. A cord that is thinner than its breaker burns "
     "before the "
     "breaker opens, whatever the show takes." CAUTION},
    {"feed-missing", SM_CHECK_MAINS, SM_ERROR, CHECK_NEEDS_FIXTURES, check_feed_missing,
     "a fixture names a feed that there is not (error), or takes watts and names none (warning)", OWN,
     "What hangs on no feed is in nobody's sum."},

    // ---- ground
    {"fallout-unknown", SM_CHECK_GROUND, SM_WARNING, CHECK_NEEDS_FIRINGS, check_effect_facts,
     "a near effect that is fired has no fallout radius",
     "New York City Fire Code 3309.12.1 (read), as NFPA 1126 (from memory)",
     "Its distance is the larger of 15 ft and twice the fallout radius. Take the radius from the maker's "
     "data."},
    {"calibre-unknown", SM_CHECK_GROUND, SM_WARNING, CHECK_NEEDS_FIRINGS, check_effect_facts,
     "an aerial that is fired has no calibre", SM_SITE_AERIAL_SOURCE,
     "Its distance goes by calibre: 70 ft an inch."},
    {"distance-short", SM_CHECK_GROUND, SM_ERROR, CHECK_NEEDS_FIRINGS | CHECK_NEEDS_POSITIONS,
     check_distances,
     "an effect stands nearer to the audience front, or to what a position holds, than a published figure",
     "aerial " SM_SITE_AERIAL_SOURCE "; twice it to hospitals and the like " SM_SITE_HOSPITAL_SOURCE
     "; ground " SM_SITE_GROUND_SOURCE "; near " SM_SITE_NEAR_SOURCE,
     "Aerial: 70 ft an inch of calibre, rounded up to the half inch. Ground: 75 ft, wheels 125 ft. Near: the "
     "larger of 15 "
     "ft (concussion mortars 25 ft) and twice the fallout radius. Against the front, and on every side "
     "against the "
     "positions whose `holds` says people, vehicles, combustible or hospital; buildings and what is overhead "
     "are not "
     "judged. Not shorter than the figure used is no assurance; measure on site." CAUTION},
    {"particles-near", SM_CHECK_GROUND, SM_WARNING, CHECK_NEEDS_FIRINGS | CHECK_NEEDS_POSITIONS,
     check_distances, "the fallout of a near effect ends less than 10 ft from people", SM_SITE_NEAR_SOURCE,
     "No glowing or flaming particles within 10 ft of people: the fallout radius is taken for how far they "
     "fly. Against "
     "the front and positions that hold people or a hospital." CAUTION},
    {"product-near-flame", SM_CHECK_GROUND, SM_WARNING, CHECK_NEEDS_FIRINGS | CHECK_NEEDS_FIXTURES,
     check_flame_product, "product stands nearer to a flame unit than its maker lets people stand",
     OWN ": no figure for product is known, so the maker's for people (the profile's `clear`) is used",
     "Tubes, strips and igniters in the reach of a flame. Ask the maker, move one of them, or shield "
     "it." CAUTION},
    {"crew-inside", SM_CHECK_GROUND, SM_ERROR, CHECK_NEEDS_FIRINGS | CHECK_NEEDS_POSITIONS, check_crew,
     "the show's lead (error) or a module (warning) stands within the distance of an effect or a flame unit",
     OWN ", with the figures of distance-short and clear-short",
     "[site] lead and the `position` of a module, where they are told. The one who decides, and the key, "
     "stand outside "
     "the danger area." CAUTION},
    {"position-unknown", SM_CHECK_GROUND, SM_WARNING, 0, check_unplaced,
     "what needs a distance has no position (a position that there is not is an error)", OWN,
     "A rail that fires effects with a zone, a flame unit whose maker gives a least distance: without a "
     "place on the ground "
     "no distance can be held against them."},
    {"hold-off", SM_CHECK_GROUND, SM_WARNING, 0, check_holds_off,
     "a row of walk.csv turns off a hold that the walk has on every site", OWN,
     "A row with the name of an item of every site stands in its place, and without yes under hold its "
     "answer no longer "
     "holds the walk. The message says which. Write yes, or say in an allow comment why it holds nothing "
     "here." CAUTION},
};

const sm_check_rule *sm_check_rule_at(size_t index) {
    const size_t own = sizeof rules / sizeof *rules;
    if (index < check_loader_rule_count)
        return &check_loader_rules[index];
    return index - check_loader_rule_count < own ? &rules[index - check_loader_rule_count] : NULL;
}

const sm_check_rule *sm_check_rule_find(const char *id) {
    const sm_check_rule *rule;
    for (size_t i = 0; (rule = sm_check_rule_at(i)); i++)
        if (strcmp(rule->id, id) == 0)
            return rule;
    return NULL;
}

const char *sm_check_family_text(sm_check_family family) {
    static const char *const texts[] = {"files", "time",  "slots", "firing line",
                                        "DMX",   "flame", "mains", "ground"};
    static_assert(sizeof texts / sizeof texts[0] == SM_CHECK_FAMILY_COUNT, "a name for each family");
    return texts[family];
}

void sm_check_rule_needs(const sm_check_rule *rule, sm_text *out) {
    static const char *const words[] = {"cues",  "firings", "modules",   "rails",    "fixtures",
                                        "feeds", "lines",   "positions", "the audio"};
    static_assert(1 << (sizeof words / sizeof words[0] - 1) == CHECK_NEEDS_AUDIO, "a word for each need");
    bool any = false;
    for (size_t i = 0; i < sizeof words / sizeof *words; i++) {
        if ((rule->needs >> i & 1u) == 0)
            continue;
        sm_text_printf(out, "%s%s", any ? ", " : "", words[i]);
        any = true;
    }
    if (!any)
        sm_text_append(out, "-", 1);
}
