/* What the files of this room share. */
#ifndef WEB_OWN_H
#define WEB_OWN_H

#include <stdatomic.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include <microhttpd.h>

#include "host.h"
#include "html.h"
#include "query.h"
#include "trivet/snapshot.h"
#include "trivet/store.h"
#include "trivet/web.h"
#include "trivet/zone.h"

#define CONNECTIONS_MAX        256
#define CONNECTIONS_PER_IP_MAX 64
#define CONNECTION_TIMEOUT_S   30
#define CONNECTION_BYTES                                                                       \
    8192 /* a browser's request and our headers; 6 to 12 KB a client in all */
#define STREAMS_MAX         160 /* so that pages are still served when every screen listens */
#define PAGES_WAITING_MAX   32
#define EXPORTS_WAITING_MAX 4
#define EXPORT_FILES_MAX    4

struct events;
struct desk;

/* A response on its way; response NULL = out of memory, the connection is closed. */
struct answer {
    unsigned status;
    struct MHD_Response *response;
    bool kept; /* by somebody else, who will destroy it */
};

/* One response for all who ask within a second of the same snapshot. */
struct shared {
    struct MHD_Response *response; /* NULL = none yet */
    uint64_t version;
    int64_t second;
};

struct web {
    struct board *board;
    char *listen, *directory, *version, *temporary;
    char *names[9];
    struct host_rule host;
    struct MHD_Daemon *daemon;
    struct events *events;
    struct desk *pages, *exports;
    atomic_bool stopping;
    atomic_uint export_files;         /* open at clients */
    struct shared now_page, now_json; /* the server thread's own */
};

struct request;
typedef struct answer answer_work(struct request *request, struct store_reader *reader);

struct request {
    struct web *web;
    struct MHD_Connection *connection;
    char target[TARGET_MAX + 2]; /* one more than may be, so that too long is seen */
    struct query query;
    bool begun, has_body, is_head, answered;
    bool holds_export_file;
    char reader_error[300]; /* why reader is NULL */
    answer_work *work;
    struct answer answer;
    struct request *next; /* at a desk */
};

/* What a page shows: one snapshot, at one moment. */
struct view {
    const struct web *web;
    struct snapshot *snapshot; /* held; NULL before the first */
    int64_t viewed_ms;
    const struct zone *zone;
    const struct plan_product
        *product;             /* of the batch told about, for the names of steps; or NULL */
    const struct plan *names; /* that named its people, of an ended one; or NULL */
};

void view_take(struct view *view, const struct web *web);
void view_drop(struct view *view);
/* "14:05" in the site's zone of an instant of the records. */
char *view_clock(const struct view *view, int64_t at_ms, char *buf, size_t size);
char *view_stamp(const struct view *view, int64_t at_ms, char *buf, size_t size);

/* ---- answer.c ---- */
struct answer answer_html(unsigned status, struct html *html); /* takes the text; ends html */
struct answer answer_given(unsigned status, const char *type, void *bytes,
                           size_t len); /* takes bytes */
/* Headers alone, for a HEAD whose length only the whole work would tell. */
struct answer answer_head(const char *type);
struct answer answer_words(const struct web *web, unsigned status, const char *title,
                           const char *words);
struct answer answer_with(struct answer answer, const char *header, const char *value);
void answer_dress(struct MHD_Response *response, const char *type, const char *cache);
void answer_drop(struct answer *answer);

/* ---- layout.c ---- */
enum nav { NAV_NONE, NAV_NOW, NAV_DEVIATIONS, NAV_RECORDS };
void layout_start(struct html *html, const struct view *view, const char *title, enum nav nav);
void layout_end(struct html *html, const struct view *view);
/* <span class="age" ...>12 s ago</span>, kept growing by the script. */
void layout_age(struct html *html, const struct view *view, int64_t at_ms);
struct stamp {
    enum concern concern;
    bool met, stale, limited;
};
void layout_stamp(struct html *html, const struct stamp *stamp);
const char *concern_class(enum concern concern);

/* ---- the routes' work ---- */
struct answer page_now(struct request *request, struct store_reader *reader);
struct answer now_json(struct request *request, struct store_reader *reader);
struct answer page_batch(struct request *request, struct store_reader *reader);
struct answer page_place(struct request *request, struct store_reader *reader);
struct answer page_deviations(struct request *request, struct store_reader *reader);
struct answer page_why(struct request *request, struct store_reader *reader);
struct answer page_records(struct request *request, struct store_reader *reader);
struct answer export_file(struct request *request, struct store_reader *reader);
struct answer event_stream(struct request *request, struct store_reader *reader);
struct answer static_file(struct request *request, struct store_reader *reader);

#endif
