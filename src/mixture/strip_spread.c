/* How sure the end of a boiling down is. */
#include "mixture/mixture.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#define PRESENT 1e-5 /* mole fraction of what is looked at */
#define PLACES 3     /* on the way: start, middle, end */

typedef struct places {
    const df_mixture *mixture;
    const df_strip_point *at[PLACES];
    df_assemblage there[PLACES];
} places;

/* ln of the pressure that each component has over the liquid at the places: quick to compute, and what the path rests on. */
static df_status pressures(df_context *ctx, double *values, size_t n, const df_mixture *m, void *data) {
    static const bool none[DF_MAX_SOLIDS] = {false};
    const places *p = data;
    double pressure[DF_N];
    for (size_t k = 0; k < n; k++)
        values[k] = 0.0;
    for (size_t k = 0; k < PLACES; k++) {
        const df_strip_point *at = p->at[k];
        df_assemblage a = p->there[k];
        double total = 0.0;
        df_status status = df_mixture_equilibrium(ctx, &a, m, at->temperature, at->left, none, true);
        if (status < 0)
            return status;
        df_mixture_vapour(pressure, NULL, NULL, m, at->temperature, a.activity_ln);
        for (size_t i = 0; i < m->n; i++)
            total += at->left[i];
        for (size_t i = 0; i < m->n; i++)
            if (at->left[i] > PRESENT * total)
                values[k * m->n + i] = log(pressure[i]);
    }
    return DF_OK;
}

typedef struct again {
    const df_strip *strip;
    const df_strip_task *task;
    const double *per_mole;
} again;

/* The order of the results. */
enum { TEMPERATURE, END_TEMPERATURE, PRESSURE, END_PRESSURE, MASS, VOLUME, LOWEST, AZEOTROPE, FRACTIONS };
#define RESULTS (FRACTIONS + 2 * DF_N)

static void fractions(double *out, const df_mixture *m, const double *moles, const double *per_mole) {
    double sum = 0.0;
    for (size_t i = 0; i < m->n; i++)
        sum += out[i] = moles[i] * per_mole[i];
    for (size_t i = 0; i < m->n; i++)
        out[i] /= sum;
}

static void collect(double *values, const df_strip *s, const df_mixture *m, const double *per_mole) {
    const df_strip_point *first = &s->point[0], *last = &s->point[s->points - 1];
    values[TEMPERATURE] = first->temperature;
    values[END_TEMPERATURE] = last->temperature;
    values[PRESSURE] = log(first->pressure);
    values[END_PRESSURE] = log(last->pressure);
    values[MASS] = last->mass_left / first->mass_left;
    values[VOLUME] = last->volume_left / first->volume_left;
    values[LOWEST] = s->lowest;
    values[AZEOTROPE] = s->azeotrope ? s->azeotrope_temperature : NAN;
    fractions(values + FRACTIONS, m, last->left, per_mole);
    for (size_t i = 0; i < m->n; i++)
        values[FRACTIONS + m->n + i] = s->azeotrope ? s->azeotrope_x[i] : NAN;
}

static df_status run_again(df_context *ctx, double *values, size_t n, const df_mixture *m, void *data) {
    const again *a = data;
    df_strip s;
    df_status status = df_strip_run(ctx, &s, m, a->task);
    if (status < 0)
        return status;
    if (s.stop == a->strip->stop)
        collect(values, &s, m, a->per_mole);
    else /* another end: only the start can be compared */
        for (size_t i = 0; i < n; i++)
            values[i] = i == TEMPERATURE ? s.point[0].temperature : i == PRESSURE ? log(s.point[0].pressure) : NAN;
    df_strip_free(&s);
    return DF_OK;
}

df_status df_strip_spread(df_context *ctx, df_strip_bands *out, const df_strip *strip, const df_mixture *m,
                          const df_strip_task *task, const double *per_mole) {
    static const bool none[DF_MAX_SOLIDS] = {false};
    df_moves moves = {0};
    double value[RESULTS], sigma[RESULTS];
    places *p = calloc(1, sizeof *p);
    if (p == NULL)
        return df_fail(ctx, DF_E_MEMORY, "out of memory");
    p->mixture = m;
    df_status status = DF_OK;
    for (size_t k = 0; k < PLACES && status >= 0; k++) {
        p->at[k] = &strip->point[k * (strip->points - 1) / (PLACES - 1)];
        status = df_mixture_equilibrium(ctx, &p->there[k], m, p->at[k]->temperature, p->at[k]->left, none, false);
    }
    if (status >= 0)
        status = df_moves_make(ctx, &moves, m, pressures, PLACES * m->n, p, NULL, DF_MOST_MOVES);
    size_t n = FRACTIONS + 2 * m->n;
    if (status >= 0) {
        again a = {strip, task, per_mole};
        collect(value, strip, m, per_mole);
        status = df_moves_spread(ctx, sigma, NULL, value, n, &moves, run_again, &a);
    }
    if (status >= 0) {
        out->temperature[0] = sigma[TEMPERATURE];
        out->temperature[1] = sigma[END_TEMPERATURE];
        out->pressure_ln[0] = sigma[PRESSURE];
        out->pressure_ln[1] = sigma[END_PRESSURE];
        out->mass_left = sigma[MASS];
        out->volume_left = sigma[VOLUME];
        out->lowest = sigma[LOWEST];
        out->azeotrope_temperature = sigma[AZEOTROPE];
        for (size_t i = 0; i < m->n; i++) {
            out->left[i] = sigma[FRACTIONS + i];
            out->azeotrope_x[i] = sigma[FRACTIONS + m->n + i];
        }
    }
    df_moves_free(&moves);
    free(p);
    return status;
}
