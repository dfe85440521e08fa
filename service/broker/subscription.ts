/**
 * The topics that one connection listens to. A broker may refuse some of them, and may be mended
 * while we are connected: what it refused is asked for again, ever more seldom, and said once.
 */
import type { Clock } from "../clock.ts";
import type { Log } from "../log.ts";
import type { BrokerConnection } from "./connection.ts";

export interface SubscriptionOptions {
  readonly topics: readonly string[];
  readonly clock: Clock;
  readonly log: Log;
}

export interface Subscription {
  /** Listens to these instead, from now on. */
  replace(topics: readonly string[]): void;
  /** To be called whenever the connection has come up. */
  up(connection: Pick<BrokerConnection, "subscribe">): void;
  down(): void;
  /** The broker has said of each topic whether we may listen to it. */
  isAnswered(): boolean;
  /** Which topics are refused, in words; null: none. */
  trouble(): string | null;
}

const RETRY_MIN_MS = 1_000;
const RETRY_MAX_MS = 60_000;
/** More than these are counted, not named. */
const NAMED_MAX = 5;

export function createSubscription(options: SubscriptionOptions): Subscription {
  const { clock, log } = options;
  let topics = options.topics;
  let connection: Pick<BrokerConnection, "subscribe"> | null = null;
  let refused: readonly string[] = [];
  let said = "";
  let retries = 0;
  /** Tells an answer of an earlier connection from one of this. */
  let era = 0;
  let answeredEra = -1;
  let cancelRetry = (): void => undefined;

  const ask = async (wanted: readonly string[]): Promise<void> => {
    const askedIn = era;
    const answer = (await connection?.subscribe(wanted)) ?? null;
    // Without an answer the connection is gone, and `up` will begin anew.
    if (answer === null || askedIn !== era) return;
    refused = answer;
    answeredEra = era;
    const words = refused.join(" ");
    if (words !== said) {
      if (words === "") log.info({}, "the broker now accepts the whole subscription");
      else log.error({ topics: refused }, "the broker refuses a subscription; asked again later");
    }
    said = words;
    if (refused.length === 0) return;
    const delayMs = Math.min(RETRY_MAX_MS, RETRY_MIN_MS * 2 ** Math.min(retries, 10));
    retries += 1;
    cancelRetry = clock.schedule(delayMs, () => void ask(refused));
  };

  const askAnew = (): void => {
    era += 1;
    retries = 0;
    cancelRetry();
    void ask(topics);
  };

  return {
    up(upConnection) {
      connection = upConnection;
      askAnew();
    },
    down() {
      connection = null;
      era += 1;
      cancelRetry();
    },
    isAnswered: () => connection !== null && answeredEra === era,
    replace(nextTopics) {
      // Topics that are no longer wanted stay subscribed until the next connect; nobody reads them.
      topics = nextTopics;
      if (connection !== null) askAnew();
    },
    trouble() {
      if (refused.length === 0) return null;
      const more = refused.length - NAMED_MAX;
      const named = refused.slice(0, NAMED_MAX).join(", ");
      const rest = more > 0 ? ` and ${String(more)} more` : "";
      return `the broker refuses to let us listen to ${named}${rest}`;
    },
  };
}
