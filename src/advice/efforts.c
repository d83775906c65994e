/* What work takes and costs: data/efforts.csv. */
#include "advice/action.h"

#include <math.h>
#include <stddef.h>
#include <stdio.h>
#include <string.h>

#define PLAIN DF_DIM_COUNT

static const struct {
    const char *key;
    size_t at;
    df_dimension dimension; /* PLAIN: a cost, as it stands */
} rows[] = {
#define ROW(name, dimension)                                                                                         \
    { #name, offsetof(df_efforts, name), dimension }
    ROW(strip_charge, DF_DIM_VOLUME),
    ROW(strip_area, DF_DIM_AREA),
    ROW(strip_coefficient, DF_DIM_HEAT_TRANSFER),
    ROW(strip_bath, DF_DIM_TEMPERATURE),
    ROW(strip_approach, DF_DIM_TEMPERATURE_STEP),
    ROW(strip_floor, DF_DIM_PRESSURE),
    ROW(strip_condenser, DF_DIM_TEMPERATURE),
    ROW(strip_escape, DF_DIM_PERCENT),
    ROW(minutes_strip_load, DF_DIM_TIME),
    ROW(minutes_strip_hour, DF_DIM_TIME),
    ROW(minutes_make_up, DF_DIM_TIME),
    ROW(minutes_vial, DF_DIM_TIME),
    ROW(minutes_flask, DF_DIM_TIME),
    ROW(minutes_tray, DF_DIM_TIME),
    ROW(minutes_load, DF_DIM_TIME),
    ROW(minutes_shell, DF_DIM_TIME),
    ROW(minutes_nitrogen, DF_DIM_TIME),
    ROW(minutes_recipe, DF_DIM_TIME),
    ROW(minutes_refill, DF_DIM_TIME),
    ROW(minutes_oil, DF_DIM_TIME),
    ROW(hours_refill, DF_DIM_TIME),
    ROW(hours_turn, DF_DIM_TIME),
    ROW(finger_charge, DF_DIM_MASS),
    ROW(ballast, DF_DIM_VOLUME_FLOW),
    ROW(trap_first, DF_DIM_TEMPERATURE),
    ROW(trap_second, DF_DIM_TEMPERATURE),
    ROW(cost_hands_on, PLAIN),
    ROW(cost_vented, PLAIN),
    ROW(cost_margin, PLAIN),
    ROW(margin_enough, DF_DIM_TEMPERATURE_STEP),
    ROW(cost_wetted, PLAIN),
    ROW(cost_trap, PLAIN),
    ROW(cost_second_trap, PLAIN),
    ROW(cost_pump, PLAIN),
    ROW(cost_dryer, PLAIN),
    ROW(cost_container, PLAIN),
    ROW(cost_solvent, PLAIN),
    ROW(cost_nitrogen, PLAIN),
    ROW(other_sigma, DF_DIM_TEMPERATURE_STEP),
#undef ROW
};
#define COUNT (sizeof rows / sizeof rows[0])
_Static_assert(COUNT == sizeof(df_efforts) / sizeof(double), "a row for each number");

df_status df_efforts_read(df_context *ctx, df_efforts *out) {
    static const char *const columns[] = {"key", "value", "unit"};
    df_csv *csv = NULL;
    df_status status = df_csv_builtin(ctx, &csv, "efforts.csv");
    if (status == DF_OK)
        status = df_csv_require(ctx, csv, columns, 3);
    for (size_t i = 0; status == DF_OK && i < COUNT; i++) {
        double *value = (double *)((char *)out + rows[i].at);
        size_t row = 0, n = df_csv_rows(csv);
        char text[64], where[96];
        while (row < n && strcmp(df_csv_cell(csv, row, df_csv_find(csv, "key")), rows[i].key) != 0)
            row++;
        if (row == n)
            status = df_fail(ctx, DF_E_INTERNAL, "efforts.csv: the row '%s' is missing", rows[i].key);
        else if (rows[i].dimension == PLAIN)
            status = df_csv_number(ctx, value, csv, row, df_csv_find(csv, "value"), NAN);
        else {
            snprintf(text, sizeof text, "%s %s", df_csv_cell(csv, row, df_csv_find(csv, "value")),
                     df_csv_cell(csv, row, df_csv_find(csv, "unit")));
            snprintf(where, sizeof where, "efforts.csv:%zu", df_csv_line(csv, row));
            status = df_quantity_parse(ctx, value, text, rows[i].dimension, where);
        }
    }
    df_csv_free(csv);
    return status;
}
