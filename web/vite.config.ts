import { createHash } from "node:crypto";
import { readdirSync, readFileSync } from "node:fs";
import { resolve } from "node:path";
import { defineConfig, type Plugin, type Rollup } from "vite";

/* The service worker with the list of all files of this build; its version is a hash of their content. */
function serviceWorker(): Plugin {
  return {
    name: "service-worker",
    apply: "build",
    enforce: "post",
    generateBundle(_, bundle) {
      const source = readFileSync("src/service-worker.js", "utf8");
      const version = createHash("sha256").update(source);
      const files = ["/"];
      for (const name of readdirSync("public").sort()) {
        version.update(readFileSync(`public/${name}`));
        files.push(`/${name}`);
      }
      for (const [name, file] of Object.entries(bundle).sort(([a], [b]) => a.localeCompare(b))) {
        version.update(name).update(file.type === "chunk" ? file.code : file.source);
        if (name !== "index.html") files.push(`/${name}`);
      }
      const head = `const version = ${JSON.stringify(version.digest("hex").slice(0, 16))};\nconst files = ${JSON.stringify(files)};\n`;
      this.emitFile({ type: "asset", fileName: "service-worker.js", source: head + source });
    },
  };
}

/* The forms read YAML by its failsafe schema alone, in which every scalar is text: the tags of the other schemas stay out. */
function failsafeYaml(): Plugin {
  return {
    name: "failsafe-yaml",
    apply: "build",
    load(id) {
      if (!/\/yaml\/browser\/dist\/schema\/tags\.js$/.test(id)) return null;
      return `import { map } from "./common/map.js";
        import { seq } from "./common/seq.js";
        import { string } from "./common/string.js";
        export const coreKnownTags = {};
        export const getTags = () => [map, seq, string];`;
    },
  };
}

/* Few files, which pack better: the frame with all that the first page needs, figures, the views of a job, all other views, and
   what those share. */
function chunk(id: string, { getModuleInfo }: Rollup.ManualChunkMeta): string | undefined {
  const frame = new Set<string>();
  const walk = (at: string) => {
    if (frame.has(at)) return;
    frame.add(at);
    getModuleInfo(at)?.importedIds.forEach(walk);
  };
  walk(resolve("index.html"));
  if (frame.has(id) || id.includes("preload-helper")) return "frame";
  if (/\/uplot\/|\/parts\/plot/.test(id)) return "plot";
  if (/\/pages\/job/.test(id)) return "job";
  if (/\/pages\/|\/parts\/(substance_sheet|container_drawing|dryer_)/.test(id)) return "laboratory";
  return /\/store\/demo|\/demo\//.test(id) ? undefined : "parts";
}

/* One page, its parts split by route so that the first paint needs little. DRYFRONT_PAGES_OUT: where CMake wants it. */
export default defineConfig({
  base: "/",
  plugins: [failsafeYaml(), serviceWorker()],
  esbuild: { jsx: "automatic", jsxImportSource: "preact" },
  build: {
    outDir: process.env.DRYFRONT_PAGES_OUT ?? "dist",
    emptyOutDir: true,
    target: "es2022",
    assetsInlineLimit: 0,
    modulePreload: { polyfill: false },
    reportCompressedSize: true,
    cssCodeSplit: false,
    rollupOptions: { output: { manualChunks: chunk } },
  },
  server: { proxy: { "/api": "http://127.0.0.1:8600" } },
});
