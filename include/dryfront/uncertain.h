/* dryfront/uncertain.h: what is not sure of a job, carried through its runs: the chance of each standing, bands of time and of what is
 * left, which input matters most, how warm the shelf may be for a risk that is accepted. Part of the room advice;
 * docs/uncertainty.md. */
#ifndef DRYFRONT_UNCERTAIN_H
#define DRYFRONT_UNCERTAIN_H

#include "dryfront/advice.h"

#ifdef __cplusplus
extern "C" {
#endif

/* What an input does to the value in the job, and how it is distributed: a row of data/uncertain.csv with what the job states. */
typedef struct df_uncertain {
    char key[32], group[32], what[64], grade[20], source[160];
    enum { DF_UNCERTAIN_FACTOR, DF_UNCERTAIN_KELVIN, DF_UNCERTAIN_SIGMA } measure;
    df_distribution distribution;
    double spread; /* of a factor; K; standard deviations */
    int with;      /* input that it is correlated with, -1: none */
    double correlation;
    bool stated;  /* by the job */
    bool applies; /* it bears on this job: a spread above 0 on something that the job has */
} df_uncertain;

/* The inputs of a job on its dryer. DF_E_INTERNAL: a faulty table. */
DF_NODISCARD df_status df_uncertain_list(df_context *ctx, df_uncertain input[DF_UNCERTAINS], const df_job *job,
                                         const df_dryer *dryer);
/* What a standard normal number z makes of an input: the factor, K or standard deviations. A factor is at least 0.05. */
double df_uncertain_value(const df_uncertain *input, double z);

/* A number and its standard error. */
typedef struct df_estimate {
    double value, error;
} df_estimate;

#define DF_RISK_REPLICATES 16 /* independent scramblings, from whose differences the standard errors come */
#define DF_RISK_CURVE 21

typedef struct df_risk_task {
    size_t runs;    /* of the sample: rounded up to a multiple of 16, 1e6 at most; powers of two spread best */
    size_t indices; /* the first of them for which the indices are computed; 0: none */
    size_t shifts;  /* the first of them for which the warmest shelf is looked for; used with accept */
    double accept;  /* chance of leaving rigid that is accepted, 0..1; NAN: not asked */
    uint64_t seed;
    const df_progress *progress; /* told the share of the runs that is done; may be NULL */
} df_risk_task;
/* 2048 runs, 256 for indices, 512 for shifts, seed 1. */
void df_risk_task_defaults(df_risk_task *task);

/* How much of the variance of a result is one group's: alone (first), and with all that it does together with others (total). */
typedef struct df_influence {
    char group[32];
    df_estimate margin_first, margin_total, time_first, time_total, rigid_first, rigid_total;
} df_influence;

typedef struct df_risk {
    df_uncertain input[DF_UNCERTAINS];
    uint64_t seed;
    size_t runs, index_runs, shift_runs, /* of the sample, as rounded */
        simulated,                       /* in all */
        failed;                          /* that the integrator gave up: they count nowhere */
    size_t paths; /* frozen paths of moved mixtures that the runs draw from; 1: the mixture is sure */
    double
        path_solidus_sigma; /* K, half of what lies between the 16th and 84th per cent of their solidus (steps of the path:
                                  0.5 K); NAN: none */
    df_standing as_stated;                          /* of the job as it is, by a run of the same kind */
    df_estimate standing[4];                        /* chance of each */
    df_estimate left_rigid, dry;                    /* chance of any other standing than rigid; of a dry product */
    double left_rigid_most;                         /* where no run left rigid: 3/runs, else NAN */
    df_cause cause[4];                              /* that is met most with each standing */
    df_estimate margin_low, margin_median;          /* K, 5th and 50th percentile; NAN: no limit */
    df_estimate hottest_median, hottest_high;       /* K, 50th and 95th percentile */
    df_estimate primary_median, primary_high;       /* s, 50th and 95th percentile among runs that end dry */
    df_estimate time_median, time_high;             /* s, to the end of the run, likewise */
    bool whole;                                     /* secondary drying was followed, too */
    df_estimate residual_median[DF_MAX_COMPONENTS], /* kg per kg of solids at the end, worst class; NAN: not known */
        residual_high[DF_MAX_COMPONENTS];           /* 95th percentile */
    df_estimate target_missed[DF_MAX_COMPONENTS];   /* chance of more than the job's target; NAN: none */
    df_influence influence[DF_UNCERTAINS];
    size_t influences;
    /* With accept: shifts of all shelf set points, K; primary drying alone. */
    double accept;
    bool shift_asked, shift_found;
    df_estimate shift;                  /* warmest with at most that chance of leaving rigid */
    double shift_lowest, shift_highest; /* looked at, within what the shelf reaches */
    df_estimate shift_chance, shift_primary_median, shift_primary_high; /* with it */
    double curve_shift[DF_RISK_CURVE];
    df_estimate curve_chance[DF_RISK_CURVE]; /* of leaving rigid at each */
} df_risk;

/* Runs the job over what is not sure of it. The same for any number of threads. Errors as df_stand_simulate; DF_E_CONVERGENCE where
 * more than one run in fifty fails; DF_E_INPUT: a task out of bounds; DF_E_STOPPED. */
DF_NODISCARD df_status df_risk_assess(df_context *ctx, df_risk *risk, const df_job *job, const df_dryer *dryer,
                                      const df_pairs *pairs, const df_risk_task *task);

#ifdef __cplusplus
}
#endif
#endif
