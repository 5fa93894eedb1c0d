/* See profiles.h. Reads files; writes messages only. */
#include "daemon/cli/profiles.h"

#include <dirent.h>
#include <errno.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

#include "trivet/typed.h"

#define FAULTS_TEXT_MAX 40000

static bool
is_directory(const char *path)
{
    struct stat status;
    return stat(path, &status) == 0 && S_ISDIR(status.st_mode);
}

static int
find_directory(const struct cli *cli, const char *given, char ret[PROFILES_PATH_MAX])
{
    const char *said = getenv("TRIVET_PROFILES");
    if (given == NULL && said != NULL && said[0] != '\0')
        given = said;
    if (given == NULL) {
        if (profile_directory(ret, PROFILES_PATH_MAX))
            return CLI_DONE;
        return cli_fail(cli, CLI_USAGE,
                        "the profiles of limits are not at %s; say where: --profiles DIR", ret);
    }
    char shown[200];
    if (snprintf(ret, PROFILES_PATH_MAX, "%s", given) >= PROFILES_PATH_MAX ||
        !is_directory(ret))
        return cli_fail(cli, CLI_USAGE,
                        "%s is no directory of profiles; name one with --profiles DIR",
                        typed_shown(shown, sizeof shown, given));
    return CLI_DONE;
}

static int
read_one(const struct cli *cli, const char *directory, const char *name,
         struct profiles *profiles)
{
    char path[PROFILES_PATH_MAX + 300];
    if (profiles->count == PROFILES_MAX)
        return cli_fail(cli, CLI_USAGE, "%s has more than %d profiles; take some away",
                        directory, PROFILES_MAX);
    struct plan_faults *faults = malloc(sizeof *faults);
    char *text = malloc(FAULTS_TEXT_MAX);
    int code = CLI_DONE;
    if (faults == NULL || text == NULL) {
        code = cli_fail(cli, CLI_USAGE, "no memory to read the profiles");
    } else {
        (void)snprintf(path, sizeof path, "%s/%s", directory, name);
        struct profile *profile = profile_load(path, faults);
        if (profile != NULL) {
            profiles->profile[profiles->count++] = profile;
        } else {
            (void)plan_faults_text(faults, path, text, FAULTS_TEXT_MAX);
            (void)fputs(text, cli->err);
            code = CLI_USAGE;
        }
    }
    free(text);
    free(faults);
    return code;
}

static int
is_profile(const struct dirent *entry)
{
    size_t len = strlen(entry->d_name);
    return entry->d_name[0] != '.' && len > 5 && strcmp(entry->d_name + len - 5, ".yaml") == 0;
}

/* Whether a file is that of the profile that name begins with. */
static bool
is_of(const char *file, const char *name)
{
    size_t len = name != NULL ? strcspn(name, "/") : 0;
    return name == NULL || (strlen(file) == len + 5 && strncmp(file, name, len) == 0);
}

int
profiles_read(const struct cli *cli, const char *given, const char *name, struct profiles *ret)
{
    char directory[PROFILES_PATH_MAX];
    memset(ret, 0, sizeof *ret);
    int code = find_directory(cli, given, directory);
    if (code != CLI_DONE)
        return code;
    struct dirent **entries = NULL;
    int count = scandir(directory, &entries, is_profile, alphasort);
    if (count < 0)
        return cli_fail(cli, CLI_USAGE,
                        "%s cannot be read: %s; name another with --profiles DIR", directory,
                        strerror(errno));
    for (int i = 0; i < count; i++) {
        if (is_of(entries[i]->d_name, name) &&
            read_one(cli, directory, entries[i]->d_name, ret) != CLI_DONE)
            code = CLI_USAGE; /* go on: all faults at once */
        free(entries[i]);
    }
    free(entries);
    if (count == 0)
        return cli_fail(cli, CLI_USAGE,
                        "%s has no profiles in it; name another with "
                        "--profiles DIR",
                        directory);
    return code;
}

void
profiles_free(struct profiles *profiles)
{
    for (size_t i = 0; i < profiles->count; i++)
        profile_free(profiles->profile[i]);
    profiles->count = 0;
}

static const struct profile *
find_profile(const struct profiles *profiles, const char *id, size_t len)
{
    for (size_t i = 0; i < profiles->count; i++)
        if (strlen(profiles->profile[i]->id) == len &&
            memcmp(profiles->profile[i]->id, id, len) == 0)
            return profiles->profile[i];
    return NULL;
}

int
profiles_find(const struct cli *cli, const struct profiles *profiles, const char *name,
              const struct profile **ret_profile, const struct profile_rule **ret_rule)
{
    char shown[100];
    size_t len = strcspn(name, "/");
    (void)typed_shown(shown, sizeof shown, name);
    *ret_rule = NULL;
    *ret_profile = find_profile(profiles, name, len);
    if (*ret_profile == NULL)
        return cli_fail(cli, CLI_USAGE,
                        "there is no profile of limits '%s'; `trivet limits` lists them",
                        shown);
    if (name[len] == '\0')
        return CLI_DONE;
    *ret_rule = profile_rule(*ret_profile, name + len + 1);
    if (*ret_rule == NULL)
        return cli_fail(cli, CLI_USAGE,
                        "%s has no rule '%s'; `trivet limits %s` lists its rules",
                        (*ret_profile)->id, shown, (*ret_profile)->id);
    return CLI_DONE;
}
