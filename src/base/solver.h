/* What the rooms that integrate with CVODE share: the parts of a solver, and letting go of them. */
#ifndef DRYFRONT_BASE_SOLVER_H
#define DRYFRONT_BASE_SOLVER_H

#include <nvector/nvector_serial.h>
#include <sundials/sundials_linearsolver.h>
#include <sundials/sundials_matrix.h>

typedef struct df_solver {
    SUNContext context;
    N_Vector state, tolerance; /* tolerance: absolute, one for each state; NULL where all have the same */
    SUNMatrix matrix;
    SUNLinearSolver linear;
    void *cvode;
} df_solver;

/* A serial vector for short states: norm, sum and multiple of its own, since these make up a quarter of a run of some dozens
 * of unknowns with SUNDIALS's. Clones take them over. NULL: out of memory. */
N_Vector df_solver_vector(sunindextype length, SUNContext context);
/* Releases what there is of a solver that began as all zero. */
void df_solver_close(df_solver *solver);
/* An error handler for CVodeSetErrHandlerFn that keeps CVODE from printing: what it returns is told by the caller. */
void df_solver_quiet(int code, const char *module, const char *function, char *message, void *data);

#endif
