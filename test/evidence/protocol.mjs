import { createHash } from "node:crypto";
import { readFileSync } from "node:fs";

const FOLDER = new URL("./", import.meta.url);

/** The protocol with the fingerprint of all its files: a table is worth its protocol. */
export function readProtocol() {
  const protocol = JSON.parse(readFileSync(new URL("protocol.json", FOLDER), "utf8"));
  const files = ["protocol.json", ...protocol.sites.flatMap((site) => [site.settings, site.plant])];
  const hash = createHash("sha256");
  for (const name of files)
    hash
      .update(name)
      .update("\0")
      .update(readFileSync(new URL(name, FOLDER)));
  return { ...protocol, hash: hash.digest("hex") };
}

export function pathOf(name) {
  return new URL(name, FOLDER).pathname;
}
