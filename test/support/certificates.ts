/** Certificates made for one test: authorities, servers and clients, valid, expired or wrong. */
import { createHash, generateKeyPairSync } from "node:crypto";
import forge from "node-forge";

/** All PEM. */
export interface Pair {
  readonly certificate: string;
  readonly key: string;
}

export interface Wanted {
  /** Common name; also the name of the certificate where no others are given. */
  readonly name: string;
  /** IP addresses and host names that a server's certificate is for. */
  readonly hosts?: readonly string[];
  /** Days from now until it ends; negative: it has ended. */
  readonly endsInDays?: number;
}

const DAY_MS = 86_400_000;
const IP = /^\d+\.\d+\.\d+\.\d+$/u;

/** An authority that trusts itself. */
export function makeAuthority(name: string): Pair {
  const key = makeKey();
  const certificate = blank({ name }, key);
  certificate.setIssuer(certificate.subject.attributes);
  certificate.setExtensions([
    { name: "basicConstraints", cA: true, critical: true },
    { name: "keyUsage", keyCertSign: true, cRLSign: true, critical: true },
  ]);
  return signed(certificate, { subject: key, issuer: key });
}

export function makeCertificate(authority: Pair, wanted: Wanted): Pair {
  const key = makeKey();
  const certificate = blank(wanted, key);
  const issuer = forge.pki.certificateFromPem(authority.certificate);
  certificate.setIssuer(issuer.subject.attributes);
  const altNames = (wanted.hosts ?? []).map((host) =>
    IP.test(host) ? { type: 7, ip: host } : { type: 2, value: host },
  );
  certificate.setExtensions([
    { name: "basicConstraints", cA: false },
    { name: "keyUsage", digitalSignature: true, keyEncipherment: true },
    { name: "extKeyUsage", serverAuth: true, clientAuth: true },
    ...(altNames.length === 0 ? [] : [{ name: "subjectAltName", altNames }]),
  ]);
  return signed(certificate, { subject: key, issuer: authority.key });
}

function makeKey(): string {
  const { privateKey } = generateKeyPairSync("rsa", { modulusLength: 2048 });
  return privateKey.export({ type: "pkcs1", format: "pem" }).toString();
}

function blank({ name, endsInDays = 30 }: Wanted, keyPem: string): forge.pki.Certificate {
  const certificate = forge.pki.createCertificate();
  const key = forge.pki.privateKeyFromPem(keyPem);
  certificate.publicKey = forge.pki.setRsaPublicKey(key.n, key.e);
  // Positive, without zeros in front, which no reader takes, and another for each key.
  certificate.serialNumber = `01${createHash("sha256").update(keyPem).digest("hex").slice(0, 16)}`;
  certificate.validity.notBefore = new Date(Date.now() - 60 * DAY_MS);
  certificate.validity.notAfter = new Date(Date.now() + endsInDays * DAY_MS);
  certificate.setSubject([{ name: "commonName", value: name }]);
  return certificate;
}

function signed(
  certificate: forge.pki.Certificate,
  keys: { readonly subject: string; readonly issuer: string },
): Pair {
  certificate.sign(forge.pki.privateKeyFromPem(keys.issuer), forge.md.sha256.create());
  return { certificate: forge.pki.certificateToPem(certificate), key: keys.subject };
}
