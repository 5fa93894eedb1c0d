/* The checks of thermometers, judged again from the records alone: with the correction and the
 * plan's tolerance of their time. See trivet/check_history.h. */
#include "trivet/check_history.h"

#include <stdlib.h>
#include <string.h>

#include <jansson.h>

#include "read.h"
#include "text.h"
#include "trivet/plan.h"
#include "trivet/units.h"

/* What a plan ends is decided with it: its decisions follow its record (E127). */
#define DECISIONS_OF_A_PLAN 1000

struct known {
    char id[PLAN_ID_MAX + 1];
    uint16_t number; /* of a probe, 0 = not known or hand-held */
    struct probe_correction correction;
};

struct walk {
    const char *id;
    int64_t from_ms, to_ms;
    check_look_visitor *visit;
    void *arg;
    struct known *known;
    size_t known_count, known_room;
    struct plan *plan; /* in force; NULL = none, or not readable by this version */
    int64_t plan_ms;
    uint64_t *marks; /* the plans' records */
    size_t mark_count;
    bool stopped, no_memory;
    uint64_t unreadable;
    struct entry entry;
};

static struct known *
known_of(struct walk *walk, const char *id)
{
    for (size_t i = 0; i < walk->known_count; i++)
        if (strcmp(walk->known[i].id, id) == 0)
            return &walk->known[i];
    if (walk->known_count == walk->known_room) {
        size_t room = walk->known_room == 0 ? 16 : walk->known_room * 2;
        struct known *grown = realloc(walk->known, room * sizeof(*grown));
        if (!grown) {
            walk->no_memory = true;
            return NULL;
        }
        walk->known = grown;
        walk->known_room = room;
    }
    struct known *fresh = &walk->known[walk->known_count++];
    memset(fresh, 0, sizeof(*fresh));
    text_copy(fresh->id, sizeof(fresh->id), id);
    return fresh;
}

static bool
take_plan(struct walk *walk, const struct store_record *record)
{
    json_t *data = json_loadb(record->data, record->data_len, JSON_REJECT_DUPLICATES, NULL);
    const char *text = json_string_value(json_object_get(data, "text")), *id;
    struct plan_faults *faults = malloc(sizeof(*faults));
    json_t *number;

    plan_free(walk->plan);
    walk->plan =
        text && faults ? plan_load_record("recorded plan", text, strlen(text), faults) : NULL;
    json_object_foreach(json_object_get(data, "probes"), id, number)
    {
        struct known *known = strlen(id) <= PLAN_ID_MAX ? known_of(walk, id) : NULL;
        if (known)
            known->number = (uint16_t)json_integer_value(number);
    }
    free(faults);
    json_decref(data);
    return !walk->no_memory;
}

static int32_t
tolerance_of(const struct walk *walk)
{
    const struct entry *entry = &walk->entry;
    int index = walk->plan && entry->probe[0] ? plan_probe_index(walk->plan, entry->probe) : -1;
    const struct plan_handheld *held = walk->plan && entry->thermometer[0]
                                           ? plan_handheld(walk->plan, entry->thermometer)
                                           : NULL;
    if (index >= 0)
        return walk->plan->probes[index].checking.tolerance_mK;
    return held ? held->checking.tolerance_mK : 0;
}

static bool
show(struct walk *walk, const struct store_record *record, bool as_left,
     const struct calibration_point *points, size_t count,
     const struct probe_correction *correction)
{
    struct check_look look = {
        .seq = record->seq,
        .at_ms = record->at_ms,
        .entry = &walk->entry,
        .as_left = as_left,
        .points = points,
        .count = count,
        .correction = correction,
        .tolerance_mK = tolerance_of(walk),
    };
    look.within = correction_within(correction, points, count, look.tolerance_mK);
    return walk->visit(walk->arg, &look);
}

static bool
take_check(struct walk *walk, const struct store_record *record)
{
    const struct entry *entry = &walk->entry;
    struct probe_correction before;
    struct known *known;
    char error[200];

    if (!entry_read(ENTRY_CALIBRATE, record->data, record->data_len, &walk->entry, error,
                    sizeof(error))) {
        walk->unreadable = record->seq;
        return false;
    }
    known = known_of(walk, entry->probe[0] ? entry->probe : entry->thermometer);
    if (!known)
        return false;
    bool adjusted = entry->left_count > 0;
    const struct calibration_point *left = adjusted ? entry->left : entry->points;
    size_t left_count = adjusted ? entry->left_count : entry->point_count;
    before = known->correction;
    if (entry->correction == CORRECTION_DROP)
        memset(&known->correction, 0, sizeof(known->correction));
    else if (entry->correction == CORRECTION_ADOPT)
        (void)correction_from_points(left, left_count, INT32_MAX, &known->correction);
    if (record->at_ms < walk->from_ms || (walk->id[0] && strcmp(walk->id, known->id) != 0))
        return true;
    if (!show(walk, record, false, entry->points, entry->point_count, &before))
        return false;
    return (!adjusted && entry->correction == CORRECTION_KEEP) ||
           show(walk, record, true, left, left_count, &known->correction);
}

static bool
see_end(void *arg, const struct store_record *record)
{
    struct walk *walk = arg;
    struct decision decision;

    if (record->at_ms > walk->plan_ms)
        return false;
    if (!decision_read(record->data, record->data_len, &decision) ||
        decision.kind != DECISION_CORRECTION_ENDED)
        return true;
    for (size_t i = 0; i < walk->known_count; i++)
        if (walk->known[i].number == decision.probe)
            memset(&walk->known[i].correction, 0, sizeof(walk->known[i].correction));
    return true;
}

static bool
see_plan(void *arg, const struct store_record *record)
{
    struct walk *walk = arg;

    walk->plan_ms = record->at_ms;
    return take_plan(walk, record);
}

static bool
see_check(void *arg, const struct store_record *record)
{
    struct walk *walk = arg;

    walk->stopped = record->at_ms >= walk->to_ms || !take_check(walk, record);
    return !walk->stopped;
}

static bool
see_mark(void *arg, const struct store_record *record)
{
    struct walk *walk = arg;
    uint64_t *grown = realloc(walk->marks, (walk->mark_count + 1) * sizeof(*grown));

    walk->no_memory = !grown;
    if (!grown)
        return false;
    walk->marks = grown;
    walk->marks[walk->mark_count++] = record->seq;
    return true;
}

/* From one plan to the next: what the plan ended, then the checks under it. Years of other
 * records are stepped over. */
static enum store_status
read_span(struct store_reader *reader, struct walk *walk, uint64_t from, uint64_t to,
          struct store_error *reterr)
{
    uint64_t end = from + DECISIONS_OF_A_PLAN < to ? from + DECISIONS_OF_A_PLAN : to;
    enum store_status status =
        store_each_record(reader, from - 1, from, "plan", see_plan, walk, reterr);

    if (status == STORE_OK)
        status = store_each_record(reader, from, end, "decision", see_end, walk, reterr);
    if (status == STORE_OK)
        status = store_each_record(reader, from, to, "calibrate", see_check, walk, reterr);
    return status;
}

static enum store_status
read_all(struct store_reader *reader, struct walk *walk, struct store_error *reterr)
{
    struct store_head head;
    enum store_status status = store_reader_head(reader, &head, reterr);

    if (status == STORE_OK)
        status = store_each_record(reader, 0, head.seq, "plan", see_mark, walk, reterr);
    for (size_t i = 0;
         status == STORE_OK && i < walk->mark_count && !walk->stopped && !walk->no_memory; i++)
        status = read_span(reader, walk, walk->marks[i],
                           i + 1 < walk->mark_count ? walk->marks[i + 1] : head.seq, reterr);
    if (status == STORE_OK && walk->no_memory)
        status = db_error(reterr, STORE_IO, "reading checks: out of memory");
    if (status == STORE_OK && walk->unreadable != 0)
        status =
            db_error(reterr, STORE_CORRUPT,
                     "record %llu in '%s' cannot be read by this version; verify the store, "
                     "or use the version that wrote it",
                     (unsigned long long)walk->unreadable, reader->db.path);
    return status;
}

enum store_status
check_history_each(struct store_reader *reader, const char *id, int64_t from_ms, int64_t to_ms,
                   check_look_visitor *visit, void *arg, struct store_error *reterr)
{
    struct walk *walk = calloc(1, sizeof(*walk));
    enum store_status status;

    if (!walk)
        return db_error(reterr, STORE_IO, "reading checks: out of memory");
    walk->id = id;
    walk->from_ms = from_ms;
    walk->to_ms = to_ms;
    walk->visit = visit;
    walk->arg = arg;
    status = read_all(reader, walk, reterr);
    plan_free(walk->plan);
    free(walk->marks);
    free(walk->known);
    free(walk);
    return status;
}
