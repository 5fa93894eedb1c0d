/* The things that can be named in an answer. See choice.h. */
#include "daemon/cli/choice.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>

#include "trivet/typed.h"

void
choices_init(struct choices *choices)
{
    memset(choices, 0, sizeof *choices);
}

void
choices_done(struct choices *choices)
{
    free(choices->item);
    choices_init(choices);
}

bool
choices_add(struct choices *choices, const char *key, const char *name, const char *label)
{
    if (strlen(key) >= CHOICE_KEY_MAX || strlen(name) >= CHOICE_LABEL_MAX)
        return true;
    if (choices->count == choices->room) {
        size_t room = choices->room == 0 ? 16 : choices->room * 2;
        struct choice *more = realloc(choices->item, room * sizeof *more);
        if (more == NULL)
            return false;
        choices->item = more;
        choices->room = room;
    }
    struct choice *added = &choices->item[choices->count++];
    (void)snprintf(added->key, sizeof added->key, "%s", key);
    (void)snprintf(added->name, sizeof added->name, "%s", name);
    (void)snprintf(added->label, sizeof added->label, "%s", label);
    return true;
}

static bool
find_exact(const struct choices *choices, const char *text, size_t *ret_index)
{
    for (size_t i = 0; i < choices->count; i++) {
        const struct choice *choice = &choices->item[i];
        if (strcasecmp(choice->key, text) == 0 ||
            (choice->name[0] != '\0' && strcasecmp(choice->name, text) == 0)) {
            *ret_index = i;
            return true;
        }
    }
    return false;
}

static bool
find_shown_number(const struct choices *choices, const char *text, size_t *ret_index)
{
    size_t len = strspn(text, "0123456789");
    if (len == 0 || len > 4 || text[len] != '\0')
        return false;
    size_t number = (size_t)strtoul(text, NULL, 10);
    if (number < 1 || number > choices->count)
        return false;
    *ret_index = number - 1;
    return true;
}

static size_t
count_beginnings(const struct choices *choices, const char *text, size_t *ret_index)
{
    size_t len = strlen(text), found = 0;
    for (size_t i = 0; len > 0 && i < choices->count; i++) {
        if (strncasecmp(choices->item[i].key, text, len) != 0 &&
            strncasecmp(choices->item[i].name, text, len) != 0)
            continue;
        *ret_index = i;
        found++;
    }
    return found;
}

char *
choices_text(const struct choices *choices, char *buf, size_t size)
{
    size_t len = 0;
    buf[0] = '\0';
    for (size_t i = 0; i < choices->count; i++) {
        size_t need = strlen(choices->item[i].key) + 2;
        if (len + need + 4 >= size) {
            (void)snprintf(buf + len, size - len, "...");
            break;
        }
        len += (size_t)snprintf(buf + len, size - len, "%s%s", i == 0 ? "" : ", ",
                                choices->item[i].key);
    }
    return buf;
}

bool
choices_find(const struct choices *choices, const char *text, bool shown, size_t *ret_index,
             char *reterr, size_t err_size)
{
    if (find_exact(choices, text, ret_index) ||
        (shown && !choices->numbers && find_shown_number(choices, text, ret_index)))
        return true;
    size_t found = choices->numbers ? 0 : count_beginnings(choices, text, ret_index);
    if (found == 1)
        return true;
    char typed[60], all[300];
    (void)snprintf(reterr, err_size, "'%s' %s: %s", typed_shown(typed, sizeof typed, text),
                   found > 1 ? "fits more than one of these" : "is none of these",
                   choices_text(choices, all, sizeof all));
    return false;
}
