/* See drivers/sensors.h. */
#include "drivers/sensors.h"

#include <assert.h>
#include <stdlib.h>

#include "drivers/parts.h"
#include "trivet/reading.h"
#include "trivet/sensor.h"
#include "trivet/units.h"

/* By place in the plan. */
struct wired {
    struct sensor sensor; /* where the probe has one */
    bool is_cold;         /* somebody's cold junction */
    int32_t cold_mC;      /* as last read; TEMP_NONE */
    int64_t cold_ms;
};

struct driver_sensors {
    const struct plan *plan;
    struct wired wired[]; /* plan->probe_count */
};

struct driver_sensors *
driver_sensors_new(const struct plan *plan, uint16_t bus, struct driver_error *reterr)
{
    struct driver_sensors *sensors =
        calloc(1, sizeof *sensors + plan->probe_count * sizeof *sensors->wired);
    if (sensors == NULL) {
        driver_say(reterr, "bus '%s': out of memory", plan->buses[bus].id);
        return NULL;
    }
    sensors->plan = plan;
    for (size_t i = 0; i < plan->probe_count; i++) {
        const struct plan_probe *probe = &plan->probes[i];
        struct sensor_refusal why = {{0}};
        if (probe->bus != bus || probe->sensor == NULL)
            continue;
        if (!sensor_parse(probe->sensor, &sensors->wired[i].sensor, &why)) {
            driver_say(reterr, "bus '%s': sensor of '%s' cannot be used: %.120s",
                       plan->buses[bus].id, probe->id, why.text);
            free(sensors);
            return NULL;
        }
        if (sensors->wired[i].sensor.family == SENSOR_THERMOCOUPLE && probe->cold_probe >= 0)
            sensors->wired[probe->cold_probe].is_cold = true;
    }
    for (size_t i = 0; i < plan->probe_count; i++)
        sensors->wired[i].cold_mC = TEMP_NONE;
    return sensors;
}

void
driver_sensors_free(struct driver_sensors *sensors)
{
    free(sensors);
}

/* Whether the probe has to wait for another one of its request. */
static bool
needs_cold_probe(const struct driver_sensors *sensors, uint16_t index)
{
    const struct plan_probe *probe = &sensors->plan->probes[index];
    return probe->sensor != NULL &&
           sensors->wired[index].sensor.family == SENSOR_THERMOCOUPLE && probe->cold_probe >= 0;
}

/* An exchange that failed says nothing about the terminals; a fault of their own sensor does.
 */
static void
remember(struct wired *wired, const struct driver_sample *sample, int64_t now_ms)
{
    if (sample->quality == READING_GOOD) {
        wired->cold_mC = sample->temp_mC;
        wired->cold_ms = now_ms;
    } else if (sample->quality == BAD_FAULT_VALUE || sample->quality == BAD_IMPLAUSIBLE ||
               sample->quality == BAD_CONVERSION || sample->quality == BAD_SIGNAL) {
        wired->cold_mC = TEMP_NONE;
    }
}

/* TEMP_NONE when there is none that is fresh. */
static int32_t
cold_junction(const struct driver_sensors *sensors, const struct plan_probe *probe,
              int64_t now_ms)
{
    if (probe->cold_probe < 0)
        return probe->cold_mC;
    const struct wired *wired = &sensors->wired[probe->cold_probe];
    const int64_t trusted_ms = (int64_t)sensors->plan->probes[probe->cold_probe].every_ms *
                               (int64_t)sensors->plan->tolerances.spacing_polls;
    return wired->cold_mC != TEMP_NONE && now_ms - wired->cold_ms <= trusted_ms ? wired->cold_mC
                                                                                : TEMP_NONE;
}

static struct driver_sample
temp_of(const struct driver_sensors *sensors, uint16_t index,
        const struct driver_signal *signal, int64_t now_ms)
{
    const struct plan_probe *probe = &sensors->plan->probes[index];
    const struct sensor *sensor = &sensors->wired[index].sensor;
    int32_t cold_mC = 0, temp_mC = TEMP_NONE;
    if (sensor->family == SENSOR_THERMOCOUPLE) {
        cold_mC = cold_junction(sensors, probe, now_ms);
        if (cold_mC == TEMP_NONE)
            return driver_bad(BAD_COLD_JUNCTION);
    }
    switch (sensor_temp(sensor, signal->micro, signal->unit, cold_mC, &temp_mC)) {
    case CONVERT_OK:
        return driver_sample_of(probe, temp_mC);
    case CONVERT_TOO_LOW:
    case CONVERT_TOO_HIGH:
        return driver_bad(BAD_SIGNAL);
    case CONVERT_COLD_JUNCTION:
        return driver_bad(BAD_COLD_JUNCTION);
    case CONVERT_NOT_A_NUMBER:
    case CONVERT_BAD_SENSOR:
        break;
    }
    return driver_bad(BAD_CONVERSION);
}

void
driver_sensors_apply(struct driver_sensors *sensors, const struct driver_request *request,
                     const struct driver_signal *signals, int64_t now_ms,
                     struct driver_sample *samples)
{
    /* What may be at terminals first, then what needs it. */
    for (int turn = 0; turn < 2; turn++)
        for (uint16_t i = 0; i < request->count; i++) {
            const uint16_t index = request->probes[i];
            struct wired *wired = &sensors->wired[index];
            const bool has_sensor = sensors->plan->probes[index].sensor != NULL;
            assert(index < sensors->plan->probe_count);
            if (needs_cold_probe(sensors, index) != (turn == 1))
                continue;
            if (has_sensor && samples[i].quality == READING_GOOD)
                samples[i] = temp_of(sensors, index, &signals[i], now_ms);
            if (wired->is_cold)
                remember(wired, &samples[i], now_ms);
        }
}
