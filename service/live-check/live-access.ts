/** How somebody who only listens gets to the broker that a site's settings name. */
import type { BrokerUserSettings, SiteSettings } from "../../config/site-settings.ts";
import { isCoveredByAny } from "../../config/topic-filters.ts";
import { accessFrom, NO_TLS_FILES } from "../broker/access.ts";
import type { BrokerAccess } from "../broker/access.ts";
import { UserError } from "../errors.ts";

/**
 * The built-in broker is entered as its other clients enter it: the service's own way in is known
 * to the service alone.
 *
 * @throws UserError where the built-in broker cannot be entered by anybody else.
 */
export function liveAccess(
  { broker }: Pick<SiteSettings, "broker">,
  topics: readonly string[],
): BrokerAccess {
  if (broker.url !== null) return accessFrom(broker, broker.url);
  const { embedded } = broker;
  if (embedded === null || embedded.port === 0) {
    throw refusal("broker.embedded.port", "a port that others can be told, such as 1883");
  }
  const { host, port, users, tls } = embedded;
  const scheme = tls === null ? "mqtt" : "mqtts";
  const user = users === null ? null : listener(users, topics);
  return {
    url: `${scheme}://${host.includes(":") ? `[${host}]` : host}:${String(port)}`,
    protocolVersion: 4,
    username: user?.name ?? null,
    password: user === null ? { kind: "none" } : { kind: "file", file: user.passwordFile },
    tls: tls === null ? NO_TLS_FILES : { ...NO_TLS_FILES, caFile: tls.certificateFile },
  };
}

function listener(
  users: readonly BrokerUserSettings[],
  topics: readonly string[],
): BrokerUserSettings {
  const user = users.find(({ subscribe }) =>
    topics.every((topic) => isCoveredByAny(topic, subscribe)),
  );
  if (user !== undefined) return user;
  throw refusal("broker.embedded.users", "one user at least who may subscribe to all that is read");
}

function refusal(key: string, expected: string): UserError {
  return new UserError([{ code: "broker-not-for-listeners", where: "--live", key, expected }]);
}
