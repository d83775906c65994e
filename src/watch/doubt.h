/* What the fits of a dryer leave open of its constants, as independent directions. */
#ifndef DRYFRONT_WATCH_DOUBT_H
#define DRYFRONT_WATCH_DOUBT_H

#include "dryfront/watch.h"

#define DF_DOUBT_MOST 20 /* leak, degassing; pump's rest and 6 speeds; trap's 5 points and heat capacity; shelf's 3 */

/* Constants x = found + root z with z independent standard normal numbers: root root' is their covariance. */
typedef struct df_doubt {
    size_t n;
    double pressure;                           /* Pa, see df_doubt_move */
    const df_finding *constant[DF_DOUBT_MOST]; /* borrowed from the fits */
    double root[DF_DOUBT_MOST][DF_DOUBT_MOST]; /* lower triangle */
} df_doubt;

/* From n fits; one that does not describe its log tells nothing. */
void df_doubt_gather(df_doubt *doubt, const df_fit *fit, size_t n);
/* `dryer` as it is found, moved along z; constants that cannot be negative stop short of it. What an ice test tells is the shelf's
 * coefficient, from which its constants are far from normal: ln of the coefficient at doubt->pressure moves as they do to first
 * order, by a factor on contact and gas. */
void df_doubt_move(df_dryer *moved, const df_dryer *dryer, const df_doubt *doubt, const double *z);

#endif
