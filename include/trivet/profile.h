/* Published limits: one file per authority and edition, each rule with its section, its source
 * and how sure we are of its figures. They are offered, never imposed: local codes and the
 * authority having jurisdiction prevail.
 *
 * A struct profile is immutable after profile_load; strings and arrays belong to it and live
 * until profile_free. */
#ifndef TRIVET_PROFILE_H
#define TRIVET_PROFILE_H

#include <stdbool.h>
#include <stddef.h>

#include "trivet/plan.h"

#define PROFILE_RULES_MAX 64
#define PROFILE_TEXT_MAX  600 /* bytes of a caution or a scope, UTF-8 */

struct profile_rule {
    char id[PLAN_ID_MAX + 1];
    const char *name;    /* what it is for */
    const char *scope;   /* the foods or places, or NULL */
    const char *section; /* of the document */
    const char *source;  /* the document with its section, as cited */
    enum profile_confidence confidence;
    const char *caution; /* what goes with it or is easily got wrong, or NULL */
    struct plan_limit limit;
};

struct profile {
    char id[PLAN_ID_MAX + 1];
    const char *name;
    const char *authority;
    const char *jurisdiction;
    const char *edition;
    const char *force;   /* statute, model code, guidance, ... */
    const char *caution; /* that local codes and the authority prevail, and what else */
    struct profile_rule *rules;
    size_t rule_count;
};

/* Loads and checks a profile. Every fault is reported, in order of lines; NULL when there is
 * any. The file is named after the profile's id, with ".yaml". */
struct profile *profile_load(const char *file, struct plan_faults *reterr);
struct profile *profile_load_text(const char *file, const char *text, size_t len,
                                  struct plan_faults *reterr);
void profile_free(struct profile *profile);

/* NULL when there is none. */
const struct profile_rule *profile_rule(const struct profile *profile, const char *id);

const char *profile_confidence_word(enum profile_confidence confidence);

/* The directory of the profiles: TRIVET_PROFILES, else beside the program that runs. False when
 * there is none; ret then says where it was looked for. */
bool profile_directory(char *ret, size_t size);

#endif
