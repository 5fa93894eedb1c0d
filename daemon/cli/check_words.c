/* What `trivet check` finds, as lines of words. See check_words.h. */
#include "daemon/cli/check_words.h"

#include <inttypes.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "daemon/cli/lists.h"
#include "trivet/units.h"

#define DAY_MS   86400000
#define MB_BYTES 1000000

void
checks_init(struct checks *checks)
{
    *checks = (struct checks){0};
}

void
checks_done(struct checks *checks)
{
    free(checks->line);
    checks_init(checks);
}

/* Takes away the beginning of a character whose end did not fit. */
static void
end_whole(char *text)
{
    size_t len = strlen(text), at = len;
    while (at > 0 && ((unsigned char)text[at - 1] & 0xC0) == 0x80)
        at--;
    if (at == 0)
        return;
    unsigned char lead = (unsigned char)text[at - 1];
    size_t wants = lead >= 0xF0 ? 3 : lead >= 0xE0 ? 2 : lead >= 0xC0 ? 1 : 0;
    if (len - at < wants)
        text[at - 1] = '\0';
}

static struct check_line *
new_line(struct checks *checks)
{
    if (checks->count == checks->room) {
        size_t room = checks->room == 0 ? 32 : checks->room * 2;
        struct check_line *more = realloc(checks->line, room * sizeof *more);
        if (more == NULL) {
            checks->lost = true;
            return NULL;
        }
        checks->line = more;
        checks->room = room;
    }
    return &checks->line[checks->count++];
}

void
checks_add(struct checks *checks, bool well, const char *name, const char *format, ...)
{
    struct check_line *line = new_line(checks);
    if (line == NULL)
        return;
    va_list args;
    line->well = well;
    (void)snprintf(line->name, sizeof line->name, "%s", name);
    va_start(args, format);
    int len = vsnprintf(line->text, sizeof line->text, format, args);
    va_end(args);
    if (len >= (int)sizeof line->text)
        end_whole(line->text);
    checks->wrong += !well;
}

/* ---- arithmetic ---- */

uint64_t
check_readings_a_day(const struct plan *plan)
{
    uint64_t sum = 0;
    for (size_t i = 0; i < plan->probe_count; i++)
        if (plan->probes[i].every_ms > 0)
            sum += (uint64_t)(DAY_MS / plan->probes[i].every_ms);
    return sum;
}

uint64_t
check_days_left(uint64_t free_bytes, uint64_t readings_a_day)
{
    if (readings_a_day == 0)
        return UINT64_MAX;
    return free_bytes / (readings_a_day * CHECK_READING_BYTES);
}

uint64_t
check_unsealed_most(const struct plan *plan)
{
    uint64_t seal_ms = plan->records.seal_ms > 0 ? (uint64_t)plan->records.seal_ms : 0;
    return 3 * check_readings_a_day(plan) * seal_ms / DAY_MS + 100;
}

/* ---- the plan ---- */

static void
tell_faults(struct checks *checks, const char *path, const struct plan_faults *faults)
{
    const struct plan_fault *first = &faults->fault[0];
    if (faults->count > 0 && first->line == 0)
        checks_add(checks, false, "plan file",
                   "cannot be read by you, from here: %s; the plan in force was not compared "
                   "with it",
                   first->text);
    else
        checks_add(checks, false, "plan file",
                   "%zu%s fault%s: the daemon would not start with it; `trivetd --check FILE` "
                   "tells each. Line %d: %s. It is %s",
                   faults->count, faults->more ? " or more" : "", faults->count == 1 ? "" : "s",
                   first->line, first->text, path);
}

void
check_plan(struct checks *checks, const json_t *now, const struct plan *file,
           const struct plan_faults *faults)
{
    const char *path = lists_text(now, "plan_file"), *digest = lists_text(now, "plan_digest");
    if (digest[0] == '\0') {
        checks_add(checks, false, "plan", "none is in force yet: look again in a few seconds");
        return;
    }
    if (lists_text(now, "plan_refused")[0] != '\0')
        checks_add(checks, false, "plan",
                   "the file as it was last read is not in force; `trivet plan` says why");
    if (file == NULL)
        tell_faults(checks, path, faults);
    else if (strcmp(file->digest, digest) != 0)
        checks_add(checks, false, "plan",
                   "the file is not the plan in force: it was changed since. Put it in force "
                   "with `trivet plan --reload`, or bring the old one back. It is %s",
                   path);
    else
        checks_add(checks, true, "plan", "the one in force is the file's, without faults: %s",
                   path);
}

/* ---- what is read ---- */

void
check_buses(struct checks *checks, const json_t *now)
{
    const json_t *buses = json_object_get(now, "buses");
    size_t count = json_array_size(buses), up = 0;
    for (size_t i = 0; i < count; i++) {
        const json_t *bus = json_array_get(buses, i);
        const char *trouble = lists_text(bus, "trouble"); /* says what to do as well */
        if (json_is_true(json_object_get(bus, "up")))
            up++;
        else
            checks_add(checks, false, "bus", "%s is down: %s", lists_text(bus, "id"),
                       trouble[0] != '\0' ? trouble : "look at its cable and its power");
    }
    if (up == count)
        checks_add(checks, count > 0, "buses", count > 0 ? "%zu, all up" : "the plan has none",
                   count);
}

void
check_signals(struct checks *checks, const json_t *now)
{
    const json_t *signals = json_object_get(now, "signals");
    size_t count = json_array_size(signals), well = 0;
    for (size_t i = 0; i < count; i++) {
        const json_t *signal = json_array_get(signals, i);
        if (json_is_false(json_object_get(signal, "faulty")))
            well++;
        else
            checks_add(checks, false, "signal", "%s: %s", lists_text(signal, "id"),
                       lists_text(signal, "trouble"));
    }
    if (count > 0 && well == count)
        checks_add(checks, true, "signals", "%zu, all can be set", count);
}

static void
tell_probe(struct checks *checks, const json_t *probe)
{
    char age[40];
    const char *name = lists_text(probe, "name"), *id = lists_text(probe, "id");
    const char *quality = lists_text(probe, "quality");
    if (json_is_string(json_object_get(probe, "temp")))
        checks_add(
            checks, false, "probe",
            "%s (%s): no good reading for %s, the last is \"%s\". Look at the probe, its "
            "plug and its bus",
            name, id, duration_text(age, sizeof age, lists_int(probe, "age_s") * 1000),
            quality);
    else
        checks_add(checks, false, "probe",
                   "%s (%s): no good reading yet%s%s%s. Look at the probe, its plug and its "
                   "lines in the plan",
                   name, id, quality[0] != '\0' ? ", the last is \"" : "", quality,
                   quality[0] != '\0' ? "\"" : "");
}

void
check_probes(struct checks *checks, const json_t *now)
{
    const json_t *probes = json_object_get(now, "probes");
    size_t count = 0, good = 0, sensors = 0;
    char converted[80] = "";
    for (size_t i = 0; i < json_array_size(probes); i++) {
        const json_t *probe = json_array_get(probes, i);
        if (!json_is_true(json_object_get(probe, "in_plan")))
            continue;
        count++;
        sensors += json_is_string(json_object_get(probe, "sensor"));
        if (json_is_string(json_object_get(probe, "temp")) &&
            json_is_false(json_object_get(probe, "stale")))
            good++;
        else
            tell_probe(checks, probe);
    }
    if (sensors > 0)
        (void)snprintf(converted, sizeof converted,
                       "; %zu computed from the mV or ohm of %s sensor%s", sensors,
                       sensors == 1 ? "its" : "their", sensors == 1 ? "" : "s");
    if (good == count)
        checks_add(checks, count > 0, "probes",
                   count > 0 ? "%zu, each with a fresh good reading%s" : "the plan has none",
                   count, converted);
}

void
check_recording(struct checks *checks, const json_t *now)
{
    char age[40];
    if (json_is_true(json_object_get(now, "unrecorded")))
        checks_add(checks, false, "recording",
                   "NOTHING IS RECORDED: %s. Keep the log by hand until this is repaired",
                   lists_text(now, "unrecorded_why"));
    else if (json_is_true(json_object_get(now, "late")))
        checks_add(checks, false, "recording",
                   "no news for %s: the daemon may be stuck. Look at its log, measure by hand, "
                   "restart it",
                   duration_text(age, sizeof age, lists_int(now, "age_s") * 1000));
    else
        checks_add(checks, true, "recording", "what is measured is written");
}

void
check_clock(struct checks *checks, const json_t *now, bool kernel_synced)
{
    bool trusted = json_is_true(json_object_get(now, "clock_trusted"));
    checks_add(checks, trusted, "clock", "%s",
               trusted ? "trusted; the records' times go on from those before"
                       : "not trusted: it was behind the records at the start. Durations hold, "
                         "times of day may be wrong. Set the clock of this machine right");
    checks_add(checks, kernel_synced, "time source", "%s",
               kernel_synced
                   ? "the kernel says that one keeps the clock"
                   : "the kernel says that none keeps the clock, it will drift. Have "
                     "systemd-timesyncd or chrony run, with a time server it can reach");
}

/* ---- what waits for people ---- */

/* Due dates and certificates (E129), told as lines of their own. */
void
check_thermometers(struct checks *checks, const json_t *now)
{
    const json_t *all = json_object_get(now, "thermometers");
    const json_t *references = json_object_get(now, "references");
    size_t wrong = 0, found_right = 0;
    for (size_t i = 0; i < json_array_size(all); i++) {
        const json_t *one = json_array_get(all, i);
        if (json_is_string(json_object_get(one, "found_right")))
            found_right++;
        if (strcmp(lists_text(one, "concern"), "none") == 0)
            continue;
        checks_add(checks, false, "calibration", "%s: %s", lists_text(one, "id"),
                   lists_text(one, "sentence"));
        wrong++;
    }
    for (size_t i = 0; i < json_array_size(references); i++) {
        const json_t *one = json_array_get(references, i);
        if (strcmp(lists_text(one, "state"), "good") == 0)
            continue;
        checks_add(
            checks, false, "calibration",
            "%s: its certificate holds until %s. Have it renewed, and write the new date "
            "into the plan",
            lists_text(one, "id"), lists_text(one, "due"));
        wrong++;
    }
    if (wrong == 0 && json_is_array(all))
        checks_add(checks, true, "calibration",
                   "%zu of %zu were found right by a check; none is overdue", found_right,
                   json_array_size(all));
}

void
check_open(struct checks *checks, const json_t *now)
{
    size_t open = json_array_size(json_object_get(now, "deviations"));
    size_t undecided = json_array_size(json_object_get(now, "undecided"));
    checks_add(checks, open == 0, "deviations",
               open == 0 ? "none is open" : "%zu open; `trivet deviations` says what to do",
               open);
    size_t overdue = 0;
    for (size_t i = 0; i < open; i++)
        overdue += json_is_true(
            json_object_get(json_array_get(json_object_get(now, "deviations"), i), "overdue"));
    if (overdue > 0)
        checks_add(checks, false, "overdue",
                   "%zu corrective action%s or verification%s overdue; `trivet deviations` "
                   "says which",
                   overdue, overdue == 1 ? "" : "s", overdue == 1 ? " is" : "s are");
    int64_t reviews = json_integer_value(json_object_get(now, "reviews_overdue"));
    if (reviews > 0)
        checks_add(checks, false, "reviews",
                   "the records of %" PRId64 " day%s are overdue for review; `trivet review`",
                   reviews, reviews == 1 ? "" : "s");
    checks_add(checks, undecided == 0, "decisions",
               undecided == 0 ? "none waits for a person"
                              : "%zu wait for a person; see `trivet now` and `trivet decide`",
               undecided);
}

/* ---- the store ---- */

void
check_disk(struct checks *checks, const char *directory, uint64_t free_bytes,
           const struct plan *plan)
{
    uint64_t mb = free_bytes / MB_BYTES;
    bool enough = mb >= CHECK_MB_LEAST;
    uint64_t days =
        plan == NULL ? UINT64_MAX : check_days_left(free_bytes, check_readings_a_day(plan));
    if (days == UINT64_MAX) {
        checks_add(checks, enough, "disk", "%" PRIu64 " MB free%s at %s", mb,
                   enough ? "" : ": make room", directory);
        return;
    }
    enough = enough && days >= CHECK_DAYS_LEAST;
    checks_add(checks, enough, "disk",
               "%" PRIu64 " MB free, for some %" PRIu64 " day%s at the plan's rate%s, at %s",
               mb, days, days == 1 ? "" : "s",
               enough ? "" : ": make room, or move the records to a larger disk", directory);
}

void
check_chain(struct checks *checks, const struct store_verdict *verdict, const struct plan *plan)
{
    if (!verdict->ok) {
        checks_add(checks, false, "chain",
                   "SOMETHING WAS ALTERED: %s. Keep a copy of the records as they are; "
                   "`trivet chain` tells more",
                   verdict->text);
        return;
    }
    checks_add(checks, true, "chain", "%" PRIu64 " records, none altered", verdict->records);
    bool kept_up = plan == NULL || verdict->unsealed <= check_unsealed_most(plan);
    checks_add(checks, kept_up, "seals",
               "%" PRIu64 " over %" PRIu64 " readings, %" PRIu64 " wait for the next%s",
               verdict->seals, verdict->readings - verdict->unsealed, verdict->unsealed,
               kept_up ? "" : ": too many, sealing does not keep up. Look at the daemon's log");
}
