/* B(-x) = x/(1 - e^-x), the weight of convection with diffusion in one dimension upstream; B(x) = B(-x) - x downstream. */
#ifndef DRYFRONT_BASE_BERNOULLI_H
#define DRYFRONT_BASE_BERNOULLI_H

#include <math.h>

/* B(-x) and its slope over x; 0 below -500. Up to 1 by its series 1 + x/2 + sum B_2k x^2k/(2k)! (Abramowitz & Stegun 23.1.1),
 * without exponential and good to 5e-13 there. */
static inline double df_bernoulli(double x, double *slope) {
    if (fabs(x) < 1.0) {
        double t = x * x, value = 1.0 / 74724249600.0, change = 14.0 * value;
        static const double c[] = {
            -691.0 / 1307674368000.0, 1.0 / 47900160.0, -1.0 / 1209600.0, 1.0 / 30240.0, -1.0 / 720.0, 1.0 / 12.0};
        for (int k = 0; k < 6; k++) {
            value = value * t + c[k];
            change = change * t + (double)(12 - 2 * k) * c[k];
        }
        *slope = 0.5 + x * change;
        return 1.0 + x * 0.5 + t * value;
    }
    if (x < -500.0)
        return *slope = 0.0;
    double left = -expm1(-x), inverse = 1.0 / left;
    *slope = (left - x * (1.0 - left)) * inverse * inverse;
    return x * inverse;
}

#endif
