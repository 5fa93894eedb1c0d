/* What the checks of entries share: check.c, and check_deviation.c for what is entered about
 * deviations. */
#ifndef ENGINE_CHECK_H
#define ENGINE_CHECK_H

#include "daemon/engine/judge.h"

struct check {
    const struct engine *engine;
    const struct plan *plan; /* in force */
    const struct entry *entry;
    char *reterr;
    size_t err_size;
    /* Of the check of a thermometer: what the plan asks of it, and what is known of it. */
    const struct plan_checking *rules;
    const struct check_state *known;
};

/* Says what is wrong and what to do; always false. */
bool wrong(const struct check *c, const char *format, ...)
    __attribute__((format(printf, 2, 3)));

/* A list of known words, "a, b, c", cut with "..." when there are more than fit. No word is
 * longer than an id. */
struct list {
    size_t len;
    bool is_cut;
    char text[400];
};

void list_add(struct list *list, const char *word);
const char *or_none(const struct list *list);

/* The engine for its finders, which do not change it. */
struct engine *looked_at(const struct check *c);

bool check_action(const struct check *c);
bool check_verify(const struct check *c);
bool check_review(const struct check *c);
bool check_heard(const struct check *c);
bool check_shelve(const struct check *c);
/* The deviation that the entry names; NULL, and said, when it is not one that is open. */
const struct deviation_state *check_deviation(const struct check *c);
/* Likewise its batch, which has to be running. */
const struct batch_state *check_batch(const struct check *c);
/* Whether the place it names, if any, is in the plan. */
bool check_place(const struct check *c, const struct plan *plan);

#endif
