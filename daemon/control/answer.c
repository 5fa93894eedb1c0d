/* Writes the lines of the control protocol that go out, except the lists. See answer.h. */
#include "daemon/control/answer.h"

#include <stdio.h>
#include <string.h>

#include "trivet/json_out.h"

/* Ends the line of a finished object. */
static size_t
end_line(struct json_out *out)
{
    if (!out_done(out) || out->len + 2 > out->size)
        return 0;
    out->buf[out->len] = '\n';
    out->buf[out->len + 1] = '\0';
    return out->len + 1;
}

static void
start_line(struct json_out *out, char *buf, size_t size, int code, const char *say)
{
    out_start(out, buf, size, false);
    out_object(out, NULL);
    out_int(out, "code", code);
    out_text(out, "say", say);
}

size_t
control_answer_greeting(char *buf, size_t size, const char *version)
{
    struct json_out out;
    start_line(&out, buf, size, 200,
               "Trivet listens: write one JSON object on one line, for example "
               "{\"do\":\"now\"}");
    out_int(&out, "protocol", CONTROL_PROTOCOL);
    out_text(&out, "version", version);
    out_object_end(&out);
    return end_line(&out);
}

size_t
control_answer_words(char *buf, size_t size, int code, const char *say)
{
    struct json_out out;
    start_line(&out, buf, size, code, say);
    out_object_end(&out);
    return end_line(&out);
}

size_t
control_answer_entry(char *buf, size_t size, const struct entry_answer *answer)
{
    struct json_out out;
    start_line(&out, buf, size, answer->code, answer->say);
    if (answer->seq != 0)
        out_int(&out, "seq", (int64_t)answer->seq);
    if (answer->batch != 0)
        out_int(&out, "batch", answer->batch);
    if (answer->deviation != 0)
        out_int(&out, "deviation", answer->deviation);
    out_object_end(&out);
    return end_line(&out);
}

size_t
control_answer_where(char *buf, size_t size, const struct control_options *options,
                     const struct snapshot *snapshot)
{
    struct json_out out;
    start_line(&out, buf, size, 200, "where things are");
    out_object(&out, "where");
    out_text(&out, "store", options->directory);
    out_text(&out, "socket", options->path);
    out_text(&out, "page", options->page);
    out_text(&out, "version", options->version);
    if (snapshot != NULL && snapshot->plan != NULL) {
        out_text(&out, "plan", snapshot_plan_file(snapshot));
        out_text(&out, "plan_digest", snapshot->plan->digest);
        out_text(&out, "site", snapshot->plan->site_name);
        out_text(&out, "time_zone", snapshot->plan->time_zone);
        out_bool(&out, "demo", snapshot->plan->demo);
    }
    out_object_end(&out);
    out_object_end(&out);
    return end_line(&out);
}

static size_t
not_yet(char *buf, size_t size)
{
    return control_answer_words(
        buf, size, 503,
        "the daemon has only just started and knows nothing yet; ask again in a "
        "moment");
}

/* The snapshot writes itself, so the line is put together around it. */
size_t
control_answer_now(char *buf, size_t size, const struct snapshot *snapshot, int64_t now_ms)
{
    if (snapshot == NULL)
        return not_yet(buf, size);
    int head = snprintf(buf, size, "{\"code\":200,\"say\":\"the kitchen now\",\"now\":");
    if (head < 0 || (size_t)head >= size ||
        !snapshot_json(snapshot, now_ms, buf + head, size - (size_t)head))
        return 0;
    size_t len = strlen(buf);
    if (len + 3 > size)
        return 0;
    memcpy(buf + len, "}\n", 3);
    return len + 2;
}
