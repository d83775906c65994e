/* Freezing time: implicit enthalpy method in one dimension. */
#include "dryfront/sample.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

/* Heat moves by the Kirchhoff variable theta = integral of k dT, so that a jump of conductivity at a front costs
 * no accuracy: the flow between two cells is the difference of theta over their distance. Time: the two-stage,
 * second-order SDIRK with gamma = 1 - sqrt(1/2) (Alexander, SIAM J. Numer. Anal. 14 (1977) 1006; L-stable, last
 * stage = new state). Unknown: enthalpy, so that a plateau needs no care and energy is conserved to the solver's
 * tolerance. */
#define STAGE 0.29289321881345254
#define TOLERANCE 1e-6 /* of the greatest change in a stage: what a step may lose of the heat it moves */
#define FLOOR 1e-12    /* the same, of the enthalpy span from start to coolant: rounding */
#define ITERATIONS 25
#define LAGS 12           /* rounds in which the outer resistance follows the surface */
#define STEP_CHANGE 0.3   /* greatest change of a cell in a step, of that span */
#define INNER_CHANGE 0.04 /* greatest change of the inner cell in a step, of (temperature - coolant) */
#define LANDING 1e-3      /* a target is met within this, of (start - coolant) */
#define MAX_STEPS 200000
#define MAX_NODES 100000
#define MAX_TARGETS 2

typedef struct material {
    const double *t, *h, *k; /* K, J/m3, W/(m K) */
    double *theta;           /* W/m, 0 at the first point */
    size_t points;
} material;

typedef struct state {
    double t, theta, slope; /* K, W/m, d theta/d h */
} state;

/* Segment i with h[i] <= enthalpy < h[i + 1]; starts from the segment of last time. */
static state at_enthalpy(const material *m, size_t *hint, double enthalpy) {
    size_t last = m->points - 2, i = *hint;
    while (i > 0 && enthalpy < m->h[i])
        i--;
    while (i < last && enthalpy >= m->h[i + 1])
        i++;
    *hint = i;
    double span = m->h[i + 1] - m->h[i], rise = m->t[i + 1] - m->t[i], s = (enthalpy - m->h[i]) / span;
    double k0 = m->k[i], dk = m->k[i + 1] - k0;
    double c = s < 0.0 ? 0.0 : s > 1.0 ? 1.0 : s; /* beyond the table conductivity is held */
    state out = {m->t[i] + s * rise, m->theta[i] + rise * c * (k0 + 0.5 * dk * c), (k0 + dk * c) * rise / span};
    out.theta += (s - c) * rise * (k0 + dk * c);
    return out;
}

static double at_temperature(double *theta, const material *m, double t) {
    size_t low = 0, high = m->points - 1;
    while (high - low > 1) {
        size_t middle = low + (high - low) / 2;
        if (m->t[middle] <= t)
            low = middle;
        else
            high = middle;
    }
    /* At the ends of the table a plateau must not be the segment to continue from. */
    double rise = m->t[high] - m->t[low], s = rise > 0.0 ? (t - m->t[low]) / rise : 0.0;
    double k0 = m->k[low], dk = m->k[high] - k0, c = s < 0.0 ? 0.0 : s > 1.0 ? 1.0 : s;
    *theta = m->theta[low] + rise * c * (k0 + 0.5 * dk * c) + (s - c) * rise * (k0 + dk * c);
    return k0 + dk * c;
}

static double enthalpy_at(const material *m, double t) {
    size_t i = 0;
    while (i < m->points - 2 && t > m->t[i + 1])
        i++;
    double rise = m->t[i + 1] - m->t[i];
    return rise > 0.0 ? m->h[i] + (m->h[i + 1] - m->h[i]) * (t - m->t[i]) / rise : m->h[i + 1];
}

typedef struct body {
    material m;
    size_t n;
    double outer_distance; /* m, outermost cell to surface, per outer area */
    double outer_area;
    double coolant;
    df_coolant_resistance resistance;
    void *data;
    double surface; /* K, of the body, last seen */
    /* n each */
    double *volume, *link, *h, *stage, *base, *lower, *diagonal, *upper, *right;
    state *cell;
    size_t *hint;
} body;

/* Flux to the coolant (W/m2) for theta of the outermost cell, at a fixed resistance; b->surface follows. */
static double surface_flux(double *slope, body *b, double theta, double resistance) {
    double ts = b->surface, theta_s, k = 0.0;
    for (int i = 0; i < 20; i++) {
        k = at_temperature(&theta_s, &b->m, ts);
        double f = theta - theta_s - b->outer_distance * (ts - b->coolant) / resistance;
        double step = f / (k + b->outer_distance / resistance);
        ts += step;
        if (fabs(step) < 1e-9 * (1.0 + fabs(ts)))
            break;
    }
    b->surface = ts;
    *slope = 1.0 / (resistance * k + b->outer_distance);
    return (ts - b->coolant) / resistance;
}

/* Solves volume (h - base) = dt * net heat in for h (in-out: first guess). False: not converged. */
static bool solve_stage(body *b, double *h, const double *base, double dt, double span) {
    size_t n = b->n;
    double resistance = 0.0;
    for (int round = 0; round < ITERATIONS; round++) {
        for (size_t i = 0; i < n; i++)
            b->cell[i] = at_enthalpy(&b->m, &b->hint[i], h[i]);
        if (round < LAGS) { /* then held, or a coefficient that falls with the wall could chase its tail */
            resistance = b->resistance(b->surface, b->data);
            if (!(resistance > 0.0) || !isfinite(resistance))
                return false;
        }
        double flux_slope, flux = surface_flux(&flux_slope, b, b->cell[n - 1].theta, resistance);
        for (size_t i = 0; i < n; i++) {
            b->diagonal[i] = b->volume[i];
            b->right[i] = -b->volume[i] * (h[i] - base[i]);
        }
        for (size_t i = 0; i + 1 < n; i++) {
            double g = dt * b->link[i], flow = g * (b->cell[i].theta - b->cell[i + 1].theta);
            b->diagonal[i] += g * b->cell[i].slope;
            b->diagonal[i + 1] += g * b->cell[i + 1].slope;
            b->upper[i] = -g * b->cell[i + 1].slope;
            b->lower[i + 1] = -g * b->cell[i].slope;
            b->right[i] -= flow;
            b->right[i + 1] += flow;
        }
        b->diagonal[n - 1] += dt * b->outer_area * flux_slope * b->cell[n - 1].slope;
        b->right[n - 1] -= dt * b->outer_area * flux;
        df_solve_tridiagonal(b->lower, b->diagonal, b->upper, b->right, n);
        double largest = 0.0, change = 0.0;
        for (size_t i = 0; i < n; i++) {
            largest = fmax(largest, fabs(b->right[i]));
            h[i] += b->right[i];
            change = fmax(change, fabs(h[i] - base[i]));
        }
        if (!isfinite(largest))
            return false;
        if (largest < TOLERANCE * change + FLOOR * span && round >= 1)
            return true;
    }
    return false;
}

static void set_geometry(body *b, int curvature, double inner, double outer) {
    double width = (outer - inner) / (double)b->n, power = (double)curvature;
    for (size_t i = 0; i < b->n; i++) {
        double r0 = inner + width * (double)i, r1 = i + 1 == b->n ? outer : r0 + width;
        b->volume[i] = (pow(r1, power + 1.0) - pow(r0, power + 1.0)) / (power + 1.0);
        b->link[i] = pow(r1, power) / width; /* last one unused */
    }
    b->outer_area = pow(outer, power);
    b->outer_distance = 0.5 * width;
}

/* Cools the body until its inner cell has passed all targets (K, falling) or `limit` (s); met[j] is NAN where not
 * met. */
static df_status march(df_context *ctx, double *met, double *end, body *b, double start, const double *target,
                       size_t targets, double limit) {
    size_t n = b->n, next = 0;
    double enthalpy = enthalpy_at(&b->m, start), span = fabs(enthalpy - enthalpy_at(&b->m, b->coolant)), time = 0.0;
    double fall = fabs(start - b->coolant), width = 2.0 * b->outer_distance;
    for (size_t i = 0; i < n; i++) {
        b->h[i] = enthalpy;
        b->hint[i] = 0;
    }
    b->surface = start;
    for (size_t j = 0; j < targets; j++)
        met[j] = NAN;
    while (next < targets && target[next] >= start)
        met[next++] = 0.0;
    if (!(span > 0.0))
        limit = 0.0;
    double inner = start, theta, k = at_temperature(&theta, &b->m, start);
    double dt =
        span > 0.0 ? 0.02 * width * width / k * span / fall : 0.0; /* a small part of a cell's time constant */
    for (size_t step = 0; next < targets && time < limit; step++) {
        if (step >= MAX_STEPS || !(dt > 1e-13 * (time + 1e-6)))
            return df_fail(ctx, DF_E_CONVERGENCE,
                           "freezing did not converge at %.4g s with the slowest point at %.4g K", time, inner);
        double surface = b->surface;
        if (dt > limit - time)
            dt = limit - time;
        memcpy(b->stage, b->h, n * sizeof *b->h);
        bool good = solve_stage(b, b->stage, b->h, STAGE * dt, span);
        if (good) {
            for (size_t i = 0; i < n; i++)
                b->base[i] = b->h[i] + (1.0 - STAGE) / STAGE * (b->stage[i] - b->h[i]);
            good = solve_stage(b, b->stage, b->base, STAGE * dt, span);
        }
        if (!good) {
            b->surface = surface;
            dt *= 0.25;
            continue;
        }
        double change = 0.0;
        for (size_t i = 0; i < n; i++)
            change = fmax(change, fabs(b->stage[i] - b->h[i]));
        double now = at_enthalpy(&b->m, &b->hint[0], b->stage[0]).t;
        double worth =
            fmax(change / (STEP_CHANGE * span), fabs(now - inner) / (INNER_CHANGE * fabs(inner - b->coolant) + 1e-6));
        if (worth > 2.0) {
            b->surface = surface;
            dt *= 0.7 / worth > 0.1 ? 0.7 / worth : 0.1;
            continue;
        }
        /* Overshot a target by too much: take the step again, shorter. */
        if (now < target[next] - LANDING * fall && inner > target[next] && dt > 1e-6 * time) {
            b->surface = surface;
            double part = (inner - target[next] + 0.5 * LANDING * fall) / (inner - now);
            dt *= part < 0.02 ? 0.02 : part > 0.9 ? 0.9 : part;
            continue;
        }
        while (next < targets && now <= target[next]) {
            met[next] = time + dt * (inner > now ? (inner - target[next]) / (inner - now) : 1.0);
            next++;
        }
        time += dt;
        inner = now;
        double *swap = b->h;
        b->h = b->stage;
        b->stage = swap;
        dt *= worth < 0.25 ? 2.0 : worth > 0.0 ? fmin(2.0, 0.8 / worth) : 2.0;
    }
    *end = time;
    return DF_OK;
}

static df_status build(df_context *ctx, body *b, void **memory, size_t nodes, int curvature, double inner,
                       double outer, const double *table_temperature, const double *table_enthalpy,
                       const double *table_conductivity, size_t points) {
    if (nodes < 2 || nodes > MAX_NODES || points < 2 || points > MAX_NODES)
        return df_fail(ctx, DF_E_INPUT,
                       "a body needs 2 to %d cells and as many points of its tables, not %zu and %zu", MAX_NODES,
                       nodes, points);
    if (curvature < 0 || curvature > 2 || !(inner >= 0.0) || !(outer > inner) || !isfinite(outer))
        return df_fail(ctx, DF_E_INPUT, "no body between the radii %.4g m and %.4g m with curvature %d", inner, outer,
                       curvature);
    for (size_t i = 0; i < points; i++) {
        bool sound = isfinite(table_temperature[i]) && isfinite(table_enthalpy[i]) && table_conductivity[i] > 0.0 &&
                     isfinite(table_conductivity[i]);
        /* Equal temperatures are a plateau; not at the ends, from which the table is continued. */
        if (sound && i > 0)
            sound = table_enthalpy[i] > table_enthalpy[i - 1] &&
                    (i == 1 || i == points - 1 ? table_temperature[i] > table_temperature[i - 1]
                                               : table_temperature[i] >= table_temperature[i - 1]);
        if (!sound)
            return df_fail(ctx, DF_E_INPUT,
                           "the tables of enthalpy and conductivity are not sound at point %zu (%.4g K)", i,
                           table_temperature[i]);
    }
    size_t bytes = nodes * (sizeof(state) + sizeof(size_t) + 9 * sizeof(double)) + points * sizeof(double);
    char *block = *memory = calloc(1, bytes);
    if (block == NULL)
        return df_fail(ctx, DF_E_MEMORY, "out of memory for a body of %zu cells", nodes);
    memset(b, 0, sizeof *b);
    b->n = nodes;
    b->cell = (state *)(void *)block;
    double *next = (double *)(void *)(block + nodes * sizeof(state));
    double **vectors[] = {&b->volume, &b->link,     &b->h,     &b->stage, &b->base,
                          &b->lower,  &b->diagonal, &b->upper, &b->right};
    for (size_t i = 0; i < sizeof vectors / sizeof vectors[0]; i++, next += nodes)
        *vectors[i] = next;
    b->m = (material){table_temperature, table_enthalpy, table_conductivity, next, points};
    b->hint = (size_t *)(void *)(next + points);
    for (size_t i = 1; i < points; i++)
        b->m.theta[i] = b->m.theta[i - 1] + 0.5 * (table_conductivity[i] + table_conductivity[i - 1]) *
                                                (table_temperature[i] - table_temperature[i - 1]);
    set_geometry(b, curvature, inner, outer);
    return DF_OK;
}

df_status df_freeze_body(df_context *ctx, double *time, double *temperatures, size_t nodes, int curvature,
                         double inner, double outer, const double *table_temperature, const double *table_enthalpy,
                         const double *table_conductivity, size_t points, double start, double target, double coolant,
                         double limit, df_coolant_resistance resistance, void *data) {
    if (!(start > 0.0) || !(coolant > 0.0) || !isfinite(start) || !isfinite(coolant) || isnan(target) ||
        !(limit >= 0.0) || coolant > start)
        return df_fail(ctx, DF_E_INPUT, "cannot cool from %.4g K to %.4g K by a coolant at %.4g K within %.4g s",
                       start, target, coolant, limit);
    body b;
    void *memory = NULL;
    df_status status = build(ctx, &b, &memory, nodes, curvature, inner, outer, table_temperature, table_enthalpy,
                             table_conductivity, points);
    double met = 0.0, end = 0.0;
    if (status == DF_OK) {
        b.coolant = coolant;
        b.resistance = resistance;
        b.data = data;
        status = march(ctx, &met, &end, &b, start, &target, 1, limit);
    }
    if (status == DF_OK) {
        *time = isnan(met) ? end : met;
        for (size_t i = 0; temperatures != NULL && i < nodes; i++)
            temperatures[i] = at_enthalpy(&b.m, &b.hint[i], b.h[i]).t;
    }
    free(memory);
    return status;
}

/* ---- a container ---------------------------------------------------------------------------------------------- */

#define CELLS 32
#define LIMIT (30.0 * 86400.0) /* s */
#define WALL_POINTS 129
#define LEAST_HEAT 3e5 /* J/(m3 K): keeps a table strictly rising */

/* Conductivities, W/(m K). Ice: 488/T, from memory (2.24 at 273 K in handbooks); water 0.56 at 273 K; organic
 * liquids 0.1 to 0.2 and their crystals 0.15 to 0.35: middle values, from memory. */
#define WATER 0.56
#define ORGANIC_LIQUID 0.17
#define ORGANIC_CRYSTAL 0.25
/* Walls, from memory: borosilicate glass, polypropylene, stainless steel. */
static const double wall_conductivity[] = {[DF_VIAL] = 1.1, [DF_FLASK] = 1.1, [DF_TUBE] = 0.2, [DF_TRAY] = 15.0};

/* Geometric mean by volume of ice (or hydrate), water, organic crystal and organic liquid. */
static double conductivity(const df_frozen_path *p, size_t at) {
    double t = p->lowest + p->step * (double)at, sum = 0.0, total = 0.0;
    double solid_water = log(488.0 / t), liquid_water = log(WATER);
    double crystal = log(ORGANIC_CRYSTAL), organic = log(ORGANIC_LIQUID);
    for (size_t i = 0; i < p->n; i++) {
        double liquid = p->species_liquid[i][at], share = p->volume_fraction[i];
        sum += share * ((int)i == p->water ? liquid * liquid_water + (1.0 - liquid) * solid_water
                                           : liquid * organic + (1.0 - liquid) * crystal);
        total += share;
    }
    return total > 0.0 ? exp(sum / total) : ORGANIC_LIQUID;
}

/* Resistance (m2 K/W, per area of the body's surface) of wall and outer film, tabulated over the surface
 * temperature. */
typedef struct wall_table {
    double surface[WALL_POINTS], resistance[WALL_POINTS]; /* ascending */
} wall_table;

static double wall_resistance(double surface, void *data) {
    const wall_table *w = data;
    return df_interpolate(w->surface, w->resistance, WALL_POINTS, surface);
}

/* The boiling curve may allow three outer temperatures for one inner temperature; a wall that cools takes the
 * highest, hence from the warm end downwards, surface temperature never rising. */
static void make_wall(wall_table *w, const df_container *c, const df_cooling *cooling, int curvature, double inner,
                      double start) {
    double k = wall_conductivity[c->kind], outer = inner + c->wall, ratio = 1.0, glass = c->wall / k;
    if (curvature == 1) {
        glass = inner * log(outer / inner) / k;
        ratio = outer / inner;
    } else if (curvature == 2) {
        glass = (1.0 / inner - 1.0 / outer) * inner * inner / k;
        ratio = outer / inner * (outer / inner);
    }
    double coldest = INFINITY;
    for (size_t j = WALL_POINTS; j-- > 0;) {
        double share = ((double)j + 0.05) / (WALL_POINTS - 1 + 0.05);
        double outside = cooling->temperature + share * (start - cooling->temperature);
        double h = df_cooling_coefficient(cooling, c, outside) * ratio, flux = h * (outside - cooling->temperature);
        double surface = outside + glass * flux;
        double highest = coldest - 1e-6;
        if (surface > highest) /* skipped branch: keeps the outside of the point above, a hair lower */
            surface = highest;
        coldest = surface;
        w->surface[j] = surface;
        w->resistance[j] = (surface - cooling->temperature) / flux;
    }
}

df_status df_freeze(df_context *ctx, df_freezing_result *out, const df_frozen_path *path,
                    const df_container *container, const df_shape *shape, const df_cooling *cooling, double start,
                    double target) {
    if (!(start > cooling->temperature) || !(target < start))
        return df_fail(ctx, DF_E_INPUT, "cannot freeze from %.4g K to %.4g K by a %s at %.4g K", start, target,
                       df_means_name(cooling->means), cooling->temperature);
    if (path->points < 2 || path->points > DF_PATH_POINTS)
        return df_fail(ctx, DF_E_INTERNAL, "a frozen path of %zu points cannot be followed", path->points);
    double t[DF_PATH_POINTS], h[DF_PATH_POINTS], k[DF_PATH_POINTS];
    for (size_t j = 0; j < path->points; j++) {
        t[j] = path->lowest + path->step * (double)j;
        h[j] = path->enthalpy[j] * path->frozen_density;
        if (j > 0)
            h[j] = fmax(h[j], h[j - 1] + LEAST_HEAT * path->step);
        k[j] = conductivity(path, j);
    }

    /* The body as a slab, or as what it is where that is the shorter way for the heat. */
    int curvature = 0;
    double inner = 0.0, outer = shape->thickness, radius = container->inner_diameter / 2.0;
    if (shape->lie == DF_LIE_SHELL) {
        curvature = container->kind == DF_TUBE ? 1 : 2;
        inner = radius - shape->thickness;
        outer = radius;
    } else if (container->kind == DF_FLASK) {
        outer = shape->volume / shape->heated_area;
    } else if (container->kind != DF_TRAY && cooling->means != DF_MEANS_SHELF) {
        /* Upright in air or bath: bottom or side, whichever is faster by Plank's equation; both together are
         * faster yet. */
        double film = 1.0 / df_cooling_coefficient(cooling, container, start) +
                      container->wall / wall_conductivity[container->kind];
        if (radius * (0.5 * film + radius / (4.0 * k[0])) < outer * (film + outer / (2.0 * k[0]))) {
            curvature = 1;
            outer = radius;
        }
    }
    wall_table wall;
    double bend = shape->lie == DF_LIE_REST && container->kind == DF_FLASK ? radius : outer;
    make_wall(&wall, container, cooling, curvature == 0 && container->kind == DF_FLASK ? 2 : curvature, bend, start);

    double wanted[MAX_TARGETS], met[MAX_TARGETS] = {NAN, NAN}, end = 0.0;
    size_t count = 0;
    bool solid = path->liquidus - 1.0 > cooling->temperature, reachable = target > cooling->temperature;
    bool solid_first = solid && (!reachable || path->liquidus - 1.0 >= target);
    if (solid_first)
        wanted[count++] = path->liquidus - 1.0;
    if (reachable)
        wanted[count++] = target;
    if (solid && !solid_first)
        wanted[count++] = path->liquidus - 1.0;
    body b;
    void *memory = NULL;
    df_status status = build(ctx, &b, &memory, CELLS, curvature, inner, outer, t, h, k, path->points);
    if (status == DF_OK) {
        b.coolant = cooling->temperature;
        b.resistance = wall_resistance;
        b.data = &wall;
        status = march(ctx, met, &end, &b, start, wanted, count, LIMIT);
    }
    free(memory);
    if (status != DF_OK)
        return status;
    out->target = target;
    out->reached = cooling->temperature;
    out->outer_coefficient = df_cooling_coefficient(cooling, container, start);
    out->time_to_solid = solid ? met[solid_first ? 0 : 1] : NAN;
    out->time_to_target = reachable ? met[solid_first ? 1 : 0] : NAN;
    out->complete = reachable && !isnan(out->time_to_target);
    return DF_OK;
}
