/* The forward conduction solver: finite volumes in space, a linearly implicit step in time.
 * See conduction.h for units.  Pure; owns nothing. */
#include "daemon/thermal/conduction.h"

#include <assert.h>
#include <math.h>

void
conduction_grid_init(struct conduction_grid *grid, double exponent, double ratio)
{
    assert(grid->cells >= 2 && grid->cells <= CONDUCTION_CELLS_MAX);
    assert(exponent >= 1 && exponent <= 3 && ratio >= 0.5 && ratio <= 1);
    int n = grid->cells;
    double width = ratio < 1 ? (1 - ratio) / (1 - pow(ratio, n)) : 1.0 / n;
    double inner = 0;
    double inner_volume = 0;
    for (int i = 0; i < n; i++) {
        double outer = i == n - 1 ? 1 : inner + width;
        double outer_volume = pow(outer, exponent) / exponent;
        grid->centre[i] = 0.5 * (inner + outer);
        grid->volume[i] = outer_volume - inner_volume;
        /* Area of the outer face; divided by the distance below. */
        grid->link[i] = exponent * outer_volume / outer;
        inner = outer;
        inner_volume = outer_volume;
        width *= ratio;
    }
    for (int i = 0; i + 1 < n; i++)
        grid->link[i] /= grid->centre[i + 1] - grid->centre[i];
    grid->link[n - 1] /= 1 - grid->centre[n - 1];
}

struct conduction_flux
conduction_convection(const struct conduction_grid *grid, double biot, double medium_C,
                      double last_C)
{
    double half = grid->link[grid->cells - 1];
    double series = biot * half / (biot + half);
    return (struct conduction_flux){.flux_K = series * (medium_C - last_C), .slope = -series};
}

void
conduction_rate(const struct conduction_grid *grid, const double *temp_C, double flux_K,
                double *ret_rate)
{
    double inward = 0; /* what shell i has already given to the shell inside it */
    for (int i = 0; i < grid->cells; i++) {
        double gained =
            i + 1 < grid->cells ? grid->link[i] * (temp_C[i + 1] - temp_C[i]) : flux_K;
        ret_rate[i] = (gained - inward) / grid->volume[i];
        inward = gained;
    }
}

void
conduction_factor(const struct conduction_grid *grid, double slope, double dt_fo,
                  double implicit, struct conduction_step *ret_step)
{
    int n = grid->cells;
    double scale = implicit * dt_fo;
    ret_step->dt_fo = dt_fo;
    double inner = 0;
    for (int i = 0; i < n; i++) {
        double to_volume = scale / grid->volume[i];
        ret_step->lower[i] = to_volume * inner;
        double outer = i + 1 < n ? grid->link[i] : -slope;
        double diagonal = 1 + to_volume * (inner + outer);
        if (i > 0)
            diagonal -= to_volume * inner * ret_step->upper[i - 1];
        ret_step->inverse[i] = 1 / diagonal;
        ret_step->upper[i] = i + 1 < n ? to_volume * outer / diagonal : 0;
        inner = outer;
    }
}

void
conduction_solve(const struct conduction_grid *grid, const struct conduction_step *step,
                 double *vector)
{
    int n = grid->cells;
    /* NOLINTNEXTLINE(clang-analyzer-core.uninitialized.Assign): callers fill it all */
    vector[0] *= step->inverse[0];
    for (int i = 1; i < n; i++)
        vector[i] = (vector[i] + step->lower[i] * vector[i - 1]) * step->inverse[i];
    for (int i = n - 2; i >= 0; i--)
        vector[i] += step->upper[i] * vector[i + 1];
}

void
conduction_advance(const struct conduction_grid *grid, double biot, double medium_C,
                   double dt_fo, double implicit, double *temp_C)
{
    double rate[CONDUCTION_CELLS_MAX];
    struct conduction_step step;
    int last = grid->cells - 1;
    struct conduction_flux in = conduction_convection(grid, biot, medium_C, temp_C[last]);
    conduction_rate(grid, temp_C, in.flux_K, rate);
    conduction_factor(grid, in.slope, dt_fo, implicit, &step);
    conduction_solve(grid, &step, rate);
    for (int i = 0; i <= last; i++)
        temp_C[i] += dt_fo * rate[i];
}

double
conduction_mean(const struct conduction_grid *grid, const double *temp_C)
{
    double heat = 0;
    double volume = 0;
    for (int i = 0; i < grid->cells; i++) {
        heat += grid->volume[i] * temp_C[i];
        volume += grid->volume[i];
    }
    return heat / volume;
}

double
conduction_surface(const struct conduction_grid *grid, double last_C, double flux_K)
{
    return last_C + flux_K / grid->link[grid->cells - 1];
}

/* Near the middle a profile is even in r, so it is straight in r squared. */
void
conduction_reading_weights(const struct conduction_grid *grid, double radius, int *ret_first,
                           double ret_weight[2])
{
    int first = 0;
    while (first + 2 < grid->cells && radius > grid->centre[first + 1])
        first++;
    double inner = grid->centre[first] * grid->centre[first];
    double outer = grid->centre[first + 1] * grid->centre[first + 1];
    ret_weight[1] = (radius * radius - inner) / (outer - inner);
    ret_weight[0] = 1 - ret_weight[1];
    *ret_first = first;
}
