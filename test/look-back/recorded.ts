/** A history written row by row, so that what a week came to can be worked out on paper. */
import { readMigrations } from "../../service/history/migrate.ts";
import { createStore } from "../../service/history/store.ts";
import { execute } from "../history/scratch.ts";

const MINUTE_MS = 60_000;
const DAY_MS = 86_400_000;
const PER_UNIT: Readonly<Record<string, number>> = {
  "decision.socFraction": 10_000,
  "decision.isCurtailed": 100,
  "decision.isDaylight": 100,
  "decision.bandFraction": 10_000,
};
const PER_UNIT_ELSE = 10;
const ROWS_A_STATEMENT = 5_000;

export type Figures = Readonly<Record<string, number | null>>;

interface RecordedEvent {
  readonly atMs: number;
  readonly about: "site" | "load";
  readonly owner: string;
  readonly change: string;
  readonly code: string;
}

export interface Recorder {
  /** @param figuresAt - By name, null: not known then; null altogether: nothing was recorded. */
  minutes(fromMs: number, toMs: number, figuresAt: (atMs: number) => Figures | null): void;
  event(event: RecordedEvent): void;
  decided(atMs: number, load: string, code: string, stage?: number, numbers?: number[]): void;
  /** Writes it all. */
  close(): void;
}

export function createRecorder(path: string): Recorder {
  const signals = new Map<string, number>();
  const samples: string[] = [];
  const others: string[] = [];
  const days = new Set<number>();
  return {
    minutes(fromMs, toMs, figuresAt) {
      for (let atMs = fromMs; atMs < toMs; atMs += MINUTE_MS) {
        const figures = figuresAt(atMs);
        if (figures === null) continue;
        days.add(Math.floor(atMs / DAY_MS));
        for (const [name, value] of Object.entries(figures)) {
          if (value === null) continue;
          const id = signals.get(name) ?? signals.size + 1;
          signals.set(name, id);
          const mean = Math.round(value * (PER_UNIT[name] ?? PER_UNIT_ELSE));
          samples.push(`(${atMs / MINUTE_MS},${id},${mean},0,0)`);
        }
      }
    },
    event({ atMs, about, owner, change, code }) {
      others.push(
        "INSERT INTO event (at_ms, about, owner, change, code) VALUES " +
          `(${atMs}, '${about}', '${owner}', '${change}', '${code}')`,
      );
    },
    decided(atMs, load, code, stage = 0, [measured, limit] = []) {
      others.push(
        "INSERT INTO decision (at_ms, about, owner, code, stage, measured, limit_value) VALUES " +
          `(${atMs}, 'load', '${load}', '${code}', ${stage}, ${measured ?? "NULL"}, ` +
          `${limit ?? "NULL"})`,
      );
    },
    close() {
      createTables(path);
      const statements = [
        ...[...signals].map(
          ([name, id]) =>
            `INSERT INTO signal VALUES (${id}, '${name}', ${PER_UNIT[name] ?? PER_UNIT_ELSE})`,
        ),
        ...[...days].map(
          (day) => `INSERT INTO day VALUES (${day}, 'hash', '1.2.3', ${day * DAY_MS})`,
        ),
        ...others,
      ];
      for (let from = 0; from < samples.length; from += ROWS_A_STATEMENT) {
        const rows = samples.slice(from, from + ROWS_A_STATEMENT);
        statements.push(`INSERT INTO sample VALUES ${rows.join(",")}`);
      }
      execute(path, ["BEGIN", ...statements, "COMMIT"].join(";"));
    },
  };
}

/** As the service makes them; a database is made with the first row that is to be written. */
function createTables(path: string): void {
  const say = (_level: string, message: string): never => {
    throw new Error(message);
  };
  const store = createStore({ path, migrations: readMigrations(), rowsMax: 9, say });
  store.add({ kind: "word", values: [0, "decision.chargeStage", "bulk"] });
  store.commit({ wallMs: 0, monotonicMs: 0 }, false);
  store.close();
}
