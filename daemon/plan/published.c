/* See the header. One thread; keeps nothing between calls. */
#include "daemon/plan/published.h"

#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "daemon/plan/faults.h"
#include "trivet/profile.h"

#define RULE_NAME_MAX (2 * PLAN_ID_MAX + 2)
#define PATH_ROOM     4096

/* What the plan itself may say beside the name of a published limit: nothing that the figures
 * are made of. */
static const char *const own_keys[] = {
    "profile",           "critical_control_point", "hazard",
    "corrective_action", "verification",           "prepared",
    "acceptance",        "guard_percent",          "oven",
    "roast_g",           "oven_recovery"};

/* ---- the limits of a plan ---- */

typedef void limit_visitor(void *arg, yaml_node_t *limit);

static void
each_limit_of(struct plan_tree *tree, const yaml_node_t *list, const char *key,
              limit_visitor *visit, void *arg)
{
    for (size_t i = 0; i < plan_tree_items(list); i++) {
        yaml_node_t *limit = plan_tree_child(tree, plan_tree_item(tree, list, i), key);
        if (limit && limit->type == YAML_MAPPING_NODE &&
            plan_tree_child(tree, limit, "profile"))
            visit(arg, limit);
    }
}

/* Each limit of the plan that names a published one. */
static void
each_limit(struct plan_tree *tree, limit_visitor *visit, void *arg)
{
    const yaml_node_t *root = plan_tree_root(tree);
    const yaml_node_t *products = plan_tree_child(tree, root, "products");
    each_limit_of(tree, plan_tree_child(tree, root, "places"), "limit", visit, arg);
    each_limit_of(tree, products, "limit", visit, arg);
    each_limit_of(tree, products, "date_mark", visit, arg);
    for (size_t i = 0; i < plan_tree_items(products); i++)
        each_limit_of(tree, plan_tree_child(tree, plan_tree_item(tree, products, i), "steps"),
                      "limit", visit, arg);
}

/* The name that a limit gives, NULL when it is no single value. */
static const char *
name_of(struct plan_tree *tree, const yaml_node_t *limit)
{
    const yaml_node_t *name = plan_tree_child(tree, limit, "profile");
    return name && name->type == YAML_SCALAR_NODE ? (const char *)name->data.scalar.value
                                                  : NULL;
}

/* ---- looking a name up ---- */

/* Splits "food-code-2022/roast". Only what an id is made of: a name is part of a path. */
static bool
split_name(const char *name, char ret_profile[PLAN_ID_MAX + 1], char ret_rule[PLAN_ID_MAX + 1])
{
    const char *slash = strchr(name, '/');
    size_t len = slash ? (size_t)(slash - name) : 0;
    if (len == 0 || len > PLAN_ID_MAX || strlen(slash + 1) == 0 ||
        strlen(slash + 1) > PLAN_ID_MAX || name[0] == '.' || slash[1] == '.')
        return false;
    for (const char *at = name; *at; at++)
        if (at != slash && !(*at >= 'a' && *at <= 'z') && !(*at >= '0' && *at <= '9') &&
            *at != '-' && *at != '.')
            return false;
    (void)snprintf(ret_profile, PLAN_ID_MAX + 1, "%.*s", (int)len, name);
    (void)snprintf(ret_rule, PLAN_ID_MAX + 1, "%s", slash + 1);
    return true;
}

/* A text that grows; failed when memory ran out. */
struct growing {
    char *text;
    size_t len, room;
    bool failed;
};

static void __attribute__((format(printf, 2, 3)))
put(struct growing *out, const char *format, ...)
{
    va_list args, again;
    va_start(args, format);
    va_copy(again, args);
    int need = vsnprintf(NULL, 0, format, args);
    va_end(args);
    if (need >= 0 && out->len + (size_t)need + 1 > out->room) {
        size_t room = (out->len + (size_t)need + 1) * 2;
        char *grown = realloc(out->text, room);
        if (grown) {
            out->text = grown;
            out->room = room;
        }
    }
    if (need < 0 || out->len + (size_t)need + 1 > out->room)
        out->failed = true;
    else
        out->len +=
            (size_t)vsnprintf(out->text + out->len, out->room - out->len, format, again);
    va_end(again);
}

/* In double quotes: the texts of a profile have no control characters. */
static void
put_quoted(struct growing *out, const char *text)
{
    put(out, "\"");
    for (; *text; text++)
        put(out, *text == '"' || *text == '\\' ? "\\%c" : "%c", *text);
    put(out, "\"");
}

static void
put_line(struct growing *out, int indent, const char *key, const char *text)
{
    put(out, "%*s%s: ", indent + 4, "", key);
    put_quoted(out, text);
    put(out, "\n");
}

/* A node as the profile writes it, on one line. Depth: a limit has lists of mappings. */
static void
put_node(struct growing *out, struct plan_tree *tree, const yaml_node_t *node)
{
    const char *before = "";
    switch (node->type) {
    case YAML_SEQUENCE_NODE:
        put(out, "[");
        for (size_t i = 0; i < plan_tree_items(node); i++, before = ", ") {
            put(out, "%s", before);
            put_node(out, tree, plan_tree_item(tree, node, i));
        }
        put(out, "]");
        return;
    case YAML_MAPPING_NODE:
        put(out, "{");
        for (const yaml_node_pair_t *pair = node->data.mapping.pairs.start;
             pair < node->data.mapping.pairs.top; pair++, before = ", ") {
            put(out, "%s%s: ", before,
                (const char *)plan_tree_node(tree, pair->key)->data.scalar.value);
            put_node(out, tree, plan_tree_node(tree, pair->value));
        }
        put(out, "}");
        return;
    case YAML_NO_NODE:
    case YAML_SCALAR_NODE:
        break;
    }
    put_quoted(out, (const char *)node->data.scalar.value);
}

/* One profile as read: a plan's limits mostly come from the same one. */
struct opened {
    char id[PLAN_ID_MAX + 1];
    char *text;
    struct profile *profile; /* NULL: it cannot be read, why says why */
    struct plan_tree tree;   /* of its text, while there is a profile */
    struct plan_faults why;
};

static void
close_profile(struct opened *opened)
{
    if (opened->profile)
        plan_tree_free(&opened->tree);
    profile_free(opened->profile);
    free(opened->text);
    memset(opened, 0, sizeof *opened);
}

static void
open_profile(struct opened *opened, const char *directory, const char *id)
{
    char path[PATH_ROOM + PLAN_ID_MAX + 8];
    size_t len = 0;
    struct plan_faults again;
    if (strcmp(opened->id, id) == 0)
        return;
    close_profile(opened);
    (void)snprintf(opened->id, sizeof opened->id, "%s", id);
    (void)snprintf(path, sizeof path, "%s/%s.yaml", directory, id);
    opened->text = plan_file_read(path, &len, &opened->why);
    if (opened->text)
        opened->profile = profile_load_text(path, opened->text, len, &opened->why);
    memset(&again, 0, sizeof again);
    if (opened->profile && !plan_tree_read(&opened->tree, opened->text, len, &again)) {
        profile_free(opened->profile); /* memory ran out: it was read a moment ago */
        opened->profile = NULL;
        opened->why = again;
    }
}

/* Everything that is written about one rule. */
static void
put_rule(struct growing *out, int indent, const char *name, struct opened *opened,
         const struct profile_rule *rule)
{
    const struct profile *profile = opened->profile;
    const yaml_node_t *rules =
        plan_tree_child(&opened->tree, plan_tree_root(&opened->tree), "rules");
    const yaml_node_t *entry =
        plan_tree_item(&opened->tree, rules, (size_t)(rule - profile->rules));
    put(out, "%*s  - rule: %s\n", indent, "", name);
    put_line(out, indent, "document", profile->name);
    put_line(out, indent, "authority", profile->authority);
    put_line(out, indent, "edition", profile->edition);
    put_line(out, indent, "section", rule->section);
    put_line(out, indent, "source", rule->source);
    put_line(out, indent, "confidence", profile_confidence_word(rule->confidence));
    put(out, "%*slimit: ", indent + 4, "");
    put_node(out, &opened->tree, plan_tree_child(&opened->tree, entry, "limit"));
    put(out, "\n");
}

struct adding {
    struct plan_tree *tree;
    struct plan_faults *faults;
    struct growing out;
    int indent;
    char directory[PATH_ROOM];
    bool looked, found; /* for the directory */
    struct opened opened;
    const yaml_node_t *seen[PLAN_PUBLISHED_MAX];
    size_t seen_count;
};

static void
tell(struct adding *adding, const yaml_node_t *limit, const char *text)
{
    const yaml_node_t *name = plan_tree_child(adding->tree, limit, "profile");
    plan_fault_add(adding->faults, plan_node_line(name), plan_node_column(name), "%s", text);
}

static bool
was_seen(const struct adding *adding, const char *name)
{
    for (size_t i = 0; i < adding->seen_count; i++)
        if (strcmp(name_of(adding->tree, adding->seen[i]), name) == 0)
            return true;
    return false;
}

static void
add_from_file(struct adding *adding, const yaml_node_t *limit, const char *name,
              const char *profile_id, const char *rule_id)
{
    char told[PATH_ROOM + 300];
    struct opened *opened = &adding->opened;
    open_profile(opened, adding->directory, profile_id);
    const struct profile_rule *rule =
        opened->profile ? profile_rule(opened->profile, rule_id) : NULL;
    if (!opened->profile) {
        (void)snprintf(told, sizeof told,
                       "there is no profile '%s' that can be read (%s); `trivet limits` lists "
                       "the profiles",
                       profile_id, opened->why.fault[0].text);
        tell(adding, limit, told);
    } else if (!rule) {
        (void)snprintf(told, sizeof told,
                       "profile %s has no rule '%s'; `trivet limits %s` lists its rules",
                       profile_id, rule_id, profile_id);
        tell(adding, limit, told);
    } else {
        put_rule(&adding->out, adding->indent, name, opened, rule);
    }
}

static void
add_limit(void *arg, yaml_node_t *limit)
{
    struct adding *adding = arg;
    char profile[PLAN_ID_MAX + 1], rule[PLAN_ID_MAX + 1];
    const char *name = name_of(adding->tree, limit);
    if (!name || was_seen(adding, name))
        return;
    if (!split_name(name, profile, rule)) {
        tell(adding, limit,
             "profile: this names no published limit; write profile: PROFILE/RULE, such as "
             "food-code-2022/hot-holding");
        return;
    }
    if (!adding->looked)
        adding->found = profile_directory(adding->directory, sizeof adding->directory);
    adding->looked = true;
    if (!adding->found)
        tell(adding, limit,
             "the profiles of published limits are not installed here; say where they are with "
             "TRIVET_PROFILES, or write the figures");
    else if (adding->seen_count == PLAN_PUBLISHED_MAX)
        tell(adding, limit, "more published limits than a plan may name; write the figures");
    else
        add_from_file(adding, limit, name, profile, rule);
    if (adding->seen_count < PLAN_PUBLISHED_MAX)
        adding->seen[adding->seen_count++] = limit;
}

/* Nothing can be put behind a plan that is one pair of braces, or that says where it ends. */
static bool
can_be_added_to(struct plan_tree *tree, struct plan_faults *reterr)
{
    const yaml_node_t *root = plan_tree_root(tree);
    if (root->data.mapping.style == YAML_FLOW_MAPPING_STYLE)
        plan_fault_add(reterr, plan_node_line(root), plan_node_column(root),
                       "a plan that takes limits from profiles cannot be written in braces; "
                       "write one key a line");
    else if (!tree->document.end_implicit)
        plan_fault_add(reterr, (int)tree->document.end_mark.line + 1, 1,
                       "a plan that takes limits from profiles has no '...' at its end; delete "
                       "it");
    else
        return true;
    return false;
}

static void
note_limit(void *arg, yaml_node_t *limit)
{
    (void)limit;
    *(bool *)arg = true;
}

char *
plan_published_add(struct plan_tree *tree, struct plan_arena *arena, const char *text,
                   size_t len, struct plan_faults *reterr)
{
    bool any = false;
    const yaml_node_t *root = plan_tree_root(tree);
    const yaml_node_t *own = plan_tree_child(tree, root, "published");
    if (own)
        plan_fault_add(
            reterr, plan_node_line(own), plan_node_column(own),
            "published is what Trivet itself writes into a plan's record; delete it, "
            "the profiles are read anew");
    each_limit(tree, note_limit, &any);
    if (own || !any || !can_be_added_to(tree, reterr))
        return NULL;
    struct adding *adding = calloc(1, sizeof *adding);
    if (!adding) {
        arena->failed = true;
        return NULL;
    }
    adding->tree = tree;
    adding->faults = reterr;
    adding->indent = plan_node_column(root) - 1;
    put(&adding->out, "%.*s%s", (int)len, text, len > 0 && text[len - 1] == '\n' ? "" : "\n");
    put(&adding->out,
        "%*s# Written by Trivet: the published limits that this plan names, as they were when "
        "it "
        "was read.\n%*spublished:\n",
        adding->indent, "", adding->indent, "");
    size_t head = adding->out.len;
    each_limit(tree, add_limit, adding);
    if (adding->out.len == head) /* each of them is a fault */
        put(&adding->out, "%*s  []\n", adding->indent, "");
    char *whole =
        adding->out.failed ? NULL : plan_arena_copy(arena, adding->out.text, adding->out.len);
    arena->failed = arena->failed || adding->out.failed;
    close_profile(&adding->opened);
    free(adding->out.text);
    free(adding);
    return whole;
}

/* ---- figures into the limits ---- */

struct joining {
    struct plan_tree *tree;
    struct plan_arena *arena;
    struct plan_faults *faults;
};

/* That food may be reheated, or cooled, once only is a kitchen's to add: it only asks for more.
 * Nothing in a plan takes away what a profile forbids. */
static bool
is_stricter(const yaml_node_t *key, const yaml_node_t *value)
{
    return plan_node_is(key, "once") && plan_node_is(value, "yes");
}

static bool
is_own_key(const yaml_node_t *key)
{
    for (size_t i = 0; i < sizeof own_keys / sizeof *own_keys; i++)
        if (plan_node_is(key, own_keys[i]))
            return true;
    return false;
}

static int
index_of(struct plan_tree *tree, const yaml_node_t *node)
{
    return (int)(node - tree->document.nodes.start) + 1;
}

/* A copy of a node of one value that stands where the name stands: a fault is told there. */
static int
copy_scalar(struct joining *joining, int index, yaml_mark_t where)
{
    const yaml_node_t *from = plan_tree_node(joining->tree, index);
    if (from->type != YAML_SCALAR_NODE)
        return index;
    int copy = yaml_document_add_scalar(&joining->tree->document, NULL, from->data.scalar.value,
                                        (int)from->data.scalar.length,
                                        YAML_DOUBLE_QUOTED_SCALAR_STYLE);
    if (copy == 0)
        return 0;
    yaml_node_t *node = plan_tree_node(joining->tree, copy);
    node->start_mark = node->end_mark = where;
    return copy;
}

static void
join_pair(struct joining *joining, int limit, int key, int value, yaml_mark_t where)
{
    int own_key = copy_scalar(joining, key, where);
    int own_value = own_key ? copy_scalar(joining, value, where) : 0;
    if (!own_value ||
        !yaml_document_append_mapping_pair(&joining->tree->document, limit, own_key, own_value))
        joining->arena->failed = true;
}

/* Tells what the plan says beside the name and may not. */
static void
check_beside(struct joining *joining, const yaml_node_t *limit)
{
    for (const yaml_node_pair_t *pair = limit->data.mapping.pairs.start;
         pair < limit->data.mapping.pairs.top; pair++) {
        const yaml_node_t *key = plan_tree_node(joining->tree, pair->key);
        bool is_figure = false;
        for (size_t i = 0; i < plan_limit_table.field_count; i++)
            is_figure = is_figure || plan_node_is(key, plan_limit_table.fields[i].key);
        if (is_figure && !is_own_key(key) &&
            !is_stricter(key,
                         plan_tree_node(
                             joining->tree,
                             pair->value))) /* else the walk tells that there is no such key */
            plan_fault_add(joining->faults, plan_node_line(key), plan_node_column(key),
                           "'%s' is the profile's to say; delete it, or write the whole limit "
                           "without profile",
                           (const char *)key->data.scalar.value);
    }
}

/* The published entry of a name; NULL when there is none. */
static const yaml_node_t *
find_entry(struct plan_tree *tree, const char *name)
{
    const yaml_node_t *list = plan_tree_child(tree, plan_tree_root(tree), "published");
    for (size_t i = 0; name && i < plan_tree_items(list); i++) {
        const yaml_node_t *entry = plan_tree_item(tree, list, i);
        if (plan_node_is(plan_tree_child(tree, entry, "rule"), name))
            return entry;
    }
    return NULL;
}

static void
join_limit(void *arg, yaml_node_t *limit)
{
    struct joining *joining = arg;
    struct plan_tree *tree = joining->tree;
    yaml_mark_t where = plan_tree_child(tree, limit, "profile")->start_mark;
    int index = index_of(tree, limit);
    const yaml_node_t *entry = find_entry(tree, name_of(tree, limit));
    const yaml_node_t *published = plan_tree_child(tree, entry, "limit");
    check_beside(joining, limit);
    if (!published || published->type != YAML_MAPPING_NODE) {
        /* Told already, or by plan_published_check: no second fault for what it lacks. */
        int key = yaml_document_add_scalar(&tree->document, NULL, (yaml_char_t *)"kind", -1,
                                           YAML_PLAIN_SCALAR_STYLE);
        int value = yaml_document_add_scalar(&tree->document, NULL, (yaml_char_t *)"none", -1,
                                             YAML_PLAIN_SCALAR_STYLE);
        if (!key || !value)
            joining->arena->failed = true;
        else if (!plan_tree_child(tree, plan_tree_node(tree, index), "kind"))
            join_pair(joining, index, key, value, where);
        return;
    }
    size_t count =
        (size_t)(published->data.mapping.pairs.top - published->data.mapping.pairs.start);
    int from = index_of(tree, published);
    for (size_t i = 0; i < count && !joining->arena->failed; i++) {
        /* Nodes move as others are added. */
        yaml_node_pair_t pair = plan_tree_node(tree, from)->data.mapping.pairs.start[i];
        const yaml_node_t *key = plan_tree_node(tree, pair.key);
        if (key->type == YAML_SCALAR_NODE &&
            !plan_tree_child(tree, plan_tree_node(tree, index),
                             (const char *)key->data.scalar.value))
            join_pair(joining, index, pair.key, pair.value, where);
    }
}

struct found_limits {
    struct plan_tree *tree;
    int *index;
    size_t count, room;
    bool failed;
};

static void
find_limit(void *arg, yaml_node_t *limit)
{
    struct found_limits *found = arg;
    if (found->count == found->room) {
        size_t room = found->room ? found->room * 2 : 64;
        int *grown = realloc(found->index, room * sizeof *grown);
        if (!grown) {
            found->failed = true;
            return;
        }
        found->index = grown;
        found->room = room;
    }
    found->index[found->count++] = index_of(found->tree, limit);
}

void
plan_published_join(struct plan_tree *tree, struct plan_arena *arena,
                    struct plan_faults *reterr)
{
    struct joining joining = {.tree = tree, .arena = arena, .faults = reterr};
    struct found_limits found = {.tree = tree};
    each_limit(tree, find_limit, &found); /* first all: nodes move as others are added */
    for (size_t i = 0; i < found.count && !arena->failed; i++)
        join_limit(&joining, plan_tree_node(tree, found.index[i]));
    arena->failed = arena->failed || found.failed;
    free(found.index);
}

/* ---- after the walk ---- */

/* Wherever the source is shown it says when the figures were not checked. */
static const char *
source_of(struct walk *walk, const struct plan_published *published)
{
    char text[320];
    if (published->confidence == CONFIDENCE_VERIFIED || !published->source)
        return published->source;
    (void)snprintf(text, sizeof text, "not verified (%s): %s",
                   profile_confidence_word(published->confidence), published->source);
    return plan_arena_copy(walk->arena, text, strlen(text));
}

static void
check_limit(struct walk *walk, struct plan *plan, struct plan_limit *limit,
            const yaml_node_t *mapping, bool is_record)
{
    const yaml_node_t *name = plan_walk_good(walk, mapping, "profile");
    if (!name || !limit->profile)
        return;
    for (size_t i = 0; i < plan->published_count; i++)
        if (plan->published[i].rule && strcmp(plan->published[i].rule, limit->profile) == 0)
            limit->published = &plan->published[i];
    if (!limit->published) {
        if (is_record)
            plan_walk_fault(
                walk, name,
                "the record lacks the published limit '%s'; restore it from a backup",
                limit->profile);
        return;
    }
    limit->unverified = limit->published->confidence != CONFIDENCE_VERIFIED;
    if (limit->rise)
        limit->rise->unverified = limit->unverified;
    for (size_t i = 0; limit->ovens && i < limit->oven_row_count; i++)
        limit->ovens[i].unverified = limit->unverified;
    limit->source = source_of(walk, limit->published);
    if (limit->unverified && !plan->accept_unverified)
        plan_walk_fault(
            walk, name,
            "%s was not checked against the published text (%s), so it is not "
            "available; to have it all the same, write accept_unverified: true into "
            "the plan",
            limit->profile, profile_confidence_word(limit->published->confidence));
}

void
plan_published_check(struct walk *walk, struct plan *plan, bool is_record)
{
    const yaml_node_t *root = plan_tree_root(walk->tree);
    const yaml_node_t *places = plan_tree_child(walk->tree, root, "places");
    const yaml_node_t *products = plan_tree_child(walk->tree, root, "products");
    for (size_t i = 0; i < plan->place_count; i++)
        check_limit(walk, plan, &plan->places[i].limit,
                    plan_tree_child(walk->tree, plan_tree_item(walk->tree, places, i), "limit"),
                    is_record);
    for (size_t i = 0; i < plan->product_count; i++) {
        const yaml_node_t *steps =
            plan_tree_child(walk->tree, plan_tree_item(walk->tree, products, i), "steps");
        check_limit(
            walk, plan, &plan->products[i].life,
            plan_tree_child(walk->tree, plan_tree_item(walk->tree, products, i), "limit"),
            is_record);
        check_limit(
            walk, plan, &plan->products[i].mark,
            plan_tree_child(walk->tree, plan_tree_item(walk->tree, products, i), "date_mark"),
            is_record);
        for (size_t k = 0; k < plan->products[i].step_count; k++)
            check_limit(
                walk, plan, &plan->products[i].steps[k].limit,
                plan_tree_child(walk->tree, plan_tree_item(walk->tree, steps, k), "limit"),
                is_record);
    }
}
