/* The read side's inside, shared with verification and exports. */
#ifndef STORE_READ_H
#define STORE_READ_H

#include "db.h"

#define PAGE_RECORDS 256
#define PAGE_BYTES   131072 /* a page ends after the row that crosses this */

struct corrections;

struct store_reader {
    struct db db;
    struct corrections *corrections; /* NULL until they are asked for */
};

struct record_row {
    int64_t seq, at_ms;
    size_t kind_at, body_at, body_len; /* in the page's text */
    uint8_t hash[32];
};

/* Rows copied out of one short transaction. All zeros before the first use. */
struct record_page {
    struct record_row rows[PAGE_RECORDS];
    size_t count;
    char *text;
    size_t used, room;
    bool bad_row;    /* the row after these has columns of the wrong type */
    int64_t bad_seq; /* what it gives as its seq */
};

/* stmt selects seq, at_ms, kind, body, hash in order of seq, and is bound; it is reset. */
enum store_status record_page_fill(const struct db *db, sqlite3_stmt *stmt,
                                   struct record_page *page, struct store_error *reterr);
/* False when the body is not that of its columns (S3); what is not the body's is filled in all
 * the same. */
bool record_row_read(const struct record_page *page, size_t at, struct store_record *ret);
void record_page_done(struct record_page *page);

/* The last of records 1 to last_seq whose at_ms is below at_ms, 0 when there is none: by
 * bisection (S6). */
enum store_status reader_seq_before(struct store_reader *reader, uint64_t last_seq,
                                    int64_t at_ms, uint64_t *ret_seq,
                                    struct store_error *reterr);

#endif
