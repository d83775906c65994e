/* Solutes without vapour: what they do to water, their crystals, and the glass of what stays liquid. */
#include "mixture/mixture.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#define WARMEST 320.0 /* K, that a glass of what is left is looked for */
#define STEP 4.0      /* K */

void df_involatile_pair(df_nrtl_pair *out, const df_substance *i, const df_substance *j) {
    memset(out, 0, sizeof *out);
    out->lowest = out->highest = NAN;
    out->alpha = 0.0; /* G = 1: ln gamma_1 = (tau12 + tau21) x2^2, the Margules form */
    out->grade = DF_PAIR_IDEAL;
    out->source = "solute with an organic liquid or another solute: taken as ideal";
    const df_substance *solute = i->is_involatile ? i : j, *other = i->is_involatile ? j : i;
    if (!other->is_water)
        return;
    out->a[0] = out->a[1] = 0.5 * df_involatile_margules(&out->anchor_x, solute, other);
    out->grade = solute->worst_grade <= DF_GRADE_CORRELATION ? DF_PAIR_COLD : DF_PAIR_PREDICTED;
    out->source = solute->source;
}

df_status df_involatile_solids(df_context *ctx, df_mixture *m) {
    size_t water = m->n;
    for (size_t i = 0; i < m->n; i++)
        if (m->component[i]->is_water)
            water = i;
    for (size_t i = 0; i < m->n && water < m->n; i++) {
        const df_substance *s = m->component[i];
        const df_involatile *v = &s->involatile;
        /* a crystal is placed by its eutectic with ice; a glass former's has no such point */
        if (!s->is_involatile || v->crystal[0] == '\0' || v->anchor_is_glass || !(v->crystal_enthalpy > 0.0))
            continue;
        if (m->solids == DF_MAX_SOLIDS)
            return df_fail(ctx, DF_E_INTERNAL, "more than %d solids", DF_MAX_SOLIDS);
        df_solid *k = &m->solid[m->solids++];
        snprintf(k->name, sizeof k->name, "%s", v->crystal);
        k->component = -1;
        k->formula[i] = v->particles;
        k->formula[water] = v->crystal_water;
        k->crystallises = s->crystallises;
        k->source = s->source;
        k->reference_temperature = v->anchor_temperature;
        k->enthalpy = v->crystal_enthalpy;
        k->reference_x = m->pair[i < water ? i : water][i < water ? water : i].anchor_x;
        k->reference_ln = df_hydrate_reference_ln(m, m->solids - 1);
    }
    return DF_OK;
}

df_status df_mixture_allow_solid(df_context *ctx, bool *allowed, const df_mixture *m, const char *name, bool yes) {
    bool any = false;
    for (size_t i = 0; i < m->n; i++) {
        const df_substance *s = m->component[i];
        if (s->is_water || !(df_name_equal(s->key, name) || df_name_equal(s->name, name)))
            continue;
        for (size_t k = 0; k < m->solids; k++)
            if (m->solid[k].formula[i] > 0.0) {
                allowed[k] = yes;
                any = true;
            }
    }
    for (size_t k = 0; k < m->solids && !any; k++)
        if (df_name_equal(m->solid[k].name, name)) {
            allowed[k] = yes;
            any = true;
        }
    if (any)
        return DF_OK;
    char list[512];
    size_t used = 0;
    for (size_t k = 0; k < m->solids && used < sizeof list; k++)
        used += (size_t)snprintf(list + used, sizeof list - used, "%s%s", k > 0 ? ", " : "", m->solid[k].name);
    return df_fail(ctx, DF_E_UNKNOWN_NAME, "no solid of this mixture is called '%s'; it may form %s", name, list);
}

/* Glass temperature and weight (1/k, water's is 1) of a pure liquid. */
static void pure_glass(double *temperature, double *weight, const df_substance *s) {
    if (s->is_water) {
        *temperature = DF_WATER_GLASS;
        *weight = 1.0;
    } else if (s->is_involatile) {
        bool known = s->glass_temperature > 0.0;
        *temperature =
            known ? s->glass_temperature : 300.0; /* a salt's own glass plays no part: its crystal comes first */
        *weight = known ? 1.0 / df_involatile_water_weight(s) : 0.3;
    } else {
        *temperature = s->glass_temperature > 0.0 ? s->glass_temperature : 0.65 * s->melting_temperature;
        *weight = df_glass_weight(df_liquid_density(s, 293.15), *temperature);
    }
}

double df_mixture_glass_temperature(const df_mixture *m, const double *moles) {
    double up = 0.0, down = 0.0;
    for (size_t i = 0; i < m->n; i++) {
        double temperature, weight;
        pure_glass(&temperature, &weight, m->component[i]);
        double share = moles[i] * m->component[i]->molar_mass * weight;
        up += share * temperature;
        down += share;
    }
    return down > 0.0 ? up / down : NAN;
}

typedef struct cooling {
    const df_mixture *mixture;
    const double *z;
    const bool *allowed;
    df_assemblage *at;
    bool warm; /* `at` is a neighbour */
} cooling;

/* Whether every liquid there is below its glass temperature; nowhere below where none is left. */
static df_status is_glass(df_context *ctx, int *yes, double t, void *data) {
    cooling *c = data;
    df_status status = df_mixture_equilibrium(ctx, c->at, c->mixture, t, c->z, c->allowed, c->warm);
    c->warm = status == DF_OK;
    *yes = c->at->liquids > 0 ? 1 : -1;
    for (size_t l = 0; l < c->at->liquids && status == DF_OK; l++)
        if (df_mixture_glass_temperature(c->mixture, c->at->liquid[l]) < t)
            *yes = 0;
    return status;
}

df_status df_mixture_arrest(df_context *ctx, double *temperature, df_assemblage *at, const df_mixture *m,
                            const double *z, const bool *allowed, double lowest) {
    cooling c = {m, z, allowed, at, false};
    df_status status = df_highest_with(ctx, temperature, lowest, WARMEST + STEP, STEP, is_glass, &c);
    if (status != DF_OK || isnan(*temperature))
        return status;
    return df_mixture_equilibrium(ctx, at, m, *temperature, z, allowed, false);
}
