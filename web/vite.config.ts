import { defineConfig } from "vite";

/* One page, its parts split by route so that the first paint needs little. DRYFRONT_PAGES_OUT: where CMake wants it. */
export default defineConfig({
  base: "/",
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
