/* The YAML text behind a form. Fields are read and written in place, so that comments, order and the writer's own layout
   stay. Every scalar is text, as the server's parser has it: `on` is a field's name and 12 is no number yet. */
import { type Document, isMap, isSeq, parseDocument, type YAMLMap, type YAMLSeq } from "yaml";

export type Path = readonly (string | number)[];

const written = { lineWidth: 0, flowCollectionPadding: false } as const;

export class Yaml {
  private readonly document: Document;
  /** Why it cannot be read as YAML at all; a form cannot show it then. */
  readonly problem: string | null;

  constructor(readonly text: string) {
    const document = parseDocument(text, { schema: "failsafe", keepSourceTokens: false });
    this.problem = document.errors[0]?.message ?? (document.contents !== null && !isMap(document.contents) ? "no map" : null);
    this.document = document;
  }

  /** The text at a path; "" where nothing stands there. */
  at(path: Path): string {
    const value: unknown = this.document.getIn(path);
    return typeof value === "string" ? value : "";
  }

  has(path: Path): boolean {
    return this.document.hasIn(path);
  }

  /** How many entries the list at a path has. */
  length(path: Path): number {
    const value: unknown = this.document.getIn(path, true);
    return isSeq(value) ? (value as YAMLSeq).items.length : 0;
  }

  /** The texts of a list of texts. */
  list(path: Path): string[] {
    return Array.from({ length: this.length(path) }, (_, i) => this.at([...path, i]));
  }

  /** The names of the fields of the map at a path, in order. */
  keys(path: Path): string[] {
    const value: unknown = path.length === 0 ? this.document.contents : this.document.getIn(path, true);
    return isMap(value) ? (value as YAMLMap).items.map((pair) => String(pair.key)) : [];
  }

  /* Every change works on a fresh reading: this one stays what it is. */
  private change(edit: (document: Document) => void): string {
    const document = parseDocument(this.text, { schema: "failsafe" });
    if (document.contents === null) document.contents = document.createNode({}) as unknown as typeof document.contents;
    edit(document);
    return document.toString(written);
  }

  /** The text with `value` (texts, maps, lists) at a path; "" and undefined remove it, and maps and lists left empty with it. */
  with(path: Path, value: unknown): string {
    return this.change((document) => {
      if (value === undefined || value === "") {
        document.deleteIn(path);
        for (let up = path.slice(0, -1); up.length > 0; up = up.slice(0, -1)) {
          const node: unknown = document.getIn(up, true);
          if ((isMap(node) || isSeq(node)) && node.items.length === 0) document.deleteIn(up);
          else break;
        }
      } else if (typeof value === "string") {
        document.setIn(path, value);
      } else {
        const node = document.createNode(value, { flow: path.some((step) => typeof step === "number") });
        /* Points of a curve stand one to a line, plain values side by side. */
        if (isSeq(node)) {
          for (const item of node.items) if (isMap(item)) item.flow = true;
          if (!node.items.some((item) => isMap(item))) node.flow = true;
        }
        document.setIn(path, node);
      }
    });
  }

  /** The text with another entry at the end of the list at a path. */
  withEntry(path: Path, entry: Record<string, string> | string): string {
    return this.change((document) => {
      const node = document.createNode(entry, { flow: true });
      const list: unknown = document.getIn(path, true);
      if (isSeq(list)) (list as YAMLSeq).items.push(node);
      else {
        const fresh = document.createNode([]) as YAMLSeq;
        fresh.items.push(node);
        document.setIn(path, fresh);
      }
    });
  }

  /** The text with these entries, in one line each, in place of those of the list at a path. */
  withEntries(path: Path, entries: Record<string, string>[]): string {
    return this.change((document) => {
      const nodes = entries.map((entry) => document.createNode(entry, { flow: true }));
      const list: unknown = document.getIn(path, true);
      if (isSeq(list)) (list as YAMLSeq).items = nodes;
      else {
        const fresh = document.createNode([]) as YAMLSeq;
        fresh.items = nodes;
        document.setIn(path, fresh);
      }
    });
  }

  /** The text with another entry of a list at `place`, before what stands there. */
  withEntryAt(path: Path, place: number, entry: Record<string, string>): string {
    return this.change((document) => {
      const list: unknown = document.getIn(path, true);
      if (isSeq(list)) (list as YAMLSeq).items.splice(place, 0, document.createNode(entry, { flow: true }));
    });
  }

  /** The text with the entries of a list in another order or fewer of them: `order` names the old places. */
  withOrder(path: Path, order: number[]): string {
    return this.change((document) => {
      const list: unknown = document.getIn(path, true);
      if (!isSeq(list)) return;
      const seq = list as YAMLSeq;
      if (order.length === 0) document.deleteIn(path);
      else seq.items = order.map((i) => seq.items[i]!);
    });
  }

  /** Line (from 1) at which the value of a path begins, or null. */
  line(path: Path): number | null {
    const node: unknown = this.document.getIn(path, true);
    const range = (node as { range?: [number, number, number] } | undefined)?.range;
    return range === undefined ? null : this.text.slice(0, range[0]).split("\n").length;
  }
}
