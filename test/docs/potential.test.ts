/**
 * How well a held-back array is known; `npm run potential` writes `docs/potential.md`. The seeds
 * here are others than those that the constants were fitted to (1 to 6).
 */
import { format } from "prettier";
import { describe, expect, it } from "vitest";
import { LEARNING_DAYS, qualityOf, throttledMinutes } from "../evidence/hidden-potential.ts";
import type { Quality, Throttled } from "../evidence/hidden-potential.ts";

const PAGE = "../../docs/potential.md";
const SEEDS = [201, 202, 203, 204] as const;
const SEASONS = ["2026-05-10", "2026-09-01"] as const;
const DAYS = 28;
const percent = (fraction: number): string => `${(100 * fraction).toFixed(0)} %`;

function row(name: string, quality: Quality): string {
  return `| ${[
    name,
    String(quality.minutes),
    percent(quality.medianErrorFraction),
    percent(quality.coveredFraction),
    percent(quality.belowFraction),
    percent(quality.medianWidthFraction),
  ].join(" | ")} |`;
}

function page(rows: readonly string[]): string {
  return [
    "# What a held-back array could give",
    "",
    "Written by `npm run potential`, which also holds it to be current. Simulated weeks at the",
    "malga of the examples. Each seed draws its own dirt, haze, ridges, a tree, and a tilt and an",
    "azimuth that the settings have wrong by up to 8° and 10°; clear, broken and overcast days come",
    `by chance. After ${String(LEARNING_DAYS)} days of learning, every minute counts in which a`,
    "tenth or more of what the sources could give is not taken, against the shed's own truth.",
    "",
    "The shed's sky is Ineichen and Perez, the controller's the simplified Solis model. The",
    "constants were fitted to seeds 1 to 6; these are others. The range is meant to hold in four",
    "cases of five, and a load is started on its low end: _below_ counts the minutes in which there",
    "was less than that. A narrower range, tried before, held in 72 % on seeds 101 to 104.",
    "",
    "| from, seed | minutes | median error | in the range | below | median width |",
    "| --- | ---: | ---: | ---: | ---: | ---: |",
    ...rows,
    "",
    "The clouds are made up, too: a real site may hold other surprises. What a load finds when it",
    "has started is measured, and that alone decides whether it goes on.",
    "",
  ].join("\n");
}

describe("what a held-back array could give", () => {
  it("is known as well as the docs say", { timeout: 240_000 }, async () => {
    const all: Throttled[] = [];
    const rows: string[] = [];
    for (const from of SEASONS) {
      for (const seed of SEEDS) {
        const throttled = throttledMinutes({ seed, from, days: DAYS });
        rows.push(row(`${from}, ${String(seed)}`, qualityOf(throttled)));
        for (const minute of throttled) all.push(minute);
      }
    }
    const quality = qualityOf(all);
    expect(quality.minutes).toBeGreaterThan(5000);
    expect(quality.knownFraction).toBeGreaterThan(0.99);
    expect(quality.medianErrorFraction).toBeLessThan(0.15);
    expect(quality.coveredFraction).toBeGreaterThan(0.75);
    expect(quality.coveredFraction).toBeLessThan(0.85);
    const text = page([...rows, row("all", quality)]);
    await expect(await format(text, { parser: "markdown" })).toMatchFileSnapshot(PAGE);
  });
});
