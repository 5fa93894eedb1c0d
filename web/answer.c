/* Responses and the headers that every one of them carries. Any thread. */
#include <stdlib.h>
#include <string.h>

#include "own.h"

void
answer_dress(struct MHD_Response *response, const char *type, const char *cache)
{
    static const char *const headers[][2] = {
        {"Content-Security-Policy",
         "default-src 'none'; style-src 'self'; script-src 'self'; img-src 'self'; "
         "connect-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'"},
        {"X-Content-Type-Options", "nosniff"},
        {"Referrer-Policy", "no-referrer"},
        {"Cross-Origin-Resource-Policy", "same-origin"},
        {"Cross-Origin-Opener-Policy", "same-origin"},
    };
    /* A header that does not fit for want of memory would be missing silently: but then the
     * response cannot be sent either. */
    for (size_t i = 0; i < sizeof headers / sizeof headers[0]; i++)
        (void)MHD_add_response_header(response, headers[i][0], headers[i][1]);
    (void)MHD_add_response_header(response, MHD_HTTP_HEADER_CONTENT_TYPE, type);
    (void)MHD_add_response_header(response, MHD_HTTP_HEADER_CACHE_CONTROL, cache);
}

struct answer
answer_given(unsigned status, const char *type, void *bytes, size_t len)
{
    struct answer answer = {.status = status};
    answer.response = MHD_create_response_from_buffer(len, bytes, MHD_RESPMEM_MUST_FREE);
    if (answer.response == NULL)
        free(bytes);
    else
        answer_dress(answer.response, type, "no-store");
    return answer;
}

static ssize_t
send_nothing(void *arg, uint64_t pos, char *buf, size_t max)
{
    (void)arg;
    (void)pos;
    (void)buf;
    (void)max;
    return MHD_CONTENT_READER_END_OF_STREAM;
}

struct answer
answer_head(const char *type)
{
    struct answer answer = {.status = MHD_HTTP_OK};
    answer.response =
        MHD_create_response_from_callback(MHD_SIZE_UNKNOWN, 64, send_nothing, NULL, NULL);
    if (answer.response == NULL)
        return answer;
    /* Without this the library writes an empty last chunk, which is a body. */
    (void)MHD_set_response_options(answer.response, MHD_RF_HTTP_1_0_COMPATIBLE_STRICT,
                                   MHD_RO_END);
    answer_dress(answer.response, type, "no-store");
    return answer;
}

struct answer
answer_html(unsigned status, struct html *html)
{
    struct answer none = {0};
    if (html->failed || html->bytes == NULL) {
        html_done(html);
        return none;
    }
    struct answer answer =
        answer_given(status, "text/html; charset=utf-8", html->bytes, html->len);
    *html = (struct html){0}; /* the response owns the bytes */
    return answer;
}

struct answer
answer_words(const struct web *web, unsigned status, const char *title, const char *words)
{
    struct view view;
    struct html html;
    view_take(&view, web);
    html_init(&html);
    layout_start(&html, &view, title, NAV_NONE);
    html_raw(&html, "<h1>");
    html_text(&html, title);
    html_raw(&html, "</h1>\n<p>");
    html_text(&html, words);
    html_raw(&html, "</p>\n<p><a href=\"/\">To the kitchen now</a></p>\n");
    layout_end(&html, &view);
    view_drop(&view);
    return answer_html(status, &html);
}

struct answer
answer_with(struct answer answer, const char *header, const char *value)
{
    if (answer.response != NULL)
        (void)MHD_add_response_header(answer.response, header, value);
    return answer;
}

void
answer_drop(struct answer *answer)
{
    if (answer->response != NULL && !answer->kept)
        MHD_destroy_response(answer->response);
    answer->response = NULL;
}
