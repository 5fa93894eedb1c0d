/* See put_records.h. */
#include "tests/support/put_records.h"

#include "trivet/json_out.h"
#include "trivet/units.h"

void
store_must(enum store_status status, const struct store_error *error)
{
    if (status != STORE_OK)
        fail_msg("%s", error->text);
}

uint64_t
put_record(struct store *store, const char *kind, int64_t at_ms, const char *data)
{
    struct store_error error = {STORE_OK, ""};
    uint64_t seq = 0;
    store_must(store_record(store, kind, at_ms, data, &seq, &error), &error);
    return seq;
}

uint64_t
put_entry(struct store *store, int64_t at_ms, const struct entry *entry)
{
    char data[16000];
    struct json_out out;
    out_start(&out, data, sizeof data, true);
    entry_write(entry, &out, NULL);
    assert_true(out_done(&out));
    return put_record(store, entry_kind_word(entry->kind), at_ms, data);
}

uint64_t
put_decision(struct store *store, const struct decision *decision)
{
    char data[2048];
    struct json_out out;
    out_start(&out, data, sizeof data, true);
    decision_write(decision, &out, NULL);
    assert_true(out_done(&out));
    return put_record(store, "decision", decision->at_ms, data);
}

struct decision
plain_decision(enum decision_kind kind, enum decision_reason reason, int64_t at_ms)
{
    return (struct decision){.kind = kind,
                             .reason = reason,
                             .at_ms = at_ms,
                             .temp_mC = TEMP_NONE,
                             .worst_mC = TEMP_NONE,
                             .since_ms = TIME_NONE};
}
