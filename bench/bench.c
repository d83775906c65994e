/* bench [JOB.yaml]: how long the parts of the main job take; medians, since a busy machine makes single figures
 * worthless, and beside them the median of the time on a core (of all threads, without child processes).
 * DRYFRONT_PROGRAM: path of the program, which is then timed from process start to exit as well. */
#include "cases.h"
#include "dryfront/advice.h"
#include "dryfront/transient.h"
#include "dryfront/uncertain.h"

#include <errno.h>
#include <fcntl.h>
#include <spawn.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/wait.h>
#include <unistd.h>

#define MOST 1001
#define PATIENCE 2.0 /* s given to one row, save that it is done three times at least */

extern char **environ;

typedef struct bench {
    bench_data data;
    bench_case load;
    df_composition composition;
    df_mixture *mixture;
    bool allowed[DF_MAX_SOLIDS];
    double temperature;
    df_assemblage assemblage;
    bool warm;
    df_frozen_path path;
    df_job job;
    df_dryer dryer;
    df_stand stand;
    df_risk risk;
    bool remedies;
    const df_substance *water, *solvent[12];
    df_ceiling ceiling[12];
    df_run run;
    df_transient_options options;
    const char *program;
    char *job_path;
    long steps;
} bench;

typedef void (*action)(bench *b);

static void row(bench *b, const char *what, action act, const char *aim) {
    static double times[MOST], cores[MOST];
    size_t n = 0;
    double begun = bench_now();
    act(b); /* warms caches */
    while (n < 3 || (n < MOST && bench_now() - begun < PATIENCE)) {
        double start = bench_now(), used = bench_cpu();
        act(b);
        cores[n] = bench_cpu() - used;
        times[n++] = bench_now() - start;
    }
    double median = bench_median(times, n); /* sorted from here on */
    bool micro = median < 1e-3;
    double scale = micro ? 1e6 : 1e3;
    printf("%-58s %9.3f %9.3f %9.3f %s %5zu  %s\n", what, scale * median, scale * times[0],
           scale * bench_median(cores, n), micro ? "us" : "ms", n, aim);
    fflush(stdout);
}

static void simulate(bench *b) {
    df_run run;
    bench_check(&b->data, df_run_simulate(b->data.ctx, &run, &b->load.setup));
    b->steps = run.steps;
    df_run_free(&run);
}

static void replay(bench *b) {
    df_transient t;
    bench_check(&b->data, df_transient_replay(b->data.ctx, &t, &b->load.setup, &b->run, 0, &b->options));
    b->steps = t.steps;
    df_transient_free(&t);
}

static void make_path(bench *b) {
    bench_check(&b->data,
                df_frozen_path_make(b->data.ctx, &b->path, b->data.pairs, &b->composition, DF_FREEZING_PRACTICE));
}

static void equilibrium(bench *b) {
    bench_check(&b->data, df_mixture_equilibrium(b->data.ctx, &b->assemblage, b->mixture, b->temperature,
                                                 b->composition.x, b->allowed, b->warm));
}

static void judge(bench *b) {
    bench_check(&b->data, df_stand_judge(b->data.ctx, &b->stand, &b->job, &b->dryer, b->data.pairs, b->remedies));
    df_stand_free(&b->stand);
}

static void ceilings(bench *b) {
    bench_check(&b->data,
                df_ceilings_find(b->data.ctx, b->ceiling, &b->dryer, b->data.pairs, b->water, b->solvent, 12));
}

static void risk(bench *b) {
    df_risk_task task;
    df_risk_task_defaults(&task);
    task.runs = 1024;
    task.indices = 0;
    bench_check(&b->data, df_risk_assess(b->data.ctx, &b->risk, &b->job, &b->dryer, b->data.pairs, &task));
}

static void load_data(bench *b) {
    bench_data d;
    (void)b;
    bench_open(&d);
    bench_close(&d);
}

static void process(bench *b) {
    char stand[] = "stand";
    char *words[] = {(char *)(size_t)b->program, stand, b->job_path, NULL}; /* posix_spawn leaves them as they are */
    posix_spawn_file_actions_t to;
    pid_t child;
    int status = 0;
    posix_spawn_file_actions_init(&to);
    posix_spawn_file_actions_addopen(&to, STDOUT_FILENO, "/dev/null", O_WRONLY, 0);
    int error = posix_spawn(&child, b->program, &to, NULL, words, environ);
    posix_spawn_file_actions_destroy(&to);
    while (error == 0 && waitpid(child, &status, 0) < 0 && errno == EINTR)
        ;
    if (error != 0 || !WIFEXITED(status) || WEXITSTATUS(status) > 1) { /* 1: the sample does not stand */
        fprintf(stderr, "bench: %s did not run\n", b->program);
        exit(3);
    }
}

static void set_composition(bench *b, const char *text) {
    bench_check(&b->data, df_composition_parse(b->data.ctx, &b->composition, b->data.substances, text, NULL));
}

static void open_job(bench *b) {
    static char buffer[1 << 20];
    FILE *file = fopen(b->job_path, "rb");
    size_t length = file != NULL ? fread(buffer, 1, sizeof buffer, file) : 0;
    if (length == 0) {
        fprintf(stderr, "bench: %s cannot be read\n", b->job_path);
        exit(2);
    }
    fclose(file);
    bench_check(&b->data, df_job_parse(b->data.ctx, &b->job, b->data.substances, NULL, buffer, length, b->job_path));
    bench_check(&b->data, df_dryer_builtin(b->data.ctx, &b->dryer, b->job.dryer));
}

int main(int count, char **words) {
    static const char *const solvents[12] = {"acetonitrile", "methanol",        "ethanol",     "2-propanol",
                                             "tert-butanol", "acetone",         "acetic acid", "dimethyl sulfoxide",
                                             "1,4-dioxane",  "tetrahydrofuran", "formic acid", "pyridine"};
    char default_job[] = "examples/island.yaml", text[96];
    bench *b = calloc(1, sizeof *b);
    if (b == NULL)
        return 3;
    b->job_path = count > 1 ? words[1] : default_job;
    b->program = getenv("DRYFRONT_PROGRAM");
    bench_open(&b->data);
    printf("%-58s %9s %9s %9s    %5s  %s\n", "", "median", "fastest", "CPU", "times", "aim");

    static const struct {
        const char *name, *what, *aim;
    } runs[] = {
        {"water", "one run, 1 class, water", "1 ms"},
        {"acetonitrile", "one run, 1 class, acetonitrile 30 %v/v", "1 ms"},
        {"two_classes", "one run, 2 classes, acetonitrile 30 %v/v", ""},
        {"ten_classes", "one run, 10 classes, acetonitrile 30 %v/v", "6 ms"},
        {"secondary", "one run, 1 class, sucrose with its bound water", "1 ms"},
    };
    for (size_t i = 0; i < sizeof runs / sizeof runs[0]; i++) {
        bench_case_make(&b->load, &b->data, runs[i].name);
        simulate(b);
        snprintf(text, sizeof text, "%s (%ld steps)", runs[i].what, b->steps);
        row(b, text, simulate, runs[i].aim);
    }

    df_transient_defaults(&b->options);
    b->options.dry_cells = b->options.frozen_cells = 100;
    for (size_t i = 0; i < 2; i++) {
        bench_case_make(&b->load, &b->data, runs[i].name);
        bench_check(&b->data, df_run_simulate(b->data.ctx, &b->run, &b->load.setup));
        replay(b);
        snprintf(text, sizeof text, "the same by model (b), 200 cells, %s (%ld steps)", runs[i].name, b->steps);
        row(b, text, replay, "150 ms");
        df_run_free(&b->run);
    }

    set_composition(b, "acetonitrile 30 %v/v, water");
    row(b, "one frozen path, acetonitrile-water", make_path, "");
    set_composition(b, "acetonitrile 20 %v/v, methanol 5 %v/v, trifluoroacetic acid 0.1 %v/v, water");
    row(b, "one frozen path, 4 components", make_path, "");
    bench_check(&b->data, df_mixture_create(b->data.ctx, &b->mixture, b->data.pairs, b->composition.component,
                                            b->composition.n));
    df_mixture_allow(b->allowed, b->mixture, DF_FREEZING_PRACTICE);
    b->temperature = 240.0;
    row(b, "one equilibrium, 4 components at 240 K, from nothing", equilibrium, "");
    b->warm = true;
    row(b, "one equilibrium, 4 components at 240 K, from itself", equilibrium, "");
    df_mixture_free(b->mixture);

    open_job(b);
    row(b, "judging the job, without remedies", judge, "");
    b->remedies = true;
    row(b, "judging the job, with remedies", judge, "");
    row(b, "the job over what is not sure, 1024 runs, all threads", risk, "");
    row(b, "loading substances and pairs", load_data, "");
    bench_check(&b->data, df_substances_find(b->data.ctx, &b->water, b->data.substances, "water", NULL));
    for (size_t i = 0; i < 12; i++)
        bench_check(&b->data, df_substances_find(b->data.ctx, &b->solvent[i], b->data.substances, solvents[i], NULL));
    row(b, "ceilings of 12 solvents on one dryer, all threads", ceilings, "2000 ms");
    if (b->program != NULL)
        row(b, "dryfront stand JOB.yaml, process start to exit", process, "50 ms");
    else
        puts("dryfront stand JOB.yaml: left out, DRYFRONT_PROGRAM is not set");
    bench_close(&b->data);
    free(b);
    return 0;
}
