/* Heat from shelf to container, from ice weighed before and after some hours of sublimation. */
#include "watch/fit.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define MOST_GROUPS 12
#define LEAST_ROWS 3
#define SENSOR 0.5           /* K, one standard deviation of shelf less product where it is not told: assumption */
#define LEAST_DIFFERENCE 1.0 /* K between shelf and product */
#define SAME_PRESSURE 0.01   /* relative: of one test */
#define OTHER_PRESSURE 0.05  /* relative: enough to tell how the coefficient depends on it */
#define MOST_MISFIT 8.0      /* of SCATTER: containers that differ more were not in one test (assumption) */
#define LEAST_NOISE 1e-3     /* relative, of a weighing: none is better */
#define SCATTER 0.05         /* relative, of containers, before the fit finds its own */

typedef struct weighed {
    double kv, pressure, difference;
    bool edge;
    size_t group;
} weighed;

/* Containers of one test share the errors of its temperatures. */
typedef struct group {
    double pressure, sigma, mean;
    size_t n;
} group;

/* Parameters: as many of (contact, gas, gas_bend) as the pressures tell, for one pressure ln of a factor on the old ones; then
 * the shared relative error of each group. */
typedef struct heating {
    const df_dryer *old;
    weighed *row;
    size_t rows, centre, shapes, groups;
    group group[MOST_GROUPS];
} heating;

static double coefficient(const heating *x, const double *v, double pressure) {
    df_dryer d = *x->old;
    if (x->shapes == 1)
        return exp(v[0]) * df_shelf_coefficient(&d, pressure);
    d.shelf.contact = v[0];
    d.shelf.gas = v[1];
    if (x->shapes == 3)
        d.shelf.gas_bend = v[2];
    return df_shelf_coefficient(&d, pressure);
}

static bool heating_residuals(double *r, const double *v, void *data) {
    const heating *x = data;
    double kv[MOST_GROUPS];
    for (size_t g = 0; g < x->groups; g++)
        kv[g] = coefficient(x, v, x->group[g].pressure) * (1.0 + v[x->shapes + g]);
    for (size_t i = 0; i < x->rows; i++)
        if (!x->row[i].edge)
            *r++ = (kv[x->row[i].group] - x->row[i].kv) / (SCATTER * x->group[x->row[i].group].mean);
    for (size_t g = 0; g < x->groups; g++)
        *r++ = v[x->shapes + g] / x->group[g].sigma;
    return true;
}

/* A column's value of a row, else the note's. */
static df_status told(df_context *ctx, double *value, const df_log *log, df_log_quantity column, const char *note,
                      size_t row, double lowest, double highest) {
    const double *v = df_log_values(log, column, 0);
    *value = NAN;
    if (v != NULL)
        *value = v[row];
    else {
        df_status status =
            df_log_note_quantity(ctx, value, log, note, df_log_quantity_dimension(column), lowest, highest);
        if (status != DF_OK)
            return status;
    }
    if (!(*value >= lowest && *value <= highest))
        return df_fail(ctx, DF_E_INPUT,
                       "%s:%zu: %s is missing or out of bounds; give it as a column, or for all rows as a "
                       "note '%s: ...'",
                       df_log_name(log), df_log_line(log, row), df_log_quantity_name(column), note);
    return DF_OK;
}

static df_status find_container(df_context *ctx, df_container *out, const df_dryer *d, const df_log *log) {
    const char *note = df_log_note(log, "container");
    char where[200];
    *out = d->reference.container;
    snprintf(where, sizeof where, "%.120s: container", df_log_name(log));
    if (note != NULL)
        return df_container_find(ctx, out, d->containers, note, where);
    if (d->reference.place != DF_PLACE_SHELF)
        return df_fail(ctx, DF_E_INPUT, "%s: which container? Write 'container: vial_20R' as a note", where);
    return DF_OK;
}

/* Shelf and product temperature, where the table has several probes the mean of the row's. */
static df_status take_row(df_context *ctx, weighed *out, const df_log *log, size_t row, const df_container *container,
                          const df_substance *water) {
    double before, after, lost, shelf, product, duration;
    df_status status = DF_OK;
    const double *direct = df_log_values(log, DF_LOG_LOST, 0), *first = df_log_values(log, DF_LOG_BEFORE, 0),
                 *last = df_log_values(log, DF_LOG_AFTER, 0);
    if (direct == NULL && (first == NULL || last == NULL))
        return df_fail(ctx, DF_E_INPUT,
                       "%s: the columns of weights are missing; name them 'before [g]' and 'after [g]', or "
                       "'lost [g]'",
                       df_log_name(log));
    before = first != NULL ? first[row] : NAN;
    after = last != NULL ? last[row] : NAN;
    lost = direct != NULL ? direct[row] : before - after;
    if (!(lost > 0.0))
        return df_fail(ctx, DF_E_INPUT,
                       "%s:%zu: nothing was lost in this row; leave out containers that were not weighed",
                       df_log_name(log), df_log_line(log, row));
    status = told(ctx, &duration, log, DF_LOG_DURATION, "duration", row, 60.0, 1e7);
    if (status == DF_OK)
        status = told(ctx, &shelf, log, DF_LOG_SHELF_TEMPERATURE, "shelf", row, 150.0, 400.0);
    if (status == DF_OK)
        status = told(ctx, &product, log, DF_LOG_PRODUCT_TEMPERATURE, "product", row, 150.0, 273.16);
    if (status == DF_OK)
        status = told(ctx, &out->pressure, log, DF_LOG_CHAMBER_PRESSURE, "pressure", row, 1e-3, 611.0);
    if (status != DF_OK)
        return status;
    if (!(shelf - product >= LEAST_DIFFERENCE))
        return df_fail(ctx, DF_E_INPUT,
                       "%s:%zu: the product at %.1f °C should lie below the shelf at %.1f °C, by 1 K at "
                       "least",
                       df_log_name(log), df_log_line(log, row), product - DF_ZERO_CELSIUS, shelf - DF_ZERO_CELSIUS);
    const char *place = df_log_words(log, DF_LOG_POSITION, row);
    if (place[0] == '\0' && df_log_note(log, "position") != NULL)
        place = df_log_note(log, "position");
    bool centre = place[0] == '\0' || df_name_equal(place, "centre") || df_name_equal(place, "center");
    out->edge = df_name_equal(place, "edge");
    if (!centre && !out->edge)
        return df_fail(ctx, DF_E_INPUT, "%s:%zu: position: '%.40s' is neither centre nor edge", df_log_name(log),
                       df_log_line(log, row), place);
    double area = M_PI / 4.0 * container->outer_diameter * container->outer_diameter;
    double heat = df_sublimation_enthalpy(water, product) / water->molar_mass;
    out->difference = shelf - product;
    out->kv = lost * heat / (area * duration * out->difference);
    return DF_OK;
}

/* Puts a row into the group of its log and pressure. */
static df_status put_in_group(df_context *ctx, heating *x, weighed *w, size_t first, double sensor,
                              const df_log *log) {
    size_t g = first;
    while (g < x->groups && fabs(x->group[g].pressure / w->pressure - 1.0) > SAME_PRESSURE)
        g++;
    if (g == MOST_GROUPS)
        return df_fail(ctx, DF_E_INPUT, "%s: more than %d tests at different pressures", df_log_name(log),
                       MOST_GROUPS);
    group *to = &x->group[g];
    if (g == x->groups) {
        memset(to, 0, sizeof *to);
        to->pressure = w->pressure;
        to->sigma = sensor / w->difference;
        x->groups++;
    }
    w->group = g;
    if (!w->edge) {
        to->mean += (w->kv - to->mean) / (double)++to->n;
        x->centre++;
    }
    return DF_OK;
}

static df_status take_tables(df_context *ctx, heating *x, const df_dryer *d, const df_substance *water,
                             const df_log *const *logs, size_t n) {
    size_t all = 0;
    for (size_t k = 0; k < n; k++)
        all += df_log_rows(logs[k]);
    x->row = calloc(all, sizeof *x->row);
    if (x->row == NULL)
        return df_fail(ctx, DF_E_MEMORY, "out of memory");
    for (size_t k = 0; k < n; k++) {
        df_container container;
        double sensor = SENSOR;
        size_t first = x->groups;
        df_status status = find_container(ctx, &container, d, logs[k]);
        if (status == DF_OK)
            status = df_log_note_quantity(ctx, &sensor, logs[k], "sensor", DF_DIM_TEMPERATURE_STEP, 0.001, 20.0);
        for (size_t i = 0; i < df_log_rows(logs[k]) && status == DF_OK; i++) {
            weighed *w = &x->row[x->rows];
            status = take_row(ctx, w, logs[k], i, &container, water);
            if (status == DF_OK)
                status = put_in_group(ctx, x, w, first, sensor, logs[k]);
            x->rows++;
        }
        if (status != DF_OK)
            return status;
    }
    /* A group of edge containers alone tells nothing of the centre; its mean stands for the scale only. */
    for (size_t g = 0; g < x->groups; g++)
        if (x->group[g].n == 0)
            x->group[g].mean = 1.0;
    if (x->centre < LEAST_ROWS)
        return df_fail(ctx, DF_E_INPUT, "%s: %zu containers in the centre; at least %d are needed",
                       df_log_name(logs[0]), x->centre, LEAST_ROWS);
    return DF_OK;
}

static size_t count_pressures(const heating *x) {
    size_t n = 0;
    for (size_t g = 0; g < x->groups; g++) {
        bool seen = x->group[g].n == 0;
        for (size_t k = 0; k < g; k++)
            seen = seen ||
                   (x->group[k].n > 0 && fabs(x->group[k].pressure / x->group[g].pressure - 1.0) < OTHER_PRESSURE);
        n += !seen;
    }
    return n;
}

static void start_problem(df_least *p, const heating *x) {
    const df_dryer *old = x->old;
    const double start[3] = {fmax(old->shelf.contact, 1.0), fmax(old->shelf.gas, 0.1),
                             fmax(old->shelf.gas_bend, 1e-3)};
    p->parameters = x->shapes + x->groups;
    p->data = x->centre;
    p->priors = x->groups;
    p->least_noise = LEAST_NOISE / SCATTER;
    for (size_t i = 0; i < p->parameters; i++) {
        bool shape = i < x->shapes, factor = shape && x->shapes == 1;
        p->value[i] = shape && !factor ? start[i] : 0.0;
        p->lower[i] = shape && !factor ? 0.0 : -INFINITY;
        p->upper[i] = INFINITY;
        p->step[i] = shape && !factor ? 1e-3 * start[i] : 1e-4;
    }
}

static void tell(df_fit *fit, df_dryer *dryer, const heating *x, const df_least *p) {
    static const char *const fields[3] = {"shelf.contact", "shelf.gas", "shelf.gas_bend"};
    static const df_dimension dimensions[3] = {DF_DIM_HEAT_TRANSFER, DF_DIM_HEAT_TRANSFER_PER_PRESSURE,
                                               DF_DIM_PER_PRESSURE};
    static const char *const units[3] = {"W/m2/K", "W/m2/K/Pa", "1/Pa"};
    double *const to[3] = {&dryer->shelf.contact, &dryer->shelf.gas, &dryer->shelf.gas_bend};
    const double before[3] = {x->old->shelf.contact, x->old->shelf.gas, x->old->shelf.gas_bend};
    double gradient[3][DF_LEAST_MOST] = {{0.0}};
    df_fit_settle(fit, p, SCATTER * 100.0, MOST_MISFIT, "% of Kv");
    if (x->shapes == 1) {
        double factor = exp(p->value[0]);
        for (size_t i = 0; i < 2; i++) {
            gradient[i][0] = factor * before[i];
            *to[i] = df_fit_find(fit, fields[i], dimensions[i], units[i], factor * before[i],
                                 factor * before[i] * p->sigma[0], before[i], true);
        }
        df_fit_remark(fit,
                      "one pressure: contact and gas are moved together by %.3g; tests at three pressures tell them "
                      "apart",
                      factor);
    } else {
        for (size_t i = 0; i < x->shapes; i++) {
            gradient[i][i] = 1.0;
            *to[i] = df_fit_find(fit, fields[i], dimensions[i], units[i], p->value[i], p->sigma[i], before[i], true);
        }
        if (x->shapes == 2)
            df_fit_remark(fit, "two pressures: gas_bend stays at %.3g 1/Pa; a third pressure tells it", before[2]);
    }
    df_fit_join(fit, p, x->shapes == 1 ? 2 : x->shapes, (const size_t[3]){0, 1, 2}, gradient);
    double scatter = p->noise * SCATTER, freedom = fmax((double)(x->centre - x->shapes), 1.0);
    df_fit_find(fit, "spread of containers", DF_DIM_PERCENT, "%", scatter, scatter / sqrt(2.0 * freedom), NAN, false);
    double sum = 0.0, squares = 0.0, n = 0.0;
    for (size_t i = 0; i < x->rows; i++) {
        const weighed *w = &x->row[i];
        if (!w->edge || x->group[w->group].n == 0)
            continue;
        double ratio = w->kv / x->group[w->group].mean; /* of the same test: shared errors cancel */
        sum += ratio;
        squares += ratio * ratio;
        n += 1.0;
    }
    if (n > 1.0) {
        double mean = sum / n, sd = sqrt(fmax(squares / n - mean * mean, 0.0) * n / (n - 1.0));
        double of_centre = scatter / sqrt((double)x->centre);
        df_fit_find(fit, "edge over centre", DF_DIM_NUMBER, "", mean, hypot(sd / sqrt(n), mean * of_centre), NAN,
                    false);
        df_fit_remark(
            fit, "edge containers do not enter the shelf's coefficient: their surplus is radiation from walls and "
                 "door, which a run computes");
    }
}

df_status df_tune_ice(df_context *ctx, df_fit *fit, df_dryer *dryer, const df_substance *water,
                      const df_log *const *logs, size_t n) {
    heating x;
    df_least p;
    memset(&x, 0, sizeof x);
    memset(&p, 0, sizeof p);
    const df_dryer old = *dryer;
    x.old = &old;
    df_fit_begin(fit, DF_TEST_ICE, logs, n);
    if (!dryer->shelf.present)
        return df_fail(ctx, DF_E_INPUT, "%s: the dryer has no shelf whose heat could be learnt",
                       df_log_name(logs[0]));
    df_status status = take_tables(ctx, &x, dryer, water, logs, n);
    if (status == DF_OK) {
        size_t pressures = count_pressures(&x);
        x.shapes = pressures < 3 ? pressures : 3;
        if (x.shapes == 1 && !(df_shelf_coefficient(dryer, x.group[0].pressure) > 0.0))
            status = df_fail(ctx, DF_E_INPUT,
                             "%s: the dryer's shelf coefficient is 0 and one pressure cannot tell contact from "
                             "gas",
                             df_log_name(logs[0]));
    }
    if (status == DF_OK) {
        start_problem(&p, &x);
        status = df_least_fit(ctx, &p, heating_residuals, &x, df_log_name(logs[0]));
    }
    if (status == DF_OK) {
        tell(fit, dryer, &x, &p);
        bool sensor_told = true;
        for (size_t k = 0; k < n; k++)
            sensor_told = sensor_told && df_log_note(logs[k], "sensor") != NULL;
        if (!sensor_told)
            df_fit_remark(fit,
                          "shelf less product is taken as known to %.1f K in each test (assumption; 'sensor: 0.2 K' "
                          "says otherwise)",
                          SENSOR);
    }
    free(x.row);
    return status;
}
