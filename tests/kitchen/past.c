/* trivet-past: two weeks of a simulated kitchen, fed through the daemon's own recorder into an
 * empty store on a virtual clock. Demo data, not measurements.
 *
 * The same end and seed give the same readings, entries and decisions. One thread. It must end
 * before the present: the daemon goes on in the same store. */
#define _GNU_SOURCE /* getopt_long */

#include <assert.h>
#include <errno.h>
#include <getopt.h>
#include <inttypes.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "tests/kitchen/diary.h"
#include "tests/kitchen/physics.h"
#include "trivet/log.h"
#include "trivet/recorder.h"
#include "trivet/zone.h"

#define SECOND_MS INT64_C(1000)
#define MINUTE_MS INT64_C(60000)
#define HOUR_MS   INT64_C(3600000)
#define HOURS     336 /* two weeks */

/* In the last minutes the kitchen is made ready for what the demo begins with. */
#define OVEN_READY_MS (30 * MINUTE_MS)
#define FOOD_READY_MS (3 * MINUTE_MS)
#define LATEST_MIN    14 /* how much later than the diary says things may happen */
/* As kitchen_begin has them. */
#define OVEN_C           116.0
#define ROAST_RADIUS_m   0.055
#define FILLING_RADIUS_m 0.035
#define QUIET_END_MS     (20 * MINUTE_MS)

/* A roast stays in the oven until both its probes have shown this for so long, which earns its
 * limit of 63 °C for 3 minutes; the largest takes some twenty minutes longer than the diary
 * says. */
#define ROAST_ENOUGH_C  63.4
#define ROAST_ENOUGH_MS (4 * MINUTE_MS)
#define ROAST_LATEST_MS (30 * MINUTE_MS)

/* The messages of a minute and more go to the recorder in one call. */
#define MESSAGES_MAX 256
#define DIARY_MAX    24

/* A seared steak's outside, as a person measures it. */
#define STEAK_mC 71400

/* Where the roast's probes lie when they are in no roast. */
#define BENCH_C 22.0

struct past {
    int64_t begin_ms, end_ms, now_ms; /* wall */
    int64_t
        running_ms; /* how long a roast and a cooling have run at the end; 0 = neither does */
    const struct plan *plan; /* the recorder's */
    struct store *store;
    struct board *board;
    struct recorder *recorder;
    struct kitchen kitchen;
    const struct zone *zone;
    bool probe_out, roast_out;
    int64_t roast_hot_ms; /* since when the roast has been hot enough; TIME_NONE: it is not */
    uint64_t chance;
    int64_t shift_ms[DIARY_MAX]; /* how much later than the diary says, today */
    int64_t waited_ms;           /* and how long the roast was waited for */
    uint32_t batches[DISH_COUNT];
    struct entry_answer answer;
    struct message messages[MESSAGES_MAX];
    size_t waiting;
    uint64_t readings, entries;
    uint32_t unverified; /* the deviation that waits for another person at the end; 0 = none */
};

static const char help[] =
    "Usage: trivet-past [--hours N] [--end UNIX_MS] [--seed N] [--running MIN] PLAN\n"
    "\n"
    "Fills the empty store of the demo plan with a simulated past; demo data, not "
    "measurements.\n"
    "\n"
    "  --hours N      how long a past (1 to 8760, default 336: two weeks)\n"
    "  --end UNIX_MS  when it ends, in milliseconds since 1970 (default: now)\n"
    "  --running MIN  leave a roast and a cooling running, begun so many minutes before the "
    "end "
    "(10 to 240);\n"
    "                 trivet-kitchen --running MIN goes on with them\n"
    "  --seed N       when doors open (default 1); the same seed gives the same past\n";

static int64_t
mono(void *arg)
{
    const struct past *past = arg;
    return past->now_ms - past->begin_ms;
}

static int64_t
wall(void *arg)
{
    return ((const struct past *)arg)->now_ms;
}

static void
flush(struct past *past)
{
    recorder_take(past->recorder, past->messages, past->waiting);
    past->waiting = 0;
}

/* ---- probes ---- */

/* What each register of the demo's devices shows; see units.c for their resolution. */
static int32_t
shown_mC(const struct past *past, const char *probe)
{
    const struct kitchen *kitchen = &past->kitchen;
    const bool ready = past->running_ms == 0 && past->end_ms - past->now_ms <= FOOD_READY_MS;
    double temp_C = 0.0, step_mC = 100.0;
    if (strcmp(probe, "roast-core-a") == 0)
        temp_C = ready ? 5.0 : past->roast_out ? BENCH_C : kitchen_roast_core_a_C(kitchen);
    else if (strcmp(probe, "roast-core-b") == 0)
        temp_C = ready ? 5.0 : past->roast_out ? BENCH_C : kitchen_roast_core_b_C(kitchen);
    else if (strcmp(probe, "filling-core") == 0)
        temp_C = ready ? 82.0 : kitchen_filling_core_C(kitchen);
    else if (strcmp(probe, "oven-air") == 0)
        temp_C = kitchen->oven.temp_C;
    else if (strcmp(probe, "chiller-air") == 0)
        temp_C = kitchen->chiller.temp_C;
    else if (strcmp(probe, "walk-in-air") == 0)
        temp_C = kitchen->walk_in.temp_C;
    else if (strcmp(probe, "hot-cupboard-air") == 0)
        temp_C = kitchen->hot_cupboard.temp_C, step_mC = 1.0;
    else if (strcmp(probe, "counter-fridge-air") == 0)
        temp_C = kitchen->counter_fridge.temp_C, step_mC = 10.0;
    else if (strcmp(probe, "freezer-air") == 0)
        temp_C = kitchen->freezer.temp_C, step_mC = 10.0;
    else
        return TEMP_NONE;
    return (int32_t)(lround(temp_C * 1000.0 / step_mC) * (long)step_mC);
}

static void
read_probe(struct past *past, const struct plan_probe *probe)
{
    struct message *message = &past->messages[past->waiting++];
    int32_t temp_mC = shown_mC(past, probe->id);
    if (past->probe_out && strcmp(probe->id, "counter-fridge-air") == 0)
        temp_mC = TEMP_NONE;
    *message = (struct message){
        .kind = MESSAGE_READING,
        .born_ms = mono(past),
        .is.reading = {.probe = probe->number,
                       .temp_mC = temp_mC,
                       .quality = temp_mC == TEMP_NONE ? BAD_TIMEOUT : READING_GOOD},
    };
    past->readings++;
}

static void
read_due_probes(struct past *past)
{
    const int64_t passed_ms = mono(past);
    for (size_t i = 0; i < past->plan->probe_count; i++) {
        const struct plan_probe *probe = &past->plan->probes[i];
        /* Each bus takes its turn at a second of its own. */
        if ((passed_ms - probe->bus * SECOND_MS) % probe->every_ms != 0)
            continue;
        if (past->waiting == MESSAGES_MAX)
            flush(past);
        read_probe(past, probe);
    }
}

/* ---- people ---- */

static void
keep_answer(void *arg, const struct entry_answer *answer)
{
    ((struct past *)arg)->answer = *answer;
}

/* The newest deviation that waits for such an entry, 0 = none. */
static uint32_t
waiting_deviation(struct past *past, enum entry_kind kind)
{
    uint32_t found = 0;
    recorder_take(past->recorder, NULL, 0);
    struct snapshot *snapshot = board_take(past->board);
    for (size_t i = 0; snapshot != NULL && i < snapshot->deviation_count; i++) {
        const struct engine_deviation_view *view = &snapshot->deviations[i].view;
        const bool waits = kind == ENTRY_ACTION
                               ? view->action_seq == 0
                               : view->action_seq != 0 && view->verified_seq == 0;
        if (waits && view->number > found)
            found = view->number;
    }
    snapshot_release(snapshot);
    return found;
}

static int32_t
hand_mC(const struct past *past, enum diary_dish dish)
{
    if (dish == DISH_STEAK)
        return STEAK_mC;
    const char *probe = dish == DISH_ROAST     ? "roast-core-a"
                        : dish == DISH_FILLING ? "filling-core"
                                               : "walk-in-air";
    return shown_mC(past, probe);
}

/* The date of the day before, as the kitchen's clocks show it; false when the past begins
 * later.
 */
static bool
day_before(const struct past *past, char *ret, size_t size)
{
    struct zone_time day;
    if (zone_day_start(past->zone, past->now_ms, 0) +
            past->plan->duties.day_ends_min * MINUTE_MS <=
        past->begin_ms)
        return false;
    zone_split(past->zone, zone_day_start(past->zone, past->now_ms, -1), &day);
    (void)snprintf(ret, size, "%04u-%02u-%02u", (unsigned)day.year % 10000U, day.month % 100U,
                   day.day % 100U);
    return true;
}

static bool
enter(struct past *past, const struct happening *happening)
{
    char why[300];
    struct entry_request *request = calloc(1, sizeof *request);
    if (request == NULL)
        return false;
    struct entry *entry = &request->entry;
    if (!entry_read(happening->kind, happening->words, strlen(happening->words), entry, why,
                    sizeof why)) {
        (void)fprintf(stderr, "trivet-past: %s: %s\n", happening->words, why);
        free(request);
        return false;
    }
    if (entry->batch != 0)
        entry->batch = past->batches[happening->dish];
    if (happening->kind == ENTRY_END && entry->batch == 0) { /* none before the first day */
        free(request);
        return true;
    }
    if (entry->deviation != 0)
        entry->deviation = waiting_deviation(past, happening->kind);
    if (entry->has_temp)
        entry->temp_mC = hand_mC(past, happening->dish);
    if (entry->day[0] && !day_before(past, entry->day, sizeof entry->day)) {
        free(request);
        return true;
    }
    request->answer = keep_answer;
    request->arg = past;
    const struct message message = {
        .kind = MESSAGE_ENTRY, .born_ms = mono(past), .is.entry = request};
    recorder_take(past->recorder, &message, 1);
    if (past->answer.code != 200) {
        (void)fprintf(stderr, "trivet-past: %s: %s\n", happening->words, past->answer.say);
        return false;
    }
    if (happening->kind == ENTRY_BEGIN)
        past->batches[happening->dish] = past->answer.batch;
    past->entries++;
    return true;
}

/* Knuth's linear congruential generator, as in physics.c. */
static int64_t
drawn(struct past *past, int64_t below)
{
    past->chance = past->chance * 6364136223846793005ULL + 1442695040888963407ULL;
    return (int64_t)((past->chance >> 33) % (uint64_t)below);
}

static double
of_any_size(struct past *past)
{
    return 0.95 + (double)drawn(past, 11) / 100.0;
}

/* No day is like another. */
static void
draw_day(struct past *past)
{
    assert(diary_count <= DIARY_MAX);
    for (size_t i = 0; i < diary_count; i++)
        past->shift_ms[i] = drawn(past, LATEST_MIN + 1) * MINUTE_MS;
    past->waited_ms = 0;
}

/* A day's happenings that hang on the roast: they wait while it does. */
static bool
is_of_roast(size_t episode)
{
    return diary[episode].list[0].act == ACT_OVEN_ON;
}

static void
open_walk_in(struct past *past, bool open)
{
    struct air *air = &past->kitchen.walk_in;
    air->door_open = open;
    /* Open for as long as the diary says; shut, its own life begins again. */
    air->door_ms = past->kitchen.at_ms + (open ? 24 * HOUR_MS : air->closed_min_ms);
}

static void
set_oven(struct kitchen *kitchen, double temp_C)
{
    kitchen->oven.low_C = temp_C - 4.0;
    kitchen->oven.high_C = temp_C + 4.0;
}

static void
act(struct past *past, enum diary_act what)
{
    struct kitchen *kitchen = &past->kitchen;
    switch (what) {
    case ACT_NONE:
        break;
    case ACT_OVEN_ON:
        set_oven(kitchen, OVEN_C);
        break;
    case ACT_OVEN_OFF:
        set_oven(kitchen, -100.0);
        break;
    case ACT_ROAST_IN:
        food_set(&kitchen->roast, 5.0);
        kitchen->roast.radius_m = ROAST_RADIUS_m * of_any_size(past);
        kitchen->roast_done = past->roast_out = false;
        kitchen->roast_at = ROAST_IN_OVEN;
        break;
    case ACT_ROAST_REST:
        kitchen->roast_at = ROAST_ON_BENCH;
        break;
    case ACT_ROAST_SERVE:
        kitchen->roast_at = ROAST_IN_CUPBOARD;
        break;
    case ACT_ROAST_OUT:
        past->roast_out = true;
        break;
    case ACT_FILLING_IN:
        food_set(&kitchen->filling, 82.0);
        kitchen->filling.radius_m = FILLING_RADIUS_m * of_any_size(past);
        break;
    case ACT_WALK_IN_OPEN:
        open_walk_in(past, true);
        break;
    case ACT_WALK_IN_SHUT:
        open_walk_in(past, false);
        break;
    case ACT_CHILLER_WARM:
        kitchen->chiller.low_C = 7.0;
        kitchen->chiller.high_C = 9.0;
        break;
    case ACT_CHILLER_RIGHT:
        kitchen->chiller.low_C = 0.5;
        kitchen->chiller.high_C = 2.5;
        break;
    case ACT_PROBE_OUT:
        past->probe_out = true;
        break;
    case ACT_PROBE_IN:
        past->probe_out = false;
        break;
    }
}

static int64_t
moment_ms(const struct past *past, size_t episode, size_t at, int days_before)
{
    return zone_day_start(past->zone, past->end_ms, -days_before) +
           diary[episode].list[at].minute * MINUTE_MS + past->shift_ms[episode] +
           (is_of_roast(episode) ? past->waited_ms : 0);
}

/* Before what is left running, the ovens and probes are free again. */
static int64_t
quiet_end_ms(const struct past *past)
{
    return past->running_ms + QUIET_END_MS;
}

static bool
fits(const struct past *past, size_t episode, int days_before)
{
    const int64_t begin_ms = moment_ms(past, episode, 0, days_before);
    const int64_t last_ms = moment_ms(past, episode, diary[episode].count - 1, days_before);
    const int64_t may_wait_ms =
        is_of_roast(episode) ? ROAST_LATEST_MS - past->waited_ms : 0; /* the same all day */
    return begin_ms - past->waited_ms > past->begin_ms &&
           last_ms + may_wait_ms <= past->end_ms - quiet_end_ms(past);
}

static bool
roast_is_enough(const struct past *past)
{
    return past->roast_hot_ms != TIME_NONE &&
           past->now_ms - past->roast_hot_ms >= ROAST_ENOUGH_MS;
}

static bool
live_episode(struct past *past, size_t episode, int days_before)
{
    const struct episode *told = &diary[episode];
    const bool today =
        told->day == days_before || (told->day == DIARY_EVERY_DAY &&
                                     told->except != days_before && told->nor != days_before);
    if (!today || !fits(past, episode, days_before))
        return true;
    for (size_t i = 0; i < told->count; i++) {
        if (moment_ms(past, episode, i, days_before) != past->now_ms)
            continue;
        if (told->list[i].act == ACT_ROAST_REST && !roast_is_enough(past) &&
            past->waited_ms < ROAST_LATEST_MS) {
            past->waited_ms += MINUTE_MS;
            return true;
        }
        act(past, told->list[i].act);
        if (told->list[i].kind != ENTRY_NONE && !enter(past, &told->list[i]))
            return false;
    }
    return true;
}

/* ---- the course of time ---- */

static void
show_progress(const struct past *past, bool done)
{
    static const char text[] = "Demo data: a simulated past, %" PRId64 " of %" PRId64
                               " hours, %" PRIu64 " readings, %" PRIu64 " entries%s";
    /* A file or a pipe gets the last line only. */
    if (!done && !isatty(STDOUT_FILENO))
        return;
    (void)printf("%s", isatty(STDOUT_FILENO) ? "\r" : "");
    (void)printf(text, (past->now_ms - past->begin_ms) / HOUR_MS,
                 (past->end_ms - past->begin_ms) / HOUR_MS, past->readings, past->entries,
                 done ? "\n" : "");
    (void)fflush(stdout);
}

/* As the demo's kitchen has them at its beginning. */
static bool
begin_running(struct past *past)
{
    static const struct happening begun[] = {
        {0, ACT_NONE, ENTRY_BEGIN, DISH_ROAST,
         "{\"who\":\"AB\",\"product\":\"pork-loin\",\"probes\":[\"roast-core-a\",\"roast-core-"
         "b\"]"
         ",\"place\":\"oven\",\"mass_g\":2400}"},
        {0, ACT_NONE, ENTRY_BEGIN, DISH_FILLING,
         "{\"who\":\"LM\",\"product\":\"lentil-filling\",\"probes\":[\"filling-core\"],"
         "\"step\":"
         "\"cool\",\"place\":\"chiller\"}"},
    };
    struct kitchen fresh;
    kitchen_begin(&fresh, past->chance);
    past->kitchen.roast = fresh.roast;
    past->kitchen.filling = fresh.filling;
    past->kitchen.oven = fresh.oven;
    past->kitchen.roast_at = ROAST_IN_OVEN;
    past->kitchen.roast_done = past->roast_out = false;
    return enter(past, &begun[0]) && enter(past, &begun[1]);
}

static bool
live_minute(struct past *past, int days_before)
{
    flush(past);
    for (size_t i = 0; i < diary_count; i++)
        if (!live_episode(past, i, days_before))
            return false;
    if (past->now_ms % (6 * HOUR_MS) == 0)
        show_progress(past, false);
    return true;
}

static void
watch_roast(struct past *past)
{
    const double a_C = kitchen_roast_core_a_C(&past->kitchen);
    const double b_C = kitchen_roast_core_b_C(&past->kitchen);
    if (a_C < ROAST_ENOUGH_C || b_C < ROAST_ENOUGH_C)
        past->roast_hot_ms = TIME_NONE;
    else if (past->roast_hot_ms == TIME_NONE)
        past->roast_hot_ms = past->now_ms;
}

static void
live_second(struct past *past)
{
    past->now_ms += SECOND_MS;
    if (past->end_ms - past->now_ms == past->running_ms + OVEN_READY_MS)
        act(past, ACT_OVEN_ON);
    kitchen_advance(&past->kitchen, mono(past));
    watch_roast(past);
    read_due_probes(past);
    if ((past->now_ms + SECOND_MS) % MINUTE_MS == 0) /* nothing waits when a day begins */
        flush(past);
}

/* How many local days before the last one the history begins. */
static int
first_day(const struct past *past)
{
    int days_before = 0;
    while (zone_day_start(past->zone, past->end_ms, -days_before) > past->begin_ms)
        days_before++;
    return days_before;
}

static bool
live(struct past *past)
{
    int64_t day_end_ms = zone_day_start(past->zone, past->begin_ms, 1);
    int days_before = first_day(past);
    draw_day(past);
    flush(past); /* the first day, before any reading */
    while (past->now_ms < past->end_ms) {
        live_second(past);
        if (past->now_ms == day_end_ms) {
            draw_day(past);
            days_before--;
            day_end_ms = zone_day_start(past->zone, past->now_ms, 1);
        }
        if (past->now_ms % MINUTE_MS == 0 && !live_minute(past, days_before))
            return false;
        if (past->running_ms > 0 && past->end_ms - past->now_ms == past->running_ms) {
            flush(past);
            if (!begin_running(past))
                return false;
        }
    }
    flush(past);
    past->unverified = waiting_deviation(past, ENTRY_VERIFY);
    recorder_finish(past->recorder);
    return true;
}

static bool
open_all(struct past *past, struct plan *plan)
{
    struct store_error error;
    /* A power cut would lose an invented past, and the demo begins anew. */
    const struct store_options options = {.synchronous_off = true};
    char why[600];
    (void)mkdir(plan->records.directory, 0750); /* what is wrong with it, the store says */
    past->store = store_open(plan->records.directory, &options, &error);
    past->board = board_new();
    if (past->store == NULL || past->board == NULL) {
        (void)fprintf(stderr, "trivet-past: %s\n",
                      past->store == NULL ? error.text : "out of memory");
        plan_free(plan);
        return false;
    }
    if (store_head(past->store)->seq != 0) {
        (void)fprintf(stderr,
                      "trivet-past: %s holds records already; a simulated past goes into an "
                      "empty store only\n",
                      plan->records.directory);
        plan_free(plan);
        return false;
    }
    past->zone = zone_shared(plan->time_zone);
    past->plan = plan;
    const struct recorder_parts parts = {
        .plan = plan,
        .store = past->store,
        .directory = plan->records.directory,
        .clock = {mono, wall, past},
        .board = past->board,
    };
    past->recorder = recorder_new(&parts, why, sizeof why);
    if (past->recorder == NULL)
        (void)fprintf(stderr, "trivet-past: %s\n", why);
    return past->recorder != NULL;
}

/* ---- options ---- */

static bool
number(const char *option, const char *text, int64_t least, int64_t most, int64_t *ret)
{
    char *end;
    errno = 0;
    const long long value = strtoll(text, &end, 10);
    if (errno == 0 && end != text && *end == '\0' && value >= least && value <= most) {
        *ret = value;
        return true;
    }
    (void)fprintf(
        stderr, "trivet-past: --%s takes a number from %" PRId64 " to %" PRId64 ", not '%s'\n",
        option, least, most, text);
    return false;
}

struct options {
    int64_t hours, end_ms, seed, running_min;
    const char *plan;
};

/* Returns -1 to go on, or the exit status. */
static int
read_options(int argc, char **argv, struct options *ret)
{
    static const struct option known[] = {
        {"hours", required_argument, NULL, 'n'}, {"end", required_argument, NULL, 'e'},
        {"seed", required_argument, NULL, 's'},  {"running", required_argument, NULL, 'r'},
        {"help", no_argument, NULL, 'h'},        {NULL, 0, NULL, 0},
    };
    const struct clock machine = clock_machine();
    const int64_t wall_ms = clock_wall_ms(&machine);
    int option;
    *ret = (struct options){.hours = HOURS, .end_ms = wall_ms, .seed = 1};
    while ((option = getopt_long(argc, argv, "", known, NULL)) != -1) {
        bool right = false;
        if (option == 'h') {
            (void)fputs(help, stdout);
            return 0;
        }
        if (option == 'n')
            right = number("hours", optarg, 1, 8760, &ret->hours);
        else if (option == 'e')
            right = number("end", optarg, HOUR_MS * 24 * 365, wall_ms, &ret->end_ms);
        else if (option == 's')
            right = number("seed", optarg, 0, INT64_MAX, &ret->seed);
        else if (option == 'r')
            right = number("running", optarg, 10, 240, &ret->running_min);
        if (!right)
            return 2;
    }
    if (optind + 1 != argc) {
        (void)fputs(help, stderr);
        return 2;
    }
    ret->plan = argv[optind];
    ret->end_ms -= ret->end_ms % SECOND_MS;
    return -1;
}

static struct plan *
load_plan(const char *file)
{
    static struct plan_faults faults;
    struct plan *plan = plan_load(file, &faults);
    if (plan == NULL)
        (void)fprintf(stderr, "trivet-past: %s:%d: %s\n", file, faults.fault[0].line,
                      faults.fault[0].text);
    return plan;
}

int
main(int argc, char **argv)
{
    static struct past past;
    struct options options;
    const int status = read_options(argc, argv, &options);
    if (status >= 0)
        return status;
    log_set_level(LOG_ERROR);
    past.end_ms = options.end_ms;
    past.running_ms = options.running_min * MINUTE_MS;
    past.begin_ms = past.now_ms = options.end_ms - options.hours * HOUR_MS;
    past.chance = (uint64_t)options.seed;
    past.roast_hot_ms = TIME_NONE;
    kitchen_begin(&past.kitchen, past.chance);
    act(&past, ACT_OVEN_OFF);
    act(&past, ACT_ROAST_OUT);
    food_set(&past.kitchen.filling, 4.0);
    struct plan *plan = load_plan(options.plan);
    if (plan == NULL)
        return 1;
    const bool lived = open_all(&past, plan) && live(&past);
    if (lived)
        show_progress(&past, true);
    if (lived && past.running_ms > 0)
        (void)printf("Batch %u is in the oven, batch %u in the chiller.\n",
                     (unsigned)past.batches[DISH_ROAST], (unsigned)past.batches[DISH_FILLING]);
    if (lived && past.unverified != 0)
        (void)printf("Deviation %u waits for a second person.\n", (unsigned)past.unverified);
    board_free(past.board);
    recorder_free(past.recorder);
    store_close(past.store);
    return lived ? 0 : 1;
}
