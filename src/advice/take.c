/* Jobs to be taken over: a job with a remedy on it, a route's job, by the names that a job gives dryers. */
#include "advice/stand.h"
#include "base/yaml_write.h"
#include "dryfront/routes.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#define NAME_LONGEST 40 /* bytes of a dryer's name that a change is added to */

static bool letter_or_digit(char c) {
    return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9');
}

/* "two-traps" from "dryers/two-traps.yaml"; of any text the letters and digits with '-' between them. */
static void plain_name(char out[NAME_LONGEST + 1], const char *written) {
    const char *slash = strrchr(written, '/'), *from = slash != NULL ? slash + 1 : written;
    size_t length = strlen(from), n = 0;
    for (size_t ending = 4; ending <= 5; ending++)
        if (length > ending && strcmp(from + length - ending, ending == 4 ? ".yml" : ".yaml") == 0)
            length -= ending;
    for (size_t i = 0; i < length && n < NAME_LONGEST; i++) {
        bool word = letter_or_digit(from[i]) || ((from[i] == '_' || from[i] == '.') && n > 0);
        if (word || (n > 0 && out[n - 1] != '-'))
            out[n++] = word ? from[i] : '-';
    }
    while (n > 0 && !letter_or_digit(out[n - 1]))
        n--;
    out[n] = '\0';
    if (n == 0)
        snprintf(out, NAME_LONGEST + 1, "dryer");
}

/* Calls a dryer by the job's name of it and what was changed. */
static void add_change(df_job *job, df_dryer *dryer, const char *added, const char *words) {
    char plain[NAME_LONGEST + 1], was[sizeof dryer->name];
    plain_name(plain, job->dryer);
    snprintf(job->dryer, sizeof job->dryer, "%s-%s", plain, added);
    snprintf(was, sizeof was, "%s", dryer->name);
    snprintf(dryer->name, sizeof dryer->name, "%.50s, but %s", was, words);
    snprintf(dryer->description, sizeof dryer->description, "as '%s', but with %s", was, words);
}

void df_trap_bring(df_trap *t, double to) {
    df_trap_shift(t, to);
    for (size_t i = 0; i < t->refrigeration.n; i++)
        t->refrigeration.x[i] = df_quantity_round(t->refrigeration.x[i], DF_DIM_TEMPERATURE, "°C", -6);
}

static void change_trap(df_job *job, df_dryer *dryer, double to) {
    char added[32], words[48];
    snprintf(added, sizeof added, "trap-%.0f", fabs(to - DF_ZERO_CELSIUS));
    snprintf(words, sizeof words, "a trap of %.0f °C", to - DF_ZERO_CELSIUS);
    add_change(job, dryer, added, words);
}

bool df_remedy_apply(df_job *job, df_dryer *dryer, bool *own, const df_remedy *r) {
    df_composition scaled;
    *own = false;
    switch (r->lever) {
    case DF_LEVER_FRACTION:
        if (!df_composition_scaled(&scaled, &job->composition, r->to))
            return false;
        job->composition = scaled;
        break;
    case DF_LEVER_TRAP:
        df_trap_bring(&dryer->trap[0], r->to);
        change_trap(job, dryer, r->to);
        *own = true;
        break;
    case DF_LEVER_HOLD:
        return df_hold_put(&job->recipe, r->to, 3600.0 * r->hold_hours);
    case DF_LEVER_SHELF:
        for (size_t i = 0; i < job->recipe.n; i++)
            job->recipe.shelf_temperature[i] = fmin(job->recipe.shelf_temperature[i], r->to);
        break;
    case DF_LEVER_FILL:
        for (size_t i = 0; i < job->groups; i++)
            job->group[i].fill = df_quantity_round(job->group[i].fill * r->to, DF_DIM_VOLUME, "mL", DF_TIDY_DIGITS);
        break;
    case DF_LEVER_DRY_PUMP:
        dryer->pump.kind = DF_PUMP_DRY;
        dryer->pump.solvent_limit = INFINITY;
        dryer->pump.ballast = 0.0;
        add_change(job, dryer, "dry-pump", "a dry pump");
        *own = true;
        break;
    case DF_LEVER_FREEZE:
        job->cooling.temperature = r->to;
        break;
    }
    return true;
}

/* The dryer of a route is another of the list: where that has a name the job calls it so, and keeps its own on the list. */
static void use_other(df_job *job, bool *own, const df_dryer *other, const char *name) {
    char plain[NAME_LONGEST + 1];
    if (name != NULL) {
        for (size_t i = 0; i < job->others; i++)
            if (strcmp(job->other[i], name) == 0)
                snprintf(job->other[i], sizeof job->other[i], "%s", job->dryer);
        snprintf(job->dryer, sizeof job->dryer, "%s", name);
        return;
    }
    bool builtin = false;
    plain_name(plain, other->name);
    for (size_t i = 0; df_dryer_builtin_name(i) != NULL; i++)
        builtin = builtin || df_name_equal(df_dryer_builtin_name(i), plain);
    snprintf(job->dryer, sizeof job->dryer, "%s%s", plain, builtin ? "-own" : "");
    *own = true;
}

void df_route_take(df_job *job, df_dryer *dryer, bool *own, const df_route *route, const df_routes_task *task) {
    *job = route->job;
    *dryer = route->dryer;
    *own = false;
    for (size_t i = 0; i < route->actions; i++) /* the dryer before what is changed on it */
        if (route->action[i].kind == DF_ACTION_DRYER) {
            size_t other = route->action[i].dryer;
            use_other(job, own, &task->other[other], task->other_name != NULL ? task->other_name[other] : NULL);
        }
    for (size_t i = 0; i < route->actions; i++) {
        const df_action *a = &route->action[i];
        switch (a->kind) {
        case DF_ACTION_TRAP:
            change_trap(job, dryer, a->to);
            break;
        case DF_ACTION_SECOND_TRAP:
            if (a->coolant == DF_COOLANT_NITROGEN)
                add_change(job, dryer, "nitrogen-finger", "a second trap of liquid nitrogen");
            else
                add_change(job, dryer, "dry-ice-finger", "a second trap of dry ice");
            break;
        case DF_ACTION_DRY_PUMP:
            add_change(job, dryer, "dry-pump", "a dry pump");
            break;
        case DF_ACTION_BALLAST:
            add_change(job, dryer, "ballast", "the gas ballast open");
            break;
        default:
            continue;
        }
        *own = true;
    }
}
