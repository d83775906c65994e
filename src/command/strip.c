/* dryfront strip: boiling a mixture down. */
#include "command.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#define LOWEST_PRESSURE 10.0 /* Pa; below it a flask does not boil but sublimes or evaporates from its surface */
#define HIGHEST_PRESSURE 2e5 /* Pa */
#define COLDEST_BATH 200.0   /* K */
#define HOTTEST_BATH 453.15  /* the pairs' data end well before */
#define USUAL_VOLUME 1e-3    /* m3, where no amount is stated */

/* A mass or a volume; *mass says which, in kg or m3. */
static df_status read_amount(df_session *s, double *value, bool *mass, const char *text, const char *option,
                             const char *example) {
    *mass = df_quantity_parse(NULL, value, text, DF_DIM_MASS, option) == DF_OK;
    if (!*mass && df_quantity_parse(NULL, value, text, DF_DIM_VOLUME, option) != DF_OK)
        return df_fail(s->ctx, DF_E_INPUT, "%s: '%.60s' is no volume (%s) and no mass (%s); write it as %s", option,
                       text, df_unit_list(DF_DIM_VOLUME), df_unit_list(DF_DIM_MASS), example);
    if (!(*value >= 1e-9 && *value <= 1e3))
        return df_fail(s->ctx, DF_E_INPUT, "%s: '%.60s' is outside 1 mg to 1000 kg and 1 µL to 1000 m3", option,
                       text);
    return DF_OK;
}

/* "acetonitrile 5 %v/v": the fraction by which it is read is that of a mixture with something else. */
static df_status read_fraction(df_session *s, df_strip_task *task, df_basis *basis, const df_composition *c,
                               const char *text) {
    const char *number = NULL;
    char name[96], whole[160];
    for (const char *at = text; *at != '\0'; at++)
        if (*at == ' ' && strchr("+-.0123456789", at[1]) != NULL && at[1] != '\0')
            number = at + 1;
    size_t length = number != NULL ? (size_t)(number - 1 - text) : 0;
    if (number == NULL || length == 0 || length >= sizeof name || strlen(text) + 20 > sizeof whole)
        return df_fail(
            s->ctx, DF_E_INPUT,
            "--until: '%.60s' is no target; write \"acetonitrile 5 %%v/v\" (or %%w/w, mol%%), or what is to "
            "be left: \"120 g\", \"100 mL\"",
            text);
    memcpy(name, text, length);
    name[length] = '\0';
    while (length > 0 && name[length - 1] == ' ')
        name[--length] = '\0';
    const df_substance *substance;
    df_status status = df_substances_find(s->ctx, &substance, s->substances, name, "--until");
    if (status != DF_OK)
        return status;
    task->component = c->n;
    for (size_t i = 0; i < c->n; i++)
        if (c->component[i] == substance)
            task->component = i;
    if (task->component == c->n)
        return df_fail(s->ctx, DF_E_INPUT, "--until: there is no %s in the mixture", substance->name);
    df_composition target;
    double fraction[DF_MAX_COMPONENTS] = {0};
    snprintf(whole, sizeof whole, "%s, %s", text, substance->is_water ? "methanol" : "water");
    status = df_composition_parse(s->ctx, &target, s->substances, whole, "--until");
    if (status != DF_OK)
        return status;
    df_composition_fractions(fraction, &target, target.basis);
    task->aim = DF_STRIP_TO_FRACTION;
    task->target = 0.0;
    for (size_t i = 0; i < target.n; i++)
        if (target.component[i] == substance)
            task->target = fraction[i];
    *basis = target.basis;
    if (!(task->target > 0.0 && task->target < 1.0))
        return df_fail(s->ctx, DF_E_INPUT,
                       "--until: '%.60s': boiling down needs a target above 0 %% and below 100 %%; the last trace of "
                       "anything never leaves",
                       text);
    return DF_OK;
}

static df_status read_aim(df_session *s, df_strip_task *task, df_basis *basis, const df_composition *c) {
    const char *until = df_option_value(s, "--until", 0);
    task->aim = DF_STRIP_TO_DRYNESS;
    *basis = c->basis;
    if (until == NULL)
        return DF_OK;
    double value;
    bool mass = false;
    if (df_quantity_parse(NULL, &value, until, DF_DIM_MASS, NULL) == DF_OK ||
        df_quantity_parse(NULL, &value, until, DF_DIM_VOLUME, NULL) == DF_OK) {
        df_status status = read_amount(s, &task->target, &mass, until, "--until", "\"120 g\" or \"100 mL\"");
        task->aim = DF_STRIP_TO_AMOUNT;
        *basis = mass ? DF_BASIS_MASS : DF_BASIS_VOLUME;
        return status;
    }
    return read_fraction(s, task, basis, c, until);
}

static df_status read_conditions(df_session *s, df_strip_task *task) {
    const char *under = df_option_value(s, "--pressure", 0), *bath = df_option_value(s, "--bath", 0);
    const char *least = df_option_value(s, "--floor", 0);
    task->pressure = task->temperature = NAN;
    if (under == NULL && bath == NULL)
        return df_fail(s->ctx, DF_E_INPUT, "strip needs --pressure P, --bath T or both");
    if (least != NULL && (bath == NULL || under != NULL))
        return df_fail(s->ctx, DF_E_INPUT, "--floor goes with --bath alone: --pressure already says how low it is");
    task->hold = under != NULL ? DF_STRIP_AT_PRESSURE : DF_STRIP_AT_TEMPERATURE;
    const char *text = under != NULL ? under : least, *option = under != NULL ? "--pressure" : "--floor";
    df_status status = DF_OK;
    if (text != NULL)
        status = df_quantity_parse(s->ctx, &task->pressure, text, DF_DIM_PRESSURE, option);
    if (status == DF_OK && text != NULL && !(task->pressure >= LOWEST_PRESSURE && task->pressure <= HIGHEST_PRESSURE))
        status = df_fail(s->ctx, DF_E_INPUT, "%s: '%.60s' is outside 0.1 mbar to 2 bar", option, text);
    if (status == DF_OK && bath != NULL)
        status = df_quantity_parse(s->ctx, &task->temperature, bath, DF_DIM_TEMPERATURE, "--bath");
    if (status == DF_OK && bath != NULL && !(task->temperature >= COLDEST_BATH && task->temperature <= HOTTEST_BATH))
        status = df_fail(s->ctx, DF_E_INPUT, "--bath: '%.60s' is outside %.0f °C to %.0f °C", bath,
                         COLDEST_BATH - DF_ZERO_CELSIUS, HOTTEST_BATH - DF_ZERO_CELSIUS);
    return status;
}

/* Moles of each component in the amount that is put in. */
static df_status read_charge(df_session *s, df_strip_task *task, const df_composition *c) {
    const char *text = df_option_value(s, "--amount", 0);
    double amount = USUAL_VOLUME, mole = 0.0;
    bool mass = false;
    if (text != NULL) {
        df_status status = read_amount(s, &amount, &mass, text, "--amount", "\"500 mL\" or \"400 g\"");
        if (status != DF_OK)
            return status;
    }
    for (size_t i = 0; i < c->n; i++)
        mole += c->x[i] * df_basis_measure(c->component[i], mass ? DF_BASIS_MASS : DF_BASIS_VOLUME);
    for (size_t i = 0; i < c->n; i++)
        task->amount[i] = c->x[i] * amount / mole;
    return DF_OK;
}

df_status df_run_strip(df_session *s) {
    df_composition c;
    df_strip_task task;
    df_basis basis = DF_BASIS_VOLUME;
    memset(&task, 0, sizeof task);
    df_status status = df_composition_parse(s->ctx, &c, s->substances, s->operand[0], NULL);
    if (status == DF_OK)
        status = read_conditions(s, &task);
    if (status == DF_OK)
        status = read_charge(s, &task, &c);
    if (status == DF_OK)
        status = read_aim(s, &task, &basis, &c);
    if (status != DF_OK)
        return status;
    for (size_t i = 0; i < c.n; i++)
        task.measure[i] = df_basis_measure(c.component[i], basis);
    df_mixture *mixture = NULL;
    df_strip strip;
    memset(&strip, 0, sizeof strip);
    status = df_mixture_create(s->ctx, &mixture, s->pairs, c.component, c.n);
    if (status >= 0)
        status = df_strip_run(s->ctx, &strip, mixture, &task);
    if (status >= 0) {
        s->no = strip.stop != DF_STRIP_REACHED;
        status = s->json ? df_report_strip_json(s->ctx, &s->out, &strip, &task, basis, mixture, &c)
                         : df_report_strip_text(s->ctx, &s->out, &strip, &task, basis, mixture, &c);
    }
    df_strip_free(&strip);
    df_mixture_free(mixture);
    return status;
}
