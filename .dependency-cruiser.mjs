// The arrows: who may import whom. Imports point one way,
//   main -> cli -> daemon -> { ticker, web, switching, telemetry, broker } -> control -> solar
// and `test/architecture` plants one violation of each rule, to be rejected by its name.

const PACKAGES = "(^|/)node_modules/";
const ROOMS = "telemetry|switching|broker|web|history|housekeeping";
// Two patterns: one with an optional part is refused by the tool as an unsafe expression.
const SIMULATOR_COMMANDS = [
  "^service/cli/(demo|replay|import|export|rig|weather|campaign|bound|tune)[.]ts$",
  "^service/cli/(demo|replay|import|export|rig|weather|campaign|bound|tune)-[a-z-]+[.]ts$",
  // What `serve` offers of it, in a thread of its own: no part of the daemon.
  "^service/cli/what-if-[a-z-]+[.]ts$",
];

export default {
  forbidden: [
    {
      name: "solar-stands-alone",
      comment:
        "The sun's arithmetic imports only itself and suncalc: pass what it needs as an argument.",
      severity: "error",
      from: { path: "^service/solar/" },
      to: { pathNot: ["^service/solar/", `${PACKAGES}suncalc/`] },
    },
    {
      name: "control-stands-alone",
      comment:
        "The core imports only itself and solar. It owns its settings types; config/ maps a file " +
        "to them, and whatever it wants to know is a field of Observation.",
      severity: "error",
      from: { path: "^service/control/" },
      to: { pathNot: ["^service/(control|solar)/"] },
    },
    {
      name: "simulator-knows-no-shell",
      comment:
        "The simulator meets the daemon through control, config and the small Bus interface of " +
        "rig.ts; service/cli composes the two.",
      severity: "error",
      from: { path: "^simulator/" },
      to: { path: "^service/", pathNot: ["^service/(control|solar)/", "^service/errors[.]ts$"] },
    },
    {
      name: "service-knows-no-simulator",
      comment:
        "Production code must run without the simulator: only the commands that offer it compose it.",
      severity: "error",
      from: { path: "^service/", pathNot: SIMULATOR_COMMANDS },
      to: { path: "^simulator/" },
    },
    {
      name: "rooms-are-strangers",
      comment:
        "Rooms of the shell do not know each other: declare a small interface and let daemon.ts " +
        "introduce them.",
      severity: "error",
      from: { path: `^service/(${ROOMS})/` },
      to: { path: `^service/(${ROOMS})/`, pathNot: "^service/$1/" },
    },
    {
      name: "rooms-know-no-composition",
      comment: "daemon.ts, cli and main import the rooms, never the other way: take a callback.",
      severity: "error",
      from: { path: `^service/(${ROOMS})/` },
      to: { path: "^service/(cli/|daemon[.]ts$|main[.]ts$|ticker[.]ts$)" },
    },
    {
      name: "rooms-take-site-types-only",
      comment:
        "Settings arrive checked and complete: a room imports the types of config/site-settings.ts, " +
        "the dictionary config/signals.ts and MQTT's own rules, and no reader of files.",
      severity: "error",
      from: { path: `^service/(${ROOMS})/` },
      to: { path: "^config/", pathNot: "^config/(site-settings|signals|topic-filters)[.]ts$" },
    },
    {
      name: "config-knows-no-shell",
      comment: "config/ maps a file to plain data: of the service it knows control and errors.ts.",
      severity: "error",
      from: { path: "^config/" },
      to: { path: "^(service|simulator)/", pathNot: "^service/(control/|errors[.]ts$)" },
    },
    {
      name: "commands-are-strangers",
      comment: "One file per command: shared work belongs to what the commands call.",
      severity: "error",
      from: { path: "^service/(?!cli/|main[.]ts$)" },
      to: { path: "^service/(cli/|main[.]ts$)" },
    },
    {
      name: "mqtt-in-broker-only",
      comment: "Use BrokerConnection of service/broker: one place knows QoS, wills and reconnects.",
      severity: "error",
      from: { path: "^(service|config|simulator)/", pathNot: "^service/broker/" },
      to: { path: `${PACKAGES}(mqtt|aedes|mqtt-packet|mqtt-connection)/` },
    },
    {
      name: "http-in-web-only",
      comment: "Use what service/web offers: one place knows headers, limits and tokens.",
      severity: "error",
      from: { path: "^(service|config|simulator)/", pathNot: "^service/web/" },
      to: { path: `${PACKAGES}(fastify|@fastify)/` },
    },
    {
      name: "sqlite-in-history-only",
      comment: "Use what service/history offers: one place knows pragmas, faults and versions.",
      severity: "error",
      from: { path: "^(service|config|simulator)/", pathNot: "^service/history/" },
      to: { path: `${PACKAGES}(libsql|@libsql)/` },
    },
    {
      name: "history-knows-core-types-only",
      comment:
        "The history keeps plain data: of the core it may import memory, decision, observation " +
        "and settings, and of the shell the clock's and the log's types.",
      severity: "error",
      from: { path: "^service/history/" },
      to: {
        path: "^service/",
        pathNot: [
          "^service/history/",
          "^service/control/(memory|decision|observation|settings)[.]ts$",
          "^service/(clock|log|errors)[.]ts$",
        ],
      },
    },
    {
      name: "dashboard-imports-types-only",
      comment: "The browser gets data over HTTP: import the types of what it says, and no code.",
      severity: "error",
      from: { path: "^service/dashboard/" },
      to: {
        path: "^(service|config|simulator)/",
        pathNot: "^service/dashboard/",
        dependencyTypesNot: ["type-only"],
      },
    },
    {
      name: "nothing-imports-dashboard",
      comment: "The dashboard runs in a browser: what both need is a type of the service.",
      severity: "error",
      from: { path: "^(service|config|simulator)/", pathNot: "^service/dashboard/" },
      to: { path: "^service/dashboard/" },
    },
    {
      name: "nothing-imports-tests",
      comment: "Move what production needs out of test/.",
      severity: "error",
      from: { path: "^(service|config|simulator)/" },
      to: { path: "^test/" },
    },
    {
      name: "no-dev-dependency",
      comment: "The shipped package has no devDependencies: move the package to dependencies.",
      severity: "error",
      // The dashboard is built into one file before it ships.
      from: { path: "^(service|config|simulator)/", pathNot: "^service/dashboard/" },
      to: { dependencyTypes: ["npm-dev", "npm-no-pkg", "npm-unknown"] },
    },
    {
      name: "no-circles",
      comment: "Two modules that need each other are one module, or a third is missing.",
      severity: "error",
      from: {},
      to: { circular: true },
    },
    {
      name: "everything-resolves",
      comment: "An import that cannot be found escapes every rule above.",
      severity: "error",
      from: {},
      to: { couldNotResolve: true },
    },
  ],
  options: {
    // Type imports are arrows too.
    tsPreCompilationDeps: true,
    tsConfig: { fileName: "tsconfig.json" },
    doNotFollow: { path: "node_modules" },
    enhancedResolveOptions: { exportsFields: ["exports"], conditionNames: ["import", "node"] },
  },
};
