/** What a day came to is written once it is over. */
import { expect, it } from "vitest";
import { createDayClose } from "../../service/day-close.ts";
import type { FiguresToKeep } from "../../service/history/messages.ts";
import { dayFigures } from "../../service/history/reading/day-figures.ts";
import { dayTable } from "../../service/history/reading/day-table.ts";
import type { Answer, Question } from "../../service/history/reading/questions.ts";
import { testSite } from "../support/site.ts";
import { until } from "../support/until.ts";

const NOTHING = dayTable({ minutes: [], means: new Map(), chargeStages: [] }, []);
const FIGURES = dayFigures(NOTHING, {
  lengthMin: 1440,
  runs: new Map(),
  lowestSocFraction: null,
});
const TODAY = 20_618;

function createBench(isFlushed = true) {
  const asked: number[] = [];
  const kept: FiguresToKeep[] = [];
  const order: string[] = [];
  const dayClose = createDayClose({
    site: () => testSite({ timeZone: "Australia/Hobart" }),
    flush: () => {
      order.push("flush");
      return Promise.resolve(isFlushed);
    },
    asker: {
      ask(question: Question): Promise<Answer | null> {
        order.push("ask");
        const days = question.kind === "figures" ? question.days : [];
        asked.push(...days.map(({ localDay }) => localDay));
        return Promise.resolve({ kind: "figures", figures: days.map(() => FIGURES) });
      },
    },
    keep: (figures) => void kept.push(figures),
  });
  const note = (localDay: number, isWallClockPlausible = true): void =>
    dayClose.note({ localDay, isWallClockPlausible });
  return { note, asked, kept, order };
}

it("closes yesterday at the start and at each midnight, after all was written", async () => {
  const { note, asked, kept, order } = createBench();
  for (const localDay of [TODAY, TODAY, TODAY + 1, TODAY + 1]) note(localDay);
  await until(() => kept.length === 2);
  expect(asked).toEqual([TODAY - 1, TODAY]);
  expect(order.indexOf("flush")).toBeLessThan(order.indexOf("ask"));
  expect(kept[1]).toEqual({
    localDay: TODAY,
    // 14 June 2026 begins in Hobart ten hours before it does in Greenwich.
    fromMs: Date.UTC(2026, 5, 14) - 10 * 3_600_000,
    body: JSON.stringify(FIGURES),
  });
});

it("closes nothing by a clock that is in doubt or goes back, nor what is not written", async () => {
  const { note, asked } = createBench();
  note(0, false);
  note(TODAY);
  note(TODAY - 300);
  note(TODAY, false);
  await until(() => asked.length > 0);
  expect(asked).toEqual([TODAY - 1]);
  const unflushed = createBench(false);
  unflushed.note(TODAY);
  await until(() => unflushed.order.includes("flush"));
  expect(unflushed.asked).toEqual([]);
});
