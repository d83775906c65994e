/* Solutes: what is dissolved and stays in the product. */
import { address } from "../../store/place";
import { show } from "../../store/quantity";
import { type Solute, solutes } from "../../store/workspace";
import { t } from "../../text/text";
import { asked, type Head, Listing, Tools } from "./parts";

export function SolutesList() {
  const heads: Head<Solute>[] = [
    { key: "name", text: t("library.name"), by: (one) => one.name },
    { key: "critical", text: t("library.gives_way"), number: true, by: (one) => one.critical_temperature_C },
    { key: "kind", text: t("library.by"), by: (one) => one.critical_kind },
    { key: "crystal", text: t("library.crystal"), by: (one) => Number(!one.crystallises) },
    { key: "grade", text: t("library.grade"), by: (one) => one.grade },
    { key: "source", text: t("library.source"), by: (one) => one.source },
  ];
  const query = asked();
  const found = solutes.value.filter((one) => [one.key.replace(/_/g, " "), one.name, one.source].some((text) => text.toLowerCase().includes(query)));
  return (
    <>
      <Tools kind="solutes" found={found.length} />
      <Listing
        label={t("library.solutes")}
        heads={heads}
        found={found}
        row={(one) => (
          <>
            <th scope="row" class="wrap">
              <a href={address(["library", "solute", one.key])}>{one.name}</a>
              {one.own === true && <> <span class="tag">{t("dryers.own")}</span></>}
            </th>
            <td class="n" data-label={heads[1]!.text}>{show(one.critical_temperature_C, "temperature")}</td>
            <td data-label={heads[2]!.text}>{one.critical_kind || "–"}</td>
            <td data-label={heads[3]!.text}>{t(one.crystallises ? "library.crystal.yes" : "library.crystal.no")}</td>
            <td data-label={heads[4]!.text}>{one.grade || "–"}</td>
            <td class="small" data-label={heads[5]!.text}>{one.source || "–"}</td>
          </>
        )}
      />
      <p class="small faint">{t("library.solutes.hint")}</p>
    </>
  );
}
