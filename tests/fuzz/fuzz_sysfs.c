/* Any text in the files in which the kernel shows 1-Wire sensors and converter chips. A
 * temperature that is taken lies where the plan finds it plausible, and a whole scratchpad it
 * was read from bears the right check sum and the number the kernel made of it. The input is
 * the text of w1_slave, of in_temp_raw, of in_temp_offset and of in_temp_scale, each up to a
 * zero byte. Corpus: tests/fuzz/corpus/sysfs. */
#include <assert.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "trivet/clock.h"
#include "trivet/probe_driver.h"
#include "trivet/reading.h"
#include "trivet/units.h"

int LLVMFuzzerInitialize(int *argc, char ***argv);
int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

#define SENSOR "28-0316a2794aff"
#define CHIP   "iio:device0"

static const char *const files[] = {SENSOR "/w1_slave", CHIP "/in_temp_raw",
                                    CHIP "/in_temp_offset", CHIP "/in_temp_scale"};

static char root[] = "/tmp/trivet-fuzz-XXXXXX";
static struct plan plan;
static struct plan_bus buses[2];
static struct plan_probe probes[2];
static struct clock clock_of_ours;
static void *states[2];

static void
path_of(char *ret, size_t room, const char *file)
{
    int len = snprintf(ret, room, "%s/%s", root, file);
    assert(len > 0 && (size_t)len < room);
}

static void
remove_all(void)
{
    static const char *const folders[] = {SENSOR, CHIP, ""};
    char path[100];
    for (size_t i = 0; i < (sizeof files / sizeof *files); i++) {
        path_of(path, sizeof path, files[i]);
        (void)unlink(path); /* may be absent */
    }
    for (size_t i = 0; i < (sizeof folders / sizeof *folders); i++) {
        path_of(path, sizeof path, folders[i]);
        (void)rmdir(path); /* the system clears /tmp */
    }
}

int
LLVMFuzzerInitialize(int *argc, char ***argv)
{
    char path[100];
    struct driver_error error;
    (void)argc;
    (void)argv;
    clock_of_ours = clock_machine();
    if (mkdtemp(root) == NULL)
        abort();
    (void)atexit(remove_all); /* else the system clears /tmp */
    path_of(path, sizeof path, SENSOR);
    assert(mkdir(path, 0700) == 0);
    path_of(path, sizeof path, CHIP);
    assert(mkdir(path, 0700) == 0);
    buses[0] = (struct plan_bus){.id = "w1", .driver = BUS_ONEWIRE, .root = root};
    buses[1] = (struct plan_bus){.id = "chips", .driver = BUS_IIO, .root = root};
    for (uint16_t i = 0; i < 2; i++)
        probes[i] = (struct plan_probe){.bus = i,
                                        .address = SENSOR,
                                        .node = CHIP,
                                        .channel = "in_temp",
                                        .plausible_min_mC = -40000,
                                        .plausible_max_mC = 120000,
                                        .every_ms = 1000};
    plan = (struct plan){.buses = buses, .bus_count = 2, .probes = probes, .probe_count = 2};
    for (uint16_t i = 0; i < 2; i++)
        if (!probe_driver_for(buses[i].driver)
                 ->open(&plan, i, &clock_of_ours, &states[i], &error))
            abort();
    return 0;
}

/* Dallas/Maxim application note 27, most significant bit first: unlike the driver's. */
static unsigned
remainder_of(const unsigned *bytes, size_t len)
{
    unsigned reg = 0;
    for (size_t i = 0; i < len; i++)
        for (int bit = 0; bit < 8; bit++) {
            const unsigned in = bytes[i] >> bit & 1, out = reg >> 7 & 1;
            reg = (reg << 1 & 0xff) ^ (in != out ? 0x31U : 0);
        }
    return reg;
}

static void
check_scratchpad(const char *text, int32_t temp_mC)
{
    unsigned b[9];
    assert(sscanf(text, "%x %x %x %x %x %x %x %x %x", &b[0], &b[1], &b[2], &b[3], &b[4], &b[5],
                  &b[6], &b[7], &b[8]) == 9);
    assert(remainder_of(b, 9) == 0);
    const char *number = strstr(text, "t=");
    assert(number != NULL && strtol(number + 2, NULL, 10) == temp_mC);
    assert(strstr(text, "YES\n") != NULL);
}

/* Returns the text of the w1_slave file, cut short where a driver need not read on. */
static void
write_files(const uint8_t *data, size_t size, char *ret_slave, size_t room)
{
    char path[100];
    for (size_t i = 0; i < (sizeof files / sizeof *files); i++) {
        const uint8_t *end = memchr(data, 0, size);
        const size_t len = end != NULL ? (size_t)(end - data) : size;
        path_of(path, sizeof path, files[i]);
        FILE *out = fopen(path, "wb");
        if (out == NULL || fwrite(data, 1, len, out) != len || fclose(out) != 0)
            abort();
        if (i == 0)
            (void)snprintf(ret_slave, room, "%.*s", (int)len, (const char *)data); /* may cut */
        data += end != NULL ? len + 1 : len;
        size -= end != NULL ? len + 1 : len;
    }
}

int
LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    char slave[300];
    if (size > 2000)
        return 0;
    write_files(data, size, slave, sizeof slave);
    for (uint16_t i = 0; i < 2; i++) {
        struct driver_request request;
        struct driver_sample sample;
        struct driver_error error = {{0}};
        const struct probe_driver *driver = probe_driver_for(buses[i].driver);
        assert(driver->requests(&plan, i, &request, 1) == 1);
        assert(driver->read(states[i], &request, &sample, &error));
        if (sample.quality != READING_GOOD) {
            assert(sample.temp_mC == TEMP_NONE);
            continue;
        }
        assert(sample.temp_mC >= -40000 && sample.temp_mC <= 120000);
        if (i == 0)
            check_scratchpad(slave, sample.temp_mC);
    }
    return 0;
}
