/* What the store remembers, for people: finding where to read, and telling records in words. At
 * a desk only. */
#ifndef WEB_HISTORY_H
#define WEB_HISTORY_H

#include "own.h"
#include "trivet/decision.h"
#include "trivet/entry.h"

/* The last record before an instant (0 when there is none); records after it are those from
 * that instant on. */
enum store_status history_seq_before(struct store_reader *reader, int64_t at_ms,
                                     uint64_t head_seq, uint64_t *ret_seq,
                                     struct store_error *reterr);

/* A decision record or a person's entry, read back; NULL kinds are of no interest. False for
 * other records. */
struct past {
    uint64_t seq;
    int64_t at_ms;
    bool is_decision;
    struct decision decision;
    struct entry entry;
};
bool past_read(const struct store_record *record, struct past *ret);
/* A cheap look before past_read: whether the data has "key":number. */
bool past_names(const struct store_record *record, const char *key, uint32_t number);

/* In words, escaped. */
void past_tell(struct html *html, const struct view *view, const struct past *past);
/* An instant as <time>. */
void past_time(struct html *html, const struct view *view, int64_t at_ms);
/* Name (initials) of a person as the plan in force has it. */
void past_person(struct html *html, const struct view *view, const char *initials);

#endif
