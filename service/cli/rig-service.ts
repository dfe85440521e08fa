/** The service at the other end of the rig's broker, and how its turn is waited for. */
import { createServer } from "node:net";
import type { SiteSettings } from "../../config/site-settings.ts";
import type { Decided } from "../../simulator/outcome.ts";
import type { Rig } from "../../simulator/rig.ts";
import type { Shed } from "../../simulator/shed.ts";
import type { BrokerAccess } from "../broker/access.ts";
import { createDaemon } from "../daemon.ts";
import { createSteppedClock } from "../stepped-clock.ts";
import type { RigRunOptions, RigService } from "./rig-contract.ts";
import { commandsSeen, waitFor } from "./rig-waiting.ts";

/** In this process, on a clock that only the rig moves. */
export function createHouseService(
  options: RigRunOptions,
  given: { readonly shed: Shed; readonly rig: Rig; readonly access: BrokerAccess },
): RigService {
  const { site, listener, log, version } = options;
  const { shed, rig } = given;
  let decision: Decided | null = null;
  let decisionCount = 0;
  const clock = createSteppedClock(shed.startWallMs);
  const daemonFor = (webPort: number | null) => {
    const daemon = createDaemon({
      site: {
        ...site,
        // The controller, too, has to know whose sun it is.
        control: { ...site.control, ...shed.place },
      },
      recordedTime: shed.calendar,
      clock,
      step: options.step,
      log,
      mode: "active",
      version,
      webPort,
      broker: given.access,
    });
    daemon.onDecision((decided) => {
      decision = decided;
      decisionCount += 1;
      listener.onDecision(decided, shed.calendar(clock.wallMs()));
    });
    return daemon;
  };
  let daemon: ReturnType<typeof daemonFor> | null = null;
  return {
    lastDecision: () => decision,
    decisionCount: () => decisionCount,
    async start() {
      daemon = daemonFor(options.hasWeb ? await freePort(site.web) : null);
      await daemon.start();
      const address = daemon.webAddress();
      const web = address === null ? null : `http://${address.host}:${String(address.port)}`;
      await waitFor("the broker's answer", () => daemon?.isListening() === true);
      return { web };
    },
    async turn(elapsedMs) {
      const running = daemon;
      if (running === null) return;
      await waitFor("telemetry", () => running.received() >= rig.publishedCount());
      clock.advanceTo(elapsedMs);
      await waitFor("a command", () => commandsSeen(rig) >= running.commanded());
    },
    async stop() {
      await daemon?.stop();
    },
  };
}

/** The web server's own port, or 0 for any where that is taken. */
async function freePort({ host, port }: SiteSettings["web"]): Promise<number> {
  const probe = createServer();
  const isFree = await new Promise<boolean>((resolve) => {
    probe.once("error", () => resolve(false));
    probe.listen({ host, port }, () => resolve(true));
  });
  if (!isFree) return 0;
  await new Promise((resolve) => probe.close(resolve));
  return port;
}
