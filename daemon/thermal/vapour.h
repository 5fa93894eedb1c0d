/* Vapour pressure over water.  Pure. */
#ifndef THERMAL_VAPOUR_H
#define THERMAL_VAPOUR_H

/* Saturation pressure in Pa and, if asked for, its slope in Pa/K.  Magnus form with the
 * coefficients of the WMO guide to instruments (611.2 Pa, 17.62, 243.12 C): made for -45 to 60
 * C, 2.5 % high at 100 C. */
double vapour_saturation_Pa(double temp_C, double *ret_slope);

#endif
