/* Where the readings of an earlier batch end that count. */
#ifndef ADVICE_EARLIER_CURVE_H
#define ADVICE_EARLIER_CURVE_H

#include "trivet/earlier.h"

int64_t earlier_curve_end_ms(const struct earlier *of, const struct earlier_batch *batch,
                             int64_t head_ms);

#endif
