/* Serial ports: see drivers/serial_port.h. */
#define _DEFAULT_SOURCE /* flock, TIOCEXCL, makedev numbers, higher speeds */

#include "drivers/serial_port.h"

#include <errno.h>
#include <fcntl.h>
#include <grp.h>
#include <linux/serial.h>
#include <pwd.h>
#include <string.h>
#include <sys/file.h>
#include <sys/ioctl.h>
#include <sys/stat.h>
#include <sys/sysmacros.h>
#include <unistd.h>

#include "drivers/parts.h"

/* Linux: major numbers of pseudo-terminals, Documentation/admin-guide/devices.txt. */
#define PTY_MAJOR_FIRST 136
#define PTY_MAJOR_LAST  143

static const struct {
    uint32_t bps;
    speed_t speed;
} speeds[] = {
    {1200, B1200},     {2400, B2400},     {4800, B4800},     {9600, B9600},
    {19200, B19200},   {38400, B38400},   {57600, B57600},   {115200, B115200},
    {230400, B230400}, {460800, B460800}, {500000, B500000}, {576000, B576000},
    {921600, B921600},
};

/* The rates that libmodbus 3.1.6 knows: it takes 9600 for one it does not know. */
bool
serial_port_speed(uint32_t bps, speed_t *ret)
{
    for (size_t i = 0; i < sizeof speeds / sizeof *speeds; i++)
        if (speeds[i].bps == bps) {
            *ret = speeds[i].speed;
            return true;
        }
    return false;
}

static void
say_denied(const struct plan_bus *bus, const struct stat *status, struct driver_error *reterr)
{
    char owner_text[512], group_text[512], us_text[512];
    struct passwd owner, us, *has_owner = NULL, *has_us = NULL;
    struct group group, *has_group = NULL;
    (void)getpwuid_r(status->st_uid, &owner, owner_text, sizeof owner_text, &has_owner);
    (void)getpwuid_r(geteuid(), &us, us_text, sizeof us_text, &has_us);
    (void)getgrgid_r(status->st_gid, &group, group_text, sizeof group_text, &has_group);
    driver_say(
        reterr,
        "bus '%s': no permission for %s, which belongs to user %.31s and group %.31s; we "
        "run as "
        "user %.31s: add that user to the group",
        bus->id, bus->device, has_owner != NULL ? owner.pw_name : "?",
        has_group != NULL ? group.gr_name : "?", has_us != NULL ? us.pw_name : "?");
}

void
serial_port_say_not_open(const struct plan_bus *bus, int error, struct driver_error *reterr)
{
    struct stat status;
    const bool exists = stat(bus->device, &status) == 0;
    if (error == EACCES && exists)
        say_denied(bus, &status, reterr);
    else if (error == EBUSY)
        driver_say(reterr,
                   "bus '%s': %s is in use by another program; see which with: fuser -v %s",
                   bus->id, bus->device, bus->device);
    else if (!exists)
        driver_say(
            reterr,
            "bus '%s': %s does not exist; is the adapter plugged in, and is this its name "
            "(ls -l "
            "/dev/serial/by-id)?",
            bus->id, bus->device);
    else
        driver_say(reterr,
                   "bus '%s': %s cannot be opened (%s); is the adapter plugged in and working?",
                   bus->id, bus->device, strerror(error));
}

int
serial_port_open(const struct plan_bus *bus, struct driver_error *reterr)
{
    const int fd = open(bus->device, O_RDWR | O_NOCTTY | O_NONBLOCK | O_CLOEXEC);
    if (fd < 0) {
        serial_port_say_not_open(bus, errno, reterr);
        return -1;
    }
    if (isatty(fd) == 0)
        driver_say(reterr, "bus '%s': %s is not a serial line; check the device in the plan",
                   bus->id, bus->device);
    else if (flock(fd, LOCK_EX | LOCK_NB) != 0)
        serial_port_say_not_open(bus, errno == EWOULDBLOCK ? EBUSY : errno, reterr);
    else
        return fd;
    (void)close(fd); /* nothing was written */
    return -1;
}

bool
serial_port_is_pseudo(int fd)
{
    struct stat status;
    if (fstat(fd, &status) != 0)
        return false;
    const unsigned kind = major(status.st_rdev);
    return kind >= PTY_MAJOR_FIRST && kind <= PTY_MAJOR_LAST;
}

/* A pseudo-terminal keeps the mark for as long as its other end is open, even when we are
 * killed, and would then be closed to us as well: there the lock has to do. */
bool
serial_port_keep_out(int fd)
{
    return !serial_port_is_pseudo(fd) && ioctl(fd, TIOCEXCL) == 0;
}

void
serial_port_let_in(int fd)
{
    (void)ioctl(fd, TIOCNXCL); /* fails when the device is gone, and then does not matter */
}

/* Linux, Documentation/driver-api/serial/serial-rs485.rst: the sender is on while RTS is high.
 * Delays that the device tree set are kept. */
bool
serial_port_direct(int fd, const struct plan_bus *bus, struct driver_error *reterr)
{
    struct serial_rs485 mode;
    if (!bus->kernel_direction)
        return true;
    memset(&mode, 0, sizeof mode);
    if (ioctl(fd, TIOCGRS485, &mode) == 0) {
        mode.flags |= SER_RS485_ENABLED | SER_RS485_RTS_ON_SEND;
        mode.flags &= ~(__u32)(SER_RS485_RTS_AFTER_SEND | SER_RS485_RX_DURING_TX);
        if (ioctl(fd, TIOCSRS485, &mode) == 0)
            return true;
    }
    driver_say(reterr,
               "bus '%s': the kernel's driver of %s cannot switch the direction of an RS-485 "
               "line; write direction: adapter, and use an adapter that does it itself",
               bus->id, bus->device);
    return false;
}
