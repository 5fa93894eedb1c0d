/* A growing text with escaping: everything the page sends is written through it. Pure but for
 * its own memory.
 *
 * A failed allocation is remembered; the caller looks once, at the end. */
#ifndef WEB_HTML_H
#define WEB_HTML_H

#include <stdbool.h>
#include <stddef.h>

#include "trivet/log.h"

#define HTML_BYTES_MAX                                                                         \
    ((size_t)8 * 1024 *                                                                        \
     1024) /* no page comes near; a runaway one fails instead of eating memory */

struct html {
    char *bytes;
    size_t len, room;
    bool failed;
};

void html_init(struct html *html);
void html_done(struct html *html);

/* As it is: markup of our own. */
void html_raw(struct html *html, const char *markup);
void html_raw_n(struct html *html, const char *markup, size_t len);
/* printf of our own markup and numbers; never of outside text. */
void html_format(struct html *html, const char *format, ...) TRIVET_PRINTF(2, 3);
/* Outside text, for element content and quoted attributes alike. Controls and direction
 * overrides appear as \u202E, invalid UTF-8 as U+FFFD. Newlines are kept. */
void html_text(struct html *html, const char *text);
/* The same for a sentence, as element content only: what is read as one, a number and its unit,
 * a date and its time, stays on one line (trivet/together.h). */
void html_sentence(struct html *html, const char *text);

#endif
