/* What the reports on a job and its run have in common, as JSON: docs/schema/run.json. */
#include "report/run_parts.h"

#include <math.h>

#define MBAR(pascal) ((pascal) / 100.0)
#define HOURS(seconds) ((seconds) / 3600.0)
#define GRAMS(kilograms) (1e3 * (kilograms))
#define SERIES 200 /* moments, about */

static json_t *bands_json(const df_stand *s) {
    json_t *o = json_object();
    df_json_put(o, "hottest_sigma_K", df_json_number(s->hottest_sigma));
    df_json_put(o, "least_margin_sigma_K", df_json_number(s->margin_sigma));
    df_json_put(o, "primary_drying_sigma_h", df_json_number(s->time_sigma / 3600.0));
    df_json_put(o, "best_standing", df_json_text(df_standing_name(s->best)));
    df_json_put(o, "worst_standing", df_json_text(df_standing_name(s->worst)));
    return o;
}

void df_part_head_json(json_t *root, const df_stand *s, const df_job *job, const df_dryer *dryer) {
    df_json_put(root, "job", df_json_text(job->name));
    df_json_put(root, "dryer", df_json_text(dryer->name));
    df_json_put(root, "standing", df_json_text(df_standing_name(s->standing)));
    df_json_put(root, "meaning", df_json_text(df_standing_meaning(s->standing)));
    df_json_put(root, "cause", df_json_text(df_cause_name(s->cause)));
    df_json_put(root, "because", df_json_text(s->because));
    df_json_put(root, "purpose", df_json_text(df_purpose_name(job->purpose)));
    df_json_put(root, "acceptable", json_boolean(s->acceptable));
    df_json_put(root, "margin_asked_K", df_json_number(job->margin));
    df_json_put(root, "bands", s->simulated ? bands_json(s) : json_null());
}

json_t *df_part_sample_json(const df_stand *s, const df_job *job) {
    json_t *o = json_object();
    df_json_put(o, "composition", df_part_composition_json(&job->composition));
    df_json_put(o, "first_solid_C", df_json_number(df_celsius(s->path.liquidus)));
    df_json_put(o, "solidus_C", df_json_number(df_celsius(s->effective_solidus)));
    df_json_put(o, "first_solid_sigma_K", df_json_number(s->liquidus_sigma));
    df_json_put(o, "solidus_sigma_K", df_json_number(s->solidus_sigma));
    json_t *solutes = json_array();
    for (size_t i = 0; i < job->solutes; i++) {
        const df_solute *q = &job->solute[i];
        json_t *one = json_object();
        df_json_put(one, "name", df_json_text(q->name));
        df_json_put(one, "concentration_g_L", df_json_number(q->concentration));
        df_json_put(one, "critical_C", df_json_number(df_celsius(q->critical_temperature)));
        df_json_put(one, "in_freezing", json_boolean(s->solute_freezes[i]));
        bool gases = q->known && q->substance.involatile.gases[0] != '\0';
        df_json_put(one, "breaks_up_into", gases ? df_json_text(q->substance.involatile.gases) : json_null());
        df_json_put(one, "breaks_up_mbar_at_20C",
                    gases ? df_json_number(df_dissociation_pressure(&q->substance, 293.15, NAN) / 100.0)
                          : json_null());
        json_array_append_new(solutes, one);
    }
    df_json_put(o, "solutes", solutes);
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
    df_json_put(o, "cautions", df_part_cautions_json(s, job));
    df_json_put(o, "own_figures", df_part_own_json(job));
    return o;
}

/* ---- classes -------------------------------------------------------------------------------------------------- */

static json_t *residual_json(const df_stand *s, const df_job *job, size_t k) {
    const df_class *c = &s->setup.classes[k];
    json_t *list = json_array();
    for (size_t i = 0; i < c->composition.n && s->setup.secondary; i++) {
        const df_residual *r = &s->run.classes[k].residual[i];
        const df_residual_limit *limit = &job->limit[i];
        json_t *o = json_object();
        df_json_put(o, "substance", df_json_text(c->composition.component[i]->key));
        df_json_put(o, "low_ppm_of_solids", df_json_number(1e6 * r->low));
        df_json_put(o, "likely_ppm_of_solids", df_json_number(1e6 * r->likely));
        df_json_put(o, "high_ppm_of_solids", df_json_number(1e6 * r->high));
        df_json_put(o, "limit_ppm", df_json_number(1e6 * limit->limit));
        df_json_put(o, "limit_class", df_json_text(df_residual_class_name(limit->class_)));
        df_json_put(o, "limit_revision", df_json_text(limit->revision));
        df_json_put(o, "verdict", df_json_text(df_residual_verdict_name(df_residual_compare(r, limit->limit))));
        df_json_put(o, "sorption_grade", df_json_text(c->sorption[i].grade));
        json_array_append_new(list, o);
    }
    return list;
}

static json_t *one_dimension_json(const df_stand *s, size_t k) {
    df_transient_range r;
    if (!df_part_one_dimension(&r, s, k))
        return json_null();
    json_t *o = json_object();
    df_json_put(o, "agrees", json_boolean(r.agrees));
    df_json_put(o, "time_percent", df_json_number(100.0 * r.time));
    df_json_put(o, "front_K", df_json_number(r.temperature));
    df_json_put(o, "reason", df_json_text(r.reason));
    return o;
}

static json_t *classes_json(const df_stand *s, const df_job *job) {
    json_t *list = json_array();
    for (size_t k = 0; k < s->run.class_count; k++) {
        const df_class_run *r = &s->run.classes[k];
        const df_class *class_ = &s->setup.classes[k];
        json_t *c = json_object();
        df_json_put(c, "name", df_json_text(class_->name));
        df_json_put(c, "count", json_integer(class_->count));
        df_json_put(c, "spot", df_json_text(df_spot_name(class_->spot)));
        df_json_put(c, "on_h", df_json_number(HOURS(class_->on_time)));
        df_json_put(c, "off_h", df_json_number(HOURS(class_->off_time)));
        df_json_put(c, "solvent_gone_h", df_json_number(HOURS(r->solvent_time)));
        df_json_put(c, "dry_h", df_json_number(HOURS(r->time_dry)));
        df_json_put(c, "target_h", df_json_number(HOURS(r->target_time)));
        df_json_put(c, "hottest_C", df_json_number(df_celsius(r->hottest)));
        df_json_put(c, "hottest_h", df_json_number(HOURS(r->hottest_time)));
        df_json_put(c, "least_margin_K", df_json_number(r->least_margin));
        df_json_put(c, "least_margin_h", df_json_number(HOURS(r->least_margin_time)));
        df_json_put(c, "limit_C", df_json_number(df_celsius(r->least_margin_limit)));
        df_json_put(c, "limit_is_solute", json_boolean(r->limit_is_solute));
        df_json_put(c, "most_liquid_percent_w_w", df_json_number(100.0 * r->most_liquid));
        df_json_put(c, "least_framework_percent_v_v", df_json_number(100.0 * r->least_framework));
        df_json_put(c, "least_glass_margin_K", df_json_number(r->least_glass_margin));
        df_json_put(c, "least_glass_margin_h",
                    df_json_number(isfinite(r->least_glass_margin) ? HOURS(r->least_glass_time) : NAN));
        df_json_put(c, "one_dimension", one_dimension_json(s, k));
        df_json_put(c, "residual", residual_json(s, job, k));
        df_json_put(c, "cake_r0_m_s", df_json_number(class_->cake.r0));
        df_json_put(c, "cake_a1_1_s", df_json_number(class_->cake.a1));
        df_json_put(c, "cake_stated", json_boolean(class_->cake.stated));
        json_array_append_new(list, c);
    }
    return list;
}

/* ---- the dryer ------------------------------------------------------------------------------------------------ */

static json_t *account_json(const df_run *run, const df_dryer *dryer) {
    json_t *list = json_array();
    for (size_t i = 0; i < run->species; i++) {
        json_t *a = json_object();
        df_part_exhaust x;
        df_part_exhaust_find(&x, run, i, dryer);
        df_json_put(a, "substance", df_json_text(run->substance[i]->key));
        df_json_put(a, "loaded_g", df_json_number(GRAMS(run->initial[i])));
        df_json_put(a, "product_g", df_json_number(GRAMS(run->product[i])));
        df_json_put(a, "bound_g", df_json_number(GRAMS(run->bound[i])));
        df_json_put(a, "gas_g", df_json_number(GRAMS(run->gas[i])));
        df_json_put(a, "trap_g", df_json_number(GRAMS(run->deposit[i])));
        df_json_put(a, "trap_liquid_g", df_json_number(GRAMS(run->deposit_liquid[i])));
        df_json_put(a, "drained_g", df_json_number(GRAMS(run->drained[i])));
        df_json_put(a, "oil_g", df_json_number(GRAMS(run->oil[i])));
        df_json_put(a, "exhaust_g", df_json_number(GRAMS(run->exhaust[i])));
        df_json_put(a, "exhaust_average_g_h", df_json_number(3.6e6 * x.average));
        df_json_put(a, "exhaust_peak_g_h", df_json_number(3.6e6 * x.peak));
        df_json_put(a, "exhaust_worst_8h_g_h", df_json_number(3.6e6 * x.worst));
        df_json_put(a, "peak_percent_of_lower_explosive_limit", df_json_number(100.0 * x.explosive));
        df_json_put(a, "worst_8h_percent_of_exposure_limit", df_json_number(100.0 * x.exposure));
        json_array_append_new(list, a);
    }
    return list;
}

static json_t *traps_json(const df_stand *s, const df_dryer *dryer) {
    const df_run *run = &s->run;
    json_t *list = json_array();
    for (size_t j = 0; j < dryer->traps; j++) {
        const df_trap *t = &dryer->trap[j];
        bool finger = t->kind == DF_TRAP_FINGER;
        json_t *o = json_object(), *deposit = json_object();
        for (size_t i = 0; i < run->species; i++)
            df_json_put(deposit, run->substance[i]->key, df_json_number(GRAMS(run->trap_deposit[j][i])));
        df_json_put(o, "no_load_C", df_json_number(df_celsius(df_trap_no_load(t))));
        df_json_put(o, "capacity_g", df_json_number(GRAMS(t->capacity)));
        df_json_put(o, "deposit_g", deposit);
        df_json_put(o, "coolant", finger ? df_json_text(df_coolant_name(t->coolant)) : json_null());
        df_json_put(o, "coolant_boiled_away_g", df_json_number(finger ? GRAMS(run->coolant[j]) : NAN));
        json_array_append_new(list, o);
    }
    return list;
}

static json_t *notices_json(df_context *ctx, const df_stand *s) {
    const df_run *run = &s->run;
    json_t *list = json_array();
    for (size_t i = 0; i < run->notices; i++) {
        const df_notice *n = &run->notice[i];
        df_notice_text text;
        char evidence[256];
        if (df_notice_lookup(ctx, &text, n->kind) != DF_OK) {
            json_decref(list);
            return NULL;
        }
        json_t *o = json_object();
        df_json_put(o, "time_h", df_json_number(HOURS(n->time)));
        df_json_put(o, "key", df_json_text(text.key));
        df_json_put(o, "weight", df_json_text(text.weight));
        df_json_put(o, "class", n->class_ >= 0 ? df_json_text(s->setup.classes[n->class_].name) : json_null());
        df_json_put(o, "what", df_json_text(text.what));
        df_json_put(o, "evidence", df_json_text(df_notice_evidence(evidence, sizeof evidence, n, &s->setup)));
        df_json_put(o, "action", df_json_text(text.action));
        json_array_append_new(list, o);
    }
    return list;
}

/* ---- series --------------------------------------------------------------------------------------------------- */

static json_t *moment_json(const df_stand *s, const df_dryer *dryer, const df_moment *m) {
    const df_run *run = &s->run;
    json_t *o = json_object(), *pressures = json_object(), *containers = json_array();
    json_t *coil = json_array(), *surface = json_array();
    df_json_put(o, "time_h", df_json_number(HOURS(m->time)));
    for (size_t j = 0; j < run->species; j++)
        df_json_put(pressures, run->substance[j]->key, df_json_number(MBAR(m->chamber[j])));
    df_json_put(pressures, "air", df_json_number(MBAR(m->chamber[run->species])));
    df_json_put(o, "chamber_mbar", pressures);
    df_json_put(o, "set_point_mbar", df_json_number(m->wanted > 0.0 ? MBAR(m->wanted) : NAN));
    df_json_put(o, "held_up_by", df_json_text(df_holder_name(m->holder)));
    for (size_t j = 0; j < dryer->traps; j++) {
        json_array_append_new(coil, df_json_number(df_celsius(m->coil[j])));
        json_array_append_new(surface, df_json_number(df_celsius(m->trap_surface[j])));
    }
    df_json_put(o, "coil_C", coil);
    df_json_put(o, "trap_surface_C", surface);
    df_json_put(o, "shelf_C", df_json_number(df_celsius(m->shelf)));
    df_json_put(o, "duct_choked", df_json_number(m->choked));
    for (size_t k = 0; k < run->class_count; k++) {
        json_t *c = json_object(), *left = json_object();
        df_json_put(c, "front_C", df_json_number(df_celsius(m->container[k].front)));
        df_json_put(c, "hottest_C", df_json_number(df_celsius(m->container[k].hottest)));
        df_json_put(c, "limit_C", df_json_number(df_celsius(m->container[k].limit)));
        df_json_put(c, "glass_C", df_json_number(df_celsius(m->container[k].glass)));
        for (size_t j = 0; j < s->setup.classes[k].composition.n; j++)
            df_json_put(left, s->setup.classes[k].composition.component[j]->key,
                        df_json_number(100.0 * m->container[k].left[j]));
        df_json_put(c, "left_percent", left);
        json_array_append_new(containers, c);
    }
    df_json_put(o, "classes", containers);
    return o;
}

static json_t *series_json(const df_stand *s, const df_dryer *dryer) {
    const df_run *run = &s->run;
    json_t *list = json_array();
    size_t stride = run->moments / SERIES + 1, last = run->moments - 1;
    for (size_t i = 0; i < last; i += stride)
        json_array_append_new(list, moment_json(s, dryer, &run->moment[i]));
    json_array_append_new(list, moment_json(s, dryer, &run->moment[last]));
    return list;
}

json_t *df_part_run_json(df_context *ctx, const df_stand *s, const df_job *job, const df_dryer *dryer) {
    static const char *const ends[] = {"dry", "framework_lost", "time_limit", "margin_lost", "solvent_gone"};
    const df_run *run = &s->run;
    json_t *notices = notices_json(ctx, s);
    if (notices == NULL)
        return NULL;
    json_t *o = json_object(), *held = json_object();
    df_json_put(o, "end", df_json_text(ends[run->end]));
    df_json_put(o, "time_h", df_json_number(HOURS(run->time)));
    df_json_put(o, "primary_h", df_json_number(HOURS(run->primary_time)));
    df_json_put(o, "classes", classes_json(s, job));
    df_json_put(o, "account", account_json(run, dryer));
    df_json_put(o, "account_error", df_json_number(df_part_account_error(run)));
    df_json_put(o, "traps", traps_json(s, dryer));
    for (int h = 0; h < DF_HOLDERS; h++)
        df_json_put(held, df_holder_name((df_holder)h), df_json_number(HOURS(run->held[h])));
    df_json_put(o, "held_h", held);
    df_json_put(o, "heat_in_kJ", df_json_number(1e-3 * run->heat_in));
    df_json_put(o, "heat_out_kJ", df_json_number(1e-3 * run->heat_out));
    df_json_put(o, "heat_stored_kJ", df_json_number(1e-3 * run->heat_stored));
    df_json_put(o, "highest_chamber_mbar", df_json_number(MBAR(run->highest_pressure)));
    df_json_put(o, "highest_trap_surface_C", df_json_number(df_celsius(run->highest_trap_surface)));
    df_json_put(o, "highest_duct_choke", df_json_number(run->highest_choke));
    df_json_put(o, "organic_to_pump_g", df_json_number(GRAMS(run->organic_to_pump)));
    df_json_put(o, "trap_full", json_boolean(run->trap_full));
    df_json_put(o, "pump_overloaded", json_boolean(run->pump_overloaded));
    df_json_put(o, "electricity_kWh", df_json_number(run->electricity / 3.6e6));
    df_json_put(o, "notices", notices);
    df_json_put(o, "series", series_json(s, dryer));
    return o;
}
