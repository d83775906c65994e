/* The user's own substances and solutes. */
#include "substance/set.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define MOST_FORMS 64
#define STATED "stated by the user"

static const char *keep(df_substances *set, char *string) {
    char **grown = realloc(set->strings, (set->string_count + 1) * sizeof *grown);
    if (grown == NULL) {
        free(string);
        return "";
    }
    set->strings = grown;
    set->strings[set->string_count++] = string;
    return string;
}

static df_status read_text(df_context *ctx, df_substances *set, const char **out, const df_yaml_node *map,
                           const char *key, bool required) {
    char *value = NULL;
    df_status status = df_yaml_string(ctx, &value, map, key, required);
    if (status == DF_OK && value != NULL)
        *out = keep(set, value);
    return status;
}

/* A curve in the user's file: {form: NAME, coefficients: [..], lowest: "x K", highest: "x K"} with the result in SI, or
 * a plain quantity for a constant. */
static df_status read_curve(df_context *ctx, df_correlation *k, const df_yaml_node *map, const char *key,
                            const df_substance *s) {
    const df_yaml_node *node = df_yaml_get(map, key);
    if (node == NULL)
        return df_yaml_missing(ctx, map, key, "%s is missing", key);
    k->grade = DF_GRADE_ESTIMATED;
    k->source = s->source;
    k->scale = 1.0;
    k->lowest = 1.0;
    k->highest = 1e4;
    k->critical_temperature = s->critical_temperature;
    k->critical_pressure = s->critical_pressure;
    if (df_yaml_node_kind(node) == DF_YAML_SCALAR) {
        k->form = DF_FORM_CONSTANT;
        if (strcmp(key, "vapour_pressure") == 0)
            return df_yaml_fail(ctx, node, "a vapour pressure needs a form and coefficients");
        return df_yaml_quantity_in(ctx, &k->c[0], map, key, DF_DIM_NUMBER, true, 1e-6, 1e6);
    }
    static const char *const keys[] = {"form", "coefficients", "lowest", "highest"};
    df_status status = df_yaml_check_keys(ctx, node, keys, 4);
    if (status != DF_OK)
        return status;
    const char *names[MOST_FORMS];
    size_t n = df_form_count();
    for (size_t i = 0; i < n && i < MOST_FORMS; i++)
        names[i] = df_form_name(i);
    int form = 0, least = 0;
    status = df_yaml_choice(ctx, &form, node, "form", true, names, n < MOST_FORMS ? n : MOST_FORMS);
    if (status != DF_OK)
        return status;
    k->form = df_form_at((size_t)form, &least);
    const df_yaml_node *list = df_yaml_get(node, "coefficients");
    if (list == NULL)
        return df_yaml_missing(ctx, node, "coefficients", "coefficients should be a list of %d to 6 numbers", least);
    if (df_yaml_node_kind(list) != DF_YAML_LIST || df_yaml_count(list) > 6 || (int)df_yaml_count(list) < least)
        return df_yaml_fail(ctx, list, "should be a list of %d to 6 numbers", least);
    for (size_t i = 0; i < df_yaml_count(list); i++) {
        char where[200];
        if (df_yaml_node_kind(df_yaml_item(list, i)) != DF_YAML_SCALAR)
            return df_yaml_fail(ctx, df_yaml_item(list, i), "should be a number");
        status = df_quantity_parse(ctx, &k->c[i], df_yaml_scalar(df_yaml_item(list, i)), DF_DIM_NUMBER,
                                   df_yaml_where(where, sizeof where, df_yaml_item(list, i)));
        if (status != DF_OK)
            return status;
    }
    status = df_yaml_quantity_in(ctx, &k->lowest, node, "lowest", DF_DIM_TEMPERATURE, true, 50.0, 2000.0);
    if (status == DF_OK)
        status =
            df_yaml_quantity_in(ctx, &k->highest, node, "highest", DF_DIM_TEMPERATURE, true, k->lowest + 1.0, 2000.0);
    return status;
}

static df_status read_substance(df_context *ctx, df_substances *set, df_substance *s, const df_yaml_node *map) {
    static const char *const keys[] = {"key",
                                       "name",
                                       "aliases",
                                       "cas",
                                       "formula",
                                       "source",
                                       "crystallises",
                                       "molar_mass_g_mol",
                                       "melting_temperature",
                                       "boiling_temperature",
                                       "critical_temperature",
                                       "critical_pressure",
                                       "fusion_enthalpy_J_mol",
                                       "flash_point",
                                       "lower_explosive_limit",
                                       "vapour_pressure",
                                       "liquid_density_kg_m3",
                                       "solid_density_kg_m3",
                                       "liquid_heat_capacity_J_mol_K",
                                       "solid_heat_capacity_J_mol_K",
                                       "gas_heat_capacity_J_mol_K"};
    df_substance_blank(s);
    s->own = true;
    s->worst_grade = DF_GRADE_ESTIMATED;
    s->crystallises = DF_CRYSTAL_NOT_IN_PRACTICE;
    s->crystallises_source = "the user's own file";
    const char *const names[] = {df_crystallises_name(DF_CRYSTAL_READILY),
                                 df_crystallises_name(DF_CRYSTAL_RELUCTANTLY),
                                 df_crystallises_name(DF_CRYSTAL_NOT_IN_PRACTICE)};
    int crystallises = s->crystallises;
    double molar = 0.0;
    df_status status = df_yaml_check_keys(ctx, map, keys, sizeof keys / sizeof keys[0]);
#define STEP(call) status = status == DF_OK ? (call) : status
    STEP(read_text(ctx, set, &s->key, map, "key", true));
    if (status == DF_OK)
        s->name = s->key;
    STEP(read_text(ctx, set, &s->name, map, "name", false));
    STEP(read_text(ctx, set, &s->aliases, map, "aliases", false));
    STEP(read_text(ctx, set, &s->cas, map, "cas", false));
    STEP(read_text(ctx, set, &s->formula, map, "formula", false));
    STEP(read_text(ctx, set, &s->source, map, "source", true));
    STEP(df_yaml_choice(ctx, &crystallises, map, "crystallises", false, names, 3));
    STEP(df_yaml_quantity_in(ctx, &molar, map, "molar_mass_g_mol", DF_DIM_NUMBER, true, 1.0, 5000.0));
    STEP(df_yaml_quantity_in(ctx, &s->melting_temperature, map, "melting_temperature", DF_DIM_TEMPERATURE, true, 50,
                             1500));
    STEP(df_yaml_quantity_in(ctx, &s->boiling_temperature, map, "boiling_temperature", DF_DIM_TEMPERATURE, true, 50,
                             1500));
    STEP(df_yaml_quantity_in(ctx, &s->critical_temperature, map, "critical_temperature", DF_DIM_TEMPERATURE, true, 60,
                             2000));
    STEP(df_yaml_quantity_in(ctx, &s->critical_pressure, map, "critical_pressure", DF_DIM_PRESSURE, true, 1e5, 1e8));
    STEP(
        df_yaml_quantity_in(ctx, &s->fusion_enthalpy, map, "fusion_enthalpy_J_mol", DF_DIM_NUMBER, true, 100.0, 1e6));
    STEP(df_yaml_quantity_in(ctx, &s->flash_point, map, "flash_point", DF_DIM_TEMPERATURE, false, 50, 1500));
    STEP(df_yaml_quantity_in(ctx, &s->lower_explosive_limit, map, "lower_explosive_limit", DF_DIM_PERCENT, false, 0,
                             1));
    s->molar_mass = 1e-3 * molar;
    s->crystallises = (df_crystallises)crystallises;
    STEP(read_curve(ctx, &s->vapour_pressure, map, "vapour_pressure", s));
    STEP(read_curve(ctx, &s->liquid_density, map, "liquid_density_kg_m3", s));
    STEP(read_curve(ctx, &s->solid_density, map, "solid_density_kg_m3", s));
    STEP(read_curve(ctx, &s->liquid_heat_capacity, map, "liquid_heat_capacity_J_mol_K", s));
    STEP(read_curve(ctx, &s->solid_heat_capacity, map, "solid_heat_capacity_J_mol_K", s));
    STEP(read_curve(ctx, &s->gas_heat_capacity, map, "gas_heat_capacity_J_mol_K", s));
#undef STEP
    if (status != DF_OK)
        return status;
    if (df_name_equal(s->key, "water"))
        return df_yaml_fail(ctx, df_yaml_get(map, "key"),
                            "'water' is built in and cannot be replaced; choose another key");
    for (size_t i = 0; i < set->count; i++)
        if ((set->items[i].own || set->items[i].is_involatile) && df_name_equal(set->items[i].key, s->key))
            return df_yaml_fail(ctx, df_yaml_get(map, "key"), "'%.60s' is known already, %s; take another", s->key,
                                set->items[i].own ? "another of your own" : "a solute");
    char where[200];
    status = df_substance_complete(ctx, s, df_yaml_where(where, sizeof where, map));
    if (status != DF_OK)
        return status;
    double ratio = df_liquid_pressure(s, s->boiling_temperature) / DF_ATMOSPHERE;
    if (!(fabs(ratio - 1.0) < 0.1))
        return df_yaml_fail(
            ctx, df_yaml_get(map, "vapour_pressure"),
            "the vapour pressure at the boiling temperature is %.4g Pa and should be 101325 Pa within 10 %%",
            ratio * DF_ATMOSPHERE);
    return DF_OK;
}

/* Refuses a solute that is called as something is already: by its key, its name or one of its aliases. */
static df_status check_names(df_context *ctx, const df_substances *set, const df_substance *s,
                             const df_yaml_node *map) {
    const df_substance *other = NULL;
    const char *const fields[] = {"key", "name"}, *const names[] = {s->key, s->name};
    for (size_t i = 0; i < 2; i++)
        if (df_substances_find(NULL, &other, set, names[i], NULL) == DF_OK) {
            const df_yaml_node *said = df_yaml_get(map, fields[i]);
            return df_yaml_fail(ctx, said != NULL ? said : df_yaml_get(map, "key"),
                                "'%.60s' is known already, %s; take another", names[i],
                                other->own ? "another of your own" : "a built-in one");
        }
    for (const char *at = s->aliases; *at != '\0';) {
        char alias[128];
        size_t length = strcspn(at, ";");
        snprintf(alias, sizeof alias, "%.*s", (int)length, at);
        if (length > 0 && df_substances_find(NULL, &other, set, alias, NULL) == DF_OK)
            return df_yaml_fail(ctx, df_yaml_get(map, "aliases"), "'%.60s' is known already: %s; take another", alias,
                                other->key);
        at += length + (at[length] == ';');
    }
    return DF_OK;
}

/* Whether its anchor and water give an activity as a liquid may have. */
static df_status check_anchor(df_context *ctx, const df_substances *set, const df_substance *s,
                              const df_yaml_node *map) {
    const df_involatile *v = &s->involatile;
    const df_substance *water = NULL;
    double x;
    if (v->anchor_is_glass && !(v->anchor_temperature < s->glass_temperature - 1.0))
        return df_yaml_fail(ctx, df_yaml_get(map, "anchor_temperature"),
                            "the freeze-concentrate's glass should lie below the dry one, %.1f °C",
                            s->glass_temperature - DF_ZERO_CELSIUS);
    df_status status = df_substances_find(ctx, &water, set, "water", NULL);
    if (status != DF_OK)
        return status;
    double margules = df_involatile_margules(&x, s, water), most = 2.0, least = -15.0;
    if (!(margules <= most && margules >= least)) /* A > 2 parts a symmetric mixture in two */
        return df_yaml_fail(
            ctx, df_yaml_get(map, "anchor_temperature"),
            "with %.1f %% by mass of solute there, water would be %s than a solution's; check anchor_w, "
            "molar_mass_g_mol and particles (Margules term %.1f, should be %.0f to %.0f)",
            100.0 * df_involatile_anchor_fraction(s, water), margules > most ? "more active" : "less active",
            margules, least, most);
    return DF_OK;
}

static df_status read_solute(df_context *ctx, df_substances *set, df_substance *s, const df_yaml_node *map) {
    static const char *const keys[] = {"key",
                                       "name",
                                       "aliases",
                                       "cas",
                                       "formula",
                                       "family",
                                       "molar_mass_g_mol",
                                       "particles",
                                       "beside_organics",
                                       "density",
                                       "heat_capacity_J_gK",
                                       "glass_temperature",
                                       "gordon_taylor_k",
                                       "anchor_kind",
                                       "anchor_temperature",
                                       "anchor_w",
                                       "critical_kind",
                                       "crystal",
                                       "crystal_water",
                                       "fusion_enthalpy_J_mol",
                                       "crystallises",
                                       "source",
                                       "note"};
    static const char *const anchors[] = {"eutectic", "glass"}, *const besides[] = {"ideal", "sugar", "salt"},
                             *const kinds[] = {"collapse", "Tg'", "eutectic", "none"};
    const char *const forms[] = {df_crystallises_name(DF_CRYSTAL_READILY),
                                 df_crystallises_name(DF_CRYSTAL_RELUCTANTLY),
                                 df_crystallises_name(DF_CRYSTAL_NOT_IN_PRACTICE)};
    char key[32] = "";
    df_substance_blank(s);
    df_involatile *v = &s->involatile;
    double molar = NAN, heat = 1.3, density = 1400.0;
    int anchor = 0, beside = 0, kind = 0, crystallises = DF_CRYSTAL_NOT_IN_PRACTICE;
    df_status status = df_yaml_check_keys(ctx, map, keys, sizeof keys / sizeof keys[0]);
#define STEP(call) status = status == DF_OK ? (call) : status
    STEP(df_yaml_key_text(ctx, key, sizeof key, map, "key"));
    STEP(read_text(ctx, set, &s->key, map, "key", true));
    s->name = s->key;
    s->family = "own";
    s->source = s->crystallises_source = STATED;
    v->note = v->crystal = v->gases = v->gas_source = "";
    STEP(read_text(ctx, set, &s->name, map, "name", false));
    STEP(read_text(ctx, set, &s->aliases, map, "aliases", false));
    STEP(read_text(ctx, set, &s->cas, map, "cas", false));
    STEP(read_text(ctx, set, &s->formula, map, "formula", false));
    STEP(read_text(ctx, set, &s->family, map, "family", false));
    STEP(read_text(ctx, set, &s->source, map, "source", false));
    STEP(read_text(ctx, set, &v->note, map, "note", false));
    STEP(df_yaml_quantity_in(ctx, &molar, map, "molar_mass_g_mol", DF_DIM_NUMBER, true, 10.0, 1e4));
    v->particles = 1.0;
    STEP(df_yaml_quantity_in(ctx, &v->particles, map, "particles", DF_DIM_NUMBER, false, 1.0, 10.0));
    STEP(df_yaml_choice(ctx, &beside, map, "beside_organics", false, besides, 3));
    STEP(df_yaml_quantity_in(ctx, &density, map, "density", DF_DIM_MASS_CONCENTRATION, false, 500.0, 8000.0));
    STEP(df_yaml_quantity_in(ctx, &heat, map, "heat_capacity_J_gK", DF_DIM_NUMBER, false, 0.1, 5.0));
    STEP(df_yaml_choice(ctx, &anchor, map, "anchor_kind", true, anchors, 2));
    v->anchor_is_glass = anchor == 1;
    STEP(df_yaml_quantity_in(ctx, &s->glass_temperature, map, "glass_temperature", DF_DIM_TEMPERATURE,
                             v->anchor_is_glass, 160.0, 600.0));
    v->gordon_taylor = v->anchor_fraction = NAN;
    STEP(df_yaml_quantity_in(ctx, &v->gordon_taylor, map, "gordon_taylor_k", DF_DIM_NUMBER, false, 1.0, 10.0));
    STEP(df_yaml_quantity_in(ctx, &v->anchor_temperature, map, "anchor_temperature", DF_DIM_TEMPERATURE, true, 150.0,
                             273.0));
    STEP(df_yaml_quantity_in(ctx, &v->anchor_fraction, map, "anchor_w", DF_DIM_PERCENT, false, 0.001, 0.99));
    kind = v->anchor_is_glass ? 0 : 2;
    STEP(df_yaml_choice(ctx, &kind, map, "critical_kind", false, kinds, 4));
    v->critical_kind = kind < 3 ? kinds[kind] : "";
    STEP(read_text(ctx, set, &v->crystal, map, "crystal", false));
    STEP(df_yaml_quantity_in(ctx, &v->crystal_water, map, "crystal_water", DF_DIM_NUMBER, false, 0.0, 20.0));
    v->crystal_enthalpy = NAN;
    STEP(df_yaml_quantity_in(ctx, &v->crystal_enthalpy, map, "fusion_enthalpy_J_mol", DF_DIM_NUMBER,
                             !v->anchor_is_glass, 100.0, 1e6));
    if (!v->anchor_is_glass) {
        v->crystal = v->crystal[0] != '\0' ? v->crystal : s->name;
        crystallises = DF_CRYSTAL_READILY;
    }
    STEP(df_yaml_choice(ctx, &crystallises, map, "crystallises", false, forms, 3));
#undef STEP
    if (status != DF_OK)
        return status;
    v->beside_organics = besides[beside];
    s->own = s->is_involatile = true;
    s->molar_mass = 1e-3 * molar / v->particles;
    s->melting_temperature = s->boiling_temperature = s->critical_temperature = s->critical_pressure = NAN;
    s->crystallises = (df_crystallises)crystallises;
    s->worst_grade = DF_GRADE_ESTIMATED;
    s->liquid_density = s->solid_density = df_constant_curve(density, s->source);
    s->liquid_heat_capacity = s->solid_heat_capacity = s->gas_heat_capacity =
        df_constant_curve(1e3 * heat * s->molar_mass, s->source);
    status = check_names(ctx, set, s, map);
    return status == DF_OK ? check_anchor(ctx, set, s, map) : status;
}

/* Reads all of a file, or nothing of it. */
static df_status
extend(df_context *ctx, df_substances *set, const char *buffer, size_t length, const char *name, const char *key,
       df_status (*read)(df_context *ctx, df_substances *set, df_substance *s, const df_yaml_node *map)) {
    df_yaml *yaml = NULL;
    df_yaml_items items;
    df_status status = df_yaml_parse(ctx, &yaml, buffer, length, name);
    if (status != DF_OK)
        return status;
    size_t before = set->count;
    status = df_yaml_items_find(ctx, &items, df_yaml_root(yaml), key);
    for (size_t i = 0; status == DF_OK && i < items.count; i++) {
        const df_yaml_node *map = df_yaml_items_at(&items, i);
        if (set->count == DF_MAX_SUBSTANCES)
            status = df_yaml_fail(ctx, map, "more than %d substances and solutes", DF_MAX_SUBSTANCES);
        else if ((status = read(ctx, set, &set->items[set->count], map)) == DF_OK)
            set->count++;
    }
    if (status != DF_OK)
        set->count = before;
    df_yaml_free(yaml);
    return status;
}

df_status df_substances_extend(df_context *ctx, df_substances *set, const char *buffer, size_t length,
                               const char *name) {
    return extend(ctx, set, buffer, length, name, "substances", read_substance);
}

df_status df_solutes_extend(df_context *ctx, df_substances *set, const char *buffer, size_t length,
                            const char *name) {
    return extend(ctx, set, buffer, length, name, "solutes", read_solute);
}
