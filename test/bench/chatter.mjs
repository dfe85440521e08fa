// The other devices of the shed: `chatter.mjs URL PROTOCOL PER_SECOND MESSAGES` publishes round
// robin at an even pace, and tries again while the broker is not there yet.
import { connect } from "mqtt";

const [url, protocolVersion, perSecond, list] = process.argv.slice(2);
const messages = JSON.parse(list);
const client = connect(url, { protocolVersion: Number(protocolVersion), reconnectPeriod: 20 });
client.on("error", () => undefined);
client.on("connect", () => client.stream.setNoDelay(true));
const startMs = performance.now();
let sent = 0;
let published = 0;
// A pace kept by the clock, not by the timer: late timers send what has become due.
const pace = setInterval(() => {
  const due = Math.floor(((performance.now() - startMs) * Number(perSecond)) / 1000);
  for (; sent < due; sent += 1) {
    const [topic, payload] = messages[sent % messages.length];
    if (!client.connected) continue;
    client.publish(topic, payload, { qos: 0 });
    published += 1;
  }
}, 2);
// All that was published is with the broker before the number is told.
process.on("SIGTERM", () => {
  clearInterval(pace);
  client.end(false, () => {
    process.stdout.write(`published ${published}\n`, () => process.exit(0));
  });
});
