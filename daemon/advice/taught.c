/* Lessons of earlier batches, from the records to where a forecast begins; and those that are
 * missing there. See the header. */
#include "daemon/advice/watched.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* So many records are looked through, newest first: half a year of a busy kitchen with a seal a
 * minute, about a second's work. What is older teaches little. */
#define NEWEST_RECORDS 300000

/* Where no oven was ever measured all batches are taken to have stood in one: which does not
 * matter, for only their differences do. */
static const double SOME_OVEN_C = 160;

/* The recorder commits within a second or two; what is not on record so long after it was
 * handed over was dropped, and is made again. */
#define HANDED_LASTS_MS INT64_C(10000)

static void
add_for_record(struct taught_store *store, struct advice_list *list,
               const struct earlier_lesson *lesson)
{
    if (list->lesson_count == ADVICE_LESSONS_MAX ||
        !earlier_lesson_write(lesson, list->lesson[list->lesson_count], ADVICE_LESSON_BYTES))
        return;
    list->lesson_count++;
    store->handed[store->handed_next] =
        (struct handed_over){lesson->batch, lesson->kind, store->now_ms};
    store->handed_next =
        (store->handed_next + 1) % (sizeof store->handed / sizeof *store->handed);
}

/* Made in a look just before, and on its way to the record. */
static bool
is_under_way(const struct taught_store *store, uint32_t batch, enum forecast_kind kind)
{
    for (size_t i = 0; i < sizeof store->handed / sizeof *store->handed; i++) {
        const struct handed_over *one = &store->handed[i];
        if (one->batch == batch && one->kind == kind &&
            store->now_ms - one->at_ms < HANDED_LASTS_MS)
            return true;
    }
    return false;
}

/* The newest lessons. Making one takes a good part of a second, so those that are missing come
 * a few at a time. */
static enum store_status
gather(struct taught_store *store, const struct earlier *of, struct advice_list *list,
       struct lessons *ret, struct store_error *reterr)
{
    ret->count = 0;
    ret->whole = true;
    for (size_t i = of->count; i > 0 && ret->count < LESSONS_MAX; i--) {
        const struct earlier_batch *batch = &of->batch[i - 1];
        struct earlier_lesson *lesson = &ret->list[ret->count];
        bool recorded, room = list->lesson_count < ADVICE_LESSONS_MAX;
        bool waits = !room || is_under_way(store, batch->number, of->kind);
        if (!earlier_teaches(batch))
            continue;
        if (batch->lesson_seq == 0 && waits) {
            ret->whole = false;
            continue;
        }
        enum store_status status =
            earlier_lesson_of(store->reader, of, batch, true, lesson, &recorded, reterr);
        if (status != STORE_OK)
            return status;
        if (!recorded)
            add_for_record(store, list, lesson);
        ret->count += lesson->has_lesson || lesson->has_fit;
    }
    return STORE_OK;
}

void
taught_forget(struct taught_store *store, int64_t now_ms)
{
    store->now_ms = now_ms;
    for (size_t i = 0; i < TAUGHT_KEPT; i++)
        store->kept[i].product[0] = '\0';
}

static struct lessons *
kept(struct taught_store *store, const char *product, enum forecast_kind kind)
{
    for (size_t i = 0; i < TAUGHT_KEPT; i++)
        if (store->kept[i].kind == kind && strcmp(store->kept[i].product, product) == 0)
            return &store->kept[i];
    return NULL;
}

/* Reads them anew into a place of their own; forgotten again when some are still missing. */
static enum store_status
read_lessons(struct taught_store *store, const char *product, enum forecast_kind kind,
             struct advice_list *list, struct lessons **ret, struct store_error *reterr)
{
    struct earlier earlier;
    struct lessons *into = kept(store, product, kind);
    if (into == NULL) {
        into = &store->kept[store->next];
        store->next = (store->next + 1) % TAUGHT_KEPT;
    }
    into->product[0] = '\0';
    into->kind = kind;
    enum store_status status =
        earlier_open(store->reader, product, kind, NEWEST_RECORDS, &earlier, reterr);
    if (status == STORE_OK)
        status = gather(store, &earlier, list, into, reterr);
    earlier_close(&earlier);
    if (status == STORE_OK && into->whole)
        (void)snprintf(into->product, sizeof into->product, "%s", product);
    *ret = into;
    return status;
}

/* A batch does not learn from its own earlier steps. */
static bool
others(const struct earlier_lesson *lesson, const struct engine_batch_view *view)
{
    return lesson->batch != view->number;
}

static void
find_prior(const struct lessons *from, const struct engine_batch_view *view,
           enum forecast_kind kind, struct taught *ret)
{
    struct lesson_fit fits[LESSONS_MAX];
    int count = 0;
    for (int i = 0; i < from->count; i++)
        if (from->list[i].has_fit && others(&from->list[i], view))
            fits[count++] = (struct lesson_fit){
                from->list[i].fit,
                earlier_size_ratio(&from->list[i], view->mass_g, view->thickness_mm)};
    forecast_prior_from(kind, fits, count, &ret->prior);
    ret->lessons = count;
}

/* The lessons that tell in the dish's own measure of size, oldest first. */
static int
like_dish(const struct lessons *from, const struct engine_batch_view *view,
          const struct dish *dish, struct lesson ret[LESSONS_MAX])
{
    int count = 0;
    for (int i = from->count; i > 0; i--)
        count += others(&from->list[i - 1], view) &&
                 earlier_lesson_like(&from->list[i - 1], dish, &ret[count]);
    return count;
}

static double
usual_oven_C(const struct lessons *from)
{
    for (int i = 0; i < from->count; i++) /* the newest that was measured */
        if (from->list[i].has_lesson && !isnan(from->list[i].lesson.dish.oven_C))
            return from->list[i].lesson.dish.oven_C;
    return SOME_OVEN_C;
}

static void
find_plan(const struct lessons *from, struct planner_work *work,
          const struct engine_batch_view *view, struct taught *ret)
{
    struct lesson like[LESSONS_MAX];
    ret->dish = (struct dish){
        .mass_g = view->mass_g > 0 ? (double)view->mass_g : (double)NAN,
        .thickness_mm = NAN,
        .start_C = NAN,
        .oven_C = usual_oven_C(from),
        .target_C = watched_target_C(&view->product->steps[view->step]),
    };
    int count = view->mass_g > 0 ? like_dish(from, view, &ret->dish, like) : 0;
    if (count == 0 && view->thickness_mm > 0) {
        ret->dish.mass_g = NAN;
        ret->dish.thickness_mm = view->thickness_mm;
        count = like_dish(from, view, &ret->dish, like);
    }
    if (count == 0)
        return;
    ret->planner = malloc(sizeof *ret->planner);
    if (ret->planner != NULL)
        planner_learn(ret->planner, work, like, count);
    ret->lessons = count > ret->lessons ? count : ret->lessons;
}

enum store_status
taught_find(struct taught_store *store, const struct engine_batch_view *view,
            enum forecast_kind kind, struct advice_list *list, struct taught *ret,
            struct store_error *reterr)
{
    struct lessons *lessons = kept(store, view->product->id, kind);
    *ret = (struct taught){.lessons = 0};
    if (lessons == NULL) {
        enum store_status status =
            read_lessons(store, view->product->id, kind, list, &lessons, reterr);
        if (status != STORE_OK)
            return status;
    }
    ret->whole = lessons->whole;
    find_prior(lessons, view, kind, ret);
    if (kind == FORECAST_COOK && limit_kind_heats(view->product->steps[view->step].limit.kind))
        find_plan(lessons, &store->planner_work, view, ret);
    return STORE_OK;
}

enum store_status
taught_settle(struct taught_store *store, const char *product, struct advice_list *list,
              struct store_error *reterr)
{
    static const enum forecast_kind KINDS[] = {FORECAST_COOK, FORECAST_COOLING};
    enum store_status status = STORE_OK;
    for (size_t i = 0; i < sizeof KINDS / sizeof *KINDS && status == STORE_OK; i++) {
        struct lessons *lessons;
        status = read_lessons(store, product, KINDS[i], list, &lessons, reterr);
    }
    return status;
}
