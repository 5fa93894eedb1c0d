/* A check of a thermometer as the recorder sees it: whether its references can be what they are
 * said to be, which asks for the date and for physics, and what a person hears of it. The
 * recorder's thread. */
#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "daemon/recorder/inside.h"
#include "trivet/convert.h"
#include "trivet/zone.h"

static bool refuse(struct entry_answer *answer, int code, const char *format, ...)
    __attribute__((format(printf, 3, 4)));

static bool
refuse(struct entry_answer *answer, int code, const char *format, ...)
{
    va_list args;
    va_start(args, format);
    (void)vsnprintf(answer->say, sizeof answer->say, format, args); /* cut is still told */
    va_end(args);
    answer->code = code;
    return false;
}

/* ---- references ---- */

/* Computed anew, so that no client's slip becomes a reference. */
static bool
boils_there(const struct entry *entry, const struct calibration_point *point,
            struct entry_answer *answer)
{
    double boiling_C;
    char right[24];
    if (point->method != CALIBRATION_BOILING)
        return true;
    if (entry->pressure_Pa == 0)
        return true; /* the engine asks for it */
    if (convert_boiling_temp(entry->pressure_Pa / 1000.0, &boiling_C) != CONVERT_OK)
        return refuse(answer, 400, "At %d Pa no water boils; give the air pressure in Pa.",
                      (int)entry->pressure_Pa);
    long boiling_mC = lround(boiling_C * 1000);
    if (labs(boiling_mC - point->reference_mC) <= 1)
        return true;
    return refuse(answer, 400,
                  "At %d Pa water boils at %s °C; give that as the reference, or the pressure "
                  "that it was.",
                  (int)entry->pressure_Pa, temp_text(right, sizeof right, (int32_t)boiling_mC));
}

/* The certificate holds to the end of its day, by the site's clock; with a clock that nobody
 * trusts the day is not known, and it is let pass. */
static bool
certificate_holds(const struct recorder *recorder, const struct entry *entry, int64_t at_ms,
                  struct entry_answer *answer)
{
    const struct plan_reference *reference = plan_reference(recorder->plan, entry->reference);
    struct zone_time now;
    char today[40];
    if (reference == NULL || !recorder->line.trusted)
        return true;
    zone_split(zone_shared(recorder->plan->time_zone), at_ms + recorder->line.offset_ms, &now);
    (void)snprintf(today, sizeof today, "%04d-%02d-%02d", (int)now.year, now.month, now.day);
    if (strcmp(today, reference->due) <= 0)
        return true;
    return refuse(
        answer, 409,
        "The certificate of %s held until %s: nothing can be checked against it. Have "
        "it certified anew and write the new date into the plan (references: due), or "
        "use ice or boiling water.",
        reference->id, reference->due);
}

bool
calibration_sound(const struct recorder *recorder, const struct entry *entry, int64_t at_ms,
                  struct entry_answer *answer)
{
    for (size_t i = 0; i < entry->point_count; i++)
        if (!boils_there(entry, &entry->points[i], answer))
            return false;
    for (size_t i = 0; i < entry->left_count; i++)
        if (!boils_there(entry, &entry->left[i], answer))
            return false;
    return certificate_holds(recorder, entry, at_ms, answer);
}

/* ---- words ---- */

static void add(struct entry_answer *answer, const char *format, ...)
    __attribute__((format(printf, 2, 3)));

/* A sentence that does not fit is left out whole. */
static void
add(struct entry_answer *answer, const char *format, ...)
{
    size_t len = strlen(answer->say), room = sizeof answer->say - len;
    va_list args;
    va_start(args, format);
    int need = vsnprintf(answer->say + len, room, format, args);
    va_end(args);
    if (need < 0 || (size_t)need >= room)
        answer->say[len] = '\0';
}

static void
say_points(const char *how, const struct probe_correction *correction,
           const struct calibration_point *points, size_t count, int32_t tolerance_mK,
           struct entry_answer *answer)
{
    char shown[24], right[24], tolerance[24];
    const struct calibration_point *worst =
        &points[correction_worst(correction, points, count)];
    add(answer, " As %s it showed %s °C where %s °C was right: %s its tolerance of %s °C.", how,
        temp_text(shown, sizeof shown, correction_apply(correction, worst->found_mC)),
        temp_text(right, sizeof right, worst->reference_mC),
        correction_within(correction, points, count, tolerance_mK) ? "within" : "outside",
        temp_text(tolerance, sizeof tolerance, tolerance_mK));
}

void
calibration_say(const struct recorder *recorder, const struct entry *entry,
                const struct engine_check_view *before, struct entry_answer *answer)
{
    struct engine_check_view now;
    if (!engine_view_check(recorder->engine, entry, &now))
        return;
    const struct plan *plan = recorder->plan;
    const struct plan_checking *rules = now.is_handheld
                                            ? &plan->handhelds[now.handheld].checking
                                            : &plan->probes[now.probe].checking;
    say_points("found", &before->correction, entry->points, entry->point_count,
               rules->tolerance_mK, answer);
    if (entry->left_count > 0)
        say_points("left", &now.correction, entry->left, entry->left_count, rules->tolerance_mK,
                   answer);
    if (entry->correction == CORRECTION_ADOPT)
        add(answer, " From now on its readings are corrected; they stay on record as it gives "
                    "them.");
    if (entry->correction == CORRECTION_DROP && before->correction.count > 0)
        add(answer, " From now on its readings are taken as it gives them.");
    if (now.left_bad)
        add(answer,
            now.is_handheld
                ? " Take it out of use until it is adjusted, corrected or replaced: what it "
                  "shows from now on meets no limit, though it may break one."
                : " Take it out of use until it is adjusted, corrected or replaced: its "
                  "readings are suspect from now on, and meet no limit, though they may "
                  "break one.");
}
