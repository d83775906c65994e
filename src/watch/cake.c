/* Resistance of a product's dried layer, from a run's log by runs of the simulator. */
#include "watch/doubt.h"
#include "watch/fit.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define LEAST_POINTS 8
#define MOST_POINTS 150
#define MOST_ROWS 2000 /* of shelf and pressure */
#define MOST_PROBES 12
#define TEMPERATURE_BAND 0.5 /* K, of a probe */
#define MOST_MISFIT 5.0      /* of these bands (assumption) */
#define LEAST_NOISE 0.02     /* of these bands: no reading is better */
#define WEIGHT_BAND 0.01     /* of the volatiles */
#define KV_BAND 0.05         /* of the shelf coefficient where it is not told: assumption */
#define OUTSTANDING 3.5      /* scatters: less is no corner */
#define EVACUATED 1.5        /* medians of the pressure under which the run proper has begun */
#define TOLERANCE 1e-8       /* of the runs: readings repeat to some 1e-5 K, so that */
#define DIFFERENCE 0.02      /* relative, of the parameters, gives derivatives to a per cent */
#define DIFFERENCE_DOUBT 0.2 /* standard deviations of the dryer's constants */
#define LEAST_DOUBT 0.03     /* standard deviations by which a direction must move the readings in all to be fitted */
#define APART 0.1 /* of the time at which a kind of container is dry: they dry out one by one about it (assumption) */
#define BEYOND 1.5                  /* lengths of the log that a run may take: when it is dry is asked, too */
#define MOST_SEARCHES 8             /* for these times */
#define TIMES_SETTLED (APART / 3.0) /* relative: the event stays well within what is left out */
#define FALL_SETTLED 1e-5           /* relative, of the sum of squares: what the runs' tolerance allows */
#define FALL_BEGUN 1e-3 /* of the first search, where what happens when a kind of container is dry still counts */
#define SETTLING 1200.0 /* s after which probes count */
#define NEAR_SHELF 3.0  /* K below the shelf: a probe nearer than that has no ice */
#define SHARE_USED 0.85 /* of the time until a probe leaves the ice: then containers begin to dry out one by one */
#define SHELF_ERROR 0.1 /* K, of the shelf drawn by few corners, */
#define PRESSURE_ERROR 0.03 /* relative, and of the pressure */
#define WIDE_BEND 5.0       /* standard deviation of A2 times the depth: no cake known bends much more (assumption) */

typedef struct probe {
    df_series series;
    df_log_quantity quantity;
    size_t container;  /* class of the setup */
    double scale, ice; /* s of the run until which it shows ice */
} probe;

/* Parameters: R0, A1, A2, ln of a factor on the shelf coefficient of the containers; then the directions in which the dryer is
 * open and which the readings feel. */
enum { OWN = 4 };
typedef struct baking {
    df_stand *stand;
    df_setup setup;
    const df_dryer *found;
    df_dryer dryer; /* as moved: that of the setup */
    df_doubt doubt;
    size_t direction[DF_DOUBT_MOST], directions; /* of the doubt, that are fitted */
    double dry[DF_MAX_CLASSES];                  /* s at which each class is dry, see counts(); NAN: not */
    double factor[DF_MAX_CLASSES];               /* of the shelf coefficient, as set up */
    probe probe[MOST_PROBES];
    size_t probes;
    double start, kv_band, depth;
    bool pressure_logged;
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

/* Whether a probe's reading at a time of the run counts: not where another kind of container dries out. There the vapour in the
 * chamber gives way to bled air, and the product cools: in the model at once, in a dryer over hours. Nor where its own kind
 * does, and after. */
static bool counts(const baking *x, const probe *p, double time) {
    for (size_t k = 0; k < x->setup.class_count; k++)
        if (k == p->container ? time > (1.0 - APART) * x->dry[k] : fabs(time - x->dry[k]) < APART * x->dry[k])
            return false;
    return true;
}

/* By how much a run is dry too soon for a probe that still shows ice, sooner than containers differ, in standard deviations of
 * their times. */
static double too_soon(const probe *p, const df_run *run) {
    double dry = run->classes[p->container].time_dry, ice = (1.0 - APART) * p->ice;
    return dry < ice ? log(ice / dry) / (APART / 3.0) : 0.0;
}

static void move_dryer(baking *x, const double *v) {
    double z[DF_DOUBT_MOST] = {0.0};
    for (size_t j = 0; j < x->directions; j++)
        z[x->direction[j]] = v[OWN + j];
    df_doubt_move(&x->dryer, x->found, &x->doubt, z);
}

static df_status bake(df_context *ctx, df_run *run, baking *x, const double *v) {
    for (size_t k = 0; k < x->setup.class_count; k++) {
        df_cake *cake = &x->setup.classes[k].cake;
        cake->r0 = v[0];
        cake->a1 = v[1];
        cake->a2 = v[2];
        x->setup.classes[k].kv_factor = x->factor[k] * exp(v[3]);
    }
    move_dryer(x, v);
    return df_run_simulate(ctx, run, &x->setup);
}

static bool baking_residuals(double *r, const double *v, void *data) {
    baking *x = data;
    df_run run;
    if (bake(NULL, &run, x, v) < 0)
        return false;
    for (size_t k = 0; k < x->probes; k++) {
        const probe *p = &x->probe[k];
        size_t m = 0;
        for (size_t i = 0; i < p->series.n; i++) {
            double t = p->series.time[i] - x->start;
            if (!counts(x, p, t))
                continue;
            while (m + 2 < run.moments && run.moment[m + 1].time < t)
                m++;
            double model = reading_at(x, p, &run, m, t);
            double read = p->series.value[i] - (p->quantity == DF_LOG_WEIGHT ? p->series.value[0] : 0.0);
            *r++ = (model - read) / p->scale;
        }
    }
    for (size_t k = 0; k < x->probes; k++)
        *r++ = too_soon(&x->probe[k], &run);
    df_run_free(&run);
    *r++ = v[3] / x->kv_band;
    *r++ = v[2] * x->depth / WIDE_BEND;
    for (size_t j = 0; j < x->directions; j++)
        *r++ = v[OWN + j];
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

enum { MOST_CORNERS = 16 };

/* Values at n corners by least squares through the m points of a log: straight lines between corners. */
static void fit_corners(double *value, const double *t, const double *y, size_t m, const size_t *corner, size_t n) {
    double a[MOST_CORNERS * MOST_CORNERS] = {0.0}, b[MOST_CORNERS] = {0.0};
    for (size_t k = 0; k + 1 < n; k++)
        for (size_t i = corner[k]; i < corner[k + 1] + (k + 2 == n) && i < m; i++) {
            double part = (t[i] - t[corner[k]]) / (t[corner[k + 1]] - t[corner[k]]);
            a[k * n + k] += (1.0 - part) * (1.0 - part);
            a[k * n + k + 1] += part * (1.0 - part);
            a[(k + 1) * n + k] += part * (1.0 - part);
            a[(k + 1) * n + k + 1] += part * part;
            b[k] += (1.0 - part) * y[i];
            b[k + 1] += part * y[i];
        }
    if (df_solve_linear(a, b, n))
        memcpy(value, b, n * sizeof *value);
}

/* Few corners for shelf and pressure: from the two ends on, the worst place becomes a corner, if it stands out of the scatter;
 * their values by least squares. DF_E_MEMORY. */
static df_status draw_recipe(df_context *ctx, df_recipe *recipe, const df_series *shelf, const df_series *pressure,
                             double from) {
    size_t m = shelf->n, corner[MOST_CORNERS] = {0, m - 1}, n = 2;
    const double *t = shelf->time, *s = shelf->value;
    double *p = malloc(m * sizeof *p);
    if (p == NULL)
        return df_fail(ctx, DF_E_MEMORY, "out of memory");
    for (size_t i = 0; i < m; i++)
        p[i] = pressure->n > 0 ? df_series_at(pressure, t[i]) : 0.0;
    double shelf_error = fmax(SHELF_ERROR, OUTSTANDING * scatter(shelf, false));
    double pressure_error = fmax(PRESSURE_ERROR, OUTSTANDING * scatter(pressure, true));
    for (;;) {
        double worst = 1.0;
        size_t at = 0, before = 0;
        for (size_t k = 0; k + 1 < n; k++)
            for (size_t i = corner[k] + 1; i < corner[k + 1]; i++) {
                double part = (t[i] - t[corner[k]]) / (t[corner[k + 1]] - t[corner[k]]);
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
        recipe->time[k] = k > 0 ? t[corner[k]] - from : 0.0;
        recipe->shelf_temperature[k] = s[corner[k]];
        recipe->pressure[k] = p[corner[k]];
    }
    fit_corners(recipe->shelf_temperature, t, s, m, corner, n);
    fit_corners(recipe->pressure, t, p, m, corner, n);
    free(p);
    return DF_OK;
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
        status = df_series_take(ctx, &shelf, log, DF_LOG_SHELF_TEMPERATURE, 0, from, until, false, 2, MOST_ROWS);
    if (status == DF_OK && controlled && df_log_count(log, DF_LOG_CHAMBER_PRESSURE) > 0)
        status = df_series_take(ctx, &pressure, log, DF_LOG_CHAMBER_PRESSURE, 0, from, until, true, 2, MOST_ROWS);
    x->pressure_logged = pressure.n > 0;
    if (status == DF_OK && pressure.n > 0)
        status = leave_out_evacuation(ctx, &pressure);
    if (status == DF_OK && shelf.n > 0) {
        status = draw_recipe(ctx, recipe, &shelf, &pressure, from);
        for (size_t i = 0; status == DF_OK && i < recipe->n && pressure.n == 0; i++)
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
            to->ice = weight ? 0.0 : end - from;
            to->quantity = quantities[q];
            df_status status = class_of(ctx, &to->container, x, log, i);
            if (status == DF_OK)
                status = df_series_take(ctx, &to->series, log, quantities[q], i, weight ? from : from + SETTLING, end,
                                        false, LEAST_POINTS, MOST_POINTS);
            if (status != DF_OK)
                return status;
            to->scale = weight ? WEIGHT_BAND * x->setup.classes[to->container].mass : TEMPERATURE_BAND;
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

static double resistance(const double *v, double depth) {
    return v[0] + v[1] * depth / (1.0 + v[2] * depth);
}

static void start_problem(df_least *p, const baking *x) {
    const df_cake *cake = &x->setup.classes[0].cake;
    const double start[OWN] = {cake->r0, fmax(cake->a1, 1e6), fmax(cake->a2, 0.1 / x->depth), 0.0};
    const double lower[OWN] = {10.0, 0.0, 0.0, -1.0}, upper[OWN] = {1e8, 1e11, 1e6, 1.0};
    p->parameters = OWN;
    p->priors = 2 + x->probes;
    for (size_t i = 0; i < OWN; i++) {
        p->value[i] = start[i];
        p->lower[i] = lower[i];
        p->upper[i] = upper[i];
    }
}

/* Steps of the differences from where the parameters stand; the rows that count. */
static void prepare_search(df_least *p, const baking *x) {
    double whole = resistance(p->value, 0.5 * x->depth);
    p->step[0] = DIFFERENCE * whole;
    p->step[1] = DIFFERENCE * fmax(p->value[1], whole / x->depth);
    p->step[2] = DIFFERENCE * (p->value[2] + 1.0 / x->depth);
    p->step[3] = DIFFERENCE;
    p->data = 0;
    for (size_t k = 0; k < x->probes; k++)
        for (size_t i = 0; i < x->probe[k].series.n; i++)
            p->data += counts(x, &x->probe[k], x->probe[k].series.time[i] - x->start);
}

/* Adds the directions of the dryer's doubt that the readings feel. What is left out would move no constant by more than
 * LEAST_DOUBT of its band. DF_E_MEMORY. */
static df_status choose_directions(df_context *ctx, baking *x, df_least *p) {
    size_t rows = p->data + p->priors + DF_DOUBT_MOST;
    double *up = malloc(2 * rows * sizeof *up), *down = up + rows;
    if (up == NULL)
        return df_fail(ctx, DF_E_MEMORY, "out of memory");
    size_t chosen[DF_DOUBT_MOST], n = 0;
    for (size_t j = 0; j < x->doubt.n; j++) {
        x->directions = 1;
        x->direction[0] = j;
        double sum = 0.0, *v = p->value;
        v[OWN] = 1.0;
        bool sound = baking_residuals(up, v, x);
        v[OWN] = -1.0;
        sound = sound && baking_residuals(down, v, x);
        for (size_t i = 0; sound && i < p->data; i++)
            sum += 0.25 * (up[i] - down[i]) * (up[i] - down[i]);
        if (sqrt(sum) > LEAST_DOUBT * p->noise)
            chosen[n++] = j;
    }
    free(up);
    x->directions = n;
    for (size_t j = 0; j < n; j++) {
        size_t i = OWN + j;
        x->direction[j] = chosen[j];
        p->value[i] = 0.0;
        p->lower[i] = -10.0;
        p->upper[i] = 10.0;
        p->step[i] = DIFFERENCE_DOUBT;
    }
    p->parameters = OWN + n;
    p->priors += n;
    return DF_OK;
}

/* Pa of the recipe at half its time. */
static double pressure_amid(const baking *x) {
    const df_recipe *r = &x->setup.recipe;
    return df_interpolate(r->time, r->pressure, r->n, 0.5 * (r->time[0] + r->time[r->n - 1]));
}

/* A controlled chamber rests a little off its set point: set points such that it comes to what the log shows. */
static void hold_pressure(baking *x, const df_run *run) {
    double wanted = pressure_amid(x), time = 0.5 * x->setup.recipe.time[x->setup.recipe.n - 1], total = 0.0;
    size_t m = 0;
    while (m + 1 < run->moments && run->moment[m].time < time)
        m++;
    for (size_t i = 0; i <= run->species; i++)
        total += run->moment[m].chamber[i];
    if (x->pressure_logged && total > 0.0 && fabs(total / wanted - 1.0) < PRESSURE_ERROR)
        for (size_t k = 0; k < x->setup.recipe.n; k++)
            x->setup.recipe.pressure[k] *= wanted / total;
}

/* Fits, finds when each class is dry, leaves out what happens about that, and fits again until these times stay. */
static df_status search(df_context *ctx, baking *x, df_least *p, const char *name) {
    for (size_t k = 0; k < x->setup.class_count; k++)
        x->dry[k] = NAN;
    for (int round = 0; round < MOST_SEARCHES; round++) {
        df_run run;
        prepare_search(p, x);
        p->settled = round == 0 ? FALL_BEGUN : FALL_SETTLED;
        df_status status = df_least_fit(ctx, p, baking_residuals, x, name);
        if (status == DF_OK && round == 0)
            status = choose_directions(ctx, x, p);
        if (status == DF_OK)
            status = bake(ctx, &run, x, p->value);
        if (status < 0)
            return status;
        bool settled = round > 0;
        if (round == 0)
            hold_pressure(x, &run);
        for (size_t k = 0; k < x->setup.class_count; k++) {
            double dry = run.classes[k].time_dry;
            settled = settled && (fabs(dry - x->dry[k]) <= TIMES_SETTLED * dry || (isnan(dry) && isnan(x->dry[k])));
        }
        for (size_t k = 0; k < x->setup.class_count && !settled; k++)
            x->dry[k] = run.classes[k].time_dry;
        df_run_free(&run);
        if (settled)
            break;
    }
    return DF_OK;
}

/* Standard deviation of the ln of the factor on the shelf's coefficient: as told; else, where an ice test found how containers
 * differ, that of the mean of those with a probe; else an assumption. */
static df_status find_kv_band(df_context *ctx, baking *x, df_fit *fit, const df_log *log, const df_fit *learnt,
                              size_t n) {
    x->kv_band = KV_BAND;
    if (df_log_note(log, "kv_band") != NULL)
        return df_log_note_quantity(ctx, &x->kv_band, log, "kv_band", DF_DIM_PERCENT, 1e-4, 1.0);
    for (size_t f = 0; f < n; f++)
        for (size_t i = 0; i < learnt[f].findings && learnt[f].described; i++)
            if (learnt[f].test == DF_TEST_ICE && strcmp(learnt[f].finding[i].field, "spread of containers") == 0) {
                x->kv_band = learnt[f].finding[i].value / sqrt((double)x->probes);
                df_fit_remark(
                    fit,
                    "containers differ by %.2g %% in the ice test: those with a probe, by %.2g %% in the mean; the "
                    "shelf's coefficient itself is known as that test tells it",
                    100.0 * learnt[f].finding[i].value, 100.0 * x->kv_band);
                return DF_OK;
            }
    df_fit_remark(
        fit, "the shelf's coefficient is taken as known to 5 %% (assumption; an ice test beside it or 'kv_band: 3 "
             "%%' says otherwise)");
    return DF_OK;
}

/* ln of the shelf's coefficient over that of the dryer as it is, at a pressure. */
static double coefficient_ln(baking *x, const double *v, double pressure) {
    double before = df_shelf_coefficient(x->found, pressure);
    move_dryer(x, v);
    return v[3] + (before > 0.0 ? log(df_shelf_coefficient(&x->dryer, pressure) / before) : 0.0);
}

static void tell_coefficient(df_fit *fit, baking *x, const df_least *p) {
    double g[DF_LEAST_MOST], v[DF_LEAST_MOST], variance = 0.0;
    double pressure = x->doubt.pressure;
    memcpy(v, p->value, sizeof v);
    for (size_t i = 3; i < p->parameters; i++) {
        v[i] = p->value[i] + p->step[i];
        g[i] = coefficient_ln(x, v, pressure);
        v[i] = p->value[i] - p->step[i];
        g[i] = 0.5 * (g[i] - coefficient_ln(x, v, pressure)) / p->step[i];
        v[i] = p->value[i];
    }
    for (size_t i = 3; i < p->parameters; i++)
        for (size_t k = 3; k < p->parameters; k++)
            variance += g[i] * g[k] * p->covariance[i][k];
    double factor = exp(coefficient_ln(x, v, pressure));
    df_fit_find(fit, "factor on the shelf's coefficient", DF_DIM_NUMBER, "", factor, factor * sqrt(variance), NAN,
                false);
}

df_status df_tune_product(df_context *ctx, df_fit *fit, df_cake *cake, const df_dryer *dryer, const df_job *job,
                          const df_pairs *pairs, const df_log *log, const df_fit *learnt, size_t n) {
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
        x->setup.whole_recipe = true; /* where a trial is dry too soon, its readings go up to the shelf */
        x->setup.terse = x->setup.stop_short = x->setup.until_solvent = false;
        x->setup.time_limit = BEYOND * (until - from);
        x->setup.tolerance = TOLERANCE;
        x->start = from;
        x->found = dryer;
        x->dryer = *dryer;
        x->setup.dryer = &x->dryer;
        for (size_t k = 0; k < x->setup.class_count; k++) {
            x->factor[k] = x->setup.classes[k].kv_factor;
            x->depth = fmax(x->depth, x->setup.classes[k].shape.thickness);
        }
    }
    if (status == DF_OK)
        status = follow_log(ctx, x, fit, log, from, until);
    if (status == DF_OK)
        status = take_probes(ctx, x, &p, fit, log, from, until);
    if (status == DF_OK)
        status = find_kv_band(ctx, x, fit, log, learnt, n);
    if (status == DF_OK) {
        start_problem(&p, x);
        df_doubt_gather(&x->doubt, learnt, n);
        x->doubt.pressure = pressure_amid(x);
        status = search(ctx, x, &p, df_log_name(log));
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
                        "m/s", resistance(p.value, depth), sqrt(fmax(variance, 0.0)), NAN, false);
        }
        tell_coefficient(fit, x, &p);
    }
    for (size_t k = 0; x != NULL && k < MOST_PROBES; k++)
        df_series_free(&x->probe[k].series);
    if (judged)
        df_stand_free(stand);
    free(stand);
    free(x);
    return status;
}
