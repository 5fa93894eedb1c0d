/* A decision in plain words: what was decided, what was required, what was found. Pure. */
#include "trivet/explain.h"

#include <inttypes.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#include "trivet/log.h"
#include "trivet/units.h"

#define SPAN_MAX 64
#define HEAT_MAX 96

/* A text being put together; what does not fit is left out. */
struct line {
    char *buf;
    size_t size, len;
};

static void add(struct line *line, const char *format, ...) TRIVET_PRINTF(2, 3);

static void
add(struct line *line, const char *format, ...)
{
    va_list args;
    va_start(args, format);
    /* NOLINTNEXTLINE(clang-analyzer-valist.Uninitialized): va_start is just above */
    int n = vsnprintf(line->buf + line->len, line->size - line->len, format, args);
    va_end(args);
    size_t left = line->size - line->len - 1;
    line->len += n < 0 ? 0 : (size_t)n < left ? (size_t)n : left;
}

#define DAY_MS INT64_C(86400000)

static const char *
separator(const struct line *line)
{
    return line->len == 0 ? "" : "; ";
}

/* "2 h 00 min 05 s", to the second, or to the millisecond where there are some: an explanation
 * rounds nothing away. */
static const char *
span_text(char buf[SPAN_MAX], int64_t span_ms)
{
    int64_t s = span_ms / 1000, ms = span_ms % 1000;
    char part[8] = "";
    if (ms != 0)
        (void)snprintf(part, sizeof part, ".%03d", (int)ms);
    if (s >= 3600 && s % 3600 == 0 && ms == 0)
        (void)snprintf(buf, SPAN_MAX, "%" PRId64 " h", s / 3600);
    else if (s >= 3600)
        (void)snprintf(buf, SPAN_MAX, "%" PRId64 " h %02" PRId64 " min", s / 3600, s / 60 % 60);
    else if (s >= 60)
        (void)snprintf(buf, SPAN_MAX, "%" PRId64 " min", s / 60);
    size_t len = s >= 60 ? strlen(buf) : 0;
    if (s < 60 || s % 60 != 0 || ms != 0)
        (void)snprintf(buf + len, SPAN_MAX - len,
                       len == 0 ? "%" PRId64 "%s s" : " %02" PRId64 "%s s", s % 60, part);
    return buf;
}

/* "7.3 °C", exactly, and beside it in °F where the limit is printed so. */
static const char *
heat_text(char buf[HEAT_MAX], int32_t temp_mC, struct limit_temp against)
{
    char celsius[32], fahrenheit[32];
    (void)temp_text(celsius, sizeof celsius, temp_mC);
    if (against.unit != TEMP_F) {
        (void)snprintf(buf, HEAT_MAX, "%s °C", celsius);
        return buf;
    }
    int64_t mF = ((int64_t)temp_mC * 18 + (temp_mC < 0 ? -5 : 5)) / 10 + 32000;
    if (temp_compare(temp_mC, against) == 0)
        mF = against.milli;
    (void)temp_text(fahrenheit, sizeof fahrenheit, (int32_t)mF);
    (void)snprintf(buf, HEAT_MAX, "%s °C (%s °F)", celsius, fahrenheit);
    return buf;
}

/* ---- what ---- */

static const char *
deed(const struct decision *decision)
{
    switch (decision->kind) {
    case DECISION_STEP_BEGUN:
        return "Step begun";
    case DECISION_CLOCK_STARTED:
        return "The cooling clock started";
    case DECISION_LIMIT_MET:
        return "Limit met";
    case DECISION_DEVIATION_OPENED:
        return "opened";
    case DECISION_DEVIATION_ENDED:
        return "ended";
    case DECISION_GAP_OPENED:
        return "opened: no good readings from here on";
    case DECISION_GAP_ENDED:
        return "ended: good readings again";
    case DECISION_SUSPECT_BEGUN:
        return "Readings are suspect from here on";
    case DECISION_SUSPECT_ENDED:
        return "Readings are believed again";
    case DECISION_INCONCLUSIVE:
        return "Inconclusive: the limit cannot be judged, a person has to decide";
    case DECISION_RESOLVED:
        return decision->accepted ? "Accepted by a person" : "Not accepted by a person";
    case DECISION_BATCH_ENDED:
        return "Batch ended";
    case DECISION_QUIET_BEGUN:
        return "Quiet: the limit is suspended";
    case DECISION_QUIET_ENDED:
        return "The limit holds again";
    case DECISION_CORRECTION_ENDED:
        return "The correction of a probe ended";
    case DECISION_CORRECTION_WAITS:
        return "A correction waits for a second person";
    case DECISION_CORRECTION_DROPPED:
        return "The correction that waited was dropped";
    case DECISION_STEP_CORRECTED:
        return "The cooling clock was corrected";
    case DECISION_STEP_WITHDRAWN:
        return "A step that began by itself was withdrawn";
    case DECISION_DEVIATION_WITHDRAWN:
        return "withdrawn by a correction";
    case DECISION_MET_WITHDRAWN:
        return "Met no longer: the probe was on its way out of the food";
    case DECISION_ASKED:
        return "Hot food: a person is asked which batch and step it is";
    case DECISION_ANSWERED:
        return "The question about hot food has its answer";
    case DECISION_DOOR_LEFT_OPEN:
        return "A door is left open";
    case DECISION_DOOR_OVER:
        return "The door is no longer left open";
    case DECISION_MARKED:
        return "Marked with a button";
    case DECISION_SHELF_ENDED:
        return "No longer shelved";
    case DECISION_ALARM_RAISED:
        return "The alarm sounds again";
    case DECISION_ESCALATED:
        return "Told to the next";
    case DECISION_DATE_MARKED:
        return "Dated";
    }
    return "";
}

static void
tell_what(struct line *line, const struct decision *decision)
{
    const char *reason = decision_phrase(decision);
    if (decision->deviation != 0 && (decision_opens(decision) || decision_ends(decision) ||
                                     decision->kind == DECISION_DEVIATION_WITHDRAWN))
        add(line, "Deviation %u ", (unsigned)decision->deviation);
    add(line, "%s", deed(decision));
    if (decision->level > 0)
        add(line, ", level %d", decision->level);
    if (decision->stage > 0)
        add(line, ", stage %d", decision->stage);
    if (decision->step[0] != '\0')
        add(line, ", step %s", decision->step);
    if (decision->contact[0] != '\0')
        add(line, ", %s", decision->contact);
    if (reason[0] != '\0')
        add(line, " (%s)", reason);
    if (decision->alarm != 0)
        add(line, "; part of the alarm of deviation %u", (unsigned)decision->alarm);
    if (decision->silent)
        add(line, "; not told by itself");
}

const char *
explain_deed(enum entry_kind kind)
{
    return kind == ENTRY_ACTION   ? "corrective action"
           : kind == ENTRY_VERIFY ? "verification"
           : kind == ENTRY_HEARD  ? "heard"
                                  : "alarm shelved";
}

/* ---- required ---- */

static void
tell_stage(struct line *line, const struct decision *decision, const struct plan_limit *limit)
{
    char temp[40], span[SPAN_MAX];
    bool own = limit != NULL && decision->stage >= 2 && decision->stage <= limit->stage_count &&
               limit->stages[decision->stage - 1].counts_from == STAGE_FROM_STAGE_BEFORE;
    add(line, "%sstage %d: to %s%s within %s of %s", separator(line), decision->stage,
        limit != NULL && limit->strict ? "below " : "",
        limit_temp_text(temp, sizeof temp, decision->required),
        span_text(span, decision->required_ms),
        own ? "the stage before" : "the start of the clock");
}

static void
tell_limit(struct line *line, const struct decision *decision, const struct plan_limit *limit)
{
    char text[EXPLAIN_WORDS_MAX - 160], temp[40], span[SPAN_MAX];
    if (limit != NULL)
        add(line, "%s", plan_limit_text(text, sizeof text, limit));
    else if (decision->stage == 0 && decision->limit == LIMIT_DAYS)
        add(line, "%s", limit_kind_word(decision->limit));
    else if (decision->stage == 0)
        add(line, "%s %s", limit_kind_word(decision->limit),
            limit_temp_text(temp, sizeof temp, decision->required));
    if (decision->stage > 0)
        tell_stage(line, decision, limit);
    else if (decision->limit == LIMIT_COOK_TABLE && decision->kind == DECISION_LIMIT_MET)
        add(line, "; the row met: %s for %s",
            limit_temp_text(temp, sizeof temp, decision->required),
            span_text(span, decision->required_ms));
    else if (limit == NULL && decision->required_ms != 0)
        add(line, ", %s", span_text(span, decision->required_ms));
    if (limit != NULL && limit->strict && decision->stage == 0)
        add(line, "; exactly at it is outside");
}

/* Of a check: what was true, and how far from it the thermometer may be. */
static void
tell_tolerance(struct line *line, const struct decision *decision, const struct plan *plan)
{
    char temp[32], most[32];
    int probe = plan == NULL ? -1 : plan_probe_by_number(plan, decision->probe);
    const struct plan_handheld *held =
        plan == NULL ? NULL : plan_handheld(plan, decision->thermometer);
    const struct plan_checking *checking = probe >= 0     ? &plan->probes[probe].checking
                                           : held != NULL ? &held->checking
                                                          : NULL;
    add(line, "%s °C", temp_text(temp, sizeof temp, decision->reference_mC));
    if (checking != NULL)
        add(line, ", within %s °C", temp_text(most, sizeof most, checking->tolerance_mK));
}

static void
tell_required(struct line *line, const struct decision *decision, const struct plan *plan,
              const struct plan_limit *limit)
{
    char span[SPAN_MAX], jump[32], rate[32];
    switch (decision->kind) {
    case DECISION_GAP_OPENED:
    case DECISION_GAP_ENDED:
        if (decision->required_ms != 0)
            add(line, "a good reading at least every %s",
                span_text(span, decision->required_ms));
        return;
    case DECISION_SUSPECT_BEGUN:
    case DECISION_SUSPECT_ENDED:
        if (plan != NULL && decision->reason != REASON_FAILED_CHECK &&
            decision->reason != REASON_GOOD_CHECK)
            add(line, "a change of less than %s °C, or no faster than %s °C a minute",
                temp_text(jump, sizeof jump, plan->tolerances.food_jump_mC),
                temp_text(rate, sizeof rate, plan->tolerances.food_rate_mC_per_min));
        return;
    case DECISION_DOOR_LEFT_OPEN:
        add(line, "open for at most %s", span_text(span, decision->required_ms));
        return;
    case DECISION_ESCALATED:
        add(line, "%s within %s",
            decision->reason == REASON_NOT_HEARD ? "somebody who says that it was heard"
                                                 : "a corrective action",
            span_text(span, decision->required_ms));
        if (plan != NULL && decision->level <= plan->escalation_count)
            add(line, "; told next: %s", plan->escalation[decision->level - 1].tell);
        return;
    case DECISION_QUIET_BEGUN:
        if (plan != NULL)
            add(line, "at most %s at a stretch",
                span_text(span, plan->tolerances.quiet_max_ms));
        return;
    default:
        break;
    }
    if (decision->limit != LIMIT_NONE)
        tell_limit(line, decision, limit);
    if (decision->kind == DECISION_DEVIATION_OPENED && decision->reason == REASON_FAILED_CHECK)
        tell_tolerance(line, decision, plan);
}

/* ---- found ---- */

/* What found_ms is of such a decision; NULL = nothing of interest. */
static const char *
measure(const struct decision *decision)
{
    switch (decision->kind) {
    case DECISION_GAP_OPENED:
    case DECISION_GAP_ENDED:
        return "silent for ";
    case DECISION_QUIET_BEGUN:
    case DECISION_QUIET_ENDED:
        return "quiet for ";
    case DECISION_DOOR_LEFT_OPEN:
    case DECISION_DOOR_OVER:
        return "open for ";
    case DECISION_SHELF_ENDED:
        return "shelved for ";
    default:
        break;
    }
    switch (decision->limit) {
    case LIMIT_OVEN:
    case LIMIT_MOIST_OVEN:
        return decision->kind == DECISION_LIMIT_MET ? "in the oven for " : "outside for ";
    case LIMIT_HOLD_HOT:
    case LIMIT_HOLD_COLD:
        return "outside for ";
    case LIMIT_COOL:
        return "time on the clock ";
    case LIMIT_LETHALITY:
        return "earned at the reference temperature ";
    case LIMIT_SUM:
        return "earned, as time at the coldest row, ";
    case LIMIT_ZONE:
    case LIMIT_RISE:
        return "time in between ";
    case LIMIT_TIME:
        return "time since it left temperature control ";
    case LIMIT_NONE:
        return "after ";
    default:
        return decision->reason == REASON_TOO_LATE ? "time since the beginning of the step "
                                                   : "held without a break for ";
    }
}

static void
tell_found(struct line *line, const struct decision *decision, const struct plan *plan)
{
    char temp[HEAT_MAX], span[SPAN_MAX], probe[8];
    if (decision->temp_mC != TEMP_NONE) {
        add(line, "%s", heat_text(temp, decision->temp_mC, decision->required));
        if (decision->probe != 0)
            add(line, " at probe %s", explain_probe(plan, decision->probe, probe));
        else if (decision->thermometer[0] != '\0')
            add(line, " at %s", decision->thermometer);
        else
            add(line, " by hand");
    } else if (decision->probe != 0 && decision->reason != REASON_GOOD_CHECK &&
               decision->reason != REASON_FAILED_CHECK &&
               decision->kind != DECISION_CORRECTION_ENDED) {
        add(line, "no good reading of probe %s", explain_probe(plan, decision->probe, probe));
    }
    if (decision->limit == LIMIT_DAYS)
        add(line, "%s%" PRId64 " days used", separator(line), decision->found_ms / DAY_MS);
    else if (decision->found_ms != 0)
        add(line, "%s%s%s", separator(line), measure(decision),
            span_text(span, decision->found_ms));
    if (decision->day[0] != '\0')
        add(line, "%slast day %s", separator(line), decision->day);
    if (decision->worst_mC != TEMP_NONE)
        add(line, "%sat worst %s", separator(line),
            heat_text(temp, decision->worst_mC, decision->required));
}

/* The limit as its source prints it: without the guard band. */
static struct limit_temp
printed(const struct decision *decision, const struct plan_limit *limit)
{
    struct limit_temp temp = decision->required;
    bool upper = decision->limit == LIMIT_HOLD_COLD || decision->limit == LIMIT_COOL ||
                 decision->limit == LIMIT_MOIST_OVEN ||
                 decision->reason == REASON_ABOVE_CEILING ||
                 (limit != NULL && !limit->left_hot && limit->kind == LIMIT_TIME);
    int64_t band =
        temp.unit == TEMP_C ? decision->guard_mK : ((int64_t)decision->guard_mK * 9 + 4) / 5;
    temp.milli += (int32_t)(upper ? band : -band);
    return temp;
}

/* Whether the reading lies nearer to the printed limit than its uncertainty. */
static bool
is_near(const struct decision *decision, struct limit_temp limit)
{
    int64_t far = limit.unit == TEMP_C
                      ? ((int64_t)decision->temp_mC - limit.milli) * 9
                      : (int64_t)decision->temp_mC * 9 - ((int64_t)limit.milli - 32000) * 5;
    return far < (int64_t)decision->uncertainty_mK * 9 &&
           far > -(int64_t)decision->uncertainty_mK * 9;
}

static void
tell_uncertainty(struct line *line, const struct decision *decision,
                 const struct plan_limit *limit)
{
    char text[40], band[32];
    if (decision->temp_mC == TEMP_NONE || decision->limit == LIMIT_NONE)
        return;
    if (decision->uncertainty_mK == 0) {
        add(line, "not part of the judgement: readings were compared as they were shown "
                  "(simple acceptance)");
        return;
    }
    add(line, "expanded (k = 2) %s °C", temp_text(text, sizeof text, decision->uncertainty_mK));
    bool start = decision->limit == LIMIT_COOL && decision->stage == 0;
    if (decision->guard_mK > 0 && !start)
        add(line,
            "; guarded acceptance (JCGM 106:2012): the limit is %s and the guard band %s °C",
            limit_temp_text(text, sizeof text, printed(decision, limit)),
            temp_text(band, sizeof band, decision->guard_mK));
    else
        add(line, "; not part of the judgement (simple acceptance)");
    if (!start && is_near(decision, printed(decision, limit)))
        add(line,
            "; inconclusive by itself: the reading is nearer to the limit than its "
            "uncertainty%s",
            decision->guard_mK > 0 && decision->kind == DECISION_DEVIATION_OPENED
                ? ", so the guarded rule does not count it for the food"
                : "");
}

static struct line
start(char *buf)
{
    buf[0] = '\0';
    return (struct line){.buf = buf, .size = EXPLAIN_WORDS_MAX};
}

void
explain_words(const struct decision *decision, const struct plan *plan,
              const struct plan_limit *limit, struct explain_words *ret)
{
    struct line what = start(ret->what), required = start(ret->required);
    struct line found = start(ret->found), uncertainty = start(ret->uncertainty);
    tell_what(&what, decision);
    tell_required(&required, decision, plan, limit);
    tell_found(&found, decision, plan);
    tell_uncertainty(&uncertainty, decision, limit);
}

/* The row is told by its figure: the mass of the batch is in another record. */
static const struct plan_limit *
oven_limit(const struct decision *decision, const struct plan_limit *limit)
{
    for (size_t i = 0; limit->ovens != NULL && i < limit->oven_row_count; i++)
        if (limit->oven_rows[i].type == limit->oven &&
            limit->ovens[i].kind == decision->limit &&
            limit->ovens[i].temp.milli == decision->required.milli &&
            limit->ovens[i].temp.unit == decision->required.unit)
            return &limit->ovens[i];
    return NULL;
}

const struct plan_limit *
explain_limit(const struct decision *decision, const struct plan *plan, const char *product)
{
    if (plan == NULL || decision->limit == LIMIT_NONE)
        return NULL;
    if (decision->batch == 0) {
        int place = plan_place_index(plan, decision->place);
        return place < 0 ? NULL : &plan->places[place].limit;
    }
    const struct plan_product *of = plan_product(plan, product);
    int step = of == NULL ? -1 : plan_step_index(of, decision->step);
    if (decision->limit == LIMIT_ZONE && of != NULL &&
        (step < 0 || of->steps[step].limit.kind != LIMIT_ZONE))
        return &of->life; /* over all steps */
    if (decision->limit == LIMIT_DAYS)
        return of == NULL ? NULL : &of->mark;
    if (decision->limit == LIMIT_RISE)
        return step < 0 ? NULL : of->steps[step].limit.rise;
    if (decision->limit == LIMIT_OVEN || decision->limit == LIMIT_MOIST_OVEN)
        return step < 0 ? NULL : oven_limit(decision, &of->steps[step].limit);
    return step < 0 ? NULL : &of->steps[step].limit;
}

static void
tell_part(struct line *line, const char *label, const char *text)
{
    size_t len = strlen(text);
    if (len > 0 && text[len - 1] == '.') /* more may follow */
        len--;
    if (len > 0)
        add(line, "%s%s%.*s", separator(line), label, (int)len, text);
}

/* By batch, and what holds for the rest of it; a batch of its own has none. */
static void
tell_food(struct line *line, const struct entry *entry, bool of_batch)
{
    for (size_t i = 0; i < entry->food_count; i++)
        add(line, "%s%s%u %s%s%s", i == 0 ? separator(line) : ", ",
            i == 0 ? "the food: batch " : "batch ", (unsigned)entry->food[i].batch,
            disposition_phrase(entry->food[i].disposition),
            entry->food[i].quantity[0] == '\0' ? "" : ", ", entry->food[i].quantity);
    if (entry->disposition != DISPOSITION_NONE && !(of_batch && entry->food_count > 0))
        add(line, "%s%s", entry->food_count > 0 ? ", the rest " : separator(line),
            disposition_phrase(entry->disposition));
}

void
explain_said(const struct entry *entry, bool of_batch, char *buf)
{
    struct line line = {buf, EXPLAIN_SAID_MAX, 0};
    buf[0] = '\0';
    if (entry->kind == ENTRY_ACTION) {
        tell_part(&line, "found: ", entry->found);
        tell_part(&line, "done: ", entry->done);
        tell_part(&line, "control restored: ", entry->control);
        tell_food(&line, entry, of_batch);
    }
    tell_part(&line, "", entry->reason);
    tell_part(&line, "", entry->text);
}

/* A few readings may be missing inside a window: nothing was left out there. */
#define WINDOW_SPACINGS 4

bool
explain_gap_before(const struct explanation *of, size_t reading)
{
    const struct reading *readings = of->readings;
    return reading > 1 && readings[reading].at_ms - readings[reading - 1].at_ms >
                              WINDOW_SPACINGS * (readings[1].at_ms - readings[0].at_ms);
}

const char *
explain_probe(const struct plan *plan, uint16_t number, char buf[8])
{
    int index = plan == NULL ? -1 : plan_probe_by_number(plan, number);
    if (index >= 0)
        return plan->probes[index].id;
    (void)snprintf(buf, 8, "#%u", (unsigned)number);
    return buf;
}
