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

/* The inverse of each class, which has some three to seven rows and is used many times; the core less what the classes feed
 * back (Schur complement) as LU factors with pivots, by columns, the diagonal of U as its reciprocal. */
typedef struct factors {
    const df_arrow_shape *shape;
    struct {
        double *inverse, *shift; /* shift = own^-1 gas */
    } part[DF_MAX_CLASSES];
    double *lu;
    size_t pivot[CORE];
    double block[];
} factors;

/* a by columns. */
static bool factor(double *a, size_t *pivot, size_t n) {
    for (size_t k = 0; k < n; k++) {
        double *restrict column = &a[k * n];
        size_t p = k;
        for (size_t i = k + 1; i < n; i++)
            if (fabs(column[i]) > fabs(column[p]))
                p = i;
        pivot[k] = p;
        if (column[p] == 0.0)
            return false;
        if (p != k)
            for (size_t j = 0; j < n; j++) {
                double t = a[j * n + k];
                a[j * n + k] = a[j * n + p];
                a[j * n + p] = t;
            }
        double inverse = column[k] = 1.0 / column[k];
        for (size_t i = k + 1; i < n; i++)
            column[i] *= inverse;
        for (size_t j = k + 1; j < n; j++) {
            double *restrict other = &a[j * n], m = other[k];
            if (m != 0.0)
#pragma omp simd
                for (size_t i = k + 1; i < n; i++)
                    other[i] -= m * column[i];
        }
    }
    return true;
}

static void back_solve(const double *restrict a, const size_t *restrict pivot, double *restrict b, size_t n) {
    for (size_t k = 0; k < n; k++) {
        double t = b[pivot[k]];
        b[pivot[k]] = b[k];
        b[k] = t;
    }
    for (size_t k = 0; k + 1 < n; k++) {
        const double *column = &a[k * n], t = b[k];
#pragma omp simd
        for (size_t i = k + 1; i < n; i++)
            b[i] -= column[i] * t;
    }
    for (size_t k = n; k-- > 0;) {
        const double *column = &a[k * n], t = b[k] *= column[k];
#pragma omp simd
        for (size_t i = 0; i < k; i++)
            b[i] -= column[i] * t;
    }
}

/* In place, by rows: Gauss and Jordan's method with pivots. */
static bool invert(double *restrict a, size_t n) {
    size_t pivot[SIDE];
    for (size_t k = 0; k < n; k++) {
        size_t p = k;
        for (size_t i = k + 1; i < n; i++)
            if (fabs(a[i * n + k]) > fabs(a[p * n + k]))
                p = i;
        pivot[k] = p;
        if (a[p * n + k] == 0.0)
            return false;
        double row[SIDE], inverse = 1.0 / a[p * n + k];
        a[p * n + k] = 1.0;
        for (size_t j = 0; j < n; j++) {
            row[j] = a[p * n + j] * inverse;
            a[p * n + j] = a[k * n + j];
            a[k * n + j] = row[j];
        }
        for (size_t i = 0; i < n; i++) {
            double m = a[i * n + k];
            if (i == k || m == 0.0)
                continue;
            a[i * n + k] = 0.0;
            for (size_t j = 0; j < n; j++)
                a[i * n + j] -= m * row[j];
        }
    }
    for (size_t k = n; k-- > 0;)
        for (size_t i = 0; i < n && pivot[k] != k; i++) {
            double t = a[i * n + k];
            a[i * n + k] = a[i * n + pivot[k]];
            a[i * n + pivot[k]] = t;
        }
    return true;
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
    for (size_t i = 0; i < m; i++)
        for (size_t j = 0; j < m; j++)
            f->lu[j * m + i] = a->middle[i * m + j];
    for (size_t k = 0; k < shape->classes; k++) {
        size_t q = shape->side[k];
        const double *gas = a->part[k].gas, *back = a->part[k].back;
        double *inverse = f->part[k].inverse, *shift = f->part[k].shift;
        memcpy(inverse, a->part[k].own, q * q * sizeof *inverse);
        if (!invert(inverse, q))
            return 1;
        memset(shift, 0, q * g * sizeof *shift);
        for (size_t i = 0; i < q; i++)
            for (size_t r = 0; r < q; r++)
                for (size_t j = 0; j < g; j++)
                    shift[i * g + j] += inverse[i * q + r] * gas[r * g + j];
        for (size_t r = 0; r < g; r++)
            for (size_t i = 0; i < q; i++)
                for (size_t j = 0; j < g; j++)
                    f->lu[j * m + r] -= back[r * q + i] * shift[i * g + j];
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
        double *own = &y[shape->start[k]], right[SIDE];
        memcpy(right, own, q * sizeof *right);
        for (size_t i = 0; i < q; i++) {
            double sum = 0.0;
            for (size_t j = 0; j < q; j++)
                sum += f->part[k].inverse[i * q + j] * right[j];
            own[i] = sum;
        }
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
    double inverse = 1.0 / a->unit;
    for (size_t r = 0; r < tail; r++)
        end[r] *= inverse;
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
        f->part[k].inverse = next;
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
