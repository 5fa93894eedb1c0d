/* One explanation, told: to people in at most 80 columns, to machines as an object. See why.h.
 */
#include <inttypes.h>
#include <stdlib.h>
#include <string.h>

#include <jansson.h>

#include "daemon/cli/why.h"
#include "trivet/units.h"
#include "trivet/zone.h"

#define LABEL_WIDTH 12

char *
why_stamp(const struct explanation *of, int64_t at_ms, char buf[40])
{
    const struct zone *zone = zone_shared(of->plan == NULL ? "UTC" : of->plan->time_zone);
    return zone_stamp_text(zone, at_ms + of->offset_ms, buf, 40);
}

void
why_tell(const struct cli *cli, const char *label, const char *text)
{
    if (text == NULL || text[0] == '\0')
        return;
    (void)fprintf(cli->out, "%-*s ", LABEL_WIDTH, label);
    cli_print_wrapped(cli->out, text, LABEL_WIDTH + 1, LABEL_WIDTH + 1);
}

/* ---- for people ---- */

static void
show_rule(const struct cli *cli, const struct explanation *of)
{
    char text[EXPLAIN_WORDS_MAX];
    (void)snprintf(text, sizeof text, "%s%s%s", of->rule.number,
                   of->rule.number[0] == '\0' ? "" : ": ", of->rule.sentence);
    why_tell(cli, "rule", text);
    why_tell(cli, "required", of->words.required);
    if (of->limit != NULL) {
        why_tell(cli, "control", of->limit->ccp);
        why_tell(cli, "source",
                 of->limit->source == NULL ? "the plan names none" : of->limit->source);
    }
    why_tell(cli, "found", of->words.found);
    why_tell(cli, "uncertainty", of->words.uncertainty);
}

/* What makes a reading stand out; "" for the others. */
static const char *
mark(const struct explanation *of, const struct reading *reading)
{
    if (reading->at_ms == of->decision.at_ms)
        return "decided here";
    if (of->decision.last_ms != 0 && reading->at_ms == of->decision.last_ms)
        return "last one outside";
    return reading->at_ms == of->decision.since_ms ? "counted from here" : "";
}

static void
show_reading(const struct cli *cli, const struct explanation *of, const struct reading *reading)
{
    char stamp[40], temp[32] = "", probe[8];
    if (reading->temp_mC != TEMP_NONE)
        (void)temp_text_against(temp, sizeof temp, reading->temp_mC, of->decision.required);
    const char *note = mark(of, reading);
    (void)fprintf(cli->out, "  %s  %-20.20s %8s  %s%s%s\n",
                  why_stamp(of, reading->at_ms, stamp),
                  explain_probe(of->plan, reading->probe, probe), temp,
                  reading_quality_word(reading->quality), note[0] == '\0' ? "" : "  ", note);
}

static void
show_readings(const struct cli *cli, const struct explanation *of)
{
    if (of->reading_count == 0)
        return;
    (void)fputs("readings     time, probe, °C, quality\n", cli->out);
    for (size_t i = 0; i < of->reading_count; i++) {
        if (explain_gap_before(of, i))
            (void)fputs("  ...\n", cli->out);
        show_reading(cli, of, &of->readings[i]);
    }
}

static void
show_doors(const struct cli *cli, const struct explanation *of)
{
    char stamp[40], words[200], text[280];
    for (size_t i = 0; i < of->door_count; i++) {
        explain_door_words(&of->doors[i], words, sizeof words);
        (void)snprintf(text, sizeof text, "%s, since %s (record %" PRIu64 ")", words,
                       why_stamp(of, of->doors[i].from_ms, stamp), of->doors[i].seq);
        why_tell(cli, "door", text);
    }
    if (of->doors_closed)
        why_tell(cli, "door", "closed, also in the ten minutes before it began");
}

static void
show_told(const struct cli *cli, const struct explanation *of)
{
    char stamp[40], text[EXPLAIN_HOW_MAX + 120];
    bool telling = decision_tells(&of->decision) || of->forecast.batch != 0;
    if (telling && of->told_count == 0)
        why_tell(cli, "told",
                 of->hook ? "nobody yet, as far as the records say"
                          : "nobody but the page: the plan has no alarm command");
    for (size_t i = 0; i < of->told_count; i++) {
        const struct explain_told *told = &of->told[i];
        (void)snprintf(text, sizeof text, "%s, %s%s%s (record %" PRIu64 ")",
                       why_stamp(of, told->at_ms, stamp),
                       told->done ? "the plan's alarm command took it"
                                  : "the plan's alarm command failed",
                       told->how[0] == '\0' ? "" : ": ", told->how, told->seq);
        why_tell(cli, "told", text);
    }
}

static void
show_entries(const struct cli *cli, const struct explanation *of)
{
    char stamp[40], text[EXPLAIN_SAID_MAX + 160];
    if (!decision_opens(&of->decision))
        return;
    for (size_t i = 0; i < of->entry_count; i++) {
        const struct explain_entry *entry = &of->entries[i];
        (void)snprintf(text, sizeof text, "%s by %s, %s (record %" PRIu64 ")%s%s",
                       explain_deed(entry->kind), entry->who,
                       why_stamp(of, entry->at_ms, stamp), entry->seq,
                       entry->said[0] == '\0' ? "" : ": ", entry->said);
        why_tell(cli, "since", text);
    }
}

static void
show_record(const struct cli *cli, const struct explanation *of)
{
    char stamp[40], text[160];
    (void)snprintf(text, sizeof text, "%" PRIu64 ", %s", of->seq,
                   why_stamp(of, of->at_ms, stamp));
    why_tell(cli, "record", text);
    if (of->plan == NULL)
        return;
    (void)snprintf(text, sizeof text, "record %" PRIu64 ", SHA-256 %.16s...%s", of->plan_seq,
                   of->plan->digest,
                   of->plan->draft ? ", a draft whose limits may change" : "");
    why_tell(cli, "plan", text);
}

static void
show_forecast(const struct cli *cli, const struct explanation *of)
{
    const struct explain_forecast *said = &of->forecast;
    char text[200], stamp[40];
    explain_forecast_words(said, text, sizeof text);
    cli_print_wrapped(cli->out, text, 0, 2);
    if (said->deadline_ms != TIME_NONE)
        why_tell(cli, "due", why_stamp(of, said->deadline_ms, stamp));
    if (said->expected_ms != TIME_NONE)
        why_tell(cli, "expected", why_stamp(of, said->expected_ms, stamp));
    if (said->miss_permille >= 0) {
        (void)snprintf(text, sizeof text, "%d %% of a miss", (said->miss_permille + 5) / 10);
        why_tell(cli, "chance", text);
    }
    show_record(cli, of);
    show_told(cli, of);
    why_tell(cli, "advice", "nothing was decided by it: only measurements decide");
}

/* What a person entered, or what the daemon noted of itself. */
static void
show_other(const struct cli *cli, const struct explanation *of)
{
    char text[80];
    if (of->forecast.batch != 0) {
        show_forecast(cli, of);
        return;
    }
    if (of->who[0] == '\0' && of->by_probe[0] == '\0') {
        (void)fprintf(cli->out, "A record of kind %s: nothing was decided by it\n", of->kind);
        (void)fprintf(cli->out,
                      "A number alone is a record's; deviation %" PRIu64 " is d%" PRIu64
                      ", batch %" PRIu64 " is b%" PRIu64 ".\n",
                      of->seq, of->seq, of->seq, of->seq);
        show_record(cli, of);
        return;
    }
    if (of->who[0] != '\0')
        (void)fprintf(cli->out, "%s entered this: %s\n", of->who, of->kind);
    else
        (void)fprintf(cli->out, "It began by itself, by probe %s: %s\n", of->by_probe,
                      of->kind);
    show_record(cli, of);
    why_tell(cli, "led to", of->led_count == 0 ? "no decision at that moment" : NULL);
    for (size_t i = 0; i < of->led_count; i++) {
        (void)snprintf(text, sizeof text, "record %" PRIu64, of->led_to[i]);
        why_tell(cli, "led to", text);
    }
}

void
why_show(const struct cli *cli, const struct explanation *of)
{
    char text[120];
    if (strcmp(of->kind, "decision") != 0) {
        show_other(cli, of);
        return;
    }
    cli_print_wrapped(cli->out, of->words.what, 0, 2);
    if (of->decision.batch != 0) {
        (void)snprintf(text, sizeof text, "%u, %s", (unsigned)of->decision.batch, of->product);
        why_tell(cli, "batch", text);
    }
    why_tell(cli, "place", of->decision.place);
    show_record(cli, of);
    show_rule(cli, of);
    show_doors(cli, of);
    show_told(cli, of);
    show_entries(cli, of);
    show_readings(cli, of);
}

/* ---- for machines ---- */

static void
put_text(json_t *to, const char *key, const char *text)
{
    if (text != NULL && text[0] != '\0')
        (void)json_object_set_new(to, key, json_string(text));
}

static void
put_instant(json_t *to, const struct explanation *of, int64_t at_ms)
{
    char utc[40];
    (void)json_object_set_new(to, "at_ms", json_integer(at_ms));
    put_text(to, "time_utc", utc_text(utc, sizeof utc, at_ms + of->offset_ms));
    if (of->plan != NULL)
        put_text(to, "time_local",
                 zone_iso_text(zone_shared(of->plan->time_zone), at_ms + of->offset_ms, utc,
                               sizeof utc));
}

static json_t *
decision_object(const struct decision *decision)
{
    char text[1200];
    struct json_out out;
    out_start(&out, text, sizeof text, true);
    decision_write(decision, &out, NULL);
    return out_done(&out) ? json_loads(text, 0, NULL) : NULL;
}

static json_t *
readings_list(const struct explanation *of)
{
    json_t *list = json_array();
    char probe[8];
    for (size_t i = 0; i < of->reading_count; i++) {
        const struct reading *reading = &of->readings[i];
        json_t *row = json_object();
        put_instant(row, of, reading->at_ms);
        put_text(row, "probe", explain_probe(of->plan, reading->probe, probe));
        (void)json_object_set_new(
            row, "temp_mC",
            reading->temp_mC == TEMP_NONE ? json_null() : json_integer(reading->temp_mC));
        put_text(row, "quality", reading_quality_word(reading->quality));
        put_text(row, "note", mark(of, reading));
        (void)json_array_append_new(list, row);
    }
    return list;
}

static json_t *
told_list(const struct explanation *of)
{
    json_t *list = json_array();
    for (size_t i = 0; i < of->told_count; i++) {
        json_t *row = json_object();
        put_instant(row, of, of->told[i].at_ms);
        (void)json_object_set_new(row, "done", json_boolean(of->told[i].done));
        put_text(row, "how", of->told[i].how);
        (void)json_object_set_new(row, "record", json_integer((json_int_t)of->told[i].seq));
        (void)json_array_append_new(list, row);
    }
    return list;
}

static json_t *
entries_list(const struct explanation *of)
{
    json_t *list = json_array();
    for (size_t i = 0; i < of->entry_count; i++) {
        json_t *row = json_object();
        put_instant(row, of, of->entries[i].at_ms);
        put_text(row, "kind", entry_kind_word(of->entries[i].kind));
        put_text(row, "who", of->entries[i].who);
        put_text(row, "said", of->entries[i].said);
        (void)json_object_set_new(row, "record", json_integer((json_int_t)of->entries[i].seq));
        (void)json_array_append_new(list, row);
    }
    return list;
}

static json_t *
doors_list(const struct explanation *of)
{
    json_t *list = json_array();
    char utc[40];
    for (size_t i = 0; i < of->door_count; i++) {
        const struct explain_door *door = &of->doors[i];
        json_t *row = json_object();
        put_text(row, "switch", door->id);
        put_text(row, "name", door->name);
        put_instant(row, of, door->from_ms);
        if (door->to_ms != TIME_NONE)
            put_text(row, door->lost ? "unknown_from_utc" : "closed_utc",
                     utc_text(utc, sizeof utc, door->to_ms + of->offset_ms));
        put_text(row, "when", door->before ? "before" : "while");
        (void)json_object_set_new(row, "record", json_integer((json_int_t)door->seq));
        (void)json_array_append_new(list, row);
    }
    return list;
}

static void
put_decision(json_t *to, const struct explanation *of)
{
    (void)json_object_set_new(to, "decision", decision_object(&of->decision));
    put_text(to, "what", of->words.what);
    put_text(to, "rule", of->rule.number);
    put_text(to, "rule_says", of->rule.sentence);
    put_text(to, "required", of->words.required);
    put_text(to, "found", of->words.found);
    put_text(to, "uncertainty", of->words.uncertainty);
    put_text(to, "product", of->product);
    if (of->limit != NULL) {
        put_text(to, "control_point", of->limit->ccp);
        put_text(to, "source", of->limit->source);
    }
    (void)json_object_set_new(to, "readings", readings_list(of));
    if (of->door_count > 0 || of->doors_closed)
        (void)json_object_set_new(to, "doors", doors_list(of));
    (void)json_object_set_new(to, "told", told_list(of));
    (void)json_object_set_new(to, "entries", entries_list(of));
}

static json_t *
forecast_object(const struct explanation *of)
{
    const struct explain_forecast *said = &of->forecast;
    json_t *to = json_object();
    char words[200];
    explain_forecast_words(said, words, sizeof words);
    put_text(to, "words", words);
    (void)json_object_set_new(to, "batch", json_integer(said->batch));
    put_text(to, "step", said->step);
    if (said->stage > 0)
        (void)json_object_set_new(to, "stage", json_integer(said->stage));
    (void)json_object_set_new(to, "likely", json_boolean(said->likely));
    if (said->deadline_ms != TIME_NONE)
        (void)json_object_set_new(to, "deadline_ms", json_integer(said->deadline_ms));
    if (said->expected_ms != TIME_NONE)
        (void)json_object_set_new(to, "expected_ms", json_integer(said->expected_ms));
    if (said->miss_permille >= 0)
        (void)json_object_set_new(to, "miss_permille", json_integer(said->miss_permille));
    (void)json_object_set_new(to, "told", told_list(of));
    return to;
}

json_t *
why_json(const struct explanation *of)
{
    json_t *to = json_object();
    json_t *led = json_array();
    (void)json_object_set_new(to, "record", json_integer((json_int_t)of->seq));
    put_text(to, "kind", of->kind);
    put_instant(to, of, of->at_ms);
    put_text(to, "who", of->who);
    if (of->by_probe[0] != '\0')
        put_text(to, "by_probe", of->by_probe);
    if (of->plan != NULL) {
        (void)json_object_set_new(to, "plan", json_integer((json_int_t)of->plan_seq));
        put_text(to, "plan_digest", of->plan->digest);
        (void)json_object_set_new(to, "plan_draft", json_boolean(of->plan->draft));
    }
    if (strcmp(of->kind, "decision") == 0)
        put_decision(to, of);
    if (of->forecast.batch != 0)
        (void)json_object_set_new(to, "forecast", forecast_object(of));
    for (size_t i = 0; i < of->led_count; i++)
        (void)json_array_append_new(led, json_integer((json_int_t)of->led_to[i]));
    if (of->who[0] != '\0' || of->by_probe[0] != '\0')
        (void)json_object_set_new(to, "led_to", led);
    else
        json_decref(led);
    return to;
}
