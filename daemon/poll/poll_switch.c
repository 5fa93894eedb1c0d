/* See the header. */
#include "daemon/poll/poll_switch.h"

void
poll_switch_init(struct poll_switch *of)
{
    *of = (struct poll_switch){.is_told = true};
}

void
poll_switch_take(struct poll_switch *of, enum switch_state seen, uint16_t cause, int64_t at_ms)
{
    const uint8_t enough = seen == SWITCH_UNKNOWN ? POLL_SWITCH_FAILS : POLL_SWITCH_AGREE;
    of->in_row = seen != of->seen ? 1 : of->in_row < UINT8_MAX ? of->in_row + 1 : UINT8_MAX;
    of->seen = seen;
    /* That it cannot be read is told at the beginning as well, when it never could. */
    const bool is_news = seen != of->state || (seen == SWITCH_UNKNOWN && of->cause == 0);
    if (of->in_row < enough || !is_news)
        return;
    of->state = seen;
    of->cause = cause;
    of->since_ms = at_ms;
    of->is_told = false;
}
