/* PINs. See pins.h. One line a person: initials, a blank, the hash as libsodium writes it
 * (Argon2id with its own salt). The file is replaced whole. */
#include "daemon/control/pins.h"

#include <assert.h>
#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include <sodium.h>

#define LINE_MAX_BYTES (PLAN_INITIALS_MAX + 2 + crypto_pwhash_STRBYTES)
#define FILE_MAX_BYTES ((size_t)PLAN_PEOPLE_MAX * 2 * LINE_MAX_BYTES)

bool
pins_init(struct pins *pins, const char *directory)
{
    memset(pins, 0, sizeof *pins);
    int n = snprintf(pins->path, sizeof pins->path - 8, "%s/pins", directory);
    return n > 0 && (size_t)n < sizeof pins->path - 8 && sodium_init() >= 0;
}

static struct pin_tries *
tries_of(struct pins *pins, const char *who)
{
    struct pin_tries *oldest = &pins->tries[0];
    for (size_t i = 0; i < PLAN_PEOPLE_MAX; i++) {
        if (strcmp(pins->tries[i].who, who) == 0)
            return &pins->tries[i];
        if (pins->tries[i].until_ms < oldest->until_ms || pins->tries[i].who[0] == '\0')
            oldest = &pins->tries[i];
    }
    memset(oldest, 0, sizeof *oldest);
    (void)snprintf(oldest->who, sizeof oldest->who, "%s", who);
    return oldest;
}

/* The file's text; "" when there is none. False with why. */
static bool
read_file(const struct pins *pins, char *buf, size_t size, char *reterr, size_t err_size)
{
    buf[0] = '\0';
    int fd = open(pins->path, O_RDONLY | O_CLOEXEC | O_NOFOLLOW);
    if (fd < 0 && errno == ENOENT)
        return true;
    size_t len = 0;
    ssize_t part = fd < 0 ? -1 : 0;
    while (fd >= 0 && len < size - 1 && (part = read(fd, buf + len, size - 1 - len)) > 0)
        len += (size_t)part;
    if (part < 0)
        (void)snprintf(reterr, err_size,
                       "the file of PINs, %.300s, cannot be read (%s): nothing was recorded; "
                       "make it readable for trivetd alone",
                       pins->path, strerror(errno));
    if (fd >= 0)
        (void)close(fd); /* only read */
    buf[len] = '\0';
    return part >= 0;
}

/* Copies a person's hash; false when there is none. */
static bool
find_hash(const char *text, const char *who, char ret[crypto_pwhash_STRBYTES])
{
    size_t len = strlen(who);
    for (const char *line = text; *line != '\0';) {
        size_t whole = strcspn(line, "\n");
        if (whole > len + 1 && whole - len - 1 < crypto_pwhash_STRBYTES &&
            memcmp(line, who, len) == 0 && line[len] == ' ') {
            memset(ret, 0, crypto_pwhash_STRBYTES);
            memcpy(ret, line + len + 1, whole - len - 1);
            return true;
        }
        line += whole + (line[whole] == '\n');
    }
    return false;
}

static int
wait_code(const struct pin_tries *tries, int64_t now_ms, char *reterr, size_t err_size)
{
    int64_t left_ms = tries->until_ms - now_ms;
    if (left_ms <= 0)
        return 200;
    (void)snprintf(reterr, err_size,
                   "too many wrong PINs for %s: nothing was recorded; wait %lld s, then try "
                   "again",
                   tries->who, (long long)((left_ms + 999) / 1000));
    return 429;
}

static int
wrong_pin(struct pin_tries *tries, int64_t now_ms, char *reterr, size_t err_size)
{
    int64_t wait_ms = PIN_WAIT_ms;
    tries->wrong++;
    for (unsigned i = PIN_TRIES; i < tries->wrong && wait_ms < PIN_WAIT_MOST_ms; i++)
        wait_ms *= 2;
    if (tries->wrong >= PIN_TRIES)
        tries->until_ms = now_ms + (wait_ms < PIN_WAIT_MOST_ms ? wait_ms : PIN_WAIT_MOST_ms);
    (void)snprintf(reterr, err_size,
                   "that is not the PIN of %s: nothing was recorded; try again", tries->who);
    return 403;
}

int
pins_check(struct pins *pins, const char *who, const char *pin, int64_t now_ms, char *reterr,
           size_t err_size)
{
    static char text[FILE_MAX_BYTES]; /* one thread */
    char hash[crypto_pwhash_STRBYTES];
    if (!read_file(pins, text, sizeof text, reterr, err_size))
        return 503;
    if (!find_hash(text, who, hash)) {
        (void)snprintf(reterr, err_size,
                       "the plan asks for a PIN of %s and none is set: nothing was recorded; "
                       "set it with `trivet pin %s`",
                       who, who);
        return 403;
    }
    if (pin[0] == '\0') {
        (void)snprintf(reterr, err_size,
                       "the plan asks for the PIN of %s: nothing was recorded; enter it at a "
                       "terminal, or give it with --pin-fd",
                       who);
        return 401;
    }
    struct pin_tries *tries = tries_of(pins, who);
    int code = wait_code(tries, now_ms, reterr, err_size);
    if (code != 200)
        return code;
    if (crypto_pwhash_str_verify(hash, pin, strlen(pin)) != 0)
        return wrong_pin(tries, now_ms, reterr, err_size);
    memset(tries, 0, sizeof *tries);
    return 200;
}

/* ---- setting ---- */

static bool
is_pin(const char *pin)
{
    size_t len = strlen(pin);
    return len >= PIN_LEAST && len <= PIN_MOST && strspn(pin, "0123456789") == len;
}

static bool
write_all(int fd, const char *bytes, size_t len)
{
    while (len > 0) {
        ssize_t part = write(fd, bytes, len);
        if (part <= 0)
            return false;
        bytes += part;
        len -= (size_t)part;
    }
    return true;
}

/* Every line but the person's, then the new one; whole or not at all. */
static bool
replace(const struct pins *pins, const char *text, const char *who, const char *hash)
{
    char fresh[sizeof pins->path + 8];
    size_t len = strlen(who);
    (void)snprintf(fresh, sizeof fresh, "%s.new", pins->path); /* fits: pins_init */
    int fd = open(fresh, O_WRONLY | O_CREAT | O_TRUNC | O_CLOEXEC | O_NOFOLLOW, 0600);
    bool good = fd >= 0 && fchmod(fd, 0600) == 0;
    for (const char *line = text; good && *line != '\0';) {
        size_t whole = strcspn(line, "\n") + 1;
        bool own = whole > len + 1 && memcmp(line, who, len) == 0 && line[len] == ' ';
        if (line[whole - 1] == '\0')
            break; /* a line without an end is none of ours */
        good = own || write_all(fd, line, whole);
        line += whole;
    }
    good = good && write_all(fd, who, len) && write_all(fd, " ", 1) &&
           write_all(fd, hash, strlen(hash)) && write_all(fd, "\n", 1) && fsync(fd) == 0;
    if (fd >= 0)
        good = close(fd) == 0 && good;
    if (good)
        return rename(fresh, pins->path) == 0;
    (void)unlink(fresh); /* nothing was lost */
    return false;
}

bool
pins_known(const struct pins *pins, const char *who, bool *ret, char *reterr, size_t err_size)
{
    static char text[FILE_MAX_BYTES]; /* one thread */
    char hash[crypto_pwhash_STRBYTES];
    if (!read_file(pins, text, sizeof text, reterr, err_size))
        return false;
    *ret = find_hash(text, who, hash);
    return true;
}

int
pins_hash(const char *fresh, char ret[PIN_HASH_MAX], char *reterr, size_t err_size)
{
    static_assert(PIN_HASH_MAX >= crypto_pwhash_STRBYTES, "a hash has room");
    if (!is_pin(fresh)) {
        (void)snprintf(reterr, err_size, "a PIN has %d to %d digits and nothing else",
                       PIN_LEAST, PIN_MOST);
        return 400;
    }
    if (crypto_pwhash_str(ret, fresh, strlen(fresh), crypto_pwhash_OPSLIMIT_INTERACTIVE,
                          crypto_pwhash_MEMLIMIT_INTERACTIVE) == 0)
        return 200;
    (void)snprintf(reterr, err_size,
                   "no memory to hash the PIN: nothing was changed; try again in a moment");
    return 503;
}

bool
pins_keep(const struct pins *pins, const char *who, const char *hash, char *reterr,
          size_t err_size)
{
    static char text[FILE_MAX_BYTES]; /* one thread */
    if (!read_file(pins, text, sizeof text, reterr, err_size))
        return false;
    if (replace(pins, text, who, hash))
        return true;
    (void)snprintf(reterr, err_size,
                   "the PIN of %s could not be kept in %.200s (%s): the old one stays; make "
                   "room on the disk, then set it again",
                   who, pins->path, strerror(errno));
    return false;
}
