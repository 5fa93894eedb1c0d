/* What a failed check puts in doubt: the readings since the last good one, and the batches that
 * depended on them. From the records alone. See trivet/check_history.h. */
#include <stdlib.h>
#include <string.h>

#include <jansson.h>

#include "read.h"
#include "text.h"
#include "trivet/check_history.h"
#include "trivet/plan.h"
#include "trivet/units.h"

/* A batch in hand while the records pass. */
struct running {
    uint32_t number;
    char product[PLAN_ID_MAX + 1], place[PLAN_ID_MAX + 1];
    int step; /* index, or -1 */
    bool has_probe;
    bool depends;
    int64_t since_ms;  /* of depending */
    struct plan *plan; /* borrowed: it began under */
};

struct doubting {
    const struct decision *opened;
    struct doubt *ret;
    char probe[PLAN_ID_MAX + 1]; /* its id, "" = a hand-held one */
    struct running *running;
    size_t running_count, running_room;
    size_t batch_room;
    struct plan **plans; /* in order; the last is in force */
    size_t plan_count;
    bool no_memory;
    uint64_t unreadable;
    struct entry entry;
};

static struct plan *
in_force(const struct doubting *d)
{
    return d->plan_count == 0 ? NULL : d->plans[d->plan_count - 1];
}

/* ---- the list ---- */

static void
list(struct doubting *d, const struct running *batch, int64_t from_ms, int64_t to_ms)
{
    struct doubt *ret = d->ret;

    if (ret->after_ms != TIME_NONE && to_ms != TIME_NONE && to_ms <= ret->after_ms)
        return; /* it was over when the thermometer was last found right */
    for (size_t i = 0; i < ret->batch_count; i++)
        if (ret->batches[i].number == batch->number) {
            ret->batches[i].to_ms = to_ms;
            return;
        }
    if (ret->batch_count == d->batch_room) {
        size_t room = d->batch_room == 0 ? 16 : d->batch_room * 2;
        struct doubt_batch *grown = realloc(ret->batches, room * sizeof(*grown));
        if (!grown) {
            d->no_memory = true;
            return;
        }
        ret->batches = grown;
        d->batch_room = room;
    }
    size_t at = ret->batch_count++;
    for (; at > 0 && ret->batches[at - 1].number > batch->number; at--)
        ret->batches[at] = ret->batches[at - 1];
    ret->batches[at] =
        (struct doubt_batch){.number = batch->number, .from_ms = from_ms, .to_ms = to_ms};
    text_copy(ret->batches[at].product, sizeof(ret->batches[at].product), batch->product);
}

/* A probe rests on itself, and a thermocouple on the probe at its terminals as well (E250). */
static bool
rests_on(const struct plan *plan, int index, const char *probe)
{
    if (index < 0 || !probe[0])
        return false;
    const struct plan_probe *of = &plan->probes[index];
    return strcmp(of->id, probe) == 0 || (of->sensor && of->cold_probe >= 0 &&
                                          strcmp(plan->probes[of->cold_probe].id, probe) == 0);
}

static bool
watches(const struct plan *plan, const char *place, const char *probe)
{
    int index = plan && place[0] ? plan_place_index(plan, place) : -1;
    return index >= 0 && rests_on(plan, plan->places[index].probe, probe);
}

/* Whether it depends on the probe from now on; what ends is listed. */
static void
look_at(struct doubting *d, struct running *batch, int64_t at_ms, bool over)
{
    bool depends = !over && (batch->has_probe || watches(in_force(d), batch->place, d->probe));

    if (depends && !batch->depends)
        batch->since_ms = at_ms;
    if (!depends && batch->depends)
        list(d, batch, batch->since_ms, at_ms);
    batch->depends = depends;
}

/* ---- batches ---- */

static struct running *
running_find(struct doubting *d, uint32_t number)
{
    for (size_t i = 0; i < d->running_count; i++)
        if (d->running[i].number == number)
            return &d->running[i];
    return NULL;
}

static bool
names_probe(const struct doubting *d)
{
    const struct plan *plan = in_force(d);
    for (size_t i = 0; i < d->entry.probe_count; i++)
        if (strcmp(d->entry.probes[i], d->probe) == 0 ||
            (plan && rests_on(plan, plan_probe_index(plan, d->entry.probes[i]), d->probe)))
            return true;
    return false;
}

/* As the engine sets it: what is named, else the step's usual place, else where it is. */
static void
set_place(struct doubting *d, struct running *batch)
{
    const struct plan_product *product =
        batch->plan ? plan_product(batch->plan, batch->product) : NULL;
    int usual = product && batch->step >= 0 && batch->step < product->step_count
                    ? product->steps[batch->step].place
                    : -1;

    if (d->entry.place[0])
        text_copy(batch->place, sizeof(batch->place), d->entry.place);
    else if (usual >= 0)
        text_copy(batch->place, sizeof(batch->place), batch->plan->places[usual].id);
}

static void
set_step(struct doubting *d, struct running *batch, int usual)
{
    const struct plan_product *product =
        batch->plan ? plan_product(batch->plan, batch->product) : NULL;

    batch->step = product && d->entry.step[0] ? plan_step_index(product, d->entry.step) : usual;
}

static void
take_begin(struct doubting *d, int64_t at_ms)
{
    struct running *grown = d->running;

    if (d->running_count == d->running_room) {
        d->running_room = d->running_room == 0 ? 64 : d->running_room * 2;
        grown = realloc(d->running, d->running_room * sizeof(*grown));
    }
    d->no_memory = !grown;
    if (!grown)
        return;
    d->running = grown;
    struct running *batch = &d->running[d->running_count++];
    *batch = (struct running){.number = d->entry.batch, .plan = in_force(d)};
    text_copy(batch->product, sizeof(batch->product), d->entry.product);
    batch->has_probe = names_probe(d);
    set_step(d, batch, 0);
    set_place(d, batch);
    look_at(d, batch, at_ms, false);
}

static void
take_batch(struct doubting *d, enum entry_kind kind, int64_t at_ms)
{
    struct running *batch = running_find(d, d->entry.batch);

    if (kind == ENTRY_BEGIN && !batch) {
        take_begin(d, at_ms);
        return;
    }
    if (!batch)
        return;
    if (kind == ENTRY_MOVE) {
        if (d->entry.probe_count > 0)
            batch->has_probe = names_probe(d);
        set_step(d, batch, batch->step + 1);
        set_place(d, batch);
        look_at(d, batch, at_ms, false);
    } else if (kind == ENTRY_END) {
        look_at(d, batch, at_ms, true);
        *batch = d->running[--d->running_count];
    }
}

/* A hand reading with the thermometer in doubt. */
static void
take_hand(struct doubting *d, int64_t at_ms)
{
    struct doubt *ret = d->ret;
    const struct running *batch = running_find(d, d->entry.batch);

    if (d->probe[0] || strcmp(d->entry.thermometer, d->opened->thermometer) != 0 ||
        (ret->after_ms != TIME_NONE && at_ms <= ret->after_ms))
        return;
    ret->readings++;
    if (ret->first_ms == TIME_NONE)
        ret->first_ms = at_ms;
    ret->last_ms = at_ms;
    if (batch)
        list(d, batch, at_ms, at_ms);
}

/* ---- records ---- */

static bool
take_plan(struct doubting *d, const struct store_record *record)
{
    json_t *data = json_loadb(record->data, record->data_len, JSON_REJECT_DUPLICATES, NULL);
    const char *text = json_string_value(json_object_get(data, "text")), *id;
    struct plan_faults *faults = malloc(sizeof(*faults));
    /* NOLINTNEXTLINE(bugprone-sizeof-expression): it is a list of pointers */
    struct plan **grown = realloc(d->plans, (d->plan_count + 1) * sizeof(*grown));
    json_t *number;

    d->no_memory = !faults || !grown;
    if (grown)
        d->plans = grown;
    if (!d->no_memory)
        d->plans[d->plan_count++] =
            text ? plan_load_record("recorded plan", text, strlen(text), faults) : NULL;
    json_object_foreach(json_object_get(data, "probes"), id, number)
    {
        if (d->opened->probe != 0 && json_integer_value(number) == d->opened->probe &&
            strlen(id) <= PLAN_ID_MAX)
            text_copy(d->probe, sizeof(d->probe), id);
    }
    free(faults);
    json_decref(data);
    for (size_t i = 0; !d->no_memory && i < d->running_count; i++)
        look_at(d, &d->running[i], record->at_ms, false);
    return !d->no_memory;
}

static bool
see_record(void *arg, const struct store_record *record)
{
    struct doubting *d = arg;
    enum entry_kind kind = entry_kind_from_word(record->kind);
    char error[200];

    if (record->at_ms > d->ret->to_ms)
        return false;
    if (strcmp(record->kind, "plan") == 0)
        return take_plan(d, record);
    if (kind != ENTRY_BEGIN && kind != ENTRY_MOVE && kind != ENTRY_END && kind != ENTRY_HAND)
        return true;
    if (!entry_read(kind, record->data, record->data_len, &d->entry, error, sizeof(error))) {
        d->unreadable = record->seq;
        return false;
    }
    if (kind == ENTRY_HAND)
        take_hand(d, record->at_ms);
    else
        take_batch(d, kind, record->at_ms);
    return !d->no_memory;
}

static bool
count_reading(void *arg, const struct reading *reading)
{
    struct doubt *ret = arg;

    if (reading_is_bad(reading->quality))
        return true;
    ret->readings++;
    if (ret->first_ms == TIME_NONE)
        ret->first_ms = reading->at_ms;
    ret->last_ms = reading->at_ms;
    return true;
}

static enum store_status
read_all(struct store_reader *reader, struct doubting *d, struct store_error *reterr)
{
    struct store_head head;
    enum store_status status = store_reader_head(reader, &head, reterr);

    if (status == STORE_OK)
        status = store_each_record(reader, 0, head.seq, NULL, see_record, d, reterr);
    for (size_t i = 0; i < d->running_count; i++)
        if (d->running[i].depends)
            list(d, &d->running[i], d->running[i].since_ms, TIME_NONE);
    if (status == STORE_OK && d->opened->probe != 0)
        status = store_each_reading(reader, d->opened->probe, d->ret->after_ms, d->ret->to_ms,
                                    count_reading, d->ret, reterr);
    if (status == STORE_OK && d->no_memory)
        status = db_error(reterr, STORE_IO, "reading what is in doubt: out of memory");
    if (status == STORE_OK && d->unreadable != 0)
        status =
            db_error(reterr, STORE_CORRUPT,
                     "record %llu in '%s' cannot be read by this version; verify the store, "
                     "or use the version that wrote it",
                     (unsigned long long)d->unreadable, reader->db.path);
    return status;
}

enum store_status
doubt_read(struct store_reader *reader, const struct decision *opened, struct doubt *ret,
           struct store_error *reterr)
{
    struct doubt doubt = {.after_ms = opened->since_ms,
                          .to_ms = opened->at_ms,
                          .first_ms = TIME_NONE,
                          .last_ms = TIME_NONE};
    struct doubting *d = calloc(1, sizeof(*d));
    enum store_status status;

    if (!d)
        return db_error(reterr, STORE_IO, "reading what is in doubt: out of memory");
    d->opened = opened;
    d->ret = &doubt;
    status = read_all(reader, d, reterr);
    for (size_t i = 0; i < d->plan_count; i++)
        plan_free(d->plans[i]);
    free(d->plans);
    free(d->running);
    free(d);
    if (status == STORE_OK)
        *ret = doubt;
    else
        doubt_done(&doubt);
    return status;
}

void
doubt_done(struct doubt *doubt)
{
    free(doubt->batches);
    doubt->batches = NULL;
    doubt->batch_count = 0;
}
