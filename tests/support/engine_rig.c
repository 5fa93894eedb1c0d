/* The engine rig: see engine_rig.h. */
#include "tests/support/engine_rig.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "tests/support/check.h"

static const char frame[] = "site: {name: Harbour Lane Kitchen, time_zone: UTC}\n"
                            "people:\n"
                            "  - {initials: AB, name: Ana Brandt, role: cook}\n"
                            "  - {initials: SB, name: Sara Berg, role: supervisor}\n"
                            "  - {initials: VK, name: Vera Kinn, role: verifier}\n"
                            "%s"
                            "buses:\n"
                            "  - {id: rack, driver: modbus-tcp, host: 127.0.0.1, port: 1502}\n"
                            "probes:\n"
                            "  - {id: p1, name: One, kind: food, bus: rack, unit: 1, function: "
                            "4, register: 0, type: int16,\n"
                            "     scale: 0.1 °C, plausible: [-40 °C, 300 °C], every: 10 s}\n"
                            "  - {id: p2, name: Two, kind: food, bus: rack, unit: 1, function: "
                            "4, register: 1, type: int16,\n"
                            "     scale: 0.1 °C, plausible: [-40 °C, 300 °C], every: 10 s}\n"
                            "  - {id: p3, name: Three, kind: food, bus: rack, unit: 1, "
                            "function: 4, register: 2, type: int16,\n"
                            "     scale: 0.1 °C, plausible: [-40 °C, 300 °C], every: 10 s}\n"
                            "%s"
                            "thermometers:\n"
                            "  - {id: pen, name: Pen}\n"
                            "places:\n"
                            "  - {id: fridge, name: Fridge, %s}\n"
                            "  - {id: shelf, name: Shelf, limit: {kind: none}}\n"
                            "%s"
                            "products:\n"
                            "  - id: dish\n"
                            "    name: Dish\n"
                            "%s%s\n"
                            "    steps:\n"
                            "      - {id: first, name: First, limit: %s}\n"
                            "      - {id: after, name: After, limit: {kind: none}}\n"
                            "tolerances: %s\n";

/* Only where the place has a limit: an air probe that is never read is a deviation. */
static const char air_probe[] =
    "  - {id: a1, name: Fridge air, kind: air, bus: rack, unit: 1, function: 4, register: 3, "
    "type: int16,\n"
    "     scale: 0.1 °C, plausible: [-40 °C, 300 °C], every: 10 s}\n";

/* The documented defaults, written out. */
static const char usual[] = "{largest_spacing: 3, silent_for: 5 min, food_rate: 15 °C/min, "
                            "food_jump: 4 °C, settle_for: 60 s}";

const char *rig_life, *rig_place_more;

struct plan *
rig_plan_of(const char *text)
{
    static struct plan_faults faults;
    memset(&faults, 0, sizeof faults);
    struct plan *plan = plan_load_text("rig.yaml", text, strlen(text), &faults);
    if (!plan)
        fail_msg("the rig's plan: line %d: %s", faults.fault[0].line, faults.fault[0].text);
    for (size_t i = 0; i < plan->probe_count; i++)
        plan->probes[i].number = (uint16_t)(i + 1);
    return plan;
}

struct plan *
rig_plan(const char *step_limit, const char *place_limit, const char *tolerances)
{
    char text[6000];
    const char *sole = tolerances && strstr(tolerances, "sole")
                           ? "sole_operator: The owner reads them again.\n"
                           : "";
    char place[300] = "limit: {kind: none}";
    if (place_limit)
        (void)snprintf(place, sizeof place, "probe: a1, limit: %s", place_limit);
    int len = snprintf(text, sizeof text, frame, sole, place_limit ? air_probe : "", place,
                       rig_place_more ? rig_place_more : "", rig_life ? "    limit: " : "",
                       rig_life ? rig_life : "", step_limit ? step_limit : "{kind: none}",
                       tolerances && tolerances[0] == '{' ? tolerances : usual);
    assert_true((size_t)len < sizeof text);
    return rig_plan_of(text);
}

static void
take_plan(struct rig *rig, struct plan *plan, int64_t at_ms)
{
    assert_true(rig->plan_count < RIG_PLANS_MAX);
    rig->plans[rig->plan_count++] = plan;
    struct engine_input input = {.kind = ENGINE_PLAN, .at_ms = at_ms, .seq = ++rig->seq};
    input.is.plan = plan;
    rig_feed(rig, &input);
}

static struct rig *
rig_under(struct plan *plan)
{
    struct rig *rig = calloc(1, sizeof *rig);
    assert_non_null(rig);
    rig->engine = engine_new();
    assert_non_null(rig->engine);
    struct engine_input start = {
        .kind = ENGINE_RESTART, .at_ms = RIG_BASE_MS, .seq = ++rig->seq};
    start.is.since_ms = TIME_NONE;
    rig_feed(rig, &start);
    take_plan(rig, plan, RIG_BASE_MS);
    return rig;
}

struct rig *
rig_new(const char *step_limit, const char *place_limit)
{
    return rig_under(rig_plan(step_limit, place_limit, NULL));
}

struct rig *
rig_of(const char *text)
{
    return rig_under(rig_plan_of(text));
}

void
rig_free(struct rig *rig)
{
    engine_free(rig->engine);
    for (size_t i = 0; i < rig->plan_count; i++)
        plan_free(rig->plans[i]);
    free(rig);
}

/* ---- the log ---- */

static size_t
put_time(char *buf, size_t size, const char *word, int64_t ms)
{
    int64_t s = ms / 1000, milli = ms % 1000;
    int n = snprintf(buf, size, "%s%d:%02d:%02d", word, (int)(s / 3600), (int)(s / 60 % 60),
                     (int)(s % 60));
    if (milli)
        n += snprintf(buf + n, size - (size_t)n, ".%03d", (int)milli);
    return (size_t)n;
}

size_t
rig_line(const struct decision *d, char *buf, size_t size)
{
    char temp[24];
    size_t n = put_time(buf, size, "", d->at_ms - RIG_BASE_MS);
#define PUT(...) n += (size_t)snprintf(buf + n, size - n, __VA_ARGS__)
    PUT(" %s %s", decision_kind_word(d->kind), decision_reason_word(d->reason));
    if (d->kind == DECISION_RESOLVED)
        PUT(" %s", d->accepted ? "yes" : "no");
    if (d->deviation)
        PUT(" #%u", d->deviation);
    if (d->alarm)
        PUT(" of #%u", d->alarm);
    if (d->silent)
        PUT(" silent");
    if (d->level)
        PUT(" level %u", d->level);
    if (d->batch > 1)
        PUT(" batch %u", d->batch);
    if (d->batch == 0 && d->place[0])
        PUT(" %s", d->place);
    if (d->stage)
        PUT(" stage %u", d->stage);
    if (d->probe)
        PUT(" p%u", d->probe);
    if (d->thermometer[0])
        PUT(" %s", d->thermometer);
    if (d->contact[0])
        PUT(" %s", d->contact);
    if (d->day[0])
        PUT(" %s", d->day);
    if (d->temp_mC != TEMP_NONE)
        PUT(" %s", temp_text(temp, sizeof temp, d->temp_mC));
    if (d->worst_mC != TEMP_NONE)
        PUT(" worst %s", temp_text(temp, sizeof temp, d->worst_mC));
    if (d->since_ms != TIME_NONE)
        n += put_time(buf + n, size - n, " since ", d->since_ms - RIG_BASE_MS);
    if (d->found_ms)
        n += put_time(buf + n, size - n, " found ", d->found_ms);
    PUT("\n");
#undef PUT
    return n;
}

static void
step(struct rig *rig, const struct engine_input *input)
{
    engine_step(rig->engine, input, &rig->out);
    for (size_t i = 0; i < rig->out.count; i++) {
        const struct decision *d = &rig->out.decisions[i];
        assert_int_equal(d->at_ms, input->at_ms);
        if (!rig->all && (d->kind == DECISION_STEP_BEGUN || d->kind == DECISION_BATCH_ENDED) &&
            d->reason == REASON_ENTERED)
            continue;
        rig->log_len += rig_line(d, rig->log + rig->log_len, sizeof rig->log - rig->log_len);
    }
}

/* As include/trivet/engine.h asks: what is due before the input, not at its very instant. */
void
rig_feed(struct rig *rig, struct engine_input *input)
{
    bool restart = input->kind == ENGINE_RESTART;
    int64_t until_ms = restart ? input->is.since_ms : input->at_ms - 1;
    while (!(restart && until_ms == TIME_NONE) && engine_due(rig->engine) <= until_ms)
        step(rig,
             &(struct engine_input){.kind = ENGINE_TICK, .at_ms = engine_due(rig->engine)});
    step(rig, input);
    if (input->kind != ENGINE_READING)
        return;
    rig->quality = rig->out.quality;
    struct entry entry; /* as the recorder: what begins by itself is entered at once */
    if (!engine_want_entry(rig->engine, &rig->out.want, &entry))
        return;
    struct engine_input wanted = {
        .kind = ENGINE_ENTRY, .at_ms = input->at_ms + 1, .seq = ++rig->seq};
    wanted.is.entry = &entry;
    step(rig, &wanted);
}

/* ---- scripts ---- */

int64_t
rig_time(const char *text)
{
    int h = 0, m = 0, s = 0, milli = 0;
    int got = sscanf(text, "%d:%2d:%2d.%3d", &h, &m, &s, &milli);
    if (got < 3)
        fail_msg("the rig cannot read the time '%s'", text);
    return RIG_BASE_MS + ((int64_t)h * 3600 + m * 60 + s) * 1000 + milli;
}

static int32_t
temp_of(const char *text)
{
    int32_t milli = 0;
    if (!milli_parse(text, &milli))
        fail_msg("the rig cannot read the temperature '%s'", text);
    return milli;
}

/* By the plan in force; of one that is no longer in it by the rig's first. */
static uint16_t
probe_of(const struct rig *rig, const char *word)
{
    for (size_t i = rig->plan_count; i-- > 0;) {
        const struct plan *plan = rig->plans[i];
        for (size_t k = 0; k < plan->probe_count; k++)
            if (strcmp(plan->probes[k].id, word) == 0)
                return plan->probes[k].number;
    }
    return 0;
}

static void
play_reading(struct rig *rig, int64_t at_ms, uint16_t probe, bool bad, int32_t temp_mC)
{
    struct engine_input input = {.kind = ENGINE_READING, .at_ms = at_ms};
    input.is.reading = (struct reading){at_ms, bad ? TEMP_NONE : temp_mC, probe,
                                        bad ? BAD_TIMEOUT : READING_GOOD};
    rig_feed(rig, &input);
}

/* "p1" or "p1,p2,p3", every 10 s from from_ms to to_ms. */
static void
play_readings(struct rig *rig, int64_t from_ms, int64_t to_ms, char *probes, const char *first,
              const char *last)
{
    bool bad = strcmp(first, "bad") == 0;
    int32_t from_mC = bad ? 0 : temp_of(first);
    int32_t to_mC = bad || !last ? from_mC : temp_of(last);
    uint16_t numbers[8];
    size_t count = 0;
    char *rest = NULL;
    for (char *word = strtok_r(probes, ",", &rest); word; word = strtok_r(NULL, ",", &rest))
        assert_true(count < COUNT_OF(numbers)), numbers[count++] = probe_of(rig, word);
    for (int64_t at = from_ms; at <= to_ms; at += 10000) {
        int64_t part = to_ms > from_ms
                           ? (int64_t)(to_mC - from_mC) * (at - from_ms) / (to_ms - from_ms)
                           : 0;
        for (size_t i = 0; i < count; i++)
            play_reading(rig, at, numbers[i], bad, from_mC + (int32_t)part);
    }
}

/* Takes "batch=2", "place=shelf" and "who=SB" out of the words of an entry. */
static size_t
take_options(struct entry *entry, char *words[], size_t count)
{
    size_t left = 0;
    for (size_t i = 0; i < count; i++) {
        if (strncmp(words[i], "batch=", 6) == 0)
            entry->batch = (uint32_t)strtoul(words[i] + 6, NULL, 10);
        else if (strncmp(words[i], "place=", 6) == 0)
            snprintf(entry->place, sizeof entry->place, "%s", words[i] + 6);
        else if (strncmp(words[i], "who=", 4) == 0)
            snprintf(entry->who, sizeof entry->who, "%s", words[i] + 4);
        else
            words[left++] = words[i];
    }
    return left;
}

static void
play_entry(struct rig *rig, int64_t at_ms, char *words[], size_t count)
{
    struct entry entry;
    entry_clear(&entry, entry_kind_from_word(words[0]));
    assert_int_not_equal(entry.kind, ENTRY_NONE);
    snprintf(entry.who, sizeof entry.who, "AB");
    entry.batch = 1;
    count = take_options(&entry, words, count);
    const char *a = count > 1 ? words[1] : "", *b = count > 2 ? words[2] : "";
    size_t probes_from = count;
    switch (entry.kind) {
    case ENTRY_BEGIN: /* "begin dish p1" or "begin dish step=cool p1" */
        entry.batch = 0;
        snprintf(entry.product, sizeof entry.product, "%s", a);
        probes_from = 2;
        if (strncmp(b, "step=", 5) == 0) {
            snprintf(entry.step, sizeof entry.step, "%s", b + 5);
            probes_from = 3;
        }
        break;
    case ENTRY_MOVE:
        snprintf(entry.step, sizeof entry.step, "%s", a);
        probes_from = 2;
        break;
    case ENTRY_END:
        entry.outcome = outcome_from_word(a);
        break;
    case ENTRY_HAND:
        snprintf(entry.thermometer, sizeof entry.thermometer, "pen");
        entry.has_temp = true;
        entry.temp_mC = temp_of(count > 2 ? b : a);
        if (count > 2) {
            entry.batch = 0;
            snprintf(entry.place, sizeof entry.place, "%s", a);
        }
        break;
    case ENTRY_COOKED:
        entry.given_ms = rig_time(a);
        break;
    case ENTRY_DECIDE:
        entry.accept = strcmp(a, "yes") == 0;
        if (count > 2) { /* "decide no p1" */
            entry.batch = 0;
            snprintf(entry.probe, sizeof entry.probe, "%s", b);
        }
        snprintf(entry.reason, sizeof entry.reason, "seen by two people");
        break;
    case ENTRY_CORRECT:
        entry.batch = 0;
        entry.refers = strtoull(a, NULL, 10);
        snprintf(entry.reason, sizeof entry.reason, "misread");
        /* "correct 4 at 0:50:00" or "correct 4 withdraw": a step that began by itself */
        entry.withdraw = strcmp(b, "withdraw") == 0;
        if (strcmp(b, "at") == 0)
            entry.given_ms = rig_time(words[3]);
        if (entry.withdraw || entry.given_ms != TIME_NONE)
            break;
        entry.has_temp = true;
        entry.temp_mC = temp_of(b);
        break;
    case ENTRY_CONFIRM: /* "confirm yes VK" */
        entry.accept = strcmp(a, "yes") == 0;
        snprintf(entry.who, sizeof entry.who, "%s", b);
        break;
    case ENTRY_ACTION:
        snprintf(entry.found, sizeof entry.found, "door ajar");
        snprintf(entry.done, sizeof entry.done, "closed it");
        entry.disposition = DISPOSITION_DISCARD;
        /* fall through */
    case ENTRY_VERIFY:
        entry.batch = 0;
        entry.deviation = (uint32_t)strtoul(a, NULL, 10);
        snprintf(entry.who, sizeof entry.who, "%s", b);
        break;
    case ENTRY_QUIET: /* "quiet fridge 0:30:00" or "quiet fridge end" */
        entry.batch = 0;
        snprintf(entry.place, sizeof entry.place, "%s", a);
        entry.end = strcmp(b, "end") == 0;
        entry.for_ms = entry.end ? 0 : rig_time(b) - RIG_BASE_MS;
        entry.why = entry.end ? QUIET_NONE : QUIET_DEFROSTING;
        break;
    case ENTRY_HEARD: /* "heard 1 AB" */
        entry.batch = 0;
        entry.deviation = (uint32_t)strtoul(a, NULL, 10);
        snprintf(entry.who, sizeof entry.who, "%s", b);
        break;
    case ENTRY_SHELVE: /* "shelve 1 0:30:00", "shelve fridge 0:30:00", "shelve 1 end" */
        entry.batch = 0;
        entry.deviation = (uint32_t)strtoul(a, NULL, 10);
        if (entry.deviation == 0)
            snprintf(entry.place, sizeof entry.place, "%s", a);
        entry.end = strcmp(b, "end") == 0;
        entry.for_ms = entry.end ? 0 : rig_time(b) - RIG_BASE_MS;
        if (!entry.end)
            snprintf(entry.reason, sizeof entry.reason, "engineer is here");
        break;
    case ENTRY_REVIEW: /* likewise */
    case ENTRY_PIN:
    case ENTRY_DAY:
    case ENTRY_CALIBRATE: /* has too many fields for a line: test_engine_calibration.c */
    case ENTRY_NOTE:
    case ENTRY_NONE:
        break;
    }
    for (size_t i = probes_from; i < count; i++)
        snprintf(entry.probes[entry.probe_count++], sizeof entry.probes[0], "%s", words[i]);
    struct engine_input input = {.kind = ENGINE_ENTRY, .at_ms = at_ms, .seq = rig->seq + 1};
    input.is.entry = &entry;
    /* As the recorder: what is due comes first, then the check, then the record. */
    while (engine_due(rig->engine) < at_ms)
        step(rig,
             &(struct engine_input){.kind = ENGINE_TICK, .at_ms = engine_due(rig->engine)});
    rig->refusal[0] = '\0';
    if (!engine_check(rig->engine, &entry, rig->refusal, sizeof rig->refusal))
        return;
    rig->seq++;
    rig_feed(rig, &input);
}

static void
play_line(struct rig *rig, char *line)
{
    char *words[12], *rest = NULL;
    size_t count = 0;
    for (char *word = strtok_r(line, " ", &rest); word && count < 12;
         word = strtok_r(NULL, " ", &rest))
        words[count++] = word;
    if (count == 0)
        return;
    if (count < 2)
        fail_msg("the rig cannot read '%s'", line);
    const char *dash = strchr(words[0], '-');
    int64_t at_ms = rig_time(words[0]), to_ms = dash ? rig_time(dash + 1) : at_ms;
    struct engine_input input = {.at_ms = at_ms};
    if (strchr(words[1], ',') || probe_of(rig, words[1])) {
        play_readings(rig, at_ms, to_ms, words[1], words[2], count > 3 ? words[3] : NULL);
    } else if (strcmp(words[1], "restart") == 0) {
        input.kind = ENGINE_RESTART;
        input.seq = ++rig->seq;
        input.is.since_ms = rig_time(words[2]);
        rig_feed(rig, &input);
    } else if (strcmp(words[1], "plan") == 0) {
        take_plan(rig, rig->next_plan, at_ms);
        rig->next_plan = NULL;
    } else if (strcmp(words[1], "wait") == 0) {
        while (engine_due(rig->engine) <= at_ms)
            step(rig,
                 &(struct engine_input){.kind = ENGINE_TICK, .at_ms = engine_due(rig->engine)});
    } else {
        play_entry(rig, at_ms, words + 1, count - 1);
        if (rig->refusal[0] && !strstr(words[count - 1], "refused"))
            rig->log_len +=
                (size_t)snprintf(rig->log + rig->log_len, sizeof rig->log - rig->log_len,
                                 "refused: %s\n", rig->refusal);
    }
}

void
rig_play(struct rig *rig, const char *script)
{
    char *text = strdup(script), *rest = NULL;
    assert_non_null(text);
    for (char *line = strtok_r(text, "\n", &rest); line; line = strtok_r(NULL, "\n", &rest))
        play_line(rig, line);
    free(text);
}

void
rig_expect(struct rig *rig, const char *log)
{
    rig->log[rig->log_len] = '\0';
    if (strcmp(rig->log, log) != 0)
        fail_msg("decided\n%sexpected\n%s", rig->log, log);
    rig->log_len = 0;
}

void
rig_story(const char *step_limit, const char *script, const char *log)
{
    struct rig *rig = rig_new(step_limit, NULL);
    rig_play(rig, script);
    rig_expect(rig, log);
    rig_free(rig);
}

void
rig_place_story(const char *place_limit, const char *script, const char *log)
{
    struct rig *rig = rig_new(NULL, place_limit);
    rig_play(rig, script);
    rig_expect(rig, log);
    rig_free(rig);
}

void
rig_reload(struct rig *rig)
{
    size_t size = engine_save_size(rig->engine);
    char *bytes = malloc(size);
    assert_non_null(bytes);
    assert_int_equal(engine_save(rig->engine, bytes, size), size);
    struct engine *fresh = engine_new();
    assert_non_null(fresh);
    assert_true(engine_load(fresh, bytes, size));
    uint64_t seqs[ENGINE_PLANS_MAX];
    struct engine_batch_view views[ENGINE_BATCHES_MAX];
    size_t batches = engine_view_batches(rig->engine, views, ENGINE_BATCHES_MAX);
    size_t count = engine_plan_seqs(fresh, seqs);
    for (size_t i = 0; i < count;
         i++) { /* batches tell which plan is which; else it is the one in force */
        const struct plan *plan = engine_plan(rig->engine);
        for (size_t b = 0; b < batches; b++)
            if (views[b].plan_seq == seqs[i])
                plan = views[b].plan;
        engine_bind_plan(fresh, seqs[i], plan);
    }
    char *again = malloc(size);
    assert_non_null(again);
    assert_int_equal(engine_save(fresh, again, size), size);
    assert_memory_equal(bytes, again, size);
    assert_int_equal(engine_due(fresh), engine_due(rig->engine));
    free(bytes);
    free(again);
    engine_free(rig->engine);
    rig->engine = fresh;
}

struct engine_batch_view
rig_batch(const struct rig *rig)
{
    struct engine_batch_view view[ENGINE_BATCHES_MAX];
    assert_true(engine_view_batches(rig->engine, view, ENGINE_BATCHES_MAX) > 0);
    return view[0];
}

struct engine_place_view
rig_place(const struct rig *rig)
{
    struct engine_place_view view;
    assert_int_equal(engine_view_places(rig->engine, &view, 1), 1);
    return view;
}
