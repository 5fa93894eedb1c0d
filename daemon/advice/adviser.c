/* Keeps a forecaster beside each batch that can be forecast. One thread owns an adviser. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "daemon/advice/watched.h"

/* A forecast changes slowly and costs milliseconds. */
#define ASK_EVERY_MS INT64_C(60000)
/* Missing lessons are made a few in a look; whoever needs them waits so long for them. */
#define CATCH_UP_MS INT64_C(300000)

struct adviser {
    struct store_reader *reader;
    int64_t behind_since_ms; /* lessons have been missing in each look since; TIME_NONE */
    bool behind;             /* in the look that is under way */
    struct watched watched[ENGINE_BATCHES_MAX];
    struct taught_store taught;
};

struct adviser *
adviser_new(const char *directory, char *reterr, size_t err_size)
{
    struct store_error error;
    struct adviser *adviser = calloc(1, sizeof *adviser);
    if (adviser == NULL) {
        (void)snprintf(reterr, err_size,
                       "out of memory for forecasts; free some and try again");
        return NULL;
    }
    adviser->reader = store_reader_open(directory, &error);
    if (adviser->reader == NULL) {
        (void)snprintf(reterr, err_size, "%s", error.text);
        free(adviser);
        return NULL;
    }
    adviser->taught.reader = adviser->reader;
    adviser->behind_since_ms = TIME_NONE;
    return adviser;
}

void
adviser_free(struct adviser *adviser)
{
    if (adviser == NULL)
        return;
    for (size_t i = 0; i < ENGINE_BATCHES_MAX; i++)
        watched_end(&adviser->watched[i]);
    store_reader_close(adviser->reader);
    free(adviser);
}

static struct watched *
find(struct adviser *adviser, uint32_t batch)
{
    for (size_t i = 0; i < ENGINE_BATCHES_MAX; i++)
        if (adviser->watched[i].batch == batch)
            return &adviser->watched[i];
    return NULL;
}

/* Watched no longer: what it leaves for the next of its product goes on record. */
static bool
leave(struct adviser *adviser, struct watched *watched, struct advice_list *list,
      struct store_error *reterr)
{
    char product[PLAN_ID_MAX + 1];
    memcpy(product, watched->product, sizeof product);
    watched_end(watched);
    return taught_settle(&adviser->taught, product, list, reterr) == STORE_OK;
}

/* A forecast that began from two of eight lessons would go on as if there were no more. */
static bool
waits_for_lessons(struct adviser *adviser, struct taught *taught, int64_t now_ms)
{
    if (taught->whole)
        return false;
    adviser->behind = true;
    if (adviser->behind_since_ms != TIME_NONE &&
        now_ms - adviser->behind_since_ms >= CATCH_UP_MS)
        return false;
    free(taught->planner);
    taught->planner = NULL;
    return true;
}

static void
say_that_it_waits(const struct snapshot *snapshot, const struct engine_batch_view *view,
                  bool was_warned, struct advice_list *list)
{
    struct advice *advice = &list->list[list->count++];
    *advice = (struct advice){
        .batch = view->number,
        .step_begun_ms = view->step_begun_ms,
        .at_ms = snapshot->at_ms,
        .refusal = "a moment: earlier batches are being read",
        .peak_p05_mC = TEMP_NONE,
        .peak_p50_mC = TEMP_NONE,
        .peak_p95_mC = TEMP_NONE,
        .warned = was_warned, /* nothing new is known */
    };
}

/* The batch's place among those watched, as the snapshot shows it; NULL when nothing can be
 * said of it. False when the records cannot be read. */
static bool
watch(struct adviser *adviser, const struct snapshot *snapshot,
      const struct engine_batch_view *view, enum forecast_kind kind, struct advice_list *list,
      struct watched **ret, struct store_error *reterr)
{
    struct taught taught;
    struct watched *watched = find(adviser, view->number);
    *ret = watched;
    if (watched != NULL && watched_follow(watched, snapshot, view))
        return true;
    *ret = NULL;
    bool was_warned = watched != NULL && watched->advice.warned &&
                      watched->step_begun_ms == view->step_begun_ms;
    if (watched != NULL && !leave(adviser, watched, list, reterr))
        return false;
    watched = find(adviser, 0);
    if (watched == NULL || !watched_can_begin(view))
        return true;
    if (taught_find(&adviser->taught, view, kind, list, &taught, reterr) != STORE_OK)
        return false;
    if (waits_for_lessons(adviser, &taught, snapshot->at_ms)) {
        say_that_it_waits(snapshot, view, was_warned, list);
        return true;
    }
    if (!watched_begin(watched, snapshot, view, &taught))
        return true;
    watched->advice.warned = was_warned;
    *ret = watched;
    return true;
}

static bool
look_at(struct adviser *adviser, const struct snapshot *snapshot,
        const struct engine_batch_view *view, struct advice_list *list,
        struct store_error *reterr)
{
    enum forecast_kind kind;
    struct watched *watched;
    if (!watched_wanted(view, &kind))
        return true;
    if (!watch(adviser, snapshot, view, kind, list, &watched, reterr))
        return false;
    if (watched == NULL)
        return true;
    watched->seen = true;
    if (watched_feed(watched, adviser->reader, snapshot, reterr) != STORE_OK)
        return false;
    if (watched->asked_ms == TIME_NONE || snapshot->at_ms - watched->asked_ms >= ASK_EVERY_MS)
        watched_ask(watched, snapshot, view);
    list->list[list->count++] = watched->advice;
    return true;
}

static bool
look_at_all(struct adviser *adviser, const struct snapshot *snapshot, struct advice_list *list,
            struct store_error *reterr)
{
    taught_forget(&adviser->taught, snapshot->at_ms);
    adviser->behind = false;
    for (size_t i = 0; i < ENGINE_BATCHES_MAX; i++)
        adviser->watched[i].seen = false;
    for (size_t i = 0; i < snapshot->batch_count && list->count < ENGINE_BATCHES_MAX; i++)
        if (!look_at(adviser, snapshot, &snapshot->batches[i].view, list, reterr))
            return false;
    for (size_t i = 0; i < ENGINE_BATCHES_MAX; i++)
        if (adviser->watched[i].batch != 0 && !adviser->watched[i].seen &&
            !leave(adviser, &adviser->watched[i], list, reterr))
            return false;
    list->behind = adviser->behind;
    if (!adviser->behind)
        adviser->behind_since_ms = TIME_NONE;
    else if (adviser->behind_since_ms == TIME_NONE)
        adviser->behind_since_ms = snapshot->at_ms;
    return true;
}

struct advice_list *
adviser_look(struct adviser *adviser, const struct snapshot *snapshot, char *reterr,
             size_t err_size)
{
    struct store_error error;
    struct advice_list *list = calloc(1, sizeof *list);
    if (list == NULL) {
        (void)snprintf(reterr, err_size, "out of memory for forecasts");
        return NULL;
    }
    if (!look_at_all(adviser, snapshot, list, &error)) {
        (void)snprintf(reterr, err_size, "no forecasts: %s", error.text);
        free(list);
        return NULL;
    }
    return list;
}
