/* What is seen of a run: moments, what the classes live through, what happened, and the account at the end. */
#include "drying/system.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#define SETTLED 200.0   /* Pa, by when a chamber counts as evacuated */
#define PATIENCE 3600.0 /* s, after which it is judged though it is not */
#define EVACUATED 100.0 /* Pa */
#define HELD 1.05       /* times the set point: still at it */
#define NOT_HELD 300.0  /* s above it before it is worth a word */
#define CHOKED 0.9      /* share of sonic flow that counts as choked */
#define DRIPS 0.05      /* share of a trap's deposit that is liquid, and DRIPS_MASS, from which it is worth a word */
#define DRIPS_MASS 0.01 /* kg */
#define LOADED 2.0      /* times the pump's own ultimate pressure */

double df_shelf_at(const df_system *s, double time) {
    const df_recipe *r = &s->setup->recipe;
    const df_mode *m = &s->mode;
    double wanted = r->n == 0 ? 0.0 : df_interpolate(r->time, r->shelf_temperature, r->n, time);
    if (m->shelf_off) {
        double room = s->dryer->chamber.room_temperature, drift = s->dryer->shelf.drift;
        return room + (m->shelf_from - room) * exp(-(time - m->shelf_since) / (drift > 0.0 ? drift : 1.0));
    }
    double rest = fabs(m->shelf_offset) - df_shelf_ramp(s->dryer) * (time - m->shelf_since);
    return m->shelf_offset != 0.0 && rest > 0.0 ? wanted + copysign(rest, m->shelf_offset) : wanted;
}

double df_wanted_at(const df_system *s, double time) {
    const df_recipe *r = &s->setup->recipe;
    return s->mode.control && r->n > 0 ? df_interpolate(r->time, r->pressure, r->n, time) : 0.0;
}

void df_run_note(df_run *run, df_notice_kind kind, double time, int class_, int index, double a, double b, double c) {
    if (run->notices == DF_MAX_NOTICES)
        return;
    run->notice[run->notices++] = (df_notice){kind, time, class_, index, {a, b, c}};
}

bool df_run_grow(df_run *run, size_t *capacity, bool terse) {
    if (run->moments < *capacity)
        return true;
    size_t more = *capacity == 0 ? (terse ? 4 : 256) : 2 * *capacity;
    df_moment *moments = realloc(run->moment, more * sizeof *moments);
    if (moments != NULL)
        run->moment = moments;
    df_class_moment *containers = realloc(run->container, more * run->class_count * sizeof *containers);
    if (containers != NULL)
        run->container = containers;
    if (moments == NULL || containers == NULL)
        return false;
    for (size_t i = 0; i < run->moments; i++)
        run->moment[i].container = &run->container[i * run->class_count];
    *capacity = more;
    return true;
}

/* Limit of temperature of the frozen part of a class now: the solidus, or the framework's own melting point once nothing
 * else is left that counts, and the solute's critical temperature. */
static double limit_now(bool *solute, const df_body *b, bool others) {
    const df_substance *only = b->c->composition.component[b->framework];
    double limit = b->solidus;
    if (!others)
        limit = only->crystallises == DF_CRYSTAL_READILY ? only->melting_temperature : NAN;
    *solute = false;
    double critical = b->c->critical_temperature;
    if (!isnan(critical) && !isnan(limit) && critical < limit) {
        *solute = true;
        limit = critical;
    }
    return limit;
}

/* ---- a class -------------------------------------------------------------------------------------------------- */

/* The cake's Tg at its water; NAN where none is known. */
static double glass_at(const df_body *b, const double *own, double framed) {
    const df_class *c = b->c;
    if (!(c->glass_water > 0.0))
        return NAN;
    double water = 0.0;
    for (size_t j = 0; j < b->bound; j++)
        if (c->composition.component[b->held[j]]->is_water)
            water = own[b->n + j] - framed * b->caught[b->held[j]]; /* of the dried part */
    double dried = fmax(1.0 - framed, 1e-6);
    return df_table_at(c->glass, fmax(water, 0.0) / (c->solids * dried) / c->glass_water * (DF_GLASS_POINTS - 1),
                       DF_GLASS_POINTS);
}

/* What the dried cake lives through from the moment before to this one. */
static void watch_cake(df_class_run *r, df_class_moment *m, const df_class_moment *before, df_run *run,
                       const df_system *s, size_t k, const double *own, double framed, double time, double step) {
    const df_body *b = &s->body[k];
    const df_class *c = b->c;
    bool met = true, asked = false;
    m->glass = glass_at(b, own, framed);
    for (size_t j = 0; j < b->bound; j++) {
        size_t i = b->held[j];
        m->bound[i] = own[b->n + j] / c->solids;
        if (s->setup->target[i] > 0.0 && c->sorption[i].known) {
            asked = true;
            met = met && m->bound[i] <= s->setup->target[i] * (1.0 + 1e-6);
        }
        if (before != NULL && framed < DF_LAST_FRAMEWORK)
            r->exposure[i] +=
                0.5 * step *
                (df_sorption_rate(&c->sorption[i], before->front) + df_sorption_rate(&c->sorption[i], m->front));
    }
    if (framed < DF_LAST_FRAMEWORK) {
        r->cake_hottest = fmax(r->cake_hottest, m->front);
        double margin = m->glass - m->front;
        if (margin < r->least_glass_margin) {
            if (r->least_glass_margin >= 0.0 && margin < 0.0)
                df_run_note(run, DF_NOTICE_GLASS_PASSED, time, (int)k, -1, m->front, m->glass, 0.0);
            r->least_glass_margin = margin;
            r->least_glass_time = time;
        }
    }
    if (asked && met && isnan(r->target_time) && !isnan(r->time_dry)) {
        r->target_time = time;
        df_run_note(run, DF_NOTICE_TARGET_MET, time, (int)k, -1, 0.0, 0.0, 0.0);
    }
}

/* Hottest point, margin, liquid and framework of a class; false where the framework no longer stands. */
static bool watch_frozen(df_class_run *r, df_class_moment *m, df_run *run, const df_system *s, size_t k,
                         const df_look *l, bool others, double time) {
    const df_body *b = &s->body[k];
    const df_frozen_path *p = b->c->path;
    bool solute;
    double limit = limit_now(&solute, b, others), margin = isnan(limit) ? -INFINITY : limit - l->wall;
    m->limit = isnan(limit) ? -INFINITY : limit;
    if (l->wall > r->hottest) {
        r->hottest = l->wall;
        r->hottest_time = time;
    }
    if (margin < s->setup->margin && isnan(r->margin_lost_time)) {
        r->margin_lost_time = time;
        df_run_note(run, DF_NOTICE_MARGIN_LOST, time, (int)k, solute, l->wall, limit, s->setup->margin);
    }
    if (margin < r->least_margin) {
        if (r->least_margin >= 0.0 && margin < 0.0)
            df_run_note(run, DF_NOTICE_LIMIT_PASSED, time, (int)k, solute, l->wall, limit, 0.0);
        r->least_margin = margin;
        r->least_margin_time = time;
        r->least_margin_limit = limit;
        r->limit_is_solute = solute;
    }
    double framework;
    if (others) {
        framework = df_frozen_path_at(p, p->solid_volume, l->wall);
        r->most_liquid = fmax(r->most_liquid, df_frozen_path_at(p, p->liquid_mass, l->wall));
    } else
        framework = l->front > b->c->composition.component[b->framework]->melting_temperature ? 0.0 : 1.0;
    r->least_framework = fmin(r->least_framework, framework);
    return framework >= s->setup->least_framework;
}

static bool observe_class(df_run *run, df_system *s, size_t k, const double *own, df_moment *m,
                          const df_moment *before, double total) {
    df_body *b = &s->body[k];
    df_class_run *r = &run->classes[k];
    df_class_moment *now = &m->container[k];
    df_inside in;
    df_look l;
    (void)df_body_inside(&in, b, own);
    df_body_look(&l, s, b, &in, own, m->chamber, total, m->shelf);
    now->front = l.front;
    now->hottest = l.wall;
    now->heat = b->hung ? l.heat + l.top : 0.0;
    now->glass = now->limit = NAN;
    double framed = df_body_framed(b, own), other = df_body_others(b, own);
    for (size_t i = 0; i < b->n; i++) {
        now->left[i] = b->gone[i] ? 0.0 : own[i] / b->initial[i];
        if (b->hung)
            m->rate[b->map[i]] += (double)b->c->count * l.flow[i];
    }
    for (size_t j = 0; j < b->bound; j++) {
        size_t i = b->held[j];
        now->left[i] = (now->left[i] * b->initial[i] + own[b->n + j]) / (b->initial[i] + b->caught[i]);
        if (b->hung)
            m->rate[b->map[i]] += (double)b->c->count * l.release[j];
    }
    now->depth = df_table_at(b->c->shape.depth, framed * (DF_SHAPE_POINTS - 1), DF_SHAPE_POINTS);
    if (!b->hung)
        return true;
    bool others = other > s->setup->trace_liquid; /* less could not make more liquid than counts */
    if (other <= DF_SOLVENT_GONE * s->setup->trace_liquid && isnan(r->solvent_time)) {
        r->solvent_time = m->time;
        if (b->n > 1)
            df_run_note(run, DF_NOTICE_SOLVENT_GONE, m->time, (int)k, -1, 0.0, 0.0, 0.0);
    }
    if (b->bound > 0)
        watch_cake(r, now, before != NULL ? &before->container[k] : NULL, run, s, k, own, framed, m->time,
                   before != NULL ? m->time - before->time : 0.0);
    if (framed < DF_LAST_FRAMEWORK)
        return true; /* the framework has left as vapour; traces that stay behind lie in the dry cake */
    if (watch_frozen(r, now, run, s, k, &l, others, m->time))
        return true;
    if (run->notices == 0 || run->notice[run->notices - 1].kind != DF_NOTICE_FRAMEWORK_LOST)
        df_run_note(run, DF_NOTICE_FRAMEWORK_LOST, m->time, (int)k, -1, l.wall, r->least_framework, 0.0);
    return false;
}

/* ---- the dryer ------------------------------------------------------------------------------------------------ */

/* What keeps the chamber above its set point: the largest part of the pressure on the way from the pump to the chamber. */
static df_holder find_holder(const df_moment *m, const df_system *s, const double *y, double total) {
    double part[DF_HOLDERS] = {0.0}, over[SPECIES];
    df_deposit_pressures(over, s, &y[df_at_deposit(s, 0)], m->trap_surface[0]);
    const double *gas = &y[df_at_gas(s, 0)];
    double trap[GASES];
    df_gas_pressures(trap, s, gas, s->dryer->trap[0].volume);
    for (size_t i = 0; i < s->species; i++) {
        double bound = fmin(fmax(over[i], 0.0), fmax(trap[i], 0.0)); /* what the deposit itself gives */
        part[DF_HOLDER_TRAP] += bound;
        part[DF_HOLDER_PUMP] += fmax(trap[i], 0.0) - bound;
    }
    part[DF_HOLDER_LEAK] = trap[s->species];
    part[DF_HOLDER_DUCT] = fmax(total - m->trap_pressure, 0.0);
    df_holder worst = DF_HOLDER_TRAP;
    for (int h = DF_HOLDER_TRAP; h < DF_HOLDERS; h++)
        if (part[h] > part[worst])
            worst = (df_holder)h;
    return worst;
}

static void watch_pressure(df_run *run, df_system *s, df_moment *m, const df_moment *before, const double *y,
                           double total) {
    bool settled = m->time >= s->settle_from + DF_SETTLING && m->time >= 0.0 &&
                   (total < SETTLED || m->time - s->settle_from >= PATIENCE);
    double step = before != NULL ? m->time - before->time : 0.0;
    if (total <= EVACUATED && m->time > 0.0 && !s->evacuated) {
        s->evacuated = true;
        df_run_note(run, DF_NOTICE_EVACUATED, m->time, -1, -1, total, 0.0, 0.0);
    }
    m->holder = m->wanted > 0.0 && total > HELD * m->wanted ? find_holder(m, s, y, total) : DF_HOLDER_NONE;
    m->settled = settled;
    if (!settled) {
        s->above_since = NAN;
        return;
    }
    run->highest_pressure = fmax(run->highest_pressure, total);
    run->highest_trap_surface = fmax(run->highest_trap_surface, m->trap_surface[0]);
    run->highest_choke = fmax(run->highest_choke, m->choked);
    if (m->choked > CHOKED && !s->choke_noted) {
        s->choke_noted = true;
        df_run_note(run, DF_NOTICE_DUCT_CHOKED, m->time, -1, -1, m->choked, total, m->trap_pressure);
    }
    if (m->wanted > 0.0)
        run->held[m->holder] += step;
    if (m->holder == DF_HOLDER_NONE) {
        s->above_since = NAN;
        return;
    }
    if (isnan(s->above_since)) {
        s->above_since = m->time;
        s->above_noted = false;
    }
    if (m->time - s->above_since >= NOT_HELD && !s->above_noted) {
        s->above_noted = true;
        df_run_note(run, DF_NOTICE_PRESSURE_NOT_HELD, m->time, -1, (int)m->holder, total, m->wanted, 0.0);
    }
}

static void watch_traps(df_run *run, df_system *s, df_moment *m, const double *y) {
    const df_dryer *d = s->dryer;
    for (size_t j = 0; j < s->traps; j++) {
        const double *deposit = &y[df_at_deposit(s, j)];
        double solid = 0.0, all = 0.0;
        m->coil[j] = y[df_at_coil(s, j)];
        m->trap_surface[j] = y[df_at_coil(s, j) + 1];
        m->coolant[j] = y[s->at_coolant + j];
        for (size_t i = 0; i < s->species; i++) {
            double there = fmax(deposit[i], 0.0);
            m->deposit[i] += deposit[i];
            all += there;
            solid += there * df_deposit_solid_share(s, deposit, i, m->trap_surface[j]);
        }
        if (solid > d->trap[j].capacity && !(s->full & 1u << j)) {
            s->full |= 1u << j;
            if (!run->trap_full)
                run->trap_full_time = m->time;
            run->trap_full = true;
            df_run_note(run, DF_NOTICE_TRAP_FULL, m->time, -1, (int)j, solid, d->trap[j].capacity, 0.0);
        }
        if (all - solid > fmax(DRIPS_MASS, DRIPS * all) && !(s->drips & 1u << j) && !s->mode.thawing[j]) {
            s->drips |= 1u << j;
            df_run_note(run, DF_NOTICE_TRAP_DRIPS, m->time, -1, (int)j, all - solid, all, m->trap_surface[j]);
        }
    }
    for (size_t i = 0; i < s->species; i++)
        m->deposit[i] += s->drained[i];
}

static void watch_pump(df_run *run, df_system *s, df_moment *m, const double *y) {
    const df_dryer *d = s->dryer;
    size_t n = s->species, last = s->traps - 1;
    double pressure[GASES], organic = 0.0, in_oil = 0.0;
    const double *gas = &y[df_at_gas(s, last)];
    df_gas_pressures(pressure, s, gas, d->trap[last].volume);
    m->pump_pressure = df_sum(pressure, n + 1);
    m->ultimate = df_oil_ultimate(s, &y[s->at_oil]);
    double speed = s->mode.pump && !s->mode.thawing[last] ? df_pump_speed(d, m->pump_pressure, m->ultimate) : 0.0;
    for (size_t i = 0; i < n; i++) {
        m->exhaust[i] = y[s->at_exhaust + i];
        m->oil[i] = s->oil ? y[s->at_oil + i] : 0.0;
        m->exhaust_rate[i] = speed * gas[i] / d->trap[last].volume;
        run->exhaust_peak[i] = fmax(run->exhaust_peak[i], m->exhaust_rate[i]);
        if (!s->substance[i]->is_water) {
            organic += m->exhaust[i] + m->oil[i];
            in_oil += m->oil[i];
        }
    }
    run->organic_to_pump = organic;
    double counted = d->pump.ballast > 0.0 ? in_oil : organic; /* the ballast drives it out again */
    if (counted > d->pump.solvent_limit && !run->pump_overloaded) {
        run->pump_overloaded = true;
        run->pump_overload_time = m->time;
        df_run_note(run, DF_NOTICE_PUMP_OVERLOADED, m->time, -1, -1, counted, d->pump.solvent_limit, 0.0);
    }
    if (m->ultimate > LOADED * d->pump.ultimate + 0.1 && !s->oil_noted) {
        s->oil_noted = true;
        df_run_note(run, DF_NOTICE_OIL_LOADED, m->time, -1, -1, m->ultimate, d->pump.ultimate, in_oil);
    }
}

static void drop_second(df_run *run) {
    size_t classes = run->class_count;
    run->moment[1] = run->moment[2];
    memcpy(&run->container[classes], &run->container[2 * classes], classes * sizeof run->container[0]);
    run->moment[1].container = &run->container[classes];
    run->moments = 2;
}

bool df_observe(df_run *run, df_system *s, const double *y, double time) {
    const df_dryer *d = s->dryer;
    if (s->setup->terse && run->moments == 3) /* first, the one before, this one */
        drop_second(run);
    df_moment *m = &run->moment[run->moments];
    const df_moment *before = run->moments > 0 ? m - 1 : NULL;
    size_t n = s->species;
    double trap[GASES], flow[GASES];
    memset(m, 0, sizeof *m);
    m->container = &run->container[run->moments++ * s->bodies];
    memset(m->container, 0, s->bodies * sizeof *m->container);
    m->time = time;
    df_gas_pressures(m->chamber, s, &y[s->at_chamber], d->chamber.volume);
    df_gas_pressures(trap, s, &y[df_at_gas(s, 0)], d->trap[0].volume);
    double total = df_sum(m->chamber, n + 1);
    m->trap_pressure = df_sum(trap, n + 1);
    m->choked = s->mode.shut[0] || s->mode.thawing[0]
                    ? 0.0
                    : df_tube_flow(flow, d->duct.diameter, d->duct.length, m->chamber, trap, s->molar_mass, n + 1,
                                   s->gas_temperature);
    m->shelf = df_shelf_at(s, time);
    m->wanted = df_wanted_at(s, time);
    watch_traps(run, s, m, y);
    watch_pump(run, s, m, y);
    watch_pressure(run, s, m, before, y, total);
    if (before != NULL) {
        double watts = s->mode.pump ? d->pump.power : 0.0;
        for (size_t j = 0; j < s->traps; j++)
            watts += s->mode.cooling[j] && d->trap[j].kind == DF_TRAP_COIL ? d->trap[j].power : 0.0;
        run->electricity += watts * (time - before->time);
    }
    bool stands = true;
    for (size_t k = 0; k < s->bodies; k++)
        stands = observe_class(run, s, k, &y[s->shape.start[k]], m, before, total) && stands;
    return stands;
}

/* ---- the end -------------------------------------------------------------------------------------------------- */

static void finish_class(df_run *run, const df_system *s, size_t k, const double *y, const double *start) {
    const df_body *b = &s->body[k];
    const df_class *c = b->c;
    const double *own = &y[s->shape.start[k]];
    double count = (double)c->count;
    for (size_t i = 0; i < b->n; i++) {
        run->initial[b->map[i]] += count * (b->initial[i] + b->caught[i]);
        run->product[b->map[i]] += count * own[i];
    }
    const df_moment *last = &run->moment[run->moments - 1];
    for (size_t j = 0; j < b->bound; j++) {
        size_t i = b->held[j];
        run->bound[b->map[i]] += count * own[b->n + j];
        df_class_run *r = &run->classes[k];
        double t = last->container[k].front;
        df_sorption_band(&r->residual[i], &c->sorption[i], b->caught[i] / c->solids,
                         (b->initial[i] + b->caught[i]) / c->solids, r->exposure[i],
                         df_body_equilibrium(b, j, t, last->chamber[b->map[i]]), t, r->cake_hottest);
        r->residual[i].likely = c->sorption[i].known ? own[b->n + j] / c->solids : NAN;
    }
    run->heat_stored += count * (own[b->side - 1] - start[s->shape.start[k] + b->side - 1]);
}

void df_run_finish(df_run *run, const df_system *s, const double *y, const double *start) {
    run->primary_time = 0.0;
    for (size_t k = 0; k < s->bodies; k++) {
        finish_class(run, s, k, y, start);
        if (!(s->body[k].taken && isnan(run->classes[k].time_dry)) && !isnan(run->primary_time))
            run->primary_time =
                isnan(run->classes[k].time_dry) ? NAN : fmax(run->primary_time, run->classes[k].time_dry);
    }
    if (s->setup->terse && run->moments == 3)
        drop_second(run);
    for (size_t i = 0; i < s->species; i++) {
        run->gas[i] = y[s->at_chamber + i];
        for (size_t j = 0; j < s->traps; j++) {
            const double *deposit = &y[df_at_deposit(s, j)];
            run->gas[i] += y[df_at_gas(s, j) + i];
            run->trap_deposit[j][i] = deposit[i];
            run->deposit[i] += deposit[i];
            run->deposit_liquid[i] +=
                deposit[i] * (1.0 - df_deposit_solid_share(s, deposit, i, y[df_at_coil(s, j) + 1]));
        }
        run->drained[i] = s->drained[i];
        run->oil[i] = s->oil ? y[s->at_oil + i] : 0.0;
        run->exhaust[i] = y[s->at_exhaust + i];
    }
    for (size_t j = 0; j < s->traps; j++)
        run->coolant[j] = y[s->at_coolant + j];
    run->heat_in = y[s->at_heat];
    run->heat_out = y[s->at_heat + 1];
}

double df_run_account_error(const df_run *run, size_t i) {
    double found = run->product[i] + run->bound[i] + run->gas[i] + run->deposit[i] + run->drained[i] + run->oil[i] +
                   run->exhaust[i];
    return fabs(found - run->initial[i]) / run->initial[i];
}
