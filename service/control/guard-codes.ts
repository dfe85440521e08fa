/** The verdicts of tanks, pumps and sockets; part of the dictionary in `verdict-codes.ts`. */
import { alarm, info, warning } from "./code-entry.ts";
import type { CodeEntry } from "./code-entry.ts";

export const GUARD_CODES = {
  // Draws nothing
  "idle-thermostat": info(
    "off: drew nothing, its own thermostat? tries again in {remaining}",
    null,
    null,
  ),
  "idle-no-power": {
    severity: "warning",
    isInterlock: false,
    measured: null,
    limit: null,
    sentence: "off: drew nothing, unplugged or broken? tries again in {remaining}",
  },
  // Tank
  "element-open": warning(
    "off: heated, but the tank did not warm ({measured} of {limit} times)",
    "count",
    "count",
  ),
  "waiting-element": info("waits {remaining}: its tank did not warm when heated", null, null),
  "latched-element": alarm(
    "latched off: warmed too fast, little water? Look, then clear it",
    null,
    null,
  ),
  "latched-open": alarm(
    "latched off: heated, yet its tank stays cold. Look, then clear it",
    null,
    null,
  ),
  // Pump
  "pump-dry": warning("off: runs dry, it draws {measured} of {limit}", "powerW", "powerW"),
  "pump-no-flow": warning(
    "off: runs dry, {measured} flow of {limit}",
    "flowLPerMin",
    "flowLPerMin",
  ),
  "waiting-dry-run": info(
    "rests {remaining}: it ran dry ({measured} of {limit} times)",
    "count",
    "count",
  ),
  "latched-dry-run": alarm("latched off: ran dry again and again. Look, then clear it", null, null),
  "pump-unwatched": alarm("off: the power or flow that shows dry running is lost", null, null),
  "pump-source-low": warning("off: the source that it pumps from is low", null, null),
  "pump-source-unknown": alarm("off: whether its source is low is not known", null, null),
  "level-unknown": alarm("off: the level of its cistern is not known", null, null),
  "cistern-full": info("off: cistern at {measured}, full at {limit}", "fraction", "fraction"),
  "pipe-cold": warning(
    "off: its pipe is at {measured}, limit {limit}",
    "temperatureC",
    "temperatureC",
  ),
  "pipe-unknown": alarm("off: the temperature of its pipe is not known", null, null),
  // Sockets
  "sockets-overload": warning(
    "off: its sockets drew {measured}, more than {limit}",
    "powerW",
    "powerW",
  ),
  "sockets-unknown": alarm("off: the power of its sockets is not known", null, null),
  "latched-sockets": alarm(
    "latched off: overloaded too often today. Look, then clear it",
    null,
    null,
  ),
  "sockets-going-off": info("on: goes off in {remaining}, people are warned", null, null),
  "sockets-finishing": info(
    "on: {measured} still in use, goes off in {remaining} at the latest",
    "powerW",
    null,
  ),
  "waiting-request": info("off: nobody has asked for it, press its button", null, null),
} as const satisfies Record<string, CodeEntry>;
