/* Reads one line of the control protocol. See request.h. */
#include "daemon/control/request.h"

#include <jansson.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define EXAMPLE "{\"do\":\"now\"}"

/* The questions; every other word has to be an entry's. */
static const struct {
    const char *word;
    enum request_kind kind;
} questions[] = {
    {"now", REQUEST_NOW},
    {"lists", REQUEST_LISTS},
    {"where", REQUEST_WHERE},
    {"reload", REQUEST_RELOAD},
};

static bool
read_question(const json_t *object, enum request_kind kind, struct request *ret, char *reterr,
              size_t err_size)
{
    if (json_object_size(object) != 1) {
        snprintf(reterr, err_size,
                 "this question has no other keys: write only its \"do\", as in " EXAMPLE);
        return false;
    }
    ret->kind = kind;
    entry_clear(&ret->entry, ENTRY_NONE);
    return true;
}

/* Takes a PIN off the object; false when it cannot be one. */
static bool
take_pin(json_t *object, const char *key, char ret[REQUEST_PIN_MAX + 1], char *reterr,
         size_t err_size)
{
    const json_t *value = json_object_get(object, key);
    ret[0] = '\0';
    if (value == NULL)
        return true;
    size_t len = json_string_length(value);
    if (!json_is_string(value) || len > REQUEST_PIN_MAX ||
        strlen(json_string_value(value)) != len) {
        snprintf(reterr, err_size, "\"%s\" must be a PIN in quotes", key);
        return false;
    }
    memcpy(ret, json_string_value(value), len + 1);
    (void)json_object_del(object, key);
    return true;
}

static bool
read_pin(json_t *object, struct request *ret, char *reterr, size_t err_size)
{
    const json_t *who = json_object_get(object, "who"), *by = json_object_get(object, "by");
    ret->kind = REQUEST_PIN;
    entry_clear(&ret->entry, ENTRY_PIN);
    if (!take_pin(object, "pin", ret->pin, reterr, err_size) ||
        !take_pin(object, "new", ret->new_pin, reterr, err_size) ||
        !take_pin(object, "by_pin", ret->by_pin, reterr, err_size))
        return false;
    if (!json_is_string(who) || json_string_length(who) > PLAN_INITIALS_MAX ||
        (by != NULL && (!json_is_string(by) || json_string_length(by) > PLAN_INITIALS_MAX)) ||
        json_object_size(object) != (by == NULL ? 2 : 3)) {
        snprintf(reterr, err_size,
                 "write {\"do\":\"pin\",\"who\":\"JO\",\"new\":...} and, when there is one "
                 "already, \"pin\"; for the first one \"by\", a supervisor, and \"by_pin\"");
        return false;
    }
    snprintf(ret->entry.who, sizeof ret->entry.who, "%s", json_string_value(who));
    if (by != NULL)
        snprintf(ret->entry.by, sizeof ret->entry.by, "%s", json_string_value(by));
    return true;
}

/* Hands the object without its "do" to the one reader of entries. */
static bool
read_entry(json_t *object, enum entry_kind kind, struct request *ret, char *reterr,
           size_t err_size)
{
    if (json_object_get(object, "peer_uid") != NULL) {
        snprintf(reterr, err_size,
                 "\"peer_uid\" is set by the daemon from the connection: leave it out");
        return false;
    }
    if (!take_pin(object, "pin", ret->pin, reterr, err_size))
        return false;
    (void)json_object_del(object, "do"); /* it is there: the caller has read it */
    char *fields = json_dumps(object, JSON_COMPACT);
    if (fields == NULL) {
        snprintf(reterr, err_size,
                 "no memory left for this entry: nothing was recorded, "
                 "try again in a moment");
        return false;
    }
    bool done = entry_read(kind, fields, strlen(fields), &ret->entry, reterr, err_size);
    free(fields);
    ret->kind = REQUEST_ENTRY;
    ret->entry.peer_uid = -1;
    return done;
}

static bool
read_object(json_t *object, struct request *ret, char *reterr, size_t err_size)
{
    const char *word = json_string_value(json_object_get(object, "do"));
    if (word == NULL) {
        snprintf(reterr, err_size,
                 "\"do\" is missing or not a text: write for example " EXAMPLE);
        return false;
    }
    for (size_t i = 0; i < sizeof questions / sizeof *questions; i++) {
        if (strcmp(word, questions[i].word) == 0)
            return read_question(object, questions[i].kind, ret, reterr, err_size);
    }
    ret->pin[0] = ret->new_pin[0] = ret->by_pin[0] = '\0';
    if (strcmp(word, "pin") == 0)
        return read_pin(object, ret, reterr, err_size);
    enum entry_kind kind = entry_kind_from_word(word);
    if (kind == ENTRY_NONE) {
        /* The word itself is not repeated: it can be anything, of any length. */
        snprintf(
            reterr, err_size,
            "\"do\" is none of the words known here: write now, lists, where, reload, begin, "
            "move, end, hand, cooked, note, correct, confirm, action, verify, decide, quiet, "
            "calibrate, review, heard, shelve or pin");
        return false;
    }
    return read_entry(object, kind, ret, reterr, err_size);
}

bool
control_request_read(const char *line, size_t len, struct request *ret, char *reterr,
                     size_t err_size)
{
    json_error_t fault;
    json_t *object = json_loadb(line, len, JSON_REJECT_DUPLICATES, &fault);
    if (object == NULL) {
        /* fault.text can hold bytes of the line that are no text for people: only the place is
         * told. */
        snprintf(reterr, err_size,
                 "this line is not JSON, as far as column %d: write one object on one line, "
                 "each key once, for example " EXAMPLE,
                 fault.column < 1 ? 1 : fault.column);
        return false;
    }
    bool done = false;
    if (json_is_object(object))
        done = read_object(object, ret, reterr, err_size);
    else
        snprintf(reterr, err_size,
                 "this line is JSON but no object: write for example " EXAMPLE);
    json_decref(object);
    return done;
}
