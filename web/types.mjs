// Writes src/api/types.ts from docs/schema/*.json, so that the pages' idea of an answer cannot drift from the program's.
// With --check: exit 1 where the file differs from what would be written.
import { readdirSync, readFileSync, writeFileSync } from "node:fs";
import { dirname, join } from "node:path";
import { fileURLToPath } from "node:url";

const here = dirname(fileURLToPath(import.meta.url));
const folder = join(here, "../docs/schema");
const out = join(here, "src/api/types.ts");
const names = { stand: "Standing" };
const capital = (text) => text.replace(/(^|_)([a-z])/g, (_, __, letter) => letter.toUpperCase());
const title = (file) => names[file] ?? capital(file);

function type(s, file, indent) {
  if (s.$ref !== undefined) {
    const [, other, name] = /^(?:dryfront:(\w+))?#\/\$defs\/(\w+)$/.exec(s.$ref);
    return title(other ?? file) + capital(name);
  }
  if (s.anyOf ?? s.oneOf) return [...new Set((s.anyOf ?? s.oneOf).map((one) => type(one, file, indent)))].join(" | ");
  if (s.enum) return s.enum.map((value) => JSON.stringify(value)).join(" | ");
  if (s.const !== undefined) return JSON.stringify(s.const);
  const kinds = Array.isArray(s.type) ? s.type : [s.type];
  return kinds.map((kind) => plain(kind, s, file, indent)).join(" | ");
}

function plain(kind, s, file, indent) {
  if (kind === "number" || kind === "integer") return "number";
  if (kind === "string" || kind === "boolean" || kind === "null") return kind;
  if (kind === "array") {
    const item = type(s.items ?? {}, file, indent);
    return item.includes("|") ? `(${item})[]` : `${item}[]`;
  }
  if (kind === "object") {
    if (s.properties === undefined) {
      const value = typeof s.additionalProperties === "object" ? type(s.additionalProperties, file, indent) : "unknown";
      return `Record<string, ${value}>`;
    }
    const inner = indent + "  ";
    const needed = new Set(s.required ?? []);
    const fields = Object.entries(s.properties).map(([key, value]) => {
      const said = value.description ? `${inner}/** ${value.description} */\n` : "";
      return `${said}${inner}${key}${needed.has(key) ? "" : "?"}: ${type(value, file, inner)};`;
    });
    return `{\n${fields.join("\n")}\n${indent}}`;
  }
  return "unknown";
}

let text = "/* Written by types.mjs from docs/schema; not to be edited. */\n";
for (const file of readdirSync(folder).filter((name) => name.endsWith(".json")).sort()) {
  const schema = JSON.parse(readFileSync(join(folder, file), "utf8"));
  const name = file.replace(".json", "");
  for (const [part, value] of Object.entries(schema.$defs ?? {}))
    text += `\nexport type ${title(name)}${capital(part)} = ${type(value, name, "")};\n`;
  text += `\nexport type ${title(name)} = ${type(schema, name, "")};\n`;
}
if (process.argv.includes("--check")) {
  if (readFileSync(out, "utf8") !== text) {
    console.error("src/api/types.ts is not what docs/schema gives; run: npm run types");
    process.exit(1);
  }
} else writeFileSync(out, text);
