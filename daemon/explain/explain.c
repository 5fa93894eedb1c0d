/* Gathers what belongs to one decision from the records: the plan it was judged under, the
 * readings around it, who was told, what people entered about it since.
 *
 * Reads through the reader it is given, by kind of record; memory is bounded by one plan. */
#include <stdlib.h>
#include <string.h>

#include <jansson.h>

#include "daemon/explain/doors.h"
#include "daemon/explain/foretold.h"
#include "trivet/explain.h"
#include "trivet/units.h"

/* Readings shown before and after an instant, and how long, in polling periods of the probe,
 * they are looked for. */
#define BEFORE      6
#define AFTER       3
#define LOOK_BEHIND 40
#define LOOK_AHEAD  12
#define MINUTE_MS   INT64_C(60000)

bool
explain_id_read(const char *text, struct explain_id *ret)
{
    enum explain_of of = text[0] == 'd' || text[0] == 'D'   ? EXPLAIN_DEVIATION
                         : text[0] == 'b' || text[0] == 'B' ? EXPLAIN_BATCH
                                                            : EXPLAIN_RECORD;
    const char *digits = of == EXPLAIN_RECORD ? text : text + 1;
    size_t len = strlen(digits);
    if (len == 0 || len > 15 || strspn(digits, "0123456789") != len)
        return false;
    uint64_t number = strtoull(digits, NULL, 10);
    if (number == 0 || (of != EXPLAIN_RECORD && number > UINT32_MAX))
        return false;
    *ret = (struct explain_id){of, number};
    return true;
}

/* ---- one gathering in hand ---- */

struct gathering {
    struct store_reader *reader;
    struct store_error *error;
    struct explanation *to;
    uint64_t until_seq; /* plans after it are not yet in force for this decision */
    bool seen, no_memory;
    size_t older; /* readings of the window that may still be pushed out by later ones */
    size_t keep;  /* how many of them stay */
    char *plan_text;
    json_t *probes;
};

static enum store_status
each(struct gathering *g, uint64_t from_seq, uint64_t to_seq, const char *kind,
     store_record_visitor *visit)
{
    enum store_status status =
        store_each_record(g->reader, from_seq, to_seq, kind, visit, g, g->error);
    if (status == STORE_OK && g->no_memory) {
        status = g->error->status = STORE_IO;
        (void)snprintf(g->error->text, sizeof g->error->text, "out of memory while explaining");
    }
    return status;
}

static int64_t
integer(const json_t *data, const char *key)
{
    return json_integer_value(json_object_get(data, key));
}

static json_t *
data_of(const struct store_record *record)
{
    return json_loadb(record->data, record->data_len, JSON_REJECT_DUPLICATES, NULL);
}

/* ---- the record itself ---- */

static bool
take_record(void *arg, const struct store_record *record)
{
    struct gathering *g = arg;
    struct explanation *to = g->to;
    g->seen = true;
    to->seq = record->seq;
    to->at_ms = record->at_ms;
    (void)snprintf(to->kind, sizeof to->kind, "%s", record->kind);
    if (strcmp(record->kind, "decision") == 0 &&
        !decision_read(record->data, record->data_len, &to->decision))
        (void)snprintf(to->kind, sizeof to->kind, "decision of a newer version");
    (void)foretold_read(record, &to->forecast);
    if (entry_kind_from_word(record->kind) != ENTRY_NONE) {
        json_t *data = data_of(record);
        const char *who = json_string_value(json_object_get(data, "who"));
        const char *probe = json_string_value(json_object_get(data, "probe"));
        (void)snprintf(to->who, sizeof to->who, "%s", who == NULL ? "" : who);
        if (who == NULL && probe != NULL)
            (void)snprintf(to->by_probe, sizeof to->by_probe, "%.*s", PLAN_ID_MAX, probe);
        json_decref(data);
    }
    return false;
}

static bool
is_decision(const struct explanation *explanation)
{
    return strcmp(explanation->kind, "decision") == 0;
}

/* ---- its plan, product and clock ---- */

static bool
take_begin(void *arg, const struct store_record *record)
{
    struct gathering *g = arg;
    json_t *data = data_of(record);
    bool found = integer(data, "batch") == (json_int_t)g->to->decision.batch;
    const char *product = json_string_value(json_object_get(data, "product"));
    if (found && product != NULL) {
        (void)snprintf(g->to->product, sizeof g->to->product, "%.*s", PLAN_ID_MAX, product);
        g->until_seq = record->seq; /* E80: the plan under which it began */
    }
    json_decref(data);
    return !found;
}

static bool
take_plan(void *arg, const struct store_record *record)
{
    struct gathering *g = arg;
    json_t *data = data_of(record);
    const char *text = json_string_value(json_object_get(data, "text"));
    if (text != NULL) {
        free(g->plan_text);
        g->plan_text = strdup(text);
        g->no_memory = g->plan_text == NULL;
        json_decref(g->probes);
        g->probes = json_incref(json_object_get(data, "probes"));
        g->to->plan_seq = record->seq;
    }
    json_decref(data);
    return !g->no_memory;
}

static bool
take_clock(void *arg, const struct store_record *record)
{
    struct gathering *g = arg;
    json_t *data = data_of(record);
    g->to->offset_ms = integer(data, "offset_ms");
    json_decref(data);
    return true;
}

/* A plan that this version cannot read is none: the words then rest on the decision alone. */
static void
load_plan(struct gathering *g)
{
    struct plan_faults *faults = g->plan_text == NULL ? NULL : malloc(sizeof *faults);
    if (faults == NULL)
        return;
    struct plan *plan =
        plan_load_record("recorded plan", g->plan_text, strlen(g->plan_text), faults);
    for (size_t i = 0; plan != NULL && i < plan->probe_count; i++)
        plan->probes[i].number = (uint16_t)integer(g->probes, plan->probes[i].id);
    g->to->plan = plan;
    const struct plan_hook *hook = plan == NULL ? NULL : &plan->hook;
    uint8_t level = g->to->decision.level;
    if (plan != NULL && level > 0 && level <= plan->escalation_count &&
        plan->escalation[level - 1].hook.args[0] != NULL)
        hook = &plan->escalation[level - 1].hook;
    g->to->hook = hook != NULL && hook->args[0] != NULL;
    free(faults);
}

static enum store_status
gather_plan(struct gathering *g)
{
    const struct explanation *to = g->to;
    enum store_status status = STORE_OK;
    g->until_seq = to->seq;
    if (to->decision.batch != 0)
        status = each(g, 0, to->seq, "begin", take_begin);
    if (status == STORE_OK)
        status = each(g, 0, g->until_seq, "plan", take_plan);
    if (status == STORE_OK)
        status = each(g, 0, to->seq, "clock", take_clock);
    if (status == STORE_OK)
        load_plan(g);
    return status;
}

/* ---- readings ---- */

static bool
take_reading(void *arg, const struct reading *reading)
{
    struct gathering *g = arg;
    struct explanation *to = g->to;
    if (g->older == g->keep && g->older > 0) {
        size_t first = to->reading_count - g->older;
        memmove(&to->readings[first], &to->readings[first + 1],
                (g->older - 1) * sizeof to->readings[0]);
        to->reading_count--;
        g->older--;
    }
    if (to->reading_count == EXPLAIN_READINGS_MAX)
        return false;
    to->readings[to->reading_count++] = *reading;
    g->older++;
    return true;
}

static bool
take_next(void *arg, const struct reading *reading)
{
    struct gathering *g = arg;
    struct explanation *to = g->to;
    if (g->keep-- == 0 || to->reading_count == EXPLAIN_READINGS_MAX)
        return false;
    to->readings[to->reading_count++] = *reading;
    return true;
}

/* The readings at and around an instant that come after those listed already. */
static enum store_status
gather_around(struct gathering *g, uint16_t probe, int64_t at_ms, int64_t period_ms,
              size_t before)
{
    const struct explanation *to = g->to;
    int64_t listed_ms =
        to->reading_count == 0 ? TIME_NONE : to->readings[to->reading_count - 1].at_ms;
    int64_t from_ms = at_ms - LOOK_BEHIND * period_ms;
    g->older = 0;
    g->keep = before;
    enum store_status status =
        store_each_corrected(g->reader, probe, from_ms > listed_ms ? from_ms : listed_ms, at_ms,
                             take_reading, g, g->error);
    listed_ms = to->reading_count == 0 ? TIME_NONE : to->readings[to->reading_count - 1].at_ms;
    g->keep = AFTER;
    for (size_t i = 0; i < to->reading_count; i++)
        if (to->readings[i].at_ms > at_ms && g->keep > 0)
            g->keep--; /* listed around the instant before */
    if (status == STORE_OK)
        status = store_each_corrected(g->reader, probe, at_ms > listed_ms ? at_ms : listed_ms,
                                      at_ms + LOOK_AHEAD * period_ms, take_next, g, g->error);
    return status;
}

/* The probe a decision rests on: its own, or that of its place. 0 = none. */
static uint16_t
probe_of(const struct explanation *to)
{
    const struct plan *plan = to->plan;
    if (to->decision.probe != 0 || plan == NULL || to->decision.batch != 0)
        return to->decision.probe;
    int place = plan_place_index(plan, to->decision.place);
    int probe = place < 0 ? -1 : plan->places[place].probe;
    return probe < 0 ? 0 : plan->probes[probe].number;
}

static enum store_status
gather_readings(struct gathering *g)
{
    const struct decision *decision = &g->to->decision;
    uint16_t probe = probe_of(g->to);
    int index = g->to->plan == NULL ? -1 : plan_probe_by_number(g->to->plan, probe);
    int64_t period_ms = index < 0 ? MINUTE_MS : g->to->plan->probes[index].every_ms;
    enum store_status status = STORE_OK;
    if (probe == 0)
        return STORE_OK;
    if (decision->since_ms != TIME_NONE && decision->since_ms < decision->at_ms)
        status = gather_around(g, probe, decision->since_ms, period_ms, AFTER);
    if (status == STORE_OK && decision->last_ms != 0 && decision->last_ms < decision->at_ms)
        status = gather_around(g, probe, decision->last_ms, period_ms, AFTER);
    if (status == STORE_OK)
        status = gather_around(g, probe, decision->at_ms, period_ms, BEFORE);
    return status;
}

/* ---- what came of it ---- */

static bool
take_told(void *arg, const struct store_record *record)
{
    struct gathering *g = arg;
    struct explanation *to = g->to;
    json_t *data = data_of(record);
    if ((uint64_t)integer(data, "refers") == to->seq && to->told_count < EXPLAIN_TOLD_MAX) {
        struct explain_told *told = &to->told[to->told_count++];
        const char *how = json_string_value(json_object_get(data, "how"));
        told->seq = record->seq;
        told->at_ms = record->at_ms;
        told->done = json_is_true(json_object_get(data, "done"));
        (void)snprintf(told->how, sizeof told->how, "%s", how == NULL ? "" : how);
    }
    json_decref(data);
    return true;
}

static void
take_said(struct explain_entry *entry, const struct store_record *record, bool of_batch)
{
    struct entry read;
    char error[200];
    entry->said[0] = '\0';
    if (entry_read(entry->kind, record->data, record->data_len, &read, error, sizeof error))
        explain_said(&read, of_batch, entry->said);
}

static bool
take_entry(void *arg, const struct store_record *record)
{
    struct gathering *g = arg;
    struct explanation *to = g->to;
    json_t *data = data_of(record);
    const char *who = json_string_value(json_object_get(data, "who"));
    json_int_t deviation = integer(data, "deviation");
    enum entry_kind kind = entry_kind_from_word(record->kind);
    bool of_alarm = kind == ENTRY_HEARD || kind == ENTRY_SHELVE; /* said of all of it at once */
    if ((deviation == (json_int_t)to->decision.deviation ||
         (of_alarm && deviation != 0 && deviation == (json_int_t)to->decision.alarm)) &&
        to->entry_count < EXPLAIN_ENTRIES_MAX) {
        struct explain_entry *entry = &to->entries[to->entry_count++];
        entry->seq = record->seq;
        entry->at_ms = record->at_ms;
        entry->kind = kind;
        (void)snprintf(entry->who, sizeof entry->who, "%s", who == NULL ? "" : who);
        take_said(entry, record, to->decision.batch != 0);
    }
    json_decref(data);
    return true;
}

/* The decisions that follow an entry at its own instant were taken upon it. */
static bool
take_led(void *arg, const struct store_record *record)
{
    struct gathering *g = arg;
    struct explanation *to = g->to;
    if (record->at_ms != to->at_ms || to->led_count == EXPLAIN_ENTRIES_MAX ||
        entry_kind_from_word(record->kind) != ENTRY_NONE)
        return false;
    if (strcmp(record->kind, "decision") == 0)
        to->led_to[to->led_count++] = record->seq;
    return true;
}

static int
by_seq(const void *a, const void *b)
{
    const struct explain_entry *x = a, *y = b;
    return x->seq < y->seq ? -1 : x->seq > y->seq;
}

static enum store_status
gather_after(struct gathering *g, uint64_t head_seq)
{
    struct explanation *to = g->to;
    enum store_status status = STORE_OK;
    if (to->forecast.batch != 0)
        return each(g, to->seq, head_seq, "told", take_told);
    if (!is_decision(to))
        return to->who[0] == '\0' && to->by_probe[0] == '\0'
                   ? STORE_OK
                   : each(g, to->seq, head_seq, NULL, take_led);
    static const char *const kinds[] = {"heard", "shelve", "action", "verify"};
    if (decision_tells(&to->decision))
        status = each(g, to->seq, head_seq, "told", take_told);
    for (size_t i = 0; i < sizeof kinds / sizeof kinds[0]; i++)
        if (status == STORE_OK && to->decision.deviation != 0)
            status = each(g, 0, head_seq, kinds[i], take_entry);
    qsort(to->entries, to->entry_count, sizeof to->entries[0], by_seq);
    return status;
}

/* ---- the whole ---- */

static enum store_status
gather(struct gathering *g, uint64_t head_seq)
{
    struct explanation *to = g->to;
    enum store_status status = gather_plan(g);
    if (status == STORE_OK && is_decision(to)) {
        to->limit = explain_limit(&to->decision, to->plan, to->product);
        to->rule = explain_rule(&to->decision);
        explain_words(&to->decision, to->plan, to->limit, &to->words);
        status = gather_readings(g);
        if (status == STORE_OK)
            status = explain_doors(g->reader, head_seq, to, g->error);
    }
    return status == STORE_OK ? gather_after(g, head_seq) : status;
}

enum store_status
explain_record(struct store_reader *reader, uint64_t seq, struct explanation **ret,
               struct store_error *reterr)
{
    struct gathering g = {.reader = reader, .error = reterr};
    struct store_head head;
    *ret = NULL;
    g.to = calloc(1, sizeof *g.to);
    if (g.to == NULL) {
        *reterr = (struct store_error){STORE_IO, "out of memory while explaining"};
        return STORE_IO;
    }
    enum store_status status = store_reader_head(reader, &head, reterr);
    if (status == STORE_OK && seq > 0)
        status = each(&g, seq - 1, seq, NULL, take_record);
    if (status == STORE_OK && g.seen)
        status = gather(&g, head.seq);
    free(g.plan_text);
    json_decref(g.probes);
    if (status == STORE_OK && g.seen)
        *ret = g.to;
    else
        explanation_free(g.to);
    return status;
}

void
explanation_free(struct explanation *explanation)
{
    if (explanation == NULL)
        return;
    plan_free(explanation->plan);
    free(explanation);
}

/* ---- the decisions about something ---- */

struct search {
    const struct explain_id *id;
    explain_visitor *visit;
    void *arg;
};

static bool
take_decision(void *arg, const struct store_record *record)
{
    const struct search *search = arg;
    struct decision decision;
    if (!decision_read(record->data, record->data_len, &decision))
        return true;
    uint32_t number = search->id->of == EXPLAIN_BATCH ? decision.batch : decision.deviation;
    if (search->id->of != EXPLAIN_RECORD && number != search->id->number)
        return true;
    return search->visit(search->arg, record->seq, &decision);
}

enum store_status
explain_each(struct store_reader *reader, const struct explain_id *id, explain_visitor *visit,
             void *arg, struct store_error *reterr)
{
    struct search search = {id, visit, arg};
    struct store_head head;
    bool one = id->of == EXPLAIN_RECORD;
    enum store_status status = store_reader_head(reader, &head, reterr);
    if (status == STORE_OK)
        status =
            store_each_record(reader, one ? id->number - 1 : 0, one ? id->number : head.seq,
                              "decision", take_decision, &search, reterr);
    return status;
}
