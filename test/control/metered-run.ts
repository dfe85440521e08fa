/** A site on whose inverter every running load shows with what it really draws. */
import type { ControlSettings, LoadSettings } from "../../service/control/settings.ts";
import { fresh, Run, site } from "./given.ts";
import type { Scene } from "./given.ts";

export const BASE_W = 300;
/** Above it the start of a load is not a question of power. */
export const PLENTY: Scene = { currentA: 150, arrayW: 8000 };

export class Metered extends Run {
  actualW: readonly number[];
  baseW = BASE_W;

  constructor(
    loads: readonly LoadSettings[],
    actualW: readonly number[],
    over: Partial<ControlSettings> = {},
  ) {
    super(site({ loads, ...over }));
    this.actualW = actualW;
  }

  scene(over: Scene = {}): Scene {
    const drawnW = this.stages.map((stage, index) => (stage > 0 ? (this.actualW[index] ?? 0) : 0));
    return {
      ...PLENTY,
      inverterW: this.baseW + drawnW.reduce((sum, powerW) => sum + powerW, 0),
      loads: this.loads().map((seen, index) =>
        this.settings.loads[index]?.hasMeter === true
          ? { ...seen, powerW: fresh(drawnW[index] ?? 0) }
          : seen,
      ),
      ...over,
    };
  }

  pass(durationMs: number, over: Scene = {}) {
    return this.during(durationMs, () => this.scene(over));
  }

  learnedW(index = 0) {
    return this.memory.loads[index]?.draw.learnedW;
  }
}
