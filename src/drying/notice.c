/* The one catalogue of what a run tells (data/notices.csv), and the evidence for each notice. */
#include "dryfront/drying.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

static const char *const keys[] = {
    "evacuated",      "solvent_gone", "primary_end",       "target_met",  "margin_lost", "limit_passed",
    "framework_lost", "glass_passed", "pressure_not_held", "duct_choked", "trap_full",   "trap_drips",
    "coolant_gone",   "oil_loaded",   "pump_overloaded",   "power_cut",   "power_back",  "defrost",
    "defrosted",      "vacuum_break", "vacuum_back",       "refill",      "put_on",      "taken_off",
    "taken_wet",      "time_limit",
};
_Static_assert(sizeof keys / sizeof keys[0] == DF_NOTICES, "a key for each notice");

const char *df_event_name(df_event_kind kind) {
    static const char *const names[] = {"power_cut", "defrost", "vacuum_break", "refill"};
    return names[kind];
}

const char *df_holder_name(df_holder holder) {
    static const char *const names[] = {"none", "trap", "duct", "pump", "leak"};
    return names[holder];
}

df_status df_notice_lookup(df_context *ctx, df_notice_text *out, df_notice_kind kind) {
    static const char *const columns[] = {"key", "weight", "what", "action"};
    df_csv *table = NULL;
    memset(out, 0, sizeof *out);
    df_status status = df_csv_builtin(ctx, &table, "notices.csv");
    if (status == DF_OK)
        status = df_csv_require(ctx, table, columns, 4);
    size_t row = 0;
    while (status == DF_OK && row < df_csv_rows(table) &&
           strcmp(df_csv_cell(table, row, df_csv_find(table, "key")), keys[kind]) != 0)
        row++;
    if (status == DF_OK && row == df_csv_rows(table))
        status = df_fail(ctx, DF_E_INTERNAL, "notices.csv has no row '%s'", keys[kind]);
    if (status == DF_OK) {
        snprintf(out->key, sizeof out->key, "%s", keys[kind]);
        snprintf(out->weight, sizeof out->weight, "%s", df_csv_cell(table, row, df_csv_find(table, "weight")));
        snprintf(out->what, sizeof out->what, "%s", df_csv_cell(table, row, df_csv_find(table, "what")));
        snprintf(out->action, sizeof out->action, "%s", df_csv_cell(table, row, df_csv_find(table, "action")));
    }
    df_csv_free(table);
    return status;
}

#define C(kelvin) ((kelvin)-DF_ZERO_CELSIUS)
#define MBAR(pascal) ((pascal) / 100.0)

static const char *holder_words(df_holder holder) {
    static const char *const words[] = {"", "vapour over the trap's surface", "the duct's narrowness",
                                        "what the pump does not carry off", "air that comes in"};
    return words[holder];
}

const char *df_notice_evidence(char *out, size_t size, const df_notice *n, const df_setup *setup) {
    const double *v = n->value;
    const char *trap = setup->dryer->traps > 1 ? (n->index == 0 ? "first trap: " : "second trap: ") : "";
    out[0] = '\0';
    switch (n->kind) {
    case DF_NOTICE_EVACUATED:
        snprintf(out, size, "%.2f mbar", MBAR(v[0]));
        break;
    case DF_NOTICE_MARGIN_LOST:
        snprintf(out, size, "%.1f °C, %.1f K %s the %s of %.1f °C; %.1f K asked for", C(v[0]), fabs(v[1] - v[0]),
                 v[1] >= v[0] ? "under" : "over", n->index ? "solute's critical temperature" : "solidus", C(v[1]),
                 v[2]);
        if (isnan(v[1]))
            snprintf(out, size, "%.1f °C, and some of it never becomes solid", C(v[0]));
        break;
    case DF_NOTICE_LIMIT_PASSED:
        snprintf(out, size, "%.1f °C, over the %s of %.1f °C", C(v[0]),
                 n->index ? "solute's critical temperature" : "solidus", C(v[1]));
        if (isnan(v[1]))
            snprintf(out, size, "%.1f °C, and some of it never becomes solid", C(v[0]));
        break;
    case DF_NOTICE_FRAMEWORK_LOST:
        snprintf(out, size, "%.1f °C; %.0f %% by volume is solid, %.0f %% is the least that stands", C(v[0]),
                 100.0 * v[1], 100.0 * setup->least_framework);
        break;
    case DF_NOTICE_GLASS_PASSED:
        snprintf(out, size, "cake at %.1f °C, its Tg at %.1f °C", C(v[0]), C(v[1]));
        break;
    case DF_NOTICE_PRESSURE_NOT_HELD:
        snprintf(out, size, "%.3f mbar for a set point of %.3f mbar; most of it is %s", MBAR(v[0]), MBAR(v[1]),
                 holder_words((df_holder)n->index));
        break;
    case DF_NOTICE_DUCT_CHOKED:
        snprintf(out, size, "%.0f %% of sonic flow; %.3f mbar before the duct, %.3f mbar behind it", 100.0 * v[0],
                 MBAR(v[1]), MBAR(v[2]));
        break;
    case DF_NOTICE_TRAP_FULL:
        snprintf(out, size, "%s%.2f kg of solid, it holds %.2f kg", trap, v[0], v[1]);
        break;
    case DF_NOTICE_TRAP_DRIPS:
        snprintf(out, size, "%s%.0f g of %.0f g, its surface at %.1f °C", trap, 1e3 * v[0], 1e3 * v[1], C(v[2]));
        break;
    case DF_NOTICE_COOLANT_GONE:
        snprintf(out, size, "%s%.2f kg of %s used since it was filled", trap, v[0],
                 df_coolant_name(setup->dryer->trap[n->index].coolant));
        break;
    case DF_NOTICE_OIL_LOADED:
        snprintf(out, size, "it reaches %.3f mbar, clean %.3f mbar; %.*f g of solvent in the oil", MBAR(v[0]),
                 MBAR(v[1]), v[2] < 0.01 ? 2 : 0, 1e3 * v[2]);
        break;
    case DF_NOTICE_PUMP_OVERLOADED:
        snprintf(out, size, "%.0f g, it stands %.0f g", 1e3 * v[0], 1e3 * v[1]);
        break;
    case DF_NOTICE_POWER_CUT:
    case DF_NOTICE_VACUUM_BREAK:
        snprintf(out, size, "for %.0f min", v[0] / 60.0);
        break;
    case DF_NOTICE_DEFROST:
        snprintf(out, size, "%sshut for %.0f min, the first %.0f of them to thaw and drain", trap, v[0] / 60.0,
                 v[1] / 60.0);
        break;
    case DF_NOTICE_DEFROSTED:
        snprintf(out, size, "%s%.0f g drained", trap, 1e3 * v[0]);
        break;
    case DF_NOTICE_POWER_BACK:
    case DF_NOTICE_VACUUM_BACK:
        snprintf(out, size, "the chamber is at %.2f mbar", MBAR(v[0]));
        break;
    case DF_NOTICE_TAKEN_WET:
        snprintf(out, size, "%.3g g a container left, %.1f %% of what was in it", 1e3 * v[0], 100.0 * v[1]);
        break;
    default:
        break;
    }
    return out;
}
