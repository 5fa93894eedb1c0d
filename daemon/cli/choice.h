/* The things that can be named in an answer: people, products, batches, ... Kept in the order
 * they are shown. */
#ifndef CLI_CHOICE_H
#define CLI_CHOICE_H

#include <stdbool.h>
#include <stddef.h>

#include <jansson.h>

#define CHOICE_KEY_MAX   40
#define CHOICE_LABEL_MAX 440

struct choice {
    char key[CHOICE_KEY_MAX];     /* what goes to the daemon */
    char label[CHOICE_LABEL_MAX]; /* what a person reads */
    char name[CHOICE_LABEL_MAX];  /* what a person may also type; "" = only the key */
};

struct choices {
    struct choice *item;
    size_t count, room;
    bool
        numbers; /* the keys are numbers of their own: no other numbers are shown beside them */
};

void choices_init(struct choices *choices);
void choices_done(struct choices *choices);
/* False when out of memory. Texts that are too long for their place are left out whole. */
bool choices_add(struct choices *choices, const char *key, const char *name, const char *label);

/* Finds by key, by name, by the number shown (only when shown), or by a beginning that fits
 * only one; letters of either case. False with a sentence that lists what there is. */
bool choices_find(const struct choices *choices, const char *text, bool shown,
                  size_t *ret_index, char *reterr, size_t err_size);

/* Writes "a, b, c" as far as it fits. Returns buf. */
char *choices_text(const struct choices *choices, char *buf, size_t size);

#endif
