/* Model (a) of a run: one front for each volatile species in each class of containers, quasi-steady in the body, and what
 * the dried cake holds, integrated in time together with chamber, duct, traps and pump; from cue to cue of recipe, events
 * and flasks. docs/drying.md. */
#include "base/solver.h"
#include "drying/system.h"

#include <cvode/cvode.h>
#include <math.h>
#include <nvector/nvector_serial.h>
#include <stdlib.h>
#include <string.h>

#define LOOSE_TIME 10.0     /* s after a species has left a class, in which the chamber finds a new level and */
#define LOOSE_STEP 0.05     /* s, the first step after it */
#define MOMENT 0.05         /* s, in which what a framework leaves behind may leave at once */
#define FIRST_STEP 1e-4     /* s, after all else */
#define LEAST_PRESSURE -1.0 /* Pa: a gas below it is no state to go on from */
#define LEAST_APART 2.0     /* s between two moments, unless something happens */
#define MOST_STEPS 100000   /* a run takes some hundreds */
#define THAWED 283.15       /* K of a trap when it is closed again after a defrost: assumption */
#define MOST_CUES (DF_MAX_RECIPE + 3 * DF_MAX_EVENTS + 2 * DF_MAX_CLASSES + 1)

void df_cake_assume(df_cake *cake, double solids) {
    double share = solids / (solids + 1000.0);
    cake->r0 = 1.0e4;
    cake->a1 = 1.9e5 / 5e-3 * share / 0.25;
    cake->a2 = 0.0;
    cake->stated = false;
}

void df_setup_defaults(df_setup *s) {
    memset(s, 0, sizeof *s);
    s->pore_exponent = 1.5;
    s->least_framework = 0.45;
    s->trace_liquid = 0.01;
    s->margin = 1.0;
    s->time_limit = 14.0 * 86400.0;
    s->start_pressure = 100.0;
    s->tolerance = 3e-5;
}

double df_effective_solidus(const df_frozen_path *path, double trace) {
    size_t i = path->points - 1;
    while (i > 0 && path->liquid_mass[i] > trace)
        i--;
    if (path->liquid_mass[i] > trace)
        return NAN;
    double here = path->lowest + path->step * (double)i;
    if (i + 1 == path->points)
        return here;
    double linear =
        here + path->step * (trace - path->liquid_mass[i]) / (path->liquid_mass[i + 1] - path->liquid_mass[i]);
    /* A jump between two nodes is an invariant: the solidus itself, where it lies there, is the better figure. */
    bool jump = path->solidus >= here && path->solidus < here + path->step;
    return jump ? fmax(path->solidus, fmin(linear, path->solidus + 0.01)) : linear;
}

/* ---- setting up ----------------------------------------------------------------------------------------------- */

/* Offsets of the state vector. */
static void lay_out(df_system *s) {
    df_arrow_shape *shape = &s->shape;
    size_t gases = s->species + 1;
    shape->classes = s->bodies;
    for (size_t k = 0; k < s->bodies; k++) {
        shape->start[k] = s->states;
        shape->side[k] = s->body[k].side;
        s->states += s->body[k].side;
    }
    s->at_chamber = s->states;
    s->at_trap = s->at_chamber + gases;
    s->trap_stride = gases + s->species + 2;
    s->at_oil = s->at_trap + s->traps * s->trap_stride;
    s->at_exhaust = s->at_oil + (s->oil ? s->species : 0);
    s->at_air = s->at_exhaust + gases;
    s->at_coolant = s->at_air + 1;
    s->at_heat = s->at_coolant + s->traps;
    s->states = s->at_heat + 2;
    shape->gases = gases;
    shape->core_start = s->at_chamber;
    shape->core = s->at_exhaust - s->at_chamber;
    shape->tail_start = s->at_exhaust;
    shape->tail = s->states - s->at_exhaust;
}

static df_status check_setup(df_context *ctx, const df_setup *setup) {
    if (setup->class_count == 0 || setup->class_count > DF_MAX_CLASSES)
        return df_fail(ctx, DF_E_INPUT, "a run needs 1 to %d classes of containers, not %zu", DF_MAX_CLASSES,
                       setup->class_count);
    if (setup->events > DF_MAX_EVENTS)
        return df_fail(ctx, DF_E_INPUT, "more than %d events in one run", DF_MAX_EVENTS);
    for (size_t k = 0; k < setup->class_count; k++)
        if (!(setup->classes[k].off_time > setup->classes[k].on_time))
            return df_fail(ctx, DF_E_INPUT, "%s: taken off before it is put on", setup->classes[k].name);
    for (size_t i = 0; i < setup->events; i++) {
        const df_event *e = &setup->event[i];
        bool at_trap = e->kind == DF_EVENT_DEFROST || e->kind == DF_EVENT_REFILL;
        if (!(e->time >= 0.0) || !(e->length >= 0.0) || (e->kind == DF_EVENT_DEFROST && !(e->thaw <= e->length)))
            return df_fail(ctx, DF_E_INPUT,
                           "event %zu (%s): times should not be below 0, nor the thaw last longer "
                           "than the event",
                           i + 1, df_event_name(e->kind));
        if (at_trap && e->trap >= setup->dryer->traps)
            return df_fail(ctx, DF_E_INPUT, "event %zu (%s): the dryer has no second trap", i + 1,
                           df_event_name(e->kind));
        if (e->kind == DF_EVENT_REFILL && setup->dryer->trap[e->trap].kind != DF_TRAP_FINGER)
            return df_fail(ctx, DF_E_INPUT, "event %zu (refill): this trap has a compressor, not a coolant", i + 1);
    }
    return DF_OK;
}

/* The species of all classes, and their tables where the setup brings none. */
static df_status collect_species(df_context *ctx, df_system *s) {
    const df_setup *setup = s->setup;
    for (size_t k = 0; k < s->bodies; k++)
        for (size_t i = 0; i < setup->classes[k].path->n; i++)
            if (df_species_index(s, setup->classes[k].composition.component[i]) < 0)
                return df_fail(ctx, DF_E_INPUT, "more than %d volatile substances in one run", SPECIES);
    s->deposit = setup->deposit;
    if (s->deposit != NULL)
        return DF_OK;
    s->own_deposit = malloc(sizeof *s->own_deposit);
    if (s->own_deposit == NULL)
        return df_fail(ctx, DF_E_MEMORY, "out of memory");
    s->deposit = s->own_deposit;
    df_composition all = {.n = s->species};
    for (size_t i = 0; i < s->species; i++)
        all.component[i] = s->substance[i];
    return df_deposit_make(ctx, s->own_deposit, NULL, &all);
}

static df_status prepare(df_context *ctx, df_system *s, const df_setup *setup) {
    s->setup = setup;
    s->dryer = setup->dryer;
    s->gas_temperature = setup->dryer->chamber.room_temperature;
    s->bodies = setup->class_count;
    s->traps = setup->dryer->traps;
    s->oil = setup->dryer->pump.kind == DF_PUMP_OIL_SEALED;
    s->start = -setup->loading;
    s->above_since = NAN;
    df_status status = collect_species(ctx, s);
    if (status == DF_OK)
        status = df_plant_prepare(ctx, s);
    for (size_t k = 0; status == DF_OK && k < s->bodies; k++) {
        status = df_body_prepare(ctx, s, k);
        s->body[k].hung = setup->classes[k].on_time <= s->start;
    }
    lay_out(s);
    return status;
}

/* ---- cues: what is done at a time ------------------------------------------------------------------------------ */

typedef enum cue_kind { CUE_START, CUE_CORNER, CUE_BEGIN, CUE_THAWED, CUE_END, CUE_ON, CUE_OFF } cue_kind;

typedef struct cue {
    double time;
    cue_kind kind;
    size_t index; /* event or class */
} cue;

typedef struct cues {
    cue list[MOST_CUES];
    size_t n, next;
} cues;

static void add_cue(cues *c, const df_system *s, double time, cue_kind kind, size_t index) {
    if (!(time > s->start) && kind != CUE_START)
        time = s->start;
    if (time < INFINITY)
        c->list[c->n++] = (cue){time, kind, index};
}

static int by_time(const void *a, const void *b) {
    const cue *p = a, *q = b;
    if (p->time != q->time)
        return p->time < q->time ? -1 : 1;
    return p->kind != q->kind ? (p->kind < q->kind ? -1 : 1) : (p->index > q->index) - (p->index < q->index);
}

static void make_cues(cues *c, const df_system *s) {
    const df_setup *setup = s->setup;
    c->n = c->next = 0;
    add_cue(c, s, 0.0, CUE_START, 0);
    for (size_t i = 1; i < setup->recipe.n; i++)
        add_cue(c, s, setup->recipe.time[i], CUE_CORNER, i);
    for (size_t i = 0; i < setup->events; i++) {
        const df_event *e = &setup->event[i];
        add_cue(c, s, e->time, CUE_BEGIN, i);
        if (e->kind == DF_EVENT_DEFROST)
            add_cue(c, s, e->time + e->thaw, CUE_THAWED, i);
        if (e->kind != DF_EVENT_REFILL)
            add_cue(c, s, e->time + e->length, CUE_END, i);
    }
    for (size_t k = 0; k < s->bodies; k++) {
        if (!s->body[k].hung)
            add_cue(c, s, s->body[k].c->on_time, CUE_ON, k);
        add_cue(c, s, s->body[k].c->off_time, CUE_OFF, k);
    }
    qsort(c->list, c->n, sizeof c->list[0], by_time);
}

static bool running(const df_event *e, df_event_kind kind, double time) {
    return e->kind == kind && time >= e->time && time < e->time + e->length;
}

/* What runs and what is open from `time` on. */
static void set_mode(df_system *s, double time) {
    const df_setup *setup = s->setup;
    df_mode *m = &s->mode;
    bool cut = false;
    m->vent = false;
    memset(m->shut, 0, sizeof m->shut);
    memset(m->thawing, 0, sizeof m->thawing);
    for (size_t i = 0; i < setup->events; i++) {
        const df_event *e = &setup->event[i];
        cut = cut || running(e, DF_EVENT_POWER_CUT, time);
        m->vent = m->vent || running(e, DF_EVENT_VACUUM_BREAK, time);
        if (running(e, DF_EVENT_DEFROST, time)) {
            m->shut[e->trap] = true;
            m->thawing[e->trap] = m->thawing[e->trap] || time < e->time + e->thaw;
        }
    }
    m->pump = time >= 0.0 && !cut && !m->vent;
    m->control = m->pump;
    for (size_t j = 0; j < s->traps; j++)
        m->cooling[j] = s->dryer->trap[j].kind == DF_TRAP_FINGER ? !s->empty[j] : !cut;
    if (cut != m->shelf_off) {
        double shelf = df_shelf_at(s, time);
        m->shelf_off = cut;
        m->shelf_from = shelf;
        m->shelf_since = time;
        m->shelf_offset = 0.0;
        if (!cut)
            m->shelf_offset = shelf - df_shelf_at(s, time);
    }
}

/* Fills a space with air to one atmosphere; what vapour was there goes to the exhaust. */
static void flood(double *y, const df_system *s, size_t trap) {
    double *gas = &y[df_at_gas(s, trap)],
           air = df_filling(s, AIR_MOLAR_MASS, DF_ATMOSPHERE, s->dryer->trap[trap].volume);
    for (size_t i = 0; i < s->species; i++) {
        y[s->at_exhaust + i] += gas[i];
        gas[i] = 0.0;
    }
    y[s->at_air] += air;
    y[s->at_exhaust + s->species] += gas[s->species];
    gas[s->species] = air;
}

static void begin_event(df_run *run, df_system *s, double *y, const df_event *e) {
    static const df_notice_kind kinds[] = {DF_NOTICE_POWER_CUT, DF_NOTICE_DEFROST, DF_NOTICE_VACUUM_BREAK,
                                           DF_NOTICE_REFILL};
    df_run_note(run, kinds[e->kind], e->time, -1, (int)e->trap, e->length, e->thaw, 0.0);
    if (e->kind == DF_EVENT_DEFROST)
        flood(y, s, e->trap);
    if (e->kind == DF_EVENT_REFILL) {
        s->empty[e->trap] = false;
        s->refilled[e->trap] = y[s->at_coolant + e->trap];
    }
}

/* A trap has thawed: what it held is drained, it is closed and cools down from here. */
static void drain(df_run *run, df_system *s, double *y, const df_event *e) {
    double all = 0.0;
    double *deposit = &y[df_at_deposit(s, e->trap)], *coil = &y[df_at_coil(s, e->trap)];
    for (size_t i = 0; i < s->species; i++) {
        s->drained[i] += deposit[i];
        all += deposit[i];
        deposit[i] = 0.0;
    }
    coil[0] = coil[1] = THAWED;
    s->full &= ~(1u << e->trap);
    s->drips &= ~(1u << e->trap);
    df_run_note(run, DF_NOTICE_DEFROSTED, e->time + e->thaw, -1, (int)e->trap, all, 0.0, 0.0);
}

static void put_on(df_run *run, df_system *s, double *y, size_t k) {
    df_body *b = &s->body[k];
    const df_class *c = b->c;
    double pressure[GASES], head = fmax(c->container.brim_volume - c->shape.volume, 0.0);
    df_gas_pressures(pressure, s, &y[s->at_chamber], s->dryer->chamber.volume);
    double lack = fmax(DF_ATMOSPHERE - df_sum(pressure, s->species + 1), 0.0);
    double air = (double)c->count * df_filling(s, AIR_MOLAR_MASS, lack, head);
    b->hung = true;
    y[s->at_chamber + s->species] += air;
    y[s->at_air] += air;
    df_run_note(run, DF_NOTICE_PUT_ON, c->on_time, (int)k, -1, air, 0.0, 0.0);
}

static void take_off(df_run *run, df_system *s, const double *y, size_t k) {
    df_body *b = &s->body[k];
    const double *own = &y[s->shape.start[k]];
    double left = 0.0, all = 0.0;
    b->hung = false;
    b->taken = true;
    for (size_t i = 0; i < b->n; i++) {
        left += b->gone[i] ? 0.0 : own[i];
        all += b->initial[i];
    }
    df_run_note(run, left > GONE * all ? DF_NOTICE_TAKEN_WET : DF_NOTICE_TAKEN_OFF, b->c->off_time, (int)k, -1, left,
                left / all, 0.0);
}

static bool is_due(const cues *c, double time) {
    return c->next < c->n && c->list[c->next].time <= time + 1e-9 * fmax(fabs(time), 1.0);
}

/* Does what is due at `time`; true where the integration has to begin anew, false for a mere corner of the recipe: *corner. */
static bool take_cues(df_run *run, df_system *s, double *y, cues *c, double time, bool *corner) {
    bool anew = false;
    *corner = false;
    for (; is_due(c, time); c->next++) {
        const cue *q = &c->list[c->next];
        const df_event *e = q->kind >= CUE_BEGIN && q->kind <= CUE_END ? &s->setup->event[q->index] : NULL;
        anew = anew || q->kind != CUE_CORNER;
        switch (q->kind) {
        case CUE_START:
            s->settle_from = time;
            break;
        case CUE_CORNER:
            *corner = true;
            break;
        case CUE_BEGIN:
            begin_event(run, s, y, e);
            s->settle_from = time;
            break;
        case CUE_THAWED:
            drain(run, s, y, e);
            break;
        case CUE_END:
            s->settle_from = time;
            if (e->kind != DF_EVENT_DEFROST)
                df_run_note(run, e->kind == DF_EVENT_POWER_CUT ? DF_NOTICE_POWER_BACK : DF_NOTICE_VACUUM_BACK, time,
                            -1, -1, df_sum(run->moment[run->moments - 1].chamber, s->species + 1), 0.0, 0.0);
            break;
        case CUE_ON:
            put_on(run, s, y, q->index);
            s->settle_from = time;
            break;
        case CUE_OFF:
            take_off(run, s, y, q->index);
            break;
        }
    }
    set_mode(s, time);
    return anew;
}

/* ---- marching ------------------------------------------------------------------------------------------------- */

/* The framework has left a container: what lies there as a pure substance and is gone within a moment goes to the chamber at
 * once, with its heat. */
static void let_go(df_system *s, double *y, size_t k, double time) {
    const df_body *b = &s->body[k];
    double *own = &y[s->shape.start[k]], *gas = &y[s->at_chamber], chamber[GASES], vapour[SPECIES];
    df_inside in;
    df_look l;
    df_gas_pressures(chamber, s, gas, s->dryer->chamber.volume);
    if (!df_body_inside(&in, b, own))
        return;
    df_body_look(&l, s, b, &in, own, chamber, df_sum(chamber, s->species + 1), df_shelf_at(s, time));
    double count = (double)b->c->count, heat = df_body_let_go(own, vapour, b, &l, MOMENT);
    for (size_t i = 0; i < b->n; i++)
        gas[b->map[i]] += count * vapour[i];
    y[s->at_heat + 1] += count * heat;
}

/* Marks species that are gone; true where any newly is. */
static bool mark_gone(df_run *run, df_system *s, double *y, double time) {
    bool news = false;
    for (size_t k = 0; k < s->bodies; k++) {
        df_body *b = &s->body[k];
        const double *own = &y[s->shape.start[k]];
        bool all = true;
        if (!b->gone[b->framework] && own[b->framework] <= 1.0001 * GONE * b->initial[b->framework] && b->n > 1) {
            b->gone[b->framework] = news = true;
            run->classes[k].species_time[b->framework] = time;
            let_go(s, y, k, time);
        }
        for (size_t i = 0; i < b->n; i++) {
            if (!b->gone[i] && own[i] <= 1.0001 * GONE * b->initial[i]) {
                b->gone[i] = true;
                news = true;
                run->classes[k].species_time[i] = time;
            }
            all = all && b->gone[i];
        }
        if (all && isnan(run->classes[k].time_dry)) {
            run->classes[k].time_dry = time;
            df_run_note(run, DF_NOTICE_PRIMARY_END, time, (int)k, -1, 0.0, 0.0, 0.0);
        }
    }
    return news;
}

/* A finger whose coolant has boiled away. */
static bool mark_empty(df_run *run, df_system *s, const double *y, double time) {
    bool news = false;
    for (size_t j = 0; j < s->traps; j++) {
        const df_trap *t = &s->dryer->trap[j];
        if (t->kind != DF_TRAP_FINGER || s->empty[j] ||
            y[s->at_coolant + j] - s->refilled[j] < t->charge * (1.0 - 1e-6))
            continue;
        s->empty[j] = news = true;
        s->mode.cooling[j] = false;
        df_run_note(run, DF_NOTICE_COOLANT_GONE, time, -1, (int)j, t->charge, 0.0, 0.0);
    }
    return news;
}

/* Whether a class has reached its targets, or has none that could be reached. */
static bool satisfied(const df_run *run, const df_system *s, size_t k) {
    const df_body *b = &s->body[k];
    bool asked = false;
    for (size_t j = 0; j < b->bound; j++)
        asked = asked || (s->setup->target[b->held[j]] > 0.0 && b->c->sorption[b->held[j]].known);
    return !asked || !isnan(run->classes[k].target_time);
}

/* Why the run ends now, if it does. */
static bool is_over(df_run *run, const df_system *s, const cues *c, double time, bool stands) {
    const df_setup *setup = s->setup;
    bool dry = true, short_of = false, solvent_gone = true;
    for (size_t k = 0; k < s->bodies; k++) {
        const df_class_run *r = &run->classes[k];
        dry = dry && (s->body[k].taken || (!isnan(r->time_dry) && satisfied(run, s, k)));
        short_of = short_of || r->least_margin < setup->margin;
        solvent_gone = solvent_gone && !isnan(r->solvent_time);
    }
    for (size_t i = c->next; i < c->n && dry; i++) /* a flask still to be put on, an end of recipe to be waited for */
        dry = c->list[i].kind != CUE_ON && !(setup->whole_recipe && c->list[i].kind == CUE_CORNER);
    if (dry)
        run->end = DF_END_DRY;
    else if (!stands && !setup->keep_going)
        run->end = DF_END_FRAMEWORK_LOST;
    else if (setup->stop_short && short_of)
        run->end = DF_END_SHORT;
    else if (setup->until_solvent && solvent_gone)
        run->end = DF_END_SOLVENT;
    else if (time >= setup->time_limit) {
        run->end = DF_END_TIME_LIMIT;
        df_run_note(run, DF_NOTICE_TIME_LIMIT, time, -1, -1, 0.0, 0.0, 0.0);
    } else
        return false;
    return true;
}

static void count_work(df_run *run, void *cvode) {
    long steps = 0, evaluations = 0;
    CVodeGetNumSteps(cvode, &steps);
    CVodeGetNumRhsEvals(cvode, &evaluations);
    run->steps += steps;
    run->evaluations += evaluations;
}

/* Begins the integration anew from where it is. */
static bool begin_anew(df_run *run, df_solver *v, double time, double step) {
    count_work(run, v->cvode);
    return CVodeReInit(v->cvode, time, v->state) == CV_SUCCESS && CVodeSetInitStep(v->cvode, step) == CV_SUCCESS;
}

/* Tells the caller how far the run is; false where it is to be stopped. */
static bool go_on(const df_system *s, const double *y, double time) {
    double left = 0.0, all = 0.0;
    if (s->setup->progress == NULL)
        return true;
    for (size_t k = 0; k < s->bodies; k++)
        for (size_t i = 0; i < s->body[k].n; i++) {
            left += (double)s->body[k].c->count * fmax(y[s->shape.start[k] + i], 0.0);
            all += (double)s->body[k].c->count * s->body[k].initial[i];
        }
    return s->setup->progress(s->setup->progress_data, 1.0 - left / all, time);
}

/* Goes on from where another run stood. */
static df_status take_up(df_context *ctx, df_run *run, df_system *s, df_solver *v, size_t *capacity, cues *c,
                         double *time) {
    const df_mark *mark = s->setup->from;
    if (!df_run_grow(run, capacity, s->setup->terse))
        return df_fail(ctx, DF_E_MEMORY, "out of memory");
    if (!df_mark_restore(run, s, N_VGetArrayPointer(v->state), mark))
        return df_fail(ctx, DF_E_INPUT, "a run goes on from one of the same classes on the same dryer alone");
    *time = df_mark_time(mark);
    while (is_due(c, *time))
        c->next++;
    if (!begin_anew(run, v, *time, FIRST_STEP))
        return df_fail(ctx, DF_E_INTERNAL, "the time integration could not be taken up again");
    return DF_OK;
}

static df_status march(df_context *ctx, df_run *run, df_system *s, df_solver *v) {
    double time = s->start, *y = N_VGetArrayPointer(v->state);
    size_t capacity = 0;
    long taken = 0;
    cues c;
    make_cues(&c, s);
    s->least_pressure = LEAST_PRESSURE;
    set_mode(s, time);
    double loose_until = -INFINITY;
    CVodeSetInitStep(v->cvode, FIRST_STEP);
    bool look = s->setup->from == NULL; /* a step by which hardly any time passed is not looked at */
    df_status status = look ? DF_OK : take_up(ctx, run, s, v, &capacity, &c, &time);
    if (status != DF_OK)
        return status;
    for (;;) {
        bool anew = false;
        if (look) {
            if (!df_run_grow(run, &capacity, s->setup->terse))
                return df_fail(ctx, DF_E_MEMORY, "out of memory");
            bool stands = df_observe(run, s, y, time);
            run->time = time;
            bool corner;
            anew = take_cues(run, s, y, &c, time, &corner);
            if (is_over(run, s, &c, time, stands))
                return DF_OK;
            if (!df_context_go_on(ctx) || !go_on(s, y, time))
                return df_fail(ctx, DF_E_STOPPED, "stopped at %.3f h of the run", time / 3600.0);
            df_mark *mark = corner && s->setup->mark != NULL ? df_mark_make(run, s, y, time) : NULL;
            if (mark != NULL)
                s->setup->mark(s->setup->mark_data, mark);
        }
        if (anew && taken > 0) {
            if (!begin_anew(run, v, time, FIRST_STEP))
                return df_fail(ctx, DF_E_INTERNAL, "the time integration could not be taken up again");
        }
        double stop = c.next < c.n ? fmin(c.list[c.next].time, s->setup->time_limit) : s->setup->time_limit;
        if (time <
            s->settle_from + DF_SETTLING) /* the first that is judged is no matter of where steps happen to end */
            stop = fmin(stop, s->settle_from + DF_SETTLING);
        CVodeSetStopTime(v->cvode, stop);
        if (++taken > MOST_STEPS)
            return df_fail(ctx, DF_E_CONVERGENCE, "the time integration got stuck at %.3f h", time / 3600.0);
        double reached = time;
        s->loose = time < loose_until;
        int flag = CVode(v->cvode, stop, v->state, &reached, CV_ONE_STEP);
        if (flag < 0)
            return df_fail(ctx, DF_E_CONVERGENCE, "the time integration stopped at %.3f h (integrator code %d)",
                           time / 3600.0, flag);
        time = reached;
        /* Where a gas did stray below, the integration has to be let on from there. */
        s->least_pressure = fmin(LEAST_PRESSURE, 1.5 * df_lowest_pressure(s, y));
        bool news = mark_gone(run, s, y, time);
        news = mark_empty(run, s, y, time) || news;
        look = anew || news || flag != CV_SUCCESS || time >= stop || (!s->loose && time - run->time >= LEAST_APART);
        if (news) {
            loose_until = time + LOOSE_TIME;
            if (!begin_anew(run, v, time, LOOSE_STEP))
                return df_fail(ctx, DF_E_INTERNAL, "the time integration could not be taken up again");
        }
    }
}

static void start_run(df_run *run, const df_system *s) {
    run->species = s->species;
    run->class_count = s->bodies;
    memcpy(run->substance, s->substance, sizeof run->substance);
    for (size_t k = 0; k < s->bodies; k++) {
        df_class_run *r = &run->classes[k];
        r->time_dry = r->solvent_time = r->margin_lost_time = r->target_time = NAN;
        r->least_framework = 1.0;
        r->least_margin = r->least_glass_margin = INFINITY;
        for (size_t i = 0; i < SPECIES; i++)
            r->species_time[i] = NAN;
    }
}

df_status df_run_simulate(df_context *ctx, df_run *run, const df_setup *setup) {
    memset(run, 0, sizeof *run);
    df_status status = check_setup(ctx, setup);
    if (status != DF_OK)
        return status;
    df_system *s = calloc(1, sizeof *s);
    if (s == NULL)
        return df_fail(ctx, DF_E_MEMORY, "out of memory");
    s->body = calloc(setup->class_count, sizeof *s->body);
    status = s->body != NULL ? prepare(ctx, s, setup) : df_fail(ctx, DF_E_MEMORY, "out of memory");
    df_solver v = {0};
    double *start = status == DF_OK ? malloc(s->states * sizeof *start) : NULL;
    if (status == DF_OK && (start == NULL || !df_integrator_open(&v, s)))
        status = df_fail(ctx, DF_E_MEMORY, "the time integration could not be set up");
    if (status == DF_OK) {
        start_run(run, s);
        memcpy(start, N_VGetArrayPointer(v.state), s->states * sizeof *start);
        status = march(ctx, run, s, &v);
        count_work(run, v.cvode);
        if (status == DF_OK)
            df_run_finish(run, s, N_VGetArrayPointer(v.state), start);
    }
    df_solver_close(&v);
    free(start);
    for (size_t k = 0; s->body != NULL && k < s->bodies; k++)
        df_body_release(&s->body[k]);
    free(s->own_deposit);
    free(s->measure);
    free(s->slopes);
    free(s->body);
    free(s);
    if (status != DF_OK)
        df_run_free(run);
    return status;
}

void df_run_free(df_run *run) {
    if (run == NULL)
        return;
    free(run->moment);
    free(run->container);
    run->moment = NULL;
    run->container = NULL;
    run->moments = 0;
}
