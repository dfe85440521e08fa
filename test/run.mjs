// `npm test`: provides a Mosquitto, runs every project, then the unit tests again in another zone
// and another locale, and ends with one line "N passed, N failed, N skipped".
//
// MOSQUITTO=/path/to/program   use this broker; it gets Mosquitto's arguments (-c FILE)
// MOSQUITTO=container          use one in a container, though a program may be there
// MOSQUITTO_IMAGE=name:tag     of this image, instead of eclipse-mosquitto:2
//
// CHROMIUM=/path/to/program    use this browser for the tests of the dashboard
//
// Repeats add to the failed, never to the passed: each test counts once.
import { spawnSync } from "node:child_process";
import { accessSync, constants, existsSync } from "node:fs";
import { mkdtempSync, readdirSync, readFileSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { delimiter, join } from "node:path";

/** The first time round the unit tests are in a zone of the south: vitest.config.ts. */
const REPEATS = [{ UNIT_ZONE: "America/St_Johns", LANG: "C", LC_ALL: "C" }];
/** These look at files and programs, or at code that knows no clock: no zone reaches them. */
const NOT_REPEATED = [
  ...["architecture", "docs", "broker", "history", "process", "browser"],
  ...["control", "solar", "checks", "telemetry", "switching", "simulator/bound", "simulator/tune"],
];

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
  const total = runVitest(filters, {
    MOSQUITTO: broker.path ?? "",
    CHROMIUM: browser.path ?? "",
    TEST_EXCLUDE: left.map(({ file }) => file).join(","),
  });
  for (const { file, reason } of left) {
    total.skipped.push(...listTests(file).map((name) => ({ name, reason })));
  }
  if (filters.length === 0) repeatElsewhere(total);
  console.log(`\ntests took ${((performance.now() - startMs) / 1000).toFixed(0)} s`);
  return report(total);
}

function repeatElsewhere(total) {
  const TEST_EXCLUDE = NOT_REPEATED.map((folder) => `test/${folder}/**`).join(",");
  for (const environment of REPEATS) {
    const name = Object.entries(environment)
      .map(([key, value]) => `${key}=${value}`)
      .join(" ");
    console.log(`\nagain under ${name}`);
    const again = runVitest(["--project", "unit", "--reporter=dot"], {
      ...environment,
      TEST_EXCLUDE,
    });
    if (again.passed === 0) total.errors.push(`no test ran under ${name}`);
    total.failed += again.failed;
    total.errors.push(...again.errors.map((error) => `${name}: ${error}`));
  }
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

function runVitest(args, environment) {
  const tallyFile = join(scratch, "tally.json");
  rmSync(tallyFile, { force: true });
  const readable = args.some((arg) => arg.startsWith("--reporter")) ? [] : ["--reporter=default"];
  const run = vitest(["run", ...args, ...readable, "--reporter=./test/tally-reporter.mjs"], {
    env: { ...process.env, ...environment, TALLY_FILE: tallyFile },
    stdio: "inherit",
  });
  if (!existsSync(tallyFile)) {
    return { passed: 0, failed: 0, skipped: [], errors: ["vitest did not come to its end"] };
  }
  const tally = JSON.parse(readFileSync(tallyFile, "utf8"));
  const isClean = tally.failed === 0 && tally.errors.length === 0;
  if (run.status !== 0 && isClean) tally.errors.push(`vitest ended with ${run.status}`);
  return tally;
}

function vitest(args, options) {
  return spawnSync(process.execPath, ["node_modules/vitest/vitest.mjs", ...args], options);
}

/** Names of the tests in a file, without running them. */
function listTests(file) {
  const run = vitest(["list", file], { encoding: "utf8" });
  return run.stdout.split("\n").filter((line) => line.trim() !== "");
}

/** Test files that import what cannot be had here. */
function filesNaming(what, reason) {
  return readdirSync("test", { recursive: true })
    .map((name) => join("test", name))
    .filter((file) => file.endsWith(".test.ts"))
    .filter((file) => readFileSync(file, "utf8").includes(what))
    .map((file) => ({ file, reason }));
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
