// SPDX-License-Identifier: GPL-3.0-or-later
#include "published.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdint.h>

#include <cmocka.h>

void published_hold_at(published *family, double value, double expected, double relative, const char *file,
                       int line) {
    const double off = fabs(value - expected) / (expected == 0.0 ? 1.0 : fabs(expected));
    if (!(off <= relative)) {
        print_error("%s: %.9g is not within %.4g %% of %.9g\n", family->family, value, 100.0 * relative,
                    expected);
        _fail(file, line);
    }
    family->values++;
    family->worst = fmax(family->worst, off);
}

void published_print(const published *family) {
    assert_true(family->values > 0);
    print_message("figures: %s, against %s: %zu values, worst deviation %.3g %%\n", family->family,
                  family->source, family->values, 100.0 * family->worst);
}
