/** Which page is shown, by the part of the address behind `#`. */
import { useEffect, useState } from "preact/hooks";

export const PAGES = ["now", "events", "signals"] as const;
export type Page = (typeof PAGES)[number];

export const PAGE_NAMES: Readonly<Record<Page, string>> = {
  now: "Now",
  events: "Events",
  signals: "Signals",
};

export function pageOf(hash: string): Page {
  const name = /^#\/([a-z]+)/u.exec(hash)?.[1];
  return PAGES.find((page) => page === name) ?? "now";
}

export function usePage(): Page {
  const [page, setPage] = useState(() => pageOf(location.hash));
  useEffect(() => {
    const onChange = (): void => setPage(pageOf(location.hash));
    window.addEventListener("hashchange", onChange);
    return () => window.removeEventListener("hashchange", onChange);
  }, []);
  return page;
}
