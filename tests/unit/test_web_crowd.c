/* The web server over real sockets: event streams, slow readers and many of them, and what it
 * cannot serve: nobody can hold it up. */
#include "tests/support/put_records.h"
#include "tests/support/web_rig.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <unistd.h>

/* ---- event streams ---- */

static int
open_stream(struct web_rig *f, const char *extra)
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
    struct web_rig *f = *state;
    static char first[200000], second[200000];
    first[0] = second[0] = '\0';
    int a = open_stream(f, ""), b = open_stream(f, "");
    assert_true(http_read_until(a, "id: 1\nevent: now\ndata: {", first, sizeof first));
    assert_true(http_read_until(b, "id: 1\nevent: now\ndata: {", second, sizeof second));
    assert_non_null(strstr(first, "text/event-stream"));
    web_rig_publish(f, sample_snapshot(&f->kitchen));
    assert_true(http_read_until(a, "id: 2\n", first, sizeof first));
    assert_true(http_read_until(b, "id: 2\n", second, sizeof second));
    web_rig_publish(f, sample_snapshot(&f->kitchen));
    assert_true(http_read_until(a, "id: 3\n", first, sizeof first));
    assert_int_equal(close(a), 0);
    web_rig_publish(f, sample_snapshot(&f->kitchen));
    assert_true(http_read_until(b, "id: 4\n", second, sizeof second));
    assert_int_equal(close(b), 0);
}

static void
test_web_stream_resumes_after_last_event_id(void **state)
{
    struct web_rig *f = *state;
    static char text[200000];
    text[0] = '\0';
    int fd = open_stream(f, "Last-Event-ID: 1\r\n");
    assert_true(http_read_until(fd, "retry: 2000", text, sizeof text));
    web_rig_publish(f, sample_snapshot(&f->kitchen));
    assert_true(http_read_until(fd, "id: 2\n", text, sizeof text));
    assert_null(strstr(text, "id: 1\n")); /* it had that one */
    assert_int_equal(close(fd), 0);
}

static void
test_web_stop_with_suspended_streams_ends_them(void **state)
{
    struct web_rig *f = *state;
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
    struct web_rig *f = *state;
    static char text[400000];
    text[0] = '\0';
    int slow = open_stream(f, ""), quick = open_stream(f, "");
    assert_true(http_read_until(quick, "id: 1\n", text, sizeof text));
    for (int i = 0; i < 3000; i++) /* some 20 MB of events for one who reads none */
        web_rig_publish(f, sample_snapshot(&f->kitchen));
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
    web_rig_status(f, "/", 200);
    assert_int_equal(close(slow), 0);
    assert_int_equal(close(quick), 0);
}

static void
test_web_one_address_cannot_take_all_connections(void **state)
{
    struct web_rig *f = *state;
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
    web_rig_publish(f, sample_snapshot(&f->kitchen)); /* the first write after a client left */
    web_rig_publish(f, sample_snapshot(&f->kitchen));
    struct http_reply reply = {0};
    for (int i = 0; i < 200 && reply.status != 200;
         i++) { /* each new snapshot is a write that notices them */
        http_reply_done(&reply);
        web_rig_publish(f, sample_snapshot(&f->kitchen));
        http_get(f->port, "/", "", &reply);
    }
    assert_int_equal(reply.status, 200);
    http_reply_done(&reply);
}

static void
fill_more(struct web_rig *f)
{
    struct store_error error;
    struct store *store = store_open(f->directory, NULL, &error);
    if (store == NULL)
        fail_msg("%s", error.text);
    for (int64_t i = 1; i <= 150000; i++) { /* some 8 MB as CSV: more than sockets swallow */
        struct reading reading = {
            .at_ms = SAMPLE_NOW_MS + i * 100, .probe = SAMPLE_CUPBOARD_AIR, .temp_mC = 71500};
        store_must(store_reading(store, &reading, &error), &error);
    }
    store_must(store_commit(store, &error), &error);
    store_close(store);
}

static int
open_export(struct web_rig *f, char *head, size_t size)
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
    struct web_rig *f = *state;
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
    web_rig_status(f, "/", 200); /* they hold nobody up */
    web_rig_status(f, "/place/walk-in", 200);
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
    struct web_rig *f = *state;
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
    web_rig_contains(&reply, "trivet export");
    http_reply_done(&reply);
}

static void
test_web_unreadable_store_is_told_and_the_page_lives(void **state)
{
    struct web_rig *f = *state;
    struct http_reply reply;
    char why[300] = "";
    web_stop(f->web);
    struct web_options options = {
        .listen = "127.0.0.1", .directory = "/nonexistent-for-trivet", .version = "test"};
    f->web = web_start(&options, f->board, why, sizeof why);
    assert_non_null(f->web);
    f->port = web_port(f->web);
    web_rig_status(f, "/", 200);
    web_rig_status(f, "/now.json", 200);
    http_get(f->port, "/deviations", "", &reply);
    assert_int_equal(reply.status, 503);
    web_rig_contains(&reply, "The record cannot be read now");
    web_rig_contains(&reply, "nonexistent-for-trivet");
    http_reply_done(&reply);
    web_rig_status(f, "/batch/7", 503);
    web_rig_status(f, "/records", 503);
}

static void
test_web_address_in_use_is_told(void **state)
{
    struct web_rig *f = *state;
    char why[300] = "";
    struct web_options options = {
        .listen = "127.0.0.1", .port = f->port, .directory = f->directory, .version = "test"};
    assert_null(web_start(&options, f->board, why, sizeof why));
    assert_non_null(strstr(why, "another port"));
    options.listen = "kitchen";
    assert_null(web_start(&options, f->board, why, sizeof why));
    assert_non_null(strstr(why, "not a numeric address"));
}

int
main(void)
{
    const struct CMUnitTest tests[] = {
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
