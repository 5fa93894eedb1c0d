/* The words of decisions, and a decision as the canonical data object of its record. Pure. */
#include "trivet/decision.h"

#include <assert.h>
#include <stddef.h>

static const char *const kind_words[] = {
    [DECISION_STEP_BEGUN] = "step-begun",
    [DECISION_CLOCK_STARTED] = "clock-started",
    [DECISION_LIMIT_MET] = "limit-met",
    [DECISION_DEVIATION_OPENED] = "deviation-opened",
    [DECISION_DEVIATION_ENDED] = "deviation-ended",
    [DECISION_GAP_OPENED] = "gap-opened",
    [DECISION_GAP_ENDED] = "gap-ended",
    [DECISION_SUSPECT_BEGUN] = "suspect-begun",
    [DECISION_SUSPECT_ENDED] = "suspect-ended",
    [DECISION_INCONCLUSIVE] = "inconclusive",
    [DECISION_RESOLVED] = "resolved",
    [DECISION_BATCH_ENDED] = "batch-ended",
    [DECISION_QUIET_BEGUN] = "quiet-begun",
    [DECISION_QUIET_ENDED] = "quiet-ended",
    [DECISION_CORRECTION_ENDED] = "correction-ended",
    [DECISION_ASKED] = "asked",
    [DECISION_ANSWERED] = "answered",
    [DECISION_DOOR_LEFT_OPEN] = "door-left-open",
    [DECISION_DOOR_OVER] = "door-over",
    [DECISION_MARKED] = "marked",
    [DECISION_CORRECTION_WAITS] = "correction-waits",
    [DECISION_CORRECTION_DROPPED] = "correction-dropped",
    [DECISION_STEP_CORRECTED] = "step-corrected",
    [DECISION_STEP_WITHDRAWN] = "step-withdrawn",
    [DECISION_DEVIATION_WITHDRAWN] = "deviation-withdrawn",
    [DECISION_SHELF_ENDED] = "shelf-ended",
    [DECISION_ALARM_RAISED] = "alarm-raised",
    [DECISION_ESCALATED] = "escalated",
    [DECISION_MET_WITHDRAWN] = "met-withdrawn",
    [DECISION_DATE_MARKED] = "date-marked",
};

static const struct {
    const char *word, *phrase;
} reasons[] = {
    [REASON_NONE] = {"none", ""},
    [REASON_ENTERED] = {"entered", "a person entered it"},
    [REASON_HELD] = {"held", "held at the limit for the required time"},
    [REASON_REACHED] = {"reached", "the temperature was reached"},
    [REASON_HAND_READING] = {"hand-reading", "a hand-held reading showed it"},
    [REASON_TOO_LATE] = {"too-late",
                         "the time allowed passed and the limit was not shown to be met"},
    [REASON_OUT_TOO_LONG] = {"out-too-long", "outside the limit for longer than allowed"},
    [REASON_LEFT_EARLY] = {"left-early", "the step was left before its limit was met"},
    [REASON_NO_GOOD_READING] = {"no-good-reading",
                                "the probe gave no good reading for too long"},
    [REASON_BACK_INSIDE] = {"back-inside", "back inside the limit"},
    [REASON_GOOD_AGAIN] = {"good-again", "good readings are back"},
    [REASON_FELL_THROUGH_START] =
        {"fell-through-start", "the core fell through the start temperature of the cooling"},
    [REASON_COOKED_AT] = {"cooked-at", "counted from the end of cooking that a person gave"},
    [REASON_PROBE_LATE] =
        {"probe-late", "the probe was put in late or cold, and nobody said when cooking ended"},
    [REASON_OUTAGE] = {"outage", "Trivet was not watching for part of the time that matters"},
    [REASON_CORRECTED] = {"corrected", "an entry that it rested on was corrected"},
    [REASON_LEFT_FOOD] = {"left-food", "a rise or fall that no food can make"},
    [REASON_BATCH_ENDED] = {"batch-ended", "the step was left or the batch ended"},
    [REASON_SCHEDULED] = {"scheduled", "the plan says so"},
    [REASON_STUCK] = {"stuck", "one value for longer than a working probe shows"},
    [REASON_PERIOD_LONG] = {"period-too-long",
                            "the one time that it may be outside the limit lasted too long"},
    [REASON_OUT_AGAIN] = {"out-again",
                          "outside the limit again after the one time that it may be"},
    [REASON_BY_ITSELF] = {"by-itself", "it began by itself, as the plan lets it"},
    [REASON_AMBIGUOUS] = {"ambiguous",
                          "hot food, and only a person can say of which batch or step"},
    [REASON_PULLED_OUT] = {"pulled-out",
                           "it came to the air of its place faster than food can"},
    [REASON_COLD_JUNCTION] = {"doubted-junction",
                              "the probe at the thermocouple's cold junction is suspect"},
    [REASON_BAD_START] = {"bad-start", "not cold or hot enough as it left temperature control"},
    [REASON_ABOVE_CEILING] = {"above-ceiling", "warmer than it may be at any time"},
    [REASON_SLOW_RISE] = {"slow-rise", "too long between two temperatures while it was heated"},
    [REASON_STOOD] = {"stood",
                      "the temperature was reached, and it stood for the required time"},
    [REASON_NOT_PREHEATED] = {"not-preheated",
                              "the oven was not hot enough as the food went in"},
    [REASON_NOT_MEASURED] = {"not-measured", "it was not measured, or not all the time"},
    [REASON_DATE_PASSED] = {"date-passed", "the last day on which it may be used is over"},
    [REASON_CONFIRMED] = {"confirmed", "a second person confirmed it"},
    [REASON_DECLINED] = {"declined", "a person declined it"},
    [REASON_TIME_UP] = {"time-up", "the time set for it is over"},
    [REASON_FAILED_CHECK] = {"failed-check",
                             "a check found the thermometer outside its tolerance"},
    [REASON_DOOR_OPEN] = {"door-open", "a door is open for longer than the plan lets it"},
    [REASON_DOOR_CLOSED] = {"door-closed", "the door was closed"},
    [REASON_SWITCH_LOST] = {"switch-lost", "the switch no longer says how it stands"},
    [REASON_PRESSED] = {"pressed", "a push button was pressed"},
    [REASON_GOOD_CHECK] = {"good-check", "a check left the thermometer within its tolerance"},
    [REASON_JOINED] = {"joined", "a further deviation of the same cause came"},
    [REASON_NOT_HEARD] = {"not-heard", "nobody has said that it was heard"},
    [REASON_NO_ACTION] = {"no-action", "nobody has recorded a corrective action"},
};

static const char *const limit_words[] = {
    [LIMIT_NONE] = "none",
    [LIMIT_COOK] = "cook",
    [LIMIT_HOLD_HOT] = "hold_hot",
    [LIMIT_HOLD_COLD] = "hold_cold",
    [LIMIT_COOL] = "cool",
    [LIMIT_REHEAT] = "reheat",
    [LIMIT_COOK_TABLE] = "cook_table",
    [LIMIT_LETHALITY] = "lethality",
    [LIMIT_TIME] = "time_control",
    [LIMIT_ZONE] = "danger_zone",
    [LIMIT_RISE] = "come_up",
    [LIMIT_SUM] = "added_table",
    [LIMIT_OVEN] = "oven",
    [LIMIT_MOIST_OVEN] = "moist_oven",
    [LIMIT_DAYS] = "date_mark",
};

#define COUNT(array) (sizeof(array) / sizeof((array)[0]))

const char *
decision_kind_word(enum decision_kind kind)
{
    assert((size_t)kind < COUNT(kind_words));
    return kind_words[kind];
}

const char *
decision_reason_word(enum decision_reason reason)
{
    assert((size_t)reason < COUNT(reasons));
    return reasons[reason].word;
}

/* What else than the food can keep or miss a limit. NULL: nothing else. */
static const char *
oven_phrase(enum decision_reason reason)
{
    switch (reason) {
    case REASON_HELD:
        return "the oven was as the plan asks all the time that mattered";
    case REASON_OUT_TOO_LONG:
        return "the oven was outside its limit for longer than allowed";
    case REASON_BACK_INSIDE:
        return "the oven is back inside its limit";
    case REASON_NOT_MEASURED:
        return "the oven was not measured, or not all the time that matters";
    default:
        return NULL;
    }
}

const char *
decision_phrase(const struct decision *decision)
{
    assert((size_t)decision->reason < COUNT(reasons));
    const bool is_oven = decision->limit == LIMIT_OVEN || decision->limit == LIMIT_MOIST_OVEN;
    const char *of_oven = is_oven ? oven_phrase(decision->reason) : NULL;
    if (decision->limit == LIMIT_TIME && decision->reason == REASON_PROBE_LATE)
        return "nothing has shown how cold or hot it was as it left temperature control";
    return of_oven != NULL ? of_oven : reasons[decision->reason].phrase;
}

/* A value that is not there is left out; so is everything about a limit when there is none. */
static void
write_temp(struct json_out *out, const char *key, int32_t temp_mC)
{
    if (temp_mC != TEMP_NONE)
        out_int(out, key, temp_mC);
}

static void
write_count(struct json_out *out, const char *key, int64_t count)
{
    if (count != 0)
        out_int(out, key, count);
}

void
decision_write(const struct decision *d, struct json_out *out, const char *key)
{
    const bool has_temp = d->limit != LIMIT_NONE && d->limit != LIMIT_DAYS;
    out_object(out, key);
    if (d->unverified)
        out_bool(out, "accept_unverified", true);
    if (d->kind == DECISION_RESOLVED)
        out_bool(out, "accepted", d->accepted);
    write_count(out, "alarm", d->alarm);
    out_int(out, "at_ms", d->at_ms);
    write_count(out, "batch", d->batch);
    if (d->day[0])
        out_text(out, "day", d->day);
    out_text(out, "decision", decision_kind_word(d->kind));
    write_count(out, "deviation", d->deviation);
    write_count(out, "found_ms", d->found_ms);
    write_count(out, "guard_mK", d->guard_mK);
    write_count(out, "last_ms", d->last_ms);
    write_count(out, "level", d->level);
    if (d->limit != LIMIT_NONE) {
        assert((size_t)d->limit < COUNT(limit_words));
        out_text(out, "limit", limit_words[d->limit]);
    }
    if (d->place[0])
        out_text(out, "place", d->place);
    write_count(out, "probe", d->probe);
    out_text(out, "reason", decision_reason_word(d->reason));
    if (d->kind == DECISION_DEVIATION_OPENED && d->reason == REASON_FAILED_CHECK)
        out_int(out, "reference_mC", d->reference_mC);
    if (has_temp)
        out_int(out, "required_milli", d->required.milli);
    write_count(out, "required_ms", d->required_ms);
    if (has_temp)
        out_text(out, "required_unit", d->required.unit == TEMP_F ? "F" : "C");
    if (d->silent)
        out_bool(out, "silent", true);
    if (d->since_ms != TIME_NONE)
        out_int(out, "since_ms", d->since_ms);
    write_count(out, "stage", d->stage);
    if (d->step[0])
        out_text(out, "step", d->step);
    if (d->limit != LIMIT_NONE)
        out_text(out, "subject", limit_subject_word(d->subject));
    if (d->contact[0])
        out_text(out, "switch", d->contact);
    write_temp(out, "temp_mC", d->temp_mC);
    if (d->thermometer[0])
        out_text(out, "thermometer", d->thermometer);
    write_count(out, "uncertainty_mK", d->uncertainty_mK);
    write_temp(out, "worst_mC", d->worst_mC);
    out_object_end(out);
}
