/* YAML by libyaml's events, kept as a tree that knows the line and the path of every node. */
#include "dryfront/base.h"

#include <errno.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <yaml.h>

#include "fault.h"
#include "quantity.h"

#define LARGEST ((size_t)4 << 20)      /* bytes of a document */
#define DEEPEST 32                     /* levels of lists and maps, aliases followed */
#define MOST_NODES 100000              /* aliases followed */
#define LONGEST_KEY 256                /* bytes */
#define ARENA_LIMIT ((size_t)64 << 20) /* bytes of the whole tree */

struct df_yaml_node {
    df_yaml_kind kind;
    size_t line;
    char *path;       /* "" for the root */
    const char *file; /* the document's name */
    char *key;        /* NULL outside a map */
    char *text;       /* of a scalar */
    size_t count;
    df_yaml_node **items;
    df_yaml_node *next; /* in its parent, while that is being read */
};

typedef struct block {
    struct block *next;
} block;

typedef struct anchor {
    char *name;
    const df_yaml_node *node;
} anchor;

struct df_yaml {
    char *name;
    df_yaml_node *root;
    block *blocks;
    size_t bytes, nodes;
    anchor *anchors; /* while reading */
    size_t anchor_count, anchor_room;
};

/* ---- reading -------------------------------------------------------------------------------------------------- */

typedef struct reader {
    df_context *ctx;
    df_yaml *yaml;
    yaml_parser_t parser;
    yaml_event_t event;
    bool has_event;
} reader;

/* Zeroed memory that lives as long as the tree; NULL where there is none or the tree has grown too large. */
static void *take(df_yaml *yaml, size_t size) {
    if (size > ARENA_LIMIT || yaml->bytes > ARENA_LIMIT - size)
        return NULL;
    block *b = calloc(1, sizeof *b + size);
    if (!b)
        return NULL;
    yaml->bytes += size + sizeof *b;
    b->next = yaml->blocks;
    yaml->blocks = b;
    return b + 1;
}

static char *take_text(df_yaml *yaml, const char *bytes, size_t length) {
    char *text = take(yaml, length + 1);
    if (text)
        memcpy(text, bytes, length);
    return text;
}

static df_status no_memory(df_context *ctx, const df_yaml *yaml) {
    return df_fail(ctx, DF_E_MEMORY, "%s: out of memory, or the document grows past %zu MiB when read",
                   yaml->name ? yaml->name : "?", ARENA_LIMIT >> 20);
}

static const char *colon_after(const char *path) {
    return *path ? ": " : "";
}

static df_status next_event(reader *r) {
    if (r->has_event)
        yaml_event_delete(&r->event);
    r->has_event = false;
    if (yaml_parser_parse(&r->parser, &r->event)) {
        r->has_event = true;
        return DF_OK;
    }
    const yaml_parser_t *p = &r->parser;
    if (p->error == YAML_MEMORY_ERROR)
        return no_memory(r->ctx, r->yaml);
    /* A reader error comes without a mark; the scanner's own place is near enough. */
    size_t line = (p->error == YAML_READER_ERROR ? p->mark.line : p->problem_mark.line) + 1;
    return df_fail(r->ctx, DF_E_INPUT, "%s:%zu: not valid YAML: %s%s%s", r->yaml->name, line,
                   p->problem ? p->problem : "syntax error", p->context ? " " : "", p->context ? p->context : "");
}

static size_t event_line(const reader *r) {
    return r->event.start_mark.line + 1;
}

static df_yaml_node *new_node(df_yaml *yaml, df_yaml_kind kind, size_t line, char *path) {
    df_yaml_node *node = path ? take(yaml, sizeof *node) : NULL;
    if (!node)
        return NULL;
    node->kind = kind;
    node->line = line;
    node->path = path;
    node->file = yaml->name;
    return node;
}

static char *entry_path(df_yaml *yaml, const char *parent, const char *key) {
    size_t size = strlen(parent) + strlen(key) + 2;
    char *path = take(yaml, size);
    if (path)
        (void)snprintf(path, size, "%s%s%s", parent, *parent ? "." : "", key);
    return path;
}

static char *item_path(df_yaml *yaml, const char *parent, size_t index) {
    size_t size = strlen(parent) + 24;
    char *path = take(yaml, size);
    if (path)
        (void)snprintf(path, size, "%s[%zu]", parent, index);
    return path;
}

static df_status count_node(reader *r, size_t line) {
    if (++r->yaml->nodes > MOST_NODES)
        return df_fail(r->ctx, DF_E_MEMORY, "%s:%zu: the document has more than %d entries, aliases followed",
                       r->yaml->name, line, MOST_NODES);
    return DF_OK;
}

static df_status too_deep(reader *r, size_t line) {
    return df_fail(r->ctx, DF_E_INPUT, "%s:%zu: lists and maps nest deeper than %d levels here", r->yaml->name, line,
                   DEEPEST);
}

/* The chain of entries becomes an array. */
static df_status close_node(reader *r, df_yaml_node *node, df_yaml_node *first) {
    if (node->count == 0)
        return DF_OK;
    node->items = take(r->yaml, node->count * sizeof(df_yaml_node *));
    if (!node->items)
        return no_memory(r->ctx, r->yaml);
    size_t i = 0;
    for (df_yaml_node *item = first; item; item = item->next)
        node->items[i++] = item;
    return DF_OK;
}

static int by_key_then_place(const void *left, const void *right) {
    const df_yaml_node *a = *(df_yaml_node *const *)left, *b = *(df_yaml_node *const *)right;
    int order = strcmp(a->key, b->key);
    return order != 0 ? order : a->line < b->line ? -1 : a->line > b->line;
}

static df_status check_duplicates(reader *r, const df_yaml_node *map) {
    if (map->count < 2)
        return DF_OK;
    df_yaml_node **sorted = malloc(map->count * sizeof(df_yaml_node *));
    if (!sorted)
        return no_memory(r->ctx, r->yaml);
    memcpy(sorted, map->items, map->count * sizeof(df_yaml_node *));
    qsort(sorted, map->count, sizeof(df_yaml_node *), by_key_then_place);
    df_status status = DF_OK;
    for (size_t i = 1; i < map->count && status == DF_OK; i++)
        if (strcmp(sorted[i]->key, sorted[i - 1]->key) == 0)
            status = df_fail(r->ctx, DF_E_INPUT, "%s:%zu: %s: this key was already given on line %zu", r->yaml->name,
                             sorted[i]->line, sorted[i]->path, sorted[i - 1]->line);
    free(sorted);
    return status;
}

/* A copy of an anchored node under another path: the line is that of the alias. */
static df_status copy_node(reader *r, df_yaml_node **out, const df_yaml_node *from, char *path, size_t line,
                           int depth) {
    df_status status = count_node(r, line);
    if (status < 0)
        return status;
    if (depth > DEEPEST)
        return too_deep(r, line);
    df_yaml_node *node = new_node(r->yaml, from->kind, line, path);
    if (!node)
        return no_memory(r->ctx, r->yaml);
    node->text = from->text;
    node->count = from->count;
    if (from->count > 0) {
        node->items = take(r->yaml, from->count * sizeof(df_yaml_node *));
        if (!node->items)
            return no_memory(r->ctx, r->yaml);
    }
    for (size_t i = 0; i < from->count; i++) {
        char *key = from->items[i]->key;
        char *below = key ? entry_path(r->yaml, path, key) : item_path(r->yaml, path, i);
        status = copy_node(r, &node->items[i], from->items[i], below, line, depth + 1);
        if (status < 0)
            return status;
        node->items[i]->key = key;
    }
    *out = node;
    return DF_OK;
}

static df_status follow_alias(reader *r, df_yaml_node **out, char *path, size_t line, int depth) {
    const char *name = (const char *)r->event.data.alias.anchor;
    for (size_t i = r->yaml->anchor_count; i-- > 0;)
        if (strcmp(r->yaml->anchors[i].name, name) == 0)
            return copy_node(r, out, r->yaml->anchors[i].node, path, line, depth);
    return df_fail(r->ctx, DF_E_INPUT, "%s:%zu: the alias '*%.80s' refers to nothing that is complete above it",
                   r->yaml->name, line, name);
}

static df_status keep_anchor(reader *r, const char *name, const df_yaml_node *node) {
    df_yaml *yaml = r->yaml;
    if (yaml->anchor_count >= 1000)
        return df_fail(r->ctx, DF_E_MEMORY, "%s:%zu: the document has more than 1000 anchors", yaml->name,
                       node->line);
    if (yaml->anchor_count == yaml->anchor_room) {
        size_t room = yaml->anchor_room ? yaml->anchor_room * 2 : 16;
        anchor *anchors = realloc(yaml->anchors, room * sizeof *anchors);
        if (!anchors)
            return no_memory(r->ctx, yaml);
        yaml->anchors = anchors;
        yaml->anchor_room = room;
    }
    char *copy = take_text(yaml, name, strlen(name));
    if (!copy)
        return no_memory(r->ctx, yaml);
    yaml->anchors[yaml->anchor_count++] = (anchor){copy, node};
    return DF_OK;
}

static df_status take_scalar(reader *r, char **text, size_t line) {
    const char *value = (const char *)r->event.data.scalar.value;
    size_t length = r->event.data.scalar.length;
    if (memchr(value, '\0', length))
        return df_fail(r->ctx, DF_E_INPUT, "%s:%zu: a NUL character stands in this text", r->yaml->name, line);
    *text = take_text(r->yaml, value, length);
    return *text ? DF_OK : no_memory(r->ctx, r->yaml);
}

static df_status read_node(reader *r, df_yaml_node **out, char *path, size_t line, int depth);

static df_status read_entries(reader *r, df_yaml_node *node, int depth) {
    df_yaml *yaml = r->yaml;
    bool map = node->kind == DF_YAML_MAP;
    yaml_event_type_t last = map ? YAML_MAPPING_END_EVENT : YAML_SEQUENCE_END_EVENT;
    df_yaml_node *first = NULL, **tail = &first;
    for (;;) {
        df_status status = next_event(r);
        if (status < 0)
            return status;
        if (r->event.type == last)
            break;
        size_t line = event_line(r);
        char *key = NULL, *path;
        if (map) {
            if (r->event.type != YAML_SCALAR_EVENT)
                return df_fail(r->ctx, DF_E_INPUT, "%s:%zu: %s%sa key must be a plain word", yaml->name, line,
                               node->path, colon_after(node->path));
            if (r->event.data.scalar.length > LONGEST_KEY)
                return df_fail(r->ctx, DF_E_INPUT, "%s:%zu: %s%sa key is longer than %d bytes", yaml->name, line,
                               node->path, colon_after(node->path), LONGEST_KEY);
            status = take_scalar(r, &key, line);
            if (status == DF_OK)
                status = next_event(r);
            if (status < 0)
                return status;
            path = entry_path(yaml, node->path, key);
        } else {
            path = item_path(yaml, node->path, node->count);
        }
        df_yaml_node *item = NULL;
        /* The value of a map belongs to the line of its key. */
        status = read_node(r, &item, path, line, depth + 1);
        if (status < 0)
            return status;
        item->key = key;
        *tail = item;
        tail = &item->next;
        node->count++;
    }
    df_status status = close_node(r, node, first);
    return status == DF_OK && map ? check_duplicates(r, node) : status;
}

/* The node that the present event begins. */
static df_status read_node(reader *r, df_yaml_node **out, char *path, size_t line, int depth) {
    if (!path)
        return no_memory(r->ctx, r->yaml);
    if (r->event.type == YAML_ALIAS_EVENT)
        return follow_alias(r, out, path, line, depth);
    df_status status = count_node(r, line);
    if (status < 0)
        return status;
    if (depth > DEEPEST)
        return too_deep(r, line);
    const yaml_char_t *name = NULL;
    df_yaml_kind kind;
    switch (r->event.type) {
    case YAML_SCALAR_EVENT:
        kind = DF_YAML_SCALAR;
        name = r->event.data.scalar.anchor;
        break;
    case YAML_SEQUENCE_START_EVENT:
        kind = DF_YAML_LIST;
        name = r->event.data.sequence_start.anchor;
        break;
    case YAML_MAPPING_START_EVENT:
        kind = DF_YAML_MAP;
        name = r->event.data.mapping_start.anchor;
        break;
    default:
        return df_fail(r->ctx, DF_E_INTERNAL, "%s:%zu: an event that cannot stand here", r->yaml->name, line);
    }
    df_yaml_node *node = new_node(r->yaml, kind, line, path);
    if (!node)
        return no_memory(r->ctx, r->yaml);
    char *kept = NULL; /* the event goes when the entries are read */
    if (name) {
        kept = take_text(r->yaml, (const char *)name, strlen((const char *)name));
        if (!kept)
            return no_memory(r->ctx, r->yaml);
    }
    status = kind == DF_YAML_SCALAR ? take_scalar(r, &node->text, line) : read_entries(r, node, depth);
    if (status == DF_OK && kept)
        status = keep_anchor(r, kept, node);
    if (status < 0)
        return status;
    *out = node;
    return DF_OK;
}

static df_status read_document(reader *r) {
    df_yaml *yaml = r->yaml;
    df_status status = next_event(r); /* the stream begins */
    if (status == DF_OK)
        status = next_event(r);
    if (status < 0)
        return status;
    if (r->event.type == YAML_STREAM_END_EVENT)
        return df_fail(r->ctx, DF_E_INPUT, "%s:1: the document is empty", yaml->name);
    status = next_event(r);
    if (status == DF_OK)
        status = read_node(r, &yaml->root, take(yaml, 1), event_line(r), 1);
    if (status == DF_OK)
        status = next_event(r); /* the document ends */
    if (status == DF_OK)
        status = next_event(r);
    if (status == DF_OK && r->event.type != YAML_STREAM_END_EVENT)
        status = df_fail(r->ctx, DF_E_INPUT, "%s:%zu: a second document begins here; only one is read", yaml->name,
                         event_line(r));
    if (status == DF_OK && yaml->root->kind == DF_YAML_SCALAR && yaml->root->text[0] == '\0')
        status = df_fail(r->ctx, DF_E_INPUT, "%s:1: the document is empty", yaml->name);
    return status;
}

df_status df_yaml_parse(df_context *ctx, df_yaml **yaml, const char *buffer, size_t length, const char *name) {
    *yaml = NULL;
    if (length > LARGEST)
        return df_fail(ctx, DF_E_MEMORY, "%s: the document is larger than %zu MiB", name, LARGEST >> 20);
    df_yaml *tree = calloc(1, sizeof *tree);
    if (!tree)
        return df_fail(ctx, DF_E_MEMORY, "%s: out of memory", name);
    tree->name = df_strdup(name);
    reader r = {.ctx = ctx, .yaml = tree};
    df_status status;
    if (tree->name && yaml_parser_initialize(&r.parser)) {
        yaml_parser_set_encoding(&r.parser, YAML_UTF8_ENCODING);
        yaml_parser_set_input_string(&r.parser, (const unsigned char *)buffer, length);
        status = read_document(&r);
        if (r.has_event)
            yaml_event_delete(&r.event);
        yaml_parser_delete(&r.parser);
    } else {
        status = no_memory(ctx, tree);
    }
    free(tree->anchors);
    tree->anchors = NULL;
    if (status < 0) {
        df_yaml_free(tree);
        return status;
    }
    *yaml = tree;
    return DF_OK;
}

void df_yaml_free(df_yaml *yaml) {
    if (!yaml)
        return;
    for (block *b = yaml->blocks; b;) {
        block *next = b->next;
        free(b);
        b = next;
    }
    free(yaml->name);
    free(yaml);
}

/* ---- looking -------------------------------------------------------------------------------------------------- */

const df_yaml_node *df_yaml_root(const df_yaml *yaml) {
    return yaml->root;
}

df_yaml_kind df_yaml_node_kind(const df_yaml_node *node) {
    return node->kind;
}

size_t df_yaml_node_line(const df_yaml_node *node) {
    return node->line;
}

const char *df_yaml_node_path(const df_yaml_node *node) {
    return node->path;
}

const char *df_yaml_scalar(const df_yaml_node *node) {
    return node && node->kind == DF_YAML_SCALAR ? node->text : NULL;
}

size_t df_yaml_count(const df_yaml_node *node) {
    return node ? node->count : 0;
}

const df_yaml_node *df_yaml_item(const df_yaml_node *node, size_t index) {
    return node && index < node->count ? node->items[index] : NULL;
}

const char *df_yaml_key(const df_yaml_node *map, size_t index) {
    const df_yaml_node *item = df_yaml_item(map, index);
    return item ? item->key : NULL;
}

const df_yaml_node *df_yaml_get(const df_yaml_node *map, const char *key) {
    if (!map || map->kind != DF_YAML_MAP)
        return NULL;
    for (size_t i = 0; i < map->count; i++)
        if (strcmp(map->items[i]->key, key) == 0)
            return map->items[i];
    return NULL;
}

const char *df_yaml_where(char *out, size_t size, const df_yaml_node *node) {
    (void)snprintf(out, size, "%s:%zu%s%s", node->file, node->line, colon_after(node->path), node->path);
    return out;
}

static df_status fail_at(df_context *ctx, const df_yaml_node *node, const char *sentence) {
    df_status status = df_fail(ctx, DF_E_INPUT, "%s:%zu: %s%s%s", node->file, node->line, node->path,
                               colon_after(node->path), sentence);
    df_context_put_fault(ctx, node->file, node->line, node->path);
    return status;
}

df_status df_yaml_fail(df_context *ctx, const df_yaml_node *node, const char *format, ...) {
    char sentence[1024];
    va_list arguments;
    va_start(arguments, format);
    (void)vsnprintf(sentence, sizeof sentence, format, arguments);
    va_end(arguments);
    return fail_at(ctx, node, sentence);
}

df_status df_yaml_missing(df_context *ctx, const df_yaml_node *map, const char *key, const char *format, ...) {
    char sentence[1024], path[256];
    va_list arguments;
    va_start(arguments, format);
    (void)vsnprintf(sentence, sizeof sentence, format, arguments);
    va_end(arguments);
    df_status status = fail_at(ctx, map, sentence);
    (void)snprintf(path, sizeof path, "%s%s%s", map->path, *map->path ? "." : "", key);
    df_context_put_fault(ctx, map->file, map->line, path);
    return status;
}

/* ---- fields --------------------------------------------------------------------------------------------------- */

/* "a, b or c" */
static void list_words(df_text *out, const char *const *words, size_t count) {
    for (size_t i = 0; i < count; i++)
        df_text_printf(out, "%s%s", i == 0 ? "" : i + 1 == count ? " or " : ", ", words[i]);
}

/* The node that `key` names; NULL in *node where it may be missing and is. */
static df_status find_field(df_context *ctx, const df_yaml_node **node, const df_yaml_node *map, const char *key,
                            bool required, const char *wanted) {
    *node = NULL;
    if (map->kind != DF_YAML_MAP)
        return df_yaml_fail(ctx, map, "a map with the key '%s' is wanted here", key);
    *node = df_yaml_get(map, key);
    if (!*node && required)
        return df_yaml_missing(ctx, map, key, "the key '%s' is missing; it takes %s", key, wanted);
    return DF_OK;
}

/* The same for one that must be a scalar. */
static df_status find_scalar(df_context *ctx, const df_yaml_node **node, const df_yaml_node *map, const char *key,
                             bool required, const char *wanted) {
    df_status status = find_field(ctx, node, map, key, required, wanted);
    if (status == DF_OK && *node && (*node)->kind != DF_YAML_SCALAR)
        return df_yaml_fail(ctx, *node, "a %s stands here; %s is wanted",
                            (*node)->kind == DF_YAML_LIST ? "list" : "map", wanted);
    return status;
}

df_status df_yaml_check_keys(df_context *ctx, const df_yaml_node *map, const char *const *keys, size_t count) {
    if (map->kind != DF_YAML_MAP)
        return df_yaml_fail(ctx, map, "a map of keys and values is wanted here");
    for (size_t i = 0; i < map->count; i++) {
        bool known = false;
        for (size_t k = 0; k < count && !known; k++)
            known = strcmp(map->items[i]->key, keys[k]) == 0;
        if (known)
            continue;
        char near[256];
        df_suggest(near, sizeof near, map->items[i]->key, keys, count);
        if (*near)
            return df_yaml_fail(ctx, map->items[i], "this key is not known; did you mean %s?", near);
        df_text list;
        df_text_init(&list, 800);
        list_words(&list, keys, count);
        df_status status =
            df_yaml_fail(ctx, map->items[i], "this key is not known; known here: %s", df_text_string(&list));
        df_text_free(&list);
        return status;
    }
    return DF_OK;
}

/* "a volume with its unit (µL, mL, ...)" */
static const char *quantity_wanted(char *out, size_t size, df_dimension dimension) {
    if (dimension == DF_DIM_NUMBER)
        (void)snprintf(out, size, "%s", df_dimension_name(dimension));
    else
        (void)snprintf(out, size, "%s in %s", df_dimension_name(dimension), df_unit_list(dimension));
    return out;
}

/* A bound in the unit of the quantity, e.g. "-80 °C". */
static const char *bound_text(char *out, size_t size, double si, const df_quantity *q) {
    double number = (si - q->offset) * q->divisor / q->factor;
    if (fabs(number) < 1e-9 && q->offset > 0)
        number = 0; /* rounding of the shift to kelvin */
    (void)snprintf(out, size, "%.6g%s%s", number, *q->unit ? " " : "", q->unit);
    return out;
}

df_status df_yaml_quantity_in(df_context *ctx, double *value, const df_yaml_node *map, const char *key,
                              df_dimension dimension, bool required, double lowest, double highest) {
    const df_yaml_node *node;
    char wanted[160], where[512], low[128], high[128];
    df_status status = find_scalar(ctx, &node, map, key, required, quantity_wanted(wanted, sizeof wanted, dimension));
    if (status < 0 || !node)
        return status;
    df_quantity q;
    status = df_quantity_read(ctx, &q, node->text, dimension, df_yaml_where(where, sizeof where, node));
    if (status < 0)
        return status;
    /* A bound written in the user's unit may come out a rounding beside the bound in SI. */
    if (q.si < lowest && q.si >= lowest - 1e-12 * fabs(lowest))
        q.si = lowest;
    if (q.si > highest && q.si <= highest + 1e-12 * fabs(highest))
        q.si = highest;
    if (q.si < lowest || q.si > highest) {
        (void)bound_text(low, sizeof low, lowest, &q);
        (void)bound_text(high, sizeof high, highest, &q);
        if (isinf(highest))
            return df_yaml_fail(ctx, node, "must be at least %s, not %.80s", low, node->text);
        if (isinf(lowest))
            return df_yaml_fail(ctx, node, "must be at most %s, not %.80s", high, node->text);
        return df_yaml_fail(ctx, node, "must lie between %s and %s, not %.80s", low, high, node->text);
    }
    *value = q.si;
    return DF_OK;
}

df_status df_yaml_quantity(df_context *ctx, double *value, const df_yaml_node *map, const char *key,
                           df_dimension dimension, bool required) {
    return df_yaml_quantity_in(ctx, value, map, key, dimension, required, -INFINITY, INFINITY);
}

df_status df_yaml_integer(df_context *ctx, long *value, const df_yaml_node *map, const char *key, bool required,
                          long lowest, long highest) {
    const df_yaml_node *node;
    df_status status = find_scalar(ctx, &node, map, key, required, "a whole number");
    if (status < 0 || !node)
        return status;
    const char *text = node->text;
    const char *digits = text + (*text == '-' || *text == '+');
    char *end = NULL;
    errno = 0;
    long number = *digits >= '0' && *digits <= '9' ? strtol(text, &end, 10) : 0;
    if (!end || *end != '\0' || errno == ERANGE || number < lowest || number > highest)
        return df_yaml_fail(ctx, node, "must be a whole number between %ld and %ld, not '%.80s'", lowest, highest,
                            text);
    *value = number;
    return DF_OK;
}

df_status df_yaml_bool(df_context *ctx, bool *value, const df_yaml_node *map, const char *key, bool required) {
    static const char *const yes[] = {"true", "yes", "on"}, *const no[] = {"false", "no", "off"};
    const df_yaml_node *node;
    df_status status = find_scalar(ctx, &node, map, key, required, "yes or no");
    if (status < 0 || !node)
        return status;
    for (size_t i = 0; i < 3; i++)
        if (df_name_equal(node->text, yes[i]) || df_name_equal(node->text, no[i])) {
            *value = df_name_equal(node->text, yes[i]);
            return DF_OK;
        }
    return df_yaml_fail(ctx, node, "must be yes or no, not '%.80s'", node->text);
}

df_status df_yaml_string(df_context *ctx, char **value, const df_yaml_node *map, const char *key, bool required) {
    const df_yaml_node *node;
    df_status status = find_scalar(ctx, &node, map, key, required, "a text");
    if (status < 0 || !node)
        return status;
    if (node->text[0] == '\0')
        return df_yaml_fail(ctx, node, "a text is wanted here, but nothing is written");
    char *copy = df_strdup(node->text);
    if (!copy)
        return df_fail(ctx, DF_E_MEMORY, "%s: out of memory", node->file);
    free(*value);
    *value = copy;
    return DF_OK;
}

df_status df_yaml_choice(df_context *ctx, int *value, const df_yaml_node *map, const char *key, bool required,
                         const char *const *words, size_t count) {
    const df_yaml_node *node;
    df_text list;
    df_text_init(&list, 800);
    list_words(&list, words, count);
    df_status status = find_scalar(ctx, &node, map, key, required, df_text_string(&list));
    if (status == DF_OK && node) {
        size_t i = 0;
        while (i < count && !df_name_equal(node->text, words[i]))
            i++;
        if (i < count)
            *value = (int)i;
        else
            status = df_yaml_fail(ctx, node, "must be %s, not '%.80s'", df_text_string(&list), node->text);
    }
    df_text_free(&list);
    return status;
}

df_status df_yaml_text(df_context *ctx, char *out, size_t size, const df_yaml_node *map, const char *key,
                       bool required) {
    char *value = NULL;
    df_status status = df_yaml_string(ctx, &value, map, key, required);
    if (status == DF_OK && value != NULL) {
        if (strlen(value) >= size)
            status = df_yaml_fail(ctx, df_yaml_get(map, key), "is longer than %zu bytes", size - 1);
        else
            memcpy(out, value, strlen(value) + 1);
    }
    free(value);
    return status;
}

df_status df_yaml_key_text(df_context *ctx, char *out, size_t size, const df_yaml_node *map, const char *key) {
    df_status status = df_yaml_text(ctx, out, size, map, key, true);
    if (status != DF_OK)
        return status;
    bool sound = out[0] != '_' && out[0] != '-' && out[0] != '.';
    for (const char *at = out; *at != '\0'; at++)
        sound = sound && ((*at >= 'a' && *at <= 'z') || (*at >= 'A' && *at <= 'Z') || (*at >= '0' && *at <= '9') ||
                          strchr("_-.", *at) != NULL);
    if (!sound)
        return df_yaml_fail(ctx, df_yaml_get(map, key),
                            "should be of the letters a to z, digits, '_', '-' and '.', and begin with a letter or "
                            "digit; a name of any form stands under 'name'");
    return DF_OK;
}

df_status df_yaml_items_find(df_context *ctx, df_yaml_items *items, const df_yaml_node *root, const char *key) {
    *items = (df_yaml_items){df_yaml_get(root, key), NULL, 0};
    if (items->list == NULL && df_yaml_get(root, "key") != NULL) {
        *items = (df_yaml_items){NULL, root, 1};
        return DF_OK;
    }
    if (items->list == NULL)
        return df_yaml_missing(ctx, root, root->kind == DF_YAML_MAP ? "key" : key,
                               "should hold a list '%s', or one of them with its 'key'", key);
    df_status status = df_yaml_check_keys(ctx, root, &key, 1);
    if (status == DF_OK && (items->list->kind != DF_YAML_LIST || items->list->count == 0))
        status = df_yaml_fail(ctx, items->list, "should be a list, one entry or more");
    items->count = df_yaml_count(items->list);
    return status;
}

const df_yaml_node *df_yaml_items_at(const df_yaml_items *items, size_t index) {
    return items->one != NULL ? items->one : df_yaml_item(items->list, index);
}
