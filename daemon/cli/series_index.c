/* The index of a directory of series.  See series_index.h.  Owns the open file while it reads.
 */
#include "daemon/cli/series_index.h"

#include <errno.h>
#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { LINE_BYTES = 2048, COLUMNS_MAX = 64, ATTEMPTS_MAX = 100000 };

/* The columns that are looked at; those after `first_optional` may be missing. */
enum column {
    RUN,
    RUN_FILE,
    PRODUCT,
    ATTEMPT,
    TARGET,
    MASS,
    START,
    OVEN,
    FIRST_OPTIONAL,
    THICKNESS = FIRST_OPTIONAL,
    PREHEATED,
    OVEN_KIND,
    SHAPE,
    WRAP,
    COLUMNS
};

static const char *const NAMES[COLUMNS] = {
    [RUN] = "run",
    [RUN_FILE] = "file",
    [PRODUCT] = "product",
    [ATTEMPT] = "attempt",
    [TARGET] = "target_C",
    [MASS] = "mass_g",
    [START] = "start_degC",
    [OVEN] = "oven_setpoint_degC",
    [SHAPE] = "shape",
    [THICKNESS] = "thickness_mm",
    [WRAP] = "wrap",
    [PREHEATED] = "preheated",
    [OVEN_KIND] = "oven_kind",
};

struct word {
    const char *word;
    int meaning;
};

static const struct word OVENS[] = {
    {"fan", DISH_FAN}, {"still", DISH_STILL}, {"steam", DISH_STEAM}, {"", DISH_ANY_OVEN}};
static const struct word SHAPES[] = {{"oval", DISH_OVAL},
                                     {"roll", DISH_ROLL},
                                     {"flat", DISH_FLAT},
                                     {"long", DISH_LONG},
                                     {"", DISH_ANY_SHAPE}};
static const struct word WRAPS[] = {
    {"none", DISH_NO_WRAP}, {"dough", DISH_DOUGH}, {"fat", DISH_FAT}, {"", DISH_NO_WRAP}};

struct reading {
    const char *directory;
    FILE *file;
    char path[SERIES_PATH_BYTES];
    long line;
    int place[COLUMNS]; /* of each column in the file; -1: not there */
    char *reterr_text;
};

__attribute__((format(printf, 2, 3))) static bool
refuse(const struct reading *r, const char *format, ...)
{
    int used = snprintf(r->reterr_text, SERIES_ERROR_BYTES, "%s:%ld: ", r->path, r->line);
    va_list args;
    va_start(args, format);
    (void)vsnprintf(r->reterr_text + used, (size_t)(SERIES_ERROR_BYTES - used), format, args);
    va_end(args);
    return false;
}

/* Cuts a line at its commas; quotes are not part of this format. */
static int
cut(char *line, char *field[COLUMNS_MAX])
{
    int count = 0;
    line[strcspn(line, "\r\n")] = '\0';
    for (char *at = line; count < COLUMNS_MAX;) {
        field[count++] = at;
        at = strchr(at, ',');
        if (at == NULL)
            return count;
        *at++ = '\0';
    }
    return -1;
}

static bool
read_header(struct reading *r)
{
    char line[LINE_BYTES];
    char *field[COLUMNS_MAX];
    r->line = 1;
    if (fgets(line, sizeof line, r->file) == NULL)
        return refuse(r, "empty file; the first line names the columns");
    int count = cut(line, field);
    for (int c = 0; c < COLUMNS; c++) {
        r->place[c] = -1;
        for (int i = 0; i < count; i++)
            if (strcmp(field[i], NAMES[c]) == 0)
                r->place[c] = i;
        if (c < FIRST_OPTIONAL && r->place[c] < 0)
            return refuse(r, "there is no column %s; see `trivet help plan-series`", NAMES[c]);
    }
    return true;
}

static const char *
text_of(const struct reading *r, char *const *field, int count, enum column column)
{
    return r->place[column] >= 0 && r->place[column] < count ? field[r->place[column]] : "";
}

static bool
number_of(const struct reading *r, const char *text, enum column column, double *ret)
{
    char *end;
    *ret = NAN;
    if (*text == '\0' && (column >= FIRST_OPTIONAL || column == MASS))
        return true;
    if (strspn(text, "0123456789+-.eE") == strlen(text) && *text != '\0') {
        *ret = strtod(text, &end);
        if (*end == '\0' && isfinite(*ret))
            return true;
    }
    return refuse(r, "%s '%.40s' is not a plain number", NAMES[column], text);
}

static bool
word_of(const struct reading *r, const char *text, enum column column, const struct word *words,
        int *ret)
{
    for (int i = 0; i == 0 || words[i - 1].word[0] != '\0'; i++)
        if (strcmp(words[i].word, text) == 0) {
            *ret = words[i].meaning;
            return true;
        }
    return refuse(r, "%s '%.40s' is not known; write %s, %s or %s, or leave it blank",
                  NAMES[column], text, words[0].word, words[1].word, words[2].word);
}

/* A name goes into paths that are written: letters, digits, dashes and points only. */
static bool
name_of(const struct reading *r, const char *text, enum column column, char *ret)
{
    static const char ALLOWED[] =
        "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789_-.";
    size_t length = strlen(text);
    if (length == 0 || length >= SERIES_WORD_BYTES || strspn(text, ALLOWED) != length ||
        text[0] == '.')
        return refuse(r, "%s '%.40s' is no name; use letters, digits, _, - and .",
                      NAMES[column], text);
    memcpy(ret, text, length + 1);
    return true;
}

static bool
dish_of(const struct reading *r, char *const *field, int count, struct dish *ret)
{
    struct dish d = {.mass_g = NAN};
    double preheated = NAN;
    int oven = 0, shape = 0, wrap = 0;
    bool good = number_of(r, text_of(r, field, count, MASS), MASS, &d.mass_g) &&
                number_of(r, text_of(r, field, count, THICKNESS), THICKNESS, &d.thickness_mm) &&
                number_of(r, text_of(r, field, count, START), START, &d.start_C) &&
                number_of(r, text_of(r, field, count, OVEN), OVEN, &d.oven_C) &&
                number_of(r, text_of(r, field, count, TARGET), TARGET, &d.target_C) &&
                number_of(r, text_of(r, field, count, PREHEATED), PREHEATED, &preheated) &&
                word_of(r, text_of(r, field, count, OVEN_KIND), OVEN_KIND, OVENS, &oven) &&
                word_of(r, text_of(r, field, count, SHAPE), SHAPE, SHAPES, &shape) &&
                word_of(r, text_of(r, field, count, WRAP), WRAP, WRAPS, &wrap);
    if (!good)
        return false;
    d.cold_oven = !isnan(preheated) && !(preheated > 0);
    d.oven = (enum dish_oven)oven;
    d.shape = (enum dish_shape)shape;
    d.wrap = (enum dish_wrap)wrap;
    *ret = d;
    return true;
}

static bool
read_attempt(const struct reading *r, char *line, struct series_attempt *ret)
{
    char *field[COLUMNS_MAX];
    int count = cut(line, field);
    double attempt;
    if (!name_of(r, text_of(r, field, count, RUN), RUN, ret->run) ||
        !name_of(r, text_of(r, field, count, PRODUCT), PRODUCT, ret->product) ||
        !number_of(r, text_of(r, field, count, ATTEMPT), ATTEMPT, &attempt) ||
        !dish_of(r, field, count, &ret->dish))
        return false;
    if (!(attempt >= 1 && attempt <= 100000))
        return refuse(r, "attempt has to be 1 or more");
    ret->attempt = (int)attempt;
    const char *file = text_of(r, field, count, RUN_FILE);
    int length = snprintf(ret->path, sizeof ret->path, "%s/%s", r->directory, file);
    if (*file == '\0' || length < 0 || (size_t)length >= sizeof ret->path)
        return refuse(r, "file names no trace, or one with too long a path");
    return true;
}

static bool
add(const struct reading *r, struct series_index *index, size_t *room,
    const struct series_attempt *attempt)
{
    for (size_t i = 0; i < index->count; i++)
        if (strcmp(index->attempt[i].product, attempt->product) == 0 &&
            index->attempt[i].attempt == attempt->attempt)
            return refuse(r, "%s has an attempt %d already", attempt->product,
                          attempt->attempt);
    if (index->count == ATTEMPTS_MAX)
        return refuse(r, "more than %d attempts; cut the series in parts", ATTEMPTS_MAX);
    if (index->count == *room) {
        size_t more = *room > 0 ? 2 * *room : 64;
        struct series_attempt *a = realloc(index->attempt, more * sizeof *a);
        if (a == NULL)
            return refuse(r, "no memory for so many attempts");
        index->attempt = a;
        *room = more;
    }
    index->attempt[index->count++] = *attempt;
    return true;
}

static bool
read_all(struct reading *r, struct series_index *index)
{
    char line[LINE_BYTES];
    size_t room = 0;
    struct series_attempt attempt = {.attempt = 0};
    if (!read_header(r))
        return false;
    while (fgets(line, sizeof line, r->file) != NULL) {
        r->line++;
        if (strlen(line) == sizeof line - 1)
            return refuse(r, "line longer than %d characters", LINE_BYTES - 2);
        if (line[strspn(line, "\r\n")] == '\0')
            continue;
        if (!read_attempt(r, line, &attempt) || !add(r, index, &room, &attempt))
            return false;
    }
    return ferror(r->file) == 0 || refuse(r, "cannot read on: %s", strerror(errno));
}

bool
series_index_read(const char *directory, struct series_index *ret_index,
                  char reterr_text[SERIES_ERROR_BYTES])
{
    struct reading r = {.directory = directory, .reterr_text = reterr_text};
    struct series_index index = {NULL, 0};
    int length = snprintf(r.path, sizeof r.path, "%s/index.csv", directory);
    r.file = length > 0 && (size_t)length < sizeof r.path ? fopen(r.path, "r") : NULL;
    if (r.file == NULL) {
        (void)snprintf(reterr_text, SERIES_ERROR_BYTES,
                       "%.900s: cannot open its index.csv: %s; name a directory with series",
                       directory, strerror(errno));
        return false;
    }
    bool good = read_all(&r, &index);
    (void)fclose(r.file);
    if (good)
        *ret_index = index;
    else
        series_index_free(&index);
    return good;
}

void
series_index_free(struct series_index *index)
{
    free(index->attempt);
    *index = (struct series_index){NULL, 0};
}
