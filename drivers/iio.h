/* The driver of the kernel's IIO and hwmon nodes, for the registry. */
#ifndef DRIVERS_IIO_H
#define DRIVERS_IIO_H

#include "trivet/probe_driver.h"

extern const struct probe_driver driver_iio;

#endif
