/**
 * A panel of ordinary sockets: nobody knows what will be plugged in. While it is live, things are
 * used now and then, for a while; some ask for a button to be pressed first, and somebody does so
 * when they want something. Powers and times are ours, no source.
 *
 * @check test/simulator/plant-loads.test.ts
 */
import { createRandom } from "../weather/random.ts";
import type { Random } from "../weather/random.ts";

export interface SocketsPlantSettings {
  /** Nothing that is plugged in takes more. [W] > 0 */
  readonly largestW: number;
  readonly seed: number;
}

/** Changes in place. */
export interface Sockets {
  readonly settings: SocketsPlantSettings;
  readonly random: Random;
  usedW: number;
  /** Until the present use ends, or the next one begins. [s] */
  leftS: number;
  isPressed: boolean;
}

const MEAN_IDLE_S = 2400;
const MEAN_USE_S = 900;
/** Small things are plugged in more often than large ones. [W] */
const SMALLEST_W = 20;

export function createSockets(settings: SocketsPlantSettings): Sockets {
  const random = createRandom(settings.seed);
  return { settings, random, usedW: 0, leftS: random.exponential(MEAN_IDLE_S), isPressed: false };
}

/** What is in use now; nothing on a dead panel. [W] */
export function socketsPowerW(sockets: Sockets, isLive: boolean): number {
  return isLive ? sockets.usedW : 0;
}

/** What is plugged in stays so; a wish on a dead panel becomes a press of the button. */
export function advanceSockets(sockets: Sockets, isLive: boolean, dtS: number): void {
  sockets.leftS -= dtS;
  sockets.isPressed = false;
  if (sockets.leftS > 0) return;
  if (sockets.usedW > 0) {
    sockets.usedW = 0;
    sockets.leftS = sockets.random.exponential(MEAN_IDLE_S);
    return;
  }
  const share = sockets.random.uniform();
  sockets.usedW = SMALLEST_W + (sockets.settings.largestW - SMALLEST_W) * share * share;
  sockets.leftS = sockets.random.exponential(MEAN_USE_S);
  sockets.isPressed = !isLive;
}
