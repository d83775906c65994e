/* What may be done with a job, and a job with some of it done. */
#include "advice/action.h"
#include "base/yaml_write.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#define WARMEST_HOLD 263.15 /* K of a shelf that is held until the solvent has gone, as in the remedies */
#define MOST_LOADS 12
#define MINUTE 60.0 /* s */
#define HALF_HOUR 1800.0
#define COUNT(a) (sizeof(a) / sizeof((a)[0]))

static const char *const names[] = {"dilute",    "strip",       "exchange", "freeze",  "shell",      "spread",
                                    "container", "hold",        "shelf",    "vacuum",  "onto_shelf", "rise",
                                    "trap",      "second_trap", "dry_pump", "ballast", "dryer"};
_Static_assert(COUNT(names) == DF_ACTIONS, "a name for each action");

const char *df_action_name(df_action_kind kind) {
    return names[kind];
}

int df_action_slot(df_action_kind kind) {
    static const int slots[] = {0, 0, 0, 1, 1, 2, 2, 3, 3, 3, 3, 7, 4, 4, 5, 5, 6};
    return slots[kind];
}

bool df_job_adapt(df_job *job, const df_dryer *dryer) {
    bool changed = false, shelf = false;
    for (size_t i = 0; i < job->groups; i++)
        shelf = shelf || job->group[i].place == DF_PLACE_SHELF;
    for (size_t i = 0; i < job->recipe.n; i++) {
        double t = job->recipe.shelf_temperature[i];
        if (shelf && dryer->shelf.present)
            t = fmin(fmax(t, dryer->shelf.lowest), dryer->shelf.highest);
        changed = changed || t != job->recipe.shelf_temperature[i];
        job->recipe.shelf_temperature[i] = t;
        if (job->recipe.pressure[i] > 0.0 && dryer->chamber.control == DF_CONTROL_NONE) {
            job->recipe.pressure[i] = 0.0;
            changed = true;
        }
    }
    size_t kept = 0;
    for (size_t i = 0; i < job->events; i++) {
        const df_event *event = &job->event[i];
        bool there = event->trap < dryer->traps;
        if ((event->kind == DF_EVENT_DEFROST && !there) ||
            (event->kind == DF_EVENT_REFILL && !(there && dryer->trap[event->trap].kind == DF_TRAP_FINGER)))
            changed = true;
        else
            job->event[kept++] = *event;
    }
    job->events = kept;
    return changed;
}

/* ---- what may be done ----------------------------------------------------------------------------------------- */

typedef struct list {
    df_action *action;
    size_t n;
} list;

static void put(list *l, df_action action) {
    if (l->n < DF_MOST_ACTIONS)
        l->action[l->n++] = action;
}

static double main_fraction(const df_composition *c) {
    double f[DF_MAX_COMPONENTS], most = 0.0;
    df_composition_fractions(f, c, DF_BASIS_VOLUME);
    for (size_t i = 0; i < c->n; i++)
        if (!c->component[i]->is_water)
            most = fmax(most, f[i]);
    return most;
}

static void liquids(list *l, const df_job *job, const df_substance *butanol) {
    static const double dilutions[] = {0.7, 0.5, 0.33}, stripped[] = {0.5, 0.2, 0.05};
    double all = df_organic_fraction(&job->composition), most = main_fraction(&job->composition);
    if (all < 0.01)
        return;
    for (size_t i = 0; i < COUNT(dilutions); i++)
        put(l, (df_action){.kind = DF_ACTION_DILUTE, .from = all, .to = all * dilutions[i]});
    for (size_t i = 0; i < COUNT(stripped); i++)
        if (most < 1.0 - 1e-9)
            put(l, (df_action){.kind = DF_ACTION_STRIP, .from = most, .to = most * stripped[i]});
    for (long passes = 1; passes <= DF_ROUTE_BOILINGS; passes++)
        put(l, (df_action){.kind = DF_ACTION_EXCHANGE, .from = all, .passes = passes});
    bool there = false;
    for (size_t i = 0; i < job->composition.n; i++)
        there = there || job->composition.component[i] == butanol;
    for (long passes = 1; passes <= 2 && !there; passes++)
        put(l, (df_action){.kind = DF_ACTION_EXCHANGE, .from = all, .passes = passes, .added = butanol});
}

static void filling(list *l, const df_job *job, bool freezing) {
    bool flasks = false;
    put(l, (df_action){.kind = DF_ACTION_SPREAD, .strength = 1.0 / 2.0});
    put(l, (df_action){.kind = DF_ACTION_SPREAD, .strength = 1.0 / 3.0});
    put(l, (df_action){.kind = DF_ACTION_CONTAINER});
    for (size_t i = 0; i < job->groups; i++)
        flasks = flasks || (job->group[i].container.kind == DF_FLASK && job->group[i].lie == DF_LIE_REST);
    if (freezing && job->cooling.temperature > df_means_temperature(DF_MEANS_DRY_ICE_BATH) + 5.0)
        put(l, (df_action){.kind = DF_ACTION_FREEZE,
                           .from = job->cooling.temperature,
                           .to = df_means_temperature(DF_MEANS_DRY_ICE_BATH),
                           .means = DF_MEANS_DRY_ICE_BATH});
    if (freezing && job->cooling.temperature > df_means_temperature(DF_MEANS_LIQUID_NITROGEN) + 5.0)
        put(l, (df_action){.kind = DF_ACTION_FREEZE,
                           .from = job->cooling.temperature,
                           .to = df_means_temperature(DF_MEANS_LIQUID_NITROGEN),
                           .means = DF_MEANS_LIQUID_NITROGEN});
    if (flasks)
        put(l, (df_action){.kind = DF_ACTION_SHELL});
}

static void settings(list *l, const df_job *job, bool glass) {
    static const double rises[] = {0.1 / 60.0, 0.05 / 60.0, 0.03 / 60.0, 0.02 / 60.0}; /* K/s */
    static const double holds[] = {0.0, 0.2, 0.4, 0.6}, shelves[] = {0.0, 0.33, 0.67};
    bool shelf = false, manifold = false, pressure = false;
    for (size_t i = 0; i < job->groups; i++) {
        shelf = shelf || job->group[i].place == DF_PLACE_SHELF;
        manifold = manifold || job->group[i].place == DF_PLACE_MANIFOLD;
    }
    for (size_t i = 0; i < job->recipe.n; i++)
        pressure = pressure || job->recipe.pressure[i] > 0.0;
    for (size_t i = 0; i < COUNT(holds) && shelf && df_organic_fraction(&job->composition) > 0.0; i++)
        put(l, (df_action){.kind = DF_ACTION_HOLD, .strength = holds[i]});
    for (size_t i = 0; i < COUNT(shelves); i++) {
        if (shelf)
            put(l, (df_action){.kind = DF_ACTION_SHELF, .strength = shelves[i]});
        if (manifold && !shelf)
            put(l, (df_action){.kind = DF_ACTION_ONTO_SHELF, .strength = shelves[i]});
    }
    if (pressure)
        put(l, (df_action){.kind = DF_ACTION_VACUUM});
    for (size_t i = 0; i < COUNT(rises) && shelf && glass; i++)
        put(l, (df_action){.kind = DF_ACTION_RISE, .to = rises[i]});
}

size_t df_actions_list(df_action out[DF_MOST_ACTIONS], const df_routes_task *task, const df_efforts *e,
                       const df_offer *offer) {
    list l = {out, 0};
    liquids(&l, task->job, offer->butanol);
    filling(&l, task->job, offer->freezing);
    settings(&l, task->job, offer->glass);
    put(&l, (df_action){.kind = DF_ACTION_TRAP, .to = e->trap_first});
    put(&l, (df_action){.kind = DF_ACTION_TRAP, .to = e->trap_second});
    put(&l, (df_action){.kind = DF_ACTION_SECOND_TRAP,
                        .coolant = DF_COOLANT_DRY_ICE,
                        .to = df_coolant_temperature(DF_COOLANT_DRY_ICE)});
    put(&l, (df_action){.kind = DF_ACTION_SECOND_TRAP,
                        .coolant = DF_COOLANT_NITROGEN,
                        .to = df_coolant_temperature(DF_COOLANT_NITROGEN)});
    if (offer->pump) {
        put(&l, (df_action){.kind = DF_ACTION_BALLAST, .to = e->ballast});
        put(&l, (df_action){.kind = DF_ACTION_DRY_PUMP});
    }
    for (size_t i = 0; i < task->others; i++)
        put(&l, (df_action){.kind = DF_ACTION_DRYER, .dryer = i});
    return l.n;
}

/* ---- doing it ------------------------------------------------------------------------------------------------- */

static bool use_dryer(df_plan *p, df_action *a, const df_routes_task *task, const df_efforts *e) {
    p->dryer = task->other[a->dryer];
    df_job_adapt(&p->job, &p->dryer);
    p->buys |= DF_BUY_DRYER;
    p->purchase += e->cost_dryer;
    return true;
}

static bool colder_trap(df_plan *p, df_action *a, const df_efforts *e) {
    df_trap *t = &p->dryer.trap[0];
    a->from = df_trap_no_load(t);
    if (t->kind != DF_TRAP_COIL || a->to > a->from - 5.0)
        return false;
    df_trap_bring(t, a->to);
    p->buys |= DF_BUY_TRAP;
    p->purchase += e->cost_trap;
    return true;
}

/* A generic finger; its figures are assumptions, those of examples/dryers/two-traps.yaml. */
static bool second_trap(df_plan *p, const df_action *a, const df_efforts *e) {
    if (p->dryer.traps >= DF_MAX_TRAPS || a->to > df_trap_no_load(&p->dryer.trap[0]) - 5.0)
        return false;
    p->dryer.trap[p->dryer.traps++] = (df_trap){.kind = DF_TRAP_FINGER,
                                                .coolant = a->coolant,
                                                .temperature = a->to,
                                                .charge = e->finger_charge,
                                                .loss = 8.0,
                                                .area = 0.08,
                                                .volume = 6e-3,
                                                .capacity = 1.5,
                                                .heat_capacity = 500.0,
                                                .power = NAN};
    p->dryer.link = (df_tube){.diameter = 0.04, .length = 0.4};
    for (double t = e->hours_refill; p->job.events < DF_MAX_EVENTS && t < p->job.time_limit; t += e->hours_refill)
        p->job.event[p->job.events++] = (df_event){.kind = DF_EVENT_REFILL, .time = t, .trap = p->dryer.traps - 1};
    p->refills = true;
    p->buys |= DF_BUY_SECOND_TRAP;
    p->purchase += e->cost_second_trap;
    if (a->coolant == DF_COOLANT_NITROGEN)
        p->warns |= DF_WARN_NITROGEN;
    return true;
}

static bool pump(df_plan *p, df_action *a, const df_efforts *e) {
    if (p->dryer.pump.kind != DF_PUMP_OIL_SEALED)
        return false;
    if (a->kind == DF_ACTION_DRY_PUMP) {
        p->dryer.pump.kind = DF_PUMP_DRY; /* with the speed and ultimate pressure of the one it takes the place of */
        p->dryer.pump.solvent_limit = INFINITY;
        p->dryer.pump.ballast = 0.0;
        p->buys |= DF_BUY_PUMP;
        p->purchase += e->cost_pump;
    } else {
        a->from = p->dryer.pump.ballast;
        if (a->from > 0.0)
            return false;
        p->dryer.pump.ballast = a->to;
        p->hands_on += e->minutes_oil;
    }
    return true;
}

static void use_liquid(df_plan *p, df_action *a, const df_liquid *l, const df_efforts *e) {
    if (a != NULL)
        *a = l->action;
    p->job.composition = l->composition;
    memcpy(p->job.solute, l->solute, sizeof p->job.solute);
    memcpy(p->job.target, l->target, sizeof p->job.target);
    memcpy(p->job.limit, l->limit, sizeof p->job.limit);
    for (size_t i = 0; i < p->job.groups && l->volume < 1.0; i++)
        p->job.group[i].fill *= l->volume; /* less in each; more goes into more containers */
    p->hands_on += l->hands_on;
    p->warns |= l->warns;
    if (l->added > 0.0) {
        p->buys |= DF_BUY_SOLVENT;
        p->purchase += e->cost_solvent * 1e3 * l->added;
    }
}

static bool shell(df_plan *p) {
    bool changed = false;
    for (size_t i = 0; i < p->job.groups; i++)
        if (p->job.group[i].container.kind == DF_FLASK && p->job.group[i].lie == DF_LIE_REST) {
            p->job.group[i].lie = DF_LIE_SHELL;
            changed = true;
        }
    return changed;
}

/* The next larger container of the kind for every group. */
static bool larger(df_plan *p, df_action *a) {
    df_containers *builtin = NULL;
    const df_containers *all = p->job.containers;
    if (all == NULL && df_containers_create(NULL, &builtin) != DF_OK)
        return false;
    all = all != NULL ? all : builtin;
    bool found = true;
    for (size_t i = 0; i < p->job.groups && found; i++) {
        df_container *now = &p->job.group[i].container;
        const df_container *best = NULL;
        for (size_t k = 0; k < df_containers_count(all); k++) {
            const df_container *c = df_containers_at(all, k);
            if (c->kind == now->kind && c->brim_volume > 1.01 * now->brim_volume &&
                (best == NULL || c->brim_volume < best->brim_volume))
                best = c;
        }
        found = best != NULL;
        if (found)
            *now = *best;
    }
    df_containers_free(builtin);
    if (!found)
        return false;
    a->container = p->job.group[0].container;
    return true;
}

static bool spread(df_plan *p, df_action *a) {
    a->from = p->job.group[0].fill;
    for (size_t i = 0; i < p->job.groups; i++)
        p->job.group[i].fill *= a->strength;
    a->to = p->job.group[0].fill;
    return true;
}

static bool shelf(df_plan *p, df_action *a) {
    const df_dryer *d = &p->dryer;
    df_recipe *r = &p->job.recipe;
    double warmest = 0.0;
    if (!d->shelf.present)
        return false;
    for (size_t k = 0; k < r->n; k++)
        warmest = fmax(warmest, r->shelf_temperature[k]);
    if (a->kind == DF_ACTION_ONTO_SHELF)
        warmest = WARMEST_HOLD;
    else if (a->kind == DF_ACTION_HOLD)
        warmest = fmin(warmest, WARMEST_HOLD);
    a->from = warmest;
    a->to =
        df_quantity_round(d->shelf.lowest + a->strength * (warmest - d->shelf.lowest), DF_DIM_TEMPERATURE, "°C", -1);
    a->to = fmax(a->to, d->shelf.lowest);
    if (warmest < d->shelf.lowest + 1.0)
        return false;
    if (a->kind == DF_ACTION_HOLD)
        p->hold = a->to;
    else if (a->kind == DF_ACTION_SHELF)
        for (size_t i = 0; i < r->n; i++)
            r->shelf_temperature[i] = fmin(r->shelf_temperature[i], a->to);
    else {
        for (size_t i = 0; i < p->job.groups; i++) {
            df_group *g = &p->job.group[i];
            if (g->place != DF_PLACE_MANIFOLD || isfinite(g->on) || isfinite(g->off))
                return false;
            g->place = DF_PLACE_SHELF;
        }
        r->n = 1;
        r->time[0] = 0.0;
        r->shelf_temperature[0] = a->to;
        r->pressure[0] = 0.0;
        p->job.recipe_given = true;
    }
    return true;
}

/* The last rise of the recipe made slower, so that the dried cake's glass keeps ahead; what follows comes as much later. */
static bool rise(df_plan *p, df_action *a) {
    df_recipe *r = &p->job.recipe;
    size_t end = r->n;
    while (end > 1 && r->shelf_temperature[end - 1] <= r->shelf_temperature[end - 2])
        end--;
    if (end < 2)
        return false;
    size_t top = end - 1, foot = top - 1;
    while (foot > 0 && r->shelf_temperature[foot] > r->shelf_temperature[foot - 1])
        foot--;
    double height = r->shelf_temperature[top] - r->shelf_temperature[foot], begin = r->time[foot];
    double before = r->time[top] - begin, length = HALF_HOUR * ceil(height / a->to / HALF_HOUR - 1e-9);
    a->from = height / before;
    a->to = height / length;
    if (length <= 1.1 * before)
        return false;
    for (size_t i = foot + 1; i < r->n; i++)
        r->time[i] = i < top ? MINUTE * round((begin + length / before * (r->time[i] - begin)) / MINUTE)
                             : r->time[i] + length - before;
    return true;
}

static bool vacuum(df_plan *p, df_action *a) {
    for (size_t i = 0; i < p->job.recipe.n; i++) {
        a->from = fmax(a->from, p->job.recipe.pressure[i]);
        p->job.recipe.pressure[i] = 0.0;
    }
    return a->from > 0.0;
}

static bool do_one(df_plan *p, df_action *a, const df_routes_task *task, const df_efforts *e,
                   const df_liquid *liquid) {
    switch (a->kind) {
    case DF_ACTION_DILUTE:
    case DF_ACTION_STRIP:
    case DF_ACTION_EXCHANGE:
        use_liquid(p, a, liquid, e);
        return true;
    case DF_ACTION_FREEZE:
        p->job.cooling = (df_cooling){.means = a->means, .temperature = a->to};
        return true;
    case DF_ACTION_SHELL:
        return shell(p);
    case DF_ACTION_SPREAD:
        return spread(p, a);
    case DF_ACTION_CONTAINER:
        return larger(p, a);
    case DF_ACTION_HOLD:
    case DF_ACTION_SHELF:
    case DF_ACTION_ONTO_SHELF:
        p->hands_on += e->minutes_recipe;
        return shelf(p, a);
    case DF_ACTION_VACUUM:
        p->hands_on += e->minutes_recipe;
        return vacuum(p, a);
    case DF_ACTION_RISE:
        p->hands_on += e->minutes_recipe;
        return rise(p, a);
    case DF_ACTION_TRAP:
        return colder_trap(p, a, e);
    case DF_ACTION_SECOND_TRAP:
        return second_trap(p, a, e);
    case DF_ACTION_DRY_PUMP:
    case DF_ACTION_BALLAST:
        return pump(p, a, e);
    case DF_ACTION_DRYER:
    default:
        return use_dryer(p, a, task, e);
    }
}

/* ---- loads ---------------------------------------------------------------------------------------------------- */

/* A group of count `whole` made `count`: spots in proportion, the rest in the centre; no volume is lost. */
static void resize(df_group *g, double whole, long loads) {
    long before = g->count, left;
    g->count = (long)fmax(1.0, ceil(whole / (double)loads - 1e-9));
    g->fill *= whole / ((double)loads * (double)g->count);
    left = g->count;
    for (int spot = DF_SPOT_EDGE; spot < DF_SPOTS; spot++) {
        g->at[spot] = (g->at[spot] * g->count + before / 2) / before;
        g->at[spot] = g->at[spot] < left ? g->at[spot] : left;
        left -= g->at[spot];
    }
    g->at[DF_SPOT_CENTRE] = left;
}

/* Shares the containers, `factor` times as many as the job has, over as few loads as fit. */
static bool share_out(df_plan *p, const df_job *before, double factor) {
    df_job whole = p->job;
    for (p->loads = 1; p->loads <= MOST_LOADS; p->loads++) {
        p->job = whole;
        for (size_t i = 0; i < whole.groups; i++) {
            double count = (double)before->group[i].count * factor;
            if (p->loads > 1 || factor != 1.0)
                resize(&p->job.group[i], count, p->loads);
        }
        if (df_trial_fit(NULL, &p->job, &p->dryer) == DF_OK)
            return true;
    }
    return false;
}

static double filling_time(const df_efforts *e, df_container_kind kind) {
    return kind == DF_FLASK ? e->minutes_flask : kind == DF_TRAY ? e->minutes_tray : e->minutes_vial;
}

/* Hands on and purchase that go with the number of containers and loads. */
static void count_up(df_plan *p, const df_job *before, const df_efforts *e, bool other_container) {
    long now = 0, then = 0;
    for (size_t i = 0; i < p->job.groups; i++) {
        const df_group *g = &p->job.group[i];
        long n = g->count * p->loads;
        now += n;
        then += other_container ? 0 : before->group[i].count;
        p->hands_on += (double)n * filling_time(e, g->container.kind);
        if (g->lie == DF_LIE_SHELL)
            p->hands_on += (double)n * e->minutes_shell;
    }
    p->hands_on += (double)p->loads * e->minutes_load;
    p->more_containers = now > then ? now - then : 0;
    if (p->more_containers > 0) {
        p->buys |= DF_BUY_CONTAINERS;
        p->purchase += e->cost_container * (double)p->more_containers;
    }
    if (p->job.cooling.means == DF_MEANS_LIQUID_NITROGEN) {
        p->hands_on += (double)p->loads * e->minutes_nitrogen;
        p->warns |= DF_WARN_NITROGEN;
        if (before->cooling.means != DF_MEANS_LIQUID_NITROGEN) {
            p->buys |= DF_BUY_NITROGEN;
            p->purchase += (double)p->loads * e->cost_nitrogen;
        }
    }
    if (p->loads > 1)
        p->warns |= DF_WARN_LOADS;
}

bool df_plan_make(df_plan *p, const df_routes_task *task, const df_efforts *e, const df_liquid *liquid,
                  const df_action *const *action, size_t n) {
    /* The dryer first: shelf and trap are set on it. */
    static const df_action_kind order[] = {
        DF_ACTION_DRYER,     DF_ACTION_TRAP,   DF_ACTION_SECOND_TRAP, DF_ACTION_DRY_PUMP, DF_ACTION_BALLAST,
        DF_ACTION_DILUTE,    DF_ACTION_STRIP,  DF_ACTION_EXCHANGE,    DF_ACTION_FREEZE,   DF_ACTION_SHELL,
        DF_ACTION_CONTAINER, DF_ACTION_SPREAD, DF_ACTION_VACUUM,      DF_ACTION_SHELF,    DF_ACTION_ONTO_SHELF,
        DF_ACTION_RISE,      DF_ACTION_HOLD};
    _Static_assert(COUNT(order) == DF_ACTIONS, "each kind once");
    double factor = 1.0;
    bool other_container = false;
    memset(p, 0, sizeof *p);
    p->job = *task->job;
    p->dryer = *task->dryer;
    p->liquid = liquid;
    p->hold = NAN;
    p->loads = 1;
    p->actions = n;
    for (size_t i = 0; i < n; i++)
        p->action[i] = *action[i];
    if (!liquid->possible)
        return false;
    for (size_t k = 0; k < COUNT(order); k++)
        for (size_t i = 0; i < n; i++)
            if (p->action[i].kind == order[k]) {
                if (!do_one(p, &p->action[i], task, e, liquid))
                    return false;
                if (order[k] == DF_ACTION_SPREAD)
                    factor /= p->action[i].strength;
                other_container = other_container || order[k] == DF_ACTION_CONTAINER;
            }
    factor *= fmax(liquid->volume, 1.0);
    if (fabs(factor - 1.0) < 1e-9)
        factor = 1.0;
    if (!share_out(p, task->job, factor))
        return false;
    for (size_t i = 0; i < p->job.groups; i++)
        if (p->job.group[i].fill != task->job->group[i].fill)
            p->job.group[i].fill = df_quantity_round(p->job.group[i].fill, DF_DIM_VOLUME, "mL", DF_TIDY_DIGITS);
    count_up(p, task->job, e, other_container);
    return true;
}
