// SPDX-License-Identifier: GPL-3.0-or-later
// Resistance of copper conductors: as the ideal has it, and the most that a real one may have.
#include "slowmatch/rig.h"

#include <math.h>

// IEC 60028: annealed copper at 20 C, ohm mm2/m, and its temperature coefficient at constant mass, 1/K.
#define COPPER_OHM_MM2_M (1.0 / 58.0)
#define COPPER_ALPHA 0.00393
#define COPPER_REFERENCE_C 20.0

// Stranded over solid of the same metal area: ASTM B496.
#define STRANDED 1.02
// What class 5 may have over ideal copper where IEC 60228 lists no such area: what it has at 0.5 mm2.
#define POOR_COPPER 1.13
// Areas compare with this much room, so that "1.5 mm2" finds 1.5.
#define AREA_ROOM_MM2 1e-6

// IEC 60228:2004 table 3, class 5 (flexible), plain copper: greatest ohm/km at 20 C (second-hand).
static const struct {
    double mm2, ohms_km;
} class_5[] = {{0.5, 39.0}, {0.75, 26.0}, {1.0, 19.5},  {1.5, 13.3}, {2.5, 7.98},
               {4.0, 4.95}, {6.0, 3.30},  {10.0, 1.91}, {16.0, 1.21}};

static double at_celsius(double ohms_20, double celsius) {
    return ohms_20 * (1.0 + COPPER_ALPHA * (celsius - COPPER_REFERENCE_C));
}

double sm_rig_wire_ohms(const sm_gauge *gauge, double length_m, double celsius) {
    return at_celsius(length_m * (COPPER_OHM_MM2_M / gauge->area_mm2 * gauge->factor), celsius);
}

double sm_rig_wire_most_ohms(const sm_gauge *gauge, double length_m, double celsius) {
    for (size_t i = 0; !gauge->is_awg && i < sizeof class_5 / sizeof *class_5; i++)
        if (fabs(gauge->area_mm2 - class_5[i].mm2) < AREA_ROOM_MM2)
            return at_celsius(length_m / 1000.0 * class_5[i].ohms_km * gauge->factor, celsius);
    return sm_rig_wire_ohms(gauge, length_m, celsius) * (gauge->is_awg ? STRANDED : POOR_COPPER);
}
