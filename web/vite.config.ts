import { createHash } from "node:crypto";
import { readdirSync, readFileSync } from "node:fs";
import { defineConfig, type Plugin } from "vite";

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

/* One page, its parts split by route so that the first paint needs little. DRYFRONT_PAGES_OUT: where CMake wants it. */
export default defineConfig({
  base: "/",
  plugins: [serviceWorker()],
  esbuild: { jsx: "automatic", jsxImportSource: "preact" },
  build: {
    outDir: process.env.DRYFRONT_PAGES_OUT ?? "dist",
    emptyOutDir: true,
    target: "es2022",
    assetsInlineLimit: 0,
    modulePreload: { polyfill: false },
    reportCompressedSize: true,
  },
  server: { proxy: { "/api": "http://127.0.0.1:8600" } },
});
