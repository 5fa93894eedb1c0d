/* Keeps a forecaster beside each batch that can be forecast. One thread owns an adviser. */
#include <stdio.h>
#include <stdlib.h>

#include "daemon/advice/watched.h"

/* A forecast changes slowly and costs milliseconds. */
#define ASK_EVERY_MS INT64_C(60000)

struct adviser {
    struct store_reader *reader;
    struct watched watched[ENGINE_BATCHES_MAX];
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

/* The batch's place among those watched, as the snapshot shows it; NULL when nothing can be
 * said of it. */
static struct watched *
watch(struct adviser *adviser, const struct snapshot *snapshot,
      const struct engine_batch_view *view)
{
    struct watched *watched = find(adviser, view->number);
    if (watched != NULL && watched_follow(watched, snapshot, view))
        return watched;
    bool was_warned = watched != NULL && watched->advice.warned &&
                      watched->step_begun_ms == view->step_begun_ms;
    if (watched != NULL)
        watched_end(watched);
    else
        watched = find(adviser, 0);
    if (watched == NULL || !watched_begin(watched, snapshot, view))
        return NULL;
    watched->advice.warned = was_warned;
    return watched;
}

static bool
look_at(struct adviser *adviser, const struct snapshot *snapshot,
        const struct engine_batch_view *view, struct advice_list *list,
        struct store_error *reterr)
{
    enum forecast_kind kind;
    if (!watched_wanted(view, &kind))
        return true;
    struct watched *watched = watch(adviser, snapshot, view);
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
    for (size_t i = 0; i < ENGINE_BATCHES_MAX; i++)
        adviser->watched[i].seen = false;
    for (size_t i = 0; i < snapshot->batch_count && list->count < ENGINE_BATCHES_MAX; i++)
        if (!look_at(adviser, snapshot, &snapshot->batches[i].view, list, &error)) {
            (void)snprintf(reterr, err_size, "no forecasts: %s", error.text);
            free(list);
            return NULL;
        }
    for (size_t i = 0; i < ENGINE_BATCHES_MAX; i++)
        if (!adviser->watched[i].seen)
            watched_end(&adviser->watched[i]);
    return list;
}
