// SPDX-License-Identifier: GPL-3.0-or-later
#include "rig_node.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#define KNOWN 2 // nodes whose potential is given

void rig_node_init(rig_circuit *circuit, double volts) {
    memset(circuit, 0, sizeof *circuit);
    circuit->nodes = KNOWN;
    circuit->volts = volts;
}

int rig_node_add(rig_circuit *circuit) {
    assert_true(circuit->nodes < RIG_NODES);
    return circuit->nodes++;
}

size_t rig_node_branch(rig_circuit *circuit, int from, int to, double ohms) {
    assert_true(circuit->count < sizeof circuit->branches / sizeof *circuit->branches && ohms > 0.0);
    circuit->branches[circuit->count] = (rig_branch){from, to, ohms};
    return circuit->count++;
}

// One end of BRANCH into the equation of the node at its other end.
static void stamp(double rows[RIG_NODES][RIG_NODES + 1], const rig_circuit *circuit, int node, int other,
                  double siemens) {
    if (node < KNOWN)
        return;
    double *row = rows[node - KNOWN];
    row[node - KNOWN] += siemens;
    if (other >= KNOWN)
        row[other - KNOWN] -= siemens;
    else if (other == 1)
        row[RIG_NODES] += siemens * circuit->volts;
}

static void eliminate(double rows[RIG_NODES][RIG_NODES + 1], int count) {
    for (int pivot = 0; pivot < count; pivot++) {
        int best = pivot;
        for (int i = pivot + 1; i < count; i++)
            best = fabs(rows[i][pivot]) > fabs(rows[best][pivot]) ? i : best;
        double keep[RIG_NODES + 1];
        memcpy(keep, rows[best], sizeof keep);
        memcpy(rows[best], rows[pivot], sizeof keep);
        memcpy(rows[pivot], keep, sizeof keep);
        for (int i = 0; i < count; i++) {
            const double times = i == pivot ? 0.0 : rows[i][pivot] / rows[pivot][pivot];
            for (int j = pivot; j <= RIG_NODES && times != 0.0; j++)
                rows[i][j] -= times * rows[pivot][j];
        }
    }
}

void rig_node_solve(rig_circuit *circuit) {
    double rows[RIG_NODES][RIG_NODES + 1] = {{0}};
    for (size_t i = 0; i < circuit->count; i++) {
        const rig_branch *branch = &circuit->branches[i];
        stamp(rows, circuit, branch->from, branch->to, 1.0 / branch->ohms);
        stamp(rows, circuit, branch->to, branch->from, 1.0 / branch->ohms);
    }
    const int count = circuit->nodes - KNOWN;
    eliminate(rows, count);
    circuit->potentials[1] = circuit->volts;
    for (int i = 0; i < count; i++)
        circuit->potentials[i + KNOWN] = rows[i][RIG_NODES] / rows[i][i];
}

double rig_node_amps(const rig_circuit *circuit, size_t branch) {
    const rig_branch *at = &circuit->branches[branch];
    return (circuit->potentials[at->from] - circuit->potentials[at->to]) / at->ohms;
}
