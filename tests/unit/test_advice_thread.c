/* The adviser's thread: what the board shows comes back as advice in the recorder's queue, and
 * it ends at once when asked. */
#include "tests/support/recorder_rig.h"

#include <stdlib.h>

#include "trivet/advice.h"
#include "trivet/queue.h"

static void
the_board_is_looked_at_and_the_queue_told(void **state)
{
    struct recorder_rig *rig = *state;
    struct entry begin = rr_begin_roast();
    char why[300];
    struct queue *queue = queue_new(8);
    assert_int_equal(rr_enter(rig, &begin), 200);
    rr_read_for(rig, 60000, 20000, 3000);
    struct advice_thread *thread =
        advice_start(rig->directory, rig->board, queue, why, sizeof why);
    if (thread == NULL)
        fail_msg("%s", why);
    struct message message;
    assert_int_equal(queue_take(queue, &message, 1, 60000), 1);
    assert_int_equal(message.kind, MESSAGE_ADVICE);
    assert_int_equal(message.is.advice->count, 1);
    assert_int_equal(message.is.advice->list[0].batch, 1);
    assert_string_not_equal(message.is.advice->list[0].refusal, ""); /* a minute is too early */
    advice_stop(thread);
    free(message.is.advice);
    queue_free(queue);
}

static void
a_directory_without_records_is_told(void **state)
{
    struct recorder_rig *rig = *state;
    char why[300] = "";
    struct queue *queue = queue_new(8);
    assert_null(advice_start("/nowhere", rig->board, queue, why, sizeof why));
    assert_string_not_equal(why, "");
    queue_free(queue);
}

int
main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(the_board_is_looked_at_and_the_queue_told, rr_set_up,
                                        rr_tear_down),
        cmocka_unit_test_setup_teardown(a_directory_without_records_is_told, rr_set_up,
                                        rr_tear_down),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
