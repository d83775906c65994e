#include "drying/border.h"

#include "dryfront/base.h"

#include <math.h>
#include <nvector/nvector_serial.h>
#include <stdlib.h>
#include <string.h>

/* ---- matrix --------------------------------------------------------------------------------------------------- */

static size_t band_size(const df_border_shape *s) {
    return s->band * (2 * s->half + 1);
}

static size_t whole_size(const df_border_shape *s) {
    return band_size(s) + s->band * (s->coupled + s->border) + s->border * s->border;
}

/* The four parts lie one behind the other. */
static df_border *make(const df_border_shape *s) {
    df_border *b = malloc(sizeof *b);
    double *block = calloc(whole_size(s), sizeof *block);
    if (b == NULL || block == NULL) {
        free(b);
        free(block);
        return NULL;
    }
    b->shape = *s;
    b->band = block;
    b->right = b->band + band_size(s);
    b->low = b->right + s->band * s->coupled;
    b->corner = b->low + s->border * s->band;
    return b;
}

static void drop(df_border *b) {
    if (b != NULL)
        free(b->band);
    free(b);
}

df_border *df_border_content(SUNMatrix matrix) {
    return matrix->content;
}

static SUNMatrix_ID matrix_id(SUNMatrix matrix) {
    (void)matrix;
    return SUNMATRIX_CUSTOM;
}

static SUNMatrix matrix_clone(SUNMatrix matrix) {
    return df_border_matrix(&df_border_content(matrix)->shape, matrix->sunctx);
}

static void matrix_destroy(SUNMatrix matrix) {
    if (matrix == NULL)
        return;
    drop(matrix->content);
    matrix->content = NULL;
    SUNMatFreeEmpty(matrix);
}

static int matrix_zero(SUNMatrix matrix) {
    df_border *b = df_border_content(matrix);
    memset(b->band, 0, whole_size(&b->shape) * sizeof *b->band);
    return 0;
}

static int matrix_copy(SUNMatrix from, SUNMatrix to) {
    const df_border *b = df_border_content(from);
    memcpy(df_border_content(to)->band, b->band, whole_size(&b->shape) * sizeof *b->band);
    return 0;
}

SUNMatrix df_border_matrix(const df_border_shape *shape, SUNContext context) {
    SUNMatrix matrix = SUNMatNewEmpty(context);
    df_border *b = make(shape);
    if (matrix == NULL || b == NULL) {
        drop(b);
        if (matrix != NULL)
            SUNMatFreeEmpty(matrix);
        return NULL;
    }
    matrix->content = b;
    matrix->ops->getid = matrix_id;
    matrix->ops->clone = matrix_clone;
    matrix->ops->destroy = matrix_destroy;
    matrix->ops->zero = matrix_zero;
    matrix->ops->copy = matrix_copy;
    return matrix;
}

/* ---- solver --------------------------------------------------------------------------------------------------- */

/* band: LU of the band, the inverse of each pivot in its place; right: band^-1 right; low: as it was; corner: less low right
 * (Schur complement). */
typedef struct factors {
    df_border *f;
    bool busy[DF_BORDER_MOST]; /* rows of `low` that are not nought */
} factors;

static bool factor(df_border *f, const df_border *a) {
    const df_border_shape *s = &f->shape;
    size_t n = s->band, h = s->half, wide = 2 * h + 1;
    memcpy(f->band, a->band, whole_size(s) * sizeof *f->band);
    for (size_t k = 0; k < n; k++) {
        double pivot = f->band[k * wide + h];
        if (!(fabs(pivot) > 0.0))
            return false;
        double inverse = f->band[k * wide + h] = 1.0 / pivot;
        for (size_t i = k + 1; i <= k + h && i < n; i++) {
            double *row = &f->band[i * wide + h - (i - k)];
            double m = row[0] *= inverse;
            if (m != 0.0)
                for (size_t j = 1; j <= h; j++)
                    row[j] -= m * f->band[k * wide + h + j];
        }
    }
    return true;
}

static void solve_band(const df_border *f, double *x) {
    size_t n = f->shape.band, h = f->shape.half, wide = 2 * h + 1;
    for (size_t i = 1; i < n; i++)
        for (size_t j = i > h ? i - h : 0; j < i; j++)
            x[i] -= f->band[i * wide + h + j - i] * x[j];
    for (size_t i = n; i-- > 0;) {
        for (size_t j = i + 1; j <= i + h && j < n; j++)
            x[i] -= f->band[i * wide + h + j - i] * x[j];
        x[i] *= f->band[i * wide + h];
    }
}

static double dot(const double *a, const double *b, size_t n) {
    double sum = 0.0;
    for (size_t i = 0; i < n; i++)
        sum += a[i] * b[i];
    return sum;
}

static SUNLinearSolver_Type solver_type(SUNLinearSolver solver) {
    (void)solver;
    return SUNLINEARSOLVER_DIRECT;
}

static int solver_setup(SUNLinearSolver solver, SUNMatrix matrix) {
    factors *all = solver->content;
    df_border *f = all->f;
    const df_border_shape *s = &f->shape;
    if (!factor(f, df_border_content(matrix)))
        return 1;
    for (size_t r = 0; r < s->border; r++) {
        all->busy[r] = false;
        for (size_t k = 0; k < s->band && !all->busy[r]; k++)
            all->busy[r] = f->low[r * s->band + k] != 0.0;
    }
    for (size_t c = 0; c < s->coupled; c++) {
        double *column = &f->right[c * s->band];
        solve_band(f, column);
        for (size_t r = 0; r < s->border; r++)
            if (all->busy[r])
                f->corner[r * s->border + c] -= dot(&f->low[r * s->band], column, s->band);
    }
    return 0;
}

static int solver_solve(SUNLinearSolver solver, SUNMatrix matrix, N_Vector x, N_Vector b, realtype tolerance) {
    const factors *all = solver->content;
    const df_border *f = all->f;
    const df_border_shape *s = &f->shape;
    double *y = N_VGetArrayPointer(x), *end = &y[s->band], corner[DF_BORDER_MOST * DF_BORDER_MOST];
    (void)matrix;
    (void)tolerance;
    if (x != b)
        memcpy(y, N_VGetArrayPointer(b), (s->band + s->border) * sizeof *y);
    solve_band(f, y);
    for (size_t r = 0; r < s->border; r++)
        if (all->busy[r])
            end[r] -= dot(&f->low[r * s->band], y, s->band);
    memcpy(corner, f->corner, s->border * s->border * sizeof *corner);
    if (!df_solve_linear(corner, end, s->border))
        return 1;
    for (size_t c = 0; c < s->coupled; c++)
        for (size_t i = 0; i < s->band; i++)
            y[i] -= f->right[c * s->band + i] * end[c];
    return 0;
}

static int solver_free(SUNLinearSolver solver) {
    if (solver == NULL)
        return 0;
    factors *all = solver->content;
    if (all != NULL)
        drop(all->f);
    free(all);
    solver->content = NULL;
    SUNLinSolFreeEmpty(solver);
    return 0;
}

SUNLinearSolver df_border_solver(const df_border_shape *shape, SUNContext context) {
    SUNLinearSolver solver = SUNLinSolNewEmpty(context);
    factors *f = calloc(1, sizeof *f);
    if (f != NULL)
        f->f = make(shape);
    if (solver == NULL || f == NULL || f->f == NULL) {
        if (f != NULL)
            drop(f->f);
        free(f);
        if (solver != NULL)
            SUNLinSolFreeEmpty(solver);
        return NULL;
    }
    solver->content = f;
    solver->ops->gettype = solver_type;
    solver->ops->setup = solver_setup;
    solver->ops->solve = solver_solve;
    solver->ops->free = solver_free;
    return solver;
}
