/* The index of a directory with series of attempts: index.csv, a line for each cook, with what
 * the cook knew when planning it. Read whole; strict about what it needs, indifferent to other
 * columns. One thread. */
#ifndef CLI_SERIES_INDEX_H
#define CLI_SERIES_INDEX_H

#include <stdbool.h>
#include <stddef.h>

#include "trivet/lesson.h"

enum { SERIES_WORD_BYTES = 64, SERIES_PATH_BYTES = 1024, SERIES_ERROR_BYTES = 1600 };

struct series_attempt {
    char run[SERIES_WORD_BYTES];
    char product[SERIES_WORD_BYTES];
    int attempt;
    char path[SERIES_PATH_BYTES]; /* of its trace */
    struct dish dish;
};

struct series_index {
    struct series_attempt *attempt; /* in the order of the index */
    size_t count;
};

/* On failure nothing is left allocated and reterr_text holds a sentence. */
bool series_index_read(const char *directory, struct series_index *ret_index,
                       char reterr_text[SERIES_ERROR_BYTES]);

void series_index_free(struct series_index *index);

#endif
