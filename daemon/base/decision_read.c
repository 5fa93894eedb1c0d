/* Reads a decision back from the data object of its record. Pure but for jansson's allocation.
 * Any thread. */
#include "trivet/decision.h"

#include <string.h>

#include <jansson.h>

/* A missing key keeps what absent means; a key of the wrong kind is no decision. */
static bool
read_int(const json_t *object, const char *key, int64_t min, int64_t max, int64_t absent,
         int64_t *ret)
{
    const json_t *value = json_object_get(object, key);
    *ret = absent;
    if (!value)
        return true;
    if (!json_is_integer(value))
        return false;
    json_int_t number = json_integer_value(value);
    if (number < min || number > max)
        return false;
    *ret = number;
    return true;
}

static bool
read_text(const json_t *object, const char *key, char *ret, size_t size)
{
    const json_t *value = json_object_get(object, key);
    if (!value)
        return true;
    if (!json_is_string(value) || json_string_length(value) >= size)
        return false;
    memcpy(ret, json_string_value(value), json_string_length(value));
    return strlen(ret) == json_string_length(value);
}

static bool
read_kind(const json_t *object, struct decision *ret)
{
    const char *word = json_string_value(json_object_get(object, "decision"));
    for (int kind = 0; word && kind <= DECISION_KIND_LAST; kind++)
        if (strcmp(word, decision_kind_word((enum decision_kind)kind)) == 0) {
            ret->kind = (enum decision_kind)kind;
            return true;
        }
    return false;
}

static bool
read_reason(const json_t *object, struct decision *ret)
{
    const char *word = json_string_value(json_object_get(object, "reason"));
    for (int reason = 0; word && reason <= DECISION_REASON_LAST; reason++)
        if (strcmp(word, decision_reason_word((enum decision_reason)reason)) == 0) {
            ret->reason = (enum decision_reason)reason;
            return true;
        }
    return false;
}

static bool
read_limit(const json_t *object, struct decision *ret)
{
    const char *word = json_string_value(json_object_get(object, "limit"));
    if (!word)
        return json_object_get(object, "limit") == NULL;
    for (int kind = LIMIT_COOK; kind <= LIMIT_KIND_LAST; kind++)
        if (strcmp(word, limit_kind_word((enum limit_kind)kind)) == 0)
            ret->limit = (enum limit_kind)kind;
    if (ret->limit == LIMIT_DAYS) { /* a limit of no temperature */
        const char *food = json_string_value(json_object_get(object, "subject"));
        return food != NULL && strcmp(food, "food") == 0;
    }
    const char *unit = json_string_value(json_object_get(object, "required_unit"));
    const char *subject = json_string_value(json_object_get(object, "subject"));
    int64_t milli;
    if (ret->limit == LIMIT_NONE || !unit || !subject ||
        !json_object_get(object, "required_milli") ||
        !read_int(object, "required_milli", INT32_MIN, INT32_MAX, 0, &milli))
        return false;
    ret->required.milli = (int32_t)milli;
    ret->required.unit = strcmp(unit, "F") == 0 ? TEMP_F : TEMP_C;
    ret->subject = strcmp(subject, "air") == 0       ? SUBJECT_AIR
                   : strcmp(subject, "surface") == 0 ? SUBJECT_SURFACE
                                                     : SUBJECT_FOOD;
    return (strcmp(unit, "F") == 0 || strcmp(unit, "C") == 0) &&
           (strcmp(subject, "air") == 0 ||
            strcmp(subject, limit_subject_word(ret->subject)) == 0);
}

static bool
read_numbers(const json_t *object, struct decision *ret)
{
    const int64_t far = INT64_C(9007199254740991);
    int64_t batch, deviation, probe, stage, temp, worst, guard, uncertainty, reference, alarm,
        level;
    if (!json_object_get(object, "at_ms") ||
        !read_int(object, "at_ms", -far, far, 0, &ret->at_ms) ||
        !read_int(object, "alarm", 1, UINT32_MAX, 0, &alarm) ||
        !read_int(object, "level", 1, UINT8_MAX, 0, &level) ||
        !read_int(object, "batch", 1, UINT32_MAX, 0, &batch) ||
        !read_int(object, "deviation", 1, UINT32_MAX, 0, &deviation) ||
        !read_int(object, "found_ms", -far, far, 0, &ret->found_ms) ||
        !read_int(object, "last_ms", -far, far, 0, &ret->last_ms) ||
        !read_int(object, "probe", 1, UINT16_MAX, 0, &probe) ||
        !read_int(object, "reference_mC", INT32_MIN + 1, INT32_MAX, 0, &reference) ||
        !read_int(object, "required_ms", -far, far, 0, &ret->required_ms) ||
        !read_int(object, "since_ms", -far, far, TIME_NONE, &ret->since_ms) ||
        !read_int(object, "stage", 1, UINT8_MAX, 0, &stage) ||
        !read_int(object, "temp_mC", INT32_MIN + 1, INT32_MAX, TEMP_NONE, &temp) ||
        !read_int(object, "guard_mK", 1, INT32_MAX, 0, &guard) ||
        !read_int(object, "uncertainty_mK", 1, INT32_MAX, 0, &uncertainty) ||
        !read_int(object, "worst_mC", INT32_MIN + 1, INT32_MAX, TEMP_NONE, &worst))
        return false;
    ret->batch = (uint32_t)batch;
    ret->deviation = (uint32_t)deviation;
    ret->probe = (uint16_t)probe;
    ret->stage = (uint8_t)stage;
    ret->temp_mC = (int32_t)temp;
    ret->worst_mC = (int32_t)worst;
    ret->guard_mK = (int32_t)guard;
    ret->uncertainty_mK = (int32_t)uncertainty;
    ret->reference_mC = (int32_t)reference;
    ret->alarm = (uint32_t)alarm;
    ret->level = (uint8_t)level;
    return true;
}

bool
decision_read(const char *json, size_t len, struct decision *ret)
{
    json_t *object = json_loadb(json, len, JSON_REJECT_DUPLICATES, NULL);
    struct decision read;
    memset(&read, 0, sizeof read);
    const json_t *accepted = json_object_get(object, "accepted");
    const json_t *unverified = json_object_get(object, "accept_unverified");
    const json_t *silent = json_object_get(object, "silent");
    bool ok = json_is_object(object) && read_kind(object, &read) &&
              read_reason(object, &read) && read_limit(object, &read) &&
              read_numbers(object, &read) &&
              read_text(object, "place", read.place, sizeof read.place) &&
              read_text(object, "switch", read.contact, sizeof read.contact) &&
              read_text(object, "day", read.day, sizeof read.day) &&
              read_text(object, "step", read.step, sizeof read.step) &&
              read_text(object, "thermometer", read.thermometer, sizeof read.thermometer) &&
              (read.kind == DECISION_RESOLVED ? json_is_boolean(accepted) : !accepted) &&
              (!unverified || json_is_true(unverified)) && (!silent || json_is_true(silent));
    read.accepted = ok && json_is_true(accepted);
    read.unverified = ok && unverified != NULL;
    read.silent = ok && silent != NULL;
    json_decref(object);
    if (ok)
        memcpy(ret, &read, sizeof read);
    return ok;
}
