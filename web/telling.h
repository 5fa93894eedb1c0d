/* A record in words, in two parts: what was decided, what was entered. Behind past_tell. */
#ifndef WEB_TELLING_H
#define WEB_TELLING_H

#include "own.h"
#include "trivet/decision.h"
#include "trivet/entry.h"

void tell_decision(struct html *html, const struct view *view, const struct decision *decision);
void tell_entry(struct html *html, const struct view *view, const struct entry *entry);

#endif
