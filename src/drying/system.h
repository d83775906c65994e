/* What the files of the simulator share: the system of a run, its state vector, and the parts that give rates.
 *
 * Unknowns, all amounts so that sums of them are conserved by a linear multistep method to rounding:
 *   each class: free mass of each species in one container (kg), mass of each bound species (kg), enthalpy of one container (J)
 *   core: gases of the chamber (kg); for each trap gases (kg), deposit of each species (kg), coil and surface (K); solvent in
 *   the pump's oil (kg)
 *   tail, on which nothing depends: exhaust of each species and of air (kg), air let in (kg), coolant boiled away (kg), heat
 *   in and heat out (J)
 * docs/drying.md has the equations. */
#ifndef DRYFRONT_DRYING_SYSTEM_H
#define DRYFRONT_DRYING_SYSTEM_H

#include "base/solver.h"
#include "drying/arrow.h"
#include "drying/material.h"

enum { SPECIES = DF_MAX_COMPONENTS, GASES = SPECIES + 1 }; /* most; air is the last gas */
#define AIR_MOLAR_MASS 0.0289652                           /* kg/mol, dry air, ISO 2533 */
#define DF_SETTLING 300.0 /* s, after which pressures and trap temperatures are judged */
#define GONE 1e-7         /* fraction of a species left that counts as gone */

/* Derived quantities of one class at one state. */
typedef struct df_look {
    double front, wall, heat, top, heat_out; /* K, K, W by the wall, W from above, W */
    double flow[SPECIES], release[SPECIES]; /* kg/s out of one container: free, by component; bound, by bound state */
} df_look;

/* Where a container is on the grid of its path: the rows around, and the weight of the upper one. */
typedef struct df_cell {
    const double *low, *high;
    double up;
} df_cell;

/* What one class is by its own states alone, whatever the chamber is. */
typedef struct df_inside {
    double at, front; /* place on the grid of the path; K */
    df_cell here;
    double framed;                  /* fraction of the framework that is left */
    size_t leaving, which[SPECIES]; /* components that are there */
    double pressure[SPECIES];       /* Pa over the front of a component */
    double conductance[SPECIES];    /* kg/(s Pa) through cake and port */
    double film;                    /* Peclet number of a mol/s of water through dried layer and head */
    double contact, through;        /* m2 of wall that touches; W/K from there to the front */
    double facing;                  /* W/K from above, through the dried layer */
} df_inside;

typedef struct df_body {
    const df_class *c;
    size_t n, bound, side;       /* components; those that the cake holds; states */
    size_t held[SPECIES];        /* component of each bound state */
    int map[SPECIES];            /* component -> species of the run */
    double initial[SPECIES];     /* kg free in one container */
    double caught[SPECIES];      /* kg bound in one container once all is dry, at first */
    double conductance[SPECIES]; /* phi^m sqrt(M/Mw): multiplies area/(R0 + A1 L/(1 + A2 L)) */
    double open[SPECIES];        /* the same without phi^m: through the open cake */
    double past_port[SPECIES];   /* Pa s/kg, resistance of the port; 0 on a shelf */
    double per_mass[SPECIES];    /* mol/kg */
    double film,
        last_film; /* Peclet number of a mol/s of water through the head, and through the whole dried layer */
    /* Rows over the grid of the path, `row` numbers each: for each component ln Pa over the body, ln Pa over what the
     * framework's front has left behind (the pure substance), J/kg as vapour, J/kg in the body; for each bound component
     * ln Pa over the pure liquid, J/kg as liquid, J/kg as vapour; W/m2 from the room to a wall at the row's temperature. */
    double *table;
    size_t row;
    bool own_table;    /* else it is that of a class before, alike in what counts */
    size_t *hint;      /* row where the temperature was found last */
    double kv_area;    /* m2 times the factor of the shelf's coefficient */
    double wall_ratio; /* outer over inner area of a wall on a manifold; 0 on a shelf */
    double conductivity;
    double rest;      /* J/K of glass and solutes */
    double solidus;   /* K, effective, of the whole composition */
    size_t framework; /* the species that fills most of the body: its front is the framework's */
    bool gone[SPECIES];
    bool hung, taken; /* on the dryer now; taken off */
} df_body;

/* What runs and which valves are open; constant between two cues. */
typedef struct df_mode {
    bool pump, control, vent;       /* pump connected; pressure control works; air valve open */
    bool shut[DF_MAX_TRAPS];        /* valve before a trap is closed */
    bool thawing[DF_MAX_TRAPS];     /* shut off on both sides and warm */
    bool cooling[DF_MAX_TRAPS];     /* its compressor runs, or it has coolant */
    bool shelf_off;                 /* drifts to room temperature */
    double shelf_from, shelf_since; /* K, s: where and when it began to drift */
    double shelf_offset;            /* K that it is off the recipe since then, made good by and by */
} df_mode;

/* How closely a state y is followed: to relative |y| + last min(|y|, small) + absolute. */
typedef struct df_measure {
    double relative, last, small, absolute;
} df_measure;

typedef struct df_system {
    const df_setup *setup;
    const df_dryer *dryer;
    const df_deposit *deposit;
    df_deposit *own_deposit; /* where the setup has none */
    size_t species, bodies, states, traps;
    bool oil; /* the pump has some */
    df_arrow_shape shape;
    const df_substance *substance[SPECIES];
    double molar_mass[GASES], filling[GASES]; /* kg/mol; Pa m3 that a kg fills */
    df_body *body;                            /* one for each class */
    size_t hint[DF_MAX_CLASSES];
    double gas_temperature, start;
    size_t in_deposit[SPECIES]; /* species -> deposit's */
    double deposit_conductivity_ln[SPECIES], deposit_density[SPECIES];
    double kinetic[DF_MAX_TRAPS][SPECIES]; /* kg/(s Pa) of the whole coil */
    double film_ln, least_deposit;         /* ln W/(m K) of the film that is always there; kg */
    double fading[SPECIES];                /* kg, see REEVAPORATE */
    double oil_pressure[SPECIES];          /* Pa of the pure liquid at the oil's temperature */
    df_mode mode;
    bool empty[DF_MAX_TRAPS];          /* a finger without coolant */
    double refilled[DF_MAX_TRAPS];     /* kg boiled away when it was last filled */
    double drained[DF_MAX_COMPONENTS]; /* kg */
    double least_pressure;             /* Pa: a gas below it is no state to go on from */
    df_measure *measure;               /* one for each state */
    df_arrow *slopes;                  /* of the rates, by the states, where they were taken last */
    bool loose;                        /* the gases find a new level: they are followed loosely */
    double settle_from;                /* s, last time at which the pressure was disturbed */
    double above_since;                /* s, since when the pressure is above its set point; NAN: it is not */
    bool above_noted, evacuated, choke_noted, oil_noted;
    unsigned full, drips; /* a bit for each trap */
    /* offsets in the state */
    size_t at_chamber, at_trap, trap_stride, at_oil, at_exhaust, at_air, at_coolant, at_heat;
} df_system;

/* Offsets within one trap's states. */
static inline size_t df_at_gas(const df_system *s, size_t trap) {
    return s->at_trap + trap * s->trap_stride;
}
static inline size_t df_at_deposit(const df_system *s, size_t trap) {
    return df_at_gas(s, trap) + s->species + 1;
}
static inline size_t df_at_coil(const df_system *s, size_t trap) {
    return df_at_deposit(s, trap) + s->species;
}

/* Linear in a table at a fractional index, held at its ends. */
static inline double df_table_at(const double *table, double at, size_t points) {
    if (!(at > 0.0))
        return table[0];
    size_t i = (size_t)at;
    if (i + 1 >= points)
        return table[points - 1];
    return table[i] + (at - (double)i) * (table[i + 1] - table[i]);
}

static inline double df_within(double x, double low, double high) {
    return x < low ? low : x > high ? high : x;
}

static inline double df_sum(const double *p, size_t n) {
    double total = 0.0;
    for (size_t i = 0; i < n; i++)
        total += p[i];
    return total;
}

/* ---- body.c: classes ------------------------------------------------------------------------------------------ */

/* Index of a substance among the run's species, added where new; -1: too many. */
int df_species_index(df_system *s, const df_substance *substance);
/* Errors: DF_E_MEMORY. */
df_status df_body_prepare(df_context *ctx, df_system *s, size_t k);
void df_body_release(df_body *b);
double df_body_enthalpy(const df_body *b, const double *own, double temperature);
/* own: the class's states. false: an enthalpy so far off its table that it is no state of nature. */
bool df_body_inside(df_inside *in, const df_body *b, const double *own);
/* chamber: Pa of each gas, air last; total: their sum; shelf: K. */
void df_body_look(df_look *out, const df_system *s, const df_body *b, const df_inside *in, const double *own,
                  const double *chamber, double total, double shelf);
/* What a class does to its own states, to the chamber's gases (species + 1, added to) and to the two heat accounts. */
void df_body_rates(double *own_rate, double *gas, double *heat, const df_system *s, const df_body *b,
                   const df_inside *in, const double *own, const double *chamber, double total, double shelf);
/* Lets those components leave a container at once of which there is less than leaves in `within` seconds. vapour: kg of each
 * that did. Returns J that went with it. */
double df_body_let_go(double *own, double *vapour, const df_body *b, const df_look *l, double within);
/* C*, kg/kg, of a bound component over the dried cake at a temperature and a partial pressure. */
double df_body_equilibrium(const df_body *b, size_t bound, double temperature, double pressure);
/* Fraction of the framework that is left. */
static inline double df_body_framed(const df_body *b, const double *own) {
    return b->gone[b->framework] ? 0.0 : own[b->framework] / b->initial[b->framework];
}

/* Share by mass that others than its own substance have of what is still in the framework; 0 where it is gone. */
double df_body_others(const df_body *b, const double *own);
/* Of setup.trace_liquid: share of others at which the solvent counts as gone, a little above that at which the limit becomes
 * the framework's own, so that the last moment of the old limit is seen. */
#define DF_SOLVENT_GONE 1.001

/* ---- plant.c: chamber, duct, traps, pump ----------------------------------------------------------------------- */

df_status df_plant_prepare(df_context *ctx, df_system *s);
void df_gas_pressures(double *p, const df_system *s, const double *gas, double volume);
/* Parts of the plant that a state of the core touches. */
typedef enum df_plant_part {
    DF_PART_DUCT = 1,  /* duct, link, air that comes in */
    DF_PART_TRAPS = 2, /* deposits and coils */
    DF_PART_PUMP = 4,
    DF_PART_ALL = 7
} df_plant_part;
/* Rates of the core (added to) and of the accumulators save heat, by the parts asked for. wanted: Pa, 0 for no control. */
void df_plant_rates(double *core, double *end, const df_system *s, const double *core_state, double wanted,
                    double time, unsigned parts);
/* Adds factor times slopes to the core's block (df_arrow.middle) and to its accumulators (end): of what DF_PART_DUCT gives by the gases,
 * of the vapours onto the traps by themselves. Cheap, so that Newton's method always has them as they are: these change by half
 * from one step to the next while a chamber is evacuated and a species begins to condense. */
void df_plant_slopes(double *middle, double *end, const df_system *s, const double *core_state, double wanted,
                     double time, double factor);
/* Share of species i that is solid in the deposit of a trap whose surface is at T. */
double df_deposit_solid_share(const df_system *s, const double *deposit, size_t i, double surface);
/* Pa that the pump can reach with the solvent (kg) in its oil. */
double df_oil_ultimate(const df_system *s, const double *oil);
/* Pressures that the vapour over a trap's surface asks for, Pa by species. */
void df_deposit_pressures(double *p, const df_system *s, const double *deposit, double surface);

/* ---- integrator.c ---------------------------------------------------------------------------------------------- */

/* Opens an integrator at the start of a prepared system, with its state; false where memory ran out. */
bool df_integrator_open(df_solver *v, df_system *s);
/* Lowest pressure of any gas anywhere, Pa. */
double df_lowest_pressure(const df_system *s, const double *y);
/* kg of a gas that fill a volume (m3) at a pressure. */
double df_filling(const df_system *s, double molar_mass, double pressure, double volume);

/* ---- mark.c ---------------------------------------------------------------------------------------------------- */

/* A copy of where the run stands, NULL where memory ran out. y: its state. */
df_mark *df_mark_make(const df_run *run, const df_system *s, const double *y, double time);
/* Puts a prepared system, its state and an empty run where the mark was; false where they are not alike. The run's moments are
 * to have room for one. */
bool df_mark_restore(df_run *run, df_system *s, double *y, const df_mark *mark);

/* ---- observe.c ------------------------------------------------------------------------------------------------- */

double df_shelf_at(const df_system *s, double time);  /* K */
double df_wanted_at(const df_system *s, double time); /* Pa, 0: no set point that is controlled */
/* Room for one more moment, of which a terse run keeps three; false where memory ran out. */
bool df_run_grow(df_run *run, size_t *capacity, bool terse);
/* Records the moment and what the classes live through; false where the framework of a class is lost. */
bool df_observe(df_run *run, df_system *s, const double *y, double time);
void df_run_note(df_run *run, df_notice_kind kind, double time, int class_, int index, double a, double b, double c);
void df_run_finish(df_run *run, const df_system *s, const double *y, const double *start);

#endif
