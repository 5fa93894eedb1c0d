/* Records told to people. Desk threads; holds no state. */
#include "history.h"

#include <inttypes.h>
#include <stdio.h>
#include <string.h>

#include "telling.h"

/* ---- finding ---- */

static bool
take_instant(void *arg, const struct store_record *record)
{
    *(int64_t *)arg = record->at_ms;
    return false;
}

enum store_status
history_seq_before(struct store_reader *reader, int64_t at_ms, uint64_t head_seq,
                   uint64_t *ret_seq, struct store_error *reterr)
{
    /* Instants never go back along the chain, so halving finds the place. */
    uint64_t low = 0, high = head_seq + 1; /* low is before at_ms, high is not */
    while (high - low > 1) {
        uint64_t mid = low + (high - low) / 2;
        int64_t mid_ms = INT64_MAX;
        enum store_status status =
            store_each_record(reader, mid - 1, mid, NULL, take_instant, &mid_ms, reterr);
        if (status != STORE_OK)
            return status;
        if (mid_ms < at_ms)
            low = mid;
        else
            high = mid;
    }
    *ret_seq = low;
    return STORE_OK;
}

bool
past_names(const struct store_record *record, const char *key, uint32_t number)
{
    char wanted[64];
    int len = snprintf(wanted, sizeof wanted, "\"%s\":%" PRIu32, key, number);
    for (const char *at = record->data; (at = strstr(at, wanted)) != NULL; at += len)
        if (at[len] < '0' || at[len] > '9')
            return true;
    return false;
}

bool
past_read(const struct store_record *record, struct past *ret)
{
    char unused[200];
    ret->seq = record->seq;
    ret->at_ms = record->at_ms;
    ret->is_decision = strcmp(record->kind, "decision") == 0;
    if (ret->is_decision)
        return decision_read(record->data, record->data_len, &ret->decision);
    enum entry_kind kind = entry_kind_from_word(record->kind);
    return kind != ENTRY_NONE &&
           entry_read(kind, record->data, record->data_len, &ret->entry, unused, sizeof unused);
}

/* ---- telling ---- */

void
past_time(struct html *html, const struct view *view, int64_t at_ms)
{
    char text[40];
    html_format(html, "<time>%s</time>", view_stamp(view, at_ms, text, sizeof text));
}

void
past_person(struct html *html, const struct view *view, const char *initials)
{
    const struct plan *now = view->snapshot == NULL ? NULL : view->snapshot->plan;
    const struct plan_person *person =
        view->names == NULL ? NULL : plan_person(view->names, initials);
    if (person == NULL && now != NULL) /* somebody who came later */
        person = plan_person(now, initials);
    if (person != NULL) {
        html_text(html, person->name);
        html_raw(html, " (");
    }
    html_text(html, initials);
    html_raw(html, person != NULL ? ")" : "");
}

void
past_tell(struct html *html, const struct view *view, const struct past *past)
{
    if (past->is_decision)
        tell_decision(html, view, &past->decision);
    else
        tell_entry(html, view, &past->entry);
}
