/* The simulated kitchen's devices: Modbus units with registers, on a serial line and on TCP.
 *
 * Frames are libmodbus's; one thread serves all. */
#ifndef KITCHEN_SERVE_H
#define KITCHEN_SERVE_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include <modbus/modbus.h>

#include "tests/kitchen/physics.h"

#define SERVE_UNITS       2
#define SERVE_CLIENTS_MAX 16

/* ---- units.c ---- */

/* RTU: unit 11, function 4, int16 in tenths: 0 roast core a, 1 no sensor, 2 oven air;
 *      unit 12, function 3, float32 ABCD: 0 to 1 hot cupboard air;
 *      unit 12, function 4, uint16, hundredths of an ohm of a Pt100: 0 roast core b.
 * TCP: unit 1, function 4, int16 in tenths: 0 walk-in air, 1 filling core, 2 chiller air;
 *      unit 1, function 2: 0 walk-in door, 1 = open;
 *      unit 2, function 3, uint16, hundredths above -40: 100 counter fridge air. All but
 * the ohms in degrees Celsius. */
struct unit {
    uint8_t id;
    modbus_mapping_t *map;
};

struct units {
    struct unit rtu[SERVE_UNITS], tcp[SERVE_UNITS];
};

/* False when memory is short; units_done in either case. */
bool units_init(struct units *units);
void units_done(struct units *units);
/* Registers as the kitchen is now. */
void units_update(struct units *units, const struct kitchen *kitchen);

/* ---- serve_rtu.c ---- */

struct rtu_server {
    const struct unit *units;
    char link[256], device[64];
    int line_fd;  /* the master's side */
    int other_fd; /* the device, kept open so that the line outlives its users */
    struct {
        modbus_t *context;
        int near_fd,
            far_fd; /* socket pair: libmodbus answers for one unit only, so each has its own */
    } stations[SERVE_UNITS];
    size_t len;
    uint8_t bytes[MODBUS_RTU_MAX_ADU_LENGTH];
};

/* Makes the line and the symbolic link to it; an old link is replaced. False with a reason in
 * why. */
bool rtu_open(struct rtu_server *server, const struct unit *units, const char *link, char *why,
              size_t why_size);
void rtu_close(struct rtu_server *server);
/* Bytes are there. True when a pause should be awaited: the request is not whole. */
bool rtu_readable(struct rtu_server *server);
/* The pause that ends a request has passed. */
void rtu_pause(struct rtu_server *server);

/* ---- serve_tcp.c ---- */

struct tcp_server {
    const struct unit *units;
    modbus_t *context;
    int listen_fd;
    uint16_t port;
    int clients[SERVE_CLIENTS_MAX]; /* -1: none */
};

/* Listens on loopback; port 0 takes any. False with a reason in why. */
bool tcp_open(struct tcp_server *server, const struct unit *units, uint16_t port, char *why,
              size_t why_size);
void tcp_close(struct tcp_server *server);
void tcp_accept(struct tcp_server *server);
void tcp_readable(struct tcp_server *server, size_t client);

#endif
