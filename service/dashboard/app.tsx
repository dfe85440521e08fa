/** The frame of all pages: the site's name, the ways to the pages, and how old it all is. */
import { useEffect, useLayoutEffect, useMemo, useRef, useState } from "preact/hooks";
import type { SiteView } from "../site-view.ts";
import { ask } from "./api.ts";
import { after } from "./browser-clock.ts";
import { DaysPage } from "./days/days-page.tsx";
import { EventsPage } from "./events/events-page.tsx";
import { createFormat } from "./format.ts";
import type { Format } from "./format.ts";
import { listen, NOTHING_YET } from "./live.ts";
import type { Live } from "./live.ts";
import { NowPage } from "./now/now-page.tsx";
import { PAGE_NAMES, PAGES, usePlace } from "./router.ts";
import type { Page, Place } from "./router.ts";
import { useSession } from "./session/session.ts";
import type { Session } from "./session/session.ts";
import { SignInButton } from "./session/sign-in.tsx";
import type { Changes } from "./settings/proposal.ts";
import { SettingsPage } from "./settings/settings-page.tsx";
import { useUnits } from "./units/choice.ts";
import { UnitsBar } from "./units/units-bar.tsx";
import { SignalsPage } from "./signals/signals-page.tsx";
import { TimesPage } from "./times/times-page.tsx";

export function App() {
  const place = usePlace();
  const { page } = place;
  const [live, setLive] = useState<Live>(NOTHING_YET);
  useEffect(() => listen(setLive), []);
  const session = useSession();
  const { state } = live;
  const site = useSite(state === null ? null : state.counters.tickCount === 0, session.isSignedIn);
  const [units, chooseUnits] = useUnits();
  const timeZone = site?.timeZone ?? "UTC";
  const format = useMemo(
    () => createFormat({ locale: undefined, timeZone, units }),
    [timeZone, units],
  );
  const main = useFocusOnChange(page);
  const title = PAGE_NAMES[page];
  useEffect(() => {
    document.title = site === null ? "Bywash" : `${title} · ${site.label}`;
  }, [title, site]);
  return (
    <>
      <a class="skip" href="#content">
        Skip to the content
      </a>
      <Masthead {...{ site, page, live, session, format }} />
      <main id="content" ref={main} tabIndex={-1} class={live.isStale ? "stale" : ""}>
        <StaleNotice live={live} format={format} />
        <TimeNotice live={live} />
        {site === null || state === null ? (
          <Early session={session} />
        ) : (
          <PageBody {...{ place, site, live, session, format }} />
        )}
      </main>
      <footer>
        <UnitsBar units={units} choose={chooseUnits} />
      </footer>
    </>
  );
}

interface FrameProps {
  readonly site: SiteView | null;
  readonly page: Page;
  readonly live: Live;
  readonly session: Session;
  readonly format: Format;
}

/** From another machine the service shows nothing to whom it does not know. */
function Early({ session }: { readonly session: Session }) {
  return (
    <>
      <p class="early" role="heading" aria-level={1}>
        Asking the service…
      </p>
      {session.isSignedIn === false ? (
        <p class="early">From another machine it shows nothing before you have signed in.</p>
      ) : null}
    </>
  );
}

function Masthead({ site, page, live, session, format }: FrameProps) {
  return (
    <header class="masthead">
      <p class="site">{site?.label ?? "Bywash"}</p>
      <nav aria-label="Pages">
        {PAGES.map((name) => (
          <a key={name} href={`#/${name}`} aria-current={name === page ? "page" : undefined}>
            {PAGE_NAMES[name]}
          </a>
        ))}
      </nav>
      <p class={`age ${live.isStale ? "old" : "fresh"}`}>{ageText(live, format)}</p>
      <SignInButton session={session} />
    </header>
  );
}

function ageText({ state, isStale, silentS }: Live, format: Format): string {
  if (state === null) return isStale ? "no answer" : "asking";
  const at = `${format.day(state.at)} ${format.time(state.at)}`;
  return isStale ? `${at}, ${format.span(silentS ?? 0)} old` : `${at}, live`;
}

function StaleNotice({ live, format }: { readonly live: Live; readonly format: Format }) {
  const { isStale, silentS } = live;
  const words =
    silentS === null
      ? "The service does not answer. Trying again."
      : `The service has not been heard for ${format.span(silentS)}. What is shown is old.`;
  return <div role="alert">{isStale ? <p class="alert alarm">{words}</p> : null}</div>;
}

/** Nobody must take a demo for his own shed. */
function TimeNotice({ live }: { readonly live: Live }) {
  if (live.state?.isTimeSimulated !== true) return null;
  return (
    <p class="alert note simulated">
      <strong>Simulated time</strong> This is a demo or a rig: its clock is not yours, and no real
      shed is switched.
    </p>
  );
}

const NO_CHANGES: Changes = new Map();

interface BodyProps extends Pick<FrameProps, "live" | "session" | "format"> {
  readonly place: Place;
  readonly site: SiteView;
}

function PageBody({ place, site, live, session, format }: BodyProps) {
  const [handedOver, handOver] = useState<Changes>(NO_CHANGES);
  if (live.state === null) return null;
  switch (place.page) {
    case "now":
      return <NowPage site={site} state={live.state} session={session} format={format} />;
    case "days":
      return (
        <DaysPage date={place.date} state={live.state} {...{ site, session, format, handOver }} />
      );
    case "times":
      return <TimesPage format={format} />;
    case "events":
      return <EventsPage events={live.events} format={format} hasHistory={site.hasHistory} />;
    case "signals":
      return <SignalsPage state={live.state} session={session} format={format} />;
    case "settings":
      return (
        <SettingsPage
          session={session}
          handedOver={{ changes: handedOver, take: () => handOver(NO_CHANGES) }}
        />
      );
  }
}

const ASK_AGAIN_MS = 5_000;

/** Asked for again until it is there, and when the service was started anew. */
function useSite(isNew: boolean | null, isSignedIn: boolean | null): SiteView | null {
  const [site, setSite] = useState<SiteView | null>(null);
  const [attempt, setAttempt] = useState(0);
  useEffect(() => {
    let cancel = (): void => undefined;
    ask("/api/site").then(setSite, () => {
      cancel = after(ASK_AGAIN_MS, () => setAttempt((count) => count + 1));
    });
    return () => cancel();
  }, [attempt, isNew, isSignedIn]);
  return site;
}

/**
 * After a change of page a screen reader goes on at its beginning, not in the old link: moved
 * together with the content, before it is painted, so that no key goes to what is gone.
 */
function useFocusOnChange(page: Page) {
  const main = useRef<HTMLElement>(null);
  const shown = useRef(page);
  useLayoutEffect(() => {
    if (shown.current === page) return;
    shown.current = page;
    main.current?.focus({ preventScroll: true });
    window.scrollTo(0, 0);
  }, [page]);
  return main;
}
