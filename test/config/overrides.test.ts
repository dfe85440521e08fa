import { expect, test } from "vitest";
import { loadSite } from "../../config/load.ts";
import { UserError } from "../../service/errors.ts";
import { feedOf } from "../support/signal.ts";

const PATH = "config/examples/malga.yaml";

function load(...overrides: string[]) {
  return loadSite({ path: PATH, overrides });
}

test("a list entry is reached by its id, a signal by its dotted name", () => {
  const site = load(
    "loads.water-heater.start.aboveRuleCurve=4 %",
    "loads.water-heater.stages.1=3 kW",
    "telemetry.array.roof.power.topic=elsewhere/roof",
    "telemetry.battery.soc.stale=30 s",
    "telemetry.forecast.today={ topic: weather, unit: kWh }",
    "telemetry.sky.irradiance={ topic: shed/sun, unit: W/m², stale: 20 s }",
    "battery.peukert=1.02",
    "web.tokenFile=/run/token",
    "broker={ url: mqtt://127.0.0.1:1999 }",
    "site.tick=10 s",
    "site.tick=5 s",
  );
  expect(site.control.loads[0]?.startAboveFraction).toBe(0.04);
  expect(site.control.loads[0]?.stagesW).toEqual([1000, 3000]);
  const feed = (wanted: string) =>
    site.telemetry.filter(({ key }) => key === wanted).map((signal) => feedOf(signal))[0];
  expect(feed("array.{id}.power")?.topic).toBe("elsewhere/roof");
  expect(feed("battery.soc")?.staleMs).toBe(30_000);
  expect(feed("forecast.today")?.topic).toBe("weather");
  expect(feed("sky.irradiance")?.staleMs).toBe(20_000);
  // Nothing says how it lies.
  expect(site.control.irradianceSensor).toMatchObject({ tiltDeg: 0 });
  expect(site.control.battery.peukertExponent).toBe(1.02);
  expect(site.web.tokenFile).toBe("/run/token");
  expect(site.broker.url).toBe("mqtt://127.0.0.1:1999");
  expect(site.control.tickMs).toBe(5000);
});

test.each([
  ["site.tick", "wrong-override", "path=value"],
  ["=5 s", "wrong-override", "path=value"],
  ["site..tick=5 s", "wrong-override", "dotted path"],
  ["loads.water-heatr.priority=2", "wrong-override", "did you mean water-heater?"],
  ["site.id.x=1", "wrong-override", "no keys below"],
  ["site.tick=[1", "wrong-override", "a value in YAML"],
  ["site.tick=5", "unit-missing", "5 s or 5 min?"],
  ["site.tik=5 s", "unknown-key", "did you mean tick?"],
  ["constructor.x=1", "unknown-key", "one of version"],
  ["battery.floor=99 %", "target-under-floor", "99 %"],
  ["loads.spring-pump.power=9 kW", "never-fits", "8 kW"],
  ["telemetry.battery.sok.topic=x", "unknown-signal", "battery.soc"],
])("--set %s is refused as %s", (written, code, says) => {
  let problems: UserError["problems"] = [];
  try {
    load(written);
  } catch (error) {
    if (!(error instanceof UserError)) throw error;
    ({ problems } = error);
  }
  const match = problems.find((problem) => problem.code === code);
  expect(match, JSON.stringify(problems)).toBeDefined();
  expect(Object.values(match ?? {}).join(" ")).toContain(says);
  // A rule between two keys is said at the one that it is about, which may stand in the file.
  const isAboutFile = code === "target-under-floor";
  expect(match?.where.startsWith("--set")).toBe(!isAboutFile);
});
