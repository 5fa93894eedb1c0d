/* Kills the process at a named stage, for the crash tests. Empty in a release build. */
#include "trivet/crash_point.h"

#ifdef TRIVET_CRASH_POINTS
#include <signal.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

void
crash_point(const char *stage)
{
    static long passed;
    const char *at = getenv("TRIVET_CRASH_AT");
    if (at == NULL)
        return;
    const char *colon = strchr(at, ':');
    size_t len = colon == NULL ? strlen(at) : (size_t)(colon - at);
    if (strlen(stage) != len || strncmp(stage, at, len) != 0)
        return;
    if (++passed >= (colon == NULL ? 1 : strtol(colon + 1, NULL, 10)))
        (void)kill(getpid(), SIGKILL);
}
#else
/* ISO C forbids an empty translation unit. */
extern int crash_points_are_compiled_out;
#endif
