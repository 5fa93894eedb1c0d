/* Any bytes as a recorded trace, plain or gzip: what is read rises in time and holds numbers or
 * nothing, what is refused says where and why. Corpus: tests/fuzz/corpus/trace. */
#define _GNU_SOURCE /* memfd_create */
#include <assert.h>
#include <math.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>
#include <sys/mman.h>
#include <unistd.h>

#include "daemon/cli/trace.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

static void
check_why(const char why[TRACE_ERROR_BYTES])
{
    assert(memchr(why, '\0', TRACE_ERROR_BYTES) != NULL);
    assert(why[0] != '\0');
}

static void
read_all(const char *path)
{
    struct trace trace;
    char why[TRACE_ERROR_BYTES] = "";
    if (!trace_open(&trace, path, why)) {
        check_why(why);
        return;
    }
    double last_s = -INFINITY;
    struct forecast_reading reading;
    enum trace_status status;
    while ((status = trace_next(&trace, &reading, why)) == TRACE_ROW) {
        assert(isfinite(reading.time_s) && reading.time_s > last_s);
        assert(!isinf(reading.core_C) && !isinf(reading.air_C));
        last_s = reading.time_s;
    }
    if (status == TRACE_BAD)
        check_why(why);
    trace_close(&trace);
}

int
LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    int fd = memfd_create("trace", MFD_CLOEXEC);
    assert(fd >= 0);
    bool written = write(fd, data, size) == (ssize_t)size;
    assert(written);
    char path[64];
    (void)snprintf(path, sizeof path, "/proc/self/fd/%d", fd);
    read_all(path);
    (void)close(fd);
    return 0;
}
