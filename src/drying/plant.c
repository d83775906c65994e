/* Chamber, duct, traps and pump in model (a). docs/drying.md. */
#include "drying/system.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#define STICKING 0.05      /* share of the kinetic limit at which a trap of open coils takes vapour: assumption */
#define LEAST_DEPOSIT 1e-4 /* m, film that is always there, so that the surface is tied to the coil */
#define SURFACE_HEAT 400.0 /* J/K of the deposit's outer skin: sets a time of seconds, no result */
#define REEVAPORATE 2e-3   /* of a species' load: amount on the trap over which its re-evaporation fades out */
#define DEW_WIDTH 0.05     /* of the pressure over the deposit: width of the corner where vapour begins to condense */
#define DEW_LEAST 0.4      /* Pa added to it */
#define TRAP_GAIN 5.0      /* W/(m2 K) from the room to a coil whose compressor stands still: assumption */
#define VENT_TIME 20.0     /* s, time constant with which air fills the chamber through an open valve: assumption */
#define OIL_MOLAR_MASS 0.45 /* kg/mol of pump oil: assumption */
#define OIL_BACK 1e-3       /* share of the vapour pressure over loaded oil that reaches the inlet: assumption */
#define BALLAST_BACK 1e-5   /* share of the gas ballast's flow that reaches the inlet: assumption */
#define BOILING_SHARE 0.95  /* of one atmosphere over the oil, above which solvent boils out of it */
#define LEAST_GAS_TIME 60.0 /* s after the start of the pump, over which degassing is held level */
#define CONTROL_BAND                                                                                                 \
    1e-3 /* of the set point: width of a pressure controller. Smooth, since a Newton step with an old \
                              * Jacobian would take a closed valve for a solution */

void df_gas_pressures(double *p, const df_system *s, const double *gas, double volume) {
    double inverse = 1.0 / volume;
    for (size_t i = 0; i <= s->species; i++)
        p[i] = gas[i] * s->filling[i] * inverse;
}

/* ---- deposits ------------------------------------------------------------------------------------------------- */

/* Where a mixed deposit lies in its tables. */
typedef struct spot {
    size_t row, column;
    double right, up; /* weights of the next share and of the next temperature */
} spot;

static spot find_spot(const df_system *s, const double *deposit, double surface) {
    const df_deposit *d = s->deposit;
    double organic = 0.0, all = s->least_deposit; /* so that the share does not jump where hardly anything lies */
    for (size_t i = 0; i < s->species; i++) {
        double m = deposit[i] > 0.0 ? deposit[i] : 0.0;
        all += m;
        organic += s->substance[i]->is_water ? 0.0 : m;
    }
    double share = organic / all, at = (surface - DF_DEPOSIT_COLDEST) / DF_DEPOSIT_STEP;
    spot q = {0, 0, 0.0, 0.0};
    if (share >= d->share[DF_DEPOSIT_SHARES - 1])
        q = (spot){DF_DEPOSIT_SHARES - 2, 0, 1.0, 0.0};
    else if (share > d->share[0]) {
        while (share >= d->share[q.row + 1])
            q.row++;
        q.right = (share - d->share[q.row]) / (d->share[q.row + 1] - d->share[q.row]);
    }
    if (at >= DF_DEPOSIT_MIXED - 1) {
        q.column = DF_DEPOSIT_MIXED - 2;
        q.up = 1.0;
    } else if (at > 0.0) {
        q.column = (size_t)at;
        q.up = at - (double)q.column;
    }
    return q;
}

static double mixed_at(const double table[DF_DEPOSIT_SHARES][SPECIES][DF_DEPOSIT_MIXED], size_t i, const spot *q) {
    const double *left = &table[q->row][i][q->column], *right = &table[q->row + 1][i][q->column];
    double a = left[0] + q->up * (left[1] - left[0]), b = right[0] + q->up * (right[1] - right[0]);
    return a + q->right * (b - a);
}

static double pure_solid(const df_system *s, size_t i, double surface) {
    return df_table_at(s->deposit->solid[s->in_deposit[i]], surface - DF_DEPOSIT_FIRST, DF_DEPOSIT_POINTS);
}

void df_deposit_pressures(double *p, const df_system *s, const double *deposit, double surface) {
    const df_deposit *d = s->deposit;
    spot q = {0, 0, 0.0, 0.0};
    if (d->mixed)
        q = find_spot(s, deposit, surface);
    for (size_t i = 0; i < s->species; i++) {
        size_t j = s->in_deposit[i];
        double ln = df_table_at(d->pressure_ln[j], surface - DF_DEPOSIT_FIRST, DF_DEPOSIT_POINTS);
        p[i] = exp(d->mixed ? ln + mixed_at(d->activity_ln, j, &q) : ln);
    }
}

double df_deposit_solid_share(const df_system *s, const double *deposit, size_t i, double surface) {
    double solid = pure_solid(s, i, surface);
    if (!s->deposit->mixed)
        return solid;
    spot q = find_spot(s, deposit, surface);
    return fmin(solid, 1.0 - mixed_at(s->deposit->liquid, s->in_deposit[i], &q));
}

/* Conductance from coil to deposit surface, W/K: what is solid, by volume; the rest has dripped off. */
static double deposit_link(const df_system *s, const df_trap *trap, const double *deposit, double surface) {
    double film = LEAST_DEPOSIT * trap->area, volume = film, weighted = film * s->film_ln;
    spot q = {0, 0, 0.0, 0.0};
    if (s->deposit->mixed)
        q = find_spot(s, deposit, surface);
    for (size_t i = 0; i < s->species; i++) {
        double solid = pure_solid(s, i, surface);
        if (s->deposit->mixed)
            solid = df_within(1.0 - mixed_at(s->deposit->liquid, s->in_deposit[i], &q), -INFINITY, solid);
        double v = deposit[i] > 0.0 ? deposit[i] / s->deposit_density[i] * solid : 0.0;
        volume += v;
        weighted += v * s->deposit_conductivity_ln[i];
    }
    return trap->area * trap->area * exp(weighted / volume) / volume;
}

/* Vapour of a species to the deposit of trap j, kg/s: to it freely, from it only as far as there is some; without a corner where
 * vapour begins to condense. And its slope over the vapour's pressure. */
static inline double onto_trap(double *slope, const df_system *s, size_t j, size_t i, double pressure, double wanted,
                               double there) {
    double drive = pressure - wanted, some = there / (fabs(there) + s->fading[i]);
    double inverse = 1.0 / (DEW_WIDTH * (wanted + DEW_LEAST)), x = drive * inverse;
    /* ln((1 + e^x)/(1 + e^y)), y not above nought: the larger of nought and x, less the same of y; none from no vapour */
    double up = exp(x < 30.0 ? x : 30.0), down = 1.0 + exp(-wanted * inverse);
    double onto = (x < 30.0 ? log((1.0 + up) / down) : x - log(down)) / inverse;
    *slope = s->kinetic[j][i] * (some + (1.0 - some) * up / (1.0 + up));
    return s->kinetic[j][i] * (some * drive + (1.0 - some) * onto);
}

static double deposit_enthalpy(const df_system *s, size_t i, double surface) {
    return df_table_at(s->deposit->enthalpy[s->in_deposit[i]], surface - DF_DEPOSIT_FIRST, DF_DEPOSIT_POINTS);
}

/* Vapour to the deposit and back, heat from it through the deposit to the coil, and from the coil to its refrigeration.
 * gas and y: rates and states of the trap's gases, followed by deposits, coil and surface. Returns W drawn from the coil. */
static double trap_rates(double *rate, const df_system *s, size_t j, const double *y, const double *pressure) {
    const df_trap *trap = &s->dryer->trap[j];
    size_t n = s->species;
    const double *there = y + n + 1, *coil = there + n;
    double wanted[SPECIES], condensing = 0.0, surface = coil[1];
    df_deposit_pressures(wanted, s, there, surface);
    for (size_t i = 0; i < n; i++) {
        double slope, flow = onto_trap(&slope, s, j, i, pressure[i], wanted[i], there[i]);
        rate[n + 1 + i] += flow;
        rate[i] -= flow;
        condensing += flow * deposit_enthalpy(s, i, surface);
    }
    double room = s->gas_temperature, drawn = 0.0, gained = 0.0;
    if (s->mode.cooling[j])
        drawn = df_trap_refrigeration(trap, coil[0]);
    else if (trap->kind == DF_TRAP_FINGER)
        gained = trap->loss * (room - coil[0]) / (room - trap->temperature);
    else
        gained = TRAP_GAIN * trap->area * (room - coil[0]);
    double link = deposit_link(s, trap, there, surface) * (surface - coil[0]);
    rate[2 * n + 1] += (link + gained - drawn) / trap->heat_capacity;
    rate[2 * n + 2] += (condensing - link) / SURFACE_HEAT;
    return drawn;
}

/* ---- pump ----------------------------------------------------------------------------------------------------- */

/* Mole fractions of solvent in the oil times their pressures, Pa: straight on below nought, where the integration may stray by
 * its tolerance. A corner there would let a Newton step with an old Jacobian take oil out that is not there. */
static double oil_pressures(double *p, const df_system *s, const double *oil) {
    double moles = s->dryer->pump.oil / OIL_MOLAR_MASS, sum = 0.0;
    for (size_t i = 0; i < s->species; i++)
        moles += oil[i] > 0.0 ? oil[i] / s->molar_mass[i] : 0.0;
    for (size_t i = 0; i < s->species; i++)
        sum += p[i] = oil[i] / s->molar_mass[i] / moles * s->oil_pressure[i];
    return sum;
}

double df_oil_ultimate(const df_system *s, const double *oil) {
    const df_curve *speed = &s->dryer->pump.speed;
    double p[SPECIES], own = s->dryer->pump.ultimate;
    if (!s->oil)
        return own;
    return own + OIL_BACK * oil_pressures(p, s, oil) +
           BALLAST_BACK * s->dryer->pump.ballast * DF_ATMOSPHERE / speed->y[speed->n - 1];
}

/* The pump: what it takes from the last trap; through its oil, where it has some, to the exhaust. The oil is a stirred
 * bath: all vapour goes in, and what gas passes leaves in equilibrium with it by Raoult's law at the oil's temperature. */
static void pump_rates(double *gas_rate, double *oil_rate, double *end, const df_system *s, const double *gas,
                       double pressure, const double *oil, double volume) {
    size_t n = s->species;
    bool draws = s->mode.pump && !s->mode.thawing[s->traps - 1]; /* else it is shut off */
    double speed = draws ? df_pump_speed(s->dryer, pressure, df_oil_ultimate(s, oil)) : 0.0, taken[GASES];
    for (size_t i = 0; i <= n; i++) {
        taken[i] = speed * gas[i] / volume;
        gas_rate[i] -= taken[i];
    }
    end[n] += taken[n];
    if (!s->oil) {
        for (size_t i = 0; i < n; i++)
            end[i] += taken[i];
        return;
    }
    double p[SPECIES], share = oil_pressures(p, s, oil) / DF_ATMOSPHERE;
    double carrier = 0.0; /* mol/s of gas that leaves the oil */
    if (s->mode.pump)
        carrier = fmax(taken[n], 0.0) / AIR_MOLAR_MASS +
                  s->dryer->pump.ballast * DF_ATMOSPHERE / (DF_GAS_CONSTANT * s->gas_temperature);
    double boiling = fmax(share - BOILING_SHARE, 0.0);
    for (size_t i = 0; i < n; i++) {
        double out = carrier * p[i] / DF_ATMOSPHERE / fmax(1.0 - share, 1.0 - BOILING_SHARE) * s->molar_mass[i] +
                     boiling * oil[i];
        oil_rate[i] += taken[i] - out;
        end[i] += out;
    }
}

/* ---- the whole ------------------------------------------------------------------------------------------------ */

/* Flow through a tube (kg/s by species), taken from one side's rates and given to the other's. */
static void pass(double *from, double *to, const df_system *s, const df_tube *tube, const double *p1,
                 const double *p2, double valve) {
    double flow[GASES];
    df_tube_flow(flow, tube->diameter, tube->length, p1, p2, s->molar_mass, s->species + 1, s->gas_temperature);
    for (size_t i = 0; i <= s->species; i++) {
        from[i] -= valve * flow[i];
        to[i] += valve * flow[i];
    }
}

/* Whether the way into a trap is open. */
static bool is_open(const df_system *s, size_t trap) {
    return !s->mode.shut[trap] && !s->mode.thawing[trap] && !(trap > 0 && s->mode.thawing[trap - 1]);
}

/* How far a throttle before the first trap is open, and its slope over the chamber's pressure. */
static double valve_at(double *slope, const df_system *s, double total, double wanted) {
    *slope = 0.0;
    if (!(wanted > 0.0) || s->dryer->chamber.control != DF_CONTROL_THROTTLE)
        return 1.0;
    double band = CONTROL_BAND * wanted, valve = 1.0 / (1.0 + exp(-(total - wanted) / band));
    *slope = valve * (1.0 - valve) / band;
    return valve;
}

/* Air that comes into the chamber, kg/s, and its slope over the chamber's pressure. */
static double let_in(double *slope, const df_system *s, double total, double wanted, double time) {
    const df_dryer *d = s->dryer;
    double to_mass = AIR_MOLAR_MASS / (DF_GAS_CONSTANT * s->gas_temperature), in = d->chamber.leak * to_mass;
    bool below = total < DF_ATMOSPHERE; /* none at one atmosphere; choked, so level, at low pressure */
    *slope = below ? -in / DF_ATMOSPHERE : 0.0;
    in *= below ? 1.0 - total / DF_ATMOSPHERE : 0.0;
    if (time > 0.0)
        in += d->chamber.degassing * 3600.0 / fmax(time, LEAST_GAS_TIME) * to_mass;
    double fill = d->chamber.volume * to_mass; /* kg/Pa */
    if (s->mode.vent) {
        in += (DF_ATMOSPHERE - total) * fill / VENT_TIME;
        *slope -= fill / VENT_TIME;
    } else if (wanted > 0.0 && d->chamber.control == DF_CONTROL_BLEED) { /* smooth max(0, wanted - total) */
        double band = CONTROL_BAND * wanted, over = (wanted - total) / band;
        double lack = over > 30.0 ? wanted - total : band * log1p(exp(over));
        in += lack * fill;
        *slope -= fill / (1.0 + exp(-over));
    }
    return in;
}

void df_plant_rates(double *core, double *end, const df_system *s, const double *y, double wanted, double time,
                    unsigned parts) {
    const df_dryer *d = s->dryer;
    size_t n = s->species, first = s->at_trap - s->at_chamber, last = s->traps - 1;
    const double *oil = y + (s->at_oil - s->at_chamber);
    double *oil_rate = core + (s->at_oil - s->at_chamber), pressure[DF_MAX_TRAPS + 1][GASES];
    df_gas_pressures(pressure[0], s, y, d->chamber.volume);
    for (size_t j = 0; j < s->traps; j++)
        df_gas_pressures(pressure[j + 1], s, y + first + j * s->trap_stride, d->trap[j].volume);
    if (parts & DF_PART_DUCT) {
        double total = df_sum(pressure[0], n + 1), slope, valve = valve_at(&slope, s, total, wanted);
        for (size_t j = 0; j < s->traps; j++) {
            double *trap = core + first + j * s->trap_stride, *before = j == 0 ? core : trap - s->trap_stride;
            if (is_open(s, j))
                pass(before, trap, s, j == 0 ? &d->duct : &d->link, pressure[j], pressure[j + 1],
                     j == 0 ? valve : 1.0);
        }
        double in = let_in(&slope, s, total, wanted, time);
        core[n] += in;
        end[n + 1] += in;
    }
    for (size_t j = 0; j < s->traps && (parts & DF_PART_TRAPS); j++) {
        if (s->mode.thawing[j])
            continue;
        double drawn =
            trap_rates(core + first + j * s->trap_stride, s, j, y + first + j * s->trap_stride, pressure[j + 1]);
        if (d->trap[j].kind == DF_TRAP_FINGER && s->mode.cooling[j])
            end[n + 2 + j] += (drawn + d->trap[j].loss) / df_coolant_heat(d->trap[j].coolant);
    }
    if (parts & DF_PART_PUMP)
        pump_rates(core + first + last * s->trap_stride, oil_rate, end, s, y + first + last * s->trap_stride,
                   df_sum(pressure[last + 1], n + 1), oil, d->trap[last].volume);
}

void df_plant_slopes(double *middle, double *end, const df_system *s, const double *y, double wanted, double time,
                     double factor) {
    const df_dryer *d = s->dryer;
    size_t n = s->species, g = n + 1, first = s->at_trap - s->at_chamber;
    size_t rows = df_arrow_rows(s->shape.core), end_rows = df_arrow_rows(s->shape.tail);
    double pressure[DF_MAX_TRAPS + 1][GASES], flow[GASES], by[2][GASES * GASES], opens, lets;
    df_gas_pressures(pressure[0], s, y, d->chamber.volume);
    double total = df_sum(pressure[0], g), valve = valve_at(&opens, s, total, wanted);
    (void)let_in(&lets, s, total, wanted, time);
    for (size_t j = 0; j < s->traps; j++) {
        size_t to = first + j * s->trap_stride, from = j == 0 ? 0 : to - s->trap_stride;
        const df_tube *tube = j == 0 ? &d->duct : &d->link;
        df_gas_pressures(pressure[j + 1], s, y + to, d->trap[j].volume);
        if (!is_open(s, j))
            continue;
        memset(by, 0, sizeof by);
        df_tube_slopes(flow, by[0], by[1], tube->diameter, tube->length, pressure[j], pressure[j + 1], s->molar_mass,
                       g, s->gas_temperature);
        for (size_t c = 0; c < 2 * g; c++) { /* a column of the gas before, then of the gas behind */
            bool before = c < g;
            size_t k = before ? c : c - g;
            double volume = !before ? d->trap[j].volume : j == 0 ? d->chamber.volume : d->trap[j - 1].volume;
            double to_kg = factor * s->filling[k] / volume, *column = &middle[((before ? from : to) + k) * rows];
            const double *slope = &by[before ? 0 : 1][k * g];
            for (size_t i = 0; i < g; i++) {
                double rise = j > 0 ? slope[i] : before ? valve * slope[i] + opens * flow[i] : valve * slope[i];
                column[from + i] -= to_kg * rise;
                column[to + i] += to_kg * rise;
            }
        }
    }
    for (size_t k = 0; k < g; k++) {
        double rise = factor * lets * s->filling[k] / d->chamber.volume;
        middle[k * rows + n] += rise;
        end[k * end_rows + n + 1] += rise;
    }
    for (size_t j = 0; j < s->traps; j++) {
        size_t at = first + j * s->trap_stride;
        const double *there = y + at + g;
        double over[SPECIES], surface = there[n + 1];
        if (s->mode.thawing[j])
            continue;
        df_deposit_pressures(over, s, there, surface);
        for (size_t i = 0; i < n; i++) {
            double slope, *column = &middle[(at + i) * rows + at];
            (void)onto_trap(&slope, s, j, i, pressure[j + 1][i], over[i], there[i]);
            slope *= factor * s->filling[i] / d->trap[j].volume;
            column[i] -= slope;
            column[g + i] += slope;
            column[g + n + 1] += slope * deposit_enthalpy(s, i, surface) / SURFACE_HEAT;
        }
    }
}

df_status df_plant_prepare(df_context *ctx, df_system *s) {
    const df_dryer *d = s->dryer;
    for (size_t i = 0; i < s->species; i++) {
        const df_substance *sub = s->substance[i];
        size_t k = 0;
        while (k < s->deposit->n && s->deposit->substance[k] != sub)
            k++;
        if (k == s->deposit->n)
            return df_fail(ctx, DF_E_INPUT, "the tables of the trap's deposit do not hold %s", sub->name);
        s->in_deposit[i] = k;
        s->molar_mass[i] = sub->molar_mass;
        s->deposit_conductivity_ln[i] = log(sub->is_water ? 2.2 : 0.3);
        s->deposit_density[i] = df_solid_density(sub, 220.0);
        for (size_t j = 0; j < s->traps; j++)
            s->kinetic[j][i] = STICKING * d->trap[j].area *
                               sqrt(sub->molar_mass / (2.0 * M_PI * DF_GAS_CONSTANT * s->gas_temperature));
        if (s->oil)
            s->oil_pressure[i] = df_liquid_pressure(sub, d->pump.oil_temperature);
    }
    s->molar_mass[s->species] = AIR_MOLAR_MASS;
    for (size_t i = 0; i <= s->species; i++)
        s->filling[i] = DF_GAS_CONSTANT * s->gas_temperature / s->molar_mass[i];
    s->film_ln = log(2.0);
    for (size_t k = 0; k < s->bodies; k++) {
        const df_class *c = &s->setup->classes[k];
        double fractions[SPECIES];
        df_composition_fractions(fractions, &c->composition, DF_BASIS_MASS);
        for (size_t i = 0; i < c->composition.n; i++)
            s->fading[df_species_index(s, c->composition.component[i])] +=
                REEVAPORATE * (double)c->count * c->mass * fractions[i];
    }
    s->least_deposit = 0.01 * df_sum(s->fading, s->species);
    return DF_OK;
}
