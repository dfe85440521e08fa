// The embedded broker alone, without the daemon around it: `embedded-broker.mjs PORT`.
import { createEmbeddedBroker } from "../../dist/service/broker/embedded.js";

const quiet = () => undefined;
await createEmbeddedBroker(
  { host: "127.0.0.1", port: Number(process.argv[2]), users: null, tls: null },
  { debug: quiet, info: quiet, warn: quiet, error: quiet },
);
process.on("SIGTERM", () => process.exit(0));
