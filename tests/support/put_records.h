/* Records for tests that write a store themselves: an entry, a decision, as the recorder would
 * have written them. A store that refuses one fails the test. */
#ifndef SUPPORT_PUT_RECORDS_H
#define SUPPORT_PUT_RECORDS_H

#include "tests/support/check.h"

#include "trivet/decision.h"
#include "trivet/entry.h"
#include "trivet/store.h"

void store_must(enum store_status status, const struct store_error *error);

/* Each returns the number of its record. */
uint64_t put_record(struct store *store, const char *kind, int64_t at_ms, const char *data);
uint64_t put_entry(struct store *store, int64_t at_ms, const struct entry *entry);
uint64_t put_decision(struct store *store, const struct decision *decision);

/* With no temperature and no time before its own. */
struct decision plain_decision(enum decision_kind kind, enum decision_reason reason,
                               int64_t at_ms);

#endif
