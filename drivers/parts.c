/* See drivers/parts.h. Owns nothing. */
#include "drivers/parts.h"

#include <assert.h>
#include <errno.h>
#include <fcntl.h>
#include <stdarg.h>
#include <stdio.h>
#include <unistd.h>

#include "trivet/reading.h"
#include "trivet/units.h"

void
driver_say(struct driver_error *reterr, const char *format, ...)
{
    va_list args;
    va_start(args, format);
    (void)vsnprintf(reterr->text, sizeof reterr->text, format, args); /* cut when too long */
    va_end(args);
}

struct driver_sample
driver_bad(uint16_t cause)
{
    return (struct driver_sample){.temp_mC = TEMP_NONE, .quality = cause};
}

void
driver_fail(const struct driver_request *request, uint16_t cause,
            struct driver_sample *ret_samples)
{
    for (uint16_t i = 0; i < request->count; i++)
        ret_samples[i] = driver_bad(cause);
}

/* ---- grouping ---- */

/* The request that has room for a probe of this period, or count. */
static size_t
request_for(const struct driver_request *requests, size_t count, int32_t every_ms)
{
    for (size_t i = 0; i < count; i++)
        if (requests[i].every_ms == every_ms && requests[i].count < DRIVER_REQUEST_PROBES_MAX)
            return i;
    return count;
}

static size_t
group(const struct plan *plan, uint16_t bus, bool together, struct driver_request *ret,
      size_t max)
{
    size_t count = 0;
    for (size_t i = 0; i < plan->probe_count; i++) {
        const struct plan_probe *probe = &plan->probes[i];
        if (probe->bus != bus)
            continue;
        const size_t at = together ? request_for(ret, count, probe->every_ms) : count;
        if (at == count) {
            if (count == max)
                break;
            ret[count] =
                (struct driver_request){.unit = (uint8_t)count, .every_ms = probe->every_ms};
            count++;
        }
        ret[at].probes[ret[at].count++] = (uint16_t)i;
    }
    return count;
}

size_t
driver_requests_alone(const struct plan *plan, uint16_t bus, struct driver_request *ret,
                      size_t max)
{
    return group(plan, bus, false, ret, max);
}

size_t
driver_requests_together(const struct plan *plan, uint16_t bus, struct driver_request *ret,
                         size_t max)
{
    return group(plan, bus, true, ret, max);
}

/* ---- arithmetic ---- */

bool
driver_times(int64_t a, int64_t b, int64_t *ret)
{
    if (a == INT64_MIN || b == INT64_MIN)
        return false;
    const int64_t a_size = a < 0 ? -a : a;
    if (a != 0 && (b < 0 ? -b : b) > INT64_MAX / a_size)
        return false;
    *ret = a * b;
    return true;
}

bool
driver_plus(int64_t a, int64_t b, int64_t *ret)
{
    if (b > 0 ? a > INT64_MAX - b : a < INT64_MIN - b)
        return false;
    *ret = a + b;
    return true;
}

int64_t
driver_power_of_ten(int exponent)
{
    int64_t power = 1;
    assert(exponent >= 0 && exponent <= 18);
    while (exponent-- > 0)
        power *= 10;
    return power;
}

int64_t
driver_rounded(int64_t numerator, int64_t divisor)
{
    assert(divisor > 0);
    const int64_t whole = numerator / divisor;
    const int64_t rest = numerator % divisor;
    const int64_t rest_size = rest < 0 ? -rest : rest;
    if (rest_size < divisor - rest_size) /* less than half */
        return whole;
    return numerator < 0 ? whole - 1 : whole + 1;
}

struct driver_sample
driver_sample_of(const struct plan_probe *probe, int64_t temp_mC)
{
    if (temp_mC > INT32_MAX || temp_mC <= TEMP_NONE)
        return driver_bad(BAD_CONVERSION);
    if (temp_mC < probe->plausible_min_mC || temp_mC > probe->plausible_max_mC)
        return driver_bad(BAD_IMPLAUSIBLE);
    return (struct driver_sample){.temp_mC = (int32_t)temp_mC, .quality = READING_GOOD};
}

/* ---- files ---- */

int
driver_read_file(const char *path, char *ret_text, size_t size)
{
    size_t len = 0;
    int error = 0;
    assert(size > 1);
    const int fd = open(path, O_RDONLY | O_CLOEXEC | O_NOCTTY | O_NONBLOCK);
    if (fd < 0)
        return errno;
    while (error == 0 && len < size) {
        const ssize_t got = read(fd, ret_text + len, size - len);
        if (got > 0)
            len += (size_t)got;
        else if (got == 0)
            break;
        else if (errno != EINTR)
            error = errno;
    }
    (void)close(fd); /* only read */
    if (error != 0)
        return error;
    if (len == size)
        return EFBIG;
    if (len > 0 && ret_text[len - 1] == '\n')
        len--;
    ret_text[len] = '\0';
    return 0;
}
