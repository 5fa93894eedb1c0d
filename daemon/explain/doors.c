/* Which doors of a place stood open before and while something went wrong there. Told beside
 * the decision and no part of it: no limit is judged by a door (E210).
 *
 * Reads the records of switches from a day before to a day after the decision. */
#include "daemon/explain/doors.h"

#include <stdio.h>
#include <string.h>

#include "trivet/switch_event.h"
#include "trivet/units.h"

#define DAY_MS INT64_C(86400000)
/* An open door is felt by the air at once and by food within minutes (common practice, no
 * source). */
#define BEFORE_MS INT64_C(600000)

struct look {
    struct explanation *to;
    int64_t from_ms, until_ms; /* what is told of: a while before it began, to the decision */
    /* by index of the plan's switches */
    bool closed[PLAN_SWITCHES_MAX];   /* known to be, as the time told of began */
    bool doubtful[PLAN_SWITCHES_MAX]; /* since then it was not always known to be */
};

static int64_t
began_ms(const struct explanation *to)
{
    const struct decision *decision = &to->decision;
    return decision->since_ms != TIME_NONE && decision->since_ms < decision->at_ms
               ? decision->since_ms
               : decision->at_ms;
}

static struct explain_door *
still_open(struct explanation *to, const char *id)
{
    for (size_t i = to->door_count; i-- > 0;)
        if (strcmp(to->doors[i].id, id) == 0 && to->doors[i].to_ms == TIME_NONE)
            return &to->doors[i];
    return NULL;
}

/* The latest are kept. */
static struct explain_door *
add_door(struct explanation *to)
{
    if (to->door_count == EXPLAIN_DOORS_MAX) {
        memmove(&to->doors[0], &to->doors[1], (EXPLAIN_DOORS_MAX - 1) * sizeof to->doors[0]);
        to->door_count--;
    }
    return &to->doors[to->door_count++];
}

static void
note_state(struct look *look, const struct switch_event *event, int64_t at_ms)
{
    int index = plan_switch_index(look->to->plan, event->id);
    if (index < 0 || at_ms > look->until_ms)
        return;
    if (at_ms <= look->from_ms)
        look->closed[index] = event->state == SWITCH_RESTS;
    else if (event->state != SWITCH_RESTS)
        look->doubtful[index] = true;
}

static bool
take_switch(void *arg, const struct store_record *record)
{
    struct look *look = arg;
    struct explanation *to = look->to;
    struct switch_event event;
    if (!switch_event_read(record->data, record->data_len, &event) ||
        event.kind != SWITCH_DOOR || strcmp(event.place, to->decision.place) != 0)
        return record->at_ms <= look->until_ms + DAY_MS;
    note_state(look, &event, record->at_ms);
    struct explain_door *open = still_open(to, event.id);
    if (event.state == SWITCH_ACTIVE && open == NULL && record->at_ms <= look->until_ms) {
        struct explain_door *door = add_door(to);
        int index = plan_switch_index(to->plan, event.id);
        *door = (struct explain_door){
            .seq = record->seq, .from_ms = record->at_ms, .to_ms = TIME_NONE};
        memcpy(door->id, event.id, sizeof door->id);
        (void)snprintf(door->name, sizeof door->name, "%s",
                       index < 0 ? event.id : to->plan->switches[index].name);
    } else if (event.state != SWITCH_ACTIVE && open != NULL) {
        open->to_ms = record->at_ms;
        open->lost = event.state == SWITCH_UNKNOWN;
    }
    return record->at_ms <= look->until_ms + DAY_MS;
}

/* What was over before the time told of is left out; the rest is before or while. */
static void
keep_near(struct look *look)
{
    struct explanation *to = look->to;
    size_t kept = 0;
    for (size_t i = 0; i < to->door_count; i++) {
        struct explain_door *door = &to->doors[i];
        if (door->to_ms != TIME_NONE && door->to_ms < look->from_ms)
            continue;
        door->before = door->to_ms != TIME_NONE && door->to_ms < began_ms(to);
        to->doors[kept++] = *door;
    }
    to->door_count = kept;
    to->doors_closed = kept == 0;
    bool any = false;
    for (size_t i = 0; i < to->plan->switch_count; i++) {
        const struct plan_switch *of = &to->plan->switches[i];
        if (of->kind != SWITCH_DOOR || of->place < 0 ||
            strcmp(to->plan->places[of->place].id, to->decision.place) != 0)
            continue;
        any = true;
        if (!look->closed[i] || look->doubtful[i])
            to->doors_closed = false;
    }
    to->doors_closed = to->doors_closed && any;
}

static bool
take_instant(void *arg, const struct store_record *record)
{
    *(int64_t *)arg = record->at_ms;
    return false;
}

/* Instants never go back along the chain, so halving finds the last record before one. */
static enum store_status
seq_before(struct store_reader *reader, int64_t at_ms, uint64_t high, uint64_t *ret,
           struct store_error *reterr)
{
    uint64_t low = 0;
    while (high - low > 1) {
        uint64_t middle = low + (high - low) / 2;
        int64_t middle_ms = INT64_MAX;
        enum store_status status = store_each_record(reader, middle - 1, middle, NULL,
                                                     take_instant, &middle_ms, reterr);
        if (status != STORE_OK)
            return status;
        if (middle_ms < at_ms)
            low = middle;
        else
            high = middle;
    }
    *ret = low;
    return STORE_OK;
}

enum store_status
explain_doors(struct store_reader *reader, uint64_t head_seq, struct explanation *to,
              struct store_error *reterr)
{
    const struct decision *decision = &to->decision;
    uint64_t from_seq = 0;
    if (to->plan == NULL || decision->place[0] == '\0' ||
        (decision->kind != DECISION_DEVIATION_OPENED &&
         decision->kind != DECISION_DEVIATION_ENDED))
        return STORE_OK;
    struct look look = {
        .to = to, .from_ms = began_ms(to) - BEFORE_MS, .until_ms = decision->at_ms};
    enum store_status status =
        seq_before(reader, look.from_ms - DAY_MS, to->seq, &from_seq, reterr);
    if (status == STORE_OK)
        status =
            store_each_record(reader, from_seq, head_seq, "switch", take_switch, &look, reterr);
    if (status == STORE_OK)
        keep_near(&look);
    return status;
}

void
explain_door_words(const struct explain_door *door, char *buf, size_t size)
{
    char span[40] = "";
    if (door->to_ms != TIME_NONE)
        (void)duration_text(span, sizeof span, door->to_ms - door->from_ms);
    (void)snprintf(buf, size, "%s open%s%s, %s", door->name,
                   door->to_ms == TIME_NONE ? ""
                   : door->lost             ? " for at least "
                                            : " for ",
                   span, door->before ? "before it began" : "while it went on");
}
