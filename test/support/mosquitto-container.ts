/**
 * Mosquitto in a container of the published image. It shares the machine's network, so that it
 * listens on the loopback address alone, on the very port that the test asked for, and a test sees
 * no difference to a program. Needs an engine whose network is this machine's (Linux).
 */
import { CONFIG_FOLDER } from "./mosquitto-process.ts";
import type { BrokerProcess, MosquittoSetup } from "./mosquitto-process.ts";

const STOP_WITHIN_MS = 10_000;

export async function startInContainer({ files }: MosquittoSetup): Promise<BrokerProcess> {
  // Only who needs a container waits for the package.
  const { GenericContainer } = await import("testcontainers");
  const image = process.env["MOSQUITTO_IMAGE"] ?? "";
  let said = "";
  let hasEnded = false;
  const container = await new GenericContainer(image === "" ? "eclipse-mosquitto:2" : image)
    .withNetworkMode("host")
    .withCopyContentToContainer(
      Object.entries(files).map(([name, content]) => {
        return { content, target: `${CONFIG_FOLDER}/${name}`, mode: 0o644 };
      }),
    )
    .withLogConsumer((stream) => {
      stream.on("data", (chunk: Buffer) => (said += chunk.toString()));
      stream.on("end", () => (hasEnded = true));
    })
    .start();
  return {
    lastWords: () => (hasEnded ? said : null),
    log: () => said,
    async stop() {
      await container.stop({ timeout: STOP_WITHIN_MS });
    },
  };
}
