/* The table of substances: loading the built-in data. */
#include "substance/set.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static const char *const grade_names[] = {"measured", "correlation", "estimated", "from memory"};
static const char *const crystallises_names[] = {"readily", "reluctantly", "not in practice"};

const char *df_grade_name(df_grade grade) {
    return grade_names[grade];
}
const char *df_crystallises_name(df_crystallises crystallises) {
    return crystallises_names[crystallises];
}

static const struct {
    const char *name;
    df_form form;
    int coefficients;
} forms[] = {
    {"CONSTANT", DF_FORM_CONSTANT, 1},
    {"CHEMSEP1", DF_FORM_CONSTANT, 1},
    {"LINEAR", DF_FORM_LINEAR, 2},
    {"CHEMSEP2", DF_FORM_POLYNOMIAL, 1},
    {"CHEMSEP100", DF_FORM_POLYNOMIAL, 1},
    {"DIPPR100", DF_FORM_POLYNOMIAL, 1},
    {"DIPPR101", DF_FORM_DIPPR101, 5},
    {"CHEMSEP102", DF_FORM_DIPPR102, 2},
    {"DIPPR102", DF_FORM_DIPPR102, 2},
    {"DIPPR105", DF_FORM_DIPPR105, 4},
    {"DIPPR106", DF_FORM_DIPPR106, 2},
    {"DIPPR107", DF_FORM_DIPPR107, 5},
    {"DIPPR114", DF_FORM_DIPPR114, 4},
    {"PPDS10", DF_FORM_PPDS10, 5},
    {"CHEMSEP16", DF_FORM_CHEMSEP16, 5},
    {"ZAB_CUBIC", DF_FORM_ZAB_CUBIC, 1},
    {"ZAB_QUASI", DF_FORM_ZAB_QUASI, 6},
    {"POLING_CP", DF_FORM_POLING_CP, 1},
    {"ANTOINE_LN_PA_K", DF_FORM_ANTOINE_LN, 3},
    {"ANTOINE_LOG10_PA_K", DF_FORM_ANTOINE_LOG10, 3},
    {"WAGNER25", DF_FORM_WAGNER25, 4},
    {"WAGNER36", DF_FORM_WAGNER36, 4},
    {"IAPWS_SR1_86", DF_FORM_IAPWS_SR1_86, 0},
};
#define FORM_COUNT (sizeof forms / sizeof forms[0])

size_t df_form_count(void) {
    return FORM_COUNT;
}
const char *df_form_name(size_t index) {
    return forms[index].name;
}
df_form df_form_at(size_t index, int *coefficients) {
    *coefficients = forms[index].coefficients;
    return forms[index].form;
}

/* Factor from a result's unit to SI; 0 for a unit that does not belong to the property. */
static double unit_factor(const char *unit, double molar_mass, bool density) {
    if (density) {
        if (strcmp(unit, "kmol/m3") == 0 || strcmp(unit, "mol/dm3") == 0)
            return 1000.0 * molar_mass;
        return strcmp(unit, "kg/m3") == 0 ? 1.0 : 0.0;
    }
    if (strcmp(unit, "Pa") == 0 || strcmp(unit, "J/mol/K") == 0 || strcmp(unit, "-") == 0 || strcmp(unit, "") == 0 ||
        strcmp(unit, "J/mol") == 0)
        return 1.0;
    return strcmp(unit, "J/kmol/K") == 0 || strcmp(unit, "J/kmol") == 0 ? 1e-3 : 0.0;
}

static int word_index(const char *word, const char *const *words, int count) {
    for (int i = 0; i < count; i++)
        if (strcmp(word, words[i]) == 0)
            return i;
    return -1;
}

static df_correlation *correlation_slot(df_substance *s, const char *property) {
    if (strcmp(property, "liquid_vapour_pressure") == 0)
        return &s->vapour_pressure;
    if (strcmp(property, "liquid_density") == 0)
        return &s->liquid_density;
    if (strcmp(property, "solid_density") == 0)
        return &s->solid_density;
    if (strcmp(property, "liquid_heat_capacity") == 0)
        return &s->liquid_heat_capacity;
    if (strcmp(property, "solid_heat_capacity") == 0)
        return &s->solid_heat_capacity;
    if (strcmp(property, "gas_heat_capacity") == 0)
        return &s->gas_heat_capacity;
    return NULL;
}

static double *constant_slot(df_substance *s, const char *property, double *factor) {
    *factor = 1.0;
    if (strcmp(property, "molar_mass") == 0) {
        *factor = 1e-3; /* g/mol */
        return &s->molar_mass;
    }
    if (strcmp(property, "melting_temperature") == 0)
        return &s->melting_temperature;
    if (strcmp(property, "boiling_temperature") == 0)
        return &s->boiling_temperature;
    if (strcmp(property, "critical_temperature") == 0)
        return &s->critical_temperature;
    if (strcmp(property, "critical_pressure") == 0)
        return &s->critical_pressure;
    if (strcmp(property, "fusion_enthalpy") == 0)
        return &s->fusion_enthalpy;
    if (strcmp(property, "transition_temperature_1") == 0)
        return &s->transition[0].temperature;
    if (strcmp(property, "transition_enthalpy_1") == 0)
        return &s->transition[0].enthalpy;
    if (strcmp(property, "transition_temperature_2") == 0)
        return &s->transition[1].temperature;
    if (strcmp(property, "transition_enthalpy_2") == 0)
        return &s->transition[1].enthalpy;
    if (strcmp(property, "glass_temperature") == 0)
        return &s->glass_temperature;
    if (strcmp(property, "flash_point") == 0)
        return &s->flash_point;
    if (strcmp(property, "lower_explosive_limit") == 0) {
        *factor = 0.01; /* % by volume */
        return &s->lower_explosive_limit;
    }
    if (strcmp(property, "exposure_limit_8h") == 0) {
        *factor = 1e-6; /* ppm */
        return &s->exposure_limit;
    }
    return NULL;
}

/* Derives what the property functions need; says what a substance lacks. */
df_status df_substance_complete(df_context *ctx, df_substance *s, const char *where) {
    const struct {
        double value;
        const char *name;
    } needed[] = {{s->molar_mass, "molar_mass"},
                  {s->melting_temperature, "melting_temperature"},
                  {s->boiling_temperature, "boiling_temperature"},
                  {s->critical_temperature, "critical_temperature"},
                  {s->critical_pressure, "critical_pressure"},
                  {s->fusion_enthalpy, "fusion_enthalpy"}};
    for (size_t i = 0; i < sizeof needed / sizeof needed[0]; i++)
        if (!(needed[i].value > 0.0))
            return df_fail(ctx, DF_E_INPUT, "%s: substance '%s' lacks %s", where, s->key, needed[i].name);
    const struct {
        const df_correlation *value;
        const char *name;
    } curves[] = {{&s->vapour_pressure, "liquid_vapour_pressure"},
                  {&s->liquid_density, "liquid_density"},
                  {&s->solid_density, "solid_density"},
                  {&s->liquid_heat_capacity, "liquid_heat_capacity"},
                  {&s->solid_heat_capacity, "solid_heat_capacity"},
                  {&s->gas_heat_capacity, "gas_heat_capacity"}};
    for (size_t i = 0; i < sizeof curves / sizeof curves[0]; i++)
        if (curves[i].value->form == DF_FORM_NONE)
            return df_fail(ctx, DF_E_INPUT, "%s: substance '%s' lacks %s", where, s->key, curves[i].name);

    for (size_t i = 0; i < DF_MAX_TRANSITIONS; i++)
        if (s->transition[i].temperature > 0.0 && s->transition[i].enthalpy > 0.0)
            s->transitions = i + 1;
    s->is_water = strcmp(s->key, "water") == 0;
    s->fusion_heat_capacity =
        df_liquid_heat_capacity(s, s->melting_temperature) - df_solid_heat_capacity(s, s->melting_temperature);

    const df_correlation *p = &s->vapour_pressure;
    s->edge_low = p->lowest;
    s->edge_high = fmin(p->highest, s->critical_temperature);
    double d = 1e-4 * p->lowest;
    double here = log(df_correlation_value(p, p->lowest));
    double above = log(df_correlation_value(p, p->lowest + d)), below = log(df_correlation_value(p, p->lowest - d));
    s->edge_low_ln = here;
    s->edge_low_enthalpy = DF_GAS_CONSTANT * p->lowest * p->lowest * (above - below) / (2.0 * d);
    s->edge_low_slope = df_gas_heat_capacity(s, p->lowest) - df_liquid_heat_capacity(s, p->lowest);
    if (!isfinite(here) || !(s->edge_low_enthalpy > 0.0))
        return df_fail(ctx, DF_E_INPUT, "%s: the vapour pressure of '%s' does not rise at its lower end, %.1f K",
                       where, s->key, p->lowest);
    /* Above the range: ln p = a + b/T + c ln T through value and slope at the edge and the critical point. */
    double t1 = s->edge_high, tc = s->critical_temperature;
    d = 1e-4 * t1;
    double ln1 = log(df_correlation_value(p, t1));
    double slope = (ln1 - log(df_correlation_value(p, t1 - d))) / d;
    if (tc - t1 > 0.5) {
        /* value: a + b/t1 + c ln t1 = ln1;  slope: -b/t1^2 + c/t1 = slope;  a + b/tc + c ln tc = ln pc */
        double k = log(tc / t1) + t1 / tc - 1.0; /* coefficient of c after b = c t1 - slope t1^2 is put in */
        s->high_c = (log(s->critical_pressure) - ln1 - slope * t1 * t1 * (1.0 / t1 - 1.0 / tc)) / k;
        s->high_b = s->high_c * t1 - slope * t1 * t1;
        s->high_a = ln1 - s->high_b / t1 - s->high_c * log(t1);
    } else { /* the range reaches the critical point: go on in a straight line of ln p against 1/T */
        s->high_c = 0.0;
        s->high_b = -slope * t1 * t1;
        s->high_a = ln1 - s->high_b / t1;
    }
    return DF_OK;
}

df_correlation df_constant_curve(double value, const char *source) {
    return (df_correlation){.form = DF_FORM_CONSTANT,
                            .c = {value},
                            .critical_temperature = NAN,
                            .critical_pressure = NAN,
                            .lowest = 1.0,
                            .highest = 1e4,
                            .scale = 1.0,
                            .grade = DF_GRADE_ESTIMATED,
                            .source = source};
}

void df_substance_blank(df_substance *s) {
    memset(s, 0, sizeof *s);
    s->glass_temperature = s->flash_point = s->lower_explosive_limit = s->exposure_limit = NAN;
    s->aliases = s->cas = s->formula = s->family = s->source = s->crystallises_source = s->dimer_source = "";
}

static df_substance *find_exact(const df_substances *set, const char *key) {
    for (size_t i = 0; i < set->count; i++)
        if (strcmp(set->items[i].key, key) == 0)
            return &set->items[i];
    return NULL;
}

static df_status read_correlation(df_context *ctx, df_correlation *k, const df_csv *csv, size_t row,
                                  double molar_mass, bool density) {
    char where[160];
    snprintf(where, sizeof where, "%s:%zu", df_csv_name(csv), df_csv_line(csv, row));
    const char *form = df_csv_cell(csv, row, df_csv_find(csv, "form"));
    size_t index = 0;
    while (index < FORM_COUNT && strcmp(forms[index].name, form) != 0)
        index++;
    if (index == FORM_COUNT)
        return df_fail(ctx, DF_E_INPUT, "%s: form '%s' is not known", where, form);
    k->form = forms[index].form;
    for (int i = 0; i < 6; i++) {
        char column[8];
        snprintf(column, sizeof column, "c%d", i + 1);
        df_status status = df_csv_number(ctx, &k->c[i], csv, row, df_csv_find(csv, column),
                                         i < forms[index].coefficients ? (i > 0 ? 0.0 : NAN) : 0.0);
        if (status != DF_OK)
            return status;
        if (isnan(k->c[i]))
            return df_fail(ctx, DF_E_INPUT, "%s: c%d is missing", where, i + 1);
    }
    df_status status = df_csv_number(ctx, &k->critical_temperature, csv, row, df_csv_find(csv, "Tc_K"), NAN);
    if (status == DF_OK)
        status = df_csv_number(ctx, &k->critical_pressure, csv, row, df_csv_find(csv, "Pc_Pa"), NAN);
    if (status == DF_OK)
        status = df_csv_number(ctx, &k->lowest, csv, row, df_csv_find(csv, "Tmin_K"), 1.0);
    if (status == DF_OK)
        status = df_csv_number(ctx, &k->highest, csv, row, df_csv_find(csv, "Tmax_K"), 1e4);
    if (status != DF_OK)
        return status;
    k->scale = unit_factor(df_csv_cell(csv, row, df_csv_find(csv, "unit")), molar_mass, density);
    if (k->scale == 0.0)
        return df_fail(ctx, DF_E_INPUT, "%s: unit '%s' does not belong to this property", where,
                       df_csv_cell(csv, row, df_csv_find(csv, "unit")));
    int grade = word_index(df_csv_cell(csv, row, df_csv_find(csv, "grade")), grade_names, 4);
    k->source = df_csv_cell(csv, row, df_csv_find(csv, "source"));
    if (grade < 0 || k->source[0] == '\0')
        return df_fail(ctx, DF_E_INPUT, "%s: grade or source is missing", where);
    k->grade = (df_grade)grade;
    return DF_OK;
}

static df_status open_table(df_context *ctx, df_substances *set, df_csv **csv, const char *name) {
    df_status status = df_csv_builtin(ctx, csv, name);
    if (status == DF_OK)
        set->tables[set->table_count++] = *csv; /* texts stay in use */
    return status;
}

static df_status load_names(df_context *ctx, df_substances *set) {
    df_csv *csv = NULL;
    df_status status = open_table(ctx, set, &csv, "substances.csv");
    if (status != DF_OK)
        return status;
    for (size_t row = 0; row < df_csv_rows(csv); row++) {
        df_substance *s = &set->items[set->count++];
        df_substance_blank(s);
        s->key = df_csv_cell(csv, row, df_csv_find(csv, "key"));
        s->name = df_csv_cell(csv, row, df_csv_find(csv, "name"));
        s->aliases = df_csv_cell(csv, row, df_csv_find(csv, "aliases"));
        s->cas = df_csv_cell(csv, row, df_csv_find(csv, "cas"));
        s->formula = df_csv_cell(csv, row, df_csv_find(csv, "formula"));
        s->family = df_csv_cell(csv, row, df_csv_find(csv, "family"));
        s->source = df_csv_cell(csv, row, df_csv_find(csv, "source"));
        s->crystallises_source = df_csv_cell(csv, row, df_csv_find(csv, "crystallises_source"));
        int crystallises = word_index(df_csv_cell(csv, row, df_csv_find(csv, "crystallises")), crystallises_names, 3);
        if (crystallises < 0)
            return df_fail(ctx, DF_E_INPUT, "%s:%zu: crystallises is none of readily, reluctantly, not in practice",
                           df_csv_name(csv), df_csv_line(csv, row));
        s->crystallises = (df_crystallises)crystallises;
    }
    return DF_OK;
}

static df_status load_constants(df_context *ctx, df_substances *set) {
    df_csv *csv = NULL;
    df_status status = open_table(ctx, set, &csv, "constants.csv");
    if (status != DF_OK)
        return status;
    int key = df_csv_find(csv, "key"), property = df_csv_find(csv, "property"), grade = df_csv_find(csv, "grade");
    for (size_t row = 0; row < df_csv_rows(csv); row++) {
        df_substance *s = find_exact(set, df_csv_cell(csv, row, key));
        double factor, *slot = s != NULL ? constant_slot(s, df_csv_cell(csv, row, property), &factor) : NULL;
        if (slot == NULL)
            continue; /* a property that only reports use */
        status = df_csv_number(ctx, slot, csv, row, df_csv_find(csv, "value"), NAN);
        if (status != DF_OK)
            return status;
        *slot *= factor;
        int g = word_index(df_csv_cell(csv, row, grade), grade_names, 4);
        bool bears =
            slot == &s->melting_temperature || slot == &s->fusion_enthalpy || slot == &s->boiling_temperature;
        if (g > (int)s->worst_grade && bears)
            s->worst_grade = (df_grade)g;
    }
    return DF_OK;
}

static df_status load_correlations(df_context *ctx, df_substances *set) {
    df_csv *csv = NULL;
    df_status status = open_table(ctx, set, &csv, "correlations.csv");
    if (status != DF_OK)
        return status;
    for (size_t row = 0; row < df_csv_rows(csv); row++) {
        df_substance *s = find_exact(set, df_csv_cell(csv, row, df_csv_find(csv, "key")));
        const char *property = df_csv_cell(csv, row, df_csv_find(csv, "property"));
        df_correlation *slot = s != NULL ? correlation_slot(s, property) : NULL;
        if (slot == NULL)
            continue;
        status = read_correlation(ctx, slot, csv, row, s->molar_mass, strstr(property, "density") != NULL);
        if (status != DF_OK)
            return status;
        if (slot->grade > s->worst_grade)
            s->worst_grade = slot->grade;
    }
    return DF_OK;
}

static df_status load_dimers(df_context *ctx, df_substances *set) {
    df_csv *csv = NULL;
    df_status status = open_table(ctx, set, &csv, "dimers.csv");
    if (status != DF_OK)
        return status;
    for (size_t row = 0; row < df_csv_rows(csv); row++) {
        df_substance *s = find_exact(set, df_csv_cell(csv, row, df_csv_find(csv, "key")));
        if (s == NULL)
            continue;
        double reference;
        status = df_csv_number(ctx, &s->dimer_enthalpy, csv, row, df_csv_find(csv, "enthalpy_J_mol"), 0.0);
        if (status == DF_OK)
            status = df_csv_number(ctx, &s->dimer_entropy, csv, row, df_csv_find(csv, "entropy_J_molK"), 0.0);
        if (status == DF_OK)
            status =
                df_csv_number(ctx, &reference, csv, row, df_csv_find(csv, "standard_pressure_Pa"), DF_ATMOSPHERE);
        if (status != DF_OK)
            return status;
        s->dimer_entropy += DF_GAS_CONSTANT * log(DF_ATMOSPHERE / reference);
        s->dimer_source = df_csv_cell(csv, row, df_csv_find(csv, "source"));
    }
    return DF_OK;
}

/* Solutes: data/solutes.csv. */
static df_status load_involatiles(df_context *ctx, df_substances *set) {
    df_csv *csv = NULL;
    df_status status = open_table(ctx, set, &csv, "solutes.csv");
    for (size_t row = 0; status == DF_OK && row < df_csv_rows(csv); row++) {
        df_substance *s = &set->items[set->count++];
        df_involatile *v = &s->involatile;
        double molar = NAN, heat = NAN, density = NAN;
        df_substance_blank(s);
        const struct {
            const char **text;
            const char *column;
        } texts[] = {{&s->key, "key"},
                     {&s->name, "name"},
                     {&s->aliases, "aliases"},
                     {&s->cas, "cas"},
                     {&s->formula, "formula"},
                     {&s->family, "family"},
                     {&s->source, "source"},
                     {&s->crystallises_source, "source"},
                     {&v->crystal, "crystal"},
                     {&v->note, "note"},
                     {&v->critical_kind, "critical_kind"},
                     {&v->beside_organics, "beside_organics"}};
        for (size_t i = 0; i < sizeof texts / sizeof texts[0]; i++)
            *texts[i].text = df_csv_cell(csv, row, df_csv_find(csv, texts[i].column));
        const struct {
            double *number;
            const char *column;
            double missing;
        } numbers[] = {{&molar, "molar_mass_g_mol", NAN},
                       {&v->particles, "particles", NAN},
                       {&density, "density_kg_m3", NAN},
                       {&heat, "heat_capacity_J_gK", NAN},
                       {&s->glass_temperature, "glass_temperature_K", NAN},
                       {&v->gordon_taylor, "gordon_taylor_k", NAN},
                       {&v->anchor_temperature, "anchor_temperature_K", NAN},
                       {&v->anchor_fraction, "anchor_w", NAN},
                       {&v->crystal_water, "crystal_water", 0.0},
                       {&v->crystal_enthalpy, "fusion_enthalpy_J_mol", NAN}};
        for (size_t i = 0; i < sizeof numbers / sizeof numbers[0] && status == DF_OK; i++)
            status = df_csv_number(ctx, numbers[i].number, csv, row, df_csv_find(csv, numbers[i].column),
                                   numbers[i].missing);
        int crystallises = word_index(df_csv_cell(csv, row, df_csv_find(csv, "crystallises")), crystallises_names, 3);
        int grade = word_index(df_csv_cell(csv, row, df_csv_find(csv, "grade")), grade_names, 4);
        v->anchor_is_glass = strcmp(df_csv_cell(csv, row, df_csv_find(csv, "anchor_kind")), "glass") == 0;
        if (status != DF_OK)
            return status;
        v->gases = v->gas_source = "";
        bool glass = s->glass_temperature > 0.0;
        if (!(molar > 0.0 && v->particles >= 1.0 && density > 0.0 && heat > 0.0 && v->anchor_temperature > 0.0) ||
            crystallises < 0 || grade < 0 ||
            (v->anchor_is_glass && !(glass && v->anchor_temperature < s->glass_temperature)))
            return df_fail(ctx, DF_E_INPUT,
                           "%s:%zu: a number or a word is missing, or the anchor is no glass colder than the dry one",
                           df_csv_name(csv), df_csv_line(csv, row));
        s->is_involatile = true;
        s->molar_mass = 1e-3 * molar / v->particles;
        s->melting_temperature = s->boiling_temperature = s->critical_temperature = s->critical_pressure = NAN;
        s->crystallises = (df_crystallises)crystallises;
        s->worst_grade = (df_grade)grade;
        s->liquid_density = s->solid_density = df_constant_curve(density, s->source);
        s->liquid_heat_capacity = s->solid_heat_capacity = s->gas_heat_capacity =
            df_constant_curve(1e3 * heat * s->molar_mass, s->source);
    }
    return status;
}

/* Salts that leave as gases: data/dissociation.csv. */
static df_status load_dissociation(df_context *ctx, df_substances *set) {
    df_csv *csv = NULL;
    df_status status = open_table(ctx, set, &csv, "dissociation.csv");
    for (size_t row = 0; status == DF_OK && row < df_csv_rows(csv); row++) {
        df_substance *s = NULL;
        for (size_t i = 0; i < set->count; i++)
            if (strcmp(set->items[i].key, df_csv_cell(csv, row, df_csv_find(csv, "key"))) == 0)
                s = &set->items[i];
        if (s == NULL || !s->is_involatile)
            return df_fail(ctx, DF_E_INPUT, "%s:%zu: this is no solute of solutes.csv", df_csv_name(csv),
                           df_csv_line(csv, row));
        df_involatile *v = &s->involatile;
        const struct {
            double *number;
            const char *column;
        } numbers[] = {{&v->gas_moles, "gas_moles"},
                       {&v->water_moles, "water_moles"},
                       {&v->gas_enthalpy, "enthalpy_J_mol"},
                       {&v->gas_gibbs, "gibbs_J_mol"},
                       {&v->gas_sigma_ln, "pressure_sigma_ln"}};
        for (size_t i = 0; i < sizeof numbers / sizeof numbers[0] && status == DF_OK; i++)
            status = df_csv_number(ctx, numbers[i].number, csv, row, df_csv_find(csv, numbers[i].column), NAN);
        v->gases = df_csv_cell(csv, row, df_csv_find(csv, "gases"));
        v->gas_source = df_csv_cell(csv, row, df_csv_find(csv, "source"));
        if (status == DF_OK && !(v->gas_moles > v->water_moles && v->water_moles >= 0.0 && v->gas_enthalpy > 0.0 &&
                                 v->gas_sigma_ln > 0.0 && isfinite(v->gas_gibbs)))
            status = df_fail(ctx, DF_E_INPUT, "%s:%zu: a number is missing", df_csv_name(csv), df_csv_line(csv, row));
    }
    return status;
}

df_status df_substances_create(df_context *ctx, df_substances **substances) {
    *substances = NULL;
    df_substances *set = calloc(1, sizeof *set);
    if (set == NULL || (set->items = calloc(DF_MAX_SUBSTANCES, sizeof *set->items)) == NULL) {
        free(set);
        return df_fail(ctx, DF_E_MEMORY, "out of memory");
    }
    df_status status = load_names(ctx, set);
    if (status == DF_OK)
        status = load_constants(ctx, set);
    if (status == DF_OK)
        status = load_correlations(ctx, set);
    if (status == DF_OK)
        status = load_dimers(ctx, set);
    size_t with_vapour = set->count;
    if (status == DF_OK)
        status = load_involatiles(ctx, set);
    if (status == DF_OK)
        status = load_dissociation(ctx, set);
    for (size_t i = 0; i < with_vapour && status == DF_OK; i++)
        status = df_substance_complete(ctx, &set->items[i], "built-in data");
    if (status != DF_OK) {
        df_substances_free(set);
        return status;
    }
    *substances = set;
    return DF_OK;
}

df_status df_substances_copy(df_context *ctx, df_substances **copy, const df_substances *substances) {
    *copy = NULL;
    df_substances *set = calloc(1, sizeof *set);
    if (set == NULL || (set->items = calloc(DF_MAX_SUBSTANCES, sizeof *set->items)) == NULL) {
        free(set);
        return df_fail(ctx, DF_E_MEMORY, "out of memory");
    }
    memcpy(set->items, substances->items, substances->count * sizeof *set->items);
    set->count = substances->count;
    *copy = set;
    return DF_OK;
}

void df_substances_free(df_substances *set) {
    if (set == NULL)
        return;
    for (size_t i = 0; i < set->table_count; i++)
        df_csv_free(set->tables[i]);
    for (size_t i = 0; i < set->string_count; i++)
        free(set->strings[i]);
    free(set->strings);
    df_absent_free(&set->absent);
    free(set->items);
    free(set);
}

df_status df_substances_leave_out(df_context *ctx, df_substances *set, const char *name, const char *why) {
    return df_absent_add(ctx, &set->absent, name, why);
}

const char *df_substances_left_out(const df_substances *set, const char *name) {
    return df_absent_why(&set->absent, name);
}

size_t df_substances_count(const df_substances *set) {
    return set->count;
}
const df_substance *df_substances_at(const df_substances *set, size_t index) {
    return &set->items[index];
}

static bool has_alias(const df_substance *s, const char *name) {
    char word[128];
    for (const char *from = s->aliases; *from != '\0';) {
        size_t length = strcspn(from, ";");
        if (length < sizeof word) {
            memcpy(word, from, length);
            word[length] = '\0';
            if (df_name_equal(word, name))
                return true;
        }
        from += length + (from[length] == ';');
    }
    return false;
}

df_status df_substances_find(df_context *ctx, const df_substance **substance, const df_substances *set,
                             const char *name, const char *where) {
    for (size_t i = set->count; i-- > 0;) { /* the user's own come last and win */
        const df_substance *s = &set->items[i];
        if (df_name_equal(s->key, name) || df_name_equal(s->name, name) || has_alias(s, name) ||
            strcmp(s->cas, name) == 0) {
            *substance = s;
            return DF_OK;
        }
    }
    const char *before = where != NULL ? where : "", *colon = where != NULL ? ": " : "",
               *why = df_absent_why(&set->absent, name);
    if (why != NULL)
        return df_fail(ctx, DF_E_UNKNOWN_NAME, "%s%s'%.60s' is left out, its file is unsound: %s", before, colon,
                       name, why);
    const char *names[2 * DF_MAX_SUBSTANCES];
    size_t count = 0;
    for (size_t i = 0; i < set->count; i++) {
        names[count++] = set->items[i].key;
        if (!df_name_equal(set->items[i].key, set->items[i].name))
            names[count++] = set->items[i].name;
    }
    char near[256];
    df_suggest(near, sizeof near, name, names, count);
    if (near[0] != '\0')
        return df_fail(ctx, DF_E_UNKNOWN_NAME, "%s%sno substance is called '%s'; did you mean %s?", before, colon,
                       name, near);
    return df_fail(ctx, DF_E_UNKNOWN_NAME,
                   "%s%sno substance is called '%s'; 'dryfront substances' lists those that are known", before, colon,
                   name);
}

void df_substance_key(df_text *key, const df_substance *substance) {
    df_substance s = *substance;
    df_correlation *correlation[] = {&s.vapour_pressure,      &s.liquid_density,      &s.solid_density,
                                     &s.liquid_heat_capacity, &s.solid_heat_capacity, &s.gas_heat_capacity};
    df_involatile *v = &s.involatile;
    s.key = s.name = s.aliases = s.cas = s.formula = s.family = s.crystallises_source = s.dimer_source = s.source =
        NULL;
    v->critical_kind = v->beside_organics = v->crystal = v->note = v->gases = v->gas_source = NULL;
    for (size_t i = 0; i < sizeof correlation / sizeof correlation[0]; i++)
        correlation[i]->source = NULL;
    df_text_append(key, (const char *)&s, sizeof s);
}
