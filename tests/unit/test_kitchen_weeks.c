/* Whole weeks of an invented kitchen, made from a seed: what is judged must not depend on how
 * often a core is read, on the program's being started again, or on when it is asked. The seed
 * is printed; TRIVET_SEED repeats a run, TRIVET_WEEKS says how many. */
#include "tests/support/check.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "tests/support/chance.h"
#include "trivet/engine.h"

#define BASE_MS   INT64_C(1772524800000) /* a midnight */
#define DAY_S     86400
#define DAYS      7
#define OPEN_S    (7 * 3600) /* of a day: work begins */
#define SHUT_S    (19 * 3600)
#define BUSY_MAX  6 /* food probes, each with one batch at a time */
#define PLACES    3
#define STEPS_MAX 3
#define TEXT_MAX  (1 << 20)
#define FOUND_MAX 4000
#define SAMPLE_S  10
#define HAND_S    20 /* usually */

static const char plan_text[] =
    "site: {name: Harbour Lane Kitchen, time_zone: UTC}\n"
    "people: [{initials: AB, name: Ana Brandt, role: cook}, {initials: VK, name: Vera Kinn, "
    "role: verifier}]\n"
    "buses: [{id: rack, driver: modbus-tcp, host: 127.0.0.1, port: 1502}]\n"
    "probes:\n%s"
    "places:\n"
    "  - {id: fridge, name: Fridge, probe: a1, limit: {kind: hold_cold, applies_to: air, "
    "at_most: 5 °C, tolerance: %d s, back_for: %d s}}\n"
    "  - {id: walk-in, name: Walk-in, probe: a2, limit: {kind: hold_cold, applies_to: air, "
    "at_most: 41 °F, tolerance: %d s, back_for: %d s}}\n"
    "  - {id: cupboard, name: Hot cupboard, probe: a3, limit: {kind: hold_hot, applies_to: "
    "air, at_least: 63 °C, tolerance: %d s, back_for: %d s}}\n"
    "products:\n"
    "  - id: roast\n    name: Roast\n    steps:\n"
    "      - {id: cook, name: Cook, limit: {kind: cook, applies_to: food, at_least: 63 °C, "
    "for: %d s}}\n"
    "      - {id: chill, name: Chill, limit: {kind: cool, applies_to: food, from: 57 °C, "
    "stages: [{to: 21 °C, within: %d s}, {to: 5 °C, within: %d s}]}}\n"
    "      - {id: warm, name: Warm again, limit: {kind: reheat, applies_to: food, at_least: 74 "
    "°C, for: %d s, within: %d s}}\n"
    "  - id: bird\n    name: Bird\n    steps:\n"
    "      - {id: cook, name: Cook, limit: {kind: cook, applies_to: food, at_least: 165 °F, "
    "for: %d s}}\n"
    "      - {id: serve, name: Serve, limit: {kind: hold_hot, applies_to: food, at_least: 57 "
    "°C, tolerance: %d s, back_for: %d s}}\n"
    "  - id: filling\n    name: Filling\n    steps:\n"
    "      - {id: cook, name: Cook, limit: {kind: cook, applies_to: food, at_least: 75 °C, "
    "for: %d s}}\n"
    "      - {id: chill, name: Chill, limit: {kind: cool, applies_to: food, from: 60 °C, "
    "stages: [{to: 20 °C, within: %d s}, {to: 4 °C, within: %d s}]}}\n"
    "tolerances: {largest_spacing: 3, silent_for: 5 min, food_rate: 60 °C/min, food_jump: 20 "
    "°C, settle_for: 60 s}\n";

static const struct {
    const char *id;
    int steps;
} products[] = {{"roast", 3}, {"bird", 2}, {"filling", 2}};

/* The plan with its times of holding and its deadlines longer (or shorter) by so many seconds.
 * A reading in 10 s is what the plan expects; one a second is more than it asks for. */
static struct plan *
load_plan(int hold_s, int within_s)
{
    static char probes[8000], text[14000];
    static struct plan_faults faults;
    size_t len = 0;
    for (int i = 0; i < BUSY_MAX + PLACES; i++)
        len += (size_t)snprintf(
            probes + len, sizeof probes - len,
            "  - {id: %c%d, name: N%d, kind: %s, bus: rack, unit: 1, function: 4, register: "
            "%d, type: int16, scale: 0.1 °C, plausible: [-40 °C, 300 °C], every: 10 s}\n",
            i < BUSY_MAX ? 'f' : 'a', i < BUSY_MAX ? i + 1 : i - BUSY_MAX + 1, i,
            i < BUSY_MAX ? "food" : "air", i);
#define H(seconds) ((seconds) + hold_s < 0 ? 0 : (seconds) + hold_s)
#define W(seconds) ((seconds) + within_s)
    int size = snprintf(text, sizeof text, plan_text, probes, H(600), H(300), H(1800), H(300),
                        H(600), H(120), H(180), W(7200), W(21600), H(15), W(7200), H(0), H(300),
                        H(120), H(30), W(7200), W(21600));
#undef H
#undef W
    assert_in_range(size, 1, sizeof text - 1);
    struct plan *plan = plan_load_text("weeks.yaml", text, (size_t)size, &faults);
    if (!plan)
        fail_msg("the kitchen's plan: line %d: %s", faults.fault[0].line, faults.fault[0].text);
    for (size_t i = 0; i < plan->probe_count; i++)
        plan->probes[i].number = (uint16_t)(i + 1);
    return plan;
}

/* ---- the kitchen ---- */

/* Food behind a probe: its surface follows the surroundings, the core follows the surface. */
struct busy {
    uint32_t batch; /* 0 = none */
    int product, step;
    int64_t move_s, enter_s, dark_until_s; /* food moved, and said; 0 = nothing to say */
    double core_C, surface_C, around_C, lag_s;
};

struct air {
    double temp_C, set_C, swing_C;
    int64_t away_until_s; /* a door left open, a plug pulled out */
    double away_C;
};

/* How a week is told to an engine. */
struct way {
    int every_s;    /* between readings while the kitchen is open */
    int hand_s;     /* after food was moved, until somebody says so */
    bool disturbed; /* the program goes on from its saved state, and is asked between */
};

struct found {
    uint32_t batch;
    char where[PLAN_ID_MAX + 1]; /* step or place */
    uint8_t stage;
    bool met, inconclusive;
    unsigned deviations;
};

struct week {
    struct engine *engine;
    const struct plan *plan;
    struct way way;
    uint64_t seed, disturb;
    uint64_t seq;
    uint32_t next_batch;
    int64_t last_ms;
    size_t readings;
    struct busy busy[BUSY_MAX];
    struct air air[PLACES];
    struct engine_output out;
    size_t text_len, found_count;
    char text[TEXT_MAX];
    struct found found[FOUND_MAX];
};

static struct found *
found_of(struct week *week, const struct decision *d)
{
    const char *where = d->batch ? d->step : d->place;
    for (size_t i = week->found_count; i-- > 0;) {
        struct found *f = &week->found[i];
        if (f->batch == d->batch && f->stage == d->stage && strcmp(f->where, where) == 0)
            return f;
    }
    assert_true(week->found_count < FOUND_MAX);
    struct found *f = &week->found[week->found_count++];
    *f = (struct found){.batch = d->batch, .stage = d->stage};
    strcpy(f->where, where);
    return f;
}

static void
keep(struct week *week, const struct decision *d)
{
    char buf[1024];
    struct json_out out;
    out_start(&out, buf, sizeof buf, true);
    decision_write(d, &out, NULL);
    assert_true(out_done(&out));
    size_t len = strlen(buf);
    assert_true(week->text_len + len + 1 < TEXT_MAX);
    memcpy(week->text + week->text_len, buf, len);
    week->text[week->text_len + len] = '\n';
    week->text_len += len + 1;
    if (d->kind == DECISION_LIMIT_MET)
        found_of(week, d)->met = true;
    if (d->kind == DECISION_INCONCLUSIVE)
        found_of(week, d)->inconclusive = true;
    if (d->kind == DECISION_DEVIATION_OPENED)
        found_of(week, d)->deviations++;
}

static void
step(struct week *week, const struct engine_input *input)
{
    engine_step(week->engine, input, &week->out);
    for (size_t i = 0; i < week->out.count; i++)
        keep(week, &week->out.decisions[i]);
}

/* From saved bytes into a new engine, as after an end and a start that took no time. */
static void
begin_again(struct week *week)
{
    size_t size = engine_save_size(week->engine);
    void *bytes = malloc(size);
    assert_non_null(bytes);
    assert_int_equal(engine_save(week->engine, bytes, size), size);
    engine_free(week->engine);
    week->engine = engine_new();
    assert_non_null(week->engine);
    assert_true(engine_load(week->engine, bytes, size));
    free(bytes);
    uint64_t seqs[ENGINE_PLANS_MAX];
    for (size_t i = 0, n = engine_plan_seqs(week->engine, seqs); i < n; i++)
        engine_bind_plan(week->engine, seqs[i], week->plan);
}

static void
feed(struct week *week, struct engine_input *input)
{
    if (week->way.disturbed && input->at_ms > week->last_ms + 1 &&
        between(&week->disturb, 0, 3000) == 0) {
        begin_again(week);
        int64_t at_ms = between(&week->disturb, week->last_ms, input->at_ms - 1);
        while (engine_due(week->engine) <= at_ms)
            step(week, &(struct engine_input){.kind = ENGINE_TICK,
                                              .at_ms = engine_due(week->engine)});
        step(week, &(struct engine_input){.kind = ENGINE_TICK, .at_ms = at_ms});
    }
    while (engine_due(week->engine) < input->at_ms)
        step(week,
             &(struct engine_input){.kind = ENGINE_TICK, .at_ms = engine_due(week->engine)});
    step(week, input);
    week->last_ms = input->at_ms;
}

static void
enter(struct week *week, const struct entry *entry, int64_t at_ms)
{
    char why[600];
    if (!engine_check(week->engine, entry, why, sizeof why))
        fail_msg("an entry is refused: %s", why);
    struct engine_input input = {.kind = ENGINE_ENTRY, .at_ms = at_ms, .seq = ++week->seq};
    input.is.entry = entry;
    feed(week, &input);
}

static void
read_probe(struct week *week, int64_t at_ms, uint16_t probe, double temp_C, bool dark)
{
    struct engine_input input = {.kind = ENGINE_READING, .at_ms = at_ms};
    /* In tenths, as the device of the plan gives them. */
    int32_t temp_mC = (int32_t)lround(temp_C * 10) * 100;
    input.is.reading = (struct reading){at_ms, dark ? TEMP_NONE : temp_mC, probe,
                                        dark ? BAD_TIMEOUT : READING_GOOD};
    feed(week, &input);
    week->readings++;
}

/* ---- food and people ---- */

/* What the food goes through in a step, and when somebody moves it on. */
static void
surround(struct week *week, struct busy *busy, int64_t now_s)
{
    static const char *const cooks = "cook", *const chills = "chill";
    const struct plan_product *product = plan_product(week->plan, products[busy->product].id);
    const char *word = product->steps[busy->step].id;
    uint64_t *seed = &week->seed;
    if (strcmp(word, cooks) == 0) {
        busy->around_C = (double)between(seed, 66, 110);
        busy->lag_s = (double)between(seed, 700, 2400);
        busy->move_s = now_s + between(seed, 1800, 9000);
    } else if (strcmp(word, chills) == 0) {
        busy->around_C = (double)between(seed, 0, 6) - 2.0;
        busy->lag_s = (double)between(seed, 900, 4500);
        busy->move_s = now_s + between(seed, 9000, 25000);
    } else {
        busy->around_C = (double)between(seed, 52, 95);
        busy->lag_s = (double)between(seed, 500, 3000);
        busy->move_s = now_s + between(seed, 1800, 9000);
    }
}

static void
put_in(struct week *week, size_t which, int64_t now_s)
{
    struct busy *busy = &week->busy[which];
    struct entry entry;
    *busy = (struct busy){.batch = week->next_batch++,
                          .product = (int)between(&week->seed, 0, COUNT_OF(products) - 1)};
    busy->core_C = busy->surface_C = (double)between(&week->seed, 2, 12);
    surround(week, busy, now_s);
    entry_clear(&entry, ENTRY_BEGIN);
    strcpy(entry.who, "AB");
    strcpy(entry.product, products[busy->product].id);
    (void)snprintf(entry.probes[0], sizeof entry.probes[0], "f%zu", which + 1);
    entry.probe_count = 1;
    entry.batch = busy->batch;
    enter(week, &entry, BASE_MS + now_s * 1000);
}

static void
say(struct week *week, struct busy *busy, enum entry_kind kind, int64_t now_s)
{
    struct entry entry;
    entry_clear(&entry, kind);
    strcpy(entry.who, "AB");
    entry.batch = busy->batch;
    if (kind == ENTRY_END)
        entry.outcome = OUTCOME_SERVED;
    enter(week, &entry, BASE_MS + now_s * 1000);
}

static void
move_on(struct week *week, struct busy *busy, int64_t now_s)
{
    if (++busy->step == products[busy->product].steps) {
        say(week, busy, ENTRY_END, now_s);
        busy->batch = 0;
        return;
    }
    busy->enter_s = now_s + week->way.hand_s;
    surround(week, busy, now_s);
}

static void
live_food(struct week *week, size_t which, int64_t now_s)
{
    struct busy *busy = &week->busy[which];
    int64_t of_day = now_s % DAY_S;
    if (busy->batch == 0 && of_day > OPEN_S && of_day < SHUT_S - 4 * 3600 &&
        between(&week->seed, 0, 5000) == 0)
        put_in(week, which, now_s);
    if (busy->batch == 0)
        return;
    if (now_s >= busy->move_s)
        move_on(week, busy, now_s);
    if (busy->batch && busy->enter_s == now_s)
        say(week, busy, ENTRY_MOVE, now_s);
    busy->surface_C += (busy->around_C - busy->surface_C) / busy->lag_s;
    busy->core_C += (busy->surface_C - busy->core_C) / (busy->lag_s / 2);
    if (now_s >= busy->dark_until_s && between(&week->seed, 0, 20000) == 0)
        busy->dark_until_s = now_s + 480; /* longer than any silence that is borne */
}

static void
live_air(struct week *week, struct air *air, int64_t now_s)
{
    if (now_s >= air->away_until_s && between(&week->seed, 0, 30000) == 0)
        air->away_until_s = now_s + between(&week->seed, 60, 2400);
    bool away = now_s < air->away_until_s;
    double to_C = away ? air->away_C : air->set_C + air->swing_C * sin((double)now_s / 300.0);
    air->temp_C += (to_C - air->temp_C) / (away ? 900.0 : 400.0);
}

static void
live(struct week *week)
{
    for (int64_t now_s = 1; now_s < (int64_t)DAYS * DAY_S; now_s++) {
        int64_t of_day = now_s % DAY_S, at_ms = BASE_MS + now_s * 1000;
        for (size_t i = 0; i < BUSY_MAX; i++)
            live_food(week, i, now_s);
        for (size_t i = 0; i < PLACES; i++)
            live_air(week, &week->air[i], now_s);
        bool open = of_day >= OPEN_S && of_day < SHUT_S;
        if (now_s % (open ? week->way.every_s : 10) != 0)
            continue;
        for (size_t i = 0; i < BUSY_MAX; i++)
            if (week->busy[i].batch)
                read_probe(week, at_ms, (uint16_t)(i + 1), week->busy[i].core_C,
                           now_s < week->busy[i].dark_until_s);
        for (size_t i = 0; i < PLACES; i++)
            read_probe(week, at_ms, (uint16_t)(BUSY_MAX + i + 1), week->air[i].temp_C, false);
    }
}

/* Tells the week of this seed in this way. */
static void
tell(struct week *week, const struct plan *plan, uint64_t seed, struct way way)
{
    memset(week, 0, offsetof(struct week, text));
    week->engine = engine_new();
    assert_non_null(week->engine);
    week->plan = plan;
    week->way = way;
    week->seed = week->disturb = seed;
    week->next_batch = 1;
    week->air[0] = (struct air){.temp_C = 4, .set_C = 3.5, .swing_C = 1.0, .away_C = 14};
    week->air[1] = (struct air){.temp_C = 2, .set_C = 2.5, .swing_C = 1.5, .away_C = 11};
    week->air[2] = (struct air){.temp_C = 70, .set_C = 70, .swing_C = 3.0, .away_C = 40};
    struct engine_input start = {.kind = ENGINE_RESTART, .at_ms = BASE_MS, .seq = ++week->seq};
    start.is.since_ms = TIME_NONE;
    week->last_ms = BASE_MS;
    feed(week, &start);
    struct engine_input begin = {.kind = ENGINE_PLAN, .at_ms = BASE_MS, .seq = ++week->seq};
    begin.is.plan = plan;
    feed(week, &begin);
    live(week);
    engine_free(week->engine);
    week->text[week->text_len] = '\0';
}

static const struct found *
same_found(const struct week *week, const struct found *of)
{
    for (size_t i = 0; i < week->found_count; i++) {
        const struct found *f = &week->found[i];
        if (f->batch == of->batch && f->stage == of->stage && strcmp(f->where, of->where) == 0)
            return f;
    }
    return NULL;
}

static bool
is_same(const struct found *a, const struct found *b)
{
    static const struct found nothing;
    a = a ? a : &nothing;
    b = b ? b : &nothing;
    return a->met == b->met && a->inconclusive == b->inconclusive &&
           a->deviations == b->deviations;
}

static uint64_t
start_seed(void)
{
    const char *given = getenv("TRIVET_SEED");
    uint64_t seed = given ? strtoull(given, NULL, 10) : UINT64_C(20260302);
    print_message("seed %llu\n", (unsigned long long)seed);
    return seed;
}

static int
weeks(void)
{
    const char *given = getenv("TRIVET_WEEKS");
    return given ? atoi(given) : 2;
}

static struct week *
new_week(void)
{
    struct week *week = malloc(sizeof *week);
    assert_non_null(week);
    return week;
}

static void
test_week_told_again_is_judged_the_same(void **state)
{
    (void)state;
    uint64_t seed = start_seed();
    struct plan *plan = load_plan(0, 0);
    struct week *live_week = new_week(), *again = new_week();
    for (int i = 0; i < weeks(); i++) {
        uint64_t mine = next_random(&seed);
        tell(live_week, plan, mine, (struct way){10, HAND_S, true});
        tell(again, plan, mine, (struct way){10, HAND_S, false});
        if (strcmp(live_week->text, again->text) != 0)
            fail_msg("week %llu: live\n%.4000s\nagain\n%.4000s", (unsigned long long)mine,
                     live_week->text, again->text);
        assert_true(again->text_len > 1000);
    }
    free(live_week);
    free(again);
    plan_free(plan);
}

/* One sample's worth of change: of a deadline, of when somebody said something, and at both
 * ends of a time held. */
static const struct {
    int hold_s, within_s, hand_s;
} changes[] = {{-2 * SAMPLE_S, 0, 0}, {2 * SAMPLE_S, 0, 0}, {0, -SAMPLE_S, 0},
               {0, SAMPLE_S, 0},      {0, 0, -SAMPLE_S},    {0, 0, SAMPLE_S}};

/* The week's verdict on the same after each change; NULL in ret when there is none. */
static void
tell_changed(struct week *ret[COUNT_OF(changes)], uint64_t seed)
{
    for (size_t i = 0; i < COUNT_OF(changes); i++) {
        struct plan *plan = load_plan(changes[i].hold_s, changes[i].within_s);
        if (!ret[i])
            ret[i] = new_week();
        tell(ret[i], plan, seed, (struct way){1, HAND_S + changes[i].hand_s, false});
        plan_free(plan);
    }
}

struct tally {
    size_t verdicts, met, deviated, close;
};

/* A verdict may hang on how often the core is read only where a sample more or less decides:
 * where it also changes with one sample more or less of time, read every second. */
static void
compare(const struct week *often, const struct week *seldom, uint64_t seed, struct tally *tally)
{
    struct week *changed[COUNT_OF(changes)] = {NULL};
    for (size_t k = 0; k < often->found_count + seldom->found_count; k++) {
        bool first = k < often->found_count;
        const struct found *f =
            first ? &often->found[k] : &seldom->found[k - often->found_count];
        const struct found *a = same_found(often, f), *b = same_found(seldom, f);
        if (!first && a)
            continue;
        tally->verdicts++;
        tally->met += f->met;
        tally->deviated += f->deviations > 0;
        if (is_same(a, b))
            continue;
        tally->close++;
        if (!changed[0])
            tell_changed(changed, seed);
        bool moved = false;
        for (size_t i = 0; i < COUNT_OF(changes); i++)
            moved = moved || !is_same(a, same_found(changed[i], f));
        if (!moved)
            fail_msg("week %llu, batch %u, %s %u: every second met %d, inconclusive %d, %u "
                     "deviations, every ten %d, %d, %u, and not for want of one sample",
                     (unsigned long long)seed, f->batch, f->where, f->stage, a && a->met,
                     a && a->inconclusive, a ? a->deviations : 0, b && b->met,
                     b && b->inconclusive, b ? b->deviations : 0);
    }
    for (size_t i = 0; i < COUNT_OF(changes); i++)
        free(changed[i]);
}

static void
test_reading_ten_times_as_often_gives_the_same_verdicts(void **state)
{
    (void)state;
    uint64_t seed = start_seed();
    struct plan *plan = load_plan(0, 0);
    struct week *often = new_week(), *seldom = new_week();
    struct tally tally = {0};
    for (int i = 0; i < weeks(); i++) {
        uint64_t mine = next_random(&seed);
        tell(often, plan, mine, (struct way){1, HAND_S, false});
        tell(seldom, plan, mine, (struct way){SAMPLE_S, HAND_S, false});
        compare(often, seldom, mine, &tally);
    }
    print_message(
        "%zu verdicts: %zu met, %zu with deviations, %zu differ for want of a sample\n",
        tally.verdicts, tally.met, tally.deviated, tally.close);
    assert_true(tally.met * 5 > tally.verdicts && tally.deviated * 20 > tally.verdicts);
    assert_true(tally.close * 20 < tally.verdicts);
    free(often);
    free(seldom);
    plan_free(plan);
}

int
main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_week_told_again_is_judged_the_same),
        cmocka_unit_test(test_reading_ten_times_as_often_gives_the_same_verdicts),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
