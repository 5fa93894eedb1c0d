/* Earlier batches of one product.  See earlier.h.  Owns the reader it opens. */
#include "daemon/cli/earlier.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include <jansson.h>

#include "daemon/cli/lists.h"
#include "daemon/cli/records.h"
#include "trivet/decision.h"
#include "trivet/typed.h"

#define BATCHES_MAX 20000
#define AFTER_MAX_S 10800
#define CURVE_MAX_S 172800 /* nothing is cooked for longer than two days */

/* The walk through the records. */
struct walk {
    struct earlier *to;
    const char *wanted; /* as typed */
    size_t room;
    struct plan *plan; /* in force where the walk is; NULL before the first */
    struct plan_faults faults;
    int64_t offset_ms;
    struct entry entry;
    bool no_memory;
};

double
earlier_C(struct limit_temp temp)
{
    double degrees = temp.milli / 1000.0;
    return temp.unit == TEMP_F ? (degrees - 32) / 1.8 : degrees;
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
    const char *text = lists_text(data, "text");
    struct plan *plan = plan_load_record("recorded plan", text, strlen(text), &w->faults);
    for (size_t i = 0; plan != NULL && i < plan->probe_count; i++)
        plan->probes[i].number =
            (uint16_t)lists_int(json_object_get(data, "probes"), plan->probes[i].id);
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
take_begin(struct walk *w)
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
                                    .ended_ms = TIME_NONE};
    take_probes(w, batch);
    add_note(batch, w->entry.text);
}

static void
take_entry(struct walk *w, enum entry_kind kind, const struct store_record *record)
{
    char error[200];
    if (!entry_read(kind, record->data, record->data_len, &w->entry, error, sizeof error))
        return; /* of a newer version */
    if (kind == ENTRY_BEGIN) {
        take_begin(w);
        return;
    }
    struct earlier_batch *batch = batch_of(w->to, w->entry.batch);
    if (batch == NULL)
        return;
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

static void
take_step(const struct walk *w, struct earlier_batch *batch, const struct decision *decision)
{
    const struct plan_product *product = plan_product(w->plan, w->to->product);
    int step = product == NULL ? -1 : plan_step_index(product, decision->step);
    if (batch->put_in_ms != TIME_NONE) {
        if (batch->taken_out_ms == TIME_NONE)
            batch->taken_out_ms = decision->at_ms;
        return;
    }
    if (step < 0 || !limit_kind_heats(product->steps[step].limit.kind))
        return;
    int usual = product->steps[step].place;
    batch->put_in_ms = decision->at_ms;
    batch->offset_ms = w->offset_ms;
    batch->limit = product->steps[step].limit.temp;
    batch->air = air_of(w->plan, decision->place);
    if (batch->air == 0 && usual >= 0)
        batch->air = air_of(w->plan, w->plan->places[usual].id);
}

static void
take_decision(const struct walk *w, const struct store_record *record)
{
    struct decision decision;
    if (!decision_read(record->data, record->data_len, &decision))
        return;
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
    }
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
        w->offset_ms = lists_int(data, "offset_ms");
        json_decref(data);
    } else if (kind != ENTRY_NONE) {
        take_entry(w, kind, record);
    } else if (strcmp(record->kind, "decision") == 0) {
        take_decision(w, record);
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

int
earlier_open(const struct cli *cli, const char *product, struct earlier *ret)
{
    char directory[RECORDS_DIRECTORY_MAX], shown[60];
    struct store_error trouble = {.text = ""};
    struct store_head head;
    *ret = (struct earlier){.zone = zone_shared("UTC")};
    int code = records_find_store(cli, directory);
    if (code != CLI_DONE)
        return code;
    struct walk *w = calloc(1, sizeof *w);
    if (w == NULL)
        return cli_fail(cli, CLI_UNREACHABLE, "no memory to read the records");
    w->to = ret;
    w->wanted = product;
    ret->reader = store_reader_open(directory, &trouble);
    bool good =
        ret->reader != NULL && store_reader_head(ret->reader, &head, &trouble) == STORE_OK &&
        store_each_record(ret->reader, 0, head.seq, NULL, see_record, w, &trouble) == STORE_OK;
    if (w->no_memory)
        code = cli_fail(cli, CLI_UNREACHABLE, "no memory for so many batches");
    else if (!good)
        code = cli_fail(cli, CLI_UNREACHABLE, "%s", trouble.text);
    else if (!ret->known)
        code = cli_fail(cli, CLI_USAGE,
                        "the plan in the records has no product '%s'; write its id or name as "
                        "`trivet begin` lists it",
                        typed_shown(shown, sizeof shown, product));
    plan_free(w->plan);
    free(w);
    keep_heated(ret);
    return code;
}

void
earlier_close(struct earlier *earlier)
{
    store_reader_close(earlier->reader);
    free(earlier->batch);
    *earlier = (struct earlier){.count = 0};
}

/* ---- curves ---- */

struct bins {
    struct earlier_curve *curve;
    double *into;
    int64_t from_ms;
    bool coldest; /* of several; else the newest */
};

static bool
into_bin(void *arg, const struct reading *reading)
{
    struct bins *b = arg;
    int64_t bin = (reading->at_ms - b->from_ms) / (EARLIER_BIN_S * 1000);
    if (bin < 0 || (size_t)bin >= b->curve->count || !reading_is_good(reading->quality))
        return true;
    double now_C = reading->temp_mC / 1000.0;
    double *at = &b->into[bin];
    if (isnan(*at) || !b->coldest || now_C < *at)
        *at = now_C;
    return true;
}

static int64_t
curve_end_ms(const struct earlier_batch *batch, int64_t head_ms)
{
    int64_t end_ms = batch->ended_ms == TIME_NONE ? head_ms : batch->ended_ms;
    if (batch->taken_out_ms != TIME_NONE && end_ms > batch->taken_out_ms + AFTER_MAX_S * 1000)
        end_ms = batch->taken_out_ms + AFTER_MAX_S * 1000;
    if (end_ms > batch->put_in_ms + INT64_C(1000) * CURVE_MAX_S)
        end_ms = batch->put_in_ms + INT64_C(1000) * CURVE_MAX_S;
    return end_ms < batch->put_in_ms ? batch->put_in_ms : end_ms;
}

static enum store_status
fill(const struct earlier *earlier, const struct earlier_batch *batch, int64_t end_ms,
     struct earlier_curve *curve, struct store_error *trouble)
{
    enum store_status status = STORE_OK;
    struct bins b = {curve, curve->core_C, batch->put_in_ms, true};
    for (size_t i = 0; i < batch->core_count && status == STORE_OK; i++)
        status = store_each_corrected(earlier->reader, batch->cores[i], batch->put_in_ms - 1,
                                      end_ms, into_bin, &b, trouble);
    b.into = curve->air_C;
    b.coldest = false;
    if (status == STORE_OK && batch->air != 0)
        status = store_each_corrected(earlier->reader, batch->air, batch->put_in_ms - 1, end_ms,
                                      into_bin, &b, trouble);
    return status;
}

int
earlier_curve_read(const struct cli *cli, const struct earlier *earlier,
                   const struct earlier_batch *batch, struct earlier_curve *ret)
{
    struct store_error trouble = {.text = ""};
    struct store_head head;
    *ret = (struct earlier_curve){.count = 0};
    if (store_reader_head(earlier->reader, &head, &trouble) != STORE_OK)
        return cli_fail(cli, CLI_UNREACHABLE, "%s", trouble.text);
    int64_t end_ms = curve_end_ms(batch, head.at_ms);
    ret->count = (size_t)((end_ms - batch->put_in_ms) / (EARLIER_BIN_S * 1000)) + 1;
    ret->core_C = malloc(ret->count * sizeof *ret->core_C);
    ret->air_C = malloc(ret->count * sizeof *ret->air_C);
    if (ret->core_C == NULL || ret->air_C == NULL) {
        earlier_curve_free(ret);
        return cli_fail(cli, CLI_UNREACHABLE, "no memory for the readings of batch %u",
                        batch->number);
    }
    for (size_t i = 0; i < ret->count; i++)
        ret->core_C[i] = ret->air_C[i] = NAN;
    ret->out = ret->count;
    if (batch->taken_out_ms != TIME_NONE)
        ret->out = (size_t)((batch->taken_out_ms - batch->put_in_ms) / (EARLIER_BIN_S * 1000));
    if (ret->out > ret->count)
        ret->out = ret->count;
    if (fill(earlier, batch, end_ms, ret, &trouble) == STORE_OK)
        return CLI_DONE;
    earlier_curve_free(ret);
    return cli_fail(cli, CLI_UNREACHABLE, "%s", trouble.text);
}

void
earlier_curve_free(struct earlier_curve *curve)
{
    free(curve->core_C);
    free(curve->air_C);
    *curve = (struct earlier_curve){.count = 0};
}

static int
compare(const void *a, const void *b)
{
    double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

/* What the oven was at, as its air probe told once it was hot: the median of the last air spans
 * of the lesson. */
static double
hot_air_C(const struct lesson *lesson)
{
    double sorted[LESSON_AIRS];
    size_t count = 0;
    for (int k = LESSON_AIRS / 4; k < LESSON_AIRS; k++)
        if (!isnan(lesson->air_C[k]))
            sorted[count++] = lesson->air_C[k];
    if (count == 0)
        return NAN;
    qsort(sorted, count, sizeof *sorted, compare);
    return sorted[count / 2];
}

bool
earlier_lesson(const struct earlier_batch *batch, const struct earlier_curve *curve,
               const struct dish *like, struct lesson_taker *taker, struct lesson *ret_lesson)
{
    struct dish dish = *like;
    /* In the measure that is asked for: mass and thickness of one dish need not agree. */
    bool thick = !isnan(like->thickness_mm);
    dish.mass_g = thick ? (double)NAN : batch->mass_g;
    dish.thickness_mm = thick ? batch->thickness_mm : (double)NAN;
    dish.target_C = earlier_C(batch->limit);
    if ((thick ? batch->thickness_mm : batch->mass_g) == 0 || batch->taken_out_ms == TIME_NONE)
        return false;
    lesson_begin(taker, &dish, 0);
    for (size_t i = 0; i < curve->count; i++) {
        struct forecast_reading reading = {
            (double)(i * EARLIER_BIN_S), curve->core_C[i], curve->air_C[i],
            i == curve->out ? FORECAST_REMOVED : FORECAST_NO_EVENT};
        lesson_feed(taker, &reading);
    }
    if (!lesson_taken(taker, ret_lesson))
        return false;
    double air_C = isnan(ret_lesson->air_until_s) ? NAN : hot_air_C(ret_lesson);
    if (!isnan(air_C))
        ret_lesson->dish.oven_C = air_C;
    ret_lesson->dish.cold_oven = false; /* as measured; without a probe nobody knows */
    return true;
}
