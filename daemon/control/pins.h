/* People's PINs: hashed, in a file of their own beside the records (mode 0600), outside the
 * plan, the records and every export. Wrong tries make a person wait. The control room's
 * thread. */
#ifndef CONTROL_PINS_H
#define CONTROL_PINS_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "trivet/plan.h"

#define PIN_LEAST    4 /* digits */
#define PIN_MOST     12
#define PIN_HASH_MAX 128 /* bytes of a hash as text, with the NUL */

/* Wrong tries until the first wait; the wait then doubles with each. */
#define PIN_TRIES        5
#define PIN_WAIT_ms      INT64_C(60000)
#define PIN_WAIT_MOST_ms INT64_C(3600000)

struct pin_tries {
    char who[PLAN_INITIALS_MAX + 1];
    unsigned wrong;
    int64_t until_ms; /* no try before this */
};

struct pins {
    char path[4200];
    struct pin_tries tries[PLAN_PEOPLE_MAX];
};

/* directory of the records. False when its path is too long. */
bool pins_init(struct pins *pins, const char *directory);

/* 200 when this is the person's PIN. Else a code and why: 401 it is missing, 403 it is wrong or
 * none is set, 429 too many wrong tries, 503 the file cannot be read. now_ms is monotonic.
 * Takes a moment on purpose. */
int pins_check(struct pins *pins, const char *who, const char *pin, int64_t now_ms,
               char *reterr, size_t err_size);

/* Whether a person has a PIN. False when the file cannot be read, with why. */
bool pins_known(const struct pins *pins, const char *who, bool *ret, char *reterr,
                size_t err_size);

/* Setting one is two steps, with its record between them (identity.h). 200; 400 when it is not
 * a PIN, 503 when there is no memory to hash it. */
int pins_hash(const char *fresh, char ret[PIN_HASH_MAX], char *reterr, size_t err_size);
/* Puts the hash in the place of the one that the person may have. False with why: then the old
 * one stays. */
bool pins_keep(const struct pins *pins, const char *who, const char *hash, char *reterr,
               size_t err_size);

#endif
