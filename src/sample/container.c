/* Containers: data/containers.csv, and the user's own file. */
#include "dryfront/sample.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define COUNT(a) (sizeof(a) / sizeof((a)[0]))
#define MOST 2000             /* containers in all */
#define WALL_TOLERANCE 0.05   /* of the outer diameter: both diameters and the wall, as written, agree */
#define SPHERE_TOLERANCE 0.02 /* of the brim volume, by which a flask's sphere may be larger */
#define TALLEST 1.0           /* m */
#define STATED "stated by the user"

static const char *const kind_names[] = {"vial", "flask", "tube", "tray"};

const char *df_container_kind_name(df_container_kind kind) {
    return kind_names[kind];
}

struct df_containers {
    df_container *items;
    size_t count, room;
    df_absent absent;
};

static df_status no_memory(df_context *ctx) {
    return df_fail(ctx, DF_E_MEMORY, "out of memory");
}

/* Room for one more, zeroed and not yet counted. */
static df_container *next_item(df_containers *set) {
    if (set->count == set->room) {
        size_t room = set->room > 0 ? 2 * set->room : 32;
        df_container *items = realloc(set->items, room * sizeof *items);
        if (items == NULL)
            return NULL;
        set->items = items;
        set->room = room;
    }
    memset(&set->items[set->count], 0, sizeof *set->items);
    return &set->items[set->count];
}

/* Copies what fits, cut between UTF-8 characters. */
static void copy_text(char *out, size_t size, const char *text) {
    size_t length = strlen(text);
    if (length >= size) {
        length = size - 1;
        while (length > 0 && ((unsigned char)text[length] & 0xC0u) == 0x80u)
            length--;
    }
    memcpy(out, text, length);
    out[length] = '\0';
}

/* ---- built in ------------------------------------------------------------------------------------------------- */

static df_status read_row(df_context *ctx, df_container *c, const df_csv *csv, size_t row) {
    const struct {
        double *value;
        const char *column;
        double scale;
    } numbers[] = {{&c->inner_diameter, "inner_diameter_mm", 1e-3}, {&c->outer_diameter, "outer_diameter_mm", 1e-3},
                   {&c->brim_volume, "brim_volume_mL", 1e-6},       {&c->wall, "wall_mm", 1e-3},
                   {&c->glass_mass, "glass_mass_g", 1e-3},          {&c->port_diameter, "port_diameter_mm", 1e-3}};
    copy_text(c->key, sizeof c->key, df_csv_cell(csv, row, df_csv_find(csv, "key")));
    copy_text(c->name, sizeof c->name, df_csv_cell(csv, row, df_csv_find(csv, "name")));
    copy_text(c->source, sizeof c->source, df_csv_cell(csv, row, df_csv_find(csv, "source")));
    const char *kind = df_csv_cell(csv, row, df_csv_find(csv, "kind"));
    size_t k = 0;
    while (k < COUNT(kind_names) && strcmp(kind, kind_names[k]) != 0)
        k++;
    if (k == COUNT(kind_names))
        return df_fail(ctx, DF_E_INPUT, "%s:%zu: kind '%s' should be vial, flask, tube or tray", df_csv_name(csv),
                       df_csv_line(csv, row), kind);
    c->kind = (df_container_kind)k;
    for (size_t i = 0; i < COUNT(numbers); i++) {
        double raw;
        df_status status = df_csv_number(ctx, &raw, csv, row, df_csv_find(csv, numbers[i].column), NAN);
        if (status == DF_OK && !(raw > 0.0))
            status = df_fail(ctx, DF_E_INPUT, "%s:%zu: %s should be a number above 0", df_csv_name(csv),
                             df_csv_line(csv, row), numbers[i].column);
        if (status != DF_OK)
            return status;
        *numbers[i].value = raw * numbers[i].scale;
    }
    return DF_OK;
}

df_status df_containers_create(df_context *ctx, df_containers **containers) {
    static const char *const columns[] = {"key",
                                          "name",
                                          "kind",
                                          "wall_mm",
                                          "glass_mass_g",
                                          "inner_diameter_mm",
                                          "source",
                                          "brim_volume_mL",
                                          "outer_diameter_mm",
                                          "port_diameter_mm"};
    df_containers *set = calloc(1, sizeof *set);
    df_csv *csv = NULL;
    *containers = NULL;
    df_status status = set != NULL ? df_csv_builtin(ctx, &csv, "containers.csv") : no_memory(ctx);
    if (status == DF_OK)
        status = df_csv_require(ctx, csv, columns, COUNT(columns));
    for (size_t row = 0; status == DF_OK && row < df_csv_rows(csv); row++) {
        df_container *c = next_item(set);
        status = c != NULL ? read_row(ctx, c, csv, row) : no_memory(ctx);
        set->count += status == DF_OK;
    }
    df_csv_free(csv);
    if (status == DF_OK)
        *containers = set;
    else
        df_containers_free(set);
    return status;
}

df_status df_containers_copy(df_context *ctx, df_containers **copy, const df_containers *containers) {
    df_containers *set = calloc(1, sizeof *set);
    *copy = NULL;
    if (set != NULL)
        set->items = malloc((containers->count + 1) * sizeof *set->items);
    if (set == NULL || set->items == NULL) {
        free(set);
        return no_memory(ctx);
    }
    set->count = containers->count;
    set->room = containers->count + 1;
    memcpy(set->items, containers->items, containers->count * sizeof *set->items);
    *copy = set;
    return DF_OK;
}

df_status df_containers_leave_out(df_context *ctx, df_containers *set, const char *name, const char *why) {
    return df_absent_add(ctx, &set->absent, name, why);
}

void df_containers_free(df_containers *set) {
    if (set == NULL)
        return;
    df_absent_free(&set->absent);
    free(set->items);
    free(set);
}

size_t df_containers_count(const df_containers *set) {
    return set->count;
}

const df_container *df_containers_at(const df_containers *set, size_t index) {
    return &set->items[index];
}

static const df_container *look_up(const df_containers *set, const char *name) {
    for (size_t i = 0; i < set->count; i++)
        if (df_name_equal(set->items[i].key, name) || df_name_equal(set->items[i].name, name))
            return &set->items[i];
    return NULL;
}

static df_status not_found(df_context *ctx, const df_containers *set, const char *name, const char *where) {
    const char *why = df_absent_why(&set->absent, name);
    if (why != NULL)
        return df_fail(ctx, DF_E_UNKNOWN_NAME, "%s%sthe container '%.60s' is left out, its file is unsound: %s",
                       where ? where : "", where ? ": " : "", name, why);
    const char **names = calloc(2 * set->count + 1, sizeof *names), *colon = where ? ": " : "";
    char near[256] = "";
    if (names != NULL) {
        for (size_t i = 0; i < set->count; i++) {
            names[2 * i] = set->items[i].key;
            names[2 * i + 1] = set->items[i].name;
        }
        df_suggest(near, sizeof near, name, names, 2 * set->count);
    }
    free(names);
    where = where ? where : "";
    if (near[0] != '\0')
        return df_fail(ctx, DF_E_UNKNOWN_NAME, "%s%sno container is called '%.60s'; did you mean %s?", where, colon,
                       name, near);
    return df_fail(ctx, DF_E_UNKNOWN_NAME,
                   "%s%sno container is called '%.60s'; the known ones stand in data/containers.csv and in files of "
                   "your own",
                   where, colon, name);
}

df_status df_container_find(df_context *ctx, df_container *out, const df_containers *containers, const char *name,
                            const char *where) {
    df_containers *builtin = NULL;
    df_status status = containers == NULL ? df_containers_create(ctx, &builtin) : DF_OK;
    if (status != DF_OK)
        return status;
    const df_containers *set = containers != NULL ? containers : builtin;
    const df_container *found = look_up(set, name);
    if (found != NULL)
        *out = *found;
    else
        status = not_found(ctx, set, name, where);
    df_containers_free(builtin);
    return status;
}

/* ---- the user's own file -------------------------------------------------------------------------------------- */

/* Whether what is written fits together, as tests/check_data.py asks of the built-in ones. */
static df_status check_sizes(df_context *ctx, const df_container *c, const df_yaml_node *map) {
    if (fabs(c->outer_diameter - c->inner_diameter - 2.0 * c->wall) > WALL_TOLERANCE * c->outer_diameter)
        return df_yaml_fail(ctx, df_yaml_get(map, "outer_diameter"),
                            "should be the inner diameter and twice the wall, %.4g mm within %.0f %%",
                            1e3 * (c->inner_diameter + 2.0 * c->wall), 100.0 * WALL_TOLERANCE);
    if (c->port_diameter > c->inner_diameter * (1.0 + 1e-9))
        return df_yaml_fail(ctx, df_yaml_get(map, "port_diameter"), "is wider than the container, %.4g mm",
                            1e3 * c->inner_diameter);
    double inner = c->inner_diameter, sphere = M_PI / 6.0 * inner * inner * inner,
           height = c->brim_volume / (M_PI / 4.0 * inner * inner);
    if (c->kind == DF_FLASK && !(fabs(sphere / c->brim_volume - 1.0) <= SPHERE_TOLERANCE))
        return df_yaml_fail(ctx, df_yaml_get(map, "brim_volume"),
                            "should be that of the flask's sphere, %.4g mL within %.0f %%", 1e6 * sphere,
                            100.0 * SPHERE_TOLERANCE);
    if (c->kind != DF_FLASK && height > TALLEST)
        return df_yaml_fail(ctx, df_yaml_get(map, "brim_volume"),
                            "would stand %.3g m high in that diameter; should be at most %.4g mL", height,
                            1e6 * TALLEST * c->brim_volume / height);
    return DF_OK;
}

static df_status read_own(df_context *ctx, df_container *c, const df_containers *set, const df_yaml_node *map) {
    static const char *const keys[] = {"key",         "name", "kind",       "inner_diameter", "outer_diameter",
                                       "brim_volume", "wall", "glass_mass", "port_diameter",  "source"};
    int kind = 0;
    df_status status = df_yaml_check_keys(ctx, map, keys, COUNT(keys));
#define STEP(call) status = status == DF_OK ? (call) : status
    STEP(df_yaml_key_text(ctx, c->key, sizeof c->key, map, "key"));
    if (status == DF_OK)
        copy_text(c->name, sizeof c->name, c->key);
    STEP(df_yaml_text(ctx, c->name, sizeof c->name, map, "name", false));
    STEP(df_yaml_choice(ctx, &kind, map, "kind", true, kind_names, COUNT(kind_names)));
    c->kind = (df_container_kind)kind;
    STEP(df_yaml_quantity_in(ctx, &c->inner_diameter, map, "inner_diameter", DF_DIM_LENGTH, true, 1e-3, 1.0));
    STEP(df_yaml_quantity_in(ctx, &c->wall, map, "wall", DF_DIM_LENGTH, true, 5e-5, 0.02));
    c->outer_diameter = c->inner_diameter + 2.0 * c->wall;
    STEP(df_yaml_quantity_in(ctx, &c->outer_diameter, map, "outer_diameter", DF_DIM_LENGTH, false, 1e-3, 1.1));
    c->brim_volume = M_PI / 6.0 * pow(c->inner_diameter, 3.0);
    STEP(
        df_yaml_quantity_in(ctx, &c->brim_volume, map, "brim_volume", DF_DIM_VOLUME, c->kind != DF_FLASK, 1e-8, 0.1));
    STEP(df_yaml_quantity_in(ctx, &c->glass_mass, map, "glass_mass", DF_DIM_MASS, true, 1e-5, 50.0));
    c->port_diameter = c->inner_diameter;
    STEP(df_yaml_quantity_in(ctx, &c->port_diameter, map, "port_diameter", DF_DIM_LENGTH,
                             c->kind == DF_VIAL || c->kind == DF_FLASK, 5e-4, 1.0));
    snprintf(c->source, sizeof c->source, STATED);
    STEP(df_yaml_text(ctx, c->source, sizeof c->source, map, "source", false));
#undef STEP
    c->own = true;
    const char *const names[] = {c->key, c->name};
    for (size_t i = 0; status == DF_OK && i < COUNT(names); i++) {
        const df_container *other = look_up(set, names[i]);
        const df_yaml_node *said = df_yaml_get(map, i == 1 && df_yaml_get(map, "name") != NULL ? "name" : "key");
        if (other != NULL)
            return df_yaml_fail(ctx, said, "a container is called '%s' already, %s; take another", names[i],
                                other->own ? "another of your own" : "a built-in one");
    }
    return status == DF_OK ? check_sizes(ctx, c, map) : status;
}

df_status df_containers_extend(df_context *ctx, df_containers *set, const char *buffer, size_t length,
                               const char *name) {
    df_yaml *yaml = NULL;
    df_yaml_items items;
    df_status status = df_yaml_parse(ctx, &yaml, buffer, length, name);
    if (status != DF_OK)
        return status;
    size_t before = set->count;
    status = df_yaml_items_find(ctx, &items, df_yaml_root(yaml), "containers");
    for (size_t i = 0; status == DF_OK && i < items.count; i++) {
        df_container *c = next_item(set);
        if (c == NULL)
            status = no_memory(ctx);
        else if (set->count == MOST)
            status = df_yaml_fail(ctx, df_yaml_items_at(&items, i), "more than %d containers", MOST);
        else if ((status = read_own(ctx, c, set, df_yaml_items_at(&items, i))) == DF_OK)
            set->count++;
    }
    if (status != DF_OK)
        set->count = before;
    df_yaml_free(yaml);
    return status;
}
