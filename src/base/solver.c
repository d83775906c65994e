#include "base/solver.h"

#include <cvode/cvode.h>

void df_solver_close(df_solver *v) {
    if (v->cvode != NULL)
        CVodeFree(&v->cvode);
    if (v->linear != NULL)
        SUNLinSolFree(v->linear);
    if (v->matrix != NULL)
        SUNMatDestroy(v->matrix);
    if (v->state != NULL)
        N_VDestroy(v->state);
    if (v->tolerance != NULL)
        N_VDestroy(v->tolerance);
    if (v->context != NULL)
        SUNContext_Free(&v->context);
}

void df_solver_quiet(int code, const char *module, const char *function, char *message, void *data) {
    (void)code, (void)module, (void)function, (void)message, (void)data;
}
