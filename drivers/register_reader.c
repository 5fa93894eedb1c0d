/* Questions to a Modbus bus without a plan, for the search of probes. See
 * include/trivet/register_reader.h.
 *
 * Owns one line per reader, used by one thread; the exchange is the driver's own. Must not
 * write to a device, log or retry. */
#define _DEFAULT_SOURCE /* flock */

#include "trivet/register_reader.h"

#include <assert.h>
#include <errno.h>
#include <fcntl.h>
#include <stdlib.h>
#include <string.h>
#include <sys/file.h>
#include <unistd.h>

#include "drivers/modbus_parts.h"
#include "trivet/reading.h"
#include "trivet/sensor.h"
#include "trivet/units.h"

static_assert(REGISTER_READ_MAX == MBUS_REGISTERS_MAX, "an answer holds any reply");

struct register_reader {
    struct mbus_line line;
};

static bool
is_rtu(const struct plan_bus *bus)
{
    return bus->driver == BUS_MODBUS_RTU;
}

/* Tried before the line is opened for good: the lock, or the mark of another program. Root is
 * let through the mark, but not through the lock. */
static bool
is_held(const char *device)
{
    const int fd = open(device, O_RDWR | O_NOCTTY | O_NONBLOCK | O_CLOEXEC);
    if (fd < 0)
        return errno == EBUSY;
    const bool held = flock(fd, LOCK_EX | LOCK_NB) != 0 && errno == EWOULDBLOCK;
    (void)close(fd); /* nothing was written; the lock goes with it */
    return held;
}

enum register_line
register_reader_open(const struct plan_bus *bus, const struct clock *clock,
                     struct register_reader **ret, struct driver_error *reterr)
{
    if (is_rtu(bus) && is_held(bus->device)) {
        mbus_say(reterr, "%s is in use by another program; see which with: fuser -v %s",
                 bus->device, bus->device);
        return REGISTER_LINE_HELD;
    }
    struct register_reader *reader = calloc(1, sizeof *reader);
    if (reader == NULL) {
        mbus_say(reterr, "bus '%s': out of memory", bus->id);
        return REGISTER_LINE_FAILED;
    }
    reader->line.bus = bus;
    reader->line.clock = clock;
    for (size_t i = 0; i < sizeof reader->line.unit_ms / sizeof *reader->line.unit_ms; i++)
        reader->line.unit_ms[i] = TIME_NONE;
    if (!(is_rtu(bus) ? mbus_rtu_open : mbus_tcp_open)(&reader->line, reterr)) {
        free(reader);
        return REGISTER_LINE_FAILED;
    }
    if (bus->driver == BUS_MODBUS_RTU_TCP)
        mbus_unsettle(&reader->line); /* a reply may be owed to whoever was connected before */
    *ret = reader;
    return REGISTER_LINE_OPEN;
}

static bool
exchange(struct mbus_line *line, const struct driver_request *request, struct mbus_reply *ret,
         struct driver_error *reterr)
{
    if (is_rtu(line->bus))
        return mbus_rtu_exchange(line, request, ret, reterr);
    if (line->bus->driver == BUS_MODBUS_RTU_TCP)
        return mbus_rtu_tcp_exchange(line, request, ret, reterr);
    return mbus_tcp_exchange(line, request, ret, reterr);
}

bool
register_reader_read(struct register_reader *reader, const struct register_question *question,
                     struct register_answer *ret, struct driver_error *reterr)
{
    assert(question->function == MODBUS_FC_READ_HOLDING_REGISTERS ||
           question->function == MODBUS_FC_READ_INPUT_REGISTERS);
    assert(question->count >= 1 && question->count <= REGISTER_READ_MAX);
    const struct driver_request request = {
        .unit = question->unit,
        .function = question->function,
        .first_reg = question->first,
        .reg_count = question->count,
    };
    struct mbus_reply reply = {.quality = BAD_LINK};
    const bool there = exchange(&reader->line, &request, &reply, reterr);
    ret->quality = reply.quality;
    ret->exception = reply.exception;
    ret->echo = reply.echo;
    memcpy(ret->registers, reply.registers, sizeof ret->registers);
    return there;
}

void
register_reader_close(struct register_reader *reader)
{
    if (reader == NULL)
        return;
    (is_rtu(reader->line.bus) ? mbus_rtu_close : mbus_tcp_close)(&reader->line);
    free(reader);
}

uint16_t
register_type_count(enum register_type type)
{
    return mbus_type_registers(type);
}

/* Sensors without a cold junction, so that nothing has to be remembered. */
static uint16_t
decode_signal(const struct plan_probe *probe, const uint16_t *registers, int32_t *ret_temp_mC)
{
    struct sensor sensor;
    struct sensor_refusal why = {{0}};
    int64_t micro;
    int32_t temp_mC;
    const uint16_t quality = mbus_decode_signal(probe, registers, &micro);
    if (quality != READING_GOOD)
        return quality;
    if (!sensor_parse(probe->sensor, &sensor, &why) || sensor.family == SENSOR_THERMOCOUPLE)
        return BAD_COLD_JUNCTION;
    if (sensor_temp(&sensor, micro, probe->signal, 0, &temp_mC) != CONVERT_OK)
        return BAD_SIGNAL;
    if (temp_mC < probe->plausible_min_mC || temp_mC > probe->plausible_max_mC)
        return BAD_IMPLAUSIBLE;
    *ret_temp_mC = temp_mC;
    return READING_GOOD;
}

uint16_t
register_decode(const struct plan_probe *probe, const uint16_t *registers, int32_t *ret_temp_mC)
{
    *ret_temp_mC = TEMP_NONE;
    return probe->sensor != NULL ? decode_signal(probe, registers, ret_temp_mC)
                                 : mbus_decode(probe, registers, ret_temp_mC);
}
