#include "drying/arrow.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#define SIDE DF_ARROW_SIDE
#define CORE DF_ARROW_CORE

/* ---- matrix --------------------------------------------------------------------------------------------------- */

df_arrow *df_arrow_content(SUNMatrix matrix) {
    return matrix->content;
}

static SUNMatrix_ID matrix_id(SUNMatrix matrix) {
    (void)matrix;
    return SUNMATRIX_CUSTOM;
}

static SUNMatrix matrix_clone(SUNMatrix matrix) {
    return df_arrow_matrix(df_arrow_content(matrix)->shape, matrix->sunctx);
}

static void matrix_destroy(SUNMatrix matrix) {
    if (matrix == NULL)
        return;
    free(matrix->content);
    matrix->content = NULL;
    SUNMatFreeEmpty(matrix);
}

static int matrix_zero(SUNMatrix matrix) {
    df_arrow *a = df_arrow_content(matrix);
    memset(a->block, 0, a->numbers * sizeof a->block[0]);
    a->unit = 0.0;
    return 0;
}

static int matrix_copy(SUNMatrix from, SUNMatrix to) {
    const df_arrow *a = df_arrow_content(from);
    df_arrow *b = df_arrow_content(to);
    memcpy(b->block, a->block, a->numbers * sizeof a->block[0]);
    b->unit = a->unit;
    return 0;
}

/* A = c A + I */
static int matrix_scale_add_identity(realtype c, SUNMatrix matrix) {
    df_arrow *a = df_arrow_content(matrix);
    const df_arrow_shape *shape = a->shape;
    for (size_t i = 0; i < a->numbers; i++)
        a->block[i] *= c;
    for (size_t k = 0; k < shape->classes; k++)
        for (size_t i = 0; i < shape->side[k]; i++)
            a->part[k].own[i * shape->side[k] + i] += 1.0;
    for (size_t i = 0; i < shape->core; i++)
        a->middle[i * shape->core + i] += 1.0;
    a->unit = c * a->unit + 1.0;
    return 0;
}

SUNMatrix df_arrow_matrix(const df_arrow_shape *shape, SUNContext context) {
    size_t g = shape->gases, numbers = shape->core * (shape->core + shape->tail);
    for (size_t k = 0; k < shape->classes; k++)
        numbers += shape->side[k] * (shape->side[k] + 2 * g + 2);
    SUNMatrix matrix = SUNMatNewEmpty(context);
    df_arrow *a = calloc(1, sizeof *a + numbers * sizeof a->block[0]);
    if (matrix == NULL || a == NULL) {
        free(a);
        if (matrix != NULL)
            SUNMatFreeEmpty(matrix);
        return NULL;
    }
    double *next = a->block;
    a->shape = shape;
    a->numbers = numbers;
    for (size_t k = 0; k < shape->classes; k++) {
        size_t q = shape->side[k];
        a->part[k].own = next;
        a->part[k].gas = next += q * q;
        a->part[k].back = next += q * g;
        a->part[k].heat = next += g * q;
        next += 2 * q;
    }
    a->middle = next;
    a->end = next + shape->core * shape->core;
    matrix->content = a;
    matrix->ops->getid = matrix_id;
    matrix->ops->clone = matrix_clone;
    matrix->ops->destroy = matrix_destroy;
    matrix->ops->zero = matrix_zero;
    matrix->ops->copy = matrix_copy;
    matrix->ops->scaleaddi = matrix_scale_add_identity;
    return matrix;
}

/* ---- solver --------------------------------------------------------------------------------------------------- */

/* LU factors (the diagonal of U as its reciprocal) with pivots of each class and of the core less what the classes feed back (Schur complement). */
typedef struct factors {
    const df_arrow_shape *shape;
    struct {
        double *lu, *shift; /* shift = own^-1 gas */
        size_t pivot[SIDE];
    } part[DF_MAX_CLASSES];
    double *lu;
    size_t pivot[CORE];
    double block[];
} factors;

static bool factor(double *a, size_t *pivot, size_t n) {
    for (size_t k = 0; k < n; k++) {
        size_t p = k;
        for (size_t i = k + 1; i < n; i++)
            if (fabs(a[i * n + k]) > fabs(a[p * n + k]))
                p = i;
        pivot[k] = p;
        if (a[p * n + k] == 0.0)
            return false;
        if (p != k)
            for (size_t j = 0; j < n; j++) {
                double t = a[k * n + j];
                a[k * n + j] = a[p * n + j];
                a[p * n + j] = t;
            }
        double inverse = a[k * n + k] = 1.0 / a[k * n + k];
        for (size_t i = k + 1; i < n; i++) {
            double m = a[i * n + k] *= inverse;
            if (m != 0.0)
                for (size_t j = k + 1; j < n; j++)
                    a[i * n + j] -= m * a[k * n + j];
        }
    }
    return true;
}

/* By columns: what is taken off the rows does not wait for one another, as the terms of a row's sum would. */
static void back_solve(const double *restrict a, const size_t *restrict pivot, double *restrict b, size_t n) {
    for (size_t k = 0; k < n; k++) {
        double t = b[pivot[k]];
        b[pivot[k]] = b[k];
        b[k] = t;
    }
    for (size_t k = 0; k + 1 < n; k++)
        for (size_t i = k + 1; i < n; i++)
            b[i] -= a[i * n + k] * b[k];
    for (size_t k = n; k-- > 0;) {
        double t = b[k] *= a[k * n + k];
        for (size_t i = 0; i < k; i++)
            b[i] -= a[i * n + k] * t;
    }
}

/* y = y - A x */
static void take_off(double *restrict y, const double *restrict a, const double *restrict x, size_t rows,
                     size_t columns) {
    for (size_t i = 0; i < rows; i++) {
        double sum = 0.0;
        for (size_t j = 0; j < columns; j++)
            sum += a[i * columns + j] * x[j];
        y[i] -= sum;
    }
}

static SUNLinearSolver_Type solver_type(SUNLinearSolver solver) {
    (void)solver;
    return SUNLINEARSOLVER_DIRECT;
}

static int solver_setup(SUNLinearSolver solver, SUNMatrix matrix) {
    factors *f = solver->content;
    const df_arrow *a = df_arrow_content(matrix);
    const df_arrow_shape *shape = f->shape;
    size_t m = shape->core, g = shape->gases;
    memcpy(f->lu, a->middle, m * m * sizeof f->lu[0]);
    for (size_t k = 0; k < shape->classes; k++) {
        size_t q = shape->side[k];
        memcpy(f->part[k].lu, a->part[k].own, q * q * sizeof f->part[k].lu[0]);
        if (!factor(f->part[k].lu, f->part[k].pivot, q))
            return 1;
        for (size_t j = 0; j < g; j++) {
            double column[SIDE];
            for (size_t i = 0; i < q; i++)
                column[i] = a->part[k].gas[i * g + j];
            back_solve(f->part[k].lu, f->part[k].pivot, column, q);
            for (size_t i = 0; i < q; i++)
                f->part[k].shift[i * g + j] = column[i];
        }
        for (size_t r = 0; r < g; r++)
            for (size_t j = 0; j < g; j++) {
                double sum = 0.0;
                for (size_t i = 0; i < q; i++)
                    sum += a->part[k].back[r * q + i] * f->part[k].shift[i * g + j];
                f->lu[r * m + j] -= sum;
            }
    }
    return factor(f->lu, f->pivot, m) ? 0 : 1;
}

static int solver_solve(SUNLinearSolver solver, SUNMatrix matrix, N_Vector x, N_Vector b, realtype tolerance) {
    const factors *f = solver->content;
    const df_arrow *a = df_arrow_content(matrix);
    const df_arrow_shape *shape = f->shape;
    size_t m = shape->core, g = shape->gases, tail = shape->tail;
    (void)tolerance;
    double *y = N_VGetArrayPointer(x);
    if (x != b)
        memcpy(y, N_VGetArrayPointer(b), (shape->tail_start + tail) * sizeof *y);
    double *core = &y[shape->core_start], *end = &y[shape->tail_start];
    for (size_t k = 0; k < shape->classes; k++) {
        size_t q = shape->side[k];
        double *own = &y[shape->start[k]];
        back_solve(f->part[k].lu, f->part[k].pivot, own, q);
        take_off(core, a->part[k].back, own, g, q);
    }
    back_solve(f->lu, f->pivot, core, m);
    take_off(end, a->end, core, tail, m);
    for (size_t k = 0; k < shape->classes; k++) {
        size_t q = shape->side[k];
        double *own = &y[shape->start[k]];
        take_off(own, f->part[k].shift, core, q, g);
        take_off(&end[tail - 2], a->part[k].heat, own, 2, q);
    }
    for (size_t r = 0; r < tail; r++)
        end[r] /= a->unit;
    return 0;
}

static int solver_free(SUNLinearSolver solver) {
    if (solver == NULL)
        return 0;
    free(solver->content);
    solver->content = NULL;
    SUNLinSolFreeEmpty(solver);
    return 0;
}

SUNLinearSolver df_arrow_solver(const df_arrow_shape *shape, SUNContext context) {
    SUNLinearSolver solver = SUNLinSolNewEmpty(context);
    size_t numbers = shape->core * shape->core;
    for (size_t k = 0; k < shape->classes; k++)
        numbers += shape->side[k] * (shape->side[k] + shape->gases);
    factors *f = calloc(1, sizeof *f + numbers * sizeof f->block[0]);
    if (solver == NULL || f == NULL) {
        free(f);
        if (solver != NULL)
            SUNLinSolFreeEmpty(solver);
        return NULL;
    }
    f->shape = shape;
    f->lu = f->block;
    double *next = f->block + shape->core * shape->core;
    for (size_t k = 0; k < shape->classes; k++) {
        f->part[k].lu = next;
        f->part[k].shift = next += shape->side[k] * shape->side[k];
        next += shape->side[k] * shape->gases;
    }
    solver->content = f;
    solver->ops->gettype = solver_type;
    solver->ops->setup = solver_setup;
    solver->ops->solve = solver_solve;
    solver->ops->free = solver_free;
    return solver;
}
