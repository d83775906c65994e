/* Reading jobs. */
#include "advice/uncertain.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#define STEP(call)                                                                                                   \
    do {                                                                                                             \
        if (status == DF_OK)                                                                                         \
            status = (call);                                                                                         \
    } while (0)
#define COUNT(a) (sizeof(a) / sizeof((a)[0]))

static const char *const purposes[] = {"intermediate", "screening", "archive", "release"};
const char *df_purpose_name(df_purpose purpose) {
    return purposes[purpose];
}
bool df_purpose_accepts_wetted(df_purpose purpose) {
    return purpose <= DF_PURPOSE_SCREENING;
}

static df_status read_solute(df_context *ctx, df_solute *out, const df_substances *substances,
                             const df_yaml_node *map) {
    static const char *const keys[] = {"name", "concentration", "critical_temperature", "density"};
    char name[48] = "", where[200];
    df_status status = df_yaml_check_keys(ctx, map, keys, COUNT(keys));
    STEP(df_yaml_text(ctx, name, sizeof name, map, "name", true));
    if (status != DF_OK)
        return status;
    bool described = df_yaml_get(map, "critical_temperature") != NULL;
    df_status found =
        df_solute_find(ctx, out, substances, name, df_yaml_where(where, sizeof where, df_yaml_get(map, "name")));
    if (found != DF_OK && !described)
        return found;
    if (found != DF_OK) {
        df_context_clear(ctx);
        memset(out, 0, sizeof *out);
        snprintf(out->name, sizeof out->name, "%s", name);
        out->density = DF_SOLUTE_DENSITY;
        out->critical_temperature = NAN;
    }
    STEP(df_yaml_quantity_in(ctx, &out->concentration, map, "concentration", DF_DIM_MASS_CONCENTRATION, true, 0.0,
                             2000.0));
    STEP(df_yaml_quantity_in(ctx, &out->critical_temperature, map, "critical_temperature", DF_DIM_TEMPERATURE, false,
                             150.0, 400.0));
    STEP(df_yaml_quantity_in(ctx, &out->density, map, "density", DF_DIM_MASS_CONCENTRATION, false, 500.0, 8000.0));
    if (described && status == DF_OK) {
        df_solute_state_critical(out, out->critical_temperature);
        out->source = "stated in the job";
    }
    return status;
}

/* Counts of containers at the edge, in corners and at the door; the rest stands in the centre. */
static df_status read_spots(df_context *ctx, df_group *g, const df_yaml_node *map) {
    df_status status = DF_OK;
    long rest = g->count;
    for (int spot = DF_SPOT_EDGE; spot < DF_SPOTS; spot++) {
        const char *key = df_spot_name((df_spot)spot);
        STEP(df_yaml_integer(ctx, &g->at[spot], map, key, false, 0, 100000));
        rest -= g->at[spot];
        if (status == DF_OK && rest < 0)
            return df_yaml_fail(ctx, df_yaml_get(map, key), "more containers are placed than the %ld there are",
                                g->count);
        if (status == DF_OK && g->at[spot] > 0 && g->place != DF_PLACE_SHELF)
            return df_yaml_fail(ctx, df_yaml_get(map, key), "only containers on a shelf have edge, corner and door");
    }
    g->at[DF_SPOT_CENTRE] = rest;
    return status;
}

/* When a flask is put on a running manifold and taken off. */
static df_status read_stay(df_context *ctx, df_group *g, const df_yaml_node *map) {
    g->on = -INFINITY;
    g->off = INFINITY;
    const df_yaml_node *on = df_yaml_get(map, "on"), *off = df_yaml_get(map, "off");
    df_status status = df_yaml_quantity_in(ctx, &g->on, map, "on", DF_DIM_TIME, false, 0.0, 1e8);
    STEP(df_yaml_quantity_in(ctx, &g->off, map, "off", DF_DIM_TIME, false, 0.0, 1e8));
    if (status == DF_OK && (on != NULL || off != NULL) && g->place != DF_PLACE_MANIFOLD)
        return df_yaml_fail(ctx, on != NULL ? on : off, "only containers on a manifold come and go during a run");
    if (status == DF_OK && !(g->off > g->on))
        return df_yaml_fail(ctx, off, "a flask should be taken off later than it is put on");
    return status;
}

static df_status read_group(df_context *ctx, df_group *g, const df_containers *containers, const df_yaml_node *map) {
    static const char *const keys[] = {"type", "count",  "fill", "lie", "place",
                                       "edge", "corner", "door", "on",  "off"};
    static const char *const lies[] = {"at_rest", "shell"}, *const places[] = {"shelf", "manifold"};
    char type[48] = "";
    int lie = 0, place = 0;
    memset(g, 0, sizeof *g);
    df_status status = df_yaml_check_keys(ctx, map, keys, COUNT(keys));
    STEP(df_yaml_text(ctx, type, sizeof type, map, "type", true));
    STEP(df_container_find(ctx, &g->container, containers, type,
                           df_yaml_where(g->where, sizeof g->where, df_yaml_get(map, "type"))));
    STEP(df_yaml_integer(ctx, &g->count, map, "count", true, 1, 100000));
    STEP(df_yaml_quantity_in(ctx, &g->fill, map, "fill", DF_DIM_VOLUME, true, 1e-9, 1.0));
    STEP(df_yaml_choice(ctx, &lie, map, "lie", false, lies, 2));
    STEP(df_yaml_choice(ctx, &place, map, "place", true, places, 2));
    if (status != DF_OK)
        return status;
    g->lie = (df_lie)lie;
    g->place = (df_place)place;
    STEP(read_spots(ctx, g, map));
    STEP(read_stay(ctx, g, map));
    if (status != DF_OK)
        return status;
    if (g->place == DF_PLACE_MANIFOLD && g->container.kind == DF_TRAY)
        return df_yaml_fail(ctx, df_yaml_get(map, "place"), "a tray cannot hang on a manifold; put it on a shelf");
    if (g->place == DF_PLACE_SHELF && g->lie == DF_LIE_SHELL && g->container.kind == DF_TUBE)
        return df_yaml_fail(ctx, df_yaml_get(map, "lie"),
                            "a shell on a tube's wall gets no heat from a shelf; hang it on a manifold");
    df_yaml_where(g->where, sizeof g->where, df_yaml_get(map, "fill"));
    df_shape shape;
    return df_shape_make(ctx, &shape, &g->container, g->fill, g->lie, g->where);
}

/* A list of components that did crystallise in this sample, or stayed liquid. */
static df_status read_seen(df_context *ctx, df_job *job, const df_substances *substances, const df_yaml_node *map,
                           const char *key, bool crystallised) {
    const df_yaml_node *list = df_yaml_get(map, key);
    df_status status = DF_OK;
    if (list != NULL && df_yaml_node_kind(list) != DF_YAML_LIST)
        return df_yaml_fail(ctx, list, "should be a list of substances");
    for (size_t i = 0; list != NULL && status == DF_OK && i < df_yaml_count(list); i++) {
        char where[200];
        const df_yaml_node *item = df_yaml_item(list, i);
        if (df_yaml_scalar(item) == NULL)
            return df_yaml_fail(ctx, item, "should be the name of a substance");
        status = df_composition_note(ctx, &job->composition, substances, df_yaml_scalar(item), crystallised,
                                     df_yaml_where(where, sizeof where, item));
    }
    return status;
}

static df_status read_sample(df_context *ctx, df_job *job, const df_substances *substances,
                             const df_yaml_node *root) {
    static const char *const keys[] = {"composition", "solutes", "crystallises", "stays_liquid"};
    const df_yaml_node *map = df_yaml_get(root, "sample");
    if (map == NULL)
        return df_yaml_missing(ctx, root, "sample", "the section 'sample' is missing");
    char where[200], text[512] = "";
    df_status status = df_yaml_check_keys(ctx, map, keys, COUNT(keys));
    STEP(df_yaml_text(ctx, text, sizeof text, map, "composition", true));
    STEP(df_composition_parse(ctx, &job->composition, substances, text,
                              df_yaml_where(where, sizeof where, df_yaml_get(map, "composition"))));
    for (size_t i = 0; status == DF_OK && i < job->composition.n; i++)
        if (job->composition.component[i]->is_involatile)
            return df_yaml_fail(ctx, df_yaml_get(map, "composition"),
                                "%s has no vapour; name it under 'solutes' with its concentration",
                                job->composition.component[i]->name);
    STEP(read_seen(ctx, job, substances, map, "crystallises", true));
    STEP(read_seen(ctx, job, substances, map, "stays_liquid", false));
    const df_yaml_node *list = df_yaml_get(map, "solutes");
    if (status != DF_OK || list == NULL)
        return status;
    if (df_yaml_node_kind(list) != DF_YAML_LIST || df_yaml_count(list) > DF_MAX_SOLUTES)
        return df_yaml_fail(ctx, list, "should be a list of at most %d solutes with name and concentration",
                            DF_MAX_SOLUTES);
    for (size_t i = 0; i < df_yaml_count(list) && status == DF_OK; i++)
        status = read_solute(ctx, &job->solute[job->solutes++], substances, df_yaml_item(list, i));
    return status;
}

static df_status read_freezing(df_context *ctx, df_job *job, const df_yaml_node *root) {
    static const char *const keys[] = {"means", "temperature"};
    const df_yaml_node *map = df_yaml_get(root, "freezing");
    if (map == NULL)
        return df_yaml_missing(ctx, root, "freezing",
                               "the section 'freezing' is missing; say means: freezer, dry_ice_bath, "
                               "liquid_nitrogen or shelf");
    const char *means[4];
    for (int i = 0; i < 4; i++)
        means[i] = df_means_name((df_means)i);
    int choice = 0;
    df_status status = df_yaml_check_keys(ctx, map, keys, COUNT(keys));
    STEP(df_yaml_choice(ctx, &choice, map, "means", true, means, 4));
    job->cooling.means = (df_means)choice;
    job->cooling.temperature = df_means_temperature(job->cooling.means);
    STEP(df_yaml_quantity_in(ctx, &job->cooling.temperature, map, "temperature", DF_DIM_TEMPERATURE, false, 70.0,
                             273.0));
    return status;
}

static df_status read_limits(df_context *ctx, df_job *job, const df_yaml_node *root) {
    static const char *const limit_keys[] = {"margin", "time", "product_temperature"};
    static const char *const model_keys[] = {"pore_exponent", "least_framework", "trace_liquid",
                                             "solids",        "top_coefficient", "dry_conductivity"};
    static const char *const cake_keys[] = {"r0", "a1", "a2"};
    const char *modes[4];
    for (int i = 0; i < 4; i++)
        modes[i] = df_freezing_mode_name((df_freezing_mode)i);
    df_status status = DF_OK;
    const df_yaml_node *map = df_yaml_get(root, "limits");
    if (map != NULL) {
        STEP(df_yaml_check_keys(ctx, map, limit_keys, COUNT(limit_keys)));
        STEP(df_yaml_quantity_in(ctx, &job->margin, map, "margin", DF_DIM_TEMPERATURE_STEP, false, 0.0, 50.0));
        STEP(df_yaml_quantity_in(ctx, &job->time_limit, map, "time", DF_DIM_TIME, false, 60.0, 1e8));
        STEP(df_yaml_quantity_in(ctx, &job->product_temperature, map, "product_temperature", DF_DIM_TEMPERATURE,
                                 false, 250.0, 450.0));
    }
    map = df_yaml_get(root, "model");
    if (map != NULL) {
        int mode = (int)job->mode;
        STEP(df_yaml_check_keys(ctx, map, model_keys, COUNT(model_keys)));
        STEP(df_yaml_quantity_in(ctx, &job->pore_exponent, map, "pore_exponent", DF_DIM_NUMBER, false, 0.0, 5.0));
        STEP(
            df_yaml_quantity_in(ctx, &job->least_framework, map, "least_framework", DF_DIM_PERCENT, false, 0.0, 1.0));
        STEP(df_yaml_quantity_in(ctx, &job->trace_liquid, map, "trace_liquid", DF_DIM_PERCENT, false, 0.0, 0.2));
        STEP(df_yaml_quantity_in(ctx, &job->top_coefficient, map, "top_coefficient", DF_DIM_HEAT_TRANSFER, false, 0.0,
                                 100.0));
        STEP(df_yaml_quantity_in(ctx, &job->dry_conductivity, map, "dry_conductivity", DF_DIM_CONDUCTIVITY, false,
                                 1e-3, 10.0));
        STEP(df_yaml_choice(ctx, &mode, map, "solids", false, modes, 4));
        job->mode = (df_freezing_mode)mode;
    }
    map = df_yaml_get(root, "cake");
    if (map != NULL) {
        STEP(df_yaml_check_keys(ctx, map, cake_keys, COUNT(cake_keys)));
        STEP(df_yaml_quantity_in(ctx, &job->cake.r0, map, "r0", DF_DIM_RESISTANCE, true, 1.0, 1e9));
        STEP(df_yaml_quantity_in(ctx, &job->cake.a1, map, "a1", DF_DIM_RESISTANCE_SLOPE, true, 0.0, 1e12));
        STEP(df_yaml_quantity_in(ctx, &job->cake.a2, map, "a2", DF_DIM_PER_LENGTH, false, 0.0, 1e7));
        job->cake.stated = true;
    }
    return status;
}

/* What happens on the way: power cuts, defrosts, air let in, coolant topped up. */
static df_status read_event(df_context *ctx, df_event *e, const df_yaml_node *map) {
    static const char *const keys[] = {"event", "time", "length", "thaw", "trap"};
    const char *names[4];
    int kind = 0;
    long trap = 1;
    for (int i = 0; i < 4; i++)
        names[i] = df_event_name((df_event_kind)i);
    df_status status = df_yaml_check_keys(ctx, map, keys, COUNT(keys));
    STEP(df_yaml_choice(ctx, &kind, map, "event", true, names, 4));
    e->kind = (df_event_kind)kind;
    STEP(df_yaml_quantity_in(ctx, &e->time, map, "time", DF_DIM_TIME, true, 0.0, 1e8));
    STEP(df_yaml_quantity_in(ctx, &e->length, map, "length", DF_DIM_TIME, e->kind != DF_EVENT_REFILL, 0.0, 1e8));
    e->thaw = 0.5 * e->length;
    STEP(df_yaml_quantity_in(ctx, &e->thaw, map, "thaw", DF_DIM_TIME, false, 0.0, e->length));
    STEP(df_yaml_integer(ctx, &trap, map, "trap", false, 1, DF_MAX_TRAPS));
    e->trap = (size_t)trap - 1;
    if (status == DF_OK && df_yaml_get(map, "thaw") != NULL && e->kind != DF_EVENT_DEFROST)
        return df_yaml_fail(ctx, df_yaml_get(map, "thaw"), "belongs to a defrost");
    return status;
}

static df_status read_events(df_context *ctx, df_job *job, const df_yaml_node *root) {
    const df_yaml_node *list = df_yaml_get(root, "events");
    df_status status = df_yaml_quantity_in(ctx, &job->loading, root, "loading", DF_DIM_TIME, false, 0.0, 1e6);
    if (status != DF_OK || list == NULL)
        return status;
    if (df_yaml_node_kind(list) != DF_YAML_LIST || df_yaml_count(list) > DF_MAX_EVENTS)
        return df_yaml_fail(ctx, list, "should be a list of at most %d events", DF_MAX_EVENTS);
    for (size_t i = 0; status == DF_OK && i < df_yaml_count(list); i++)
        status = read_event(ctx, &job->event[job->events++], df_yaml_item(list, i));
    return status;
}

/* How dry: a map from component to a quantity, "residual: {water: 1 %, acetonitrile: 410 ppm}"; what is not named is held
 * against the guideline's limit. */
static df_status read_residual(df_context *ctx, df_job *job, const df_substances *substances,
                               const df_yaml_node *root) {
    df_composition *c = &job->composition;
    df_status status = DF_OK;
    for (size_t i = 0; i < c->n && status == DF_OK; i++)
        status = df_residual_limit_find(ctx, &job->limit[i], c->component[i]);
    const df_yaml_node *map = df_yaml_get(root, "residual");
    if (status != DF_OK || map == NULL)
        return status;
    if (df_yaml_node_kind(map) != DF_YAML_MAP)
        return df_yaml_fail(ctx, map, "should say for a substance how much may be left, as in water: 1 %%");
    for (size_t k = 0; k < df_yaml_count(map) && status == DF_OK; k++) {
        const char *key = df_yaml_key(map, k);
        const df_yaml_node *value = df_yaml_item(map, k);
        const df_substance *substance = NULL;
        char where[200];
        size_t i = 0;
        df_yaml_where(where, sizeof where, value);
        status = df_substances_find(ctx, &substance, substances, key, where);
        while (status == DF_OK && i < c->n && c->component[i] != substance)
            i++;
        if (status == DF_OK && i == c->n)
            return df_yaml_fail(ctx, value, "%s is not in the sample", substance->name);
        STEP(df_yaml_quantity_in(ctx, &job->target[i], map, key, DF_DIM_PERCENT, true, 1e-9, 1.0));
        STEP(df_residual_limit_state(ctx, &job->limit[i], job->target[i], where));
    }
    if (status == DF_OK && job->solutes == 0)
        return df_yaml_fail(ctx, map, "needs solutes: without a cake nothing can be left in it");
    return status;
}

/* Other dryers that the sample may go to. */
static df_status read_dryers(df_context *ctx, df_job *job, const df_yaml_node *root) {
    const df_yaml_node *list = df_yaml_get(root, "dryers");
    if (list == NULL)
        return DF_OK;
    if (df_yaml_node_kind(list) != DF_YAML_LIST || df_yaml_count(list) > DF_MAX_OTHERS)
        return df_yaml_fail(ctx, list, "should be a list of at most %d dryers", DF_MAX_OTHERS);
    df_yaml_where(job->others_where, sizeof job->others_where, list);
    for (size_t i = 0; i < df_yaml_count(list); i++) {
        const df_yaml_node *item = df_yaml_item(list, i);
        const char *name = df_yaml_scalar(item);
        if (name == NULL || name[0] == '\0' || strlen(name) >= sizeof job->other[0])
            return df_yaml_fail(ctx, item, "should be the name of a built-in dryer or the path of a dryer file");
        snprintf(job->other[job->others++], sizeof job->other[0], "%s", name);
    }
    return DF_OK;
}

df_status df_job_parse(df_context *ctx, df_job *job, const df_substances *substances, const df_containers *containers,
                       const char *buffer, size_t length, const char *name) {
    static const char *const keys[] = {"job",      "purpose",  "dryer",  "sample",      "containers",
                                       "freezing", "recipe",   "limits", "model",       "loading",
                                       "events",   "residual", "cake",   "uncertainty", "dryers"};
    df_yaml *yaml = NULL;
    df_status status = df_yaml_parse(ctx, &yaml, buffer, length, name);
    if (status != DF_OK)
        return status;
    memset(job, 0, sizeof *job);
    job->containers = containers;
    df_setup defaults;
    df_setup_defaults(&defaults);
    job->margin = defaults.margin;
    job->time_limit = defaults.time_limit;
    job->pore_exponent = defaults.pore_exponent;
    job->least_framework = defaults.least_framework;
    job->trace_liquid = defaults.trace_liquid;
    job->dry_conductivity = DF_DRY_CONDUCTIVITY;
    job->start_pressure = DF_ATMOSPHERE;
    int purpose = DF_PURPOSE_SCREENING;
    const df_yaml_node *root = df_yaml_root(yaml);
    STEP(df_yaml_check_keys(ctx, root, keys, COUNT(keys)));
    STEP(df_yaml_text(ctx, job->name, sizeof job->name, root, "job", true));
    STEP(df_yaml_choice(ctx, &purpose, root, "purpose", true, purposes, COUNT(purposes)));
    STEP(df_yaml_text(ctx, job->dryer, sizeof job->dryer, root, "dryer", true));
    if (status == DF_OK) {
        job->purpose = (df_purpose)purpose;
        df_yaml_where(job->dryer_where, sizeof job->dryer_where, df_yaml_get(root, "dryer"));
    }
    STEP(read_sample(ctx, job, substances, root));
    STEP(read_freezing(ctx, job, root));
    STEP(read_limits(ctx, job, root));
    STEP(read_events(ctx, job, root));
    STEP(read_residual(ctx, job, substances, root));
    STEP(df_uncertain_read(ctx, job->uncertain, df_yaml_get(root, "uncertainty")));
    STEP(read_dryers(ctx, job, root));
    const df_yaml_node *list = df_yaml_get(root, "containers");
    if (status == DF_OK && list == NULL)
        status = df_yaml_missing(ctx, root, "containers", "the list 'containers' is missing");
    if (status == DF_OK &&
        (df_yaml_node_kind(list) != DF_YAML_LIST || df_yaml_count(list) == 0 || df_yaml_count(list) > DF_MAX_GROUPS))
        status = df_yaml_fail(ctx, list, "should be a list of 1 to %d groups of containers", DF_MAX_GROUPS);
    for (size_t i = 0; status == DF_OK && i < df_yaml_count(list); i++)
        STEP(read_group(ctx, &job->group[job->groups++], containers, df_yaml_item(list, i)));
    if (status == DF_OK && df_yaml_get(root, "recipe") != NULL)
        status = df_recipe_parse(ctx, &job->recipe, df_yaml_get(root, "recipe"));
    job->recipe_given = job->recipe.n > 0;
    if (status == DF_OK && job->recipe_given)
        df_yaml_where(job->recipe_where, sizeof job->recipe_where, df_yaml_get(root, "recipe"));
    bool on_shelf = false;
    for (size_t i = 0; i < job->groups; i++)
        on_shelf = on_shelf || job->group[i].place == DF_PLACE_SHELF;
    if (status == DF_OK && on_shelf && !job->recipe_given)
        status = df_yaml_missing(ctx, root, "recipe",
                                 "containers stand on a shelf, but there is no 'recipe' with its temperature");
    df_yaml_free(yaml);
    return status;
}
