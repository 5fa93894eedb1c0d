/* The web server over real sockets: what its pages and files show. */
#include "tests/support/web_rig.h"

#include <stdio.h>
#include <string.h>

#include <jansson.h>

/* ---- what is shown ---- */

/* A date as a sentence has it: never broken inside. */
#define WHOLE(date) "<span class=\"whole\">" date "</span>"

static void
test_web_now_page_shows_sentences_and_ages(void **state)
{
    struct web_rig *f = *state;
    struct http_reply reply;
    http_get(f->port, "/", "", &reply);
    assert_int_equal(reply.status, 200);
    web_rig_contains(&reply, "Core 48.3&nbsp;°C; needs at least 63.0&nbsp;°C for 3&nbsp;min.");
    web_rig_contains(&reply, "Cold enough: 3.4&nbsp;°C, limit at most 5.0&nbsp;°C.");
    web_rig_contains(&reply, "data-age=\"2\">2 s ago</span>");
    web_rig_contains(&reply, "authority prevail");
    /* Nothing wants looking after, and the script finds where it would stand. */
    web_rig_contains(&reply, "id=\"thermometers\" aria-labelledby=\"h-thermometers\" hidden>");
    web_rig_contains(&reply,
                     "<noscript><meta http-equiv=\"refresh\" content=\"30\"></noscript>");
    assert_null(strstr(reply.body, "http://"));
    assert_null(strstr(reply.body, "https://"));
    assert_null(strstr(reply.body, " style="));
    assert_null(strstr(reply.body, "ticket calm stale"));
    http_reply_done(&reply);
}

static void
test_web_old_news_look_old(void **state)
{
    struct web_rig *f = *state;
    struct http_reply reply;
    web_rig_set_now(SAMPLE_NOW_MS + 20 * MINUTES);
    http_get(f->port, "/", "", &reply);
    web_rig_contains(&reply, "id=\"banner-late\"><strong>No news from the watch since");
    web_rig_contains(&reply, "ticket calm stale");
    web_rig_contains(&reply, "20 min ago");
    http_reply_done(&reply);
}

static void
test_web_warnings_are_on_the_page(void **state)
{
    struct web_rig *f = *state;
    struct http_reply reply;
    struct snapshot *snapshot = sample_snapshot_with_deviation(&f->kitchen);
    f->kitchen.plan.demo = true;
    snapshot->unrecorded = true;
    strcpy(snapshot->unrecorded_why, "disk <full>");
    snapshot->clock_trusted = false;
    web_rig_publish(f, snapshot);
    http_get(f->port, "/", "", &reply);
    web_rig_contains(&reply, "id=\"banner-demo\"><strong>Demo data.");
    web_rig_contains(&reply, "id=\"banner-unrecorded\"><strong>Not on record.");
    web_rig_contains(&reply, "disk &lt;full&gt;");
    web_rig_contains(&reply, "id=\"banner-clock\"><strong>");
    web_rig_contains(&reply, "Deviation 4");
    web_rig_contains(&reply, "class=\"ticket act\" data-place=\"walk-in\"");
    http_reply_done(&reply);
}

/* Days by hand from the sample's: now is 3 March 2026, checks every 30 days, told 14 days
 * ahead. */
static void
test_web_thermometers_to_look_after_are_listed(void **state)
{
    struct web_rig *f = *state;
    struct http_reply reply;
    web_rig_publish(f, sample_snapshot_with_checks(&f->kitchen));
    http_get(f->port, "/", "", &reply);
    web_rig_contains(&reply, "id=\"thermometers\" aria-labelledby=\"h-thermometers\">");
    web_rig_contains(&reply,
                     "<li data-thermometer=\"filling-core\"><strong>Filling core</strong> "
                     "<span data-f=\"sentence\">Never checked, and the plan asks for it: "
                     "trivet calibrate filling-core.</span></li>");
    web_rig_contains(&reply,
                     "Its check was due on " WHOLE("2026-03-02") "; last found right on " WHOLE(
                         "2026-01-31") ": trivet calibrate walk-in-air.");
    web_rig_contains(&reply,
                     "Found right on " WHOLE("2026-02-11") "; has to be checked by " WHOLE(
                         "2026-03-13") ": trivet calibrate cupboard-air.");
    web_rig_contains(
        &reply, "<li data-thermometer=\"pen\"><strong>Pen &lt;2&gt;</strong> <span "
                "data-f=\"sentence\">Found outside its tolerance; last found right "
                "on " WHOLE("2026-02-21") ". Adjust it or take it out of use.</span></li>");
    assert_null(strstr(reply.body, "data-thermometer=\"roast-core\""));
    web_rig_contains(&reply, "<li data-reference=\"old\" data-state=\"overdue\"><strong>Old "
                             "rod</strong> certificate until " WHOLE(
                                 "2026-03-02") ": nothing can be checked "
                                               "against it now</li>");
    web_rig_contains(
        &reply, "<li data-reference=\"rod\" data-state=\"due-soon\"><strong>Rod"
                "</strong> certificate until " WHOLE("2026-03-12") ": have it renewed</li>");
    assert_null(strstr(reply.body, "data-reference=\"bath\""));
    http_reply_done(&reply);
}

static void
test_web_records_page_tells_every_thermometer(void **state)
{
    struct web_rig *f = *state;
    struct http_reply reply;
    web_rig_publish(f, sample_snapshot_with_checks(&f->kitchen));
    http_get(f->port, "/records", "", &reply);
    web_rig_contains(
        &reply,
        "<li><strong>Roast core</strong> Found right on " WHOLE(
            "2026-03-01") "; due again "
                          "on " WHOLE("2026-03-31") ". Reads 48.3&nbsp;°C, corrected; raw "
                                                    "47.9&nbsp;°C. "
                                                    "Correction in force: +0.4 at a raw 0.0, "
                                                    "the same everywhere.</li>");
    web_rig_contains(&reply,
                     "<strong>Walk-in air</strong> Its check was due on " WHOLE("2026-03-02"));
    web_rig_contains(&reply, "<strong>Pen &lt;2&gt;</strong> Found outside its tolerance");
    web_rig_contains(&reply, "<ol class=\"checks\">\n</ol>\n<p class=\"none\">None.</p>");
    http_reply_done(&reply);
}

static void
test_web_hostile_names_are_shown_not_run(void **state)
{
    struct web_rig *f = *state;
    struct http_reply reply;
    f->kitchen.places[0].name = "<script>alert(1)</script>\" onload='x' \xe2\x80\xae"
                                "drow \xff\x01 \xf0\x9f\xa5\xa7";
    f->kitchen.plan.site_name = "</title><img src=x>";
    web_rig_publish(f, sample_snapshot(&f->kitchen));
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
    web_rig_contains(&reply, "&lt;script&gt;alert(1)&lt;/script&gt;&quot; onload=&#39;x&#39; "
                             "\\u202Edrow \xef\xbf\xbd\\u0001 \xf0\x9f\xa5\xa7");
    http_reply_done(&reply);
}

static void
test_web_batch_page_has_curve_limits_and_log(void **state)
{
    struct web_rig *f = *state;
    struct http_reply reply;
    http_get(f->port, "/batch/7", "", &reply);
    assert_int_equal(reply.status, 200);
    web_rig_contains(&reply, "<title id=\"curve-t-wide\">Batch 7, Roast pork shoulder</title>");
    web_rig_contains(&reply, "at least 63.0 °C for 3 min</text>");
    web_rig_contains(&reply, "<path class=\"line line0\" d=\"M");
    web_rig_contains(&reply, "Ana Brandt (AB) began the batch");
    web_rig_contains(&reply, "&lt;b&gt;basted&lt;/b&gt; &amp; turned");
    /* What was corrected is never shown without its correction. */
    web_rig_contains(&reply, "measured by hand 53.4&nbsp;°C with red-pen");
    web_rig_contains(&reply, "(JM) corrected record 4: 35.4&nbsp;°C");
    web_rig_contains(&reply, "figures swapped");
    http_reply_done(&reply);
    http_get(f->port, "/batch/7/curve.svg?size=small", "", &reply);
    assert_int_equal(reply.status, 200);
    web_rig_contains(&reply, "image/svg+xml");
    web_rig_contains(&reply, "viewBox=\"0 0 320 72\"");
    http_reply_done(&reply);
    web_rig_status(f, "/place/walk-in", 200);
    web_rig_status(f, "/place/oven", 200);
}

static void
test_web_deviation_log_names_people_and_food(void **state)
{
    struct web_rig *f = *state;
    struct http_reply reply;
    http_get(f->port, "/deviations?days=2", "", &reply);
    assert_int_equal(reply.status, 200);
    web_rig_contains(&reply, "Deviation 3");
    web_rig_contains(&reply, "Jo Marsh (JM)");
    web_rig_contains(&reply, "door ajar");
    web_rig_contains(&reply, "<dt>The food</dt><dd>used at once</dd>");
    web_rig_contains(&reply, "Verified by Tove Lund (TL)");
    web_rig_contains(&reply, "2026-03-03 12:44:00");
    /* A gap is a deviation like the others: opened and ended. */
    web_rig_contains(&reply, "Deviation 4: <a href=\"/place/walk-in\">");
    assert_null(strstr(reply.body, "Opened before the time shown here"));
    http_reply_done(&reply);
}

static void
test_web_records_page_and_exports(void **state)
{
    struct web_rig *f = *state;
    struct http_reply reply;
    char value[100];
    http_get(f->port, "/records", "", &reply);
    assert_int_equal(reply.status, 200);
    web_rig_contains(&reply, "<dt>Last record</dt><dd>10</dd>");
    web_rig_contains(&reply, "/export/readings.csv?from=2026-03-03&amp;to=2026-03-03");
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
    struct web_rig *f = *state;
    for (int i = 0; i < 3; i++) {
        struct http_reply reply;
        json_error_t error;
        web_rig_set_now(SAMPLE_NOW_MS + 2000 + i * 500);
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
    struct web_rig *f = *state;
    struct http_reply first, later;
    web_rig_set_now(SAMPLE_NOW_MS + 2000);
    http_get(f->port, "/", "", &first);
    web_rig_set_now(SAMPLE_NOW_MS + 2999);
    http_get(f->port, "/", "", &later);
    assert_string_equal(first.body, later.body);
    http_reply_done(&later);
    web_rig_set_now(SAMPLE_NOW_MS + 3000);
    http_get(f->port, "/", "", &later);
    assert_string_not_equal(first.body, later.body); /* ages have grown */
    assert_null(strstr(later.body, "Deviation 4"));
    http_reply_done(&later);
    web_rig_publish(f, sample_snapshot_with_deviation(&f->kitchen)); /* in the same second */
    http_get(f->port, "/", "", &later);
    web_rig_contains(&later, "Deviation 4");
    http_reply_done(&later);
    http_reply_done(&first);
}

static void
test_web_static_files_answer_not_modified(void **state)
{
    struct web_rig *f = *state;
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
    web_rig_status(f, "/page.js", 200);
    web_rig_status(f, "/favicon.svg", 200);
}

int
main(void)
{
    const struct CMUnitTest tests[] = {
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
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
