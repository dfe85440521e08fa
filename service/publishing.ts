/** What the service tells the world over MQTT, under `bywash/<site>/`. No command goes this way. */
import type { SiteSettings } from "../config/site-settings.ts";
import type { Clock } from "./clock.ts";
import { createAdviceTopic } from "./advice-topic.ts";
import { createAlerts, testAlert } from "./alerts.ts";
import type { Alert } from "./alerts.ts";
import type { Decision } from "./control/decision.ts";
import type { Memory } from "./control/memory.ts";
import { eventViews } from "./event-view.ts";
import type { GuidanceView } from "./guidance-view.ts";
import { loadViews, panelViews, siteVerdictView } from "./state-view.ts";
import type { Mode, VerdictView } from "./state-view.ts";
import { timestamp } from "./timestamp.ts";

export interface Announcement {
  readonly topic: string;
  readonly payload: string;
  readonly qos: 0 | 1;
  readonly isRetained: boolean;
  readonly messageExpiryS: null;
}

export interface PublisherOptions {
  readonly site: SiteSettings;
  readonly mode: Mode;
  readonly isTimeSimulated: boolean;
  readonly clock: Clock;
  readonly publish: (message: Announcement) => Promise<boolean>;
}

export interface Publisher {
  /** Connected anew: everything retained is told again. */
  readonly up: () => void;
  readonly tell: (decision: Decision, memory: Memory) => void;
  /** As a true alert goes, once and without its end. */
  readonly testAlert: () => Promise<SentAlert>;
  /** Good times for hand-started appliances. */
  readonly advise: (advice: GuidanceView) => void;
  /** What the site no longer has is taken back from the broker. */
  readonly forget: (next: SiteSettings) => void;
  /** The last word before leaving in good order. */
  readonly offline: () => Promise<boolean>;
}

/** An alert, the topic that it went to, and whether the broker has it. */
export interface SentAlert {
  readonly alert: Alert;
  readonly topic: string;
  readonly isDelivered: boolean;
}

const KEPT = { qos: 1, isRetained: true, messageExpiryS: null } as const;
const ONCE = { qos: 1, isRetained: false, messageExpiryS: null } as const;
const STATE_EVERY_MS = 10_000;
const LOAD_EVERY_MS = 60_000;

export function statusTopic(siteId: string): string {
  return `bywash/${siteId}/status`;
}

export function statusPayload(
  status: "online" | "offline",
  { mode, isTimeSimulated }: Pick<PublisherOptions, "mode" | "isTimeSimulated">,
): string {
  return JSON.stringify({ status, mode, isTimeSimulated });
}

interface Told {
  readonly summary: string;
  readonly atMs: number;
}

export function createPublisher(options: PublisherOptions): Publisher {
  const { site, mode, clock, publish } = options;
  const told = new Map<string, Told>();
  const base = `bywash/${site.id}`;

  const retain = (topic: string, payload: string): Promise<boolean> =>
    publish({ topic, payload, ...KEPT });

  /** Tells if `summary` changed or the last word on `topic` is older than `everyMs`. */
  const tellIfNews = (
    topic: string,
    news: { readonly summary: string; readonly everyMs: number; readonly body: () => object },
  ): void => {
    const before = told.get(topic);
    const nowMs = clock.monotonicMs();
    const isOld = before === undefined || nowMs - before.atMs >= news.everyMs;
    if (!isOld && before.summary === news.summary) return;
    told.set(topic, { summary: news.summary, atMs: nowMs });
    const body = { mode, at: timestamp(clock.wallMs()), site: site.id, ...news.body() };
    void retain(topic, JSON.stringify(body));
  };

  const tellOnce = (topic: string, body: object): Promise<boolean> =>
    publish({ topic, payload: JSON.stringify({ mode, site: site.id, ...body }), ...ONCE });
  const tellAlert = (alert: Alert): Promise<boolean> => tellOnce(alertTopic(site.id), alert);
  const alerts = createAlerts(tellAlert);
  const advice = createAdviceTopic(mode, (payload) => retain(`${base}/guidance`, payload));

  return {
    up() {
      told.clear();
      alerts.up();
      void retain(statusTopic(site.id), statusPayload("online", options));
      advice.up();
    },
    tell(decision, memory) {
      const loads = loadViews(site, decision, { memory, wallMs: clock.wallMs(), mode });
      const panels = panelViews(site, decision);
      for (const load of loads) {
        const { isConfirmed, asked } = load;
        const summary = `${summaryOf([load])} ${isConfirmed} ${asked?.wants ?? ""}`;
        tellIfNews(`${base}/load/${load.id}`, {
          summary,
          everyMs: LOAD_EVERY_MS,
          body: () => load,
        });
      }
      tellIfNews(`${base}/state`, {
        summary: `${codesOf(decision)} ${summaryOf([...loads, ...panels])}`,
        everyMs: STATE_EVERY_MS,
        body: () => ({
          verdict: siteVerdictView(decision.site),
          loads: loads.map(inShort),
          panels: panels.map(inShort),
        }),
      });
      const events = eventViews(site, decision, clock.wallMs());
      for (const event of events) void tellOnce(`${base}/event`, event);
      alerts.tell(events);
    },
    testAlert: () => sendTest(options, tellAlert),
    advise: advice.tell,
    forget(next) {
      advice.forget(next);
      // An empty retained message deletes (MQTT 5, 3.3.1.3).
      for (const id of loadsWithout(next, site)) void retain(`${base}/load/${id}`, "");
    },
    offline: () => retain(statusTopic(site.id), statusPayload("offline", options)),
  };
}

function alertTopic(siteId: string): string {
  return `bywash/${siteId}/alert`;
}

async function sendTest(
  { site, clock }: PublisherOptions,
  tellAlert: (alert: Alert) => Promise<boolean>,
): Promise<SentAlert> {
  const alert = testAlert(site, clock.wallMs());
  return { alert, topic: alertTopic(site.id), isDelivered: await tellAlert(alert) };
}

function loadsWithout(next: SiteSettings, site: SiteSettings): readonly string[] {
  const stays = new Set(next.control.loads.map(({ id }) => id));
  return site.control.loads.map(({ id }) => id).filter((id) => !stays.has(id));
}

function codesOf({ site }: Decision): string {
  return site.findings.map(({ code }) => code).join(" ");
}

function summaryOf(views: readonly VerdictView[]): string {
  return views.map(({ id, code, stage }) => `${id} ${code} ${String(stage)}`).join("; ");
}

function inShort({ id, code, stage }: VerdictView): Pick<VerdictView, "id" | "code" | "stage"> {
  return { id, code, stage };
}
