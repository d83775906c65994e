/* The table of commands: names, options and usage. */
#include "command.h"

#include <string.h>

#define COUNT(a) (sizeof(a) / sizeof((a)[0]))

static const df_option global_options[] = {
    {"--json", NULL, false, "answer in JSON (docs/schema), for other programs"},
    {"--substances", "FILE.yaml", true, "your own substances beside the built-in ones"},
    {"--solutes", "FILE.yaml", true, "your own solutes beside the built-in ones"},
    {"--containers", "FILE.yaml", true, "your own containers beside the built-in ones"},
    {"--help", NULL, false, "usage of the program or of a command"},
    {"--version", NULL, false, "version of the program"},
};

static const df_option stand_options[] = {
    {"--quick", NULL, false, "the run alone: no bands and no remedies"},
};
static const df_option run_options[] = {
    {"--csv", "FILE.csv", false, "also write the series into this file"},
    {"--figure", "FILE.svg", false, "also draw the run into this file"},
};
static const df_option risk_options[] = {
    {"--runs", "N", false, "runs of the sample; without it 2048"},
    {"--indices", "N", false, "base runs for the indices, 0 for none; without it 256"},
    {"--accept", "P", false, "also the warmest shelf for this risk, e.g. \"5 %\""},
    {"--seed", "N", false, "of the draws; without it 1"},
};
static const df_option sweep_options[] = {
    {"--out", "FILE.csv", false, "the table; pieces are kept in FILE.csv.parts till then"},
};
static const df_option routes_options[] = {
    {"--dryer", "NAME|FILE", true, "another dryer that may be used; may be repeated"},
};
static const df_option compare_options[] = {
    {"--dryer", "NAME|FILE", true, "a dryer to compare; repeat it"},
};
static const df_option recipe_options[] = {
    {"--warmest", "T", false, "the shelf is never warmer, e.g. \"20 °C\""},
    {"--pressure", "P", false, "hold this pressure, e.g. \"0.08 mbar\"; 0 mbar: none"},
    {"--ramp", "R", false, "between holds, e.g. \"0.2 K/min\""},
    {"--csv", "FILE.csv", false, "also write the design space into this file"},
    {"--figure", "FILE.svg", false, "also draw the design space into this file"},
};
static const df_option ceilings_options[] = {
    {"--solvent", "NAME", true, "only this solvent; may be repeated"},
};
static const df_option phases_options[] = {
    {"--temperature", "T", true, "at this temperature, e.g. \"-30 °C\"; may be repeated"},
    {"--freezing", "HOW", false, "practice (without it), quenched, annealed, equilibrium"},
    {"--crystallises", "NAME", true, "its crystal and hydrates did form in this sample"},
    {"--stays-liquid", "NAME", true, "it stayed liquid in this sample"},
    {"--figure", "FILE.svg", false, "also draw a figure into this file"},
    {"--csv", "FILE.csv", false, "also write that figure's numbers into this file"},
    {"--figure-kind", "KIND", false, "phases (without it) or pressure"},
    {"--dryer", "NAME|FILE", false, "with pressure: show this dryer's trap and pump"},
};
static const df_option vapour_options[] = {
    {"--temperature", "T", false, "partial pressures at T, e.g. \"-30 °C\""},
    {"--pressure", "P", false, "boiling at this pressure, e.g. \"1013.25 mbar\""},
    {"--freezing", "HOW", false, "practice (without it), quenched, annealed, equilibrium"},
    {"--crystallises", "NAME", true, "its crystal and hydrates did form in this sample"},
    {"--stays-liquid", "NAME", true, "it stayed liquid in this sample"},
};
static const df_option strip_options[] = {
    {"--pressure", "P", false, "boils under this pressure, e.g. \"100 mbar\""},
    {"--bath", "T", false, "temperature of the bath, e.g. \"40 °C\""},
    {"--floor", "P", false, "with --bath alone: the lowest pressure reached"},
    {"--until", "TARGET", false, "\"acetonitrile 5 %v/v\", \"120 g\" or \"100 mL\" left"},
    {"--amount", "A", false, "what is put in, e.g. \"500 mL\"; without it 1 L"},
};

static const df_option tune_options[] = {
    {"--isolation", "LOG.csv", true, "dry, empty, shut off from its pump: leak, degassing"},
    {"--pump-down", "LOG.csv", true, "dry, empty, pumped down: speed, ultimate pressure"},
    {"--trap", "LOG.csv", true, "cooling down, or under a known load: refrigeration"},
    {"--ice-test", "LOG.csv", true, "ice weighed before and after: shelf coefficient"},
    {"--product", "LOG.csv", false, "a run of --job: resistance of its dried layer"},
    {"--job", "JOB.yaml", false, "the job of --product"},
    {"--note", "\"KEY: VALUE\"", true, "about the log named before, e.g. \"volume: 72 L\""},
    {"--output", "FILE.yaml", false, "write there, and leave the dryer's file as it is"},
    {"--date", "YYYY-MM-DD", false, "of the history; today's without it"},
    {"--try", NULL, false, "write nothing"},
};

static const df_option serve_options[] = {
    {"--port", "N", false, "where it listens; 0 takes a free one; without it 8600"},
    {"--listen", "ADDRESS", false, "of this machine; without it 127.0.0.1, itself alone"},
    {"--host", "NAME", true, "another name by which it may be called"},
    {"--workspace", "DIR", false, "where jobs and dryers are kept"},
    {"--threads", "N", false, "that compute; without it one more than processors"},
    {"--open", NULL, false, "also open the pages in the browser (xdg-open)"},
};

static const df_command commands[] = {
    {"stand", "JOB.yaml", "how a sample stands on its dryer, and why", "a job file", 1, 1, stand_options,
     COUNT(stand_options),
     "Reads a job (docs/job.md), freezes it, runs its primary drying and judges it:\n"
     "  rigid   every phase present is solid, with the margin asked for\n"
     "  wetted  a crystal framework stands, with liquid held in it\n"
     "  afloat  no framework: the sample is liquid and would evaporate\n"
     "  unheld  the dryer cannot hold the pressure that the sample needs\n"
     "The dryer that the job names is a built-in one (bench-55, bench-85, deep-105)\n"
     "or a file (docs/dryer.md), its path seen from the job's folder.\n"
     "Exit status 1: the standing is not acceptable for the purpose the job states.\n",
     df_run_stand},
    {"run", "JOB.yaml", "a job's run as it is, to plan it by", "a job file", 1, 1, run_options, COUNT(run_options),
     "Reads a job (docs/job.md) and runs it as it is, from loading to the end of its\n"
     "recipe: phases and hottest points, what happens on the way and what to do then,\n"
     "pressure, traps, pump and exhaust, what is left in the product against its\n"
     "limits, where every gram went, what thaws from the traps, coolant and\n"
     "electricity, and what each figure rests on (docs/run.md). For other dryers,\n"
     "recipes or fractions that would do better, ask 'dryfront stand'.\n"
     "Exit status 1: the run does not come to a dry product.\n",
     df_run_run},
    {"risk", "JOB.yaml", "how likely a job leaves rigid, and why", "a job file", 1, 1, risk_options,
     COUNT(risk_options),
     "Runs a job over what is not sure of it: cake resistance, heat transfer, fill,\n"
     "critical temperature, thermodynamics, shelf, pressure, trap, leak, room, and the\n"
     "constants of secondary drying (docs/uncertainty.md; the job's section\n"
     "'uncertainty' overrides). The chance of each standing, bands of margin, time and\n"
     "residues with their standard errors, and which input matters most. With --accept\n"
     "also how much warmer or colder the whole recipe may be for that risk.\n"
     "Exit status 1: it leaves rigid in more than half of the runs, or in more than\n"
     "is accepted.\n",
     df_run_risk},
    {"sweep", "PLAN.yaml", "a job run over lists, ranges, draws of its fields", "a plan", 1, 1, sweep_options,
     COUNT(sweep_options),
     "Reads a plan (docs/sweep.md): a job, and which of its fields go over which values.\n"
     "Runs every combination, up to a million, over all threads, and writes a row for\n"
     "each into the table. What is done is kept in pieces: started again after a stop,\n"
     "it goes on where it was. The rows are the same for any number of threads and\n"
     "workers. Over several hosts: mpirun dryfront-sweep sweep PLAN.yaml --out FILE.csv\n",
     df_run_sweep},
    {"routes", "JOB.yaml", "what to do instead, weighed: ways to a dry product", "a job file", 1, 1, routes_options,
     COUNT(routes_options),
     "Reads a job (docs/job.md) and looks for what brings it to a dry product: diluting,\n"
     "boiling solvent off first, exchanging it, freezing otherwise, filling otherwise,\n"
     "other settings, traps, pumps and dryers, up to three at once, each combination\n"
     "simulated. Those that serve are ranked by a cost in hours (docs/routes.md).\n"
     "With --json each has its job, to be kept as a file.\n"
     "Exit status 1: nothing serves; then what comes nearest is shown.\n",
     df_run_routes},
    {"compare", "JOB.yaml ...", "jobs on several dryers side by side", "at least one job file", 1, DF_MAX_OPERANDS,
     compare_options, COUNT(compare_options),
     "Runs each job as it is on each dryer of --dryer. A recipe is brought into what the\n"
     "shelf reaches. The dryer that a job names itself is not run unless it is named.\n"
     "Exit status 1: no job is acceptable on any of the dryers.\n",
     df_run_compare},
    {"recipe", "JOB.yaml", "the fastest set points within the limits", "a job file", 1, 1, recipe_options,
     COUNT(recipe_options),
     "Looks for the shelf temperature over time, and the chamber pressure where the\n"
     "dryer holds one, that dries the job fastest while the hottest frozen point and\n"
     "the glass of the dried cake keep the margin, the dryer carries off the vapour and\n"
     "the shelf keeps its ramp; then the same in one, two and three holds, and what\n"
     "each costs. The recipe is written as it goes into the job (docs/recipe.md).\n"
     "With --csv or --figure: primary drying over shelf temperature and pressure, its\n"
     "limits and its time. Without --warmest the shelf stays at or below the warmest\n"
     "set point of the job, or 25 °C: what the product stands is not known here.\n"
     "Exit status 1: no recipe keeps the limits.\n",
     df_run_recipe},
    {"ceilings", "DRYER.yaml|NAME ...", "the fraction up to which a dryer takes a solvent", "a dryer", 1, 8,
     ceilings_options, COUNT(ceilings_options),
     "For each solvent in water: the highest fraction at which the dryer's reference\n"
     "load still stands rigid, and still stands wetted, and what binds above it. Found\n"
     "by freezing and running the load at each fraction. Without --solvent: twelve\n"
     "common solvents. Several dryers, up to eight, are shown side by side.\n",
     df_run_ceilings},
    {"phases", "\"MIXTURE\"", "what freezing makes of a mixture, along temperature", "a mixture", 1, 1,
     phases_options, COUNT(phases_options),
     "First solid, temperature at which the last liquid goes, and the phases present\n"
     "at each temperature with what the liquid then is. Without --temperature: from\n"
     "20 °C down to -100 °C by 10, and every change of phases between.\n"
     "A mixture reads \"acetonitrile 30 %v/v, trifluoroacetic acid 0.1 %v/v, water\":\n"
     "amounts in %v/v (liquids before mixing, 20 °C), %w/w or mol%; the part without\n"
     "an amount takes the rest; water is always named.\n"
     "With --figure a picture is drawn too: of two components temperature against\n"
     "composition with the measured points; of three a triangle at the one temperature\n"
     "asked for; with --figure-kind pressure the vapour pressures of any mixture\n"
     "(docs/figures.md). --csv writes the numbers of the same figure.\n",
     df_run_phases},
    {"vapour", "\"MIXTURE\"", "the vapour over a mixture, or its boiling point", "a mixture", 1, 1, vapour_options,
     COUNT(vapour_options),
     "With --temperature: the partial pressures over the solids and liquids that are\n"
     "there at that temperature. With --pressure: the temperature at which the liquid\n"
     "boils, and what its first vapour is. One of the two is needed. Mixtures are\n"
     "written as for phases.\n",
     df_run_vapour},
    {"strip", "\"MIXTURE\"", "boiling solvent off under vacuum: when to stop", "a mixture", 1, 1, strip_options,
     COUNT(strip_options),
     "Simple distillation of a mixture, as from a rotating flask: what is left, the\n"
     "distillate, the heat, and the weight at which to stop. With --pressure the flask\n"
     "boils under that pressure; a --bath beside it ends the boiling where the flask\n"
     "would have to be warmer. With --bath alone the flask is held at that temperature\n"
     "and the pressure follows. Azeotropes are respected. Without --until: to dryness.\n"
     "Exit status 1: the target is not reached, because of an azeotrope, the bath, the\n"
     "floor, or because the flask is dry before. Mixtures are written as for phases.\n",
     df_run_strip},
    {"tune", "DRYER.yaml [LOG.csv ...]", "a dryer's constants from its logs", "a dryer and its logs", 1,
     DF_MAX_OPERANDS, tune_options, COUNT(tune_options),
     "Fits the dryer's own constants to logs of tests, each with one standard\n"
     "deviation, and writes the dryer's file anew: comments stay, what was learnt is\n"
     "added to its history, and the file as it was is kept as FILE.yaml.bak. Which\n"
     "test a log is of says its option, or for a bare LOG.csv a line\n"
     "'# test: isolation' in it, or its columns. Logs are CSV of any layout; columns\n"
     "are known by name and unit, or by the section 'log' of the dryer's file.\n"
     "docs/tune.md has the tests, the notes and the equations.\n"
     "Exit status 1: a log is not what its test's model describes; what the others\n"
     "tell is written all the same.\n",
     df_run_tune},
    {"substances", "[NAME]", "the substances known, or one of them in full", "a name", 0, 1, NULL, 0,
     "Without NAME the list; with it constants, vapour pressures, densities, heats and\n"
     "the source of each. NAME is a key, a name or an alias (ACN, MeOH, ...).\n",
     df_run_substances},
    {"serve", "", "answers over HTTP, for pages and other programs", "nothing", 0, 0, serve_options,
     COUNT(serve_options),
     "Answers what the other commands answer over HTTP, in the same JSON, and keeps\n"
     "jobs, dryers and your own containers, solutes and substances in a folder\n"
     "(docs/serve.md). It says where it listens and runs until it is stopped (Ctrl-C,\n"
     "SIGTERM). It asks for no password: whoever reaches the address may read and\n"
     "change the folder, so leave it on 127.0.0.1 unless the network is yours. The\n"
     "folder is --workspace, else dryfront under $XDG_DATA_HOME or ~/.local/share.\n",
     df_run_serve},
    {"help", "[COMMAND]", "this overview, or the usage of a command", "a command", 0, 1, NULL, 0, "", df_run_help},
};

const df_command *df_command_at(size_t index) {
    return index < COUNT(commands) ? &commands[index] : NULL;
}

const df_command *df_command_find(const char *name) {
    for (size_t i = 0; i < COUNT(commands); i++)
        if (strcmp(commands[i].name, name) == 0)
            return &commands[i];
    return NULL;
}

const df_option *df_global_option_at(size_t index) {
    return index < COUNT(global_options) ? &global_options[index] : NULL;
}

/* ---- help ----------------------------------------------------------------------------------------------------- */

static void option_line(df_text *out, const df_option *option) {
    size_t width = strlen(option->name) + (option->argument ? strlen(option->argument) + 1 : 0);
    df_text_printf(out, "  %s%s%s%*s%s\n", option->name, option->argument ? " " : "",
                   option->argument ? option->argument : "", width < 24 ? (int)(24 - width) : 1, "", option->help);
}

void df_help_overview(df_text *out) {
    df_text_puts(out, "dryfront: whether a sample with water and solvent can be freeze-dried, and how\n\n"
                      "usage: dryfront COMMAND [OPTION ...]\n\n");
    for (size_t i = 0; i < COUNT(commands); i++) {
        size_t width = strlen(commands[i].name) + strlen(commands[i].operands) + 1;
        df_text_printf(out, "  %s %s%*s%s\n", commands[i].name, commands[i].operands,
                       width < 26 ? (int)(26 - width) : 1, "", commands[i].summary);
    }
    df_text_puts(out, "\nwith every command\n");
    for (size_t i = 0; i < COUNT(global_options); i++)
        option_line(out, &global_options[i]);
    df_text_puts(out, "\nexit status: 0 done, 1 the answer is \"no\", 2 the input is wrong, 3 it failed\n");
}

void df_help_command(df_text *out, const df_command *command) {
    size_t column = strlen("usage: dryfront ") + strlen(command->name) + 1 + strlen(command->operands);
    df_text_printf(out, "usage: dryfront %s %s", command->name, command->operands);
    for (size_t i = 0; i < command->option_count; i++) {
        const df_option *o = &command->options[i];
        size_t width = 3 + strlen(o->name) + (o->argument ? 1 + strlen(o->argument) : 0) + (o->repeats ? 4 : 0);
        bool fits = column + width <= 80;
        column = fits ? column + width : 15 + width;
        df_text_printf(out, "%s [%s%s%s%s]", fits ? "" : "\n               ", o->name, o->argument ? " " : "",
                       o->argument ? o->argument : "", o->repeats ? " ..." : "");
    }
    df_text_printf(out, "\n\n%c%s.\n", command->summary[0] - 'a' + 'A', command->summary + 1);
    if (command->detail[0] != '\0')
        df_text_printf(out, "\n%s", command->detail);
    df_text_puts(out, "\n");
    for (size_t i = 0; i < command->option_count; i++)
        option_line(out, &command->options[i]);
    for (size_t i = 0; i < COUNT(global_options); i++)
        option_line(out, &global_options[i]);
}

df_status df_run_help(df_session *session) {
    if (session->operands == 0) {
        df_help_overview(&session->out);
        return DF_OK;
    }
    const df_command *command = df_command_find(session->operand[0]);
    if (command == NULL)
        return df_unknown_command(session, session->operand[0]);
    df_help_command(&session->out, command);
    return DF_OK;
}
