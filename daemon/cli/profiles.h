/* Where the profiles of published limits are, and reading them. Private to the cli room. */
#ifndef CLI_PROFILES_H
#define CLI_PROFILES_H

#include <stddef.h>

#include "daemon/cli/cli.h"
#include "trivet/profile.h"

#define PROFILES_MAX 64

/* Bytes of a path. */
#define PROFILES_PATH_MAX 4096

struct profiles {
    struct profile *profile[PROFILES_MAX]; /* by id */
    size_t count;
};

/* Reads the profile that name begins with ("PROFILE" or "PROFILE/RULE"), or with NULL every
 * one, of a directory: the one given, else $TRIVET_PROFILES, else beside the program
 * (share/trivet/profiles when installed, config/profiles in a build tree). Tells every fault.
 * CLI_DONE or CLI_USAGE; profiles_free in either case. */
int profiles_read(const struct cli *cli, const char *given, const char *name,
                  struct profiles *ret);
void profiles_free(struct profiles *profiles);

/* "PROFILE/RULE" or, when ret_rule may be NULL, "PROFILE". Tells what is not known and what is
 * nearest. CLI_DONE or CLI_USAGE. */
int profiles_find(const struct cli *cli, const struct profiles *profiles, const char *name,
                  const struct profile **ret_profile, const struct profile_rule **ret_rule);

#endif
