// SPDX-License-Identifier: GPL-3.0-or-later
// What is wrong with a rig as a whole.
//
// Terms. As declared, each slot has its own strip slot behind it; readings that disagree are then so many
// independent faults, each with its small rate (evidence.c). A hypothesis claims something else for many
// slots at once, for the price of one prior. Its log odds are: log prior + log likelihood of the readings
// under its claims - log likelihood as declared.
//
// Stages. 1. Each rail by itself: of its whole-rail hypotheses and its open runs, what explains it best. 2.
// Permutations: an assignment of strips to places, where staying in place is worth what stage 1 found. 3.
// Cycles of that permutation, then the explanations of the rails outside cycles. Each is kept when its odds
// are SM_RIG_ODDS_SAID or better and it explains as many readings as its row asks. They concern different
// slots, so all of them hold together; what is still off then remains: independent faults.
#include "rig/diagnose.h"

#include <assert.h>
#include <math.h>
#include <stdlib.h>

typedef struct search {
    rig_evidence evidence;
    rig_claim *claims;   // per slot: as the explanations kept so far have it
    rig_claim *declared; // per slot
    rig_claim *trial;    // of one rail
    double *scratch;     // of one rail
    double *own_log;     // per rail: see rig_permutation_find
    rig_found *found;
    uint32_t found_count;
    uint32_t off;
} search;

typedef struct tally {
    double log_likelihood; // over the declared one
    uint32_t explains, spoils, agrees;
} tally;

static const sm_rail *rail_of(const search *s, uint32_t rail) {
    return &s->evidence.show->rails[rail];
}

static void tally_slot(const search *s, uint32_t slot, rig_claim claim, tally *sum) {
    const rig_evidence *evidence = &s->evidence;
    if (evidence->seen[slot].kind == SM_READ_NOTHING)
        return;
    sum->log_likelihood += rig_evidence_log(evidence, slot, claim) -
                           rig_evidence_log(evidence, slot, rig_claim_declared(evidence, slot));
    bool was_off = rig_evidence_is_off(evidence, slot), fits = rig_evidence_fits(evidence, slot, claim);
    sum->explains += was_off && fits;
    sum->spoils += !was_off && !fits;
    sum->agrees += fits && evidence->seen[slot].kind == SM_READ_OHMS;
}

static tally tally_rail(const search *s, uint32_t rail, const rig_claim *claims) {
    tally sum = {0};
    for (uint32_t i = 0; i < (uint32_t)rail_of(s, rail)->slots; i++)
        tally_slot(s, rail_of(s, rail)->slot_base + i, claims[i], &sum);
    return sum;
}

static bool is_said(const rig_hypothesis *row, double log_odds, uint32_t explains) {
    return log_odds >= log(SM_RIG_ODDS_SAID) && explains >= row->least_explained;
}

static void declare_claims(const search *s, uint32_t rail, rig_claim *claims) {
    for (uint32_t i = 0; i < (uint32_t)rail_of(s, rail)->slots; i++)
        claims[i] = rig_claim_declared(&s->evidence, rail_of(s, rail)->slot_base + i);
}

static void declare_all(const search *s, rig_claim *claims) {
    for (uint32_t slot = 0; slot < s->evidence.show->slot_count; slot++)
        claims[slot] = rig_claim_declared(&s->evidence, slot);
}

// The length of RAIL's cable, out and back, that has OHMS; NAN where no length has.
static double cable_of_m(const search *s, uint32_t rail, double ohms) {
    double metre_ohms =
        2.0 * sm_rig_wire_ohms(&rail_of(s, rail)->cable, 1.0, s->evidence.show->settings.air_c);
    return metre_ohms > 0.0 ? ohms / metre_ohms : NAN;
}

// The NTH proposal of ROW for RAIL and its worth. False when there are no more.
static bool try_proposal(search *s, const rig_hypothesis *row, uint32_t rail, uint32_t nth,
                         rig_proposal *proposal, rig_found *found) {
    *proposal =
        (rig_proposal){.claims = s->trial, .rail = rail, .log_prior = log(row->prior), .whole_rail = true};
    declare_claims(s, rail, s->trial);
    if (!row->propose(&s->evidence, nth, s->scratch, proposal))
        return false;
    tally sum = tally_rail(s, rail, s->trial);
    assert(sum.explains <= s->off); // else `remains` would wrap
    bool offset = row->fault == SM_RIG_RAIL_OFFSET;
    *found = (rig_found){
        .log_odds = proposal->log_prior + sum.log_likelihood,
        .explanation = {.fault = row->fault,
                        .explains = offset ? sum.agrees : sum.explains,
                        .remains = s->off - sum.explains + sum.spoils,
                        .shift = proposal->shift,
                        .ohms = proposal->ohms,
                        .cable_m = offset ? cable_of_m(s, rail, proposal->ohms) : 0.0},
    };
    return true;
}

static bool keep_slots(search *s, const rig_proposal *proposal, sm_rig_explanation *explanation) {
    assert(proposal->first <= proposal->last && proposal->last < (uint32_t)rail_of(s, proposal->rail)->slots);
    uint32_t *slots =
        sm_arena_alloc(s->evidence.arena, (proposal->last - proposal->first + 1) * sizeof *slots);
    if (!slots)
        return false;
    for (uint32_t i = proposal->first; i <= proposal->last; i++) {
        uint32_t slot = rail_of(s, proposal->rail)->slot_base + i;
        if (s->evidence.predictions[slot].loaded)
            slots[explanation->slot_count++] = slot;
    }
    explanation->slots = slots;
    return true;
}

static sm_result keep(search *s, const uint32_t *rails, uint32_t count, rig_found found) {
    uint32_t *copy = sm_arena_alloc(s->evidence.arena, count * sizeof *copy);
    if (!copy)
        return SM_NO_MEMORY;
    for (uint32_t i = 0; i < count; i++)
        copy[i] = rails[i];
    found.explanation.rails = copy;
    found.explanation.rail_count = count;
    found.explanation.odds = fmin(exp(found.log_odds), SM_RIG_ODDS_MAX);
    assert(count > 0 && s->found_count < s->evidence.show->slot_count + s->evidence.show->rail_count);
    s->found[s->found_count++] = found;
    return SM_OK;
}

static sm_result keep_proposal(search *s, const rig_proposal *proposal, rig_found found) {
    if (!proposal->whole_rail && !keep_slots(s, proposal, &found.explanation))
        return SM_NO_MEMORY;
    rig_claim *claims = &s->claims[rail_of(s, proposal->rail)->slot_base];
    uint32_t first = proposal->whole_rail ? 0 : proposal->first;
    uint32_t end = proposal->whole_rail ? (uint32_t)rail_of(s, proposal->rail)->slots : proposal->last + 1;
    for (uint32_t i = first; i < end; i++)
        claims[i] = proposal->claims[i];
    return keep(s, &proposal->rail, 1, found);
}

// What explains RAIL best by itself: one whole-rail hypothesis (*row, *nth) or its open runs (*row is
// theirs), with the log odds of it all; NULL and 0 where nothing does.
static double best_alone(search *s, uint32_t rail, const rig_hypothesis **row, uint32_t *nth) {
    double best = 0.0;
    *row = NULL;
    for (size_t h = 0; h < SM_RIG_FAULT_COUNT; h++) {
        const rig_hypothesis *tried = &rig_hypotheses[h];
        rig_proposal proposal;
        rig_found found;
        double together = 0.0;
        for (uint32_t n = 0; tried->propose && try_proposal(s, tried, rail, n, &proposal, &found); n++) {
            if (!is_said(tried, found.log_odds, found.explanation.explains))
                continue;
            together = proposal.whole_rail ? found.log_odds : together + found.log_odds;
            if (together > best) {
                best = together;
                *row = tried;
                *nth = n;
            }
        }
    }
    return best;
}

static sm_result explain_alone(search *s, uint32_t rail) {
    const rig_hypothesis *row;
    uint32_t nth;
    rig_proposal proposal;
    rig_found found;
    best_alone(s, rail, &row, &nth);
    sm_result result = SM_OK;
    bool runs = row && row->fault == SM_RIG_RUN_OPEN;
    for (uint32_t n = 0; row && result == SM_OK && try_proposal(s, row, rail, n, &proposal, &found); n++)
        if ((runs || n == nth) && is_said(row, found.log_odds, found.explanation.explains))
            result = keep_proposal(s, &proposal, found);
    return result;
}

// The cycle of STRIP_OF that begins at FIRST, into RAILS; returns its length.
static uint32_t cycle_from(const uint32_t *strip_of, uint32_t first, uint32_t *rails) {
    uint32_t length = 0, rail = first;
    do {
        rails[length++] = rail;
        rail = strip_of[rail];
    } while (rail != first);
    return length;
}

// Keeps the cycle RAILS where it is said; *kept tells.
static sm_result explain_cycle(search *s, const uint32_t *rails, uint32_t length, bool *kept) {
    sm_rig_fault fault = length == 2 ? SM_RIG_RAILS_SWAPPED : SM_RIG_RAILS_PERMUTED;
    tally sum = {0};
    double log_prior = 0.0;
    for (uint32_t i = 0; i < length; i++) {
        const sm_rail *rail = rail_of(s, rails[i]);
        uint32_t strip = rails[(i + 1) % length];
        log_prior += rig_permutation_log_prior(&s->evidence, rails[i], strip);
        for (uint32_t slot = rail->slot_base; slot < rail->slot_base + (uint32_t)rail->slots; slot++)
            tally_slot(s, slot, rig_claim_exchanged(&s->evidence, slot, rails[i], strip), &sum);
    }
    rig_found found = {.log_odds = log_prior + sum.log_likelihood,
                       .explanation = {.fault = fault,
                                       .explains = sum.explains,
                                       .remains = s->off - sum.explains + sum.spoils}};
    assert(length > 1 && sum.explains <= s->off);
    *kept = is_said(&rig_hypotheses[fault], found.log_odds, sum.explains);
    if (!*kept)
        return SM_OK;
    for (uint32_t i = 0; i < length; i++) {
        const sm_rail *rail = rail_of(s, rails[i]);
        for (uint32_t slot = rail->slot_base; slot < rail->slot_base + (uint32_t)rail->slots; slot++)
            s->claims[slot] = rig_claim_exchanged(&s->evidence, slot, rails[i], rails[(i + 1) % length]);
    }
    return keep(s, rails, length, found);
}

static sm_result explain_rails(search *s) {
    uint32_t n = s->evidence.show->rail_count;
    uint32_t *strip_of = sm_arena_alloc(s->evidence.arena, n * sizeof *strip_of);
    uint32_t *rails = sm_arena_alloc(s->evidence.arena, n * sizeof *rails);
    bool *done = sm_arena_alloc(s->evidence.arena, n * sizeof *done);
    if (!strip_of || !rails || !done)
        return SM_NO_MEMORY;
    sm_result result = rig_permutation_find(&s->evidence, s->own_log, strip_of);
    for (uint32_t first = 0; first < n && result == SM_OK; first++) {
        if (done[first])
            continue;
        uint32_t length = cycle_from(strip_of, first, rails);
        assert(length >= 1 && length <= n);
        bool kept = false;
        if (length > 1)
            result = explain_cycle(s, rails, length, &kept);
        for (uint32_t i = 0; i < length; i++) {
            done[rails[i]] = true;
            if (!kept && result == SM_OK)
                result = explain_alone(s, rails[i]);
        }
    }
    return result;
}

static sm_result search_init(search *s, const sm_show *show, const sm_read_value *values, const bool *plugged,
                             sm_arena *arena) {
    const size_t slots = show->slot_count, rails = show->rail_count;
    *s = (search){
        .claims = sm_arena_alloc(arena, slots * sizeof *s->claims),
        .declared = sm_arena_alloc(arena, slots * sizeof *s->declared),
        .trial = sm_arena_alloc(arena, slots * sizeof *s->trial),
        .scratch = sm_arena_alloc(arena, slots * sizeof *s->scratch),
        .own_log = sm_arena_alloc(arena, rails * sizeof *s->own_log),
        .found = sm_arena_alloc(arena, (slots + rails) * sizeof *s->found),
    };
    if (!s->claims || !s->declared || !s->trial || !s->scratch || !s->own_log || !s->found)
        return SM_NO_MEMORY;
    sm_result result = rig_evidence_make(show, values, plugged, arena, &s->evidence);
    if (result != SM_OK)
        return result;
    for (uint32_t slot = 0; slot < show->slot_count; slot++)
        s->off += rig_evidence_is_off(&s->evidence, slot);
    return SM_OK;
}

static void find_own_logs(search *s) {
    for (uint32_t rail = 0; rail < s->evidence.show->rail_count; rail++) {
        const rig_hypothesis *row;
        uint32_t nth;
        double log_likelihood = best_alone(s, rail, &row, &nth);
        uint32_t base = rail_of(s, rail)->slot_base;
        for (uint32_t slot = base; slot < base + (uint32_t)rail_of(s, rail)->slots; slot++)
            log_likelihood += rig_evidence_log(&s->evidence, slot, rig_claim_declared(&s->evidence, slot));
        s->own_log[rail] = log_likelihood;
    }
}

// One search. BASELINE: the claims that say what all rails have in common, NULL for nothing; may be s->claims.
static sm_result search_from(search *s, const rig_claim *baseline) {
    sm_result result = rig_baseline_apply(&s->evidence, baseline);
    if (result != SM_OK)
        return result;
    declare_all(s, s->claims);
    s->found_count = 0;
    find_own_logs(s);
    return explain_rails(s);
}

// Log likelihood of all readings as explained, priors included.
static double total_log(const search *s) {
    double sum = 0.0;
    for (uint32_t slot = 0; slot < s->evidence.show->slot_count; slot++)
        sum += rig_evidence_log(&s->evidence, slot, rig_claim_declared(&s->evidence, slot));
    for (uint32_t i = 0; i < s->found_count; i++)
        sum += s->found[i].log_odds;
    return sum;
}

static bool has_exchange(const search *s) {
    for (uint32_t i = 0; i < s->found_count; i++)
        if (!rig_hypotheses[s->found[i].explanation.fault].propose)
            return true;
    return false;
}

// What all rails have in common shows only once it is known which rail is where, and the other way round: rails that
// hang in each other's places look as if they had something in common. So the search is done from both ends, with
// nothing in common and with what the rails as declared have in common; the likelier of the two is done once more from
// what it found.
static sm_result search_all(search *s) {
    declare_all(s, s->declared);
    sm_result result = search_from(s, NULL);
    double without = result == SM_OK ? total_log(s) : 0.0;
    if (result == SM_OK)
        result = search_from(s, s->declared);
    if (result == SM_OK && total_log(s) < without)
        result = search_from(s, NULL);
    return result == SM_OK && has_exchange(s) ? search_from(s, s->claims) : result;
}

static int compare_found(const void *left, const void *right) {
    const rig_found *a = left, *b = right;
    if (a->log_odds != b->log_odds)
        return a->log_odds > b->log_odds ? -1 : 1;
    uint32_t first = a->explanation.rails[0], second = b->explanation.rails[0];
    return first < second ? -1 : first > second;
}

static double mean_meter_error(const search *s, const sm_rail *rail) {
    double sum = 0.0;
    uint32_t count = 0;
    for (uint32_t slot = rail->slot_base; slot < rail->slot_base + (uint32_t)rail->slots; slot++) {
        const sm_read_value seen = s->evidence.seen[slot];
        if (seen.kind == SM_READ_OHMS) {
            sum += sm_rig_meter_error(s->evidence.show, seen.ohms);
            count++;
        }
    }
    return count > 0 ? sum / count : 0.0;
}

// The likelihoods rest on ideal copper and on this meter. Where the rails concerned still read further off than the meter
// may be, their copper is not as taken, and a figure for the odds would be made up.
static bool model_holds(const search *s, const sm_rig_explanation *explanation) {
    for (uint32_t i = 0; i < explanation->rail_count; i++) {
        const sm_rail *rail = rail_of(s, explanation->rails[i]);
        uint32_t count;
        const double off = rig_rail_residual(&s->evidence, explanation->rails[i], &s->claims[rail->slot_base],
                                             s->scratch, &count);
        if (count > 0 && fabs(off - explanation->ohms) > mean_meter_error(s, rail))
            return false;
    }
    return true;
}

static sm_result write_explanations(search *s, sm_rig_diagnosis *out) {
    qsort(s->found, s->found_count, sizeof *s->found, compare_found);
    sm_rig_explanation *list = sm_arena_alloc(s->evidence.arena, s->found_count * sizeof *list);
    if (!list)
        return SM_NO_MEMORY;
    for (uint32_t i = 0; i < s->found_count; i++) {
        list[i] = s->found[i].explanation;
        if (!model_holds(s, &list[i]))
            list[i].odds = (double)NAN;
        list[i].says = rig_explanation_says(&s->evidence, &list[i]);
        if (!list[i].says)
            return SM_NO_MEMORY;
    }
    out->explanations = list;
    out->count = s->found_count;
    return SM_OK;
}

static sm_result write_remaining(const search *s, sm_rig_diagnosis *out) {
    const uint32_t slots = s->evidence.show->slot_count;
    uint32_t *list = sm_arena_alloc(s->evidence.arena, slots * sizeof *list);
    uint32_t *strips = sm_arena_alloc(s->evidence.arena, slots * sizeof *strips);
    sm_verdict *verdicts = sm_arena_alloc(s->evidence.arena, slots * sizeof *verdicts);
    if (!list || !strips || !verdicts)
        return SM_NO_MEMORY;
    for (uint32_t slot = 0; slot < slots; slot++) {
        rig_claim claim = s->claims[slot];
        if (!rig_evidence_fits(&s->evidence, slot, claim)) {
            list[out->remaining_count] = slot;
            strips[out->remaining_count] = claim.strip_slot;
            verdicts[out->remaining_count++] = rig_evidence_verdict(&s->evidence, slot, claim);
        }
    }
    assert(out->remaining_count <= slots);
    out->remaining = list;
    out->remaining_strips = strips;
    out->remaining_verdicts = verdicts;
    return SM_OK;
}

sm_result rig_diagnose_into(const sm_show *show, const sm_read_value *values, const bool *plugged,
                            sm_rig_diagnosis *out) {
    search s;
    sm_result result = search_init(&s, show, values, plugged, out->arena);
    if (result != SM_OK)
        return result;
    out->off = s.off;
    result = search_all(&s);
    if (result == SM_OK)
        result = write_explanations(&s, out);
    return result == SM_OK ? write_remaining(&s, out) : result;
}

sm_result sm_rig_diagnose(const sm_show *show, const sm_read_value *values, const bool *plugged,
                          sm_rig_diagnosis **out) {
    sm_arena *arena = sm_arena_create();
    sm_rig_diagnosis *diagnosis = arena ? sm_arena_alloc(arena, sizeof *diagnosis) : NULL;
    if (!diagnosis) {
        sm_arena_destroy(arena);
        return SM_NO_MEMORY;
    }
    diagnosis->arena = arena;
    sm_result result = rig_diagnose_into(show, values, plugged, diagnosis);
    if (result != SM_OK) {
        sm_arena_destroy(arena);
        return result;
    }
    *out = diagnosis;
    return SM_OK;
}

void sm_rig_diagnosis_destroy(sm_rig_diagnosis *diagnosis) {
    if (diagnosis)
        sm_arena_destroy(diagnosis->arena);
}
