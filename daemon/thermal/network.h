/* A small network of two hidden layers.  Its numbers are fitted by tests/bench/fit_hunch.py and
 * stand in tables as thousandths.  Pure; any thread. */
#ifndef THERMAL_NETWORK_H
#define THERMAL_NETWORK_H

#include <stdint.h>

enum { NETWORK_HIDDEN = 32, NETWORK_OUTPUTS_MAX = 3 };

/* For each cell of a layer its bias, then its weights for the cells of the layer before. */
struct network {
    int inputs;
    int outputs;
    const int16_t *first, *second, *last;
};

void network_run(const struct network *network, const double *input,
                 double ret_output[NETWORK_OUTPUTS_MAX]);

#endif
