/* The frozen sample against temperature. */
#include "dryfront/sample.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#define LOWEST 160.0  /* K */
#define STEP 0.5      /* K */
#define FURTHEST 60.0 /* K that a temperature is followed when the pairs spread */

double df_frozen_path_at(const df_frozen_path *path, const double *table, double temperature) {
    double at = (temperature - path->lowest) / path->step;
    if (!(at > 0.0))
        return table[0];
    size_t i = (size_t)at;
    if (i >= path->points - 1)
        return table[path->points - 1];
    double t = at - (double)i;
    return table[i] + t * (table[i + 1] - table[i]);
}

static void record(df_frozen_path *path, size_t at, const df_mixture *mixture, const df_assemblage *a, double mass) {
    df_assemblage_amounts amounts;
    double pressure[DF_MAX_COMPONENTS], monomer[DF_MAX_COMPONENTS], dimer[DF_MAX_COMPONENTS];
    double wet = 0.0, wet_volume = 0.0, solute_enthalpy = 0.0;
    df_assemblage_measure(&amounts, mixture, a);
    df_mixture_vapour(pressure, monomer, dimer, mixture, a->temperature, a->activity_ln);
    for (size_t l = 0; l < a->liquids; l++) {
        bool glass = df_mixture_glass_temperature(mixture, a->liquid[l]) > a->temperature;
        for (size_t i = 0; i < df_mixture_count(mixture) && !glass; i++) {
            const df_substance *s = df_mixture_component(mixture, i);
            double own = a->liquid[l][i] * s->molar_mass;
            wet += i < path->n ? own : 0.0;
            wet_volume += own / df_liquid_density(s, a->temperature);
        }
    }
    path->liquid_mass[at] = wet / mass;
    path->solid_volume[at] = 1.0 - wet_volume / (amounts.liquid_volume + amounts.solid_volume);
    for (size_t i = 0; i < df_mixture_count(mixture); i++) {
        const df_substance *s = df_mixture_component(mixture, i);
        double liquid = 0.0, solid = 0.0;
        for (size_t l = 0; l < a->liquids; l++)
            liquid += a->liquid[l][i];
        for (size_t k = 0; k < df_mixture_solids(mixture); k++)
            solid += a->solid[k] * df_mixture_solid(mixture, k)->formula[i];
        if (i >= path->n) {
            solute_enthalpy += (liquid + solid) * df_liquid_enthalpy(s, a->temperature);
            continue;
        }
        double share = liquid + solid > 0.0 ? liquid / (liquid + solid) : 0.0;
        path->species_liquid[i][at] = share;
        path->species_enthalpy[i][at] =
            (df_liquid_enthalpy(s, a->temperature) - (1.0 - share) * df_fusion_enthalpy(s, a->temperature)) /
            s->molar_mass;
        path->pressure_ln[i][at] = log(monomer[i] + 2.0 * dimer[i]);
    }
    path->enthalpy[at] = (amounts.enthalpy - solute_enthalpy) / mass;
}

/* Whether there is liquid and all of it is below its glass temperature. */
static bool all_set(const df_mixture *m, const df_assemblage *a) {
    for (size_t l = 0; l < a->liquids; l++)
        if (df_mixture_glass_temperature(m, a->liquid[l]) < a->temperature)
            return false;
    return a->liquids > 0;
}

/* The same phases at a lower temperature: activities follow the crystals that are there, and stay where there is none. */
static void keep_set(const df_mixture *m, df_assemblage *a, double temperature) {
    a->temperature = temperature;
    for (int hydrates = 0; hydrates < 2; hydrates++) /* whose solvent depends on the water beside ice */
        for (size_t k = 0; k < df_mixture_solids(m); k++) {
            const df_solid *s = df_mixture_solid(m, k);
            if (!(a->solid[k] > 0.0) || (s->component < 0) != (hydrates == 1))
                continue;
            double rest = df_solid_constant_ln(m, k, temperature);
            if (s->component >= 0) {
                a->activity_ln[s->component] = rest;
                continue;
            }
            size_t solvent = df_mixture_count(m);
            for (size_t i = 0; i < df_mixture_count(m); i++)
                if (df_mixture_component(m, i)->is_water)
                    rest -= s->formula[i] * a->activity_ln[i];
                else if (s->formula[i] > 0.0)
                    solvent = i;
            if (solvent < df_mixture_count(m))
                a->activity_ln[solvent] = rest / s->formula[solvent];
        }
}

static bool any_solid(const df_mixture *m, const df_assemblage *a) {
    for (size_t k = 0; k < df_mixture_solids(m); k++)
        if (a->solid[k] > 0.0)
            return true;
    return false;
}

/* Where between a node and the one above it (assemblage `above`) the first solid comes or the last liquid goes. */
typedef struct change {
    const df_mixture *mixture;
    const double *z;
    const bool *allowed;
    const df_assemblage *above;
    bool last_liquid;
} change;

static df_status changed(df_context *ctx, int *yes, double t, void *data) {
    const change *c = data;
    df_assemblage a = *c->above;
    df_status status = df_mixture_equilibrium(ctx, &a, c->mixture, t, c->z, c->allowed, true);
    *yes = status == DF_OK && (c->last_liquid ? a.liquids == 0 : any_solid(c->mixture, &a));
    return status;
}

/* All that a path of `mixture` rests on, for what is kept under `kind`. */
static void path_key(df_text *key, const char *kind, const df_mixture *mixture, const double *z,
                     const df_composition *composition, const bool *allowed) {
    df_text_puts(key, kind);
    df_text_append(key, (const char *)&composition->n, sizeof composition->n);
    df_text_append(key, (const char *)z, df_mixture_count(mixture) * sizeof *z);
    df_text_append(key, (const char *)allowed, df_mixture_solids(mixture) * sizeof *allowed);
    df_mixture_key(key, mixture);
}

static df_status follow(df_context *ctx, df_frozen_path *path, const df_mixture *mixture, const double *z,
                        const df_composition *composition, const bool *allowed) {
    memset(path, 0, sizeof *path);
    size_t n = composition->n;
    const df_substance *const *component = composition->component;
    df_status status = DF_OK;
    path->n = n;
    path->water = -1;
    for (size_t i = 0; i < n; i++)
        if (component[i]->is_water)
            path->water = (int)i;
    path->lowest = LOWEST;
    path->step = STEP;
    path->points = DF_PATH_POINTS;
    double volatiles[DF_MAX_COMPONENTS] = {0}; /* a solute's pairs have a band of their own */
    memcpy(volatiles, z, n * sizeof *z);
    path->grade = df_mixture_grade(mixture, volatiles);
    double mass = 0.0; /* kg of volatiles per mole of mixture */
    for (size_t i = 0; i < n; i++)
        mass += z[i] * component[i]->molar_mass;

    df_assemblage a = {0}, ahead[DF_STRIDE];
    size_t at = 0, known = 0; /* of `ahead` */
    path->liquidus = path->solidus = NAN;
    for (size_t k = DF_PATH_POINTS; k-- > 0 && status == DF_OK;) {
        double t = LOWEST + STEP * (double)k;
        df_assemblage above = a;
        if (all_set(mixture, &a)) { /* a glass keeps its composition on further cooling */
            keep_set(mixture, &a, t);
            record(path, k, mixture, &a, mass);
            continue;
        }
        if (k + 1 == DF_PATH_POINTS)
            status = df_mixture_equilibrium(ctx, &a, mixture, t, z, allowed, false);
        else {
            if (at == known) {
                size_t many = k + 1 < DF_STRIDE ? k + 1 : DF_STRIDE;
                at = 0;
                status = df_mixture_stride(ctx, ahead, &known, &a, mixture, t, -STEP, many, z, allowed);
                status = known > 0 ? DF_OK : status; /* what comes after may never be asked for */
            }
            a = ahead[at++];
        }
        if (status != DF_OK)
            break;
        record(path, k, mixture, &a, mass);
        if (k + 1 == DF_PATH_POINTS)
            above = a;
        change c = {mixture, z, allowed, &above, false};
        if (isnan(path->liquidus) && any_solid(mixture, &a))
            status = df_highest_with(ctx, &path->liquidus, t, t + STEP, STEP, changed, &c);
        c.last_liquid = true;
        if (status == DF_OK && isnan(path->solidus) && a.liquids == 0)
            status = df_highest_with(ctx, &path->solidus, t, t + STEP, STEP, changed, &c);
    }
    if (status == DF_OK) {
        double volume = 0.0, part[DF_MAX_COMPONENTS];
        for (size_t i = 0; i < n; i++) {
            const df_substance *s = component[i];
            double liquid = path->species_liquid[i][0], own = z[i] * s->molar_mass;
            part[i] = own * (liquid / df_liquid_density(s, LOWEST) + (1.0 - liquid) / df_solid_density(s, LOWEST));
            volume += part[i];
        }
        for (size_t i = 0; i < n; i++)
            path->volume_fraction[i] = part[i] / volume;
        path->frozen_density = mass / volume;
    }
    return status;
}

df_status df_frozen_path_follow(df_context *ctx, df_frozen_path *path, const df_mixture *mixture, const double *z,
                                const df_composition *composition, df_freezing_mode mode) {
    bool allowed[DF_MAX_SOLIDS];
    df_cache *cache = df_context_cache(ctx);
    df_text key = {0};
    df_status status = df_composition_allow(ctx, allowed, mixture, composition, mode);
    if (status != DF_OK)
        return status;
    if (cache != NULL)
        path_key(&key, "path", mixture, z, composition, allowed);
    if (!df_cache_get(cache, path, sizeof *path, &key)) {
        status = follow(ctx, path, mixture, z, composition, allowed);
        if (status == DF_OK)
            df_cache_put(cache, path, sizeof *path, &key);
    }
    df_text_free(&key);
    return status;
}

df_status df_frozen_path_make(df_context *ctx, df_frozen_path *path, const df_pairs *pairs,
                              const df_composition *composition, df_freezing_mode mode) {
    df_mixture *mixture = NULL;
    double z[DF_MAX_COMPONENTS];
    df_status status = df_frozen_mixture(ctx, &mixture, z, pairs, composition, NULL, 0);
    if (status == DF_OK)
        status = df_frozen_path_follow(ctx, path, mixture, z, composition, mode);
    df_mixture_free(mixture);
    return status;
}

/* What is followed when the pairs spread: at each of the two temperatures a solid that begins to form there, or else
 * the share of liquid that is left there. */
typedef struct marker {
    bool known, by_share;
    df_appearance appearing;
    df_assemblage there;
    double share;
} marker;

typedef struct markers {
    const double *z;
    marker at[2];
    const bool *allowed; /* liquidus and solidus are close: which solid is the last may change */
    double lowest;
} markers;

static double liquid_mass(const df_mixture *m, const df_assemblage *a) {
    df_assemblage_amounts amounts;
    df_assemblage_measure(&amounts, m, a);
    return amounts.liquid_mass;
}

static double solid_mass(const df_mixture *m, const df_assemblage *a) {
    df_assemblage_amounts amounts;
    df_assemblage_measure(&amounts, m, a);
    return amounts.solid_mass;
}

/* Temperature at which the phases that are there hold as much liquid in the mixture m: secants. */
static df_status same_share(df_context *ctx, double *temperature, const df_mixture *m, const double *z,
                            const marker *k) {
    double t = k->there.temperature, last = NAN, before = NAN;
    *temperature = NAN;
    for (int step = 0; step < 12; step++) {
        df_assemblage a = k->there;
        df_status status = df_mixture_follow(ctx, &a, m, t, z);
        if (status != DF_OK || a.liquids != k->there.liquids)
            return status;
        double f = liquid_mass(m, &a) - k->share;
        double next = step == 0 ? t - 0.1 : t - f * (t - last) / (f - before);
        if (step > 0 && fabs(next - t) < 1e-3) {
            *temperature = next;
            return DF_OK;
        }
        if (!(fabs(next - k->there.temperature) < FURTHEST))
            return DF_OK;
        before = f;
        last = t;
        t = next;
    }
    return DF_OK;
}

static df_status marked(df_context *ctx, double *values, size_t n, const df_mixture *m, void *data) {
    const markers *s = data;
    if (s->allowed != NULL)
        return df_mixture_freezing_range(ctx, &values[0], &values[1], m, s->z, s->allowed, s->lowest);
    for (size_t k = 0; k < n; k++) {
        values[k] = NAN;
        df_status status = DF_OK;
        if (s->at[k].known)
            status = s->at[k].by_share ? same_share(ctx, &values[k], m, s->z, &s->at[k])
                                       : df_mixture_appearance(ctx, &values[k], m, s->z, &s->at[k].appearing);
        if (status < 0)
            values[k] = NAN;
    }
    return DF_OK;
}

static df_status set_marker(df_context *ctx, marker *k, const df_mixture *m, const double *z, const bool *allowed,
                            double t) {
    df_assemblage cold, warm;
    if (isnan(t))
        return DF_OK;
    df_status status = df_mixture_equilibrium(ctx, &cold, m, t - STEP, z, allowed, false);
    if (status == DF_OK)
        status = df_mixture_equilibrium(ctx, &warm, m, t + STEP, z, allowed, false);
    if (status == DF_OK)
        status = df_mixture_equilibrium(ctx, &k->there, m, t, z, allowed, false);
    for (size_t i = 0; status == DF_OK && i < df_mixture_solids(m) && !k->known; i++)
        if (cold.solid[i] > 0.0 && !(warm.solid[i] > 0.0))
            k->known = df_mixture_appearing(NULL, &k->appearing, m, z, allowed, i, t) == DF_OK;
    if (status == DF_OK && !k->known && k->there.liquids > 0) {
        k->share = liquid_mass(m, &k->there);
        k->known = k->by_share = true;
    }
    return status;
}

df_status df_frozen_path_spread(df_context *ctx, double *liquidus_sigma, double *solidus_sigma,
                                const df_frozen_path *path, const df_mixture *m, const double *z,
                                const df_composition *composition, df_freezing_mode mode, double solidus) {
    bool allowed[DF_MAX_SOLIDS];
    double value[2], sigma[2] = {NAN, NAN}, at[2] = {path->liquidus, solidus};
    df_cache *cache = df_context_cache(ctx);
    df_text key = {0};
    *liquidus_sigma = *solidus_sigma = NAN;
    df_status status = df_composition_allow(ctx, allowed, m, composition, mode);
    if (status != DF_OK)
        return status;
    if (cache != NULL) {
        path_key(&key, "spread", m, z, composition, allowed);
        df_text_append(&key, (const char *)at, sizeof at);
    }
    if (df_cache_get(cache, sigma, sizeof sigma, &key)) {
        *liquidus_sigma = sigma[0];
        *solidus_sigma = sigma[1];
        df_text_free(&key);
        return DF_OK;
    }
    markers *s = calloc(1, sizeof *s);
    if (s == NULL)
        status = df_fail(ctx, DF_E_MEMORY, "out of memory");
    else
        s->z = z;
    if (status == DF_OK && fabs(solidus - path->solidus) < 0.02 && path->liquidus - path->solidus < DF_AT_ONCE) {
        s->allowed = allowed;
        s->lowest = path->solidus - FURTHEST;
    }
    if (status == DF_OK)
        status = set_marker(ctx, &s->at[0], m, z, allowed, path->liquidus);
    if (status == DF_OK)
        status = set_marker(ctx, &s->at[1], m, z, allowed, solidus);
    if (status == DF_OK) /* a trace too: what liquid is left near the solidus may be mostly of it */
        status = df_mixture_spread(ctx, value, sigma, 2, m, marked, s, false);
    *liquidus_sigma = sigma[0];
    *solidus_sigma = sigma[1];
    if (!df_context_go_on(ctx)) /* what could not be followed was stopped */
        status = df_fail(ctx, DF_E_STOPPED, "stopped");
    if (status == DF_OK)
        df_cache_put(cache, sigma, sizeof sigma, &key);
    df_text_free(&key);
    free(s);
    return status;
}

/* ---- joint moves ---------------------------------------------------------------------------------------------- */

#define PLACES 2
#define COLD_PLACE 228.0 /* K, where there is no solidus */
#define APART 10.0       /* K */
#define RUN_NUMBERS (1 + 2 * PLACES)

typedef struct run_base {
    const double *z;
    size_t volatiles;
    marker solidus;
    df_assemblage there[PLACES];
} run_base;

static df_status run_numbers(df_context *ctx, double *values, size_t n, const df_mixture *m, void *data) {
    const run_base *b = data;
    size_t used = 0;
    (void)n;
    values[used] = NAN;
    if (b->solidus.known &&
        (b->solidus.by_share ? same_share(ctx, &values[used], m, b->z, &b->solidus)
                             : df_mixture_appearance(ctx, &values[used], m, b->z, &b->solidus.appearing)) < 0)
        values[used] = NAN;
    used++;
    for (size_t k = 0; k < PLACES; k++) {
        double pressure[DF_MAX_COMPONENTS];
        df_assemblage a = b->there[k];
        bool found = df_mixture_follow(ctx, &a, m, a.temperature, b->z) >= 0;
        if (found)
            df_mixture_vapour(pressure, NULL, NULL, m, a.temperature, a.activity_ln);
        double total = 0.0, liquid = found ? liquid_mass(m, &a) : NAN;
        for (size_t i = 0; i < b->volatiles && found; i++)
            total += pressure[i];
        values[used++] = total > 0.0 ? log(total) : NAN;
        values[used++] = found ? liquid / (liquid + solid_mass(m, &a)) : NAN;
    }
    return DF_OK;
}

df_status df_frozen_moves(df_context *ctx, df_moves *moves, const df_mixture *m, const double *z,
                          const df_composition *composition, df_freezing_mode mode, double solidus, size_t most) {
    static const double weight[RUN_NUMBERS] = {1.0, 1.0, 0.5, 0.5, 0.5}; /* the last are much the same */
    bool allowed[DF_MAX_SOLIDS];
    run_base *b = calloc(1, sizeof *b);
    memset(moves, 0, sizeof *moves);
    if (b == NULL)
        return df_fail(ctx, DF_E_MEMORY, "out of memory");
    b->z = z;
    b->volatiles = composition->n;
    df_status status = df_composition_allow(ctx, allowed, m, composition, mode);
    if (status >= 0)
        status = set_marker(ctx, &b->solidus, m, z, allowed, solidus);
    double from = isnan(solidus) ? COLD_PLACE : fmin(fmax(solidus + 1.0, LOWEST), 265.0);
    for (size_t k = 0; k < PLACES && status >= 0; k++)
        status = df_mixture_equilibrium(ctx, &b->there[k], m, from + APART * (double)k, z, allowed, false);
    if (status >= 0)
        status = df_moves_make(ctx, moves, m, run_numbers, RUN_NUMBERS, b, weight, most);
    free(b);
    return status;
}
