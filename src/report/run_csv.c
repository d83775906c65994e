/* The series of a run as CSV (RFC 4180): a row for each moment. */
#include "report/run_parts.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#define MBAR(pascal) ((pascal) / 100.0)
#define GRAMS(kilograms) (1e3 * (kilograms))

/* "chamber_acetonitrile_mbar": a column of its own for each substance. */
static void name(df_text *out, const char *before, const char *key, const char *after) {
    char column[160];
    snprintf(column, sizeof column, "%s_%s_%s", before, key, after);
    df_text_puts(out, ",");
    df_part_csv_text(out, column);
}

static void head(df_text *out, const df_stand *s) {
    const df_run *run = &s->run;
    char before[32];
    df_text_puts(out, "time_h,shelf_C,chamber_mbar");
    for (size_t i = 0; i < run->species; i++)
        name(out, "chamber", run->substance[i]->key, "mbar");
    df_text_puts(out, ",chamber_air_mbar,set_point_mbar,held_up_by,trap_mbar,pump_inlet_mbar,pump_ultimate_mbar,"
                      "duct_choked_percent");
    for (size_t j = 0; j < s->setup.dryer->traps; j++)
        df_text_printf(out, ",trap%zu_coil_C,trap%zu_surface_C,trap%zu_coolant_boiled_away_kg", j + 1, j + 1, j + 1);
    static const char *const amounts[] = {"traps", "oil", "exhaust"};
    for (size_t a = 0; a < sizeof amounts / sizeof amounts[0]; a++)
        for (size_t i = 0; i < run->species; i++)
            name(out, amounts[a], run->substance[i]->key, "g");
    for (size_t i = 0; i < run->species; i++)
        name(out, "drying", run->substance[i]->key, "g_h");
    for (size_t i = 0; i < run->species; i++)
        name(out, "exhaust", run->substance[i]->key, "g_h");
    for (size_t k = 0; k < run->class_count; k++) {
        const df_composition *c = &s->setup.classes[k].composition;
        snprintf(before, sizeof before, "class%zu", k + 1);
        df_text_printf(out, ",%s_front_C,%s_hottest_C,%s_glass_C,%s_depth_mm,%s_heat_W", before, before, before,
                       before, before);
        snprintf(before, sizeof before, "class%zu_left", k + 1);
        for (size_t i = 0; i < c->n; i++)
            name(out, before, c->component[i]->key, "percent");
        snprintf(before, sizeof before, "class%zu_bound", k + 1);
        for (size_t i = 0; i < c->n && s->setup.secondary; i++)
            name(out, before, c->component[i]->key, "mg_g");
    }
    df_text_puts(out, "\r\n");
}

static void row(df_text *out, const df_stand *s, const df_moment *m) {
    const df_run *run = &s->run;
    size_t n = run->species;
    df_text_printf(out, "%.9g", m->time / 3600.0);
    df_part_csv_number(out, df_celsius(m->shelf));
    df_part_csv_number(out, MBAR(df_part_total(m, n)));
    for (size_t i = 0; i <= n; i++)
        df_part_csv_number(out, MBAR(m->chamber[i]));
    df_part_csv_number(out, m->wanted > 0.0 ? MBAR(m->wanted) : NAN);
    df_text_printf(out, ",%s", df_holder_name(m->holder));
    df_part_csv_number(out, MBAR(m->trap_pressure));
    df_part_csv_number(out, MBAR(m->pump_pressure));
    df_part_csv_number(out, MBAR(m->ultimate));
    df_part_csv_number(out, 100.0 * m->choked);
    for (size_t j = 0; j < s->setup.dryer->traps; j++) {
        bool finger = s->setup.dryer->trap[j].kind == DF_TRAP_FINGER;
        df_part_csv_number(out, df_celsius(m->coil[j]));
        df_part_csv_number(out, df_celsius(m->trap_surface[j]));
        df_part_csv_number(out, finger ? m->coolant[j] : NAN);
    }
    const double *const amounts[] = {m->deposit, m->oil, m->exhaust};
    for (size_t a = 0; a < sizeof amounts / sizeof amounts[0]; a++)
        for (size_t i = 0; i < n; i++)
            df_part_csv_number(out, GRAMS(amounts[a][i]));
    for (size_t i = 0; i < n; i++)
        df_part_csv_number(out, 3.6e6 * m->rate[i]);
    for (size_t i = 0; i < n; i++)
        df_part_csv_number(out, 3.6e6 * m->exhaust_rate[i]);
    for (size_t k = 0; k < run->class_count; k++) {
        const df_class_moment *c = &m->container[k];
        size_t components = s->setup.classes[k].composition.n;
        df_part_csv_number(out, df_celsius(c->front));
        df_part_csv_number(out, df_celsius(c->hottest));
        df_part_csv_number(out, df_celsius(c->glass));
        df_part_csv_number(out, 1e3 * c->depth);
        df_part_csv_number(out, c->heat);
        for (size_t i = 0; i < components; i++)
            df_part_csv_number(out, 100.0 * c->left[i]);
        for (size_t i = 0; i < components && s->setup.secondary; i++)
            df_part_csv_number(out, 1e3 * c->bound[i]);
    }
    df_text_puts(out, "\r\n");
}

df_status df_report_run_csv(df_context *ctx, df_text *out, const df_stand *s) {
    if (!s->simulated)
        return df_fail(ctx, DF_E_INPUT, "the sample is liquid when it is loaded: there is no run to write down");
    head(out, s);
    for (size_t i = 0; i < s->run.moments; i++)
        row(out, s, &s->run.moment[i]);
    return out->failed ? df_fail(ctx, DF_E_MEMORY, "the series grew too large") : DF_OK;
}
