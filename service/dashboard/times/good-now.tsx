/** One line on Now while something is good to start. */
import { useGuidance } from "./use-guidance.ts";

export function GoodNow() {
  const { advice } = useGuidance();
  const good = advice?.appliances.filter(({ code }) => code === "good-now") ?? [];
  return (
    <div role="status">
      {good.length === 0 ? null : (
        <p class="good-now">
          A good time to start: {good.map(({ label }) => label).join(", ")}.{" "}
          <a href="#/times">Good times</a>
        </p>
      )}
    </div>
  );
}
