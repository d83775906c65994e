/* Model (b) under what a class met in a run of model (a). */
#include "dryfront/transient.h"

#include <math.h>
#include <string.h>

typedef struct history {
    const df_setup *setup;
    const df_run *run;
    const df_class *c;
    size_t map[DF_MAX_COMPONENTS];
    size_t last; /* the moment found last: time goes forward mostly */
    double corner[DF_MAX_RECIPE];
    size_t corners;
} history;

static double slope_between(const df_moment *a, const df_moment *b, size_t i) {
    return b->time > a->time ? (b->chamber[i] - a->chamber[i]) / (b->time - a->time) : 0.0;
}

/* Slope at moment k: harmonic mean of those on either side, nought at an extreme. */
static double slope_at(const df_run *run, size_t k, size_t i) {
    if (k == 0 || k + 1 >= run->moments)
        return 0.0;
    double before = slope_between(&run->moment[k - 1], &run->moment[k], i);
    double after = slope_between(&run->moment[k], &run->moment[k + 1], i);
    return before * after > 0.0 ? 2.0 * before * after / (before + after) : 0.0;
}

/* Partial pressures by cubics that neither bend at the moments nor overshoot (Fritsch & Butland, SIAM J. Sci. Stat. Comput.
 * 5 (1984) 300). */
static void around(df_around *out, double time, void *data) {
    history *h = data;
    const df_run *run = h->run;
    size_t k = h->last < run->moments ? h->last : 0, n = h->c->path->n;
    while (k > 0 && run->moment[k].time > time)
        k--;
    while (k + 1 < run->moments && run->moment[k + 1].time <= time)
        k++;
    h->last = k;
    const df_moment *a = &run->moment[k], *b = k + 1 < run->moments ? a + 1 : a;
    double span = b->time - a->time, f = span > 0.0 ? fmin(fmax((time - a->time) / span, 0.0), 1.0) : 0.0,
           total = 0.0;
    double pressure[DF_MAX_GASES];
    for (size_t i = 0; i <= run->species; i++) {
        double low = a->chamber[i], rise = b->chamber[i] - low;
        double s0 = slope_at(run, k, i) * span, s1 = b > a ? slope_at(run, k + 1, i) * span : 0.0;
        double bend = f * (1.0 - f) * ((s0 - rise) * (1.0 - f) + (rise - s1) * f);
        pressure[i] = fmax(low + f * rise + bend, 0.0);
        total += pressure[i];
    }
    out->chamber[n] = total;
    for (size_t i = 0; i < n; i++) {
        out->chamber[i] = pressure[h->map[i]];
        out->chamber[n] -= out->chamber[i]; /* what the class does not hold itself counts as air */
    }
    out->chamber[n] = fmax(out->chamber[n], 0.0);
    out->shelf = a->shelf + f * (b->shelf - a->shelf);
    out->top = h->c->place == DF_PLACE_SHELF ? out->shelf : h->setup->dryer->chamber.room_temperature;
    out->coefficient =
        h->c->place == DF_PLACE_SHELF ? h->c->kv_factor * df_shelf_coefficient(h->setup->dryer, total) : 0.0;
}

static double mean_front(const df_run *run, size_t index) {
    double sum = 0.0, time = 0.0;
    for (size_t k = 1; k < run->moments; k++) {
        double step = run->moment[k].time - run->moment[k - 1].time;
        sum += 0.5 * step * (run->moment[k].container[index].front + run->moment[k - 1].container[index].front);
        time += step;
    }
    return time > 0.0 ? sum / time : run->moment[0].container[index].front;
}

df_status df_transient_replay(df_context *ctx, df_transient *out, const df_setup *setup, const df_run *run,
                              size_t index, const df_transient_options *options) {
    memset(out, 0, sizeof *out);
    if (index >= setup->class_count || index >= run->class_count || run->moments < 3)
        return df_fail(ctx, DF_E_INPUT, "a replay needs a class of the setup and a run of it that kept its moments");
    df_class c = setup->classes[index];
    const df_dryer *d = setup->dryer;
    if (c.on_time > run->moment[0].time || c.off_time < run->time)
        return df_fail(ctx, DF_E_INPUT, "a container that is put on or taken off on the way cannot be replayed");
    history h = {.setup = setup, .run = run, .c = &c};
    for (size_t i = 0; i < c.path->n; i++)
        for (size_t j = 0; j < run->species; j++)
            if (run->substance[j] == c.composition.component[i])
                h.map[i] = j;
    for (size_t k = 0; k + 1 < run->moments && run->moment[k].time <= 0.0; k++)
        c.start_temperature = run->moment[k].container[index].front;
    for (size_t k = 0; k < setup->recipe.n; k++)
        if (setup->recipe.time[k] > 0.0)
            h.corner[h.corners++] = setup->recipe.time[k];
    double outer = c.container.outer_diameter, inner = c.container.inner_diameter;
    df_transient_boundary b = {.at = around, .data = &h, .corner = h.corner, .corners = h.corners};
    b.headspace = fmax((c.container.brim_volume - c.shape.volume) / c.shape.free_area, 0.0);
    b.room_area = c.room_area;
    b.room_temperature = d->chamber.room_temperature;
    if (c.place == DF_PLACE_SHELF)
        b.shelf_area = c.container.kind == DF_FLASK ? c.shape.heated_area : M_PI / 4.0 * outer * outer;
    else {
        b.room_area += c.shape.heated_area * outer * outer / (inner * inner);
        b.room_diameter = outer;
        b.room_frost = d->manifold.frost;
        b.port_diameter = fmin(d->manifold.port_diameter, c.container.port_diameter);
    }
    df_transient_options o = *options;
    o.pore_exponent = setup->pore_exponent;
    o.secondary = setup->secondary;
    o.time_limit = setup->secondary ? run->time : setup->time_limit;
    o.top_coefficient = c.top_coefficient;
    if (c.dry_conductivity > 0.0)
        o.dry_conductivity = c.dry_conductivity;
    if (o.pores.temperature > 0.0)
        o.pores.temperature = mean_front(run, index);
    return df_transient_run(ctx, out, &c, &b, &o);
}
