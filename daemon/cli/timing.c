/* trivet timing: plans dishes from what earlier batches in the records teach. See timing.h.
 * Reads the store itself; records nothing. */
#include "daemon/cli/timing.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include <jansson.h>

#include "daemon/cli/amount.h"
#include "daemon/cli/help.h"
#include "daemon/cli/options.h"
#include "trivet/clock.h"
#include "trivet/typed.h"

#define WHY_MAX 300
#define DAY_MS  INT64_C(86400000)

enum {
    OPTION_OVEN,
    OPTION_OVEN_KIND,
    OPTION_COLD_OVEN,
    OPTION_SERVE,
    OPTION_AT,
    OPTION_APART,
    OPTION_WITHOUT,
    OPTION_COUNT
};

static const struct option_spec options[OPTION_COUNT] = {
    [OPTION_OVEN] = {"oven", 'o'},
    [OPTION_OVEN_KIND] = {"oven-kind", 0},
    [OPTION_COLD_OVEN] = {"cold-oven", OPTION_FLAG},
    [OPTION_SERVE] = {"serve", 's'},
    [OPTION_AT] = {"at", 'a'},
    [OPTION_APART] = {"apart", OPTION_FLAG},
    [OPTION_WITHOUT] = {"without-records", OPTION_FLAG},
};

struct work {
    const struct cli *cli;
    const struct options_read *read;
    const struct zone *zone;
    int64_t now_ms;
    bool demo;
    struct dish oven; /* what all dishes share */
    struct timing_dish dish[TIMING_DISHES_MAX];
    size_t count;
    struct planner planner;
    struct planner_work planner_work;
};

static int
read_oven(struct work *w)
{
    char why[WHY_MAX];
    int32_t temp_mC;
    const char *oven = w->read->value[OPTION_OVEN], *kind = w->read->value[OPTION_OVEN_KIND];
    if (oven == NULL)
        return cli_fail(w->cli, CLI_USAGE, "say how hot the oven is: --oven 160C");
    if (!amount_temp(oven, false, &temp_mC, why, sizeof why))
        return cli_fail(w->cli, CLI_USAGE, "--oven: %s", why);
    w->oven.oven_C = temp_mC / 1000.0;
    w->oven.cold_oven = w->read->value[OPTION_COLD_OVEN] != NULL;
    if (kind == NULL || strcmp(kind, "any") == 0)
        w->oven.oven = DISH_ANY_OVEN;
    else if (strcmp(kind, "fan") == 0)
        w->oven.oven = DISH_FAN;
    else if (strcmp(kind, "still") == 0)
        w->oven.oven = DISH_STILL;
    else if (strcmp(kind, "steam") == 0)
        w->oven.oven = DISH_STEAM;
    else
        return cli_fail(w->cli, CLI_USAGE, "--oven-kind: write fan, still, steam or any");
    return CLI_DONE;
}

/* ---- what earlier batches teach ---- */

/* Lessons as they are on record; where there is none, or one made in another way, from the
 * readings. */
static int
learn(struct work *w, const struct earlier_records *records, struct timing_dish *d)
{
    const struct earlier *earlier = &records->earlier;
    struct lesson lesson[LESSONS_MAX];
    size_t count = 0;
    for (size_t i = earlier->count; i > 0 && count < LESSONS_MAX; i--) {
        const struct earlier_batch *batch = &earlier->batch[i - 1];
        struct earlier_lesson left = {0};
        struct store_error trouble;
        bool recorded;
        if (!earlier_teaches(batch))
            continue;
        if (earlier_lesson_of(records->reader, earlier, batch, false, &left, &recorded,
                              &trouble) != STORE_OK)
            return cli_fail(w->cli, CLI_UNREACHABLE, "%s", trouble.text);
        size_t at = LESSONS_MAX - 1 - count; /* newest last */
        if (earlier_lesson_like(&left, &d->dish, &lesson[at])) {
            d->from[at] = batch->number;
            count++;
        }
    }
    memmove(d->from, d->from + LESSONS_MAX - count, count * sizeof *d->from);
    planner_learn(&w->planner, &w->planner_work, lesson + LESSONS_MAX - count, (int)count);
    return CLI_DONE;
}

static int
learn_from_records(struct work *w, const char *product, struct timing_dish *d)
{
    struct earlier_records records;
    const struct earlier *earlier = &records.earlier;
    int code = earlier_records_open(w->cli, product, FORECAST_COOK, &records);
    if (code == CLI_DONE) {
        (void)snprintf(d->name, sizeof d->name, "%s", earlier->name);
        w->zone = earlier->zone;
        w->demo = earlier->demo;
        if (earlier->limit.milli != 0)
            d->least_C = earlier_C(earlier->limit);
        if (!d->target_told && earlier->aim.milli != 0)
            d->dish.target_C = earlier_C(earlier->aim);
        else if (!d->target_told)
            d->dish.target_C = d->least_C;
        code = learn(w, &records, d);
    }
    earlier_records_close(&records);
    return code;
}

static int
plan_dish(struct work *w, const char *word)
{
    char why[WHY_MAX], product[PLAN_NAME_MAX + 1];
    struct timing_dish *d = &w->dish[w->count];
    const char *missing;
    if (!timing_dish_read(word, product, d, why, sizeof why))
        return cli_fail(w->cli, CLI_USAGE, "%s", why);
    d->dish.oven_C = w->oven.oven_C;
    d->dish.oven = w->oven.oven;
    d->dish.cold_oven = w->oven.cold_oven;
    if (w->read->value[OPTION_WITHOUT] != NULL)
        planner_learn(&w->planner, &w->planner_work, NULL, 0);
    else {
        int code = learn_from_records(w, product, d);
        if (code != CLI_DONE)
            return code;
    }
    if (!planner_take_out(&w->planner, &d->dish, d->least_C, &d->take_out_C, &d->planned,
                          &missing))
        return cli_fail(w->cli, CLI_USAGE, "%s: no plan; needed is %s", product, missing);
    w->count++;
    return CLI_DONE;
}

/* ---- the clock ---- */

/* "19:00" is the next one. */
static int
read_clock(const struct work *w, const char *name, const char *text, int64_t *ret_ms)
{
    int hour, minute, used = 0;
    char shown[40];
    struct zone_time now;
    if (sscanf(text, "%2d:%2d%n", &hour, &minute, &used) != 2 || text[used] != '\0' ||
        hour < 0 || hour > 23 || minute < 0 || minute > 59)
        return cli_fail(w->cli, CLI_USAGE,
                        "%s: '%s' is no time of day; write for example 19:00", name,
                        typed_shown(shown, sizeof shown, text));
    for (int day = 0; day < 2; day++) {
        zone_split(w->zone, zone_day_start(w->zone, w->now_ms, day), &now);
        if (zone_join(w->zone, now.year, now.month, now.day, hour, minute, ret_ms) &&
            *ret_ms >= w->now_ms)
            break;
    }
    return CLI_DONE;
}

static int
put_on_clock(struct work *w)
{
    const char *serve = w->read->value[OPTION_SERVE], *at = w->read->value[OPTION_AT];
    bool apart = w->read->value[OPTION_APART] != NULL;
    int64_t moment_ms = 0;
    int code = CLI_DONE;
    if (serve != NULL && at != NULL)
        return cli_fail(w->cli, CLI_USAGE, "--serve and --at exclude each other");
    for (size_t i = 0; i < w->count && (serve != NULL || at != NULL); i++)
        if (!isfinite(w->dish[i].planned.target_s.p95))
            return cli_fail(w->cli, CLI_NO,
                            "in this oven %s may never reach %.1f °C; a hotter one is needed",
                            w->dish[i].name, w->dish[i].take_out_C);
    if (serve != NULL) {
        code = read_clock(w, "--serve", serve, &moment_ms);
        if (code == CLI_DONE)
            timing_backward(w->dish, w->count, moment_ms, apart);
    } else if (at != NULL) {
        code = read_clock(w, "--at", at, &moment_ms);
        if (code == CLI_DONE)
            timing_forward(w->dish, w->count, moment_ms, apart);
    }
    return code;
}

static int
tell(const struct work *w)
{
    if (w->cli->json) {
        json_t *list = timing_json(w->dish, w->count);
        if (list != NULL)
            (void)json_dumpf(list, w->cli->out, JSON_COMPACT);
        (void)fputc('\n', w->cli->out);
        json_decref(list);
    } else {
        timing_show(w->cli, w->dish, w->count, w->zone, w->now_ms);
    }
    bool late = false;
    for (size_t i = 0; i < w->count; i++)
        late = late || (w->dish[i].put_in_ms != TIME_NONE && w->dish[i].put_in_ms < w->now_ms);
    if (late && !w->cli->quiet)
        (void)fputs("That put-in has passed: there is not time enough for the slow end.\n",
                    w->cli->err);
    if (w->demo && !w->cli->quiet)
        (void)fputs("DEMO DATA, no real food: never to be shown as a kitchen's records.\n",
                    w->cli->err);
    return cli_finish(w->cli, CLI_DONE);
}

int
cli_timing(struct cli *cli, int argc, char **argv)
{
    struct options_read read;
    struct clock clock = clock_machine();
    int code = options_read(cli, argc, argv, options, OPTION_COUNT, &read);
    if (code != CLI_DONE)
        return code;
    if (read.help)
        return help_verb(cli, argv[0]);
    if (read.word_count == 0 || read.word_count > TIMING_DISHES_MAX)
        return cli_fail(cli, CLI_USAGE, "name one to %d dishes", TIMING_DISHES_MAX);
    struct work *w = calloc(1, sizeof *w);
    if (w == NULL)
        return cli_fail(cli, CLI_USAGE, "no memory to plan (%zu bytes)", sizeof *w);
    w->cli = cli;
    w->read = &read;
    w->zone = zone_shared("UTC");
    w->now_ms = clock_wall_ms(&clock);
    code = read_oven(w);
    for (size_t i = 0; i < read.word_count && code == CLI_DONE; i++)
        code = plan_dish(w, read.word[i]);
    if (code == CLI_DONE)
        code = put_on_clock(w);
    if (code == CLI_DONE)
        code = tell(w);
    free(w);
    return code;
}
