/* How a job stands, as text and as JSON. */
#include "report/run_parts.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>

static const char *lever_text(char *out, size_t size, const df_remedy *r) {
    switch (r->lever) {
    case DF_LEVER_FRACTION:
        snprintf(out, size, "bring the solvents from %.3g to %.3g %% v/v (dilute, or strip under vacuum first)",
                 100.0 * r->from, 100.0 * r->to);
        break;
    case DF_LEVER_TRAP:
        snprintf(out, size, "use a dryer whose trap reaches %.0f °C without load (now %.0f °C)", df_celsius(r->to),
                 df_celsius(r->from));
        break;
    case DF_LEVER_SHELF:
        snprintf(out, size, "lower the shelf from %.0f to %.0f °C", df_celsius(r->from), df_celsius(r->to));
        break;
    case DF_LEVER_HOLD:
        snprintf(
            out, size,
            "hold the shelf at %.0f °C for the first %.0f h, until the solvent has gone, then go on as in the recipe",
            df_celsius(r->to), r->hold_hours);
        break;
    case DF_LEVER_FILL:
        snprintf(out, size, "fill %.0f %% as much into each container and share the rest over further runs",
                 100.0 * r->to);
        break;
    case DF_LEVER_DRY_PUMP:
        snprintf(out, size, "use a dry pump that passes the solvent to an exhaust");
        break;
    case DF_LEVER_FREEZE:
        snprintf(out, size, "freeze at %.0f °C or colder (now %.0f °C)", df_celsius(r->to), df_celsius(r->from));
        break;
    }
    return out;
}

static void head(df_text *out, const df_stand *s, const df_job *job, const df_dryer *dryer) {
    char a[64], b[64], c[64], line[256];
    df_part_head_text(out, s, job, dryer);
    double freezing = 0.0;
    for (size_t i = 0; i < job->groups; i++)
        freezing = fmax(freezing, s->freezing[i].time_to_target);
    df_part_duration(a, sizeof a, freezing);
    if (s->simulated && s->run.end == DF_END_DRY)
        df_layout_printf(out, "time", "freezing %s, primary drying %s%s%s", a,
                         df_part_duration(b, sizeof b, s->run.primary_time),
                         s->run.time > s->run.primary_time ? ", end of the run " : "",
                         s->run.time > s->run.primary_time ? df_part_duration(c, sizeof c, s->run.time) : "");
    else if (s->simulated)
        df_layout_printf(out, "time", "freezing %s; the run was followed for %s", a,
                         df_part_duration(b, sizeof b, s->run.time));
    df_part_sure_text(out, s);
    for (size_t i = 0; i < s->remedies; i++) {
        const df_remedy *r = &s->remedy[i];
        df_layout_printf(out, i == 0 ? "instead" : "", "%s: then %s, dry in %s", lever_text(line, sizeof line, r),
                         df_standing_name(r->standing), df_part_duration(a, sizeof a, 3600.0 * r->hours));
    }
    if (s->standing != DF_RIGID && s->remedies == 0)
        df_layout_paragraph(out, "instead",
                            "no single change that was tried is enough (shelf, dilution, trap, fill)");
    const df_class_run *worst = &s->run.classes[df_part_worst_class(&s->run)];
    if (s->simulated && s->standing == DF_WETTED && isfinite(worst->least_margin_limit) &&
        job->group[0].place == DF_PLACE_MANIFOLD)
        df_layout_printf(
            out, "",
            "the room gives the heat on a manifold: a shelf held below %.0f °C would keep the sample under its "
            "limit (not simulated)",
            df_celsius(worst->least_margin_limit - s->setup.margin));
}

/* How far the product lies above the trap in the run's middle part, where vapour flows steadily. */
static void trap_part(df_text *out, const df_run *run) {
    double surface = 0.0, front = 0.0;
    size_t k = df_part_worst_class(run), used = 0;
    for (size_t i = 0; i < run->moments; i++) {
        const df_moment *m = &run->moment[i];
        if (m->time < 0.1 * run->primary_time || m->time > 0.8 * run->primary_time)
            continue;
        front += m->container[k].front;
        surface += m->trap_surface[0];
        used++;
    }
    if (used > 0)
        df_layout_printf(out, "trap",
                         "product lies %.0f K above the trap's surface in mid-run (rule of thumb: 15-20 K; common "
                         "practice, no source); surface at most %.1f °C, chamber at most %.2f mbar, duct at most "
                         "%.0f %% of sonic flow",
                         (front - surface) / (double)used, df_celsius(run->highest_trap_surface),
                         run->highest_pressure / 100.0, 100.0 * run->highest_choke);
}

df_status df_report_stand_text(df_context *ctx, df_text *out, const df_stand *s, const df_job *job,
                               const df_dryer *dryer) {
    char a[64];
    head(out, s, job, dryer);
    df_text_puts(out, "\n");
    df_part_sample_text(out, s, job);
    if (s->simulated) {
        df_part_hours_text(out, s);
        for (size_t k = 0; k < s->run.class_count && s->run.class_count > 1; k++)
            df_text_printf(out, "  %s: dry in %s, hottest %.1f °C\n", s->setup.classes[k].name,
                           df_part_duration(a, sizeof a, s->run.classes[k].time_dry),
                           df_celsius(s->run.classes[k].hottest));
        df_part_account_text(out, &s->run);
        df_part_exhaust_text(out, &s->run, dryer);
        df_text_puts(out, "\n");
        trap_part(out, &s->run);
    } else
        df_text_puts(out, "\n");
    df_part_stand_trust_text(out, s, job);
    df_part_caution_text(out, s, job);
    return out->failed ? df_fail(ctx, DF_E_MEMORY, "the report grew too large") : DF_OK;
}

/* ---- JSON ----------------------------------------------------------------------------------------------------- */

/* What is done outside the dryer, and in how many loads. */
static void remedy_note(df_text *note, const df_remedy *r) {
    char line[256];
    unsigned warns = 0;
    if (r->lever == DF_LEVER_FRACTION) {
        df_part_note(note, "Before the dryer: %s", lever_text(line, sizeof line, r));
        warns |= DF_WARN_BOILING;
    }
    if (r->lever == DF_LEVER_FILL)
        df_part_note(note, "This is one of %.0f runs with less in each container: what waits has to stay frozen.",
                     ceil(1.0 / r->to - 1e-9));
    if (r->lever == DF_LEVER_FREEZE && r->to < df_means_temperature(DF_MEANS_DRY_ICE_BATH))
        warns |= DF_WARN_NITROGEN;
    df_part_note_cautions(note, warns);
}

/* The text of the job with the remedy, and of the dryer where that is what changes. */
static void take_json(json_t *o, const df_remedy *r, const df_job *job, const df_dryer *dryer, const char *text) {
    struct {
        df_job job;
        df_dryer dryer;
    } *all = calloc(1, sizeof *all);
    json_t *taken = NULL, *dryers = json_object();
    bool own, told = r->lever != DF_LEVER_TRAP ||
                     dryer->trap[0].kind == DF_TRAP_COIL; /* a finger is as cold as its coolant */
    if (all != NULL && told) {
        df_text note = {0};
        all->job = *job;
        all->dryer = *dryer;
        if (df_remedy_apply(&all->job, &all->dryer, &own, r)) {
            remedy_note(&note, r);
            taken = df_part_job_json(&all->job, text, &note);
            if (own)
                df_part_dryer_json(dryers, &all->job, &all->dryer);
        }
        df_text_free(&note);
    }
    free(all);
    df_json_put(o, "job", taken != NULL ? taken : json_null());
    df_json_put(o, "dryers", dryers);
}

static json_t *remedies_json(const df_stand *s, const df_job *job, const df_dryer *dryer, const char *text) {
    json_t *remedies = json_array();
    static const char *const levers[] = {"solvent_percent_v_v", "trap_no_load_C", "shelf_C",  "shelf_hold_C",
                                         "fill_percent",        "dry_pump",       "coolant_C"};
    for (size_t i = 0; i < s->remedies; i++) {
        const df_remedy *r = &s->remedy[i];
        json_t *o = json_object();
        bool celsius = r->lever == DF_LEVER_TRAP || r->lever == DF_LEVER_SHELF || r->lever == DF_LEVER_HOLD ||
                       r->lever == DF_LEVER_FREEZE;
        char line[256];
        df_json_put(o, "lever", df_json_text(levers[r->lever]));
        df_json_put(o, "from", df_json_number(celsius ? df_celsius(r->from) : 100.0 * r->from));
        df_json_put(o, "to", df_json_number(celsius ? df_celsius(r->to) : 100.0 * r->to));
        df_json_put(o, "standing", df_json_text(df_standing_name(r->standing)));
        df_json_put(o, "drying_h", df_json_number(r->hours));
        df_json_put(o, "hold_h", df_json_number(r->hold_hours));
        df_json_put(o, "text", df_json_text(lever_text(line, sizeof line, r)));
        take_json(o, r, job, dryer, text);
        json_array_append_new(remedies, o);
    }
    return remedies;
}

df_status df_report_stand_json(df_context *ctx, df_text *out, const df_stand *s, const df_job *job,
                               const df_dryer *dryer, const char *text) {
    json_t *run = s->simulated ? df_part_run_json(ctx, s, job, dryer) : json_null(), *root;
    if (run == NULL)
        return DF_E_INTERNAL;
    root = json_object();
    df_part_head_json(root, s, job, dryer);
    df_json_put(root, "remedies", remedies_json(s, job, dryer, text));
    df_json_put(root, "sample", df_part_sample_json(s, job));
    df_json_put(root, "run", run);
    return df_json_finish(ctx, out, root);
}
