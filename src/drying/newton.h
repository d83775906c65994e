/* Newton's method for SUNDIALS that makes the Jacobian anew on the way where the old one does not lead on. Where a frozen
 * cell begins to melt its temperature has a corner over its heat, at which one Jacobian throws the state to and fro. */
#ifndef DRYFRONT_DRYING_NEWTON_H
#define DRYFRONT_DRYING_NEWTON_H

#include <nvector/nvector_serial.h>
#include <sundials/sundials_nonlinearsolver.h>

/* NULL where memory ran out. `like` gives the size of its workspace. */
SUNNonlinearSolver df_newton_solver(N_Vector like, SUNContext context);

#endif
