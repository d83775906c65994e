/* Sobol sequence, scrambled; estimates from replicates; Sobol indices. */
#include "advice/sobol.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#define BITS 32

/* Degree, coefficients between the first and the last of the primitive polynomial, first direction numbers: dimensions 2 to 64
 * of Joe & Kuo's table for criterion 6 (SIAM J. Sci. Comput. 30 (2008) 2635), as SciPy carries it. */
static const struct {
    unsigned char degree, inner;
    unsigned short first[9];
} primitive[DF_SOBOL_DIMENSIONS - 1] = {

    {1, 0, {1}},
    {2, 1, {1, 3}},
    {3, 1, {1, 3, 1}},
    {3, 2, {1, 1, 1}},
    {4, 1, {1, 1, 3, 3}},
    {4, 4, {1, 3, 5, 13}},
    {5, 2, {1, 1, 5, 5, 17}},
    {5, 4, {1, 1, 5, 5, 5}},
    {5, 7, {1, 1, 7, 11, 19}},
    {5, 11, {1, 1, 5, 1, 1}},
    {5, 13, {1, 1, 1, 3, 11}},
    {5, 14, {1, 3, 5, 5, 31}},
    {6, 1, {1, 3, 3, 9, 7, 49}},
    {6, 13, {1, 1, 1, 15, 21, 21}},
    {6, 16, {1, 3, 1, 13, 27, 49}},
    {6, 19, {1, 1, 1, 15, 7, 5}},
    {6, 22, {1, 3, 1, 15, 13, 25}},
    {6, 25, {1, 1, 5, 5, 19, 61}},
    {7, 1, {1, 3, 7, 11, 23, 15, 103}},
    {7, 4, {1, 3, 7, 13, 13, 15, 69}},
    {7, 7, {1, 1, 3, 13, 7, 35, 63}},
    {7, 8, {1, 3, 5, 9, 1, 25, 53}},
    {7, 14, {1, 3, 1, 13, 9, 35, 107}},
    {7, 19, {1, 3, 1, 5, 27, 61, 31}},
    {7, 21, {1, 1, 5, 11, 19, 41, 61}},
    {7, 28, {1, 3, 5, 3, 3, 13, 69}},
    {7, 31, {1, 1, 7, 13, 1, 19, 1}},
    {7, 32, {1, 3, 7, 5, 13, 19, 59}},
    {7, 37, {1, 1, 3, 9, 25, 29, 41}},
    {7, 41, {1, 3, 5, 13, 23, 1, 55}},
    {7, 42, {1, 3, 7, 3, 13, 59, 17}},
    {7, 50, {1, 3, 1, 3, 5, 53, 69}},
    {7, 55, {1, 1, 5, 5, 23, 33, 13}},
    {7, 56, {1, 1, 7, 7, 1, 61, 123}},
    {7, 59, {1, 1, 7, 9, 13, 61, 49}},
    {7, 62, {1, 3, 3, 5, 3, 55, 33}},
    {8, 14, {1, 3, 1, 15, 31, 13, 49, 245}},
    {8, 21, {1, 3, 5, 15, 31, 59, 63, 97}},
    {8, 22, {1, 3, 1, 11, 11, 11, 77, 249}},
    {8, 38, {1, 3, 1, 11, 27, 43, 71, 9}},
    {8, 47, {1, 1, 7, 15, 21, 11, 81, 45}},
    {8, 49, {1, 3, 7, 3, 25, 31, 65, 79}},
    {8, 50, {1, 3, 1, 1, 19, 11, 3, 205}},
    {8, 52, {1, 1, 5, 9, 19, 21, 29, 157}},
    {8, 56, {1, 3, 7, 11, 1, 33, 89, 185}},
    {8, 67, {1, 3, 3, 3, 15, 9, 79, 71}},
    {8, 70, {1, 3, 7, 11, 15, 39, 119, 27}},
    {8, 84, {1, 1, 3, 1, 11, 31, 97, 225}},
    {8, 97, {1, 1, 1, 3, 23, 43, 57, 177}},
    {8, 103, {1, 3, 7, 7, 17, 17, 37, 71}},
    {8, 115, {1, 3, 1, 5, 27, 63, 123, 213}},
    {8, 122, {1, 1, 3, 5, 11, 43, 53, 133}},
    {9, 8, {1, 3, 5, 5, 29, 17, 47, 173, 479}},
    {9, 13, {1, 3, 3, 11, 3, 1, 109, 9, 69}},
    {9, 16, {1, 1, 1, 5, 17, 39, 23, 5, 343}},
    {9, 22, {1, 3, 1, 5, 25, 15, 31, 103, 499}},
    {9, 25, {1, 1, 1, 11, 11, 17, 63, 105, 183}},
    {9, 44, {1, 1, 5, 11, 9, 29, 97, 231, 363}},
    {9, 47, {1, 1, 5, 15, 19, 45, 41, 7, 383}},
    {9, 52, {1, 3, 7, 7, 31, 19, 83, 137, 221}},
    {9, 55, {1, 1, 1, 3, 23, 15, 111, 223, 83}},
    {9, 59, {1, 1, 5, 13, 31, 15, 55, 25, 161}},
    {9, 62, {1, 1, 3, 13, 25, 47, 39, 87, 257}}};

uint64_t df_mix_bits(uint64_t x) {
    x += 0x9E3779B97F4A7C15u;
    x = (x ^ (x >> 30)) * 0xBF58476D1CE4E5B9u;
    x = (x ^ (x >> 27)) * 0x94D049BB133111EBu;
    return x ^ (x >> 31);
}

void df_sobol_make(df_sobol *s, size_t n, uint64_t seed, bool scrambled) {
    s->n = n < DF_SOBOL_DIMENSIONS ? n : DF_SOBOL_DIMENSIONS;
    s->seed = seed;
    s->scrambled = scrambled;
    for (unsigned k = 0; k < BITS; k++) /* van der Corput's */
        s->direction[0][k] = 1u << (BITS - 1 - k);
    for (size_t i = 1; i < s->n; i++) {
        unsigned degree = primitive[i - 1].degree, inner = primitive[i - 1].inner;
        uint32_t *v = s->direction[i];
        for (unsigned k = 0; k < BITS; k++) {
            if (k < degree) {
                v[k] = (uint32_t)primitive[i - 1].first[k] << (BITS - 1 - k);
                continue;
            }
            v[k] = v[k - degree] ^ (v[k - degree] >> degree);
            for (unsigned j = 1; j < degree; j++)
                if ((inner >> (degree - 1 - j)) & 1u)
                    v[k] ^= v[k - j];
        }
    }
}

/* Nested scrambling: whether a digit is turned hangs on all digits before it. */
static uint32_t scramble(uint32_t x, uint64_t key) {
    uint32_t out = 0;
    for (unsigned k = 0; k < BITS; k++) {
        uint64_t before = k == 0 ? 0 : (uint64_t)(x >> (BITS - k));
        uint32_t turned = (uint32_t)(df_mix_bits(key ^ df_mix_bits(before | (uint64_t)(k + 1) << 40)) >> 63);
        out |= (((x >> (BITS - 1 - k)) & 1u) ^ turned) << (BITS - 1 - k);
    }
    return out;
}

void df_sobol_point(double *u, const df_sobol *s, uint32_t index) {
    for (size_t i = 0; i < s->n; i++) {
        uint32_t x = 0;
        for (unsigned k = 0; index >> k != 0; k++) {
            if ((index >> k) & 1u)
                x ^= s->direction[i][k];
            if (k == BITS - 1)
                break;
        }
        if (s->scrambled)
            x = scramble(x, df_mix_bits(s->seed) + df_mix_bits(0x5851F42D4C957F2Du * (uint64_t)(i + 1)));
        u[i] = ((double)x + 0.5) * 0x1p-32;
    }
}

double df_normal_quantile(double u) {
    double p = u < 0.5 ? u : 1.0 - u, t = sqrt(-2.0 * log(p));
    double z =
        t - (2.515517 + t * (0.802853 + t * 0.010328)) / (1.0 + t * (1.432788 + t * (0.189269 + t * 0.001308)));
    for (int i = 0; i < 3; i++) { /* upper tail Q(z) = p */
        double error = (0.5 * erfc(z * M_SQRT1_2) - p) * sqrt(2.0 * M_PI) * exp(0.5 * z * z);
        z += error / (1.0 - 0.5 * error * z);
    }
    return u < 0.5 ? -z : z;
}

/* ---- estimates ------------------------------------------------------------------------------------------------ */

/* Standard error of the mean of n estimates, NAN left out. */
static double error_of(const double *estimate, size_t n) {
    double mean = 0.0, square = 0.0;
    size_t used = 0;
    for (size_t i = 0; i < n; i++)
        if (!isnan(estimate[i])) {
            mean += estimate[i];
            used++;
        }
    if (used < 2)
        return NAN;
    mean /= (double)used;
    for (size_t i = 0; i < n; i++)
        if (!isnan(estimate[i]))
            square += (estimate[i] - mean) * (estimate[i] - mean);
    return sqrt(square / ((double)used * (double)(used - 1)));
}

static double mean_of(const double *value, size_t n, size_t *used) {
    double sum = 0.0;
    *used = 0;
    for (size_t i = 0; i < n; i++)
        if (!isnan(value[i])) {
            sum += value[i];
            (*used)++;
        }
    return *used > 0 ? sum / (double)*used : NAN;
}

df_estimate df_estimate_mean(const double *value, size_t replicates, size_t each) {
    double block[DF_RISK_REPLICATES];
    size_t used, n = replicates < DF_RISK_REPLICATES ? replicates : DF_RISK_REPLICATES;
    df_estimate e;
    for (size_t r = 0; r < n; r++)
        block[r] = mean_of(value + r * each, each, &used);
    e.value = mean_of(value, n * each, &used);
    e.error = error_of(block, n);
    return e;
}

static int ascending(const void *a, const void *b) {
    double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

static double quantile_of(const double *value, size_t n, double q, double *room) {
    size_t used = 0;
    for (size_t i = 0; i < n; i++)
        if (!isnan(value[i]))
            room[used++] = value[i];
    if (used == 0)
        return NAN;
    qsort(room, used, sizeof *room, ascending);
    double at = q * (double)(used - 1);
    size_t k = (size_t)at;
    if (k + 1 >= used)
        return room[used - 1];
    double share = at - (double)k;
    return share > 0.0 ? room[k] + share * (room[k + 1] - room[k]) : room[k]; /* infinite ends stay as they are */
}

df_estimate df_estimate_quantile(const double *value, size_t replicates, size_t each, double q, double *room) {
    double block[DF_RISK_REPLICATES];
    size_t n = replicates < DF_RISK_REPLICATES ? replicates : DF_RISK_REPLICATES;
    df_estimate e;
    for (size_t r = 0; r < n; r++)
        block[r] = quantile_of(value + r * each, each, q, room);
    e.value = quantile_of(value, n * each, q, room);
    e.error = error_of(block, n);
    return e;
}

df_sobol_index df_sobol_index_of(const double *a, const double *b, const double *ab, size_t replicates, size_t each) {
    df_sobol_index out = {{NAN, NAN}, {NAN, NAN}};
    double first[DF_RISK_REPLICATES], total[DF_RISK_REPLICATES], mean = 0.0, variance = 0.0;
    size_t blocks = replicates < DF_RISK_REPLICATES ? replicates : DF_RISK_REPLICATES, n = blocks * each;
    for (size_t k = 0; k < n; k++)
        mean += 0.5 * (a[k] + b[k]) / (double)n;
    for (size_t k = 0; k < n; k++)
        variance += 0.5 * ((a[k] - mean) * (a[k] - mean) + (b[k] - mean) * (b[k] - mean)) / (double)n;
    if (!(variance > 1e-18 * mean * mean) || !isfinite(variance))
        return out;
    out.first.value = out.total.value = 0.0;
    for (size_t r = 0; r < blocks; r++) {
        first[r] = total[r] = 0.0;
        for (size_t k = r * each; k < (r + 1) * each; k++) {
            first[r] += (b[k] - mean) * (ab[k] - a[k]) / (variance * (double)each);
            total[r] += 0.5 * (a[k] - ab[k]) * (a[k] - ab[k]) / (variance * (double)each);
        }
        out.first.value += first[r] / (double)blocks;
        out.total.value += total[r] / (double)blocks;
    }
    out.first.error = error_of(first, blocks);
    out.total.error = error_of(total, blocks);
    return out;
}
