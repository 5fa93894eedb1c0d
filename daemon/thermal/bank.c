/* A weighted bank of candidates.  See bank.h.  Pure; owns nothing. */
#include "daemon/thermal/bank.h"

#include <math.h>

static const int WORK_PER_S = 50; /* stretches replayed for each new second of readings */
static const int TRIALS_MAX = 48;

/* xorshift64*: enough for choosing candidates. */
static double
uniform(struct bank *bank)
{
    bank->random ^= bank->random >> 12;
    bank->random ^= bank->random << 25;
    bank->random ^= bank->random >> 27;
    return ((double)(bank->random * 0x2545F4914F6CDD1DULL >> 11) + 0.5) / 9007199254740992.0;
}

static double
normal(struct bank *bank)
{
    double radius = sqrt(-2 * log(uniform(bank)));
    return radius * cos(6.283185307179586 * uniform(bank));
}

static double
prior_spread(const struct food_context *context, int unknown)
{
    double s = context->prior.spread[unknown];
    return s > 0 ? s : 1;
}

/* Normal quantile by bisection: used only when a bank begins. */
static double
normal_quantile(double p)
{
    double low = -6, high = 6;
    for (int i = 0; i < 40; i++) {
        double middle = 0.5 * (low + high);
        if (0.5 * erfc(-middle / sqrt(2)) < p)
            low = middle;
        else
            high = middle;
    }
    return 0.5 * (low + high);
}

/* Latin hypercube: each unknown takes evenly spread quantiles, in an order of its own. */
void
bank_begin(struct bank *bank, const struct food_context *context)
{
    bank->random = 0x9E3779B97F4A7C15ULL;
    bank->next = bank->tried = bank->taken = 0;
    for (int i = 0; i < BANK_MEMBERS; i++)
        bank->member[i].unknown[0] = normal_quantile((i + 0.5) / BANK_MEMBERS);
    for (int k = FORECAST_UNKNOWNS - 1; k >= 0; k--) {
        for (int i = 0; i < BANK_MEMBERS; i++)
            bank->member[i].unknown[k] = bank->member[i].unknown[0];
        for (int i = BANK_MEMBERS - 1; i > 0; i--) {
            int j = (int)(uniform(bank) * (i + 1));
            double keep = bank->member[i].unknown[k];
            bank->member[i].unknown[k] = bank->member[j].unknown[k];
            bank->member[j].unknown[k] = keep;
        }
    }
    for (int i = 0; i < BANK_MEMBERS; i++) {
        struct food *m = &bank->member[i];
        for (int k = 0; k < FORECAST_UNKNOWNS; k++)
            m->unknown[k] = context->prior.mean[k] + prior_spread(context, k) * m->unknown[k];
        food_begin(m, context);
    }
}

void
bank_follow(struct bank *bank, const struct food_context *context,
            const struct food_stretch *stretch)
{
    for (int i = 0; i < BANK_MEMBERS; i++)
        food_follow(&bank->member[i], context, stretch);
}

static void
replay(struct food *food, const struct food_context *context, const struct record *record)
{
    food_begin(food, context);
    double begin_s = 0;
    for (int i = 0; i < record->count; i++) {
        struct food_stretch s = record_stretch(record, i, begin_s);
        food_follow(food, context, &s);
        begin_s += s.span_s;
    }
}

void
bank_replay(struct bank *bank, const struct food_context *context, const struct record *record)
{
    for (int i = 0; i < BANK_MEMBERS; i++)
        replay(&bank->member[i], context, record);
}

double
bank_weights(const struct bank *bank, double ret_weight[BANK_MEMBERS])
{
    double highest = -INFINITY, sum = 0, squares = 0;
    for (int i = 0; i < BANK_MEMBERS; i++)
        highest = fmax(highest, bank->member[i].log_weight);
    for (int i = 0; i < BANK_MEMBERS; i++) {
        ret_weight[i] = exp(bank->member[i].log_weight - highest);
        sum += ret_weight[i];
    }
    for (int i = 0; i < BANK_MEMBERS; i++) {
        ret_weight[i] /= sum;
        squares += ret_weight[i] * ret_weight[i];
    }
    return 1 / squares;
}

/* Systematic drawing: a member with weight w is kept about w * BANK_MEMBERS times; the copies
 * take the places of those that go. */
static void
draw_anew(struct bank *bank, const double *weight)
{
    int copies[BANK_MEMBERS];
    double at = uniform(bank), sum = 0;
    int drawn = 0;
    for (int i = 0; i < BANK_MEMBERS; i++) {
        sum += weight[i] * BANK_MEMBERS;
        copies[i] = 0;
        while (drawn < BANK_MEMBERS && (at + drawn < sum || i == BANK_MEMBERS - 1)) {
            copies[i]++;
            drawn++;
        }
    }
    int gone = 0;
    for (int i = 0; i < BANK_MEMBERS; i++)
        for (; copies[i] > 1; copies[i]--) {
            while (copies[gone] != 0)
                gone++;
            bank->member[gone] = bank->member[i];
            copies[gone] = 1;
        }
    for (int i = 0; i < BANK_MEMBERS; i++)
        bank->member[i].log_weight = 0;
}

static double
log_prior(const double *unknown, const struct food_context *context)
{
    double sum = 0;
    for (int k = 0; k < FORECAST_UNKNOWNS; k++) {
        double d = (unknown[k] - context->prior.mean[k]) / prior_spread(context, k);
        sum -= 0.5 * d * d;
    }
    return sum;
}

/* A step along the difference of two others follows the shape of what is still possible; one in
 * five is a step of its own in every unknown. */
static void
propose(struct bank *bank, const struct food *from, double *ret_unknown)
{
    int a = (int)(uniform(bank) * BANK_MEMBERS);
    int b = (int)(uniform(bank) * BANK_MEMBERS);
    bool alone = uniform(bank) < 0.2;
    double along = alone ? 0 : 0.3 + 0.5 * uniform(bank);
    double own = alone ? 0.35 : 0.04;
    for (int k = 0; k < FORECAST_UNKNOWNS; k++)
        ret_unknown[k] = from->unknown[k] +
                         along * (bank->member[a].unknown[k] - bank->member[b].unknown[k]) +
                         own * normal(bank);
}

static void
vary_one(struct bank *bank, const struct food_context *context, const struct record *record)
{
    struct food *now = &bank->member[bank->next];
    bank->next = (bank->next + 1) % BANK_MEMBERS;
    struct food trial;
    propose(bank, now, trial.unknown);
    double gain = log_prior(trial.unknown, context) - log_prior(now->unknown, context);
    double chance = log(uniform(bank));
    bank->tried++;
    replay(&trial, context, record);
    gain += trial.log_likelihood - now->log_likelihood;
    if (chance < gain) {
        trial.log_weight = now->log_weight;
        *now = trial;
        bank->taken++;
    }
}

void
bank_refine(struct bank *bank, const struct food_context *context, const struct record *record)
{
    double weight[BANK_MEMBERS];
    if (bank_weights(bank, weight) < 0.5 * BANK_MEMBERS)
        draw_anew(bank, weight);
    int work = (int)(WORK_PER_S * record->span_min_s);
    int trials = work / (record->count > 0 ? record->count : 1);
    trials = trials < 2 ? 2 : trials > TRIALS_MAX ? TRIALS_MAX : trials;
    for (int i = 0; i < trials; i++)
        vary_one(bank, context, record);
}
