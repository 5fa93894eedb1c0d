/* What the files of the Modbus driver share: decoding, grouping, frames and the two kinds of
 * line.
 *
 * Names begin with mbus_ because modbus_ is libmodbus's. Nothing here logs or keeps anything
 * outside the state handed in; one line belongs to one thread. */
#ifndef DRIVERS_MODBUS_PARTS_H
#define DRIVERS_MODBUS_PARTS_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include <modbus/modbus.h>

#include "trivet/clock.h"
#include "trivet/log.h" /* TRIVET_PRINTF: a driver does not log */
#include "trivet/plan.h"
#include "trivet/probe_driver.h"

/* MODBUS Application Protocol V1.1b3, 6.3 and 6.4: 1 to 125 registers in a request. */
#define MBUS_REGISTERS_MAX 125
/* MODBUS over Serial Line V1.02, 2.5.1: at most 256 bytes; on TCP 7 + 253. */
#define MBUS_FRAME_MAX 260
/* MODBUS Application Protocol V1.1b3, section 7: a refusal has the function with this bit. */
#define MBUS_EXCEPTION_BIT 0x80
/* A USB adapter hands over what it has every 16 ms: a pause that long is no end of a frame. */
#define MBUS_ADAPTER_PAUSE_US 20000

/* ---- modbus_decode.c: pure ---- */

/* Registers that a value of the type takes: 1, 2 or 4. */
uint16_t mbus_type_registers(enum register_type type);
/* A probe's registers to thousandths of a degree Celsius. Returns READING_GOOD,
 * BAD_FAULT_VALUE, BAD_IMPLAUSIBLE or BAD_CONVERSION; *ret_temp_mC is TEMP_NONE unless good.
 * Integer arithmetic throughout, one rounding, half away from zero. */
uint16_t mbus_decode(const struct plan_probe *probe, const uint16_t *registers,
                     int32_t *ret_temp_mC);
/* The same of a probe with a sensor: millionths of the unit of its scale, the rest cut off, for
 * drivers/sensors.h. Returns READING_GOOD, BAD_FAULT_VALUE or BAD_CONVERSION. */
uint16_t mbus_decode_signal(const struct plan_probe *probe, const uint16_t *registers,
                            int64_t *ret_micro);

/* What the probe's status register says of its value. */
bool mbus_status_good(const struct plan_probe *probe, uint16_t status);

/* ---- modbus_requests.c: pure; the contract of struct probe_driver ---- */

size_t mbus_requests(const struct plan *plan, uint16_t bus, struct driver_request *ret,
                     size_t max);
/* Registers first to end - 1 that reading the probe takes: its value, and its status where that
 * lies beside it. */
struct mbus_span {
    uint32_t first, end;
};
struct mbus_span mbus_span_of(const struct plan_probe *probe);

/* ---- modbus_frame.c: pure ---- */

struct mbus_reply {
    uint16_t quality;  /* of the exchange: READING_GOOD or the cause */
    uint8_t exception; /* its code, when quality is BAD_EXCEPTION */
    bool echo;         /* the bytes were our own request: an adapter that echoes */
    uint16_t registers[MBUS_REGISTERS_MAX]; /* bits, as 0 or 1, of functions 01 and 02 */
};

/* CRC of MODBUS over Serial Line V1.02, 6.2.2. On the wire the low byte goes first. */
uint16_t mbus_crc(const uint8_t *bytes, size_t len);
/* Write a request and return its length: 8 on a serial line, 12 on TCP. */
size_t mbus_rtu_request(const struct driver_request *request, uint8_t *ret);
size_t mbus_tcp_request(const struct driver_request *request, uint16_t transaction,
                        uint8_t *ret);
/* Bytes of data in the reply to the request. */
size_t mbus_reply_data_bytes(const struct driver_request *request);
/* Bytes of the serial reply that begins in frame, by its own header; 0 while that cannot be
 * told. */
size_t mbus_rtu_reply_length(const uint8_t *frame, size_t len);
/* True while the bytes so far can still become the reply to the request. */
bool mbus_rtu_reply_fits(const struct driver_request *request, const uint8_t *frame,
                         size_t len);
/* Judges everything that arrived in an exchange. */
void mbus_rtu_judge(const struct driver_request *request, const uint8_t *frame, size_t len,
                    struct mbus_reply *ret);
/* Judges unit id and PDU of a TCP reply (the bytes behind the header's length field). */
void mbus_tcp_judge(const struct driver_request *request, const uint8_t *body, size_t len,
                    struct mbus_reply *ret);

/* ---- modbus_copies.c: pure; serial frames only ---- */

#define MBUS_COPIES_MAX 1024

struct mbus_heard {
    uint64_t print;
    int64_t at_ms;
};

/* The latest replies taken, in a ring; all zero = none yet. */
struct mbus_copies {
    size_t count, next;
    struct mbus_heard heard[MBUS_COPIES_MAX];
};

/* True when the reply equals one heard no more than while_ms before quiet_ms. That is when the
 * line was last found empty, before the question: a copy of what is older than that would have
 * been found then, however late this machine gets to look now. */
bool mbus_copies_may_be(const struct mbus_copies *copies, const uint8_t *frame, size_t len,
                        int64_t quiet_ms, int64_t while_ms);
/* Remembers a reply. False when one of the last while_ms had to be forgotten for it. */
bool mbus_copies_keep(struct mbus_copies *copies, const uint8_t *frame, size_t len,
                      int64_t now_ms, int64_t while_ms);

/* ---- modbus_line.c: what both lines need ---- */

struct mbus_line {
    const struct plan_bus *bus;
    const struct clock *clock;
    modbus_t *context;      /* owns fd */
    int fd;                 /* -1: TCP, not connected at the moment */
    int lock_fd;            /* RTU: holds the lock; -1 */
    bool exclusive;         /* RTU: TIOCEXCL is set */
    bool unsettled;         /* something went wrong: a late reply may still come */
    int64_t unsettled_ms;   /* since when nothing has been heard; ahead while one may answer */
    int64_t reply_until_ms; /* serial frames: end of the last request's time-out */
    int64_t quiet_ms;     /* serial frames: the line was empty until then, before the request */
    uint16_t transaction; /* TCP: of the last request */
    int owed;             /* TCP: requests in a row that got no reply on this connection */
    int64_t unit_ms[256]; /* when the last exchange with it ended; TIME_NONE */
    size_t frame_len;
    uint8_t frame[MBUS_FRAME_MAX];
    struct mbus_copies copies; /* serial frames */
};

enum mbus_wait { MBUS_READY, MBUS_LATE, MBUS_GONE };

/* Waits for POLLIN or POLLOUT; hang-ups and errors are MBUS_GONE. */
enum mbus_wait mbus_wait(int fd, short events, int64_t wait_us);
/* Sends all bytes before the deadline on the line's clock. */
enum mbus_wait mbus_send(struct mbus_line *line, const uint8_t *bytes, size_t len,
                         int64_t deadline_ms);
/* For how long something that belongs to the past may still arrive on a line of serial frames.
 */
int64_t mbus_past_ms(const struct plan_bus *bus);
/* From now on the line must be quiet for that long before the next request. */
void mbus_unsettle(struct mbus_line *line);
/* False with reterr when this process has so many files open that select() in libmodbus would
 * end it. */
bool mbus_descriptors_left(const struct plan_bus *bus, struct driver_error *reterr);
void mbus_say(struct driver_error *reterr, const char *format, ...) TRIVET_PRINTF(2, 3);
/* The cause of a failed exchange for people. */
void mbus_say_failed(const struct plan_bus *bus, const struct driver_request *request,
                     const struct mbus_reply *reply, struct driver_error *reterr);

/* ---- modbus_rtu.c, modbus_tcp.c ---- */

/* Silence that ends a serial frame, MODBUS over Serial Line V1.02, 2.5.1.1: 3.5 characters of
 * 11 bits; 1.75 ms above 19200 baud. */
int64_t mbus_silence_us(const struct plan_bus *bus);

/* Open returns false with reterr and leaves nothing open. An exchange returns false when the
 * line is gone; ret->quality then is the cause and reterr says why. Close accepts a line that
 * is not open. */
bool mbus_rtu_open(struct mbus_line *line, struct driver_error *reterr);
bool mbus_rtu_exchange(struct mbus_line *line, const struct driver_request *request,
                       struct mbus_reply *ret, struct driver_error *reterr);
void mbus_rtu_close(struct mbus_line *line);

bool mbus_tcp_open(struct mbus_line *line, struct driver_error *reterr);
bool mbus_tcp_exchange(struct mbus_line *line, const struct driver_request *request,
                       struct mbus_reply *ret, struct driver_error *reterr);
/* The same with serial frames on the connection: nothing in them says which request a reply is
 * for, so the rules are those of the serial line. */
bool mbus_rtu_tcp_exchange(struct mbus_line *line, const struct driver_request *request,
                           struct mbus_reply *ret, struct driver_error *reterr);
void mbus_tcp_close(struct mbus_line *line);

#endif
