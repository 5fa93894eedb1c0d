/* Takes what the adviser says. It is shown, never judged by; only that a limit will probably be
 * missed, and that it no longer will, is put on record and told; and on record, untold, what a
 * batch that is over leaves for the next of its product. */
#include <stdlib.h>
#include <string.h>

#include "daemon/recorder/inside.h"
#include "trivet/json_out.h"

#define DATA_MAX 512

static const struct advice *
find(const struct advice_list *list, const struct advice *like)
{
    for (size_t i = 0; list != NULL && i < list->count; i++)
        if (list->list[i].batch == like->batch &&
            list->list[i].step_begun_ms == like->step_begun_ms)
            return &list->list[i];
    return NULL;
}

/* The step a batch is in, as the engine sees it now; NULL when the advice speaks of an earlier
 * one. */
static const char *
step_of(const struct recorder *recorder, const struct advice *advice)
{
    static const struct engine_batch_view none;
    struct engine_batch_view *views = calloc(ENGINE_BATCHES_MAX, sizeof *views);
    const struct engine_batch_view *found = &none;
    if (views == NULL)
        return NULL;
    size_t count = engine_view_batches(recorder->engine, views, ENGINE_BATCHES_MAX);
    for (size_t i = 0; i < count; i++)
        if (views[i].number == advice->batch && views[i].step_begun_ms == advice->step_begun_ms)
            found = &views[i];
    /* The plan's, which outlives the copies of views. */
    const char *step = found->product == NULL ? NULL : found->product->steps[found->step].id;
    free(views);
    return step;
}

static void
put_on_record(struct recorder *recorder, const struct advice *advice)
{
    char data[DATA_MAX];
    struct json_out out;
    const char *step = step_of(recorder, advice);
    const struct advice_reach *stake = &advice->reach[advice->at_stake];
    if (step == NULL)
        return;
    out_start(&out, data, sizeof data, true);
    out_object(&out, NULL);
    out_int(&out, "batch", advice->batch);
    if (advice->reach_count > 0 && stake->deadline_ms != TIME_NONE)
        out_int(&out, "deadline_ms", stake->deadline_ms);
    if (advice->reach_count > 0 && stake->when.p50_ms != TIME_NEVER)
        out_int(&out, "expected_ms", stake->when.p50_ms);
    out_bool(&out, "likely", advice->warned);
    if (advice->reach_count > 0 && stake->miss_permille >= 0)
        out_int(&out, "miss_permille", stake->miss_permille);
    if (advice->reach_count > 0 && stake->stage > 0)
        out_int(&out, "stage", stake->stage);
    out_text(&out, "step", step);
    out_object_end(&out);
    if (out_done(&out))
        recorder_note(recorder, "forecast",
                      recorder_instant(recorder, recorder_mono_ms(recorder)), data, true);
}

/* What finished batches leave for the next of their product. */
static void
keep_lessons(struct recorder *recorder, const struct advice_list *list)
{
    for (size_t i = 0; i < list->lesson_count; i++)
        recorder_note(recorder, "lesson",
                      recorder_instant(recorder, recorder_mono_ms(recorder)), list->lesson[i],
                      false);
}

void
recorder_advise(struct recorder *recorder, struct advice_list *list)
{
    for (size_t i = 0; i < list->count; i++) {
        const struct advice *before = find(recorder->advice, &list->list[i]);
        bool was_warned = before != NULL && before->warned;
        list->list[i].warned_ms =
            !list->list[i].warned ? TIME_NONE
            : was_warned          ? before->warned_ms
                                  : timeline_at(&recorder->line, recorder_mono_ms(recorder));
        if (list->list[i].warned != was_warned)
            put_on_record(recorder, &list->list[i]);
    }
    keep_lessons(recorder, list);
    free(recorder->advice);
    recorder->advice = list;
    recorder->publish = true;
}
