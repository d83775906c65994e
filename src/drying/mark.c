/* Where a run of model (a) stood at one time, so that others go on from there. */
#include "drying/system.h"

#include <stdlib.h>
#include <string.h>

struct df_mark {
    double time;
    size_t states, bodies;
    df_run run; /* without moments of its own */
    df_moment moment;
    df_class_moment container[DF_MAX_CLASSES];
    df_system system; /* for what changes in it on the way */
    struct {
        bool gone[SPECIES], hung, taken;
    } body[DF_MAX_CLASSES];
    double state[];
};

double df_mark_time(const df_mark *mark) {
    return mark->time;
}

void df_mark_free(df_mark *mark) {
    free(mark);
}

df_mark *df_mark_make(const df_run *run, const df_system *s, const double *y, double time) {
    df_mark *m = malloc(sizeof *m + s->states * sizeof *y);
    if (m == NULL)
        return NULL;
    m->time = time;
    m->states = s->states;
    m->bodies = s->bodies;
    m->run = *run;
    m->moment = run->moment[run->moments - 1];
    memcpy(m->container, m->moment.container, s->bodies * sizeof *m->container);
    m->run.moment = NULL;
    m->run.container = m->moment.container = NULL;
    m->run.moments = 0;
    m->run.steps = m->run.evaluations = 0;
    m->system = *s;
    for (size_t k = 0; k < s->bodies; k++) {
        memcpy(m->body[k].gone, s->body[k].gone, sizeof m->body[k].gone);
        m->body[k].hung = s->body[k].hung;
        m->body[k].taken = s->body[k].taken;
    }
    memcpy(m->state, y, s->states * sizeof *y);
    return m;
}

bool df_mark_restore(df_run *run, df_system *s, double *y, const df_mark *m) {
    df_moment *moment = run->moment;
    df_class_moment *container = run->container;
    const df_system *then = &m->system;
    if (m->states != s->states || m->bodies != s->bodies)
        return false;
    *run = m->run;
    run->moment = moment;
    run->container = container;
    run->moment[0] = m->moment;
    run->moment[0].container = container;
    memcpy(container, m->container, m->bodies * sizeof *container);
    run->moments = 1;
    s->mode = then->mode;
    memcpy(s->empty, then->empty, sizeof s->empty);
    memcpy(s->refilled, then->refilled, sizeof s->refilled);
    memcpy(s->drained, then->drained, sizeof s->drained);
    s->settle_from = then->settle_from;
    s->above_since = then->above_since;
    s->above_noted = then->above_noted;
    s->evacuated = then->evacuated;
    s->choke_noted = then->choke_noted;
    s->oil_noted = then->oil_noted;
    s->full = then->full;
    s->drips = then->drips;
    for (size_t k = 0; k < s->bodies; k++) {
        memcpy(s->body[k].gone, m->body[k].gone, sizeof m->body[k].gone);
        s->body[k].hung = m->body[k].hung;
        s->body[k].taken = m->body[k].taken;
    }
    memcpy(y, m->state, m->states * sizeof *y);
    return true;
}
