/* A batch's forecast for machines. Keys are documented in docs/page.md. Pure, any thread. */
#include "daemon/status/advice_json.h"

#include <stdio.h>

static const char *
option_word(enum advice_option_kind kind)
{
    switch (kind) {
    case OPTION_WARMER_OVEN:
        return "warmer-oven";
    case OPTION_COOLER_OVEN:
        return "cooler-oven";
    case OPTION_SHALLOWER:
        return "shallower";
    case OPTION_ICE_BATH:
        return "ice-bath";
    case OPTION_STIR:
        return "stir";
    case OPTION_COLDER_PLACE:
        return "colder-place";
    case OPTION_UNCOVER:
        return "uncover";
    }
    return "";
}

static void
write_instant(struct json_out *out, const struct snapshot *snapshot, const char *key,
              int64_t at_ms)
{
    char text[32];
    if (at_ms == TIME_NONE || at_ms == TIME_NEVER)
        out_null(out, key);
    else
        out_text(out, key, utc_text(text, sizeof text, at_ms + snapshot->offset_ms));
}

static void
write_when(struct json_out *out, const struct snapshot *snapshot,
           const struct advice_when *when)
{
    write_instant(out, snapshot, "early", when->p05_ms);
    write_instant(out, snapshot, "likely", when->p50_ms);
    write_instant(out, snapshot, "late", when->p95_ms);
}

static void
write_chance(struct json_out *out, int16_t miss_permille)
{
    if (miss_permille < 0)
        out_null(out, "miss_permille");
    else
        out_int(out, "miss_permille", miss_permille);
}

static void
write_reach(struct json_out *out, const struct snapshot *snapshot,
            const struct advice_reach *reach)
{
    char to[32];
    out_object(out, NULL);
    out_text(out, "to", limit_temp_text(to, sizeof to, reach->to));
    out_int(out, "stage", reach->stage);
    out_bool(out, "reached", reach->reached);
    if (!reach->reached)
        write_when(out, snapshot, &reach->when);
    write_instant(out, snapshot, "deadline", reach->deadline_ms);
    write_chance(out, reach->miss_permille);
    out_object_end(out);
}

static void
write_option(struct json_out *out, const struct snapshot *snapshot,
             const struct advice_option *option)
{
    out_object(out, NULL);
    out_text(out, "what", option_word(option->kind));
    out_int(out, "change_mC", option->change_mC);
    out_text(out, "place", option->place);
    write_instant(out, snapshot, "likely", option->p50_ms);
    write_chance(out, option->miss_permille);
    out_object_end(out);
}

static void
write_peak(struct json_out *out, const struct advice *advice)
{
    if (advice->peak_p50_mC == TEMP_NONE) {
        out_null(out, "peak");
        return;
    }
    out_object(out, "peak");
    out_int(out, "low_mC", advice->peak_p05_mC);
    out_int(out, "likely_mC", advice->peak_p50_mC);
    out_int(out, "high_mC", advice->peak_p95_mC);
    out_object_end(out);
}

void
write_forecast(struct json_out *out, const struct snapshot *snapshot,
               const struct snapshot_batch *batch)
{
    const struct advice *advice = &batch->advice;
    if (!batch->has_advice) {
        out_null(out, "forecast");
        return;
    }
    out_object(out, "forecast");
    write_instant(out, snapshot, "as_of", advice->at_ms);
    out_text(out, "refusal", advice->refusal);
    out_int(out, "earlier_batches", advice->lessons);
    if (advice->has_earned) {
        out_object(out, "earned");
        write_when(out, snapshot, &advice->earned);
        out_object_end(out);
    } else {
        out_null(out, "earned");
    }
    out_bool(out, "miss_likely", advice->warned);
    out_bool(out, "taken_out", advice->taken_out);
    out_array(out, "reaches");
    for (uint8_t i = 0; i < advice->reach_count; i++)
        write_reach(out, snapshot, &advice->reach[i]);
    out_array_end(out);
    write_peak(out, advice);
    if (advice->has_take_out) {
        out_object(out, "take_out");
        write_when(out, snapshot, &advice->take_out);
        out_object_end(out);
    } else {
        out_null(out, "take_out");
    }
    out_bool(out, "limit_decides", advice->limit_decides);
    out_array(out, "options");
    for (uint8_t i = 0; i < advice->option_count; i++)
        write_option(out, snapshot, &advice->options[i]);
    out_array_end(out);
    out_object_end(out);
}
