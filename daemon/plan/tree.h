/* The plan file as libyaml's tree, after everything a plan has no use for was refused. One
 * thread. */
#ifndef PLAN_TREE_H
#define PLAN_TREE_H

#include <stdbool.h>
#include <stddef.h>
#include <yaml.h>

#include "trivet/plan.h"

/* Deepest nesting of mappings and lists in a plan file: far more than the schema has. */
#define PLAN_DEPTH_MAX 16

struct plan_tree {
    yaml_document_t document;
};

/* Reads text into a tree. False with faults; then there is no tree to free. */
bool plan_tree_read(struct plan_tree *tree, const char *text, size_t len,
                    struct plan_faults *reterr);
void plan_tree_free(struct plan_tree *tree);

/* Borrowed nodes; NULL for an empty document. */
yaml_node_t *plan_tree_root(struct plan_tree *tree);
yaml_node_t *plan_tree_node(struct plan_tree *tree, int index);
/* The value of a mapping's first such key; NULL when mapping is none or lacks it. */
yaml_node_t *plan_tree_child(struct plan_tree *tree, const yaml_node_t *mapping,
                             const char *key);
/* The i-th entry of a list; NULL when list is none or shorter. */
yaml_node_t *plan_tree_item(struct plan_tree *tree, const yaml_node_t *list, size_t i);
size_t plan_tree_items(const yaml_node_t *list);

static inline int
plan_node_line(const yaml_node_t *node)
{
    return (int)node->start_mark.line + 1;
}

static inline int
plan_node_column(const yaml_node_t *node)
{
    return (int)node->start_mark.column + 1;
}

bool plan_node_is(const yaml_node_t *scalar, const char *text);

#endif
