// SPDX-License-Identifier: GPL-3.0-or-later
#include "slowmatch/drill.h"

#include <math.h>
#include <stdlib.h>

static int by_value(const void *a, const void *b) {
    double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

double sm_drill_percentile(double *values, size_t count, double p) {
    if (count == 0)
        return (double)NAN;
    qsort(values, count, sizeof *values, by_value);
    double x = p * (double)(count + 1);
    if (!(x >= 1))
        return values[0];
    if (x >= (double)count)
        return values[count - 1];
    size_t k = (size_t)x;
    return values[k - 1] + (x - (double)k) * (values[k] - values[k - 1]);
}
