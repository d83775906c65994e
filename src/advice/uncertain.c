/* What is not sure of a job: the table, and what a job states in its place. */
#include "advice/uncertain.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#define COUNT(a) (sizeof(a) / sizeof((a)[0]))
#define SMALLEST_FACTOR 0.05

static const char *const keys[DF_UNCERTAINS] = {"cake_r0",
                                                "cake_a1",
                                                "shelf_contact",
                                                "shelf_gas",
                                                "frost",
                                                "fill",
                                                "critical_temperature",
                                                "thermodynamics",
                                                "shelf_temperature",
                                                "pressure",
                                                "trap_temperature",
                                                "trap_power",
                                                "leak",
                                                "room_temperature",
                                                "bound",
                                                "sorption_rate",
                                                "sorption_activation"};
static const char *const distributions[] = {"normal", "lognormal", "uniform"};
static const char *const measures[] = {"factor", "K", "sigma"};

const char *df_distribution_name(df_distribution distribution) {
    return distributions[distribution];
}

/* ---- the job's own -------------------------------------------------------------------------------------------- */

static bool is_kelvin(size_t i) {
    return i == DF_UNCERTAIN_CRITICAL || i == DF_UNCERTAIN_SHELF || i == DF_UNCERTAIN_TRAP || i == DF_UNCERTAIN_ROOM;
}
static bool is_sigma(size_t i) {
    return i == DF_UNCERTAIN_THERMODYNAMICS || i >= DF_UNCERTAIN_BOUND;
}

static df_dimension dimension_of(size_t i) {
    return is_kelvin(i) ? DF_DIM_TEMPERATURE_STEP : is_sigma(i) ? DF_DIM_NUMBER : DF_DIM_PERCENT;
}

static df_status read_one(df_context *ctx, df_uncertain_stated *s, const df_yaml_node *map, size_t i) {
    static const char *const fields[] = {"spread", "distribution", "correlation"};
    const df_yaml_node *node = df_yaml_get(map, keys[i]);
    if (node == NULL)
        return DF_OK;
    bool whole = df_yaml_node_kind(node) == DF_YAML_MAP; /* else the spread alone */
    df_dimension dimension = dimension_of(i);
    double most = is_kelvin(i) ? 50.0 : is_sigma(i) ? 5.0 : 3.0;
    int distribution = 0;
    df_status status = whole ? df_yaml_check_keys(ctx, node, fields, COUNT(fields)) : DF_OK;
    if (status == DF_OK)
        status = df_yaml_quantity_in(ctx, &s->spread, whole ? node : map, whole ? "spread" : keys[i], dimension,
                                     false, 0.0, most);
    s->spread_stated = !whole || df_yaml_get(node, "spread") != NULL;
    if (status != DF_OK || !whole)
        return status;
    s->correlation_stated = df_yaml_get(node, "correlation") != NULL;
    s->distribution_stated = df_yaml_get(node, "distribution") != NULL;
    status = df_yaml_choice(ctx, &distribution, node, "distribution", false, distributions, COUNT(distributions));
    s->distribution = (df_distribution)distribution;
    if (status == DF_OK)
        status = df_yaml_quantity_in(ctx, &s->correlation, node, "correlation", DF_DIM_NUMBER, false, -0.99, 0.99);
    if (status == DF_OK && s->distribution_stated && s->distribution == DF_LOGNORMAL && (is_kelvin(i) || is_sigma(i)))
        return df_yaml_fail(ctx, df_yaml_get(node, "distribution"),
                            "lognormal is for factors; write normal or uniform");
    if (status == DF_OK && s->correlation_stated && i != DF_UNCERTAIN_CAKE_A1 && i != DF_UNCERTAIN_TRAP_POWER)
        return df_yaml_fail(ctx, df_yaml_get(node, "correlation"),
                            "only cake_a1 (with cake_r0) and trap_power (with trap_temperature) are correlated");
    return status;
}

df_status df_uncertain_read(df_context *ctx, df_uncertain_stated stated[DF_UNCERTAINS], const df_yaml_node *map) {
    memset(stated, 0, DF_UNCERTAINS * sizeof *stated);
    df_status status = map != NULL ? df_yaml_check_keys(ctx, map, keys, DF_UNCERTAINS) : DF_OK;
    for (size_t i = 0; i < DF_UNCERTAINS && status == DF_OK && map != NULL; i++)
        status = read_one(ctx, &stated[i], map, i);
    return status;
}

void df_uncertain_write(df_yaml_writer *w, const df_uncertain_stated stated[DF_UNCERTAINS]) {
    bool begun = false;
    for (size_t i = 0; i < DF_UNCERTAINS; i++) {
        const df_uncertain_stated *s = &stated[i];
        const char *before = "";
        if (!s->spread_stated && !s->distribution_stated && !s->correlation_stated)
            continue;
        if (!begun) {
            df_yaml_section(w, "uncertainty");
            df_text_puts(w->out, "\n");
            begun = true;
        }
        df_yaml_field(w, keys[i]);
        df_text_puts(w->out, " {");
        if (s->spread_stated) {
            df_text_puts(w->out, "spread: ");
            df_put_quantity(w->out, s->spread, dimension_of(i), NULL);
            before = ", ";
        }
        if (s->distribution_stated) {
            df_text_printf(w->out, "%sdistribution: %s", before, distributions[s->distribution]);
            before = ", ";
        }
        if (s->correlation_stated) {
            df_text_printf(w->out, "%scorrelation: ", before);
            df_put_quantity(w->out, s->correlation, DF_DIM_NUMBER, NULL);
        }
        df_text_puts(w->out, "}\n");
    }
}

/* ---- the table ------------------------------------------------------------------------------------------------ */

static bool choose(int *out, const char *word, const char *const *words, size_t n) {
    for (size_t i = 0; i < n; i++)
        if (strcmp(word, words[i]) == 0) {
            *out = (int)i;
            return true;
        }
    return false;
}

static const char *const columns[] = {"key",          "group",  "what",           "measure",
                                      "distribution", "spread", "spread_assumed", "correlated_with",
                                      "correlation",  "grade",  "source"};

static df_status read_row(df_context *ctx, df_uncertain *u, const df_csv *csv, size_t row, bool assumed) {
    int column[COUNT(columns)], measure = 0, distribution = 0, with = -1;
    const char *cell[COUNT(columns)];
    for (size_t k = 0; k < COUNT(columns); k++) {
        column[k] = df_csv_find(csv, columns[k]);
        cell[k] = df_csv_cell(csv, row, column[k]);
    }
    memset(u, 0, sizeof *u);
    snprintf(u->key, sizeof u->key, "%s", cell[0]);
    snprintf(u->group, sizeof u->group, "%s", cell[1]);
    snprintf(u->what, sizeof u->what, "%s", cell[2]);
    snprintf(u->grade, sizeof u->grade, "%s", cell[9]);
    snprintf(u->source, sizeof u->source, "%s", cell[10]);
    if (strcmp(u->key, keys[row]) != 0 || !choose(&measure, cell[3], measures, COUNT(measures)) ||
        !choose(&distribution, cell[4], distributions, COUNT(distributions)) ||
        (cell[7][0] != '\0' && (!choose(&with, cell[7], keys, row))))
        return df_fail(ctx, DF_E_INTERNAL, "uncertain.csv:%zu: a faulty row", df_csv_line(csv, row));
    u->measure = measure == 0 ? DF_UNCERTAIN_FACTOR : measure == 1 ? DF_UNCERTAIN_KELVIN : DF_UNCERTAIN_SIGMA;
    u->distribution = (df_distribution)distribution;
    u->with = with;
    df_status status = df_csv_number(ctx, &u->spread, csv, row, column[assumed ? 6 : 5], NAN);
    return status == DF_OK ? df_csv_number(ctx, &u->correlation, csv, row, column[8], 0.0) : status;
}

/* Whether the value that an input moves is itself an assumption, or a table's. */
static bool is_assumed(size_t i, const df_job *job) {
    if (i == DF_UNCERTAIN_CAKE_R0 || i == DF_UNCERTAIN_CAKE_A1)
        return !job->cake.stated;
    if (i != DF_UNCERTAIN_CRITICAL)
        return false;
    const df_solute *lowest = NULL;
    for (size_t k = 0; k < job->solutes; k++)
        if (job->solute[k].concentration > 0.0 && !isnan(job->solute[k].critical_temperature) &&
            (lowest == NULL || job->solute[k].critical_temperature < lowest->critical_temperature))
            lowest = &job->solute[k];
    return lowest == NULL || lowest->source == NULL || strcmp(lowest->source, "stated in the job") != 0;
}

static bool bears(size_t i, const df_job *job, const df_dryer *dryer) {
    bool shelf = false, manifold = false, coil = false, held = false, critical = false, solids = false;
    for (size_t k = 0; k < job->groups; k++)
        *(job->group[k].place == DF_PLACE_SHELF ? &shelf : &manifold) = true;
    for (size_t k = 0; k < dryer->traps; k++)
        coil = coil || dryer->trap[k].kind == DF_TRAP_COIL;
    for (size_t k = 0; k < job->recipe.n; k++)
        held = held || job->recipe.pressure[k] > 0.0;
    for (size_t k = 0; k < job->solutes; k++) {
        solids = solids || job->solute[k].concentration > 0.0;
        critical = critical || (job->solute[k].concentration > 0.0 && !isnan(job->solute[k].critical_temperature));
    }
    switch ((df_uncertain_id)i) {
    case DF_UNCERTAIN_SHELF_CONTACT:
    case DF_UNCERTAIN_SHELF_GAS:
    case DF_UNCERTAIN_SHELF:
        return shelf;
    case DF_UNCERTAIN_FROST:
        return manifold;
    case DF_UNCERTAIN_PRESSURE:
        return held;
    case DF_UNCERTAIN_TRAP:
    case DF_UNCERTAIN_TRAP_POWER:
        return coil;
    case DF_UNCERTAIN_CRITICAL:
        return critical;
    case DF_UNCERTAIN_BOUND:
    case DF_UNCERTAIN_RATE:
    case DF_UNCERTAIN_ACTIVATION:
        return solids;
    default:
        return true;
    }
}

df_status df_uncertain_list(df_context *ctx, df_uncertain input[DF_UNCERTAINS], const df_job *job,
                            const df_dryer *dryer) {
    df_csv *csv = NULL;
    df_status status = df_csv_builtin(ctx, &csv, "uncertain.csv");
    if (status == DF_OK)
        status = df_csv_require(ctx, csv, columns, COUNT(columns));
    if (status == DF_OK && df_csv_rows(csv) != DF_UNCERTAINS)
        status = df_fail(ctx, DF_E_INTERNAL, "uncertain.csv: %zu rows where there should be %d", df_csv_rows(csv),
                         DF_UNCERTAINS);
    for (size_t i = 0; i < DF_UNCERTAINS && status == DF_OK; i++) {
        df_uncertain *u = &input[i];
        const df_uncertain_stated *s = &job->uncertain[i];
        status = read_row(ctx, u, csv, i, is_assumed(i, job));
        if (s->spread_stated)
            u->spread = s->spread;
        if (s->correlation_stated)
            u->correlation = s->correlation;
        if (s->distribution_stated)
            u->distribution = s->distribution;
        u->stated = s->spread_stated || s->correlation_stated || s->distribution_stated;
        if (u->stated) {
            snprintf(u->grade, sizeof u->grade, "stated");
            snprintf(u->source, sizeof u->source, "the job");
        }
        u->applies = u->spread > 0.0 && bears(i, job, dryer);
    }
    df_csv_free(csv);
    return status;
}

double df_uncertain_value(const df_uncertain *u, double z) {
    double step = u->distribution == DF_UNIFORM ? u->spread * (erfc(-z * M_SQRT1_2) - 1.0) : u->spread * z;
    if (u->measure != DF_UNCERTAIN_FACTOR)
        return step;
    return fmax(u->distribution == DF_LOGNORMAL ? exp(step) : 1.0 + step, SMALLEST_FACTOR);
}
