/* Limits that a plan takes from the published profiles by name instead of spelling their
 * figures.
 *
 * Reading a person's plan looks each name up in the profiles and writes what it found behind
 * the plan's own text, as `published`. A plan's record holds that whole text, so that whoever
 * reads the record needs no profile, and none that has changed since can change a decision. */
#ifndef PLAN_PUBLISHED_H
#define PLAN_PUBLISHED_H

#include "daemon/plan/schema.h"

#define PLAN_PUBLISHED_MAX 256

/* The text with the limits it refers to behind it; NULL when it refers to none, or memory ran
 * out (arena->failed). A name that cannot be found is a fault. Belongs to the arena. Reads
 * files. */
char *plan_published_add(struct plan_tree *tree, struct plan_arena *arena, const char *text,
                         size_t len, struct plan_faults *reterr);

/* Puts the figures of `published` into each limit that names one, as if they stood there. */
void plan_published_join(struct plan_tree *tree, struct plan_arena *arena,
                         struct plan_faults *reterr);

/* After the walk: ties each limit to what it was taken from. Whatever is not verified is
 * refused unless the plan accepts it. is_record: nobody has told yet that a name is missing. */
void plan_published_check(struct walk *walk, struct plan *plan, bool is_record);

#endif
