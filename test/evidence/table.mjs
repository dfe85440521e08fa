import { readFileSync } from "node:fs";
import { misses } from "./misses.mjs";

const DAYS_PER_YEAR = 365;
const HEADS = [
  ...["site", "station", "policy", "useful kWh/a", "of the bound", "reserve drawn kWh/a"],
  ...[
    "reserve days/a",
    "sunsets missed/a",
    "absorptions missed/a",
    "starts/d",
    "within the limits",
  ],
];

/** What policy (c) is to reach of the bound, set before it was first run. [%] */
const AIMS = [
  { site: "malga", station: "greensboro", percent: 94 },
  { site: "malga", station: "sand-point", percent: 90 },
  { site: "tasmania", station: "greensboro", percent: 80 },
  { site: "tasmania", station: "sand-point", percent: 66 },
];

export function tableText(protocol, results) {
  const rows = [HEADS, ...cells(protocol, results)];
  const widths = HEADS.map((_, c) => Math.max(...rows.map((row) => row[c].length)));
  const lines = rows.map((row) =>
    row
      .map((cell, c) => cell.padEnd(widths[c]))
      .join("  ")
      .trimEnd(),
  );
  return [...lines, "", `protocol ${protocol.hash}`].join("\n");
}

export function markdown(protocol, results) {
  const rows = [HEADS, HEADS.map(() => "---"), ...cells(protocol, results)];
  const policies = Object.entries(protocol.policies).map(([id, { name }]) => `- (${id}) ${name}`);
  const stations = protocol.score.data.map((id) => `- ${id}: ${protocol.data[id].climate}`);
  const sites = protocol.sites.map(({ id, battery }) => `- ${id}: ${battery}`);
  return `# Evidence

${protocol.question}

Written by \`npm run evidence -- --data DIR --write\`, by the protocol \`test/evidence/protocol.json\`
(SHA-256 of it and its files: \`${protocol.hash}\`).

Simulated, not measured: the weather is an hourly typical year with made-up minutes, everyday use is
made up, and the shed differs from its settings in haze, horizon and the arrays' direction. The mean
of ${protocol.score.refineSeeds.length} years that differ in clouds and use. "Missed" counts what the same shed would have reached
without loads. The bound allows a little more than any real plan can have.

${sites.join("\n")}

${stations.join("\n")}

${policies.join("\n")}

${rows.map((row) => `| ${row.join(" | ")} |`).join("\n")}

${aims(protocol, results).join("\n")}

${readFileSync(new URL("reading.md", import.meta.url), "utf8").trim()}

Revision of the code that ran: ${revisions(results)}.

Within the limits: at most ${protocol.matching.perYearAtMost} days a year of each of the three kinds.
`;
}

/** An aim counts as reached only by one who keeps the limits. */
function aims(protocol, results) {
  return AIMS.map(({ site, station, percent }) => {
    const of = (id) =>
      results.find((row) => row.site === site && row.station === station && row.id === id);
    const head = `- ${site}/${station}: aim for (c) ${String(percent)} %`;
    const [own, best] = [of("c"), of("d")];
    if (!own?.years.length || !best?.years.length) return `${head}; not scored.`;
    const share =
      (100 * perYear(own.years, "usefulDivertedWh")) / perYear(best.years, "usefulDivertedWh");
    const isOver = own.years.some((year) => misses(protocol, year).over > 0);
    const isReached = share >= percent && !isOver;
    const said = isReached ? "reached" : isOver ? "not reached: over the limits" : "not reached";
    return `${head}; ${share.toFixed(1)} %, ${said}.`;
  });
}

function revisions(results) {
  const byRevision = new Map();
  for (const { revision, site, station, id } of results) {
    byRevision.set(revision, [...(byRevision.get(revision) ?? []), `${site}/${station} (${id})`]);
  }
  if (byRevision.size === 1) return [...byRevision.keys()].join("");
  return [...byRevision].map(([one, rows]) => `${one} for ${rows.join(", ")}`).join("; ");
}

function cells(protocol, results) {
  return results.map((row) => {
    const name = `(${row.id})${row.note === "" ? "" : ` ${row.note}`}`;
    if (row.years.length === 0) return [row.site, row.station, name, "not run", ...blank(7)];
    const useful = perYear(row.years, "usefulDivertedWh") / 1000;
    const head = [row.site, row.station, name, useful.toFixed(0)];
    if (row.id === "d") return [...head, "100 %", ...blank(6)];
    const best = results.find(
      (other) => other.id === "d" && other.site === row.site && other.station === row.station,
    );
    const bestWh = best === undefined ? NaN : perYear(best.years, "usefulDivertedWh");
    const share = Number.isNaN(bestWh) ? "-" : `${((useful * 1e5) / bestWh).toFixed(1)} %`;
    const sums = ["reserveDays", "sunsetMisses", "absorptionMisses"].map((key) =>
      perYear(row.years, key).toFixed(1),
    );
    const isOver = row.years.some((year) => misses(protocol, year).over > 0);
    return [
      ...head,
      share,
      (perYear(row.years, "reserveDrawnWh") / 1000).toFixed(1),
      ...sums,
      (perYear(row.years, "starts") / DAYS_PER_YEAR).toFixed(1),
      isOver ? "no" : "yes",
    ];
  });
}

function perYear(years, key) {
  const days = years.reduce((sum, year) => sum + year.days, 0);
  return (years.reduce((sum, year) => sum + year[key], 0) * DAYS_PER_YEAR) / days;
}

function blank(count) {
  return Array.from({ length: count }, () => "");
}
