/* `trivet export`, `trivet chain`, `trivet replay`: what reads the store itself, with or
 * without the daemon. */
#ifndef CLI_RECORDS_H
#define CLI_RECORDS_H

#include "daemon/cli/cli.h"
#include "trivet/store.h"
#include "trivet/zone.h"

int cli_export(struct cli *cli, int argc, char **argv);
int cli_chain(struct cli *cli, int argc, char **argv);
int cli_replay(struct cli *cli, int argc, char **argv);

#define RECORDS_DIRECTORY_MAX 4096

/* The store's directory: as said with --store, or as the daemon says. CLI_DONE or after a
 * message. */
int records_find_store(const struct cli *cli, char ret[RECORDS_DIRECTORY_MAX]);

/* The site's clock, from the records. */
struct site_time {
    const struct zone *zone; /* UTC when no plan is recorded */
    int64_t offset_ms;       /* shown time = at_ms + offset_ms */
    bool demo;               /* nothing in the records was measured in food */
};

/* The last plan and the last step of the clock are in force. */
enum store_status records_site_time(struct store_reader *reader, struct site_time *ret,
                                    struct store_error *reterr);

#endif
