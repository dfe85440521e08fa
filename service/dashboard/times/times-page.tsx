/** Good times: when to start what people start themselves, and what it would cost now. */
import type { ApplianceView, DayAdviceView, GuidanceView } from "../../guidance-view.ts";
import type { Format } from "../format.ts";
import { asSentence } from "../sentence.ts";
import { DayStrip } from "./day-strip.tsx";
import { GRADE_LETTERS, GRADE_MEANINGS } from "./grades.ts";
import type { Grade } from "./grades.ts";
import { useGuidance } from "./use-guidance.ts";

export function TimesPage({ format }: { readonly format: Format }) {
  const { advice, refusal } = useGuidance();
  return (
    <>
      <h1>Good times</h1>
      <p>
        For what you start yourselves. Nothing on this page is switched by the service: once
        something runs, the loads make room for it.
      </p>
      {refusal === null ? null : <p class="alert">{refusal}</p>}
      {advice === null ? (
        refusal === null && <p>Asking the service…</p>
      ) : (
        <Advice advice={advice} format={format} />
      )}
    </>
  );
}

interface AdviceProps {
  readonly advice: GuidanceView;
  readonly format: Format;
}

function Advice({ advice, format }: AdviceProps) {
  if (advice.refusal !== null) {
    return (
      <p class="alert" role="status">
        No advice now: {asSentence(format.words(advice.refusal.sentence))}
      </p>
    );
  }
  if (advice.appliances.length === 0) {
    return <p>No appliance is described yet: they stand under “guidance” in the settings.</p>;
  }
  return (
    <>
      <div class="appliances">
        {advice.appliances.map((appliance) => (
          <Appliance key={appliance.id} appliance={appliance} format={format} />
        ))}
      </div>
      <Legend />
      <p class="basis">{basisText(advice, format)}</p>
    </>
  );
}

function basisText({ at, recordDays }: GuidanceView, format: Format): string {
  const days = `${String(recordDays)} days of sky on record`;
  return `Worked out ${format.day(at)} ${format.time(at)} from ${days}.`;
}

interface ApplianceProps {
  readonly appliance: ApplianceView;
  readonly format: Format;
}

function Appliance({ appliance, format }: ApplianceProps) {
  const { id, label, energyWh, runS, powerMaxW, sentence, confidence, now, days } = appliance;
  return (
    <section class="card appliance" aria-labelledby={`appliance-${id}`}>
      <h2 id={`appliance-${id}`}>{label}</h2>
      <p class="run">
        {format.energy(energyWh)} in {format.span(runS)}, up to {format.power(powerMaxW)}
      </p>
      <p class={`light ${now.grade}`}>
        <span class="mark-now">
          now <GradeMark grade={now.grade} />
          <span class="unseen">{now.grade}.</span>
        </span>
        <strong>{asSentence(format.words(sentence))}</strong>
      </p>
      {confidence === null ? null : <p>Confidence {format.words(confidence.sentence)}.</p>}
      <p>Started now: {format.words(now.sentence)}.</p>
      {days.map((day) => (
        <Day key={day.date} day={day} id={`${id}-${day.date}`} format={format} />
      ))}
    </section>
  );
}

function GradeMark({ grade }: { readonly grade: Grade }) {
  return (
    <span class={`grade ${grade}`} aria-hidden="true">
      {GRADE_LETTERS[grade]}
    </span>
  );
}

interface DayProps {
  readonly day: DayAdviceView;
  readonly id: string;
  readonly format: Format;
}

function Day({ day, id, format }: DayProps) {
  return (
    <div class="day">
      <h3>{format.date(day.date)}</h3>
      <DayStrip day={day} id={id} />
      <p class="stretches">{goodText(day)}</p>
      <details>
        <summary>
          Hour by hour<span class="unseen"> of {format.date(day.date)}</span>
        </summary>
        <ul>
          {day.stretches.map(({ from, fromLocal, toLocal, grade }) => (
            <li key={from}>
              {fromLocal} to {toLocal}: {grade}
            </li>
          ))}
        </ul>
      </details>
    </div>
  );
}

function goodText({ stretches, best }: DayAdviceView): string {
  if (best === null) return "No start is good.";
  const good = stretches
    .filter(({ grade }) => grade === "good")
    .map(({ fromLocal, toLocal }) => `${fromLocal} to ${toLocal}`);
  return `Good starts: ${good.join(", ")}. Best at ${best.local}.`;
}

function Legend() {
  const grades: readonly Grade[] = ["good", "so-so", "costly", "closed"];
  return (
    <dl class="grades">
      {grades.map((grade) => (
        <div key={grade}>
          <dt>
            <GradeMark grade={grade} /> {grade}
          </dt>
          <dd>{GRADE_MEANINGS[grade]}</dd>
        </div>
      ))}
    </dl>
  );
}
