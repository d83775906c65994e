/* dryfront/drying.h: a run of samples in a dryer: loading, evacuation, primary and secondary drying with what happens on the
 * way. Model (a), quasi-steady fronts integrated in time; docs/drying.md. */
#ifndef DRYFRONT_DRYING_H
#define DRYFRONT_DRYING_H

#include "dryfront/dryer.h"
#include "dryfront/secondary.h"

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

/* ---- the load's vapours --------------------------------------------------------------------------------------- */

#define DF_DEPOSIT_FIRST 100.0 /* K; tables of the pure substances by 1 K */
#define DF_DEPOSIT_POINTS 221  /* to 320 K */
#define DF_DEPOSIT_SHARES 7    /* shares of organics in a deposit that is mixed */
#define DF_DEPOSIT_COLDEST 160.0
#define DF_DEPOSIT_STEP 2.0
#define DF_DEPOSIT_MIXED 71 /* to 300 K */

/* Pressures and heats of the species of a load, made once for it: pure substances over temperature, and what a deposit of
 * them together on a trap does where they melt into one another. */
typedef struct df_deposit {
    size_t n;
    const df_substance *substance[DF_MAX_COMPONENTS];
    double pressure_ln[DF_MAX_COMPONENTS][DF_DEPOSIT_POINTS]; /* ln Pa of formula pressure over the pure deposit */
    double enthalpy[DF_MAX_COMPONENTS][DF_DEPOSIT_POINTS];    /* J/kg given up on condensing from gas at 294 K */
    double solid[DF_MAX_COMPONENTS][DF_DEPOSIT_POINTS];       /* share of the pure deposit that is solid */
    double liquid_ln[DF_MAX_COMPONENTS][DF_DEPOSIT_POINTS];   /* ln Pa over the pure liquid */
    double liquid_enthalpy[DF_MAX_COMPONENTS][DF_DEPOSIT_POINTS]; /* J/kg over liquid at 273.15 K */
    double vaporisation[DF_MAX_COMPONENTS][DF_DEPOSIT_POINTS],
        fusion[DF_MAX_COMPONENTS][DF_DEPOSIT_POINTS]; /* J/kg */
    /* A deposit of water and organics in the load's proportions: for a share of organics by mass, ln of the pressure over
     * that of the pure deposit, and the share of the species that is liquid. */
    bool mixed;
    double share[DF_DEPOSIT_SHARES];
    double activity_ln[DF_DEPOSIT_SHARES][DF_MAX_COMPONENTS][DF_DEPOSIT_MIXED];
    double liquid[DF_DEPOSIT_SHARES][DF_MAX_COMPONENTS][DF_DEPOSIT_MIXED];
    df_pair_grade grade;
} df_deposit;

/* For the volatiles of `composition`. With pairs: mixed, by the equilibrium of design 4.3 with the solids that form in
 * practice; pairs NULL: each species for itself. Errors as df_mixture_equilibrium. */
DF_NODISCARD df_status df_deposit_make(df_context *ctx, df_deposit *out, const df_pairs *pairs,
                                       const df_composition *composition);

/* ---- classes of containers ------------------------------------------------------------------------------------ */

/* Where a container stands among its like: what of its frozen side sees the walls. */
typedef enum df_spot { DF_SPOT_CENTRE, DF_SPOT_EDGE, DF_SPOT_CORNER, DF_SPOT_DOOR, DF_SPOTS } df_spot;
const char *df_spot_name(df_spot spot); /* "centre", "edge", "corner", "door" */
/* Share of the frozen side that sees the walls or the door: 0, 1/2, 3/4, 0.6 (assumptions). */
double df_spot_view(df_spot spot);

#define DF_GLASS_POINTS 33

#define DF_DRY_CONDUCTIVITY 0.03 /* W/(m K) of a dried layer in vacuum: assumption, the order of light cakes */

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
    df_spot spot;
    double kv_factor;         /* of the shelf coefficient, 1 for a centre container */
    double room_area;         /* m2 of wall that sees the room or the door, each container */
    double start_temperature; /* K, as loaded */
    double conductivity;      /* W/(m K) of the frozen layer; 0: from the composition */
    /* Heat from above, through the dried layer to the front: W/(m2 K) from what faces the cake at the shelf's temperature
     * (the room's on a manifold), and W/(m K) of the dried layer. Coefficient 0: none, all heat is in the shelf's Kv. */
    double top_coefficient, dry_conductivity;
    double on_time, off_time; /* s on a manifold: put on and taken off; -INFINITY and INFINITY where always on */
    /* Secondary drying, used where the setup says so: each component of the composition, and the cake's Tg over its water,
     * evenly from 0 to glass_water (kg per kg of solids); glass_water 0: no glass known. */
    df_sorption sorption[DF_MAX_COMPONENTS];
    double glass_water, glass[DF_GLASS_POINTS];
} df_class;

/* A class with nothing special about it: always on, no heat from above, nothing bound, no critical temperature known. */
void df_class_defaults(df_class *class_);
/* Fills sorption and glass of a class from its solutes. Errors as df_sorption_find. */
DF_NODISCARD df_status df_class_bind(df_context *ctx, df_class *class_, const df_solute *solute, size_t solutes);

/* ---- events --------------------------------------------------------------------------------------------------- */

#define DF_MAX_EVENTS 16

typedef enum df_event_kind {
    DF_EVENT_POWER_CUT, /* pump and compressors stop, valves to the pump and of the control close, the shelf drifts */
    DF_EVENT_DEFROST,   /* a trap is shut off, vented, thawed, drained, closed and cooled again */
    DF_EVENT_VACUUM_BREAK, /* air to one atmosphere with the pump shut off */
    DF_EVENT_REFILL        /* coolant is topped up in a finger */
} df_event_kind;
const char *df_event_name(df_event_kind kind); /* "power_cut", "defrost", "vacuum_break", "refill" */

typedef struct df_event {
    df_event_kind kind;
    double time, length; /* s after the pump was started; length 0 for a refill */
    double thaw;         /* s: the first part of a defrost, at whose end the trap is drained and closed */
    size_t trap;         /* defrost, refill: 0 the first, 1 the second */
} df_event;

/* Where a run stood at one time: others that are the same until then go on from it (df_setup.from). */
typedef struct df_mark df_mark;
double df_mark_time(const df_mark *mark); /* s */
void df_mark_free(df_mark *mark);         /* takes NULL */

/* ---- setup ---------------------------------------------------------------------------------------------------- */

typedef struct df_setup {
    const df_dryer *dryer;
    df_class classes[DF_MAX_CLASSES];
    size_t class_count;
    const df_deposit
        *deposit;     /* of all the load's species; borrowed; NULL: made by the run, each species for itself */
    df_recipe recipe; /* time 0: the pump starts */
    df_event event[DF_MAX_EVENTS];
    size_t events;
    double loading;         /* s before time 0 that containers are in the dryer at one atmosphere */
    double pore_exponent;   /* m of phi^m, 1.5 unless stated */
    double least_framework; /* smallest share of solid by volume that still stands, 0.45 unless stated */
    double trace_liquid;    /* share of liquid by mass that is not counted, 0.01 unless stated */
    double margin;          /* K between the hottest frozen point and its limit */
    double time_limit;      /* s, run is given up after it */
    double start_pressure;  /* Pa of air when the pump starts; loading: one atmosphere before */
    double tolerance;       /* relative, of the time integration; 3e-5 unless stated */
    bool secondary;         /* what is bound in the cake is followed, too: see df_class.sorption */
    bool whole_recipe;      /* go on to the recipe's last set point, though all is dry before */
    double target
        [DF_MAX_COMPONENTS]; /* kg per kg of solids, by component of the first class; with `secondary` the run goes
                                         on until they are reached. 0: none */
    bool keep_going;         /* do not stop where the framework is lost */
    bool terse;              /* keep the first and the last moment alone */
    bool stop_short;         /* stop as soon as the margin is not kept: for searches that ask for rigid */
    bool until_solvent;      /* stop where every class has reached its solvent_time */
    /* Asked after every step, with the share of the load that has left and the time (s); false stops the run. NULL: not. */
    bool (*progress)(void *data, double share, double time);
    void *progress_data;
    /* Go on from where another run stood; NULL: from the start. That run's setup was the same but for what recipe and events do
     * later, and for when it ends. What it went through until then is part of this run, its moments but the last are not. */
    const df_mark *from;
    /* Given where the run stood at each corner of the recipe, to keep and to free. NULL: not. */
    void (*mark)(void *data, df_mark *mark);
    void *mark_data;
} df_setup;

/* Puts the stated defaults into `setup`. */
void df_setup_defaults(df_setup *setup);

/* ---- result --------------------------------------------------------------------------------------------------- */

typedef enum df_end { DF_END_DRY, DF_END_FRAMEWORK_LOST, DF_END_TIME_LIMIT, DF_END_SHORT, DF_END_SOLVENT } df_end;

/* Why the chamber is not at its set point. */
typedef enum df_holder {
    DF_HOLDER_NONE, /* at the set point, or none is asked for */
    DF_HOLDER_TRAP, /* vapour over the trap's surface */
    DF_HOLDER_DUCT, /* fall of pressure along the duct */
    DF_HOLDER_PUMP, /* gas and vapour that the pump does not carry off */
    DF_HOLDER_LEAK, /* air that comes in */
    DF_HOLDERS
} df_holder;
const char *df_holder_name(df_holder holder); /* "none", "trap", "duct", "pump", "leak" */

/* One class at one moment. */
typedef struct df_class_moment {
    double front, hottest; /* K */
    double limit; /* K, of the hottest point; -INFINITY: none, liquid never goes; NAN: nothing frozen that counts */
    double left[DF_MAX_COMPONENTS];  /* fraction of each species left, free and bound */
    double bound[DF_MAX_COMPONENTS]; /* kg per kg of solids still held by the dried cake */
    double depth;                    /* m of dried layer over the framework's front */
    double heat;                     /* W into one container */
    double glass;                    /* K, Tg of the dried cake; NAN where not followed */
} df_class_moment;

/* One moment of a run. Species as in df_run.species. */
typedef struct df_moment {
    double time;                           /* s after the pump was started */
    double chamber[DF_MAX_COMPONENTS + 1]; /* Pa, of each species; air at [species] */
    double wanted;                         /* Pa, set point; 0: none */
    df_holder holder;
    double trap_pressure;                                      /* Pa, total at the first trap */
    double pump_pressure;                                      /* Pa, total at the pump's inlet */
    double ultimate;                                           /* Pa, that the pump can reach with its oil as it is */
    double coil[DF_MAX_TRAPS], trap_surface[DF_MAX_TRAPS];     /* K */
    double coolant[DF_MAX_TRAPS];                              /* kg boiled away so far */
    double choked;                                             /* of the duct, 0..1 */
    bool settled;                                              /* evacuated: pressure, trap and choke are judged */
    double shelf;                                              /* K */
    double deposit[DF_MAX_COMPONENTS];                         /* kg, in all traps and drained from them */
    double oil[DF_MAX_COMPONENTS], exhaust[DF_MAX_COMPONENTS]; /* kg */
    double rate[DF_MAX_COMPONENTS];                            /* kg/s out of the samples */
    double exhaust_rate[DF_MAX_COMPONENTS];                    /* kg/s */
    df_class_moment *container;                                /* one for each class; owned by the run */
} df_moment;

/* What a class lived through. */
typedef struct df_class_run {
    double time_dry;                        /* s until its last free volatile was gone, NAN: not reached */
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
    double margin_lost_time;   /* s at which the margin was first not kept; NAN: never */
    /* Of the dried cake, where it is followed. */
    double least_glass_margin, least_glass_time; /* K of Tg less the cake's temperature, INFINITY: not followed; s */
    double target_time;                          /* s at which every target was met, NAN: not, or none */
    double cake_hottest;                         /* K, of the dried cake */
    double exposure[DF_MAX_COMPONENTS];          /* integral of k dt over the dried cake */
    df_residual residual[DF_MAX_COMPONENTS];     /* kg per kg of solids at the end, two standard deviations */
} df_class_run;

/* What happened, of the one catalogue: data/notices.csv. */
typedef enum df_notice_kind {
    DF_NOTICE_EVACUATED,
    DF_NOTICE_SOLVENT_GONE,
    DF_NOTICE_PRIMARY_END,
    DF_NOTICE_TARGET_MET,
    DF_NOTICE_MARGIN_LOST,
    DF_NOTICE_LIMIT_PASSED,
    DF_NOTICE_FRAMEWORK_LOST,
    DF_NOTICE_GLASS_PASSED,
    DF_NOTICE_PRESSURE_NOT_HELD,
    DF_NOTICE_DUCT_CHOKED,
    DF_NOTICE_TRAP_FULL,
    DF_NOTICE_TRAP_DRIPS,
    DF_NOTICE_COOLANT_GONE,
    DF_NOTICE_OIL_LOADED,
    DF_NOTICE_PUMP_OVERLOADED,
    DF_NOTICE_POWER_CUT,
    DF_NOTICE_POWER_BACK,
    DF_NOTICE_DEFROST,
    DF_NOTICE_DEFROSTED,
    DF_NOTICE_VACUUM_BREAK,
    DF_NOTICE_VACUUM_BACK,
    DF_NOTICE_REFILL,
    DF_NOTICE_PUT_ON,
    DF_NOTICE_TAKEN_OFF,
    DF_NOTICE_TAKEN_WET,
    DF_NOTICE_TIME_LIMIT,
    DF_NOTICES
} df_notice_kind;

#define DF_MAX_NOTICES 96

typedef struct df_notice {
    df_notice_kind kind;
    double time;     /* s */
    int class_;      /* -1: the dryer */
    int index;       /* species, trap, df_holder, by kind; -1: none */
    double value[3]; /* by kind: docs/run.md */
} df_notice;

/* Key ("trap_full"), weight ("note", "warning", "alarm"), what it is and what to do: data/notices.csv. */
typedef struct df_notice_text {
    char key[32], weight[12], what[160], action[400];
} df_notice_text;

DF_NODISCARD df_status df_notice_lookup(df_context *ctx, df_notice_text *out, df_notice_kind kind);
/* The evidence with its numbers in one sentence, "" where there is none to add. Returns out. */
const char *df_notice_evidence(char *out, size_t size, const df_notice *notice, const df_setup *setup);

typedef struct df_run {
    df_end end;
    double time;         /* s, end of the run */
    double primary_time; /* s, last time_dry; NAN: not reached */
    size_t species;
    const df_substance *substance[DF_MAX_COMPONENTS];
    df_class_run classes[DF_MAX_CLASSES];
    size_t class_count;
    /* The account, kg of each species: initial = product + bound + gas + deposit + drained + oil + exhaust. product: free in
     * the containers; bound: held by their cakes; deposit: in the traps at the end; drained: thawed from them on the way. */
    double initial[DF_MAX_COMPONENTS], product[DF_MAX_COMPONENTS], bound[DF_MAX_COMPONENTS], gas[DF_MAX_COMPONENTS],
        deposit[DF_MAX_COMPONENTS], drained[DF_MAX_COMPONENTS], oil[DF_MAX_COMPONENTS], exhaust[DF_MAX_COMPONENTS];
    double trap_deposit[DF_MAX_TRAPS][DF_MAX_COMPONENTS]; /* kg at the end, by trap */
    double exhaust_peak[DF_MAX_COMPONENTS];   /* kg/s, highest rate into the pump: the most that can leave at once */
    double deposit_liquid[DF_MAX_COMPONENTS]; /* kg of the deposit that is liquid at the end */
    double coolant[DF_MAX_TRAPS];             /* kg boiled away */
    double electricity;                       /* J of compressors and pump; NAN where the dryer's file does not say */
    double heat_in, heat_out, heat_stored; /* J: given to the samples, carried off by vapour, change in the samples */
    double highest_pressure;               /* Pa in the chamber after the settling time */
    double highest_trap_surface;           /* K of the first trap after the settling time */
    double highest_choke;                  /* 0..1 */
    double held[DF_HOLDERS]; /* s with a set point after the settling time: at it, or above it because of */
    double organic_to_pump;  /* kg */
    bool trap_full, pump_overloaded;
    double trap_full_time, pump_overload_time; /* s */
    df_notice notice[DF_MAX_NOTICES];
    size_t notices;
    size_t moments;
    df_moment *moment;          /* owned by the run; first and last alone where the setup is terse */
    df_class_moment *container; /* behind the moments */
    long steps, evaluations;
} df_run;

/* Runs the setup until all is dry (and what the setup asks for beyond), the framework is lost or the time limit. Mass and
 * heat are conserved to rounding. DF_E_INPUT: a setup that cannot be run; DF_E_CONVERGENCE: the integrator gave up;
 * DF_E_STOPPED: progress said so. Free with df_run_free. */
DF_NODISCARD df_status df_run_simulate(df_context *ctx, df_run *run, const df_setup *setup);
void df_run_free(df_run *run); /* takes NULL and an empty one */

/* Share by which the account of species i fails to close. */
double df_run_account_error(const df_run *run, size_t species);

/* Highest temperature (K) at which a body, as it is made up, holds at most `trace` liquid by mass; NAN where there is none. */
double df_effective_solidus(const df_frozen_path *path, double trace);

#ifdef __cplusplus
}
#endif
#endif
