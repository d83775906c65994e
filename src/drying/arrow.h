/* Linear algebra of model (a): classes of containers that touch only the chamber, the core of the dryer, and accumulators
 * on which nothing depends. Stored and solved as such, the work grows with the number of classes, not with its cube. */
#ifndef DRYFRONT_DRYING_ARROW_H
#define DRYFRONT_DRYING_ARROW_H

#include "dryfront/drying.h"

#include <sundials/sundials_linearsolver.h>
#include <sundials/sundials_matrix.h>

#define DF_ARROW_GASES (DF_MAX_COMPONENTS + 1)
#define DF_ARROW_SIDE (2 * DF_MAX_COMPONENTS + 1) /* states of a class: free and bound species, enthalpy */
/* gases of the chamber; of each trap gases, deposits, two temperatures; solvent in the oil */
#define DF_ARROW_CORE (DF_ARROW_GASES + DF_MAX_TRAPS * (DF_ARROW_GASES + DF_MAX_COMPONENTS + 2) + DF_MAX_COMPONENTS)
#define DF_ARROW_TAIL (DF_ARROW_GASES + 3 + DF_MAX_TRAPS) /* accumulators */

/* Where the states lie: classes first, one after the other, then the core (its first `gases` are the chamber's), then the
 * accumulators. */
typedef struct df_arrow_shape {
    size_t classes, side[DF_MAX_CLASSES], start[DF_MAX_CLASSES]; /* states of a class and their offset */
    size_t gases, core, core_start, tail, tail_start;
} df_arrow_shape;

/* Blocks of a matrix by columns, each column filled up with noughts to a multiple of DF_ARROW_LANES rows, save heat, which has two:
 * own: class rows over class columns; gas: class rows over chamber columns; back: chamber rows over class columns; heat: the
 * last two accumulators over class columns; middle: core over core; end: accumulators over core. What is in none of them is
 * nought. */
typedef struct df_arrow {
    const df_arrow_shape *shape;
    struct {
        double *own, *gas, *back, *heat;
    } part[DF_MAX_CLASSES];
    double *middle, *end;
    size_t numbers; /* of all blocks, which lie one after the other */
    double block[];
} df_arrow;

#define DF_ARROW_LANES 4
/* Rows of a column with those that fill it up. */
static inline size_t df_arrow_rows(size_t rows) {
    return (rows + DF_ARROW_LANES - 1) / DF_ARROW_LANES * DF_ARROW_LANES;
}

/* A matrix of noughts, to be freed; NULL where memory ran out. The shape must outlive it. */
df_arrow *df_arrow_make(const df_arrow_shape *shape);
/* newton = I - gamma slopes, of the same shape; the diagonal of the accumulators, which is 1, is not stored. */
void df_arrow_newton(df_arrow *newton, const df_arrow *slopes, double gamma);

/* A matrix and a direct solver of I - gamma J for SUNDIALS; the shape must outlive them. NULL where memory ran out. */
SUNMatrix df_arrow_matrix(const df_arrow_shape *shape, SUNContext context);
df_arrow *df_arrow_content(SUNMatrix matrix);
SUNLinearSolver df_arrow_solver(const df_arrow_shape *shape, SUNContext context);

#endif
