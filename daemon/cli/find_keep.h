/* A search in two runs: what the first one found, kept in a file for the second. */
#ifndef CLI_FIND_KEEP_H
#define CLI_FIND_KEEP_H

#include <stdbool.h>
#include <stddef.h>

#include "daemon/cli/find_bus.h"

/* Both: false with what, where and what to do. The file appears whole or not at all. */
bool find_keep_write(const char *path, const struct find_setup *setup,
                     const struct find_blocks *blocks, char *reterr, size_t err_size);
/* Writes setup (initialised) and blocks (empty). */
bool find_keep_read(const char *path, struct find_setup *setup, struct find_blocks *blocks,
                    char *reterr, size_t err_size);

#endif
