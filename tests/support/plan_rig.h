/* Plans written in tests: one that loads, and one whose only fault is told at its place. */
#ifndef SUPPORT_PLAN_RIG_H
#define SUPPORT_PLAN_RIG_H

#include "trivet/plan.h"

struct plan_wrong {
    const char *text;
    int line, column; /* column 0: wherever in its line */
    const char *says; /* part of the fault's words */
};

/* Fails the test with the faults when the plan does not load. Freed by plan_free. */
struct plan *plan_rig_load(const char *text);
/* Fails the test unless this one fault is told, no other, and what to do about it. */
void plan_rig_must_tell(const struct plan_wrong *wrong);

#endif
