/* The snapshot for machines: the body of /now.json and of `trivet now --json`. Keys are
 * documented in docs/page.md and keep their meaning. Pure, any thread. */
#include <stdio.h>

#include "daemon/status/advice_json.h"
#include "text.h"
#include "trivet/snapshot.h"
#include "trivet/zone.h"

static const char *
concern_word(enum concern concern)
{
    switch (concern) {
    case CONCERN_NONE:
        return "none";
    case CONCERN_WATCH:
        return "watch";
    case CONCERN_ACT:
        return "act";
    }
    return "act";
}

static const char *
verdict_word(enum engine_verdict verdict)
{
    switch (verdict) {
    case VERDICT_OPEN:
        return "open";
    case VERDICT_MET:
        return "met";
    case VERDICT_NOT_MET:
        return "not-met";
    case VERDICT_INCONCLUSIVE:
        return "inconclusive";
    }
    return "inconclusive";
}

/* An instant as people see it, RFC 3339; null for none. */
static void
write_at(struct json_out *out, const struct snapshot *snapshot, const char *key, int64_t at_ms)
{
    char text[32];
    if (at_ms == TIME_NONE || at_ms == TIME_NEVER)
        out_null(out, key);
    else
        out_text(out, key, utc_text(text, sizeof text, at_ms + snapshot->offset_ms));
}

static void
write_age(struct json_out *out, int64_t viewed_ms, int64_t at_ms)
{
    if (at_ms == TIME_NONE)
        out_null(out, "age_s");
    else
        out_int(out, "age_s", viewed_ms > at_ms ? (viewed_ms - at_ms) / 1000 : 0);
}

/* A temperature twice: exact, and as it is to be shown beside its limit. */
static void
write_temp(struct json_out *out, int32_t temp_mC, struct limit_temp against)
{
    char text[24];
    if (temp_mC == TEMP_NONE) {
        out_null(out, "temp_mC");
        out_null(out, "temp");
        return;
    }
    out_int(out, "temp_mC", temp_mC);
    out_text(out, "temp", temp_text_against(text, sizeof text, temp_mC, against));
}

static void
write_probe_id(struct json_out *out, const struct snapshot *snapshot, const char *key,
               uint16_t number)
{
    int index = snapshot->plan == NULL ? -1 : plan_probe_by_number(snapshot->plan, number);
    if (index < 0)
        out_null(out, key);
    else
        out_text(out, key, snapshot->plan->probes[index].id);
}

/* age_s, stale, stale_after_s of the probe's last good reading. */
static void
write_freshness(struct json_out *out, const struct snapshot *snapshot,
                const struct engine_probe_view *probe, int64_t viewed_ms)
{
    int64_t at_ms = probe == NULL ? TIME_NONE : probe->last_good.at_ms;
    int64_t after_ms = probe == NULL ? 0 : snapshot_stale_after_ms(snapshot, probe->number);
    write_age(out, viewed_ms, at_ms);
    out_bool(out, "stale", at_ms == TIME_NONE || viewed_ms - at_ms > after_ms || probe->gap);
    out_int(out, "stale_after_s", (after_ms + 999) / 1000);
}

/* What a batch's temperature is compared with for showing: of a cooling the running stage. */
static struct limit_temp
batch_limit_temp(const struct engine_batch_view *view)
{
    const struct plan_limit *limit = &view->product->steps[view->step].limit;
    if (limit->kind != LIMIT_COOL)
        return limit->temp;
    if (view->clock_start_ms == TIME_NONE || view->stage == 0)
        return limit->start;
    return limit
        ->stages[view->stage <= limit->stage_count ? view->stage - 1 : limit->stage_count - 1]
        .to;
}

/* How long food may be kept, where the plan dates it. */
static void
write_mark(struct json_out *out, const struct engine_mark_view *mark)
{
    if (mark->days == 0)
        return;
    out_object(out, "date_mark");
    out_int(out, "days", mark->days);
    out_int(out, "used", mark->used);
    out_bool(out, "frozen", mark->frozen);
    out_bool(out, "passed", mark->passed);
    out_text(out, "last_day", mark->day);
    out_int(out, "deviation", mark->deviation);
    out_object_end(out);
}

/* The oven that a batch is in, where the plan says one. */
static void
write_oven(struct json_out *out, const struct engine_batch_view *view)
{
    char text[160];
    if (view->oven == NULL)
        return;
    out_object(out, "oven");
    out_text(out, "limit", plan_limit_text(text, sizeof text, view->oven));
    out_bool(out, "watched", view->oven_watched);
    out_bool(out, "over", view->oven_over);
    out_text(out, "verdict", verdict_word(view->oven_verdict));
    write_temp(out, view->oven_mC, view->oven->temp);
    out_int(out, "outside_s", view->oven_outside_ms / 1000);
    out_int(out, "deviation", view->oven_deviation);
    out_object_end(out);
}

/* What a corrective action says that food must not become any more (E238). */
static void
write_bar(struct json_out *out, enum disposition bar)
{
    if (bar != DISPOSITION_NONE)
        out_text(out, "disposition", disposition_word(bar));
}

static void
write_batch(struct json_out *out, const struct snapshot *snapshot,
            const struct snapshot_batch *batch, int64_t viewed_ms)
{
    const struct engine_batch_view *view = &batch->view;
    const struct plan_step *step = &view->product->steps[view->step];
    const struct engine_probe_view *probe = snapshot_batch_probe(snapshot, view);
    char limit[320];
    out_object(out, NULL);
    out_int(out, "number", view->number);
    out_text(out, "product", view->product->id);
    out_text(out, "product_name", view->product->name);
    out_text(out, "step", step->id);
    out_text(out, "step_name", step->name);
    out_text(out, "place", view->place);
    out_text(out, "who", view->who);
    out_text(out, "sentence", batch->sentence);
    out_text(out, "ahead", batch->ahead);
    out_text(out, "if_changed", batch->if_changed);
    write_forecast(out, snapshot, batch);
    out_text(out, "concern", concern_word(batch->concern));
    out_text(out, "verdict", verdict_word(view->verdict));
    out_text(out, "limit", plan_limit_text(limit, sizeof limit, &step->limit));
    out_bool(out, "limited", step->limit.kind != LIMIT_NONE);
    out_bool(out, "watched", view->probe_count > 0);
    write_temp(out,
               view->governing_mC != TEMP_NONE ? view->governing_mC
               : probe != NULL                 ? probe->last_good.temp_mC
                                               : TEMP_NONE,
               batch_limit_temp(view));
    write_freshness(out, snapshot, probe, viewed_ms);
    write_probe_id(out, snapshot, "probe", probe == NULL ? 0 : probe->number);
    out_array(out, "probes");
    for (size_t i = 0; i < view->probe_count; i++)
        write_probe_id(out, snapshot, NULL, view->probes[i]);
    out_array_end(out);
    write_at(out, snapshot, "begun", view->begun_ms);
    write_at(out, snapshot, "step_begun", view->step_begun_ms);
    write_at(out, snapshot, "deadline", view->deadline_ms);
    out_int(out, "held_s", view->credited_ms / 1000);
    out_int(out, "outside_s", view->outside_ms / 1000);
    if (view->product->life.kind != LIMIT_NONE) {
        out_text(out, "life_limit", plan_limit_text(limit, sizeof limit, &view->product->life));
        out_int(out, "between_s", view->zone_ms / 1000);
        out_int(out, "between_unseen_s", view->zone_unknown_ms / 1000);
        out_int(out, "life_deviation", view->life_deviation);
    }
    write_oven(out, view);
    write_mark(out, &view->mark);
    write_bar(out, view->bar);
    out_int(out, "stage", view->stage);
    out_int(out, "mass_g", view->mass_g);
    out_int(out, "thickness_mm", view->thickness_mm);
    out_int(out, "deviation", view->deviation);
    out_int(out, "by_itself", (int64_t)view->auto_seq);
    out_bool(out, "waits_for_person", view->inconclusive);
    out_object_end(out);
}

static void
write_shelf(struct json_out *out, const struct snapshot *snapshot,
            const struct engine_shelf *shelf)
{
    write_at(out, snapshot, "shelved_until", shelf->until_ms);
    out_text(out, "shelved_by", shelf->by);
    out_text(out, "shelved_reason", shelf->reason);
}

static void
write_place(struct json_out *out, const struct snapshot *snapshot,
            const struct snapshot_place *place, int64_t viewed_ms)
{
    const struct plan_place *plan = &snapshot->plan->places[place->view.place];
    uint16_t number = plan->probe < 0 ? 0 : snapshot->plan->probes[plan->probe].number;
    char limit[200];
    out_object(out, NULL);
    out_text(out, "id", plan->id);
    out_text(out, "name", plan->name);
    out_text(out, "sentence", place->sentence);
    out_text(out, "concern", concern_word(place->concern));
    out_text(out, "limit", plan_limit_text(limit, sizeof limit, &plan->limit));
    out_bool(out, "limited", plan->limit.kind != LIMIT_NONE);
    out_bool(out, "watched", plan->probe >= 0);
    write_temp(out, place->view.temp_mC, plan->limit.temp);
    write_freshness(out, snapshot, snapshot_probe(snapshot, number), viewed_ms);
    write_probe_id(out, snapshot, "probe", number);
    out_bool(out, "outside", place->view.outside);
    out_int(out, "outside_s", place->view.outside_ms / 1000);
    write_at(out, snapshot, "outside_since", place->view.outside_since_ms);
    out_int(out, "deviation", place->view.deviation);
    bool quiet = place->quiet.why != QUIET_NONE;
    out_bool(out, "quiet", quiet);
    out_text(out, "quiet_why", quiet ? quiet_why_word(place->quiet.why) : "");
    write_at(out, snapshot, "quiet_until", quiet ? place->quiet.until_ms : TIME_NONE);
    write_shelf(out, snapshot, &place->shelf);
    out_object_end(out);
}

static void
write_alarm(struct json_out *out, const struct snapshot *snapshot,
            const struct engine_alarm_view *alarm)
{
    out_object(out, NULL);
    out_int(out, "number", alarm->number);
    out_text(out, "state", alarm_state_word(snapshot, alarm));
    out_int(out, "cause", alarm->cause);
    out_array(out, "deviations");
    for (size_t i = 0; i < snapshot->deviation_count; i++)
        if (snapshot->deviations[i].view.alarm == alarm->number)
            out_int(out, NULL, snapshot->deviations[i].view.number);
    out_array_end(out);
    out_bool(out, "goes_on", alarm->goes_on);
    out_bool(out, "acted", alarm->acted);
    write_at(out, snapshot, "sounded", alarm->sounded_ms);
    write_at(out, snapshot, "heard", alarm->heard_ms);
    out_text(out, "heard_by", alarm->heard_by);
    write_shelf(out, snapshot, &alarm->shelf);
    out_int(out, "level", alarm->level);
    write_at(out, snapshot, "level_told", alarm->level_ms);
    out_object_end(out);
}

static void
write_deviation(struct json_out *out, const struct snapshot *snapshot,
                const struct snapshot_deviation *deviation)
{
    const struct engine_deviation_view *view = &deviation->view;
    out_object(out, NULL);
    out_int(out, "number", view->number);
    out_text(out, "sentence", deviation->sentence);
    out_text(out, "alarm_sentence", deviation->alarm);
    out_int(out, "alarm", view->alarm);
    out_text(out, "reason", decision_reason_word(view->opened.reason));
    out_int(out, "batch", view->opened.batch);
    out_text(out, "place", view->opened.place);
    write_probe_id(out, snapshot, "probe", view->opened.probe);
    write_at(out, snapshot, "opened", view->opened.at_ms);
    write_at(out, snapshot, "ended", view->ended_ms);
    out_text(out, "action_by", view->action_by);
    out_int(out, "action_seq", (int64_t)view->action_seq);
    out_int(out, "verified_seq", (int64_t)view->verified_seq);
    write_at(out, snapshot, "due", deviation->due_ms);
    out_bool(out, "overdue", deviation->overdue);
    out_array(out, "food");
    for (size_t i = 0; i < view->food_count; i++)
        out_int(out, NULL, view->food[i]);
    out_array_end(out);
    out_bool(out, "more_food", view->food_more);
    out_object_end(out);
}

static void
write_stored(struct json_out *out, const struct snapshot *snapshot,
             const struct engine_stored_view *stored)
{
    const struct plan_product *product = plan_product(snapshot->plan, stored->product);
    out_object(out, NULL);
    out_int(out, "batch", stored->number);
    out_text(out, "product", stored->product);
    out_text(out, "product_name", product == NULL ? stored->product : product->name);
    out_text(out, "place", stored->place);
    write_at(out, snapshot, "since", stored->stored_ms);
    write_mark(out, &stored->mark);
    write_bar(out, stored->bar);
    out_object_end(out);
}

static void
write_undecided(struct json_out *out, const struct snapshot *snapshot,
                const struct snapshot_undecided *undecided)
{
    const struct decision *said = &undecided->view.said;
    out_object(out, NULL);
    out_int(out, "batch", said->batch);
    out_text(out, "sentence", undecided->sentence);
    out_text(out, "what", decision_kind_word(said->kind));
    out_text(out, "who", undecided->view.who);
    write_probe_id(out, snapshot, "probe", said->probe);
    if (said->kind != DECISION_INCONCLUSIVE)
        write_at(out, snapshot, "counts_from", said->since_ms);
    out_text(out, "reason", decision_reason_word(said->reason));
    out_text(out, "step", said->step);
    out_text(out, "place", said->place);
    out_int(out, "stage", said->stage);
    write_at(out, snapshot, "since", said->at_ms);
    out_object_end(out);
}

static void
write_probe(struct json_out *out, const struct snapshot *snapshot,
            const struct engine_probe_view *probe, int64_t viewed_ms)
{
    char text[24];
    int index =
        snapshot->plan == NULL ? -1 : plan_probe_by_number(snapshot->plan, probe->number);
    out_object(out, NULL);
    out_int(out, "number", probe->number);
    write_probe_id(out, snapshot, "id", probe->number);
    if (index < 0)
        out_null(out, "name");
    else
        out_text(out, "name", snapshot->plan->probes[index].name);
    out_bool(out, "in_plan", probe->in_plan);
    if (index >= 0 && snapshot->plan->probes[index].sensor != NULL)
        out_text(out, "sensor", snapshot->plan->probes[index].sensor);
    if (probe->last_good.at_ms == TIME_NONE) {
        out_null(out, "temp_mC");
        out_null(out, "temp");
    } else {
        out_int(out, "temp_mC", probe->last_good.temp_mC);
        out_text(out, "temp", temp_text(text, sizeof text, probe->last_good.temp_mC));
    }
    if (probe->last_good_raw_mC == TEMP_NONE || probe->last_good.at_ms == TIME_NONE)
        out_null(out, "raw_mC");
    else
        out_int(out, "raw_mC", probe->last_good_raw_mC);
    out_bool(out, "corrected", probe->correction.count > 0);
    if (probe->last_good.at_ms != TIME_NONE)
        out_int(out, "last_good_ms", probe->last_good.at_ms);
    if (probe->last.at_ms != TIME_NONE) {
        out_int(out, "last_ms", probe->last.at_ms);
        if (probe->last_raw_mC != TEMP_NONE)
            out_int(out, "last_raw_mC", probe->last_raw_mC);
    }
    write_freshness(out, snapshot, probe, viewed_ms);
    write_at(out, snapshot, "last_good", probe->last_good.at_ms);
    write_at(out, snapshot, "last", probe->last.at_ms);
    if (probe->last.at_ms == TIME_NONE)
        out_null(out, "quality");
    else
        out_text(out, "quality", reading_quality_word(probe->last.quality));
    out_bool(out, "gap", probe->gap);
    out_int(out, "batch", probe->batch);
    out_object_end(out);
}

static void
write_correction(struct json_out *out, const struct probe_correction *correction)
{
    out_array(out, "correction");
    for (size_t i = 0; i < correction->count; i++) {
        out_object(out, NULL);
        out_int(out, "raw_mC", correction->raw_mC[i]);
        out_int(out, "add_mK", correction->add_mK[i]);
        out_object_end(out);
    }
    out_array_end(out);
}

static void
write_check(struct json_out *out, const struct snapshot *snapshot,
            const struct snapshot_check *check)
{
    const struct engine_check_view *view = &check->view;
    const struct plan_checking *rules = thermometer_rules(snapshot->plan, view);
    out_object(out, NULL);
    out_text(out, "id", thermometer_id(snapshot->plan, view));
    out_text(out, "name", thermometer_name(snapshot->plan, view));
    out_text(out, "kind", view->is_handheld ? "hand-held" : "probe");
    out_text(out, "state", check_state_word(check->state));
    out_text(out, "concern", concern_word(check->concern));
    out_text(out, "sentence", check->sentence);
    write_at(out, snapshot, "checked", view->checked_ms);
    write_at(out, snapshot, "found_right", view->good_ms);
    write_at(out, snapshot, "due", check->due_ms);
    out_int(out, "tolerance_mK", rules->tolerance_mK);
    out_int(out, "largest_mK", rules->largest_mK);
    out_int(out, "deviation", view->deviation);
    write_correction(out, &view->correction);
    out_object_end(out);
}

static void
write_reference(struct json_out *out, const struct snapshot *snapshot,
                const struct plan_reference *reference)
{
    out_object(out, NULL);
    out_text(out, "id", reference->id);
    out_text(out, "name", reference->name);
    out_text(out, "certificate", reference->certificate);
    out_int(out, "uncertainty_mK", reference->uncertainty_mK);
    out_text(out, "due", reference->due);
    out_text(out, "state", check_state_word(reference_state(snapshot, reference)));
    out_object_end(out);
}

/* Thermometers and what they are checked against. */
static void
write_checks(struct json_out *out, const struct snapshot *snapshot)
{
    const struct plan *plan = snapshot->plan;
    out_array(out, "thermometers");
    for (size_t i = 0; plan != NULL && i < snapshot->check_count; i++)
        write_check(out, snapshot, &snapshot->checks[i]);
    out_array_end(out);
    out_array(out, "references");
    for (size_t i = 0; plan != NULL && i < plan->reference_count; i++)
        write_reference(out, snapshot, &plan->references[i]);
    out_array_end(out);
    if (plan != NULL && plan->calibration.has_altitude)
        out_int(out, "altitude_m", plan->calibration.altitude_m);
    if (plan != NULL && plan->calibration.has_pressure)
        out_int(out, "pressure_hPa", plan->calibration.pressure_hPa);
}

static void
write_plan(struct json_out *out, const struct snapshot *snapshot)
{
    const struct plan *plan = snapshot->plan;
    bool approved = plan != NULL && plan->approved.by[0] != '\0';
    bool refused = snapshot->plan_refused[0] != '\0';
    out_text(out, "plan_file", snapshot_plan_file(snapshot));
    write_at(out, snapshot, "plan_since", plan == NULL ? TIME_NONE : snapshot->plan_since_ms);
    out_bool(out, "plan_draft", plan != NULL && plan->draft);
    out_bool(out, "plan_accept_unverified", plan != NULL && plan->accept_unverified);
    out_text(out, "plan_approved_by", approved ? plan->approved.by : "");
    out_text(out, "plan_approved_on", approved ? plan->approved.on : "");
    out_text(out, "plan_refused", snapshot->plan_refused);
    write_at(out, snapshot, "plan_refused_at", refused ? snapshot->plan_refused_ms : TIME_NONE);
}

static void
write_top(struct json_out *out, const struct snapshot *snapshot, int64_t viewed_ms)
{
    const struct plan *plan = snapshot->plan;
    const struct zone *zone = zone_shared(plan == NULL ? "UTC" : plan->time_zone);
    char clock[40];
    out_int(out, "version", (int64_t)snapshot->version);
    out_int(out, "seq", (int64_t)snapshot->seq);
    out_int(out, "at_ms", snapshot->at_ms);
    out_int(out, "offset_ms", snapshot->offset_ms);
    write_at(out, snapshot, "at", snapshot->at_ms);
    out_text(out, "clock",
             zone_stamp_text(zone, snapshot->at_ms + snapshot->offset_ms, clock, sizeof clock));
    write_at(out, snapshot, "viewed", viewed_ms);
    write_age(out, viewed_ms, snapshot->at_ms);
    out_int(out, "late_after_s", (snapshot_late_after_ms(snapshot) + 999) / 1000);
    out_bool(out, "late", viewed_ms - snapshot->at_ms > snapshot_late_after_ms(snapshot));
    out_bool(out, "clock_trusted", snapshot->clock_trusted);
    out_bool(out, "unrecorded", snapshot->unrecorded);
    out_text(out, "unrecorded_why", snapshot->unrecorded ? snapshot->unrecorded_why : "");
    out_bool(out, "demo", plan != NULL && plan->demo);
    out_text(out, "site", plan == NULL ? "" : plan->site_name);
    out_text(out, "time_zone", plan == NULL ? "UTC" : plan->time_zone);
    out_text(out, "plan_digest", plan == NULL ? "" : plan->digest);
    out_int(out, "plan_seq", (int64_t)snapshot->plan_seq);
    write_plan(out, snapshot);
    out_int(out, "reviews_waiting", snapshot->reviews_waiting);
    out_int(out, "reviews_overdue", snapshot->reviews_overdue);
    out_text(out, "review_oldest", snapshot->review_oldest);
}

static void
write_switch(struct json_out *out, const struct snapshot *snapshot,
             const struct snapshot_switch *of)
{
    const struct engine_switch_view *view = &of->view;
    const struct plan_switch *plan = &snapshot->plan->switches[view->index];
    out_object(out, NULL);
    out_text(out, "id", plan->id);
    out_text(out, "name", plan->name);
    out_text(out, "kind", switch_kind_word(plan->kind));
    out_text(out, "place", snapshot->plan->places[plan->place].id);
    out_text(out, "state", switch_state_word(plan->kind, view->state));
    write_at(out, snapshot, "since", view->since_ms);
    write_at(out, snapshot, "marked", view->mark_ms);
    out_bool(out, "left_open", view->told);
    out_text(out, "concern", concern_word(of->concern));
    out_text(out, "sentence", of->sentence);
    out_object_end(out);
}

static void
write_switches(struct json_out *out, const struct snapshot *snapshot)
{
    out_array(out, "switches");
    for (size_t i = 0; snapshot->plan != NULL && i < snapshot->switch_count; i++)
        if (snapshot->switches[i].view.index < snapshot->plan->switch_count)
            write_switch(out, snapshot, &snapshot->switches[i]);
    out_array_end(out);
}

static void
write_signals(struct json_out *out, const struct snapshot *snapshot, int64_t viewed_ms)
{
    static const char *const shows[] = {
        [SHOWS_ALARM] = "alarm", [SHOWS_UNHEARD] = "unheard", [SHOWS_ALIVE] = "alive"};
    out_array(out, "signals");
    for (size_t i = 0; snapshot->plan != NULL && i < snapshot->plan->signal_count; i++) {
        const struct plan_signal *plan = &snapshot->plan->signals[i];
        const struct snapshot_signal *signal = &snapshot->signals[i];
        out_object(out, NULL);
        out_text(out, "id", plan->id);
        out_text(out, "name", plan->name);
        out_text(out, "shows", shows[plan->shows]);
        out_bool(out, "signals", snapshot_needs_signal(snapshot, plan->shows, viewed_ms));
        out_bool(out, "faulty", signal->faulty);
        write_at(out, snapshot, "since", signal->faulty ? signal->since_ms : TIME_NONE);
        out_text(out, "trouble", signal->trouble);
        out_object_end(out);
    }
    out_array_end(out);
}

static void
write_buses(struct json_out *out, const struct snapshot *snapshot)
{
    out_array(out, "buses");
    for (size_t i = 0; i < snapshot->bus_count; i++) {
        out_object(out, NULL);
        out_text(out, "id", snapshot->plan->buses[i].id);
        out_bool(out, "up", snapshot->buses[i].up);
        write_at(out, snapshot, "since", snapshot->buses[i].since_ms);
        out_text(out, "trouble", snapshot->buses[i].trouble);
        out_object_end(out);
    }
    out_array_end(out);
}

bool
snapshot_json(const struct snapshot *snapshot, int64_t viewed_ms, char *buf, size_t size)
{
    struct json_out out;
    out_start(&out, buf, size, false);
    out_object(&out, NULL);
    write_top(&out, snapshot, viewed_ms);
    out_array(&out, "batches");
    for (size_t i = 0; i < snapshot->batch_count; i++)
        if (snapshot->batches[i].view.product != NULL)
            write_batch(&out, snapshot, &snapshot->batches[i], viewed_ms);
    out_array_end(&out);
    out_array(&out, "places");
    for (size_t i = 0; snapshot->plan != NULL && i < snapshot->place_count; i++)
        if (snapshot->places[i].view.place < snapshot->plan->place_count)
            write_place(&out, snapshot, &snapshot->places[i], viewed_ms);
    out_array_end(&out);
    out_array(&out, "deviations");
    for (size_t i = 0; i < snapshot->deviation_count; i++)
        write_deviation(&out, snapshot, &snapshot->deviations[i]);
    out_array_end(&out);
    out_array(&out, "alarms");
    for (size_t i = 0; i < snapshot->alarm_count; i++)
        write_alarm(&out, snapshot, &snapshot->alarms[i]);
    out_array_end(&out);
    out_array(&out, "undecided");
    for (size_t i = 0; i < snapshot->undecided_count; i++)
        write_undecided(&out, snapshot, &snapshot->undecided[i]);
    out_array_end(&out);
    out_array(&out, "stored");
    for (size_t i = 0; snapshot->plan != NULL && i < snapshot->stored_count; i++)
        write_stored(&out, snapshot, &snapshot->stored[i]);
    out_array_end(&out);
    out_array(&out, "probes");
    for (size_t i = 0; i < snapshot->probe_count; i++)
        write_probe(&out, snapshot, &snapshot->probes[i], viewed_ms);
    out_array_end(&out);
    write_checks(&out, snapshot);
    write_switches(&out, snapshot);
    write_buses(&out, snapshot);
    write_signals(&out, snapshot, viewed_ms);
    out_object_end(&out);
    return out_done(&out);
}
