/* A person's entry: checked, judged, committed, shown, answered, in that order. An entry that
 * cannot be committed is taken back from the engine as if it had never come, and the person is
 * told so. The recorder's thread. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "daemon/recorder/inside.h"
#include "trivet/business_day.h"
#include "trivet/crash_point.h"
#include "trivet/log.h"

static void
refuse(struct entry_answer *answer, int code, const char *say)
{
    answer->code = code;
    (void)snprintf(answer->say, sizeof answer->say, "%s", say);
}

struct referred {
    enum entry_kind kind;
    struct entry entry;
};

static bool
read_referred(void *arg, const struct store_record *record)
{
    struct referred *referred = arg;
    char why[200];
    enum entry_kind kind = entry_kind_from_word(record->kind);
    if (kind != ENTRY_NONE &&
        entry_read(kind, record->data, record->data_len, &referred->entry, why, sizeof why))
        referred->kind = kind;
    return false;
}

/* A business day can be reviewed when it is over. */
static bool
day_is_over(const struct recorder *recorder, const struct entry *entry, int64_t at_ms,
            struct entry_answer *answer)
{
    struct business_day day;
    char *rest = NULL;
    long year = strtol(entry->day, &rest, 10), month = 0, date = 0;
    if (*rest == '-')
        month = strtol(rest + 1, &rest, 10);
    if (*rest == '-')
        date = strtol(rest + 1, &rest, 10);
    char again[32] = "";
    if (year >= 1 && year <= 9999 && month >= 1 && month <= 12 && date >= 1 && date <= 31)
        (void)snprintf(again, sizeof again, "%04ld-%02ld-%02ld", year, month, date);
    if (recorder->plan == NULL || strcmp(again, entry->day) != 0 ||
        !business_day_named(recorder->plan, (int32_t)year, (int)month, (int)date, &day)) {
        refuse(answer, 400, "There is no such day; write it as 2026-03-01.");
        return false;
    }
    if (at_ms + recorder->line.offset_ms < day.to_ms) {
        refuse(answer, 409,
               "That business day is not over yet (duties: day_ends); review it when it is.");
        return false;
    }
    return true;
}

/* What only the store and the clock can tell about an entry; the engine checks the rest. */
static bool
check_against_records(struct recorder *recorder, const struct entry *entry, int64_t at_ms,
                      struct entry_answer *answer)
{
    if ((entry->kind == ENTRY_COOKED || entry->kind == ENTRY_CORRECT) &&
        entry->given_ms > at_ms) {
        refuse(answer, 400,
               "The time given for the end of cooking is in the future; give a time that has "
               "passed.");
        return false;
    }
    if (entry->kind == ENTRY_REVIEW)
        return day_is_over(recorder, entry, at_ms, answer);
    if (entry->kind == ENTRY_CALIBRATE)
        return calibration_sound(recorder, entry, at_ms, answer);
    if (entry->kind != ENTRY_CORRECT)
        return true;
    struct referred referred = {.kind = ENTRY_NONE};
    struct store_error error;
    if (store_each_record(recorder->lookup, entry->refers - 1, entry->refers, NULL,
                          read_referred, &referred, &error) != STORE_OK) {
        refuse(answer, 503, error.text);
        return false;
    }
    if (referred.kind == ENTRY_NONE) {
        (void)snprintf(answer->say, sizeof answer->say,
                       "Record %llu is not a person's entry, so there is nothing to correct. "
                       "The records page lists "
                       "entries with their numbers.",
                       (unsigned long long)entry->refers);
        answer->code = 404;
        return false;
    }
    if (entry->has_temp && referred.kind != ENTRY_HAND) {
        refuse(
            answer, 400,
            "Only a hand-held reading has a temperature to correct; correct the text instead.");
        return false;
    }
    if (!entry->has_temp && entry->text[0] == '\0' && entry->given_ms == TIME_NONE &&
        !entry->withdraw) {
        refuse(answer, 400, "Say how it should read: a temperature or a text.");
        return false;
    }
    return true;
}

static bool
write_entry(const struct entry *entry, char *buf, size_t size)
{
    struct json_out out;
    out_start(&out, buf, size, true);
    entry_write(entry, &out, NULL);
    return out_done(&out);
}

void
recorder_take_back(struct recorder *recorder, size_t keep_records, size_t state_size,
                   int64_t fed_ms)
{
    const void *state = recorder_saved_engine(recorder);
    pending_forget_records(&recorder->pending, keep_records);
    if (!recorder_restore_engine(recorder, state, state_size))
        log_line(LOG_ERROR, "recorder",
                 "what could not be recorded could not be taken back; restart trivetd");
    recorder->feed.last_ms = fed_ms;
}

static void
enter(struct recorder *recorder, struct entry *entry, int64_t born_mono_ms,
      struct entry_answer *answer)
{
    char data[PENDING_DATA_MAX];
    size_t state_size;
    if (recorder->broken) {
        (void)snprintf(answer->say, sizeof answer->say,
                       "Not recorded: %.300s. Write it down and enter it later.",
                       recorder->trouble.text);
        answer->code = 503;
        return;
    }
    recorder_note_losses(recorder);
    int64_t at_ms = recorder_instant(recorder, born_mono_ms);
    if (entry->kind == ENTRY_BEGIN)
        entry->batch = engine_next_batch(recorder->engine);
    answer->code = 409;
    if (!check_against_records(recorder, entry, at_ms, answer) ||
        !engine_check(recorder->engine, entry, answer->say, sizeof answer->say))
        return;
    engine_complete(recorder->engine, entry);
    if (!write_entry(entry, data, sizeof data)) {
        refuse(answer, 400, "The texts of this entry are too long together; shorten them.");
        return;
    }
    if (!recorder_save_engine(recorder, &state_size)) {
        refuse(answer, 503, "Not recorded: out of memory.");
        return;
    }
    int64_t fed_ms = recorder->feed.last_ms;
    size_t keep_records = recorder->pending.record_count;
    uint64_t seq = store_head(recorder->parts.store)->seq + keep_records + 1;
    recorder_note(recorder, entry_kind_word(entry->kind), at_ms, data, false);
    struct engine_input input = {
        .kind = ENGINE_ENTRY, .at_ms = at_ms, .seq = seq, .is.entry = entry};
    struct engine_check_view before = {0};
    if (entry->kind == ENTRY_CALIBRATE)
        (void)engine_view_check(recorder->engine, entry, &before); /* engine_check found it */
    (void)feed_input(&recorder->feed, &input);
    answer->batch = entry->batch;
    answer->deviation = entry->deviation;
    entry_say(recorder->plan, entry, recorder->feed.out->count == 0, answer);
    if (entry->kind == ENTRY_CALIBRATE)
        calibration_say(recorder, entry, &before, answer);
    entry_say_decisions(recorder->feed.out->decisions, recorder->feed.out->count, answer);
    if (!recorder_commit(recorder, false)) {
        recorder_take_back(recorder, keep_records, state_size, fed_ms);
        *answer = (struct entry_answer){0};
        (void)snprintf(answer->say, sizeof answer->say,
                       "Not recorded: %.300s. Write it down and enter it later.",
                       recorder->trouble.text);
        answer->code = 503;
        return;
    }
    answer->code = 200;
    answer->seq = seq;
}

void
recorder_enter(struct recorder *recorder, struct entry_request *request, int64_t born_mono_ms)
{
    struct entry_answer answer = {.code = 500};
    enter(recorder, &request->entry, born_mono_ms, &answer);
    /* Whoever has the answer and asks again sees what was entered. */
    if (answer.code == 200)
        recorder_publish(recorder);
    crash_point("before-acknowledge");
    if (request->answer != NULL)
        request->answer(request->arg, &answer);
    crash_point("after-acknowledge");
    free(request);
}
