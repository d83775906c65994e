/* Resistance of a product's dried layer, from a run's log by runs of the simulator. */
#include "watch/fit.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define LEAST_POINTS 8
#define MOST_POINTS 150
#define MOST_PROBES 12
#define TEMPERATURE_BAND 0.5 /* K, of a probe */
#define MOST_MISFIT 5.0      /* of these bands (assumption) */
#define LEAST_NOISE 0.02     /* of these bands: no reading is better */
#define WEIGHT_BAND 0.01     /* of the volatiles */
#define KV_BAND 0.05         /* of the shelf coefficient where it is not told: assumption */
#define OUTSTANDING 3.5      /* scatters: less is no corner */
#define EVACUATED 1.5        /* medians of the pressure under which the run proper has begun */
#define DIFFERENCE 0.1       /* relative, of the parameters: large against the noise of a run's steps */
#define SETTLING 1200.0      /* s after which probes count */
#define NEAR_SHELF 3.0       /* K below the shelf: a probe nearer than that has no ice */
#define SHARE_USED 0.85 /* of the time until a probe leaves the ice: then containers begin to dry out one by one */
#define SHELF_ERROR 0.1 /* K, of the shelf drawn by few corners, */
#define PRESSURE_ERROR 0.03 /* relative, and of the pressure */
#define WIDE_BEND 5.0       /* standard deviation of A2 times the depth: no cake known bends much more (assumption) */

typedef struct probe {
    df_series series;
    df_log_quantity quantity;
    size_t container; /* class of the setup */
    double scale;
} probe;

/* Parameters: R0, A1, A2, ln of a factor on the shelf coefficient. */
typedef struct baking {
    df_stand *stand;
    df_setup setup;
    double factor[DF_MAX_CLASSES]; /* of the shelf coefficient, as set up */
    probe probe[MOST_PROBES];
    size_t probes;
    double start, kv_band, depth;
} baking;

/* What a probe would read at a moment. */
static double reading(const baking *x, const probe *p, const df_moment *m) {
    const df_class *c = &x->setup.classes[p->container];
    const df_class_moment *at = &m->container[p->container];
    double share[DF_MAX_COMPONENTS], left = 0.0;
    switch (p->quantity) {
    case DF_LOG_FRONT_TEMPERATURE:
        return at->front;
    case DF_LOG_WEIGHT:
        df_composition_fractions(share, &c->composition, DF_BASIS_MASS);
        for (size_t i = 0; i < c->composition.n; i++)
            left += share[i] * at->left[i];
        return c->mass * (left - 1.0); /* change since the start */
    default:
        return at->hottest;
    }
}

/* Slope at moment m between its neighbours, without overshoot (Fritsch & Butland, SIAM J. Sci. Stat. Comput. 5 (1984) 300). */
static double slope_at(const baking *x, const probe *p, const df_run *run, size_t m) {
    if (m == 0 || m + 1 >= run->moments)
        return 0.0;
    const df_moment *a = &run->moment[m - 1], *b = &run->moment[m], *c = &run->moment[m + 1];
    double h1 = b->time - a->time, h2 = c->time - b->time;
    if (!(h1 > 0.0 && h2 > 0.0))
        return 0.0;
    double d1 = (reading(x, p, b) - reading(x, p, a)) / h1, d2 = (reading(x, p, c) - reading(x, p, b)) / h2;
    if (d1 * d2 <= 0.0)
        return 0.0;
    return 3.0 * (h1 + h2) / ((2.0 * h2 + h1) / d1 + (h2 + 2.0 * h1) / d2);
}

/* Reading at a time after moment m: a cubic, so that the simulator's steps leave no trace in the derivatives. */
static double reading_at(const baking *x, const probe *p, const df_run *run, size_t m, double time) {
    const df_moment *a = &run->moment[m], *b = &run->moment[m + (m + 1 < run->moments)];
    double h = b->time - a->time, ya = reading(x, p, a), yb = reading(x, p, b);
    if (!(h > 0.0))
        return ya;
    double u = fmin(fmax((time - a->time) / h, 0.0), 1.0), w = 1.0 - u;
    return w * w * (1.0 + 2.0 * u) * ya + u * u * (3.0 - 2.0 * u) * yb +
           h * u * w * (w * slope_at(x, p, run, m) - u * slope_at(x, p, run, m + 1));
}

static bool baking_residuals(double *r, const double *v, void *data) {
    baking *x = data;
    df_run run;
    for (size_t k = 0; k < x->setup.class_count; k++) {
        df_cake *cake = &x->setup.classes[k].cake;
        cake->r0 = v[0];
        cake->a1 = v[1];
        cake->a2 = v[2];
        x->setup.classes[k].kv_factor = x->factor[k] * exp(v[3]);
    }
    if (df_run_simulate(NULL, &run, &x->setup) < 0)
        return false;
    for (size_t k = 0; k < x->probes; k++) {
        const probe *p = &x->probe[k];
        size_t m = 0;
        for (size_t i = 0; i < p->series.n; i++) {
            double t = p->series.time[i] - x->start;
            while (m + 2 < run.moments && run.moment[m + 1].time < t)
                m++;
            double model = reading_at(x, p, &run, m, t);
            double read = p->series.value[i] - (p->quantity == DF_LOG_WEIGHT ? p->series.value[0] : 0.0);
            *r++ = (model - read) / p->scale;
        }
    }
    df_run_free(&run);
    *r++ = v[3] / x->kv_band;
    *r++ = v[2] * x->depth / WIDE_BEND;
    return true;
}

/* ---- the recipe that the log shows ---------------------------------------------------------------------------- */

/* Scatter of a series from its second differences, which a slow change leaves alone. */
static double scatter(const df_series *s, bool relative) {
    double sum = 0.0;
    for (size_t i = 1; i + 1 < s->n; i++) {
        double bend = s->value[i - 1] - 2.0 * s->value[i] + s->value[i + 1];
        bend /= relative ? s->value[i] : 1.0;
        sum += bend * bend;
    }
    return s->n > 2 ? sqrt(sum / 6.0 / (double)(s->n - 2)) : 0.0;
}

/* Few corners for shelf and pressure: from the two ends on, the worst place becomes a corner, if it stands out of the scatter. */
static void draw_recipe(df_recipe *recipe, const df_series *shelf, const df_series *pressure, double from,
                        double until) {
    enum { GRID = 400, MOST_CORNERS = 16 };
    size_t corner[MOST_CORNERS] = {0, GRID}, n = 2;
    double t[GRID + 1], s[GRID + 1], p[GRID + 1];
    for (size_t i = 0; i <= GRID; i++) {
        t[i] = from + (until - from) * (double)i / GRID;
        s[i] = shelf->n > 0 ? df_series_at(shelf, t[i]) : 0.0;
        p[i] = pressure->n > 0 ? df_series_at(pressure, t[i]) : 0.0;
    }
    double shelf_error = fmax(SHELF_ERROR, OUTSTANDING * scatter(shelf, false));
    double pressure_error = fmax(PRESSURE_ERROR, OUTSTANDING * scatter(pressure, true));
    for (;;) {
        double worst = 1.0;
        size_t at = 0, before = 0;
        for (size_t k = 0; k + 1 < n; k++)
            for (size_t i = corner[k] + 1; i < corner[k + 1]; i++) {
                double part = (double)(i - corner[k]) / (double)(corner[k + 1] - corner[k]);
                double es = fabs(s[corner[k]] + part * (s[corner[k + 1]] - s[corner[k]]) - s[i]) / shelf_error;
                double ep = p[i] > 0.0 ? fabs(p[corner[k]] + part * (p[corner[k + 1]] - p[corner[k]]) - p[i]) /
                                             (pressure_error * p[i])
                                       : 0.0;
                if (fmax(es, ep) > worst) {
                    worst = fmax(es, ep);
                    at = i;
                    before = k;
                }
            }
        if (at == 0 || n == MOST_CORNERS)
            break;
        memmove(&corner[before + 2], &corner[before + 1], (n - before - 1) * sizeof *corner);
        corner[before + 1] = at;
        n++;
    }
    recipe->n = n;
    for (size_t k = 0; k < n; k++) {
        recipe->time[k] = t[corner[k]] - from;
        if (shelf->n > 0)
            recipe->shelf_temperature[k] = s[corner[k]];
        recipe->pressure[k] = p[corner[k]];
    }
}

static int ascending(const void *a, const void *b) {
    double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

/* Leaves out the evacuation, which the simulator makes by itself: what comes before the pressure is first about what it is in
 * the middle of the run. DF_E_MEMORY. */
static df_status leave_out_evacuation(df_context *ctx, df_series *s) {
    double *sorted = malloc(s->n * sizeof *sorted);
    if (sorted == NULL)
        return df_fail(ctx, DF_E_MEMORY, "out of memory");
    memcpy(sorted, s->value, s->n * sizeof *sorted);
    qsort(sorted, s->n, sizeof *sorted, ascending);
    double usual = sorted[s->n / 2];
    size_t first = 0;
    while (first + 1 < s->n && s->value[first] > EVACUATED * usual)
        first++;
    s->n -= first;
    memmove(s->value, s->value + first, s->n * sizeof *s->value);
    memmove(s->time, s->time + first, s->n * sizeof *s->time);
    free(sorted);
    return DF_OK;
}

static df_status follow_log(df_context *ctx, baking *x, df_fit *fit, const df_log *log, double from, double until) {
    df_series shelf = {0}, pressure = {0};
    df_status status = DF_OK;
    df_recipe *recipe = &x->setup.recipe, stated = *recipe;
    bool controlled = x->setup.dryer->chamber.control != DF_CONTROL_NONE;
    if (df_log_count(log, DF_LOG_SHELF_TEMPERATURE) > 0)
        status = df_series_take(ctx, &shelf, log, DF_LOG_SHELF_TEMPERATURE, 0, from, until, false, 2, 400);
    if (status == DF_OK && controlled && df_log_count(log, DF_LOG_CHAMBER_PRESSURE) > 0)
        status = df_series_take(ctx, &pressure, log, DF_LOG_CHAMBER_PRESSURE, 0, from, until, true, 2, 400);
    if (status == DF_OK && pressure.n > 0)
        status = leave_out_evacuation(ctx, &pressure);
    if (status == DF_OK && shelf.n > 0) {
        draw_recipe(recipe, &shelf, &pressure, from, until);
        for (size_t i = 0; i < recipe->n && pressure.n == 0; i++)
            recipe->pressure[i] = df_interpolate(stated.time, stated.pressure, stated.n, recipe->time[i]);
    } else if (status == DF_OK)
        df_fit_remark(fit, "the log has no shelf temperature: the recipe of the job is taken");
    if (status == DF_OK && pressure.n == 0)
        df_fit_remark(
            fit, controlled ? "the log has no chamber pressure: that of the job's recipe is taken"
                            : "the dryer has no pressure control: its pressure is computed, not taken from the log");
    df_series_free(&shelf);
    df_series_free(&pressure);
    return status;
}

/* ---- probes --------------------------------------------------------------------------------------------------- */

/* Time until which a probe sits in ice: well before it has come up to the shelf for good. */
static double end_of_ice(const df_log *log, df_log_quantity quantity, size_t index, double from, double until) {
    const double *t = df_log_values(log, DF_LOG_TIME, 0), *v = df_log_values(log, quantity, index),
                 *shelf = df_log_values(log, DF_LOG_SHELF_TEMPERATURE, 0);
    double last = from;
    if (shelf == NULL || df_log_note(log, "until") != NULL)
        return until;
    for (size_t i = 0; i < df_log_rows(log); i++)
        if (t[i] >= from && t[i] <= until && v[i] < shelf[i] - NEAR_SHELF)
            last = t[i];
    return last < until - 0.02 * (until - from) ? from + SHARE_USED * (last - from) : until;
}

/* Class in which the index-th probe stands: by the note 'probes' ("centre, edge, ..."), else 'position', else the centre. */
static df_status class_of(df_context *ctx, size_t *container, const baking *x, const df_log *log, size_t index) {
    const char *list = df_log_note(log, "probes"), *all = df_log_note(log, "position");
    char word[32] = "centre";
    if (list != NULL) {
        for (size_t i = 0; i < index && list != NULL; i++) {
            list = strchr(list, ',');
            list = list != NULL ? list + 1 : NULL;
        }
        if (list == NULL)
            return df_fail(ctx, DF_E_INPUT,
                           "%s: probes: fewer places than probes; write one for each column, e.g. "
                           "'centre, edge'",
                           df_log_name(log));
        while (*list == ' ')
            list++;
        size_t length = strcspn(list, ", ");
        snprintf(word, sizeof word, "%.*s", (int)(length < 31 ? length : 31), list);
    } else if (all != NULL)
        snprintf(word, sizeof word, "%.31s", all);
    size_t spot = 0;
    while (spot < DF_SPOTS && !df_name_equal(word, df_spot_name((df_spot)spot)))
        spot++;
    if (spot == DF_SPOTS)
        return df_fail(ctx, DF_E_INPUT, "%s: '%.31s' is none of centre, edge, corner and door", df_log_name(log),
                       word);
    for (size_t k = 0; k < x->setup.class_count; k++)
        if (x->setup.classes[k].spot == (df_spot)spot) {
            *container = k;
            return DF_OK;
        }
    return df_fail(ctx, DF_E_INPUT, "%s: a probe stands in the place '%s', but the job has no such container",
                   df_log_name(log), word);
}

static df_status take_probes(df_context *ctx, baking *x, df_least *p, df_fit *fit, const df_log *log, double from,
                             double until) {
    static const df_log_quantity quantities[] = {DF_LOG_PRODUCT_TEMPERATURE, DF_LOG_FRONT_TEMPERATURE, DF_LOG_WEIGHT};
    for (size_t q = 0; q < 3; q++)
        for (size_t i = 0; i < df_log_count(log, quantities[q]) && x->probes < MOST_PROBES; i++) {
            probe *to = &x->probe[x->probes];
            bool weight = quantities[q] == DF_LOG_WEIGHT;
            double end = weight ? until : end_of_ice(log, quantities[q], i, from, until);
            to->quantity = quantities[q];
            df_status status = class_of(ctx, &to->container, x, log, i);
            if (status == DF_OK)
                status = df_series_take(ctx, &to->series, log, quantities[q], i, weight ? from : from + SETTLING, end,
                                        false, LEAST_POINTS, MOST_POINTS);
            if (status != DF_OK)
                return status;
            to->scale = weight ? WEIGHT_BAND * x->setup.classes[to->container].mass : TEMPERATURE_BAND;
            p->data += to->series.n;
            p->least_noise = fmax(p->least_noise, fmax(to->series.resolution / sqrt(12.0) / to->scale, LEAST_NOISE));
            x->probes++;
            if (end < until)
                df_fit_remark(
                    fit, "'%.60s' is used up to %.1f h: then it nears the shelf, and containers dry out one by one",
                    df_log_column_name(log, quantities[q], i), (end - from) / 3600.0);
        }
    if (x->probes == 0)
        return df_fail(ctx, DF_E_INPUT, "%s: no column of product_temperature, front_temperature or weight was found",
                       df_log_name(log));
    return DF_OK;
}

static void start_problem(df_least *p, const baking *x) {
    const df_cake *cake = &x->setup.classes[0].cake;
    const double start[4] = {cake->r0, fmax(cake->a1, 1e6), fmax(cake->a2, 0.1 / x->depth), 0.0};
    const double lower[4] = {10.0, 0.0, 0.0, -1.0}, upper[4] = {1e8, 1e11, 1e6, 1.0};
    p->parameters = 4;
    p->priors = 2;
    for (size_t i = 0; i < 4; i++) {
        p->value[i] = start[i];
        p->lower[i] = lower[i];
        p->upper[i] = upper[i];
        p->step[i] = i < 3 ? DIFFERENCE * start[i] : 0.5 * DIFFERENCE;
    }
    p->step[2] = DIFFERENCE / x->depth;
}

df_status df_tune_product(df_context *ctx, df_fit *fit, df_cake *cake, const df_dryer *dryer, const df_job *job,
                          const df_pairs *pairs, const df_log *log) {
    df_least p;
    double from, until;
    memset(&p, 0, sizeof p);
    df_fit_begin(fit, DF_TEST_PRODUCT, &log, 1);
    baking *x = calloc(1, sizeof *x);
    df_stand *stand = calloc(1, sizeof *stand);
    df_status status = x != NULL && stand != NULL ? DF_OK : df_fail(ctx, DF_E_MEMORY, "out of memory");
    if (status == DF_OK)
        status = df_series_window(ctx, &from, &until, log);
    bool judged = false;
    if (status == DF_OK) {
        status = df_stand_simulate(ctx, stand, job, dryer, pairs, NULL);
        judged = status >= 0;
        status = status > 0 ? DF_OK : status;
    }
    if (status == DF_OK && !stand->simulated)
        status =
            df_fail(ctx, DF_E_INPUT, "%s: the job is not dried as frozen: %.200s", df_log_name(log), stand->because);
    if (status == DF_OK) {
        x->stand = stand;
        x->setup = stand->setup;
        x->setup.keep_going = true;
        x->setup.whole_recipe = false;
        x->setup.terse = x->setup.stop_short = x->setup.until_solvent = false;
        x->setup.time_limit = until - from;
        x->setup.tolerance = 1e-6; /* moments close enough for straight lines between them */
        x->start = from;
        x->kv_band = KV_BAND;
        for (size_t k = 0; k < x->setup.class_count; k++) {
            x->factor[k] = x->setup.classes[k].kv_factor;
            x->depth = fmax(x->depth, x->setup.classes[k].shape.thickness);
        }
        status = df_log_note_quantity(ctx, &x->kv_band, log, "kv_band", DF_DIM_PERCENT, 1e-4, 1.0);
    }
    if (status == DF_OK)
        status = follow_log(ctx, x, fit, log, from, until);
    if (status == DF_OK)
        status = take_probes(ctx, x, &p, fit, log, from, until);
    if (status == DF_OK) {
        start_problem(&p, x);
        status = df_least_fit(ctx, &p, baking_residuals, x, df_log_name(log));
    }
    if (status == DF_OK) {
        df_fit_settle(fit, &p, x->probe[0].quantity == DF_LOG_WEIGHT ? 100.0 * WEIGHT_BAND : TEMPERATURE_BAND,
                      MOST_MISFIT, x->probe[0].quantity == DF_LOG_WEIGHT ? "% of the volatiles" : "K");
        bool known = job->cake.stated;
        cake->r0 = df_fit_find(fit, "cake.r0", DF_DIM_RESISTANCE, "m/s", p.value[0], p.sigma[0],
                               known ? job->cake.r0 : NAN, false);
        cake->a1 = df_fit_find(fit, "cake.a1", DF_DIM_RESISTANCE_SLOPE, "1/s", p.value[1], p.sigma[1],
                               known ? job->cake.a1 : NAN, false);
        cake->a2 = df_fit_find(fit, "cake.a2", DF_DIM_PER_LENGTH, "1/m", p.value[2], p.sigma[2],
                               known ? job->cake.a2 : NAN, false);
        cake->stated = true;
        for (size_t i = 0; i < 3; i++)
            fit->finding[i].quoted = true;
        /* The whole resistance at half and full depth is known better than its parts. */
        for (int half = 1; half <= 2; half++) {
            double depth = 0.5 * half * x->depth, open = 1.0 + p.value[2] * depth;
            double g[3] = {1.0, depth / open, -p.value[1] * depth * depth / (open * open)}, variance = 0.0;
            for (size_t a = 0; a < 3; a++)
                for (size_t b = 0; b < 3; b++)
                    variance += g[a] * g[b] * p.covariance[a][b];
            df_fit_find(fit, half == 1 ? "resistance at half depth" : "resistance at full depth", DF_DIM_RESISTANCE,
                        "m/s", p.value[0] + p.value[1] * depth / open, sqrt(fmax(variance, 0.0)), NAN, false);
        }
        df_fit_find(fit, "factor on the shelf's coefficient", DF_DIM_NUMBER, "", exp(p.value[3]),
                    exp(p.value[3]) * p.sigma[3], NAN, false);
        if (df_log_note(log, "kv_band") == NULL)
            df_fit_remark(fit, "the shelf's coefficient is taken as known to 5 %% (assumption; 'kv_band: 3 %%' says "
                               "otherwise)");
    }
    for (size_t k = 0; x != NULL && k < MOST_PROBES; k++)
        df_series_free(&x->probe[k].series);
    if (judged)
        df_stand_free(stand);
    free(stand);
    free(x);
    return status;
}
