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

/* Blocks of a matrix, row-major and without gaps: own: class rows over class columns; gas: class rows over chamber columns;
 * back: chamber rows over class columns; heat: the last two accumulators over class columns; middle: core over core; end:
 * accumulators over core. What is in none of them is nought. */
typedef struct df_arrow {
    const df_arrow_shape *shape;
    struct {
        double *own, *gas, *back, *heat;
    } part[DF_MAX_CLASSES];
    double *middle, *end;
    double unit;    /* diagonal of the tail */
    size_t numbers; /* of all blocks, which lie one after the other from part[0].own on */
    double block[];
} df_arrow;

/* A matrix and a direct solver for SUNDIALS; the shape must outlive them. NULL where memory ran out. */
SUNMatrix df_arrow_matrix(const df_arrow_shape *shape, SUNContext context);
df_arrow *df_arrow_content(SUNMatrix matrix);
SUNLinearSolver df_arrow_solver(const df_arrow_shape *shape, SUNContext context);

#endif
