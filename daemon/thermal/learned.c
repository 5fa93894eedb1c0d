/* What earlier batches taught, put where a forecast begins. See trivet/lesson.h. Pure; owns
 * nothing. */
#include <math.h>
#include <string.h>

#include "daemon/thermal/food.h"
#include "trivet/lesson.h"

/* What one batch of a product differs from the next, in the scale of the unknowns, where
 * products that have nothing to do with each other differ by 1. Common practice, no source. */
static const double DAY = 0.5;
/* An unknown that a fit hardly narrowed says nothing. */
static const double UNTAUGHT_VAR = 0.98;
static const double LEFT_LEAST_S = 30;

/* A fit is the readings' word and that of the scale itself (0, spread 1) together: the latter
 * is taken out, and counted once for all fits. */
void
forecast_prior_from(enum forecast_kind kind, const struct lesson_fit *fits, int count,
                    struct forecast_prior *ret_prior)
{
    double weight[FORECAST_UNKNOWNS], sum[FORECAST_UNKNOWNS] = {0};
    for (int k = 0; k < FORECAST_UNKNOWNS; k++)
        weight[k] = 1;
    memset(ret_prior, 0, sizeof *ret_prior);
    for (int j = 0; j < count; j++) {
        double resized[FORECAST_UNKNOWNS] = {0};
        if (isfinite(fits[j].size_ratio) && fits[j].size_ratio > 0)
            food_resize(kind, fits[j].size_ratio, resized);
        for (int k = 0; k < FORECAST_UNKNOWNS; k++) {
            double var = fits[j].fit.spread[k] * fits[j].fit.spread[k];
            if (!(var > 0 && var < UNTAUGHT_VAR))
                continue;
            double own_var = var / (1 - var);
            double said = fits[j].fit.mean[k] / (1 - var) + resized[k];
            double counts = 1 / (own_var + DAY * DAY);
            weight[k] += counts;
            sum[k] += counts * said;
        }
    }
    for (int k = 0; k < FORECAST_UNKNOWNS && count > 0; k++) {
        ret_prior->mean[k] = sum[k] / weight[k];
        ret_prior->spread[k] = sqrt(fmin(1 / weight[k] + DAY * DAY, 1));
    }
}

static double
between(double plan_s, double bank_s, double plan_counts)
{
    if (!isfinite(bank_s) || !isfinite(plan_s))
        return plan_counts > 0.5 ? plan_s : bank_s;
    return exp(plan_counts * log(fmax(plan_s, LEFT_LEAST_S)) +
               (1 - plan_counts) * log(fmax(bank_s, LEFT_LEAST_S)));
}

static double
log_width(const struct forecast_range *left_s)
{
    double ratio = fmax(left_s->p95, 2 * LEFT_LEAST_S) / fmax(left_s->p05, LEFT_LEAST_S);
    return fmax(log(ratio), 0.01);
}

/* The plan by the share of the way that is still to go, the readings by the share that is
 * behind; each by how sure it is. */
static double
plan_share(const struct forecast_range *plan, const struct forecast_range *bank,
           double so_far_s)
{
    if (!isfinite(bank->p95) || !isfinite(plan->p95))
        return isfinite(plan->p95) || !isfinite(bank->p50);
    double to_go = bank->p50 / (bank->p50 + so_far_s);
    double plan_log = log_width(plan), bank_log = log_width(bank);
    double by_plan = to_go / (plan_log * plan_log);
    double by_bank = (1 - to_go) / (bank_log * bank_log);
    return by_plan / (by_plan + by_bank);
}

double
forecast_lean_on_plan(struct forecast *f, const struct planned *planned, double put_in_s)
{
    const struct forecast_range *to = &planned->target_s;
    double so_far_s = f->time_s - put_in_s;
    struct forecast_range left = {to->p05 - so_far_s, to->p50 - so_far_s, to->p95 - so_far_s};
    bool early = f->refusal == FORECAST_TOO_EARLY;
    /* A plan that is over says nothing. */
    if ((f->refusal != FORECAST_GIVEN && !early) || f->reached[0] || !(left.p50 > 0) ||
        so_far_s < 0)
        return 1;
    struct forecast_range bank = f->eta_s[0];
    double plan_counts = early ? 1 : plan_share(&left, &bank, so_far_s);
    if (early)
        bank = left;
    f->refusal = FORECAST_GIVEN;
    f->eta_s[0] = (struct forecast_range){between(left.p05, bank.p05, plan_counts),
                                          between(left.p50, bank.p50, plan_counts),
                                          between(left.p95, bank.p95, plan_counts)};
    double factor = f->eta_s[0].p50 / bank.p50;
    if (!isfinite(factor) || factor <= 0)
        return 1;
    struct forecast_range *next = &f->eta_s[1]; /* NAN stays that */
    *next = (struct forecast_range){next->p05 * factor, next->p50 * factor, next->p95 * factor};
    struct forecast_range *earned = &f->earned_s;
    *earned = (struct forecast_range){earned->p05 * factor, earned->p50 * factor,
                                      earned->p95 * factor};
    return factor;
}
