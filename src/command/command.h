/* The sub-commands of the program and what they share. */
#ifndef DRYFRONT_COMMAND_COMMAND_H
#define DRYFRONT_COMMAND_COMMAND_H

#include "dryfront/report.h"

#define DF_MAX_VALUES 64 /* options given on one command line */

/* One option of a command, or of all. */
typedef struct df_option {
    const char *name;     /* with its dashes */
    const char *argument; /* NULL: a switch */
    bool repeats;
    const char *help;
} df_option;

typedef struct df_session df_session;

/* Where a session's files are, when it is not the machine's disk: a request to the server brings its own. */
typedef struct df_files {
    /* As df_file_read; `path` as the user wrote it. */
    df_status (*read)(df_session *session, char **buffer, size_t *length, const char *path, const char *where);
    /* As df_file_write. */
    df_status (*write)(df_session *session, const char *path, const char *bytes, size_t length, const char *where);
    void *data;
} df_files;

/* One row of the table of commands. */
typedef struct df_command {
    const char *name, *operands, *summary;
    const char *operand; /* what is missing where there are too few, for the sentence */
    size_t least, most;  /* operands */
    const df_option *options;
    size_t option_count;
    const char *detail; /* of `dryfront help NAME`, lines of at most 80 columns */
    df_status (*run)(df_session *session);
} df_command;

#define DF_MAX_OPERANDS 16

/* One start of the program. */
struct df_session {
    df_context *ctx;
    const df_command *command;
    const char *operand[DF_MAX_OPERANDS];
    size_t operands;
    struct {
        const df_option *option;
        const char *value;
    } given[DF_MAX_VALUES];
    size_t given_count;
    df_substances *substances;
    df_containers *containers;
    df_pairs *pairs;
    bool json;
    bool no;                     /* the answer is "no" */
    const df_files *files;       /* NULL: the machine's disk */
    const df_progress *progress; /* told instead of the terminal; NULL: the terminal */
    df_text out;                 /* written at the very end */
};

/* The commands, in the order of the help; NULL past the end. */
const df_command *df_command_at(size_t index);
const df_command *df_command_find(const char *name);
const df_option *df_global_option_at(size_t index);

/* Splits the command line into command, operands, options. DF_E_INPUT; DF_E_UNKNOWN_NAME with the nearest names. */
/* Fails with the nearest names. */
df_status df_unknown_command(df_session *session, const char *word);
DF_NODISCARD df_status df_command_line_read(df_session *session, int count, char *const *words);
/* Value of an option that was given the `index`-th time, NULL where it was not; "" for a switch. */
const char *df_option_value(const df_session *session, const char *name, size_t index);
/* A whole number given with an option, which stays as it is where it was not given. DF_E_INPUT out of bounds. */
DF_NODISCARD df_status df_option_count(const df_session *session, long *value, const char *name, long lowest,
                                       long highest);

/* What `dryfront help` and `dryfront help COMMAND` say. */
void df_help_overview(df_text *out);
void df_help_command(df_text *out, const df_command *command);

df_status df_run_stand(df_session *session);
df_status df_run_run(df_session *session);
df_status df_run_risk(df_session *session);
df_status df_run_sweep(df_session *session);
df_status df_run_routes(df_session *session);
df_status df_run_compare(df_session *session);
df_status df_run_recipe(df_session *session);
df_status df_run_ceilings(df_session *session);
df_status df_run_phases(df_session *session);
df_status df_run_vapour(df_session *session);
df_status df_run_strip(df_session *session);
df_status df_run_tune(df_session *session);
df_status df_run_substances(df_session *session);
df_status df_run_serve(df_session *session);
df_status df_run_help(df_session *session);

#endif
