/* See the header. Any thread; holds no state. */
#include "daemon/explain/foretold.h"

#include <stdio.h>
#include <string.h>

#include <jansson.h>

/* What is not there, or is no such number, counts as not known. */
static int64_t
integer_or(const json_t *data, const char *key, int64_t most, int64_t otherwise)
{
    const json_t *value = json_object_get(data, key);
    int64_t found = json_is_integer(value) ? json_integer_value(value) : -1;
    return found >= 0 && found <= most ? found : otherwise;
}

bool
foretold_read(const struct store_record *record, struct explain_forecast *ret)
{
    if (strcmp(record->kind, "forecast") != 0)
        return false;
    json_t *data = json_loadb(record->data, record->data_len, JSON_REJECT_DUPLICATES, NULL);
    const char *step = json_string_value(json_object_get(data, "step"));
    int64_t batch = integer_or(data, "batch", UINT32_MAX, 0);
    bool known = step != NULL && batch > 0;
    if (known) {
        *ret = (struct explain_forecast){
            .batch = (uint32_t)batch,
            .stage = (uint8_t)integer_or(data, "stage", UINT8_MAX, 0),
            .likely = json_is_true(json_object_get(data, "likely")),
            .deadline_ms = integer_or(data, "deadline_ms", INT64_MAX, TIME_NONE),
            .expected_ms = integer_or(data, "expected_ms", INT64_MAX, TIME_NONE),
            .miss_permille = (int16_t)integer_or(data, "miss_permille", 1000, -1),
        };
        (void)snprintf(ret->step, sizeof ret->step, "%.*s", PLAN_ID_MAX, step);
    }
    json_decref(data);
    return known;
}

void
explain_forecast_words(const struct explain_forecast *forecast, char *buf, size_t size)
{
    char what[40] = "the limit";
    if (forecast->stage > 0)
        (void)snprintf(what, sizeof what, "stage %u", (unsigned)forecast->stage);
    (void)snprintf(buf, size, "Forecast: %s of step %s of batch %u will probably be %s", what,
                   forecast->step, (unsigned)forecast->batch,
                   forecast->likely ? "missed" : "met after all");
}
