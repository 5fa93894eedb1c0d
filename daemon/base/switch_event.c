/* What a switch did, as a record's data object, and back. Pure but for jansson's allocation
 * while parsing. Any thread. */
#include "trivet/switch_event.h"

#include <string.h>

#include <jansson.h>

#include "trivet/reading.h"

const char *
switch_state_word(enum switch_kind kind, enum switch_state state)
{
    switch (state) {
    case SWITCH_RESTS:
        return kind == SWITCH_DOOR ? "closed" : "released";
    case SWITCH_ACTIVE:
        return kind == SWITCH_DOOR ? "open" : "pressed";
    case SWITCH_UNKNOWN:
        break;
    }
    return "unknown";
}

void
switch_event_write(const struct switch_event *event, struct json_out *out)
{
    out_object(out, NULL);
    if (event->state == SWITCH_UNKNOWN)
        out_text(out, "cause", reading_quality_word(event->cause));
    out_text(out, "kind", switch_kind_word(event->kind));
    out_text(out, "place", event->place);
    out_text(out, "state", switch_state_word(event->kind, event->state));
    out_text(out, "switch", event->id);
    out_object_end(out);
}

static bool
read_id(const json_t *object, const char *key, char ret[static PLAN_ID_MAX + 1])
{
    const json_t *value = json_object_get(object, key);
    const size_t len = json_string_length(value);
    if (!json_is_string(value) || len == 0 || len > PLAN_ID_MAX ||
        strlen(json_string_value(value)) != len)
        return false;
    memcpy(ret, json_string_value(value), len + 1);
    return true;
}

static bool
read_state(const json_t *object, struct switch_event *ret)
{
    const char *kind = json_string_value(json_object_get(object, "kind"));
    const char *state = json_string_value(json_object_get(object, "state"));
    if (kind == NULL || state == NULL)
        return false;
    ret->kind = SWITCH_DOOR;
    if (strcmp(kind, switch_kind_word(SWITCH_BUTTON)) == 0)
        ret->kind = SWITCH_BUTTON;
    else if (strcmp(kind, switch_kind_word(SWITCH_DOOR)) != 0)
        return false;
    for (int i = SWITCH_UNKNOWN; i <= SWITCH_ACTIVE; i++)
        if (strcmp(state, switch_state_word(ret->kind, (enum switch_state)i)) == 0) {
            ret->state = (enum switch_state)i;
            return true;
        }
    return false;
}

/* Of an unknown state alone, and then always. */
static bool
read_cause(const json_t *object, struct switch_event *ret)
{
    const char *cause = json_string_value(json_object_get(object, "cause"));
    if (ret->state != SWITCH_UNKNOWN)
        return json_object_get(object, "cause") == NULL;
    for (uint16_t quality = BAD_TIMEOUT; cause != NULL && quality <= BAD_CONVERSION; quality++)
        if (strcmp(cause, reading_quality_word(quality)) == 0) {
            ret->cause = quality;
            return true;
        }
    return false;
}

bool
switch_event_read(const char *json, size_t len, struct switch_event *ret)
{
    struct switch_event event;
    memset(&event, 0, sizeof event);
    json_t *object = json_loadb(json, len, JSON_REJECT_DUPLICATES, NULL);
    const bool ok = read_id(object, "switch", event.id) &&
                    read_id(object, "place", event.place) && read_state(object, &event) &&
                    read_cause(object, &event);
    json_decref(object);
    if (ok)
        *ret = event;
    return ok;
}
