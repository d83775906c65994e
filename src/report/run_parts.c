/* What the reports on a job and its run have in common, as text. */
#include "report/run_parts.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#define MBAR(pascal) ((pascal) / 100.0)
#define HOURS(seconds) ((seconds) / 3600.0)
#define TABLE_ROWS 9
#define COLUMNS 3             /* species in the table of hours */
#define LEAST_EXHAUST 1e-4    /* kg: less is not worth a line */
#define EIGHT_HOURS 28800.0   /* s, over which an exposure limit is a mean */
#define FREEZING_START 293.15 /* K */
#define NAME_WIDTH 17         /* of a substance in the account */

/* A standing is shown by word and pattern: full, half liquid, liquid, open. */
static const char *const patterns[] = {"[####]", "[##~~]", "[~~~~]", "[ .. ]"};

/* ---- figures -------------------------------------------------------------------------------------------------- */

const char *df_part_duration(char *out, size_t size, double seconds) {
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

const char *df_part_grams(char *out, size_t size, double kilograms) {
    double grams = fmax(1e3 * kilograms, 0.0); /* rounding leaves a little below nought */
    if (grams == 0.0)
        snprintf(out, size, "0");
    else if (grams < 5e-4)
        snprintf(out, size, "<0.001");
    else
        snprintf(out, size, "%.*f", grams < 1.0 ? 3 : grams < 10.0 ? 2 : grams < 1000.0 ? 1 : 0, grams);
    return out;
}

const char *df_part_share(char *out, size_t size, double share) {
    if (isnan(share))
        snprintf(out, size, "?");
    else if (share >= 1e-3)
        snprintf(out, size, "%.*f %%", share < 0.1 ? 2 : 1, 100.0 * share);
    else if (share >= 5e-7)
        snprintf(out, size, "%.3g ppm", 1e6 * share);
    else
        snprintf(out, size, "0");
    return out;
}

const char *df_part_words(char *out, size_t size, const char *key) {
    snprintf(out, size, "%s", key);
    for (char *c = out; *c != '\0'; c++)
        if (*c == '_')
            *c = ' ';
    return out;
}

const char *df_part_trap(const df_dryer *dryer, size_t trap) {
    return dryer->traps < 2 ? "trap" : trap == 0 ? "first trap" : "second trap";
}

size_t df_part_worst_class(const df_run *run) {
    size_t worst = 0;
    for (size_t k = 1; k < run->class_count; k++)
        if (run->classes[k].least_margin < run->classes[worst].least_margin)
            worst = k;
    return worst;
}

size_t df_part_wettest_class(const df_run *run, size_t i) {
    size_t worst = 0;
    for (size_t k = 1; k < run->class_count; k++)
        if (run->classes[k].residual[i].high > run->classes[worst].residual[i].high)
            worst = k;
    return worst;
}

double df_part_total(const df_moment *m, size_t species) {
    double total = 0.0;
    for (size_t i = 0; i <= species; i++)
        total += m->chamber[i];
    return total;
}

double df_part_account_error(const df_run *run) {
    double worst = 0.0;
    for (size_t i = 0; i < run->species; i++)
        worst = fmax(worst, df_run_account_error(run, i));
    return worst;
}

void df_part_exhaust_find(df_part_exhaust *out, const df_run *run, size_t i, const df_dryer *dryer) {
    const df_substance *s = run->substance[i];
    double air = dryer->hood_flow * DF_ATMOSPHERE / (DF_GAS_CONSTANT * dryer->chamber.room_temperature); /* mol/s */
    double span = fmax(run->time - run->moment[0].time, 1.0), most = 0.0;
    size_t from = 0;
    /* The eight hours that end at each moment, or a step more: on the safe side. */
    for (size_t k = 1; k < run->moments; k++) {
        while (run->moment[from].time < run->moment[k].time - EIGHT_HOURS)
            from++;
        most = fmax(most, run->moment[k].exhaust[i] - run->moment[from > 0 ? from - 1 : 0].exhaust[i]);
    }
    out->average = run->exhaust[i] / span;
    out->peak = run->exhaust_peak[i];
    out->worst = fmax(most, 0.0) / EIGHT_HOURS;
    out->explosive = out->peak / s->molar_mass / air / s->lower_explosive_limit;
    out->exposure = out->worst / s->molar_mass / air / s->exposure_limit;
}

void df_part_used_find(df_part_used *out, const df_stand *s, const df_job *job) {
    bool nitrogen = job->cooling.means == DF_MEANS_LIQUID_NITROGEN;
    out->freezing_kind = nitrogen ? DF_COOLANT_NITROGEN : DF_COOLANT_DRY_ICE;
    out->freezing_heat = s->mass * (df_frozen_path_at(&s->path, s->path.enthalpy, FREEZING_START) -
                                    df_frozen_path_at(&s->path, s->path.enthalpy, s->start_temperature));
    out->freezing_coolant = nitrogen || job->cooling.means == DF_MEANS_DRY_ICE_BATH
                                ? out->freezing_heat / df_coolant_heat(out->freezing_kind)
                                : NAN;
}

/* ---- how it stands -------------------------------------------------------------------------------------------- */

void df_part_head_text(df_text *out, const df_stand *s, const df_job *job, const df_dryer *dryer) {
    df_text_printf(out, "%s\n", job->name);
    char load[128];
    snprintf(load, sizeof load, "%ld container%s, %.3g L, loaded at %.0f °C", s->containers,
             s->containers == 1 ? "" : "s", 1e3 * s->mass / df_composition_density(&job->composition),
             df_celsius(s->start_temperature));
    bool wide = 5 + df_utf8_width(dryer->name) + df_utf8_width(load) > DF_LINE_WIDTH;
    df_text_printf(out, "on %s;%s%s\n\n", dryer->name, wide ? "\n" : " ", load);
    df_layout_printf(out, patterns[s->standing], "%s: %s", df_standing_name(s->standing),
                     df_standing_meaning(s->standing));
    df_layout_paragraph(out, "why", s->because);
    df_layout_printf(out, "for", "%s: %s", df_purpose_name(job->purpose),
                     s->standing == DF_RIGID ? "acceptable"
                     : s->acceptable         ? "acceptable with care (puffing, denser cake, more solvent left)"
                                             : "not acceptable as it is");
}

void df_part_sure_text(df_text *out, const df_stand *s) {
    df_text line = {0};
    if (!s->simulated || (isnan(s->hottest_sigma) && isnan(s->time_sigma)))
        return;
    const char *between = "";
    if (!isnan(s->hottest_sigma)) {
        df_text_printf(&line, "hottest point ± %.1f K", fmax(s->hottest_sigma, 0.1));
        between = ", ";
    }
    if (!isnan(s->margin_sigma)) {
        df_text_printf(&line, "%smargin ± %.1f K", between, fmax(s->margin_sigma, 0.1));
        between = ", ";
    }
    if (!isnan(s->time_sigma))
        df_text_printf(&line, "%sdrying ± %.1f h", between, fmax(s->time_sigma / 3600.0, 0.1));
    df_text_puts(&line,
                 ": one standard deviation of the thermodynamics alone; cake resistance, heat transfer and fill "
                 "come on top");
    if (s->best != s->worst)
        df_text_printf(&line, ". Within it the sample stands anywhere from %s to %s", df_standing_name(s->best),
                       df_standing_name(s->worst));
    df_layout_paragraph(out, "sure", df_text_string(&line));
    out->failed = out->failed || line.failed;
    df_text_free(&line);
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

void df_part_sample_text(df_text *out, const df_stand *s, const df_job *job) {
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
    for (size_t i = 0; i < job->solutes; i++)
        if (!s->solute_freezes[i] && job->solute[i].concentration > 0.0)
            df_layout_printf(
                out, "",
                "%s is known by its critical temperature alone: what it does to freezing, to the solidus "
                "and to the amount of liquid is left out",
                job->solute[i].name);
    for (size_t i = 0; i < job->groups; i++) {
        const df_group *g = &job->group[i];
        const df_freezing_result *r = &s->freezing[i];
        char fill[32], means[32];
        snprintf(fill, sizeof fill, "%.3g mL", 1e6 * g->fill);
        df_layout_printf(out, "", "%ld x %s, %s, %s by %s at %.0f °C: solid in %s, at %.0f °C in %s", g->count,
                         g->container.key, fill, g->lie == DF_LIE_SHELL ? "as a shell" : "at rest",
                         df_part_words(means, sizeof means, df_means_name(job->cooling.means)),
                         df_celsius(job->cooling.temperature), df_part_duration(b, sizeof b, r->time_to_solid),
                         df_celsius(r->target), df_part_duration(c, sizeof c, r->time_to_target));
    }
}

/* ---- the run -------------------------------------------------------------------------------------------------- */

/* The moment nearest before `time`. */
static const df_moment *moment_at(const df_run *run, double time) {
    size_t i = 0;
    while (i + 1 < run->moments && run->moment[i + 1].time <= time)
        i++;
    return &run->moment[i];
}

/* The shortest of a substance's names, for the head of a column. */
static const char *short_name(char *out, size_t size, const df_substance *s) {
    snprintf(out, size, "%s", s->is_water ? "water" : s->key);
    for (const char *at = s->is_water ? "" : s->aliases; *at != '\0';) {
        size_t length = strcspn(at, ";");
        if (length > 1 && length < strlen(out))
            snprintf(out, size, "%.*s", (int)length, at);
        at += length + (at[length] == ';');
    }
    return out;
}

void df_part_hours_text(df_text *out, const df_stand *s) {
    const df_run *run = &s->run;
    size_t k = df_part_worst_class(run);
    const df_class *c = &s->setup.classes[k];
    df_text_printf(out, "\nThe run (%s)\n", c->name);
    df_text_puts(out, "    time   front hottest  chamber  trap surface");
    char name[64];
    for (size_t i = 0; i < c->composition.n && i < COLUMNS; i++)
        df_text_printf(out, "  %10.10s", short_name(name, sizeof name, c->composition.component[i]));
    df_text_puts(out, "\n       h      °C      °C     mbar      °C");
    for (size_t i = 0; i < c->composition.n && i < COLUMNS; i++)
        df_text_printf(out, "  %10s", "% left");
    df_text_puts(out, "\n");
    const df_moment *last = NULL;
    static const double shares[TABLE_ROWS] = {0.002, 0.02, 0.05, 0.1, 0.2, 0.4, 0.6, 0.8, 1.0};
    for (int r = 0; r < TABLE_ROWS; r++) {
        const df_moment *m = moment_at(run, shares[r] * run->time);
        if (m == last)
            continue;
        last = m;
        df_text_printf(out, "%8.2f %7.1f %7.1f %8.3f %7.1f      ", HOURS(m->time), df_celsius(m->container[k].front),
                       df_celsius(m->container[k].hottest), MBAR(df_part_total(m, run->species)),
                       df_celsius(m->trap_surface[0]));
        for (size_t i = 0; i < c->composition.n && i < COLUMNS; i++)
            df_text_printf(out, "  %10.1f", 100.0 * fmax(m->container[k].left[i], 0.0));
        df_text_puts(out, "\n");
    }
}

void df_part_account_text(df_text *out, const df_run *run) {
    char a[32];
    df_text_printf(out, "\n%-*s  loaded product  bound    gas   trap drained    oil exhaust\n", NAME_WIDTH,
                   "The account, g");
    for (size_t i = 0; i < run->species; i++) {
        const double part[] = {run->initial[i], run->product[i], run->bound[i], run->gas[i],
                               run->deposit[i], run->drained[i], run->oil[i],   run->exhaust[i]};
        static const int width[] = {8, 8, 7, 7, 7, 8, 7, 8};
        df_text_printf(out, "  %-*.*s", NAME_WIDTH - 2, NAME_WIDTH - 2, run->substance[i]->name);
        for (size_t k = 0; k < sizeof part / sizeof part[0]; k++)
            df_text_printf(out, "%*s", width[k], df_part_grams(a, sizeof a, part[k]));
        df_text_puts(out, "\n");
    }
    df_text_printf(out, "  loaded = all the rest, to %.0e of what was loaded\n",
                   fmax(df_part_account_error(run), 1e-16));
}

void df_part_exhaust_text(df_text *out, const df_run *run, const df_dryer *dryer) {
    char a[32], b[32], c[32], d[32], e[32];
    bool any = false;
    for (size_t i = 0; i < run->species; i++) {
        const df_substance *sub = run->substance[i];
        df_part_exhaust x;
        if (sub->is_water || run->exhaust[i] < LEAST_EXHAUST)
            continue;
        if (!any)
            df_text_puts(out, "\nExhaust            all, g   average     peak  % of explosive  % of 8 h exposure\n"
                              "                                g/h      g/h  limit, at peak  limit, worst 8 h\n");
        any = true;
        df_part_exhaust_find(&x, run, i, dryer);
        snprintf(d, sizeof d, isfinite(x.explosive) ? "%.2g" : "not known", 100.0 * x.explosive);
        snprintf(e, sizeof e, isfinite(x.exposure) ? "%.2g" : "not known", 100.0 * x.exposure);
        df_text_printf(out, "  %-*.*s%8s%10s%9s%16s%18s\n", NAME_WIDTH - 2, NAME_WIDTH - 2, sub->name,
                       df_part_grams(a, sizeof a, run->exhaust[i]), df_part_grams(b, sizeof b, 3600.0 * x.average),
                       df_part_grams(c, sizeof c, 3600.0 * x.peak), d, e);
    }
    if (!any) {
        df_layout_printf(out, "exhaust", "less than %.1f g of any solvent leaves by the pump", 1e3 * LEAST_EXHAUST);
        return;
    }
    if (isnan(dryer->hood_flow))
        df_layout_paragraph(out, "", "shares of limits need the dryer's hood_flow");
    else
        df_layout_printf(
            out, "",
            "limits: once mixed into the hood's %.0f m3/h, not where people breathe; in the pump and its "
            "hose the vapour is far richer",
            3600.0 * dryer->hood_flow);
}

/* ---- trust and caution ---------------------------------------------------------------------------------------- */

bool df_part_one_dimension(df_transient_range *out, const df_stand *s, size_t k) {
    df_transient_options options;
    df_transient_defaults(&options);
    return s->simulated && df_transient_range_find(NULL, out, &s->setup, &s->run, k, &options.pores) == DF_OK;
}

/* What the reference in one dimension would say, for the class with the largest difference. */
static void one_dimension_text(df_text *out, const df_stand *s) {
    df_transient_range r, worst = {.agrees = true, .solvents_agree = true};
    size_t which = s->run.class_count;
    for (size_t k = 0; k < s->run.class_count; k++) {
        if (!df_part_one_dimension(&r, s, k))
            continue;
        bool worse = which == s->run.class_count || (worst.agrees && !r.agrees) ||
                     (worst.agrees == r.agrees && fabs(r.time) > fabs(worst.time));
        if (worse) {
            worst = r;
            which = k;
        }
    }
    if (which == s->run.class_count)
        return;
    if (worst.reason[0] == '\0')
        df_layout_printf(out, "",
                         "a transient model in one dimension would give times within 3 %% and fronts within 0.5 K");
    else
        df_layout_printf(out, "", "%s: %s", s->setup.classes[which].name, worst.reason);
}

typedef struct own_figures {
    const char *kind, *key, *source;
} own_figures;

/* Each once; how many, at most as many as `out` has room for. */
static size_t find_own(own_figures out[DF_MAX_COMPONENTS + DF_MAX_SOLUTES + DF_MAX_GROUPS], const df_job *job) {
    size_t n = 0;
    for (size_t i = 0; i < job->composition.n; i++)
        if (job->composition.component[i]->own)
            out[n++] =
                (own_figures){"substance", job->composition.component[i]->key, job->composition.component[i]->source};
    for (size_t i = 0; i < job->solutes; i++)
        if (job->solute[i].own)
            out[n++] = (own_figures){"solute", job->solute[i].key, job->solute[i].substance.source};
    for (size_t i = 0; i < job->groups; i++) {
        const df_container *c = &job->group[i].container;
        bool told = !c->own;
        for (size_t k = 0; k < n; k++)
            told = told || (strcmp(out[k].kind, "container") == 0 && strcmp(out[k].key, c->key) == 0);
        if (!told)
            out[n++] = (own_figures){"container", c->key, c->source};
    }
    return n;
}

void df_part_own_text(df_text *out, const char *label, const df_job *job) {
    own_figures own[DF_MAX_COMPONENTS + DF_MAX_SOLUTES + DF_MAX_GROUPS];
    size_t n = find_own(own, job);
    for (size_t i = 0; i < n; i++) {
        df_layout_printf(out, label, "%s: your own figures of this %s, not checked here; source: %s", own[i].key,
                         own[i].kind, own[i].source);
        label = "";
    }
}

json_t *df_part_own_json(const df_job *job) {
    own_figures own[DF_MAX_COMPONENTS + DF_MAX_SOLUTES + DF_MAX_GROUPS];
    size_t n = find_own(own, job);
    json_t *list = json_array();
    for (size_t i = 0; i < n; i++) {
        json_t *o = json_object();
        df_json_put(o, "kind", df_json_text(own[i].kind));
        df_json_put(o, "key", df_json_text(own[i].key));
        df_json_put(o, "source", df_json_text(own[i].source));
        json_array_append_new(list, o);
    }
    return list;
}

void df_part_stand_trust_text(df_text *out, const df_stand *s, const df_job *job) {
    char closes[100] = "";
    if (s->simulated)
        snprintf(closes, sizeof closes, " Heat is conserved to %.0e, mass to %.0e of what was loaded.",
                 fabs(s->run.heat_in - s->run.heat_out - s->run.heat_stored) / fmax(s->run.heat_in, 1.0),
                 df_part_account_error(&s->run));
    df_layout_printf(out, "trust", "activity in the mixture: %s (worst pair). Cake resistance: %s.%s",
                     df_pair_grade_name(s->path.grade),
                     job->cake.stated ? "stated in the job" : "assumed from the share of solids", closes);
    one_dimension_text(out, s);
    for (size_t i = 0; i < job->composition.n; i++) {
        const df_substance *sub = job->composition.component[i];
        if (sub->worst_grade >= DF_GRADE_ESTIMATED && !sub->own)
            df_layout_printf(out, "", "%s: some of its constants are %s (dryfront substances %s)", sub->name,
                             df_grade_name(sub->worst_grade), sub->key);
    }
    for (size_t i = 0; i < job->solutes; i++)
        if (job->solute[i].source != NULL && !isnan(job->solute[i].critical_temperature))
            df_layout_printf(out, "", "%s: critical temperature: %s", job->solute[i].name, job->solute[i].source);
    df_part_own_text(out, "", job);
}

/* Hands each caution of a job to `say`: of its substances, of what its solutes give off, of coolants, glass, and the last word. */
static void each_caution(const df_stand *s, const df_job *job, void (*say)(void *to, const char *text), void *to) {
    char line[400], mbar[32];
    bool nitrogen = job->cooling.means == DF_MEANS_LIQUID_NITROGEN;
    bool dry_ice = job->cooling.means == DF_MEANS_DRY_ICE_BATH;
    for (size_t j = 0; j < s->setup.dryer->traps; j++) {
        const df_trap *t = &s->setup.dryer->trap[j];
        nitrogen = nitrogen || (t->kind == DF_TRAP_FINGER && t->coolant == DF_COOLANT_NITROGEN);
        dry_ice = dry_ice || (t->kind == DF_TRAP_FINGER && t->coolant == DF_COOLANT_DRY_ICE);
    }
    for (size_t i = 0; i < job->composition.n; i++) {
        df_report_caution(line, sizeof line, job->composition.component[i]);
        if (line[0] != '\0')
            say(to, line);
    }
    for (size_t i = 0; i < job->solutes; i++) {
        const df_substance *water = s->path.water >= 0 ? job->composition.component[s->path.water] : NULL;
        double hottest = NAN;
        for (size_t k = 0; k < s->run.class_count; k++)
            hottest = fmax(hottest, s->run.classes[k].hottest);
        if (!job->solute[i].known || !df_part_breaks_up(line, sizeof line, &job->solute[i].substance, water,
                                                        isfinite(hottest) ? hottest : s->start_temperature))
            continue;
        char whole[sizeof line + 256];
        snprintf(whole, sizeof whole,
                 "%s; %s mbar at 20 °C. It leaves with the ice and afterwards, passes the trap in part and "
                 "reaches the pump: not simulated. Ammonia is toxic and attacks copper and brass: exhaust "
                 "to a hood",
                 line,
                 df_part_mbar(mbar, sizeof mbar, df_dissociation_pressure(&job->solute[i].substance, 293.15, NAN)));
        say(to, whole);
    }
    if (nitrogen)
        say(to, "liquid nitrogen: cold burns, and it displaces oxygen; ventilate, never seal "
                "a vessel, wear face and hand protection; a finger colder than -183 °C that meets air "
                "fills with liquid oxygen: never let air in over it");
    if (dry_ice)
        say(to, "dry ice: ventilate, never seal a vessel; the bath liquid may be flammable");
    for (size_t i = 0; i < job->groups; i++)
        if (job->group[i].container.kind == DF_FLASK) {
            say(to, "glass under vacuum: only round, unscratched flasks, behind a shield");
            break;
        }
    say(to, "local rules, safety data sheets and qualified people come first");
}

typedef struct {
    df_text *out;
    const char *label; /* of the next paragraph */
} paragraphs;

static void say_text(void *to, const char *text) {
    paragraphs *p = to;
    df_layout_paragraph(p->out, p->label, text);
    p->label = "";
}

void df_part_caution_text(df_text *out, const df_stand *s, const df_job *job) {
    paragraphs p = {out, "caution"};
    each_caution(s, job, say_text, &p);
}

static void say_json(void *to, const char *text) {
    json_array_append_new(to, df_json_text(text));
}

json_t *df_part_cautions_json(const df_stand *s, const df_job *job) {
    json_t *list = json_array();
    each_caution(s, job, say_json, list);
    return list;
}
