/** Why a broker cannot be reached, in words that say what to look at. */

/** Codes of Node, OpenSSL and the system; the texts follow what each means for this connection. */
const BY_CODE: ReadonlyMap<string, string> = new Map(
  Object.entries({
    ECONNREFUSED: "nothing listens at that address",
    ECONNRESET: "the broker cut the connection",
    EPIPE: "the broker cut the connection",
    ETIMEDOUT: "no answer from that address",
    EHOSTUNREACH: "the network does not lead to that address",
    ENETUNREACH: "the network does not lead to that address",
    ENOTFOUND: "its name is not known",
    EAI_AGAIN: "its name could not be looked up",
    UNABLE_TO_VERIFY_LEAF_SIGNATURE: "the broker's certificate is signed by nobody we trust",
    UNABLE_TO_GET_ISSUER_CERT: "the broker's certificate is signed by nobody we trust",
    UNABLE_TO_GET_ISSUER_CERT_LOCALLY: "the broker's certificate is signed by nobody we trust",
    SELF_SIGNED_CERT_IN_CHAIN: "the broker's certificate is signed by nobody we trust",
    DEPTH_ZERO_SELF_SIGNED_CERT: "the broker's certificate is signed by nobody we trust",
    CERT_SIGNATURE_FAILURE: "the broker's certificate is signed by nobody we trust",
    CERT_HAS_EXPIRED: "the broker's certificate has expired, or this clock is wrong",
    CERT_NOT_YET_VALID: "the broker's certificate is not valid yet, or this clock is wrong",
    CERT_REVOKED: "the broker's certificate was revoked",
    ERR_TLS_CERT_ALTNAME_INVALID: "the broker's certificate is for another name",
    ERR_SSL_WRONG_VERSION_NUMBER: "the broker does not speak TLS on that port",
    ERR_SSL_PACKET_LENGTH_TOO_LONG: "the broker does not speak TLS on that port",
    EPROTO: "the broker does not speak TLS on that port",
    ERR_SSL_UNSUPPORTED_PROTOCOL: "the broker's TLS is too old (1.2 is the least)",
    ERR_SSL_TLSV1_ALERT_PROTOCOL_VERSION: "the broker's TLS is too old (1.2 is the least)",
    ERR_SSL_TLSV13_ALERT_CERTIFICATE_REQUIRED: "the broker wants a certificate of ours",
    ERR_SSL_SSLV3_ALERT_HANDSHAKE_FAILURE: "the broker refused TLS; it may want a certificate",
    ERR_SSL_TLSV1_ALERT_UNKNOWN_CA: "the broker does not trust our certificate",
    ERR_SSL_SSLV3_ALERT_BAD_CERTIFICATE: "the broker does not accept our certificate",
    ERR_SSL_SSLV3_ALERT_CERTIFICATE_UNKNOWN: "the broker does not accept our certificate",
    ERR_SSL_SSLV3_ALERT_CERTIFICATE_EXPIRED: "our own certificate has expired",
    ERR_SSL_SSLV3_ALERT_CERTIFICATE_REVOKED: "our own certificate was revoked",
  }),
);

/** MQTT 3.1.1, table 3.1, and MQTT 5.0, 3.2.2.2 (OASIS Standards): connect reason codes. */
const BY_REASON: ReadonlyMap<number, string> = new Map([
  [1, "the broker does not speak this version of MQTT"],
  [2, "the broker refuses our client id"],
  [3, "the broker says that it is not available"],
  [4, "the broker refuses the user name or the password"],
  [5, "the broker does not let us in: user name or password?"],
  [0x84, "the broker does not speak this version of MQTT"],
  [0x85, "the broker refuses our client id"],
  [0x86, "the broker refuses the user name or the password"],
  [0x87, "the broker does not let us in: user name or password?"],
  [0x88, "the broker says that it is not available"],
  [0x89, "the broker is busy"],
  [0x8a, "the broker has shut us out"],
]);

/** @param error - What the library gave; null: the connection closed without a word. */
export function connectionTrouble(error: unknown): string {
  if (!(error instanceof Error)) return "the connection was closed";
  const code: unknown = "code" in error ? error.code : undefined;
  const words =
    typeof code === "number"
      ? BY_REASON.get(code)
      : typeof code === "string"
        ? BY_CODE.get(code)
        : undefined;
  return words ?? error.message;
}
