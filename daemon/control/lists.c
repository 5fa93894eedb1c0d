/* The answer to "lists": everything a client needs to ask a person for what is missing. See
 * answer.h. */
#include <string.h>

#include "daemon/control/answer.h"
#include "trivet/json_out.h"

static void
list_people(struct json_out *out, const struct plan *plan)
{
    out_array(out, "people");
    for (size_t i = 0; i < plan->person_count; i++) {
        out_object(out, NULL);
        out_text(out, "id", plan->people[i].initials);
        out_text(out, "name", plan->people[i].name);
        out_text(out, "role", person_role_word(plan->people[i].role));
        out_object_end(out);
    }
    out_array_end(out);
}

static const char *
place_id(const struct plan *plan, int16_t place)
{
    return place >= 0 && (size_t)place < plan->place_count ? plan->places[place].id : "";
}

static void
list_steps(struct json_out *out, const struct plan *plan, const struct plan_product *product)
{
    out_array(out, "steps");
    for (size_t i = 0; i < product->step_count; i++) {
        const struct plan_step *step = &product->steps[i];
        char limit[400];
        out_object(out, NULL);
        out_text(out, "id", step->id);
        out_text(out, "name", step->name);
        out_text(out, "kind", limit_kind_word(step->limit.kind));
        out_text(out, "limit", plan_limit_text(limit, sizeof limit, &step->limit));
        out_text(out, "place", place_id(plan, step->place));
        out_object_end(out);
    }
    out_array_end(out);
}

static void
list_products(struct json_out *out, const struct plan *plan)
{
    out_array(out, "products");
    for (size_t i = 0; i < plan->product_count; i++) {
        out_object(out, NULL);
        out_text(out, "id", plan->products[i].id);
        out_text(out, "name", plan->products[i].name);
        list_steps(out, plan, &plan->products[i]);
        out_object_end(out);
    }
    out_array_end(out);
}

static void
list_places(struct json_out *out, const struct plan *plan)
{
    out_array(out, "places");
    for (size_t i = 0; i < plan->place_count; i++) {
        char limit[400];
        out_object(out, NULL);
        out_text(out, "id", plan->places[i].id);
        out_text(out, "name", plan->places[i].name);
        out_text(out, "limit", plan_limit_text(limit, sizeof limit, &plan->places[i].limit));
        out_object_end(out);
    }
    out_array_end(out);
}

static void
list_thermometers(struct json_out *out, const struct plan *plan)
{
    out_array(out, "thermometers");
    for (size_t i = 0; i < plan->handheld_count; i++) {
        out_object(out, NULL);
        out_text(out, "id", plan->handhelds[i].id);
        out_text(out, "name", plan->handhelds[i].name);
        out_object_end(out);
    }
    out_array_end(out);
}

/* True when a place of the plan is watched by this probe: it is then not free for a batch. */
static bool
watches_a_place(const struct plan *plan, size_t probe)
{
    for (size_t i = 0; i < plan->place_count; i++) {
        if (plan->places[i].probe == (int16_t)probe)
            return true;
    }
    return false;
}

static const struct engine_probe_view *
probe_view(const struct snapshot *snapshot, uint16_t number)
{
    for (size_t i = 0; i < snapshot->probe_count; i++) {
        if (snapshot->probes[i].number == number)
            return &snapshot->probes[i];
    }
    return NULL;
}

static void
list_probes(struct json_out *out, const struct snapshot *snapshot)
{
    const struct plan *plan = snapshot->plan;
    out_array(out, "probes");
    for (size_t i = 0; i < plan->probe_count; i++) {
        const struct plan_probe *probe = &plan->probes[i];
        const struct engine_probe_view *view = probe_view(snapshot, probe->number);
        out_object(out, NULL);
        out_text(out, "id", probe->id);
        out_text(out, "name", probe->name);
        out_text(out, "kind", probe->kind == PROBE_FOOD ? "food" : "air");
        out_bool(out, "watches_place", watches_a_place(plan, i));
        if (view != NULL && view->batch != 0)
            out_int(out, "batch", view->batch);
        if (view != NULL && view->last_good.at_ms != TIME_NONE) {
            out_int(out, "temp_mC", view->last_good.temp_mC);
            out_int(out, "temp_at_ms", view->last_good.at_ms);
        }
        out_object_end(out);
    }
    out_array_end(out);
}

static void
list_batch(struct json_out *out, const struct snapshot_batch *batch)
{
    const struct engine_batch_view *view = &batch->view;
    const struct plan_product *product = view->product;
    out_object(out, NULL);
    out_int(out, "number", view->number);
    out_text(out, "product", product->id);
    out_text(out, "name", product->name);
    out_text(out, "step", product->steps[view->step].id);
    out_text(out, "step_name", product->steps[view->step].name);
    if (view->step + 1 < product->step_count)
        out_text(out, "next_step", product->steps[view->step + 1].id);
    out_text(out, "place", view->place);
    out_text(out, "who", view->who);
    out_bool(out, "cooling", product->steps[view->step].limit.kind == LIMIT_COOL);
    out_text(out, "sentence", batch->sentence);
    /* The plan it began under may be older than the one in force: its steps are told here. */
    list_steps(out, view->plan, product);
    out_object_end(out);
}

static const char *
deviation_state(const struct engine_deviation_view *view)
{
    if (view->action_seq == 0)
        return "action";
    if (view->verified_seq == 0)
        return "verify";
    return "goes-on";
}

static const char *
deviation_alarm(const struct snapshot *snapshot, const struct engine_deviation_view *view)
{
    const struct engine_alarm_view *alarm = snapshot_alarm(snapshot, view->alarm);
    return alarm == NULL ? "" : alarm_state_word(snapshot, alarm);
}

/* The limit a deviation is about, by the plan its batch began under where that is known; NULL
 * when there is none. */
static const struct plan_limit *
deviation_limit(const struct snapshot *snapshot, const struct engine_deviation_view *view)
{
    const struct plan *plan = snapshot->plan;
    const struct plan_product *product = plan_product(plan, view->product);
    if (view->opened.batch == 0) {
        int place = plan_place_index(plan, view->opened.place);
        return place < 0 ? NULL : &plan->places[place].limit;
    }
    for (size_t i = 0; i < snapshot->batch_count; i++)
        if (snapshot->batches[i].view.number == view->opened.batch)
            product = snapshot->batches[i].view.product;
    int step = product == NULL ? -1 : plan_step_index(product, view->opened.step);
    return step < 0 ? NULL : &product->steps[step].limit;
}

static void
add_said(struct json_out *out, const char *key, const char *text)
{
    if (text != NULL)
        out_text(out, key, text);
}

static void
list_prepared(struct json_out *out, const struct plan_limit *limit)
{
    out_array(out, "prepared");
    for (size_t i = 0; limit != NULL && i < limit->prepared_count; i++) {
        const struct plan_prepared *one = &limit->prepared[i];
        out_object(out, NULL);
        out_text(out, "name", one->name);
        add_said(out, "found", one->found);
        add_said(out, "done", one->done);
        add_said(out, "control", one->control);
        add_said(out, "prevent", one->prevent);
        add_said(out, "safe", one->safe);
        if (one->disposition != DISPOSITION_NONE)
            out_text(out, "disposition", disposition_word(one->disposition));
        out_object_end(out);
    }
    out_array_end(out);
}

/* The product's name of a batch, running or in store; "" when it is not known any more. */
static const char *
batch_name(const struct snapshot *snapshot, uint32_t number)
{
    const struct plan_product *product = NULL;
    for (size_t i = 0; i < snapshot->batch_count; i++)
        if (snapshot->batches[i].view.number == number)
            product = snapshot->batches[i].view.product;
    for (size_t i = 0; i < snapshot->stored_count; i++)
        if (snapshot->stored[i].number == number)
            product = plan_product(snapshot->plan, snapshot->stored[i].product);
    return product == NULL ? "" : product->name;
}

static void
list_food(struct json_out *out, const struct snapshot *snapshot,
          const struct engine_deviation_view *view)
{
    out_array(out, "food");
    for (size_t i = 0; i < view->food_count; i++) {
        out_object(out, NULL);
        out_int(out, "number", view->food[i]);
        out_text(out, "name", batch_name(snapshot, view->food[i]));
        out_object_end(out);
    }
    out_array_end(out);
}

static void
list_running(struct json_out *out, const struct snapshot *snapshot)
{
    out_array(out, "batches");
    for (size_t i = 0; i < snapshot->batch_count; i++)
        list_batch(out, &snapshot->batches[i]);
    out_array_end(out);
    out_array(out, "deviations");
    for (size_t i = 0; i < snapshot->deviation_count; i++) {
        const struct engine_deviation_view *view = &snapshot->deviations[i].view;
        out_object(out, NULL);
        out_int(out, "number", view->number);
        out_int(out, "opened_ms", view->opened.at_ms);
        out_bool(out, "ended", view->ended_ms != TIME_NONE);
        out_text(out, "state", deviation_state(view));
        out_text(out, "alarm", deviation_alarm(snapshot, view));
        out_text(out, "action_by", view->action_by);
        out_text(out, "sentence", snapshot->deviations[i].sentence);
        list_food(out, snapshot, view);
        list_prepared(out, deviation_limit(snapshot, view));
        out_object_end(out);
    }
    out_array_end(out);
    out_array(out, "undecided");
    for (size_t i = 0; i < snapshot->undecided_count; i++) {
        if (snapshot->undecided[i].view.said.kind != DECISION_INCONCLUSIVE)
            continue; /* not for `decide` */
        out_object(out, NULL);
        out_int(out, "batch", snapshot->undecided[i].view.said.batch);
        out_text(out, "sentence", snapshot->undecided[i].sentence);
        out_object_end(out);
    }
    out_array_end(out);
}

size_t
control_answer_lists(char *buf, size_t size, const struct snapshot *snapshot, int64_t now_ms)
{
    if (snapshot == NULL || snapshot->plan == NULL)
        return control_answer_words(
            buf, size, 503,
            "the daemon has only just started and knows nothing yet; ask again "
            "in a moment");
    const struct plan *plan = snapshot->plan;
    struct json_out out;
    out_start(&out, buf, size, false);
    out_object(&out, NULL);
    out_int(&out, "code", 200);
    out_text(&out, "say", "what can be named here");
    out_object(&out, "lists");
    out_text(&out, "site", plan->site_name);
    out_text(&out, "time_zone", plan->time_zone);
    out_bool(&out, "demo", plan->demo);
    out_int(&out, "now_ms", now_ms);
    out_int(&out, "offset_ms", snapshot->offset_ms);
    list_people(&out, plan);
    list_products(&out, plan);
    list_places(&out, plan);
    list_probes(&out, snapshot);
    list_thermometers(&out, plan);
    list_running(&out, snapshot);
    out_object_end(&out);
    out_object_end(&out);
    if (!out_done(&out) || out.len + 2 > size)
        return 0;
    memcpy(buf + out.len, "\n", 2);
    return out.len + 1;
}
