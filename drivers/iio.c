/* Temperatures behind the kernel's IIO and hwmon subsystems: thermocouple and RTD converter
 * chips, infrared sensors, board sensors; voltages and resistances that a sensor of the plan
 * turns into temperatures.
 *
 * Check, then publish: the fault attributes are read before and after the value, and only when
 * both times none is set is the value one. A directory's number changes from boot to boot, so a
 * device may be named by its file `name`; two of one name are refused. Nothing stays open. One
 * state belongs to one thread. docs/iio.md tells users. */
#include "drivers/iio.h"

#include <assert.h>
#include <dirent.h>
#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

#include "drivers/parts.h"
#include "drivers/sensors.h"
#include "trivet/reading.h"

#define IIO_ROOT   "/sys/bus/iio/devices"
#define HWMON_ROOT "/sys/class/hwmon"
/* A plan's path of 255 bytes, a directory's name of 255, a file of 64. */
#define PATH_BYTES 600
#define TEXT_BYTES 64
/* Decimals that the kernel prints at most: IIO_VAL_INT_PLUS_NANO. */
#define DECIMALS_MAX 9

struct iio_state {
    const struct plan *plan;
    const struct plan_bus *bus;
    const struct clock *clock;
    struct driver_sensors *sensors;
};

/* One device while it is read. */
struct node {
    char path[PATH_BYTES];
    bool is_hwmon;
};

static bool
is_hwmon(const struct plan_probe *probe)
{
    const char *channel = probe->channel;
    return strncmp(channel, "temp", 4) == 0 ||
           (strncmp(channel, "in", 2) == 0 && channel[2] >= '0' && channel[2] <= '9');
}

static const char *
root_of(const struct plan_bus *bus, bool hwmon)
{
    return bus->root != NULL ? bus->root : hwmon ? HWMON_ROOT : IIO_ROOT;
}

/* ---- files ---- */

/* A file of the node: its first part, then its last ("in_temp", "_raw"). */
static int
read_file(const struct node *node, const char *first, const char *last,
          char ret_text[TEXT_BYTES])
{
    char path[PATH_BYTES + TEXT_BYTES];
    const int len = snprintf(path, sizeof path, "%s/%s%s", node->path, first, last);
    if (len < 0 || (size_t)len >= sizeof path)
        return ENAMETOOLONG;
    return driver_read_file(path, ret_text, TEXT_BYTES);
}

/* A decimal of the kernel: mantissa / 10^decimals, zeros at its end dropped so that the product
 * of two fits. */
struct decimal {
    int64_t mantissa;
    int decimals;
};

static bool
read_decimal(const char *text, struct decimal *ret)
{
    struct decimal number = {0, 0};
    bool has_point = false, any_digit = false;
    const bool is_minus = *text == '-';
    for (text += is_minus; *text != '\0'; text++) {
        if (*text == '.' && !has_point) {
            has_point = true;
            continue;
        }
        if (*text < '0' || *text > '9' || number.decimals == DECIMALS_MAX ||
            !driver_times(number.mantissa, 10, &number.mantissa) ||
            !driver_plus(number.mantissa, *text - '0', &number.mantissa))
            return false;
        any_digit = true;
        number.decimals += has_point;
    }
    for (; number.decimals > 0 && number.mantissa % 10 == 0; number.decimals--)
        number.mantissa /= 10;
    if (is_minus)
        number.mantissa = -number.mantissa;
    *ret = number;
    return any_digit;
}

/* What a failure to read a value means. */
static uint16_t
cause_of(int error)
{
    switch (error) {
    case 0:
        return READING_GOOD;
    case EINVAL: /* several drivers of thermocouple chips: a fault bit is set */
    case ENODATA:
        return BAD_FAULT_VALUE;
    case EFBIG:
        return BAD_FRAME;
    case ENODEV:
    case ENXIO:
        return BAD_LINK;
    default:
        return BAD_TIMEOUT;
    }
}

/* ---- which device ---- */

static bool
is_directory(const char *path)
{
    struct stat status;
    return stat(path, &status) == 0 && S_ISDIR(status.st_mode);
}

static bool
is_named(const struct node *node, const char *name)
{
    char text[TEXT_BYTES];
    return read_file(node, "name", "", text) == 0 && strcmp(text, name) == 0;
}

/* How many devices of the root are meant; the path of the last one. A directory's own name wins
 * over the names of others. */
static int
find_node(const char *root, const char *name, struct node *ret)
{
    int count = 0;
    const struct dirent *entry;
    struct node node = *ret;
    DIR *directory = opendir(root);
    if (directory == NULL)
        return 0;
    while ((entry = readdir(directory)) != NULL) {
        const int len = snprintf(node.path, sizeof node.path, "%s/%s", root, entry->d_name);
        if (entry->d_name[0] == '.' || len < 0 || (size_t)len >= sizeof node.path)
            continue;
        if (strcmp(entry->d_name, name) == 0) {
            *ret = node;
            count = 1;
            break;
        }
        if (is_named(&node, name)) {
            *ret = node;
            count++;
        }
    }
    (void)closedir(directory); /* only read */
    return count;
}

/* ---- the value ---- */

/* hwmon: tempX_fault; IIO: the chip's attributes for an open or overloaded input. Absent files
 * say nothing; any other failure to read one is a fault not ruled out. */
static uint16_t
check_faults(const struct node *node, const char *channel)
{
    static const char *const of_iio[] = {"fault_oc", "fault_ovuv"};
    char text[TEXT_BYTES];
    for (size_t i = 0; i < (node->is_hwmon ? 1U : 2U); i++) {
        const int error = node->is_hwmon ? read_file(node, channel, "_fault", text)
                                         : read_file(node, of_iio[i], "", text);
        if (error == ENOENT)
            continue;
        if (error != 0)
            return cause_of(error);
        if (strcmp(text, "0") != 0)
            return BAD_FAULT_VALUE;
    }
    return READING_GOOD;
}

/* A calibration of the kernel's: the channel's own, or that of all channels like it. */
static uint16_t
read_factor(const struct node *node, const char *channel, const char *last, struct decimal *ret)
{
    static const char *const shared[] = {"in_temp", "in_resistance", "in_voltage-voltage",
                                         "in_voltage"};
    char text[TEXT_BYTES];
    int error = read_file(node, channel, last, text);
    for (size_t i = 0; error == ENOENT && i < sizeof shared / sizeof *shared; i++) {
        const bool is_pair = strchr(shared[i], '-') != NULL;
        if (strncmp(channel, shared[i], strcspn(shared[i], "-")) == 0 &&
            (!is_pair || strchr(channel, '-') != NULL))
            error = read_file(node, shared[i], last, text);
    }
    if (error == ENOENT)
        return READING_GOOD; /* *ret keeps its default */
    if (error != 0)
        return cause_of(error);
    return read_decimal(text, ret) ? READING_GOOD : BAD_CONVERSION;
}

/* (raw + offset) * scale, exactly. */
static bool
scaled(struct decimal raw, struct decimal offset, struct decimal scale, struct decimal *ret)
{
    const int decimals = raw.decimals > offset.decimals ? raw.decimals : offset.decimals;
    int64_t a, b, product;
    if (!driver_times(raw.mantissa, driver_power_of_ten(decimals - raw.decimals), &a) ||
        !driver_times(offset.mantissa, driver_power_of_ten(decimals - offset.decimals), &b) ||
        !driver_plus(a, b, &product) || !driver_times(product, scale.mantissa, &product) ||
        decimals + scale.decimals > 18)
        return false;
    *ret = (struct decimal){.mantissa = product, .decimals = decimals + scale.decimals};
    return true;
}

/* Millionths, rounded to the nearest. */
static bool
micro_of(struct decimal value, int64_t *ret)
{
    if (value.decimals > 6) {
        *ret = driver_rounded(value.mantissa, driver_power_of_ten(value.decimals - 6));
        return true;
    }
    return driver_times(value.mantissa, driver_power_of_ten(6 - value.decimals), ret);
}

/* What the kernel gives times the plan's scale, which is that of a converter before it. */
static bool
signal_of(const struct plan_probe *probe, struct decimal value, struct driver_signal *ret)
{
    int64_t micro;
    ret->unit = probe->signal;
    if (!micro_of(value, &micro))
        return false;
    if (probe->scale_micro != 1000000) {
        if (!driver_times(micro, probe->scale_micro, &micro))
            return false;
        micro = driver_rounded(micro, 1000000);
    }
    return driver_plus(micro, probe->offset_micro, &ret->micro);
}

/* A temperature is in thousandths of a degree Celsius, with one rounding; a signal is turned
 * into one later (drivers/sensors.h). */
static struct driver_sample
convert(const struct plan_probe *probe, struct decimal raw, struct decimal offset,
        struct decimal scale, struct driver_signal *ret_signal)
{
    struct decimal value;
    if (!scaled(raw, offset, scale, &value))
        return driver_bad(BAD_CONVERSION);
    if (probe->sensor == NULL)
        return driver_sample_of(
            probe, driver_rounded(value.mantissa, driver_power_of_ten(value.decimals)));
    if (!signal_of(probe, value, ret_signal))
        return driver_bad(BAD_CONVERSION);
    return (struct driver_sample){.temp_mC = TEMP_NONE, .quality = READING_GOOD};
}

/* Processed (_input) where the kernel has it, else raw with offset and scale: Linux,
 * Documentation/ABI/testing/sysfs-bus-iio and hwmon/sysfs-interface; both in thousandths of a
 * degree, mV or ohm. */
static struct driver_sample
read_value(const struct plan_probe *probe, const struct node *node,
           struct driver_signal *ret_signal)
{
    char text[TEXT_BYTES];
    struct decimal raw, offset = {0, 0}, scale = {1, 0};
    int error = read_file(node, probe->channel, "_input", text);
    if (error == ENOENT && !node->is_hwmon) {
        error = read_file(node, probe->channel, "_raw", text);
        uint16_t cause = read_factor(node, probe->channel, "_offset", &offset);
        if (cause == READING_GOOD)
            cause = read_factor(node, probe->channel, "_scale", &scale);
        if (error == 0 && cause != READING_GOOD)
            return driver_bad(cause);
    }
    if (error != 0)
        return driver_bad(cause_of(error));
    if (!read_decimal(text, &raw))
        return driver_bad(text[0] == '\0' ? BAD_TIMEOUT : BAD_CONVERSION);
    return convert(probe, raw, offset, scale, ret_signal);
}

static struct driver_sample
read_checked(const struct plan_probe *probe, const struct node *node,
             struct driver_signal *ret_signal)
{
    const uint16_t before = check_faults(node, probe->channel);
    if (before != READING_GOOD)
        return driver_bad(before);
    const struct driver_sample sample = read_value(probe, node, ret_signal);
    const uint16_t after = check_faults(node, probe->channel);
    return after != READING_GOOD ? driver_bad(after) : sample;
}

/* ---- one exchange ---- */

static struct driver_sample
read_probe(const struct iio_state *state, const struct plan_probe *probe,
           struct driver_signal *ret_signal, struct driver_error *reterr)
{
    struct node node = {.is_hwmon = is_hwmon(probe)};
    const char *root = root_of(state->bus, node.is_hwmon);
    const int found = find_node(root, probe->node, &node);
    if (found != 1) {
        driver_say(
            reterr, "bus '%s': %s %s under %s; see the file `name` in each directory there",
            state->bus->id, found == 0 ? "there is no device" : "there are several devices",
            probe->node, root);
        return driver_bad(BAD_LINK);
    }
    const struct driver_sample sample = read_checked(probe, &node, ret_signal);
    if (sample.quality == BAD_TIMEOUT || sample.quality == BAD_LINK ||
        sample.quality == BAD_FRAME)
        driver_say(reterr,
                   "bus '%s': %s %s cannot be read; is the chip powered, and does %s exist in "
                   "its directory?",
                   state->bus->id, probe->node, probe->channel, probe->channel);
    return sample;
}

/* A root that is there for any probe of the bus. */
static bool
root_is_there(const struct iio_state *state, struct driver_error *reterr)
{
    if (is_directory(root_of(state->bus, false)) || is_directory(root_of(state->bus, true)))
        return true;
    driver_say(reterr, "bus '%s': there is no %s; is the kernel's driver of the chip loaded?",
               state->bus->id, root_of(state->bus, false));
    return false;
}

static bool
iio_read(void *state_arg, const struct driver_request *request,
         struct driver_sample *ret_samples, struct driver_error *reterr)
{
    const struct iio_state *state = state_arg;
    struct driver_signal signals[DRIVER_REQUEST_PROBES_MAX] = {{0}};
    if (!root_is_there(state, reterr)) {
        driver_fail(request, BAD_LINK, ret_samples);
        return false;
    }
    for (uint16_t i = 0; i < request->count; i++)
        ret_samples[i] =
            read_probe(state, &state->plan->probes[request->probes[i]], &signals[i], reterr);
    driver_sensors_apply(state->sensors, request, signals, clock_mono_ms(state->clock),
                         ret_samples);
    return true;
}

static bool
iio_open(const struct plan *plan, uint16_t bus, const struct clock *clock, void **ret_state,
         struct driver_error *reterr)
{
    assert(bus < plan->bus_count);
    struct iio_state *state = calloc(1, sizeof *state);
    if (state == NULL) {
        driver_say(reterr, "bus '%s': out of memory", plan->buses[bus].id);
        return false;
    }
    *state = (struct iio_state){.plan = plan, .bus = &plan->buses[bus], .clock = clock};
    state->sensors = driver_sensors_new(plan, bus, reterr);
    if (state->sensors == NULL || !root_is_there(state, reterr)) {
        driver_sensors_free(state->sensors);
        free(state);
        return false;
    }
    *ret_state = state;
    return true;
}

static void
iio_close(void *state_arg)
{
    struct iio_state *state = state_arg;
    if (state == NULL)
        return;
    driver_sensors_free(state->sensors);
    free(state);
}

const struct probe_driver driver_iio = {
    .name = "iio",
    .requests = driver_requests_alone,
    .open = iio_open,
    .read = iio_read,
    .close = iio_close,
};
