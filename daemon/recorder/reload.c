/* A new plan while the old one is in force: whether it may follow, its record, the switch. At a
 * start with another plan file the same rules hold (start.c). The recorder's thread.
 *
 * The order is that of a person's entry: checked, judged, committed, answered. A plan that
 * cannot be committed is taken back from the engine as if it had never come. */
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "daemon/recorder/inside.h"
#include "trivet/engine_plan.h"
#include "trivet/log.h"
#include "trivet/zone.h"

struct plan_change *
plan_changes_list(const struct plan *before, const struct plan *after, size_t *ret_count)
{
    size_t count = plan_changes(before, after, NULL, 0);
    struct plan_change *changes = calloc(count + 1, sizeof *changes);
    if (changes != NULL)
        *ret_count = plan_changes(before, after, changes, count);
    return changes;
}

/* ---- whether it may follow ---- */

#define DAY_MAX 16

/* The site's day, written as a plan writes it. */
static void
day_text(const struct recorder *recorder, const struct plan *plan, int64_t at_ms,
         char buf[DAY_MAX])
{
    struct zone_time day;
    zone_split(zone_shared(plan->time_zone), at_ms + recorder->line.offset_ms, &day);
    (void)snprintf(buf, DAY_MAX, "%04d-%02u-%02u", (int)day.year, (unsigned)day.month,
                   (unsigned)day.day);
}

static void __attribute__((format(printf, 3, 4)))
add_line(char *text, size_t size, const char *format, ...)
{
    size_t len = strlen(text);
    if (len > 0 && len + 2 < size) {
        text[len++] = '\n';
        text[len] = '\0';
    }
    va_list args;
    va_start(args, format);
    (void)vsnprintf(text + len, size - len, format, args); /* what does not fit is left out */
    va_end(args);
}

/* Why the approval in the plan does not stand for these changes; NULL when it does. Days
 * written year first compare as text. */
static const char *
approval_wanting(const struct recorder *recorder, const struct plan *before,
                 const struct plan *plan, int64_t at_ms)
{
    const struct plan_approval *was = &before->approved, *is = &plan->approved;
    char today[DAY_MAX], since[DAY_MAX];
    day_text(recorder, before, at_ms, today);
    day_text(recorder, before, plans_since_ms(&recorder->plans, recorder->plan_seq), since);
    if (is->by[0] == '\0')
        return "nobody has approved it";
    if (recorder->line.trusted && strcmp(is->on, today) > 0)
        return "its approval is of a day still to come";
    if (strcmp(is->on, since) < 0)
        return "its approval is older than the plan in force";
    if (was->by[0] != '\0' && strcmp(was->by, is->by) == 0 && strcmp(was->on, is->on) == 0 &&
        strcmp(is->on, today) != 0)
        return "its approval is that of the plan in force";
    return NULL;
}

static bool
check_approval(const struct recorder *recorder, const struct plan *before,
               const struct plan *plan, int64_t at_ms, const struct plan_change *changes,
               size_t change_count, char *reterr, size_t err_size)
{
    if (plan->draft || (change_count == 0 && !before->draft))
        return true;
    const char *wanting = approval_wanting(recorder, before, plan, at_ms);
    if (wanting == NULL)
        return true;
    if (change_count == 0)
        add_line(reterr, err_size,
                 "the plan in force is a draft, this one is not, and %s; write approved: {by: "
                 "INITIALS, on: DAY} of a supervisor or verifier",
                 wanting);
    else
        add_line(reterr, err_size,
                 "it changes %zu limit%s and %s; write approved: {by: INITIALS, on: DAY} of a "
                 "supervisor or verifier, or draft: yes",
                 change_count, change_count == 1 ? "" : "s", wanting);
    for (size_t i = 0; i < change_count; i++)
        add_line(reterr, err_size, "%s: %s -> %s", changes[i].what, changes[i].before,
                 changes[i].after);
    return false;
}

bool
plan_may_follow(const struct recorder *recorder, const struct plan *plan, int64_t at_ms,
                const struct plan_change *changes, size_t change_count, char *reterr,
                size_t err_size)
{
    const struct plan *before = plans_find(&recorder->plans, recorder->plan_seq);
    reterr[0] = '\0';
    bool free_to = engine_check_plan(recorder->engine, plan, reterr, err_size);
    bool approved = before == NULL || check_approval(recorder, before, plan, at_ms, changes,
                                                     change_count, reterr, err_size);
    return free_to && approved;
}

/* ---- telling ---- */

void
plan_refused(struct recorder *recorder, const char *why, int64_t at_ms)
{
    (void)snprintf(recorder->refused, sizeof recorder->refused, "%s", why);
    size_t len = strlen(recorder->refused);
    while (len > 0 && recorder->refused[len - 1] == '\n')
        recorder->refused[--len] = '\0';
    recorder->refused_ms = at_ms;
    recorder->publish = true;
    log_line(LOG_ERROR, "plan", "the plan file is not taken, the plan in force stays:");
    for (const char *line = recorder->refused; *line != '\0';) {
        size_t end = strcspn(line, "\n");
        log_line(LOG_ERROR, "plan", "%.*s", (int)end, line);
        line += end + (line[end] == '\n');
    }
}

static void
refuse(struct recorder *recorder, struct entry_answer *answer, int code, const char *why,
       int64_t at_ms)
{
    plan_refused(recorder, why, at_ms);
    size_t first = strcspn(recorder->refused, "\n");
    size_t more = 0;
    for (const char *c = recorder->refused + first; *c != '\0'; c++)
        more += *c == '\n';
    answer->code = code;
    if (more == 0)
        (void)snprintf(answer->say, sizeof answer->say,
                       "The plan file is not taken, the plan in force stays: %.*s", (int)first,
                       recorder->refused);
    else
        (void)snprintf(answer->say, sizeof answer->say,
                       "The plan file is not taken, the plan in force stays: %.*s (and %zu "
                       "more, see `trivet plan`)",
                       first > 260 ? 260 : (int)first, recorder->refused, more);
}

static bool
same_text(const char *a, const char *b)
{
    return a == NULL || b == NULL ? a == b : strcmp(a, b) == 0;
}

/* What the page, the socket and the store were started with stays until the next start. */
static bool
needs_start(const struct plan *started, const struct plan *plan)
{
    const struct plan_web *a = &started->web, *b = &plan->web;
    bool same = a->enabled == b->enabled && same_text(a->listen, b->listen) &&
                a->port == b->port &&
                same_text(started->records.directory, plan->records.directory) &&
                same_text(started->records.socket, plan->records.socket);
    for (size_t i = 0; same && i < sizeof a->names / sizeof a->names[0]; i++) {
        same = same_text(a->names[i], b->names[i]);
        if (a->names[i] == NULL)
            break;
    }
    return !same;
}

static void
say_taken(const struct recorder *recorder, size_t change_count, struct entry_answer *answer)
{
    const struct plan *plan = recorder->plan;
    char limits[160] = "no limit changed";
    if (change_count > 0 && plan->draft)
        (void)snprintf(limits, sizeof limits, "%zu limit%s changed, not approved (draft)",
                       change_count, change_count == 1 ? "" : "s");
    else if (change_count > 0)
        (void)snprintf(limits, sizeof limits, "%zu limit%s changed, approved by %s on %s",
                       change_count, change_count == 1 ? "" : "s", plan->approved.by,
                       plan->approved.on);
    (void)snprintf(answer->say, sizeof answer->say, "The new plan is in force: %s.%s", limits,
                   needs_start(recorder->parts.plan, plan)
                       ? " What changed under web: or of the paths under records: takes effect "
                         "at the next start."
                       : "");
    log_line(LOG_INFO, "plan", "%s Record %llu", answer->say,
             (unsigned long long)recorder->plan_seq);
}

/* ---- the switch ---- */

/* A plan on its way into force. */
struct coming {
    struct plan *plan;
    struct snapshot_bus *buses;
    char *data;
    int64_t at_ms;
};

static bool
prepare(struct recorder *recorder, struct coming *coming, const struct plan_change *changes,
        size_t change_count)
{
    if (!plans_number_probes(&recorder->plans, coming->plan) ||
        !plans_reserve(&recorder->plans))
        return false;
    coming->buses = recorder_buses(coming->plan, coming->at_ms);
    coming->data = plans_record_data(&recorder->plans, coming->plan, changes, change_count);
    return coming->buses != NULL && coming->data != NULL;
}

/* Judged and committed; false when storage is broken or memory is short: nothing has changed.
 */
static bool
commit_plan(struct recorder *recorder, const struct coming *coming)
{
    size_t state_size;
    size_t keep_records = recorder->pending.record_count;
    int64_t fed_ms = recorder->feed.last_ms;
    uint64_t seq = store_head(recorder->parts.store)->seq + keep_records + 1;
    if (!recorder_save_engine(recorder, &state_size) ||
        !pending_record(&recorder->pending, "plan", coming->at_ms, coming->data, false))
        return false;
    struct engine_input input = {
        .kind = ENGINE_PLAN, .at_ms = coming->at_ms, .seq = seq, .is.plan = coming->plan};
    (void)feed_input(&recorder->feed, &input);
    if (!recorder_commit(recorder, false)) {
        recorder_take_back(recorder, keep_records, state_size, fed_ms);
        return false;
    }
    (void)plans_keep(&recorder->plans, seq, coming->at_ms, coming->plan); /* room is there */
    recorder->plan_seq = seq;
    return true;
}

/* True when the plan has come into force: it is the recorder's then. */
static bool
take_plan(struct recorder *recorder, struct coming *coming, struct entry_answer *answer)
{
    char why[PLAN_REFUSED_MAX];
    size_t change_count = 0;
    struct plan_change *changes =
        plan_changes_list(recorder->plan, coming->plan, &change_count);
    bool taken = false;
    if (changes != NULL && !plan_may_follow(recorder, coming->plan, coming->at_ms, changes,
                                            change_count, why, sizeof why)) {
        refuse(recorder, answer, 409, why, coming->at_ms);
    } else if (changes == NULL || !prepare(recorder, coming, changes, change_count)) {
        refuse(recorder, answer, 503, "memory is short; try again in a moment", coming->at_ms);
    } else if (!commit_plan(recorder, coming)) {
        refuse(recorder, answer, 503,
               recorder->broken ? recorder->trouble.text
                                : "memory is short; try again in a moment",
               coming->at_ms);
    } else {
        recorder->plan = recorder->polled = coming->plan;
        free(recorder->buses);
        recorder->buses = coming->buses;
        memset(recorder->signals, 0, sizeof recorder->signals); /* their threads tell anew */
        coming->buses = NULL;
        recorder->refused[0] = '\0';
        answer->code = 200;
        answer->seq = recorder->plan_seq;
        say_taken(recorder, change_count, answer);
        taken = true;
    }
    free(changes);
    return taken;
}

static void
reload(struct recorder *recorder, struct plan_request *request, int64_t born_mono_ms,
       struct entry_answer *answer, const struct plan **ret_taken)
{
    recorder_note_losses(recorder);
    struct coming coming = {.plan = request->plan,
                            .at_ms = recorder_instant(recorder, born_mono_ms)};
    if (coming.plan == NULL) {
        refuse(recorder, answer, 400, request->faults, coming.at_ms);
        return;
    }
    if (strcmp(coming.plan->digest, recorder->plan->digest) == 0) {
        recorder->publish = recorder->publish || recorder->refused[0] != '\0';
        recorder->refused[0] = '\0';
        answer->code = 200;
        (void)snprintf(answer->say, sizeof answer->say,
                       "Nothing has changed: this plan is in force already.");
        plan_free(coming.plan);
        return;
    }
    if (recorder->broken)
        refuse(recorder, answer, 503, recorder->trouble.text, coming.at_ms);
    else if (take_plan(recorder, &coming, answer))
        *ret_taken = recorder->plan;
    if (*ret_taken == NULL)
        plan_free(coming.plan);
    free(coming.buses);
    free(coming.data);
}

void
recorder_reload(struct recorder *recorder, struct plan_request *request, int64_t born_mono_ms)
{
    struct entry_answer answer = {.code = 500};
    const struct plan *taken = NULL;
    reload(recorder, request, born_mono_ms, &answer, &taken);
    /* Who asked may look at once: what they are told is shown before they are told. */
    if (recorder->pending_since_ms != TIME_NEVER && !recorder->broken)
        (void)recorder_commit(recorder, false);
    recorder_publish(recorder);
    if (request->decided != NULL)
        request->decided(request->arg, taken);
    if (request->asked != NULL && request->asked->answer != NULL)
        request->asked->answer(request->asked->arg, &answer);
    free(request->asked);
    free(request);
}
