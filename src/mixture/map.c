/* Maps of phases: grids, sections of binaries, outlines of ternaries at a temperature. */
#include "mixture/mixture.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

df_phase_mark df_phase_mark_of(const df_mixture *m, const df_assemblage *a) {
    df_phase_mark mark = {0, (uint32_t)a->liquids};
    for (size_t k = 0; k < m->solids; k++)
        if (a->solid[k] > 0.0)
            mark.solids |= UINT32_C(1) << k;
    return mark;
}

bool df_phase_mark_equal(df_phase_mark a, df_phase_mark b) {
    return a.solids == b.solids && a.liquids == b.liquids;
}

/* One of many like pieces of work, with a context of its own. */
typedef df_status (*piece)(df_context *ctx, size_t index, void *data);

/* The pieces 0 to n - 1, shared among threads. Of failures the one at the lowest index is reported, whichever came first: the same
 * sentence in every run. */
static df_status in_threads(df_context *ctx, size_t n, piece f, void *data) {
    df_status failed = DF_OK;
    size_t where = n;
    char sentence[1024] = "";
    df_tally tally = {.ctx = ctx, .what = "phases", .of = n};
#pragma omp parallel for schedule(dynamic, 1)
    for (size_t i = 0; i < n; i++) {
        df_context *own = NULL;
        df_status status = df_context_branch(&own, ctx);
        if (status >= 0)
            status = f(own, i, data);
        (void)df_tally_one(&tally); /* asked where the pieces are worked on */
#pragma omp critical(df_map_failure)
        if (status < 0 && i < where) {
            failed = status;
            where = i;
            snprintf(sentence, sizeof sentence, "%s", own != NULL ? df_context_message(own) : "out of memory");
        }
        df_context_destroy(own);
    }
    return failed < 0 ? df_fail(ctx, failed, "%s", sentence) : DF_OK;
}

/* Just where a phase comes or goes an equilibrium may not converge: then it is looked for this much (relative)
 * beside. */
static const double aside[] = {0.0, 1e-5, -1e-5, 4e-5, -4e-5, 1.5e-4, -1.5e-4};

/* ---- grid ----------------------------------------------------------------------------------------------------- */

typedef struct map_job {
    df_phase_mark *marks;
    const df_mixture *mixture;
    const bool *allowed;
    const double *temperature, *z;
    size_t rows;
} map_job;

static df_status map_column(df_context *ctx, size_t column, void *data) {
    const map_job *job = data;
    const df_mixture *m = job->mixture;
    const double *here = job->z + column * m->n;
    df_assemblage a;
    df_status status = DF_OK;
    for (size_t row = 0; row < job->rows && status >= 0; row++) {
        double t = job->temperature[row];
        status = df_mixture_equilibrium(ctx, &a, m, t, here, job->allowed, row > 0);
        for (size_t k = 1; k < 3 && status == DF_E_CONVERGENCE; k++)
            status = df_mixture_equilibrium(ctx, &a, m, t * (1.0 + 0.1 * aside[k]), here, job->allowed, false);
        if (status >= 0)
            job->marks[column * job->rows + row] = df_phase_mark_of(m, &a);
    }
    return status;
}

df_status df_phase_map(df_context *ctx, df_phase_mark *marks, const df_mixture *m, const bool *allowed,
                       const double *temperature, size_t rows, const double *z, size_t columns) {
    map_job job = {marks, m, allowed, temperature, z, rows};
    return in_threads(ctx, columns, map_column, &job);
}

/* ---- section of a binary -------------------------------------------------------------------------------------- */

#define SECTION_STEP 1.0   /* K between the rows to begin with */
#define SECTION_CLOSE 1e-4 /* K to which a change is closed in on */
#define SECTION_LEAST 0.02 /* K between rows that only smooth a line */
#define SECTION_FLAT 1e-4  /* mole fraction by which a line may be off between rows */
#define MOST_SAMPLES 160
#define NARROW 1e-9 /* mole fraction: a stretch of liquid less wide is none */

typedef struct section_job {
    const df_mixture *mixture;
    const bool *allowed;
    double sample[MOST_SAMPLES]; /* mole fractions looked at at every temperature, rising */
    size_t samples;
} section_job;

typedef struct row_list {
    df_section_row *row;
    size_t count, capacity;
} row_list;

static bool add_row(row_list *list, const df_section_row *row) {
    if (list->count == list->capacity) {
        size_t capacity = list->capacity > 0 ? 2 * list->capacity : 8;
        df_section_row *grown = realloc(list->row, capacity * sizeof *grown);
        if (grown == NULL)
            return false;
        list->row = grown;
        list->capacity = capacity;
    }
    list->row[list->count++] = *row;
    return true;
}

static int rising(const void *a, const void *b) {
    double x = *(const double *)a, y = *(const double *)b;
    return x < y ? -1 : x > y ? 1 : 0;
}

/* Evenly spread, close together near the pure components, and on both sides of each hydrate. */
static void choose_samples(section_job *job) {
    static const double near_pure[] = {1e-6, 1e-5, 1e-4, 4e-4, 1.5e-3, 5e-3, 0.012};
    size_t n = 0;
    for (size_t i = 0; i < sizeof near_pure / sizeof near_pure[0]; i++) {
        job->sample[n++] = near_pure[i];
        job->sample[n++] = 1.0 - near_pure[i];
    }
    for (int i = 1; i < 40; i++)
        job->sample[n++] = i / 40.0 + 1e-5; /* a little off the round numbers that hydrates have */
    for (size_t k = 0; k < job->mixture->solids; k++) {
        const double *f = job->mixture->solid[k].formula;
        double x = f[0] / (f[0] + f[1]);
        if (x > 0.0 && x < 1.0) {
            job->sample[n++] = x * (1.0 - 1e-4);
            job->sample[n++] = x + (1.0 - x) * 1e-4;
        }
    }
    qsort(job->sample, n, sizeof job->sample[0], rising);
    job->samples = n;
}

df_phase_mark df_section_mark(const df_section_part *part) {
    df_phase_mark mark = {0, 0};
    if (part->left >= 0)
        mark.solids |= UINT32_C(1) << part->left;
    if (part->right >= 0)
        mark.solids |= UINT32_C(1) << part->right;
    mark.liquids = part->one ? 1 : (uint32_t)((part->left < 0) + (part->right < 0));
    return mark;
}

/* The stretch between the phases of an assemblage; false where it is one phase. */
static bool stretch(df_section_part *part, const df_mixture *m, const df_assemblage *a) {
    size_t phases = 0;
    *part = (df_section_part){.from = 2.0, .to = -1.0, .left = -1, .right = -1};
    for (size_t k = 0; k < m->solids; k++)
        if (a->solid[k] > 0.0) {
            double x = m->solid[k].formula[0] / (m->solid[k].formula[0] + m->solid[k].formula[1]);
            if (x < part->from) {
                part->from = x;
                part->left = (int)k;
            }
            if (x > part->to) {
                part->to = x;
                part->right = (int)k;
            }
            phases++;
        }
    for (size_t l = 0; l < a->liquids; l++) {
        double x = a->liquid[l][0] / (a->liquid[l][0] + a->liquid[l][1]);
        if (x < part->from) {
            part->from = x;
            part->left = -1;
        }
        if (x > part->to) {
            part->to = x;
            part->right = -1;
        }
        phases++;
    }
    return phases >= 2 && part->to > part->from;
}

/* Puts a stretch in its place; false where the row is full. */
static bool insert_part(df_section_row *row, const df_section_part *part) {
    size_t at = row->parts;
    if (at == DF_SECTION_PARTS)
        return false;
    while (at > 0 && row->part[at - 1].from > part->from) {
        row->part[at] = row->part[at - 1];
        at--;
    }
    row->part[at] = *part;
    row->parts++;
    return true;
}

static bool covered(const df_section_row *row, double x) {
    for (size_t i = 0; i < row->parts; i++)
        if (x >= row->part[i].from && x <= row->part[i].to)
            return true;
    return false;
}

/* Looks at x, and keeps the tie line it lies on. `liquid` (in-out): the last state of one liquid, to start from. */
static df_status look(df_context *ctx, df_section_row *row, const section_job *job, double x, df_assemblage *liquid) {
    if (!(x > 0.0 && x < 1.0) || covered(row, x))
        return DF_OK;
    df_assemblage a = *liquid;
    df_section_part part;
    df_status status = DF_OK;
    for (size_t k = 0; k < sizeof aside / sizeof aside[0]; k++) {
        double z[2] = {x * (1.0 + aside[k]), (1.0 - x) * (1.0 - aside[k])};
        status = df_mixture_equilibrium(ctx, &a, job->mixture, row->temperature, z, job->allowed,
                                        liquid->liquids == 1 && k == 0);
        if (status != DF_E_CONVERGENCE)
            break;
    }
    if (status < 0)
        return status;
    if (!stretch(&part, job->mixture, &a)) {
        *liquid = a;
        return DF_OK;
    }
    /* A neighbour's end and ours are the same liquid, found twice: let them meet. */
    for (size_t i = 0; i < row->parts; i++) {
        if (row->part[i].from < part.from && row->part[i].to > part.from)
            part.from = row->part[i].to;
        if (row->part[i].from > part.from && row->part[i].from < part.to)
            part.to = row->part[i].from;
    }
    if (part.to > part.from && !insert_part(row, &part))
        return df_fail(ctx, DF_E_INTERNAL, "more than %d stretches at %.2f K", DF_SECTION_PARTS, row->temperature);
    return DF_OK;
}

/* All stretches at a temperature. `near` (may be NULL) are rows at temperatures close by: what is there is looked for
 * here too, however narrow. */
static df_status make_row(df_context *ctx, df_section_row *row, const section_job *job, double temperature,
                          const df_section_row *const near[2]) {
    df_assemblage liquid = {.liquids = 0};
    df_status status = DF_OK;
    memset(row, 0, sizeof *row);
    row->temperature = temperature;
    for (int side = 0; side < 2; side++)
        for (size_t i = 0; near != NULL && i < near[side]->parts && status >= 0; i++)
            if (!near[side]->part[i].one)
                status = look(ctx, row, job, 0.5 * (near[side]->part[i].from + near[side]->part[i].to), &liquid);
    for (size_t i = 0; i < job->samples && status >= 0; i++)
        status = look(ctx, row, job, job->sample[i], &liquid);
    /* Beside a solid there is always a tie line: what lies between is looked at until it is found. */
    for (int round = 0; round < 8 && status >= 0; round++) {
        size_t before = row->parts;
        for (size_t i = 0; i + 1 < row->parts && status >= 0; i++) {
            df_section_part a = row->part[i], b = row->part[i + 1];
            if ((a.right >= 0 || b.left >= 0) && b.from - a.to > NARROW)
                status = look(ctx, row, job, 0.5 * (a.to + b.from), &liquid);
        }
        if (row->parts == before)
            break;
    }
    if (status < 0)
        return status;
    df_section_row whole = *row;
    whole.parts = 0;
    double reached = 0.0;
    for (size_t i = 0; i <= row->parts; i++) {
        double next = i < row->parts ? row->part[i].from : 1.0;
        df_section_part gap = {reached, next, -1, -1, true};
        bool full = whole.parts + 2 > DF_SECTION_PARTS;
        if (full)
            return df_fail(ctx, DF_E_INTERNAL, "more than %d stretches at %.2f K", DF_SECTION_PARTS,
                           row->temperature);
        if (next - reached > NARROW)
            whole.part[whole.parts++] = gap;
        if (i < row->parts) {
            whole.part[whole.parts++] = row->part[i];
            reached = row->part[i].to;
        }
    }
    *row = whole;
    return DF_OK;
}

static bool same_parts(const df_section_row *a, const df_section_row *b) {
    if (a->parts != b->parts)
        return false;
    for (size_t i = 0; i < a->parts; i++)
        if (a->part[i].left != b->part[i].left || a->part[i].right != b->part[i].right ||
            a->part[i].one != b->part[i].one)
            return false;
    return true;
}

static bool straight(const df_section_row *a, const df_section_row *middle, const df_section_row *b) {
    for (size_t i = 0; i < a->parts; i++)
        if (fabs(middle->part[i].from - 0.5 * (a->part[i].from + b->part[i].from)) > SECTION_FLAT ||
            fabs(middle->part[i].to - 0.5 * (a->part[i].to + b->part[i].to)) > SECTION_FLAT)
            return false;
    return true;
}

/* Appends the rows from `cold` up to `warm`, without `warm` itself. */
static df_status fill_between(df_context *ctx, row_list *out, const section_job *job, const df_section_row *cold,
                              const df_section_row *warm) {
    double width = warm->temperature - cold->temperature;
    bool same = same_parts(cold, warm);
    df_section_row middle, edge = *cold;
    if (width < (same ? SECTION_LEAST : SECTION_CLOSE)) {
        edge.step = !same;
        return add_row(out, &edge) ? DF_OK : df_fail(ctx, DF_E_MEMORY, "out of memory");
    }
    const df_section_row *const near[2] = {cold, warm};
    df_status status = make_row(ctx, &middle, job, 0.5 * (cold->temperature + warm->temperature), near);
    if (status < 0)
        return status;
    if (same && same_parts(cold, &middle) && straight(cold, &middle, warm))
        return add_row(out, &edge) ? DF_OK : df_fail(ctx, DF_E_MEMORY, "out of memory");
    status = fill_between(ctx, out, job, cold, &middle);
    return status < 0 ? status : fill_between(ctx, out, job, &middle, warm);
}

/* The rows to begin with, and what is put between each two. */
typedef struct section_work {
    const section_job *job;
    df_section_row *grid;
    row_list *list;
    double lowest, highest;
    size_t steps;
} section_work;

static df_status section_row(df_context *ctx, size_t i, void *data) {
    const section_work *w = data;
    double t = i == w->steps ? w->highest : w->lowest + (w->highest - w->lowest) * (double)i / (double)w->steps;
    return make_row(ctx, &w->grid[i], w->job, t, NULL);
}

static df_status section_between(df_context *ctx, size_t i, void *data) {
    const section_work *w = data;
    return fill_between(ctx, &w->list[i], w->job, &w->grid[i], &w->grid[i + 1]);
}

df_status df_section_make(df_context *ctx, df_section *section, const df_mixture *m, const bool *allowed,
                          double lowest, double highest) {
    *section = (df_section){0, NULL};
    if (m->n != 2)
        return df_fail(ctx, DF_E_INPUT, "a section is of two components, not %zu", m->n);
    if (!(lowest > 20.0 && highest > lowest && highest < 2000.0))
        return df_fail(ctx, DF_E_INPUT, "a section from %g K to %g K is not possible", lowest, highest);
    section_job job = {.mixture = m, .allowed = allowed};
    choose_samples(&job);
    size_t steps = (size_t)ceil((highest - lowest) / SECTION_STEP);
    section_work work = {
        &job, calloc(steps + 1, sizeof *work.grid), calloc(steps, sizeof *work.list), lowest, highest, steps};
    if (work.grid == NULL || work.list == NULL) {
        free(work.grid);
        free(work.list);
        return df_fail(ctx, DF_E_MEMORY, "out of memory");
    }
    df_status status = in_threads(ctx, steps + 1, section_row, &work);
    if (status >= 0)
        status = in_threads(ctx, steps, section_between, &work);
    row_list all = {0};
    bool room = true;
    for (size_t i = 0; i < steps; i++) {
        for (size_t k = 0; k < work.list[i].count && status >= 0; k++)
            room = room && add_row(&all, &work.list[i].row[k]);
        free(work.list[i].row);
    }
    room = room && add_row(&all, &work.grid[steps]);
    free(work.grid);
    free(work.list);
    if (status < 0 || !room) {
        free(all.row);
        return status < 0 ? status : df_fail(ctx, DF_E_MEMORY, "out of memory");
    }
    *section = (df_section){all.count, all.row};
    return DF_OK;
}

void df_section_free(df_section *section) {
    free(section->row);
    *section = (df_section){0, NULL};
}

/* ---- ternary at a temperature --------------------------------------------------------------------------------- */

#define INSIDE 1e-5     /* fraction below which nothing is looked at: the sides are taken from just inside */
#define CUTS 18         /* halvings of an edge of the grid */
#define COLLINEAR 1e-6  /* a point this near to the line of its neighbours is left out */
#define TIE_APART 0.022 /* fraction between the middles of tie lines shown */
#define LEAST_AREA 1e-7 /* of a loop, the triangle having 0.5: a smaller one is a slip of rounding */
#define MOST_PIECE 4    /* vertices of a piece of a cell */

typedef struct edge_point {
    bool cut;
    double at[2];
} edge_point;

/* One directed side of a piece: `from` and `to` number points, `mark` numbers marks. */
typedef struct side {
    uint32_t mark, from, to;
} side;

/* What is at a point, and for one solid with one liquid on which flank of the triangles that share the solid: beside
 * each other these are different regions, although their tips may meet between two nodes. */
typedef struct place {
    df_phase_mark mark;
    uint32_t flank;
} place;

static bool same_place(place a, place b) {
    return df_phase_mark_equal(a.mark, b.mark) && a.flank == b.flank;
}

typedef struct ternary_job {
    const df_mixture *mixture;
    const bool *allowed;
    double temperature, per_mole[3];
    size_t n; /* divisions */
    size_t nodes;
    place *mark;      /* of nodes */
    edge_point *edge; /* three a node: to the right, up, and along the slope */
    df_ternary_triangle triangle[DF_TERNARY_TRIANGLES];
    size_t triangles, found[DF_TERNARY_TRIANGLES]; /* the first node in each */
    double (*tie)[2][2];                           /* of nodes, NAN where there are not two liquids alone */
    place kind[64];
    size_t kinds;
    side *sides;
    size_t side_count;
    double (*point)[2]; /* nodes, then edges, then middles of cells */
} ternary_job;

/* Rows of constant fraction of component 1; row j holds n + 1 - j nodes. */
static size_t node_of(size_t n, size_t i, size_t j) {
    return j * (n + 1) - j * (j > 0 ? j - 1 : 0) / 2 + i;
}

/* From fractions of components 0 and 1 to the state there. */
static df_status state_at(df_context *ctx, df_assemblage *a, const ternary_job *job, const double *at, bool warm) {
    double f[3] = {fmax(at[0], INSIDE), fmax(at[1], INSIDE), fmax(1.0 - at[0] - at[1], INSIDE)}, z[3];
    df_status status = DF_OK;
    for (size_t k = 0; k < sizeof aside / sizeof aside[0]; k++) {
        for (int i = 0; i < 3; i++)
            z[i] = f[i] * (1.0 + (i == 0 ? aside[k] : i == 1 ? -0.7 * aside[k] : 0.0)) / job->per_mole[i];
        status = df_mixture_equilibrium(ctx, a, job->mixture, job->temperature, z, job->allowed, warm && k == 0);
        if (status != DF_E_CONVERGENCE)
            break;
    }
    return status;
}

static void liquid_at(double *at, const ternary_job *job, const double *moles) {
    double total = 0.0;
    for (int i = 0; i < 3; i++)
        total += moles[i] * job->per_mole[i];
    at[0] = moles[0] * job->per_mole[0] / total;
    at[1] = moles[1] * job->per_mole[1] / total;
}

static double turn(const double *a, const double *b, const double *c) {
    return (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0]);
}

static int by_corner(const void *a, const void *b) {
    const df_ternary_triangle *p = a, *q = b;
    const double *u = p->corner[0], *v = q->corner[0];
    for (int k = 0; k < 6; k++)
        if (fabs(u[k] - v[k]) > 1e-6)
            return u[k] < v[k] ? -1 : 1;
    return 0;
}

/* Keeps a three-phase state that is new; of those that are the same that of the first node, whichever thread came
 * first. */
static void keep_triangle(ternary_job *job, const df_assemblage *a, size_t node) {
    df_ternary_triangle t = {.mark = df_phase_mark_of(job->mixture, a)};
    size_t phases = 0;
    for (size_t k = 0; k < job->mixture->solids; k++)
        if (a->solid[k] > 0.0) {
            if (phases < 3) {
                t.solid[phases] = (int)k;
                liquid_at(t.corner[phases], job, job->mixture->solid[k].formula);
            }
            phases++;
        }
    for (size_t l = 0; l < a->liquids; l++) {
        if (phases < 3) {
            t.solid[phases] = -1;
            liquid_at(t.corner[phases], job, a->liquid[l]);
        }
        phases++;
    }
    if (phases != 3 || fabs(turn(t.corner[0], t.corner[1], t.corner[2])) < 2.0 * LEAST_AREA)
        return;
    if (turn(t.corner[0], t.corner[1], t.corner[2]) < 0.0) {
        double swap[2];
        int solid = t.solid[1];
        memcpy(swap, t.corner[1], sizeof swap);
        memcpy(t.corner[1], t.corner[2], sizeof swap);
        memcpy(t.corner[2], swap, sizeof swap);
        t.solid[1] = t.solid[2];
        t.solid[2] = solid;
    }
#pragma omp critical(df_map_triangle)
    {
        size_t same = job->triangles;
        for (size_t k = 0; k < job->triangles; k++) {
            double apart = 0.0; /* any corner may come first where all are liquids */
            for (int c = 0; c < 3; c++) {
                double least = INFINITY;
                for (int d = 0; d < 3; d++)
                    least = fmin(least, fabs(job->triangle[k].corner[d][0] - t.corner[c][0]) +
                                            fabs(job->triangle[k].corner[d][1] - t.corner[c][1]));
                apart = fmax(apart, least);
            }
            if (df_phase_mark_equal(job->triangle[k].mark, t.mark) && apart < 1e-4)
                same = k;
        }
        if (same < DF_TERNARY_TRIANGLES && (same == job->triangles || node < job->found[same])) {
            job->triangle[same] = t;
            job->found[same] = node;
            job->triangles += same == job->triangles;
        }
    }
}

/* On which side of the triangles that share it a point lies, seen from the one solid that is there. */
static uint32_t flank_of(const ternary_job *job, df_phase_mark mark, const double *at) {
    uint32_t flank = 0;
    if (mark.liquids != 1 || mark.solids == 0 || (mark.solids & (mark.solids - 1)) != 0)
        return 0;
    for (size_t k = 0; k < job->triangles; k++)
        for (int c = 0; c < 3; c++) {
            const df_ternary_triangle *t = &job->triangle[k];
            if (t->solid[c] < 0 || mark.solids != UINT32_C(1) << t->solid[c])
                continue;
            const double *p = t->corner[(c + 1) % 3], *q = t->corner[(c + 2) % 3];
            double middle[2] = {0.5 * (p[0] + q[0]), 0.5 * (p[1] + q[1])};
            if (turn(t->corner[c], middle, at) > 0.0)
                flank |= UINT32_C(1) << k;
        }
    return flank;
}

static df_status look_at_row(df_context *ctx, size_t j, void *data) {
    ternary_job *job = data;
    df_assemblage a;
    for (size_t i = 0; i + j <= job->n; i++) {
        size_t node = node_of(job->n, i, j);
        df_status status = state_at(ctx, &a, job, job->point[node], i > 0);
        if (status < 0)
            return status;
        df_phase_mark mark = df_phase_mark_of(job->mixture, &a);
        job->mark[node].mark = mark;
        job->tie[node][0][0] = NAN;
        if (a.liquids == 2 && mark.solids == 0) {
            liquid_at(job->tie[node][0], job, a.liquid[0]);
            liquid_at(job->tie[node][1], job, a.liquid[1]);
        }
        keep_triangle(job, &a, node);
    }
    return DF_OK;
}

/* Where along an edge the mark of its first end is no longer there. */
static df_status cut_edge(df_context *ctx, ternary_job *job, size_t index, size_t p, size_t q) {
    edge_point *e = &job->edge[index];
    const double *a = job->point[p], *b = job->point[q];
    e->cut = !same_place(job->mark[p], job->mark[q]);
    if (!e->cut)
        return DF_OK;
    double low = 0.0, high = 1.0;
    df_assemblage here;
    for (int step = 0; step < CUTS; step++) {
        double t = 0.5 * (low + high), at[2] = {a[0] + t * (b[0] - a[0]), a[1] + t * (b[1] - a[1])};
        df_status status = state_at(ctx, &here, job, at, step > 0);
        if (status < 0)
            return status;
        place there = {df_phase_mark_of(job->mixture, &here), 0};
        there.flank = flank_of(job, there.mark, at);
        bool first = same_place(there, job->mark[p]);
        *(first ? &low : &high) = t;
    }
    double t = 0.5 * (low + high);
    e->at[0] = a[0] + t * (b[0] - a[0]);
    e->at[1] = a[1] + t * (b[1] - a[1]);
    return DF_OK;
}

static df_status cut_row(df_context *ctx, size_t j, void *data) {
    ternary_job *job = data;
    size_t n = job->n;
    df_status status = DF_OK;
    for (size_t i = 0; i + j < n && status >= 0; i++) {
        size_t node = node_of(n, i, j), right = node_of(n, i + 1, j), up = node_of(n, i, j + 1);
        status = cut_edge(ctx, job, 3 * node, node, right);
        if (status >= 0)
            status = cut_edge(ctx, job, 3 * node + 1, node, up);
        if (status >= 0)
            status = cut_edge(ctx, job, 3 * node + 2, right, up);
    }
    return status;
}

static uint32_t kind_of(ternary_job *job, place mark) {
    for (size_t k = 0; k < job->kinds; k++)
        if (same_place(job->kind[k], mark))
            return (uint32_t)k;
    if (job->kinds == sizeof job->kind / sizeof job->kind[0])
        return (uint32_t)(job->kinds - 1);
    job->kind[job->kinds] = mark;
    return (uint32_t)job->kinds++;
}

/* Adds the sides of a piece; a repeated vertex is skipped. */
static void add_piece(ternary_job *job, place mark, const uint32_t *vertex, size_t count) {
    uint32_t kind = kind_of(job, mark);
    for (size_t i = 0; i < count; i++) {
        uint32_t a = vertex[i], b = vertex[(i + 1) % count];
        if (a != b)
            job->sides[job->side_count++] = (side){kind, a, b};
    }
}

/* Cuts a cell (three nodes counter-clockwise, edge k between node k and node k + 1) into pieces of one mark each. */
static void cut_cell(ternary_job *job, const size_t *node, const size_t *edge, uint32_t middle) {
    size_t edges_before = job->nodes;
    uint32_t v[3], c[3];
    int cuts = 0;
    double sum[2] = {0.0, 0.0};
    bool corner = false;
    for (int k = 0; k < 3; k++) {
        v[k] = (uint32_t)node[k];
        c[k] = (uint32_t)(edges_before + edge[k]);
        if (job->edge[edge[k]].cut) {
            cuts++;
            memcpy(job->point[c[k]], job->edge[edge[k]].at, sizeof sum);
            sum[0] += job->edge[edge[k]].at[0];
            sum[1] += job->edge[edge[k]].at[1];
        }
    }
    if (cuts == 0) {
        add_piece(job, job->mark[node[0]], v, 3);
        return;
    }
    for (size_t k = 0; k < 3 * job->triangles && !corner; k++) {
        const double *at = job->triangle[k / 3].corner[k % 3];
        corner = turn(job->point[v[0]], job->point[v[1]], at) > 0.0 &&
                 turn(job->point[v[1]], job->point[v[2]], at) > 0.0 &&
                 turn(job->point[v[2]], job->point[v[0]], at) > 0.0;
        if (corner)
            memcpy(job->point[middle], at, sizeof sum);
    }
    if (!corner) {
        job->point[middle][0] = sum[0] / cuts;
        job->point[middle][1] = sum[1] / cuts;
    }
    if (cuts == 3) {
        for (int k = 0; k < 3; k++)
            add_piece(job, job->mark[node[k]], (const uint32_t[]){v[k], c[k], middle, c[(k + 2) % 3]}, MOST_PIECE);
        return;
    }
    for (int k = 0; k < 3; k++) /* node k is the odd one: both its edges are cut */
        if (job->edge[edge[k]].cut && job->edge[edge[(k + 2) % 3]].cut) {
            uint32_t a = c[k], b = c[(k + 2) % 3], next = v[(k + 1) % 3], last = v[(k + 2) % 3];
            if (corner) {
                add_piece(job, job->mark[node[k]], (const uint32_t[]){v[k], a, middle, b}, 4);
                add_piece(job, job->mark[node[(k + 1) % 3]], (const uint32_t[]){a, next, last, b, middle}, 5);
            } else {
                add_piece(job, job->mark[node[k]], (const uint32_t[]){v[k], a, b}, 3);
                add_piece(job, job->mark[node[(k + 1) % 3]], (const uint32_t[]){a, next, last, b}, 4);
            }
            return;
        }
}

static int by_pair(const void *a, const void *b) {
    const side *s = a, *t = b;
    uint32_t key[3][2] = {{s->mark, t->mark},
                          {s->from < s->to ? s->from : s->to, t->from < t->to ? t->from : t->to},
                          {s->from < s->to ? s->to : s->from, t->from < t->to ? t->to : t->from}};
    for (int k = 0; k < 3; k++)
        if (key[k][0] != key[k][1])
            return key[k][0] < key[k][1] ? -1 : 1;
    return 0;
}

static int by_start(const void *a, const void *b) {
    const side *s = a, *t = b;
    if (s->mark != t->mark)
        return s->mark < t->mark ? -1 : 1;
    if (s->from != t->from)
        return s->from < t->from ? -1 : 1;
    return s->to < t->to ? -1 : s->to > t->to ? 1 : 0;
}

/* Leaves the sides that have no partner the other way round: the outlines. */
static void cancel_sides(ternary_job *job) {
    size_t kept = 0;
    qsort(job->sides, job->side_count, sizeof *job->sides, by_pair);
    for (size_t i = 0; i < job->side_count;) {
        if (i + 1 < job->side_count && by_pair(&job->sides[i], &job->sides[i + 1]) == 0) {
            i += 2;
            continue;
        }
        job->sides[kept++] = job->sides[i++];
    }
    job->side_count = kept;
    qsort(job->sides, kept, sizeof *job->sides, by_start);
}

/* Takes out the points that lie on the line of their neighbours; returns how many are left. */
static size_t thin_out(double (*loop)[2], size_t count) {
    size_t kept = 0;
    for (size_t i = 0; i < count; i++) {
        const double *a = kept > 0 ? loop[kept - 1] : loop[count - 1], *c = loop[(i + 1) % count];
        double length = hypot(c[0] - a[0], c[1] - a[1]);
        bool on_line = length > 0.0 && fabs(turn(a, loop[i], c)) < COLLINEAR * length &&
                       (c[0] - loop[i][0]) * (loop[i][0] - a[0]) + (c[1] - loop[i][1]) * (loop[i][1] - a[1]) >= 0.0;
        if (!on_line)
            memmove(loop[kept++], loop[i], sizeof loop[i]);
    }
    return kept;
}

/* Chains the sides to loops. */
static df_status trace(df_context *ctx, df_ternary *out, ternary_job *job) {
    size_t count = job->side_count;
    bool *used = calloc(count + 1, sizeof *used);
    out->point = malloc((count + 1) * sizeof *out->point);
    out->loop = malloc((count / 3 + 1) * sizeof *out->loop);
    if (used == NULL || out->point == NULL || out->loop == NULL) {
        free(used);
        return df_fail(ctx, DF_E_MEMORY, "out of memory");
    }
    for (size_t start = 0; start < count; start++) {
        if (used[start])
            continue;
        df_ternary_loop loop = {job->kind[job->sides[start].mark].mark, out->points, 0, 0.0};
        double(*points)[2] = out->point + out->points;
        for (size_t at = start; !used[at];) {
            used[at] = true;
            memcpy(points[loop.count++], job->point[job->sides[at].from], sizeof *points);
            side key = {job->sides[at].mark, job->sides[at].to, 0};
            size_t low = 0, high = count;
            while (low < high) {
                size_t middle = (low + high) / 2;
                if (by_start(&job->sides[middle], &key) < 0)
                    low = middle + 1;
                else
                    high = middle;
            }
            while (low < count && job->sides[low].mark == key.mark && job->sides[low].from == key.from && used[low])
                low++;
            if (low == count || job->sides[low].mark != key.mark || job->sides[low].from != key.from)
                break; /* back at the start */
            at = low;
        }
        loop.count = thin_out(points, loop.count);
        for (size_t i = 0; i < loop.count; i++) {
            const double *a = points[i], *b = points[(i + 1) % loop.count];
            loop.area += 0.5 * (a[0] * b[1] - a[1] * b[0]);
        }
        if (loop.count < 3 || fabs(loop.area) < LEAST_AREA)
            continue;
        out->points += loop.count;
        out->loop[out->loops++] = loop;
    }
    free(used);
    return DF_OK;
}

/* Tie lines well apart from each other. */
static df_status choose_ties(df_context *ctx, df_ternary *out, const ternary_job *job) {
    out->tie = malloc((job->nodes + 1) * sizeof *out->tie);
    if (out->tie == NULL)
        return df_fail(ctx, DF_E_MEMORY, "out of memory");
    for (size_t node = 0; node < job->nodes; node++) {
        if (isnan(job->tie[node][0][0]))
            continue;
        double(*t)[2] = job->tie[node];
        double middle[2] = {0.5 * (t[0][0] + t[1][0]), 0.5 * (t[0][1] + t[1][1])};
        bool near = false;
        for (size_t k = 0; k < out->ties && !near; k++) {
            double(*o)[2] = out->tie[k];
            near = hypot(0.5 * (o[0][0] + o[1][0]) - middle[0], 0.5 * (o[0][1] + o[1][1]) - middle[1]) < TIE_APART;
        }
        if (!near)
            memcpy(out->tie[out->ties++], t, sizeof *out->tie);
    }
    return DF_OK;
}

df_status df_ternary_make(df_context *ctx, df_ternary *out, const df_mixture *m, const bool *allowed,
                          double temperature, const double *per_mole, size_t divisions) {
    memset(out, 0, sizeof *out);
    if (m->n != 3)
        return df_fail(ctx, DF_E_INPUT, "a triangle is of three components, not %zu", m->n);
    if (divisions < 10 || divisions > 400)
        return df_fail(ctx, DF_E_INPUT, "a triangle has 10 to 400 divisions, not %zu", divisions);
    for (int i = 0; i < 3; i++)
        if (!(per_mole[i] > 0.0) || !isfinite(per_mole[i]))
            return df_fail(ctx, DF_E_INPUT, "the basis of a triangle is not a number above zero");
    size_t n = divisions, nodes = (n + 1) * (n + 2) / 2, cells = n * n;
    ternary_job *job = calloc(1, sizeof *job);
    if (job == NULL)
        return df_fail(ctx, DF_E_MEMORY, "out of memory");
    job->mixture = m;
    job->allowed = allowed;
    job->temperature = temperature;
    memcpy(job->per_mole, per_mole, sizeof job->per_mole);
    job->n = n;
    job->nodes = nodes;
    job->mark = calloc(nodes, sizeof *job->mark);
    job->edge = calloc(3 * nodes, sizeof *job->edge);
    job->tie = calloc(nodes, sizeof *job->tie);
    job->sides = calloc(cells * 12, sizeof *job->sides);
    job->point = calloc(nodes + 3 * nodes + cells, sizeof *job->point);
    df_status status = DF_OK;
    if (!job->mark || !job->edge || !job->tie || !job->sides || !job->point)
        status = df_fail(ctx, DF_E_MEMORY, "out of memory");
    for (size_t j = 0; j <= n && status >= 0; j++)
        for (size_t i = 0; i + j <= n; i++) {
            job->point[node_of(n, i, j)][0] = (double)i / (double)n;
            job->point[node_of(n, i, j)][1] = (double)j / (double)n;
        }
    if (status >= 0)
        status = in_threads(ctx, n + 1, look_at_row, job);
    qsort(job->triangle, job->triangles, sizeof job->triangle[0], by_corner); /* threads found them in any order */
    for (size_t k = 0; k < nodes && status >= 0; k++)
        job->mark[k].flank = flank_of(job, job->mark[k].mark, job->point[k]);
    if (status >= 0)
        status = in_threads(ctx, n, cut_row, job);
    if (status >= 0) {
        uint32_t middle = (uint32_t)(4 * nodes);
        for (size_t j = 0; j < n; j++)
            for (size_t i = 0; i + j < n; i++) {
                size_t a = node_of(n, i, j), b = node_of(n, i + 1, j), c = node_of(n, i, j + 1);
                cut_cell(job, (const size_t[]){a, b, c}, (const size_t[]){3 * a, 3 * a + 2, 3 * a + 1}, middle++);
                if (i + j + 1 == n)
                    continue;
                size_t d = node_of(n, i + 1, j + 1); /* the cell that points down */
                cut_cell(job, (const size_t[]){b, d, c}, (const size_t[]){3 * b + 1, 3 * c, 3 * a + 2}, middle++);
            }
        cancel_sides(job);
        status = trace(ctx, out, job);
    }
    if (status >= 0)
        status = choose_ties(ctx, out, job);
    out->triangles = job->triangles;
    memcpy(out->triangle, job->triangle, sizeof out->triangle);
    free(job->mark);
    free(job->edge);
    free(job->tie);
    free(job->sides);
    free(job->point);
    free(job);
    if (status < 0)
        df_ternary_free(out);
    return status;
}

void df_ternary_free(df_ternary *ternary) {
    free(ternary->point);
    free(ternary->loop);
    free(ternary->tie);
    memset(ternary, 0, sizeof *ternary);
}
