/* The board under several threads; its worth lies in the run under the thread sanitizer. */
#include <pthread.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdatomic.h>
#include <stddef.h>

#include <cmocka.h>

#include "trivet/snapshot.h"

#define ROUNDS  20000
#define READERS 3

struct scene {
    struct board *board;
    atomic_bool over;
    atomic_uint_fast64_t heard, backwards;
};

static struct snapshot *
fresh(uint64_t version)
{
    struct snapshot_counts none = {0};
    struct snapshot *snapshot = snapshot_new(&none);
    if (snapshot != NULL) {
        snapshot->version = version;
        snapshot->at_ms = (int64_t)version;
    }
    return snapshot;
}

static void
hear(void *arg, uint64_t version)
{
    struct scene *scene = arg;
    atomic_store(&scene->heard, version);
}

static void *
read_board(void *arg)
{
    struct scene *scene = arg;
    uint64_t last = 0;
    while (!atomic_load(&scene->over)) {
        struct snapshot *snapshot = board_take(scene->board);
        if (snapshot == NULL)
            continue;
        if (snapshot->version < last || snapshot->at_ms != (int64_t)snapshot->version)
            atomic_fetch_add(&scene->backwards, 1);
        last = snapshot->version;
        snapshot_release(snapshot);
    }
    return NULL;
}

static void
test_board_readers_see_whole_and_rising_versions(void **state)
{
    (void)state;
    struct scene scene = {.board = board_new()};
    assert_non_null(scene.board);
    assert_null(board_take(scene.board));
    board_listen(scene.board, hear, &scene);
    pthread_t readers[READERS];
    for (size_t i = 0; i < READERS; i++)
        assert_int_equal(pthread_create(&readers[i], NULL, read_board, &scene), 0);
    for (uint64_t version = 1; version <= ROUNDS; version++) {
        struct snapshot *snapshot = fresh(version);
        assert_non_null(snapshot);
        board_publish(scene.board, snapshot);
    }
    atomic_store(&scene.over, true);
    for (size_t i = 0; i < READERS; i++)
        assert_int_equal(pthread_join(readers[i], NULL), 0);
    assert_int_equal(atomic_load(&scene.backwards), 0);
    assert_int_equal(atomic_load(&scene.heard), ROUNDS);
    board_free(scene.board);
}

static void
test_board_unlisten_ends_the_calls(void **state)
{
    (void)state;
    struct scene scene = {.board = board_new()};
    board_listen(scene.board, hear, &scene);
    board_publish(scene.board, fresh(1));
    board_unlisten(scene.board, hear, &scene);
    board_publish(scene.board, fresh(2));
    assert_int_equal(atomic_load(&scene.heard), 1);
    board_free(scene.board);
}

static int64_t
at_now(void *arg)
{
    return *(const int64_t *)arg;
}

static void
test_board_now_never_before_the_newest(void **state)
{
    (void)state;
    struct board *board = board_new();
    int64_t now_ms = 70;
    assert_int_equal(board_now_ms(board), 0);
    board_set_now(board, at_now, &now_ms);
    assert_int_equal(board_now_ms(board), 70);
    board_publish(board, fresh(100));
    assert_int_equal(board_now_ms(board), 100);
    now_ms = 250;
    assert_int_equal(board_now_ms(board), 250);
    board_free(board);
}

static void
test_snapshot_held_outlives_its_board(void **state)
{
    (void)state;
    struct board *board = board_new();
    board_publish(board, fresh(5));
    struct snapshot *snapshot = board_take(board);
    board_free(board);
    assert_int_equal(snapshot->version, 5);
    snapshot_release(snapshot);
    snapshot_release(NULL);
}

int
main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_board_readers_see_whole_and_rising_versions),
        cmocka_unit_test(test_board_unlisten_ends_the_calls),
        cmocka_unit_test(test_board_now_never_before_the_newest),
        cmocka_unit_test(test_snapshot_held_outlives_its_board),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
