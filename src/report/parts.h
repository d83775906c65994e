/* What several reports have in common: compositions, phases, trust, numbers, JSON. */
#ifndef DRYFRONT_REPORT_PARTS_H
#define DRYFRONT_REPORT_PARTS_H

#include "dryfront/report.h"
#include "report/layout.h"

#include <jansson.h>

#define DF_PART_LOWEST 150.0 /* K, the coldest that freezing is followed to */
#define DF_PART_TRACE 1e-9   /* share by mass under which a phase or component is not shown */

double df_celsius(double kelvin);

/* Pressure as mbar with about three significant digits: "1013", "6.11", "0.0371", "2.5e-06". Returns out. */
const char *df_part_mbar(char *out, size_t size, double pascal);
/* Per cent with enough digits to tell a trace from nothing: "24.5", "0.12", "0.003". Returns out. */
const char *df_part_percent(char *out, size_t size, double fraction);

/* The mixture as written, with the note on what % v/v means; then the same amounts in all three units. */
void df_part_composition_text(df_text *out, const df_composition *composition);
json_t *df_part_composition_json(const df_composition *composition);

/* Index of the crystal of component i alone, -1 where it has none (a solute). */
int df_part_own_crystal(const df_mixture *mixture, size_t i);
/* "acetonitrile crystal", "ice", "THF.17H2O". Returns out. */
const char *df_part_solid_name(char *out, size_t size, const df_mixture *mixture, size_t k);
/* Whether the pressure of component i over what is there rests on a vapour pressure outside the range of its source. Ice
 * has an equation of its own that reaches all the way down; where it is there, the water's pressure is its. */
bool df_part_extrapolated(const df_mixture *mixture, const df_assemblage *assemblage, double temperature, size_t i);
/* One standard deviation of the mass fractions in the liquids of an assemblage; NAN where it is not known. */
typedef struct df_part_bands {
    double share[DF_MAX_LIQUIDS][DF_MAX_COMPONENTS];
} df_part_bands;
/* Mass fraction of component i in liquid l. */
double df_part_liquid_share(const df_mixture *mixture, const df_assemblage *assemblage, size_t l, size_t i);
/* " ± 0.3" with that many decimals, rounded up to one in the last of them; "" where sigma is NAN or 0. Returns
 * out. */
const char *df_part_band(char *out, size_t size, double sigma, int decimals);
/* "ice 31.2, liquid 68.8 (acetonitrile 44.0 ± 0.3, water 56.0 ± 0.3)": shares by mass of all, and in brackets of that
 * liquid, which with `glass` is called a glass. `bands` may be NULL. */
void df_part_phases_text(df_text *out, const df_mixture *mixture, const df_assemblage *assemblage, bool glass,
                         const df_part_bands *bands);
/* Puts "solids" and "liquids" into an object. `bands` may be NULL. */
void df_part_phases_json(json_t *object, const df_mixture *mixture, const df_assemblage *assemblage, bool glass,
                         const df_part_bands *bands);
/* Which solids were allowed, and why the others were not. */
void df_part_solids_text(df_text *out, const df_mixture *mixture, const bool *allowed, df_freezing_mode mode);
json_t *df_part_solids_json(const df_mixture *mixture, const bool *allowed);

/* "ammonium bicarbonate breaks up into ammonia, carbon dioxide, water: 0.53 mbar over its dry crystal at -30.0 °C (± 15 %), 0.24
 * mbar without the water beside ice": false where the solute does not break up. */
bool df_part_breaks_up(char *out, size_t size, const df_substance *solute, const df_substance *water,
                       double temperature);

/* How far to trust it and where it comes from: each pair's grade, range and source; substances whose constants are
 * estimated or from memory. */
void df_part_trust_text(df_text *out, const df_mixture *mixture);
json_t *df_part_trust_json(const df_mixture *mixture);
/* "227 K to 350 K" in °C; "range not stated". Returns out. */
const char *df_part_range(char *out, size_t size, double lowest, double highest);

/* The text of a job (df_job_write) as JSON; null where memory ran out. `note` may be NULL. */
json_t *df_part_job_json(const df_job *job, const char *original, const df_text *note);
/* Puts the text of a dryer that a job calls by its name into an object. */
void df_part_dryer_json(json_t *dryers, const df_job *job, const df_dryer *dryer);
/* Adds a line to such a note, broken at spaces, what follows indented. */
void df_part_note(df_text *note, const char *format, ...) DF_PRINTF(2, 3);
/* The cautions of a route (bits of df_route.warns) that are for what is done before or beside the run. */
void df_part_note_cautions(df_text *note, unsigned warns);

/* Cells of CSV (RFC 4180): a text, in quotes where it has to be; and behind a comma a number of nine digits, empty where there is
 * none. */
void df_part_csv_text(df_text *out, const char *text);
void df_part_csv_number(df_text *out, double value);

json_t *df_json_number(double value); /* null where it is not finite */
json_t *df_json_text(const char *string);
void df_json_put(json_t *object, const char *key, json_t *value);
/* Appends the object and frees it. */
DF_NODISCARD df_status df_json_finish(df_context *ctx, df_text *out, json_t *root);

/* What binds, in a few words for a column of 18: "melts (solidus)". */
const char *df_part_cause(df_cause cause);

/* "oil-sealed pump", "dry pump", "scroll pump", "diaphragm pump". */
const char *df_part_pump(const df_dryer *dryer);

#endif
