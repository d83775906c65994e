/* What a figure is saved as: SVG, PNG, and its numbers as CSV. */
import type { ComponentChildren } from "preact";
import { t } from "../text/text";
import { download, svgToPng } from "./figure";
import { Menu } from "./menu";

interface Given {
  /** Name of the files, without their ending. */
  file: string;
  title: string;
  /** Without it there is nothing drawn to be saved: the figure is shown as a table. */
  svg?: (() => string) | undefined;
  /** null: they are not to be had. */
  csv: () => string | Promise<string | null>;
  /** More to choose. */
  children?: ComponentChildren;
}

export function SaveMenu({ file, title, svg, csv, children }: Given) {
  const numbers = async () => {
    const text = await csv();
    if (text !== null) download(`${file}.csv`, text, "text/csv");
  };
  return (
    <Menu label={t("figure.save")} name={`${t("figure.save")}: ${title}`}>
      {svg !== undefined && <button type="button" role="menuitem" onClick={() => download(`${file}.svg`, svg(), "image/svg+xml")}>{t("figure.svg")}</button>}
      {svg !== undefined && <button type="button" role="menuitem" onClick={() => void svgToPng(svg()).then((png) => download(`${file}.png`, png, "image/png"))}>{t("figure.png")}</button>}
      <button type="button" role="menuitem" onClick={() => void numbers()}>{t("figure.csv")}</button>
      {children}
    </Menu>
  );
}
