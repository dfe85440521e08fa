/** Someone else on the broker: sees what really goes over it, and publishes as the shed does. */
import { connect } from "mqtt";
import type { IClientOptions, MqttClient } from "mqtt";

export interface Seen {
  readonly topic: string;
  readonly payload: string;
  readonly qos: number;
  /** As published (MQTT 5 "retain as published"), not as delivered. */
  readonly isRetained: boolean;
  readonly messageExpiryS: number | null;
}

export interface Stranger {
  readonly seen: Seen[];
  readonly client: MqttClient;
  /** The first message from now on, or already seen, that fits. */
  readonly waitFor: (fits: (message: Seen) => boolean, limitMs?: number) => Promise<Seen>;
  readonly say: (topic: string, payload: string, isRetained?: boolean) => Promise<void>;
  /** Resolves once everything published before this has been delivered. */
  readonly settle: () => Promise<void>;
  readonly end: () => Promise<void>;
}

let countOfMarkers = 0;

export async function createStranger(
  url: string,
  { topics = ["#"], ...options }: IClientOptions & { readonly topics?: readonly string[] } = {},
): Promise<Stranger> {
  const protocolVersion = options.protocolVersion ?? 5;
  const client = connect(url, { ...options, protocolVersion });
  const seen: Seen[] = [];
  const waiters = new Set<() => void>();
  client.on("message", (topic, payload, packet) => {
    seen.push({
      topic,
      payload: payload.toString(),
      qos: packet.qos,
      isRetained: packet.retain,
      messageExpiryS: packet.properties?.messageExpiryInterval ?? null,
    });
    for (const look of waiters) look();
  });
  // After the listener: what a session had queued comes right behind the connection.
  await new Promise<void>((resolve, reject) => {
    client.once("connect", () => resolve());
    client.once("error", reject);
  });
  client.on("error", () => undefined);
  if (topics.length > 0) {
    await client.subscribeAsync(
      [...topics],
      protocolVersion === 5 ? { qos: 1, rap: true } : { qos: 1 },
    );
  }

  const waitFor = (fits: (message: Seen) => boolean, limitMs = 120_000): Promise<Seen> =>
    new Promise((resolve, reject) => {
      const timer = setTimeout(() => {
        waiters.delete(look);
        const list = seen.map(({ topic, payload }) => `${topic} ${payload}`).join("\n");
        reject(new Error(`not seen within ${limitMs} ms; seen:\n${list}`));
      }, limitMs);
      const look = (): void => {
        const found = seen.find(fits);
        if (found === undefined) return;
        clearTimeout(timer);
        waiters.delete(look);
        resolve(found);
      };
      waiters.add(look);
      look();
    });

  return {
    seen,
    client,
    waitFor,
    async say(topic, payload, isRetained = false) {
      await client.publishAsync(topic, payload, { qos: 1, retain: isRetained });
    },
    async settle() {
      countOfMarkers += 1;
      const marker = `marker/${countOfMarkers}`;
      await client.subscribeAsync(marker, { qos: 1 });
      await client.publishAsync(marker, "", { qos: 1 });
      await waitFor(({ topic }) => topic === marker);
      await client.unsubscribeAsync(marker);
    },
    async end() {
      await client.endAsync();
    },
  };
}

/** Commands alone, as `topic payload`, in the order in which they came. */
export function commandsOf(seen: readonly Seen[]): string[] {
  return seen
    .filter(({ topic }) => topic.endsWith("/set"))
    .map(({ topic, payload }) => `${topic} ${payload}`);
}
