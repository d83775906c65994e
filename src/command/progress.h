/* How far it has come, on a terminal. */
#ifndef DRYFRONT_COMMAND_PROGRESS_H
#define DRYFRONT_COMMAND_PROGRESS_H

#include "command.h"

typedef struct df_bar {
    const char *label;
    double started, shown; /* s; shown 0: not yet */
} df_bar;

/* A line on standard error from a fifth of a second on; `tell` is NULL where that is no terminal. The bar must outlive it. A
 * time that is told as 0 is left out. */
df_progress df_bar_begin(df_bar *bar, const char *label);
/* Whom a session tells: its own listener, else the bar `own`, else nobody (NULL). */
const df_progress *df_told(const df_session *session, const df_progress *own);
/* Leaves the line as it was. */
void df_bar_end(const df_bar *bar);

#endif
