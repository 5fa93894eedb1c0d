/* The service manager is told in the words of sd_notify(3) and sd_watchdog_enabled(3), at a
 * path or an abstract address, and hears that we live only while the recorder's thread moves.
 */
#include "tests/support/check.h"

#include <poll.h>
#include <pthread.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <sys/time.h>
#include <sys/un.h>
#include <unistd.h>

#include "tests/support/temp_dir.h"
#include "trivet/notify.h"
#include "trivet/recorder.h"

/* ---- a service manager: one datagram socket ---- */

struct manager {
    struct temp_dir dir;
    char name[120]; /* as NOTIFY_SOCKET has it */
    int fd;
    char heard[600];
};

static void
listen_at(struct manager *manager, const struct sockaddr_un *address, size_t len)
{
    struct timeval patience = {.tv_sec = 10};
    manager->fd = socket(AF_UNIX, SOCK_DGRAM, 0);
    assert_true(manager->fd >= 0);
    assert_int_equal(bind(manager->fd, (const struct sockaddr *)address,
                          (socklen_t)(offsetof(struct sockaddr_un, sun_path) + len)),
                     0);
    assert_int_equal(
        setsockopt(manager->fd, SOL_SOCKET, SO_RCVTIMEO, &patience, sizeof patience), 0);
    assert_int_equal(setenv("NOTIFY_SOCKET", manager->name, 1), 0);
}

static int
begin(void **state)
{
    static struct manager manager;
    memset(&manager, 0, sizeof manager);
    temp_dir_make(&manager.dir);
    struct sockaddr_un address = {.sun_family = AF_UNIX};
    int len =
        snprintf(address.sun_path, sizeof address.sun_path, "%s/notify", manager.dir.path);
    assert_true(len > 0 && (size_t)len < sizeof manager.name);
    memcpy(manager.name, address.sun_path, (size_t)len);
    listen_at(&manager, &address, (size_t)len);
    *state = &manager;
    return 0;
}

static int
end(void **state)
{
    struct manager *manager = *state;
    (void)close(manager->fd);
    temp_dir_remove(&manager->dir);
    (void)unsetenv("NOTIFY_SOCKET");
    (void)unsetenv("WATCHDOG_USEC");
    (void)unsetenv("WATCHDOG_PID");
    return 0;
}

static const char *
hear(struct manager *manager)
{
    ssize_t got = recv(manager->fd, manager->heard, sizeof manager->heard - 1, 0);
    manager->heard[got > 0 ? got : 0] = '\0';
    return manager->heard;
}

static bool
hears_nothing(struct manager *manager)
{
    return recv(manager->fd, manager->heard, sizeof manager->heard, MSG_DONTWAIT) < 0;
}

static void
open_well(struct notify *notify)
{
    char why[300] = "";
    if (!notify_open(notify, why, sizeof why))
        fail_msg("%s", why);
}

/* ---- what is said ---- */

static void
test_state_and_status_arrive_as_lines_of_one_datagram(void **state)
{
    struct manager *manager = *state;
    struct notify notify;
    open_well(&notify);
    assert_true(notify_say(&notify, "READY=1", "Watches 'Küche'"));
    assert_string_equal(hear(manager), "READY=1\nSTATUS=Watches 'Küche'");
    assert_true(notify_say(&notify, "STOPPING=1", NULL));
    assert_string_equal(hear(manager), "STOPPING=1");
    notify_close(&notify);
}

static void
test_abstract_address_is_reached(void **state)
{
    struct manager *manager = *state;
    struct sockaddr_un address = {.sun_family = AF_UNIX};
    (void)close(manager->fd);
    int len = snprintf(manager->name, sizeof manager->name, "@trivet-test-%ld", (long)getpid());
    memcpy(address.sun_path + 1, manager->name + 1, (size_t)len - 1);
    listen_at(manager, &address, (size_t)len);
    struct notify notify;
    open_well(&notify);
    assert_true(notify_say(&notify, "READY=1", NULL));
    assert_string_equal(hear(manager), "READY=1");
    notify_close(&notify);
}

/* Else a kitchen's name could say STOPPING=1. */
static void
test_status_with_line_breaks_stays_one_line(void **state)
{
    struct manager *manager = *state;
    struct notify notify;
    open_well(&notify);
    assert_true(notify_say(&notify, "READY=1", "a\nSTOPPING=1\tb"));
    assert_string_equal(hear(manager), "READY=1\nSTATUS=a STOPPING=1 b");
    notify_close(&notify);
}

static void
test_status_too_long_is_cut_and_sent(void **state)
{
    struct manager *manager = *state;
    struct notify notify;
    char status[2000];
    memset(status, 'x', sizeof status);
    status[sizeof status - 1] = '\0';
    open_well(&notify);
    assert_true(notify_say(&notify, "READY=1", status));
    const char *heard = hear(manager);
    assert_int_equal(strncmp(heard, "READY=1\nSTATUS=xxx", 18), 0);
    assert_true(strlen(heard) < sizeof manager->heard - 1);
    notify_close(&notify);
}

/* ---- the environment ---- */

static void
test_environment_is_taken_away_from_children(void **state)
{
    (void)state;
    struct notify notify;
    assert_int_equal(setenv("WATCHDOG_USEC", "60000000", 1), 0);
    open_well(&notify);
    assert_null(getenv("NOTIFY_SOCKET"));
    assert_null(getenv("WATCHDOG_USEC"));
    assert_null(getenv("WATCHDOG_PID"));
    notify_close(&notify);
}

static void
test_without_service_manager_nothing_is_said(void **state)
{
    struct manager *manager = *state;
    struct notify notify;
    (void)unsetenv("NOTIFY_SOCKET");
    open_well(&notify);
    assert_false(notify_say(&notify, "READY=1", NULL));
    assert_int_equal(notify_pause_ms(&notify), -1);
    assert_true(notify_alive(&notify, 1));
    assert_true(hears_nothing(manager));
    notify_close(&notify);
}

static void
test_address_that_is_none_is_named(void **state)
{
    (void)state;
    static const char *const none[] = {"run/notify", "@", "/", "vsock:2:1234"};
    char longest[200];
    memset(longest, 'x', sizeof longest);
    longest[0] = '/';
    longest[sizeof longest - 1] = '\0';
    for (size_t i = 0; i <= COUNT_OF(none); i++) {
        struct notify notify;
        char why[300] = "";
        const char *name = i < COUNT_OF(none) ? none[i] : longest;
        assert_int_equal(setenv("NOTIFY_SOCKET", name, 1), 0);
        assert_false(notify_open(&notify, why, sizeof why));
        assert_non_null(strstr(why, "NOTIFY_SOCKET"));
        assert_false(notify_say(&notify, "READY=1", NULL));
        notify_close(&notify);
    }
}

static void
test_service_manager_that_went_away_harms_nothing(void **state)
{
    struct manager *manager = *state;
    struct notify notify;
    open_well(&notify);
    assert_int_equal(unlink(manager->name), 0);
    assert_false(notify_say(&notify, "STOPPING=1", NULL));
    notify_close(&notify);
}

/* ---- the watchdog ---- */

static int
pause_with(const char *usec, const char *pid, const char *name)
{
    struct notify notify;
    (void)setenv("NOTIFY_SOCKET", name, 1);
    (void)setenv("WATCHDOG_USEC", usec, 1);
    if (pid != NULL)
        (void)setenv("WATCHDOG_PID", pid, 1);
    open_well(&notify);
    int pause_ms = notify_pause_ms(&notify);
    notify_close(&notify);
    return pause_ms;
}

static void
test_watchdog_pauses_are_shorter_than_half_its_time(void **state)
{
    /* sd_watchdog_enabled(3) asks for a message every half of the time or more often. */
    struct manager *manager = *state;
    char mine[30], other[30];
    (void)snprintf(mine, sizeof mine, "%ld", (long)getpid());
    (void)snprintf(other, sizeof other, "%ld", (long)getppid());
    assert_in_range(pause_with("60000000", mine, manager->name), 1, 30000);
    assert_in_range(pause_with("60000000", NULL, manager->name), 1, 30000);
    assert_in_range(pause_with("2000", mine, manager->name), 1, 1);
    assert_in_range(pause_with("9223372036854775807", mine, manager->name), 1, INT32_MAX);
    assert_int_equal(pause_with("60000000", other, manager->name), -1);
    (void)unsetenv("WATCHDOG_PID");
    static const char *const wrong[] = {"", "0", "-5", "soon", "60s", "99999999999999999999"};
    for (size_t i = 0; i < COUNT_OF(wrong); i++)
        assert_int_equal(pause_with(wrong[i], NULL, manager->name), -1);
}

static void
test_life_is_told_only_when_the_beat_moves(void **state)
{
    struct manager *manager = *state;
    struct notify notify;
    assert_int_equal(setenv("WATCHDOG_USEC", "60000000", 1), 0);
    open_well(&notify);
    assert_false(notify_alive(&notify, 0)); /* has not begun */
    assert_true(hears_nothing(manager));
    assert_true(notify_alive(&notify, 1));
    assert_string_equal(hear(manager), "WATCHDOG=1");
    assert_false(notify_alive(&notify, 1));
    assert_true(hears_nothing(manager));
    assert_true(notify_alive(&notify, 7));
    assert_string_equal(hear(manager), "WATCHDOG=1");
    notify_close(&notify);
}

/* ---- the recorder's beat ---- */

static const char plan_text[] = "site: {name: Harbour Lane Kitchen}\n"
                                "people:\n"
                                "  - {initials: AB, name: Ana Brandt, role: cook}\n"
                                "  - {initials: JO, name: Jun Okada, role: supervisor}\n";

struct scene {
    struct store *store;
    struct board *board;
    struct queue *queue;
    struct recorder *recorder;
};

static void
scene_begin(struct scene *scene, const char *directory)
{
    static struct plan_faults faults;
    struct store_error error;
    char why[600];
    struct plan *plan = plan_load_text("plan.yaml", plan_text, sizeof plan_text - 1, &faults);
    if (plan == NULL)
        fail_msg("%s", faults.fault[0].text);
    scene->store = store_open(directory, NULL, &error);
    scene->board = board_new();
    scene->queue = queue_new(16);
    assert_true(scene->store != NULL && scene->board != NULL && scene->queue != NULL);
    struct recorder_parts parts = {.plan = plan,
                                   .store = scene->store,
                                   .directory = directory,
                                   .clock = clock_machine(),
                                   .board = scene->board};
    scene->recorder = recorder_new(&parts, why, sizeof why);
    if (scene->recorder == NULL)
        fail_msg("%s", why);
}

static void
scene_end(struct scene *scene)
{
    recorder_free(scene->recorder);
    board_free(scene->board);
    store_close(scene->store);
    queue_free(scene->queue);
}

static void *
run(void *arg)
{
    struct scene *scene = arg;
    recorder_run(scene->recorder, scene->queue);
    return NULL;
}

static void
test_beat_of_an_idle_recorder_moves_within_its_thread(void **state)
{
    struct manager *manager = *state;
    struct scene scene;
    struct notify notify;
    pthread_t thread;
    scene_begin(&scene, manager->dir.path);
    assert_int_equal(setenv("WATCHDOG_USEC", "40000", 1), 0);
    open_well(&notify);
    uint64_t before = recorder_heartbeat(scene.recorder);
    assert_int_equal(recorder_heartbeat(scene.recorder), before); /* nobody runs it */
    assert_int_equal(pthread_create(&thread, NULL, run, &scene), 0);
    /* Nothing is posted: it has to wake by itself. The wait is the main thread's own. */
    for (int pings = 0, looks = 0; pings < 3; looks++) {
        assert_true(looks < 1000); /* ten seconds: an idle recorder beats once a second */
        (void)poll(NULL, 0, notify_pause_ms(&notify));
        if (notify_alive(&notify, recorder_heartbeat(scene.recorder))) {
            assert_string_equal(hear(manager), "WATCHDOG=1");
            pings++;
        }
    }
    assert_true(queue_post(scene.queue, &(struct message){.kind = MESSAGE_STOP}));
    assert_int_equal(pthread_join(thread, NULL), 0);
    notify_close(&notify);
    scene_end(&scene);
}

int
main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(test_state_and_status_arrive_as_lines_of_one_datagram,
                                        begin, end),
        cmocka_unit_test_setup_teardown(test_abstract_address_is_reached, begin, end),
        cmocka_unit_test_setup_teardown(test_status_with_line_breaks_stays_one_line, begin,
                                        end),
        cmocka_unit_test_setup_teardown(test_status_too_long_is_cut_and_sent, begin, end),
        cmocka_unit_test_setup_teardown(test_environment_is_taken_away_from_children, begin,
                                        end),
        cmocka_unit_test_setup_teardown(test_without_service_manager_nothing_is_said, begin,
                                        end),
        cmocka_unit_test_setup_teardown(test_address_that_is_none_is_named, begin, end),
        cmocka_unit_test_setup_teardown(test_service_manager_that_went_away_harms_nothing,
                                        begin, end),
        cmocka_unit_test_setup_teardown(test_watchdog_pauses_are_shorter_than_half_its_time,
                                        begin, end),
        cmocka_unit_test_setup_teardown(test_life_is_told_only_when_the_beat_moves, begin, end),
        cmocka_unit_test_setup_teardown(test_beat_of_an_idle_recorder_moves_within_its_thread,
                                        begin, end),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
