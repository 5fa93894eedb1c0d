/* /export/KIND.csv: written whole into a nameless file first, then sent from it.
 *
 * So a client gets either the complete file with its length or an error in words, never a torn
 * one that looks complete, and a slow client holds nothing but disk space: at most
 * EXPORT_FILES_MAX files, and none that would leave the disk with less than DISK_LEFT_BYTES.
 * Desk thread. */
#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/statvfs.h>
#include <unistd.h>

#include "page_curve.h"
#include "trivet/export.h"

#define CSV_TYPE        "text/csv; charset=utf-8; header=present"
#define DISK_LEFT_BYTES (UINT64_C(256) << 20)
#define CHECK_BYTES     (UINT64_C(16) << 20) /* how often the room on the disk is looked at */

struct csv_file {
    const struct web *web;
    int fd;
    uint64_t size, looked_at;
    bool no_room;
};

struct csv_range {
    enum export_kind kind;
    int64_t from_ms, to_ms;
    char name[96];
};

static bool
has_room(struct csv_file *file)
{
    struct statvfs disk;
    if (fstatvfs(file->fd, &disk) != 0)
        return false;
    file->looked_at = file->size;
    return (uint64_t)disk.f_bavail * disk.f_frsize > DISK_LEFT_BYTES;
}

static bool
take_bytes(void *arg, const char *bytes, size_t len)
{
    struct csv_file *file = arg;
    if (atomic_load_explicit(&file->web->stopping, memory_order_relaxed))
        return false;
    if (file->size - file->looked_at >= CHECK_BYTES && !has_room(file)) {
        file->no_room = true;
        return false;
    }
    while (len > 0) {
        ssize_t wrote = write(file->fd, bytes, len);
        if (wrote < 0 && errno == EINTR)
            continue;
        if (wrote <= 0) {
            file->no_room = true;
            return false;
        }
        bytes += wrote;
        len -= (size_t)wrote;
        file->size += (uint64_t)wrote;
    }
    return true;
}

static int
open_nameless(const char *directory)
{
    char name[512];
    if (snprintf(name, sizeof name, "%s/trivet-export-XXXXXX", directory) >= (int)sizeof name)
        return -1;
    int fd = mkstemp(name);
    if (fd < 0)
        return -1;
    (void)unlink(name); /* at worst a stray file remains for tmpfiles to clear */
    (void)fcntl(fd, F_SETFD, FD_CLOEXEC);
    return fd;
}

/* ---- what is asked for ---- */

static bool
read_kind(const struct query *query, enum export_kind *ret)
{
    const char *rest = query->path + strlen("/export"), *word = query_value(query, "kind");
    char name[32];
    if (rest[0] == '\0')
        return word != NULL && export_kind_from_word(word, ret);
    size_t len = strlen(rest + 1);
    if (len < 5 || len >= sizeof name || strcmp(rest + 1 + len - 4, ".csv") != 0)
        return false;
    memcpy(name, rest + 1, len - 4);
    name[len - 4] = '\0';
    return export_kind_from_word(name, ret);
}

static bool
read_day(const struct query *query, const char *key, const struct zone *zone, int days_later,
         int64_t *ret_ms)
{
    int year, month, day;
    const char *text = query_value(query, key);
    if (text == NULL || !query_date(text, &year, &month, &day) ||
        !zone_join(zone, year, month, day, 0, 0, ret_ms))
        return false;
    *ret_ms = zone_day_start(zone, *ret_ms, days_later);
    return true;
}

static const char *
read_range(const struct query *query, const struct view *view, struct csv_range *ret)
{
    int64_t offset_ms = view->snapshot == NULL ? 0 : view->snapshot->offset_ms;
    bool demo =
        view->snapshot != NULL && view->snapshot->plan != NULL && view->snapshot->plan->demo;
    if (!read_kind(query, &ret->kind))
        return "There are exports of readings, batches, deviations, actions, entries, "
               "decisions, people, calibrations, switches and records: write "
               "/export/readings.csv.";
    if (!read_day(query, "from", view->zone, 0, &ret->from_ms) ||
        !read_day(query, "to", view->zone, 1, &ret->to_ms))
        return "Give both days as from=YYYY-MM-DD&to=YYYY-MM-DD; both are included.";
    if (ret->to_ms <= ret->from_ms)
        return "The last day lies before the first; exchange them.";
    ret->from_ms -= offset_ms;
    ret->to_ms -= offset_ms;
    (void)snprintf(ret->name, sizeof ret->name,
                   "attachment; filename=\"trivet-%s%s-%s-%s.csv\"", demo ? "demo-" : "",
                   export_kind_word(ret->kind), query_value(query, "from"),
                   query_value(query, "to"));
    return NULL;
}

/* ---- the answer ---- */

static struct answer
dress_csv(struct MHD_Response *response, const struct csv_range *range)
{
    struct answer answer = {.status = MHD_HTTP_OK, .response = response};
    answer_dress(response, CSV_TYPE, "no-store");
    return answer_with(answer, "Content-Disposition", range->name);
}

static struct answer
write_and_send(struct request *request, struct store_reader *reader,
               const struct csv_range *range)
{
    struct web *web = request->web;
    struct store_error error = {.text = ""};
    struct csv_file file = {.web = web, .fd = open_nameless(web->temporary)};
    if (file.fd < 0 || !has_room(&file)) {
        if (file.fd >= 0)
            (void)close(file.fd);
        return answer_words(web, MHD_HTTP_INSUFFICIENT_STORAGE, "No room for the export",
                            "The disk for temporary files is nearly full or cannot be written. "
                            "Free some space, or use "
                            "the trivet export command with a file on another disk.");
    }
    enum store_status status = export_csv(reader, range->kind, range->from_ms, range->to_ms,
                                          take_bytes, &file, &error);
    bool stopping = atomic_load(&web->stopping);
    if (file.no_room || stopping || status != STORE_OK) {
        (void)close(file.fd);
        if (file.no_room)
            return answer_words(web, MHD_HTTP_INSUFFICIENT_STORAGE, "No room for the export",
                                "The disk for temporary files would become full. Ask for fewer "
                                "days, or use the trivet "
                                "export command with a file on another disk.");
        return stopping ? answer_words(web, MHD_HTTP_SERVICE_UNAVAILABLE, "Stopping",
                                       "Trivet is being stopped.")
                        : store_trouble(request, &error);
    }
    struct MHD_Response *response = MHD_create_response_from_fd64(file.size, file.fd);
    if (response == NULL) {
        (void)close(file.fd);
        return (struct answer){0};
    }
    return dress_csv(response, range);
}

static struct answer
answer_export(struct request *request, struct store_reader *reader,
              const struct csv_range *range)
{
    if (request->is_head) /* the length is known only by writing it all */
        return answer_with(answer_head(CSV_TYPE), "Content-Disposition", range->name);
    if (reader == NULL)
        return store_trouble(request, NULL);
    if (atomic_fetch_add(&request->web->export_files, 1) >= EXPORT_FILES_MAX) {
        atomic_fetch_sub(&request->web->export_files, 1);
        return answer_with(
            answer_words(
                request->web, MHD_HTTP_SERVICE_UNAVAILABLE, "Busy",
                "Several exports are being fetched already. Try again when one has ended."),
            MHD_HTTP_HEADER_RETRY_AFTER, "30");
    }
    request->holds_export_file = true; /* until the request is completed */
    return write_and_send(request, reader, range);
}

struct answer
export_file(struct request *request, struct store_reader *reader)
{
    struct view view;
    struct csv_range range;
    view_take(&view, request->web);
    const char *wrong = read_range(&request->query, &view, &range);
    view_drop(&view);
    if (wrong != NULL)
        return answer_words(request->web, MHD_HTTP_BAD_REQUEST, "Not understood", wrong);
    return answer_export(request, reader, &range);
}
