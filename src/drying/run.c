/* Model (a) of primary drying: one front for each volatile species in each class of containers, quasi-steady in the
 * body, integrated in time together with chamber, duct, trap and pump.
 *
 * Unknowns, all amounts so that sums of them are conserved by a linear multistep method to rounding:
 *   each class: mass of each species in one container (kg), enthalpy of one container (J)
 *   chamber and trap space: mass of each species and of air in the gas (kg)
 *   deposit of each species (kg); coil and deposit-surface temperature (K)
 *   exhaust: mass of each species and of air (kg); air let in (kg); heat in and heat out (J)
 * docs/drying.md has the equations. */
#include "base/solver.h"
#include "drying/arrow.h"

#include <cvode/cvode.h>
#include <math.h>
#include <nvector/nvector_serial.h>
#include <stdlib.h>
#include <string.h>

#define N DF_MAX_COMPONENTS
#define R DF_GAS_CONSTANT
#define AIR_MOLAR_MASS 0.0289652 /* kg/mol, dry air, ISO 2533 */
#define STICKING 0.05        /* share of the kinetic limit at which a trap of open coils takes vapour: assumption */
#define LEAST_DEPOSIT 1e-4   /* m, film that is always there, so that the surface is tied to the coil */
#define SURFACE_HEAT 400.0   /* J/K of the deposit's outer skin: sets a time of seconds, no result */
#define REEVAPORATE 2e-3     /* of a species' load: amount on the trap over which its re-evaporation fades out */
#define GLASS_HEAT 830.0     /* J/(kg K), borosilicate glass, common practice */
#define SOLUTE_HEAT 1250.0   /* J/(kg K), sugars and peptides, common practice */
#define LAG 0.02             /* fraction behind the framework's front over which a pocket opens */
#define GONE 1e-7            /* fraction of a species left that counts as gone */
#define TRAP_POINTS 221      /* 100 K to 320 K by 1 K */
#define GAS_TOLERANCE 0.02   /* Pa */
#define LEAST_PRESSURE -30.0 /* Pa: a gas below it is no state to go on from */
#define MOST_STEPS 100000    /* a run takes some hundreds */
#define LAST                                                                                                         \
    0.01               /* fraction of the framework left under which its temperature no longer counts: the last
                                  * specks warm as their contact with the wall is a guess */
#define SETTLING 300.0 /* s, after which pressures and trap temperatures are judged */
#define CONTROL_BAND                                                                                                 \
    1e-3 /* of the set point: width of a pressure controller. Smooth, since a Newton step with an
                                  * old Jacobian would take a closed valve for a solution */

typedef struct body {
    const df_class *c;
    int map[N];                                /* species of the class -> species of the run */
    double initial[N];                         /* kg in one container */
    double conductance[N];                     /* phi^m sqrt(M/Mw): multiplies area/(R0 + A1 L/(1 + A2 L)) */
    double open[N];                            /* the same without phi^m: through the open cake */
    double port[N];                            /* kg/(s Pa), INFINITY on a shelf */
    double vapour_enthalpy[N][DF_PATH_POINTS]; /* J/kg, on the grid of the path */
    double pure_ln[N][DF_PATH_POINTS]; /* ln Pa over what the framework's front has left behind: the pure substance */
    double room_flux[DF_PATH_POINTS];  /* W/m2 from the room to a wall at the grid's temperature */
    double conductivity;
    double rest;      /* J/K of glass and solutes */
    double solidus;   /* K, effective, of the whole composition */
    size_t framework; /* the species that fills most of the body: its front is the framework's */
    bool gone[N];
} body;

typedef struct system_ {
    const df_setup *setup;
    const df_dryer *dryer;
    size_t species, bodies, states;
    df_arrow_shape shape;
    const df_substance *substance[N];
    double molar_mass[N + 1];
    body *body; /* one for each class */
    double gas_temperature;
    double deposit_ln[N][TRAP_POINTS];       /* ln Pa of formula pressure over the deposit */
    double deposit_enthalpy[N][TRAP_POINTS]; /* J/kg given up on condensing, from gas at room temperature */
    double deposit_solid[N][TRAP_POINTS];    /* share of the deposit that is solid */
    double deposit_conductivity[N], deposit_density[N];
    double kinetic[N]; /* kg/(s Pa) of the whole coil */
    double fading[N];  /* kg, see REEVAPORATE */
    /* offsets */
    size_t at_chamber, at_trap, at_deposit, at_coil, at_exhaust, at_air, at_heat;
} system_;

/* Derived quantities of one class at one state. */
typedef struct look {
    double front, wall, heat, heat_out;
    double flow[N]; /* kg/s of one container, by species of the class */
} look;

void df_cake_assume(df_cake *cake, double solids) {
    double share = solids / (solids + 1000.0);
    cake->r0 = 1.0e4;
    cake->a1 = 1.9e5 / 5e-3 * share / 0.25;
    cake->a2 = 0.0;
    cake->stated = false;
}

void df_setup_defaults(df_setup *s) {
    memset(s, 0, sizeof *s);
    s->pore_exponent = 1.5;
    s->least_framework = 0.45;
    s->trace_liquid = 0.01;
    s->margin = 1.0;
    s->time_limit = 14.0 * 86400.0;
    s->start_pressure = 100.0;
    s->tolerance = 1e-5;
}

double df_effective_solidus(const df_frozen_path *path, double trace) {
    size_t i = path->points - 1;
    while (i > 0 && path->liquid_mass[i] > trace)
        i--;
    if (path->liquid_mass[i] > trace)
        return NAN;
    double here = path->lowest + path->step * (double)i;
    if (i + 1 == path->points)
        return here;
    double linear =
        here + path->step * (trace - path->liquid_mass[i]) / (path->liquid_mass[i + 1] - path->liquid_mass[i]);
    /* A jump between two nodes is an invariant: the solidus itself, where it lies there, is the better figure. */
    bool jump = path->solidus >= here && path->solidus < here + path->step;
    return jump ? fmax(path->solidus, fmin(linear, path->solidus + 0.01)) : linear;
}

static double table_at(const double *table, double at, size_t points) {
    if (!(at > 0.0))
        return table[0];
    size_t i = (size_t)at;
    if (i + 1 >= points)
        return table[points - 1];
    return table[i] + (at - (double)i) * (table[i + 1] - table[i]);
}

static double recipe_at(const df_recipe *r, const double *values, double time) {
    return r->n == 0 ? 0.0 : df_interpolate(r->time, values, r->n, time);
}

/* Enthalpy of a container at node k of its path, over that at the path's lowest temperature, J. */
static double enthalpy_at(const body *b, const double *mass, size_t k) {
    const df_frozen_path *p = b->c->path;
    double sum = b->rest * p->step * (double)k;
    for (size_t i = 0; i < p->n; i++)
        sum += mass[i] * p->species_enthalpy[i][k];
    return sum;
}

/* Temperature of a container from its enthalpy: the tables are straight between nodes, so the cell is found by
 * bisection and inverted exactly; beyond the ends the last cell goes on. */
static double temperature_of(const body *b, const double *mass, double enthalpy) {
    const df_frozen_path *p = b->c->path;
    size_t low = 0, high = p->points - 1;
    double below = enthalpy_at(b, mass, low), above = enthalpy_at(b, mass, high);
    if (enthalpy <= below)
        above = enthalpy_at(b, mass, high = 1);
    else if (enthalpy >= above)
        below = enthalpy_at(b, mass, low = high - 1);
    while (high - low > 1) {
        size_t middle = (low + high) / 2;
        double value = enthalpy_at(b, mass, middle);
        if (value > enthalpy) {
            high = middle;
            above = value;
        } else {
            low = middle;
            below = value;
        }
    }
    return p->lowest + p->step * ((double)low + (enthalpy - below) / (above - below));
}

static double enthalpy_of(const body *b, const double *mass, double temperature) {
    const df_frozen_path *p = b->c->path;
    double sum = b->rest * (temperature - p->lowest);
    for (size_t i = 0; i < p->n; i++)
        sum += mass[i] * df_frozen_path_at(p, p->species_enthalpy[i], temperature);
    return sum;
}

static void look_at(look *out, const system_ *s, const body *b, const double *mass, double enthalpy,
                    const double *chamber, double total, double shelf) {
    const df_class *c = b->c;
    const df_frozen_path *p = c->path;
    double t = temperature_of(b, mass, enthalpy), at = (t - p->lowest) / p->step;
    double largest = 0.0, framework = b->gone[b->framework] ? 0.0 : mass[b->framework] / b->initial[b->framework];
    out->front = t;
    out->heat_out = 0.0;
    for (size_t i = 0; i < p->n; i++) {
        double left = b->initial[i] > 0.0 ? mass[i] / b->initial[i] : 0.0;
        left = fmin(fmax(left, 0.0), 1.0);
        largest = fmax(largest, left);
        out->flow[i] = 0.0;
        if (b->gone[i])
            continue;
        double u = left * (DF_SHAPE_POINTS - 1);
        double depth = table_at(c->shape.depth, u, DF_SHAPE_POINTS),
               area = table_at(c->shape.area, u, DF_SHAPE_POINTS);
        double resistance = c->cake.r0 + c->cake.a1 * depth / (1.0 + c->cake.a2 * depth);
        double open = b->conductance[i], pressure = exp(table_at(p->pressure_ln[i], at, p->points));
        if (i != b->framework && left > framework) {
            /* what the framework's front has passed lies in the open cake, as the pure substance */
            double s_ = fmin((left - framework) / LAG, 1.0);
            s_ = s_ * s_ * (3.0 - 2.0 * s_);
            open += s_ * (b->open[i] - open);
            pressure += s_ * (exp(table_at(b->pure_ln[i], at, p->points)) - pressure);
        }
        double conductance = area * open / resistance;
        conductance = conductance / (1.0 + conductance / b->port[i]);
        double drive = pressure - chamber[b->map[i]];
        if (drive > 0.0) {
            out->flow[i] = conductance * drive;
            out->heat_out += out->flow[i] * table_at(b->vapour_enthalpy[i], at, p->points);
        }
    }
    /* Heat: shelf and room to the wall, through the frozen layer to the front. */
    double u = largest * (DF_SHAPE_POINTS - 1);
    double path = table_at(c->shape.path, u, DF_SHAPE_POINTS),
           contact = table_at(c->shape.contact, u, DF_SHAPE_POINTS);
    contact = fmax(contact, 0.02 * c->shape.heated_area); /* the last of the cake still touches the glass */
    double through = b->conductivity * contact / fmax(path, 1e-9);
    double kv = 0.0, room_area = c->room_area;
    if (c->place == DF_PLACE_SHELF) {
        double outer = c->container.kind == DF_FLASK
                           ? c->shape.contact[DF_SHAPE_POINTS - 1]
                           : M_PI / 4.0 * c->container.outer_diameter * c->container.outer_diameter;
        kv = c->kv_factor * df_shelf_coefficient(s->dryer, total) * outer;
    } else
        room_area += contact * (c->container.outer_diameter * c->container.outer_diameter) /
                     (c->container.inner_diameter * c->container.inner_diameter);
    double wall = t, heat = 0.0;
    for (int round = 0; round < 3; round++) {
        double w = (wall - p->lowest) / p->step;
        double flux = table_at(b->room_flux, w, p->points);
        double slope = (flux - table_at(b->room_flux, w + 1.0, p->points)) / p->step; /* positive */
        double u_room = room_area * fmax(slope, 0.0);
        /* kv (shelf - wall) + room_area flux(wall) = through (wall - t), flux taken straight around the last wall */
        wall = (kv * shelf + room_area * flux + u_room * wall + through * t) / (kv + u_room + through);
    }
    heat = through * (wall - t);
    out->wall = wall;
    out->heat = heat;
}

static void pressures(double *p, const system_ *s, const double *gas, double volume) {
    for (size_t i = 0; i <= s->species; i++)
        p[i] = gas[i] * R * s->gas_temperature / (s->molar_mass[i] * volume);
}

static double sum(const double *p, size_t n) {
    double total = 0.0;
    for (size_t i = 0; i < n; i++)
        total += p[i];
    return total;
}

/* Conductance from coil to deposit surface, W/K. */
static double deposit_link(const system_ *s, const double *deposit, double surface) {
    double volume = 0.0, weighted = 0.0, at = surface - 100.0;
    for (size_t i = 0; i < s->species; i++) {
        double v = fmax(deposit[i], 0.0) / s->deposit_density[i] * table_at(s->deposit_solid[i], at, TRAP_POINTS);
        volume += v;
        weighted += v * log(s->deposit_conductivity[i]);
    }
    double conductivity = volume > 0.0 ? exp(weighted / volume) : 2.0;
    return s->dryer->trap[0].area * conductivity / (volume / s->dryer->trap[0].area + LEAST_DEPOSIT);
}

/* What a class does to its own states, to the chamber's gases (n + 1, added to) and to the two heat accounts. */
static void class_rates(double *own, double *gas, double *heat, const system_ *s, const body *b, const double *y,
                        const double *chamber, double total, double shelf) {
    size_t m = b->c->path->n;
    double count = (double)b->c->count;
    look l;
    look_at(&l, s, b, y, y[m], chamber, total, shelf);
    for (size_t i = 0; i < m; i++) {
        own[i] = -l.flow[i];
        gas[b->map[i]] += count * l.flow[i];
    }
    own[m] = l.heat - l.heat_out;
    heat[0] += count * l.heat;
    heat[1] += count * l.heat_out;
}

/* Duct, pressure control, leak, trap, coil, pump: rates of the core (added to) and of the accumulators but for heat. */
static void core_rates(double *core, double *end, const system_ *s, const double *y, double wanted) {
    const df_dryer *d = s->dryer;
    size_t n = s->species;
    const double *gas = y, *trap_gas = y + n + 1, *there = y + 2 * (n + 1), *coil = there + n;
    double chamber[N + 1], trap[N + 1], flow[N + 1];
    pressures(chamber, s, gas, d->chamber.volume);
    pressures(trap, s, trap_gas, d->trap[0].volume);
    double total = sum(chamber, n + 1), trap_total = sum(trap, n + 1);
    df_tube_flow(flow, d->duct.diameter, d->duct.length, chamber, trap, s->molar_mass, n + 1, s->gas_temperature);
    double valve = 1.0, let_in = d->chamber.leak * AIR_MOLAR_MASS / (R * s->gas_temperature);
    if (wanted > 0.0 && d->chamber.control == DF_CONTROL_THROTTLE)
        valve = 1.0 / (1.0 + exp(-(total - wanted) / (CONTROL_BAND * wanted)));
    else if (wanted > 0.0 && d->chamber.control == DF_CONTROL_BLEED) {
        double band = CONTROL_BAND * wanted, over = (wanted - total) / band;
        double lack = over > 30.0 ? wanted - total : band * log1p(exp(over)); /* smooth max(0, wanted - total) */
        let_in += lack * d->chamber.volume * AIR_MOLAR_MASS / (R * s->gas_temperature);
    }
    double speed = df_pump_speed(d, trap_total, d->pump.ultimate);
    for (size_t i = 0; i <= n; i++) {
        double out = speed * trap_gas[i] / d->trap[0].volume;
        core[i] -= valve * flow[i];
        core[n + 1 + i] += valve * flow[i] - out;
        end[i] = out;
    }
    core[n] += let_in;
    end[n + 1] = let_in;

    double surface = coil[1], condensing = 0.0, on_surface = surface - 100.0;
    for (size_t i = 0; i < n; i++) {
        double drive = trap[i] - exp(table_at(s->deposit_ln[i], on_surface, TRAP_POINTS));
        double rate = s->kinetic[i] * drive;
        if (drive < 0.0)
            rate *= fmax(there[i], 0.0) / (fmax(there[i], 0.0) + s->fading[i]);
        core[2 * (n + 1) + i] += rate;
        core[n + 1 + i] -= rate;
        condensing += rate * table_at(s->deposit_enthalpy[i], on_surface, TRAP_POINTS);
    }
    double link = deposit_link(s, there, surface) * (surface - coil[0]);
    core[3 * n + 2] += (link - df_trap_refrigeration(&d->trap[0], coil[0])) / d->trap[0].heat_capacity;
    core[3 * n + 3] += (condensing - link) / SURFACE_HEAT;
}

/* Whether a state can be one of nature: no gas clearly below nought, no container off its table of enthalpy. */
static bool physical(const system_ *s, const double *y) {
    const double volume[2] = {s->dryer->chamber.volume, s->dryer->trap[0].volume};
    const size_t start[2] = {s->at_chamber, s->at_trap};
    for (int v = 0; v < 2; v++)
        for (size_t i = 0; i <= s->species; i++)
            if (!(y[start[v] + i] * R * s->gas_temperature > LEAST_PRESSURE * s->molar_mass[i] * volume[v]))
                return false;
    for (size_t k = 0; k < s->bodies; k++) {
        const body *b = &s->body[k];
        const double *own = &y[s->shape.start[k]];
        const df_frozen_path *p = b->c->path;
        double coldest = 0.0, warmest = b->rest * p->step * (double)(p->points - 1);
        for (size_t i = 0; i < p->n; i++) {
            coldest += own[i] * p->species_enthalpy[i][0];
            warmest += own[i] * p->species_enthalpy[i][p->points - 1];
        }
        double slack = 0.2 * (warmest - coldest);
        if (!(own[p->n] > coldest - slack && own[p->n] < warmest + slack))
            return false;
    }
    return true;
}

static int derivative(realtype time, N_Vector state, N_Vector rate, void *data) {
    const system_ *s = data;
    const double *y = N_VGetArrayPointer(state);
    double *f = N_VGetArrayPointer(rate), chamber[N + 1];
    memset(f, 0, s->states * sizeof *f);
    if (!physical(s, y))
        return 1; /* a step too long: the integrator shortens it */
    pressures(chamber, s, &y[s->at_chamber], s->dryer->chamber.volume);
    double total = sum(chamber, s->species + 1);
    double shelf = recipe_at(&s->setup->recipe, s->setup->recipe.shelf_temperature, time);
    double wanted = recipe_at(&s->setup->recipe, s->setup->recipe.pressure, time);
    for (size_t k = 0; k < s->bodies; k++)
        class_rates(&f[s->shape.start[k]], &f[s->at_chamber], &f[s->at_heat], s, &s->body[k], &y[s->shape.start[k]],
                    chamber, total, shelf);
    core_rates(&f[s->at_chamber], &f[s->at_exhaust], s, &y[s->at_chamber], wanted);
    return 0;
}

/* Difference quotients, block by block: a class acts on itself, the chamber and the heat accounts; the chamber's gases act
 * on every class; the core on itself and the accumulators. Each column is the difference of two sets of rates that obey the
 * balances, so that a Newton step keeps them. */
static int jacobian(realtype time, N_Vector state, N_Vector rate, SUNMatrix matrix, void *data, N_Vector t1,
                    N_Vector t2, N_Vector t3) {
    const system_ *s = data;
    const df_arrow_shape *shape = &s->shape;
    df_arrow *a = df_arrow_content(matrix);
    const double *y = N_VGetArrayPointer(state);
    size_t g = shape->gases, m = shape->core, tail = shape->tail;
    double chamber[N + 1], own0[DF_ARROW_SIDE], own1[DF_ARROW_SIDE], shifted[DF_ARROW_CORE];
    double gas0[N + 1], gas1[N + 1], heat0[2], heat1[2];
    (void)rate;
    (void)t1;
    (void)t2;
    (void)t3;
    SUNMatZero(matrix);
    pressures(chamber, s, &y[s->at_chamber], s->dryer->chamber.volume);
    double total = sum(chamber, g);
    double shelf = recipe_at(&s->setup->recipe, s->setup->recipe.shelf_temperature, time);
    double wanted = recipe_at(&s->setup->recipe, s->setup->recipe.pressure, time);
    for (size_t k = 0; k < shape->classes; k++) {
        const body *b = &s->body[k];
        const double *own = &y[shape->start[k]];
        size_t q = shape->side[k];
        memset(gas0, 0, sizeof gas0);
        memset(heat0, 0, sizeof heat0);
        class_rates(own0, gas0, heat0, s, b, own, chamber, total, shelf);
        for (size_t j = 0; j < q + g; j++) {
            double moved[DF_ARROW_SIDE], around[N + 1], sum_around = total, step;
            memcpy(moved, own, q * sizeof *moved);
            memcpy(around, chamber, g * sizeof *around);
            memset(gas1, 0, sizeof gas1);
            memset(heat1, 0, sizeof heat1);
            if (j < q) {
                step = 1e-7 * fmax(fabs(own[j]), 1e-9);
                moved[j] += step;
                step = moved[j] - own[j];
            } else { /* a step of pressure, then per kg of gas */
                size_t i = j - q;
                double per_kg = R * s->gas_temperature / (s->molar_mass[i] * s->dryer->chamber.volume);
                double lift = 1e-6 * fmax(total, 1.0);
                around[i] += lift;
                sum_around += lift;
                step = lift / per_kg;
            }
            class_rates(own1, gas1, heat1, s, b, moved, around, sum_around, shelf);
            for (size_t i = 0; i < q; i++)
                *(j < q ? &a->part[k].own[i * q + j] : &a->part[k].gas[i * g + j - q]) = (own1[i] - own0[i]) / step;
            for (size_t i = 0; i < g; i++) {
                double slope = (gas1[i] - gas0[i]) / step;
                if (j < q)
                    a->part[k].back[i * q + j] = slope;
                else
                    a->middle[i * m + j - q] += slope;
            }
            for (size_t r = 0; r < 2; r++) {
                double slope = (heat1[r] - heat0[r]) / step;
                if (j < q)
                    a->part[k].heat[r * q + j] = slope;
                else
                    a->end[(tail - 2 + r) * m + j - q] += slope;
            }
        }
    }
    double core0[DF_ARROW_CORE], core1[DF_ARROW_CORE], end0[DF_ARROW_TAIL], end1[DF_ARROW_TAIL];
    const double *core = &y[s->at_chamber];
    memset(core0, 0, sizeof core0);
    core_rates(core0, end0, s, core, wanted);
    memcpy(shifted, core, m * sizeof *shifted);
    for (size_t j = 0; j < m; j++) {
        double step = j >= m - 2 ? 1e-5 : 1e-7 * fmax(fabs(core[j]), 1e-6); /* K; kg */
        shifted[j] += step;
        step = shifted[j] - core[j];
        memset(core1, 0, m * sizeof *core1);
        core_rates(core1, end1, s, shifted, wanted);
        shifted[j] = core[j];
        for (size_t i = 0; i < m; i++)
            a->middle[i * m + j] += (core1[i] - core0[i]) / step;
        for (size_t i = 0; i + 2 < tail; i++)
            a->end[i * m + j] = (end1[i] - end0[i]) / step;
    }
    return 0;
}

static int events(realtype time, N_Vector state, realtype *g, void *data) {
    const system_ *s = data;
    const double *y = N_VGetArrayPointer(state);
    size_t at = 0, e = 0;
    (void)time;
    for (size_t k = 0; k < s->bodies; k++) {
        const body *b = &s->body[k];
        for (size_t i = 0; i < b->c->path->n; i++)
            g[e++] = b->gone[i] ? 1.0 : y[at + i] / b->initial[i] - GONE;
        at += b->c->path->n + 1;
    }
    return 0;
}

static int species_index(system_ *s, const df_substance *substance) {
    for (size_t i = 0; i < s->species; i++)
        if (s->substance[i] == substance)
            return (int)i;
    if (s->species == N)
        return -1;
    s->substance[s->species] = substance;
    return (int)s->species++;
}

/* W/(m K) of a species in the frozen body: ice by the usual 488/T at 240 K, organic solids and liquids 0.25
 * (Poling, Prausnitz & O'Connell give 0.1 to 0.25 for organic liquids; solids near twice that). */
static double solid_conductivity(const df_substance *substance) {
    return substance->is_water ? 2.0 : 0.25;
}

/* ln of the formula pressure (p1 + 2 p2, Pa) over the pure substance: its crystal where that forms in practice. */
static double condensed_ln(const df_substance *s, double t) {
    bool solid = s->crystallises == DF_CRYSTAL_READILY && t < s->melting_temperature;
    double total = solid ? df_solid_pressure(s, t) : df_liquid_pressure(s, t);
    return log(2.0 * total - df_monomer_pressure(s, t, total));
}

static void prepare_body(body *b, system_ *s, const df_class *c) {
    const df_frozen_path *p = c->path;
    double fractions[N], conductivity = 0.0, water_mass = 0.0180152675;
    df_composition_fractions(fractions, &c->composition, DF_BASIS_MASS);
    b->c = c;
    for (size_t i = 0; i < p->n; i++) {
        const df_substance *sub = c->composition.component[i];
        b->map[i] = species_index(s, sub);
        b->initial[i] = c->mass * fractions[i];
        b->open[i] = sqrt(sub->molar_mass / water_mass);
        b->conductance[i] = pow(p->volume_fraction[i], s->setup->pore_exponent) * b->open[i];
        if (p->volume_fraction[i] > p->volume_fraction[b->framework])
            b->framework = i;
        b->port[i] = c->place == DF_PLACE_MANIFOLD
                         ? df_port_conductance(fmin(s->dryer->manifold.port_diameter, c->container.port_diameter),
                                               0.05, sub->molar_mass, s->gas_temperature)
                         : INFINITY;
        conductivity += p->volume_fraction[i] * log(solid_conductivity(sub));
        for (size_t k = 0; k < p->points; k++) {
            double t = p->lowest + p->step * (double)k, share = p->species_liquid[i][k];
            b->pure_ln[i][k] = condensed_ln(sub, t);
            /* liquid enthalpy plus heat of vaporisation, so that crystal -> vapour costs the heat of sublimation */
            b->vapour_enthalpy[i][k] =
                p->species_enthalpy[i][k] +
                (df_vaporisation_enthalpy(sub, t) + (1.0 - share) * df_fusion_enthalpy(sub, t)) / sub->molar_mass;
        }
    }
    for (size_t k = 0; k < p->points; k++)
        b->room_flux[k] = df_room_heat_flux(s->dryer->chamber.room_temperature, p->lowest + p->step * (double)k,
                                            c->place == DF_PLACE_MANIFOLD ? c->container.outer_diameter : 0.0,
                                            c->place == DF_PLACE_MANIFOLD ? s->dryer->manifold.frost : 0.0);
    b->conductivity = c->conductivity > 0.0 ? c->conductivity : exp(conductivity);
    double wetted_glass = fmin(1.0, c->shape.volume / c->container.brim_volume + 0.1);
    b->rest = c->container.glass_mass * wetted_glass * GLASS_HEAT + c->solids * SOLUTE_HEAT;
    b->solidus = df_effective_solidus(p, s->setup->trace_liquid);
}

static void prepare_trap(system_ *s) {
    const df_dryer *d = s->dryer;
    for (size_t i = 0; i < s->species; i++) {
        const df_substance *sub = s->substance[i];
        bool crystal = sub->crystallises == DF_CRYSTAL_READILY;
        s->molar_mass[i] = sub->molar_mass;
        s->kinetic[i] = STICKING * d->trap[0].area * sqrt(sub->molar_mass / (2.0 * M_PI * R * s->gas_temperature));
        s->deposit_conductivity[i] = sub->is_water ? 2.2 : 0.3;
        s->deposit_density[i] = df_solid_density(sub, 220.0);
        for (size_t k = 0; k < TRAP_POINTS; k++) {
            double t = 100.0 + (double)k;
            bool solid = crystal && t < sub->melting_temperature;
            s->deposit_ln[i][k] = condensed_ln(sub, t);
            double heat = solid ? df_sublimation_enthalpy(sub, t) : df_vaporisation_enthalpy(sub, t);
            s->deposit_enthalpy[i][k] =
                (heat + df_gas_heat_capacity(sub, 0.5 * (t + s->gas_temperature)) * (s->gas_temperature - t)) /
                sub->molar_mass;
            /* over the last two kelvins below melting the crystal loosens and drips: keeps the surface at the melting point */
            s->deposit_solid[i][k] = solid ? fmin(1.0, (sub->melting_temperature - t) / 2.0) : 0.0;
        }
    }
    s->molar_mass[s->species] = AIR_MOLAR_MASS;
}

static df_status prepare(df_context *ctx, system_ *s, const df_setup *setup) {
    s->setup = setup;
    s->dryer = setup->dryer;
    s->gas_temperature = setup->dryer->chamber.room_temperature;
    s->bodies = setup->class_count;
    if (setup->class_count == 0 || setup->class_count > DF_MAX_CLASSES)
        return df_fail(ctx, DF_E_INPUT, "a run needs 1 to %d classes of containers, not %zu", DF_MAX_CLASSES,
                       setup->class_count);
    for (size_t k = 0; k < s->bodies; k++)
        for (size_t i = 0; i < setup->classes[k].path->n; i++)
            if (species_index(s, setup->classes[k].composition.component[i]) < 0)
                return df_fail(ctx, DF_E_INPUT, "more than %d volatile substances in one run", N);
    for (size_t k = 0; k < s->bodies; k++) {
        prepare_body(&s->body[k], s, &setup->classes[k]);
        s->states += setup->classes[k].path->n + 1;
    }
    for (size_t k = 0; k < s->bodies; k++)
        for (size_t i = 0; i < s->body[k].c->path->n; i++)
            s->fading[s->body[k].map[i]] += REEVAPORATE * (double)s->body[k].c->count * s->body[k].initial[i];
    prepare_trap(s);
    s->at_chamber = s->states;
    s->at_trap = s->at_chamber + s->species + 1;
    s->at_deposit = s->at_trap + s->species + 1;
    s->at_coil = s->at_deposit + s->species;
    s->at_exhaust = s->at_coil + 2;
    s->at_air = s->at_exhaust + s->species + 1;
    s->at_heat = s->at_air + 1;
    s->states = s->at_heat + 2;
    df_arrow_shape *shape = &s->shape;
    shape->classes = s->bodies;
    for (size_t k = 0, at = 0; k < s->bodies; k++) {
        shape->start[k] = at;
        at += shape->side[k] = s->body[k].c->path->n + 1;
    }
    shape->gases = s->species + 1;
    shape->core_start = s->at_chamber;
    shape->core = s->at_exhaust - s->at_chamber;
    shape->tail_start = s->at_exhaust;
    shape->tail = s->states - s->at_exhaust;
    return DF_OK;
}

static void start_state(double *y, double *tolerance, const system_ *s) {
    const df_setup *setup = s->setup;
    size_t at = 0;
    memset(y, 0, s->states * sizeof *y);
    memset(tolerance, 0, s->states * sizeof *tolerance);
    for (size_t k = 0; k < s->bodies; k++) {
        const body *b = &s->body[k];
        size_t m = b->c->path->n;
        for (size_t i = 0; i < m; i++) {
            y[at + i] = b->initial[i];
            tolerance[at + i] = 1e-9 * b->initial[i]; /* well below GONE, so that the last of it is no noise */
        }
        y[at + m] = enthalpy_of(b, b->initial, b->c->start_temperature);
        tolerance[at + m] = 1e-3 * (b->rest + b->c->mass * 2000.0); /* about a millikelvin */
        at += m + 1;
    }
    const double volume[2] = {s->dryer->chamber.volume, s->dryer->trap[0].volume};
    const size_t start[2] = {s->at_chamber, s->at_trap};
    double gas = GAS_TOLERANCE; /* finer than the band of a throttling controller */
    for (size_t i = 0; i < setup->recipe.n && s->dryer->chamber.control == DF_CONTROL_THROTTLE; i++)
        if (setup->recipe.pressure[i] > 0.0)
            gas = fmin(gas, 0.1 * CONTROL_BAND * setup->recipe.pressure[i]);
    for (int v = 0; v < 2; v++) {
        for (size_t i = 0; i <= s->species; i++)
            tolerance[start[v] + i] = gas * s->molar_mass[i] * volume[v] / (R * s->gas_temperature);
        y[start[v] + s->species] = setup->start_pressure * AIR_MOLAR_MASS * volume[v] / (R * s->gas_temperature);
    }
    double all = 0.0;
    for (size_t k = 0; k < s->bodies; k++) {
        const body *b = &s->body[k];
        all += (double)b->c->count * b->c->mass;
        for (size_t i = 0; i < b->c->path->n; i++) {
            size_t j = (size_t)b->map[i];
            tolerance[s->at_deposit + j] += 1e-6 * (double)b->c->count * b->initial[i];
            tolerance[s->at_exhaust + j] = tolerance[s->at_deposit + j];
        }
    }
    tolerance[s->at_exhaust + s->species] = tolerance[s->at_air] = 1e-4 * all;
    y[s->at_coil] = y[s->at_coil + 1] = df_trap_no_load(&s->dryer->trap[0]);
    tolerance[s->at_coil] = tolerance[s->at_coil + 1] = 1e-3;
    tolerance[s->at_heat] = tolerance[s->at_heat + 1] = 1e-5 * all * 2.8e6;
}

/* Limit of temperature of the frozen part of a class now: the solidus, or the framework's own melting point once nothing
 * else is left that counts, and the solute's critical temperature. */
static double limit_now(bool *solute, const body *b, bool others) {
    const df_substance *only = b->c->composition.component[b->framework];
    double limit = b->solidus;
    if (!others)
        limit = only->crystallises == DF_CRYSTAL_READILY ? only->melting_temperature : NAN;
    *solute = false;
    double critical = b->c->critical_temperature;
    if (!isnan(critical) && !isnan(limit) && critical < limit) {
        *solute = true;
        limit = critical;
    }
    return limit;
}

/* Room for one more moment; false where memory ran out. */
static bool grow(df_run *run, size_t *capacity) {
    if (run->moments < *capacity)
        return true;
    size_t more = *capacity == 0 ? 256 : 2 * *capacity;
    df_moment *moments = realloc(run->moment, more * sizeof *moments);
    if (moments != NULL)
        run->moment = moments;
    df_class_moment *containers = realloc(run->container, more * run->class_count * sizeof *containers);
    if (containers != NULL)
        run->container = containers;
    if (moments == NULL || containers == NULL)
        return false;
    for (size_t i = 0; i < run->moments; i++)
        run->moment[i].container = &run->container[i * run->class_count];
    *capacity = more;
    return true;
}

/* Records the moment and what the classes live through; false where the framework of a class is lost. */
static bool observe(df_run *run, const system_ *s, const double *y, double time) {
    const df_dryer *d = s->dryer;
    if (s->setup->terse && run->moments == 2)
        run->moments = 1; /* the last one takes its place */
    df_moment *m = &run->moment[run->moments];
    size_t n = s->species;
    double trap[N + 1], flow[N + 1];
    memset(m, 0, sizeof *m);
    m->container = &run->container[run->moments++ * s->bodies];
    memset(m->container, 0, s->bodies * sizeof *m->container);
    m->time = time;
    pressures(m->chamber, s, &y[s->at_chamber], d->chamber.volume);
    pressures(trap, s, &y[s->at_trap], d->trap[0].volume);
    double total = sum(m->chamber, n + 1);
    m->trap_pressure = sum(trap, n + 1);
    m->coil = y[s->at_coil];
    m->trap_surface = y[s->at_coil + 1];
    m->choked = df_tube_flow(flow, d->duct.diameter, d->duct.length, m->chamber, trap, s->molar_mass, n + 1,
                             s->gas_temperature);
    m->shelf = recipe_at(&s->setup->recipe, s->setup->recipe.shelf_temperature, time);
    double speed = df_pump_speed(d, m->trap_pressure, d->pump.ultimate), solid = 0.0, organic = 0.0;
    for (size_t i = 0; i < n; i++) {
        m->deposit[i] = y[s->at_deposit + i];
        m->exhaust[i] = y[s->at_exhaust + i];
        solid += m->deposit[i] * table_at(s->deposit_solid[i], m->trap_surface - 100.0, TRAP_POINTS);
        if (!s->substance[i]->is_water)
            organic += m->exhaust[i];
        run->exhaust_peak[i] = fmax(run->exhaust_peak[i], speed * y[s->at_trap + i] / d->trap[0].volume);
    }
    run->organic_to_pump = organic;
    if (solid > d->trap[0].capacity && !run->trap_full) {
        run->trap_full = true;
        run->trap_full_time = time;
    }
    if (organic > d->pump.solvent_limit && !run->pump_overloaded) {
        run->pump_overloaded = true;
        run->pump_overload_time = time;
    }
    if (time > SETTLING) {
        run->highest_pressure = fmax(run->highest_pressure, total);
        run->highest_trap_surface = fmax(run->highest_trap_surface, m->trap_surface);
        run->highest_choke = fmax(run->highest_choke, m->choked);
    }
    bool stands = true;
    size_t at = 0;
    for (size_t k = 0; k < s->bodies; k++) {
        const body *b = &s->body[k];
        const df_frozen_path *p = b->c->path;
        df_class_run *r = &run->classes[k];
        look l;
        look_at(&l, s, b, &y[at], y[at + p->n], m->chamber, total, m->shelf);
        m->container[k].front = l.front;
        m->container[k].hottest = l.wall;
        m->container[k].heat = l.heat;
        double framed = b->gone[b->framework] ? 0.0 : y[at + b->framework] / b->initial[b->framework];
        double other = 0.0, all = 0.0;
        for (size_t i = 0; i < p->n; i++) {
            double left = m->container[k].left[i] = b->gone[i] ? 0.0 : y[at + i] / b->initial[i];
            double inside = b->initial[i] * fmin(left, framed); /* what is still in the framework */
            all += inside;
            other += i == b->framework ? 0.0 : inside;
        }
        bool others = other > s->setup->trace_liquid * all; /* less could not make more liquid than counts */
        at += p->n + 1;
        if (!others && isnan(r->solvent_time))
            r->solvent_time = time;
        if (framed < LAST)
            continue; /* the framework has left as vapour; traces that stay behind lie in the dry cake */
        bool solute;
        double limit = limit_now(&solute, b, others), margin = isnan(limit) ? -INFINITY : limit - l.wall;
        if (l.wall > r->hottest) {
            r->hottest = l.wall;
            r->hottest_time = time;
        }
        if (margin < r->least_margin) {
            r->least_margin = margin;
            r->least_margin_time = time;
            r->least_margin_limit = limit;
            r->limit_is_solute = solute;
        }
        double framework;
        if (others) {
            framework = df_frozen_path_at(p, p->solid_volume, l.wall);
            r->most_liquid = fmax(r->most_liquid, df_frozen_path_at(p, p->liquid_mass, l.wall));
        } else
            framework = l.front > b->c->composition.component[b->framework]->melting_temperature ? 0.0 : 1.0;
        r->least_framework = fmin(r->least_framework, framework);
        stands = stands && framework >= s->setup->least_framework;
    }
    return stands;
}

static void finish(df_run *run, const system_ *s, const double *y, const double *start) {
    size_t at = 0;
    for (size_t k = 0; k < s->bodies; k++) {
        const body *b = &s->body[k];
        size_t m = b->c->path->n;
        double count = (double)b->c->count;
        for (size_t i = 0; i < m; i++) {
            run->initial[b->map[i]] += count * b->initial[i];
            run->product[b->map[i]] += count * y[at + i];
        }
        run->heat_stored += count * (y[at + m] - start[at + m]);
        at += m + 1;
    }
    double surface = y[s->at_coil + 1];
    for (size_t i = 0; i < s->species; i++) {
        run->gas[i] = y[s->at_chamber + i] + y[s->at_trap + i];
        run->deposit[i] = y[s->at_deposit + i];
        run->exhaust[i] = y[s->at_exhaust + i];
        run->deposit_liquid[i] =
            run->deposit[i] * (1.0 - table_at(s->deposit_solid[i], surface - 100.0, TRAP_POINTS));
    }
    run->heat_in = y[s->at_heat];
    run->heat_out = y[s->at_heat + 1];
}

/* Marks species that are gone; true where any newly is. All gone: *dry. */
static bool mark_gone(df_run *run, system_ *s, const double *y, double time, bool *dry) {
    size_t at = 0;
    bool news = false;
    *dry = true;
    for (size_t k = 0; k < s->bodies; k++) {
        body *b = &s->body[k];
        bool all = true;
        for (size_t i = 0; i < b->c->path->n; i++) {
            if (!b->gone[i] && y[at + i] <= 1.0001 * GONE * b->initial[i]) {
                b->gone[i] = true;
                news = true;
                run->classes[k].species_time[i] = time;
            }
            all = all && b->gone[i];
        }
        if (all && isnan(run->classes[k].time_dry))
            run->classes[k].time_dry = time;
        *dry = *dry && all;
        at += b->c->path->n + 1;
    }
    return news;
}

static bool open_solver(df_solver *v, system_ *s) {
    memset(v, 0, sizeof *v);
    sunindextype size = (sunindextype)s->states;
    if (SUNContext_Create(NULL, &v->context) != 0)
        return false;
    v->state = N_VNew_Serial(size, v->context);
    v->tolerance = N_VNew_Serial(size, v->context);
    if (v->state == NULL || v->tolerance == NULL)
        return false;
    start_state(N_VGetArrayPointer(v->state), N_VGetArrayPointer(v->tolerance), s);
    v->matrix = df_arrow_matrix(&s->shape, v->context);
    v->linear = df_arrow_solver(&s->shape, v->context);
    v->cvode = CVodeCreate(CV_BDF, v->context);
    if (v->matrix == NULL || v->linear == NULL || v->cvode == NULL)
        return false;
    int events_count = 0;
    for (size_t k = 0; k < s->bodies; k++)
        events_count += (int)s->body[k].c->path->n;
    return CVodeInit(v->cvode, derivative, 0.0, v->state) == CV_SUCCESS &&
           CVodeSVtolerances(v->cvode, s->setup->tolerance, v->tolerance) == CV_SUCCESS &&
           CVodeSetUserData(v->cvode, s) == CV_SUCCESS &&
           CVodeSetErrHandlerFn(v->cvode, df_solver_quiet, NULL) == CV_SUCCESS &&
           CVodeSetLinearSolver(v->cvode, v->linear, v->matrix) == CV_SUCCESS &&
           CVodeSetJacFn(v->cvode, jacobian) == CV_SUCCESS &&
           CVodeRootInit(v->cvode, events_count, events) == CV_SUCCESS &&
           /* where vapour begins to condense the rate has a corner between slow and stiff: many cuts of one step */
           CVodeSetMaxErrTestFails(v->cvode, 40) == CV_SUCCESS && CVodeSetMaxConvFails(v->cvode, 40) == CV_SUCCESS &&
           CVodeSetNonlinConvCoef(v->cvode, 0.001) == CV_SUCCESS &&
           CVodeSetLSetupFrequency(v->cvode, 10) == CV_SUCCESS && CVodeSetNoInactiveRootWarn(v->cvode) == CV_SUCCESS;
}

static df_status march(df_context *ctx, df_run *run, system_ *s, df_solver *v) {
    double time = 0.0, limit = s->setup->time_limit;
    size_t capacity = 0;
    CVodeSetInitStep(v->cvode, 1e-4);
    size_t corner = 1;
    long taken = 0;
    for (;;) {
        if (!grow(run, &capacity))
            return df_fail(ctx, DF_E_MEMORY, "out of memory");
        bool stands = observe(run, s, N_VGetArrayPointer(v->state), time);
        run->time = time;
        if (!stands && !s->setup->keep_going) {
            run->end = DF_END_FRAMEWORK_LOST;
            return DF_OK;
        }
        if (s->setup->stop_short) {
            bool short_of = false;
            for (size_t k = 0; k < s->bodies; k++)
                short_of = short_of || run->classes[k].least_margin < s->setup->margin;
            if (short_of) {
                run->end = DF_END_SHORT;
                return DF_OK;
            }
        }
        if (s->setup->until_solvent) {
            bool gone = true;
            for (size_t k = 0; k < s->bodies; k++)
                gone = gone && !isnan(run->classes[k].solvent_time);
            if (gone) {
                run->end = DF_END_SOLVENT;
                return DF_OK;
            }
        }
        if (time >= limit) {
            run->end = DF_END_TIME_LIMIT;
            return DF_OK;
        }
        /* Do not step over a corner of the recipe. */
        const df_recipe *r = &s->setup->recipe;
        while (corner < r->n && r->time[corner] <= time * (1.0 + 1e-12))
            corner++;
        double stop = corner < r->n && r->time[corner] < limit ? r->time[corner] : limit;
        CVodeSetStopTime(v->cvode, stop);
        if (++taken > MOST_STEPS)
            return df_fail(ctx, DF_E_CONVERGENCE, "the time integration got stuck at %.3f h", time / 3600.0);
        double reached = time;
        int flag = CVode(v->cvode, stop, v->state, &reached, CV_ONE_STEP);
        if (flag < 0)
            return df_fail(ctx, DF_E_CONVERGENCE, "the time integration stopped at %.3f h (integrator code %d)",
                           time / 3600.0, flag);
        time = reached;
        bool dry = false, news = mark_gone(run, s, N_VGetArrayPointer(v->state), time, &dry);
        if (dry) {
            if (!grow(run, &capacity))
                return df_fail(ctx, DF_E_MEMORY, "out of memory");
            observe(run, s, N_VGetArrayPointer(v->state), time);
            run->time = time;
            run->end = DF_END_DRY;
            return DF_OK;
        }
        if (news || flag == CV_TSTOP_RETURN) {
            long steps = 0, evaluations = 0;
            CVodeGetNumSteps(v->cvode, &steps);
            CVodeGetNumRhsEvals(v->cvode, &evaluations);
            run->steps += steps;
            run->evaluations += evaluations;
            if (CVodeReInit(v->cvode, time, v->state) != CV_SUCCESS)
                return df_fail(ctx, DF_E_INTERNAL, "the time integration could not be taken up again");
        }
    }
}

df_status df_run_simulate(df_context *ctx, df_run *run, const df_setup *setup) {
    memset(run, 0, sizeof *run);
    system_ *s = calloc(1, sizeof *s);
    if (s == NULL)
        return df_fail(ctx, DF_E_MEMORY, "out of memory");
    s->body = calloc(setup->class_count > 0 ? setup->class_count : 1, sizeof *s->body);
    df_status status = s->body != NULL ? prepare(ctx, s, setup) : df_fail(ctx, DF_E_MEMORY, "out of memory");
    if (status != DF_OK) {
        free(s->body);
        free(s);
        return status;
    }
    run->species = s->species;
    run->class_count = s->bodies;
    memcpy(run->substance, s->substance, sizeof run->substance);
    for (size_t k = 0; k < s->bodies; k++) {
        run->classes[k].time_dry = run->classes[k].solvent_time = NAN;
        run->classes[k].least_framework = 1.0;
        run->classes[k].least_margin = INFINITY;
        for (size_t i = 0; i < N; i++)
            run->classes[k].species_time[i] = NAN;
    }
    df_solver v;
    double *start = malloc(s->states * sizeof *start);
    if (start == NULL || !open_solver(&v, s)) {
        if (start != NULL)
            df_solver_close(&v);
        status = df_fail(ctx, DF_E_MEMORY, "the time integration could not be set up");
    } else {
        memcpy(start, N_VGetArrayPointer(v.state), s->states * sizeof *start);
        status = march(ctx, run, s, &v);
        long steps = 0, evaluations = 0;
        CVodeGetNumSteps(v.cvode, &steps);
        CVodeGetNumRhsEvals(v.cvode, &evaluations);
        run->steps += steps;
        run->evaluations += evaluations;
        finish(run, s, N_VGetArrayPointer(v.state), start);
        df_solver_close(&v);
    }
    free(start);
    free(s->body);
    free(s);
    if (status != DF_OK)
        df_run_free(run);
    return status;
}

void df_run_free(df_run *run) {
    if (run == NULL)
        return;
    free(run->moment);
    free(run->container);
    run->moment = NULL;
    run->container = NULL;
    run->moments = 0;
}
