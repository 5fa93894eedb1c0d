/* The alarm command: the notice on its stdin, arguments as the plan lists them, its end
 * reported, a stuck one stopped. */
#include "tests/support/check.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "trivet/hook.h"

struct rig {
    struct queue *queue;
    struct hook *hook;
    char file[64];
};

static int
set_up(void **state)
{
    struct rig *rig = calloc(1, sizeof *rig);
    struct clock clock = clock_machine();
    rig->queue = queue_new(16);
    rig->hook = hook_start(rig->queue, &clock);
    (void)snprintf(rig->file, sizeof rig->file, "/tmp/trivet-hook-XXXXXX");
    int fd = mkstemp(rig->file);
    assert_true(fd >= 0);
    (void)close(fd);
    *state = rig;
    return 0;
}

static int
tear_down(void **state)
{
    struct rig *rig = *state;
    hook_stop(rig->hook);
    queue_free(rig->queue);
    (void)unlink(rig->file);
    free(rig);
    return 0;
}

static struct message
await_report(struct rig *rig)
{
    struct message message = {.kind = MESSAGE_STOP};
    assert_int_equal(queue_take(rig->queue, &message, 1, 20000), 1);
    assert_int_equal(message.kind, MESSAGE_TOLD);
    return message;
}

static void
test_command_gets_the_notice_on_stdin_and_its_arguments(void **state)
{
    struct rig *rig = *state;
    char output[80];
    (void)snprintf(output, sizeof output, "of=%s", rig->file);
    struct plan_hook config = {.args = {"dd", output, "status=none", NULL},
                               .timeout_ms = 10000};
    assert_true(hook_tell(rig->hook, &config, 42, "{\"id\":\"1-opened\"}"));
    struct message report = await_report(rig);
    assert_true(report.is.told.done);
    assert_int_equal(report.is.told.seq, 42);
    char text[64] = "";
    FILE *file = fopen(rig->file, "r");
    assert_non_null(file);
    assert_non_null(fgets(text, sizeof text, file));
    (void)fclose(file);
    assert_string_equal(text, "{\"id\":\"1-opened\"}");
}

static void
test_arguments_are_never_read_by_a_shell(void **state)
{
    struct rig *rig = *state;
    char argument[160];
    (void)snprintf(argument, sizeof argument, "$(rm %s); `rm %s`", rig->file, rig->file);
    struct plan_hook config = {.args = {"true", argument, NULL}, .timeout_ms = 10000};
    assert_true(hook_tell(rig->hook, &config, 1, "{}"));
    assert_true(await_report(rig).is.told.done);
    assert_int_equal(access(rig->file, F_OK), 0);
}

static void
test_failing_and_missing_commands_are_reported(void **state)
{
    struct rig *rig = *state;
    struct plan_hook fails = {.args = {"false", NULL}, .timeout_ms = 10000};
    struct plan_hook missing = {.args = {"/nonexistent/alarm", NULL}, .timeout_ms = 10000};
    assert_true(hook_tell(rig->hook, &fails, 1, "{}"));
    struct message report = await_report(rig);
    assert_false(report.is.told.done);
    assert_string_equal(report.is.told.how, "ended with exit code 1");
    assert_true(hook_tell(rig->hook, &missing, 2, "{}"));
    report = await_report(rig);
    assert_false(report.is.told.done);
    assert_string_equal(report.is.told.how, "could not be started: no such program");
}

static void
test_stuck_command_is_stopped_after_its_time(void **state)
{
    struct rig *rig = *state;
    struct plan_hook config = {.args = {"sleep", "1000", NULL}, .timeout_ms = 50};
    assert_true(hook_tell(rig->hook, &config, 7, "{}"));
    struct message report = await_report(rig);
    assert_false(report.is.told.done);
    assert_string_equal(report.is.told.how, "did not end in time and was stopped");
}

static void
test_notices_run_in_the_order_they_were_told(void **state)
{
    struct rig *rig = *state;
    struct plan_hook config = {.args = {"true", NULL}, .timeout_ms = 10000};
    for (uint64_t seq = 1; seq <= 8; seq++)
        assert_true(hook_tell(rig->hook, &config, seq, "{}"));
    for (uint64_t seq = 1; seq <= 8; seq++)
        assert_int_equal(await_report(rig).is.told.seq, seq);
}

int
main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(test_command_gets_the_notice_on_stdin_and_its_arguments,
                                        set_up, tear_down),
        cmocka_unit_test_setup_teardown(test_arguments_are_never_read_by_a_shell, set_up,
                                        tear_down),
        cmocka_unit_test_setup_teardown(test_failing_and_missing_commands_are_reported, set_up,
                                        tear_down),
        cmocka_unit_test_setup_teardown(test_stuck_command_is_stopped_after_its_time, set_up,
                                        tear_down),
        cmocka_unit_test_setup_teardown(test_notices_run_in_the_order_they_were_told, set_up,
                                        tear_down),
    };
    return cmocka_run_group_tests_name("hook", tests, NULL, NULL);
}
