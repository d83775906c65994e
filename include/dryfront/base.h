/* dryfront/base.h: status, context, text, units, tables, YAML, numerics.
 *
 * This room knows nothing of drying. Everything inside the program is in SI units (K, Pa, kg, m, s, mol, J);
 * conversion happens here, at the edge.
 *
 * Argument order everywhere: context, outputs, in-outs, inputs (an array's length right after it), callback, its data.
 * The library never prints and never exits.
 */
#ifndef DRYFRONT_BASE_H
#define DRYFRONT_BASE_H

#include <stdarg.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#ifdef __cplusplus
extern "C" {
#endif

#if defined(__GNUC__)
#define DF_NODISCARD __attribute__((warn_unused_result))
#define DF_PRINTF(fmt, args) __attribute__((format(printf, fmt, args)))
#else
#define DF_NODISCARD
#define DF_PRINTF(fmt, args)
#endif

/* Molar gas constant, J/(mol K): exact since the 2019 SI (CODATA 2018). */
#define DF_GAS_CONSTANT 8.31446261815324
/* Stefan-Boltzmann constant, W/(m2 K4): exact since the 2019 SI (CODATA 2018). */
#define DF_STEFAN_BOLTZMANN 5.670374419e-8
#define DF_ZERO_CELSIUS 273.15 /* K, definition of the Celsius scale */
#define DF_ATMOSPHERE 101325.0 /* Pa, definition of the standard atmosphere */

/* ---- status --------------------------------------------------------------------------------------------------- */

/* Every status: symbol, number, stable name, exit status of the command line, meaning.
 * 0: sound. > 0: computed, but doubtful. < 0: refused, outputs untouched unless the function says otherwise. */
#define DF_STATUS_LIST(X)                                                                                            \
    X(DF_OK, 0, "ok", 0, "sound")                                                                                    \
    X(DF_EXTRAPOLATED, 1, "extrapolated", 0, "computed outside the range of its source")                             \
    X(DF_E_INPUT, -1, "input", 2, "the input is wrong")                                                              \
    X(DF_E_UNKNOWN_NAME, -2, "unknown_name", 2, "a name is not known")                                               \
    X(DF_E_IO, -3, "io", 2, "a file cannot be read or written")                                                      \
    X(DF_E_MEMORY, -10, "memory", 3, "out of memory or over a size limit")                                           \
    X(DF_E_CONVERGENCE, -11, "convergence", 3, "a solver did not converge")                                          \
    X(DF_E_INTERNAL, -12, "internal", 3, "a fault in the program")                                                   \
    X(DF_E_STOPPED, -13, "stopped", 3, "stopped by the one who asked for it")

typedef enum df_status {
#define X(symbol, number, name, exit_status, meaning) symbol = number,
    DF_STATUS_LIST(X)
#undef X
} df_status;

const char *df_status_name(df_status status); /* stable name, e.g. "unknown_name"; "?" for no such status */
int df_status_exit(df_status status);         /* exit status of the command line: 0, 2 or 3 */

/* ---- context -------------------------------------------------------------------------------------------------- */

/* Holds the sentence of the last failure. One context per thread; not shared. */
typedef struct df_context df_context;

DF_NODISCARD df_status df_context_create(df_context **ctx); /* DF_E_MEMORY; *ctx is NULL then */
void df_context_destroy(df_context *ctx);                   /* takes NULL */
const char *df_context_message(const df_context *ctx);      /* one sentence, "" if nothing failed; owned by ctx */
void df_context_clear(df_context *ctx);

/* Where the last failure lies, as far as it is known: file as in the sentence ("": not known), line from 1 (0: not known), field
 * as "sample.solutes[0].concentration" ("": of no field). Owned by ctx. */
typedef struct df_fault {
    const char *file;
    size_t line;
    const char *field;
} df_fault;
df_fault df_context_fault(const df_context *ctx);

/* Records one sentence (printf form, cut at 1023 bytes) and returns `status`, so that `return df_fail(...)` works.
 * `ctx` may be NULL: nothing is recorded. A sentence that begins "FILE:LINE: " or "FILE:LINE: FIELD: " sets df_context_fault. */
df_status df_fail(df_context *ctx, df_status status, const char *format, ...) DF_PRINTF(3, 4);

/* ---- text ----------------------------------------------------------------------------------------------------- */

/* A growing text with a hard limit. Zero-initialise or df_text_init; free with df_text_free. Once an append would
 * pass the limit or memory runs out, `failed` is set and all further appends are ignored. `data` is always
 * NUL-terminated once non-NULL. */
typedef struct df_text {
    char *data;
    size_t length, capacity, limit; /* bytes; limit 0 means 64 MiB */
    bool failed;
} df_text;

void df_text_init(df_text *text, size_t limit);
void df_text_free(df_text *text);
void df_text_append(df_text *text, const char *bytes, size_t length);
void df_text_puts(df_text *text, const char *string);
void df_text_printf(df_text *text, const char *format, ...) DF_PRINTF(2, 3);
const char *df_text_string(const df_text *text); /* "" where nothing was appended */
size_t df_utf8_width(const char *string);        /* code points, for aligning columns */

/* Copy of a string (NULL where memory ran out). */
char *df_strdup(const char *string);
char *df_strndup(const char *bytes, size_t length);
/* Equality for names: ASCII case ignored; '-', '_' and ' ' are the same. */
bool df_name_equal(const char *a, const char *b);
/* Writes up to three names nearest to `name` (edit distance, case ignored, at most a third of the longer length plus
 * one) as "a, b or c" into out[size]; "" where none is near. Names may repeat in `names`; a result does not. */
void df_suggest(char *out, size_t size, const char *name, const char *const *names, size_t count);

/* ---- what was computed before --------------------------------------------------------------------------------- */

/* Values by the bytes that determine them, at most `limit` bytes of both; the least recently used goes first. May be shared by
 * threads. What takes one takes NULL, too, which holds nothing. */
typedef struct df_cache df_cache;
DF_NODISCARD df_status df_cache_create(df_context *ctx, df_cache **cache, size_t limit); /* DF_E_MEMORY */
void df_cache_free(df_cache *cache);
/* Copies the value of `size` bytes that stands under the key; false where there is none. */
bool df_cache_get(df_cache *cache, void *value, size_t size, const df_text *key);
/* Keeps a copy, where there is room and memory for it. Values must hold no pointers that may dangle. */
void df_cache_put(df_cache *cache, const void *value, size_t size, const df_text *key);
size_t df_cache_hits(df_cache *cache); /* how often something was found */
/* Lends a context a cache (NULL: none): what works with the context looks there first. The results are the same, bit by bit. The
 * cache must outlive the context or the loan. */
void df_context_lend(df_context *ctx, df_cache *cache);
df_cache *df_context_cache(const df_context *ctx); /* takes NULL */

/* ---- long work ------------------------------------------------------------------------------------------------ */

/* Someone who waits for a long work: hears what share of it (0..1) is done and what is being done, in a few words, or with NAN
 * and NULL is only asked whether to go on. False stops the work: DF_E_STOPPED. Called from any of its threads. */
typedef struct df_listener {
    bool (*hear)(void *data, double share, const char *what);
    void *data;
} df_listener;
void df_context_listen(df_context *ctx, const df_listener *listener); /* NULL: nobody */
bool df_context_go_on(const df_context *ctx);                         /* takes NULL */
/* Tells the share (0..1) of the part at hand; false: stop. */
bool df_context_tell(const df_context *ctx, double share, const char *what);

/* A part of the work at hand, from one share of it to another: what is told in it counts for that part. */
typedef struct df_stretch {
    double from, width;
} df_stretch;
df_stretch df_context_begin(df_context *ctx, double from, double to); /* returns what was at hand before */
void df_context_end(df_context *ctx, df_stretch before);

/* A context for another thread of the same work: its cache and listener. What is told through it counts nothing: a tally of the whole
 * does. DF_E_MEMORY. */
DF_NODISCARD df_status df_context_branch(df_context **branch, const df_context *ctx);

/* Pieces of one part, counted by several threads. `guess`: how many there are is not known; the share then nears 1 and never falls. */
typedef struct df_tally {
    const df_context *ctx;
    const char *what;
    size_t of, done;
    bool guess;
} df_tally;
bool df_tally_one(df_tally *tally); /* one more is done; false: stop. Takes NULL */

/* ---- units ---------------------------------------------------------------------------------------------------- */

/* What a quantity measures, the SI unit it is held in, and what a user may write (see df_unit_list). */
typedef enum df_dimension {
    DF_DIM_TEMPERATURE,                /* K        */
    DF_DIM_TEMPERATURE_STEP,           /* K, a difference: "2 K" (and "2 °C" meaning 2 K) */
    DF_DIM_PRESSURE,                   /* Pa: Pa, hPa, kPa, mbar, µbar, bar, Torr, mmHg, mTorr, atm */
    DF_DIM_LENGTH,                     /* m: µm, mm, cm, m */
    DF_DIM_AREA,                       /* m2: mm2, cm2, m2 (also with ²) */
    DF_DIM_VOLUME,                     /* m3: µL, mL, L, cm3, m3 */
    DF_DIM_MASS,                       /* kg: mg, g, kg */
    DF_DIM_TIME,                       /* s: s, min, h, d */
    DF_DIM_POWER,                      /* W: W, kW */
    DF_DIM_VOLUME_FLOW,                /* m3/s: m3/h, m3/s, L/min, L/s */
    DF_DIM_MASS_CONCENTRATION,         /* kg/m3: g/L, mg/mL, kg/m3 */
    DF_DIM_HEAT_TRANSFER,              /* W/(m2 K): W/m2/K, W/(m2 K) */
    DF_DIM_HEAT_TRANSFER_PER_PRESSURE, /* W/(m2 K Pa): W/m2/K/Pa */
    DF_DIM_PER_PRESSURE,               /* 1/Pa: 1/Pa */
    DF_DIM_CONDUCTIVITY,               /* W/(m K): W/m/K */
    DF_DIM_RESISTANCE,                 /* m/s (cake resistance, Pa m2 s/kg): m/s, cm2 Torr h/g */
    DF_DIM_RESISTANCE_SLOPE,           /* 1/s (resistance per depth): 1/s, cm Torr h/g */
    DF_DIM_PER_LENGTH,                 /* 1/m: 1/m, 1/cm, 1/mm */
    DF_DIM_LEAK,                       /* Pa m3/s: mbar L/s, Pa m3/s */
    DF_DIM_RATE,                       /* K/s: K/min, °C/min, K/s, K/h */
    DF_DIM_HEAT_CAPACITY,              /* J/K: J/K, kJ/K */
    DF_DIM_NUMBER,                     /* no unit */
    DF_DIM_PERCENT,                    /* fraction 0..1 from "30 %" */
    DF_DIM_COUNT
} df_dimension;

/* "°C or K", "Pa, hPa, ..." for sentences that tell the user what would be right. */
const char *df_unit_list(df_dimension dimension);

/* Reads "-30 °C", "0.5mbar", "1e-2 mbar", "40 cm2": a finite number, then a unit of that dimension (required, save for
 * DF_DIM_NUMBER). The typographic minus, '²', '³', 'µ', '·', '/' and "degC" are understood. Writes the SI value.
 * `where` (may be NULL) is put before the sentence, e.g. "job.yaml:12: fill". DF_E_INPUT: no number, NaN or infinite,
 * unit missing or of another dimension, below absolute zero. */
DF_NODISCARD df_status df_quantity_parse(df_context *ctx, double *si, const char *text, df_dimension dimension,
                                         const char *where);
/* Reads a leading number and leaves *rest at what follows (spaces skipped). False where there is no finite number. */
bool df_number_scan(double *value, const char **rest, const char *text);

/* ---- CSV ------------------------------------------------------------------------------------------------------ */

/* RFC 4180 with a header row; lines that start with '#' and empty lines are skipped; UTF-8, optional BOM. */
typedef struct df_csv df_csv;

/* `name` stands in every sentence. DF_E_INPUT: ragged row, open quote, duplicate or empty column name, NUL byte;
 * DF_E_MEMORY. On failure *csv is NULL. The buffer may be released afterwards. */
DF_NODISCARD df_status df_csv_parse(df_context *ctx, df_csv **csv, const char *buffer, size_t length,
                                    const char *name);
void df_csv_free(df_csv *csv); /* takes NULL */
size_t df_csv_rows(const df_csv *csv);
size_t df_csv_columns(const df_csv *csv);
const char *df_csv_column_name(const df_csv *csv, size_t column);
int df_csv_find(const df_csv *csv, const char *column);             /* index or -1 */
const char *df_csv_cell(const df_csv *csv, size_t row, int column); /* "" where column is -1; owned by csv */
size_t df_csv_line(const df_csv *csv, size_t row);                  /* line in the file, from 1 */
const char *df_csv_name(const df_csv *csv);
/* A number; an empty cell gives `missing` (pass NAN to ask later). DF_E_INPUT with name:line: column otherwise. */
DF_NODISCARD df_status df_csv_number(df_context *ctx, double *value, const df_csv *csv, size_t row, int column,
                                     double missing);
/* Opens a table of data/ that is compiled in. DF_E_INTERNAL where there is none of that name. */
DF_NODISCARD df_status df_csv_builtin(df_context *ctx, df_csv **csv, const char *name);
/* Refuses a table that lacks one of the columns. */
DF_NODISCARD df_status df_csv_require(df_context *ctx, const df_csv *csv, const char *const *columns, size_t count);

/* ---- YAML ----------------------------------------------------------------------------------------------------- */

/* A YAML 1.1 document (libyaml) kept with the line of every node. Refused: syntax errors, duplicate keys, more than one
 * document, aliases that nest too deep, more than 4 MiB. */
typedef struct df_yaml df_yaml;
typedef struct df_yaml_node df_yaml_node;
typedef enum df_yaml_kind { DF_YAML_SCALAR, DF_YAML_LIST, DF_YAML_MAP } df_yaml_kind;

DF_NODISCARD df_status df_yaml_parse(df_context *ctx, df_yaml **yaml, const char *buffer, size_t length,
                                     const char *name);
void df_yaml_free(df_yaml *yaml); /* takes NULL */
const df_yaml_node *df_yaml_root(const df_yaml *yaml);
df_yaml_kind df_yaml_node_kind(const df_yaml_node *node);
size_t df_yaml_node_line(const df_yaml_node *node);      /* from 1 */
const char *df_yaml_node_path(const df_yaml_node *node); /* "containers[1].fill" */
const char *df_yaml_scalar(const df_yaml_node *node);    /* NULL where it is no scalar */
size_t df_yaml_count(const df_yaml_node *node);          /* entries of a list or map, 0 for a scalar */
const df_yaml_node *df_yaml_item(const df_yaml_node *node, size_t index); /* value of entry */
const char *df_yaml_key(const df_yaml_node *map, size_t index);
const df_yaml_node *df_yaml_get(const df_yaml_node *map, const char *key); /* NULL where absent or no map */
/* "file.yaml:12: containers[0].fill" for sentences; written to out[size] and returned. */
const char *df_yaml_where(char *out, size_t size, const df_yaml_node *node);
/* Failure at a node: "file:line: path: sentence". */
df_status df_yaml_fail(df_context *ctx, const df_yaml_node *node, const char *format, ...) DF_PRINTF(3, 4);
/* The same where `map` lacks a key: the sentence is the map's, the field of df_context_fault is the key. */
df_status df_yaml_missing(df_context *ctx, const df_yaml_node *map, const char *key, const char *format, ...)
    DF_PRINTF(4, 5);

/* Refuses keys of `map` that are not in the list, naming the nearest; refuses a node that is no map. */
DF_NODISCARD df_status df_yaml_check_keys(df_context *ctx, const df_yaml_node *map, const char *const *keys,
                                          size_t count);
/* Typed fields. With `required` a missing field fails; otherwise *value stays as it is. */
DF_NODISCARD df_status df_yaml_quantity(df_context *ctx, double *value, const df_yaml_node *map, const char *key,
                                        df_dimension dimension, bool required);
/* The same with bounds in SI units, inclusive; the sentence names them in the unit the user wrote. */
DF_NODISCARD df_status df_yaml_quantity_in(df_context *ctx, double *value, const df_yaml_node *map, const char *key,
                                           df_dimension dimension, bool required, double lowest, double highest);
DF_NODISCARD df_status df_yaml_integer(df_context *ctx, long *value, const df_yaml_node *map, const char *key,
                                       bool required, long lowest, long highest);
DF_NODISCARD df_status df_yaml_bool(df_context *ctx, bool *value, const df_yaml_node *map, const char *key,
                                    bool required);
/* A new string in *value (free it); an old one there is freed. An empty string is refused. */
DF_NODISCARD df_status df_yaml_string(df_context *ctx, char **value, const df_yaml_node *map, const char *key,
                                      bool required);
/* The same into a fixed buffer of `size` bytes; refused where it is longer. */
DF_NODISCARD df_status df_yaml_text(df_context *ctx, char *out, size_t size, const df_yaml_node *map, const char *key,
                                    bool required);
/* The same, needed, for a key: of ASCII letters, digits, '_', '-' and '.', and beginning with a letter or digit. */
DF_NODISCARD df_status df_yaml_key_text(df_context *ctx, char *out, size_t size, const df_yaml_node *map,
                                        const char *key);
/* What a file of the user's own things holds: a list under `key` ("containers"), or one thing as the whole map, which has a field
 * 'key'. DF_E_INPUT where it is neither, or the list is empty. */
typedef struct df_yaml_items {
    const df_yaml_node *list, *one; /* either is NULL */
    size_t count;
} df_yaml_items;
DF_NODISCARD df_status df_yaml_items_find(df_context *ctx, df_yaml_items *items, const df_yaml_node *root,
                                          const char *key);
const df_yaml_node *df_yaml_items_at(const df_yaml_items *items, size_t index);
/* Index of the word in `words`; the sentence lists the words. */
DF_NODISCARD df_status df_yaml_choice(df_context *ctx, int *value, const df_yaml_node *map, const char *key,
                                      bool required, const char *const *words, size_t count);

/* ---- what is left out ----------------------------------------------------------------------------------------- */

/* Names that a set would hold had their file been sound, and why they are not in it, for the sentence when one is asked for.
 * Zero-initialise; free with df_absent_free. */
typedef struct df_absent {
    struct df_absent_entry {
        char *name, *why;
    } * entry;
    size_t count;
} df_absent;
DF_NODISCARD df_status df_absent_add(df_context *ctx, df_absent *absent, const char *name, const char *why);
const char *df_absent_why(const df_absent *absent, const char *name); /* NULL: not among them */
void df_absent_free(df_absent *absent);

/* ---- numerics ------------------------------------------------------------------------------------------------- */

/* Root of f in [a, b] where f(a) and f(b) differ in sign, by Brent's method (Algorithms for Minimization without
 * Derivatives, 1973, ch. 4). Absolute tolerance in x. Returns false (and *root = better end) without a sign change. */
typedef double (*df_function)(double x, void *data);
bool df_find_root(double *root, double a, double b, double tolerance, df_function f, void *data);

/* Whether something holds at x: 1 it does, 0 it does not, -1 nor will it further down. */
typedef df_status (*df_condition)(df_context *ctx, int *holds, double x, void *data);
/* Highest x, to 1e-3, at which a condition holds: from `high` down in steps, the last of them to `low`, until it does, then by
 * bisection, so that what it does further down plays no part. `high` itself is not asked. NAN where it does not hold. Errors of
 * the condition. */
DF_NODISCARD df_status df_highest_with(df_context *ctx, double *x, double low, double high, double step,
                                       df_condition condition, void *data);

/* Solves A x = b in place (A row-major n x n is destroyed, b becomes x) by Gaussian elimination with partial pivoting;
 * n <= 64. False where A is singular to working precision. */
bool df_solve_linear(double *a, double *b, size_t n);
/* Thomas algorithm; lower[1..n-1], diagonal[0..n-1] (destroyed), upper[0..n-2], right side becomes x. */
void df_solve_tridiagonal(const double *lower, double *diagonal, const double *upper, double *x, size_t n);

/* Eigenvalues (left on the diagonal of a) and eigenvectors (columns of `vector`) of a symmetric matrix, both row-major n x n,
 * by cyclic Jacobi rotations (Golub & Van Loan, Matrix Computations, ch. 8.5). */
void df_eigen_symmetric(double *a, double *vector, size_t n);

/* Linear interpolation in a table with ascending x (n >= 2); beyond the ends the end values (hold) hold. */
double df_interpolate(const double *x, const double *y, size_t n, double at);

/* Embedded data file by its name in data/ ("substances.csv"); NULL where there is none. */
const char *df_embedded(size_t *length, const char *name);
/* Name of the index-th of them; NULL past the last. */
const char *df_embedded_name(size_t index);

#ifdef __cplusplus
}
#endif
#endif
