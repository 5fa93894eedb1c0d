/* The web server over real sockets: what it refuses, and how. */
#include "tests/support/web_rig.h"

#include <stdio.h>
#include <string.h>
#include <sys/socket.h>
#include <unistd.h>

/* ---- the door ---- */

static void
test_web_other_methods_are_refused_with_allow(void **state)
{
    struct web_rig *f = *state;
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
check_host(struct web_rig *f, const char *host_lines, int status)
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
    struct web_rig *f = *state;
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
    struct web_rig *f = *state;
    struct http_reply reply;
    http_exchange(f->port, "GET / HTTP/1.0\r\n\r\n", &reply);
    assert_int_equal(reply.status, 400);
    http_reply_done(&reply);
}

static void
test_web_traversal_finds_nothing(void **state)
{
    struct web_rig *f = *state;
    static const char *const targets[] = {
        "/../../etc/passwd", "/%2e%2e/%2e%2e/etc/passwd",
        "/place/../../etc",  "/place/..%2f..%2fetc",
        "//etc/passwd",      "/style.css/../page.js",
        "/batch/7/../../",   "/.",
        "/place/\\..\\etc",  "/export/..csv%00.csv?from=2026-01-01&to=2026-01-01"};
    for (size_t i = 0; i < sizeof targets / sizeof targets[0]; i++)
        web_rig_status(f, targets[i], 400);
    web_rig_status(f, "/etc/passwd", 404);
    web_rig_status(f, "/style.css.map", 404);
    web_rig_status(f, "/page.js/x", 404);
}

static void
test_web_long_requests_are_refused(void **state)
{
    struct web_rig *f = *state;
    static char target[60002];
    memset(target, 'a', sizeof target - 1);
    target[0] = '/';
    target[3000] = '\0';
    web_rig_status(f, target, 414);
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
    web_rig_status(f, "/", 200);
}

/* Linked from where a decision is shown, and escaped like everything else. */
static void
test_web_why_explains_a_decision(void **state)
{
    struct web_rig *f = *state;
    struct http_reply reply;
    http_get(f->port, "/deviations?days=400", "", &reply);
    web_rig_contains(&reply, "<a class=\"why\" href=\"/why/d3\">why</a>");
    http_reply_done(&reply);
    http_get(f->port, "/batch/7", "", &reply);
    web_rig_contains(&reply, "<a class=\"why\" href=\"/why/2\">why</a>");
    http_reply_done(&reply);
    http_get(f->port, "/why/d3", "", &reply);
    assert_int_equal(reply.status, 200);
    web_rig_contains(&reply, "Deviation 3 opened (outside the limit for longer than allowed)");
    web_rig_contains(&reply, "<dt>Rule</dt><dd>E22: ");
    web_rig_contains(&reply, "hold_cold 5.0"); /* this store has no plan */
    web_rig_contains(&reply, "outside");
    web_rig_contains(&reply, "corrective action by ");
    web_rig_contains(&reply, "verification by ");
    http_reply_done(&reply);
    http_get(f->port, "/why/b7", "", &reply);
    assert_int_equal(reply.status, 200);
    web_rig_contains(&reply, "Step begun, step roast");
    http_reply_done(&reply);
    http_get(f->port, "/why/1", "", &reply); /* an entry */
    assert_int_equal(reply.status, 200);
    web_rig_contains(&reply, "<a href=\"/why/2\">record 2</a>");
    http_reply_done(&reply);
    static const char *const nothing[] = {"/why/d99", "/why/b99", "/why/999",
                                          "/why/0",   "/why/d3x", "/why/x",
                                          "/why/3/4", "/why/-1",  "/why/d-1"};
    for (size_t i = 0; i < sizeof nothing / sizeof nothing[0]; i++)
        web_rig_status(f, nothing[i], 404);
}

static void
test_web_bad_queries_are_told(void **state)
{
    struct web_rig *f = *state;
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
        web_rig_status(f, targets[i], 400);
    web_rig_status(f, "/place/nowhere", 404);
    web_rig_status(f, "/batch/99", 404);
    web_rig_status(f, "/place/oven/curve.svg", 404);
}

static void
test_web_malformed_requests_do_no_harm(void **state)
{
    struct web_rig *f = *state;
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
    web_rig_status(f, "/", 200);
}

static void
test_web_body_on_get_is_refused(void **state)
{
    struct web_rig *f = *state;
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
    struct web_rig *f = *state;
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
    struct web_rig *f = *state;
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
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
