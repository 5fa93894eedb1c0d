/* The only file that asks the machine for the time. Any thread. */
#define _GNU_SOURCE /* CLOCK_BOOTTIME */
#include "trivet/clock.h"

#include <stddef.h>
#include <time.h>

static int64_t
read_ms(clockid_t id)
{
    struct timespec now;
    (void)clock_gettime(id, &now); /* cannot fail for a clock Linux always has */
    return (int64_t)now.tv_sec * 1000 + now.tv_nsec / 1000000;
}

static int64_t
mono_ms(void *arg)
{
    (void)arg;
    return read_ms(CLOCK_BOOTTIME);
}

static int64_t
wall_ms(void *arg)
{
    (void)arg;
    return read_ms(CLOCK_REALTIME);
}

struct clock
clock_machine(void)
{
    return (struct clock){.mono_ms = mono_ms, .wall_ms = wall_ms, .arg = NULL};
}
