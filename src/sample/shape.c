/* The shape of the frozen body. */
#include "dryfront/sample.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#define SHELL_COVERAGE 0.70 /* of the sphere, turned flask: common practice, no source */
#define TUBE_COVERAGE 0.90  /* of a turned tube's length: assumption */

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
                       colon, container->key, df_container_kind_name(container->kind));
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
