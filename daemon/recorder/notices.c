/* See the header. */
#include "daemon/recorder/notices.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <jansson.h>

#include "trivet/json_out.h"

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
    return decision_opens(decision) || decision_ends(decision) ||
           decision->kind == DECISION_DOOR_LEFT_OPEN || decision->kind == DECISION_DOOR_OVER;
}

/* What every notice has beside its own parts. */
static bool
finish(struct json_out *out, const struct plan *plan, uint64_t seq, int64_t at_ms,
       const char *words)
{
    char when[40];
    out_bool(out, "recorded", seq != 0);
    out_int(out, "seq", (int64_t)seq);
    out_text(out, "site", plan->site_name);
    out_text(out, "time_utc", utc_text(when, sizeof when, at_ms));
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
                   decision_reason_phrase(decision->reason));
    out_object(out, NULL);
    out_raw(out, "decision", data);
    out_bool(out, "demo", plan->demo);
    out_text(out, "event", event);
    out_text(out, "id", id);
    return finish(out, plan, seq, decision->at_ms + offset_ms, words);
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
    char id[32];
    char words[160];
    const char *event = decision_opens(&decision) ? "opened" : "ended";
    (void)snprintf(id, sizeof id, "%u-%s", decision.deviation, event);
    (void)snprintf(words, sizeof words, "Deviation %u %s: %s", decision.deviation, event,
                   decision_reason_phrase(decision.reason));
    out_object(out, NULL);
    out_raw(out, "decision", data);
    out_bool(out, "demo", plan->demo);
    out_text(out, "event", event);
    out_text(out, "id", id);
    return finish(out, plan, seq, decision.at_ms + offset_ms, words);
}

/* Advice is told as advice. */
static bool
forecast_notice(const struct plan *plan, const char *data, uint64_t seq, int64_t at_ms,
                struct json_out *out)
{
    json_t *forecast = json_loads(data, 0, NULL);
    json_int_t batch = json_integer_value(json_object_get(forecast, "batch"));
    bool likely = json_is_true(json_object_get(forecast, "likely"));
    char id[48];
    char words[160];
    (void)snprintf(id, sizeof id, "forecast-%" JSON_INTEGER_FORMAT "-%llu", batch,
                   (unsigned long long)seq);
    (void)snprintf(words, sizeof words,
                   likely ? "Forecast: batch %" JSON_INTEGER_FORMAT " will probably miss its "
                            "limit; look at what helps"
                          : "Forecast: batch %" JSON_INTEGER_FORMAT " will probably meet its "
                            "limit after all",
                   batch);
    json_decref(forecast);
    out_object(out, NULL);
    out_bool(out, "demo", plan->demo);
    out_text(out, "event", likely ? "forecast-miss" : "forecast-over");
    out_raw(out, "forecast", data);
    out_text(out, "id", id);
    return finish(out, plan, seq, at_ms, words);
}

bool
notice_text(const struct plan *plan, const char *kind, const char *data_json, uint64_t seq,
            int64_t at_ms, int64_t offset_ms, char *buf, size_t size)
{
    struct json_out out;
    out_start(&out, buf, size, true);
    return strcmp(kind, "forecast") == 0
               ? forecast_notice(plan, data_json, seq, at_ms + offset_ms, &out)
               : decision_notice(plan, data_json, seq, offset_ms, &out);
}
