/* Roots, small linear systems, interpolation. */
#include "dryfront/base.h"

#include <float.h>
#include <math.h>

bool df_find_root(double *root, double a, double b, double tolerance, df_function f, void *data) {
    double fa = f(a, data), fb = f(b, data);
    if (fa == 0 || fb == 0) {
        *root = fa == 0 ? a : b;
        return true;
    }
    if (isnan(fa) || isnan(fb) || (fa > 0) == (fb > 0)) {
        *root = isnan(fb) || fabs(fa) < fabs(fb) ? a : b;
        return false;
    }
    /* b is the best point so far, a the one before, c keeps the root between b and c; Brent 1973, section 4.4. */
    double c = a, fc = fa, step = b - a, last_step = step;
    /* Bisection alone would need some 1100 halvings to cross the doubles; Brent's bound is its square, never met. */
    for (int i = 0; i < 3000; i++) {
        if ((fb > 0) == (fc > 0)) {
            c = a;
            fc = fa;
            step = last_step = b - a;
        }
        if (fabs(fc) < fabs(fb)) {
            a = b;
            b = c;
            c = a;
            fa = fb;
            fb = fc;
            fc = fa;
        }
        double tol = 2 * DBL_EPSILON * fabs(b) + 0.5 * fmax(tolerance, 0);
        double middle = 0.5 * (c - b);
        if (fabs(middle) <= tol || fb == 0) {
            *root = b;
            return true;
        }
        if (fabs(last_step) < tol || fabs(fa) <= fabs(fb)) {
            step = last_step = middle;
        } else {
            double s = fb / fa, p, q;
            if (a == c) { /* two points: secant */
                p = 2 * middle * s;
                q = 1 - s;
            } else { /* three points: inverse quadratic */
                double r = fb / fc, t = fa / fc;
                p = s * (2 * middle * t * (t - r) - (b - a) * (r - 1));
                q = (t - 1) * (r - 1) * (s - 1);
            }
            if (p > 0)
                q = -q;
            else
                p = -p;
            if (2 * p < 3 * middle * q - fabs(tol * q) && p < fabs(0.5 * last_step * q)) {
                last_step = step;
                step = p / q;
            } else {
                step = last_step = middle;
            }
        }
        a = b;
        fa = fb;
        b += fabs(step) > tol ? step : middle > 0 ? tol : -tol;
        fb = f(b, data);
        if (isnan(fb)) {
            *root = a;
            return false;
        }
    }
    *root = b;
    return false;
}

df_status df_highest_with(df_context *ctx, double *x, double low, double high, double step, df_condition condition,
                          void *data) {
    double at = high, above = high;
    int holds = 0;
    *x = NAN;
    while (holds == 0 && at > low) {
        above = at;
        at = fmax(at - step, low);
        df_status status = condition(ctx, &holds, at, data);
        if (status < 0)
            return status;
    }
    if (holds != 1)
        return DF_OK;
    while (above - at > 1e-3) {
        double middle = 0.5 * (at + above);
        df_status status = condition(ctx, &holds, middle, data);
        if (status < 0)
            return status;
        *(holds == 1 ? &at : &above) = middle;
    }
    *x = at;
    return DF_OK;
}

bool df_solve_linear(double *a, double *b, size_t n) {
    if (n > 64)
        return false;
    /* Rows are brought to one size: a choice of units decides neither the pivot nor what counts as singular. */
    double column[64];
    for (size_t j = 0; j < n; j++)
        column[j] = 0;
    for (size_t i = 0; i < n; i++) {
        double largest = 0;
        for (size_t j = 0; j < n; j++) {
            if (!isfinite(a[i * n + j]))
                return false;
            largest = fabs(a[i * n + j]) > largest ? fabs(a[i * n + j]) : largest;
        }
        if (largest == 0)
            return false;
        int power;
        (void)frexp(largest, &power);
        power = power < -1000 ? -1000 : power; /* so that the factor is finite */
        double factor = ldexp(1.0, -power);    /* a power of two: nothing is rounded */
        for (size_t j = 0; j < n; j++) {
            a[i * n + j] *= factor;
            column[j] = fabs(a[i * n + j]) > column[j] ? fabs(a[i * n + j]) : column[j];
        }
        b[i] *= factor;
    }
    for (size_t k = 0; k < n; k++) {
        size_t pivot = k;
        for (size_t i = k + 1; i < n; i++)
            if (fabs(a[i * n + k]) > fabs(a[pivot * n + k]))
                pivot = i;
        if (fabs(a[pivot * n + k]) <= DBL_EPSILON * column[k])
            return false;
        if (pivot != k) {
            for (size_t j = k; j < n; j++) {
                double t = a[k * n + j];
                a[k * n + j] = a[pivot * n + j];
                a[pivot * n + j] = t;
            }
            double t = b[k];
            b[k] = b[pivot];
            b[pivot] = t;
        }
        for (size_t i = k + 1; i < n; i++) {
            double m = a[i * n + k] / a[k * n + k];
            if (m == 0)
                continue;
            for (size_t j = k + 1; j < n; j++)
                a[i * n + j] -= m * a[k * n + j];
            b[i] -= m * b[k];
        }
    }
    for (size_t k = n; k-- > 0;) {
        for (size_t j = k + 1; j < n; j++)
            b[k] -= a[k * n + j] * b[j];
        b[k] /= a[k * n + k];
    }
    return true;
}

void df_solve_tridiagonal(const double *lower, double *diagonal, const double *upper, double *x, size_t n) {
    for (size_t i = 1; i < n; i++) {
        double m = lower[i] / diagonal[i - 1];
        diagonal[i] -= m * upper[i - 1];
        x[i] -= m * x[i - 1];
    }
    for (size_t i = n; i-- > 0;) {
        if (i + 1 < n)
            x[i] -= upper[i] * x[i + 1];
        x[i] /= diagonal[i];
    }
}

/* Turns the plane of p and q so that a[p][q] vanishes. */
static void rotate(double *a, double *vector, size_t n, size_t p, size_t q) {
    double theta = 0.5 * (a[q * n + q] - a[p * n + p]) / a[p * n + q];
    double t = (theta < 0.0 ? -1.0 : 1.0) / (fabs(theta) + sqrt(theta * theta + 1.0));
    double c = 1.0 / sqrt(t * t + 1.0), s = t * c;
    for (size_t k = 0; k < n; k++) {
        double kp = a[k * n + p], kq = a[k * n + q];
        a[k * n + p] = c * kp - s * kq;
        a[k * n + q] = s * kp + c * kq;
    }
    for (size_t k = 0; k < n; k++) {
        double pk = a[p * n + k], qk = a[q * n + k];
        a[p * n + k] = c * pk - s * qk;
        a[q * n + k] = s * pk + c * qk;
    }
    for (size_t k = 0; k < n; k++) {
        double kp = vector[k * n + p], kq = vector[k * n + q];
        vector[k * n + p] = c * kp - s * kq;
        vector[k * n + q] = s * kp + c * kq;
    }
}

void df_eigen_symmetric(double *a, double *vector, size_t n) {
    double size = 0.0;
    for (size_t i = 0; i < n * n; i++) {
        vector[i] = i % (n + 1) == 0 ? 1.0 : 0.0;
        size += a[i] * a[i];
    }
    for (int sweep = 0; sweep < 60; sweep++) {
        double off = 0.0;
        for (size_t p = 0; p < n; p++)
            for (size_t q = p + 1; q < n; q++)
                off += a[p * n + q] * a[p * n + q];
        if (!(off > 1e-30 * size))
            return;
        for (size_t p = 0; p < n; p++)
            for (size_t q = p + 1; q < n; q++)
                if (fabs(a[p * n + q]) > 1e-300)
                    rotate(a, vector, n, p, q);
    }
}

double df_interpolate(const double *x, const double *y, size_t n, double at) {
    if (n == 0 || isnan(at))
        return NAN;
    if (at <= x[0])
        return y[0];
    if (at >= x[n - 1])
        return y[n - 1];
    size_t low = 0, high = n - 1; /* x[low] <= at < x[high] */
    while (high - low > 1) {
        size_t middle = low + (high - low) / 2;
        if (x[middle] <= at)
            low = middle;
        else
            high = middle;
    }
    return y[low] + (y[high] - y[low]) * ((at - x[low]) / (x[high] - x[low]));
}
