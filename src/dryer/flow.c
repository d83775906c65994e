/* Components of a dryer: trap, pump, tube, port, heat from the room and the shelf. Equations and sources stand in
 * include/dryfront/dryer.h. */
#include "dryfront/dryer.h"

#include "base/bernoulli.h"

#include <math.h>

#define R DF_GAS_CONSTANT
#define VISCOSITY 1.0e-5 /* Pa s: water vapour and the solvents' vapours near 290 K lie within 0.7e-5 to 1.1e-5 */
#define GAMMA 1.25       /* heat-capacity ratio for the cap on the sum: water 1.33, acetonitrile 1.19, air 1.40 */
#define SONIC 250.0      /* m/s, the order of the vapours' speed of sound */
#define SPEED_FALL                                                                                                   \
    0.01 /* of the pressure that a gas near it loses at the least: an orifice loses more; keeps two spaces
                          * at one atmosphere from being one (assumption) */
#define EMISSIVITY 0.9          /* clear glass: Rambhatla & Pikal, AAPS PharmSciTech 4 (2003) 22 */
#define BOILING 200.0           /* W/(m2 K) from the wall of a finger to its coolant: assumption */
#define FROST_CONDUCTIVITY 0.25 /* W/(m K), common practice, no source */

static const struct {
    const char *name;
    double temperature, heat; /* K, J/kg: from memory */
} coolants[] = {{"dry_ice", 194.69, 571e3}, {"liquid_nitrogen", 77.36, 199e3}};

const char *df_coolant_name(df_coolant coolant) {
    return coolants[coolant].name;
}
double df_coolant_heat(df_coolant coolant) {
    return coolants[coolant].heat;
}
double df_coolant_temperature(df_coolant coolant) {
    return coolants[coolant].temperature;
}

double df_trap_no_load(const df_trap *t) {
    const df_curve *c = &t->refrigeration;
    if (t->kind == DF_TRAP_FINGER)
        return t->temperature;
    for (size_t i = 1; i < c->n; i++)
        if (c->y[i] > 0.0) /* the foot of the first rising segment */
            return c->x[i] - c->y[i] * (c->x[i] - c->x[i - 1]) / (c->y[i] - c->y[i - 1]);
    return c->x[0];
}

double df_trap_refrigeration(const df_trap *t, double coil) {
    const df_curve *c = &t->refrigeration;
    if (t->kind == DF_TRAP_FINGER)
        return BOILING * t->area * fmax(coil - t->temperature, 0.0);
    size_t i = 1; /* below the no-load temperature the first segment goes on: the room heats it back */
    while (i + 1 < c->n && coil > c->x[i])
        i++;
    return c->y[i - 1] + (c->y[i] - c->y[i - 1]) * (coil - c->x[i - 1]) / (c->x[i] - c->x[i - 1]);
}

void df_trap_shift(df_trap *t, double temperature) {
    double by = temperature - df_trap_no_load(t);
    t->temperature += by;
    for (size_t i = 0; i < t->refrigeration.n; i++)
        t->refrigeration.x[i] += by;
}

static const struct {
    const char *name;
    df_curve speed; /* Pa -> share of the nominal speed */
} pumps[] = {
    {"oil_sealed", {2, {1.0, 1e5}, {1.0, 1.0}}},
    {"dry", {2, {1.0, 1e5}, {1.0, 1.0}}},
    {"scroll", {4, {10.0, 100.0, 1e3, 1e5}, {0.67, 0.9, 1.0, 1.0}}},
    {"diaphragm", {4, {100.0, 1e3, 1e4, 1e5}, {0.3, 0.5, 0.9, 1.0}}},
};

const char *df_pump_kind_name(df_pump_kind kind) {
    return pumps[kind].name;
}

void df_pump_generic(df_dryer *d, double nominal) {
    d->pump.speed = pumps[d->pump.kind].speed;
    for (size_t i = 0; i < d->pump.speed.n; i++)
        d->pump.speed.y[i] *= nominal;
}

double df_pump_speed(const df_dryer *d, double pressure, double ultimate) {
    const df_curve *c = &d->pump.speed;
    if (!(pressure > ultimate))
        return 0.0;
    double speed;
    if (c->n == 1 || pressure <= c->x[0])
        speed = c->y[0];
    else if (pressure >= c->x[c->n - 1])
        speed = c->y[c->n - 1];
    else {
        size_t i = 1;
        while (pressure > c->x[i])
            i++;
        speed = c->y[i - 1] + (c->y[i] - c->y[i - 1]) * log(pressure / c->x[i - 1]) / log(c->x[i] / c->x[i - 1]);
    }
    return speed * (1.0 - ultimate / pressure);
}

double df_choked_flow(double area, double pressure, double temperature, double molar_mass, double gamma) {
    return area * pressure * sqrt(gamma * molar_mass / (R * temperature)) *
           pow(2.0 / (gamma + 1.0), (gamma + 1.0) / (2.0 * (gamma - 1.0)));
}

double df_port_conductance(double diameter, double length, double molar_mass, double temperature) {
    double area = M_PI / 4.0 * diameter * diameter;
    return area * sqrt(molar_mass / (2.0 * M_PI * R * temperature)) / (1.0 + 0.75 * length / diameter);
}

#define MOST_GASES (DF_MAX_COMPONENTS + 1)

double df_tube_slopes(double *flow, double *by1, double *by2, double diameter, double length, const double *p1,
                      const double *p2, const double *molar_mass, size_t n, double temperature) {
    double total1 = 0.0, total2 = 0.0;
    for (size_t i = 0; i < n; i++) {
        total1 += p1[i];
        total2 += p2[i];
    }
    double area = M_PI / 4.0 * diameter * diameter, d2 = diameter * diameter;
    double s1 = total1 * total1, s2 = total2 * total2;
    double upstream = sqrt(sqrt(s1 * s1 + s2 * s2)); /* a maximum without a corner */
    double thermal = sqrt(1.0 / (R * temperature));
    double kinetic = area * thermal / sqrt(2.0 * M_PI) / (1.0 + 0.75 * length / diameter); /* df_port_conductance */
    double carried = 0.0, fall = 0.0; /* m3/s of gas at upstream pressure: Poiseuille, and a little for its speed */
    double friction = 128.0 * VISCOSITY * length / (M_PI * d2 * d2), speed = SPEED_FALL / (area * SONIC);
    if (upstream > 0.0) {
        fall = (total1 - total2) * 0.5 * (total1 + total2) / upstream;
        carried = fall / (friction + speed * upstream);
    }
    double load = 0.0, to_peclet = 1.0 / (R * temperature * kinetic);
    double forth[MOST_GASES], back[MOST_GASES], swept[MOST_GASES], swept_load = 0.0; /* by p1, by p2, by carried */
    for (size_t i = 0; i < n; i++) {
        double root = sqrt(molar_mass[i]), molecular = kinetic * root; /* molecular conductance, kg/(s Pa) */
        double peclet = carried * root * to_peclet, slope, out = df_bernoulli(peclet, &slope);
        forth[i] = molecular * out;
        back[i] = molecular * (out - peclet);
        flow[i] = p1[i] * forth[i] - p2[i] * back[i];
        swept[i] = molecular * (slope * (p1[i] - p2[i]) + p2[i]) * root * to_peclet;
        load += flow[i] / root; /* in units of the choked flow of each pure gas at its share of the pressure */
        swept_load += swept[i] / root;
    }
    /* df_choked_flow for GAMMA = 5/4, whose exponents are 9/2 */
    const double x = 2.0 / (GAMMA + 1.0);
    double limit = area * upstream * thermal * sqrt(GAMMA * x) * x * x * x * x;
    double r2 = limit > 0.0 ? load * load / (limit * limit) : 0.0;
    double scale = limit > 0.0 ? 1.0 / sqrt(sqrt(1.0 + r2 * r2)) : 1.0; /* smooth minimum of the flow and its limit */
    if (by1 != NULL && upstream > 0.0) {
        /* flow = scale raw: what the totals change by what is carried and by the limit, then each pressure by itself */
        double u3 = 1.0 / (upstream * upstream * upstream), held = -scale * r2 * r2 / (1.0 + r2 * r2);
        double rise[2] = {s1 * total1 * u3, s2 * total2 * u3}, more[2];
        more[0] = (total1 - fall * rise[0]) / upstream;
        more[1] = (-total2 - fall * rise[1]) / upstream;
        for (int side = 0; side < 2; side++)
            more[side] = (more[side] - carried * speed * rise[side]) / (friction + speed * upstream);
        for (size_t j = 0; j < n; j++)
            for (int side = 0; side < 2; side++) {
                double *column = (side == 0 ? by1 : by2) + j * n, own = side == 0 ? forth[j] : -back[j];
                double loaded = own / sqrt(molar_mass[j]) + swept_load * more[side];
                double squeezed = load != 0.0 ? held * (loaded / load - rise[side] / upstream) : 0.0;
                for (size_t i = 0; i < n; i++)
                    column[i] = scale * swept[i] * more[side] + flow[i] * squeezed;
                column[j] += scale * own;
            }
    }
    for (size_t i = 0; i < n; i++)
        flow[i] *= scale;
    return sqrt(r2) * scale;
}

double df_tube_flow(double *flow, double diameter, double length, const double *p1, const double *p2,
                    const double *molar_mass, size_t n, double temperature) {
    return df_tube_slopes(flow, NULL, NULL, diameter, length, p1, p2, molar_mass, n, temperature);
}

/* Natural convection on a sphere in air, W/(m2 K); air properties at the mean film temperature. */
static double convection(double room, double surface, double diameter) {
    double film = 0.5 * (room + surface), difference = fabs(room - surface);
    double nu = 1.32e-5 * pow(film / 273.15, 1.75),
           alpha = 1.85e-5 * pow(film / 273.15, 1.75); /* m2/s, from memory */
    double k = 0.0241 * pow(film / 273.15, 0.85);      /* W/(m K), from memory */
    double rayleigh = 9.81 * difference / film * diameter * diameter * diameter / (nu * alpha);
    double prandtl = nu / alpha;
    return k / diameter *
           (2.0 + 0.589 * sqrt(sqrt(rayleigh)) / pow(1.0 + pow(0.469 / prandtl, 9.0 / 16.0), 4.0 / 9.0));
}

double df_room_heat_flux(double room, double surface, double diameter, double frost) {
    double outside = surface, flux = 0.0;
    for (int i = 0; i < 30; i++) {
        double room4 = room * room * room * room, out4 = outside * outside * outside * outside;
        double radiation = EMISSIVITY * DF_STEFAN_BOLTZMANN * (room4 - out4);
        flux = radiation + (diameter > 0.0 ? convection(room, outside, diameter) * (room - outside) : 0.0);
        double next = fmin(surface + flux * frost / FROST_CONDUCTIVITY, fmax(room, surface));
        if (fabs(next - outside) < 1e-6)
            break;
        outside = 0.5 * (outside + next);
    }
    return flux;
}

double df_shelf_ramp(const df_dryer *d) {
    return d->shelf.ramp > 0.0 ? d->shelf.ramp : DF_SHELF_RAMP;
}

double df_shelf_coefficient(const df_dryer *d, double pressure) {
    return d->shelf.contact + d->shelf.gas * pressure / (1.0 + d->shelf.gas_bend * pressure);
}
