/** Advice on hand-started appliances for people and programs. */
import type { LocalInstant } from "./control/guidance/prospect.ts";
import type { SiteSettings } from "../config/site-settings.ts";
import type { DayAdvice, Light, PlacedStart, Stretch } from "./control/guidance/advice.ts";
import { runMs, runWh, greatestPowerW } from "./control/guidance/appliance.ts";
import type { Appliance } from "./control/guidance/appliance.ts";
import {
  clockText,
  explainConfidence,
  explainCost,
  explainLight,
  explainRefusal,
} from "./control/guidance/explain-guidance.ts";
import { CONFIDENCE_CODES } from "./control/guidance/guidance-codes.ts";
import type {
  AdviceCode,
  ConfidenceCode,
  ConfidenceLevel,
  RefusalCode,
} from "./control/guidance/guidance-codes.ts";
import { confidenceIn } from "./control/guidance/guidance.ts";
import type { ApplianceAdvice, Guidance, GuidanceInput } from "./control/guidance/guidance.ts";
import type { Grade, Start } from "./control/guidance/starts.ts";
import { horizonOf, kindOf } from "./control/guidance/time-kinds.ts";
import { daysToTell } from "./control/guidance/times-trust.ts";
import { itemAt } from "./control/item-at.ts";
import { dayText } from "./local-days.ts";
import { timestamp } from "./timestamp.ts";

export interface ConfidenceView {
  readonly code: ConfidenceCode;
  readonly level: ConfidenceLevel;
  /** Days on which such times were said before, and on how many they came true. */
  readonly before: { readonly saidDays: number; readonly trueDays: number } | null;
  readonly sentence: string;
}

/** What a start would come to. */
export interface CostView {
  readonly grade: Grade;
  /** Most that would be missing below the rule curve, and is not without it. [1] ≥ 0 */
  readonly missingFraction: number;
  readonly cautiousMissingFraction: number;
  /** Straight from the sources, not through the battery. [1] 0…1 */
  readonly sunFraction: number;
  /** What opportunity loads would have had of it. [Wh] ≥ 0 */
  readonly takenWh: number;
  readonly sentence: string;
}

export interface StretchView {
  /** RFC 3339, UTC. */
  readonly from: string;
  /** Not included. */
  readonly to: string;
  /** The same by the site's clock, such as 11:40; midnight at the end is 24:00. */
  readonly fromLocal: string;
  readonly toLocal: string;
  readonly grade: Grade;
}

export interface BestView {
  readonly at: string;
  /** By the site's clock. */
  readonly local: string;
  readonly confidence: ConfidenceView | null;
  readonly cost: CostView;
}

export interface DayAdviceView {
  /** Local date, YYYY-MM-DD. */
  readonly date: string;
  /** Of starts that lie in it, as far as the outlook reaches. */
  readonly stretches: readonly StretchView[];
  /** null: no start on that day is good. */
  readonly best: BestView | null;
}

export interface ApplianceView {
  readonly id: string;
  readonly label: string;
  readonly energyWh: number;
  readonly powerMaxW: number;
  readonly runS: number;
  readonly code: AdviceCode;
  readonly sentence: string;
  /** Start that the sentence points to; null: it points to none. */
  readonly at: string | null;
  /** Of that start. */
  readonly confidence: ConfidenceView | null;
  /** What it would come to if it were started now. */
  readonly now: CostView;
  readonly days: readonly DayAdviceView[];
}

export interface GuidanceView {
  readonly formatVersion: 1;
  /** When it was worked out. RFC 3339, UTC. */
  readonly at: string;
  readonly site: { readonly id: string; readonly label: string };
  /** Why there is no advice; null: there is. */
  readonly refusal: { readonly code: RefusalCode; readonly sentence: string } | null;
  /** Days of sky on record. */
  readonly recordDays: number;
  readonly isCurveFixed: boolean;
  /** Empty with a refusal. */
  readonly appliances: readonly ApplianceView[];
}

export interface GuidanceSource {
  readonly site: SiteSettings;
  readonly wallMs: number;
  readonly localTime: (wallMs: number) => LocalInstant;
  readonly guidance: Guidance;
  /** What it was worked out from; null: nothing was decided yet. */
  readonly input: GuidanceInput | null;
}

export function buildGuidanceView(source: GuidanceSource): GuidanceView {
  const { site, guidance, wallMs, input } = source;
  const { refusal, recordDays } = guidance;
  return {
    formatVersion: 1,
    at: timestamp(wallMs),
    site: { id: site.id, label: site.label },
    refusal: refusal === null ? null : { code: refusal.code, sentence: explainRefusal(refusal) },
    recordDays,
    isCurveFixed: site.control.ruleCurve.kind === "fixed",
    appliances:
      input === null
        ? []
        : guidance.advice.map((advice, index) =>
            applianceView(itemAt(site.appliances, index), advice, { source, input }),
          ),
  };
}

interface Context {
  readonly source: GuidanceSource;
  readonly input: GuidanceInput;
}

function applianceView(
  appliance: Appliance,
  { light, now, days }: ApplianceAdvice,
  context: Context,
): ApplianceView {
  return {
    id: appliance.id,
    label: appliance.label,
    energyWh: runWh(appliance),
    powerMaxW: greatestPowerW(appliance),
    runS: runMs(appliance) / 1000,
    code: light.code,
    sentence: explainLight(light, context.source.localTime),
    at: light.to === null ? null : timestamp(light.to.atMs),
    confidence: confidenceOf(light, context),
    now: costView(now),
    days: days.map((day) => dayView(day, context)),
  };
}

function confidenceOf({ to }: Light, context: Context): ConfidenceView | null {
  return to === null ? null : confidenceView(to, context);
}

function confidenceView(placed: PlacedStart, { source, input }: Context): ConfidenceView | null {
  const { start, atMs } = placed;
  const code = confidenceIn(start, atMs, input);
  if (code === null) return null;
  const kind = kindOf(horizonOf(atMs, input), start.holdsInDoubt);
  const days = start.grade === "good" ? daysToTell(input.times, kind) : null;
  return {
    code,
    level: CONFIDENCE_CODES[code].level,
    before: days === null ? null : { saidDays: days.said, trueDays: days.kept },
    sentence: explainConfidence(code, source.guidance.recordDays, days),
  };
}

function costView(start: Start): CostView {
  return {
    grade: start.grade,
    missingFraction: start.middleMissing,
    cautiousMissingFraction: start.cautiousMissing,
    sunFraction: start.sunShare,
    takenWh: start.takenWh,
    sentence: explainCost(start),
  };
}

function dayView({ localDay, stretches, best }: DayAdvice, context: Context): DayAdviceView {
  return {
    date: dayText(localDay),
    stretches: stretches.map((stretch) => stretchView(stretch, context)),
    best:
      best === null
        ? null
        : {
            at: timestamp(best.atMs),
            local: clockText(context.source.localTime(best.atMs)),
            confidence: confidenceView(best, context),
            cost: costView(best.start),
          },
  };
}

const MIDNIGHT = "00:00";

function stretchView({ fromMs, toMs, grade }: Stretch, { source }: Context): StretchView {
  const toLocal = clockText(source.localTime(toMs));
  return {
    from: timestamp(fromMs),
    to: timestamp(toMs),
    fromLocal: clockText(source.localTime(fromMs)),
    toLocal: toLocal === MIDNIGHT ? "24:00" : toLocal,
    grade,
  };
}
