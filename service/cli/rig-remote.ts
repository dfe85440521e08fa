/** The service in a process of its own: the rig's side of `rig-protocol.ts`. */
import type { Decided } from "../../simulator/outcome.ts";
import type { Bus, Rig } from "../../simulator/rig.ts";
import type { Shed } from "../../simulator/shed.ts";
import { systemClock } from "../clock.ts";
import { UserError } from "../errors.ts";
import { within } from "../within.ts";
import type { RigRunOptions, RigService } from "./rig-contract.ts";
import { answerTopic, readFromService, rigTopic } from "./rig-protocol.ts";
import type { FromRig, FromService } from "./rig-protocol.ts";
import { commandsSeen, waitFor } from "./rig-waiting.ts";

/** A person starts it by hand, in a second terminal. [ms] */
const SERVICE_WITHIN_MS = 60_000;
const BEGIN_EVERY_MS = 200;
/** The broker stays there so long for the service's last commands. [ms] */
const LEAVES_WITHIN_MS = 5_000;

type Turned = Extract<FromService, { readonly kind: "turned" }>;

export function createRemoteService(
  options: Pick<RigRunOptions, "site" | "serviceElsewhere">,
  given: {
    readonly shed: Shed;
    readonly rig: Rig;
    readonly bus: Bus;
    readonly run: string;
    readonly brokerUrl: string;
  },
): RigService {
  const { site, serviceElsewhere } = options;
  const { shed, rig, bus, run, brokerUrl } = given;
  let first: FromService | null = null;
  let turned: Turned | null = null;
  let hasLeft = (): void => undefined;
  bus.subscribe([answerTopic(site.id)], ({ topic, payload }) => {
    const said = topic === answerTopic(site.id) ? readFromService(payload) : null;
    if (said?.run !== run) return;
    if (said.kind === "turned") turned = said;
    else if (said.kind === "left") hasLeft();
    else first ??= said;
  });
  const say = (message: FromRig): void =>
    bus.publish(rigTopic(site.id), JSON.stringify(message), { qos: 1, isRetained: false });
  const lastDecision = (): Decided | null => {
    if (turned === null) return null;
    const { loadStages, ruleCurveFraction, loadCodes } = turned;
    const verdicts = loadCodes.map((code) => ({ code }));
    return { loadStages, site: { ruleCurveFraction }, verdicts };
  };
  return {
    lastDecision,
    decisionCount: () => turned?.decisions ?? 0,
    async start() {
      serviceElsewhere?.onWaiting(brokerUrl);
      const { startWallMs, place } = shed;
      const utcOffsetMs = shed.utcOffsetMsAt(0);
      const begin = { startWallMs, utcOffsetMs, tickMs: site.control.tickMs, ...place };
      await firstWord(brokerUrl, () => {
        if (first === null) say({ kind: "begin", run, ...begin });
        return first;
      });
      return { web: null };
    },
    async turn(elapsedMs) {
      const utcOffsetMs = shed.utcOffsetMsAt(elapsedMs);
      say({ kind: "turn", run, elapsedMs, published: rig.publishedCount(), utcOffsetMs });
      await waitFor("the service's answer", () => turned?.elapsedMs === elapsedMs);
      await waitFor("a command", () => commandsSeen(rig) >= (turned?.commands ?? 0));
    },
    async stop() {
      const left = new Promise<void>((resolve) => (hasLeft = resolve));
      say({ kind: "end", run });
      if (first?.kind === "ready") await within(LEAVES_WITHIN_MS, left);
    },
  };
}

/** @throws UserError if the service refuses, or there is none. */
async function firstWord(where: string, ask: () => FromService | null): Promise<void> {
  const startedMs = systemClock.monotonicMs();
  for (let said = ask(); said?.kind !== "ready"; said = ask()) {
    if (said?.kind === "refused") {
      const expected = "a service that takes this rig's steps";
      throw new UserError([{ code: "rig-refused", where, found: said.reason, expected }]);
    }
    if (systemClock.monotonicMs() - startedMs > SERVICE_WITHIN_MS) {
      const found = `no service within ${String(SERVICE_WITHIN_MS / 1000)} s`;
      const expected = `in a second terminal, \`bywash serve --config FILE --rig ${where}\``;
      throw new UserError([{ code: "rig-alone", where, found, expected }]);
    }
    await new Promise((resolve) => systemClock.schedule(BEGIN_EVERY_MS, () => resolve(null)));
  }
}
