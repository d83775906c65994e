/* What each command does: reads its input, asks the library, reports. */
#include "command.h"
#include "serve/file.h"
#include "open.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define COUNT(a) (sizeof(a) / sizeof((a)[0]))
#define COLDEST 100.0 /* K, of a temperature asked for */
#define HOTTEST_VAPOUR 600.0
#define HOTTEST_PHASES 373.15 /* K: of a condensed mixture; its vapour is not a phase here */

/* ---- stand ---------------------------------------------------------------------------------------------------- */

df_status df_run_stand(df_session *s) {
    struct {
        df_job job;
        df_dryer dryer;
        df_stand stand;
    } *all = calloc(1, sizeof *all);
    char *text = NULL;
    if (all == NULL)
        return df_fail(s->ctx, DF_E_MEMORY, "out of memory");
    df_status status = df_open_job_text(s, &all->job, &all->dryer, &text, s->operand[0]);
    if (status == DF_OK) {
        status = df_option_value(s, "--quick", 0) != NULL
                     ? df_stand_sketch(s->ctx, &all->stand, &all->job, &all->dryer, s->pairs, s->progress)
                     : df_stand_judge(s->ctx, &all->stand, &all->job, &all->dryer, s->pairs, true);
        if (status >= 0) {
            s->no = !all->stand.acceptable;
            status = s->json ? df_report_stand_json(s->ctx, &s->out, &all->stand, &all->job, &all->dryer, text)
                             : df_report_stand_text(s->ctx, &s->out, &all->stand, &all->job, &all->dryer);
        }
        df_stand_free(&all->stand);
    }
    free(text);
    free(all);
    return status;
}

/* ---- ceilings ------------------------------------------------------------------------------------------------- */

static const char *const common_solvents[] = {"acetonitrile", "methanol", "ethanol",     "2-propanol",
                                              "tert-butanol", "acetone",  "acetic_acid", "dmso",
                                              "1,4-dioxane",  "thf",      "dmf",         "dichloromethane"};

static df_status find_solvents(df_session *s, const df_substance **solvent, size_t *n) {
    bool asked = df_option_value(s, "--solvent", 0) != NULL;
    for (*n = 0; asked ? df_option_value(s, "--solvent", *n) != NULL : *n < COUNT(common_solvents); (*n)++) {
        const char *name = asked ? df_option_value(s, "--solvent", *n) : common_solvents[*n];
        df_status status = df_substances_find(s->ctx, &solvent[*n], s->substances, name, "--solvent");
        if (status != DF_OK)
            return status;
        if (solvent[*n]->is_water)
            return df_fail(s->ctx, DF_E_INPUT, "--solvent: water is what the solvents are in; name another");
        if (solvent[*n]->is_involatile)
            return df_fail(s->ctx, DF_E_INPUT, "--solvent: %s is a solute without vapour", solvent[*n]->name);
        for (size_t i = 0; i < *n; i++)
            if (solvent[i] == solvent[*n])
                return df_fail(s->ctx, DF_E_INPUT, "--solvent: %s is named twice", solvent[i]->name);
    }
    return DF_OK;
}

df_status df_run_ceilings(df_session *s) {
    const df_substance *solvent[DF_MAX_VALUES], *water = NULL;
    size_t n = 0, m = s->operands;
    df_dryer *dryer = calloc(m, sizeof *dryer);
    df_status status = dryer != NULL ? DF_OK : df_fail(s->ctx, DF_E_MEMORY, "out of memory");
    for (size_t j = 0; j < m && status == DF_OK; j++)
        status = df_open_dryer(s, &dryer[j], s->operand[j], NULL, NULL);
    if (status == DF_OK)
        status = find_solvents(s, solvent, &n);
    if (status == DF_OK)
        status = df_substances_find(s->ctx, &water, s->substances, "water", NULL);
    df_ceiling *ceiling = status == DF_OK ? calloc(n * m, sizeof *ceiling) : NULL;
    if (status == DF_OK && ceiling == NULL)
        status = df_fail(s->ctx, DF_E_MEMORY, "out of memory");
    for (size_t j = 0; j < m && status >= 0; j++)
        status = df_ceilings_find(s->ctx, &ceiling[j * n], &dryer[j], s->pairs, water, solvent, n);
    if (status >= 0 && m == 1)
        status = s->json ? df_report_ceilings_json(s->ctx, &s->out, ceiling, n, dryer)
                         : df_report_ceilings_text(s->ctx, &s->out, ceiling, n, dryer);
    else if (status >= 0)
        status = s->json ? df_report_ceilings_beside_json(s->ctx, &s->out, ceiling, n, dryer, m)
                         : df_report_ceilings_beside_text(s->ctx, &s->out, ceiling, n, dryer, s->operand, m);
    free(ceiling);
    free(dryer);
    return status;
}

/* ---- phases and vapour ---------------------------------------------------------------------------------------- */

/* How the mixture was frozen: --freezing, in practice without it. */
static df_status read_mode(df_session *s, df_freezing_mode *mode) {
    const char *word = df_option_value(s, "--freezing", 0);
    *mode = DF_FREEZING_PRACTICE;
    if (word == NULL)
        return DF_OK;
    for (df_freezing_mode m = DF_FREEZING_PRACTICE; m <= DF_FREEZING_QUENCHED; m++)
        if (df_name_equal(word, df_freezing_mode_name(m))) {
            *mode = m;
            return DF_OK;
        }
    return df_fail(s->ctx, DF_E_INPUT,
                   "--freezing: '%.60s' is none; it is practice, quenched, annealed or equilibrium", word);
}

/* The operand's mixture, with what was seen in this very sample (--crystallises, --stays-liquid). */
static df_status read_mixture(df_session *s, df_composition *composition, df_freezing_mode *mode) {
    static const char *const options[] = {"--stays-liquid", "--crystallises"};
    df_status status = df_composition_parse(s->ctx, composition, s->substances, s->operand[0], NULL);
    for (int yes = 0; yes < 2; yes++)
        for (size_t i = 0; status == DF_OK && df_option_value(s, options[yes], i) != NULL; i++)
            status = df_composition_note(s->ctx, composition, s->substances, df_option_value(s, options[yes], i),
                                         yes == 1, options[yes]);
    return status == DF_OK ? read_mode(s, mode) : status;
}

static df_status read_temperature(df_session *s, double *kelvin, const char *text, double hottest) {
    df_status status = df_quantity_parse(s->ctx, kelvin, text, DF_DIM_TEMPERATURE, "--temperature");
    if (status == DF_OK && !(*kelvin >= COLDEST && *kelvin <= hottest))
        return df_fail(s->ctx, DF_E_INPUT, "--temperature: '%.60s' is outside %.0f °C to %.0f °C", text,
                       COLDEST - DF_ZERO_CELSIUS, hottest - DF_ZERO_CELSIUS);
    return status;
}

/* What --figure, --csv and their companions ask for; each stays empty where it is not asked for. */
static df_status draw_figure(df_session *s, df_text *drawn, df_text *numbers, const df_composition *composition,
                             const double *temperatures, size_t n, df_freezing_mode mode) {
    const char *file = df_option_value(s, "--figure", 0), *table = df_option_value(s, "--csv", 0);
    const char *kind = df_option_value(s, "--figure-kind", 0), *dryer_name = df_option_value(s, "--dryer", 0);
    bool pressure = kind != NULL && strcmp(kind, "pressure") == 0;
    if (file == NULL && table == NULL)
        return kind == NULL && dryer_name == NULL
                   ? DF_OK
                   : df_fail(s->ctx, DF_E_INPUT,
                             "%s belongs to a figure: say with --figure FILE.svg, or --csv FILE.csv for its numbers, "
                             "where it goes",
                             kind != NULL ? "--figure-kind" : "--dryer");
    if (kind != NULL && !pressure && strcmp(kind, "phases") != 0)
        return df_fail(s->ctx, DF_E_INPUT, "--figure-kind: '%.60s' is none; it is phases or pressure", kind);
    if (dryer_name != NULL && !pressure)
        return df_fail(s->ctx, DF_E_INPUT,
                       "--dryer is shown in a figure of pressures alone: add --figure-kind pressure");
    df_status named = file != NULL ? df_file_suffix(s->ctx, file, ".svg", "--figure") : DF_OK;
    if (named == DF_OK && table != NULL)
        named = df_file_suffix(s->ctx, table, ".csv", "--csv");
    if (named != DF_OK)
        return named;
    if (!pressure && composition->n == 3 && n > 1)
        return df_fail(s->ctx, DF_E_INPUT,
                       "a figure of three components is a triangle at one temperature: give --temperature once");
    df_text *svg = file != NULL ? drawn : NULL, *csv = table != NULL ? numbers : NULL;
    if (!pressure)
        return df_report_phase_figure(s->ctx, svg, csv, s->pairs, composition, n > 0 ? temperatures[0] : NAN, mode);
    df_dryer *dryer = dryer_name != NULL ? calloc(1, sizeof *dryer) : NULL;
    if (dryer_name != NULL && dryer == NULL)
        return df_fail(s->ctx, DF_E_MEMORY, "out of memory");
    df_status status = dryer != NULL ? df_open_dryer(s, dryer, dryer_name, NULL, "--dryer") : DF_OK;
    if (status >= 0)
        status = df_report_pressure_figure(s->ctx, svg, csv, s->pairs, composition, dryer, mode);
    free(dryer);
    return status;
}

/* Writes the file of an option where there is something for it; keeps the worse of two statuses. */
static df_status write_asked(df_session *s, df_status status, const df_text *text, const char *option) {
    if (status < 0 || text->length == 0)
        return status;
    df_status written = df_write_out(s, df_option_value(s, option, 0), text->data, text->length, option);
    return written < 0 ? written : status;
}

df_status df_run_phases(df_session *s) {
    df_composition composition;
    df_freezing_mode mode;
    df_text drawn = {0}, numbers = {0};
    double temperatures[DF_MAX_VALUES];
    size_t n = 0;
    df_status status = read_mixture(s, &composition, &mode);
    for (; status == DF_OK && df_option_value(s, "--temperature", n) != NULL; n++)
        status = read_temperature(s, &temperatures[n], df_option_value(s, "--temperature", n), HOTTEST_PHASES);
    if (status >= 0)
        status = draw_figure(s, &drawn, &numbers, &composition, temperatures, n, mode);
    if (status >= 0)
        status = s->json ? df_report_phases_json(s->ctx, &s->out, s->pairs, &composition, temperatures, n, mode)
                         : df_report_phases_text(s->ctx, &s->out, s->pairs, &composition, temperatures, n, mode);
    status = write_asked(s, status, &drawn, "--figure");
    status = write_asked(s, status, &numbers, "--csv");
    df_text_free(&drawn);
    df_text_free(&numbers);
    return status;
}

df_status df_run_vapour(df_session *s) {
    df_composition composition;
    const char *at = df_option_value(s, "--temperature", 0), *under = df_option_value(s, "--pressure", 0);
    double temperature = NAN, pressure = NAN;
    df_freezing_mode mode;
    df_status status = read_mixture(s, &composition, &mode);
    if (status != DF_OK)
        return status;
    if ((at == NULL) == (under == NULL))
        return df_fail(s->ctx, DF_E_INPUT, "vapour needs either --temperature T or --pressure P%s",
                       at != NULL ? ", not both" : "");
    if (at != NULL)
        status = read_temperature(s, &temperature, at, HOTTEST_VAPOUR);
    else
        status = df_quantity_parse(s->ctx, &pressure, under, DF_DIM_PRESSURE, "--pressure");
    if (status == DF_OK && under != NULL && !(pressure >= 1e-6 && pressure <= 1e7))
        status = df_fail(s->ctx, DF_E_INPUT, "--pressure: '%.60s' is outside 1e-6 Pa to 1e7 Pa", under);
    for (size_t i = 0; status == DF_OK && at != NULL && i < composition.n; i++)
        if (temperature > composition.component[i]->critical_temperature)
            status = df_fail(
                s->ctx, DF_E_INPUT, "--temperature: '%.60s' is above the critical temperature of %s, %.1f °C", at,
                composition.component[i]->name, composition.component[i]->critical_temperature - DF_ZERO_CELSIUS);
    if (status != DF_OK)
        return status;
    return s->json ? df_report_vapour_json(s->ctx, &s->out, s->pairs, &composition, temperature, pressure, mode)
                   : df_report_vapour_text(s->ctx, &s->out, s->pairs, &composition, temperature, pressure, mode);
}

/* ---- substances ----------------------------------------------------------------------------------------------- */

df_status df_run_substances(df_session *s) {
    const df_substance *substance = NULL;
    if (s->operands > 0) {
        df_status status = df_substances_find(s->ctx, &substance, s->substances, s->operand[0], NULL);
        if (status != DF_OK)
            return status;
    }
    return s->json ? df_report_substances_json(s->ctx, &s->out, s->substances, s->pairs, substance)
                   : df_report_substances_text(s->ctx, &s->out, s->substances, s->pairs, substance);
}
