import { describe, expect, it } from "vitest";
import { createProgress } from "../../service/cli/replay-progress.ts";

function screen(isTerminal: boolean) {
  const written: string[] = [];
  const seen = { written, nowMs: 0 };
  const progress = createProgress("replay", {
    isTerminal,
    write: (text) => written.push(text),
    nowMs: () => seen.nowMs,
  });
  return { seen, progress };
}

describe("progress on the terminal", () => {
  it("is shown after a second, five times a second at most, and taken away at the end", () => {
    const { seen, progress } = screen(true);
    for (seen.nowMs = 0; seen.nowMs <= 2000; seen.nowMs += 50) progress.tell("7 days");
    expect(seen.written).toEqual(new Array<string>(6).fill("\rreplay: 7 days"));
    progress.end();
    expect(seen.written.at(-1)).toBe("\r\u001b[K");
  });

  it("is a bar with the time that is left where the whole is known", () => {
    const { seen, progress } = screen(true);
    seen.nowMs = 3000;
    progress.show(0.25);
    expect(seen.written).toEqual([
      `\rreplay [${"#".repeat(10)}${".".repeat(30)}] 25 %, 9 s left  `,
    ]);
  });

  it("writes nothing for what is over within a second, nor into a file", () => {
    const quick = screen(true);
    quick.seen.nowMs = 900;
    quick.progress.tell("1 day");
    quick.progress.end();
    const file = screen(false);
    file.seen.nowMs = 9000;
    file.progress.show(0.5);
    file.progress.end();
    expect([...quick.seen.written, ...file.seen.written]).toEqual([]);
  });
});
