/** Schema of the broker: one elsewhere by its address, or the built-in one. */
import { z } from "zod";
import { filterField, idField, portField } from "./fields.ts";

/** @param otherwise - What is used when the key is absent; for optional keys alone. */
const file = (about: string, otherwise?: string) =>
  z
    .string()
    .min(1)
    .meta({
      description: `${about}; from the folder of the settings file`,
      ...(otherwise === undefined ? {} : { default: otherwise }),
      audience: "basic",
    });

const tlsSchema = z
  .strictObject({
    ca: file("PEM file of the authorities that may sign the broker's certificate").optional().meta({
      description: "PEM file of the authorities that may sign the broker's certificate",
      default: "the authorities that the system trusts",
      audience: "basic",
    }),
    certificate: file("PEM file with this service's own certificate").optional(),
    key: file("PEM file with the key of that certificate").optional(),
    serverName: z.string().min(1).optional().meta({
      description: "Name that the broker's certificate must bear",
      default: "the host of the url",
      audience: "advanced",
    }),
  })
  .meta({ description: "TLS; the broker's certificate is always verified", audience: "basic" });

const userSchema = z.strictObject({
  name: idField("Name that the device gives when it connects"),
  passwordFile: file("File that holds the user's password"),
  publish: z
    .array(filterField("Topics that the user may publish on"))
    .max(100)
    .default([])
    .meta({ description: "Topic filters on which the user may publish", audience: "basic" }),
  subscribe: z
    .array(filterField("Topics that the user may listen to"))
    .max(100)
    .default([])
    .meta({ description: "Topic filters that the user may subscribe to", audience: "basic" }),
});

const embeddedSchema = z
  .strictObject({
    host: z.string().min(1).default("127.0.0.1").meta({
      description: "Address that the built-in broker listens on; with users any, else loopback",
      audience: "advanced",
    }),
    port: portField("Port that the built-in broker listens on", 1883),
    users: z.array(userSchema).min(1).max(100).optional().meta({
      description: "Who may connect, and what each may do; without it anyone on this machine",
      audience: "basic",
    }),
    tls: z
      .strictObject({
        certificate: file("PEM file with the certificate of the built-in broker"),
        key: file("PEM file with the key of that certificate"),
      })
      .optional()
      .meta({ description: "The built-in broker speaks TLS alone", audience: "basic" }),
  })
  .meta({ description: "Start the built-in broker and use it", audience: "basic" });

export const brokerSchema = z
  .strictObject({
    url: z
      .string()
      .optional()
      .meta({
        description: "mqtt:// or mqtts:// address of the broker",
        examples: ["mqtt://127.0.0.1:1883"],
        audience: "basic",
      }),
    embedded: embeddedSchema.optional(),
    protocol: z
      .union([z.literal(5), z.literal("3.1.1")])
      .default(5)
      .meta({ description: "Version of MQTT: 5 or 3.1.1", audience: "advanced" }),
    username: z.string().min(1).optional().meta({
      description: "User name at the broker",
      audience: "basic",
    }),
    passwordFile: file(
      "File that holds the password",
      "the environment variable BYWASH_BROKER_PASSWORD",
    ).optional(),
    tls: tlsSchema.optional(),
    requests: z.enum(["refuse", "accept"]).default("refuse").meta({
      description: "Whether latches may be cleared, and settings reloaded, over MQTT",
      audience: "advanced",
    }),
  })
  .meta({ description: "The MQTT broker: give url or embedded" });

export type BrokerSection = z.output<typeof brokerSchema>;
