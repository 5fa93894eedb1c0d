/* A plan's values in words for people. Pure; any thread. */
#include <stdio.h>
#include <string.h>

#include "daemon/plan/quantity.h"
#include "daemon/plan/schema.h"
#include "trivet/plan.h"

static const char *
word_of(const struct choice *choices, int value)
{
    for (; choices->word; choices++)
        if (choices->value == value)
            return choices->word;
    return "unknown";
}

const char *
limit_kind_word(enum limit_kind kind)
{
    if (kind == LIMIT_RISE)
        return "come_up"; /* no plan writes it as a kind */
    if (kind == LIMIT_OVEN || kind == LIMIT_MOIST_OVEN)
        return kind == LIMIT_OVEN ? "oven" : "moist_oven"; /* likewise */
    return word_of(plan_limit_kinds, (int)kind);
}

const char *
oven_type_word(enum oven_type type)
{
    return word_of(plan_oven_types, (int)type);
}

enum oven_type
oven_type_from_word(const char *word)
{
    for (const struct choice *choice = plan_oven_types; choice->word; choice++)
        if (strcmp(choice->word, word) == 0)
            return (enum oven_type)choice->value;
    return OVEN_UNSAID;
}

const char *
oven_type_phrase(enum oven_type type)
{
    switch (type) {
    case OVEN_UNSAID:
        break;
    case OVEN_STILL_DRY:
        return "still dry";
    case OVEN_CONVECTION:
        return "convection";
    case OVEN_HIGH_HUMIDITY:
        return "high humidity";
    }
    return "unsaid";
}

const char *
limit_subject_word(enum limit_subject subject)
{
    return word_of(plan_limit_subjects, (int)subject);
}

const char *
switch_kind_word(enum switch_kind kind)
{
    return word_of(plan_switch_kinds, (int)kind);
}

const char *
person_role_word(enum person_role role)
{
    return word_of(plan_person_roles, (int)role);
}

const char *
quiet_why_word(enum quiet_why why)
{
    return word_of(plan_quiet_whys, (int)why);
}

enum quiet_why
quiet_why_from_word(const char *word)
{
    for (const struct choice *choice = plan_quiet_whys; choice->word; choice++)
        if (strcmp(choice->word, word) == 0)
            return (enum quiet_why)choice->value;
    return QUIET_NONE;
}

const char *
disposition_word(enum disposition disposition)
{
    return disposition == DISPOSITION_NONE ? "none"
                                           : word_of(plan_dispositions, (int)disposition);
}

enum disposition
disposition_from_word(const char *word)
{
    for (const struct choice *choice = plan_dispositions; choice->word; choice++)
        if (strcmp(choice->word, word) == 0)
            return (enum disposition)choice->value;
    return DISPOSITION_NONE;
}

const char *
disposition_phrase(enum disposition disposition)
{
    switch (disposition) {
    case DISPOSITION_NONE:
        return "not said";
    case DISPOSITION_USE:
        return "used as planned";
    case DISPOSITION_USE_AT_ONCE:
        return "used at once";
    case DISPOSITION_COOK_ON:
        return "cooked further";
    case DISPOSITION_REHEAT:
        return "reheated";
    case DISPOSITION_COOL_AGAIN:
        return "cooled again";
    case DISPOSITION_HOLD:
        return "set aside until it is decided";
    case DISPOSITION_DIVERT:
        return "diverted to a use in which it can do no harm";
    case DISPOSITION_DISCARD:
        return "thrown away";
    case DISPOSITION_NO_FOOD:
        return "no food was affected";
    }
    return "not said";
}

/* A line being put together; what does not fit is left out at the end. */
struct line {
    char *buf;
    size_t size, len;
};

static void
add(struct line *line, const char *before, const char *text)
{
    int n = snprintf(line->buf + line->len, line->size - line->len, "%s%s", before, text);
    size_t left = line->size - line->len - 1;
    line->len += n < 0 ? 0 : (size_t)n < left ? (size_t)n : left;
}

static void
add_temp(struct line *line, const char *before, struct limit_temp temp)
{
    char text[32];
    add(line, before, limit_temp_text(text, sizeof(text), temp));
}

static void
add_time(struct line *line, const char *before, int64_t duration_ms)
{
    char text[QUANTITY_DURATION_MAX];
    add(line, before, quantity_duration_text(text, duration_ms));
}

static void
add_heat(struct line *line, const struct plan_limit *limit)
{
    add_temp(line, limit->strict ? "above " : "at least ", limit->temp);
    if (limit->hold_ms > 0)
        add_time(line, " for ", limit->hold_ms);
    if (limit->within_ms > 0)
        add_time(line, " within ", limit->within_ms);
    if (limit->has_rise)
        add_temp(line, " of rising above ", limit->rise_from);
    if (limit->stand_ms > 0)
        add_time(line, ", then standing for ", limit->stand_ms);
}

static void
add_zone(struct line *line, const struct plan_limit *limit)
{
    add(line, "", limit->time_strict ? "for less than " : "for at most ");
    add_time(line, "", limit->within_ms);
    add_temp(line, limit->strict ? " in all from " : " in all warmer than ", limit->temp);
    add_temp(line, limit->strict ? " to " : " and colder than ", limit->hot);
    if (limit->use_at_once_ms > 0)
        add_time(line, ", used at once after ", limit->use_at_once_ms);
}

static void
add_come_up(struct line *line, const struct plan_limit *rise)
{
    add_temp(line, "; from ", rise->temp);
    add_temp(line, " to ", rise->hot);
    add_time(line, " within ", rise->within_ms);
}

static void
add_oven_temp(struct line *line, const struct plan_limit *oven)
{
    add_temp(line, oven->kind == LIMIT_OVEN ? "at least " : "at most ", oven->temp);
}

/* The oven conditions that the plan says apply. */
static void
add_oven(struct line *line, const struct plan_limit *limit)
{
    char mass[24];
    const char *between = " ";
    add(line, "; oven (", oven_type_phrase(limit->oven));
    add(line, limit->oven == OVEN_HIGH_HUMIDITY ? "" : ", preheated", ")");
    for (size_t i = 0; i < limit->oven_row_count; i++) {
        const struct plan_oven_row *row = &limit->oven_rows[i];
        if (row->type != limit->oven)
            continue;
        add(line, between, "");
        add_oven_temp(line, &limit->ovens[i]);
        (void)snprintf(mass, sizeof mass, "%d g", (int)(row->under_g + row->from_g));
        add(line, row->under_g > 0 ? " under " : " from ", mass);
        between = ", ";
    }
    if (limit->oven_recovery_ms > 0)
        add_time(line, ", outside for at most ", limit->oven_recovery_ms);
}

static void
add_days(struct line *line, const struct plan_limit *limit)
{
    char days[24];
    (void)snprintf(days, sizeof days, "%d", (int)limit->days);
    add(line, "kept for at most ", days);
    add(line, limit->days == 1 ? " day" : " days",
        limit->first_day == FIRST_DAY_NEXT ? ", the day after being the first"
                                           : ", the day itself being the first");
}

static void
add_oven_alone(struct line *line, const struct plan_limit *limit)
{
    add(line, "the oven ", "");
    add_oven_temp(line, limit);
    if (limit->tolerance_ms > 0)
        add_time(line, ", outside for at most ", limit->tolerance_ms);
}

static void
add_time_control(struct line *line, const struct plan_limit *limit)
{
    add_temp(line,
             limit->left_hot ? (limit->strict ? "above " : "at least ")
                             : (limit->strict ? "below " : "at most "),
             limit->temp);
    add(line, " as it leaves temperature control, gone ",
        limit->time_strict ? "in less than " : "within ");
    add_time(line, "", limit->within_ms);
    if (limit->has_ceiling)
        add_temp(line, limit->strict ? ", always below " : ", never above ", limit->ceiling);
}

/* A row in words, the dots instead of one, and what the limit applies to; an oven's conditions.
 */
#define ROW_ROOM  96
#define OVEN_ROOM 150

static void
add_table(struct line *line, const struct plan_limit *limit)
{
    size_t room = ROW_ROOM + (limit->ovens ? OVEN_ROOM : 0);
    for (size_t i = 0; i < limit->row_count; i++) {
        if (i > 0 &&
            (line->size < room || line->size - line->len < room)) { /* whole rows only */
            add(line, ", or ", "...");
            return;
        }
        add_temp(line,
                 i > 0           ? ", or "
                 : limit->strict ? "above "
                                 : "at least ",
                 limit->rows[i].temp);
        add_time(line, " for ", limit->rows[i].hold_ms);
    }
}

static void
add_lethality(struct line *line, const struct plan_limit *limit)
{
    char z[32];
    add_time(line, "the equivalent of ", limit->hold_ms);
    add_temp(line, " at ", limit->temp);
    add(line, " (z ", temp_text(z, sizeof(z), limit->z_mK));
    add(line, " K)", "");
}

static void
add_cool(struct line *line, const struct plan_limit *limit)
{
    if (limit->start_within_ms > 0)
        add_time(line, "begun within ", limit->start_within_ms);
    if (limit->clock == COOL_CLOCK_STEP)
        add(line, limit->start_within_ms > 0 ? ", " : "", "from the beginning of the step");
    else
        add_temp(line, "from ", limit->start);
    for (size_t i = 0; i < limit->stage_count; i++) {
        add_temp(line,
                 i == 0          ? (limit->strict ? " to below " : " to ")
                 : limit->strict ? ", to below "
                                 : ", to ",
                 limit->stages[i].to);
        add_time(line,
                 limit->stages[i].counts_from == STAGE_FROM_STAGE_BEFORE ? " within a further "
                                                                         : " within ",
                 limit->stages[i].within_ms);
    }
}

static void
add_hold(struct line *line, const struct plan_limit *limit)
{
    bool is_hot = limit->kind == LIMIT_HOLD_HOT;
    const char *inside = is_hot ? (limit->strict ? "above " : "at least ")
                                : (limit->strict ? "below " : "at most ");
    add_temp(line, inside, limit->temp);
    if (limit->tolerance_ms > 0)
        add_time(line, is_hot ? ", colder for at most " : ", warmer for at most ",
                 limit->tolerance_ms);
    if (limit->has_ceiling)
        add_temp(line, limit->strict ? ", always below " : ", never above ", limit->ceiling);
    if (limit->period_ms > 0) {
        add(line, is_hot ? ", colder once for " : ", warmer once for ",
            limit->time_strict ? "less than " : "at most ");
        add_time(line, "", limit->period_ms);
    }
}

char *
plan_limit_text(char *buf, size_t size, const struct plan_limit *limit)
{
    struct line line = {.buf = buf, .size = size};
    char band[32];
    if (size == 0)
        return buf;
    buf[0] = '\0';
    switch (limit->kind) {
    case LIMIT_NONE:
        add(&line, "", "no limit");
        return buf;
    case LIMIT_COOK:
    case LIMIT_REHEAT:
        add_heat(&line, limit);
        break;
    case LIMIT_HOLD_HOT:
    case LIMIT_HOLD_COLD:
        add_hold(&line, limit);
        break;
    case LIMIT_COOL:
        add_cool(&line, limit);
        break;
    case LIMIT_COOK_TABLE:
        add_table(&line, limit);
        break;
    case LIMIT_LETHALITY:
        add_lethality(&line, limit);
        break;
    case LIMIT_SUM:
        add(&line, "", "added up: ");
        add_table(&line, limit);
        break;
    case LIMIT_TIME:
        add_time_control(&line, limit);
        break;
    case LIMIT_ZONE:
    case LIMIT_RISE:
        add_zone(&line, limit);
        break;
    case LIMIT_OVEN:
    case LIMIT_MOIST_OVEN:
        add_oven_alone(&line, limit);
        break;
    case LIMIT_DAYS:
        add_days(&line, limit);
        break;
    }
    if (limit->rise)
        add_come_up(&line, limit->rise);
    if (limit->ovens)
        add_oven(&line, limit);
    add(&line, limit->once ? ", once only" : "", " (");
    add(&line, limit_subject_word(limit->subject),
        limit->subject == SUBJECT_SURFACE ? ", top and bottom)" : ")");
    if (limit->unverified)
        add(&line, "", ", not verified");
    if (limit->guard_mK > 0) {
        add(&line, ", a guard band of ", temp_text(band, sizeof(band), limit->guard_mK));
        add(&line, " °C for measurement uncertainty included", "");
    }
    return buf;
}
