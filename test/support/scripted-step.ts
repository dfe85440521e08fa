/**
 * A core that wants what the test says, as far as the broker is connected: for tests of the shell,
 * which has to carry out any decision whatever made it.
 */
import type { CoreEvent, Decision, Verdict } from "../../service/control/decision.ts";
import type { Observation } from "../../service/control/observation.ts";
import type { Step } from "../../service/control/step.ts";

interface WantedState {
  readonly loadStages: readonly number[];
  readonly panelsClosed: readonly boolean[];
  /** 1 kW for each stage unless said otherwise. */
  readonly loadPowersW: readonly number[];
  readonly loadWarnings: readonly boolean[];
}

export interface ScriptedStep {
  readonly step: Step;
  want(state: Partial<WantedState>): void;
  /** Events of the next decision. */
  tell(events: readonly CoreEvent[]): void;
  readonly observations: Observation[];
}

export function createScriptedStep(): ScriptedStep {
  let wanted: Partial<WantedState> & Pick<WantedState, "loadStages" | "panelsClosed"> = {
    loadStages: [0, 0],
    panelsClosed: [false],
  };
  let untold: readonly CoreEvent[] = [];
  const observations: Observation[] = [];
  return {
    observations,
    want(state) {
      wanted = { ...wanted, ...state };
    },
    tell(events) {
      untold = events;
    },
    step(memory, observation) {
      observations.push(observation);
      const isUp = observation.isBrokerConnected;
      const decision = decisionOf({
        ...wanted,
        loadStages: wanted.loadStages.map((stage) => (isUp ? stage : 0)),
        panelsClosed: wanted.panelsClosed.map((isClosed) => isUp && isClosed),
      });
      const events = untold;
      untold = [];
      return { memory, decision: { ...decision, events } };
    },
  };
}

export function decisionOf(
  state: Partial<WantedState> & Pick<WantedState, "loadStages" | "panelsClosed">,
): Decision {
  return {
    site: {
      socSource: "monitor",
      socFraction: 0.97,
      chargeStage: "absorption",
      ruleCurveFraction: 0.94,
      outlook: null,
      bandFraction: 0.03,
      batteryPowerW: 300,
      sourcesPowerW: 3000,
      basePowerW: 400,
      claimW: 300,
      availableW: 2300,
      potentialLowW: null,
      potentialW: null,
      potentialHighW: null,
      hiddenLowW: 0,
      hiddenStartW: 0,
      lendableWh: 0,
      inverterHeadroomW: 7000,
      isDaylight: true,
      isFullChargeDue: false,
      isCurtailed: true,
      restVoltageV: 55,
      findings: [],
    },
    loadStages: state.loadStages,
    loadPowersW: state.loadPowersW ?? state.loadStages.map((stage) => 1000 * stage),
    loadWarnings: state.loadWarnings ?? state.loadStages.map(() => false),
    panelsClosed: state.panelsClosed,
    verdicts: state.loadStages.map((stage) => verdictOf(stage)),
    panelVerdicts: state.panelsClosed.map((isClosed) => ({
      ...verdictOf(isClosed ? 1 : 0),
      code: isClosed ? ("panel-closed" as const) : ("panel-idle" as const),
    })),
    events: [],
  };
}

function verdictOf(stage: number): Verdict {
  return {
    code: stage > 0 ? "running" : "waiting-band",
    stage,
    measured: 0.03,
    limit: 0.02,
    remainingMs: null,
  };
}
