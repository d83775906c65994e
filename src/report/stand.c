/* How a job stands, as text and as JSON. */
#include "report/parts.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#define MBAR(pascal) ((pascal) / 100.0)
#define HOURS(seconds) ((seconds) / 3600.0)
#define GRAMS(kilograms) (1e3 * (kilograms))
#define TABLE_ROWS 9

/* A standing is shown by word and pattern: full, half liquid, liquid, open. */
static const char *const patterns[] = {"[####]", "[##~~]", "[~~~~]", "[ .. ]"};

static const char *lever_text(char *out, size_t size, const df_remedy *r) {
    switch (r->lever) {
    case DF_LEVER_FRACTION:
        snprintf(out, size, "bring the solvents from %.0f to %.0f %% v/v (dilute, or strip under vacuum first)",
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

static const char *duration(char *out, size_t size, double seconds) {
    if (isnan(seconds) || isinf(seconds))
        snprintf(out, size, "not reached");
    else if (seconds < 100.0)
        snprintf(out, size, "%.0f s", seconds);
    else if (seconds < 6000.0)
        snprintf(out, size, "%.0f min", seconds / 60.0);
    else if (seconds < 360000.0)
        snprintf(out, size, "%.1f h", HOURS(seconds));
    else
        snprintf(out, size, "%.0f h", HOURS(seconds));
    return out;
}

static const char *degrees(char *out, size_t size, double kelvin) {
    if (isnan(kelvin))
        snprintf(out, size, "none");
    else
        snprintf(out, size, "%.1f °C", df_celsius(kelvin));
    return out;
}

/* "-9.2 ± 0.2 °C" */
static const char *banded(char *out, size_t size, double kelvin, double sigma) {
    char band[32];
    if (isnan(kelvin))
        return degrees(out, size, kelvin);
    snprintf(out, size, "%.1f%s °C", df_celsius(kelvin), df_part_band(band, sizeof band, sigma, 1));
    return out;
}

static size_t worst_class(const df_stand *s) {
    size_t worst = 0;
    for (size_t k = 1; k < s->run.class_count; k++)
        if (s->run.classes[k].least_margin < s->run.classes[worst].least_margin)
            worst = k;
    return worst;
}

static void head(df_text *out, const df_stand *s, const df_job *job, const df_dryer *dryer) {
    char a[64], b[64], line[256];
    df_text_printf(out, "%s\n", job->name);
    df_text_printf(out, "on %s; %ld container%s, %.3g L, loaded at %.0f °C\n\n", dryer->name, s->containers,
                   s->containers == 1 ? "" : "s", 1e3 * s->mass / df_composition_density(&job->composition),
                   df_celsius(s->start_temperature));
    df_layout_printf(out, patterns[s->standing], "%s: %s", df_standing_name(s->standing),
                     df_standing_meaning(s->standing));
    df_layout_paragraph(out, "why", s->because);
    df_layout_printf(out, "for", "%s: %s", df_purpose_name(job->purpose),
                     s->standing == DF_RIGID ? "acceptable"
                     : s->acceptable         ? "acceptable with care (puffing, denser cake, more solvent left)"
                                             : "not acceptable as it is");
    double freezing = 0.0;
    for (size_t i = 0; i < job->groups; i++)
        freezing = fmax(freezing, s->freezing[i].time_to_target);
    if (s->simulated && s->run.end == DF_END_DRY)
        df_layout_printf(out, "time", "freezing %s, primary drying %s", duration(a, sizeof a, freezing),
                         duration(b, sizeof b, s->run.time));
    else if (s->simulated)
        df_layout_printf(out, "time", "freezing %s; the run was followed for %s", duration(a, sizeof a, freezing),
                         duration(b, sizeof b, s->run.time));
    for (size_t i = 0; i < s->remedies; i++) {
        const df_remedy *r = &s->remedy[i];
        df_layout_printf(out, i == 0 ? "instead" : "", "%s: then %s, dry in %s", lever_text(line, sizeof line, r),
                         df_standing_name(r->standing), duration(a, sizeof a, 3600.0 * r->hours));
    }
    if (s->standing != DF_RIGID && s->remedies == 0)
        df_layout_paragraph(out, "instead",
                            "no single change that was tried is enough (shelf, dilution, trap, fill)");
    const df_class_run *c = &s->run.classes[worst_class(s)];
    if (s->simulated && s->standing == DF_WETTED && isfinite(c->least_margin_limit) &&
        job->group[0].place == DF_PLACE_MANIFOLD)
        df_layout_printf(
            out, "",
            "the room gives the heat on a manifold: a shelf held below %.0f °C would keep the sample under its "
            "limit (not simulated)",
            df_celsius(c->least_margin_limit - s->setup.margin));
}

static void sample_part(df_text *out, const df_stand *s, const df_job *job) {
    double f[DF_MAX_COMPONENTS];
    char a[64], b[64], c[64];
    df_text line;
    df_text_init(&line, 8192);
    df_basis basis = job->composition.basis;
    df_composition_fractions(f, &job->composition, basis);
    for (size_t i = 0; i < job->composition.n; i++)
        df_text_printf(&line, "%s%s %.3g %s", i > 0 ? ", " : "", job->composition.component[i]->name, 100.0 * f[i],
                       df_basis_name(basis));
    if (basis == DF_BASIS_VOLUME)
        df_text_puts(&line, " (of the liquids before mixing, 20 °C)");
    for (size_t i = 0; i < job->solutes; i++)
        df_text_printf(
            &line, "; %s %.3g g/L, %s %s", job->solute[i].name, job->solute[i].concentration,
            job->solute[i].critical_kind[0] != '\0' ? job->solute[i].critical_kind : "no critical temperature",
            isnan(job->solute[i].critical_temperature) ? "known"
                                                       : degrees(a, sizeof a, job->solute[i].critical_temperature));
    df_layout_paragraph(out, "sample", df_text_string(&line));
    df_text_free(&line);
    df_layout_printf(out, "freezing",
                     "first solid %s; solidus %s (liquid up to %.3g %% by mass is not counted%s); %.0f %% by volume "
                     "is solid framework when loaded",
                     banded(a, sizeof a, s->path.liquidus, s->liquidus_sigma),
                     banded(b, sizeof b, s->effective_solidus, s->solidus_sigma), 100.0 * job->trace_liquid,
                     isnan(s->liquidus_sigma) && isnan(s->solidus_sigma) ? "" : "; ±: one standard deviation",
                     100.0 * df_frozen_path_at(&s->path, s->path.solid_volume, s->start_temperature));
    for (size_t i = 0; i < job->groups; i++) {
        const df_group *g = &job->group[i];
        const df_freezing_result *r = &s->freezing[i];
        char fill[32];
        snprintf(fill, sizeof fill, "%.3g mL", 1e6 * g->fill);
        df_layout_printf(out, "", "%ld x %s, %s, %s by %s at %.0f °C: solid in %s, at %.0f °C in %s", g->count,
                         g->container.key, fill, g->lie == DF_LIE_SHELL ? "as a shell" : "at rest",
                         df_means_name(job->cooling.means), df_celsius(job->cooling.temperature),
                         duration(b, sizeof b, r->time_to_solid), df_celsius(r->target),
                         duration(c, sizeof c, r->time_to_target));
    }
}

/* The moment nearest before `time`. */
static const df_moment *moment_at(const df_run *run, double time) {
    size_t i = 0;
    while (i + 1 < run->moments && run->moment[i + 1].time <= time)
        i++;
    return &run->moment[i];
}

/* The shortest of a substance's names, for the head of a column. */
static const char *short_name(char *out, size_t size, const df_substance *s) {
    snprintf(out, size, "%s", s->is_water ? "ice" : s->key);
    for (const char *at = s->is_water ? "" : s->aliases; *at != '\0';) {
        size_t length = strcspn(at, ";");
        if (length > 1 && length < strlen(out))
            snprintf(out, size, "%.*s", (int)length, at);
        at += length + (at[length] == ';');
    }
    return out;
}

static void run_part(df_text *out, const df_stand *s) {
    const df_run *run = &s->run;
    size_t k = worst_class(s);
    const df_class *c = &s->setup.classes[k];
    df_text_printf(out, "\nThe run (%s)\n", c->name);
    df_text_puts(out, "    time   front hottest  chamber  trap surface");
    char name[64];
    for (size_t i = 0; i < c->composition.n && i < 3; i++)
        df_text_printf(out, "  %10.10s", short_name(name, sizeof name, c->composition.component[i]));
    df_text_puts(out, "\n       h      °C      °C     mbar      °C");
    for (size_t i = 0; i < c->composition.n && i < 3; i++)
        df_text_printf(out, "  %10s", "% left");
    df_text_puts(out, "\n");
    const df_moment *last = NULL;
    static const double shares[TABLE_ROWS] = {0.002, 0.02, 0.05, 0.1, 0.2, 0.4, 0.6, 0.8, 1.0};
    for (int r = 0; r < TABLE_ROWS; r++) {
        const df_moment *m = moment_at(run, shares[r] * run->time);
        double total = 0.0;
        if (m == last)
            continue;
        last = m;
        for (size_t i = 0; i <= run->species; i++)
            total += m->chamber[i];
        df_text_printf(out, "%8.2f %7.1f %7.1f %8.3f %7.1f      ", HOURS(m->time), df_celsius(m->container[k].front),
                       df_celsius(m->container[k].hottest), MBAR(total), df_celsius(m->trap_surface[0]));
        for (size_t i = 0; i < c->composition.n && i < 3; i++)
            df_text_printf(out, "  %10.1f", 100.0 * m->container[k].left[i]);
        df_text_puts(out, "\n");
    }
    if (run->class_count > 1)
        for (size_t q = 0; q < run->class_count; q++) {
            char a[64];
            df_text_printf(out, "  %s: dry in %s, hottest %.1f °C\n", s->setup.classes[q].name,
                           duration(a, sizeof a, run->classes[q].time_dry), df_celsius(run->classes[q].hottest));
        }
}

static void account_part(df_text *out, const df_stand *s, const df_dryer *dryer) {
    const df_run *run = &s->run;
    df_text_puts(out, "\nThe account, g                    loaded   product      trap  (liquid)   exhaust\n");
    for (size_t i = 0; i < run->species; i++)
        df_text_printf(out, "  %-28.28s %9.1f %9.2f %9.1f %9.1f %9.1f\n", run->substance[i]->name,
                       GRAMS(run->initial[i]), GRAMS(fmax(run->product[i], 0.0)), GRAMS(run->deposit[i]),
                       GRAMS(run->deposit_liquid[i]), GRAMS(run->exhaust[i] + run->gas[i]));
    double surface = 0.0, front = 0.0;
    size_t k = worst_class(s), used = 0;
    /* Difference of product and trap over the run's middle part, where vapour flows steadily. */
    for (size_t i = 0; i < run->moments; i++) {
        const df_moment *m = &run->moment[i];
        if (m->time < 0.1 * run->time || m->time > 0.8 * run->time)
            continue;
        front += m->container[k].front;
        surface += m->trap_surface[0];
        used++;
    }
    df_text_puts(out, "\n");
    if (used > 0)
        df_layout_printf(out, "trap",
                         "product lies %.0f K above the trap's surface in mid-run (rule of thumb: 15-20 K; common "
                         "practice, no source); surface at most %.1f °C, chamber at most %.2f mbar, duct at most "
                         "%.0f %% of sonic flow",
                         (front - surface) / (double)used, df_celsius(run->highest_trap_surface),
                         MBAR(run->highest_pressure), 100.0 * run->highest_choke);
    for (size_t i = 0; i < run->species; i++) {
        const df_substance *sub = run->substance[i];
        if (sub->is_water || run->exhaust[i] < 1e-4)
            continue;
        double molar_rate = run->exhaust_peak[i] / sub->molar_mass;
        double air = dryer->hood_flow * DF_ATMOSPHERE / (DF_GAS_CONSTANT * dryer->chamber.room_temperature);
        if (isnan(dryer->hood_flow) || isnan(sub->lower_explosive_limit))
            df_layout_printf(out, "exhaust", "%s leaves at up to %.1f g/h", sub->name, 3.6e6 * run->exhaust_peak[i]);
        else
            df_layout_printf(out, "exhaust",
                             "%s leaves at up to %.1f g/h: %.2g %% of its lower explosive limit once mixed into the "
                             "hood's %.0f m3/h; far richer in the pump and its hose",
                             sub->name, 3.6e6 * run->exhaust_peak[i],
                             100.0 * molar_rate / air / sub->lower_explosive_limit, 3600.0 * dryer->hood_flow);
    }
}

/* Largest share by which a species' account fails to close. */
static double mass_error(const df_stand *s) {
    double worst = 0.0;
    for (size_t i = 0; i < s->run.species; i++)
        worst = fmax(worst, df_run_account_error(&s->run, i));
    return worst;
}

static void trust_part(df_text *out, const df_stand *s, const df_job *job) {
    char closes[100] = "";
    if (s->simulated)
        snprintf(closes, sizeof closes, " Heat is conserved to %.0e, mass to %.0e of what was loaded.",
                 fabs(s->run.heat_in - s->run.heat_out - s->run.heat_stored) / fmax(s->run.heat_in, 1.0),
                 mass_error(s));
    df_layout_printf(out, "trust", "activity in the mixture: %s (worst pair). Cake resistance: %s.%s",
                     df_pair_grade_name(s->path.grade),
                     job->cake.stated ? "stated in the job" : "assumed from the share of solids", closes);
    for (size_t i = 0; i < job->composition.n; i++) {
        const df_substance *sub = job->composition.component[i];
        if (sub->worst_grade >= DF_GRADE_ESTIMATED)
            df_layout_printf(out, "", "%s: some of its constants are %s (dryfront substances %s)", sub->name,
                             df_grade_name(sub->worst_grade), sub->key);
    }
    for (size_t i = 0; i < job->solutes; i++)
        if (job->solute[i].source[0] != '\0')
            df_layout_printf(out, "", "%s: critical temperature: %s", job->solute[i].name, job->solute[i].source);
}

static void caution_part(df_text *out, const df_stand *s, const df_job *job) {
    char line[400];
    bool first = true;
    (void)s;
    for (size_t i = 0; i < job->composition.n; i++) {
        df_report_caution(line, sizeof line, job->composition.component[i]);
        if (line[0] == '\0')
            continue;
        df_layout_paragraph(out, first ? "caution" : "", line);
        first = false;
    }
    if (job->cooling.means == DF_MEANS_LIQUID_NITROGEN)
        df_layout_paragraph(out, first ? "caution" : "",
                            "liquid nitrogen: cold burns, and it displaces oxygen; ventilate, never seal "
                            "a vessel, wear face and hand protection");
    if (job->cooling.means == DF_MEANS_DRY_ICE_BATH)
        df_layout_paragraph(out, first ? "caution" : "",
                            "dry ice: ventilate, never seal a vessel; the bath liquid may be flammable");
    for (size_t i = 0; i < job->groups; i++)
        if (job->group[i].container.kind == DF_FLASK) {
            df_layout_paragraph(out, "", "glass under vacuum: only round, unscratched flasks, behind a shield");
            break;
        }
    df_layout_paragraph(out, "", "local rules, safety data sheets and qualified people come first");
}

df_status df_report_stand_text(df_context *ctx, df_text *out, const df_stand *s, const df_job *job,
                               const df_dryer *dryer) {
    head(out, s, job, dryer);
    df_text_puts(out, "\n");
    sample_part(out, s, job);
    if (s->simulated) {
        run_part(out, s);
        account_part(out, s, dryer);
    } else
        df_text_puts(out, "\n");
    trust_part(out, s, job);
    caution_part(out, s, job);
    return out->failed ? df_fail(ctx, DF_E_MEMORY, "the report grew too large") : DF_OK;
}

/* ---- JSON ----------------------------------------------------------------------------------------------------- */

static json_t *standing_json(const df_stand *s, const df_job *job, const df_dryer *dryer) {
    json_t *root = json_object();
    df_json_put(root, "job", df_json_text(job->name));
    df_json_put(root, "dryer", df_json_text(dryer->name));
    df_json_put(root, "standing", df_json_text(df_standing_name(s->standing)));
    df_json_put(root, "meaning", df_json_text(df_standing_meaning(s->standing)));
    df_json_put(root, "cause", df_json_text(df_cause_name(s->cause)));
    df_json_put(root, "because", df_json_text(s->because));
    df_json_put(root, "purpose", df_json_text(df_purpose_name(job->purpose)));
    df_json_put(root, "acceptable", json_boolean(s->acceptable));
    df_json_put(root, "margin_asked_K", df_json_number(job->margin));
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
        json_array_append_new(remedies, o);
    }
    df_json_put(root, "remedies", remedies);
    return root;
}

static json_t *sample_json(const df_stand *s, const df_job *job) {
    json_t *o = json_object();
    df_json_put(o, "composition", df_part_composition_json(&job->composition));
    df_json_put(o, "first_solid_C", df_json_number(df_celsius(s->path.liquidus)));
    df_json_put(o, "solidus_C", df_json_number(df_celsius(s->effective_solidus)));
    df_json_put(o, "first_solid_sigma_K", df_json_number(s->liquidus_sigma));
    df_json_put(o, "solidus_sigma_K", df_json_number(s->solidus_sigma));
    df_json_put(o, "solute_critical_C", df_json_number(df_celsius(s->critical_temperature)));
    df_json_put(o, "loaded_at_C", df_json_number(df_celsius(s->start_temperature)));
    df_json_put(o, "framework_when_loaded_percent_v_v",
                df_json_number(100.0 * df_frozen_path_at(&s->path, s->path.solid_volume, s->start_temperature)));
    df_json_put(o, "grade", df_json_text(df_pair_grade_name(s->path.grade)));
    json_t *freezing = json_array();
    for (size_t i = 0; i < job->groups; i++) {
        json_t *f = json_object();
        df_json_put(f, "container", df_json_text(job->group[i].container.key));
        df_json_put(f, "count", json_integer(job->group[i].count));
        df_json_put(f, "fill_mL", df_json_number(1e6 * job->group[i].fill));
        df_json_put(f, "solid_s", df_json_number(s->freezing[i].time_to_solid));
        df_json_put(f, "target_C", df_json_number(df_celsius(s->freezing[i].target)));
        df_json_put(f, "target_s", df_json_number(s->freezing[i].time_to_target));
        df_json_put(f, "outer_coefficient_W_m2_K", df_json_number(s->freezing[i].outer_coefficient));
        json_array_append_new(freezing, f);
    }
    df_json_put(o, "freezing", freezing);
    return o;
}

static json_t *classes_json(const df_stand *s) {
    json_t *list = json_array();
    for (size_t k = 0; k < s->run.class_count; k++) {
        const df_class_run *r = &s->run.classes[k];
        json_t *c = json_object();
        df_json_put(c, "name", df_json_text(s->setup.classes[k].name));
        df_json_put(c, "dry_h", df_json_number(HOURS(r->time_dry)));
        df_json_put(c, "hottest_C", df_json_number(df_celsius(r->hottest)));
        df_json_put(c, "hottest_h", df_json_number(HOURS(r->hottest_time)));
        df_json_put(c, "least_margin_K", df_json_number(r->least_margin));
        df_json_put(c, "least_margin_h", df_json_number(HOURS(r->least_margin_time)));
        df_json_put(c, "limit_C", df_json_number(df_celsius(r->least_margin_limit)));
        df_json_put(c, "limit_is_solute", json_boolean(r->limit_is_solute));
        df_json_put(c, "most_liquid_percent_w_w", df_json_number(100.0 * r->most_liquid));
        df_json_put(c, "least_framework_percent_v_v", df_json_number(100.0 * r->least_framework));
        df_json_put(c, "cake_r0_m_s", df_json_number(s->setup.classes[k].cake.r0));
        df_json_put(c, "cake_a1_1_s", df_json_number(s->setup.classes[k].cake.a1));
        df_json_put(c, "cake_stated", json_boolean(s->setup.classes[k].cake.stated));
        json_array_append_new(list, c);
    }
    return list;
}

static json_t *series_json(const df_stand *s) {
    const df_run *run = &s->run;
    json_t *list = json_array();
    size_t stride = run->moments / 200 + 1;
    for (size_t i = 0; i < run->moments;
         i += i + stride < run->moments || i + 1 == run->moments ? stride : run->moments - 1 - i) {
        const df_moment *m = &run->moment[i];
        json_t *o = json_object(), *pressures = json_object(), *containers = json_array();
        df_json_put(o, "time_h", df_json_number(HOURS(m->time)));
        for (size_t j = 0; j < run->species; j++)
            df_json_put(pressures, run->substance[j]->key, df_json_number(MBAR(m->chamber[j])));
        df_json_put(pressures, "air", df_json_number(MBAR(m->chamber[run->species])));
        df_json_put(o, "chamber_mbar", pressures);
        df_json_put(o, "coil_C", df_json_number(df_celsius(m->coil[0])));
        df_json_put(o, "trap_surface_C", df_json_number(df_celsius(m->trap_surface[0])));
        df_json_put(o, "shelf_C", df_json_number(df_celsius(m->shelf)));
        df_json_put(o, "duct_choked", df_json_number(m->choked));
        for (size_t k = 0; k < run->class_count; k++) {
            json_t *c = json_object(), *left = json_object();
            df_json_put(c, "front_C", df_json_number(df_celsius(m->container[k].front)));
            df_json_put(c, "hottest_C", df_json_number(df_celsius(m->container[k].hottest)));
            for (size_t j = 0; j < s->setup.classes[k].composition.n; j++)
                df_json_put(left, s->setup.classes[k].composition.component[j]->key,
                            df_json_number(100.0 * m->container[k].left[j]));
            df_json_put(c, "left_percent", left);
            json_array_append_new(containers, c);
        }
        df_json_put(o, "classes", containers);
        json_array_append_new(list, o);
        if (i + 1 == run->moments)
            break;
    }
    return list;
}

static json_t *run_json(const df_stand *s) {
    static const char *const ends[] = {"dry", "framework_lost", "time_limit", "short"};
    const df_run *run = &s->run;
    json_t *o = json_object(), *account = json_array();
    df_json_put(o, "end", df_json_text(ends[run->end]));
    df_json_put(o, "time_h", df_json_number(HOURS(run->time)));
    df_json_put(o, "classes", classes_json(s));
    for (size_t i = 0; i < run->species; i++) {
        json_t *a = json_object();
        df_json_put(a, "substance", df_json_text(run->substance[i]->key));
        df_json_put(a, "loaded_g", df_json_number(GRAMS(run->initial[i])));
        df_json_put(a, "product_g", df_json_number(GRAMS(run->product[i])));
        df_json_put(a, "gas_g", df_json_number(GRAMS(run->gas[i])));
        df_json_put(a, "trap_g", df_json_number(GRAMS(run->deposit[i])));
        df_json_put(a, "trap_liquid_g", df_json_number(GRAMS(run->deposit_liquid[i])));
        df_json_put(a, "exhaust_g", df_json_number(GRAMS(run->exhaust[i])));
        df_json_put(a, "exhaust_peak_g_h", df_json_number(3.6e6 * run->exhaust_peak[i]));
        json_array_append_new(account, a);
    }
    df_json_put(o, "account", account);
    df_json_put(o, "heat_in_kJ", df_json_number(1e-3 * run->heat_in));
    df_json_put(o, "heat_out_kJ", df_json_number(1e-3 * run->heat_out));
    df_json_put(o, "heat_stored_kJ", df_json_number(1e-3 * run->heat_stored));
    df_json_put(o, "highest_chamber_mbar", df_json_number(MBAR(run->highest_pressure)));
    df_json_put(o, "highest_trap_surface_C", df_json_number(df_celsius(run->highest_trap_surface)));
    df_json_put(o, "highest_duct_choke", df_json_number(run->highest_choke));
    df_json_put(o, "organic_to_pump_g", df_json_number(GRAMS(run->organic_to_pump)));
    df_json_put(o, "trap_full", json_boolean(run->trap_full));
    df_json_put(o, "pump_overloaded", json_boolean(run->pump_overloaded));
    df_json_put(o, "series", series_json(s));
    return o;
}

df_status df_report_stand_json(df_context *ctx, df_text *out, const df_stand *s, const df_job *job,
                               const df_dryer *dryer) {
    json_t *root = standing_json(s, job, dryer);
    df_json_put(root, "sample", sample_json(s, job));
    df_json_put(root, "run", s->simulated ? run_json(s) : json_null());
    return df_json_finish(ctx, out, root);
}
