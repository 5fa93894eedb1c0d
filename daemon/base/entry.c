/* A person's entry as a record's data object, and back. One table names every field, so that
 * what is written is what can be read. Pure but for jansson's allocation while parsing. Any
 * thread. */
#include "trivet/entry.h"

#include <assert.h>
#include <stddef.h>
#include <stdio.h>
#include <string.h>

#include <jansson.h>

enum field_type {
    FIELD_TEXT,  /* one line of clean text */
    FIELD_LINES, /* clean text of several lines */
    FIELD_U32,   /* a number from 1 */
    FIELD_U64,   /* likewise */
    FIELD_I32,   /* grams, millimetres: from 1 */
    FIELD_TEMP,  /* thousandths of a degree Celsius, with has_temp */
    FIELD_TIME,  /* an instant */
    FIELD_UID,   /* -1 or a user id */
    FIELD_BOOL,
    FIELD_PROBES,
    FIELD_OUTCOME,
    FIELD_DISPOSITION,
    FIELD_FOODS,
    FIELD_FLAG, /* true, or not there */
    FIELD_SPAN, /* milliseconds, from 1 */
    FIELD_WHY,  /* enum quiet_why */
    FIELD_CORRECTION,
    FIELD_POINTS, /* as found, or as left */
};

#define KIND(name) (1u << ENTRY_##name)
#define KIND_ALL   0xFFFFFFFFu

struct field {
    const char *key;
    enum field_type type;
    size_t offset, max; /* max: bytes of text without the NUL */
    unsigned used, required;
    const char *example;
};

#define TEXT_FIELD(member, type, used, required, example)                                      \
    {                                                                                          \
#member, type, offsetof(struct entry, member), sizeof((struct entry *)0)->member - 1,  \
            used, required, example                                                            \
    }
#define PLAIN_FIELD(member, type, used, required, example)                                     \
    {                                                                                          \
#member, type, offsetof(struct entry, member), 0, used, required, example              \
    }

#define POINTS_EXAMPLE                                                                         \
    "[{\"found_mC\":400,\"method\":\"ice\",\"reference_mC\":0,\"uncertainty_mK\":100}]"

/* In ascending order of keys, which is the order of the canonical form. */
static const struct field fields[] = {
    PLAIN_FIELD(accept, FIELD_BOOL, KIND(DECIDE) | KIND(CONFIRM), KIND(DECIDE) | KIND(CONFIRM),
                "true"),
    TEXT_FIELD(basis, FIELD_TEXT, KIND(CALIBRATE), 0, "\"crushed ice and water\""),
    PLAIN_FIELD(batch, FIELD_U32,
                KIND(BEGIN) | KIND(MOVE) | KIND(END) | KIND(HAND) | KIND(COOKED) | KIND(NOTE) |
                    KIND(DECIDE) | KIND(CONFIRM) | KIND(HEARD),
                KIND(MOVE) | KIND(END) | KIND(COOKED) | KIND(CONFIRM), "12"),
    TEXT_FIELD(by, FIELD_TEXT, KIND(PIN), 0, "\"RS\""),
    TEXT_FIELD(control, FIELD_LINES, KIND(ACTION), 0, "\"two readings below 5 C since\""),
    PLAIN_FIELD(correction, FIELD_CORRECTION, KIND(CALIBRATE), KIND(CALIBRATE), "\"keep\""),
    TEXT_FIELD(day, FIELD_TEXT, KIND(REVIEW) | KIND(DAY), KIND(REVIEW) | KIND(DAY),
               "\"2026-03-01\""),
    PLAIN_FIELD(deviation, FIELD_U32, KIND(ACTION) | KIND(VERIFY) | KIND(HEARD) | KIND(SHELVE),
                KIND(ACTION) | KIND(VERIFY), "3"),
    PLAIN_FIELD(disposition, FIELD_DISPOSITION, KIND(ACTION), 0, "\"discard\""),
    TEXT_FIELD(done, FIELD_LINES, KIND(ACTION), KIND(ACTION), "\"moved into shallow pans\""),
    PLAIN_FIELD(end, FIELD_FLAG, KIND(QUIET) | KIND(SHELVE), 0, "true"),
    PLAIN_FIELD(food, FIELD_FOODS, KIND(ACTION), 0,
                "[{\"batch\":3,\"disposition\":\"discard\",\"quantity\":\"4 kg\"}]"),
    PLAIN_FIELD(for_ms, FIELD_SPAN, KIND(QUIET) | KIND(SHELVE), 0, "1800000"),
    TEXT_FIELD(found, FIELD_LINES, KIND(ACTION), KIND(ACTION), "\"pot was too deep\""),
    PLAIN_FIELD(given_ms, FIELD_TIME, KIND(COOKED) | KIND(CORRECT), KIND(COOKED),
                "1772373900000"),
    PLAIN_FIELD(left, FIELD_POINTS, KIND(CALIBRATE), 0, POINTS_EXAMPLE),
    TEXT_FIELD(made, FIELD_TEXT, KIND(BEGIN), 0, "\"2026-03-01\""),
    PLAIN_FIELD(mass_g, FIELD_I32, KIND(BEGIN), 0, "1800"),
    PLAIN_FIELD(outcome, FIELD_OUTCOME, KIND(END), KIND(END), "\"served\""),
    PLAIN_FIELD(peer_uid, FIELD_UID, KIND_ALL, 0, "1000"),
    TEXT_FIELD(place, FIELD_TEXT,
               KIND(BEGIN) | KIND(MOVE) | KIND(END) | KIND(HAND) | KIND(NOTE) | KIND(QUIET) |
                   KIND(SHELVE),
               KIND(QUIET), "\"walk-in\""),
    PLAIN_FIELD(points, FIELD_POINTS, KIND(CALIBRATE), KIND(CALIBRATE), POINTS_EXAMPLE),
    PLAIN_FIELD(pressure_Pa, FIELD_I32, KIND(CALIBRATE), 0, "100800"),
    TEXT_FIELD(prevent, FIELD_LINES, KIND(ACTION), 0,
               "\"pans are now laid out before the boil\""),
    /* Of a step that began by itself: by what this probe showed. */
    TEXT_FIELD(probe, FIELD_TEXT, KIND(CALIBRATE) | KIND(BEGIN) | KIND(MOVE) | KIND(DECIDE), 0,
               "\"walk-in-air\""),
    PLAIN_FIELD(probes, FIELD_PROBES, KIND(BEGIN) | KIND(MOVE), 0, "[\"roast-core-a\"]"),
    TEXT_FIELD(product, FIELD_TEXT, KIND(BEGIN), KIND(BEGIN), "\"pork-loin\""),
    TEXT_FIELD(quantity, FIELD_TEXT, KIND(ACTION), 0, "\"4 kg\""),
    TEXT_FIELD(reason, FIELD_LINES, KIND(CORRECT) | KIND(DECIDE) | KIND(SHELVE),
               KIND(CORRECT) | KIND(DECIDE), "\"misread the dial\""),
    TEXT_FIELD(reference, FIELD_TEXT, KIND(CALIBRATE), 0, "\"lab-stick\""),
    PLAIN_FIELD(refers, FIELD_U64, KIND(CORRECT), KIND(CORRECT), "431"),
    TEXT_FIELD(safe, FIELD_LINES, KIND(ACTION), 0, "\"all of it was still in the walk-in\""),
    TEXT_FIELD(side, FIELD_TEXT, KIND(HAND), 0, "\"top\""),
    TEXT_FIELD(step, FIELD_TEXT, KIND(BEGIN) | KIND(MOVE), 0, "\"cool\""),
    PLAIN_FIELD(temp_mC, FIELD_TEMP, KIND(HAND) | KIND(CORRECT), KIND(HAND), "63400"),
    TEXT_FIELD(text, FIELD_LINES,
               KIND(BEGIN) | KIND(END) | KIND(NOTE) | KIND(CORRECT) | KIND(VERIFY) |
                   KIND(CALIBRATE) | KIND(REVIEW) | KIND(CONFIRM) | KIND(HEARD),
               KIND(NOTE), "\"second tray\""),
    TEXT_FIELD(thermometer, FIELD_TEXT, KIND(HAND) | KIND(CALIBRATE), KIND(HAND),
               "\"red-pen\""),
    PLAIN_FIELD(thickness_mm, FIELD_I32, KIND(BEGIN), 0, "90"),
    TEXT_FIELD(until, FIELD_TEXT, KIND(BEGIN), 0, "\"2026-03-09\""),
    /* Quiet hours that the plan schedules, steps that begin by themselves and days are
     * nobody's; from people the engine asks for it. */
    TEXT_FIELD(who, FIELD_TEXT, KIND_ALL,
               KIND_ALL & ~(KIND(QUIET) | KIND(BEGIN) | KIND(MOVE) | KIND(DAY)), "\"AB\""),
    PLAIN_FIELD(why, FIELD_WHY, KIND(QUIET), 0, "\"defrosting\""),
    PLAIN_FIELD(withdraw, FIELD_FLAG, KIND(CORRECT), 0, "true"),
};

#define FIELD_COUNT (sizeof fields / sizeof fields[0])

static const char *const kind_words[] = {
    [ENTRY_NONE] = "none",
    [ENTRY_BEGIN] = "begin",
    [ENTRY_MOVE] = "move",
    [ENTRY_END] = "end",
    [ENTRY_HAND] = "hand",
    [ENTRY_COOKED] = "cooked",
    [ENTRY_NOTE] = "note",
    [ENTRY_CORRECT] = "correct",
    [ENTRY_ACTION] = "action",
    [ENTRY_VERIFY] = "verify",
    [ENTRY_DECIDE] = "decide",
    [ENTRY_QUIET] = "quiet",
    [ENTRY_CALIBRATE] = "calibrate",
    [ENTRY_REVIEW] = "review",
    [ENTRY_CONFIRM] = "confirm",
    [ENTRY_HEARD] = "heard",
    [ENTRY_SHELVE] = "shelve",
    [ENTRY_PIN] = "pin",
    [ENTRY_DAY] = "day",
};

static const char *const outcome_words[] = {
    [OUTCOME_NONE] = "none",
    [OUTCOME_SERVED] = "served",
    [OUTCOME_STORED] = "stored",
    [OUTCOME_DISCARDED] = "discarded",
};

#define COUNT(table) (sizeof(table) / sizeof(table)[0])

/* Position of a word in a table, 0 (the "none" of each) when it is not there. */
static unsigned
word_index(const char *const *words, size_t count, const char *word)
{
    for (unsigned i = 1; i < count; i++)
        if (strcmp(words[i], word) == 0)
            return i;
    return 0;
}

const char *
entry_kind_word(enum entry_kind kind)
{
    return kind_words[kind];
}

enum entry_kind
entry_kind_from_word(const char *word)
{
    return (enum entry_kind)word_index(kind_words, COUNT(kind_words), word);
}

const char *
outcome_word(enum batch_outcome outcome)
{
    return outcome_words[outcome];
}

enum batch_outcome
outcome_from_word(const char *word)
{
    return (enum batch_outcome)word_index(outcome_words, COUNT(outcome_words), word);
}

void
entry_clear(struct entry *entry, enum entry_kind kind)
{
    memset(entry, 0, sizeof *entry);
    entry->kind = kind;
    entry->temp_mC = TEMP_NONE;
    entry->given_ms = TIME_NONE;
    entry->peer_uid = -1;
}

static void
write_probes(const struct entry *entry, struct json_out *out, const char *key)
{
    if (entry->probe_count == 0)
        return;
    out_array(out, key);
    for (unsigned i = 0; i < entry->probe_count; i++)
        out_text(out, NULL, entry->probes[i]);
    out_array_end(out);
}

static bool
is_left(const struct field *field)
{
    return field->offset == offsetof(struct entry, left);
}

static void
write_points(const struct entry *entry, const struct field *field, struct json_out *out)
{
    const struct calibration_point *points = is_left(field) ? entry->left : entry->points;
    unsigned count = is_left(field) ? entry->left_count : entry->point_count;
    if (count == 0)
        return;
    out_array(out, field->key);
    for (unsigned i = 0; i < count; i++) {
        out_object(out, NULL);
        out_int(out, "found_mC", points[i].found_mC);
        out_text(out, "method", calibration_method_word(points[i].method));
        out_int(out, "reference_mC", points[i].reference_mC);
        out_int(out, "uncertainty_mK", points[i].uncertainty_mK);
        out_object_end(out);
    }
    out_array_end(out);
}

static void
write_foods(const struct entry *entry, struct json_out *out, const char *key)
{
    if (entry->food_count == 0)
        return;
    out_array(out, key);
    for (unsigned i = 0; i < entry->food_count; i++) {
        const struct entry_food *food = &entry->food[i];
        out_object(out, NULL);
        out_int(out, "batch", food->batch);
        out_text(out, "disposition", disposition_word(food->disposition));
        if (food->quantity[0] != '\0')
            out_text(out, "quantity", food->quantity);
        out_object_end(out);
    }
    out_array_end(out);
}

/* Numbers that are 0 and texts that are empty were not given and are left out. */
static void
write_field(const struct entry *entry, const struct field *field, struct json_out *out)
{
    const char *at = (const char *)entry + field->offset;
    switch (field->type) {
    case FIELD_TEXT:
    case FIELD_LINES:
        if (*at != '\0')
            out_text(out, field->key, at);
        break;
    case FIELD_U32:
        if (*(const uint32_t *)(const void *)at != 0)
            out_int(out, field->key, *(const uint32_t *)(const void *)at);
        break;
    case FIELD_U64:
        if (*(const uint64_t *)(const void *)at != 0)
            out_int(out, field->key, (int64_t) * (const uint64_t *)(const void *)at);
        break;
    case FIELD_I32:
        if (*(const int32_t *)(const void *)at != 0)
            out_int(out, field->key, *(const int32_t *)(const void *)at);
        break;
    case FIELD_TEMP:
        if (entry->has_temp)
            out_int(out, field->key, entry->temp_mC);
        break;
    case FIELD_TIME:
        if (entry->given_ms != TIME_NONE)
            out_int(out, field->key, entry->given_ms);
        break;
    case FIELD_UID:
        if (entry->peer_uid >= 0)
            out_int(out, field->key, entry->peer_uid);
        break;
    case FIELD_BOOL:
        out_bool(out, field->key, entry->accept);
        break;
    case FIELD_PROBES:
        write_probes(entry, out, field->key);
        break;
    case FIELD_OUTCOME:
        out_text(out, field->key, outcome_word(entry->outcome));
        break;
    case FIELD_DISPOSITION:
        if (entry->disposition != DISPOSITION_NONE)
            out_text(out, field->key, disposition_word(entry->disposition));
        break;
    case FIELD_FOODS:
        write_foods(entry, out, field->key);
        break;
    case FIELD_FLAG:
        if (*(const bool *)(const void *)at)
            out_bool(out, field->key, true);
        break;
    case FIELD_SPAN:
        if (*(const int64_t *)(const void *)at != 0)
            out_int(out, field->key, *(const int64_t *)(const void *)at);
        break;
    case FIELD_WHY:
        if (entry->why != QUIET_NONE)
            out_text(out, field->key, quiet_why_word(entry->why));
        break;
    case FIELD_CORRECTION:
        out_text(out, field->key, correction_choice_word(entry->correction));
        break;
    case FIELD_POINTS:
        write_points(entry, field, out);
        break;
    }
}

void
entry_write(const struct entry *entry, struct json_out *out, const char *key)
{
    out_object(out, key);
    for (size_t i = 0; i < FIELD_COUNT; i++)
        if (fields[i].used & 1u << entry->kind)
            write_field(entry, &fields[i], out);
    out_object_end(out);
}

/* ---- reading ---- */

static bool
read_text(const struct field *field, const char *text, size_t len, char *to, char *reterr,
          size_t err_size)
{
    if (strlen(text) != len || !text_is_clean(text, field->max, field->type == FIELD_LINES)) {
        (void)snprintf(reterr, err_size,
                       "\"%s\" is too long or has characters that cannot be kept; write at "
                       "most %zu bytes of "
                       "plain text%s",
                       field->key, field->max,
                       field->type == FIELD_LINES ? "" : " on one line");
        return false;
    }
    memcpy(to, text, len + 1);
    return true;
}

static bool
read_number(const struct field *field, const json_t *value, int64_t low, int64_t high,
            int64_t *ret, char *reterr, size_t err_size)
{
    json_int_t number = json_integer_value(value);
    if (!json_is_integer(value) || number < low || number > high) {
        (void)snprintf(reterr, err_size,
                       "\"%s\" must be a whole number from %lld to %lld; write for example %s",
                       field->key, (long long)low, (long long)high, field->example);
        return false;
    }
    *ret = number;
    return true;
}

static bool
read_probes(const struct field *field, const json_t *value, struct entry *ret, char *reterr,
            size_t err_size)
{
    if (!json_is_array(value) || json_array_size(value) > ENTRY_PROBES_MAX) {
        (void)snprintf(
            reterr, err_size,
            "\"probes\" must be a list of at most %d probe ids; write for example %s",
            ENTRY_PROBES_MAX, field->example);
        return false;
    }
    struct field one = *field;
    one.max = PLAN_ID_MAX;
    one.type = FIELD_TEXT;
    for (size_t i = 0; i < json_array_size(value); i++) {
        const json_t *item = json_array_get(value, i);
        if (!json_is_string(item)) {
            (void)snprintf(reterr, err_size,
                           "\"probes\" must hold ids in quotes; write for example %s",
                           field->example);
            return false;
        }
        if (!read_text(&one, json_string_value(item), json_string_length(item), ret->probes[i],
                       reterr, err_size))
            return false;
    }
    ret->probe_count = (uint8_t)json_array_size(value);
    return true;
}

#define DISPOSITIONS                                                                           \
    "use, use-at-once, cook-on, reheat, cool-again, hold, divert, discard, no-food"

static bool
read_word(const struct field *field, const json_t *value, struct entry *ret, char *reterr,
          size_t err_size)
{
    const char *word = json_is_string(value) ? json_string_value(value) : "";
    bool is_outcome = field->type == FIELD_OUTCOME;
    if (is_outcome)
        ret->outcome = outcome_from_word(word);
    else
        ret->disposition = disposition_from_word(word);
    if (is_outcome ? ret->outcome == OUTCOME_NONE : ret->disposition == DISPOSITION_NONE) {
        (void)snprintf(reterr, err_size, "\"%s\" must be one of %s", field->key,
                       is_outcome ? "served, stored, discarded" : DISPOSITIONS);
        return false;
    }
    return true;
}

/* One batch of the food: its number, what became of it and how much it was. */
static bool
read_food(const json_t *object, struct entry_food *ret)
{
    const json_t *batch = json_object_get(object, "batch");
    const json_t *quantity = json_object_get(object, "quantity");
    const char *word = json_string_value(json_object_get(object, "disposition"));
    const char *amount = quantity == NULL ? "" : json_string_value(quantity);
    json_int_t number = json_integer_value(batch);
    ret->disposition = word == NULL ? DISPOSITION_NONE : disposition_from_word(word);
    if (number < 1 || number > UINT32_MAX || ret->disposition == DISPOSITION_NONE ||
        amount == NULL || json_object_size(object) != (quantity == NULL ? 2u : 3u))
        return false;
    if (quantity != NULL &&
        (amount[0] == '\0' || strlen(amount) != json_string_length(quantity) ||
         !text_is_clean(amount, ENTRY_AMOUNT_MAX, false)))
        return false;
    ret->batch = (uint32_t)number;
    memcpy(ret->quantity, amount, strlen(amount) + 1);
    return true;
}

static bool
read_foods(const struct field *field, const json_t *value, struct entry *ret, char *reterr,
           size_t err_size)
{
    size_t count = json_array_size(value);
    bool good = json_is_array(value) && count >= 1 && count <= ENTRY_FOODS_MAX;
    for (size_t i = 0; good && i < count; i++)
        good = read_food(json_array_get(value, i), &ret->food[i]);
    if (!good) {
        (void)snprintf(reterr, err_size,
                       "\"food\" must be a list of 1 to %d batches, each with \"batch\", "
                       "\"disposition\" (" DISPOSITIONS
                       ") and perhaps a \"quantity\" of at most %d bytes; write for example %s",
                       ENTRY_FOODS_MAX, ENTRY_AMOUNT_MAX, field->example);
        return false;
    }
    ret->food_count = (uint8_t)count;
    return true;
}

/* Temperatures that no kitchen has are refused here, so that a slip of the finger does not
 * become a record. */
#define HAND_TEMP_MIN_mC         (-100000)
#define HAND_TEMP_MAX_mC         500000
#define JSON_INT_MAX             INT64_C(9007199254740991)
#define SPAN_MAX_ms              INT64_C(86400000)
#define POINT_UNCERTAINTY_MAX_mK 20000

static bool
read_point(const json_t *item, struct calibration_point *ret)
{
    const json_t *found = json_object_get(item, "found_mC"),
                 *reference = json_object_get(item, "reference_mC"),
                 *uncertainty = json_object_get(item, "uncertainty_mK"),
                 *method = json_object_get(item, "method");
    json_int_t found_mC = json_integer_value(found),
               reference_mC = json_integer_value(reference),
               uncertainty_mK = json_integer_value(uncertainty);
    ret->method = json_is_string(method)
                      ? calibration_method_from_word(json_string_value(method))
                      : CALIBRATION_NONE;
    if (json_object_size(item) != 4 || !json_is_integer(found) || !json_is_integer(reference) ||
        !json_is_integer(uncertainty) || ret->method == CALIBRATION_NONE ||
        found_mC < HAND_TEMP_MIN_mC || found_mC > HAND_TEMP_MAX_mC ||
        reference_mC < HAND_TEMP_MIN_mC || reference_mC > HAND_TEMP_MAX_mC ||
        uncertainty_mK < 0 || uncertainty_mK > POINT_UNCERTAINTY_MAX_mK)
        return false;
    ret->found_mC = (int32_t)found_mC;
    ret->reference_mC = (int32_t)reference_mC;
    ret->uncertainty_mK = (int32_t)uncertainty_mK;
    return true;
}

static bool
read_points(const struct field *field, const json_t *value, struct entry *ret, char *reterr,
            size_t err_size)
{
    struct calibration_point *points = is_left(field) ? ret->left : ret->points;
    size_t count = json_array_size(value);
    bool good = json_is_array(value) && count >= 1 && count <= CALIBRATION_POINTS_MAX;
    for (size_t i = 0; good && i < count; i++)
        good = read_point(json_array_get(value, i), &points[i]);
    if (!good) {
        (void)snprintf(
            reterr, err_size,
            "\"%s\" must be a list of 1 to %d points, each with whole numbers and the method "
            "ice, boiling or reference; write for example %s",
            field->key, CALIBRATION_POINTS_MAX, field->example);
        return false;
    }
    if (is_left(field))
        ret->left_count = (uint8_t)count;
    else
        ret->point_count = (uint8_t)count;
    return true;
}

static bool
read_field(const struct field *field, const json_t *value, struct entry *ret, char *reterr,
           size_t err_size)
{
    char *at = (char *)ret + field->offset;
    int64_t number = 0;
    switch (field->type) {
    case FIELD_TEXT:
    case FIELD_LINES:
        if (!json_is_string(value)) {
            (void)snprintf(reterr, err_size,
                           "\"%s\" must be text in quotes; write for example %s", field->key,
                           field->example);
            return false;
        }
        return read_text(field, json_string_value(value), json_string_length(value), at, reterr,
                         err_size);
    case FIELD_U32:
        if (!read_number(field, value, 1, UINT32_MAX, &number, reterr, err_size))
            return false;
        *(uint32_t *)(void *)at = (uint32_t)number;
        return true;
    case FIELD_U64:
        if (!read_number(field, value, 1, JSON_INT_MAX, &number, reterr, err_size))
            return false;
        *(uint64_t *)(void *)at = (uint64_t)number;
        return true;
    case FIELD_I32:
        if (!read_number(field, value, 1, 10000000, &number, reterr, err_size))
            return false;
        *(int32_t *)(void *)at = (int32_t)number;
        return true;
    case FIELD_TEMP:
        if (!read_number(field, value, HAND_TEMP_MIN_mC, HAND_TEMP_MAX_mC, &number, reterr,
                         err_size))
            return false;
        ret->temp_mC = (int32_t)number;
        ret->has_temp = true;
        return true;
    case FIELD_TIME:
        return read_number(field, value, 0, JSON_INT_MAX, &ret->given_ms, reterr, err_size);
    case FIELD_UID:
        return read_number(field, value, 0, UINT32_MAX, &ret->peer_uid, reterr, err_size);
    case FIELD_BOOL:
        if (!json_is_boolean(value)) {
            (void)snprintf(reterr, err_size, "\"%s\" must be true or false", field->key);
            return false;
        }
        ret->accept = json_is_true(value);
        return true;
    case FIELD_PROBES:
        return read_probes(field, value, ret, reterr, err_size);
    case FIELD_FLAG:
        if (!json_is_boolean(value)) {
            (void)snprintf(reterr, err_size, "\"%s\" must be true or false", field->key);
            return false;
        }
        *(bool *)(void *)at = json_is_true(value);
        return true;
    case FIELD_SPAN:
        return read_number(field, value, 1, SPAN_MAX_ms, (int64_t *)(void *)at, reterr,
                           err_size);
    case FIELD_WHY:
        ret->why =
            json_is_string(value) ? quiet_why_from_word(json_string_value(value)) : QUIET_NONE;
        if (ret->why == QUIET_NONE)
            (void)snprintf(reterr, err_size,
                           "\"%s\" must be one of off, empty, defrosting, cleaning",
                           field->key);
        return ret->why != QUIET_NONE;
    case FIELD_CORRECTION:
        ret->correction = json_is_string(value)
                              ? correction_choice_from_word(json_string_value(value))
                              : CORRECTION_UNSAID;
        if (ret->correction == CORRECTION_UNSAID)
            (void)snprintf(reterr, err_size, "\"%s\" must be one of keep, adopt, drop",
                           field->key);
        return ret->correction != CORRECTION_UNSAID;
    case FIELD_POINTS:
        return read_points(field, value, ret, reterr, err_size);
    case FIELD_OUTCOME:
    case FIELD_DISPOSITION:
        return read_word(field, value, ret, reterr, err_size);
    case FIELD_FOODS:
        return read_foods(field, value, ret, reterr, err_size);
    }
    return false;
}

static const struct field *
field_of(enum entry_kind kind, const char *key)
{
    for (size_t i = 0; i < FIELD_COUNT; i++)
        if (strcmp(fields[i].key, key) == 0 && (fields[i].used & 1u << kind))
            return &fields[i];
    return NULL;
}

static bool
read_object(enum entry_kind kind, json_t *object, struct entry *ret, char *reterr,
            size_t err_size)
{
    const char *key;
    json_t *value;
    json_object_foreach(object, key, value)
    {
        if (strcmp(key, "do") == 0) /* the control socket's word for the kind */
            continue;
        const struct field *field = field_of(kind, key);
        if (field == NULL) {
            (void)snprintf(reterr, err_size,
                           "\"%.40s\" does not belong to \"%s\"; leave it out", key,
                           entry_kind_word(kind));
            return false;
        }
        if (!read_field(field, value, ret, reterr, err_size))
            return false;
    }
    for (size_t i = 0; i < FIELD_COUNT; i++) {
        if ((fields[i].required & 1u << kind) &&
            json_object_get(object, fields[i].key) == NULL) {
            (void)snprintf(
                reterr, err_size, "\"%s\" is missing from \"%s\"; write for example \"%s\": %s",
                fields[i].key, entry_kind_word(kind), fields[i].key, fields[i].example);
            return false;
        }
        if ((fields[i].required & 1u << kind) && fields[i].max > 0 &&
            ((const char *)ret)[fields[i].offset] == '\0') {
            (void)snprintf(reterr, err_size, "\"%s\" is empty; write for example %s",
                           fields[i].key, fields[i].example);
            return false;
        }
    }
    return true;
}

bool
entry_read(enum entry_kind kind, const char *json, size_t len, struct entry *ret, char *reterr,
           size_t err_size)
{
    assert(kind != ENTRY_NONE);
    json_error_t fault;
    json_t *object = json_loadb(json, len, JSON_REJECT_DUPLICATES, &fault);
    if (object == NULL) {
        (void)snprintf(reterr, err_size,
                       "not a JSON object (%s at column %d); write one object on one line",
                       fault.text, fault.column);
        return false;
    }
    struct entry entry;
    entry_clear(&entry, kind);
    bool ok = json_is_object(object);
    if (!ok)
        (void)snprintf(reterr, err_size, "not a JSON object; write {\"do\":\"%s\",...}",
                       entry_kind_word(kind));
    else
        ok = read_object(kind, object, &entry, reterr, err_size);
    json_decref(object);
    if (ok)
        *ret = entry;
    return ok;
}
