/* trivet forecast: forecasts along a recorded trace, without a daemon. */
#ifndef CLI_FORECAST_H
#define CLI_FORECAST_H

/* argv[0] is "forecast".  Prints CSV, a row a minute, to standard output.  Returns the exit
 * code: 0 done, 1 the trace could not be read or the output not written, 2 wrong usage. */
int cli_forecast(int argc, char **argv);

#endif
