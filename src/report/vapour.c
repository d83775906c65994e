/* The vapour over a mixture, or its boiling point. */
#include "report/parts.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

typedef struct vapour {
    df_mixture *mixture;
    bool boiling;
    bool allowed[DF_MAX_SOLIDS];
    double temperature, pressure;                                                            /* K, Pa in all */
    df_assemblage there;                                                                     /* what it is over */
    double partial[DF_MAX_COMPONENTS], monomer[DF_MAX_COMPONENTS], dimer[DF_MAX_COMPONENTS]; /* Pa */
    double y[DF_MAX_COMPONENTS];                             /* mole fractions, a dimer counted twice */
    double liquidus;                                         /* K, NAN: none */
    double partial_sigma[DF_MAX_COMPONENTS], pressure_sigma; /* relative, one standard deviation */
    double temperature_sigma;                                /* K, of a boiling point */
    df_part_bands band;                                      /* of the liquids in `there` */
} vapour;

typedef struct task {
    const vapour *vapour;
    const double *z;
    const bool *allowed;
} task;

/* ln of the pressure in all and of each partial pressure, then the mass fractions in the liquids. */
static df_status numbers(df_context *ctx, double *values, size_t n, const df_mixture *m, void *data) {
    const task *o = data;
    const vapour *v = o->vapour;
    df_assemblage a = v->there;
    double partial[DF_MAX_COMPONENTS];
    size_t parts = df_mixture_count(m);
    df_status status = df_mixture_equilibrium(ctx, &a, m, v->temperature, o->z, o->allowed, true);
    if (status < 0)
        return status;
    values[0] = log(df_mixture_vapour(partial, NULL, NULL, m, v->temperature, a.activity_ln));
    for (size_t i = 0; i < parts; i++)
        values[1 + i] = partial[i] > 0.0 ? log(partial[i]) : NAN;
    for (size_t l = 0, used = 1 + parts; used < n; l++)
        for (size_t i = 0; i < parts; i++, used++)
            values[used] = a.liquids == v->there.liquids ? df_part_liquid_share(m, &a, l, i) : NAN;
    return DF_OK;
}

/* Spreads of what was found: by the pairs, and by the pure pressures. */
static df_status find_spreads(df_context *ctx, vapour *v, task *o) {
    size_t parts = df_mixture_count(v->mixture), n = 1 + parts + v->there.liquids * parts;
    double value[1 + DF_MAX_COMPONENTS * (1 + DF_MAX_LIQUIDS)], sigma[1 + DF_MAX_COMPONENTS * (1 + DF_MAX_LIQUIDS)];
    df_status status = df_mixture_spread(ctx, value, sigma, n, v->mixture, numbers, o, false);
    if (status < 0)
        return status;
    double square = sigma[0] * sigma[0], warmer[DF_MAX_COMPONENTS];
    for (size_t i = 0; i < parts; i++) {
        int own = df_part_own_crystal(v->mixture, i);
        bool crystal = own >= 0 && v->there.solid[own] > 0.0;
        double pure = df_mixture_component(v->mixture, i)->is_involatile
                          ? 0.0
                          : df_pressure_sigma_ln(df_mixture_component(v->mixture, i), v->temperature, crystal);
        v->partial_sigma[i] = hypot(sigma[1 + i], pure);
        square += pow(pure * v->partial[i] / v->pressure, 2.0);
    }
    v->pressure_sigma = sqrt(square);
    for (size_t l = 0, used = 1 + parts; l < v->there.liquids; l++)
        for (size_t i = 0; i < parts; i++, used++)
            v->band.share[l][i] = sigma[used];
    double up = df_mixture_vapour(warmer, NULL, NULL, v->mixture, v->temperature + 0.1, v->there.activity_ln);
    v->temperature_sigma = v->boiling ? v->pressure_sigma / (log(up / v->pressure) / 0.1) : NAN;
    return DF_OK;
}

static df_status vapour_make(df_context *ctx, vapour *v, const df_pairs *pairs, const df_composition *c,
                             double temperature, double pressure, df_freezing_mode mode) {
    bool none[DF_MAX_SOLIDS] = {false};
    double solidus;
    memset(v, 0, sizeof *v);
    df_status status = df_mixture_create(ctx, &v->mixture, pairs, c->component, c->n);
    if (status < 0)
        return status;
    status = df_composition_allow(ctx, v->allowed, v->mixture, c, mode);
    v->boiling = isnan(temperature);
    v->temperature = temperature;
    if (status >= 0 && v->boiling)
        status = df_mixture_bubble_point(ctx, &v->temperature, v->y, v->mixture, pressure, c->x);
    if (status >= 0)
        status = df_mixture_equilibrium(ctx, &v->there, v->mixture, v->temperature, c->x,
                                        v->boiling ? none : v->allowed, false);
    if (status >= 0)
        status = df_mixture_freezing_range(ctx, &v->liquidus, &solidus, v->mixture, c->x, v->allowed, DF_PART_LOWEST);
    if (status < 0) {
        df_mixture_free(v->mixture);
        v->mixture = NULL;
        return status;
    }
    v->pressure =
        df_mixture_vapour(v->partial, v->monomer, v->dimer, v->mixture, v->temperature, v->there.activity_ln);
    double formulas = 0.0;
    for (size_t i = 0; i < c->n; i++)
        formulas += v->partial[i] + v->dimer[i];
    for (size_t i = 0; i < c->n; i++)
        v->y[i] = (v->partial[i] + v->dimer[i]) / formulas;
    task o = {v, c->x, v->boiling ? none : v->allowed};
    status = find_spreads(ctx, v, &o);
    if (status < 0) {
        df_mixture_free(v->mixture);
        v->mixture = NULL;
    }
    return status;
}

/* Over the crystal where the substance itself would be one at this temperature, else over its liquid. */
static double pure_pressure(const df_substance *s, double temperature, bool *crystal) {
    *crystal = temperature < s->melting_temperature;
    return *crystal ? df_solid_pressure(s, temperature) : df_liquid_pressure(s, temperature);
}

static double vapour_mass_fraction(const vapour *v, size_t i) {
    double mass = 0.0;
    for (size_t j = 0; j < df_mixture_count(v->mixture); j++)
        mass += v->y[j] * df_mixture_component(v->mixture, j)->molar_mass;
    return v->y[i] * df_mixture_component(v->mixture, i)->molar_mass / mass;
}

/* A relative standard deviation in per cent; beyond 70 % as a factor. Returns out. */
static const char *relative(char *out, size_t size, double sigma) {
    if (!isfinite(sigma))
        snprintf(out, size, "-");
    else if (sigma > 0.7)
        snprintf(out, size, "x %.*f", sigma < 2.3 ? 1 : 0, exp(fmin(sigma, 9.2)));
    else
        snprintf(out, size, sigma < 0.00995 ? "%.1f" : "%.0f", 100.0 * fmax(sigma, 1e-3));
    return out;
}

static const df_substance *water_of(const vapour *v) {
    for (size_t i = 0; i < df_mixture_count(v->mixture); i++)
        if (df_mixture_component(v->mixture, i)->is_water)
            return df_mixture_component(v->mixture, i);
    return NULL;
}

/* Salts that leave as gases; these are not in the pressures. */
static void breaks_up_text(df_text *out, const vapour *v) {
    char line[300];
    const char *label = "gases";
    for (size_t i = 0; i < df_mixture_count(v->mixture); i++) {
        if (!df_part_breaks_up(line, sizeof line, df_mixture_component(v->mixture, i), water_of(v), v->temperature))
            continue;
        if (label[0] != '\0')
            df_text_puts(out, "\n");
        df_layout_printf(out, label, "%s; not counted above. The gases reach the pump: ammonia is toxic, into a hood",
                         line);
        label = "";
    }
}

static void pressures_text(df_text *out, const vapour *v) {
    size_t n = df_mixture_count(v->mixture);
    bool marked = false, acid = false;
    char a[32], b[32], c[32], d[32], e[32];
    df_text_printf(out, "\n%-24s %9s        %7s %7s %10s\n", "", "partial", "vapour", "vapour", "pure, mbar");
    df_text_printf(out, "%-24s %9s    ± %% %7s %7s %10s\n", "vapour", "mbar", "mol %", "% w/w", "same T");
    for (size_t i = 0; i < n; i++) {
        const df_substance *s = df_mixture_component(v->mixture, i);
        if (s->is_involatile)
            continue;
        bool crystal, far = df_part_extrapolated(v->mixture, &v->there, v->temperature, i);
        double pure = pure_pressure(s, v->temperature, &crystal);
        size_t width = df_utf8_width(s->name);
        df_text_printf(out, "  %s%*s %9s %6s %7s %7s %10s %s%s\n", s->name, width < 22 ? (int)(22 - width) : 1, "",
                       df_part_mbar(a, sizeof a, v->partial[i]), relative(e, sizeof e, v->partial_sigma[i]),
                       df_part_percent(b, sizeof b, v->y[i]),
                       df_part_percent(c, sizeof c, vapour_mass_fraction(v, i)), df_part_mbar(d, sizeof d, pure),
                       crystal ? (s->is_water ? "ice" : "crystal") : "liquid", far ? " *" : "");
        marked = marked || far;
        acid = acid || v->dimer[i] > 0.0;
    }
    df_text_printf(out, "  %-22s %9s %6s\n", "in all", df_part_mbar(a, sizeof a, v->pressure),
                   relative(e, sizeof e, v->pressure_sigma));
    if (marked)
        df_text_puts(out, "  * rests on a vapour pressure continued outside the range of its source\n");
    breaks_up_text(out, v);
    if (!acid)
        return;
    df_text_puts(out, "\n");
    for (size_t i = 0; i < n; i++)
        if (v->dimer[i] > 0.0)
            df_layout_printf(out, "pairs up",
                             "%s: %s mbar single and %s mbar as double molecules, which hold %s %% of "
                             "it; its share in mol %% counts a double molecule as two",
                             df_mixture_component(v->mixture, i)->name, df_part_mbar(a, sizeof a, v->monomer[i]),
                             df_part_mbar(b, sizeof b, v->dimer[i]),
                             df_part_percent(c, sizeof c, 2.0 * v->dimer[i] / (v->monomer[i] + 2.0 * v->dimer[i])));
}

static void trust_text(df_text *out, const vapour *v) {
    char range[64];
    df_part_trust_text(out, v->mixture);
    for (size_t i = 0; i < df_mixture_count(v->mixture); i++) {
        const df_substance *s = df_mixture_component(v->mixture, i);
        const df_correlation *k = &s->vapour_pressure;
        bool far = df_part_extrapolated(v->mixture, &v->there, v->temperature, i);
        if (s->is_involatile) {
            df_layout_printf(out, i == 0 ? "pressures" : "", "%s: a solute without vapour", s->key);
            continue;
        }
        if (s->is_water && v->temperature < s->melting_temperature) {
            df_layout_printf(out, i == 0 ? "pressures" : "", "%s: ice by IAPWS R14-08 (2011), 50 K to 273.16 K%s",
                             s->key,
                             v->there.solid[df_part_own_crystal(v->mixture, i)] > 0.0
                                 ? ""
                                 : "; undercooled water follows from it by heat of fusion and "
                                   "heat capacities");
            continue;
        }
        df_layout_printf(out, i == 0 ? "pressures" : "", "%s: %s, %s%s; %s", s->key, df_grade_name(k->grade),
                         df_part_range(range, sizeof range, k->lowest, k->highest),
                         far ? ", continued from there by Clausius-Clapeyron" : "", k->source);
        if (v->dimer[i] > 0.0)
            df_layout_printf(out, "", "%s, double molecules: %s", s->key, s->dimer_source);
    }
}

df_status df_report_vapour_text(df_context *ctx, df_text *out, const df_pairs *pairs, const df_composition *c,
                                double temperature, double pressure, df_freezing_mode mode) {
    vapour v;
    df_text line = {0};
    char a[32], b[32], band[32];
    df_status status = vapour_make(ctx, &v, pairs, c, temperature, pressure, mode);
    if (status < 0)
        return status;
    df_part_composition_text(out, c);
    df_text_puts(out, "\n");
    df_part_phases_text(&line, v.mixture, &v.there, false, &v.band);
    if (v.boiling)
        df_layout_printf(out, "boils", "at %.1f%s °C under %.6g mbar", df_celsius(v.temperature),
                         df_part_band(band, sizeof band, v.temperature_sigma, 1), pressure / 100.0);
    else
        df_layout_printf(out, "at", "%.1f °C: %s mbar in all (± %s%s)", df_celsius(v.temperature),
                         df_part_mbar(a, sizeof a, v.pressure), relative(b, sizeof b, v.pressure_sigma),
                         b[0] == 'x' ? "" : " %");
    df_layout_printf(out, "over", "%s (%% by mass)", df_text_string(&line));
    if (v.boiling && v.temperature < v.liquidus)
        df_layout_printf(out, "note",
                         "undercooled: at rest this mixture begins to freeze at %.1f °C, before it can boil "
                         "under this pressure",
                         df_celsius(v.liquidus));
    if (!v.boiling)
        df_part_solids_text(out, v.mixture, v.allowed, mode);
    pressures_text(out, &v);
    df_text_puts(out, "\n");
    trust_text(out, &v);
    out->failed = out->failed || line.failed;
    df_text_free(&line);
    df_mixture_free(v.mixture);
    return out->failed ? df_fail(ctx, DF_E_MEMORY, "out of memory, or the report grew too large") : DF_OK;
}

static json_t *breaks_up_json(const vapour *v) {
    json_t *list = json_array();
    const df_substance *water = water_of(v);
    for (size_t i = 0; i < df_mixture_count(v->mixture); i++) {
        const df_substance *s = df_mixture_component(v->mixture, i);
        double dry = df_dissociation_pressure(s, v->temperature, NAN), t = v->temperature;
        if (isnan(dry))
            continue;
        bool ice = water != NULL && s->involatile.water_moles > 0.0 && t < water->melting_temperature;
        double beside = ice ? df_dissociation_pressure(s, t, df_solid_pressure(water, t)) : (double)NAN;
        json_t *o = json_object();
        df_json_put(o, "substance", df_json_text(s->key));
        df_json_put(o, "gases", df_json_text(s->involatile.gases));
        df_json_put(o, "dry_mbar", df_json_number(dry / 100.0));
        df_json_put(o, "without_water_beside_ice_mbar", df_json_number(beside / 100.0));
        df_json_put(o, "relative_sigma", df_json_number(s->involatile.gas_sigma_ln));
        json_array_append_new(list, o);
    }
    return list;
}

df_status df_report_vapour_json(df_context *ctx, df_text *out, const df_pairs *pairs, const df_composition *c,
                                double temperature, double pressure, df_freezing_mode mode) {
    vapour v;
    df_status status = vapour_make(ctx, &v, pairs, c, temperature, pressure, mode);
    if (status < 0)
        return status;
    json_t *root = json_object(), *over = json_object(), *list = json_array();
    df_json_put(root, "composition", df_part_composition_json(c));
    df_json_put(root, "volumes", df_json_text("of the liquids before mixing, at 20 °C"));
    df_json_put(root, "asked", df_json_text(v.boiling ? "bubble_point" : "partial_pressures"));
    df_json_put(root, "solids_mode", df_json_text(df_freezing_mode_name(mode)));
    df_json_put(root, "temperature_C", df_json_number(df_celsius(v.temperature)));
    df_json_put(root, "pressure_mbar", df_json_number(v.pressure / 100.0));
    df_json_put(root, "temperature_sigma_K", df_json_number(v.temperature_sigma));
    df_json_put(root, "pressure_relative_sigma", df_json_number(v.pressure_sigma));
    df_json_put(root, "first_solid_C", df_json_number(df_celsius(v.liquidus)));
    df_json_put(root, "undercooled", json_boolean(v.boiling && v.temperature < v.liquidus));
    df_part_phases_json(over, v.mixture, &v.there, false, &v.band);
    df_json_put(root, "over", over);
    for (size_t i = 0; i < df_mixture_count(v.mixture); i++) {
        const df_substance *s = df_mixture_component(v.mixture, i);
        if (s->is_involatile)
            continue;
        bool crystal;
        double pure = pure_pressure(s, v.temperature, &crystal);
        json_t *o = json_object();
        df_json_put(o, "substance", df_json_text(s->key));
        df_json_put(o, "partial_pressure_mbar", df_json_number(v.partial[i] / 100.0));
        df_json_put(o, "partial_pressure_relative_sigma", df_json_number(v.partial_sigma[i]));
        df_json_put(o, "monomer_mbar", df_json_number(v.monomer[i] / 100.0));
        df_json_put(o, "dimer_mbar", df_json_number(v.dimer[i] / 100.0));
        df_json_put(o, "percent_mol", df_json_number(100.0 * v.y[i]));
        df_json_put(o, "percent_w_w", df_json_number(100.0 * vapour_mass_fraction(&v, i)));
        df_json_put(o, "activity", df_json_number(exp(v.there.activity_ln[i])));
        df_json_put(o, "pure_pressure_mbar", df_json_number(pure / 100.0));
        df_json_put(o, "pure_state", df_json_text(crystal ? "crystal" : "liquid"));
        df_json_put(o, "extrapolated", json_boolean(df_part_extrapolated(v.mixture, &v.there, v.temperature, i)));
        json_array_append_new(list, o);
    }
    df_json_put(root, "vapour", list);
    df_json_put(root, "breaks_up", breaks_up_json(&v));
    df_json_put(root, "trust", df_part_trust_json(v.mixture));
    df_mixture_free(v.mixture);
    return df_json_finish(ctx, out, root);
}
