/* dryfront/dryer.h: a freeze dryer described by figures: shelf, manifold, chamber, duct, trap, pump, exhaust. */
#ifndef DRYFRONT_DRYER_H
#define DRYFRONT_DRYER_H

#include "dryfront/sample.h"

#ifdef __cplusplus
extern "C" {
#endif

#define DF_CURVE_POINTS 12

/* A curve by points of ascending x. */
typedef struct df_curve {
    size_t n;
    double x[DF_CURVE_POINTS], y[DF_CURVE_POINTS];
} df_curve;

/* A dry pump passes vapour on; scroll and diaphragm are dry pumps with a curve of their own. */
typedef enum df_pump_kind { DF_PUMP_OIL_SEALED, DF_PUMP_DRY, DF_PUMP_SCROLL, DF_PUMP_DIAPHRAGM } df_pump_kind;
const char *df_pump_kind_name(df_pump_kind kind); /* "oil_sealed", "dry", "scroll", "diaphragm" */
typedef enum df_pressure_control { DF_CONTROL_NONE, DF_CONTROL_BLEED, DF_CONTROL_THROTTLE } df_pressure_control;
typedef enum df_place { DF_PLACE_SHELF, DF_PLACE_MANIFOLD } df_place;

typedef struct df_tube {
    double diameter, length; /* m */
} df_tube;

#define DF_MAX_TRAPS 2
#define DF_SHELF_RAMP (1.0 / 60.0) /* K/s of a shelf whose file does not say: assumption */

/* A trap is a coil cooled by a compressor, or a finger filled with a coolant that boils away. */
typedef enum df_trap_kind { DF_TRAP_COIL, DF_TRAP_FINGER } df_trap_kind;
typedef enum df_coolant { DF_COOLANT_DRY_ICE, DF_COOLANT_NITROGEN } df_coolant;
const char *df_coolant_name(df_coolant coolant); /* "dry_ice", "liquid_nitrogen" */
/* Heat that a kg of coolant takes up as it goes to gas at its own temperature, J/kg, and that temperature at one
 * atmosphere, K (carbon dioxide 194.69 K, 571 kJ/kg; nitrogen 77.36 K, 199 kJ/kg: from memory). */
double df_coolant_heat(df_coolant coolant);
double df_coolant_temperature(df_coolant coolant);

typedef struct df_trap {
    df_trap_kind kind;
    df_curve refrigeration; /* of a coil: temperature K -> W removed; 0 W at the no-load temperature */
    double area;            /* m2 of cold surface */
    double volume;          /* m3 of space around it */
    double capacity;        /* kg of solid */
    double heat_capacity;   /* J/K of coil and its refrigerant, or of the finger */
    double power;           /* W of electricity while its compressor runs, NAN where not stated */
    df_coolant coolant;     /* of a finger */
    double temperature;     /* K of a finger's coolant */
    double charge;          /* kg of coolant in a full finger */
    double loss;            /* W that reach a finger's coolant from the room */
} df_trap;

#define DF_MAX_RECIPE 96

/* Set points over time: at time[i] the shelf and the pressure reach these values, in straight lines between. */
typedef struct df_recipe {
    size_t n;
    double time[DF_MAX_RECIPE];              /* s, ascending, first 0 */
    double shelf_temperature[DF_MAX_RECIPE]; /* K */
    double pressure[DF_MAX_RECIPE];          /* Pa; 0: as low as the dryer gets */
} df_recipe;

/* What hangs on or stands in the dryer when its ceilings are asked for. */
typedef struct df_reference_load {
    df_container container;
    long count;
    double fill; /* m3 each */
    df_place place;
    df_lie lie;
    df_recipe recipe; /* n = 0 on a manifold: the room gives the heat */
} df_reference_load;

typedef struct df_dryer {
    char name[96], description[320];
    struct {
        double volume;           /* m3 */
        double room_temperature; /* K */
        double leak;             /* Pa m3/s of air */
        double degassing; /* Pa m3/s that the walls give off one hour after evacuation begins, falling as 1/time */
        df_pressure_control control;
    } chamber;
    df_tube duct, link; /* chamber to first trap; first to second trap */
    df_trap trap[DF_MAX_TRAPS];
    size_t traps; /* in series, 1 or more */
    struct {
        df_pump_kind kind;
        df_curve speed;         /* Pa -> m3/s */
        double ultimate;        /* Pa, with clean oil and the gas ballast shut */
        double solvent_limit;   /* kg of organic vapour in one run that its oil stands; INFINITY for a dry pump */
        double oil;             /* kg */
        double oil_temperature; /* K, running */
        double ballast;         /* m3/s of air at room temperature and one atmosphere, 0: shut or none */
        double power;           /* W of electricity, NAN where not stated */
    } pump;
    struct {
        bool present;
        double area;                   /* m2 */
        double lowest, highest;        /* K */
        double contact, gas, gas_bend; /* Kv = contact + gas P/(1 + gas_bend P): W/(m2 K), W/(m2 K Pa), 1/Pa */
        double drift;                  /* s, time constant with which it goes to room temperature in a power cut */
        double ramp;                   /* K/s, the fastest that it warms and cools; 0: as where it is not stated */
    } shelf;
    struct {
        bool present;
        long ports;
        double port_diameter; /* m */
        double frost;         /* m of frost on the outside of a flask */
    } manifold;
    double hood_flow;                /* m3/s at the exhaust, NAN where not stated */
    const df_containers *containers; /* that it was read with; NULL: the built-in ones */
    df_reference_load reference;
} df_dryer;

/* Reads a dryer from YAML (docs/dryer.md). `containers` (NULL: the built-in ones) must outlive it. DF_E_INPUT with file, line
 * and field. */
DF_NODISCARD df_status df_dryer_parse(df_context *ctx, df_dryer *out, const df_containers *containers,
                                      const char *buffer, size_t length, const char *name);
/* Reads a list of set points (time, shelf_temperature, chamber_pressure), each taking over what it leaves out. */
DF_NODISCARD df_status df_recipe_parse(df_context *ctx, df_recipe *recipe, const df_yaml_node *list);
/* Writes such a list, a line for each set point behind `indent`; every number reads back to the same double. */
void df_recipe_write(df_text *out, const df_recipe *recipe, const char *indent);
/* A dryer that ships with the program ("bench-55", "bench-85", "deep-105"); DF_E_UNKNOWN_NAME otherwise. */
DF_NODISCARD df_status df_dryer_builtin(df_context *ctx, df_dryer *out, const char *name);
/* Name of the shipped dryer `index`, NULL past the end. */
const char *df_dryer_builtin_name(size_t index);

/* ---- what a dryer's file keeps beside its figures ------------------------------------------------------------- */

/* What a column of a log holds. A quantity of DF_LOG_IGNORED is known and not wanted. */
typedef enum df_log_quantity {
    DF_LOG_TIME,
    DF_LOG_CHAMBER_PRESSURE,
    DF_LOG_PIRANI_PRESSURE,
    DF_LOG_TRAP_PRESSURE,
    DF_LOG_SHELF_TEMPERATURE,
    DF_LOG_TRAP_TEMPERATURE,
    DF_LOG_PRODUCT_TEMPERATURE, /* at the bottom of a container */
    DF_LOG_FRONT_TEMPERATURE,   /* of the subliming surface, e.g. from pressure-rise tests */
    DF_LOG_TRAP_LOAD,           /* W of heat put on the trap */
    DF_LOG_WEIGHT,              /* of one container while it dries */
    DF_LOG_BEFORE,              /* weight of a container before a test */
    DF_LOG_AFTER,               /* and after it */
    DF_LOG_LOST,                /* or its loss */
    DF_LOG_DURATION,            /* of a test on one container */
    DF_LOG_CONTAINER,           /* name of one */
    DF_LOG_POSITION,            /* "centre" or "edge" */
    DF_LOG_IGNORED,
    DF_LOG_QUANTITIES
} df_log_quantity;
const char *df_log_quantity_name(df_log_quantity quantity); /* "chamber_pressure" */
/* DF_DIM_COUNT for a quantity that is text or ignored. */
df_dimension df_log_quantity_dimension(df_log_quantity quantity);

#define DF_LOG_COLUMNS 32

typedef struct df_log_column {
    char column[64]; /* its name in the log's header */
    df_log_quantity quantity;
    char unit[24]; /* "": as the header says; a time may be a clock's */
} df_log_column;

/* "2026-02-28": a day of the calendar (the 29th of February in any year). */
bool df_is_date(const char *text);

/* How this dryer's logs are laid out: the section 'log' of its file. */
typedef struct df_log_map {
    char delimiter, decimal; /* '\0': found from the log */
    size_t columns;
    df_log_column column[DF_LOG_COLUMNS];
} df_log_map;

/* One constant that was learnt from a log: quantities as text with their units. */
typedef struct df_history_entry {
    char date[11];                        /* YYYY-MM-DD */
    char field[64];                       /* "chamber.leak" */
    char value[48], band[48], before[48]; /* band: one standard deviation; before: "" where it was not known */
    char log[128];                        /* name of the file */
    long bytes, rows;                     /* of that file */
} df_history_entry;

typedef struct df_dryer_notes {
    df_log_map log;
    size_t entries;
    df_history_entry *entry; /* owned */
} df_dryer_notes;

/* Reads the sections 'log' and 'history' alone (docs/dryer.md); df_dryer_parse checks them and keeps nothing of them.
 * DF_E_INPUT with file, line and field. Free with df_dryer_notes_free. */
DF_NODISCARD df_status df_dryer_notes_parse(df_context *ctx, df_dryer_notes *notes, const char *buffer, size_t length,
                                            const char *name);
/* Adds an entry at the end. DF_E_MEMORY. */
DF_NODISCARD df_status df_dryer_notes_add(df_context *ctx, df_dryer_notes *notes, const df_history_entry *entry);
void df_dryer_notes_free(df_dryer_notes *notes); /* takes an empty one */

/* The dryer as YAML, sections and fields in the order of docs/dryer.md. Every number reads back to the same double: in the
 * unit that people write where one has such digits, else in SI. `notes` may be NULL. `original` (may be NULL) is an
 * older text of the file: its comments go before the fields they stood at, what has lost its field goes to the end.
 * DF_E_MEMORY. */
DF_NODISCARD df_status df_dryer_write(df_context *ctx, df_text *out, const df_dryer *dryer,
                                      const df_dryer_notes *notes, const char *original);

/* No-load temperature of a trap, K: where its refrigeration curve passes 0 W; a finger's coolant. */
double df_trap_no_load(const df_trap *trap);
/* Heat drawn from a coil at a temperature, W: linear between points of the curve, along its first and last segments beyond
 * its ends: below the no-load temperature it is negative, what the room gives. From a finger that has coolant: boiling behind
 * its wall, 200 W/(m2 K) (assumption). */
double df_trap_refrigeration(const df_trap *trap, double coil_temperature);
/* Moves a trap so that its no-load temperature becomes `temperature`. */
void df_trap_shift(df_trap *trap, double temperature);

/* Pump speed at inlet pressure P (Pa), m3/s: linear in ln P between points, times max(0, 1 - ultimate/P). The ultimate
 * pressure (Pa) is the pump's own or what its loaded oil makes of it. */
double df_pump_speed(const df_dryer *dryer, double pressure, double ultimate);
/* Puts the generic curve of a kind of pump in place: `nominal` m3/s. Shapes are assumptions: an oil-sealed pump is flat, a
 * scroll pump loses a third of its speed towards 0.1 mbar, a diaphragm pump half towards 10 mbar. */
void df_pump_generic(df_dryer *dryer, double nominal);

/* Choked (sonic) mass flow of an ideal gas through area (m2): kg/s.
 *   A P0 sqrt(gamma M/(R T0)) (2/(gamma + 1))^((gamma + 1)/(2 (gamma - 1)))    (any text on gas dynamics, e.g. Anderson,
 * Modern Compressible Flow). P0 in Pa, T0 in K, M in kg/mol. */
double df_choked_flow(double area, double pressure, double temperature, double molar_mass, double gamma);

/* Mass flow of n species (kg/s, out) through a round tube from partial pressures p1 to p2 (Pa) at T: molecular conductance
 * of a tube with its entrance and viscous (Poiseuille) flow that carries the gas along, combined for each species as
 * convection with diffusion in one dimension,
 *     flow = K [p1 B(-Pe) - p2 B(Pe)],  B(x) = x/(e^x - 1),  Pe = carried mass flow per Pa over K
 * (Patankar, Numerical Heat Transfer and Fluid Flow, ch. 5: exact for constant coefficients); scaled smoothly so that the
 * sum of flow/choked flow of the pure gases does not pass 1. O'Hanlon, A User's Guide to Vacuum Technology, ch. 3, for
 * the conductances. Reversed where p2 is the greater. Returns how choked it is: 0 none, 1 fully. */
double df_tube_flow(double *flow, double diameter, double length, const double *p1, const double *p2,
                    const double *molar_mass, size_t n, double temperature);
/* The same with its slopes, kg/(s Pa), n x n by columns: by1[j n + i] of flow i by p1[j], by2 by p2[j]; not written where both
 * sides are empty. At most DF_MAX_COMPONENTS + 1 species. */
double df_tube_slopes(double *flow, double *by1, double *by2, double diameter, double length, const double *p1,
                      const double *p2, const double *molar_mass, size_t n, double temperature);

/* Molecular conductance of a short port, kg/(s Pa): area sqrt(M/(2 pi R T)) / (1 + 3 l/(4 d)). */
double df_port_conductance(double diameter, double length, double molar_mass, double temperature);

/* Heat that room air and walls give to a cold outside, W/m2: natural convection on a sphere (Churchill 1983, in Incropera
 * & DeWitt, Fundamentals of Heat and Mass Transfer; coefficients from memory), radiation between grey surfaces
 * (emissivity of glass and frost 0.9), a layer of frost (k = 0.25 W/(m K), common practice) in series. T in K.
 * Diameter 0: inside the vacuum, radiation alone. */
double df_room_heat_flux(double room_temperature, double surface_temperature, double diameter, double frost);

/* Fastest ramp of the shelf, K/s: its own, or DF_SHELF_RAMP. */
double df_shelf_ramp(const df_dryer *dryer);

/* Shelf to container, W/(m2 K) on the outer bottom area, at P (Pa) (Pikal, Roy & Shah, J. Pharm. Sci. 73 (1984) 1224). */
double df_shelf_coefficient(const df_dryer *dryer, double pressure);

#ifdef __cplusplus
}
#endif
#endif
