/* Where the profiles lie: as the environment says, else beside the program that runs, installed
 * or in the tree it was built in. Reads the environment and /proc; keeps nothing. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "trivet/profile.h"

#define PROGRAM_MAX 3000

static bool
is_directory(const char *path)
{
    struct stat status;
    return stat(path, &status) == 0 && S_ISDIR(status.st_mode);
}

/* In the tree that a program under build/ was built from. */
static bool
beside_sources(const char *program, char *ret, size_t size)
{
    const char *build = NULL;
    for (const char *at = program; (at = strstr(at, "/build/")) != NULL; at++)
        build = at;
    return build &&
           snprintf(ret, size, "%.*s/config/profiles", (int)(build - program), program) <
               (int)size &&
           is_directory(ret);
}

bool
profile_directory(char *ret, size_t size)
{
    static const char *const places[] = {"/../../config/profiles", "/../share/trivet/profiles"};
    const char *said = getenv("TRIVET_PROFILES");
    if (said && said[0] != '\0')
        return snprintf(ret, size, "%s", said) < (int)size && is_directory(ret);
    char program[PROGRAM_MAX];
    ssize_t len = readlink("/proc/self/exe", program, sizeof program - 1);
    program[len > 0 ? len : 0] = '\0';
    if (beside_sources(program, ret, size))
        return true;
    char *slash = strrchr(program, '/');
    if (slash)
        *slash = '\0';
    for (size_t i = 0; i < sizeof places / sizeof *places; i++)
        if (snprintf(ret, size, "%s%s", program, places[i]) < (int)size && is_directory(ret))
            return true;
    return false; /* ret: where an installed one looks */
}
