/* What was decided, in words: a row for each kind. Desk threads; holds no state. */
#include "telling.h"

#include <assert.h>
#include <stdio.h>

/* What follows the words. */
enum then {
    THEN_NOTHING,
    THEN_STEP,  /* its name */
    THEN_SINCE, /* the time of day it counts from */
    THEN_UNTIL, /* when that and what was required are over */
    THEN_STAGE,
    THEN_LEVEL,
    THEN_CONTACT, /* the door or button */
    THEN_DAY,     /* the last day */
};

struct told {
    const char *words;
    const char *number; /* words after the number of its deviation; NULL: it is not named */
    enum then then;
    bool alone; /* the reason and what was found add nothing */
};

/* clang-format off */
static const struct told kinds[] = {
    [DECISION_STEP_BEGUN] = {"Step begun: ", NULL, THEN_STEP, true},
    [DECISION_CLOCK_STARTED] = {"The cooling clock counts from ", NULL, THEN_SINCE, false},
    [DECISION_LIMIT_MET] = {"<strong>Limit met</strong>", NULL, THEN_STAGE, false},
    [DECISION_DEVIATION_OPENED] = {"<strong>Deviation ", " opened</strong>", THEN_NOTHING, false},
    [DECISION_DEVIATION_ENDED] = {"Deviation ", " ended", THEN_NOTHING, false},
    [DECISION_GAP_OPENED] = {"No good readings from here on", NULL, THEN_NOTHING, false},
    [DECISION_GAP_ENDED] = {"Good readings again", NULL, THEN_NOTHING, false},
    [DECISION_SUSPECT_BEGUN] = {"Readings are suspect from here on", NULL, THEN_NOTHING, false},
    [DECISION_SUSPECT_ENDED] = {"Readings are believed again", NULL, THEN_NOTHING, false},
    [DECISION_INCONCLUSIVE] = {"<strong>The limit cannot be judged</strong>: a person must decide",
                               NULL, THEN_NOTHING, false},
    [DECISION_RESOLVED] = {"Accepted by a person", NULL, THEN_NOTHING, false},
    [DECISION_BATCH_ENDED] = {"Batch ended", NULL, THEN_NOTHING, true},
    [DECISION_QUIET_BEGUN] = {"<strong>Quiet</strong>: the limit is suspended until ", NULL,
                              THEN_UNTIL, false},
    [DECISION_QUIET_ENDED] = {"The limit holds again", NULL, THEN_NOTHING, false},
    [DECISION_CORRECTION_ENDED] = {"The correction ended: readings are taken as the probe gives them",
                                   NULL, THEN_NOTHING, true},
    [DECISION_ASKED] = {"<strong>A person is asked</strong> of which batch and step this is", NULL,
                        THEN_NOTHING, false},
    [DECISION_ANSWERED] = {"The question has its answer", NULL, THEN_NOTHING, false},
    [DECISION_DOOR_LEFT_OPEN] = {"<strong>Door left open</strong> since ", NULL, THEN_SINCE, true},
    [DECISION_DOOR_OVER] = {"The door is no longer left open", NULL, THEN_NOTHING, false},
    [DECISION_MARKED] = {"<strong>Marked</strong> with the button ", NULL, THEN_CONTACT, true},
    [DECISION_CORRECTION_WAITS] = {"<strong>A correction waits</strong> for a second person", NULL,
                                   THEN_NOTHING, false},
    [DECISION_CORRECTION_DROPPED] = {"The correction that waited was dropped", NULL, THEN_NOTHING,
                                     false},
    [DECISION_STEP_CORRECTED] = {"Corrected: the cooling clock counts from ", NULL, THEN_SINCE, false},
    [DECISION_STEP_WITHDRAWN] = {"Withdrawn: this step did not begin", NULL, THEN_NOTHING, false},
    [DECISION_DEVIATION_WITHDRAWN] = {"Deviation ", " withdrawn", THEN_NOTHING, false},
    [DECISION_SHELF_ENDED] = {"No longer shelved", NULL, THEN_NOTHING, false},
    [DECISION_ALARM_RAISED] = {"<strong>The alarm of deviation ", " sounds again</strong>",
                               THEN_NOTHING, false},
    [DECISION_ESCALATED] = {"<strong>Deviation ", " told to the next</strong>", THEN_LEVEL, false},
    [DECISION_MET_WITHDRAWN] = {"<strong>Met no longer</strong>", NULL, THEN_STAGE, false},
    [DECISION_DATE_MARKED] = {"To be used by the end of ", NULL, THEN_DAY, true},
};
/* clang-format on */

static_assert(sizeof kinds / sizeof kinds[0] == DECISION_KIND_LAST + 1,
              "every kind of decision has its row");

static void
tell_found(struct html *html, const struct decision *decision)
{
    char text[32];
    if (decision->temp_mC != TEMP_NONE) {
        html_raw(html, ", found ");
        html_text(html,
                  temp_text_against(text, sizeof text, decision->temp_mC, decision->required));
        html_raw(html, "&nbsp;°C");
    }
    if (decision->day[0] != '\0') {
        html_raw(html, ", last day ");
        html_sentence(html, decision->day);
    }
    if (decision->limit != LIMIT_NONE && decision->limit != LIMIT_DAYS) {
        html_raw(html, ", limit ");
        html_sentence(html, limit_temp_text(text, sizeof text, decision->required));
    }
    if (decision->worst_mC != TEMP_NONE) {
        html_raw(html, ", worst ");
        html_text(html,
                  temp_text_against(text, sizeof text, decision->worst_mC, decision->required));
        html_raw(html, "&nbsp;°C");
    }
}

static const char *
step_name(const struct view *view, const char *id)
{
    int index = view->product == NULL ? -1 : plan_step_index(view->product, id);
    return index < 0 ? id : view->product->steps[index].name;
}

static void
tell_then(struct html *html, const struct view *view, const struct decision *decision,
          enum then then)
{
    char clock[40];
    switch (then) {
    case THEN_NOTHING:
        break;
    case THEN_STEP:
        html_text(html, step_name(view, decision->step));
        html_raw(html, decision->reason == REASON_BY_ITSELF ? ", by itself" : "");
        break;
    case THEN_SINCE:
        html_sentence(html, view_clock(view, decision->since_ms, clock, sizeof clock));
        break;
    case THEN_UNTIL:
        html_sentence(html, view_clock(view, decision->since_ms + decision->required_ms, clock,
                                       sizeof clock));
        break;
    case THEN_STAGE:
        if (decision->stage > 0)
            html_format(html, ", stage %d", decision->stage);
        break;
    case THEN_LEVEL:
        html_format(html, ", level %d", decision->level);
        break;
    case THEN_CONTACT:
        html_text(html, decision->contact);
        break;
    case THEN_DAY:
        html_sentence(html, decision->day);
        break;
    }
}

void
tell_decision(struct html *html, const struct view *view, const struct decision *decision)
{
    const struct told *told = &kinds[decision->kind];
    bool refused = decision->kind == DECISION_RESOLVED && !decision->accepted;
    html_raw(html, refused ? "Not accepted by a person" : told->words);
    if (told->number != NULL) {
        html_format(html, "%u", (unsigned)decision->deviation);
        html_raw(html, told->number);
    }
    tell_then(html, view, decision, told->then);
    if (told->alone)
        return;
    html_raw(html, " (");
    html_text(html, decision_phrase(decision));
    html_raw(html, ")");
    if (decision->unverified)
        html_raw(html, " [the limit's figures are not verified]");
    tell_found(html, decision);
}
