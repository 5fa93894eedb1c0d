/* What people entered, shown before it is corrected or verified. Reads the store beside the
 * daemon. */
#ifndef CLI_RECENT_H
#define CLI_RECENT_H

#include <jansson.h>

#include "daemon/cli/cli.h"
#include "trivet/store.h"

/* Writes them to cli->err, newest last; nothing when the records cannot be read here: the
 * number can still be typed. */
void recent_show(const struct cli *cli, const json_t *lists);

/* Likewise the newest corrective action on a deviation: nobody verifies what they have not
 * read. */
void recent_show_action(const struct cli *cli, int64_t deviation);

/* One entry in a line: "812  14:05 AB take, 63.4 °C, batch 4". Of lists only time_zone, now_ms,
 * offset_ms and the limits' units are looked at; data is the record's. */
void recent_line(const json_t *lists, const struct store_record *record, const json_t *data,
                 char *line, size_t size);

#endif
