/**
 * Which names a request may call us by. A page from elsewhere can make a browser send requests here
 * under a name of its own that points to this machine (DNS rebinding); an address in digits can't
 * be made to point elsewhere, so those always pass.
 */
import { isIP } from "node:net";

export function isKnownHost(header: string | undefined, names: ReadonlySet<string>): boolean {
  if (header === undefined) return false;
  const name = hostName(header);
  return name !== null && (isIP(name) !== 0 || names.has(name.toLowerCase()));
}

/** Without port and brackets; null if it is no host at all. */
function hostName(header: string): string | null {
  const match = /^(?:\[([0-9a-fA-F:.]+)\]|([A-Za-z0-9._-]+))(?::\d{1,5})?$/u.exec(header);
  return match?.[1] ?? match?.[2] ?? null;
}
