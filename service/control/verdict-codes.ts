/**
 * The dictionary of verdicts on loads and panels: every reason that the core can give, its gravity,
 * what its two numbers mean, and the sentence that a person reads. Sentences, screens and docs
 * derive from it.
 */
import { alarm, info, warning } from "./code-entry.ts";
import type { CodeEntry } from "./code-entry.ts";
import { GUARD_CODES } from "./guard-codes.ts";

export const VERDICT_CODES = {
  // Running
  running: info("on: battery at {measured}, stops under {limit}", "fraction", "fraction"),
  "running-follows": info(
    "on at {measured} of {limit}, following what is left over",
    "powerW",
    "powerW",
  ),
  "running-hidden": info(
    "on: the sun could give about {measured} more, {limit} are needed",
    "powerW",
    "powerW",
  ),
  "running-hidden-maybe": info(
    "tried: the sun may give {measured} more, {limit} are needed",
    "powerW",
    "powerW",
  ),
  "running-try": info("tried for {remaining} more: stops if the battery has to give", null, null),
  "running-min-run": info(
    "on for {remaining} more (minimum run), would stop otherwise",
    null,
    null,
  ),
  "running-stop-soon": info(
    "on: battery {measured}, under stop mark {limit}; off in {remaining} if so",
    "fraction",
    "fraction",
  ),
  "running-short-of-power": info(
    "on: {measured} are missing, {limit} allowed; off in {remaining} if so",
    "powerW",
    "powerW",
  ),
  "running-to-be-ready": info(
    "on to be ready in {remaining}: battery {measured}, not under {limit}",
    "fraction",
    "fraction",
  ),
  "running-asked": info("on because it was asked for: {remaining} more", null, null),
  "running-full-charge": info(
    "on, but a full charge is overdue: off in {remaining} if that lasts",
    null,
    null,
  ),
  // Waiting
  "waiting-band": info("waits: battery at {measured}, starts from {limit}", "fraction", "fraction"),
  "waiting-voltage": info(
    "waits: battery at rest would be at {measured}, start mark {limit}",
    "voltageV",
    "voltageV",
  ),
  "waiting-full": info("waits until the battery is held at its set-point", null, null),
  "waiting-dwell": info(
    "waits: over its start mark, starts in {remaining} if that lasts",
    null,
    null,
  ),
  "waiting-power": info("waits: {measured} to spare, it needs {limit}", "powerW", "powerW"),
  "waiting-night": info(
    "waits: by night it needs {limit} to spare; there is {measured}",
    "powerW",
    "powerW",
  ),
  "waiting-full-charge": info("waits: a full charge of the battery is overdue", null, null),
  "waiting-generator": info(
    "waits {remaining}: the generator ran, its charge is no surplus",
    null,
    null,
  ),
  "waiting-inverter": info(
    "waits: the inverter has {measured} left, it needs {limit}",
    "powerW",
    "powerW",
  ),
  "waiting-apparent": info(
    "waits: the inverter has {measured} left, it needs {limit}",
    "apparentPowerVA",
    "apparentPowerVA",
  ),
  "waiting-leg": info(
    "waits: its leg has {measured} left, it needs {limit}",
    "apparentPowerVA",
    "apparentPowerVA",
  ),
  "waiting-sag": info(
    "waits: its start would pull the battery to {measured}, limit {limit}",
    "voltageV",
    "voltageV",
  ),
  "waiting-discharge-limit": info(
    "waits: the battery would give {measured}, its limit is {limit}",
    "currentA",
    "currentA",
  ),
  "waiting-try": info("waits {remaining}: its last try failed, the sun was too weak", null, null),
  "waiting-displaces": info("waits: loads ranked after it make room", null, null),
  "waiting-surge": info(
    "waits: the inverter can start {measured}, it needs {limit} to start",
    "apparentPowerVA",
    "apparentPowerVA",
  ),
  "waiting-feeder": info(
    "waits: its panel's feeder has {measured} left, it needs {limit}",
    "powerW",
    "powerW",
  ),
  "late-battery": {
    severity: "alarm",
    isInterlock: false,
    measured: "fraction",
    limit: "fraction",
    sentence: "will be late: due in {remaining}, battery {measured}, not under {limit}",
  },
  "late-without-sun": {
    severity: "alarm",
    isInterlock: false,
    measured: null,
    limit: null,
    sentence: "will be late: due in {remaining}, and there is no surplus",
  },
  "waiting-rest": info("rests for {remaining} more", null, null),
  "waiting-starts": info(
    "waits {remaining}: {measured} starts within the hour, {limit} allowed",
    "count",
    "count",
  ),
  "waiting-starts-day": info("waits: {measured} starts today, {limit} allowed", "count", "count"),
  "waiting-stagger": info("waits {remaining}: another load has just been switched", null, null),
  "waiting-contactor": info("waits for its panel's contactor to close", null, null),
  "waiting-retry": info(
    "waits {remaining}, then tries again: its last start was not confirmed",
    null,
    null,
  ),
  "waiting-high-voltage": info(
    "waits: battery at {measured} is over {limit}",
    "voltageV",
    "voltageV",
  ),
  "waiting-priority": info("waits: a load ranked before it goes first", null, null),
  // Asked for
  "asked-floor": info(
    "off: battery at {measured}, a run on request ends at {limit}",
    "fraction",
    "fraction",
  ),
  "held-off": {
    severity: "info",
    isInterlock: true,
    measured: null,
    limit: null,
    sentence: "off because that was asked for: {remaining} more",
  },
  // No demand
  "tank-warm": info(
    "off: the tank is at {measured}, its aim is {limit}",
    "temperatureC",
    "temperatureC",
  ),
  "quota-run-met": info("off: {measured} today, its quota is {limit}", "minutes", "minutes"),
  "quota-energy-met": info("off: {measured} today, its quota is {limit}", "energyWh", "energyWh"),
  "outside-window": info("off: outside its hours", null, null),
  // Stopped by the scheduler at this tick
  "stopped-band": info(
    "stopped: battery at {measured}, under its stop mark {limit}",
    "fraction",
    "fraction",
  ),
  "stopped-voltage": info(
    "stopped: battery at rest would be at {measured}, stop mark {limit}",
    "voltageV",
    "voltageV",
  ),
  "stopped-try": info(
    "stopped: tried, but {measured} were missing, {limit} allowed",
    "powerW",
    "powerW",
  ),
  "stopped-displaced": info("stopped: a load ranked before it needs the room", null, null),
  "stopped-full-charge": info("stopped: a full charge of the battery is overdue", null, null),
  "stopped-not-full": info("stopped: the battery is no longer held at its set-point", null, null),
  "stopped-power": info("stopped: {measured} were missing, {limit} allowed", "powerW", "powerW"),
  // Not ours
  "by-hand": {
    severity: "warning",
    isInterlock: false,
    measured: null,
    limit: null,
    sentence: "on by hand at the device; counted as everyday use",
  },
  // Interlocks of the load itself
  "site-interlock": warning("off: the whole site is held off", null, null),
  "tank-hot": alarm(
    "off: the tank is at {measured}, limit {limit}",
    "temperatureC",
    "temperatureC",
  ),
  "tank-unknown": alarm("off: the tank's temperature is not known", null, null),
  "feeder-overload": alarm(
    "off: its panel draws {measured}, its feeder carries {limit}",
    "powerW",
    "powerW",
  ),
  "panel-open": warning("off: its panel's contactor is open", null, null),
  unconfirmed: warning(
    "off: its start was not confirmed ({measured} of {limit} tries)",
    "count",
    "count",
  ),
  "latched-dead": alarm(
    "latched off: {measured} starts were not confirmed. Look, then clear it",
    "count",
    null,
  ),
  "latched-welded": alarm(
    "latched off: stayed on after OFF, welded? Look, then clear it",
    null,
    null,
  ),
  "latched-panel": alarm(
    "latched off: its panel's contactor disobeys. Look, then clear it",
    null,
    null,
  ),
  ...GUARD_CODES,
  // Panels
  "panel-closed": info("closed: a load on it runs or is about to", null, null),
  "panel-waits-members": info("open until every load on it is confirmed off", null, null),
  "panel-lingers": info("closed for {remaining} more, to spare the contactor", null, null),
  "panel-idle": info("open: no load on it may run", null, null),
} as const satisfies Record<string, CodeEntry>;

export type VerdictCode = keyof typeof VERDICT_CODES;
