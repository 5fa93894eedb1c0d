/* The snapshot: its memory, its references and what it takes from the engine.
 *
 * Built by the recorder's thread; once published it is read by any thread and changed by none.
 * Reads no clock. */
#include "trivet/snapshot.h"

#include <assert.h>
#include <stdatomic.h>
#include <stdlib.h>

#include "daemon/status/sentence.h"
#include "trivet/zone.h"

struct held_snapshot {
    struct snapshot shown; /* first: the two share their address */
    atomic_uint references;
};

static struct held_snapshot *
held(struct snapshot *snapshot)
{
    return (struct held_snapshot *)snapshot;
}

static void
snapshot_free(struct snapshot *snapshot)
{
    free(snapshot->probes);
    free(snapshot->batches);
    free(snapshot->places);
    free(snapshot->deviations);
    free(snapshot->undecided);
    free(snapshot->stored);
    free(snapshot->buses);
    free(snapshot->checks);
    free(snapshot->switches);
    free(snapshot->alarms);
    free(held(snapshot));
}

struct snapshot *
snapshot_new(const struct snapshot_counts *counts)
{
    struct held_snapshot *fresh = calloc(1, sizeof *fresh);
    if (fresh == NULL)
        return NULL;
    struct snapshot *snapshot = &fresh->shown;
    atomic_init(&fresh->references, 1);
    /* One more of each, so that none is a zero-sized request. */
    snapshot->probes = calloc(counts->probes + 1, sizeof *snapshot->probes);
    snapshot->batches = calloc(counts->batches + 1, sizeof *snapshot->batches);
    snapshot->places = calloc(counts->places + 1, sizeof *snapshot->places);
    snapshot->deviations = calloc(counts->deviations + 1, sizeof *snapshot->deviations);
    snapshot->undecided = calloc(counts->undecided + 1, sizeof *snapshot->undecided);
    snapshot->stored = calloc(counts->stored + 1, sizeof *snapshot->stored);
    snapshot->buses = calloc(counts->buses + 1, sizeof *snapshot->buses);
    snapshot->checks = calloc(counts->checks + 1, sizeof *snapshot->checks);
    snapshot->switches = calloc(counts->switches + 1, sizeof *snapshot->switches);
    snapshot->alarms = calloc(counts->alarms + 1, sizeof *snapshot->alarms);
    if (snapshot->alarms == NULL || snapshot->switches == NULL || snapshot->checks == NULL ||
        snapshot->probes == NULL || snapshot->batches == NULL || snapshot->places == NULL ||
        snapshot->deviations == NULL || snapshot->undecided == NULL ||
        snapshot->stored == NULL || snapshot->buses == NULL) {
        snapshot_free(snapshot);
        return NULL;
    }
    snapshot->probe_count = counts->probes;
    snapshot->batch_count = counts->batches;
    snapshot->place_count = counts->places;
    snapshot->deviation_count = counts->deviations;
    snapshot->undecided_count = counts->undecided;
    snapshot->stored_count = counts->stored;
    snapshot->bus_count = counts->buses;
    snapshot->check_count = counts->checks;
    snapshot->switch_count = counts->switches;
    snapshot->alarm_count = counts->alarms;
    snapshot->clock_trusted = true;
    for (size_t i = 0; i < counts->places; i++)
        snapshot->places[i].shelf.from_ms = snapshot->places[i].shelf.until_ms = TIME_NONE;
    return snapshot;
}

void
snapshot_hold(struct snapshot *snapshot)
{
    unsigned before =
        atomic_fetch_add_explicit(&held(snapshot)->references, 1, memory_order_relaxed);
    assert(before > 0);
    (void)before;
}

void
snapshot_release(struct snapshot *snapshot)
{
    if (snapshot == NULL)
        return;
    unsigned before =
        atomic_fetch_sub_explicit(&held(snapshot)->references, 1, memory_order_acq_rel);
    assert(before > 0);
    if (before == 1)
        snapshot_free(snapshot);
}

/* The views as the engine hands them out; copied into the snapshot at their true number. */
struct views {
    struct engine_probe_view probes[PLAN_PROBES_MAX];
    struct engine_batch_view batches[ENGINE_BATCHES_MAX];
    struct engine_place_view places[PLAN_PLACES_MAX];
    struct engine_deviation_view deviations[ENGINE_DEVIATIONS_MAX];
    struct engine_undecided_view undecided[ENGINE_WAITING_MAX];
    struct engine_check_view checks[2 * PLAN_PROBES_MAX];
    struct engine_stored_view stored[ENGINE_STORED_MAX];
    struct engine_switch_view switches[PLAN_SWITCHES_MAX];
    struct engine_alarm_view alarms[ENGINE_ALARMS_MAX];
};

static struct snapshot *
build_from(const struct engine *engine, struct views *views)
{
    const struct plan *plan = engine_plan(engine);
    struct snapshot_counts counts = {
        .probes = engine_view_probes(engine, views->probes, PLAN_PROBES_MAX),
        .batches = engine_view_batches(engine, views->batches, ENGINE_BATCHES_MAX),
        .places = engine_view_places(engine, views->places, PLAN_PLACES_MAX),
        .deviations = engine_view_deviations(engine, views->deviations, ENGINE_DEVIATIONS_MAX),
        .undecided = engine_view_undecided(engine, views->undecided, ENGINE_WAITING_MAX),
        .stored = engine_view_stored(engine, views->stored, ENGINE_STORED_MAX),
        .buses = plan == NULL ? 0 : plan->bus_count,
        .checks = engine_view_checks(engine, views->checks, (size_t)2 * PLAN_PROBES_MAX),
        .switches = engine_view_switches(engine, views->switches, PLAN_SWITCHES_MAX),
        .alarms = engine_view_alarms(engine, views->alarms, ENGINE_ALARMS_MAX),
    };
    struct snapshot *snapshot = snapshot_new(&counts);
    if (snapshot == NULL)
        return NULL;
    assert(plan != NULL || counts.places == 0);
    snapshot->plan = plan;
    for (size_t i = 0; i < counts.probes; i++)
        snapshot->probes[i] = views->probes[i];
    for (size_t i = 0; i < counts.batches; i++)
        snapshot->batches[i].view = views->batches[i];
    for (size_t i = 0; i < counts.places; i++)
        snapshot->places[i] = (struct snapshot_place){
            .view = views->places[i],
            .quiet = engine_quiet(engine, views->places[i].place),
            .shelf = engine_place_shelf(engine, plan->places[views->places[i].place].id)};
    for (size_t i = 0; i < counts.deviations; i++)
        snapshot->deviations[i].view = views->deviations[i];
    for (size_t i = 0; i < counts.undecided; i++)
        snapshot->undecided[i].view = views->undecided[i];
    for (size_t i = 0; i < counts.alarms; i++)
        snapshot->alarms[i] = views->alarms[i];
    for (size_t i = 0; i < counts.checks; i++)
        snapshot->checks[i].view = views->checks[i];
    for (size_t i = 0; i < counts.stored; i++)
        snapshot->stored[i] = views->stored[i];
    for (size_t i = 0; i < counts.switches; i++)
        snapshot->switches[i].view = views->switches[i];
    return snapshot;
}

/* Older advice is none: the adviser is stuck, or the step has changed since. */
#define ADVICE_LASTS_MS INT64_C(180000)

static void
add_advice(struct snapshot *snapshot, const struct advice_list *advice)
{
    for (size_t i = 0; i < snapshot->batch_count; i++) {
        struct snapshot_batch *batch = &snapshot->batches[i];
        for (size_t k = 0; k < advice->count; k++) {
            const struct advice *one = &advice->list[k];
            if (one->batch == batch->view.number &&
                one->step_begun_ms == batch->view.step_begun_ms &&
                snapshot->at_ms - one->at_ms <= ADVICE_LASTS_MS) {
                batch->advice = *one;
                batch->has_advice = true;
            }
        }
    }
}

struct snapshot *
snapshot_build(const struct engine *engine, const struct advice_list *advice, int64_t at_ms,
               int64_t offset_ms)
{
    struct views *views = malloc(sizeof *views);
    if (views == NULL)
        return NULL;
    struct snapshot *snapshot = build_from(engine, views);
    free(views);
    if (snapshot == NULL)
        return NULL;
    snapshot->at_ms = at_ms;
    snapshot->offset_ms = offset_ms;
    for (size_t i = 0; i < snapshot->bus_count; i++)
        snapshot->buses[i] = (struct snapshot_bus){.up = true, .since_ms = at_ms};
    if (advice != NULL)
        add_advice(snapshot, advice);
    tell_reviews(snapshot, engine);
    snapshot_tell(snapshot);
    return snapshot;
}

const char *
snapshot_plan_file(const struct snapshot *snapshot)
{
    if (snapshot->plan_file[0] != '\0')
        return snapshot->plan_file;
    return snapshot->plan == NULL ? "" : snapshot->plan->file;
}

const struct engine_probe_view *
snapshot_probe(const struct snapshot *snapshot, uint16_t number)
{
    for (size_t i = 0; number != 0 && i < snapshot->probe_count; i++)
        if (snapshot->probes[i].number == number)
            return &snapshot->probes[i];
    return NULL;
}

int64_t
snapshot_stale_after_ms(const struct snapshot *snapshot, uint16_t number)
{
    const struct plan *plan = snapshot->plan;
    int index = plan == NULL ? -1 : plan_probe_by_number(plan, number);
    if (index < 0)
        return 60000; /* of an earlier plan: no period known any more */
    return (int64_t)plan->probes[index].every_ms * plan->tolerances.spacing_polls +
           plan->records.commit_ms;
}

/* The newest instant at which any probe of the batch gave a good reading; TIME_NONE. */
static int64_t
heard_of_last_ms(const struct snapshot *snapshot, const struct engine_batch_view *view)
{
    int64_t newest_ms = TIME_NONE;
    for (size_t i = 0; i < view->probe_count; i++) {
        const struct engine_probe_view *probe = snapshot_probe(snapshot, view->probes[i]);
        if (probe != NULL && probe->last_good.at_ms != TIME_NONE &&
            (newest_ms == TIME_NONE || probe->last_good.at_ms > newest_ms))
            newest_ms = probe->last_good.at_ms;
    }
    return newest_ms;
}

/* Food that has to get or stay cold is told by its warmest core, as the engine does. */
static bool
warmest_counts(const struct engine_batch_view *view)
{
    const struct plan_limit *limit = &view->product->steps[view->step].limit;
    return limit->kind == LIMIT_COOL || limit->kind == LIMIT_HOLD_COLD ||
           (limit->kind == LIMIT_TIME && !limit->left_hot);
}

const struct engine_probe_view *
snapshot_batch_probe(const struct snapshot *snapshot, const struct engine_batch_view *view)
{
    if (view->governing_probe != 0)
        return snapshot_probe(snapshot, view->governing_probe);
    const struct engine_probe_view *best = NULL;
    int64_t newest_ms = heard_of_last_ms(snapshot, view);
    bool warmest = warmest_counts(view);
    for (size_t i = 0; i < view->probe_count; i++) {
        const struct engine_probe_view *probe = snapshot_probe(snapshot, view->probes[i]);
        if (probe == NULL)
            continue;
        if (newest_ms == TIME_NONE)
            return probe; /* none has ever been good */
        int32_t temp_mC = probe->last_good.temp_mC;
        if (probe->last_good.at_ms == TIME_NONE ||
            newest_ms - probe->last_good.at_ms >
                snapshot_stale_after_ms(snapshot, probe->number))
            continue;
        if (best == NULL ||
            (warmest ? temp_mC > best->last_good.temp_mC : temp_mC < best->last_good.temp_mC))
            best = probe;
    }
    return best;
}

int64_t
snapshot_late_after_ms(const struct snapshot *snapshot)
{
    int64_t quickest_ms = 60000;
    for (size_t i = 0; snapshot->plan != NULL && i < snapshot->plan->probe_count; i++)
        if (snapshot->plan->probes[i].every_ms < quickest_ms)
            quickest_ms = snapshot->plan->probes[i].every_ms;
    return 3 * quickest_ms + 10000;
}

char *
snapshot_clock_text(const struct snapshot *snapshot, int64_t at_ms, char *buf, size_t size)
{
    const struct zone *zone =
        zone_shared(snapshot->plan == NULL ? "UTC" : snapshot->plan->time_zone);
    return zone_clock_text(zone, at_ms + snapshot->offset_ms,
                           snapshot->at_ms + snapshot->offset_ms, buf, size);
}
