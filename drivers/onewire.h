/* The driver of the kernel's 1-Wire thermometers, for the registry. */
#ifndef DRIVERS_ONEWIRE_H
#define DRIVERS_ONEWIRE_H

#include "trivet/probe_driver.h"

extern const struct probe_driver driver_onewire;

#endif
