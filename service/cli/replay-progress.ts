/** A bar on the terminal for what takes longer than a second; elsewhere nothing. */
export interface Progress {
  /** @param share - Of the whole that is done. [1] 0…1 */
  show(share: number): void;
  /** What is done, where nobody knows how much there is. */
  tell(done: string): void;
  /** Takes the bar away again. */
  end(): void;
}

const SILENT_MS = 1000;
const REDRAW_MS = 200;
const WIDTH = 40;

export interface ProgressScreen {
  readonly isTerminal: boolean;
  write(text: string): void;
  nowMs(): number;
}

export function createProgress(label: string, screen: ProgressScreen): Progress {
  const startMs = screen.nowMs();
  let drawnMs = Number.NEGATIVE_INFINITY;
  const draw = (line: (elapsedMs: number) => string): void => {
    const nowMs = screen.nowMs();
    if (!screen.isTerminal || nowMs - startMs < SILENT_MS || nowMs - drawnMs < REDRAW_MS) return;
    drawnMs = nowMs;
    screen.write(`\r${line(nowMs - startMs)}`);
  };
  return {
    show(share) {
      draw((elapsedMs) => bar(label, share, elapsedMs));
    },
    tell(done) {
      draw(() => `${label}: ${done}`);
    },
    end() {
      if (drawnMs > 0) screen.write("\r\u001b[K");
    },
  };
}

function bar(label: string, share: number, elapsedMs: number): string {
  const filled = Math.round(WIDTH * share);
  const leftS = share > 0 ? Math.ceil((elapsedMs * (1 / share - 1)) / 1000) : 0;
  const drawn = "#".repeat(filled) + ".".repeat(WIDTH - filled);
  return `${label} [${drawn}] ${(share * 100).toFixed(0)} %, ${String(leftS)} s left  `;
}
