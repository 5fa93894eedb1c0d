/* From a signal to a temperature, in whole numbers on both sides. See include/trivet/sensor.h.
 *
 * Purpose: the one place where a driver's number becomes a double and a double a reading.
 * Owns:    nothing; pure functions, any thread.
 * Must not: do I/O, read a clock, allocate, or keep state. */
#include "trivet/sensor.h"

#include <assert.h>
#include <math.h>

bool
sensor_gives(const struct sensor *sensor, enum signal_unit unit)
{
    switch (unit) {
    case SIGNAL_TEMP:
        return false;
    case SIGNAL_MV:
    case SIGNAL_UV:
        return sensor->family == SENSOR_THERMOCOUPLE;
    case SIGNAL_OHM:
        return sensor->family != SENSOR_THERMOCOUPLE;
    }
    return false;
}

enum convert_status
sensor_temp(const struct sensor *sensor, int64_t signal_micro, enum signal_unit unit,
            int32_t cold_mC, int32_t *ret_temp_mC)
{
    enum convert_status status = CONVERT_BAD_SENSOR;
    double temp_C = 0.0;
    /* In mV or ohm: a microvolt's millionth is a millivolt's thousand-millionth. */
    const double signal = (double)signal_micro / (unit == SIGNAL_UV ? 1e9 : 1e6);
    if (!sensor_gives(sensor, unit))
        return CONVERT_BAD_SENSOR;
    switch (sensor->family) {
    case SENSOR_THERMOCOUPLE:
        status = convert_tc_hot_temp(sensor->tc, signal, (double)cold_mC / 1e3, &temp_C);
        break;
    case SENSOR_RTD:
        status = convert_rtd_temp(sensor->r0_ohm, signal, &temp_C);
        break;
    case SENSOR_THERMISTOR:
        status = convert_thermistor_temp(&sensor->thermistor, signal, &temp_C);
        break;
    }
    if (status != CONVERT_OK)
        return status;
    assert(fabs(temp_C) < 2000.0); /* no sensor's range goes further */
    *ret_temp_mC = (int32_t)lround(temp_C * 1e3);
    return CONVERT_OK;
}
