/* A weighted bank of candidates for one batch.
 *
 * The weights follow the readings; when few candidates carry the weight, the bank is drawn anew
 * from them, and candidates are varied and carried through the whole record again, a few at a
 * time, accepted or not by how well they explain it (resample and move).  Deterministic: the
 * random numbers come from a seed in the bank.  Pure; one owner. */
#ifndef THERMAL_BANK_H
#define THERMAL_BANK_H

#include <stdint.h>

#include "daemon/thermal/food.h"
#include "daemon/thermal/record.h"

enum { BANK_MEMBERS = 192 };

struct bank {
    struct food member[BANK_MEMBERS];
    uint64_t random;
    int next; /* member to vary next */
    int tried;
    int taken;
};

void bank_begin(struct bank *bank, const struct food_context *context);
void bank_follow(struct bank *bank, const struct food_context *context,
                 const struct food_stretch *stretch);
void bank_refine(struct bank *bank, const struct food_context *context,
                 const struct record *record);

/* Carries every member through the whole record, as after a change of what is known. */
void bank_replay(struct bank *bank, const struct food_context *context,
                 const struct record *record);

/* Weights that sum to 1; returns the effective number of members. */
double bank_weights(const struct bank *bank, double ret_weight[BANK_MEMBERS]);

#endif
