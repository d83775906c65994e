/* Where every gram goes, and what is left in the product. */
import { download } from "../../parts/figure";
import { number, show } from "../../store/quantity";
import { t, textOf } from "../../text/text";
import type { JobGiven } from "../job";

const columns = ["loaded_g", "product_g", "bound_g", "trap_g", "drained_g", "oil_g", "gas_g", "exhaust_g"] as const;

/* Of the solids: ppm where that reads well, else per cent. */
const ofSolids = (ppm: number | null, digits?: number) => (ppm === null ? "–" : ppm < 10_000 ? `${number(ppm, digits)} ppm` : `${number(ppm / 10_000, digits)} %`);

export function Account({ judge }: JobGiven) {
  const answer = judge.answer.value;
  const run = answer?.run;
  if (!answer || !run) return <p class="quiet">{judge.fault.value === null ? t("account.none") : ""}</p>;
  const name = (key: string) => key.replace(/_/g, " ");
  const csv = () =>
    ["substance," + columns.join(","), ...run.account.map((row) => [row.substance, ...columns.map((c) => row[c])].join(","))].join("\r\n") + "\r\n";
  return (
    <div class={judge.stale.value ? "stack stale" : "stack"}>
      <section class="sheet stack" aria-label={t("account.title")}>
        <div class="row between">
          <h2>{t("account.title")}</h2>
          <button class="plain no-print" onClick={() => download("dryfront-account.csv", csv(), "text/csv")}>{t("figure.csv")}</button>
        </div>
        <div class="scroll" tabIndex={0} role="group" aria-label={t("account.title")}>
          <table class="cards">
            <thead>
              <tr>
                <th>{t("account.substance")}</th>
                {columns.map((c) => <th class="n" key={c}>{t(`account.${c}`)}</th>)}
              </tr>
            </thead>
            <tbody>
              {run.account.map((row) => (
                <tr key={row.substance}>
                  <th scope="row">{name(row.substance)}</th>
                  {columns.map((c) => <td class="n" key={c} data-label={t(`account.${c}`)}>{row[c] < 1e-6 ? "0" : show(row[c], "mass")}</td>)}
                </tr>
              ))}
            </tbody>
          </table>
        </div>
        <p class="small faint">{t("account.closes", { error: number(run.account_error, 1) })}</p>
      </section>
      <section class="sheet stack" aria-label={t("exhaust.title")}>
        <h2>{t("exhaust.title")}</h2>
        <div class="scroll" tabIndex={0} role="group" aria-label={t("exhaust.title")}>
          <table class="cards">
            <thead>
              <tr>
                <th>{t("account.substance")}</th>
                <th class="n">{t("exhaust.peak")}</th>
                <th class="n">{t("exhaust.shift")}</th>
                <th class="n">{t("exhaust.lel")}</th>
                <th class="n">{t("exhaust.limit")}</th>
              </tr>
            </thead>
            <tbody>
              {run.account.filter((row) => row.substance !== "water").map((row) => (
                <tr key={row.substance}>
                  <th scope="row">{name(row.substance)}</th>
                  <td class="n" data-label={t("exhaust.peak")}>{number(row.exhaust_peak_g_h)} g/h</td>
                  <td class="n" data-label={t("exhaust.shift")}>{number(row.exhaust_worst_8h_g_h)} g/h</td>
                  <td class="n" data-label={t("exhaust.lel")}>{row.peak_percent_of_lower_explosive_limit === null ? t("unknown") : `${number(row.peak_percent_of_lower_explosive_limit, 2)} %`}</td>
                  <td class="n" data-label={t("exhaust.limit")}>{row.worst_8h_percent_of_exposure_limit === null ? t("unknown") : `${number(row.worst_8h_percent_of_exposure_limit, 2)} %`}</td>
                </tr>
              ))}
            </tbody>
          </table>
        </div>
        <p class="small caution">{t("exhaust.caution")}</p>
      </section>
      {run.classes.some((c) => c.residual.length > 0) && (
        <section class="sheet stack" aria-label={t("residual.title")}>
          <h2>{t("residual.title")}</h2>
          <div class="scroll" tabIndex={0} role="group" aria-label={t("residual.title")}>
            <table class="cards">
              <thead>
                <tr>
                  <th>{t("account.substance")}</th>
                  <th>{t("residual.class")}</th>
                  <th class="n">{t("residual.likely")}</th>
                  <th class="n">{t("residual.band")}</th>
                  <th class="n">{t("residual.limit")}</th>
                  <th>{t("residual.verdict")}</th>
                </tr>
              </thead>
              <tbody>
                {run.classes.flatMap((c) =>
                  c.residual.map((row) => (
                    <tr key={c.name + row.substance}>
                      <th scope="row">{name(row.substance)}</th>
                      <td data-label={t("residual.class")}>{name(c.name)}</td>
                      <td class="n" data-label={t("residual.likely")}>{row.likely_ppm_of_solids === null ? "–" : ofSolids(row.likely_ppm_of_solids)}</td>
                      <td class="n" data-label={t("residual.band")}>{ofSolids(row.low_ppm_of_solids, 2)} … {ofSolids(row.high_ppm_of_solids, 2)}</td>
                      <td class="n wrap" data-label={t("residual.limit")}>
                        <span>
                          {row.limit_ppm === null ? "–" : ofSolids(row.limit_ppm)}
                          {row.limit_revision !== "" && <><br /><small class="faint">{row.limit_class}, {row.limit_revision}</small></>}
                        </span>
                      </td>
                      <td data-label={t("residual.verdict")}>{textOf(`verdict.${row.verdict}`, row.verdict)}</td>
                    </tr>
                  )),
                )}
              </tbody>
            </table>
          </div>
        </section>
      )}
      <section class="sheet stack" aria-label={t("trap.title")}>
        <h2>{t("trap.title")}</h2>
        <div class="scroll" tabIndex={0} role="group" aria-label={t("trap.title")}>
          <table class="cards">
            <thead>
              <tr><th>{t("trap.trap")}</th><th class="n">{t("trap.no_load")}</th><th class="n">{t("trap.capacity")}</th><th>{t("trap.deposit")}</th></tr>
            </thead>
            <tbody>
              {run.traps.map((trap, i) => (
                <tr key={i}>
                  <th scope="row">{i + 1}{trap.coolant === null ? "" : `, ${textOf(`coolant.${trap.coolant}`, trap.coolant)}`}</th>
                  <td class="n" data-label={t("trap.no_load")}>{show(trap.no_load_C, "temperature")}</td>
                  <td class="n" data-label={t("trap.capacity")}>{show(trap.capacity_g, "mass")}</td>
                  <td data-label={t("trap.deposit")}>{Object.entries(trap.deposit_g).filter(([, g]) => g > 1e-3).map(([key, g]) => `${name(key)} ${show(g, "mass")}`).join(", ") || "–"}</td>
                </tr>
              ))}
            </tbody>
          </table>
        </div>
        <p class="small caution">{t("trap.caution")}</p>
      </section>
    </div>
  );
}
