// As many messages as go through: `flood.mjs URL PROTOCOL COUNT MESSAGES`, QoS 1, so that none is
// dropped on the way, with a bounded number in flight.
import { connect } from "mqtt";

const IN_FLIGHT = 500;
const [url, protocolVersion, count, list] = process.argv.slice(2);
const messages = JSON.parse(list);
const client = connect(url, { protocolVersion: Number(protocolVersion), reconnectPeriod: 0 });
let sent = 0;

function next() {
  if (sent === Number(count)) {
    client.end();
    return;
  }
  const [topic, payload] = messages[sent % messages.length];
  sent += 1;
  client.publish(topic, payload, { qos: 1 }, next);
}

client.on("connect", () => {
  client.stream.setNoDelay(true);
  for (let lane = 0; lane < IN_FLIGHT; lane += 1) if (sent < Number(count)) next();
});
