/* Two clocks, one door. Durations come from mono_ms, what people see from wall_ms, never mixed.
 *
 * Only daemon/clock.c reads the machine's clocks; tests and the simulated past hand in their
 * own. */
#ifndef TRIVET_CLOCK_H
#define TRIVET_CLOCK_H

#include <stdint.h>

struct clock {
    int64_t (*mono_ms)(void *arg); /* never steps; CLOCK_BOOTTIME, so that a suspend counts */
    int64_t (*wall_ms)(void *arg); /* Unix time, may step */
    void *arg;
};

/* The machine's clocks. Any thread. */
struct clock clock_machine(void);

static inline int64_t
clock_mono_ms(const struct clock *clock)
{
    return clock->mono_ms(clock->arg);
}

static inline int64_t
clock_wall_ms(const struct clock *clock)
{
    return clock->wall_ms(clock->arg);
}

#endif
