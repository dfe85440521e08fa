/** Where a test alert went and how far it came, at 80 columns. */
import { z } from "zod";
import { hangingLines } from "../hanging-text.ts";

const answerSchema = z.object({
  ways: z.array(
    z.object({ topic: z.string(), isDelivered: z.boolean(), troubles: z.array(z.string()) }),
  ),
  alert: z.object({ sentence: z.string() }).nullable(),
});

/** By every way. */
export function isDelivered(answer: unknown): boolean {
  return answerSchema.parse(answer).ways.every((way) => way.isDelivered);
}

export function tellAlertTest(answer: unknown): string {
  const { ways, alert } = answerSchema.parse(answer);
  const said = alert === null ? [] : [`Sent: "${alert.sentence}"`];
  const lines = ways.map(({ topic, isDelivered: isThere, troubles }) => {
    if (isThere) return `MQTT, ${topic}: the broker has it. See whether it has reached you.`;
    const why = troubles.length === 0 ? "it has not acknowledged it" : troubles.join("; ");
    return `MQTT, ${topic}: not delivered, and not sent again: ${why}.`;
  });
  return [...said, ...lines].flatMap((line) => hangingLines("", line, 2)).join("\n");
}
