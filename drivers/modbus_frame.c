/* Modbus frames for functions 01 to 04, and 05 for the coils of signals: built, measured,
 * judged.
 *
 * Judging looks at everything that arrived, so that a stray byte before or behind a reply
 * spoils the exchange instead of slipping through. Pure; owns nothing. Sources: MODBUS
 * Application Protocol V1.1b3; MODBUS over Serial Line V1.02; MODBUS Messaging on TCP/IP V1.0b.
 */
#include "drivers/modbus_parts.h"

#include <string.h>

#include "trivet/reading.h"

uint16_t
mbus_crc(const uint8_t *bytes, size_t len)
{
    uint32_t crc = 0xffff;
    for (size_t i = 0; i < len; i++) {
        crc ^= bytes[i];
        for (int bit = 0; bit < 8; bit++)
            crc = (crc & 1U) != 0 ? crc >> 1 ^ 0xa001U : crc >> 1;
    }
    return (uint16_t)crc;
}

static void
put_16(uint8_t *at, uint16_t value)
{
    at[0] = (uint8_t)(value >> 8);
    at[1] = (uint8_t)(value & 0xff);
}

/* Unit, function, first register, count: the same on both kinds of line. */
static void
put_request(const struct driver_request *request, uint8_t *ret)
{
    ret[0] = request->unit;
    ret[1] = request->function;
    put_16(ret + 2, request->first_reg);
    if (request->function == MODBUS_FC_WRITE_SINGLE_COIL)
        put_16(ret + 4, request->is_on ? 0xff00 : 0); /* 6.5 */
    else
        put_16(ret + 4, request->reg_count);
}

size_t
mbus_rtu_request(const struct driver_request *request, uint8_t *ret)
{
    put_request(request, ret);
    const uint16_t crc = mbus_crc(ret, 6);
    ret[6] = (uint8_t)(crc & 0xff);
    ret[7] = (uint8_t)(crc >> 8);
    return 8;
}

size_t
mbus_tcp_request(const struct driver_request *request, uint16_t transaction, uint8_t *ret)
{
    put_16(ret, transaction);
    put_16(ret + 2, 0); /* protocol: Modbus */
    put_16(ret + 4, 6); /* bytes that follow */
    put_request(request, ret + 6);
    return 12;
}

static bool
reads_bits(uint8_t function)
{
    return function == MODBUS_FC_READ_COILS || function == MODBUS_FC_READ_DISCRETE_INPUTS;
}

static bool
reading_function(uint8_t function)
{
    return function == MODBUS_FC_READ_HOLDING_REGISTERS ||
           function == MODBUS_FC_READ_INPUT_REGISTERS || reads_bits(function);
}

/* The reply to function 05 is the request again: unit, function, address, value. */
#define ECHO_BYTES 6

static bool
writes(uint8_t function)
{
    return function == MODBUS_FC_WRITE_SINGLE_COIL;
}

size_t
mbus_reply_data_bytes(const struct driver_request *request)
{
    if (writes(request->function))
        return ECHO_BYTES - 3;
    return reads_bits(request->function) ? (request->reg_count + 7U) / 8
                                         : (size_t)2 * request->reg_count;
}

static void
take_data(const struct driver_request *request, const uint8_t *data, struct mbus_reply *ret)
{
    for (uint16_t i = 0; i < request->reg_count; i++)
        ret->registers[i] =
            (uint16_t)(reads_bits(request->function)
                           ? data[i / 8] >> i % 8 & 1
                           : data[(size_t)2 * i] << 8 | data[(size_t)2 * i + 1]);
}

size_t
mbus_rtu_reply_length(const uint8_t *frame, size_t len)
{
    if (len >= 2 && (frame[1] & MBUS_EXCEPTION_BIT) != 0)
        return 5;
    if (len >= 2 && writes(frame[1]))
        return ECHO_BYTES + 2;
    if (len >= 3 && reading_function(frame[1]))
        return 5U + frame[2];
    return 0;
}

bool
mbus_rtu_reply_fits(const struct driver_request *request, const uint8_t *frame, size_t len)
{
    if (len >= 1 && frame[0] != request->unit)
        return false;
    if (len >= 2 && frame[1] == (request->function | MBUS_EXCEPTION_BIT))
        return len <= 5;
    if (len >= 2 && frame[1] != request->function)
        return false;
    if (writes(request->function)) {
        uint8_t sent[ECHO_BYTES];
        put_request(request, sent);
        return len <= ECHO_BYTES + 2 &&
               memcmp(frame, sent, len < sizeof sent ? len : sizeof sent) == 0;
    }
    return len < 3 || (frame[2] == mbus_reply_data_bytes(request) && len <= 5U + frame[2]);
}

static bool
crc_good(const uint8_t *frame, size_t len)
{
    const uint16_t crc = mbus_crc(frame, len - 2);
    return frame[len - 2] == (crc & 0xff) && frame[len - 1] == crc >> 8;
}

/* Unit and PDU, known to be whole: is it the reply to this request? */
static uint16_t
judge_body(const struct driver_request *request, const uint8_t *body, size_t len,
           struct mbus_reply *ret)
{
    if (body[0] != request->unit)
        return BAD_WRONG_UNIT;
    if (body[1] == (request->function | MBUS_EXCEPTION_BIT)) {
        if (len != 3)
            return BAD_FRAME;
        ret->exception = body[2];
        return BAD_EXCEPTION;
    }
    if (body[1] != request->function)
        return BAD_WRONG_UNIT;
    if (writes(request->function)) {
        uint8_t sent[ECHO_BYTES];
        put_request(request, sent);
        return len != ECHO_BYTES                     ? BAD_FRAME
               : memcmp(body, sent, ECHO_BYTES) == 0 ? READING_GOOD
                                                     : BAD_WRONG_UNIT;
    }
    if (len < 3 || len != 3U + body[2])
        return BAD_FRAME;
    if (body[2] != mbus_reply_data_bytes(request))
        return BAD_WRONG_UNIT;
    take_data(request, body + 3, ret);
    return READING_GOOD;
}

void
mbus_rtu_judge(const struct driver_request *request, const uint8_t *frame, size_t len,
               struct mbus_reply *ret)
{
    uint8_t sent[8];
    memset(ret, 0, sizeof *ret);
    if (len == 0) {
        ret->quality = BAD_TIMEOUT;
        return;
    }
    if (len >= 8 && !writes(request->function)) {
        (void)mbus_rtu_request(request, sent);
        ret->echo = memcmp(frame, sent, sizeof sent) == 0;
    }
    const size_t whole = mbus_rtu_reply_length(frame, len);
    if (whole != 0 && len >= whole && crc_good(frame, whole)) {
        ret->quality = judge_body(request, frame, whole - 2, ret);
        /* More than the reply: what else came, and from whom, is unknown. */
        if (len > whole && ret->quality != BAD_WRONG_UNIT)
            ret->quality = BAD_FRAME;
        return;
    }
    if (whole == 0 && len >= 4 && crc_good(frame, len)) /* a function that we never ask for */
        ret->quality = BAD_WRONG_UNIT;
    else if (whole != 0 && len == whole)
        ret->quality = BAD_CRC;
    else
        ret->quality = BAD_FRAME;
}

void
mbus_tcp_judge(const struct driver_request *request, const uint8_t *body, size_t len,
               struct mbus_reply *ret)
{
    memset(ret, 0, sizeof *ret);
    ret->quality = len < 2 ? BAD_FRAME : judge_body(request, body, len, ret);
}
