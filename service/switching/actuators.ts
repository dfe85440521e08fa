/**
 * Sends what the core decided, and nothing else.
 *
 * The rules that keep a late or forgotten ON from doing harm:
 * - the first message after every connect is OFF, for every actuator of that connection;
 * - ON is sent again every `repeatMs`, so that an actuator that hears nothing drops by itself;
 * - ON expires in the broker within the hold time (MQTT 5), OFF never expires;
 * - nothing is queued: a command that cannot be sent now is not sent later;
 * - if decisions stop coming, ON stops being repeated and OFF is sent.
 * No command is ever retained, none toggles, and each may arrive twice.
 */
import type { ActuatorSettings } from "../../config/site-settings.ts";
import type { Clock } from "../clock.ts";
import type { Log } from "../log.ts";
import { actuatorPrint, payloadOf } from "./links.ts";
import type { CommandLink } from "./links.ts";

export interface WantedState {
  readonly loadStages: readonly number[];
  /** Set-point of each load whose power can be set; of the others it is not read. [W] */
  readonly loadPowersW: readonly number[];
  /** Lamp or sounder of each load. */
  readonly loadWarnings: readonly boolean[];
  readonly panelsClosed: readonly boolean[];
}

export interface SwitchingOptions {
  readonly links: readonly CommandLink[];
  readonly clock: Clock;
  readonly log: Log;
  /** An ON is not repeated once the last decision is older than this. [ms] */
  readonly decisionMaxAgeMs: number;
  readonly onAnswer?: (answer: CommandAnswer) => void;
}

/** What the broker answered to a command that was new, not a repeat. */
export interface CommandAnswer {
  readonly actuator: ActuatorSettings;
  readonly stage: number;
  readonly isAcknowledged: boolean;
  /** [ms] ≥ 0 */
  readonly tookMs: number;
}

export interface Switching {
  /** The link of this client is connected: everything on it is told OFF. */
  linkUp(clientId: string): void;
  linkDown(clientId: string): void;
  /**
   * Other actuators from now on. One that is told the same things over the same link stays at what
   * it is; the others are told OFF, those that go and those that come.
   *
   * @returns Resolves when those that go have acknowledged their OFF, or cannot.
   */
  refit(links: readonly CommandLink[], decisionMaxAgeMs: number): Promise<void>;
  apply(wanted: WantedState): void;
  /** Nothing is switched on after this. @returns True if every OFF was acknowledged. */
  allOff(): Promise<boolean>;
  sentCount(): number;
}

/** OFF is sent once, and this often again. */
const OFF_REPEATS = 2;

interface Actuator {
  readonly settings: ActuatorSettings;
  readonly link: CommandLink;
  /** What was last sent over the present connection. */
  stage: number;
  /** Set-point that the next repeat carries, and the one that was sent. [W] */
  powerW: number;
  sentPowerW: number;
  cancelRepeat: () => void;
}

interface Room {
  readonly options: SwitchingOptions;
  actuators: readonly Actuator[];
  /** Clients whose links are up. */
  readonly linksUp: Set<string>;
  decisionMaxAgeMs: number;
  decidedAtMs: number;
  sentCount: number;
  isClosed: boolean;
}

export function createSwitching(options: SwitchingOptions): Switching {
  const room: Room = {
    options,
    actuators: options.links.flatMap(actuatorsOn),
    linksUp: new Set(),
    decisionMaxAgeMs: options.decisionMaxAgeMs,
    decidedAtMs: options.clock.monotonicMs(),
    sentCount: 0,
    isClosed: false,
  };
  return {
    linkUp(clientId) {
      room.linksUp.add(clientId);
      const own = room.actuators.filter(({ link }) => link.plan.clientId === clientId);
      for (const actuator of loadsFirst(own)) void command(room, actuator, OFF);
    },
    linkDown(clientId) {
      room.linksUp.delete(clientId);
      for (const actuator of room.actuators) {
        if (actuator.link.plan.clientId !== clientId) continue;
        actuator.cancelRepeat();
        actuator.stage = 0;
        actuator.powerW = 0;
      }
    },
    refit(links, decisionMaxAgeMs) {
      room.decisionMaxAgeMs = decisionMaxAgeMs;
      return refit(room, links);
    },
    apply: (wanted) => apply(room, wanted),
    async allOff() {
      room.isClosed = true;
      const answers = loadsFirst(room.actuators).map((actuator) => command(room, actuator, OFF));
      return (await Promise.all(answers)).every((isDone) => isDone);
    },
    sentCount: () => room.sentCount,
  };
}

function actuatorsOn(link: CommandLink): Actuator[] {
  return link.plan.actuators.map((settings) => ({
    settings,
    link,
    stage: 0,
    powerW: 0,
    sentPowerW: 0,
    cancelRepeat: () => undefined,
  }));
}

async function refit(room: Room, links: readonly CommandLink[]): Promise<void> {
  const gone = new Set(room.actuators);
  const next = links.flatMap(actuatorsOn).map((fresh) => {
    const same = room.actuators.find((one) => printOf(one) === printOf(fresh));
    if (same === undefined) return fresh;
    gone.delete(same);
    same.cancelRepeat();
    const { stage, powerW, sentPowerW } = same;
    return { ...fresh, stage, powerW, sentPowerW };
  });
  const farewells = loadsFirst([...gone]).map((actuator) => {
    const answer = command(room, actuator, OFF);
    actuator.cancelRepeat();
    return answer;
  });
  const before = new Set(room.actuators.map(printOf));
  room.actuators = next;
  for (const actuator of loadsFirst(next)) {
    if (!before.has(printOf(actuator))) void command(room, actuator, OFF);
    else if (actuator.stage > 0) planOn(room, actuator);
  }
  await Promise.all(farewells);
}

function printOf({ settings, link }: Actuator): string {
  return actuatorPrint(link.plan, settings);
}

interface Wanted {
  readonly stage: number;
  readonly powerW: number;
}

interface Change extends Wanted {
  readonly actuator: Actuator;
}

/**
 * Loads leave before the contactor that feeds them opens; it closes before they come. What takes
 * less goes before what takes more.
 */
function apply(room: Room, wanted: WantedState): void {
  if (room.isClosed) return;
  room.decidedAtMs = room.options.clock.monotonicMs();
  const all: readonly Change[] = room.actuators
    .filter((actuator) => isReachable(room, actuator))
    .map((actuator) => ({ actuator, ...wantedOf(actuator.settings, wanted) }));
  // A change that is too small to be sent at once goes along with the next repeat.
  for (const { actuator, powerW } of all) actuator.powerW = powerW;
  const changes = all.filter(isToBeSent);
  const isPanel = ({ actuator }: Change): boolean => actuator.settings.kind === "panel";
  const isLess = ({ actuator, stage, powerW }: Change): boolean =>
    stage < actuator.stage || (stage === actuator.stage && powerW < actuator.sentPowerW);
  const less = changes.filter(isLess);
  const more = changes.filter((change) => !isLess(change));
  const inOrder = [
    ...less.filter((change) => !isPanel(change)),
    ...less.filter(isPanel),
    ...more.filter(isPanel),
    ...more.filter((change) => !isPanel(change)),
  ];
  for (const { actuator, stage, powerW } of inOrder)
    void command(room, actuator, { stage, powerW });
}

function isToBeSent({ actuator, stage, powerW }: Change): boolean {
  if (stage !== actuator.stage) return true;
  const { setPoint } = actuator.settings;
  if (setPoint === null || stage === 0) return false;
  return Math.abs(powerW - actuator.sentPowerW) >= setPoint.stepW;
}

const OFF: Wanted = { stage: 0, powerW: 0 };

function wantedOf(settings: ActuatorSettings, wanted: WantedState): Wanted {
  const { kind, index, setPoint } = settings;
  if (kind === "panel") return { stage: wanted.panelsClosed[index] === true ? 1 : 0, powerW: 0 };
  if (kind === "warning") return { stage: wanted.loadWarnings[index] === true ? 1 : 0, powerW: 0 };
  const stage = wanted.loadStages[index] ?? 0;
  if (setPoint === null) return { stage, powerW: 0 };
  const powerW = wanted.loadPowersW[index] ?? 0;
  return stage > 0 && powerW > 0 ? { stage, powerW } : OFF;
}

function command(room: Room, actuator: Actuator, wanted: Wanted): Promise<boolean> {
  actuator.cancelRepeat();
  actuator.stage = wanted.stage;
  actuator.powerW = wanted.powerW;
  if (wanted.stage === 0) planOff(room, actuator, OFF_REPEATS);
  else planOn(room, actuator);
  const { clock, onAnswer } = room.options;
  const sentAtMs = clock.monotonicMs();
  const { settings, stage } = actuator;
  return send(room, actuator).then((isAcknowledged) => {
    const tookMs = clock.monotonicMs() - sentAtMs;
    onAnswer?.({ actuator: settings, stage, isAcknowledged, tookMs });
    return isAcknowledged;
  });
}

function planOn(room: Room, actuator: Actuator): void {
  const { clock, log } = room.options;
  actuator.cancelRepeat = clock.schedule(actuator.settings.repeatMs, () => {
    if (clock.monotonicMs() - room.decidedAtMs > room.decisionMaxAgeMs) {
      log.error({ actuator: actuator.settings.id }, "no decision for too long; switched off");
      void command(room, actuator, OFF);
      return;
    }
    planOn(room, actuator);
    void send(room, actuator);
  });
}

function planOff(room: Room, actuator: Actuator, repeatsLeft: number): void {
  actuator.cancelRepeat = () => undefined;
  if (repeatsLeft === 0 || room.isClosed) return;
  actuator.cancelRepeat = room.options.clock.schedule(actuator.settings.repeatMs, () => {
    planOff(room, actuator, repeatsLeft - 1);
    void send(room, actuator);
  });
}

function send(room: Room, actuator: Actuator): Promise<boolean> {
  const { settings, stage, link, powerW } = actuator;
  // Outside the promise: a stage that does not exist must stop the tick that wanted it.
  const payload = payloadOf(settings, stage, powerW);
  if (!isReachable(room, actuator)) return Promise.resolve(false);
  actuator.sentPowerW = powerW;
  room.sentCount += 1;
  const answer = link.publish({
    topic: settings.topic,
    payload,
    qos: 1,
    isRetained: false,
    messageExpiryS: stage === 0 ? null : expiryS(settings),
  });
  return answer.then((isDone) => {
    if (!isDone) {
      room.options.log.warn({ actuator: settings.id, stage }, "command was not acknowledged");
    }
    return isDone;
  });
}

/** Whole seconds, as MQTT 5 counts them, and never longer than the hold time where that allows. */
function expiryS(settings: ActuatorSettings): number {
  return Math.max(1, Math.floor(settings.holdMs / 1000));
}

function isReachable(room: Room, { link }: Actuator): boolean {
  return room.linksUp.has(link.plan.clientId);
}

function loadsFirst(actuators: readonly Actuator[]): readonly Actuator[] {
  const isPanel = ({ settings }: Actuator): boolean => settings.kind === "panel";
  return [...actuators.filter((actuator) => !isPanel(actuator)), ...actuators.filter(isPanel)];
}
