/* See trivet/calibration.h. Pure; any thread. */
#include "trivet/calibration.h"

#include <stdlib.h>
#include <string.h>

#include "trivet/units.h"

static const char *const methods[] = {
    [CALIBRATION_NONE] = "none",
    [CALIBRATION_ICE] = "ice",
    [CALIBRATION_BOILING] = "boiling",
    [CALIBRATION_REFERENCE] = "reference",
};

static const char *const choices[] = {
    [CORRECTION_UNSAID] = "unsaid",
    [CORRECTION_KEEP] = "keep",
    [CORRECTION_ADOPT] = "adopt",
    [CORRECTION_DROP] = "drop",
};

const char *
calibration_method_word(enum calibration_method method)
{
    return methods[method];
}

enum calibration_method
calibration_method_from_word(const char *word)
{
    for (unsigned i = CALIBRATION_ICE; i <= CALIBRATION_REFERENCE; i++)
        if (strcmp(word, methods[i]) == 0)
            return (enum calibration_method)i;
    return CALIBRATION_NONE;
}

const char *
correction_choice_word(enum correction_choice choice)
{
    return choices[choice];
}

enum correction_choice
correction_choice_from_word(const char *word)
{
    for (unsigned i = CORRECTION_KEEP; i <= CORRECTION_DROP; i++)
        if (strcmp(word, choices[i]) == 0)
            return (enum correction_choice)i;
    return CORRECTION_UNSAID;
}

/* No thermometer of a kitchen is checked beyond; products of what is within fit 64 bits. */
#define POINT_MAX_mC 1000000

/* Inserts one pair so that raw_mC ascends. False when it is out of range. */
static bool
insert(struct probe_correction *correction, const struct calibration_point *point)
{
    int64_t add_mK = (int64_t)point->reference_mC - point->found_mC;
    if (llabs(point->reference_mC) > POINT_MAX_mC || llabs(point->found_mC) > POINT_MAX_mC)
        return false;
    size_t at = correction->count;
    for (; at > 0 && correction->raw_mC[at - 1] > point->found_mC; at--) {
        correction->raw_mC[at] = correction->raw_mC[at - 1];
        correction->add_mK[at] = correction->add_mK[at - 1];
    }
    correction->raw_mC[at] = point->found_mC;
    correction->add_mK[at] = (int32_t)add_mK;
    correction->count++;
    return true;
}

static enum correction_status
check_pairs(const struct probe_correction *c, int32_t largest_mK)
{
    for (size_t i = 0; i < c->count; i++) {
        if (llabs(c->add_mK[i]) > largest_mK)
            return CORRECTION_TOO_LARGE;
        if (i == 0)
            continue;
        int64_t apart_mK = (int64_t)c->raw_mC[i] - c->raw_mC[i - 1];
        if (apart_mK < CALIBRATION_APART_mK)
            return CORRECTION_TOO_CLOSE;
        if (apart_mK + c->add_mK[i] - c->add_mK[i - 1] <= 0)
            return CORRECTION_CROSSED;
    }
    return CORRECTION_OK;
}

enum correction_status
correction_from_points(const struct calibration_point *points, size_t count, int32_t largest_mK,
                       struct probe_correction *ret)
{
    struct probe_correction made;
    memset(&made, 0, sizeof made);
    if (count == 0 || count > CALIBRATION_POINTS_MAX)
        return CORRECTION_COUNT;
    for (size_t i = 0; i < count; i++)
        if (!insert(&made, &points[i]))
            return CORRECTION_TOO_LARGE;
    enum correction_status status = check_pairs(&made, largest_mK);
    if (status == CORRECTION_OK)
        memcpy(ret, &made, sizeof made);
    return status;
}

/* part of whole (0 <= part <= whole, whole > 0) of a difference, to the nearest, halves away
 * from zero. */
static int64_t
share(int64_t difference, int64_t part, int64_t whole)
{
    int64_t sign = difference < 0 ? -1 : 1;
    return sign * ((2 * llabs(difference) * part + whole) / (2 * whole));
}

static int64_t
added_at(const struct probe_correction *c, int32_t raw_mC)
{
    size_t above = 0;
    while (above < c->count && c->raw_mC[above] <= raw_mC)
        above++;
    if (above == 0)
        return c->add_mK[0];
    if (above == c->count)
        return c->add_mK[above - 1];
    int64_t below_mK = c->add_mK[above - 1];
    return below_mK + share(c->add_mK[above] - below_mK, (int64_t)raw_mC - c->raw_mC[above - 1],
                            (int64_t)c->raw_mC[above] - c->raw_mC[above - 1]);
}

int32_t
correction_apply(const struct probe_correction *correction, int32_t raw_mC)
{
    if (correction->count == 0 || raw_mC == TEMP_NONE)
        return raw_mC;
    int64_t corrected_mC = raw_mC + added_at(correction, raw_mC);
    if (corrected_mC > INT32_MAX)
        return INT32_MAX;
    return corrected_mC <= TEMP_NONE ? TEMP_NONE + 1 : (int32_t)corrected_mC;
}

int64_t
correction_error_mK(const struct probe_correction *correction,
                    const struct calibration_point *point)
{
    return (int64_t)correction_apply(correction, point->found_mC) - point->reference_mC;
}

size_t
correction_worst(const struct probe_correction *correction,
                 const struct calibration_point *points, size_t count)
{
    size_t worst = 0;
    for (size_t i = 1; i < count; i++)
        if (llabs(correction_error_mK(correction, &points[i])) >
            llabs(correction_error_mK(correction, &points[worst])))
            worst = i;
    return worst;
}

bool
correction_within(const struct probe_correction *correction,
                  const struct calibration_point *points, size_t count, int32_t tolerance_mK)
{
    for (size_t i = 0; i < count; i++)
        if (llabs(correction_error_mK(correction, &points[i])) > tolerance_mK)
            return false;
    return count > 0;
}
