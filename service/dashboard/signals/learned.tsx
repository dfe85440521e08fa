/** What the service has learned of its site: everyday use by the hour, arrays, sky, loads. */
import type { LearnedView } from "../../learned-view.ts";
import { ask } from "../api.ts";
import type { Format } from "../format.ts";
import { useAnswer } from "../use-answer.ts";

export function Learned({ format }: { readonly format: Format }) {
  const { value, refusal } = useAnswer("learned", () => ask("/api/learned"));
  return (
    <section aria-labelledby="learned-heading">
      <h2 id="learned-heading">What was learned</h2>
      {refusal === null ? null : <p class="alert note">{refusal}</p>}
      {value === null ? null : (
        <>
          <BaseLoad base={value.baseLoad} format={format} />
          <ul>
            {value.arrays.map((array) => (
              <li key={array.id}>{arrayText(array, format)}</li>
            ))}
            <li>{skyText(value.sky, format)}</li>
            {value.battery.lossFactor === null ? null : (
              <li>{batteryText(value.battery.lossFactor, format)}</li>
            )}
            {value.loads.map((load) => (
              <li key={load.id}>{loadText(load, format)}</li>
            ))}
          </ul>
        </>
      )}
    </section>
  );
}

/** [px] */
const CHART = { width: 336, height: 84, column: 14, gap: 3 } as const;

function BaseLoad({
  base,
  format,
}: {
  readonly base: LearnedView["baseLoad"];
  readonly format: Format;
}) {
  const seen = base.hours.filter(({ seenDays }) => seenDays > 0);
  if (seen.length === 0) return <p>Everyday use: no hour of the day has been seen yet.</p>;
  const most = Math.max(...seen.map(({ meanW }) => meanW), 1);
  return (
    <>
      <p>
        Everyday use by the hour
        {base.isKnown ? "" : `, ${String(seen.length)} of 24 hours seen so far`}: most{" "}
        {format.power(most)}.
      </p>
      <svg
        class="base-load"
        viewBox={`0 0 ${String(CHART.width)} ${String(CHART.height)}`}
        aria-hidden="true"
        focusable="false"
      >
        {seen.map(({ hour, meanW }) => {
          const high = (Math.max(0, meanW) / most) * CHART.height;
          return (
            <rect
              key={hour}
              x={hour * CHART.column + CHART.gap / 2}
              y={CHART.height - high}
              width={CHART.column - CHART.gap}
              height={high}
            />
          );
        })}
      </svg>
      <p class="base-hours" aria-hidden="true">
        <span>0 h</span>
        <span>12 h</span>
        <span>24 h</span>
      </p>
      <details>
        <summary>Everyday use as figures</summary>
        <BaseTable hours={seen} format={format} />
      </details>
    </>
  );
}

function BaseTable({
  hours,
  format,
}: {
  readonly hours: LearnedView["baseLoad"]["hours"];
  readonly format: Format;
}) {
  return (
    <table class="looks">
      <thead>
        <tr>
          <th scope="col">Hour</th>
          <th scope="col">Mean</th>
          <th scope="col">Spread</th>
          <th scope="col">Days</th>
        </tr>
      </thead>
      <tbody>
        {hours.map(({ hour, meanW, spreadW, seenDays }) => (
          <tr key={hour}>
            <th scope="row">{String(hour)}</th>
            <td class="figure">{format.power(meanW)}</td>
            <td class="figure">{format.power(spreadW)}</td>
            <td class="figure">{format.number(seenDays)}</td>
          </tr>
        ))}
      </tbody>
    </table>
  );
}

function arrayText(array: LearnedView["arrays"][number], format: Format): string {
  const { id, generalFraction, seenTiltDeg, seenAzimuthDeg, cells } = array;
  const whole = (angleDeg: number): string => `${format.number(Math.round(angleDeg))}°`;
  const stands = `looks to ${whole(seenAzimuthDeg)}, tilted by ${whole(seenTiltDeg)}`;
  const share = format.share(generalFraction);
  const general = `${share} of what a clean one that ${stands}, gives under a clear sky`;
  if (cells.length === 0) return `Array ${id}: not seen yet; taken to give ${general}.`;
  const all = cells.map(({ fraction }) => fraction);
  const range = `${format.share(Math.min(...all))} to ${format.share(Math.max(...all))}`;
  const seen = `${range} by where the sun stands, ${format.number(cells.length)} places seen`;
  return `Array ${id}: ${general}; ${seen}.`;
}

function skyText(
  { clearnessFraction, sensorFactor, sensorShortfall, days }: LearnedView["sky"],
  format: Format,
): string {
  const now =
    clearnessFraction === null ? "not seen yet" : `${format.share(clearnessFraction)} of clear`;
  const sensor =
    sensorFactor === null || sensorShortfall === null
      ? ""
      : ` Light sensor: arrays show ${format.share(sensorFactor)} of it, ` +
        `and fall short of that by ${format.share(sensorShortfall)} on the mean.`;
  return `Sky: ${now}; ${format.number(days.length)} days on record.${sensor}`;
}

function batteryText(lossFactor: number, format: Format): string {
  const times = format.number(lossFactor);
  return `Battery: towards full it loses ${times} times as much charge as its settings say.`;
}

function loadText({ label, stages }: LearnedView["loads"][number], format: Format): string {
  const parts = stages.map(({ ratedW, learnedW }) =>
    learnedW === null
      ? `${format.power(ratedW)} by the settings, not seen yet`
      : `${format.power(learnedW)} seen, ${format.power(ratedW)} by the settings`,
  );
  const isFar = stages.some(({ isFarFromRated }) => isFarFromRated);
  const doubt = isFar ? " These are far apart: see which is right." : "";
  return `${label}: ${parts.join("; ")}.${doubt}`;
}
