/** The day to take along: as a day file, as figures, as a picture. */
import { useRef } from "preact/hooks";
import { saveText } from "../save-text.ts";
import { ribbonFile } from "./ribbon-file.ts";

interface Props {
  readonly siteId: string;
  readonly siteLabel: string;
  readonly date: string;
  /** Under the picture. */
  readonly words: string;
}

/** Of the ribbon that stands in the same part of the page. */
export function DayExports({ siteId, siteLabel, date, words }: Props) {
  const place = useRef<HTMLParagraphElement>(null);
  const name = `${siteId}-${date}`;
  const savePicture = (): void => {
    const figure = place.current?.parentElement?.querySelector("figure") ?? null;
    const text =
      figure === null ? null : ribbonFile(figure, { title: `${siteLabel}, ${date}`, words });
    if (text !== null) saveText(text, { name: `${name}.svg`, type: "image/svg+xml" });
  };
  return (
    <p ref={place} class="exports">
      <a href={`/api/days/${date}/file`} download={`${name}.csv`}>
        Day file (CSV), for a replay
      </a>
      <button type="button" class="quiet" onClick={savePicture}>
        Picture (SVG)
      </button>
      <a href={`/api/days/${date}`} download={`${name}.json`}>
        Figures (JSON)
      </a>
    </p>
  );
}
