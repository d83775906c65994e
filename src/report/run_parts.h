/* What the reports on a job and its run have in common: how it stands, the sample, the run in figures, the account. */
#ifndef DRYFRONT_REPORT_RUN_PARTS_H
#define DRYFRONT_REPORT_RUN_PARTS_H

#include "dryfront/transient.h"
#include "report/parts.h"

/* ---- figures -------------------------------------------------------------------------------------------------- */

/* "45 s", "12 min", "26.4 h", "120 h"; "not reached" where it is not finite. Returns out. */
const char *df_part_duration(char *out, size_t size, double seconds);
/* Grams of a mass in kg with about three digits: "917", "1.53", "0.004", "0". Returns out. */
const char *df_part_grams(char *out, size_t size, double kilograms);
/* Share by mass with its unit: "1.2 %", "410 ppm", "0". Returns out. */
const char *df_part_share(char *out, size_t size, double share);
/* A key as words: "liquid nitrogen" from "liquid_nitrogen". Returns out. */
const char *df_part_words(char *out, size_t size, const char *key);
/* "trap", or "first trap" and "second trap" where there are two. */
const char *df_part_trap(const df_dryer *dryer, size_t trap);

/* Of a run: the class that comes nearest to its limit; the class with the most of component i left. */
size_t df_part_worst_class(const df_run *run);
size_t df_part_wettest_class(const df_run *run, size_t i);
double df_part_total(const df_moment *moment, size_t species); /* Pa in the chamber */
/* Largest share by which a species' account fails to close. */
double df_part_account_error(const df_run *run);

/* What goes to the exhaust of one species. kg/s, and share of a limit once mixed into the air of the hood (NAN where flow or
 * limit are not known). */
typedef struct df_part_exhaust {
    double average, peak, worst; /* over the run; at its highest; over the worst eight hours */
    double explosive, exposure;  /* peak over the lower explosive limit; worst over the limit of eight hours */
} df_part_exhaust;
void df_part_exhaust_find(df_part_exhaust *out, const df_run *run, size_t species, const df_dryer *dryer);

/* Where the one-dimensional model would part from the run of class k; false where that cannot be said (a flask at rest, a
 * run that did not get half-way). */
bool df_part_one_dimension(df_transient_range *out, const df_stand *stand, size_t k);

/* What was used up. Freezing counts the heat of the sample alone, so the coolant is a lower bound. */
typedef struct df_part_used {
    double freezing_heat, freezing_coolant; /* J, kg; coolant NAN where nothing boils away */
    df_coolant freezing_kind;
} df_part_used;
void df_part_used_find(df_part_used *out, const df_stand *stand, const df_job *job);

/* ---- text ----------------------------------------------------------------------------------------------------- */

/* Name, dryer, standing with its pattern, why, and whether that is acceptable. */
void df_part_head_text(df_text *out, const df_stand *stand, const df_job *job, const df_dryer *dryer);
/* Bands of the run; nothing where none are known. */
void df_part_sure_text(df_text *out, const df_stand *stand);
void df_part_sample_text(df_text *out, const df_stand *stand, const df_job *job);
/* The hours of a run in a table of the worst class. */
void df_part_hours_text(df_text *out, const df_stand *stand);
/* Where every gram went, and how well it closes. */
void df_part_account_text(df_text *out, const df_run *run);
void df_part_exhaust_text(df_text *out, const df_run *run, const df_dryer *dryer);
/* What of a job rests on the user's own figures: a line for each; in JSON a list of {kind, key, source}. */
void df_part_own_text(df_text *out, const char *label, const df_job *job);
json_t *df_part_own_json(const df_job *job);
void df_part_stand_trust_text(df_text *out, const df_stand *stand, const df_job *job);
void df_part_caution_text(df_text *out, const df_stand *stand, const df_job *job);

/* ---- JSON ----------------------------------------------------------------------------------------------------- */

/* Puts job, dryer, standing, cause, purpose, bands ... into an object. */
void df_part_head_json(json_t *object, const df_stand *stand, const df_job *job, const df_dryer *dryer);
json_t *df_part_sample_json(const df_stand *stand, const df_job *job);
json_t *df_part_cautions_json(const df_stand *stand, const df_job *job);
/* docs/schema/run.json, "run". NULL with the failure in ctx. */
json_t *df_part_run_json(df_context *ctx, const df_stand *stand, const df_job *job, const df_dryer *dryer);

#endif
