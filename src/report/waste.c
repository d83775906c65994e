/* What a trap gives when it is thawed, and what that is as waste. */
#include "report/waste.h"

#include <math.h>
#include <string.h>

#define LEAST_SHARE 1e-7 /* by mole: less takes no part */
#define COLDEST 220.0    /* K, of a flash point looked for */
#define HOTTEST 373.15
#define ROOM 293.15
#define FLAMMABLE_2 296.15 /* K, 23 °C; and 60 °C, EU CLP Annex I 2.6 (from memory) */
#define FLAMMABLE_3 333.15
#define BOILS_1 308.15 /* K, 35 °C */

typedef struct flash_search {
    df_context *ctx;
    df_mixture *mixture;
    size_t n;
    double x[DF_MAX_COMPONENTS];
    df_status status;
} flash_search;

/* Sum of p_i/p_i(flash point) less one; no solids, but as many liquids as there are. */
static double excess(double temperature, void *data) {
    flash_search *q = data;
    bool none[DF_MAX_SOLIDS] = {false};
    df_assemblage a;
    double pressure[DF_MAX_COMPONENTS], sum = 0.0;
    df_status status = df_mixture_equilibrium(q->ctx, &a, q->mixture, temperature, q->x, none, false);
    if (status < 0) {
        q->status = status;
        return NAN;
    }
    df_mixture_vapour(pressure, NULL, NULL, q->mixture, temperature, a.activity_ln);
    for (size_t i = 0; i < q->n; i++) {
        const df_substance *s = df_mixture_component(q->mixture, i);
        if (isfinite(s->flash_point))
            sum += pressure[i] / df_liquid_pressure(s, s->flash_point);
    }
    return sum - 1.0;
}

static df_status find_flash(df_context *ctx, df_waste *out, const df_run *run, const df_pairs *pairs) {
    const df_substance *component[DF_MAX_COMPONENTS];
    flash_search q = {.ctx = ctx};
    double moles = 0.0;
    bool burns = false;
    for (size_t i = 0; i < run->species; i++)
        moles += out->mass[i] / run->substance[i]->molar_mass;
    for (size_t i = 0; i < run->species; i++) {
        double share = out->mass[i] / run->substance[i]->molar_mass / moles;
        if (!(share > LEAST_SHARE))
            continue;
        burns = burns || isfinite(run->substance[i]->flash_point);
        component[q.n] = run->substance[i];
        q.x[q.n++] = share;
    }
    if (!burns)
        return DF_OK;
    df_status status = df_mixture_create(ctx, &q.mixture, pairs, component, q.n);
    if (status < 0)
        return status;
    double low = excess(COLDEST, &q), high = excess(HOTTEST, &q);
    if (low >= 0.0)
        out->flash_point = COLDEST;
    else if (high > 0.0)
        df_find_root(&out->flash_point, COLDEST, HOTTEST, 0.01, excess, &q);
    df_mixture_free(q.mixture);
    return q.status;
}

df_status df_waste_find(df_context *ctx, df_waste *out, const df_run *run, const double *mass,
                        const df_pairs *pairs) {
    memset(out, 0, sizeof *out);
    out->flash_point = NAN;
    for (size_t i = 0; i < run->species; i++) {
        out->mass[i] = fmax(mass[i], 0.0);
        out->total += out->mass[i];
        out->volume += out->mass[i] / (df_liquid_density(run->substance[i], ROOM));
    }
    return out->total > 0.0 ? find_flash(ctx, out, run, pairs) : DF_OK;
}

double df_waste_boiling(const df_waste *w, const df_run *run) {
    double lowest = INFINITY;
    for (size_t i = 0; i < run->species; i++)
        if (w->mass[i] > LEAST_SHARE * w->total && isfinite(run->substance[i]->flash_point))
            lowest = fmin(lowest, run->substance[i]->boiling_temperature);
    return lowest;
}

const char *df_waste_category(double flash_point, double lowest) {
    if (!(flash_point <= FLAMMABLE_3))
        return "";
    if (flash_point >= FLAMMABLE_2)
        return "category 3";
    return lowest <= BOILS_1 ? "category 1" : "category 2";
}
