/* The record that cannot be altered unseen. docs/storage.md is the stored format; this is its
 * door.
 *
 * One struct store (the recorder's thread) makes every write, commit and checkpoint. Any number
 * of struct store_reader, each with its own read-only connection and its own thread, read
 * beside it. */
#ifndef TRIVET_STORE_H
#define TRIVET_STORE_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "trivet/log.h"
#include "trivet/reading.h"

#define STORE_SCHEMA     1
#define RECORD_BODY_MAX  2100000 /* a plan's whole text, escaped, fits */
#define STORE_DIGEST_HEX 65

enum store_status {
    STORE_OK,
    STORE_NO_DIRECTORY, /* missing or not writable */
    STORE_IN_USE,       /* another daemon holds it */
    STORE_NEWER,        /* written by a newer version */
    STORE_CORRUPT,      /* not a database, or its chain head does not hold */
    STORE_FULL,         /* no space left */
    STORE_IO,           /* any other input/output failure */
};

struct store_error {
    enum store_status status;
    char text[300]; /* what, where, what to do */
};

struct store;

struct store_options {
    const char *vfs;      /* SQLite VFS name, NULL = default; for tests */
    bool synchronous_off; /* only for the test that shows what it would lose */
};

/* What the chain ends with. */
struct store_head {
    uint64_t seq;         /* last record, 0 = empty store */
    int64_t at_ms;        /* latest instant of any record or reading; TIME_NONE when empty */
    int64_t sealed_to_ms; /* readings up to and including this instant are sealed; TIME_NONE */
    uint8_t hash[32];     /* of the last record; zeros when empty */
};

/* Opens or creates DIRECTORY/trivet.db, takes the lock. directory must exist. The cost does not
 * grow with history. */
struct store *store_open(const char *directory, const struct store_options *options,
                         struct store_error *reterr);
void store_close(struct store *store); /* accepts NULL; rolls back what is not committed */
const struct store_head *store_head(const struct store *store);

/* All writes go into one open transaction until store_commit. After a failure the transaction
 * is rolled back and everything since the last commit has to be written again; store_head tells
 * where it stands. */
TRIVET_MUST_USE enum store_status
store_reading(struct store *store, const struct reading *reading, struct store_error *reterr);

/* Appends a record: data_json is the canonical JSON object of the kind; the body becomes
 * {"at_ms":..,"data":{..},"kind":"..","seq":..} and its hash chains to the last. */
TRIVET_MUST_USE enum store_status store_record(struct store *store, const char *kind,
                                               int64_t at_ms, const char *data_json,
                                               uint64_t *ret_seq, struct store_error *reterr);

/* Appends a seal record over the readings in (sealed_to, to_ms], counting those of the open
 * transaction. Every reading that will ever be stored must be later than to_ms from then on. No
 * record when there is no reading in that range. */
TRIVET_MUST_USE enum store_status store_seal(struct store *store, int64_t to_ms, int64_t at_ms,
                                             struct store_error *reterr);

/* A derived blob beside the chain (engine state); replaced whole. Not part of the evidence. */
TRIVET_MUST_USE enum store_status store_cache_put(struct store *store, const char *key,
                                                  const void *blob, size_t size,
                                                  struct store_error *reterr);
/* Returned memory is the caller's (free); NULL when there is none. */
void *store_cache_get(struct store *store, const char *key, size_t *ret_size);

TRIVET_MUST_USE enum store_status store_commit(struct store *store, struct store_error *reterr);
/* True when something waits for a commit. */
bool store_dirty(const struct store *store);

/* ---- reading ---- */

struct store_reader;

struct store_record {
    uint64_t seq;
    int64_t at_ms;
    const char *kind; /* valid until the next call with this reader */
    const char *body; /* the whole canonical body, NUL-terminated */
    size_t body_len;
    const char *data; /* the data object inside body */
    size_t data_len;
    uint8_t hash[32];
};

struct store_reader *store_reader_open(const char *directory, struct store_error *reterr);
void store_reader_close(struct store_reader *reader); /* accepts NULL */

/* Called for each row; false stops the walk. A walk reads pages of rows by key in short
 * transactions, so that a slow consumer never pins the write-ahead log. */
typedef bool store_reading_visitor(void *arg, const struct reading *reading);
typedef bool store_record_visitor(void *arg, const struct store_record *record);

/* Readings with from_ms < at_ms <= to_ms of one probe (in time order), or of all (probe 0)
 * ordered by (at_ms, probe). */
enum store_status store_each_reading(struct store_reader *reader, uint16_t probe,
                                     int64_t from_ms, int64_t to_ms,
                                     store_reading_visitor *visit, void *arg,
                                     struct store_error *reterr);
/* The same with temp_mC corrected, as they were judged (docs/calibration.md). For whoever needs
 * both: store_corrections_read, which learns of the corrections recorded by now, then
 * store_corrected_mC for each raw reading. */
enum store_status store_each_corrected(struct store_reader *reader, uint16_t probe,
                                       int64_t from_ms, int64_t to_ms,
                                       store_reading_visitor *visit, void *arg,
                                       struct store_error *reterr);
enum store_status store_corrections_read(struct store_reader *reader,
                                         struct store_error *reterr);
int32_t store_corrected_mC(const struct store_reader *reader, const struct reading *raw);
/* SHA-256, in lower-case hexadecimal, over the raw readings of some probes (ascending, at least
 * one) with from_ms < at_ms <= to_ms, as a seal has it (S7), and how many there are. */
enum store_status store_readings_digest(struct store_reader *reader, const uint16_t *probes,
                                        size_t count, int64_t from_ms, int64_t to_ms,
                                        char ret[static STORE_DIGEST_HEX], uint64_t *ret_count,
                                        struct store_error *reterr);
/* Records with from_seq < seq <= to_seq, in order; kind NULL = all. */
enum store_status store_each_record(struct store_reader *reader, uint64_t from_seq,
                                    uint64_t to_seq, const char *kind,
                                    store_record_visitor *visit, void *arg,
                                    struct store_error *reterr);
enum store_status store_reader_head(struct store_reader *reader, struct store_head *ret,
                                    struct store_error *reterr);

/* ---- verification ---- */

struct store_verdict {
    bool ok;
    uint64_t records, readings, seals;
    uint64_t unsealed; /* readings after the last seal: present, not yet fixed */
    uint64_t bad_seq;  /* the record at fault (for a bad run of readings: its seal), 0 = none */
    int64_t bad_from_ms, bad_to_ms; /* the run of readings at fault; TIME_NONE */
    uint16_t bad_probe;             /* when a single probe can be named, else 0 */
    uint8_t head[32];
    char text[300]; /* what was found, in words */
};

/* Checks the whole chain and every seal from the first record on; needs only read access. */
enum store_status store_verify(const char *directory, struct store_verdict *ret,
                               struct store_error *reterr);

#endif
