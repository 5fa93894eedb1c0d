/* One candidate and its filter.  See food.h.  Pure; owns nothing. */
#include "daemon/thermal/food.h"

#include <math.h>

#include "daemon/thermal/vapour.h"

/* A little above the second-order 0.5, so that a jump does not ring. */
static const double IMPLICIT = 0.6;
static const double STEFAN_BOLTZMANN = 5.67e-8;
/* In a film of air heat and vapour travel alike (Lewis): vapour pressure for a kelvin. */
static const double PSYCHROMETER_PA_K = 66;
static const double VAPORISATION_J_KG = 2.4e6;
static const double SENSOR_LAG_S = 6;
static const double STEP_MAX_S = 60;

/* Set on the development half of the corpus described in docs/forecast.md. */
static const double NOISE_COOK_K = 0.10; /* spread of a minute's mean reading */
static const double NOISE_COOLING_K = 0.12;
/* Misfits of one stretch and the next are not independent; a cook's stretches are longer. */
static const double TEMPER_COOK = 0.24;
static const double TEMPER_COOLING = 0.12;
static const double DRIFT_SHARE_COOK = 0.15; /* spread of the drift, of what drives the heat */
static const double DRIFT_SHARE_COOLING = 0.05;
static const double DRIFT_COOK_S = 3000;
/* What a cold place does otherwise than a candidate thinks, it goes on doing. */
static const double DRIFT_COOLING_S = 6000;
static const double WARMTH_PER_K = 0.0015;
static const double SHELL_RATIO = 0.88;

double
food_drift_sd_K(const struct food_context *context, double gap_K)
{
    double share = context->kind == FORECAST_COOK ? DRIFT_SHARE_COOK : DRIFT_SHARE_COOLING;
    return share * fabs(gap_K) + (context->kind == FORECAST_COOK ? 1.5 : 0.5);
}

double
food_drift_s(const struct food_context *context)
{
    return context->kind == FORECAST_COOK ? DRIFT_COOK_S : DRIFT_COOLING_S;
}

double
food_reading(const struct food *food, const double *temp_C)
{
    struct conduction_grid grid = {FOOD_CELLS, (double *)food->volume, (double *)food->link,
                                   (double *)food->node};
    int first;
    double weight[2];
    conduction_reading_weights(&grid, food->traits.probe, &first, weight);
    return weight[0] * temp_C[first] + weight[1] * temp_C[first + 1];
}

double
food_medium(const struct food *food, int place, double measured_C, double since_start_s)
{
    const struct food_place *p = &food->traits.place[place];
    if (!p->ignores_probe && !isnan(measured_C))
        return measured_C;
    if (place == 0 && food->traits.warm_up_s > 0) {
        double cold = food->traits.place[1].medium_C - p->medium_C;
        return p->medium_C + cold * exp(-since_start_s / food->traits.warm_up_s);
    }
    double above_K = p->warmed ? fmax(food->state[0] - p->medium_C, 0) : 0;
    return p->medium_C + FOOD_LOAD_USUAL * above_K;
}

/* Solves the surface for what comes from the air (convection and radiation), what evaporates
 * and what the last shell passes on; two Newton steps from the last known surface are enough,
 * since it moves slowly. */
struct food_surface
food_surface_balance(const struct food_traits *traits, const struct food_place *place,
                     double half_link, double warmth, double dryness, double medium_C,
                     double wall_C, double last_C, double *surface_C)
{
    double resistance = traits->resistance_m2K_W / warmth;
    double inner = 1 / (resistance / half_link + traits->wrap_m2K_W); /* W/m2K */
    double wet = place->wet * dryness * place->film_W_m2K / PSYCHROMETER_PA_K;
    double wall_K = wall_C + 273.15;
    double radiates = (double)place->emissivity * STEFAN_BOLTZMANN;
    double at = *surface_C;
    double radiation = 0, slope_Pa = 0, leaving = 0;
    for (int i = 0; i < 2; i++) {
        double at_K = at + 273.15;
        radiation = radiates * (at_K * at_K + wall_K * wall_K) * (at_K + wall_K);
        leaving = wet * (vapour_saturation_Pa(at, &slope_Pa) - place->vapour_Pa);
        double balance = inner * (last_C - at) + place->film_W_m2K * (medium_C - at) +
                         radiation * (wall_C - at) - leaving;
        double step = balance / (inner + place->film_W_m2K + radiation + wet * slope_Pa);
        step = fmin(fmax(step, -25), 25);
        at += step;
        leaving += wet * slope_Pa * step;
    }
    double film = place->film_W_m2K + radiation;
    *surface_C = at;
    double stiff = film + wet * slope_Pa;
    double scale = resistance * inner;
    return (struct food_surface){
        .flux = {.flux_K = scale * (at - last_C), .slope = -scale * stiff / (inner + stiff)},
        .gain = scale * film / (inner + stiff),
        .loss_kg_m2s = leaving / VAPORISATION_J_KG,
    };
}

/* The surface dries in proportion to what has left it, down to a floor: the form that explained
 * the development cooks best among seven tried. */
double
food_dryness(const struct food *food)
{
    return fmax(1 - food->lost_kg_m2 / food->traits.dry_kg_m2, food->traits.dry_floor);
}

double
food_wall(const struct food *food, double medium_C, double dt_s)
{
    if (isnan(food->wall_C) || food->place != 0 || food->traits.wall_s <= 0)
        return medium_C;
    return medium_C + (food->wall_C - medium_C) * exp(-dt_s / food->traits.wall_s);
}

static struct conduction_grid
grid_of(struct food *food)
{
    return (struct conduction_grid){FOOD_CELLS, food->volume, food->link, food->node};
}

void
food_begin(struct food *food, const struct food_context *context)
{
    struct conduction_grid grid = grid_of(food);
    food_traits_of(food->unknown, context, &food->traits);
    conduction_grid_init(&grid, food->traits.exponent, SHELL_RATIO);
    bool cook = context->kind == FORECAST_COOK;
    for (int i = 0; i < FOOD_CELLS; i++)
        food->state[i] = context->start_C;
    food->state[FOOD_OFFSET] = 0;
    food->state[FOOD_DRIFT] = 0;
    double uneven_K = cook ? 2 : 4; /* surface against core at the start */
    double offset_sd_K = context->air_seen ? (cook ? 4 : 1.0) : (cook ? 10 : 1.0);
    double drift_sd_K = food_drift_sd_K(context, cook ? 100 : 40);
    for (int r = 0; r < FOOD_STATES; r++)
        for (int c = 0; c <= r; c++) {
            double v = 0;
            if (r < FOOD_CELLS) {
                double across = food->node[r] * food->node[r] * food->node[c] * food->node[c];
                v = context->start_sd_K * context->start_sd_K + uneven_K * uneven_K * across;
            } else if (r == c) {
                v = r == FOOD_OFFSET ? offset_sd_K * offset_sd_K : drift_sd_K * drift_sd_K;
            }
            food->covariance[food_packed(r, c)] = v;
        }
    food->surface_C = context->start_C;
    food->lost_kg_m2 = 0;
    food->place = 0;
    food->wall_C = NAN;
    food->log_likelihood = 0;
    food->log_weight = 0;
}

void
food_change_place(struct food *food, const struct food_context *context, int place)
{
    bool cook = context->kind == FORECAST_COOK;
    double offset_sd_K = cook ? 3 : 1;
    double drift_sd_K = food_drift_sd_K(context, 30);
    food->place = place;
    food->wall_C = NAN;
    food->state[FOOD_OFFSET] = food->state[FOOD_DRIFT] = 0;
    for (int r = FOOD_OFFSET; r < FOOD_STATES; r++)
        for (int c = 0; c <= r; c++)
            food->covariance[food_packed(r, c)] = 0;
    food->covariance[food_packed(FOOD_OFFSET, FOOD_OFFSET)] = offset_sd_K * offset_sd_K;
    food->covariance[food_packed(FOOD_DRIFT, FOOD_DRIFT)] = drift_sd_K * drift_sd_K;
}

/* One linear step of the filter's state. */
struct transition {
    struct conduction_grid grid;
    struct conduction_step step;
    struct food_surface surface;
    double dt_fo;
    double keep; /* of the drift */
};

/* matrix := transition * matrix.  Column by column this is conduction_rate and
 * conduction_solve; here every operation goes along a row, so that the columns do not wait for
 * each other: the hottest loop of the room. */
static void
transition_apply(const struct transition *t, double m[FOOD_STATES][FOOD_STATES])
{
    double rate[FOOD_CELLS][FOOD_STATES];
    double inward[FOOD_STATES] = {0};
    for (int i = 0; i < FOOD_CELLS; i++) {
        double by_volume = t->step.inverse[i] / t->grid.volume[i];
        double lower = i > 0 ? IMPLICIT * t->dt_fo * t->grid.link[i - 1] * by_volume : 0;
        for (int c = 0; c < FOOD_STATES; c++) {
            double gained = i + 1 < FOOD_CELLS
                                ? t->grid.link[i] * (m[i + 1][c] - m[i][c])
                                : t->surface.flux.slope * m[i][c] +
                                      t->surface.gain * (m[FOOD_OFFSET][c] + m[FOOD_DRIFT][c]);
            rate[i][c] = (gained - inward[c]) * by_volume;
            inward[c] = gained;
        }
        if (i > 0)
            for (int c = 0; c < FOOD_STATES; c++)
                rate[i][c] += lower * rate[i - 1][c];
    }
    for (int i = FOOD_CELLS - 1; i >= 0; i--)
        for (int c = 0; c < FOOD_STATES; c++) {
            if (i + 1 < FOOD_CELLS)
                rate[i][c] += t->step.upper[i] * rate[i + 1][c];
            m[i][c] += t->dt_fo * rate[i][c];
        }
    for (int c = 0; c < FOOD_STATES; c++)
        m[FOOD_DRIFT][c] *= t->keep;
}

static void
covariance_step(struct food *food, const struct transition *t, double drift_var)
{
    double full[FOOD_STATES][FOOD_STATES], turned[FOOD_STATES][FOOD_STATES];
    for (int r = 0; r < FOOD_STATES; r++)
        for (int c = 0; c <= r; c++)
            full[r][c] = full[c][r] = food->covariance[food_packed(r, c)];
    transition_apply(t, full);
    for (int r = 0; r < FOOD_STATES; r++)
        for (int c = 0; c < FOOD_STATES; c++)
            turned[r][c] = full[c][r];
    transition_apply(t, turned);
    turned[FOOD_DRIFT][FOOD_DRIFT] += drift_var;
    for (int r = 0; r < FOOD_STATES; r++)
        for (int c = 0; c <= r; c++)
            food->covariance[food_packed(r, c)] = 0.5 * (turned[r][c] + turned[c][r]);
}

/* Warm food conducts a little better (Choi & Okos: about a tenth between 10 and 70 C). */
double
food_warmth(double temp_C)
{
    return 1 + WARMTH_PER_K * (fmin(fmax(temp_C, 0), 90) - 40);
}

static void
advance(struct food *food, const struct food_context *context, int place, double medium_C,
        double dt_s)
{
    struct transition t = {.grid = grid_of(food)};
    double last_C = food->state[FOOD_CELLS - 1];
    food->wall_C = food_wall(food, medium_C, dt_s);
    double felt_C = medium_C + food->state[FOOD_OFFSET] + food->state[FOOD_DRIFT];
    double dryness = food_dryness(food);
    double warmth = food_warmth(food->state[FOOD_CELLS / 2]);
    t.surface = food_surface_balance(
        &food->traits, &food->traits.place[place], food->link[FOOD_CELLS - 1], warmth, dryness,
        felt_C, food->wall_C + felt_C - medium_C, last_C, &food->surface_C);
    t.dt_fo = dt_s * food->traits.fo_per_s * warmth;
    t.keep = exp(-dt_s / food_drift_s(context));
    conduction_factor(&t.grid, t.surface.flux.slope, t.dt_fo, IMPLICIT, &t.step);
    double rate[FOOD_CELLS];
    conduction_rate(&t.grid, food->state, t.surface.flux.flux_K, rate);
    conduction_solve(&t.grid, &t.step, rate);
    for (int i = 0; i < FOOD_CELLS; i++)
        food->state[i] += t.dt_fo * rate[i];
    food->state[FOOD_DRIFT] *= t.keep;
    food->lost_kg_m2 = fmax(food->lost_kg_m2 + dt_s * t.surface.loss_kg_m2s, 0);
    double sd = food_drift_sd_K(context, medium_C - food->state[0]);
    covariance_step(food, &t, (1 - t.keep * t.keep) * sd * sd);
}

/* Stirring leaves one temperature, the mean, with the doubt of the mean.  What it turns out to
 * be says a lot about the heat the food has lost so far. */
static void
even_out(struct food *food)
{
    struct conduction_grid grid = grid_of(food);
    double whole = 1 / food->traits.exponent;
    double mean = conduction_mean(&grid, food->state);
    double var = 0.09;
    for (int r = 0; r < FOOD_CELLS; r++)
        for (int c = 0; c < FOOD_CELLS; c++)
            var += food->volume[r] * food->volume[c] * food->covariance[food_packed(r, c)] /
                   (whole * whole);
    for (int i = 0; i < FOOD_CELLS; i++) {
        food->state[i] = mean;
        for (int c = 0; c < FOOD_STATES; c++)
            food->covariance[food_packed(i, c)] =
                c < FOOD_CELLS ? var + (i == c ? 0.02 : 0) : 0;
    }
}

/* Folds one mean reading in.  A misfit beyond four spreads counts as four: a wild reading must
 * not decide. */
static void
learn(struct food *food, const struct food_context *context, double core_C, double expected_C,
      double span_s)
{
    struct conduction_grid grid = grid_of(food);
    int first;
    double weight[2];
    conduction_reading_weights(&grid, food->traits.probe, &first, weight);
    double across[FOOD_STATES];
    for (int i = 0; i < FOOD_STATES; i++)
        across[i] = weight[0] * food->covariance[food_packed(i, first)] +
                    weight[1] * food->covariance[food_packed(i, first + 1)];
    double noise = context->kind == FORECAST_COOK ? NOISE_COOK_K : NOISE_COOLING_K;
    double noise_var = noise * noise * 60 / fmax(span_s, 5);
    double spread_var = weight[0] * across[first] + weight[1] * across[first + 1] + noise_var;
    double misfit = core_C - expected_C;
    double limit = 4 * sqrt(spread_var);
    if (fabs(misfit) > limit)
        spread_var *= fabs(misfit) / limit;
    double temper = context->kind == FORECAST_COOK ? TEMPER_COOK : TEMPER_COOLING;
    double gained = -0.5 * (misfit * misfit / spread_var + log(spread_var)) * temper;
    food->log_likelihood += gained;
    food->log_weight += gained;
    for (int r = 0; r < FOOD_STATES; r++) {
        double pull = across[r] / spread_var;
        food->state[r] += pull * misfit;
        for (int c = 0; c <= r; c++)
            food->covariance[food_packed(r, c)] -= pull * across[c];
    }
}

void
food_follow(struct food *food, const struct food_context *context,
            const struct food_stretch *stretch)
{
    if (stretch->stir)
        even_out(food);
    double before_C = food_reading(food, food->state);
    int steps = (int)ceil(stretch->span_s / STEP_MAX_S);
    double dt_s = stretch->span_s / (steps > 0 ? steps : 1);
    for (int i = 0; i < steps; i++) {
        double at_s = stretch->begin_s + (i + 0.5) * dt_s;
        int place =
            stretch->place < FOOD_PLACES ? stretch->place : at_s >= food->traits.switch_s;
        if (place != food->place)
            food_change_place(food, context, place);
        advance(food, context, place, food_medium(food, place, stretch->medium_C, at_s), dt_s);
    }
    if (isnan(stretch->core_C) || stretch->stir)
        return;
    /* The mean of the stretch, and late by the sensor's lag. */
    double after_C = food_reading(food, food->state);
    double late = stretch->span_s > 0 ? 0.5 + SENSOR_LAG_S / stretch->span_s : 0;
    learn(food, context, stretch->core_C, after_C - fmin(late, 1) * (after_C - before_C),
          stretch->span_s);
}
