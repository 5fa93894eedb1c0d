/* Reading the plan file again: who asks is answered, whatever happens to the plan on its way.
 */
#include "tests/support/check.h"

#include <poll.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "daemon/reload.h"

#define EXAMPLE "config/harbour-lane.yaml"

struct told {
    int answers, code;
    char say[400];
};

static void
take_answer(void *arg, const struct entry_answer *answer)
{
    struct told *told = arg;
    told->answers++;
    told->code = answer->code;
    memcpy(told->say, answer->say, sizeof told->say);
}

static struct entry_request *
asking(struct told *told)
{
    struct entry_request *asked = calloc(1, sizeof *asked);
    assert_non_null(asked);
    asked->answer = take_answer;
    asked->arg = told;
    return asked;
}

static bool
rings(const struct reload *reload)
{
    struct pollfd fd = {.fd = reload_fd(reload), .events = POLLIN};
    return poll(&fd, 1, 0) == 1;
}

static struct plan_request *
next_request(struct queue *queue)
{
    struct message message;
    if (queue_take(queue, &message, 1, 0) == 0)
        return NULL;
    assert_int_equal(message.kind, MESSAGE_PLAN);
    return message.is.plan;
}

static void
drop(struct plan_request *request)
{
    plan_free(request->plan);
    free(request->asked);
    free(request);
}

static void
test_each_who_asks_has_the_file_read_and_handed_over(void **state)
{
    (void)state;
    struct clock clock = clock_machine();
    struct queue *queue = queue_new(8);
    struct reload *reload = reload_new(EXAMPLE, queue, &clock);
    struct told told = {0};
    assert_false(rings(reload));
    assert_true(reload_ask(reload, asking(&told)));
    assert_true(rings(reload));
    reload_run(reload, true); /* and a signal at the same time */
    assert_false(rings(reload));
    struct plan_request *by_signal = next_request(queue), *by_person = next_request(queue);
    assert_non_null(by_signal->plan);
    assert_null(by_signal->asked);
    assert_non_null(by_person->asked);
    assert_null(next_request(queue));
    /* The recorder decides: the last plan in force is the one to poll. */
    by_signal->decided(by_signal->arg, by_signal->plan);
    by_person->decided(by_person->arg, by_person->plan);
    assert_true(rings(reload));
    assert_ptr_equal(reload_taken(reload), by_person->plan);
    assert_null(reload_taken(reload));
    by_person->decided(by_person->arg, NULL); /* refused: nothing to do */
    assert_null(reload_taken(reload));
    drop(by_signal);
    drop(by_person);
    reload_free(reload);
    queue_free(queue);
}

static void
test_faults_are_handed_over_with_file_and_line(void **state)
{
    (void)state;
    struct clock clock = clock_machine();
    struct queue *queue = queue_new(8);
    struct reload *reload = reload_new("tests/unit/no-such-plan.yaml", queue, &clock);
    reload_run(reload, true);
    struct plan_request *request = next_request(queue);
    assert_null(request->plan);
    assert_non_null(strstr(request->faults, "no-such-plan.yaml"));
    assert_non_null(strstr(request->faults, "there is no such file"));
    drop(request);
    reload_free(reload);
    queue_free(queue);
}

static void
test_full_queue_is_told_to_who_asked(void **state)
{
    (void)state;
    struct clock clock = clock_machine();
    struct queue *queue = queue_new(1);
    struct reload *reload = reload_new(EXAMPLE, queue, &clock);
    struct told told = {0};
    struct message bus = {.kind = MESSAGE_BUS};
    while (queue_post(queue, &bus))
        continue;
    assert_true(reload_ask(reload, asking(&told)));
    reload_run(reload, false);
    assert_int_equal(told.answers, 1);
    assert_int_equal(told.code, 503);
    assert_non_null(strstr(told.say, "was not read again"));
    reload_free(reload);
    queue_free(queue);
}

static void
test_too_many_at_once_are_turned_away_and_the_end_answers_the_rest(void **state)
{
    (void)state;
    struct clock clock = clock_machine();
    struct queue *queue = queue_new(8);
    struct reload *reload = reload_new(EXAMPLE, queue, &clock);
    struct told told = {0};
    struct entry_request *asked = asking(&told);
    int waiting = 0;
    while (reload_ask(reload, asked)) {
        waiting++;
        assert_true(waiting < 100);
        asked = asking(&told);
    }
    free(asked); /* it stays with who asked */
    assert_true(waiting > 0);
    reload_free(reload);
    assert_int_equal(told.answers, waiting);
    assert_int_equal(told.code, 503);
    queue_free(queue);
}

int
main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_each_who_asks_has_the_file_read_and_handed_over),
        cmocka_unit_test(test_faults_are_handed_over_with_file_and_line),
        cmocka_unit_test(test_full_queue_is_told_to_who_asked),
        cmocka_unit_test(test_too_many_at_once_are_turned_away_and_the_end_answers_the_rest),
    };
    return cmocka_run_group_tests_name("reading the plan again", tests, NULL, NULL);
}
