/* A kitchen whose dishes have a date mark, days that begin, and food in store that is carried
 * about, for tests of dates (docs/engine.md E226 to E233). Plays by engine_rig. */
#ifndef SUPPORT_MARK_RIG_H
#define SUPPORT_MARK_RIG_H

#include "tests/support/engine_rig.h"
#include "trivet/entry.h"

/* As rig_life: a date of so many days. */
#define MARK(days)                                                                             \
    "{kind: none}\n    date_mark: {kind: date_mark, applies_to: food, days: " days "}"
/* As the limits of rig_new: a step in the fridge; the fridge as a freezer. */
#define PLACE_FRIDGE  "{kind: none}, place: fridge"
#define FREEZER       "{kind: none}, freezer: yes"
#define FREEZER_LIMIT "{kind: hold_cold, applies_to: air, at_most: -18 °C}, freezer: yes"

struct rig *mark_rig(const char *life, const char *step, const char *place);
void mark_rig_feed(struct rig *rig, const char *at, const struct entry *entry);
/* The recorder's word that a business day has begun. */
void mark_rig_day(struct rig *rig, const char *at, const char *which);
/* AB begins a dish. */
struct entry mark_rig_beginning(void);
/* Food in store, batch 1, goes to another place. */
void mark_rig_carry(struct rig *rig, const char *at, const char *place);
/* Of the one food in store. */
struct engine_mark_view mark_rig_stored(const struct rig *rig);

#endif
