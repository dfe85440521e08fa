/** Where a running service is asked, as given on the command line. */
import { UserError } from "../errors.ts";

/** @throws UserError unless it is a web address. */
export function serviceAddress(path: string, written: string): URL {
  const base = URL.canParse(written) ? new URL(written) : null;
  if (base !== null && ["http:", "https:"].includes(base.protocol)) return new URL(path, base);
  throw new UserError([
    {
      code: "flag-value",
      where: "--url",
      found: written,
      expected: "a web address such as http://127.0.0.1:8470",
    },
  ]);
}
