/* Running candidates ahead.  See outlook.h.  Pure; owns nothing. */
#include "daemon/thermal/outlook.h"

#include <assert.h>
#include <math.h>

#include "daemon/thermal/earning.h"

enum { STEPS_MAX = 160, DRAWN = 96 };

static const double STEP_FIRST_S = 30;
static const double STEP_GROWTH = 1.07;
static const double STEP_COOK_MAX_S = 600;
static const double STEP_COOLING_MAX_S = 900;
static const double IMPLICIT = 0.6;
static const double SETTLED_AFTER_S = 4 * 3600; /* by then any move and any drift are over */
static const double SETTLED_K_S = 1e-5;
/* Doubts that no candidate has by itself; set on the development half of the corpus. */
static const double FORM_SHARE_COOK =
    0.015; /* of the change to come: no candidate is the food */
static const double FORM_SHARE_COOLING = 0.03;
static const double LEVEL_COOK_K = 0.7; /* of the surroundings to come */
static const double LEVEL_COOLING_K = 0.4;
static const double DOUBT_SCALE_COOK = 0.85;
static const double NEVER_BELIEVED = 0.2;
static const double UNFROZEN_C = 0.5;
static const double OWN_BELOW_K = 3; /* warm food makes no more of a cold place's air */
static const double COLD_RADIATION_W_m2K = 4.5; /* of a surface at 0 to 20 C, computed */

/* A candidate on its way ahead: its expected temperatures, and two directions of doubt (what is
 * not known of the surroundings now, one kelvin more from now on). */
struct ahead {
    struct food food;
    struct conduction_grid grid;
    double known[FOOD_CELLS];
    double coming[FOOD_CELLS];
    double known_offset_K;
    double known_drift_K;
    double coming_K;
    double own_sd_K; /* doubt about the reading that is left when the surroundings are known */
    double time_s;
    double medium_C;
};

static double
normal_share(double x)
{
    return 0.5 * erfc(-x / sqrt(2));
}

static void
apply_change(struct ahead *a, const struct forecast_change *change)
{
    if (change == NULL)
        return;
    struct food_traits *t = &a->food.traits;
    double size = change->size_factor;
    t->fo_per_s /= size * size;
    t->resistance_m2K_W *= size;
    for (int p = 0; p < FOOD_PLACES; p++) {
        t->place[p].film_W_m2K *= change->film_factor;
        t->place[p].wet = fmin(t->place[p].wet * change->wet_factor / change->film_factor, 1);
    }
    if (change->stir) {
        double mean = conduction_mean(&a->grid, a->food.state);
        for (int i = 0; i < FOOD_CELLS; i++)
            a->food.state[i] = mean;
    }
}

static void
ahead_begin(struct ahead *a, const struct food *from, const struct forecast_change *change)
{
    a->food = *from;
    a->grid = (struct conduction_grid){FOOD_CELLS, a->food.volume, a->food.link, a->food.node};
    const double *p = from->covariance;
    double var_K2 = p[food_packed(FOOD_OFFSET, FOOD_OFFSET)] +
                    p[food_packed(FOOD_DRIFT, FOOD_DRIFT)] +
                    2 * p[food_packed(FOOD_OFFSET, FOOD_DRIFT)];
    double sd_K = sqrt(fmax(var_K2, 1e-12));
    for (int i = 0; i < FOOD_CELLS; i++) {
        a->known[i] = (p[food_packed(i, FOOD_OFFSET)] + p[food_packed(i, FOOD_DRIFT)]) / sd_K;
        a->coming[i] = 0;
    }
    a->known_offset_K =
        (p[food_packed(FOOD_OFFSET, FOOD_OFFSET)] + p[food_packed(FOOD_OFFSET, FOOD_DRIFT)]) /
        sd_K;
    a->known_drift_K =
        (p[food_packed(FOOD_DRIFT, FOOD_DRIFT)] + p[food_packed(FOOD_OFFSET, FOOD_DRIFT)]) /
        sd_K;
    a->coming_K = 1;
    double left = p[food_packed(0, 0)] - a->known[0] * a->known[0];
    a->own_sd_K = sqrt(fmax(left, 0));
    a->time_s = 0;
    /* Measured air has frozen this surface: the chiller does not mind. */
    a->food.traits.place[from->place].thaws &= from->surface_C > -UNFROZEN_C;
    apply_change(a, change);
}

static void
ahead_move(struct ahead *a, const struct food_context *context, int place)
{
    food_change_place(&a->food, context, place);
    a->known_offset_K = context->kind == FORECAST_COOK ? 3 : 1;
    a->known_drift_K = 0;
}

static void
move_doubt(struct ahead *a, const struct conduction_step *step,
           const struct food_surface *surface, double felt_K, double *doubt)
{
    double rate[FOOD_CELLS];
    conduction_rate(&a->grid, doubt,
                    surface->flux.slope * doubt[FOOD_CELLS - 1] + surface->gain * felt_K, rate);
    conduction_solve(&a->grid, step, rate);
    for (int i = 0; i < FOOD_CELLS; i++)
        doubt[i] += step->dt_fo * rate[i];
}

static void
ahead_step(struct ahead *a, const struct food_context *context, int place, double medium_C,
           double dt_s, bool with_doubt)
{
    struct food *f = &a->food;
    double keep = exp(-dt_s / food_drift_s(context));
    double mid_drift = 0.5 * (1 + keep);
    double felt_C = medium_C + f->state[FOOD_OFFSET] + f->state[FOOD_DRIFT] * mid_drift;
    double dryness = food_dryness(f);
    f->wall_C = food_wall(f, medium_C, dt_s);
    double warmth = food_warmth(f->state[FOOD_CELLS / 2]);
    struct food_surface s = food_surface_balance(
        &f->traits, &f->traits.place[place], f->link[FOOD_CELLS - 1], warmth, dryness, felt_C,
        f->wall_C + felt_C - medium_C, f->state[FOOD_CELLS - 1], &f->surface_C);
    struct conduction_step step;
    conduction_factor(&a->grid, s.flux.slope, dt_s * f->traits.fo_per_s * warmth, IMPLICIT,
                      &step);
    double rate[FOOD_CELLS];
    conduction_rate(&a->grid, f->state, s.flux.flux_K, rate);
    conduction_solve(&a->grid, &step, rate);
    for (int i = 0; i < FOOD_CELLS; i++)
        f->state[i] += step.dt_fo * rate[i];
    if (with_doubt) {
        move_doubt(a, &step, &s, a->known_offset_K + a->known_drift_K * mid_drift, a->known);
        move_doubt(a, &step, &s, a->coming_K, a->coming);
    }
    f->state[FOOD_DRIFT] *= keep;
    a->known_drift_K *= keep;
    f->lost_kg_m2 = fmax(f->lost_kg_m2 + dt_s * s.loss_kg_m2s, 0);
    a->time_s += dt_s;
}

/* Where the food will stand and in what, some time from now. */
struct setting {
    int place;
    double medium_C;
};

/* The air of a cold place falls as the food it was warmed by cools; just after the food came
 * in, towards what the candidate believes of the place. */
static double
relieved(const struct outlook_question *q, const struct food *food, struct setting s,
         struct record_level level, double now_C, double ahead_s)
{
    const struct food_place *p = &food->traits.place[s.place];
    if (p->ignores_probe || s.medium_C > 14)
        return s.medium_C;
    double core_C = food->state[0];
    if (q->record->end_s - q->record->place_since_s > 1500) {
        double own_C = fmax(fmin(p->medium_C, s.medium_C), s.medium_C - OWN_BELOW_K);
        double believed = now_C > own_C + 1 ? (s.medium_C - own_C) / (now_C - own_C) : 0;
        double load = level.load_known * level.load + (1 - level.load_known) * believed;
        return s.medium_C - load * fmax(now_C - core_C, 0);
    }
    double own_C = food_medium(food, s.place, NAN, 0);
    return own_C < s.medium_C ? own_C + (s.medium_C - own_C) * exp(-ahead_s / 600) : s.medium_C;
}

/* Colder air than keeps the surface just above freezing is let up by a chiller that minds that:
 * to where the surface's balance of heat has it there. */
static double
above_freezing(const struct food *food, int place, double medium_C)
{
    const struct food_traits *t = &food->traits;
    const struct food_place *p = &t->place[place];
    if (!p->thaws || medium_C >= UNFROZEN_C)
        return medium_C;
    double inner = 1 / (t->resistance_m2K_W / food->link[FOOD_CELLS - 1] + t->wrap_m2K_W);
    double given_W_m2 = inner * (food->state[FOOD_CELLS - 1] - UNFROZEN_C);
    double least_C = UNFROZEN_C - given_W_m2 / (p->film_W_m2K + COLD_RADIATION_W_m2K);
    return fmax(medium_C, fmin(least_C, UNFROZEN_C));
}

static struct setting
setting_at(const struct outlook_question *q, const struct food *food, struct record_level level,
           double now_C, double ahead_s)
{
    const struct record *r = q->record;
    double since_start_s = r->end_s - r->origin_s + ahead_s;
    struct setting s = {.place = r->place};
    double measured_C = level.level_C;
    if (r->place == FOOD_PLACES) {
        double leaves_s = food->traits.switch_s, now_s = r->end_s - r->origin_s;
        if (r->air_seen && r->air_slow_C > 14) /* the move would have been seen */
            leaves_s = fmax(leaves_s, now_s + 300);
        s.place = since_start_s >= leaves_s;
        if (s.place == 1 && leaves_s > now_s) /* what was measured is the place it leaves */
            measured_C = NAN;
    }
    s.medium_C = food_medium(food, s.place, measured_C, since_start_s);
    if (q->context->kind == FORECAST_COOLING && !isnan(measured_C))
        s.medium_C = relieved(q, food, s, level, now_C, ahead_s);
    s.medium_C = above_freezing(food, s.place, s.medium_C);
    if (q->change != NULL && !isnan(q->change->medium_C))
        s.medium_C = q->change->medium_C;
    return s;
}

static double
doubt_of_reading_K(const struct ahead *a, const struct outlook_question *q, double level_sd_K,
                   double now_C, double reading_C)
{
    bool cook = q->context->kind == FORECAST_COOK;
    double known = food_reading(&a->food, a->known);
    double coming = food_reading(&a->food, a->coming);
    double drift_sd = food_drift_sd_K(q->context, a->medium_C - now_C);
    double x = a->time_s / food_drift_s(q->context);
    double level = (cook ? LEVEL_COOK_K : LEVEL_COOLING_K) + level_sd_K;
    double form = (cook ? FORM_SHARE_COOK : FORM_SHARE_COOLING) * (reading_C - now_C);
    return (cook ? DOUBT_SCALE_COOK : 1) *
           sqrt(known * known +
                coming * coming * (drift_sd * drift_sd * 0.67 * x / (1 + x) + level * level) +
                form * form + a->own_sd_K * a->own_sd_K * exp(-2 * x) + 0.01);
}

struct mixture {
    double time_s[STEPS_MAX];
    double share[FORECAST_LIMITS][STEPS_MAX]; /* weight of candidates past the limit by then */
    double earned[STEPS_MAX];                 /* and of those that have earned theirs */
    int steps;
    double miss[FORECAST_LIMITS];
};

static void
mixture_times(struct mixture *m, enum forecast_kind kind)
{
    double dt = STEP_FIRST_S, t = 0;
    double longest = kind == FORECAST_COOK ? STEP_COOK_MAX_S : STEP_COOLING_MAX_S;
    for (m->steps = 0; m->steps < STEPS_MAX; m->steps++) {
        t += dt;
        m->time_s[m->steps] = t;
        dt = fmin(dt * STEP_GROWTH, longest);
    }
    for (int l = 0; l < FORECAST_LIMITS; l++) {
        m->miss[l] = 0;
        for (int k = 0; k < STEPS_MAX; k++)
            m->share[l][k] = 0;
    }
    for (int k = 0; k < STEPS_MAX; k++)
        m->earned[k] = 0;
}

/* What is earned is no straight function of the doubt about a reading: three paths stand for it
 * (Gauss and Hermite's rule of three points). */
enum { PATHS = 3 };
static const double PATH_AWAY[PATHS] = {-1.7320508075688772, 0, 1.7320508075688772};
static const double PATH_WEIGHT[PATHS] = {1.0 / 6, 2.0 / 3, 1.0 / 6};

struct earners {
    const struct forecast_earning *earning; /* NULL: nothing is to be earned */
    struct earning_run run[PATHS];
    double before_C[PATHS];
    bool counted[PATHS];
    int left; /* paths that have not earned it */
};

static void
earners_begin(struct earners *e, const struct forecast_earning *earning, double now_C)
{
    e->earning = earning;
    e->left = earning == NULL ? 0 : PATHS;
    for (int p = 0; p < e->left; p++) {
        earning_begin(&e->run[p], earning);
        e->before_C[p] = now_C;
        e->counted[p] = false;
    }
}

static void
earners_step(struct earners *e, struct mixture *m, int k, double weight, double reading_C,
             double sd_K, double dt_s)
{
    for (int p = 0; e->left > 0 && p < PATHS; p++) {
        double now_C = reading_C + PATH_AWAY[p] * sd_K;
        if (!e->run[p].done)
            earning_step(&e->run[p], e->earning, e->before_C[p], now_C, dt_s);
        e->before_C[p] = now_C;
        if (!e->run[p].done || e->counted[p])
            continue;
        e->counted[p] = true;
        e->left--;
        for (int rest = k; rest < m->steps; rest++)
            m->earned[rest] += weight * PATH_WEIGHT[p];
    }
}

/* Seconds from now to the deadline of a limit, as one candidate sees it: the clock may not have
 * begun yet. */
static double
deadline_s(const struct outlook_question *q, int limit, double own_clock_s)
{
    if (q->limit[limit].within_s <= 0)
        return INFINITY;
    double began = q->record->clock_began_s;
    return (isnan(began) ? own_clock_s : began - q->record->end_s) + q->limit[limit].within_s;
}

/* Food that has been stirred again and again will be: the usual time between, or INFINITY. */
static double
stir_interval_s(const struct record *record)
{
    if (record->stirs < 2)
        return INFINITY;
    double between_s = (record->last_stir_s - record->first_stir_s) / (record->stirs - 1);
    double since_s = record->end_s - record->last_stir_s;
    return since_s > 2 * between_s ? INFINITY : between_s;
}

static void
ahead_stir(struct ahead *a)
{
    double *profile[] = {a->food.state, a->known, a->coming};
    for (int p = 0; p < 3; p++) {
        double mean = conduction_mean(&a->grid, profile[p]);
        for (int i = 0; i < FOOD_CELLS; i++)
            profile[p][i] = mean;
    }
}

static void
run_member(const struct outlook_question *q, const struct food *member, double weight,
           struct record_level level, struct mixture *m)
{
    assert(q->limits <= FORECAST_LIMITS);
    struct ahead a;
    ahead_begin(&a, member, q->change);
    double now_C = food_reading(&a.food, a.food.state);
    bool cook = q->context->kind == FORECAST_COOK;
    double past[FORECAST_LIMITS] = {0}; /* chance to have passed the limit so far */
    double by_deadline[FORECAST_LIMITS] = {-1, -1};
    double own_clock_s = NAN, before_s = 0, before_C = now_C;
    double between_s = stir_interval_s(q->record);
    double stir_at_s =
        isinf(between_s) ? INFINITY : between_s - (q->record->end_s - q->record->last_stir_s);
    struct earners earners;
    earners_begin(&earners, q->earning, now_C);
    int k = 0;
    for (; k < m->steps; k++) {
        double dt = m->time_s[k] - before_s;
        struct setting s = setting_at(q, &a.food, level, now_C, before_s + 0.5 * dt);
        a.medium_C = s.medium_C;
        if (s.place != a.food.place)
            ahead_move(&a, q->context, s.place);
        ahead_step(&a, q->context, s.place, s.medium_C, dt, true);
        if (m->time_s[k] >= stir_at_s) {
            ahead_stir(&a);
            stir_at_s = fmax(stir_at_s + between_s, m->time_s[k]);
        }
        double reading = food_reading(&a.food, a.food.state);
        double sd = doubt_of_reading_K(&a, q, level.sd_K, now_C, reading);
        if (isnan(own_clock_s) && reading <= q->record->clock_from_C)
            own_clock_s = m->time_s[k];
        earners_step(&earners, m, k, weight, reading, sd, dt);
        double least = 1;
        for (int l = 0; l < q->limits; l++) {
            double over = (reading - q->limit[l].temp_C) * (cook ? 1 : -1) / sd;
            past[l] = fmax(past[l], normal_share(over));
            m->share[l][k] += weight * past[l];
            if (by_deadline[l] < 0 && m->time_s[k] >= deadline_s(q, l, own_clock_s))
                by_deadline[l] = past[l];
            least = fmin(least, past[l]);
        }
        bool settled = m->time_s[k] > SETTLED_AFTER_S &&
                       fabs(reading - before_C) < SETTLED_K_S * dt && isinf(stir_at_s);
        before_s = m->time_s[k];
        before_C = reading;
        if ((least > 0.9995 || settled) && earners.left == 0)
            break;
    }
    for (int l = 0; l < q->limits; l++) {
        for (int rest = k + 1; rest < m->steps; rest++)
            m->share[l][rest] += weight * past[l];
        m->miss[l] += weight * (1 - (by_deadline[l] < 0 ? past[l] : by_deadline[l]));
    }
}

static double
mixture_quantile(const struct mixture *m, const double shares[STEPS_MAX], double wanted)
{
    double before_share = 0, before_s = 0;
    for (int k = 0; k < m->steps; k++) {
        double share = shares[k];
        if (share >= wanted) {
            double part =
                share > before_share ? (wanted - before_share) / (share - before_share) : 1;
            return before_s + part * (m->time_s[k] - before_s);
        }
        before_share = share;
        before_s = m->time_s[k];
    }
    return INFINITY;
}

/* Nobody sets an oven that will not do: candidates that never reach the target count a fifth of
 * what the readings alone give them. */
static void
doubt_never(const struct mixture *m, double shares[STEPS_MAX])
{
    double never = 1 - shares[m->steps - 1];
    double whole = 1 - never + NEVER_BELIEVED * never;
    for (int k = 0; k < m->steps; k++)
        shares[k] /= whole;
}

static struct forecast_range
mixture_range(const struct mixture *m, const double shares[STEPS_MAX])
{
    return (struct forecast_range){mixture_quantile(m, shares, 0.05),
                                   mixture_quantile(m, shares, 0.5),
                                   mixture_quantile(m, shares, 0.95)};
}

/* Running every candidate ahead gives little more than a fair draw of half of them: turns
 * weights into shares of DRAWN evenly spaced draws, most of them 0. */
static void
draw_shares(double weight[BANK_MEMBERS])
{
    double sum = 0;
    int drawn = 0;
    for (int i = 0; i < BANK_MEMBERS; i++) {
        int before = drawn;
        sum += weight[i] * DRAWN;
        while (drawn < DRAWN && (drawn + 0.5 < sum || i == BANK_MEMBERS - 1))
            drawn++;
        weight[i] = (double)(drawn - before) / DRAWN;
    }
}

void
outlook_times(const struct outlook_question *q, struct forecast *forecast)
{
    double weight[BANK_MEMBERS];
    struct mixture m;
    forecast->models = bank_weights(q->bank, weight);
    mixture_times(&m, q->context->kind);
    struct record_level level = record_level(q->record);
    draw_shares(weight);
    for (int i = 0; i < BANK_MEMBERS; i++)
        if (weight[i] > 0)
            run_member(q, &q->bank->member[i], weight[i], level, &m);
    bool tried_out = q->change != NULL && !isnan(q->change->medium_C);
    bool doubted = q->context->kind == FORECAST_COOK && !tried_out;
    if (q->earning != NULL) {
        if (doubted)
            doubt_never(&m, m.earned);
        forecast->earned_s = mixture_range(&m, m.earned);
    }
    for (int l = 0; l < q->limits; l++) {
        if (doubted)
            doubt_never(&m, m.share[l]);
        forecast->eta_s[l] = mixture_range(&m, m.share[l]);
        forecast->miss_chance[l] = q->limit[l].within_s > 0 ? fmin(fmax(m.miss[l], 0), 1) : NAN;
    }
}

/* Highest reading of one candidate once it stands in the room. */
static double
member_peak(const struct outlook_question *q, const struct food *member)
{
    struct ahead a;
    ahead_begin(&a, member, NULL);
    double peak = food_reading(&a.food, a.food.state);
    double level_C = q->record->place == 1 ? record_level(q->record).level_C : NAN;
    if (a.food.place != 1)
        food_change_place(&a.food, q->context, 1);
    double dt = 30;
    while (a.time_s < 4 * 3600) {
        double medium_C = food_medium(&a.food, 1, level_C, 0);
        ahead_step(&a, q->context, 1, medium_C, dt, false);
        double reading = food_reading(&a.food, a.food.state);
        if (reading < peak - 0.3)
            break;
        peak = fmax(peak, reading);
        dt = fmin(dt * 1.15, 240);
    }
    return peak;
}

void
outlook_peak(const struct outlook_question *q, struct forecast *forecast)
{
    double weight[BANK_MEMBERS], peak[BANK_MEMBERS];
    (void)bank_weights(q->bank, weight);
    int order[BANK_MEMBERS] = {0};
    int count = 0;
    draw_shares(weight);
    for (int i = 0; i < BANK_MEMBERS; i++) {
        if (weight[i] <= 0)
            continue;
        peak[i] = member_peak(q, &q->bank->member[i]);
        if (q->record->place == 1)
            peak[i] = fmax(peak[i], q->record->highest_C);
        int at = count++;
        for (; at > 0 && peak[order[at - 1]] > peak[i]; at--)
            order[at] = order[at - 1];
        order[at] = i;
    }
    double sum = 0;
    struct forecast_range *r = &forecast->peak_C;
    *r = (struct forecast_range){NAN, NAN, NAN};
    for (int i = 0; i < count; i++) {
        sum += weight[order[i]];
        if (isnan(r->p05) && sum >= 0.05)
            r->p05 = peak[order[i]];
        if (isnan(r->p50) && sum >= 0.5)
            r->p50 = peak[order[i]];
        if (isnan(r->p95) && sum >= 0.95)
            r->p95 = peak[order[i]];
    }
}
