/* The frozen sample against temperature. */
#include "dryfront/sample.h"

#include <math.h>
#include <string.h>

#define LOWEST 160.0 /* K */
#define STEP 0.5     /* K */

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

/* Enthalpy of liquid over liquid at 273.15 K, J/mol. */
static double liquid_enthalpy(const df_substance *s, double temperature) {
    return df_liquid_heat_capacity(s, 0.5 * (temperature + DF_ZERO_CELSIUS)) * (temperature - DF_ZERO_CELSIUS);
}

static void record(df_frozen_path *path, size_t at, const df_mixture *mixture, const df_assemblage *a,
                   double molar_mass) {
    df_assemblage_amounts amounts;
    double pressure[DF_MAX_COMPONENTS], monomer[DF_MAX_COMPONENTS], dimer[DF_MAX_COMPONENTS];
    df_assemblage_measure(&amounts, mixture, a);
    df_mixture_vapour(pressure, monomer, dimer, mixture, a->temperature, a->activity_ln);
    path->enthalpy[at] = amounts.enthalpy / molar_mass;
    bool glass = a->liquids > 0;
    for (size_t l = 0; l < a->liquids; l++)
        glass = glass && df_mixture_glass_temperature(mixture, a->liquid[l]) > a->temperature;
    path->liquid_mass[at] = glass ? 0.0 : amounts.liquid_mass / (amounts.liquid_mass + amounts.solid_mass);
    path->solid_volume[at] = glass ? 1.0 : amounts.solid_volume / (amounts.liquid_volume + amounts.solid_volume);
    for (size_t i = 0; i < path->n; i++) {
        const df_substance *s = df_mixture_component(mixture, i);
        double liquid = 0.0, solid = 0.0;
        for (size_t l = 0; l < a->liquids; l++)
            liquid += a->liquid[l][i];
        for (size_t k = 0; k < df_mixture_solids(mixture); k++)
            solid += a->solid[k] * df_mixture_solid(mixture, k)->formula[i];
        double share = liquid + solid > 0.0 ? liquid / (liquid + solid) : 0.0;
        path->species_liquid[i][at] = share;
        path->species_enthalpy[i][at] =
            (liquid_enthalpy(s, a->temperature) - (1.0 - share) * df_fusion_enthalpy(s, a->temperature)) /
            s->molar_mass;
        path->pressure_ln[i][at] = log(monomer[i] + 2.0 * dimer[i]);
    }
}

static bool any_solid(const df_mixture *m, const df_assemblage *a) {
    for (size_t k = 0; k < df_mixture_solids(m); k++)
        if (a->solid[k] > 0.0)
            return true;
    return false;
}

static bool no_liquid(const df_mixture *m, const df_assemblage *a) {
    (void)m;
    return a->liquids == 0;
}

/* Highest temperature between a node at which `holds` and the one above it (assemblage `above`), to 1 mK. */
static df_status change_point(df_context *ctx, double *temperature, const df_mixture *m, const double *z,
                              const bool *allowed, double low, const df_assemblage *above,
                              bool (*holds)(const df_mixture *, const df_assemblage *)) {
    double high = low + STEP;
    while (high - low > 1e-3) {
        double middle = 0.5 * (low + high);
        df_assemblage a = *above;
        df_status status = df_mixture_equilibrium(ctx, &a, m, middle, z, allowed, true);
        if (status != DF_OK)
            return status;
        *(holds(m, &a) ? &low : &high) = middle;
    }
    *temperature = low;
    return DF_OK;
}

df_status df_frozen_path_make(df_context *ctx, df_frozen_path *path, const df_pairs *pairs,
                              const df_composition *composition, df_freezing_mode mode) {
    memset(path, 0, sizeof *path);
    size_t n = composition->n;
    const df_substance *const *component = composition->component;
    const double *z = composition->x;
    df_mixture *mixture = NULL;
    df_status status = df_mixture_create(ctx, &mixture, pairs, component, n);
    if (status != DF_OK)
        return status;
    bool allowed[DF_MAX_SOLIDS];
    status = df_composition_allow(ctx, allowed, mixture, composition, mode);
    path->n = n;
    path->water = -1;
    for (size_t i = 0; i < n; i++)
        if (component[i]->is_water)
            path->water = (int)i;
    path->lowest = LOWEST;
    path->step = STEP;
    path->points = DF_PATH_POINTS;
    path->grade = df_mixture_grade(mixture, z);
    double molar_mass = df_composition_molar_mass(composition);

    df_assemblage a = {0};
    path->liquidus = path->solidus = NAN;
    for (size_t k = DF_PATH_POINTS; k-- > 0 && status == DF_OK;) {
        double t = LOWEST + STEP * (double)k;
        df_assemblage above = a;
        status = df_mixture_equilibrium(ctx, &a, mixture, t, z, allowed, k + 1 < DF_PATH_POINTS);
        if (status != DF_OK)
            break;
        record(path, k, mixture, &a, molar_mass);
        if (k + 1 == DF_PATH_POINTS)
            above = a;
        if (isnan(path->liquidus) && any_solid(mixture, &a))
            status = change_point(ctx, &path->liquidus, mixture, z, allowed, t, &above, any_solid);
        if (status == DF_OK && isnan(path->solidus) && no_liquid(mixture, &a))
            status = change_point(ctx, &path->solidus, mixture, z, allowed, t, &above, no_liquid);
    }
    if (status == DF_OK) {
        double volume = 0.0, part[DF_MAX_COMPONENTS];
        for (size_t i = 0; i < n; i++) {
            const df_substance *s = component[i];
            double liquid = path->species_liquid[i][0], mass = z[i] * s->molar_mass;
            part[i] = mass * (liquid / df_liquid_density(s, LOWEST) + (1.0 - liquid) / df_solid_density(s, LOWEST));
            volume += part[i];
        }
        for (size_t i = 0; i < n; i++)
            path->volume_fraction[i] = part[i] / volume;
        path->frozen_density = molar_mass / volume;
    }
    df_mixture_free(mixture);
    return status;
}
