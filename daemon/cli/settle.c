/* See settle.h. */
#include "daemon/cli/settle.h"

#include <string.h>

/* Readings are taken from the daemon, within what a probe can show; beyond, products would not
 * fit. */
#define TEMP_MOST_mC 2000000

void
settle_break(struct settle *settle)
{
    settle->count = 0;
}

void
settle_add(struct settle *settle, int64_t at_ms, int32_t temp_mC)
{
    size_t count = settle->count;
    if (count > 0 && at_ms <= settle->at_ms[count - 1])
        return;
    if (temp_mC > TEMP_MOST_mC || temp_mC < -TEMP_MOST_mC) {
        settle_break(settle);
        return;
    }
    if (count == SETTLE_SAMPLES_MAX) {
        memmove(settle->at_ms, settle->at_ms + 1, (count - 1) * sizeof settle->at_ms[0]);
        memmove(settle->temp_mC, settle->temp_mC + 1, (count - 1) * sizeof settle->temp_mC[0]);
        count--;
    }
    settle->at_ms[count] = at_ms;
    settle->temp_mC[count] = temp_mC;
    settle->count = count + 1;
}

static int64_t
divide(int64_t part, int64_t whole)
{
    return part < 0 ? -((-part * 2 + whole) / (2 * whole)) : (part * 2 + whole) / (2 * whole);
}

/* By how much the line through the readings rises over the window, an hour at most. Times are
 * counted in tenths of a second, temperatures in mK from the first reading: with 256 readings
 * up is below 2^8 * 2^8 * 2^16 * 2^22 = 2^54. */
static int64_t
drift_mK(const struct settle *settle, size_t from, int64_t window_ms)
{
    int64_t n = (int64_t)(settle->count - from), t_sum = 0, x_sum = 0, tt_sum = 0, tx_sum = 0;
    for (size_t i = from; i < settle->count; i++) {
        int64_t t = (settle->at_ms[i] - settle->at_ms[from]) / 100;
        int64_t x = (int64_t)settle->temp_mC[i] - settle->temp_mC[from];
        t_sum += t;
        x_sum += x;
        tt_sum += t * t;
        tx_sum += t * x;
    }
    int64_t down = n * tt_sum - t_sum * t_sum;
    int64_t up = n * tx_sum - t_sum * x_sum;
    if (down <= 0)
        return 0; /* all at one instant */
    /* In millionths of a kelvin per tenth of a second, then over the window. */
    int64_t micro = up / down * 1000 + divide(up % down * 1000, down);
    return divide(micro * (window_ms / 100), 1000);
}

enum settle_state
settle_look(const struct settle *settle, int64_t window_ms, struct settle_found *ret)
{
    size_t count = settle->count, from = count;
    if (count == 0)
        return SETTLE_TOO_FEW;
    int64_t begin_ms = settle->at_ms[count - 1] - window_ms;
    while (from > 0 && settle->at_ms[from - 1] >= begin_ms)
        from--;
    /* The window is whole when a reading lies at its beginning or before. One that is too short
     * for a probe that is read seldom is as long as the readings that are needed. */
    bool whole = settle->at_ms[from] == begin_ms || from > 0;
    if (count < SETTLE_SAMPLES_MIN || !whole)
        return SETTLE_TOO_FEW;
    if (count - from < SETTLE_SAMPLES_MIN) {
        from = count - SETTLE_SAMPLES_MIN;
        window_ms = settle->at_ms[count - 1] - settle->at_ms[from];
    }
    int32_t low = settle->temp_mC[from], high = low;
    int64_t sum = 0;
    for (size_t i = from; i < count; i++) {
        low = settle->temp_mC[i] < low ? settle->temp_mC[i] : low;
        high = settle->temp_mC[i] > high ? settle->temp_mC[i] : high;
        sum += settle->temp_mC[i];
    }
    int64_t drift = drift_mK(settle, from, window_ms);
    ret->mean_mC = (int32_t)divide(sum, (int64_t)(count - from));
    ret->spread_mK = high - low;
    ret->drift_mK = drift > INT32_MAX   ? INT32_MAX
                    : drift < INT32_MIN ? INT32_MIN
                                        : (int32_t)drift;
    bool steady = ret->spread_mK <= SETTLE_SPREAD_mK && drift <= SETTLE_DRIFT_mK &&
                  drift >= -SETTLE_DRIFT_mK;
    return steady ? SETTLE_STEADY : SETTLE_MOVING;
}
