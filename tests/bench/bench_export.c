/* Rows a second of the CSV export of readings, against the sqlite3 command exporting the same
 * rows with the same cells in the same run; and how much memory the export takes.
 *
 *   bench_export [readings] [repeats]
 *
 * The command reads in key order, without the sort by time that the export gives: the
 * comparison is in its favour. */
#include "tests/bench/bench.h"
#include "trivet/export.h"
#include "trivet/store.h"
#include "trivet/units.h"

#define PROBES 16

static char directory[64];

/* Not getrusage: it begins with what the process had before it became this program. */
static long
peak_kB(void)
{
    char line[200];
    long kB = -1;
    FILE *status = fopen("/proc/self/status", "r");

    while (status && fgets(line, sizeof(line), status))
        if (sscanf(line, "VmHWM: %ld kB", &kB) == 1)
            break;
    if (!status || kB < 0)
        bench_give_up("/proc/self/status does not tell the memory in use");
    (void)fclose(status);
    return kB;
}

static void
must(enum store_status status, const struct store_error *error)
{
    if (status != STORE_OK)
        bench_give_up("%s", error->text);
}

static void
write_store(int64_t seconds)
{
    struct store_error error = {STORE_OK, ""};
    struct store *store = store_open(directory, NULL, &error);

    if (!store)
        bench_give_up("%s", error.text);
    /* With a zone, so that each row has its local time as well. */
    must(
        store_record(
            store, "plan", BENCH_BEGIN_MS,
            "{\"digest\":\"\",\"file\":\"plan.yaml\",\"probes\":{\"roast-core\":1},\"text\":"
            "\"site: {name: Bench, time_zone: Europe/London}\\npeople:\\n  - {initials: AB, "
            "name: "
            "Ana Brandt, role: supervisor}\\nsole_operator: The adviser verifies.\\nbuses:\\n  "
            "- "
            "{id: line, driver: modbus-tcp, host: 127.0.0.1}\\nprobes:\\n  - {id: roast-core, "
            "name: Core, kind: food, bus: line, unit: 1, function: 4, register: 1, type: "
            "int16, "
            "plausible: [-40 °C, 160 °C]}\\nplaces:\\n  - {id: oven, name: Oven, limit: {kind: "
            "none}}\\nproducts:\\n  - {id: roast, name: Roast, steps: [{id: cook, name: Cook, "
            "limit: {kind: none}}]}\\n\"}",
            NULL, &error),
        &error);
    for (int64_t second = 0; second < seconds; second++) {
        for (uint16_t probe = 1; probe <= PROBES; probe++) {
            struct reading reading = {.at_ms = BENCH_BEGIN_MS + second * 1000,
                                      .temp_mC =
                                          (int32_t)(4000 + (second * 37 + probe * 101) % 3000),
                                      .probe = probe};
            must(store_reading(store, &reading, &error), &error);
        }
        if (second % 600 == 599)
            must(store_commit(store, &error), &error);
    }
    must(store_commit(store, &error), &error);
    store_close(store);
}

static bool
to_nowhere(void *arg, const char *bytes, size_t len)
{
    return fwrite(bytes, 1, len, arg) == len;
}

static double
export_seconds(void)
{
    struct store_error error = {STORE_OK, ""};
    struct store_reader *reader = store_reader_open(directory, &error);
    FILE *nowhere = fopen("/dev/null", "w");
    double began = bench_now_s();

    if (!reader || !nowhere)
        bench_give_up("%s", error.text);
    must(
        export_csv(reader, EXPORT_READINGS, TIME_NONE, TIME_NEVER, to_nowhere, nowhere, &error),
        &error);
    began = bench_now_s() - began;
    (void)fclose(nowhere);
    store_reader_close(reader);
    return began;
}

static double
command_seconds(void)
{
    char command[700];
    double began = bench_now_s();

    (void)snprintf(
        command, sizeof(command),
        "sqlite3 -readonly -csv '%s/trivet.db' \"SELECT strftime('%%Y-%%m-%%dT%%H:%%M:%%fZ', "
        "at_ms / "
        "1000.0, 'unixepoch'), iif(probe = 1, 'roast-core', '#' || probe), printf('%%.3f', "
        "temp_mC / "
        "1000.0), iif(quality = 0, 'good', 'bad'), 'no', at_ms FROM reading\" > /dev/null",
        directory);
    if (system(command) != 0) /* a fixed text: nothing of it comes from outside */
        bench_give_up("the sqlite3 command failed; is it installed?");
    return bench_now_s() - began;
}

int
main(int argc, char **argv)
{
    const int64_t seconds = bench_argument(argc, argv, 1, 1000000) / PROBES;
    const int repeats = (int)bench_argument(argc, argv, 2, 5);
    double ratio[BENCH_REPEATS_MAX], rate[BENCH_REPEATS_MAX], memory_MiB;

    if (seconds < 1 || repeats > BENCH_REPEATS_MAX)
        bench_give_up("usage: bench_export [readings] [repeats up to 15]");
    bench_directory(directory, sizeof(directory));
    write_store(seconds);
    for (int i = 0; i < repeats; i++) {
        const double command = command_seconds(), own = export_seconds();
        ratio[i] = command / own;
        rate[i] = (double)(seconds * PROBES) / own / 1e3;
    }
    memory_MiB = (double)peak_kB() / 1024.0;
    bench_row("CSV export, against the sqlite3 command", ratio, repeats, "x", BENCH_LEAST, 1.5);
    bench_row("CSV export", rate, repeats, "thousand rows/s", BENCH_NO_AIM, 0);
    bench_row("CSV export, most memory of the process", &memory_MiB, 1, "MiB", BENCH_NO_AIM, 0);
    bench_remove(directory);
    return 0;
}
