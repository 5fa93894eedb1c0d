/* Thermocouples K, T, J, E, N: voltage to temperature and back, ITS-90 (NIST Monograph 175, IEC
 * 60584-1).
 *
 * Purpose: the reference functions and their exact inverse, cold junction compensated in
 * voltage. Owns:    nothing; pure functions, any thread. Must not: do I/O, read a clock,
 * allocate, or keep state. */
#include "trivet/convert.h"

#include <assert.h>
#include <math.h>
#include <stdbool.h>

#include "drivers/convert/its90_tables.h"

/* Tables print 0.001 mV: half of that beyond an end is rounding. Type K at -270 degC is
 * -6.457738 mV but stands in every table as -6.458. */
#define ROUNDED_MV 0.0005

/* The step is cubic: one of s leaves an error of k s^3. From an inverse polynomial, k is below
 * 1e-4 per degC^2 and the start at most 0.06 degC off, so what is left after one step is below
 * 1e-8 degC (measured). In deep cold, where the voltage hardly changes, k comes near 10 (type T
 * at -270 degC), and the last step has to be smaller for 1e-7 degC to be left. */
#define SETTLED_C      0.07
#define SETTLED_COLD_C 0.002
#define MAX_STEPS      24

struct curve {
    double emf_mV, slope, bend; /* E, dE/dt, half of d2E/dt2 */
};

static const struct its90_type *
type_data(enum convert_tc type)
{
    assert((int)type >= 0 && type < CONVERT_TC_COUNT);
    return &its90_types[type];
}

static double
piece_emf(const struct its90_forward *piece, double temp_C)
{
    double emf_mV = 0.0;
    for (int i = piece->terms - 1; i >= 0; i--)
        emf_mV = emf_mV * temp_C + piece->c[i];
    if (piece->bump_mV != 0.0) {
        double off_C = temp_C - piece->bump_at_C;
        emf_mV += piece->bump_mV * exp(piece->bump_rate * off_C * off_C);
    }
    return emf_mV;
}

static struct curve
piece_curve(const struct its90_forward *piece, double temp_C)
{
    struct curve at = {0.0, 0.0, 0.0};
    for (int i = piece->terms - 1; i >= 0; i--) {
        at.bend = at.bend * temp_C + at.slope;
        at.slope = at.slope * temp_C + at.emf_mV;
        at.emf_mV = at.emf_mV * temp_C + piece->c[i];
    }
    if (piece->bump_mV != 0.0) {
        double off_C = temp_C - piece->bump_at_C;
        double bump_mV = piece->bump_mV * exp(piece->bump_rate * off_C * off_C);
        double log_slope = 2.0 * piece->bump_rate * off_C;
        at.emf_mV += bump_mV;
        at.slope += bump_mV * log_slope;
        at.bend += bump_mV * (0.5 * log_slope * log_slope + piece->bump_rate);
    }
    return at;
}

static double
clamp(double value, double min, double max)
{
    return value < min ? min : value > max ? max : value;
}

/* Where to start in deep cold, below the published inverse. From about a parabola at the bottom
 * of the curve to a straight line at the top: good to a few degC, and the curve is convex
 * there. */
static double
cold_start(const struct its90_type *data, double emf_mV)
{
    double share = (emf_mV - data->emf_min_mV) / (data->inverse_min_mV - data->emf_min_mV);
    return data->t_min_C + (data->inverse_min_C - data->t_min_C) * sqrt(clamp(share, 0.0, 1.0));
}

static double
polynomial_start(const struct its90_type *data, double emf_mV)
{
    const struct its90_inverse *piece = data->inverse;
    while (emf_mV > piece->emf_max_mV && piece < &data->inverse[data->inverse_pieces - 1])
        piece++;
    double temp_C = 0.0;
    for (int i = piece->terms - 1; i >= 0; i--)
        temp_C = temp_C * emf_mV + piece->d[i];
    return temp_C;
}

/* The root of the reference function, emf_mV being in range. Halley's step, cubic: one
 * evaluation nearly always does. Iterates never leave the piece, so nothing is read off a
 * polynomial beyond its range; that also puts a voltage in the 1e-7 mV seams of J at 760 degC
 * and K at 0 degC exactly on the seam. */
static double
root(const struct its90_type *data, double emf_mV)
{
    bool cold = emf_mV < data->inverse_min_mV;
    const struct its90_forward *piece = data->forward;
    double min_C = data->t_min_C;
    if (emf_mV > piece->emf_max_mV) {
        min_C = piece->t_max_C;
        piece++;
    }
    double temp_C = cold ? cold_start(data, emf_mV) : polynomial_start(data, emf_mV);
    double settled_C = cold ? SETTLED_COLD_C : SETTLED_C;
    temp_C = clamp(temp_C, min_C, piece->t_max_C);
    for (int step = 0; step < MAX_STEPS; step++) {
        struct curve at = piece_curve(piece, temp_C);
        double over_mV = at.emf_mV - emf_mV;
        double step_C = over_mV * at.slope / (at.slope * at.slope - over_mV * at.bend);
        double next_C = clamp(temp_C - step_C, min_C, piece->t_max_C);
        if (fabs(next_C - temp_C) <= settled_C)
            return next_C;
        temp_C = next_C;
    }
    return temp_C; /* not reached: the curves rise over their whole ranges, so the steps settle
                    */
}

struct convert_range
convert_tc_range(enum convert_tc type)
{
    const struct its90_type *data = type_data(type);
    return (struct convert_range){.temp_min_C = data->t_min_C,
                                  .temp_max_C = data->t_max_C,
                                  .output_min = data->emf_min_mV,
                                  .output_max = data->emf_max_mV};
}

enum convert_status
convert_tc_emf(enum convert_tc type, double temp_C, double *ret_emf_mV)
{
    const struct its90_type *data = type_data(type);
    if (!isfinite(temp_C))
        return CONVERT_NOT_A_NUMBER;
    if (temp_C < data->t_min_C)
        return CONVERT_TOO_LOW;
    if (temp_C > data->t_max_C)
        return CONVERT_TOO_HIGH;
    const struct its90_forward *piece = data->forward;
    if (temp_C > piece->t_max_C)
        piece++;
    *ret_emf_mV = piece_emf(piece, temp_C);
    return CONVERT_OK;
}

enum convert_status
convert_tc_temp(enum convert_tc type, double emf_mV, double *ret_temp_C)
{
    const struct its90_type *data = type_data(type);
    if (!isfinite(emf_mV))
        return CONVERT_NOT_A_NUMBER;
    if (emf_mV < data->emf_min_mV - ROUNDED_MV)
        return CONVERT_TOO_LOW;
    if (emf_mV > data->emf_max_mV + ROUNDED_MV)
        return CONVERT_TOO_HIGH;
    *ret_temp_C = root(data, emf_mV);
    return CONVERT_OK;
}

enum convert_status
convert_tc_hot_temp(enum convert_tc type, double measured_mV, double cold_C, double *ret_temp_C)
{
    double cold_mV;
    if (convert_tc_emf(type, cold_C, &cold_mV) != CONVERT_OK)
        return CONVERT_COLD_JUNCTION;
    return convert_tc_temp(type, measured_mV + cold_mV, ret_temp_C);
}

enum convert_status
convert_tc_measured(enum convert_tc type, double temp_C, double cold_C, double *ret_measured_mV)
{
    double cold_mV, hot_mV;
    if (convert_tc_emf(type, cold_C, &cold_mV) != CONVERT_OK)
        return CONVERT_COLD_JUNCTION;
    enum convert_status status = convert_tc_emf(type, temp_C, &hot_mV);
    if (status == CONVERT_OK)
        *ret_measured_mV = hot_mV - cold_mV;
    return status;
}
