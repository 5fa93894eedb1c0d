/* Guesses drawn towards what was observed.  See ensemble.h.  Pure; owns nothing. */
#include "daemon/thermal/ensemble.h"

#include <math.h>

static double
uniform(uint64_t *random)
{
    *random ^= *random >> 12;
    *random ^= *random << 25;
    *random ^= *random >> 27;
    return ((double)(*random * 0x2545F4914F6CDD1DULL >> 11) + 0.5) / 9007199254740992.0;
}

double
ensemble_normal(uint64_t *random)
{
    double radius = sqrt(-2 * log(uniform(random)));
    return radius * cos(6.283185307179586 * uniform(random));
}

/* Drawn in pairs of opposite signs, then scaled: mean 0 and spread 1 hold exactly. */
void
ensemble_begin(struct ensemble *ensemble)
{
    ensemble->random = 0x9E3779B97F4A7C15ULL;
    for (int k = 0; k < DISH_UNKNOWNS; k++) {
        double squares = 0;
        for (int i = 0; i + 1 < ENSEMBLE_MEMBERS; i += 2) {
            double u = ensemble_normal(&ensemble->random);
            ensemble->unknown[i][k] = u;
            ensemble->unknown[i + 1][k] = -u;
            squares += 2 * u * u;
        }
        double scale = sqrt(ENSEMBLE_MEMBERS / squares);
        for (int i = 0; i < ENSEMBLE_MEMBERS; i++)
            ensemble->unknown[i][k] *= scale;
    }
    /* Pairs of one unknown meet other pairs of the next: no two are mirrored together. */
    for (int k = 0; k < DISH_UNKNOWNS; k++)
        for (int i = ENSEMBLE_MEMBERS - 1; i > 0; i--) {
            int j = (int)(uniform(&ensemble->random) * (i + 1));
            double keep = ensemble->unknown[i][k];
            ensemble->unknown[i][k] = ensemble->unknown[j][k];
            ensemble->unknown[j][k] = keep;
        }
}

static void
factor(double *a, int stride, int count)
{
    for (int r = 0; r < count; r++)
        for (int c = 0; c <= r; c++) {
            double sum = a[r * stride + c];
            for (int k = 0; k < c; k++)
                sum -= a[r * stride + k] * a[c * stride + k];
            a[r * stride + c] = r == c ? sqrt(fmax(sum, 1e-12)) : sum / a[c * stride + c];
        }
}

static void
back(const double *a, int stride, int count, double *b)
{
    for (int r = 0; r < count; r++) {
        for (int k = 0; k < r; k++)
            b[r] -= a[r * stride + k] * b[k];
        b[r] /= a[r * stride + r];
    }
    for (int r = count - 1; r >= 0; r--) {
        for (int k = r + 1; k < count; k++)
            b[r] -= a[k * stride + r] * b[k];
        b[r] /= a[r * stride + r];
    }
}

void
ensemble_solve(double *a, int stride, int count, double *b)
{
    factor(a, stride, count);
    back(a, stride, count, b);
}

struct spreads {
    double mean[ENSEMBLE_OBSERVED];
    double matrix[ENSEMBLE_OBSERVED * ENSEMBLE_OBSERVED];
    double cross[DISH_UNKNOWNS][ENSEMBLE_OBSERVED];
};

static void
find_spreads(const struct ensemble *e, const struct ensemble_observed *o, double inflation,
             struct spreads *s)
{
    *s = (struct spreads){0};
    double u_mean[DISH_UNKNOWNS] = {0};
    for (int i = 0; i < ENSEMBLE_MEMBERS; i++) {
        for (int k = 0; k < o->count; k++)
            s->mean[k] += e->foreseen[i][k] / ENSEMBLE_MEMBERS;
        for (int k = 0; k < DISH_UNKNOWNS; k++)
            u_mean[k] += e->unknown[i][k] / ENSEMBLE_MEMBERS;
    }
    for (int i = 0; i < ENSEMBLE_MEMBERS; i++) {
        double away[ENSEMBLE_OBSERVED] = {0};
        for (int k = 0; k < o->count; k++)
            away[k] = (e->foreseen[i][k] - s->mean[k]) / (ENSEMBLE_MEMBERS - 1);
        for (int k = 0; k < o->count; k++) {
            double full = e->foreseen[i][k] - s->mean[k];
            for (int l = 0; l <= k; l++)
                s->matrix[k * ENSEMBLE_OBSERVED + l] += full * away[l];
        }
        for (int k = 0; k < DISH_UNKNOWNS; k++)
            for (int l = 0; l < o->count; l++)
                s->cross[k][l] += (e->unknown[i][k] - u_mean[k]) * away[l];
    }
    for (int k = 0; k < o->count; k++)
        for (int l = 0; l <= k; l++) {
            double error = k == l ? o->own_sd[k] * o->own_sd[k] : 0;
            if (o->group[k] == o->group[l])
                error += o->shared_sd[k] * o->shared_sd[l];
            s->matrix[k * ENSEMBLE_OBSERVED + l] += inflation * error;
        }
}

void
ensemble_step(struct ensemble *e, const struct ensemble_observed *o, double inflation)
{
    struct spreads s;
    find_spreads(e, o, inflation, &s);
    factor(s.matrix, ENSEMBLE_OBSERVED, o->count);
    double wide = sqrt(inflation);
    for (int i = 0; i < ENSEMBLE_MEMBERS; i++) {
        double misfit[ENSEMBLE_OBSERVED];
        double shared = 0;
        for (int k = 0; k < o->count; k++) {
            if (k == 0 || o->group[k] != o->group[k - 1])
                shared = ensemble_normal(&e->random);
            double noise =
                o->own_sd[k] * ensemble_normal(&e->random) + o->shared_sd[k] * shared;
            misfit[k] = o->value[k] + wide * noise - e->foreseen[i][k];
        }
        back(s.matrix, ENSEMBLE_OBSERVED, o->count, misfit);
        for (int k = 0; k < DISH_UNKNOWNS; k++)
            for (int l = 0; l < o->count; l++)
                e->unknown[i][k] += s.cross[k][l] * misfit[l];
    }
}
