// `npm run evidence -- --data DIR`: how much of the best possible each policy diverts, and at which
// cost, by the protocol in this folder. It uses all cores, and an hour or two of them. The weather
// is not part of the project: DIR holds the files that the protocol names.
import { spawnSync } from "node:child_process";
import { readFileSync, writeFileSync } from "node:fs";
import { parseArgs } from "node:util";
import { boundOfRun } from "./bound-run.mjs";
import { readProtocol } from "./protocol.mjs";
import { markdown, tableText } from "./table.mjs";
import { daysOf } from "./weather-year.mjs";
import { siteFor, trials, tunedThreshold } from "./policies.mjs";

const USAGE = `npm run evidence -- --data DIR [--only SITE/STATION] [--policies a,b,c,d] [--seeds N]
                            [--development] [--json FILE] [--have FILE]... [--write]
  --data      folder with the weather files that test/evidence/protocol.json names
  --only      one pair, such as malga/greensboro
  --policies  some of a, b, c, d (the bound); all without it
  --seeds     the first N seeds alone, for a quick look
  --development  the station and seeds on which (c) may be tuned, instead of the scored ones
  --have      rows that an earlier run by the same protocol wrote with --json: not run again
  --write     write docs/evidence.md; refused unless everything is run or there`;

process.exitCode = await main(process.argv.slice(2));

async function main(args) {
  const { values } = parseArgs({
    args,
    options: {
      data: { type: "string" },
      only: { type: "string" },
      policies: { type: "string", default: "a,b,c,d" },
      seeds: { type: "string" },
      development: { type: "boolean", default: false },
      json: { type: "string" },
      have: { type: "string", multiple: true, default: [] },
      write: { type: "boolean", default: false },
      help: { type: "boolean", default: false },
    },
  });
  if (values.help || values.data === undefined) {
    console.log(USAGE);
    return values.help ? 0 : 2;
  }
  const protocol = readProtocol();
  const policies = values.policies.split(",");
  const { development } = values;
  const isAll = values.only === undefined && values.seeds === undefined && policies.length === 4;
  const isWhole = isAll && !development;
  if (values.write && !isWhole) {
    console.error("--write: only the whole protocol becomes docs/evidence.md");
    return 2;
  }
  const years = development ? protocol.develop : protocol.score;
  const pairs = protocol.sites
    .flatMap((site) => years.data.map((station) => ({ site, station })))
    .filter(
      ({ site, station }) => values.only === undefined || values.only === `${site.id}/${station}`,
    );
  const seeds = years.refineSeeds.slice(0, Number(values.seeds ?? Infinity));
  const households = years.householdSeeds;
  const had = values.have.flatMap((path) => rowsOf(path, protocol));
  const results = [];
  for (const pair of pairs) {
    const own = had.filter(({ site, station }) => isOf(pair, { site, station }));
    const missing = policies.filter((id) => !own.some((row) => row.id === id));
    const ran =
      missing.length === 0
        ? []
        : await runPair(protocol, pair, {
            policies: missing,
            seeds,
            households,
            folder: values.data,
          });
    const rows = [...own, ...ran];
    results.push(...policies.flatMap((id) => rows.filter((row) => row.id === id).slice(0, 1)));
  }
  console.log(tableText(protocol, results));
  if (values.json !== undefined) {
    writeFileSync(values.json, JSON.stringify({ hash: protocol.hash, results }, null, 2));
  }
  if (values.write) writeFileSync("docs/evidence.md", markdown(protocol, results));
  return 0;
}

function isOf(pair, { site, station }) {
  return pair.site.id === site && pair.station === station;
}

/** Rows of an earlier run, with the revision that they were run at. */
function rowsOf(path, protocol) {
  const { hash, results } = JSON.parse(readFileSync(path, "utf8"));
  if (hash !== protocol.hash) throw new Error(`${path} is of another protocol`);
  return results;
}

function revision() {
  const { stdout } = spawnSync("git", ["rev-parse", "--short", "HEAD"], { encoding: "utf8" });
  return stdout.trim() === "" ? "unknown" : stdout.trim();
}

/** One row for each policy: the mean of its years. */
async function runPair(protocol, { site, station }, { policies, seeds, households, folder }) {
  const name = `${site.id}/${station}`;
  const candidates = [];
  for (const id of policies.filter((one) => one !== "d")) {
    if (id !== "b") {
      candidates.push({ id, note: "", site: siteFor(protocol, site, protocol.policies[id].set) });
      continue;
    }
    say(`${name}: looking for the best threshold`);
    const tuned = await tunedThreshold(protocol, { site, station, folder, say });
    candidates.push({ id, note: tuned.at, site: tuned.site });
  }
  const rows = new Map(candidates.map(({ id, note }) => [id, { id, note, years: [] }]));
  const ready = candidates.filter((candidate) => candidate.site !== null);
  const bounds = [];
  for (const [i, seed] of seeds.entries()) {
    const household = households[i];
    const days = await daysOf(protocol, { station, folder, seed, household });
    say(`${name}, seed ${seed}: ${days.length} days, ${ready.length} policies`);
    const reports = await trials(protocol, { site, days, sites: ready.map((one) => one.site) });
    for (const [place, report] of reports.entries()) {
      rows.get(ready[place].id).years.push({ ...report.totals, days: report.days });
    }
    if (!policies.includes("d")) continue;
    say(`${name}, seed ${seed}: bound`);
    bounds.push(await boundOfRun(protocol, { site, days }));
  }
  return [...rows.values(), { id: "d", note: "", years: bounds }]
    .filter(({ id }) => policies.includes(id))
    .map((row) => ({ site: site.id, station, revision: revision(), ...row }));
}

function say(text) {
  console.error(`${new Date().toTimeString().slice(0, 8)} ${text}`);
}
