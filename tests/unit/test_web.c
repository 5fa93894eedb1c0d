/* The web server over real sockets: what it refuses, what it shows, and that nobody can hold it
 * up. */
#include <dirent.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdatomic.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <unistd.h>

#include <cmocka.h>
#include <jansson.h>

#include "tests/support/http_client.h"
#include "tests/support/sample_kitchen.h"
#include "trivet/decision.h"
#include "trivet/entry.h"
#include "trivet/store.h"
#include "trivet/web.h"

struct fixture {
    struct sample_kitchen kitchen;
    struct board *board;
    struct web *web;
    uint16_t port;
    uint64_t version;
    char directory[64];
};

#define SAMPLE_RECORDS 10 /* in the store of a morning */

static struct fixture fixture;
static atomic_int_fast64_t now_ms;

static int64_t
tell_now(void *arg)
{
    (void)arg;
    return atomic_load(&now_ms);
}

/* ---- a store with a morning in it ---- */

static void
must(enum store_status status, const struct store_error *error)
{
    if (status != STORE_OK)
        fail_msg("%s", error->text);
}

static uint64_t
put_entry(struct store *store, const struct entry *entry, int64_t at_ms)
{
    char text[8192];
    struct json_out out;
    struct store_error error;
    uint64_t seq = 0;
    out_start(&out, text, sizeof text, true);
    entry_write(entry, &out, NULL);
    assert_true(out_done(&out));
    must(store_record(store, entry_kind_word(entry->kind), at_ms, text, &seq, &error), &error);
    return seq;
}

static void
put_decision(struct store *store, const struct decision *decision)
{
    char text[2048];
    struct json_out out;
    struct store_error error;
    uint64_t seq = 0;
    out_start(&out, text, sizeof text, true);
    decision_write(decision, &out, NULL);
    assert_true(out_done(&out));
    must(store_record(store, "decision", decision->at_ms, text, &seq, &error), &error);
}

static struct decision
plain_decision(enum decision_kind kind, enum decision_reason reason, int64_t at_ms)
{
    return (struct decision){.kind = kind,
                             .reason = reason,
                             .at_ms = at_ms,
                             .temp_mC = TEMP_NONE,
                             .worst_mC = TEMP_NONE,
                             .since_ms = TIME_NONE};
}

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
    (void)put_entry(store, &entry, begun_ms);
    struct decision step = plain_decision(DECISION_STEP_BEGUN, REASON_ENTERED, begun_ms);
    step.batch = 7;
    strcpy(step.step, "roast");
    put_decision(store, &step);
    entry_clear(&entry, ENTRY_NOTE);
    strcpy(entry.who, "AB");
    entry.batch = 7;
    strcpy(entry.text, "<b>basted</b> & turned");
    (void)put_entry(store, &entry, begun_ms + 30 * MINUTES);
    entry_clear(&entry, ENTRY_HAND);
    strcpy(entry.who, "AB");
    strcpy(entry.thermometer, "red-pen");
    entry.batch = 7;
    entry.has_temp = true;
    entry.temp_mC = 53400;
    uint64_t misread = put_entry(store, &entry, begun_ms + 31 * MINUTES);
    entry_clear(&entry, ENTRY_CORRECT);
    strcpy(entry.who, "JM");
    entry.refers = misread;
    entry.has_temp = true;
    entry.temp_mC = 35400;
    strcpy(entry.reason, "figures swapped");
    (void)put_entry(store, &entry, begun_ms + 32 * MINUTES);
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
    put_decision(store, &opened);
    entry_clear(&entry, ENTRY_ACTION);
    strcpy(entry.who, "JM");
    entry.deviation = 3;
    entry.disposition = DISPOSITION_USE_AT_ONCE;
    strcpy(entry.found, "door ajar");
    strcpy(entry.done, "door shut, milk moved");
    (void)put_entry(store, &entry, SAMPLE_NOW_MS - 50 * MINUTES);
    entry_clear(&entry, ENTRY_VERIFY);
    strcpy(entry.who, "TL");
    entry.deviation = 3;
    (void)put_entry(store, &entry, SAMPLE_NOW_MS - 40 * MINUTES);
    struct decision gap = plain_decision(DECISION_GAP_OPENED, REASON_NO_GOOD_READING,
                                         SAMPLE_NOW_MS - 39 * MINUTES);
    gap.deviation = 4;
    strcpy(gap.place, "walk-in");
    put_decision(store, &gap);
    gap = plain_decision(DECISION_GAP_ENDED, REASON_GOOD_AGAIN, SAMPLE_NOW_MS - 31 * MINUTES);
    gap.deviation = 4;
    strcpy(gap.place, "walk-in");
    put_decision(store, &gap);
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
        must(store_reading(store, &roast, &error), &error);
        must(store_reading(store, &air, &error), &error);
    }
    must(store_commit(store, &error), &error);
    uint64_t seq = store_head(store)->seq;
    store_close(store);
    return seq;
}

/* ---- set-up ---- */

static void
publish(struct fixture *f, struct snapshot *snapshot)
{
    snapshot->version = ++f->version;
    snapshot->seq = SAMPLE_RECORDS;
    board_publish(f->board, snapshot);
}

static int
set_up(void **state)
{
    static const char *const names[] = {"kitchen.example", NULL};
    struct fixture *f = *state = &fixture;
    char why[300] = "";
    memset(f, 0, sizeof *f);
    atomic_store(&now_ms, SAMPLE_NOW_MS + 2000);
    strcpy(f->directory, "/tmp/trivet-test-web-XXXXXX");
    assert_non_null(mkdtemp(f->directory));
    assert_int_equal(fill_store(f->directory), SAMPLE_RECORDS);
    sample_kitchen_init(&f->kitchen);
    f->board = board_new();
    assert_non_null(f->board);
    board_set_now(f->board, tell_now, NULL);
    publish(f, sample_snapshot(&f->kitchen));
    struct web_options options = {
        .listen = "127.0.0.1", .names = names, .directory = f->directory, .version = "test"};
    f->web = web_start(&options, f->board, why, sizeof why);
    if (f->web == NULL)
        fail_msg("%s", why);
    f->port = web_port(f->web);
    return 0;
}

static int
tear_down(void **state)
{
    struct fixture *f = *state;
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

static void
check_status(struct fixture *f, const char *target, int status)
{
    struct http_reply reply;
    http_get(f->port, target, "", &reply);
    if (reply.status != status)
        fail_msg("%.80s: status %d, not %d", target, reply.status, status);
    http_reply_done(&reply);
}

static void
check_contains(const struct http_reply *reply, const char *text)
{
    if (strstr(reply->text, text) == NULL)
        fail_msg("'%s' is not in:\n%s", text, reply->text);
}

/* ---- the door ---- */

static void
test_web_other_methods_are_refused_with_allow(void **state)
{
    struct fixture *f = *state;
    static const char *const methods[] = {"POST",  "PUT",     "DELETE", "OPTIONS",
                                          "PATCH", "CONNECT", "TRACE",  "get"};
    for (size_t i = 0; i < sizeof methods / sizeof methods[0]; i++) {
        char request[200], allow[40] = "";
        struct http_reply reply;
        (void)snprintf(request, sizeof request,
                       "%s / HTTP/1.1\r\nHost: localhost:%u\r\nContent-Length: "
                       "3\r\nConnection: close\r\n\r\nabc",
                       methods[i], (unsigned)f->port);
        http_exchange(f->port, request, &reply);
        assert_int_equal(reply.status, 405);
        assert_true(http_header(&reply, "Allow", allow, sizeof allow));
        assert_string_equal(allow, "GET, HEAD");
        http_reply_done(&reply);
    }
}

static void
check_host(struct fixture *f, const char *host_lines, int status)
{
    char request[400];
    struct http_reply reply;
    (void)snprintf(request, sizeof request, "GET / HTTP/1.1\r\n%sConnection: close\r\n\r\n",
                   host_lines);
    http_exchange(f->port, request, &reply);
    if (reply.status != status)
        fail_msg("%s: status %d, not %d", host_lines, reply.status, status);
    http_reply_done(&reply);
}

static void
test_web_host_must_be_ours(void **state)
{
    struct fixture *f = *state;
    char line[200];
    check_host(f, "Host: evil.example\r\n", 421);
    check_host(f, "Host: 127.0.0.1.evil.example\r\n", 421);
    check_host(f, "Host: 192.0.2.7\r\n", 421);
    check_host(f, "Host: 127.0.0.1:1\r\n", 421);
    check_host(f, "Host: localhost:99999999\r\n", 421);
    check_host(f, "Host: [::1\r\n", 421);
    check_host(f, "Host: \r\n", 421);
    check_host(f, "Host: 127.0.0.1\r\nHost: evil.example\r\n", 400);
    check_host(f, "Host: 127.0.0.1\r\n", 200);
    check_host(f, "Host: LOCALHOST\r\n", 200);
    check_host(f, "Host: kitchen.example\r\n", 200);
    check_host(f, "Host: Kitchen.Example:80\r\n", 200);
    (void)snprintf(line, sizeof line, "Host: localhost:%u\r\n", (unsigned)f->port);
    check_host(f, line, 200);
}

static void
test_web_missing_host_is_refused(void **state)
{
    struct fixture *f = *state;
    struct http_reply reply;
    http_exchange(f->port, "GET / HTTP/1.0\r\n\r\n", &reply);
    assert_int_equal(reply.status, 400);
    http_reply_done(&reply);
}

static void
test_web_traversal_finds_nothing(void **state)
{
    struct fixture *f = *state;
    static const char *const targets[] = {
        "/../../etc/passwd", "/%2e%2e/%2e%2e/etc/passwd",
        "/place/../../etc",  "/place/..%2f..%2fetc",
        "//etc/passwd",      "/style.css/../page.js",
        "/batch/7/../../",   "/.",
        "/place/\\..\\etc",  "/export/..csv%00.csv?from=2026-01-01&to=2026-01-01"};
    for (size_t i = 0; i < sizeof targets / sizeof targets[0]; i++)
        check_status(f, targets[i], 400);
    check_status(f, "/etc/passwd", 404);
    check_status(f, "/style.css.map", 404);
    check_status(f, "/page.js/x", 404);
}

static void
test_web_long_requests_are_refused(void **state)
{
    struct fixture *f = *state;
    static char target[60002];
    memset(target, 'a', sizeof target - 1);
    target[0] = '/';
    target[3000] = '\0';
    check_status(f, target, 414);
    target[3000] = 'a';
    struct http_reply reply;
    http_get(f->port, target, "", &reply);
    assert_true(reply.status == 414 ||
                reply.status == 0); /* the library's own answer, or a closed door */
    http_reply_done(&reply);
    static char header[60100];
    (void)snprintf(header, sizeof header, "X-Long: %s\r\n", target + 1);
    http_get(f->port, "/", header, &reply);
    assert_true(reply.status == 431 || reply.status == 413 || reply.status == 0);
    http_reply_done(&reply);
    check_status(f, "/", 200);
}

/* Linked from where a decision is shown, and escaped like everything else. */
static void
test_web_why_explains_a_decision(void **state)
{
    struct fixture *f = *state;
    struct http_reply reply;
    http_get(f->port, "/deviations?days=400", "", &reply);
    check_contains(&reply, "<a class=\"why\" href=\"/why/d3\">why</a>");
    http_reply_done(&reply);
    http_get(f->port, "/batch/7", "", &reply);
    check_contains(&reply, "<a class=\"why\" href=\"/why/2\">why</a>");
    http_reply_done(&reply);
    http_get(f->port, "/why/d3", "", &reply);
    assert_int_equal(reply.status, 200);
    check_contains(&reply, "Deviation 3 opened (outside the limit for longer than allowed)");
    check_contains(&reply, "<dt>Rule</dt><dd>E22: ");
    check_contains(&reply, "hold_cold 5.0"); /* this store has no plan */
    check_contains(&reply, "outside");
    check_contains(&reply, "corrective action by ");
    check_contains(&reply, "verification by ");
    http_reply_done(&reply);
    http_get(f->port, "/why/b7", "", &reply);
    assert_int_equal(reply.status, 200);
    check_contains(&reply, "Step begun, step roast");
    http_reply_done(&reply);
    http_get(f->port, "/why/1", "", &reply); /* an entry */
    assert_int_equal(reply.status, 200);
    check_contains(&reply, "<a href=\"/why/2\">record 2</a>");
    http_reply_done(&reply);
    static const char *const nothing[] = {"/why/d99", "/why/b99", "/why/999",
                                          "/why/0",   "/why/d3x", "/why/x",
                                          "/why/3/4", "/why/-1",  "/why/d-1"};
    for (size_t i = 0; i < sizeof nothing / sizeof nothing[0]; i++)
        check_status(f, nothing[i], 404);
}

static void
test_web_bad_queries_are_told(void **state)
{
    struct fixture *f = *state;
    static const char *const targets[] = {"/?x=1",
                                          "/now.json?callback=a",
                                          "/batch/0",
                                          "/batch/07",
                                          "/batch/-1",
                                          "/batch/99999999999",
                                          "/batch/7x",
                                          "/batch/7?size=small",
                                          "/batch/7/curve.svg?size=big",
                                          "/batch/7/curve.svg?size=small&size=small",
                                          "/batch/7/curve.svg?v=x",
                                          "/deviations?days=0",
                                          "/deviations?days=401",
                                          "/deviations?days=",
                                          "/deviations?days",
                                          "/deviations?=3",
                                          "/deviations?days=%zz",
                                          "/deviations?days=3%00",
                                          "/deviations?days=3&days=4",
                                          "/export/readings.csv",
                                          "/export/readings.csv?from=2026-03-01",
                                          "/export/readings.csv?from=2026-02-30&to=2026-03-03",
                                          "/export/readings.csv?from=2026-03-04&to=2026-03-01",
                                          "/export/secrets.csv?from=2026-03-01&to=2026-03-03",
                                          "/export?kind=all&from=2026-03-01&to=2026-03-03",
                                          "/export/readings.csv?from=01.03.2026&to=2026-03-03",
                                          "/place/walk-in?from=1"};
    for (size_t i = 0; i < sizeof targets / sizeof targets[0]; i++)
        check_status(f, targets[i], 400);
    check_status(f, "/place/nowhere", 404);
    check_status(f, "/batch/99", 404);
    check_status(f, "/place/oven/curve.svg", 404);
}

static void
test_web_malformed_requests_do_no_harm(void **state)
{
    struct fixture *f = *state;
    static const char bad_chunk[] = "GET / HTTP/1.1\r\nHost: localhost\r\nTransfer-Encoding: "
                                    "chunked\r\n\r\nffffffffffffffffff\r\n";
    static const char *const requests[] = {
        "\r\n\r\n",
        "GET\r\n\r\n",
        "GET / HTTP/9.9\r\nHost: localhost\r\n\r\n",
        "GET  HTTP/1.1\r\nHost: localhost\r\n\r\n",
        "\x16\x03\x01\x02\x01\x01\xfc\x03\x03\r\n\r\n",
        "GET / HTTP/1.1\r\nHost\r\nConnection: close\r\n\r\n",
        "GET / HTTP/1.1\r\nHost: localhost\r\nContent-Length: zzz\r\n\r\n",
        bad_chunk};
    for (size_t i = 0; i < sizeof requests / sizeof requests[0]; i++) {
        struct http_reply reply;
        int fd = http_connect(f->port);
        assert_true(fd >= 0);
        assert_true(http_send(fd, requests[i]));
        assert_int_equal(shutdown(fd, SHUT_WR), 0);
        http_read_all(fd, &reply);
        assert_true(reply.status == 0 || reply.status >= 400);
        http_reply_done(&reply);
        assert_int_equal(close(fd), 0);
    }
    check_status(f, "/", 200);
}

static void
test_web_body_on_get_is_refused(void **state)
{
    struct fixture *f = *state;
    struct http_reply reply;
    http_exchange(f->port,
                  "GET / HTTP/1.1\r\nHost: localhost\r\nContent-Length: 4\r\nConnection: "
                  "close\r\n\r\nabcd",
                  &reply);
    assert_int_equal(reply.status, 400);
    http_reply_done(&reply);
}

static void
test_web_head_has_headers_only(void **state)
{
    struct fixture *f = *state;
    static const char *const targets[] = {
        "/",        "/now.json",      "/events",
        "/batch/7", "/place/walk-in", "/deviations",
        "/records", "/style.css",     "/export/readings.csv?from=2026-03-03&to=2026-03-03"};
    for (size_t i = 0; i < sizeof targets / sizeof targets[0]; i++) {
        char request[300];
        struct http_reply reply;
        (void)snprintf(request, sizeof request,
                       "HEAD %s HTTP/1.1\r\nHost: localhost\r\nConnection: close\r\n\r\n",
                       targets[i]);
        http_exchange(f->port, request, &reply);
        if (reply.status != 200 || reply.body[0] != '\0')
            fail_msg("HEAD %s: %s", targets[i], reply.text);
        http_reply_done(&reply);
    }
}

static void
test_web_every_answer_carries_the_safety_headers(void **state)
{
    struct fixture *f = *state;
    static const char *const targets[] = {
        "/",        "/now.json",          "/nothing",
        "/?x=1",    "/style.css",         "/batch/7",
        "/page.js", "/batch/7/curve.svg", "/export/batches.csv?from=2026-03-03&to=2026-03-03"};
    for (size_t i = 0; i < sizeof targets / sizeof targets[0]; i++) {
        char value[400];
        struct http_reply reply;
        http_get(f->port, targets[i], "", &reply);
        assert_true(http_header(&reply, "Content-Security-Policy", value, sizeof value));
        assert_non_null(strstr(value, "default-src 'none'"));
        assert_non_null(strstr(value, "frame-ancestors 'none'"));
        assert_true(http_header(&reply, "X-Content-Type-Options", value, sizeof value));
        assert_string_equal(value, "nosniff");
        assert_true(http_header(&reply, "Referrer-Policy", value, sizeof value));
        assert_true(http_header(&reply, "Cache-Control", value, sizeof value));
        assert_false(http_header(&reply, "Set-Cookie", value, sizeof value));
        http_reply_done(&reply);
    }
}

/* ---- what is shown ---- */

static void
test_web_now_page_shows_sentences_and_ages(void **state)
{
    struct fixture *f = *state;
    struct http_reply reply;
    http_get(f->port, "/", "", &reply);
    assert_int_equal(reply.status, 200);
    check_contains(&reply, "Core 48.3&nbsp;°C; needs at least 63.0&nbsp;°C for 3 min.");
    check_contains(&reply, "Cold enough: 3.4&nbsp;°C, limit at most 5.0&nbsp;°C.");
    check_contains(&reply, "data-age=\"2\">2 s ago</span>");
    check_contains(&reply, "authority prevail");
    /* Nothing wants looking after, and the script finds where it would stand. */
    check_contains(&reply, "id=\"thermometers\" aria-labelledby=\"h-thermometers\" hidden>");
    check_contains(&reply, "<noscript><meta http-equiv=\"refresh\" content=\"30\"></noscript>");
    assert_null(strstr(reply.body, "http://"));
    assert_null(strstr(reply.body, "https://"));
    assert_null(strstr(reply.body, " style="));
    assert_null(strstr(reply.body, "ticket calm stale"));
    http_reply_done(&reply);
}

static void
test_web_old_news_look_old(void **state)
{
    struct fixture *f = *state;
    struct http_reply reply;
    atomic_store(&now_ms, SAMPLE_NOW_MS + 20 * MINUTES);
    http_get(f->port, "/", "", &reply);
    check_contains(&reply, "id=\"banner-late\"><strong>No news from the watch since");
    check_contains(&reply, "ticket calm stale");
    check_contains(&reply, "20 min ago");
    http_reply_done(&reply);
}

static void
test_web_warnings_are_on_the_page(void **state)
{
    struct fixture *f = *state;
    struct http_reply reply;
    struct snapshot *snapshot = sample_snapshot_with_deviation(&f->kitchen);
    f->kitchen.plan.demo = true;
    snapshot->unrecorded = true;
    strcpy(snapshot->unrecorded_why, "disk <full>");
    snapshot->clock_trusted = false;
    publish(f, snapshot);
    http_get(f->port, "/", "", &reply);
    check_contains(&reply, "id=\"banner-demo\"><strong>Demo data.");
    check_contains(&reply, "id=\"banner-unrecorded\"><strong>Not on record.");
    check_contains(&reply, "disk &lt;full&gt;");
    check_contains(&reply, "id=\"banner-clock\"><strong>");
    check_contains(&reply, "Deviation 4");
    check_contains(&reply, "class=\"ticket act\" data-place=\"walk-in\"");
    http_reply_done(&reply);
}

/* Days by hand from the sample's: now is 3 March 2026, checks every 30 days, told 14 days
 * ahead. */
static void
test_web_thermometers_to_look_after_are_listed(void **state)
{
    struct fixture *f = *state;
    struct http_reply reply;
    publish(f, sample_snapshot_with_checks(&f->kitchen));
    http_get(f->port, "/", "", &reply);
    check_contains(&reply, "id=\"thermometers\" aria-labelledby=\"h-thermometers\">");
    check_contains(&reply,
                   "<li data-thermometer=\"filling-core\"><strong>Filling core</strong> "
                   "<span data-f=\"sentence\">Never checked, and the plan asks for it: "
                   "trivet calibrate filling-core.</span></li>");
    check_contains(&reply, "Its check was due on 2026-03-02; last found right on 2026-01-31: "
                           "trivet calibrate walk-in-air.");
    check_contains(&reply, "Found right on 2026-02-11; has to be checked by 2026-03-13: trivet "
                           "calibrate cupboard-air.");
    check_contains(&reply, "<li data-thermometer=\"pen\"><strong>Pen &lt;2&gt;</strong> <span "
                           "data-f=\"sentence\">Found outside its tolerance; last found right "
                           "on 2026-02-21. Adjust it or take it out of use.</span></li>");
    assert_null(strstr(reply.body, "data-thermometer=\"roast-core\""));
    check_contains(&reply, "<li data-reference=\"old\" data-state=\"overdue\"><strong>Old "
                           "rod</strong> certificate until 2026-03-02: nothing can be checked "
                           "against it now</li>");
    check_contains(&reply, "<li data-reference=\"rod\" data-state=\"due-soon\"><strong>Rod"
                           "</strong> certificate until 2026-03-12: have it renewed</li>");
    assert_null(strstr(reply.body, "data-reference=\"bath\""));
    http_reply_done(&reply);
}

static void
test_web_records_page_tells_every_thermometer(void **state)
{
    struct fixture *f = *state;
    struct http_reply reply;
    publish(f, sample_snapshot_with_checks(&f->kitchen));
    http_get(f->port, "/records", "", &reply);
    check_contains(&reply,
                   "<li><strong>Roast core</strong> Found right on 2026-03-01; due again "
                   "on 2026-03-31. Reads 48.3 °C, corrected; raw 47.9 °C. "
                   "Correction in force: +0.4 at a raw 0.0, the same everywhere.</li>");
    check_contains(&reply, "<strong>Walk-in air</strong> Its check was due on 2026-03-02");
    check_contains(&reply, "<strong>Pen &lt;2&gt;</strong> Found outside its tolerance");
    check_contains(&reply, "<ol class=\"checks\">\n</ol>\n<p class=\"none\">None.</p>");
    http_reply_done(&reply);
}

static void
test_web_hostile_names_are_shown_not_run(void **state)
{
    struct fixture *f = *state;
    struct http_reply reply;
    f->kitchen.places[0].name = "<script>alert(1)</script>\" onload='x' \xe2\x80\xae"
                                "drow \xff\x01 \xf0\x9f\xa5\xa7";
    f->kitchen.plan.site_name = "</title><img src=x>";
    publish(f, sample_snapshot(&f->kitchen));
    static const char *const targets[] = {"/", "/place/walk-in", "/place/walk-in/curve.svg",
                                          "/deviations", "/nothing"};
    for (size_t i = 0; i < sizeof targets / sizeof targets[0]; i++) {
        http_get(f->port, targets[i], "", &reply);
        assert_null(strstr(reply.body, "<script>"));
        assert_null(strstr(reply.body, "<img src=x"));
        assert_null(strstr(reply.body, "onload='x'"));
        assert_null(strstr(reply.body, "\xe2\x80\xae"));
        assert_null(strchr(reply.body, '\x01'));
        http_reply_done(&reply);
    }
    http_get(f->port, "/place/walk-in", "", &reply);
    check_contains(&reply, "&lt;script&gt;alert(1)&lt;/script&gt;&quot; onload=&#39;x&#39; "
                           "\\u202Edrow \xef\xbf\xbd\\u0001 \xf0\x9f\xa5\xa7");
    http_reply_done(&reply);
}

static void
test_web_batch_page_has_curve_limits_and_log(void **state)
{
    struct fixture *f = *state;
    struct http_reply reply;
    http_get(f->port, "/batch/7", "", &reply);
    assert_int_equal(reply.status, 200);
    check_contains(&reply, "<title id=\"curve-t-wide\">Batch 7, Roast pork shoulder</title>");
    check_contains(&reply, "at least 63.0 °C for 3 min</text>");
    check_contains(&reply, "<path class=\"line line0\" d=\"M");
    check_contains(&reply, "Ana Brandt (AB) began the batch");
    check_contains(&reply, "&lt;b&gt;basted&lt;/b&gt; &amp; turned");
    /* What was corrected is never shown without its correction. */
    check_contains(&reply, "measured by hand 53.4 °C with red-pen");
    check_contains(&reply, "(JM) corrected record 4: 35.4 °C");
    check_contains(&reply, "figures swapped");
    http_reply_done(&reply);
    http_get(f->port, "/batch/7/curve.svg?size=small", "", &reply);
    assert_int_equal(reply.status, 200);
    check_contains(&reply, "image/svg+xml");
    check_contains(&reply, "viewBox=\"0 0 320 72\"");
    http_reply_done(&reply);
    check_status(f, "/place/walk-in", 200);
    check_status(f, "/place/oven", 200);
}

static void
test_web_deviation_log_names_people_and_food(void **state)
{
    struct fixture *f = *state;
    struct http_reply reply;
    http_get(f->port, "/deviations?days=2", "", &reply);
    assert_int_equal(reply.status, 200);
    check_contains(&reply, "Deviation 3");
    check_contains(&reply, "Jo Marsh (JM)");
    check_contains(&reply, "door ajar");
    check_contains(&reply, "<dt>The food</dt><dd>used at once</dd>");
    check_contains(&reply, "Verified by Tove Lund (TL)");
    check_contains(&reply, "2026-03-03 12:44:00");
    /* A gap is a deviation like the others: opened and ended. */
    check_contains(&reply, "Deviation 4: <a href=\"/place/walk-in\">");
    assert_null(strstr(reply.body, "Opened before the time shown here"));
    http_reply_done(&reply);
}

static void
test_web_records_page_and_exports(void **state)
{
    struct fixture *f = *state;
    struct http_reply reply;
    char value[100];
    http_get(f->port, "/records", "", &reply);
    assert_int_equal(reply.status, 200);
    check_contains(&reply, "<dt>Last record</dt><dd>10</dd>");
    check_contains(&reply, "/export/readings.csv?from=2026-03-03&amp;to=2026-03-03");
    http_reply_done(&reply);
    http_get(f->port, "/export/readings.csv?from=2026-03-03&to=2026-03-03", "", &reply);
    assert_int_equal(reply.status, 200);
    assert_true(http_header(&reply, "Content-Disposition", value, sizeof value));
    assert_string_equal(value,
                        "attachment; filename=\"trivet-readings-2026-03-03-2026-03-03.csv\"");
    size_t lines = 0;
    for (const char *at = reply.body; *at != '\0'; at++)
        lines += *at == '\n';
    assert_int_equal(lines,
                     1 + 2 * 571); /* a header; 95 min every 10 s, both ends, two probes */
    http_reply_done(&reply);
    http_get(f->port, "/export?kind=readings&from=2026-03-04&to=2026-03-05", "", &reply);
    assert_int_equal(reply.status, 200);
    http_reply_done(&reply);
    /* A file of demo data says so after it was saved. */
    f->kitchen.plan.demo = true;
    http_get(f->port, "/export/readings.csv?from=2026-03-03&to=2026-03-03", "", &reply);
    assert_true(http_header(&reply, "Content-Disposition", value, sizeof value));
    assert_non_null(strstr(value, "\"trivet-demo-readings-"));
    http_reply_done(&reply);
}

static void
test_web_now_json_is_json_and_shared_within_a_second(void **state)
{
    struct fixture *f = *state;
    for (int i = 0; i < 3; i++) {
        struct http_reply reply;
        json_error_t error;
        atomic_store(&now_ms, SAMPLE_NOW_MS + 2000 + i * 500);
        http_get(f->port, "/now.json", "", &reply);
        assert_int_equal(reply.status, 200);
        json_t *root = json_loads(reply.body, JSON_REJECT_DUPLICATES, &error);
        if (root == NULL)
            fail_msg("%s", error.text);
        assert_int_equal(json_integer_value(json_object_get(root, "age_s")), 2 + i / 2);
        json_decref(root);
        http_reply_done(&reply);
    }
}

static void
test_web_now_page_is_shared_within_a_second_of_one_snapshot_only(void **state)
{
    struct fixture *f = *state;
    struct http_reply first, later;
    atomic_store(&now_ms, SAMPLE_NOW_MS + 2000);
    http_get(f->port, "/", "", &first);
    atomic_store(&now_ms, SAMPLE_NOW_MS + 2999);
    http_get(f->port, "/", "", &later);
    assert_string_equal(first.body, later.body);
    http_reply_done(&later);
    atomic_store(&now_ms, SAMPLE_NOW_MS + 3000);
    http_get(f->port, "/", "", &later);
    assert_string_not_equal(first.body, later.body); /* ages have grown */
    assert_null(strstr(later.body, "Deviation 4"));
    http_reply_done(&later);
    publish(f, sample_snapshot_with_deviation(&f->kitchen)); /* in the same second */
    http_get(f->port, "/", "", &later);
    check_contains(&later, "Deviation 4");
    http_reply_done(&later);
    http_reply_done(&first);
}

static void
test_web_static_files_answer_not_modified(void **state)
{
    struct fixture *f = *state;
    struct http_reply reply;
    char tag[60], header[100];
    http_get(f->port, "/style.css", "", &reply);
    assert_int_equal(reply.status, 200);
    assert_true(http_header(&reply, "ETag", tag, sizeof tag));
    http_reply_done(&reply);
    (void)snprintf(header, sizeof header, "If-None-Match: %s\r\n", tag);
    http_get(f->port, "/style.css", header, &reply);
    assert_int_equal(reply.status, 304);
    assert_string_equal(reply.body, "");
    http_reply_done(&reply);
    check_status(f, "/page.js", 200);
    check_status(f, "/favicon.svg", 200);
}

/* ---- event streams ---- */

static int
open_stream(struct fixture *f, const char *extra)
{
    char request[300];
    int fd = http_connect(f->port);
    assert_true(fd >= 0);
    (void)snprintf(request, sizeof request, "GET /events HTTP/1.1\r\nHost: localhost\r\n%s\r\n",
                   extra);
    assert_true(http_send(fd, request));
    return fd;
}

static void
test_web_two_streams_hear_every_new_version(void **state)
{
    struct fixture *f = *state;
    static char first[200000], second[200000];
    first[0] = second[0] = '\0';
    int a = open_stream(f, ""), b = open_stream(f, "");
    assert_true(http_read_until(a, "id: 1\nevent: now\ndata: {", first, sizeof first));
    assert_true(http_read_until(b, "id: 1\nevent: now\ndata: {", second, sizeof second));
    assert_non_null(strstr(first, "text/event-stream"));
    publish(f, sample_snapshot(&f->kitchen));
    assert_true(http_read_until(a, "id: 2\n", first, sizeof first));
    assert_true(http_read_until(b, "id: 2\n", second, sizeof second));
    publish(f, sample_snapshot(&f->kitchen));
    assert_true(http_read_until(a, "id: 3\n", first, sizeof first));
    assert_int_equal(close(a), 0);
    publish(f, sample_snapshot(&f->kitchen));
    assert_true(http_read_until(b, "id: 4\n", second, sizeof second));
    assert_int_equal(close(b), 0);
}

static void
test_web_stream_resumes_after_last_event_id(void **state)
{
    struct fixture *f = *state;
    static char text[200000];
    text[0] = '\0';
    int fd = open_stream(f, "Last-Event-ID: 1\r\n");
    assert_true(http_read_until(fd, "retry: 2000", text, sizeof text));
    publish(f, sample_snapshot(&f->kitchen));
    assert_true(http_read_until(fd, "id: 2\n", text, sizeof text));
    assert_null(strstr(text, "id: 1\n")); /* it had that one */
    assert_int_equal(close(fd), 0);
}

static void
test_web_stop_with_suspended_streams_ends_them(void **state)
{
    struct fixture *f = *state;
    enum { STREAMS = 20 };
    int fds[STREAMS];
    static char text[200000];
    for (size_t i = 0; i < STREAMS; i++) {
        fds[i] = open_stream(f, "");
        text[0] = '\0';
        assert_true(http_read_until(fds[i], "\"buses\":", text, sizeof text));
    }
    web_stop(f->web); /* aborts the process if one stays suspended */
    f->web = NULL;
    for (size_t i = 0; i < STREAMS; i++) {
        struct http_reply reply;
        http_read_all(fds[i], &reply); /* comes to an end */
        http_reply_done(&reply);
        assert_int_equal(close(fds[i]), 0);
    }
    assert_int_equal(http_connect(f->port), -1);
}

static void
test_web_slow_stream_skips_and_holds_nobody_up(void **state)
{
    struct fixture *f = *state;
    static char text[400000];
    text[0] = '\0';
    int slow = open_stream(f, ""), quick = open_stream(f, "");
    assert_true(http_read_until(quick, "id: 1\n", text, sizeof text));
    for (int i = 0; i < 3000; i++) /* some 20 MB of events for one who reads none */
        publish(f, sample_snapshot(&f->kitchen));
    char wanted[40];
    (void)snprintf(wanted, sizeof wanted, "id: %llu\n", (unsigned long long)f->version);
    for (;;) { /* the quick one arrives at the newest, whatever it skipped */
        size_t len = strlen(text);
        if (strstr(text, wanted) != NULL)
            break;
        if (len > sizeof text / 2) {
            memmove(text, text + len - 100, 101);
            len = 100;
        }
        ssize_t got = recv(quick, text + len, sizeof text - len - 1, 0);
        assert_true(got > 0);
        text[len + (size_t)got] = '\0';
    }
    check_status(f, "/", 200);
    assert_int_equal(close(slow), 0);
    assert_int_equal(close(quick), 0);
}

static void
test_web_one_address_cannot_take_all_connections(void **state)
{
    struct fixture *f = *state;
    enum { TRIES = 100 };
    int fds[TRIES];
    int alive = 0;
    static char text[200000];
    for (size_t i = 0; i < TRIES; i++) {
        fds[i] = http_connect(f->port);
        assert_true(fds[i] >= 0);
        (void)http_send(fds[i], "GET /events HTTP/1.1\r\nHost: localhost\r\n\r\n");
        text[0] = '\0';
        alive += http_read_until(fds[i], "retry:", text, sizeof text);
    }
    assert_int_equal(alive, 64);
    for (size_t i = 0; i < TRIES; i++)
        assert_int_equal(close(fds[i]), 0);
    publish(f, sample_snapshot(&f->kitchen)); /* the first write after a client left */
    publish(f, sample_snapshot(&f->kitchen));
    struct http_reply reply = {0};
    for (int i = 0; i < 200 && reply.status != 200;
         i++) { /* each new snapshot is a write that notices them */
        http_reply_done(&reply);
        publish(f, sample_snapshot(&f->kitchen));
        http_get(f->port, "/", "", &reply);
    }
    assert_int_equal(reply.status, 200);
    http_reply_done(&reply);
}

static void
fill_more(struct fixture *f)
{
    struct store_error error;
    struct store *store = store_open(f->directory, NULL, &error);
    if (store == NULL)
        fail_msg("%s", error.text);
    for (int64_t i = 1; i <= 150000; i++) { /* some 8 MB as CSV: more than sockets swallow */
        struct reading reading = {
            .at_ms = SAMPLE_NOW_MS + i * 100, .probe = SAMPLE_CUPBOARD_AIR, .temp_mC = 71500};
        must(store_reading(store, &reading, &error), &error);
    }
    must(store_commit(store, &error), &error);
    store_close(store);
}

static int
open_export(struct fixture *f, char *head, size_t size)
{
    int small = 4096, fd = http_connect(f->port);
    assert_true(fd >= 0);
    (void)setsockopt(fd, SOL_SOCKET, SO_RCVBUF, &small, sizeof small);
    assert_true(http_send(fd,
                          "GET /export/readings.csv?from=2026-03-03&to=2026-03-04 HTTP/1.1\r\n"
                          "Host: localhost\r\nConnection: close\r\n\r\n"));
    head[0] = '\0';
    (void)http_read_until(fd, "\r\n\r\n", head, size);
    return fd;
}

static void
test_web_slow_exports_are_bounded_and_whole(void **state)
{
    struct fixture *f = *state;
    enum { SLOW = 4 };
    int fds[SLOW];
    char head[4096];
    fill_more(f);
    for (size_t i = 0; i < SLOW; i++) {
        fds[i] = open_export(f, head, sizeof head);
        assert_non_null(strstr(head, " 200 "));
    }
    int fifth = open_export(f, head, sizeof head);
    assert_non_null(strstr(head, " 503 "));
    assert_non_null(strstr(head, "Retry-After: 30"));
    assert_int_equal(close(fifth), 0);
    check_status(f, "/", 200); /* they hold nobody up */
    check_status(f, "/place/walk-in", 200);
    struct http_reply reply;
    char length[32];
    for (size_t i = 0; i < SLOW; i++)
        assert_int_equal(close(fds[i]), 0);
    for (;;) { /* until the server has noticed that they left */
        http_get(f->port, "/export/readings.csv?from=2026-03-03&to=2026-03-04", "", &reply);
        if (reply.status != 503)
            break;
        http_reply_done(&reply);
    }
    assert_int_equal(reply.status, 200);
    assert_true(http_header(&reply, "Content-Length", length, sizeof length));
    assert_int_equal(strtoul(length, NULL, 10), reply.len - (size_t)(reply.body - reply.text));
    assert_true(reply.len > 5000000);
    http_reply_done(&reply);
}

static void
test_web_export_without_room_is_told(void **state)
{
    struct fixture *f = *state;
    struct http_reply reply;
    char why[300] = "";
    web_stop(f->web);
    assert_int_equal(setenv("TMPDIR", "/nonexistent-for-trivet", 1), 0);
    struct web_options options = {
        .listen = "127.0.0.1", .directory = f->directory, .version = "test"};
    f->web = web_start(&options, f->board, why, sizeof why);
    assert_int_equal(unsetenv("TMPDIR"), 0);
    assert_non_null(f->web);
    f->port = web_port(f->web);
    http_get(f->port, "/export/readings.csv?from=2026-03-03&to=2026-03-03", "", &reply);
    assert_int_equal(reply.status, 507);
    check_contains(&reply, "trivet export");
    http_reply_done(&reply);
}

static void
test_web_unreadable_store_is_told_and_the_page_lives(void **state)
{
    struct fixture *f = *state;
    struct http_reply reply;
    char why[300] = "";
    web_stop(f->web);
    struct web_options options = {
        .listen = "127.0.0.1", .directory = "/nonexistent-for-trivet", .version = "test"};
    f->web = web_start(&options, f->board, why, sizeof why);
    assert_non_null(f->web);
    f->port = web_port(f->web);
    check_status(f, "/", 200);
    check_status(f, "/now.json", 200);
    http_get(f->port, "/deviations", "", &reply);
    assert_int_equal(reply.status, 503);
    check_contains(&reply, "The record cannot be read now");
    check_contains(&reply, "nonexistent-for-trivet");
    http_reply_done(&reply);
    check_status(f, "/batch/7", 503);
    check_status(f, "/records", 503);
}

static void
test_web_address_in_use_is_told(void **state)
{
    struct fixture *f = *state;
    char why[300] = "";
    struct web_options options = {
        .listen = "127.0.0.1", .port = f->port, .directory = f->directory, .version = "test"};
    assert_null(web_start(&options, f->board, why, sizeof why));
    assert_non_null(strstr(why, "another port"));
    options.listen = "kitchen";
    assert_null(web_start(&options, f->board, why, sizeof why));
    assert_non_null(strstr(why, "not a numeric address"));
}

#define WEB_TEST(name) cmocka_unit_test_setup_teardown(name, set_up, tear_down)

int
main(void)
{
    const struct CMUnitTest tests[] = {
        WEB_TEST(test_web_other_methods_are_refused_with_allow),
        WEB_TEST(test_web_host_must_be_ours),
        WEB_TEST(test_web_missing_host_is_refused),
        WEB_TEST(test_web_traversal_finds_nothing),
        WEB_TEST(test_web_long_requests_are_refused),
        WEB_TEST(test_web_why_explains_a_decision),
        WEB_TEST(test_web_bad_queries_are_told),
        WEB_TEST(test_web_malformed_requests_do_no_harm),
        WEB_TEST(test_web_body_on_get_is_refused),
        WEB_TEST(test_web_head_has_headers_only),
        WEB_TEST(test_web_every_answer_carries_the_safety_headers),
        WEB_TEST(test_web_now_page_shows_sentences_and_ages),
        WEB_TEST(test_web_old_news_look_old),
        WEB_TEST(test_web_warnings_are_on_the_page),
        WEB_TEST(test_web_thermometers_to_look_after_are_listed),
        WEB_TEST(test_web_records_page_tells_every_thermometer),
        WEB_TEST(test_web_hostile_names_are_shown_not_run),
        WEB_TEST(test_web_batch_page_has_curve_limits_and_log),
        WEB_TEST(test_web_deviation_log_names_people_and_food),
        WEB_TEST(test_web_records_page_and_exports),
        WEB_TEST(test_web_now_json_is_json_and_shared_within_a_second),
        WEB_TEST(test_web_now_page_is_shared_within_a_second_of_one_snapshot_only),
        WEB_TEST(test_web_static_files_answer_not_modified),
        WEB_TEST(test_web_two_streams_hear_every_new_version),
        WEB_TEST(test_web_stream_resumes_after_last_event_id),
        WEB_TEST(test_web_stop_with_suspended_streams_ends_them),
        WEB_TEST(test_web_slow_stream_skips_and_holds_nobody_up),
        WEB_TEST(test_web_one_address_cannot_take_all_connections),
        WEB_TEST(test_web_slow_exports_are_bounded_and_whole),
        WEB_TEST(test_web_export_without_room_is_told),
        WEB_TEST(test_web_unreadable_store_is_told_and_the_page_lives),
        WEB_TEST(test_web_address_in_use_is_told),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
