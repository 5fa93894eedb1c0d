/* Local times beside UTC: each column that ends in _utc has a twin at the end of its row that
 * ends in _local, the same instant as the site's clock showed it, with its distance from UTC.
 * The zone is the one that the plan in force at that instant names. */
#include <assert.h>
#include <stdlib.h>
#include <string.h>

#include <jansson.h>

#include "export_job.h"
#include "trivet/zone.h"

#define HOUR_MS INT64_C(3600000)

/* ---- which zone ---- */

/* A plan that this version cannot read changes nothing. */
bool
job_zone_see(struct export_job *job, int64_t at_ms, const char *plan_text)
{
    struct local_times *local = &job->local;
    struct plan_faults *faults = malloc(sizeof(*faults));
    struct zone_change *grown =
        realloc(local->changes, (local->count + 1) * sizeof(struct zone_change));
    struct plan *plan = NULL;

    if (grown)
        local->changes = grown;
    if (faults && plan_text)
        plan = plan_load_record("recorded plan", plan_text, strlen(plan_text), faults);
    if (grown && plan)
        local->changes[local->count++] =
            (struct zone_change){at_ms, zone_shared(plan->time_zone)};
    plan_free(plan);
    free(faults);
    return grown && faults;
}

/* Before the first plan, that of the first: what stands there was written as it came. */
static const struct zone *
zone_at(const struct local_times *local, int64_t at_ms)
{
    size_t low = 0, high = local->count; /* the first change after at_ms */

    if (local->count == 0)
        return NULL;
    while (low < high) {
        size_t middle = (low + high) / 2;
        if (local->changes[middle].at_ms <= at_ms)
            low = middle + 1;
        else
            high = middle;
    }
    return local->changes[low == 0 ? 0 : low - 1].zone;
}

static int32_t
offset_at(const struct zone *zone, int64_t utc_ms)
{
    struct zone_time time;

    zone_split(zone, utc_ms, &time);
    return time.offset_s;
}

/* Most hours have one offset from end to end: it is looked up once for all their readings. */
static int32_t
offset_of(struct local_times *local, const struct zone *zone, int64_t utc_ms)
{
    int64_t hour = utc_ms / HOUR_MS - (utc_ms % HOUR_MS < 0);

    if (zone != local->zone || hour != local->hour) {
        local->zone = zone;
        local->hour = hour;
        local->offset_s = offset_at(zone, hour * HOUR_MS);
        local->steady = offset_at(zone, hour * HOUR_MS + HOUR_MS - 1) == local->offset_s;
    }
    return local->steady ? local->offset_s : offset_at(zone, utc_ms);
}

/* ---- the twins ---- */

void
job_header(struct export_job *job, const char *names)
{
    struct cells *cells = &job->cells;

    cells_names(cells, names, strlen(names));
    for (const char *name = names; *name != '\0';) {
        size_t len = strcspn(name, ",");
        if (len > 4 && memcmp(name + len - 4, "_utc", 4) == 0) {
            cells_names(cells, ",", 1);
            cells_names(cells, name, len - 4);
            cells_names(cells, "_local", 6);
            job->local.twins++;
        }
        name += len + (name[len] == ',');
    }
    cells_row_end(cells);
}

void
job_time(struct export_job *job, int64_t at_ms)
{
    struct local_times *local = &job->local;

    assert(local->row_count < LOCAL_TIMES_MAX);
    local->row[local->row_count++] = at_ms;
    cell_time(&job->cells, at_ms == TIME_NONE ? TIME_NONE : job_shown_ms(job, at_ms));
}

void
job_row_end(struct export_job *job)
{
    struct local_times *local = &job->local;

    assert(local->row_count == local->twins);
    for (size_t i = 0; i < local->row_count; i++) {
        const struct zone *zone = zone_at(local, local->row[i]);
        if (local->row[i] == TIME_NONE || !zone) {
            cell_empty(&job->cells);
            continue;
        }
        int64_t shown_ms = job_shown_ms(job, local->row[i]);
        cell_time_local(&job->cells, shown_ms, offset_of(local, zone, shown_ms));
    }
    local->row_count = 0;
    cells_row_end(&job->cells);
}
