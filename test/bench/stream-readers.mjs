// Open dashboards, as far as the service can tell: so many readers of its stream, who read.
// Started as `stream-readers.mjs PORT COUNT`; says `open` when each has had its first state, and
// answers SIGUSR2 with how many states they have had together since then.
import { get } from "node:http";

const [port, count] = process.argv.slice(2).map(Number);
let states = 0;
let opened = 0;

for (let reader = 0; reader < count; reader += 1) {
  const request = get({ host: "127.0.0.1", port, path: "/api/stream" }, (response) => {
    response.setEncoding("utf8");
    let isOpen = false;
    response.on("data", (text) => {
      states += text.split("event: state").length - 1;
      if (isOpen || !text.includes("event: state")) return;
      isOpen = true;
      opened += 1;
      if (opened === count) {
        states = 0;
        console.log("open");
      }
    });
    response.on("end", () => process.exit(1));
  });
  request.on("error", (error) => {
    console.error(error.message);
    process.exit(1);
  });
}
process.on("SIGUSR2", () => console.log(`states ${states}`));
process.on("SIGTERM", () => process.exit(0));
