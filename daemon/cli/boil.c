/* See boil.h. Physics is drivers/convert's. */
#include "daemon/cli/boil.h"

enum convert_status
boil_at(double pressure_kPa, struct boil *ret)
{
    struct boil boil;
    double above_C, below_C;
    enum convert_status status = convert_boiling_temp(pressure_kPa, &boil.temp_C);
    if (status == CONVERT_OK)
        status = convert_boiling_temp(pressure_kPa + BOIL_WEATHER_KPA, &above_C);
    if (status == CONVERT_OK)
        status = convert_boiling_temp(pressure_kPa - BOIL_WEATHER_KPA, &below_C);
    if (status != CONVERT_OK)
        return status;
    boil.weather_C = (above_C - below_C) / 2.0;
    *ret = boil;
    return CONVERT_OK;
}
