// SPDX-License-Identifier: GPL-3.0-or-later
// A circuit of resistors solved by its node equations (Kirchhoff's current law at each node, Gauss's elimination): what
// firing currents are held against, without any of the formulas of the code under test.
#ifndef SLOWMATCH_TESTS_RIG_NODE_H
#define SLOWMATCH_TESTS_RIG_NODE_H

#include <stddef.h>

#define RIG_NODES 40

typedef struct rig_branch {
    int from, to; // nodes; 0 is at 0 V, 1 at the source's voltage
    double ohms;
} rig_branch;

typedef struct rig_circuit {
    rig_branch branches[8 * RIG_NODES];
    size_t count;
    int nodes;
    double volts;
    double potentials[RIG_NODES]; // after rig_node_solve
} rig_circuit;

// A circuit of the two given nodes and no branch.
void rig_node_init(rig_circuit *circuit, double volts);
int rig_node_add(rig_circuit *circuit);
// Returns the branch's number.
size_t rig_node_branch(rig_circuit *circuit, int from, int to, double ohms);
void rig_node_solve(rig_circuit *circuit);
double rig_node_amps(const rig_circuit *circuit, size_t branch);

#endif
