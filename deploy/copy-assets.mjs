// The compiler copies no data files; the demo, `bywash init` and the history read them at run time.
import { chmodSync, cpSync } from "node:fs";

const FOLDERS = [
  "config/examples",
  "service/history/migrations",
  "simulator/samples",
  "simulator/import/maps",
];
for (const folder of FOLDERS) {
  cpSync(folder, `dist/${folder}`, { recursive: true });
}
chmodSync("dist/service/main.js", 0o755);
