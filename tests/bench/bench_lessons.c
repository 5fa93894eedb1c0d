/* What the look back for lessons costs when a batch begins, or the daemon starts with one in
 * the oven: the newest 300 000 records walked for the earlier batches of a product, by
 * processor time, for other threads go on meanwhile.
 *
 *   bench_lessons [records] [repeats]
 *
 * The records are those of a busy kitchen: nearly all are seals of a minute, one in twenty is a
 * note, and some two a day are batches of the product with their steps. */
#include "tests/bench/bench.h"
#include "trivet/earlier.h"
#include "trivet/json_out.h"
#include "trivet/store.h"

#define MINUTE_MS   INT64_C(60000)
#define NOTE_EVERY  20
#define BATCH_EVERY 700 /* two a day, when a record is a minute */

static const char plan_text[] =
    "site: {name: Bench}\n"
    "people:\n"
    "  - {initials: AB, name: Ana Brandt, role: supervisor}\n"
    "sole_operator: The adviser verifies.\n"
    "buses:\n"
    "  - {id: line, driver: modbus-tcp, host: 127.0.0.1}\n"
    "probes:\n"
    "  - {id: roast-core, name: Core, kind: food, bus: line, unit: 1, function: 4, register: "
    "1,\n"
    "     type: int16, plausible: [-40 °C, 160 °C]}\n"
    "places:\n"
    "  - {id: oven, name: Oven, limit: {kind: none}}\n"
    "products:\n"
    "  - id: roast\n"
    "    name: Roast\n"
    "    steps:\n"
    "      - {id: cook, name: Cooking, limit: {kind: cook, applies_to: food, at_least: 63 °C, "
    "for: 15 s}}\n"
    "      - {id: rest, name: Resting, limit: {kind: none}}\n";

static char directory[64];

struct writing {
    struct store *store;
    int64_t at_ms;
    int64_t records;
    uint32_t batches;
};

static void
must(enum store_status status, const struct store_error *error)
{
    if (status != STORE_OK)
        bench_give_up("%s", error->text);
}

static double
worked_s(void)
{
    struct timespec now;
    (void)clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &now);
    return (double)now.tv_sec + (double)now.tv_nsec / 1e9;
}

__attribute__((format(printf, 3, 4))) static void
put(struct writing *to, const char *kind, const char *format, ...)
{
    struct store_error error;
    char data[400];
    va_list args;
    va_start(args, format);
    (void)vsnprintf(data, sizeof data, format, args);
    va_end(args);
    must(store_record(to->store, kind, to->at_ms, data, NULL, &error), &error);
    to->records++;
}

static void
put_plan(struct writing *to)
{
    struct store_error error;
    struct json_out out;
    char data[4096];
    out_start(&out, data, sizeof data, true);
    out_object(&out, NULL);
    out_text(&out, "digest", "");
    out_text(&out, "file", "plan.yaml");
    out_object(&out, "probes");
    out_int(&out, "roast-core", 1);
    out_object_end(&out);
    out_text(&out, "text", plan_text);
    out_object_end(&out);
    if (!out_done(&out))
        bench_give_up("the plan's record does not fit");
    must(store_record(to->store, "plan", to->at_ms, data, NULL, &error), &error);
    to->records++;
}

static void
put_batch(struct writing *to)
{
    uint32_t number = ++to->batches;
    put(to, "begin",
        "{\"batch\":%u,\"mass_g\":2400,\"place\":\"oven\",\"probes\":[\"roast-core\"],"
        "\"product\":\"roast\",\"who\":\"AB\"}",
        number);
    for (int step = 0; step < 2; step++)
        put(to, "decision",
            "{\"at_ms\":%" PRId64 ",\"batch\":%u,\"decision\":\"step-begun\",\"reason\":"
            "\"entered\",\"step\":\"%s\"}",
            to->at_ms, number, step == 0 ? "cook" : "rest");
    put(to, "decision",
        "{\"at_ms\":%" PRId64 ",\"batch\":%u,\"decision\":\"batch-ended\",\"reason\":"
        "\"entered\"}",
        to->at_ms, number);
}

/* A minute: a reading under its seal, or a note. */
static void
put_minute(struct writing *to)
{
    struct store_error error;
    struct reading reading = {.at_ms = to->at_ms, .temp_mC = 20000, .probe = 1};
    if (to->records % NOTE_EVERY == NOTE_EVERY - 1) {
        put(to, "note",
            "{\"text\":\"Walk-in cleaned, shelves out for ten minutes.\","
            "\"who\":\"AB\"}");
        return;
    }
    must(store_reading(to->store, &reading, &error), &error);
    must(store_seal(to->store, to->at_ms, to->at_ms, &error), &error);
    to->records++;
}

static uint32_t
write_store(int64_t records)
{
    struct store_error error;
    struct writing to = {.store = store_open(directory, NULL, &error), .at_ms = BENCH_BEGIN_MS};
    if (to.store == NULL)
        bench_give_up("%s", error.text);
    put_plan(&to);
    for (int64_t minute = 1; to.records < records; minute++) {
        to.at_ms += MINUTE_MS;
        if (minute % BATCH_EVERY == 0)
            put_batch(&to);
        else
            put_minute(&to);
        if (minute % 1000 == 0)
            must(store_commit(to.store, &error), &error);
    }
    must(store_commit(to.store, &error), &error);
    store_close(to.store);
    return to.batches;
}

static double
walk_s(int64_t records, uint32_t batches)
{
    struct store_error error;
    struct earlier earlier;
    struct store_reader *reader = store_reader_open(directory, &error);
    if (reader == NULL)
        bench_give_up("%s", error.text);
    double began_s = worked_s();
    must(earlier_open(reader, "roast", FORECAST_COOK, (uint64_t)records, &earlier, &error),
         &error);
    double took_s = worked_s() - began_s;
    if (earlier.count != batches)
        bench_give_up("%zu batches found of %" PRIu32, earlier.count, batches);
    earlier_close(&earlier);
    store_reader_close(reader);
    return took_s;
}

int
main(int argc, char **argv)
{
    const int64_t records = bench_argument(argc, argv, 1, 300000);
    const int repeats = (int)bench_argument(argc, argv, 2, 5);
    double took_s[BENCH_REPEATS_MAX];
    char what[100];

    if (repeats > BENCH_REPEATS_MAX)
        bench_give_up("usage: bench_lessons [records] [repeats up to 15]");
    bench_directory(directory, sizeof directory);
    const uint32_t batches = write_store(records);
    for (int i = 0; i < repeats; i++)
        took_s[i] = walk_s(records, batches);
    (void)snprintf(what, sizeof what, "lessons, %" PRId64 " records looked through", records);
    bench_row(what, took_s, repeats, "s of a core", BENCH_MOST, 1);
    bench_remove(directory);
    return 0;
}
