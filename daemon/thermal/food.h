/* One candidate for what the food is, and the filter that carries it along.
 *
 * A candidate has unknowns (size, shape, film, wetness, probe position ...), each in a scale
 * where 0 with a spread of 1 is what is believed of a batch of no known product.  Within a
 * candidate, the temperatures of the shells, the constant offset of the air and a slow drift of
 * what the surface feels are estimated by a Kalman filter on the conduction solver: they enter
 * the reading linearly.  Pure; any thread. */
#ifndef THERMAL_FOOD_H
#define THERMAL_FOOD_H

#include <stdbool.h>

#include "daemon/thermal/conduction.h"
#include "trivet/forecast.h"

enum {
    FOOD_CELLS = 8,
    FOOD_OFFSET = FOOD_CELLS,    /* index of the air's constant offset in the filter's state */
    FOOD_DRIFT = FOOD_CELLS + 1, /* index of the slow drift */
    FOOD_STATES = FOOD_CELLS + 2,
    FOOD_PACKED = FOOD_STATES * (FOOD_STATES + 1) / 2,
    FOOD_PLACES = 2, /* oven and rest, or the first and second place of a cooling */
};

#define FOOD_EMISSIVITY 0.8F /* food 0.9, less what the oven's shape takes away */

/* Kelvin that the air of a cold place is warmer for each kelvin the food is above it: three for
 * food 70 K above (common practice, no source). */
#define FOOD_LOAD_USUAL 0.045

/* Where the food stands. */
struct food_place {
    double film_W_m2K;  /* convection alone; radiation is computed */
    double wet;         /* evaporation against a wet surface, 0 to 1 */
    double vapour_Pa;   /* vapour pressure of the air */
    double medium_C;    /* believed temperature of the surroundings */
    float emissivity;   /* of the surface, less what the shape of the place takes away */
    bool ignores_probe; /* a bath whose air probe shows the room */
    bool warmed;        /* a cold place, warmed by the food it takes in */
    bool thaws;         /* a chiller that lets its air up before it freezes what it cools */
};

struct food_traits {
    double exponent;
    double fo_per_s;         /* 1 / (radius^2 / diffusivity) */
    double resistance_m2K_W; /* radius / conductivity: turns films into Biot numbers */
    double wrap_m2K_W;
    double probe;     /* distance of the tip from the middle, fraction of the radius */
    double dry_kg_m2; /* evaporation that dries the surface */
    double dry_floor; /* what of its wetness a dry surface keeps: the food behind still gives */
    double
        wall_s; /* time constant of the oven's walls, which radiate; 0: they follow at once */
    double switch_s;  /* believed time of the move to the second place; INFINITY: none */
    double warm_up_s; /* cold oven without a probe: time constant; 0 none */
    struct food_place place[FOOD_PLACES];
};

/* What is known to all candidates of one batch. */
struct food_context {
    enum forecast_kind kind;
    double target_C;
    double start_C; /* first good core reading */
    double start_sd_K;
    double oven_C;      /* NAN: not told */
    double room_C;      /* NAN: not told */
    bool air_seen;      /* an air probe has given readings */
    double first_air_C; /* its level in the first minutes; NAN */
    struct forecast_prior prior;
};

/* One stretch of the record: up to a few minutes of readings, condensed. */
struct food_stretch {
    double begin_s; /* since the start */
    double span_s;
    double core_C;   /* mean; NAN: none */
    double medium_C; /* mean air; NAN: none */
    int place;       /* FOOD_PLACES: nobody knows, the candidate's own switch_s decides */
    bool stir;       /* the reading jumped: the food was evened out */
};

struct food {
    double unknown[FORECAST_UNKNOWNS];
    double volume[FOOD_CELLS];
    double link[FOOD_CELLS];
    double node[FOOD_CELLS];
    struct food_traits traits;
    double state[FOOD_STATES];
    double covariance[FOOD_PACKED];
    double surface_C;
    double lost_kg_m2;
    double wall_C; /* NAN before the first medium */
    int place;
    double log_likelihood;
    double log_weight;
};

/* Sets a candidate at the start of the record from its unknowns. */
void food_begin(struct food *food, const struct food_context *context);

/* Carries a candidate through one stretch; adds what the reading says to log_likelihood and
 * log_weight. */
void food_follow(struct food *food, const struct food_context *context,
                 const struct food_stretch *stretch);

/* The surroundings are new: what was learned about the old ones' offset and drift is forgotten.
 */
void food_change_place(struct food *food, const struct food_context *context, int place);

/* Core reading the candidate expects now. */
double food_reading(const struct food *food, const double *temp_C);

/* Temperature of the surroundings the candidate believes in at a moment, given the measured one
 * (NAN: none). */
double food_medium(const struct food *food, int place, double measured_C, double since_start_s);

/* Heat through the surface: fills the linear view, its gain (by kelvin of medium) and the
 * evaporation rate; surface_C is the first guess and the result.  `warmth` quickens what the
 * food conducts, never what the air brings. */
struct food_surface {
    struct conduction_flux flux;
    double gain;
    double loss_kg_m2s;
};
struct food_surface food_surface_balance(const struct food_traits *traits,
                                         const struct food_place *place, double half_link,
                                         double warmth, double dryness, double medium_C,
                                         double wall_C, double last_C, double *surface_C);

/* Temperature of the walls after `dt_s` in a medium; they start as warm as it. */
double food_wall(const struct food *food, double medium_C, double dt_s);

/* What is left of the wetness after so much has evaporated. */
double food_dryness(const struct food *food);

/* How much faster warm food conducts than food at 40 C. */
double food_warmth(double temp_C);

/* Packed index of a symmetric matrix. */
static inline int
food_packed(int row, int column)
{
    return row >= column ? row * (row + 1) / 2 + column : column * (column + 1) / 2 + row;
}

/* Standard deviation the drift settles at, and its time constant, for a food `gap_K` away from
 * its surroundings. */
double food_drift_sd_K(const struct food_context *context, double gap_K);
double food_drift_s(const struct food_context *context);

/* Unknowns to traits (traits.c). */
void food_traits_of(const double *unknown, const struct food_context *context,
                    struct food_traits *ret_traits);

/* Makes unknowns of one batch those of a larger or smaller one. */
void food_resize(enum forecast_kind kind, double size_ratio, double *unknown);

#endif
