/* Readers and verification beside the writer: they see commits only, whole and in order, and
 * never disturb it.
 *
 * Runs under the thread sanitizer too. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#include <pthread.h>
#include <stdatomic.h>
#include <stdio.h>

#include "tests/support/temp_dir.h"
#include "trivet/store.h"
#include "trivet/units.h"

#define PROBES  5
#define SECONDS 1500

static struct temp_dir dir;
static atomic_bool finished;
static atomic_int rounds;

struct outcome {
    bool ok;
    char text[800];
};

static void *
write_all(void *arg)
{
    struct outcome *outcome = arg;
    struct store_error error = {STORE_OK, ""};
    struct store *store = store_open(dir.path, NULL, &error);
    enum store_status status = store ? STORE_OK : error.status;

    for (int64_t s = 1; status == STORE_OK && (s <= SECONDS || atomic_load(&rounds) < 6); s++) {
        for (uint16_t probe = 1; status == STORE_OK && probe <= PROBES; probe++) {
            struct reading reading = {.at_ms = s * 1000, .temp_mC = probe, .probe = probe};
            status = store_reading(store, &reading, &error);
        }
        if (status == STORE_OK && s % 10 == 0)
            status = store_record(store, "note", s * 1000, "{\"text\":\"on\"}", NULL, &error);
        if (status == STORE_OK && s % 20 == 0)
            status = store_seal(store, s * 1000, s * 1000, &error);
        if (status == STORE_OK)
            status = store_commit(store, &error);
    }
    store_close(store);
    outcome->ok = status == STORE_OK;
    (void)snprintf(outcome->text, sizeof(outcome->text), "%s", error.text);
    atomic_store(&finished, true);
    return NULL;
}

struct walk {
    int64_t at_ms;
    uint16_t probe;
    bool in_order;
};

static bool
see_reading(void *arg, const struct reading *reading)
{
    struct walk *walk = arg;

    /* A group is committed whole: after the last probe of a second comes the first of the next.
     */
    walk->in_order = walk->probe == PROBES
                         ? reading->probe == 1 && reading->at_ms == walk->at_ms + 1000
                         : reading->probe == walk->probe + 1 && reading->at_ms == walk->at_ms;
    walk->at_ms = reading->at_ms;
    walk->probe = reading->probe;
    return walk->in_order;
}

static bool
see_record(void *arg, const struct store_record *record)
{
    return record->seq == ++*(uint64_t *)arg;
}

static bool
read_once(struct store_reader *reader, char *text, size_t size)
{
    struct store_error error = {STORE_OK, ""};
    struct walk walk = {.probe = PROBES, .in_order = true};
    struct store_verdict verdict;
    struct store_head head;
    uint64_t seq = 0;
    bool ok;

    ok = store_reader_head(reader, &head, &error) == STORE_OK &&
         store_each_reading(reader, 0, TIME_NONE, head.at_ms, see_reading, &walk, &error) ==
             STORE_OK &&
         store_each_record(reader, 0, head.seq, NULL, see_record, &seq, &error) == STORE_OK;
    if (!ok || !walk.in_order || seq != head.seq) {
        (void)snprintf(text, size, "walk: at %lld, probe %u, record %llu of %llu: %s",
                       (long long)walk.at_ms, walk.probe, (unsigned long long)seq,
                       (unsigned long long)head.seq, error.text);
        return false;
    }
    ok = store_verify(dir.path, &verdict, &error) == STORE_OK && verdict.ok &&
         verdict.records >= head.seq;
    if (!ok)
        (void)snprintf(text, size, "verify: %s%s", error.text, verdict.text);
    return ok;
}

static void *
read_all(void *arg)
{
    struct outcome *outcome = arg;
    struct store_error error = {STORE_OK, ""};
    struct store_reader *reader = store_reader_open(dir.path, &error);

    outcome->ok = reader != NULL;
    (void)snprintf(outcome->text, sizeof(outcome->text), "%s", error.text);
    while (outcome->ok) {
        bool last = atomic_load(&finished);
        outcome->ok = read_once(reader, outcome->text, sizeof(outcome->text));
        atomic_fetch_add(&rounds, 1);
        if (last)
            break;
    }
    atomic_fetch_add(&rounds, 6); /* the writer need not wait for one that failed */
    store_reader_close(reader);
    return NULL;
}

static void
test_readers_beside_the_writer_see_whole_commits(void **state)
{
    struct store_error error = {STORE_OK, ""};
    struct outcome written = {false, ""}, read[2] = {{false, ""}, {false, ""}};
    pthread_t writer, readers[2];

    (void)state;
    temp_dir_make(&dir);
    store_close(store_open(dir.path, NULL, &error)); /* the tables are there for the readers */
    assert_int_equal(pthread_create(&writer, NULL, write_all, &written), 0);
    for (int i = 0; i < 2; i++)
        assert_int_equal(pthread_create(&readers[i], NULL, read_all, &read[i]), 0);
    assert_int_equal(pthread_join(writer, NULL), 0);
    for (int i = 0; i < 2; i++)
        assert_int_equal(pthread_join(readers[i], NULL), 0);
    if (!written.ok)
        fail_msg("writer: %s", written.text);
    for (int i = 0; i < 2; i++)
        if (!read[i].ok)
            fail_msg("reader: %s", read[i].text);
    temp_dir_remove(&dir);
}

int
main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_readers_beside_the_writer_see_whole_commits),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
