/* Reads the tree against the tables: keys known, given once, allowed, there when required;
 * values by type; then ids given twice and references. Recursion follows the tables, never the
 * file. */
#include <assert.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "daemon/plan/faults.h"
#include "daemon/plan/quantity.h"
#include "daemon/plan/schema.h"

static void read_mapping(struct walk *walk, const struct table *table, yaml_node_t *node,
                         void *base);

/* ---- faults at nodes ---- */

static size_t
node_index(const struct walk *walk, const yaml_node_t *node)
{
    return (size_t)(node - walk->tree->document.nodes.start);
}

/* plan_fault_add shortens what is too long, so twice its room is ample. */
#define FAULT_TEXT_MAX (sizeof(((struct plan_fault *)0)->text) * 2)

void
plan_walk_fault(struct walk *walk, const yaml_node_t *node, const char *format, ...)
{
    char text[FAULT_TEXT_MAX];
    va_list args;
    va_start(args, format);
    (void)vsnprintf(text, sizeof(text), format, args); /* shortened anyway */
    va_end(args);
    assert(node); /* a default of ours that is wrong */
    walk->bad[node_index(walk, node)] = true;
    plan_fault_add(walk->faults, plan_node_line(node), plan_node_column(node), "%s", text);
}

/* Columns count characters. A double-quoted or folded text is not written as it reads. */
static int
column_within(const yaml_node_t *scalar, size_t offset)
{
    const yaml_scalar_style_t style = scalar->data.scalar.style;
    const bool is_quoted = style == YAML_SINGLE_QUOTED_SCALAR_STYLE;
    int column = plan_node_column(scalar);
    if (scalar->start_mark.line != scalar->end_mark.line ||
        (style != YAML_PLAIN_SCALAR_STYLE && !is_quoted))
        return column;
    for (size_t i = 0; i < offset && i < scalar->data.scalar.length; i++) {
        const unsigned char byte = scalar->data.scalar.value[i];
        column += (byte & 0xC0) != 0x80;
        column += is_quoted && byte == '\''; /* written twice */
    }
    return column + is_quoted;
}

void
plan_walk_fault_within(struct walk *walk, const yaml_node_t *scalar, size_t offset,
                       const char *format, ...)
{
    char text[FAULT_TEXT_MAX];
    va_list args;
    va_start(args, format);
    (void)vsnprintf(text, sizeof(text), format, args); /* shortened anyway */
    va_end(args);
    assert(scalar && scalar->type == YAML_SCALAR_NODE);
    walk->bad[node_index(walk, scalar)] = true;
    plan_fault_add(walk->faults, plan_node_line(scalar), column_within(scalar, offset), "%s",
                   text);
}

yaml_node_t *
plan_walk_good(struct walk *walk, const yaml_node_t *mapping, const char *key)
{
    yaml_node_t *node = plan_tree_child(walk->tree, mapping, key);
    return node && !walk->bad[node_index(walk, node)] ? node : NULL;
}

/* ---- growing lists ---- */

static void *
grow(struct walk *walk, void *list, size_t count, size_t *room, size_t size)
{
    if (count < *room)
        return list;
    size_t more = *room ? *room * 2 : 64;
    void *grown = realloc(list, more * size);
    if (grown)
        *room = more;
    else
        walk->arena->failed = true;
    return grown;
}

static void
note_id(struct walk *walk, enum names names, const char *id, const yaml_node_t *node)
{
    void *ids = grow(walk, walk->ids, walk->id_count, &walk->id_room, sizeof(walk->ids[0]));
    if (!ids)
        return;
    walk->ids = ids;
    walk->ids[walk->id_count++] =
        (struct id_seen){.names = names,
                         .scope = names == NAMES_STEP ? walk->list_scope : 0,
                         .id = id,
                         .index = walk->list_index,
                         .node = node};
}

static void
note_reference(struct walk *walk, const struct field *field, void *target, yaml_node_t *node)
{
    void *references = grow(walk, walk->references, walk->reference_count,
                            &walk->reference_room, sizeof(walk->references[0]));
    if (!references)
        return;
    walk->references = references;
    walk->references[walk->reference_count++] =
        (struct reference){.field = field, .target = target, .node = node};
}

/* ---- defaults ---- */

static bool
is_among(uint32_t set, uint32_t variant)
{
    return set == 0 || (set & variant) != 0;
}

static void
apply_defaults(struct walk *walk, const struct table *table, uint32_t variant, uint32_t drivers,
               void *base)
{
    for (size_t i = 0; i < table->field_count; i++) {
        const struct field *field = &table->fields[i];
        void *target = (char *)base + field->offset;
        if (field->type == FIELD_TABLE && !field->table->variant)
            apply_defaults(walk, field->table, ALWAYS, ALWAYS, target);
        if (field->type == FIELD_REFERENCE || field->type == FIELD_TEMP_OR_ID)
            plan_value_store(target, field->size, -1);
        if (field->type == FIELD_TEMP_OR_ID)
            plan_value_store((char *)base + field->temp_offset, sizeof(int32_t), TEMP_NONE);
        if (field->fallback && is_among(field->allowed_in, variant) &&
            is_among(field->on_drivers, drivers))
            (void)plan_value_read(walk, field, field->fallback, strlen(field->fallback), NULL,
                                  target,
                                  base); /* right, or memory ran out and the arena knows */
    }
}

/* ---- values ---- */

static const char *
shape_word(const yaml_node_t *node)
{
    switch (node->type) {
    case YAML_SEQUENCE_NODE:
        return "a list";
    case YAML_MAPPING_NODE:
        return "a mapping of keys";
    case YAML_NO_NODE:
    case YAML_SCALAR_NODE:
        break;
    }
    return node->data.scalar.length == 0 ? "empty" : "a single value";
}

static bool
has_shape(struct walk *walk, const struct field *field, const yaml_node_t *node,
          yaml_node_type_t type)
{
    if (node->type == type)
        return true;
    plan_walk_fault(walk, node, "%s is %s; write %s: %s", field->key, shape_word(node),
                    field->key, field->write);
    return false;
}

/* Whether what was read may be an id or a temperature, and is an id. */
static bool
is_id_of_two(const struct field *field, const void *base)
{
    int32_t temp_mC;
    if (field->type != FIELD_TEMP_OR_ID)
        return false;
    memcpy(&temp_mC, (const char *)base + field->temp_offset, sizeof(temp_mC));
    return temp_mC == TEMP_NONE;
}

static void
read_scalar(struct walk *walk, const struct field *field, yaml_node_t *node, void *target,
            void *base)
{
    if (!has_shape(walk, field, node, YAML_SCALAR_NODE) ||
        !plan_value_read(walk, field, (const char *)node->data.scalar.value,
                         node->data.scalar.length, node, target, base))
        return;
    if (field->names != NAMES_NONE && (field->type == FIELD_ID || field->type == FIELD_DOTTED ||
                                       field->type == FIELD_INITIALS))
        note_id(walk, field->names, target, node);
    if (field->type == FIELD_REFERENCE || is_id_of_two(field, base))
        note_reference(walk, field, target, node);
}

/* Entries of a list that can be taken; tells when there are too many or none. */
static size_t
usable_items(struct walk *walk, const struct field *field, yaml_node_t *node)
{
    size_t count = plan_tree_items(node);
    if (count == 0 && field->required)
        plan_walk_fault(walk, node, "%s is empty; write at least one entry: %s", field->key,
                        field->write);
    if (count <= field->max_count)
        return count;
    plan_walk_fault(walk, plan_tree_item(walk->tree, node, field->max_count),
                    "%s has %zu entries; write at most %zu", field->key, count,
                    field->max_count);
    return field->max_count;
}

static void
read_tables(struct walk *walk, const struct field *field, yaml_node_t *node, char *base)
{
    if (!has_shape(walk, field, node, YAML_SEQUENCE_NODE))
        return;
    size_t count = usable_items(walk, field, node);
    char *entries = base + field->offset;
    if (!field->within) {
        entries = plan_arena_take(walk->arena, count, field->table->size);
        if (!entries)
            return;
        memcpy(base + field->offset, &entries, sizeof(entries));
    }
    plan_value_store(base + field->count_offset, field->count_size, (int64_t)count);
    int outer_scope = walk->list_scope;
    size_t outer_index = walk->list_index;
    for (size_t i = 0; i < count; i++) {
        walk->list_scope = (int)node_index(walk, node);
        walk->list_index = i;
        read_mapping(walk, field->table, plan_tree_item(walk->tree, node, i),
                     entries + i * field->table->size);
    }
    walk->list_scope = outer_scope;
    walk->list_index = outer_index;
}

/* A list of scalars within the struct. */
static void
read_scalars(struct walk *walk, const struct field *field, yaml_node_t *node, char *base)
{
    if (!has_shape(walk, field, node, YAML_SEQUENCE_NODE))
        return;
    size_t count = usable_items(walk, field, node);
    for (size_t i = 0; i < count; i++)
        read_scalar(walk, field, plan_tree_item(walk->tree, node, i),
                    base + field->offset + i * field->size, base);
    if (field->count_size > 0)
        plan_value_store(base + field->count_offset, field->count_size, (int64_t)count);
}

static void
read_temp_range(struct walk *walk, const struct field *field, yaml_node_t *node, char *base)
{
    struct limit_temp ends[2] = {{0}};
    size_t faults_before = walk->faults->count;
    if (!has_shape(walk, field, node, YAML_SEQUENCE_NODE))
        return;
    if (plan_tree_items(node) != 2) {
        plan_walk_fault(
            walk, node,
            "%s has %zu entries instead of lowest and highest; write %s: %s (in decimals a "
            "point, not a comma)",
            field->key, plan_tree_items(node), field->key, field->write);
        return;
    }
    for (size_t i = 0; i < 2; i++)
        read_scalar(walk, field, plan_tree_item(walk->tree, node, i), &ends[i], base);
    if (walk->faults->count != faults_before || walk->faults->more) {
        walk->bad[node_index(walk, node)] = true;
        return;
    }
    /* Rounded inwards, so that what is taken as plausible is plausible in the plan's own unit.
     */
    plan_value_store(base + field->offset, 4,
                     quantity_ceil_mC((int64_t)ends[0].milli * 1000, ends[0].unit, 0));
    plan_value_store(base + field->offset + 4, 4,
                     quantity_floor_mC((int64_t)ends[1].milli * 1000, ends[1].unit, 0));
}

static void
read_field(struct walk *walk, const struct field *field, yaml_node_t *node, void *base)
{
    switch (field->type) {
    case FIELD_TABLE:
        read_mapping(walk, field->table, node, (char *)base + field->offset);
        return;
    case FIELD_TABLES:
        read_tables(walk, field, node, base);
        return;
    case FIELD_TEXTS:
    case FIELD_WHOLES:
        read_scalars(walk, field, node, base);
        return;
    case FIELD_TEMP_RANGE:
        read_temp_range(walk, field, node, base);
        return;
    default:
        read_scalar(walk, field, node, (char *)base + field->offset, base);
        return;
    }
}

/* ---- mappings ---- */

/* The bit of the variant a mapping is of; ALWAYS when it has none or does not say it well. */
static uint32_t
variant_of(struct walk *walk, const struct table *table, const yaml_node_t *node)
{
    if (!table->variant)
        return ALWAYS;
    const yaml_node_t *word = plan_tree_child(walk->tree, node, table->variant);
    for (size_t i = 0; i < table->field_count; i++)
        if (strcmp(table->fields[i].key, table->variant) == 0)
            for (const struct choice *choice = table->fields[i].choices; choice->word; choice++)
                if (plan_node_is(word, choice->word))
                    return 1u << choice->value;
    return ALWAYS;
}

static const char *
variant_word(struct walk *walk, const struct table *table, const yaml_node_t *node)
{
    return (const char *)plan_tree_child(walk->tree, node, table->variant)->data.scalar.value;
}

/* The bit of the driver of the bus that a mapping names; ALWAYS when that cannot be told. The
 * bus may stand further down, so it is looked up in the tree. */
static uint32_t
driver_of(struct walk *walk, const struct table *table, const yaml_node_t *node)
{
    const yaml_node_t *buses = plan_tree_child(walk->tree, plan_tree_root(walk->tree), "buses");
    const yaml_node_t *word = table->on_bus ? plan_tree_child(walk->tree, node, "bus") : NULL;
    if (!word || word->type != YAML_SCALAR_NODE || !buses)
        return ALWAYS;
    for (size_t i = 0; i < plan_tree_items(buses); i++) {
        const yaml_node_t *bus = plan_tree_item(walk->tree, buses, i);
        const yaml_node_t *id = plan_tree_child(walk->tree, bus, "id");
        if (id && plan_node_is(id, (const char *)word->data.scalar.value))
            return variant_of(walk, &plan_bus_table, bus);
    }
    return ALWAYS;
}

static const char *
driver_word(uint32_t driver)
{
    for (size_t i = 0; i < plan_bus_table.field_count; i++)
        if (strcmp(plan_bus_table.fields[i].key, plan_bus_table.variant) == 0)
            for (const struct choice *choice = plan_bus_table.fields[i].choices; choice->word;
                 choice++)
                if (driver == 1u << choice->value)
                    return choice->word;
    return "other";
}

/* One mapping while its keys are being read. */
struct keys {
    const struct table *table;
    yaml_node_t *node;
    uint32_t variant, drivers;
    const yaml_node_t *seen[FIELDS_MAX]; /* key nodes by field */
    bool meant[FIELDS_MAX];              /* a misspelled key stands for it */
};

static const char *
next_key(const void *arg, size_t i)
{
    const struct keys *keys = arg;
    return i < keys->table->field_count ? keys->table->fields[i].key : NULL;
}

static void
unknown_key(struct walk *walk, struct keys *keys, const yaml_node_t *key)
{
    char quoted[PLAN_QUOTED_MAX];
    const char *text = (const char *)key->data.scalar.value;
    size_t len = key->data.scalar.length;
    plan_quoted(quoted, text, len);
    const char *nearest = plan_nearest(text, len, next_key, keys);
    for (size_t i = 0; nearest && i < keys->table->field_count; i++)
        if (strcmp(keys->table->fields[i].key, nearest) == 0)
            keys->meant[i] = true;
    if (nearest)
        plan_walk_fault(walk, key, "%s has no key '%s'; did you mean '%s'?", keys->table->what,
                        quoted, nearest);
    else if (len > 0 && text[0] >= '0' && text[0] <= '9')
        plan_walk_fault(
            walk, key,
            "%s has no key '%s'; if it is the end of a number, write a point, not a comma",
            keys->table->what, quoted);
    else
        plan_walk_fault(walk, key,
                        "%s has no key '%s'; delete it, or see the list of keys in plan.md",
                        keys->table->what, quoted);
}

static void
read_pair(struct walk *walk, struct keys *keys, const yaml_node_pair_t *pair, void *base)
{
    yaml_node_t *key = plan_tree_node(walk->tree, pair->key);
    yaml_node_t *value = plan_tree_node(walk->tree, pair->value);
    const struct table *table = keys->table;
    size_t i = 0;
    if (key->type != YAML_SCALAR_NODE) {
        plan_walk_fault(walk, key, "a key that is %s; write a plain word before the ':'",
                        shape_word(key));
        return;
    }
    while (i < table->field_count && !plan_node_is(key, table->fields[i].key))
        i++;
    if (i == table->field_count) {
        unknown_key(walk, keys, key);
    } else if (keys->seen[i]) {
        plan_walk_fault(walk, key, "'%s' is given twice, first on line %d; delete one of them",
                        table->fields[i].key, plan_node_line(keys->seen[i]));
    } else {
        keys->seen[i] = key;
        if (!is_among(table->fields[i].on_drivers, keys->drivers))
            plan_walk_fault(walk, key,
                            "'%s' has no meaning on a bus with driver: %s; delete it",
                            table->fields[i].key, driver_word(keys->drivers));
        else if (is_among(table->fields[i].allowed_in, keys->variant))
            read_field(walk, &table->fields[i], value, base);
        else
            plan_walk_fault(walk, key, "'%s' has no meaning with %s: %s; delete it",
                            table->fields[i].key, table->variant,
                            variant_word(walk, table, keys->node));
    }
}

static void
tell_missing(struct walk *walk, struct keys *keys)
{
    for (size_t i = 0; i < keys->table->field_count; i++) {
        const struct field *field = &keys->table->fields[i];
        /* Where the variant is not known, only what every variant needs is missed. */
        bool needed =
            field->required &&
            (keys->variant == ALWAYS ? field->allowed_in == 0 && field->required_in == 0
                                     : is_among(field->allowed_in, keys->variant) &&
                                           is_among(field->required_in, keys->variant)) &&
            (keys->drivers == ALWAYS ? field->on_drivers == 0
                                     : is_among(field->on_drivers, keys->drivers));
        if (needed && !keys->seen[i] && !keys->meant[i])
            plan_walk_fault(walk, keys->node, "%s lacks '%s'; write %s: %s", keys->table->what,
                            field->key, field->key, field->write);
    }
}

static void
read_mapping(struct walk *walk, const struct table *table, yaml_node_t *node, void *base)
{
    struct keys keys = {.table = table, .node = node};
    assert(table->field_count <= FIELDS_MAX);
    if (node->type != YAML_MAPPING_NODE) {
        plan_walk_fault(
            walk, node, "%s is written as keys with values, and this is %s; write %s: %s",
            table->what, shape_word(node), table->fields[0].key, table->fields[0].write);
        /* Checks still look at it, and must not find it pointing to the first of everything. */
        apply_defaults(walk, table, ALWAYS, ALWAYS, base);
        return;
    }
    keys.variant = variant_of(walk, table, node);
    keys.drivers = driver_of(walk, table, node);
    apply_defaults(walk, table, keys.variant, keys.drivers, base);
    for (const yaml_node_pair_t *pair = node->data.mapping.pairs.start;
         pair < node->data.mapping.pairs.top; pair++)
        read_pair(walk, &keys, pair, base);
    tell_missing(walk, &keys);
}

/* ---- ids and references ---- */

static int
compare_names(const struct id_seen *a, const struct id_seen *b)
{
    if (a->names != b->names)
        return a->names < b->names ? -1 : 1;
    if (a->scope != b->scope)
        return a->scope < b->scope ? -1 : 1;
    return strcmp(a->id, b->id);
}

static int
compare_ids(const void *left, const void *right)
{
    const struct id_seen *a = left, *b = right;
    int names = compare_names(a, b);
    if (names != 0)
        return names;
    return a->node->start_mark.index < b->node->start_mark.index ? -1 : 1;
}

static void
tell_ids_given_twice(struct walk *walk)
{
    for (size_t i = 1; i < walk->id_count; i++) {
        const struct id_seen *first = &walk->ids[i - 1], *again = &walk->ids[i];
        if (compare_names(first, again) == 0)
            plan_walk_fault(walk, again->node,
                            "'%s' is already used on line %d; write another one", again->id,
                            plan_node_line(first->node));
    }
}

/* The ids of one kind, a run of walk->ids. */
struct run {
    const struct id_seen *ids;
    size_t count;
};

static struct run
run_of(const struct walk *walk, enum names names)
{
    size_t from = 0, to;
    while (from < walk->id_count && walk->ids[from].names != names)
        from++;
    for (to = from; to < walk->id_count && walk->ids[to].names == names;)
        to++;
    return (struct run){.ids = walk->ids ? walk->ids + from : NULL, .count = to - from};
}

static const char *
next_id(const void *arg, size_t i)
{
    const struct run *run = arg;
    return i < run->count ? run->ids[i].id : NULL;
}

static const char *
names_word(enum names names)
{
    switch (names) {
    case NAMES_BUS:
        return "bus";
    case NAMES_PROBE:
        return "probe";
    case NAMES_PLACE:
        return "place";
    case NAMES_NONE:
    case NAMES_PERSON:
    case NAMES_THERMOMETER:
    case NAMES_PRODUCT:
    case NAMES_STEP:
    case NAMES_REFERENCE:
    case NAMES_SWITCH:
    case NAMES_SIGNAL:
    case NAMES_RULE:
        break;
    }
    return "entry";
}

/* The first of that name, which is also the one that driver_of() reads: an id given twice must
 * not be one entry here and another there. NULL: none. */
static const struct id_seen *
first_named(const struct run *run, const char *text)
{
    size_t low = 0, high = run->count;
    while (low < high) {
        size_t middle = low + (high - low) / 2;
        if (strcmp(text, run->ids[middle].id) > 0)
            low = middle + 1;
        else
            high = middle;
    }
    return low < run->count && strcmp(text, run->ids[low].id) == 0 ? &run->ids[low] : NULL;
}

static void
resolve(struct walk *walk, const struct reference *reference, const struct run *run)
{
    const char *text = (const char *)reference->node->data.scalar.value;
    const struct id_seen *named = first_named(run, text);
    if (named) {
        plan_value_store(reference->target, reference->field->size, (int64_t)named->index);
        return;
    }
    char quoted[PLAN_QUOTED_MAX];
    plan_quoted(quoted, text, reference->node->data.scalar.length);
    const char *word = names_word(reference->field->names);
    const char *nearest = plan_nearest(text, strlen(text), next_id, run);
    if (nearest)
        plan_walk_fault(walk, reference->node, "there is no %s '%s'; did you mean '%s'?", word,
                        quoted, nearest);
    else
        plan_walk_fault(walk, reference->node,
                        "there is no %s '%s'; write the id of a %s of this plan", word, quoted,
                        word);
}

static void
resolve_references(struct walk *walk)
{
    struct run runs[NAMES_RULE + 1];
    for (int names = NAMES_NONE; names <= NAMES_RULE; names++)
        runs[names] = run_of(walk, (enum names)names);
    for (size_t i = 0; i < walk->reference_count; i++)
        resolve(walk, &walk->references[i], &runs[walk->references[i].field->names]);
}

void
plan_walk(struct walk *walk, const struct table *table, void *base, const char *hint)
{
    yaml_node_t *root = plan_tree_root(walk->tree);
    if (!root) {
        plan_fault_add(walk->faults, 1, 1, "%s is empty; begin with %s", table->what, hint);
        return;
    }
    read_mapping(walk, table, root, base);
    if (walk->id_count > 0)
        qsort(walk->ids, walk->id_count, sizeof(walk->ids[0]), compare_ids);
    tell_ids_given_twice(walk);
    resolve_references(walk);
}
