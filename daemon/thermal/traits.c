/* What the unknowns of a candidate mean.
 *
 * Each unknown is 0 with a spread of 1 for a batch of no known product; this file turns it into
 * sizes, films and places.  The ranges are those of kitchens: films from the handbook ranges
 * listed in docs/forecast.md, half thicknesses from shallow pans to large joints.  Where no
 * source is named: common practice, no source. Pure; owns nothing. */
#include "daemon/thermal/food.h"

#include <math.h>
#include <string.h>

#include "daemon/thermal/vapour.h"

/* Meat, fillings and doughs lie close together (Choi & Okos 1986 for typical compositions). */
static const double DIFFUSIVITY_M2_S = 1.35e-7;
static const double CONDUCTIVITY_W_mK = 0.47;
/* A crust goes on letting water through: whole recorded cooks, fitted with their true sizes and
 * films, ask for 0.2 to 0.4; with less, long and slow cooks are forecast too short. */
static const double DRY_FLOOR = 0.25;
static const double COOK_SIZE_SIGMA = 0.28;
static const double COOL_SIZE_SIGMA = 0.5;
/* Food radiates by 0.9, bright steel by 0.2 to 0.3: half the surface of a dish in a pan or a
 * pot is metal. */
static const float PAN_EMISSIVITY = 0.55F;
/* Blast chillers are run in cycles of about 90 minutes; some take the food out then to make
 * room (common practice, no source). */
static const double CYCLE_ENDS = 0.25;

enum cook_unknown {
    COOK_SIZE,
    COOK_SHAPE,
    COOK_FILM,
    COOK_WET,
    COOK_DRYING,
    COOK_PROBE,
    COOK_STEAM,
    COOK_OVEN,
    COOK_WARM_UP,
    COOK_REST_FILM,
    COOK_WRAP,
    COOK_REST_WET
};

enum cool_unknown {
    COOL_SIZE,
    COOL_SHAPE,
    COOL_FILM,
    COOL_WET,
    COOL_LIQUID,
    COOL_PROBE,
    COOL_PLACE,
    COOL_MEDIUM,
    COOL_SWITCH,
    COOL_SECOND_FILM,
    COOL_SECOND_PLACE,
    COOL_SECOND_MEDIUM
};

static double
spread(double unknown, double middle, double sigma)
{
    return middle * exp(sigma * unknown);
}

/* Probability below `unknown`: turns it into a choice between kinds. */
static double
share(double unknown)
{
    return 0.5 * erfc(-unknown / sqrt(2));
}

static void
set_body(struct food_traits *t, double radius_m, double boost, double exponent, double probe)
{
    t->exponent = exponent;
    t->fo_per_s = boost * DIFFUSIVITY_M2_S / (radius_m * radius_m);
    t->resistance_m2K_W = radius_m / (boost * CONDUCTIVITY_W_mK);
    t->probe = fmin(fabs(probe), 0.5);
}

/* Meat dries from its own surface; a loaf, a terrine or a dish in a tin gives off little from
 * the start. */
static double
cook_wetness(double unknown)
{
    double dry_kinds = -0.67; /* a quarter of dishes */
    if (unknown < dry_kinds)
        return spread(unknown + 1.25, 0.07, 0.8);
    return fmin(spread(unknown - 0.4, 0.37, 0.85), 1);
}

/* Half of ovens are still, half have a fan: between the two lies little. */
static double
cook_film_W_m2K(double unknown)
{
    double part = 2 * share(unknown);
    return part < 1 ? 4.5 * pow(2.55, part) : 14 * pow(3, part - 1);
}

static void
cook_traits(const double *u, const struct food_context *context, struct food_traits *t)
{
    set_body(t, spread(u[COOK_SIZE], 0.046, COOK_SIZE_SIGMA), 1,
             1.2 + 1.7 * share(u[COOK_SHAPE]), 0.12 * u[COOK_PROBE]);
    /* A quarter of dishes wear dough, fat or a tin. */
    double wrapped = share(u[COOK_WRAP]) - 0.75;
    t->wrap_m2K_W = wrapped > 0 ? 0.003 + 0.12 * wrapped : 0;
    double film = cook_film_W_m2K(u[COOK_FILM]);
    /* More where more air passes: it dries deeper. */
    t->dry_kg_m2 = spread(u[COOK_DRYING], 3, 0.6) * sqrt(film / 16);
    t->dry_floor = DRY_FLOOR;
    double steam = share(u[COOK_STEAM]) - 0.82;
    double dew_C = steam > 0 ? 60 + 200 * steam : 15 + 30 * share(u[COOK_STEAM]);
    double oven_C = 155 + 32 * u[COOK_OVEN];
    if (!isnan(context->oven_C))
        oven_C = context->oven_C + 4 * u[COOK_OVEN];
    double cold = share(u[COOK_WARM_UP]) - 0.7;
    t->warm_up_s = cold > 0 ? 120 + 3000 * cold : 0;
    t->wall_s = spread(u[COOK_WARM_UP], 1200, 0.6);
    t->switch_s = INFINITY;
    t->place[0] = (struct food_place){
        .film_W_m2K = film,
        .emissivity = FOOD_EMISSIVITY,
        .wet = cook_wetness(u[COOK_WET]),
        .vapour_Pa = vapour_saturation_Pa(dew_C, NULL),
        .medium_C = fmax(oven_C, context->target_C + 8),
    };
    double room_C = isnan(context->room_C) ? 23 : context->room_C;
    t->place[1] = (struct food_place){
        .film_W_m2K = spread(u[COOK_REST_FILM], 4, 0.4),
        .emissivity = FOOD_EMISSIVITY,
        .wet = t->place[0].wet * fmin(spread(u[COOK_REST_WET], 0.4, 0.6), 1),
        .vapour_Pa = vapour_saturation_Pa(10, NULL),
        .medium_C = room_C,
    };
}

enum cool_place { COOL_ROOM, COOL_FRIDGE, COOL_BLAST, COOL_ICE };

static struct food_place
cooling_place(enum cool_place kind, double film, double medium, double wet, bool thaws,
              const struct food_context *context)
{
    double room_C = isnan(context->room_C) ? 23 : context->room_C;
    struct food_place p = {.emissivity = PAN_EMISSIVITY, .wet = wet, .vapour_Pa = 600};
    switch (kind) {
    case COOL_ROOM:
        p.film_W_m2K = spread(film, 5, 0.3);
        p.medium_C = room_C + 3 * medium;
        p.vapour_Pa = 1200;
        break;
    case COOL_FRIDGE:
        p.film_W_m2K = spread(film, 8, 0.4);
        p.medium_C = 3 + 1.5 * medium; /* without the food that warms it */
        p.warmed = true;
        break;
    case COOL_BLAST:
        p.film_W_m2K = spread(film, 28, 0.4);
        p.medium_C = -5 + 4 * medium; /* from soft to hard chilling */
        p.warmed = true;
        p.thaws = thaws;
        break;
    case COOL_ICE:
        p.film_W_m2K = spread(film, 180, 0.5);
        p.medium_C = 0.8 + 0.5 * medium;
        p.ignores_probe = true;
        p.emissivity = 0;
        break;
    }
    return p;
}

/* How likely cold air is a blast chiller's and not a refrigerator's, half and half beforehand.
 * Hot food has just come in and warms either by some three kelvin: then a refrigerator shows
 * 6.5 C, give or take 2.5, a blast chiller 0 C, give or take 4. */
static double
blast_share(double first_air_C)
{
    double fridge_K = (first_air_C - 6.5) / 2.5, blast_K = first_air_C / 4;
    double odds = 2.5 / 4 * exp(0.5 * (fridge_K * fridge_K - blast_K * blast_K));
    return first_air_C < -4 ? 0.97 : fmin(odds / (1 + odds), 0.97);
}

/* The first place, by what the air probe has shown: nothing, a room (then a bath or a dish not
 * yet put away), or the cold. */
static enum cool_place
first_place(double draw, const struct food_context *context)
{
    if (!context->air_seen || isnan(context->first_air_C))
        return draw < 0.27   ? COOL_FRIDGE
               : draw < 0.54 ? COOL_BLAST
               : draw < 0.73 ? COOL_ICE
                             : COOL_ROOM;
    if (context->first_air_C > 14)
        return draw < 0.3 ? COOL_ICE : COOL_ROOM;
    if (draw < 0.12)
        return COOL_ICE;
    return draw < 0.12 + 0.88 * blast_share(context->first_air_C) ? COOL_BLAST : COOL_FRIDGE;
}

static void
cool_traits(const double *u, const struct food_context *context, struct food_traits *t)
{
    double liquid = share(u[COOL_LIQUID]) - 0.7; /* stirred or turned over by its own warmth */
    double boost = liquid > 0 ? exp(10 * liquid) : 1 + 0.1 * u[COOL_LIQUID];
    set_body(t, spread(u[COOL_SIZE], 0.032, COOL_SIZE_SIGMA), fmax(boost, 0.7),
             1 + 1.6 * share(u[COOL_SHAPE] - 0.5), 0.15 * u[COOL_PROBE]);
    t->dry_kg_m2 = 1e9;
    bool covered = share(u[COOL_WET]) < 0.5;
    double wet = covered ? 0.02 : fmin(spread(u[COOL_WET], 0.035, 1.6), 0.8);
    enum cool_place first = first_place(share(u[COOL_PLACE]), context);
    enum cool_place second = share(u[COOL_SECOND_PLACE]) < 0.5 ? COOL_FRIDGE : COOL_BLAST;
    double turn = share(u[COOL_SWITCH]);
    t->switch_s = INFINITY;
    if (first == COOL_ICE) {
        second = COOL_FRIDGE;
        t->switch_s = 60 * (50 + 60 * turn);
    } else if (first == COOL_ROOM) {
        t->switch_s = 60 * (15 + 85 * turn);
    } else if (first == COOL_BLAST) {
        second = COOL_FRIDGE;
        if (turn < CYCLE_ENDS)
            t->switch_s = 60 * (60 + 60 * turn / CYCLE_ENDS);
    }
    /* Either medium's unknown says nothing of the other place. */
    t->place[0] = cooling_place(first, u[COOL_FILM], u[COOL_MEDIUM], wet,
                                u[COOL_SECOND_MEDIUM] > 0, context);
    t->place[1] = cooling_place(second, u[COOL_SECOND_FILM], u[COOL_SECOND_MEDIUM], wet,
                                u[COOL_MEDIUM] > 0, context);
}

void
food_traits_of(const double *unknown, const struct food_context *context,
               struct food_traits *ret_traits)
{
    *ret_traits = (struct food_traits){0};
    if (context->kind == FORECAST_COOK)
        cook_traits(unknown, context, ret_traits);
    else
        cool_traits(unknown, context, ret_traits);
}

void
food_resize(enum forecast_kind kind, double size_ratio, double *unknown)
{
    if (kind == FORECAST_COOK)
        unknown[COOK_SIZE] += log(size_ratio) / COOK_SIZE_SIGMA;
    else
        unknown[COOL_SIZE] += log(size_ratio) / COOL_SIZE_SIGMA;
}

/* Kinds of dish that change what may be believed beforehand; the values are quantiles of the
 * ranges above. */
static const struct {
    enum forecast_kind kind;
    const char *name;
    int unknown[2];
    double mean[2];
    double spread[2];
} PRODUCTS[] = {
    {FORECAST_COOK, "roast", {COOK_SHAPE, COOK_WRAP}, {0.5, -0.8}, {0.7, 0.5}},
    {FORECAST_COOK, "flat", {COOK_SHAPE, COOK_WRAP}, {-1, -0.8}, {0.6, 0.5}},
    {FORECAST_COOK, "loaf", {COOK_SHAPE, COOK_WET}, {0.3, -1.2}, {0.6, 0.8}},
    {FORECAST_COOK, "wrapped", {COOK_WRAP, COOK_WET}, {1.3, 0}, {0.4, 1}},
    {FORECAST_COOLING, "pan", {COOL_SHAPE, COOL_LIQUID}, {-0.6, -0.5}, {0.7, 0.6}},
    {FORECAST_COOLING, "liquid", {COOL_SHAPE, COOL_LIQUID}, {0, 1.2}, {1, 0.5}},
    {FORECAST_COOLING, "joint", {COOL_SHAPE, COOL_LIQUID}, {1, -0.8}, {0.6, 0.5}},
};

bool
forecast_product_prior(enum forecast_kind kind, const char *name,
                       struct forecast_prior *ret_prior)
{
    for (size_t i = 0; i < sizeof PRODUCTS / sizeof PRODUCTS[0]; i++) {
        if (PRODUCTS[i].kind != kind || strcmp(PRODUCTS[i].name, name) != 0)
            continue;
        *ret_prior = (struct forecast_prior){{0}, {0}};
        for (int k = 0; k < 2; k++) {
            ret_prior->mean[PRODUCTS[i].unknown[k]] = PRODUCTS[i].mean[k];
            ret_prior->spread[PRODUCTS[i].unknown[k]] = PRODUCTS[i].spread[k];
        }
        return true;
    }
    return false;
}
