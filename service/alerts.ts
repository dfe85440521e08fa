/**
 * What a person should hear of: an alarm, once when it is raised and once when it is over. What is
 * raised while the broker is away is told when it is back, if it still holds; what came and went
 * meanwhile is told to nobody.
 */
import type { SiteSettings } from "../config/site-settings.ts";
import type { EventView } from "./event-view.ts";
import { timestamp } from "./timestamp.ts";

export interface Alert extends Omit<EventView, "change" | "code" | "sentence"> {
  readonly change: "raised" | "cleared";
  readonly code: EventView["code"] | typeof TEST_CODE;
  readonly sentence: string;
  /** Nothing is wrong: somebody tries whether alerts reach a person. */
  readonly isTest: boolean;
}

/** Of the alert that a person asks for; no decision bears it. */
export const TEST_CODE = "alert-test";

/** As grave as a true one, so that it goes wherever those go; nothing is raised, or ends later. */
export function testAlert({ id, label }: SiteSettings, wallMs: number): Alert {
  return {
    at: timestamp(wallMs),
    about: "site",
    id,
    label,
    change: "raised",
    code: TEST_CODE,
    severity: "alarm",
    sentence: `${label}: this is a test, nothing is wrong`,
    isTest: true,
  };
}

export interface Alerts {
  tell(events: readonly EventView[]): void;
  /** Connected anew. */
  up(): void;
}

interface Standing {
  readonly alert: Alert;
  /** On its way, or with the broker. */
  isTold: boolean;
}

/** @param publish - True once the broker has it. */
export function createAlerts(publish: (alert: Alert) => Promise<boolean>): Alerts {
  const standing = new Map<string, Standing>();

  const raise = (one: Standing): void => {
    one.isTold = true;
    void publish(one.alert).then((isDone) => {
      one.isTold = isDone;
    });
  };

  return {
    tell(events) {
      for (const event of events) {
        const { change } = event;
        if (event.severity !== "alarm" || (change !== "raised" && change !== "cleared")) continue;
        const name = `${event.about} ${event.id} ${event.code}`;
        if (change === "raised") {
          const one = {
            alert: { ...event, change, sentence: raisedSentence(event), isTest: false },
            isTold: false,
          };
          standing.set(name, one);
          raise(one);
          continue;
        }
        const before = standing.get(name);
        standing.delete(name);
        if (before?.isTold !== true) continue;
        const sentence = `over: ${before.alert.sentence}`;
        void publish({ ...event, change, sentence, isTest: false });
      }
    },
    up() {
      for (const one of standing.values()) if (!one.isTold) raise(one);
    },
  };
}

function raisedSentence({ label, code, sentence }: EventView): string {
  return `${label}: ${sentence ?? code.replaceAll("-", " ")}`;
}
