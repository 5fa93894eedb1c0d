/* See the header. */
#include "daemon/poll/poll_signal.h"

#include <stdio.h>

#include "trivet/units.h"

void
poll_signal_init(struct poll_signal *of)
{
    *of = (struct poll_signal){.written_ms = TIME_NONE, .is_told = true};
}

bool
poll_signal_wants(const struct poll_signal *of, const struct plan_signal *plan, bool needed,
                  int64_t now_ms, bool *ret_on)
{
    const bool due = of->written_ms == TIME_NONE || of->failures > 0 ||
                     now_ms - of->written_ms >= plan->heartbeat_ms;
    if (plan->toggles) { /* pulses that stop are the signal */
        *ret_on = !of->is_on;
        return due && !needed;
    }
    *ret_on = needed != plan->on_when_well;
    return due || *ret_on != of->is_on;
}

void
poll_signal_done(struct poll_signal *of, bool on, int64_t now_ms)
{
    of->is_on = on;
    of->written_ms = now_ms;
    of->failures = 0;
    of->trouble[0] = '\0';
    if (!of->faulty)
        return;
    of->faulty = false;
    of->since_ms = now_ms;
    of->is_told = !of->is_told; /* a fault that was never told needs no end */
}

void
poll_signal_failed(struct poll_signal *of, const char *trouble, int64_t now_ms)
{
    if (of->failures == 0) /* what began it says most; cut when too long */
        (void)snprintf(of->trouble, sizeof of->trouble, "%s", trouble);
    if (of->failures < UINT8_MAX)
        of->failures++;
    if (of->faulty || of->failures < POLL_SIGNAL_FAILS)
        return;
    of->faulty = true;
    of->since_ms = now_ms;
    of->is_told = !of->is_told;
}
