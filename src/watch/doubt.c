/* What the fits of a dryer leave open of its constants, as independent directions. */
#include "watch/doubt.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#define SAME 1e-9  /* share of a variance below which a constant goes wholly with those before it */
#define LEAST 0.05 /* of a constant that cannot be negative: it goes no lower */

/* Where a constant of the dryer's file stands; NULL: no fit finds it. */
static double *constant_of(df_dryer *d, const char *field) {
    const struct {
        const char *name;
        double *at;
    } plain[] = {{"chamber.leak", &d->chamber.leak},
                 {"chamber.degassing", &d->chamber.degassing},
                 {"pump.ultimate_pressure", &d->pump.ultimate},
                 {"trap.heat_capacity", &d->trap[0].heat_capacity},
                 {"shelf.contact", &d->shelf.contact},
                 {"shelf.gas", &d->shelf.gas},
                 {"shelf.gas_bend", &d->shelf.gas_bend}};
    size_t i = 0;
    for (size_t k = 0; k < sizeof plain / sizeof *plain; k++)
        if (strcmp(field, plain[k].name) == 0)
            return plain[k].at;
    if (sscanf(field, "pump.speed[%zu].flow", &i) == 1 && i < d->pump.speed.n)
        return &d->pump.speed.y[i];
    if (sscanf(field, "trap.refrigeration[%zu].", &i) == 1 && i < d->trap[0].refrigeration.n)
        return i == 0 ? &d->trap[0].refrigeration.x[0] : &d->trap[0].refrigeration.y[i];
    return NULL;
}

/* Cholesky's factor of a covariance that may be singular (Golub & Van Loan, Matrix Computations, 4.2.8, without the exchange of
 * rows): a constant that goes wholly with those before it has no direction of its own. */
static void factor(df_doubt *doubt, double covariance[DF_DOUBT_MOST][DF_DOUBT_MOST]) {
    for (size_t k = 0; k < doubt->n; k++)
        for (size_t i = k; i < doubt->n; i++) {
            double rest = covariance[i][k];
            for (size_t j = 0; j < k; j++)
                rest -= doubt->root[i][j] * doubt->root[k][j];
            if (i == k)
                doubt->root[k][k] = rest > SAME * covariance[k][k] ? sqrt(rest) : 0.0;
            else
                doubt->root[i][k] = doubt->root[k][k] > 0.0 ? rest / doubt->root[k][k] : 0.0;
        }
}

void df_doubt_gather(df_doubt *doubt, const df_fit *fit, size_t n) {
    double covariance[DF_DOUBT_MOST][DF_DOUBT_MOST] = {{0.0}};
    memset(doubt, 0, sizeof *doubt);
    for (size_t f = 0; f < n; f++) {
        size_t from = doubt->n, of[DF_DOUBT_MOST] = {0};
        for (size_t i = 0; i < fit[f].findings && fit[f].described; i++) {
            if (!(fit[f].joint[i][i] > 0.0) || !isfinite(fit[f].joint[i][i]) || doubt->n == DF_DOUBT_MOST)
                continue;
            of[doubt->n] = i;
            doubt->constant[doubt->n++] = &fit[f].finding[i];
        }
        for (size_t a = from; a < doubt->n; a++)
            for (size_t b = from; b < doubt->n; b++)
                covariance[a][b] = fit[f].joint[of[a]][of[b]];
    }
    factor(doubt, covariance);
}

/* d ln of the shelf's coefficient/d of each of its constants, at a pressure. */
static void slope_of(double slope[3], const df_dryer *d, double pressure) {
    double open = 1.0 + d->shelf.gas_bend * pressure, kv = df_shelf_coefficient(d, pressure);
    slope[0] = 1.0 / kv;
    slope[1] = pressure / open / kv;
    slope[2] = -d->shelf.gas * pressure * pressure / (open * open) / kv;
}

void df_doubt_move(df_dryer *moved, const df_dryer *dryer, const df_doubt *doubt, const double *z) {
    double slope[3], change = 0.0, kv = df_shelf_coefficient(dryer, doubt->pressure);
    slope_of(slope, dryer, doubt->pressure);
    *moved = *dryer;
    for (size_t i = 0; i < doubt->n; i++) {
        double *at = constant_of(moved, doubt->constant[i]->field), step = 0.0;
        for (size_t j = 0; j <= i; j++)
            step += doubt->root[i][j] * z[j];
        if (at == NULL)
            continue;
        const double *const shelf[3] = {&moved->shelf.contact, &moved->shelf.gas, &moved->shelf.gas_bend};
        for (size_t k = 0; k < 3; k++)
            change += at == shelf[k] ? slope[k] * step : 0.0;
        *at = doubt->constant[i]->dimension == DF_DIM_TEMPERATURE ? *at + step : fmax(*at + step, LEAST * *at);
    }
    double now = df_shelf_coefficient(moved, doubt->pressure);
    if (change != 0.0 && kv > 0.0 && now > 0.0) {
        moved->shelf.contact *= exp(change) * kv / now;
        moved->shelf.gas *= exp(change) * kv / now;
    }
}
