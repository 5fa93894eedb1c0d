/* The driver of recordings that are played, for the registry. */
#ifndef DRIVERS_TRACE_H
#define DRIVERS_TRACE_H

#include "trivet/probe_driver.h"

extern const struct probe_driver driver_trace;

#endif
