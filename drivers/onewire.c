/* 1-Wire thermometers behind the kernel's w1 subsystem.
 *
 * Reading a file has the sensor measure (up to 750 ms each); the wait is the kernel's and ends
 * by itself. From w1_slave the whole scratchpad is had, and its check sum computed by us; the
 * file `temperature` of kernels without it shows only the number. Nothing stays open. One state
 * belongs to one thread; docs/onewire.md tells users what cannot be told apart. */
#include "drivers/onewire.h"

#include <assert.h>
#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

#include "drivers/parts.h"
#include "trivet/line_pattern.h" /* exact decimals */
#include "trivet/reading.h"

#define ROOT_DEFAULT  "/sys/bus/w1/devices"
#define PATH_MAX_OURS 400 /* a plan's path of 255 bytes, an id, a file */
#define SCRATCHPAD    9   /* bytes; the last is the check sum of the others */
#define FAMILY_S20    "10"

struct onewire_state {
    const struct plan *plan;
    const struct plan_bus *bus;
    const char *root;
};

/* ---- what the kernel shows ---- */

/* Dallas/Maxim application note 27: x^8 + x^5 + x^4 + 1, least significant bit first. */
static uint8_t
crc_of(const uint8_t *bytes, size_t len)
{
    unsigned crc = 0;
    for (size_t i = 0; i < len; i++) {
        crc ^= bytes[i];
        for (int bit = 0; bit < 8; bit++)
            crc = (crc & 1U) != 0 ? crc >> 1 ^ 0x8cU : crc >> 1;
    }
    return (uint8_t)crc;
}

/* Nine bytes "50 05 4b ..." from the beginning of a line. Returns what follows, or NULL. */
static const char *
read_scratchpad(const char *text, uint8_t ret[SCRATCHPAD])
{
    static const char digits[] = "0123456789abcdef";
    for (size_t i = 0; i < SCRATCHPAD; i++, text += 3) {
        const char *high = text[0] != '\0' ? strchr(digits, text[0]) : NULL;
        const char *low = high != NULL && text[1] != '\0' ? strchr(digits, text[1]) : NULL;
        if (low == NULL || text[2] != ' ')
            return NULL;
        ret[i] = (uint8_t)((high - digits) * 16 + (low - digits));
    }
    return text;
}

/* "t=85000": whole thousandths of a degree Celsius, to the end of the text. */
static bool
read_number(const char *text, int64_t *ret_mC)
{
    struct line_number number;
    if (!line_number((const uint8_t *)text, strlen(text), &number) || number.decimals != 0)
        return false;
    *ret_mC = number.mantissa;
    return true;
}

/* What a sensor holds from power-on until it has measured: 85 °C. DS18B20 data sheet (Maxim
 * 19-7487), table 1 and figure 9: 0550h; a DS18S20 (19-5474) has 00AAh with COUNT REMAIN 0Ch.
 * Of the DS18B20's reserved byte 6 the data sheet tells its 0Ch at power-on only; that a
 * measured value leaves 10h minus its lowest four bits there is common practice, no source. */
static bool
is_power_on(const char *family, const uint8_t scratchpad[SCRATCHPAD])
{
    const bool is_s20 = strncmp(family, FAMILY_S20, 2) == 0;
    return scratchpad[6] == 0x0c && (is_s20 ? scratchpad[0] == 0xaa && scratchpad[1] == 0x00
                                            : scratchpad[0] == 0x50 && scratchpad[1] == 0x05);
}

/* A line held at ground reads as zeros, and the check sum of zeros is zero. */
static bool
is_all_zero(const uint8_t scratchpad[SCRATCHPAD])
{
    for (size_t i = 0; i < SCRATCHPAD; i++)
        if (scratchpad[i] != 0)
            return false;
    return true;
}

/* Common to both files: what libraries and old kernels write for a sensor that is gone, and
 * what no sensor of these families can measure (data sheets: -55 to +125 °C). */
static struct driver_sample
judge_number(const struct plan_probe *probe, int64_t temp_mC)
{
    if (temp_mC == -127000)
        return driver_bad(BAD_FAULT_VALUE);
    if (temp_mC < -55000 || temp_mC > 125000)
        return driver_bad(BAD_IMPLAUSIBLE);
    return driver_sample_of(probe, temp_mC);
}

/* "50 05 4b 46 7f ff 0c 10 1c : crc=1c YES" and "50 05 ... t=85000": Linux,
 * Documentation/w1/slaves/w1_therm.rst. */
static struct driver_sample
judge_slave(const struct plan_probe *probe, const char *text)
{
    uint8_t first[SCRATCHPAD], second[SCRATCHPAD];
    char sound[20];
    int64_t temp_mC;
    const char *sum = read_scratchpad(text, first);
    const char *line = sum != NULL ? strchr(sum, '\n') : NULL;
    if (line == NULL || strncmp(sum, ": crc=", 6) != 0)
        return driver_bad(BAD_FRAME);
    const uint8_t crc = crc_of(first, SCRATCHPAD - 1);
    (void)snprintf(sound, sizeof sound, ": crc=%02x YES\n", crc); /* fits */
    if (crc != first[SCRATCHPAD - 1] || strncmp(sum, sound, strlen(sound)) != 0)
        return driver_bad(BAD_CRC);
    const char *number = read_scratchpad(line + 1, second);
    if (number == NULL || strncmp(number, "t=", 2) != 0 || !read_number(number + 2, &temp_mC))
        return driver_bad(BAD_FRAME);
    /* The second line repeats the bytes; after a failure a kernel shows older ones there. */
    if (memcmp(first, second, sizeof first) != 0)
        return driver_bad(BAD_FRAME);
    if (is_all_zero(first) || is_power_on(probe->address, first))
        return driver_bad(BAD_FAULT_VALUE);
    return judge_number(probe, temp_mC);
}

/* Without the scratchpad 85 °C may always be the power-on value. */
static struct driver_sample
judge_plain(const struct plan_probe *probe, const char *text)
{
    int64_t temp_mC;
    if (!read_number(text, &temp_mC))
        return driver_bad(BAD_FRAME);
    if (temp_mC == 85000)
        return driver_bad(BAD_FAULT_VALUE);
    return judge_number(probe, temp_mC);
}

/* ---- one exchange ---- */

static struct driver_sample
read_sensor(const struct onewire_state *state, const struct plan_probe *probe)
{
    char path[PATH_MAX_OURS], text[256];
    (void)snprintf(path, sizeof path, "%s/%s/w1_slave", state->root, probe->address); /* fits */
    int error = driver_read_file(path, text, sizeof text);
    const bool is_plain = error == ENOENT;
    if (is_plain) {
        (void)snprintf(path, sizeof path, "%s/%s/temperature", state->root,
                       probe->address); /* fits */
        error = driver_read_file(path, text, sizeof text);
    }
    if (error == EFBIG)
        return driver_bad(BAD_FRAME);
    if (error != 0 || text[0] == '\0') /* nothing at all: it did not answer the bus */
        return driver_bad(BAD_TIMEOUT);
    return is_plain ? judge_plain(probe, text) : judge_slave(probe, text);
}

static bool
root_is_there(const struct onewire_state *state, struct driver_error *reterr)
{
    struct stat status;
    if (stat(state->root, &status) == 0 && S_ISDIR(status.st_mode))
        return true;
    driver_say(reterr,
               "bus '%s': there is no %s; is the adapter plugged in, and is the kernel's w1 "
               "driver loaded (on a single-board computer: dtoverlay=w1-gpio)?",
               state->bus->id, state->root);
    return false;
}

static void
say_failed(const struct onewire_state *state, const struct plan_probe *probe, uint16_t cause,
           struct driver_error *reterr)
{
    driver_say(reterr, "bus '%s', sensor %s: %s", state->bus->id, probe->address,
               cause == BAD_TIMEOUT ? "no answer; check its cable and plug, and its id with "
                                      "ls /sys/bus/w1/devices"
               : cause == BAD_CRC   ? "a wrong check sum; check cable length, pull-up resistor "
                                      "and ground"
                                  : "the kernel shows something that is no reading; check the "
                                    "sensor");
}

static bool
onewire_read(void *state_arg, const struct driver_request *request,
             struct driver_sample *ret_samples, struct driver_error *reterr)
{
    const struct onewire_state *state = state_arg;
    if (!root_is_there(state, reterr)) {
        driver_fail(request, BAD_LINK, ret_samples);
        return false;
    }
    for (uint16_t i = 0; i < request->count; i++) {
        const struct plan_probe *probe = &state->plan->probes[request->probes[i]];
        ret_samples[i] = read_sensor(state, probe);
        const uint16_t cause = ret_samples[i].quality;
        if (cause == BAD_TIMEOUT || cause == BAD_CRC || cause == BAD_FRAME)
            say_failed(state, probe, cause, reterr);
    }
    return true;
}

static bool
onewire_open(const struct plan *plan, uint16_t bus, const struct clock *clock, void **ret_state,
             struct driver_error *reterr)
{
    (void)clock; /* the kernel waits for us */
    assert(bus < plan->bus_count);
    struct onewire_state *state = calloc(1, sizeof *state);
    if (state == NULL) {
        driver_say(reterr, "bus '%s': out of memory", plan->buses[bus].id);
        return false;
    }
    state->plan = plan;
    state->bus = &plan->buses[bus];
    state->root = state->bus->root != NULL ? state->bus->root : ROOT_DEFAULT;
    if (!root_is_there(state, reterr)) {
        free(state);
        return false;
    }
    *ret_state = state;
    return true;
}

static void
onewire_close(void *state)
{
    free(state);
}

const struct probe_driver driver_onewire = {
    .name = "onewire",
    .requests = driver_requests_alone,
    .open = onewire_open,
    .read = onewire_read,
    .close = onewire_close,
};
