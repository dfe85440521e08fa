// What the compiler cannot say. Each ban names what to use instead; `test/architecture` plants a
// violation of each group and fails if it is not rejected by its rule.
import { defineConfig, globalIgnores } from "eslint/config";
import tseslint from "typescript-eslint";

const PURE = ["service/control/**/*.ts", "service/solar/**/*.ts"];
const PRODUCTION = ["service/**/*.{ts,tsx}", "config/**/*.ts", "simulator/**/*.ts"];
const TESTS = ["test/**/*.ts"];

const WHOLE_TREE_SYNTAX = [
  {
    selector: "ExportAllDeclaration, ExportNamedDeclaration[source]",
    message: "No barrel files: import from the file that declares the name.",
  },
];

const PRODUCTION_SYNTAX = [
  ...WHOLE_TREE_SYNTAX,
  {
    selector: "ExportDefaultDeclaration",
    message: "No default exports: a named export keeps one name everywhere.",
  },
  {
    selector:
      "Program > VariableDeclaration[kind='let'], " +
      "Program > ExportNamedDeclaration > VariableDeclaration[kind='let']",
    message: "No module-level mutable state: keep it in a closure, or in Memory.",
  },
  {
    // A Date made from a given instant is a calendar, not a clock.
    selector:
      "NewExpression[callee.name='Date'][arguments.length=0], CallExpression[callee.name='Date']",
    message: "Only service/clock.ts reads the time: take a Clock or an argument in ms.",
  },
];

const PURE_SYNTAX = [
  ...PRODUCTION_SYNTAX,
  {
    selector: "BinaryExpression[operator='**'], AssignmentExpression[operator='**=']",
    message: "Differs between Node versions: a product, or exp(y * log(x)) in one named function.",
  },
  {
    selector: ":function[async=true], AwaitExpression, ForOfStatement[await=true]",
    message: "The core is synchronous: the shell waits, the core gets the result.",
  },
  {
    selector: "CallExpression[callee.property.name=/^toLocale/]",
    message: "Differs between machines: the shell formats.",
  },
];

const NO_CLOCK = [
  { object: "Date", property: "now", message: "Only service/clock.ts reads the time." },
  { object: "performance", property: "now", message: "Only service/clock.ts reads the time." },
];

const NO_TIMERS = ["setTimeout", "setInterval", "setImmediate"].map((name) => ({
  name,
  message: "Use Clock.schedule, so that a demo and a test can run in their own time.",
}));

const NO_IMPURE_GLOBALS = [
  ["Date", "time is an argument: Observation.monotonicMs, wallMs, localDay, localMinute"],
  ["Intl", "the shell formats; local day and minute are in the Observation"],
  ["setTimeout", "time is an argument; remember an instant in Memory"],
  ["setInterval", "time is an argument; remember an instant in Memory"],
  ["setImmediate", "the core is synchronous"],
  ["queueMicrotask", "the core is synchronous"],
  ["Promise", "the core is synchronous"],
  ["process", "settings are an argument"],
  ["console", "return a verdict or an event; the shell writes"],
  ["performance", "time is an argument"],
  ["fetch", "the core does no I/O"],
  ["crypto", "the core has no randomness"],
  ["globalThis", "the core uses nothing outside its arguments"],
].map(([name, message]) => ({ name, message: `Not in the pure core: ${message}.` }));

const NO_IMPURE_MATH = [
  { object: "Math", property: "random", message: "The core has no randomness." },
  {
    object: "Math",
    property: "pow",
    message: "Differs between Node versions: a product, or exp(y * log(x)) in one named function.",
  },
];

const SIZE = {
  "max-lines": ["error", { max: 300 }],
  "max-lines-per-function": ["error", { max: 70 }],
};

export default defineConfig(
  globalIgnores(["dist/", "coverage/", "node_modules/", "test/architecture/planted/"]),
  { linterOptions: { reportUnusedDisableDirectives: "error" } },
  {
    files: ["**/*.mjs"],
    languageOptions: { ecmaVersion: 2023, sourceType: "module" },
    rules: { "no-unused-vars": "error", "no-var": "error", "prefer-const": "error" },
  },
  {
    files: ["**/*.{ts,tsx}"],
    extends: [tseslint.configs.strictTypeChecked],
    languageOptions: { parserOptions: { projectService: true } },
    rules: {
      eqeqeq: "error",
      "no-restricted-syntax": ["error", ...WHOLE_TREE_SYNTAX],
      "@typescript-eslint/consistent-type-imports": "error",
      // An interface may ask for a promise where one implementation has nothing to wait for.
      "@typescript-eslint/require-await": "off",
      // Objects here are closures without `this`; their functions may be handed on.
      "@typescript-eslint/unbound-method": "off",
      "@typescript-eslint/no-unused-vars": ["error", { argsIgnorePattern: "^_" }],
      "@typescript-eslint/restrict-template-expressions": ["error", { allowNumber: true }],
      "@typescript-eslint/switch-exhaustiveness-check": [
        "error",
        { considerDefaultExhaustiveForUnions: true },
      ],
      // `() => server.close()` reads better than a block around it.
      "@typescript-eslint/no-confusing-void-expression": ["error", { ignoreArrowShorthand: true }],
    },
  },
  {
    files: PRODUCTION,
    rules: {
      ...SIZE,
      "max-len": ["error", { code: 100, ignoreUrls: true }],
      "no-console": "error",
      "no-restricted-globals": ["error", ...NO_TIMERS],
      "no-restricted-properties": ["error", ...NO_CLOCK],
      "no-restricted-syntax": ["error", ...PRODUCTION_SYNTAX],
      "@typescript-eslint/max-params": ["error", { max: 3 }],
      // `as` silences the compiler; parse at the edge or narrow. `as const` stays allowed.
      "@typescript-eslint/consistent-type-assertions": ["error", { assertionStyle: "never" }],
    },
  },
  {
    // The browser's own clock and timers, in one file of the dashboard.
    files: ["service/clock.ts", "service/dashboard/browser-clock.ts"],
    rules: { "no-restricted-globals": "off", "no-restricted-properties": "off" },
  },
  { files: ["service/cli/**/*.ts", "service/main.ts"], rules: { "no-console": "off" } },
  {
    files: PURE,
    rules: {
      "no-restricted-globals": ["error", ...NO_IMPURE_GLOBALS],
      "no-restricted-properties": ["error", ...NO_CLOCK, ...NO_IMPURE_MATH],
      "no-restricted-syntax": ["error", ...PURE_SYNTAX],
    },
  },
  {
    files: TESTS,
    rules: {
      "no-restricted-globals": ["error", ...NO_TIMERS],
      // Parsed JSON and library internals are looked at as they are.
      "@typescript-eslint/no-unsafe-argument": "off",
      "@typescript-eslint/no-unsafe-assignment": "off",
      "@typescript-eslint/no-unsafe-call": "off",
      "@typescript-eslint/no-unsafe-member-access": "off",
      "@typescript-eslint/no-unsafe-return": "off",
      "@typescript-eslint/no-non-null-assertion": "off",
    },
  },
  {
    // Real processes and a real broker: a bounded wait for an event may need a timer.
    files: ["test/broker/**/*.ts", "test/process/**/*.ts", "test/support/**/*.ts"],
    rules: { "no-restricted-globals": "off" },
  },
);
