/* The driver of thermometers that print lines of text, for the registry. */
#ifndef DRIVERS_SERIAL_LINE_H
#define DRIVERS_SERIAL_LINE_H

#include "trivet/probe_driver.h"

extern const struct probe_driver driver_serial_line;

#endif
