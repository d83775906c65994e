/* Activity coefficients of the pairs' model: NRTL and its correction in the cold (include/dryfront/mixture.h). */
#include "mixture/activity.h"

#include <math.h>

void df_nrtl_setup(df_nrtl *model, const df_mixture *mixture, double temperature) {
    size_t n = model->n = mixture->n;
    double inverse = 1.0 / temperature, logarithm = log(temperature);
    double fade = fmax(0.0, DF_ZERO_CELSIUS * (inverse - 1.0 / 360.0));
    model->corrected = false;
    for (size_t i = 0; i < n; i++) {
        model->tau[i][i] = 0.0;
        model->g[i][i] = 1.0;
        for (size_t j = i + 1; j < n; j++) {
            const df_nrtl_pair *p = &mixture->pair[i][j];
            model->tau[i][j] = p->a[0] + p->b[0] * inverse + p->c[0] * logarithm;
            model->tau[j][i] = p->a[1] + p->b[1] * inverse + p->c[1] * logarithm;
            model->g[i][j] = exp(-p->alpha * model->tau[i][j]);
            model->g[j][i] = exp(-p->alpha * model->tau[j][i]);
            for (int k = 0; k < DF_COLD_TERMS; k++) {
                model->cold[i][j][k] = fade * p->cold[k];
                model->corrected = model->corrected || model->cold[i][j][k] != 0.0;
            }
        }
    }
}

void df_nrtl_activity(double *gamma_ln, double *slope, const df_nrtl *model, const double *x) {
    switch (model->n) {
    case 2:
        df_activity(gamma_ln, slope, model, x, 2);
        break;
    case 3:
        df_activity(gamma_ln, slope, model, x, 3);
        break;
    case 4:
        df_activity(gamma_ln, slope, model, x, 4);
        break;
    default:
        df_activity(gamma_ln, slope, model, x, model->n);
    }
}

void df_mixture_activity(double *gamma_ln, double *slope, const df_mixture *mixture, double temperature,
                         const double *x) {
    df_nrtl model;
    df_nrtl_setup(&model, mixture, temperature);
    df_nrtl_activity(gamma_ln, slope, &model, x);
}
