/* The substances known, and one of them in full. */
#include "report/parts.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static const double table_C[] = {-100.0, -80.0, -60.0, -50.0, -40.0, -30.0, -20.0, -10.0, 0.0, 20.0, 40.0, 60.0};
#define TABLE_ROWS (sizeof table_C / sizeof table_C[0])
#define CURVE_FROM (-100.0) /* °C, of the table in JSON, which is drawn */
#define CURVE_STEP 5.0      /* K */
#define CURVE_ROWS 33

static const struct {
    const char *label, *key, *unit;
    size_t offset;
} correlations[] = {
    {"vapour pressure, liquid", "vapour_pressure", "Pa", offsetof(df_substance, vapour_pressure)},
    {"density, liquid", "liquid_density", "kg/m3", offsetof(df_substance, liquid_density)},
    {"density, solid", "solid_density", "kg/m3", offsetof(df_substance, solid_density)},
    {"heat capacity, liquid", "liquid_heat_capacity", "J/(mol K)", offsetof(df_substance, liquid_heat_capacity)},
    {"heat capacity, solid", "solid_heat_capacity", "J/(mol K)", offsetof(df_substance, solid_heat_capacity)},
    {"heat capacity, gas", "gas_heat_capacity", "J/(mol K)", offsetof(df_substance, gas_heat_capacity)},
};
#define CORRELATIONS (sizeof correlations / sizeof correlations[0])

static const df_correlation *correlation(const df_substance *s, size_t i) {
    return (const df_correlation *)(const void *)((const char *)s + correlations[i].offset);
}

/* "ACN, MeCN" from "ACN;MeCN". */
static const char *aliases_text(char *out, size_t size, const char *aliases) {
    size_t used = 0;
    for (const char *c = aliases; *c != '\0' && used + 3 < size; c++) {
        out[used++] = *c == ';' ? ',' : *c;
        if (*c == ';')
            out[used++] = ' ';
    }
    out[used] = '\0';
    return out;
}

/* g/mol of formula; inside, a solute's is that of a mole of its particles. */
static double molar_mass(const df_substance *s) {
    return 1e3 * s->molar_mass * (s->is_involatile ? s->involatile.particles : 1.0);
}

/* ---- list ----------------------------------------------------------------------------------------------------- */

static void list_text(df_text *out, const df_substances *all) {
    df_text_printf(out, "%-21s %8s %8s %8s  %-15s  %s\n", "", "molar", "melts", "boils", "own crystal",
                   "worst of its");
    df_text_printf(out, "%-21s %8s %8s %8s  %-15s  %s\n", "substance", "g/mol", "°C", " °C", "forms", "constants");
    for (size_t i = 0; i < df_substances_count(all); i++) {
        const df_substance *s = df_substances_at(all, i);
        if (s->is_involatile)
            df_text_printf(out, "%-21s %8.2f %8s %8s  %-15s  %s\n", s->key, molar_mass(s), "-", "-",
                           df_crystallises_name(s->crystallises), s->own ? "yours" : df_grade_name(s->worst_grade));
        else
            df_text_printf(out, "%-21s %8.2f %8.1f %8.1f  %-15s  %s\n", s->key, molar_mass(s),
                           df_celsius(s->melting_temperature), df_celsius(s->boiling_temperature),
                           df_crystallises_name(s->crystallises), s->own ? "yours" : df_grade_name(s->worst_grade));
    }
    df_text_puts(out, "\nBoiling at 1013.25 mbar; - marks a solute without vapour. 'dryfront substances\n"
                      "NAME' shows one with its sources.\n");
}

static json_t *brief_json(const df_substance *s) {
    json_t *o = json_object(), *aliases = json_array();
    df_json_put(o, "key", df_json_text(s->key));
    df_json_put(o, "name", df_json_text(s->name));
    for (const char *from = s->aliases; *from != '\0';) {
        size_t length = strcspn(from, ";");
        json_t *alias = json_stringn(from, length);
        if (alias != NULL && length > 0)
            json_array_append_new(aliases, alias);
        else
            json_decref(alias);
        from += length + (from[length] == ';');
    }
    df_json_put(o, "aliases", aliases);
    df_json_put(o, "cas", df_json_text(s->cas));
    df_json_put(o, "formula", df_json_text(s->formula));
    df_json_put(o, "family", df_json_text(s->family));
    df_json_put(o, "molar_mass_g_mol", df_json_number(molar_mass(s)));
    df_json_put(o, "has_vapour", json_boolean(!s->is_involatile));
    df_json_put(o, "melting_C", df_json_number(df_celsius(s->melting_temperature)));
    df_json_put(o, "boiling_C", df_json_number(df_celsius(s->boiling_temperature)));
    df_json_put(o, "crystallises", df_json_text(df_crystallises_name(s->crystallises)));
    df_json_put(o, "worst_grade", df_json_text(df_grade_name(s->worst_grade)));
    df_json_put(o, "own", json_boolean(s->own));
    return o;
}

/* ---- one in full ---------------------------------------------------------------------------------------------- */

/* A built-in table; NULL where it cannot be read. */
static df_csv *open_table(const char *name) {
    df_csv *csv;
    return df_csv_builtin(NULL, &csv, name) == DF_OK ? csv : NULL;
}

static const char *cell(const df_csv *csv, size_t row, const char *column) {
    return df_csv_cell(csv, row, df_csv_find(csv, column));
}

/* Whether the substance is the built-in one of that key: constants of the user's own come from the user's file. */
static bool has_rows(const df_csv *csv, const df_substance *s) {
    for (size_t row = 0; csv != NULL && row < df_csv_rows(csv); row++)
        if (strcmp(cell(csv, row, "key"), s->key) == 0)
            return true;
    return false;
}

/* "melting temperature" from "melting_temperature". */
static const char *spaced(char *out, size_t size, const char *property) {
    size_t used = 0;
    for (; property[used] != '\0' && used + 1 < size; used++)
        out[used] = property[used] == '_' ? ' ' : property[used];
    out[used] = '\0';
    return out;
}

static void constants_text(df_text *out, const df_substance *s) {
    df_csv *csv = open_table("constants.csv");
    df_text_puts(out, "\nConstants\n");
    if (!has_rows(csv, s)) {
        df_layout_printf(out, "",
                         "molar mass %.5g g/mol; melts at %.2f °C with %.4g kJ/mol; boils at %.2f °C; critical "
                         "point %.1f °C, %.4g bar",
                         1e3 * s->molar_mass, df_celsius(s->melting_temperature), 1e-3 * s->fusion_enthalpy,
                         df_celsius(s->boiling_temperature), df_celsius(s->critical_temperature),
                         1e-5 * s->critical_pressure);
        df_layout_paragraph(out, "", s->source);
        df_csv_free(csv);
        return;
    }
    for (size_t row = 0; row < df_csv_rows(csv); row++) {
        char label[48], celsius[40] = "";
        if (strcmp(cell(csv, row, "key"), s->key) != 0)
            continue;
        const char *unit = cell(csv, row, "unit"), *value = cell(csv, row, "value"), *rest;
        const char *uncertainty = cell(csv, row, "uncertainty"), *note = cell(csv, row, "note");
        double kelvin;
        if (strcmp(unit, "K") == 0 && df_number_scan(&kelvin, &rest, value))
            snprintf(celsius, sizeof celsius, " (%.2f °C)", df_celsius(kelvin));
        bool unsure = uncertainty[0] != '\0' && strcmp(uncertainty, "0") != 0, bare = strcmp(unit, "-") == 0;
        df_text_printf(out, "  %s %s%s%s%s%s%s\n", spaced(label, sizeof label, cell(csv, row, "property")), value,
                       bare ? "" : " ", bare ? "" : unit, celsius, unsure ? " ±" : "", unsure ? uncertainty : "");
        const char *grade = cell(csv, row, "grade"), *source = cell(csv, row, "source");
        df_layout_printf(out, "   ", "%s: %s%s%s", grade, source, note[0] != '\0' ? "; " : "", note);
    }
    df_csv_free(csv);
}

static int rising(const void *a, const void *b) {
    double x = *(const double *)a, y = *(const double *)b;
    return x < y ? -1 : x > y ? 1 : 0;
}

static void pressures_text(df_text *out, const df_substance *s) {
    bool marked = false;
    char a[32], b[32], c[32];
    df_text_puts(out, "\nVapour pressure and heat\n");
    df_text_printf(out, "  %8s %12s %12s   %14s %14s\n", "", "crystal", "liquid", "sublimation", "vaporisation");
    df_text_printf(out, "  %8s %12s %12s   %14s %14s\n", "°C ", "mbar", "mbar", "kJ/mol", "kJ/mol");
    double rows[TABLE_ROWS + 2] = {s->melting_temperature, s->boiling_temperature};
    for (size_t i = 0; i < TABLE_ROWS; i++)
        rows[i + 2] = table_C[i] + DF_ZERO_CELSIUS;
    qsort(rows, TABLE_ROWS + 2, sizeof rows[0], rising);
    for (size_t i = 0; i < TABLE_ROWS + 2; i++) {
        double t = rows[i];
        bool crystal = t <= s->melting_temperature, far = df_liquid_pressure_extrapolated(s, t);
        const char *remark = t == s->melting_temperature ? " melts" : t == s->boiling_temperature ? " boils" : "";
        if (remark[0] == '\0' && (fabs(t - s->melting_temperature) < 0.05 || fabs(t - s->boiling_temperature) < 0.05))
            continue; /* its own line stands beside it */
        snprintf(c, sizeof c, "%.2f", 1e-3 * df_sublimation_enthalpy(s, t));
        df_text_printf(out, "  %7.1f %12s %12s %s %14s %14.2f%s\n", df_celsius(t),
                       crystal ? df_part_mbar(a, sizeof a, df_solid_pressure(s, t)) : "-",
                       df_part_mbar(b, sizeof b, df_liquid_pressure(s, t)), far ? "*" : " ", crystal ? c : "-",
                       1e-3 * df_vaporisation_enthalpy(s, t), remark);
        marked = marked || far;
    }
    if (marked)
        df_text_puts(out, "  * continued outside the range of the source by Clausius-Clapeyron\n");
    df_text_puts(out, "    below the melting point the liquid is undercooled\n");
    if (df_dimer_constant(s, 300.0) > 0.0)
        df_layout_printf(out, "pairs up",
                         "its vapour forms double molecules, %.1f kJ/mol, %.1f J/(mol K) at 1 atm; %s",
                         1e-3 * s->dimer_enthalpy, s->dimer_entropy, s->dimer_source);
}

static void properties_text(df_text *out, const df_substance *s) {
    double room = 293.15, melt = s->melting_temperature;
    df_text_puts(out, "\nDensity and heat capacity\n");
    df_text_printf(out, "  liquid at 20 °C %.0f kg/m3, %.4g J/(mol K)\n", df_liquid_density(s, room),
                   df_liquid_heat_capacity(s, room));
    df_text_printf(out, "  liquid where it melts %.0f kg/m3, %.4g J/(mol K)\n", df_liquid_density(s, melt),
                   df_liquid_heat_capacity(s, melt));
    df_text_printf(out, "  crystal where it melts %.0f kg/m3, %.4g J/(mol K)\n", df_solid_density(s, melt),
                   df_solid_heat_capacity(s, melt));
}

static void sources_text(df_text *out, const df_substance *s) {
    char range[64];
    df_text_puts(out, "\nCorrelations; a density or heat capacity is held at its ends\n");
    for (size_t i = 0; i < CORRELATIONS; i++) {
        const df_correlation *k = correlation(s, i);
        if (k->form == DF_FORM_NONE)
            continue;
        /* 1 K and 10 000 K stand for a range that is not stated. */
        bool stated = k->lowest > 1.5 && k->highest < 9999.0;
        df_text_printf(out, "  %s: %s, %s\n", correlations[i].label, df_grade_name(k->grade),
                       df_part_range(range, sizeof range, stated ? k->lowest : NAN, k->highest));
        df_layout_paragraph(out, "   ", k->source);
    }
}

static void hazards_text(df_text *out, const df_substance *s) {
    char caution[500];
    df_csv *csv = open_table("safety.csv");
    df_report_caution(caution, sizeof caution, s);
    if (caution[0] != '\0')
        df_layout_paragraph(out, "caution", caution);
    for (size_t row = 0; csv != NULL && row < df_csv_rows(csv); row++)
        if (strcmp(cell(csv, row, "key"), s->key) == 0 &&
            strcmp(cell(csv, row, "quantity"), "hazard_statements") == 0 &&
            strcmp(cell(csv, row, "value"), "none") != 0)
            df_layout_printf(out, "hazards", "%s; %s", cell(csv, row, "value"), cell(csv, row, "source"));
    df_csv_free(csv);
}

static const df_substance *find_water(const df_substances *all) {
    for (size_t i = 0; i < df_substances_count(all); i++)
        if (df_substances_at(all, i)->is_water)
            return df_substances_at(all, i);
    return NULL;
}

static void involatile_text(df_text *out, const df_substance *s) {
    const df_involatile *v = &s->involatile;
    df_text_puts(out, "\nA solute without vapour\n");
    df_text_printf(out, "  molar mass %.5g g/mol; a mole gives %.3g mol of particles\n", molar_mass(s), v->particles);
    df_text_printf(out, "  density %.0f kg/m3, heat capacity %.3g J/(g K)\n", df_solid_density(s, 293.15),
                   1e-3 * df_solid_heat_capacity(s, 293.15) / s->molar_mass);
    if (isfinite(s->glass_temperature))
        df_text_printf(
            out, "  glass when dry %.0f °C, Gordon-Taylor weight of water %.3g\n", df_celsius(s->glass_temperature),
            v->gordon_taylor > 0.0 ? v->gordon_taylor
                                   : 1.0 / df_glass_weight(df_solid_density(s, 293.15), s->glass_temperature));
    char line[300];
    if (df_part_breaks_up(line, sizeof line, s, NULL, 293.15))
        df_layout_printf(out, "   ", "%s; %s", line, v->gas_source);
    df_text_printf(out, "  with ice: %s %.1f °C", v->anchor_is_glass ? "glass of the freeze-concentrate" : "eutectic",
                   df_celsius(v->anchor_temperature));
    if (isfinite(v->anchor_fraction))
        df_text_printf(out, ", %.3g %% w/w", 100.0 * v->anchor_fraction);
    df_text_puts(out, "\n");
    if (v->crystal[0] != '\0')
        df_text_printf(out, "  crystal %s\n", v->crystal);
    df_layout_printf(out, "   ", "%s: %s%s%s", df_grade_name(s->worst_grade), s->source,
                     v->note[0] != '\0' ? "; " : "", v->note);
}

static json_t *involatile_json(const df_substance *s) {
    const df_involatile *v = &s->involatile;
    json_t *o = json_object();
    df_json_put(o, "particles", df_json_number(v->particles));
    df_json_put(o, "gordon_taylor_weight", df_json_number(v->gordon_taylor));
    df_json_put(o, "ice_branch_ends", df_json_text(v->anchor_is_glass ? "glass" : "eutectic"));
    df_json_put(o, "ice_branch_ends_C", df_json_number(df_celsius(v->anchor_temperature)));
    df_json_put(o, "ice_branch_ends_percent_w_w", df_json_number(100.0 * v->anchor_fraction));
    df_json_put(o, "crystal", v->crystal[0] != '\0' ? df_json_text(v->crystal) : json_null());
    df_json_put(o, "breaks_up_into", v->gases[0] != '\0' ? df_json_text(v->gases) : json_null());
    df_json_put(o, "breaks_up_mbar_at_20C", df_json_number(df_dissociation_pressure(s, 293.15, NAN) / 100.0));
    df_json_put(o, "note", df_json_text(v->note));
    return o;
}

static void full_text(df_text *out, const df_substances *all, const df_pairs *pairs, const df_substance *s) {
    char also[256], range[64];
    const df_substance *water = find_water(all);
    df_text_printf(out, "%s (%s)\n", s->name, s->key);
    aliases_text(also, sizeof also, s->aliases);
    df_layout_printf(out, "", "%s%s%s%s%s%s%s", s->formula, s->cas[0] ? ", CAS " : "", s->cas,
                     s->family[0] ? ", " : "", s->family, also[0] ? "; also " : "", also);
    df_layout_printf(out, "crystal", "its own forms in a frozen sample: %s (%s)",
                     df_crystallises_name(s->crystallises), s->crystallises_source);
    if (water != NULL && !s->is_water) {
        df_nrtl_pair pair;
        df_pairs_get(&pair, pairs, s, water);
        df_layout_printf(out, "with water", "activity %s (%s); %s", df_pair_grade_name(pair.grade),
                         df_part_range(range, sizeof range, pair.lowest, pair.highest), pair.source);
    }
    hazards_text(out, s);
    if (s->is_involatile) {
        involatile_text(out, s);
        return;
    }
    pressures_text(out, s);
    properties_text(out, s);
    constants_text(out, s);
    sources_text(out, s);
}

static json_t *constants_json(const df_substance *s) {
    json_t *list = json_array();
    df_csv *csv = open_table("constants.csv");
    for (size_t row = 0; csv != NULL && row < df_csv_rows(csv); row++) {
        if (strcmp(cell(csv, row, "key"), s->key) != 0)
            continue;
        static const char *const texts[] = {"property", "unit", "grade", "source", "note"};
        json_t *o = json_object();
        double value;
        const char *rest;
        for (size_t i = 0; i < sizeof texts / sizeof texts[0]; i++) {
            df_json_put(o, texts[i], df_json_text(cell(csv, row, texts[i])));
            if (i > 0)
                continue;
            df_json_put(o, "value",
                        df_number_scan(&value, &rest, cell(csv, row, "value")) ? df_json_number(value) : json_null());
            df_json_put(o, "uncertainty",
                        df_number_scan(&value, &rest, cell(csv, row, "uncertainty")) ? df_json_number(value)
                                                                                     : json_null());
        }
        json_array_append_new(list, o);
    }
    df_csv_free(csv);
    return list;
}

static json_t *full_json(const df_substances *all, const df_pairs *pairs, const df_substance *s) {
    json_t *o = brief_json(s), *table = json_array(), *list = json_array(), *transitions = json_array();
    const df_substance *water = find_water(all);
    char caution[500];
    df_json_put(o, "source", df_json_text(s->source));
    df_json_put(o, "crystallises_source", df_json_text(s->crystallises_source));
    df_json_put(o, "critical_C", df_json_number(df_celsius(s->critical_temperature)));
    df_json_put(o, "critical_mbar", df_json_number(s->critical_pressure / 100.0));
    df_json_put(o, "fusion_kJ_mol", s->is_involatile ? json_null() : df_json_number(1e-3 * s->fusion_enthalpy));
    df_json_put(o, "involatile", s->is_involatile ? involatile_json(s) : json_null());
    for (size_t i = 0; i < s->transitions; i++) {
        json_t *t = json_object();
        df_json_put(t, "temperature_C", df_json_number(df_celsius(s->transition[i].temperature)));
        df_json_put(t, "enthalpy_kJ_mol", df_json_number(1e-3 * s->transition[i].enthalpy));
        json_array_append_new(transitions, t);
    }
    df_json_put(o, "transitions", transitions);
    df_json_put(o, "glass_C", df_json_number(df_celsius(s->glass_temperature)));
    df_json_put(o, "flash_point_C", df_json_number(df_celsius(s->flash_point)));
    df_json_put(o, "lower_explosive_limit_percent_v_v", df_json_number(100.0 * s->lower_explosive_limit));
    df_json_put(o, "exposure_limit_8h_ppm", df_json_number(1e6 * s->exposure_limit));
    df_json_put(o, "dimer_enthalpy_kJ_mol",
                s->dimer_enthalpy != 0.0 ? df_json_number(1e-3 * s->dimer_enthalpy) : json_null());
    df_json_put(o, "dimer_entropy_J_mol_K",
                s->dimer_enthalpy != 0.0 ? df_json_number(s->dimer_entropy) : json_null());
    df_json_put(o, "dimer_source", s->dimer_enthalpy != 0.0 ? df_json_text(s->dimer_source) : json_null());
    double at[CURVE_ROWS + 1], melts = s->melting_temperature;
    size_t rows = 0;
    for (; rows < CURVE_ROWS; rows++)
        at[rows] = DF_ZERO_CELSIUS + CURVE_FROM + CURVE_STEP * (double)rows;
    if (melts > at[0] && melts < at[CURVE_ROWS - 1])
        at[rows++] = melts;
    qsort(at, rows, sizeof at[0], rising);
    for (size_t i = 0; i < rows && !s->is_involatile; i++) {
        double t = at[i];
        bool crystal = t <= s->melting_temperature;
        json_t *row = json_object();
        df_json_put(row, "temperature_C", df_json_number(df_celsius(t)));
        df_json_put(row, "crystal_pressure_mbar",
                    crystal ? df_json_number(df_solid_pressure(s, t) / 100.0) : json_null());
        df_json_put(row, "liquid_pressure_mbar", df_json_number(df_liquid_pressure(s, t) / 100.0));
        df_json_put(row, "extrapolated", json_boolean(df_liquid_pressure_extrapolated(s, t)));
        df_json_put(row, "sublimation_kJ_mol",
                    crystal ? df_json_number(1e-3 * df_sublimation_enthalpy(s, t)) : json_null());
        df_json_put(row, "vaporisation_kJ_mol", df_json_number(1e-3 * df_vaporisation_enthalpy(s, t)));
        df_json_put(row, "liquid_density_kg_m3", df_json_number(df_liquid_density(s, t)));
        df_json_put(row, "solid_density_kg_m3", crystal ? df_json_number(df_solid_density(s, t)) : json_null());
        json_array_append_new(table, row);
    }
    df_json_put(o, "table", table);
    df_json_put(o, "constants", constants_json(s));
    for (size_t i = 0; i < CORRELATIONS; i++) {
        const df_correlation *k = correlation(s, i);
        if (k->form == DF_FORM_NONE)
            continue;
        bool stated = k->lowest > 1.5 && k->highest < 9999.0;
        json_t *row = json_object();
        df_json_put(row, "property", df_json_text(correlations[i].key));
        df_json_put(row, "unit", df_json_text(correlations[i].unit));
        df_json_put(row, "grade", df_json_text(df_grade_name(k->grade)));
        df_json_put(row, "from_C", stated ? df_json_number(df_celsius(k->lowest)) : json_null());
        df_json_put(row, "to_C", stated ? df_json_number(df_celsius(k->highest)) : json_null());
        df_json_put(row, "source", df_json_text(k->source));
        json_array_append_new(list, row);
    }
    df_json_put(o, "correlations", list);
    if (water != NULL && !s->is_water) {
        df_nrtl_pair pair;
        json_t *w = json_object();
        df_pairs_get(&pair, pairs, s, water);
        df_json_put(w, "grade", df_json_text(df_pair_grade_name(pair.grade)));
        df_json_put(w, "from_C", df_json_number(df_celsius(pair.lowest)));
        df_json_put(w, "to_C", df_json_number(df_celsius(pair.highest)));
        df_json_put(w, "source", df_json_text(pair.source));
        df_json_put(o, "with_water", w);
    } else
        df_json_put(o, "with_water", json_null());
    df_report_caution(caution, sizeof caution, s);
    df_json_put(o, "caution", df_json_text(caution));
    return o;
}

df_status df_report_substances_text(df_context *ctx, df_text *out, const df_substances *all, const df_pairs *pairs,
                                    const df_substance *s) {
    if (s == NULL)
        list_text(out, all);
    else
        full_text(out, all, pairs, s);
    return out->failed ? df_fail(ctx, DF_E_MEMORY, "out of memory, or the report grew too large") : DF_OK;
}

/* As the list has it: with the flash point and the grade of the pair with water. */
static json_t *listed_json(const df_substance *s, const df_pairs *pairs, const df_substance *water) {
    json_t *o = brief_json(s);
    df_json_put(o, "flash_point_C", df_json_number(df_celsius(s->flash_point)));
    if (water != NULL && !s->is_water) {
        df_nrtl_pair pair;
        df_pairs_get(&pair, pairs, s, water);
        df_json_put(o, "with_water_grade", df_json_text(df_pair_grade_name(pair.grade)));
    } else
        df_json_put(o, "with_water_grade", json_null());
    return o;
}

df_status df_report_substances_json(df_context *ctx, df_text *out, const df_substances *all, const df_pairs *pairs,
                                    const df_substance *s) {
    json_t *root = json_object(), *list = json_array();
    const df_substance *water = find_water(all);
    for (size_t i = 0; s == NULL && i < df_substances_count(all); i++)
        json_array_append_new(list, listed_json(df_substances_at(all, i), pairs, water));
    if (s != NULL)
        json_array_append_new(list, full_json(all, pairs, s));
    df_json_put(root, "substances", list);
    return df_json_finish(ctx, out, root);
}
