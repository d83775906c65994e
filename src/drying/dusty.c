/* Gases in a porous body: kinetic theory and the dusty-gas model. Equations stand in include/dryfront/transient.h. */
#include "dryfront/transient.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#define R DF_GAS_CONSTANT
#define AVOGADRO 6.02214076e23  /* 1/mol, exact since the 2019 SI */
#define WATER_MASS 0.0180152675 /* kg/mol, as in data/constants.csv */
#define SPREADING 1.75          /* exponent of T in a diffusivity times pressure: Fuller's */
#define MEAN 250.0              /* K */

/* cm3/mol, of the atoms in a formula; rings count as chains, which makes them larger by a sixth or less. */
static double diffusion_volume(const char *formula) {
    static const struct {
        char symbol[3];
        double volume;
    } atom[] = {{"Cl", 21.0}, {"Br", 21.9}, {"C", 15.9}, {"H", 2.31}, {"O", 6.11},
                {"N", 4.54},  {"S", 22.9},  {"F", 14.7}, {"I", 29.8}};
    double sum = 0.0;
    while (*formula != '\0') {
        size_t k = 0, kinds = sizeof atom / sizeof atom[0];
        while (k < kinds && strncmp(formula, atom[k].symbol, strlen(atom[k].symbol)) != 0)
            k++;
        if (k == kinds) {
            formula++;
            continue;
        }
        formula += strlen(atom[k].symbol);
        char *end;
        unsigned long count = strtoul(formula, &end, 10);
        sum += (double)(end == formula ? 1 : count) * atom[k].volume;
        formula = end;
    }
    return sum > 0.0 ? sum : 80.0; /* without a formula: of a middling solvent */
}

df_gas df_gas_of(const df_substance *s) {
    if (s->is_water) /* polar: its critical point misleads. 2.641 A, 809.1 K: Poling, Prausnitz & O'Connell, from memory */
        return (df_gas){s->molar_mass, 2.641e-10, 809.1, 13.1};
    return (df_gas){s->molar_mass, 2.44e-10 * cbrt(s->critical_temperature / (s->critical_pressure / DF_ATMOSPHERE)),
                    0.77 * s->critical_temperature, diffusion_volume(s->formula)};
}

df_gas df_gas_air(void) {
    /* 3.617 A and 97.0 K: Bird, Stewart & Lightfoot, table E.1, from memory; held by published figures in the tests */
    return (df_gas){0.0289652, 3.617e-10, 97.0, 19.7};
}

double df_gas_viscosity(const df_gas *g, double t) {
    double x = t / g->well;
    double omega = 1.16145 * pow(x, -0.14874) + 0.52487 * exp(-0.77320 * x) + 2.16178 * exp(-2.43787 * x);
    return 5.0 / 16.0 * sqrt(g->molar_mass * R * t / M_PI) / (AVOGADRO * g->diameter * g->diameter * omega);
}

double df_gas_diffusivity(const df_gas *a, const df_gas *b, double t) {
    double wide = cbrt(a->volume) + cbrt(b->volume), mass = 2000.0 / (1.0 / a->molar_mass + 1.0 / b->molar_mass);
    return 0.0143 * pow(t, SPREADING) / (sqrt(mass) * wide * wide); /* 0.00143 cm2 bar/s */
}

void df_dusty_make(df_dusty *out, const df_gas *gas, size_t n, const df_pores *pores) {
    const double span = log(300.0 / 200.0);
    memset(out, 0, sizeof *out);
    out->n = n;
    out->pores = *pores;
    for (size_t i = 0; i < n; i++) {
        out->molar_mass[i] = gas[i].molar_mass;
        out->root[i] = sqrt(WATER_MASS / gas[i].molar_mass);
        out->viscosity[i] = df_gas_viscosity(&gas[i], MEAN);
        out->thinning[i] = log(df_gas_viscosity(&gas[i], 300.0) / df_gas_viscosity(&gas[i], 200.0)) / span;
        for (size_t j = 0; j < n; j++) {
            out->diffusivity[i][j] = pores->openness * df_gas_diffusivity(&gas[i], &gas[j], MEAN);
        }
    }
}

double df_dusty_radius(const df_dusty *d, double resistivity, double t) {
    if (!isfinite(d->pores.openness) || !(resistivity > 0.0))
        return d->pores.radius;
    double speed = sqrt(8.0 * R * t / (M_PI * WATER_MASS));
    return fmin(d->pores.radius, 1.5 * R * t / (WATER_MASS * resistivity * d->pores.openness * speed));
}

/* (1 + x)^e to the third order: within 2e-4 for the exponents here and temperatures from 190 to 320 K. */
static double power(double x, double e) {
    return 1.0 + e * x * (1.0 + 0.5 * (e - 1.0) * x * (1.0 + (e - 2.0) / 3.0 * x));
}

void df_dusty_slope(double *slope, const df_dusty *d, const double *p, const double *flux, const double *share,
                    double resistivity, double t) {
    size_t n = d->n;
    double rt = R * t, warm = t / MEAN - 1.0, total = 0.0, pull = 0.0, ease = 1.0;
    double rise = resistivity * (d->pores.temperature > 0.0 ? sqrt(t / d->pores.temperature) : 1.0);
    double slip[DF_MAX_GASES], moles[DF_MAX_GASES];
    for (size_t i = 0; i < n; i++) {
        total += p[i];
        moles[i] = flux[i] / d->molar_mass[i];
    }
    /* friction with the walls */
    for (size_t i = 0; i < n; i++) {
        slope[i] = rise * d->root[i] * flux[i] / (share != NULL ? share[i] : 1.0);
        pull += slope[i];
    }
    /* of one gas with another: their sum is nought */
    if (isfinite(d->pores.openness)) {
        double part = rt / power(warm, SPREADING);
        for (size_t i = 0; i < n; i++)
            for (size_t j = 0; j < i; j++) {
                double friction = part * (p[j] * moles[i] - p[i] * moles[j]) / d->diffusivity[i][j];
                slope[i] += friction;
                slope[j] -= friction;
            }
    }
    /* what the flow of all together carries along */
    if (!(d->pores.radius > 0.0) || !(total > 0.0))
        return;
    double viscosity = 0.0;
    for (size_t i = 0; i < n; i++)
        viscosity += p[i] / total * d->viscosity[i] * power(warm, d->thinning[i]);
    if (!(viscosity > 0.0))
        return;
    double each = 3.0 * df_dusty_radius(d, rise, t) / (16.0 * sqrt(8.0 * rt / (M_PI * WATER_MASS)) * viscosity);
    for (size_t i = 0; i < n; i++) {
        slip[i] = each / d->root[i] * p[i]; /* the mean speed goes with the inverse root of the molar mass */
        ease += slip[i];
    }
    pull /= ease;
    for (size_t i = 0; i < n; i++)
        slope[i] -= slip[i] * pull;
}
