/* Vapour pressure over water.  Pure; owns nothing. */
#include "daemon/thermal/vapour.h"

#include <math.h>
#include <stddef.h>

double
vapour_saturation_Pa(double temp_C, double *ret_slope)
{
    double over = 243.12 + fmin(fmax(temp_C, -60), 160);
    double pressure = 611.2 * exp(17.62 * (over - 243.12) / over);
    if (ret_slope != NULL)
        *ret_slope = pressure * 17.62 * 243.12 / (over * over);
    return pressure;
}
