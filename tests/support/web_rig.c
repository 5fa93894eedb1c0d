/* See web_rig.h. */
#include "tests/support/web_rig.h"

#include <dirent.h>
#include <stdatomic.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include <jansson.h>

#include "tests/support/put_records.h"

#define SAMPLE_RECORDS 10 /* in the store of a morning */

static struct web_rig rig;
static atomic_int_fast64_t now_ms;

void
web_rig_set_now(int64_t at_ms)
{
    atomic_store(&now_ms, at_ms);
}

static int64_t
tell_now(void *arg)
{
    (void)arg;
    return atomic_load(&now_ms);
}

/* ---- a store with a morning in it ---- */

static void
put_batch(struct store *store)
{
    struct entry entry;
    int64_t begun_ms = SAMPLE_NOW_MS - 95 * MINUTES;
    entry_clear(&entry, ENTRY_BEGIN);
    strcpy(entry.who, "AB");
    strcpy(entry.product, "roast-shoulder");
    strcpy(entry.probes[0], "roast-core");
    entry.probe_count = 1;
    entry.batch = 7;
    (void)put_entry(store, begun_ms, &entry);
    struct decision step = plain_decision(DECISION_STEP_BEGUN, REASON_ENTERED, begun_ms);
    step.batch = 7;
    strcpy(step.step, "roast");
    (void)put_decision(store, &step);
    entry_clear(&entry, ENTRY_NOTE);
    strcpy(entry.who, "AB");
    entry.batch = 7;
    strcpy(entry.text, "<b>basted</b> & turned");
    (void)put_entry(store, begun_ms + 30 * MINUTES, &entry);
    entry_clear(&entry, ENTRY_HAND);
    strcpy(entry.who, "AB");
    strcpy(entry.thermometer, "red-pen");
    entry.batch = 7;
    entry.has_temp = true;
    entry.temp_mC = 53400;
    uint64_t misread = put_entry(store, begun_ms + 31 * MINUTES, &entry);
    entry_clear(&entry, ENTRY_CORRECT);
    strcpy(entry.who, "JM");
    entry.refers = misread;
    entry.has_temp = true;
    entry.temp_mC = 35400;
    strcpy(entry.reason, "figures swapped");
    (void)put_entry(store, begun_ms + 32 * MINUTES, &entry);
}

static void
put_deviation(struct store *store)
{
    struct entry entry;
    struct decision opened = plain_decision(DECISION_DEVIATION_OPENED, REASON_OUT_TOO_LONG,
                                            SAMPLE_NOW_MS - 60 * MINUTES);
    opened.deviation = 3;
    strcpy(opened.place, "walk-in");
    opened.limit = LIMIT_HOLD_COLD;
    opened.subject = SUBJECT_AIR;
    opened.required.milli = 5000;
    opened.required_ms = 20 * MINUTES;
    opened.temp_mC = 7250;
    opened.since_ms = SAMPLE_NOW_MS - 80 * MINUTES;
    (void)put_decision(store, &opened);
    entry_clear(&entry, ENTRY_ACTION);
    strcpy(entry.who, "JM");
    entry.deviation = 3;
    entry.disposition = DISPOSITION_USE_AT_ONCE;
    strcpy(entry.found, "door ajar");
    strcpy(entry.done, "door shut, milk moved");
    (void)put_entry(store, SAMPLE_NOW_MS - 50 * MINUTES, &entry);
    entry_clear(&entry, ENTRY_VERIFY);
    strcpy(entry.who, "TL");
    entry.deviation = 3;
    (void)put_entry(store, SAMPLE_NOW_MS - 40 * MINUTES, &entry);
    struct decision gap = plain_decision(DECISION_GAP_OPENED, REASON_NO_GOOD_READING,
                                         SAMPLE_NOW_MS - 39 * MINUTES);
    gap.deviation = 4;
    strcpy(gap.place, "walk-in");
    (void)put_decision(store, &gap);
    gap = plain_decision(DECISION_GAP_ENDED, REASON_GOOD_AGAIN, SAMPLE_NOW_MS - 31 * MINUTES);
    gap.deviation = 4;
    strcpy(gap.place, "walk-in");
    (void)put_decision(store, &gap);
}

static uint64_t
fill_store(const char *directory)
{
    struct store_error error;
    struct store *store = store_open(directory, NULL, &error);
    if (store == NULL)
        fail_msg("%s", error.text);
    put_batch(store);
    put_deviation(store);
    for (int64_t at_ms = SAMPLE_NOW_MS - 95 * MINUTES; at_ms <= SAMPLE_NOW_MS; at_ms += 10000) {
        struct reading roast = {.at_ms = at_ms, .probe = SAMPLE_ROAST_CORE};
        roast.temp_mC = (int32_t)(8000 + (at_ms - SAMPLE_NOW_MS + 95 * MINUTES) / 142);
        struct reading air = {.at_ms = at_ms, .probe = SAMPLE_WALK_IN_AIR, .temp_mC = 3400};
        store_must(store_reading(store, &roast, &error), &error);
        store_must(store_reading(store, &air, &error), &error);
    }
    store_must(store_commit(store, &error), &error);
    uint64_t seq = store_head(store)->seq;
    store_close(store);
    return seq;
}

/* ---- set-up ---- */

void
web_rig_publish(struct web_rig *f, struct snapshot *snapshot)
{
    snapshot->version = ++f->version;
    snapshot->seq = SAMPLE_RECORDS;
    board_publish(f->board, snapshot);
}

int
web_rig_set_up(void **state)
{
    static const char *const names[] = {"kitchen.example", NULL};
    struct web_rig *f = *state = &rig;
    char why[300] = "";
    memset(f, 0, sizeof *f);
    web_rig_set_now(SAMPLE_NOW_MS + 2000);
    strcpy(f->directory, "/tmp/trivet-test-web-XXXXXX");
    assert_non_null(mkdtemp(f->directory));
    assert_int_equal(fill_store(f->directory), SAMPLE_RECORDS);
    sample_kitchen_init(&f->kitchen);
    f->board = board_new();
    assert_non_null(f->board);
    board_set_now(f->board, tell_now, NULL);
    web_rig_publish(f, sample_snapshot(&f->kitchen));
    struct web_options options = {
        .listen = "127.0.0.1", .names = names, .directory = f->directory, .version = "test"};
    f->web = web_start(&options, f->board, why, sizeof why);
    if (f->web == NULL)
        fail_msg("%s", why);
    f->port = web_port(f->web);
    return 0;
}

int
web_rig_tear_down(void **state)
{
    struct web_rig *f = *state;
    char path[400];
    web_stop(f->web);
    board_free(f->board);
    DIR *dir = opendir(f->directory);
    for (struct dirent *entry; dir != NULL && (entry = readdir(dir)) != NULL;) {
        (void)snprintf(path, sizeof path, "%s/%s", f->directory, entry->d_name);
        (void)unlink(path);
    }
    if (dir != NULL)
        (void)closedir(dir);
    return rmdir(f->directory);
}

void
web_rig_status(struct web_rig *f, const char *target, int status)
{
    struct http_reply reply;
    http_get(f->port, target, "", &reply);
    if (reply.status != status)
        fail_msg("%.80s: status %d, not %d", target, reply.status, status);
    http_reply_done(&reply);
}

void
web_rig_contains(const struct http_reply *reply, const char *text)
{
    if (strstr(reply->text, text) == NULL)
        fail_msg("'%s' is not in:\n%s", text, reply->text);
}
