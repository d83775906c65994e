/* How far it has come, on a terminal. */
#include "progress.h"

#include <stdio.h>
#include <time.h>
#include <unistd.h>

#define SHOW_AFTER 0.2 /* s */
#define SHOW_EVERY 0.1
#define BAR 40 /* columns */

static double now(void) {
    struct timespec t;
    clock_gettime(CLOCK_MONOTONIC, &t);
    return (double)t.tv_sec + 1e-9 * (double)t.tv_nsec;
}

static bool show(void *data, double share, double time) {
    df_bar *b = data;
    double at = now();
    if (at - b->started < SHOW_AFTER || at - b->shown < SHOW_EVERY)
        return true;
    b->shown = at;
    int full = share > 0.0 ? (int)(share * BAR) : 0;
    fprintf(stderr, "\r%s  [%.*s%*s] %3.0f %%", b->label, full < BAR ? full : BAR,
            "########################################", full < BAR ? BAR - full : 0, "", 100.0 * share);
    if (time > 0.0)
        fprintf(stderr, "  %8.1f h", time / 3600.0);
    return true;
}

df_progress df_bar_begin(df_bar *b, const char *label) {
    *b = (df_bar){.label = label, .started = now()};
    return (df_progress){isatty(STDERR_FILENO) ? show : NULL, b};
}

const df_progress *df_told(const df_session *s, const df_progress *own) {
    return s->progress != NULL ? s->progress : own->tell != NULL ? own : NULL;
}

void df_bar_end(const df_bar *b) {
    if (b->shown > 0.0)
        fputs("\r\033[K", stderr);
}
