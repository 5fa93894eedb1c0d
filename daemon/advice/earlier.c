/* Earlier batches of one product: the walk through the records. See trivet/earlier.h. */
#include "trivet/earlier.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <jansson.h>

#include "trivet/check_history.h"
#include "trivet/decision.h"

#define BATCHES_MAX 20000
#define CHECKS_MAX  16 /* failed checks that are looked into, the newest */

struct walk {
    struct earlier *to;
    const char *wanted; /* as asked for */
    size_t room;
    struct plan *plan; /* in force where the walk is; NULL before the first */
    struct plan_faults faults;
    int64_t offset_ms;
    struct entry entry;
    struct decision failed[CHECKS_MAX]; /* ring */
    size_t failed_count;
    bool no_memory;
};

double
earlier_C(struct limit_temp temp)
{
    double degrees = temp.milli / 1000.0;
    return temp.unit == TEMP_F ? (degrees - 32) / 1.8 : degrees;
}

static int64_t
int_of(const json_t *object, const char *key)
{
    return json_integer_value(json_object_get(object, key));
}

/* ---- the plan ---- */

static const struct plan_product *
product_of(const struct plan *plan, const char *wanted)
{
    const struct plan_product *found = plan == NULL ? NULL : plan_product(plan, wanted);
    for (size_t i = 0; plan != NULL && found == NULL && i < plan->product_count; i++)
        if (strcmp(plan->products[i].name, wanted) == 0)
            found = &plan->products[i];
    return found;
}

static void
take_product(struct earlier *to, const struct plan *plan, const char *wanted)
{
    const struct plan_product *product = product_of(plan, wanted);
    to->known = product != NULL;
    if (product == NULL)
        return;
    (void)snprintf(to->product, sizeof to->product, "%s", product->id);
    (void)snprintf(to->name, sizeof to->name, "%s", product->name);
    to->limit = to->aim = (struct limit_temp){0, TEMP_C};
    for (int i = product->step_count - 1; i >= 0; i--)
        if (limit_kind_heats(product->steps[i].limit.kind)) {
            to->limit = product->steps[i].limit.temp;
            to->aim = product->steps[i].aim;
        }
}

static void
take_plan(struct walk *w, const struct store_record *record)
{
    json_t *data = json_loadb(record->data, record->data_len, 0, NULL);
    const char *text = json_string_value(json_object_get(data, "text"));
    struct plan *plan =
        text == NULL ? NULL : plan_load_record("recorded plan", text, strlen(text), &w->faults);
    for (size_t i = 0; plan != NULL && i < plan->probe_count; i++)
        plan->probes[i].number =
            (uint16_t)int_of(json_object_get(data, "probes"), plan->probes[i].id);
    json_decref(data);
    if (plan == NULL) /* of a newer version: what came before goes on to be read by */
        return;
    plan_free(w->plan);
    w->plan = plan;
    w->to->demo = plan->demo;
    w->to->zone = zone_shared(plan->time_zone);
    take_product(w->to, plan, w->wanted);
}

/* ---- batches ---- */

static struct earlier_batch *
batch_of(const struct earlier *e, uint32_t number)
{
    for (size_t i = e->count; number != 0 && i > 0; i--)
        if (e->batch[i - 1].number == number)
            return &e->batch[i - 1];
    return NULL;
}

static void
add_note(struct earlier_batch *batch, const char *text)
{
    size_t used = strlen(batch->notes);
    if (text[0] != '\0')
        (void)snprintf(batch->notes + used, sizeof batch->notes - used, "%s%s",
                       used == 0 ? "" : "; ", text);
}

static void
add_entry(struct earlier_batch *batch, uint64_t seq)
{
    if (batch->entry_count < EARLIER_ENTRIES_MAX)
        batch->entries[batch->entry_count++] = seq;
}

static void
take_probes(const struct walk *w, struct earlier_batch *batch)
{
    if (w->entry.probe_count == 0 || batch->put_in_ms != TIME_NONE)
        return;
    batch->core_count = 0;
    for (size_t i = 0; i < w->entry.probe_count; i++) {
        int at = plan_probe_index(w->plan, w->entry.probes[i]);
        if (at >= 0 && w->plan->probes[at].kind == PROBE_FOOD)
            batch->cores[batch->core_count++] = w->plan->probes[at].number;
    }
}

static void
take_begin(struct walk *w, uint64_t seq)
{
    struct earlier *e = w->to;
    if (w->plan == NULL || strcmp(w->entry.product, e->product) != 0 || e->count == BATCHES_MAX)
        return;
    if (e->count == w->room) {
        size_t more = w->room > 0 ? 2 * w->room : 32;
        struct earlier_batch *batches = realloc(e->batch, more * sizeof *batches);
        if (batches == NULL) {
            w->no_memory = true;
            return;
        }
        e->batch = batches;
        w->room = more;
    }
    struct earlier_batch *batch = &e->batch[e->count++];
    *batch = (struct earlier_batch){.number = w->entry.batch,
                                    .mass_g = w->entry.mass_g,
                                    .thickness_mm = w->entry.thickness_mm,
                                    .put_in_ms = TIME_NONE,
                                    .taken_out_ms = TIME_NONE,
                                    .done_ms = TIME_NONE,
                                    .ended_ms = TIME_NONE};
    add_entry(batch, seq);
    take_probes(w, batch);
    add_note(batch, w->entry.text);
}

/* What began or moved a batch and was corrected is no longer sure. */
static void
take_correction(const struct walk *w)
{
    for (size_t i = 0; i < w->to->count; i++)
        for (size_t k = 0; k < w->to->batch[i].entry_count; k++)
            if (w->to->batch[i].entries[k] == w->entry.refers)
                w->to->batch[i].doubted = true;
}

static void
take_entry(struct walk *w, enum entry_kind kind, const struct store_record *record)
{
    char error[200];
    if (!entry_read(kind, record->data, record->data_len, &w->entry, error, sizeof error))
        return; /* of a newer version */
    if (kind == ENTRY_BEGIN) {
        take_begin(w, record->seq);
        return;
    }
    if (kind == ENTRY_CORRECT) {
        take_correction(w);
        return;
    }
    struct earlier_batch *batch = batch_of(w->to, w->entry.batch);
    if (batch == NULL)
        return;
    if (kind == ENTRY_MOVE || kind == ENTRY_COOKED)
        add_entry(batch, record->seq);
    if (kind == ENTRY_MOVE)
        take_probes(w, batch);
    else if (kind == ENTRY_NOTE || kind == ENTRY_END)
        add_note(batch, w->entry.text);
}

static uint16_t
air_of(const struct plan *plan, const char *place)
{
    int at = place[0] == '\0' ? -1 : plan_place_index(plan, place);
    if (at < 0 || plan->places[at].probe < 0)
        return 0;
    const struct plan_probe *probe = &plan->probes[plan->places[at].probe];
    return probe->kind == PROBE_AIR ? probe->number : 0;
}

static bool
counts(const struct walk *w, const struct plan_limit *limit)
{
    return w->to->kind == FORECAST_COOK ? limit_kind_heats(limit->kind)
                                        : limit->kind == LIMIT_COOL;
}

static void
put_in(const struct walk *w, struct earlier_batch *batch, const struct decision *decision,
       const struct plan_step *step)
{
    const struct plan_limit *limit = &step->limit;
    memcpy(batch->step, decision->step, sizeof batch->step);
    batch->put_in_ms = decision->at_ms;
    batch->offset_ms = w->offset_ms;
    batch->limit = limit->temp;
    batch->from = limit->start;
    batch->clock = limit->clock;
    memcpy(batch->stages, limit->stages, sizeof batch->stages);
    batch->stage_count = limit->kind == LIMIT_COOL ? limit->stage_count : 0;
    batch->air = air_of(w->plan, decision->place);
    if (batch->air == 0 && step->place >= 0)
        batch->air = air_of(w->plan, w->plan->places[step->place].id);
}

/* A cooling teaches while it cools, a heating until it has rested. */
static void
take_step(const struct walk *w, struct earlier_batch *batch, const struct decision *decision)
{
    const struct plan_product *product = plan_product(w->plan, w->to->product);
    int step = product == NULL ? -1 : plan_step_index(product, decision->step);
    if (batch->put_in_ms == TIME_NONE) {
        if (step >= 0 && counts(w, &product->steps[step].limit))
            put_in(w, batch, decision, &product->steps[step]);
        return;
    }
    if (batch->done_ms == TIME_NONE &&
        (batch->taken_out_ms != TIME_NONE || w->to->kind == FORECAST_COOLING))
        batch->done_ms = decision->at_ms;
    if (batch->taken_out_ms == TIME_NONE)
        batch->taken_out_ms = decision->at_ms;
}

static void
take_decision(struct walk *w, const struct store_record *record)
{
    struct decision decision;
    if (!decision_read(record->data, record->data_len, &decision))
        return;
    if (decision_opens(&decision) && decision.reason == REASON_FAILED_CHECK)
        w->failed[w->failed_count++ % CHECKS_MAX] = decision;
    struct earlier_batch *batch = batch_of(w->to, decision.batch);
    if (batch == NULL)
        return;
    if (decision.kind == DECISION_STEP_BEGUN)
        take_step(w, batch, &decision);
    batch->deviations += decision_opens(&decision);
    if (decision.kind == DECISION_BATCH_ENDED) {
        batch->ended_ms = decision.at_ms;
        if (batch->put_in_ms != TIME_NONE && batch->taken_out_ms == TIME_NONE)
            batch->taken_out_ms = decision.at_ms;
        if (batch->put_in_ms != TIME_NONE && batch->done_ms == TIME_NONE)
            batch->done_ms = decision.at_ms;
    }
}

/* The newest of a batch counts. */
static void
take_lesson(const struct walk *w, const struct store_record *record)
{
    struct earlier_lesson lesson;
    if (!earlier_lesson_read(record->data, record->data_len, &lesson) ||
        lesson.kind != w->to->kind || strcmp(lesson.product, w->to->product) != 0)
        return;
    struct earlier_batch *batch = batch_of(w->to, lesson.batch);
    if (batch != NULL)
        batch->lesson_seq = record->seq;
}

static bool
see_record(void *arg, const struct store_record *record)
{
    struct walk *w = arg;
    enum entry_kind kind = entry_kind_from_word(record->kind);
    if (strcmp(record->kind, "plan") == 0) {
        take_plan(w, record);
    } else if (strcmp(record->kind, "clock") == 0) {
        json_t *data = json_loadb(record->data, record->data_len, 0, NULL);
        w->offset_ms = int_of(data, "offset_ms");
        json_decref(data);
    } else if (kind != ENTRY_NONE) {
        take_entry(w, kind, record);
    } else if (strcmp(record->kind, "decision") == 0) {
        take_decision(w, record);
    } else if (strcmp(record->kind, "lesson") == 0) {
        take_lesson(w, record);
    }
    return !w->no_memory;
}

/* Those that never went into the heat teach and show nothing. */
static void
keep_heated(struct earlier *e)
{
    size_t kept = 0;
    for (size_t i = 0; i < e->count; i++)
        if (e->batch[i].put_in_ms != TIME_NONE && e->batch[i].core_count > 0)
            e->batch[kept++] = e->batch[i];
    e->count = kept;
}

static void
doubt_batch(struct earlier *e, const struct doubt_batch *doubted)
{
    struct earlier_batch *batch = batch_of(e, doubted->number);
    if (batch == NULL)
        return;
    bool before = doubted->to_ms != TIME_NONE && doubted->to_ms <= batch->put_in_ms;
    bool after = batch->done_ms != TIME_NONE && doubted->from_ms >= batch->done_ms;
    batch->doubted = batch->doubted || (!before && !after);
}

/* What hung on a thermometer that was found wrong later. */
static enum store_status
doubt_all(const struct walk *w, struct store_reader *reader, struct store_error *reterr)
{
    enum store_status status = STORE_OK;
    size_t count = w->failed_count < CHECKS_MAX ? w->failed_count : CHECKS_MAX;
    for (size_t i = 0; i < count && status == STORE_OK && w->to->count > 0; i++) {
        struct doubt doubt;
        status = doubt_read(reader, &w->failed[i], &doubt, reterr);
        if (status != STORE_OK)
            break;
        for (size_t k = 0; k < doubt.batch_count; k++)
            doubt_batch(w->to, &doubt.batches[k]);
        doubt_done(&doubt);
    }
    return status;
}

static enum store_status
walk(struct walk *w, struct store_reader *reader, uint64_t newest, struct store_error *reterr)
{
    struct store_head head;
    enum store_status status = store_reader_head(reader, &head, reterr);
    uint64_t from = newest == 0 || head.seq <= newest ? 0 : head.seq - newest;
    if (status == STORE_OK && from > 0)
        status = store_each_record(reader, 0, from, "plan", see_record, w, reterr);
    if (status == STORE_OK && from > 0)
        status = store_each_record(reader, 0, from, "clock", see_record, w, reterr);
    if (status == STORE_OK)
        status = store_each_record(reader, from, head.seq, NULL, see_record, w, reterr);
    keep_heated(w->to);
    if (status == STORE_OK && !w->no_memory)
        status = doubt_all(w, reader, reterr);
    return status;
}

static enum store_status
no_memory(struct store_error *reterr)
{
    reterr->status = STORE_IO;
    (void)snprintf(reterr->text, sizeof reterr->text,
                   "out of memory while reading earlier batches; free some and try again");
    return STORE_IO;
}

enum store_status
earlier_open(struct store_reader *reader, const char *product, enum forecast_kind kind,
             uint64_t newest, struct earlier *ret, struct store_error *reterr)
{
    *ret = (struct earlier){.zone = zone_shared("UTC"), .kind = kind};
    struct walk *w = calloc(1, sizeof *w);
    if (w == NULL)
        return no_memory(reterr);
    w->to = ret;
    w->wanted = product;
    enum store_status status = walk(w, reader, newest, reterr);
    if (status == STORE_OK && w->no_memory)
        status = no_memory(reterr);
    plan_free(w->plan);
    free(w);
    return status;
}

void
earlier_close(struct earlier *earlier)
{
    free(earlier->batch);
    *earlier = (struct earlier){.count = 0};
}
