/* Dockets of batches and places. */
#ifndef WEB_TICKET_H
#define WEB_TICKET_H

#include "own.h"

/* lead: at the head of its own page, without name and curve. */
void ticket_batch(struct html *html, const struct view *view,
                  const struct snapshot_batch *batch, bool lead);
void ticket_place(struct html *html, const struct view *view,
                  const struct snapshot_place *place, bool lead);

#endif
