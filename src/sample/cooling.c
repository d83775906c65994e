/* Means of freezing: usual temperatures and outer heat-transfer coefficients. docs/sample.md has the sources. */
#include "dryfront/sample.h"

#include <math.h>

#define GRAVITY 9.80665 /* m/s2, standard */

#define EMISSIVITY 0.9 /* glass, frosted walls: from memory */

#define BATH_COEFFICIENT 200.0        /* W/(m2 K): assumption, see docs/sample.md */
#define SHELF_COEFFICIENT 40.0        /* W/(m2 K), flat bottom at atmospheric pressure: assumption */
#define SHELF_COEFFICIENT_SPHERE 15.0 /* W/(m2 K), a round bottom touches at one point: assumption */

/* Nitrogen at 101325 Pa: all from memory. */
#define NITROGEN_BOILING 77.35           /* K */
#define NITROGEN_VAPORISATION 199e3      /* J/kg */
#define NITROGEN_LIQUID_DENSITY 807.0    /* kg/m3 */
#define NITROGEN_SURFACE_TENSION 8.85e-3 /* N/m */
#define NITROGEN_HEAT_CAPACITY 1040.0    /* J/(kg K), vapour */
#define NITROGEN_MOLAR_MASS 0.0280134    /* kg/mol */
#define NITROGEN_NUCLEATE 1350.0         /* W/(m2 K): plunged straws, docs/sample.md */
#define FILM_HOLDS 130.0                 /* K, wall: film boiling above */
#define FILM_BROKEN 95.0                 /* K, wall: nucleate boiling below; between the two log h is linear */

static const char *const means_names[] = {"freezer", "dry_ice_bath", "liquid_nitrogen", "shelf"};
const char *df_means_name(df_means means) {
    return means_names[means];
}

double df_means_temperature(df_means means) {
    static const double usual[] = {253.15, 198.15, 77.35, 228.15};
    return usual[means];
}

/* Still air: Nusselt number from the Rayleigh number, with the properties at the mean of wall and air. */
static double air(const df_container *c, double wall, double room) {
    double mean = 0.5 * (wall + room), difference = fmax(fabs(wall - room), 0.1);
    /* Sutherland forms for viscosity and conductivity of air, heat capacity 1006 J/(kg K): from memory. */
    double rise = pow(mean / 273.15, 1.5);
    double viscosity = 1.716e-5 * rise * (273.15 + 110.4) / (mean + 110.4);
    double conductivity = 0.0241 * rise * (273.15 + 194.0) / (mean + 194.0);
    double density = DF_ATMOSPHERE * 0.028965 / (DF_GAS_CONSTANT * mean);
    double prandtl = viscosity * 1006.0 / conductivity;
    double grashof_per_length3 = GRAVITY * difference / mean * pow(density / viscosity, 2.0);
    double length, nusselt;
    if (c->kind == DF_FLASK) { /* sphere: Churchill 1983 */
        length = c->outer_diameter;
        double rayleigh = grashof_per_length3 * pow(length, 3.0) * prandtl;
        nusselt = 2.0 + 0.589 * pow(rayleigh, 0.25) / pow(1.0 + pow(0.469 / prandtl, 9.0 / 16.0), 4.0 / 9.0);
    } else if (c->kind == DF_TRAY) { /* warm plate facing down: McAdams, from memory */
        length = c->outer_diameter / 4.0;
        nusselt = 0.27 * pow(grashof_per_length3 * pow(length, 3.0) * prandtl, 0.25);
    } else { /* upright wall: Churchill & Chu 1975, laminar, from memory */
        length = c->brim_volume / (M_PI / 4.0 * c->inner_diameter * c->inner_diameter);
        double rayleigh = grashof_per_length3 * pow(length, 3.0) * prandtl;
        nusselt = 0.68 + 0.670 * pow(rayleigh, 0.25) / pow(1.0 + pow(0.492 / prandtl, 9.0 / 16.0), 4.0 / 9.0);
    }
    return nusselt * conductivity / length;
}

/* Film boiling on a body of diameter D: Breen & Westwater, Chem. Eng. Prog. 58 (7) (1962) 67, from memory,
 *     h lambda^(1/4)/F = 0.59 + 0.069 lambda/D,  F^4 = k^3 rho_v (rho_l - rho_v) g h'/(mu dT),
 * lambda the wavelength at which the film rips, h' the heat that evaporates and superheats. */
static double film(const df_container *c, double wall) {
    double difference = wall - NITROGEN_BOILING, mean = 0.5 * (wall + NITROGEN_BOILING);
    double density = DF_ATMOSPHERE * NITROGEN_MOLAR_MASS / (DF_GAS_CONSTANT * mean);
    double conductivity = 0.0258 * pow(mean / 300.0, 0.93),
           viscosity = 17.9e-6 * pow(mean / 300.0, 0.87); /* from memory */
    double lift = GRAVITY * (NITROGEN_LIQUID_DENSITY - density);
    double wavelength = 2.0 * M_PI * sqrt(NITROGEN_SURFACE_TENSION / lift);
    double heat =
        NITROGEN_VAPORISATION * pow(1.0 + 0.34 * NITROGEN_HEAT_CAPACITY * difference / NITROGEN_VAPORISATION, 2.0);
    double f = pow(pow(conductivity, 3.0) * density * lift * heat / (viscosity * difference), 0.25);
    return (0.59 + 0.069 * wavelength / c->outer_diameter) * f / pow(wavelength, 0.25);
}

static double nitrogen(const df_container *c, double wall) {
    if (wall <= FILM_BROKEN)
        return NITROGEN_NUCLEATE;
    if (wall >= FILM_HOLDS)
        return film(c, wall);
    double t = (wall - FILM_BROKEN) / (FILM_HOLDS - FILM_BROKEN);
    return NITROGEN_NUCLEATE * pow(film(c, FILM_HOLDS) / NITROGEN_NUCLEATE, t);
}

double df_cooling_coefficient(const df_cooling *cooling, const df_container *container, double wall) {
    double room = cooling->temperature;
    switch (cooling->means) {
    case DF_MEANS_FREEZER:
        return air(container, wall, room) +
               EMISSIVITY * DF_STEFAN_BOLTZMANN * (wall * wall + room * room) * (wall + room);
    case DF_MEANS_DRY_ICE_BATH:
        return BATH_COEFFICIENT;
    case DF_MEANS_LIQUID_NITROGEN:
        return nitrogen(container, wall);
    case DF_MEANS_SHELF:
        break;
    }
    return container->kind == DF_FLASK ? SHELF_COEFFICIENT_SPHERE : SHELF_COEFFICIENT;
}
