/* Mixtures: creation, amounts of an assemblage, freezing range, vapour. */
#include "mixture/mixture.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define SCAN_STEP 8.0 /* K */

static const char *const pair_grades[] = {"fitted to cold data", "fitted to warm data only", "predicted", "ideal"};
const char *df_pair_grade_name(df_pair_grade grade) {
    return pair_grades[grade];
}

df_status df_mixture_create(df_context *ctx, df_mixture **mixture, const df_pairs *pairs,
                            const df_substance *const *components, size_t n) {
    *mixture = NULL;
    if (n == 0 || n > DF_MAX_COMPONENTS)
        return df_fail(ctx, DF_E_INPUT, "a mixture has 1 to %d components, not %zu", DF_MAX_COMPONENTS, n);
    df_mixture *m = calloc(1, sizeof *m);
    if (m == NULL)
        return df_fail(ctx, DF_E_MEMORY, "out of memory");
    m->n = n;
    for (size_t i = 0; i < n; i++) {
        m->component[i] = components[i];
        for (size_t j = 0; j < i; j++)
            if (components[j] == components[i]) {
                free(m);
                return df_fail(ctx, DF_E_INPUT, "%s is named twice", components[i]->name);
            }
    }
    for (size_t i = 0; i < n; i++) {
        for (size_t j = i + 1; j < n; j++)
            df_pairs_get(&m->pair[i][j], pairs, components[i], components[j]);
        if (components[i]->is_involatile)
            continue;
        df_solid *s = &m->solid[m->solids++];
        snprintf(s->name, sizeof s->name, "%s", components[i]->is_water ? "ice" : components[i]->key);
        s->component = (int)i;
        s->formula[i] = 1.0;
        s->crystallises = components[i]->crystallises;
        s->source = components[i]->crystallises_source;
    }
    df_status status = df_pairs_add_hydrates(ctx, m, pairs);
    if (status == DF_OK)
        status = df_involatile_solids(ctx, m);
    if (status != DF_OK) {
        free(m);
        return status;
    }
    *mixture = m;
    return DF_OK;
}

void df_mixture_free(df_mixture *mixture) {
    free(mixture);
}
size_t df_mixture_count(const df_mixture *m) {
    return m->n;
}
const df_substance *df_mixture_component(const df_mixture *m, size_t i) {
    return m->component[i];
}
size_t df_mixture_solids(const df_mixture *m) {
    return m->solids;
}
const df_solid *df_mixture_solid(const df_mixture *m, size_t k) {
    return &m->solid[k];
}
const df_nrtl_pair *df_mixture_pair(const df_mixture *m, size_t i, size_t j) {
    return &m->pair[i][j];
}
void df_mixture_set_pair(df_mixture *m, size_t i, size_t j, const df_nrtl_pair *pair) {
    m->pair[i][j] = *pair;
}

static void pair_key(df_text *key, const df_nrtl_pair *p) {
    static const df_pair_covariance none;
    int kind[2] = {(int)p->grade, p->reversed};
    double number[] = {p->a[0], p->a[1], p->b[0], p->b[1], p->c[0], p->c[1], p->alpha, p->anchor_x};
    df_text_append(key, (const char *)kind, sizeof kind);
    df_text_append(key, (const char *)number, sizeof number);
    df_text_append(key, (const char *)p->cold, sizeof p->cold);
    df_pair_covariance spread = p->covariance != NULL ? *p->covariance : none;
    spread.draw = NULL; /* it goes with the rest */
    df_text_append(key, (const char *)&spread, sizeof spread);
}

void df_mixture_key(df_text *key, const df_mixture *m) {
    df_text_append(key, (const char *)&m->n, sizeof m->n);
    for (size_t i = 0; i < m->n; i++) {
        df_substance_key(key, m->component[i]);
        for (size_t j = i + 1; j < m->n; j++)
            pair_key(key, &m->pair[i][j]);
    }
    for (size_t k = 0; k < m->solids; k++) {
        df_solid s = m->solid[k];
        s.source = NULL;
        df_text_append(key, (const char *)&s, sizeof s);
    }
    df_text_append(key, (const char *)m->pressure_shift, sizeof m->pressure_shift);
}

df_pair_grade df_mixture_grade(const df_mixture *m, const double *z) {
    df_pair_grade worst = DF_PAIR_COLD;
    for (size_t i = 0; i < m->n; i++)
        for (size_t j = i + 1; j < m->n; j++)
            if (m->pair[i][j].grade > worst && (z == NULL || z[i] * z[j] > DF_TRACE_PAIR))
                worst = m->pair[i][j].grade;
    return worst;
}

static const char *const modes[] = {"practice", "equilibrium", "annealed", "quenched"};
const char *df_freezing_mode_name(df_freezing_mode mode) {
    return modes[mode];
}

void df_mixture_allow(bool *allowed, const df_mixture *m, df_freezing_mode mode) {
    for (size_t k = 0; k < m->solids; k++) {
        bool readily = m->solid[k].crystallises == DF_CRYSTAL_READILY;
        bool reluctantly = m->solid[k].crystallises == DF_CRYSTAL_RELUCTANTLY;
        switch (mode) {
        case DF_FREEZING_EQUILIBRIUM:
            allowed[k] = true;
            break;
        case DF_FREEZING_ANNEALED:
            allowed[k] = readily || reluctantly;
            break;
        case DF_FREEZING_QUENCHED:
            allowed[k] = readily && m->solid[k].component >= 0;
            break;
        default:
            allowed[k] = readily;
            break;
        }
    }
}

void df_assemblage_measure(df_assemblage_amounts *out, const df_mixture *m, const df_assemblage *a) {
    double t = a->temperature;
    memset(out, 0, sizeof *out);
    for (size_t k = 0; k < m->solids; k++) {
        if (a->solid[k] <= 0.0)
            continue;
        for (size_t i = 0; i < m->n; i++) {
            double moles = a->solid[k] * m->solid[k].formula[i];
            if (moles == 0.0)
                continue;
            const df_substance *s = m->component[i];
            out->solid_mass += moles * s->molar_mass;
            out->solid_volume += moles * s->molar_mass / df_solid_density(s, t);
            out->enthalpy += moles * df_liquid_enthalpy(s, t);
            if (m->solid[k].component >= 0)
                out->enthalpy -= moles * df_fusion_enthalpy(s, t);
        }
        if (m->solid[k].component < 0)
            out->enthalpy -= a->solid[k] * m->solid[k].enthalpy;
    }
    for (size_t l = 0; l < a->liquids; l++)
        for (size_t i = 0; i < m->n; i++) {
            double moles = a->liquid[l][i];
            if (moles == 0.0)
                continue;
            const df_substance *s = m->component[i];
            out->liquid_mass += moles * s->molar_mass;
            out->liquid_volume += moles * s->molar_mass / df_liquid_density(s, t);
            out->enthalpy += moles * df_liquid_enthalpy(s, t);
        }
}

/* What is asked of a mixture at a temperature: an allowed solid, or no liquid. */
typedef struct freezing {
    const df_mixture *mixture;
    const double *z;
    const bool *allowed;
    bool whole;
} freezing;

static df_status any_solid(df_context *ctx, int *yes, double t, void *data) {
    const freezing *f = data;
    df_assemblage a;
    df_status status = df_mixture_equilibrium(ctx, &a, f->mixture, t, f->z, f->allowed, false);
    if (status != DF_OK)
        return status;
    *yes = f->whole && a.liquids == 0;
    for (size_t k = 0; k < f->mixture->solids && !f->whole; k++)
        if (a.solid[k] > 0.0)
            *yes = 1;
    return DF_OK;
}

df_status df_mixture_freezing_range(df_context *ctx, double *liquidus, double *solidus, const df_mixture *m,
                                    const double *z, const bool *allowed, double lowest) {
    double highest = lowest + 1.0;
    for (size_t k = 0; k < m->solids; k++) {
        const df_solid *s = &m->solid[k];
        double top =
            s->component >= 0 ? m->component[s->component]->melting_temperature : s->reference_temperature + 60.0;
        highest = fmax(highest, top + 1.0);
    }
    freezing f = {m, z, allowed, false};
    *solidus = NAN;
    /* down in steps, since a pair's model may take ice up again in the deep cold */
    df_status status = df_highest_with(ctx, liquidus, lowest, highest, SCAN_STEP, any_solid, &f);
    if (status != DF_OK || isnan(*liquidus))
        return status;
    f.whole = true;
    return df_highest_with(ctx, solidus, lowest, *liquidus + 0.01, SCAN_STEP, any_solid, &f);
}

double df_mixture_pure_pressure(const df_mixture *m, size_t i, double temperature) {
    double pure = df_liquid_pressure(m->component[i], temperature);
    if (m->pressure_shift[i] == 0.0)
        return pure;
    /* undercooled water mostly stands over ice, whose pressure is better known */
    bool ice = m->component[i]->is_water && temperature < m->component[i]->melting_temperature;
    return pure * exp(m->pressure_shift[i] * df_pressure_sigma_ln(m->component[i], temperature, ice));
}

double df_mixture_vapour(double *pressure, double *monomer, double *dimer, const df_mixture *m, double temperature,
                         const double *activity_ln) {
    double total = 0.0;
    for (size_t i = 0; i < m->n; i++) {
        const df_substance *s = m->component[i];
        double pure = df_mixture_pure_pressure(m, i, temperature);
        double p1 = exp(activity_ln[i]) * df_monomer_pressure(s, temperature, pure);
        double p2 = df_dimer_constant(s, temperature) * p1 * p1;
        if (monomer != NULL)
            monomer[i] = p1;
        if (dimer != NULL)
            dimer[i] = p2;
        pressure[i] = p1 + p2;
        total += pressure[i];
    }
    return total;
}

typedef struct bubble {
    const df_mixture *mixture;
    const double *z;
    double pressure, vapour[DF_N], dimer[DF_N];
    df_context *ctx;
    df_status status;
} bubble;

static double bubble_excess(double temperature, void *data) {
    bubble *b = data;
    df_assemblage a;
    bool none[DF_MAX_SOLIDS] = {false};
    df_status status = df_mixture_equilibrium(b->ctx, &a, b->mixture, temperature, b->z, none, false);
    if (status != DF_OK) {
        b->status = status;
        return 0.0;
    }
    return log(df_mixture_vapour(b->vapour, NULL, b->dimer, b->mixture, temperature, a.activity_ln) / b->pressure);
}

df_status df_mixture_bubble_point(df_context *ctx, double *temperature, double *y, const df_mixture *m,
                                  double pressure, const double *z) {
    bubble b = {.mixture = m, .z = z, .pressure = pressure, .ctx = ctx, .status = DF_OK};
    double highest = INFINITY; /* below every critical temperature the pressures rise */
    for (size_t i = 0; i < m->n; i++)
        if (z[i] > 0.0 && !m->component[i]->is_involatile)
            highest = fmin(highest, m->component[i]->critical_temperature - 1.0);
    if (!isfinite(highest))
        return df_fail(ctx, DF_E_INPUT, "nothing here has a vapour, so nothing boils");
    bool found = df_find_root(temperature, 150.0, highest, 1e-7, bubble_excess, &b);
    if (b.status != DF_OK)
        return b.status;
    if (!found)
        return df_fail(ctx, DF_E_INPUT, "nothing boils at %g Pa between 150 K and %.0f K", pressure, highest);
    bubble_excess(*temperature, &b);
    double total = 0.0;
    for (size_t i = 0; i < m->n; i++)
        total += y[i] = b.vapour[i] + b.dimer[i]; /* a dimer carries two formulas */
    for (size_t i = 0; i < m->n; i++)
        y[i] /= total;
    return b.status;
}
