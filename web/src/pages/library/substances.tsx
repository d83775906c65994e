/* Substances with vapour: the key figures of each, and the way to its sheet. */
import { address } from "../../store/place";
import { fixed, show } from "../../store/quantity";
import { type Substance, substances } from "../../store/workspace";
import { t, textOf } from "../../text/text";
import { asked, type Head, Listing, Tools } from "./parts";

const grades = ["fitted to cold data", "fitted to warm data only", "predicted", "ideal"];

export function SubstancesList() {
  const heads: Head<Substance>[] = [
    { key: "name", text: t("library.name"), by: (one) => one.name },
    { key: "formula", text: t("library.formula"), by: (one) => one.formula },
    { key: "melts", text: t("library.melts"), number: true, by: (one) => one.melting_C },
    { key: "boils", text: t("library.boils"), number: true, by: (one) => one.boiling_C },
    { key: "crystal", text: t("library.crystallises"), by: (one) => ["readily", "reluctantly", "not in practice"].indexOf(one.crystallises) },
    { key: "pair", text: t("library.with_water"), by: (one) => (one.with_water_grade == null ? null : grades.indexOf(one.with_water_grade)) },
    { key: "flash", text: t("library.flash"), number: true, by: (one) => one.flash_point_C ?? null },
    { key: "grade", text: t("library.grade"), by: (one) => ["measured", "correlation", "estimated", "from memory"].indexOf(one.worst_grade ?? "") },
  ];
  const query = asked();
  const found = substances.value
    .filter((one) => one.has_vapour)
    .filter((one) => [one.key.replace(/_/g, " "), one.name, one.formula, one.cas, one.family, ...one.aliases].some((text) => text.toLowerCase().includes(query)));
  return (
    <>
      <Tools kind="substances" found={found.length} />
      <Listing
        label={t("library.substances")}
        heads={heads}
        found={found}
        row={(one) => (
          <>
            <th scope="row" class="wrap">
              <a href={address(["library", "substance", one.key])}>{one.name}</a>
              {one.own === true && <> <span class="tag">{t("dryers.own")}</span></>}
              {one.aliases.length > 0 && <span class="small faint" style={{ display: "block", fontWeight: 400 }}>{one.aliases.join(", ")}</span>}
            </th>
            <td data-label={heads[1]!.text}><Formula text={one.formula} /></td>
            <td class="n" data-label={heads[2]!.text}>{show(one.melting_C, "temperature")}</td>
            <td class="n" data-label={heads[3]!.text}>{show(one.boiling_C, "temperature")}</td>
            <td data-label={heads[4]!.text}>{textOf(`choice.${one.crystallises}`, one.crystallises)}</td>
            <td data-label={heads[5]!.text}>{one.with_water_grade == null ? "–" : textOf(`grade.${one.with_water_grade}`, one.with_water_grade)}</td>
            <td class="n" data-label={heads[6]!.text}>{show(one.flash_point_C, "temperature")}</td>
            <td data-label={heads[7]!.text}>{one.worst_grade ?? "–"}</td>
          </>
        )}
      />
      <p class="small faint">{t("library.substances.hint")}</p>
    </>
  );
}

/** C2H3N with its numbers set low. */
export function Formula({ text }: { text: string }) {
  return <span class="number">{text.split(/(\d+)/).map((piece, i) => (i % 2 === 1 ? <sub key={i}>{piece}</sub> : piece))}</span>;
}

export const percent = (value: number | null, decimals = 1) => (value === null ? "–" : `${fixed(value, decimals)} %`);
