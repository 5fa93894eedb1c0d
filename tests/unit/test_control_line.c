/* The pure pieces of the control protocol: lines, requests, answers. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>
#include <jansson.h>

#include "daemon/control/answer.h"
#include "daemon/control/line.h"
#include "daemon/control/request.h"

/* ---- lines ---- */

static void
feed(struct line_buffer *buffer, const char *bytes, size_t len)
{
    while (len > 0) {
        char *at;
        size_t room = line_room(buffer, &at);
        size_t part = len < room ? len : room;
        if (part == 0)
            return;
        memcpy(at, bytes, part);
        line_added(buffer, part);
        bytes += part;
        len -= part;
    }
}

static void
test_line_cut_anywhere_comes_out_whole(void **state)
{
    (void)state;
    const char text[] = "first\n\nthird line\n";
    const char *lines[] = {"first", "", "third line"};
    struct line_buffer *buffer = malloc(sizeof *buffer);
    assert_non_null(buffer);
    for (size_t cut = 0; cut < sizeof text; cut++) {
        line_clear(buffer);
        size_t found = 0;
        for (int part = 0; part < 2; part++) {
            feed(buffer, part == 0 ? text : text + cut, part == 0 ? cut : strlen(text) - cut);
            char *line;
            size_t len;
            while (line_take(buffer, &line, &len) == LINE_TAKEN) {
                assert_true(found < 3);
                assert_string_equal(line, lines[found]);
                assert_int_equal(len, strlen(lines[found]));
                found++;
            }
        }
        assert_int_equal(found, 3);
        assert_false(line_cut_short(buffer));
    }
    free(buffer);
}

static void
test_line_of_the_longest_length_is_taken_and_one_more_byte_is_refused(void **state)
{
    (void)state;
    struct line_buffer *buffer = malloc(sizeof *buffer);
    char *bytes = malloc(CONTROL_LINE_MAX + 1);
    assert_non_null(buffer);
    assert_non_null(bytes);
    memset(bytes, 'x', CONTROL_LINE_MAX + 1);
    bytes[CONTROL_LINE_MAX] = '\n';
    line_clear(buffer);
    feed(buffer, bytes, CONTROL_LINE_MAX + 1);
    char *line;
    size_t len;
    assert_true(line_waiting(buffer));
    assert_int_equal(line_take(buffer, &line, &len), LINE_TAKEN);
    assert_int_equal(len, CONTROL_LINE_MAX);

    bytes[CONTROL_LINE_MAX] = 'x';
    line_clear(buffer);
    feed(buffer, bytes, CONTROL_LINE_MAX);
    assert_int_equal(line_take(buffer, &line, &len), LINE_NONE);
    feed(buffer, bytes, 1);
    assert_true(line_waiting(buffer));
    assert_int_equal(line_take(buffer, &line, &len), LINE_TOO_LONG);
    free(bytes);
    free(buffer);
}

static void
test_line_without_its_end_is_cut_short(void **state)
{
    (void)state;
    struct line_buffer *buffer = malloc(sizeof *buffer);
    assert_non_null(buffer);
    line_clear(buffer);
    assert_false(line_cut_short(buffer));
    feed(buffer, "a\nb", 3);
    char *line;
    size_t len;
    assert_int_equal(line_take(buffer, &line, &len), LINE_TAKEN);
    assert_int_equal(line_take(buffer, &line, &len), LINE_NONE);
    assert_true(line_cut_short(buffer));
    free(buffer);
}

/* ---- requests ---- */

static bool
read_text(const char *text, struct request *ret, char wrong[500])
{
    wrong[0] = '\0';
    return control_request_read(text, strlen(text), ret, wrong, 500);
}

static void
test_request_that_is_no_request_is_refused_in_words(void **state)
{
    (void)state;
    static const struct {
        const char *line, *says;
    } cases[] = {
        {"", "not JSON"},
        {"hello", "not JSON"},
        {"{\"do\":\"now\"", "not JSON"},
        {"{\"do\":\"now\"} {}", "not JSON"},
        {"{\"do\":\"now\",\"do\":\"now\"}", "not JSON"},
        {"{\"do\":\"n\\u0000w\"}", "not JSON"},
        {"{\"do\":\"\xff\"}", "not JSON"},
        {"[]", "no object"},
        {"[{\"do\":\"now\"}]", "no object"},
        {"{}", "\"do\" is missing"},
        {"{\"do\":5}", "\"do\" is missing"},
        {"{\"do\":\"\"}", "none of the words"},
        {"{\"do\":\"none\"}", "none of the words"},
        {"{\"do\":\"reading\"}", "none of the words"},
        {"{\"do\":\"now\",\"x\":1}", "no other keys"},
        {"{\"do\":\"note\",\"who\":\"AB\",\"text\":\"x\",\"peer_uid\":0}", "peer_uid"},
        {"{\"do\":\"note\",\"who\":\"AB\"}", "text"},
        {"{\"do\":\"note\",\"who\":\"AB\",\"text\":\"x\",\"colour\":\"red\"}", "colour"},
        {"{\"do\":\"hand\",\"who\":\"AB\",\"thermometer\":\"pen\",\"temp_mC\":63.4}",
         "temp_mC"},
    };
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        struct request request;
        char wrong[500];
        assert_false(read_text(cases[i].line, &request, wrong));
        if (strstr(wrong, cases[i].says) == NULL)
            fail_msg("%s was answered \"%s\", without \"%s\"", cases[i].line, wrong,
                     cases[i].says);
    }
}

static void
test_request_nested_too_deep_is_refused(void **state)
{
    (void)state;
    char *deep = malloc(CONTROL_LINE_MAX);
    assert_non_null(deep);
    memset(deep, '[', CONTROL_LINE_MAX);
    struct request request;
    char wrong[500];
    assert_false(control_request_read(deep, CONTROL_LINE_MAX, &request, wrong, sizeof wrong));
    assert_non_null(strstr(wrong, "not JSON"));
    free(deep);
}

static void
test_request_of_each_entry_word_becomes_that_entry(void **state)
{
    (void)state;
    struct request request;
    char wrong[500];
    assert_true(read_text("{\"do\":\"hand\",\"who\":\"AB\",\"thermometer\":\"red-pen\","
                          "\"temp_mC\":63400,\"batch\":4}",
                          &request, wrong));
    assert_int_equal(request.kind, REQUEST_ENTRY);
    assert_int_equal(request.entry.kind, ENTRY_HAND);
    assert_string_equal(request.entry.who, "AB");
    assert_int_equal(request.entry.temp_mC, 63400);
    assert_int_equal(request.entry.batch, 4);
    assert_int_equal(request.entry.peer_uid, -1);
    for (enum entry_kind kind = ENTRY_BEGIN; kind <= ENTRY_SHELVE; kind++) {
        char line[64];
        (void)snprintf(line, sizeof line, "{\"do\":\"%s\"}", entry_kind_word(kind));
        assert_false(read_text(line, &request, wrong));
        /* Known, only incomplete: it names a key that is missing. */
        assert_null(strstr(wrong, "none of the words"));
    }
}

static void
test_request_of_each_question_is_known(void **state)
{
    (void)state;
    struct request request;
    char wrong[500];
    assert_true(read_text("{\"do\":\"now\"}", &request, wrong));
    assert_int_equal(request.kind, REQUEST_NOW);
    assert_true(read_text("{\"do\":\"lists\"}\r", &request, wrong));
    assert_int_equal(request.kind, REQUEST_LISTS);
    assert_true(read_text(" {\"do\" : \"where\"}", &request, wrong));
    assert_int_equal(request.kind, REQUEST_WHERE);
}

/* ---- answers ---- */

static json_t *
parse_line(const char *text, size_t len)
{
    assert_true(len > 0);
    assert_int_equal(strlen(text), len);
    assert_int_equal(text[len - 1], '\n');
    assert_null(memchr(text, '\n', len - 1));
    json_t *object = json_loadb(text, len, JSON_REJECT_DUPLICATES, NULL);
    assert_non_null(object);
    return object;
}

static const char *
text_at(const json_t *object, const char *key)
{
    return json_string_value(json_object_get(object, key));
}

static void
test_answer_to_an_entry_carries_its_numbers(void **state)
{
    (void)state;
    struct entry_answer answer = {.code = 200, .seq = 812, .batch = 4, .say = "Batch 4 begun."};
    char line[ANSWER_SHORT_MAX];
    json_t *object = parse_line(line, control_answer_entry(line, sizeof line, &answer));
    assert_int_equal(json_integer_value(json_object_get(object, "code")), 200);
    assert_int_equal(json_integer_value(json_object_get(object, "seq")), 812);
    assert_int_equal(json_integer_value(json_object_get(object, "batch")), 4);
    assert_null(json_object_get(object, "deviation"));
    assert_string_equal(text_at(object, "say"), "Batch 4 begun.");
    json_decref(object);
    assert_int_equal(control_answer_entry(line, 20, &answer), 0);
}

static void
test_answer_where_without_a_plan_still_tells_the_store(void **state)
{
    (void)state;
    const struct control_options options = {.path = "/run/trivet/control",
                                            .directory = "/var/lib/trivet",
                                            .page = "http://127.0.0.1:8470/",
                                            .version = "0.1.0"};
    char line[ANSWER_SHORT_MAX];
    json_t *object = parse_line(line, control_answer_where(line, sizeof line, &options, NULL));
    const json_t *where = json_object_get(object, "where");
    assert_string_equal(text_at(where, "store"), "/var/lib/trivet");
    assert_string_equal(text_at(where, "page"), "http://127.0.0.1:8470/");
    assert_null(json_object_get(where, "plan"));
    json_decref(object);
}

/* A kitchen small enough to be written down here. */
static struct plan_person people[] = {{"AB", "Ana Brandt", ROLE_COOK},
                                      {"CD", "Cem \"Dee\" Dogan", ROLE_SUPERVISOR}};
static struct plan_probe probes[] = {
    {.id = "core-1", .name = "Core 1", .number = 1},
    {.id = "walk-in-air", .name = "Walk-in air", .number = 2, .kind = PROBE_AIR}};
static struct plan_place places[] = {{.id = "walk-in", .name = "Walk-in", .probe = 1}};
static struct plan_handheld handhelds[] = {{.id = "red-pen", .name = "Red pen"}};
static struct plan_product products[] = {
    {.id = "pork-loin",
     .name = "Rolled pork loin",
     .steps = {{.id = "cook",
                .name = "Cook",
                .place = -1,
                .limit = {.kind = LIMIT_COOK, .temp = {63000, TEMP_C}, .hold_ms = 180000}},
               {.id = "hold", .name = "Cold holding", .place = 0}},
     .step_count = 2}};
static const struct plan plan = {.file = "plan.yaml",
                                 .site_name = "Harbour Lane Kitchen",
                                 .time_zone = "Europe/London",
                                 .people = people,
                                 .person_count = 2,
                                 .probes = probes,
                                 .probe_count = 2,
                                 .places = places,
                                 .place_count = 1,
                                 .products = products,
                                 .product_count = 1,
                                 .handhelds = handhelds,
                                 .handheld_count = 1};

static void
test_answer_lists_names_everything_that_can_be_named(void **state)
{
    (void)state;
    struct engine_probe_view views[] = {
        {.number = 1, .batch = 4, .last_good = {.at_ms = 1000, .temp_mC = 61200}},
        {.number = 2, .last_good = {.at_ms = TIME_NONE}}};
    struct snapshot_batch batch = {
        .view = {.number = 4, .plan = &plan, .product = &products[0], .who = "AB", .step = 0},
        .sentence = "Cooking; 61.2 \xc2\xb0"
                    "C."};
    struct snapshot_deviation deviation = {.view = {.number = 2,
                                                    .opened = {.at_ms = 900},
                                                    .ended_ms = TIME_NONE,
                                                    .action_seq = 77,
                                                    .action_by = "AB"},
                                           .sentence = "Walk-in was too warm."};
    struct snapshot snapshot = {.offset_ms = 5,
                                .plan = &plan,
                                .probe_count = 2,
                                .probes = views,
                                .batch_count = 1,
                                .batches = &batch,
                                .deviation_count = 1,
                                .deviations = &deviation};
    char line[65536];
    json_t *object = parse_line(line, control_answer_lists(line, sizeof line, &snapshot, 1234));
    const json_t *lists = json_object_get(object, "lists");
    assert_string_equal(text_at(lists, "time_zone"), "Europe/London");
    assert_int_equal(json_integer_value(json_object_get(lists, "now_ms")), 1234);
    assert_string_equal(text_at(json_array_get(json_object_get(lists, "people"), 1), "name"),
                        "Cem \"Dee\" Dogan");
    const json_t *product = json_array_get(json_object_get(lists, "products"), 0);
    const json_t *step = json_array_get(json_object_get(product, "steps"), 1);
    assert_string_equal(text_at(step, "place"), "walk-in");
    const json_t *probe = json_array_get(json_object_get(lists, "probes"), 0);
    assert_int_equal(json_integer_value(json_object_get(probe, "batch")), 4);
    assert_int_equal(json_integer_value(json_object_get(probe, "temp_mC")), 61200);
    probe = json_array_get(json_object_get(lists, "probes"), 1);
    assert_true(json_is_true(json_object_get(probe, "watches_place")));
    assert_null(json_object_get(probe, "temp_mC"));
    const json_t *running = json_array_get(json_object_get(lists, "batches"), 0);
    assert_string_equal(text_at(running, "next_step"), "hold");
    const json_t *open = json_array_get(json_object_get(lists, "deviations"), 0);
    assert_string_equal(text_at(open, "state"), "verify");
    assert_string_equal(text_at(open, "action_by"), "AB");
    json_decref(object);
    assert_int_equal(control_answer_lists(line, 300, &snapshot, 1234), 0);
}

static void
test_answer_before_the_first_snapshot_says_to_ask_again(void **state)
{
    (void)state;
    char line[ANSWER_SHORT_MAX];
    json_t *object = parse_line(line, control_answer_lists(line, sizeof line, NULL, 0));
    assert_int_equal(json_integer_value(json_object_get(object, "code")), 503);
    json_decref(object);
    object = parse_line(line, control_answer_now(line, sizeof line, NULL, 0));
    assert_int_equal(json_integer_value(json_object_get(object, "code")), 503);
    json_decref(object);
}

int
main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_line_cut_anywhere_comes_out_whole),
        cmocka_unit_test(test_line_of_the_longest_length_is_taken_and_one_more_byte_is_refused),
        cmocka_unit_test(test_line_without_its_end_is_cut_short),
        cmocka_unit_test(test_request_that_is_no_request_is_refused_in_words),
        cmocka_unit_test(test_request_nested_too_deep_is_refused),
        cmocka_unit_test(test_request_of_each_entry_word_becomes_that_entry),
        cmocka_unit_test(test_request_of_each_question_is_known),
        cmocka_unit_test(test_answer_to_an_entry_carries_its_numbers),
        cmocka_unit_test(test_answer_where_without_a_plan_still_tells_the_store),
        cmocka_unit_test(test_answer_lists_names_everything_that_can_be_named),
        cmocka_unit_test(test_answer_before_the_first_snapshot_says_to_ask_again),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
