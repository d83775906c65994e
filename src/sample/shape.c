/* Containers and the shape of the frozen body. */
#include "dryfront/sample.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#define SHELL_COVERAGE 0.70 /* of the sphere, turned flask: common practice, no source */
#define TUBE_COVERAGE 0.90  /* of a turned tube's length: assumption */
#define MAX_NAMES 400       /* names looked through for a suggestion */

static const char *const kind_names[] = {"vial", "flask", "tube", "tray"};

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

static df_status open_table(df_context *ctx, df_csv **csv, const char *file, const char *const *columns,
                            size_t count) {
    df_status status = df_csv_builtin(ctx, csv, file);
    if (status == DF_OK)
        status = df_csv_require(ctx, *csv, columns, count);
    if (status != DF_OK) {
        df_csv_free(*csv);
        *csv = NULL;
    }
    return status;
}

/* Row with this key or name, in any case; a sentence with near names where there is none. */
static df_status find_row(df_context *ctx, size_t *found, const df_csv *csv, const char *what, const char *name,
                          const char *where) {
    int key = df_csv_find(csv, "key"), full = df_csv_find(csv, "name");
    const char *names[MAX_NAMES];
    size_t count = 0;
    for (size_t row = 0; row < df_csv_rows(csv); row++) {
        const char *cell[2] = {df_csv_cell(csv, row, key), df_csv_cell(csv, row, full)};
        for (int i = 0; i < 2; i++) {
            if (df_name_equal(cell[i], name)) {
                *found = row;
                return DF_OK;
            }
            if (count < MAX_NAMES)
                names[count++] = cell[i];
        }
    }
    char near[256];
    df_suggest(near, sizeof near, name, names, count);
    const char *prefix = where ? where : "", *colon = where ? ": " : "";
    if (near[0])
        return df_fail(ctx, DF_E_UNKNOWN_NAME, "%s%sno %s is called '%s'; did you mean %s?", prefix, colon, what,
                       name, near);
    return df_fail(ctx, DF_E_UNKNOWN_NAME, "%s%sno %s is called '%s'; the known ones stand in data/%s", prefix, colon,
                   what, name, df_csv_name(csv));
}

static df_status number(df_context *ctx, double *value, const df_csv *csv, size_t row, const char *column,
                        double scale) {
    double raw;
    df_status status = df_csv_number(ctx, &raw, csv, row, df_csv_find(csv, column), NAN);
    if (status == DF_OK)
        *value = raw * scale;
    return status;
}

static df_status positive(df_context *ctx, double *value, const df_csv *csv, size_t row, const char *column,
                          double scale) {
    df_status status = number(ctx, value, csv, row, column, scale);
    if (status == DF_OK && !(*value > 0.0))
        return df_fail(ctx, DF_E_INPUT, "%s:%zu: %s should be a number above 0", df_csv_name(csv),
                       df_csv_line(csv, row), column);
    return status;
}

df_status df_container_find(df_context *ctx, df_container *out, const char *name, const char *where) {
    static const char *const columns[] = {
        "key",     "name",         "kind",           "inner_diameter_mm", "outer_diameter_mm",
        "wall_mm", "glass_mass_g", "brim_volume_mL", "port_diameter_mm"};
    df_csv *csv;
    size_t row = 0;
    df_status status = open_table(ctx, &csv, "containers.csv", columns, sizeof columns / sizeof columns[0]);
    if (status != DF_OK)
        return status;
    status = find_row(ctx, &row, csv, "container", name, where);
    df_container c = {0};
    if (status == DF_OK) {
        copy_text(c.key, sizeof c.key, df_csv_cell(csv, row, df_csv_find(csv, "key")));
        copy_text(c.name, sizeof c.name, df_csv_cell(csv, row, df_csv_find(csv, "name")));
        const char *kind = df_csv_cell(csv, row, df_csv_find(csv, "kind"));
        int k = 0;
        while (k < 4 && strcmp(kind, kind_names[k]) != 0)
            k++;
        if (k == 4)
            status = df_fail(ctx, DF_E_INPUT, "%s:%zu: kind '%s' should be vial, flask, tube or tray",
                             df_csv_name(csv), df_csv_line(csv, row), kind);
        c.kind = (df_container_kind)k;
    }
    if (status == DF_OK)
        status = positive(ctx, &c.inner_diameter, csv, row, "inner_diameter_mm", 1e-3);
    if (status == DF_OK)
        status = positive(ctx, &c.outer_diameter, csv, row, "outer_diameter_mm", 1e-3);
    if (status == DF_OK)
        status = positive(ctx, &c.brim_volume, csv, row, "brim_volume_mL", 1e-6);
    if (status == DF_OK)
        status = positive(ctx, &c.wall, csv, row, "wall_mm", 1e-3);
    if (status == DF_OK)
        status = positive(ctx, &c.glass_mass, csv, row, "glass_mass_g", 1e-3);
    if (status == DF_OK)
        status = number(ctx, &c.port_diameter, csv, row, "port_diameter_mm", 1e-3);
    if (status == DF_OK)
        *out = c;
    df_csv_free(csv);
    return status;
}

/* Writes at most `size` keys and returns how many were written. */
size_t df_container_list(char keys[][32], size_t size) {
    static const char *const columns[] = {"key"};
    df_csv *csv;
    if (open_table(NULL, &csv, "containers.csv", columns, 1) != DF_OK)
        return 0;
    size_t count = df_csv_rows(csv) < size ? df_csv_rows(csv) : size;
    for (size_t row = 0; row < count; row++)
        copy_text(keys[row], 32, df_csv_cell(csv, row, df_csv_find(csv, "key")));
    df_csv_free(csv);
    return count;
}

/* ---- shapes --------------------------------------------------------------------------------------------------- */

static void slab(df_shape *s, double diameter) {
    double area = M_PI / 4.0 * diameter * diameter;
    s->thickness = s->volume / area;
    s->heated_area = s->free_area = area;
    for (size_t k = 0; k < DF_SHAPE_POINTS; k++) {
        double left = (double)k / (DF_SHAPE_POINTS - 1);
        s->depth[k] = (1.0 - left) * s->thickness;
        s->path[k] = left * s->thickness;
        s->area[k] = s->contact[k] = area;
    }
}

/* Height z of a cap of a sphere of radius 1 from its volume v = pi z^2 (3 - z)/3, 0 <= v <= 4 pi/3. With z = 1 - 2
 * cos b the cubic becomes cos 3b = 1.5 v/pi - 1, of which one root lies in 0..2. */
static double cap_height(double v) {
    double m = fmin(fmax(1.5 * v / M_PI - 1.0, -1.0), 1.0);
    /* The closed form cancels for a thin cap: there v = pi z^2 is the start. */
    double z = v < 0.05 ? sqrt(v / M_PI) : 1.0 - 2.0 * cos((acos(m) + 4.0 * M_PI) / 3.0);
    for (int i = 0; i < 4; i++) { /* Newton */
        double slope = M_PI * z * (2.0 - z);
        if (!(slope > 1e-12))
            break;
        z -= (M_PI * z * z * (3.0 - z) / 3.0 - v) / slope;
    }
    return fmin(fmax(z, 0.0), 2.0);
}

static void segment(df_shape *s, double radius) {
    double unit = radius * radius * radius, full = cap_height(s->volume / unit);
    s->thickness = full * radius;
    s->heated_area = 2.0 * M_PI * radius * radius * full;
    s->free_area = M_PI * radius * radius * full * (2.0 - full);
    for (size_t k = 0; k < DF_SHAPE_POINTS; k++) {
        double left = (double)k / (DF_SHAPE_POINTS - 1), z = cap_height(left * s->volume / unit);
        s->depth[k] = (full - z) * radius;
        s->area[k] = M_PI * radius * radius * z * (2.0 - z);
        s->contact[k] = 2.0 * M_PI * radius * radius * z;
        s->path[k] = z > 0.0 ? radius * z * (3.0 - z) / 6.0 : 0.0; /* volume left over contact */
    }
}

static void shell(df_shape *s, double radius) {
    double sphere = 4.0 * M_PI * SHELL_COVERAGE, cube = radius * radius * radius, film = 3.0 * s->volume / sphere;
    double inner = cbrt(cube - film);
    s->thickness = radius - inner;
    s->heated_area = sphere * radius * radius;
    s->free_area = sphere * inner * inner;
    for (size_t k = 0; k < DF_SHAPE_POINTS; k++) {
        double left = (double)k / (DF_SHAPE_POINTS - 1);
        double front = fmin(cbrt(cube - left * film), radius);
        s->depth[k] = front - inner;
        s->area[k] = sphere * front * front;
        s->path[k] = radius - front;
        s->contact[k] = s->heated_area;
    }
}

/* A turned tube: a hollow cylinder on its wall that dries from inside. */
static void hollow(df_shape *s, double radius, double length) {
    double square = radius * radius, film = s->volume / (M_PI * length), inner = sqrt(square - film);
    s->thickness = radius - inner;
    s->heated_area = 2.0 * M_PI * radius * length;
    s->free_area = 2.0 * M_PI * inner * length;
    for (size_t k = 0; k < DF_SHAPE_POINTS; k++) {
        double left = (double)k / (DF_SHAPE_POINTS - 1);
        double front = fmin(sqrt(square - left * film), radius);
        s->depth[k] = front - inner;
        s->area[k] = 2.0 * M_PI * front * length;
        s->path[k] = radius - front;
        s->contact[k] = s->heated_area;
    }
}

df_status df_shape_make(df_context *ctx, df_shape *out, const df_container *container, double volume, df_lie lie,
                        const char *where) {
    const char *prefix = where ? where : "", *colon = where ? ": " : "";
    double radius = container->inner_diameter / 2.0, sphere = 4.0 / 3.0 * M_PI * radius * radius * radius;
    if (!isfinite(volume) || !(volume > 0.0))
        return df_fail(ctx, DF_E_INPUT, "%s%sthe volume should be more than 0, not %.4g mL", prefix, colon,
                       volume * 1e6);
    double most = container->kind == DF_FLASK ? fmin(container->brim_volume, sphere) : container->brim_volume;
    if (volume > most)
        return df_fail(ctx, DF_E_INPUT, "%s%s%.4g mL does not fit into %s, which holds %.4g mL to the brim", prefix,
                       colon, volume * 1e6, container->key, most * 1e6);
    if (lie == DF_LIE_SHELL && container->kind != DF_FLASK && container->kind != DF_TUBE)
        return df_fail(ctx, DF_E_INPUT,
                       "%s%s%s is a %s; only a flask or a tube can be turned for a shell, write lie: at_rest", prefix,
                       colon, container->key, kind_names[container->kind]);
    /* The film closes the middle long before the flask is full. */
    double length = TUBE_COVERAGE * container->brim_volume / (M_PI * radius * radius);
    double film = container->kind == DF_FLASK ? SHELL_COVERAGE * sphere : M_PI * radius * radius * length;
    if (lie == DF_LIE_SHELL && volume > 0.99 * film)
        return df_fail(ctx, DF_E_INPUT, "%s%s%.4g mL is too much for a shell in %s, which takes at most %.4g mL so",
                       prefix, colon, volume * 1e6, container->key, 0.99 * film * 1e6);
    memset(out, 0, sizeof *out);
    out->lie = lie;
    out->kind = container->kind;
    out->volume = volume;
    if (lie == DF_LIE_SHELL && container->kind == DF_TUBE)
        hollow(out, radius, length);
    else if (lie == DF_LIE_SHELL)
        shell(out, radius);
    else if (container->kind == DF_FLASK)
        segment(out, radius);
    else
        slab(out, container->inner_diameter);
    return DF_OK;
}
