/* What holds of every story, tried on many random ones. The seed is printed; TRIVET_SEED
 * repeats a run, TRIVET_ROUNDS makes it longer. */
#include "tests/support/check.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "tests/support/chance.h"
#include "tests/support/engine_rig.h"

#define INPUTS_MAX 4000
#define COOL                                                                                    \
    "{kind: cool, applies_to: food, from: 57 °C, stages: [{to: 21 °C, within: 30 min}, {to: " \
    "5 °C, within: 1 h}]}"
#define FRIDGE                                                                                 \
    "{kind: hold_cold, applies_to: air, at_most: 5 °C, tolerance: 10 min, back_for: 5 min}"

static const char *const limits[] = {
    "{kind: cook, applies_to: food, at_least: 63 °C, for: 3 min}",
    "{kind: cook, applies_to: food, at_least: 165 °F, for: 0 s}",
    "{kind: reheat, applies_to: food, at_least: 74 °C, for: 15 s, within: 30 min}",
    "{kind: hold_hot, applies_to: food, at_least: 57 °C, tolerance: 5 min, back_for: 2 min}",
    "{kind: hold_cold, applies_to: food, at_most: 41 °F}",
    COOL,
    "{kind: hold_hot, applies_to: food, at_least: 57 °C, one_period: 15 min, time_strict: yes, "
    "back_for: 2 min}",
    "{kind: reheat, applies_to: food, at_least: 74 °C, within: 30 min, rise_from: 30 °C, "
    "stand: "
    "2 min}",
    "{kind: time_control, applies_to: food, left_at_least: 57 °C, within: 40 min}",
    "{kind: danger_zone, applies_to: food, cold_at_most: 5 °C, hot_at_least: 57 °C, within: 20 "
    "min}",
    "{kind: added_table, applies_to: food, validated_by: Study 7, rows: [{at_least: 57 °C, "
    "for: "
    "9 min}, {at_least: 63 °C, for: 3 min}, {at_least: 74 °C, for: 0 s}], come_up_from: 10 °C, "
    "come_up_to: 57 °C, come_up_within: 15 min}",
};

/* One story: inputs in order; entries are kept beside them. */
struct story {
    const char *limit;
    size_t count;
    struct engine_input inputs[INPUTS_MAX];
    struct entry entries[64];
    size_t entry_count;
};

static struct engine_input *
add(struct story *story, enum engine_input_kind kind, int64_t at_ms)
{
    assert_true(story->count < INPUTS_MAX);
    struct engine_input *input = &story->inputs[story->count++];
    memset(input, 0, sizeof *input);
    input->kind = kind;
    input->at_ms = at_ms;
    return input;
}

static struct entry *
add_entry(struct story *story, enum entry_kind kind, int64_t at_ms)
{
    struct engine_input *input = add(story, ENGINE_ENTRY, at_ms);
    struct entry *entry = &story->entries[story->entry_count++];
    entry_clear(entry, kind);
    strcpy(entry->who, "AB");
    entry->batch = 1;
    input->is.entry = entry;
    return entry;
}

static void
add_reading(struct story *story, int64_t at_ms, uint16_t probe, int32_t temp_mC,
            uint16_t quality)
{
    struct engine_input *input = add(story, ENGINE_READING, at_ms);
    input->is.reading = (struct reading){at_ms, quality ? TEMP_NONE : temp_mC, probe, quality};
}

/* A food temperature that wanders, mostly at a pace food can have, over all limits there are.
 */
struct wander {
    int32_t temp_mC, target_mC;
    int dark; /* readings still to be bad */
};

static void
wander_on(struct wander *w, uint64_t *seed)
{
    static const int32_t targets[] = {2000,  5000,  8000,  21000, 30000,
                                      57000, 63000, 74000, 80000};
    if (between(seed, 0, 60) == 0)
        w->target_mC = targets[between(seed, 0, (int64_t)COUNT_OF(targets) - 1)];
    int64_t most = between(seed, 0, 2300); /* a little under 15 °C/min at one reading in 10 s */
    int64_t left = w->target_mC - w->temp_mC;
    w->temp_mC += (int32_t)(left > most ? most : left < -most ? -most : left);
    if (w->dark > 0)
        w->dark--;
    else if (between(seed, 0, 40) == 0)
        w->dark = (int)between(seed, 1, between(seed, 0, 5) ? 3 : 60);
}

static void
make_story(struct story *story, uint64_t seed, size_t probes)
{
    story->count = story->entry_count = 0;
    story->limit = limits[between(&seed, 0, (int64_t)COUNT_OF(limits) - 1)];
    int64_t at = RIG_BASE_MS + 1000;
    struct entry *begin = add_entry(story, ENTRY_BEGIN, at);
    begin->batch = 0;
    strcpy(begin->product, "dish");
    begin->probe_count = (uint8_t)probes;
    struct wander w[3];
    for (size_t p = 0; p < probes; p++) {
        snprintf(begin->probes[p], sizeof begin->probes[p], "p%d", (int)p + 1);
        w[p] = (struct wander){(int32_t)between(&seed, 2000, 85000), 63000, 0};
    }
    struct wander fridge = {4000, 5000, 0};
    for (int i = 0; i < 600; i++) {
        at += between(&seed, 0, 20) ? 10000 : between(&seed, 1, 40000);
        for (size_t p = 0; p < probes; p++) {
            wander_on(&w[p], &seed);
            bool spike = between(&seed, 0, 150) == 0;
            add_reading(story, at, (uint16_t)(p + 1),
                        spike ? (int32_t)between(&seed, 0, 120000) : w[p].temp_mC,
                        w[p].dark ? BAD_TIMEOUT : READING_GOOD);
        }
        wander_on(&fridge, &seed);
        add_reading(story, at, 4, fridge.temp_mC / 8, fridge.dark ? BAD_CRC : READING_GOOD);
        if (between(&seed, 0, 400) == 0 && story->entry_count < 50) {
            at += 1;
            struct entry *hand = add_entry(story, ENTRY_HAND, at);
            strcpy(hand->thermometer, "pen");
            hand->has_temp = true;
            hand->temp_mC = w[0].temp_mC;
        }
        if (between(&seed, 0, 300) == 0) {
            int64_t since = at + 1;
            at += between(&seed, 2, 2000000);
            add(story, ENGINE_RESTART, at)->is.since_ms = since;
        }
    }
    at += 10000;
    strcpy(add_entry(story, between(&seed, 0, 1) ? ENTRY_MOVE : ENTRY_END, at)->step, "");
    story->entries[story->entry_count - 1].outcome = OUTCOME_STORED;
}

/* Plays it; extra_ticks feeds needless ticks between the inputs, reload saves and loads at a
 * random point now and then. */
static struct rig *
tell(const struct story *story, uint64_t seed, bool extra_ticks, bool reload)
{
    struct rig *rig = rig_new(story->limit, FRIDGE);
    for (size_t i = 0; i < story->count; i++) {
        struct engine_input input = story->inputs[i];
        if (input.kind == ENGINE_ENTRY || input.kind == ENGINE_RESTART)
            input.seq = ++rig->seq;
        rig_feed(rig, &input);
        int64_t next = i + 1 < story->count && story->inputs[i + 1].kind != ENGINE_RESTART
                           ? story->inputs[i + 1].at_ms
                           : input.at_ms;
        for (int k = 0; extra_ticks && k < 2 && next > input.at_ms + 1; k++) {
            struct engine_input tick = {.kind = ENGINE_TICK,
                                        .at_ms = between(&seed, input.at_ms, next - 1)};
            rig_feed(rig, &tick);
            input.at_ms = tick.at_ms;
        }
        if (reload && between(&seed, 0, 40) == 0)
            rig_reload(rig);
    }
    rig->log[rig->log_len] = '\0';
    return rig;
}

static uint64_t
start_seed(void)
{
    const char *given = getenv("TRIVET_SEED");
    uint64_t seed = given ? strtoull(given, NULL, 10) : UINT64_C(20260303);
    print_message("seed %llu\n", (unsigned long long)seed);
    return seed;
}

static int
rounds(int usual)
{
    const char *given = getenv("TRIVET_ROUNDS");
    return given ? atoi(given) : usual;
}

static struct story story, other;

static void
test_judging_does_not_depend_on_needless_ticks(void **state)
{
    (void)state;
    uint64_t seed = start_seed();
    for (int round = 0; round < rounds(60); round++) {
        uint64_t mine = next_random(&seed);
        make_story(&story, mine, 1 + mine % 3);
        struct rig *plain = tell(&story, mine, false, false),
                   *ticked = tell(&story, mine, true, false);
        if (strcmp(plain->log, ticked->log) != 0)
            fail_msg("story %llu: without\n%swith\n%s", (unsigned long long)mine, plain->log,
                     ticked->log);
        rig_free(plain);
        rig_free(ticked);
    }
}

static void
test_save_and_load_change_nothing(void **state)
{
    (void)state;
    uint64_t seed = start_seed();
    size_t said = 0;
    for (int round = 0; round < rounds(60); round++) {
        uint64_t mine = next_random(&seed);
        make_story(&story, mine, 1 + mine % 3);
        struct rig *plain = tell(&story, mine, false, false),
                   *loaded = tell(&story, mine, false, true);
        if (strcmp(plain->log, loaded->log) != 0)
            fail_msg("story %llu: without\n%swith\n%s", (unsigned long long)mine, plain->log,
                     loaded->log);
        said += plain->log_len;
        rig_free(plain);
        rig_free(loaded);
    }
    assert_true(said > 1000); /* the stories are about something */
}

/* Whether the log says that this limit was met in the batch's first step, and that it was not.
 */
static bool
says(const struct rig *rig, const char *what)
{
    return strstr(rig->log, what) != NULL;
}

/* When the first limit (or stage) was met; TIME_NEVER. */
static int64_t
first_met_ms(const struct rig *rig)
{
    const char *met = strstr(rig->log, "limit-met");
    if (!met)
        return TIME_NEVER;
    while (met > rig->log && met[-1] != '\n')
        met--;
    return rig_time(met);
}

static size_t
times(const struct rig *rig, const char *what)
{
    size_t count = 0;
    for (const char *at = rig->log; (at = strstr(at, what)) != NULL; at++)
        count++;
    return count;
}

/* A missing reading instead of a good one never helps. Only stories without a jump, a restart
 * or a hand reading: there, what is missing may be the very reading that a rule rests on. */
static void
make_quiet_story(struct story *ret, uint64_t seed)
{
    make_story(ret, seed, 1);
    size_t kept = 0;
    for (size_t i = 0; i < ret->count; i++) {
        struct engine_input *input = &ret->inputs[i];
        bool hand = input->kind == ENGINE_ENTRY && input->is.entry->kind == ENTRY_HAND;
        if (input->kind == ENGINE_RESTART || hand)
            continue;
        ret->inputs[kept++] = *input;
    }
    ret->count = kept;
}

static void
test_missing_reading_never_meets_a_cook_or_a_cooling_sooner(void **state)
{
    (void)state;
    uint64_t seed = start_seed();
    size_t met = 0, lost = 0;
    for (int round = 0; round < rounds(400); round++) {
        uint64_t mine = next_random(&seed), pick = mine;
        make_quiet_story(&story, mine);
        if (strstr(story.limit, "hold_"))
            continue;
        other = story;
        for (size_t i = 0, n = (size_t)between(&pick, 1, 200); i < n; i++) {
            size_t k = (size_t)between(&pick, 0, (int64_t)other.count - 1);
            struct reading *r = &other.inputs[k].is.reading;
            if (other.inputs[k].kind != ENGINE_READING || r->probe != 1)
                continue;
            r->quality = BAD_TIMEOUT;
            r->temp_mC = TEMP_NONE;
        }
        struct rig *whole = tell(&story, mine, false, false),
                   *holes = tell(&other, mine, false, false);
        size_t more = times(holes, "limit-met"), fewer = times(whole, "limit-met");
        bool jumped = says(whole, "suspect-begun") || says(holes, "suspect-begun");
        /* A clock that starts from the last good reading above starts no later with holes. */
        if (!jumped && !says(whole, "clock-started no-good") &&
            !says(holes, "clock-started no-good") &&
            (more > fewer || first_met_ms(holes) < first_met_ms(whole)))
            fail_msg("story %llu: whole\n%swith holes\n%s", (unsigned long long)mine,
                     whole->log, holes->log);
        met += fewer;
        lost += fewer - (more < fewer ? more : fewer);
        rig_free(whole);
        rig_free(holes);
    }
    print_message("met %zu, lost to holes %zu\n", met, lost);
    assert_true(met > 20 && lost > 0); /* it matters in some of them */
}

static void
test_missing_reading_never_takes_back_a_holding_deviation(void **state)
{
    (void)state;
    /* a last word outside, then darkness, is at least as bad as any readings: all inside
     * readings after it are missing */
    uint64_t seed = start_seed();
    size_t open = 0;
    for (int round = 0; round < rounds(150); round++) {
        uint64_t mine = next_random(&seed);
        make_quiet_story(&story, mine);
        if (!strstr(story.limit, "hold_"))
            continue;
        other = story;
        bool hot = strstr(story.limit, "hold_hot") != NULL;
        for (size_t i = 0; i < other.count; i++) {
            struct reading *r = &other.inputs[i].is.reading;
            bool inside = hot ? r->temp_mC >= 57000 : r->temp_mC <= 5000;
            if (other.inputs[i].kind == ENGINE_READING && r->probe == 1 &&
                r->quality == READING_GOOD && inside && between(&mine, 0, 2) == 0) {
                r->quality = BAD_TIMEOUT;
                r->temp_mC = TEMP_NONE;
            }
        }
        struct rig *whole = tell(&story, mine, false, false),
                   *holes = tell(&other, mine, false, false);
        bool jumped = says(whole, "suspect-begun") || says(holes, "suspect-begun");
        bool before = says(whole, "deviation-opened out-too-long #"),
             after = says(holes, "deviation-opened out-too-long #");
        if (!jumped && before && !after)
            fail_msg("story %llu: whole\n%swith holes\n%s", (unsigned long long)mine,
                     whole->log, holes->log);
        open += before;
        rig_free(whole);
        rig_free(holes);
    }
    assert_true(open > 3);
}

/* What a limit of time says of food, as far as it is no gap of a probe: a deviation, or a
 * question for a person. */
static size_t
held_against(const struct rig *rig)
{
    return times(rig, "period-too-long #") + times(rig, "out-again #") +
           times(rig, "time-up #") + times(rig, "bad-start #") + times(rig, "out-too-long #") +
           times(rig, "slow-rise #") + times(rig, "inconclusive");
}

/* Of limits on time: where the readings open a deviation, fewer of them open one too, or ask a
 * person. */
static void
test_missing_reading_never_makes_a_deviation_of_time_pass(void **state)
{
    (void)state;
    static const char *const kinds[] = {"one_period", "time_control", "danger_zone"};
    uint64_t seed = start_seed();
    size_t against[3] = {0};
    for (int round = 0; round < rounds(300); round++) {
        uint64_t mine = next_random(&seed), pick = mine;
        make_quiet_story(&story, mine);
        size_t kind = 0;
        while (kind < 3 && !strstr(story.limit, kinds[kind]))
            kind++;
        if (kind == 3)
            continue;
        other = story;
        for (size_t i = 0; i < other.count; i++) {
            struct reading *r = &other.inputs[i].is.reading;
            if (other.inputs[i].kind != ENGINE_READING || r->probe != 1 ||
                between(&pick, 0, 3) != 0)
                continue;
            r->quality = BAD_TIMEOUT;
            r->temp_mC = TEMP_NONE;
        }
        struct rig *whole = tell(&story, mine, false, false),
                   *holes = tell(&other, mine, false, false);
        bool jumped = says(whole, "suspect-begun") || says(holes, "suspect-begun");
        if (!jumped && held_against(whole) > 0 && held_against(holes) == 0)
            fail_msg("story %llu: whole\n%swith holes\n%s", (unsigned long long)mine,
                     whole->log, holes->log);
        against[kind] += held_against(whole) > 0;
        rig_free(whole);
        rig_free(holes);
    }
    for (size_t kind = 0; kind < 3; kind++)
        assert_true(against[kind] > 3);
}

/* No limit is ever met by an input whose reading was judged suspect. */
static void
test_suspect_reading_never_satisfies(void **state)
{
    (void)state;
    uint64_t seed = start_seed();
    size_t suspect = 0;
    for (int round = 0; round < rounds(60); round++) {
        uint64_t mine = next_random(&seed);
        make_story(&story, mine, 1 + mine % 3);
        struct rig *rig = rig_new(story.limit, FRIDGE);
        for (size_t i = 0; i < story.count; i++) {
            struct engine_input input = story.inputs[i];
            if (input.kind != ENGINE_READING)
                input.seq = ++rig->seq;
            rig_feed(rig, &input);
            if (input.kind != ENGINE_READING || !reading_is_suspect(rig->quality))
                continue;
            suspect++;
            for (size_t k = 0; k < rig->out.count; k++) {
                const struct decision *d = &rig->out.decisions[k];
                assert_int_not_equal(d->kind, DECISION_LIMIT_MET);
                assert_int_not_equal(d->kind, DECISION_DEVIATION_ENDED);
                assert_int_not_equal(d->kind, DECISION_GAP_ENDED);
            }
        }
        rig_free(rig);
    }
    assert_true(suspect > 100);
}

/* The time and temperature of one equivalence: 2 min at 70 °C with z = 7.5 K (Bigelow, 10^((T -
 * 70) / 7.5)), and five rows of it, each rounded up and a thousandth longer, since rates are
 * rounded down (E101). */
#define EQUIVALENT                                                                             \
    "{kind: lethality, applies_to: food, reference: 70 °C, z: 7.5 °C, for: 2 min, "          \
    "validated_by: test}"
#define ROWS                                                                                    \
    "{kind: cook_table, applies_to: food, rows: [{at_least: 62.5 °C, for: 1202 s}, "           \
    "{at_least: 66.25 °C, for: 380 s}, {at_least: 70 °C, for: 121 s}, {at_least: 73.75 °C, " \
    "for: 38 s}, {at_least: 77.5 °C, for: 13 s}]}"

static void
test_strict_table_never_passes_what_its_equivalent_fails(void **state)
{
    (void)state;
    uint64_t seed = start_seed();
    size_t strict_met = 0, equivalent_met = 0;
    for (int round = 0; round < rounds(200); round++) {
        uint64_t mine = next_random(&seed);
        make_quiet_story(&story, mine);
        story.limit = ROWS;
        struct rig *strict = tell(&story, mine, false, false);
        story.limit = EQUIVALENT;
        struct rig *equivalent = tell(&story, mine, false, false);
        if (first_met_ms(strict) < first_met_ms(equivalent))
            fail_msg("story %llu: strict\n%sequivalent\n%s", (unsigned long long)mine,
                     strict->log, equivalent->log);
        strict_met += says(strict, "limit-met");
        equivalent_met += says(equivalent, "limit-met");
        rig_free(strict);
        rig_free(equivalent);
    }
    print_message("strict %zu, equivalent %zu\n", strict_met, equivalent_met);
    assert_true(strict_met > 20 && equivalent_met > strict_met);
}

static void
test_colder_core_never_earns_more(void **state)
{
    (void)state;
    uint64_t seed = start_seed();
    size_t met = 0, lost = 0;
    for (int round = 0; round < rounds(200); round++) {
        uint64_t mine = next_random(&seed), pick = mine;
        make_quiet_story(&story, mine);
        story.limit = EQUIVALENT;
        other = story;
        /* By the same at each reading: what is a jump in one is a jump in the other. */
        int32_t colder_mC = (int32_t)between(&pick, 1, 12000);
        for (size_t i = 0; i < other.count; i++)
            if (other.inputs[i].kind == ENGINE_READING &&
                other.inputs[i].is.reading.probe == 1 &&
                other.inputs[i].is.reading.quality == READING_GOOD)
                other.inputs[i].is.reading.temp_mC -= colder_mC;
        struct rig *warm = tell(&story, mine, false, false),
                   *cold = tell(&other, mine, false, false);
        if (first_met_ms(cold) < first_met_ms(warm))
            fail_msg("story %llu: as it was\n%scolder by %d mK\n%s", (unsigned long long)mine,
                     warm->log, colder_mC, cold->log);
        met += says(warm, "limit-met");
        lost += says(warm, "limit-met") && !says(cold, "limit-met");
        rig_free(warm);
        rig_free(cold);
    }
    print_message("met %zu, not met when colder %zu\n", met, lost);
    assert_true(met > 20 && lost > 5);
}

/* Every deviation that opens ends at most once, numbers count up, and what ends was open. */
static void
test_deviations_open_once_and_end_once(void **state)
{
    (void)state;
    uint64_t seed = start_seed();
    for (int round = 0; round < rounds(60); round++) {
        uint64_t mine = next_random(&seed);
        make_story(&story, mine, 1 + mine % 3);
        struct rig *rig = rig_new(story.limit, FRIDGE);
        bool open[4000] = {false};
        uint32_t last = 0;
        for (size_t i = 0; i < story.count; i++) {
            struct engine_input input = story.inputs[i];
            if (input.kind != ENGINE_READING)
                input.seq = ++rig->seq;
            size_t from = rig->log_len;
            rig_feed(rig, &input);
            rig->log[rig->log_len] = '\0';
            char *rest = NULL, *text = strdup(rig->log + from);
            assert_non_null(text);
            for (char *line = strtok_r(text, "\n", &rest); line;
                 line = strtok_r(NULL, "\n", &rest)) {
                const char *number = strchr(line, '#');
                uint32_t n = number ? (uint32_t)strtoul(number + 1, NULL, 10) : 0;
                if (strstr(line, "-opened")) {
                    assert_int_equal(n, ++last);
                    open[n] = true;
                } else if (strstr(line, "deviation-ended") || strstr(line, "gap-ended")) {
                    assert_true(n > 0 && open[n]);
                    open[n] = false;
                }
            }
            free(text);
        }
        rig_free(rig);
    }
}

static void
test_load_refuses_what_is_not_a_state(void **state)
{
    (void)state;
    struct rig *rig = rig_new(COOL, FRIDGE);
    rig_play(rig, "0:00:00 begin dish p1\n0:00:10 p1 60.0\n");
    size_t size = engine_save_size(rig->engine);
    unsigned char *bytes = malloc(size);
    assert_non_null(bytes);
    assert_int_equal(engine_save(rig->engine, bytes, size - 1), 0);
    assert_int_equal(engine_save(rig->engine, bytes, size), size);
    struct engine *fresh = engine_new();
    assert_non_null(fresh);
    assert_false(engine_load(fresh, bytes, size - 1));
    assert_false(engine_load(fresh, bytes, 0));
    for (size_t i = 0; i < size; i++) { /* any changed byte */
        bytes[i] ^= 0x40;
        assert_false(engine_load(fresh, bytes, size));
        bytes[i] ^= 0x40;
    }
    assert_true(engine_load(fresh, bytes, size));
    engine_free(fresh);
    free(bytes);
    rig_free(rig);
}

int
main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_judging_does_not_depend_on_needless_ticks),
        cmocka_unit_test(test_save_and_load_change_nothing),
        cmocka_unit_test(test_missing_reading_never_meets_a_cook_or_a_cooling_sooner),
        cmocka_unit_test(test_missing_reading_never_takes_back_a_holding_deviation),
        cmocka_unit_test(test_missing_reading_never_makes_a_deviation_of_time_pass),
        cmocka_unit_test(test_suspect_reading_never_satisfies),
        cmocka_unit_test(test_strict_table_never_passes_what_its_equivalent_fails),
        cmocka_unit_test(test_colder_core_never_earns_more),
        cmocka_unit_test(test_deviations_open_once_and_end_once),
        cmocka_unit_test(test_load_refuses_what_is_not_a_state),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
