/* Jobs on dryers and ceilings of dryers, side by side. */
#include "dryfront/routes.h"
#include "report/run_parts.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

static const char *const patterns[] = {"[####]", "[##~~]", "[~~~~]", "[ .. ]"};

/* A path without its folders. */
static const char *short_name(const char *name) {
    const char *slash = strrchr(name, '/');
    return slash != NULL ? slash + 1 : name;
}

df_status df_report_compare_text(df_context *ctx, df_text *out, const df_comparison *cell, const df_job *job,
                                 size_t n, const df_dryer *dryer, const char *const *name, size_t m) {
    bool adapted = false;
    const df_substance *flammable[DF_MAX_COMPONENTS * 4];
    size_t flammables = 0;
    for (size_t i = 0; i < n; i++) {
        df_text_printf(out, "%s%s\n", i > 0 ? "\n" : "", job[i].name);
        df_text_printf(out, "  for %s\n\n", df_purpose_name(job[i].purpose));
        df_text_printf(out, "  %-22s %-16s %-19s%8s%10s\n", "dryer", "stands", "binds", "time, h", "margin, K");
        for (size_t j = 0; j < m; j++) {
            const df_comparison *c = &cell[i * m + j];
            char margin[32] = "-", hours[32] = "-", stands[32];
            if (!c->fits) {
                df_text_printf(out, "  %-22.22s does not fit (below)\n", short_name(name[j]));
                continue;
            }
            if (isfinite(c->margin))
                snprintf(margin, sizeof margin, "%.1f", c->margin);
            if (isfinite(c->time))
                snprintf(hours, sizeof hours, "%.1f", c->time / 3600.0);
            snprintf(stands, sizeof stands, "%s %s%s", patterns[c->standing], df_standing_name(c->standing),
                     c->acceptable ? "" : " !");
            df_text_printf(out, "  %-22.22s %-16s %-19s%8s%10s%s\n", short_name(name[j]), stands,
                           df_part_cause(c->cause), hours, margin, c->adapted ? " *" : "");
            adapted = adapted || c->adapted;
        }
        for (size_t j = 0; j < m; j++)
            if (!cell[i * m + j].fits)
                df_layout_printf(out, "", "%s: %s", short_name(name[j]), cell[i * m + j].because);
        for (size_t k = 0; k < job[i].composition.n; k++) {
            const df_substance *s = job[i].composition.component[k];
            size_t f = 0;
            while (f < flammables && flammable[f] != s)
                f++;
            if (f == flammables && flammables < sizeof flammable / sizeof flammable[0] && !s->is_water)
                flammable[flammables++] = s;
        }
    }
    df_text_puts(out, "\n");
    for (size_t j = 0; j < m; j++)
        df_layout_printf(out, j == 0 ? "dryers" : "", "%s: %s; trap %.0f °C without load, %s", name[j], dryer[j].name,
                         df_celsius(df_trap_no_load(&dryer[j].trap[0])), df_part_pump(&dryer[j]));
    df_layout_printf(out, "reads",
                     "!: not acceptable for the purpose. time: of the run, to the end of its recipe where the sample "
                     "has solutes, or until it failed. margin: least between hottest point and its limit; -: none%s",
                     adapted ? ". *: the recipe was brought into what that dryer can do" : "");
    for (size_t i = 0; i < n; i++)
        df_part_own_text(out, n > 1 ? job[i].name : "trust", &job[i]);
    const char *label = "caution";
    for (size_t f = 0; f < flammables; f++) {
        char line[400];
        df_report_caution(line, sizeof line, flammable[f]);
        if (line[0] == '\0')
            continue;
        df_layout_paragraph(out, label, line);
        label = "";
    }
    return out->failed ? df_fail(ctx, DF_E_MEMORY, "the report grew too large") : DF_OK;
}

df_status df_report_compare_json(df_context *ctx, df_text *out, const df_comparison *cell, const df_job *job,
                                 size_t n, const df_dryer *dryer, const char *const *name, size_t m) {
    json_t *root = json_object(), *dryers = json_array(), *jobs = json_array();
    for (size_t j = 0; j < m; j++) {
        json_t *o = json_object();
        df_json_put(o, "name", df_json_text(name[j]));
        df_json_put(o, "dryer", df_json_text(dryer[j].name));
        df_json_put(o, "trap_no_load_C", df_json_number(df_celsius(df_trap_no_load(&dryer[j].trap[0]))));
        df_json_put(o, "pump", df_json_text(df_pump_kind_name(dryer[j].pump.kind)));
        json_array_append_new(dryers, o);
    }
    for (size_t i = 0; i < n; i++) {
        json_t *o = json_object(), *list = json_array();
        df_json_put(o, "job", df_json_text(job[i].name));
        df_json_put(o, "purpose", df_json_text(df_purpose_name(job[i].purpose)));
        for (size_t j = 0; j < m; j++) {
            const df_comparison *c = &cell[i * m + j];
            json_t *p = json_object();
            df_json_put(p, "dryer", df_json_text(name[j]));
            df_json_put(p, "fits", json_boolean(c->fits));
            df_json_put(p, "recipe_adapted", json_boolean(c->adapted));
            df_json_put(p, "standing", c->fits ? df_json_text(df_standing_name(c->standing)) : json_null());
            df_json_put(p, "cause", c->fits ? df_json_text(df_cause_name(c->cause)) : json_null());
            df_json_put(p, "because", df_json_text(c->because));
            df_json_put(p, "acceptable", json_boolean(c->acceptable));
            df_json_put(p, "run_h", df_json_number(c->time / 3600.0));
            df_json_put(p, "primary_drying_h", df_json_number(c->primary_time / 3600.0));
            df_json_put(p, "least_margin_K", df_json_number(c->margin));
            df_json_put(p, "least_margin_sigma_K", df_json_number(c->margin_sigma));
            df_json_put(p, "vented_g", df_json_number(c->fits ? 1e3 * c->vented : NAN));
            json_array_append_new(list, p);
        }
        df_json_put(o, "on", list);
        json_array_append_new(jobs, o);
    }
    df_json_put(root, "dryers", dryers);
    df_json_put(root, "jobs", jobs);
    return df_json_finish(ctx, out, root);
}
