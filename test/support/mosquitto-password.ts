import { pbkdf2Sync } from "node:crypto";

/** Mosquitto 2's own notation for PBKDF2 with SHA-512, read from its source, password_mosq.c. */
export function mosquittoPassword(user: string, password: string): string {
  const salt = Buffer.from(user.padEnd(12, "."));
  const hash = pbkdf2Sync(password, salt, 101, 64, "sha512");
  return `${user}:$7$101$${salt.toString("base64")}$${hash.toString("base64")}\n`;
}
