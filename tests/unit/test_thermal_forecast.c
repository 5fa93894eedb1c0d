/* The forecaster on food whose future is known: cooks and coolings computed here with the
 * forward solver. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "daemon/thermal/food.h"
#include "daemon/thermal/record.h"
#include "daemon/thermal/vapour.h"
#include "include/trivet/forecast.h"

enum { CELLS = 40, MINUTES_MAX = 900 };

/* A made-up dish: its core every ten seconds, with a little repeatable noise, rounded as probes
 * round. */
struct dish {
    double exponent;
    double radius_m;
    double film_W_m2K;
    double start_C;
    double medium_C;
};

struct run {
    double core_C[MINUTES_MAX * 6];
    int count;
};

static double
noise_K(int i)
{
    return 0.06 * sin(12.9898 * i) + 0.05 * sin(78.233 * i + 1);
}

static void
simulate(const struct dish *d, int minutes, struct run *ret_run)
{
    static double volume[CELLS], link[CELLS], node[CELLS], temp[CELLS];
    struct conduction_grid grid = {CELLS, volume, link, node};
    conduction_grid_init(&grid, d->exponent, 0.95);
    for (int i = 0; i < CELLS; i++)
        temp[i] = d->start_C;
    double biot = d->film_W_m2K * d->radius_m / 0.47;
    double dt_fo = 10 * 1.35e-7 / (d->radius_m * d->radius_m);
    ret_run->count = minutes * 6;
    for (int i = 0; i < ret_run->count; i++) {
        ret_run->core_C[i] = temp[0];
        conduction_advance(&grid, biot, d->medium_C, dt_fo, 0.6, temp);
    }
}

static double
time_of(const struct run *run, double target_C)
{
    bool rising = run->core_C[0] < target_C;
    for (int i = 1; i < run->count; i++)
        if ((run->core_C[i] >= target_C) == rising)
            return 10.0 * i;
    fail_msg("the made-up dish never gets there");
    return 0;
}

static struct forecast_setup
cook_setup(double target_C)
{
    struct forecast_setup s = {
        .kind = FORECAST_COOK, .limits = 1, .clock_from_C = NAN, .oven_C = NAN, .room_C = NAN};
    s.limit[0].temp_C = target_C;
    return s;
}

static struct forecast_setup
cooling_setup(void)
{
    struct forecast_setup s = {.kind = FORECAST_COOLING,
                               .limits = 2,
                               .clock_from_C = 57,
                               .oven_C = NAN,
                               .room_C = NAN};
    s.limit[0] = (struct forecast_limit){21, 7200};
    s.limit[1] = (struct forecast_limit){5, 21600};
    return s;
}

static void
begin(struct forecaster *f, const struct forecast_setup *setup)
{
    const char *reason = "";
    if (!forecaster_init(f, setup, &reason))
        fail_msg("%s", reason);
}

/* Feeds readings from..to (seconds, multiples of ten); the times told are shifted by origin_s.
 */
static void
feed(struct forecaster *f, const struct run *run, double air_C, double from_s, double to_s,
     double origin_s)
{
    for (int i = (int)(from_s / 10); i <= (int)(to_s / 10) && i < run->count; i++) {
        double rounded = round(10 * (run->core_C[i] + noise_K(i))) / 10;
        struct forecast_reading r = {origin_s + 10.0 * i, rounded, air_C, FORECAST_NO_EVENT};
        assert_true(forecaster_feed(f, &r));
    }
}

static struct forecaster forecaster, other;
static struct run run;
static const struct dish ROAST = {2.4, 0.05, 25, 8, 150};

static void
test_forecast_of_known_roast_comes_true(void **state)
{
    (void)state;
    simulate(&ROAST, 200, &run);
    double done_s = time_of(&run, 60);
    struct forecast_setup setup = cook_setup(60);
    begin(&forecaster, &setup);
    double fed_s = -10;
    const double part[] = {0.5, 0.7, 0.85};
    const double allowed[] = {
        0.20, 0.15,
        0.12}; /* of the time left; the bars of the corpus at its 90th percentile are wider */
    for (int i = 0; i < 3; i++) {
        double now_s = floor(part[i] * done_s / 10) * 10;
        feed(&forecaster, &run, 150, fed_s + 10, now_s, 0);
        fed_s = now_s;
        struct forecast f;
        forecaster_ask(&forecaster, NULL, &f);
        assert_int_equal(f.refusal, FORECAST_GIVEN);
        double left_s = done_s - now_s;
        assert_true(fabs(f.eta_s[0].p50 - left_s) < allowed[i] * left_s);
        assert_true(f.eta_s[0].p05 <= left_s && left_s <= f.eta_s[0].p95);
        assert_false(f.reached[0]);
    }
    feed(&forecaster, &run, 150, fed_s + 10, done_s + 60, 0);
    struct forecast f;
    forecaster_ask(&forecaster, NULL, &f);
    assert_true(f.reached[0] && f.eta_s[0].p50 <= 0);
    assert_true(f.peak_C.p50 > 60 && f.peak_C.p50 < 85 && f.peak_C.p05 <= f.peak_C.p95);
}

static void
test_forecast_after_removal_knows_the_carry_over(void **state)
{
    (void)state;
    simulate(&ROAST, 200, &run);
    double out_s = time_of(&run, 52);
    struct forecast_setup setup = cook_setup(52);
    begin(&forecaster, &setup);
    feed(&forecaster, &run, 150, 0, out_s, 0);
    struct forecast before, after;
    forecaster_ask(&forecaster, NULL, &before);
    struct forecast_reading out = {out_s + 5, NAN, NAN, FORECAST_REMOVED};
    assert_true(forecaster_feed(&forecaster, &out));
    forecaster_ask(&forecaster, NULL, &after);
    assert_true(after.peak_C.p50 > 53);
    assert_true(fabs(after.peak_C.p50 - before.peak_C.p50) < 1);
}

static void
test_forecast_is_the_same_twice_and_at_any_origin(void **state)
{
    (void)state;
    simulate(&ROAST, 60, &run);
    struct forecast_setup setup = cook_setup(60);
    begin(&forecaster, &setup);
    begin(&other, &setup);
    feed(&forecaster, &run, 150, 0, 2400, 0);
    feed(&other, &run, 150, 0, 2400, 1048576);
    struct forecast a, b;
    forecaster_ask(&forecaster, NULL, &a);
    forecaster_ask(&other, NULL, &b);
    assert_true(b.time_s - a.time_s >= 1048576 && b.time_s - a.time_s <= 1048576);
    assert_memory_equal(&a.eta_s, &b.eta_s, sizeof a.eta_s);
    assert_memory_equal(&a.peak_C, &b.peak_C, sizeof a.peak_C);
    forecaster_ask(&forecaster, NULL, &b);
    assert_memory_equal(&a.eta_s, &b.eta_s, sizeof a.eta_s);
}

static void
test_forecast_with_missing_readings_barely_changes(void **state)
{
    (void)state;
    simulate(&ROAST, 80, &run);
    struct forecast_setup setup = cook_setup(60);
    begin(&forecaster, &setup);
    begin(&other, &setup);
    feed(&forecaster, &run, 150, 0, 3600, 0);
    feed(&other, &run, 150, 0, 1800, 0);
    for (double at = 1810; at < 2400; at += 60) { /* ten minutes of nothing */
        struct forecast_reading nothing = {at, NAN, NAN, FORECAST_NO_EVENT};
        assert_true(forecaster_feed(&other, &nothing));
    }
    feed(&other, &run, NAN, 2400, 3600, 0); /* and the air probe is gone */
    struct forecast a, b;
    forecaster_ask(&forecaster, NULL, &a);
    forecaster_ask(&other, NULL, &b);
    assert_int_equal(b.refusal, FORECAST_GIVEN);
    assert_true(b.eta_s[0].p50 > 0.6 * a.eta_s[0].p50 && b.eta_s[0].p50 < 1.6 * a.eta_s[0].p50);
}

static void
test_forecast_of_changes_points_the_right_way(void **state)
{
    (void)state;
    simulate(&ROAST, 60, &run);
    struct forecast_setup setup = cook_setup(60);
    begin(&forecaster, &setup);
    feed(&forecaster, &run, 150, 0, 3000, 0);
    struct forecast now, hot, cool;
    struct forecast_change change = FORECAST_AS_IT_IS;
    forecaster_ask(&forecaster, NULL, &now);
    forecaster_ask(&forecaster, &change, &hot);
    assert_memory_equal(&now.eta_s, &hot.eta_s, sizeof now.eta_s);
    change.medium_C = 190;
    forecaster_ask(&forecaster, &change, &hot);
    change.medium_C = 110;
    forecaster_ask(&forecaster, &change, &cool);
    assert_true(hot.eta_s[0].p50 < now.eta_s[0].p50 && now.eta_s[0].p50 < cool.eta_s[0].p50);
    /* In 30 C from now on, this roast coasts to 63.8 C (the exact film kept, the solver of 60
     * shells): past 60 C, but never to 75 C. */
    change.medium_C = 30;
    forecaster_ask(&forecaster, &change, &cool);
    assert_true(isfinite(cool.eta_s[0].p50));
    struct forecast_setup far = cook_setup(75);
    begin(&other, &far);
    feed(&other, &run, 150, 0, 3000, 0);
    forecaster_ask(&other, &change, &cool);
    assert_true(isinf(cool.eta_s[0].p95));
}

static void
test_forecast_of_coolings_flags_the_deep_pan_only(void **state)
{
    (void)state;
    const struct dish shallow = {1, 0.014, 30, 75, 0}, deep = {1, 0.05, 12, 75, 3};
    struct forecast_setup setup = cooling_setup();
    struct forecast f;
    simulate(&shallow, 300, &run);
    double begins_s = time_of(&run, 57), done_s = time_of(&run, 21);
    assert_true(done_s - begins_s < 7200);
    double half_s = floor((begins_s + 0.5 * (done_s - begins_s)) / 10) * 10;
    begin(&forecaster, &setup);
    feed(&forecaster, &run, 0, 0, half_s, 0);
    forecaster_ask(&forecaster, NULL, &f);
    assert_true(f.miss_chance[0] < 0.2);
    assert_true(fabs(f.clock_began_s - begins_s) < 120);
    assert_true(fabs(f.eta_s[0].p50 - (done_s - half_s)) < 0.2 * (done_s - half_s));
    simulate(&deep, 800, &run);
    begins_s = time_of(&run, 57);
    assert_true(time_of(&run, 21) - begins_s > 2 * 7200);
    begin(&forecaster, &setup);
    feed(&forecaster, &run, 3, 0, begins_s + 1800, 0);
    forecaster_ask(&forecaster, NULL, &f);
    assert_true(f.miss_chance[0] > 0.8 && f.miss_chance[1] > 0.5);
    struct forecast_change shallower = FORECAST_AS_IT_IS;
    struct forecast remedied;
    shallower.size_factor = 0.5; /* depth enters squared */
    forecaster_ask(&forecaster, &shallower, &remedied);
    assert_true(remedied.eta_s[0].p50 < 0.6 * f.eta_s[0].p50);
}

static void
test_forecast_once_settled_is_no_longer_a_chance(void **state)
{
    (void)state;
    const struct dish shallow = {1, 0.014, 30, 75, 0};
    struct forecast_setup setup = cooling_setup();
    simulate(&shallow, 300, &run);
    begin(&forecaster, &setup);
    feed(&forecaster, &run, 0, 0, time_of(&run, 19), 0);
    struct forecast f;
    forecaster_ask(&forecaster, NULL, &f);
    assert_true(f.reached[0] && f.miss_chance[0] <= 0 && !f.reached[1]);
}

static void
test_forecast_refuses_with_the_reason(void **state)
{
    (void)state;
    char text[FORECAST_REASON_BYTES];
    struct forecast f;
    struct forecast_setup setup = cook_setup(60);
    begin(&forecaster, &setup);
    forecaster_ask(&forecaster, NULL, &f);
    assert_int_equal(f.refusal, FORECAST_NO_CORE);
    simulate(&ROAST, 30, &run);
    feed(&forecaster, &run, 150, 0, 90, 0);
    forecaster_ask(&forecaster, NULL, &f);
    assert_int_equal(f.refusal, FORECAST_TOO_EARLY);
    assert_true(isnan(f.eta_s[0].p50));
    forecast_reason(&f, text);
    assert_string_equal(text, "too early: another 6 min of readings");
    feed(&forecaster, &run, 150, 100, 1200, 0);
    forecaster_ask(&forecaster, NULL, &f);
    assert_int_equal(f.refusal, FORECAST_GIVEN);
    struct forecast_reading late = {1200 + 1300, NAN, 150, FORECAST_NO_EVENT};
    assert_true(forecaster_feed(&forecaster, &late));
    forecaster_ask(&forecaster, NULL, &f);
    assert_int_equal(f.refusal, FORECAST_CORE_LOST);
    for (int i = 0; i < 3; i++) {
        struct forecast_reading air = {2600 + 10 * i, 148, 150, FORECAST_NO_EVENT};
        assert_true(forecaster_feed(&forecaster, &air));
    }
    forecaster_ask(&forecaster, NULL, &f);
    assert_int_equal(f.refusal, FORECAST_READS_THE_AIR);
}

static void
test_forecaster_takes_no_nonsense(void **state)
{
    (void)state;
    const char *reason = NULL;
    struct forecast_setup setup = cook_setup(500);
    assert_false(forecaster_init(&forecaster, &setup, &reason));
    assert_non_null(reason);
    setup = cooling_setup();
    setup.limit[1].temp_C = 30;
    assert_false(forecaster_init(&forecaster, &setup, &reason));
    setup = cook_setup(60);
    begin(&forecaster, &setup);
    struct forecast_reading r = {100, 10, 150, FORECAST_NO_EVENT};
    assert_true(forecaster_feed(&forecaster, &r));
    assert_false(forecaster_feed(&forecaster, &r)); /* the same moment again */
    r.time_s = 90;
    assert_false(forecaster_feed(&forecaster, &r));
    r = (struct forecast_reading){110, INFINITY, 150, FORECAST_NO_EVENT};
    assert_false(forecaster_feed(&forecaster, &r));
    r = (struct forecast_reading){NAN, 10, 150, FORECAST_NO_EVENT};
    assert_false(forecaster_feed(&forecaster, &r));
    r = (struct forecast_reading){100, NAN, NAN,
                                  FORECAST_DOOR}; /* a word alone may share a moment */
    assert_true(forecaster_feed(&forecaster, &r));
}

static void
test_forecaster_fits_its_room(void **state)
{
    (void)state;
    assert_true(sizeof(struct forecaster) <= 256 * 1024);
}

static void
test_learned_prior_narrows_the_next_start(void **state)
{
    (void)state;
    simulate(&ROAST, 200, &run);
    double done_s = time_of(&run, 60);
    struct forecast_setup setup = cook_setup(60);
    begin(&forecaster, &setup);
    assert_false(forecaster_learned(&forecaster, &setup.prior));
    feed(&forecaster, &run, 150, 0, done_s, 0);
    assert_true(forecaster_learned(&forecaster, &setup.prior));
    begin(&other, &setup);
    struct forecast_setup blank = cook_setup(60);
    begin(&forecaster, &blank);
    feed(&forecaster, &run, 150, 0, 900, 0);
    feed(&other, &run, 150, 0, 900, 0);
    struct forecast without, with;
    forecaster_ask(&forecaster, NULL, &without);
    forecaster_ask(&other, NULL, &with);
    assert_true(with.eta_s[0].p95 - with.eta_s[0].p05 <
                0.7 * (without.eta_s[0].p95 - without.eta_s[0].p05));
    double truth_s = done_s - 900;
    assert_true(fabs(with.eta_s[0].p50 - truth_s) < 0.5 * fabs(without.eta_s[0].p50 - truth_s));
}

/* Two days of readings every five seconds stay within the room, and no time is lost in merging.
 */
static void
test_record_of_two_days_is_bounded_and_complete(void **state)
{
    (void)state;
    static struct record record;
    record_begin(&record, FORECAST_COOLING, 57);
    int first;
    for (int i = 0; i <= 34560; i++) {
        double core_C = 4 + 76 * exp(-i / 5000.0);
        struct forecast_reading r = {5.0 * i, core_C, 3, FORECAST_NO_EVENT};
        (void)record_take(&record, &r, &first);
        assert_true(record.count <= RECORD_MAX && first <= record.count);
    }
    double span_s = 0;
    for (int i = 0; i < record.count; i++)
        span_s += (double)record.entry[i].span_s;
    assert_true(fabs(span_s - (record.end_s - record.origin_s)) < 1);
}

static void
test_record_notices_stirring_and_a_late_probe(void **state)
{
    (void)state;
    static struct record record;
    int first, restarts = 0;
    record_begin(&record, FORECAST_COOLING, 57);
    for (int i = 0; i < 400; i++) {
        double core_C = i < 30 ? 20 : i < 200 ? 80 - 0.02 * i : 68 - 0.02 * i;
        struct forecast_reading r = {10.0 * i, core_C, 3, FORECAST_NO_EVENT};
        restarts += record_take(&record, &r, &first) == RECORD_RESTART;
    }
    assert_int_equal(record.stirs, 1);
    assert_true(restarts >= 1);
    assert_true(
        isnan((double)record.entry[2].core_C)); /* what the cold probe said is forgotten */
}

/* A wet surface in a strong draught settles at the wet-bulb temperature.  Psychrometer
 * coefficient 6.62e-4 per kelvin (WMO guide to instruments, ventilated psychrometer), at 101325
 * Pa. */
static void
test_surface_in_a_draught_settles_at_the_wet_bulb(void **state)
{
    (void)state;
    double wet_bulb_C = 40;
    for (int i = 0; i < 200; i++) {
        double slope;
        double excess = vapour_saturation_Pa(wet_bulb_C, &slope) - 2339 -
                        6.62e-4 * 101325 * (40 - wet_bulb_C);
        wet_bulb_C -= excess / (slope + 67);
    }
    struct food_traits traits = {.resistance_m2K_W = 1e6}; /* nothing from inside */
    struct food_place place = {.film_W_m2K = 500, .wet = 1, .vapour_Pa = 2339};
    double surface_C = 30;
    for (int i = 0; i < 10; i++)
        (void)food_surface_balance(&traits, &place, 1, 1, 1, 40, 40, 30, &surface_C);
    assert_true(fabs(surface_C - wet_bulb_C) < 0.3);
}

/* Food so thin that only the air holds it back cools by film times difference, however well it
 * conducts: 500 W/m2 at 10 W/m2K and 50 K. (Per unit of its own time a warm food takes the more
 * steps, each the smaller.) */
static void
test_warmth_does_not_quicken_what_the_air_holds_back(void **state)
{
    (void)state;
    const double resistance_m2K_W = 1e-5;
    struct food_traits traits = {.resistance_m2K_W = resistance_m2K_W};
    struct food_place place = {.film_W_m2K = 10};
    static const double WARMTH[] = {1, 1.05, 1.2};
    for (size_t i = 0; i < sizeof WARMTH / sizeof WARMTH[0]; i++) {
        double surface_C = 60;
        struct food_surface s = {.gain = 0};
        for (int k = 0; k < 5; k++)
            s = food_surface_balance(&traits, &place, 10, WARMTH[i], 1, 10, 10, 60, &surface_C);
        double heat_W_m2 = WARMTH[i] * s.flux.flux_K / resistance_m2K_W;
        if (fabs(heat_W_m2 + 500) > 1)
            fail_msg("warmth %g: %.1f W/m2 leave, not 500", WARMTH[i], -heat_W_m2);
    }
}

/* Saturation pressures of the steam tables (IAPWS): 2339 Pa at 20 C, 19.95 kPa at 60 C, 101.42
 * kPa at 100 C. */
static void
test_vapour_pressure_follows_the_steam_tables(void **state)
{
    (void)state;
    assert_true(fabs(vapour_saturation_Pa(20, NULL) / 2339 - 1) < 0.003);
    assert_true(fabs(vapour_saturation_Pa(60, NULL) / 19950 - 1) < 0.01);
    assert_true(fabs(vapour_saturation_Pa(100, NULL) / 101420 - 1) < 0.03);
    double slope;
    double here = vapour_saturation_Pa(50, &slope);
    assert_true(fabs((vapour_saturation_Pa(50.001, NULL) - here) / 0.001 - slope) < 1);
}

int
main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_forecast_of_known_roast_comes_true),
        cmocka_unit_test(test_forecast_after_removal_knows_the_carry_over),
        cmocka_unit_test(test_forecast_is_the_same_twice_and_at_any_origin),
        cmocka_unit_test(test_forecast_with_missing_readings_barely_changes),
        cmocka_unit_test(test_forecast_of_changes_points_the_right_way),
        cmocka_unit_test(test_forecast_of_coolings_flags_the_deep_pan_only),
        cmocka_unit_test(test_forecast_once_settled_is_no_longer_a_chance),
        cmocka_unit_test(test_forecast_refuses_with_the_reason),
        cmocka_unit_test(test_forecaster_takes_no_nonsense),
        cmocka_unit_test(test_forecaster_fits_its_room),
        cmocka_unit_test(test_learned_prior_narrows_the_next_start),
        cmocka_unit_test(test_record_of_two_days_is_bounded_and_complete),
        cmocka_unit_test(test_record_notices_stirring_and_a_late_probe),
        cmocka_unit_test(test_surface_in_a_draught_settles_at_the_wet_bulb),
        cmocka_unit_test(test_warmth_does_not_quicken_what_the_air_holds_back),
        cmocka_unit_test(test_vapour_pressure_follows_the_steam_tables),
    };
    return cmocka_run_group_tests_name("thermal forecast", tests, NULL, NULL);
}
