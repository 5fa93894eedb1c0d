/* What a batch's forecast says, in plain sentences, one a line: always as likely, never as
 * certain. Pure, like sentence.c. */
#include "sentence.h"

#include "trivet/zone.h"

#define CLOCK_MAX 32
/* A range this narrow is as good as an hour's plan needs it. */
#define SURE_MS INT64_C(600000)

static char *
clock_of(const struct snapshot *snapshot, int64_t at_ms, char buf[CLOCK_MAX])
{
    return snapshot_clock_text(snapshot, at_ms, buf, CLOCK_MAX);
}

/* "about 18:42 (18:36 to 18:55)"; an end that is not to be expected is left open. */
static void
add_when(struct text *text, const struct snapshot *snapshot, const struct advice_when *when)
{
    char early[CLOCK_MAX], likely[CLOCK_MAX], late[CLOCK_MAX];
    if (when->p50_ms == TIME_NEVER) {
        text_add(text, "not as things stand");
        return;
    }
    text_add(text, "about %s (%s to %s)", clock_of(snapshot, when->p50_ms, likely),
             clock_of(snapshot, when->p05_ms, early),
             when->p95_ms == TIME_NEVER ? "much later"
                                        : clock_of(snapshot, when->p95_ms, late));
}

static void
add_chance(struct text *text, int16_t permille)
{
    if (permille < 50)
        text_add(text, "less than 1 in 20");
    else if (permille > 950)
        text_add(text, "more than 19 in 20");
    else
        text_add(text, "about %d in 10",
                 (permille + 50) / 100 == 0 ? 1 : (permille + 50) / 100);
}

/* ---- cooling ---- */

static void
add_option(struct text *text, const struct snapshot *snapshot,
           const struct advice_option *option)
{
    char clock[CLOCK_MAX];
    int place;
    switch (option->kind) {
    case OPTION_WARMER_OVEN:
        text_add(text, "with the oven %d °C hotter", option->change_mC / 1000);
        break;
    case OPTION_COOLER_OVEN:
        text_add(text, "with the oven %d °C cooler", -option->change_mC / 1000);
        break;
    case OPTION_SHALLOWER:
        text_add(text, "pans half as deep");
        break;
    case OPTION_ICE_BATH:
        text_add(text, "an ice bath");
        break;
    case OPTION_STIR:
        text_add(text, "stirring");
        break;
    case OPTION_COLDER_PLACE:
        place = plan_place_index(snapshot->plan, option->place);
        text_add(text, "moving it to %s",
                 place < 0 ? option->place : snapshot->plan->places[place].name);
        break;
    case OPTION_UNCOVER:
        text_add(text, "taking covers off");
        break;
    }
    if (option->p50_ms != TIME_NEVER)
        text_add(text, " (about %s)", clock_of(snapshot, option->p50_ms, clock));
}

static void
add_remedies(struct text *text, const struct snapshot *snapshot, const struct advice *advice)
{
    for (uint8_t i = 0; i < advice->option_count; i++) {
        text_add(text, i == 0 ? "\nWhat helps most: " : i == 1 ? "; then " : ", ");
        add_option(text, snapshot, &advice->options[i]);
    }
    if (advice->option_count > 0)
        text_add(text, ".");
}

/* Nothing is at risk: how likely each stage that is left will be in time. */
static void
add_chances(struct text *text, const struct snapshot *snapshot, const struct advice *advice)
{
    char to[32], deadline[CLOCK_MAX];
    bool any = false;
    for (uint8_t i = 0; i < advice->reach_count; i++) {
        const struct advice_reach *reach = &advice->reach[i];
        if (reach->reached || reach->miss_permille < 0 || reach->deadline_ms == TIME_NONE)
            continue;
        text_add(text, "%s%s by %s ", any ? ", " : "\nChance of being in time: ",
                 limit_temp_text(to, sizeof to, reach->to),
                 clock_of(snapshot, reach->deadline_ms, deadline));
        add_chance(text, (int16_t)(1000 - reach->miss_permille));
        any = true;
    }
    if (any)
        text_add(text, ".");
}

static void
tell_cooling(struct text *text, const struct snapshot *snapshot, const struct advice *advice)
{
    char to[32], deadline[CLOCK_MAX];
    bool any = false;
    for (uint8_t i = 0; i < advice->reach_count; i++) {
        const struct advice_reach *reach = &advice->reach[i];
        if (reach->reached)
            continue;
        text_add(text, "%s%s ", any ? "; " : "", limit_temp_text(to, sizeof to, reach->to));
        add_when(text, snapshot, &reach->when);
        any = true;
    }
    if (!any) {
        text_add(text, "every stage has been reached.");
        return;
    }
    text_add(text, ".");
    const struct advice_reach *stake = &advice->reach[advice->at_stake];
    if (stake->reached || stake->miss_permille < 200) {
        add_chances(text, snapshot, advice);
        return;
    }
    text_add(text, "\nChance of missing %s", limit_temp_text(to, sizeof to, stake->to));
    if (stake->deadline_ms != TIME_NONE)
        text_add(text, " by %s", clock_of(snapshot, stake->deadline_ms, deadline));
    text_add(text, ": ");
    add_chance(text, stake->miss_permille);
    text_add(text, ".");
    add_remedies(text, snapshot, advice);
}

/* ---- heating ---- */

static void
add_peak(struct text *text, const struct advice *advice)
{
    struct limit_temp plain = {.milli = advice->aim.milli, .unit = advice->aim.unit};
    char likely[DEGREES_MAX], least[DEGREES_MAX], most[DEGREES_MAX];
    text_add(text, "about %s (%s to %s)", degrees_text(likely, advice->peak_p50_mC, plain),
             degrees_text(least, advice->peak_p05_mC, plain),
             degrees_text(most, advice->peak_p95_mC, plain));
}

static void
tell_heating(struct text *text, const struct snapshot *snapshot, const struct advice *advice)
{
    char to[32], aim[32];
    bool any = false;
    if (advice->taken_out) {
        text_add(text, "the core peaks at ");
        add_peak(text, advice);
        text_add(text, ".");
        return;
    }
    for (uint8_t i = 0; i < advice->reach_count; i++) {
        const struct advice_reach *reach = &advice->reach[i];
        (void)limit_temp_text(to, sizeof to, reach->to);
        if (advice->by_earning && reach->when.p50_ms == TIME_NEVER && !reach->reached)
            continue; /* a limit earned below its reference temperature */
        if (reach->reached) {
            text_add(text, "%s has been reached", to);
        } else {
            text_add(text, "%s ", to);
            add_when(text, snapshot, &reach->when);
        }
        text_add(text, ".");
        any = true;
    }
    if (advice->has_earned) {
        text_add(text, "%s limit should be earned ", any ? "\nThe" : "the");
        add_when(text, snapshot, &advice->earned);
        text_add(text, ".");
    }
    if (advice->has_take_out && advice->take_out.p50_ms <= snapshot->at_ms)
        text_add(text, "\nTo end at %s, take it out now: the limit has to be shown met first.",
                 limit_temp_text(aim, sizeof aim, advice->aim));
    else if (advice->has_take_out) {
        (void)limit_temp_text(aim, sizeof aim, advice->aim);
        if (advice->limit_decides)
            text_add(text, "\nTake it out ");
        else
            text_add(text, "\nTo end at %s, take it out ", aim);
        add_when(text, snapshot, &advice->take_out);
        if (advice->limit_decides)
            text_add(text, ", when the limit is met: it will probably end above %s", aim);
        text_add(text, ".");
    }
    if (advice->peak_p50_mC != TEMP_NONE) {
        text_add(text, "\nTaken out now, the core would peak at ");
        add_peak(text, advice);
        text_add(text, ".");
    }
}

/* How sure, in a word: by the width of the range against the time left. */
static const char *
how_sure(const struct snapshot *snapshot, const struct advice *advice)
{
    const struct advice_reach *next = NULL;
    for (uint8_t i = 0; i < advice->reach_count && next == NULL; i++)
        next = advice->reach[i].reached ? NULL : &advice->reach[i];
    if (next == NULL || advice->refusal[0] != '\0')
        return "";
    if (next->when.p50_ms == TIME_NEVER || next->when.p95_ms == TIME_NEVER)
        return ", a first guess";
    int64_t wide_ms = next->when.p95_ms - next->when.p05_ms;
    int64_t left_ms = next->when.p50_ms - snapshot->at_ms;
    if (wide_ms <= SURE_MS || wide_ms * 10 <= left_ms * 3)
        return ", fairly sure";
    return wide_ms * 10 <= left_ms * 8 ? ", rough" : ", a first guess";
}

static void
tell_if_changed(const struct snapshot *snapshot, struct snapshot_batch *batch)
{
    const struct advice *advice = &batch->advice;
    struct text text;
    text_start(&text, batch->if_changed, sizeof batch->if_changed);
    if (!batch->has_advice || advice->reach_count == 0 || advice->reach[0].stage > 0)
        return;
    for (uint8_t i = 0; i < advice->option_count; i++) {
        char to[32];
        if (i == 0)
            text_add(&text, "If the oven were changed now, %s would be %s ",
                     advice->by_earning
                         ? "the limit"
                         : limit_temp_text(to, sizeof to, advice->reach[advice->at_stake].to),
                     advice->by_earning ? "earned" : "reached");
        text_add(&text, i == 0 ? "" : ", ");
        add_option(&text, snapshot, &advice->options[i]);
    }
    text_add(&text, advice->option_count > 0 ? "." : "");
}

void
tell_ahead(const struct snapshot *snapshot, struct snapshot_batch *batch)
{
    const struct advice *advice = &batch->advice;
    struct text text;
    text_start(&text, batch->ahead, sizeof batch->ahead);
    tell_if_changed(snapshot, batch);
    if (!batch->has_advice)
        return;
    text_add(&text, "Forecast%s", how_sure(snapshot, advice));
    if (advice->lessons > 0 && advice->refusal[0] == '\0')
        text_add(&text, ", from %d earlier batch%s", advice->lessons,
                 advice->lessons == 1 ? "" : "es");
    text_add(&text, ": ");
    if (advice->refusal[0] != '\0')
        text_add(&text, "%s.", advice->refusal);
    else if (advice->reach_count > 0 && advice->reach[0].stage > 0)
        tell_cooling(&text, snapshot, advice);
    else
        tell_heating(&text, snapshot, advice);
    char clock[CLOCK_MAX];
    if (advice->warned && batch->view.heard_by[0] != '\0' &&
        batch->view.heard_ms != TIME_NONE && batch->view.heard_ms >= advice->warned_ms)
        text_add(&text, "\nHeard by %s at %s.", batch->view.heard_by,
                 clock_of(snapshot, batch->view.heard_ms, clock));
    if (advice->warned && batch->concern < CONCERN_WATCH)
        batch->concern = CONCERN_WATCH;
}
