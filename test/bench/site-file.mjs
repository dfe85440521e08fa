// The goat dairy of the examples, with ports of the bench's own, and what its shed would publish.
import { readFileSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { parse, stringify } from "yaml";

export const EXAMPLE = "config/examples/malga.yaml";

/** A tick over the stagger of 1 s: every tick but the one of the trip may start the load. */
export const QUICK_TICK_MS = 1_100;
export const COMMAND_TOPIC = "shed/pump/set";
/** The topic that trips; nobody else publishes on it. */
export const BATTERY_TOPIC = "shed/battery";

/** `broker`: { url } or { embedded: { port } }. @returns Path of the file. */
export function writeExampleSite(folder, { broker, webPort }) {
  const site = parse(readFileSync(EXAMPLE, "utf8"));
  return write(folder, withPorts(site, { broker, webPort }));
}

/** One pump, wired on its own, that comes back as soon as the settings' own limits let it. */
export function writeQuickSite(folder, { broker, webPort }) {
  const site = parse(readFileSync(EXAMPLE, "utf8"));
  const pump = {
    id: "spring-pump",
    kind: "switched",
    power: "750 W",
    start: { aboveRuleCurve: "1 %", for: "0 s" },
    stop: { belowRuleCurve: "2 %", for: "1 min" },
    minRun: `${QUICK_TICK_MS / 1000} s`,
    minRest: "0 s",
    command: { topic: COMMAND_TOPIC, on: "on", off: "off", repeat: "30 s", hold: "90 s" },
  };
  delete site.panels;
  site.site.tick = `${QUICK_TICK_MS / 1000} s`;
  site.stagger = "1 s";
  site.loads = [pump];
  return write(folder, withPorts(site, { broker, webPort }));
}

function withPorts(site, { broker, webPort }) {
  const protocol = broker.url === undefined ? site.broker.protocol : 5;
  const embedded = broker.embedded && { host: "127.0.0.1", ...broker.embedded };
  return {
    ...site,
    broker: { protocol, ...(embedded ? { embedded } : { url: broker.url }) },
    web: { host: "127.0.0.1", port: webPort },
  };
}

function write(folder, site) {
  const file = join(folder, "site.yaml");
  writeFileSync(file, stringify(site));
  return file;
}

export function batteryPayload(voltageV) {
  return JSON.stringify({
    soc: 99,
    v: voltageV,
    i: 60,
    t: 18,
    noCharge: false,
    noDischarge: false,
  });
}

export const HEALTHY_V = 54.4;
/** Under the 49 V of the settings. */
export const TRIP_V = 48.2;

/** A sunny noon, as the site's other devices tell it. */
const OTHER_MESSAGES = [
  ["shed/controller", JSON.stringify({ stage: "main" })],
  ["shed/roof/w", "4100"],
  ["shed/inverter", JSON.stringify({ ac: { w: 620, v: 231.2, hz: 50.02 }, t: 38, fault: false })],
];
const SHED_MESSAGES = [
  ["shed/contactor", "0"],
  ["shed/surplus/w", "0"],
  ["shed/tank/c", "51.5"],
  ["shed/heater", JSON.stringify({ stage: 0, w: 0 })],
  ["shed/pump", "off"],
  ["shed/pump/w", "0"],
  ["shed/pump/by-hand", "0"],
  ["shed/cooler", "0"],
];

/** What the quick site reads besides the battery. */
export const QUICK_OTHERS = OTHER_MESSAGES;
/** Everything that the example reads: 22 signals in 12 messages. */
export const EXAMPLE_ALL = [
  [BATTERY_TOPIC, batteryPayload(HEALTHY_V)],
  ...OTHER_MESSAGES,
  ...SHED_MESSAGES,
];
