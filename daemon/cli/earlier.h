/* Earlier batches for the verbs that plan and compare: the records that --store or the daemon
 * names, opened, with messages. */
#ifndef CLI_EARLIER_H
#define CLI_EARLIER_H

#include "daemon/cli/cli.h"
#include "trivet/earlier.h"

struct earlier_records {
    struct store_reader *reader;
    struct earlier earlier;
};

/* Finds a product by its id or name. CLI_DONE or after a message; close it in either case. */
int earlier_records_open(const struct cli *cli, const char *product, enum forecast_kind kind,
                         struct earlier_records *ret);
void earlier_records_close(struct earlier_records *records);

/* Reads a batch's curve. CLI_DONE or after a message. */
int earlier_records_curve(const struct cli *cli, const struct earlier_records *records,
                          const struct earlier_batch *batch, struct earlier_curve *ret);

#endif
