/* A directory of its own for a test, removed with all it holds. */
#ifndef SUPPORT_TEMP_DIR_H
#define SUPPORT_TEMP_DIR_H

#define TEMP_DIR_MAX 200

struct temp_dir {
    char path[TEMP_DIR_MAX];
};

/* Makes it under TMPDIR or /tmp; ends the process with a message when it cannot. */
void temp_dir_make(struct temp_dir *dir);
void temp_dir_remove(struct temp_dir *dir);
/* Empties `to` and copies every plain file of `from` into it. */
void temp_dir_copy(const struct temp_dir *from, const struct temp_dir *to);
/* path of a file in it; valid until the fourth call after. */
const char *temp_dir_file(const struct temp_dir *dir, const char *name);

#endif
