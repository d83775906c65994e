/* What both models take a frozen body, its glass and its solutes to be. */
#ifndef DRYFRONT_DRYING_MATERIAL_H
#define DRYFRONT_DRYING_MATERIAL_H

#include "dryfront/drying.h"

#define DF_SOLUTE_HEAT 1250.0 /* J/(kg K), sugars and peptides, common practice */
/* Fraction of the framework left under which its temperature no longer counts: the last specks warm as their contact with
 * the wall is a guess. */
#define DF_LAST_FRAMEWORK 0.01
#define DF_MOST_CAUGHT 0.9 /* of a species in a container that the cake may hold */

/* J/K of the glass that a body wets, and a tenth above it: 830 J/(kg K), borosilicate glass, common practice. */
double df_wetted_glass(const df_container *container, double volume);
/* W/(m K) of a species in the frozen body: ice by the usual 488/T at 240 K, organic solids and liquids 0.25
 * (Poling, Prausnitz & O'Connell give 0.1 to 0.25 for organic liquids; solids near twice that). */
double df_solid_conductivity(const df_substance *substance);
/* ln of the formula pressure (p1 + 2 p2, Pa) over the pure substance: its crystal where that forms in practice. */
double df_condensed_ln(const df_substance *substance, double temperature);

#endif
