// pack-pages.mjs FOLDER: writes FILE.gz beside each file of the folder that becomes clearly smaller by it. Runs while building.
import { readdirSync, readFileSync, statSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { gzipSync } from "node:zlib";

const SMALLER = 0.9;

function pack(folder) {
  for (const name of readdirSync(folder)) {
    const path = join(folder, name);
    if (statSync(path).isDirectory()) {
      pack(path);
      continue;
    }
    const bytes = readFileSync(path);
    const packed = gzipSync(bytes, { level: 9 });
    if (packed.length < SMALLER * bytes.length) writeFileSync(path + ".gz", packed);
  }
}

pack(process.argv[2]);
