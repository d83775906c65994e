/* Routes of a job, as text and as JSON. */
#include "dryfront/routes.h"
#include "report/run_parts.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static const char *const patterns[] = {"[####]", "[##~~]", "[~~~~]", "[ .. ]"};

/* ---- words ---------------------------------------------------------------------------------------------------- */

/* What to do, in words. `route` may be NULL: of an action that cannot be done. */
static const char *action_words(char *out, size_t size, const df_action *a, const df_route *route) {
    static const char *const times[DF_ROUTE_BOILINGS + 1] = {"never", "once", "twice", "three times"};
    char when[64];
    const df_group *g = route != NULL ? &route->job.group[0] : NULL;
    switch (a->kind) {
    case DF_ACTION_DILUTE:
        snprintf(out, size, "dilute with water from %.3g to %.3g %% v/v of solvent", 100.0 * a->from, 100.0 * a->to);
        break;
    case DF_ACTION_STRIP:
        snprintf(out, size, "boil the main solvent off under vacuum, from %.3g to %.3g %% v/v", 100.0 * a->from,
                 100.0 * a->to);
        break;
    case DF_ACTION_EXCHANGE:
        snprintf(out, size, "%s: boil off half the volume under vacuum and make it up with %s%s", times[a->passes],
                 a->added != NULL ? a->added->name : "water", a->added != NULL ? " and water, half and half" : "");
        break;
    case DF_ACTION_FREEZE:
        snprintf(out, size, "freeze in %s at %.0f °C", df_part_words(when, sizeof when, df_means_name(a->means)),
                 df_celsius(a->to));
        break;
    case DF_ACTION_SHELL:
        snprintf(out, size, "freeze as a shell in turned flasks");
        break;
    case DF_ACTION_SPREAD:
        snprintf(out, size, "fill %.3g mL in place of %.3g mL", 1e6 * a->to, 1e6 * a->from);
        break;
    case DF_ACTION_CONTAINER:
        snprintf(out, size, "use the next larger container (%s)", a->container.name);
        break;
    case DF_ACTION_HOLD:
        snprintf(out, size,
                 "hold the shelf at %.1f °C for the first %.0f h, until the solvent has gone, then within 1 h to the "
                 "recipe",
                 df_celsius(a->to), a->hold / 3600.0);
        break;
    case DF_ACTION_SHELF:
        snprintf(out, size, "keep the shelf at %.1f °C or colder throughout", df_celsius(a->to));
        break;
    case DF_ACTION_VACUUM:
        snprintf(out, size, "set no chamber pressure: as low as the dryer gets (now %.3g mbar)", a->from / 100.0);
        break;
    case DF_ACTION_ONTO_SHELF:
        snprintf(out, size, "stand the flasks on the shelf at %.1f °C in place of the manifold", df_celsius(a->to));
        break;
    case DF_ACTION_RISE:
        snprintf(out, size, "let the shelf's last rise be no faster than %.3g K/min (now %.3g K/min)", 60.0 * a->to,
                 60.0 * a->from);
        break;
    case DF_ACTION_TRAP:
        snprintf(out, size, "use a trap of %.0f °C without load (now %.0f °C)", df_celsius(a->to),
                 df_celsius(a->from));
        break;
    case DF_ACTION_SECOND_TRAP:
        snprintf(out, size, "put a second trap with %s (%.0f °C) behind the first",
                 df_part_words(when, sizeof when, df_coolant_name(a->coolant)), df_celsius(a->to));
        break;
    case DF_ACTION_DRY_PUMP:
        snprintf(out, size, "use a dry pump of the same speed and ultimate pressure, its exhaust into a hood");
        break;
    case DF_ACTION_BALLAST:
        snprintf(out, size, "open the gas ballast (%.3g L/min) and change the oil afterwards", 6e4 * a->to);
        break;
    case DF_ACTION_DRYER:
    default:
        snprintf(out, size, "use '%s'", route != NULL ? route->dryer.name : "another dryer");
        break;
    }
    if (g != NULL && a->kind == DF_ACTION_SPREAD && route->loads == 1)
        snprintf(out + strlen(out), size - strlen(out), " into each of %ld containers", g->count);
    return out;
}

static const char *buy_words(char *out, size_t size, const df_route *r) {
    static const char *const words[] = {"colder trap",  "second trap",     "dry pump",   "containers",
                                        "tert-butanol", "liquid nitrogen", "other dryer"};
    size_t used = 0;
    out[0] = '\0';
    for (size_t i = 0; i < sizeof words / sizeof words[0] && used < size; i++)
        if (r->buys & (1u << i)) {
            used += (size_t)snprintf(out + used, size - used, "%s", used > 0 ? ", " : "");
            if (used < size && (1u << i) == DF_BUY_CONTAINERS)
                used += (size_t)snprintf(out + used, size - used, "%ld more ", r->more_containers);
            if (used < size)
                used += (size_t)snprintf(out + used, size - used, "%s", words[i]);
        }
    return out;
}

static const char *const warnings[] = {
    "boiling off: solvent vapour, glass under vacuum: shield, catch the vapour, lead the pump's exhaust into a hood; "
    "no ignition source",
    "boiling down concentrates peroxides of a peroxide former: test first, never to dryness",
    "liquid nitrogen burns the skin, takes the place of air and condenses oxygen: goggles, gloves, ventilation, "
    "never "
    "in a closed vessel",
    "solvent leaves by the pump's exhaust: lead it into a hood; no ignition source",
    "the flask boils too cold for its condenser: a cold trap behind it, or the solvent goes to the pump",
    "wetted: puffing, denser cake, more solvent left",
    "several loads one after the other: what waits has to stay frozen, cold enough",
};
static const char *const warning_words[] = {"boiling",   "peroxide", "nitrogen", "exhaust",
                                            "condenser", "wetted",   "loads"};
#define WARNINGS (sizeof warnings / sizeof warnings[0])

void df_part_note_cautions(df_text *note, unsigned warns) {
    static const unsigned shown = DF_WARN_BOILING | DF_WARN_PEROXIDE | DF_WARN_NITROGEN | DF_WARN_CONDENSER;
    for (size_t k = 0; k < WARNINGS; k++)
        if (warns & shown & (1u << k))
            df_part_note(note, "Caution: %s", warnings[k]);
    if (warns & shown)
        df_part_note(note, "Local rules, safety data sheets and qualified people come first.");
}

/* Margin in a column: " 1.5", "  - " where it is never solid. */
static const char *margin_words(char *out, size_t size, double margin) {
    if (isfinite(margin))
        snprintf(out, size, "%.1f", margin);
    else
        snprintf(out, size, "-");
    return out;
}

/* ---- text ----------------------------------------------------------------------------------------------------- */

static const char *boiling_words(char *out, size_t size, const df_boiling *b) {
    char duration[64], last[160] = "";
    if (b->made_up > 0.0)
        snprintf(last, sizeof last, "; then %.3g L added%s", 1e3 * b->made_up,
                 b->added > 0.0 ? ", half of it water" : " of water");
    snprintf(out, size,
             "bath %.0f °C, flask held at %.0f °C by lowering the pressure from %.0f to %.0f mbar; stop at %.0f g of "
             "%.0f g in all (%ld load%s, %.0f g left in each); about %s of boiling%s",
             df_celsius(b->bath), df_celsius(b->flask), b->pressure / 100.0, b->end_pressure / 100.0, 1e3 * b->left,
             1e3 * b->put_in, b->loads, b->loads == 1 ? "" : "s", 1e3 * b->left / (double)b->loads,
             df_part_duration(duration, sizeof duration, b->time), last);
    return out;
}

static void shares_text(df_text *out, const df_route *r) {
    df_text line = {0};
    for (size_t i = 0; i < r->shares; i++) {
        const df_route_share *h = &r->share[i];
        char v[32], t[32], o[32], d[32];
        if (h->substance->is_water)
            continue;
        df_text_printf(&line, "%s%s: vented %s g, trap %s g, oil %s g", line.length > 0 ? "; " : "",
                       h->substance->name, df_part_grams(v, sizeof v, h->vented),
                       df_part_grams(t, sizeof t, h->trapped), df_part_grams(o, sizeof o, h->oil));
        if (r->boilings > 0)
            df_text_printf(&line, ", distillate %s g", df_part_grams(d, sizeof d, h->distilled));
    }
    if (line.length > 0)
        df_layout_paragraph(out, "", df_text_string(&line));
    out->failed = out->failed || line.failed;
    df_text_free(&line);
}

/* `number` 0: none. */
static void route_text(df_text *out, const df_route *r, size_t number) {
    char label[32], line[480], buys[160];
    if (number > 0)
        snprintf(label, sizeof label, "%2zu %s", number, patterns[r->standing]);
    else
        snprintf(label, sizeof label, "   %s", patterns[r->standing]);
    if (r->actions == 0)
        df_layout_paragraph(out, label, "as it is");
    for (size_t i = 0; i < r->actions; i++)
        df_layout_printf(out, i == 0 ? label : "", "%s%s", action_words(line, sizeof line, &r->action[i], r),
                         i + 1 < r->actions ? ";" : "");
    for (size_t i = 0; i < r->boilings; i++)
        df_layout_paragraph(out, "", boiling_words(line, sizeof line, &r->boiling[i]));
    if (r->loads > 1)
        df_layout_printf(out, "", "in %ld loads of %ld containers, %.1f h each", r->loads, r->job.group[0].count,
                         r->run_time / 3600.0);
    if (r->standing != DF_RIGID)
        df_layout_printf(out, "", "%s: %s", df_standing_name(r->standing), r->because);
    shares_text(out, r);
    if (buy_words(buys, sizeof buys, r)[0] != '\0')
        df_layout_printf(out, "", "to be had: %s", buys);
}

static void table(df_text *out, const df_routes *routes) {
    char margin[32], chance[32], grams[32];
    df_text_puts(out, "\n            machine  hands  vented  margin  chance  to be    cost\n"
                      "                  h  on, h       g       K       %  had, h       h\n");
    for (size_t i = 0; i < routes->count; i++) {
        const df_route *r = &routes->route[i];
        snprintf(chance, sizeof chance, "-");
        if (isfinite(r->chance))
            snprintf(chance, sizeof chance, "%.0f", 100.0 * r->chance);
        df_text_printf(out, "%2zu %s   %7.1f%7.1f%8s%8s%8s%8.0f%8.0f\n", i + 1, patterns[r->standing],
                       r->time / 3600.0, r->hands_on / 3600.0, df_part_grams(grams, sizeof grams, r->vented),
                       margin_words(margin, sizeof margin, r->margin), chance, r->purchase, r->cost);
    }
    df_text_puts(out, "\n");
}

static void nearest_text(df_text *out, const df_routes *routes) {
    const df_route *r = routes->nearest;
    char by[200] = "";
    switch (routes->miss) {
    case DF_MISS_MARGIN:
        snprintf(by, sizeof by, "%.1f K of margin", routes->missing);
        break;
    case DF_MISS_LIQUID:
        snprintf(by, sizeof by, "%.1f %% by mass of liquid that does not set", 100.0 * routes->missing);
        break;
    case DF_MISS_FRAMEWORK:
        snprintf(by, sizeof by, "%.1f %% by volume of solid framework", 100.0 * routes->missing);
        break;
    case DF_MISS_DRY:
        snprintf(by, sizeof by, "%.1f %% of the load that is still to dry when the run ends",
                 100.0 * routes->missing);
        break;
    case DF_MISS_TRAP:
        snprintf(by, sizeof by, "%.2f kg of room in the trap", routes->missing);
        break;
    case DF_MISS_OIL:
        snprintf(by, sizeof by, "%.0f g of solvent too much for the pump's oil", 1e3 * routes->missing);
        break;
    case DF_MISS_NONE:
    default:
        break;
    }
    df_layout_printf(out, "nearest", "this comes nearest, and misses by %s:", by);
    df_text_puts(out, "\n");
    route_text(out, r, 0);
    if (r->standing == DF_RIGID)
        df_layout_paragraph(out, "", r->because);
}

static void cautions(df_text *out, const df_routes *routes) {
    const df_route *list = routes->count > 0 ? routes->route : routes->nearest;
    size_t n = routes->count > 0 ? routes->count : list != NULL;
    const df_substance *told[2 * DF_MAX_COMPONENTS];
    size_t tellings = 0;
    unsigned warns = 0;
    const char *label = "caution";
    char line[400];
    for (size_t i = 0; i < n; i++)
        warns |= list[i].warns;
    for (size_t k = 0; k < WARNINGS; k++)
        if (warns & (1u << k)) {
            df_layout_paragraph(out, label, warnings[k]);
            label = "";
        }
    for (size_t i = 0; i < n; i++)
        for (size_t j = 0; j < list[i].shares; j++) {
            const df_substance *s = list[i].share[j].substance;
            bool again = tellings == sizeof told / sizeof told[0];
            for (size_t k = 0; k < tellings; k++)
                again = again || told[k] == s;
            df_report_caution(line, sizeof line, s);
            if (again || line[0] == '\0')
                continue;
            told[tellings++] = s;
            df_layout_paragraph(out, label, line);
            label = "";
        }
    df_layout_paragraph(out, label, "local rules, safety data sheets and qualified people come first");
}

df_status df_report_routes_text(df_context *ctx, df_text *out, const df_routes *routes, const df_routes_task *task) {
    char line[320];
    const char *label = "not";
    df_text_printf(out, "%s\non %s\n\n", task->job->name, task->dryer->name);
    df_layout_printf(out, "as it is", "%s (%s); for %s %s", df_standing_name(routes->as_it_is),
                     df_part_cause(routes->as_it_is_cause), df_purpose_name(task->job->purpose),
                     routes->as_it_is_acceptable ? "acceptable" : "not acceptable");
    if (routes->as_it_is == DF_RIGID)
        df_layout_paragraph(out, "routes", "nothing has to be changed; other ways are not looked for");
    else if (routes->count > 0) {
        df_layout_printf(
            out, "routes",
            "%zu are shown. %zu combinations serve and need each of their actions; of them %zu are better "
            "in nothing than another, %zu the same in another strength",
            routes->count, routes->serving, routes->dominated, routes->alike);
        df_layout_printf(out, "",
                         "looked for among %zu actions, up to %d at once: %zu combinations, %zu of them run, %zu not "
                         "possible here",
                         routes->actions, DF_ROUTE_ACTIONS, routes->combinations, routes->runs, routes->impossible);
    } else
        df_layout_printf(out, "routes",
                         "none: no combination of up to %d of %zu actions brings this sample to a product that is "
                         "acceptable for %s (%zu combinations, %zu run, %zu not possible here)",
                         DF_ROUTE_ACTIONS, routes->actions, df_purpose_name(task->job->purpose), routes->combinations,
                         routes->runs, routes->impossible);
    if (routes->unsolved > 0)
        df_layout_printf(out, "", "%zu could not be computed and are left out", routes->unsolved);
    for (size_t i = 0; i < routes->refusals; i++) {
        const df_refusal *r = &routes->refusal[i];
        if (i > 0 && r->action.kind == r[-1].action.kind && r->action.added == r[-1].action.added &&
            strcmp(r->why, r[-1].why) == 0)
            continue; /* more of the same */
        df_layout_printf(out, label, "%s: %s", action_words(line, sizeof line, &routes->refusal[i].action, NULL),
                         routes->refusal[i].why);
        label = "";
    }
    if (routes->count > 0)
        table(out, routes);
    for (size_t i = 0; i < routes->count; i++)
        route_text(out, &routes->route[i], i + 1);
    if (routes->count == 0 && routes->nearest != NULL)
        nearest_text(out, routes);
    df_text_puts(out, "\n");
    const df_route_weights *w = &routes->weights;
    df_layout_printf(
        out, "reads",
        "machine: boiling off and runs one after the other, freezing not counted. vented: solvent that "
        "leaves through an exhaust, boiling off included. margin: least between hottest point and its "
        "limit. chance: of staying under that limit, normal in margin over one standard deviation (of the "
        "thermodynamics, and %.3g K for cake, heat transfer, fill and shelf: assumption); -: no such number",
        w->other_sigma);
    df_layout_printf(
        out, "",
        "cost: machine hours, %.3g for an hour of hands on, %.3g for a kg vented, %.3g for each K of margin "
        "under %.3g K, %.3g for a wetted run, and what is to be had; all assumptions (data/efforts.csv), "
        "hands-on times too",
        w->hands_on, w->vented, w->margin, w->enough, w->wetted);
    df_part_own_text(out, "trust", task->job);
    cautions(out, routes);
    return out->failed ? df_fail(ctx, DF_E_MEMORY, "the report grew too large") : DF_OK;
}

/* ---- JSON ----------------------------------------------------------------------------------------------------- */

static json_t *action_json(const df_action *a, const df_route *r) {
    char line[320];
    json_t *o = json_object();
    df_json_put(o, "action", df_json_text(df_action_name(a->kind)));
    df_json_put(o, "text", df_json_text(action_words(line, sizeof line, a, r)));
    return o;
}

static json_t *boiling_json(const df_boiling *b) {
    json_t *o = json_object();
    df_json_put(o, "bath_C", df_json_number(df_celsius(b->bath)));
    df_json_put(o, "flask_C", df_json_number(df_celsius(b->flask)));
    df_json_put(o, "pressure_from_mbar", df_json_number(b->pressure / 100.0));
    df_json_put(o, "pressure_to_mbar", df_json_number(b->end_pressure / 100.0));
    df_json_put(o, "put_in_g", df_json_number(1e3 * b->put_in));
    df_json_put(o, "stop_at_g", df_json_number(1e3 * b->left));
    df_json_put(o, "loads", json_integer(b->loads));
    df_json_put(o, "time_h", df_json_number(b->time / 3600.0));
    df_json_put(o, "solvent_from_percent_v_v", df_json_number(100.0 * b->solvent_from));
    df_json_put(o, "solvent_to_percent_v_v", df_json_number(100.0 * b->solvent_to));
    df_json_put(o, "made_up_L", df_json_number(1e3 * b->made_up));
    df_json_put(o, "added_solvent_L", df_json_number(1e3 * b->added));
    return o;
}

static json_t *shares_json(const df_route *r) {
    json_t *list = json_array();
    for (size_t i = 0; i < r->shares; i++) {
        const df_route_share *h = &r->share[i];
        json_t *o = json_object();
        df_json_put(o, "substance", df_json_text(h->substance->key));
        df_json_put(o, "vented_g", df_json_number(1e3 * h->vented));
        df_json_put(o, "trapped_g", df_json_number(1e3 * h->trapped));
        df_json_put(o, "oil_g", df_json_number(1e3 * h->oil));
        df_json_put(o, "distilled_g", df_json_number(1e3 * h->distilled));
        json_array_append_new(list, o);
    }
    return list;
}

static json_t *recipe_json(const df_recipe *recipe) {
    json_t *list = json_array();
    for (size_t i = 0; i < recipe->n; i++) {
        json_t *o = json_object();
        df_json_put(o, "time_h", df_json_number(recipe->time[i] / 3600.0));
        df_json_put(o, "shelf_C", df_json_number(df_celsius(recipe->shelf_temperature[i])));
        df_json_put(o, "chamber_pressure_mbar",
                    recipe->pressure[i] > 0.0 ? df_json_number(recipe->pressure[i] / 100.0) : json_null());
        json_array_append_new(list, o);
    }
    return list;
}

/* What is done outside the dryer, and in how many loads. */
static void route_note(df_text *note, const df_route *r) {
    char line[480];
    for (size_t i = 0; i < r->actions; i++)
        if (r->action[i].kind <= DF_ACTION_EXCHANGE)
            df_part_note(note, "Before the dryer: %s", action_words(line, sizeof line, &r->action[i], r));
    for (size_t i = 0; i < r->boilings; i++)
        df_part_note(note, "Boiling %zu of %zu: %s", i + 1, r->boilings,
                     boiling_words(line, sizeof line, &r->boiling[i]));
    if (r->loads > 1)
        df_part_note(note, "This is one of %ld loads alike, one after the other: what waits has to stay frozen.",
                     r->loads);
    df_part_note_cautions(note, r->warns);
}

/* Texts of the job as it stands after the actions, and of a dryer that was changed. */
static void take_json(json_t *o, const df_route *r, const df_routes_task *task) {
    struct {
        df_job job;
        df_dryer dryer;
    } *all = calloc(1, sizeof *all);
    json_t *jobs = json_array(), *dryers = json_object();
    if (all != NULL) {
        df_text note = {0};
        bool own;
        df_route_take(&all->job, &all->dryer, &own, r, task);
        if (r->actions > 0)
            route_note(&note, r);
        json_array_append_new(jobs, df_part_job_json(&all->job, task->text, &note));
        if (own)
            df_part_dryer_json(dryers, &all->job, &all->dryer);
        df_text_free(&note);
    }
    free(all);
    df_json_put(o, "jobs", jobs);
    df_json_put(o, "dryers", dryers);
}

static json_t *route_json(const df_route *r, const df_routes_task *task) {
    char buys[160];
    json_t *o = json_object(), *actions = json_array(), *boilings = json_array(), *warns = json_array();
    for (size_t i = 0; i < r->actions; i++)
        json_array_append_new(actions, action_json(&r->action[i], r));
    for (size_t i = 0; i < r->boilings; i++)
        json_array_append_new(boilings, boiling_json(&r->boiling[i]));
    for (size_t k = 0; k < WARNINGS; k++)
        if (r->warns & (1u << k))
            json_array_append_new(warns, df_json_text(warning_words[k]));
    df_json_put(o, "actions", actions);
    df_json_put(o, "boilings", boilings);
    df_json_put(o, "dryer", df_json_text(r->dryer.name));
    df_json_put(o, "containers", json_integer(r->job.group[0].count));
    df_json_put(o, "fill_mL", df_json_number(1e6 * r->job.group[0].fill));
    df_json_put(o, "recipe", recipe_json(&r->job.recipe));
    df_json_put(o, "loads", json_integer(r->loads));
    df_json_put(o, "standing", df_json_text(df_standing_name(r->standing)));
    df_json_put(o, "cause", df_json_text(df_cause_name(r->cause)));
    df_json_put(o, "because", df_json_text(r->because));
    df_json_put(o, "acceptable", json_boolean(r->acceptable));
    df_json_put(o, "machine_h", df_json_number(r->time / 3600.0));
    df_json_put(o, "run_h", df_json_number(r->run_time / 3600.0));
    df_json_put(o, "boiling_h", df_json_number(r->strip_time / 3600.0));
    df_json_put(o, "hands_on_min", df_json_number(r->hands_on / 60.0));
    df_json_put(o, "vented_g", df_json_number(1e3 * r->vented));
    df_json_put(o, "least_margin_K", df_json_number(r->margin));
    df_json_put(o, "least_margin_sigma_K", df_json_number(r->margin_sigma));
    df_json_put(o, "chance_percent", df_json_number(100.0 * r->chance));
    df_json_put(o, "best_standing", df_json_text(df_standing_name(r->best)));
    df_json_put(o, "worst_standing", df_json_text(df_standing_name(r->worst)));
    df_json_put(o, "to_be_had", df_json_text(buy_words(buys, sizeof buys, r)));
    df_json_put(o, "purchase_cost_h", df_json_number(r->purchase));
    df_json_put(o, "cost_h", df_json_number(r->cost));
    df_json_put(o, "where_it_goes", shares_json(r));
    df_json_put(o, "cautions", warns);
    take_json(o, r, task);
    return o;
}

df_status df_report_routes_json(df_context *ctx, df_text *out, const df_routes *routes, const df_routes_task *task) {
    static const char *const misses[] = {
        "none", "margin_K", "liquid_percent", "framework_percent", "load_left_percent", "trap_kg", "oil_kg"};
    json_t *root = json_object(), *list = json_array(), *refused = json_array(), *search = json_object();
    df_json_put(root, "job", df_json_text(task->job->name));
    df_json_put(root, "dryer", df_json_text(task->dryer->name));
    df_json_put(root, "purpose", df_json_text(df_purpose_name(task->job->purpose)));
    df_json_put(root, "as_it_is", df_json_text(df_standing_name(routes->as_it_is)));
    df_json_put(root, "as_it_is_cause", df_json_text(df_cause_name(routes->as_it_is_cause)));
    df_json_put(root, "as_it_is_acceptable", json_boolean(routes->as_it_is_acceptable));
    for (size_t i = 0; i < routes->count; i++)
        json_array_append_new(list, route_json(&routes->route[i], task));
    df_json_put(root, "routes", list);
    df_json_put(root, "nearest", routes->nearest != NULL ? route_json(routes->nearest, task) : json_null());
    df_json_put(root, "misses_by", df_json_text(misses[routes->miss]));
    df_json_put(root, "missing",
                routes->miss == DF_MISS_NONE
                    ? json_null()
                    : df_json_number((routes->miss >= DF_MISS_LIQUID && routes->miss <= DF_MISS_DRY ? 100.0 : 1.0) *
                                     routes->missing));
    for (size_t i = 0; i < routes->refusals; i++) {
        json_t *o = action_json(&routes->refusal[i].action, NULL);
        df_json_put(o, "why", df_json_text(routes->refusal[i].why));
        json_array_append_new(refused, o);
    }
    df_json_put(root, "not_possible", refused);
    df_json_put(search, "actions", json_integer((json_int_t)routes->actions));
    df_json_put(search, "combinations", json_integer((json_int_t)routes->combinations));
    df_json_put(search, "runs", json_integer((json_int_t)routes->runs));
    df_json_put(search, "impossible", json_integer((json_int_t)routes->impossible));
    df_json_put(search, "unsolved", json_integer((json_int_t)routes->unsolved));
    df_json_put(search, "serving", json_integer((json_int_t)routes->serving));
    df_json_put(search, "dominated", json_integer((json_int_t)routes->dominated));
    df_json_put(search, "alike", json_integer((json_int_t)routes->alike));
    df_json_put(root, "search", search);
    return df_json_finish(ctx, out, root);
}
