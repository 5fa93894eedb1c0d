/* Which correction each probe had when, as the records tell, so that whoever shows a reading
 * shows what it was judged by. Read once for each reader and then only what is new.
 *
 * Owned by the reader, and so by its thread. */
#include <stdlib.h>
#include <string.h>

#include <jansson.h>

#include "corrections.h"
#include "text.h"
#include "trivet/decision.h"
#include "trivet/entry.h"
#include "trivet/units.h"

/* What a plan ends is decided with it: its decisions follow its record (E127). */
#define DECISIONS_OF_A_PLAN 1000

struct step {
    uint64_t seq;
    int64_t at_ms;
    uint16_t probe;
    struct probe_correction correction;
};

struct name {
    char id[PLAN_ID_MAX + 1];
    uint16_t number;
};

struct plan_mark {
    uint64_t seq;
    int64_t at_ms;
};

struct corrections {
    uint64_t read_to_seq;
    struct step *steps; /* in order of seq, and so of at_ms */
    size_t step_count, step_room;
    struct name *names;
    size_t name_count, name_room;
    struct plan_mark *plans; /* of this refresh */
    size_t plan_count, plan_room;
    bool has[UINT16_MAX + 1]; /* probes that have a step */
    bool no_memory;
    uint64_t unreadable;
    struct entry entry;
};

void
corrections_free(struct corrections *corrections)
{
    if (!corrections)
        return;
    free(corrections->steps);
    free(corrections->names);
    free(corrections->plans);
    free(corrections);
}

/* Room for one more of size bytes; NULL without memory. */
static void *
more(void *list, size_t count, size_t *room, size_t size)
{
    size_t wanted = *room == 0 ? 16 : *room * 2;
    void *grown;

    if (count < *room)
        return list;
    grown = realloc(list, wanted * size);
    if (grown)
        *room = wanted;
    return grown;
}

static bool
add_step(struct corrections *c, uint64_t seq, int64_t at_ms, uint16_t probe,
         const struct probe_correction *correction)
{
    struct step *grown = more(c->steps, c->step_count, &c->step_room, sizeof(*grown));
    size_t at = c->step_count;

    if (!grown)
        return false;
    c->steps = grown;
    for (; at > 0 && c->steps[at - 1].seq > seq; at--)
        c->steps[at] = c->steps[at - 1];
    c->steps[at] =
        (struct step){.seq = seq, .at_ms = at_ms, .probe = probe, .correction = *correction};
    c->step_count++;
    c->has[probe] = true;
    return true;
}

/* ---- the probes' numbers ---- */

static struct name *
find_name(const struct corrections *c, const char *id)
{
    for (size_t i = 0; i < c->name_count; i++)
        if (strcmp(c->names[i].id, id) == 0)
            return &c->names[i];
    return NULL;
}

static bool
see_plan(void *arg, const struct store_record *record)
{
    struct corrections *c = arg;
    json_t *data = json_loadb(record->data, record->data_len, JSON_REJECT_DUPLICATES, NULL);
    struct plan_mark *plans = more(c->plans, c->plan_count, &c->plan_room, sizeof(*plans));
    const char *id;
    json_t *number;

    c->no_memory = !plans;
    if (plans) {
        c->plans = plans;
        c->plans[c->plan_count++] = (struct plan_mark){record->seq, record->at_ms};
    }
    json_object_foreach(json_object_get(data, "probes"), id, number)
    {
        json_int_t value = json_integer_value(number);
        struct name *grown;
        if (value < 1 || value > UINT16_MAX || strlen(id) > PLAN_ID_MAX || find_name(c, id))
            continue;
        grown = more(c->names, c->name_count, &c->name_room, sizeof(*grown));
        if (!grown) {
            c->no_memory = true;
            break;
        }
        c->names = grown;
        text_copy(c->names[c->name_count].id, sizeof(c->names[0].id), id);
        c->names[c->name_count++].number = (uint16_t)value;
    }
    json_decref(data);
    return !c->no_memory;
}

/* ---- steps ---- */

static bool
see_check(void *arg, const struct store_record *record)
{
    struct corrections *c = arg;
    struct probe_correction correction = {0};
    const struct entry *entry = &c->entry;
    const struct name *name;
    char error[200];

    if (!entry_read(ENTRY_CALIBRATE, record->data, record->data_len, &c->entry, error,
                    sizeof(error))) {
        c->unreadable = record->seq;
        return false;
    }
    name = find_name(c, entry->probe);
    if (!name || entry->correction == CORRECTION_KEEP)
        return true;
    if (entry->correction == CORRECTION_ADOPT &&
        correction_from_points(entry->left_count > 0 ? entry->left : entry->points,
                               entry->left_count > 0 ? entry->left_count : entry->point_count,
                               INT32_MAX, &correction) != CORRECTION_OK)
        return true; /* the engine has not taken it either */
    c->no_memory = !add_step(c, record->seq, record->at_ms, name->number, &correction);
    return !c->no_memory;
}

static bool
see_end(void *arg, const struct store_record *record)
{
    struct corrections *c = arg;
    const struct probe_correction none = {0};
    struct decision decision;

    if (record->at_ms > c->plans[c->plan_count - 1].at_ms)
        return false;
    if (decision_read(record->data, record->data_len, &decision) &&
        decision.kind == DECISION_CORRECTION_ENDED)
        c->no_memory = !add_step(c, record->seq, record->at_ms, decision.probe, &none);
    return !c->no_memory;
}

static enum store_status
read_ends(struct store_reader *reader, struct corrections *c, uint64_t head_seq,
          struct store_error *reterr)
{
    enum store_status status = STORE_OK;

    for (; status == STORE_OK && c->plan_count > 0; c->plan_count--) {
        uint64_t from = c->plans[c->plan_count - 1].seq, to = from + DECISIONS_OF_A_PLAN;
        status = store_each_record(reader, from, to < head_seq ? to : head_seq, "decision",
                                   see_end, c, reterr);
    }
    c->plan_count = 0;
    return status;
}

enum store_status
store_corrections_read(struct store_reader *reader, struct store_error *reterr)
{
    struct corrections *c = reader->corrections;
    struct store_head head;
    enum store_status status = store_reader_head(reader, &head, reterr);

    if (status != STORE_OK)
        return status;
    if (!c)
        c = reader->corrections = calloc(1, sizeof(*c));
    if (!c)
        return db_error(reterr, STORE_IO, "reading corrections: out of memory");
    if (c->read_to_seq >= head.seq)
        return STORE_OK;
    if ((status = store_each_record(reader, c->read_to_seq, head.seq, "plan", see_plan, c,
                                    reterr)) == STORE_OK &&
        (status = store_each_record(reader, c->read_to_seq, head.seq, "calibrate", see_check, c,
                                    reterr)) == STORE_OK)
        status = read_ends(reader, c, head.seq, reterr);
    if (status == STORE_OK && c->no_memory)
        status = db_error(reterr, STORE_IO, "reading corrections: out of memory");
    if (status == STORE_OK && c->unreadable != 0)
        status =
            db_error(reterr, STORE_CORRUPT,
                     "record %llu in '%s' cannot be read by this version; verify the store, "
                     "or use the version that wrote it",
                     (unsigned long long)c->unreadable, reader->db.path);
    if (status == STORE_OK) {
        c->read_to_seq = head.seq;
        return STORE_OK;
    }
    corrections_free(c); /* half read is not read */
    reader->corrections = NULL;
    return status;
}

int32_t
store_corrected_mC(const struct store_reader *reader, const struct reading *raw)
{
    const struct corrections *c = reader->corrections;

    if (!c || !c->has[raw->probe] || raw->temp_mC == TEMP_NONE)
        return raw->temp_mC;
    for (size_t i = c->step_count; i > 0; i--)
        if (c->steps[i - 1].probe == raw->probe && c->steps[i - 1].at_ms <= raw->at_ms)
            return correction_apply(&c->steps[i - 1].correction, raw->temp_mC);
    return raw->temp_mC;
}

/* ---- readings as they were judged ---- */

struct correcting {
    const struct store_reader *reader;
    store_reading_visitor *visit;
    void *arg;
};

static bool
pass_corrected(void *arg, const struct reading *reading)
{
    const struct correcting *correcting = arg;
    struct reading corrected = *reading;

    corrected.temp_mC = store_corrected_mC(correcting->reader, reading);
    return correcting->visit(correcting->arg, &corrected);
}

enum store_status
store_each_corrected(struct store_reader *reader, uint16_t probe, int64_t from_ms,
                     int64_t to_ms, store_reading_visitor *visit, void *arg,
                     struct store_error *reterr)
{
    struct correcting correcting = {reader, visit, arg};
    enum store_status status = store_corrections_read(reader, reterr);

    if (status != STORE_OK)
        return status;
    return store_each_reading(reader, probe, from_ms, to_ms, pass_corrected, &correcting,
                              reterr);
}
