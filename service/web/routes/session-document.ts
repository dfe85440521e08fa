import { z } from "zod";
import type { RouteDocument } from "../route-document.ts";
import { signInSchema } from "./session.ts";

const sessionSchema = z.object({
  isSignedIn: z.boolean(),
  csrfToken: z
    .string()
    .nullable()
    .meta({ description: "To be sent back as x-csrf-token with every write of this session" }),
});

const answer = {
  status: 200,
  description: "Whether this page is signed in",
  mediaType: "application/json",
  schema: { name: "Session", schema: sessionSchema },
} as const;

export const SESSION_DOCUMENTS: readonly RouteDocument[] = [
  {
    method: "GET",
    path: "/api/session",
    summary: "Whether this page is signed in",
    answer,
    problems: [],
    security: "anyone",
  },
  {
    method: "POST",
    path: "/api/session",
    summary: "Sign in on a page with the service's token",
    body: { name: "SignIn", schema: signInSchema },
    answer,
    problems: ["cross-site", "wrong-token", "too-many-tries"],
    security: "anyone",
  },
  {
    method: "POST",
    path: "/api/session/end",
    summary: "Sign out",
    answer,
    problems: ["token-needed", "cross-site", "csrf-missing"],
    security: "writing",
  },
];
