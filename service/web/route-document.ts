/** What a route answers, for the description of the interface. */
import type { z } from "zod";
import type { ProblemCode } from "./problem.ts";
import type { RouteEntry } from "./route-entry.ts";

export interface RouteDocument {
  readonly method: RouteEntry["method"];
  /** With `{id}` for what varies. */
  readonly path: string;
  readonly summary: string;
  /** What may stand behind the question mark, with what it means. */
  readonly query?: Readonly<Record<string, string>>;
  /** What is to be sent. */
  readonly body?: NamedSchema;
  readonly answer: Answer;
  /** Of the answer, where its own schema can't say what is inside. */
  readonly parts?: readonly NamedSchema[];
  /** Beside those that any route may answer with. */
  readonly problems: readonly ProblemCode[];
  readonly security: "anyone" | "reading" | "writing";
}

export interface Answer {
  readonly status: number;
  readonly description: string;
  readonly mediaType: string;
  readonly schema: NamedSchema;
}

/** Stands among the document's components under its name. */
export interface NamedSchema {
  readonly name: string;
  readonly schema: z.ZodType;
}
