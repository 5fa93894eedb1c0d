/* A file that appears whole, or not at all. See outfile.h. */
#include "daemon/cli/outfile.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

static bool
fail(const char *path, const char *what, char *reterr, size_t err_size)
{
    (void)snprintf(reterr, err_size, "%.300s %s: %s; choose another --out or make room there",
                   path, what, strerror(errno));
    return false;
}

bool
outfile_open(struct outfile *file, const char *path, char *reterr, size_t err_size)
{
    static const char ending[] = ".XXXXXX";
    size_t len = strlen(path);
    file->to = NULL;
    if (len == 0 || len + sizeof ending > sizeof file->growing) {
        errno = len == 0 ? ENOENT : ENAMETOOLONG;
        return fail(path, "is no name for a file", reterr, err_size);
    }
    memcpy(file->path, path, len + 1);
    memcpy(file->growing, path, len);
    memcpy(file->growing + len, ending, sizeof ending);
    int fd = mkstemp(file->growing);
    if (fd < 0)
        return fail(path, "cannot be written", reterr, err_size);
    /* mkstemp makes it private; the user's umask decides, as for any other file. */
    mode_t mask = umask(0);
    (void)umask(mask);
    file->to = fchmod(fd, 0666 & ~mask) == 0 ? fdopen(fd, "w") : NULL;
    if (file->to != NULL)
        return true;
    (void)fail(path, "cannot be written", reterr, err_size);
    (void)close(fd);
    (void)unlink(file->growing);
    return false;
}

bool
outfile_keep(struct outfile *file, char *reterr, size_t err_size)
{
    bool good = fflush(file->to) == 0 && !ferror(file->to) && fsync(fileno(file->to)) == 0;
    int why = errno;
    good = fclose(file->to) == 0 && good;
    file->to = NULL;
    if (good && rename(file->growing, file->path) == 0)
        return true;
    errno = good ? errno : why;
    (void)fail(file->path, "cannot be written", reterr, err_size);
    (void)unlink(file->growing);
    return false;
}

void
outfile_drop(struct outfile *file)
{
    if (file->to == NULL)
        return;
    (void)fclose(file->to); /* it is not kept */
    (void)unlink(file->growing);
    file->to = NULL;
}
