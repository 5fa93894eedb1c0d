/* The corrections that a reader has read. See corrections.c. */
#ifndef STORE_CORRECTIONS_H
#define STORE_CORRECTIONS_H

#include "read.h"
#include "trivet/calibration.h"

struct corrections;
void corrections_free(struct corrections *corrections); /* accepts NULL */

#endif
