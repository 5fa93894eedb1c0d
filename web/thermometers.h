/* Thermometers and their checks, as parts of pages. */
#ifndef WEB_THERMOMETERS_H
#define WEB_THERMOMETERS_H

#include "own.h"
#include "trivet/decision.h"

/* Those that somebody has to look after, and certificates that run out; hidden when there are
 * none. Reads only the snapshot. */
void thermometers_wanting(struct html *html, const struct view *view);

/* All of them with their newest reading, corrected and raw, and their checks so far. */
enum store_status thermometers_all(struct html *html, const struct view *view,
                                   struct store_reader *reader, struct store_error *reterr);

/* What a failed check puts in doubt: opened is the decision that opened the deviation. */
enum store_status thermometers_doubt(struct html *html, const struct view *view,
                                     struct store_reader *reader, const struct decision *opened,
                                     struct store_error *reterr);

#endif
