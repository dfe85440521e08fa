// The same input gives the same output, byte for byte, on every version of Node that is supported.
// Needs a registry, so it is no part of the tests: `npm run versions`.
//
// node test/evidence/node-versions.mjs [VERSION...]     20, 22 and 24 without any
import { spawnSync } from "node:child_process";
import { createHash } from "node:crypto";
import { mkdtempSync, readFileSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join, resolve } from "node:path";

const PROGRAM = resolve("dist/service/main.js");
const TASMANIA = resolve("config/examples/tasmania.yaml");
const OUTLOOK = "ruleCurve={ mode: outlook, caution: 80 % }";

/** What is typed, and the file that it writes; null: its standard output counts. */
const CASES = [
  [["weather", "--days", "6", "--sky", "mixed", "--seed", "3", "--out", "six.csv"], "six.csv"],
  [["replay", "sample:measured", "--json"], null],
  [["replay", "six.csv", "--json"], null],
  [["replay", "six.csv", "--set", OUTLOOK, "--json"], null],
  [["replay", "sample:broken", "--config", TASMANIA, "--step", "10 s", "--json"], null],
  [["replay", "six.csv", "--html", "six.html", "--json"], "six.html"],
];

const versions = process.argv.length > 2 ? process.argv.slice(2) : ["20", "22", "24"];
const folder = mkdtempSync(join(tmpdir(), "bywash-versions-"));
try {
  process.exitCode = main();
} finally {
  rmSync(folder, { recursive: true });
}

function main() {
  const nodes = versions.map((version) => ({ version, path: install(version) }));
  let differing = 0;
  for (const [args, file] of CASES) {
    const digests = nodes.map(({ path }) => digestOf(path, args, file));
    const isSame = new Set(digests).size === 1;
    if (!isSame) differing += 1;
    console.log(`${isSame ? "same  " : "DIFFER"}  bywash ${args.map(shown).join(" ")}`);
    for (const [index, digest] of digests.entries()) {
      if (!isSame || index === 0) console.log(`        ${digest}${isSame ? "" : nameOf(index)}`);
    }
  }
  const names = nodes.map(({ path }) => run(path, ["--version"]).trim()).join(", ");
  console.log(`${CASES.length - differing} of ${CASES.length} the same on Node ${names}`);
  return differing === 0 ? 0 : 1;

  function nameOf(index) {
    return `  Node ${nodes[index].version}`;
  }
}

/** The program of a version as the registry has it: no script of it is run. */
function install(version) {
  const name = `node-${process.platform}-${process.arch}`;
  const wanted = `${name}@${version}`;
  const prefix = join(folder, `node-${version}`);
  const flags = ["--ignore-scripts", "--no-save", "--no-audit", "--no-fund", "--prefix", prefix];
  const { status, stderr } = spawnSync("npm", ["install", ...flags, wanted], { encoding: "utf8" });
  if (status !== 0) throw new Error(`npm could not install ${wanted}:\n${stderr}`);
  return join(prefix, "node_modules", name, "bin", "node");
}

function digestOf(node, args, file) {
  const text = run(node, [PROGRAM, ...args, ...(file?.endsWith(".csv") ? ["--force"] : [])]);
  const bytes = file === null ? text : readFileSync(join(folder, file));
  if (bytes.length < 1000) throw new Error(`bywash ${args.join(" ")} says too little`);
  return createHash("sha256").update(bytes).digest("hex");
}

function run(node, args) {
  const { status, stdout, stderr, error } = spawnSync(node, args, {
    cwd: folder,
    encoding: "utf8",
    maxBuffer: 1e8,
  });
  if (error !== undefined) throw error;
  if (status !== 0) throw new Error(`${node} ${args.join(" ")} ended with ${status}:\n${stderr}`);
  return stdout;
}

function shown(word) {
  return word.includes(" ") ? `"${word}"` : word.replace(TASMANIA, "config/examples/tasmania.yaml");
}
