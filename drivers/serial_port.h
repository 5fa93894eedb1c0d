/* Serial ports, for every driver that talks on one: speeds, the lock that keeps others out, and
 * words for what goes wrong. One port belongs to one thread. */
#ifndef DRIVERS_SERIAL_PORT_H
#define DRIVERS_SERIAL_PORT_H

#include <stdbool.h>
#include <stdint.h>
#include <termios.h>

#include "trivet/plan.h"
#include "trivet/probe_driver.h"

/* The rates that a plan may give; false for any other. */
bool serial_port_speed(uint32_t bps, speed_t *ret);

/* Opens the bus's device and locks it against other daemons. The lock outlives nothing: the
 * kernel drops it with the descriptor, however we end. -1 with reterr. */
int serial_port_open(const struct plan_bus *bus, struct driver_error *reterr);

/* Has the kernel refuse whoever opens the device from now on, and returns whether it does;
 * ended by serial_port_let_in. */
bool serial_port_keep_out(int fd);
void serial_port_let_in(int fd);

/* Whether it is a pseudo-terminal, as programs offer that bring a line from elsewhere. It has
 * neither parity nor seven bits, and must not be asked for them: the C library calls that
 * invalid when all else is set already, as whoever was killed leaves it. */
bool serial_port_is_pseudo(int fd);

/* Has the kernel switch the line between sending and hearing, where the plan says so. False
 * with reterr when its driver cannot. */
bool serial_port_direct(int fd, const struct plan_bus *bus, struct driver_error *reterr);

/* Why the device cannot be opened; error is the errno. */
void serial_port_say_not_open(const struct plan_bus *bus, int error,
                              struct driver_error *reterr);

#endif
