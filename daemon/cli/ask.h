/* Asks a person at a terminal for what is missing: one short question at a time, Enter takes
 * what stands in brackets. Works on any streams, so that tests can play the person. */
#ifndef CLI_ASK_H
#define CLI_ASK_H

#include <stdbool.h>
#include <stddef.h>
#include <stdio.h>

#include "daemon/cli/choice.h"

struct asker {
    FILE *in, *out;
};

#define ASK_ANSWER_MAX 1024

enum ask_status {
    ASK_ANSWERED,
    ASK_SKIPPED, /* Enter, where that is allowed */
    ASK_LEFT,    /* the input ended: the person wants out */
};

/* Reads one line of free text into ret (size ASK_ANSWER_MAX), blanks around it removed. usual
 * is taken on Enter; NULL: Enter skips when may_skip, else the question comes again. */
enum ask_status ask_text(const struct asker *asker, const char *question, const char *usual,
                         bool may_skip, char *ret);

/* Shows the list, asks until one is named. usual is an index, or choices->count for none; then
 * Enter skips when may_skip, else the question comes again. */
enum ask_status ask_choice(const struct asker *asker, const char *question,
                           const struct choices *choices, size_t usual, bool may_skip,
                           size_t *ret_index);

/* As ask_choice for several at once ("1, 3"); Enter means none. ret_picked has a place for
 * every choice. */
enum ask_status ask_choices(const struct asker *asker, const char *question,
                            const struct choices *choices, size_t max, bool *ret_picked);

/* Says why an answer does not do, before it is asked for again. */
void ask_complain(const struct asker *asker, const char *why);

#endif
