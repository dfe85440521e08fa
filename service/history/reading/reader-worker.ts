/** What runs in the thread that reads: its first message is the path of the database. */
import { parentPort } from "node:worker_threads";
import { answer } from "./questions.ts";
import type { Question } from "./questions.ts";
import { openReader } from "./reader.ts";

const port = parentPort;
port?.once("message", (path: string) => {
  port.on("message", ({ ticket, question }: { ticket: number; question: Question }) => {
    try {
      // Opened anew each time: the file may have been restored, or set aside as damaged.
      const reader = openReader(path);
      try {
        port.postMessage({ ticket, answer: answer(reader, question) });
      } finally {
        reader.close();
      }
    } catch (error) {
      port.postMessage({ ticket, failure: error instanceof Error ? error.message : String(error) });
    }
  });
});
