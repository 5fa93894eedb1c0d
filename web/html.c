/* Escaped text for pages. Owns nothing beyond each struct html; any thread. */
#include "html.h"

#include <stdarg.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "trivet/together.h"

void
html_init(struct html *html)
{
    *html = (struct html){0};
}

void
html_done(struct html *html)
{
    free(html->bytes);
    *html = (struct html){0};
}

static bool
make_room(struct html *html, size_t more)
{
    if (html->failed)
        return false;
    size_t needed = html->len + more + 1;
    if (needed <= html->room)
        return true;
    size_t room = html->room == 0 ? 4096 : html->room;
    while (room < needed && room <= HTML_BYTES_MAX)
        room *= 2;
    char *bytes = room > HTML_BYTES_MAX ? NULL : realloc(html->bytes, room);
    if (bytes == NULL) {
        html->failed = true;
        return false;
    }
    html->bytes = bytes;
    html->room = room;
    return true;
}

void
html_raw_n(struct html *html, const char *markup, size_t len)
{
    if (!make_room(html, len))
        return;
    memcpy(html->bytes + html->len, markup, len);
    html->len += len;
    html->bytes[html->len] = '\0';
}

void
html_raw(struct html *html, const char *markup)
{
    html_raw_n(html, markup, strlen(markup));
}

void
html_format(struct html *html, const char *format, ...)
{
    char text[1024];
    va_list args;
    va_start(args, format);
    /* NOLINTNEXTLINE(clang-analyzer-valist.Uninitialized): va_start is just above */
    int len = vsnprintf(text, sizeof text, format, args);
    va_end(args);
    if (len < 0 || (size_t)len >= sizeof text)
        html->failed = true;
    else
        html_raw_n(html, text, (size_t)len);
}

/* Decodes one character of valid UTF-8 (RFC 3629); returns its length, 0 when it is none. */
static size_t
decode(const unsigned char *at, uint32_t *ret_code)
{
    static const uint32_t least[5] = {0, 0, 0x80, 0x800, 0x10000};
    size_t len = at[0] < 0x80    ? 1
                 : at[0] >= 0xf0 ? 4
                 : at[0] >= 0xe0 ? 3
                 : at[0] >= 0xc2 ? 2
                                 : 0;
    if (len == 0 || at[0] > 0xf4)
        return 0;
    uint32_t code = len == 1 ? at[0] : at[0] & (0x7fu >> len);
    for (size_t i = 1; i < len; i++) {
        if ((at[i] & 0xc0) != 0x80)
            return 0; /* also at the ending NUL */
        code = code << 6 | (at[i] & 0x3fu);
    }
    if (code < least[len] || code > 0x10ffff || (code >= 0xd800 && code <= 0xdfff))
        return 0;
    *ret_code = code;
    return len;
}

/* Characters that would act instead of being seen: controls, direction marks, embeddings and
 * isolates (UAX #9), line separators. */
static bool
is_unseen(uint32_t code)
{
    return (code < 0x20 && code != '\n' && code != '\t') || (code >= 0x7f && code <= 0x9f) ||
           code == 0x61c || (code >= 0x200b && code <= 0x200f) ||
           (code >= 0x2028 && code <= 0x202e) || (code >= 0x2060 && code <= 0x206f) ||
           code == 0xfeff;
}

static const char *
entity(uint32_t code)
{
    switch (code) {
    case '&':
        return "&amp;";
    case '<':
        return "&lt;";
    case '>':
        return "&gt;";
    case '"':
        return "&quot;";
    case '\'':
        return "&#39;";
    }
    return NULL;
}

/* A date is one word: some browsers break lines at its hyphens. Returns its length, or 0. */
static size_t
add_date(struct html *html, const char *text, const char *at)
{
    size_t len = at > text && (at[-1] == '-' || (at[-1] >= '0' && at[-1] <= '9'))
                     ? 0
                     : together_date(at);
    if (len > 0) {
        html_raw(html, "<span class=\"whole\">");
        html_raw_n(html, at, len);
        html_raw(html, "</span>");
    }
    return len;
}

static void
add_text(struct html *html, const char *text, bool sentence)
{
    const unsigned char *at = (const unsigned char *)text;
    while (*at != 0) {
        uint32_t code = 0;
        size_t len = sentence ? add_date(html, text, (const char *)at) : 0;
        if (len > 0) {
            at += len;
            continue;
        }
        len = decode(at, &code);
        if (len == 0) {
            html_raw(html, "\xef\xbf\xbd");
            at++;
            continue;
        }
        if (sentence && code == ' ' && together_blank(text, (size_t)((const char *)at - text)))
            html_raw(html, "&nbsp;");
        else if (entity(code) != NULL)
            html_raw(html, entity(code));
        else if (is_unseen(code))
            html_format(html, "\\u%04X", (unsigned)code);
        else
            html_raw_n(html, (const char *)at, len);
        at += len;
    }
}

void
html_text(struct html *html, const char *text)
{
    add_text(html, text, false);
}

void
html_sentence(struct html *html, const char *text)
{
    add_text(html, text, true);
}
