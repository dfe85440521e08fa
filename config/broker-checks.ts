/** Rules about the broker: which of the two, who may reach it, and what its users may do. */
import { errorAt, warningAt } from "./findings.ts";
import type { Finding, SettingsPath } from "./findings.ts";
import type { PartialFile } from "./partial-file.ts";
import type { BrokerSection } from "./schema-broker.ts";
import { LOOPBACK_HOSTS } from "./site-settings.ts";
import { isCoveredByAny } from "./topic-filters.ts";
import { commandTopics } from "./topic-checks.ts";
import type { MappedSignal } from "./mapped-signals.ts";

export function brokerChecks(
  file: PartialFile,
  signals: readonly MappedSignal[],
): readonly Finding[] {
  const { broker } = file;
  if (broker === undefined) return [];
  return [
    ...choiceFindings(broker),
    ...clientFindings(broker),
    ...embeddedFindings(broker),
    ...userFindings(broker, file),
    ...uselessFindings(broker, { file, signals }),
    ...requestFindings(broker),
  ];
}

function choiceFindings({ url, embedded }: BrokerSection): readonly Finding[] {
  const findings = url === undefined ? [] : urlFindings(url);
  if ((url === undefined) !== (embedded === undefined)) return findings;
  return [
    ...findings,
    errorAt(["broker"], "broker-ambiguous", {
      found: url === undefined ? "neither url nor embedded" : "both url and embedded",
      expected: "either url or embedded",
      suggestion: "url: mqtt://127.0.0.1:1883",
    }),
  ];
}

function urlFindings(written: string): readonly Finding[] {
  const path = ["broker", "url"];
  const url = URL.canParse(written) ? new URL(written) : undefined;
  if (url === undefined || !["mqtt:", "mqtts:"].includes(url.protocol) || url.hostname === "") {
    return [
      errorAt(path, "wrong-text", {
        found: written.replace(/\/\/[^@/]*@/u, "//…@"),
        expected: "an address that starts with mqtt:// or mqtts://",
        suggestion: "mqtt://127.0.0.1:1883",
      }),
    ];
  }
  if (url.password === "") return [];
  return [
    warningAt(path, "password-in-clear", {
      expected: "a password stands in the file in clear",
      suggestion: "use username and passwordFile",
    }),
  ];
}

/** What the service needs to get in at a broker that is not its own. */
function clientFindings(broker: BrokerSection): readonly Finding[] {
  const { url, embedded, username, passwordFile, tls } = broker;
  if (embedded !== undefined) {
    const keys = ["username", "passwordFile", "tls"] as const;
    return keys
      .filter((key) => broker[key] !== undefined)
      .map((key) =>
        errorAt(["broker", key], "key-does-not-fit", {
          expected: "only with url: the service needs no leave at its own broker",
          isAboutKey: true,
        }),
      );
  }
  const findings: Finding[] = [];
  if (passwordFile !== undefined && username === undefined) {
    findings.push(missing(["broker", "username"], "a user name beside the password file"));
  }
  if (tls === undefined) return findings;
  if (url?.startsWith("mqtt://") === true) {
    findings.push(
      errorAt(["broker", "tls"], "key-does-not-fit", {
        expected: "only with an address that starts with mqtts://",
        suggestion: url.replace("mqtt://", "mqtts://").replace(/\/\/[^@/]*@/u, "//"),
        isAboutKey: true,
      }),
    );
  }
  if ((tls.certificate === undefined) !== (tls.key === undefined)) {
    const key = tls.key === undefined ? "key" : "certificate";
    findings.push(missing(["broker", "tls", key], "certificate and key together"));
  }
  return findings;
}

function missing(path: SettingsPath, expected: string): Finding {
  return errorAt(path, "missing-key", { found: "nothing", expected });
}

function embeddedFindings({ embedded }: BrokerSection): readonly Finding[] {
  if (embedded === undefined || LOOPBACK_HOSTS.has(embedded.host)) return [];
  const path = ["broker", "embedded", "host"];
  if (embedded.users === undefined) {
    return [
      errorAt(path, "embedded-broker-open", {
        expected: "127.0.0.1, ::1 or localhost, or users: whoever reaches it could switch loads",
        suggestion: "give users, each with passwordFile, publish and subscribe",
      }),
    ];
  }
  if (embedded.tls !== undefined) return [];
  return [
    warningAt(path, "password-in-clear", {
      expected: "without tls the users' passwords cross the network in clear",
      suggestion: "tls: { certificate: broker.pem, key: broker.key }",
    }),
  ];
}

function userFindings({ embedded }: BrokerSection, file: PartialFile): readonly Finding[] {
  const users = embedded?.users ?? [];
  const names = users.map(({ name }) => name);
  const commands = commandTopics(file).map(({ topic }) => topic);
  const own = `bywash/${file.site?.id ?? ""}/status`;
  return users.flatMap((user, index) => {
    const path = ["broker", "embedded", "users", index];
    const findings: Finding[] = [];
    if (names.indexOf(user.name) < index) {
      findings.push(
        errorAt([...path, "name"], "duplicate-id", { expected: "a name of its own for each user" }),
      );
    }
    if (isCoveredByAny(own, user.publish)) {
      findings.push(
        errorAt([...path, "publish"], "topic-reserved", {
          expected: "filters that do not reach bywash/, where the service speaks for itself",
        }),
      );
    }
    const command = commands.find((topic) => isCoveredByAny(topic, user.publish));
    if (command !== undefined) {
      findings.push(
        warningAt([...path, "publish"], "user-may-command", {
          expected: `${user.name} may publish ${command}, which switches a load past the service`,
        }),
      );
    }
    return findings;
  });
}

/** A filter with a slip of the pen shuts a device out, and its load stays off for ever. */
function uselessFindings(
  { embedded }: BrokerSection,
  { file, signals }: { readonly file: PartialFile; readonly signals: readonly MappedSignal[] },
): readonly Finding[] {
  if (embedded?.users === undefined) return [];
  const path = ["broker", "embedded", "users"];
  const publish = embedded.users.flatMap((user) => user.publish);
  const subscribe = embedded.users.flatMap((user) => user.subscribe);
  const feeds = signals.flatMap((signal) => signal.feeds);
  const unheard = feeds.find(({ feed }) => !isCoveredByAny(feed.topic, publish));
  const unreached = commandTopics(file).find(({ topic }) => !isCoveredByAny(topic, subscribe));
  const findings: Finding[] = [];
  if (unheard !== undefined) {
    findings.push(
      warningAt(path, "nobody-may-publish", {
        expected: `no user may publish ${unheard.feed.topic}, which telemetry reads`,
      }),
    );
  }
  if (unreached !== undefined) {
    findings.push(
      warningAt(path, "nobody-may-listen", {
        expected: `no user may subscribe to ${unreached.topic}, which commands an actuator`,
      }),
    );
  }
  return findings;
}

function requestFindings({ url, username, tls, requests }: BrokerSection): readonly Finding[] {
  const isAnonymous = username === undefined && tls?.certificate === undefined;
  if (requests === "refuse" || url === undefined || !isAnonymous || url.includes("@")) return [];
  return [
    warningAt(["broker", "requests"], "requests-from-anyone", {
      expected: "a broker that lets the service in without a name lets anyone clear latches",
      suggestion: "give the broker users, and only those who may clear latches the request topics",
    }),
  ];
}
