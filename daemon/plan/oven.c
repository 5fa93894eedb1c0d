/* Which of a limit's oven conditions applies to a roast. Pure; any thread. */
#include "trivet/plan.h"

static bool
is_for(const struct plan_oven_row *row, enum oven_type type, int32_t mass_g)
{
    if (row->type != type)
        return false;
    return mass_g == 0 || (row->under_g > 0 ? mass_g < row->under_g : mass_g >= row->from_g);
}

/* Whether what satisfies a satisfies b as well. */
static bool
is_stricter(const struct plan_limit *a, const struct plan_limit *b)
{
    int64_t one = a->temp.unit == TEMP_F ? (int64_t)a->temp.milli * 5
                                         : (int64_t)a->temp.milli * 9 + 160000;
    int64_t two = b->temp.unit == TEMP_F ? (int64_t)b->temp.milli * 5
                                         : (int64_t)b->temp.milli * 9 + 160000;
    return a->kind == LIMIT_OVEN ? one > two : one < two;
}

const struct plan_limit *
plan_oven_limit(const struct plan_limit *limit, int32_t mass_g)
{
    const struct plan_limit *found = NULL;
    if (mass_g == 0)
        mass_g = limit->roast_g;
    for (size_t i = 0; limit->ovens && i < limit->oven_row_count; i++)
        if (is_for(&limit->oven_rows[i], limit->oven, mass_g) &&
            (!found || is_stricter(&limit->ovens[i], found)))
            found = &limit->ovens[i];
    return found;
}

void
plan_oven_make(const struct plan_limit *limit, struct plan_limit *ret)
{
    for (size_t i = 0; i < limit->oven_row_count; i++) {
        const struct plan_oven_row *row = &limit->oven_rows[i];
        ret[i] = (struct plan_limit){.kind = row->is_upper ? LIMIT_MOIST_OVEN : LIMIT_OVEN,
                                     .subject = SUBJECT_AIR,
                                     .temp = row->is_upper ? row->most : row->least,
                                     .tolerance_ms = limit->oven_recovery_ms,
                                     .guard_percent = 100};
    }
}
