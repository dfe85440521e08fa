/**
 * A strict reader of the text format of Prometheus: refuses whatever the description does not allow.
 *
 * @source Prometheus documentation, "Exposition formats", section "Text format details": one HELP
 * and TYPE line before the first sample, all lines of a metric in one group, every name and label
 * set once, histograms cumulative with `+Inf` equal to their count, the last line ends in a feed.
 */
export interface ExposedMetric {
  readonly type: string;
  readonly help: string;
  readonly samples: Map<string, number>;
}

const NAME = "[a-zA-Z_:][a-zA-Z0-9_:]*";
const LABEL = '[a-zA-Z_][a-zA-Z0-9_]*="(?:[^"\\\\\\n]|\\\\["\\\\n])*"';
const SAMPLE = new RegExp(`^(${NAME})(?:\\{(${LABEL}(?:,${LABEL})*)\\})? (\\S+)$`, "u");
const VALUE = /^(?:[+-]?Inf|NaN|[+-]?\d+(?:\.\d+)?(?:e[+-]?\d+)?)$/iu;
const TYPES = new Set(["counter", "gauge", "histogram", "summary", "untyped"]);

export function readExposition(text: string): Map<string, ExposedMetric> {
  if (!text.endsWith("\n")) throw new Error("the last line does not end");
  const metrics = new Map<string, ExposedMetric>();
  let name = "";
  let help: string | null = null;
  for (const line of text.split("\n")) {
    if (line === "") continue;
    const comment = /^# (HELP|TYPE) (\S+) (.*)$/u.exec(line);
    if (comment?.[1] === "HELP") {
      name = comment[2] ?? "";
      help = comment[3] ?? "";
      if (metrics.has(name)) throw new Error(`${name} comes twice`);
    } else if (comment?.[1] === "TYPE") {
      if (comment[2] !== name || help === null) throw new Error(`no HELP before: ${line}`);
      const type = comment[3] ?? "";
      if (!TYPES.has(type)) throw new Error(`unknown type: ${line}`);
      metrics.set(name, { type, help, samples: new Map() });
      help = null;
    } else addSample(metrics, name, line);
  }
  for (const [of, metric] of metrics) if (metric.type === "histogram") checkHistogram(of, metric);
  return metrics;
}

function addSample(metrics: Map<string, ExposedMetric>, name: string, line: string): void {
  const metric = metrics.get(name);
  const [, sampleName = "", labels = "", value = ""] = SAMPLE.exec(line) ?? [];
  if (sampleName === "" || !VALUE.test(value)) throw new Error(`not a sample: ${line}`);
  const suffixes = metric?.type === "histogram" ? ["_bucket", "_sum", "_count"] : [""];
  if (metric === undefined || !suffixes.some((suffix) => sampleName === name + suffix)) {
    throw new Error(`outside its group: ${line}`);
  }
  const key = labels === "" ? sampleName : `${sampleName}{${labels}}`;
  if (metric.samples.has(key)) throw new Error(`twice: ${line}`);
  const number = value.endsWith("Inf") ? Number(value.replace("Inf", "Infinity")) : Number(value);
  if (metric.type === "counter" && !(number >= 0)) throw new Error(`counter below 0: ${line}`);
  metric.samples.set(key, number);
}

/** Series of one histogram differ in the labels beside `le`, which here comes first. */
function checkHistogram(name: string, { samples }: ExposedMetric): void {
  const last = new Map<string, { readonly le: number; readonly count: number }>();
  for (const [key, count] of samples) {
    const [, bound, labels = ""] = /_bucket\{le="([^"]+)",?(.*)\}$/u.exec(key) ?? [];
    if (bound === undefined) continue;
    const le = bound === "+Inf" ? Number.POSITIVE_INFINITY : Number(bound);
    const below = last.get(labels) ?? { le: Number.NEGATIVE_INFINITY, count: 0 };
    if (!(le > below.le && count >= below.count)) throw new Error(`${name} falls at ${bound}`);
    last.set(labels, { le, count });
  }
  for (const [labels, { le, count }] of last) {
    const total = samples.get(`${name}_count${labels === "" ? "" : `{${labels}}`}`);
    if (le !== Number.POSITIVE_INFINITY || total !== count) throw new Error(`${name} is cut short`);
  }
}
