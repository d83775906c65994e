/* Pair parameters, hydrates and group contributions: loading, look-up and prediction. */
#include "mixture/mixture.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define MAX_SUBGROUPS 64
#define MAX_MAIN 64

typedef struct pair_row {
    const char *i, *j;
    df_pair_covariance *covariance; /* the pair's, NULL: none */
    df_nrtl_pair pair;
} pair_row;

typedef struct hydrate_row {
    const char *key, *name, *source;
    double water, temperature, x, enthalpy, sigma;
    df_crystallises crystallises;
} hydrate_row;

/* What an organic liquid does to a kind of solute. */
typedef struct salting_row {
    const char *key, *kind, *source;
    double ln_gamma;
    bool measured;
} salting_row;

typedef struct assignment {
    const char *key;
    int subgroup; /* index in subgroups */
    double count;
} assignment;

struct df_pairs {
    df_csv *tables[8];
    size_t table_count;
    pair_row *pairs;
    size_t pair_count;
    df_pair_covariance *covariances;
    double (*draws)[DF_PAIR_PARAMETERS]; /* DF_PAIR_DRAWS of each */
    hydrate_row *hydrates;
    size_t hydrate_count;
    salting_row *salting;
    size_t salting_count;
    assignment *assignments;
    size_t assignment_count;
    int number[MAX_SUBGROUPS], main_group[MAX_SUBGROUPS];
    double r[MAX_SUBGROUPS], q[MAX_SUBGROUPS];
    size_t subgroups;
    struct {
        double a, b, c;
        bool known;
    } interaction[MAX_MAIN][MAX_MAIN]; /* by main-group index */
    int main_number[MAX_MAIN];
    size_t mains;
};

static df_status open_table(df_context *ctx, df_pairs *p, df_csv **csv, const char *name) {
    df_status status = df_csv_builtin(ctx, csv, name);
    if (status == DF_OK)
        p->tables[p->table_count++] = *csv; /* texts stay in use */
    return status;
}

static df_status number(df_context *ctx, double *value, const df_csv *csv, size_t row, const char *column,
                        double missing) {
    return df_csv_number(ctx, value, csv, row, df_csv_find(csv, column), missing);
}

static const char *text(const df_csv *csv, size_t row, const char *column) {
    return df_csv_cell(csv, row, df_csv_find(csv, column));
}

static df_status load_pairs(df_context *ctx, df_pairs *p) {
    static const char *const grades[] = {"cold", "warm", "predicted", "ideal"};
    df_csv *csv = NULL;
    df_status status = open_table(ctx, p, &csv, "pairs.csv");
    if (status != DF_OK)
        return status;
    p->pairs = calloc(df_csv_rows(csv) + 1, sizeof *p->pairs);
    if (p->pairs == NULL)
        return df_fail(ctx, DF_E_MEMORY, "out of memory");
    for (size_t row = 0; row < df_csv_rows(csv); row++) {
        pair_row *r = &p->pairs[p->pair_count++];
        r->i = text(csv, row, "i");
        r->j = text(csv, row, "j");
        const struct {
            double *value;
            const char *column;
            double missing;
        } fields[] = {
            {&r->pair.a[0], "a_ij", 0.0},      {&r->pair.b[0], "b_ij_K", 0.0},    {&r->pair.c[0], "c_ij", 0.0},
            {&r->pair.a[1], "a_ji", 0.0},      {&r->pair.b[1], "b_ji_K", 0.0},    {&r->pair.c[1], "c_ji", 0.0},
            {&r->pair.cold[0], "cold_0", 0.0}, {&r->pair.cold[1], "cold_1", 0.0}, {&r->pair.cold[2], "cold_2", 0.0},
            {&r->pair.alpha, "alpha", NAN},    {&r->pair.lowest, "Tmin_K", NAN},  {&r->pair.highest, "Tmax_K", NAN}};
        for (size_t f = 0; f < sizeof fields / sizeof fields[0]; f++) {
            status = number(ctx, fields[f].value, csv, row, fields[f].column, fields[f].missing);
            if (status != DF_OK)
                return status;
        }
        r->pair.source = text(csv, row, "source");
        const char *grade = text(csv, row, "grade");
        int g = 0;
        while (g < 4 && strcmp(grades[g], grade) != 0)
            g++;
        if (g == 4 || isnan(r->pair.alpha))
            return df_fail(ctx, DF_E_INPUT, "%s:%zu: grade or alpha is missing", df_csv_name(csv),
                           df_csv_line(csv, row));
        r->pair.grade = (df_pair_grade)g;
    }
    return DF_OK;
}

/* Numbers of a cell separated by spaces, at most `most`; how many, or -1 where something else stands there too. */
static int number_list(double *value, int most, const char *cell) {
    int n = 0;
    while (*cell != '\0') {
        if (n == most || !df_number_scan(&value[n], &cell, cell))
            return -1;
        n++;
    }
    return n;
}

/* Lower Cholesky factor of the covariance whose upper triangle stands in `upper` row by row; a direction without
 * spread of its own (to rounding) gets a column of noughts. False where the diagonal is negative. */
static bool cholesky(df_pair_covariance *c, const double *upper) {
    double a[DF_PAIR_PARAMETERS][DF_PAIR_PARAMETERS];
    for (size_t i = 0, at = 0; i < c->n; i++)
        for (size_t j = i; j < c->n; j++, at++)
            a[j][i] = upper[at];
    for (size_t j = 0; j < c->n; j++) {
        double d = a[j][j];
        for (size_t k = 0; k < j; k++)
            d -= c->column[k][j] * c->column[k][j];
        if (a[j][j] < 0.0)
            return false;
        if (d <= 1e-12 * a[j][j])
            continue;
        c->column[j][j] = sqrt(d);
        for (size_t i = j + 1; i < c->n; i++) {
            double sum = a[i][j];
            for (size_t k = 0; k < j; k++)
                sum -= c->column[k][i] * c->column[k][j];
            c->column[j][i] = sum / c->column[j][j];
        }
    }
    return true;
}

/* Covariances of fitted pairs with water; pairs without a row keep the spread of their grade. */
static df_status load_covariances(df_context *ctx, df_pairs *p) {
    df_csv *csv = NULL;
    df_status status = open_table(ctx, p, &csv, "pairs_covariance.csv");
    if (status != DF_OK)
        return status;
    p->covariances = calloc(df_csv_rows(csv) + 1, sizeof *p->covariances);
    if (p->covariances == NULL)
        return df_fail(ctx, DF_E_MEMORY, "out of memory");
    for (size_t row = 0; row < df_csv_rows(csv); row++) {
        df_pair_covariance *c = &p->covariances[row];
        double list[DF_PAIR_PARAMETERS], upper[DF_PAIR_PARAMETERS * (DF_PAIR_PARAMETERS + 1) / 2];
        int n = number_list(list, DF_PAIR_PARAMETERS, text(csv, row, "parameters"));
        bool sound = n > 0 && number_list(upper, n * (n + 1) / 2, text(csv, row, "covariance")) == n * (n + 1) / 2;
        for (int k = 0; k < n; k++) {
            sound = sound && list[k] >= 0.0 && list[k] < DF_PAIR_PARAMETERS && (k == 0 || list[k] > list[k - 1]);
            c->parameter[k] = sound ? (int)list[k] : 0;
        }
        c->n = sound ? (size_t)n : 0;
        if (!sound || !cholesky(c, upper))
            return df_fail(ctx, DF_E_INPUT, "%s:%zu: this is no covariance", df_csv_name(csv), df_csv_line(csv, row));
        bool known = false;
        for (size_t k = 0; k < p->pair_count; k++)
            if (strcmp(p->pairs[k].i, text(csv, row, "key")) == 0 && strcmp(p->pairs[k].j, "water") == 0) {
                p->pairs[k].pair.covariance = p->pairs[k].covariance = c;
                known = true;
            }
        if (!known)
            return df_fail(ctx, DF_E_INPUT, "%s:%zu: %s with water is not in pairs.csv", df_csv_name(csv),
                           df_csv_line(csv, row), text(csv, row, "key"));
    }
    return DF_OK;
}

/* DF_PAIR_DRAWS rows for each pair with a covariance, in the same order. */
static df_status load_samples(df_context *ctx, df_pairs *p) {
    df_csv *csv = NULL;
    df_status status = open_table(ctx, p, &csv, "pairs_sample.csv");
    if (status != DF_OK)
        return status;
    p->draws = calloc(df_csv_rows(csv) + 1, sizeof *p->draws);
    if (p->draws == NULL)
        return df_fail(ctx, DF_E_MEMORY, "out of memory");
    for (size_t k = 0, row = 0; k < p->pair_count; k++) {
        df_pair_covariance *c = p->pairs[k].covariance;
        for (size_t draw = 0; draw < DF_PAIR_DRAWS && c != NULL; draw++, row++) {
            double list[DF_PAIR_PARAMETERS];
            if (row >= df_csv_rows(csv) || strcmp(text(csv, row, "key"), p->pairs[k].i) != 0 ||
                number_list(list, (int)c->n, text(csv, row, "difference")) != (int)c->n)
                return df_fail(ctx, DF_E_INPUT, "%s: %d draws of %s should stand here, each of %zu numbers",
                               df_csv_name(csv), DF_PAIR_DRAWS, p->pairs[k].i, c->n);
            for (size_t i = 0; i < c->n; i++)
                p->draws[row][c->parameter[i]] = list[i];
        }
        if (c != NULL)
            c->draw = (const double(*)[DF_PAIR_PARAMETERS])(p->draws + row - DF_PAIR_DRAWS);
    }
    return DF_OK;
}

static df_status load_hydrates(df_context *ctx, df_pairs *p) {
    df_csv *csv = NULL;
    df_status status = open_table(ctx, p, &csv, "hydrates.csv");
    if (status != DF_OK)
        return status;
    p->hydrates = calloc(df_csv_rows(csv) + 1, sizeof *p->hydrates);
    if (p->hydrates == NULL)
        return df_fail(ctx, DF_E_MEMORY, "out of memory");
    for (size_t row = 0; row < df_csv_rows(csv); row++) {
        hydrate_row *h = &p->hydrates[p->hydrate_count++];
        h->key = text(csv, row, "key");
        h->name = text(csv, row, "name");
        h->source = text(csv, row, "source");
        const char *word = text(csv, row, "crystallises");
        int how = 0;
        while (how <= DF_CRYSTAL_NOT_IN_PRACTICE && strcmp(word, df_crystallises_name((df_crystallises)how)) != 0)
            how++;
        if (how > DF_CRYSTAL_NOT_IN_PRACTICE)
            return df_fail(ctx, DF_E_INPUT,
                           "%s:%zu: crystallises: '%s' should be readily, reluctantly or not in practice",
                           df_csv_name(csv), df_csv_line(csv, row), word);
        h->crystallises = (df_crystallises)how;
        if ((status = number(ctx, &h->water, csv, row, "water_per_solvent", NAN)) != DF_OK ||
            (status = number(ctx, &h->temperature, csv, row, "saturation_temperature_K", NAN)) != DF_OK ||
            (status = number(ctx, &h->x, csv, row, "saturation_x_solvent", NAN)) != DF_OK ||
            (status = number(ctx, &h->enthalpy, csv, row, "fusion_enthalpy_J_mol", NAN)) != DF_OK ||
            (status = number(ctx, &h->sigma, csv, row, "saturation_uncertainty_K", 0.0)) != DF_OK)
            return status;
        if (!(h->water > 0.0 && h->temperature > 0.0 && h->x > 0.0 && h->x < 1.0 && h->enthalpy > 0.0))
            return df_fail(ctx, DF_E_INPUT, "%s:%zu: a number is missing", df_csv_name(csv), df_csv_line(csv, row));
    }
    return DF_OK;
}

static df_status load_salting(df_context *ctx, df_pairs *p) {
    df_csv *csv = NULL;
    df_status status = open_table(ctx, p, &csv, "salting.csv");
    if (status != DF_OK)
        return status;
    p->salting = calloc(df_csv_rows(csv) + 1, sizeof *p->salting);
    if (p->salting == NULL)
        return df_fail(ctx, DF_E_MEMORY, "out of memory");
    for (size_t row = 0; row < df_csv_rows(csv); row++) {
        salting_row *r = &p->salting[p->salting_count++];
        r->key = text(csv, row, "key");
        r->kind = text(csv, row, "kind");
        r->source = text(csv, row, "source");
        r->measured = strcmp(text(csv, row, "grade"), "measured") == 0;
        status = number(ctx, &r->ln_gamma, csv, row, "ln_gamma", NAN);
        if (status == DF_OK && !(r->ln_gamma >= 0.0 && r->ln_gamma < 20.0))
            status = df_fail(ctx, DF_E_INPUT, "%s:%zu: ln_gamma should be 0 to 20", df_csv_name(csv),
                             df_csv_line(csv, row));
        if (status != DF_OK)
            return status;
    }
    return DF_OK;
}

/* A solute beside an organic liquid. */
static void salting_pair(df_nrtl_pair *out, const df_pairs *p, const df_substance *solute,
                         const df_substance *organic) {
    const salting_row *found = NULL;
    for (size_t row = 0; row < p->salting_count; row++) {
        const salting_row *r = &p->salting[row];
        if (strcmp(r->kind, solute->involatile.beside_organics) != 0)
            continue;
        if (strcmp(r->key, organic->key) == 0) {
            found = r;
            break;
        }
        if (strcmp(r->key, "other") == 0)
            found = r;
    }
    if (found == NULL)
        return; /* ideal */
    out->a[0] = out->a[1] = 0.5 * found->ln_gamma;
    out->grade = found->measured ? DF_PAIR_WARM : DF_PAIR_PREDICTED;
    out->source = found->source;
}

static int main_index(df_pairs *p, int main_number) {
    for (size_t i = 0; i < p->mains; i++)
        if (p->main_number[i] == main_number)
            return (int)i;
    if (p->mains == MAX_MAIN)
        return -1;
    p->main_number[p->mains] = main_number;
    return (int)p->mains++;
}

static df_status load_groups(df_context *ctx, df_pairs *p) {
    df_csv *csv = NULL;
    df_status status = open_table(ctx, p, &csv, "unifac_subgroups.csv");
    if (status != DF_OK)
        return status;
    for (size_t row = 0; row < df_csv_rows(csv); row++) {
        double subgroup, main_number;
        size_t k = p->subgroups;
        if (k == MAX_SUBGROUPS)
            return df_fail(ctx, DF_E_INTERNAL, "too many groups in unifac_subgroups.csv");
        if ((status = number(ctx, &subgroup, csv, row, "subgroup", NAN)) != DF_OK ||
            (status = number(ctx, &main_number, csv, row, "main_group", NAN)) != DF_OK ||
            (status = number(ctx, &p->r[k], csv, row, "R", NAN)) != DF_OK ||
            (status = number(ctx, &p->q[k], csv, row, "Q", NAN)) != DF_OK)
            return status;
        p->number[k] = (int)subgroup;
        p->main_group[k] = main_index(p, (int)main_number);
        if (p->main_group[k] < 0)
            return df_fail(ctx, DF_E_INTERNAL, "too many main groups in unifac_subgroups.csv");
        p->subgroups++;
    }
    for (size_t i = 0; i < MAX_MAIN; i++)
        p->interaction[i][i].known = true;

    status = open_table(ctx, p, &csv, "unifac_interactions.csv");
    if (status != DF_OK)
        return status;
    for (size_t row = 0; row < df_csv_rows(csv); row++) {
        double i, j, a, b, c;
        if ((status = number(ctx, &i, csv, row, "main_i", NAN)) != DF_OK ||
            (status = number(ctx, &j, csv, row, "main_j", NAN)) != DF_OK ||
            (status = number(ctx, &a, csv, row, "a_K", NAN)) != DF_OK ||
            (status = number(ctx, &b, csv, row, "b", 0.0)) != DF_OK ||
            (status = number(ctx, &c, csv, row, "c_per_K", 0.0)) != DF_OK)
            return status;
        int from = main_index(p, (int)i), to = main_index(p, (int)j);
        if (from < 0 || to < 0 || isnan(a))
            continue;
        p->interaction[from][to].a = a;
        p->interaction[from][to].b = b;
        p->interaction[from][to].c = c;
        p->interaction[from][to].known = true;
    }

    status = open_table(ctx, p, &csv, "unifac_assignments.csv");
    if (status != DF_OK)
        return status;
    p->assignments = calloc(df_csv_rows(csv) + 1, sizeof *p->assignments);
    if (p->assignments == NULL)
        return df_fail(ctx, DF_E_MEMORY, "out of memory");
    for (size_t row = 0; row < df_csv_rows(csv); row++) {
        assignment *a = &p->assignments[p->assignment_count++];
        double subgroup;
        a->key = text(csv, row, "key");
        if ((status = number(ctx, &subgroup, csv, row, "subgroup", NAN)) != DF_OK ||
            (status = number(ctx, &a->count, csv, row, "count", NAN)) != DF_OK)
            return status;
        a->subgroup = -1;
        for (size_t k = 0; k < p->subgroups; k++)
            if (p->number[k] == (int)subgroup)
                a->subgroup = (int)k;
        if (a->subgroup < 0)
            return df_fail(ctx, DF_E_INPUT, "%s:%zu: subgroup %g is not in unifac_subgroups.csv", df_csv_name(csv),
                           df_csv_line(csv, row), subgroup);
    }
    return DF_OK;
}

static df_status create(df_context *ctx, df_pairs **pairs, bool bare) {
    *pairs = NULL;
    df_pairs *p = calloc(1, sizeof *p);
    if (p == NULL)
        return df_fail(ctx, DF_E_MEMORY, "out of memory");
    df_status status = bare ? DF_OK : load_pairs(ctx, p);
    if (status == DF_OK && !bare)
        status = load_covariances(ctx, p);
    if (status == DF_OK && !bare)
        status = load_samples(ctx, p);
    if (status == DF_OK)
        status = load_hydrates(ctx, p);
    if (status == DF_OK)
        status = load_salting(ctx, p);
    if (status == DF_OK)
        status = load_groups(ctx, p);
    if (status != DF_OK) {
        df_pairs_free(p);
        return status;
    }
    *pairs = p;
    return DF_OK;
}

df_status df_pairs_create(df_context *ctx, df_pairs **pairs) {
    return create(ctx, pairs, false);
}

df_status df_pairs_create_bare(df_context *ctx, df_pairs **pairs) {
    return create(ctx, pairs, true);
}

void df_pairs_free(df_pairs *p) {
    if (p == NULL)
        return;
    for (size_t i = 0; i < p->table_count; i++)
        df_csv_free(p->tables[i]);
    free(p->pairs);
    free(p->covariances);
    free(p->draws);
    free(p->hydrates);
    free(p->salting);
    free(p->assignments);
    free(p);
}

void df_pairs_get(df_nrtl_pair *out, const df_pairs *p, const df_substance *i, const df_substance *j) {
    if (i->is_involatile || j->is_involatile) {
        df_involatile_pair(out, i, j);
        if (i->is_involatile != j->is_involatile && !i->is_water && !j->is_water)
            salting_pair(out, p, i->is_involatile ? i : j, i->is_involatile ? j : i);
        return;
    }
    for (size_t row = 0; row < p->pair_count; row++) {
        const pair_row *r = &p->pairs[row];
        if (strcmp(r->i, i->key) == 0 && strcmp(r->j, j->key) == 0) {
            *out = r->pair;
            return;
        }
        if (strcmp(r->i, j->key) == 0 && strcmp(r->j, i->key) == 0) {
            *out = r->pair;
            for (int k = 0; k < 2; k++) {
                out->a[k] = r->pair.a[1 - k];
                out->b[k] = r->pair.b[1 - k];
                out->c[k] = r->pair.c[1 - k];
            }
            out->cold[1] = -r->pair.cold[1];
            out->reversed = true;
            return;
        }
    }
    if (df_predict_pair(out, p, i, j))
        return;
    memset(out, 0, sizeof *out);
    out->alpha = 0.3;
    out->lowest = out->highest = NAN;
    out->grade = DF_PAIR_IDEAL;
    out->source = "no data and no group parameters: taken as ideal";
}

/* ln K at the point of saturation, from the liquid of that composition in the binary of solvent and water. */
double df_hydrate_reference_ln(const df_mixture *m, size_t k) {
    const df_solid *s = &m->solid[k];
    size_t solvent = m->n, water = m->n;
    for (size_t i = 0; i < m->n && s->component < 0; i++)
        if (m->component[i]->is_water)
            water = i;
        else if (s->formula[i] > 0.0)
            solvent = i;
    if (solvent == m->n || water == m->n || !(s->reference_x > 0.0))
        return NAN;
    size_t part[2] = {solvent < water ? solvent : water, solvent < water ? water : solvent};
    df_mixture binary = {.n = 2, .component = {m->component[part[0]], m->component[part[1]]}};
    binary.pair[0][1] = m->pair[part[0]][part[1]];
    double x = part[0] == water ? 1.0 - s->reference_x : s->reference_x, gamma[2];
    df_mixture_activity(gamma, NULL, &binary, s->reference_temperature, (const double[]){x, 1.0 - x});
    return s->formula[part[0]] * (log(x) + gamma[0]) + s->formula[part[1]] * (log(1.0 - x) + gamma[1]);
}

df_status df_pairs_add_hydrates(df_context *ctx, df_mixture *m, const df_pairs *p) {
    size_t water = m->n;
    for (size_t i = 0; i < m->n; i++)
        if (m->component[i]->is_water)
            water = i;
    for (size_t h = 0; h < p->hydrate_count && water < m->n; h++) {
        const hydrate_row *row = &p->hydrates[h];
        for (size_t i = 0; i < m->n; i++) {
            if (strcmp(m->component[i]->key, row->key) != 0)
                continue;
            if (m->solids == DF_MAX_SOLIDS)
                return df_fail(ctx, DF_E_INTERNAL, "more than %d solids", DF_MAX_SOLIDS);
            df_solid *s = &m->solid[m->solids++];
            snprintf(s->name, sizeof s->name, "%s", row->name);
            s->component = -1;
            s->formula[i] = 1.0;
            s->formula[water] = row->water;
            s->crystallises = row->crystallises;
            s->source = row->source;
            s->reference_temperature = row->temperature;
            s->enthalpy = row->enthalpy;
            s->reference_x = row->x;
            s->reference_sigma = row->sigma;
            s->reference_ln = df_hydrate_reference_ln(m, m->solids - 1);
        }
    }
    return DF_OK;
}

/* Residual part of one composition of groups: ln Gamma_k. */
static void residual(double *gamma, const df_pairs *p, size_t groups, const int *group, const double *share,
                     const double (*psi)[MAX_SUBGROUPS]) {
    double area = 0.0, theta[MAX_SUBGROUPS], sum[MAX_SUBGROUPS];
    for (size_t k = 0; k < groups; k++)
        area += share[k] * p->q[group[k]];
    for (size_t k = 0; k < groups; k++)
        theta[k] = share[k] * p->q[group[k]] / area;
    for (size_t k = 0; k < groups; k++) {
        sum[k] = 0.0;
        for (size_t m = 0; m < groups; m++)
            sum[k] += theta[m] * psi[m][k];
    }
    for (size_t k = 0; k < groups; k++) {
        double other = 0.0;
        for (size_t m = 0; m < groups; m++)
            other += theta[m] * psi[k][m] / sum[m];
        gamma[k] = p->q[group[k]] * (1.0 - log(sum[k]) - other);
    }
}

bool df_unifac_activity(double *gamma_ln, const df_pairs *p, const df_substance *const *substances, size_t n,
                        double temperature, const double *x) {
    int group[MAX_SUBGROUPS] = {0};
    size_t groups = 0;
    double count[DF_N][MAX_SUBGROUPS] = {{0}}, psi[MAX_SUBGROUPS][MAX_SUBGROUPS];
    for (size_t i = 0; i < n; i++) {
        bool any = false;
        for (size_t row = 0; row < p->assignment_count; row++) {
            const assignment *a = &p->assignments[row];
            if (strcmp(a->key, substances[i]->key) != 0)
                continue;
            size_t k = 0;
            while (k < groups && group[k] != a->subgroup)
                k++;
            if (k == groups)
                group[groups++] = a->subgroup;
            count[i][k] += a->count;
            any = true;
        }
        if (!any)
            return false;
    }
    for (size_t k = 0; k < groups; k++)
        for (size_t m = 0; m < groups; m++) {
            int from = p->main_group[group[k]], to = p->main_group[group[m]];
            if (!p->interaction[from][to].known)
                return false;
            psi[k][m] = exp(-(p->interaction[from][to].a / temperature + p->interaction[from][to].b +
                              p->interaction[from][to].c * temperature));
        }
    /* Combinatorial part with the 3/4 exponent. */
    double r[DF_N], q[DF_N], r34 = 0.0, rx = 0.0, qx = 0.0;
    for (size_t i = 0; i < n; i++) {
        r[i] = q[i] = 0.0;
        for (size_t k = 0; k < groups; k++) {
            r[i] += count[i][k] * p->r[group[k]];
            q[i] += count[i][k] * p->q[group[k]];
        }
        r34 += x[i] * pow(r[i], 0.75);
        rx += x[i] * r[i];
        qx += x[i] * q[i];
    }
    double share[MAX_SUBGROUPS] = {0}, mixed[MAX_SUBGROUPS], pure[MAX_SUBGROUPS];
    for (size_t k = 0; k < groups; k++) {
        share[k] = 0.0;
        for (size_t i = 0; i < n; i++)
            share[k] += x[i] * count[i][k];
    }
    residual(mixed, p, groups, group, share, (const double(*)[MAX_SUBGROUPS])psi);
    for (size_t i = 0; i < n; i++) {
        double v34 = pow(r[i], 0.75) / r34, v = r[i] / rx, f = q[i] / qx;
        gamma_ln[i] = 1.0 - v34 + log(v34) - 5.0 * q[i] * (1.0 - v / f + log(v / f));
        residual(pure, p, groups, group, count[i], (const double(*)[MAX_SUBGROUPS])psi);
        for (size_t k = 0; k < groups; k++)
            if (count[i][k] > 0.0)
                gamma_ln[i] += count[i][k] * (mixed[k] - pure[k]);
    }
    return true;
}
