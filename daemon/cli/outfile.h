/* A file that appears whole under its name, or not at all. */
#ifndef CLI_OUTFILE_H
#define CLI_OUTFILE_H

#include <stdbool.h>
#include <stddef.h>
#include <stdio.h>

#define OUTFILE_PATH_MAX 4096

struct outfile {
    FILE *to;
    char path[OUTFILE_PATH_MAX];    /* as it will be called */
    char growing[OUTFILE_PATH_MAX]; /* as it is called meanwhile, in the same directory */
};

/* False with what, where and what to do. */
bool outfile_open(struct outfile *file, const char *path, char *reterr, size_t err_size);
/* Writes it through to the disk and gives it its name; on false it is gone. */
bool outfile_keep(struct outfile *file, char *reterr, size_t err_size);
void outfile_drop(struct outfile *file);

#endif
