// The compiler copies no data files; the demo and `bywash init` read these at run time.
import { chmodSync, cpSync } from "node:fs";

for (const folder of ["config/examples", "simulator/samples", "simulator/import/maps"]) {
  cpSync(folder, `dist/${folder}`, { recursive: true });
}
chmodSync("dist/service/main.js", 0o755);
