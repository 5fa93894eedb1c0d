/* Lethal rates after Bigelow as integers: how much a time at one temperature counts at a
 * reference temperature. Built once, with pow(); whoever decides only looks up and multiplies
 * integers, so that a verdict never depends on a floating-point unit.
 *
 * L = 10^((T - Tref) / z). Bigelow's general method; see docs/engine.md, E100. */
#ifndef TRIVET_LETHAL_H
#define TRIVET_LETHAL_H

#include <stdint.h>

#include "trivet/units.h"

#define LETHAL_ONE      INT64_C(1000000000) /* the rate at the reference temperature */
#define LETHAL_MAX      (1000 * LETHAL_ONE) /* hotter earns no more than this */
#define LETHAL_SPAN_C   120                 /* whole degrees on each side of the reference */
#define LETHAL_Z_MIN_mK 2000
#define LETHAL_Z_MAX_mK 50000

struct lethal_rates {
    int32_t reference_mC;
    int64_t whole[2 * LETHAL_SPAN_C + 1]; /* rates at whole degrees from the reference */
    uint32_t part[1000];                  /* 10^(mK / z) in units of 2^-20 */
};

/* Fills the table; everything is rounded down. z_mK from LETHAL_Z_MIN_mK to LETHAL_Z_MAX_mK. */
void lethal_rates_build(struct lethal_rates *ret, int32_t reference_mC, int32_t z_mK);

/* The rate at a temperature, in units of 1 / LETHAL_ONE, rounded down; 0 further than
 * LETHAL_SPAN_C below the reference. Never falls as the temperature rises. */
static inline int64_t
lethal_rate(const struct lethal_rates *rates, int32_t temp_mC)
{
    int64_t above = (int64_t)temp_mC - rates->reference_mC + LETHAL_SPAN_C * INT64_C(1000);
    if (above < 0)
        return 0;
    if (above > 2 * LETHAL_SPAN_C * INT64_C(1000))
        above = 2 * LETHAL_SPAN_C * INT64_C(1000);
    int64_t rate = rates->whole[above / 1000] * (int64_t)rates->part[above % 1000] >> 20;
    return rate < LETHAL_MAX ? rate : LETHAL_MAX;
}

#endif
