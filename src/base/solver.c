#include "base/solver.h"

#include <cvode/cvode.h>
#include <math.h>

/* Root mean square of x w. Four sums beside one another, so that an addition need not wait for the one before. */
static realtype norm(N_Vector x, N_Vector w) {
    sunindextype n = NV_LENGTH_S(x), i = 0;
    const double *a = NV_DATA_S(x), *b = NV_DATA_S(w);
    double sum[4] = {0.0};
    for (; i + 4 <= n; i += 4)
        for (int j = 0; j < 4; j++) {
            double p = a[i + j] * b[i + j];
            sum[j] += p * p;
        }
    for (; i < n; i++) {
        double p = a[i] * b[i];
        sum[0] += p * p;
    }
    return sqrt((sum[0] + sum[1] + (sum[2] + sum[3])) / (double)n);
}

static void linear_sum(realtype a, N_Vector x, realtype b, N_Vector y, N_Vector z) {
    const double *p = NV_DATA_S(x), *q = NV_DATA_S(y);
    double *r = NV_DATA_S(z);
    const sunindextype n = NV_LENGTH_S(z);
#pragma omp simd
    for (sunindextype i = 0; i < n; i++)
        r[i] = a * p[i] + b * q[i];
}

static void scale(realtype c, N_Vector x, N_Vector z) {
    const double *p = NV_DATA_S(x);
    double *r = NV_DATA_S(z);
    const sunindextype n = NV_LENGTH_S(z);
#pragma omp simd
    for (sunindextype i = 0; i < n; i++)
        r[i] = c * p[i];
}

static void set_all(realtype c, N_Vector z) {
    double *r = NV_DATA_S(z);
    const sunindextype n = NV_LENGTH_S(z);
#pragma omp simd
    for (sunindextype i = 0; i < n; i++)
        r[i] = c;
}

N_Vector df_solver_vector(sunindextype length, SUNContext context) {
    N_Vector v = N_VNew_Serial(length, context);
    if (v != NULL) {
        v->ops->nvwrmsnorm = norm;
        v->ops->nvlinearsum = linear_sum;
        v->ops->nvscale = scale;
        v->ops->nvconst = set_all;
    }
    return v;
}

void df_solver_close(df_solver *v) {
    if (v->cvode != NULL)
        CVodeFree(&v->cvode);
    if (v->linear != NULL)
        SUNLinSolFree(v->linear);
    if (v->matrix != NULL)
        SUNMatDestroy(v->matrix);
    if (v->state != NULL)
        N_VDestroy(v->state);
    if (v->tolerance != NULL)
        N_VDestroy(v->tolerance);
    if (v->context != NULL)
        SUNContext_Free(&v->context);
}

void df_solver_quiet(int code, const char *module, const char *function, char *message, void *data) {
    (void)code, (void)module, (void)function, (void)message, (void)data;
}
