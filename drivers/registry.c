/* Which driver reaches the probes of which kind of bus. */
#include "trivet/probe_driver.h"

#include <stddef.h>

#include "drivers/modbus.h"

const struct probe_driver *
probe_driver_for(enum bus_driver kind)
{
    switch (kind) {
    case BUS_MODBUS_RTU:
    case BUS_MODBUS_TCP:
        return &driver_modbus;
    }
    return NULL;
}
