/* The Modbus driver, for the registry. */
#ifndef DRIVERS_MODBUS_H
#define DRIVERS_MODBUS_H

#include "trivet/probe_driver.h"

extern const struct probe_driver driver_modbus;

#endif
