/* Clock times of the site from the system's zone files (TZif, RFC 8536; footer as POSIX TZ).
 *
 * Own reader because localtime_r takes one zone per process and setting TZ races with every
 * other thread. Owns the list of shared zones behind zone_shared(); everything else is
 * immutable. Any thread. Never decides anything. */
#include "trivet/zone.h"

#include <pthread.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "zone_rule.h"

#define ZONE_DIRECTORY   "/usr/share/zoneinfo"
#define ZONE_BYTES_MAX   ((size_t)256 * 1024) /* the largest file of tzdata 2025b has 3.6 KB */
#define TRANSITIONS_MAX  4096
#define TYPES_MAX        256
#define SHARED_ZONES_MAX 16

#define YEAR_1_S    (-62135596800) /* 0001-01-01T00:00:00Z */
#define YEAR_9999_S 253402214400   /* 9999-12-31T00:00:00Z */

struct zone_type {
    int32_t offset_s;
    bool dst;
    char abbrev[12];
};

struct zone {
    size_t transition_count, type_count;
    int64_t *transitions; /* seconds, ascending */
    uint8_t *transition_types;
    struct zone_type types[TYPES_MAX];
    struct zone_rule rule; /* after the last transition */
    bool has_rule;
};

/* ---- the file ---- */

struct bytes {
    const unsigned char *at, *end;
};

static bool
bytes_skip(struct bytes *in, size_t count)
{
    if ((size_t)(in->end - in->at) < count)
        return false;
    in->at += count;
    return true;
}

static uint64_t
big_endian(const unsigned char *at, size_t width)
{
    uint64_t value = 0;
    for (size_t i = 0; i < width; i++)
        value = value << 8 | at[i];
    return value;
}

struct tzif_header {
    unsigned char version;
    size_t utc_flags, std_flags, leaps, transitions, types, chars;
};

static bool
read_header(struct bytes *in, struct tzif_header *ret)
{
    const unsigned char *start = in->at;
    if (!bytes_skip(in, 44) || memcmp(start, "TZif", 4) != 0)
        return false;
    size_t *const counts[] = {&ret->utc_flags,   &ret->std_flags, &ret->leaps,
                              &ret->transitions, &ret->types,     &ret->chars};
    ret->version = start[4];
    for (size_t i = 0; i < 6; i++)
        *counts[i] = (size_t)big_endian(start + 20 + 4 * i, 4);
    return ret->transitions <= TRANSITIONS_MAX && ret->types >= 1 && ret->types <= TYPES_MAX &&
           ret->chars <= 4096 && ret->leaps <= 4096 && ret->utc_flags <= TYPES_MAX &&
           ret->std_flags <= TYPES_MAX;
}

static bool
read_types(struct zone *zone, const struct tzif_header *header, const unsigned char *types,
           const unsigned char *chars)
{
    zone->type_count = header->types;
    for (size_t i = 0; i < header->types; i++) {
        const unsigned char *type = types + 6 * i;
        struct zone_type *to = &zone->types[i];
        to->offset_s = (int32_t)(uint32_t)big_endian(type, 4);
        to->dst = type[4] != 0;
        /* RFC 8536: should be more than -25 hours and less than 26. */
        if (to->offset_s <= -90000 || to->offset_s >= 93600 || type[5] >= header->chars)
            return false;
        size_t len = 0;
        for (size_t at = type[5]; at < header->chars && chars[at] != 0; at++)
            if (len + 1 < sizeof to->abbrev)
                to->abbrev[len++] = (char)chars[at];
        to->abbrev[len] = '\0';
    }
    return true;
}

static bool
read_transitions(struct zone *zone, const struct tzif_header *header,
                 const unsigned char *times, const unsigned char *kinds)
{
    zone->transition_count = header->transitions;
    zone->transitions = calloc(header->transitions + 1, sizeof *zone->transitions);
    zone->transition_types = calloc(header->transitions + 1, 1);
    if (zone->transitions == NULL || zone->transition_types == NULL)
        return false;
    for (size_t i = 0; i < header->transitions; i++) {
        zone->transitions[i] = (int64_t)big_endian(times + 8 * i, 8);
        zone->transition_types[i] = kinds[i];
        if (kinds[i] >= header->types ||
            (i > 0 && zone->transitions[i] <= zone->transitions[i - 1]))
            return false;
    }
    return true;
}

static bool
read_footer(struct zone *zone, struct bytes *in)
{
    char text[128];
    if (in->at >= in->end || *in->at != '\n')
        return false;
    in->at++;
    const unsigned char *stop = memchr(in->at, '\n', (size_t)(in->end - in->at));
    if (stop == NULL || (size_t)(stop - in->at) >= sizeof text)
        return false;
    size_t len = (size_t)(stop - in->at);
    memcpy(text, in->at, len);
    text[len] = '\0';
    if (len == 0)
        return true; /* no rule known: the last type goes on */
    zone->has_rule = zone_rule_parse(text, &zone->rule);
    return zone->has_rule;
}

static bool
read_body(struct zone *zone, struct bytes *in)
{
    struct tzif_header header;
    if (!read_header(in, &header) || header.version < '2')
        return false;
    /* The first block has 4-byte times, for readers of 1990; the second is the one that counts.
     */
    if (!bytes_skip(in, header.transitions * 5 + header.types * 6 + header.chars +
                            header.leaps * 8 + header.std_flags + header.utc_flags) ||
        !read_header(in, &header))
        return false;
    const unsigned char *times = in->at, *kinds = times + header.transitions * 8;
    const unsigned char *types = kinds + header.transitions, *chars = types + header.types * 6;
    if (!bytes_skip(in, header.transitions * 9 + header.types * 6 + header.chars +
                            header.leaps * 12 + header.std_flags + header.utc_flags))
        return false;
    return read_types(zone, &header, types, chars) &&
           read_transitions(zone, &header, times, kinds) && read_footer(zone, in);
}

struct zone *
zone_parse(const unsigned char *bytes, size_t len)
{
    struct bytes in = {.at = bytes, .end = bytes + len};
    struct zone *zone = calloc(1, sizeof *zone);
    if (zone != NULL && read_body(zone, &in))
        return zone;
    zone_free(zone);
    return NULL;
}

void
zone_free(struct zone *zone)
{
    if (zone == NULL)
        return;
    free(zone->transitions);
    free(zone->transition_types);
    free(zone);
}

static bool
name_is_plain(const char *name)
{
    size_t len = strlen(name);
    if (len == 0 || len > 64 || name[0] == '/' || strstr(name, "..") != NULL)
        return false;
    for (const char *c = name; *c != '\0'; c++)
        if (!((*c >= 'A' && *c <= 'Z') || (*c >= 'a' && *c <= 'z') ||
              (*c >= '0' && *c <= '9') || strchr("_+-/", *c) != NULL))
            return false;
    return true;
}

static struct zone *
zone_utc(void)
{
    struct zone *zone = calloc(1, sizeof *zone);
    if (zone == NULL)
        return NULL;
    zone->type_count = 1;
    memcpy(zone->types[0].abbrev, "UTC", 4);
    return zone;
}

static unsigned char *
read_file(const char *path, size_t *ret_len)
{
    FILE *file = fopen(path, "rb");
    unsigned char *bytes = file == NULL ? NULL : malloc(ZONE_BYTES_MAX);
    if (bytes != NULL)
        *ret_len = fread(bytes, 1, ZONE_BYTES_MAX, file);
    if (file != NULL)
        (void)fclose(file); /* nothing was written */
    return bytes;
}

struct zone *
zone_load(const char *name, char *reterr, size_t err_size)
{
    if (strcmp(name, "UTC") == 0)
        return zone_utc();
    if (!name_is_plain(name)) {
        (void)snprintf(
            reterr, err_size,
            "'%.64s' is not the name of a time zone; write one such as Europe/London", name);
        return NULL;
    }
    char path[128];
    size_t len = 0;
    (void)snprintf(path, sizeof path, "%s/%s", ZONE_DIRECTORY, name);
    unsigned char *bytes = read_file(path, &len);
    struct zone *zone = bytes == NULL ? NULL : zone_parse(bytes, len);
    free(bytes);
    if (zone == NULL)
        (void)snprintf(reterr, err_size,
                       "no time zone '%s' in %s; check the spelling (such as Europe/London) "
                       "and that the package "
                       "tzdata is installed",
                       name, ZONE_DIRECTORY);
    return zone;
}

/* ---- shared zones: a handful for the life of the process ---- */

static pthread_mutex_t shared_lock = PTHREAD_MUTEX_INITIALIZER;
static struct {
    char name[65];
    struct zone *zone;
} shared_zones[SHARED_ZONES_MAX];
static size_t shared_count;

/* What remains when a zone cannot be loaded and memory is short: plain UTC. */
static struct zone fallback_utc = {.type_count = 1, .types = {{.abbrev = "UTC"}}};

const struct zone *
zone_shared(const char *name)
{
    if (name == NULL || strlen(name) > 64)
        return &fallback_utc;
    const struct zone *found = NULL;
    (void)pthread_mutex_lock(&shared_lock);
    for (size_t i = 0; i < shared_count && found == NULL; i++)
        if (strcmp(shared_zones[i].name, name) == 0)
            found = shared_zones[i].zone;
    if (found == NULL && shared_count < SHARED_ZONES_MAX) {
        char unused[200];
        struct zone *loaded = zone_load(name, unused, sizeof unused);
        if (loaded != NULL) {
            (void)snprintf(shared_zones[shared_count].name, sizeof shared_zones[0].name, "%s",
                           name);
            shared_zones[shared_count++].zone = loaded;
            found = loaded;
        }
    }
    (void)pthread_mutex_unlock(&shared_lock);
    return found != NULL ? found : &fallback_utc;
}

/* ---- taking apart and putting together ---- */

static const struct zone_type *
type_at(const struct zone *zone, int64_t utc_s, struct zone_type *by_rule)
{
    size_t count = zone->transition_count;
    if (count == 0 || utc_s >= zone->transitions[count - 1]) {
        if (zone->has_rule) {
            by_rule->offset_s = zone_rule_offset(&zone->rule, utc_s, &by_rule->dst);
            memcpy(by_rule->abbrev, by_rule->dst ? zone->rule.dst_name : zone->rule.std_name,
                   sizeof by_rule->abbrev);
            return by_rule;
        }
        return &zone->types[count == 0 ? 0 : zone->transition_types[count - 1]];
    }
    if (utc_s < zone->transitions[0])
        return &zone->types[0];
    size_t low = 0, high = count - 1; /* transitions[low] <= utc_s < transitions[high] */
    while (high - low > 1) {
        size_t mid = low + (high - low) / 2;
        if (zone->transitions[mid] <= utc_s)
            low = mid;
        else
            high = mid;
    }
    return &zone->types[zone->transition_types[low]];
}

static int64_t
floor_div(int64_t a, int64_t b)
{
    return a / b - (a % b < 0);
}

static int64_t
clamp_s(int64_t utc_s)
{
    return utc_s < YEAR_1_S ? YEAR_1_S : utc_s > YEAR_9999_S ? YEAR_9999_S : utc_s;
}

void
zone_split(const struct zone *zone, int64_t utc_ms, struct zone_time *ret)
{
    int64_t utc_s = clamp_s(floor_div(utc_ms, 1000));
    struct zone_type by_rule;
    const struct zone_type *type = type_at(zone, utc_s, &by_rule);
    int64_t local_s = utc_s + type->offset_s;
    int64_t days = floor_div(local_s, 86400);
    int32_t in_day_s = (int32_t)(local_s - days * 86400);
    memset(ret, 0, sizeof *ret);
    civil_from_days(days, &ret->year, &ret->month, &ret->day);
    ret->weekday = (uint8_t)(((days + 4) % 7 + 7) % 7); /* 1970-01-01 was a Thursday */
    ret->hour = (uint8_t)(in_day_s / 3600);
    ret->minute = (uint8_t)(in_day_s / 60 % 60);
    ret->second = (uint8_t)(in_day_s % 60);
    ret->milli = (uint16_t)(utc_ms - floor_div(utc_ms, 1000) * 1000);
    ret->offset_s = type->offset_s;
    ret->dst = type->dst;
    memcpy(ret->abbrev, type->abbrev, sizeof ret->abbrev);
}

bool
zone_join(const struct zone *zone, int32_t year, int month, int day, int hour, int minute,
          int64_t *ret_utc_ms)
{
    if (year < 1 || year > 9998 || month < 1 || month > 12 || day < 1 ||
        day > days_in_month(year, month) || hour < 0 || hour > 23 || minute < 0 || minute > 59)
        return false;
    int64_t local_s =
        days_from_civil(year, month, day) * 86400 + (int64_t)hour * 3600 + (int64_t)minute * 60;
    const int64_t reach_s = INT64_C(26) * 3600;
    /* Local time seen from each instant is an increasing function except at jumps. The answer
     * lies within 26 hours of local_s taken as UTC; search the first instant whose local time
     * has reached it, minute by minute around the offsets that occur there. */
    int64_t best = INT64_MAX, jump = INT64_MAX;
    for (int64_t probe_s = local_s - reach_s; probe_s <= local_s + reach_s; probe_s += 3600) {
        struct zone_type by_rule;
        int64_t candidate = local_s - type_at(zone, probe_s, &by_rule)->offset_s;
        if (candidate + type_at(zone, candidate, &by_rule)->offset_s == local_s &&
            candidate < best)
            best = candidate;
    }
    if (best == INT64_MAX) {
        /* Skipped by a jump forward: find the jump by halving. */
        int64_t before = local_s - reach_s, after = local_s + reach_s;
        while (after - before > 1) {
            int64_t mid = before + (after - before) / 2;
            struct zone_type by_rule;
            if (mid + type_at(zone, mid, &by_rule)->offset_s < local_s)
                before = mid;
            else
                after = mid;
        }
        jump = after;
    }
    *ret_utc_ms = (best != INT64_MAX ? best : jump) * 1000;
    return true;
}

int64_t
zone_day_start(const struct zone *zone, int64_t utc_ms, int days_later)
{
    struct zone_time now;
    zone_split(zone, utc_ms, &now);
    int32_t year;
    uint8_t month, day;
    civil_from_days(days_from_civil(now.year, now.month, now.day) + days_later, &year, &month,
                    &day);
    int64_t start_ms = utc_ms;
    (void)zone_join(zone, year, month, day, 0, 0, &start_ms); /* a real date by construction */
    return start_ms;
}

/* ---- texts ---- */

char *
zone_clock_text(const struct zone *zone, int64_t utc_ms, int64_t day_of_ms, char *buf,
                size_t size)
{
    static const char days[7][4] = {"Sun", "Mon", "Tue", "Wed", "Thu", "Fri", "Sat"};
    static const char months[12][4] = {"Jan", "Feb", "Mar", "Apr", "May", "Jun",
                                       "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"};
    struct zone_time at, day_of;
    zone_split(zone, utc_ms, &at);
    zone_split(zone, day_of_ms, &day_of);
    int64_t apart = days_from_civil(at.year, at.month, at.day) -
                    days_from_civil(day_of.year, day_of.month, day_of.day);
    if (apart == 0)
        (void)snprintf(buf, size, "%02d:%02d", at.hour, at.minute);
    else if (apart > -6 && apart < 6)
        (void)snprintf(buf, size, "%s %02d:%02d", days[at.weekday], at.hour, at.minute);
    else if (at.year == day_of.year)
        (void)snprintf(buf, size, "%d %s %02d:%02d", at.day, months[at.month - 1], at.hour,
                       at.minute);
    else
        (void)snprintf(buf, size, "%d %s %d %02d:%02d", at.day, months[at.month - 1],
                       (int)at.year, at.hour, at.minute);
    return buf;
}

char *
zone_stamp_text(const struct zone *zone, int64_t utc_ms, char *buf, size_t size)
{
    struct zone_time at;
    zone_split(zone, utc_ms, &at);
    (void)snprintf(buf, size, "%04d-%02d-%02d %02d:%02d:%02d", (int)at.year, at.month, at.day,
                   at.hour, at.minute, at.second);
    return buf;
}

char *
zone_iso_text(const struct zone *zone, int64_t utc_ms, char *buf, size_t size)
{
    struct zone_time at;
    zone_split(zone, utc_ms, &at);
    const int ahead_s = at.offset_s < 0 ? -at.offset_s : at.offset_s;
    int len = snprintf(buf, size, "%04d-%02d-%02dT%02d:%02d:%02d.%03d%c%02d:%02d", (int)at.year,
                       at.month, at.day, at.hour, at.minute, at.second, at.milli,
                       at.offset_s < 0 ? '-' : '+', ahead_s / 3600, ahead_s / 60 % 60);
    if (ahead_s % 60 != 0 && len > 0 && (size_t)len < size)
        (void)snprintf(buf + len, size - (size_t)len, ":%02d", ahead_s % 60);
    return buf;
}
