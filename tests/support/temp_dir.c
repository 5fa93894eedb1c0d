#define _XOPEN_SOURCE 700 /* nftw */

#include "tests/support/temp_dir.h"

#include <dirent.h>
#include <fcntl.h>
#include <ftw.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

static void
give_up(const char *what, const char *path)
{
    fprintf(stderr, "test support: %s '%s': ", what, path);
    perror(NULL);
    abort();
}

void
temp_dir_make(struct temp_dir *dir)
{
    const char *base = getenv("TMPDIR");

    (void)snprintf(dir->path, sizeof(dir->path), "%s/trivet-test-XXXXXX", base ? base : "/tmp");
    if (!mkdtemp(dir->path))
        give_up("cannot make", dir->path);
}

const char *
temp_dir_file(const struct temp_dir *dir, const char *name)
{
    static char paths[4][TEMP_DIR_MAX + 300];
    static unsigned next;
    char *path = paths[next++ % 4];

    (void)snprintf(path, sizeof(paths[0]), "%s/%s", dir->path, name);
    return path;
}

static void
each_file(const struct temp_dir *dir,
          void (*act)(const char *path, const char *name, void *arg), void *arg)
{
    DIR *list = opendir(dir->path);
    struct dirent *entry;

    if (!list)
        give_up("cannot list", dir->path);
    while ((entry = readdir(list)))
        if (strcmp(entry->d_name, ".") != 0 && strcmp(entry->d_name, "..") != 0)
            act(temp_dir_file(dir, entry->d_name), entry->d_name, arg);
    (void)closedir(list);
}

static void
remove_file(const char *path, const char *name, void *arg)
{
    (void)name;
    (void)arg;
    if (remove(path) != 0)
        give_up("cannot remove", path);
}

static int
remove_found(const char *path, const struct stat *found, int kind, struct FTW *where)
{
    (void)found;
    (void)kind;
    (void)where;
    remove_file(path, NULL, NULL);
    return 0;
}

void
temp_dir_remove(struct temp_dir *dir)
{
    (void)chmod(dir->path, 0700); /* a test may have taken the right away */
    if (nftw(dir->path, remove_found, 16, FTW_DEPTH | FTW_PHYS) != 0)
        give_up("cannot remove", dir->path);
}

static void
copy_file(const char *path, const char *name, void *arg)
{
    char buf[65536];
    ssize_t len;
    const char *target = temp_dir_file(arg, name);
    int in = open(path, O_RDONLY | O_CLOEXEC);
    int out = open(target, O_WRONLY | O_CREAT | O_TRUNC | O_CLOEXEC, 0640);

    if (in < 0 || out < 0)
        give_up("cannot copy", path);
    while ((len = read(in, buf, sizeof(buf))) > 0)
        if (write(out, buf, (size_t)len) != len)
            give_up("cannot write", target);
    (void)close(in);
    (void)close(out);
}

void
temp_dir_copy(const struct temp_dir *from, const struct temp_dir *to)
{
    struct temp_dir target = *to;

    each_file(to, remove_file, NULL);
    each_file(from, copy_file, &target);
}
