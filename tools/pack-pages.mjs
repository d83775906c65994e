// pack-pages.mjs FOLDER: writes FILE.gz and FILE.br beside each file of the folder that becomes clearly smaller by it. Runs while building.
import { readdirSync, readFileSync, statSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { brotliCompressSync, constants, gzipSync } from "node:zlib";

const SMALLER = 0.9;

function pack(folder) {
  for (const name of readdirSync(folder)) {
    const path = join(folder, name);
    if (statSync(path).isDirectory()) {
      pack(path);
      continue;
    }
    const bytes = readFileSync(path);
    const brotli = { [constants.BROTLI_PARAM_QUALITY]: constants.BROTLI_MAX_QUALITY, [constants.BROTLI_PARAM_SIZE_HINT]: bytes.length };
    for (const [ending, packed] of [["gz", gzipSync(bytes, { level: 9 })], ["br", brotliCompressSync(bytes, { params: brotli })]])
      if (packed.length < SMALLER * bytes.length) writeFileSync(`${path}.${ending}`, packed);
  }
}

pack(process.argv[2]);
