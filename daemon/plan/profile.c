/* Loading a profile of published limits, with the machinery that reads a plan: the same kinds
 * of keys, the same limits, the same faults with line and column. One thread; keeps nothing. */
#include "trivet/profile.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "daemon/plan/faults.h"
#include "daemon/plan/tables.h"

const struct choice plan_confidences[] = {{"verified", CONFIDENCE_VERIFIED},
                                          {"unconfirmed", CONFIDENCE_UNCONFIRMED},
                                          {"memory", CONFIDENCE_MEMORY},
                                          {"doubtful", CONFIDENCE_DOUBTFUL},
                                          {NULL, 0}};

static const struct field rule_fields[] = {
    {.key = "id",
     .type = FIELD_DOTTED,
     AT(profile_rule, id),
     .required = true,
     .names = NAMES_RULE,
     .write = "hot-holding",
     .help = "how the rule is named, after the profile and a slash"},
    {.key = "name",
     .type = FIELD_TEXT,
     AT(profile_rule, name),
     .required = true,
     .max = PLAN_NAME_MAX,
     .write = "Hot holding",
     .help = "what the rule is about"},
    {.key = "scope",
     .type = FIELD_TEXT,
     AT(profile_rule, scope),
     .max = PROFILE_TEXT_MAX,
     .write = "food that needs time and temperature control",
     .help = "the foods or places it is for"},
    {.key = "section",
     .type = FIELD_TEXT,
     AT(profile_rule, section),
     .required = true,
     .max = PLAN_NAME_MAX,
     .write = "3-501.16(A)(1)",
     .help = "section of the document"},
    {.key = "source",
     .type = FIELD_TEXT,
     AT(profile_rule, source),
     .required = true,
     .max = 240,
     .write = "FDA Food Code 2022, 3-501.16(A)(1)",
     .help = "the document, as cited"},
    {.key = "confidence",
     .type = FIELD_WORD,
     AT(profile_rule, confidence),
     .required = true,
     .choices = plan_confidences,
     .write = "verified",
     .help = "verified: the figures were checked against a copy of the published text"},
    {.key = "caution",
     .type = FIELD_TEXT,
     AT(profile_rule, caution),
     .max = PROFILE_TEXT_MAX,
     .write = "the oven's own limit applies as well",
     .help = "conditions that go with it, and what is easily got wrong"},
    {.key = "limit",
     .type = FIELD_TABLE,
     AT(profile_rule, limit),
     .required = true,
     .table = &plan_limit_table,
     .write = "{kind: hold_hot, applies_to: food, at_least: 57 °C}",
     .help = "the limit, as a plan writes it, in the unit the source prints"},
};
static const struct table rule_table = {TABLE("a rule", rule_fields, profile_rule)};

static const struct field profile_fields[] = {
    {.key = "id",
     .type = FIELD_DOTTED,
     AT(profile, id),
     .required = true,
     .write = "food-code-2022",
     .help = "how the profile is named; its file has the same name with .yaml"},
    {.key = "name",
     .type = FIELD_TEXT,
     AT(profile, name),
     .required = true,
     .max = PLAN_NAME_MAX,
     .write = "FDA Food Code 2022",
     .help = "name of the document"},
    {.key = "authority",
     .type = FIELD_TEXT,
     AT(profile, authority),
     .required = true,
     .max = PLAN_NAME_MAX,
     .write = "US Food and Drug Administration",
     .help = "who published it"},
    {.key = "jurisdiction",
     .type = FIELD_TEXT,
     AT(profile, jurisdiction),
     .required = true,
     .max = PLAN_NAME_MAX,
     .write = "United States, where adopted",
     .help = "where it applies"},
    {.key = "edition",
     .type = FIELD_TEXT,
     AT(profile, edition),
     .required = true,
     .max = PLAN_NAME_MAX,
     .write = "2022",
     .help = "year or number of the edition"},
    {.key = "force",
     .type = FIELD_TEXT,
     AT(profile, force),
     .required = true,
     .max = PLAN_NAME_MAX,
     .write = "model code",
     .help = "statute, model code, guidance"},
    {.key = "caution",
     .type = FIELD_TEXT,
     AT(profile, caution),
     .required = true,
     .max = PROFILE_TEXT_MAX,
     .write = "Local codes and the authority having jurisdiction prevail.",
     .help = "that local codes and the authority prevail, and what else to know"},
    {.key = "rules",
     .type = FIELD_TABLES,
     AT_LIST(profile, rules),
     COUNT(profile, rule_count),
     .required = true,
     .table = &rule_table,
     .max_count = PROFILE_RULES_MAX,
     .write = "a list, each entry beginning with - id:",
     .help = "its limits"},
};
static const struct table profile_table = {TABLE("the profile", profile_fields, profile)};

/* What profile_load gives out is the first member. */
struct loaded {
    struct profile profile;
    struct plan_arena arena;
};

static void
check_rules(struct walk *walk, struct profile *profile)
{
    const yaml_node_t *list = plan_tree_child(walk->tree, plan_tree_root(walk->tree), "rules");
    for (size_t i = 0; i < profile->rule_count; i++) {
        const yaml_node_t *rule = plan_tree_item(walk->tree, list, i);
        yaml_node_t *limit = plan_tree_child(walk->tree, rule, "limit");
        yaml_node_t *kind = plan_walk_good(walk, limit, "kind");
        if (!kind)
            continue;
        if (profile->rules[i].limit.kind == LIMIT_NONE)
            plan_walk_fault(walk, kind, "a rule without a limit is none; delete the rule");
        plan_check_limit(walk, &profile->rules[i].limit, limit);
    }
}

/* 'C' or 'F' of a temperature as people write it; 0 of anything else. */
static char
unit_written(const yaml_node_t *scalar)
{
    const char *at = (const char *)scalar->data.scalar.value;
    const char *number = at;
    at += strspn(at, "-+0123456789.");
    if (at == number)
        return 0;
    at += strspn(at, " ");
    if (strncmp(at, "°", strlen("°")) == 0)
        at += strlen("°");
    return (*at == 'C' || *at == 'F') && at[1] == '\0' ? *at : 0;
}

/* A document is compared in the one unit that it prints. Tells the first temperature of
 * another; *unit is that of the first, 0 until one is found. */
static bool
check_unit(struct walk *walk, const yaml_node_t *node, char *unit)
{
    bool same = true;
    if (node->type == YAML_SCALAR_NODE) {
        char written = unit_written(node);
        if (*unit == 0)
            *unit = written;
        same = written == 0 || written == *unit;
        if (!same)
            plan_walk_fault(walk, node,
                            "this profile's temperatures are in °%c and this one is in °%c; a "
                            "document is compared in the unit it prints: write all of them in "
                            "one, or make two profiles",
                            *unit, written);
    } else if (node->type == YAML_SEQUENCE_NODE) {
        for (const yaml_node_item_t *item = node->data.sequence.items.start;
             same && item < node->data.sequence.items.top; item++)
            same = check_unit(walk, plan_tree_node(walk->tree, *item), unit);
    } else if (node->type == YAML_MAPPING_NODE) {
        for (const yaml_node_pair_t *pair = node->data.mapping.pairs.start;
             same && pair < node->data.mapping.pairs.top; pair++)
            same = check_unit(walk, plan_tree_node(walk->tree, pair->value), unit);
    }
    return same;
}

static void
check_units(struct walk *walk, const struct profile *profile)
{
    const yaml_node_t *list = plan_tree_child(walk->tree, plan_tree_root(walk->tree), "rules");
    char unit = 0;
    bool same = true;
    for (size_t i = 0; same && i < profile->rule_count; i++) {
        const yaml_node_t *rule = plan_tree_item(walk->tree, list, i);
        const yaml_node_t *limit = plan_tree_child(walk->tree, rule, "limit");
        same = limit == NULL || check_unit(walk, limit, &unit);
    }
}

/* A profile that does not say who prevails must not be mistaken for the law. */
static void
check_caution(struct walk *walk, const struct profile *profile)
{
    const yaml_node_t *node = plan_walk_good(walk, plan_tree_root(walk->tree), "caution");
    if (node && profile->caution && !strstr(profile->caution, "prevail"))
        plan_walk_fault(walk, node,
                        "the caution does not say that local codes and the authority prevail; "
                        "write caution: Local codes and the authority having jurisdiction "
                        "prevail.");
}

static void
check_file_name(struct walk *walk, const struct profile *profile)
{
    const yaml_node_t *id = plan_walk_good(walk, plan_tree_root(walk->tree), "id");
    const char *slash = strrchr(walk->file, '/');
    const char *name = slash ? slash + 1 : walk->file;
    size_t len = strlen(profile->id);
    if (id && (strncmp(name, profile->id, len) != 0 || strcmp(name + len, ".yaml") != 0))
        plan_walk_fault(walk, id, "a profile's file is named after it; name this one %s.yaml",
                        profile->id);
}

static void
read_tree(struct loaded *loaded, struct plan_tree *tree, const char *file,
          struct plan_faults *reterr)
{
    size_t nodes = (size_t)(tree->document.nodes.top - tree->document.nodes.start);
    struct walk walk = {.tree = tree,
                        .arena = &loaded->arena,
                        .faults = reterr,
                        .file = file,
                        .bad = calloc(nodes + 1, sizeof(bool))};
    if (!walk.bad) {
        loaded->arena.failed = true;
        return;
    }
    plan_walk(&walk, &profile_table, &loaded->profile, "id: and the name of its file");
    if (!loaded->arena.failed && plan_tree_root(tree)) {
        check_rules(&walk, &loaded->profile);
        check_units(&walk, &loaded->profile);
        check_caution(&walk, &loaded->profile);
        check_file_name(&walk, &loaded->profile);
    }
    free(walk.bad);
    free(walk.ids);
    free(walk.references);
}

struct profile *
profile_load_text(const char *file, const char *text, size_t len, struct plan_faults *reterr)
{
    struct plan_tree tree;
    memset(reterr, 0, sizeof(*reterr));
    struct loaded *loaded = calloc(1, sizeof(*loaded));
    bool read = loaded && plan_tree_read(&tree, text, len, reterr);
    if (read) {
        read_tree(loaded, &tree, file, reterr);
        plan_tree_free(&tree);
    }
    if (!loaded || loaded->arena.failed) {
        memset(reterr, 0, sizeof(*reterr)); /* what else was told may be wrong */
        plan_fault_add(reterr, 0, 0,
                       "memory ran out while reading the profile; free some and try again");
    }
    if (reterr->count > 0) {
        profile_free(loaded ? &loaded->profile : NULL);
        return NULL;
    }
    return &loaded->profile;
}

struct profile *
profile_load(const char *file, struct plan_faults *reterr)
{
    size_t len = 0;
    memset(reterr, 0, sizeof(*reterr));
    char *text = plan_file_read(file, &len, reterr);
    if (!text)
        return NULL;
    struct profile *profile = profile_load_text(file, text, len, reterr);
    free(text);
    return profile;
}

void
profile_free(struct profile *profile)
{
    struct loaded *loaded = (struct loaded *)profile;
    if (!loaded)
        return;
    plan_arena_free(&loaded->arena);
    free(loaded);
}

const struct profile_rule *
profile_rule(const struct profile *profile, const char *id)
{
    for (size_t i = 0; i < profile->rule_count; i++)
        if (strcmp(profile->rules[i].id, id) == 0)
            return &profile->rules[i];
    return NULL;
}

const char *
profile_confidence_word(enum profile_confidence confidence)
{
    for (const struct choice *choice = plan_confidences; choice->word; choice++)
        if (choice->value == (int)confidence)
            return choice->word;
    return "unknown";
}
