/* Which rule of docs/engine.md a decision rests on, and what it says in plain words. A table
 * from kind, reason and kinds of limit; the first row that fits. Pure. */
#include "trivet/explain.h"

#define HEAT                                                                                   \
    (1u << LIMIT_COOK | 1u << LIMIT_REHEAT | 1u << LIMIT_COOK_TABLE | 1u << LIMIT_LETHALITY |  \
     1u << LIMIT_SUM)
#define HOLD  (1u << LIMIT_HOLD_HOT | 1u << LIMIT_HOLD_COLD)
#define COOL  (1u << LIMIT_COOL)
#define TIMED (1u << LIMIT_TIME)
#define ZONED (1u << LIMIT_ZONE)
#define OVENS (1u << LIMIT_OVEN | 1u << LIMIT_MOIST_OVEN)
#define ANY   (~0u)

#define ANY_REASON (-1)

static const struct row {
    enum decision_kind kind;
    int reason;
    unsigned limits;
    struct explain_rule rule;
} rows[] = {
    {DECISION_STEP_BEGUN,
     REASON_BY_ITSELF,
     ANY,
     {"E173", "The plan lets this step begin by itself: its probe showed the food hot and then "
              "at or below the start of its cooling, or hot food where no batch was."}},
    {DECISION_STEP_BEGUN,
     ANY_REASON,
     ANY,
     {"E80", "A batch is judged by the plan that was in force when it began, step by step."}},

    {DECISION_CLOCK_STARTED,
     REASON_FELL_THROUGH_START,
     ANY,
     {"E31",
      "The clock of a cooling counts from the last good reading above its start: the food "
      "may have crossed it right after that reading."}},
    {DECISION_CLOCK_STARTED,
     REASON_BY_ITSELF,
     ANY,
     {"E242",
      "Hot food came to the probe where it is cooled, after the last reading that showed "
      "none: the clock of the cooling counts from that reading."}},
    {DECISION_CLOCK_STARTED,
     REASON_NO_GOOD_READING,
     ANY,
     {"E33", "Food that was seen hot and whose probe then went dark may be cooling: the clock "
             "starts all the same, from the last good reading above the start."}},
    {DECISION_CLOCK_STARTED,
     REASON_COOKED_AT,
     ANY,
     {"E36", "The probe did not see the food hot, so the clock counts from the end of cooking "
             "that a person gave."}},

    {DECISION_LIMIT_MET,
     REASON_HAND_READING,
     ANY,
     {"E50",
      "A hand reading of a batch is a good spot reading of its food and can meet what one "
      "reading can meet."}},
    {DECISION_LIMIT_MET,
     REASON_STOOD,
     ANY,
     {"E152", "The temperature was reached, and the food then stood in this step for the time "
              "that the plan asks."}},
    {DECISION_LIMIT_MET,
     ANY_REASON,
     OVENS,
     {"E223", "The oven was as hot as it has to be from before the food went in, and never "
              "outside for longer than is let pass, until the food's limit was met or it was "
              "taken out."}},
    {DECISION_LIMIT_MET,
     ANY_REASON,
     1u << LIMIT_COOK_TABLE,
     {"E17",
      "Any one row of the table is enough: at least its temperature, unbroken, for its own "
      "time. Nothing is interpolated or added up."}},
    {DECISION_LIMIT_MET,
     ANY_REASON,
     1u << LIMIT_SUM,
     {"E167",
      "Time at each row of the table, divided by the row's own time, is added up, and is "
      "1 or more."}},
    {DECISION_LIMIT_MET,
     ANY_REASON,
     1u << LIMIT_LETHALITY,
     {"E100",
      "What each stretch between two good readings is worth at the reference temperature "
      "is added up."}},
    {DECISION_LIMIT_MET,
     ANY_REASON,
     HEAT,
     {"E10",
      "The coldest of the batch's probes has to be at least at the temperature for the "
      "holding time, without a break; without a holding time one good reading is enough."}},
    {DECISION_LIMIT_MET,
     ANY_REASON,
     COOL,
     {"E38", "A stage of cooling is met by a good reading of the warmest probe at or below its "
             "temperature, at or before its deadline."}},

    {DECISION_DATE_MARKED,
     ANY_REASON,
     ANY,
     {"E226",
      "Food that is kept has a last day, counted by the calendar from when it was made, "
      "opened or packed; days on which it was frozen throughout do not count."}},
    {DECISION_DEVIATION_OPENED,
     REASON_DATE_PASSED,
     ANY,
     {"E228", "The last day on which it may be used is over, and it is still kept."}},
    {DECISION_DEVIATION_OPENED,
     REASON_NOT_PREHEATED,
     ANY,
     {"E219", "An oven has to be at its temperature before the food goes in."}},
    {DECISION_DEVIATION_OPENED,
     REASON_OUT_TOO_LONG,
     OVENS,
     {"E221", "An oven has to be held at its temperature while the food is in it; it was "
              "outside for longer at a stretch than the plan lets pass."}},
    {DECISION_INCONCLUSIVE,
     REASON_NOT_MEASURED,
     ANY,
     {"E224", "No probe measured the oven, or not all the time that matters: a person says how "
              "it was."}},
    {DECISION_DEVIATION_OPENED,
     REASON_NOT_MEASURED,
     ANY,
     {"E224", "No probe measured the oven, or not all the time that matters, and a person did "
              "not accept it."}},
    {DECISION_DEVIATION_OPENED,
     REASON_TOO_LATE,
     HEAT,
     {"E13",
      "The time allowed from the beginning of the step is over and the limit has not been "
      "shown to be met."}},
    {DECISION_DEVIATION_OPENED,
     REASON_TOO_LATE,
     COOL,
     {"E38", "The deadline of a stage of cooling passed without a good reading of the warmest "
             "probe at or below its temperature."}},
    {DECISION_DEVIATION_OPENED,
     REASON_OUT_TOO_LONG,
     HOLD,
     {"E22",
      "The time outside the limit has used up the tolerance and the food is still outside; "
      "without a tolerance the first reading outside is enough."}},
    {DECISION_DEVIATION_OPENED,
     REASON_OUT_TOO_LONG,
     ZONED,
     {"E162", "All time that a batch is certainly between cold and hot is added up, over its "
              "steps and places, and it is longer than allowed. Nothing makes it less."}},
    {DECISION_DEVIATION_OPENED,
     REASON_SLOW_RISE,
     ANY,
     {"E165",
      "All time between the two temperatures while the food heats is added up until its "
      "limit is met, and it is longer than allowed."}},
    {DECISION_DEVIATION_OPENED,
     REASON_TIME_UP,
     TIMED,
     {"E147", "Food may be without temperature control for a limited time, whether or not "
              "anybody watches. It counts from when it left, and it is over."}},
    {DECISION_DEVIATION_OPENED,
     REASON_BAD_START,
     TIMED,
     {"E146", "Food has to be cold or hot enough as it leaves temperature control, and its "
              "probe has not shown it so."}},
    {DECISION_DEVIATION_OPENED,
     REASON_ABOVE_CEILING,
     HOLD,
     {"E166",
      "Above this temperature cold food may not be for any time, whatever is left of the "
      "tolerance; one good, or suspect, reading is enough."}},
    {DECISION_DEVIATION_OPENED,
     REASON_ABOVE_CEILING,
     ANY,
     {"E148", "A temperature above which the food may not be for any time; one good, or "
              "suspect, reading is enough."}},
    {DECISION_DEVIATION_OPENED,
     REASON_PERIOD_LONG,
     ANY,
     {"E144", "A batch may be outside this limit once, for a limited time, and that time is "
              "used up: it counts in one stretch from when the food was last seen inside."}},
    {DECISION_DEVIATION_OPENED,
     REASON_OUT_AGAIN,
     ANY,
     {"E143", "A batch may be outside this limit once. It had been, and had come back: it may "
              "not be outside again, not for a moment."}},
    {DECISION_DEVIATION_OPENED,
     REASON_OUTAGE,
     HOLD,
     {"E62", "It was outside when last seen. For a place nobody can be asked about the time in "
             "which Trivet did not watch, so that time counts as outside."}},
    {DECISION_DEVIATION_OPENED,
     REASON_LEFT_EARLY,
     COOL,
     {"E39", "The step was left before the last stage of its cooling was met."}},
    {DECISION_DEVIATION_OPENED,
     REASON_LEFT_EARLY,
     ANY,
     {"E15", "The step was left before its limit was met."}},
    {DECISION_DEVIATION_OPENED,
     REASON_FAILED_CHECK,
     ANY,
     {"E125",
      "A thermometer was outside its tolerance when it was checked: what it showed since "
      "the last check at which it was right is in doubt."}},
    {DECISION_DEVIATION_OPENED,
     ANY_REASON,
     ANY,
     {"E73", "What could not be judged waited for a person, who did not accept it."}},

    {DECISION_DEVIATION_ENDED,
     REASON_GOOD_CHECK,
     ANY,
     {"E126", "The deviation ends with the check that leaves the thermometer within its "
              "tolerance."}},
    {DECISION_DEVIATION_ENDED,
     REASON_ENTERED,
     1u << LIMIT_NONE,
     {"E127", "The plan reads this thermometer otherwise now, or no longer names it: it counts "
              "as never checked."}},
    {DECISION_DEVIATION_ENDED,
     REASON_BACK_INSIDE,
     ANY,
     {"E24",
      "An excursion ends when the temperature has been back inside, without a break, for "
      "the time the plan asks."}},
    {DECISION_DEVIATION_ENDED,
     REASON_GOOD_AGAIN,
     COOL,
     {"E33",
      "The probe is back and shows that the food had not yet fallen through the start: the "
      "clock is taken back."}},
    {DECISION_DEVIATION_ENDED,
     REASON_HAND_READING,
     HOLD,
     {"E54",
      "Where no probe watches, hand readings inside that are far enough apart, with none "
      "outside between them, end an excursion."}},
    {DECISION_DEVIATION_ENDED,
     REASON_BATCH_ENDED,
     HOLD,
     {"E25", "Leaving the step ends an excursion with it."}},
    {DECISION_DEVIATION_ENDED,
     REASON_BATCH_ENDED,
     COOL,
     {"E39", "The step was left: nothing more can come of its cooling."}},
    {DECISION_DEVIATION_ENDED,
     REASON_BATCH_ENDED,
     ZONED,
     {"E235",
      "The time between cold and hot is counted on to the end of the batch or step, also "
      "after it was too long."}},
    {DECISION_DEVIATION_ENDED,
     REASON_BATCH_ENDED,
     ANY,
     {"E15", "The step was left: nothing more can come of its limit."}},
    {DECISION_DEVIATION_ENDED,
     REASON_ENTERED,
     COOL,
     {"E92",
      "Cooling was to begin soon after cooking. What began too late cannot be mended, so "
      "the deviation ends at once."}},
    {DECISION_DEVIATION_ENDED,
     REASON_ENTERED,
     HOLD,
     {"E81", "The place, its limit or its probe is another one now, or its limit is suspended: "
             "the excursion ends."}},
    {DECISION_DEVIATION_ENDED,
     ANY_REASON,
     COOL,
     {"E38", "The stage's temperature was reached, too late: the deviation ends and stays on "
             "record."}},
    {DECISION_DEVIATION_ENDED,
     ANY_REASON,
     ANY,
     {"E14",
      "The limit was reached, too late: the deviation ends; the verdict stays not met."}},

    {DECISION_GAP_OPENED,
     REASON_OUTAGE,
     ANY,
     {"E66", "The probe's silence became too long while Trivet did not run."}},
    {DECISION_GAP_OPENED,
     ANY_REASON,
     ANY,
     {"E55", "A probe without a good reading for too long is a deviation of its own kind."}},
    {DECISION_GAP_ENDED,
     REASON_ENTERED,
     ANY,
     {"E58",
      "Nobody waits for this probe any more: its batch ended, or the plan is another one."}},
    {DECISION_GAP_ENDED,
     ANY_REASON,
     ANY,
     {"E55", "The silence of a probe ends with its next good reading."}},

    {DECISION_SUSPECT_BEGUN,
     REASON_STUCK,
     ANY,
     {"E130",
      "The probe has shown one value for longer than a working probe of its kind does (E130 "
      "in air, E131 in food that heat flows to)."}},
    {DECISION_SUSPECT_BEGUN,
     REASON_PULLED_OUT,
     ANY,
     {"E182",
      "The readings came to the air of the batch's place faster than food can: the probe was "
      "pulled out. What it shows there counts as no reading."}},
    {DECISION_SUSPECT_BEGUN,
     REASON_FAILED_CHECK,
     ANY,
     {"E216", "A check left the probe outside its tolerance. Until a check leaves it right, "
              "what it shows "
              "can break a limit and never meet one."}},
    {DECISION_SUSPECT_BEGUN,
     REASON_COLD_JUNCTION,
     ANY,
     {"E250",
      "What a thermocouple shows is as good as the temperature of its terminals, and the probe "
      "there is suspect. Until it is believed again, the thermocouple can break a limit and "
      "never meet one."}},
    {DECISION_SUSPECT_BEGUN,
     ANY_REASON,
     ANY,
     {"E40",
      "The readings changed further and faster than food can: the probe may have left it. "
      "Suspect readings can break a limit and never meet one."}},
    {DECISION_SUSPECT_ENDED,
     REASON_GOOD_AGAIN,
     ANY,
     {"E47",
      "The probe has come back to where the food can be, and its readings were steady "
      "there; or it was stuck and has moved again (E132); or the probe at its cold junction is "
      "believed again (E251)."}},
    {DECISION_SUSPECT_ENDED,
     REASON_GOOD_CHECK,
     ANY,
     {"E216", "A check has left the probe within its tolerance: its readings count again."}},
    {DECISION_SUSPECT_ENDED,
     ANY_REASON,
     ANY,
     {"E48", "A suspect probe is believed again when a person moves the batch, assigns probes "
             "anew, or confirms it with a hand reading."}},

    {DECISION_INCONCLUSIVE,
     REASON_CORRECTED,
     ANY,
     {"E71", "The verdict rested on a hand reading that has been corrected, and that would not "
             "have met the limit as it reads now."}},
    {DECISION_INCONCLUSIVE,
     REASON_NO_GOOD_READING,
     ANY,
     {"E159",
      "With the time in which nobody saw the food it may have been between cold and hot "
      "for too long."}},
    {DECISION_INCONCLUSIVE,
     REASON_PROBE_LATE,
     TIMED,
     {"E149",
      "Nothing has shown how cold or hot the food was as it left temperature control."}},
    {DECISION_INCONCLUSIVE,
     REASON_OUTAGE,
     TIMED,
     {"E149", "How warm the food became while Trivet did not run, nobody knows."}},
    {DECISION_INCONCLUSIVE,
     REASON_PROBE_LATE,
     ANY,
     {"E34",
      "The probe never saw the food hot and nobody said when cooking ended: nobody knows "
      "since when it cools."}},
    {DECISION_INCONCLUSIVE,
     REASON_OUTAGE,
     COOL,
     {"E64", "The deadline fell into a time in which Trivet did not run."}},
    {DECISION_INCONCLUSIVE,
     REASON_OUTAGE,
     HOLD,
     {"E62",
      "It was outside when last seen, and with the time in which Trivet did not run it may "
      "have been outside for too long."}},
    {DECISION_INCONCLUSIVE,
     REASON_OUTAGE,
     HEAT,
     {"E63", "The limit may have been met while Trivet did not run: unknown time is neither "
             "credited nor held against the food."}},

    {DECISION_RESOLVED,
     ANY_REASON,
     ANY,
     {"E73", "What cannot be judged from readings waits for a person, who decides with a "
             "reason."}},
    {DECISION_BATCH_ENDED, ANY_REASON, ANY, {"", "A person ended the batch."}},
    {DECISION_QUIET_BEGUN,
     ANY_REASON,
     ANY,
     {"E110",
      "A person or the plan's schedule suspends the limit of a place for a limited time; "
      "readings go on."}},
    {DECISION_QUIET_ENDED,
     ANY_REASON,
     ANY,
     {"E111", "The time is over, or a person said so: the limit holds again and starts anew."}},
    {DECISION_CORRECTION_ENDED,
     ANY_REASON,
     ANY,
     {"E127",
      "The plan reads this probe otherwise now, or no longer names it: its readings are "
      "taken as it gives them."}},
    {DECISION_ASKED,
     ANY_REASON,
     ANY,
     {"E175",
      "What the probe shows can be of more than one batch or step. A person says which; "
      "the clock of the cooling does not wait for the answer."}},
    {DECISION_ANSWERED,
     ANY_REASON,
     ANY,
     {"E175", "A person has answered the question about hot food, or it was heated on."}},
    {DECISION_DOOR_LEFT_OPEN,
     ANY_REASON,
     ANY,
     {"E211",
      "The plan says how long this door may be open. It is told and nothing more: the air and "
      "the food are judged by their own readings."}},
    {DECISION_DOOR_OVER,
     REASON_OUTAGE,
     ANY,
     {"E213", "Nobody watched for a while: how the door stood meanwhile is not known."}},
    {DECISION_DOOR_OVER,
     REASON_ENTERED,
     ANY,
     {"E215", "The plan is another one now, and says no more how long this door may be open."}},
    {DECISION_DOOR_OVER,
     ANY_REASON,
     ANY,
     {"E211", "The door was closed, or its switch no longer says how it stands."}},
    {DECISION_MARKED,
     ANY_REASON,
     ANY,
     {"E214",
      "A push button at this place was pressed. A mark is for people: nothing is judged "
      "by it."}},
    {DECISION_CORRECTION_WAITS,
     ANY_REASON,
     ANY,
     {"E181", "The correction could be in the food's favour, so a second person has to confirm "
              "it; until then nothing is changed."}},
    {DECISION_CORRECTION_DROPPED,
     ANY_REASON,
     ANY,
     {"E181", "A correction that was not confirmed changes nothing."}},
    {DECISION_STEP_CORRECTED,
     ANY_REASON,
     ANY,
     {"E179", "A person corrected from when a cooling that began by itself counts; its stages "
              "are judged again by that, and the old record stays."}},
    {DECISION_STEP_WITHDRAWN,
     ANY_REASON,
     ANY,
     {"E180",
      "A person said that what began by itself did not begin; the record of it stays."}},
    {DECISION_MET_WITHDRAWN,
     ANY_REASON,
     ANY,
     {"E183", "The reading that met this stage had gone further towards the air than food can: "
              "the probe was on its way out. The stage is open again."}},
    {DECISION_DEVIATION_WITHDRAWN,
     ANY_REASON,
     ANY,
     {"E180",
      "By the corrected facts there was no such deviation. A second person has confirmed "
      "that, and its records stay."}},
    {DECISION_SHELF_ENDED,
     REASON_JOINED,
     ANY,
     {"E202", "What came is more than was shelved: the shelf ends and the alarm is told."}},
    {DECISION_SHELF_ENDED,
     ANY_REASON,
     ANY,
     {"E202",
      "A shelved alarm is told again when its time is over, or a person says so, if its "
      "cause is still there."}},
    {DECISION_ALARM_RAISED,
     ANY_REASON,
     ANY,
     {"E202",
      "Its shelf is over and the cause of the alarm is still there: it is told again."}},
    {DECISION_ESCALATED,
     REASON_NOT_HEARD,
     ANY,
     {"E203", "Nobody has said within the plan's time that the alarm was heard: the next ones "
              "are told."}},
    {DECISION_ESCALATED,
     ANY_REASON,
     ANY,
     {"E203", "Nobody has recorded a corrective action within the plan's time: the next ones "
              "are told."}},
};

/* What the table's three columns do not tell apart. */
static const struct explain_rule began_late = {
    "E92", "Cooling has to begin soon after cooking, and it began later than that."};
static const struct explain_rule never_said = {
    "E93",
    "The food was cold enough in time, but nobody said when cooking ended: whether cooling "
    "began soon enough is not known."};

static const struct explain_rule not_accepted = {
    "E73", "What could not be judged waited for a person, who did not accept it."};

struct explain_rule
explain_rule(const struct decision *decision)
{
    bool whole_cooling = decision->limit == LIMIT_COOL && decision->stage == 0;
    if (decision->kind == DECISION_DEVIATION_OPENED && whole_cooling &&
        decision->reason == REASON_TOO_LATE)
        return began_late;
    if (decision->kind == DECISION_INCONCLUSIVE && whole_cooling &&
        decision->reason == REASON_PROBE_LATE && decision->temp_mC == TEMP_NONE)
        return never_said;
    bool of_place = decision->batch == 0;
    if (decision->kind == DECISION_DEVIATION_OPENED && decision->reason == REASON_OUTAGE &&
        !of_place)
        return not_accepted;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++)
        if (rows[i].kind == decision->kind &&
            (rows[i].reason == ANY_REASON || rows[i].reason == (int)decision->reason) &&
            (rows[i].limits == ANY || (rows[i].limits >> decision->limit & 1u) != 0))
            return rows[i].rule;
    return (struct explain_rule){"", decision_phrase(decision)};
}
