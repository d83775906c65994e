/* A job's run as it is, as text and as JSON: what a user needs to plan it. */
#include "report/run_parts.h"
#include "report/waste.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#define MBAR(pascal) ((pascal) / 100.0)
#define HOURS(seconds) ((seconds) / 3600.0)
#define GRAMS(kilograms) (1e3 * (kilograms))
#define LEAST_WASTE 1e-5 /* kg */
#define FLASH_STEP 1.0   /* K to which a flash point is told */

/* ---- phases --------------------------------------------------------------------------------------------------- */

static double evacuated_at(const df_run *run) {
    for (size_t i = 0; i < run->notices; i++)
        if (run->notice[i].kind == DF_NOTICE_EVACUATED)
            return run->notice[i].time;
    return NAN;
}

static void outcome_part(df_text *out, const df_stand *s) {
    const df_run *run = &s->run;
    char a[32];
    char days[32] = "";
    df_part_duration(a, sizeof a, run->time);
    if (run->time > 1.5 * 86400.0)
        snprintf(days, sizeof days, " (%.1f days)", run->time / 86400.0);
    if (run->end == DF_END_DRY)
        df_layout_printf(out, "dry", "after %s%s, counted from the start of the pump", a, days);
    else if (run->end == DF_END_FRAMEWORK_LOST && run->time < 0.0)
        df_layout_printf(out, "NOT DRY",
                         "the framework is lost while loading, %s before the pump starts; the run was followed no "
                         "further",
                         df_part_duration(a, sizeof a, -run->time));
    else if (run->end == DF_END_FRAMEWORK_LOST)
        df_layout_printf(out, "NOT DRY", "the framework is lost after %s; the run was followed no further", a);
    else
        df_layout_printf(out, "NOT DRY", "within the time limit of %s", a);
}

static void phases_part(df_text *out, const df_stand *s, const df_job *job) {
    const df_run *run = &s->run;
    char a[32], b[32];
    double freezing = 0.0, evacuated = evacuated_at(run);
    for (size_t i = 0; i < job->groups; i++)
        freezing = fmax(freezing, s->freezing[i].time_to_target);
    df_text_puts(out, "\n");
    df_layout_printf(out, "phases", "freezing %s, before loading", df_part_duration(a, sizeof a, freezing));
    if (job->loading > 0.0)
        df_layout_printf(out, "", "loading %s at one atmosphere, before the pump starts",
                         df_part_duration(a, sizeof a, job->loading));
    if (isfinite(evacuated))
        df_layout_printf(out, "", "evacuation to 1 mbar in %s", df_part_duration(a, sizeof a, evacuated));
    if (isfinite(run->primary_time))
        df_layout_printf(out, "", "primary drying until %s", df_part_duration(a, sizeof a, run->primary_time));
    else
        df_layout_paragraph(out, "", "primary drying does not end");
    if (run->end == DF_END_DRY && run->time > run->primary_time) {
        double met = 0.0;
        bool asked = false;
        for (size_t i = 0; i < job->composition.n; i++)
            asked = asked || job->target[i] > 0.0;
        for (size_t k = 0; k < run->class_count; k++)
            met = isnan(met) || isnan(run->classes[k].target_time) ? NAN : fmax(met, run->classes[k].target_time);
        df_layout_printf(out, "", "secondary drying and the rest of the recipe until %s%s%s",
                         df_part_duration(a, sizeof a, run->time),
                         !asked          ? ""
                         : isfinite(met) ? "; as dry as asked for at "
                                         : "; whether it is as dry as asked for cannot be told",
                         asked && isfinite(met) ? df_part_duration(b, sizeof b, met) : "");
    }
}

/* "46.1"; "-" where it is not finite. Returns out. */
static const char *cell(char *out, size_t size, double value, int decimals) {
    snprintf(out, size, "-");
    if (isfinite(value))
        snprintf(out, size, "%.*f", decimals, value);
    return out;
}

static void classes_part(df_text *out, const df_stand *s) {
    const df_run *run = &s->run;
    char t[6][24];
    df_text_puts(out, "\nContainers                solvent    ice hottest    least      at   limit\n"
                      "                          gone, h gone,h      °C margin,K       h      °C\n");
    for (size_t k = 0; k < run->class_count; k++) {
        const df_class_run *r = &run->classes[k];
        const char *name = s->setup.classes[k].name;
        if (df_utf8_width(name) > 24) /* a line of its own */
            df_text_printf(out, "  %s\n%26s", name, "");
        else
            df_text_printf(out, "  %-24s", name);
        df_text_printf(
            out, " %6s %6s %7s %8s %7s %7s%s\n", cell(t[0], sizeof t[0], HOURS(r->solvent_time), 1),
            cell(t[1], sizeof t[1], HOURS(r->time_dry), 1), cell(t[2], sizeof t[2], df_celsius(r->hottest), 1),
            cell(t[3], sizeof t[3], r->least_margin, 1), cell(t[4], sizeof t[4], HOURS(r->least_margin_time), 1),
            cell(t[5], sizeof t[5], df_celsius(r->least_margin_limit), 1), r->limit_is_solute ? " *" : "");
        if (isfinite(r->least_glass_margin))
            df_text_printf(out, "  %-46s %8.1f %7.1f      Tg\n", "  its dried cake", r->least_glass_margin,
                           HOURS(r->least_glass_time));
    }
    df_text_puts(out, "  limit: solidus or melting point of what is left; * the solute's; - none\n");
}

/* ---- the dryer ------------------------------------------------------------------------------------------------ */

static const char *held_up_by(df_holder holder) {
    static const char *const words[] = {"", "vapour over the trap's surface", "the duct",
                                        "vapour that the pump does not carry off", "air that comes in"};
    return words[holder];
}

static void pressure_part(df_text *out, const df_stand *s) {
    const df_run *run = &s->run;
    double asked = 0.0;
    char a[32], b[32];
    df_text line = {0};
    for (int h = 0; h < DF_HOLDERS; h++)
        asked += run->held[h];
    df_part_mbar(b, sizeof b, run->highest_pressure);
    df_text_puts(out, "\n");
    if (!(asked > 0.0)) {
        df_layout_printf(out, "pressure",
                         "none is asked for: as low as the dryer gets; at most %s mbar once evacuated", b);
    } else {
        if (run->held[DF_HOLDER_NONE] >= 0.9995 * asked)
            df_text_puts(&line, "held at its set point throughout");
        else {
            df_text_printf(&line, "at its set point %.1f %% of the time", 100.0 * run->held[DF_HOLDER_NONE] / asked);
            for (int h = DF_HOLDER_NONE + 1; h < DF_HOLDERS; h++)
                if (run->held[h] > 0.0)
                    df_text_printf(&line, "; above it %s, held up by %s", df_part_duration(a, sizeof a, run->held[h]),
                                   held_up_by((df_holder)h));
        }
        df_layout_printf(out, "pressure", "%s; at most %s mbar once evacuated", df_text_string(&line), b);
        df_text_free(&line);
    }
    df_layout_printf(out, "duct", "at most %.0f %% of sonic flow", 100.0 * run->highest_choke);
}

static void traps_part(df_text *out, const df_stand *s, const df_dryer *dryer) {
    const df_run *run = &s->run;
    char a[32], b[32];
    for (size_t j = 0; j < dryer->traps; j++) {
        const df_trap *t = &dryer->trap[j];
        double held = 0.0, warmest = -INFINITY;
        for (size_t i = 0; i < run->species; i++)
            held += run->trap_deposit[j][i];
        for (size_t i = 0; i < run->moments; i++)
            if (run->moment[i].time >= 0.0)
                warmest = fmax(warmest, run->moment[i].trap_surface[j]);
        df_layout_printf(out, df_part_trap(dryer, j),
                         "%s g at the end, it holds %s g; %.0f °C without load, surface at most %.1f °C",
                         df_part_grams(a, sizeof a, held), df_part_grams(b, sizeof b, t->capacity),
                         df_celsius(df_trap_no_load(t)), df_celsius(warmest));
        if (t->kind == DF_TRAP_FINGER)
            df_layout_printf(out, "", "%.1f kg of %s boil away; a filling is %.1f kg", run->coolant[j],
                             df_part_words(a, sizeof a, df_coolant_name(t->coolant)), t->charge);
    }
}

static void pump_part(df_text *out, const df_stand *s, const df_dryer *dryer) {
    const df_run *run = &s->run;
    double worst = 0.0, oil = 0.0;
    char a[32], b[32], c[32], d[32];
    for (size_t i = 0; i < run->moments; i++)
        worst = fmax(worst, run->moment[i].ultimate);
    for (size_t i = 0; i < run->species; i++)
        oil += run->oil[i];
    df_part_mbar(a, sizeof a, dryer->pump.ultimate);
    if (dryer->pump.kind != DF_PUMP_OIL_SEALED) {
        df_layout_printf(out, "pump", "%s, reaches %s mbar; no oil: what comes to it goes on to the exhaust",
                         df_part_pump(dryer), a);
        return;
    }
    df_layout_printf(out, "pump",
                     "%s, reaches %s mbar with clean oil and %s mbar at worst in this run; %s g of water and solvent "
                     "stay in its oil (%.2g kg "
                     "at %.0f °C, gas ballast %s); %s g of solvent come to it, it stands %s g",
                     df_part_pump(dryer), a, df_part_mbar(b, sizeof b, worst), df_part_grams(c, sizeof c, oil),
                     dryer->pump.oil, df_celsius(dryer->pump.oil_temperature),
                     dryer->pump.ballast > 0.0 ? "open" : "shut", df_part_grams(d, sizeof d, run->organic_to_pump),
                     df_part_grams((char[32]){0}, 32, dryer->pump.solvent_limit));
}

/* ---- what happened -------------------------------------------------------------------------------------------- */

static df_status notices_part(df_context *ctx, df_text *out, const df_stand *s) {
    const df_run *run = &s->run;
    df_text_puts(out, run->notices > 0 ? "\nWhat happens (!! alarm, ! warning)\n" : "\nNothing of note happens.\n");
    for (size_t i = 0; i < run->notices; i++) {
        const df_notice *n = &run->notice[i];
        df_notice_text text;
        char label[32], evidence[256];
        df_status status = df_notice_lookup(ctx, &text, n->kind);
        if (status != DF_OK)
            return status;
        bool alarm = strcmp(text.weight, "alarm") == 0, warning = strcmp(text.weight, "warning") == 0;
        snprintf(label, sizeof label, "%8.2f h", HOURS(n->time));
        df_notice_evidence(evidence, sizeof evidence, n, &s->setup);
        const char *of = n->class_ >= 0 ? s->setup.classes[n->class_].name : "";
        df_layout_printf(out, label, "%s%s%s%s%s%s%s%s%s",
                         alarm     ? "!! ALARM: "
                         : warning ? "! warning: "
                                   : "",
                         of[0] != '\0' && run->class_count > 1 ? of : "",
                         of[0] != '\0' && run->class_count > 1 ? ": " : "", text.what,
                         evidence[0] != '\0' ? " (" : "", evidence, evidence[0] != '\0' ? ")" : "",
                         text.action[0] != '\0' ? ". Do: " : "", text.action);
    }
    return DF_OK;
}

/* ---- the product ---------------------------------------------------------------------------------------------- */

static void residual_part(df_text *out, const df_stand *s, const df_job *job) {
    const df_run *run = &s->run;
    const char *revision = "";
    if (!s->setup.secondary) {
        df_text_puts(out, "\n");
        df_layout_paragraph(out, "left", "without solutes there is no cake that could hold water or solvent");
        return;
    }
    df_text_puts(out, "\nLeft in the product  lowest   likely  highest     limit\n"
                      "(of dry solutes)\n");
    for (size_t i = 0; i < job->composition.n; i++) {
        size_t k = df_part_wettest_class(run, i);
        const df_residual *r = &run->classes[k].residual[i];
        const df_residual_limit *limit = &job->limit[i];
        char t[4][24];
        df_text_printf(out, "  %-15.15s %9s %8s %8s %9s %s: %s\n", job->composition.component[i]->name,
                       df_part_share(t[0], sizeof t[0], r->low), df_part_share(t[1], sizeof t[1], r->likely),
                       df_part_share(t[2], sizeof t[2], r->high),
                       isnan(limit->limit) ? "-" : df_part_share(t[3], sizeof t[3], limit->limit),
                       limit->class_ == DF_RESIDUAL_NO_DATA ? "no data" : df_residual_class_name(limit->class_),
                       isnan(limit->limit) ? "no limit"
                                           : df_residual_verdict_name(df_residual_compare(r, limit->limit)));
        if (limit->revision[0] != '\0')
            revision = limit->revision;
    }
    df_layout_printf(
        out, "",
        "lowest to highest: two standard deviations, about 95 %%%s; ?: no rate is published, so from nothing to "
        "all that the cake caught may be left; classes and limits of ICH %s",
        run->class_count > 1 ? "; of the containers that hold most" : "", revision[0] != '\0' ? revision : "Q3C");
}

/* ---- waste, coolant, electricity ------------------------------------------------------------------------------ */

static const char *waste_name(char *out, size_t size, const df_dryer *dryer, size_t trap) {
    snprintf(out, size, "%s", trap < dryer->traps ? df_part_trap(dryer, trap) : "drained");
    return out;
}

/* What each trap holds at the end, and last what was drained on the way; a NULL mass passes it by. */
static const double *waste_mass(const df_run *run, const df_dryer *dryer, size_t k) {
    return k < dryer->traps ? run->trap_deposit[k] : run->drained;
}

static df_status waste_part(df_context *ctx, df_text *out, const df_stand *s, const df_dryer *dryer,
                            const df_pairs *pairs) {
    const df_run *run = &s->run;
    bool first = true;
    df_text_puts(out, "\n");
    for (size_t k = 0; k <= dryer->traps; k++) {
        df_waste w;
        df_text line = {0};
        char name[32], a[32], hazard[200];
        const char *between = "";
        df_status status = df_waste_find(ctx, &w, run, waste_mass(run, dryer, k), pairs);
        if (status < 0)
            return status;
        if (w.total < LEAST_WASTE)
            continue;
        df_text_printf(&line, "%s: %s g, ", waste_name(name, sizeof name, dryer, k),
                       df_part_grams(a, sizeof a, w.total));
        df_text_printf(&line, "%.3g mL: ", 1e6 * w.volume);
        for (size_t i = 0; i < run->species; i++)
            if (w.mass[i] > 1e-6 * w.total) {
                df_text_printf(&line, "%s%s %s", between, run->substance[i]->name,
                               df_part_percent(a, sizeof a, w.mass[i] / w.total));
                between = ", ";
            }
        df_text_puts(&line, " % w/w");
        const char *category = df_waste_category(w.flash_point, df_waste_boiling(&w, run));
        if (category[0] != '\0')
            df_text_printf(&line,
                           "; FLAMMABLE once thawed: flash point about %.0f °C, as of a flammable liquid of %s",
                           df_celsius(FLASH_STEP * floor(w.flash_point / FLASH_STEP)), category);
        else if (isfinite(df_waste_boiling(&w, run)))
            df_text_puts(&line, "; no flash point up to 60 °C is computed, but it holds what burns");
        df_layout_paragraph(out, first ? "waste" : "", df_text_string(&line));
        df_text_free(&line);
        first = false;
        for (size_t i = 0; i < run->species; i++) {
            df_report_hazards(hazard, sizeof hazard, run->substance[i]);
            if (w.mass[i] > 1e-3 * w.total && hazard[0] != '\0')
                df_layout_printf(out, "", "  %s: %s", run->substance[i]->name, hazard);
        }
    }
    if (first)
        df_layout_paragraph(out, "waste", "the traps hold nothing at the end");
    else
        df_layout_paragraph(
            out, "",
            "volumes of the liquids before mixing, 20 °C; flash points are estimates from the pure "
            "liquids' and the pairs, no test: away from sparks until a test says otherwise. Thaw with the "
            "pump shut off, in the hood; dispose of by local rules");
    return DF_OK;
}

static void used_part(df_text *out, const df_stand *s, const df_job *job, const df_dryer *dryer) {
    const df_run *run = &s->run;
    df_part_used u;
    char a[32];
    const char *label = "coolant";
    df_part_used_find(&u, s, job);
    if (isfinite(u.freezing_coolant)) {
        df_layout_printf(
            out, label,
            "freezing: at least %.2g kg of %s, the heat of the sample alone (%.0f kJ); glass, vessel and "
            "losses come on top, often several times as much (common practice, no source)",
            u.freezing_coolant, df_part_words(a, sizeof a, df_coolant_name(u.freezing_kind)), 1e-3 * u.freezing_heat);
        label = "";
    }
    for (size_t j = 0; j < dryer->traps; j++)
        if (dryer->trap[j].kind == DF_TRAP_FINGER) {
            df_layout_printf(out, label, "%s: %.1f kg of %s boil away; cooling it down from warm comes on top",
                             df_part_trap(dryer, j), run->coolant[j],
                             df_part_words(a, sizeof a, df_coolant_name(dryer->trap[j].coolant)));
            label = "";
        }
    if (isfinite(run->electricity))
        df_layout_printf(out, "electricity", "%.1f kWh of compressors and pump", run->electricity / 3.6e6);
    else
        df_layout_paragraph(out, "electricity",
                            "not known: the dryer's file does not state the power of trap and pump");
}

/* ---- trust ---------------------------------------------------------------------------------------------------- */

static void trust_part(df_text *out, const df_stand *s, const df_job *job) {
    df_part_stand_trust_text(out, s, job);
    const df_class *c = &s->setup.classes[0];
    for (size_t i = 0; i < c->composition.n && s->setup.secondary; i++) {
        const df_sorption *q = &c->sorption[i];
        df_layout_printf(out, "", "%s left in the cake: %s%s%s%s", c->composition.component[i]->name,
                         q->known ? "" : "no rate is known; ", q->grade, q->source[0] != '\0' ? ": " : "", q->source);
    }
    df_layout_paragraph(
        out, "",
        "times rest on cake resistance and heat transfer first; margins on the pairs and on the solutes' "
        "critical temperatures; trap, pump and exhaust on the dryer's file and the vapour pressures");
}

df_status df_report_run_text(df_context *ctx, df_text *out, const df_stand *s, const df_job *job,
                             const df_dryer *dryer, const df_pairs *pairs) {
    df_status status = DF_OK;
    df_part_head_text(out, s, job, dryer);
    if (!s->simulated) {
        df_layout_paragraph(out, "NOT DRY", "the sample is liquid when it is loaded; there is no run to show");
        df_text_puts(out, "\n");
        df_part_sample_text(out, s, job);
        df_text_puts(out, "\n");
    } else {
        outcome_part(out, s);
        df_part_sure_text(out, s);
        phases_part(out, s, job);
        df_text_puts(out, "\n");
        df_part_sample_text(out, s, job);
        classes_part(out, s);
        df_part_hours_text(out, s);
        status = notices_part(ctx, out, s);
        pressure_part(out, s);
        traps_part(out, s, dryer);
        pump_part(out, s, dryer);
        df_part_exhaust_text(out, &s->run, dryer);
        residual_part(out, s, job);
        df_part_account_text(out, &s->run);
        if (status >= 0)
            status = waste_part(ctx, out, s, dryer, pairs);
        used_part(out, s, job, dryer);
    }
    df_text_puts(out, "\n");
    trust_part(out, s, job);
    df_part_caution_text(out, s, job);
    if (status < 0)
        return status;
    return out->failed ? df_fail(ctx, DF_E_MEMORY, "the report grew too large") : DF_OK;
}

/* ---- JSON ----------------------------------------------------------------------------------------------------- */

static df_status waste_json(df_context *ctx, json_t *list, const df_stand *s, const df_dryer *dryer,
                            const df_pairs *pairs) {
    const df_run *run = &s->run;
    for (size_t k = 0; k <= dryer->traps; k++) {
        df_waste w;
        char name[32];
        df_status status = df_waste_find(ctx, &w, run, waste_mass(run, dryer, k), pairs);
        if (status < 0)
            return status;
        json_t *o = json_object(), *mass = json_object();
        const char *category = df_waste_category(w.flash_point, df_waste_boiling(&w, run));
        for (size_t i = 0; i < run->species; i++)
            df_json_put(mass, run->substance[i]->key, df_json_number(GRAMS(w.mass[i])));
        df_json_put(o, "from", df_json_text(waste_name(name, sizeof name, dryer, k)));
        df_json_put(o, "mass_g", mass);
        df_json_put(o, "total_g", df_json_number(GRAMS(w.total)));
        df_json_put(o, "volume_mL", df_json_number(1e6 * w.volume));
        df_json_put(o, "flash_point_C", df_json_number(df_celsius(w.flash_point)));
        df_json_put(o, "flammable_liquid", category[0] != '\0' ? df_json_text(category) : json_null());
        json_array_append_new(list, o);
    }
    return DF_OK;
}

df_status df_report_run_json(df_context *ctx, df_text *out, const df_stand *s, const df_job *job,
                             const df_dryer *dryer, const df_pairs *pairs) {
    df_part_used u;
    df_status status = DF_OK;
    json_t *root = json_object(), *waste = json_array(), *run = json_null();
    df_part_head_json(root, s, job, dryer);
    df_json_put(root, "dry", json_boolean(df_stand_dries(s)));
    df_json_put(root, "sample", df_part_sample_json(s, job));
    if (s->simulated) {
        run = df_part_run_json(ctx, s, job, dryer);
        status = run != NULL ? waste_json(ctx, waste, s, dryer, pairs) : DF_E_INTERNAL;
    }
    df_part_used_find(&u, s, job);
    df_json_put(root, "run", run);
    df_json_put(root, "waste", waste);
    df_json_put(root, "freezing_heat_kJ", df_json_number(1e-3 * u.freezing_heat));
    df_json_put(root, "freezing_coolant",
                isfinite(u.freezing_coolant) ? df_json_text(df_coolant_name(u.freezing_kind)) : json_null());
    df_json_put(root, "freezing_coolant_at_least_kg", df_json_number(u.freezing_coolant));
    if (status < 0) {
        json_decref(root);
        return status;
    }
    return df_json_finish(ctx, out, root);
}
