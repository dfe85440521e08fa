// The least that an MQTT program on Node can be: it subscribes, and answers a ping with a pong.
// Started as `bare-client.mjs URL PROTOCOL TOPIC...`; its round trip is the floor for ours.
import { connect } from "mqtt";

const [url, protocolVersion, ...topics] = process.argv.slice(2);
const client = connect(url, { protocolVersion: Number(protocolVersion), reconnectPeriod: 0 });
client.on("connect", () => {
  client.stream.setNoDelay(true);
  client.subscribe(["bench/ping", ...topics], { qos: 1 }, () => {
    client.publish("bench/there", "1", { qos: 1 });
  });
});
client.on("message", (topic, payload) => {
  if (topic === "bench/ping") client.publish("bench/pong", payload, { qos: 1 });
});
client.on("error", (error) => {
  console.error(error.message);
  process.exit(1);
});
process.on("SIGTERM", () => process.exit(0));
