/** Which page is shown, by the part of the address behind `#`. */
import { useEffect, useState } from "preact/hooks";

export const PAGES = ["now", "days", "times", "events", "signals", "settings"] as const;
export type Page = (typeof PAGES)[number];

export const PAGE_NAMES: Readonly<Record<Page, string>> = {
  now: "Now",
  days: "Days",
  times: "Good times",
  events: "Events",
  signals: "Signals",
  settings: "Settings",
};

export function pageOf(hash: string): Page {
  const name = /^#\/([a-z]+)/u.exec(hash)?.[1];
  return PAGES.find((page) => page === name) ?? "now";
}

/** The local date behind the page's name, as in `#/days/2026-03-02`; null: none. */
export function dateOf(hash: string): string | null {
  return /^#\/days\/(\d{4}-\d{2}-\d{2})$/u.exec(hash)?.[1] ?? null;
}

export interface Place {
  readonly page: Page;
  readonly date: string | null;
}

export function placeOf(hash: string): Place {
  return { page: pageOf(hash), date: dateOf(hash) };
}

export function usePlace(): Place {
  const [place, setPlace] = useState(() => placeOf(location.hash));
  useEffect(() => {
    const onChange = (): void => setPlace(placeOf(location.hash));
    window.addEventListener("hashchange", onChange);
    return () => window.removeEventListener("hashchange", onChange);
  }, []);
  return place;
}
