/* Thermometers and their checks, in words. Private to the status room. */
#ifndef STATUS_THERMOMETERS_H
#define STATUS_THERMOMETERS_H

#include "trivet/snapshot.h"

/* Fills state, due date, concern and sentence of each. */
void tell_checks(struct snapshot *snapshot);

#endif
