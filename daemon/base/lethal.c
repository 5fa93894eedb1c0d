/* See trivet/lethal.h. Pure; any thread. */
#include "trivet/lethal.h"

#include <assert.h>
#include <math.h>

void
lethal_rates_build(struct lethal_rates *ret, int32_t reference_mC, int32_t z_mK)
{
    assert(z_mK >= LETHAL_Z_MIN_mK && z_mK <= LETHAL_Z_MAX_mK);
    ret->reference_mC = reference_mC;
    for (int i = 0; i <= 2 * LETHAL_SPAN_C; i++) {
        double rate = (double)LETHAL_ONE * pow(10, (i - LETHAL_SPAN_C) * 1000.0 / z_mK);
        ret->whole[i] = rate < (double)LETHAL_MAX ? (int64_t)rate : LETHAL_MAX;
    }
    for (int i = 0; i < 1000; i++)
        ret->part[i] = (uint32_t)(1048576 * pow(10, (double)i / z_mK));
}
