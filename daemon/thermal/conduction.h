/* Transient heat conduction in a one-dimensional body (slab, cylinder, sphere and shapes
 * between).
 *
 * Lengths are fractions of the half thickness or radius R, times are Fourier numbers
 * (diffusivity * seconds / R^2), conductances are Biot numbers (h R / k).  The body is cut into
 * shells; the shell areas grow as r^(exponent - 1), so exponent 1 is a slab, 2 a long cylinder,
 * 3 a sphere. Pure: no clock, no input or output, no globals, no allocation.  Any thread. */
#ifndef THERMAL_CONDUCTION_H
#define THERMAL_CONDUCTION_H

enum { CONDUCTION_CELLS_MAX = 128 };

/* Geometry of the shells.  The caller owns the arrays (each of `cells` numbers), so that a bank
 * of small models does not carry the room of a fine one. */
struct conduction_grid {
    int cells;
    double *volume; /* shell volumes, in R^exponent; they sum to 1 / exponent */
    double *link;   /* conductance from shell i to i + 1; the last is from the last shell to the
                       surface */
    double *centre; /* distance of the shell's node from the middle, fraction of R */
};

/* Linear view of what crosses the surface: flux_in = flux + slope * (T_last - T_last_now), in
 * kelvin (multiples of k / R); `slope` is negative. */
struct conduction_flux {
    double flux_K;
    double slope;
};

/* One factored implicit step, reused for many right hand sides. */
struct conduction_step {
    double dt_fo;
    double lower[CONDUCTION_CELLS_MAX];
    double upper[CONDUCTION_CELLS_MAX];
    double inverse[CONDUCTION_CELLS_MAX];
};

/* Cuts the body into `cells` shells (2 to CONDUCTION_CELLS_MAX); each is `ratio` (0.5 to 1)
 * times as thick as the one inside it.  `exponent` is 1 to 3, fractions allowed. */
void conduction_grid_init(struct conduction_grid *grid, double exponent, double ratio);

/* Flux through a plain convective surface of Biot number `biot` in a medium at `medium_C`, for
 * a last shell at `last_C`. */
struct conduction_flux conduction_convection(const struct conduction_grid *grid, double biot,
                                             double medium_C, double last_C);

/* Rate of change of every shell, kelvin per unit of Fourier number. */
void conduction_rate(const struct conduction_grid *grid, const double *temp_C, double flux_K,
                     double *ret_rate);

/* Factors (I - implicit * dt * J), J the conduction operator with the surface's slope in it. */
void conduction_factor(const struct conduction_grid *grid, double slope, double dt_fo,
                       double implicit, struct conduction_step *ret_step);

/* Solves the factored system for one right hand side, in place. */
void conduction_solve(const struct conduction_grid *grid, const struct conduction_step *step,
                      double *vector);

/* Advances `temp_C` by dt in a steady medium: linearly implicit, second order for implicit 0.5,
 * monotone for 1. */
void conduction_advance(const struct conduction_grid *grid, double biot, double medium_C,
                        double dt_fo, double implicit, double *temp_C);

/* Mean temperature by volume; surface temperature for a given flux; temperature at `radius`
 * (fraction of R, within the inner half), fitted as a parabola through the two nearest nodes.
 */
double conduction_mean(const struct conduction_grid *grid, const double *temp_C);
double conduction_surface(const struct conduction_grid *grid, double last_C, double flux_K);
void conduction_reading_weights(const struct conduction_grid *grid, double radius,
                                int *ret_first, double ret_weight[2]);

#endif
