/* Quiet hours that the plan schedules, and the days by which food is dated: the engine knows no
 * clock and no time zone, so the moment at which the site's clock shows the time becomes an
 * entry of nobody's, on record and judged like a person's. The recorder's thread.
 *
 * Each moment is taken once: those after the last look up to now. One that fell into an outage
 * is taken up at the start for what is left of it; one that was over by then is let go. */
#include <stdio.h>
#include <string.h>

#include "daemon/recorder/inside.h"
#include "trivet/business_day.h"
#include "trivet/log.h"
#include "trivet/zone.h"

#define SCHEDULE_DATA_MAX 512
#define HALF_A_DAY_MS     INT64_C(43200000)
#define LOOK_EVERY_MS     1000 /* the plan's times are whole minutes */

/* When the site's clock shows the time on the day of near_ms, or the day before (days = -1).
 * False when there is no such moment. */
static bool
moment_of(const struct recorder *recorder, const struct plan_quiet *quiet, int64_t near_ms,
          int days, int64_t *ret_at_ms)
{
    const struct zone *zone = zone_shared(recorder->plan->time_zone);
    int64_t offset_ms = recorder->line.offset_ms, utc_ms;
    struct zone_time day;
    /* Noon is on the day meant, whatever the hour of a change of time. */
    int64_t start_ms = zone_day_start(zone, near_ms + offset_ms, days);
    zone_split(zone, start_ms + HALF_A_DAY_MS, &day);
    if (!zone_join(zone, day.year, day.month, day.day, (int)(quiet->at_min / 60),
                   (int)(quiet->at_min % 60), &utc_ms))
        return false;
    *ret_at_ms = utc_ms - offset_ms;
    return true;
}

/* Puts an entry of nobody's on record and has it judged. False when it is lost. */
static bool
enter(struct recorder *recorder, const struct entry *entry)
{
    char data[SCHEDULE_DATA_MAX];
    struct json_out out;
    out_start(&out, data, sizeof data, true);
    entry_write(entry, &out, NULL);
    if (!out_done(&out))
        return false;
    int64_t at_ms = recorder_instant(recorder, recorder_mono_ms(recorder));
    size_t before = recorder->pending.record_count;
    uint64_t seq = store_head(recorder->parts.store)->seq + before + 1;
    recorder_note(recorder, entry_kind_word(entry->kind), at_ms, data, false);
    if (recorder->pending.record_count == before)
        return false; /* lost, and told: what is not on record is not judged */
    struct engine_input input = {
        .kind = ENGINE_ENTRY, .at_ms = at_ms, .seq = seq, .is.entry = entry};
    (void)feed_input(&recorder->feed, &input);
    return true;
}

static void
begin(struct recorder *recorder, const char *place, const struct plan_quiet *quiet,
      int64_t left_ms)
{
    struct entry entry;
    entry_clear(&entry, ENTRY_QUIET);
    (void)snprintf(entry.place, sizeof entry.place, "%s", place);
    entry.for_ms = left_ms;
    entry.why = quiet->why;
    if (!enter(recorder, &entry))
        return;
    log_line(LOG_INFO, "plan", "place %s is quiet as scheduled (%s)", place,
             quiet_why_word(quiet->why));
}

void
schedule_look(struct recorder *recorder, int64_t now_ms)
{
    int64_t after_ms = recorder->scheduled_to_ms;
    const struct plan *plan = recorder->plan;
    if (now_ms - after_ms < LOOK_EVERY_MS)
        return;
    recorder->scheduled_to_ms = now_ms;
    for (size_t i = 0; i < plan->place_count; i++) {
        for (size_t k = 0; k < plan->places[i].quiet_count; k++) {
            const struct plan_quiet *quiet = &plan->places[i].quiets[k];
            for (int days = -1; days <= 0; days++) {
                int64_t at_ms;
                if (!moment_of(recorder, quiet, now_ms, days, &at_ms) || at_ms <= after_ms ||
                    at_ms > now_ms || at_ms + quiet->for_ms <= now_ms)
                    continue;
                begin(recorder, plan->places[i].id, quiet, at_ms + quiet->for_ms - now_ms);
            }
        }
    }
}

/* A clock that is not trusted begins no day: what it counted could never be taken back. */
void
day_look(struct recorder *recorder, int64_t now_ms)
{
    struct business_day day;
    struct entry entry;
    if (!recorder->line.trusted || !engine_wants_day(recorder->engine))
        return;
    business_day_of(recorder->plan, now_ms + recorder->line.offset_ms, 0, &day);
    entry_clear(&entry, ENTRY_DAY);
    (void)snprintf(entry.day, sizeof entry.day, "%04d-%02d-%02d",
                   (int)((unsigned)day.year % 10000), (int)(day.month % 100),
                   (int)(day.day % 100));
    if (engine_day_passed(recorder->engine, entry.day))
        return;
    if (enter(recorder, &entry))
        log_line(LOG_INFO, "plan", "the business day %s begins", entry.day);
}
