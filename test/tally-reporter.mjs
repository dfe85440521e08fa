// Counts what vitest ran, for test/run.mjs: vitest's own JSON leaves out why a test was skipped.
import { writeFileSync } from "node:fs";
import { relative } from "node:path";

export default class TallyReporter {
  onTestRunEnd(modules, unhandledErrors) {
    const tally = { passed: 0, failed: 0, skipped: [], errors: [], files: [] };
    for (const error of unhandledErrors) tally.errors.push(error.message ?? "unknown error");
    for (const module of modules) countModule(module, tally);
    writeFileSync(process.env.TALLY_FILE, JSON.stringify(tally));
  }
}

function countModule(module, tally) {
  tally.files.push(relative("", module.moduleId));
  let failedHere = 0;
  for (const test of module.children.allTests()) {
    const { state, note } = test.result();
    if (state === "passed") tally.passed += 1;
    else if (state === "failed") failedHere += 1;
    else tally.skipped.push({ name: `${module.moduleId}: ${test.fullName}`, reason: note ?? null });
  }
  // A file that does not load, or whose set-up fails, has no failed test to show for it.
  if (failedHere === 0 && !module.ok()) tally.errors.push(`${module.moduleId}: not run to its end`);
  tally.failed += failedHere;
}
