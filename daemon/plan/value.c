/* One scalar of the plan file into its place: reads text by the field's type, checks its range
 * and tells what to write instead. Files looked at: time zones only. */
#include <arpa/inet.h>
#include <assert.h>
#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

#include "daemon/plan/faults.h"
#include "daemon/plan/quantity.h"
#include "daemon/plan/schema.h"
#include "trivet/json_out.h"
#include "trivet/sensor.h"

#define ZONES         "/usr/share/zoneinfo"
#define PATH_BYTES    255
#define HOST_BYTES    253 /* longest DNS name in text, RFC 1035 2.3.4 */
#define ADDRESS_BYTES 45
#define ID_CHARACTERS "abcdefghijklmnopqrstuvwxyz0123456789-."

/* What is being read, for the functions below. */
struct value {
    struct walk *walk;
    const struct field *field;
    const yaml_node_t *node; /* NULL: a default of ours */
    const char *text;        /* NUL-terminated copy, no NUL within */
    size_t len;
    char quoted[PLAN_QUOTED_MAX];
    void *base, *target;
};

void
plan_value_store(void *target, size_t size, int64_t value)
{
    int8_t one = (int8_t)value;
    int16_t two = (int16_t)value;
    int32_t four = (int32_t)value;
    switch (size) {
    case 1:
        memcpy(target, &one, size);
        return;
    case 2:
        memcpy(target, &two, size);
        return;
    case 4:
        memcpy(target, &four, size);
        return;
    case 8:
        memcpy(target, &value, size);
        return;
    }
    assert(false); /* a field of a size no integer has */
}

/* "X; write KEY: EXAMPLE" */
static bool
fault(const struct value *value, const char *wrong)
{
    plan_walk_fault(value->walk, value->node, "'%s' %s; write %s: %s", value->quoted, wrong,
                    value->field->key, value->field->write);
    return false;
}

/* ---- numbers ---- */

static const char *
is_not_what(enum field_type type)
{
    switch (type) {
    case FIELD_TEMP:
    case FIELD_TEMP_RANGE:
    case FIELD_JUMP:
        return "is not a temperature";
    case FIELD_SCALE:
        return "is not a number with its unit";
    case FIELD_TEMP_OR_ID:
        return "is neither a temperature nor the id of a probe";
    case FIELD_RATE:
        return "is not a change of temperature per minute";
    case FIELD_DURATION:
        return "is not a time";
    default:
        return "is not a whole number";
    }
}

static bool
number_fault(const struct value *value, enum quantity_status status)
{
    bool is_time = value->field->type == FIELD_DURATION;
    switch (status) {
    case QUANTITY_COMMA:
        if (value->field->type != FIELD_WHOLE && value->field->type != FIELD_WHOLES)
            return fault(value, "has a comma: write a point, not a comma");
        return fault(value, "is not a whole number");
    case QUANTITY_NO_UNIT:
        if (value->field->type == FIELD_SCALE) {
            plan_walk_fault(
                value->walk, value->node,
                "%s: '%s' has no unit; write %s °C or °F, or with a sensor: mV, uV, "
                "V, ohm or kohm",
                value->field->key, value->quoted, value->quoted);
            return false;
        }
        plan_walk_fault(value->walk, value->node,
                        "%s: '%s' has no unit; write %s %s (or %s %s)", value->field->key,
                        value->quoted, value->quoted, is_time ? "min" : "°C", value->quoted,
                        is_time ? "s, h" : "°F");
        return false;
    case QUANTITY_TOO_FINE:
        return fault(value, "has more decimals than can be kept");
    case QUANTITY_TOO_LARGE:
        return fault(value, "has too many digits");
    case QUANTITY_OK:
    case QUANTITY_NOT_A_NUMBER:
    case QUANTITY_BAD_UNIT:
        break;
    }
    return fault(value, is_not_what(value->field->type));
}

static char *
bound_text(char buf[QUANTITY_DURATION_MAX], enum field_type type, int64_t bound)
{
    char milli[32];
    switch (type) {
    case FIELD_DURATION:
        return quantity_duration_text(buf, bound);
    case FIELD_TEMP:
    case FIELD_TEMP_RANGE:
    case FIELD_JUMP:
    case FIELD_RATE:
    case FIELD_TEMP_OR_ID:
        (void)snprintf(buf, QUANTITY_DURATION_MAX, "%s °C%s",
                       temp_text(milli, sizeof(milli), (int32_t)bound),
                       type == FIELD_RATE ? "/min" : "");
        return buf;
    case FIELD_SCALE:
        (void)snprintf(buf, QUANTITY_DURATION_MAX, "%s%" PRId64 ".%06" PRId64 " °C, mV or ohm",
                       bound < 0 ? "-" : "", (bound < 0 ? -bound : bound) / 1000000,
                       (bound < 0 ? -bound : bound) % 1000000);
        return buf;
    default:
        (void)snprintf(buf, QUANTITY_DURATION_MAX, "%" PRId64, bound);
        return buf;
    }
}

static bool
range_fault(const struct value *value)
{
    char min[QUANTITY_DURATION_MAX], max[QUANTITY_DURATION_MAX];
    plan_walk_fault(value->walk, value->node,
                    "%s: '%s' is out of range; write something from %s to %s",
                    value->field->key, value->quoted,
                    bound_text(min, value->field->type, value->field->min),
                    bound_text(max, value->field->type, value->field->max));
    return false;
}

static bool
in_range(const struct field *field, int64_t number)
{
    return number >= field->min && number <= field->max;
}

static bool
read_whole(struct value *value)
{
    int64_t number;
    enum quantity_status status = quantity_whole(value->text, value->len, &number);
    if (status != QUANTITY_OK)
        return number_fault(value, status);
    if (!in_range(value->field, number))
        return range_fault(value);
    plan_value_store(value->target, value->field->size, number);
    return true;
}

static bool
read_duration(struct value *value)
{
    int64_t duration_ms;
    enum quantity_status status = quantity_duration(value->text, value->len, &duration_ms);
    if (status != QUANTITY_OK)
        return number_fault(value, status);
    if (!in_range(value->field, duration_ms))
        return range_fault(value);
    plan_value_store(value->target, value->field->size, duration_ms);
    return true;
}

static bool
read_temp(struct value *value)
{
    int64_t micro;
    enum temp_unit unit;
    enum quantity_status status = quantity_temp(value->text, value->len, &micro, &unit);
    if (status == QUANTITY_OK && micro % 1000 != 0)
        status = QUANTITY_TOO_FINE;
    if (status != QUANTITY_OK)
        return number_fault(value, status);
    /* Exact on both sides: the bounds are whole mC. */
    if (quantity_floor_mC(micro, unit, 0) < value->field->min ||
        quantity_ceil_mC(micro, unit, 0) > value->field->max)
        return range_fault(value);
    *(struct limit_temp *)value->target =
        (struct limit_temp){.milli = (int32_t)(micro / 1000), .unit = unit};
    return true;
}

/* A difference or a rate: thousandths of a degree Celsius, rounded down. */
static bool
read_difference(struct value *value)
{
    int64_t micro;
    enum temp_unit unit;
    enum quantity_status status = value->field->type == FIELD_RATE
                                      ? quantity_rate(value->text, value->len, &micro, &unit)
                                      : quantity_temp(value->text, value->len, &micro, &unit);
    if (status != QUANTITY_OK)
        return number_fault(value, status);
    if (quantity_floor_mC(micro, unit, 1) < value->field->min ||
        quantity_ceil_mC(micro, unit, 1) > value->field->max)
        return range_fault(value);
    plan_value_store(value->target, value->field->size, quantity_floor_mC(micro, unit, 1));
    return true;
}

static bool
read_scale(struct value *value)
{
    int64_t micro;
    enum signal_unit signal;
    enum temp_unit unit = TEMP_C;
    char *base = value->base;
    enum quantity_status status =
        quantity_signal(value->text, value->len, &micro, &signal, &unit);
    if (status != QUANTITY_OK)
        return number_fault(value, status);
    if (!in_range(value->field, micro))
        return range_fault(value);
    plan_value_store(value->target, value->field->size, micro);
    if (value->field->unit_offset != 0)
        *(enum temp_unit *)(base + value->field->unit_offset) = unit;
    if (value->field->signal_offset != 0)
        *(enum signal_unit *)(base + value->field->signal_offset) = signal;
    return true;
}

/* ---- words ---- */

static const char *
next_choice(const void *arg, size_t i)
{
    return ((const struct choice *)arg)[i].word;
}

static bool
read_choice(struct value *value, const struct choice *choices)
{
    char list[160] = "";
    for (const struct choice *choice = choices; choice->word; choice++) {
        if (strcmp(choice->word, value->text) == 0) {
            plan_value_store(value->target, value->field->size, choice->value);
            return true;
        }
        size_t len = strlen(list);
        (void)snprintf(list + len, sizeof(list) - len, "%s%s",
                       len == 0         ? ""
                       : choice[1].word ? ", "
                                        : " or ",
                       choice->word);
    }
    /* Guessing between numbers would mislead. */
    const char *nearest = value->text[0] >= '0' && value->text[0] <= '9'
                              ? NULL
                              : plan_nearest(value->text, value->len, next_choice, choices);
    if (nearest)
        plan_walk_fault(value->walk, value->node,
                        "%s: '%s' is not known; did you mean '%s'? Write %s", value->field->key,
                        value->quoted, nearest, list);
    else
        plan_walk_fault(value->walk, value->node, "%s: '%s' is not known; write %s",
                        value->field->key, value->quoted, list);
    return false;
}

static const struct choice yes_no[] = {{"yes", 1}, {"no", 0}, {NULL, 0}};

/* ---- text ---- */

static bool
keep_text(struct value *value, const char *text)
{
    const char *copy = plan_arena_copy(value->walk->arena, text, strlen(text));
    memcpy(value->target, &copy, sizeof(copy));
    return copy != NULL;
}

static bool
check_clean(const struct value *value, size_t max)
{
    if (value->len > max) {
        plan_walk_fault(
            value->walk, value->node,
            "%s is %zu bytes long; write at most %zu (a letter with an accent counts two)",
            value->field->key, value->len, max);
        return false;
    }
    if (!text_is_clean(value->text, max, false))
        return fault(
            value,
            "has a line break, a control character or one that turns the direction of text");
    return true;
}

static bool
read_id(struct value *value)
{
    bool dotted = value->field->type == FIELD_DOTTED;
    if (value->len > PLAN_ID_MAX || strspn(value->text, ID_CHARACTERS) != value->len ||
        (!dotted && strchr(value->text, '.')) || value->text[0] == '-' ||
        value->text[0] == '.') {
        plan_walk_fault(
            value->walk, value->node,
            "%s: '%s' is not an id; write at most %d lower-case letters a-z, digits and "
            "hyphens%s, such as %s",
            value->field->key, value->quoted, PLAN_ID_MAX, dotted ? " or points" : "",
            value->field->write);
        return false;
    }
    if (value->field->type != FIELD_REFERENCE)
        memcpy(value->target, value->text, value->len + 1);
    return true;
}

/* An id may begin with a digit, but it has neither blank nor degree sign in it. */
static bool
read_temp_or_id(struct value *value)
{
    int64_t micro;
    enum temp_unit unit;
    int32_t *temp_mC = (int32_t *)((char *)value->base + value->field->temp_offset);
    const enum quantity_status status = quantity_temp(value->text, value->len, &micro, &unit);
    plan_value_store(value->target, value->field->size, -1);
    *temp_mC = TEMP_NONE;
    if (status != QUANTITY_OK && value->len <= PLAN_ID_MAX &&
        strspn(value->text, ID_CHARACTERS) == value->len &&
        strpbrk(value->text, "abcdefghijklmnopqrstuvwxyz") && !strchr(value->text, '.') &&
        value->text[0] != '-')
        return true; /* resolved when all ids are known */
    if (status != QUANTITY_OK)
        return number_fault(value, status);
    if (quantity_floor_mC(micro, unit, 0) < value->field->min ||
        quantity_ceil_mC(micro, unit, 0) > value->field->max)
        return range_fault(value);
    if (unit == TEMP_C && micro % 1000 != 0)
        return number_fault(value, QUANTITY_TOO_FINE);
    *temp_mC = (int32_t)quantity_floor_mC(micro, unit, 0);
    return true;
}

static bool
read_sensor(struct value *value)
{
    struct sensor sensor;
    struct sensor_refusal why = {{0}};
    if (!check_clean(value, (size_t)value->field->max))
        return false;
    if (sensor_parse(value->text, &sensor, &why))
        return keep_text(value, value->text);
    plan_walk_fault(value->walk, value->node, "%s: %s", value->field->key, why.text);
    return false;
}

static bool
read_initials(struct value *value)
{
    if (!check_clean(value, PLAN_INITIALS_MAX))
        return false;
    /* They are typed as a word on a command line and stand in lists. */
    if (strpbrk(value->text, " \"'`,;:|&<>()[]{}$\\*?!#%=/~") || value->text[0] == '-')
        return fault(value, "has a blank or a sign in it");
    memcpy(value->target, value->text, value->len + 1);
    return true;
}

static bool
read_path(struct value *value)
{
    if (!check_clean(value, PATH_BYTES))
        return false;
    if (value->field->type == FIELD_ABSOLUTE && value->text[0] != '/')
        return fault(value, "does not begin with '/'");
    const char *slash = value->walk->file ? strrchr(value->walk->file, '/') : NULL;
    if (value->text[0] == '/' || !slash)
        return keep_text(value, value->text);
    int prefix = (int)(slash - value->walk->file) + 1;
    char whole[4096 + PATH_BYTES + 1];
    if (prefix > 4096)
        return fault(value,
                     "cannot be told from a plan that lies so deep: give the whole path");
    (void)snprintf(whole, sizeof(whole), "%.*s%s", prefix, value->walk->file, value->text);
    return keep_text(value, whole);
}

static bool
read_host(struct value *value)
{
    static const char allowed[] =
        "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789.:-_";
    if (!check_clean(value, HOST_BYTES))
        return false;
    if (strspn(value->text, allowed) != value->len || value->text[0] == '-')
        return fault(value, "is neither a host name nor an address");
    return keep_text(value, value->text);
}

static bool
read_address(struct value *value)
{
    unsigned char bytes[16];
    if (value->len > ADDRESS_BYTES || (inet_pton(AF_INET, value->text, bytes) != 1 &&
                                       inet_pton(AF_INET6, value->text, bytes) != 1))
        return fault(value, "is not a numeric address");
    return keep_text(value, value->text);
}

/* A zone is a file of the time zone database that begins with its magic (RFC 8536). */
static bool
zone_exists(const char *zone)
{
    static const char allowed[] =
        "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789_+-/";
    char path[sizeof(ZONES) + 80], magic[4] = "";
    struct stat status;
    size_t len = strlen(zone);
    if (len == 0 || len > 64 || strspn(zone, allowed) != len || zone[0] == '/')
        return false; /* no dot, so no way up */
    if (stat(ZONES, &status) != 0)
        return strcmp(zone, "UTC") == 0;
    (void)snprintf(path, sizeof(path), "%s/%s", ZONES, zone); /* fits */
    if (stat(path, &status) != 0 || !S_ISREG(status.st_mode))
        return false;
    FILE *file = fopen(path, "rbe");
    if (!file)
        return false;
    bool is_zone = fread(magic, 1, 4, file) == 4 && memcmp(magic, "TZif", 4) == 0;
    (void)fclose(file); /* only read */
    return is_zone;
}

static bool
read_zone(struct value *value)
{
    if (!zone_exists(value->text))
        return fault(value, "is not a time zone this machine knows");
    return keep_text(value, value->text);
}

/* A day of the Gregorian calendar, as RFC 3339 writes a full-date. */
static bool
read_date(struct value *value)
{
    static const char form[] = "0000-00-00";
    static const int days_of[] = {31, 29, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31};
    bool good = value->len == sizeof(form) - 1;
    for (size_t i = 0; good && i < value->len; i++)
        good = form[i] == '-' ? value->text[i] == '-'
                              : value->text[i] >= '0' && value->text[i] <= '9';
    if (good) {
        long year = strtol(value->text, NULL, 10), month = strtol(value->text + 5, NULL, 10),
             day = strtol(value->text + 8, NULL, 10);
        bool leap = (year % 4 == 0 && year % 100 != 0) || year % 400 == 0;
        good = year >= 2000 && month >= 1 && month <= 12 && day >= 1 &&
               day <= days_of[month - 1] && (month != 2 || day < 29 || leap);
    }
    return good ? keep_text(value, value->text)
                : fault(value, "is not a day: year, month and day, with hyphens");
}

/* A time of day of the 24-hour clock. */
static bool
read_clock(struct value *value)
{
    const char *text = value->text;
    if (value->len != 5 || text[2] != ':' || strspn(text, "0123456789") != 2 ||
        strspn(text + 3, "0123456789") != 2 || strcmp(text, "24:00") >= 0 || text[3] > '5')
        return fault(value, "is not a time of day: hours and minutes, with a colon");
    int64_t minutes =
        ((text[0] - '0') * 10 + (text[1] - '0')) * 60 + (text[3] - '0') * 10 + (text[4] - '0');
    plan_value_store(value->target, value->field->size, minutes);
    return true;
}

/* ---- any scalar ---- */

static bool
read_by_type(struct value *value)
{
    switch (value->field->type) {
    case FIELD_TEXT:
    case FIELD_TEXTS:
        return check_clean(value, (size_t)value->field->max) && keep_text(value, value->text);
    case FIELD_ID:
    case FIELD_DOTTED:
    case FIELD_REFERENCE:
        return read_id(value);
    case FIELD_TEMP_OR_ID:
        return read_temp_or_id(value);
    case FIELD_SENSOR:
        return read_sensor(value);
    case FIELD_INITIALS:
        return read_initials(value);
    case FIELD_YES_NO:
        return read_choice(value, yes_no);
    case FIELD_WORD:
        return read_choice(value, value->field->choices);
    case FIELD_WHOLE:
    case FIELD_WHOLES:
        return read_whole(value);
    case FIELD_TEMP:
    case FIELD_TEMP_RANGE:
        return read_temp(value);
    case FIELD_JUMP:
    case FIELD_RATE:
        return read_difference(value);
    case FIELD_SCALE:
        return read_scale(value);
    case FIELD_DURATION:
        return read_duration(value);
    case FIELD_ABSOLUTE:
    case FIELD_PATH:
        return read_path(value);
    case FIELD_ZONE:
        return read_zone(value);
    case FIELD_ADDRESS:
        return read_address(value);
    case FIELD_HOST:
        return read_host(value);
    case FIELD_DATE:
        return read_date(value);
    case FIELD_CLOCK:
        return read_clock(value);
    case FIELD_TABLE:
    case FIELD_TABLES:
        break;
    }
    assert(false); /* a mapping is no scalar */
    return false;
}

bool
plan_value_read(struct walk *walk, const struct field *field, const char *text, size_t len,
                const yaml_node_t *node, void *target, void *base)
{
    struct value value = {
        .walk = walk, .field = field, .node = node, .base = base, .target = target};
    while (len > 0 && text[len - 1] == '\n') /* a folded text ends with its last line's end */
        len--;
    plan_quoted(value.quoted, text, len);
    if (len == 0) {
        plan_walk_fault(walk, node, "%s is empty; write %s: %s", field->key, field->key,
                        field->write);
        return false;
    }
    if (memchr(text, '\0', len))
        return fault(&value, "has a NUL in it");
    /* The copy is short-lived for most types, but a plan has few scalars. */
    value.text = plan_arena_copy(walk->arena, text, len);
    value.len = len;
    return value.text && read_by_type(&value);
}
