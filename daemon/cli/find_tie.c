/* Why other ways of reading registers stand beside the best one, and whether that matters. See
 * find_guess.h. Pure. */
#include "daemon/cli/find_guess.h"

#include "trivet/register_reader.h"

/* Two ways that show the same within this show the same temperature. */
#define SAME_MC 600

/* Doubt that leaves no question: the runner-up has this much more. Where only the small part
 * differs, by a quarter of a degree at most in a hand, less will do. */
#define CLEAR_DOUBT       60
#define CLEAR_DOUBT_ORDER 20

static int32_t
apart(int32_t a_mC, int32_t b_mC)
{
    return a_mC < b_mC ? b_mC - a_mC : a_mC - b_mC;
}

static bool
same_temps(const struct find_guess *a, const struct find_guess *b)
{
    return apart(a->hand_mC, b->hand_mC) <= SAME_MC && apart(a->ice_mC, b->ice_mC) <= SAME_MC;
}

static bool
same_degrees(const struct find_guess *a, const struct find_guess *b)
{
    /* Sensors are words of one table. */
    return a->reads == b->reads && a->sensor == b->sensor && a->scale_micro == b->scale_micro &&
           a->offset_micro == b->offset_micro;
}

static bool
overlap(const struct find_guess *a, const struct find_guess *b)
{
    return a->reg < b->reg + register_type_count(b->type) &&
           b->reg < a->reg + register_type_count(a->type);
}

static bool
is_float(const struct find_guess *guess)
{
    return guess->type == REGISTER_FLOAT32 || guess->type == REGISTER_FLOAT64;
}

static enum find_tie
tie_on_registers(const struct find_guess *a, const struct find_guess *b)
{
    if (!same_degrees(a, b))
        return FIND_TIE_SCALE;
    if (!same_temps(a, b))
        return FIND_TIE_LESS;
    if (is_float(a) || is_float(b))
        return FIND_TIE_ORDER;
    if (a->reg == b->reg && register_type_count(a->type) == register_type_count(b->type) &&
        a->order == b->order)
        return FIND_TIE_SIGN;
    return FIND_TIE_WIDE;
}

enum find_tie
find_tie(const struct find_guess *best, const struct find_guess *other)
{
    if (best->unit == other->unit && best->function == other->function && overlap(best, other))
        return tie_on_registers(best, other);
    if (!same_temps(best, other))
        return FIND_TIE_LESS;
    if (overlap(best, other) && same_degrees(best, other))
        return best->unit == other->unit ? FIND_TIE_FUNCTION : FIND_TIE_UNIT;
    return FIND_TIE_COPY;
}

bool
find_tie_matters(enum find_tie tie)
{
    switch (tie) {
    case FIND_TIE_SIGN:
    case FIND_TIE_WIDE:
    case FIND_TIE_FUNCTION:
        return false;
    case FIND_TIE_UNIT:
    case FIND_TIE_ORDER:
    case FIND_TIE_SCALE:
    case FIND_TIE_COPY:
    case FIND_TIE_LESS:
    case FIND_TIES:
        return true;
    }
    return true;
}

bool
find_tie_close(const struct find_guess *best, const struct find_guess *other)
{
    const enum find_tie tie = find_tie(best, other);
    return find_tie_matters(tie) &&
           other->doubt <
               best->doubt + (tie == FIND_TIE_ORDER ? CLEAR_DOUBT_ORDER : CLEAR_DOUBT);
}

bool
find_sure(const struct find_guess *guesses, size_t count)
{
    for (size_t i = 1; i < count; i++)
        if (find_tie_close(&guesses[0], &guesses[i]))
            return false;
    return count > 0;
}
