/** Where a request comes from, as the socket says; no header is believed. */
import { BlockList, isIPv6 } from "node:net";

const LOOPBACK = new BlockList();
LOOPBACK.addSubnet("127.0.0.0", 8, "ipv4");
LOOPBACK.addAddress("::1", "ipv6");

/** A program of this machine; also whoever comes through a proxy on it. */
export function isLoopback(address: string): boolean {
  const plain = withoutMapping(address);
  return LOOPBACK.check(plain, isIPv6(plain) ? "ipv6" : "ipv4");
}

/** What counts as one sender: of IPv6 its network, since a machine may take any address in it. */
export function senderOf(address: string): string {
  const plain = withoutMapping(address);
  if (!isIPv6(plain)) return plain;
  const [head = "", tail = ""] = plain.split("::");
  const groups = head.split(":").filter((group) => group !== "");
  const missing = 8 - groups.length - tail.split(":").filter((group) => group !== "").length;
  const zeros = plain.includes("::") ? new Array<string>(missing).fill("0") : [];
  return `${[...groups, ...zeros, ...tail.split(":")].slice(0, 4).join(":")}::/64`;
}

function withoutMapping(address: string): string {
  return address.replace(/^::ffff:(?=\d+\.\d+\.\d+\.\d+$)/iu, "");
}
