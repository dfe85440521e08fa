// Subscribes to what the example reads: `table-client.mjs URL PROTOCOL bare|table COUNT`, and says
// how many messages it takes in a second of its own CPU time. `bare` parses the JSON and no more.
import { connect } from "mqtt";
import { createTable } from "./table.mjs";

const [url, protocolVersion, kind, count] = process.argv.slice(2);
const WARM_UP = 20_000;
const { table } = createTable(
  () => performance.now(),
  () => Date.now(),
);
const client = connect(url, { protocolVersion: Number(protocolVersion), reconnectPeriod: 0 });
let received = 0;
let start = null;
let sum = 0;

const take = {
  /** What stands in the payload must be looked at, or parsing could be left out. */
  bare(_topic, payload) {
    const text = payload.toString();
    const value = text.startsWith("{") ? JSON.parse(text) : text;
    sum += typeof value === "string" ? value.length : Object.keys(value).length;
  },
  table(topic, payload, packet) {
    table.receive({ topic, payload, isRetained: packet.retain });
  },
}[kind];

client.on("message", (topic, payload, packet) => {
  take(topic, payload, packet);
  received += 1;
  if (received === WARM_UP) start = process.cpuUsage();
  if (received === Number(count)) finish();
});
client.on("connect", () => {
  client.stream.setNoDelay(true);
  client.subscribe([...table.topics], { qos: 0 }, () => console.log("listening"));
});

function finish() {
  const { user, system } = process.cpuUsage(start);
  const perCpuSecond = (received - WARM_UP) / ((user + system) / 1e6);
  const isHeard = kind === "bare" ? sum > 0 : table.receivedCount() === received;
  console.log(isHeard ? `perCpuSecond ${Math.round(perCpuSecond)}` : "nothing was taken");
  client.end(true, () => process.exit(0));
}
