/** Rules about a hot-water tank. */
import { errorAt } from "./findings.ts";
import type { Finding, SettingsPath } from "./findings.ts";
import { formatQuantity } from "./quantities.ts";
import type { LoadSection } from "./schema.ts";

/**
 * Above it water from the tap scalds within seconds, so a mixing valve must be there.
 *
 * @source CPSC wording: third-degree burn in 6 s at 140 °F (60 °C), 30 s at 130 °F.
 */
const SCALD_C = 60;

export function tankChecks(load: LoadSection, path: SettingsPath): Finding[] {
  if (load.kind === "sockets" || load.tank === undefined) return [];
  const { tank } = load;
  const at = (key: string): SettingsPath => [...path, "tank", key];
  const shown = (temperatureC: number): string => formatQuantity(temperatureC, "temperature");
  const findings: Finding[] = [];
  if (tank.limit <= tank.surplus) {
    const expected = `above surplus, ${shown(tank.surplus)}`;
    findings.push(errorAt(at("limit"), "tank-limits-crossed", { expected }));
  }
  if (tank.hardwareLimit <= tank.limit) {
    const expected = `above limit, ${shown(tank.limit)}: the tank's own cut-out trips last`;
    findings.push(errorAt(at("hardwareLimit"), "tank-limits-crossed", { expected }));
  }
  if (tank.surplus > SCALD_C && tank.mixingValve !== "confirmed") {
    findings.push(
      errorAt(at("mixingValve"), "scald-risk", {
        expected: `confirmed: ${shown(tank.surplus)} scalds within seconds`,
        suggestion: "have a thermostatic mixing valve fitted, or set surplus to 60 °C",
      }),
    );
  }
  return findings;
}
