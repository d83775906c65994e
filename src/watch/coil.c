/* The trap's refrigeration from its temperature over time. */
#include "watch/fit.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define LEAST_POINTS 10
#define MOST_POINTS 1200
#define ALL_POINTS ((size_t)1 << 30) /* a step in the load must not be smeared */
#define SEGMENTS 4                   /* of the curve above the no-load temperature */
#define TEMPERATURE_BAND 0.3         /* K, scatter of a reading before the fit finds its own */
#define LEAST_NOISE 0.01             /* K, of a probe: none is better */
#define ALIKE                                                                                                        \
    1.0 /* standard deviation of ln of the ratio of neighbouring slopes: compressors bend gently (assumption) */
#define MOST_MISFIT 10.0 /* of TEMPERATURE_BAND (assumption) */
#define WARMEST 299.0    /* K, highest that a dryer's file takes */
#define LEAST_SPAN 10.0  /* K that the logs should cover */
#define STEP_SHARE 0.1   /* of the time constant, for one step */
#define LOOSE 3.0        /* standard deviation of ln of the heat capacity where a load is known */

/* Where the points of the curve lie between the no-load temperature and the warmest: closer where it bends. */
static const double places[SEGMENTS + 1] = {0.0, 0.12, 0.3, 0.6, 1.0};

/* Parameters: no-load temperature, ln of the rise in power over each segment, ln of the heat capacity; then the first
 * temperature of each log. */
typedef struct cooling {
    df_trap trap;
    size_t n;
    bool loaded;
    df_series series[DF_MAX_TEST_LOGS], load[DF_MAX_TEST_LOGS];
    double *heat[DF_MAX_TEST_LOGS];    /* J given by the load up to each of its points */
    double constant[DF_MAX_TEST_LOGS]; /* W, where there is no column of it */
    double warmest, capacity;          /* K; ln J/K */
} cooling;

static double load_at(const cooling *x, size_t k, double time) {
    return x->load[k].n > 0 ? df_series_at(&x->load[k], time) : x->constant[k];
}

/* J given by the load up to a time: straight lines between its readings, the end ones held. */
static double heat_to(const cooling *x, size_t k, double time) {
    const df_series *l = &x->load[k];
    if (time <= l->time[0])
        return l->value[0] * (time - l->time[0]);
    if (time >= l->time[l->n - 1])
        return x->heat[k][l->n - 1] + l->value[l->n - 1] * (time - l->time[l->n - 1]);
    size_t low = 0, high = l->n - 1;
    while (high - low > 1) {
        size_t middle = low + (high - low) / 2;
        if (l->time[middle] <= time)
            low = middle;
        else
            high = middle;
    }
    return x->heat[k][low] + 0.5 * (time - l->time[low]) * (l->value[low] + df_series_at(l, time));
}

/* Mean load over a step: one that comes at once counts from when it comes. */
static double mean_load(const cooling *x, size_t k, double from, double to) {
    return x->load[k].n > 0 ? (heat_to(x, k, to) - heat_to(x, k, from)) / (to - from) : x->constant[k];
}

static bool sum_heat(cooling *x, size_t k) {
    const df_series *l = &x->load[k];
    x->heat[k] = malloc(l->n * sizeof *x->heat[k]);
    if (x->heat[k] == NULL)
        return false;
    x->heat[k][0] = 0.0;
    for (size_t i = 1; i < l->n; i++)
        x->heat[k][i] = x->heat[k][i - 1] + 0.5 * (l->time[i] - l->time[i - 1]) * (l->value[i] + l->value[i - 1]);
    return true;
}

static double slope(const cooling *x, double capacity, double load, double temperature) {
    return (load - df_trap_refrigeration(&x->trap, temperature)) / capacity;
}

static void set_curve(cooling *x, const double *v) {
    df_curve *c = &x->trap.refrigeration;
    c->n = SEGMENTS + 1;
    c->y[0] = 0.0;
    for (size_t i = 0; i <= SEGMENTS; i++) {
        c->x[i] = v[0] + places[i] * (x->warmest - v[0]);
        if (i > 0)
            c->y[i] = c->y[i - 1] + exp(v[i]);
    }
}

static bool cooling_residuals(double *r, const double *v, void *data) {
    cooling *x = data;
    double capacity = exp(v[1 + SEGMENTS]), steepest = 1e-9;
    set_curve(x, v);
    const df_curve *c = &x->trap.refrigeration;
    for (size_t i = 1; i < c->n; i++)
        steepest = fmax(steepest, (c->y[i] - c->y[i - 1]) / (c->x[i] - c->x[i - 1]));
    double longest = STEP_SHARE * capacity / steepest;
    for (size_t k = 0; k < x->n; k++) {
        const df_series *s = &x->series[k];
        double y = v[2 + SEGMENTS + k], t = s->time[0];
        for (size_t i = 0; i < s->n; i++) {
            double left = s->time[i] - t;
            long steps = left > 0.0 ? (long)ceil(left / longest) : 0;
            if (steps > 2000000)
                return false;
            double h = steps > 0 ? left / (double)steps : 0.0;
            for (long j = 0; j < steps; j++, t += h) {
                double q = mean_load(x, k, t, t + h);
                double k1 = slope(x, capacity, q, y), k2 = slope(x, capacity, q, y + 0.5 * h * k1);
                double k3 = slope(x, capacity, q, y + 0.5 * h * k2), k4 = slope(x, capacity, q, y + h * k3);
                y += h / 6.0 * (k1 + 2.0 * k2 + 2.0 * k3 + k4);
            }
            t = s->time[i];
            *r++ = (y - s->value[i]) / TEMPERATURE_BAND;
            if (!isfinite(y))
                return false;
        }
    }
    for (size_t i = 1; i < SEGMENTS; i++) {
        double below = (c->y[i] - c->y[i - 1]) / (c->x[i] - c->x[i - 1]);
        double above = (c->y[i + 1] - c->y[i]) / (c->x[i + 1] - c->x[i]);
        *r++ = log(above / below) / ALIKE;
    }
    if (x->loaded)
        *r++ = (v[1 + SEGMENTS] - x->capacity) / LOOSE;
    else
        *r++ = (v[1 + SEGMENTS] - x->capacity) / 1e-4; /* held: a cool-down tells power over heat capacity alone */
    return true;
}

static df_status take_logs(df_context *ctx, cooling *x, df_least *p, double *coldest, const df_log *const *logs,
                           size_t n) {
    for (size_t k = 0; k < n; k++) {
        double from, until, least = INFINITY;
        df_status status = df_series_window(ctx, &from, &until, logs[k]);
        x->n = k + 1;
        if (status == DF_OK)
            status = df_series_take(ctx, &x->series[k], logs[k], DF_LOG_TRAP_TEMPERATURE, 0, from, until, false,
                                    LEAST_POINTS, MOST_POINTS);
        if (status == DF_OK && df_log_count(logs[k], DF_LOG_TRAP_LOAD) > 0)
            status =
                df_series_take(ctx, &x->load[k], logs[k], DF_LOG_TRAP_LOAD, 0, from, until, false, 1, ALL_POINTS);
        if (status == DF_OK && x->load[k].n > 0 && !sum_heat(x, k))
            status = df_fail(ctx, DF_E_MEMORY, "out of memory");
        if (status == DF_OK)
            status = df_log_note_quantity(ctx, &x->constant[k], logs[k], "load", DF_DIM_POWER, 0.0, 1e6);
        if (status != DF_OK)
            return status;
        const df_series *s = &x->series[k];
        for (size_t i = 0; i < s->n; i++) {
            least = fmin(least, s->value[i]);
            x->warmest = fmax(x->warmest, s->value[i]);
            x->loaded = x->loaded || load_at(x, k, s->time[i]) > 0.0;
        }
        *coldest = fmin(*coldest, least);
        p->data += s->n;
        p->least_noise = fmax(p->least_noise, fmax(s->resolution / sqrt(12.0), LEAST_NOISE) / TEMPERATURE_BAND);
    }
    return DF_OK;
}

/* W/K of a straight curve to start from: by the time in which a free cool-down comes half the way, else by the old curve. */
static double guess_slope(const cooling *x, double coldest) {
    const df_curve *c = &x->trap.refrigeration;
    double steepness = c->y[c->n - 1] / (c->x[c->n - 1] - c->x[0]);
    for (size_t k = 0; k < x->n; k++) {
        const df_series *s = &x->series[k];
        size_t i = 0;
        if (s->value[0] - coldest < 0.5 * (x->warmest - coldest) || load_at(x, k, s->time[0]) > 0.0)
            continue;
        while (i + 1 < s->n && s->value[i] > 0.5 * (s->value[0] + coldest))
            i++;
        if (i > 0)
            steepness = x->trap.heat_capacity * M_LN2 / (s->time[i] - s->time[0]);
    }
    return steepness;
}

df_status df_tune_trap(df_context *ctx, df_fit *fit, df_dryer *dryer, const df_log *const *logs, size_t n) {
    cooling x;
    df_least p;
    double coldest = INFINITY;
    memset(&x, 0, sizeof x);
    memset(&p, 0, sizeof p);
    x.trap = dryer->trap[0];
    df_fit_begin(fit, DF_TEST_TRAP, logs, n);
    if (x.trap.kind != DF_TRAP_COIL)
        return df_fail(ctx, DF_E_INPUT,
                       "%s: the dryer's trap is filled with a coolant and has no refrigeration curve to "
                       "learn",
                       df_log_name(logs[0]));
    df_status status =
        df_log_note_quantity(ctx, &x.trap.heat_capacity, logs[0], "heat_capacity", DF_DIM_HEAT_CAPACITY, 100.0, 1e7);
    if (status == DF_OK)
        status = take_logs(ctx, &x, &p, &coldest, logs, n);
    if (status == DF_OK && !(x.warmest - coldest > LEAST_SPAN))
        status =
            df_fail(ctx, DF_E_INPUT, "%s: the trap moves by %.1f K in all; at least %.0f K are needed for a curve",
                    df_log_name(logs[0]), x.warmest - coldest, LEAST_SPAN);
    if (status == DF_OK) {
        x.warmest = fmin(x.warmest, WARMEST);
        x.capacity = log(x.trap.heat_capacity);
        double start = guess_slope(&x, coldest);
        p.parameters = 2 + SEGMENTS + n;
        p.priors = SEGMENTS;
        p.value[0] = fmax(coldest - 1.0, 101.0);
        p.lower[0] = 100.5;
        p.upper[0] = x.warmest - 5.0;
        p.step[0] = 1e-2;
        for (size_t i = 1; i <= SEGMENTS; i++) {
            double rise = start * (places[i] - places[i - 1]) * (x.warmest - p.value[0]);
            p.value[i] = log(fmax(rise, 1.0));
            p.lower[i] = log(1e-2);
            p.upper[i] = log(1e6);
            p.step[i] = 1e-3;
        }
        p.value[1 + SEGMENTS] = x.capacity;
        p.lower[1 + SEGMENTS] = x.capacity - 6.0;
        p.upper[1 + SEGMENTS] = x.capacity + 6.0;
        p.step[1 + SEGMENTS] = 1e-3;
        for (size_t k = 0; k < n; k++) {
            p.value[2 + SEGMENTS + k] = x.series[k].value[0];
            p.lower[2 + SEGMENTS + k] = 50.0;
            p.upper[2 + SEGMENTS + k] = 400.0;
            p.step[2 + SEGMENTS + k] = 1e-2;
        }
        status = df_least_fit(ctx, &p, cooling_residuals, &x, df_log_name(logs[0]));
    }
    if (status == DF_OK) {
        const df_trap old = dryer->trap[0];
        df_trap *t = &dryer->trap[0];
        char field[64];
        double gradient[2 + SEGMENTS][DF_LEAST_MOST] = {{1.0}};
        size_t place[2 + SEGMENTS] = {0};
        df_fit_settle(fit, &p, TEMPERATURE_BAND, MOST_MISFIT, "K");
        set_curve(&x, p.value);
        t->refrigeration = x.trap.refrigeration;
        t->refrigeration.x[0] = df_fit_find(fit, "trap.refrigeration[0].temperature", DF_DIM_TEMPERATURE, "°C",
                                            p.value[0], p.sigma[0], df_trap_no_load(&old), true);
        for (size_t i = 1; i <= SEGMENTS; i++) {
            double variance = 0.0, *at = &t->refrigeration.x[i];
            place[i] = fit->findings;
            for (size_t a = 1; a <= i; a++)
                gradient[i][a] = exp(p.value[a]);
            for (size_t a = 1; a <= i; a++)
                for (size_t b = 1; b <= i; b++)
                    variance += exp(p.value[a] + p.value[b]) * p.covariance[a][b];
            *at = round((*at - DF_ZERO_CELSIUS) * 10.0) / 10.0 + DF_ZERO_CELSIUS; /* a place, no measured thing */
            double power = df_trap_refrigeration(&x.trap, *at);
            snprintf(field, sizeof field, "trap.refrigeration[%zu].power", i);
            t->refrigeration.y[i] = df_fit_find(fit, field, DF_DIM_POWER, "W", power, sqrt(variance),
                                                df_trap_refrigeration(&old, *at), true);
            if (!(t->refrigeration.y[i] > t->refrigeration.y[i - 1])) /* rounding must not level the curve */
                t->refrigeration.y[i] = fit->finding[fit->findings - 1].value = power;
            fit->finding[fit->findings - 1].at = *at;
            fit->finding[fit->findings - 1].at_dimension = DF_DIM_TEMPERATURE;
        }
        t->heat_capacity = x.trap.heat_capacity;
        if (x.loaded) {
            double capacity = exp(p.value[1 + SEGMENTS]), band = capacity * p.sigma[1 + SEGMENTS];
            gradient[1 + SEGMENTS][1 + SEGMENTS] = capacity;
            place[1 + SEGMENTS] = fit->findings;
            t->heat_capacity = df_fit_find(fit, "trap.heat_capacity", DF_DIM_HEAT_CAPACITY, "kJ/K", capacity, band,
                                           old.heat_capacity, true);
        } else
            df_fit_remark(fit,
                          "without a known load the powers stand and fall with the heat capacity of %.3g kJ/K: a log "
                          "under a known load ('load: 300 W', or a column of it) tells both",
                          t->heat_capacity / 1000.0);
        df_fit_join(fit, &p, 1 + SEGMENTS + x.loaded, place, gradient);
        df_fit_remark(fit, "the bands come from the scatter alone: the error of the probe and of its place on the "
                           "coil comes on top");
        if (dryer->traps > 1)
            df_fit_remark(fit, "learnt for the first trap");
    }
    for (size_t k = 0; k < x.n; k++) {
        df_series_free(&x.series[k]);
        df_series_free(&x.load[k]);
        free(x.heat[k]);
    }
    return status;
}
