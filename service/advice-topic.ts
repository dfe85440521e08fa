/** The retained advice on hand-started appliances, told again to a broker that has come back. */
import type { SiteSettings } from "../config/site-settings.ts";
import type { GuidanceView } from "./guidance-view.ts";
import type { Mode } from "./state-view.ts";

export interface AdviceTopic {
  readonly up: () => void;
  readonly tell: (advice: GuidanceView) => void;
  readonly forget: (next: SiteSettings) => void;
}

/** @param retain - An empty text takes back what was told. */
export function createAdviceTopic(mode: Mode, retain: (payload: string) => unknown): AdviceTopic {
  let last: GuidanceView | null = null;
  const tell = (advice: GuidanceView): void => {
    last = advice;
    const { at, site, refusal, recordDays, isCurveFixed, appliances } = advice;
    const body = { mode, at, site: site.id, refusal, recordDays, isCurveFixed, appliances };
    retain(JSON.stringify(body));
  };
  return {
    up() {
      if (last !== null) tell(last);
    },
    tell,
    forget(next) {
      if (last !== null && next.appliances.length === 0) retain("");
    },
  };
}
