#include "drying/newton.h"

#include <stdlib.h>

#define PATIENCE 3 /* iterations with one Jacobian */
#define MOST 20    /* iterations in all */

typedef struct newton {
    SUNNonlinSolSysFn system;
    SUNNonlinSolLSetupFn setup;
    SUNNonlinSolLSolveFn solve;
    SUNNonlinSolConvTestFn test;
    void *test_data;
    N_Vector delta;
    int current;
    long iterations, failures;
} newton;

static SUNNonlinearSolver_Type newton_type(SUNNonlinearSolver solver) {
    (void)solver;
    return SUNNONLINEARSOLVER_ROOTFIND;
}

static int newton_initialize(SUNNonlinearSolver solver) {
    newton *n = solver->content;
    n->iterations = n->failures = 0;
    return SUN_NLS_SUCCESS;
}

/* correction: of the predicted state, nought on entry. */
static int newton_solve(SUNNonlinearSolver solver, N_Vector predicted, N_Vector correction, N_Vector weight,
                        realtype tolerance, booleantype call_setup, void *memory) {
    newton *n = solver->content;
    booleantype fresh = SUNFALSE;
    int used = 0; /* iterations with the Jacobian at hand */
    (void)predicted;
    n->current = 0;
    int flag = n->system(correction, n->delta, memory);
    if (flag == 0 && call_setup)
        flag = n->setup(SUNFALSE, &fresh, memory);
    while (flag == 0) {
        N_VScale(-1.0, n->delta, n->delta);
        flag = n->solve(n->delta, memory);
        if (flag != 0)
            break;
        N_VLinearSum(1.0, correction, 1.0, n->delta, correction);
        n->iterations++;
        int verdict = n->test(solver, correction, n->delta, tolerance, weight, n->test_data);
        if (verdict == SUN_NLS_SUCCESS)
            return SUN_NLS_SUCCESS;
        if (verdict < 0 || ++n->current >= MOST) {
            flag = verdict < 0 ? verdict : SUN_NLS_CONV_RECVR;
            break;
        }
        flag = n->system(correction, n->delta, memory);
        if (flag == 0 && (++used >= PATIENCE || verdict == SUN_NLS_CONV_RECVR)) {
            flag = n->setup(SUNTRUE, &fresh, memory);
            used = 0;
        }
    }
    n->failures++;
    return flag;
}

static int newton_free(SUNNonlinearSolver solver) {
    if (solver == NULL)
        return SUN_NLS_SUCCESS;
    newton *n = solver->content;
    if (n != NULL && n->delta != NULL)
        N_VDestroy(n->delta);
    free(n);
    solver->content = NULL;
    SUNNonlinSolFreeEmpty(solver);
    return SUN_NLS_SUCCESS;
}

static int set_system(SUNNonlinearSolver solver, SUNNonlinSolSysFn f) {
    ((newton *)solver->content)->system = f;
    return SUN_NLS_SUCCESS;
}

static int set_setup(SUNNonlinearSolver solver, SUNNonlinSolLSetupFn f) {
    ((newton *)solver->content)->setup = f;
    return SUN_NLS_SUCCESS;
}

static int set_solve(SUNNonlinearSolver solver, SUNNonlinSolLSolveFn f) {
    ((newton *)solver->content)->solve = f;
    return SUN_NLS_SUCCESS;
}

static int set_test(SUNNonlinearSolver solver, SUNNonlinSolConvTestFn f, void *data) {
    newton *n = solver->content;
    n->test = f;
    n->test_data = data;
    return SUN_NLS_SUCCESS;
}

static int set_most(SUNNonlinearSolver solver, int most) {
    (void)solver;
    (void)most; /* ours, since the Jacobian is made anew on the way */
    return SUN_NLS_SUCCESS;
}

static int get_current(SUNNonlinearSolver solver, int *current) {
    *current = ((newton *)solver->content)->current;
    return SUN_NLS_SUCCESS;
}

static int get_iterations(SUNNonlinearSolver solver, long *iterations) {
    *iterations = ((newton *)solver->content)->iterations;
    return SUN_NLS_SUCCESS;
}

static int get_failures(SUNNonlinearSolver solver, long *failures) {
    *failures = ((newton *)solver->content)->failures;
    return SUN_NLS_SUCCESS;
}

SUNNonlinearSolver df_newton_solver(N_Vector like, SUNContext context) {
    SUNNonlinearSolver solver = SUNNonlinSolNewEmpty(context);
    newton *n = calloc(1, sizeof *n);
    if (n != NULL)
        n->delta = N_VClone(like);
    if (solver == NULL || n == NULL || n->delta == NULL) {
        if (n != NULL && n->delta != NULL)
            N_VDestroy(n->delta);
        free(n);
        if (solver != NULL)
            SUNNonlinSolFreeEmpty(solver);
        return NULL;
    }
    solver->content = n;
    solver->ops->gettype = newton_type;
    solver->ops->initialize = newton_initialize;
    solver->ops->solve = newton_solve;
    solver->ops->free = newton_free;
    solver->ops->setsysfn = set_system;
    solver->ops->setlsetupfn = set_setup;
    solver->ops->setlsolvefn = set_solve;
    solver->ops->setctestfn = set_test;
    solver->ops->setmaxiters = set_most;
    solver->ops->getcuriter = get_current;
    solver->ops->getnumiters = get_iterations;
    solver->ops->getnumconvfails = get_failures;
    return solver;
}
