/* The line itself: adapters that are pulled out, taken, forbidden or never quiet, and servers
 * that are gone. */
#define _DEFAULT_SOURCE /* seteuid, setrlimit */

#include "tests/support/modbus_rig.h"

#include <fcntl.h>
#include <signal.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>

#include <modbus/modbus.h>

static void
assert_line_gone(size_t request, const char *words)
{
    assert_false(rig.driver->read(rig.state, &rig.requests[request], rig.samples, &rig.error));
    for (uint16_t i = 0; i < 2; i++) {
        assert_int_equal(rig.samples[i].quality, BAD_LINK);
        assert_int_equal(rig.samples[i].temp_mC, TEMP_NONE);
    }
    assert_non_null(strstr(rig.error.text, words));
}

static void
assert_not_opened(const char *words)
{
    void *state = NULL;
    assert_false(rig.driver->open(&rig.plan, 0, &rig.clock, &state, &rig.error));
    if (strstr(rig.error.text, words) == NULL || strstr(rig.error.text, "bus 'line-a'") == NULL)
        fail_msg("says: %s", rig.error.text);
}

static void
test_direction_by_the_kernel_is_refused_where_it_cannot(void **state)
{
    (void)state;
    rig.driver->close(rig.state);
    rig.state = NULL;
    rig.bus.kernel_direction = true; /* a pseudo-terminal has no direction */
    assert_not_opened("cannot switch the direction");
    rig.bus.kernel_direction = false;
    modbus_rig_open(); /* and nothing was left open */
}

static void
test_rtu_unplugged_adapter_is_reported_at_once(void **state)
{
    (void)state;
    modbus_rig_wants(READING_GOOD, 0, PEER_CLEAN);
    peer_unplug(rig.peer);
    /* Until the kernel has hung up, a request may still go nowhere. */
    bool there = true;
    for (int i = 0; i < 50 && there; i++)
        there = rig.driver->read(rig.state, &rig.requests[0], rig.samples, &rig.error);
    assert_false(there);
    assert_line_gone(1, "unplugged");
    rig.driver->close(rig.state);
    rig.state = NULL;
    assert_not_opened("does not exist");
}

static void
test_rtu_line_that_is_never_quiet_is_given_up(void **state)
{
    (void)state;
    modbus_rig_wants(READING_GOOD, 0, PEER_CLEAN);
    peer_babble(rig.peer);
    const int64_t began_ms = clock_mono_ms(&rig.clock);
    bool there = true;
    for (int i = 0; i < 3 && there; i++)
        there = rig.driver->read(rig.state, &rig.requests[0], rig.samples, &rig.error);
    assert_false(there);
    assert_non_null(strstr(rig.error.text, "never quiet"));
    assert_in_range(clock_mono_ms(&rig.clock) - began_ms, 2000, 10000); /* bounded */
}

static void
test_rtu_second_owner_of_a_line_is_refused(void **state)
{
    (void)state;
    assert_not_opened("in use by another program");
    modbus_rig_wants(READING_GOOD, 0, PEER_CLEAN); /* the first is not disturbed */
    rig.driver->close(rig.state);
    modbus_rig_open();
    modbus_rig_wants(READING_GOOD, 0, PEER_CLEAN);
}

/* Linux drops the parity of a pseudo-terminal, and the C library's tcsetattr() calls settings
 * invalid when nothing but that was asked for: all else was left set by whoever was killed. */
static void
test_rtu_line_left_by_a_killed_daemon_is_opened(void **state)
{
    (void)state;
    int status;
    rig.driver->close(rig.state);
    rig.state = NULL;
    rig.bus.parity = 'E';
    const pid_t killed = fork();
    if (killed == 0) {
        void *opened = NULL;
        _exit(!rig.driver->open(&rig.plan, 0, &rig.clock, &opened, &rig.error)); /* no close */
    }
    assert_int_equal(waitpid(killed, &status, 0), killed);
    assert_int_equal(status, 0);
    modbus_rig_open();
    modbus_rig_wants(READING_GOOD, 0, PEER_CLEAN);
}

static void
test_rtu_wrong_settings_are_named(void **state)
{
    (void)state;
    rig.driver->close(rig.state);
    rig.state = NULL;
    rig.bus.baud_bps = 14400; /* libmodbus would take 9600 instead */
    assert_not_opened("14400 baud");
    rig.bus.baud_bps = 19200;
    rig.bus.device = "/nowhere/ttyUSB0";
    assert_not_opened("does not exist");
    rig.bus.device = "/dev/null";
    assert_not_opened("is not a serial line");
}

static void
test_rtu_missing_permission_names_owner_and_group(void **state)
{
    (void)state;
    rig.driver->close(rig.state);
    rig.state = NULL;
    const uid_t us = geteuid();
    assert_int_equal(chmod(rig.bus.device, 0000), 0);
    if (us == 0)
        assert_int_equal(seteuid(65534), 0); /* nobody */
    void *opened = NULL;
    const bool done = rig.driver->open(&rig.plan, 0, &rig.clock, &opened, &rig.error);
    if (us == 0)
        assert_int_equal(seteuid(us), 0);
    assert_false(done);
    assert_non_null(strstr(rig.error.text, "no permission"));
    assert_non_null(strstr(rig.error.text, "add that user to the group"));
}

static void
test_full_table_of_descriptors_is_refused_and_not_fatal(void **state)
{
    (void)state;
    static int held[1100];
    struct rlimit before, more;
    rig.driver->close(rig.state);
    rig.state = NULL;
    assert_int_equal(getrlimit(RLIMIT_NOFILE, &before), 0);
    more = before;
    if (more.rlim_cur < 2048)
        more.rlim_cur = more.rlim_max < 2048 ? more.rlim_max : 2048;
    assert_int_equal(setrlimit(RLIMIT_NOFILE, &more), 0);
    size_t count = 0;
    while (count < sizeof held / sizeof *held &&
           (held[count] = open("/dev/null", O_RDONLY | O_CLOEXEC)) >= 0)
        count++;
    void *opened = NULL;
    const bool done = rig.driver->open(&rig.plan, 0, &rig.clock, &opened, &rig.error);
    while (count > 0)
        (void)close(held[--count]);
    assert_int_equal(setrlimit(RLIMIT_NOFILE, &before), 0);
    assert_false(done);
    assert_non_null(strstr(rig.error.text, "too many files open"));
}

static void
test_tcp_closed_server_is_reported_and_its_port_named(void **state)
{
    (void)state;
    modbus_rig_wants(READING_GOOD, 0, PEER_CLEAN);
    peer_unplug(rig.peer);
    bool there = true;
    for (int i = 0; i < 50 && there; i++)
        there = rig.driver->read(rig.state, &rig.requests[0], rig.samples, &rig.error);
    assert_false(there);
    assert_line_gone(1, "refuses the connection");
    rig.driver->close(rig.state);
    rig.state = NULL;
    assert_not_opened("refuses the connection");
}

#define WITH(test, up) cmocka_unit_test_setup_teardown(test, up, modbus_rig_done)

int
main(void)
{
    const struct CMUnitTest tests[] = {
        WITH(test_direction_by_the_kernel_is_refused_where_it_cannot, modbus_rig_rtu),
        WITH(test_rtu_unplugged_adapter_is_reported_at_once, modbus_rig_rtu),
        WITH(test_rtu_line_that_is_never_quiet_is_given_up, modbus_rig_rtu),
        WITH(test_rtu_second_owner_of_a_line_is_refused, modbus_rig_rtu),
        WITH(test_rtu_line_left_by_a_killed_daemon_is_opened, modbus_rig_rtu),
        WITH(test_rtu_wrong_settings_are_named, modbus_rig_rtu),
        WITH(test_rtu_missing_permission_names_owner_and_group, modbus_rig_rtu),
        WITH(test_full_table_of_descriptors_is_refused_and_not_fatal, modbus_rig_tcp),
        WITH(test_tcp_closed_server_is_reported_and_its_port_named, modbus_rig_tcp),
    };
    (void)signal(SIGPIPE, SIG_IGN); /* as the daemon's main does */
    return cmocka_run_group_tests(tests, NULL, NULL);
}
