/* A job's liquid made ready otherwise: diluted, boiled down, its solvent exchanged. */
#include "advice/action.h"
#include "base/yaml_write.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#define FREEZING_FLASK 274.15 /* K, under which a flask is not boiled down here: ice on its wall */
#define CONDENSER_STEP 5.0    /* K between what boils and the condenser that catches it */
#define TRACE 1e-5            /* share by mass under which a component that was boiled off is left out */
#define ENOUGH 5e-3           /* solvents together by volume, after which an exchange has no further pass */
#define PEROXIDE_LEFT 0.2     /* share of the volume that is always left of a liquid with a peroxide former */

/* What is in the bottle. */
typedef struct bottle {
    const df_substance *component[DF_MAX_COMPONENTS];
    double mole[DF_MAX_COMPONENTS];
    size_t n;
} bottle;

static double volume_of(const bottle *b) {
    double v = 0.0;
    for (size_t i = 0; i < b->n; i++)
        v += b->mole[i] * df_basis_measure(b->component[i], DF_BASIS_VOLUME);
    return v;
}

static double solvents_in(const bottle *b) {
    double v = 0.0;
    for (size_t i = 0; i < b->n; i++)
        if (!b->component[i]->is_water)
            v += b->mole[i] * df_basis_measure(b->component[i], DF_BASIS_VOLUME);
    return v / volume_of(b);
}

/* False where there is no room for one more. */
static bool pour(bottle *b, const df_substance *what, double volume) {
    size_t i = 0;
    while (i < b->n && b->component[i] != what)
        i++;
    if (i == DF_MAX_COMPONENTS)
        return false;
    if (i == b->n) {
        b->component[b->n] = what;
        b->mole[b->n++] = 0.0;
    }
    b->mole[i] += volume / df_basis_measure(what, DF_BASIS_VOLUME);
    return true;
}

static bool forms_peroxides(const bottle *b) {
    df_csv *csv = NULL;
    bool found = false;
    if (df_csv_builtin(NULL, &csv, "safety.csv") != DF_OK)
        return true; /* silence must not look like harmlessness */
    for (size_t row = 0; row < df_csv_rows(csv); row++)
        if (strcmp(df_csv_cell(csv, row, df_csv_find(csv, "quantity")), "peroxide_former") == 0)
            for (size_t i = 0; i < b->n; i++)
                found = found || strcmp(b->component[i]->key, df_csv_cell(csv, row, df_csv_find(csv, "key"))) == 0;
    df_csv_free(csv);
    return found;
}

/* The solvent that takes up most volume; b->n without any. */
static size_t main_solvent(const bottle *b) {
    size_t best = b->n;
    double most = 0.0;
    for (size_t i = 0; i < b->n; i++) {
        double v = b->mole[i] * df_basis_measure(b->component[i], DF_BASIS_VOLUME);
        if (!b->component[i]->is_water && v > most) {
            most = v;
            best = i;
        }
    }
    return best;
}

/* ---- boiling down --------------------------------------------------------------------------------------------- */

/* Why a boiling down does not come to its aim; false where it does. */
static bool refused(df_liquid *out, const df_strip *s, df_status status) {
    static const char *const why[] = {"", "an azeotrope stands before it", "it boils too hot",
                                      "boiling does not bring it down: the flask is dry before"};
    if (status < 0)
        snprintf(out->why, sizeof out->why, "its boiling could not be computed");
    else if (s->stop != DF_STRIP_REACHED)
        snprintf(out->why, sizeof out->why, "%s", why[s->stop]);
    else
        return false;
    return true;
}

/* Heat-limited rate: heat of evaporation over coefficient, area and the bath's lead over the flask. What boils too near to
 * the condenser's temperature passes it whole, else a share of it. */
static void account(df_liquid *out, df_boiling *step, const df_strip *s, const bottle *b, const df_efforts *e) {
    const df_strip_point *first = &s->point[0], *last = &s->point[s->points - 1];
    bool caught = step->flask > e->strip_condenser + CONDENSER_STEP;
    step->time = last->heat / (e->strip_coefficient * e->strip_area * e->strip_approach);
    for (size_t i = 0; i < b->n; i++) {
        double mass = (first->left[i] - last->left[i]) * b->component[i]->molar_mass;
        double lost = mass * (caught ? e->strip_escape : 1.0);
        out->distilled[i] += mass - lost;
        out->vented[i] += lost;
    }
    if (!caught)
        out->warns |= DF_WARN_CONDENSER;
}

/* Boils the bottle down to an aim of the task (whose amounts, hold and conditions are set here). False: out->why. */
static df_status boil_down(df_context *ctx, bool *done, df_liquid *out, bottle *b, df_strip_task *task,
                           const df_job *job, const df_efforts *e, const df_pairs *pairs) {
    df_boiling *step = &out->boiling[out->boilings];
    df_mixture *mixture = NULL;
    df_strip s;
    memset(step, 0, sizeof *step);
    memset(&s, 0, sizeof s);
    *done = false;
    step->bath = e->strip_bath;
    if (job->product_temperature > 0.0)
        step->bath = fmin(step->bath, job->product_temperature);
    step->flask = step->bath - e->strip_approach;
    if (step->flask < FREEZING_FLASK) {
        snprintf(out->why, sizeof out->why, "the product's limit leaves the flask no room to boil in");
        return DF_OK;
    }
    step->volume = volume_of(b);
    step->solvent_from = solvents_in(b);
    step->loads = (long)ceil(step->volume / e->strip_charge - 1e-9);
    for (size_t i = 0; i < b->n; i++) {
        task->amount[i] = b->mole[i];
        task->measure[i] = df_basis_measure(b->component[i], DF_BASIS_VOLUME);
    }
    df_status status = df_mixture_create(ctx, &mixture, pairs, b->component, b->n);
    if (status == DF_E_MEMORY)
        return status;
    task->hold = DF_STRIP_AT_TEMPERATURE;
    task->temperature = step->flask;
    task->pressure = NAN;
    if (status >= 0)
        status = df_strip_run(ctx, &s, mixture, task);
    bool no = refused(out, &s, status);
    if (!no && s.point[s.points - 1].pressure < e->strip_floor) {
        snprintf(out->why, sizeof out->why, "it takes %.1f mbar, less than a rotating flask holds",
                 s.point[s.points - 1].pressure / 100.0);
        no = true;
    }
    if (!no) {
        const df_strip_point *first = &s.point[0], *last = &s.point[s.points - 1];
        step->pressure = fmin(first->pressure, DF_ATMOSPHERE);
        step->end_pressure = fmin(last->pressure, DF_ATMOSPHERE);
        step->put_in = first->mass_left;
        step->left = last->mass_left;
        step->volume_left = last->volume_left;
        account(out, step, &s, b, e);
        memcpy(b->mole, last->left, sizeof b->mole);
        step->solvent_to = solvents_in(b);
        out->time += step->time;
        out->hands_on += (double)step->loads * e->minutes_strip_load + step->time / 3600.0 * e->minutes_strip_hour;
        out->warns |= DF_WARN_BOILING;
        bool peroxides = forms_peroxides(b);
        if (peroxides)
            out->warns |= DF_WARN_PEROXIDE;
        if (peroxides && step->volume_left < PEROXIDE_LEFT * step->volume)
            snprintf(out->why, sizeof out->why, "a peroxide former is never boiled down that far");
        else {
            out->boilings++;
            *done = true;
        }
    }
    df_strip_free(&s);
    df_mixture_free(mixture);
    return status == DF_E_MEMORY ? status : DF_OK;
}

/* ---- actions -------------------------------------------------------------------------------------------------- */

static df_status strip(df_context *ctx, df_liquid *out, bottle *b, const df_job *job, const df_efforts *e,
                       const df_pairs *pairs) {
    df_strip_task task = {.aim = DF_STRIP_TO_FRACTION, .component = main_solvent(b), .target = out->action.to};
    return boil_down(ctx, &out->possible, out, b, &task, job, e, pairs);
}

/* Passes: down to half the volume, then made up again with water, or with water and the added solvent half and half. */
static df_status exchange(df_context *ctx, df_liquid *out, bottle *b, const df_job *job, const df_efforts *e,
                          const df_substance *water, const df_pairs *pairs) {
    double full = volume_of(b);
    df_status status = DF_OK;
    out->possible = true;
    for (long pass = 0; pass < out->action.passes && out->possible && status == DF_OK; pass++) {
        df_strip_task task = {.aim = DF_STRIP_TO_AMOUNT, .target = 0.5 * full};
        if (solvents_in(b) < ENOUGH) {
            snprintf(out->why, sizeof out->why, "%s under %.1f %% v/v of solvent already",
                     pass == 1 ? "one pass leaves" : "two passes leave", 100.0 * ENOUGH);
            out->possible = false;
            return DF_OK;
        }
        status = boil_down(ctx, &out->possible, out, b, &task, job, e, pairs);
        if (status != DF_OK || !out->possible)
            return status;
        df_boiling *step = &out->boiling[out->boilings - 1];
        step->made_up = full - volume_of(b);
        step->added = out->action.added != NULL ? 0.5 * step->made_up : 0.0;
        out->added += step->added;
        out->possible = pour(b, water, step->made_up - step->added) &&
                        (step->added == 0.0 || pour(b, out->action.added, step->added));
        if (!out->possible)
            snprintf(out->why, sizeof out->why, "more than %d components", DF_MAX_COMPONENTS);
        out->hands_on += e->minutes_make_up;
    }
    out->action.to = solvents_in(b);
    return status;
}

/* Pours out what was boiled off to a trace: it plays no part. */
static void drop_traces(bottle *b) {
    double mass = 0.0;
    size_t n = 0;
    for (size_t i = 0; i < b->n; i++)
        mass += b->mole[i] * b->component[i]->molar_mass;
    for (size_t i = 0; i < b->n; i++)
        if (b->mole[i] * b->component[i]->molar_mass >= TRACE * mass) {
            b->component[n] = b->component[i];
            b->mole[n++] = b->mole[i];
        }
    b->n = n;
}

/* Puts what is in the bottle into the liquid, with the numbers that go by component. */
static df_status settle(df_context *ctx, df_liquid *out, const bottle *b, const df_job *job) {
    df_composition *c = &out->composition;
    df_composition_set(c, b->component, b->mole, b->n, DF_BASIS_MOLE);
    c->basis = job->composition.basis;
    df_composition_round(c, DF_TIDY_DIGITS);
    for (size_t i = 0; i < c->n; i++) {
        size_t k = 0;
        while (k < job->composition.n && job->composition.component[k] != c->component[i])
            k++;
        if (k < job->composition.n) {
            c->seen[i] = job->composition.seen[k];
            out->target[i] = job->target[k];
            out->limit[i] = job->limit[k];
        } else {
            df_status status = df_residual_limit_find(ctx, &out->limit[i], c->component[i]);
            if (status < 0)
                return status;
        }
    }
    return DF_OK;
}

df_status df_liquid_make(df_context *ctx, df_liquid *out, const df_action *action, const df_job *job,
                         const df_efforts *e, const df_substance *water, const df_pairs *pairs) {
    const df_composition *c = &job->composition;
    bottle b = {.n = c->n};
    double whole = 0.0, each = 0.0;
    memset(out, 0, sizeof *out);
    for (size_t i = 0; i < job->groups; i++)
        whole += (double)job->group[i].count * job->group[i].fill;
    for (size_t i = 0; i < c->n; i++)
        each += c->x[i] * df_basis_measure(c->component[i], DF_BASIS_VOLUME);
    for (size_t i = 0; i < c->n; i++) {
        b.component[i] = c->component[i];
        b.mole[i] = c->x[i] * whole / each;
    }
    out->possible = true;
    df_status status = DF_OK;
    if (action != NULL) {
        out->action = *action;
        if (action->kind == DF_ACTION_DILUTE) {
            out->possible = pour(&b, water, whole * (action->from / action->to - 1.0));
            out->hands_on += e->minutes_make_up;
        } else if (action->kind == DF_ACTION_STRIP)
            status = strip(ctx, out, &b, job, e, pairs);
        else
            status = exchange(ctx, out, &b, job, e, water, pairs);
    }
    if (status != DF_OK || !out->possible)
        return status;
    if (out->boilings > 0) {
        memcpy(out->boiled, b.component, sizeof out->boiled);
        out->boileds = b.n;
        drop_traces(&b);
    }
    memcpy(out->solute, job->solute, sizeof out->solute);
    out->volume = action != NULL ? volume_of(&b) / whole : 1.0;
    for (size_t i = 0; i < job->solutes && action != NULL; i++)
        out->solute[i].concentration = df_quantity_round(job->solute[i].concentration / out->volume,
                                                         DF_DIM_MASS_CONCENTRATION, "g/L", DF_TIDY_DIGITS);
    if (action != NULL)
        status = settle(ctx, out, &b, job);
    else {
        out->composition = *c;
        memcpy(out->target, job->target, sizeof out->target);
        memcpy(out->limit, job->limit, sizeof out->limit);
    }
    if (status >= 0) {
        df_job frozen = *job;
        frozen.composition = out->composition;
        memcpy(frozen.solute, out->solute, sizeof frozen.solute);
        status = df_trial_path(ctx, &out->path, &frozen, pairs);
    }
    if (status >= 0)
        status = df_deposit_make(ctx, &out->deposit, pairs, &out->composition);
    if (status >= 0 || status == DF_E_MEMORY || action == NULL)
        return status < 0 ? status : DF_OK;
    out->possible = false;
    snprintf(out->why, sizeof out->why, "its freezing could not be computed");
    return DF_OK;
}
