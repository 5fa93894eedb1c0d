/* Which driver reaches the probes of which kind of bus. */
#include "trivet/probe_driver.h"

#include <stddef.h>

#include "drivers/iio.h"
#include "drivers/modbus.h"
#include "drivers/onewire.h"
#include "drivers/serial_line.h"
#include "drivers/trace.h"

const struct probe_driver *
probe_driver_for(enum bus_driver kind)
{
    switch (kind) {
    case BUS_MODBUS_RTU:
    case BUS_MODBUS_TCP:
    case BUS_MODBUS_RTU_TCP:
        return &driver_modbus;
    case BUS_SERIAL_LINE:
        return &driver_serial_line;
    case BUS_ONEWIRE:
        return &driver_onewire;
    case BUS_IIO:
        return &driver_iio;
    case BUS_TRACE:
        return &driver_trace;
    }
    return NULL;
}
