/* The queue keeps order, refuses when full, counts what it drops, and never loses the message
 * that ends the run. */
#include "tests/support/check.h"

#include <pthread.h>

#include "trivet/queue.h"

static struct message
reading(uint16_t probe, int32_t temp_mC)
{
    return (struct message){.kind = MESSAGE_READING,
                            .is.reading = {.probe = probe, .temp_mC = temp_mC}};
}

static void
test_messages_come_out_in_order(void **state)
{
    (void)state;
    struct queue *queue = queue_new(4);
    struct message out[4];
    for (int round = 0; round < 3; round++) {
        for (int i = 0; i < 3; i++) {
            struct message in = reading(1, round * 10 + i);
            assert_true(queue_post(queue, &in));
        }
        assert_int_equal(queue_take(queue, out, 4, 0), 3);
        for (int i = 0; i < 3; i++)
            assert_int_equal(out[i].is.reading.temp_mC, round * 10 + i);
    }
    queue_free(queue);
}

static void
test_full_queue_refuses_counts_and_keeps_room_for_the_stop(void **state)
{
    (void)state;
    struct queue *queue = queue_new(3);
    struct message in = reading(1, 0);
    struct message entry = {.kind = MESSAGE_ENTRY};
    struct message stop = {.kind = MESSAGE_STOP};
    struct message out[4];
    assert_true(queue_post(queue, &in));
    assert_true(queue_post(queue, &in));
    assert_false(queue_post(queue, &in));
    assert_false(queue_post(queue, &entry));
    assert_true(queue_post(queue, &stop));
    assert_int_equal(queue_dropped(queue), 1);
    assert_int_equal(queue_dropped(queue), 0);
    assert_int_equal(queue_take(queue, out, 4, 0), 3);
    assert_int_equal(out[2].kind, MESSAGE_STOP);
    queue_free(queue);
}

static void
test_empty_queue_gives_nothing_when_the_wait_is_over(void **state)
{
    (void)state;
    struct queue *queue = queue_new(3);
    struct message out[1];
    assert_int_equal(queue_take(queue, out, 1, 0), 0);
    assert_int_equal(queue_take(queue, out, 1, 1), 0);
    queue_free(queue);
}

#define POSTERS    4
#define POSTS_EACH 2000

struct poster {
    struct queue *queue;
    uint16_t probe;
};

static void *
post_all(void *arg)
{
    struct poster *poster = arg;
    for (int i = 0; i < POSTS_EACH;) {
        struct message in = reading(poster->probe, i);
        if (queue_post(poster->queue, &in))
            i++;
    }
    return NULL;
}

static void
test_many_threads_lose_nothing_and_keep_each_one_in_order(void **state)
{
    (void)state;
    struct queue *queue = queue_new(64);
    pthread_t threads[POSTERS];
    struct poster posters[POSTERS];
    int next[POSTERS] = {0};
    for (int i = 0; i < POSTERS; i++) {
        posters[i] = (struct poster){queue, (uint16_t)i};
        assert_int_equal(pthread_create(&threads[i], NULL, post_all, &posters[i]), 0);
    }
    for (size_t taken = 0; taken < (size_t)POSTERS * POSTS_EACH;) {
        struct message out[16];
        size_t count = queue_take(queue, out, 16, 10000);
        assert_true(count > 0);
        for (size_t i = 0; i < count; i++)
            assert_int_equal(out[i].is.reading.temp_mC, next[out[i].is.reading.probe]++);
        taken += count;
    }
    for (int i = 0; i < POSTERS; i++)
        (void)pthread_join(threads[i], NULL);
    queue_free(queue);
}

int
main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_messages_come_out_in_order),
        cmocka_unit_test(test_full_queue_refuses_counts_and_keeps_room_for_the_stop),
        cmocka_unit_test(test_empty_queue_gives_nothing_when_the_wait_is_over),
        cmocka_unit_test(test_many_threads_lose_nothing_and_keep_each_one_in_order),
    };
    return cmocka_run_group_tests_name("queue", tests, NULL, NULL);
}
