/* Asks a person at a terminal. See ask.h. */
#include "daemon/cli/ask.h"

#include <string.h>

#include "daemon/cli/cli.h"

/* Reads a line; false at the end of the input. A line that is too long is swallowed whole and
 * comes out as "too long". */
static bool
read_line(const struct asker *asker, char *ret, size_t size, bool *ret_too_long)
{
    size_t len = 0;
    int c;
    *ret_too_long = false;
    while ((c = getc(asker->in)) != EOF && c != '\n') {
        if (len + 1 < size && c != '\0')
            ret[len++] = (char)c;
        else
            *ret_too_long = true;
    }
    ret[len] = '\0';
    return c != EOF || len > 0;
}

static void
trim(char *text)
{
    size_t from = strspn(text, " \t\r");
    size_t len = strlen(text + from);
    memmove(text, text + from, len + 1);
    while (len > 0 && strchr(" \t\r", text[len - 1]) != NULL)
        text[--len] = '\0';
}

void
ask_complain(const struct asker *asker, const char *why)
{
    (void)fputs("  ", asker->out);
    cli_print_clean(asker->out, why);
    (void)fputc('\n', asker->out);
}

static void
prompt(const struct asker *asker, const char *usual, bool may_skip)
{
    if (usual != NULL) {
        (void)fputc('[', asker->out);
        cli_print_clean(asker->out, usual);
        (void)fputs("] ", asker->out);
    } else if (may_skip) {
        (void)fputs("[leave out] ", asker->out);
    }
    (void)fputs("> ", asker->out);
    (void)fflush(asker->out);
}

enum ask_status
ask_text(const struct asker *asker, const char *question, const char *usual, bool may_skip,
         char *ret)
{
    for (;;) {
        (void)fprintf(asker->out, "%s\n", question);
        prompt(asker, usual, may_skip);
        bool too_long;
        if (!read_line(asker, ret, ASK_ANSWER_MAX, &too_long)) {
            (void)fputc('\n', asker->out);
            return ASK_LEFT;
        }
        trim(ret);
        if (too_long) {
            ask_complain(asker, "that is too long: at most 1000 letters, please");
            continue;
        }
        if (ret[0] != '\0')
            return ASK_ANSWERED;
        if (usual != NULL) {
            (void)snprintf(ret, ASK_ANSWER_MAX, "%s", usual);
            return ASK_ANSWERED;
        }
        if (may_skip)
            return ASK_SKIPPED;
        ask_complain(asker, "this cannot be left out; Ctrl-D leaves, and nothing is recorded");
    }
}

/* Where the text of a list begins: after "    1  ". */
#define LIST_COLUMN 7

static void
show(const struct asker *asker, const char *question, const struct choices *choices)
{
    (void)fprintf(asker->out, "%s\n", question);
    for (size_t i = 0; i < choices->count; i++) {
        if (choices->numbers)
            (void)fprintf(asker->out, "%5s  ", choices->item[i].key);
        else
            (void)fprintf(asker->out, "%5zu  ", i + 1);
        cli_print_wrapped(asker->out, choices->item[i].label, LIST_COLUMN, LIST_COLUMN);
    }
}

enum ask_status
ask_choice(const struct asker *asker, const char *question, const struct choices *choices,
           size_t usual, bool may_skip, size_t *ret_index)
{
    show(asker, question, choices);
    for (;;) {
        char text[ASK_ANSWER_MAX], why[500];
        bool too_long;
        prompt(asker, usual < choices->count ? choices->item[usual].key : NULL, may_skip);
        if (!read_line(asker, text, sizeof text, &too_long)) {
            (void)fputc('\n', asker->out);
            return ASK_LEFT;
        }
        trim(text);
        if (text[0] == '\0' && usual < choices->count) {
            *ret_index = usual;
            return ASK_ANSWERED;
        }
        if (text[0] == '\0' && may_skip)
            return ASK_SKIPPED;
        if (text[0] == '\0')
            ask_complain(asker, choices->numbers ? "type one of the numbers"
                                                 : "type a number or a name from the list");
        else if (choices_find(choices, text, true, ret_index, why, sizeof why))
            return ASK_ANSWERED;
        else
            ask_complain(asker, why);
    }
}

/* Marks what the text names; false with a complaint. */
static bool
pick(const struct choices *choices, char *text, size_t max, bool *ret_picked, char *reterr,
     size_t err_size)
{
    memset(ret_picked, 0, choices->count * sizeof *ret_picked);
    size_t count = 0;
    char *rest = NULL;
    for (char *word = strtok_r(text, ", ", &rest); word != NULL;
         word = strtok_r(NULL, ", ", &rest)) {
        size_t index;
        if (!choices_find(choices, word, true, &index, reterr, err_size))
            return false;
        count += ret_picked[index] ? 0 : 1;
        ret_picked[index] = true;
    }
    if (count <= max)
        return true;
    (void)snprintf(reterr, err_size, "at most %zu of them, please", max);
    return false;
}

enum ask_status
ask_choices(const struct asker *asker, const char *question, const struct choices *choices,
            size_t max, bool *ret_picked)
{
    show(asker, question, choices);
    for (;;) {
        char text[ASK_ANSWER_MAX], why[500];
        bool too_long;
        (void)fputs("[none] > ", asker->out);
        (void)fflush(asker->out);
        if (!read_line(asker, text, sizeof text, &too_long)) {
            (void)fputc('\n', asker->out);
            return ASK_LEFT;
        }
        trim(text);
        if (text[0] == '\0')
            return ASK_SKIPPED;
        if (pick(choices, text, max, ret_picked, why, sizeof why))
            return ASK_ANSWERED;
        ask_complain(asker, why);
    }
}
