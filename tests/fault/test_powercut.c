/* Power cuts: whatever was acknowledged is there afterwards, and the chain holds.
 *
 * Each round writes readings, records and seals with a commit after each group, on a disk that
 * loses unsynced writes at a random operation; then opens the store again, verifies it, and
 * looks for every acknowledged row. The same campaign without syncs must lose something, or it
 * could not have found anything. TRIVET_ROUNDS sets the number of rounds, TRIVET_SEED the first
 * seed. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "tests/support/powercut_vfs.h"
#include "tests/support/temp_dir.h"
#include "trivet/store.h"
#include "trivet/units.h"

#define ROUNDS_SHORT 150
#define PROBES       3

struct round {
    uint64_t seed;
    uint64_t acknowledged_seq; /* records up to it are committed */
    int64_t acknowledged_ms;   /* readings up to it are committed, PROBES each second */
    uint64_t found_seq;
    int64_t found_ms;
    uint64_t found_readings;
    size_t lost_bytes;
    bool struck, kept;
    char text[300];
};

static uint64_t
from_environment(const char *name, uint64_t otherwise)
{
    const char *text = getenv(name);

    return text && atoll(text) > 0 ? (uint64_t)atoll(text) : otherwise;
}

static int32_t
temp_of(int64_t at_ms, uint16_t probe)
{
    return (int32_t)(at_ms % 90000) + probe;
}

/* One group: a second of readings, every third second a record, every fifth a seal; committed.
 */
static enum store_status
write_group(struct store *store, int64_t at_ms, struct store_error *error)
{
    enum store_status status = STORE_OK;

    for (uint16_t probe = 1; status == STORE_OK && probe <= PROBES; probe++) {
        struct reading reading = {
            .at_ms = at_ms, .temp_mC = temp_of(at_ms, probe), .probe = probe};
        status = store_reading(store, &reading, error);
    }
    if (status == STORE_OK && at_ms % 3000 == 0) {
        char data[3000];
        /* Now and then one of more than a page. */
        (void)snprintf(data, sizeof(data), "{\"text\":\"%0*d\"}", at_ms % 9000 == 0 ? 2900 : 30,
                       0);
        status = store_record(store, "note", at_ms, data, NULL, error);
    }
    if (status == STORE_OK && at_ms % 5000 == 0)
        status = store_seal(store, at_ms, at_ms, error);
    return status == STORE_OK ? store_commit(store, error) : status;
}

/* Writes until the power goes, or for `groups` groups. Runs on where the store ends. */
static void
write_until_cut(const struct temp_dir *dir, bool synchronous_off, int groups,
                struct round *round)
{
    const struct store_options options = {.vfs = POWERCUT_VFS,
                                          .synchronous_off = synchronous_off};
    struct store_error error = {STORE_OK, ""};
    struct store *store = store_open(dir->path, &options, &error);
    int64_t at_ms;

    if (!store)
        return;
    at_ms = store_head(store)->at_ms == TIME_NONE ? 0 : store_head(store)->at_ms;
    at_ms = at_ms - at_ms % 1000;
    for (int i = 0; i < groups; i++) {
        at_ms += 1000;
        if (write_group(store, at_ms, &error) != STORE_OK)
            break;
        round->acknowledged_ms = at_ms;
        round->acknowledged_seq = store_head(store)->seq;
    }
    store_close(store);
}

static bool
see_reading(void *arg, const struct reading *reading)
{
    struct round *round = arg;

    if (reading->temp_mC != temp_of(reading->at_ms, reading->probe))
        return false;
    round->found_readings++;
    round->found_ms = reading->at_ms;
    return true;
}

static bool
see_record(void *arg, const struct store_record *record)
{
    ((struct round *)arg)->found_seq = record->seq;
    return true;
}

/* Opens what the cut left, first as the daemon would, and fills in round->kept. */
static void
check_after(const struct temp_dir *dir, struct round *round)
{
    struct store_error error = {STORE_OK, "nothing"};
    struct store_verdict verdict = {.ok = false};
    struct store *store = store_open(dir->path, NULL, &error);
    struct store_reader *reader;

    store_close(store);
    if (!store || store_verify(dir->path, &verdict, &error) != STORE_OK || !verdict.ok) {
        (void)snprintf(round->text, sizeof(round->text), "%s",
                       verdict.text[0] != '\0' ? verdict.text : error.text);
        return;
    }
    reader = store_reader_open(dir->path, &error);
    assert_non_null(reader);
    round->kept =
        store_each_reading(reader, 0, TIME_NONE, INT64_MAX, see_reading, round, &error) ==
            STORE_OK &&
        store_each_record(reader, 0, UINT64_MAX, NULL, see_record, round, &error) == STORE_OK &&
        round->found_seq >= round->acknowledged_seq &&
        round->found_ms >= round->acknowledged_ms &&
        round->found_readings == (uint64_t)(round->found_ms / 1000 * PROBES);
    store_reader_close(reader);
    if (!round->kept)
        (void)snprintf(
            round->text, sizeof(round->text),
            "acknowledged record %llu and %lld ms, found record %llu, %lld ms and %llu "
            "readings",
            (unsigned long long)round->acknowledged_seq, (long long)round->acknowledged_ms,
            (unsigned long long)round->found_seq, (long long)round->found_ms,
            (unsigned long long)round->found_readings);
}

/* One store, cut at a random operation of its first run, or of its second. */
static struct round
play(uint64_t seed, bool synchronous_off)
{
    struct round round = {.seed = seed};
    enum powercut_loss loss = (enum powercut_loss)(seed % 3);
    struct temp_dir dir;

    temp_dir_make(&dir);
    /* Long enough that automatic checkpoints come into it now and then. */
    if (seed % 2 == 0) {
        powercut_arm(seed, UINT64_MAX);
        write_until_cut(&dir, false, seed % 4 == 0 ? 260 : 7, &round);
    }
    powercut_arm(seed, (seed * 7919) % (seed % 5 == 0 ? 4000 : 600));
    write_until_cut(&dir, synchronous_off, 600, &round);
    round.struck = powercut_struck();
    round.lost_bytes = powercut_settle(loss);
    check_after(&dir, &round);
    temp_dir_remove(&dir);
    return round;
}

static void
test_power_cut_loses_nothing_acknowledged(void **state)
{
    uint64_t rounds = from_environment("TRIVET_ROUNDS", ROUNDS_SHORT);
    uint64_t seed = from_environment("TRIVET_SEED", 1), struck = 0, lost = 0, rows = 0;

    (void)state;
    for (uint64_t i = 0; i < rounds; i++) {
        struct round round = play(seed + i, false);
        if (!round.kept)
            fail_msg("seed %llu: %s", (unsigned long long)round.seed, round.text);
        struck += round.struck;
        lost += round.lost_bytes > 0;
        rows += round.found_readings;
    }
    print_message("%llu rounds from seed %llu: cut %llu times, unsynced bytes lost in %llu, "
                  "%llu readings kept\n",
                  (unsigned long long)rounds, (unsigned long long)seed,
                  (unsigned long long)struck, (unsigned long long)lost,
                  (unsigned long long)rows);
    assert_true(struck > rounds / 2);
    assert_true(lost > rounds / 4);
}

/* The disk really forgets: without syncs the same campaign must find something missing. */
static void
test_power_cut_without_syncs_loses_something(void **state)
{
    uint64_t rounds = from_environment("TRIVET_ROUNDS", ROUNDS_SHORT);
    uint64_t seed = from_environment("TRIVET_SEED", 1), failed = 0;

    (void)state;
    for (uint64_t i = 0; i < rounds && failed < 20; i++) {
        struct round round = play(seed + i, true);
        if (!round.kept && failed++ == 0)
            print_message("as it should, seed %llu: %s\n", (unsigned long long)round.seed,
                          round.text);
    }
    assert_true(failed >= 1);
}

/* A full disk is told as such, costs nothing that was acknowledged, and is over when there is
 * space again. */
static void
test_full_disk_is_told_and_ends(void **state)
{
    const struct store_options options = {.vfs = POWERCUT_VFS};
    struct store_error error = {STORE_OK, ""};
    struct store_verdict verdict;
    struct temp_dir dir;
    struct store_head before;
    struct store *store;

    (void)state;
    temp_dir_make(&dir);
    powercut_arm(1, UINT64_MAX);
    store = store_open(dir.path, &options, &error);
    assert_non_null(store);
    assert_int_equal(write_group(store, 1000, &error), STORE_OK);
    before = *store_head(store);
    powercut_fill(true);
    for (int i = 0; i < 3; i++) {
        assert_int_equal(write_group(store, 3000, &error), STORE_FULL);
        assert_non_null(strstr(error.text, "no space left"));
        assert_memory_equal(store_head(store), &before, sizeof(before));
        assert_false(store_dirty(store));
    }
    powercut_fill(false);
    assert_int_equal(write_group(store, 3000, &error), STORE_OK);
    assert_int_equal(store_head(store)->seq, 1);
    store_close(store);
    (void)powercut_settle(POWERCUT_LOSE_ALL);
    assert_int_equal(store_verify(dir.path, &verdict, &error), STORE_OK);
    assert_true(verdict.ok);
    assert_int_equal(verdict.records, 1);
    assert_int_equal(verdict.readings, 2 * PROBES);
    temp_dir_remove(&dir);
}

static int
set_up(void **state)
{
    (void)state;
    powercut_register();
    return 0;
}

int
main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_power_cut_loses_nothing_acknowledged),
        cmocka_unit_test(test_power_cut_without_syncs_loses_something),
        cmocka_unit_test(test_full_disk_is_told_and_ends),
    };

    return cmocka_run_group_tests(tests, set_up, NULL);
}
