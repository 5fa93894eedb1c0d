/* What is judged does not depend on how readings are batched: one by one as they come, or many
 * at a time because the recorder was kept busy. Seeded; the seed is printed, TRIVET_SEED
 * repeats a run. */
#include "tests/support/check.h"

#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "tests/support/chance.h"
#include "tests/support/recorder_rig.h"
#include "trivet/store.h"

#define STORIES  6
#define MINUTES  40
#define EVERY_MS 5000
#define COUNT    ((size_t)MINUTES * 60000 / EVERY_MS * 2)
#define TEXT_MAX 200000

struct told {
    char text[TEXT_MAX];
    size_t len, decisions;
};

static struct message story[COUNT];

/* A core that wavers around 63 °C and air around 5 °C, so that limits are met, broken and kept;
 * some readings fail. The fridge is read a little after the core. */
static void
tell_story(uint64_t *seed, int64_t from_ms)
{
    int64_t core_mC = between(seed, 61000, 64000), fridge_mC = between(seed, 3000, 7000);
    for (size_t i = 0; i < COUNT; i++) {
        bool is_core = i % 2 == 0;
        int64_t *temp_mC = is_core ? &core_mC : &fridge_mC;
        int64_t middle_mC = is_core ? 63000 : 5000;
        *temp_mC += between(seed, -700, 700) + (middle_mC - *temp_mC) / 20;
        bool fails = between(seed, 0, 30) == 0 || (is_core && i / 160 % 5 == 3);
        story[i] = (struct message){
            .kind = MESSAGE_READING,
            .born_ms = from_ms + (int64_t)(i / 2) * EVERY_MS +
                       (is_core ? 0 : between(seed, 1, EVERY_MS - 1)),
            .is.reading = {.probe = is_core ? 1 : 2,
                           .temp_mC = fails ? TEMP_NONE : (int32_t)*temp_mC,
                           .quality = fails ? BAD_TIMEOUT : READING_GOOD},
        };
    }
}

static bool
add_decision(void *arg, const struct store_record *record)
{
    struct told *told = arg;
    int len = snprintf(told->text + told->len, TEXT_MAX - told->len, "%.*s\n",
                       (int)record->data_len, record->data);
    assert_in_range(len, 1, TEXT_MAX - told->len - 1);
    told->len += (size_t)len;
    told->decisions++;
    return true;
}

static void
go_to(struct recorder_rig *rig, int64_t mono_ms)
{
    rig->wall_ms += mono_ms - rig->mono_ms;
    rig->mono_ms = mono_ms;
}

/* Judges a story of this seed, handed over in groups of at most so many readings, and reads
 * what was decided from the records. */
static struct told *
decided(uint64_t seed, int64_t most)
{
    void *state = NULL;
    struct told *told = calloc(1, sizeof *told);
    struct store_error error;
    assert_non_null(told);
    assert_int_equal(rr_set_up(&state), 0);
    struct recorder_rig *rig = state;
    struct entry begin = rr_begin_roast();
    uint64_t sizes = seed ^ (uint64_t)most;
    assert_int_equal(rr_enter(rig, &begin), 200);
    tell_story(&seed, rig->mono_ms + EVERY_MS);
    for (size_t i = 0; i < COUNT;) {
        size_t size = (size_t)between(&sizes, 1, most);
        size = size < COUNT - i ? size : COUNT - i;
        go_to(rig, story[i + size - 1].born_ms);
        recorder_take(rig->recorder, &story[i], size);
        i += size;
    }
    rr_pass(rig, 2000);
    struct store_reader *reader = store_reader_open(rig->directory, &error);
    assert_non_null(reader);
    assert_int_equal(
        store_each_record(reader, 0, UINT64_MAX, "decision", add_decision, told, &error),
        STORE_OK);
    store_reader_close(reader);
    rr_check_chain_and_replay(rig);
    (void)rr_tear_down(&state);
    return told;
}

static void
test_judging_does_not_depend_on_how_readings_are_batched(void **state)
{
    (void)state;
    const char *given = getenv("TRIVET_SEED");
    uint64_t seed = given ? strtoull(given, NULL, 10) : 20261130;
    size_t opened = 0;
    print_message("seed %" PRIu64 "\n", seed);
    for (int i = 0; i < STORIES; i++) {
        static const int64_t most[] = {2, 7, 60};
        uint64_t mine = next_random(&seed);
        struct told *singly = decided(mine, 1);
        assert_true(singly->decisions > 3);
        opened += strstr(singly->text, "deviation-opened") != NULL;
        for (size_t k = 0; k < sizeof most / sizeof *most; k++) {
            struct told *grouped = decided(mine, most[k]);
            if (strcmp(singly->text, grouped->text) != 0)
                fail_msg("story %" PRIu64
                         ", up to %d at a time:\n%.3000s\none by one:\n%.3000s",
                         mine, (int)most[k], grouped->text, singly->text);
            free(grouped);
        }
        free(singly);
    }
    assert_true(opened > 0);
}

int
main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_judging_does_not_depend_on_how_readings_are_batched),
    };
    return cmocka_run_group_tests_name("recorder batching", tests, NULL, NULL);
}
