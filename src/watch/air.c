/* Leak, degassing and pump from the pressure of the dry, empty dryer. */
#include "watch/fit.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#define HOUR 3600.0
#define LEAST_POINTS 8
#define MOST_POINTS 1200
#define SOONEST 60.0          /* s after evacuation began: earlier the walls give off what they give off then */
#define UNTOLD_HOURS 1.0      /* since evacuation began, where it is not told: assumption, */
#define UNTOLD_FACTOR 3.0     /* right within this factor */
#define TOLD_FACTOR 1.02      /* the same where it is told */
#define LEAST_NOISE 1e-3      /* relative, of a gauge: none is better */
#define PRESSURE_BAND 0.01    /* relative scatter of a pressure reading, before the fit finds its own */
#define MOST_MISFIT 0.05      /* of the rise: more is another thing than leak and degassing (assumption) */
#define MOST_MISFIT_FALL 20.0 /* of PRESSURE_BAND, for a pump-down (assumption) */
#define MOST_NODES 6          /* of the pump's curve */
#define UNSTATED 1.0   /* of the leak: standard deviation of a degassing that the file does not state: assumption */
#define UNMEASURED 0.2 /* of a leak, and of degassing, without an isolation log: assumption */
#define STEP_SHARE 0.2 /* of the time constant volume over speed, for one step in time */
#define KNOWN_ULTIMATE 1.0 /* band of ln(ultimate) above which the log does not tell it */
#define LOOSE_ULTIMATE 2.0 /* standard deviation of ln(ultimate) around its old value */

static bool shut_off_volume(df_context *ctx, double *volume, df_status *status, const df_dryer *d,
                            const df_log *log) {
    const char *note = df_log_note(log, "volume");
    *volume = d->chamber.volume;
    *status = DF_OK;
    if (note != NULL && df_name_equal(note, "chamber"))
        return true;
    for (size_t i = 0; i < d->traps; i++)
        *volume += d->trap[i].volume;
    if (note == NULL)
        return false;
    *status = df_log_note_quantity(ctx, volume, log, "volume", DF_DIM_VOLUME, 1e-6, 1e4);
    return true;
}

/* ---- isolation ------------------------------------------------------------------------------------------------ */

/* Parameters: leak, degassing; then of each log its first pressure and ln of the time since evacuation began. */
typedef struct rise {
    size_t n;
    df_series series[DF_MAX_TEST_LOGS];
    double volume[DF_MAX_TEST_LOGS], scale[DF_MAX_TEST_LOGS];
    double since[DF_MAX_TEST_LOGS], since_sigma[DF_MAX_TEST_LOGS]; /* ln s, and one standard deviation */
} rise;

static bool rise_residuals(double *r, const double *v, void *data) {
    const rise *x = data;
    for (size_t k = 0; k < x->n; k++) {
        const df_series *s = &x->series[k];
        double begun = exp(v[3 + 2 * k]);
        for (size_t i = 0; i < s->n; i++) {
            double t = s->time[i] - s->time[0];
            double model = v[2 + 2 * k] + (v[0] * t + v[1] * HOUR * log1p(t / begun)) / x->volume[k];
            *r++ = (model - s->value[i]) / x->scale[k];
        }
    }
    for (size_t k = 0; k < x->n; k++)
        *r++ = (v[3 + 2 * k] - x->since[k]) / x->since_sigma[k];
    return true;
}

/* The rise alone: what was pumped before it is left out. */
static df_status take_rise(df_context *ctx, df_series *out, const df_log *log, double *start) {
    double from, until;
    df_status status = df_series_window(ctx, &from, &until, log);
    if (status == DF_OK)
        status =
            df_series_take(ctx, out, log, DF_LOG_CHAMBER_PRESSURE, 0, from, until, false, LEAST_POINTS, MOST_POINTS);
    if (status != DF_OK)
        return status;
    size_t lowest = 0;
    for (size_t i = 1; i < out->n; i++)
        lowest = out->value[i] < out->value[lowest] ? i : lowest;
    if (df_log_note(log, "from") == NULL && out->value[0] > 1.5 * out->value[lowest] &&
        lowest + LEAST_POINTS < out->n) {
        from = out->time[lowest];
        df_series_free(out);
        status =
            df_series_take(ctx, out, log, DF_LOG_CHAMBER_PRESSURE, 0, from, until, false, LEAST_POINTS, MOST_POINTS);
    }
    *start = from;
    if (status == DF_OK && !(out->value[out->n - 1] > out->value[0]))
        status = df_fail(ctx, DF_E_INPUT,
                         "%s: the chamber's pressure does not rise; was the dryer shut off from its pump?",
                         df_log_name(log));
    return status;
}

static df_status prepare_rise(df_context *ctx, rise *x, df_least *p, df_fit *fit, const df_dryer *d,
                              const df_log *const *logs, size_t n) {
    for (size_t k = 0; k < n; k++) {
        double start = 0.0, begun = UNTOLD_HOURS * HOUR;
        df_status status;
        bool told = shut_off_volume(ctx, &x->volume[k], &status, d, logs[k]);
        if (status == DF_OK) {
            x->n = k + 1;
            status = take_rise(ctx, &x->series[k], logs[k], &start);
        }
        if (status == DF_OK)
            status = df_log_note_quantity(ctx, &begun, logs[k], "evacuated", DF_DIM_TIME, SOONEST, 1e8);
        if (status != DF_OK)
            return status;
        const df_series *s = &x->series[k];
        bool since_told = df_log_note(logs[k], "evacuated") != NULL;
        if (!told)
            df_fit_remark(fit,
                          "%.60s: taken as shut off before the pump, %.4g L with the trap; 'volume: chamber' or "
                          "'volume: 60 L' says otherwise",
                          df_log_name(logs[k]), 1e3 * x->volume[k]);
        if (!since_told)
            df_fit_remark(fit,
                          "%.60s: not told how long the dryer had been evacuated; taken as 1 h within a factor of 3 "
                          "(assumption): 'evacuated: 3 h' narrows the split",
                          df_log_name(logs[k]));
        x->since[k] = log(begun + (since_told ? start : 0.0));
        x->since_sigma[k] = log(since_told ? TOLD_FACTOR : UNTOLD_FACTOR);
        double span = s->value[s->n - 1] - s->value[0];
        x->scale[k] = span;
        p->value[2 + 2 * k] = s->value[0];
        p->lower[2 + 2 * k] = -INFINITY;
        p->upper[2 + 2 * k] = INFINITY;
        p->step[2 + 2 * k] = 1e-3 * span;
        p->value[3 + 2 * k] = x->since[k];
        p->lower[3 + 2 * k] = log(SOONEST);
        p->upper[3 + 2 * k] = log(1e8);
        p->step[3 + 2 * k] = 1e-3;
        p->data += s->n;
        p->least_noise = fmax(p->least_noise, fmax(s->resolution / sqrt(12.0) / span, 0.1 * LEAST_NOISE));
        double flow = span * x->volume[k] / (s->time[s->n - 1] - s->time[0]);
        for (size_t i = 0; i < 2; i++) {
            p->value[i] = fmax(p->value[i], 0.5 * flow);
            p->lower[i] = 0.0;
            p->upper[i] = INFINITY;
            p->step[i] = 1e-3 * flow;
        }
    }
    p->parameters = 2 + 2 * n;
    p->priors = n;
    return DF_OK;
}

df_status df_tune_isolation(df_context *ctx, df_fit *fit, df_dryer *dryer, const df_log *const *logs, size_t n) {
    rise x;
    df_least p;
    memset(&x, 0, sizeof x);
    memset(&p, 0, sizeof p);
    df_fit_begin(fit, DF_TEST_ISOLATION, logs, n);
    df_status status = prepare_rise(ctx, &x, &p, fit, dryer, logs, n);
    if (status == DF_OK)
        status = df_least_fit(ctx, &p, rise_residuals, &x, df_log_name(logs[0]));
    if (status == DF_OK) {
        df_fit_settle(fit, &p, x.scale[0], MOST_MISFIT, "Pa");
        double joint = p.covariance[0][1] / (p.sigma[0] * p.sigma[1]);
        dryer->chamber.leak = df_fit_find(fit, "chamber.leak", DF_DIM_LEAK, "mbar L/s", p.value[0], p.sigma[0],
                                          dryer->chamber.leak, true);
        dryer->chamber.degassing = df_fit_find(fit, "chamber.degassing", DF_DIM_LEAK, "mbar L/s", p.value[1],
                                               p.sigma[1], dryer->chamber.degassing, true);
        df_fit_join(fit, &p, 2, (const size_t[2]){0, 1}, (double[2][DF_LEAST_MOST]){{1.0}, {0.0, 1.0}});
        if (fabs(joint) > 0.9)
            df_fit_remark(fit,
                          "leak and degassing are hard to tell apart (correlation %.2f): a longer test tells them "
                          "better",
                          joint);
        df_fit_remark(fit,
                      "the bands come from the scatter alone: the error of the volume and of the gauge comes on top, "
                      "in proportion");
    }
    for (size_t k = 0; k < x.n; k++)
        df_series_free(&x.series[k]);
    return status;
}

/* ---- pump-down ------------------------------------------------------------------------------------------------ */

/* Parameters: ln of the ultimate pressure, two standard normal numbers from which leak and degassing follow, ln of the speed at
 * each node; then ln of the first pressure of each log. */
enum { OWN = 3 };
typedef struct fall {
    df_dryer dryer; /* its pump is moved */
    size_t n, nodes;
    df_series series[DF_MAX_TEST_LOGS];
    double volume[DF_MAX_TEST_LOGS];
    double resolution[DF_MAX_TEST_LOGS];
    double begun[DF_MAX_TEST_LOGS]; /* s from the log's start at which evacuation began */
    double ultimate;                /* ln of the old one */
    double leak, degassing;         /* as found or stated, Pa m3/s */
    double root[3];                 /* of their covariance: of the leak; degassing with it, and alone */
} fall;

/* d ln P/dt */
static double sinking(const df_dryer *d, double volume, double flow, double ln_pressure) {
    double pressure = exp(ln_pressure);
    return (flow / pressure - df_pump_speed(d, pressure, d->pump.ultimate)) / volume;
}

static double inflow(const df_dryer *d, double since) {
    return d->chamber.leak + d->chamber.degassing * HOUR / fmax(since, SOONEST);
}

static bool fall_residuals(double *r, const double *v, void *data) {
    fall *x = data;
    df_dryer *d = &x->dryer;
    double fastest = 0.0;
    d->pump.ultimate = exp(v[0]);
    for (size_t i = 0; i < x->nodes; i++) {
        d->pump.speed.y[i] = exp(v[OWN + i]);
        fastest = fmax(fastest, d->pump.speed.y[i]);
    }
    d->chamber.leak = fmax(x->leak + x->root[0] * v[1], 0.0);
    d->chamber.degassing = fmax(x->degassing + x->root[1] * v[1] + x->root[2] * v[2], 0.0);
    for (size_t k = 0; k < x->n; k++) {
        const df_series *s = &x->series[k];
        double y = v[OWN + x->nodes + k], t = s->time[0], longest = STEP_SHARE * x->volume[k] / fastest;
        for (size_t i = 0; i < s->n; i++) {
            double left = s->time[i] - t;
            long steps = left > 0.0 ? (long)ceil(left / longest) : 0;
            if (steps > 2000000)
                return false;
            double h = steps > 0 ? left / (double)steps : 0.0;
            for (long j = 0; j < steps; j++, t += h) { /* classical Runge-Kutta */
                double since = t - x->begun[k];
                double q0 = inflow(d, since), q1 = inflow(d, since + 0.5 * h), q2 = inflow(d, since + h);
                double k1 = sinking(d, x->volume[k], q0, y);
                double k2 = sinking(d, x->volume[k], q1, y + 0.5 * h * k1);
                double k3 = sinking(d, x->volume[k], q1, y + 0.5 * h * k2);
                double k4 = sinking(d, x->volume[k], q2, y + h * k3);
                y += h / 6.0 * (k1 + 2.0 * k2 + 2.0 * k3 + k4);
            }
            t = s->time[i];
            double digit = x->resolution[k] / s->value[i]; /* the last digit of a low reading counts for more */
            *r++ = (y - log(s->value[i])) / sqrt(PRESSURE_BAND * PRESSURE_BAND + digit * digit / 12.0);
            if (!isfinite(y))
                return false;
        }
    }
    *r++ = (v[0] - x->ultimate) / LOOSE_ULTIMATE;
    *r++ = v[1];
    *r++ = v[2];
    return true;
}

/* From the last reading near the highest one: before it the pump did not draw. */
static df_status take_fall(df_context *ctx, df_series *out, const df_log *log) {
    double from, until;
    df_status status = df_series_window(ctx, &from, &until, log);
    if (status == DF_OK)
        status =
            df_series_take(ctx, out, log, DF_LOG_CHAMBER_PRESSURE, 0, from, until, true, LEAST_POINTS, MOST_POINTS);
    if (status != DF_OK)
        return status;
    double highest = 0.0;
    size_t last = 0;
    for (size_t i = 0; i < out->n; i++)
        highest = fmax(highest, out->value[i]);
    for (size_t i = 0; i < out->n; i++)
        last = out->value[i] > 0.97 * highest ? i : last;
    if (df_log_note(log, "from") == NULL && last > 0 && last + LEAST_POINTS < out->n) {
        from = out->time[last];
        df_series_free(out);
        status =
            df_series_take(ctx, out, log, DF_LOG_CHAMBER_PRESSURE, 0, from, until, true, LEAST_POINTS, MOST_POINTS);
    }
    if (status == DF_OK && !(out->value[out->n - 1] < 0.5 * out->value[0]))
        status = df_fail(ctx, DF_E_INPUT, "%s: the chamber's pressure does not fall to a half; is it a pump-down?",
                         df_log_name(log));
    return status;
}

/* Two digits: a node is a place, no measured thing. */
static double two_digits(double x) {
    double power = pow(10.0, floor(log10(x)) - 1.0);
    return round(x / power) * power;
}

/* A node about each decade, from a little above where the pressure comes to rest up to the highest. */
static void choose_nodes(fall *x) {
    double low = INFINITY, high = 0.0;
    for (size_t k = 0; k < x->n; k++)
        for (size_t i = 0; i < x->series[k].n; i++) {
            low = fmin(low, x->series[k].value[i]);
            high = fmax(high, x->series[k].value[i]);
        }
    low = fmin(2.0 * low, sqrt(low * high));
    double decades = log10(high / low);
    x->nodes = (size_t)fmin(fmax(1.0, round(decades)) + (decades > 0.7), MOST_NODES);
    df_curve *c = &x->dryer.pump.speed;
    c->n = x->nodes;
    for (size_t i = 0; i < x->nodes; i++)
        c->x[i] =
            two_digits(x->nodes > 1 ? low * pow(high / low, (double)i / (double)(x->nodes - 1)) : sqrt(low * high));
}

/* First time at which a pressure is passed; NAN where it is not. */
static double passes(const df_series *s, double pressure) {
    for (size_t i = 1; i < s->n; i++)
        if (s->value[i] <= pressure && s->value[i - 1] > pressure)
            return s->time[i];
    return NAN;
}

/* Speed about a node by the time that the pressure takes past it, to start from; `else_` where no log passes it. */
static double guess_speed(const fall *x, double node, double rest, double else_) {
    for (size_t k = 0; k < x->n; k++) {
        const df_series *s = &x->series[k];
        double high = fmin(3.0 * node, 0.99 * s->value[0]), low = fmax(node / 3.0, 1.5 * rest);
        double span = passes(s, low) - passes(s, high);
        if (high > low && span > 0.0)
            return x->volume[k] * log((high - 0.9 * rest) / (low - 0.9 * rest)) / span;
    }
    return else_;
}

static void bound(df_least *p, size_t i, double value, double lower, double upper, double step) {
    p->value[i] = fmin(fmax(value, lower), upper);
    p->lower[i] = lower;
    p->upper[i] = upper;
    p->step[i] = step;
}

static df_status prepare_fall(df_context *ctx, fall *x, df_least *p, df_fit *fit, const df_log *const *logs, size_t n,
                              const df_fit *isolation) {
    double lowest = INFINITY;
    const df_dryer old = x->dryer;
    for (size_t k = 0; k < n; k++) {
        df_status status;
        bool told = shut_off_volume(ctx, &x->volume[k], &status, &x->dryer, logs[k]);
        if (status == DF_OK) {
            x->n = k + 1;
            status = take_fall(ctx, &x->series[k], logs[k]);
        }
        if (status != DF_OK)
            return status;
        const df_series *s = &x->series[k];
        x->resolution[k] = s->resolution;
        x->begun[k] = s->time[0];
        if (!told)
            df_fit_remark(fit, "%.60s: the pump empties %.4g L, chamber and trap; 'volume: 60 L' says otherwise",
                          df_log_name(logs[k]), 1e3 * x->volume[k]);
        for (size_t i = 0; i < s->n; i++)
            lowest = fmin(lowest, s->value[i]);
        p->data += s->n;
    }
    p->least_noise = LEAST_NOISE / PRESSURE_BAND;
    choose_nodes(x);
    x->ultimate = log(fmin(old.pump.ultimate, 0.9 * lowest));
    x->leak = old.chamber.leak;
    x->degassing = old.chamber.degassing;
    bool measured = isolation != NULL && isolation->described && isolation->joint[0][0] > 0.0;
    bool unstated = !measured && !(x->degassing > 0.0);
    if (measured) {
        x->root[0] = sqrt(isolation->joint[0][0]);
        x->root[1] = isolation->joint[0][1] / x->root[0];
        x->root[2] = sqrt(fmax(isolation->joint[1][1] - x->root[1] * x->root[1], 0.0));
    } else {
        x->root[0] = UNMEASURED * x->leak;
        x->root[2] = unstated ? UNSTATED * x->leak : UNMEASURED * x->degassing;
        df_fit_remark(
            fit,
            "leak and degassing are those of the dryer's file, each taken as known to 20 %%%s (assumption); an "
            "isolation log beside this one tells them",
            unstated ? "; degassing, of which it has none, as up to about the leak" : "");
    }
    bound(p, 0, x->ultimate, x->ultimate - 12.0, log(lowest) + 0.2, 1e-3);
    for (size_t i = 1; i < OWN; i++)
        bound(p, i, 0.0, i == 2 && unstated ? 0.0 : -10.0, 10.0, 0.1);
    const df_series *first = &x->series[0];
    if (df_series_at(first, 0.9 * first->time[first->n - 1] + 0.1 * first->time[0]) <
        1.2 * lowest) /* it came to rest */
        p->value[0] = log(0.7 * lowest);
    for (size_t i = 0; i < x->nodes; i++) {
        double node = x->dryer.pump.speed.x[i], s = guess_speed(x, node, lowest, df_pump_speed(&old, node, 0.0));
        bound(p, OWN + i, log(s), log(s) - 8.0, log(s) + 8.0, 1e-3);
    }
    for (size_t k = 0; k < n; k++) {
        double y = log(x->series[k].value[0]);
        bound(p, OWN + x->nodes + k, y, y - 3.0, y + 3.0, 1e-3);
    }
    p->parameters = OWN + x->nodes + n;
    p->priors = OWN;
    return DF_OK;
}

df_status df_tune_pump_down(df_context *ctx, df_fit *fit, df_dryer *dryer, const df_log *const *logs, size_t n,
                            const df_fit *isolation) {
    fall x;
    df_least p;
    memset(&x, 0, sizeof x);
    memset(&p, 0, sizeof p);
    x.dryer = *dryer;
    df_fit_begin(fit, DF_TEST_PUMP_DOWN, logs, n);
    df_status status = prepare_fall(ctx, &x, &p, fit, logs, n, isolation);
    if (status == DF_OK)
        status = df_least_fit(ctx, &p, fall_residuals, &x, df_log_name(logs[0]));
    if (status == DF_OK) {
        df_fit_settle(fit, &p, PRESSURE_BAND * 100.0, MOST_MISFIT_FALL, "% of the pressure");
        const df_dryer old = *dryer;
        bool known = p.sigma[0] < KNOWN_ULTIMATE;
        double ultimate = exp(p.value[0]), gradient[1 + MOST_NODES][DF_LEAST_MOST] = {{0.0}};
        size_t place[1 + MOST_NODES], places = 0;
        if (known) {
            gradient[0][0] = ultimate;
            place[places++] = 0;
            dryer->pump.ultimate = df_fit_find(fit, "pump.ultimate_pressure", DF_DIM_PRESSURE, "mbar", ultimate,
                                               ultimate * p.sigma[0], old.pump.ultimate, true);
        } else
            df_fit_remark(fit,
                          "the log does not come near enough to the ultimate pressure to tell it from the leak; it "
                          "stays at %.3g mbar",
                          old.pump.ultimate / 100.0);
        dryer->pump.speed = x.dryer.pump.speed;
        for (size_t i = 0; i < x.nodes; i++) {
            char field[64];
            double at = dryer->pump.speed.x[i], speed = exp(p.value[OWN + i]);
            gradient[places][OWN + i] = speed;
            place[places++] = fit->findings;
            snprintf(field, sizeof field, "pump.speed[%zu].flow", i);
            dryer->pump.speed.y[i] = df_fit_find(fit, field, DF_DIM_VOLUME_FLOW, "m3/h", speed,
                                                 speed * p.sigma[OWN + i], df_pump_speed(&old, at, 0.0), true);
            fit->finding[fit->findings - 1].at = at;
            fit->finding[fit->findings - 1].at_dimension = DF_DIM_PRESSURE;
        }
        df_fit_join(fit, &p, places, place, gradient);
        df_fit_remark(fit,
                      "speed as felt in the chamber, through valve, duct and trap; the gas is taken to stay at room "
                      "temperature (the first seconds of a fast pump-down are colder)");
    }
    for (size_t k = 0; k < x.n; k++)
        df_series_free(&x.series[k]);
    return status;
}
