/* See the header. */
#include "daemon/recorder/notices.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <jansson.h>

#include "trivet/json_out.h"
#include "trivet/zone.h"

#define CACHE_KEY "notices"

static struct notice *
find(struct notices *notices, uint64_t seq)
{
    for (size_t i = 0; i < notices->count; i++)
        if (notices->list[i].seq == seq)
            return &notices->list[i];
    return NULL;
}

bool
notices_add(struct notices *notices, uint64_t seq, int64_t at_ms)
{
    if (notices->count == NOTICES_MAX)
        return false;
    notices->list[notices->count++] = (struct notice){.seq = seq, .next_ms = at_ms};
    notices->changed = true;
    return true;
}

bool
notices_report(struct notices *notices, uint64_t seq, bool delivered, int64_t at_ms)
{
    struct notice *notice = find(notices, seq);
    if (notice == NULL)
        return false;
    notice->running = false;
    notice->tries++;
    notices->changed = true;
    if (!delivered && notice->tries < NOTICE_TRIES_MAX) {
        notice->next_ms = at_ms + NOTICE_RETRY_MS;
        return false;
    }
    *notice = notices->list[--notices->count];
    return true;
}

enum store_status
notices_keep(struct notices *notices, struct store *store, struct store_error *reterr)
{
    if (!notices->changed)
        return STORE_OK;
    uint64_t seqs[NOTICES_MAX];
    for (size_t i = 0; i < notices->count; i++)
        seqs[i] = notices->list[i].seq;
    return store_cache_put(store, CACHE_KEY, seqs, notices->count * sizeof seqs[0], reterr);
}

void
notices_bring_back(struct notices *notices, struct store *store, int64_t at_ms)
{
    size_t size = 0;
    uint64_t *seqs = store_cache_get(store, CACHE_KEY, &size);
    for (size_t i = 0; seqs != NULL && i < size / sizeof seqs[0]; i++)
        (void)notices_add(notices, seqs[i], at_ms);
    free(seqs);
    notices->changed = false;
}

bool
notice_wanted(const struct decision *decision)
{
    return decision_tells(decision) || decision->kind == DECISION_DOOR_LEFT_OPEN ||
           decision->kind == DECISION_DOOR_OVER;
}

/* Who is meant: the people of a role, or the one named. */
static void
list_people(const struct plan *plan, const char *tell, struct json_out *out)
{
    out_array(out, "to");
    for (size_t i = 0; i < plan->person_count; i++)
        if (strcmp(plan->people[i].initials, tell) == 0 ||
            strcmp(person_role_word(plan->people[i].role), tell) == 0)
            out_text(out, NULL, plan->people[i].initials);
    out_array_end(out);
}

/* What every notice has beside its own parts; tell NULL = it is for everybody. */
static bool
finish(struct json_out *out, const struct plan *plan, uint64_t seq, int64_t at_ms,
       const char *words, const char *tell)
{
    char when[40];
    out_bool(out, "recorded", seq != 0);
    out_int(out, "seq", (int64_t)seq);
    out_text(out, "site", plan->site_name);
    if (tell != NULL)
        out_text(out, "tell", tell);
    out_text(out, "time_local",
             zone_iso_text(zone_shared(plan->time_zone), at_ms, when, sizeof when));
    out_text(out, "time_utc", utc_text(when, sizeof when, at_ms));
    if (tell != NULL)
        list_people(plan, tell, out);
    out_text(out, "words", words);
    out_object_end(out);
    return out_done(out);
}

/* A door is no deviation: it has no number, and asks for no corrective action. */
static bool
door_notice(const struct plan *plan, const struct decision *decision, const char *data,
            uint64_t seq, int64_t offset_ms, struct json_out *out)
{
    char id[80], words[320];
    const bool opens = decision->kind == DECISION_DOOR_LEFT_OPEN;
    const int index = plan_switch_index(plan, decision->contact);
    const char *event = opens ? "door-open" : "door-over";
    (void)snprintf(id, sizeof id, "%s-%s-%llu", event, decision->contact,
                   (unsigned long long)seq);
    (void)snprintf(words, sizeof words, "%s: %s",
                   index >= 0 ? plan->switches[index].name : decision->contact,
                   decision_phrase(decision));
    out_object(out, NULL);
    out_raw(out, "decision", data);
    out_bool(out, "demo", plan->demo);
    out_text(out, "event", event);
    out_text(out, "id", id);
    return finish(out, plan, seq, decision->at_ms + offset_ms, words, NULL);
}

/* A deviation opens and ends once; what its alarm does can come again. */
static void
name_event(const struct decision *decision, const char **ret_event, char *id, size_t size)
{
    const char *event = decision_opens(decision)                  ? "opened"
                        : decision_ends(decision)                 ? "ended"
                        : decision->kind == DECISION_ALARM_RAISED ? "again"
                                                                  : "escalated";
    *ret_event = event;
    if (decision_opens(decision) || decision_ends(decision))
        (void)snprintf(id, size, "%u-%s", decision->deviation, event);
    else
        (void)snprintf(id, size, "%u-%s-%u-%lld", decision->deviation, event, decision->level,
                       (long long)decision->at_ms);
}

static bool
decision_notice(const struct plan *plan, const char *data, uint64_t seq, int64_t offset_ms,
                struct json_out *out)
{
    struct decision decision;
    if (!decision_read(data, strlen(data), &decision))
        return false;
    if (decision.kind == DECISION_DOOR_LEFT_OPEN || decision.kind == DECISION_DOOR_OVER)
        return door_notice(plan, &decision, data, seq, offset_ms, out);
    char id[64];
    char words[200];
    const char *event;
    const char *tell =
        decision.kind == DECISION_ESCALATED && decision.level <= plan->escalation_count
            ? plan->escalation[decision.level - 1].tell
            : NULL;
    name_event(&decision, &event, id, sizeof id);
    if (decision.kind == DECISION_ALARM_RAISED)
        (void)snprintf(words, sizeof words, "Deviation %u goes on: its alarm is told again",
                       decision.deviation);
    else
        (void)snprintf(words, sizeof words, "Deviation %u %s: %s", decision.deviation, event,
                       decision_phrase(&decision));
    out_object(out, NULL);
    out_raw(out, "decision", data);
    out_bool(out, "demo", plan->demo);
    out_text(out, "event", event);
    out_text(out, "id", id);
    return finish(out, plan, seq, decision.at_ms + offset_ms, words, tell);
}

const struct plan_hook *
notice_hook(const struct plan *plan, const char *kind, const char *data_json)
{
    struct decision decision;
    const struct plan_hook *own = NULL;
    if (strcmp(kind, "decision") == 0 &&
        decision_read(data_json, strlen(data_json), &decision) &&
        decision.kind == DECISION_ESCALATED && decision.level <= plan->escalation_count)
        own = &plan->escalation[decision.level - 1].hook;
    if (own != NULL && own->args[0] != NULL)
        return own;
    return plan->hook.args[0] != NULL ? &plan->hook : NULL;
}

bool
plan_tells_anybody(const struct plan *plan)
{
    for (size_t i = 0; i < plan->escalation_count; i++)
        if (plan->escalation[i].hook.args[0] != NULL)
            return true;
    return plan->hook.args[0] != NULL;
}

void
notices_drop(struct notices *notices, uint64_t seq)
{
    struct notice *notice = find(notices, seq);
    if (notice == NULL)
        return;
    *notice = notices->list[--notices->count];
    notices->changed = true;
}

/* Advice is told as advice, with the deadline that is at stake when there is one. */
static void
forecast_words(const struct plan *plan, const json_t *forecast, int64_t at_ms,
               int64_t offset_ms, char *buf, size_t size)
{
    json_int_t batch = json_integer_value(json_object_get(forecast, "batch"));
    const json_t *deadline = json_object_get(forecast, "deadline_ms");
    bool likely = json_is_true(json_object_get(forecast, "likely"));
    char by[48] = "", when[40];
    if (deadline != NULL)
        (void)snprintf(by, sizeof by, " by %s",
                       zone_clock_text(zone_shared(plan->time_zone),
                                       json_integer_value(deadline) + offset_ms,
                                       at_ms + offset_ms, when, sizeof when));
    (void)snprintf(buf, size,
                   likely ? "Forecast: batch %" JSON_INTEGER_FORMAT " will probably miss its "
                            "limit%s; look at what helps"
                          : "Forecast: batch %" JSON_INTEGER_FORMAT " will probably meet its "
                            "limit%s after all",
                   batch, by);
}

static bool
forecast_notice(const struct plan *plan, const char *data, uint64_t seq, int64_t at_ms,
                int64_t offset_ms, struct json_out *out)
{
    json_t *forecast = json_loads(data, 0, NULL);
    json_int_t batch = json_integer_value(json_object_get(forecast, "batch"));
    bool likely = json_is_true(json_object_get(forecast, "likely"));
    char id[48], words[200];
    (void)snprintf(id, sizeof id, "forecast-%" JSON_INTEGER_FORMAT "-%llu", batch,
                   (unsigned long long)seq);
    forecast_words(plan, forecast, at_ms, offset_ms, words, sizeof words);
    json_decref(forecast);
    out_object(out, NULL);
    out_bool(out, "demo", plan->demo);
    out_text(out, "event", likely ? "forecast-miss" : "forecast-over");
    out_raw(out, "forecast", data);
    out_text(out, "id", id);
    return finish(out, plan, seq, at_ms + offset_ms, words, NULL);
}

/* A light or relay that cannot be relied on: nobody may count on it meanwhile. */
static bool
signal_notice(const struct plan *plan, const char *data, uint64_t seq, int64_t at_ms,
              struct json_out *out)
{
    json_t *signal = json_loads(data, 0, NULL);
    const char *name = json_string_value(json_object_get(signal, "signal"));
    const char *state = json_string_value(json_object_get(signal, "state"));
    const char *why = json_string_value(json_object_get(signal, "why"));
    bool faulty = state != NULL && strcmp(state, "faulty") == 0;
    char id[80], words[400];
    (void)snprintf(id, sizeof id, "signal-%.31s-%llu", name == NULL ? "" : name,
                   (unsigned long long)seq);
    (void)snprintf(words, sizeof words,
                   faulty ? "Signal %.31s cannot be relied on: %.300s"
                          : "Signal %.31s can be relied on again%.0s",
                   name == NULL ? "" : name, why == NULL ? "" : why);
    json_decref(signal);
    out_object(out, NULL);
    out_bool(out, "demo", plan->demo);
    out_text(out, "event", faulty ? "signal-faulty" : "signal-well");
    out_text(out, "id", id);
    return finish(out, plan, seq, at_ms, words, NULL);
}

bool
notice_text(const struct plan *plan, const char *kind, const char *data_json, uint64_t seq,
            int64_t at_ms, int64_t offset_ms, char *buf, size_t size)
{
    struct json_out out;
    out_start(&out, buf, size, true);
    if (strcmp(kind, "signal") == 0)
        return signal_notice(plan, data_json, seq, at_ms + offset_ms, &out);
    return strcmp(kind, "forecast") == 0
               ? forecast_notice(plan, data_json, seq, at_ms, offset_ms, &out)
               : decision_notice(plan, data_json, seq, offset_ms, &out);
}
