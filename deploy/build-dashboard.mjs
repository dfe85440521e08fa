// Builds the dashboard into dist/, and lays a gzip and a brotli file beside every text file, so
// that the service only has to send them.
import { readdirSync, readFileSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { brotliCompressSync, constants, gzipSync } from "node:zlib";
import { build } from "vite";

const OUT = "dist/service/dashboard/built";
const TEXT = /\.(html|js|css|svg|webmanifest)$/;

await build({
  configFile: false,
  root: "service/dashboard",
  base: "/",
  logLevel: "warn",
  build: {
    outDir: join(process.cwd(), OUT),
    emptyOutDir: true,
    target: "es2022",
    // The content-security policy allows no inline script and no data: script.
    modulePreload: { polyfill: false },
    assetsInlineLimit: 0,
  },
});

for (const name of readdirSync(OUT, { recursive: true, encoding: "utf8" })) {
  if (!TEXT.test(name)) continue;
  const path = join(OUT, name);
  const plain = readFileSync(path);
  writeFileSync(`${path}.gz`, gzipSync(plain, { level: 9 }));
  const size = { [constants.BROTLI_PARAM_SIZE_HINT]: plain.length };
  writeFileSync(`${path}.br`, brotliCompressSync(plain, { params: size }));
}
