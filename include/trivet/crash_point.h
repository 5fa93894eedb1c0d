/* Named stages at which a test can have the process killed, to prove that nothing acknowledged
 * is lost.
 *
 * TRIVET_CRASH_AT="stage:count" in the environment kills the process with SIGKILL the count-th
 * time the stage is passed. Compiled out of release builds. */
#ifndef TRIVET_CRASH_POINT_H
#define TRIVET_CRASH_POINT_H

#ifdef TRIVET_CRASH_POINTS
void crash_point(const char *stage);
#else
static inline void
crash_point(const char *stage)
{
    (void)stage;
}
#endif

#endif
