/* Every sentence that the pages themselves say stands in en.json; what the server says is shown as it is. */
import en from "./en.json";

type Catalogue = typeof en;
export type TextKey = keyof Catalogue;

/** The text of a key; {name} in it is replaced from `values`. */
export function t(key: TextKey, values: Record<string, string | number> = {}): string {
  return en[key].replace(/\{(\w+)\}/g, (whole, name: string) => (name in values ? String(values[name]) : whole));
}

/** The text of a key that is put together at run time, or `otherwise` where the catalogue has none. */
export function textOf(key: string, otherwise: string): string {
  return key in en ? en[key as TextKey] : otherwise;
}
