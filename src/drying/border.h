/* Linear algebra of model (b): a band of cells that touch their neighbours, and a border of a few unknowns that touch
 * all (fronts, flows, accounts). Stored and solved as such, the work grows with the number of cells. */
#ifndef DRYFRONT_DRYING_BORDER_H
#define DRYFRONT_DRYING_BORDER_H

#include <stdbool.h>
#include <stddef.h>

#include <sundials/sundials_linearsolver.h>
#include <sundials/sundials_matrix.h>

#define DF_BORDER_MOST 64 /* unknowns in a border */

/* States: the band first, then the border, of which the first `coupled` act on the band. */
typedef struct df_border_shape {
    size_t band, half; /* unknowns, entries on either side of the diagonal */
    size_t border, coupled;
} df_border_shape;

/* band: row-major, band x (2 half + 1), the diagonal at `half`; right: column-major, one column of the band for each coupled
 * unknown; low: row-major, border x band; corner: row-major, border x border. */
typedef struct df_border {
    df_border_shape shape;
    double *band, *right, *low, *corner;
} df_border;

/* A matrix and a direct solver for SUNDIALS. The band is factored without exchange of rows: its cells lose more to themselves
 * than to others. NULL where memory ran out. */
SUNMatrix df_border_matrix(const df_border_shape *shape, SUNContext context);
df_border *df_border_content(SUNMatrix matrix);
SUNLinearSolver df_border_solver(const df_border_shape *shape, SUNContext context);

#endif
