/* Tables of what lies on a trap: pure species, and water and organics that melt into one another. */
#include "drying/material.h"

#include <math.h>
#include <string.h>

#define GAS_TEMPERATURE                                                                                              \
    294.15 /* K from which vapour is cooled; a few kelvin of the room's change nothing that counts */

static void pure_tables(df_deposit *d, size_t i) {
    const df_substance *s = d->substance[i];
    bool crystal = s->crystallises == DF_CRYSTAL_READILY;
    for (size_t k = 0; k < DF_DEPOSIT_POINTS; k++) {
        double t = DF_DEPOSIT_FIRST + (double)k;
        bool solid = crystal && t < s->melting_temperature;
        d->pressure_ln[i][k] = df_condensed_ln(s, t);
        double heat = solid ? df_sublimation_enthalpy(s, t) : df_vaporisation_enthalpy(s, t);
        d->enthalpy[i][k] =
            (heat + df_gas_heat_capacity(s, 0.5 * (t + GAS_TEMPERATURE)) * (GAS_TEMPERATURE - t)) / s->molar_mass;
        d->liquid_ln[i][k] = df_liquid_pressure_ln(s, t);
        d->liquid_enthalpy[i][k] = df_liquid_enthalpy(s, t) / s->molar_mass;
        d->vaporisation[i][k] = df_vaporisation_enthalpy(s, t) / s->molar_mass;
        d->fusion[i][k] = df_fusion_enthalpy(s, t) / s->molar_mass;
        /* over the last two kelvins below melting the crystal loosens and drips: keeps the surface at the melting point */
        d->solid[i][k] = solid ? fmin(1.0, (s->melting_temperature - t) / 2.0) : 0.0;
    }
}

static void all_pure(df_deposit *d) {
    for (size_t i = 0; i < d->n; i++)
        pure_tables(d, i);
}

/* What the rows of a mixed deposit are and of which mixture: all that its tables rest on. */
static void mixed_key(df_text *key, const df_deposit *d, const df_mixture *m, const bool *allowed,
                      const double *organic) {
    df_text_puts(key, "deposit");
    df_text_append(key, (const char *)organic, d->n * sizeof *organic);
    df_text_append(key, (const char *)allowed, df_mixture_solids(m) * sizeof *allowed);
    df_mixture_key(key, m);
}

/* One share of organics, from warm to cold. */
static df_status mixed_row(df_context *ctx, df_deposit *d, size_t row, const df_mixture *m, const bool *allowed,
                           const double *moles) {
    df_assemblage a = {0}, ahead[DF_STRIDE];
    size_t at = 0, known = 0; /* of `ahead` */
    for (size_t k = DF_DEPOSIT_MIXED; k-- > 0;) {
        double t = DF_DEPOSIT_COLDEST + DF_DEPOSIT_STEP * (double)k;
        double pressure[DF_MAX_COMPONENTS], monomer[DF_MAX_COMPONENTS], dimer[DF_MAX_COMPONENTS];
        df_status status = DF_OK;
        if (k + 1 == DF_DEPOSIT_MIXED)
            status = df_mixture_equilibrium(ctx, &a, m, t, moles, allowed, false);
        else {
            if (at == known) {
                size_t many = k + 1 < DF_STRIDE ? k + 1 : DF_STRIDE;
                at = 0;
                status = df_mixture_stride(ctx, ahead, &known, &a, m, t, -DF_DEPOSIT_STEP, many, moles, allowed);
            }
            if (status >= 0)
                a = ahead[at++];
        }
        if (status < 0)
            return status;
        df_mixture_vapour(pressure, monomer, dimer, m, t, a.activity_ln);
        for (size_t i = 0; i < d->n; i++) {
            const df_substance *s = d->substance[i];
            double liquid = 0.0, all = 0.0;
            for (size_t l = 0; l < a.liquids; l++)
                liquid += a.liquid[l][i];
            for (size_t q = 0; q < df_mixture_solids(m); q++)
                all += a.solid[q] * df_mixture_solid(m, q)->formula[i];
            all += liquid;
            d->activity_ln[row][i][k] = log(monomer[i] + 2.0 * dimer[i]) - df_condensed_ln(s, t);
            d->liquid[row][i][k] = all > 0.0 ? liquid / all : 0.0;
        }
    }
    return DF_OK;
}

/* The tables of the whole deposit, where they are kept; d->substance and d->grade stay as they are. */
static bool recall(df_deposit *d, df_cache *cache, const df_text *key) {
    const df_substance *substance[DF_MAX_COMPONENTS];
    df_pair_grade grade = d->grade;
    memcpy(substance, d->substance, sizeof substance);
    bool known = df_cache_get(cache, d, sizeof *d, key);
    memcpy(d->substance, substance, sizeof substance);
    d->grade = grade;
    return known;
}

static df_status mixed_tables(df_context *ctx, df_deposit *d, const df_pairs *pairs,
                              const df_composition *composition) {
    static const double shares[DF_DEPOSIT_SHARES] = {0.02, 0.1, 0.25, 0.5, 0.75, 0.9, 0.98};
    df_mixture *m = NULL;
    bool allowed[DF_MAX_SOLIDS];
    double mass[DF_MAX_COMPONENTS], organic = 0.0;
    df_cache *cache = df_context_cache(ctx);
    df_text key = {0};
    df_composition_fractions(mass, composition, DF_BASIS_MASS);
    for (size_t i = 0; i < d->n; i++)
        organic += d->substance[i]->is_water ? 0.0 : mass[i];
    for (size_t i = 0; i < d->n; i++) /* of the organics; water stands apart */
        mass[i] = d->substance[i]->is_water ? 0.0 : mass[i] / organic;
    df_status status = df_mixture_create(ctx, &m, pairs, composition->component, composition->n);
    if (status >= 0)
        status = df_composition_allow(ctx, allowed, m, composition, DF_FREEZING_PRACTICE);
    if (status >= 0)
        d->grade = df_mixture_grade(m, composition->x);
    if (status >= 0 && cache != NULL)
        mixed_key(&key, d, m, allowed, mass);
    bool known = status >= 0 && recall(d, cache, &key);
    if (!known)
        all_pure(d);
    for (size_t row = 0; status >= 0 && !known && row < DF_DEPOSIT_SHARES; row++) {
        double moles[DF_MAX_COMPONENTS];
        d->share[row] = shares[row];
        for (size_t i = 0; i < d->n; i++) {
            const df_substance *s = d->substance[i];
            moles[i] = (s->is_water ? 1.0 - shares[row] : shares[row] * mass[i]) / s->molar_mass;
        }
        status = mixed_row(ctx, d, row, m, allowed, moles);
    }
    df_mixture_free(m);
    d->mixed = status >= 0;
    if (d->mixed && !known)
        df_cache_put(cache, d, sizeof *d, &key);
    df_text_free(&key);
    return status;
}

df_status df_deposit_make(df_context *ctx, df_deposit *d, const df_pairs *pairs, const df_composition *composition) {
    bool water = false, other = false;
    memset(d, 0, sizeof *d);
    d->n = composition->n;
    for (size_t i = 0; i < d->n; i++) {
        d->substance[i] = composition->component[i];
        water = water || d->substance[i]->is_water;
        other = other || !d->substance[i]->is_water;
    }
    if (pairs != NULL && water && other)
        return mixed_tables(ctx, d, pairs, composition);
    all_pure(d);
    return DF_OK;
}
