/* How far model (b) would part from a run of model (a), without integrating it. docs/transient.md. */
#include "dryfront/transient.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#define R DF_GAS_CONSTANT
#define DIFFUSIVITY 1.736 /* m2 Pa/s of vapour in air as model (a) has it, at 240 K */
#define OPENNESS 0.6      /* of model (a) */
#define STEPS 32          /* of the way through the dried layer */

typedef struct half_way {
    const df_class *c;
    const df_moment *m;
    const df_class_moment *at;
    size_t framework, map[DF_MAX_COMPONENTS];
    double chamber[DF_MAX_COMPONENTS], total, foreign; /* Pa; foreign: all but the species asked about */
    double depth, area;
} half_way;

static double area_at(const df_shape *s, double z) {
    double top = sqrt(s->free_area), edge = s->lie == DF_LIE_SHELL ? sqrt(s->heated_area) : top;
    double side = top + (edge - top) * z / s->thickness;
    return side * side;
}

/* First moment at which less than half of a component is left; false: none. */
static bool stand_at(half_way *h, const df_run *run, size_t index, size_t component) {
    for (size_t k = 0; k < run->moments; k++) {
        h->m = &run->moment[k];
        h->at = &h->m->container[index];
        if (h->at->left[component] < 0.5 && h->m->time > 0.0)
            break;
        if (k + 1 == run->moments)
            return false;
    }
    h->total = h->m->chamber[run->species];
    for (size_t i = 0; i < run->species; i++)
        h->total += h->m->chamber[i];
    for (size_t i = 0; i < h->c->path->n; i++)
        h->chamber[i] = h->m->chamber[h->map[i]];
    double left = fmin(fmax(h->at->left[component], 0.0), 1.0) * (DF_SHAPE_POINTS - 1);
    size_t k = (size_t)fmin(left, DF_SHAPE_POINTS - 2);
    h->depth = h->c->shape.depth[k] + (left - (double)k) * (h->c->shape.depth[k + 1] - h->c->shape.depth[k]);
    h->area = area_at(&h->c->shape, h->depth);
    h->foreign = h->total - h->chamber[component];
    return true;
}

static double rest_pressure(const half_way *h, size_t i, double t) {
    return exp(df_frozen_path_at(h->c->path, h->c->path->pressure_ln[i], t));
}

/* Share by which viscous flow helps a gas on its way down to `depth`, from p1 to p2 (Pa). */
static double viscous_share(const df_dusty *d, const df_cake *cake, size_t gas, double depth, double p1, double p2,
                            double t) {
    double inner = cake->a1 * depth / (1.0 + cake->a2 * depth), whole = cake->r0 + inner;
    double bend = 1.0 + 0.5 * cake->a2 * depth, radius = df_dusty_radius(d, cake->a1 / (bend * bend), t);
    double speed = sqrt(8.0 * R * t / (M_PI * d->molar_mass[gas]));
    double viscosity = d->viscosity[gas] * exp(d->thinning[gas] * log(t / 250.0));
    double slip = 3.0 * radius / (16.0 * speed * viscosity) * 0.5 * (p1 + p2);
    return inner / whole * slip / (1.0 + slip);
}

/* Both models' resistance of the dried layer down to the front, as the one has it on its way and the other by the front. */
static double shape_share(const half_way *h) {
    const df_cake *cake = &h->c->cake;
    double way = cake->r0 / h->c->shape.free_area, step = h->depth / STEPS;
    for (int k = 0; k < STEPS; k++) {
        double z = (k + 0.5) * step, bend = 1.0 + cake->a2 * z;
        way += cake->a1 / (bend * bend) / area_at(&h->c->shape, z) * step;
    }
    return way * h->area / (cake->r0 + cake->a1 * h->depth / (1.0 + cake->a2 * h->depth)) - 1.0;
}

static void explain(df_transient_range *r, const df_class *c) {
    if (!r->agrees) {
        static const char *const cause[] = {
            "gas over the cake, through which the vapour diffuses, is not what the run has of it",
            "gas in the cake, through which the vapour diffuses, is not what the run has of it",
            "the vapour flows through the pores as a whole, faster than molecule by molecule",
            "the vapour has less area on its way than at the front"};
        double size[] = {r->headspace, r->friction, r->viscous, r->shape};
        size_t most = 0;
        for (size_t k = 1; k < 4; k++)
            if (fabs(size[k]) > fabs(size[most]))
                most = k;
        snprintf(r->reason, sizeof r->reason,
                 "a one-dimensional model would differ by about %+.0f %% in time and %+.1f K: %s", 100.0 * r->time,
                 r->temperature, cause[most]);
        return;
    }
    size_t worst = DF_MAX_COMPONENTS;
    for (size_t i = 0; i < c->path->n; i++)
        if (fabs(r->solvent_time[i]) > DF_RANGE_TIME &&
            (worst == DF_MAX_COMPONENTS || fabs(r->solvent_time[i]) > fabs(r->solvent_time[worst])))
            worst = i;
    if (worst < DF_MAX_COMPONENTS)
        snprintf(
            r->reason, sizeof r->reason,
            "%s would leave about %.0f %% sooner in a one-dimensional model: its front lies deeper and warmer, and "
            "its vapour flows through the pores as a whole",
            c->composition.component[worst]->name, -100.0 * r->solvent_time[worst]);
}

df_status df_transient_range_find(df_context *ctx, df_transient_range *out, const df_setup *setup, const df_run *run,
                                  size_t index, const df_pores *pores) {
    memset(out, 0, sizeof *out);
    if (index >= setup->class_count || index >= run->class_count || run->moments < 3)
        return df_fail(ctx, DF_E_INPUT, "the range needs a class of the setup and a run of it that kept its moments");
    const df_class *c = &setup->classes[index];
    const df_frozen_path *p = c->path;
    if ((c->shape.kind == DF_FLASK) != (c->shape.lie == DF_LIE_SHELL))
        return df_fail(ctx, DF_E_INPUT,
                       "no body of one dimension that this model knows: it takes a vial, tube or tray at rest, or "
                       "the shell of a flask");
    half_way h = {.c = c};
    df_gas gas[DF_MAX_GASES];
    for (size_t i = 0; i < p->n; i++) {
        out->solvent_time[i] = NAN;
        gas[i] = df_gas_of(c->composition.component[i]);
        if (p->volume_fraction[i] > p->volume_fraction[h.framework])
            h.framework = i;
        for (size_t j = 0; j < run->species; j++)
            if (run->substance[j] == c->composition.component[i])
                h.map[i] = j;
    }
    gas[p->n] = df_gas_air();
    df_dusty d;
    df_dusty_make(&d, gas, p->n + 1, pores);
    size_t w = h.framework;
    if (!stand_at(&h, run, index, w))
        return df_fail(ctx, DF_E_INPUT, "the run ended before half of the framework had left");
    const df_substance *sub = c->composition.component[w];
    double t = h.at->front, rest = rest_pressure(&h, w, t), drive = fmax(rest - h.chamber[w], 1e-3);
    double heat = fmax(h.at->heat, 1e-9), latent = df_sublimation_enthalpy(sub, t) / sub->molar_mass;
    double flow = heat / latent;
    /* Stefan's tube over the cake, against the one that the run has; then on through the cake */
    double mouth = fmax((c->container.brim_volume - c->shape.volume) / c->shape.free_area, 0.0);
    double moles = flow / sub->molar_mass * R * t / fmax(h.total, 1e-3);
    double peclet = moles * mouth / (c->shape.free_area * df_gas_diffusivity(&gas[w], &gas[p->n], t) / h.total);
    double runs = flow / sub->molar_mass * R * 240.0 * mouth / (DIFFUSIVITY * c->shape.free_area); /* Peclet number */
    double within = flow / sub->molar_mass * R * 240.0 * h.depth / (OPENNESS * DIFFUSIVITY * h.area);
    drive = fmax(drive - h.foreign * -expm1(-runs - within), 1e-3);
    out->headspace = h.foreign * (exp(-runs) - exp(-peclet)) / drive;
    if (isfinite(pores->openness)) {
        double inside = moles * h.depth / (h.area * d.diffusivity[w][p->n] * pow(t / 250.0, 1.75) / h.total);
        out->friction = h.foreign * (exp(-runs) * expm1(-within) - exp(-peclet) * expm1(-inside)) / drive;
    }
    out->viscous = -viscous_share(&d, &c->cake, w, h.depth, h.total, rest, t);
    out->shape = shape_share(&h);
    /* a resistance slows the vapour, the front warms, and that drives it: what remains of the slowing */
    double facing = c->place == DF_PLACE_SHELF ? h.m->shelf : setup->dryer->chamber.room_temperature;
    double span = fmax(facing - t, 0.1),
           steep = (rest_pressure(&h, w, t + 0.5) - rest_pressure(&h, w, t - 0.5)) / drive;
    out->ease = 1.0 / (1.0 + steep * span);
    double sum = out->headspace + out->friction + out->viscous + out->shape;
    out->time = sum / (1.0 + sum) * out->ease;
    out->temperature = out->time * span;
    double fall = h.at->hottest - t, thick = c->shape.thickness;
    double conductivity = heat * 0.5 * thick / (fmax(fall, 1e-6) * c->shape.heated_area);
    double capacity =
        p->frozen_density * (df_frozen_path_at(p, p->enthalpy, t + 0.5) - df_frozen_path_at(p, p->enthalpy, t - 0.5));
    out->biot = heat / (span * c->shape.heated_area) * thick / conductivity;
    out->warming = thick * thick * capacity / (conductivity * fmax(run->classes[index].species_time[w], 1.0));
    out->agrees = fabs(out->time) <= DF_RANGE_TIME && fabs(out->temperature) <= DF_RANGE_TEMPERATURE;
    out->solvents_agree = true;
    for (size_t i = 0; i < p->n; i++) {
        const df_class_run *r = &run->classes[index];
        if (i == w || !(r->species_time[i] < 0.9 * r->species_time[w]) || !stand_at(&h, run, index, i))
            continue;
        t = h.at->front;
        rest = rest_pressure(&h, i, t);
        drive = fmax(rest - h.chamber[i], 1e-3);
        /* its front lies where the frozen layer is warmer */
        double warmer = 0.5 * (h.at->hottest - t) * h.depth / thick * 2.0;
        double gain = (rest_pressure(&h, i, t + warmer) - rest) / drive;
        double more = gain + viscous_share(&d, &c->cake, i, h.depth, h.chamber[i], rest, t);
        out->solvent_time[i] = -more / (1.0 + more);
        out->solvents_agree = out->solvents_agree && fabs(out->solvent_time[i]) <= DF_RANGE_TIME;
    }
    explain(out, c);
    return DF_OK;
}
