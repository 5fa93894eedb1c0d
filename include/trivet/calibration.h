/* A check of a thermometer against known temperatures, and the correction that may follow from
 * it. One arithmetic for the engine, the page, exports and the command: readings are stored
 * raw, and whoever has the points of a record computes the corrected value again, to the
 * thousandth.
 *
 * Pure, integers only. */
#ifndef TRIVET_CALIBRATION_H
#define TRIVET_CALIBRATION_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#define CALIBRATION_POINTS_MAX 5

/* Two points nearer than this say more about the readings' noise than about the thermometer.
 * Common practice, no source. */
#define CALIBRATION_APART_mK 5000

enum calibration_method {
    CALIBRATION_NONE,
    CALIBRATION_ICE,
    CALIBRATION_BOILING,
    CALIBRATION_REFERENCE
};

struct calibration_point {
    enum calibration_method method;
    int32_t reference_mC;   /* what it was in truth */
    int32_t uncertainty_mK; /* of that, expanded (k = 2) */
    int32_t found_mC;       /* what the thermometer showed, raw */
};

/* What becomes of a probe's correction with a check. */
enum correction_choice {
    CORRECTION_UNSAID,
    CORRECTION_KEEP,  /* what is in force stays; also when there is none */
    CORRECTION_ADOPT, /* a new one, from the points of this check */
    CORRECTION_DROP,  /* none from now on */
};

/* What is added to a raw reading: by pairs in ascending order of raw_mC. None when count is 0;
 * the same everywhere when it is 1; between two neighbours along the straight line, rounded to
 * the nearest thousandth, halves away from zero; beyond the first and last pair what is added
 * there, for nothing was measured beyond them. */
struct probe_correction {
    uint8_t count;
    uint8_t pad[3]; /* zero: engine states are compared as bytes */
    int32_t raw_mC[CALIBRATION_POINTS_MAX];
    int32_t add_mK[CALIBRATION_POINTS_MAX];
};

enum correction_status {
    CORRECTION_OK,
    CORRECTION_COUNT,     /* no points, or too many */
    CORRECTION_TOO_CLOSE, /* two raw values less than CALIBRATION_APART_mK apart */
    CORRECTION_CROSSED,   /* corrected values would not rise with the raw ones */
    CORRECTION_TOO_LARGE, /* more than largest_mK at a point */
};

/* The correction that makes each point right. ret is set only with CORRECTION_OK. */
enum correction_status correction_from_points(const struct calibration_point *points,
                                              size_t count, int32_t largest_mK,
                                              struct probe_correction *ret);

/* The corrected value of a raw one; TEMP_NONE stays what it is. */
int32_t correction_apply(const struct probe_correction *correction, int32_t raw_mC);

/* What was wrong at a point under this correction: corrected minus reference. */
int64_t correction_error_mK(const struct probe_correction *correction,
                            const struct calibration_point *point);

/* Index of the point with the largest error of either sign, the first of equals. count > 0. */
size_t correction_worst(const struct probe_correction *correction,
                        const struct calibration_point *points, size_t count);

/* Whether every point is within the tolerance; exactly at it is within. */
bool correction_within(const struct probe_correction *correction,
                       const struct calibration_point *points, size_t count,
                       int32_t tolerance_mK);

const char *calibration_method_word(enum calibration_method method);    /* "ice", ... */
enum calibration_method calibration_method_from_word(const char *word); /* NONE when unknown */
const char *correction_choice_word(enum correction_choice choice);      /* "keep", ... */
enum correction_choice correction_choice_from_word(const char *word);

#endif
