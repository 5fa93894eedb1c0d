/* One request: refused at the door, answered at once, or sent to a desk and answered when it
 * comes back.
 *
 * Server thread; struct request lives from the request line until libmicrohttpd says it is
 * completed. */
#include "request.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>

#include "desk.h"
#include "events.h"

enum place_of_work { AT_ONCE, AT_PAGES, AT_EXPORTS };

struct route {
    const char *path;
    bool more; /* a prefix: the work reads the rest */
    enum place_of_work where;
    answer_work *work;
    const char *const *keys; /* of its query */
};

static const char *const no_keys[] = {NULL};
static const char *const curve_keys[] = {"size", "v", NULL};
static const char *const days_keys[] = {"days", NULL};
static const char *const export_keys[] = {"from", "to", NULL};
static const char *const form_keys[] = {"kind", "from", "to", NULL};

static const struct route routes[] = {
    {"/", false, AT_ONCE, page_now, no_keys},
    {"/now.json", false, AT_ONCE, now_json, no_keys},
    {"/events", false, AT_ONCE, event_stream, no_keys},
    {"/style.css", false, AT_ONCE, static_file, no_keys},
    {"/page.js", false, AT_ONCE, static_file, no_keys},
    {"/favicon.svg", false, AT_ONCE, static_file, no_keys},
    {"/batch/", true, AT_PAGES, page_batch, curve_keys},
    {"/place/", true, AT_PAGES, page_place, curve_keys},
    {"/deviations", false, AT_PAGES, page_deviations, days_keys},
    {"/why/", true, AT_PAGES, page_why, no_keys},
    {"/records", false, AT_PAGES, page_records, no_keys},
    {"/export", false, AT_EXPORTS, export_file, form_keys},
    {"/export/", true, AT_EXPORTS, export_file, export_keys},
};

void *
request_begin(void *arg, const char *target, struct MHD_Connection *connection)
{
    struct request *request = calloc(1, sizeof *request);
    if (request == NULL)
        return NULL;
    request->web = arg;
    request->connection = connection;
    size_t len = strlen(target);
    memcpy(request->target, target,
           len < sizeof request->target - 1 ? len : sizeof request->target - 1);
    return request;
}

void
request_completed(void *arg, struct MHD_Connection *connection, void **request_at,
                  enum MHD_RequestTerminationCode why)
{
    struct request *request = *request_at;
    (void)arg;
    (void)connection;
    (void)why;
    if (request == NULL)
        return;
    answer_drop(&request->answer);
    if (request->holds_export_file)
        atomic_fetch_sub(&request->web->export_files, 1);
    free(request);
    *request_at = NULL;
}

static enum MHD_Result
send_answer(struct request *request)
{
    if (request->answer.response == NULL)
        return MHD_NO;
    enum MHD_Result result = MHD_queue_response(request->connection, request->answer.status,
                                                request->answer.response);
    answer_drop(&request->answer);
    return result;
}

/* ---- the door ---- */

struct host_count {
    unsigned count;
    const char *value;
};

static enum MHD_Result
count_host(void *arg, enum MHD_ValueKind kind, const char *key, const char *value)
{
    struct host_count *host = arg;
    (void)kind;
    if (strcasecmp(key, MHD_HTTP_HEADER_HOST) == 0) {
        host->count++;
        host->value = value;
    }
    return MHD_YES;
}

static bool
refuse_host(struct request *request)
{
    struct host_count host = {0};
    (void)MHD_get_connection_values(request->connection, MHD_HEADER_KIND, count_host, &host);
    if (host.count != 1 || host.value == NULL) {
        request->answer = answer_words(request->web, MHD_HTTP_BAD_REQUEST, "Which host?",
                                       "The request must name exactly one Host.");
        return true;
    }
    if (host_allowed(&request->web->host, host.value))
        return false;
    request->answer = answer_words(
        request->web, MHD_HTTP_MISDIRECTED_REQUEST, "Not under this name",
        "This page answers only to the address it listens on and to the names listed in "
        "the plan (web: names). Use one of these, or add this name to the plan.");
    return true;
}

static bool
refuse_method(struct request *request, const char *method)
{
    request->is_head = strcmp(method, MHD_HTTP_METHOD_HEAD) == 0;
    if (request->is_head || strcmp(method, MHD_HTTP_METHOD_GET) == 0)
        return false;
    request->answer =
        answer_with(answer_words(request->web, MHD_HTTP_METHOD_NOT_ALLOWED, "Read only",
                                 "This page can only be read. Entries are made with the trivet "
                                 "command in the kitchen."),
                    MHD_HTTP_HEADER_ALLOW, "GET, HEAD");
    return true;
}

static const struct route *
find_route(const char *path)
{
    for (size_t i = 0; i < sizeof routes / sizeof routes[0]; i++) {
        size_t len = strlen(routes[i].path);
        if (routes[i].more ? strncmp(path, routes[i].path, len) == 0 && path[len] != '\0'
                           : strcmp(path, routes[i].path) == 0)
            return &routes[i];
    }
    return NULL;
}

static struct answer
dispatch(struct request *request, bool *ret_waits)
{
    char why[200];
    const struct web *web = request->web;
    *ret_waits = false;
    if (strlen(request->target) > TARGET_MAX)
        return answer_words(web, MHD_HTTP_URI_TOO_LONG, "Too long an address",
                            "The address is longer than any of ours; shorten it.");
    if (!query_parse(request->target, &request->query, why, sizeof why))
        return answer_words(web, MHD_HTTP_BAD_REQUEST, "Not understood", why);
    const struct route *route = find_route(request->query.path);
    if (route == NULL)
        return answer_words(
            web, MHD_HTTP_NOT_FOUND, "No such page",
            "There is nothing at this address. The links above lead to everything there is.");
    if (!query_only(&request->query, route->keys, why, sizeof why))
        return answer_words(web, MHD_HTTP_BAD_REQUEST, "Not understood", why);
    if (route->where == AT_ONCE)
        return route->work(request, NULL);
    request->work = route->work;
    *ret_waits = desk_take(route->where == AT_PAGES ? web->pages : web->exports, request);
    if (*ret_waits)
        return (struct answer){0};
    return answer_with(answer_words(web, MHD_HTTP_SERVICE_UNAVAILABLE, "Busy",
                                    "Too many have asked for this at once, or Trivet is being "
                                    "stopped. Try again in a few "
                                    "seconds."),
                       MHD_HTTP_HEADER_RETRY_AFTER, "5");
}

enum MHD_Result
request_handle(void *arg, struct MHD_Connection *connection, const char *url,
               const char *method, const char *version, const char *upload, size_t *upload_size,
               void **request_at)
{
    struct request *request = *request_at;
    (void)arg;
    (void)connection;
    (void)url;
    (void)version;
    (void)upload;
    if (request == NULL)
        return MHD_NO; /* out of memory */
    if (request->answered)
        return send_answer(request);
    if (!request->begun) {
        request->begun = true;
        if (refuse_method(request, method) || refuse_host(request))
            return send_answer(request);
        return MHD_YES;
    }
    if (*upload_size > 0) {
        request->has_body = true; /* read away and dropped */
        *upload_size = 0;
        return MHD_YES;
    }
    bool waits = false;
    struct answer answer =
        request->has_body ? answer_words(request->web, MHD_HTTP_BAD_REQUEST, "Not understood",
                                         "A request to read must not carry a body.")
                          : dispatch(request, &waits);
    if (waits)
        return MHD_YES; /* the desk owns the request now and may already have answered it */
    request->answer = answer;
    return send_answer(request);
}

struct answer
event_stream(struct request *request, struct store_reader *reader)
{
    (void)reader;
    const char *last_id =
        MHD_lookup_connection_value(request->connection, MHD_HEADER_KIND, "Last-Event-ID");
    if (request->is_head)
        return answer_head("text/event-stream; charset=utf-8");
    struct answer answer = events_open(request->web->events, request->connection, last_id);
    if (answer.status == MHD_HTTP_SERVICE_UNAVAILABLE)
        answer = answer_with(
            answer_words(request->web, MHD_HTTP_SERVICE_UNAVAILABLE, "Busy",
                         "Too many screens are listening; this one asks again by itself."),
            MHD_HTTP_HEADER_RETRY_AFTER, "10");
    return answer;
}
