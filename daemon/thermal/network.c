/* A small network. See network.h. Pure; owns nothing. */
#include "daemon/thermal/network.h"

#include <assert.h>
#include <math.h>
#include <stddef.h>

static void
layer(const int16_t *numbers, int inputs, const double *input, int outputs, double *ret_output)
{
    for (int o = 0; o < outputs; o++) {
        const int16_t *own = numbers + (ptrdiff_t)o * (inputs + 1);
        double sum = own[0];
        for (int i = 0; i < inputs; i++)
            sum += own[i + 1] * input[i];
        ret_output[o] = sum / 1000;
    }
}

/* Bends without a table or a library function: the same on every machine. */
static void
bend(double cell[NETWORK_HIDDEN])
{
    for (int i = 0; i < NETWORK_HIDDEN; i++)
        cell[i] /= 1 + fabs(cell[i]);
}

void
network_run(const struct network *network, const double *input,
            double ret_output[NETWORK_OUTPUTS_MAX])
{
    assert(network->outputs <= NETWORK_OUTPUTS_MAX);
    double first[NETWORK_HIDDEN], second[NETWORK_HIDDEN];
    layer(network->first, network->inputs, input, NETWORK_HIDDEN, first);
    bend(first);
    layer(network->second, NETWORK_HIDDEN, first, NETWORK_HIDDEN, second);
    bend(second);
    layer(network->last, NETWORK_HIDDEN, second, network->outputs, ret_output);
}
