/* What is not sure of a job and what it does, as text and as JSON. */
#include "report/run_parts.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define WEAK 0.005 /* an index below it is not shown */

/* ---- text ----------------------------------------------------------------------------------------------------- */

static const char *chance(char *out, size_t size, df_estimate e) {
    if (isnan(e.error))
        snprintf(out, size, "%.1f %%", 100.0 * e.value);
    else
        snprintf(out, size, "%.1f ± %.1f %%", 100.0 * e.value, 100.0 * e.error);
    return out;
}

static const char *hours(char *out, size_t size, df_estimate e) {
    if (isnan(e.value))
        snprintf(out, size, "not had");
    else
        snprintf(out, size, "%.1f ± %.1f h", e.value / 3600.0, isnan(e.error) ? 0.0 : e.error / 3600.0);
    return out;
}

static const char *kelvin(char *out, size_t size, double value) {
    if (isfinite(value))
        snprintf(out, size, "%.1f K", value);
    else
        snprintf(out, size, "no limit holds");
    return out;
}

static const char *spread_of(char *out, size_t size, const df_uncertain *u) {
    static const char *const shape[] = {"normal", "lognormal", "evenly within ±"};
    const char *before = shape[u->distribution];
    if (u->measure == DF_UNCERTAIN_FACTOR)
        snprintf(out, size, "%s %.3g %%", before, 100.0 * u->spread);
    else
        snprintf(out, size, "%s %.3g %s", before, u->spread, u->measure == DF_UNCERTAIN_KELVIN ? "K" : "sigma");
    return out;
}

static void chances_text(df_text *out, const df_risk *r) {
    char a[64];
    for (int i = 0; i < 4; i++)
        if (r->standing[i].value > 0.0) {
            df_text_printf(out, "  %-8s %16s", df_standing_name((df_standing)i), chance(a, sizeof a, r->standing[i]));
            if (i > 0)
                df_text_printf(out, "   mostly by '%s'", df_cause_name(r->cause[i]));
            df_text_puts(out, "\n");
        }
}

static int by_total(const void *a, const void *b) {
    const df_influence *const *x = a, *const *y = b;
    double p = fmax((*x)->margin_total.value, 0.0) + fmax((*x)->time_total.value, 0.0);
    double q = fmax((*y)->margin_total.value, 0.0) + fmax((*y)->time_total.value, 0.0);
    return p != q ? (p < q) - (p > q) : strcmp((*x)->group, (*y)->group);
}

static const char *index_text(char *out, size_t size, const df_estimate *e) {
    if (isnan(e->value))
        snprintf(out, size, "-");
    else
        snprintf(out, size, "%.2f ± %.2f", fmax(e->value, 0.0), isnan(e->error) ? 0.0 : e->error);
    return out;
}

static void influences_text(df_text *out, const df_risk *r) {
    const df_influence *order[DF_UNCERTAINS];
    char a[32], b[32], c[32];
    size_t left_out = 0;
    if (r->influences == 0)
        return;
    for (size_t i = 0; i < r->influences; i++)
        order[i] = &r->influence[i];
    qsort(order, r->influences, sizeof *order, by_total);
    df_text_printf(out, "\n  %-22s %15s %15s %15s\n", "share of the variance", "of the margin", "of the time",
                   "rigid or not");
    for (size_t i = 0; i < r->influences; i++) {
        const df_influence *f = order[i];
        if (!(f->margin_total.value > WEAK || f->time_total.value > WEAK || f->rigid_total.value > WEAK)) {
            left_out++;
            continue;
        }
        df_text_printf(out, "  %-22s %*s %*s %*s\n", f->group,
                       15 + (int)(strlen(index_text(a, sizeof a, &f->margin_total)) - df_utf8_width(a)), a,
                       15 + (int)(strlen(index_text(b, sizeof b, &f->time_total)) - df_utf8_width(b)), b,
                       15 + (int)(strlen(index_text(c, sizeof c, &f->rigid_total)) - df_utf8_width(c)), c);
    }
    df_text_printf(out, "  total Sobol indices, %zu base runs, ± standard error%s\n", r->index_runs,
                   left_out > 0 ? "; below 0.005 not shown" : "");
}

static void residuals_text(df_text *out, const df_risk *r, const df_job *job) {
    char missed[64], a[32], b[32];
    const char *label = "left";
    for (size_t i = 0; i < job->composition.n && r->whole; i++) {
        if (isnan(r->residual_median[i].value))
            continue;
        missed[0] = '\0';
        if (!isnan(r->target_missed[i].value))
            snprintf(missed, sizeof missed, "; %.1f %% of runs above the %.3g %% asked for",
                     100.0 * r->target_missed[i].value, 100.0 * job->target[i]);
        df_layout_printf(out, label, "%s %s %% of the solids in the median, %s %% at the 95th per cent%s",
                         job->composition.component[i]->name,
                         df_part_percent(a, sizeof a, r->residual_median[i].value),
                         df_part_percent(b, sizeof b, r->residual_high[i].value), missed);
        label = "";
    }
}

static void shift_text(df_text *out, const df_risk *r) {
    char a[64], b[64], c[64];
    if (!r->shift_asked)
        return;
    df_text_puts(out, "\n");
    if (!r->shift_found) {
        df_layout_printf(out, "for a risk",
                         "of %.3g %%: no shelf will do; with all set points %.1f K colder, as cold as it gets or was "
                         "looked, rigid is left with %s in primary drying",
                         100.0 * r->accept, -r->shift_lowest, chance(a, sizeof a, r->curve_chance[0]));
        return;
    }
    bool end = r->shift.value >= r->shift_highest;
    df_layout_printf(out, "for a risk",
                     "of %.3g %%: all shelf set points %.1f K %s%s (± %.1f K): then rigid is left in primary drying "
                     "with %s, which takes "
                     "%s in the median, %s at the 95th per cent",
                     100.0 * r->accept, fabs(r->shift.value), r->shift.value < 0.0 ? "colder" : "warmer",
                     end ? " or more, as far as was looked" : "", r->shift.error,
                     chance(a, sizeof a, r->shift_chance), hours(b, sizeof b, r->shift_primary_median),
                     hours(c, sizeof c, r->shift_primary_high));
    df_text_puts(out, "\n  shelf by        ");
    for (size_t i = 0; i < DF_RISK_CURVE; i += 4)
        df_text_printf(out, " %+7.1f K", r->curve_shift[i]);
    df_text_puts(out, "\n  leaves rigid    ");
    for (size_t i = 0; i < DF_RISK_CURVE; i += 4)
        df_text_printf(out, " %7.1f %%", 100.0 * r->curve_chance[i].value);
    df_text_puts(out, "\n");
}

static void inputs_text(df_text *out, const df_risk *r) {
    char a[64];
    df_text_puts(out, "\n  what is not sure                           one standard dev.  grade\n");
    for (size_t i = 0; i < DF_UNCERTAINS; i++) {
        const df_uncertain *u = &r->input[i];
        if (!u->applies)
            continue;
        spread_of(a, sizeof a, u);
        df_text_printf(out, "  %-42.42s %-18s %s\n", u->what, a, u->grade);
    }
    df_layout_printf(
        out, "trust",
        "the grades are of the spreads: most are assumptions (docs/uncertainty.md); a job states its own under "
        "'uncertainty'. Chances below about %.2g %% say no more than the tails that were assumed",
        100.0 * fmax(10.0 / (double)r->runs, r->paths > 1 ? 2.0 / (double)r->paths : 0.0));
}

df_status df_report_risk_text(df_context *ctx, df_text *out, const df_risk *r, const df_job *job,
                              const df_dryer *dryer) {
    char a[64], b[64];
    df_text_printf(out, "%s\non %s\n\n", job->name, dryer->name);
    if (isnan(r->left_rigid_most))
        df_layout_printf(out, "leaves rigid", "%s of %zu runs over what is not sure; as stated it stands %s",
                         chance(a, sizeof a, r->left_rigid), r->runs, df_standing_name(r->as_stated));
    else
        df_layout_printf(out, "leaves rigid", "none of %zu runs over what is not sure (so likely below %.2g %%)",
                         r->runs, 100.0 * r->left_rigid_most);
    chances_text(out, r);
    df_text_puts(out, "\n");
    df_layout_printf(out, "margin", "%s in the median, %s at the 5th per cent; asked for %.1f K",
                     kelvin(a, sizeof a, r->margin_median.value), kelvin(b, sizeof b, r->margin_low.value),
                     job->margin);
    df_layout_printf(out, "time", "primary drying %s in the median, %s at the 95th per cent",
                     hours(a, sizeof a, r->primary_median), hours(b, sizeof b, r->primary_high));
    if (r->time_high.value > r->primary_high.value)
        df_layout_printf(out, "", "end of the run %s in the median, %s at the 95th per cent",
                         hours(a, sizeof a, r->time_median), hours(b, sizeof b, r->time_high));
    if (r->dry.value < 1.0)
        df_layout_printf(out, "", "(of the runs that end dry: %s of all)", chance(a, sizeof a, r->dry));
    residuals_text(out, r, job);
    influences_text(out, r);
    shift_text(out, r);
    inputs_text(out, r);
    df_layout_printf(out, "", "%zu runs in all, %zu failed; seed %llu", r->simulated, r->failed,
                     (unsigned long long)r->seed);
    df_part_own_text(out, "", job);
    return out->failed ? df_fail(ctx, DF_E_MEMORY, "the report grew too large") : DF_OK;
}

/* ---- JSON ----------------------------------------------------------------------------------------------------- */

static json_t *estimate(df_estimate e, double scale, double offset) {
    json_t *o = json_object();
    df_json_put(o, "value", df_json_number(scale * e.value + offset));
    df_json_put(o, "standard_error", df_json_number(scale * e.error));
    return o;
}

static json_t *inputs_json(const df_risk *r) {
    static const char *const measures[] = {"factor", "K", "sigma"};
    json_t *list = json_array();
    for (size_t i = 0; i < DF_UNCERTAINS; i++) {
        const df_uncertain *u = &r->input[i];
        json_t *o = json_object();
        df_json_put(o, "key", df_json_text(u->key));
        df_json_put(o, "what", df_json_text(u->what));
        df_json_put(o, "group", df_json_text(u->group));
        df_json_put(o, "applies", json_boolean(u->applies));
        df_json_put(o, "measure", df_json_text(measures[u->measure]));
        df_json_put(o, "distribution", df_json_text(df_distribution_name(u->distribution)));
        df_json_put(o, "spread", df_json_number(u->spread));
        df_json_put(o, "correlated_with", u->with < 0 ? json_null() : df_json_text(r->input[u->with].key));
        df_json_put(o, "correlation", df_json_number(u->with < 0 ? 0.0 : u->correlation));
        df_json_put(o, "grade", df_json_text(u->grade));
        df_json_put(o, "source", df_json_text(u->source));
        json_array_append_new(list, o);
    }
    return list;
}

static json_t *influences_json(const df_risk *r) {
    json_t *list = json_array();
    for (size_t i = 0; i < r->influences; i++) {
        const df_influence *f = &r->influence[i];
        json_t *o = json_object();
        df_json_put(o, "group", df_json_text(f->group));
        df_json_put(o, "margin_first", estimate(f->margin_first, 1.0, 0.0));
        df_json_put(o, "margin_total", estimate(f->margin_total, 1.0, 0.0));
        df_json_put(o, "time_first", estimate(f->time_first, 1.0, 0.0));
        df_json_put(o, "time_total", estimate(f->time_total, 1.0, 0.0));
        df_json_put(o, "rigid_first", estimate(f->rigid_first, 1.0, 0.0));
        df_json_put(o, "rigid_total", estimate(f->rigid_total, 1.0, 0.0));
        json_array_append_new(list, o);
    }
    return list;
}

static json_t *standings_json(const df_risk *r) {
    json_t *list = json_array();
    for (int i = 0; i < 4; i++) {
        json_t *o = json_object();
        df_json_put(o, "standing", df_json_text(df_standing_name((df_standing)i)));
        df_json_put(o, "chance", estimate(r->standing[i], 1.0, 0.0));
        df_json_put(o, "mostly_by",
                    r->standing[i].value > 0.0 ? df_json_text(df_cause_name(r->cause[i])) : json_null());
        json_array_append_new(list, o);
    }
    return list;
}

static json_t *residuals_json(const df_risk *r, const df_job *job) {
    json_t *list = json_array();
    for (size_t i = 0; i < job->composition.n && r->whole; i++) {
        json_t *o = json_object();
        df_json_put(o, "substance", df_json_text(job->composition.component[i]->name));
        df_json_put(o, "median_percent", estimate(r->residual_median[i], 100.0, 0.0));
        df_json_put(o, "p95_percent", estimate(r->residual_high[i], 100.0, 0.0));
        df_json_put(o, "target_percent", job->target[i] > 0.0 ? df_json_number(100.0 * job->target[i]) : json_null());
        df_json_put(o, "chance_above_target", estimate(r->target_missed[i], 1.0, 0.0));
        json_array_append_new(list, o);
    }
    return list;
}

static json_t *shift_json(const df_risk *r) {
    if (!r->shift_asked)
        return json_null();
    json_t *o = json_object(), *curve = json_array();
    df_json_put(o, "accepted_chance", df_json_number(r->accept));
    df_json_put(o, "found", json_boolean(r->shift_found));
    df_json_put(o, "shelf_shift_K", estimate(r->shift, 1.0, 0.0));
    df_json_put(o, "looked_from_K", df_json_number(r->shift_lowest));
    df_json_put(o, "looked_to_K", df_json_number(r->shift_highest));
    df_estimate none = {NAN, NAN};
    df_json_put(o, "chance", estimate(r->shift_found ? r->shift_chance : none, 1.0, 0.0));
    df_json_put(o, "primary_median_h", estimate(r->shift_found ? r->shift_primary_median : none, 1.0 / 3600.0, 0.0));
    df_json_put(o, "primary_p95_h", estimate(r->shift_found ? r->shift_primary_high : none, 1.0 / 3600.0, 0.0));
    for (size_t i = 0; i < DF_RISK_CURVE; i++) {
        json_t *p = json_object();
        df_json_put(p, "shelf_shift_K", df_json_number(r->curve_shift[i]));
        df_json_put(p, "chance", estimate(r->curve_chance[i], 1.0, 0.0));
        json_array_append_new(curve, p);
    }
    df_json_put(o, "curve", curve);
    return o;
}

df_status df_report_risk_json(df_context *ctx, df_text *out, const df_risk *r, const df_job *job,
                              const df_dryer *dryer) {
    json_t *root = json_object();
    const double hour = 1.0 / 3600.0;
    df_json_put(root, "job", df_json_text(job->name));
    df_json_put(root, "dryer", df_json_text(dryer->name));
    df_json_put(root, "runs", json_integer((json_int_t)r->runs));
    df_json_put(root, "runs_in_all", json_integer((json_int_t)r->simulated));
    df_json_put(root, "runs_failed", json_integer((json_int_t)r->failed));
    df_json_put(root, "index_runs", json_integer((json_int_t)r->index_runs));
    df_json_put(root, "seed", json_integer((json_int_t)r->seed));
    df_json_put(root, "as_stated", df_json_text(df_standing_name(r->as_stated)));
    df_json_put(root, "leaves_rigid", estimate(r->left_rigid, 1.0, 0.0));
    df_json_put(root, "leaves_rigid_below", df_json_number(r->left_rigid_most));
    df_json_put(root, "standings", standings_json(r));
    df_json_put(root, "dry", estimate(r->dry, 1.0, 0.0));
    df_json_put(root, "margin_asked_K", df_json_number(job->margin));
    df_json_put(root, "margin_median_K", estimate(r->margin_median, 1.0, 0.0));
    df_json_put(root, "margin_p5_K", estimate(r->margin_low, 1.0, 0.0));
    df_json_put(root, "hottest_median_C", estimate(r->hottest_median, 1.0, -DF_ZERO_CELSIUS));
    df_json_put(root, "hottest_p95_C", estimate(r->hottest_high, 1.0, -DF_ZERO_CELSIUS));
    df_json_put(root, "primary_median_h", estimate(r->primary_median, hour, 0.0));
    df_json_put(root, "primary_p95_h", estimate(r->primary_high, hour, 0.0));
    df_json_put(root, "end_median_h", estimate(r->time_median, hour, 0.0));
    df_json_put(root, "end_p95_h", estimate(r->time_high, hour, 0.0));
    df_json_put(root, "residuals", residuals_json(r, job));
    df_json_put(root, "influences", influences_json(r));
    df_json_put(root, "shelf_for_risk", shift_json(r));
    df_json_put(root, "solidus_sigma_K", df_json_number(r->path_solidus_sigma));
    df_json_put(root, "inputs", inputs_json(r));
    return df_json_finish(ctx, out, root);
}
