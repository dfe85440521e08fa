/** The authorities that the machine itself trusts, which Node 20 does not ask for. */
import { readFile } from "node:fs/promises";

/** Bundles of the common systems, in the order in which they are looked for; from memory. */
const BUNDLES = [
  "/etc/ssl/certs/ca-certificates.crt",
  "/etc/pki/tls/certs/ca-bundle.crt",
  "/etc/ssl/cert.pem",
];

/** @returns PEM of the first bundle there is; null: none, so that Node's own list has to do. */
export async function readSystemAuthorities(): Promise<string | null> {
  // OpenSSL's own variable for another bundle.
  const given = process.env["SSL_CERT_FILE"] ?? "";
  for (const file of given === "" ? BUNDLES : [given]) {
    try {
      return await readFile(file, "utf8");
    } catch {
      // Not here; the next one.
    }
  }
  return null;
}
