/* The design space of primary drying: one shelf temperature and one pressure throughout, each a run. */
#include "advice/quest.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define ROUGH 1e-4 /* tolerance of the runs */
#define SWITCH 1.0 /* s from one pressure to the next */

static df_status check_grid(df_context *ctx, const df_dryer *d, size_t shelves, double shelf_low, double shelf_high,
                            size_t pressures, double pressure_low, double pressure_high) {
    if (d->chamber.control == DF_CONTROL_NONE)
        return df_fail(ctx, DF_E_INPUT,
                       "'%s' has no pressure control (control: bleed or throttle): there is no pressure to choose",
                       d->name);
    if (shelves < 2 || shelves > DF_SPACE_MOST || pressures < 2 || pressures > DF_SPACE_MOST)
        return df_fail(ctx, DF_E_INPUT, "a design space takes 2 to %d temperatures and pressures", DF_SPACE_MOST);
    if (!(shelf_low >= d->shelf.lowest - 1e-9 && shelf_high > shelf_low && shelf_high <= d->shelf.highest + 1e-9))
        return df_fail(ctx, DF_E_INPUT,
                       "shelf temperatures of %.1f to %.1f °C should rise within %.1f to %.1f °C of '%s'",
                       shelf_low - DF_ZERO_CELSIUS, shelf_high - DF_ZERO_CELSIUS, d->shelf.lowest - DF_ZERO_CELSIUS,
                       d->shelf.highest - DF_ZERO_CELSIUS, d->name);
    if (!(pressure_low > 0.0 && pressure_high > pressure_low && pressure_high <= 1e4))
        return df_fail(ctx, DF_E_INPUT, "pressures should rise between 0 and 100 mbar");
    return DF_OK;
}

static void read_cell(df_space_cell *c, const df_quest *q, const df_run *run) {
    c->time = run->end == DF_END_DRY ? run->primary_time : NAN;
    c->choke = run->highest_choke;
    c->trap = run->highest_trap_surface;
    c->trap_full = run->trap_full;
    c->oil_loaded = run->pump_overloaded;
    c->product = INFINITY;
    for (size_t k = 0; k < run->class_count; k++) {
        c->product = fmin(c->product, run->classes[k].least_margin - q->setup->margin);
        c->hottest = fmax(c->hottest, run->classes[k].hottest);
    }
    c->load = q->watch.load;
    c->broken = c->product < 0.0             ? DF_BOUND_PRODUCT
                : c->choke > q->choke        ? DF_BOUND_CHOKE
                : c->load > DF_HOLD_PRESSURE ? DF_BOUND_PRESSURE
                : c->trap_full               ? DF_BOUND_TRAP
                : c->oil_loaded              ? DF_BOUND_OIL
                : isnan(c->time)             ? DF_BOUND_TIME
                                             : DF_BOUND_NONE;
}

/* Cells of one pressure. */
static df_status run_row(df_quest *q, df_space *s, size_t row, const df_recipe *first) {
    df_recipe r = {.n = 1};
    df_status status = DF_OK;
    double pressure = s->pressure[row], ramp = df_shelf_ramp(q->ground->dryer);
    size_t last = 0;
    if (first != NULL) { /* at its own pressure, or below where the cell's is lower; then the cell's */
        r = *first;
        for (size_t i = 0; i < r.n; i++)
            r.pressure[i] = fmin(r.pressure[i], pressure);
        r.time[r.n] = r.time[r.n - 1] + SWITCH;
        r.shelf_temperature[r.n] = r.shelf_temperature[r.n - 1];
        r.pressure[r.n] = pressure;
        last = r.n + 1;
    }
    r.pressure[last] = pressure;
    r.n = last + 1;
    for (size_t i = 0; i < s->shelves && status == DF_OK; i++) {
        df_space_cell *c = &s->cell[row * s->shelves + i];
        df_run run;
        r.shelf_temperature[last] = s->shelf[i];
        if (last > 0)
            r.time[last] = r.time[last - 1] + fmax(fabs(s->shelf[i] - r.shelf_temperature[last - 1]) / ramp, SWITCH);
        c->time = NAN;
        c->broken = DF_BOUND_PRODUCT;
        c->product = -INFINITY;
        q->wetted = true; /* on past a lost margin */
        status = df_quest_run(q, &run, &r, -INFINITY, q->ground->job->time_limit, ROUGH, false);
        if (status != DF_OK || !q->watch.sound)
            continue;
        read_cell(c, q, &run);
        df_run_free(&run);
    }
    return status;
}

df_status df_space_find(df_context *ctx, df_space *s, const df_job *job, const df_dryer *dryer, const df_pairs *pairs,
                        size_t shelves, double shelf_low, double shelf_high, size_t pressures, double pressure_low,
                        double pressure_high, const df_recipe *first) {
    memset(s, 0, sizeof *s);
    df_status status = check_grid(ctx, dryer, shelves, shelf_low, shelf_high, pressures, pressure_low, pressure_high);
    if (status == DF_OK && first != NULL && (first->n == 0 || first->n + 2 > DF_MAX_RECIPE))
        status = df_fail(ctx, DF_E_INPUT, "what goes before should have 1 to %d set points", DF_MAX_RECIPE - 2);
    if (status != DF_OK)
        return status;
    df_ground *ground = calloc(1, sizeof *ground);
    s->cell = calloc(shelves * pressures, sizeof *s->cell);
    if (ground == NULL || s->cell == NULL)
        status = df_fail(ctx, DF_E_MEMORY, "out of memory");
    else
        status = df_ground_prepare(ctx, ground, job, dryer, pairs, false);
    if (status == DF_OK) {
        df_status worst = DF_OK;
        char message[200] = "";
        df_tally tally = {.ctx = ctx, .what = "design space", .of = shelves * pressures};
        ground->tally = &tally;
        s->shelves = shelves;
        s->pressures = pressures;
        s->margin = job->margin;
        for (size_t i = 0; i < shelves; i++)
            s->shelf[i] = shelf_low + (shelf_high - shelf_low) * (double)i / (double)(shelves - 1);
        for (size_t i = 0; i < pressures; i++)
            s->pressure[i] = pressure_low * pow(pressure_high / pressure_low, (double)i / (double)(pressures - 1));
#pragma omp parallel for schedule(dynamic, 1)
        for (size_t row = 0; row < pressures; row++) {
            df_quest q;
            df_status mine = df_quest_open(&q, ground);
            if (mine == DF_OK)
                mine = run_row(&q, s, row, first);
            if (mine < 0)
#pragma omp critical
            {
                worst = mine;
                snprintf(message, sizeof message, "%.199s",
                         q.ctx != NULL ? df_context_message(q.ctx) : "out of memory");
            }
            df_quest_close(&q);
        }
        if (worst < 0)
            status = df_fail(ctx, worst, "%s", message);
    }
    s->fastest = SIZE_MAX;
    for (size_t i = 0; i < shelves * pressures && status == DF_OK; i++)
        if (s->cell[i].broken == DF_BOUND_NONE &&
            (s->fastest == SIZE_MAX || s->cell[i].time < s->cell[s->fastest].time))
            s->fastest = i;
    free(ground);
    if (status != DF_OK)
        df_space_free(s);
    return status;
}

void df_space_free(df_space *s) {
    free(s->cell);
    s->cell = NULL;
}
