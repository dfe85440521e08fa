/** The settings file: read, checked, changed and taken back by whoever may write. */
import type { FastifyReply, FastifyRequest } from "fastify";
import { z } from "zod";
import type { ApplyAnswer, SettingsDesk } from "../../settings-desk.ts";
import { sendProblem } from "../problem.ts";
import type { RouteEntry } from "../route-entry.ts";
import type { WebSource } from "../source.ts";
import type { WriteGate } from "../write-gate.ts";

const CHANGES_MAX = 100;
const TEXT_MAX = 1_000;

export const proposedSchema = z.strictObject({
  fingerprint: z.string().max(TEXT_MAX).meta({ description: "Of the text it was made on" }),
  changes: z
    .array(
      z.strictObject({
        key: z.string().min(1).max(TEXT_MAX),
        value: z
          .string()
          .max(TEXT_MAX)
          .nullable()
          .meta({ description: "In YAML, on one line; null: take the key out" }),
      }),
    )
    .min(1)
    .max(CHANGES_MAX),
});

export function settingsRoutes(source: WebSource, gate: WriteGate): RouteEntry[] {
  /** Where the site is stands in it: reading alone is not enough. */
  const view = (request: FastifyRequest, reply: FastifyReply): FastifyReply => {
    if (!gate.isKnown(request)) {
      return sendProblem(reply.header("www-authenticate", "Bearer"), "token-needed");
    }
    if (source.settings === null) return sendProblem(reply, "no-settings-file");
    return reply.send(source.settings.view());
  };
  const writing =
    (answer: (desk: SettingsDesk, request: FastifyRequest, reply: FastifyReply) => FastifyReply) =>
    (request: FastifyRequest, reply: FastifyReply): FastifyReply => {
      const refused = gate.refuse(request, reply);
      if (refused !== null) return refused;
      if (source.settings === null) return sendProblem(reply, "no-settings-file");
      return answer(source.settings, request, reply);
    };
  const check = writing((desk, { body }, reply) => {
    const proposed = proposedSchema.safeParse(body);
    if (!proposed.success) return sendProblem(reply, "bad-request");
    const answer = desk.check(proposed.data);
    return answer === "outdated" ? sendProblem(reply, "settings-outdated") : reply.send(answer);
  });
  const apply = writing((desk, { body }, reply) => {
    const proposed = proposedSchema.safeParse(body);
    if (!proposed.success) return sendProblem(reply, "bad-request");
    return sendApplied(reply, desk.apply(proposed.data));
  });
  const undo = writing((desk, _request, reply) => sendApplied(reply, desk.undo()));
  const readers = "trusted";
  return [
    { method: "GET", path: "/api/settings", readers, handler: view },
    { method: "POST", path: "/api/settings/check", readers, handler: check },
    { method: "POST", path: "/api/settings/apply", readers, handler: apply },
    { method: "POST", path: "/api/settings/undo", readers, handler: undo },
  ];
}

function sendApplied(reply: FastifyReply, answer: ApplyAnswer): FastifyReply {
  switch (answer.kind) {
    case "applied": {
      const { warnings, needsRestart } = answer;
      return reply.send({ status: "applied", warnings, needsRestart });
    }
    case "refused":
      return sendProblem(reply, "settings-refused", {
        detail: "The service runs on with the settings that it had",
        reasons: answer.problems,
      });
    case "outdated":
      return sendProblem(reply, "settings-outdated");
    case "nothing-to-undo":
      return sendProblem(reply, "nothing-to-undo");
    case "not-editable":
      return sendProblem(reply, "not-editable");
  }
}
