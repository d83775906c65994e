/* A recipe: set points to take, what they cost against the fastest, and what rules when. */
#include "report/run_parts.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define MOST_ROWS 14 /* of the path, in text */

static const char *bound_words(df_bound bound) {
    switch (bound) {
    case DF_BOUND_NONE:
        return "";
    case DF_BOUND_PRODUCT:
        return "hottest frozen point";
    case DF_BOUND_GLASS:
        return "Tg of the dried cake";
    case DF_BOUND_CHOKE:
        return "sonic flow in the duct";
    case DF_BOUND_PRESSURE:
        return "pressure to be held";
    case DF_BOUND_SHELF:
        return "warmest shelf";
    case DF_BOUND_RAMP:
        return "ramp of the shelf";
    case DF_BOUND_TRAP:
        return "trap full";
    case DF_BOUND_OIL:
        return "solvent in the oil";
    case DF_BOUND_TIME:
        return "time limit";
    case DF_BOUNDS:
        break;
    }
    return "?";
}

static bool has_solvent(const df_job *job) {
    bool any = false;
    for (size_t i = 0; i < job->composition.n; i++)
        any = any || !job->composition.component[i]->is_water;
    return any;
}

/* ---- text ----------------------------------------------------------------------------------------------------- */

/* "2 holds", "2 holds and a slow ramp" */
static const char *holds_words(char *out, size_t size, size_t n, const df_recipe_plan *p) {
    snprintf(out, size, "%zu hold%s%s", n, n == 1 ? "" : "s", p->slow > 0.0 ? " and a slow ramp" : "");
    return out;
}

static void plan_line(df_text *out, const char *label, const char *what, const df_recipe_plan *p, double fastest) {
    char time[32], primary[48] = "";
    if (p->recipe.n == 0) {
        df_layout_printf(out, label, "%s: none keeps the limits", what);
        return;
    }
    if (!p->kept) {
        df_layout_printf(out, label, "%s: breaks a limit (%s)", what, bound_words(p->broken));
        return;
    }
    if (!p->dry) {
        df_layout_printf(out, label, "%s: keeps the limits, but is not dry in time", what);
        return;
    }
    if (p->primary_time < 0.999 * p->time)
        snprintf(primary, sizeof primary, ", primary drying %.1f h of it", p->primary_time / 3600.0);
    df_layout_printf(out, label, "%s: %s%s%s", what, df_part_duration(time, sizeof time, p->time), primary,
                     fastest > 0.0 ? "" : "; none that was tried is faster");
    if (fastest > 0.0)
        df_layout_printf(out, "", "%+.1f h (%+.0f %%) against the fastest", (p->time - fastest) / 3600.0,
                         100.0 * (p->time / fastest - 1.0));
}

/* Rows of the path: the ends, where another limit takes over, and some between. */
static void path_table(df_text *out, const df_recipe_plan *p) {
    size_t n = p->recipe.n, turns = 0;
    for (size_t i = 1; i + 1 < n; i++)
        turns += p->bound[i] != p->bound[i - 1];
    size_t every = n > MOST_ROWS ? (n + MOST_ROWS - 1) / MOST_ROWS : 1;
    bool pressure = p->recipe.pressure[0] > 0.0;
    df_text_printf(out, "\nThe fastest path%s\n    time   shelf%s  ruled by\n       h      °C%s\n",
                   turns > 0 || every > 1 ? " (some of its set points)" : "", pressure ? "     mbar" : "",
                   pressure ? "         " : "");
    for (size_t i = 0; i < n; i++) {
        bool turn = i > 0 && i + 1 < n && p->bound[i] != p->bound[i - 1];
        if (i != 0 && i + 1 != n && !turn && i % every != 0)
            continue;
        df_text_printf(out, "%8.2f %7.1f", p->recipe.time[i] / 3600.0, df_celsius(p->recipe.shelf_temperature[i]));
        if (pressure)
            df_text_printf(out, " %8.3f", p->recipe.pressure[i] / 100.0);
        df_text_printf(out, "  %s\n", bound_words(p->bound[i]));
    }
    df_text_puts(out, "\n");
}

static void limit_lines(df_text *out, const df_recipe_advice *a, const df_job *job, const df_dryer *d) {
    df_layout_printf(out, "limits",
                     "%s stays %.3g K below its limit%s; a dried cake as far below its Tg, where that is known",
                     a->wetted ? "the framework" : "the hottest frozen point", job->margin,
                     a->wetted ? " (it cannot be kept solid, and the purpose accepts wetted)" : "");
    df_layout_printf(out, "", "shelf of %.0f to %.0f °C, at most %.3g K/min; between holds %.3g K/min",
                     df_celsius(a->coldest), df_celsius(a->warmest), 60.0 * a->shelf_ramp, 60.0 * a->ramp);
    df_layout_printf(out, "", "duct at most %.0f %% of sonic flow%s", 100.0 * DF_HOLD_CHOKE,
                     d->chamber.control != DF_CONTROL_NONE
                         ? "; where a pressure is held, the framework's vapour alone stays below it"
                         : "");
    if (a->left_out > 0)
        df_layout_printf(out, "", "%zu event%s that nobody plans (power cut, air let in) left out", a->left_out,
                         a->left_out == 1 ? "" : "s");
    bool asked = false;
    for (size_t i = 0; i < job->composition.n; i++)
        asked = asked || job->target[i] > 0.0;
    if (!asked)
        df_layout_paragraph(out, "",
                            job->solutes > 0
                                ? "no residual is asked for (residual: in the job): the recipe ends with primary "
                                  "drying, and what the cake still holds is not dried off"
                                : "no solute: there is no cake, the recipe ends with primary drying");
}

df_status df_report_recipe_text(df_context *ctx, df_text *out, const df_recipe_advice *a, const df_stand *s,
                                const df_job *job, const df_dryer *d, const df_space *space) {
    char time[32], words[40];
    const df_recipe_plan *best = a->best > 0 ? &a->hold[a->best - 1] : NULL;
    df_text_printf(out, "%s\non %s\n\n", job->name, d->name);
    if (!a->found)
        df_layout_printf(out, "no recipe", "%s", a->because);
    else if (best == NULL)
        df_layout_paragraph(out, "no recipe",
                            "no recipe of up to three holds keeps the limits and dries in time; only the "
                            "path below does, with many set points");
    else {
        df_layout_printf(out, "recipe", "%s, dry%s after %s", holds_words(words, sizeof words, a->best, best),
                         job->target[0] > 0.0 || best->time > 1.001 * best->primary_time ? " as asked for" : "",
                         df_part_duration(time, sizeof time, best->time));
        df_text_puts(out, "\n");
        df_text_puts(out, "recipe:\n");
        df_recipe_write(out, &best->recipe, "  ");
        df_text_puts(out, "\n");
        if (best->slow > 0.0)
            df_layout_printf(out, "slow ramp", "%.3g K/min, the last of it; what the Tg of the drying cake allows",
                             60.0 * best->slow);
    }
    if (a->found) {
        plan_line(out, "fastest", "path of many set points", &a->path, 0.0);
        for (size_t n = 0; n < DF_MOST_HOLDS; n++)
            plan_line(out, n == 0 ? "in holds" : "", holds_words(words, sizeof words, n + 1, &a->hold[n]),
                      &a->hold[n], a->path.time);
    }
    plan_line(out, "as it is", "the job's recipe", &a->own, a->found ? a->path.time : NAN);
    limit_lines(out, a, job, d);
    if (best != NULL) {
        df_layout_printf(out, "checked",
                         "a full run of the recipe above: %s; least margin %.1f K; duct at %.0f %% of sonic flow",
                         df_standing_name(s->standing), best->margin, 100.0 * best->choke);
        if (isfinite(best->glass_margin))
            df_layout_printf(out, "", "least distance of the dried cake to its Tg %.1f K", best->glass_margin);
        df_part_sure_text(out, s);
    }
    if (space != NULL && space->fastest != SIZE_MAX) {
        const df_space_cell *c = &space->cell[space->fastest];
        df_layout_printf(out, "space",
                         "of one temperature and pressure%s the fastest is %.1f °C and %.3g mbar: %.1f h",
                         has_solvent(job) ? " once the solvent has gone" : "",
                         df_celsius(space->shelf[space->fastest % space->shelves]),
                         space->pressure[space->fastest / space->shelves] / 100.0, c->time / 3600.0);
    }
    if (a->found)
        path_table(out, &a->path);
    df_layout_paragraph(
        out, "beware",
        "set points run by time, whatever the product does. Kv, cake resistance and fill are assumptions or "
        "estimates: the margin has to cover what they leave open. Try the recipe on a few "
        "containers with a probe, and go on from hold to hold by what is measured");
    df_part_own_text(out, "trust", job);
    df_part_caution_text(out, s, job);
    return out->failed ? df_fail(ctx, DF_E_MEMORY, "out of memory, or the report grew too large") : DF_OK;
}

/* ---- JSON ----------------------------------------------------------------------------------------------------- */

/* What plans are told with: the job they are for, the text of its file. */
typedef struct plan_job {
    const df_recipe_advice *advice;
    const df_job *job;
    const char *text;
} plan_job;

/* The job with the set points of a plan. What nobody plans (power cuts, air let in) is left out, as in its run. */
static json_t *take_json(const df_recipe_plan *p, const plan_job *of) {
    df_text note = {0};
    df_job *job = malloc(sizeof *job);
    if (job == NULL)
        return json_null();
    *job = *of->job;
    job->recipe = p->recipe;
    job->recipe_given = true;
    job->events = 0;
    for (size_t i = 0; i < of->job->events; i++)
        if (of->job->event[i].kind == DF_EVENT_DEFROST || of->job->event[i].kind == DF_EVENT_REFILL)
            job->event[job->events++] = of->job->event[i];
    if (of->advice->left_out > 0)
        df_part_note(&note, "Without the events that nobody plans: the set points were found without them.");
    json_t *out = df_part_job_json(job, of->text, &note);
    df_text_free(&note);
    free(job);
    return out;
}

static json_t *plan_json(const df_recipe_plan *p, bool bounds, const plan_job *of) {
    if (p->recipe.n == 0)
        return json_null();
    json_t *o = json_object(), *points = json_array();
    df_json_put(o, "keeps_limits", json_boolean(p->kept));
    df_json_put(o, "dry", json_boolean(p->dry));
    df_json_put(o, "breaks", df_json_text(df_bound_name(p->broken)));
    df_json_put(o, "time_h", df_json_number(p->time / 3600.0));
    df_json_put(o, "primary_h", df_json_number(p->primary_time / 3600.0));
    df_json_put(o, "least_margin_K", df_json_number(p->margin));
    df_json_put(o, "least_glass_margin_K", df_json_number(p->glass_margin));
    df_json_put(o, "slow_ramp_K_per_min", p->slow > 0.0 ? df_json_number(60.0 * p->slow) : json_null());
    df_json_put(o, "highest_choke", df_json_number(p->choke));
    df_json_put(o, "highest_vapour_over_set_point", df_json_number(p->load));
    for (size_t i = 0; i < p->recipe.n; i++) {
        json_t *q = json_object();
        df_json_put(q, "time_h", df_json_number(p->recipe.time[i] / 3600.0));
        df_json_put(q, "shelf_C", df_json_number(df_celsius(p->recipe.shelf_temperature[i])));
        df_json_put(q, "chamber_pressure_mbar",
                    p->recipe.pressure[i] > 0.0 ? df_json_number(p->recipe.pressure[i] / 100.0) : json_null());
        if (bounds)
            df_json_put(q, "ruled_by", df_json_text(df_bound_name(p->bound[i])));
        json_array_append_new(points, q);
    }
    df_json_put(o, "set_points", points);
    df_json_put(o, "job", p->dry ? take_json(p, of) : json_null());
    return o;
}

static json_t *space_json(const df_space *s) {
    if (s == NULL)
        return json_null();
    json_t *o = json_object(), *shelf = json_array(), *pressure = json_array(), *cells = json_array();
    for (size_t i = 0; i < s->shelves; i++)
        json_array_append_new(shelf, df_json_number(df_celsius(s->shelf[i])));
    for (size_t i = 0; i < s->pressures; i++)
        json_array_append_new(pressure, df_json_number(s->pressure[i] / 100.0));
    for (size_t i = 0; i < s->shelves * s->pressures; i++) {
        const df_space_cell *c = &s->cell[i];
        json_t *q = json_object();
        df_json_put(q, "time_h", df_json_number(c->time / 3600.0));
        df_json_put(q, "to_limit_K", df_json_number(c->product));
        df_json_put(q, "hottest_C", df_json_number(df_celsius(c->hottest)));
        df_json_put(q, "choke", df_json_number(c->choke));
        df_json_put(q, "vapour_over_set_point", df_json_number(c->load));
        df_json_put(q, "trap_surface_C", df_json_number(df_celsius(c->trap)));
        df_json_put(q, "breaks", df_json_text(df_bound_name(c->broken)));
        json_array_append_new(cells, q);
    }
    df_json_put(o, "shelf_C", shelf);
    df_json_put(o, "chamber_pressure_mbar", pressure);
    df_json_put(o, "cells", cells);
    return o;
}

df_status df_report_recipe_json(df_context *ctx, df_text *out, const df_recipe_advice *a, const df_stand *s,
                                const df_job *job, const df_dryer *d, const df_space *space, const char *text) {
    const plan_job of = {a, job, text};
    json_t *root = json_object(), *holds = json_array(), *limits = json_object();
    df_json_put(root, "job", df_json_text(job->name));
    df_json_put(root, "dryer", df_json_text(d->name));
    df_json_put(root, "found", json_boolean(a->found));
    df_json_put(root, "aim", df_json_text(df_standing_name(a->wetted ? DF_WETTED : DF_RIGID)));
    df_json_put(root, "obstacle", df_json_text(df_bound_name(a->obstacle)));
    df_json_put(root, "because", df_json_text(a->because));
    df_json_put(limits, "margin_K", df_json_number(job->margin));
    df_json_put(limits, "coldest_shelf_C", df_json_number(df_celsius(a->coldest)));
    df_json_put(limits, "warmest_shelf_C", df_json_number(df_celsius(a->warmest)));
    df_json_put(limits, "shelf_ramp_K_per_min", df_json_number(60.0 * a->shelf_ramp));
    df_json_put(limits, "ramp_between_holds_K_per_min", df_json_number(60.0 * a->ramp));
    df_json_put(limits, "choke", df_json_number(DF_HOLD_CHOKE));
    df_json_put(limits, "vapour_over_set_point", df_json_number(DF_HOLD_PRESSURE));
    df_json_put(limits, "time_h", df_json_number(job->time_limit / 3600.0));
    df_json_put(root, "limits", limits);
    df_json_put(root, "events_left_out", json_integer((json_int_t)a->left_out));
    df_json_put(root, "holds_to_take", json_integer((json_int_t)a->best));
    df_json_put(root, "recipe", a->best > 0 ? plan_json(&a->hold[a->best - 1], false, &of) : json_null());
    df_json_put(root, "checked_standing", a->best > 0 ? df_json_text(df_standing_name(s->standing)) : json_null());
    df_json_put(root, "fastest_path", a->found ? plan_json(&a->path, true, &of) : json_null());
    for (size_t n = 0; n < DF_MOST_HOLDS; n++) {
        json_t *o = json_object();
        df_json_put(o, "holds", json_integer((json_int_t)n + 1));
        df_json_put(o, "plan", plan_json(&a->hold[n], false, &of));
        json_array_append_new(holds, o);
    }
    df_json_put(root, "in_holds", holds);
    df_json_put(root, "as_it_is", plan_json(&a->own, false, &of));
    df_json_put(root, "design_space", space_json(space));
    df_json_put(root, "runs", json_integer(a->runs));
    return df_json_finish(ctx, out, root);
}

/* ---- CSV ------------------------------------------------------------------------------------------------------ */

static void csv_number(df_text *out, double value) {
    if (isfinite(value))
        df_text_printf(out, ",%.6g", value);
    else
        df_text_puts(out, ",");
}

df_status df_report_space_csv(df_context *ctx, df_text *out, const df_space *s) {
    df_text_puts(
        out, "shelf_C,chamber_pressure_mbar,time_h,to_limit_K,hottest_C,choke,vapour_over_set_point,trap_surface_C,"
             "breaks\n");
    for (size_t i = 0; i < s->shelves * s->pressures; i++) {
        const df_space_cell *c = &s->cell[i];
        df_text_printf(out, "%.6g,%.6g", df_celsius(s->shelf[i % s->shelves]), s->pressure[i / s->shelves] / 100.0);
        csv_number(out, c->time / 3600.0);
        csv_number(out, c->product);
        csv_number(out, df_celsius(c->hottest));
        csv_number(out, c->choke);
        csv_number(out, c->load);
        csv_number(out, df_celsius(c->trap));
        df_text_printf(out, ",%s\n", df_bound_name(c->broken));
    }
    return out->failed ? df_fail(ctx, DF_E_MEMORY, "out of memory") : DF_OK;
}
