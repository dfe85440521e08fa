/** Takes secrets out of what is about to be logged, wherever in it they stand. */

const HIDDEN = "[hidden]";
/** Compared without case; `tokenFile` and the like only say where a secret is. */
const SECRET_KEYS: ReadonlySet<string> = new Set([
  "authorization",
  "cookie",
  "passphrase",
  "password",
  "secret",
  "token",
]);
/** Deeper than anything we log; what lies below is left out, not shown. */
const DEPTH_MAX = 6;

/** @returns A copy in plain data; errors become type, message, stack and code. */
export function withoutSecrets(fields: object): Record<string, unknown> {
  return copyOf(fields, DEPTH_MAX);
}

/** @returns The text without user names and passwords of addresses, and without bearer tokens. */
export function textWithoutSecrets(text: string): string {
  return text
    .replace(/(\b[a-z][a-z0-9+.-]*:\/\/)[^\s/?#]*@/giu, `$1${HIDDEN}@`)
    .replace(/\b(bearer|basic)\s+[\w.~+/-]+=*/giu, `$1 ${HIDDEN}`);
}

function cleaned(value: unknown, depth: number): unknown {
  if (typeof value === "string") return textWithoutSecrets(value);
  if (typeof value !== "object" || value === null) return value;
  if (depth === 0) return "…";
  if (Array.isArray(value)) return value.map((one: unknown) => cleaned(one, depth - 1));
  return copyOf(value, depth);
}

function copyOf(value: object, depth: number): Record<string, unknown> {
  const copy: Record<string, unknown> = {};
  if (value instanceof Error) {
    copy["type"] = value.name;
    copy["message"] = textWithoutSecrets(value.message);
    copy["stack"] = textWithoutSecrets(value.stack ?? "");
    if (value.cause !== undefined) copy["cause"] = cleaned(value.cause, depth - 1);
  }
  for (const [key, inner] of Object.entries(value)) {
    copy[key] = SECRET_KEYS.has(key.toLowerCase()) ? HIDDEN : cleaned(inner, depth - 1);
  }
  return copy;
}
