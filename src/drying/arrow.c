#include "drying/arrow.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#define SIDE DF_ARROW_SIDE
#define CORE DF_ARROW_CORE
#define LANES DF_ARROW_LANES

/* ---- matrix --------------------------------------------------------------------------------------------------- */

df_arrow *df_arrow_make(const df_arrow_shape *shape) {
    size_t gases = df_arrow_rows(shape->gases), core = df_arrow_rows(shape->core), tail = df_arrow_rows(shape->tail);
    size_t numbers = shape->core * (core + tail);
    for (size_t k = 0; k < shape->classes; k++)
        numbers += df_arrow_rows(shape->side[k]) * (shape->side[k] + shape->gases) + shape->side[k] * (gases + 2);
    df_arrow *a = calloc(1, sizeof *a + numbers * sizeof a->block[0]);
    if (a == NULL)
        return NULL;
    double *next = a->block;
    a->shape = shape;
    a->numbers = numbers;
    for (size_t k = 0; k < shape->classes; k++) {
        size_t q = shape->side[k], rows = df_arrow_rows(q);
        a->part[k].own = next;
        a->part[k].gas = next += rows * q;
        a->part[k].back = next += rows * shape->gases;
        a->part[k].heat = next += gases * q;
        next += 2 * q;
    }
    a->middle = next;
    a->end = next + core * shape->core;
    return a;
}

void df_arrow_newton(df_arrow *newton, const df_arrow *slopes, double gamma) {
    const df_arrow_shape *shape = newton->shape;
    double *restrict to = newton->block;
    const double *restrict from = slopes->block;
#pragma omp simd
    for (size_t i = 0; i < newton->numbers; i++)
        to[i] = -gamma * from[i];
    for (size_t k = 0; k < shape->classes; k++)
        for (size_t i = 0, rows = df_arrow_rows(shape->side[k]); i < shape->side[k]; i++)
            newton->part[k].own[i * rows + i] += 1.0;
    for (size_t i = 0, rows = df_arrow_rows(shape->core); i < shape->core; i++)
        newton->middle[i * rows + i] += 1.0;
}

df_arrow *df_arrow_content(SUNMatrix matrix) {
    return matrix->content;
}

static SUNMatrix_ID matrix_id(SUNMatrix matrix) {
    (void)matrix;
    return SUNMATRIX_CUSTOM;
}

static void matrix_destroy(SUNMatrix matrix) {
    if (matrix == NULL)
        return;
    free(matrix->content);
    matrix->content = NULL;
    SUNMatFreeEmpty(matrix);
}

SUNMatrix df_arrow_matrix(const df_arrow_shape *shape, SUNContext context) {
    SUNMatrix matrix = SUNMatNewEmpty(context);
    if (matrix == NULL)
        return NULL;
    matrix->ops->getid = matrix_id;
    matrix->ops->destroy = matrix_destroy;
    matrix->content = df_arrow_make(shape);
    if (matrix->content == NULL) {
        SUNMatFreeEmpty(matrix);
        return NULL;
    }
    return matrix;
}

/* ---- solver --------------------------------------------------------------------------------------------------- */

/* Of each class the inverse, which has some three to seven rows and is used many times, and what it hands to the chamber; the
 * core less what the classes feed back (Schur complement) as LU factors with pivots, the diagonal of U as its reciprocal. All
 * by columns as in df_arrow. */
typedef struct factors {
    const df_arrow_shape *shape;
    struct {
        double *inverse, *through; /* through = back inverse */
    } part[DF_MAX_CLASSES];
    double *lu;
    size_t pivot[CORE];
    double block[];
} factors;

/* Brings the largest of column k from row k on to row k, with its whole row; returns where it was. n columns of `rows`. */
static inline size_t bring_pivot(double *a, size_t k, size_t n, size_t rows) {
    const double *column = &a[k * rows];
    size_t p = k;
    for (size_t i = k + 1; i < n; i++)
        if (fabs(column[i]) > fabs(column[p]))
            p = i;
    for (size_t j = 0; j < n && p != k; j++) {
        double t = a[j * rows + k];
        a[j * rows + k] = a[j * rows + p];
        a[j * rows + p] = t;
    }
    return p;
}

/* n columns of `rows`. */
static bool factor(double *a, size_t *pivot, size_t n, size_t rows) {
    for (size_t k = 0; k < n; k++) {
        double *column = &a[k * rows];
        pivot[k] = bring_pivot(a, k, n, rows);
        if (column[k] == 0.0)
            return false;
        double inverse = column[k] = 1.0 / column[k];
        for (size_t i = k + 1; i < n; i++)
            column[i] *= inverse;
        for (size_t j = k + 1; j < n; j++) {
            double *restrict other = &a[j * rows], m = other[k];
            if (m != 0.0)
#pragma omp simd
                for (size_t i = k + 1; i < n; i++)
                    other[i] -= m * column[i];
        }
    }
    return true;
}

static void back_solve(const double *restrict a, const size_t *restrict pivot, double *restrict b, size_t n,
                       size_t rows) {
    for (size_t k = 0; k < n; k++) {
        double t = b[pivot[k]];
        b[pivot[k]] = b[k];
        b[k] = t;
    }
    for (size_t k = 0; k + 1 < n; k++) {
        const double *column = &a[k * rows], t = b[k];
#pragma omp simd
        for (size_t i = k + 1; i < n; i++)
            b[i] -= column[i] * t;
    }
    for (size_t k = n; k-- > 0;) {
        const double *column = &a[k * rows], t = b[k] *= column[k];
#pragma omp simd
        for (size_t i = 0; i < k; i++)
            b[i] -= column[i] * t;
    }
}

/* In place, by columns of `rows`: Gauss and Jordan's method with pivots. */
static bool invert(double *restrict a, size_t n, size_t rows) {
    size_t pivot[SIDE];
    for (size_t k = 0; k < n; k++) {
        double *column = &a[k * rows], factor[df_arrow_rows(SIDE)];
        pivot[k] = bring_pivot(a, k, n, rows);
        if (column[k] == 0.0)
            return false;
        double inverse = 1.0 / column[k];
        for (size_t i = 0; i < rows; i++) {
            factor[i] = -inverse * column[i];
            column[i] = 0.0;
        }
        factor[k] = 0.0;
        column[k] = 1.0;
        for (size_t j = 0; j < n; j++) {
            double *restrict other = &a[j * rows], m = other[k];
            if (m == 0.0)
                continue;
#pragma omp simd
            for (size_t i = 0; i < rows; i++)
                other[i] += m * factor[i];
            other[k] = m * inverse;
        }
    }
    for (size_t k = n; k-- > 0;)
        for (size_t i = 0; i < n && pivot[k] != k; i++) {
            double t = a[k * rows + i];
            a[k * rows + i] = a[pivot[k] * rows + i];
            a[pivot[k] * rows + i] = t;
        }
    return true;
}

static SUNLinearSolver_Type solver_type(SUNLinearSolver solver) {
    (void)solver;
    return SUNLINEARSOLVER_DIRECT;
}

/* sum = A x for LANES rows: so many sums beside one another, so that an addition need not wait for the one before. */
static inline void lanes(double *restrict sum, const double *restrict a, const double *restrict x, size_t rows,
                         size_t columns) {
    for (size_t r = 0; r < LANES; r++)
        sum[r] = 0.0;
    for (size_t j = 0; j < columns; j++)
#pragma omp simd
        for (size_t r = 0; r < LANES; r++)
            sum[r] += a[j * rows + r] * x[j];
}

/* y = y - A x */
static void take_off(double *restrict y, const double *restrict a, const double *restrict x, size_t n,
                     size_t columns) {
    double sum[LANES];
    for (size_t i = 0, rows = df_arrow_rows(n); i < n; i += LANES) {
        lanes(sum, &a[i], x, rows, columns);
        for (size_t r = 0; r < LANES && i + r < n; r++)
            y[i + r] -= sum[r];
    }
}

/* C = A B, with n rows, `inner` columns of A, `columns` of B, whose own columns have `b_rows` rows. */
static void multiply(double *restrict c, const double *restrict a, const double *restrict b, size_t n, size_t inner,
                     size_t columns, size_t b_rows) {
    for (size_t i = 0, rows = df_arrow_rows(n); i < n; i += LANES)
        for (size_t j = 0; j < columns; j++)
            lanes(&c[j * rows + i], &a[i], &b[j * b_rows], rows, inner);
}

static int solver_setup(SUNLinearSolver solver, SUNMatrix matrix) {
    factors *f = solver->content;
    const df_arrow *a = df_arrow_content(matrix);
    const df_arrow_shape *shape = f->shape;
    size_t m = shape->core, g = shape->gases, core = df_arrow_rows(m);
    memcpy(f->lu, a->middle, core * m * sizeof *f->lu);
    for (size_t k = 0; k < shape->classes; k++) {
        size_t q = shape->side[k], rows = df_arrow_rows(q);
        double *inverse = f->part[k].inverse, *through = f->part[k].through;
        memcpy(inverse, a->part[k].own, rows * q * sizeof *inverse);
        if (!invert(inverse, q, rows))
            return 1;
        multiply(through, a->part[k].back, inverse, g, q, q, rows);
        for (size_t j = 0; j < g; j++) /* middle less through gas */
            take_off(&f->lu[j * core], through, &a->part[k].gas[j * rows], g, q);
    }
    return factor(f->lu, f->pivot, m, core) ? 0 : 1;
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
    for (size_t k = 0; k < shape->classes; k++)
        take_off(core, f->part[k].through, &y[shape->start[k]], g, shape->side[k]);
    back_solve(f->lu, f->pivot, core, m, df_arrow_rows(m));
    take_off(end, a->end, core, tail, m);
    for (size_t k = 0; k < shape->classes; k++) {
        size_t q = shape->side[k], rows = df_arrow_rows(q);
        double *own = &y[shape->start[k]], right[SIDE];
        memcpy(right, own, q * sizeof *right);
        take_off(right, a->part[k].gas, core, q, g);
        for (size_t i = 0; i < q; i += LANES) {
            double sum[LANES];
            lanes(sum, &f->part[k].inverse[i], right, rows, q);
            for (size_t r = 0; r < LANES && i + r < q; r++)
                own[i + r] = sum[r];
        }
        const double *heat = a->part[k].heat;
        for (size_t j = 0; j < q; j++)
            for (size_t r = 0; r < 2; r++)
                end[tail - 2 + r] -= heat[2 * j + r] * own[j];
    }
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
    size_t numbers = df_arrow_rows(shape->core) * shape->core, gases = df_arrow_rows(shape->gases);
    for (size_t k = 0; k < shape->classes; k++)
        numbers += shape->side[k] * (df_arrow_rows(shape->side[k]) + gases);
    factors *f = calloc(1, sizeof *f + numbers * sizeof f->block[0]);
    if (solver == NULL || f == NULL) {
        free(f);
        if (solver != NULL)
            SUNLinSolFreeEmpty(solver);
        return NULL;
    }
    f->shape = shape;
    f->lu = f->block;
    double *next = f->block + df_arrow_rows(shape->core) * shape->core;
    for (size_t k = 0; k < shape->classes; k++) {
        f->part[k].inverse = next;
        f->part[k].through = next += shape->side[k] * df_arrow_rows(shape->side[k]);
        next += shape->side[k] * gases;
    }
    solver->content = f;
    solver->ops->gettype = solver_type;
    solver->ops->setup = solver_setup;
    solver->ops->solve = solver_solve;
    solver->ops->free = solver_free;
    return solver;
}
