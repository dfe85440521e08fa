// `npm test`: provides a Mosquitto, runs every project, the core's tests with a count of its
// branches, then the unit tests again in another zone and another locale, and ends with one line
// "N passed, N failed, N skipped".
//
// Without arguments there are three rows side by side: one of tests that reckon and keep a processor
// busy, and two of tests that mostly wait, for a broker, and for a process or a browser. Those two
// are shown whole once they have ended. With arguments all is one row: `npm test -- FILE`.
//
// MOSQUITTO=/path/to/program   use this broker; it gets Mosquitto's arguments (-c FILE)
// MOSQUITTO=container          use one in a container, though a program may be there
// MOSQUITTO_IMAGE=name:tag     of this image, instead of eclipse-mosquitto:2
//
// CHROMIUM=/path/to/program    use this browser for the tests of the dashboard
//
// Repeats add to the failed, never to the passed: each test counts once.
import { spawn, spawnSync } from "node:child_process";
import { accessSync, closeSync, constants, existsSync, openSync } from "node:fs";
import { mkdtempSync, readdirSync, readFileSync, rmSync } from "node:fs";
import { setPriority, tmpdir } from "node:os";
import { delimiter, join } from "node:path";

/** The first time round the unit tests are in a zone of the south: vitest.config.ts. */
const REPEATS = [{ UNIT_ZONE: "America/St_Johns", LANG: "C", LC_ALL: "C" }];
/** These look at files and programs, or at code that knows no clock: no zone reaches them. */
const NOT_REPEATED = [
  ...["architecture", "docs", "broker", "history", "process", "browser"],
  ...["control", "solar", "checks", "telemetry", "switching", "simulator/bound", "simulator/tune"],
];
/** What has to reach every branch of the core: as in `npm run coverage`. */
const OF_THE_CORE = ["test/control", "test/solar", "test/checks"];
const BRANCHES = ["--coverage", "--coverage.reporter=text-summary", ...OF_THE_CORE];
/** Projects whose tests mostly wait: a row for each list, side by side with the others. */
const WAITING = [["broker"], ["process", "browser"]];
/** Niceness of the tests that reckon, so that those that wait for an answer are not late. */
const GIVES_WAY = 2;

const VITEST = "node_modules/vitest/vitest.mjs";

const scratch = mkdtempSync(join(tmpdir(), "bywash-test-"));
try {
  process.exitCode = await main(process.argv.slice(2));
} finally {
  rmSync(scratch, { recursive: true });
}

async function main(filters) {
  const startMs = performance.now();
  const broker = await findBroker();
  console.log(broker.path === null ? `NO BROKER: ${broker.note}` : `broker: ${broker.note}`);
  const browser = findBrowser();
  console.log(browser.path === null ? `NO BROWSER: ${browser.note}` : `browser: ${browser.path}`);
  const left = [
    ...(broker.path === null ? filesNaming("support/mosquitto", broker.note) : []),
    ...(browser.path === null ? filesNaming("support/browser", browser.note) : []),
  ];
  const environment = { MOSQUITTO: broker.path ?? "", CHROMIUM: browser.path ?? "" };
  const leftFiles = left.map(({ file }) => file);
  const total =
    filters.length > 0
      ? await runVitest(filters, { ...environment, TEST_EXCLUDE: leftFiles.join(",") })
      : await runRows(environment, leftFiles);
  for (const { file, reason } of left) {
    total.skipped.push(...listTests(file).map((name) => ({ name, reason })));
  }
  console.log(`\ntests took ${((performance.now() - startMs) / 1000).toFixed(0)} s`);
  return report(total);
}

async function runRows(environment, leftFiles) {
  const others = { ...environment, TEST_EXCLUDE: leftFiles.join(",") };
  const [reckoned, ...waited] = await Promise.all([
    runReckoning(environment, leftFiles),
    ...WAITING.map((projects) => runWaiting(projects, others)),
  ]);
  for (const { text } of waited) {
    console.log("\nmeanwhile, side by side with these:");
    process.stdout.write(text);
  }
  const total = sum([...reckoned, ...waited.map(({ tally }) => tally)]);
  total.errors.push(...notRunOnce(total.files, leftFiles));
  return total;
}

async function runWaiting(projects, environment) {
  const file = join(scratch, `${projects.join("-")}.txt`);
  const stdout = openSync(file, "w");
  const named = projects.flatMap((name) => ["--project", name]);
  const tally = await runVitest(named, environment, { stdio: ["ignore", stdout, stdout] });
  closeSync(stdout);
  return { tally, text: readFileSync(file, "utf8") };
}

async function runReckoning(environment, leftFiles) {
  const core = await runVitest(
    ["--project", "unit", ...BRANCHES],
    { ...environment, TEST_EXCLUDE: leftFiles.join(",") },
    { niceness: GIVES_WAY },
  );
  const done = [...leftFiles, ...OF_THE_CORE.map((folder) => `${folder}/**`)];
  const others = await runVitest(
    ["--project", "unit", "--project", "command"],
    { ...environment, TEST_EXCLUDE: done.join(",") },
    { niceness: GIVES_WAY },
  );
  return [core, others, ...(await repeatElsewhere())];
}

/** What failed elsewhere, as a tally in which nothing has passed. */
async function repeatElsewhere() {
  const TEST_EXCLUDE = NOT_REPEATED.map((folder) => `test/${folder}/**`).join(",");
  const tallies = [];
  for (const environment of REPEATS) {
    const name = Object.entries(environment)
      .map(([key, value]) => `${key}=${value}`)
      .join(" ");
    console.log(`\nagain under ${name}`);
    const { passed, failed, errors } = await runVitest(
      // Each on its own is how they ran the first time.
      ["--project", "unit", "--no-isolate", "--reporter=dot"],
      { ...environment, TEST_EXCLUDE },
      { niceness: GIVES_WAY },
    );
    const none = passed === 0 ? [`no test ran under ${name}`] : [];
    const said = errors.map((error) => `${name}: ${error}`);
    tallies.push({ passed: 0, failed, skipped: [], errors: [...none, ...said], files: [] });
  }
  return tallies;
}

function sum(tallies) {
  return {
    passed: tallies.reduce((passed, tally) => passed + tally.passed, 0),
    failed: tallies.reduce((failed, tally) => failed + tally.failed, 0),
    skipped: tallies.flatMap(({ skipped }) => skipped),
    errors: tallies.flatMap(({ errors }) => errors),
    files: tallies.flatMap(({ files }) => files),
  };
}

/** No file of tests may fall between the rows, and none may count twice. */
function notRunOnce(files, leftFiles) {
  return testFiles()
    .filter((file) => !leftFiles.includes(file))
    .map((file) => ({ file, times: files.filter((one) => one === file).length }))
    .filter(({ times }) => times !== 1)
    .map(({ file, times }) => `${file}: run ${times} times`);
}

function report({ passed, failed, skipped, errors }) {
  console.log("");
  const silent = skipped.filter(({ reason }) => reason === null);
  for (const { name, reason } of skipped) {
    console.log(`SKIPPED ${name}: ${reason ?? "WITHOUT A REASON, which counts as failed"}`);
  }
  for (const error of errors) console.log(`ERROR ${error}`);
  if (passed === 0) console.log("ERROR no test passed");
  const failedInAll = failed + silent.length + errors.length + (passed === 0 ? 1 : 0);
  console.log(`${passed} passed, ${failedInAll} failed, ${skipped.length - silent.length} skipped`);
  return failedInAll === 0 ? 0 : 1;
}

async function runVitest(args, environment, { stdio = "inherit", niceness = 0 } = {}) {
  const tallyFile = join(mkdtempSync(join(scratch, "tally-")), "tally.json");
  const readable = args.some((arg) => arg.startsWith("--reporter")) ? [] : ["--reporter=default"];
  const all = ["run", ...args, ...readable, "--reporter=./test/tally-reporter.mjs"];
  const child = spawn(process.execPath, [VITEST, ...all], {
    env: { ...process.env, ...environment, TALLY_FILE: tallyFile },
    stdio,
  });
  if (niceness > 0) setPriority(child.pid, niceness);
  const status = await new Promise((ended) => child.once("close", ended));
  if (!existsSync(tallyFile)) {
    const errors = [`vitest did not come to its end: ${args.join(" ")}`];
    return { passed: 0, failed: 0, skipped: [], errors, files: [] };
  }
  const tally = JSON.parse(readFileSync(tallyFile, "utf8"));
  const isClean = tally.failed === 0 && tally.errors.length === 0;
  if (status !== 0 && isClean) tally.errors.push(`vitest ended with ${status}: ${args.join(" ")}`);
  return tally;
}

/** Names of the tests in a file, without running them. */
function listTests(file) {
  const run = spawnSync(process.execPath, [VITEST, "list", file], { encoding: "utf8" });
  return run.stdout.split("\n").filter((line) => line.trim() !== "");
}

/** Test files that import what cannot be had here. */
function filesNaming(what, reason) {
  return testFiles()
    .filter((file) => readFileSync(file, "utf8").includes(what))
    .map((file) => ({ file, reason }));
}

function testFiles() {
  return readdirSync("test", { recursive: true })
    .map((name) => join("test", name))
    .filter((file) => file.endsWith(".test.ts"));
}

/** A Chromium, installed or installable, or why there is none. */
function findBrowser() {
  const given = process.env.CHROMIUM;
  if (given !== undefined && given !== "") return { path: given, note: "" };
  const installed = findProgram("chromium") ?? findProgram("chromium-browser");
  if (installed !== null) return { path: installed, note: "" };
  if (process.getuid?.() === 0 && findProgram("apt-get") !== null) {
    console.log("Chromium is missing: installing Debian's package for the dashboard's tests");
    aptGet(["update", "-qq"]);
    aptGet(["install", "-y", "-qq", "--no-install-recommends", "chromium", "fonts-dejavu-core"]);
    const fresh = findProgram("chromium");
    if (fresh !== null) return { path: fresh, note: "" };
  }
  return { path: null, note: "no chromium in PATH, and none installable" };
}

/** A broker program or "container", where it came from, or why there is none. */
async function findBroker() {
  const given = process.env.MOSQUITTO;
  if (given !== undefined && given !== "") return { path: given, note: `${given} (MOSQUITTO)` };
  const installed = findProgram("mosquitto");
  if (installed !== null) return { path: installed, note: installed };
  if (process.getuid?.() === 0 && findProgram("apt-get") !== null) {
    console.log("Mosquitto is missing: installing Debian's package for the broker tests");
    aptGet(["update", "-qq"]);
    aptGet(["install", "-y", "-qq", "--no-install-recommends", "mosquitto"]);
    const fresh = findProgram("mosquitto");
    if (fresh !== null) return { path: fresh, note: `${fresh}, just installed` };
  }
  try {
    return { path: "container", note: await findImage() };
  } catch (error) {
    const none = "no mosquitto in PATH or /usr/sbin, none installable, none in a container";
    return { path: null, note: `${none} (${error.message})` };
  }
}

/** Throws unless a container engine answers that has Mosquitto's image, or can get it. */
async function findImage() {
  const { getContainerRuntimeClient, ImageName } = await import("testcontainers");
  const name = process.env.MOSQUITTO_IMAGE || "eclipse-mosquitto:2";
  const { image } = await getContainerRuntimeClient();
  if (!(await image.exists(ImageName.fromString(name)))) {
    await image.pull(ImageName.fromString(name));
  }
  return `${name} in a container`;
}

function aptGet(args) {
  const env = { ...process.env, DEBIAN_FRONTEND: "noninteractive" };
  // The package must not start a broker of its own on the standard port.
  return spawnSync("apt-get", [...args, "-o", "DPkg::options::=--force-confold"], {
    env: { ...env, RUNLEVEL: "1" },
    stdio: ["ignore", "ignore", "inherit"],
  });
}

function findProgram(name) {
  const folders = [...(process.env.PATH ?? "").split(delimiter), "/usr/sbin", "/usr/local/sbin"];
  for (const folder of folders) {
    const path = join(folder, name);
    try {
      accessSync(path, constants.X_OK);
      return path;
    } catch {
      // Not here; the next folder.
    }
  }
  return null;
}
