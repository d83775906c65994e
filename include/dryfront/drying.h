/* dryfront/drying.h: primary drying of samples in a dryer: model (a), quasi-steady fronts integrated in time. */
#ifndef DRYFRONT_DRYING_H
#define DRYFRONT_DRYING_H

#include "dryfront/dryer.h"

#ifdef __cplusplus
extern "C" {
#endif

#define DF_MAX_CLASSES 16

/* Resistance of the dried layer to water vapour: R0 + A1 L/(1 + A2 L), Pa m2 s/kg = m/s for L in m. */
typedef struct df_cake {
    double r0, a1, a2; /* m/s, 1/s, 1/m */
    bool stated;       /* false: the assumption of df_cake_assume */
} df_cake;

/* Cake resistance where the user states none: R0 = 1.0e4 m/s (assumption, the order of an open layer), A1 in proportion to
 * the share of solids from a published permeability of coffee extract (2.63e-8 s, 5 mm: 1.9e5 m/s; the share of solids,
 * 25 %, is an assumption). solids: kg per m3 of fill. */
void df_cake_assume(df_cake *cake, double solids);

/* Containers that are alike: one population. */
typedef struct df_class {
    char name[64];
    long count;
    df_container container;
    df_shape shape;
    const df_frozen_path *path; /* of the composition; borrowed */
    df_composition composition;
    double mass;                 /* kg of volatiles in one container */
    double solids;               /* kg of solutes in one container */
    double critical_temperature; /* K, lowest of the solutes; NAN: none known */
    df_cake cake;
    df_place place;
    double kv_factor;         /* of the shelf coefficient, 1 for a centre container */
    double room_area;         /* m2 of wall that sees the room or the door, each container */
    double start_temperature; /* K, as loaded */
    double conductivity;      /* W/(m K) of the frozen layer; 0: from the composition */
} df_class;

typedef struct df_setup {
    const df_dryer *dryer;
    df_class classes[DF_MAX_CLASSES];
    size_t class_count;
    df_recipe recipe;
    double pore_exponent;   /* m of phi^m, 1.5 unless stated */
    double least_framework; /* smallest share of solid by volume that still stands, 0.45 unless stated */
    double trace_liquid;    /* share of liquid by mass that is not counted, 0.01 unless stated */
    double margin;          /* K between the hottest frozen point and its limit */
    double time_limit;      /* s, run is given up after it */
    double start_pressure;  /* Pa of air when drying starts */
    double tolerance;       /* relative, of the time integration; 1e-5 unless stated */
    bool keep_going;        /* do not stop where the framework is lost */
    bool terse;             /* keep the first and the last moment alone */
    bool stop_short;        /* stop as soon as the margin is not kept: for searches that ask for rigid */
    bool until_solvent;     /* stop where every class has reached its solvent_time */
} df_setup;

/* Puts the stated defaults into `setup`. */
void df_setup_defaults(df_setup *setup);

typedef enum df_end { DF_END_DRY, DF_END_FRAMEWORK_LOST, DF_END_TIME_LIMIT, DF_END_SHORT, DF_END_SOLVENT } df_end;

/* One class at one moment. */
typedef struct df_class_moment {
    double front, hottest;          /* K */
    double left[DF_MAX_COMPONENTS]; /* fraction of each species left */
    double heat;                    /* W into one container */
} df_class_moment;

/* One moment of a run. Species as in df_run.species. */
typedef struct df_moment {
    double time;                                                   /* s */
    double chamber[DF_MAX_COMPONENTS + 1];                         /* Pa, of each species; air at [species] */
    double trap_pressure;                                          /* Pa, total at the trap */
    double coil, trap_surface;                                     /* K */
    double choked;                                                 /* of the duct, 0..1 */
    double shelf;                                                  /* K */
    double deposit[DF_MAX_COMPONENTS], exhaust[DF_MAX_COMPONENTS]; /* kg */
    df_class_moment *container;                                    /* one for each class; owned by the run */
} df_moment;

/* What a class lived through. */
typedef struct df_class_run {
    double time_dry;                        /* s until its last volatile was gone, NAN: not reached */
    double species_time[DF_MAX_COMPONENTS]; /* s until a species was gone */
    double
        solvent_time; /* s until nothing but the framework's own substance was left that counts; NAN: not reached */
    double hottest;   /* K, of frozen material */
    double hottest_time;       /* s */
    double least_margin;       /* K, smallest of (limit - hottest point); negative: liquid, melt or collapse */
    double least_margin_time;  /* s */
    double least_margin_limit; /* K, the limit there */
    bool limit_is_solute;      /* the limit there is the solute's critical temperature, not the solidus */
    double most_liquid;        /* share by mass, largest */
    double least_framework;    /* share by volume, smallest while the composition was whole */
} df_class_run;

typedef struct df_run {
    df_end end;
    double time; /* s, end of the run */
    size_t species;
    const df_substance *substance[DF_MAX_COMPONENTS];
    df_class_run classes[DF_MAX_CLASSES];
    size_t class_count;
    double initial[DF_MAX_COMPONENTS], product[DF_MAX_COMPONENTS], gas[DF_MAX_COMPONENTS], deposit[DF_MAX_COMPONENTS],
        exhaust[DF_MAX_COMPONENTS];           /* kg */
    double exhaust_peak[DF_MAX_COMPONENTS];   /* kg/s, highest rate to the exhaust */
    double deposit_liquid[DF_MAX_COMPONENTS]; /* kg of the deposit that is liquid at the end */
    double heat_in, heat_out, heat_stored; /* J: given to the samples, carried off by vapour, change in the samples */
    double highest_pressure;               /* Pa in the chamber after the first five minutes */
    double highest_trap_surface;           /* K after the first five minutes */
    double highest_choke;                  /* 0..1 */
    double organic_to_pump;                /* kg */
    bool trap_full, pump_overloaded;
    double trap_full_time, pump_overload_time; /* s */
    size_t moments;
    df_moment *moment;          /* owned by the run; first and last alone where the setup is terse */
    df_class_moment *container; /* behind the moments */
    long steps, evaluations;
} df_run;

/* Runs the setup until all is dry, the framework is lost or the time limit. Mass and heat are conserved to rounding.
 * DF_E_INPUT: a setup that cannot be run; DF_E_CONVERGENCE: the integrator gave up. Free with df_run_free. */
DF_NODISCARD df_status df_run_simulate(df_context *ctx, df_run *run, const df_setup *setup);
void df_run_free(df_run *run); /* takes NULL and an empty one */

/* Highest temperature (K) at which a body, as it is made up, holds at most `trace` liquid by mass; NAN where there is none. */
double df_effective_solidus(const df_frozen_path *path, double trace);

#ifdef __cplusplus
}
#endif
#endif
