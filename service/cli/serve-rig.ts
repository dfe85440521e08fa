/**
 * A service that lives in a rig's simulated time: the service's side of `rig-protocol.ts`.
 *
 * Its time is what the rig says, and stands still in between. So it leaves as soon as the rig does,
 * or as soon as it hears more of a shed than the rig has published: it must not switch a real one.
 */
import { createLocalCalendar, stampedCalendar } from "../../config/local-calendar.ts";
import type { LocalCalendar, OffsetChange } from "../../config/local-calendar.ts";
import type { SiteSettings } from "../../config/site-settings.ts";
import { accessFrom } from "../broker/access.ts";
import type { BrokerAccess } from "../broker/access.ts";
import type { Decision } from "../control/decision.ts";
import type { Daemon } from "../daemon-contract.ts";
import { UserError } from "../errors.ts";
import type { Log } from "../log.ts";
import type { SiteHistory } from "../site-history.ts";
import { createSteppedClock } from "../stepped-clock.ts";
import type { SteppedClock } from "../stepped-clock.ts";
import { within } from "../within.ts";
import { createShedBus } from "./rig-bus.ts";
import type { ShedBus } from "./rig-bus.ts";
import { answerTopic, readFromRig, rigTopic } from "./rig-protocol.ts";
import type { FromRig, FromService, RigBegin } from "./rig-protocol.ts";
import { waitFor } from "./rig-waiting.ts";

/** A rig that reads a long file between two steps is quiet for seconds. [ms] */
const SILENCE_MAX_MS = 60_000;

export interface FollowedRig {
  readonly clock: SteppedClock;
  readonly recordedTime: LocalCalendar;
  readonly access: BrokerAccess;
  /** The controller has to know whose sun shines in the rig. */
  placed(site: SiteSettings): SiteSettings;
  /** Step after step, until the rig has ended. @throws Error if it cannot be followed further. */
  follow(daemon: Daemon, history: Pick<SiteHistory, "isBehind"> | null): Promise<void>;
  close(): Promise<void>;
}

/** @throws UserError if there is no rig, or one that these settings do not fit. */
export async function awaitRig(
  site: SiteSettings,
  url: string,
  { log, withinMs }: { readonly log: Log; readonly withinMs: number },
): Promise<FollowedRig> {
  refuseOwnBroker(site, url);
  // MQTT 5 would let commands expire, in real seconds: those of a rig are others.
  const access: BrokerAccess = { ...accessFrom(site.broker, url), protocolVersion: 4 };
  const line = createShedBus({ access, clientId: `${site.id}-rig-service`, will: null, log });
  const steps = listen(line, site);
  try {
    await line.open();
    log.warn({ broker: url }, "waiting for a rig, whose simulated time is followed");
    const begin = await firstBegin(steps, { where: url, withinMs });
    const say = (message: FromService): void => {
      const payload = JSON.stringify(message);
      line.bus.publish(answerTopic(site.id), payload, { qos: 1, isRetained: false });
    };
    refuseOtherTick(site, begin, say);
    const { run, startWallMs, latitudeDeg, longitudeDeg } = begin;
    const time = rigTime(site, begin);
    const clock = createSteppedClock(startWallMs);
    return {
      clock,
      access,
      recordedTime: time.calendar,
      placed: (given) => ({
        ...given,
        control: { ...given.control, latitudeDeg, longitudeDeg },
      }),
      follow: (daemon, history) => follow({ daemon, history, clock, time, run, steps, say }),
      async close() {
        say({ kind: "left", run });
        await line.close();
      },
    };
  } catch (error) {
    await line.close();
    throw error;
  }
}

interface RigTime {
  readonly calendar: LocalCalendar;
  /** The record's clocks may be put forward or back on the way. */
  note(turn: { readonly elapsedMs: number; readonly utcOffsetMs: number | null }): void;
}

function rigTime(site: SiteSettings, { startWallMs, utcOffsetMs }: RigBegin): RigTime {
  if (utcOffsetMs === null) {
    return { calendar: createLocalCalendar(site.timeZone), note: () => undefined };
  }
  const changes: OffsetChange[] = [{ fromMs: startWallMs, offsetMs: utcOffsetMs }];
  return {
    calendar: stampedCalendar(changes),
    note({ elapsedMs, utcOffsetMs: offsetMs }) {
      const isChange = offsetMs !== null && offsetMs !== changes.at(-1)?.offsetMs;
      if (isChange) changes.push({ fromMs: startWallMs + elapsedMs, offsetMs });
    },
  };
}

interface Steps {
  /** The next word of a rig, in order; null: none for so long. */
  next(limitMs: number): Promise<FromRig | null>;
}

function listen({ bus }: ShedBus, site: SiteSettings): Steps {
  const waiting: FromRig[] = [];
  let wake = (): void => undefined;
  bus.subscribe([rigTopic(site.id)], ({ payload }) => {
    const said = readFromRig(payload);
    if (said === null) return;
    waiting.push(said);
    wake();
  });
  return {
    async next(limitMs) {
      if (waiting.length === 0) {
        await within(limitMs, new Promise<void>((resolve) => (wake = resolve)));
      }
      return waiting.shift() ?? null;
    },
  };
}

async function firstBegin(
  steps: Steps,
  { where, withinMs }: { readonly where: string; readonly withinMs: number },
): Promise<RigBegin> {
  for (;;) {
    const said = await steps.next(withinMs);
    if (said?.kind === "begin") return said;
    // The end of a rig that was there before.
    if (said !== null) continue;
    const found = `no rig within ${String(withinMs / 1000)} s`;
    const expected = `in a second terminal, \`bywash rig DAYFILE --service elsewhere\` on ${where}`;
    throw new UserError([{ code: "rig-silent", where, found, expected }]);
  }
}

interface Following {
  readonly daemon: Daemon;
  readonly history: Pick<SiteHistory, "isBehind"> | null;
  readonly clock: SteppedClock;
  readonly time: RigTime;
  readonly run: string;
  readonly steps: Steps;
  readonly say: (message: FromService) => void;
}

async function follow({ daemon, history, clock, time, run, steps, say }: Following): Promise<void> {
  let last: Decision | null = null;
  let decisions = 0;
  daemon.onDecision((decision) => {
    last = decision;
    decisions += 1;
  });
  await waitFor("the broker's answer", () => daemon.isListening());
  say({ kind: "ready", run });
  for (;;) {
    const said = await steps.next(SILENCE_MAX_MS);
    if (said === null) {
      throw new Error(`the rig has said nothing for ${String(SILENCE_MAX_MS / 1000)} s`);
    }
    if (said.run !== run || said.kind === "begin") continue;
    if (said.kind === "end") return;
    await waitFor("telemetry", () => daemon.received() >= said.published);
    const more = daemon.received() - said.published;
    if (more > 0) {
      throw new Error(
        `${String(more)} messages came on the shed's topics that the rig has not sent: a service ` +
          "in simulated time must not hear a real shed",
      );
    }
    time.note(said);
    clock.advanceTo(said.elapsedMs);
    await waitFor("what was kept", () => history?.isBehind() !== true);
    const commands = daemon.commanded();
    const { elapsedMs } = said;
    say({ kind: "turned", run, elapsedMs, commands, decisions, ...decidedBy(last) });
  }
}

function decidedBy(decision: Decision | null) {
  if (decision === null) throw new Error("the rig's step has brought no decision");
  const { loadStages, site, verdicts } = decision;
  return {
    loadStages: [...loadStages],
    ruleCurveFraction: site.ruleCurveFraction,
    loadCodes: verdicts.map(({ code }) => code),
  };
}

/** Where the settings themselves live, the real shed does. */
function refuseOwnBroker({ broker }: SiteSettings, url: string): void {
  if (broker.url !== null && placeOf(broker.url) === placeOf(url)) {
    throw new UserError([
      {
        code: "rig-own-broker",
        where: "--rig",
        found: `${url}, the broker of the site itself`,
        expected: "a broker on which nothing real can be switched",
        suggestion: "`bywash rig DAYFILE --service elsewhere` brings one and says its address",
      },
    ]);
  }
}

/** Host and port, where they are written as an address. */
function placeOf(url: string): string {
  if (!URL.canParse(url)) return url;
  const { hostname, port, protocol } = new URL(url);
  const usual = protocol === "mqtts:" ? "8883" : "1883";
  return `${hostname}:${port === "" ? usual : port}`;
}

function refuseOtherTick(
  { control }: SiteSettings,
  { run, tickMs }: RigBegin,
  say: (message: FromService) => void,
): void {
  if (control.tickMs === tickMs) return;
  const [own, rigs] = [control.tickMs, tickMs].map((ms) => `${String(ms / 1000)} s`);
  say({ kind: "refused", run, reason: `the service decides every ${own ?? ""}` });
  throw new UserError([
    {
      code: "rig-tick",
      where: "site.tick",
      found: own ?? "",
      expected: `${rigs ?? ""}, the step of the rig`,
      suggestion: `--set "site.tick=${rigs ?? ""}"`,
    },
  ]);
}
