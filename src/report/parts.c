/* What several reports have in common. */
#include "report/parts.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define PAIRS_SHOWN 10

double df_celsius(double kelvin) {
    return kelvin - DF_ZERO_CELSIUS;
}

const char *df_part_mbar(char *out, size_t size, double pascal) {
    double mbar = pascal / 100.0;
    if (!isfinite(mbar))
        snprintf(out, size, "-");
    else if (mbar >= 99.95)
        snprintf(out, size, "%.0f", mbar);
    else if (mbar == 0.0)
        snprintf(out, size, "0");
    else if (mbar >= 1e-4)
        snprintf(out, size, "%#.3g", mbar);
    else
        snprintf(out, size, "%.1e", mbar);
    return out;
}

const char *df_part_percent(char *out, size_t size, double fraction) {
    double percent = 100.0 * fraction;
    if (percent >= 9.95)
        snprintf(out, size, "%.1f", percent);
    else if (percent >= 0.01)
        snprintf(out, size, "%.2f", percent);
    else
        snprintf(out, size, "%.1g", percent);
    return out;
}

const char *df_part_range(char *out, size_t size, double lowest, double highest) {
    if (isfinite(lowest) && isfinite(highest))
        snprintf(out, size, "%.0f °C to %.0f °C", df_celsius(lowest), df_celsius(highest));
    else
        snprintf(out, size, "range not stated");
    return out;
}

/* ---- JSON ----------------------------------------------------------------------------------------------------- */

void df_part_csv_text(df_text *out, const char *text) {
    if (strpbrk(text, ",\"\r\n") == NULL) {
        df_text_puts(out, text);
        return;
    }
    df_text_puts(out, "\"");
    for (; *text != '\0'; text++)
        df_text_printf(out, *text == '"' ? "\"\"" : "%c", *text);
    df_text_puts(out, "\"");
}

void df_part_csv_number(df_text *out, double value) {
    if (isfinite(value))
        df_text_printf(out, ",%.9g", value);
    else
        df_text_puts(out, ",");
}

json_t *df_json_number(double value) {
    return isfinite(value) ? json_real(value) : json_null();
}

json_t *df_json_text(const char *string) {
    json_t *text = json_string(string);
    return text != NULL ? text : json_string("?"); /* not UTF-8 */
}

void df_json_put(json_t *object, const char *key, json_t *value) {
    json_object_set_new(object, key, value);
}

/* ---- composition ---------------------------------------------------------------------------------------------- */

void df_part_composition_text(df_text *out, const df_composition *c) {
    double fraction[3][DF_MAX_COMPONENTS];
    for (int basis = 0; basis < 3; basis++)
        df_composition_fractions(fraction[basis], c, (df_basis)basis);
    df_text_printf(out, "%-34s %9s %9s %9s\n", "mixture", "% v/v", "% w/w", "mol %");
    for (size_t i = 0; i < c->n; i++) {
        char a[3][32];
        const char *name = c->component[i]->name;
        df_text_printf(out, "  %s%*s", name, df_utf8_width(name) < 32 ? (int)(32 - df_utf8_width(name)) : 1, "");
        for (int basis = 0; basis < 3; basis++)
            df_text_printf(out, " %9s", df_part_percent(a[basis], sizeof a[basis], fraction[basis][i]));
        df_text_puts(out, "\n");
    }
    df_text_puts(out, "  (% v/v: volumes of the liquids before mixing, at 20 °C)\n");
}

json_t *df_part_composition_json(const df_composition *c) {
    double fraction[3][DF_MAX_COMPONENTS];
    json_t *list = json_array();
    for (int basis = 0; basis < 3; basis++)
        df_composition_fractions(fraction[basis], c, (df_basis)basis);
    for (size_t i = 0; i < c->n; i++) {
        json_t *o = json_object();
        df_json_put(o, "substance", df_json_text(c->component[i]->key));
        df_json_put(o, "percent_v_v", df_json_number(100.0 * fraction[DF_BASIS_VOLUME][i]));
        df_json_put(o, "percent_w_w", df_json_number(100.0 * fraction[DF_BASIS_MASS][i]));
        df_json_put(o, "percent_mol", df_json_number(100.0 * fraction[DF_BASIS_MOLE][i]));
        json_array_append_new(list, o);
    }
    return list;
}

/* ---- phases --------------------------------------------------------------------------------------------------- */

int df_part_own_crystal(const df_mixture *m, size_t i) {
    for (size_t k = 0; k < df_mixture_solids(m); k++)
        if (df_mixture_solid(m, k)->component == (int)i)
            return (int)k;
    return -1;
}

const char *df_part_solid_name(char *out, size_t size, const df_mixture *m, size_t k) {
    const df_solid *solid = df_mixture_solid(m, k);
    bool crystal = solid->component >= 0 && !df_mixture_component(m, (size_t)solid->component)->is_water;
    snprintf(out, size, "%s%s", solid->name, crystal ? " crystal" : "");
    return out;
}

static double solid_mass(const df_mixture *m, const df_assemblage *a, size_t k) {
    double mass = 0.0;
    for (size_t i = 0; i < df_mixture_count(m); i++)
        mass += a->solid[k] * df_mixture_solid(m, k)->formula[i] * df_mixture_component(m, i)->molar_mass;
    return mass;
}

static double liquid_mass(const df_mixture *m, const df_assemblage *a, size_t l) {
    double mass = 0.0;
    for (size_t i = 0; i < df_mixture_count(m); i++)
        mass += a->liquid[l][i] * df_mixture_component(m, i)->molar_mass;
    return mass;
}

static double total_mass(const df_mixture *m, const df_assemblage *a) {
    df_assemblage_amounts amounts;
    df_assemblage_measure(&amounts, m, a);
    return amounts.solid_mass + amounts.liquid_mass;
}

bool df_part_extrapolated(const df_mixture *m, const df_assemblage *a, double temperature, size_t i) {
    const df_substance *s = df_mixture_component(m, i);
    int own = df_part_own_crystal(m, i);
    bool ice = s->is_water && own >= 0 && a->solid[own] > 0.0;
    return !s->is_involatile && !ice && df_liquid_pressure_extrapolated(s, temperature);
}

double df_part_liquid_share(const df_mixture *m, const df_assemblage *a, size_t l, size_t i) {
    return a->liquid[l][i] * df_mixture_component(m, i)->molar_mass / liquid_mass(m, a, l);
}

const char *df_part_band(char *out, size_t size, double sigma, int decimals) {
    double unit = pow(10.0, -decimals);
    out[0] = '\0';
    if (!(sigma > 0.0 && isfinite(sigma)))
        return out;
    for (; decimals > 0 && sigma >= 100.0 * unit; unit *= 10.0)
        decimals--;
    snprintf(out, size, " ± %.*f", decimals, fmax(sigma, unit));
    return out;
}

bool df_part_breaks_up(char *out, size_t size, const df_substance *s, const df_substance *water, double temperature) {
    char a[32], b[32], beside[80] = "", sure[32];
    double dry = df_dissociation_pressure(s, temperature, NAN);
    if (isnan(dry))
        return false;
    if (water != NULL && s->involatile.water_moles > 0.0 && temperature < water->melting_temperature)
        snprintf(beside, sizeof beside, ", %s mbar without the water beside ice",
                 df_part_mbar(b, sizeof b,
                              df_dissociation_pressure(s, temperature, df_solid_pressure(water, temperature))));
    if (s->involatile.gas_sigma_ln < 0.5)
        snprintf(sure, sizeof sure, "± %.0f %%", 100.0 * s->involatile.gas_sigma_ln);
    else
        snprintf(sure, sizeof sure, "within a factor of %.0f", ceil(exp(s->involatile.gas_sigma_ln)));
    snprintf(out, size, "%s breaks up into %s: %s mbar over its dry crystal at %.1f °C (%s)%s", s->name,
             s->involatile.gases, df_part_mbar(a, sizeof a, dry), df_celsius(temperature), sure, beside);
    return true;
}

void df_part_phases_text(df_text *out, const df_mixture *m, const df_assemblage *a, bool glass,
                         const df_part_bands *bands) {
    double whole = total_mass(m, a);
    char name[80], percent[32], band[32];
    const char *between = "";
    for (size_t k = 0; k < df_mixture_solids(m); k++) {
        double share = solid_mass(m, a, k) / whole;
        if (share <= DF_PART_TRACE)
            continue;
        df_text_printf(out, "%s%s %s", between, df_part_solid_name(name, sizeof name, m, k),
                       df_part_percent(percent, sizeof percent, share));
        between = ", ";
    }
    for (size_t l = 0; l < a->liquids; l++) {
        double mass = liquid_mass(m, a, l);
        if (mass / whole <= DF_PART_TRACE)
            continue;
        df_text_printf(out, "%s%s %s (", between, glass ? "glass" : "liquid",
                       df_part_percent(percent, sizeof percent, mass / whole));
        between = "";
        for (size_t i = 0; i < df_mixture_count(m); i++) {
            const df_substance *s = df_mixture_component(m, i);
            double share = df_part_liquid_share(m, a, l, i), sigma = bands != NULL ? bands->share[l][i] : NAN;
            if (share <= DF_PART_TRACE)
                continue;
            df_text_printf(
                out, "%s%s %s%s", between, s->key, df_part_percent(percent, sizeof percent, share),
                df_part_band(band, sizeof band, share >= 1e-4 ? 100.0 * sigma : NAN, share >= 0.0995 ? 1 : 2));
            between = ", ";
        }
        df_text_puts(out, ")");
        between = ", ";
    }
}

void df_part_phases_json(json_t *object, const df_mixture *m, const df_assemblage *a, bool glass,
                         const df_part_bands *bands) {
    double whole = total_mass(m, a);
    json_t *solids = json_array(), *liquids = json_array();
    for (size_t k = 0; k < df_mixture_solids(m); k++) {
        double share = solid_mass(m, a, k) / whole;
        if (share <= DF_PART_TRACE)
            continue;
        json_t *o = json_object();
        df_json_put(o, "solid", df_json_text(df_mixture_solid(m, k)->name));
        df_json_put(o, "percent_w_w", df_json_number(100.0 * share));
        json_array_append_new(solids, o);
    }
    for (size_t l = 0; l < a->liquids; l++) {
        double mass = liquid_mass(m, a, l), moles = 0.0;
        if (mass / whole <= DF_PART_TRACE)
            continue;
        for (size_t i = 0; i < df_mixture_count(m); i++)
            moles += a->liquid[l][i];
        json_t *o = json_object(), *parts = json_array();
        for (size_t i = 0; i < df_mixture_count(m); i++) {
            const df_substance *s = df_mixture_component(m, i);
            json_t *p = json_object();
            df_json_put(p, "substance", df_json_text(s->key));
            df_json_put(p, "percent_w_w", df_json_number(100.0 * a->liquid[l][i] * s->molar_mass / mass));
            df_json_put(p, "percent_w_w_sigma", df_json_number(bands != NULL ? 100.0 * bands->share[l][i] : NAN));
            df_json_put(p, "percent_mol", df_json_number(100.0 * a->liquid[l][i] / moles));
            json_array_append_new(parts, p);
        }
        df_json_put(o, "state", df_json_text(glass ? "glass" : "liquid"));
        df_json_put(o, "percent_w_w", df_json_number(100.0 * mass / whole));
        df_json_put(o, "composition", parts);
        json_array_append_new(liquids, o);
    }
    df_json_put(object, "solids", solids);
    df_json_put(object, "liquids", liquids);
}

void df_part_solids_text(df_text *out, const df_mixture *m, const bool *allowed, df_freezing_mode mode) {
    df_text line = {0};
    char name[80];
    for (int yes = 1; yes >= 0; yes--) {
        const char *between = yes ? "taken to form: " : "; left out: ";
        for (size_t k = 0; k < df_mixture_solids(m); k++) {
            const df_solid *solid = df_mixture_solid(m, k);
            if (allowed[k] != (yes != 0))
                continue;
            df_text_printf(&line, "%s%s (%s: %s)", between, df_part_solid_name(name, sizeof name, m, k),
                           df_crystallises_name(solid->crystallises), solid->source);
            between = ", ";
        }
    }
    if (mode == DF_FREEZING_EQUILIBRIUM)
        df_text_puts(&line, "; as equilibrium has it, whether it happens in practice or not");
    if (mode == DF_FREEZING_ANNEALED)
        df_text_puts(&line, "; as when the frozen sample is held warm for a while (annealed)");
    if (mode == DF_FREEZING_QUENCHED)
        df_text_puts(&line, "; as when it is frozen too fast for hydrates and solutes to crystallise (quenched)");
    df_layout_paragraph(out, "solids", df_text_string(&line));
    out->failed = out->failed || line.failed;
    df_text_free(&line);
}

json_t *df_part_solids_json(const df_mixture *m, const bool *allowed) {
    json_t *list = json_array();
    for (size_t k = 0; k < df_mixture_solids(m); k++) {
        const df_solid *solid = df_mixture_solid(m, k);
        json_t *o = json_object();
        df_json_put(o, "solid", df_json_text(solid->name));
        df_json_put(o, "taken_to_form", json_boolean(allowed[k]));
        df_json_put(o, "crystallises", df_json_text(df_crystallises_name(solid->crystallises)));
        df_json_put(o, "source", df_json_text(solid->source));
        json_array_append_new(list, o);
    }
    return list;
}

/* ---- trust ---------------------------------------------------------------------------------------------------- */

void df_part_trust_text(df_text *out, const df_mixture *m) {
    size_t n = df_mixture_count(m), shown = 0, counts[DF_PAIR_IDEAL + 1] = {0};
    char range[64];
    const char *label = "trust";
    for (size_t i = 0; i < n; i++)
        for (size_t j = i + 1; j < n; j++) {
            const df_nrtl_pair *pair = df_mixture_pair(m, i, j);
            const df_substance *a = df_mixture_component(m, i), *b = df_mixture_component(m, j);
            if (shown >= PAIRS_SHOWN || (n > 5 && !a->is_water && !b->is_water)) {
                counts[pair->grade]++;
                continue;
            }
            if (pair->grade == DF_PAIR_IDEAL)
                df_layout_printf(out, label, "%s + %s: WARNING: %s", a->key, b->key, pair->source);
            else
                df_layout_printf(out, label, "%s + %s: %s (%s); %s", a->key, b->key, df_pair_grade_name(pair->grade),
                                 df_part_range(range, sizeof range, pair->lowest, pair->highest), pair->source);
            label = "";
            shown++;
        }
    for (int grade = 0; grade <= DF_PAIR_IDEAL; grade++)
        if (counts[grade] > 0) {
            df_layout_printf(out, label, "further pairs, %s: %zu", df_pair_grade_name((df_pair_grade)grade),
                             counts[grade]);
            label = "";
        }
    for (size_t i = 0; i < n; i++) {
        const df_substance *s = df_mixture_component(m, i);
        if (s->own)
            df_layout_printf(out, label, "%s: your own figures, not checked here; source: %s", s->key, s->source);
        else if (s->worst_grade < DF_GRADE_ESTIMATED)
            continue;
        else
            df_layout_printf(out, label, "%s: some of its constants are %s ('dryfront substances %s' shows which)",
                             s->key, df_grade_name(s->worst_grade), s->key);
        label = "";
    }
}

json_t *df_part_trust_json(const df_mixture *m) {
    json_t *o = json_object(), *pairs = json_array(), *substances = json_array();
    df_json_put(o, "grade", df_json_text(df_pair_grade_name(df_mixture_grade(m, NULL))));
    for (size_t i = 0; i < df_mixture_count(m); i++)
        for (size_t j = i + 1; j < df_mixture_count(m); j++) {
            const df_nrtl_pair *pair = df_mixture_pair(m, i, j);
            json_t *p = json_object(), *names = json_array();
            json_array_append_new(names, df_json_text(df_mixture_component(m, i)->key));
            json_array_append_new(names, df_json_text(df_mixture_component(m, j)->key));
            df_json_put(p, "substances", names);
            df_json_put(p, "grade", df_json_text(df_pair_grade_name(pair->grade)));
            df_json_put(p, "from_C", df_json_number(df_celsius(pair->lowest)));
            df_json_put(p, "to_C", df_json_number(df_celsius(pair->highest)));
            df_json_put(p, "source", df_json_text(pair->source));
            json_array_append_new(pairs, p);
        }
    df_json_put(o, "pairs", pairs);
    for (size_t i = 0; i < df_mixture_count(m); i++) {
        const df_substance *s = df_mixture_component(m, i);
        json_t *p = json_object();
        df_json_put(p, "substance", df_json_text(s->key));
        df_json_put(p, "worst_grade", df_json_text(df_grade_name(s->worst_grade)));
        df_json_put(p, "own", json_boolean(s->own));
        df_json_put(p, "vapour_pressure_source",
                    s->is_involatile ? json_null() : df_json_text(s->vapour_pressure.source));
        json_array_append_new(substances, p);
    }
    df_json_put(o, "substances", substances);
    return o;
}

const char *df_part_pump(const df_dryer *dryer) {
    static const char *const names[] = {"oil-sealed pump", "dry pump", "scroll pump", "diaphragm pump"};
    return names[dryer->pump.kind];
}

const char *df_part_cause(df_cause cause) {
    switch (cause) {
    case DF_CAUSE_NONE:
        return "nothing";
    case DF_CAUSE_SOLIDUS:
        return "melts (solidus)";
    case DF_CAUSE_MARGIN:
        return "margin too small";
    case DF_CAUSE_SOLUTE:
        return "solute collapses";
    case DF_CAUSE_NEVER_SOLID:
        return "stays liquid";
    case DF_CAUSE_NOT_FROZEN:
        return "not frozen";
    case DF_CAUSE_FRAMEWORK:
        return "framework too weak";
    case DF_CAUSE_TRAP:
        return "trap too warm";
    case DF_CAUSE_TRAP_FULL:
        return "trap full";
    case DF_CAUSE_DUCT:
        return "duct chokes";
    case DF_CAUSE_PORT:
        return "port chokes";
    case DF_CAUSE_PUMP:
        return "pump too small";
    case DF_CAUSE_PUMP_SOLVENT:
        return "solvent in the oil";
    case DF_CAUSE_HEAT:
        return "too much heat";
    case DF_CAUSE_GLASS:
        return "cake softens";
    case DF_CAUSE_TIME:
        return "too slow";
    }
    return "?";
}
