/* Who switches the direction of an RS-485 line. No machine of a test has such a port, so the
 * kernel's side is played here: ioctl() of this program answers for it. What it has to be told
 * is Linux, Documentation/driver-api/serial/serial-rs485.rst. */
#define _DEFAULT_SOURCE /* ioctl */

#include "tests/support/check.h"

#include <errno.h>
#include <linux/serial.h>
#include <string.h>
#include <sys/ioctl.h>

#include "drivers/serial_port.h"

static struct {
    struct serial_rs485 mode;
    bool can_tell, can_set;
    int asked, set;
} kernel;

int
ioctl(int fd, unsigned long request, ...)
{
    va_list args;
    va_start(args, request);
    void *arg = va_arg(args, void *);
    va_end(args);
    (void)fd;
    if (request == TIOCGRS485 && kernel.can_tell) {
        kernel.asked++;
        memcpy(arg, &kernel.mode, sizeof kernel.mode);
        return 0;
    }
    if (request == TIOCSRS485 && kernel.can_set) {
        kernel.set++;
        memcpy(&kernel.mode, arg, sizeof kernel.mode);
        return 0;
    }
    errno = ENOTTY;
    return -1;
}

static struct plan_bus
line(bool kernel_direction)
{
    return (struct plan_bus){
        .id = "oven-line", .device = "/dev/ttyS1", .kernel_direction = kernel_direction};
}

static void
test_sender_is_on_while_rts_is_high_and_delays_are_kept(void **state)
{
    (void)state;
    const struct plan_bus bus = line(true);
    struct driver_error error = {""};
    memset(&kernel, 0, sizeof kernel);
    kernel.can_tell = kernel.can_set = true;
    kernel.mode.flags = SER_RS485_RTS_AFTER_SEND | SER_RS485_RX_DURING_TX;
    kernel.mode.delay_rts_before_send = 2;
    kernel.mode.delay_rts_after_send = 3;
    assert_true(serial_port_direct(7, &bus, &error));
    assert_int_equal(kernel.set, 1);
    assert_int_equal(kernel.mode.flags, SER_RS485_ENABLED | SER_RS485_RTS_ON_SEND);
    assert_int_equal(kernel.mode.delay_rts_before_send, 2);
    assert_int_equal(kernel.mode.delay_rts_after_send, 3);
}

static void
test_port_that_cannot_is_told(void **state)
{
    (void)state;
    const struct plan_bus bus = line(true);
    for (int can_tell = 0; can_tell < 2; can_tell++) {
        struct driver_error error = {""};
        memset(&kernel, 0, sizeof kernel);
        kernel.can_tell = can_tell;
        assert_false(serial_port_direct(7, &bus, &error));
        assert_non_null(strstr(error.text, "bus 'oven-line'"));
        assert_non_null(strstr(error.text, "write direction: adapter"));
    }
}

static void
test_adapter_that_does_it_itself_is_left_alone(void **state)
{
    (void)state;
    const struct plan_bus bus = line(false);
    struct driver_error error = {""};
    memset(&kernel, 0, sizeof kernel);
    kernel.can_tell = kernel.can_set = true;
    assert_true(serial_port_direct(7, &bus, &error));
    assert_int_equal(kernel.asked + kernel.set, 0);
}

int
main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_sender_is_on_while_rts_is_high_and_delays_are_kept),
        cmocka_unit_test(test_port_that_cannot_is_told),
        cmocka_unit_test(test_adapter_that_does_it_itself_is_left_alone),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
